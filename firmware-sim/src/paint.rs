//! What screens are made of: a bar, rows, a column of broken lines that can be scrolled, big digits.

use embedded_graphics::mono_font::{MonoFont, MonoTextStyle};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::{Line as Stroke, PrimitiveStyle, Rectangle};
use embedded_graphics::text::{Baseline, Text};

use crate::column::Column;
use crate::layout::Layout;
use crate::lines::Line;

/// How much a screen has to show, and how much of it stands on the display.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Extent {
    /// Lines in all.
    pub lines: usize,
    /// Lines that the display shows at once.
    pub shown: usize,
}

impl Extent {
    /// The furthest that the lines can be moved up.
    pub fn furthest(self) -> usize {
        self.lines.saturating_sub(self.shown)
    }
}

/// What is kept of a line, with two points where something was left out.
pub(crate) fn marked(kept: &str, left_out: bool) -> Line {
    let mut line = Line::new();
    // There is room: what is kept is shorter than a line by two.
    let _ = line.push_str(kept).and_then(|()| line.push_str(if left_out { ".." } else { "" }));
    line
}

/// Letters that are enlarged: what is entered letter by letter, which is ASCII.
const LARGE: &MonoFont<'static> = &embedded_graphics::mono_font::ascii::FONT_10X20;

/// A display on which each dot is a square.
struct Enlarged<'t, D> {
    target: &'t mut D,
    at: Point,
    scale: u32,
}

impl<D: DrawTarget<Color = BinaryColor>> Dimensions for Enlarged<'_, D> {
    fn bounding_box(&self) -> Rectangle {
        self.target.bounding_box()
    }
}

impl<D: DrawTarget<Color = BinaryColor>> DrawTarget for Enlarged<'_, D> {
    type Color = BinaryColor;
    type Error = D::Error;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(&mut self, pixels: I) -> Result<(), D::Error> {
        let square = Size::new(self.scale, self.scale);
        pixels.into_iter().try_for_each(|Pixel(dot, colour)| {
            let at = self.at + dot * self.scale.cast_signed();
            self.target.fill_solid(&Rectangle::new(at, square), colour)
        })
    }
}

/// A display being painted.
pub struct Paint<'t, D> {
    target: &'t mut D,
    /// Its places.
    pub layout: Layout,
}

/// `text` in at most `columns` letters, and whether something was left out.
pub(crate) fn cut(text: &str, columns: usize) -> (&str, bool) {
    match text.char_indices().nth(columns) {
        None => (text, false),
        Some(_) => {
            let keep = text.char_indices().nth(columns.saturating_sub(2)).map_or(0, |(at, _)| at);
            (text.get(..keep).unwrap_or(text).trim_end(), true)
        }
    }
}

impl<'t, D: DrawTarget<Color = BinaryColor>> Paint<'t, D> {
    /// An empty display.
    ///
    /// # Errors
    /// When the target fails, here and below.
    pub fn new(target: &'t mut D) -> Result<Paint<'t, D>, D::Error> {
        target.clear(BinaryColor::Off)?;
        let layout = Layout::of(target.bounding_box().size);
        Ok(Paint { target, layout })
    }

    /// The display itself.
    pub fn target(&mut self) -> &mut D {
        self.target
    }

    /// Fills a rectangle.
    pub fn fill(&mut self, area: Rectangle, colour: BinaryColor) -> Result<(), D::Error> {
        self.target.fill_solid(&area, colour)
    }

    /// A line of one dot.
    pub fn line(&mut self, from: Point, to: Point) -> Result<(), D::Error> {
        Stroke::new(from, to).into_styled(PrimitiveStyle::with_stroke(BinaryColor::On, 1)).draw(self.target)
    }

    /// Letters at a place.
    pub fn letters(
        &mut self,
        font: &'static MonoFont<'static>,
        at: Point,
        text: &str,
        colour: BinaryColor,
    ) -> Result<(), D::Error> {
        let style = MonoTextStyle::new(font, colour);
        Text::with_baseline(text, at, style, Baseline::Top).draw(self.target).map(|_| ())
    }

    /// The bar: a title on the left, a few letters on the right.
    pub fn bar(&mut self, title: &str, right: &str) -> Result<(), D::Error> {
        let (bar, font) = (self.layout.bar, self.layout.title);
        self.fill(bar, BinaryColor::On)?;
        let width = font.character_size.width;
        let all = (bar.size.width.saturating_sub(2) / width) as usize;
        let right_letters = right.chars().count();
        let (kept, left_out) = cut(title, all.saturating_sub(right_letters + usize::from(right_letters > 0)));
        let at = Point::new(1, (bar.size.height.saturating_sub(font.character_size.height) / 2 + 1).cast_signed());
        self.letters(font, at, kept, BinaryColor::Off)?;
        let place =
            |letters: usize| Point::new(u32::try_from(letters).unwrap_or(0).saturating_mul(width).cast_signed(), 0);
        if left_out {
            self.letters(font, at + place(kept.chars().count()), "..", BinaryColor::Off)?;
        }
        self.letters(font, at + place(all.saturating_sub(right_letters)), right, BinaryColor::Off)
    }

    /// The foot, where the display has one: what the buttons do here.
    pub fn foot(&mut self, words: &str) -> Result<(), D::Error> {
        let Some(foot) = self.layout.foot else { return Ok(()) };
        self.line(foot.top_left, foot.top_left + Point::new(foot.size.width.cast_signed(), 0))?;
        let font = self.layout.small;
        let columns = (foot.size.width.saturating_sub(2) / font.character_size.width) as usize;
        let (kept, left_out) = cut(words, columns);
        self.letters(font, foot.top_left + Point::new(1, 3), &marked(kept, left_out), BinaryColor::On)
    }

    /// Large letters at a place, each dot of them enlarged by the display's scale.
    pub fn large(&mut self, at: Point, text: &str, colour: BinaryColor) -> Result<(), D::Error> {
        let scale = self.layout.scale;
        let mut enlarged = Enlarged { target: &mut *self.target, at, scale };
        let style = MonoTextStyle::new(LARGE, colour);
        Text::with_baseline(text, Point::zero(), style, Baseline::Top).draw(&mut enlarged).map(|_| ())
    }

    /// Width and height of one large letter.
    pub fn large_size(&self) -> Size {
        LARGE.character_size * self.layout.scale
    }

    /// A column of lines in the body from row `from_row` on, its first `skip` lines scrolled away.
    pub fn column(&mut self, from_row: usize, skip: usize) -> Column<'_, 't, D> {
        Column::new(self, from_row, skip)
    }

    /// A number in digits of seven strokes that fill `area`, for reading at a distance. It holds `0` to `9`, `.`, `-`
    /// and spaces; the digit at `cursor` is underlined.
    pub fn digits(&mut self, area: Rectangle, number: &str, cursor: Option<usize>) -> Result<(), D::Error> {
        let letters = u32::try_from(number.chars().count()).unwrap_or(u32::MAX).max(1);
        let pitch = (area.size.width / letters).min(area.size.height * 3 / 4);
        let under = 3 * self.layout.scale;
        let high = area.size.height.saturating_sub(if cursor.is_some() { 2 * under } else { 0 });
        let digit = Size::new(pitch.saturating_sub(pitch / 4), high);
        let left = (area.size.width.saturating_sub(pitch * letters) / 2).cast_signed();
        for (n, letter) in (0..).zip(number.chars()) {
            let at = area.top_left + Point::new(left + n * pitch.cast_signed(), 0);
            self.digit(Rectangle::new(at, digit), letter)?;
            if cursor.and_then(|c| i32::try_from(c).ok()) == Some(n) {
                let below = at + Point::new(0, (high + under).cast_signed());
                self.fill(Rectangle::new(below, Size::new(digit.width, under)), BinaryColor::On)?;
            }
        }
        Ok(())
    }

    fn digit(&mut self, area: Rectangle, letter: char) -> Result<(), D::Error> {
        let Size { width, height } = area.size;
        let thick = (height / 7).clamp(2, (width / 3).max(2));
        let half = height / 2;
        let at = |x: u32, y: u32| area.top_left + Point::new(x.cast_signed(), y.cast_signed());
        let right = width.saturating_sub(thick);
        let strokes = [
            Rectangle::new(at(0, 0), Size::new(width, thick)),
            Rectangle::new(at(right, 0), Size::new(thick, half)),
            Rectangle::new(at(right, half), Size::new(thick, height - half)),
            Rectangle::new(at(0, height.saturating_sub(thick)), Size::new(width, thick)),
            Rectangle::new(at(0, half), Size::new(thick, height - half)),
            Rectangle::new(at(0, 0), Size::new(thick, half)),
            Rectangle::new(at(0, half.saturating_sub(thick / 2)), Size::new(width, thick)),
            Rectangle::new(at(width.saturating_sub(thick) / 2, height.saturating_sub(thick)), Size::new(thick, thick)),
        ];
        let lit = strokes_of(letter);
        let mut lit_strokes = (0..).zip(strokes).filter(|(n, _)| lit & (1u8 << n) != 0);
        lit_strokes.try_for_each(|(_, stroke)| self.fill(stroke, BinaryColor::On))
    }
}

/// The strokes of a digit: top, upper right, lower right, bottom, lower left, upper left, middle, point.
fn strokes_of(letter: char) -> u8 {
    match letter {
        '0' => 0b011_1111,
        '1' => 0b000_0110,
        '2' => 0b101_1011,
        '3' => 0b100_1111,
        '4' => 0b110_0110,
        '5' => 0b110_1101,
        '6' => 0b111_1101,
        '7' => 0b000_0111,
        '8' => 0b111_1111,
        '9' => 0b110_1111,
        '-' => 0b100_0000,
        '.' => 0b1000_0000,
        _ => 0,
    }
}

/// The mark at the right edge: which share of the whole is in sight, and where.
pub fn mark<D: DrawTarget<Color = BinaryColor>>(
    paint: &mut Paint<'_, D>,
    area: Rectangle,
    (skip, shown, all): (usize, usize, usize),
) -> Result<(), D::Error> {
    let height = area.size.height as usize;
    let all = all.max(1);
    let (top, high) = (skip.min(all) * height / all, (shown.min(all) * height / all).max(4));
    let right = area.size.width.saturating_sub(1).cast_signed();
    let at = |y: usize| Point::new(right, area.top_left.y + i32::try_from(y).unwrap_or(0));
    paint.line(at(0), at(height.saturating_sub(1)))?;
    let width = paint.layout.margin().saturating_sub(1);
    let size = Size::new(width, u32::try_from(high).unwrap_or(0));
    let thumb = Rectangle::new(at(top) - Point::new(width.cast_signed() - 1, 0), size);
    paint.fill(thumb, BinaryColor::On)
}

/// A display of a size that shows nothing: tells how much a screen has to show.
#[derive(Clone, Copy, Debug)]
pub struct Blank(pub Size);

impl OriginDimensions for Blank {
    fn size(&self) -> Size {
        self.0
    }
}

impl DrawTarget for Blank {
    type Color = BinaryColor;
    type Error = core::convert::Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(&mut self, _: I) -> Result<(), Self::Error> {
        Ok(())
    }

    fn fill_contiguous<I>(&mut self, _: &Rectangle, _: I) -> Result<(), Self::Error>
    where
        I: IntoIterator<Item = BinaryColor>,
    {
        Ok(())
    }

    fn fill_solid(&mut self, _: &Rectangle, _: BinaryColor) -> Result<(), Self::Error> {
        Ok(())
    }
}
