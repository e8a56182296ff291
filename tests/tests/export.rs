//! Exports: what a paper was made from is found again in the book; tables, calendars and pages say what the records say.

use std::io::Write;

use offshed_core::ident::{EngineId, PersonId, SequenceId, SheetId};
use offshed_core::stamp::Now;
use offshed_depot::export::{self, Form, Kept, Made, Origin, Proof, Retention, Scope, Wanted, columns};
use offshed_depot::import::{self, Kind, Options};
use offshed_depot::ledger::Ledger;
use offshed_depot::shed;
use offshed_tests::{Day, TO_THE_FEEDS, TO_THE_REVIEW, day, root};

fn reviewed() -> Day {
    day(&[TO_THE_FEEDS, TO_THE_REVIEW])
}

fn now(day: &Day) -> Now {
    Now::good(day.at("2026-05-02 08:00"))
}

fn sheet_of(ledger: &Ledger) -> SheetId {
    ledger.sheets().next().expect("a sheet").id
}

fn made(day: &Day, wanted: Wanted, form: Form) -> (Vec<u8>, Made) {
    let (_, _, folder) = shed::look(&day.folder.path().join("shed")).expect("the folder");
    let origin = Origin { ledger: &day.ledger, folder: Some(&folder), doubts: &[] };
    let mut out = Vec::new();
    let made = export::write(origin, (wanted, form), now(day), &mut out, &mut |_| {}).expect("an export");
    (out, made)
}

fn text(day: &Day, wanted: Wanted, form: Form) -> String {
    String::from_utf8(made(day, wanted, form).0).expect("UTF-8")
}

/// SHA-256 of the records as `EXPORTS.md` ("The check line") says it is made, by the words there alone.
#[test]
fn a_check_line_is_made_as_documented() {
    use sha2::{Digest, Sha256};
    let day = reviewed();
    let id = sheet_of(&day.ledger);
    let mut bytes = format!("offshed paper 1\nsheet:{id}\n").into_bytes();
    let mut count = 0;
    for entry in day.ledger.entries().filter(|entry| entry.sheet() == Some(id)) {
        let mut buffer = [0; 512];
        let entry = entry.encode(&mut buffer).expect("bytes");
        bytes.extend([(entry.len() % 256) as u8, (entry.len() / 256) as u8]);
        bytes.extend(entry);
        count += 1;
    }
    let proof = Proof::of(&day.ledger, Scope::Sheet(id));
    let digits: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!((proof.entries, proof.to_string().split(" sha256 ").nth(1)), (count, Some(digits.as_str())));
}

#[test]
fn a_paper_agrees_with_its_book_whatever_comes_later_and_not_with_another() {
    let day = reviewed();
    let id = sheet_of(&day.ledger);
    let early = day.ledger.as_of(day.at("2026-05-02 07:00"));
    let line = Proof::of(&early, Scope::Sheet(id)).to_string();
    let found = export::check(&day.ledger, &line).expect("a check line");
    assert!(found.agrees && found.since > 0 && found.short.is_empty(), "{found:?}");
    // As a person types it: in lines, the first sixteen digits, capitals.
    let (head, digits) = line.rsplit_once(' ').expect("digits");
    let typed = format!("{}\n  {}", head.replace(" to ", "\nto "), digits[..16].to_uppercase());
    assert!(export::check(&day.ledger, &typed).expect("a check line").agrees);

    let other = if digits.starts_with('0') { '1' } else { '0' };
    let forged = format!("{head} {other}{}", &digits[1..]);
    assert!(!export::check(&day.ledger, &forged).expect("a check line").agrees);
    let whole = Proof::of(&day.ledger, Scope::Sheet(id)).to_string();
    let short = export::check(&early, &whole).expect("a check line");
    assert!(!short.agrees && !short.short.is_empty(), "{short:?}");
    for (bad, says) in [
        ("", "a check line is"),
        ("sheet:1 to 2 sha256 0011223344556677", "no scope"),
        ("all to 2 sha256 0011223344556677", "no entry"),
        ("all to none sha256 00112233", "16 to 64"),
        ("all to none sha256 00112233445566zz", "16 to 64"),
    ] {
        let fault = export::check(&day.ledger, bad).expect_err("refused");
        assert!(fault.problem.contains(says), "{bad}: {fault}");
    }
}

#[test]
fn every_entry_of_an_engine_is_in_its_history_and_every_block_is_named() {
    let day = reviewed();
    let scope = Scope::Engine(EngineId(4));
    let proof = Proof::of(&day.ledger, scope);
    let wanted = Wanted::History { engine: EngineId(4), from: None, until: None };
    let (json, history) = made(&day, wanted, Form::Json);
    assert_eq!(history.lines, proof.entries);
    let json: serde_json::Value = serde_json::from_slice(&json).expect("JSON");
    assert_eq!(json["data"].as_array().map(Vec::len), Some(proof.entries as usize));
    assert_eq!(json["proof"]["check_line"], proof.to_string());
    // A signature seals, so what came before the last review is in blocks; each block's run begins with the first.
    let blocks = json["proof"]["blocks"].as_array().expect("blocks");
    assert!(!blocks.is_empty() && blocks[0]["last_hash"].as_str().is_some_and(|hash| hash.len() == 64));
    assert_eq!(json["proof"]["unsealed"], 0);
    assert_eq!(json["data"][0]["act"], "registered");
    assert!(json["data"].as_array().into_iter().flatten().any(|line| line["answer"] == "reviewed"));
}

/// RFC 4180, section 2: lines end in CRLF, each has as many fields as the first, quotes are doubled inside quotes.
#[test]
fn tables_keep_to_the_standard_and_to_their_columns() {
    let rows = "07:10,,21,4,defect,,restricted,,d,\"says \"\"stiff\"\", then\nstuck\"\n";
    let day = day(&[TO_THE_FEEDS, rows]);
    let text = text(&day, Wanted::Defects(None), Form::Csv);
    let head = columns::DEFECTS.join(",");
    assert!(text.starts_with(&format!("{head}\r\n")), "{text}");
    assert!(text.ends_with("\r\n") && text.contains("\"\"\"says \"\"stiff\"\", then\nstuck\"\"\""), "{text}");
    for (wanted, columns) in [
        (Wanted::Sheet(sheet_of(&day.ledger)), columns::ENTRIES.len()),
        (Wanted::Dates(None), columns::DATES.len()),
        (Wanted::Water(EngineId(4)), columns::WATER.len()),
    ] {
        let head = String::from_utf8(made(&day, wanted, Form::Csv).0).expect("UTF-8");
        let head = head.lines().next().expect("a head line").to_owned();
        assert_eq!(head.split(',').count(), columns);
    }
}

/// `EXPORTS.md` names every column.
#[test]
fn every_column_is_documented() {
    let doc = std::fs::read_to_string(root().join("desktop/depot/EXPORTS.md")).expect("EXPORTS.md");
    let all = columns::ENTRIES.iter().chain(&columns::DEFECTS).chain(&columns::DATES).chain(&columns::WATER);
    for column in all {
        assert!(doc.contains(&format!("`{column}`")), "EXPORTS.md does not name `{column}`");
    }
}

/// RFC 5545, sections 3.6.1 and 3.8.4.7: an all-day event's end is the day after; its identifier stays the same.
#[test]
fn a_calendar_has_each_last_day_once_and_tells_what_has_none() {
    let day = reviewed();
    let (bytes, made) = made(&day, Wanted::Dates(Some(EngineId(4))), Form::Ics);
    let text = String::from_utf8(bytes).expect("UTF-8").replace("\r\n ", "");
    let events: Vec<&str> = text.split("BEGIN:VEVENT").skip(1).collect();
    assert_eq!(events.len() as u64, made.lines);
    let of = |event: &str, key: &str| event.lines().find_map(|line| line.strip_prefix(key).map(str::to_owned));
    let mut uids: Vec<String> = events.iter().filter_map(|event| of(event, "UID:")).collect();
    uids.sort();
    uids.dedup();
    assert_eq!(uids.len(), events.len());
    // The examination of 2025-09-02 lasts 14 months in the practice pack: the table of dates says its last day.
    let examination = events.iter().find(|event| event.contains("due-4-examination@")).expect("the examination");
    let shown = offshed_depot::views::dates(&day.ledger, now(&day));
    let shown = shown.iter().find(|date| date.engine == 4 && date.date == "examination").expect("the date");
    let wanted = shown.last_day.as_ref().expect("a day").replace('-', "");
    assert_eq!(of(examination, "DTSTART;VALUE=DATE:"), Some(wanted));
    let undated = offshed_depot::views::dates(&day.ledger, now(&day));
    let undated = undated.iter().filter(|date| date.engine == 4 && date.last_day.is_none()).count();
    assert_eq!(made.notes.len(), undated);
    let again = calendar(&day);
    assert!(uids.iter().all(|uid| again.contains(uid.as_str())));
}

fn calendar(day: &Day) -> String {
    text(day, Wanted::Dates(None), Form::Ics).replace("\r\n ", "")
}

#[test]
fn the_board_page_stands_alone_and_writes_markup_out() {
    let rows = "07:10,,21,4,defect,,note,,d,<b>loose</b> & \"bent\"\n";
    let day = day(&[TO_THE_FEEDS, rows]);
    let page = text(&day, Wanted::Board, Form::Html);
    assert!(page.contains("&lt;b&gt;loose&lt;/b&gt; &amp; &quot;bent&quot;") && !page.contains("<b>loose"), "{page}");
    for outside in ["<script", "http://", "https://", "src=", "@import", "url("] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(page.contains("not live") && page.contains("2026-05-02 08:00 +01:00"));
}

#[test]
fn a_form_that_does_not_fit_and_an_engine_that_is_not_there_are_refused() {
    let day = reviewed();
    let origin = Origin { ledger: &day.ledger, folder: None, doubts: &[] };
    let mut out = Vec::new();
    for (wanted, form, says) in [
        (Wanted::Board, Form::Csv, "board can be written as .html"),
        (Wanted::Defects(None), Form::Ics, "defects can be written as .pdf, .csv, .json"),
        (Wanted::Water(EngineId(99)), Form::Csv, "no engine 99"),
        (Wanted::Blank(SequenceId(99)), Form::Pdf, "no such sequence"),
        (Wanted::Sheet(offshed_core::ident::EntryRef { device: Default::default(), seq: 1 }), Form::Pdf, "not here"),
    ] {
        let fault = export::write(origin, (wanted, form), now(&day), &mut out, &mut |_| {}).expect_err("refused");
        assert!(fault.to_string().contains(says), "{fault}");
    }
    assert!(out.is_empty());
}

/// Every paper comes out as the writer of PDF/A-2a wants it, twice the same; what it says is compared outside
/// (`tests/outside`).
#[test]
fn papers_are_made_and_twice_the_same() {
    // A character that the bundled font lacks, and words longer than a line.
    let rows = format!("07:10,,21,4,defect,,restricted,,d,\u{4e2d} {}\n", "w".repeat(200));
    let day = day(&[TO_THE_FEEDS, &rows]);
    let ids = [1, 2, 3, 4, 5, 6, 7].map(|n| Wanted::Blank(SequenceId(n)));
    let known = |wanted: &Wanted| match wanted {
        Wanted::Blank(id) => day.ledger.adopted().is_some_and(|file| file.pack().sequence(*id).is_some()),
        _ => true,
    };
    let engine = EngineId(4);
    let mut all = vec![
        Wanted::Sheet(sheet_of(&day.ledger)),
        Wanted::History { engine, from: None, until: Some(day.at("2026-05-02 06:00")) },
        Wanted::Defects(None),
        Wanted::Dates(None),
        Wanted::Water(engine),
    ];
    all.extend(ids.into_iter().filter(known));
    for wanted in all {
        let (bytes, told) = made(&day, wanted, Form::Pdf);
        assert!(bytes.starts_with(b"%PDF-1.7") && told.pages.is_some_and(|pages| pages > 0), "{wanted:?}");
        assert_eq!(made(&day, wanted, Form::Pdf).0, bytes, "{wanted:?}");
        if let Ok(folder) = std::env::var("OFFSHED_PAPERS") {
            let name = format!("{wanted:?}").chars().filter(char::is_ascii_alphanumeric).take(40).collect::<String>();
            let mut file = std::fs::File::create(format!("{folder}/{name}.pdf")).expect("a file");
            file.write_all(&bytes).expect("written");
        }
    }
}

#[test]
fn a_name_taken_out_is_on_no_export_and_the_paper_still_agrees() {
    let day = day(&[TO_THE_FEEDS, TO_THE_REVIEW, "07:50,,1,,person,1,\n"]);
    let id = sheet_of(&day.ledger);
    let before = day.ledger.as_of(day.at("2026-05-02 07:45"));
    // Not even a look back tells it.
    assert_eq!(before.office.people[&PersonId(1)].name, "");
    let engine = EngineId(4);
    for wanted in [Wanted::Sheet(id), Wanted::History { engine, from: None, until: None }] {
        for form in [Form::Csv, Form::Json] {
            let told = text(&day, wanted, form);
            assert!(told.contains("person 1") && !told.contains("Moss Orrin"), "{told}");
        }
    }
    let line = Proof::of(&before, Scope::Sheet(id)).to_string();
    let found = export::check(&day.ledger, &line).expect("a check line");
    assert!(found.agrees && found.since == 0, "{found:?}");
}

/// A folder at work with the register of a day, at 08:00 on it.
fn at_work(rows: &[&str]) -> (Day, shed::Shed, Now) {
    let day = day(rows);
    let shed = shed::Shed::open(&day.folder.path().join("shed")).expect("the folder");
    let now = now(&day);
    (day, shed, now)
}

fn imported(shed: &mut shed::Shed, kind: Kind, text: &str, options: Options, now: Now) -> import::Report {
    let table = import::read(kind, text, &[]).expect("a table");
    import::import(shed, &table, options, PersonId(1), now).expect("an import")
}

const ENGINES: &str =
    "number,name,glass,pressure,has\r\n4,,,,\r\n31,Sorrel,200 mm,160 psi,second-glass steam-brake\r\n";

#[test]
fn an_import_writes_once_and_a_trial_writes_nothing() {
    let (_day, mut shed, now) = at_work(&[]);
    let before = shed.ledger().entries().count();
    let trial = imported(&mut shed, Kind::Engines, ENGINES, Options { dry_run: true, skip_bad: false }, now);
    assert_eq!((trial.new.len(), trial.already, trial.bad.len(), trial.written), (1, 1, 0, 0), "{trial:?}");
    assert_eq!(shed.ledger().entries().count(), before);
    let first = imported(&mut shed, Kind::Engines, ENGINES, Options::default(), now);
    assert_eq!((first.written, shed.ledger().entries().count()), (1, before + 1));
    let sorrel = &shed.ledger().office.engines[&EngineId(31)];
    assert_eq!((sorrel.name.as_str(), sorrel.facts.glass_mm), ("Sorrel", Some(200)));
    // What the row of engine 4 leaves empty stays as it was.
    assert_eq!(shed.ledger().office.engines[&EngineId(4)].name, "Tamsin");
    let again = imported(&mut shed, Kind::Engines, ENGINES, Options::default(), now);
    assert_eq!((again.new.len(), again.already, again.written), (0, 2, 0), "{again:?}");
}

#[test]
fn one_bad_row_writes_nothing_and_each_is_named_with_line_and_column() {
    let (_day, mut shed, now) = at_work(&[]);
    let before = shed.ledger().entries().count();
    let text = "engine,date,done,days_before\n4,washout,2026-05-01,\n4,wash-out,2026-05-01,\n99,washout,2026-05-01,\n\
                4,washout,2026-04-31,\n17,plugs,2027-01-01,\n17,plugs,2026-04-01,\n17,washout,2026-05-01,x\n17,,2026-05-01,\n\
                4,washout,2026-04-30,\n17,washout\n";
    let report = imported(&mut shed, Kind::Dates, text, Options::default(), now);
    let told: Vec<(u64, &str)> = report.bad.iter().map(|bad| (bad.line, bad.column.as_str())).collect();
    let wanted = [
        (3, "date"),
        (4, "engine"),
        (5, "engine"),
        (6, "done"),
        (7, "done"),
        (8, "days_before"),
        (9, "date"),
        (10, "engine"),
        (11, ""),
    ];
    assert_eq!(told, wanted, "{:#?}", report.bad);
    assert!(report.bad[0].problem.contains("did you mean \"washout\"?"), "{:?}", report.bad[0]);
    assert_eq!((report.written, shed.ledger().entries().count()), (0, before));
    let skipped = imported(&mut shed, Kind::Dates, text, Options { dry_run: false, skip_bad: true }, now);
    assert_eq!((skipped.written, skipped.bad.len()), (1, 9));
}

#[test]
fn people_come_with_grades_and_a_name_taken_out_does_not_come_back() {
    let (_day, mut shed, now) = at_work(&["07:50,,1,,person,22,Lowen Ash\n", "07:51,,1,,person,22,\n"]);
    let text = "number,name,grade,until\n61,Wilf Tarrow,cleaner,2027-01-31\n61,Wilf Tarrow,fireman,\n";
    let report = imported(&mut shed, Kind::People, text, Options::default(), now);
    assert_eq!((report.written, report.bad.len()), (3, 0), "{report:?}");
    assert_eq!(shed.ledger().office.people[&PersonId(61)].grades.len(), 2);
    let back = imported(&mut shed, Kind::People, "number,name\n22,Somebody\n", Options::default(), now);
    assert!(back.written == 0 && back.bad[0].problem.contains("taken out"), "{back:?}");
}

#[test]
fn readings_go_onto_the_open_sheet_with_their_units_and_only_once() {
    let rows = "07:30,,21,4,open,water-test,,,w\n,,,w,done,water-sample\n";
    let (_day, mut shed, now) = at_work(&[rows]);
    let table =
        |text: &str| import::read(Kind::Readings, text, &[("Loco".to_owned(), "engine".to_owned())]).expect("a table");
    let person = PersonId(21);
    let good = table(
        "Loco,step,at,value,unit\n4,water-ph,2026-05-02 07:40,11.2,pH\n4,water-tannin,2026-05-02 07:45,140,mg/l\n",
    );
    let report = import::import(&mut shed, &good, Options::default(), person, now).expect("an import");
    assert_eq!((report.written, report.bad.len()), (2, 0), "{report:?}");
    let again = import::import(&mut shed, &good, Options::default(), person, now).expect("an import");
    assert_eq!((again.written, again.already), (0, 2), "{again:?}");
    let bad = table(
        "Loco,step,at,value\n4,water-ph,2026-05-02 07:41,11.2\n4,water-ph,2026-05-02 07:00,11 pH\n4,water-sample,2026-05-02 07:41,1 pH\n17,water-ph,2026-05-02 07:41,11 pH\n",
    );
    let report = import::import(&mut shed, &bad, Options::default(), person, now).expect("an import");
    let told: Vec<(u64, &str)> = report.bad.iter().map(|bad| (bad.line, bad.column.as_str())).collect();
    assert_eq!(told, [(2, "value"), (3, ""), (4, "step"), (5, "step")], "{:#?}", report.bad);
}

#[test]
fn a_file_that_is_no_such_table_is_refused_with_what_to_do() {
    for (text, says) in [
        ("", "the file is empty"),
        ("name\nTamsin\n", "no column \"number\""),
        ("number;name\n4;Tamsin\n", "something else than commas"),
        ("number,Number\n4,4\n", "two columns"),
    ] {
        let fault = import::read(Kind::Engines, text, &[]).expect_err("refused");
        assert!(fault.problem.contains(says), "{fault}");
    }
    let map = [("Loco".to_owned(), "numbre".to_owned())];
    assert!(
        import::read(Kind::Engines, "Loco\n4\n", &map).expect_err("refused").problem.contains("no column \"numbre\"")
    );
}

#[test]
fn retention_is_a_setting_that_deletes_nothing() {
    let (day, shed, now) = at_work(&[TO_THE_FEEDS]);
    let folder = shed.folder().path().to_owned();
    assert_eq!(Retention::read(&folder).expect("a look"), None);
    assert!(Retention { keep_years: 0 }.write(&folder).is_err());
    Retention { keep_years: 10 }.write(&folder).expect("written");
    let setting = Retention::read(&folder).expect("a look");
    let kept = Kept::of(&day.ledger, setting, now);
    assert_eq!((kept.keep_from.as_deref(), kept.years.len(), kept.years[0].sheets), (Some("2016-05-02"), 1, 1));
    assert!(!kept.years[0].over);
    let later = Now::good(now.stamp.plus(12 * 366 * 86_400));
    assert!(Kept::of(&day.ledger, setting, later).years[0].over);
    assert_eq!(kept.years[0].entries as usize, day.ledger.entries().count());
}
