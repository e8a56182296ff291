//! A whole preparation worked with five buttons, beside the same answers given through a depot: both record the same, and
//! both find the engine fit.

mod common;
#[path = "common/worker.rs"]
mod worker;

use common::Evening;
use common::memory::{MemoryJournal, MemoryPins};
use embedded_graphics::prelude::Size;
use offshed_core::desk::Desk;
use offshed_core::entry::{Answer, Entry, Review, What};
use offshed_core::fitness::Verdict;
use offshed_core::ident::{DeviceId, EngineId, PersonId, SequenceId, SheetId, StepId};
use offshed_core::pack::rows::KindRow;
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::sheet::Stage;
use offshed_core::stamp::{Now, Stamp};
use offshed_core::verdict::{self, Offer, Who};
use offshed_depot::passing::Passer;
use offshed_depot::shed::{Given, Shed};
use offshed_handheld::hand::Moment;
use offshed_handheld::keys::Key;
use offshed_handheld::program::{Program, STATIC_BYTES};
use worker::{as_read, pin};

const DEVICE: DeviceId = DeviceId(*b"handheld");
const TAMSIN: EngineId = EngineId(4);
const PREPARATION: SequenceId = SequenceId(1);
const PEOPLE: [u16; 6] = [21, 11, 22, 12, 1, 2];

type Handheld<'a> = Program<'a, SliceTexts<'a>, MemoryJournal, MemoryPins>;

/// Hands on a handheld with its journal in memory.
type Hands<'a> = worker::Hands<'a, MemoryJournal, MemoryPins>;

fn handheld<'a>(evening: &'a Evening, pack: &'a Pack<'a>, texts: &'a SliceTexts<'a>, start: Stamp) -> Hands<'a> {
    let journal = MemoryJournal::new(evening.ledger.entries().cloned().collect());
    let people = evening.ledger.office.people.keys().map(|id| (*id, pin(*id))).collect();
    let desk = Desk::new(DEVICE, 0, journal.clock(), journal);
    let at = Moment { now: Now::good(start), ms: 0 };
    let program = Program::new(pack, texts, desk, MemoryPins::new(people), Size::new(128, 64), at);
    Hands { program, pack, engine: TAMSIN, start, ms: 0 }
}

fn last<'a>(hands: &'a Hands<'_>) -> &'a Entry {
    hands.program.journal().entries.last().expect("an entry")
}

/// What is offered next in the depot: to whom, with whom.
fn next(depot: &Shed, sheet: SheetId, now: Now, current: PersonId) -> Option<(Offer, PersonId, Option<PersonId>)> {
    let people = std::iter::once(current).chain(PEOPLE.map(PersonId).into_iter().filter(|id| *id != current));
    depot.scene(sheet, |scene| {
        people.into_iter().find_map(|person| {
            [None, Some(PersonId(31)), Some(PersonId(22))].into_iter().find_map(|with| {
                let who = Who { person: Some(person), with };
                let offer = verdict::offers(scene, who, now).find(|offer| !offer.again)?;
                Some((offer, person, with))
            })
        })
    })?
}

/// A passing answer to what is offered, as far as an instrument shows it.
fn passing(depot: &Shed, sheet: SheetId, step: StepId, now: Now) -> Answer {
    let found = depot.scene(sheet, |scene| {
        let row = scene.pack.step(step)?;
        match row.kind {
            KindRow::Signature { review: false } => return depot.signature(sheet).ok(),
            KindRow::Signature { review: true } => {
                return depot.review(sheet, Review::Accepted, Default::default()).ok();
            }
            _ => {}
        }
        let sheet = depot.ledger().sheet(sheet)?;
        Passer { scene, now }.answer(sheet, &row).map(|passing| passing.answer)
    });
    found.flatten().unwrap_or_else(|| panic!("no passing answer to step {step}"))
}

/// Answers that say the same on both devices: what a signer has seen is each device's own.
fn alike(hand: &Answer, depot: &Answer) -> bool {
    match (hand, depot) {
        (Answer::Signed { pack: a, .. }, Answer::Signed { pack: b, .. }) => a == b,
        (Answer::Reviewed { outcome: a, .. }, Answer::Reviewed { outcome: b, .. }) => a == b,
        (a, b) => a == b,
    }
}

fn answered(entry: &Entry) -> (StepId, &Answer, Option<PersonId>) {
    match &entry.what {
        What::Answered { step, answer, with, .. } => (*step, answer, *with),
        other => panic!("no answer: {other:?}"),
    }
}

/// The depot's sheet, opened when and by whom the handheld's was.
fn opened(depot: &mut Shed, entry: &Entry) -> SheetId {
    depot.act(entry.what.clone(), entry.person, Now::good(entry.stamp)).expect("the depot opens it as well").at
}

/// Gives the handheld's last answer to the depot, as the depot would have given it.
fn follow(depot: &mut Shed, sheet: SheetId, meant: Answer, hand: &Entry) {
    let (step, answer, with) = answered(hand);
    let given = Given { sheet, step, answer: meant, with, done_at: None };
    let entry = depot.answer(given, hand.person, Now::good(hand.stamp)).unwrap_or_else(|denial| panic!("{denial:?}"));
    assert!(alike(answer, answered(&entry).1), "step {step}: {answer:?} and {:?}", answered(&entry).1);
}

#[test]
fn a_preparation_by_five_buttons_is_the_one_of_the_depot() {
    let evening = Evening::play();
    let (pack, texts) = (evening.pack().pack(), evening.pack().texts());
    let mut hands = handheld(&evening, &pack, &texts, evening.at("2026-05-02 03:30"));
    let mut depot = Shed::open(&evening.path).expect("the folder");
    let mut person = PersonId(21);
    hands.sign_in(person);
    hands.take_up();
    // The evening's sheet, may it leave, the boiler, and then the sequences.
    hands.choose(3);
    let sheet = opened(&mut depot, &last(&hands).clone());

    let mut given = 0;
    for _ in 0..600 {
        let now = hands.moment().now;
        let Some((offer, who, with)) = next(&depot, sheet, now, person) else {
            if depot.ledger().sheet(sheet).is_none_or(|s| s.stage() != Stage::Open) {
                break;
            }
            hands.ms += 300_000;
            continue;
        };
        if who != person {
            hands.change_to(who);
            person = who;
        }
        hands.to(offer.step);
        let meant = as_read(passing(&depot, sheet, offer.step, hands.moment().now));
        // A second person stays named while a procedure is under way.
        let asked = with.filter(|_| offer.part == 0);
        hands.give(offer.step, &meant, who, asked);
        let hand = last(&hands).clone();
        assert_eq!(answered(&hand).0, offer.step, "{meant:?}");
        let began = matches!(meant, Answer::Began(_));
        follow(&mut depot, sheet, meant, &hand);
        given += 1;
        if began {
            let meant = as_read(passing(&depot, sheet, offer.step, hands.moment().now));
            let Answer::Ended { tenths, reading } = meant else { panic!("{meant:?} ends no hold") };
            hands.end_hold(tenths, reading);
            let hand = last(&hands).clone();
            follow(&mut depot, sheet, meant, &hand);
        } else if hands.program.sheet().is_some_and(|s| s.progress(offer.step).is_some()) {
            hands.press(Key::Left);
        }
    }
    assert!(given > 100, "{given} answers");

    let (ours, theirs) =
        (hands.program.sheet().expect("a sheet").clone(), depot.ledger().sheet(sheet).expect("a sheet"));
    assert!(matches!(ours.stage(), Stage::Finished(_)), "{:?}", ours.stage());
    assert_eq!(ours.stage(), theirs.stage());
    for (place, row) in pack.steps(PREPARATION).enumerate() {
        let told = |mark: Option<&offshed_core::sheet::Mark>| {
            mark.map(|m| (m.outcome, m.proof.by, m.proof.at, m.proof.value, m.with))
        };
        assert_eq!(told(ours.mark(place)), told(theirs.mark(place)), "step {}", row.id);
    }
    let now = hands.moment();
    let (hand, desk) = (hands.program.fitness(now), depot.ledger().fitness(TAMSIN, now.now));
    assert_eq!(hand.verdict, Verdict::Fit, "{:?}", hand.reasons);
    assert_eq!((hand.verdict, hand.until, hand.reasons), (desk.verdict, desk.until, desk.reasons));
}

#[test]
fn a_program_with_all_it_holds_fits_a_small_microcontroller() {
    println!("static state of the program: {STATIC_BYTES} bytes on this machine, its journal's own left out");
    const { assert!(STATIC_BYTES < 26 * 1_024) };
    // What a bare program takes is what one over real texts, journal and PINs takes beside them.
    let whole = size_of::<Handheld<'_>>();
    let theirs = size_of::<MemoryJournal>() + size_of::<MemoryPins>();
    assert!(whole <= STATIC_BYTES + theirs + 16, "{whole}");
}
