//! Roads: the worst place and the least reading to leave with, against a plain walk that tries every reading.

mod boiler_support;

use boiler_support::{any_boiler, exact, parallel, slope, tapered};
use offshed_core::boiler::level::{Facing, InGlass, Needed, Regulator, Tilt, Verdict};
use offshed_core::boiler::road::{BadJourney, Journey, Point, Used};
use offshed_core::boiler::shape::Vessel;
use proptest::prelude::*;

fn point(distance_m: f64, gradient: f64) -> Point {
    Point { distance_m, gradient, acceleration_m_s2: 0.0, facing: Facing::ChimneyFirst, cant: 0.0 }
}

/// An invented ten-mile line: a bank of 1 in 60, a summit, down at 1 in 80, and a stop at the end.
fn demo_road() -> Vec<Point> {
    let mut points = vec![
        point(0.0, 0.0),
        point(2_000.0, 1.0 / 200.0),
        point(5_000.0, 1.0 / 60.0),
        point(9_000.0, 1.0 / 60.0),
        point(9_001.0, -1.0 / 80.0),
        point(16_000.0, -1.0 / 80.0),
        point(16_093.0, 0.0),
    ];
    points[5].acceleration_m_s2 = -0.5;
    points
}

fn journey(points: &[Point]) -> Journey<'_> {
    Journey {
        points,
        start: Tilt::LEVEL,
        regulator: Regulator::Shut,
        used: Used::PerKm(40.0),
        cover_mm: 60.0,
        error_mm: 3.0,
    }
}

fn least_cover(vessel: &Vessel, journey: &Journey, reading: f64) -> f64 {
    let passings = vessel.along(journey, reading).unwrap();
    passings.map(|p| p.water.cover.least_mm).fold(f64::INFINITY, f64::min)
}

/// Braking down the bank piles one lean on the other: that is the worst place, at the crown's back edge.
#[test]
fn braking_downhill_is_the_worst_place() {
    let vessel = parallel().check().unwrap();
    let points = demo_road();
    let run = vessel.run(&journey(&points), 150.0).unwrap();
    assert_eq!((run.worst.place.index, run.worst.place.distance_m), (5, 16_000.0));
    assert_eq!(run.worst.water.cover.place_mm, 80.0);
    assert!((run.worst.used_l - 640.0).abs() < 1e-9);
    assert!((run.worst.water.cover.least_mm - least_cover(&vessel, &journey(&points), 150.0)).abs() < 1e-9);
    // The two gradients add: the lean is 1 in 80 and 0.5 m/s² (1 in 19.6) together.
    assert!((run.worst.water.tilt.along() + 1.0 / 80.0 + 0.5 / 9.806_65).abs() < 1e-12);
}

/// Over a summit the glass falls although no water went: both faces of the danger within a metre.
#[test]
fn a_summit_turns_the_glass() {
    let vessel = parallel().check().unwrap();
    let points = demo_road();
    let mut dry_road = journey(&points);
    dry_road.used = Used::None;
    let passings: Vec<_> = vessel.along(&dry_road, 100.0).unwrap().collect();
    let shown = |i: usize| passings[i].water.glass.over_bottom_nut_mm(vessel.visible_mm());
    assert!(shown(3) > 100.0 && shown(4) < 100.0);
    assert!((passings[3].water.volume_l - passings[4].water.volume_l).abs() < 1e-6);
}

/// The least reading is where trying readings one by one, half a tenth of a millimetre apart, first finds enough cover.
#[test]
fn the_least_reading_is_found_by_trying_too() {
    let points = demo_road();
    for boiler in [tapered(), parallel()] {
        let vessel = boiler.check().unwrap();
        let mut ask = journey(&points);
        (ask.used, ask.cover_mm) = (Used::InAll(200.0), 40.0);
        let Needed::Reading { mm } = vessel.least_to_leave(&ask).unwrap().least else {
            panic!("no reading");
        };
        let steps = (vessel.visible_mm() / 0.05) as u32;
        let tried = (0..=steps).map(|step| f64::from(step) * 0.05);
        let first = tried.into_iter().find(|r| least_cover(&vessel, &ask, *r) >= 40.0).unwrap();
        assert!((first - mm).abs() <= 0.051, "{first} {mm}");
    }
}

#[test]
fn the_verdict_knows_the_error_of_reading() {
    let vessel = tapered().check().unwrap();
    let points = demo_road();
    let mut ask = journey(&points);
    (ask.used, ask.cover_mm) = (Used::None, 40.0);
    let leaving = vessel.least_to_leave(&ask).unwrap();
    let Needed::Reading { mm } = leaving.least else { panic!("no reading") };
    let Needed::Reading { mm: sure } = leaving.least_to_be_sure else { panic!("no reading") };
    assert!((sure - mm - 3.0).abs() < 1e-9);
    let verdict = |reading| vessel.run(&ask, reading).unwrap().verdict;
    assert_eq!(verdict(mm + 4.0), Verdict::Enough);
    assert_eq!(verdict(mm + 2.0), Verdict::EnoughUnlessMisread);
    assert_eq!(verdict(mm - 2.0), Verdict::ShortUnlessMisread);
    assert_eq!(verdict(mm - 4.0), Verdict::Short);
    let run = vessel.run(&ask, mm + 2.0).unwrap();
    assert!(run.cover_error_mm > 2.0 && run.cover_error_mm < 5.0, "{run:?}");
    ask.regulator = Regulator::Open { swell_mm: 15.0 };
    let Needed::Reading { mm: open } = vessel.least_to_leave(&ask).unwrap().least else { panic!("no reading") };
    assert!((open - mm - 15.0).abs() < 1e-9);
}

/// What cannot be read off the glass is a value with words.
#[test]
fn wishes_beyond_the_glass_have_words() {
    let vessel = tapered().check().unwrap();
    let points = demo_road();
    let least = |cover_mm, used| {
        let mut ask = journey(&points);
        (ask.cover_mm, ask.used) = (cover_mm, used);
        vessel.least_to_leave(&ask).unwrap()
    };
    let easy = least(-300.0, Used::None).least;
    assert!(matches!(easy, Needed::AnyInSight { .. }), "{easy:?}");
    let thirsty = least(60.0, Used::InAll(1_200.0)).least;
    assert!(matches!(thirsty, Needed::OverTheGlass { .. }), "{thirsty:?}");
    let hopeless = least(60.0, Used::InAll(50_000.0));
    assert_eq!(hopeless.least, Needed::OverBrimFull);
    let absurd = least(900.0, Used::None);
    assert_eq!((absurd.least, absurd.volume_l), (Needed::OverBrimFull, None));
    let mut ask = journey(&points);
    ask.used = Used::InAll(50_000.0);
    let run = vessel.run(&ask, 200.0).unwrap();
    assert!(run.worst.wanting_l > 0.0 && run.worst.water.cover.least_mm.is_finite());
    assert_eq!(run.verdict, Verdict::Short);
    assert!(matches!(run.worst.water.glass, InGlass::OutBelow { .. }));
}

/// Bunker-first the same road leans the other way: its up is the chimney's down.
#[test]
fn the_return_is_the_mirror() {
    let vessel = tapered().check().unwrap();
    let points = demo_road();
    let back: Vec<Point> = points
        .iter()
        .map(|p| Point {
            gradient: -p.gradient,
            acceleration_m_s2: -p.acceleration_m_s2,
            facing: Facing::BunkerFirst,
            ..*p
        })
        .collect();
    let (there, back) = (journey(&points), journey(&back));
    assert_eq!(vessel.run(&there, 150.0), vessel.run(&back, 150.0));
}

/// Cant takes cover off the crown's high side and asks for more water.
#[test]
fn cant_asks_for_more() {
    let vessel = tapered().check().unwrap();
    let mut points = demo_road();
    let mut plain = journey(&points);
    plain.used = Used::None;
    let before = vessel.least_to_leave(&plain).unwrap().volume_l.unwrap();
    points[5].cant = 0.08;
    let mut ask = journey(&points);
    ask.used = Used::None;
    let after = vessel.least_to_leave(&ask).unwrap().volume_l.unwrap();
    assert!(after > before + 50.0, "{before} {after}");
    let run = vessel.run(&ask, 200.0).unwrap();
    assert_eq!(run.worst.place.index, 5);
    assert!((run.worst.water.glasses_differ_mm - 48.0).abs() < 1e-9);
}

#[test]
fn bad_roads_name_the_point_and_the_field() {
    let vessel = tapered().check().unwrap();
    let fault = |points: &[Point], used| {
        let mut ask = journey(points);
        ask.used = used;
        vessel.least_to_leave(&ask).unwrap_err()
    };
    assert_eq!(fault(&[], Used::None), BadJourney::Empty);
    let mut points = demo_road();
    points[3].gradient = 60.0;
    let bad = fault(&points, Used::None);
    assert!(matches!(bad, BadJourney::Point { index: 3, bad } if bad.field == "gradient"), "{bad}");
    points = demo_road();
    points[4].distance_m = 8_999.0;
    let bad = fault(&points, Used::None);
    assert!(matches!(bad, BadJourney::Point { index: 4, bad } if bad.field == "distance_m"), "{bad}");
    assert_eq!(bad.to_string().split(':').next(), Some("road point 4"));
    points = demo_road();
    points[0].cant = f64::NAN;
    let bad = fault(&points, Used::None);
    assert!(matches!(bad, BadJourney::Point { index: 0, bad } if bad.field == "cant"), "{bad}");
    let points = demo_road();
    let bad = fault(&points, Used::PerKm(-1.0));
    assert!(matches!(bad, BadJourney::Number(bad) if bad.field == "used_l_per_km"), "{bad}");
    let bad = fault(&points[..1], Used::InAll(100.0));
    assert!(matches!(bad, BadJourney::Number(bad) if bad.field == "road.length_m"), "{bad}");
    let outside = vessel.run(&journey(&points), 500.0).unwrap_err();
    assert!(matches!(outside, BadJourney::Number(bad) if bad.field == "reading.mm"), "{outside}");
}

prop_compose! {
    fn any_road()(
        rows in prop::collection::vec(
            (0.0..2_000.0f64, -0.03..0.03f64, -0.3..0.3f64, any::<bool>(), -0.05..0.05f64),
            1..12,
        ),
    ) -> Vec<Point> {
        let mut distance_m = 0.0;
        let point = |(step, gradient, acceleration_m_s2, bunker, cant): (f64, f64, f64, bool, f64)| {
            distance_m += step;
            let facing = if bunker { Facing::BunkerFirst } else { Facing::ChimneyFirst };
            Point { distance_m, gradient, acceleration_m_s2, facing, cant }
        };
        rows.into_iter().map(point).collect()
    }
}

proptest! {
    /// Leaving with the least reading, the wanted cover is met everywhere and met exactly at the named place.
    #[test]
    fn the_least_reading_just_does(
        boiler in any_boiler(),
        points in any_road(),
        cover in 0.0..80.0f64,
        used in 0.0..5.0f64,
        start in -0.01..0.01f64,
    ) {
        let vessel = boiler.check().unwrap();
        let mut ask = journey(&points);
        (ask.cover_mm, ask.used, ask.start) = (cover, Used::PerKm(used), slope(start));
        let leaving = vessel.least_to_leave(&ask).unwrap();
        if let Needed::Reading { mm } = leaving.least {
            let run = vessel.run(&ask, mm).unwrap();
            prop_assert!((run.worst.water.cover.least_mm - cover).abs() < 1e-4, "{:?}", run);
            prop_assert!(run.verdict != Verdict::Short);
            let here = vessel.along(&ask, mm).unwrap().nth(leaving.place.index).unwrap();
            prop_assert!((here.water.cover.least_mm - cover).abs() < 1e-4);
        }
    }

    /// A road is no more than its points: each passing is the state that the point alone gives.
    #[test]
    fn a_walk_is_its_points(points in any_road(), share in 0.0..1.0f64) {
        let vessel = tapered().check().unwrap();
        let mut ask = journey(&points);
        ask.used = Used::None;
        let reading = share * vessel.visible_mm();
        for (passing, point) in vessel.along(&ask, reading).unwrap().zip(&points) {
            let alone = vessel.after(exact(reading), Regulator::Shut, Tilt::LEVEL, point.tilt().unwrap());
            let alone = alone.unwrap().as_read;
            prop_assert!((passing.water.cover.least_mm - alone.cover.least_mm).abs() < 1e-5);
            prop_assert_eq!(passing.place.distance_m, point.distance_m);
        }
    }
}
