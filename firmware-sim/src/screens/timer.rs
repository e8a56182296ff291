//! A hold or a measured time: big digits and a bar.

use core::fmt;

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;
use offshed_core::ident::TextId;

use super::screen;
use crate::names::Wording;

/// Where a measured time stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watch {
    /// Not started.
    Ready,
    /// Running.
    Runs,
    /// Stopped, not entered yet.
    Stopped,
}

/// A measured time.
pub struct Timer<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// What is timed.
    pub what: TextId,
    /// The limits, in a line.
    pub asks: &'a dyn fmt::Display,
    /// Where it stands.
    pub watch: Watch,
    /// Tenths of a second so far.
    pub tenths: u32,
    /// What the bar is full at: the least, else the most; tenths of a second.
    pub full: Option<u32>,
}

screen!(Timer, self, paint, {
    let (word, foot) = match self.watch {
        Watch::Ready => ("select starts", "select: start  left: back"),
        Watch::Runs => ("select ends", "select: end"),
        Watch::Stopped => ("select enters", "select: enter it  left: time it again"),
    };
    let mut right: crate::lines::Line = crate::lines::Line::new();
    if let Some(full) = self.full {
        // A number is shorter than a line.
        let _ = fmt::write(&mut right, format_args!("{} s", full.div_ceil(10)));
    }
    paint.bar(word, &right)?;
    paint.foot(foot)?;
    let layout = paint.layout;
    let above = layout.rows.saturating_sub(4).clamp(1, 4);
    let mut column = paint.column(0, 0);
    column.within(above);
    if layout.rows > 6 {
        column.words(format_args!("{}", Wording { texts: self.texts, id: self.what }));
    }
    column.words(format_args!("{}", self.asks));
    let extent = column.done()?;
    let area = layout.rows_from(above);
    let bar = layout.row(0).size.height * 2 / 3;
    let mut digits: heapless::String<16> = heapless::String::new();
    // Nine digits and a point have room.
    let _ = fmt::write(&mut digits, format_args!("{}.{}", self.tenths / 10, self.tenths % 10));
    let high = area.size.height.saturating_sub(bar + 4);
    paint.digits(
        Rectangle::new(area.top_left + Point::new(2, 1), Size::new(area.size.width.saturating_sub(4), high)),
        &digits,
        None,
    )?;
    let top = area.top_left + Point::new(1, (high + 3).cast_signed());
    let width = area.size.width.saturating_sub(2);
    let frame = Rectangle::new(top, Size::new(width, bar));
    paint.fill(frame, BinaryColor::On)?;
    paint.fill(frame.offset(-1), BinaryColor::Off)?;
    let done = self.full.filter(|full| *full > 0).map_or(0, |full| {
        let share = u64::from(width.saturating_sub(4)) * u64::from(self.tenths.min(full)) / u64::from(full);
        u32::try_from(share).unwrap_or(0)
    });
    paint.fill(Rectangle::new(top + Point::new(2, 2), Size::new(done, bar.saturating_sub(4))), BinaryColor::On)?;
    Ok(extent)
});
