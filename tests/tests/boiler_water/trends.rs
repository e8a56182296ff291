use super::*;

fn tests(days: &[f64], values: &[f64]) -> Vec<Test> {
    days.iter().zip(values).map(|(d, v)| Test { steam_days: *d, value: *v }).collect()
}

/// `scipy.stats.theilslopes(y, x, alpha=0.95, method='joint')`, scipy 1.17.1: slope, intercept, and both ends of
/// the interval of five series: plain, with a wild reading, with ties, of four tests, and flat.
#[test]
fn as_scipy_fits_them() {
    #[rustfmt::skip]
    let series: [(&[f64], &[f64], [f64; 4]); 5] = [
        (
            &[0.0, 3.0, 5.0, 8.0, 10.0, 13.0, 15.0, 18.0],
            &[900.0, 1105.0, 1260.0, 1490.0, 1655.0, 1840.0, 2010.0, 2250.0],
            [75.20833333333334, 886.1458333333333, 72.3076923076923, 78.57142857142857],
        ),
        (
            &[0.0, 2.0, 4.0, 7.0, 9.0, 12.0, 14.0, 16.0, 19.0, 21.0],
            &[800.0, 960.0, 1090.0, 1300.0, 2900.0, 1690.0, 1850.0, 1960.0, 2200.0, 2330.0],
            [72.94117647058823, 807.0588235294117, 70.0, 75.0],
        ),
        (
            &[1.0, 1.0, 3.0, 3.0, 5.0, 8.0, 8.0, 11.0, 11.0],
            &[150.0, 148.0, 150.0, 146.0, 140.0, 138.0, 140.0, 131.0, 133.0],
            [-1.7, 151.6, -2.3333333333333335, -1.1666666666666667],
        ),
        (
            &[0.0, 4.0, 9.0, 13.0],
            &[500.0, 700.0, 650.0, 900.0],
            [26.495726495726494, 527.7777777777778, -10.0, 62.5],
        ),
        (&[0.0, 2.0, 4.0, 6.0, 8.0, 10.0], &[500.0, 510.0, 495.0, 505.0, 498.0, 503.0], [-0.25, 502.75, -3.5, 5.0]),
    ];
    for (days, values, [slope, intercept, low, high]) in series {
        let trend = fit(&tests(days, values), Z_95).unwrap();
        let got = trend.slope();
        near(got.value, slope, 1e-9);
        near(got.low, low, 1e-9);
        near(got.high, high, 1e-9);
        near(trend.at(0.0).unwrap(), intercept, 1e-9);
        assert_eq!(trend.is_whole_spread(), days.len() == 4);
    }
}

fn line(slope: f64, height: f64) -> Trend {
    let days: Vec<_> = (0..10).map(|n| 2.0 * f64::from(n)).collect();
    let values: Vec<_> = days.iter().map(|d| height + slope * d).collect();
    fit(&tests(&days, &values), Z_95).unwrap()
}

/// By hand: 1000 + 100 a day reaches 3500 on day 25, seven days in steam after the latest test on day 18.
#[test]
fn a_straight_line_by_hand() {
    let rising = line(100.0, 1_000.0);
    assert_eq!(rising.last_day(), 18.0);
    let Outlook::In { days, soonest, latest } = rising.outlook(Limit::Above(3_500.0)).unwrap() else { panic!() };
    near(days, 7.0, 1e-9);
    near(soonest, 7.0, 1e-9);
    near(latest.unwrap(), 7.0, 1e-9);
    assert_eq!(rising.outlook(Limit::Above(2_800.0)).unwrap(), Outlook::Met);
    assert_eq!(line(0.0, 1_000.0).outlook(Limit::Above(3_500.0)).unwrap(), Outlook::NotApproaching { soonest: None });
    // Tannin of 180 losing 2 a day is at 144 on the latest day, and at its least of 120 twelve days on.
    let Outlook::In { days, .. } = line(-2.0, 180.0).outlook(Limit::Below(120.0)).unwrap() else { panic!() };
    near(days, 12.0, 1e-9);
    assert_eq!(line(-2.0, 180.0).outlook(Limit::Above(200.0)).unwrap(), Outlook::NotApproaching { soonest: None });
    assert_eq!(rising.outlook(Limit::Above(f64::NAN)).unwrap_err().field, "limit");
    assert_eq!(rising.at(f64::NAN).unwrap_err().field, "steam_days");
}

/// The flat series above may rise by 5 a day at the most: with a limit near it, perhaps.
#[test]
fn a_flat_trend_may_still_reach_the_limit() {
    let days = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0];
    let flat = fit(&tests(&days, &[500.0, 510.0, 495.0, 505.0, 498.0, 503.0]), Z_95).unwrap();
    // Less 5 a day the tests are 500, 500, 475, 475, 458, 453, in the middle 475; with 50 on day 10 that is 525.
    let Outlook::NotApproaching { soonest: Some(soonest) } = flat.outlook(Limit::Above(600.0)).unwrap() else {
        panic!()
    };
    near(soonest, (600.0 - 525.0) / 5.0, 1e-9);
}

#[test]
fn one_wild_reading_does_not_turn_it() {
    let days: Vec<_> = (0..12).map(f64::from).collect();
    let mut values: Vec<_> = days.iter().map(|d| 900.0 + 60.0 * d).collect();
    values[11] = 9_000.0;
    near(fit(&tests(&days, &values), Z_95).unwrap().slope().value, 60.0, 1e-9);
}

#[test]
fn what_shows_no_trend_is_refused() {
    let of = |n: u32| (0..n).map(|d| Test { steam_days: d.into(), value: 1.0 }).collect::<Vec<_>>();
    assert_eq!(fit(&of(2), Z_95).unwrap_err(), NoTrend::TooFew { given: 2 });
    assert_eq!(fit(&of(65), Z_95).unwrap_err(), NoTrend::TooMany { given: 65 });
    assert!(fit(&of(MOST_TESTS as u32), Z_95).is_ok());
    assert_eq!(fit(&tests(&[3.0; 5], &[1.0, 2.0, 3.0, 4.0, 5.0]), Z_95).unwrap_err(), NoTrend::OneDay);
    for bad in [f64::NAN, f64::INFINITY, -1e300] {
        let field = |days, value| match fit(&tests(&[0.0, 1.0, days], &[0.0, 1.0, value]), Z_95) {
            Err(NoTrend::Number(bad)) => bad.field,
            other => panic!("{other:?}"),
        };
        assert_eq!(field(bad, 1.0), "steam_days");
        assert_eq!(field(2.0, bad), "value");
    }
    assert!(matches!(fit(&of(5), f64::NAN), Err(NoTrend::Number(b)) if b.field == "z"));
}

#[test]
fn washouts() {
    let soon = |days| Outlook::In { days, soonest: days / 2.0, latest: None };
    assert_eq!(washout(-3, soon(9.0)), Washout::Overdue { by: 3 });
    assert_eq!(washout(i32::MIN, Outlook::Met), Washout::Overdue { by: 2_147_483_648 });
    assert_eq!(washout(5, Outlook::Met), Washout::Now);
    assert_eq!(washout(10, soon(6.9)), Washout::BringForward { within_days: 6, booked_days: 10 });
    assert_eq!(washout(10, soon(15.0)), Washout::Watch { soonest_days: 7, booked_days: 10 });
    assert_eq!(washout(10, soon(20.0)), Washout::AsBooked { booked_days: 10 });
    assert_eq!(washout(10, Outlook::NotApproaching { soonest: None }), Washout::AsBooked { booked_days: 10 });
    let perhaps = Outlook::NotApproaching { soonest: Some(4.5) };
    assert_eq!(washout(10, perhaps), Washout::Watch { soonest_days: 4, booked_days: 10 });
}

proptest! {
    /// Sorting all slopes is the other way to find their middle, and the order of the tests does not matter.
    #[test]
    fn sorting_finds_the_same_middle(
        series in proptest::collection::vec((0u16..60, -3_000i32..3_000), 3..=MOST_TESTS),
    ) {
        let mut all: Vec<_> =
            series.iter().map(|(d, v)| Test { steam_days: (*d).into(), value: (*v).into() }).collect();
        let mut slopes = Vec::new();
        for (n, a) in all.iter().enumerate() {
            for b in &all[n + 1..] {
                if a.steam_days != b.steam_days {
                    slopes.push((b.value - a.value) / (b.steam_days - a.steam_days));
                }
            }
        }
        slopes.sort_by(f64::total_cmp);
        let Ok(trend) = fit(&all, Z_95) else {
            prop_assert!(slopes.is_empty());
            return Ok(());
        };
        let half = slopes.len() / 2;
        let middle =
            if slopes.len() % 2 == 1 { slopes[half] } else { (slopes[half - 1] + slopes[half]) / 2.0 };
        prop_assert!((trend.slope().value - middle).abs() <= 1e-9 * middle.abs().max(1.0));
        prop_assert!(trend.slope().low <= trend.slope().value && trend.slope().value <= trend.slope().high);
        all.reverse();
        prop_assert_eq!(fit(&all, Z_95), Ok(trend));
    }

    /// The same days on, the fitted line is at the limit; and soonest and latest lie about it.
    #[test]
    fn the_line_is_at_the_limit_when_told(
        values in proptest::collection::vec(0.0..4_000.0f64, 4..20),
        limit in 0.0..5_000.0f64,
        below in any::<bool>(),
    ) {
        let all: Vec<_> = (0u8..).zip(&values).map(|(d, v)| Test { steam_days: d.into(), value: *v }).collect();
        let trend = fit(&all, Z_95).unwrap();
        let limit_at = if below { Limit::Below(limit) } else { Limit::Above(limit) };
        if let Outlook::In { days, soonest, latest } = trend.outlook(limit_at).unwrap() {
            prop_assert!(days > 0.0 && soonest <= days && latest.is_none_or(|l| l >= days));
            if trend.last_day() + days < 1e5 {
                prop_assert!((trend.at(trend.last_day() + days).unwrap() - limit).abs() < 1e-6 * (1.0 + days));
            }
        }
    }
}
