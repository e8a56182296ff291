//! Passing answers: what somebody would answer who finds everything right. Used to prove that every goal of a pack can
//! be reached through the real rules, and by day scripts that work through the ordinary part of a day.

use offshed_core::entry::{Answer, Found};
use offshed_core::ident::StepId;
use offshed_core::pack::rows::{AskRow, KindRow, LimitSlots, StepRow};
use offshed_core::pack::{Rule, part_unit, slot};
use offshed_core::sheet::Sheet;
use offshed_core::stamp::Now;
use offshed_core::units::{Own, Quantity, Reading, Unit};
use offshed_core::verdict::{self, Scene};

/// One passing answer and how long it takes to give.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passing {
    /// The answer.
    pub answer: Answer,
    /// Seconds that pass before it is given: the time of a hold, else 0.
    pub seconds: u32,
}

/// Looks at an engine and a sheet to find passing answers.
pub struct Passer<'a> {
    /// What a verdict looks at: rules, register, engine, sheet.
    pub scene: &'a Scene<'a>,
    /// Now: figures and dates are worked out for it.
    pub now: Now,
}

/// A whole pressure in the middle of what is usual where a pack sets no limit.
const fn usual(unit: Unit) -> i32 {
    match unit {
        Unit::GlassMm => 100,
        Unit::GlassInch => 4,
        Unit::GlassShare | Unit::Percent => 50,
        Unit::Psi => 150,
        Unit::Bar | Unit::KgfPerCm2 | Unit::Ph => 10,
        Unit::KPa => 1_000,
        Unit::InHg => 21,
        Unit::VacuumKPa => 70,
        Unit::VacuumMbar => 700,
        Unit::Celsius => 20,
        Unit::Fahrenheit => 68,
        Unit::MicroSiemensPerCm => 2_000,
        _ => 10,
    }
}

impl Passer<'_> {
    /// A passing answer to the step as it stands on `sheet`; `None` for signatures, which a person gives.
    pub fn answer(&self, sheet: &Sheet, step: &StepRow) -> Option<Passing> {
        let at_once = |answer| Some(Passing { answer, seconds: 0 });
        match step.kind {
            KindRow::Check => at_once(Answer::Done),
            KindRow::Reading { unit, limits } => at_once(Answer::Reading(self.reading(step.id, unit, limits))),
            KindRow::Identity { fitting } => {
                let number = self.scene.register.fitting(self.scene.engine.id, fitting).unwrap_or_default();
                at_once(Answer::Number(number.try_into().unwrap_or_default()))
            }
            KindRow::Choice { options } => {
                let passes = self.scene.pack.options(options).position(|o| o.passes)?;
                at_once(Answer::Choice(u8::try_from(passes).ok()?))
            }
            KindRow::Timed { unit, limits } => self.timed(sheet, step.id, unit, limits),
            KindRow::Due { .. } | KindRow::Figure { .. } => {
                at_once(Answer::Accepted(verdict::shown(self.scene, step, self.now).ok()?))
            }
            KindRow::Procedure { .. } => self.part(sheet, step),
            KindRow::Signature { .. } => None,
        }
    }

    fn own(&self) -> Own {
        self.scene.facts().own()
    }

    fn base(&self, reading: Reading) -> i64 {
        reading.in_base(reading.unit.quantity(), self.own()).unwrap_or(i64::from(reading.milli))
    }

    fn reading_of(&self, base: i64, unit: Unit) -> Reading {
        let base_unit = base_unit(unit.quantity());
        let milli = i32::try_from(base).unwrap_or(i32::MAX);
        let exact = Reading { milli, unit: base_unit }.to(unit, self.own());
        exact.unwrap_or(Reading { milli, unit })
    }

    /// Within the step's own limits, those that other steps set on it, and the warning band.
    fn reading(&self, id: StepId, unit: Unit, limits: LimitSlots) -> Reading {
        let pack = self.scene.pack;
        let mut lows: Vec<i64> = Vec::new();
        let mut highs: Vec<i64> = Vec::new();
        for (slots, to) in [([slot::LOW, slot::WARN_LOW], &mut lows), ([slot::HIGH, slot::WARN_HIGH], &mut highs)] {
            to.extend(slots.into_iter().filter_map(|n| pack.limit(limits, n)).map(|limit| self.base(limit)));
        }
        for rule in pack.all_steps().flat_map(|s| pack.needs(s.needs)).map(|need| need.rule) {
            if let Rule::Within { step, low, high } = rule
                && step == id
            {
                lows.extend(low.map(|l| self.base(l)));
                highs.extend(high.map(|h| self.base(h)));
            }
            if let Rule::AtLeast { reading, derived } = rule
                && reading == id
            {
                lows.extend(self.standing(derived).map(|value| self.base(value)));
            }
        }
        let (low, high) = (lows.into_iter().max(), highs.into_iter().min());
        let usual = self.base(Reading::whole(usual(unit), unit));
        let base = match (low, high) {
            (Some(low), Some(high)) => low + (high - low) / 2,
            (Some(low), None) => usual.max(low + low.abs() / 10),
            (None, Some(high)) => usual.min(high - high.abs() / 10),
            (None, None) => usual,
        };
        tidy(self.reading_of(base, unit), |r| {
            let base = self.base(r);
            low.is_none_or(|l| base >= l) && high.is_none_or(|h| base <= h)
        })
    }

    /// The value that stands on a step of the sheet.
    fn standing(&self, id: StepId) -> Option<Reading> {
        let place = self.scene.pack.place_of(id)?;
        self.scene.sheet?.mark(place)?.proof.value
    }

    fn timed(&self, sheet: &Sheet, id: StepId, unit: Option<Unit>, limits: LimitSlots) -> Option<Passing> {
        let start = sheet.progress(id).and_then(|p| p.hold);
        let Some(hold) = start else {
            let reading = unit.map(|unit| self.reading(id, unit, LimitSlots::default()));
            return Some(Passing { answer: Answer::Began(reading), seconds: 0 });
        };
        let tenths = self.time(limits);
        let rise = self.scene.pack.limit(limits, slot::MIN_RISE).map_or(0, |rise| self.base(rise));
        let reading = hold.reading.map(|from| self.reading_of(self.base(from) + rise, from.unit));
        Some(Passing { answer: Answer::Ended { tenths, reading }, seconds: tenths.div_ceil(10) })
    }

    /// Just long enough; half of what is allowed where only that is said.
    fn time(&self, limits: LimitSlots) -> u32 {
        let tenths = |n| self.scene.pack.limit_tenths(limits, n).and_then(|t| u32::try_from(t).ok());
        match (tenths(slot::AT_LEAST), tenths(slot::AT_MOST)) {
            (Some(least), _) => least,
            (None, Some(most)) => most / 2,
            (None, None) => 10,
        }
    }

    fn part(&self, sheet: &Sheet, step: &StepRow) -> Option<Passing> {
        let KindRow::Procedure { parts } = step.kind else { return None };
        let progress = sheet.progress(step.id);
        let part = progress.map_or(0, |p| p.next());
        let row = self.scene.pack.parts(parts).nth(usize::from(part))?;
        let earlier = |n: u8| progress.and_then(|p| p.reading(n));
        let (found, seconds) = match row.ask {
            AskRow::Seen => (Found::Seen, 0),
            AskRow::Reading { unit, limits } => (Found::Reading(self.reading(step.id, unit, limits)), 0),
            AskRow::Time { limits } => {
                let tenths = self.time(limits);
                (Found::Time { tenths }, tenths.div_ceil(10))
            }
            AskRow::Same { part, .. } => (Found::Reading(earlier(part)?), 0),
            AskRow::Rise { part, timed_by, limits, .. } => {
                let tenths = i64::from(progress.and_then(|p| p.tenths(timed_by))?);
                let (from, over) = (earlier(part)?, self.scene.pack.limit_tenths(limits, slot::OVER)?);
                let least = self.base(self.scene.pack.limit(limits, slot::RISE)?);
                let rise = (least * tenths + over - 1) / over;
                let unit = part_unit(row.ask).unwrap_or(from.unit);
                // A millimetre to spare covers the rounding of the unit.
                let told = |base| self.reading_of(base, unit);
                (self.delivering(step, row.ask, self.base(from) + rise + 1_000, told)?, 0)
            }
        };
        Some(Passing { answer: Answer::Part { part, found }, seconds })
    }
}

impl Passer<'_> {
    /// From a rise that is enough by itself, millimetre by millimetre to one whose delivery is enough as well, where it
    /// can be told.
    fn delivering(&self, step: &StepRow, ask: AskRow, from: i64, told: impl Fn(i64) -> Reading) -> Option<Found> {
        (0..MOST_RISE_MM).map(|more| told(from + more * 1_000)).find_map(|reading| {
            match verdict::delivery(self.scene, step, ask, reading) {
                Ok(None) => Some(Found::Reading(reading)),
                Ok(Some(d)) if d.shown.milli >= d.least.milli => Some(Found::Rose { reading, delivery: d.shown }),
                Ok(Some(_)) => None,
                Err(_) => Some(Found::Reading(reading)),
            }
        })
    }
}

/// How far beyond the least rise a delivery is looked for, mm.
const MOST_RISE_MM: i64 = 300;

fn base_unit(quantity: Quantity) -> Unit {
    match quantity {
        Quantity::Glass => Unit::GlassMm,
        Quantity::Length => Unit::Mm,
        Quantity::Pressure => Unit::KPa,
        Quantity::Vacuum => Unit::VacuumKPa,
        Quantity::Temperature => Unit::Celsius,
        Quantity::Conductivity => Unit::MicroSiemensPerCm,
        Quantity::Ph => Unit::Ph,
        Quantity::Concentration => Unit::MgPerL,
        Quantity::Hardness => Unit::MgPerLCaCO3,
        Quantity::Time => Unit::Second,
        Quantity::Volume => Unit::Litre,
        Quantity::Mass => Unit::Kilogram,
        Quantity::Share => Unit::Percent,
        Quantity::Count => Unit::One,
        Quantity::Flow => Unit::LitrePerMinute,
        Quantity::Heating => Unit::KelvinPerHour,
        Quantity::SolidsFactor => Unit::MgPerLPerMicroSiemens,
    }
}

/// The roundest value near `reading` that still passes: as a person reads an instrument.
fn tidy(reading: Reading, passes: impl Fn(Reading) -> bool) -> Reading {
    for step in [5_000, 1_000, 100, 10] {
        let rounded = Reading { milli: (reading.milli + step / 2) / step * step, ..reading };
        if rounded.milli != 0 && passes(rounded) {
            return rounded;
        }
    }
    reading
}
