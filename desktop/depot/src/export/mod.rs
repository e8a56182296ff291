//! Records as papers and files that outlive the tablet: signed sheets, engine histories, defect lists, dates, water logs,
//! blank sheets and the duty board. A paper says which records it was made from, in a line that `offshed verify --paper`
//! holds against the book. Nothing is left out without saying so. The forms are described in `EXPORTS.md`.

mod board;
mod calendar;
mod csv;
mod data;
mod history;
mod json;
mod lines;
mod paper;
mod papers;
mod proof;
mod retention;
mod sheet;
mod write;

/// Columns of the tables that are written as comma-separated values.
pub mod columns {
    pub use super::csv::{DATES, DEFECTS, ENTRIES, WATER};
}

pub use data::{Envelope, FORMAT, Origin, VERSION, dates_data, defects_data};
pub use history::{History, Progress};
pub use lines::{EntryLine, Lines};
pub use paper::PaperFault;
pub use proof::{BadPaper, BlockLine, Checked, Proof, ProofData, Scope, Sources, check};
pub use retention::{Kept, KeptYear, Retention, RetentionFault};
pub use sheet::{SheetPaper, StageLine, StepResult, blank, sheet};
pub use write::{ExportFault, Form, Made, Wanted, write};
