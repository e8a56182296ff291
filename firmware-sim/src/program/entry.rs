//! What is being entered with five buttons: a value digit by digit, letters one after another. Pure state.

use core::fmt::Write;

use heapless::String;
use offshed_core::units::{Reading, Unit};

use crate::keys::Key;

/// Letters of the longest value: a sign, five digits, a point, three more.
const VALUE_LETTERS: usize = 12;

/// A value being entered; blank until the first press, so that nothing is entered by mistake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ValueEntry {
    milli: Option<i32>,
    unit: Unit,
    /// The place that `up` and `down` change, from the left.
    place: u8,
}

impl ValueEntry {
    /// Nothing entered yet.
    pub fn new(unit: Unit) -> ValueEntry {
        ValueEntry { milli: None, unit, place: 0 }
    }

    /// Digits before the point: what instruments of a shed show.
    fn whole_digits(self) -> u8 {
        match self.unit {
            Unit::MicroSiemensPerCm | Unit::Litre | Unit::Gallon | Unit::GallonUs | Unit::Gram => 5,
            Unit::GlassMm | Unit::GlassShare | Unit::Percent | Unit::WorkingShare | Unit::Psi => 3,
            Unit::Bar | Unit::KgfPerCm2 | Unit::InHg | Unit::Ph | Unit::GlassInch => 2,
            _ => 4,
        }
    }

    fn places(self) -> u8 {
        self.whole_digits() + self.unit.digits().min(3)
    }

    /// One in a place, thousandths.
    fn worth(self, place: u8) -> i32 {
        let power = u32::from(3 + self.whole_digits() - 1).saturating_sub(u32::from(place));
        10i32.saturating_pow(power)
    }

    /// The greatest value that its places can show, thousandths.
    fn most(self) -> i32 {
        self.worth(0).saturating_mul(10).saturating_sub(self.worth(self.places() - 1))
    }

    fn least(self) -> i32 {
        match self.unit {
            Unit::Celsius | Unit::Fahrenheit => -self.most(),
            _ => 0,
        }
    }

    /// The unit.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// What a key makes of it; `left` and `select` change nothing.
    #[must_use]
    pub fn pressed(mut self, key: Key) -> ValueEntry {
        let by = match key {
            Key::Up => self.worth(self.place),
            Key::Down => -self.worth(self.place),
            Key::Right => {
                self.place = (self.place + 1) % self.places();
                return self;
            }
            Key::Left | Key::Select => return self,
        };
        let to = self.milli.unwrap_or(0).saturating_add(by).clamp(self.least(), self.most());
        // The first press on a blank place only shows a nought when it goes down.
        self.milli = Some(if self.milli.is_none() && key == Key::Down { 0 } else { to });
        self
    }

    /// The value, once something is entered.
    pub fn reading(self) -> Option<Reading> {
        self.milli.map(|milli| Reading { milli, unit: self.unit })
    }

    /// The digits as they are shown, and which of them the next press changes.
    pub fn shown(self) -> (String<VALUE_LETTERS>, usize) {
        let mut shown = String::new();
        let negative = self.least() < 0;
        // There is room: a sign, five digits, a point and three more.
        if negative {
            let _ = shown.push(if self.milli.is_some_and(|m| m < 0) { '-' } else { ' ' });
        }
        let mut cursor = 0;
        for place in 0..self.places() {
            if place == self.whole_digits() {
                let _ = shown.push('.');
            }
            if place == self.place {
                cursor = shown.len();
            }
            let _ = match self.milli {
                None => shown.push('-'),
                Some(milli) => {
                    let digit = milli.unsigned_abs() / self.worth(place).unsigned_abs().max(1) % 10;
                    write!(shown, "{digit}").map_err(|_| Default::default())
                }
            };
        }
        (shown, cursor)
    }
}

/// Letters that a fitting's number is stamped in.
const STAMPED: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-/.";
/// Letters of a PIN.
const DIGITS: &str = "0123456789";
/// Where no letter is chosen yet.
const BLANK: char = ' ';

/// Letters being entered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LetterEntry {
    before: String<{ offshed_core::limits::FITTING_NUMBER }, u8>,
    at_hand: char,
    secret: bool,
}

impl LetterEntry {
    /// The number on a fitting, nothing entered yet.
    pub fn number() -> LetterEntry {
        LetterEntry { before: String::new(), at_hand: BLANK, secret: false }
    }

    /// A PIN, nothing entered yet.
    pub fn pin() -> LetterEntry {
        LetterEntry { before: String::new(), at_hand: BLANK, secret: true }
    }

    fn ring(&self) -> &'static str {
        if self.secret { DIGITS } else { STAMPED }
    }

    /// The letter `by` places further round the ring, over the blank.
    fn turned(&self, forward: bool) -> char {
        let ring = self.ring();
        let letters = ring.len();
        let at = ring.find(self.at_hand);
        let next = match (at, forward) {
            (None, true) => Some(0),
            (None, false) => letters.checked_sub(1),
            (Some(at), true) => Some(at + 1),
            (Some(at), false) => at.checked_sub(1),
        };
        next.and_then(|n| ring.chars().nth(n)).unwrap_or(BLANK)
    }

    /// What a key makes of it; `None`: `left` was pressed with nothing left to take away. `select` changes nothing.
    #[must_use]
    pub fn pressed(mut self, key: Key) -> Option<LetterEntry> {
        match key {
            Key::Up => self.at_hand = self.turned(true),
            Key::Down => self.at_hand = self.turned(false),
            Key::Right if self.secret && self.at_hand == BLANK => {}
            Key::Right => {
                if self.before.push(self.at_hand).is_ok() {
                    self.at_hand = BLANK;
                }
            }
            Key::Left if self.at_hand != BLANK => self.at_hand = BLANK,
            Key::Left => self.at_hand = self.before.pop()?,
            Key::Select => {}
        }
        Some(self)
    }

    /// What stands before the letter at hand, as it is shown.
    pub fn before(&self) -> String<{ offshed_core::limits::FITTING_NUMBER }> {
        self.before.chars().map(|letter| if self.secret { '*' } else { letter }).collect()
    }

    /// The letter at hand, and those that `up` and `down` would put there.
    pub fn at_hand(&self) -> (char, (char, char)) {
        (self.at_hand, (self.turned(true), self.turned(false)))
    }

    /// All of it, without blanks at its ends; `None` where nothing is entered or it is too long.
    pub fn whole(&self) -> Option<String<{ offshed_core::limits::FITTING_NUMBER }>> {
        let mut all: String<{ offshed_core::limits::FITTING_NUMBER }> = self.before.chars().collect();
        if self.at_hand != BLANK {
            all.push(self.at_hand).ok()?;
        }
        let trimmed = all.trim();
        String::try_from(trimmed).ok().filter(|whole| !whole.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entered(unit: Unit, keys: &[Key]) -> ValueEntry {
        keys.iter().fold(ValueEntry::new(unit), |entry, key| entry.pressed(*key))
    }

    #[test]
    fn a_value_is_blank_until_it_is_entered_and_digits_carry() {
        use Key::{Down, Right, Up};
        assert_eq!(ValueEntry::new(Unit::GlassMm).reading(), None);
        assert_eq!(ValueEntry::new(Unit::GlassMm).shown().0.as_str(), "---");
        let tall = entered(Unit::GlassMm, &[Right, Up, Right, Down]);
        assert_eq!(tall.reading(), Some(Reading::whole(9, Unit::GlassMm)));
        assert_eq!((tall.shown().0.as_str(), tall.shown().1), ("009", 2));
        assert_eq!(entered(Unit::Psi, &[Down]).reading(), Some(Reading::whole(0, Unit::Psi)));
    }

    #[test]
    fn digits_behind_the_point_are_those_of_the_instrument() {
        use Key::{Right, Up};
        let bar = entered(Unit::Bar, &[Right, Up, Right, Up, Right, Up, Up]);
        assert_eq!(bar.reading(), Some(Reading { milli: 1_120, unit: Unit::Bar }));
        assert_eq!((bar.shown().0.as_str(), bar.shown().1), ("01.12", 4));
    }

    #[test]
    fn a_value_stays_within_its_places() {
        let most = entered(Unit::Psi, &[Key::Up; 40]);
        assert_eq!(most.reading(), Some(Reading::whole(999, Unit::Psi)));
        let least = entered(Unit::Celsius, &[Key::Down; 3]);
        assert_eq!(least.shown().0.as_str(), "-2000.0");
        assert_eq!(entered(Unit::GlassMm, &[Key::Down; 9]).reading(), Some(Reading::whole(0, Unit::GlassMm)));
    }

    #[test]
    fn letters_are_added_and_taken_away() {
        let keys = |entry: LetterEntry, keys: &[Key]| keys.iter().try_fold(entry, |entry, key| entry.pressed(*key));
        let one = keys(LetterEntry::number(), &[Key::Up, Key::Up, Key::Right, Key::Down]).unwrap();
        assert_eq!(one.whole().unwrap().as_str(), "1.");
        let none = keys(one, &[Key::Left, Key::Left, Key::Left]).unwrap();
        assert_eq!(none.whole(), None);
        assert_eq!(none.pressed(Key::Left), None, "left goes back");
        let pin = keys(LetterEntry::pin(), &[Key::Right, Key::Down, Key::Right, Key::Up]).unwrap();
        assert_eq!((pin.before().as_str(), pin.whole().unwrap().as_str()), ("*", "90"));
    }
}
