//! What stands on each paper.

use std::io::Write;

use offshed_core::ident::{EngineId, SequenceId, SheetId};
use offshed_core::pack::layout::text;
use offshed_core::register::Register;
use serde::Serialize;

use super::data::{Envelope, dates_data, defects_data};
use super::history::{History, Progress};
use super::lines::EntryLine;
use super::paper::{Item, Paper, Row, Table, pdf};
use super::sheet::{self, SheetPaper, StepResult};
use super::write::{ExportFault, Made, Maker, Wanted};
use crate::views::{self, Moments};

/// Makes the paper that is wanted and writes it.
pub(super) fn write(
    maker: &Maker<'_>,
    out: &mut dyn Write,
    progress: &mut dyn FnMut(Progress),
) -> Result<Made, ExportFault> {
    let (paper, lines, check_line) = match maker.wanted {
        Wanted::Sheet(id) => signed(maker, id)?,
        Wanted::History { engine, .. } => history(maker, engine, progress)?,
        Wanted::Defects(engine) => defects(maker, engine)?,
        Wanted::Dates(engine) => dates(maker, engine)?,
        Wanted::Water(engine) => water(maker, engine)?,
        Wanted::Blank(id) => blank(maker, id)?,
        Wanted::Board => return Ok(Made::default()),
    };
    let (bytes, pages) = pdf(&paper)?;
    out.write_all(&bytes)?;
    Ok(Made { lines, pages: Some(pages), check_line, notes: Vec::new() })
}

type Composed = Result<(Paper, u64, Option<String>), ExportFault>;

/// A paper with what every paper says.
fn paper<T: Serialize>(maker: &Maker<'_>, title: String, head: &Envelope<T>, items: Vec<Item>) -> Paper {
    let as_of = Moments::new(maker.ledger.office.zone()).long(maker.now.stamp);
    let digits = head.proof.sha256.get(..16).unwrap_or(&head.proof.sha256);
    let mut paper = Paper {
        title,
        as_of: format!("as of {as_of}"),
        caution: head.caution.clone(),
        mark: format!("{} \u{2013} {} entries \u{2013} digest begins {digits}", head.proof.scope, head.proof.entries),
        at: Some(maker.now.stamp),
        items,
    };
    let doubts = head.doubts.iter().map(|doubt| Item::Boxed(format!("Records are damaged or missing: {doubt}")));
    paper.items.splice(0..0, doubts);
    paper.items.extend(closing(head));
    paper
}

/// How the paper is held against the book, and what it is not.
fn closing<T: Serialize>(head: &Envelope<T>) -> Vec<Item> {
    let proof = &head.proof;
    let mut fields =
        vec![("Check line".to_owned(), proof.check_line.clone()), ("Entries".to_owned(), proof.entries.to_string())];
    fields.extend(proof.sources.blocks.iter().map(|block| ("In the book of".to_owned(), block.words())));
    if proof.sources.unsealed > 0 {
        let words = format!("{} entries were in the journal of a device, in no block yet", proof.sources.unsealed);
        fields.push(("Not in a block".to_owned(), words));
    }
    let mut items = vec![
        Item::Heading("To hold this paper against the book".to_owned()),
        Item::Text("Where the records are: offshed verify --paper \"CHECK LINE\" tells whether the book still says what this \
                    paper was made from. The check line says how far the records went; what came later does not change it."
            .to_owned()),
        Item::Fields(fields),
        Item::Heading("What this paper is not".to_owned()),
        Item::Text("It records what competent people did. It does not make an engine safe, and replaces neither the railway's \
                    rule book, the written scheme of examination, the boiler inspector nor licensed practice. Where they \
                    differ from this paper, the paper is wrong."
            .to_owned()),
    ];
    if !head.caution.is_empty() {
        items.push(Item::Text(head.caution.clone()));
    }
    items
}

fn engine_title(maker: &Maker<'_>, engine: EngineId) -> String {
    let name = maker.ledger.office.engines.get(&engine).map_or("", |card| card.name.as_str());
    if name.is_empty() { format!("No. {engine}") } else { format!("No. {engine} {name}") }
}

/// A moment as it is printed: day, time, offset.
fn moment(rfc3339: &str) -> String {
    let day = rfc3339.get(..10).unwrap_or(rfc3339);
    let time = rfc3339.get(11..16).unwrap_or("");
    let offset = rfc3339.get(19..).unwrap_or("");
    format!("{day} {time} {offset}")
}

/// How an answer stands, in a word.
fn result_word(result: &str) -> &str {
    match result {
        "right" => "right",
        "warned" => "right, WITH A WARNING",
        "not-right" => "NOT RIGHT",
        "not-applicable" => "not applicable",
        "under-way" => "BEGUN, NOT ENDED",
        "not-answered" => "NOT ANSWERED",
        other => other,
    }
}

fn signed(maker: &Maker<'_>, id: SheetId) -> Composed {
    let sheet = maker.sheet(id)?;
    let head = maker.enveloped(())?;
    let engine = maker.ledger.sheet(id).map_or(EngineId(0), |sheet| sheet.engine);
    let title = format!("{}, {}", sheet.title, engine_title(maker, engine));
    let mut items = vec![Item::Fields(sheet_fields(&sheet))];
    items.extend(stage_warning(&sheet).map(Item::Boxed));
    items.push(Item::Heading("Signatures".to_owned()));
    items.push(signatures(&sheet.signatures));
    for stage in &sheet.stages {
        let steps = stage.steps.iter().filter(|step| step.result != "does-not-apply");
        let rows: Vec<Row> = steps.map(step_row).collect();
        if rows.is_empty() {
            continue;
        }
        items.push(Item::Heading(stage.title.clone()));
        items.push(Item::Table(Table {
            columns: vec![("Step", 30), ("Result", 17), ("Answer", 33), ("Who, when", 20)],
            rows,
        }));
    }
    items.extend(absent(&sheet).map(Item::Text));
    contested(&sheet, &mut items);
    items.push(Item::Heading("Every entry, in order".to_owned()));
    items.push(entries(&sheet.entries));
    let check = head.proof.check_line.clone();
    Ok((paper(maker, title, &head, items), sheet.entries.len() as u64, Some(check)))
}

fn sheet_fields(sheet: &SheetPaper) -> Vec<(String, String)> {
    let stage = match (sheet.stage, sheet.ended.as_deref()) {
        ("finished", Some(at)) => format!("finished {}", moment(at)),
        ("abandoned", Some(at)) => format!("given up {}", moment(at)),
        ("joined", Some(into)) => format!("folded into sheet {into}"),
        _ => "open".to_owned(),
    };
    let mut fields = vec![
        ("Sheet", sheet.sheet.clone()),
        ("Opened", format!("{} by {}", moment(&sheet.opened), sheet.opened_by)),
        ("Stage", stage),
        ("Rules", sheet.rules.clone()),
        ("SHA-256 of the rules", sheet.rules_sha256.clone()),
    ];
    fields.extend(sheet.joined.iter().map(|line| ("Folded in", line.clone())));
    fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

fn stage_warning(sheet: &SheetPaper) -> Option<String> {
    let signed = sheet
        .signatures
        .iter()
        .all(|step| matches!(step.result, "right" | "warned" | "not-applicable" | "does-not-apply"));
    match (sheet.stage, signed) {
        ("abandoned", _) => Some("This sheet was given up. It is no proof that the work was finished.".to_owned()),
        ("joined", _) => Some("This sheet was folded into another one, which goes on from it.".to_owned()),
        (_, false) => {
            Some("This sheet does not bear all its signatures. It is no proof that the work was finished.".to_owned())
        }
        _ => None,
    }
}

fn who(step: &StepResult) -> String {
    let with = step.with.as_ref().map(|name| format!(" with {name}")).unwrap_or_default();
    step.by.as_ref().map_or(String::new(), |by| format!("{by}{with}, {}", moment(step.at.as_deref().unwrap_or(""))))
}

fn signatures(steps: &[StepResult]) -> Item {
    let shown = steps.iter().filter(|step| step.result != "does-not-apply");
    let rows = shown.map(|step| {
        let result = result_word(step.result).to_owned();
        let strong = !matches!(step.result, "right" | "not-applicable");
        Row { strong, ..Row::of([step.title.clone(), result, step.answer.clone(), who(step)]) }
    });
    Item::Table(Table {
        columns: vec![("Signature", 30), ("Result", 17), ("Words", 28), ("Who, when", 25)],
        rows: rows.collect(),
    })
}

fn step_row(step: &StepResult) -> Row {
    let strong = matches!(step.result, "not-right" | "warned" | "not-answered" | "under-way");
    Row { strong, ..Row::of([step.title.clone(), result_word(step.result).to_owned(), step.answer.clone(), who(step)]) }
}

/// Steps that the engine lacks what they are about.
fn absent(sheet: &SheetPaper) -> Option<String> {
    let all = sheet.stages.iter().flat_map(|stage| &stage.steps);
    let titles: Vec<&str> =
        all.filter(|step| step.result == "does-not-apply").map(|step| step.title.as_str()).collect();
    (!titles.is_empty()).then(|| format!("Steps that do not apply to this engine: {}.", titles.join("; ")))
}

fn contested(sheet: &SheetPaper, items: &mut Vec<Item>) {
    if sheet.contested.is_empty() {
        return;
    }
    items.push(Item::Heading("Contested: to be looked at".to_owned()));
    let rows = sheet.contested.iter().map(|c| Row::of([c.entry.clone(), c.words.clone()]));
    items.push(Item::Table(Table { columns: vec![("Entry", 25), ("Why", 75)], rows: rows.collect() }));
    if sheet.contested_more > 0 {
        items.push(Item::Text(format!("{} more contested entries are among those below.", sheet.contested_more)));
    }
}

fn entry_row(line: &EntryLine) -> Row {
    let standing = match line.standing {
        "counts" => String::new(),
        other => format!(" [{}]", other.replace('-', " ")),
    };
    let recorded =
        if line.recorded == line.done { String::new() } else { format!(", recorded {}", moment(&line.recorded)) };
    let doubted = if line.clock_doubted { ", clock doubted" } else { "" };
    let when = format!("{}{recorded}{doubted}", moment(&line.done));
    let strong = line.standing != "counts";
    Row { strong, ..Row::of([when, format!("{}{standing}", line.told), line.person_name.clone(), line.entry.clone()]) }
}

fn entries(lines: &[EntryLine]) -> Item {
    let columns = vec![("When", 19), ("What", 48), ("Who", 14), ("Entry", 19)];
    Item::Table(Table { columns, rows: lines.iter().map(entry_row).collect() })
}

/// Whether an entry stands in a history on paper: what was answered right is on its sheet's own paper.
fn told_on_paper(line: &EntryLine) -> bool {
    line.act != "answered"
        || line.standing != "counts"
        || matches!(line.answer, Some("signed" | "reviewed" | "not-right"))
        || line.told.contains("NOT RIGHT")
}

fn history(maker: &Maker<'_>, engine: EngineId, progress: &mut dyn FnMut(Progress)) -> Composed {
    let Wanted::History { from, until, .. } = maker.wanted else {
        return Err(ExportFault::NotHere { what: String::new() });
    };
    let head = maker.enveloped(())?;
    let (mut rows, mut left, mut all) = (Vec::new(), 0u64, 0u64);
    History::new(maker.ledger, engine, from, until).each(progress, |line| -> Result<(), ExportFault> {
        all += 1;
        match told_on_paper(&line) {
            true => rows.push(entry_row(&line)),
            false => left += 1,
        }
        Ok(())
    })?;
    let moments = Moments::new(maker.ledger.office.zone());
    let range = match (from, until) {
        (None, None) => "all that is on record".to_owned(),
        (from, until) => {
            let from = from.map_or("the beginning".to_owned(), |at| moments.long(at));
            let until = until.map_or("the end".to_owned(), |at| moments.long(at));
            format!("from {from} up to {until}")
        }
    };
    let fields = vec![
        ("Covers".to_owned(), range),
        ("Lines".to_owned(), rows.len().to_string()),
        (
            "Not listed".to_owned(),
            format!("{left} answers found right; they stand on their sheets' own papers and in the .csv"),
        ),
    ];
    let columns = vec![("When", 19), ("What", 48), ("Who", 14), ("Entry", 19)];
    let items = vec![Item::Fields(fields), Item::Table(Table { columns, rows })];
    let title = format!("History of {}", engine_title(maker, engine));
    let check = head.proof.check_line.clone();
    Ok((paper(maker, title, &head, items), all, Some(check)))
}

fn defects(maker: &Maker<'_>, engine: Option<EngineId>) -> Composed {
    let all = defects_data(maker.ledger, engine, maker.now);
    let head = maker.enveloped(())?;
    let columns =
        vec![("Engine", 8), ("Grade", 11), ("Found", 30), ("Reported", 19), ("Restriction; what was done", 32)];
    let row = |defect: &views::DefectView| {
        let mut done: Vec<String> = defect.restriction.iter().map(|words| format!("restricted: {words}")).collect();
        done.extend(defect.cleared.iter().map(|words| format!("cleared: {words}")));
        let engine = format!("No. {}", defect.engine);
        let reported = format!("{}, {}", defect.by, defect.at);
        Row {
            strong: defect.open && defect.grade == "stopping",
            ..Row::of([engine, defect.grade.to_owned(), defect.words.clone(), reported, done.join("; ")])
        }
    };
    let mut items = Vec::new();
    for (title, open) in [("Open", true), ("Cleared", false)] {
        let rows: Vec<Row> = all.iter().filter(|defect| defect.open == open).map(row).collect();
        items.push(Item::Heading(format!("{title}: {}", rows.len())));
        if !rows.is_empty() {
            items.push(Item::Table(Table { columns: columns.clone(), rows }));
        }
    }
    let title = engine.map_or("Defects".to_owned(), |id| format!("Defects of {}", engine_title(maker, id)));
    let check = head.proof.check_line.clone();
    Ok((paper(maker, title, &head, items), all.len() as u64, Some(check)))
}

fn dates(maker: &Maker<'_>, engine: Option<EngineId>) -> Composed {
    let all = dates_data(maker.ledger, engine, maker.now);
    let head = maker.enveloped(())?;
    let row = |date: &views::DateView| {
        let left = match (date.days_left, date.steam_days_left) {
            (days, Some(steam)) => {
                let days = days.map(|days| format!("{days} days, ")).unwrap_or_default();
                format!("{days}{steam} days in steam")
            }
            (Some(days), None) => format!("{days} days"),
            (None, None) => String::new(),
        };
        let standing = match date.standing {
            "in-date" => "in date",
            "out-of-date" => "OUT OF DATE",
            _ => "NOT KNOWN",
        };
        let postponed = date.postponed_to.as_ref().map(|day| format!("to {day}")).unwrap_or_default();
        let engine = if date.name.is_empty() {
            format!("No. {}", date.engine)
        } else {
            format!("No. {} {}", date.engine, date.name)
        };
        let day = date.last_day.clone().unwrap_or_default();
        Row {
            strong: date.standing != "in-date",
            ..Row::of([engine, date.what.clone(), standing.to_owned(), day, left, postponed])
        }
    };
    let columns =
        vec![("Engine", 18), ("What", 28), ("Standing", 14), ("Last day", 12), ("Left", 18), ("Postponed", 12)];
    let items = vec![Item::Table(Table { columns, rows: all.iter().map(row).collect() })];
    let title = engine.map_or("Dates".to_owned(), |id| format!("Dates of {}", engine_title(maker, id)));
    let check = head.proof.check_line.clone();
    Ok((paper(maker, title, &head, items), all.len() as u64, Some(check)))
}

fn water(maker: &Maker<'_>, engine: EngineId) -> Composed {
    let log = views::water_up_to(maker.ledger, engine, maker.now, usize::MAX);
    let head = maker.enveloped(())?;
    let mut items = vec![Item::Text(format!("As of {}.", log.as_of))];
    if let Some(since) = &log.since {
        items.push(Item::Text(format!("{} days in steam since {} on {}.", since.steam_days, since.what, since.on)));
    }
    if let Some(solids) = &log.solids {
        items.push(Item::Heading("Dissolved solids".to_owned()));
        items.extend(solids.lines.iter().map(|line| Item::Text(line.clone())));
        items.push(Item::Text(format!("By: {}", solids.basis)));
    }
    items.extend(log.notes.iter().map(|note| Item::Boxed(note.clone())));
    items.push(Item::Heading("Tests, newest first".to_owned()));
    let test = |test: &views::WaterTest| {
        let standing = match (test.standing, test.contested) {
            ("not-right", _) => "NOT RIGHT",
            (_, true) => "contested",
            ("warned", _) => "WARNING",
            _ => "right",
        };
        let limits = [&test.low, &test.high].map(|limit| limit.clone().unwrap_or_else(|| "-".to_owned())).join(" to ");
        let days = test.steam_days.map(|days| days.to_string()).unwrap_or_default();
        Row {
            strong: standing != "right",
            ..Row::of([
                moment(&test.at),
                test.title.clone(),
                test.value.clone(),
                standing.to_owned(),
                limits,
                days,
                test.by.clone(),
            ])
        }
    };
    let columns = vec![
        ("When", 20),
        ("Test", 17),
        ("Value", 14),
        ("Standing", 11),
        ("Low to high", 18),
        ("Steam days", 7),
        ("Who", 13),
    ];
    items.push(Item::Table(Table { columns, rows: log.tests.iter().map(test).collect() }));
    items.push(Item::Heading("Doses and blowdowns, newest first".to_owned()));
    let done = |done: &views::Treatment| {
        let value = if done.rounds > 1 { format!("{} x {}", done.rounds, done.value) } else { done.value.clone() };
        let value = if done.rounds == 0 { "none needed".to_owned() } else { value };
        Row::of([moment(&done.at), done.title.clone(), done.kind.replace('-', " "), value, done.by.clone()])
    };
    let columns = vec![("When", 22), ("What", 30), ("Kind", 18), ("How much", 15), ("Who", 15)];
    items.push(Item::Table(Table { columns, rows: log.treatments.iter().map(done).collect() }));
    let title = format!("Water of {}", engine_title(maker, engine));
    let lines = (log.tests.len() + log.treatments.len()) as u64;
    let check = head.proof.check_line.clone();
    Ok((paper(maker, title, &head, items), lines, Some(check)))
}

fn blank(maker: &Maker<'_>, id: SequenceId) -> Composed {
    let cure = "no rules are adopted, or they have no such sequence: `offshed pack adopt FILE --by PERSON`";
    let missing = || ExportFault::NotHere { what: cure.to_owned() };
    let file = maker.ledger.adopted().ok_or_else(missing)?;
    let blank = sheet::blank(maker.ledger, file, id, maker.now).ok_or_else(missing)?;
    let mut items = vec![
        Item::Text(blank.purpose.clone()),
        Item::Fields(vec![
            ("Rules".to_owned(), blank.rules.clone()),
            ("SHA-256 of the rules".to_owned(), blank.rules_sha256.clone()),
        ]),
        Item::Table(Table {
            columns: vec![("Engine", 20), ("Day", 20), ("Begun at", 20), ("Crew", 40)],
            rows: vec![Row { least: 26, ..Row::of([String::new(), String::new(), String::new(), String::new()]) }],
        }),
        Item::Boxed(
            "On paper nothing is locked. Work in the order of this sheet, answer what was seen and nothing else, and \
                     report what is not right at once. Enter the sheet into the records as a day script afterwards."
                .to_owned(),
        ),
    ];
    let mut number = 0;
    for (title, steps) in &blank.stages {
        let row = |step: &sheet::BlankStep| {
            number += 1;
            let only = step.only_with.as_ref().map(|feature| format!(" (only with: {feature})")).unwrap_or_default();
            let caution = if step.caution.is_empty() { String::new() } else { format!(" CAUTION: {}", step.caution) };
            let what = format!("{}{only}. {}{caution}", step.title, step.instruction);
            let cells = [number.to_string(), what, step.by.clone(), step.asks.join("; "), String::new(), String::new()];
            Row { least: 30, ..Row::of(cells) }
        };
        let rows = steps.iter().map(row).collect();
        items.push(Item::Heading(title.clone()));
        let columns =
            vec![("No.", 5), ("What to do", 43), ("By", 11), ("Asks", 18), ("Found", 13), ("Time, initials", 10)];
        items.push(Item::Table(Table { columns, rows }));
    }
    items.push(Item::Text(
        "It records what competent people did. It does not make an engine safe. The railway's rule book and \
                           competent persons come first."
            .to_owned(),
    ));
    let paper = Paper {
        title: format!("{} \u{2013} blank sheet", blank.title),
        as_of: blank.rules.clone(),
        caution: file.texts().get(text::CAUTION).to_owned(),
        mark: format!("rules {}", blank.rules_sha256.get(..16).unwrap_or(&blank.rules_sha256)),
        at: Some(maker.now.stamp),
        items,
    };
    Ok((paper, number, None))
}
