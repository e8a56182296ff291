//! The bundled font: how wide a text is, and which characters it has.

use std::borrow::Cow;
use std::collections::HashMap;

use krilla::text::Font;
use rustybuzz::{Face, UnicodeBuffer};

use super::PaperFault;

const REGULAR: &[u8] = include_bytes!("../../../../ui/fonts/AtkinsonHyperlegibleNext_400Regular.ttf");
const BOLD: &[u8] = include_bytes!("../../../../ui/fonts/AtkinsonHyperlegibleNext_700Bold.ttf");

/// Words whose width is kept.
const KEPT: usize = 20_000;

/// One face: for measuring, and for drawing.
struct Cut {
    face: Face<'static>,
    font: Font,
    widths: HashMap<String, f32>,
}

impl Cut {
    fn new(bytes: &'static [u8]) -> Result<Cut, PaperFault> {
        let face = Face::from_slice(bytes, 0).ok_or(PaperFault::Font)?;
        let font = Font::new(bytes.to_vec().into(), 0).ok_or(PaperFault::Font)?;
        Ok(Cut { face, font, widths: HashMap::new() })
    }

    /// Width as a share of the size.
    fn width(&mut self, text: &str) -> f32 {
        if let Some(width) = self.widths.get(text) {
            return *width;
        }
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(&self.face, &[], buffer);
        let advance: i32 = shaped.glyph_positions().iter().map(|glyph| glyph.x_advance).sum();
        let width = advance as f32 / self.face.units_per_em() as f32;
        if self.widths.len() >= KEPT {
            self.widths.clear();
        }
        self.widths.insert(text.to_owned(), width);
        width
    }
}

/// Both faces.
pub(super) struct Fonts {
    regular: Cut,
    bold: Cut,
}

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Style {
    /// Points.
    pub(super) size: f32,
    /// Bold.
    pub(super) bold: bool,
}

impl Fonts {
    /// The bundled faces.
    pub(super) fn new() -> Result<Fonts, PaperFault> {
        Ok(Fonts { regular: Cut::new(REGULAR)?, bold: Cut::new(BOLD)? })
    }

    /// For drawing.
    pub(super) fn font(&self, bold: bool) -> Font {
        if bold { self.bold.font.clone() } else { self.regular.font.clone() }
    }

    fn width(&mut self, text: &str, style: Style) -> f32 {
        let cut = if style.bold { &mut self.bold } else { &mut self.regular };
        cut.width(text) * style.size
    }

    /// A text with what the font has: controls and line ends are spaces, other characters without a glyph stand as their
    /// number, `[U+4E2D]`.
    pub(super) fn covered<'t>(&self, text: &'t str) -> Cow<'t, str> {
        let has = |c: char| !c.is_control() && self.regular.face.glyph_index(c).is_some();
        if text.chars().all(|c| has(c) && self.bold.face.glyph_index(c).is_some()) {
            return Cow::Borrowed(text);
        }
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            match c {
                c if c.is_control() => out.push(' '),
                c if has(c) && self.bold.face.glyph_index(c).is_some() => out.push(c),
                c => out.push_str(&format!("[U+{:04X}]", u32::from(c))),
            }
        }
        Cow::Owned(out)
    }

    /// A text in lines no wider than `width` points; a word that is wider is divided. An empty text is no line.
    pub(super) fn wrap(&mut self, text: &str, style: Style, width: f32) -> Vec<String> {
        let covered = self.covered(text).into_owned();
        let space = self.width(" ", style);
        let (mut lines, mut line, mut used) = (Vec::new(), String::new(), 0.0);
        for word in covered.split_whitespace() {
            for piece in self.pieces(word, style, width) {
                let wide = self.width(&piece, style);
                let joined = !line.is_empty();
                if joined && used + space + wide > width {
                    lines.push(std::mem::take(&mut line));
                    used = 0.0;
                } else if joined {
                    line.push(' ');
                    used += space;
                }
                line.push_str(&piece);
                used += wide;
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// A word, or where it is wider than a line its parts.
    fn pieces(&mut self, word: &str, style: Style, width: f32) -> Vec<String> {
        if self.width(word, style) <= width {
            return vec![word.to_owned()];
        }
        let (mut pieces, mut piece) = (Vec::new(), String::new());
        for c in word.chars() {
            piece.push(c);
            if piece.chars().count() > 1 && self.width(&piece, style) > width {
                piece.pop();
                pieces.push(std::mem::replace(&mut piece, c.to_string()));
            }
        }
        pieces.push(piece);
        pieces
    }
}
