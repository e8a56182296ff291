//! `pack.toml`.

use offshed_core::due::{LastDay, Rule as DueRule};
use offshed_core::pack::rows::DefectGrade;

use super::super::cursor::Table;
use super::super::draft::{Due, Event, Grade, Head, State, Voids};
use super::super::model::Role;
use super::{CAUTION, NOTICE, SOURCE, TITLE, named, needs};
use crate::packfile::IDS;

/// Tables of `pack.toml`.
pub(super) const KEYS: [&str; 11] =
    ["pack", "grade", "feature", "state", "fitting", "product", "due", "event", "defects", "fitness", "obligation"];

/// Grades of defects by the words of packs.
pub(super) const DEFECTS: [(&str, DefectGrade); 3] =
    [("note", DefectGrade::Note), ("restricted", DefectGrade::Restricted), ("stopping", DefectGrade::Stopping)];

const PACK: [&str; 7] = ["id", "title", "edition", "language", "caution", "low_water", "retired_steps"];

/// The head; `None` when there is no `[pack]`.
pub(super) fn head(document: &Table<'_>) -> Option<Head> {
    let pack = document.table("pack")?.named("pack".to_owned()).allow("`[pack]`", &PACK);
    let defects = document.table("defects").map(|t| t.allow("`[defects]`", &["cleared_by", "restricted_by"]));
    let fitness = document.table("fitness").map(|t| t.allow("`[fitness]`", &["needs"]));
    for (table, key) in [(&defects, "cleared_by"), (&defects, "restricted_by"), (&fitness, "needs")] {
        if let Some(table) = table {
            table.must(key, "[...]");
        }
    }
    let graded = |key| defects.as_ref().map(|t| t.list(key)).unwrap_or_default();
    Some(Head {
        id: pack.id("id").value,
        title: pack.words("title", TITLE),
        edition: pack.words("edition", TITLE),
        language: language(&pack),
        caution: pack.words("caution", NOTICE),
        low_water: pack.words("low_water", NOTICE),
        retired: pack.numbers("retired_steps", 1..=65_534),
        grades: each(document, "grade", "a grade", &["id", "number", "name", "covers"], grade),
        features: each(document, "feature", "a feature", &["id", "number", "name"], |t| named(t, 1..=63)),
        states: each(document, "state", "a state", &["id", "number", "name", "role"], state),
        fittings: each(document, "fitting", "a fitting", &["id", "number", "name"], |t| named(t, 1..=63)),
        products: each(document, "product", "a product", &["id", "number", "name"], |t| named(t, 1..=63)),
        dues: each(document, "due", "a date", &DUE, due),
        events: each(document, "event", "an event", &EVENT, event),
        cleared_by: graded("cleared_by"),
        restricted_by: graded("restricted_by"),
        fitness: fitness.map(|t| needs::needs(&t, "needs")).unwrap_or_default(),
    })
}

/// A tag of at most eight bytes, and not the name under which ids are kept.
fn language(pack: &Table<'_>) -> String {
    let text = pack.text("language").value;
    let good = |c: char| c.is_ascii_alphanumeric() || c == '-';
    if !pack.is_text("language") {
        // Reported.
    } else if text.is_empty() || text.len() > 8 || !text.chars().all(good) {
        pack.fault(
            "language",
            format!("\"{text}\" is no language tag of at most 8 bytes"),
            "write `language = \"en\"`",
        );
    } else if text == IDS {
        pack.fault("language", format!("\"{text}\" alone is kept for ids"), "write it with its region: `id-ID`");
    }
    text
}

fn each<T>(document: &Table<'_>, key: &str, noun: &str, keys: &[&str], read: impl Fn(&Table<'_>) -> T) -> Vec<T> {
    let tables = document.tables(key, key).into_iter();
    tables.map(|table| read(&table.called(key).allow(noun, keys))).collect()
}

fn grade(table: &Table<'_>) -> Grade {
    Grade { named: named(table, 1..=31), covers: table.list("covers") }
}

fn state(table: &Table<'_>) -> State {
    let roles = [("steam", Role::Steam), ("away", Role::Away), ("unattended", Role::Unattended)];
    State { named: named(table, 0..=15), role: table.choice("role", &roles) }
}

const DUE: [&str; 9] = ["id", "number", "name", "months", "days", "steam_days", "last_day", "applies", "source"];

fn due(table: &Table<'_>) -> Due {
    let count = |key| table.number_opt(key, 1..=65_535).map_or(0, |n| n.value);
    let last_days = [("anniversary", LastDay::Anniversary), ("day-before", LastDay::DayBefore)];
    table.must("last_day", "\"anniversary\"");
    if !["months", "days", "steam_days"].iter().any(|key| table.has(key)) {
        table.say(table.at, "", "a date that never comes", "give `months`, `days` or `steam_days`");
    }
    let rule = DueRule {
        months: u16::try_from(count("months")).unwrap_or(u16::MAX),
        days: count("days"),
        steam_days: count("steam_days"),
        last_day: table.choice("last_day", &last_days).map_or(LastDay::Anniversary, |l| l.value),
    };
    let applies = table.text_opt("applies");
    Due { named: named(table, 1..=63), rule, applies, source: table.words("source", SOURCE) }
}

const EVENT: [&str; 9] = ["id", "number", "name", "by", "voids", "sets", "clears", "opens", "cleared_by"];

fn event(table: &Table<'_>) -> Event {
    let opens = table.choice("opens", &DEFECTS).map(|d| d.value);
    if table.has("cleared_by") && !table.has("opens") {
        table.fault("cleared_by", "there is no defect to clear", "add `opens`, or leave it out");
    }
    Event {
        named: named(table, 1..=250),
        by: table.text("by"),
        voids: voids(table),
        sets: table.list("sets"),
        clears: table.list("clears"),
        opens,
        cleared_by: table.list("cleared_by"),
    }
}

fn voids(table: &Table<'_>) -> Voids {
    if !table.is_text("voids") {
        return Voids::Steps(table.list("voids"));
    }
    if let Some(word) = table.text_opt("voids").filter(|word| word.value != "all") {
        table.say(
            word.at,
            "voids",
            format!("\"{}\" is no list", word.value),
            "write `voids = \"all\"`, or a list of step ids",
        );
    }
    Voids::All
}

/// Bytes of a purpose.
pub(super) const PURPOSE: usize = CAUTION;
