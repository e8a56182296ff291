//! One step, or one part of a procedure: title, what to do, where it can hurt, what it asks.

use core::fmt;

use offshed_core::ident::TextId;
use offshed_core::pack::rows::{AskRow, KindRow, LimitSlots};
use offshed_core::pack::{Pack, slot};
use offshed_core::units::{Quantity, Unit};

use super::{Standing, screen};
use crate::glyphs;

/// A part of a procedure.
#[derive(Clone, Copy, Debug)]
pub struct PartView {
    /// Which, from 1.
    pub number: usize,
    /// Of how many.
    pub of: usize,
    /// What to do.
    pub text: TextId,
}

/// What a step or a part asks, in words.
#[derive(Clone, Copy)]
pub enum Asks<'a> {
    /// A step.
    Step(&'a Pack<'a>, KindRow),
    /// A part.
    Part(&'a Pack<'a>, AskRow),
}

/// The limits of a value or a time in a line or two, for where it is entered.
#[derive(Clone, Copy)]
pub struct Brief<'a>(pub Asks<'a>);

impl fmt::Display for Brief<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (pack, slots, named) = match self.0 {
            Asks::Step(pack, KindRow::Reading { limits, .. }) | Asks::Part(pack, AskRow::Reading { limits, .. }) => {
                (pack, limits, [(slot::LOW, "at least"), (slot::HIGH, "at most")])
            }
            Asks::Step(pack, KindRow::Timed { limits, .. }) | Asks::Part(pack, AskRow::Time { limits }) => {
                (pack, limits, [(slot::AT_LEAST, "at least"), (slot::AT_MOST, "at most")])
            }
            Asks::Part(pack, AskRow::Same { part, limits, .. }) => {
                write!(f, "as at part {}", u16::from(part) + 1)?;
                (pack, limits, [(slot::WITHIN, ", within"), (u8::MAX, "")])
            }
            Asks::Part(pack, AskRow::Rise { part, limits, .. }) => {
                write!(f, "since part {}:", u16::from(part) + 1)?;
                (pack, limits, [(slot::RISE, " at least"), (slot::OVER, " in each")])
            }
            _ => return Ok(()),
        };
        let mut comma = "";
        for (at, words) in named {
            if let Some(limit) = pack.limit(slots, at) {
                write!(f, "{comma}{words} {limit}")?;
                comma = if words.starts_with("at") { ", " } else { "" };
            }
        }
        Ok(())
    }
}

/// A unit in words, with what it measures where the sign alone does not tell.
struct Measured(Unit);

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.quantity() {
            Quantity::Glass => write!(f, "{} of glass", self.0.symbol()),
            Quantity::Vacuum => write!(f, "{} of vacuum", self.0.symbol()),
            _ => f.write_str(self.0.symbol()),
        }
    }
}

impl Asks<'_> {
    /// The two limits in `low` and `high`, where they are given, each after its words.
    fn between(&self, f: &mut fmt::Formatter<'_>, limits: LimitSlots, named: [(u8, &str); 2]) -> fmt::Result {
        let (Asks::Step(pack, _) | Asks::Part(pack, _)) = self;
        for (at, words) in named {
            if let Some(limit) = pack.limit(limits, at) {
                write!(f, ", {words} {limit}")?;
            }
        }
        Ok(())
    }

    fn step(&self, f: &mut fmt::Formatter<'_>, kind: KindRow) -> fmt::Result {
        match kind {
            KindRow::Check => f.write_str("Look, then say how it is"),
            KindRow::Reading { unit, limits } => {
                write!(f, "Read: {}", Measured(unit))?;
                self.between(f, limits, [(slot::LOW, "at least"), (slot::HIGH, "at most")])
            }
            KindRow::Identity { .. } => f.write_str("Read the number off the fitting"),
            KindRow::Choice { .. } => f.write_str("Say which it is"),
            KindRow::Timed { unit, limits } => {
                f.write_str("Hold, timed")?;
                self.between(f, limits, [(slot::AT_LEAST, "at least"), (slot::AT_MOST, "at most")])?;
                self.between(f, limits, [(slot::MAX_FALL, "falls at most"), (slot::MIN_RISE, "rises at least")])?;
                unit.map_or(Ok(()), |unit| write!(f, "; read {} before and after", Measured(unit)))
            }
            KindRow::Due { .. } => f.write_str("Look at the date and accept it"),
            KindRow::Procedure { parts } => write!(f, "{} parts, in order", parts.len),
            KindRow::Signature { review: false } => f.write_str("Sign with your PIN"),
            KindRow::Signature { review: true } => f.write_str("Review, then sign with your PIN"),
            KindRow::Figure { .. } => f.write_str("Look at the figure and accept it"),
        }
    }

    fn part(&self, f: &mut fmt::Formatter<'_>, ask: AskRow) -> fmt::Result {
        match ask {
            AskRow::Seen => f.write_str("See it, then say so"),
            AskRow::Reading { unit, limits } => {
                write!(f, "Read: {}", Measured(unit))?;
                self.between(f, limits, [(slot::LOW, "at least"), (slot::HIGH, "at most")])
            }
            AskRow::Time { limits } => {
                f.write_str("Time it")?;
                self.between(f, limits, [(slot::AT_LEAST, "at least"), (slot::AT_MOST, "at most")])
            }
            AskRow::Same { unit, part, limits } => {
                write!(f, "Read again: {}, as at part {}", Measured(unit), u16::from(part) + 1)?;
                self.between(f, limits, [(slot::WITHIN, "within"), (u8::MAX, "")])
            }
            AskRow::Rise { unit, part, limits, .. } => {
                write!(f, "Read: {}, risen since part {}", Measured(unit), u16::from(part) + 1)?;
                self.between(f, limits, [(slot::RISE, "by at least"), (slot::OVER, "in each")])?;
                self.between(f, limits, [(slot::DELIVERY, "or, where it can be told,"), (u8::MAX, "")])
            }
        }
    }
}

impl fmt::Display for Asks<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Asks::Step(_, kind) => self.step(f, kind),
            Asks::Part(_, ask) => self.part(f, ask),
        }
    }
}

/// One step.
pub struct StepPage<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// The title; what to do, caution and source are the next three texts.
    pub title: TextId,
    /// How it stands.
    pub standing: Standing,
    /// More of how it stands: until when, who, why not.
    pub note: &'a dyn fmt::Display,
    /// The part that is next, of a procedure.
    pub part: Option<PartView>,
    /// What it asks.
    pub asks: Asks<'a>,
    /// What `select` does here.
    pub foot: &'a str,
    /// Lines scrolled away.
    pub skip: usize,
}

screen!(StepPage, self, paint, {
    let of = |more: u16| TextId(self.title.0.saturating_add(more));
    let mut right: crate::lines::Line = crate::lines::Line::new();
    if let Some(part) = self.part {
        // Two numbers are shorter than a line.
        let _ = fmt::write(&mut right, format_args!("part {}/{}", part.number, part.of));
    }
    paint.bar(self.standing.word(), &right)?;
    paint.foot(self.foot)?;
    let mut column = paint.column(0, self.skip);
    column.inverse(false).glyph(Some(self.standing.glyph())).pack_text(self.texts, self.title).glyph(None);
    if let Some(part) = self.part {
        column.rule().pack_text(self.texts, part.text);
    }
    column.glyph(Some(glyphs::ON)).words(format_args!("{}", self.asks)).glyph(None);
    column.rule().pack_text(self.texts, of(1));
    column.glyph(Some(glyphs::MIND)).pack_text(self.texts, of(2)).glyph(None);
    column.words(format_args!("{}", self.note));
    let mut source = crate::lines::lines(self.texts, of(3), 1);
    if source.next().is_some() {
        column.words(format_args!("Source: {}", crate::names::Wording { texts: self.texts, id: of(3) }));
    }
    column.scrolled()
});
