//! Pages as PDF/A-2a.

use std::num::NonZeroU16;

use chrono::{Datelike, Timelike};
use krilla::color::rgb;
use krilla::configure::{Configuration, Validator};
use krilla::error::KrillaError;
use krilla::geom::{PathBuilder, Point};
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    ArtifactType, ContentTag, Identifier, Node, SpanTag, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::TextDirection;
use krilla::{Document, SerializeSettings};

use super::font::{Fonts, Style};
use super::layout::{self, HEIGHT, Laid, MARGIN, Mark, Part, Role, WIDTH};
use super::{Paper, PaperFault};

const LANGUAGE: &str = "en";
const SMALL: Style = Style { size: 7.0, bold: false };
/// Lines that there is room for at the foot of a page.
const CAUTION_LINES: usize = 4;
const SMALL_BOLD: Style = Style { size: 7.5, bold: true };

/// A paper as the bytes of a file, and how many pages it has.
pub(in super::super) fn pdf(paper: &Paper) -> Result<(Vec<u8>, u32), PaperFault> {
    let mut fonts = Fonts::new()?;
    let laid = layout::layout(paper, &mut fonts);
    let settings = SerializeSettings {
        configuration: Configuration::new_with_validator(Validator::A2_A),
        ..SerializeSettings::default()
    };
    let mut document = Document::new_with(settings);
    let mut found: Vec<Vec<Identifier>> = vec![Vec::new(); laid.parts.len()];
    let running = Running::new(paper, &mut fonts, laid.pages.len());
    for (n, marks) in laid.pages.iter().enumerate() {
        let page = PageSettings::from_wh(WIDTH, HEIGHT).ok_or_else(|| odd("the size of a page"))?;
        let mut page = document.start_page_with(page);
        let mut surface = page.surface();
        for mark in marks {
            draw(&mut surface, &fonts, mark, &mut found);
        }
        running.draw(&mut surface, &fonts, n + 1);
        surface.finish();
        page.finish();
    }
    let pages = u32::try_from(laid.pages.len()).unwrap_or(u32::MAX);
    document.set_tag_tree(tree(&laid, found));
    document.set_metadata(metadata(paper));
    let bytes = document.finish().map_err(|error| odd(&told(error)))?;
    Ok((bytes, pages))
}

fn odd(why: &str) -> PaperFault {
    PaperFault::Standard { why: why.to_owned() }
}

fn told(error: KrillaError) -> String {
    match error {
        KrillaError::Validation(all) => {
            let first = all.first().map(|error| format!("{error:?}")).unwrap_or_default();
            format!("{} places, the first: {first}", all.len())
        }
        KrillaError::Font(_, why) => format!("font: {why}"),
        other => format!("{other:?}"),
    }
}

fn metadata(paper: &Paper) -> Metadata {
    let made = Metadata::new()
        .title(paper.title.clone())
        .description(paper.mark.clone())
        .language(LANGUAGE.to_owned())
        .creator("offshed".to_owned());
    let at = paper.at.and_then(|at| chrono::DateTime::from_timestamp(at.0, 0));
    let Some(at) = at else { return made };
    let small = |number: u32| u8::try_from(number).unwrap_or(0);
    let date = DateTime::new(u16::try_from(at.year()).unwrap_or(0))
        .month(small(at.month()))
        .day(small(at.day()))
        .hour(small(at.hour()))
        .minute(small(at.minute()))
        .second(small(at.second()))
        .utc_offset_hour(0)
        .utc_offset_minute(0);
    made.creation_date(date)
}

fn draw(surface: &mut Surface<'_>, fonts: &Fonts, mark: &Mark, found: &mut [Vec<Identifier>]) {
    match mark {
        Mark::Line { x, y, style, text, of } => {
            let tag = match of {
                Some(_) => ContentTag::Span(SpanTag::empty().with_lang(Some(LANGUAGE))),
                None => ContentTag::Artifact(ArtifactType::Other),
            };
            let identifier = surface.start_tagged(tag);
            write(surface, fonts, (*x, *y), *style, text);
            surface.end_tagged();
            if let Some(place) = of.and_then(|of| found.get_mut(of)) {
                place.push(identifier);
            }
        }
        Mark::Rule { x, y, to_x, to_y, weight } => {
            surface.start_tagged(ContentTag::Artifact(ArtifactType::Other));
            rule(surface, (*x, *y), (*to_x, *to_y), *weight);
            surface.end_tagged();
        }
    }
}

fn write(surface: &mut Surface<'_>, fonts: &Fonts, (x, y): (f32, f32), style: Style, text: &str) {
    surface.set_stroke(None);
    surface.set_fill(Some(Fill { paint: rgb::Color::new(16, 18, 22).into(), ..Fill::default() }));
    let font = fonts.font(style.bold);
    surface.draw_text(Point::from_xy(x, y), font, style.size, text, false, TextDirection::LeftToRight);
}

fn rule(surface: &mut Surface<'_>, (x, y): (f32, f32), (to_x, to_y): (f32, f32), weight: f32) {
    let mut path = PathBuilder::new();
    path.move_to(x, y);
    path.line_to(to_x, to_y);
    let Some(path) = path.finish() else { return };
    surface.set_fill(None);
    let paint = rgb::Color::new(60, 64, 72).into();
    surface.set_stroke(Some(Stroke { paint, width: weight, ..Stroke::default() }));
    surface.draw_path(&path);
}

/// What stands at the head and foot of every page.
struct Running {
    title: String,
    as_of: String,
    mark: String,
    caution: Vec<String>,
    pages: usize,
}

impl Running {
    fn new(paper: &Paper, fonts: &mut Fonts, pages: usize) -> Running {
        let width = WIDTH - 2.0 * MARGIN;
        let first = |lines: Vec<String>| lines.into_iter().next().unwrap_or_default();
        Running {
            // The whole title stands at the head of the first page; here its first line will do.
            title: first(fonts.wrap(&paper.title, SMALL_BOLD, width * 0.6)),
            as_of: first(fonts.wrap(&paper.as_of, SMALL, width - 330.0)),
            mark: first(fonts.wrap(&paper.mark, SMALL, width * 0.8)),
            // A longer caution stands in full at the paper's end.
            caution: fonts.wrap(&paper.caution, SMALL, width).into_iter().take(CAUTION_LINES).collect(),
            pages,
        }
    }

    fn draw(&self, surface: &mut Surface<'_>, fonts: &Fonts, page: usize) {
        surface.start_tagged(ContentTag::Artifact(ArtifactType::Header));
        write(surface, fonts, (MARGIN, 46.0), SMALL_BOLD, &self.title);
        write(surface, fonts, (MARGIN + 330.0, 46.0), SMALL, &self.as_of);
        rule(surface, (MARGIN, 52.0), (WIDTH - MARGIN, 52.0), 0.6);
        surface.end_tagged();
        surface.start_tagged(ContentTag::Artifact(ArtifactType::Footer));
        rule(surface, (MARGIN, 778.0), (WIDTH - MARGIN, 778.0), 0.6);
        write(surface, fonts, (MARGIN, 788.0), SMALL, &self.mark);
        let number = format!("page {page} of {}", self.pages);
        write(surface, fonts, (WIDTH - MARGIN - 62.0, 788.0), SMALL_BOLD, &number);
        for (n, line) in self.caution.iter().enumerate() {
            write(surface, fonts, (MARGIN, 798.0 + n as f32 * 9.0), SMALL, line);
        }
        surface.end_tagged();
    }
}

/// The structure of the document, from its parts in reading order.
fn tree(laid: &Laid, found: Vec<Vec<Identifier>>) -> TagTree {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); laid.parts.len()];
    for (n, part) in laid.parts.iter().enumerate().skip(1) {
        if let Some(list) = children.get_mut(part.within) {
            list.push(n);
        }
    }
    let mut tree = TagTree::new().with_lang(Some(LANGUAGE.to_owned()));
    let builder = Builder { parts: &laid.parts, children: &children, found: &found };
    tree.push(builder.group(0));
    tree
}

struct Builder<'b> {
    parts: &'b [Part],
    children: &'b [Vec<usize>],
    found: &'b [Vec<Identifier>],
}

impl Builder<'_> {
    fn group(&self, n: usize) -> TagGroup {
        let role = self.parts.get(n).map_or(Role::Section, |part| part.role);
        let own = self.found.get(n).into_iter().flatten().map(|identifier| Node::from(*identifier));
        let below = self.children.get(n).into_iter().flatten().map(|child| Node::from(self.group(*child)));
        TagGroup::with_children(kind(role), own.chain(below).collect())
    }
}

fn kind(role: Role) -> TagKind {
    match role {
        Role::Section => Tag::Section.into(),
        Role::Heading(level) => Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), None).into(),
        Role::Paragraph => Tag::P.into(),
        Role::Table => Tag::Table.into(),
        Role::Row => Tag::TR.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Cell => Tag::TD.into(),
    }
}
