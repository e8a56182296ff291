//! Any display behind one type: screens are compiled once, however many kinds of display they are drawn on.

use core::convert::Infallible;

use embedded_graphics::Pixel;
use embedded_graphics::geometry::{Dimensions, Point};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use embedded_graphics::primitives::Rectangle;

/// What a display does; it goes on after a failure, and tells the first at the end.
trait Dots {
    fn bounds(&self) -> Rectangle;
    fn put(&mut self, at: Point, colour: BinaryColor);
    fn fill(&mut self, area: &Rectangle, colour: BinaryColor);
}

/// A display and its first failure.
struct Noted<'t, D: DrawTarget> {
    target: &'t mut D,
    failed: Option<D::Error>,
}

impl<D: DrawTarget<Color = BinaryColor>> Noted<'_, D> {
    fn note(&mut self, done: Result<(), D::Error>) {
        if let (Err(failed), None) = (done, &self.failed) {
            self.failed = Some(failed);
        }
    }
}

impl<D: DrawTarget<Color = BinaryColor>> Dots for Noted<'_, D> {
    fn bounds(&self) -> Rectangle {
        self.target.bounding_box()
    }

    fn put(&mut self, at: Point, colour: BinaryColor) {
        let done = self.target.draw_iter([Pixel(at, colour)]);
        self.note(done);
    }

    fn fill(&mut self, area: &Rectangle, colour: BinaryColor) {
        let done = self.target.fill_solid(area, colour);
        self.note(done);
    }
}

/// Any display.
pub(crate) struct AnyDisplay<'d>(&'d mut dyn Dots);

/// Lets `draw` draw on `target`.
///
/// # Errors
/// The display's first failure.
pub(crate) fn drawn<D, T>(
    target: &mut D,
    draw: impl FnOnce(&mut AnyDisplay<'_>) -> Result<T, Infallible>,
) -> Result<T, D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let mut noted = Noted { target, failed: None };
    let Ok(drawn) = draw(&mut AnyDisplay(&mut noted));
    noted.failed.map_or(Ok(drawn), Err)
}

impl Dimensions for AnyDisplay<'_> {
    fn bounding_box(&self) -> Rectangle {
        self.0.bounds()
    }
}

impl DrawTarget for AnyDisplay<'_> {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(&mut self, pixels: I) -> Result<(), Infallible> {
        pixels.into_iter().for_each(|Pixel(at, colour)| self.0.put(at, colour));
        Ok(())
    }

    fn fill_solid(&mut self, area: &Rectangle, colour: BinaryColor) -> Result<(), Infallible> {
        self.0.fill(area, colour);
        Ok(())
    }
}
