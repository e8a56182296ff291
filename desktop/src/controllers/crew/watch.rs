//! Durations by the steady clock: holds that were started here, and the stopwatch of a timed part.

use std::collections::BTreeMap;

use offshed_core::ident::{SheetId, StepId};

/// What is being timed.
#[derive(Clone, Debug, Default)]
pub(super) struct Watches {
    holds: BTreeMap<(SheetId, StepId), u64>,
    /// The stopwatch: since when it runs, or what it measured.
    pub(super) stopwatch: Stopwatch,
}

/// The stopwatch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Stopwatch {
    /// At zero.
    #[default]
    Ready,
    /// Since this moment, tenths of a second.
    Running(u64),
    /// Stopped at so many tenths.
    Stopped(u32),
}

impl Watches {
    /// A hold started.
    pub(super) fn hold(&mut self, sheet: SheetId, step: StepId, at: u64) {
        self.holds.insert((sheet, step), at);
    }

    /// How long a hold has lasted; `None` where it was not started here since the program began.
    pub(super) fn held(&self, sheet: SheetId, step: StepId, now: u64) -> Option<u32> {
        let since = self.holds.get(&(sheet, step))?;
        Some(u32::try_from(now.saturating_sub(*since)).unwrap_or(u32::MAX))
    }
}

impl Stopwatch {
    /// Tenths of a second on its face.
    pub(super) fn face(self, now: u64) -> u32 {
        match self {
            Stopwatch::Ready => 0,
            Stopwatch::Running(since) => u32::try_from(now.saturating_sub(since)).unwrap_or(u32::MAX),
            Stopwatch::Stopped(tenths) => tenths,
        }
    }
}

/// `1:05` of a minute and more, `4.2 s` below.
pub(super) fn face(tenths: u32) -> String {
    if tenths < 600 {
        return format!("{}.{} s", tenths / 10, tenths % 10);
    }
    format!("{}:{:02}", tenths / 600, tenths / 10 % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faces() {
        assert_eq!(face(0), "0.0 s");
        assert_eq!(face(42), "4.2 s");
        assert_eq!(face(599), "59.9 s");
        assert_eq!(face(600), "1:00");
        assert_eq!(face(36_059), "60:05");
        assert_eq!(Stopwatch::Running(10).face(52), 42);
        assert_eq!(Stopwatch::Running(52).face(10), 0);
    }
}
