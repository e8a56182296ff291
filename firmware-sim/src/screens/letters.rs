//! Letters and digits, one after another: the number on a fitting, a PIN.

use core::fmt;

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;

use super::screen;

/// Letters being entered.
pub struct Letters<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// What they are.
    pub title: &'a str,
    /// A sentence over them.
    pub lead: &'a dyn fmt::Display,
    /// What stands before the place at hand, as it is shown.
    pub before: &'a str,
    /// The letter at hand; a space where none is chosen yet.
    pub at_hand: char,
    /// What `up` would put there, and `down`.
    pub around: (char, char),
}

screen!(Letters, self, paint, {
    let _ = self.texts;
    paint.bar(self.title, "")?;
    paint.foot("up/down: letter  right: next  select: enter")?;
    let (layout, letter) = (paint.layout, paint.large_size());
    let small = layout.text.character_size.height.min(2 * letter.height);
    let pitch = layout.row(0).size.height.max(1);
    let wanted = (letter.height + 2 * small).div_ceil(pitch) as usize;
    let above = layout.rows.saturating_sub(wanted).max(1);
    let mut column = paint.column(0, 0);
    column.within(above).words(format_args!("{}", self.lead));
    let extent = column.done()?;
    let area = layout.rows_from(above);
    let fits = (area.size.width.saturating_sub(4) / letter.width) as usize;
    let hidden = (self.before.chars().count() + 1).saturating_sub(fits);
    let shown = self.before.char_indices().nth(hidden).map_or("", |(at, _)| self.before.get(at..).unwrap_or(""));
    let middle = area.top_left + Point::new(2, (area.size.height.saturating_sub(letter.height) / 2).cast_signed());
    paint.large(middle, shown, BinaryColor::On)?;
    if hidden > 0 {
        // What does not fit stands to the left: an arrow says so.
        paint.fill(Rectangle::new(middle, letter), BinaryColor::Off)?;
        paint.large(middle, "<", BinaryColor::On)?;
    }
    let along = u32::try_from(shown.chars().count()).unwrap_or(0) * letter.width;
    let at = middle + Point::new(along.cast_signed(), 0);
    paint.fill(Rectangle::new(at - Point::new(1, 0), letter + Size::new(2, 0)), BinaryColor::On)?;
    paint.large(at, self.at_hand.encode_utf8(&mut [0; 4]), BinaryColor::Off)?;
    let inset = (letter.width.saturating_sub(layout.text.character_size.width) / 2).cast_signed();
    let (up, down) =
        (at + Point::new(inset, -small.cast_signed()), at + Point::new(inset, letter.height.cast_signed()));
    paint.letters(layout.text, up, self.around.0.encode_utf8(&mut [0; 4]), BinaryColor::On)?;
    paint.letters(layout.text, down, self.around.1.encode_utf8(&mut [0; 4]), BinaryColor::On)?;
    Ok(extent)
});
