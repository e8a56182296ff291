//! One flash memory used by several: a handle that is lent for each access, and where things stand in it.

use core::cell::RefCell;
use core::future::Future;
use core::ops::Range;
use core::pin::pin;
use core::task::{Context, Poll, Waker};

use embedded_storage_async::nor_flash::{
    ErrorType, MultiwriteNorFlash, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};

/// Waits for a memory: polls until it is ready, and one that answers at once is polled once.
pub fn wait<T>(future: impl Future<Output = T>) -> T {
    let mut future = pin!(future);
    let mut context = Context::from_waker(Waker::noop());
    loop {
        if let Poll::Ready(done) = future.as_mut().poll(&mut context) {
            return done;
        }
    }
}

/// Why a shared memory did not do what it was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SharedFault<E> {
    /// The memory's own fault.
    Flash(E),
    /// It is lent already; a fault of this program.
    Lent,
}

impl<E: NorFlashError> NorFlashError for SharedFault<E> {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            SharedFault::Flash(fault) => fault.kind(),
            SharedFault::Lent => NorFlashErrorKind::Other,
        }
    }
}

/// A handle of a flash memory that others use, too.
#[derive(Debug)]
pub struct Shared<'f, F>(pub &'f RefCell<F>);

impl<F> Clone for Shared<'_, F> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<F> Copy for Shared<'_, F> {}

impl<F: NorFlash> ErrorType for Shared<'_, F> {
    type Error = SharedFault<F::Error>;
}

impl<F: NorFlash> Shared<'_, F> {
    fn lend<R>(&self, act: impl FnOnce(&mut F) -> Result<R, F::Error>) -> Result<R, SharedFault<F::Error>> {
        let mut flash = self.0.try_borrow_mut().map_err(|_| SharedFault::Lent)?;
        act(&mut flash).map_err(SharedFault::Flash)
    }
}

impl<F: NorFlash> ReadNorFlash for Shared<'_, F> {
    const READ_SIZE: usize = F::READ_SIZE;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        self.lend(|flash| wait(flash.read(offset, bytes)))
    }

    fn capacity(&self) -> usize {
        self.0.try_borrow().map_or(0, |flash| flash.capacity())
    }
}

impl<F: NorFlash> NorFlash for Shared<'_, F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        self.lend(|flash| wait(flash.erase(from, to)))
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        self.lend(|flash| wait(flash.write(offset, bytes)))
    }
}

impl<F: MultiwriteNorFlash> MultiwriteNorFlash for Shared<'_, F> {}

/// Pages of the settings.
const SETTINGS_PAGES: u32 = 4;
/// Of what is left, so many of each eight pages hold entries, and so many blocks; the rest are two shift files.
const ENTRY_SHARE: u32 = 3;
const BLOCK_SHARE: u32 = 1;

/// Where things stand in a flash memory, in bytes from its start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Places {
    /// Identity, what is trusted, wrong tries, which shift file holds.
    pub settings: Range<u32>,
    /// Entries.
    pub entries: Range<u32>,
    /// Sealed blocks that no office is known to have.
    pub blocks: Range<u32>,
    /// Two shift files: the one that holds, and the one that comes in.
    pub shifts: [Range<u32>; 2],
}

impl Places {
    /// The places in a memory of `pages` pages of `page` bytes; `None` below 20 pages.
    pub fn of(pages: u32, page: u32) -> Option<Places> {
        let left = pages.checked_sub(SETTINGS_PAGES).filter(|left| *left >= 16)?;
        let mut at = 0;
        let mut take = |count: u32| {
            let start = at * page;
            at += count;
            start..at * page
        };
        let (settings, entries) = (take(SETTINGS_PAGES), take(left * ENTRY_SHARE / 8));
        let blocks = take(left * BLOCK_SHARE / 8);
        let shift = (left - left * ENTRY_SHARE / 8 - left * BLOCK_SHARE / 8) / 2;
        Some(Places { settings, entries, blocks, shifts: [take(shift), take(shift)] })
    }

    /// The places in this memory; `None` where it is too small.
    pub fn in_flash<F: NorFlash>(flash: &F) -> Option<Places> {
        let page = u32::try_from(F::ERASE_SIZE).ok()?;
        let capacity = u32::try_from(flash.capacity()).ok()?;
        Places::of(capacity.checked_div(page)?, page)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_lie_one_behind_the_other_and_inside() {
        assert_eq!(Places::of(19, 4_096), None);
        for pages in [20, 64, 255, 256, 4_096] {
            let Places { settings, entries, blocks, shifts: [a, b] } = Places::of(pages, 4_096).unwrap();
            let all = [settings, entries, blocks, a, b];
            assert!(all.iter().all(|place| place.start < place.end && place.start % 4_096 == 0));
            assert!(all.is_sorted_by(|before, behind| before.end == behind.start));
            assert!(all[4].end <= pages * 4_096);
        }
    }
}
