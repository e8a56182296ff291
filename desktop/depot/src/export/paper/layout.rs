//! From items to pages: lines of text, each with its place and with what it is, and rules between them.

use super::font::{Fonts, Style};
use super::{Item, Paper, Row, Table};

/// A4, points.
pub(super) const WIDTH: f32 = 595.28;
/// A4, points.
pub(super) const HEIGHT: f32 = 841.89;
/// The margin on the left and right.
pub(super) const MARGIN: f32 = 42.5;
/// Where content begins.
const TOP: f32 = 68.0;
/// Where it ends.
const BOTTOM: f32 = 768.0;
/// Between the edge of a cell and its text.
const PAD: f32 = 3.0;
/// From line to line, as a share of the size.
const LEADING: f32 = 1.32;

const TITLE: Style = Style { size: 17.0, bold: true };
const HEADING: Style = Style { size: 11.5, bold: true };
const BODY: Style = Style { size: 9.0, bold: false };
const STRONG: Style = Style { size: 9.0, bold: true };
const CELL: Style = Style { size: 8.2, bold: false };
const CELL_STRONG: Style = Style { size: 8.2, bold: true };

/// What a piece of text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Section,
    Heading(u16),
    Paragraph,
    Table,
    Row,
    ColumnHead,
    RowHead,
    Cell,
}

/// A node of the document's structure; the first is its root.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Part {
    pub(super) role: Role,
    pub(super) within: usize,
}

/// Something on a page.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Mark {
    /// A line of text, its base line at `y`; `of` is its part of the structure, `None` repeats what stood before.
    Line { x: f32, y: f32, style: Style, text: String, of: Option<usize> },
    /// A rule.
    Rule { x: f32, y: f32, to_x: f32, to_y: f32, weight: f32 },
}

/// A paper laid out.
pub(super) struct Laid {
    pub(super) pages: Vec<Vec<Mark>>,
    pub(super) parts: Vec<Part>,
}

/// Lays a paper out.
pub(super) fn layout(paper: &Paper, fonts: &mut Fonts) -> Laid {
    let root = Part { role: Role::Section, within: 0 };
    let mut layout = Layout { fonts, pages: vec![Vec::new()], parts: vec![root], y: TOP };
    layout.lines(&paper.title, TITLE, Role::Heading(1));
    layout.y += 4.0;
    for item in &paper.items {
        layout.item(item);
    }
    Laid { pages: layout.pages, parts: layout.parts }
}

struct Layout<'f> {
    fonts: &'f mut Fonts,
    pages: Vec<Vec<Mark>>,
    parts: Vec<Part>,
    y: f32,
}

impl Layout<'_> {
    fn part(&mut self, role: Role, within: usize) -> usize {
        self.parts.push(Part { role, within });
        self.parts.len() - 1
    }

    fn mark(&mut self, mark: Mark) {
        if let Some(page) = self.pages.last_mut() {
            page.push(mark);
        }
    }

    fn turn(&mut self) {
        self.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Turns the page where less than this is left on it.
    fn room(&mut self, points: f32) {
        if self.y + points > BOTTOM && self.y > TOP {
            self.turn();
        }
    }

    fn item(&mut self, item: &Item) {
        match item {
            Item::Heading(text) => {
                // A heading does not stand alone at the foot of a page.
                self.room(64.0);
                self.y += 9.0;
                self.lines(text, HEADING, Role::Heading(2));
                self.y += 1.0;
            }
            Item::Text(text) => self.lines(text, BODY, Role::Paragraph),
            Item::Boxed(text) => self.boxed(text),
            Item::Fields(fields) => self.fields(fields),
            Item::Table(table) => self.table(table),
        }
    }

    fn lines(&mut self, text: &str, style: Style, role: Role) {
        let lines = self.fonts.wrap(text, style, WIDTH - 2.0 * MARGIN);
        if lines.is_empty() {
            return;
        }
        let of = self.part(role, 0);
        for line in spaced(lines) {
            self.room(style.size * LEADING);
            self.y += style.size * LEADING;
            self.mark(Mark::Line { x: MARGIN, y: self.y, style, text: line, of: Some(of) });
        }
        self.y += 3.0;
    }

    fn boxed(&mut self, text: &str) {
        let lines = self.fonts.wrap(text, STRONG, WIDTH - 2.0 * MARGIN - 4.0 * PAD);
        let height = lines.len() as f32 * STRONG.size * LEADING + 3.0 * PAD;
        self.room(height + 4.0);
        let (top, of) = (self.y + 2.0, self.part(Role::Paragraph, 0));
        self.frame(top, height);
        for (n, text) in spaced(lines).into_iter().enumerate() {
            let y = top + PAD + (n + 1) as f32 * STRONG.size * LEADING - 1.0;
            self.mark(Mark::Line { x: MARGIN + 2.0 * PAD, y, style: STRONG, text, of: Some(of) });
        }
        self.y = top + height + 5.0;
    }

    fn frame(&mut self, top: f32, height: f32) {
        let (left, right, bottom) = (MARGIN, WIDTH - MARGIN, top + height);
        for (x, y, to_x, to_y) in [
            (left, top, right, top),
            (left, bottom, right, bottom),
            (left, top, left, bottom),
            (right, top, right, bottom),
        ] {
            self.mark(Mark::Rule { x, y, to_x, to_y, weight: 1.0 });
        }
    }

    fn fields(&mut self, fields: &[(String, String)]) {
        let table = self.part(Role::Table, 0);
        for (name, value) in fields {
            let row = self.part(Role::Row, table);
            let cells = [(name.as_str(), CELL_STRONG, Role::RowHead), (value.as_str(), CELL, Role::Cell)];
            self.row(&cells, &[0.0, 122.0, WIDTH - 2.0 * MARGIN], Some(row), 0.0);
        }
        self.y += 4.0;
    }

    fn table(&mut self, table: &Table) {
        let shares: f32 = table.columns.iter().map(|(_, share)| f32::from(*share)).sum();
        let full = WIDTH - 2.0 * MARGIN;
        let mut edges = vec![0.0];
        let mut at = 0.0;
        for (_, share) in &table.columns {
            at += full * f32::from(*share) / shares.max(1.0);
            edges.push(at);
        }
        let part = self.part(Role::Table, 0);
        self.room(46.0);
        let head = self.part(Role::Row, part);
        self.heads(table, &edges, Some(head));
        for row in &table.rows {
            self.body(table, row, &edges, part);
        }
        self.y += 4.0;
    }

    fn heads(&mut self, table: &Table, edges: &[f32], row: Option<usize>) {
        let cells: Vec<(&str, Style, Role)> =
            table.columns.iter().map(|(title, _)| (*title, CELL_STRONG, Role::ColumnHead)).collect();
        self.row(&cells, edges, row, 0.0);
        self.mark(Mark::Rule { x: MARGIN, y: self.y, to_x: WIDTH - MARGIN, to_y: self.y, weight: 0.9 });
    }

    fn body(&mut self, table: &Table, row: &Row, edges: &[f32], within: usize) {
        let style = if row.strong { CELL_STRONG } else { CELL };
        let part = self.part(Role::Row, within);
        let cells: Vec<(&str, Style, Role)> = row.cells.iter().map(|cell| (cell.as_str(), style, Role::Cell)).collect();
        let height = self.height(&cells, edges).max(f32::from(row.least));
        if self.y + height > BOTTOM && height < BOTTOM - TOP - 40.0 {
            self.turn();
            self.heads(table, edges, None);
        }
        self.row(&cells, edges, Some(part), f32::from(row.least));
    }

    fn height(&mut self, cells: &[(&str, Style, Role)], edges: &[f32]) -> f32 {
        let tallest = cells.iter().zip(edges.windows(2)).map(|((text, style, _), edge)| {
            let [from, to] = edge else { return 0.0 };
            self.fonts.wrap(text, *style, to - from - 2.0 * PAD).len() as f32 * style.size * LEADING
        });
        tallest.fold(0.0, f32::max) + 2.0 * PAD
    }

    /// Draws a row, over more pages than one where it is taller than a page.
    fn row(&mut self, cells: &[(&str, Style, Role)], edges: &[f32], row: Option<usize>, least: f32) {
        let mut wrapped = Vec::new();
        for ((text, style, role), edge) in cells.iter().zip(edges.windows(2)) {
            let [from, to] = edge else { continue };
            let mut lines = spaced(self.fonts.wrap(text, *style, to - from - 2.0 * PAD));
            if lines.is_empty() {
                // An empty cell is a cell all the same, so that columns stay what they are.
                lines.push(" ".to_owned());
            }
            let part = row.map(|row| self.part(*role, row));
            wrapped.push((*from, *style, part, lines));
        }
        let lead = cells.iter().map(|(_, style, _)| style.size * LEADING).fold(1.0, f32::max);
        let tallest = wrapped.iter().map(|(.., lines)| lines.len()).max().unwrap_or(0).max(1);
        let mut drawn = 0;
        while drawn < tallest {
            let fit = ((BOTTOM - self.y - 2.0 * PAD) / lead).floor().max(0.0) as usize;
            if fit == 0 {
                self.turn();
                continue;
            }
            let take = fit.min(tallest - drawn);
            for (from, style, part, lines) in &wrapped {
                for (n, text) in lines.iter().skip(drawn).take(take).enumerate() {
                    let y = self.y + PAD + (n + 1) as f32 * lead - lead * 0.22;
                    self.mark(Mark::Line { x: MARGIN + from + PAD, y, style: *style, text: text.clone(), of: *part });
                }
            }
            self.y += take as f32 * lead + 2.0 * PAD;
            drawn += take;
        }
        let short = least - (tallest as f32 * lead + 2.0 * PAD);
        self.y += short.max(0.0);
        self.mark(Mark::Rule { x: MARGIN, y: self.y, to_x: WIDTH - MARGIN, to_y: self.y, weight: 0.35 });
        if least > 0.0 {
            self.columns(edges, least.max(tallest as f32 * lead + 2.0 * PAD));
        }
    }

    /// Rules between the columns of a row that is to be written in.
    fn columns(&mut self, edges: &[f32], height: f32) {
        for edge in edges.iter().skip(1).take(edges.len().saturating_sub(2)) {
            let x = MARGIN + edge;
            self.mark(Mark::Rule { x, y: (self.y - height).max(TOP), to_x: x, to_y: self.y, weight: 0.35 });
        }
    }
}

/// Lines of one text: between two words there is a space, at the end of a line as well (ISO 14289-1 asks for it).
fn spaced(mut lines: Vec<String>) -> Vec<String> {
    let last = lines.len().saturating_sub(1);
    lines.iter_mut().take(last).for_each(|line| line.push(' '));
    lines
}
