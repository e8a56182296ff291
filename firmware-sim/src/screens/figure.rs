//! A figure with its working, or a date, before a person accepts it.

use core::fmt;

use offshed_core::boiler::level::Needed;
use offshed_core::boiler::water::blowdown::Advice;
use offshed_core::boiler::water::dose::Dose;
use offshed_core::entry::Shown;
use offshed_core::ident::TextId;
use offshed_core::reason::Why;
use offshed_core::verdict::{Basis, Worked};
use offshed_core::words::Names;

use super::{Sentence, screen};
use crate::column::Column;
use crate::decimal::{tenths, thousandths, whole};
use crate::glyphs;

/// What is to be accepted.
pub struct FigurePage<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// The step's title.
    pub title: TextId,
    /// Names of things.
    pub names: &'a dyn Names,
    /// What is shown, or why nothing can be.
    pub shown: Result<&'a Shown, Why>,
    /// The working of a figure.
    pub worked: Option<&'a Worked>,
    /// Titles of the readings it starts from, in order.
    pub inputs: &'a [TextId],
    /// What `select` does here.
    pub foot: &'a str,
    /// Lines scrolled away.
    pub skip: usize,
}

struct Need(Needed);

impl fmt::Display for Need {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Needed::Reading { mm } => write!(f, "{} mm", whole(mm)),
            other => f.write_str(other.words()),
        }
    }
}

/// The lines of a working: what it is made of, and what to do.
fn working<D>(column: &mut Column<'_, '_, D>, basis: &Basis, worked: &Worked)
where
    D: embedded_graphics::draw_target::DrawTarget<Color = embedded_graphics::pixelcolor::BinaryColor>,
{
    let result = worked.result;
    match basis {
        Basis::LeastLevel { covered, in_sight, cover_mm } => {
            column.words(format_args!("Leave with {result} or more, regulator shut"));
            let km = |metres: f64| tenths(metres / 1_000.0);
            let (need, at) = (Need(covered.least_to_be_sure), km(covered.place.distance_m));
            column.words(format_args!("Crown covered by {} mm: {need}, at km {at}", whole(*cover_mm)));
            let (need, at) = (Need(in_sight.least_to_be_sure), km(in_sight.place.distance_m));
            column.words(format_args!("Level in sight: {need}, at km {at}"))
        }
        Basis::Dose { dose: Dose::None { over_mg_l }, .. } => {
            column.words(format_args!("Nothing to add: {} mg/l over its target", whole(*over_mg_l)))
        }
        Basis::Dose { dose: Dose::Add { grams, measured }, litres, target_mg_l, .. } => {
            let (grams, low, high) = (whole(grams.value), whole(grams.low), whole(grams.high));
            column.words(format_args!("Add {grams} g ({low} to {high} g)"));
            if let Some(m) = measured {
                let (n, g, then) = (thousandths(m.measures), whole(m.grams), whole(m.reaches_mg_l));
                column.words(format_args!("{n} measures, {g} g; then {then} mg/l"));
            }
            column.words(format_args!("Target {} mg/l in {} l", whole(*target_mg_l), whole(litres.value)))
        }
        Basis::Blowdown { advice: Advice::NotNeeded { under_mg_l }, .. } => {
            column.words(format_args!("No blowdown needed: {} mg/l under the target", whole(*under_mg_l)))
        }
        Basis::Blowdown { advice: Advice::Blow(rounds), task } => {
            let (n, stop) = (rounds.rounds, whole(rounds.stop_mm));
            column.words(format_args!("{n} times: let it fall {result}, to {stop} mm, and fill up"));
            let low = whole(task.lower_mark_mm);
            column.words(format_args!("A second person watches the glass; shut at {low} mm whatever this says"));
            let (then, target) = (whole(rounds.reaches_mg_l.value), whole(task.target_mg_l));
            column.words(format_args!("Then {then} mg/l, target {target}"))
        }
        Basis::Solids { solids, by } => {
            let (measured, factor) = (whole(solids.us_cm_25.value), thousandths(by.mg_l_per_us_cm));
            column.words(format_args!("{measured} uS/cm at 25 C, times {factor}"))
        }
        Basis::Heating { rate, hours } => {
            let (low, high, minutes) = (whole(rate.low_k_per_h), whole(rate.high_k_per_h), whole(hours * 60.0));
            column.words(format_args!("{low} to {high} K/h over {minutes} min"))
        }
    };
}

fn date<D>(column: &mut Column<'_, '_, D>, shown: &Shown)
where
    D: embedded_graphics::draw_target::DrawTarget<Color = embedded_graphics::pixelcolor::BinaryColor>,
{
    if let Shown::Date { done_on, steam_days, last_day, steam_days_left } = shown {
        column.words(format_args!("Last done {done_on}"));
        if let Some(day) = last_day {
            column.words(format_args!("In date through {day}"));
        }
        if let Some(left) = steam_days_left {
            column.words(format_args!("{steam_days} days in steam since, {left} left"));
        }
    }
}

screen!(FigurePage, self, paint, {
    paint.bar("Look, then accept", "")?;
    paint.foot(self.foot)?;
    let mut column = paint.column(0, self.skip);
    column.pack_text(self.texts, self.title);
    match self.shown {
        Err(why) => {
            column.glyph(Some(glyphs::LOCK)).words(format_args!("{}", Sentence { names: self.names, why })).glyph(None);
        }
        Ok(shown @ Shown::Date { .. }) => date(&mut column, shown),
        Ok(Shown::Figure { result, rounds, .. }) => {
            let times = if *rounds > 1 { *rounds } else { 1 };
            column.inverse(true).glyph(Some(glyphs::ON));
            match times {
                1 => column.words(format_args!("{result}")),
                n => column.words(format_args!("{n} times {result}")),
            };
            column.inverse(false).glyph(None);
        }
    }
    if let Some(worked) = self.worked {
        column.words(format_args!("May be off by {}", worked.error));
        working(&mut column, &worked.basis, worked);
        if !self.inputs.is_empty() {
            column.rule();
        }
        for (title, value) in self.inputs.iter().zip(&worked.inputs) {
            let title = crate::names::Wording { texts: self.texts, id: *title };
            column.words(format_args!("{title}: {value}"));
        }
    }
    column.scrolled()
});
