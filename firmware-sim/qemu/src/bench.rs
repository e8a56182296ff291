//! A bench: lines over the serial port that play keys by the device's own time.
//!
//! The device asks for an act when the one before is over, and its clock stands still until it has one; what it then does
//! depends on the acts alone. What a line asks, and what it answers:
//!
//! ```text
//! keys MASK MS     these contacts are closed for so long    done AT-MS FRAME WORK
//! draw             the display is drawn anew                done AT-MS FRAME WORK
//! told             how it stands                            stack BYTES pages N free N
//! skip MS          so much time passes at once              done AT-MS FRAME WORK
//! leave            the emulator ends
//! ```
//!
//! FRAME is the most instructions of a look that ended with a frame on the display, WORK of any look, since the act
//! before; both to 80.

use core::fmt::Write;

use offshed_handheld::keys::{Contacts, KEYS};

use crate::board::clock::{LOOK_MS, TICK, skip};
use crate::board::host;
use crate::board::wire::Wire;

/// What a line was about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// An act was given.
    Act,
    /// How it stands is to be told; another line comes.
    Told,
}

/// The bench at the other end of the port.
#[derive(Clone, Copy, Debug, Default)]
pub struct Bench {
    begun: bool,
    contacts: Contacts,
    /// When the act is over, ms.
    end: u64,
    draw: bool,
    /// Most ticks of a look with a frame, and of any.
    frame: u32,
    work: u32,
}

impl Bench {
    /// Which contacts it holds closed.
    pub fn contacts(&self) -> Contacts {
        self.contacts
    }

    /// Whether the act is over.
    pub fn is_over(&self, ms: u64) -> bool {
        ms >= self.end
    }

    /// Whether the display is to be drawn anew, once.
    pub fn take_draw(&mut self) -> bool {
        core::mem::take(&mut self.draw)
    }

    /// A look took so many ticks.
    pub fn took(&mut self, ticks: u32, with_frame: bool) {
        self.work = self.work.max(ticks);
        if with_frame {
            self.frame = self.frame.max(ticks);
        }
    }

    /// Says that the act is over, and waits for the next line.
    pub fn next(&mut self, ms: u64) -> Asked {
        if core::mem::replace(&mut self.begun, true) {
            let instructions = |ticks: u32| u64::from(ticks) * u64::from(TICK);
            let _ = writeln!(Wire, "done {ms} {} {}", instructions(self.frame), instructions(self.work));
        } else {
            let _ = writeln!(Wire, "ready {ms}");
        }
        loop {
            let line = Wire.line();
            let words = core::str::from_utf8(&line).unwrap_or_default();
            let mut words = words.split_ascii_whitespace();
            match (words.next(), words.next(), words.next()) {
                (Some("keys"), Some(mask), Some(time)) => {
                    return self.act(contacts(mask.parse().unwrap_or(0)), time.parse().unwrap_or(0));
                }
                (Some("skip"), Some(time), None) => {
                    let time = time.parse().unwrap_or(0);
                    skip(time);
                    return self.act(Contacts::OPEN, time.into());
                }
                (Some("draw"), None, None) => {
                    self.draw = true;
                    return self.act(Contacts::OPEN, 0);
                }
                (Some("told"), None, None) => {
                    self.begun = false;
                    return Asked::Told;
                }
                (Some("leave"), None, None) => host::leave(true),
                _ => {}
            }
        }
    }

    fn act(&mut self, contacts: Contacts, ms: u64) -> Asked {
        self.contacts = contacts;
        // Whole looks, as the simulator has them.
        self.end += ms.next_multiple_of(LOOK_MS.into());
        (self.frame, self.work) = (0, 0);
        Asked::Act
    }
}

/// The contacts of a mask: bit 0 is the first of all keys.
fn contacts(mask: u8) -> Contacts {
    let closed = KEYS.into_iter().enumerate().filter(|(n, _)| mask >> n & 1 == 1);
    closed.fold(Contacts::OPEN, |contacts, (_, key)| contacts.with(key))
}
