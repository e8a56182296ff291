//! Water level arithmetic against published tables, closed forms, an independent integrator and laws of nature.

mod boiler_support;

use boiler_support::{any_boiler, exact, parallel, sliced_litres, slope, tapered};
use offshed_core::boiler::level::{
    Crown, Edge, Facing, Fill, GRAVITY, GlassReading, InGlass, Regulator, Tilt, Verdict, Water,
};
use offshed_core::boiler::shape::{BadBoiler, Boiler, Bundle, Girders, LowestReading, Top, Vessel, segment_area};
use proptest::prelude::*;

const SHUT: Regulator = Regulator::Shut;

/// Height of the water's plane at the glass, mm above the datum.
fn plane_at_glass(vessel: &Vessel, water: &Water) -> f64 {
    vessel.bottom_nut_height_mm() + water.glass.over_bottom_nut_mm(vessel.visible_mm())
}

// ---- segments and partial volumes ----

/// CodeCogs Engineering Mathematics Library, `circle.h`, area of a segment: table for r = 2.5.
#[test]
fn segments_are_the_printed_ones() {
    let table = [
        (0.5, 1.022),
        (1.0, 2.796),
        (1.5, 4.954),
        (2.0, 7.334),
        (2.5, 9.817),
        (3.0, 12.301),
        (3.5, 14.681),
        (4.0, 16.839),
        (4.5, 18.613),
        (5.0, 19.635),
    ];
    for (depth, area) in table {
        let got = segment_area(2.5, depth).unwrap();
        assert_eq!(format!("{got:.3}"), format!("{area:.3}"), "depth {depth}");
    }
    // The worked example of the "keisoku" surveying calculator: r = 10, h = 4 gives 44.729522.
    assert_eq!(format!("{:.6}", segment_area(10.0, 4.0).unwrap()), "44.729522");
}

/// Handbook tables of circular segments for unit diameter (area over diameter squared; from memory).
#[test]
fn segments_are_the_handbooks() {
    let table = [(0.1, 0.040_875), (0.2, 0.111_824), (0.25, 0.153_546), (0.4, 0.293_370)];
    for (depth, share) in table {
        let got = segment_area(0.5, depth).unwrap();
        assert!((got - share).abs() < 5.1e-7, "depth {depth}: {got}");
    }
}

/// A bare parallel barrel's water under level glass: what a longer barrel holds more than a shorter one, l.
fn cylinder_litres(diameter: f64, length: f64, depth: f64) -> f64 {
    let mut boiler = parallel();
    boiler.tubes = Bundle::NONE;
    boiler.casing.width_mm = 3_000.0;
    boiler.casing.top_mm = 1_500.0;
    boiler.barrel.back_diameter_mm = diameter;
    boiler.barrel.front_diameter_mm = diameter;
    // The crown is put so low that the glass covers the barrel.
    boiler.firebox.crown_back_mm = -900.0;
    boiler.firebox.crown_front_mm = -900.0;
    boiler.glass.bottom_nut_mm = 0.0;
    boiler.glass.top_nut_mm = 1_900.0;
    let reading = exact(depth - diameter / 2.0 + 900.0);
    let litres = |length| {
        boiler.barrel.length_mm = length;
        let vessel = boiler.check().unwrap();
        vessel.at_reading(reading, SHUT, Tilt::LEVEL).unwrap().as_read.volume_l
    };
    let mut litres = litres;
    litres(1_000.0 + length) - litres(1_000.0)
}

/// Tank Volume Calculator, fraction table of horizontal cylinders: share of the volume in per cent by depth in per
/// cent.
#[test]
fn partial_volumes_are_the_tank_tables() {
    let table = [
        (5.0, 1.9),
        (10.0, 5.2),
        (15.0, 9.4),
        (20.0, 14.2),
        (25.0, 19.6),
        (30.0, 25.2),
        (35.0, 31.2),
        (40.0, 37.4),
        (45.0, 43.6),
    ];
    let full = cylinder_litres(1_200.0, 2_000.0, 1_200.0);
    for (depth, share) in table {
        let got = 100.0 * cylinder_litres(1_200.0, 2_000.0, 12.0 * depth) / full;
        assert!((got - share).abs() <= 0.051, "{depth} %: {got}");
    }
}

/// The same table's worked example: 48 in by 96 in holds 752 US gallons, and at 19.2 in 280.9.
#[test]
fn partial_volume_is_the_worked_example() {
    let gallons = |depth_in: f64| cylinder_litres(48.0 * 25.4, 96.0 * 25.4, depth_in * 25.4) / 3.785_411_784;
    assert!((gallons(48.0) - 752.0).abs() < 0.5, "{}", gallons(48.0));
    assert!((gallons(19.2) - 280.9).abs() < 0.1, "{}", gallons(19.2));
}

/// Sinclair, Locomotive Engine Running and Management (1885): 6 in of glass is about 200 gallons.
///
/// A boiler of that day's size, 4 ft in the barrel and 15 ft over all, comes to that within a fifth, in US gallons.
#[test]
fn a_glass_holds_what_the_handbook_says() {
    let vessel = parallel().check().unwrap();
    let litres = |mm| vessel.at_reading(exact(mm), SHUT, Tilt::LEVEL).unwrap().as_read.volume_l;
    let gallons = (litres(12.7 + 152.4) - litres(12.7)) / 3.785_411_784;
    assert!((gallons / 200.0 - 1.0).abs() < 0.2, "{gallons}");
}

// ---- tilt ----

/// A rectangular tank: the free surface keeps its height at the centroid, so the reading moves by tilt times distance.
///
/// The casing is square-cornered and rises over everything else, so its plan is the whole free surface.
#[test]
fn a_rectangular_tank_pivots_at_its_centroid() {
    let mut boiler = parallel();
    boiler.barrel.back_diameter_mm = 100.0;
    boiler.barrel.front_diameter_mm = 100.0;
    boiler.barrel.length_mm = 50.0;
    boiler.tubes = Bundle::NONE;
    boiler.casing.top = Top::Flat { corner_radius_mm: 0.0 };
    boiler.casing.top_mm = 1_500.0;
    let vessel = boiler.check().unwrap();
    let length = boiler.casing.length_mm;
    for gradient in [-0.1, -1.0 / 60.0, 1e-9, 0.004, 1.0 / 40.0, 0.1] {
        let seen = vessel.after(exact(120.0), SHUT, Tilt::LEVEL, slope(gradient)).unwrap();
        let want = 120.0 + gradient * (length / 2.0 - boiler.glass.position_mm);
        let got = seen.as_read.glass.over_bottom_nut_mm(vessel.visible_mm());
        assert!((got - want).abs() < 1e-6, "{gradient}: {got} {want}");
        // Litres in a millimetre are the plan's area.
        let area = length * boiler.casing.width_mm / 1e6;
        assert!((seen.as_read.litres_per_mm / area - 1.0).abs() < 1e-9);
    }
}

/// Between two places 3.0 m apart a gradient of 1 in N shifts the level by 3.0 m / N: 100, 75, 60, 40, 30 and 15 mm.
#[test]
fn tilt_is_plain_trigonometry() {
    let mut boiler = parallel();
    boiler.casing.length_mm = 3_200.0;
    boiler.firebox.length_mm = 3_000.0;
    let vessel = boiler.check().unwrap();
    for (n, mm) in [(30.0, 100.0), (40.0, 75.0), (50.0, 60.0), (75.0, 40.0), (100.0, 30.0), (200.0, 15.0)] {
        let seen = vessel.at_reading(exact(150.0), SHUT, slope(1.0 / n)).unwrap();
        let cover = seen.as_read.cover;
        assert!((cover.back_mm - cover.front_mm - mm).abs() < 1e-9, "1 in {n}: {cover:?}");
    }
}

/// Standard gravity (ISO 80000-3): 0.3 m/s² leans the water like 1 in 32.7, 0.1 m/s² like 1 in 98.1.
#[test]
fn acceleration_leans_like_a_gradient() {
    for (acceleration, n) in [(0.3, "32.7"), (0.1, "98.1")] {
        let tilt = Tilt::travelling(0.0, acceleration, Facing::ChimneyFirst).unwrap();
        assert_eq!(format!("{:.1}", 1.0 / tilt.along()), n);
    }
    assert_eq!(GRAVITY, 9.806_65);
}

/// Common practice, no source: braking bunker-first is positive, climbing bunker-first is chimney downhill.
#[test]
fn facing_turns_the_sign() {
    let along = |gradient, acceleration, facing| Tilt::travelling(gradient, acceleration, facing).unwrap().along();
    assert!(along(0.02, 0.0, Facing::ChimneyFirst) > 0.0);
    assert!(along(0.02, 0.0, Facing::BunkerFirst) < 0.0);
    assert!(along(0.0, -0.5, Facing::BunkerFirst) > 0.0);
    assert!(along(0.0, -0.5, Facing::ChimneyFirst) < 0.0);
}

/// Common practice, no source: chimney up flatters the glass and bares the front; chimney down the other way about.
#[test]
fn each_tilt_has_its_edge() {
    let vessel = tapered().check().unwrap();
    let level = vessel.at_reading(exact(100.0), SHUT, Tilt::LEVEL).unwrap().as_read;
    let after = |gradient| {
        let seen = vessel.after(exact(100.0), SHUT, Tilt::LEVEL, slope(gradient));
        seen.unwrap().as_read
    };
    let shown = |water: &Water| water.glass.over_bottom_nut_mm(vessel.visible_mm());
    let (up, down) = (after(1.0 / 40.0), after(-1.0 / 40.0));
    assert!(shown(&up) > 100.0 && up.cover.edge == Edge::Front && up.cover.least_mm < level.cover.back_mm);
    assert!(shown(&down) < 100.0 && down.cover.edge == Edge::Back);
    assert_eq!(up.cover.place_mm, 2_240.0);
    assert_eq!(down.cover.place_mm, 90.0);
}

/// Track cant 1 in 50 across 600 mm separates two glasses by 12 mm (common practice, no source).
#[test]
fn cant_separates_the_glasses_and_leans_over_the_crown() {
    let vessel = tapered().check().unwrap();
    let canted = Tilt::LEVEL.canted(-0.02).unwrap();
    let plain = vessel.at_reading(exact(100.0), SHUT, Tilt::LEVEL).unwrap().as_read;
    let leaning = vessel.at_reading(exact(100.0), SHUT, canted).unwrap().as_read;
    assert!((leaning.glasses_differ_mm - 12.0).abs() < 1e-12);
    let lost = plain.cover.least_mm - leaning.cover.least_mm;
    // The crown is 1 250 mm wide with 60 mm corners: flat to 565 mm either side, and a touch more round the corner.
    let touch = (0..=9_000).map(|step| f64::from(step) * 1e-4).map(|a: f64| {
        let (aside, down) = (565.0 + 60.0 * a.sin(), 60.0 * (1.0 - a.cos()));
        0.02 * aside - down
    });
    let want = touch.fold(0.0, f64::max);
    assert!((lost - want).abs() < 1e-6, "{lost} {want}");
}

// ---- independent integration ----

/// 1,000 random boilers, fills and tilts: the plane found holds the volume asked for, by slices that share no code.
///
/// Bound: 0.1 % of the boiler's capacity, with 30 slices in each of four stretches, each of 1,000 layers.
#[test]
fn slices_agree_on_a_thousand_boilers() {
    let runs = (any_boiler(), 0.001..0.999f64, -0.5..0.5f64);
    let config = ProptestConfig::with_cases(1_000);
    proptest!(config, |((boiler, share, tilt) in runs)| {
        let vessel = boiler.check().unwrap();
        let tilt = Tilt::travelling(tilt / 2.0, tilt * 4.0, Facing::ChimneyFirst).unwrap();
        let litres = share * vessel.capacity_l();
        let water = vessel.at_volume(litres, tilt).unwrap();
        let sliced = sliced_litres(&boiler, plane_at_glass(&vessel, &water), tilt.along(), 30, 1_000);
        let off = (sliced - litres).abs() / vessel.capacity_l();
        prop_assert!(off < 1e-3, "off by {off}");
    });
}

/// Fewer boilers in finer slices: 0.01 % of the capacity with 100 slices each, of 6,000 layers.
#[test]
fn finer_slices_agree_closer() {
    for boiler in [tapered(), parallel()] {
        let vessel = boiler.check().unwrap();
        for (share, gradient) in [(0.7, 0.0), (0.75, 0.02), (0.8, -0.05), (0.35, 0.2), (0.97, 0.1)] {
            let litres = share * vessel.capacity_l();
            let water = vessel.at_volume(litres, slope(gradient)).unwrap();
            let sliced = sliced_litres(&boiler, plane_at_glass(&vessel, &water), gradient, 100, 6_000);
            let off = (sliced - litres).abs() / vessel.capacity_l();
            assert!(off < 1e-4, "{share} {gradient}: {off}");
        }
    }
}

/// A parallel barrel is integrated in closed form and a tapered one by a rule: a taper of a micrometre must not show.
#[test]
fn closed_form_and_rule_agree() {
    let straight = parallel();
    let mut other = straight;
    other.barrel.front_diameter_mm -= 1e-6;
    let (a, b) = (straight.check().unwrap(), other.check().unwrap());
    for step in -40..=40 {
        for reading in [0.0, 100.0, 200.0] {
            let tilt = slope(f64::from(step) / 200.0);
            let litres = |v: &Vessel| v.at_reading(exact(reading), SHUT, tilt).unwrap().as_read.volume_l;
            assert!((litres(&a) / litres(&b) - 1.0).abs() < 1e-8, "{step} {reading}");
        }
    }
}

// ---- states with words ----

#[test]
fn states_are_values_with_words() {
    let vessel = parallel().check().unwrap();
    let at = |litres: f64, tilt| vessel.at_volume(litres, tilt).unwrap();
    let full = vessel.capacity_l();
    let over = at(full + 10.0, slope(0.02));
    assert!(matches!(over.fill, Fill::BrimFull { excess_l } if (excess_l - 10.0).abs() < 1e-6), "{over:?}");
    assert_eq!(over.fill.words(), "boiler brim-full");
    assert_eq!(over.glass.words(), "out of glass above");
    assert_eq!(over.crown, Crown::Covered);
    let dry = at(0.0, slope(0.02));
    assert_eq!((dry.fill, dry.fill.words()), (Fill::Dry, "boiler dry"));
    assert_eq!((dry.crown, dry.crown.words()), (Crown::Bare, "crown bare"));
    assert_eq!(dry.glass.words(), "out of glass below");
    let high = at(full * 0.99, Tilt::LEVEL);
    assert!(matches!(high.glass, InGlass::OutAbove { by_mm } if by_mm > 0.0));
    let low = at(full * 0.3, Tilt::LEVEL);
    assert!(matches!(low.glass, InGlass::OutBelow { by_mm } if by_mm > 0.0));
    assert_eq!(low.crown, Crown::Bare);
    let steep = vessel.after(exact(20.0), SHUT, Tilt::LEVEL, slope(-0.1)).unwrap().as_read;
    assert!(matches!(steep.glass, InGlass::OutBelow { .. }));
    assert_eq!(steep.fill.words(), "part full");
}

/// The swell of an open regulator is taken off the reading.
#[test]
fn swell_is_subtracted() {
    let vessel = tapered().check().unwrap();
    let open = Regulator::Open { swell_mm: 25.0 };
    let open = vessel.at_reading(exact(125.0), open, Tilt::LEVEL).unwrap();
    let shut = vessel.at_reading(exact(100.0), SHUT, Tilt::LEVEL).unwrap();
    assert!((open.as_read.cover.least_mm - shut.as_read.cover.least_mm).abs() < 1e-6);
    let deep = Regulator::Open { swell_mm: 30.0 };
    let gone = vessel.at_reading(exact(10.0), deep, Tilt::LEVEL).unwrap().as_read;
    assert!(matches!(gone.glass, InGlass::OutBelow { by_mm } if (by_mm - 20.0).abs() < 1e-6), "{gone:?}");
}

/// At the tilt of the reading an error of 3 mm is 3 mm of cover; elsewhere it goes through the volume.
#[test]
fn the_error_of_reading_is_carried() {
    let vessel = tapered().check().unwrap();
    let reading = GlassReading { mm: 100.0, error_mm: 3.0 };
    let here = vessel.at_reading(reading, SHUT, Tilt::LEVEL).unwrap();
    assert!((here.cover_error_mm() - 3.0).abs() < 1e-6);
    assert!((here.volume_error_l() - 3.0 * here.as_read.litres_per_mm).abs() < 1.0);
    let there = vessel.after(reading, SHUT, Tilt::LEVEL, slope(0.03)).unwrap();
    let want = 3.0 * here.as_read.litres_per_mm / there.as_read.litres_per_mm;
    assert!((there.cover_error_mm() - want).abs() < 0.05, "{} {want}", there.cover_error_mm());
    let least = here.as_read.cover.least_mm;
    let verdicts = [-5.0, -1.0, 1.0, 5.0].map(|more| here.verdict(least + more));
    let want = [Verdict::Enough, Verdict::EnoughUnlessMisread, Verdict::ShortUnlessMisread, Verdict::Short];
    assert_eq!(verdicts, want);
    assert_eq!(verdicts.map(Verdict::error_could_change), [false, true, true, false]);
}

/// Hot water fills more: a third of a glass cold is out of sight hot, and mass is what stays.
#[test]
fn cold_and_hot_levels_compare_as_mass() {
    let vessel = tapered().check().unwrap();
    let cold = vessel.mass_kg(exact(60.0), Tilt::LEVEL, 20.0).unwrap();
    let hot = vessel.at_temperature(exact(60.0), Tilt::LEVEL, 20.0, 184.0).unwrap().as_read;
    let before = vessel.at_reading(exact(60.0), SHUT, Tilt::LEVEL).unwrap().as_read;
    assert_eq!(format!("{:.2}", hot.volume_l / before.volume_l), "1.13");
    // The reference library weighs the hot water the same.
    let density = seuif97::tx(184.0, 0.0, seuif97::OD);
    assert!((hot.volume_l / 1e3 * density / cold - 1.0).abs() < 2e-4);
    assert!(hot.cover.least_mm > before.cover.least_mm + 50.0);
}

// ---- 49 CFR 230.51 (2015 edition) ----

/// "The lowest reading of the water glasses shall not be less than 3 inches above the highest part of the crown sheet."
#[test]
fn three_inches_over_the_crown() {
    let rule = |bottom_nut_mm| {
        let mut boiler = tapered();
        boiler.glass.bottom_nut_mm = bottom_nut_mm;
        boiler.check().unwrap().lowest_reading()
    };
    assert_eq!(rule(76.2), LowestReading::HighEnough { spare_mm: 0.0 });
    assert!(matches!(rule(76.1), LowestReading::TooLow { short_mm } if (short_mm - 0.1).abs() < 1e-9));
    // The crown slopes up to the front by 50 mm; its highest part counts, not its back edge under the glass.
    let vessel = tapered().check().unwrap();
    assert_eq!(vessel.bottom_nut_height_mm(), 330.0 + 80.0);
}

// ---- bad boilers and bad readings ----

/// Each spoilt field is the one the error names.
#[test]
fn bad_boilers_name_the_field() {
    type Spoil = fn(&mut Boiler);
    let cases: [(&str, Spoil); 24] = [
        ("barrel.back_diameter_mm", |b| b.barrel.back_diameter_mm = f64::NAN),
        ("barrel.front_diameter_mm", |b| b.barrel.front_diameter_mm = 0.0),
        ("barrel.length_mm", |b| b.barrel.length_mm = f64::INFINITY),
        ("barrel.front_axis_rise_mm", |b| b.barrel.front_axis_rise_mm = 2e3),
        ("casing.length_mm", |b| b.casing.length_mm = 2.4),
        ("casing.width_mm", |b| b.casing.width_mm = -1.0),
        ("casing.top_mm", |b| b.casing.top_mm = f64::NAN),
        ("casing.foundation_mm", |b| b.casing.foundation_mm = 700.0),
        ("casing.top.corner_radius_mm", |b| {
            b.casing.top = Top::Flat { corner_radius_mm: 751.0 };
        }),
        ("firebox.back_gap_mm", |b| b.firebox.back_gap_mm = 0.0),
        ("firebox.length_mm", |b| b.firebox.length_mm = 2_400.0),
        ("firebox.width_mm", |b| b.firebox.width_mm = 1_500.0),
        ("firebox.crown_back_mm", |b| b.firebox.crown_back_mm = 900.0),
        ("firebox.crown_front_mm", |b| b.firebox.crown_front_mm = 840.0),
        ("firebox.crown.corner_radius_mm", |b| {
            b.firebox.crown = Top::Flat { corner_radius_mm: -1.0 };
        }),
        ("tubes.count", |b| b.tubes.count = 900),
        ("tubes.outside_diameter_mm", |b| b.tubes.outside_diameter_mm = 0.45),
        ("tubes.upper_mm", |b| b.tubes.upper_mm = -600.0),
        ("flues.lower_mm", |b| b.flues.lower_mm = f64::NEG_INFINITY),
        ("girders.volume_l", |b| b.girders.volume_l = 900.0),
        ("girders.height_mm", |b| b.girders.height_mm = 0.0),
        ("glass.position_mm", |b| b.glass.position_mm = 1e6),
        ("glass.top_nut_mm", |b| b.glass.top_nut_mm = 70.0),
        ("glass.separation_mm", |b| b.glass.separation_mm = f64::NAN),
    ];
    for (field, spoil) in cases {
        let mut boiler = tapered();
        spoil(&mut boiler);
        let bad = boiler.check().expect_err(field);
        assert_eq!(bad.field(), field, "{bad}");
        assert!(bad.to_string().contains(field));
    }
    let mut boiler = tapered();
    boiler.tubes.upper_mm = 800.0;
    let bad = boiler.check().unwrap_err();
    assert!(matches!(bad, BadBoiler::DoesNotFit { field: "tubes.count", .. }), "{bad}");
    // Tubes that only one end of the barrel has room for fail at that end, whichever it is.
    for (back, front) in [(1_000.0, 1_550.0), (1_550.0, 1_000.0)] {
        let mut boiler = tapered();
        (boiler.barrel.back_diameter_mm, boiler.barrel.front_diameter_mm) = (back, front);
        boiler.barrel.front_axis_rise_mm = 0.0;
        boiler.flues = Bundle::NONE;
        let bad = boiler.check().unwrap_err();
        assert_eq!(bad.field(), "tubes.count", "{back} {front}");
    }
    boiler.tubes = Bundle::NONE;
    boiler.girders = Girders::NONE;
    boiler.check().unwrap();
}

#[test]
fn bad_questions_name_the_field() {
    let vessel = tapered().check().unwrap();
    let read = |mm, error_mm| vessel.at_reading(GlassReading { mm, error_mm }, SHUT, Tilt::LEVEL);
    let outside = read(221.0, 0.0).unwrap_err();
    assert_eq!((outside.field, outside.low, outside.high), ("reading.mm", 0.0, 220.0));
    assert_eq!(read(-0.1, 0.0).unwrap_err().field, "reading.mm");
    assert_eq!(read(f64::NAN, 0.0).unwrap_err().field, "reading.mm");
    assert_eq!(read(50.0, -1.0).unwrap_err().field, "reading.error_mm");
    let swell = Regulator::Open { swell_mm: -3.0 };
    assert_eq!(vessel.at_reading(exact(50.0), swell, Tilt::LEVEL).unwrap_err().field, "swell_mm");
    assert_eq!(vessel.at_volume(f64::NAN, Tilt::LEVEL).unwrap_err().field, "volume_l");
    let travelling = |g, a| Tilt::travelling(g, a, Facing::ChimneyFirst).unwrap_err().field;
    assert_eq!(travelling(80.0, 0.0), "gradient");
    assert_eq!(travelling(0.0, f64::NAN), "acceleration_m_s2");
    assert_eq!(Tilt::LEVEL.canted(2.0).unwrap_err().field, "cant");
    let cover = vessel.reading_for_cover(f64::INFINITY, Tilt::LEVEL, Tilt::LEVEL, SHUT);
    assert_eq!(cover.unwrap_err().field, "cover_mm");
    let cold = vessel.at_temperature(exact(50.0), Tilt::LEVEL, 20.0, 400.0);
    assert_eq!(cold.unwrap_err().field, "temperature_c");
}
