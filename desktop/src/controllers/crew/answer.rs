//! From touches to answers, where nothing is being asked on a page of its own.

use offshed_core::entry::{Answer, Found, What, Words, bounded};
use offshed_core::ident::{EngineId, EntryRef, PersonId, SequenceId, SheetId, StepId};
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::reason::Why;
use offshed_core::sheet::Mark;
use offshed_core::units::Unit;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::Given;
use offshed_depot::typed;

use super::super::{Session, Trouble};
use super::ask::{About, Ask, Draft, Errand};
use super::form::{Form, Kind, Looks};
use super::step::{self, Target};
use super::watch::Stopwatch;
use super::{CrewDesk, Place, Touch, units};

impl CrewDesk {
    pub(super) fn looks<'a>(&'a self, session: &'a Session, sheet: SheetId) -> Looks<'a> {
        Looks { session, sheet, who: self.who(), draft: &self.draft, watch: &self.watch }
    }

    /// A touch where nothing is being asked.
    pub(super) fn at_place(&mut self, session: &mut Session, touch: Touch) -> Result<(), Trouble> {
        match touch {
            Touch::Engine(number) => self.to(Place::Engine(EngineId(number))),
            Touch::Sheet(id) => self.go_to_sheet(session, &id),
            Touch::Step(number) => self.go_to_step(StepId(number)),
            Touch::Next => self.go_to_next(session),
            Touch::ShowAll(all) => self.all = all,
            Touch::Back => self.back(session),
            Touch::SignOn => self.ask = Some(Ask::Person(Errand::SignOn)),
            Touch::SignOff => self.hands = super::people::Hands::default(),
            Touch::Second => self.ask = Some(Ask::Person(Errand::Second)),
            Touch::LowWater => self.ask = Some(Ask::LowWater(None)),
            Touch::Open(number) => return self.open(session, SequenceId(number)),
            Touch::Reason(n) => self.reason(session, n),
            other => return self.beside(session, other),
        }
        Ok(())
    }

    fn go_to_sheet(&mut self, session: &Session, id: &str) {
        if let Some(sheet) = typed::entry_ref(id).filter(|id| session.ledger().sheet(*id).is_some()) {
            self.all = false;
            self.to(Place::Sheet(sheet));
        }
    }

    fn go_to_step(&mut self, step: StepId) {
        if let Some(sheet) = self.sheet() {
            self.watch.stopwatch = Stopwatch::Ready;
            self.to(Place::Step(sheet, step));
        }
    }

    fn go_to_next(&mut self, session: &Session) {
        if let Some(next) = self.next(session) {
            self.go_to_step(next);
        }
    }

    fn back(&mut self, session: &Session) {
        self.to(match self.place {
            Place::Engines | Place::Engine(_) => Place::Engines,
            Place::Sheet(sheet) => {
                session.ledger().sheet(sheet).map_or(Place::Engines, |sheet| Place::Engine(sheet.engine))
            }
            Place::Step(sheet, _) => Place::Sheet(sheet),
        });
    }

    /// A reason leads to what would cure it.
    fn reason(&mut self, session: &Session, n: usize) {
        let Place::Step(sheet, step) = self.place else { return };
        match step::targets(&self.looks(session, sheet), step).get(n) {
            Some(Target::Step(step)) => self.go_to_step(*step),
            Some(Target::Second) => self.ask = Some(Ask::Person(Errand::Second)),
            Some(Target::Person) => self.ask = Some(Ask::Person(Errand::SignOn)),
            Some(Target::Nowhere) | None => {}
        }
    }

    pub(super) fn signed_on(&mut self) -> Result<PersonId, Trouble> {
        if let Some(person) = self.hands.person {
            return Ok(person);
        }
        self.ask = Some(Ask::Person(Errand::SignOn));
        Err(Trouble::input("sign on first: an answer has a name"))
    }

    fn open(&mut self, session: &mut Session, sequence: SequenceId) -> Result<(), Trouble> {
        let Place::Engine(engine) = self.place else { return Ok(()) };
        let person = self.signed_on()?;
        let pack = session.ledger().adopted().map(PackFile::hash);
        let pack = pack.ok_or_else(|| session.refusal(&Why::PackMissing, None))?;
        let entry = self.write(session, What::SheetOpened { engine, sequence, pack }, person)?;
        self.all = false;
        self.to(Place::Sheet(entry));
        Ok(())
    }

    pub(super) fn at_step(&mut self, session: &mut Session, touch: Touch) -> Result<(), Trouble> {
        let Place::Step(sheet, step) = self.place else { return Ok(()) };
        let form = self.looks(session, sheet).form(step);
        match touch {
            Touch::Done if form.kind == Kind::Check => self.give(session, Answer::Done),
            Touch::Accept if form.kind == Kind::Accept => {
                let now = session.now();
                let shown = session.shed()?.acceptance(sheet, step, now);
                let shown = shown.map_err(|denial| session.trouble(denial, session.pack_of(sheet)))?;
                self.give(session, shown)
            }
            Touch::Choose(n) if form.kind == Kind::Choice => self.give(session, Answer::Choice(n)),
            Touch::Seen if form.kind == Kind::Seen => self.give_part(session, sheet, step, Found::Seen),
            Touch::NotRight if form.kind.answers() => self.words(About::NotRight),
            Touch::Fault if !form.kind.answers() => self.signed_on().and_then(|_| self.words(About::NotRight)),
            Touch::Skip if form.may_skip => self.words(About::Skip),
            Touch::Strike => self.words(About::Strike),
            Touch::Enter => self.enter(session, &form),
            Touch::Record => self.record(session, sheet, step, &form),
            Touch::Start => self.start(session, &form),
            Touch::Stop => self.stop(session, sheet, step, &form),
            Touch::Restart if form.may_restart => self.restart(session, sheet, step),
            Touch::Sign if form.kind == Kind::Sign => {
                self.ask = Some(Ask::Person(Errand::Sign(sheet, step)));
                Ok(())
            }
            Touch::Review(outcome) if form.kind == Kind::Review => {
                self.review(sheet, step, outcome);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn words(&mut self, about: About) -> Result<(), Trouble> {
        self.ask = Some(Ask::Words { about, text: String::new(), own: about == About::Number, page: 0 });
        Ok(())
    }

    fn review(&mut self, sheet: SheetId, step: StepId, outcome: offshed_core::entry::Review) {
        self.ask = Some(match outcome {
            offshed_core::entry::Review::Accepted => Ask::Person(Errand::Review(sheet, step, outcome, String::new())),
            _ => Ask::Words { about: About::Review(outcome), text: String::new(), own: false, page: 0 },
        });
    }

    /// A value is asked for on a page of its own.
    fn enter(&mut self, session: &Session, form: &Form) -> Result<(), Trouble> {
        if form.kind == Kind::Identity || form.kind == Kind::Compare {
            return self.words(About::Number);
        }
        let timed = matches!(form.kind, Kind::Watch | Kind::WatchStopped);
        let unit = if timed { Some(Unit::Second) } else { form.unit };
        if let Some(unit) = unit {
            let unit = self.draft.unit.unwrap_or_else(|| units::first(unit, session.screen.units));
            self.ask = Some(Ask::Number { digits: String::new(), unit });
        }
        Ok(())
    }

    /// What was read and compared, or timed, is recorded.
    fn record(&mut self, session: &mut Session, sheet: SheetId, step: StepId, form: &Form) -> Result<(), Trouble> {
        match (form.kind, self.watch.stopwatch) {
            (Kind::Compare, _) => {
                let number = bounded(&self.draft.text).map_err(|long| too_long(long.most))?;
                self.give(session, Answer::Number(number))
            }
            (Kind::WatchStopped, Stopwatch::Stopped(tenths)) => {
                self.give_part(session, sheet, step, Found::Time { tenths })
            }
            _ => Ok(()),
        }
    }

    fn start(&mut self, session: &mut Session, form: &Form) -> Result<(), Trouble> {
        match form.kind {
            Kind::Begin if form.unit.is_some() => self.enter(session, form),
            Kind::Begin => self.begin(session, None),
            Kind::Watch | Kind::WatchStopped => {
                self.watch.stopwatch = Stopwatch::Running(session.tenths());
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// A hold starts when it is durable.
    pub(super) fn begin(
        &mut self,
        session: &mut Session,
        reading: Option<offshed_core::units::Reading>,
    ) -> Result<(), Trouble> {
        let Place::Step(sheet, step) = self.place else { return Ok(()) };
        self.give(session, Answer::Began(reading))?;
        self.watch.hold(sheet, step, session.tenths());
        Ok(())
    }

    fn stop(&mut self, session: &mut Session, sheet: SheetId, step: StepId, form: &Form) -> Result<(), Trouble> {
        match (form.kind, self.watch.stopwatch) {
            (Kind::WatchRuns, Stopwatch::Running(_)) => {
                self.watch.stopwatch = Stopwatch::Stopped(self.watch.stopwatch.face(session.tenths()));
                Ok(())
            }
            (Kind::Held, _) => {
                let progress = session.ledger().sheet(sheet).and_then(|s| s.progress(step).copied());
                let Some(progress) = progress else { return Ok(()) };
                let tenths = self.looks(session, sheet).held(step, &progress);
                if form.unit.is_none() {
                    return self.give(session, Answer::Ended { tenths, reading: None });
                }
                self.draft.ended = Some(tenths);
                self.enter(session, form)
            }
            _ => Ok(()),
        }
    }

    /// The first part is asked again. What was found at the parts since stays recorded; the procedure starts anew.
    fn restart(&mut self, session: &mut Session, sheet: SheetId, step: StepId) -> Result<(), Trouble> {
        let first = self.row(session, sheet, step).and_then(|row| match row.kind {
            KindRow::Procedure { parts } => {
                let pack = session.ledger().sheet(sheet).and_then(|s| session.ledger().pack(s.pack))?;
                pack.pack().parts(parts).next()
            }
            _ => None,
        });
        match first.map(|part| part.ask) {
            Some(offshed_core::pack::rows::AskRow::Seen) => {
                self.give(session, Answer::Part { part: 0, found: Found::Seen })
            }
            Some(ask) => {
                if let Some(unit) = offshed_core::pack::part_unit(ask) {
                    let unit = units::first(unit, session.screen.units);
                    self.draft.restart = true;
                    self.ask = Some(Ask::Number { digits: String::new(), unit });
                }
                Ok(())
            }
            None => Ok(()),
        }
    }

    /// A step's rules.
    pub(super) fn row(&self, session: &Session, sheet: SheetId, step: StepId) -> Option<StepRow> {
        let pack = session.ledger().sheet(sheet).map(|sheet| sheet.pack)?;
        session.ledger().pack(pack)?.pack().step(step)
    }

    /// The answer that stands on a step.
    pub(super) fn mark(&self, session: &Session, sheet: SheetId, step: StepId) -> Option<Mark> {
        let found = session.ledger().sheet(sheet)?;
        let place = session.ledger().pack(found.pack)?.pack().place_of(step)?;
        found.mark(place).copied()
    }

    pub(super) fn give_part(
        &mut self,
        session: &mut Session,
        sheet: SheetId,
        step: StepId,
        found: Found,
    ) -> Result<(), Trouble> {
        let next = session.ledger().sheet(sheet).and_then(|s| s.progress(step)).map_or(0, |p| p.next());
        let part = if self.draft.restart { 0 } else { next };
        self.give(session, Answer::Part { part, found })
    }

    /// Gives an answer to the step that is up, by the person who is signed on.
    pub(super) fn give(&mut self, session: &mut Session, answer: Answer) -> Result<(), Trouble> {
        let Place::Step(sheet, step) = self.place else { return Ok(()) };
        let person = self.signed_on()?;
        self.give_by(session, (sheet, step), answer, person)
    }

    /// Gives an answer; it is durable, and told as done, only when this comes back well.
    pub(super) fn give_by(
        &mut self,
        session: &mut Session,
        at: (SheetId, StepId),
        answer: Answer,
        person: PersonId,
    ) -> Result<(), Trouble> {
        let (sheet, step) = at;
        let now = session.now();
        let with = self.hands.with.filter(|with| *with != person && wants_second(session, sheet, step));
        let given = Given { sheet, step, answer, with, done_at: None };
        let written = session.shed()?.answer(given, person, now);
        let pack = session.ledger().sheet(sheet).and_then(|s| session.ledger().pack(s.pack));
        written.map_err(|denial| session.trouble(denial, pack))?;
        self.draft = Draft::default();
        self.watch.stopwatch = Stopwatch::Ready;
        self.notice = format!("Recorded at {}", session.zone().local(now.stamp).format("%H:%M"));
        Ok(())
    }

    /// Writes something that is no answer; answers the entry.
    pub(super) fn write(&mut self, session: &mut Session, what: What, by: PersonId) -> Result<EntryRef, Trouble> {
        let now = session.now();
        let written = session.shed()?.act(what, by, now);
        let entry = written.map_err(|denial| session.trouble(denial, None))?;
        self.notice = format!("Recorded at {}", session.zone().local(now.stamp).format("%H:%M"));
        Ok(entry.at)
    }

    /// Words that were given.
    pub(super) fn say(&mut self, session: &mut Session, about: About, text: &str) -> Result<(), Trouble> {
        let words: Words = typed::words_of(text.trim()).map_err(Trouble::input)?;
        if let Some(said) = self.say_beside(session, about, &words) {
            return said;
        }
        let Place::Step(sheet, step) = self.place else { return Ok(()) };
        match about {
            About::NotRight => {
                let part = session.ledger().sheet(sheet).and_then(|s| s.progress(step)).filter(|p| p.hold.is_none());
                match part.map(|p| p.next()) {
                    Some(part) => self.give(session, Answer::Part { part, found: Found::NotRight { words } }),
                    None => self.give(session, Answer::NotRight { words }),
                }
            }
            About::Skip => self.give(session, Answer::NotApplicable { reason: words }),
            About::Strike => self.strike(session, sheet, step, words),
            About::Review(outcome) => {
                self.ask = Some(Ask::Person(Errand::Review(sheet, step, outcome, words.to_string())));
                Ok(())
            }
            About::Number => {
                self.draft.text = text.trim().to_owned();
                Ok(())
            }
            About::HandOver(_) | About::Happened(..) | About::Abandon(_) | About::Defect(..) => Ok(()),
        }
    }

    fn strike(&mut self, session: &mut Session, sheet: SheetId, step: StepId, reason: Words) -> Result<(), Trouble> {
        let person = self.signed_on()?;
        let Some(mark) = self.mark(session, sheet, step) else { return Ok(()) };
        self.write(session, What::Struck { sheet, step, entry: mark.proof.entry, reason }, person).map(drop)
    }
}

/// Whether the step asks for a second person: only then is one named with the answer.
fn wants_second(session: &Session, sheet: SheetId, step: StepId) -> bool {
    let pack = session.ledger().sheet(sheet).and_then(|sheet| session.ledger().pack(sheet.pack));
    let Some(pack) = pack.map(PackFile::pack) else { return false };
    let Some(row) = pack.step(step) else { return false };
    pack.needs(row.needs).any(|need| matches!(need.rule, offshed_core::pack::Rule::With(_)))
}

fn too_long(most: usize) -> Trouble {
    Trouble::input(format!("longer than {most} bytes: leave something out"))
}
