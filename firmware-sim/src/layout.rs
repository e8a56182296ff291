//! Where things stand on a display: rectangles from the display's size alone. The only arithmetic of pixels.
//!
//! From 128 by 64 to 400 by 240: a bar with a title, a body of whole rows, and, where there is height for it, a foot that
//! says what the buttons do.

use embedded_graphics::mono_font::MonoFont;
use embedded_graphics::mono_font::iso_8859_1 as latin;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;

/// Height from which a display has a foot.
const FOOT_FROM: u32 = 160;
/// Most rows that any display within the range has: those of 240 pixels with the smallest letters.
pub const MOST_ROWS: usize = 16;

/// Letters of one display: of its text, of its titles, of its foot.
#[derive(Clone, Copy)]
struct Letters {
    /// Narrowest display that they suit.
    from_width: u32,
    text: &'static MonoFont<'static>,
    title: &'static MonoFont<'static>,
    small: &'static MonoFont<'static>,
    /// Times that small pictures are enlarged.
    scale: u32,
}

/// From the widest display down. At a finger's breadth per ten letters a display is read at arm's length.
#[cfg(feature = "tall")]
const LETTERS: [Letters; 4] = [
    Letters {
        from_width: 360,
        text: &latin::FONT_10X20,
        title: &latin::FONT_10X20,
        small: &latin::FONT_7X13,
        scale: 2,
    },
    Letters {
        from_width: 240,
        text: &latin::FONT_9X18,
        title: &latin::FONT_9X18_BOLD,
        small: &latin::FONT_6X13,
        scale: 2,
    },
    Letters {
        from_width: 160,
        text: &latin::FONT_7X13,
        title: &latin::FONT_7X13_BOLD,
        small: &latin::FONT_6X10,
        scale: 1,
    },
    Letters { from_width: 0, text: &latin::FONT_6X10, title: &latin::FONT_6X10, small: &latin::FONT_6X10, scale: 1 },
];

/// A device with a small display alone carries no larger letters.
#[cfg(not(feature = "tall"))]
const LETTERS: [Letters; 1] =
    [Letters { from_width: 0, text: &latin::FONT_6X10, title: &latin::FONT_6X10, small: &latin::FONT_6X10, scale: 1 }];

/// One display's places.
#[derive(Clone, Copy)]
pub struct Layout {
    /// The display.
    pub size: Size,
    /// Letters of text.
    pub text: &'static MonoFont<'static>,
    /// Letters of the foot.
    pub small: &'static MonoFont<'static>,
    /// Letters of titles.
    pub title: &'static MonoFont<'static>,
    /// Times that small pictures are enlarged.
    pub scale: u32,
    /// The bar on top.
    pub bar: Rectangle,
    /// What is under the bar and over the foot.
    pub body: Rectangle,
    /// The foot, where there is height for it.
    pub foot: Option<Rectangle>,
    /// Rows of the body.
    pub rows: usize,
    /// Height of a row.
    pitch: u32,
}

impl Layout {
    /// The places of a display of this size.
    pub fn of(size: Size) -> Layout {
        let [.., smallest] = LETTERS;
        let letters = LETTERS.into_iter().find(|l| size.width >= l.from_width).unwrap_or(smallest);
        let high = |font: &MonoFont<'_>| font.character_size.height;
        let lead = 2 * (letters.scale - 1);
        let bar = Rectangle::new(Point::zero(), Size::new(size.width, high(letters.title) + 1 + lead));
        let pitch = high(letters.text) + lead;
        let foot_height = if size.height >= FOOT_FROM { pitch + lead } else { 0 };
        let top = bar.size.height + 1;
        let body_height = size.height.saturating_sub(top + foot_height);
        let body = Rectangle::new(Point::new(0, top.cast_signed()), Size::new(size.width, body_height));
        let foot_top = Point::new(0, size.height.saturating_sub(foot_height).cast_signed());
        Layout {
            size,
            text: letters.text,
            small: letters.small,
            title: letters.title,
            scale: letters.scale,
            bar,
            body,
            foot: (foot_height > 0).then(|| Rectangle::new(foot_top, Size::new(size.width, foot_height))),
            rows: ((body_height / pitch) as usize).clamp(1, MOST_ROWS),
            pitch,
        }
    }

    /// Row `n` of the body, from 0; what is beyond the last row lies outside the body.
    pub fn row(&self, n: usize) -> Rectangle {
        let down = u32::try_from(n).unwrap_or(u32::MAX).saturating_mul(self.pitch);
        let top = self.body.top_left + Point::new(0, i32::try_from(down).unwrap_or(i32::MAX / 2));
        Rectangle::new(top, Size::new(self.size.width, self.pitch))
    }

    /// Rows `first` to the last one of the body as one rectangle.
    pub fn rows_from(&self, first: usize) -> Rectangle {
        let top = self.row(first).top_left;
        let bottom = self.body.top_left.y + self.body.size.height.cast_signed();
        Rectangle::new(top, Size::new(self.size.width, (bottom - top.y).max(0).cast_unsigned()))
    }

    /// The middle of the body's row `n` from left to right.
    pub fn middle(&self, n: usize) -> Point {
        self.row(n).center()
    }

    /// Width that the scroll mark at the right edge keeps free.
    pub fn margin(&self) -> u32 {
        4 * self.scale
    }

    /// Width of a small picture and the space behind it.
    pub fn glyph_width(&self) -> u32 {
        9 * self.scale + 1
    }

    /// Letters of text in a width.
    pub fn columns(&self, width: u32) -> usize {
        (width / self.text.character_size.width.max(1)) as usize
    }

    /// Letters of text in a row, beside the scroll mark.
    pub fn text_columns(&self) -> usize {
        self.columns(self.size.width.saturating_sub(self.margin()))
    }

    /// Letters of text in a row that begins with a small picture.
    pub fn glyph_columns(&self) -> usize {
        self.columns(self.size.width.saturating_sub(self.margin() + self.glyph_width()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_lies_within_the_display_and_nothing_overlaps() {
        for width in 128..=400 {
            for height in 64..=240 {
                let layout = Layout::of(Size::new(width, height));
                let bottom = |r: Rectangle| r.bottom_right().map_or(r.top_left.y, |p| p.y);
                assert!(bottom(layout.bar) < layout.body.top_left.y);
                let last = layout.row(layout.rows - 1);
                assert!(bottom(last) <= bottom(layout.body), "{width}x{height}");
                assert!(layout.text_columns() >= 20, "{width}x{height}");
                assert!(layout.text_columns() <= crate::lines::COLUMNS, "{width}x{height}");
                if let Some(foot) = layout.foot {
                    assert!(bottom(layout.body) < foot.top_left.y && bottom(foot) < height as i32);
                }
            }
        }
        assert_eq!(Layout::of(Size::new(128, 64)).rows, 5);
    }
}
