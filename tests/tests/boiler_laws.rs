//! Laws that water in any boiler obeys, whatever its shape, its fill and its lean.

mod boiler_support;

use boiler_support::{any_boiler, exact, parallel, slope, tapered};
use offshed_core::boiler::level::{Facing, Fill, GlassReading, Needed, Regulator, Tilt, Water};
use offshed_core::boiler::shape::{Bundle, Vessel};
use proptest::prelude::*;

const SHUT: Regulator = Regulator::Shut;

/// Height of the water's plane at the glass, mm above the datum.
fn plane_at_glass(vessel: &Vessel, water: &Water) -> f64 {
    vessel.bottom_nut_height_mm() + water.glass.over_bottom_nut_mm(vessel.visible_mm())
}

fn any_tilt() -> impl Strategy<Value = Tilt> {
    let sharp = (-0.25..0.25f64, -2.0..2.0f64);
    let plain = (-0.04..0.04f64, Just(0.0));
    // Almost level is where differences of near numbers could go wrong.
    let slight = (-1e-6..1e-6f64, Just(0.0));
    prop_oneof![sharp, plain, slight].prop_map(|(g, a)| Tilt::travelling(g, a, Facing::ChimneyFirst).unwrap())
}

proptest! {
    /// Whatever the tilts, going there and back conserves the volume to 1e-9, and the reading comes back.
    #[test]
    fn volume_is_conserved(boiler in any_boiler(), share in 0.0..1.0f64, now in any_tilt(), then in any_tilt()) {
        let vessel = boiler.check().unwrap();
        let reading = exact(share * vessel.visible_mm());
        let before = vessel.at_reading(reading, SHUT, now).unwrap().as_read;
        let after = vessel.after(reading, SHUT, now, then).unwrap().as_read;
        prop_assume!(after.fill == Fill::PartFull);
        // What the new plane truly holds is asked again, through the glass of a boiler that sees everything.
        let mut open = boiler;
        open.glass.bottom_nut_mm = -500.0;
        open.glass.top_nut_mm = 2_000.0;
        let open = open.check().unwrap();
        let at = exact(plane_at_glass(&vessel, &after) - open.bottom_nut_height_mm());
        if !(0.0..=open.visible_mm()).contains(&at.mm) {
            // Some twentieth of the cases lean the water beyond even that glass.
            return Ok(());
        }
        let held = open.at_reading(at, SHUT, then).unwrap().as_read.volume_l;
        prop_assert!((held / before.volume_l - 1.0).abs() < 1e-9, "{} {}", held, before.volume_l);
        let back = open.after(at, SHUT, then, now).unwrap().as_read;
        let shown = open.bottom_nut_height_mm() + back.glass.over_bottom_nut_mm(open.visible_mm());
        prop_assert!((shown - vessel.bottom_nut_height_mm() - reading.mm).abs() < 1e-4);
    }

    /// More water stands higher everywhere, at any tilt.
    #[test]
    fn more_water_covers_more(
        boiler in any_boiler(),
        share in 0.0..0.99f64,
        more in 1e-4..0.01f64,
        tilt in any_tilt(),
    ) {
        let vessel = boiler.check().unwrap();
        let at = |share: f64| vessel.at_volume(share * vessel.capacity_l(), tilt).unwrap();
        let (less, more) = (at(share), at(share + more));
        prop_assert!(more.cover.front_mm > less.cover.front_mm && more.cover.back_mm > less.cover.back_mm);
        prop_assert!(more.litres_per_mm >= 0.0 && less.litres_per_mm >= 0.0);
    }

    /// The steeper the chimney's end rises, the less over the front edge and the more over the back.
    ///
    /// Within a moderate level: where the surface lies between both edges as it does in a working boiler.
    #[test]
    fn tilt_moves_the_edges_apart(share in 0.2..1.0f64, tilt in -0.04..0.04f64, more in 1e-4..0.01f64) {
        let vessel = parallel().check().unwrap();
        let at = |gradient| {
            let reading = exact(share * vessel.visible_mm());
            vessel.after(reading, SHUT, Tilt::LEVEL, slope(gradient)).unwrap().as_read.cover
        };
        let (flat, steep) = (at(tilt), at(tilt + more));
        prop_assert!(steep.back_mm > flat.back_mm);
        prop_assert!(steep.back_mm - steep.front_mm > flat.back_mm - flat.front_mm);
    }

    /// A mirror: facing the other way up the other gradient, with the other acceleration, is the same state.
    #[test]
    fn facing_mirrors(gradient in -0.2..0.2f64, acceleration in -2.0..2.0f64) {
        let tilt = |g, a, f| Tilt::travelling(g, a, f).unwrap();
        prop_assert_eq!(
            tilt(gradient, acceleration, Facing::ChimneyFirst),
            tilt(-gradient, -acceleration, Facing::BunkerFirst)
        );
    }

    /// A tank that is its own mirror image front to back keeps the level at its middle, and mirrored tilts mirror its
    /// covers.
    #[test]
    fn a_symmetric_tank_is_symmetric(gradient in 0.0..0.1f64, share in 0.1..1.0f64) {
        let mut boiler = parallel();
        boiler.barrel.back_diameter_mm = 100.0;
        boiler.barrel.front_diameter_mm = 100.0;
        boiler.barrel.length_mm = 50.0;
        boiler.tubes = Bundle::NONE;
        boiler.firebox.back_gap_mm = 85.0;
        boiler.firebox.length_mm = 1_330.0;
        let vessel = boiler.check().unwrap();
        let at = |gradient| {
            let reading = exact(share * vessel.visible_mm());
            vessel.after(reading, SHUT, Tilt::LEVEL, slope(gradient)).unwrap().as_read.cover
        };
        let (up, down) = (at(gradient), at(-gradient));
        prop_assert!((up.front_mm - down.back_mm).abs() < 1e-6);
        prop_assert!((up.back_mm - down.front_mm).abs() < 1e-6);
    }

    /// Litres per millimetre are the slope of volume over reading.
    #[test]
    fn litres_per_mm_is_a_slope(boiler in any_boiler(), share in 0.01..0.99f64, tilt in any_tilt()) {
        let vessel = boiler.check().unwrap();
        let litres = |mm: f64| vessel.at_reading(exact(mm), SHUT, tilt).unwrap().as_read;
        let mm = share * vessel.visible_mm();
        let step = 1e-3;
        let (low, here, high) = (litres(mm - step), litres(mm), litres(mm + step));
        prop_assume!(here.fill == Fill::PartFull);
        let slope = (high.volume_l - low.volume_l) / (2.0 * step);
        // Where the surface meets a flat crown the slope jumps; it then lies between the values on both sides.
        let areas = [low.litres_per_mm, here.litres_per_mm, high.litres_per_mm];
        let (least, most) = areas.iter().fold((f64::MAX, 0.0f64), |(l, m), a| (l.min(*a), m.max(*a)));
        let noise = 1e-9 * vessel.capacity_l() / step;
        prop_assert!(least - noise <= slope && slope <= most + noise, "{} {:?}", slope, areas);
    }

    /// The reading asked for a cover gives that cover.
    #[test]
    fn the_inverse_is_an_inverse(
        boiler in any_boiler(),
        cover in 0.0..150.0f64,
        now in any_tilt(),
        then in any_tilt(),
    ) {
        let vessel = boiler.check().unwrap();
        let swell = Regulator::Open { swell_mm: 10.0 };
        let needed = vessel.reading_for_cover(cover, then, now, swell).unwrap();
        if let Needed::Reading { mm } = needed {
            let seen = vessel.after(exact(mm), swell, now, then).unwrap().as_read;
            if seen.fill == Fill::PartFull {
                prop_assert!((seen.cover.least_mm - cover).abs() < 1e-3, "{:?}", seen);
            }
        } else {
            prop_assert!(!needed.words().is_empty());
        }
    }

    /// No number, however odd, panics or gives an answer that is not a number.
    #[test]
    fn always_a_number_or_an_error(
        values in prop::array::uniform5(any::<f64>()),
        litres in 0.0..30_000.0f64,
        tilt in any_tilt(),
    ) {
        let [a, b, c, d, e] = values;
        let mut boiler = tapered();
        (boiler.barrel.front_diameter_mm, boiler.glass.position_mm, boiler.casing.top_mm) = (a, b, c);
        let _ = boiler.check();
        let vessel = tapered().check().unwrap();
        let water = vessel.at_volume(litres, tilt).unwrap();
        let cover = water.cover;
        let all = [cover.front_mm, cover.back_mm, cover.least_mm, cover.place_mm, water.litres_per_mm, water.volume_l];
        prop_assert!(all.into_iter().all(f64::is_finite), "{:?}", water);
        let odd = Tilt::travelling(d, e, Facing::BunkerFirst).unwrap_or(tilt);
        let seen = vessel.after(GlassReading { mm: a, error_mm: b }, Regulator::Open { swell_mm: c }, odd, tilt);
        prop_assert!(seen.map_or(true, |s| s.as_read.cover.least_mm.is_finite()));
    }
}
