//! The desk: the single write path. An intention is judged, becomes an entry, is made durable, and only then counts.

use crate::boiler::BadNumber;
use crate::boiler::pressure::Atmosphere;
use crate::boiler::record::road_start;
use crate::engine::EngineState;
use crate::entry::{Answer, Entry, Fact, Unreadable, What};
use crate::ident::{DefectId, DeviceId, EntryRef, GradeId, PersonId, ProductId, RoadId, Set};
use crate::limits::ENTRY_BYTES;
use crate::pack::Pack;
use crate::pack::rows::DefectGrade;
use crate::reason::Why;
use crate::register::{Competence, Register};
use crate::sheet::{Sheet, Stage};
use crate::stamp::{Day, Hlc, Now};
use crate::units::{Quantity, Reading};
use crate::verdict::{self, Scene, Who};

/// Where entries are made durable.
pub trait Store {
    /// Why an entry could not be made durable.
    type Error;

    /// Makes the entry durable before it answers. `bytes` is the entry's postcard form.
    ///
    /// # Errors
    /// When it is not durable; nothing is then taken as written.
    fn append(&mut self, entry: &Entry, bytes: &[u8]) -> Result<(), Self::Error>;
}

/// What the desk looks at before it writes.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The sheet's pack, or the adopted one where no sheet is meant; `None` when it is not here.
    pub pack: Option<&'a Pack<'a>>,
    /// The register.
    pub register: &'a dyn Register,
    /// The engine, where one is meant.
    pub engine: Option<&'a EngineState>,
    /// The sheet, where one is meant.
    pub sheet: Option<&'a Sheet>,
    /// Who keeps the register.
    pub office: Staffing,
}

/// Who keeps the register.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Staffing {
    /// Nobody was ever granted an office grade: the register may be filled by whoever sets it up.
    Never,
    /// Everybody's office grade has run out: they may still put that right, and nobody else may.
    Lapsed,
    /// Somebody holds an office grade today.
    Staffed,
}

/// Why nothing was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Denied<E> {
    /// The rules refuse it.
    Refused(Why),
    /// The store could not make it durable.
    NotDurable(E),
    /// The device has written as many entries as its count can hold.
    Exhausted,
    /// The entry does not fit its buffer; a fault of this program.
    Unwritable(Unreadable),
}

/// One device's write path.
#[derive(Debug)]
pub struct Desk<S> {
    device: DeviceId,
    seq: u32,
    hlc: Hlc,
    store: S,
}

impl<S: Store> Desk<S> {
    /// A desk that goes on after entry `seq` of its device, having seen clocks up to `hlc`.
    pub fn new(device: DeviceId, seq: u32, hlc: Hlc, store: S) -> Desk<S> {
        Desk { device, seq, hlc, store }
    }

    /// The device that writes here.
    pub fn device(&self) -> DeviceId {
        self.device
    }

    /// The store.
    pub fn store(&self) -> &S {
        &self.store
    }

    /// The store, to seal or close it.
    pub fn store_mut(&mut self) -> &mut S {
        &mut self.store
    }

    /// Entries of other devices came in: the clock never falls below them.
    pub fn saw(&mut self, hlc: Hlc) {
        self.hlc = self.hlc.seen(hlc);
    }

    /// Judges an intention and writes it.
    ///
    /// # Errors
    /// When the rules refuse it, or it can't be made durable. Nothing is written then.
    pub fn act(&mut self, view: &View<'_>, what: What, person: PersonId, now: Now) -> Result<Entry, Denied<S::Error>> {
        permit(view, &what, person, now).map_err(Denied::Refused)?;
        let seq = self.seq.checked_add(1).ok_or(Denied::Exhausted)?;
        let hlc = self.hlc.tick(now.stamp);
        let at = EntryRef { device: self.device, seq };
        let entry = Entry { at, hlc, stamp: now.stamp, clock: now.clock, person, what };
        let mut buffer = [0; ENTRY_BYTES];
        let bytes = entry.encode(&mut buffer).map_err(Denied::Unwritable)?;
        self.store.append(&entry, bytes).map_err(Denied::NotDurable)?;
        (self.seq, self.hlc) = (seq, hlc);
        Ok(entry)
    }
}

/// Whether the rules allow an intention now.
///
/// Locks limit what counts as proof. Reporting a fault, an event or a defect needs a known person and nothing else.
///
/// # Errors
/// The first thing in its way.
pub fn permit(view: &View<'_>, what: &What, person: PersonId, now: Now) -> Result<(), Why> {
    match what {
        What::Registered(fact) => return register(view, fact, person, now),
        What::Answered { .. } | What::Struck { .. } | What::Abandoned { .. } | What::Joined { .. } => {
            view.sheet.ok_or(Why::SheetClosed)?;
        }
        _ => {}
    }
    let desk = At { pack: view.pack.ok_or(Why::PackMissing)?, view, person, now };
    desk.known_person()?;
    match what {
        What::SheetOpened { sequence, pack, .. } => {
            desk.engine()?;
            let known = desk.pack.sequence(*sequence).is_some();
            if *pack != desk.pack.hash() {
                Err(Why::PackDiffers)
            } else {
                known.then_some(()).ok_or(Why::SequenceUnknown)
            }
        }
        What::Answered { step, answer, done_at, with, .. } => {
            desk.when(*done_at, view.sheet)?;
            desk.answer(*step, answer, *with)
        }
        What::Struck { step, entry, reason, .. } => desk.strike(*step, *entry, reason),
        What::Joined { from, .. } => desk.open_sheet().map_err(|_| Why::NotJoinable { sheet: *from }),
        What::Abandoned { reason, .. } => desk.open_sheet().and_then(|()| words(reason)),
        What::HandedOver { words: note, .. } => desk.engine().and_then(|_| words(note)),
        What::Happened { event, done_at, .. } => {
            desk.when(*done_at, None)?;
            desk.engine()?;
            let event = desk.pack.event(*event).ok_or(Why::EventUnknown)?;
            desk.holds(event.by)
        }
        What::DefectOpened { words: text, .. } => desk.engine().and_then(|_| words(text)),
        What::DefectRestricted { defect, words: text, until } => desk.restrict(*defect, text, *until),
        What::DefectCleared { defect, grade, words: text } => desk.clear(*defect, *grade, text),
        What::Dispensed { words: text, until, .. } => {
            desk.engine()?;
            desk.holds_any(desk.pack.head().restricted_by)?;
            words(text)?;
            desk.not_past(*until)
        }
        What::TagHung { .. } => desk.engine().map(|_| ()),
        What::TagLifted { .. } => {
            let held = desk.engine()?.tags().iter().any(|(holder, _)| *holder == person);
            held.then_some(()).ok_or(Why::NoTagOfTheirs)
        }
        What::Registered(_) => Ok(()),
    }
}

fn words(text: &str) -> Result<(), Why> {
    if text.trim().is_empty() { Err(Why::WordsMissing) } else { Ok(()) }
}

/// One person at the desk, now.
struct At<'v, 'a> {
    pack: &'v Pack<'a>,
    view: &'v View<'a>,
    person: PersonId,
    now: Now,
}

impl At<'_, '_> {
    fn scene<'s>(&'s self, engine: &'s EngineState) -> Scene<'s> {
        Scene { pack: self.pack, register: self.view.register, engine, sheet: self.view.sheet, left_at: None }
    }

    fn engine(&self) -> Result<&EngineState, Why> {
        let engine = self.view.engine.ok_or(Why::EngineUnknown)?;
        self.view.register.engine(engine.id).map(|_| engine).ok_or(Why::EngineUnknown)
    }

    fn holds(&self, grade: GradeId) -> Result<(), Why> {
        let nowhere = EngineState::new(crate::ident::EngineId(0));
        let engine = self.view.engine.unwrap_or(&nowhere);
        verdict::in_grade(&self.scene(engine), self.person, grade, self.now)
    }

    /// One of several grades; the reason given is about the first.
    fn holds_any(&self, grades: Set) -> Result<(), Why> {
        let mut refused = Err(Why::NotInGrade { grade: GradeId(0) });
        for (n, grade) in grades.members().enumerate() {
            match self.holds(GradeId(grade)) {
                Ok(()) => return Ok(()),
                Err(why) if n == 0 => refused = Err(why),
                Err(_) => {}
            }
        }
        refused
    }

    /// Somebody who holds or held a grade: a grade run out locks proofs, not reports.
    fn known_person(&self) -> Result<(), Why> {
        let held = |id| self.view.register.competence(self.person, id) != Competence::None;
        let any = self.pack.grades().any(|g| held(g.id));
        any.then_some(()).ok_or(Why::PersonUnknown { person: self.person })
    }

    fn when(&self, done_at: Option<crate::stamp::Stamp>, sheet: Option<&Sheet>) -> Result<(), Why> {
        match done_at {
            Some(at) if at > self.now.stamp => Err(Why::InFuture),
            Some(at) if sheet.is_some_and(|s| at < s.opened) => Err(Why::BeforeSheet),
            _ => Ok(()),
        }
    }

    fn answer(&self, step: crate::ident::StepId, answer: &Answer, with: Option<PersonId>) -> Result<(), Why> {
        let scene = self.scene(self.engine()?);
        let (row, _) = verdict::find(&scene, step)?;
        scene.sheet.map_or(Err(Why::SheetClosed), verdict::takes_answers)?;
        let who = Who { person: Some(self.person), with };
        if let Some(reason) = verdict::needs_of(&scene, &row, answer, who, self.now).reasons.first() {
            return Err(reason.why);
        }
        verdict::weigh(&scene, &row, answer, self.now).map(|_| ())
    }

    fn open_sheet(&self) -> Result<(), Why> {
        match self.view.sheet.map(Sheet::stage) {
            Some(Stage::Open) => Ok(()),
            _ => Err(Why::SheetClosed),
        }
    }

    /// Whoever gave the answer may strike it out, and so may the office.
    fn strike(&self, step: crate::ident::StepId, entry: EntryRef, reason: &str) -> Result<(), Why> {
        words(reason)?;
        let missing = Why::NoSuchAnswer { entry };
        let sheet = self.view.sheet.ok_or(missing)?;
        let mark = self.pack.place_of(step).and_then(|p| sheet.mark(p)).filter(|m| m.proof.entry == entry);
        match mark.ok_or(missing)?.proof.by {
            by if by == self.person => Ok(()),
            _ => self.holds_any(self.pack.head().restricted_by),
        }
    }

    fn not_past(&self, day: Day) -> Result<(), Why> {
        let today = Day::of(self.view.register.zone().day(self.now.stamp));
        if day < today { Err(Why::DayPast { day }) } else { Ok(()) }
    }

    fn defect(&self, id: DefectId) -> Result<crate::engine::Defect, Why> {
        let found = self.engine()?.defects().iter().find(|d| d.id == id);
        found.copied().ok_or(Why::DefectUnknown { defect: id })
    }

    fn restrict(&self, id: DefectId, text: &str, until: Day) -> Result<(), Why> {
        if self.defect(id)?.grade != DefectGrade::Restricted {
            return Err(Why::NotRestrictable { defect: id });
        }
        self.holds_any(self.pack.head().restricted_by)?;
        words(text)?;
        self.not_past(until)
    }

    fn clear(&self, id: DefectId, grade: GradeId, text: &str) -> Result<(), Why> {
        let defect = self.defect(id)?;
        let allowed = match defect.cleared_by {
            Set::EMPTY => self.pack.head().defects_cleared_by,
            named => named,
        };
        if !allowed.has(grade.0) {
            let wanted = allowed.without(defect.cleared).members().next().unwrap_or(0);
            return Err(Why::NotInGrade { grade: GradeId(wanted) });
        }
        self.holds(grade)?;
        words(text)
    }
}

/// Who may state facts: the office; a fitter or boilersmith the dates and fittings of engines; anybody while the office
/// was never staffed, since somebody must set it up; and where every office grade has run out, who held one.
fn register(view: &View<'_>, fact: &Fact, person: PersonId, now: Now) -> Result<(), Why> {
    sound(fact)?;
    if view.office == Staffing::Never {
        return Ok(());
    }
    let desk = At { pack: view.pack.ok_or(Why::PackMissing)?, view, person, now };
    let office = desk.pack.head().restricted_by;
    let grades = match fact {
        Fact::Fitted { .. } | Fact::DueDone { .. } => office.union(desk.pack.head().defects_cleared_by),
        _ => office,
    };
    match desk.holds_any(grades) {
        Err(Why::GradeLapsed { .. }) if view.office == Staffing::Lapsed => Ok(()),
        held => held,
    }
}

/// What figures are computed from holds together before it is written down.
fn sound(fact: &Fact) -> Result<(), Why> {
    let number = |bad: BadNumber| Why::Unsound { field: bad.field };
    match fact {
        Fact::Boiler { boiler, .. } => boiler.vessel().map(|_| ()).map_err(|bad| Why::Unsound { field: bad.field() }),
        Fact::Product { product: ProductId(0), .. } => Err(Why::Unsound { field: "product" }),
        Fact::Product { bought, .. } => bought.product().map(|_| ()).map_err(number),
        Fact::Road { road: RoadId(0), .. } => Err(Why::Unsound { field: "road" }),
        Fact::Road { sections: 0, .. } => Err(Why::Unsound { field: "sections" }),
        Fact::Road { start_millionths, .. } => road_start(*start_millionths).map(|_| ()).map_err(number),
        Fact::RoadSections { sections, .. } => sections.iter().try_for_each(|s| s.check()).map_err(number),
        Fact::Air { pascals } => Atmosphere::from_kpa(f64::from(*pascals) / 1e3).map(|_| ()).map_err(number),
        Fact::FeedWater { solids, temperature } => {
            let of = |reading: &Reading, quantity| reading.unit.quantity() == quantity && reading.milli >= 0;
            match (of(solids, Quantity::Concentration), temperature.unit.quantity() == Quantity::Temperature) {
                (true, true) => Ok(()),
                (false, _) => Err(Why::Unsound { field: "solids" }),
                (_, false) => Err(Why::Unsound { field: "temperature" }),
            }
        }
        _ => Ok(()),
    }
}
