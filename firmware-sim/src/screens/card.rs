//! Words alone, scrolled: the low-water card, a refusal, a message.

use core::fmt;

use offshed_core::ident::TextId;

use super::screen;

/// A page of words.
pub struct Card<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// What it is.
    pub title: &'a str,
    /// A sentence; may be empty.
    pub words: &'a dyn fmt::Display,
    /// A text of the pack, or none.
    pub text: TextId,
    /// What the buttons do.
    pub foot: &'a str,
    /// Lines scrolled away.
    pub skip: usize,
}

screen!(Card, self, paint, {
    paint.bar(self.title, "")?;
    paint.foot(self.foot)?;
    let mut column = paint.column(0, self.skip);
    column.words(format_args!("{}", self.words)).pack_text(self.texts, self.text);
    column.scrolled()
});
