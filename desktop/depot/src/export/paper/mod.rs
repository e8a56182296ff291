//! Papers: headings, tables and lines of text laid out on A4 pages and written as PDF/A-2a (ISO 19005-2, level A): fonts
//! embedded, every text tagged with what it is, in reading order. Where the font has no glyph for a character, its number
//! stands instead, so that nothing vanishes.

mod draw;
mod font;
mod layout;

use std::fmt;

use offshed_core::stamp::Stamp;

pub(super) use draw::pdf;

/// Why a paper can't be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PaperFault {
    /// The bundled font can't be read; a fault of this program.
    Font,
    /// The document is not what the standard asks for; a fault of this program.
    Standard {
        /// What the writer of the file found.
        why: String,
    },
}

impl fmt::Display for PaperFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PaperFault::Font => f.write_str("the bundled font can't be read: install the program again"),
            PaperFault::Standard { why } => {
                write!(
                    f,
                    "the paper does not come out as the standard for archives asks ({why}): export it as .csv, and report this"
                )
            }
        }
    }
}

impl std::error::Error for PaperFault {}

/// A paper to be laid out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Paper {
    /// Its title.
    pub(super) title: String,
    /// At the head of every page, on the right: of which moment it is.
    pub(super) as_of: String,
    /// At the foot of every page: the caution.
    pub(super) caution: String,
    /// At the foot of every page, beside its number: what the paper is of.
    pub(super) mark: String,
    /// The moment it speaks of.
    pub(super) at: Option<Stamp>,
    /// What stands on it.
    pub(super) items: Vec<Item>,
}

/// One thing on a paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Item {
    /// A heading.
    Heading(String),
    /// Text.
    Text(String),
    /// Text that must be seen, in a box.
    Boxed(String),
    /// Names with their values.
    Fields(Vec<(String, String)>),
    /// A table.
    Table(Table),
}

/// A table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Table {
    /// Titles of the columns, each with its share of the width.
    pub(super) columns: Vec<(&'static str, u16)>,
    /// The rows.
    pub(super) rows: Vec<Row>,
}

/// A row of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Row {
    /// Its cells, as many as there are columns.
    pub(super) cells: Vec<String>,
    /// It must be seen.
    pub(super) strong: bool,
    /// Least height, points: room to write in.
    pub(super) least: u16,
}

impl Row {
    /// A row of these cells.
    pub(super) fn of<const N: usize>(cells: [String; N]) -> Row {
        Row { cells: cells.into(), ..Row::default() }
    }
}
