//! Water under a tilted plane, in closed form.
//!
//! Every part of a boiler but a tapered barrel is a sum of profiles of one variable, the height of the plane over a
//! straight line; that height is itself straight along the boiler, so the integral over the length is a difference of
//! primitives.
//! The free surface's area is the volume's slope and comes from the same values.
//! A tapered barrel is cut where the plane passes through its top and bottom, and each piece is integrated numerically.

use core::f64::consts::{FRAC_PI_2, PI};

use libm::{asin, fabs, sqrt};

/// A height that runs straight along the boiler.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    /// Height at the back plate, mm.
    at_zero: f64,
    /// Rise per length.
    slope: f64,
}

impl Line {
    pub(super) fn level(height: f64) -> Line {
        Line { at_zero: height, slope: 0.0 }
    }

    /// Through two points at different places.
    pub(super) fn through(x0: f64, z0: f64, x1: f64, z1: f64) -> Line {
        Line::leaning(x0, z0, (z1 - z0) / (x1 - x0))
    }

    /// Through a point with a slope.
    pub(super) fn leaning(x: f64, z: f64, slope: f64) -> Line {
        Line { at_zero: z - slope * x, slope }
    }

    pub(super) fn raised(self, by: f64) -> Line {
        Line { at_zero: self.at_zero + by, slope: self.slope }
    }

    pub(super) fn at(self, x: f64) -> f64 {
        self.at_zero + self.slope * x
    }

    fn above(self, other: Line) -> Line {
        Line { at_zero: self.at_zero - other.at_zero, slope: self.slope - other.slope }
    }
}

/// Area of a section under a height, as a function of the height over a base line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Profile {
    /// Unit width above the base.
    Ramp,
    /// A circle about the base.
    Circle { radius: f64 },
    /// The upper half of a circle about the base.
    UpperHalf { radius: f64 },
}

/// One profile over a stretch of the boiler; displaced water has a negative weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Term {
    pub(super) weight: f64,
    pub(super) ends: [f64; 2],
    pub(super) base: Line,
    pub(super) profile: Profile,
}

/// A tapered barrel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cone {
    pub(super) ends: [f64; 2],
    pub(super) axis: Line,
    pub(super) radius: Line,
}

/// Water under a plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Amount {
    /// mm³.
    pub(super) volume: f64,
    /// Area of the free surface seen from above, mm².
    pub(super) surface: f64,
}

impl Amount {
    const NONE: Amount = Amount { volume: 0.0, surface: 0.0 };

    fn plus(self, other: Amount, weight: f64) -> Amount {
        Amount { volume: self.volume + weight * other.volume, surface: self.surface + weight * other.surface }
    }
}

/// Mean of a ramp and of its slope between two heights.
fn mean_ramp(u0: f64, u1: f64) -> (f64, f64) {
    let (low, high) = if u0 < u1 { (u0, u1) } else { (u1, u0) };
    if low >= 0.0 {
        ((low + high) / 2.0, 1.0)
    } else if high <= 0.0 {
        (0.0, 0.0)
    } else {
        let span = high - low;
        (high * high / (2.0 * span), high / span)
    }
}

/// Area of a circle of radius `r` below a chord at height `u` over its centre, and that area's own primitive.
///
/// The area is r² (π/2 + asin(u/r)) + u √(r² - u²), the segment of every handbook; the primitive is zero at u = -r.
pub(super) fn segment(r: f64, u: f64) -> (f64, f64) {
    if u <= -r {
        return (0.0, 0.0);
    }
    let full = PI * r * r;
    if u >= r {
        return (full, full * u);
    }
    let half_chord_square = (r - u) * (r + u);
    let half_chord = sqrt(half_chord_square);
    let angle = FRAC_PI_2 + asin(u / r);
    let area = r * r * angle + u * half_chord;
    let primitive = r * r * (u * angle + half_chord) - half_chord_square * half_chord / 3.0;
    (area, primitive)
}

/// The same for the upper half of a circle alone.
fn upper_segment(r: f64, u: f64) -> (f64, f64) {
    if u <= 0.0 {
        return (0.0, 0.0);
    }
    let (area, primitive) = segment(r, u);
    let half = FRAC_PI_2 * r * r;
    (area - half, primitive - 2.0 / 3.0 * r * r * r - half * u)
}

/// Length of a circle's chord at height `u` over its centre.
fn chord(r: f64, u: f64) -> f64 {
    2.0 * sqrt(((r - u) * (r + u)).max(0.0))
}

/// Mean of a profile and of its slope while the height runs straight from `u0` to `u1`, over a base at `least`.
fn mean_arc(r: f64, u0: f64, u1: f64, area_of: fn(f64, f64) -> (f64, f64), least: f64) -> (f64, f64) {
    let (low, high) = if u0 < u1 { (u0, u1) } else { (u1, u0) };
    let full = area_of(r, r).0;
    if high <= least {
        return (0.0, 0.0);
    }
    if low >= r {
        return (full, 0.0);
    }
    let span = high - low;
    if span == 0.0 {
        return (area_of(r, low).0, chord(r, low));
    }
    let (area, width) = arc_between(r, low.max(least), high.min(r), area_of);
    ((area + full * (high - r).max(0.0)) / span, width / span)
}

/// Integral of a profile and of its slope between two heights inside the circle.
///
/// Where the heights are nearly one, the difference of primitives is mostly noise and the rule takes its place.
fn arc_between(r: f64, low: f64, high: f64, area_of: fn(f64, f64) -> (f64, f64)) -> (f64, f64) {
    let span = high - low;
    if span > 1e-3 * r {
        let (area_low, below) = area_of(r, low);
        let (area_high, above) = area_of(r, high);
        return (above - below, area_high - area_low);
    }
    let (middle, half) = ((low + high) / 2.0, span / 2.0);
    RULE.into_iter().fold((0.0, 0.0), |(area, width), (place, weight)| {
        let (down, up) = (middle - half * place, middle + half * place);
        let areas = area_of(r, down).0 + area_of(r, up).0;
        let widths = chord(r, down) + chord(r, up);
        (area + half * weight * areas, width + half * weight * widths)
    })
}

impl Term {
    fn under(&self, plane: Line) -> Amount {
        let height = plane.above(self.base);
        let (u0, u1) = (height.at(self.ends[0]), height.at(self.ends[1]));
        let (area, width) = match self.profile {
            Profile::Ramp => mean_ramp(u0, u1),
            Profile::Circle { radius } => mean_arc(radius, u0, u1, segment, -radius),
            Profile::UpperHalf { radius } => mean_arc(radius, u0, u1, upper_segment, 0.0),
        };
        let length = self.ends[1] - self.ends[0];
        Amount { volume: area * length, surface: width * length }
    }
}

/// Places and weights of a 12-point Gauss-Legendre rule under the substitution x = sin(π t / 2), positive half.
///
/// The substitution flattens the ends, where a segment's area has a root, and leaves an error below 1e-10 everywhere.
const RULE: [(f64, f64); 6] = [
    (0.999_580_558_542_768_1, 0.002_146_050_869_604_28),
    (0.988_679_397_399_765_9, 0.025_204_290_664_194_73),
    (0.935_389_981_011_445_5, 0.088_917_367_531_001_05),
    (0.797_148_030_287_808_7, 0.192_688_367_427_254_3),
    (0.546_172_650_044_045_7, 0.307_232_536_338_333_75),
    (0.195_449_901_296_615_3, 0.383_811_387_169_612_66),
];

impl Cone {
    fn under(&self, plane: Line) -> Amount {
        let height = plane.above(self.axis);
        let [back, front] = self.ends;
        let clear = [crossing(height, self.radius, 1.0, self.ends), crossing(height, self.radius, -1.0, self.ends)];
        let (first, second) = (clear[0].min(clear[1]), clear[0].max(clear[1]));
        let pieces = [[back, first], [first, second], [second, front]];
        pieces.into_iter().fold(Amount::NONE, |sum, piece| sum.plus(self.piece(height, piece), 1.0))
    }

    /// A piece that is wholly empty, wholly full or wholly part-full.
    fn piece(&self, height: Line, [x0, x1]: [f64; 2]) -> Amount {
        let (middle, half) = ((x0 + x1) / 2.0, (x1 - x0) / 2.0);
        if half <= 0.0 {
            return Amount::NONE;
        }
        let (u, r) = (height.at(middle), self.radius.at(middle));
        if u <= -r {
            return Amount::NONE;
        }
        if u >= r {
            let slope = self.radius.slope * half;
            let volume = 2.0 * half * PI * (r * r + slope * slope / 3.0);
            return Amount { volume, surface: 0.0 };
        }
        RULE.into_iter().fold(Amount::NONE, |sum, (place, weight)| {
            let sum = sum.plus(self.slice(height, middle - half * place), half * weight);
            sum.plus(self.slice(height, middle + half * place), half * weight)
        })
    }

    fn slice(&self, height: Line, x: f64) -> Amount {
        let (u, r) = (height.at(x), self.radius.at(x));
        Amount { volume: segment(r, u).0, surface: chord(r, u) }
    }
}

/// Where the height meets `side` times the radius, held to the stretch.
fn crossing(height: Line, radius: Line, side: f64, [back, front]: [f64; 2]) -> f64 {
    let slope = height.slope - side * radius.slope;
    let gap = height.at_zero - side * radius.at_zero;
    if slope == 0.0 {
        return back;
    }
    let place = -gap / slope;
    // An overflowing quotient lies beyond the ends like any other far place.
    if place >= front {
        front
    } else if place > back {
        place
    } else {
        back
    }
}

/// The boiler's water under any plane, and the plane over any water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Volume {
    terms: [Term; 15],
    cone: Option<Cone>,
    corners: [(f64, f64, f64); 4],
    glass: f64,
    capacity: f64,
}

/// A plane that holds a wanted volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Settled {
    /// Its height at the glass, mm.
    pub(super) at_glass: f64,
    /// Area of the free surface, mm².
    pub(super) surface: f64,
}

impl Volume {
    pub(super) fn new(terms: [Term; 15], cone: Option<Cone>, corners: [(f64, f64, f64); 4], glass: f64) -> Volume {
        let mut volume = Volume { terms, cone, corners, glass, capacity: 0.0 };
        let (_, full) = volume.bracket(0.0);
        volume.capacity = volume.under(full, 0.0).volume;
        volume
    }

    /// mm³.
    pub(super) fn capacity(&self) -> f64 {
        self.capacity
    }

    /// Middle of the boiler's length, about which surfaces roughly pivot.
    fn middle(&self) -> f64 {
        self.corners[3].0 / 2.0
    }

    /// The plane of this height at the glass that falls towards the chimney by `along`.
    pub(super) fn plane(&self, at_glass: f64, along: f64) -> Line {
        Line::leaning(self.glass, at_glass, -along)
    }

    /// Water under the plane.
    pub(super) fn under(&self, at_glass: f64, along: f64) -> Amount {
        let plane = self.plane(at_glass, along);
        let barrel = self.cone.map_or(Amount::NONE, |cone| cone.under(plane));
        let terms = self.terms.iter().filter(|term| term.weight != 0.0);
        terms.fold(barrel, |sum, term| sum.plus(term.under(plane), term.weight))
    }

    /// Heights at the glass of the planes that just empty and just fill the boiler.
    pub(super) fn bracket(&self, along: f64) -> (f64, f64) {
        let start = (f64::INFINITY, f64::NEG_INFINITY);
        self.corners.iter().fold(start, |(low, high), (x, bottom, top)| {
            let lean = along * (x - self.glass);
            (low.min(bottom + lean), high.max(top + lean))
        })
    }

    /// The plane that holds `volume` (mm³, from 0 to the capacity), to 1e-11 of it.
    ///
    /// Newton's steps within a shrinking bracket; a step that leaves the bracket, or comes late, is a halving.
    /// `near` is a surface known to hold about as much: its height at the glass and its lean.
    pub(super) fn settle(&self, volume: f64, along: f64, near: Option<(f64, f64)>) -> Settled {
        let (mut low, mut high) = self.bracket(along);
        let mut at = match near {
            Some((height, lean)) => height + (along - lean) * (self.middle() - self.glass),
            None => low + (high - low) * (volume / self.capacity),
        };
        let close = 1e-11 * volume.max(1e-4 * self.capacity);
        let mut amount = Amount::NONE;
        for round in 0..100 {
            if !(low < at && at < high) {
                at = (low + high) / 2.0;
            }
            amount = self.under(at, along);
            let over = amount.volume - volume;
            if fabs(over) <= close || high - low < 1e-10 {
                break;
            }
            if over > 0.0 {
                high = at;
            } else {
                low = at;
            }
            let newton = amount.surface > 0.0 && round % 8 != 7;
            at = if newton { at - over / amount.surface } else { (low + high) / 2.0 };
        }
        Settled { at_glass: at, surface: amount.surface }
    }
}
