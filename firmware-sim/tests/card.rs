//! An office and a handheld by a card: the demo's day on both, what is refused, and what a card that is pulled leaves.

mod common;
#[path = "common/worker.rs"]
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

/// Every verdict of every engine at every minute of the demo's two days, from what a shift file holds at that minute and
/// from all records: reasons, conditions, and until when; then, and later without anything more.
#[test]
fn a_shift_file_says_of_every_engine_what_all_records_say() {
    let all = &WHOLE.ledger;
    let packs = || all.packs().cloned().collect::<Vec<_>>();
    let (mut at, end) = (WHOLE.at("2026-05-01 17:01"), WHOLE.at("2026-05-02 09:31"));
    let mut known: Option<(usize, Ledger, Ledger)> = None;
    let mut judged = 0;
    while at <= end {
        let count = all.entries().filter(|entry| entry.stamp <= at).count();
        if known.as_ref().is_none_or(|(before, ..)| *before != count) {
            let then = all.as_of(at);
            let folded = select(&then, at).ledger(packs());
            known = Some((count, then, folded));
        }
        let (_, then, folded) = known.as_ref().unwrap();
        for engine in then.engine_ids() {
            for later in [0, 3_600, 86_400, 30 * 86_400] {
                let now = Now::good(at.plus(later));
                assert_eq!(
                    folded.fitness(engine, now),
                    then.fitness(engine, now),
                    "No. {engine} at {at:?} + {later} s"
                );
                judged += 1;
            }
        }
        at = at.plus(60);
    }
    assert!(judged > 10_000, "{judged}");
}

/// Tamsin's entries of the demo's day as other devices recorded them so many days later, with her fire out at its end.
fn days_later(days: u8) -> Vec<Entry> {
    let seconds = i64::from(days) * 86_400;
    let devices: Vec<DeviceId> = WHOLE.ledger.entries().map(|entry| entry.at.device).collect();
    let other = |id: DeviceId| DeviceId(id.0.map(|byte| byte ^ days));
    let mut later = Vec::new();
    let tamsins = |entry: &&Entry| WHOLE.ledger.engine_of(&entry.what) == Some(EngineId(4));
    for entry in WHOLE.ledger.entries().filter(tamsins) {
        let mut buffer = [0; offshed_core::limits::ENTRY_BYTES];
        let mut bytes = entry.encode(&mut buffer).unwrap().to_vec();
        // A device stands in an entry as its eight bytes.
        for at in 0..bytes.len().saturating_sub(7) {
            let id = DeviceId(bytes[at..at + 8].try_into().unwrap());
            if devices.contains(&id) {
                bytes[at..at + 8].copy_from_slice(&other(id).0);
            }
        }
        let mut moved = Entry::decode(&bytes).unwrap();
        moved.stamp = moved.stamp.plus(seconds);
        moved.hlc = offshed_core::stamp::Hlc(moved.hlc.0 + ((seconds as u64) << 20));
        if let What::Answered { done_at: Some(at), .. } | What::Happened { done_at: Some(at), .. } = &mut moved.what {
            *at = at.plus(seconds);
        }
        later.push(moved);
    }
    let pack = WHOLE.pack().pack();
    let steam = pack.head().steam.expect("the pack counts days in steam");
    let out = pack.events().find(|event| event.clears.has(steam.0)).expect("an event that ends steam");
    let last = later.last().expect("entries").clone();
    let (at, stamp) = (EntryRef { seq: 9_999, ..last.at }, last.stamp.plus(8 * 3_600));
    let hlc = last.hlc.tick(stamp);
    let what = What::Happened { engine: EngineId(4), event: out.id, words: Default::default(), done_at: None };
    later.push(Entry { at, stamp, hlc, what, ..last });
    later
}

/// Twelve such days, one after the other: whatever is left out, no verdict changes.
#[test]
fn what_is_left_out_changes_no_verdict() {
    let days = (1..=12).flat_map(days_later);
    let packs: Vec<PackFile> = WHOLE.ledger.packs().cloned().collect();
    let all = Ledger::build(packs.clone(), WHOLE.ledger.entries().cloned().chain(days).collect());
    for hours in [-10, -2, 0, 200] {
        let stated = WHOLE.at("2026-05-14 09:31").plus(hours * 3_600);
        let then = all.as_of(stated);
        let selection = select(&then, stated);
        let count = then.entries().count();
        println!("{} of {count} entries, {} runs of days in steam", selection.entries.len(), selection.steam.len());
        assert_eq!(selection.entries.len() + selection.left_out, count);
        assert!(selection.entries.is_sorted_by_key(Entry::order));
        let folded = selection.ledger(packs.clone());
        for engine in then.engine_ids() {
            for later in [0, 3_600, 86_400, 365 * 86_400] {
                let now = Now::good(stated.plus(later));
                assert_eq!(folded.fitness(engine, now), then.fitness(engine, now), "No. {engine}");
            }
        }
    }
}

/// The handheld's own verdicts over a shift file, engine by engine, are the office's.
#[test]
fn the_handheld_says_over_a_shift_file_what_the_board_says() {
    for at in ["2026-05-01 22:30", "2026-05-02 06:10", "2026-05-02 08:09", "2026-05-02 09:29"] {
        let mut office = Office::new();
        office.meets(at);
        let flash = new_flash(256);
        let report = mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
        assert!(report.is_good(), "{report}");
        let then = REST.ledger.as_of(REST.at(at));
        let mut hands = program(flash, REST.at(at), FENNEL);
        for (engine, _) in hands.program.roster().engines().map(|(id, name)| (id, name.to_owned())).collect::<Vec<_>>()
        {
            hands.engine = engine;
            hands.presses(offshed_handheld::keys::Key::Left, 4);
            hands.take_up();
            let now = hands.moment();
            assert_eq!(hands.program.fitness(now), then.fitness(engine, now.now), "No. {engine} at {at}");
        }
    }
}

/// What the office has is told to come from there, with its moment.
#[test]
fn a_shift_file_tells_when_it_was_written_and_by_whom() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let flash = new_flash(256);
    mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
    let judged = mounted(flash).judged();
    assert_eq!(judged, Some((REST.at("2026-05-02 06:10"), office.shed.folder().device())));
}

/// A card pulled after any byte that is written to it: the next time the book on it is the whole one, and what stands there
/// meanwhile is taken in by an office without a word but of what is torn.
#[test]
fn a_card_may_be_pulled_at_any_byte() {
    let Worked { office, flash, hands } = worked();
    drop(hands);
    let whole = tempfile::tempdir().unwrap();
    fs::create_dir(whole.path().join(names::FOLDER)).unwrap();
    let mut store = mounted(flash);
    let report = store.exchange(&mut CardDir::new(whole.path()), None);
    assert!(report.given.is_ok_and(|given| given > 50), "{report}");
    let path = names::book(IDENTITY.device, 0);
    let wanted = fs::read(whole.path().join(path.as_str())).unwrap();
    for pulled in 0..wanted.len() {
        let card = tempfile::tempdir().unwrap();
        fs::create_dir(card.path().join(names::FOLDER)).unwrap();
        let mut dir = CardDir::new(card.path());
        dir.pulled_after = Some(pulled);
        let report = store.exchange(&mut dir, None);
        assert_eq!(report.given, Err(GiveFault::Card(CardFault::Gone)), "{pulled}: {report}");
        assert!(report.to_string().contains("Nothing is lost"), "{report}");
        let left = fs::read(card.path().join(path.as_str())).unwrap_or_default();
        assert_eq!(left, wanted[..pulled]);
        let report = store.exchange(&mut CardDir::new(card.path()), None);
        assert!(report.given.is_ok(), "{pulled}: {report}");
        assert_eq!(fs::read(card.path().join(path.as_str())).unwrap(), wanted, "{pulled}");
    }
    // An office that meets a card that was pulled takes what is whole, and takes the rest the next time.
    let mut shed = office.shed;
    let card = office.temp.path().join("torn");
    for pulled in [10, 16, 200, wanted.len() - 1, wanted.len()] {
        let at = card.join(path.as_str());
        fs::create_dir_all(at.parent().unwrap()).unwrap();
        fs::write(&at, &wanted[..pulled]).unwrap();
        let now = REST.at("2026-05-02 09:29");
        card::exchange(&mut shed, &card, now, None).unwrap_or_else(|fault| panic!("{fault}"));
        let came = shed.ledger().entries().filter(|entry| entry.at.device == IDENTITY.device).count();
        assert_eq!(came == mounted(flash).last() as usize, pulled == wanted.len(), "{came} entries of {pulled} bytes");
    }
}

/// A shift file on a card, changed.
fn changed(card: &Path, change: impl FnOnce(&mut Vec<u8>)) {
    let path = card.join(names::SHIFT);
    let mut bytes = fs::read(&path).unwrap();
    change(&mut bytes);
    fs::write(&path, bytes).unwrap();
}

/// Signs a shift file anew with another key.
fn signed_by(seed: u8, bytes: &mut [u8], change: impl FnOnce(&mut ShiftHead)) {
    let signer = Signer::from_seed(&[seed; 32]);
    let mut head = ShiftHead::read(bytes).unwrap();
    head.key = signer.key();
    change(&mut head);
    bytes[..HEAD].copy_from_slice(&head.write(&signer));
}

#[test]
fn what_is_not_the_offices_is_refused_with_words() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let card = office.card();
    let sound = fs::read(card.join(names::SHIFT)).unwrap();
    let flash = new_flash(256);
    let meet = |card: &Path| {
        let report = mounted(flash).exchange(&mut CardDir::new(card), None);
        (report, report.to_string())
    };
    // A card of somebody else: nothing is written to it.
    let foreign = tempfile::tempdir().unwrap();
    let (report, words) = meet(foreign.path());
    assert_eq!((report.given, report.taken), (Err(GiveFault::Foreign), Err(ShiftRefused::None)));
    assert!(
        words.contains("not from an office of ours") && fs::read_dir(foreign.path()).unwrap().count() == 0,
        "{words}"
    );
    let (report, _) = meet(Path::new("/nowhere"));
    assert_eq!(report.given, Err(GiveFault::Card(CardFault::Gone)));

    let refused = |change: &dyn Fn(&mut Vec<u8>), fault: ShiftRefused, says: &str| {
        fs::write(card.join(names::SHIFT), &sound).unwrap();
        changed(&card, change);
        let (report, words) = meet(&card);
        assert_eq!(report.taken, Err(fault), "{words}");
        assert!(words.contains(says), "{words}");
    };
    let newer = ShiftRefused::Fault(ShiftFault::Newer(2));
    refused(&|bytes| bytes[6] = 2, newer, "of version 2, and this device reads 1");
    refused(&|bytes| bytes[150] ^= 1, ShiftRefused::Fault(ShiftFault::Signature), "signature is wrong");
    refused(&|bytes| bytes[20] ^= 1, ShiftRefused::Fault(ShiftFault::Signature), "signature is wrong");
    let last = sound.len() - 1;
    refused(&|bytes| bytes[last] ^= 1, ShiftRefused::Fault(ShiftFault::Differs), "damaged or cut short");
    let (want, got) = (sound.len() as u32, last as u32);
    refused(
        &|bytes| bytes.truncate(last),
        ShiftRefused::Fault(ShiftFault::Short { want, got }),
        "damaged or cut short",
    );
    refused(
        &|bytes| bytes.truncate(3),
        ShiftRefused::Fault(ShiftFault::Short { want: HEAD as u32, got: 3 }),
        "cut short",
    );
    refused(&|bytes| bytes[0] = b'X', ShiftRefused::Fault(ShiftFault::Magic), "damaged");
    fs::remove_file(card.join(names::SHIFT)).unwrap();
    assert_eq!(meet(&card).0.taken, Err(ShiftRefused::None));
    // An office that was interrupted left the new file under its other name.
    fs::write(card.join(names::SHIFT_PART), &sound).unwrap();
    assert!(matches!(meet(&card).0.taken, Ok(Taken::First { .. })));
    fs::rename(card.join(names::SHIFT_PART), card.join(names::SHIFT)).unwrap();
    assert_eq!(meet(&card).0.taken, Ok(Taken::Same));

    // From here on an office is trusted, and no other.
    let refused = |change: &dyn Fn(&mut Vec<u8>), says: &str| {
        fs::write(card.join(names::SHIFT), &sound).unwrap();
        changed(&card, change);
        let (report, words) = meet(&card);
        assert!(words.contains(says), "{words}");
        report.taken
    };
    let key = Signer::from_seed(&[7; 32]).key();
    let taken = refused(&|bytes| signed_by(7, bytes, |_| {}), "from another office, whose key is");
    assert_eq!(taken, Err(ShiftRefused::Untrusted(key)));
    office.meets("2026-05-02 06:20");
    assert!(matches!(meet(&card).0.taken, Ok(Taken::New { .. })));
    office.meets("2026-05-02 06:10");
    assert!(matches!(meet(&card).0.taken, Err(ShiftRefused::Older(_))));
    // It works on by what it had.
    assert_eq!(mounted(flash).judged().map(|(stated, _)| stated), Some(REST.at("2026-05-02 06:20")));
}

#[test]
fn other_rules_wait_until_the_office_has_what_was_recorded_under_the_old_ones() {
    let Worked { mut office, flash, hands } = worked();
    drop(hands);
    let card = office.card();
    // The office adopts another edition.
    let folder = office.shed.folder().path().to_path_buf();
    let source = demo::write_sources(&folder).expect("sources").join("practice");
    let text = fs::read_to_string(source.join("pack.toml")).unwrap();
    assert!(text.contains("2026-1"));
    fs::write(source.join("pack.toml"), text.replace("2026-1", "2026-2")).unwrap();
    let compiled = offshed_depot::authoring::compile_folder(&source).unwrap_or_else(|_| panic!("it compiles"));
    let pack = office.shed.add_pack(compiled.bytes).unwrap_or_else(|denial| panic!("{denial:?}"));
    let adopted = What::Registered(offshed_core::entry::Fact::PackAdopted { pack });
    let now = Now::good(REST.at("2026-05-02 09:29"));
    office.shed.act(adopted, PersonId(1), now).unwrap_or_else(|denial| panic!("{denial:?}"));
    office.meets("2026-05-02 09:29");
    let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
    assert_eq!(report.taken, Err(ShiftRefused::OtherPack), "{report}");
    assert!(report.given.is_ok_and(|given| given > 50) && report.to_string().contains("has other rules"), "{report}");
    office.meets("2026-05-02 09:30");
    let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
    assert!(matches!(report.taken, Ok(Taken::New { .. })), "{report}");
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

/// Mutated shift files: each is refused, none panics.
#[test]
fn any_change_to_a_shift_file_is_found() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let sound = fs::read(office.card().join(names::SHIFT)).unwrap();
    struct Held(Vec<u8>);
    impl offshed_handheld::card::Card for Held {
        fn has_dir(&mut self, _: &str) -> Result<bool, CardFault> {
            Ok(true)
        }
        fn len(&mut self, path: &str) -> Result<Option<u32>, CardFault> {
            Ok((path == names::SHIFT).then_some(self.0.len() as u32))
        }
        fn read(&mut self, _: &str, at: u32, out: &mut [u8]) -> Result<(), CardFault> {
            let at = at as usize;
            out.copy_from_slice(self.0.get(at..at + out.len()).ok_or(CardFault::Unreadable)?);
            Ok(())
        }
        fn write(&mut self, _: &str, _: u32, _: &[u8]) -> Result<(), CardFault> {
            Err(CardFault::Locked)
        }
    }
    let check = |bytes: Vec<u8>| offshed_handheld::card::shift::on_card(&mut Held(bytes)).map(|(_, head)| head);
    let head = check(sound.clone()).expect("it is sound");
    assert_eq!(head.len() as usize, sound.len());
    for bit in 0..HEAD * 8 {
        let mut bytes = sound.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        // The version of the writer is signed, too.
        assert!(check(bytes).is_err(), "bit {bit}");
    }
    let mut seed = 1_u32;
    for _ in 0..400 {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let mut bytes = sound.clone();
        let at = seed as usize % bytes.len();
        match seed >> 30 {
            0 => bytes.truncate(at),
            1 => bytes.insert(at, seed as u8),
            _ => bytes[at] ^= 1 << (seed >> 27 & 7),
        }
        assert!(check(bytes).is_err(), "{at}");
    }
    for cut in 0..HEAD + 2 {
        assert!(check(sound[..cut].to_vec()).is_err(), "{cut}");
    }
}

/// An entry by its count.
fn own(seq: u32) -> EntryRef {
    EntryRef { device: IDENTITY.device, seq }
}

/// A memory that is full says so before anything is half written, and how room is made; and then there is room again.
#[test]
fn a_full_memory_says_so_and_is_freed_by_the_card() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let flash = new_flash(96);
    let card = office.card();
    let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
    assert!(report.is_good(), "{report}");
    let mut hands = program(flash, REST.at("2026-05-02 06:14"), FENNEL);
    hands.sign_in(PersonId(21));
    let fill = |start: u32| {
        let mut store = mounted(flash);
        let (mut count, mut words_long) = (0, 16);
        loop {
            let words = offshed_core::entry::bounded(&"full of words ".repeat(words_long)).unwrap();
            let what = What::HandedOver { engine: FENNEL, words };
            let stamp = REST.at("2026-05-02 06:20").plus(i64::from(start + count));
            let hlc = store.clock().tick(stamp);
            let (at, clock) = (own(store.last() + 1), offshed_core::stamp::Clock::Good);
            let entry = Entry { at, hlc, stamp, clock, person: PersonId(21), what };
            let mut buffer = [0; offshed_core::limits::ENTRY_BYTES];
            let bytes = entry.encode(&mut buffer).unwrap();
            let before = flash.borrow().bytes.clone();
            match offshed_core::desk::Store::append(&mut store, &entry, bytes) {
                Ok(()) => count += 1,
                Err(full) => {
                    assert_eq!(full, offshed_handheld::hand::Unstored::Full);
                    let changed = before.iter().zip(&flash.borrow().bytes).filter(|(a, b)| a != b).count();
                    assert_eq!(changed, 0, "nothing was begun");
                    // Then shorter ones, until none has room.
                    match words_long {
                        1 => return count,
                        _ => words_long = 1,
                    }
                }
            }
        }
    };
    drop(hands);
    let first = fill(0);
    assert!(first > 100, "{first}");
    // By keys: the person is told, and nothing is recorded.
    let mut hands = program(flash, REST.at("2026-05-02 07:14"), FENNEL);
    hands.sign_in(PersonId(21));
    hands.take_up();
    let before = all(hands.program.journal()).len();
    hands.choose(2);
    assert_eq!(all(hands.program.journal()).len(), before);
    let mut screen = common::picture::Canvas::new(Size::new(128, 64));
    let Ok(_) = hands.program.draw(&mut screen, hands.moment());
    assert!(screen.lit() > 0);
    drop(hands);
    // The card, the office, the card again. Blocks had no room for all at once; in turns they all go out.
    let (mut given, mut freed) = (0, 0);
    for minute in 0..12 {
        let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
        given += report.given.unwrap_or_else(|fault| panic!("{fault}"));
        freed += report.freed;
        office.meets(&format!("2026-05-02 07:{:02}", 20 + minute));
    }
    assert_eq!((given, freed), (first, first));
    assert!(fill(first) * 10 > first * 9, "the room is there again");
}

/// The worked example of `core/FORMAT.md`, section 9, which another program put together from the tables: the signature by
/// RFC 8032, section 7.1, TEST 1, the PIN by PBKDF2-HMAC-SHA-256 of another library.
#[test]
fn the_formats_worked_example_is_read_and_written() {
    let format = include_str!("../../core/FORMAT.md");
    let hex = |n: usize| -> Vec<u8> {
        let text = format.split("```hex\n").nth(n).and_then(|rest| rest.split("```").next()).expect("an example");
        let digits = text.lines().flat_map(|line| line.split('#').next().unwrap_or("").split_whitespace());
        digits.map(|byte| u8::from_str_radix(byte, 16).expect("two digits")).collect()
    };
    let (book, bytes) = (hex(1), hex(2));
    struct File<'b>(&'b [u8]);
    impl Bytes for File<'_> {
        fn read(&self, at: u32, out: &mut [u8]) -> bool {
            let found = self.0.get(at as usize..at as usize + out.len());
            found.map(|bytes| out.copy_from_slice(bytes)).is_some()
        }
    }
    use offshed_core::record::shift::{DoubtRow, PinRow, SeenRow, SteamRow};
    use offshed_handheld::card::shift::{Entries, hashed, rows, seen};
    let (file, head) = (File(&bytes), ShiftHead::read(&bytes).expect("its head"));
    assert_eq!(head.len() as usize, bytes.len());
    assert_eq!(hashed(&head, |at, out| file.read(at, out)), Some(head.body));
    let seed: [u8; 32] = [
        0x9d, 0x61, 0xb1, 0x9d, 0xef, 0xfd, 0x5a, 0x60, 0xba, 0x84, 0x4a, 0xf4, 0x92, 0xec, 0x2c, 0xc4, 0x44, 0x49,
        0xc5, 0x69, 0x7b, 0x32, 0x69, 0x19, 0x70, 0x3b, 0xac, 0x03, 0x1c, 0xae, 0x7f, 0x60,
    ];
    assert_eq!(head.write(&Signer::from_seed(&seed)), bytes[..HEAD]);
    // The book of section 8 holds the block and the entry that are meant.
    let device = DeviceId([1, 2, 3, 4, 5, 6, 7, 8]);
    let block = offshed_core::record::chain::Block::read(&book[16..], 16).expect("the block");
    assert_eq!(seen(&file, &head, device), Some(SeenRow { device, last: 1, block: block.hash }));
    let entry = block.entries().unwrap().next().unwrap().unwrap();
    assert_eq!(Entries::new(&file, &head).collect::<Vec<_>>(), [entry]);
    let mut told = Vec::new();
    assert!(rows(&file, &head, Part::Pins, |row| told.push(PinRow::read(row).unwrap())));
    assert_eq!((told.len(), told[0].person, told[0].iterations), (1, PersonId(7), 1_000));
    assert_eq!(told[0].write()[..], bytes[HEAD + 4..HEAD + 58]);
    let mut steam = Vec::new();
    assert!(rows(&file, &head, Part::Steam, |row| steam.push(SteamRow::read(row).unwrap())));
    let first = offshed_core::stamp::Day::of("2026-03-28".parse().unwrap());
    assert_eq!(steam, [SteamRow { engine: EngineId(11), first, days: 3 }]);
    let mut doubts = Vec::new();
    assert!(rows(&file, &head, Part::Doubts, |row| doubts.push(DoubtRow::read(row).unwrap())));
    assert_eq!(doubts, [DoubtRow { device: Some(device), engine: Some(EngineId(11)) }]);
}

/// What the memory's store and its PINs take of RAM beside the program, which is held where it is built; one page more is on
/// the stack while a block is sealed or given.
#[test]
fn the_store_takes_little_memory() {
    let (store, pins) = (size_of::<NorStore<'static, Flash>>(), size_of::<FlashPins<'static, Flash>>());
    println!("store {store} bytes, PINs {pins} bytes on this machine");
    assert!(store + pins < 1_536, "{store} + {pins}");
}
