//! What is drawn where something is entered: values, letters, times, figures, signatures.

use core::fmt;

use embedded_graphics::Drawable;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use heapless::Vec;
use offshed_core::entry::Shown;
use offshed_core::ident::{StepId, TextId};
use offshed_core::pack::rows::{AskRow, KindRow, StepRow};
use offshed_core::pack::{Texts, slot};
use offshed_core::reason::Why;
use offshed_core::verdict::{self, StepState};

use super::Program;
use super::places::{Asked, Timed};
use super::press::OUTCOMES;
use super::show::{SCROLL, Say, outcome};
use crate::hand::{Journal, Moment, Pins};
use crate::names::{Person, Wording};
use crate::paint::Extent;
use crate::screens::{Asks, Brief, Confirm, FigurePage, Letters, ReadingEntry, Timer, Watch};

impl<T: Texts + ?Sized, J: Journal, P: Pins> Program<'_, T, J, P> {
    /// What a step asks at the part that is next.
    pub(super) fn asks(&self, row: &StepRow) -> Asks<'_> {
        match self.part(row) {
            Some((_, ask)) => Asks::Part(self.pack, ask),
            None => Asks::Step(self.pack, row.kind),
        }
    }

    pub(super) fn draw_value<D>(
        &self,
        target: &mut D,
        step: StepId,
        entry: super::ValueEntry,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let Some(row) = self.pack.step(step) else { return self.card(target, "Value", &"no such step", 0) };
        let (digits, cursor) = entry.shown();
        let title = Wording { texts: self.texts, id: row.text };
        let asks = self.asks(&row);
        let entry = ReadingEntry {
            texts: self.texts,
            title: &title,
            asks: &Brief(asks),
            digits: &digits,
            cursor,
            unit: entry.unit(),
        };
        entry.draw(target)
    }

    pub(super) fn letters<D>(
        &self,
        target: &mut D,
        title: &str,
        lead: &dyn fmt::Display,
        entry: &super::LetterEntry,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let (at_hand, around) = entry.at_hand();
        Letters { texts: self.texts, title, lead, before: &entry.before(), at_hand, around }.draw(target)
    }

    pub(super) fn draw_number<D>(
        &self,
        target: &mut D,
        step: StepId,
        entry: &super::LetterEntry,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        self.letters(target, "Number found", &Wording { texts: self.texts, id: self.pack.step_title(step) }, entry)
    }

    pub(super) fn draw_pin<D>(
        &self,
        target: &mut D,
        person: offshed_core::ident::PersonId,
        entry: &super::LetterEntry,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        self.letters(target, "PIN", &Person { roster: &self.shed.roster, id: person }, entry)
    }

    pub(super) fn draw_timer<D>(&self, target: &mut D, step: StepId, of: Timed, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let Some(row) = self.pack.step(step) else { return self.card(target, "Time", &"no such step", 0) };
        let limits = match (row.kind, self.part(&row)) {
            (KindRow::Timed { limits, .. }, _) => Some(limits),
            (_, Some((_, AskRow::Time { limits }))) => Some(limits),
            _ => None,
        };
        let tenths = |n| limits.and_then(|limits| self.pack.limit_tenths(limits, n));
        let full = tenths(slot::AT_LEAST).or(tenths(slot::AT_MOST)).and_then(|t| u32::try_from(t).ok());
        let (watch, so_far) = match of {
            Timed::Hold => (Watch::Runs, self.held_tenths(step, at)),
            Timed::Ready => (Watch::Ready, 0),
            Timed::Runs { since_ms } => {
                (Watch::Runs, u32::try_from(at.ms.saturating_sub(since_ms) / 100).unwrap_or(u32::MAX))
            }
            Timed::Stopped { tenths } => (Watch::Stopped, tenths),
        };
        let what = self.part(&row).map_or(row.text, |(part, _)| part.text);
        Timer { texts: self.texts, what, asks: &Brief(self.asks(&row)), watch, tenths: so_far, full }.draw(target)
    }

    pub(super) fn draw_figure<D>(
        &self,
        target: &mut D,
        step: StepId,
        shown: &Result<Shown, Why>,
        skip: usize,
        at: Moment,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let Some(row) = self.pack.step(step) else { return self.card(target, "Figure", &"no such step", 0) };
        let worked = verdict::figure(&self.scene(), &row, at.now).ok();
        let listed = match row.kind {
            KindRow::Figure { inputs, .. } => inputs,
            _ => Default::default(),
        };
        let inputs: Vec<TextId, { offshed_core::limits::FIGURE_INPUTS }> = self
            .pack
            .listed(listed)
            .map(|id| self.pack.step_title(id))
            .take(offshed_core::limits::FIGURE_INPUTS)
            .collect();
        let foot = if shown.is_ok() { "up/down: scroll  select: accept  left: back" } else { SCROLL };
        let page = FigurePage {
            texts: self.texts,
            title: row.text,
            names: &self.names(at),
            shown: shown.as_ref().map_err(|why| *why),
            worked: worked.as_ref(),
            inputs: &inputs,
            foot,
            skip,
        };
        page.draw(target)
    }

    pub(super) fn draw_confirm<D>(
        &self,
        target: &mut D,
        asked: Asked,
        skip: usize,
        at: Moment,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let step = match asked {
            Asked::Sign(step) | Asked::With(step) | Asked::Review(step, ..) => step,
            Asked::SignIn => StepId(0),
        };
        let (mut proven, mut all, mut not_right) = (0, 0, 0);
        for row in self.steps() {
            all += 1;
            match self.state(row.id, at) {
                StepState::Proven { .. } => proven += 1,
                StepState::NotRight { .. } => not_right += 1,
                _ => {}
            }
        }
        let sheet = self.shed.sheet.as_ref();
        let contested = sheet.map_or(0, |s| s.contested().len() + usize::from(s.contested_more()));
        let who = Say(|f: &mut fmt::Formatter<'_>| {
            self.person.map_or(Ok(()), |id| write!(f, "{}", Person { roster: &self.shed.roster, id }))?;
            match asked {
                Asked::Review(_, review, _) => {
                    let n = OUTCOMES.iter().position(|o| *o == review).unwrap_or(0);
                    write!(f, ": {}", outcome(n))
                }
                _ => Ok(()),
            }
        });
        let title = self.pack.step_title(step);
        let page = Confirm { texts: self.texts, title, who: &who, proven: (proven, all), not_right, contested, skip };
        page.draw(target)
    }
}
