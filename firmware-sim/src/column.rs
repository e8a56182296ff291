//! Lines one under another, broken between words, of which a display shows a window.

use core::fmt::{self, Write};

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;
use offshed_core::ident::TextId;
use offshed_core::pack::Texts;

use crate::flow::Flow;
use crate::glyphs::Glyph;
use crate::lines::lines;
use crate::paint::{Extent, Paint, cut, mark, marked};

/// Lines one under another, of which the display shows a window.
pub struct Column<'p, 't, D: DrawTarget<Color = BinaryColor>> {
    paint: &'p mut Paint<'t, D>,
    from_row: usize,
    rows: usize,
    skip: usize,
    lines: usize,
    failed: Option<D::Error>,
    inverse: bool,
    /// A thin line stands over the next line.
    ruled: bool,
    /// Stands before the next line; lines after it stand clear of it.
    glyph: Option<(Glyph, bool)>,
}

impl<'p, 't, D: DrawTarget<Color = BinaryColor>> Column<'p, 't, D> {
    pub(crate) fn new(paint: &'p mut Paint<'t, D>, from_row: usize, skip: usize) -> Column<'p, 't, D> {
        let rows = paint.layout.rows.saturating_sub(from_row);
        let (lines, failed, glyph) = (0, None, None);
        Column { paint, from_row, rows, skip, lines, failed, inverse: false, ruled: false, glyph }
    }

    /// Lines written from here on stand dark on light.
    pub fn inverse(&mut self, on: bool) -> &mut Self {
        self.inverse = on;
        self
    }

    /// Lines written from here on stand clear of a small picture before the first of them.
    pub fn glyph(&mut self, glyph: Option<Glyph>) -> &mut Self {
        self.glyph = glyph.map(|g| (g, false));
        self
    }

    fn columns(&self) -> usize {
        let layout = &self.paint.layout;
        if self.glyph.is_some() { layout.glyph_columns() } else { layout.text_columns() }
    }

    /// The place in the body of the next line; `None`: not in sight.
    fn next_row(&mut self) -> Option<usize> {
        let n = self.lines;
        self.lines += 1;
        n.checked_sub(self.skip).filter(|row| *row < self.rows).map(|row| row + self.from_row)
    }

    fn put(&mut self, line: &str) {
        let Some(row) = self.next_row() else {
            self.glyph = self.glyph.map(|(g, _)| (g, true));
            self.ruled = false;
            return;
        };
        let drawn = self.draw(row, line);
        if let Err(error) = drawn {
            self.failed.get_or_insert(error);
        }
    }

    fn draw(&mut self, row: usize, line: &str) -> Result<(), D::Error> {
        let layout = self.paint.layout;
        let mut area = layout.row(row);
        area.size.width = area.size.width.saturating_sub(layout.margin());
        let (ink, ground) =
            if self.inverse { (BinaryColor::Off, BinaryColor::On) } else { (BinaryColor::On, BinaryColor::Off) };
        self.paint.fill(area, ground)?;
        if core::mem::take(&mut self.ruled) {
            let right = Point::new(area.size.width.saturating_sub(1).cast_signed(), 0);
            self.paint.line(area.top_left, area.top_left + right)?;
        }
        let mut at = area.top_left + Point::new(0, (layout.scale - 1).cast_signed());
        if let Some((glyph, placed)) = self.glyph {
            if !placed {
                glyph.draw(self.paint.target(), at + Point::new(0, layout.scale.cast_signed()), layout.scale, ink)?;
            }
            self.glyph = Some((glyph, true));
            at += Point::new(layout.glyph_width().cast_signed(), 0);
        }
        self.paint.letters(layout.text, at, line, ink)
    }

    /// A sentence, broken between words.
    pub fn words(&mut self, words: fmt::Arguments<'_>) -> &mut Self {
        let mut flow = Flow::new(self.columns(), |line: &str| self.put(line));
        // Breaking lines does not fail.
        let _ = flow.write_fmt(words);
        flow.finish();
        self
    }

    /// A text of the pack, broken between words; nothing where there is none.
    pub fn pack_text<T: Texts + ?Sized>(&mut self, texts: &T, id: TextId) -> &mut Self {
        for line in lines(texts, id, self.columns()) {
            self.put(&line);
        }
        self
    }

    /// A text of the pack in one line, two points for what does not fit.
    pub fn pack_line<T: Texts + ?Sized>(&mut self, texts: &T, id: TextId) -> &mut Self {
        let columns = self.columns();
        let mut found = lines(texts, id, columns);
        let (first, more) = (found.next().unwrap_or_default(), found.next().is_some());
        let (kept, _) = cut(&first, if more { columns.saturating_sub(2) } else { columns });
        self.put_cut(kept, more);
        self
    }

    /// One line, two points for what does not fit.
    pub fn cut_line(&mut self, text: &str) -> &mut Self {
        let (kept, left_out) = cut(text, self.columns());
        self.put_cut(kept, left_out);
        self
    }

    fn put_cut(&mut self, kept: &str, left_out: bool) {
        self.put(&marked(kept, left_out));
    }

    /// A thin line over the next line; nothing at the top.
    pub fn rule(&mut self) -> &mut Self {
        self.ruled = self.lines > 0;
        self
    }

    /// Lines written so far.
    pub fn lines(&self) -> usize {
        self.lines
    }

    /// Whether the last line in sight has been written.
    pub fn is_full(&self) -> bool {
        self.lines >= self.skip + self.rows
    }

    /// Draws the mark that says how far the lines are scrolled, and answers how many there are.
    ///
    /// # Errors
    /// When the target failed meanwhile.
    pub fn scrolled(self) -> Result<Extent, D::Error> {
        let Column { paint, from_row, rows, skip, lines, failed, .. } = self;
        if let Some(error) = failed {
            return Err(error);
        }
        let extent = Extent { lines, shown: rows };
        if lines > rows {
            mark(paint, paint.layout.rows_from(from_row), (skip, rows, lines))?;
        }
        Ok(extent)
    }

    /// No more than so many rows; where more is written, two points stand at the end of the last.
    pub fn within(&mut self, rows: usize) -> &mut Self {
        self.rows = self.rows.min(rows);
        self
    }

    /// Ends the column without a mark; two points stand for what is below the last row.
    ///
    /// # Errors
    /// When the target failed meanwhile.
    pub fn done(self) -> Result<Extent, D::Error> {
        let Column { paint, from_row, rows, skip, lines, failed, inverse, .. } = self;
        if let Some(error) = failed {
            return Err(error);
        }
        if lines > skip + rows {
            let layout = paint.layout;
            let row = layout.row(from_row + rows.saturating_sub(1));
            let width = 2 * layout.text.character_size.width + 1;
            let left = row.size.width.saturating_sub(layout.margin() + width).cast_signed();
            let at = row.top_left + Point::new(left, 0);
            let (ink, ground) =
                if inverse { (BinaryColor::Off, BinaryColor::On) } else { (BinaryColor::On, BinaryColor::Off) };
            paint.fill(Rectangle::new(at, Size::new(width, row.size.height)), ground)?;
            let down = Point::new(1, (layout.scale - 1).cast_signed());
            paint.letters(layout.text, at + down, "..", ink)?;
        }
        Ok(Extent { lines, shown: rows })
    }
}

/// Lines that a text of a pack takes.
pub fn lines_of<T: Texts + ?Sized>(texts: &T, id: TextId, columns: usize) -> usize {
    lines(texts, id, columns).count()
}

/// Lines that a sentence takes.
pub fn rows_of(words: fmt::Arguments<'_>, columns: usize) -> usize {
    let mut count = 0;
    let mut flow = Flow::new(columns, |_: &str| count += 1);
    // Breaking lines does not fail.
    let _ = flow.write_fmt(words);
    flow.finish();
    count
}

/// How many of the rows before a chosen one are passed over, so that all of the chosen one stands on the display.
pub fn before(above: usize, wanted: usize, rows: usize) -> usize {
    (above + wanted).saturating_sub(rows).min(above)
}
