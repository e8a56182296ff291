//! Small pictures of eight by eight dots: how a step stands, told without colour by a shape of its own.

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;

/// A small picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Glyph(pub [u8; 8]);

/// An empty box: to be done.
pub const BOX: Glyph = Glyph([0xff, 0x81, 0x81, 0x81, 0x81, 0x81, 0x81, 0xff]);
/// A box half full: under way.
pub const HALF: Glyph = Glyph([0xff, 0x81, 0x81, 0x81, 0xff, 0xff, 0xff, 0xff]);
/// A padlock: it waits.
pub const LOCK: Glyph = Glyph([0x3c, 0x42, 0x42, 0xff, 0xe7, 0xe7, 0xff, 0xff]);
/// A tick: proven.
pub const TICK: Glyph = Glyph([0x00, 0x01, 0x03, 0x06, 0x8c, 0xd8, 0x70, 0x20]);
/// A tick underlined: proven, and something is to be watched.
pub const WARNED: Glyph = Glyph([0x01, 0x03, 0x06, 0x8c, 0xd8, 0x70, 0x00, 0xff]);
/// A circle with a hand that has run: no longer alive.
pub const GONE: Glyph = Glyph([0x3c, 0x52, 0x91, 0x91, 0x9d, 0x81, 0x42, 0x3c]);
/// A cross: not right.
pub const CROSS: Glyph = Glyph([0x81, 0xc3, 0x66, 0x3c, 0x3c, 0x66, 0xc3, 0x81]);
/// A box struck through: marked not applicable by a person.
pub const STRUCK: Glyph = Glyph([0xff, 0x83, 0x85, 0x89, 0x91, 0xa1, 0xc1, 0xff]);
/// A dash: it does not apply to the engine.
pub const DASH: Glyph = Glyph([0x00, 0x00, 0x00, 0x7e, 0x7e, 0x00, 0x00, 0x00]);
/// A triangle with a mark: mind.
pub const MIND: Glyph = Glyph([0x18, 0x18, 0x3c, 0x24, 0x66, 0x66, 0xe7, 0xff]);
/// An arrow to the right: goes on.
pub const ON: Glyph = Glyph([0x10, 0x18, 0x1c, 0x1e, 0x1e, 0x1c, 0x18, 0x10]);
/// A filled box: the engine may leave.
pub const FULL: Glyph = Glyph([0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff]);
/// A mark of asking: not known.
pub const ASK: Glyph = Glyph([0x3c, 0x66, 0x06, 0x0c, 0x18, 0x18, 0x00, 0x18]);
/// A person.
pub const PERSON: Glyph = Glyph([0x18, 0x3c, 0x3c, 0x18, 0x7e, 0xff, 0xff, 0xff]);

impl Glyph {
    /// Draws it with its upper left dot at `at`, each dot a square of `scale`.
    ///
    /// # Errors
    /// When the target fails.
    pub fn draw<D>(self, target: &mut D, at: Point, scale: u32, colour: BinaryColor) -> Result<(), D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let side = scale.cast_signed();
        for (y, row) in (0..).zip(self.0) {
            for x in (0..8).filter(|x| row & (0x80 >> x) != 0) {
                let dot = Rectangle::new(at + Point::new(x * side, y * side), Size::new(scale, scale));
                target.fill_solid(&dot, colour)?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two pictures that could be taken for each other would be one.
    #[test]
    fn every_state_has_a_shape_of_its_own() {
        let states = [BOX, HALF, LOCK, TICK, WARNED, GONE, CROSS, STRUCK, DASH];
        for (n, a) in states.iter().enumerate() {
            for b in &states[n + 1..] {
                let apart: u32 = a.0.iter().zip(b.0).map(|(x, y)| (x ^ y).count_ones()).sum();
                assert!(apart >= 6, "{a:?} {b:?}");
            }
        }
    }
}
