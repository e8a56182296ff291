//! A sequence file: its stages, steps and parts.

use offshed_core::limits::{PARTS_PER_PROCEDURE, STEPS_PER_SHEET};
use offshed_core::units::{Own, Quantity, Reading, Unit};

use super::super::cursor::Table;
use super::super::draft::{Kind, NO_READING, NO_UNIT, Sequence, Step};
use super::super::measure::seconds;
use super::super::model::{Ask, Kind as Ready, Part};
use super::head::{DEFECTS, PURPOSE};
use super::{CAUTION, INSTRUCTION, SOURCE, TITLE, figure, needs};

/// Keys every step may have.
const COMMON: [&str; 19] = [
    "id", "number", "stage", "title", "do", "caution", "minutes", "source", "kind", "by", "needs", "voids", "sets",
    "clears", "life", "shared", "applies", "closes", "fails",
];

/// Kinds, each with its own keys.
const KINDS: [(&str, &[&str]); 8] = [
    ("check", &["not_applicable"]),
    ("reading", &["not_applicable", "quantity", "unit", "low", "high", "warn_low", "warn_high"]),
    ("identity", &["not_applicable", "fitting"]),
    ("choice", &["not_applicable", "options"]),
    ("timed", &["not_applicable", "at_least", "at_most", "quantity", "unit", "max_fall", "min_rise"]),
    ("derived", &figure::KEYS),
    ("procedure", &["not_applicable", "part"]),
    ("signature", &["review"]),
];

/// The sequence of a file; `None` when it has no `[sequence]`.
pub(super) fn sequence(document: &Table<'_>) -> Option<Sequence> {
    let table = document.table("sequence")?.called("sequence");
    let table = table.allow("`[sequence]`", &["id", "number", "title", "purpose", "by"]);
    let stage = |t: Table<'_>| {
        let t = t.called("stage").allow("a stage", &["id", "title"]);
        (t.id("id"), t.words("title", TITLE))
    };
    let steps: Vec<Step> = document.tables("step", "step").into_iter().map(step).collect();
    if steps.is_empty() {
        table.say(table.at, "", "a sequence without steps", "add a `[[step]]`");
    }
    if let Some(over) = steps.get(STEPS_PER_SHEET) {
        let what = format!("{} steps in one sequence; at most {STEPS_PER_SHEET}", steps.len());
        document.say(over.at, "", what, "split the sequence");
    }
    if !steps.is_empty() && !steps.iter().any(|s| s.closes) {
        table.say(table.at, "", "no step closes it, so its sheets never end", "add `closes = true` to its last step");
    }
    Some(Sequence {
        id: table.id("id"),
        number: table.byte("number", 1..=255),
        title: table.words("title", TITLE),
        purpose: table.words("purpose", PURPOSE),
        by: table.text_opt("by"),
        stages: document.tables("stage", "stage").into_iter().map(stage).collect(),
        steps,
    })
}

fn step(table: Table<'_>) -> Step {
    let table = table.called("step").named_noun("a step");
    let word = table.text("kind");
    let known = KINDS.iter().find(|(kind, _)| *kind == word.value);
    let table = match known {
        Some((kind, own)) => {
            let keys: Vec<&str> = COMMON.iter().chain(own.iter()).copied().collect();
            let article = if kind.starts_with('i') { "an" } else { "a" };
            table.allow(&format!("{article} `{kind}` step"), &keys)
        }
        None => table,
    };
    let kind = match known {
        Some((kind, _)) => read_kind(&table, kind),
        None => {
            if table.is_text("kind") {
                let kinds = KINDS.iter().map(|(kind, _)| *kind);
                let cure = super::super::complaint::suggest(&word.value, kinds, "kind");
                table.say(word.at, "kind", format!("\"{}\" is no kind of step", word.value), cure);
            }
            Kind::Ready(Ready::Check)
        }
    };
    Step {
        id: table.id("id"),
        number: table.number("number", 1..=65_534),
        stage: table.text("stage"),
        title: table.words("title", TITLE),
        instruction: table.words("do", INSTRUCTION),
        caution: table.words_opt("caution", CAUTION).unwrap_or_default(),
        source: table.words("source", SOURCE),
        minutes: table.byte("minutes", 1..=240).value,
        kind,
        by: table.text_opt("by"),
        needs: needs::needs(&table, "needs"),
        voids: table.list("voids"),
        sets: table.list("sets"),
        clears: table.list("clears"),
        life_seconds: life(&table),
        ends_with_day: table.text_opt("life").is_some_and(|text| text.value == "day"),
        shared: table.flag("shared"),
        skippable: table.flag("not_applicable"),
        closes: table.flag("closes"),
        applies: table.text_opt("applies"),
        fails: fails(&table, &word.value),
        at: table.at,
    }
}

fn life(table: &Table<'_>) -> u32 {
    match table.text_opt("life") {
        Some(text) if !matches!(text.value.as_str(), "sheet" | "day") => {
            table.duration("life", 1_000).map_or(0, seconds)
        }
        _ => 0,
    }
}

fn fails(table: &Table<'_>, kind: &str) -> Option<offshed_core::pack::rows::DefectGrade> {
    let mut words = vec![("none", None)];
    words.extend(DEFECTS.map(|(word, grade)| (word, Some(grade))));
    let fails = table.choice("fails", &words).and_then(|f| f.value);
    if kind == "signature" && fails.is_some() {
        table.fault(
            "fails",
            "a signature is never \"not right\"",
            "leave it out; a review that stops opens a defect by itself",
        );
    }
    fails
}

fn read_kind(table: &Table<'_>, kind: &str) -> Kind {
    Kind::Ready(match kind {
        "check" => Ready::Check,
        "reading" => reading(table),
        "identity" => return Kind::Identity(table.text("fitting")),
        "choice" => Ready::Choice(options(table)),
        "timed" => timed(table),
        "derived" => return figure::derived(table),
        "procedure" => Ready::Procedure(parts(table)),
        _ => Ready::Signature { review: table.flag("review") },
    })
}

/// Two limits that are the wrong way round, where they can be compared.
pub(super) fn ordered(table: &Table<'_>, low: (&str, Option<Reading>), high: (&str, Option<Reading>)) {
    if let (Some(a), Some(b)) = (low.1, high.1)
        && above(a, b)
    {
        table.fault(low.0, format!("`{}` {a} is above `{}` {b}", low.0, high.0), "swap them, or correct one");
    }
}

/// Whether `a` is above `b`; a share of a glass and a length of it can't be compared.
pub(in crate::authoring) fn above(a: Reading, b: Reading) -> bool {
    if a.unit == b.unit {
        return a.milli > b.milli;
    }
    let base = |r: Reading| r.in_base(r.unit.quantity(), Own::UNKNOWN).ok();
    matches!((base(a), base(b)), (Some(a), Some(b)) if a > b)
}

fn reading(table: &Table<'_>) -> Ready {
    let Some(unit) = table.unit() else {
        return Ready::Reading { unit: NO_UNIT, low: None, high: None, warn_low: None, warn_high: None };
    };
    let limit = |key| table.limit(key, unit.quantity(), unit);
    let (low, high) = (limit("low"), limit("high"));
    let (warn_low, warn_high) = (limit("warn_low"), limit("warn_high"));
    ordered(table, ("low", low), ("high", high));
    ordered(table, ("warn_low", warn_low), ("warn_high", warn_high));
    ordered(table, ("low", low), ("warn_low", warn_low));
    ordered(table, ("warn_high", warn_high), ("high", high));
    ordered(table, ("warn_low", warn_low), ("high", high));
    ordered(table, ("low", low), ("warn_high", warn_high));
    Ready::Reading { unit, low, high, warn_low, warn_high }
}

fn options(table: &Table<'_>) -> Vec<(String, bool)> {
    table.must("options", "[ { title = \"...\", passes = true } ]");
    let mut options: Vec<(String, bool)> = Vec::new();
    for option in table.tables("options", "option") {
        let option = option.named(format!("{}, options", table.subject)).allow("an option", &["title", "passes"]);
        let title = option.words("title", TITLE);
        option.must("passes", "true");
        if options.iter().any(|(known, _)| *known == title) {
            option.fault("title", format!("two options are called \"{title}\""), "give each words of its own");
        }
        options.push((title, option.flag("passes")));
    }
    if table.has("options") && !options.iter().any(|(_, passes)| *passes) {
        table.fault("options", "no option passes, so the step never proves anything", "write `passes = true` at one");
    }
    if options.len() > 255 {
        table.fault("options", format!("{} options; at most 255", options.len()), "ask in two steps");
    }
    options
}

fn timed(table: &Table<'_>) -> Ready {
    table.must("at_least", "\"60 s\"");
    let (at_least, at_most) = (table.duration("at_least", 100), table.duration("at_most", 100));
    ordered(table, ("at_least", at_least), ("at_most", at_most));
    let moves = table.has("max_fall") || table.has("min_rise");
    let reads = table.has("quantity") || table.has("unit");
    if reads && !moves {
        table.say(table.at, "quantity", "a reading that may move as it likes", "give `max_fall` or `min_rise`");
    }
    let unit = if reads || moves { table.unit() } else { None };
    let moved = |key| unit.and_then(|u| table.difference(key, u.quantity(), u));
    let at_least = at_least.unwrap_or(NO_READING);
    Ready::Timed { at_least, at_most, unit, max_fall: moved("max_fall"), min_rise: moved("min_rise") }
}

fn parts(table: &Table<'_>) -> Vec<Part> {
    let mut parts: Vec<Option<Part>> = Vec::new();
    for part_table in table.tables("part", "part") {
        let subject = format!("{}, part {}", table.subject, parts.len() + 1);
        let part_table = part_table.named(subject);
        if parts.len() == PARTS_PER_PROCEDURE {
            let what = format!("more than {PARTS_PER_PROCEDURE} parts");
            part_table.say(part_table.at, "", what, "make two steps of it");
        }
        let part = part(&part_table, &parts);
        parts.push(part);
    }
    if parts.is_empty() {
        table.say(table.at, "part", "a procedure without parts", "add a `[[step.part]]`");
    }
    parts.into_iter().flatten().collect()
}

const ASKS: [(&str, &[&str]); 5] = [
    ("seen", &["do", "ask"]),
    ("reading", &["do", "ask", "quantity", "unit", "low", "high"]),
    ("time", &["do", "ask", "at_least", "at_most"]),
    ("same", &["do", "ask", "as", "within"]),
    ("rise", &["do", "ask", "from", "timed_by", "at_least", "over", "delivery", "highest"]),
];

/// One part; `None` when it was reported, so that parts which refer to it are not reported as well.
fn part(table: &Table<'_>, before: &[Option<Part>]) -> Option<Part> {
    table.must("ask", "\"seen\"");
    let found = table.choice("ask", &ASKS.map(|(ask, keys)| (ask, (ask, keys))));
    let (ask, keys) = found?.value;
    let table = table.again().allow(&format!("a part that asks `{ask}`"), keys);
    let instruction = table.words("do", INSTRUCTION);
    let ask = match ask {
        "seen" => Ask::Seen,
        "reading" => part_reading(&table)?,
        "time" => time(&table),
        "same" => same(&table, before)?,
        _ => rise(&table, before)?,
    };
    Some(Part { instruction, ask })
}

fn part_reading(table: &Table<'_>) -> Option<Ask> {
    let unit = table.unit()?;
    let limit = |key| table.limit(key, unit.quantity(), unit);
    let (low, high) = (limit("low"), limit("high"));
    ordered(table, ("low", low), ("high", high));
    Some(Ask::Reading { unit, low, high })
}

fn time(table: &Table<'_>) -> Ask {
    let (at_least, at_most) = (table.duration("at_least", 100), table.duration("at_most", 100));
    if !table.has("at_least") && !table.has("at_most") {
        table.say(table.at, "at_most", "a time that may be anything", "give `at_most` or `at_least`");
    }
    ordered(table, ("at_least", at_least), ("at_most", at_most));
    Ask::Time { at_least, at_most }
}

/// The unit of an earlier part's reading, and its place from 0.
fn earlier(table: &Table<'_>, key: &str, before: &[Option<Part>]) -> Option<(u8, Unit)> {
    let number = table.byte(key, 1..=255);
    let part = usize::from(number.value).checked_sub(1)?;
    match before.get(part).map(|p| p.as_ref().map(|p| p.ask.unit())) {
        Some(Some(Some(unit))) => Some((number.value - 1, unit)),
        // That part was reported.
        Some(None) => None,
        Some(Some(None)) => {
            table.say(number.at, key, format!("part {} takes no reading", number.value), "name a part that does");
            None
        }
        None => {
            let what = format!("part {} does not come before this one", number.value);
            table.say(number.at, key, what, "name an earlier part; parts count from 1");
            None
        }
    }
}

fn same(table: &Table<'_>, before: &[Option<Part>]) -> Option<Ask> {
    table.must("within", "\"12 mm\"");
    let (part, unit) = earlier(table, "as", before)?;
    let within = table.difference("within", unit.quantity(), unit).unwrap_or(NO_READING);
    Some(Ask::Same { unit, part, within })
}

fn rise(table: &Table<'_>, before: &[Option<Part>]) -> Option<Ask> {
    for (key, example) in [("at_least", "\"10 mm\""), ("over", "\"1 min\"")] {
        table.must(key, example);
    }
    let timed = table.byte("timed_by", 1..=255);
    let timer = usize::from(timed.value).checked_sub(1).map(|n| before.get(n));
    let times = |part: &Option<Part>| part.as_ref().is_none_or(|p| matches!(p.ask, Ask::Time { .. }));
    if timer.is_some_and(|part| !part.is_some_and(times)) {
        let what = format!("part {} is no earlier part that asks `time`", timed.value);
        table.say(timed.at, "timed_by", what, "name the part that measures the time; parts count from 1");
    }
    let over = table.duration("over", 100).unwrap_or(NO_READING);
    let (part, unit) = earlier(table, "from", before)?;
    let rise = table.difference("at_least", unit.quantity(), unit);
    if rise.is_some_and(|rise| rise.milli == 0) {
        table.fault("at_least", "a rise of nothing proves nothing", "give the least rise that shows the feed works");
    }
    let delivery = delivery(table, unit);
    let timed_by = timed.value.saturating_sub(1);
    Some(Ask::Rise { unit, part, timed_by, rise: rise.unwrap_or(NO_READING), over, delivery })
}

/// The least delivery, and the highest reading at which a rise is believed; both or neither.
fn delivery(table: &Table<'_>, unit: Unit) -> Option<(Reading, Reading)> {
    match (table.has("delivery"), table.has("highest")) {
        (false, false) => return None,
        (true, false) => table.say(table.at, "highest", "a delivery without it", "add `highest = \"75 %\"`"),
        (false, true) => table.say(table.at, "delivery", "`highest` without it", "add `delivery = \"40 l/min\"`"),
        (true, true) if unit.quantity() != Quantity::Glass => {
            table.fault(
                "delivery",
                "told only from a gauge glass",
                "let the earlier part read a glass, or leave it out",
            );
        }
        (true, true) => {}
    }
    let delivery = table.limit("delivery", Quantity::Flow, Unit::LitrePerMinute)?;
    Some((delivery, table.limit("highest", unit.quantity(), unit)?))
}
