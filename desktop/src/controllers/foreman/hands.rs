//! Who may do what the foreman's desk offers, and how a person proves that it is them: their PIN.

use offshed_core::engine::{Defect, EngineState};
use offshed_core::ident::{DefectId, EngineId, GradeId, PersonId, Set};
use offshed_core::reason::Why;
use offshed_core::stamp::Now;
use offshed_core::verdict::{self, Scene};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;

/// A person's name.
pub(super) fn name(ledger: &Ledger, id: PersonId) -> String {
    ledger.office.people.get(&id).map_or_else(|| format!("person {id}"), |person| person.name.clone())
}

/// Everybody who holds one of these grades now, by name.
pub(super) fn holders(ledger: &Ledger, grades: Set, now: Now) -> Vec<PersonId> {
    judged(ledger, grades, now, |held| held.iter().any(Result::is_ok))
}

/// Everybody who held one of these grades and whose last one lapsed, by name.
pub(super) fn lapsed(ledger: &Ledger, grades: Set, now: Now) -> Vec<PersonId> {
    let lapsed = |why: &Result<(), Why>| matches!(why, Err(Why::GradeLapsed { .. }));
    judged(ledger, grades, now, |held| !held.iter().any(Result::is_ok) && held.iter().any(lapsed))
}

fn judged(ledger: &Ledger, grades: Set, now: Now, is: impl Fn(&[Result<(), Why>]) -> bool) -> Vec<PersonId> {
    let Some(pack) = ledger.adopted().map(PackFile::pack) else { return Vec::new() };
    let engine = EngineState::new(EngineId(0));
    let scene = Scene { pack: &pack, register: &ledger.office, engine: &engine, sheet: None, left_at: None };
    let held = |id: PersonId| grades.members().map(move |grade| (id, GradeId(grade)));
    let each = |id: &PersonId| {
        let all: Vec<Result<(), Why>> =
            held(*id).map(|(id, grade)| verdict::in_grade(&scene, id, grade, now)).collect();
        is(&all)
    };
    let mut found: Vec<PersonId> = ledger.office.people.keys().copied().filter(each).collect();
    found.sort_by_key(|id| (name(ledger, *id), *id));
    found
}

/// The grades that restrict and dispense in writing.
pub(super) fn office(ledger: &Ledger) -> Set {
    ledger.adopted().map_or(Set::EMPTY, |file| file.pack().head().restricted_by)
}

/// A defect that is not cleared, with its engine.
pub(super) fn open_defect(ledger: &Ledger, id: DefectId) -> Option<Defect> {
    let engine = ledger.engine(ledger.defect(id)?.engine)?;
    engine.defects().iter().find(|defect| defect.id == id).copied()
}

/// The grades in which a defect may still be cleared, where somebody holds them now.
pub(super) fn clearing(ledger: &Ledger, id: DefectId, now: Now) -> Vec<GradeId> {
    let (Some(defect), Some(file)) = (open_defect(ledger, id), ledger.adopted()) else { return Vec::new() };
    let allowed = match defect.cleared_by {
        Set::EMPTY => file.pack().head().defects_cleared_by,
        named => named.without(defect.cleared),
    };
    let held = |grade: &GradeId| !holders(ledger, Set::EMPTY.with(grade.0), now).is_empty();
    allowed.members().map(GradeId).filter(held).collect()
}
