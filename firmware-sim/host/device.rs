//! A device that is only a clock, contacts and a canvas.

use offshed_core::stamp::Now;
use offshed_handheld::hand::{Hand, Moment};
use offshed_handheld::keys::Contacts;

use crate::picture::Canvas;

/// Its clock begins at `start` and is `ms` further on.
pub(crate) struct Simulated {
    pub(crate) start: Now,
    pub(crate) ms: u64,
    pub(crate) contacts: Contacts,
    pub(crate) display: Canvas,
}

impl Hand for Simulated {
    type Display = Canvas;

    fn moment(&self) -> Moment {
        let seconds = i64::try_from(self.ms / 1_000).unwrap_or(i64::MAX);
        Moment { now: Now { stamp: self.start.stamp.plus(seconds), ..self.start }, ms: self.ms }
    }

    fn contacts(&mut self) -> Contacts {
        self.contacts
    }

    fn display(&mut self) -> &mut Canvas {
        &mut self.display
    }
}
