//! What five buttons do and never do: the low-water card from everywhere, `left` that never writes, reasons that lead to
//! their cures, and any run of presses at all.

mod common;

use std::sync::LazyLock;

use common::Evening;
use common::memory::{MemoryJournal, MemoryPins};
use common::picture::Canvas;
use embedded_graphics::Drawable;
use embedded_graphics::prelude::Size;
use offshed_core::desk::{Desk, Store};
use offshed_core::entry::{Answer, Entry, What};
use offshed_core::fitness::Verdict;
use offshed_core::ident::{DeviceId, EngineId, PersonId, StepId};
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::verdict::{self, Scene, Who};
use offshed_handheld::hand::{Moment, Records, Unstored};
use offshed_handheld::keys::{Event, KEYS, Key};
use offshed_handheld::program::Program;
use offshed_handheld::screens::BoilerPage;

static EVENING: LazyLock<Evening> = LazyLock::new(Evening::play);
static PACK: LazyLock<Pack<'static>> = LazyLock::new(|| EVENING.pack().pack());
static TEXTS: LazyLock<SliceTexts<'static>> = LazyLock::new(|| EVENING.pack().texts());

type Handheld = Program<'static, SliceTexts<'static>, MemoryJournal, MemoryPins>;

/// A handheld that counts its seconds.
struct Hands {
    program: Handheld,
    start: Stamp,
    ms: u64,
    size: Size,
}

/// Everybody's PIN is `1111`: one digit, four times.
fn hands(size: Size) -> Hands {
    let journal = MemoryJournal::new(EVENING.ledger.entries().cloned().collect());
    let people = EVENING.ledger.office.people.keys().map(|id| (*id, "1111".to_owned())).collect();
    let desk = Desk::new(DeviceId(*b"handheld"), 0, journal.clock(), journal);
    let start = EVENING.at("2026-05-02 03:30");
    let at = Moment { now: Now::good(start), ms: 0 };
    Hands { program: Program::new(&PACK, &TEXTS, desk, MemoryPins::new(people), size, at), start, ms: 0, size }
}

const SMALL: Size = Size::new(128, 64);

impl Hands {
    fn moment(&self) -> Moment {
        Moment { now: Now::good(self.start.plus((self.ms / 1_000) as i64)), ms: self.ms }
    }

    fn event(&mut self, event: Event) {
        self.ms += 150;
        let at = self.moment();
        self.program.step(event, at);
    }

    fn press(&mut self, keys: &[Key]) {
        keys.iter().for_each(|key| self.event(Event::Press(*key)));
    }

    fn picture(&self) -> Canvas {
        let mut canvas = Canvas::new(self.size);
        let Ok(_) = self.program.draw(&mut canvas, self.moment());
        canvas
    }

    fn written(&self) -> usize {
        self.program.journal().entries.len()
    }

    fn pin(&mut self) {
        use Key::{Right, Select, Up};
        self.press(&[Up, Up, Right, Up, Up, Right, Up, Up, Right, Up, Up, Select]);
    }

    /// Signs Corin Vey, the fireman, in and opens a preparation of Tamsin.
    fn open(size: Size) -> Hands {
        let mut hands = hands(size);
        hands.press(&[Key::Down; 9]);
        hands.press(&[Key::Select]);
        let n = hands.program.roster().people().position(|(id, _)| id == PersonId(21)).expect("the fireman");
        (0..n).for_each(|_| hands.press(&[Key::Down]));
        hands.press(&[Key::Select]);
        hands.pin();
        assert_eq!(hands.program.person(), Some(PersonId(21)));
        hands.press(&[Key::Up; 9]);
        // Tamsin: the closed sheet, may it leave, the boiler, the preparation.
        hands.press(&[Key::Select, Key::Down, Key::Down, Key::Down, Key::Select]);
        assert_eq!(hands.program.sheet().map(|sheet| sheet.engine), Some(EngineId(4)));
        hands
    }

    /// Shows the step in the list.
    fn choose(&mut self, step: StepId) {
        self.press(&[Key::Up; 70]);
        for _ in 0..100 {
            if self.program.step_at_hand() == Some(step) {
                return;
            }
            self.press(&[Key::Down]);
        }
        panic!("step {step} is not in the list");
    }
}

/// The card comes up over everything, scrolls, and goes away without a trace.
#[test]
fn the_low_water_card_is_one_long_press_away_from_everywhere() {
    let mut hands = Hands::open(SMALL);
    let card = {
        hands.event(Event::LowWater);
        let card = hands.picture();
        hands.press(&[Key::Left]);
        card
    };
    // A reading half entered, a PIN half entered, a list, a page.
    let ways: [&[Key]; 4] =
        [&[Key::Right], &[Key::Select], &[Key::Select, Key::Down], &[Key::Left, Key::Left, Key::Up, Key::Up]];
    for way in ways {
        hands.press(way);
        let before = (hands.picture(), hands.written());
        hands.event(Event::LowWater);
        assert_eq!(hands.picture(), card);
        hands.press(&[Key::Down, Key::Down]);
        assert_ne!(hands.picture(), card, "it scrolls");
        hands.press(&[Key::Select]);
        assert_eq!((hands.picture(), hands.written()), before);
    }
}

#[test]
fn a_reason_leads_to_its_cure() {
    let mut hands = Hands::open(SMALL);
    let waiting = PACK.all_steps().filter(|row| row.sequence.0 == 1).find_map(|row| {
        let sheet = hands.program.sheet()?;
        let engine = offshed_core::engine::EngineState::new(EngineId(4));
        let scene =
            Scene { pack: &PACK, register: hands.program.roster(), engine: &engine, sheet: Some(sheet), left_at: None };
        let who = Who { person: Some(PersonId(21)), with: None };
        match verdict::of(&scene, row.id, who, hands.moment().now) {
            verdict::StepState::Waiting(judged) => match judged.reasons.first()?.why {
                // One of this sheet's own steps: others are done on a sheet of theirs.
                offshed_core::reason::Why::NeedsFirst { step } => {
                    PACK.step(step).filter(|cure| cure.sequence == row.sequence).map(|cure| (row.id, cure.id))
                }
                _ => None,
            },
            _ => None,
        }
    });
    let (step, first) = waiting.expect("a step that waits for another");
    hands.choose(step);
    hands.press(&[Key::Select]);
    assert_eq!(hands.program.step_at_hand(), Some(step), "why it waits");
    hands.press(&[Key::Select]);
    assert_eq!(hands.program.step_at_hand(), Some(first), "what would cure it");
    hands.press(&[Key::Left]);
    assert_eq!(hands.program.step_at_hand(), Some(step));
}

/// A fault is never locked: it can be reported at a step that waits, in words, and the engine is then not fit.
#[test]
fn a_fault_is_reported_at_a_step_that_waits() {
    let mut hands = Hands::open(SMALL);
    let last = PACK.all_steps().filter(|row| row.sequence.0 == 1 && row.fails.is_some()).last().expect("a step");
    hands.choose(last.id);
    let before = hands.written();
    // Why it waits, the step itself, what may be answered: only that it is not right.
    hands.press(&[Key::Select, Key::Right, Key::Select, Key::Select, Key::Select]);
    assert_eq!(hands.written(), before + 1);
    let entry = hands.program.journal().entries.last().expect("an entry").clone();
    match entry.what {
        What::Answered { step, answer: Answer::NotRight { words }, .. } => {
            assert_eq!(step, last.id);
            assert_eq!(words.as_str(), offshed_handheld::phrases::NOT_RIGHT[0]);
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(hands.program.fitness(hands.moment()).verdict, Verdict::NotFit);
}

#[test]
fn a_wrong_pin_signs_nobody_in() {
    let mut hands = hands(SMALL);
    hands.press(&[Key::Down; 9]);
    hands.press(&[Key::Select, Key::Select, Key::Up, Key::Select]);
    assert_eq!(hands.program.person(), None);
    hands.press(&[Key::Select]);
    hands.pin();
    assert!(hands.program.person().is_some(), "the right one does");
}

/// Nothing is opened, and so nothing written, until somebody says who they are.
#[test]
fn nobody_signed_in_writes_nothing() {
    let mut hands = hands(SMALL);
    let before = hands.written();
    hands.press(&[Key::Select, Key::Down, Key::Down, Key::Down, Key::Select]);
    assert_eq!(hands.written(), before);
    assert_eq!(hands.program.person(), None);
}

/// The level that the boiler is shown at is the one that was read, not what was computed after it.
///
/// The evening's water test reads 95 mm and then computes that the glass needs to fall by none.
#[test]
fn the_boiler_stands_at_the_level_that_was_read() {
    use offshed_core::register::Register;
    let mut hands = hands(SMALL);
    hands.press(&[Key::Select, Key::Down, Key::Down, Key::Select]);
    let boiler = hands.program.roster().boiler(EngineId(4)).expect("a measured boiler");
    let page = |glass_mm, from| {
        let mut canvas = Canvas::new(SMALL);
        let Ok(_) = BoilerPage { texts: &*TEXTS, vessel: boiler.vessel, glass_mm, from }.draw(&mut canvas);
        canvas
    };
    let (read, tried) = (page(95, "Read 2026-05-01"), page(100, "If it were"));
    assert_eq!(hands.picture(), read);
    hands.press(&[Key::Up]);
    assert_eq!(hands.picture(), tried);
}

/// A journal that takes nothing.
struct Broken(MemoryJournal);

impl Store for Broken {
    type Error = Unstored;

    fn append(&mut self, _: &Entry, _: &[u8]) -> Result<(), Unstored> {
        Err(Unstored::Failed)
    }
}

impl Records for Broken {
    fn each(&self, show: &mut dyn FnMut(&Entry)) {
        self.0.each(show);
    }
}

/// What could not be made durable is not taken as done, and the person is told.
#[test]
fn what_is_not_stored_is_not_done() {
    let journal = MemoryJournal::new(EVENING.ledger.entries().cloned().collect());
    let desk = Desk::new(DeviceId(*b"handheld"), 0, journal.clock(), Broken(journal));
    let at = Moment { now: Now::good(EVENING.at("2026-05-02 03:30")), ms: 0 };
    let pins = MemoryPins::new(vec![(PersonId(1), "1".to_owned())]);
    let texts: &SliceTexts<'_> = &TEXTS;
    let mut program = Program::new(&PACK, texts, desk, pins, SMALL, at);
    let mut press = |keys: &[Key]| keys.iter().for_each(|key| program.step(Event::Press(*key), at));
    press(&[Key::Down; 9]);
    press(&[Key::Select, Key::Select, Key::Up, Key::Up, Key::Select]);
    press(&[Key::Up; 9]);
    press(&[Key::Select, Key::Down, Key::Down, Key::Down]);
    let evening = program.sheet().map(|sheet| sheet.id);
    program.step(Event::Press(Key::Select), at);
    assert_eq!(program.person(), Some(PersonId(1)));
    assert_eq!(program.sheet().map(|sheet| sheet.id), evening, "no sheet is opened");
}

/// Any run of presses: nothing panics at any size, `left` and the card never write, and whatever is written is offered.
#[test]
fn any_run_of_presses_is_sound() {
    for (run, size) in [(1, SMALL), (2, Size::new(240, 160)), (3, Size::new(400, 240))] {
        let mut hands = Hands::open(size);
        let mut state: u64 = 0x9e37_79b9_7f4a_7c15 + run;
        let mut wrote = 0;
        for _ in 0..900 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let pick = (state >> 33) as usize;
            let event = match pick % 16 {
                0 => Event::LowWater,
                n @ 1..=4 => Event::Repeat(if n % 2 == 0 { Key::Up } else { Key::Down }, 3),
                5..=9 => Event::Press(Key::Select),
                n => Event::Press(KEYS[n % KEYS.len()]),
            };
            let before = hands.written();
            hands.event(event);
            let more = hands.written() - before;
            let never = matches!(event, Event::LowWater | Event::Press(Key::Left) | Event::Repeat(..));
            assert!(more == 0 || (more == 1 && !never), "{event:?} wrote {more}");
            wrote += more;
            if pick.is_multiple_of(4) {
                hands.picture();
            }
        }
        assert!(wrote > 5, "{wrote} entries by chance");
    }
}
