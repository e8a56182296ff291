//! The boiler from the side, cut along its middle: millimetres of the register's measures made into places of a box.
//! Only drawing stands here; how high the water stands is the core's to say. Every place is a finite number.

use offshed_core::boiler::level::Water;
use offshed_core::boiler::shape::{Boiler, Bundle, Vessel};

/// Room round the drawing, as a share of its greater side.
const MARGIN: f64 = 0.02;
/// Lines that stand for the rows of small tubes, and of flues.
const ROWS: [u16; 2] = [4, 2];
/// Half the width of a nut of the glass as it is drawn, mm.
const NUT_MM: f64 = 35.0;

/// A place: distance from the back plate towards the chimney and height over the barrel's axis, mm; in a box, shares of
/// its width from the left and of its height from the top.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Along.
    pub x: f64,
    /// Up in millimetres, down in a box.
    pub y: f64,
}

/// A place.
pub fn spot(x: f64, y: f64) -> Spot {
    Spot { x, y }
}

/// The free surface in the middle of the boiler.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    glass: Spot,
    falls: f64,
}

impl Surface {
    /// As the core found it: the level at the glass, and how the water leans.
    pub fn of(vessel: &Vessel, water: &Water) -> Surface {
        let over_nut = water.glass.over_bottom_nut_mm(vessel.visible_mm());
        let glass = spot(vessel.boiler().glass.position_mm, vessel.bottom_nut_height_mm() + over_nut);
        Surface { glass, falls: water.tilt.along() }
    }

    /// Its height at a distance from the back plate, mm.
    pub fn at(&self, x: f64) -> f64 {
        self.glass.y - self.falls * (x - self.glass.x)
    }

    /// How far a place lies under it, mm.
    fn depth(&self, place: Spot) -> f64 {
        self.at(place.x) - place.y
    }
}

/// The water's outside: casing and barrel, from the foundation ring round.
pub fn shell(boiler: &Boiler) -> Vec<Spot> {
    let (casing, barrel) = (&boiler.casing, &boiler.barrel);
    let (throat, front) = (casing.length_mm, casing.length_mm + barrel.length_mm);
    let (back, ahead, rise) =
        (barrel.back_diameter_mm / 2.0, barrel.front_diameter_mm / 2.0, barrel.front_axis_rise_mm);
    vec![
        spot(0.0, casing.foundation_mm),
        spot(0.0, casing.top_mm),
        spot(throat, casing.top_mm),
        spot(throat, back),
        spot(front, rise + ahead),
        spot(front, rise - ahead),
        spot(throat, -back),
        spot(throat, casing.foundation_mm),
    ]
}

/// The crown's edges, back then front.
pub fn crown(boiler: &Boiler) -> [Spot; 2] {
    let firebox = &boiler.firebox;
    let front = firebox.back_gap_mm + firebox.length_mm;
    [spot(firebox.back_gap_mm, firebox.crown_back_mm), spot(front, firebox.crown_front_mm)]
}

/// The inner firebox.
pub fn firebox(boiler: &Boiler) -> Vec<Spot> {
    let [back, front] = crown(boiler);
    let ring = boiler.casing.foundation_mm;
    vec![spot(back.x, ring), back, front, spot(front.x, ring)]
}

/// The part of an outline that lies under the surface; empty where none does.
pub fn under(outline: &[Spot], surface: &Surface) -> Vec<Spot> {
    let mut kept = Vec::new();
    let ends = outline.iter().zip(outline.iter().cycle().skip(1));
    for (&from, &to) in ends {
        let (here, there) = (surface.depth(from), surface.depth(to));
        if here >= 0.0 {
            kept.push(from);
        }
        if (here >= 0.0) != (there >= 0.0) {
            kept.push(between(from, to, here / (here - there)));
        }
    }
    kept
}

fn between(from: Spot, to: Spot, share: f64) -> Spot {
    spot(from.x + share * (to.x - from.x), from.y + share * (to.y - from.y))
}

/// Where the surface meets the shell, from back to front: along it the water shows its level. Nothing where the boiler
/// is brim-full or dry.
pub fn waterline(boiler: &Boiler, surface: &Surface) -> Option<[Spot; 2]> {
    let wet = under(&shell(boiler), surface);
    let on_it = |place: &&Spot| surface.depth(**place).abs() < 1e-6;
    let back = wet.iter().filter(on_it).copied().reduce(|a, b| if b.x < a.x { b } else { a })?;
    let front = wet.iter().filter(on_it).copied().reduce(|a, b| if b.x > a.x { b } else { a })?;
    (front.x > back.x).then_some([back, front])
}

/// The part of the crown that stands out of the water.
pub fn bare(boiler: &Boiler, surface: &Surface) -> Option<[Spot; 2]> {
    let [back, front] = crown(boiler);
    let (behind, ahead) = (surface.depth(back), surface.depth(front));
    match (behind > 0.0, ahead > 0.0) {
        (true, true) => None,
        (false, false) => Some([back, front]),
        (true, false) => Some([between(back, front, behind / (behind - ahead)), front]),
        (false, true) => Some([back, between(back, front, behind / (behind - ahead))]),
    }
}

/// Lines that stand for the tubes.
pub fn tubes(boiler: &Boiler) -> Vec<[Spot; 2]> {
    let [_, front] = crown(boiler);
    let end = boiler.casing.length_mm + boiler.barrel.length_mm;
    let rows = |(bundle, most): (&Bundle, u16)| {
        let lines = bundle.count.min(most);
        let (low, high) = (bundle.lower_mm, bundle.upper_mm);
        let half = bundle.outside_diameter_mm / 2.0;
        let line = move |n: u16| {
            let share = if lines < 2 { 0.5 } else { f64::from(n) / f64::from(lines - 1) };
            let height = low + half + share * (high - low - 2.0 * half);
            [spot(front.x, height), spot(end, height)]
        };
        (0..lines).map(line).collect::<Vec<_>>()
    };
    [&boiler.tubes, &boiler.flues].into_iter().zip(ROWS).flat_map(rows).collect()
}

/// Where fusible plugs are drawn on the crown. Their places are not measured: one near each end.
pub fn plugs(boiler: &Boiler) -> [Spot; 2] {
    let [back, front] = crown(boiler);
    [between(back, front, 0.2), between(back, front, 0.8)]
}

/// The glass: its bottom nut, then its top nut.
pub fn nuts(vessel: &Vessel) -> [Spot; 2] {
    let (x, low) = (vessel.boiler().glass.position_mm, vessel.bottom_nut_height_mm());
    [spot(x, low), spot(x, low + vessel.visible_mm())]
}

/// The glass as it is drawn: its tube, then its nuts.
pub fn glass(vessel: &Vessel) -> [[Spot; 2]; 3] {
    let [low, high] = nuts(vessel);
    let across = |nut: Spot| [spot(nut.x - NUT_MM, nut.y), spot(nut.x + NUT_MM, nut.y)];
    [[low, high], across(low), across(high)]
}

/// The box round a drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
}

impl Frame {
    /// Round the whole boiler with its glass.
    pub fn of(vessel: &Vessel) -> Frame {
        let all = || shell(vessel.boiler()).into_iter().chain(glass(vessel).into_iter().flatten());
        let least = |of: fn(Spot) -> f64| all().map(of).fold(f64::INFINITY, f64::min);
        let most = |of: fn(Spot) -> f64| all().map(of).fold(f64::NEG_INFINITY, f64::max);
        let (left, right) = (least(|p| p.x), most(|p| p.x));
        let (low, top) = (least(|p| p.y), most(|p| p.y));
        let room = MARGIN * (right - left).max(top - low);
        Frame { left: left - room, top: top + room, width: right - left + 2.0 * room, height: top - low + 2.0 * room }
    }

    /// Width over height.
    pub fn aspect(&self) -> f64 {
        self.width / self.height
    }

    /// A place in millimetres as shares of the box.
    pub fn place(&self, at: Spot) -> Spot {
        spot((at.x - self.left) / self.width, (self.top - at.y) / self.height)
    }

    /// As [`Frame::place`], of many.
    pub fn places(&self, all: &[Spot]) -> Vec<Spot> {
        all.iter().map(|at| self.place(*at)).collect()
    }
}
