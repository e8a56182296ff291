//! Every capacity of the core in one place, each with its unit and its reason.
//!
//! The core owns no heap: what does not fit here is carried and reported, never cut.

/// Steps in one sequence, and so on one sheet.
pub const STEPS_PER_SHEET: usize = 96;

/// Parts in one procedure.
pub const PARTS_PER_PROCEDURE: usize = 16;

/// Requirements on one step or on fitness.
pub const NEEDS_PER_STEP: usize = 48;

/// Reasons given at once for one step: one for each requirement, and one for the person.
pub const REASONS: usize = NEEDS_PER_STEP + 2;

/// Bytes of free words in one entry (reasons, defects, handover notes): two short sentences.
pub const WORDS: usize = 240;

/// Bytes of a person's, engine's or turn's name.
pub const NAME: usize = 40;

/// Bytes of a number stamped on a fitting (a seal, a plug, a glass).
pub const FITTING_NUMBER: usize = 24;

/// Devices that one signature can say it has seen.
pub const DEVICES_SEEN: usize = 8;

/// Open defects on one engine that the engine's fold holds.
pub const DEFECTS: usize = 32;

/// Tags held on one engine at once: one a person.
pub const TAGS: usize = 16;

/// Written dispensations in force on one engine.
pub const DISPENSATIONS: usize = 8;

/// Proofs of one engine that outlive their sheet.
pub const SHARED_PROOFS: usize = 64;

/// Steps of one engine whose proofs something has taken away: as many as a pack may have steps.
pub const VOID_MARKS: usize = 224;

/// Contested entries named on one sheet; further ones are counted.
pub const CONTESTED: usize = 24;

/// Rows of one local-time table: two changes a year for sixty years, and one to start.
pub const ZONE_ROWS: usize = 128;

/// Readings that one computed figure starts from.
pub const FIGURE_INPUTS: usize = 4;

/// Seconds by which the clocks of two devices may differ; a proof that lies further in the future was timed by a wrong
/// clock, or is judged by one.
pub const CLOCK_SKEW_SECONDS: i64 = 300;

/// Bytes of the longest entry in postcard form; the `largest_entry_fits` test holds it.
pub const ENTRY_BYTES: usize = 512;

/// Bytes of the rules part of a pack: what a handheld keeps in memory.
pub const PACK_RULES_BYTES: usize = 12 * 1024;
