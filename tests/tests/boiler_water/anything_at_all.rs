use super::*;

/// Any number there is, and often one that is nearly right.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), proptest::num::f64::ANY, 0.0..5_000.0f64, Just(0.0), Just(25.0)]
}

fn estimate() -> impl Strategy<Value = Estimate> {
    prop_oneof![
        number().prop_map(Estimate::exact),
        (number(), number()).prop_map(|(value, error)| Estimate::around(value, error)),
        (number(), number(), number()).prop_map(|(value, low, high)| Estimate { value, low, high }),
    ]
}

fn told(e: Estimate) -> bool {
    e.low.is_finite() && e.value.is_finite() && e.high.is_finite() && e.low <= e.value && e.value <= e.high
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// An answer is a number or an error, never a NaN, an infinity or a panic.
    #[test]
    fn an_answer_is_a_number_or_an_error(
        a in number(), b in number(), c in number(), d in number(), e in number(), f in number(),
        one in estimate(), other in estimate(), parts in any::<u8>(), asked in any::<u8>(),
    ) {
        let sample = Sample { us_cm: a, error_us_cm: b, celsius: c, error_k: d };
        if let Ok(got) = solids(sample, Conversion { percent_per_k: e, mg_l_per_us_cm: f }) {
            prop_assert!(told(got.us_cm_25) && told(got.mg_l));
        }
        if let Ok(got) = coefficient((a, b), (c, d)) { prop_assert!(got.is_finite()); }
        if let Ok(got) = Cycles::of(a, b) {
            prop_assert!(got.of_steam().get().is_finite() && got.of_feed().get() < 1.0);
        }
        let product = Product { strength: c, measure: Some(Measure { grams: d, parts }) };
        let request = Request { reading_mg_l: one, target_mg_l: a, litres: other, product };
        if let Ok(Dose::Add { grams, measured: Some(m) }) = dose(&request) {
            prop_assert!(told(grams) && m.measures.is_finite() && m.grams.is_finite() && m.reaches_mg_l.is_finite());
        }
        let level = GlassReading { mm: b, error_mm: c };
        let task = Task { solids_mg_l: one, feed_mg_l: d, target_mg_l: e, level, lower_mark_mm: f };
        for advice in [in_rounds(&task, asked, |mm| Some(a + mm)), fewest_rounds(&task, |mm| Some(3_000.0 + mm * d))] {
            if let Ok(Advice::Blow(got)) = advice {
                prop_assert!(told(got.reaches_mg_l) && got.stop_mm >= f && (0.0..=1.0).contains(&got.share_each));
            }
        }
        let plant = Plant { going_in: one, coming_out: other, most_out: f };
        if let Ok(got) = check(&plant) { prop_assert!(got.taken_out.is_none_or(f64::is_finite)); }
        if let Ok(got) = litres_left(a, b, c) { prop_assert!(got.is_finite()); }
        let tests = [(a, b), (c, d), (e, f)].map(|(steam_days, value)| Test { steam_days, value });
        if let Ok(trend) = fit(&tests, Z_95) {
            prop_assert!(told(trend.slope()));
            if let Ok(Outlook::In { days, soonest, .. }) = trend.outlook(Limit::Above(a)) {
                prop_assert!(days.is_finite() && soonest.is_finite());
            }
        }
    }
}
