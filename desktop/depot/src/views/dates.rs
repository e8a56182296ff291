//! Dates coming due, of every engine, what comes first on top.

use offshed_core::engine::EngineState;
use offshed_core::ident::EngineId;
use offshed_core::pack::rows::DueRow;
use offshed_core::stamp::Now;
use offshed_core::verdict::{self, Scene};
use offshed_core::words::{Arg, Names};
use serde::Serialize;

use crate::ids::Ids;
use crate::ledger::{Ledger, PackNames};

/// One date of one engine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DateView {
    /// The engine.
    pub engine: u16,
    /// The engine's name.
    pub name: String,
    /// The date, by id in the pack.
    pub date: String,
    /// What is due.
    pub what: String,
    /// `in-date`, `out-of-date`, `not-known`.
    pub standing: &'static str,
    /// The last day in date; out of date: the last day on which it can have been in date.
    pub last_day: Option<String>,
    /// Days from today through the last day; negative: over.
    pub days_left: Option<i64>,
    /// Days in steam left; negative: over. `None`: they do not count.
    pub steam_days_left: Option<i32>,
    /// The end of a written postponement in force.
    pub postponed_to: Option<String>,
}

impl DateView {
    /// Fewest days that are left, by the calendar or, when it is steamed every day, in steam: what orders the list. Not
    /// known counts as 0: behind what is out of date, before what is in date.
    pub fn fewest(&self) -> i64 {
        // What is over in steam and in date all the same is kept so by a postponement.
        let kept = |left: &i32| self.standing == "in-date" && *left < 0;
        let steam = self.steam_days_left.filter(|left| !kept(left)).map(i64::from);
        match self.standing {
            "in-date" => self.days_left.into_iter().chain(steam).min().unwrap_or(i64::MAX),
            "out-of-date" => self.days_left.into_iter().chain(steam).min().unwrap_or(-1).min(-1),
            _ => 0,
        }
    }
}

/// Every date of the adopted pack that applies to an engine, as it stands at `now`; what runs out first is first.
pub fn dates(ledger: &Ledger, now: Now) -> Vec<DateView> {
    let Some(file) = ledger.adopted() else { return Vec::new() };
    let (pack, names) = (file.pack(), PackNames::new(ledger, Some(file), now.stamp));
    let mut all: Vec<DateView> = Vec::new();
    for (id, card) in &ledger.office.engines {
        let nothing = EngineState::new(*id);
        let engine = ledger.engine(*id).unwrap_or(&nothing);
        let scene = Scene { pack: &pack, register: &ledger.office, engine, sheet: None, left_at: None };
        let applies = |due: &DueRow| due.applies.is_none_or(|feature| card.facts.features.has(feature.0));
        for due in pack.dues().filter(applies) {
            let mut what = String::new();
            // Writing to a string does not fail.
            let _ = names.write(Arg::Due(due.id), &mut what);
            let named = (Ids::of(file).due_id(due.id), what);
            all.push(date(&scene, *id, &card.name, named, due, now));
        }
    }
    all.sort_by_key(|date| (date.fewest(), date.standing != "not-known", date.engine));
    all
}

fn date(scene: &Scene<'_>, engine: EngineId, name: &str, named: (String, String), due: DueRow, now: Now) -> DateView {
    let (date, what) = named;
    let unknown = DateView {
        engine: engine.0,
        name: name.to_owned(),
        date,
        what,
        standing: "not-known",
        last_day: None,
        days_left: None,
        steam_days_left: None,
        postponed_to: None,
    };
    let Ok(standing) = verdict::due_standing(scene, due.id, now) else { return unknown };
    let today = scene.register.zone().day(now.stamp);
    let left = standing.last_day.map(|last| last.signed_duration_since(today).num_days());
    DateView {
        standing: if standing.in_date { "in-date" } else { "out-of-date" },
        last_day: standing.last_day.map(|day| day.to_string()),
        days_left: left,
        steam_days_left: standing.steam_days_left,
        postponed_to: standing.postponed_to.map(|day| day.to_string()),
        ..unknown
    }
}
