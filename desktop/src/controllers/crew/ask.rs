//! What the desk asks for on a page of its own: a person, a PIN, a value, words.

use offshed_core::entry::Review;
use offshed_core::ident::{EngineId, EventId, PersonId, SheetId, StepId};
use offshed_core::pack::rows::DefectGrade;
use offshed_core::units::Unit;

/// What was entered for a step and is not recorded yet.
#[derive(Clone, Debug, Default)]
pub(super) struct Draft {
    /// A number that was read off a fitting.
    pub(super) text: String,
    /// The unit chosen.
    pub(super) unit: Option<Unit>,
    /// A hold that was ended, tenths of a second.
    pub(super) ended: Option<u32>,
    /// A procedure begins again: what is given next is its first part.
    pub(super) restart: bool,
}

/// What is being asked.
#[derive(Clone, Debug)]
pub(super) enum Ask {
    /// Nothing: what to do when the water is lost is shown, and what was asked before comes back.
    LowWater(Option<Box<Ask>>),
    /// A person.
    Person(Errand),
    /// Their PIN.
    Pin { person: PersonId, digits: String, errand: Errand },
    /// A first PIN, twice.
    FirstPin { person: PersonId, digits: String, first: Option<String>, errand: Errand },
    /// A value, in a unit, or a time.
    Number { digits: String, unit: Unit },
    /// What happened to an engine; at a sheet, and at its step, what was found there as well.
    Events(EngineId, Option<Spot>),
    /// Words: ready-made ones first.
    Words { about: About, text: String, own: bool, page: usize },
}

/// A place on a sheet where something was found.
pub(super) type Spot = (SheetId, Option<StepId>);

/// What a person is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Errand {
    /// To sign on.
    SignOn,
    /// To be named as the second person.
    Second,
    /// To sign a step.
    Sign(SheetId, StepId),
    /// To review, with this outcome and these words.
    Review(SheetId, StepId, Review, String),
    /// To take their own tag off an engine.
    LiftTag(EngineId),
    /// To agree, for the office, to somebody's first PIN; then what that person was asked for.
    Agree(PersonId, Box<Errand>),
}

/// What words are about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum About {
    /// What was found not right.
    NotRight,
    /// Why the step does not apply.
    Skip,
    /// Why the standing answer is struck out.
    Strike,
    /// Why a review does not accept.
    Review(Review),
    /// The number on a fitting.
    Number,
    /// A note for whoever has the engine next.
    HandOver(EngineId),
    /// How it is known that something happened.
    Happened(EngineId, EventId),
    /// Why a sheet will not be finished.
    Abandon(SheetId),
    /// A defect that was found, with how bad it is.
    Defect(EngineId, Spot, DefectGrade),
}

/// The pages of letters: a key is a hand's width, so they do not all fit on one.
pub const LETTERS: [(&str, &str); 4] = [
    ("A \u{2013} L", "ABCDEFGHIJKL"),
    ("M \u{2013} X", "MNOPQRSTUVWX"),
    ("Y Z 0 \u{2013} 9", "YZ1234567890"),
    (". , \u{2013} /", ".,-/'()&+:?!"),
];

/// A letter as it stands in words: capital at the start of a sentence, small elsewhere. Numbers on fittings stay capital.
pub(super) fn cased(text: &str, key: char, about: About) -> char {
    let begins = text.is_empty() || text.ends_with(". ");
    if about == About::Number || begins { key.to_ascii_uppercase() } else { key.to_ascii_lowercase() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_letter_and_digit_has_a_key_once() {
        let keys: String = LETTERS.iter().map(|(_, keys)| *keys).collect();
        for key in ('A'..='Z').chain('0'..='9') {
            assert_eq!(keys.matches(key).count(), 1, "{key}");
        }
        assert!(LETTERS.iter().all(|(_, keys)| keys.chars().count() == 12));
    }

    #[test]
    fn sentences_begin_large() {
        assert_eq!(cased("", 'l', About::NotRight), 'L');
        assert_eq!(cased("L", 'E', About::NotRight), 'e');
        assert_eq!(cased("Leaks. ", 'b', About::NotRight), 'B');
        assert_eq!(cased("HV", 'x', About::Number), 'X');
    }
}
