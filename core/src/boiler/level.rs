//! The water in a tilted boiler: from a glass reading to volume and cover over the crown, and back.
//!
//! The free surface is a plane square to the pull that the water feels, and a change of gradient or speed moves the
//! plane
//! but not the volume under it.
//! In the boiler's own frame the plane falls towards the chimney by gradient + acceleration / g, both taken towards the
//! chimney: positive is chimney end uphill, or speeding up chimney first, or braking bunker first.
//! Positive flatters the glass and uncovers the crown's front edge; negative starves the glass and uncovers its back
//! edge.
//! Left out of the sum: a factor √(1 + gradient²) on the acceleration (0.1 % at 1 in 20), sloshing, and the cooler
//! and so
//! slightly lower column in the glass itself.

use super::{BadNumber, within};

/// Standard gravity, m/s², exact (ISO 80000-3).
pub const GRAVITY: f64 = 9.806_65;

/// Which end leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Facing {
    /// Chimney end leads.
    ChimneyFirst,
    /// Bunker or tender leads.
    BunkerFirst,
}

/// How the water leans in the boiler.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tilt {
    along: f64,
    across: f64,
}

impl Tilt {
    /// Standing on the level, or running steadily on it.
    pub const LEVEL: Tilt = Tilt { along: 0.0, across: 0.0 };

    /// From the road as the train meets it: `gradient` (rise over run, -0.25 to 0.25) is positive uphill and
    /// `acceleration` (m/s², -5 to 5) positive gaining speed, both in the direction of travel.
    ///
    /// # Errors
    /// When a number is out of range; a gradient is 0.0125, not 80 or 1.25.
    pub fn travelling(gradient: f64, acceleration: f64, facing: Facing) -> Result<Tilt, BadNumber> {
        let gradient = within("gradient", gradient, -0.25, 0.25)?;
        let acceleration = within("acceleration_m_s2", acceleration, -5.0, 5.0)?;
        let ahead = gradient + acceleration / GRAVITY;
        Ok(Tilt {
            along: match facing {
                Facing::ChimneyFirst => ahead,
                Facing::BunkerFirst => -ahead,
            },
            across: 0.0,
        })
    }

    /// With the track's cant: height of one rail over the other divided by their distance, -0.2 to 0.2, less what speed
    /// takes off it in a curve.
    ///
    /// Only the crown's high side and the two glasses feel it: sections are the same left and right, and the water's
    /// height in the middle changes by less than half a millimetre.
    ///
    /// # Errors
    /// When the cant is out of range.
    pub fn canted(self, cant: f64) -> Result<Tilt, BadNumber> {
        let across = within("cant", cant, -0.2, 0.2)?;
        Ok(Tilt { across: across.abs(), ..self })
    }

    /// How much the surface falls towards the chimney per length; positive is chimney up.
    pub fn along(self) -> f64 {
        self.along
    }

    /// How much the surface leans across per width, never negative.
    pub fn across(self) -> f64 {
        self.across
    }
}

/// What a person read off the glass, and how far off it may be.
///
/// On canted track it is the mean of the two glasses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlassReading {
    /// Height over the bottom nut, mm, 0 to the visible glass.
    pub mm: f64,
    /// Greatest error of reading, mm, 0 to 100.
    pub error_mm: f64,
}

/// Whether the regulator was open at the reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Regulator {
    /// Shut: the glass shows what there is.
    Shut,
    /// Open: the boiling water stands higher than it will when the regulator is shut.
    Open {
        /// By how much for this engine, mm of glass, 0 to 200; taken off the reading.
        swell_mm: f64,
    },
}

impl Regulator {
    /// What the glass shows too much, mm.
    pub(super) fn swell(self) -> Result<f64, BadNumber> {
        match self {
            Regulator::Shut => Ok(0.0),
            Regulator::Open { swell_mm } => within("swell_mm", swell_mm, 0.0, 200.0),
        }
    }
}

/// What the glass shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum InGlass {
    /// The level is in sight.
    Shows {
        /// Over the bottom nut, mm.
        mm: f64,
    },
    /// The level is over the top nut: how much water there is cannot be seen.
    OutAbove {
        /// By how much, mm.
        by_mm: f64,
    },
    /// The level is under the bottom nut: the railway's low-water instruction applies.
    OutBelow {
        /// By how much, mm.
        by_mm: f64,
    },
}

impl InGlass {
    /// Over the bottom nut, mm, in sight or not.
    pub fn over_bottom_nut_mm(self, visible_mm: f64) -> f64 {
        match self {
            InGlass::Shows { mm } => mm,
            InGlass::OutAbove { by_mm } => visible_mm + by_mm,
            InGlass::OutBelow { by_mm } => -by_mm,
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            InGlass::Shows { .. } => "in sight",
            InGlass::OutAbove { .. } => "out of glass above",
            InGlass::OutBelow { .. } => "out of glass below",
        }
    }
}

/// Where along the crown the water is least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// The front edge, at the firebox tubeplate.
    Front,
    /// The back edge.
    Back,
    /// The same all along.
    Everywhere,
}

impl Edge {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Edge::Front => "front edge of the crown",
            Edge::Back => "back edge of the crown",
            Edge::Everywhere => "all along the crown",
        }
    }
}

/// Water over the crown; negative: bare, and how far the water is below it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cover {
    /// Over the front edge, mm, at the high side of canted track.
    pub front_mm: f64,
    /// Over the back edge, mm, at the high side of canted track.
    pub back_mm: f64,
    /// The lesser of the two; both crown and water run straight, so nowhere is less.
    pub least_mm: f64,
    /// Where that is.
    pub edge: Edge,
    /// Its distance in front of the inside of the back plate, mm.
    pub place_mm: f64,
}

/// Whether the crown is under water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Crown {
    /// All of it.
    Covered,
    /// Some of it is not.
    Bare,
}

impl Crown {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Crown::Covered => "crown covered",
            Crown::Bare => "crown bare",
        }
    }
}

/// How full the boiler is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fill {
    /// Water below, steam above.
    PartFull,
    /// No steam space: covers are those of the lowest plane that fills it.
    BrimFull {
        /// Water that finds no room, l.
        excess_l: f64,
    },
    /// No water at all: covers are those of the highest plane that leaves it dry.
    Dry,
}

impl Fill {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Fill::PartFull => "part full",
            Fill::BrimFull { .. } => "boiler brim-full",
            Fill::Dry => "boiler dry",
        }
    }
}

/// The water of one boiler at one tilt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// Volume, l.
    pub volume_l: f64,
    /// The tilt it stands at.
    pub tilt: Tilt,
    /// How full the boiler is.
    pub fill: Fill,
    /// What the glass shows; of two glasses on canted track, their mean.
    pub glass: InGlass,
    /// By how much two glasses differ on canted track, mm: the one at the low rail shows more.
    pub glasses_differ_mm: f64,
    /// Water over the crown.
    pub cover: Cover,
    /// Whether that is enough to cover it.
    pub crown: Crown,
    /// Water in one more millimetre of glass, l; 0 where the boiler is brim-full or dry.
    pub litres_per_mm: f64,
}

/// Water found from a reading, with what an error of reading makes of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// As read.
    pub as_read: Water,
    /// If the glass was over-read by the error.
    pub at_least: Water,
    /// If the glass was under-read by the error.
    pub at_most: Water,
}

/// Cover beside what is required.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Enough, whatever the reading error.
    Enough,
    /// Enough as read, too little if the glass was misread.
    EnoughUnlessMisread,
    /// Too little as read, enough if the glass was misread.
    ShortUnlessMisread,
    /// Too little, whatever the reading error.
    Short,
}

impl Verdict {
    /// Of a quantity with the least wanted, as read and at the two ends of the error.
    pub fn of(wanted: f64, at_least: f64, as_read: f64, at_most: f64) -> Verdict {
        if at_least >= wanted {
            Verdict::Enough
        } else if as_read >= wanted {
            Verdict::EnoughUnlessMisread
        } else if at_most >= wanted {
            Verdict::ShortUnlessMisread
        } else {
            Verdict::Short
        }
    }

    /// Whether a reading within its error could turn it.
    pub fn error_could_change(self) -> bool {
        matches!(self, Verdict::EnoughUnlessMisread | Verdict::ShortUnlessMisread)
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Enough => "enough",
            Verdict::EnoughUnlessMisread => "enough as read; a misread glass could hide a shortage",
            Verdict::ShortUnlessMisread => "short as read; a misread glass could be the cause",
            Verdict::Short => "short",
        }
    }
}

impl Seen {
    /// The error of reading as millimetres of least cover, the greater of both ways.
    pub fn cover_error_mm(&self) -> f64 {
        let least = |water: &Water| water.cover.least_mm;
        let down = least(&self.as_read) - least(&self.at_least);
        let up = least(&self.at_most) - least(&self.as_read);
        down.max(up)
    }

    /// The error of reading as litres, the greater of both ways.
    pub fn volume_error_l(&self) -> f64 {
        let down = self.as_read.volume_l - self.at_least.volume_l;
        let up = self.at_most.volume_l - self.as_read.volume_l;
        down.max(up)
    }

    /// Against a required cover in mm.
    pub fn verdict(&self, required_mm: f64) -> Verdict {
        Verdict::of(required_mm, self.at_least.cover.least_mm, self.as_read.cover.least_mm, self.at_most.cover.least_mm)
    }
}

/// The reading that a wish comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Needed {
    /// This reading is just enough.
    Reading {
        /// Over the bottom nut, mm.
        mm: f64,
    },
    /// Any level in sight is more than enough.
    AnyInSight {
        /// How far below the bottom nut the level could be, mm.
        spare_mm: f64,
    },
    /// No level in sight is enough: the water would stand over the top nut.
    OverTheGlass {
        /// By how much, mm.
        by_mm: f64,
    },
    /// Not even a brim-full boiler is enough.
    OverBrimFull,
}

impl Needed {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Needed::Reading { .. } => "this reading is just enough",
            Needed::AnyInSight { .. } => "any level in sight is enough",
            Needed::OverTheGlass { .. } => "no level in sight is enough",
            Needed::OverBrimFull => "not even a brim-full boiler is enough",
        }
    }
}
