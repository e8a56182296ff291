//! What is drawn at each place: the screen that belongs to it, over what is folded.

use core::fmt;

use embedded_graphics::Drawable;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use heapless::{String, Vec};
use offshed_core::entry::Shown;
use offshed_core::ident::{StepId, TextId};
use offshed_core::pack::layout::text;
use offshed_core::pack::rows::{AskRow, KindRow, StepRow};
use offshed_core::pack::{Texts, slot};
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::stamp::Stamp;
use offshed_core::verdict::{self, StepState};
use offshed_core::words::Names;

use super::Program;
use super::places::{Asked, Place, Timed, Told, Worded};
use super::press::{EngineRow, OUTCOMES, table};
use crate::glyphs;
use crate::hand::{Journal, Moment, PinAnswer, Pins};
use crate::layout::MOST_ROWS;
use crate::names::{Clocked, HandNames, Person, Wording};
use crate::paint::Extent;
use crate::screens::{
    Asks, BoilerPage, Brief, Card, Confirm, FigurePage, FitnessPage, Item, Label, Letters, Locked, Menu, PartView,
    ReadingEntry, Sentence, Standing, StepItem, StepPage, Steps, Timer, Watch,
};

/// Rows of a list in sight.
type Rows<I> = Vec<I, MOST_ROWS, u8>;

/// A sentence from a function.
struct Say<F: Fn(&mut fmt::Formatter<'_>) -> fmt::Result>(F);

impl<F: Fn(&mut fmt::Formatter<'_>) -> fmt::Result> fmt::Display for Say<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        (self.0)(f)
    }
}

const CHOOSE: &str = "up/down: choose  select: take it  left: back";
const SCROLL: &str = "up/down: scroll  left: back";

/// A list with one row chosen.
struct Listed<'s> {
    title: &'s str,
    at: usize,
    all: usize,
}

/// How a review ends, in words.
fn outcome(n: usize) -> &'static str {
    ["Accepted", "Sent back: signatures no longer count", "Engine stopped"].get(n).copied().unwrap_or("")
}

impl<'a, T: Texts + ?Sized, J: Journal, P: Pins> Program<'a, T, J, P> {
    /// Draws what is at hand.
    ///
    /// # Errors
    /// When the target fails.
    pub fn draw<D>(&self, target: &mut D, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        if let Some(skip) = self.low_water {
            let foot = "up/down: scroll  left: back to where you were";
            let nothing = String::<1>::new();
            let card =
                Card { texts: self.texts, title: "LOW WATER", words: &nothing, text: text::LOW_WATER, foot, skip };
            return card.draw(target);
        }
        match &self.place {
            Place::Engines { at: n } => self.draw_engines(target, *n),
            Place::Engine { at: n } => self.draw_engine(target, *n),
            Place::Fitness { skip } => self.draw_fitness(target, *skip, at),
            Place::Boiler { mm, read } => self.draw_boiler(target, *mm, *read, at),
            Place::Steps { at: n } => self.draw_steps(target, *n, at),
            Place::Step { step, skip } => self.draw_step(target, *step, *skip, at),
            Place::Locked { step, at: n, skip } => self.draw_locked(target, *step, (*n, *skip), at),
            Place::Acts { step, at: n } => self.draw_acts(target, *step, *n, at),
            Place::Words { of, at: n } => self.draw_words(target, *of, *n),
            Place::Options { step, at: n } => self.draw_options(target, *step, *n),
            Place::Outcomes { at: n, .. } => {
                let list = Listed { title: "Review", at: *n, all: OUTCOMES.len() };
                self.menu(target, list, |n| Some(item(None, Label::Words(outcome(n)))))
            }
            Place::Value { step, entry, .. } => self.draw_value(target, *step, *entry),
            Place::Number { step, entry } => self.draw_number(target, *step, entry),
            Place::Pin { person, entry, .. } => self.draw_pin(target, *person, entry),
            Place::Timer { step, of } => self.draw_timer(target, *step, *of, at),
            Place::Figure { step, shown, skip } => self.draw_figure(target, *step, shown, *skip, at),
            Place::Confirm { asked, skip } => self.draw_confirm(target, *asked, *skip, at),
            Place::People { asked, at: n } => self.draw_people(target, *asked, *n),
            Place::Told { told, skip } => self.draw_told(target, *told, *skip, at),
        }
    }

    fn names(&self, at: Moment) -> HandNames<'_, T, J> {
        HandNames {
            pack: self.pack,
            texts: self.texts,
            roster: &self.shed.roster,
            records: self.desk.store(),
            now: at.now.stamp,
        }
    }

    /// The row that stands on top: the chosen one has one before it, on a tall display three.
    fn first(&self, at: usize) -> usize {
        at.saturating_sub(if self.layout().rows > 6 { 3 } else { 1 })
    }

    fn menu<'s, D>(
        &self,
        target: &mut D,
        list: Listed<'_>,
        item: impl Fn(usize) -> Option<Item<'s>>,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let Listed { title, at, all } = list;
        let first = self.first(at);
        let items: Rows<Item<'_>> = (first..all).take(MOST_ROWS).filter_map(item).collect();
        let mut right: String<12> = String::new();
        // A count that is longer than its place is left away: the mark at the edge tells the same.
        let _ = fmt::write(&mut right, format_args!("{}/{all}", at + 1));
        let menu = Menu { texts: self.texts, title, right: &right, items: &items, first, at, all, foot: CHOOSE };
        menu.draw(target)
    }

    fn draw_engines<D: DrawTarget<Color = BinaryColor>>(&self, target: &mut D, n: usize) -> Result<Extent, D::Error> {
        let roster = &self.shed.roster;
        let engines = roster.engines().count();
        let who = self.person.and_then(|id| roster.person_name(id));
        self.menu(target, Listed { title: "Engines", at: n, all: engines + 1 }, |n| {
            Some(match roster.engines().nth(n) {
                Some((id, name)) => item(None, Label::Numbered(id.0, name)),
                None => item(Some(glyphs::PERSON), Label::Words(who.unwrap_or("Sign in"))),
            })
        })
    }

    fn engine_title(&self) -> String<64> {
        let engine = self.shed.engine.id;
        let mut title = String::new();
        // A name of an entry is never longer than this.
        let _ = fmt::write(&mut title, format_args!("{engine} {}", self.shed.roster.engine_name(engine)));
        title
    }

    fn draw_engine<D: DrawTarget<Color = BinaryColor>>(&self, target: &mut D, n: usize) -> Result<Extent, D::Error> {
        let rows = self.engine_rows();
        let sequence = self.shed.sheet.as_ref().and_then(|s| self.pack.sequence(s.sequence));
        let title = sequence.map_or(TextId::NONE, |s| s.text);
        self.menu(target, Listed { title: &self.engine_title(), at: n, all: rows.len() }, |n| {
            Some(match rows.get(n)? {
                EngineRow::GoOn => item(Some(glyphs::HALF), Label::Before("Go on:", title)),
                EngineRow::LookAt => item(Some(glyphs::TICK), Label::Before("Closed:", title)),
                EngineRow::Fitness => item(Some(glyphs::ASK), Label::Words("May it leave?")),
                EngineRow::Boiler => item(Some(glyphs::ON), Label::Words("Boiler and water level")),
                EngineRow::GiveUp => item(Some(glyphs::STRUCK), Label::Words("Give the sheet up")),
                EngineRow::Open(id) => item(Some(glyphs::BOX), Label::Before("Open:", self.pack.sequence(*id)?.text)),
            })
        })
    }

    fn draw_fitness<D>(&self, target: &mut D, skip: usize, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let fitness = self.shed.fitness(self.pack, at.now);
        let clocked = |stamp| Clocked { roster: &self.shed.roster, at: stamp, now: at.now.stamp };
        let until = fitness.until.map_or(at.now.stamp, |(until, _)| until);
        let page = FitnessPage {
            texts: self.texts,
            names: &self.names(at),
            engine: self.shed.engine.id,
            fitness: &fitness,
            until: &clocked(until),
            records_to: &clocked(self.shed.last.unwrap_or(at.now.stamp)),
            skip,
        };
        page.draw(target)
    }

    fn draw_boiler<D>(&self, target: &mut D, mm: u16, read: Option<Stamp>, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        match self.shed.roster.boiler(self.shed.engine.id) {
            Some(boiler) => {
                let mut from: String<24> = String::new();
                // A date or a time of day has room.
                let _ = match read {
                    Some(read) => fmt::write(&mut from, format_args!("Read {}", self.when(read, at))),
                    None => fmt::write(&mut from, format_args!("If it were")),
                };
                BoilerPage { texts: self.texts, vessel: boiler.vessel, glass_mm: mm, from: &from }.draw(target)
            }
            None => self.card(target, "Boiler", &"its measures are not in the register", 0),
        }
    }

    /// The time of day, or of another day its date.
    fn when(&self, read: Stamp, at: Moment) -> impl fmt::Display + '_ {
        let zone = self.shed.roster.zone();
        let (day, today) = (zone.day(read), zone.day(at.now.stamp));
        let clocked = Clocked { roster: &self.shed.roster, at: read, now: at.now.stamp };
        Say(move |f: &mut fmt::Formatter<'_>| if day == today { write!(f, "{clocked}") } else { write!(f, "{day}") })
    }

    fn card<D>(&self, target: &mut D, title: &str, words: &dyn fmt::Display, skip: usize) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        Card { texts: self.texts, title, words, text: TextId::NONE, foot: SCROLL, skip }.draw(target)
    }

    fn state(&self, step: StepId, at: Moment) -> StepState {
        verdict::of(&self.scene(), step, self.who(step), at.now)
    }

    fn draw_steps<D>(&self, target: &mut D, n: usize, at: Moment) -> Result<Extent, D::Error>
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
    fn note(&self, f: &mut fmt::Formatter<'_>, state: &StepState, at: Moment) -> fmt::Result {
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
    fn story(&self, f: &mut fmt::Formatter<'_>, state: &StepState, step: StepId, at: Moment) -> fmt::Result {
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

    fn draw_step<D>(&self, target: &mut D, step: StepId, skip: usize, at: Moment) -> Result<Extent, D::Error>
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
    fn part(&self, row: &StepRow) -> Option<(PartView, AskRow)> {
        let KindRow::Procedure { parts } = row.kind else { return None };
        let next = self.next_part(row.id);
        let part = self.pack.parts(parts).nth(usize::from(next))?;
        let view = PartView { number: usize::from(next) + 1, of: usize::from(parts.len), text: part.text };
        Some((view, part.ask))
    }

    fn draw_locked<D>(
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

    fn title_of(&self, step: StepId) -> String<64> {
        let mut title = String::new();
        // A title that is longer than a bar is cut there as well.
        let _ =
            fmt::write(&mut title, format_args!("{}", Wording { texts: self.texts, id: self.pack.step_title(step) }));
        title
    }

    fn draw_acts<D>(&self, target: &mut D, step: StepId, n: usize, at: Moment) -> Result<Extent, D::Error>
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

    fn draw_words<D>(&self, target: &mut D, of: Worded, n: usize) -> Result<Extent, D::Error>
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

    fn draw_options<D>(&self, target: &mut D, step: StepId, n: usize) -> Result<Extent, D::Error>
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

    /// What a step asks at the part that is next.
    fn asks(&self, row: &StepRow) -> Asks<'_> {
        match self.part(row) {
            Some((_, ask)) => Asks::Part(self.pack, ask),
            None => Asks::Step(self.pack, row.kind),
        }
    }

    fn draw_value<D>(&self, target: &mut D, step: StepId, entry: super::ValueEntry) -> Result<Extent, D::Error>
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

    fn letters<D>(
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

    fn draw_number<D>(&self, target: &mut D, step: StepId, entry: &super::LetterEntry) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        self.letters(target, "Number found", &Wording { texts: self.texts, id: self.pack.step_title(step) }, entry)
    }

    fn draw_pin<D>(
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

    fn draw_timer<D>(&self, target: &mut D, step: StepId, of: Timed, at: Moment) -> Result<Extent, D::Error>
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

    fn draw_figure<D>(
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

    fn draw_confirm<D>(&self, target: &mut D, asked: Asked, skip: usize, at: Moment) -> Result<Extent, D::Error>
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

    fn draw_people<D>(&self, target: &mut D, asked: Asked, n: usize) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let title = if matches!(asked, Asked::With(_)) { "Who is with you?" } else { "Who are you?" };
        let roster = &self.shed.roster;
        self.menu(target, Listed { title, at: n, all: roster.people().count() }, |n| {
            let (_, name) = roster.people().nth(n)?;
            Some(item(Some(glyphs::PERSON), Label::Words(name)))
        })
    }

    fn draw_told<D>(&self, target: &mut D, told: Told, skip: usize, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let names = self.names(at);
        let until = |until| Clocked { roster: &self.shed.roster, at: until, now: at.now.stamp };
        let words = Say(|f: &mut fmt::Formatter<'_>| match told {
            Told::Refused(why) => write!(f, "{}", Sentence { names: &names as &dyn Names, why }),
            Told::NotRight(why) => {
                write!(f, "Recorded as NOT RIGHT. {}", Sentence { names: &names as &dyn Names, why })
            }
            Told::NotDurable => f.write_str("It could not be stored. Nothing is recorded: write it on paper"),
            Told::Unwritable => f.write_str("This device can record no more. Nothing is recorded: write it on paper"),
            Told::Blank => f.write_str("Nothing is entered yet"),
            Told::Pin(PinAnswer::Wrong { left: 1 }) => f.write_str("Wrong PIN: one more try, then a wait"),
            Told::Pin(PinAnswer::Wrong { left }) => write!(f, "Wrong PIN: {left} more tries, then a wait"),
            Told::Pin(PinAnswer::Wait { until: at }) => write!(f, "Too many wrong PINs: wait until {}", until(at)),
            Told::Pin(PinAnswer::NoPin) => f.write_str("No PIN is set on this device: have the office set one"),
            Told::Pin(PinAnswer::Right) => f.write_str("The PIN is right"),
            Told::Lacks(n) => write!(f, "{n} facts of the register find no room here: no engine is called fit on it"),
        });
        let title = match told {
            Told::Refused(_) => "Refused",
            Told::NotRight(_) => "NOT RIGHT",
            _ => "Mind",
        };
        self.card(target, title, &words, skip)
    }
}

fn item(glyph: Option<crate::glyphs::Glyph>, label: Label<'_>) -> Item<'_> {
    Item { glyph, label }
}
