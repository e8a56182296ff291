//! One engine's history: every entry about it, in order, one after the other, so that ten years take no more memory than
//! one line.

use offshed_core::entry::Entry;
use offshed_core::ident::EngineId;
use offshed_core::stamp::Stamp;

use super::lines::{EntryLine, Lines};
use super::proof::Scope;
use crate::ledger::Ledger;

/// How far an export has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Entries looked at.
    pub done: u64,
    /// Of so many.
    pub of: u64,
}

/// Entries between two tellings of progress.
const EVERY: u64 = 50_000;

/// One engine's history.
pub struct History<'l> {
    ledger: &'l Ledger,
    engine: EngineId,
    from: Option<Stamp>,
    until: Option<Stamp>,
}

impl<'l> History<'l> {
    /// Of an engine, from a moment on and up to another where they are given, by when things were done.
    pub fn new(ledger: &'l Ledger, engine: EngineId, from: Option<Stamp>, until: Option<Stamp>) -> History<'l> {
        History { ledger, engine, from, until }
    }

    fn holds(&self, entry: &Entry) -> bool {
        let at = entry.done_at();
        self.from.is_none_or(|from| at >= from)
            && self.until.is_none_or(|until| at < until)
            && Scope::Engine(self.engine).holds(self.ledger, entry)
    }

    /// Hands over its lines in order; tells how far it is.
    ///
    /// # Errors
    /// The first that `each` answers.
    pub fn each<E>(
        &self,
        progress: &mut dyn FnMut(Progress),
        mut each: impl FnMut(EntryLine) -> Result<(), E>,
    ) -> Result<(), E> {
        let (lines, of) = (Lines::new(self.ledger), self.ledger.entries().count() as u64);
        for (entry, done) in self.ledger.entries().zip(1..) {
            if self.holds(entry) {
                each(lines.line(entry))?;
            }
            if done % EVERY == 0 || done == of {
                progress(Progress { done, of });
            }
        }
        Ok(())
    }
}
