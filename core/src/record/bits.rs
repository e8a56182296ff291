//! Single bits, each with how likely it is, to bytes and back: a binary arithmetic coder with counting models. What the
//! counts make likely takes much less than a bit. The rules are in `FORMAT.md`, section 5; any bytes can be read, and
//! what they say may then be nonsense, but nothing panics.

use core::fmt;

/// Why bits can't be written, or mean nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BitFault {
    /// The buffer is too short for what is to be written.
    Full,
    /// The bits say nothing that could have been written.
    Meaningless,
    /// The entry is of another device than the block.
    Foreign,
    /// The entry's count is not above the one before it.
    Order,
    /// The bytes go on behind the last entry, or end before it.
    Length,
}

impl fmt::Display for BitFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            BitFault::Full => "there is no room for it: write fewer entries in one block",
            BitFault::Meaningless => "its bits mean no entry: read it with the version that wrote it",
            BitFault::Foreign => "the entry is of another device: put it into that device's block",
            BitFault::Order => "the entry's count does not rise: put entries in the order of their counts",
            BitFault::Length => "it is longer or shorter than its entries: take it from a sound copy",
        })
    }
}

/// How many zeros and ones were seen in one place; what is counted there next is judged by it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Prob {
    zeros: u8,
    ones: u8,
}

/// Both counts are halved when together they reach this.
const COUNTED: u16 = 128;

impl Prob {
    /// The share of ones, 1 to 65,535 of 65,536: (2 ones + 1) / (2 (zeros + ones) + 2), the estimator of Krichevsky and
    /// Trofimov (IEEE Transactions on Information Theory 27 (1981), "The performance of universal encoding").
    fn ones_of_65536(self) -> u32 {
        let (zeros, ones) = (u32::from(self.zeros), u32::from(self.ones));
        (2 * ones + 1) * 32_768 / (zeros + ones + 1)
    }

    /// A place where ones are usual: as if three had been seen.
    pub const USUAL: Prob = Prob { zeros: 0, ones: 3 };

    fn saw(&mut self, bit: bool) {
        let count = if bit { &mut self.ones } else { &mut self.zeros };
        *count = count.saturating_add(1);
        if u16::from(self.zeros) + u16::from(self.ones) >= COUNTED {
            (self.zeros, self.ones) = (self.zeros / 2, self.ones / 2);
        }
    }
}

/// An even chance, in the unit of [`Prob::ones_of_65536`].
const EVEN: u32 = 32_768;

/// Bits one way: to bytes, or from them.
///
/// One description of a record serves both: what is written is handed in as `given` and comes back unchanged; what is
/// read comes back whatever is handed in.
pub trait Pipe {
    /// One bit with a given share of ones.
    ///
    /// # Errors
    /// When there is no room, or no more bytes.
    fn coin(&mut self, ones_of_65536: u32, given: bool) -> Result<bool, BitFault>;

    /// One bit, judged by its place and counted there.
    ///
    /// # Errors
    /// As [`Pipe::coin`].
    fn bit(&mut self, prob: &mut Prob, given: bool) -> Result<bool, BitFault> {
        let bit = self.coin(prob.ones_of_65536(), given)?;
        prob.saw(bit);
        Ok(bit)
    }

    /// The lowest `width` bits of a number (at most 64), highest first, each an even chance.
    ///
    /// # Errors
    /// As [`Pipe::coin`].
    fn raw(&mut self, width: u32, given: u64) -> Result<u64, BitFault> {
        let mut value = 0;
        for at in (0..width.min(64)).rev() {
            value = value << 1 | u64::from(self.coin(EVEN, given >> at & 1 == 1)?);
        }
        Ok(value)
    }
}

/// The part of the span below which a bit is a one.
fn split(low: u32, high: u32, ones_of_65536: u32) -> u32 {
    let span = u64::from(high.wrapping_sub(low));
    low.wrapping_add(((span * u64::from(ones_of_65536)) >> 16) as u32)
}

/// Whether both ends of the span have their highest byte in common.
fn settled(low: u32, high: u32) -> bool {
    (low ^ high) >> 24 == 0
}

/// Writes bits.
#[derive(Debug)]
pub struct Writer<'o> {
    out: &'o mut [u8],
    len: usize,
    low: u32,
    high: u32,
}

impl<'o> Writer<'o> {
    /// Writes to `out`.
    pub fn new(out: &'o mut [u8]) -> Writer<'o> {
        Writer { out, len: 0, low: 0, high: u32::MAX }
    }

    fn byte(&mut self, byte: u8) -> Result<(), BitFault> {
        *self.out.get_mut(self.len).ok_or(BitFault::Full)? = byte;
        self.len += 1;
        Ok(())
    }

    /// Writes the fewest further bytes that settle every bit, and answers how many bytes there are in all.
    ///
    /// # Errors
    /// When there is no room.
    pub fn finish(mut self) -> Result<usize, BitFault> {
        for bytes in 0..=4u32 {
            // The lowest value with only its first bytes set that is not below the span.
            let rest = u32::MAX.checked_shr(8 * bytes).unwrap_or(0);
            let Some(value) = self.low.checked_add(rest).map(|sum| sum & !rest) else { continue };
            if value <= self.high {
                for byte in value.to_be_bytes().into_iter().take(bytes as usize) {
                    self.byte(byte)?;
                }
                break;
            }
        }
        Ok(self.len)
    }
}

impl Pipe for Writer<'_> {
    fn coin(&mut self, ones_of_65536: u32, given: bool) -> Result<bool, BitFault> {
        let middle = split(self.low, self.high, ones_of_65536);
        if given {
            self.high = middle;
        } else {
            self.low = middle.wrapping_add(1);
        }
        while settled(self.low, self.high) {
            self.byte((self.high >> 24) as u8)?;
            (self.low, self.high) = (self.low << 8, self.high << 8 | 0xFF);
        }
        Ok(given)
    }
}

/// Reads bits.
#[derive(Clone, Debug)]
pub struct Reader<'a> {
    bytes: &'a [u8],
    /// Bytes taken, those behind the end included, which read as zeros.
    taken: usize,
    low: u32,
    high: u32,
    value: u32,
}

/// Bytes that a reader is ahead of what is settled.
const AHEAD: usize = 4;

impl<'a> Reader<'a> {
    /// Reads from `bytes`.
    pub fn new(bytes: &'a [u8]) -> Reader<'a> {
        let mut reader = Reader { bytes, taken: 0, low: 0, high: u32::MAX, value: 0 };
        for _ in 0..AHEAD {
            reader.take();
        }
        reader
    }

    fn take(&mut self) {
        let byte = self.bytes.get(self.taken).copied().unwrap_or(0);
        self.value = self.value << 8 | u32::from(byte);
        self.taken = self.taken.saturating_add(1);
    }

    /// Whether the bytes are as many as what was read takes.
    ///
    /// # Errors
    /// When some are left over, or missing.
    pub fn finish(&self) -> Result<(), BitFault> {
        let settled = self.taken.saturating_sub(AHEAD);
        let fits = (settled..=self.taken).contains(&self.bytes.len());
        if fits { Ok(()) } else { Err(BitFault::Length) }
    }
}

impl Pipe for Reader<'_> {
    fn coin(&mut self, ones_of_65536: u32, _: bool) -> Result<bool, BitFault> {
        let middle = split(self.low, self.high, ones_of_65536);
        let bit = self.value <= middle;
        if bit {
            self.high = middle;
        } else {
            self.low = middle.wrapping_add(1);
        }
        while settled(self.low, self.high) {
            if self.taken > self.bytes.len() + AHEAD {
                return Err(BitFault::Length);
            }
            (self.low, self.high) = (self.low << 8, self.high << 8 | 0xFF);
            self.take();
        }
        Ok(bit)
    }
}

/// A number by its length in bits, which is counted, and its bits below the highest, which are even chances.
#[derive(Clone, Copy, Debug, Default)]
pub struct Number {
    zero: Prob,
    length: Kind<4, 16>,
    negative: Prob,
}

/// The kind of length that stands for one written out.
const LONG: u8 = 15;

impl Number {
    /// A number from 0: whether it is 0; else its length less 1 as one of 15 kinds, or the sixteenth and six bits; then
    /// its bits below the highest.
    ///
    /// # Errors
    /// As [`Pipe::coin`].
    pub fn unsigned<P: Pipe>(&mut self, pipe: &mut P, given: u64) -> Result<u64, BitFault> {
        if pipe.bit(&mut self.zero, given == 0)? {
            return Ok(0);
        }
        let below = given.checked_ilog2().unwrap_or(0);
        let below = match self.length.pick(pipe, below.min(LONG.into()) as u8)? {
            LONG => pipe.raw(6, below.into())? as u32,
            short => short.into(),
        };
        Ok(pipe.raw(below, given)? | 1 << below)
    }

    /// A number of any sign: its size, and its sign where it is not 0.
    ///
    /// # Errors
    /// As [`Pipe::coin`], and when it is below the lowest there is.
    pub fn signed<P: Pipe>(&mut self, pipe: &mut P, given: i64) -> Result<i64, BitFault> {
        let size = self.unsigned(pipe, given.unsigned_abs())?;
        let negative = size != 0 && pipe.bit(&mut self.negative, given < 0)?;
        if negative {
            0i64.checked_sub_unsigned(size).ok_or(BitFault::Meaningless)
        } else {
            i64::try_from(size).map_err(|_| BitFault::Meaningless)
        }
    }

    /// An unsigned number that must fit `T`.
    ///
    /// # Errors
    /// As [`Pipe::coin`], and when it does not fit.
    pub fn fit<P: Pipe, T: TryFrom<u64>>(&mut self, pipe: &mut P, given: u64) -> Result<T, BitFault> {
        T::try_from(self.unsigned(pipe, given)?).map_err(|_| BitFault::Meaningless)
    }
}

/// A choice of at most 2^`WIDTH` kinds, bit by bit from the highest, each counted behind those before it; `N` is
/// 2^`WIDTH`.
#[derive(Clone, Copy, Debug)]
pub struct Kind<const WIDTH: u32, const N: usize> {
    places: [Prob; N],
}

impl<const WIDTH: u32, const N: usize> Default for Kind<WIDTH, N> {
    fn default() -> Self {
        Kind { places: [Prob::default(); N] }
    }
}

impl<const WIDTH: u32, const N: usize> Kind<WIDTH, N> {
    /// A kind.
    ///
    /// # Errors
    /// As [`Pipe::coin`].
    pub fn pick<P: Pipe>(&mut self, pipe: &mut P, given: u8) -> Result<u8, BitFault> {
        let mut node = 1usize;
        for at in (0..WIDTH).rev() {
            let place = self.places.get_mut(node).ok_or(BitFault::Meaningless)?;
            node = node << 1 | usize::from(pipe.bit(place, given >> at & 1 == 1)?);
        }
        u8::try_from(node - N.min(node)).map_err(|_| BitFault::Meaningless)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn there_and_back(numbers: &[i64]) -> usize {
        let mut buffer = [0; 1024];
        let mut writer = Writer::new(&mut buffer);
        let mut model = Number::default();
        for number in numbers {
            assert_eq!(model.signed(&mut writer, *number), Ok(*number));
        }
        let len = writer.finish().unwrap();
        let mut reader = Reader::new(&buffer[..len]);
        let mut model = Number::default();
        for number in numbers {
            assert_eq!(model.signed(&mut reader, 0), Ok(*number));
        }
        assert_eq!(reader.finish(), Ok(()));
        assert_eq!(Reader::new(&buffer[..len + 5]).finish(), Err(BitFault::Length));
        len
    }

    #[test]
    fn numbers_come_back() {
        there_and_back(&[]);
        there_and_back(&[0, 1, -1, 2, i64::MAX, i64::MIN, 77, -78]);
        // Sixty zeros are told in a few bits.
        assert!(there_and_back(&[0; 60]) <= 1);
    }

    #[test]
    fn kinds_come_back() {
        let mut buffer = [0; 64];
        let mut writer = Writer::new(&mut buffer);
        let mut model = Kind::<3, 8>::default();
        (0..8).for_each(|kind| assert_eq!(model.pick(&mut writer, kind), Ok(kind)));
        let len = writer.finish().unwrap();
        let mut reader = Reader::new(&buffer[..len]);
        let mut model = Kind::<3, 8>::default();
        (0..8).for_each(|kind| assert_eq!(model.pick(&mut reader, 0), Ok(kind)));
    }

    #[test]
    fn a_full_buffer_and_an_endless_number_are_told() {
        let mut writer = Writer::new(&mut []);
        assert_eq!((0..99).try_fold(0, |_, _| writer.raw(64, 5)), Err(BitFault::Full));
        let mut reader = Reader::new(&[]);
        assert_eq!((0..99).try_fold(0, |_, _| reader.raw(64, 0)), Err(BitFault::Length));
    }
}
