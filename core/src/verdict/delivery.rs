//! What a feed delivers, told from the rise of the glass at a part of its proof.

use super::Scene;
use crate::boiler::feed::{self, NoDelivery, Steaming, Verdict, Watched};
use crate::boiler::level::{GlassReading, Regulator, Tilt};
use crate::boiler::pressure::Gauge;
use crate::boiler::steam;
use crate::pack::rows::{AskRow, LimitSlots, StepRow};
use crate::pack::slot;
use crate::reason::{NoFigure, Why};
use crate::units::{Quantity, Reading, Rounding, Unit};

use super::figure::GLASS_ERROR_MM;

/// Temperature taken for feed water where none is stated, °C: common practice, from memory.
const FEED_C: f64 = 15.0;

/// A feed's delivery with its working.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delivered {
    /// As it is shown and recorded.
    pub shown: Reading,
    /// The least that the pack asks for.
    pub least: Reading,
    /// The sum.
    pub delivery: feed::Delivery,
    /// As watched.
    pub watched: Watched,
    /// The delivery beside the least, with the errors of reading.
    pub verdict: Verdict,
}

/// The delivery at a part that asks for a rise, with `got` as the reading at its end; nothing where the pack asks for
/// none, or the boiler or its working pressure is not known.
///
/// The boiler's water is taken as hot as at working pressure, and nothing as steamed off: the feed gives at least what is
/// told.
///
/// # Errors
/// When the glass was nearly full, or a number is out of range.
pub fn delivery(scene: &Scene<'_>, step: &StepRow, ask: AskRow, got: Reading) -> Result<Option<Delivered>, Why> {
    let AskRow::Rise { part, timed_by, limits, .. } = ask else { return Ok(None) };
    let id = step.id;
    let Some(least) = scene.pack.limit(limits, slot::DELIVERY) else { return Ok(None) };
    let (Some(boiler), Some(working)) = (scene.register.boiler(scene.engine.id), scene.facts().working) else {
        return Ok(None);
    };
    let progress = scene.sheet.and_then(|s| s.progress(id)).ok_or(Why::NoValue { step: id })?;
    let from = progress.reading(part).ok_or(Why::NoValue { step: id })?;
    let tenths = progress.tenths(timed_by).ok_or(Why::NoValue { step: id })?;
    let (start, end) = (scene.number(id, from)?, scene.number(id, got)?);
    let bad = |field| Why::NoFigure { step: id, because: NoFigure::Number { field } };
    let middle = GlassReading { mm: (start + end) / 2.0, error_mm: 0.0 };
    let seen = boiler.vessel.at_reading(middle, Regulator::Shut, Tilt::LEVEL).map_err(|n| bad(n.field))?;
    let gauge = Gauge::from_kpa(scene.number(id, working)?).map_err(|n| bad(n.field))?;
    let boiler_c = steam::saturation_celsius(gauge, scene.register.air()).map_err(|n| bad(n.field))?;
    let watched = Watched {
        start: GlassReading { mm: start, error_mm: GLASS_ERROR_MM },
        end: GlassReading { mm: end, error_mm: GLASS_ERROR_MM },
        seconds: f64::from(tenths) / 10.0,
        litres_per_mm: seen.as_read.litres_per_mm,
        boiler_c,
        feed_c: scene.register.feed_water().map_or(FEED_C, |feed| feed.celsius),
        steaming: Steaming::Unknown,
        highest_mm: highest(scene, step, limits)?,
    };
    let delivery = feed::delivery(&watched).map_err(|why| match why {
        NoDelivery::Number(number) => bad(number.field),
        NoDelivery::NearlyFull { highest_mm, .. } => Why::NoFigure { step: id, because: nearly_full(highest_mm) },
    })?;
    let verdict = delivery.against(scene.number(id, least)?).map_err(|n| bad(n.field))?;
    let shown = Reading::rounded(delivery.l_min, least.unit, Rounding::Nearest).ok_or(bad("delivery"))?;
    Ok(Some(Delivered { shown, least, delivery, watched, verdict }))
}

fn nearly_full(highest_mm: f64) -> NoFigure {
    let highest = Reading::rounded(highest_mm, Unit::GlassMm, Rounding::Nearest);
    NoFigure::NearlyFull { highest: highest.unwrap_or(Reading::whole(0, Unit::GlassMm)) }
}

/// The highest reading at which a rise is believed, mm; a pack that states a delivery states it.
fn highest(scene: &Scene<'_>, step: &StepRow, limits: LimitSlots) -> Result<f64, Why> {
    let limit = scene.pack.limit(limits, slot::HIGHEST).ok_or(Why::NoValue { step: step.id })?;
    Ok(scene.base(step.id, limit, Quantity::Glass)? as f64 / 1_000.0)
}
