//! What a feed delivers, by hand and by law.

use offshed_core::boiler::feed::{Delivery, NoDelivery, Steaming, Verdict, Watched, delivery};
use offshed_core::boiler::level::GlassReading;
use proptest::prelude::*;

fn glass(mm: f64, error_mm: f64) -> GlassReading {
    GlassReading { mm, error_mm }
}

/// Thirty millimetres in two minutes, 8 l/mm, at 180 °C fed with water of 15 °C.
fn watched() -> Watched {
    Watched {
        start: glass(90.0, 2.0),
        end: glass(120.0, 2.0),
        seconds: 120.0,
        litres_per_mm: 8.0,
        boiler_c: 180.0,
        feed_c: 15.0,
        steaming: Steaming::Unknown,
        highest_mm: 170.0,
    }
}

#[track_caller]
fn near(got: f64, expected: f64, within: f64) {
    assert!((got - expected).abs() <= within, "{got}, not {expected} within {within}");
}

/// Steam tables (from memory): a kilogram of water at saturation at 180 °C fills 1.127 l, and 1.0009 l at 15 °C, so 120
/// hot litres a minute are 106.6 cold ones.
#[test]
fn a_rise_by_hand_with_the_steam_tables_densities() {
    let got = delivery(&watched()).unwrap();
    near(got.rise_mm, 30.0, 0.0);
    near(got.l_min, 30.0 * 8.0 / 2.0 / 1.127 * 1.0009, 0.1);
    near(got.l_min_per_mm * 30.0, got.l_min, 1e-9);
    // Two readings of ±2 mm are ±4 mm of 30.
    near(got.low_l_min, got.l_min * 26.0 / 30.0, 1e-9);
    near(got.high_l_min, got.l_min * 34.0 / 30.0, 1e-9);
}

/// The common figure of 10 mm in a minute at rest (common practice, no source), here in litres.
#[test]
fn a_cold_boiler_needs_no_correction() {
    let cold = Watched { boiler_c: 15.0, end: glass(100.0, 0.0), start: glass(90.0, 0.0), seconds: 60.0, ..watched() };
    near(delivery(&cold).unwrap().l_min, 80.0, 1e-9);
}

/// A kilogram of steam a minute was a litre of feed a minute, but for the feed's own density (0.9991 kg/l at 15 °C,
/// steam tables, from memory).
#[test]
fn what_is_steamed_off_is_added() {
    let plain = delivery(&watched()).unwrap();
    let steamed = delivery(&Watched { steaming: Steaming::Known { kg_per_min: 20.0 }, ..watched() }).unwrap();
    near(steamed.l_min - plain.l_min, 20.0 / 0.9991, 0.01);
    assert!(steamed.steaming_known && !plain.steaming_known);
}

#[test]
fn a_falling_glass_is_a_delivery_below_none_and_not_an_error() {
    let falling = Watched { start: glass(120.0, 1.0), end: glass(110.0, 1.0), ..watched() };
    assert!(delivery(&falling).unwrap().l_min < 0.0);
}

#[test]
fn verdicts_carry_the_reading_error() {
    let known = Watched { steaming: Steaming::Known { kg_per_min: 0.0 }, ..watched() };
    let got = delivery(&known).unwrap();
    let at = |d: &Delivery, least| d.against(least).unwrap();
    assert_eq!(at(&got, got.low_l_min), Verdict::Enough);
    assert_eq!(at(&got, got.high_l_min + 0.1), Verdict::TooLittle);
    let unknown = delivery(&watched()).unwrap();
    let Verdict::TooLittleUnlessSteamed { missing_l_min } = at(&unknown, 130.0) else { panic!() };
    near(missing_l_min, 130.0 - unknown.l_min, 1e-9);
    assert_eq!(at(&got, got.l_min), Verdict::CannotTell { seconds: None });
    assert_eq!(got.against(f64::NAN).unwrap_err().field, "least_l_min");
}

/// Watching for as long as is told, at the same rate, does tell.
#[test]
fn the_seconds_told_are_enough() {
    let got = delivery(&watched()).unwrap();
    let Verdict::CannotTell { seconds: Some(seconds) } = got.against(100.0).unwrap() else { panic!() };
    let longer = |seconds: f64| {
        let rise = 30.0 * seconds / 120.0;
        let end = glass(90.0 + rise, 2.0);
        let watched = Watched { end, seconds, highest_mm: 1_000.0, ..watched() };
        delivery(&watched).unwrap().against(100.0).unwrap()
    };
    assert_eq!(longer(seconds), Verdict::Enough);
    assert!(matches!(longer(seconds - 2.0), Verdict::CannotTell { .. }));
}

/// A proof near a full glass is refused: common practice, no source.
#[test]
fn a_nearly_full_glass_is_refused() {
    let full = Watched { end: glass(169.0, 2.0), ..watched() };
    let refused = delivery(&full).unwrap_err();
    assert_eq!(refused, NoDelivery::NearlyFull { mm: 171.0, highest_mm: 170.0 });
    assert!(refused.to_string().contains("lower level"));
}

#[test]
fn what_cannot_be_names_its_field() {
    let field = |w: Watched| match delivery(&w) {
        Err(NoDelivery::Number(bad)) => bad.field,
        other => panic!("{other:?}"),
    };
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(field(Watched { seconds: bad, ..watched() }), "seconds");
        assert_eq!(field(Watched { litres_per_mm: bad, ..watched() }), "litres_per_mm");
        assert_eq!(field(Watched { start: glass(bad, 1.0), ..watched() }), "glass_mm");
        assert_eq!(field(Watched { end: glass(100.0, bad), ..watched() }), "glass_error_mm");
        assert_eq!(field(Watched { boiler_c: bad, ..watched() }), "temperature_c");
        assert_eq!(field(Watched { feed_c: bad, ..watched() }), "feed_c");
        assert_eq!(field(Watched { highest_mm: bad, ..watched() }), "highest_mm");
        let steaming = Steaming::Known { kg_per_min: bad };
        assert_eq!(field(Watched { steaming, ..watched() }), "kg_per_min");
    }
    assert_eq!(field(Watched { seconds: 0.0, ..watched() }), "seconds");
}

proptest! {
    /// Whatever the glass truly was within its error, the delivery lies between the least and the most told, and a firm
    /// verdict stands.
    #[test]
    fn a_firm_verdict_survives_every_misreading(
        start in 20.0..80.0f64, rise in -10.0..60.0f64, error in 0.0..5.0f64,
        off in -1.0..1.0f64, off_too in -1.0..1.0f64, seconds in 20.0..600.0f64, least in 0.0..200.0f64,
    ) {
        let steaming = Steaming::Known { kg_per_min: 3.0 };
        let seen = Watched {
            start: glass(start, error), end: glass(start + rise, error), seconds, steaming, ..watched()
        };
        let truly = Watched {
            start: glass(start + off * error, 0.0), end: glass(start + rise + off_too * error, 0.0), ..seen
        };
        let (seen, truly) = (delivery(&seen).unwrap(), delivery(&truly).unwrap());
        prop_assert!(seen.low_l_min <= truly.l_min + 1e-9 && truly.l_min <= seen.high_l_min + 1e-9);
        match seen.against(least).unwrap() {
            Verdict::Enough => prop_assert!(truly.l_min >= least - 1e-9),
            Verdict::TooLittle => prop_assert!(truly.l_min < least + 1e-9),
            Verdict::CannotTell { .. } => prop_assert!(seen.low_l_min < least && least <= seen.high_l_min),
            Verdict::TooLittleUnlessSteamed { .. } => prop_assert!(false, "the steaming is known"),
        }
    }

    /// An answer is a number or an error, never a NaN, an infinity or a panic.
    #[test]
    fn an_answer_is_a_number_or_an_error(n in proptest::array::uniform10(prop_oneof![any::<f64>(), 0.0..300.0f64])) {
        let [a, b, c, d, seconds, litres_per_mm, boiler_c, feed_c, kg_per_min, highest_mm] = n;
        let steaming = Steaming::Known { kg_per_min };
        let watched = Watched {
            start: glass(a, b), end: glass(c, d), seconds, litres_per_mm, boiler_c, feed_c, steaming, highest_mm,
        };
        if let Ok(got) = delivery(&watched) {
            prop_assert!(got.low_l_min.is_finite() && got.high_l_min.is_finite());
            prop_assert!(got.low_l_min <= got.l_min && got.l_min <= got.high_l_min);
        }
    }
}
