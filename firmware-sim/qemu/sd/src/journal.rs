//! The card as a journal: what came in and what was written here, in the merged order.

use core::cell::Cell;

use offshed_core::desk::Store;
use offshed_core::entry::{Answer, Entry, What};
use offshed_core::ident::{DeviceId, PackHash};
use offshed_core::stamp::Hlc;
use offshed_handheld::hand::Records;

use crate::disk::Sectors;
use crate::fault::CardFault;
use crate::intake::{Frames, Intake};
use crate::log::{Log, Walk};

/// A card that was looked at: what came in, and the log.
#[derive(Debug)]
pub struct Card<D> {
    device: D,
    own: DeviceId,
    intake: Intake,
    log: Log<D>,
    /// The highest count of this device among what came in.
    came: u32,
    /// The highest count of this device, and the highest clock of all.
    last: (u32, Hlc),
    /// Somebody signed since the log was last sealed.
    signed: Cell<bool>,
    fault: Cell<Option<CardFault>>,
}

impl<D: Sectors> Card<D> {
    /// Looks at a card, for the device `own` that holds the pack `pack`.
    ///
    /// # Errors
    /// When a file is not there, damaged, or for another pack, or the card does not answer.
    pub fn open(device: D, own: DeviceId, pack: PackHash) -> Result<Card<D>, CardFault> {
        let intake = Intake::open(device)?;
        if intake.head().pack != pack {
            return Err(CardFault::Pack);
        }
        let log = Log::open(device, intake.head().log)?;
        let (signed, fault) = (Cell::new(false), Cell::new(None));
        let mut card = Card { device, own, intake, log, came: 0, last: (0, Hlc::default()), signed, fault };
        card.count()?;
        Ok(card)
    }

    fn count(&mut self) -> Result<(), CardFault> {
        let (mut came, mut last) = (0, (0, Hlc::default()));
        let mut note = |entry: &Entry, came: &mut u32| {
            last.1 = last.1.max(entry.hlc);
            if entry.at.device == self.own {
                last.0 = last.0.max(entry.at.seq);
                *came = last.0;
            }
        };
        let mut frames = self.intake.frames(self.device);
        while let Some(entry) = frames.entry()? {
            note(&entry, &mut came);
        }
        let mut walk = self.log.walk();
        while let Some(entry) = walk.entry_next()? {
            note(&entry, &mut 0);
        }
        // A damaged page may have held a count that was taken as written.
        last.0 = last.0.saturating_add(self.log.damaged());
        (self.came, self.last) = (came, last);
        Ok(())
    }

    /// The highest count of this device and the highest clock of all, as found when the card was looked at.
    pub fn last(&self) -> (u32, Hlc) {
        self.last
    }

    /// Whether somebody signed since this was last asked: the log is then to be sealed.
    pub fn take_signed(&self) -> bool {
        self.signed.replace(false)
    }

    /// The log.
    pub fn log(&self) -> &Log<D> {
        &self.log
    }

    /// What came in.
    pub fn intake(&self) -> &Intake {
        &self.intake
    }

    /// The sectors.
    pub fn device(&self) -> D {
        self.device
    }

    /// Whose log it is.
    pub fn own(&self) -> DeviceId {
        self.own
    }

    /// What went wrong while it was read, if anything did: what was folded since is not all there is.
    pub fn fault(&self) -> Option<CardFault> {
        self.fault.get()
    }

    /// Remembers what went wrong.
    pub(crate) fn note(&self, fault: CardFault) {
        self.fault.set(Some(self.fault.get().unwrap_or(fault)));
    }

    /// Both streams, merged.
    fn merged(&self, show: &mut dyn FnMut(&Entry)) -> Result<(), CardFault> {
        let mut came = Side { stream: self.intake.frames(self.device), head: None };
        let mut own = Side { stream: (self.log.walk(), self.came), head: None };
        came.advance()?;
        own.advance()?;
        loop {
            let first = match (&came.head, &own.head) {
                (Some(a), Some(b)) => a.order() <= b.order(),
                (came, own) => {
                    if came.is_none() && own.is_none() {
                        return Ok(());
                    }
                    came.is_some()
                }
            };
            if first { came.show(show)? } else { own.show(show)? }
        }
    }
}

/// Something that entries come out of, in order.
trait Entries {
    fn next_entry(&mut self) -> Result<Option<Entry>, CardFault>;
}

impl<D: Sectors> Entries for Frames<'_, D> {
    fn next_entry(&mut self) -> Result<Option<Entry>, CardFault> {
        self.entry()
    }
}

/// The log, less what came in again with the records of others.
impl<D: Sectors> Entries for (Walk<'_, D>, u32) {
    fn next_entry(&mut self) -> Result<Option<Entry>, CardFault> {
        loop {
            match self.0.entry_next()? {
                Some(entry) if entry.at.seq <= self.1 => {}
                other => return Ok(other),
            }
        }
    }
}

/// One stream and its next entry.
struct Side<S> {
    stream: S,
    head: Option<Entry>,
}

impl<S: Entries> Side<S> {
    fn advance(&mut self) -> Result<(), CardFault> {
        self.head = self.stream.next_entry()?;
        Ok(())
    }

    fn show(&mut self, show: &mut dyn FnMut(&Entry)) -> Result<(), CardFault> {
        if let Some(entry) = &self.head {
            show(entry);
        }
        self.advance()
    }
}

/// The card as the program's journal.
#[derive(Debug)]
pub struct CardJournal<'c, D> {
    card: &'c Card<D>,
}

impl<'c, D: Sectors> CardJournal<'c, D> {
    /// Over a card that was looked at.
    pub fn new(card: &'c Card<D>) -> CardJournal<'c, D> {
        CardJournal { card }
    }
}

impl<D: Sectors> Store for CardJournal<'_, D> {
    type Error = CardFault;

    fn append(&mut self, entry: &Entry, bytes: &[u8]) -> Result<(), CardFault> {
        self.card.log.append(bytes)?;
        if matches!(entry.what, What::Answered { answer: Answer::Signed { .. } | Answer::Reviewed { .. }, .. }) {
            self.card.signed.set(true);
        }
        Ok(())
    }
}

impl<D: Sectors> Records for CardJournal<'_, D> {
    fn each(&self, show: &mut dyn FnMut(&Entry)) {
        if let Err(fault) = self.card.merged(show) {
            self.card.note(fault);
        }
    }
}
