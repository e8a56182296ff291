//! Who is at the desk. A person with a PIN proves it when they sign on; after a while without a touch they are off.

use offshed_core::ident::PersonId;
use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::views;

/// Tenths of a second without a touch after which nobody is signed on any more: a quarter of an hour.
pub(super) const IDLE_TENTHS: u64 = 9_000;

/// Who is at the desk.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Hands {
    /// The person who answers.
    pub(super) person: Option<PersonId>,
    /// The second person who is there.
    pub(super) with: Option<PersonId>,
    /// When the desk was last touched.
    touched: u64,
}

impl Hands {
    /// Nobody is signed on after a while without a touch.
    pub(super) fn expire(&mut self, tenths: u64) {
        if tenths.saturating_sub(self.touched) > IDLE_TENTHS {
            *self = Hands::default();
        }
        self.touched = tenths;
    }

    /// As [`Hands::expire`], without taking it for a touch.
    pub(super) fn idle(&self, tenths: u64) -> bool {
        self.person.is_some() && tenths.saturating_sub(self.touched) > IDLE_TENTHS
    }
}

/// A person's name and grades: "Corin Vey, Fireman".
pub(super) fn named(ledger: &Ledger, id: PersonId, now: Now) -> String {
    let Some(person) = ledger.office.people.get(&id) else { return format!("person {id}") };
    let grades = views::grades(ledger, id, now);
    if grades.is_empty() { person.name.clone() } else { format!("{}, {grades}", person.name) }
}

/// A person's name.
pub(super) fn name(ledger: &Ledger, id: PersonId) -> String {
    ledger.office.people.get(&id).map_or_else(|| format!("person {id}"), |person| person.name.clone())
}

/// Everybody the register knows who was ever granted a grade, by name.
pub(super) fn everybody(ledger: &Ledger) -> Vec<PersonId> {
    let graded = ledger.office.people.iter().filter(|(_, person)| !person.grades.is_empty());
    let mut people: Vec<(&str, PersonId)> = graded.map(|(id, person)| (person.name.as_str(), *id)).collect();
    people.sort_unstable();
    people.into_iter().map(|(_, id)| id).collect()
}

/// Whether the person holds one of the grades that keep the register.
pub(super) fn of_office(ledger: &Ledger, id: PersonId) -> bool {
    let office = ledger.adopted().map(PackFile::pack).map(|pack| pack.head().restricted_by);
    let person = ledger.office.people.get(&id);
    office.zip(person).is_some_and(|(office, person)| person.grades.keys().any(|grade| office.has(grade.0)))
}
