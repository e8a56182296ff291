//! A run of one device's entries in few bits. Each field of an entry is a column with a forecast of its own (the next
//! count, the step after the last one, the person before) and counts of how often it was right; what is forecast
//! takes almost nothing. The bits of an entry stand together, so that a run is read with no heap.
//!
//! Entries come back exactly as they were. The rules are in `FORMAT.md`, section 5; nothing panics on any bytes. One
//! description of the fields, `Columns::entry`, serves both ways.

mod answer;
mod fields;

use heapless::Vec;

use super::bits::{BitFault, Kind, Number, Pipe, Prob, Reader, Writer};
use crate::entry::{Entry, What};
use crate::ident::{DeviceId, EngineId, EntryRef, PackHash, PersonId, SequenceId, SheetId};
use crate::limits::ENTRY_BYTES;
use crate::stamp::{Clock, Hlc, Stamp};
use answer::AnswerModel;
use fields::{Devices, Recent, Refs};

/// What the entries of a block have shown so far.
#[derive(Debug, Default)]
struct Columns {
    device: DeviceId,
    /// The count that comes next.
    next: u32,
    hlc: Hlc,
    stamp: Option<Stamp>,
    clock: Option<Clock>,
    packs: Recent<PackHash, 4>,
    people: Recent<PersonId, 16>,
    sheets: Recent<SheetId, 8>,
    devices: Devices,
    models: Models,
    answers: AnswerModel,
}

/// The counts of the columns that every entry has.
#[derive(Debug, Default)]
struct Models {
    seconds: Number,
    usual: Usual,
    in_count: Prob,
    by_clock: Prob,
    same_trust: Prob,
    gap: Number,
    ahead: Number,
    doubted: Prob,
    boot: Number,
    person: Number,
    answered: Usual,
    opened: Prob,
    engine: Number,
    sequence: Number,
    sheet: Refs,
    length: Number,
}

/// The count of a place where ones are usual.
#[derive(Debug)]
struct Usual(Prob);

impl Default for Usual {
    fn default() -> Self {
        Usual(Prob::USUAL)
    }
}

/// A block's first moment: 32 bits of seconds, from 1970 to 2106, or 64.
fn first_moment<P: Pipe>(pipe: &mut P, given: i64) -> Result<i64, BitFault> {
    let short = pipe.bit(&mut Prob::USUAL.clone(), u32::try_from(given).is_ok())?;
    // The lower half of a number of two's complement is the number itself where it is short.
    pipe.raw(if short { 32 } else { 64 }, given as u64).map(|moment| moment as i64)
}

impl Columns {
    fn new(device: DeviceId, first: u32, sheets: impl IntoIterator<Item = SheetId>) -> Columns {
        let sheets = Recent::of(sheets);
        Columns { device, next: first, sheets, devices: Devices::new(device), ..Columns::default() }
    }

    /// One entry, either way.
    fn entry<P: Pipe>(&mut self, pipe: &mut P, given: Option<&Entry>) -> Result<Entry, BitFault> {
        let stamp = self.stamp(pipe, given.map(|e| e.stamp))?;
        let tick = self.hlc.tick(stamp);
        let trust = self.clock.unwrap_or(Clock::Good);
        let usual = |e: &Entry| e.at.seq == self.next && e.hlc == tick && e.clock == trust;
        let (seq, hlc, clock) = match pipe.bit(&mut self.models.usual.0, given.is_some_and(usual))? {
            true => (self.next, tick, trust),
            false => self.unusual(pipe, given, tick, trust)?,
        };
        let at = EntryRef { device: self.device, seq };
        let person = self.person(pipe, given.map(|e| e.person))?;
        let what = self.what(pipe, at, stamp, given.map(|e| &e.what))?;
        // Behind the last count there is none that a further entry could have; it is then refused as out of order.
        self.next = seq.checked_add(1).unwrap_or(0);
        (self.hlc, self.stamp, self.clock) = (hlc, Some(stamp), Some(clock));
        Ok(Entry { at, hlc, stamp, clock, person, what })
    }

    fn stamp<P: Pipe>(&mut self, pipe: &mut P, given: Option<Stamp>) -> Result<Stamp, BitFault> {
        let given = given.map_or(0, |s| s.0);
        Ok(Stamp(match self.stamp {
            None => first_moment(pipe, given)?,
            Some(last) => last.0.wrapping_add(self.models.seconds.signed(pipe, given.wrapping_sub(last.0))?),
        }))
    }

    fn unusual<P: Pipe>(
        &mut self,
        pipe: &mut P,
        given: Option<&Entry>,
        tick: Hlc,
        trust: Clock,
    ) -> Result<(u32, Hlc, Clock), BitFault> {
        let models = &mut self.models;
        let seq = given.map_or(self.next, |e| e.at.seq);
        let seq = match pipe.bit(&mut models.in_count, seq == self.next)? {
            true => self.next,
            false => {
                let gap = models.gap.fit::<P, u32>(pipe, seq.wrapping_sub(self.next).into())?;
                self.next.checked_add(gap).ok_or(BitFault::Order)?
            }
        };
        let hlc = given.map_or(tick, |e| e.hlc);
        let hlc = match pipe.bit(&mut models.by_clock, hlc == tick)? {
            true => tick,
            false => Hlc(tick.0.wrapping_add_signed(models.ahead.signed(pipe, hlc.0.wrapping_sub(tick.0) as i64)?)),
        };
        let clock = given.map_or(trust, |e| e.clock);
        if pipe.bit(&mut models.same_trust, clock == trust)? {
            return Ok((seq, hlc, trust));
        }
        let doubted = pipe.bit(&mut models.doubted, matches!(clock, Clock::Doubted { .. }))?;
        let boot = if let Clock::Doubted { boot } = clock { boot } else { 0 };
        let clock = match doubted {
            true => Clock::Doubted { boot: models.boot.fit(pipe, boot.into())? },
            false => Clock::Good,
        };
        Ok((seq, hlc, clock))
    }

    fn person<P: Pipe>(&mut self, pipe: &mut P, given: Option<PersonId>) -> Result<PersonId, BitFault> {
        let Columns { people, models, .. } = self;
        people.pick(pipe, given, |pipe, given| Ok(PersonId(models.person.fit(pipe, given.map_or(0, |p| p.0).into())?)))
    }

    fn what<P: Pipe>(
        &mut self,
        pipe: &mut P,
        at: EntryRef,
        stamp: Stamp,
        given: Option<&What>,
    ) -> Result<What, BitFault> {
        let models = &mut self.models;
        if pipe.bit(&mut models.answered.0, matches!(given, Some(What::Answered { .. })))? {
            self.answered(pipe, at, stamp, given)
        } else if pipe.bit(&mut models.opened, matches!(given, Some(What::SheetOpened { .. })))? {
            self.opened(pipe, at, given)
        } else {
            self.other(pipe, given)
        }
    }

    fn opened<P: Pipe>(&mut self, pipe: &mut P, at: EntryRef, given: Option<&What>) -> Result<What, BitFault> {
        let (engine, sequence, pack) = match given {
            Some(What::SheetOpened { engine, sequence, pack }) => (engine.0, sequence.0, Some(*pack)),
            _ => (0, 0, None),
        };
        let engine = EngineId(self.models.engine.fit(pipe, engine.into())?);
        let sequence = SequenceId(self.models.sequence.fit(pipe, sequence.into())?);
        let pack = self.pack(pipe, pack)?;
        self.sheets.note(at);
        Ok(What::SheetOpened { engine, sequence, pack })
    }

    fn pack<P: Pipe>(&mut self, pipe: &mut P, given: Option<PackHash>) -> Result<PackHash, BitFault> {
        self.packs.pick(pipe, given, |pipe, given| {
            let mut hash = given.unwrap_or(PackHash([0; 32]));
            for byte in &mut hash.0 {
                *byte = pipe.raw(8, (*byte).into())? as u8;
            }
            Ok(hash)
        })
    }

    /// What columns do not know, as its postcard form.
    fn other<P: Pipe>(&mut self, pipe: &mut P, given: Option<&What>) -> Result<What, BitFault> {
        let mut buffer = [0; ENTRY_BYTES];
        let used = match given {
            Some(what) => postcard::to_slice(what, &mut buffer).map_err(|_| BitFault::Full)?.len(),
            None => 0,
        };
        let length: usize = self.models.length.fit(pipe, used as u64)?;
        let bytes = buffer.get_mut(..length).ok_or(BitFault::Meaningless)?;
        for byte in bytes.iter_mut() {
            *byte = pipe.raw(8, (*byte).into())? as u8;
        }
        match postcard::take_from_bytes(bytes) {
            Ok((what, [])) => Ok(what),
            _ => Err(BitFault::Meaningless),
        }
    }
}

/// Writes a run of entries.
#[derive(Debug)]
pub struct Encoder<'o> {
    columns: Columns,
    bits: Writer<'o>,
}

impl<'o> Encoder<'o> {
    /// A run of `device` to `out`, whose first entry has the count `first`; `sheets` as the block's head names them.
    pub fn new(device: DeviceId, first: u32, sheets: &[SheetId], out: &'o mut [u8]) -> Encoder<'o> {
        Encoder { columns: Columns::new(device, first, sheets.iter().copied()), bits: Writer::new(out) }
    }

    /// Adds an entry; counts rise.
    ///
    /// # Errors
    /// When it is of another device, its count does not rise, or there is no room. The run is then no use.
    pub fn put(&mut self, entry: &Entry) -> Result<(), BitFault> {
        if entry.at.device != self.columns.device {
            return Err(BitFault::Foreign);
        }
        if entry.at.seq < self.columns.next || self.columns.next == 0 {
            return Err(BitFault::Order);
        }
        self.columns.entry(&mut self.bits, Some(entry)).map(|_| ())
    }

    /// Ends the run and answers how many bytes it takes.
    ///
    /// # Errors
    /// When there is no room.
    pub fn finish(self) -> Result<usize, BitFault> {
        self.bits.finish()
    }
}

/// Writes a run of entries to `out` and answers how many bytes it takes; `sheets` as the block's head names them.
///
/// # Errors
/// As [`Encoder::put`].
pub fn write(device: DeviceId, sheets: &[SheetId], entries: &[Entry], out: &mut [u8]) -> Result<usize, BitFault> {
    let mut encoder = Encoder::new(device, entries.first().map_or(1, |e| e.at.seq), sheets, out);
    entries.iter().try_for_each(|entry| encoder.put(entry))?;
    encoder.finish()
}

/// Reads a run of `entries` entries of `device`, the first of count `first`, whose block's head names `sheets`; ends
/// behind the first error.
pub fn read(
    bytes: &[u8],
    device: DeviceId,
    first: u32,
    sheets: impl IntoIterator<Item = SheetId>,
    entries: u32,
) -> Decoder<'_> {
    Decoder { columns: Columns::new(device, first, sheets), bits: Reader::new(bytes), left: entries, ended: false }
}

/// See [`read`].
#[derive(Debug)]
pub struct Decoder<'a> {
    columns: Columns,
    bits: Reader<'a>,
    left: u32,
    ended: bool,
}

impl Decoder<'_> {
    fn one(&mut self) -> Result<Entry, BitFault> {
        if self.columns.next == 0 {
            return Err(BitFault::Order);
        }
        self.columns.entry(&mut self.bits, None)
    }
}

impl Iterator for Decoder<'_> {
    type Item = Result<Entry, BitFault>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.ended {
            return None;
        }
        let Some(left) = self.left.checked_sub(1) else {
            self.ended = true;
            return self.bits.finish().err().map(Err);
        };
        self.left = left;
        let entry = self.one();
        self.ended = entry.is_err();
        Some(entry)
    }
}
