//! Why there is no plan, in words that say what would do.

use std::fmt;

use offshed_core::ident::EngineId;
use offshed_core::plan::NoPlan;

use super::MOST_HANDS;

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum NotPlanned {
    /// The off-shed time is long past.
    Past {
        /// Minutes since.
        minutes: i64,
    },
    /// No turn is booked for the engine.
    NoTurn {
        /// The engine.
        engine: EngineId,
    },
    /// The engine has left the shed.
    Away {
        /// The engine.
        engine: EngineId,
    },
    /// The register does not know the engine.
    NoEngine {
        /// The engine.
        engine: EngineId,
    },
    /// The rules are not here.
    NoPack,
    /// The pack has no sequence that leads off shed.
    NoSequence,
    /// More than [`MOST_HANDS`] people.
    TooManyHands {
        /// How many.
        given: usize,
    },
    /// Nobody at hand may act in a grade.
    Nobody {
        /// The first step that asks for it.
        step: String,
        /// The grade's name.
        grade: String,
        /// The grade's id.
        id: String,
        /// How many steps ask for it.
        asks: usize,
        /// Who is at hand.
        hands: Vec<String>,
    },
    /// A step wants somebody other than who does another, and nobody else is at hand.
    Same {
        /// The step.
        step: String,
        /// The other; `None`: all others of the sheet.
        other: Option<String>,
    },
    /// A step wants a second person named, and nobody else is at hand.
    NobodyElse {
        /// The step.
        step: String,
        /// The grade's name.
        grade: String,
        /// The grade's id.
        id: String,
    },
    /// A step wants more than the engine's working pressure.
    Pressure {
        /// The step.
        step: String,
        /// What it wants, kPa.
        wanted_kpa: f64,
        /// The working pressure, kPa.
        working_kpa: f64,
    },
    /// A number is out of range.
    Number {
        /// Which, and what would do.
        words: String,
    },
    /// The steps make no network.
    Network(NoPlan),
}

impl fmt::Display for NotPlanned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NotPlanned::Past { minutes } => {
                write!(f, "the off-shed time is past, by {} h; give a later one, with its day", minutes / 60)
            }
            NotPlanned::NoTurn { engine } => {
                write!(f, "no turn is booked for engine {engine}; book one, or give an off-shed time")
            }
            NotPlanned::Away { engine } => write!(f, "engine {engine} is off shed; there is nothing to plan"),
            NotPlanned::NoEngine { engine } => write!(f, "the register has no engine {engine}; register it first"),
            NotPlanned::NoPack => {
                f.write_str("the rules are not here; adopt a pack, or sync with a device that has it")
            }
            NotPlanned::NoSequence => f.write_str("the pack has no sequence that leads off shed; name the sequence"),
            NotPlanned::TooManyHands { given } => write!(f, "{given} people at hand; give {MOST_HANDS} or fewer"),
            NotPlanned::Nobody { step, grade, id, asks, hands } => write!(
                f,
                "nobody at hand may act as {grade} ({id}), as {asks} step(s) want, first \"{step}\"; at hand: {}; add \
                 such a person",
                if hands.is_empty() { "nobody".to_owned() } else { hands.join(", ") }
            ),
            NotPlanned::Same { step, other } => {
                let other = other.as_ref().map_or("every other step".to_owned(), |other| format!("\"{other}\""));
                write!(
                    f,
                    "\"{step}\" wants somebody other than who does {other}, and nobody else is at hand; add a person"
                )
            }
            NotPlanned::NobodyElse { step, grade, id } => {
                write!(
                    f,
                    "\"{step}\" wants another person who may act as {grade} ({id}), and nobody else is at hand; add one"
                )
            }
            NotPlanned::Pressure { step, wanted_kpa, working_kpa } => write!(
                f,
                "\"{step}\" wants {wanted_kpa:.0} kPa, more than the working pressure, {working_kpa:.0} kPa; correct the \
                 pressure, or the pack"
            ),
            NotPlanned::Number { words } => f.write_str(words),
            NotPlanned::Network(bad) => bad.fmt(f),
        }
    }
}

impl std::error::Error for NotPlanned {}
