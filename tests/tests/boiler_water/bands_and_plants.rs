use super::*;

/// A shell boiler's pH of 10.5 to 12 (common practice, from memory).
#[test]
fn a_reading_beside_its_band() {
    let ph = Band::new(10.5, 12.0).unwrap();
    let told = |value, error| Estimate::around(value, error).against(ph).unwrap();
    assert_eq!(told(11.0, 0.2), AgainstBand::Inside);
    assert_eq!(told(10.6, 0.2), AgainstBand::InsideUnlessMisread);
    assert!(matches!(told(10.4, 0.2), AgainstBand::Below { by, unless_misread: true } if (by - 0.1).abs() < 1e-9));
    assert!(matches!(told(9.0, 0.2), AgainstBand::Below { unless_misread: false, .. }));
    assert!(matches!(told(12.1, 0.2), AgainstBand::Above { unless_misread: true, .. }));
    assert!(matches!(told(13.0, 0.2), AgainstBand::Above { by, unless_misread: false } if (by - 1.0).abs() < 1e-9));
    assert!(told(12.0, 0.0).is_inside() && !told(12.0, 0.0).error_could_change());
}

#[test]
fn bands_open_on_one_side() {
    let most = Band::at_most(3_500.0).unwrap();
    assert!(Estimate::exact(0.0).against(most).unwrap().is_inside());
    assert!(!Estimate::exact(3_501.0).against(most).unwrap().is_inside());
    let least = Band::at_least(120.0).unwrap();
    assert!(Estimate::exact(1e6).against(least).unwrap().is_inside());
    assert_eq!(Band::new(2.0, 1.0).unwrap_err().field, "high");
    assert_eq!(Band::new(f64::NAN, 1.0).unwrap_err().field, "low");
    assert_eq!(Estimate::exact(f64::NAN).against(least).unwrap_err().field, "reading");
    assert_eq!(Estimate { value: 1.0, low: 2.0, high: 3.0 }.against(least).unwrap_err().field, "reading");
}

/// UFC 3-240-13FN (2005), Table 3-8: feed hardness below 0.5 ppm as CaCO3.
#[test]
fn a_softener_in_and_out() {
    let at = |going_in, out, error| {
        check(&Plant { going_in: Estimate::exact(going_in), coming_out: Estimate::around(out, error), most_out: 0.5 })
            .unwrap()
    };
    let fine = at(200.0, 0.2, 0.1);
    assert_eq!(fine.work, Work::Working);
    near(fine.taken_out.unwrap(), 0.999, 1e-12);
    assert_eq!(at(200.0, 0.45, 0.1).work, Work::CannotTell);
    assert_eq!(at(200.0, 5.0, 0.1).work, Work::Slipping);
    assert_eq!(at(200.0, 200.0, 0.1).work, Work::NotTreating);
    assert_eq!(at(0.0, 0.0, 0.0).taken_out, None);
    assert_eq!(at(2e-308, 1_957.0, 0.0).taken_out, None);
}

/// By hand: 1000 g of CaCO3 at 250 mg/l are 4000 l.
#[test]
fn litres_until_regeneration() {
    near(litres_left(1_000.0, 250.0, 1_500.0).unwrap(), 2_500.0, 1e-9);
    assert_eq!(litres_left(1_000.0, 250.0, 5_000.0), Ok(0.0));
    assert_eq!(litres_left(f64::NAN, 250.0, 0.0).unwrap_err().field, "capacity_g");
    assert_eq!(litres_left(1_000.0, 0.0, 0.0).unwrap_err().field, "hardness_mg_l");
}
