//! A counter of instructions: the SysTick timer of an emulated core whose clock moves one nanosecond an instruction.
//!
//! The finest tick is five instructions long.
//! A call counted five times, each time begun one instruction later against the tick, gives its count exactly: the sum
//! over a full set of residues of ⌊(x + r) / 5⌋ grows by n when x does (Hermite's identity).
//! A call too long for the timer's 24 bits at that pace is counted once at eighty instructions a tick.
//! None of this holds on silicon, where an instruction takes as long as it takes.

use core::arch::asm;
use core::hint::black_box;

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;

/// Greatest value of the timer.
const RELOAD: u32 = 0x00ff_ffff;
/// Run-mode clock configuration of the LM3S6965; bits 26 to 23 hold the divisor less one (from memory; the loops of known
/// length show that it is so on this machine).
const RCC: *mut u32 = 0x400f_e060 as *mut u32;
const DIVISOR: u32 = 0xf << 23;
/// Beginnings against the tick, and instructions in the finest tick.
const BEGINNINGS: u32 = 5;
/// Instructions in the coarsest tick.
const COARSE: u32 = 80;
/// Turns of the loop before a count begins: enough for the timer to reload at either pace.
const SETTLING: u32 = 256;

/// A call that can be counted in one of its states.
pub type Call<'c> = &'c dyn Fn(u32) -> Option<u64>;

/// Why a call has no count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Uncounted {
    /// It ran longer than the timer counts at its coarsest, some 1 340 million instructions.
    TooLong,
    /// It did not take as long every time.
    Unsteady,
    /// It had no answer.
    Refused,
}

/// Instructions of one call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Count {
    /// How many.
    pub instructions: u32,
    /// By how many it may be off; 0: exact.
    pub off_by: u32,
}

/// The timer, and what a call that does nothing costs.
pub struct Meter {
    timer: SYST,
    nothing: u32,
}

/// How long a tick is.
#[derive(Clone, Copy)]
enum Pace {
    Fine,
    Coarse,
}

impl Meter {
    /// Takes the timer.
    ///
    /// # Errors
    /// When a call that does nothing cannot be counted.
    pub fn new(mut timer: SYST) -> Result<Meter, Uncounted> {
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(RELOAD);
        timer.enable_counter();
        let mut meter = Meter { timer, nothing: 0 };
        meter.nothing = meter.count(&|_| Some(0), 0)?.instructions;
        Ok(meter)
    }

    /// What counting itself costs and every count is less by, in instructions.
    pub fn nothing(&self) -> u32 {
        self.nothing
    }

    /// Instructions of one call.
    ///
    /// # Errors
    /// [`Uncounted`].
    pub fn count(&mut self, call: Call, state: u32) -> Result<Count, Uncounted> {
        match self.finely(call, state)? {
            Some(count) => Ok(count),
            None => self.coarsely(call, state),
        }
    }

    /// To one instruction; none when the call is too long for it.
    fn finely(&mut self, call: Call, state: u32) -> Result<Option<Count>, Uncounted> {
        set(Pace::Fine);
        let (mut sum, mut least, mut most) = (0, u32::MAX, 0);
        for late in 0..BEGINNINGS {
            let Some(ticks) = self.ticks(call, state, SETTLING + late)? else {
                return Ok(None);
            };
            (sum, least, most) = (sum + ticks, least.min(ticks), most.max(ticks));
        }
        if most - least > 1 {
            return Err(Uncounted::Unsteady);
        }
        Ok(Some(Count { instructions: sum.saturating_sub(self.nothing), off_by: 0 }))
    }

    fn coarsely(&mut self, call: Call, state: u32) -> Result<Count, Uncounted> {
        set(Pace::Coarse);
        let ticks = self.ticks(call, state, SETTLING)?.ok_or(Uncounted::TooLong)?;
        Ok(Count { instructions: (ticks * COARSE).saturating_sub(self.nothing), off_by: COARSE })
    }

    /// Ticks of one call begun after so many turns of a loop of two instructions; none when the timer ran round.
    ///
    /// Two and five have no common factor, so that turns one apart meet every place of the tick.
    #[inline(never)]
    fn ticks(&mut self, call: Call, state: u32, turns: u32) -> Result<Option<u32>, Uncounted> {
        let call = black_box(call);
        self.timer.clear_current();
        turn(turns);
        // Asking clears the flag.
        let _ = self.timer.has_wrapped();
        let start = SYST::get_current();
        let answer = black_box(call(state));
        let end = SYST::get_current();
        let ran_round = self.timer.has_wrapped();
        answer.ok_or(Uncounted::Refused)?;
        Ok((!ran_round).then(|| start.wrapping_sub(end) & RELOAD))
    }
}

/// Sets the clock's divisor to 1 or 16; the emulated clock then takes 5 or 80 ns.
#[allow(unsafe_code)]
fn set(pace: Pace) {
    let divisor = match pace {
        Pace::Fine => 0,
        Pace::Coarse => DIVISOR,
    };
    // SAFETY: the register exists on this machine, is aligned, and nothing else writes it.
    unsafe { RCC.write_volatile(RCC.read_volatile() & !DIVISOR | divisor) }
}

/// Runs 2 × `turns` instructions, `turns` at least 1.
#[allow(unsafe_code)]
#[inline(always)]
pub fn turn(turns: u32) {
    // SAFETY: touches one register and the flags, and no memory.
    unsafe { asm!("2: subs {0}, #1", "bne 2b", inout(reg) turns.max(1) => _, options(nomem, nostack)) }
}

/// Runs 100 instructions that do nothing.
#[allow(unsafe_code)]
#[inline(always)]
pub fn idle_hundred() {
    // SAFETY: touches nothing.
    unsafe { asm!(".rept 100", "nop", ".endr", options(nomem, nostack, preserves_flags)) }
}
