//! What the desk asks for on a page of its own: words, a day, a grade, a person, their PIN.

use chrono::Days;
use offshed_core::entry::{Review, What};
use offshed_core::ident::{DefectId, GradeId, PersonId, Set, SheetId, StepId};
use offshed_core::stamp::Day;
use offshed_depot::review;
use offshed_depot::shed::Given;
use offshed_depot::{typed, views};

use super::super::crew::LETTERS;
use super::super::{Session, Trouble, pins};
use super::{ForemanDesk, Touch, hands};
use crate::office;

/// Most digits of a PIN.
const MOST_PIN: usize = 8;
/// Least digits of a PIN.
const LEAST_PIN: usize = 4;
/// Most characters of a day.
const MOST_DAY: usize = 10;
/// For how many days a restriction is offered ready-made, today included. Common practice, no source.
const RESTRICTED_DAYS: [u64; 4] = [1, 2, 7, 14];

/// Ready-made words of a review that does not accept. Common practice, no source.
const REVIEWED: [&str; 4] =
    ["Do the contested steps again", "Readings do not agree", "Sign again after the lapsed steps", "Defect"];
/// Ready-made words of a restriction. Common practice, no source.
const RESTRICTED: [&str; 4] = ["Light engine only", "Within the yard only", "By daylight only", "Watch at every stop"];
/// Ready-made words of what was done to a defect. Common practice, no source.
const CLEARED: [&str; 5] =
    ["Renewed and tried", "Repaired and tried", "Cleaned and tried", "Adjusted and tried", "Examined, nothing found"];

/// What words are about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum About {
    /// Why a review does not accept.
    Review { sheet: SheetId, review: StepId, outcome: Review },
    /// Under what restriction.
    Restrict { defect: DefectId },
    /// What was done.
    Clear { defect: DefectId, grade: GradeId },
}

/// What a person is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Errand {
    /// To review.
    Review { sheet: SheetId, review: StepId, outcome: Review, words: String },
    /// To restrict in writing.
    Restrict { defect: DefectId, words: String, until: Day },
    /// To clear a defect in a grade.
    Clear { defect: DefectId, grade: GradeId, words: String },
    /// To agree, for the office, to somebody's first PIN; then what that person was asked for.
    Agree(PersonId, Box<Errand>),
}

/// What is being asked.
#[derive(Clone, Debug)]
pub(super) enum Ask {
    /// Words: ready-made ones first.
    Words { about: About, text: String, own: bool, page: usize },
    /// In which grade a defect is cleared.
    Grade { defect: DefectId },
    /// Until which day.
    Until { defect: DefectId, words: String, digits: String, own: bool },
    /// A person.
    Person(Errand),
    /// Their PIN.
    Pin { person: PersonId, digits: String, errand: Errand },
    /// A first PIN, twice.
    FirstPin { person: PersonId, digits: String, first: Option<String>, errand: Errand },
}

impl Ask {
    pub(super) fn words(about: About) -> Ask {
        Ask::Words { about, text: String::new(), own: false, page: 0 }
    }

    pub(super) fn person(errand: Errand) -> Ask {
        Ask::Person(errand)
    }
}

/// One of what is asked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    /// Its key.
    pub key: String,
    /// What it is.
    pub title: String,
    /// More about it.
    pub note: String,
}

/// What a page that asks shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// `choices`, `letters`, `day`, `pin`; empty: nothing is asked.
    pub kind: &'static str,
    /// What is asked.
    pub title: String,
    /// More about it, or what was wrong with what was given.
    pub note: String,
    /// What to choose from.
    pub choices: Vec<Choice>,
    /// Something else than what is to choose from may be given; empty: not.
    pub other: &'static str,
    /// What was typed; a PIN as dots.
    pub typed: String,
    /// What was typed may be confirmed.
    pub ready: bool,
    /// The words on the confirming control.
    pub confirm: &'static str,
    /// The page of letters.
    pub page: usize,
}

impl ForemanDesk {
    /// A touch while something is asked.
    pub(super) fn asked(&mut self, session: &mut Session, ask: Ask, touch: Touch) -> Result<(), Trouble> {
        if touch == Touch::Back {
            return Ok(());
        }
        match ask {
            Ask::Words { about, text, own, page } => self.worded(session, about, (text, own, page), &touch),
            Ask::Grade { defect } => self.graded(session, defect, &touch),
            Ask::Until { defect, words, digits, own } => self.dated(session, (defect, words), (digits, own), &touch),
            Ask::Person(errand) => self.chosen(session, errand, &touch),
            Ask::Pin { person, digits, errand } => self.pin(session, (person, errand), digits, &touch),
            Ask::FirstPin { person, digits, first, errand } => {
                self.first_pin(session, (person, errand), (digits, first), &touch)
            }
        }
    }

    fn worded(
        &mut self,
        session: &Session,
        about: About,
        (mut text, own, page): (String, bool, usize),
        touch: &Touch,
    ) -> Result<(), Trouble> {
        match touch {
            Touch::Choose(words) if !own => return self.said(session, about, words),
            Touch::Confirm if !text.trim().is_empty() => {
                let said = self.said(session, about, &text);
                if said.is_err() {
                    self.ask = Some(Ask::Words { about, text, own: true, page });
                }
                return said;
            }
            Touch::OwnWords => self.ask = Some(Ask::Words { about, text, own: true, page }),
            Touch::Letters(page) => self.ask = Some(Ask::Words { about, text, own, page: *page }),
            Touch::Type(key) => {
                text.push(cased(&text, *key));
                self.ask = Some(Ask::Words { about, text, own: true, page });
            }
            touch => {
                press(&mut text, touch, usize::MAX, |_| true);
                self.ask = Some(Ask::Words { about, text, own, page });
            }
        }
        Ok(())
    }

    fn said(&mut self, session: &Session, about: About, text: &str) -> Result<(), Trouble> {
        let words = typed::words_of(text.trim()).map_err(Trouble::input)?.to_string();
        self.ask = Some(match about {
            About::Review { sheet, review, outcome } => Ask::Person(Errand::Review { sheet, review, outcome, words }),
            About::Clear { defect, grade } => Ask::Person(Errand::Clear { defect, grade, words }),
            About::Restrict { defect } => Ask::Until { defect, words, digits: today(session), own: false },
        });
        Ok(())
    }

    fn graded(&mut self, session: &Session, defect: DefectId, touch: &Touch) -> Result<(), Trouble> {
        let grades = hands::clearing(session.ledger(), defect, session.now());
        let chosen = match touch {
            Touch::Choose(key) => grades.into_iter().find(|grade| grade.0.to_string() == *key),
            _ => None,
        };
        self.ask = Some(chosen.map_or(Ask::Grade { defect }, |grade| Ask::words(About::Clear { defect, grade })));
        Ok(())
    }

    fn dated(
        &mut self,
        session: &Session,
        (defect, words): (DefectId, String),
        (mut digits, own): (String, bool),
        touch: &Touch,
    ) -> Result<(), Trouble> {
        let given = match touch {
            Touch::Choose(day) if !own => Some(day.clone()),
            Touch::Confirm => Some(digits.clone()),
            _ => None,
        };
        let own = own || matches!(touch, Touch::OwnWords | Touch::Type(_));
        if let Some(text) = given {
            match until(session, &text) {
                Ok(until) => {
                    self.ask = Some(Ask::Person(Errand::Restrict { defect, words, until }));
                    return Ok(());
                }
                Err(trouble) => {
                    self.ask = Some(Ask::Until { defect, words, digits, own });
                    return Err(trouble);
                }
            }
        }
        press(&mut digits, touch, MOST_DAY, |key| key.is_ascii_digit() || key == '-');
        self.ask = Some(Ask::Until { defect, words, digits, own });
        Ok(())
    }

    /// A person was chosen of those who may.
    fn chosen(&mut self, session: &mut Session, errand: Errand, touch: &Touch) -> Result<(), Trouble> {
        let may = who_may(session, &errand);
        let person = match touch {
            Touch::Choose(key) => may.into_iter().find(|person| person.0.to_string() == *key),
            _ => None,
        };
        let Some(person) = person else {
            self.ask = Some(Ask::Person(errand));
            return Ok(());
        };
        if pins::has_pin(session, person)? {
            self.ask = Some(Ask::Pin { person, digits: String::new(), errand });
            return Ok(());
        }
        // What binds a person needs a PIN; the office agrees to a first one.
        let office = office::with_pins(session.shed()?);
        let office = office.map_err(|fault| Trouble { key: "folder", words: fault.to_string() })?;
        self.ask = Some(if office.is_empty() {
            Ask::FirstPin { person, digits: String::new(), first: None, errand }
        } else {
            Ask::Person(Errand::Agree(person, Box::new(errand)))
        });
        Ok(())
    }

    fn pin(
        &mut self,
        session: &mut Session,
        (person, errand): (PersonId, Errand),
        mut digits: String,
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
        (person, errand): (PersonId, Errand),
        (mut digits, first): (String, Option<String>),
        touch: &Touch,
    ) -> Result<(), Trouble> {
        if *touch != Touch::Confirm {
            press(&mut digits, touch, MOST_PIN, |key| key.is_ascii_digit());
            self.ask = Some(Ask::FirstPin { person, digits, first, errand });
            return Ok(());
        }
        let again = |first| Ask::FirstPin { person, digits: String::new(), first, errand: errand.clone() };
        match first {
            None if digits.len() < LEAST_PIN => {
                self.ask = Some(again(None));
                Err(Trouble { key: "pin", words: "a PIN is 4 to 8 digits".to_owned() })
            }
            None => {
                self.ask = Some(again(Some(digits)));
                Ok(())
            }
            Some(first) if first != digits => {
                self.ask = Some(again(None));
                Err(Trouble { key: "pin", words: "the two are not the same: begin again".to_owned() })
            }
            Some(pin) => {
                pins::set_pin(session, person, &pin)?;
                self.proven(session, person, errand)
            }
        }
    }

    /// The person is who they say: what they were asked for is written.
    fn proven(&mut self, session: &mut Session, person: PersonId, errand: Errand) -> Result<(), Trouble> {
        let words = |text: &str| typed::words_of(text).map_err(Trouble::input);
        match errand {
            Errand::Review { sheet, review, outcome, words: text } => {
                let answer = session.shed()?.review(sheet, outcome, words(&text)?);
                let answer = answer.map_err(|denial| session.trouble(denial, session.pack_of(sheet)))?;
                let given = Given { sheet, step: review, answer, with: None, done_at: None };
                let now = session.now();
                let written = session.shed()?.answer(given, person, now);
                written.map_err(|denial| session.trouble(denial, session.pack_of(sheet)))?;
                self.sheet = None;
                self.tell(session, super::sheets::outcome(outcome), person);
            }
            Errand::Restrict { defect, words: text, until } => {
                let what = What::DefectRestricted { defect, words: words(&text)?, until };
                self.write(session, what, person, "Restricted")?;
            }
            Errand::Clear { defect, grade, words: text } => {
                let what = What::DefectCleared { defect, grade, words: words(&text)? };
                self.write(session, what, person, "Cleared")?;
            }
            Errand::Agree(whose, then) => {
                self.ask = Some(Ask::FirstPin { person: whose, digits: String::new(), first: None, errand: *then });
            }
        }
        Ok(())
    }

    fn write(&mut self, session: &mut Session, what: What, by: PersonId, word: &str) -> Result<(), Trouble> {
        let now = session.now();
        session.shed()?.act(what, by, now).map(drop).map_err(|denial| session.trouble(denial, None))?;
        self.tell(session, word, by);
        Ok(())
    }

    fn tell(&mut self, session: &Session, word: &str, by: PersonId) {
        let at = session.zone().local(session.now().stamp).format("%H:%M").to_string();
        self.notice = format!("{word} at {at} by {}", hands::name(session.ledger(), by));
    }

    /// What the page that asks shows.
    pub(super) fn ask_view(&self, session: &Session) -> Asked {
        let asked = match &self.ask {
            None => return Asked::default(),
            Some(Ask::Words { about, text, own, page }) => worded_view(*about, text, *own, *page),
            Some(Ask::Grade { defect }) => grade_view(session, *defect),
            Some(Ask::Until { digits, own, .. }) => until_view(session, digits, *own),
            Some(Ask::Person(errand)) => person_view(session, errand),
            Some(Ask::Pin { person, digits, .. }) => {
                pin_view(format!("PIN of {}", hands::name(session.ledger(), *person)), digits)
            }
            Some(Ask::FirstPin { person, digits, first, .. }) => {
                let which = if first.is_some() { "The same again" } else { "A first PIN, 4 to 8 digits" };
                pin_view(format!("{which}: {}", hands::name(session.ledger(), *person)), digits)
            }
        };
        // What went wrong stands before what usually stands there.
        if self.notice.is_empty() { asked } else { Asked { note: self.notice.clone(), ..asked } }
    }
}

/// Who may do what is asked for, by name.
fn who_may(session: &Session, errand: &Errand) -> Vec<PersonId> {
    let (ledger, now) = (session.ledger(), session.now());
    match errand {
        Errand::Review { sheet, review, .. } => review::reviewers(ledger, *sheet, *review, now).may,
        Errand::Restrict { .. } | Errand::Agree(..) => hands::holders(ledger, hands::office(ledger), now),
        Errand::Clear { grade, .. } => hands::holders(ledger, Set::EMPTY.with(grade.0), now),
    }
}

/// Who held the grade that is asked for until it lapsed: "Ivo Stane: Fitter (LAPSED, last day 2026-04-30)".
fn lapsed(session: &Session, errand: &Errand) -> String {
    let (ledger, now) = (session.ledger(), session.now());
    let grades = match errand {
        Errand::Review { sheet, review, .. } => review::review_grade(ledger, *sheet, *review),
        Errand::Restrict { .. } | Errand::Agree(..) => hands::office(ledger),
        Errand::Clear { grade, .. } => Set::EMPTY.with(grade.0),
    };
    let told = |id: PersonId| format!("{}: {}", hands::name(ledger, id), views::grades(ledger, id, now));
    hands::lapsed(ledger, grades, now).into_iter().map(told).collect::<Vec<_>>().join("; ")
}

fn today(session: &Session) -> String {
    session.zone().day(session.now().stamp).to_string()
}

/// A day that is not past.
fn until(session: &Session, text: &str) -> Result<Day, Trouble> {
    let day = typed::day_named(text).map_err(Trouble::input)?;
    if day < session.zone().day(session.now().stamp) {
        return Err(Trouble::input(format!("{day} is past: give today or a later day")));
    }
    Ok(Day::of(day))
}

fn worded_view(about: About, text: &str, own: bool, page: usize) -> Asked {
    let (title, ready_made): (&str, &[&str]) = match about {
        About::Review { outcome: Review::Stopped, .. } => ("Why is the engine stopped?", &REVIEWED),
        About::Review { .. } => ("Why is the sheet sent back?", &REVIEWED),
        About::Restrict { .. } => ("Under what restriction may it leave?", &RESTRICTED),
        About::Clear { .. } => ("What was done?", &CLEARED),
    };
    let choice = |words: &&str| Choice { key: (*words).to_owned(), title: (*words).to_owned(), note: String::new() };
    Asked {
        kind: if own { "letters" } else { "choices" },
        title: title.to_owned(),
        choices: if own { Vec::new() } else { ready_made.iter().map(choice).collect() },
        other: if own { "" } else { "Other words" },
        typed: text.to_owned(),
        ready: !text.trim().is_empty(),
        confirm: "Go on",
        page: page.min(LETTERS.len() - 1),
        ..Asked::default()
    }
}

fn grade_view(session: &Session, defect: DefectId) -> Asked {
    let ledger = session.ledger();
    let grades = hands::clearing(ledger, defect, session.now()).into_iter();
    let choice = |grade: GradeId| Choice {
        key: grade.0.to_string(),
        title: views::grade_name(ledger, grade),
        note: String::new(),
    };
    Asked {
        kind: "choices",
        title: "In which grade is it cleared?".to_owned(),
        choices: grades.map(choice).collect(),
        ..Asked::default()
    }
}

fn until_view(session: &Session, digits: &str, own: bool) -> Asked {
    let from = session.zone().day(session.now().stamp);
    let choice = |days: &u64| {
        let last = from.checked_add_days(Days::new(days - 1))?;
        let title = match days {
            1 => "Today only".to_owned(),
            2 => "Through tomorrow".to_owned(),
            days => format!("{days} days"),
        };
        Some(Choice { key: last.to_string(), title, note: format!("through {}", last.format("%a %-d %b %Y")) })
    };
    Asked {
        kind: if own { "day" } else { "choices" },
        title: "Through which day?".to_owned(),
        note: if own { "Year, month, day: 2026-05-09".to_owned() } else { String::new() },
        choices: if own { Vec::new() } else { RESTRICTED_DAYS.iter().filter_map(choice).collect() },
        other: if own { "" } else { "Another day" },
        typed: digits.to_owned(),
        ready: until(session, digits).is_ok(),
        confirm: "Go on",
        ..Asked::default()
    }
}

fn person_view(session: &Session, errand: &Errand) -> Asked {
    let ledger = session.ledger();
    let people = who_may(session, errand);
    let title = match errand {
        Errand::Review { outcome: Review::Accepted, .. } => "Who accepts the sheet?".to_owned(),
        Errand::Review { outcome: Review::SentBack, .. } => "Who sends the sheet back?".to_owned(),
        Errand::Review { .. } => "Who stops the engine?".to_owned(),
        Errand::Restrict { .. } => "Who restricts it?".to_owned(),
        Errand::Clear { .. } => "Who clears it?".to_owned(),
        Errand::Agree(whose, _) => {
            format!("Who of the office lets {} set a first PIN?", hands::name(ledger, *whose))
        }
    };
    let nobody = if people.is_empty() { "Nobody in the register may: the office grants grades." } else { "" };
    let lapsed = lapsed(session, errand);
    let lapsed = if lapsed.is_empty() { String::new() } else { format!("May not, the grade lapsed: {lapsed}") };
    let note = [nobody, &lapsed].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n");
    let choice = |id: &PersonId| Choice {
        key: id.0.to_string(),
        title: hands::name(ledger, *id),
        note: views::grades(ledger, *id, session.now()),
    };
    Asked { kind: "choices", title, note, choices: people.iter().map(choice).collect(), ..Asked::default() }
}

fn pin_view(title: String, digits: &str) -> Asked {
    Asked {
        kind: "pin",
        title,
        typed: "\u{2022}".repeat(digits.len()),
        ready: digits.len() >= LEAST_PIN,
        confirm: "OK",
        ..Asked::default()
    }
}

/// A letter as it stands in words: capital at the start of a sentence, small elsewhere.
fn cased(text: &str, key: char) -> char {
    if text.is_empty() || text.ends_with(". ") { key.to_ascii_uppercase() } else { key.to_ascii_lowercase() }
}

/// A key of a pad, or the last one taken back.
fn press(typed: &mut String, touch: &Touch, most: usize, takes: impl Fn(char) -> bool) {
    match touch {
        Touch::Type(key) if takes(*key) && typed.chars().count() < most => typed.push(*key),
        Touch::Erase => drop(typed.pop()),
        _ => {}
    }
}
