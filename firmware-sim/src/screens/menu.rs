//! A list to choose from: engines, sheets and sequences, people, options, words.

use offshed_core::ident::TextId;

use super::screen;
use crate::column::{before, lines_of, rows_of};
use crate::glyphs::Glyph;
use crate::paint::mark;

/// What a row says: a text of the pack, or words.
#[derive(Clone, Copy, Debug)]
pub enum Label<'a> {
    /// A text of the pack.
    Text(TextId),
    /// Words, then a text of the pack.
    Before(&'a str, TextId),
    /// Words.
    Words(&'a str),
    /// A number, and words that may be empty.
    Numbered(u16, &'a str),
}

/// One row.
#[derive(Clone, Copy, Debug)]
pub struct Item<'a> {
    /// The picture before it.
    pub glyph: Option<Glyph>,
    /// What it says.
    pub label: Label<'a>,
}

/// A list. The chosen row is written in full, the others in one line each.
pub struct Menu<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// What is chosen.
    pub title: &'a str,
    /// A few letters on the right of the bar.
    pub right: &'a str,
    /// The rows in sight and after them.
    pub items: &'a [Item<'a>],
    /// Which row of the whole list `items` begins with.
    pub first: usize,
    /// The chosen row, counted in the whole list.
    pub at: usize,
    /// Rows of the whole list.
    pub all: usize,
    /// What the buttons do.
    pub foot: &'a str,
}

screen!(Menu, self, paint, {
    paint.bar(self.title, self.right)?;
    paint.foot(self.foot)?;
    let layout = paint.layout;
    let mut column = paint.column(0, 0);
    let columns = |item: &Item<'_>| match item.glyph {
        Some(_) => layout.glyph_columns(),
        None => layout.text_columns(),
    };
    let chosen = self.items.get(self.at.saturating_sub(self.first));
    let wanted = chosen.map_or(0, |item| match item.label {
        Label::Text(id) => lines_of(self.texts, id, columns(item)),
        Label::Before(words, id) => {
            rows_of(format_args!("{words} {}", crate::names::Wording { texts: self.texts, id }), columns(item))
        }
        Label::Words(words) => rows_of(format_args!("{words}"), columns(item)),
        Label::Numbered(number, words) => rows_of(format_args!("No. {number} {words}"), columns(item)),
    });
    let passed = before(self.at.saturating_sub(self.first), wanted, layout.rows);
    for (n, item) in (self.first..).zip(self.items).skip(passed) {
        if column.is_full() {
            break;
        }
        column.inverse(n == self.at).glyph(item.glyph);
        match (n == self.at, item.label) {
            (true, Label::Text(id)) => column.pack_text(self.texts, id),
            (false, Label::Text(id)) => column.pack_line(self.texts, id),
            (_, Label::Before(words, id)) => {
                column.words(format_args!("{words} {}", crate::names::Wording { texts: self.texts, id }))
            }
            (true, Label::Words(words)) => column.words(format_args!("{words}")),
            (false, Label::Words(words)) => column.cut_line(words),
            (_, Label::Numbered(number, words)) => column.words(format_args!("No. {number} {words}")),
        };
    }
    let extent = column.done()?;
    if self.all > 1 {
        let body = paint.layout.body;
        mark(&mut paint, body, (self.at, 1, self.all))?;
    }
    Ok(extent)
});
