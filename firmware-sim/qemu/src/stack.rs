//! How deep a call goes into the stack: unused RAM is painted before it and looked at after.

use cortex_m::register::msp;

/// What unused words are painted with.
const PAINT: u32 = 0x5a17_c0de;
/// Words under the stack's end left unpainted, for the frames of the painting itself.
const MARGIN: usize = 64;

/// Unused RAM between the end of static data and the stack.
struct Unused {
    start: *mut u32,
    words: usize,
}

impl Unused {
    fn now() -> Unused {
        let start = cortex_m_rt::heap_start();
        let end = msp::read() as usize;
        Unused { start, words: (end.saturating_sub(start as usize) / 4).saturating_sub(MARGIN) }
    }

    #[allow(unsafe_code)]
    fn paint(&self) {
        for word in 0..self.words {
            // SAFETY: no heap lives here, and the stack ends `MARGIN` words above the last word painted.
            unsafe { self.start.add(word).write_volatile(PAINT) }
        }
    }

    /// Words still painted, from the bottom up.
    #[allow(unsafe_code)]
    fn untouched(&self) -> usize {
        // SAFETY: within the RAM that `paint` wrote.
        let painted = |word: &usize| unsafe { self.start.add(*word).read_volatile() } == PAINT;
        (0..self.words).take_while(painted).count()
    }
}

/// Bytes of stack that `call` goes deeper than its caller, or `None` if it uses all there is.
///
/// Less than 256 bytes are told as 256.
#[inline(never)]
pub fn depth(call: &dyn Fn()) -> Option<usize> {
    let unused = Unused::now();
    unused.paint();
    call();
    let untouched = unused.untouched();
    (untouched > 0).then(|| (unused.words - untouched + MARGIN) * 4)
}

// Where the stack begins, going down.
#[allow(unsafe_code)]
unsafe extern "C" {
    static _stack_start: u32;
}

/// How deep the stack was since the start: everything below it is painted once.
pub struct Gauge(Unused);

impl Gauge {
    /// Paints what is unused now.
    #[inline(never)]
    pub fn paint() -> Gauge {
        let unused = Unused::now();
        unused.paint();
        Gauge(unused)
    }

    /// Bytes of stack used at the deepest; all there is where it reached static data.
    pub fn deepest(&self) -> usize {
        let lowest = self.0.start as usize + self.0.untouched() * 4;
        (&raw const _stack_start as usize).saturating_sub(lowest)
    }
}
