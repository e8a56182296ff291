//! PINs on a handheld: verifiers come with the shift file, wrong tries are kept on flash before they are answered.
//!
//! The rules are those of `FORMAT.md`, section 6: five wrong tries in a row, then a wait of a minute, after each further
//! one twice as long, at most an hour. A clock set back starts the wait again.

use core::cell::RefCell;

use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use offshed_core::ident::PersonId;
use offshed_core::record::shift::{Part, PinRow};
use offshed_core::stamp::Stamp;
use sha2::Sha256;
use subtle::ConstantTimeEq;

use super::nor::Places;
use super::settings::{Settings, Wrong};
use super::slot::Slot;
use crate::card::shift::rows;
use crate::hand::{PinAnswer, Pins};

/// Wrong tries in a row before the first wait.
const TRIES: u32 = 5;
/// Seconds of the first wait.
const FIRST_WAIT: i64 = 60;
/// Seconds of the longest wait.
const LONGEST_WAIT: i64 = 3_600;
/// The most iterations that are computed.
const MOST: u32 = 10_000_000;

/// PINs of the shift file that holds.
pub struct FlashPins<'f, F> {
    settings: Settings<'f, F>,
    slot: Option<Slot<'f, F>>,
}

impl<'f, F: MultiwriteNorFlash> FlashPins<'f, F> {
    pub(super) fn new(flash: &'f RefCell<F>, places: &Places, slot: Option<Slot<'f, F>>) -> FlashPins<'f, F> {
        FlashPins { settings: Settings::new(flash, places.settings.clone()), slot }
    }

    fn verifier(&self, person: PersonId) -> Option<PinRow> {
        let slot = self.slot.as_ref()?;
        let mut found = None;
        rows(slot, slot.head(), Part::Pins, |row| {
            if let Some(row) = PinRow::read(row).filter(|row| row.person == person) {
                found = Some(row);
            }
        });
        found.filter(|row| (1..=MOST).contains(&row.iterations))
    }
}

impl Wrong {
    fn wait(self) -> Option<i64> {
        let further = self.wrong.checked_sub(TRIES)?;
        let doubled = FIRST_WAIT.checked_shl(further.min(30)).unwrap_or(LONGEST_WAIT);
        Some(doubled.min(LONGEST_WAIT))
    }

    fn until(self) -> Option<Stamp> {
        Some(self.last.plus(self.wait()?))
    }
}

/// A try that can't be kept is not answered: the person waits.
fn unkept(now: Stamp) -> PinAnswer {
    PinAnswer::Wait { until: now.plus(FIRST_WAIT) }
}

impl<F: MultiwriteNorFlash> Pins for FlashPins<'_, F> {
    fn check(&mut self, person: PersonId, digits: &str, now: Stamp) -> PinAnswer {
        let Some(verifier) = self.verifier(person) else { return PinAnswer::NoPin };
        let Ok(before) = self.settings.wrong(person) else { return unkept(now) };
        let mut tries = before.unwrap_or(Wrong { wrong: 0, last: now });
        if now < tries.last && tries.wait().is_some() {
            tries.last = now;
            if self.settings.set_wrong(person, tries).is_err() {
                return unkept(now);
            }
        }
        if let Some(until) = tries.until().filter(|until| now < *until) {
            return PinAnswer::Wait { until };
        }
        let wrong = Wrong { wrong: tries.wrong.saturating_add(1), last: now };
        // Written down before it is looked at: pulling the battery shortens nothing.
        if self.settings.set_wrong(person, wrong).is_err() {
            return unkept(now);
        }
        let mut hash = [0; 32];
        pbkdf2::pbkdf2_hmac::<Sha256>(digits.as_bytes(), &verifier.salt, verifier.iterations, &mut hash);
        if bool::from(hash.ct_eq(&verifier.hash)) {
            let none = Wrong { wrong: 0, last: now };
            return if self.settings.set_wrong(person, none).is_ok() { PinAnswer::Right } else { unkept(now) };
        }
        match wrong.until() {
            Some(until) => PinAnswer::Wait { until },
            None => PinAnswer::Wrong { left: TRIES.saturating_sub(wrong.wrong) },
        }
    }
}
