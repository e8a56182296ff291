//! What the emulator's host tells at the start, by semihosting: the time, and how the emulator was called.
//!
//! The board has no clock that outlives its power. On a board without a debugger these calls would stop the program: a
//! real handheld has a clock chip in this place.

use cortex_m_semihosting::{debug, syscall};
use heapless::String;
use offshed_core::stamp::Stamp;

/// Bytes of the emulator's arguments.
const ARGUMENTS: usize = 80;

/// How the program was called.
#[derive(Clone, Debug, Default)]
pub struct Called {
    words: String<ARGUMENTS>,
}

impl Called {
    /// Asks the host.
    #[allow(unsafe_code)]
    pub fn ask() -> Called {
        let mut bytes = [0u8; ARGUMENTS];
        let mut block = [bytes.as_mut_ptr() as usize, ARGUMENTS];
        // SAFETY: the host writes at most `ARGUMENTS` bytes to `bytes` and the count to `block`, both alive here.
        let failed = unsafe { syscall!(GET_CMDLINE, block.as_mut_ptr()) };
        let mut words = String::new();
        if failed == 0 {
            let told = bytes.iter().take_while(|byte| **byte != 0).map(|byte| char::from(*byte));
            told.for_each(|letter| {
                let _ = words.push(letter);
            });
        }
        Called { words }
    }

    /// Whether a word is among the arguments.
    pub fn has(&self, word: &str) -> bool {
        self.words.split(' ').any(|told| told == word)
    }

    /// The number behind `name=`.
    pub fn number(&self, name: &str) -> Option<i64> {
        let told = self.words.split(' ').find_map(|told| told.strip_prefix(name)?.strip_prefix('='));
        told.and_then(|number| number.parse().ok())
    }

    /// The wall clock at the start: `as-of=` in seconds of UTC, or the host's own.
    pub fn time(&self) -> Stamp {
        Stamp(self.number("as-of").unwrap_or_else(host_time))
    }
}

#[allow(unsafe_code)]
fn host_time() -> i64 {
    // SAFETY: SYS_TIME takes nothing and answers seconds since 1970.
    (unsafe { syscall!(TIME) }) as i64
}

/// Ends the emulator.
pub fn leave(well: bool) -> ! {
    debug::exit(if well { debug::EXIT_SUCCESS } else { debug::EXIT_FAILURE });
    loop {
        cortex_m::asm::wfi();
    }
}
