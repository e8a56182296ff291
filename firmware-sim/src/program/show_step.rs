//! What is drawn of a sheet: its steps, one step, why it waits, what may be answered.

use core::fmt;

use embedded_graphics::Drawable;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use heapless::String;
use offshed_core::ident::{StepId, TextId};
use offshed_core::pack::Texts;
use offshed_core::pack::rows::{AskRow, KindRow, StepRow};
use offshed_core::verdict::{self, StepState};

use super::Program;
use super::places::Worded;
use super::press::table;
use super::show::{Listed, Rows, Say, item};
use crate::glyphs;
use crate::hand::{Journal, Moment, Pins};
use crate::names::{Clocked, Person, Wording};
use crate::paint::Extent;
use crate::screens::{Asks, Label, Locked, PartView, Sentence, Standing, StepItem, StepPage, Steps};

impl<T: Texts + ?Sized, J: Journal, P: Pins> Program<'_, T, J, P> {
    pub(super) fn state(&self, step: StepId, at: Moment) -> StepState {
        verdict::of(&self.scene(), step, self.who(step), at.now)
    }

    pub(super) fn draw_steps<D>(&self, target: &mut D, n: usize, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let first = self.first(n);
        let look = |row: StepRow| StepItem { title: row.text, standing: Standing::of(&self.state(row.id, at)) };
        let rows = self.layout().rows;
        let items: Rows<StepItem> = self.steps().skip(first).take(rows).map(look).collect();
        let chosen = self.steps().nth(n);
        let stage = chosen.map_or(TextId::NONE, |row| self.pack.stage_title(row.sequence, row.stage));
        let state = chosen.map(|row| self.state(row.id, at));
        let note = Say(|f: &mut fmt::Formatter<'_>| state.as_ref().map_or(Ok(()), |state| self.note(f, state, at)));
        let all = self.steps().count();
        Steps { texts: self.texts, stage, items: &items, first, at: n, all, note: &note }.draw(target)
    }

    /// More of how a step stands: until when, how many reasons, with which value.
    pub(super) fn note(&self, f: &mut fmt::Formatter<'_>, state: &StepState, at: Moment) -> fmt::Result {
        let clocked = |stamp| Clocked { roster: &self.shed.roster, at: stamp, now: at.now.stamp };
        match state {
            StepState::Waiting(judged) => match judged.reasons.len() {
                1 => f.write_str(": 1 reason"),
                n => write!(f, ": {n} reasons"),
            },
            StepState::UnderWay { next } if *next > 0 => write!(f, ": part {} next", u16::from(*next) + 1),
            StepState::Proven { mark, until } => {
                mark.proof.value.map_or(Ok(()), |value| write!(f, ": {value}"))?;
                until.map_or(Ok(()), |until| write!(f, ", until {}", clocked(until)))
            }
            StepState::NotRight { mark } => mark.proof.value.map_or(Ok(()), |value| write!(f, ": {value}")),
            _ => Ok(()),
        }
    }

    /// Who answered, when, with whom, and why it no longer counts.
    pub(super) fn story(&self, f: &mut fmt::Formatter<'_>, state: &StepState, step: StepId, at: Moment) -> fmt::Result {
        let person = |id| Person { roster: &self.shed.roster, id };
        if let StepState::Gone { mark, .. }
        | StepState::Proven { mark, .. }
        | StepState::NotRight { mark }
        | StepState::Skipped { mark } = state
        {
            let when = Clocked { roster: &self.shed.roster, at: mark.proof.at, now: at.now.stamp };
            write!(f, "{} {when}", person(mark.proof.by))?;
            mark.with.map_or(Ok(()), |with| write!(f, " with {}", person(with)))?;
        }
        if let StepState::Gone { why, .. } = state {
            write!(f, ": {}", Sentence { names: &self.names(at), why: *why })?;
        } else {
            self.note(f, state, at)?;
        }
        match self.who(step).with {
            Some(with) => write!(f, "\nWith you: {}", person(with)),
            None => Ok(()),
        }
    }

    pub(super) fn draw_step<D>(&self, target: &mut D, step: StepId, skip: usize, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let Ok((row, _)) = verdict::find(&self.scene(), step) else {
            return self.card(target, "Step", &"not on this sheet", skip);
        };
        let state = self.state(step, at);
        let note = Say(|f: &mut fmt::Formatter<'_>| self.story(f, &state, step, at));
        let settled = matches!(state, StepState::Proven { .. } | StepState::Waiting(_));
        let (part, asks) = match self.part(&row).filter(|_| !settled) {
            Some((part, ask)) => (Some(part), Asks::Part(self.pack, ask)),
            None => (None, Asks::Step(self.pack, row.kind)),
        };
        let page = StepPage {
            texts: self.texts,
            title: row.text,
            standing: Standing::of(&state),
            note: &note,
            part,
            asks,
            foot: "select: answer  right: why it waits  left: back",
            skip,
        };
        page.draw(target)
    }

    /// The part of a procedure that is next.
    pub(super) fn part(&self, row: &StepRow) -> Option<(PartView, AskRow)> {
        let KindRow::Procedure { parts } = row.kind else { return None };
        let next = self.next_part(row.id);
        let part = self.pack.parts(parts).nth(usize::from(next))?;
        let view = PartView { number: usize::from(next) + 1, of: usize::from(parts.len), text: part.text };
        Some((view, part.ask))
    }

    pub(super) fn draw_locked<D>(
        &self,
        target: &mut D,
        step: StepId,
        (n, skip): (usize, usize),
        at: Moment,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let reasons = self.reasons(step, at);
        if reasons.is_empty() {
            return self.card(target, &self.title_of(step), &"Nothing stands in its way any more", 0);
        }
        let first = n;
        let page = Locked {
            texts: self.texts,
            title: self.pack.step_title(step),
            names: &self.names(at),
            reasons: reasons.get(first..).unwrap_or(&[]),
            first,
            at: n,
            all: reasons.len(),
            skip,
        };
        page.draw(target)
    }

    pub(super) fn title_of(&self, step: StepId) -> String<64> {
        let mut title = String::new();
        // A title that is longer than a bar is cut there as well.
        let _ =
            fmt::write(&mut title, format_args!("{}", Wording { texts: self.texts, id: self.pack.step_title(step) }));
        title
    }

    pub(super) fn draw_acts<D>(&self, target: &mut D, step: StepId, n: usize, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let row = self.pack.step(step);
        let acts = row.map(|row| self.acts(&row, at)).unwrap_or_default();
        if acts.is_empty() {
            return self.card(target, &self.title_of(step), &"Nothing is to be answered here", 0);
        }
        self.menu(target, Listed { title: &self.title_of(step), at: n, all: acts.len() }, |n| {
            acts.get(n).map(|act| item(Some(glyphs::ON), Label::Words(act.words())))
        })
    }

    pub(super) fn draw_words<D>(&self, target: &mut D, of: Worded, n: usize) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let words = table(of);
        let title = match of {
            Worded::NotRight(_) => "NOT RIGHT:",
            Worded::NotApplicable(_) => "Not applicable:",
            Worded::Reviewed(..) => "Review:",
            Worded::GivenUp => "Give up:",
        };
        self.menu(target, Listed { title, at: n, all: words.len() }, |n| {
            words.get(n).map(|words| item(None, Label::Words(words)))
        })
    }

    pub(super) fn draw_options<D>(&self, target: &mut D, step: StepId, n: usize) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let Some(KindRow::Choice { options }) = self.pack.step(step).map(|row| row.kind) else {
            return self.card(target, "Choose", &"there is nothing to choose", 0);
        };
        let all = usize::from(options.len);
        self.menu(target, Listed { title: &self.title_of(step), at: n, all }, |n| {
            self.pack.options(options).nth(n).map(|option| item(Some(glyphs::BOX), Label::Text(option.text)))
        })
    }
}
