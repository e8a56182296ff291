//! A value, digit by digit.

use core::fmt;

use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;
use offshed_core::units::Unit;

use super::screen;

/// A value being entered.
pub struct ReadingEntry<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// What it is a value of.
    pub title: &'a dyn fmt::Display,
    /// The limits, in a line or two.
    pub asks: &'a dyn fmt::Display,
    /// The digits as they stand; `-` for each where nothing is entered yet.
    pub digits: &'a str,
    /// The digit that the next press changes.
    pub cursor: usize,
    /// The unit.
    pub unit: Unit,
}

screen!(ReadingEntry, self, paint, {
    let _ = self.texts;
    let mut title: crate::lines::Line = crate::lines::Line::new();
    // A title longer than a line is cut on the bar as well.
    let _ = fmt::write(&mut title, format_args!("{}", self.title));
    paint.bar(&title, self.unit.symbol())?;
    paint.foot("up/down: digit  right: next  select: enter")?;
    let rows = paint.layout.rows;
    let asked = rows.saturating_sub(3).min(3);
    let mut column = paint.column(0, 0);
    column.within(asked).words(format_args!("{}", self.asks));
    let extent = column.done()?;
    // The digits keep the lower rows, whatever is asked above them.
    let area = paint.layout.rows_from(extent.lines.min(asked));
    let side = paint.layout.scale.cast_signed() * 3;
    let inner = area.size.saturating_sub(Size::new(2 * side.cast_unsigned(), side.cast_unsigned()));
    paint.digits(Rectangle::new(area.top_left + Point::new(side, side), inner), self.digits, Some(self.cursor))?;
    Ok(extent)
});
