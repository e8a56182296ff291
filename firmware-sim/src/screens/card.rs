//! Words alone, scrolled: the low-water card, a refusal, a message.

use core::fmt;

use embedded_graphics::Drawable;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use offshed_core::ident::TextId;
use offshed_core::pack::Texts;

use super::screen;
use crate::any;

/// No words of a pack.
struct NoTexts;

impl Texts for NoTexts {
    fn read(&self, _: TextId, _: usize, _: &mut [u8]) -> usize {
        0
    }

    fn whole(&self, _: TextId) -> Option<&str> {
        None
    }
}

/// Draws a page of words where there is no program: what keeps a device from starting.
///
/// # Errors
/// When the display fails.
pub fn show_notice<D>(target: &mut D, title: &str, words: &dyn fmt::Display, foot: &str) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let page = Card { texts: &NoTexts, title, words, text: TextId::NONE, foot, skip: 0 };
    any::drawn(target, |any| page.draw(any)).map(|_| ())
}

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
