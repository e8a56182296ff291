//! Letters and digits, one after another: the number on a fitting, a PIN.

use core::fmt;

use embedded_graphics::mono_font::iso_8859_1::FONT_10X20;
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
    paint.foot("up/down: letter  right: next  left: take away  select: enter")?;
    let mut column = paint.column(0, 0);
    column.words(format_args!("{}", self.lead));
    let extent = column.done()?;
    let layout = paint.layout;
    let high = FONT_10X20.character_size.height;
    let area = layout.rows_from(layout.rows.saturating_sub((2 * high / layout.row(0).size.height.max(1)) as usize));
    paint.fill(area, BinaryColor::Off)?;
    let fits = (area.size.width / 10).saturating_sub(1) as usize;
    let hidden = self.before.chars().count().saturating_sub(fits.saturating_sub(1));
    let shown = self.before.char_indices().nth(hidden).map_or("", |(at, _)| self.before.get(at..).unwrap_or(""));
    let middle = area.top_left + Point::new(2, (area.size.height.saturating_sub(high) / 2).cast_signed());
    paint.letters(&FONT_10X20, middle, shown, BinaryColor::On)?;
    let along = u32::try_from(shown.chars().count()).unwrap_or(0) * 10;
    let at = middle + Point::new(along.cast_signed(), 0);
    paint.fill(Rectangle::new(at - Point::new(1, 0), Size::new(12, high)), BinaryColor::On)?;
    let letter = |paint: &mut crate::paint::Paint<'_, D>, font, at, letter: char, colour| {
        paint.letters(font, at, letter.encode_utf8(&mut [0; 4]), colour)
    };
    letter(&mut paint, &FONT_10X20, at, self.at_hand, BinaryColor::Off)?;
    let small = layout.text.character_size.height.min(13).cast_signed();
    letter(&mut paint, layout.text, at + Point::new(2, -small), self.around.0, BinaryColor::On)?;
    letter(&mut paint, layout.text, at + Point::new(2, high.cast_signed()), self.around.1, BinaryColor::On)?;
    Ok(extent)
});
