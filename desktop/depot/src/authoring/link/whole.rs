//! What a device has room for.

use offshed_core::limits::{SHARED_PROOFS, VOID_MARKS};

use super::super::complaint::{Complaints, Place};
use super::super::model::Model;

/// Checks the numbers of steps that an engine's record has room for.
pub(super) fn check(model: &Model, sink: &Complaints) {
    let head = Place { file: 0, line: 0, column: 0 };
    if model.sequences.is_empty() {
        sink.say(head, "pack", "", "no sequence", "add a file with a `[sequence]`");
    }
    if model.grades.is_empty() {
        sink.say(head, "pack", "grade", "nobody may do anything", "add a `[[grade]]`");
    }
    if let Some((_, step)) = model.steps().nth(VOID_MARKS) {
        let what = format!("{} steps in the pack; at most {VOID_MARKS}", model.steps().count());
        sink.say(step.at, &format!("step `{}`", step.id), "", what, "make two packs of it, or fewer steps");
    }
    let shared = || model.steps().filter(|(_, step)| step.shared);
    if let Some((_, step)) = shared().nth(SHARED_PROOFS) {
        let what = format!("{} shared steps in the pack; an engine's record keeps {SHARED_PROOFS}", shared().count());
        sink.say(step.at, &format!("step `{}`", step.id), "shared", what, "share fewer of them");
    }
}
