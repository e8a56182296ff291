//! The demonstration's day given again by the controls of the window: every crew's answer by touch, on every device, and
//! the records are byte for byte those of the day that its script plays. What a rule refuses has no control, at any
//! minute of the day.

mod day;
mod window;

use std::collections::BTreeMap;
use std::path::Path;

use day::hand::{self, at_step, step_title, view, who_may};
use day::{ALL, Played, Yard, by_command, path_of};
use offshed::controllers::crew::Kind;
use offshed::controllers::{Desks, Session};
use offshed_core::entry::What;
use offshed_core::ident::{PersonId, SheetId, StepId};
use offshed_core::pack::rows::KindRow;
use offshed_core::sheet::Stage;
use offshed_core::stamp::Stamp;
use offshed_core::verdict::{self, Scene, StepState, Who};
use offshed_depot::script::Row;
use offshed_depot::shed;
use window::Bench;

/// Everything that gives an answer to a step.
const ANSWERS: [&str; 15] = [
    "Done",
    "Not right",
    "Seen",
    "Accept",
    "Enter the reading",
    "Enter the number",
    "Record",
    "Start",
    "Read, then start",
    "End the hold",
    "Start the watch",
    "Type the time",
    "Start again from part 1",
    "Sign",
    "Accept the sheet",
];

/// What is written by command, since it is the office's, or since the window has no control for it.
fn by_whose_command(what: &What) -> Option<&'static str> {
    match what {
        What::Registered(_) => Some("register"),
        What::DefectRestricted { .. } => Some("restrict"),
        What::DefectCleared { .. } => Some("clear"),
        // The window asks how an event is known; a day script need not say.
        What::Happened { words, .. } if words.is_empty() => Some("event"),
        // A fitter's, of an engine that no sheet is worked on.
        What::DefectOpened { sheet: None, .. } => Some("defect without a sheet"),
        _ => None,
    }
}

/// The day under way.
struct Day {
    played: Played,
    yard: Yard,
    date: String,
    clocks: BTreeMap<String, Stamp>,
    sheets: BTreeMap<String, SheetId>,
    given: BTreeMap<&'static str, usize>,
    /// Steps that were found locked: by the page's own data, and by its controls.
    locked: (usize, usize),
}

impl Day {
    fn new() -> Day {
        Day {
            played: Played::new(),
            yard: Yard::new(),
            date: String::new(),
            clocks: BTreeMap::new(),
            sheets: BTreeMap::new(),
            given: BTreeMap::new(),
            locked: (0, 0),
        }
    }

    fn row(&mut self, row: &Row) {
        match row.act.as_str() {
            "day" => self.date.clone_from(&row.what),
            "sync" => self.sync(row),
            "pin" => {
                let mut shed = self.yard.shed(&row.device);
                let whose = PersonId(row.what.parse().expect("a number"));
                shed.folder_mut().set_pin(whose, &row.value).expect("a PIN");
            }
            _ => self.act(row),
        }
    }

    fn act(&mut self, row: &Row) {
        let wrote = self.played.wrote(row);
        if let Some(naming) = &wrote.naming {
            by_command(&mut self.yard.shed(&row.device), naming);
            self.count("device");
        }
        if let Some(key) = &wrote.refused {
            self.refused(row, key);
        }
        for entry in &wrote.entries {
            self.until(&row.device, entry.stamp);
            if let Some(what) = by_whose_command(&entry.what) {
                let mut shed = self.yard.shed(&row.device);
                if let What::Registered(offshed_core::entry::Fact::PackAdopted { pack }) = entry.what {
                    shed.add_pack(self.played.ledger.pack(pack).expect("its rules").bytes().to_vec()).expect("rules");
                }
                by_command(&mut shed, entry);
                self.count(what);
            } else {
                let bench = self.yard.window(&row.device, entry.stamp);
                hand::give(bench, entry);
                let written = bench.app.desks(|desks| {
                    let own = desks.session.as_ref().expect("a folder").ledger().entry(entry.at).cloned();
                    own.unwrap_or_else(|| {
                        panic!("line {}: {entry:?} is not written: {:?}", row.line, view(bench).notice)
                    })
                });
                assert_eq!(&written, entry, "line {}", row.line);
                self.count("by touch");
            }
            if let (What::SheetOpened { .. }, false) = (&entry.what, row.name.is_empty()) {
                self.sheets.insert(row.name.clone(), entry.at);
            }
        }
    }

    fn count(&mut self, what: &'static str) {
        *self.given.entry(what).or_default() += 1;
    }

    /// The clock of a device goes on minute by minute; what is locked stays so at each.
    fn until(&mut self, device: &str, at: Stamp) {
        let before = self.clocks.insert(device.to_owned(), at).unwrap_or(at);
        let Some((up, bench)) = self.yard.open() else { return };
        if up != device {
            return;
        }
        let minutes = before.0.div_euclid(60)..at.0.div_euclid(60);
        for minute in minutes.map(|minute| Stamp(minute * 60)).filter(|minute| *minute > before) {
            bench.clock.set(minute);
            self.locked.0 += bench.app.desks(locked_by_data);
        }
    }

    fn sync(&mut self, row: &Row) {
        for device in [row.device.as_str(), row.what.as_str()] {
            if let Some(naming) = self.played.naming(device) {
                by_command(&mut self.yard.shed(device), &naming);
                self.count("device");
            }
        }
        self.yard.sync(&row.device, &row.what);
    }

    /// What the script is refused has no control, or none with that name in it.
    fn refused(&mut self, row: &Row, key: &str) {
        let (whose, step) = (self.played.person(row), self.played.step(row));
        let own = self.played.moment(row, &self.date);
        let last = self.clocks.get(&row.device).copied().filter(|_| !row.own_time);
        let at = last.map_or(own, |last| last.max(own));
        self.until(&row.device, at);
        let bench = self.yard.window(&row.device, at);
        let Some((sheet, step)) = self.sheets.get(&row.on).copied().zip(step) else {
            assert_eq!(row.act, "untag", "line {}", row.line);
            return;
        };
        if row.act != "sign" && row.act != "review" {
            hand::sign_on(bench, whose);
        }
        at_step(bench, sheet, step);
        let signs = match row.act.as_str() {
            "sign" => Some("Sign"),
            "review" => Some("Accept the sheet"),
            _ => None,
        };
        match (signs, key) {
            (Some(control), "not-in-grade") if bench.has(control) => {
                assert!(!who_may(bench, control).contains(&whose.0), "line {}", row.line);
            }
            (None, "part-order") => assert!(!view(bench).form.part.starts_with("Part 3"), "line {}", row.line),
            _ => {
                offers_nothing(bench, &format!("line {}", row.line));
                self.locked.1 += sweep(bench, sheet);
            }
        }
        self.count("refused");
    }
}

fn offers_nothing(bench: &Bench, about: &str) {
    let labels = bench.labels();
    for control in ANSWERS {
        assert!(!labels.iter().any(|label| label == control), "{about}: \"{control}\" in {labels:#?}");
    }
}

/// Every step of a sheet by touch: one that is locked has no answering control. How many are.
fn sweep(bench: &Bench, sheet: SheetId) -> usize {
    let steps: Vec<StepId> = bench.app.desks(|desks| {
        let session = desks.session.as_ref().expect("a folder");
        let who = desks.crew.hands();
        locked(session, sheet, who).into_iter().map(|(step, _)| step).collect()
    });
    for step in &steps {
        at_step(bench, sheet, *step);
        offers_nothing(bench, &step_title(bench, *step));
    }
    steps.len()
}

/// The steps of a sheet that may not be answered now, with whether one of them may be marked not applicable all the same.
fn locked(session: &Session, sheet: SheetId, who: Who) -> Vec<(StepId, bool)> {
    let now = session.now();
    let found = shed::scene(session.ledger(), sheet, |scene| {
        let sequence = scene.sheet.map(|sheet| sheet.sequence).expect("a sheet");
        let lock = |row: offshed_core::pack::rows::StepRow| {
            // Whoever signs is asked for when it is signed.
            let who = if matches!(row.kind, KindRow::Signature { .. }) { Who { person: None, ..who } } else { who };
            let waits = match verdict::of(scene, row.id, who, now) {
                StepState::Waiting(_) | StepState::DoesNotApply => true,
                StepState::Gone { .. } | StepState::NotRight { .. } | StepState::Skipped { .. } => {
                    !verdict::needs(scene, &row, who, now).holds()
                }
                _ => false,
            };
            waits.then(|| (row.id, skips(scene, &row, who, session)))
        };
        scene.pack.steps(sequence).filter_map(lock).collect()
    });
    found.unwrap_or_default()
}

fn skips(scene: &Scene<'_>, row: &offshed_core::pack::rows::StepRow, who: Who, session: &Session) -> bool {
    row.skippable && verdict::needs_to_skip(scene, row, who, session.now()).holds()
}

/// Every open sheet of the window's folder, every step that is locked: the page has no answer for it. How many there were.
fn locked_by_data(desks: &mut Desks) -> usize {
    let session = desks.session.as_ref().expect("a folder");
    let who = desks.crew.hands();
    let mut count = 0;
    let open: Vec<SheetId> = session.ledger().sheets().filter(|s| s.stage() == Stage::Open).map(|s| s.id).collect();
    for sheet in open {
        for (step, may_skip) in locked(session, sheet, who) {
            let form = desks.crew.form(session, sheet, step);
            let fine = matches!(form.kind, Kind::Nothing | Kind::Second) && (!form.may_skip || may_skip);
            assert!(fine, "step {step} of {sheet} is locked and offers {:?} at {:?}", form.kind, session.now().stamp);
            count += 1;
        }
    }
    count
}

/// Every file of records beneath a folder, with its bytes.
fn records(root: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    for device in ALL {
        let path = path_of(root, device);
        all.insert(format!("{device}/journal"), std::fs::read(path.join("journal")).expect("a journal"));
        for dir in ["books", "packs"] {
            for item in std::fs::read_dir(path.join(dir)).expect("a folder").map(|item| item.expect("a file")) {
                let name = item.file_name().into_string().expect("a name");
                all.insert(format!("{device}/{dir}/{name}"), std::fs::read(item.path()).expect("a file"));
            }
        }
    }
    all
}

#[test]
fn every_answer_of_the_day_is_given_by_touch_and_the_records_are_the_same_bytes() {
    window::backend();
    let mut day = Day::new();
    for row in std::mem::take(&mut day.played.rows) {
        day.row(&row);
    }
    // At the end every device meets the office's, in the order in which the script has them.
    let mut others = ALL[1..].to_vec();
    others.sort_unstable();
    for other in others {
        day.yard.sync("office", other);
    }
    assert!(day.played.is_empty(), "the whole day was given");
    println!(
        "{:?}; locked steps: {} by data, {} by touch; {} windows",
        day.given, day.locked.0, day.locked.1, day.yard.places
    );
    let (played, given) = (records(day.played.root.path()), records(day.yard.root.path()));
    assert_eq!(played.keys().collect::<Vec<_>>(), given.keys().collect::<Vec<_>>());
    for (name, bytes) in &played {
        assert_eq!(bytes.len(), given[name].len(), "{name}");
        assert!(bytes == &given[name], "{name}");
    }
    assert!(day.given["by touch"] > 400, "{:?}", day.given);
    // Every row of the script that names what it is refused for.
    assert_eq!(day.given["refused"], 11, "{:?}", day.given);
    assert!(day.locked.0 > 10_000 && day.locked.1 > 200, "{:?}", day.locked);
}
