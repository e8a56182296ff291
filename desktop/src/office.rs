//! Who of the office has a PIN on this device: they must agree before somebody's first PIN is set.

use offshed_core::ident::PersonId;
use offshed_depot::folder::FolderFault;
use offshed_depot::ledger::Person;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::Shed;

/// Everybody who holds an office grade and has a PIN on this device.
///
/// # Errors
/// When the file of PINs can't be read.
pub(crate) fn with_pins(shed: &Shed) -> Result<Vec<PersonId>, FolderFault> {
    let ledger = shed.ledger();
    let Some(grades) = ledger.adopted().map(PackFile::pack).map(|pack| pack.head().restricted_by) else {
        return Ok(Vec::new());
    };
    let holds = |person: &Person| person.grades.keys().any(|grade| grades.has(grade.0));
    let mut found = Vec::new();
    for (id, _) in ledger.office.people.iter().filter(|(_, person)| holds(person)) {
        if shed.folder().has_pin(*id)? {
            found.push(*id);
        }
    }
    Ok(found)
}
