//! The boiler's drawing against the core's sums and against plain geometry: areas and volumes, heights, scale, and no
//! place that is not a number.

use offshed::controllers::boiler::Stop;
use offshed::controllers::boiler::drawing::{self, Frame, Spot, Surface, spot};
use offshed::controllers::boiler::gauge::{Gauge, MarkKind};
use offshed::controllers::boiler::{way, words};
use offshed_core::boiler::level::{
    Cover, Crown, Edge, Facing, Fill, GlassReading, InGlass, Regulator, Seen, Tilt, Water,
};
use offshed_core::boiler::road::Point;
use offshed_core::boiler::shape::{Boiler, Bundle, Top, Vessel};
use offshed_depot::demo;
use offshed_depot::reckon::boiler;
use proptest::prelude::*;

/// A parallel round-topped boiler and a tapered flat-topped one.
fn vessels() -> [Vessel; 2] {
    ["boiler-tamsin.toml", "boiler-bramble-down.toml"].map(|name| {
        let (_, text) = demo::MEASURES.iter().find(|(file, _)| *file == name).unwrap();
        boiler::read(name, text).unwrap().vessel
    })
}

fn seen(vessel: &Vessel, mm: f64, slope: f64) -> Seen {
    let reading = GlassReading { mm, error_mm: 3.0 };
    let then = Tilt::travelling(slope, 0.0, Facing::ChimneyFirst).unwrap();
    vessel.after(reading, Regulator::Shut, Tilt::LEVEL, then).unwrap()
}

/// The shoelace formula (from memory): twice the area is the sum of the cross products of neighbours.
fn area(outline: &[Spot]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    outline.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum::<f64>().abs() / 2.0
}

/// A ray to the right crosses the outline of what it starts in an odd number of times (from memory).
fn holds(outline: &[Spot], at: Spot) -> bool {
    let next = outline.iter().cycle().skip(1);
    let crosses =
        |(a, b): &(&Spot, &Spot)| (a.y > at.y) != (b.y > at.y) && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x);
    outline.iter().zip(next).filter(crosses).count() % 2 == 1
}

/// Width of an arch: straight sides under a top whose corners are circles.
fn arch(width: f64, top_mm: f64, top: Top, height: f64) -> f64 {
    let corner = match top {
        Top::Round => width / 2.0,
        Top::Flat { corner_radius_mm } => corner_radius_mm,
    };
    let up = (height - (top_mm - corner)).max(0.0);
    if height > top_mm { 0.0 } else { width - 2.0 * corner + 2.0 * (corner * corner - up * up).max(0.0).sqrt() }
}

/// Water's width at a place of the section, square to it: the outside less the firebox, the tubes and the stays.
fn width(boiler: &Boiler, at: Spot) -> f64 {
    let (casing, barrel, firebox) = (&boiler.casing, &boiler.barrel, &boiler.firebox);
    let [back, front] = drawing::crown(boiler);
    let outside = if at.x < casing.length_mm {
        arch(casing.width_mm, casing.top_mm, casing.top, at.y)
    } else {
        let share = (at.x - casing.length_mm) / barrel.length_mm;
        let radius = (barrel.back_diameter_mm + share * (barrel.front_diameter_mm - barrel.back_diameter_mm)) / 2.0;
        let up = at.y - share * barrel.front_axis_rise_mm;
        2.0 * (radius * radius - up * up).max(0.0).sqrt()
    };
    let mut taken = 0.0;
    if (back.x..front.x).contains(&at.x) {
        let crown = back.y + (at.x - back.x) / (front.x - back.x) * (front.y - back.y);
        taken += arch(firebox.width_mm, crown, firebox.crown, at.y);
        let girders = &boiler.girders;
        if girders.volume_l > 0.0 && at.y > crown && at.y < crown + girders.height_mm {
            taken += girders.volume_l * 1e6 / (firebox.length_mm * girders.height_mm);
        }
    }
    let tubes = |bundle: &Bundle| {
        let metal = f64::from(bundle.count) * std::f64::consts::PI / 4.0 * bundle.outside_diameter_mm.powi(2);
        let there = bundle.count > 0 && at.x > front.x && (bundle.lower_mm..bundle.upper_mm).contains(&at.y);
        if there { metal / (bundle.upper_mm - bundle.lower_mm) } else { 0.0 }
    };
    outside - taken - tubes(&boiler.tubes) - tubes(&boiler.flues)
}

/// Litres under the drawn surface, counted by small squares of the drawn section.
fn counted(vessel: &Vessel, surface: &Surface) -> f64 {
    let boiler = vessel.boiler();
    let wet = drawing::under(&drawing::shell(boiler), surface);
    let (long, low, top) = (boiler.casing.length_mm + boiler.barrel.length_mm, boiler.casing.foundation_mm, 1_000.0);
    let side = 8.0;
    let mut total = 0.0;
    let (columns, rows) = ((long / side) as u32, ((top - low) / side) as u32);
    for column in 0..columns {
        for row in 0..rows {
            let at = spot((f64::from(column) + 0.5) * side, low + (f64::from(row) + 0.5) * side);
            if holds(&wet, at) {
                total += width(boiler, at) * side * side;
            }
        }
    }
    total / 1e6
}

#[test]
fn the_drawn_water_is_the_core_s_water() {
    for vessel in vessels() {
        for (mm, slope) in [(20.0, 0.0), (100.0, 0.0), (190.0, 0.0), (100.0, 1.0 / 40.0), (100.0, -1.0 / 40.0)] {
            let water = seen(&vessel, mm, slope).as_read;
            let drawn = counted(&vessel, &Surface::of(&vessel, &water));
            let off = drawn / water.volume_l - 1.0;
            assert!(off.abs() < 0.02, "{mm} mm, {slope}: drawn {drawn:.0} l, core {:.0} l", water.volume_l);
        }
    }
}

#[test]
fn a_level_surface_cuts_the_section_at_its_height() {
    let [tamsin, _] = vessels();
    let boiler = tamsin.boiler();
    let surface = Surface::of(&tamsin, &seen(&tamsin, 100.0, 0.0).as_read);
    // The nut stands 80 mm over a crown at 200 mm: a reading of 100 mm is 380 mm over the axis.
    assert!((surface.at(0.0) - 380.0).abs() < 1e-6 && (surface.at(4_500.0) - 380.0).abs() < 1e-6);
    // Casing 1500 long from -1000 up to 380, barrel 3000 long from -600 up to 380.
    let wet = area(&drawing::under(&drawing::shell(boiler), &surface));
    assert!((wet - (1_500.0 * 1_380.0 + 3_000.0 * 980.0)).abs() < 1.0, "{wet}");
}

#[test]
fn the_surface_stands_over_the_crown_s_edges_by_the_core_s_cover() {
    for vessel in vessels() {
        for slope in [-0.05, -0.02, 0.0, 0.01, 0.05] {
            let water = seen(&vessel, 90.0, slope).as_read;
            let surface = Surface::of(&vessel, &water);
            let [back, front] = drawing::crown(vessel.boiler());
            assert!((surface.at(back.x) - back.y - water.cover.back_mm).abs() < 1e-6, "{slope}");
            assert!((surface.at(front.x) - front.y - water.cover.front_mm).abs() < 1e-6, "{slope}");
            // Chimney up: the surface falls towards it.
            assert_eq!(slope > 0.0, surface.at(front.x) < surface.at(back.x) - 1e-9);
        }
    }
}

#[test]
fn the_drawing_is_to_scale() {
    for vessel in vessels() {
        let frame = Frame::of(&vessel);
        let [back, front] = drawing::crown(vessel.boiler());
        let [low, high] = drawing::nuts(&vessel);
        let along = |a: Spot, b: Spot| (frame.place(b).x - frame.place(a).x) * frame.aspect() / (b.x - a.x);
        let up = |a: Spot, b: Spot| (frame.place(a).y - frame.place(b).y) / (b.y - a.y);
        assert!((along(back, front) / up(low, high) - 1.0).abs() < 1e-9);
        // The bottom nut is drawn over the highest part of the crown by its measure.
        let crown = spot(0.0, back.y.max(front.y));
        assert!((low.y - crown.y - vessel.boiler().glass.bottom_nut_mm).abs() < 1e-9);
        let all = drawing::shell(vessel.boiler()).into_iter().chain(drawing::glass(&vessel).into_iter().flatten());
        for at in all.map(|at| frame.place(at)) {
            assert!((0.0..=1.0).contains(&at.x) && (0.0..=1.0).contains(&at.y), "{at:?}");
        }
    }
}

#[test]
fn the_bare_part_of_the_crown_is_where_the_water_is_below_it() {
    let [tamsin, _] = vessels();
    let boiler = tamsin.boiler();
    let covered = Surface::of(&tamsin, &seen(&tamsin, 100.0, 0.0).as_read);
    assert_eq!(drawing::bare(boiler, &covered), None);
    // The lowest level in sight, chimney down: the water runs forward, and the back edge is out.
    let water = seen(&tamsin, 0.0, -0.06).as_read;
    assert_eq!(water.crown, Crown::Bare);
    let surface = Surface::of(&tamsin, &water);
    let [from, to] = drawing::bare(boiler, &surface).unwrap();
    assert_eq!(from, drawing::crown(boiler)[0]);
    assert!((surface.at(to.x) - to.y).abs() < 1e-6, "it ends at the surface");
}

fn road() -> Vec<Point> {
    let section = |from: f64, to: f64, gradient: f64| {
        let at = |distance_m| Point {
            distance_m,
            gradient,
            acceleration_m_s2: 0.0,
            facing: Facing::ChimneyFirst,
            cant: 0.0,
        };
        [at(from), at(to)]
    };
    [section(0.0, 1_000.0, 0.0), section(1_000.0, 3_000.0, 0.02), section(3_000.0, 4_000.0, -0.01)].concat()
}

#[test]
fn a_road_is_drawn_by_its_gradients() {
    let road = road();
    let profile = way::profile(&road);
    // Level, 40 m up, 10 m down: the summit stands at three quarters.
    let top = profile.iter().map(|at| at.y).fold(f64::INFINITY, f64::min);
    assert!((way::profile_at(&profile, 0.75) - top).abs() < 1e-9);
    assert!((profile[0].y - profile[1].y).abs() < 1e-9);
    let rise = |from: f64, to: f64| way::profile_at(&profile, from) - way::profile_at(&profile, to);
    assert!((rise(0.75, 1.0) / rise(0.25, 0.75) + 0.25).abs() < 1e-9);
    for (share, gradient) in [(0.0, 0.0), (0.1, 0.0), (0.5, 0.02), (0.9, -0.01), (1.0, -0.01)] {
        let point = way::point_at(&road, Stop::Share(share)).unwrap();
        assert_eq!((point.gradient, point.distance_m), (gradient, share * 4_000.0));
    }
    // Where two sections meet, each point is its own section's.
    assert_eq!(way::point_at(&road, Stop::Point(1)).unwrap().gradient, 0.0);
    assert_eq!(way::point_at(&road, Stop::Point(2)).unwrap().gradient, 0.02);
    assert_eq!(way::point_at(&[], Stop::Share(0.5)), None);
}

#[test]
fn gradients_are_said_as_on_the_post() {
    assert_eq!(way::gradient_words(0.0), "level");
    assert_eq!(way::gradient_words(1.0 / 60.0), "1 in 60 up");
    assert_eq!(way::gradient_words(-0.01), "1 in 100 down");
}

fn water(least: f64, glass: InGlass, fill: Fill) -> Water {
    Water {
        volume_l: 2_000.0,
        tilt: Tilt::LEVEL,
        fill,
        glass,
        glasses_differ_mm: 0.0,
        cover: Cover { front_mm: least, back_mm: least + 20.0, least_mm: least, edge: Edge::Front, place_mm: 1_410.0 },
        crown: if least > 0.0 { Crown::Covered } else { Crown::Bare },
        litres_per_mm: 4.0,
    }
}

fn of(least: [f64; 3]) -> Seen {
    let [at_least, as_read, at_most] = least.map(|mm| water(mm, InGlass::Shows { mm: 50.0 }, Fill::PartFull));
    Seen { as_read, at_least, at_most }
}

#[test]
fn every_state_has_words_of_its_own() {
    let crowns = [[70.0, 75.0, 80.0], [-2.0, 2.0, 6.0], [-6.0, -2.0, 2.0], [-9.0, -6.0, -3.0]];
    let crowns = crowns.map(|least| words::crown(&of(least)));
    let glasses = [InGlass::Shows { mm: 50.0 }, InGlass::OutAbove { by_mm: 7.0 }, InGlass::OutBelow { by_mm: 7.0 }];
    let glasses = glasses.map(words::glass);
    let fills = [Fill::BrimFull { excess_l: 1.0 }, Fill::Dry].map(words::fill);
    let all: Vec<_> = crowns.iter().chain(&glasses).chain(&fills).collect();
    for (n, one) in all.iter().enumerate() {
        assert!(!one.words.is_empty() && all[..n].iter().all(|other| other.words != one.words), "{one:?}");
        // What is covered and in sight warns of nothing; everything else does.
        let quiet = one.words == "CROWN COVERED" || one.words.starts_with("IN SIGHT");
        assert_eq!(one.warns, !quiet, "{one:?}");
    }
    assert!(glasses[2].words.contains("railway's own low-water instruction"));
    assert!(words::fill(Fill::PartFull).words.is_empty());
    assert!(words::CAUTION.contains("never advises feeding"));
}

#[test]
fn a_figure_is_never_rounded_to_the_flattering_side() {
    assert_eq!(words::cover(74.9), "74 mm");
    assert_eq!(words::cover(0.4), "0 mm");
    assert_eq!(words::cover(-0.4), "bare by 1 mm");
    assert_eq!(words::error(3.0), "\u{b1} 3 mm");
    assert_eq!(words::error(3.2), "\u{b1} 4 mm");
    let line = words::cover_line(&of([70.0, 75.0, 80.0]));
    assert_eq!(line, "Least cover: 75 mm (\u{b1} 5 mm), at the FRONT edge of the crown. Back edge: 95 mm");
}

fn finite(all: &[Spot]) -> bool {
    all.iter().all(|at| at.x.is_finite() && at.y.is_finite())
}

proptest! {
    #[test]
    fn no_place_is_no_number(
        n in 0..2_usize,
        share in 0.0..=1.0_f64,
        slope in -0.25..=0.25_f64,
        acceleration in -5.0..=5.0_f64,
    ) {
        let vessel = vessels()[n];
        let boiler = vessel.boiler();
        let reading = GlassReading { mm: share * vessel.visible_mm(), error_mm: 3.0 };
        let then = Tilt::travelling(slope, acceleration, Facing::BunkerFirst).unwrap();
        let seen = vessel.after(reading, Regulator::Open { swell_mm: 12.0 }, Tilt::LEVEL, then).unwrap();
        let frame = Frame::of(&vessel);
        for water in [&seen.as_read, &seen.at_least, &seen.at_most] {
            let surface = Surface::of(&vessel, water);
            let wet = drawing::under(&drawing::shell(boiler), &surface);
            prop_assert!(finite(&frame.places(&wet)));
            for line in [drawing::waterline(boiler, &surface), drawing::bare(boiler, &surface)].into_iter().flatten() {
                prop_assert!(finite(&frame.places(&line)));
            }
            prop_assert!(area(&wet) <= area(&drawing::shell(boiler)) * (1.0 + 1e-9));
        }
        prop_assert!(!words::cover_line(&seen).contains("NaN") && !words::volume_line(&seen).contains("NaN"));
    }

    #[test]
    fn more_water_is_drawn_as_more(share in 0.0..0.99_f64, slope in -0.05..=0.05_f64) {
        for vessel in vessels() {
            let drawn = |share: f64| {
                let water = seen(&vessel, share * vessel.visible_mm(), slope).as_read;
                area(&drawing::under(&drawing::shell(vessel.boiler()), &Surface::of(&vessel, &water)))
            };
            prop_assert!(drawn(share + 0.01) > drawn(share));
        }
    }

    #[test]
    fn a_gauge_takes_any_number(visible in any::<f64>(), level in any::<f64>(), error in any::<f64>(), mark in any::<f64>()) {
        let gauge = Gauge::new(visible, level, error, vec![(MarkKind::Line, mark, String::new())]);
        let gauge = gauge.banded(visible, mark, level);
        prop_assert!((0.0..=1.0).contains(&gauge.fill) && gauge.band.iter().all(|at| (0.0..=1.0).contains(at)));
        prop_assert!(gauge.marks.iter().all(|mark| mark.at.is_finite() && mark.words_at.is_finite()));
    }

    #[test]
    fn a_place_of_the_road_is_on_it(share in any::<f64>().prop_filter("a number", |s| !s.is_nan())) {
        let road = road();
        let point = way::point_at(&road, Stop::Share(share)).unwrap();
        prop_assert!((0.0..=4_000.0).contains(&point.distance_m));
        prop_assert!(way::profile_at(&way::profile(&road), share).is_finite());
    }
}
