//! Prints what calls of the core cost on a Cortex-M3 without a floating-point unit, in instructions.
//!
//! Ends in failure when the counter does not hold against loops of known length, when a call has no answer, or when the
//! water level of any one state costs more than its limit.
#![no_std]
#![no_main]

use core::hint::black_box;
use core::mem::{size_of, size_of_val};

use cortex_m_rt::{ExceptionFrame, entry, exception};
use cortex_m_semihosting::{debug, hprintln};
use offshed_core::boiler::shape::Vessel;
use offshed_guest::cases::{self, Case};
use offshed_guest::meter::{Count, Meter, Uncounted, idle_hundred, turn};
use offshed_guest::stack;
use panic_semihosting as _;

/// Most instructions for the water level of one state.
const MOST: u32 = 5_000_000;
/// Most states of one case.
const STATES: usize = 256;

#[entry]
fn main() -> ! {
    let passed = cortex_m::Peripherals::take().is_some_and(|taken| match Meter::new(taken.SYST) {
        Ok(mut meter) => calibrated(&mut meter) && answered() && measured(&mut meter),
        Err(why) => {
            hprintln!("FAILED: the counter counts nothing: {:?}", why);
            false
        }
    });
    sizes();
    debug::exit(if passed { debug::EXIT_SUCCESS } else { debug::EXIT_FAILURE });
    loop {
        cortex_m::asm::nop();
    }
}

/// A fault ends the program with failure.
#[exception]
#[allow(unsafe_code)]
unsafe fn HardFault(frame: &ExceptionFrame) -> ! {
    hprintln!("FAILED: fault at {:#010x}", frame.pc());
    debug::exit(debug::EXIT_FAILURE);
    loop {
        cortex_m::asm::nop();
    }
}

/// Whether code of known length counts as long as it is.
fn calibrated(meter: &mut Meter) -> bool {
    hprintln!("counter: {} instructions of its own are taken off every count", meter.nothing());
    let hundred = |_| {
        idle_hundred();
        Some(0)
    };
    let counted = meter.count(&hundred, 0);
    let mut holds = held("a row", 100, counted);
    for turns in [2, 3, 4, 5, 6, 7, 500, 20_000_000, 200_000_000] {
        holds &= held("a loop", 2 * (turns - 1), looped(meter, turns));
    }
    holds
}

/// A loop of two instructions a turn, less the same loop of a single turn.
fn looped(meter: &mut Meter, turns: u32) -> Result<Count, Uncounted> {
    let turning = |turns| {
        turn(turns);
        Some(0)
    };
    let single = meter.count(&turning, 1)?.instructions;
    let count = meter.count(&turning, turns)?;
    Ok(Count { instructions: count.instructions.saturating_sub(single), ..count })
}

fn held(name: &str, known: u32, counted: Result<Count, Uncounted>) -> bool {
    let Ok(Count { instructions, off_by }) = counted else {
        hprintln!("FAILED: {} of {} instructions: {:?}", name, known, counted);
        return false;
    };
    let holds = known.abs_diff(instructions) <= off_by;
    let verdict = if holds { "holds" } else { "FAILED" };
    hprintln!("counter: {} of {} instructions counts {} (+-{}): {}", name, known, instructions, off_by, verdict);
    holds
}

/// Whether every case has an answer; another machine that prints the same lines has the same figures, bit for bit.
fn answered() -> bool {
    hprintln!();
    let mut complete = true;
    let shown = cases::each(&mut |case| match case.answer() {
        Some(answer) => hprintln!("answer: {}: {:016x}", case.name, answer),
        None => {
            hprintln!("FAILED: {}: the core refuses a state", case.name);
            complete = false;
        }
    });
    if let Err(bad) = shown {
        hprintln!("FAILED: a boiler is refused: {}", bad);
    }
    complete && shown.is_ok()
}

/// Whether every case is counted, and every level keeps to its limit.
fn measured(meter: &mut Meter) -> bool {
    hprintln!();
    hprintln!("instructions                           states      median       worst  +-  at  per part  stack");
    let mut passed = true;
    let shown = cases::each(&mut |case| passed &= told(meter, case));
    passed && shown.is_ok()
}

/// One line of the table; whether the case passes.
fn told(meter: &mut Meter, case: &Case) -> bool {
    let mut room = [(Count { instructions: 0, off_by: 0 }, 0); STATES];
    let Some(counts) = room.get_mut(..case.states as usize) else {
        hprintln!("FAILED: {}: {} states, most {}", case.name, case.states, STATES);
        return false;
    };
    for (place, state) in counts.iter_mut().zip(0..) {
        match meter.count(case.call, state) {
            Ok(count) => *place = (count, state),
            Err(why) => {
                hprintln!("FAILED: {}, state {}: {:?}", case.name, state, why);
                return false;
            }
        }
    }
    counts.sort_unstable();
    let (Some(median), Some(worst)) = (counts.get(counts.len() / 2), counts.last()) else {
        hprintln!("FAILED: {}: no states", case.name);
        return false;
    };
    row(case, median.0.instructions, *worst)
}

/// Prints the line; whether the case keeps to its limits.
fn row(case: &Case, median: u32, (worst, at): (Count, u32)) -> bool {
    let Some(stack) = deepest(case) else {
        hprintln!("FAILED: {}: the stack reaches static data", case.name);
        return false;
    };
    let Case { name, states, .. } = case;
    let Count { instructions, off_by } = worst;
    let part = instructions / case.parts.max(1);
    let figures = format_args!("{median:>11} {instructions:>11} {off_by:>3} {at:>3} {part:>9} {stack:>6}");
    hprintln!("{:<38} {:>6} {}", name, states, figures);
    let keeps = !case.is_level || instructions <= MOST;
    if !keeps {
        hprintln!("FAILED: {}: {} instructions in state {}, limit {}", name, instructions, at, MOST);
    }
    keeps
}

/// Bytes of stack of all states of a case, the deepest.
fn deepest(case: &Case) -> Option<usize> {
    stack::depth(&|| {
        black_box(case.answer());
    })
}

// Where the linker puts things.
#[allow(unsafe_code)]
unsafe extern "C" {
    static __stext: u32;
    static __etext: u32;
    static __srodata: u32;
    static __erodata: u32;
    static __sdata: u32;
    static __edata: u32;
    static __sbss: u32;
    static __ebss: u32;
}

/// Flash and RAM of this program, the counting and printing and the road of the cases included.
fn sizes() {
    let between = |start: *const u32, end: *const u32| (end as usize).saturating_sub(start as usize);
    let code = between(&raw const __stext, &raw const __etext);
    let constants = between(&raw const __srodata, &raw const __erodata);
    let data = between(&raw const __sdata, &raw const __edata);
    let zeroed = between(&raw const __sbss, &raw const __ebss);
    hprintln!();
    hprintln!("flash of this program: {} bytes of code, {} of constants", code, constants);
    hprintln!("  of those constants the road: {} bytes", size_of_val(&cases::ROAD));
    hprintln!("static RAM: {} bytes; one boiler, checked: {} bytes", data + zeroed, size_of::<Vessel>());
}
