//! What a handheld keeps on flash memory: its entries, its sealed blocks, the shift file, PINs' wrong tries, its identity.
//!
//! ```text
//! nor        one memory used by several, and where things stand in it
//! settings   small things by name
//! own        own entries and own blocks
//! seal       entries become a signed block
//! slot       a shift file
//! pins       PINs
//! ```
//!
//! An entry is durable when it is answered, and nothing is begun that there is no room for. A power cut leaves the last
//! entry whole or not at all; whether it is there is read from the memory at the next start. Nothing is forgotten before
//! it was read back from a card and an office said that it has it.

pub mod nor;
mod own;
mod pins;
mod seal;
mod settings;
mod slot;

pub use pins::FlashPins;
pub use settings::Identity;
pub use slot::Slot;

use core::cell::{Cell, RefCell};

use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use offshed_core::desk::Store;
use offshed_core::entry::{Answer, Entry, What};
use offshed_core::ident::{DeviceId, DeviceKey, EngineId, EntryRef};
use offshed_core::record::block::Place;
use offshed_core::record::card;
use offshed_core::record::head::{self, BlockHead, Touch, touch};
use offshed_core::record::seal::Signer;
use offshed_core::record::shift::{DoubtRow, Part, ShiftHead, SteamRow};
use offshed_core::stamp::{Day, Hlc, Stamp};

use crate::card::give::{Blocks, give};
use crate::card::report::{CardReport, Taken};
use crate::card::shift::{self as shifts, ShiftRefused, rows};
use crate::card::{Bytes, Card};
use crate::hand::{Records, Unstored};
use nor::Places;
use own::{BlockQueue, Entries};
use seal::{Item, SealFault};
use settings::{Holds, Settings, Tip};
use slot::CopyFault;

/// Bytes of a page that no item takes: the page's own marks and an item's head, in the widest words.
const PAGE_MARKS: usize = 96;

/// Why the memory did not do what it was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// It failed, or what stands on it can't be put right.
    Flash,
    /// There is no room. Nothing was begun.
    Full,
    /// It is smaller than a handheld needs.
    TooSmall,
    /// Something is longer than any item; a fault of this program.
    TooLong,
}

impl Fault {
    fn of<E>(error: &sequential_storage::Error<E>) -> Fault {
        match error {
            sequential_storage::Error::FullStorage => Fault::Full,
            sequential_storage::Error::ItemTooBig => Fault::TooLong,
            _ => Fault::Flash,
        }
    }
}

/// Why a memory is not opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MountFault {
    /// No handheld was ever set up on it.
    Blank,
    /// It failed, or is too small.
    Memory(Fault),
}

impl From<Fault> for MountFault {
    fn from(fault: Fault) -> MountFault {
        MountFault::Memory(fault)
    }
}

/// A handheld's memory.
pub struct NorStore<'f, F> {
    flash: &'f RefCell<F>,
    places: Places,
    device: DeviceId,
    signer: Signer,
    entries: Entries<'f, F>,
    blocks: BlockQueue<'f, F>,
    shift: Option<Slot<'f, F>>,
    /// Behind the last own block.
    tip: Tip,
    /// The count of the last own entry.
    last: u32,
    /// The highest clock among all entries.
    clock: Hlc,
    /// The count of the last own entry that is told by the shift file, not from here.
    told: u32,
    /// Own entries whose counts are missing.
    missing: bool,
    /// Something could not be read since this was opened.
    unread: Cell<bool>,
    /// Why nothing more is written.
    stuck: Option<Unstored>,
}

/// Sets up a handheld on a memory that holds none: who it is from now on.
///
/// # Errors
/// When the memory fails or is too small.
pub fn provision<F: MultiwriteNorFlash>(flash: &RefCell<F>, identity: &Identity) -> Result<(), Fault> {
    let places = places(flash)?;
    let end = places.shifts.iter().map(|place| place.end).max().unwrap_or(0);
    nor::wait(embedded_storage_async::nor_flash::NorFlash::erase(&mut nor::Shared(flash), 0, end))
        .map_err(|_| Fault::Flash)?;
    Settings::new(flash, places.settings).set_identity(identity)
}

fn places<F: MultiwriteNorFlash>(flash: &RefCell<F>) -> Result<Places, Fault> {
    flash.try_borrow().ok().and_then(|flash| Places::in_flash(&*flash)).ok_or(Fault::TooSmall)
}

impl<'f, F: MultiwriteNorFlash> NorStore<'f, F> {
    /// Opens a memory, and puts right what an interruption left.
    ///
    /// # Errors
    /// When no handheld is set up on it, or it fails.
    pub fn mount(flash: &'f RefCell<F>) -> Result<NorStore<'f, F>, MountFault> {
        let places = places(flash)?;
        let settings = Settings::new(flash, places.settings.clone());
        let Identity { device, seed } = settings.identity()?.ok_or(MountFault::Blank)?;
        let root = Tip { last: 0, number: 0, previous: head::root(device) };
        let mut store = NorStore {
            flash,
            device,
            signer: Signer::from_seed(&seed),
            entries: Entries::new(flash, places.entries.clone(), device),
            blocks: BlockQueue::new(flash, places.blocks.clone()),
            shift: None,
            tip: settings.tip()?.unwrap_or(root),
            last: 0,
            clock: Hlc::default(),
            told: 0,
            missing: false,
            unread: Cell::new(false),
            stuck: None,
            places,
        };
        store.shift = store.slot(settings.holds()?);
        store.read_all()?;
        Ok(store)
    }

    fn settings(&self) -> Settings<'f, F> {
        Settings::new(self.flash, self.places.settings.clone())
    }

    fn slot(&self, holds: Option<Holds>) -> Option<Slot<'f, F>> {
        let Holds { slot, head } = holds?;
        let place = self.places.shifts.get(usize::from(slot))?.clone();
        Some(Slot::new(self.flash, place, ShiftHead::read(&head).ok()?))
    }

    /// Finds the ends of entries and blocks, and the highest clock.
    fn read_all(&mut self) -> Result<(), Fault> {
        let out = self.settings().tip()?.unwrap_or_default().last;
        let mut tip = self.tip;
        self.blocks.each(|block| {
            // Blocks that went out of the memory may still stand at its beginning.
            if let Some((number, last, hash)) = told(block).filter(|(number, ..)| *number >= tip.number) {
                tip = Tip { last, number: number.saturating_add(1), previous: hash };
            }
            true
        })?;
        self.tip = tip;
        let (mut last, mut clock, mut missing) = (out, Hlc::default(), false);
        self.entries.each(|entry| {
            // Entries that went out of the memory may still stand at its beginning.
            missing |= entry.at.seq > last.saturating_add(1);
            last = last.max(entry.at.seq);
            clock = clock.seen(entry.hlc);
            true
        })?;
        missing |= tip.last > last;
        (self.last, self.missing) = (last.max(tip.last), missing);
        if let Some(slot) = &self.shift {
            let mut entries = shifts::Entries::new(slot, slot.head());
            entries.by_ref().for_each(|entry| clock = clock.seen(entry.hlc));
            self.unread.set(self.unread.get() || entries.left() > 0);
        }
        self.clock = clock;
        self.look_at_seen();
        Ok(())
    }

    /// What the office says it has of this device.
    fn look_at_seen(&mut self) {
        let row = self.shift.as_ref().and_then(|slot| shifts::seen(slot, slot.head(), self.device));
        self.told = row.map_or(0, |row| row.last);
        if self.told > self.last {
            self.stuck = Some(Unstored::Behind);
        }
    }

    /// The device.
    pub fn device(&self) -> DeviceId {
        self.device
    }

    /// The public half of its key, for the office to confirm.
    pub fn key(&self) -> DeviceKey {
        self.signer.key()
    }

    /// The count of its last entry, for a desk to go on from.
    pub fn last(&self) -> u32 {
        self.last
    }

    /// The highest clock among all entries, for a desk to go on from.
    pub fn clock(&self) -> Hlc {
        self.clock
    }

    /// The shift file that holds.
    pub fn shift(&self) -> Option<&Slot<'f, F>> {
        self.shift.as_ref()
    }

    /// The key that shift files are signed with; `None` before the first.
    ///
    /// # Errors
    /// When the memory fails.
    pub fn trusted(&self) -> Result<Option<DeviceKey>, Fault> {
        self.settings().trusted()
    }

    /// PINs of the shift file that holds.
    pub fn pins(&self) -> FlashPins<'f, F> {
        FlashPins::new(self.flash, &self.places, self.shift.clone())
    }

    /// Whether an own entry is in a sealed block.
    pub fn is_sealed(&self, seq: u32) -> bool {
        seq <= self.tip.last
    }

    /// Seals what is not sealed, in as many blocks as it takes; how many entries.
    ///
    /// # Errors
    /// When there is no room or the memory fails. What was not sealed is still among the entries.
    pub fn seal(&mut self) -> Result<u32, Fault> {
        let mut sealed = 0;
        while self.tip.last < self.last {
            let Some(mut item) = self.next_block()? else { break };
            self.blocks.push(item.with_room())?;
            sealed += item.last - self.tip.last;
            self.tip = Tip { last: item.last, number: self.tip.number.saturating_add(1), previous: item.hash };
        }
        Ok(sealed)
    }

    fn next_block(&self) -> Result<Option<Item>, Fault> {
        let Tip { last, number, previous } = self.tip;
        let place = Place { device: self.device, number, previous };
        let walk = |show: &mut dyn FnMut(&Entry) -> bool| {
            self.entries.each(|entry| entry.at.seq <= last || show(&entry)).is_ok()
        };
        let mut known: heapless::Vec<(EntryRef, Option<EngineId>), 8> = heapless::Vec::new();
        let engine_of = |at: EntryRef| {
            if let Some((_, engine)) = known.iter().find(|(opened, _)| *opened == at) {
                return *engine;
            }
            let engine = self.engine_of(at, 1);
            if known.is_full() {
                known.clear();
            }
            let _ = known.push((at, engine));
            engine
        };
        let room = F::ERASE_SIZE.saturating_sub(PAGE_MARKS);
        match seal::seal(place, &self.signer, room, walk, engine_of) {
            Ok(item) => Ok(Some(item)),
            Err(SealFault::Nothing) => Ok(None),
            Err(SealFault::Bits(_)) => Err(Fault::TooLong),
            Err(SealFault::Unread) => Err(Fault::Flash),
        }
    }

    /// The engine of a sheet or a defect, by the entry that opened it.
    fn engine_of(&self, at: EntryRef, deeper: u8) -> Option<EngineId> {
        let mut found = Touch::Nothing;
        let mut answered = false;
        Records::find(self, at, &mut |entry| {
            (found, answered) = (touch(&entry.what), matches!(entry.what, What::Answered { .. }));
        });
        match found {
            Touch::Engine(engine) => Some(engine),
            Touch::Of(opened) if answered && deeper > 0 => self.engine_of(opened, deeper - 1),
            _ => None,
        }
    }

    /// Gives the own book to a card, takes its shift file in, and forgets what the office has.
    ///
    /// It may be interrupted anywhere and done again. `first` says whether a key that was never trusted may be: nobody's
    /// was, and a person compared it.
    pub fn exchange<C: Card>(&mut self, card: &mut C, first: Option<DeviceKey>) -> CardReport {
        // What finds no room in a block is still among the entries, and goes out the next time.
        let _ = self.seal();
        let given = give(&*self, card);
        if let Ok(given) = &given
            && let Some((last, _)) = given.last
        {
            // Where it can't be noted, nothing is forgotten.
            let _ = self.settings().set_given(last);
        }
        let taken = self.take_shift(card, first);
        let freed = self.forget().unwrap_or(0);
        CardReport { given: given.map(|given| given.entries), taken, freed }
    }

    fn take_shift<C: Card>(&mut self, card: &mut C, first: Option<DeviceKey>) -> Result<Taken, ShiftRefused> {
        if !card.has_dir(card::FOLDER)? {
            return Err(ShiftRefused::None);
        }
        let (path, new) = shifts::on_card(card)?;
        self.trusts(&new, first)?;
        let current = self.shift.as_ref().map(|slot| *slot.head());
        if let Some(current) = current {
            if current == new {
                return Ok(Taken::Same);
            }
            if new.stated < current.stated {
                return Err(ShiftRefused::Older(new.stated));
            }
            if new.pack != current.pack && self.last > self.told_by(card, path, &new)? {
                return Err(ShiftRefused::OtherPack);
            }
        }
        if self.told_by(card, path, &new)? > self.last {
            return Err(ShiftRefused::Behind);
        }
        self.put_shift(card, path, new)
    }

    /// Whether a shift file's key is one that this device trusts.
    fn trusts(&self, new: &ShiftHead, first: Option<DeviceKey>) -> Result<(), ShiftRefused> {
        let trusted = self.settings().trusted().map_err(|_| ShiftRefused::NotStored)?;
        let stated = self.stated_key(new.device);
        let good = match trusted {
            None => first.is_none_or(|key| key == new.key),
            Some(key) => key == new.key || stated == Some(new.key),
        };
        good.then_some(()).ok_or(ShiftRefused::Untrusted(new.key))
    }

    /// The key of a device as the shift file that holds states it; `None` where it is withdrawn.
    fn stated_key(&self, of: DeviceId) -> Option<DeviceKey> {
        use offshed_core::entry::Fact;
        let slot = self.shift.as_ref()?;
        let mut stated = None;
        for entry in shifts::Entries::new(slot, slot.head()) {
            if let What::Registered(Fact::DeviceKey { device, key, until }) = entry.what
                && device == of
            {
                stated = until.is_none().then_some(key);
            }
        }
        stated
    }

    /// The count up to which a file on a card says that the office has this device's entries.
    fn told_by<C: Card>(&self, card: &mut C, path: &str, new: &ShiftHead) -> Result<u32, ShiftRefused> {
        let path = card::CardPath::try_from(path).map_err(|_| ShiftRefused::None)?;
        let file = OnCard { card: RefCell::new(card), path };
        Ok(shifts::seen(&file, new, self.device).map_or(0, |row| row.last))
    }

    fn put_shift<C: Card>(&mut self, card: &mut C, path: &str, new: ShiftHead) -> Result<Taken, ShiftRefused> {
        let holds = self.settings().holds().map_err(|_| ShiftRefused::NotStored)?;
        let first = self.settings().trusted().map_err(|_| ShiftRefused::NotStored)?.is_none();
        let slot = holds.map_or(0, |holds| 1 - holds.slot.min(1));
        let place = self.places.shifts.get(usize::from(slot)).ok_or(ShiftRefused::NotStored)?.clone();
        let room = place.end - place.start;
        if new.len() > room {
            return Err(ShiftRefused::TooLong { bytes: new.len(), room });
        }
        let file = Slot::new(self.flash, place, new);
        file.copy(card, path).map_err(|fault| match fault {
            CopyFault::Card(fault) => ShiftRefused::Card(fault),
            CopyFault::Flash => ShiftRefused::NotStored,
        })?;
        let mut head = [0; offshed_core::record::shift::HEAD];
        let same = file.read(0, &mut head) && ShiftHead::read(&head) == Ok(new);
        if !same || !file.is_whole() {
            return Err(ShiftRefused::NotStored);
        }
        self.settings().set_trusted(new.key).map_err(|_| ShiftRefused::NotStored)?;
        self.settings().set_holds(&Holds { slot, head }).map_err(|_| ShiftRefused::NotStored)?;
        self.shift = Some(file);
        self.read_all().map_err(|_| ShiftRefused::NotStored)?;
        Ok(if first { Taken::First { key: new.key } } else { Taken::New { entries: new.entries } })
    }

    /// Forgets own entries that a card was read back with, that the office says it has, and whose block it names; how
    /// many.
    fn forget(&mut self) -> Result<u32, Fault> {
        let Some(slot) = &self.shift else { return Ok(0) };
        let Some(row) = shifts::seen(slot, slot.head(), self.device) else { return Ok(0) };
        let given = self.settings().given()?;
        let mut to = None;
        self.blocks.each(|block| {
            if let Some((number, last, hash)) = told(block)
                && hash == row.block
                && last <= row.last.min(given)
            {
                to = Some(Tip { last, number: number.saturating_add(1), previous: hash });
            }
            true
        })?;
        let Some(to) = to else { return Ok(0) };
        // Noted first: what is dropped afterwards, or not, is no longer counted on.
        self.settings().set_tip(&to)?;
        let dropped = self.entries.drop_to(to.last)?;
        self.blocks.drop_while(|block| told(block).is_none_or(|(number, ..)| number < to.number))?;
        Ok(dropped)
    }
}

/// Number, last count and hash of a block.
fn told(block: &[u8]) -> Option<(u32, u32, head::Hash)> {
    use sha2::{Digest, Sha256};
    let (head, signed) = BlockHead::read(block)?;
    Some((head.number, head.last(), Sha256::digest(block.get(..signed)?).into()))
}

/// A file on a card that is lent for a while.
struct OnCard<'c, C> {
    card: RefCell<&'c mut C>,
    path: card::CardPath,
}

impl<C: Card> Bytes for OnCard<'_, C> {
    fn read(&self, at: u32, out: &mut [u8]) -> bool {
        self.card.try_borrow_mut().is_ok_and(|mut card| card.read(&self.path, at, out).is_ok())
    }
}

impl<F: MultiwriteNorFlash> Store for NorStore<'_, F> {
    type Error = Unstored;

    /// Makes an entry durable; a signature and a review seal all that is not sealed, where there is room for that.
    fn append(&mut self, entry: &Entry, bytes: &[u8]) -> Result<(), Unstored> {
        if let Some(stuck) = self.stuck {
            return Err(stuck);
        }
        if entry.at != (EntryRef { device: self.device, seq: self.last.saturating_add(1) }) {
            return Err(Unstored::Failed);
        }
        match self.entries.push(bytes) {
            Ok(()) => {}
            Err(Fault::Full) => return Err(Unstored::Full),
            // It may stand there all the same: the count is not used again before the memory was read anew.
            Err(_) => {
                self.stuck = Some(Unstored::Failed);
                return Err(Unstored::Failed);
            }
        }
        (self.last, self.clock) = (entry.at.seq, self.clock.seen(entry.hlc));
        let seals =
            matches!(&entry.what, What::Answered { answer: Answer::Signed { .. } | Answer::Reviewed { .. }, .. });
        if seals {
            // The entry is durable; what could not be sealed now is sealed with the next.
            let _ = self.seal();
        }
        Ok(())
    }
}

impl<F: MultiwriteNorFlash> Records for NorStore<'_, F> {
    fn each(&self, show: &mut dyn FnMut(&Entry)) {
        let mut theirs = self.shift.as_ref().map(|slot| shifts::Entries::new(slot, slot.head()));
        let mut next = theirs.as_mut().and_then(Iterator::next);
        let read = self.entries.each(|own| {
            if own.at.seq <= self.told {
                return true;
            }
            while let Some(before) = next.take_if(|entry| entry.order() < own.order()) {
                show(&before);
                next = theirs.as_mut().and_then(Iterator::next);
            }
            show(&own);
            true
        });
        while let Some(entry) = next {
            show(&entry);
            next = theirs.as_mut().and_then(Iterator::next);
        }
        let lost = read.is_err() || theirs.is_some_and(|entries| entries.left() > 0);
        self.unread.set(self.unread.get() || lost);
    }

    fn judged(&self) -> Option<(Stamp, DeviceId)> {
        self.shift.as_ref().map(|slot| (slot.head().stated, slot.head().device))
    }

    fn steam(&self, engine: EngineId, show: &mut dyn FnMut(Day, Day)) {
        let Some(slot) = &self.shift else { return };
        let read = rows(slot, slot.head(), Part::Steam, |row| {
            if let Some(run) = SteamRow::read(row).filter(|run| run.engine == engine && run.days > 0) {
                show(run.first, run.last());
            }
        });
        self.unread.set(self.unread.get() || !read);
    }

    fn doubt(&self, engine: EngineId) -> Option<Option<DeviceId>> {
        let mut doubt = (self.missing || self.stuck == Some(Unstored::Behind)).then_some(Some(self.device));
        if let Some(slot) = &self.shift {
            let read = rows(slot, slot.head(), Part::Doubts, |row| {
                if let Some(row) = DoubtRow::read(row).filter(|row| row.engine.is_none_or(|about| about == engine)) {
                    doubt = Some(row.device);
                }
            });
            self.unread.set(self.unread.get() || !read);
        }
        doubt.or(self.unread.get().then_some(None))
    }
}

impl<F: MultiwriteNorFlash> Blocks for NorStore<'_, F> {
    fn device(&self) -> DeviceId {
        self.device
    }

    fn each_block(&self, show: &mut dyn FnMut(&[u8]) -> bool) -> bool {
        self.blocks.each(show).is_ok()
    }
}
