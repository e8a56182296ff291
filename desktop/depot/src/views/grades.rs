//! The grades of a person, in words: a lapsed one says so, wherever people are listed who may sign.

use offshed_core::ident::{GradeId, PersonId};
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now};

use crate::ledger::Ledger;

/// What a grade is called in the adopted pack's words; its number where no pack is adopted.
pub fn grade_name(ledger: &Ledger, grade: GradeId) -> String {
    let Some(file) = ledger.adopted() else { return format!("grade {}", grade.0) };
    file.texts().get(file.pack().grade_name(grade)).to_owned()
}

/// A person's grades at `now`: "Fireman, Driver (LAPSED, last day 2026-04-30)". Empty for somebody without any.
pub fn grades(ledger: &Ledger, person: PersonId, now: Now) -> String {
    let Some(known) = ledger.office.people.get(&person) else { return String::new() };
    let today = Day::of(ledger.office.zone().day(now.stamp));
    let told = |(grade, until): (&GradeId, &Option<Day>)| {
        let name = grade_name(ledger, *grade);
        match until {
            Some(last) if *last < today => format!("{name} (LAPSED, last day {last})"),
            _ => name,
        }
    };
    known.grades.iter().map(told).collect::<Vec<_>>().join(", ")
}
