//! The pages that ask for something: a person, a PIN, a value, words; and the low-water instruction.

use offshed_core::entry::{Answer, Found};
use offshed_core::ident::{PersonId, SheetId, StepId};
use offshed_core::pack::layout::text;
use offshed_core::units::{Own, Quantity, Reading, Unit};
use offshed_core::verdict::{self, Weight};
use offshed_depot::packfile::PackFile;
use offshed_depot::typed;

use super::super::{Session, Trouble, pins};
use super::ask::{About, Ask, Errand, LETTERS, cased};
use super::beside;
use super::form::{Kind, may};
use super::people;
use super::phrases;
use super::view::Row;
use super::{CrewDesk, Place, Touch};
use crate::office;

/// Most characters that are taken from a pad.
const MOST_DIGITS: usize = 9;
/// Most digits of a PIN.
const MOST_PIN: usize = 8;
/// What stands where a pack has no low-water text.
const NO_LOW_WATER: &str = "The railway's own approved instruction belongs here, and its rules have none. Follow the notice \
in the cab, call the foreman, keep people away, and move nothing on the word of this screen.";

/// What stands under it.
const NO_ORIGIN: &str = "The office writes the railway's own approved instruction into its rules. The railway's rule book \
comes first.";

/// What a page that asks shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AskView {
    /// `people`, `pin`, `number`, `events`, `phrases`, `letters`, `low-water`; empty: nothing is asked.
    pub kind: &'static str,
    /// What is asked.
    pub title: String,
    /// More about it, or what was wrong with what was given.
    pub note: String,
    /// Where what it says comes from.
    pub origin: String,
    /// What was typed; a PIN as dots.
    pub typed: String,
    /// What is right, in words.
    pub limits: String,
    /// What recording it would come to.
    pub comes_to: String,
    /// It would be a proof.
    pub right: bool,
    /// What was typed may be confirmed.
    pub ready: bool,
    /// The words on the confirming control.
    pub confirm: String,
    /// People to choose from.
    pub people: Vec<(u16, String, String)>,
    /// Ready-made words.
    pub phrases: Vec<&'static str>,
    /// The page of letters.
    pub page: usize,
    /// What may have happened.
    pub events: Vec<Row>,
    /// The unit.
    pub unit: String,
    /// The units to choose from, where there are several.
    pub units: Vec<String>,
}

impl CrewDesk {
    /// A touch while something is asked.
    pub(super) fn asked(&mut self, session: &mut Session, ask: Ask, touch: Touch) -> Result<(), Trouble> {
        match (ask, touch) {
            (Ask::LowWater(before), Touch::Back | Touch::Confirm) => self.ask = before.map(|before| *before),
            (Ask::LowWater(before), _) => self.ask = Some(Ask::LowWater(before)),
            (before, Touch::LowWater) => self.ask = Some(Ask::LowWater(Some(Box::new(before)))),
            (_, Touch::Back) => self.draft.restart = false,
            (Ask::Person(errand), Touch::Person(number)) => return self.chosen(session, PersonId(number), errand),
            (Ask::Events(engine, _), Touch::Event(event)) => return self.happened(engine, event),
            (Ask::Events(engine, Some(spot)), Touch::Defect(grade)) => return self.found(engine, spot, grade),
            (Ask::Pin { person, digits, errand }, touch) => return self.pin(session, person, digits, errand, &touch),
            (Ask::FirstPin { person, digits, first, errand }, touch) => {
                return self.first_pin(session, (person, errand), digits, first, &touch);
            }
            (Ask::Number { digits, unit }, touch) => return self.number(session, digits, unit, touch),
            (Ask::Words { about, text, own, page }, touch) => {
                return self.worded(session, about, (text, own, page), touch);
            }
            (other, _) => self.ask = Some(other),
        }
        Ok(())
    }

    /// A person was chosen. Whoever has a PIN here proves it, except a second person, who is only named.
    fn chosen(&mut self, session: &mut Session, person: PersonId, errand: Errand) -> Result<(), Trouble> {
        if errand == Errand::Second {
            self.hands.with = Some(person);
            return Ok(());
        }
        if pins::has_pin(session, person)? {
            self.ask = Some(Ask::Pin { person, digits: String::new(), errand });
            return Ok(());
        }
        match errand {
            Errand::SignOn => self.proven(session, person, errand),
            Errand::Agree(..) | Errand::Second => Ok(()),
            // What binds a person needs a PIN; the office agrees to a first one.
            errand => {
                self.ask = Some(first_pin_or_office(session, person, errand)?);
                Ok(())
            }
        }
    }

    fn pin(
        &mut self,
        session: &mut Session,
        person: PersonId,
        mut digits: String,
        errand: Errand,
        touch: &Touch,
    ) -> Result<(), Trouble> {
        if *touch != Touch::Confirm {
            press(&mut digits, touch, MOST_PIN, |key| key.is_ascii_digit());
            self.ask = Some(Ask::Pin { person, digits, errand });
            return Ok(());
        }
        // Asked again where it was wrong.
        self.ask = Some(Ask::Pin { person, digits: String::new(), errand: errand.clone() });
        pins::check_pin(session, person, &digits)?;
        self.ask = None;
        self.proven(session, person, errand)
    }

    fn first_pin(
        &mut self,
        session: &mut Session,
        of: (PersonId, Errand),
        mut digits: String,
        first: Option<String>,
        touch: &Touch,
    ) -> Result<(), Trouble> {
        let (person, errand) = of;
        if *touch != Touch::Confirm {
            press(&mut digits, touch, MOST_PIN, |key| key.is_ascii_digit());
            self.ask = Some(Ask::FirstPin { person, digits, first, errand });
            return Ok(());
        }
        let again = |first| Some(Ask::FirstPin { person, digits: String::new(), first, errand: errand.clone() });
        match first {
            None if digits.len() < 4 => {
                self.ask = again(None);
                Err(Trouble { key: "pin", words: "a PIN is 4 to 8 digits".to_owned() })
            }
            None => {
                self.ask = again(Some(digits));
                Ok(())
            }
            Some(first) if first != digits => {
                self.ask = again(None);
                Err(Trouble { key: "pin", words: "the two are not the same: begin again".to_owned() })
            }
            Some(pin) => {
                pins::set_pin(session, person, &pin)?;
                self.proven(session, person, errand)
            }
        }
    }

    /// The person is who they say.
    fn proven(&mut self, session: &mut Session, person: PersonId, errand: Errand) -> Result<(), Trouble> {
        match errand {
            Errand::SignOn => {
                self.hands.person = Some(person);
                if self.hands.with == Some(person) {
                    self.hands.with = None;
                }
                Ok(())
            }
            Errand::Second => {
                self.hands.with = Some(person);
                Ok(())
            }
            Errand::Sign(sheet, step) => {
                let signed = session.shed()?.signature(sheet);
                let answer = signed.map_err(|denial| session.trouble(denial, None))?;
                self.give_by(session, (sheet, step), answer, person)
            }
            Errand::Review(sheet, step, outcome, words) => {
                let words = typed::words_of(&words).map_err(Trouble::input)?;
                let review = session.shed()?.review(sheet, outcome, words);
                let answer = review.map_err(|denial| session.trouble(denial, None))?;
                self.give_by(session, (sheet, step), answer, person)
            }
            Errand::LiftTag(engine) => self.lift_tag(session, engine, person),
            Errand::Agree(whose, then) => {
                self.ask = Some(Ask::FirstPin { person: whose, digits: String::new(), first: None, errand: *then });
                Ok(())
            }
        }
    }

    fn number(&mut self, session: &mut Session, mut digits: String, unit: Unit, touch: Touch) -> Result<(), Trouble> {
        match touch {
            Touch::Unit(_) | Touch::NextUnit => {
                let unit = match touch {
                    Touch::Unit(symbol) => Unit::of(unit.quantity(), &symbol).unwrap_or(unit),
                    _ => next_unit(unit),
                };
                self.draft.unit = Some(unit);
                self.ask = Some(Ask::Number { digits, unit });
                Ok(())
            }
            Touch::Confirm => {
                let reading = typed::reading_text(&digits, unit);
                // Asked again where it is no number, or the rules refuse it.
                self.ask = Some(Ask::Number { digits, unit });
                let answer = self.number_answer(session, reading.map_err(Trouble::input)?)?;
                if let Answer::Began(reading) = answer {
                    self.begin(session, reading)?;
                } else {
                    self.give(session, answer)?;
                }
                self.ask = None;
                Ok(())
            }
            touch => {
                press(&mut digits, &touch, MOST_DIGITS, |key| key.is_ascii_digit() || matches!(key, '.' | '-'));
                self.ask = Some(Ask::Number { digits, unit });
                Ok(())
            }
        }
    }

    /// The answer that a value makes at the step that is up.
    fn number_answer(&self, session: &Session, reading: Reading) -> Result<Answer, Trouble> {
        let nothing = || Trouble::input("the step takes no value now");
        let Place::Step(sheet, step) = self.place else { return Err(nothing()) };
        let next = session.ledger().sheet(sheet).and_then(|s| s.progress(step)).map_or(0, |p| p.next());
        let part = if self.draft.restart { 0 } else { next };
        Ok(match self.looks(session, sheet).form(step).kind {
            Kind::Reading => Answer::Reading(reading),
            Kind::Begin => Answer::Began(Some(reading)),
            Kind::HeldReading => Answer::Ended { tenths: self.draft.ended.unwrap_or(0), reading: Some(reading) },
            Kind::Watch | Kind::WatchRuns | Kind::WatchStopped if !self.draft.restart => {
                let base = reading.in_base(Quantity::Time, Own::UNKNOWN).map_err(|_| nothing())?;
                let tenths = u32::try_from(base / 100).map_err(|_| Trouble::input("a time is not below nothing"))?;
                Answer::Part { part, found: Found::Time { tenths } }
            }
            kind if kind == Kind::PartReading || self.draft.restart => {
                Answer::Part { part, found: Found::Reading(reading) }
            }
            _ => return Err(nothing()),
        })
    }

    fn worded(
        &mut self,
        session: &mut Session,
        about: About,
        (mut text, own, page): (String, bool, usize),
        touch: Touch,
    ) -> Result<(), Trouble> {
        match touch {
            Touch::Phrase(phrase) => return self.say(session, about, &phrase),
            Touch::Confirm if !text.trim().is_empty() => return self.say_or_ask_again(session, about, text),
            Touch::OwnWords => self.ask = Some(Ask::Words { about, text, own: true, page }),
            Touch::Letters(page) => self.ask = Some(Ask::Words { about, text, own, page }),
            Touch::Type(key) => {
                let key = if key == ' ' { key } else { cased(&text, key, about) };
                text.push(key);
                self.ask = Some(Ask::Words { about, text, own: true, page });
            }
            Touch::Key(key) => {
                text.push(if key.is_ascii_lowercase() { cased(&text, key, about) } else { key });
                self.ask = Some(Ask::Words { about, text, own: true, page });
            }
            touch => {
                press(&mut text, &touch, usize::MAX, |_| true);
                self.ask = Some(Ask::Words { about, text, own, page });
            }
        }
        Ok(())
    }

    fn say_or_ask_again(&mut self, session: &mut Session, about: About, text: String) -> Result<(), Trouble> {
        let said = self.say(session, about, &text);
        if said.is_err() && self.ask.is_none() {
            self.ask = Some(Ask::Words { about, text, own: true, page: 0 });
        }
        said
    }

    /// What the page that asks shows.
    pub(super) fn ask_view(&self, session: &Session) -> AskView {
        match &self.ask {
            None => AskView::default(),
            Some(Ask::LowWater(_)) => low_water(session),
            Some(Ask::Person(errand)) => self.people_view(session, errand),
            Some(Ask::Pin { person, digits, .. }) => {
                let title = format!("PIN of {}", people::name(session.ledger(), *person));
                self.pin_view(title, digits)
            }
            Some(Ask::FirstPin { person, digits, first, .. }) => {
                let which = if first.is_some() { "The same again" } else { "A first PIN, 4 to 8 digits" };
                self.pin_view(format!("{which}: {}", people::name(session.ledger(), *person)), digits)
            }
            Some(Ask::Number { digits, unit }) => self.number_view(session, digits, *unit),
            Some(Ask::Events(_, spot)) => AskView {
                kind: "events",
                title: "What happened?".to_owned(),
                note: self.noted(""),
                events: beside::reported(session, *spot),
                ..AskView::default()
            },
            Some(Ask::Words { about, text, own, page }) => {
                let view = self.words_view(*about, text, *own, *page);
                match about {
                    About::Happened(_, event) => AskView { title: beside::event_name(session, *event), ..view },
                    _ => view,
                }
            }
        }
    }

    fn people_view(&self, session: &Session, errand: &Errand) -> AskView {
        let ledger = session.ledger();
        let all = people::everybody(ledger);
        let (title, people) = match errand {
            Errand::SignOn => ("Who are you?".to_owned(), all),
            Errand::Second => {
                let others = all.into_iter().filter(|person| Some(*person) != self.hands.person).collect();
                ("Who is there with you?".to_owned(), others)
            }
            Errand::Sign(sheet, step) => ("Who signs?".to_owned(), may(&self.looks(session, *sheet), *step, all)),
            Errand::Review(sheet, step, ..) => {
                ("Who reviews?".to_owned(), may(&self.looks(session, *sheet), *step, all))
            }
            Errand::LiftTag(engine) => ("Whose tag comes off?".to_owned(), beside::holders(session, *engine)),
            Errand::Agree(whose, _) => {
                let title = format!("Who of the office lets {} set a first PIN?", people::name(ledger, *whose));
                (title, all.into_iter().filter(|person| people::of_office(ledger, *person)).collect())
            }
        };
        let note = match (people.is_empty(), errand) {
            (false, _) => "",
            (true, Errand::LiftTag(_)) => "No tag hangs there.",
            (true, _) => "Nobody in the register may: the office grants grades.",
        };
        let row =
            |id: PersonId| (id.0, people::name(ledger, id), offshed_depot::views::grades(ledger, id, session.now()));
        AskView {
            kind: "people",
            title,
            note: self.noted(note),
            people: people.into_iter().map(row).collect(),
            ..AskView::default()
        }
    }

    fn pin_view(&self, title: String, digits: &str) -> AskView {
        AskView {
            kind: "pin",
            title,
            note: self.noted(""),
            typed: "\u{2022}".repeat(digits.len()),
            ready: digits.len() >= 4,
            confirm: "OK".to_owned(),
            ..AskView::default()
        }
    }

    fn number_view(&self, session: &Session, digits: &str, unit: Unit) -> AskView {
        let Place::Step(sheet, step) = self.place else { return AskView::default() };
        let form = self.looks(session, sheet).form(step);
        let units: Vec<String> = Unit::all(unit.quantity()).map(|unit| unit.symbol().to_owned()).collect();
        let title = if form.prompt.is_empty() { self.title_of(session, sheet, step) } else { form.prompt };
        let reading = typed::reading_text(digits, unit).ok();
        let weighed = reading.and_then(|reading| self.weigh(session, sheet, step, reading));
        let (right, comes_to) = weighed.unwrap_or_default();
        AskView {
            kind: "number",
            title,
            note: self.noted(""),
            typed: digits.to_owned(),
            limits: form.limits,
            comes_to,
            right,
            ready: reading.is_some(),
            confirm: if form.kind == Kind::Begin { "Start".to_owned() } else { "Record".to_owned() },
            unit: unit.symbol().to_owned(),
            units: if units.len() > 1 { units } else { Vec::new() },
            ..AskView::default()
        }
    }

    /// What recording a value would come to, in words, before it is recorded.
    fn weigh(&self, session: &Session, sheet: SheetId, step: StepId, reading: Reading) -> Option<(bool, String)> {
        let answer = self.number_answer(session, reading).ok()?;
        self.comes_to(session, sheet, step, &answer)
    }

    /// What recording an answer would come to: whether it is right, and in words where it is not.
    pub(super) fn comes_to(
        &self,
        session: &Session,
        sheet: SheetId,
        step: StepId,
        answer: &Answer,
    ) -> Option<(bool, String)> {
        let row = self.row(session, sheet, step)?;
        let pack = session.ledger().sheet(sheet).and_then(|s| session.ledger().pack(s.pack));
        offshed_depot::shed::scene(session.ledger(), sheet, |scene| {
            match verdict::weigh(scene, &row, answer, session.now()) {
                Ok(Weight::NotRight { why: Some(why), .. }) => {
                    (false, format!("Would be recorded as not right: {}", session.refusal(&why, pack).words))
                }
                Ok(Weight::NotRight { why: None, .. }) => (false, "Would be recorded as not right".to_owned()),
                Ok(Weight::Proof { warned: true, .. }) => (true, "Counts, with a warning".to_owned()),
                Ok(_) => (true, String::new()),
                Err(why) => (false, session.refusal(&why, pack).words),
            }
        })
    }

    fn words_view(&self, about: About, text: &str, own: bool, page: usize) -> AskView {
        let (title, phrases): (&str, &[&'static str]) = match about {
            About::NotRight => ("What is not right?", &phrases::FOUND),
            About::Skip => ("Why does it not apply?", &phrases::SKIPPED),
            About::Strike => ("Why is the answer struck out?", &phrases::STRUCK),
            About::Review(_) => ("Why?", &phrases::REVIEWED),
            About::Number => ("The number on the fitting", &[]),
            About::HandOver(_) => ("A note for whoever has the engine next", &[]),
            About::Happened(..) => ("What happened?", &phrases::HAPPENED),
            About::Abandon(_) => ("Why is the sheet given up?", &phrases::GIVEN_UP),
            About::Defect(..) => ("What was found?", &phrases::FOUND),
        };
        AskView {
            kind: if own { "letters" } else { "phrases" },
            title: title.to_owned(),
            note: self.noted(if own { "" } else { "Touch the words: they are recorded at once." }),
            typed: text.to_owned(),
            ready: !text.trim().is_empty(),
            confirm: if about == About::Number { "Compare".to_owned() } else { "Record".to_owned() },
            phrases: phrases.to_vec(),
            page: page.min(LETTERS.len() - 1),
            ..AskView::default()
        }
    }

    /// What went wrong stands before what usually stands there.
    fn noted(&self, usual: &str) -> String {
        if self.notice.is_empty() { usual.to_owned() } else { self.notice.clone() }
    }
}

/// The unit of the same quantity that stands after `unit`, round and round.
fn next_unit(unit: Unit) -> Unit {
    let after = Unit::all(unit.quantity()).skip_while(|other| *other != unit).nth(1);
    after.or_else(|| Unit::all(unit.quantity()).next()).unwrap_or(unit)
}

fn low_water(session: &Session) -> AskView {
    let ledger = session.ledger();
    let adopted = ledger.adopted();
    let pack = adopted.map_or("", |pack| pack.texts().get(text::LOW_WATER));
    let note = if pack.is_empty() { NO_LOW_WATER } else { pack };
    let rules = adopted.filter(|_| !pack.is_empty()).map(PackFile::title);
    let origin = rules.map_or(NO_ORIGIN.to_owned(), |rules| {
        format!("As \u{201c}{rules}\u{201d} carries it, the rules adopted here. The railway's rule book comes first.")
    });
    let (title, note) = ("Low water".to_owned(), note.to_owned());
    AskView { kind: "low-water", title, note, origin, ..AskView::default() }
}

/// A first PIN gives a name its voice: once anybody of the office has a PIN here, the office must agree.
fn first_pin_or_office(session: &mut Session, person: PersonId, errand: Errand) -> Result<Ask, Trouble> {
    let office = office::with_pins(session.shed()?);
    let office = office.map_err(|fault| Trouble { key: "folder", words: fault.to_string() })?;
    if office.is_empty() {
        return Ok(Ask::FirstPin { person, digits: String::new(), first: None, errand });
    }
    Ok(Ask::Person(Errand::Agree(person, Box::new(errand))))
}

/// A key of a pad, or the last one taken back.
fn press(typed: &mut String, touch: &Touch, most: usize, takes: impl Fn(char) -> bool) {
    match touch {
        Touch::Type(key) | Touch::Key(key) if takes(*key) && typed.chars().count() < most => typed.push(*key),
        Touch::Erase => drop(typed.pop()),
        _ => {}
    }
}
