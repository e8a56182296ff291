//! A locomotive boiler as plain data, checked once and made into a [`Vessel`] that all level arithmetic works on.
//!
//! Lengths run from the inside of the back plate towards the chimney; heights count from the barrel's axis at its back
//! end, up positive.
//! Every section is the same left and right.
//! Domes, dished ends, a sloping back plate and a sloping foundation ring are not described: a dome only matters to a
//! boiler already brim-full, and the others lie below any level that a glass shows.

use core::fmt;

use libm::sqrt;

use super::volume::{Volume, segment};
use super::{BadNumber, within};

/// The barrel, from the throat plate to the smokebox tubeplate; tapered when the two diameters differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Barrel {
    /// Inside diameter at the throat plate, mm, 50 to 4 000.
    pub back_diameter_mm: f64,
    /// Inside diameter at the smokebox tubeplate, mm, 50 to 4 000.
    pub front_diameter_mm: f64,
    /// Inside length, mm, 50 to 20 000.
    pub length_mm: f64,
    /// Height of the axis at the front above the axis at the back, mm, -1 000 to 1 000; 0 for a coaxial barrel.
    ///
    /// A tapered barrel with a level bottom has half the difference of its diameters, front less back.
    pub front_axis_rise_mm: f64,
}

/// The upper edge of a section, seen from the back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Top {
    /// A half circle over the whole width.
    Round,
    /// Flat between two rounded corners.
    Flat {
        /// Radius of each corner, mm, 0 to half the width.
        corner_radius_mm: f64,
    },
}

/// The firebox casing, round-top or flat-top, from the back plate to the throat plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Casing {
    /// Inside length, mm, 50 to 10 000.
    pub length_mm: f64,
    /// Inside width, mm, 50 to 4 000.
    pub width_mm: f64,
    /// Height of the inside of the top, mm, -2 000 to 4 000.
    pub top_mm: f64,
    /// Shape of the top.
    pub top: Top,
    /// Height of the foundation ring, mm, -5 000 to 2 000.
    pub foundation_mm: f64,
}

/// The inner firebox, by its outside (water side).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Firebox {
    /// Width of the water space behind it, mm, 1 to 2 000.
    pub back_gap_mm: f64,
    /// Outside length, back edge to front edge of the crown, mm, 20 to 10 000.
    pub length_mm: f64,
    /// Outside width, mm, 20 to 4 000.
    pub width_mm: f64,
    /// Height of the crown's water side at its back edge, mm, -2 000 to 3 000.
    pub crown_back_mm: f64,
    /// Height of the crown's water side at its front edge, mm, -2 000 to 3 000.
    pub crown_front_mm: f64,
    /// Shape of the crown.
    pub crown: Top,
}

/// Tubes of one size, spread evenly between two heights, from the firebox to the smokebox tubeplate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bundle {
    /// How many, 0 to 1 000; 0: none, and the rest is not looked at.
    pub count: u16,
    /// Outside diameter, mm, 5 to 400.
    pub outside_diameter_mm: f64,
    /// Height of the underside of the lowest, mm, -2 000 to 2 000.
    pub lower_mm: f64,
    /// Height of the top of the highest, mm, -2 000 to 2 400.
    pub upper_mm: f64,
}

impl Bundle {
    /// No tubes.
    pub const NONE: Bundle = Bundle { count: 0, outside_diameter_mm: 0.0, lower_mm: 0.0, upper_mm: 0.0 };
}

/// Girder stays, spread evenly over the crown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Girders {
    /// Volume of metal, l, 0 to 1 000; 0: none or not known, and the height is not looked at.
    pub volume_l: f64,
    /// Height above the crown, mm, 1 to 1 000.
    pub height_mm: f64,
}

impl Girders {
    /// None, or not known.
    pub const NONE: Girders = Girders { volume_l: 0.0, height_mm: 0.0 };
}

/// The gauge glass or pair of glasses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glass {
    /// How far in front of the inside of the back plate it stands, mm, -1 000 to 30 000; usually a little negative.
    pub position_mm: f64,
    /// Height of the bottom nut, the lowest level it shows, above the highest part of the crown, mm, -500 to 1 000.
    pub bottom_nut_mm: f64,
    /// Height of the top nut, the highest level it shows, above the highest part of the crown, mm, -500 to 2 000.
    pub top_nut_mm: f64,
    /// Distance between the two glasses across the engine, mm, 0 to 4 000; 0 for one glass or not known.
    pub separation_mm: f64,
}

/// A boiler as data; [`Boiler::check`] makes it usable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Boiler {
    /// The barrel.
    pub barrel: Barrel,
    /// The firebox casing.
    pub casing: Casing,
    /// The inner firebox.
    pub firebox: Firebox,
    /// The small tubes.
    pub tubes: Bundle,
    /// The large flues of a superheater.
    pub flues: Bundle,
    /// Stays over the crown.
    pub girders: Girders,
    /// The glass.
    pub glass: Glass,
}

/// What is wrong with a boiler's data.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BadBoiler {
    /// A number is out of range.
    Number(BadNumber),
    /// A part is larger than what it lies in; one of the two is wrong.
    DoesNotFit {
        /// The field of the part.
        field: &'static str,
        /// The field of what it lies in.
        inside: &'static str,
    },
}

impl BadBoiler {
    /// The field to look at first.
    pub fn field(&self) -> &'static str {
        match self {
            BadBoiler::Number(bad) => bad.field,
            BadBoiler::DoesNotFit { field, .. } => field,
        }
    }
}

impl From<BadNumber> for BadBoiler {
    fn from(bad: BadNumber) -> BadBoiler {
        BadBoiler::Number(bad)
    }
}

impl fmt::Display for BadBoiler {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BadBoiler::Number(bad) => bad.fmt(f),
            BadBoiler::DoesNotFit { field, inside } => {
                write!(f, "`{field}` does not fit within `{inside}`; measure both again")
            }
        }
    }
}

impl core::error::Error for BadBoiler {}

/// A boiler whose data hold together; nothing asked of it fails for the boiler's sake.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vessel {
    pub(super) boiler: Boiler,
    pub(super) volume: Volume,
}

/// Area of a circle's segment, mm²: radius 0.1 to 10 000 mm, depth 0 to twice the radius.
///
/// r² acos((r - h) / r) - (r - h) √(2 r h - h²), as in any handbook of mensuration.
///
/// # Errors
/// When a number is out of range.
pub fn segment_area(radius_mm: f64, depth_mm: f64) -> Result<f64, BadNumber> {
    let radius = within("radius_mm", radius_mm, 0.1, 1e4)?;
    let depth = within("depth_mm", depth_mm, 0.0, 2.0 * radius)?;
    Ok(segment(radius, depth - radius).0)
}

/// 49 CFR 230.51 (2015 edition): "The lowest reading of the water glasses shall not be less than 3 inches above the
/// highest part of
/// the crown sheet."
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LowestReading {
    /// The bottom nut is high enough.
    HighEnough {
        /// By how much more than needed, mm.
        spare_mm: f64,
    },
    /// The bottom nut is too low: a glass that still shows water promises less than 3 in over the crown.
    TooLow {
        /// By how much, mm.
        short_mm: f64,
    },
}

/// Three inches, mm.
const THREE_INCHES_MM: f64 = 76.2;

impl Vessel {
    /// The data it was made from.
    pub fn boiler(&self) -> &Boiler {
        &self.boiler
    }

    /// All the water it can hold, l.
    pub fn capacity_l(&self) -> f64 {
        self.volume.capacity() / 1e6
    }

    /// Length of glass between the nuts, mm.
    pub fn visible_mm(&self) -> f64 {
        self.boiler.glass.top_nut_mm - self.boiler.glass.bottom_nut_mm
    }

    /// Height of the glass's bottom nut above the datum, mm.
    pub fn bottom_nut_height_mm(&self) -> f64 {
        self.boiler.highest_crown_mm() + self.boiler.glass.bottom_nut_mm
    }

    /// The glass against 49 CFR 230.51.
    pub fn lowest_reading(&self) -> LowestReading {
        let spare_mm = self.boiler.glass.bottom_nut_mm - THREE_INCHES_MM;
        if spare_mm >= 0.0 {
            LowestReading::HighEnough { spare_mm }
        } else {
            LowestReading::TooLow { short_mm: -spare_mm }
        }
    }

    /// The crown's edges, back then front: place along the boiler and height, mm.
    pub(super) fn crown_edges(&self) -> [(f64, f64); 2] {
        let [back, front] = self.boiler.crown_ends();
        let firebox = &self.boiler.firebox;
        [(back, firebox.crown_back_mm), (front, firebox.crown_front_mm)]
    }

    /// How much less cover a crown has at its high side when the water leans by `across`, mm.
    ///
    /// The least cover of a flat crown with corners of radius c lies on the corner, where the crown is as steep as
    /// the water.
    pub(super) fn crown_lean_mm(&self, across: f64) -> f64 {
        let arch = self.boiler.firebox_arch(0.0);
        let flat = arch.half_width - arch.corner;
        across * flat + arch.corner * (sqrt(1.0 + across * across) - 1.0)
    }
}
