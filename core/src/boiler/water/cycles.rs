//! Continuous blowdown by mass balance: how often the feed's salts concentrate, and what share goes to waste.
//!
//! With C = concentration in the boiler / in the feed, blowdown is 1/C *of the feed* and 1/(C − 1) *of the steam*
//! (UFC 3-240-13FN (2005), p. 44: %B = 100/COC of feed, B = E/(COC − 1) of steam).
//! The two shares and the three flows are types of their own, so that a share of steam is never taken of feed.
//! Steam is taken as free of salts, so that what the feed brings the blowdown takes.

use super::super::{BadNumber, within};
use super::MOST_MG_L;

/// Greatest flow taken, in the caller's own unit of mass a time.
const MOST_FLOW: f64 = 1e9;

/// Cycles of concentration: boiler over feed, more than 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Cycles(f64);

/// Blowdown as a share of the feed.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct ShareOfFeed(f64);

/// Blowdown as a share of the steam.
///
/// It is taken of steam:
///
/// ```
/// use offshed_core::boiler::water::cycles::{Cycles, Steam};
///
/// let share = Cycles::of(5_000.0, 250.0)?.of_steam();
/// assert_eq!(share.blowdown(Steam::new(38_000.0)?).get().round(), 2_000.0);
/// # Ok::<(), offshed_core::boiler::BadNumber>(())
/// ```
///
/// and never of feed:
///
/// ```compile_fail,E0308
/// use offshed_core::boiler::water::cycles::{Cycles, Feed};
///
/// let share = Cycles::of(5_000.0, 250.0)?.of_steam();
/// share.blowdown(Feed::new(40_000.0)?);
/// # Ok::<(), offshed_core::boiler::BadNumber>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct ShareOfSteam(f64);

/// Feed, mass a time in the caller's own unit.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Feed(f64);

/// Steam, mass a time in the caller's own unit.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Steam(f64);

/// Blowdown, mass a time in the caller's own unit.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Blowdown(f64);

impl Cycles {
    /// From a number, 1.000 001 to 1 000 000: at 1 all feed would have to be blown down.
    ///
    /// # Errors
    /// When it is out of range.
    pub fn new(cycles: f64) -> Result<Cycles, BadNumber> {
        within("cycles", cycles, 1.000_001, 1e6).map(Cycles)
    }

    /// From concentrations or conductivities of boiler and feed in one unit, above 0 and up to 100 000.
    ///
    /// # Errors
    /// When one is out of range, or the boiler's is not above the feed's.
    pub fn of(boiler: f64, feed: f64) -> Result<Cycles, BadNumber> {
        let feed = within("feed", feed, 1e-6, MOST_MG_L)?;
        let boiler = within("boiler", boiler, feed * 1.000_001, MOST_MG_L)?;
        Cycles::new(boiler / feed)
    }

    /// The number.
    pub fn get(self) -> f64 {
        self.0
    }

    /// 1/C.
    pub fn of_feed(self) -> ShareOfFeed {
        ShareOfFeed(1.0 / self.0)
    }

    /// 1/(C − 1).
    pub fn of_steam(self) -> ShareOfSteam {
        ShareOfSteam(1.0 / (self.0 - 1.0))
    }
}

impl ShareOfFeed {
    /// From a share, 0 to less than 1 (0.999).
    ///
    /// # Errors
    /// When it is out of range: 5 per cent is 0.05.
    pub fn new(share: f64) -> Result<ShareOfFeed, BadNumber> {
        within("share_of_feed", share, 0.0, 0.999).map(ShareOfFeed)
    }

    /// The share, 1 for the whole.
    pub fn get(self) -> f64 {
        self.0
    }

    /// Blowdown of this much feed.
    pub fn blowdown(self, feed: Feed) -> Blowdown {
        Blowdown(self.0 * feed.0)
    }

    /// Feed for this much steam: S/(1 − b).
    pub fn feed_for(self, steam: Steam) -> Feed {
        Feed(steam.0 / (1.0 - self.0))
    }

    /// The same blowdown as a share of the steam: b/(1 − b).
    pub fn of_steam(self) -> ShareOfSteam {
        ShareOfSteam(self.0 / (1.0 - self.0))
    }
}

impl ShareOfSteam {
    /// The share; above 1 when more is blown down than steamed.
    pub fn get(self) -> f64 {
        self.0
    }

    /// Blowdown beside this much steam.
    pub fn blowdown(self, steam: Steam) -> Blowdown {
        Blowdown(self.0 * steam.0)
    }

    /// The same blowdown as a share of the feed: r/(1 + r).
    pub fn of_feed(self) -> ShareOfFeed {
        ShareOfFeed(self.0 / (1.0 + self.0))
    }
}

/// A flow of its own kind: made from a number of 0 to 1e9 in the caller's unit, and given back in it.
macro_rules! flow {
    ($kind:ident, $field:literal) => {
        impl $kind {
            /// From a number, 0 to 1e9, in the caller's own unit.
            ///
            /// # Errors
            /// When it is out of range.
            pub fn new(flow: f64) -> Result<$kind, BadNumber> {
                within($field, flow, 0.0, MOST_FLOW).map($kind)
            }

            /// The number, in the caller's own unit.
            pub fn get(self) -> f64 {
                self.0
            }
        }
    };
}

flow!(Feed, "feed");
flow!(Steam, "steam");
flow!(Blowdown, "blowdown");

impl Steam {
    /// Feed that makes up for it and for the blowdown.
    pub fn with(self, blowdown: Blowdown) -> Feed {
        Feed(self.0 + blowdown.0)
    }
}
