//! A display in memory, and its PNG.

use std::convert::Infallible;
use std::fs::File;
use std::io::{self, BufWriter};
use std::path::Path;

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;

/// A display of one colour.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Canvas {
    size: Size,
    dots: Vec<bool>,
}

impl Canvas {
    /// A dark display.
    pub(crate) fn new(size: Size) -> Canvas {
        Canvas { size, dots: vec![false; (size.width * size.height) as usize] }
    }

    /// A display with these dots lit, row by row from the upper left.
    pub(crate) fn of(size: Size, dots: impl Iterator<Item = bool>) -> Canvas {
        Canvas { size, dots: dots.take((size.width * size.height) as usize).collect() }
    }

    /// Whether a dot is lit; none is outside.
    pub(crate) fn is_lit(&self, at: Point) -> bool {
        self.place(at).is_some_and(|n| self.dots[n])
    }

    /// Dots that are lit.
    pub(crate) fn lit(&self) -> usize {
        self.dots.iter().filter(|dot| **dot).count()
    }

    fn place(&self, at: Point) -> Option<usize> {
        let (x, y) = (u32::try_from(at.x).ok()?, u32::try_from(at.y).ok()?);
        (x < self.size.width && y < self.size.height).then(|| (y * self.size.width + x) as usize)
    }

    /// Writes it as a PNG of two greys, each dot a square of `scale`: lit dots are dark, as ink on a pale display.
    ///
    /// # Errors
    /// When the file can't be written.
    pub(crate) fn write_png(&self, path: &Path, scale: u32) -> io::Result<()> {
        let mut encoder =
            png::Encoder::new(BufWriter::new(File::create(path)?), self.size.width * scale, self.size.height * scale);
        encoder.set_color(png::ColorType::Grayscale);
        encoder.set_depth(png::BitDepth::One);
        let row_bytes = (self.size.width * scale).div_ceil(8) as usize;
        let mut bytes = vec![0xff; row_bytes * (self.size.height * scale) as usize];
        for y in 0..self.size.height * scale {
            for x in 0..self.size.width * scale {
                let lit = self.is_lit(Point::new((x / scale) as i32, (y / scale) as i32));
                if lit {
                    bytes[y as usize * row_bytes + (x / 8) as usize] &= !(0x80 >> (x % 8));
                }
            }
        }
        let mut writer = encoder.write_header()?;
        Ok(writer.write_image_data(&bytes)?)
    }
}

impl OriginDimensions for Canvas {
    fn size(&self) -> Size {
        self.size
    }
}

impl DrawTarget for Canvas {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(&mut self, pixels: I) -> Result<(), Infallible> {
        for Pixel(at, colour) in pixels {
            if let Some(n) = self.place(at) {
                self.dots[n] = colour.is_on();
            }
        }
        Ok(())
    }
}
