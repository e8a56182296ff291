//! Boilers to try the level arithmetic on, and a second way to their water that shares nothing with the first: slices.
#![allow(dead_code)]

use offshed_core::boiler::level::{Facing, GlassReading, Tilt};
use offshed_core::boiler::shape::{Barrel, Boiler, Bundle, Casing, Firebox, Girders, Glass, Top};
use proptest::prelude::*;

/// A middling boiler with a tapered barrel, a flat-top casing and a sloping crown.
pub(crate) fn tapered() -> Boiler {
    Boiler {
        barrel: Barrel {
            back_diameter_mm: 1_550.0,
            front_diameter_mm: 1_400.0,
            length_mm: 3_500.0,
            front_axis_rise_mm: -75.0,
        },
        casing: Casing {
            length_mm: 2_400.0,
            width_mm: 1_500.0,
            top_mm: 850.0,
            top: Top::Flat { corner_radius_mm: 250.0 },
            foundation_mm: -1_200.0,
        },
        firebox: Firebox {
            back_gap_mm: 90.0,
            length_mm: 2_150.0,
            width_mm: 1_250.0,
            crown_back_mm: 280.0,
            crown_front_mm: 330.0,
            crown: Top::Flat { corner_radius_mm: 60.0 },
        },
        tubes: Bundle { count: 180, outside_diameter_mm: 45.0, lower_mm: -600.0, upper_mm: 60.0 },
        flues: Bundle { count: 18, outside_diameter_mm: 130.0, lower_mm: 0.0, upper_mm: 260.0 },
        girders: Girders { volume_l: 60.0, height_mm: 130.0 },
        glass: Glass { position_mm: -60.0, bottom_nut_mm: 80.0, top_nut_mm: 300.0, separation_mm: 600.0 },
    }
}

/// A small boiler with a parallel barrel, a round-top casing and a level crown.
pub(crate) fn parallel() -> Boiler {
    Boiler {
        barrel: Barrel {
            back_diameter_mm: 1_200.0,
            front_diameter_mm: 1_200.0,
            length_mm: 3_000.0,
            front_axis_rise_mm: 0.0,
        },
        casing: Casing {
            length_mm: 1_500.0,
            width_mm: 1_220.0,
            top_mm: 610.0,
            top: Top::Round,
            foundation_mm: -1_000.0,
        },
        firebox: Firebox {
            back_gap_mm: 80.0,
            length_mm: 1_330.0,
            width_mm: 1_000.0,
            crown_back_mm: 200.0,
            crown_front_mm: 200.0,
            crown: Top::Flat { corner_radius_mm: 50.0 },
        },
        tubes: Bundle { count: 170, outside_diameter_mm: 44.5, lower_mm: -450.0, upper_mm: 150.0 },
        flues: Bundle::NONE,
        girders: Girders::NONE,
        glass: Glass { position_mm: -50.0, bottom_nut_mm: 78.0, top_nut_mm: 278.0, separation_mm: 500.0 },
    }
}

pub(crate) fn exact(mm: f64) -> GlassReading {
    GlassReading { mm, error_mm: 0.0 }
}

/// A chimney-first tilt without acceleration.
pub(crate) fn slope(gradient: f64) -> Tilt {
    Tilt::travelling(gradient, 0.0, Facing::ChimneyFirst).unwrap()
}

fn top(width: f64, share: f64) -> Top {
    if share > 0.9 { Top::Round } else { Top::Flat { corner_radius_mm: share * width / 2.0 } }
}

prop_compose! {
    /// Any boiler whose parts fit, miniature to large; about half the barrels taper.
    pub(crate) fn any_boiler()(
        scale in 0.2..1.6f64,
        taper in prop_oneof![Just(1.0), 0.7..1.0f64],
        rise in -40.0..40.0f64,
        barrel_length in 1_500.0..6_000.0f64,
        casing_length in 900.0..3_200.0f64,
        casing_corner in 0.1..1.0f64,
        firebox_share in 0.6..0.85f64,
        crown in 50.0..250.0f64,
        crown_slope in -60.0..60.0f64,
        crown_corner in 0.0..0.5f64,
        tubes in 0u16..140,
        girders in 0.0..40.0f64,
        glass in -120.0..80.0f64,
    ) -> Boiler {
        let s = scale;
        let width = 1_400.0 * s;
        let diameter = 1_350.0 * s;
        Boiler {
            barrel: Barrel {
                back_diameter_mm: diameter,
                front_diameter_mm: diameter * taper,
                length_mm: barrel_length * s,
                front_axis_rise_mm: rise * s,
            },
            casing: Casing {
                length_mm: casing_length * s,
                width_mm: width,
                top_mm: 760.0 * s,
                top: top(width, casing_corner),
                foundation_mm: -1_100.0 * s,
            },
            firebox: Firebox {
                back_gap_mm: 80.0 * s,
                length_mm: (casing_length - 170.0) * s,
                width_mm: width * firebox_share,
                crown_back_mm: crown * s,
                crown_front_mm: (crown + crown_slope) * s,
                crown: top(width * firebox_share, crown_corner),
            },
            tubes: Bundle {
                count: tubes,
                outside_diameter_mm: 45.0 * s,
                lower_mm: -340.0 * s,
                upper_mm: 200.0 * s,
            },
            flues: Bundle {
                count: tubes / 20,
                outside_diameter_mm: 130.0 * s,
                lower_mm: -100.0 * s,
                upper_mm: 220.0 * s,
            },
            girders: Girders { volume_l: girders * s * s * s, height_mm: 100.0 * s },
            glass: Glass {
                position_mm: glass * s,
                bottom_nut_mm: 70.0 * s,
                top_nut_mm: 300.0 * s,
                separation_mm: 600.0 * s,
            },
        }
    }
}

/// Half the width of a section with straight sides and a rounded top, at a height.
fn arch_half_width(width: f64, top_mm: f64, shape: Top, z: f64) -> f64 {
    let corner = match shape {
        Top::Round => width / 2.0,
        Top::Flat { corner_radius_mm } => corner_radius_mm,
    };
    if z >= top_mm {
        0.0
    } else if z <= top_mm - corner {
        width / 2.0
    } else {
        let up = z - (top_mm - corner);
        width / 2.0 - corner + (corner * corner - up * up).max(0.0).sqrt()
    }
}

fn tubes_width(bundle: &Bundle, z: f64) -> f64 {
    if bundle.count == 0 || z < bundle.lower_mm || z > bundle.upper_mm {
        return 0.0;
    }
    let area = f64::from(bundle.count) * std::f64::consts::PI * (bundle.outside_diameter_mm / 2.0).powi(2);
    area / (bundle.upper_mm - bundle.lower_mm)
}

/// Width of water at a place and a height, straight from what the fields mean.
fn water_width(b: &Boiler, x: f64, z: f64) -> f64 {
    let firebox_front = b.firebox.back_gap_mm + b.firebox.length_mm;
    let mut width = if x < b.casing.length_mm {
        if z < b.casing.foundation_mm {
            0.0
        } else {
            2.0 * arch_half_width(b.casing.width_mm, b.casing.top_mm, b.casing.top, z)
        }
    } else {
        let share = (x - b.casing.length_mm) / b.barrel.length_mm;
        let diameter = b.barrel.back_diameter_mm * (1.0 - share) + b.barrel.front_diameter_mm * share;
        let up = z - b.barrel.front_axis_rise_mm * share;
        2.0 * ((diameter / 2.0).powi(2) - up * up).max(0.0).sqrt()
    };
    if x > b.firebox.back_gap_mm && x < firebox_front {
        let share = (x - b.firebox.back_gap_mm) / b.firebox.length_mm;
        let crown = b.firebox.crown_back_mm * (1.0 - share) + b.firebox.crown_front_mm * share;
        if z > b.casing.foundation_mm {
            width -= 2.0 * arch_half_width(b.firebox.width_mm, crown, b.firebox.crown, z);
        }
        if b.girders.volume_l > 0.0 && z > crown && z < crown + b.girders.height_mm {
            width -= b.girders.volume_l * 1e6 / b.firebox.length_mm / b.girders.height_mm;
        }
    } else if x >= firebox_front {
        width -= tubes_width(&b.tubes, z) + tubes_width(&b.flues, z);
    }
    width
}

/// Litres under the plane of a height at the glass that falls towards the chimney by `along`, cut into small bricks.
///
/// `lengthwise` slices in each stretch between two plates, each of `upright` layers; a layer that straddles a flat
/// crown is
/// the greatest error, half of one layer's metal.
pub(crate) fn sliced_litres(b: &Boiler, at_glass_mm: f64, along: f64, lengthwise: u32, upright: u32) -> f64 {
    let bottom = b.casing.foundation_mm.min(-b.barrel.back_diameter_mm / 2.0 - 100.0);
    let highest = b.casing.top_mm.max(b.barrel.back_diameter_mm / 2.0 + 100.0);
    let firebox = [b.firebox.back_gap_mm, b.firebox.back_gap_mm + b.firebox.length_mm];
    let throat = b.casing.length_mm;
    let cuts = [0.0, firebox[0], firebox[1], throat, throat + b.barrel.length_mm];
    let mut sum = 0.0;
    for (start, end) in cuts.into_iter().zip(cuts.into_iter().skip(1)) {
        let dx = (end - start) / f64::from(lengthwise);
        for i in 0..lengthwise {
            let x = start + (f64::from(i) + 0.5) * dx;
            let plane = (at_glass_mm - along * (x - b.glass.position_mm)).min(highest);
            let dz = (plane - bottom) / f64::from(upright);
            if dz > 0.0 {
                let column: f64 = (0..upright).map(|j| water_width(b, x, bottom + (f64::from(j) + 0.5) * dz)).sum();
                sum += column * dz * dx;
            }
        }
    }
    sum / 1e6
}
