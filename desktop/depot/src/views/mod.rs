//! What a face shows, as plain data: no toolkit, no colours, every state in words. The same structures are printed,
//! written as JSON and bound to a screen. Their field names are stable.

mod board;
mod dates;
mod defects;
mod grades;
mod moment;
mod sheet;
mod water;
mod working;

pub use board::{Board, BoardRow, ConditionView, ReasonView, UntilView, board};
pub use dates::{DateView, dates};
pub use defects::{DefectView, defects};
pub use grades::{grade_name, grades};
pub use moment::Moments;
pub use sheet::{ContestView, SheetLine, SheetView, StageView, StepView, sheet, sheet_title, sheets};
pub(crate) use sheet::{ask_word, range, stage_key};
pub use water::{
    BookedView, SHOWN as WATER_SHOWN, SinceView, SlopeView, SolidsPoint, SolidsView, Treatment, WaterLog, WaterTest,
    outlook_words, washout_key, water, water_up_to,
};
pub use working::{InputView, Titles, WorkingView, computed, delivery, working};
