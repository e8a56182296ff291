//! An office and a handheld by a card: the demo's day on both, what is refused, and what a card that is pulled leaves.

#[path = "../common/mod.rs"]
mod common;
mod memory;
mod refused;
mod verdicts;
#[path = "../common/worker.rs"]
mod worker;

use std::cell::RefCell;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use common::Evening;
use common::card_dir::CardDir;
use common::nor::SimFlash;
use embedded_graphics::prelude::Size;
use offshed_core::desk::Desk;
use offshed_core::entry::{Answer, Entry, Found, Shown, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef, PersonId};
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::record::card as names;
use offshed_core::record::seal::Signer;
use offshed_core::record::shift::{HEAD, Part, ShiftFault, ShiftHead};
use offshed_core::stamp::{Now, Stamp};
use offshed_depot::card::{self, select};
use offshed_depot::demo;
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::Shed;
use offshed_depot::views;
use offshed_handheld::card::give::GiveFault;
use offshed_handheld::card::report::Taken;
use offshed_handheld::card::shift::ShiftRefused;
use offshed_handheld::card::{Bytes, CardFault};
use offshed_handheld::hand::{Moment, Records};
use offshed_handheld::program::Program;
use offshed_handheld::store::{FlashPins, Identity, NorStore, provision};
use worker::{Hands, as_read, pin};

const FENNEL: EngineId = EngineId(17);
const IDENTITY: Identity = Identity { device: DeviceId(*b"handheld"), seed: [0x5a; 32] };

type Flash = SimFlash<1>;
type OnFlash = Hands<'static, NorStore<'static, Flash>, FlashPins<'static, Flash>>;

/// The demo's day without the rows of its handheld.
fn without_handheld() -> String {
    let (before, rest) = demo::SCRIPT.split_once("# No. 17 Fennel: found banked").expect("the handheld's part");
    let (_, after) = rest.split_once("# The running foreman reviews").expect("what comes behind it");
    let rows = after.lines().filter(|row| !row.starts_with(",handheld") && !row.contains("fennel"));
    let rows: Vec<&str> = rows.collect();
    format!("{before}# The running foreman reviews{}\n", rows.join("\n"))
}

/// The whole day as the demo plays it, and the day without the handheld.
static WHOLE: LazyLock<Evening> = LazyLock::new(|| Evening::of(demo::SCRIPT));
static REST: LazyLock<Evening> = LazyLock::new(|| Evening::of(&without_handheld()));

fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a directory");
    for item in fs::read_dir(from).expect("a directory") {
        let path = item.expect("an item").path();
        let name = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            copied(&path, &name);
        } else {
            fs::copy(&path, &name).expect("a copy");
        }
    }
}

/// An office's folder of its own, and a card.
struct Office {
    temp: tempfile::TempDir,
    shed: Shed,
}

impl Office {
    /// The office as it is after the rest of the day; everybody has their PIN.
    fn new() -> Office {
        let temp = tempfile::tempdir().expect("a directory");
        copied(&REST.path, &temp.path().join("shed"));
        fs::create_dir(temp.path().join("card")).expect("a directory");
        let mut shed = Shed::open(&temp.path().join("shed")).expect("the folder");
        shed.folder_mut().set_pin_cost(offshed_depot::folder::PinCost::iterations(10));
        for person in REST.ledger.office.people.keys() {
            shed.folder_mut().set_pin(*person, &pin(*person)).expect("a PIN");
        }
        Office { temp, shed }
    }

    fn card(&self) -> PathBuf {
        self.temp.path().join("card")
    }

    fn meets(&mut self, at: &str) -> card::CardReport {
        let (card, at) = (self.card(), REST.at(at));
        card::exchange(&mut self.shed, &card, at, Some(at)).unwrap_or_else(|fault| panic!("{fault}"))
    }
}

/// The duty board.
fn shown(ledger: &Ledger, at: Now) -> String {
    format!("{:#?}", views::board(ledger, at))
}

fn new_flash(pages: usize) -> &'static RefCell<Flash> {
    let flash: &'static RefCell<Flash> = Box::leak(Box::new(RefCell::new(Flash::blank(pages))));
    provision(flash, &IDENTITY).expect("it is set up");
    flash
}

fn mounted(flash: &'static RefCell<Flash>) -> NorStore<'static, Flash> {
    NorStore::mount(flash).expect("it is opened")
}

/// A program over a flash memory that has a shift file.
fn program(flash: &'static RefCell<Flash>, start: Stamp, engine: EngineId) -> OnFlash {
    let store = mounted(flash);
    let slot = store.shift().expect("a shift file");
    let (at, length) = slot.head().part(Part::Pack);
    let mut bytes = vec![0; length as usize];
    assert!(slot.read(at, &mut bytes));
    let file: &'static PackFile = Box::leak(Box::new(PackFile::from_bytes(bytes).expect("the pack")));
    let pack: &'static Pack<'static> = Box::leak(Box::new(file.pack()));
    let texts: &'static SliceTexts<'static> = Box::leak(Box::new(file.texts()));
    let pins = store.pins();
    let desk = Desk::new(store.device(), store.last(), store.clock(), store);
    let at = Moment { now: Now::good(start), ms: 0 };
    let program = Program::new(pack, texts, desk, pins, Size::new(128, 64), at).with_card();
    Hands { program, pack, engine, start, ms: 0 }
}

fn all(records: &impl Records) -> Vec<Entry> {
    let mut entries = Vec::new();
    records.each(&mut |entry| entries.push(entry.clone()));
    entries
}

/// What the demo's handheld recorded.
fn demos() -> Vec<Entry> {
    let opened = WHOLE.ledger.sheets().filter(|sheet| sheet.engine == FENNEL).max_by_key(|sheet| sheet.opened);
    let sheet = opened.expect("the demo's sheet").id;
    let on_it = |entry: &&Entry| entry.at.device == sheet.device && entry.sheet() == Some(sheet);
    WHOLE.ledger.entries().filter(on_it).cloned().collect()
}

/// Works what the demo's handheld recorded, key by key, at the same moments.
fn work(hands: &mut OnFlash, meant: &[Entry]) {
    let mut person = None;
    for entry in meant {
        let due = u64::try_from(entry.stamp.since(hands.start)).expect("later") * 1_000;
        let (step, answer, with) = match &entry.what {
            What::SheetOpened { .. } => {
                hands.sign_in(entry.person);
                person = Some(entry.person);
                hands.take_up();
                // The evening's sheet, may it leave, and then the sequences.
                hands.choose(2);
                continue;
            }
            What::Answered { step, answer, with, .. } => (*step, as_read(answer.clone()), *with),
            other => panic!("the demo's handheld only answers: {other:?}"),
        };
        if person != Some(entry.person) {
            hands.change_to(entry.person);
            person = Some(entry.person);
        }
        hands.ms = hands.ms.max(due.saturating_sub(1_000));
        if let Answer::Ended { tenths, reading } = answer {
            hands.end_hold(tenths, reading);
            continue;
        }
        hands.to(step);
        let asked = with.filter(|_| !matches!(answer, Answer::Part { part: 1.., .. }));
        hands.give(step, &answer, entry.person, asked);
        let under_way = hands.program.sheet().is_some_and(|sheet| sheet.progress(step).is_some());
        if under_way && !matches!(answer, Answer::Began(_)) {
            hands.press(offshed_handheld::keys::Key::Left);
        }
    }
}

/// Says the same: what is computed on the way, and what a signer has seen, is each device's own.
fn alike(ours: &Answer, theirs: &Answer) -> bool {
    match (ours, theirs) {
        (Answer::Signed { pack: a, .. }, Answer::Signed { pack: b, .. }) => a == b,
        (Answer::Part { part: a, found: Found::Rose { reading: x, .. } }, Answer::Part { part: b, found }) => {
            matches!(found, Found::Rose { reading: y, .. } | Found::Reading(y) if x == y) && a == b
        }
        (Answer::Accepted(Shown::Date { done_on: a, .. }), Answer::Accepted(Shown::Date { done_on: b, .. })) => a == b,
        (Answer::Ended { reading: a, .. }, Answer::Ended { reading: b, .. }) => a == b,
        (Answer::Part { part: a, found: Found::Time { .. } }, Answer::Part { part: b, found: Found::Time { .. } }) => {
            a == b
        }
        (a, b) => a == b,
    }
}

/// A handheld that worked the demo's sheet, its office, and what it meant to record.
struct Worked {
    office: Office,
    flash: &'static RefCell<Flash>,
    hands: OnFlash,
}

fn worked() -> Worked {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let flash = new_flash(256);
    let report = mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
    assert!(report.is_good(), "{report}");
    assert!(matches!(report.taken, Ok(Taken::First { .. })), "{report}");
    let mut hands = program(flash, REST.at("2026-05-02 06:14"), FENNEL);
    work(&mut hands, &demos());
    Worked { office, flash, hands }
}

#[test]
fn the_demos_handheld_sheet_is_worked_by_keys_and_comes_in_by_the_card() {
    let Worked { mut office, flash, hands } = worked();
    let own = |entries: Vec<Entry>| -> Vec<Entry> {
        entries.into_iter().filter(|entry| entry.at.device == IDENTITY.device).collect()
    };
    let (ours, theirs) = (own(all(hands.program.journal())), demos());
    assert_eq!(ours.len(), theirs.len());
    for (n, (ours, theirs)) in ours.iter().zip(&theirs).enumerate() {
        assert_eq!((ours.at.seq, ours.person), (n as u32 + 1, theirs.person));
        if let (What::Answered { step, answer, .. }, What::Answered { step: wanted, answer: meant, .. }) =
            (&ours.what, &theirs.what)
        {
            assert!(step == wanted && alike(answer, &as_read(meant.clone())), "{n}: {answer:?}, and not {meant:?}");
        }
    }
    assert!(hands.program.journal().is_sealed(ours.len() as u32), "the last signature sealed all");
    drop(hands);

    // A folder that gets the same book by an ordinary sync.
    let other = office.temp.path().join("other");
    copied(office.shed.folder().path(), &other);
    let at = Now::good(REST.at("2026-05-02 09:29"));
    let before = shown(office.shed.ledger(), at);
    let report = mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
    assert_eq!((report.given, report.taken), (Ok(ours.len() as u32), Ok(Taken::Same)), "{report}");
    let stick = office.temp.path().join("stick/books");
    fs::create_dir_all(&stick).unwrap();
    let book = office.card().join(names::book(IDENTITY.device, 0).as_str());
    fs::copy(&book, stick.join(format!("{}.book", IDENTITY.device))).unwrap();
    let mut by_sync = Shed::open(&other).unwrap();
    by_sync.sync_with_dir(&office.temp.path().join("stick")).unwrap_or_else(|denial| panic!("{denial:?}"));

    let came = office.meets("2026-05-02 09:29");
    assert_eq!(came.sync.into_first.entries(), ours.len() as u64);
    assert!(came.sync.findings.is_empty(), "{:?}", came.sync.findings);
    let after = shown(office.shed.ledger(), at);
    assert_eq!(after, shown(by_sync.ledger(), at));
    assert_ne!(before, after, "the board changes");
    let sheet = office.shed.ledger().sheets().find(|sheet| sheet.id.device == IDENTITY.device).expect("its sheet");
    assert!(matches!(sheet.stage(), offshed_core::sheet::Stage::Open), "signed, and not reviewed yet");
    assert!(sheet.contested().is_empty(), "{:?}", sheet.contested());
    // The foreman reviews it as in the demo, and what the board then says of the engine is what the demo's says.
    let reviewed = WHOLE.ledger.entries().find(|entry| {
        matches!(&entry.what, What::Answered { answer: Answer::Reviewed { .. }, .. })
            && WHOLE.ledger.engine_of(&entry.what) == Some(FENNEL)
            && entry.stamp > WHOLE.at("2026-05-02 06:00")
    });
    let reviewed = reviewed.expect("the demo's review");
    let What::Answered { step, .. } = reviewed.what else { panic!("a review") };
    let sheet = sheet.id;
    let answer = office.shed.review(sheet, offshed_core::entry::Review::Accepted, Default::default());
    let answer = answer.unwrap_or_else(|denial| panic!("{denial:?}"));
    let given = offshed_depot::shed::Given { sheet, step, answer, with: None, done_at: None };
    office.shed.answer(given, PersonId(1), at).unwrap_or_else(|denial| panic!("{denial:?}"));
    let (here, there) = (office.shed.ledger().fitness(FENNEL, at), WHOLE.ledger.fitness(FENNEL, at));
    assert_eq!(here.verdict, there.verdict);

    // Again nothing is missing, and the handheld makes room for what the office has.
    let again = office.meets("2026-05-02 09:29");
    assert!(again.sync.into_first.is_empty(), "nothing comes in twice");
    let mut store = mounted(flash);
    let report = store.exchange(&mut CardDir::new(&office.card()), None);
    assert_eq!((report.given, report.freed), (Ok(0), ours.len() as u32), "{report}");
    let told = all(&store);
    assert!(ours.iter().all(|entry| told.contains(entry)), "the office hands them back");
    // The count goes on, and so does the book.
    assert_eq!(mounted(flash).last(), ours.len() as u32);
}

/// PINs on the handheld and in a data folder, side by side, by the same tries at the same moments: right, wrong, waits, a
/// clock set back, and a start from flash between any two.
#[test]
fn pins_are_judged_as_in_a_data_folder() {
    use offshed_depot::folder::PinFault;
    use offshed_handheld::hand::{PinAnswer, Pins};
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let flash = new_flash(256);
    mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
    let (mut now, mut seed) = (REST.at("2026-05-02 06:10"), 12_345_u32);
    let mut seen = [0; 4];
    for _ in 0..160 {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        now = now.plus([0, 1, 30, 61, 200, 4_000, -90][(seed >> 16) as usize % 7]);
        let person = PersonId([21, 11, 99][(seed >> 24) as usize % 3]);
        let digits = if (seed >> 28) % 4 == 0 { pin(person) } else { "0000".to_owned() };
        let ours = mounted(flash).pins().check(person, &digits, now);
        let theirs = match office.shed.folder_mut().check_pin(person, &digits, now) {
            Ok(()) => PinAnswer::Right,
            Err(PinFault::Wrong { left }) => PinAnswer::Wrong { left },
            Err(PinFault::Wait { until }) => PinAnswer::Wait { until },
            Err(PinFault::NoPin { .. }) => PinAnswer::NoPin,
            Err(fault) => panic!("{fault}"),
        };
        assert_eq!(ours, theirs);
        seen[match ours {
            PinAnswer::Right => 0,
            PinAnswer::Wrong { .. } => 1,
            PinAnswer::Wait { .. } => 2,
            PinAnswer::NoPin => 3,
        }] += 1;
    }
    assert!(seen.iter().all(|count| *count > 3), "{seen:?}");
}
