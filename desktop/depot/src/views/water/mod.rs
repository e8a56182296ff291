//! The water of one engine: every test with its limits, what was put in, and where the dissolved solids are heading,
//! counted in days in steam. Which steps are tests is read off the pack by what they measure, never by a step's id.

mod collect;
mod outlook;
mod since;

pub use outlook::{SlopeView, SolidsPoint, SolidsView, outlook_words, washout_key};

use offshed_core::ident::EngineId;
use offshed_core::pack::layout::text;
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now};
use offshed_core::units::Own;
use offshed_core::words::{Arg, Names};
use serde::Serialize;

use self::collect::{Collected, Found, Role};
use self::since::{Anchor, Anchors};
use super::Moments;
use crate::ids::Ids;
use crate::ledger::{Ledger, PackNames};

/// Most tests, and most treatments, that one log shows: the newest.
pub const SHOWN: usize = 200;

/// The water of one engine.
#[derive(Clone, Debug, Serialize)]
pub struct WaterLog {
    /// The moment it speaks of, local.
    pub as_of: String,
    /// The engine.
    pub engine: u16,
    /// Its name.
    pub name: String,
    /// From when days in steam count; `None`: the register has no date that counts them.
    pub since: Option<SinceView>,
    /// The date with the fewest days in steam left.
    pub booked: Option<BookedView>,
    /// The newest [`SHOWN`] tests, newest first.
    pub tests: Vec<WaterTest>,
    /// Older tests that are not shown.
    pub tests_before: usize,
    /// The newest [`SHOWN`] doses and blowdowns worked out and doses put in, newest first.
    pub treatments: Vec<Treatment>,
    /// Older treatments that are not shown.
    pub treatments_before: usize,
    /// Dissolved solids since then; `None`: not tested since, or no date to count from.
    pub solids: Option<SolidsView>,
    /// What is left out and why, and why there is no trend.
    pub notes: Vec<String>,
    /// The caution that belongs to every figure.
    pub caution: String,
}

/// From when days in steam count: the latest done of all dates that count them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SinceView {
    /// What was done.
    pub what: String,
    /// The day, ISO 8601; that day itself does not count.
    pub on: String,
    /// Days in steam since then, today included when it is one.
    pub steam_days: u32,
}

/// The date with the fewest days in steam left.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BookedView {
    /// What is due.
    pub what: String,
    /// Days in steam left; negative: over.
    pub steam_days_left: i32,
    /// Its last day by the calendar, where it has one, ISO 8601.
    pub last_day: Option<String>,
}

/// One test.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WaterTest {
    /// The sheet.
    pub sheet: String,
    /// The step, by id.
    pub step: String,
    /// The step's title.
    pub title: String,
    /// What it measures.
    pub quantity: &'static str,
    /// Whether it is the test of dissolved solids.
    pub solids: bool,
    /// When it was done, RFC 3339 local.
    pub at: String,
    /// When it was done, short.
    pub at_short: String,
    /// Who did it.
    pub by: String,
    /// What it showed, with its unit.
    pub value: String,
    /// `right`, `warned`, `not-right`, by the step's own limits.
    pub standing: &'static str,
    /// The step's lowest value that counts.
    pub low: Option<String>,
    /// The step's highest value that counts.
    pub high: Option<String>,
    /// Below this there is a warning.
    pub warn_low: Option<String>,
    /// Above this there is a warning.
    pub warn_high: Option<String>,
    /// Days in steam from [`WaterTest::since`] through the day of the test.
    pub steam_days: Option<u32>,
    /// The day from which those count, ISO 8601: the last before the test on which such a date was done.
    pub since: Option<String>,
    /// It counts, but is contested on its sheet.
    pub contested: bool,
}

/// A dose or blowdown worked out, or a dose put in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Treatment {
    /// The sheet.
    pub sheet: String,
    /// The step, by id.
    pub step: String,
    /// The step's title.
    pub title: String,
    /// `dose-worked-out`, `put-in`, `blowdown-worked-out`.
    pub kind: &'static str,
    /// When, RFC 3339 local.
    pub at: String,
    /// When, short.
    pub at_short: String,
    /// By whom.
    pub by: String,
    /// How much, with its unit; of a blowdown the fall of the glass in each round.
    pub value: String,
    /// How often; 0: nothing is to be done.
    pub rounds: u8,
    /// Days in steam from [`Treatment::since`] through the day of it.
    pub steam_days: Option<u32>,
    /// The day from which those count, ISO 8601, as in [`WaterTest::since`].
    pub since: Option<String>,
}

/// The water of `engine` at `now`, from all of its sheets; an engine that nobody tested has an empty log.
pub fn water(ledger: &Ledger, engine: EngineId, now: Now) -> WaterLog {
    water_up_to(ledger, engine, now, SHOWN)
}

/// As [`water()`], with the newest `most` tests and treatments.
pub fn water_up_to(ledger: &Ledger, engine: EngineId, now: Now, most: usize) -> WaterLog {
    let collected = collect::collect(ledger, engine, now);
    let anchors = Anchors::of(ledger, engine, now);
    let view = View { ledger, engine, anchors, moments: Moments::new(ledger.office.zone()), now, most };
    view.log(&collected)
}

struct View<'l> {
    ledger: &'l Ledger,
    engine: EngineId,
    anchors: Anchors<'l>,
    moments: Moments<'l>,
    now: Now,
    most: usize,
}

impl View<'_> {
    fn log(&self, collected: &Collected<'_>) -> WaterLog {
        let (tests, treatments): (Vec<&Found<'_>>, Vec<&Found<'_>>) =
            collected.found.iter().partition(|found| matches!(found.role, Role::Test { .. }));
        let mut notes = collected.notes();
        let solids = self.solids(&tests, &mut notes);
        WaterLog {
            as_of: self.moments.long(self.now.stamp),
            engine: self.engine.0,
            name: self.ledger.office.engines.get(&self.engine).map(|card| card.name.clone()).unwrap_or_default(),
            since: self.anchors.latest().map(|anchor| self.since(anchor)),
            booked: self.anchors.booked(),
            tests: tests.iter().rev().take(self.most).map(|found| self.test(found)).collect(),
            tests_before: tests.len().saturating_sub(self.most),
            treatments: treatments.iter().rev().take(self.most).map(|found| self.treatment(found)).collect(),
            treatments_before: treatments.len().saturating_sub(self.most),
            solids,
            notes,
            caution: self.ledger.adopted().map_or("", |pack| pack.texts().get(text::CAUTION)).to_owned(),
        }
    }

    fn since(&self, anchor: Anchor) -> SinceView {
        SinceView {
            what: self.anchors.name(anchor.due),
            on: anchor.day.to_string(),
            steam_days: self.anchors.steam_days(anchor, self.today()),
        }
    }

    fn today(&self) -> Day {
        Day::of(self.ledger.office.zone().day(self.now.stamp))
    }

    fn day(&self, found: &Found<'_>) -> Day {
        Day::of(self.ledger.office.zone().day(found.at))
    }

    fn test(&self, found: &Found<'_>) -> WaterTest {
        let day = self.day(found);
        let anchor = self.anchors.before(day);
        let [low, high, warn_low, warn_high] = found.limits().map(|limit| limit.map(|l| l.to_string()));
        WaterTest {
            sheet: found.sheet.id.to_string(),
            step: Ids::of(found.file).step_id(found.step.id),
            title: found.file.texts().get(found.step.text).to_owned(),
            quantity: found.value.unit.quantity().name(),
            solids: matches!(found.role, Role::Test { solids: true }),
            at: self.moments.rfc3339(found.at),
            at_short: self.moments.short(found.at, self.now.stamp),
            by: self.person(found),
            value: found.value.to_string(),
            standing: found.standing().key(),
            low,
            high,
            warn_low,
            warn_high,
            steam_days: anchor.map(|anchor| self.anchors.steam_days(anchor, day)),
            since: anchor.map(|anchor| anchor.day.to_string()),
            contested: found.contested,
        }
    }

    fn treatment(&self, found: &Found<'_>) -> Treatment {
        let day = self.day(found);
        let anchor = self.anchors.before(day);
        Treatment {
            sheet: found.sheet.id.to_string(),
            step: Ids::of(found.file).step_id(found.step.id),
            title: found.file.texts().get(found.step.text).to_owned(),
            kind: found.role.key(),
            at: self.moments.rfc3339(found.at),
            at_short: self.moments.short(found.at, self.now.stamp),
            by: self.person(found),
            value: found.value.to_string(),
            rounds: found.rounds,
            steam_days: anchor.map(|anchor| self.anchors.steam_days(anchor, day)),
            since: anchor.map(|anchor| anchor.day.to_string()),
        }
    }

    fn person(&self, found: &Found<'_>) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = PackNames::new(self.ledger, None, self.now.stamp).write(Arg::Person(found.by), &mut out);
        out
    }

    /// Solids since the latest anchor. A test of the anchor's own day is of the water before it, for all that is known.
    fn solids(&self, tests: &[&Found<'_>], notes: &mut Vec<String>) -> Option<SolidsView> {
        let solids: Vec<&Found<'_>> =
            tests.iter().copied().filter(|found| matches!(found.role, Role::Test { solids: true })).collect();
        let Some(anchor) = self.anchors.latest() else {
            if !solids.is_empty() {
                notes.push("no trend: the register has no date that counts days in steam for this engine".to_owned());
            }
            return None;
        };
        let series: Vec<&Found<'_>> = solids.into_iter().filter(|found| self.day(found) > anchor.day).collect();
        let Some(newest) = series.last() else {
            let (what, on) = (self.anchors.name(anchor.due), anchor.day);
            notes.push(format!("no trend: no test of dissolved solids since {what} on {on}"));
            return None;
        };
        let [_, high, _, warn] = newest.limits().map(|limit| limit.and_then(|l| l.value(Own::UNKNOWN)));
        let points = series.iter().filter_map(|found| self.point(anchor, found)).collect();
        let today = self.anchors.steam_days(anchor, self.today());
        Some(outlook::solids(points, high, warn, today, self.anchors.booked().as_ref()))
    }

    fn point(&self, anchor: Anchor, found: &Found<'_>) -> Option<SolidsPoint> {
        Some(SolidsPoint {
            at: self.moments.rfc3339(found.at),
            steam_days: self.anchors.steam_days(anchor, self.day(found)),
            mg_l: found.value.value(Own::UNKNOWN)?,
        })
    }
}
