//! PINs against the verifiers on the card. Wrong tries are in the log before they are answered, so that a start anew
//! shortens no wait: after five in a row a minute, after each further one twice as long, at most an hour.

use heapless::Vec;
use offshed_core::ident::PersonId;
use offshed_core::stamp::Stamp;
use offshed_handheld::hand::{PinAnswer, Pins};
use pbkdf2::pbkdf2_hmac_array;
use pbkdf2::sha2::Sha256;
use subtle::ConstantTimeEq;

use crate::disk::Sectors;
use crate::fault::CardFault;
use crate::intake::Verifier;
use crate::journal::Card;
use crate::log::{Logged, kind};

/// Wrong tries in a row before the first wait.
const TRIES: u32 = 5;
/// Seconds of the first wait and of the longest.
const WAITS: (i64, i64) = (60, 3_600);
/// People whose wrong tries are kept apart at once; beyond them, the oldest tries are forgotten last of all.
const PEOPLE: usize = 32;
/// The most iterations that a handheld runs: more would leave a person before a dead display for minutes.
pub const MOST_ITERATIONS: u32 = 100_000;

/// One person's wrong tries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Wrong {
    person: PersonId,
    wrong: u32,
    last: Stamp,
}

impl Wrong {
    fn until(self) -> Option<Stamp> {
        let further = self.wrong.checked_sub(TRIES)?;
        let doubled = WAITS.0.checked_shl(further.min(30)).unwrap_or(WAITS.1);
        Some(self.last.plus(doubled.min(WAITS.1)))
    }

    fn write(self) -> [u8; 14] {
        let mut out = [0; 14];
        let parts: [&[u8]; 3] = [&self.person.0.to_le_bytes(), &self.wrong.to_le_bytes(), &self.last.0.to_le_bytes()];
        out.iter_mut().zip(parts.into_iter().flatten()).for_each(|(to, byte)| *to = *byte);
        out
    }

    fn read(bytes: &[u8; 14]) -> Wrong {
        let [p0, p1, w0, w1, w2, w3, last @ ..] = *bytes;
        let person = PersonId(u16::from_le_bytes([p0, p1]));
        Wrong { person, wrong: u32::from_le_bytes([w0, w1, w2, w3]), last: Stamp(i64::from_le_bytes(last)) }
    }
}

/// The PINs of a card.
#[derive(Debug)]
pub struct CardPins<'c, D> {
    card: &'c Card<D>,
    wrong: Vec<Wrong, PEOPLE, u8>,
}

impl<'c, D: Sectors> CardPins<'c, D> {
    /// Over a card that was looked at, with the wrong tries that its log tells of.
    ///
    /// # Errors
    /// When the card does not answer.
    pub fn open(card: &'c Card<D>) -> Result<CardPins<'c, D>, CardFault> {
        let mut pins = CardPins { card, wrong: Vec::new() };
        let mut walk = card.log().walk();
        while let Some(met) = walk.read_next()? {
            if let Logged::Other(kind::TRIES, bytes) = met {
                pins.keep(Wrong::read(&bytes));
            }
        }
        Ok(pins)
    }

    /// Keeps a person's tries; where there is no room, in the place of whoever has fewest.
    fn keep(&mut self, tries: Wrong) {
        self.wrong.retain(|wrong| wrong.person != tries.person);
        if tries.wrong == 0 {
            return;
        }
        if let Err(tries) = self.wrong.push(tries)
            && let Some(fewest) = self.wrong.iter_mut().min_by_key(|wrong| wrong.wrong)
        {
            *fewest = tries;
        }
    }

    /// Keeps a person's tries, in the log first.
    fn note(&mut self, tries: Wrong) -> Result<(), CardFault> {
        self.card.log().note(kind::TRIES, &tries.write())?;
        self.keep(tries);
        Ok(())
    }

    fn judge(&mut self, verifier: &Verifier, digits: &str, now: Stamp) -> Result<PinAnswer, CardFault> {
        let person = verifier.person;
        let before = self.wrong.iter().find(|wrong| wrong.person == person).copied();
        let mut tries = before.unwrap_or(Wrong { person, wrong: 0, last: now });
        if now < tries.last && tries.until().is_some() {
            tries.last = now;
            self.note(tries)?;
        }
        if let Some(until) = tries.until().filter(|until| now < *until) {
            return Ok(PinAnswer::Wait { until });
        }
        let hash = pbkdf2_hmac_array::<Sha256, 32>(digits.as_bytes(), &verifier.salt, verifier.iterations);
        if hash.ct_eq(&verifier.hash).into() {
            if before.is_some() {
                self.note(Wrong { person, wrong: 0, last: now })?;
            }
            return Ok(PinAnswer::Right);
        }
        let tries = Wrong { wrong: tries.wrong.saturating_add(1), last: now, ..tries };
        self.note(tries)?;
        Ok(match tries.until() {
            Some(until) => PinAnswer::Wait { until },
            None => PinAnswer::Wrong { left: TRIES.saturating_sub(tries.wrong) },
        })
    }
}

impl<D: Sectors> Pins for CardPins<'_, D> {
    fn check(&mut self, person: PersonId, digits: &str, now: Stamp) -> PinAnswer {
        let found = self.card.intake().verifier(self.card.device(), person);
        let verifier = match found {
            Ok(found) => found.filter(|v| (1..=MOST_ITERATIONS).contains(&v.iterations)),
            Err(fault) => {
                self.card.note(fault);
                None
            }
        };
        let Some(verifier) = verifier else { return PinAnswer::NoPin };
        self.judge(&verifier, digits, now).unwrap_or_else(|fault| {
            // What can't be kept is not answered.
            self.card.note(fault);
            PinAnswer::Wait { until: now.plus(WAITS.0) }
        })
    }
}
