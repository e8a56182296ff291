//! What is drawn at each place: the screen that belongs to it, over what is folded.

use core::convert::Infallible;
use core::fmt;

use embedded_graphics::Drawable;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use heapless::{String, Vec};
use offshed_core::ident::TextId;
use offshed_core::pack::Texts;
use offshed_core::pack::layout::text;
use offshed_core::register::Register;
use offshed_core::stamp::Stamp;
use offshed_core::words::Names;

use super::Program;
use super::places::{Asked, Place, Told};
use super::press::{EngineRow, OUTCOMES};
use crate::any::{self, AnyDisplay};
use crate::glyphs;
use crate::hand::{Journal, Moment, PinAnswer, Pins, Unstored};
use crate::layout::MOST_ROWS;
use crate::names::{Clocked, HandNames};
use crate::paint::Extent;
use crate::screens::{BoilerPage, Card, FitnessPage, Item, Label, Menu, Sentence};

/// Rows of a list in sight.
pub(super) type Rows<I> = Vec<I, MOST_ROWS, u8>;

/// A sentence from a function.
pub(super) struct Say<F: Fn(&mut fmt::Formatter<'_>) -> fmt::Result>(pub(super) F);

impl<F: Fn(&mut fmt::Formatter<'_>) -> fmt::Result> fmt::Display for Say<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        (self.0)(f)
    }
}

const CHOOSE: &str = "up/down: choose  select: take it  left: back";
pub(super) const SCROLL: &str = "up/down: scroll  left: back";

/// A list with one row chosen.
pub(super) struct Listed<'s> {
    pub(super) title: &'s str,
    pub(super) at: usize,
    pub(super) all: usize,
}

/// How a review ends, in words.
pub(super) fn outcome(n: usize) -> &'static str {
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
        any::drawn(target, |any| self.show(any, at))
    }

    fn show(&self, target: &mut AnyDisplay<'_>, at: Moment) -> Result<Extent, Infallible> {
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

    pub(super) fn names(&self, at: Moment) -> HandNames<'_, T, J> {
        HandNames {
            pack: self.pack,
            texts: self.texts,
            roster: &self.shed.roster,
            records: self.desk.store(),
            now: at.now.stamp,
        }
    }

    /// The row that stands on top: the chosen one has one before it, on a tall display three.
    pub(super) fn first(&self, at: usize) -> usize {
        at.saturating_sub(if self.layout().rows > 6 { 3 } else { 1 })
    }

    pub(super) fn menu<'s, D>(
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

    pub(super) fn draw_engines<D: DrawTarget<Color = BinaryColor>>(
        &self,
        target: &mut D,
        n: usize,
    ) -> Result<Extent, D::Error> {
        let roster = &self.shed.roster;
        let (engines, card) = (roster.engines().count(), self.card_row());
        let who = self.person.and_then(|id| roster.person_name(id));
        let all = engines + usize::from(card.is_some()) + 1;
        self.menu(target, Listed { title: "Engines", at: n, all }, |n| {
            Some(match roster.engines().nth(n) {
                Some((id, name)) => item(None, Label::Numbered(id.0, name)),
                None if card == Some(n) => item(Some(glyphs::BOX), Label::Words("Card: give and take")),
                None => item(Some(glyphs::PERSON), Label::Words(who.unwrap_or("Sign in"))),
            })
        })
    }

    pub(super) fn engine_title(&self) -> String<64> {
        let engine = self.shed.engine.id;
        let mut title = String::new();
        // A name of an entry is never longer than this.
        let _ = fmt::write(&mut title, format_args!("{engine} {}", self.shed.roster.engine_name(engine)));
        title
    }

    pub(super) fn draw_engine<D: DrawTarget<Color = BinaryColor>>(
        &self,
        target: &mut D,
        n: usize,
    ) -> Result<Extent, D::Error> {
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

    pub(super) fn draw_fitness<D>(&self, target: &mut D, skip: usize, at: Moment) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        let fitness = self.shed.fitness(self.pack, at.now);
        let clocked = |stamp| Clocked { roster: &self.shed.roster, at: stamp, now: at.now.stamp };
        let until = fitness.until.map_or(at.now.stamp, |(until, _)| until);
        let office = self.desk.store().judged().map(|(stated, _)| {
            let mut office: String<24> = String::new();
            // A date or a time of day has room.
            let _ = fmt::write(&mut office, format_args!("{}", self.when(stated, at)));
            office
        });
        let page = FitnessPage {
            texts: self.texts,
            names: &self.names(at),
            engine: self.shed.engine.id,
            fitness: &fitness,
            until: &clocked(until),
            records_to: &clocked(self.shed.last.unwrap_or(at.now.stamp)),
            office: office.as_ref().map(|when| when as &dyn fmt::Display),
            skip,
        };
        page.draw(target)
    }

    pub(super) fn draw_boiler<D>(
        &self,
        target: &mut D,
        mm: u16,
        read: Option<Stamp>,
        at: Moment,
    ) -> Result<Extent, D::Error>
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
    pub(super) fn when(&self, read: Stamp, at: Moment) -> impl fmt::Display + '_ {
        let zone = self.shed.roster.zone();
        let (day, today) = (zone.day(read), zone.day(at.now.stamp));
        let clocked = Clocked { roster: &self.shed.roster, at: read, now: at.now.stamp };
        Say(move |f: &mut fmt::Formatter<'_>| if day == today { write!(f, "{clocked}") } else { write!(f, "{day}") })
    }

    pub(super) fn card<D>(
        &self,
        target: &mut D,
        title: &str,
        words: &dyn fmt::Display,
        skip: usize,
    ) -> Result<Extent, D::Error>
    where
        D: DrawTarget<Color = BinaryColor>,
    {
        Card { texts: self.texts, title, words, text: TextId::NONE, foot: SCROLL, skip }.draw(target)
    }

    pub(super) fn draw_people<D>(&self, target: &mut D, asked: Asked, n: usize) -> Result<Extent, D::Error>
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

    pub(super) fn draw_told<D>(&self, target: &mut D, told: Told, skip: usize, at: Moment) -> Result<Extent, D::Error>
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
            Told::NotDurable(why) => write!(f, "{why}"),
            Told::Unwritable => f.write_str("This device can record no more. Nothing is recorded: write it on paper"),
            Told::Blank => f.write_str("Nothing is entered yet"),
            Told::Pin(PinAnswer::Wrong { left: 1 }) => f.write_str("Wrong PIN: one more try, then a wait"),
            Told::Pin(PinAnswer::Wrong { left }) => write!(f, "Wrong PIN: {left} more tries, then a wait"),
            Told::Pin(PinAnswer::Wait { until: at }) => write!(f, "Too many wrong PINs: wait until {}", until(at)),
            Told::Pin(PinAnswer::NoPin) => f.write_str("No PIN is set on this device: have the office set one"),
            Told::Pin(PinAnswer::Right) => f.write_str("The PIN is right"),
            Told::Card(report) => write!(f, "{report}"),
            Told::Lacks(n) => write!(f, "{n} facts of the register find no room here: no engine is called fit on it"),
        });
        let title = match told {
            Told::Refused(_) => "Refused",
            Told::NotRight(_) => "NOT RIGHT",
            Told::NotDurable(Unstored::Full) => "FULL",
            Told::Card(report) => report.title(),
            _ => "Mind",
        };
        self.card(target, title, &words, skip)
    }
}

pub(super) fn item(glyph: Option<crate::glyphs::Glyph>, label: Label<'_>) -> Item<'_> {
    Item { glyph, label }
}
