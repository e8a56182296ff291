//! What a derived step computes: the figure, the readings it starts from, and everything its working shows.
//!
//! The readings are living proofs of other steps; the boiler, the road, the product and the feed water are the
//! register's.
//! The figure is computed again wherever an acceptance of it is judged, so that nobody accepts another than was due.
//! A figure is advice to a competent person, who looks at the glass.

use heapless::Vec;
use libm::fabs;

use super::Scene;
use super::rules::{due_counted, due_standing, read_off};
use crate::boiler::BadNumber;
use crate::boiler::level::{GlassReading, Needed, Regulator, Tilt};
use crate::boiler::pressure::Gauge;
use crate::boiler::road::{Journey, Leaving, Used};
use crate::boiler::steam::{self, GaugeReading, HeatingRate, NoRate};
use crate::boiler::water::conductivity::{self, Conversion, Sample, Solids};
use crate::boiler::water::dose::{self, Dose, Product, Request};
use crate::boiler::water::{Estimate, blowdown, cold_litres};
use crate::entry::Shown;
use crate::ident::ProductId;
use crate::limits::FIGURE_INPUTS;
use crate::pack::rows::{Figure, KindRow, LimitSlots, Span, StepRow};
use crate::pack::slot;
use crate::reason::{NoFigure, Why};
use crate::register::{BoilerFacts, RoadFacts};
use crate::stamp::{Day, Now, Stamp};
use crate::units::{Reading, Rounding, Unit};

/// Greatest error of reading a gauge glass, mm: common practice, from memory.
pub const GLASS_ERROR_MM: f64 = 3.0;
/// Greatest error of reading a pressure gauge, kPa (2 psi): common practice, from memory.
pub const GAUGE_ERROR_KPA: f64 = 14.0;
/// Greatest error of a water test, as a share of what it shows: common practice, from memory.
pub const TEST_ERROR_SHARE: f64 = 0.05;
/// Greatest error of a thermometer, K: common practice, from memory.
pub const THERMOMETER_ERROR_K: f64 = 1.0;

/// A figure with its working.
#[derive(Clone, Debug, PartialEq)]
pub struct Worked {
    /// What was computed.
    pub figure: Figure,
    /// The result, rounded as it is shown and recorded.
    pub result: Reading,
    /// How far it may be off by the errors of reading, in the unit of the result.
    pub error: Reading,
    /// How often it is done: 1, but for a blowdown in rounds; 0: nothing is to be done.
    pub rounds: u8,
    /// The readings it started from, in the order of [`Figure::inputs`].
    pub inputs: Vec<Reading, FIGURE_INPUTS>,
    /// What else the working shows.
    pub basis: Basis,
}

/// What a figure's working shows beside inputs and result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// Of the least level to leave with.
    LeastLevel {
        /// What keeps the crown covered.
        covered: Leaving,
        /// What keeps the level in sight.
        in_sight: Leaving,
        /// The cover wanted, mm.
        cover_mm: f64,
    },
    /// Of a dose.
    Dose {
        /// The dose.
        dose: Dose,
        /// Water in the boiler, l at the temperature of the sample.
        litres: Estimate,
        /// The product.
        product: Product,
        /// The target, mg/l.
        target_mg_l: f64,
    },
    /// Of a blowdown.
    Blowdown {
        /// What to do.
        advice: blowdown::Advice,
        /// What was asked.
        task: blowdown::Task,
    },
    /// Of dissolved solids.
    Solids {
        /// Conductivity at 25 °C and solids.
        solids: Solids,
        /// The factor and coefficient used.
        by: Conversion,
    },
    /// Of a rate of heating.
    Heating {
        /// The rate.
        rate: HeatingRate,
        /// Hours between the readings.
        hours: f64,
    },
}

/// A derived step's own rows.
#[derive(Clone, Copy)]
struct Asked<'r> {
    step: &'r StepRow,
    figure: Figure,
    unit: Unit,
    inputs: Span,
    limits: LimitSlots,
}

/// One reading that a figure starts from.
#[derive(Clone, Copy)]
struct Given {
    reading: Reading,
    /// In the base unit of its quantity.
    value: f64,
    at: Stamp,
}

/// Computes the figure of a derived step from what is known now.
///
/// # Errors
/// When the step computes no figure, a reading it starts from is not alive, the register lacks what it needs, or the
/// figure can't be told.
pub fn figure(scene: &Scene<'_>, step: &StepRow, now: Now) -> Result<Worked, Why> {
    let KindRow::Figure { figure, unit, inputs, limits } = step.kind else {
        return Err(Why::WrongKind { step: step.id });
    };
    Asked { step, figure, unit, inputs, limits }.work(scene, now)
}

impl Asked<'_> {
    fn no(&self, because: NoFigure) -> Why {
        Why::NoFigure { step: self.step.id, because }
    }

    fn bad(&self, bad: BadNumber) -> Why {
        self.no(NoFigure::Number { field: bad.field })
    }

    fn work(&self, scene: &Scene<'_>, now: Now) -> Result<Worked, Why> {
        let given = self.given(scene, now)?;
        let told = match self.figure {
            Figure::LeastLevel => self.least_level(scene, now)?,
            Figure::Dose { product } => self.dose(scene, product, &given)?,
            Figure::Blowdown => self.blowdown(scene, &given)?,
            Figure::Solids => self.solids(scene, &given)?,
            Figure::Heating => self.heating(scene, &given)?,
        };
        let round = |value, how| Reading::rounded(value, self.unit, how).ok_or(self.no(NoFigure::TooLarge));
        Ok(Worked {
            figure: self.figure,
            result: round(told.value, told.rounding)?,
            error: round(told.error, Rounding::Up)?,
            rounds: told.rounds,
            inputs: given.iter().map(|g| g.reading).collect(),
            basis: told.basis,
        })
    }

    /// The readings it starts from; one that can be done without is left out where its step does not apply.
    fn given(&self, scene: &Scene<'_>, now: Now) -> Result<Vec<Given, FIGURE_INPUTS>, Why> {
        let mut given = Vec::new();
        for (input, step) in self.figure.inputs().iter().zip(scene.pack.listed(self.inputs)) {
            match read_off(scene, step, now)? {
                Some((reading, at)) => {
                    // There is room: no figure has more inputs than the list.
                    let _ = given.push(Given { reading, value: scene.number(step, reading)?, at });
                }
                None if input.wanted => return Err(Why::NoValue { step }),
                None => break,
            }
        }
        Ok(given)
    }

    /// A limit of the figure's own, in the base unit of its quantity.
    fn own(&self, scene: &Scene<'_>, param: u8) -> Result<f64, Why> {
        let limit = scene.pack.limit(self.limits, slot::OWN.saturating_add(param));
        let limit = limit.ok_or(self.no(NoFigure::Number { field: "limit" }))?;
        scene.number(self.step.id, limit)
    }

    fn nth(&self, given: &[Given], n: usize) -> Result<Given, Why> {
        given.get(n).copied().ok_or(Why::NoValue { step: self.step.id })
    }

    fn boiler<'s>(&self, scene: &'s Scene<'_>) -> Result<BoilerFacts<'s>, Why> {
        scene.register.boiler(scene.engine.id).ok_or(Why::BoilerUnknown)
    }

    fn least_level(&self, scene: &Scene<'_>, now: Now) -> Result<Told, Why> {
        let vessel = self.boiler(scene)?.vessel;
        let road: RoadFacts<'_> = scene.register.road(scene.engine.id, now.stamp).ok_or(Why::RoadUnknown)?;
        let cover_mm = self.own(scene, Figure::COVER)?;
        let journey = Journey {
            points: road.points,
            start: road.start,
            regulator: Regulator::Shut,
            used: Used::PerKm(road.used_l_per_km),
            cover_mm,
            error_mm: GLASS_ERROR_MM,
        };
        let bad = |_| self.no(NoFigure::Road);
        let covered = vessel.least_to_leave(&journey).map_err(bad)?;
        let in_sight = vessel.least_in_sight(&journey).map_err(bad)?;
        let reading = |leaving: Leaving| match leaving.least_to_be_sure {
            Needed::Reading { mm } => Ok(mm),
            Needed::AnyInSight { .. } => Ok(0.0),
            Needed::OverTheGlass { .. } | Needed::OverBrimFull => Err(self.no(NoFigure::NoLevelIsEnough)),
        };
        let value = reading(covered)?.max(reading(in_sight)?);
        let basis = Basis::LeastLevel { covered, in_sight, cover_mm };
        Ok(Told { value, error: GLASS_ERROR_MM, rounding: Rounding::Up, rounds: 1, basis })
    }

    /// Water in the boiler, l at the temperature of the sample: hot water is thinner.
    fn litres(&self, scene: &Scene<'_>, level: Given, pressure: Option<Given>) -> Result<Estimate, Why> {
        let vessel = self.boiler(scene)?.vessel;
        let glass = GlassReading { mm: level.value, error_mm: GLASS_ERROR_MM };
        let seen = vessel.at_reading(glass, Regulator::Shut, Tilt::LEVEL).map_err(|bad| self.bad(bad))?;
        let cold = |litres: f64| match pressure.filter(|p| p.value > 0.0) {
            None => Ok(litres),
            Some(pressure) => {
                let gauge = Gauge::from_kpa(pressure.value).map_err(|bad| self.bad(bad))?;
                let celsius = steam::saturation_celsius(gauge, scene.register.air()).map_err(|bad| self.bad(bad))?;
                cold_litres(litres, celsius).map_err(|bad| self.bad(bad))
            }
        };
        Ok(Estimate {
            value: cold(seen.as_read.volume_l)?,
            low: cold(seen.at_least.volume_l)?,
            high: cold(seen.at_most.volume_l)?,
        })
    }

    fn dose(&self, scene: &Scene<'_>, product: ProductId, given: &[Given]) -> Result<Told, Why> {
        let (test, level) = (self.nth(given, 0)?, self.nth(given, 1)?);
        let product = scene.register.product(product).ok_or(Why::ProductUnknown { product })?;
        let litres = self.litres(scene, level, given.get(2).copied())?;
        let target_mg_l = self.own(scene, Figure::TARGET)?;
        let reading_mg_l = Estimate::around(test.value, test.value * TEST_ERROR_SHARE);
        let request = Request { reading_mg_l, target_mg_l, litres, product };
        let dose = dose::dose(&request).map_err(|bad| self.bad(bad))?;
        let (grams, rounds) = match dose {
            Dose::None { .. } => (Estimate::exact(0.0), 0),
            Dose::Add { grams, .. } => (grams, 1),
        };
        // Mass is told in kilograms as its base unit.
        let (value, error) = (grams.value / 1e3, either_way(grams) / 1e3);
        let basis = Basis::Dose { dose, litres, product, target_mg_l };
        Ok(Told { value, error, rounding: Rounding::Nearest, rounds, basis })
    }

    fn blowdown(&self, scene: &Scene<'_>, given: &[Given]) -> Result<Told, Why> {
        let (test, level) = (self.nth(given, 0)?, self.nth(given, 1)?);
        let vessel = self.boiler(scene)?.vessel;
        let feed = scene.register.feed_water().ok_or(Why::FeedWaterUnknown)?;
        let task = blowdown::Task {
            solids_mg_l: Estimate::around(test.value, test.value * TEST_ERROR_SHARE),
            feed_mg_l: feed.solids_mg_l,
            target_mg_l: self.own(scene, Figure::TARGET)?,
            level: GlassReading { mm: level.value, error_mm: GLASS_ERROR_MM },
            lower_mark_mm: self.own(scene, Figure::LOWER_MARK)?,
        };
        let litres = |mm: f64| vessel.litres_at(mm, Tilt::LEVEL).ok();
        let advice = blowdown::fewest_rounds(&task, litres).map_err(|why| self.no_blowdown(why))?;
        let basis = Basis::Blowdown { advice, task };
        let (value, error, rounds) = match advice {
            blowdown::Advice::NotNeeded { .. } => (0.0, 0.0, 0),
            blowdown::Advice::Blow(rounds) => (rounds.fall_mm, 2.0 * GLASS_ERROR_MM, rounds.rounds),
        };
        Ok(Told { value, error, rounding: Rounding::Up, rounds, basis })
    }

    fn no_blowdown(&self, why: blowdown::Refused) -> Why {
        let glass =
            |mm: f64| Reading::rounded(mm, Unit::GlassMm, Rounding::Up).unwrap_or(Reading::whole(0, Unit::GlassMm));
        self.no(match why {
            blowdown::Refused::Number(bad) => NoFigure::Number { field: bad.field },
            blowdown::Refused::FeedTooStrong { .. } => NoFigure::FeedTooStrong,
            blowdown::Refused::StartsTooLow { least_mm, .. } => NoFigure::FillFirst { least: glass(least_mm) },
            blowdown::Refused::PassesLowerMark { .. } => NoFigure::TooManyRounds,
            blowdown::Refused::NoLitres { .. } | blowdown::Refused::LitresDoNotFall { .. } => {
                NoFigure::Number { field: "boiler" }
            }
        })
    }

    fn solids(&self, scene: &Scene<'_>, given: &[Given]) -> Result<Told, Why> {
        let (meter, temperature) = (self.nth(given, 0)?, self.nth(given, 1)?);
        let by = Conversion {
            percent_per_k: self.own(scene, Figure::PER_KELVIN)?,
            mg_l_per_us_cm: self.own(scene, Figure::FACTOR)?,
        };
        let sample = Sample {
            us_cm: meter.value,
            error_us_cm: meter.value * TEST_ERROR_SHARE,
            celsius: temperature.value,
            error_k: THERMOMETER_ERROR_K,
        };
        let solids = conductivity::solids(sample, by).map_err(|bad| self.bad(bad))?;
        let (value, error) = (solids.mg_l.value, either_way(solids.mg_l));
        Ok(Told { value, error, rounding: Rounding::Nearest, rounds: 1, basis: Basis::Solids { solids, by } })
    }

    fn heating(&self, scene: &Scene<'_>, given: &[Given]) -> Result<Told, Why> {
        let (first, second) = (self.nth(given, 0)?, self.nth(given, 1)?);
        let gauge = |given: Given| Ok(GaugeReading { gauge: self.gauge(given.value)?, error_kpa: GAUGE_ERROR_KPA });
        let steady = self.gauge(self.own(scene, Figure::STEADY)?)?;
        let hours = second.at.since(first.at) as f64 / 3_600.0;
        let rate = steam::heating_rate(gauge(first)?, gauge(second)?, hours, steady, scene.register.air());
        let rate = rate.map_err(|why| match why {
            NoRate::Number(bad) if bad.field == "hours" => self.no(NoFigure::NotApart),
            NoRate::Number(bad) => self.bad(bad),
            NoRate::NoSteadyPressure { .. } => self.no(NoFigure::NoSteadyPressure),
        })?;
        let error = (rate.k_per_h - rate.low_k_per_h).max(rate.high_k_per_h - rate.k_per_h);
        let basis = Basis::Heating { rate, hours };
        Ok(Told { value: rate.k_per_h, error, rounding: Rounding::Nearest, rounds: 1, basis })
    }

    fn gauge(&self, kpa: f64) -> Result<Gauge, Why> {
        Gauge::from_kpa(kpa).map_err(|bad| self.bad(bad))
    }
}

/// What a derived step shows now to the person who is to accept it.
///
/// # Errors
/// When the step computes nothing, or what it computes can't be told.
pub fn shown(scene: &Scene<'_>, step: &StepRow, now: Now) -> Result<Shown, Why> {
    if let KindRow::Due { due } = step.kind {
        let standing = due_standing(scene, due, now)?;
        let (record, steam_days) = due_counted(scene, due, now)?;
        return Ok(Shown::Date {
            done_on: record.done_on,
            steam_days,
            last_day: standing.last_day.map(Day::of),
            steam_days_left: standing.steam_days_left,
        });
    }
    let Worked { inputs, result, rounds, .. } = figure(scene, step, now)?;
    Ok(Shown::Figure { inputs, result, rounds })
}

/// A figure before it is rounded, in the base unit of its quantity.
struct Told {
    value: f64,
    error: f64,
    rounding: Rounding,
    rounds: u8,
    basis: Basis,
}

/// The nearest of the step's own limits that the errors of reading could bring a figure to the other side of: read it
/// again before the figure is relied on.
pub fn in_doubt(scene: &Scene<'_>, step: &StepRow, worked: &Worked) -> Option<Reading> {
    let KindRow::Figure { unit, limits, .. } = step.kind else { return None };
    let at = scene.base(step.id, worked.result, unit.quantity()).ok()?;
    let error = scene.difference(step.id, worked.error, unit.quantity()).ok()?;
    let near = |n| {
        let limit = scene.pack.limit(limits, n)?;
        let off = scene.base(step.id, limit, unit.quantity()).ok()?.abs_diff(at);
        (error > 0 && off <= error.unsigned_abs()).then_some((off, limit))
    };
    let limits = [slot::LOW, slot::HIGH, slot::WARN_LOW, slot::WARN_HIGH];
    limits.into_iter().filter_map(near).min_by_key(|(off, _)| *off).map(|(_, limit)| limit)
}

/// The greater way in which an estimate may be off.
fn either_way(estimate: Estimate) -> f64 {
    fabs(estimate.value - estimate.low).max(fabs(estimate.high - estimate.value))
}
