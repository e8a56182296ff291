//! What a row wants written, against what is on record already.

use offshed_core::entry::{Answer, Fact, Name, What, bounded};
use offshed_core::ident::{EngineId, PersonId, SheetId, StepId};
use offshed_core::pack::rows::KindRow;
use offshed_core::register::Register;
use offshed_core::sheet::{Sheet, Stage};
use offshed_core::stamp::{Day, Now, Stamp};
use offshed_core::units::{Reading, Unit};

use super::BadRow;
use super::table::{Cells, Kind};
use crate::ids::Ids;
use crate::ledger::Ledger;
use crate::packfile::PackFile;
use crate::typed;

/// Something to write.
pub(super) enum Wanted {
    /// A fact of the register.
    Fact(Box<Fact>),
    /// A reading on an open sheet.
    Reading { sheet: SheetId, step: StepId, answer: Box<Answer>, done_at: Stamp },
}

/// Something to write, and what it is in words.
pub(super) struct Told {
    pub(super) what: Wanted,
    pub(super) told: String,
}

fn fact(fact: Fact, told: String) -> Told {
    Told { what: Wanted::Fact(Box::new(fact)), told }
}

/// What a row is about: two rows of one key must say the same.
pub(super) fn key(kind: Kind, cells: &Cells) -> String {
    let columns: &[&str] = match kind {
        Kind::Engines => &["number"],
        Kind::People => &["number", "grade"],
        Kind::Dates => &["engine", "date"],
        Kind::Readings => &["engine", "step", "at"],
    };
    columns.iter().map(|column| cells.get(column)).collect::<Vec<_>>().join("\u{1F}")
}

/// What is to be written for a row; nothing where all of it is on record.
pub(super) fn wanted(ledger: &Ledger, kind: Kind, cells: &Cells, now: Now) -> Result<Vec<Told>, BadRow> {
    let row = In { ledger, cells, now };
    match kind {
        Kind::Engines => row.engine(),
        Kind::People => row.person(),
        Kind::Dates => row.date(),
        Kind::Readings => row.reading(),
    }
}

struct In<'l> {
    ledger: &'l Ledger,
    cells: &'l Cells,
    now: Now,
}

impl<'l> In<'l> {
    fn bad<T>(&self, column: &str, problem: impl Into<String>) -> Result<T, BadRow> {
        Err(self.cells.bad(column, problem))
    }

    fn pack(&self) -> Result<&'l PackFile, BadRow> {
        let none = || self.cells.bad("", "no rules are adopted: `offshed pack adopt FILE --by PERSON`");
        self.ledger.adopted().ok_or_else(none)
    }

    fn number(&self, column: &str) -> Result<u16, BadRow> {
        let text = self.cells.get(column);
        match text.trim_start_matches("No. ").parse() {
            Ok(number) if number > 0 => Ok(number),
            _ => self.bad(column, "a whole number from 1 to 65535"),
        }
    }

    fn name(&self, column: &str) -> Result<Name, BadRow> {
        bounded(self.cells.get(column))
            .or_else(|long| self.bad(column, format!("{} bytes; a name has at most {}", long.got, long.most)))
    }

    fn day(&self, column: &str) -> Result<Day, BadRow> {
        typed::day_named(self.cells.get(column)).map(Day::of).or_else(|problem| self.bad(column, problem))
    }

    /// What the register has of an engine stays where the row says nothing.
    fn engine(&self) -> Result<Vec<Told>, BadRow> {
        let engine = EngineId(self.number("number")?);
        let card = self.ledger.office.engines.get(&engine);
        let before = card.map(|card| card.facts).unwrap_or_default();
        let (mut features, mut glass_mm, mut working) = (before.features, before.glass_mm.unwrap_or(0), before.working);
        let words = |column: &str, prefix: &str| -> Result<_, BadRow> {
            let typed = format!("{prefix} {}", self.cells.get(column));
            typed::engine_words(self.pack()?, &typed).or_else(|problem| self.bad(column, problem))
        };
        let given = |column: &str| !self.cells.get(column).is_empty();
        if given("glass") {
            self.stated("glass", Unit::GlassMm)?;
            glass_mm = words("glass", "glass")?.1;
        }
        if given("pressure") {
            self.stated("pressure", Unit::Psi)?;
            working = words("pressure", "pressure")?.2;
        }
        if given("has") {
            features = words("has", "has")?.0;
        }
        let mut name = self.name("name")?;
        if name.is_empty() {
            name = card.and_then(|card| bounded(&card.name).ok()).unwrap_or_default();
        }
        let same = card.is_some_and(|card| card.name == name.as_str())
            && (features, glass_mm, working) == (before.features, before.glass_mm.unwrap_or(0), before.working);
        if same {
            return Ok(Vec::new());
        }
        let verb = if card.is_some() { "changed" } else { "new" };
        let told = format!("engine {engine} {name}, {verb}");
        Ok(vec![fact(Fact::Engine { engine, name, features, glass_mm, working }, told)])
    }

    /// A value states its unit: none is taken for granted.
    fn stated(&self, column: &str, unit: Unit) -> Result<Reading, BadRow> {
        typed::stated(self.cells.get(column), unit).or_else(|problem| self.bad(column, problem))
    }

    fn person(&self) -> Result<Vec<Told>, BadRow> {
        let person = PersonId(self.number("number")?);
        let known = self.ledger.office.people.get(&person);
        let name = self.name("name")?;
        let mut all = Vec::new();
        if !name.is_empty() && known.is_none_or(|known| known.name != name.as_str()) {
            if self.was_taken_out(person) {
                let cure = format!("leave it empty, or enter it by hand (`offshed register person {person}`)");
                return self.bad("name", format!("the name of person {person} was taken out of the register: {cure}"));
            }
            all.push(fact(Fact::Person { person, name: name.clone() }, format!("person {person} is {name}")));
        } else if known.is_none() {
            return self.bad("number", format!("person {person} is not in the register: give a name"));
        }
        all.extend(self.grade(person)?);
        Ok(all)
    }

    /// Whether a name was entered once and is empty now.
    fn was_taken_out(&self, of: PersonId) -> bool {
        let named = |what: &What| matches!(what, What::Registered(Fact::Person { person, name }) if *person == of && !name.is_empty());
        let empty = self.ledger.office.people.get(&of).is_some_and(|person| person.name.is_empty());
        empty && self.ledger.entries().any(|entry| named(&entry.what))
    }

    fn grade(&self, person: PersonId) -> Result<Option<Told>, BadRow> {
        let id = self.cells.get("grade");
        let until = match self.cells.get("until") {
            "" => None,
            _ if id.is_empty() => return self.bad("until", "a last day without a grade: name the grade"),
            _ => Some(self.day("until")?),
        };
        if id.is_empty() {
            return Ok(None);
        }
        let grade = Ids::of(self.pack()?).grade(id).or_else(|none| self.bad("grade", none.to_string()))?;
        let held = self.ledger.office.people.get(&person).and_then(|known| known.grades.get(&grade));
        if held == Some(&until) {
            return Ok(None);
        }
        let through = until.map_or("without end".to_owned(), |day| format!("through {day}"));
        let told = format!("person {person} is {id} {through}");
        Ok(Some(fact(Fact::Competence { person, grade, until, held: true }, told)))
    }

    fn known_engine(&self) -> Result<EngineId, BadRow> {
        let engine = EngineId(self.number("engine")?);
        match self.ledger.office.engines.contains_key(&engine) {
            true => Ok(engine),
            false => self.bad("engine", format!("engine {engine} is not in the register: enter it first")),
        }
    }

    fn date(&self) -> Result<Vec<Told>, BadRow> {
        let engine = self.known_engine()?;
        let id = self.cells.get("date");
        let due = Ids::of(self.pack()?).due(id).or_else(|none| self.bad("date", none.to_string()))?;
        let on = self.day("done")?;
        if on > Day::of(self.ledger.office.zone().day(self.now.stamp)) {
            return self.bad("done", "that day lies ahead: give the day on which it was done");
        }
        let days_before = match self.cells.get("days_before") {
            "" => 0,
            text => text
                .parse::<u16>()
                .or_else(|_| self.bad("days_before", "a whole number of days, 0 to 65535, or nothing"))?,
        };
        let known = self.ledger.office.due(engine, due);
        match known {
            Some(known) if known.done_on > on => {
                let cure = "leave the row out, or put the register right by hand (`offshed register done`)";
                self.bad("done", format!("by the register it was done later, on {}: {cure}", known.done_on))
            }
            Some(known) if (known.done_on, known.days_before) == (on, days_before) => Ok(Vec::new()),
            _ => {
                let told = format!("engine {engine}: {id} done on {on}");
                Ok(vec![fact(Fact::DueDone { engine, due, on, days_before }, told)])
            }
        }
    }

    fn reading(&self) -> Result<Vec<Told>, BadRow> {
        let engine = self.known_engine()?;
        let (sheet, step, unit) = self.sheet(engine)?;
        let text = match self.cells.get("unit") {
            "" => self.cells.get("value").to_owned(),
            unit => format!("{} {unit}", self.cells.get("value")),
        };
        let reading = typed::stated(&text, unit).or_else(|problem| self.bad("value", problem))?;
        let at = typed::moment(self.cells.get("at"), None)
            .or_else(|_| self.bad("at", "no local moment: write YYYY-MM-DD HH:MM"))?;
        let done_at = self.ledger.office.zone().moment(at);
        let answer = Answer::Reading(reading);
        if self.is_there(sheet, step, &answer, done_at) {
            return Ok(Vec::new());
        }
        let told = format!("engine {engine}: {} {reading}", self.cells.get("step"));
        Ok(vec![Told { what: Wanted::Reading { sheet, step, answer: Box::new(answer), done_at }, told }])
    }

    /// The one open sheet of an engine on which a step stands, with the unit that the step asks for.
    fn sheet(&self, engine: EngineId) -> Result<(SheetId, StepId, Unit), BadRow> {
        let id = self.cells.get("step");
        let open = |sheet: &&Sheet| sheet.engine == engine && sheet.stage() == Stage::Open;
        let standing = |sheet: &Sheet| {
            let file = self.ledger.pack(sheet.pack)?;
            let row = file.pack().step(Ids::of(file).step(id).ok()?)?;
            (row.sequence == sheet.sequence).then_some((sheet.id, row))
        };
        let found: Vec<_> = self.ledger.sheets().filter(open).filter_map(standing).collect();
        match found.as_slice() {
            [(sheet, row)] => match row.kind {
                KindRow::Reading { unit, .. } => Ok((*sheet, row.id, unit)),
                _ => self.bad("step", format!("\"{id}\" is not answered with a reading: answer it by hand")),
            },
            [] => {
                Ids::of(self.pack()?).step(id).or_else(|none| self.bad("step", none.to_string()))?;
                let cure = format!("open one first (`offshed open {engine} SEQUENCE --by PERSON`)");
                self.bad("step", format!("no sheet is open for engine {engine} with \"{id}\": {cure}"))
            }
            several => {
                let cure = "finish, join or give up all but one";
                self.bad("step", format!("{} sheets are open for engine {engine} with \"{id}\": {cure}", several.len()))
            }
        }
    }

    fn is_there(&self, on: SheetId, of: StepId, given: &Answer, at: Stamp) -> bool {
        self.ledger.entries().any(|entry| {
            let same = matches!(&entry.what, What::Answered { sheet, step, answer, .. } if (*sheet, *step) == (on, of) && answer == given);
            same && entry.done_at() == at
        })
    }
}
