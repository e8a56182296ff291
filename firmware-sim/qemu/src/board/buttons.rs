//! The five buttons: closed is low.
//!
//! The emulator lets a button read low from reset until it is let go for the first time. A button therefore counts from
//! the first moment at which it was seen open; on a board it is open when nobody presses it, and counts from the start.

use offshed_handheld::keys::{Contacts, Key};

use super::{PORT_E, PORT_F};

const ON_E: [(u8, Key); 4] = [(1, Key::Up), (2, Key::Down), (4, Key::Left), (8, Key::Right)];
const ON_F: [(u8, Key); 1] = [(2, Key::Select)];

pub(super) fn start() {
    PORT_E.inputs(0x0f);
    PORT_F.inputs(0x02);
}

/// The buttons, and which of them were seen open.
#[derive(Clone, Copy, Debug, Default)]
pub struct Buttons {
    open_once: Contacts,
}

impl Buttons {
    /// Which are closed.
    pub fn look(&mut self) -> Contacts {
        let mut closed = Contacts::OPEN;
        let ports = ON_E.map(|pin| (PORT_E, pin)).into_iter().chain(ON_F.map(|pin| (PORT_F, pin)));
        for (port, (pin, key)) in ports {
            match port.get(pin) & pin {
                0 if self.open_once.has(key) => closed = closed.with(key),
                0 => {}
                _ => self.open_once = self.open_once.with(key),
            }
        }
        closed
    }
}
