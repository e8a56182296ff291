//! What a signature says, before it is given.

use core::fmt;

use offshed_core::ident::TextId;

use super::screen;
use crate::glyphs;

/// What is signed.
pub struct Confirm<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// The signature's title; what it says is the next text.
    pub title: TextId,
    /// Who signs.
    pub who: &'a dyn fmt::Display,
    /// Steps of the sheet that apply and are proven, and that apply.
    pub proven: (usize, usize),
    /// Steps found not right.
    pub not_right: usize,
    /// Entries that do not count, or count but must be seen.
    pub contested: usize,
    /// Lines scrolled away.
    pub skip: usize,
}

screen!(Confirm, self, paint, {
    paint.bar("Sign?", "select: PIN")?;
    paint.foot("select: sign with your PIN  left: back")?;
    let mut column = paint.column(0, self.skip);
    column.glyph(Some(glyphs::PERSON)).words(format_args!("{}", self.who));
    column.glyph(Some(glyphs::ON)).pack_text(self.texts, self.title);
    let (proven, all) = self.proven;
    column.glyph(Some(glyphs::TICK)).words(format_args!("{proven} of {all} steps proven"));
    if self.not_right > 0 {
        column.glyph(Some(glyphs::CROSS)).words(format_args!("{} not right", self.not_right));
    }
    if self.contested > 0 {
        column.glyph(Some(glyphs::MIND)).words(format_args!("to be looked at on a desk: {}", self.contested));
    }
    column.glyph(None).rule().pack_text(self.texts, TextId(self.title.0.saturating_add(1)));
    column.scrolled()
});
