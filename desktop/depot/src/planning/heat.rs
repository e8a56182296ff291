//! Raising steam: how long from the lit fire until the gauge shows what a step wants, by the heating limit.

use offshed_core::boiler::pressure::{Atmosphere, Gauge};
use offshed_core::boiler::steam::saturation_celsius;
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::pack::{Pack, slot};
use offshed_core::plan::{Raising, raising_minutes};
use offshed_core::stamp::Stamp;
use offshed_core::units::{Own, Quantity, Reading, Unit};

use super::route::Route;
use super::{Begun, NotPlanned, Words};

/// The temperature a boiler is taken to have when nobody says, °C.
pub const COLD_C: f64 = 15.0;
/// A boiler above this is not planned as from cold, °C; common practice, from memory.
pub const WARM_C: f64 = 50.0;

/// An engine in steam is at least this hot, °C.
const BOILING_C: f64 = 100.0;

/// How a boiler may be heated; common practice, from memory: 30 K/h, three hours from cold to first pressure.
pub const USUAL: Raising = Raising { k_per_h: 30.0, first_pressure_minutes: 180.0, cold_c: COLD_C };

/// What is known of the boiler's heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// The heating limit.
    pub limit: Raising,
    /// The water's temperature now, °C, 0 to 250; `None`: cold, or as the last pressure on the sheet says.
    pub water_c: Option<f64>,
    /// The working pressure, kPa; `None`: not known.
    pub working_kpa: Option<f64>,
}

/// A time of heating that ends at a pressure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Heating {
    /// The pressure, kPa.
    pub(super) kpa: f64,
    /// The pressure as the pack or the register writes it.
    pub(super) told: Option<Reading>,
    /// Minutes that are left of it.
    pub(super) minutes: u32,
    /// Rows of the steps that wait for it.
    pub(super) steps: Vec<usize>,
}

/// The gauge pressure a step is done at; `None` where it says nothing of the boiler.
///
/// A reading of pressure that every engine takes is of the boiler; one without a lowest value is at working pressure.
fn wanted(pack: &Pack<'_>, row: &StepRow, working_kpa: Option<f64>) -> Option<(f64, Option<Reading>)> {
    let steam = pack.head().steam.is_some_and(|state| row.sets.has(state.0));
    match row.kind {
        KindRow::Reading { unit, limits } if unit.quantity() == Quantity::Pressure && row.applies.is_none() => {
            match pack.limit(limits, slot::LOW) {
                Some(low) => Some((kpa(low, working_kpa)?, Some(low))),
                None => Some((working_kpa?, None)),
            }
        }
        _ if steam => Some((0.0, None)),
        _ => None,
    }
}

/// Whether an open step is done at working pressure, which must be known then.
pub(super) fn wants_working(pack: &Pack<'_>, route: &Route, begun: &Begun) -> bool {
    let Some(lit) = route.lit else { return false };
    let all = route.rows.iter().enumerate();
    let mut open = all.filter(|(n, _)| route.holds(*n) && !route.done(*n, begun) && route.ancestors(*n).contains(&lit));
    open.any(|(_, row)| wanted(pack, row, None) != wanted(pack, row, Some(1_000.0)))
}

/// A pressure, kPa; `None` for a share of a working pressure that is not known.
fn kpa(reading: Reading, working_kpa: Option<f64>) -> Option<f64> {
    // A gauge pressure that was checked is far below what thousandths of a kilopascal hold.
    let working = working_kpa.map(|kpa| Reading { milli: (kpa * 1_000.0).round() as i32, unit: Unit::KPa });
    Some(reading.in_base(Quantity::Pressure, Own { glass_mm: None, working }).ok()? as f64 / 1_000.0)
}

/// The temperature of a boiler under a gauge pressure, °C.
fn celsius(kpa: f64) -> Result<f64, NotPlanned> {
    let bad = |words: String| NotPlanned::Number { words };
    let gauge = Gauge::from_kpa(kpa).map_err(|fault| bad(format!("the pressure: {fault}")))?;
    saturation_celsius(gauge, Atmosphere::STANDARD).map_err(|fault| bad(format!("the pressure: {fault}")))
}

/// From when on the boiler is heated, and from which temperature; no moment: from the end of lighting up.
fn reference(route: &Route, begun: &Begun, heat: &Heat, now: Stamp) -> Result<(Option<Stamp>, f64), NotPlanned> {
    let lit = route.lit.and_then(|n| route.rows.get(n)).and_then(|row| begun.steps.get(&row.id));
    let found_c = if begun.in_steam { BOILING_C } else { COLD_C };
    let Some(lit) = lit else { return Ok((None, heat.water_c.unwrap_or(found_c))) };
    if let Some(celsius) = heat.water_c {
        return Ok((Some(now), celsius));
    }
    let boiler = route.rows.iter().filter(|row| row.applies.is_none());
    let read = boiler.filter_map(|row| {
        let done = begun.steps.get(&row.id)?;
        let pressure = done.value.filter(|value| value.unit.quantity() == Quantity::Pressure)?;
        Some((done.at, kpa(pressure, heat.working_kpa)?))
    });
    match read.max_by_key(|(at, _)| *at) {
        Some((at, kpa)) => Ok((Some(at), celsius(kpa)?)),
        None => Ok((Some(lit.at), found_c)),
    }
}

/// The times of heating of a route, one for each pressure.
///
/// # Errors
/// A pressure or temperature out of range; a step that wants more than the working pressure.
pub(super) fn heatings(
    pack: &Pack<'_>,
    words: &Words<'_>,
    route: &Route,
    begun: &Begun,
    heat: &Heat,
    now: Stamp,
) -> Result<Vec<Heating>, NotPlanned> {
    let Some(lit) = route.lit else { return Ok(Vec::new()) };
    let (since, from_c) = reference(route, begun, heat, now)?;
    let mut found: Vec<Heating> = Vec::new();
    for (n, row) in route.rows.iter().enumerate() {
        let waits = route.holds(n) && !route.done(n, begun) && route.ancestors(n).contains(&lit);
        let Some((kpa, told)) = wanted(pack, row, heat.working_kpa).filter(|_| waits) else { continue };
        if let Some(working) = heat.working_kpa.filter(|working| kpa > *working) {
            return Err(NotPlanned::Pressure { step: words.step(row.id), wanted_kpa: kpa, working_kpa: working });
        }
        if let Some(known) = found.iter_mut().find(|h| (h.kpa - kpa).abs() < 0.5) {
            known.steps.push(n);
            continue;
        }
        let whole = raising_minutes(heat.limit, from_c, celsius(kpa)?)
            .map_err(|bad| NotPlanned::Number { words: bad.to_string() })?;
        found.push(Heating { kpa, told, minutes: left(whole, since, now), steps: vec![n] });
    }
    found.sort_by(|a, b| a.kpa.total_cmp(&b.kpa));
    Ok(found)
}

/// What is left of so many minutes that began at `since`.
pub(super) fn left(minutes: u32, since: Option<Stamp>, now: Stamp) -> u32 {
    let gone = since.map_or(0, |since| now.since(since).max(0) / 60);
    minutes.saturating_sub(u32::try_from(gone).unwrap_or(u32::MAX))
}
