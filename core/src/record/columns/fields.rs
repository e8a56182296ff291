//! Columns of small parts: what was named lately, references to entries, texts and readings.

use heapless::String;

use super::*;
use crate::units::{Reading, Unit};

/// Things named so far in a block, the first `N` of them by their place; and the last one.
#[derive(Debug)]
pub(super) struct Recent<T, const N: usize> {
    known: Vec<T, N>,
    last: Option<T>,
    same: Prob,
    place: Number,
}

impl<T, const N: usize> Default for Recent<T, N> {
    fn default() -> Self {
        Recent { known: Vec::new(), last: None, same: Prob::USUAL, place: Number::default() }
    }
}

impl<T: Copy + PartialEq, const N: usize> Recent<T, N> {
    /// The last one again, or another by its place from 1, or 0 and a new one, which `new` writes or reads.
    pub(super) fn pick<P: Pipe>(
        &mut self,
        pipe: &mut P,
        given: Option<T>,
        new: impl FnOnce(&mut P, Option<T>) -> Result<T, BitFault>,
    ) -> Result<T, BitFault> {
        if let Some(last) = self.last
            && pipe.bit(&mut self.same, given == Some(last))?
        {
            return Ok(last);
        }
        let place = self.known.iter().position(|known| Some(*known) == given).map_or(0, |at| at as u64 + 1);
        // A block's first has nothing to choose from.
        let place = if self.known.is_empty() { 0 } else { self.place.fit::<P, usize>(pipe, place)? };
        let found = match place.checked_sub(1) {
            Some(at) => *self.known.get(at).ok_or(BitFault::Meaningless)?,
            None => new(pipe, given)?,
        };
        self.note(found);
        Ok(found)
    }

    /// Things named beforehand, of which the first counts as the last.
    pub(super) fn of(named: impl IntoIterator<Item = T>) -> Recent<T, N> {
        let mut recent = Recent::default();
        named.into_iter().for_each(|one| recent.note(one));
        recent.last = recent.known.first().copied();
        recent
    }

    /// It was named.
    pub(super) fn note(&mut self, named: T) {
        self.last = Some(named);
        if !self.known.contains(&named) {
            // Beyond the first `N` each is written out whenever it is not the last.
            let _ = self.known.push(named);
        }
    }

    /// The last one named.
    pub(super) fn last(&self) -> Option<T> {
        self.last
    }
}

/// Devices named so far; the own one first.
#[derive(Debug, Default)]
pub(super) struct Devices(Recent<DeviceId, 8>);

impl Devices {
    pub(super) fn new(own: DeviceId) -> Devices {
        let mut devices = Recent::default();
        devices.note(own);
        Devices(devices)
    }

    fn pick<P: Pipe>(&mut self, pipe: &mut P, given: Option<DeviceId>) -> Result<DeviceId, BitFault> {
        self.0.pick(pipe, given, |pipe, given| {
            let given = u64::from_be_bytes(given.map_or([0; 8], |device| device.0));
            Ok(DeviceId(pipe.raw(64, given)?.to_be_bytes()))
        })
    }
}

/// The counts of one column of references.
#[derive(Debug, Default)]
pub(super) struct Refs {
    back: Number,
    other: Number,
}

impl Refs {
    /// A reference from the entry `at`: the device; the own one's count by how far back it is, another's as it is.
    pub(super) fn pick<P: Pipe>(
        &mut self,
        pipe: &mut P,
        devices: &mut Devices,
        at: EntryRef,
        given: Option<EntryRef>,
    ) -> Result<EntryRef, BitFault> {
        let device = devices.pick(pipe, given.map(|r| r.device).or(Some(at.device)))?;
        let seq = given.map_or(0, |r| r.seq);
        let seq = if device == at.device {
            at.seq.wrapping_sub(self.back.fit(pipe, at.seq.wrapping_sub(seq).into())?)
        } else {
            self.other.fit(pipe, seq.into())?
        };
        Ok(EntryRef { device, seq })
    }
}

/// The signs that take six bits: figures, capitals, small letters, the space and the hyphen, in this order.
const SIGNS: &[u8; 64] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz -";

/// The counts of a column of texts.
#[derive(Debug, Default)]
pub(super) struct Texts {
    length: Number,
    plain: Prob,
}

impl Texts {
    /// A text: its bytes, and each as one of 64 signs where all are.
    pub(super) fn pick<P: Pipe, const N: usize>(
        &mut self,
        pipe: &mut P,
        given: Option<&str>,
    ) -> Result<String<N>, BitFault> {
        let given = given.unwrap_or_default().as_bytes();
        let place = |byte: u8| SIGNS.iter().position(|sign| *sign == byte);
        let length: usize = self.length.fit(pipe, given.len() as u64)?;
        if length > N {
            return Err(BitFault::Meaningless);
        }
        let plain = length > 0 && pipe.bit(&mut self.plain, given.iter().all(|byte| place(*byte).is_some()))?;
        let mut bytes: Vec<u8, N> = Vec::new();
        for at in 0..length {
            let byte = given.get(at).copied().unwrap_or_default();
            let byte = if plain {
                let sign = pipe.raw(6, place(byte).unwrap_or(0) as u64)?;
                *SIGNS.get(sign as usize).ok_or(BitFault::Meaningless)?
            } else {
                pipe.raw(8, byte.into())? as u8
            };
            bytes.push(byte).map_err(|_| BitFault::Meaningless)?;
        }
        String::from_utf8(bytes).map_err(|_| BitFault::Meaningless)
    }
}

/// How coarse a reading can be, thousandths.
const COARSE: [i32; 6] = [5_000, 1_000, 500, 100, 10, 1];

/// Readings: the unit, how coarse the value is, and its difference from the last one in that unit.
#[derive(Debug, Default)]
pub(super) struct Readings {
    units: Recent<Unit, 8>,
    last: Vec<Reading, 8>,
    coarse: Kind<3, 8>,
    value: Number,
}

impl Readings {
    pub(super) fn pick<P: Pipe>(&mut self, pipe: &mut P, given: Option<Reading>) -> Result<Reading, BitFault> {
        let unit = self.units.pick(pipe, given.map(|r| r.unit), |pipe, given| {
            let number = pipe.raw(8, given.map_or(0, |unit| unit as u64))?;
            Unit::from_number(number as u8).ok_or(BitFault::Meaningless)
        })?;
        let given = given.map_or(0, |r| r.milli);
        let coarse = COARSE.iter().position(|step| given % step == 0).unwrap_or_default();
        let coarse = self.coarse.pick(pipe, coarse as u8)?;
        let step = *COARSE.get(usize::from(coarse)).ok_or(BitFault::Meaningless)?;
        let before = self.last.iter().find(|r| r.unit == unit).map_or(0, |r| r.milli) / step;
        let more = self.value.signed(pipe, i64::from(given / step) - i64::from(before))?;
        let value = more.checked_add(before.into()).and_then(|value| value.checked_mul(step.into()));
        let milli = value.and_then(|value| i32::try_from(value).ok()).ok_or(BitFault::Meaningless)?;
        let reading = Reading { milli, unit };
        match self.last.iter_mut().find(|r| r.unit == unit) {
            Some(last) => *last = reading,
            // Units beyond the first eight are told from nothing each time.
            None => drop(self.last.push(reading)),
        }
        Ok(reading)
    }

    pub(super) fn option<P: Pipe>(
        &mut self,
        pipe: &mut P,
        there: &mut Prob,
        given: Option<Reading>,
    ) -> Result<Option<Reading>, BitFault> {
        if pipe.bit(there, given.is_some())? { self.pick(pipe, given).map(Some) } else { Ok(None) }
    }
}
