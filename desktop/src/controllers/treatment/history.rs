//! Dissolved solids over the tests on record: a small plot, the rows it is drawn from, and where they are heading.

use offshed_core::boiler::water::trend::{self, FEWEST_TESTS, Limit, NoTrend, Outlook, Test, Z_95};
use offshed_core::ident::EngineId;
use offshed_core::pack::rows::{Figure, KindRow, StepRow};
use offshed_core::pack::slot;
use offshed_core::register::Register;
use offshed_core::sheet::{Outcome, Sheet, Stage};
use offshed_core::stamp::{Day, Stamp};
use offshed_core::units::{Own, Reading};
use offshed_depot::views::Moments;

use super::super::Session;
use super::super::boiler::drawing::{Spot, spot};

/// Tests that are shown; the newest.
const MOST: usize = 12;

/// One test's solids.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SolidsRow {
    /// When.
    pub when: String,
    /// What it showed.
    pub value: String,
}

/// Solids over time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Solids {
    /// The tests in a box, by time and value.
    pub points: Vec<Spot>,
    /// Where the highest value that counts lies in the box, from the top.
    pub limit: Option<f64>,
    /// The highest value that counts, in words.
    pub limit_words: String,
    /// The tests, newest first.
    pub rows: Vec<SolidsRow>,
    /// Where they are heading.
    pub words: String,
}

struct Tested {
    at: Stamp,
    reading: Reading,
    mg_l: f64,
    most: Option<Reading>,
}

/// The solids of an engine's tests on record.
pub(super) fn solids(session: &Session, engine: EngineId) -> Solids {
    let of_it = |sheet: &&Sheet| sheet.engine == engine && matches!(sheet.stage(), Stage::Open | Stage::Finished(_));
    let mut all: Vec<Tested> = session.ledger().sheets().filter(of_it).flat_map(|s| tested(session, s)).collect();
    all.sort_by_key(|tested| tested.at);
    let newest = all.split_off(all.len().saturating_sub(MOST));
    let most = newest.last().and_then(|tested| tested.most);
    let limit = most.and_then(|most| most.value(Own::UNKNOWN));
    let highest = newest.iter().map(|t| t.mg_l).chain(limit).fold(1.0_f64, f64::max) * 1.1;
    let moments = Moments::new(session.zone());
    let now = session.now().stamp;
    let row = |t: &Tested| SolidsRow { when: moments.short(t.at, now), value: t.reading.to_string() };
    Solids {
        points: points(&newest, highest),
        limit: limit.map(|limit| 1.0 - limit / highest),
        limit_words: most.map_or(String::new(), |most| format!("never over {most}")),
        rows: newest.iter().rev().map(row).collect(),
        words: heading(session, engine, &newest, limit),
    }
}

/// The solids that a sheet's figure came to and a person accepted.
fn tested(session: &Session, sheet: &Sheet) -> Vec<Tested> {
    let Some(file) = session.ledger().pack(sheet.pack) else { return Vec::new() };
    let pack = file.pack();
    let found = |step: StepRow| {
        let KindRow::Figure { figure: Figure::Solids, limits, .. } = step.kind else { return None };
        let mark = sheet.mark(pack.place_of(step.id)?)?;
        if mark.outcome == Outcome::Skipped {
            return None;
        }
        let reading = mark.proof.value?;
        let mg_l = reading.value(Own::UNKNOWN)?;
        Some(Tested { at: mark.proof.at, reading, mg_l, most: pack.limit(limits, slot::HIGH) })
    };
    pack.steps(sheet.sequence).filter_map(found).collect()
}

fn points(tests: &[Tested], highest: f64) -> Vec<Spot> {
    let Some((first, last)) = tests.first().zip(tests.last()) else { return Vec::new() };
    let span = last.at.since(first.at).max(1) as f64;
    let place = |t: &Tested| {
        let along = if tests.len() == 1 { 0.5 } else { t.at.since(first.at) as f64 / span };
        spot(0.03 + 0.94 * along, 1.0 - t.mg_l / highest)
    };
    tests.iter().map(place).collect()
}

/// Where the tests are heading, by days in steam.
fn heading(session: &Session, engine: EngineId, tests: &[Tested], limit: Option<f64>) -> String {
    let Some(first) = tests.first() else { return "No solids are on record.".to_owned() };
    let office = &session.ledger().office;
    let (zone, now) = (session.zone(), session.now().stamp);
    let from = Day::of(zone.day(first.at));
    let test = |t: &Tested| {
        // The first test's day counts as the beginning, whether it was in steam or not.
        let days = office.steam_days(engine, from, Day::of(zone.day(t.at)), now);
        Test { steam_days: f64::from(days), value: t.mg_l }
    };
    let tests: Vec<Test> = tests.iter().map(test).collect();
    let trend = match trend::fit(&tests, Z_95) {
        Ok(trend) => trend,
        Err(NoTrend::TooFew { .. }) => return format!("No trend yet: it takes {FEWEST_TESTS} tests or more."),
        Err(why) => return format!("No trend yet: {why}."),
    };
    let slope = trend.slope();
    let change = format!("{:+.0} mg/l a day in steam ({:+.0} to {:+.0}).", slope.value, slope.low, slope.high);
    match limit.and_then(|limit| trend.outlook(Limit::Above(limit)).ok()) {
        None => change,
        Some(outlook) => format!("{change} {}", outlook_words(outlook)),
    }
}

fn outlook_words(outlook: Outlook) -> String {
    match outlook {
        Outlook::Met => "The limit is met.".to_owned(),
        Outlook::In { days, soonest, .. } => {
            format!("The limit in {:.0} days in steam, at the soonest {:.0}.", days.floor(), soonest.floor().max(0.0))
        }
        Outlook::NotApproaching { soonest: Some(days) } => {
            format!(
                "The trend does not lead to the limit; at the worst of its error in {:.0} days in steam.",
                days.floor()
            )
        }
        Outlook::NotApproaching { soonest: None } => "The trend does not lead to the limit.".to_owned(),
    }
}
