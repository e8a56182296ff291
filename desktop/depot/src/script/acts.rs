//! What each act of a script becomes: entries of the core, with ids looked up and values read.

use chrono::NaiveDate;
use offshed_core::entry::{Answer, Dispensed, Fact, Review, What};
use offshed_core::ident::{DefectId, EngineId, PersonId, SheetId, StepId};
use offshed_core::pack::rows::{DefectGrade, StepRow};
use offshed_core::register::Register;
use offshed_core::stamp::Now;

use super::parse;
use super::row::{Row, ScriptFault, fault};
use crate::ids::{Ids, NoSuchId};
use crate::ledger::Ledger;
use crate::packfile::PackFile;
use crate::shed::{Denial, Shed};
use crate::typed;

/// Names a script gives to sheets and defects.
#[derive(Clone, Debug, Default)]
pub(super) struct Named {
    pub(super) sheets: std::collections::BTreeMap<String, SheetId>,
    pub(super) defects: std::collections::BTreeMap<String, DefectId>,
}

/// One row with what it is read against.
pub(super) struct Act<'a> {
    pub(super) row: &'a Row,
    pub(super) shed: &'a Shed,
    pub(super) named: &'a Named,
    pub(super) day: Option<NaiveDate>,
}

fn id<T>(row: &Row, column: &'static str, found: Result<T, NoSuchId>) -> Result<T, ScriptFault> {
    found.or_else(|none| fault(row, column, none.to_string()))
}

impl Act<'_> {
    fn ledger(&self) -> &Ledger {
        self.shed.ledger()
    }

    /// The adopted pack.
    fn pack(&self) -> Result<&PackFile, ScriptFault> {
        let missing = "no pack is adopted on this device: put a row `adopt` first, or sync with a device that has one";
        self.ledger().adopted().map_or_else(|| fault(self.row, "do", missing), Ok)
    }

    /// The sheet in column `on`, and its pack.
    pub(super) fn sheet(&self) -> Result<(SheetId, &PackFile), ScriptFault> {
        let id = self.sheet_named("on", &self.row.on)?;
        let sheet = self.ledger().sheet(id);
        let missing = "this device does not have the sheet yet: put a row `sync` first";
        let Some(sheet) = sheet else { return fault(self.row, "on", missing) };
        match self.ledger().pack(sheet.pack) {
            Some(pack) => Ok((id, pack)),
            None => fault(self.row, "on", "this device does not have the sheet's pack"),
        }
    }

    fn sheet_named(&self, column: &'static str, name: &str) -> Result<SheetId, ScriptFault> {
        let known = || self.named.sheets.keys().cloned().collect::<Vec<_>>().join(", ");
        match self.named.sheets.get(name) {
            Some(id) => Ok(*id),
            None => {
                fault(self.row, column, format!("no sheet is called \"{name}\" in this script; it has: {}", known()))
            }
        }
    }

    /// The engine in column `on`, or that of the sheet named there.
    fn engine(&self) -> Result<EngineId, ScriptFault> {
        let sheet = self.named.sheets.get(&self.row.on).and_then(|id| self.ledger().sheet(*id));
        match sheet {
            Some(sheet) => Ok(sheet.engine),
            None => parse::engine(self.row, "on", &self.row.on),
        }
    }

    /// The step in column `what`, of the sheet's pack.
    pub(super) fn step(&self) -> Result<(SheetId, StepRow), ScriptFault> {
        let (sheet, pack) = self.sheet()?;
        let step = id(self.row, "what", Ids::of(pack).step(&self.row.what))?;
        match pack.pack().step(step) {
            Some(row) => Ok((sheet, row)),
            None => fault(self.row, "what", "not a step of the sheet's pack"),
        }
    }

    /// When it was done, if not just now: column `as` of an answer.
    pub(super) fn done_at(&self) -> Result<Option<offshed_core::stamp::Stamp>, ScriptFault> {
        if self.row.name.is_empty() {
            return Ok(None);
        }
        let zone = self.ledger().office.zone();
        parse::moment_in(self.row, "as", &self.row.name, self.day, zone).map(Some)
    }

    /// The second person in column `with`.
    pub(super) fn with(&self) -> Result<Option<PersonId>, ScriptFault> {
        if self.row.with.is_empty() {
            return Ok(None);
        }
        let found = typed::person(&self.ledger().office, &self.row.with);
        found.map(Some).or_else(|problem| fault(self.row, "with", problem))
    }

    /// The answer to `step` that this row gives, when it gives one; what it accepts is worked out as of `now`, or the
    /// reason why it can't be.
    pub(super) fn answer(
        &self,
        step: &StepRow,
        sheet: SheetId,
        now: Now,
    ) -> Result<Option<Result<Answer, Denial>>, ScriptFault> {
        if self.row.act == "accept" {
            return Ok(Some(self.shed.acceptance(sheet, step.id, now)));
        }
        Ok(self.plain_answer(step, sheet)?.map(Ok))
    }

    fn plain_answer(&self, step: &StepRow, sheet: SheetId) -> Result<Option<Answer>, ScriptFault> {
        let row = self.row;
        let words = || parse::words(row, &row.words);
        Ok(Some(match row.act.as_str() {
            "done" => Answer::Done,
            "not-right" => Answer::NotRight { words: words()? },
            "skip" => Answer::NotApplicable { reason: words()? },
            "number" => Answer::Number(parse::number(row, &row.value)?),
            "choose" => self.value(typed::option(&row.value))?,
            "reading" => Answer::Reading(self.value(typed::step_reading(step, &row.value))?),
            "begin" => self.value(typed::begin(step, &row.value))?,
            "end" => self.value(typed::end(step, &row.value))?,
            "part" => self.value(typed::part(&self.sheet()?.1.pack(), step, &row.value, &row.words))?,
            "sign" => self.shed.signature(sheet).or_else(|_| fault(row, "on", "no such sheet"))?,
            "review" => self.review(sheet)?,
            _ => return Ok(None),
        }))
    }

    fn value<T>(&self, read: Result<T, String>) -> Result<T, ScriptFault> {
        read.or_else(|problem| fault(self.row, "value", problem))
    }

    fn review(&self, sheet: SheetId) -> Result<Answer, ScriptFault> {
        let outcome = match self.row.value.as_str() {
            "accepted" => Review::Accepted,
            "sent-back" => Review::SentBack,
            "stopped" => Review::Stopped,
            other => {
                return fault(self.row, "value", format!("\"{other}\": accepted, sent-back or stopped"));
            }
        };
        let words = parse::words(self.row, &self.row.words)?;
        self.shed.review(sheet, outcome, words).or_else(|_| fault(self.row, "on", "no such sheet"))
    }

    /// The entry this row makes, when it is neither an answer nor an act of the player's own.
    pub(super) fn what(&self) -> Result<Option<What>, ScriptFault> {
        let row = self.row;
        let words = || parse::words(row, &row.words);
        Ok(Some(match row.act.as_str() {
            "open" => self.open()?,
            "strike" => self.strike()?,
            "abandon" => What::Abandoned { sheet: self.sheet()?.0, reason: words()? },
            "join" => What::Joined { into: self.sheet()?.0, from: self.sheet_named("what", &row.what)? },
            "note" => What::HandedOver { engine: self.engine()?, words: words()? },
            "event" => What::Happened {
                engine: self.engine()?,
                event: id(row, "what", Ids::of(self.pack()?).event(&row.what))?,
                words: words()?,
                done_at: self.done_at()?,
            },
            "defect" => self.defect()?,
            "restrict" => What::DefectRestricted {
                defect: self.open_defect()?,
                words: words()?,
                until: parse::day_in(row, "value", &row.value)?,
            },
            "clear" => What::DefectCleared {
                defect: self.open_defect()?,
                grade: id(row, "value", Ids::of(self.pack()?).grade(&row.value))?,
                words: words()?,
            },
            "dispense" => What::Dispensed {
                engine: self.engine()?,
                what: self.dispensed()?,
                words: words()?,
                until: parse::day_in(row, "value", &row.value)?,
            },
            "tag" => What::TagHung { engine: self.engine()? },
            "untag" => What::TagLifted { engine: self.engine()? },
            _ => return Ok(self.fact()?.map(What::Registered)),
        }))
    }

    fn open(&self) -> Result<What, ScriptFault> {
        let pack = self.pack()?;
        let sequence = id(self.row, "what", Ids::of(pack).sequence(&self.row.what))?;
        Ok(What::SheetOpened { engine: self.engine()?, sequence, pack: pack.hash() })
    }

    fn strike(&self) -> Result<What, ScriptFault> {
        let (sheet, step) = self.step()?;
        let (_, pack) = self.sheet()?;
        let place = pack.pack().place_of(step.id);
        let mark = place.and_then(|p| self.ledger().sheet(sheet)?.mark(p).copied());
        match mark {
            Some(mark) => {
                let reason = parse::words(self.row, &self.row.words)?;
                Ok(What::Struck { sheet, step: step.id, entry: mark.proof.entry, reason })
            }
            None => fault(self.row, "what", "there is no answer to strike out"),
        }
    }

    fn defect(&self) -> Result<What, ScriptFault> {
        let row = self.row;
        let on_sheet = self.named.sheets.get(&row.on).copied();
        let step = if row.what.is_empty() { None } else { Some(self.any_step()?) };
        Ok(What::DefectOpened {
            engine: self.engine()?,
            sheet: on_sheet,
            step,
            grade: defect_grade(row)?,
            words: parse::words(row, &row.words)?,
        })
    }

    fn any_step(&self) -> Result<StepId, ScriptFault> {
        id(self.row, "what", Ids::of(self.pack()?).step(&self.row.what))
    }

    /// A defect by the name the script gave it, or the open one found at a step or opened by an event.
    fn open_defect(&self) -> Result<DefectId, ScriptFault> {
        let row = self.row;
        if let Some(id) = self.named.defects.get(&row.what) {
            return Ok(*id);
        }
        let ids = Ids::of(self.pack()?);
        let (step, event) = (ids.step(&row.what).ok(), ids.event(&row.what).ok());
        let engine = self.engine()?;
        let open = self.ledger().engine(engine).map_or(&[][..], |e| e.defects());
        let found = open.iter().find(|d| (step.is_some() && d.step == step) || (event.is_some() && d.event == event));
        found.map_or_else(
            || {
                fault(
                    row,
                    "what",
                    format!("no open defect \"{}\" on engine {engine}: name one, its step or its event", row.what),
                )
            },
            |d| Ok(d.id),
        )
    }

    /// `step:glass-left` or `date:washout`.
    fn dispensed(&self) -> Result<Dispensed, ScriptFault> {
        let row = self.row;
        let ids = Ids::of(self.pack()?);
        match row.what.split_once(':') {
            Some(("step", step)) => Ok(Dispensed::Step(id(row, "what", ids.step(step))?)),
            Some(("date", due)) => Ok(Dispensed::Due(id(row, "what", ids.due(due))?)),
            _ => fault(row, "what", "write \"step:ID\" or \"date:ID\""),
        }
    }

    fn fact(&self) -> Result<Option<Fact>, ScriptFault> {
        let row = self.row;
        let person = |column: &'static str, text: &str| {
            typed::person(&self.ledger().office, text).or_else(|problem| fault(row, column, problem))
        };
        Ok(Some(match row.act.as_str() {
            "person" => {
                Fact::Person { person: person("what", &row.what)?, name: parse::name(row, "value", &row.value)? }
            }
            "grade" => {
                let grade = id(row, "value", Ids::of(self.pack()?).grade(&row.value))?;
                let (until, held) = match row.words.as_str() {
                    "no end" => (None, true),
                    "withdrawn" => (None, false),
                    day => (Some(parse::day_in(row, "words", day)?), true),
                };
                Fact::Competence { person: person("what", &row.what)?, grade, until, held }
            }
            "engine" => self.engine_fact()?,
            "fitted" => Fact::Fitted {
                engine: self.engine()?,
                fitting: id(row, "what", Ids::of(self.pack()?).fitting(&row.what))?,
                number: parse::number(row, &row.value)?,
            },
            "date-done" => Fact::DueDone {
                engine: self.engine()?,
                due: id(row, "what", Ids::of(self.pack()?).due(&row.what))?,
                on: parse::day_in(row, "value", &row.value)?,
                days_before: self.days_before()?,
            },
            "date-postponed" => Fact::DuePostponed {
                engine: self.engine()?,
                due: id(row, "what", Ids::of(self.pack()?).due(&row.what))?,
                until: parse::day_in(row, "value", &row.value)?,
                words: parse::words(row, &row.words)?,
            },
            "turn" => Fact::Turn {
                road: super::water::road_named(row, "words", &row.words)?,
                engine: self.engine()?,
                name: parse::name(row, "what", &row.what)?,
                off_shed: parse::moment_in(row, "value", &row.value, self.day, self.ledger().office.zone())?,
            },
            _ => return super::water::fact(row, self.pack().ok(), || self.engine()),
        }))
    }

    fn days_before(&self) -> Result<u16, ScriptFault> {
        let text = self.row.words.trim();
        if text.is_empty() {
            return Ok(0);
        }
        text.parse().or_else(|_| fault(self.row, "words", "days in steam since then: a whole number, or nothing"))
    }

    /// `value` is the name; `words` are `glass 180 mm; pressure 160 psi; has second-glass air-brake`.
    fn engine_fact(&self) -> Result<Fact, ScriptFault> {
        let row = self.row;
        let (features, glass_mm, working) =
            typed::engine_words(self.pack()?, &row.words).or_else(|problem| fault(row, "words", problem))?;
        let name = parse::name(row, "value", &row.value)?;
        Ok(Fact::Engine { engine: parse::engine(row, "what", &row.what)?, name, features, glass_mm, working })
    }
}

fn defect_grade(row: &Row) -> Result<DefectGrade, ScriptFault> {
    typed::grade_named(&row.value).map_or_else(|| fault(row, "value", "grade it: stopping, restricted or note"), Ok)
}
