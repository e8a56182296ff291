//! Day scripts: who did what, when, on which device, played into a data folder through the same desk as any hand.
//!
//! `SCRIPTS.md` beside this file describes the rows. A script is played whole or not at all: it is first played into a
//! copy, and into the folder only when every row did as it says.

mod acts;
mod parse;
mod play;
pub mod row;
mod water;
mod work;

pub use play::{DEVICES, PlayFault, Played, Report, play, set_local_time};
pub use row::{Row, ScriptFault};
