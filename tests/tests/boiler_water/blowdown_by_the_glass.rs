use super::*;

/// 3000 l at 150 mm and 10 l in each.
fn tank(level_mm: f64) -> Option<f64> {
    Some(1_500.0 + 10.0 * level_mm)
}

/// A lying drum: narrower higher up, litres over a height above its bottom.
fn drum(level_mm: f64) -> Option<f64> {
    let (r, length) = (600.0f64, 3_000.0);
    let h = 700.0 + level_mm;
    ((0.0..=2.0 * r).contains(&h)).then(|| {
        let segment = r * r * libm::acos((r - h) / r) - (r - h) * libm::sqrt(2.0 * r * h - h * h);
        segment * length / 1e6
    })
}

fn task() -> Task {
    Task {
        solids_mg_l: Estimate::exact(4_000.0),
        feed_mg_l: 200.0,
        target_mg_l: 3_500.0,
        level: GlassReading { mm: 150.0, error_mm: 0.0 },
        lower_mark_mm: 50.0,
    }
}

#[track_caller]
fn rounds(advice: Result<Advice, Refused>) -> Rounds {
    match advice {
        Ok(Advice::Blow(rounds)) => rounds,
        other => panic!("{other:?}"),
    }
}

/// By hand: (3500 − 200)/(4000 − 200) = 0.86842 of 3000 l may stay, 394.7 l go, 39.47 mm: 40 mm told, which leaves
/// 200 + 3800 · 2600/3000 = 3493.3 mg/l. In two rounds √0.86842 = 0.93189 may stay: 20.43 mm, 21 told.
#[test]
fn a_tank_by_hand() {
    let one = rounds(in_rounds(&task(), 1, tank));
    assert_eq!((one.rounds, one.fall_mm, one.stop_mm), (1, 40.0, 110.0));
    near(one.litres_each, 400.0, 1e-9);
    near(one.share_each, 400.0 / 3_000.0, 1e-12);
    near(one.reaches_mg_l.value, 3_493.333, 5e-4);
    assert_eq!(one, rounds(fewest_rounds(&task(), tank)));
    let two = rounds(in_rounds(&task(), 2, tank));
    assert_eq!((two.rounds, two.fall_mm), (2, 21.0));
}

#[test]
fn a_fall_past_the_lower_mark_is_refused() {
    let high_mark = Task { lower_mark_mm: 125.0, ..task() };
    let refused = in_rounds(&high_mark, 1, tank).unwrap_err();
    assert_eq!(refused, Refused::PassesLowerMark { rounds: 1, allowed_mm: 25.0, rounds_needed: Some(2) });
    assert!(refused.to_string().contains("2 rounds"));
    let two = rounds(fewest_rounds(&high_mark, tank));
    assert_eq!((two.rounds, two.fall_mm), (2, 21.0));
    // Two millimetres of reading error are two more above the mark, and 23 mm are still enough; five are not.
    let unsure = |error_mm| Task { level: GlassReading { mm: 150.0, error_mm }, ..high_mark };
    assert_eq!(rounds(fewest_rounds(&unsure(2.0), tank)).rounds, 2);
    assert_eq!(rounds(fewest_rounds(&unsure(5.0), tank)).rounds, 3);
    assert!(rounds(fewest_rounds(&unsure(5.0), tank)).stop_mm - 5.0 >= 125.0);
}

#[test]
fn what_no_blowdown_reaches_is_refused() {
    let strong = Task { feed_mg_l: 3_500.0, ..task() };
    assert_eq!(fewest_rounds(&strong, tank), Err(Refused::FeedTooStrong { feed_mg_l: 3_500.0, target_mg_l: 3_500.0 }));
    let low = Task { level: GlassReading { mm: 53.0, error_mm: 3.0 }, ..task() };
    assert_eq!(fewest_rounds(&low, tank), Err(Refused::StartsTooLow { level_mm: 53.0, least_mm: 54.0 }));
    let far = Task { target_mg_l: 210.0, lower_mark_mm: 145.0, ..task() };
    assert_eq!(
        fewest_rounds(&far, tank),
        Err(Refused::PassesLowerMark { rounds: MOST_ROUNDS, allowed_mm: 5.0, rounds_needed: None })
    );
    let clean = Task { solids_mg_l: Estimate::exact(3_400.0), ..task() };
    assert_eq!(fewest_rounds(&clean, tank), Ok(Advice::NotNeeded { under_mg_l: 100.0 }));
}

#[test]
fn a_boiler_that_makes_no_sense_is_refused() {
    assert_eq!(fewest_rounds(&task(), |_| None), Err(Refused::NoLitres { level_mm: 150.0 }));
    assert_eq!(fewest_rounds(&task(), |_| Some(3_000.0)), Err(Refused::LitresDoNotFall { level_mm: 50.0 }));
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(matches!(fewest_rounds(&task(), |_| Some(bad)), Err(Refused::Number(b)) if b.field == "litres"));
    }
}

#[test]
fn what_cannot_be_names_its_field() {
    let field = |t: Task| match fewest_rounds(&t, tank) {
        Err(Refused::Number(bad)) => bad.field,
        other => panic!("{other:?}"),
    };
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(field(Task { solids_mg_l: Estimate::exact(bad), ..task() }), "solids_mg_l");
        assert_eq!(field(Task { feed_mg_l: bad, ..task() }), "feed_mg_l");
        assert_eq!(field(Task { target_mg_l: bad, ..task() }), "target_mg_l");
        assert_eq!(field(Task { level: GlassReading { mm: bad, error_mm: 1.0 }, ..task() }), "level_mm");
        assert_eq!(field(Task { level: GlassReading { mm: 100.0, error_mm: bad }, ..task() }), "level_error_mm");
        assert_eq!(field(Task { lower_mark_mm: bad, ..task() }), "lower_mark_mm");
    }
    assert!(matches!(in_rounds(&task(), 0, tank), Err(Refused::Number(b)) if b.field == "rounds"));
}

proptest! {
    /// Mixing bucket by bucket, with no formula, ends where it is told; a millimetre less each time would not do;
    /// and nothing falls past the mark.
    #[test]
    fn mixing_by_hand_agrees(
        solids in 2_600.0..9_000.0f64, feed in 0.0..1_500.0f64, target in 1_600.0..2_500.0f64,
        level in 120.0..220.0f64, mark in 10.0..90.0f64, error in 0.0..6.0f64, asked in 1u8..=6,
    ) {
        let task = Task {
            solids_mg_l: Estimate::exact(solids), feed_mg_l: feed, target_mg_l: target,
            level: GlassReading { mm: level, error_mm: error }, lower_mark_mm: mark,
        };
        let full = drum(level).unwrap();
        let mix = |fall: f64, times: u8| {
            let (mut salts, left) = (solids * full, drum(level - fall).unwrap());
            for _ in 0..times {
                salts = salts / full * left + feed * (full - left);
            }
            salts / full
        };
        match in_rounds(&task, asked, drum) {
            Ok(Advice::Blow(told)) => {
                prop_assert_eq!(told.rounds, asked);
                prop_assert!((mix(told.fall_mm, asked) - told.reaches_mg_l.value).abs() < 1e-6);
                prop_assert!(told.reaches_mg_l.value <= target + 1e-9);
                prop_assert!(mix(told.fall_mm - 1.0, asked) > target);
                prop_assert!(told.stop_mm - error >= mark);
                prop_assert!(told.reaches_mg_l.low <= told.reaches_mg_l.value);
                prop_assert!(told.reaches_mg_l.value <= told.reaches_mg_l.high);
            }
            Err(Refused::PassesLowerMark { allowed_mm, rounds_needed, .. }) => {
                prop_assert!(mix(allowed_mm, asked) > target);
                if let Some(needed) = rounds_needed {
                    prop_assert!(needed > asked);
                    prop_assert!(mix(allowed_mm, needed) <= target + 1e-6);
                    prop_assert!(mix(allowed_mm, needed - 1) > target);
                }
            }
            other => prop_assert!(false, "{other:?}"),
        }
    }

    /// Many small rounds waste more than one large one, and never more than the steady flow of -V ln(stay).
    #[test]
    fn more_rounds_take_more_water(asked in 1u8..MOST_ROUNDS) {
        let wide = |mm: f64| Some(150_000.0 + 1_000.0 * mm);
        let total = |n: u8| {
            let told = rounds(in_rounds(&task(), n, wide));
            f64::from(n) * told.litres_each
        };
        let a_millimetre = f64::from(asked + 1) * 1_000.0;
        prop_assert!(total(asked + 1) + f64::from(asked) * 1_000.0 >= total(asked));
        let steady = -300_000.0 * libm::log(3_300.0 / 3_800.0);
        prop_assert!(total(asked) <= steady + a_millimetre);
    }
}
