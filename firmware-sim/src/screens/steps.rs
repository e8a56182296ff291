//! The steps of a sheet, each with a shape and a word for how it stands.

use core::fmt;

use offshed_core::ident::TextId;
use offshed_core::sheet::Outcome;
use offshed_core::verdict::StepState;

use super::screen;
use crate::column::{before, lines_of, rows_of};
use crate::glyphs::{self, Glyph};
use crate::names::Wording;
use crate::paint::mark;

/// How a step stands, for showing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It may be answered now.
    Open,
    /// A procedure or hold is under way.
    UnderWay,
    /// It waits for something.
    Waits,
    /// Proven.
    Proven,
    /// Proven, with a value in the warning band.
    Warned,
    /// Its proof no longer counts.
    Gone,
    /// Found not right.
    NotRight,
    /// Marked not applicable by a person.
    Skipped,
    /// The engine lacks what it is about.
    DoesNotApply,
}

impl Standing {
    /// Of a step's state.
    pub fn of(state: &StepState) -> Standing {
        match state {
            StepState::Open => Standing::Open,
            StepState::UnderWay { .. } => Standing::UnderWay,
            StepState::Waiting(_) => Standing::Waits,
            StepState::Proven { mark, .. } if mark.outcome == (Outcome::Proven { warned: true }) => Standing::Warned,
            StepState::Proven { .. } => Standing::Proven,
            StepState::Gone { .. } => Standing::Gone,
            StepState::NotRight { .. } => Standing::NotRight,
            StepState::Skipped { .. } => Standing::Skipped,
            StepState::DoesNotApply => Standing::DoesNotApply,
        }
    }

    /// Its shape.
    pub fn glyph(self) -> Glyph {
        match self {
            Standing::Open => glyphs::BOX,
            Standing::UnderWay => glyphs::HALF,
            Standing::Waits => glyphs::LOCK,
            Standing::Proven => glyphs::TICK,
            Standing::Warned => glyphs::WARNED,
            Standing::Gone => glyphs::GONE,
            Standing::NotRight => glyphs::CROSS,
            Standing::Skipped => glyphs::STRUCK,
            Standing::DoesNotApply => glyphs::DASH,
        }
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Standing::Open => "open",
            Standing::UnderWay => "under way",
            Standing::Waits => "waits",
            Standing::Proven => "proven",
            Standing::Warned => "proven, mind it",
            Standing::Gone => "counts no more",
            Standing::NotRight => "NOT RIGHT",
            Standing::Skipped => "not applicable",
            Standing::DoesNotApply => "not on this engine",
        }
    }
}

/// One step.
#[derive(Clone, Copy)]
pub struct StepItem {
    /// Its title.
    pub title: TextId,
    /// How it stands.
    pub standing: Standing,
}

/// The steps of a sheet. The chosen one is written in full, with its word.
pub struct Steps<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// The title of the stage that the chosen step is in.
    pub stage: TextId,
    /// The steps in sight and after them.
    pub items: &'a [StepItem],
    /// Which step of the whole list `items` begins with.
    pub first: usize,
    /// The chosen step, counted in the whole list.
    pub at: usize,
    /// Steps of the whole list.
    pub all: usize,
    /// More of the chosen step: until when, why not.
    pub note: &'a dyn fmt::Display,
}

screen!(Steps, self, paint, {
    let mut title: crate::lines::Line = crate::lines::Line::new();
    let mut right: crate::lines::Line = crate::lines::Line::new();
    // A stage's title is shorter than a line; one that is not stands cut at a word of the list below.
    let _ = fmt::write(&mut title, format_args!("{}", Wording { texts: self.texts, id: self.stage }));
    let _ = fmt::write(&mut right, format_args!("{}/{}", self.at + 1, self.all));
    paint.bar(&title, &right)?;
    paint.foot("select: open it  right: the step  left: back")?;
    let columns = paint.layout.glyph_columns();
    let chosen = self.items.get(self.at.saturating_sub(self.first));
    let wanted = chosen.map_or(0, |item| {
        let word = format_args!("{}{}", item.standing.word(), self.note);
        lines_of(self.texts, item.title, columns) + rows_of(word, columns)
    });
    let passed = before(self.at.saturating_sub(self.first), wanted, paint.layout.rows);
    let mut column = paint.column(0, 0);
    for (n, item) in (self.first..).zip(self.items).skip(passed) {
        if column.is_full() {
            break;
        }
        column.inverse(n == self.at).glyph(Some(item.standing.glyph()));
        if n == self.at {
            column.pack_text(self.texts, item.title);
            column.words(format_args!("{}{}", item.standing.word(), self.note));
        } else {
            column.pack_line(self.texts, item.title);
        }
    }
    let extent = column.done()?;
    let body = paint.layout.body;
    mark(&mut paint, body, (self.at, 1, self.all))?;
    Ok(extent)
});
