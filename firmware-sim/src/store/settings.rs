//! Small things that a handheld knows by name: who it is, whom it trusts, what holds. Each is written as a whole and is
//! after a power cut the old one or the new one.

use core::cell::RefCell;
use core::ops::Range;

use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use offshed_core::ident::{DeviceId, DeviceKey, PersonId};
use offshed_core::record::head::Hash;
use offshed_core::record::shift::HEAD;
use offshed_core::stamp::Stamp;
use sequential_storage::cache::Cache;
use sequential_storage::map::{MapConfig, MapStorage};

use super::Fault;
use super::nor::{Shared, wait};

/// Bytes of the longest setting with its key, in whole words.
const BUFFER: usize = 320;

/// Numbers of settings; a person's wrong tries stand at this number and theirs.
const IDENTITY: u32 = 1;
const TRUSTED: u32 = 2;
const SHIFT: u32 = 3;
const TIP: u32 = 4;
const GIVEN: u32 = 5;
const TRIES: u32 = 0x1_0000;

/// Who a handheld is: its device id, and the secret half of its key.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Identity {
    /// The device.
    pub device: DeviceId,
    /// The secret (RFC 8032, section 5.1.5).
    pub seed: [u8; 32],
}

/// How far own entries went out of the memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Tip {
    /// The count of the last one.
    pub(super) last: u32,
    /// The number of the next block behind them.
    pub(super) number: u32,
    /// The hash it follows.
    pub(super) previous: Hash,
}

/// Which of the two shift files holds, and its head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Holds {
    /// 0 or 1.
    pub(super) slot: u8,
    /// Its head's bytes.
    pub(super) head: [u8; HEAD],
}

/// Wrong tries of a person in a row, and when the last one was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Wrong {
    pub(super) wrong: u32,
    pub(super) last: Stamp,
}

/// The settings on a flash memory.
pub(super) struct Settings<'f, F> {
    flash: &'f RefCell<F>,
    place: Range<u32>,
}

/// Takes `N` bytes from the front.
fn take<'a, const N: usize>(bytes: &mut &'a [u8]) -> Option<&'a [u8; N]> {
    let (taken, rest) = bytes.split_first_chunk::<N>()?;
    *bytes = rest;
    Some(taken)
}

/// Puts parts one behind the other; every setting has room.
fn put<const N: usize>(parts: &[&[u8]]) -> heapless::Vec<u8, N> {
    let mut out = heapless::Vec::new();
    for part in parts {
        // A setting that had no room would be refused when it is read.
        let _ = out.extend_from_slice(part);
    }
    out
}

impl<'f, F: MultiwriteNorFlash> Settings<'f, F> {
    pub(super) fn new(flash: &'f RefCell<F>, place: Range<u32>) -> Settings<'f, F> {
        Settings { flash, place }
    }

    fn map(&self) -> Result<MapStorage<u32, Shared<'f, F>, impl sequential_storage::cache::CacheImpl<u32>>, Fault> {
        let config = MapConfig::try_new(self.place.clone()).map_err(|_| Fault::TooSmall)?;
        Ok(MapStorage::new(Shared(self.flash), config, Cache::new_uncached()))
    }

    fn get<R>(&self, key: u32, read: impl FnOnce(&[u8]) -> Option<R>) -> Result<Option<R>, Fault> {
        let mut buffer = [0; BUFFER];
        let mut map = self.map()?;
        let found: Option<&[u8]> = wait(map.fetch_item(&mut buffer, &key)).map_err(|fault| Fault::of(&fault))?;
        // A setting of another length is none: its check was right, so it was never ours.
        Ok(found.and_then(read))
    }

    fn set(&self, key: u32, value: &[u8]) -> Result<(), Fault> {
        let mut buffer = [0; BUFFER];
        wait(self.map()?.store_item(&mut buffer, &key, &value)).map_err(|fault| Fault::of(&fault))
    }

    pub(super) fn identity(&self) -> Result<Option<Identity>, Fault> {
        self.get(IDENTITY, |mut bytes| {
            Some(Identity { device: DeviceId(*take(&mut bytes)?), seed: *take(&mut bytes)? })
        })
    }

    pub(super) fn set_identity(&self, identity: &Identity) -> Result<(), Fault> {
        self.set(IDENTITY, &put::<40>(&[&identity.device.0, &identity.seed]))
    }

    /// The key that shift files are signed with.
    pub(super) fn trusted(&self) -> Result<Option<DeviceKey>, Fault> {
        self.get(TRUSTED, |mut bytes| Some(DeviceKey(*take(&mut bytes)?)))
    }

    pub(super) fn set_trusted(&self, key: DeviceKey) -> Result<(), Fault> {
        self.set(TRUSTED, &key.0)
    }

    pub(super) fn holds(&self) -> Result<Option<Holds>, Fault> {
        self.get(SHIFT, |mut bytes| {
            let [slot] = *take(&mut bytes)?;
            Some(Holds { slot, head: *take(&mut bytes)? })
        })
    }

    pub(super) fn set_holds(&self, holds: &Holds) -> Result<(), Fault> {
        self.set(SHIFT, &put::<{ HEAD + 1 }>(&[&[holds.slot], &holds.head]))
    }

    pub(super) fn tip(&self) -> Result<Option<Tip>, Fault> {
        self.get(TIP, |mut bytes| {
            let last = u32::from_le_bytes(*take(&mut bytes)?);
            Some(Tip { last, number: u32::from_le_bytes(*take(&mut bytes)?), previous: *take(&mut bytes)? })
        })
    }

    pub(super) fn set_tip(&self, tip: &Tip) -> Result<(), Fault> {
        self.set(TIP, &put::<40>(&[&tip.last.to_le_bytes(), &tip.number.to_le_bytes(), &tip.previous]))
    }

    /// The count of the last own entry that was read back from a card.
    pub(super) fn given(&self) -> Result<u32, Fault> {
        self.get(GIVEN, |mut bytes| Some(u32::from_le_bytes(*take(&mut bytes)?))).map(Option::unwrap_or_default)
    }

    pub(super) fn set_given(&self, last: u32) -> Result<(), Fault> {
        self.set(GIVEN, &last.to_le_bytes())
    }

    pub(super) fn wrong(&self, person: PersonId) -> Result<Option<Wrong>, Fault> {
        let found = self.get(TRIES + u32::from(person.0), |mut bytes| {
            let wrong = u32::from_le_bytes(*take(&mut bytes)?);
            Some(Wrong { wrong, last: Stamp(i64::from_le_bytes(*take(&mut bytes)?)) })
        })?;
        Ok(found.filter(|tries| tries.wrong > 0))
    }

    pub(super) fn set_wrong(&self, person: PersonId, tries: Wrong) -> Result<(), Fault> {
        let value = put::<12>(&[&tries.wrong.to_le_bytes(), &tries.last.0.to_le_bytes()]);
        self.set(TRIES + u32::from(person.0), &value)
    }
}
