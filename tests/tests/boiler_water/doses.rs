use super::*;

/// An avoirdupois ounce, g, and a US gallon, l (NIST SP 811, appendix B.8).
const OUNCE: f64 = 28.349_523_125;
const GALLON_US: f64 = 3.785_411_784;

fn plain(reading: f64, target: f64, litres: f64, strength: f64) -> Request {
    Request {
        reading_mg_l: Estimate::exact(reading),
        target_mg_l: target,
        litres: Estimate::exact(litres),
        product: Product { strength, measure: None },
    }
}

#[track_caller]
fn grams(request: &Request) -> f64 {
    match dose(request) {
        Ok(Dose::Add { grams, .. }) => grams.value,
        other => panic!("{other:?}"),
    }
}

#[track_caller]
fn measured(request: &Request) -> Measured {
    match dose(request) {
        Ok(Dose::Add { measured: Some(measured), .. }) => measured,
        other => panic!("{other:?}"),
    }
}

/// NAVEDTRA 14075 (Engineman 1 & C), p. 7-10: the initial fill takes 0.100 oz of trisodium phosphate and 0.022 oz
/// of disodium phosphate a gallon, to the nearest half ounce: eight printed results.
#[test]
fn the_initial_fill_of_navedtra() {
    for (gallons, tsp, dsp) in [(84.0, 8.5, 2.0), (215.0, 21.5, 4.5), (280.0, 28.0, 6.0), (300.0, 30.0, 6.5)] {
        for (ounces_a_gallon, expected) in [(0.100, tsp), (0.022, dsp)] {
            let target = ounces_a_gallon * OUNCE * 1_000.0 / GALLON_US;
            let mut request = plain(0.0, target, gallons * GALLON_US, 1.0);
            request.product.measure = Some(Measure { grams: OUNCE, parts: 2 });
            assert_eq!(measured(&request).measures, expected, "{gallons} gallons");
        }
    }
}

/// NAVEDTRA 14075, p. 7-12: to reach 2.0 epm of alkalinity take 0.095 oz a gallon at 0.1 epm, 0.050 at 1.0, 0.005
/// at 1.9, printed in steps of 0.005; phosphate rises about 100 ppm an epm.
/// Trisodium phosphate with twelve waters is 380.12 g/mol, of which one equivalent counts, and gives 94.97 g PO4.
#[test]
fn the_top_up_of_navedtra() {
    let an_equivalent = HardnessUnit::MilliequivalentPerL.mg_l();
    let alkalinity = |epm: f64| Hardness::new(epm, HardnessUnit::MilliequivalentPerL).unwrap().mg_l();
    for (epm, printed) in [(0.1, 0.095), (1.0, 0.050), (1.9, 0.005)] {
        let request = plain(alkalinity(epm), alkalinity(2.0), GALLON_US, an_equivalent / 380.12);
        let ounces = grams(&request) / OUNCE;
        near(ounces, printed, 0.0025);
        let phosphate = ounces * OUNCE * 1_000.0 / GALLON_US * 94.97 / 380.12;
        near(phosphate / (2.0 - epm), 100.0, 6.0);
    }
}

/// A treatment manual: oxygen from 0.02 to 0.002 ppm in 10,000 kg/h by deaeration leaves 0.18 g/h to take up, at
/// 7.875 g of sodium sulphite each 1.4175 g/h; 4 ppm of phosphate in 40 kg are 0.16 g.
#[test]
fn oxygen_and_phosphate_by_the_hour() {
    near(grams(&plain(0.002, 0.02, 10_000.0, 1.0)), 0.18, 1e-9);
    near(grams(&plain(0.002, 0.02, 10_000.0, 1.0 / 7.875)), 1.4175, 1e-9);
    near(grams(&plain(0.0, 4.0, 40.0, 1.0)), 0.16, 1e-12);
}

/// A chemical data sheet: 7.88 mg of sodium sulphite a mg of oxygen, so 0.10 mg/l need 0.788 mg/l.
#[test]
fn a_tenth_of_oxygen() {
    near(grams(&plain(0.0, 0.10, 1_000.0, 1.0 / 7.88)), 0.788, 1e-9);
}

/// Stoichiometry: a mg/l of CaCO3 takes 1.059 mg/l of soda ash (105.99 over 100.09 g/mol).
#[test]
fn soda_ash_for_hardness() {
    near(grams(&plain(0.0, 1.0, 1_000.0, 100.09 / 105.99)), 1.059, 5e-4);
}

/// By hand: 3000 l from 100 to 160 mg/l of tannin with a product of 35 %: 180 g of tannin, 514.3 g, 12.86 scoops of
/// 40 g, thirteen if whole ones are taken, which reaches 160.67.
#[test]
fn scoops_by_hand() {
    let mut request = plain(100.0, 160.0, 3_000.0, 0.35);
    near(grams(&request), 514.286, 5e-4);
    request.product.measure = Some(Measure { grams: 40.0, parts: 1 });
    let told = measured(&request);
    assert_eq!((told.measures, told.grams), (13.0, 520.0));
    near(told.reaches_mg_l, 160.667, 5e-4);
    request.product.measure = Some(Measure { grams: 40.0, parts: 4 });
    assert_eq!(measured(&request).measures, 12.75);
}

#[test]
fn nothing_is_added_over_the_target() {
    assert_eq!(dose(&plain(170.0, 160.0, 3_000.0, 0.35)), Ok(Dose::None { over_mg_l: 10.0 }));
    assert_eq!(dose(&plain(160.0, 160.0, 3_000.0, 0.35)), Ok(Dose::None { over_mg_l: 0.0 }));
}

/// Steam tables (from memory): saturated water at 180 °C fills 1.127 l a kg, at 25 °C 1.003; so litres of the hot
/// boiler would ask for an eighth too much.
#[test]
fn hot_litres_hold_less_water() {
    near(cold_litres(3_000.0, 180.0).unwrap(), 3_000.0 * 1.003 / 1.127, 2.0);
    near(cold_litres(3_000.0, 25.0).unwrap(), 3_000.0, 1e-9);
    assert_eq!(cold_litres(f64::NAN, 25.0).unwrap_err().field, "hot_litres");
}

#[test]
fn what_cannot_be_names_its_field() {
    let good = plain(100.0, 160.0, 3_000.0, 0.35);
    let field = |r: Request| dose(&r).unwrap_err().field;
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(field(Request { reading_mg_l: Estimate::exact(bad), ..good }), "reading_mg_l");
        assert_eq!(field(Request { target_mg_l: bad, ..good }), "target_mg_l");
        assert_eq!(field(Request { litres: Estimate::exact(bad), ..good }), "litres");
        assert_eq!(field(Request { product: Product { strength: bad, measure: None }, ..good }), "strength");
        let measure = Some(Measure { grams: bad, parts: 1 });
        assert_eq!(field(Request { product: Product { strength: 1.0, measure }, ..good }), "measure_grams");
    }
    let measure = Some(Measure { grams: 1.0, parts: 0 });
    assert_eq!(field(Request { product: Product { strength: 1.0, measure }, ..good }), "measure_parts");
    let upside_down = Estimate { value: 100.0, low: 110.0, high: 120.0 };
    assert_eq!(field(Request { reading_mg_l: upside_down, ..good }), "reading_mg_l");
}

proptest! {
    /// The dose put in brings the water to its target, whichever of the possible waters it was.
    #[test]
    fn the_dose_lies_between_the_least_and_the_most(
        reading in 10.0..150.0f64, error in 0.0..10.0f64, litres in 500.0..8_000.0f64, unsure in 0.0..200.0f64,
        strength in 0.05..2.0f64, off in -1.0..1.0f64, off_too in -1.0..1.0f64,
    ) {
        let request = Request {
            reading_mg_l: Estimate::around(reading, error),
            target_mg_l: 160.0,
            litres: Estimate::around(litres, unsure),
            product: Product { strength, measure: None },
        };
        let Dose::Add { grams, .. } = dose(&request).unwrap() else { panic!() };
        let (mg_l, truly) = (reading + off * error, litres + off_too * unsure);
        let needed = (160.0 - mg_l) * truly / strength / 1_000.0;
        prop_assert!(grams.low <= needed + 1e-9 && needed <= grams.high + 1e-9);
        let shown = reading + grams.value * 1_000.0 * strength / litres;
        prop_assert!((shown - 160.0).abs() < 1e-9);
    }
}
