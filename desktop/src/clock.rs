//! Clocks: the wall clock that records carry, and the steady one that measures holds. A test steps them by hand.

use std::cell::Cell;
use std::time::{Instant, SystemTime, UNIX_EPOCH};

use offshed_core::stamp::{Now, Stamp};

/// What the time is.
pub trait Clock {
    /// The wall clock.
    fn now(&self) -> Now;

    /// Tenths of a second of a clock that never jumps, from some moment on.
    fn tenths(&self) -> u64;
}

/// The system's clocks.
#[derive(Debug)]
pub struct SystemClock {
    started: Instant,
}

impl SystemClock {
    /// The system's clocks; tenths count from here.
    pub fn new() -> SystemClock {
        SystemClock { started: Instant::now() }
    }
}

impl Default for SystemClock {
    fn default() -> SystemClock {
        SystemClock::new()
    }
}

impl Clock for SystemClock {
    fn now(&self) -> Now {
        let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
        Now::good(Stamp(i64::try_from(seconds).unwrap_or(i64::MAX)))
    }

    fn tenths(&self) -> u64 {
        u64::try_from(self.started.elapsed().as_millis() / 100).unwrap_or(u64::MAX)
    }
}

/// A clock that goes on from another moment, at the pace of the steady one: the demonstration stays on its own day.
#[derive(Debug)]
pub struct DayClock {
    from: Stamp,
    steady: SystemClock,
}

impl DayClock {
    /// Goes on from `from`.
    pub fn new(from: Stamp) -> DayClock {
        DayClock { from, steady: SystemClock::new() }
    }
}

impl Clock for DayClock {
    fn now(&self) -> Now {
        let seconds = i64::try_from(self.steady.tenths() / 10).unwrap_or(0);
        Now::good(self.from.plus(seconds))
    }

    fn tenths(&self) -> u64 {
        self.steady.tenths()
    }
}

/// A clock that stands until it is stepped.
#[derive(Debug)]
pub struct StepClock {
    from: Cell<Stamp>,
    tenths: Cell<u64>,
}

impl StepClock {
    /// Stands at a moment.
    pub fn new(from: Stamp) -> StepClock {
        StepClock { from: Cell::new(from), tenths: Cell::new(0) }
    }

    /// Goes on by tenths of a second.
    pub fn step(&self, tenths: u64) {
        self.tenths.set(self.tenths.get().saturating_add(tenths));
    }

    /// Puts the wall clock to a moment, as somebody sets a clock; the steady one stays as it is.
    pub fn set(&self, wall: Stamp) {
        self.from.set(wall.plus(-self.passed()));
    }

    fn passed(&self) -> i64 {
        i64::try_from(self.tenths.get() / 10).unwrap_or(0)
    }
}

impl Clock for StepClock {
    fn now(&self) -> Now {
        Now::good(self.from.get().plus(self.passed()))
    }

    fn tenths(&self) -> u64 {
        self.tenths.get()
    }
}
