//! What the duty board says of one engine, and how old that is.

use core::fmt;

use offshed_core::fitness::{Ends, Fitness, Verdict};
use offshed_core::ident::{EngineId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::layout::text;
use offshed_core::reason::Why;
use offshed_core::words::{Arg, ENGLISH, Names, verdict_key};

use super::{Sentence, screen};
use crate::glyphs::{self, Glyph};

/// What the board says.
pub struct FitnessPage<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// Names of things.
    pub names: &'a dyn Names,
    /// The engine.
    pub engine: EngineId,
    /// Its verdict.
    pub fitness: &'a Fitness,
    /// When it lapses, in local time.
    pub until: &'a dyn fmt::Display,
    /// When the last entry was recorded that is here, in local time.
    pub records_to: &'a dyn fmt::Display,
    /// As of when an office handed over the records of others; `None`: they came by themselves.
    pub office: Option<&'a dyn fmt::Display>,
    /// Lines scrolled away.
    pub skip: usize,
}

/// A verdict's shape.
fn glyph(verdict: Verdict) -> Glyph {
    match verdict {
        Verdict::Fit => glyphs::FULL,
        Verdict::Restricted => glyphs::MIND,
        Verdict::NotFit => glyphs::CROSS,
        Verdict::NotKnown => glyphs::ASK,
    }
}

/// What a requirement is about.
fn about(rule: Rule) -> Option<Arg> {
    let step = |id: StepId| Some(Arg::Step(id));
    match rule {
        Rule::After(id) | Rule::Fresh { step: id, .. } | Rule::Within { step: id, .. } => step(id),
        Rule::Agree { a: id, .. } | Rule::Wait { since: id, .. } | Rule::AtLeast { reading: id, .. } => step(id),
        Rule::InDate(due) => Some(Arg::Due(due)),
        _ => None,
    }
}

/// What ends a verdict, or what it rests on.
struct Named<'a>(&'a dyn Names, Ends);

impl fmt::Display for Named<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let arg = match self.1 {
            Ends::Rule(rule) => about(rule),
            Ends::Restriction(defect) => Some(Arg::Defect(defect)),
        };
        match arg {
            Some(arg) => self.0.write(arg, f),
            None => f.write_str("a requirement"),
        }
    }
}

/// Ranks of reasons.
const RANKS: u8 = 4;

/// Worst first: defects and tags, then dates, then what was lost, then what was never done.
fn rank_of(why: Why) -> u8 {
    match why {
        Why::DefectOpen { .. } | Why::TagHeld { .. } | Why::RecordsMissing { .. } | Why::TooMuchRecorded { .. } => 0,
        Why::OutOfDate { .. } | Why::DateUnknown { .. } => 1,
        Why::NeedsFirst { .. } => 3,
        _ => 2,
    }
}

screen!(FitnessPage, self, paint, {
    let fitness = self.fitness;
    let mut title: crate::lines::Line = crate::lines::Line::new();
    // A number is shorter than a line.
    let _ = fmt::write(&mut title, format_args!("No. {}", self.engine));
    paint.bar(&title, "may it leave?")?;
    paint.foot("up/down: scroll  left: back")?;
    let mut column = paint.column(0, self.skip);
    let words = ENGLISH.get(verdict_key(fitness.verdict)).unwrap_or("");
    column.inverse(true).glyph(Some(glyph(fitness.verdict))).words(format_args!("{words}")).inverse(false).glyph(None);
    if let Some((_, ends)) = fitness.until {
        column.words(format_args!("until {}: then {} lapses", self.until, Named(self.names, ends)));
    }
    for rank in 0..RANKS {
        for reason in fitness.reasons.iter().filter(|reason| rank_of(reason.why) == rank) {
            let sentence = Sentence { names: self.names, why: reason.why };
            let several = if reason.group == 0 { "" } else { "one way: " };
            column.glyph(Some(glyphs::DASH)).words(format_args!("{several}{sentence}")).glyph(None);
        }
    }
    for (ends, day) in &fitness.conditions {
        column
            .glyph(Some(glyphs::MIND))
            .words(format_args!("{} (through {day})", Named(self.names, *ends)))
            .glyph(None);
    }
    column.rule().words(format_args!("By records up to {}", self.records_to));
    if let Some(office) = self.office {
        column.words(format_args!("Others' records as the office had them: {office}"));
    }
    column.rule().pack_text(self.texts, text::CAUTION);
    column.scrolled()
});
