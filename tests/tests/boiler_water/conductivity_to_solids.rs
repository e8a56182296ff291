use super::*;

/// A conductivity analyser maker's user manual, appendix on temperature compensation: 124.5 µS/cm at 18.0 °C and 147.6 at 31.0 °C are
/// one water of 1.298 %/°C.
#[test]
fn one_water_at_two_temperatures() {
    let percent = coefficient((124.5, 18.0), (147.6, 31.0)).unwrap();
    near(percent, 1.298, 0.0005);
    near(at_25(124.5, 18.0, percent).unwrap(), 136.938, 0.0005);
    near(at_25(147.6, 31.0, percent).unwrap(), 136.938, 0.0005);
    near(coefficient((147.6, 31.0), (124.5, 18.0)).unwrap(), percent, 1e-12);
}

/// A boiler control maker's manual, section on TDS probes: 2 %/°C, solids 0.7 times µS/cm at 25 °C, 5000 µS/cm are 3500 ppm.
#[test]
fn five_thousand_microsiemens() {
    let by = Conversion { percent_per_k: 2.0, mg_l_per_us_cm: 0.7 };
    let sample = Sample { us_cm: 5_000.0, error_us_cm: 0.0, celsius: 25.0, error_k: 0.0 };
    near(solids(sample, by).unwrap().mg_l.value, 3_500.0, 1e-9);
}

/// A standard solution maker's table of standards: 1413 µS/cm are 1000 ppm by the 442 standard (factor 0.7078) and 702.1
/// as NaCl (0.4969): the factor is data, and one for all waters is wrong by a third.
#[test]
fn the_factor_depends_on_the_salts() {
    let sample = Sample { us_cm: 1_413.0, error_us_cm: 0.0, celsius: 25.0, error_k: 0.0 };
    for (factor, ppm) in [(0.7078, 1_000.0), (0.4969, 702.1)] {
        let by = Conversion { percent_per_k: 2.0, mg_l_per_us_cm: factor };
        near(solids(sample, by).unwrap().mg_l.value, ppm, 0.2);
    }
}

/// 5000 [1 + 0.02 (184 − 25)] = 20 900 µS/cm in a boiler at 10 bar (a steam tutorial, from memory).
#[test]
fn a_probe_in_the_hot_boiler() {
    near(at_temperature(5_000.0, 184.0, 2.0).unwrap(), 20_900.0, 1e-6);
    near(at_25(20_900.0, 184.0, 2.0).unwrap(), 5_000.0, 1e-9);
}

#[test]
fn what_cannot_be_names_its_field() {
    let by = Conversion { percent_per_k: 2.0, mg_l_per_us_cm: 0.7 };
    let good = Sample { us_cm: 5_000.0, error_us_cm: 50.0, celsius: 20.0, error_k: 0.5 };
    let field = |sample, by| solids(sample, by).unwrap_err().field;
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(field(Sample { us_cm: bad, ..good }, by), "us_cm");
        assert_eq!(field(Sample { error_us_cm: bad, ..good }, by), "error_us_cm");
        assert_eq!(field(Sample { celsius: bad, ..good }, by), "celsius");
        assert_eq!(field(Sample { error_k: bad, ..good }, by), "error_k");
        assert_eq!(field(good, Conversion { percent_per_k: bad, ..by }), "percent_per_k");
        assert_eq!(field(good, Conversion { mg_l_per_us_cm: bad, ..by }), "mg_l_per_us_cm");
    }
    assert_eq!(coefficient((100.0, 20.0), (100.0, 25.0)), Ok(0.0));
    assert_eq!(coefficient((100.0, 20.0), (90.0, 25.0)).unwrap_err().field, "percent_per_k");
    assert_eq!(coefficient((100.0, 20.0), (100.0, 20.0)).unwrap_err().field, "percent_per_k");
}

proptest! {
    #[test]
    fn every_true_sample_lies_between_the_least_and_the_most(
        us_cm in 0.0..10_000.0f64, error in 0.0..500.0f64, celsius in 5.0..60.0f64, error_k in 0.0..5.0f64,
        off in -1.0..1.0f64, off_too in -1.0..1.0f64, percent in 0.0..3.0f64,
    ) {
        let by = Conversion { percent_per_k: percent, mg_l_per_us_cm: 0.7 };
        let seen = solids(Sample { us_cm, error_us_cm: error, celsius, error_k }, by).unwrap();
        let truly = at_25((us_cm + off * error).max(0.0), celsius + off_too * error_k, percent).unwrap();
        prop_assert!(seen.us_cm_25.low <= truly + 1e-9 && truly <= seen.us_cm_25.high + 1e-9);
    }
}
