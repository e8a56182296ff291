//! The program: a state machine over the core's desk, in static memory.
//!
//! Keys move it from place to place; whatever is written goes through the desk, and is folded once it is durable. It
//! offers what `offshed_core::verdict` offers for the person signed in, and reports of faults, which are never locked.
//! `left` goes back everywhere, and held it shows the low-water card over whatever is on the display: it is the one key
//! that never writes, it lies under the thumb, and nothing else is asked of holding it.

mod act;
mod enter;
mod entry;
mod places;
mod press;
mod shed;
mod show;
mod show_entry;
mod show_step;

pub use entry::{LetterEntry, ValueEntry};

use embedded_graphics::prelude::Size;
use heapless::Vec;
use offshed_core::desk::Desk;
use offshed_core::entry::Entry;
use offshed_core::ident::{EngineId, PersonId, StepId};
use offshed_core::pack::rows::StepRow;
use offshed_core::pack::{Pack, Texts};
use offshed_core::register::Register;
use offshed_core::sheet::{Sheet, UNDER_WAY};
use offshed_core::verdict::{Scene, Who};

use crate::card::report::CardReport;
use crate::hand::{Hand, Journal, Moment, Pins};
use crate::keys::{Event, Keys};
use crate::layout::Layout;
use crate::roster::Roster;
use places::{Place, Timed, Told};
use shed::Shed;

/// Places one behind another: engines, engine, steps, step, reasons, step, acts, person, PIN, and what is told.
const DEEP: usize = 10;

/// A hold that runs: the step, and since when by the rising clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Running {
    step: StepId,
    since_ms: u64,
}

/// The handheld's program.
pub struct Program<'a, T: ?Sized, J, P> {
    pack: &'a Pack<'a>,
    texts: &'a T,
    desk: Desk<J>,
    pins: P,
    size: Size,
    shed: Shed,
    person: Option<PersonId>,
    with: Option<(StepId, PersonId)>,
    /// Holds that were started here and run: as many as one sheet keeps under way.
    holds: Vec<Running, UNDER_WAY, u8>,
    place: Place,
    behind: Vec<Place, DEEP, u8>,
    /// Lines scrolled away of the low-water card, while it is shown.
    low_water: Option<usize>,
    card: CardSlot,
}

/// Whether the device takes a card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum CardSlot {
    /// It does not.
    None,
    /// It does.
    Idle,
    /// A person wants the card looked at.
    Asked,
}

/// Bytes of static memory that the program takes on the machine it is built for, what its journal and PINs take of their
/// own and the pack's rules left out.
pub const STATIC_BYTES: usize = size_of::<Program<'static, (), (), ()>>();

/// What is left of 64 KiB beside the pack's rules, the display's buffer, the journal's page and 20 KiB of stack.
pub const STATIC_ROOM: usize = 26 * 1_024;

const _: () = assert!(STATIC_BYTES < STATIC_ROOM);

impl<'a, T: Texts + ?Sized, J: Journal, P: Pins> Program<'a, T, J, P> {
    /// A program over a checked pack with its words, a desk that goes on after what its journal holds, and PINs, for a
    /// display of this size.
    pub fn new(pack: &'a Pack<'a>, texts: &'a T, desk: Desk<J>, pins: P, size: Size, at: Moment) -> Self {
        let mut program = Program::unfolded(pack, texts, desk, pins, size);
        program.fold(at);
        program
    }

    /// Folds what its journal holds, and tells what found no room.
    #[inline(never)]
    pub fn fold(&mut self, at: Moment) {
        self.load(EngineId(0), at);
        match self.shed.roster.passed_over() {
            0 => {}
            lacking => self.go(Place::Told { told: Told::Lacks(lacking), skip: 0 }),
        }
    }

    /// A program that has folded nothing yet; [`Program::fold`] comes next. A device with little memory calls both, so
    /// that what building it takes of the stack is given back before anything is folded.
    #[inline(never)]
    pub fn unfolded(pack: &'a Pack<'a>, texts: &'a T, desk: Desk<J>, pins: P, size: Size) -> Self {
        Program {
            pack,
            texts,
            desk,
            pins,
            size,
            shed: Shed::new(),
            person: None,
            with: None,
            holds: Vec::new(),
            place: Place::Engines { at: 0 },
            behind: Vec::new(),
            low_water: None,
            card: CardSlot::None,
        }
    }

    /// Folds everything again with another engine in hand.
    fn load(&mut self, engine: EngineId, at: Moment) {
        if engine != self.shed.engine.id {
            self.holds.clear();
        }
        self.shed.load(self.pack, self.desk.store(), engine, at.now.stamp);
        self.with = None;
    }

    /// The same program on a device that takes a card: the list of engines has a row for it.
    #[must_use]
    pub fn with_card(mut self) -> Self {
        self.card = CardSlot::Idle;
        self
    }

    /// Whether a person wants the card looked at. Whoever runs the program does that, and makes it anew.
    pub fn card_asked(&self) -> bool {
        self.card == CardSlot::Asked
    }

    /// Tells what came of a card.
    pub fn tell_card(&mut self, report: CardReport) {
        self.tell(Told::Card(report));
    }

    /// The row of the card in the list of engines.
    fn card_row(&self) -> Option<usize> {
        (self.card != CardSlot::None).then(|| self.shed.roster.engines().count())
    }

    /// The journal and the PINs, when the program ends.
    pub fn into_parts(self) -> (Desk<J>, P) {
        (self.desk, self.pins)
    }

    /// The journal.
    pub fn journal(&self) -> &J {
        self.desk.store()
    }

    /// The register as it is folded here.
    pub fn roster(&self) -> &Roster {
        &self.shed.roster
    }

    /// The sheet in hand.
    pub fn sheet(&self) -> Option<&Sheet> {
        self.shed.sheet.as_ref()
    }

    /// The verdict on the engine in hand.
    pub fn fitness(&self, at: Moment) -> offshed_core::fitness::Fitness {
        self.shed.fitness(self.pack, at.now)
    }

    /// Who is signed in.
    pub fn person(&self) -> Option<PersonId> {
        self.person
    }

    /// The step that the place at hand is about.
    pub fn step_at_hand(&self) -> Option<StepId> {
        match &self.place {
            Place::Steps { at } => self.steps().nth(*at).map(|row| row.id),
            Place::Step { step, .. }
            | Place::Locked { step, .. }
            | Place::Acts { step, .. }
            | Place::Options { step, .. }
            | Place::Outcomes { step, .. }
            | Place::Value { step, .. }
            | Place::Number { step, .. }
            | Place::Timer { step, .. }
            | Place::Figure { step, .. } => Some(*step),
            _ => None,
        }
    }

    /// Whether what is shown changes with time alone.
    pub fn is_live(&self) -> bool {
        matches!(self.place, Place::Timer { of: Timed::Hold | Timed::Runs { .. }, .. }) && self.low_water.is_none()
    }

    /// What a verdict looks at.
    fn scene(&self) -> Scene<'_> {
        self.shed.scene(self.pack)
    }

    /// Who answers a step: the person signed in, with the second one named for this step.
    fn who(&self, step: StepId) -> Who {
        let with = self.with.filter(|(named_for, _)| *named_for == step).map(|(_, person)| person);
        Who { person: self.person, with }
    }

    /// The steps of the sheet that apply to the engine, in order.
    fn steps(&self) -> impl Iterator<Item = StepRow> + '_ {
        let features = self.shed.roster.engine(self.shed.engine.id).unwrap_or_default().features;
        let sequence = self.shed.sheet.as_ref().map(|sheet| sheet.sequence);
        let steps = sequence.into_iter().flat_map(|id| self.pack.steps(id));
        steps.filter(move |step| step.applies.is_none_or(|feature| features.has(feature.0)))
    }

    fn layout(&self) -> Layout {
        Layout::of(self.size)
    }

    /// Goes on to a place; `left` comes back.
    fn go(&mut self, to: Place) {
        let from = core::mem::replace(&mut self.place, to);
        // Where a person went deeper than ways back are kept, the way back leads to the oldest kept.
        if let Err(from) = self.behind.push(from) {
            self.behind.remove(DEEP / 2);
            let _ = self.behind.push(from);
        }
    }

    fn back(&mut self) {
        if let Some(place) = self.behind.pop() {
            self.place = place;
        }
    }

    fn tell(&mut self, told: Told) {
        self.go(Place::Told { told, skip: 0 });
    }

    /// Folds an entry that was written by another program on the same journal.
    pub fn take(&mut self, entry: &Entry) {
        self.shed.take(self.pack, entry);
    }
}

/// One turn of a device: looks at the buttons, acts, and draws when something changed or time is shown; answers the
/// buttons as they are now known.
///
/// # Errors
/// When the display fails.
pub fn turn<H, T, J, P>(
    program: &mut Program<'_, T, J, P>,
    hand: &mut H,
    keys: Keys,
) -> Result<Keys, <H::Display as embedded_graphics::prelude::DrawTarget>::Error>
where
    H: Hand,
    T: Texts + ?Sized,
    J: Journal,
    P: Pins,
{
    let at = hand.moment();
    let (keys, event): (Keys, Option<Event>) = keys.look(hand.contacts(), at.ms);
    if let Some(event) = event {
        program.step(event, at);
    }
    if event.is_some() || program.is_live() {
        program.draw(hand.display(), at)?;
    }
    Ok(keys)
}
