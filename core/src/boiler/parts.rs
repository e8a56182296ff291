//! A boiler taken apart into sums of profiles, as the volume integral wants it.

use core::f64::consts::PI;

use libm::{hypot, sqrt};

use super::shape::{Boiler, Bundle, Top};
use super::volume::{Cone, Line, Profile, Term};

impl Boiler {
    /// Height of the crown's highest part.
    pub(super) fn highest_crown_mm(&self) -> f64 {
        self.firebox.crown_back_mm.max(self.firebox.crown_front_mm)
    }

    pub(super) fn casing_arch(&self) -> Arch {
        Arch::new(self.casing.width_mm, self.casing.top_mm, self.casing.top)
    }

    pub(super) fn firebox_arch(&self, crown_mm: f64) -> Arch {
        Arch::new(self.firebox.width_mm, crown_mm, self.firebox.crown)
    }

    /// What girder stays take of the water's width over the crown.
    pub(super) fn girder_width(&self) -> f64 {
        if self.girders.volume_l == 0.0 {
            return 0.0;
        }
        self.girders.volume_l * 1e6 / (self.firebox.length_mm * self.girders.height_mm)
    }

    /// From the crown's back edge to its front edge, along the boiler.
    pub(super) fn crown_ends(&self) -> [f64; 2] {
        let back = self.firebox.back_gap_mm;
        [back, back + self.firebox.length_mm]
    }

    fn crown_line(&self) -> Line {
        let [back, front] = self.crown_ends();
        Line::through(back, self.firebox.crown_back_mm, front, self.firebox.crown_front_mm)
    }

    /// From the throat plate to the smokebox tubeplate, along the boiler.
    fn barrel_ends(&self) -> [f64; 2] {
        [self.casing.length_mm, self.casing.length_mm + self.barrel.length_mm]
    }

    fn axis(&self) -> Line {
        let [back, front] = self.barrel_ends();
        Line::through(back, 0.0, front, self.barrel.front_axis_rise_mm)
    }

    fn is_parallel(&self) -> bool {
        self.barrel.back_diameter_mm == self.barrel.front_diameter_mm
    }

    /// The barrel when it is tapered.
    pub(super) fn cone(&self) -> Option<Cone> {
        if self.is_parallel() {
            return None;
        }
        let ends = self.barrel_ends();
        let b = &self.barrel;
        Some(Cone {
            ends,
            axis: self.axis(),
            radius: Line::through(ends[0], b.back_diameter_mm / 2.0, ends[1], b.front_diameter_mm / 2.0),
        })
    }

    /// Everything but a tapered barrel, as sums of one-variable profiles.
    pub(super) fn terms(&self) -> [Term; 15] {
        let barrel = Term {
            weight: if self.is_parallel() { 1.0 } else { 0.0 },
            ends: self.barrel_ends(),
            base: self.axis(),
            profile: Profile::Circle { radius: self.barrel.back_diameter_mm / 2.0 },
        };
        let foundation = Line::level(self.casing.foundation_mm);
        let casing_top = Line::level(self.casing.top_mm);
        let [c0, c1, c2, c3] = self.casing_arch().terms(1.0, [0.0, self.casing.length_mm], foundation, casing_top);
        let crown = self.crown_line();
        let crown_ends = self.crown_ends();
        let [f0, f1, f2, f3] = self.firebox_arch(0.0).terms(-1.0, crown_ends, foundation, crown);
        let girders = self.girder_width();
        let [g0, g1] = band(girders, crown_ends, crown, crown.raised(self.girders.height_mm));
        let [t0, t1] = self.bundle_terms(self.tubes);
        let [l0, l1] = self.bundle_terms(self.flues);
        [barrel, c0, c1, c2, c3, f0, f1, f2, f3, g0, g1, t0, t1, l0, l1]
    }

    fn bundle_terms(&self, bundle: Bundle) -> [Term; 2] {
        let ends = [self.crown_ends()[1], self.barrel_ends()[1]];
        let (lower, upper) = (Line::level(bundle.lower_mm), Line::level(bundle.upper_mm));
        band(bundle.width(), ends, lower, upper)
    }

    /// Places along the boiler with the least and the greatest height there, between which every free surface lies.
    pub(super) fn corners(&self) -> [(f64, f64, f64); 4] {
        let [back, front] = self.barrel_ends();
        let b = &self.barrel;
        let casing = |x| (x, self.casing.foundation_mm, self.casing.top_mm);
        let (r_back, r_front) = (b.back_diameter_mm / 2.0, b.front_diameter_mm / 2.0);
        let rise = b.front_axis_rise_mm;
        [casing(0.0), casing(back), (back, -r_back, r_back), (front, rise - r_front, rise + r_front)]
    }
}

/// Displaced width between two lines.
fn band(width: f64, ends: [f64; 2], lower: Line, upper: Line) -> [Term; 2] {
    let ramp = |weight, base| Term { weight, ends, base, profile: Profile::Ramp };
    [ramp(-width, lower), ramp(width, upper)]
}

/// Straight sides under a top with rounded corners.
#[derive(Clone, Copy)]
pub(super) struct Arch {
    pub(super) half_width: f64,
    top: f64,
    pub(super) corner: f64,
}

impl Arch {
    pub(super) fn new(width: f64, top: f64, shape: Top) -> Arch {
        let corner = match shape {
            Top::Round => width / 2.0,
            Top::Flat { corner_radius_mm } => corner_radius_mm,
        };
        Arch { half_width: width / 2.0, top, corner }
    }

    /// Height to which the sides are straight.
    pub(super) fn straight_top(self) -> f64 {
        self.top - self.corner
    }

    /// Width at a height, 0 above the top.
    pub(super) fn width_at(self, height: f64) -> f64 {
        if height > self.top {
            return 0.0;
        }
        let up = (height - self.straight_top()).max(0.0);
        2.0 * (self.half_width - self.corner) + 2.0 * sqrt((self.corner * self.corner - up * up).max(0.0))
    }

    /// Whether another arch lies inside, with room over its top.
    ///
    /// An arch is a rectangle grown by its corner radius, so the inner one fits when its rectangle's corner stays
    /// clear of
    /// the outer one's by the difference of the radii.
    pub(super) fn holds(self, inner: Arch) -> bool {
        if inner.top >= self.top || inner.half_width >= self.half_width {
            return false;
        }
        if inner.corner > self.corner {
            return true;
        }
        let aside = (inner.half_width - inner.corner) - (self.half_width - self.corner);
        let above = inner.straight_top() - self.straight_top();
        hypot(aside.max(0.0), above.max(0.0)) < self.corner - inner.corner || aside.max(above) <= 0.0
    }

    /// The area under a height as three ramps and a half circle.
    fn terms(self, sign: f64, ends: [f64; 2], foundation: Line, top: Line) -> [Term; 4] {
        let term = |weight, base, profile| Term { weight: sign * weight, ends, base, profile };
        let corner = 2.0 * self.corner;
        let shoulder = top.raised(-self.corner);
        let arc = Profile::UpperHalf { radius: self.corner };
        [
            term(2.0 * self.half_width, foundation, Profile::Ramp),
            term(corner - 2.0 * self.half_width, top, Profile::Ramp),
            term(-corner, shoulder, Profile::Ramp),
            term(if self.corner > 0.0 { 1.0 } else { 0.0 }, shoulder, arc),
        ]
    }
}

impl Bundle {
    /// What it takes of the water's width between its two heights, mm.
    pub(super) fn width(self) -> f64 {
        if self.count == 0 {
            return 0.0;
        }
        let area = f64::from(self.count) * PI / 4.0 * self.outside_diameter_mm * self.outside_diameter_mm;
        area / (self.upper_mm - self.lower_mm)
    }
}
