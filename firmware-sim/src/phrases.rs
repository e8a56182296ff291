//! Words to choose from where a desk would have a keyboard: short, and all that five buttons can write.
//!
//! Common practice, no source.

/// What was found where something is not right. The rest is told to the foreman in person.
pub const NOT_RIGHT: [&str; 10] = [
    "Leaks",
    "Does not work",
    "Stiff or stuck",
    "Broken or cracked",
    "Loose or missing",
    "Worn",
    "Blocked or dirty",
    "Too low",
    "Too high",
    "Not right, told to the foreman",
];

/// Why a step does not apply today.
pub const NOT_APPLICABLE: [&str; 5] = [
    "Not fitted to this engine",
    "Not wanted for this turn",
    "Not in use today",
    "Done elsewhere, seen on paper",
    "By order of the foreman",
];

/// Why a review sends a sheet back or stops an engine.
pub const REVIEWED: [&str; 4] =
    ["A proof is to be done again", "A reading is in doubt", "A defect is to be seen to", "As told to the crew"];

/// Why a sheet is given up.
pub const GIVEN_UP: [&str; 3] = ["Turn cancelled", "Engine stopped", "Opened by mistake"];
