//! Ready-made words, so that a fault is reported in two touches. Common practice, no source.

/// What was found.
pub(super) const FOUND: [&str; 10] = [
    "Leaks",
    "Blocked",
    "Broken",
    "Loose",
    "Missing",
    "Will not move",
    "Will not shut",
    "Reads wrong",
    "Out of date",
    "Dirty, cannot be seen",
];

/// Why a step does not apply.
pub(super) const SKIPPED: [&str; 4] = ["Not needed today", "Not fitted", "Done by others", "Nothing found to do"];

/// Why an answer is struck out.
pub(super) const STRUCK: [&str; 4] = ["Wrong step", "Wrong engine", "Wrong reading given", "Touched by mistake"];

/// How it is known that something happened.
pub(super) const HAPPENED: [&str; 3] = ["Seen by me", "Told to me", "Found so"];

/// Why a sheet will not be finished.
pub(super) const GIVEN_UP: [&str; 4] = ["Opened by mistake", "Wrong engine", "Turn cancelled", "Engine stopped"];

/// What a review says that does not accept.
pub(super) const REVIEWED: [&str; 4] =
    ["Do the contested steps again", "Readings do not agree", "Signatures wanted", "Defect"];
