//! What each key does at each place.

use heapless::Vec;
use offshed_core::entry::{Answer, Found, Review};
use offshed_core::ident::{EngineId, SequenceId, StepId};
use offshed_core::pack::Texts;
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::pack::{Rule, part_unit};
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::sheet::Stage;
use offshed_core::stamp::Stamp;
use offshed_core::units::{Quantity, Reading};
use offshed_core::verdict::{self, Reason, StepState};

use super::act::Act;
use super::entry::{LetterEntry, ValueEntry};
use super::places::{Asked, Place, Timed, Told, Valued, Worded};
use super::{CardSlot, Program};
use crate::hand::{Journal, Moment, Pins};
use crate::keys::{Event, Key};
use crate::paint::{Blank, Extent};
use crate::phrases;

/// One row of an engine's page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum EngineRow {
    /// Go on with the open sheet.
    GoOn,
    /// May it leave?
    Fitness,
    /// The boiler at a level.
    Boiler,
    /// Give the open sheet up.
    GiveUp,
    /// Look at the sheet that is finished.
    LookAt,
    /// Open a sheet of a sequence.
    Open(SequenceId),
}

/// Rows of an engine's page: four, and one a sequence; a pack has at most eight.
pub(super) type EngineRows = Vec<EngineRow, 16, u8>;

/// Outcomes of a review, in the order they are offered.
pub(super) const OUTCOMES: [Review; 3] = [Review::Accepted, Review::SentBack, Review::Stopped];

/// The table of words for a purpose.
pub(super) fn table(of: Worded) -> &'static [&'static str] {
    match of {
        Worded::NotRight(_) => &phrases::NOT_RIGHT,
        Worded::NotApplicable(_) => &phrases::NOT_APPLICABLE,
        Worded::Reviewed(..) => &phrases::REVIEWED,
        Worded::GivenUp => &phrases::GIVEN_UP,
    }
}

/// Millimetres of glass a press moves the level that is tried.
const TRY_MM: u16 = 5;

/// The place in a list after a key; lists do not go round, so that their ends are felt.
pub(super) fn moved(at: usize, key: Key, all: usize) -> usize {
    match key {
        Key::Up => at.saturating_sub(1),
        Key::Down => (at + 1).min(all.saturating_sub(1)),
        _ => at,
    }
}

/// The step that a reason is about, and whose doing would cure it.
fn cure(reason: &Reason) -> Option<StepId> {
    match reason.why {
        Why::NeedsFirst { step }
        | Why::NotRight { step }
        | Why::Skipped { step }
        | Why::Lapsed { step, .. }
        | Why::Voided { step, .. }
        | Why::ClockDoubted { step }
        | Why::Low { step, .. }
        | Why::High { step, .. }
        | Why::NoValue { step }
        | Why::NoFigure { step, .. }
        | Why::SamePerson { step, .. } => Some(step),
        Why::Disagree { a, .. } => Some(a),
        Why::TooSoon { since, .. } => Some(since),
        _ => match reason.rule? {
            Rule::After(step) | Rule::Fresh { step, .. } | Rule::Within { step, .. } => Some(step),
            Rule::AtLeast { reading, .. } => Some(reading),
            _ => None,
        },
    }
}

impl<T: Texts + ?Sized, J: Journal, P: Pins> Program<'_, T, J, P> {
    /// What a key makes of it.
    pub fn step(&mut self, event: Event, at: Moment) {
        let Some(key) = event.key() else {
            self.low_water = Some(0);
            return;
        };
        match (self.low_water, key) {
            (Some(_), Key::Left | Key::Select) => self.low_water = None,
            (Some(skip), _) => self.low_water = Some(self.scrolled(skip, key, at)),
            (None, key) => self.press(key, at),
        }
    }

    pub(super) fn press(&mut self, key: Key, at: Moment) {
        match self.place.clone() {
            Place::Engines { at: n } => self.in_engines(n, key, at),
            Place::Engine { at: n } => self.in_engine(n, key, at),
            Place::Steps { at: n } => self.in_steps(n, key, at),
            Place::Locked { step, at: n, skip } => self.in_locked(step, (n, skip), key, at),
            Place::Step { step, skip } => self.in_step(step, skip, key, at),
            Place::Acts { step, at: n } => self.in_acts(step, n, key, at),
            Place::Words { of, at: n } => self.in_words(of, n, key, at),
            Place::Options { step, at: n } => self.in_options(step, n, key, at),
            Place::Outcomes { step, at: n } => self.in_outcomes(step, n, key),
            Place::Value { step, of, entry } => self.in_value(step, of, entry, key, at),
            Place::Number { step, entry } => self.in_number(step, entry, key, at),
            Place::Pin { person, asked, entry } => self.in_pin(person, asked, entry, key, at),
            Place::Timer { step, of } => self.in_timer(step, of, key, at),
            Place::Figure { step, shown, skip } => match (key, shown) {
                (Key::Select, Ok(shown)) => self.answer(step, Answer::Accepted(shown), at),
                (key, shown) => {
                    let skip = self.scrolled(skip, key, at);
                    self.stay_or_back(key, Place::Figure { step, shown, skip });
                }
            },
            Place::Confirm { asked, skip } => self.in_confirm(asked, skip, key, at),
            Place::People { asked, at: n } => self.in_people(asked, n, key),
            Place::Boiler { mm, read } => self.in_boiler(mm, read, key),
            Place::Fitness { skip } => {
                let skip = self.scrolled(skip, key, at);
                self.stay_or_back(key, Place::Fitness { skip });
            }
            Place::Told { told, skip } => match key {
                Key::Select | Key::Left => self.back(),
                _ => self.place = Place::Told { told, skip: self.scrolled(skip, key, at) },
            },
        }
    }

    /// `left` goes back; every other key leaves a person where `place` is.
    pub(super) fn stay_or_back(&mut self, key: Key, place: Place) {
        if key == Key::Left { self.back() } else { self.place = place }
    }

    /// How far lines are scrolled after a key: never beyond what there is.
    pub(super) fn scrolled(&self, skip: usize, key: Key, at: Moment) -> usize {
        let extent: Extent = match self.draw(&mut Blank(self.size), at) {
            Ok(extent) => extent,
            Err(never) => match never {},
        };
        match key {
            Key::Up => skip.saturating_sub(1),
            Key::Down => (skip + 1).min(extent.furthest()),
            _ => skip,
        }
    }

    pub(super) fn in_engines(&mut self, n: usize, key: Key, at: Moment) {
        let engines = self.shed.roster.engines().count();
        match key {
            Key::Select | Key::Right => {
                let engine = self.shed.roster.engines().nth(n).map(|(id, _)| id);
                match engine {
                    Some(id) => self.take_up(id, at),
                    None if self.card_row() == Some(n) => self.card = CardSlot::Asked,
                    None => self.go(Place::People { asked: Asked::SignIn, at: 0 }),
                }
            }
            _ => {
                let rows = engines + usize::from(self.card_row().is_some()) + 1;
                self.place = Place::Engines { at: moved(n, key, rows) };
            }
        }
    }

    pub(super) fn take_up(&mut self, id: EngineId, at: Moment) {
        self.load(id, at);
        self.go(Place::Engine { at: 0 });
    }

    /// Rows of the engine's page.
    pub(super) fn engine_rows(&self) -> EngineRows {
        let mut rows = EngineRows::new();
        let stage = self.shed.sheet.as_ref().map(|sheet| sheet.stage());
        let open = stage == Some(Stage::Open);
        let boiler = self.shed.roster.boiler(self.shed.engine.id).is_some();
        let fixed = [
            open.then_some(EngineRow::GoOn),
            (stage.is_some() && !open).then_some(EngineRow::LookAt),
            Some(EngineRow::Fitness),
            boiler.then_some(EngineRow::Boiler),
            open.then_some(EngineRow::GiveUp),
        ];
        rows.extend(fixed.into_iter().flatten());
        for sequence in self.pack.sequences().filter(|_| !open) {
            // A pack with more sequences than a handheld lists is worked at a desk.
            let _ = rows.push(EngineRow::Open(sequence.id));
        }
        rows
    }

    pub(super) fn in_engine(&mut self, n: usize, key: Key, at: Moment) {
        let rows = self.engine_rows();
        match key {
            Key::Left => self.back(),
            Key::Select | Key::Right => match rows.get(n) {
                Some(EngineRow::GoOn | EngineRow::LookAt) => self.go_on(at),
                Some(EngineRow::Fitness) => self.go(Place::Fitness { skip: 0 }),
                Some(EngineRow::Boiler) => self.go(self.boiler_now()),
                Some(EngineRow::GiveUp) => self.signed_in(|program| {
                    program.go(Place::Words { of: Worded::GivenUp, at: 0 });
                }),
                Some(EngineRow::Open(sequence)) => {
                    let sequence = *sequence;
                    self.signed_in(|program| program.open_sheet(sequence, at));
                }
                None => {}
            },
            _ => self.place = Place::Engine { at: moved(n, key, rows.len()) },
        }
    }

    /// Does it when somebody is signed in; else asks who it is, and they do it then.
    pub(super) fn signed_in(&mut self, act: impl FnOnce(&mut Self)) {
        match self.person {
            Some(_) => act(self),
            None => self.go(Place::People { asked: Asked::SignIn, at: 0 }),
        }
    }

    /// To the steps of the sheet, at the first that is offered.
    pub(super) fn go_on(&mut self, at: Moment) {
        let scene = self.scene();
        let who = verdict::Who { person: self.person, with: None };
        let first = verdict::offers(&scene, who, at.now).next().map(|offer| offer.step);
        let n = first.and_then(|id| self.steps().position(|row| row.id == id)).unwrap_or(0);
        self.go(Place::Steps { at: n });
    }

    /// The boiler at the last level read on the sheet, else at half glass. What was computed is no reading.
    pub(super) fn boiler_now(&self) -> Place {
        let own = self.shed.roster.engine(self.shed.engine.id).unwrap_or_default().own();
        let sheet = self.shed.sheet.as_ref();
        let sequence = sheet.map(|sheet| sheet.sequence);
        let steps = sequence.into_iter().flat_map(|id| self.pack.steps(id)).enumerate();
        let read = steps.filter(|(_, row)| !matches!(row.kind, KindRow::Figure { .. }));
        let proofs = read.filter_map(|(place, _)| sheet?.mark(place)).map(|mark| mark.proof);
        let level = |value: Reading| value.in_base(Quantity::Glass, own).ok();
        let levels = proofs.filter_map(|proof| Some((proof.at, u16::try_from(level(proof.value?)? / 1_000).ok()?)));
        let visible = self.visible_mm();
        match levels.max_by_key(|(at, _)| *at) {
            Some((at, mm)) => Place::Boiler { mm: mm.min(visible), read: Some(at) },
            None => Place::Boiler { mm: visible / 2, read: None },
        }
    }

    pub(super) fn visible_mm(&self) -> u16 {
        self.shed.roster.boiler(self.shed.engine.id).map_or(0, |b| b.vessel.visible_mm() as u16)
    }

    pub(super) fn in_boiler(&mut self, mm: u16, read: Option<Stamp>, key: Key) {
        let place = match key {
            Key::Up => Place::Boiler { mm: mm.saturating_add(TRY_MM).min(self.visible_mm()), read: None },
            Key::Down => Place::Boiler { mm: mm.saturating_sub(TRY_MM), read: None },
            _ => Place::Boiler { mm, read },
        };
        self.stay_or_back(key, place);
    }

    pub(super) fn in_steps(&mut self, n: usize, key: Key, at: Moment) {
        let all = self.steps().count();
        let step = self.steps().nth(n).map(|row| row.id);
        match (key, step) {
            (Key::Left, _) => self.back(),
            (Key::Select, Some(step)) if !self.reasons(step, at).is_empty() => {
                self.go(Place::Locked { step, at: 0, skip: 0 })
            }
            (Key::Select | Key::Right, Some(step)) => self.go(Place::Step { step, skip: 0 }),
            _ => self.place = Place::Steps { at: moved(n, key, all) },
        }
    }

    /// Why a step waits.
    pub(super) fn reasons(&self, step: StepId, at: Moment) -> Vec<Reason, { offshed_core::limits::REASONS }> {
        match verdict::of(&self.scene(), step, self.who(step), at.now) {
            StepState::Waiting(judged) => judged.reasons,
            _ => Vec::new(),
        }
    }

    pub(super) fn in_locked(&mut self, step: StepId, (n, skip): (usize, usize), key: Key, at: Moment) {
        let reasons = self.reasons(step, at);
        match key {
            Key::Left => self.back(),
            Key::Right => self.go(Place::Step { step, skip: 0 }),
            Key::Select => self.cured(step, reasons.get(n)),
            _ => {
                // A reason longer than the display is read to its end before the next one.
                let to = self.scrolled(skip, key, at);
                let (n, skip) = if to == skip { (moved(n, key, reasons.len()), 0) } else { (n, to) };
                self.place = Place::Locked { step, at: n, skip };
            }
        }
    }

    /// To what would cure a reason: a step of this sheet, somebody else, a second person.
    pub(super) fn cured(&mut self, step: StepId, reason: Option<&Reason>) {
        let Some(reason) = reason else { return };
        match reason.why {
            Why::NobodyWith { .. } | Why::WithOneself => self.go(Place::People { asked: Asked::With(step), at: 0 }),
            Why::NotInGrade { .. } | Why::GradeLapsed { .. } | Why::SamePerson { .. } | Why::OnThisSheet { .. } => {
                self.go(Place::People { asked: Asked::SignIn, at: 0 });
            }
            _ => match cure(reason).filter(|id| self.steps().any(|row| row.id == *id)) {
                Some(step) => self.go(Place::Step { step, skip: 0 }),
                None => self.tell(Told::Refused(reason.why)),
            },
        }
    }

    pub(super) fn row(&self, step: StepId) -> Option<StepRow> {
        verdict::find(&self.scene(), step).ok().map(|(row, _)| row)
    }

    pub(super) fn in_step(&mut self, step: StepId, skip: usize, key: Key, at: Moment) {
        match key {
            Key::Select if self.person.is_none() => self.go(Place::People { asked: Asked::SignIn, at: 0 }),
            Key::Select => self.go(Place::Acts { step, at: 0 }),
            Key::Right if !self.reasons(step, at).is_empty() => self.go(Place::Locked { step, at: 0, skip: 0 }),
            _ => {
                let skip = self.scrolled(skip, key, at);
                self.stay_or_back(key, Place::Step { step, skip });
            }
        }
    }

    pub(super) fn in_acts(&mut self, step: StepId, n: usize, key: Key, at: Moment) {
        let Some(row) = self.row(step) else { return self.back() };
        let acts = self.acts(&row, at);
        match (key, acts.get(n).copied()) {
            (Key::Left, _) => self.back(),
            (Key::Select | Key::Right, Some(act)) => self.act(&row, act, at),
            _ => self.place = Place::Acts { step, at: moved(n, key, acts.len()) },
        }
    }

    pub(super) fn act(&mut self, row: &StepRow, act: Act, at: Moment) {
        let step = row.id;
        match act {
            Act::Done => self.answer(step, Answer::Done, at),
            Act::Seen => self.answer(step, Answer::Part { part: self.next_part(step), found: Found::Seen }, at),
            Act::Enter => self.enter(row),
            Act::Number => self.go(Place::Number { step, entry: LetterEntry::number() }),
            Act::Choose => self.go(Place::Options { step, at: 0 }),
            Act::Begin => self.begin(row, at),
            Act::End => self.go(Place::Timer { step, of: Timed::Hold }),
            Act::Time => self.go(Place::Timer { step, of: Timed::Ready }),
            Act::Look => {
                let shown = verdict::shown(&self.scene(), row, at.now);
                self.go(Place::Figure { step, shown, skip: 0 });
            }
            Act::Sign => self.go(Place::Confirm { asked: Asked::Sign(step), skip: 0 }),
            Act::Review => self.go(Place::Outcomes { step, at: 0 }),
            Act::NotRight => self.go(Place::Words { of: Worded::NotRight(step), at: 0 }),
            Act::NotApplicable => self.go(Place::Words { of: Worded::NotApplicable(step), at: 0 }),
        }
    }

    pub(super) fn enter(&mut self, row: &StepRow) {
        let part = self.ask(row, self.next_part(row.id)).and_then(part_unit);
        let (unit, of) = match (row.kind, part) {
            (KindRow::Reading { unit, .. }, _) => (unit, Valued::Reading),
            (_, Some(unit)) => (unit, Valued::Part),
            _ => return,
        };
        self.go(Place::Value { step: row.id, of, entry: ValueEntry::new(unit) });
    }

    pub(super) fn begin(&mut self, row: &StepRow, at: Moment) {
        match row.kind {
            KindRow::Timed { unit: Some(unit), .. } => {
                self.go(Place::Value { step: row.id, of: Valued::Began, entry: ValueEntry::new(unit) });
            }
            _ => self.answer(row.id, Answer::Began(None), at),
        }
    }
}
