//! The display: 128 by 64 dots behind an SSD0323, of whose sixteen greys two are used.

use core::convert::Infallible;

use embedded_graphics::Pixel;
use embedded_graphics::geometry::{OriginDimensions, Point, Size};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use embedded_graphics::primitives::Rectangle;

use super::spi::{Listener, exchange, select};
use super::{PORT_C, Port};

/// Dots across, and down.
pub const SIZE: Size = Size::new(128, 64);
const WIDTH: usize = 128;
const HEIGHT: usize = 64;
/// High: what is sent is data; low: a command.
const DATA: u8 = 0x80;
const MODE: Port = PORT_C;
/// Column and row addresses from first to last: two dots a column.
const WHOLE: [u8; 6] = [0x15, 0x00, 0x3f, 0x75, 0x00, 0x3f];

pub(super) fn start() {
    MODE.outputs(DATA);
}

/// What is to be shown: one bit a dot, row by row, the leftmost the lowest bit of a word.
pub struct Oled {
    dots: [[u32; WIDTH / 32]; HEIGHT],
    drawn: bool,
}

impl Default for Oled {
    fn default() -> Self {
        Oled { dots: [[0; WIDTH / 32]; HEIGHT], drawn: true }
    }
}

impl Oled {
    /// Shows what was drawn, if anything was since the last time; says whether it did.
    pub fn show(&mut self) -> bool {
        if !core::mem::take(&mut self.drawn) {
            return false;
        }
        select(Listener::Display);
        MODE.set(DATA, false);
        for command in WHOLE {
            exchange(command);
        }
        MODE.set(DATA, true);
        for word in self.dots.iter().flatten() {
            let mut word = *word;
            for _ in 0..16 {
                // The left dot is the higher half of a byte.
                exchange([0x00, 0xf0, 0x0f, 0xff][(word & 3) as usize]);
                word >>= 2;
            }
        }
        true
    }

    fn put(&mut self, x: usize, y: usize, lit: bool) {
        if let Some(word) = self.dots.get_mut(y).and_then(|row| row.get_mut(x / 32)) {
            let bit = 1 << (x % 32);
            *word = if lit { *word | bit } else { *word & !bit };
        }
    }

    /// Dots `from` to `to` of a row, the last not among them.
    fn run(&mut self, y: usize, from: usize, to: usize, lit: bool) {
        let Some(row) = self.dots.get_mut(y) else { return };
        for (n, word) in row.iter_mut().enumerate() {
            let (start, end) = (from.max(n * 32), to.min(n * 32 + 32));
            if start < end {
                let ones = u32::MAX >> (32 - (end - start)) << (start - n * 32);
                *word = if lit { *word | ones } else { *word & !ones };
            }
        }
    }
}

impl OriginDimensions for Oled {
    fn size(&self) -> Size {
        SIZE
    }
}

impl DrawTarget for Oled {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(&mut self, pixels: I) -> Result<(), Infallible> {
        self.drawn = true;
        for Pixel(Point { x, y }, colour) in pixels {
            if let (Ok(x), Ok(y)) = (usize::try_from(x), usize::try_from(y)) {
                self.put(x, y, colour.is_on());
            }
        }
        Ok(())
    }

    fn fill_solid(&mut self, area: &Rectangle, colour: BinaryColor) -> Result<(), Infallible> {
        self.drawn = true;
        let edge = |at: i32, most: usize| usize::try_from(at).unwrap_or(0).min(most);
        let (left, top) = (area.top_left.x, area.top_left.y);
        let right = edge(left.saturating_add_unsigned(area.size.width), WIDTH);
        let bottom = edge(top.saturating_add_unsigned(area.size.height), HEIGHT);
        for y in edge(top, HEIGHT)..bottom {
            self.run(y, edge(left, WIDTH), right, colour.is_on());
        }
        Ok(())
    }
}
