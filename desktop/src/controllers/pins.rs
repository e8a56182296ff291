//! PINs on this device, as every desk asks for them.

use offshed_core::ident::PersonId;

use super::{Session, Trouble};

/// Whether the person has a PIN on this device.
///
/// # Errors
/// When another program writes here, or the file can't be read.
pub(super) fn has_pin(session: &mut Session, id: PersonId) -> Result<bool, Trouble> {
    let shed = session.shed()?;
    shed.folder().has_pin(id).map_err(|fault| Trouble { key: "folder", words: fault.to_string() })
}

/// Whether the PIN is the person's.
///
/// # Errors
/// When it is not, or the person has to wait.
pub(super) fn check_pin(session: &mut Session, id: PersonId, pin: &str) -> Result<(), Trouble> {
    let now = session.now().stamp;
    let checked = session.shed()?.folder_mut().check_pin(id, pin, now);
    checked.map_err(|fault| Trouble { key: "pin", words: fault.to_string() })
}

/// Gives a person a PIN on this device.
///
/// # Errors
/// When it is none, or can't be kept.
pub(super) fn set_pin(session: &mut Session, id: PersonId, pin: &str) -> Result<(), Trouble> {
    let set = session.shed()?.folder_mut().set_pin(id, pin);
    set.map_err(|fault| Trouble { key: "pin", words: fault.to_string() })
}
