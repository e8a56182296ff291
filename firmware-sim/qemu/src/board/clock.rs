//! The clock that only rises: looks of 5 ms, counted by the core's own timer.
//!
//! The emulated core takes a tick of the timer for each eighty instructions; `meter` holds that against loops of known
//! length. The clock can be stopped while a bench is asked what comes next, and time then stands still for the program.

use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m_rt::exception;

use super::{SYSCTL, read, write};

/// Milliseconds between two looks.
pub const LOOK_MS: u32 = 5;
/// Instructions of one tick.
pub const TICK: u32 = 80;
/// Ticks of one look: a tick is 80 ns.
const TICKS: u32 = LOOK_MS * 1_000_000 / TICK;
/// Run-mode clock configuration, whose bits 26 to 23 hold the divisor less one.
const RCC: u32 = SYSCTL + 0x60;

static LOOKS: AtomicU32 = AtomicU32::new(0);
static STOPPED: AtomicBool = AtomicBool::new(false);

/// Counts a look.
#[exception]
fn SysTick() {
    if !STOPPED.load(Ordering::Relaxed) {
        LOOKS.fetch_add(1, Ordering::Relaxed);
    }
}

/// Lets so many milliseconds pass at once, in whole looks.
pub fn skip(ms: u32) {
    LOOKS.fetch_add(ms / LOOK_MS, Ordering::Relaxed);
}

/// The clock, begun.
pub struct Clock(());

impl Clock {
    /// Begins it.
    pub fn start(mut timer: SYST) -> Clock {
        write(RCC, read(RCC) | 0xf << 23);
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(TICKS - 1);
        timer.clear_current();
        timer.enable_interrupt();
        timer.enable_counter();
        Clock(())
    }

    /// Looks since the start.
    pub fn looks(&self) -> u32 {
        LOOKS.load(Ordering::Relaxed)
    }

    /// Milliseconds since the start.
    pub fn ms(&self) -> u64 {
        u64::from(self.looks()) * u64::from(LOOK_MS)
    }

    /// Waits for the next look.
    pub fn wait(&self) {
        let before = self.looks();
        while self.looks() == before {
            cortex_m::asm::wfi();
        }
    }

    /// Ticks since the start, modulo 2^32.
    pub fn ticks(&self) -> u32 {
        loop {
            let looks = self.looks();
            let left = SYST::get_current();
            if looks == self.looks() {
                return looks.wrapping_mul(TICKS).wrapping_add(TICKS - 1 - left);
            }
        }
    }

    /// What `work` answers, while time stands still.
    pub fn stopped<T>(&self, work: impl FnOnce() -> T) -> T {
        STOPPED.store(true, Ordering::Relaxed);
        let answer = work();
        STOPPED.store(false, Ordering::Relaxed);
        answer
    }
}
