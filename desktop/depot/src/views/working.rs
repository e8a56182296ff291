//! The working of a computed figure: what it starts from, by which formula and source, what it comes to, how far it may
//! be off, and what to do.

use offshed_core::boiler::level::Needed;
use offshed_core::boiler::road::Leaving;
use offshed_core::boiler::water::blowdown::Advice;
use offshed_core::boiler::water::dose::Dose;
use offshed_core::entry::{Answer, Found, Shown, What};
use offshed_core::ident::TextId;
use offshed_core::pack::rows::{Figure, KindRow, StepRow};
use offshed_core::register::RoadFacts;
use offshed_core::stamp::Now;
use offshed_core::units::Reading;
use offshed_core::verdict::{self, Basis, Delivered, GLASS_ERROR_MM, Scene, Worked};
use serde::Serialize;

use crate::ledger::Office;

/// One input with its value.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InputView {
    /// What it is.
    pub name: String,
    /// Its value with its unit.
    pub value: String,
}

/// A figure's working.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WorkingView {
    /// What it starts from.
    pub inputs: Vec<InputView>,
    /// How it is computed.
    pub formula: &'static str,
    /// Where that comes from.
    pub source: &'static str,
    /// The result with its unit.
    pub result: String,
    /// How far it may be off by the errors of reading.
    pub error: String,
    /// What it means, line by line.
    pub lines: Vec<String>,
    /// The readings alone, as a record keeps them.
    pub recorded: Vec<String>,
}

/// The texts that a working names things by.
pub struct Titles<'a> {
    /// A text of the pack.
    pub text: &'a dyn Fn(TextId) -> String,
    /// The register, for names of roads and measures.
    pub office: &'a Office,
}

const LEVEL_FORMULA: &str = "volume under a tilted plane, conserved along the road less the water used; the surface falls \
                             by gradient + a/g; the greater of what covers the crown and what keeps the level in sight, \
                             plus the error of reading, rounded up";
const LEVEL_SOURCE: &str = "hydrostatics; g = 9.80665 m/s2 (ISO 80000-3)";
const DOSE_FORMULA: &str = "(target - reading) x litres / strength";
const DOSE_SOURCE: &str = "mass balance; water's density by IAPWS SR1-86(1992)";
const BLOWDOWN_FORMULA: &str = "each round leaves feed + (solids - feed) x (litres left / litres before)";
const BLOWDOWN_SOURCE: &str = "mass balance of salts";
const SOLIDS_FORMULA: &str = "factor x conductivity / (1 + coefficient x (temperature - 25 C))";
const SOLIDS_SOURCE: &str = "ISO 7888, linear correction; the factor is the railway's own";
const HEATING_FORMULA: &str = "rise of the saturation temperature / time between the readings";
const HEATING_SOURCE: &str = "IAPWS-IF97 region 4";
const DELIVERY_FORMULA: &str = "rise x litres per mm x density in the boiler / density of the feed / time";
const DELIVERY_SOURCE: &str = "mass balance; densities by IAPWS SR1-86(1992)";

/// The working of a derived step's figure as of now; nothing where it computes none, or none can be told.
pub fn working(scene: &Scene<'_>, titles: &Titles<'_>, step: &StepRow, now: Now) -> Option<WorkingView> {
    let KindRow::Figure { inputs, figure, .. } = step.kind else { return None };
    let worked = verdict::figure(scene, step, now).ok()?;
    let steps = scene.pack.listed(inputs).zip(&worked.inputs);
    let mut shown: Vec<InputView> =
        steps.map(|(id, value)| input((titles.text)(scene.pack.step_title(id)), value)).collect();
    let (formula, source) = match figure {
        Figure::LeastLevel => (LEVEL_FORMULA, LEVEL_SOURCE),
        Figure::Dose { .. } => (DOSE_FORMULA, DOSE_SOURCE),
        Figure::Blowdown => (BLOWDOWN_FORMULA, BLOWDOWN_SOURCE),
        Figure::Solids => (SOLIDS_FORMULA, SOLIDS_SOURCE),
        Figure::Heating => (HEATING_FORMULA, HEATING_SOURCE),
    };
    let road = scene.register.road(scene.engine.id, now.stamp);
    shown.extend(register_inputs(titles, scene, &worked, road.as_ref()));
    let mut lines = lines(titles, &worked, road.as_ref());
    lines.extend(verdict::in_doubt(scene, step, &worked).map(|limit| {
        format!("the errors of reading could turn this: its limit is {limit}; read it again before relying on it")
    }));
    Some(WorkingView {
        inputs: shown,
        formula,
        source,
        result: worked.result.to_string(),
        error: format!("{}", worked.error),
        lines,
        recorded: worked.inputs.iter().map(ToString::to_string).collect(),
    })
}

fn input(name: impl Into<String>, value: impl ToString) -> InputView {
    InputView { name: name.into(), value: value.to_string() }
}

/// What the register and the pack give a figure.
fn register_inputs(
    titles: &Titles<'_>,
    scene: &Scene<'_>,
    worked: &Worked,
    road: Option<&RoadFacts<'_>>,
) -> Vec<InputView> {
    match &worked.basis {
        Basis::LeastLevel { cover_mm, .. } => {
            let name = road.and_then(|r| titles.office.roads.get(&r.road)).map_or("", |road| road.name.as_str());
            let mut all = vec![input("Road", name), input("Cover over the crown", format!("{cover_mm:.0} mm"))];
            if let Some(road) = road.filter(|road| road.used_l_per_km > 0.0) {
                all.push(input("Water used and not fed", format!("{:.1} l/km", road.used_l_per_km)));
            }
            all.push(input("Error of reading the glass", format!("{GLASS_ERROR_MM:.0} mm")));
            all
        }
        Basis::Dose { litres, product, target_mg_l, .. } => vec![
            input("Target", format!("{target_mg_l:.0} mg/l")),
            input("Water in the boiler, cooled", format!("{:.0} l", litres.value)),
            input("Strength of the product", format!("{:.1} %", product.strength * 100.0)),
        ],
        Basis::Blowdown { task, .. } => vec![
            input("Target", format!("{:.0} mg/l", task.target_mg_l)),
            input("Feed water", format!("{:.0} mg/l", task.feed_mg_l)),
            input("Lower mark", format!("{:.0} mm", task.lower_mark_mm)),
        ],
        Basis::Solids { by, .. } => vec![
            input("Factor", format!("{} mg/l per uS/cm", by.mg_l_per_us_cm)),
            input("Coefficient", format!("{} % a kelvin", by.percent_per_k)),
        ],
        Basis::Heating { hours, .. } => vec![
            input("Time between", format!("{:.0} min", hours * 60.0)),
            input("Air", format!("{:.1} kPa", scene.register.air().kpa())),
        ],
    }
}

fn lines(titles: &Titles<'_>, worked: &Worked, road: Option<&RoadFacts<'_>>) -> Vec<String> {
    match &worked.basis {
        Basis::LeastLevel { covered, in_sight, .. } => {
            let wants = |leaving: &Leaving| (needed(leaving.least_to_be_sure), leaving.place.distance_m / 1_000.0);
            let ((cover, cover_km), (sight, sight_km)) = (wants(covered), wants(in_sight));
            let length = road.and_then(|r| r.points.last()).map_or(0.0, |p| p.distance_m / 1_000.0);
            vec![
                format!("leave with {} or more, regulator shut, for {length:.1} km of road", worked.result),
                format!("to keep the crown covered: {cover} (asked for at {cover_km:.1} km)"),
                format!("to keep the level in sight: {sight} (asked for at {sight_km:.1} km)"),
            ]
        }
        Basis::Dose { dose: Dose::None { over_mg_l }, .. } => {
            vec![format!("nothing to add: the test is {over_mg_l:.0} mg/l over its target")]
        }
        Basis::Dose { dose: Dose::Add { grams, measured }, .. } => {
            let mut all = vec![format!(
                "add {:.0} g ({:.0} to {:.0} g with the errors of reading)",
                grams.value, grams.low, grams.high
            )];
            all.extend(measured.map(|m| {
                let name = measure_name(titles, worked).unwrap_or_else(|| "measures".to_owned());
                format!(
                    "that is {} x {name}, {:.0} g; the test will then show {:.0} mg/l",
                    m.measures, m.grams, m.reaches_mg_l
                )
            }));
            all
        }
        Basis::Blowdown { advice: Advice::NotNeeded { under_mg_l }, .. } => {
            vec![format!("no blowdown needed: the solids are {under_mg_l:.0} mg/l under their target")]
        }
        Basis::Blowdown { advice: Advice::Blow(rounds), .. } => vec![
            match rounds.rounds {
                1 => format!("let the glass fall by {}, to {:.0} mm, and fill up again", worked.result, rounds.stop_mm),
                n => format!(
                    "{n} times: let the glass fall by {}, to {:.0} mm, and fill up again",
                    worked.result, rounds.stop_mm
                ),
            },
            format!(
                "{:.0} l each time; the solids come down to {:.0} mg/l ({:.0} to {:.0} with the errors of reading)",
                rounds.litres_each, rounds.reaches_mg_l.value, rounds.reaches_mg_l.low, rounds.reaches_mg_l.high
            ),
            "a second person watches the glass; shut at the lower mark whatever the figure says".to_owned(),
        ],
        Basis::Solids { solids, .. } => vec![format!("conductivity at 25 C: {:.0} uS/cm", solids.us_cm_25.value)],
        Basis::Heating { rate, .. } => {
            vec![format!("{:.0} to {:.0} K/h with the errors of reading", rate.low_k_per_h, rate.high_k_per_h)]
        }
    }
}

fn measure_name(titles: &Titles<'_>, worked: &Worked) -> Option<String> {
    let Figure::Dose { product } = worked.figure else { return None };
    titles.office.products.get(&product)?.measure.as_ref().map(|m| m.name.to_string())
}

fn needed(needed: Needed) -> String {
    match needed {
        Needed::Reading { mm } => format!("{:.0} mm", mm.ceil()),
        other => other.words().to_owned(),
    }
}

/// The working of a feed's delivery.
pub fn delivery(told: &Delivered) -> WorkingView {
    let Delivered { delivery: sum, watched, .. } = told;
    WorkingView {
        inputs: vec![
            input("Rise in the glass", format!("{:.0} mm", sum.rise_mm)),
            input("Time", format!("{:.0} s", watched.seconds)),
            input("Litres in a millimetre there", format!("{:.2} l", watched.litres_per_mm)),
            input("Boiler water, taken as at working pressure", format!("{:.0} C", watched.boiler_c)),
            input("Feed water", format!("{:.0} C", watched.feed_c)),
        ],
        formula: DELIVERY_FORMULA,
        source: DELIVERY_SOURCE,
        result: told.shown.to_string(),
        error: format!("{:.0} l/min", sum.high_l_min - sum.l_min),
        lines: vec![format!("at least {} is wanted: {}", told.least, told.verdict.words())],
        recorded: Vec::new(),
    }
}

/// What an entry records as computed: a figure or date accepted, the delivery of a feed.
pub fn computed(what: &What) -> Option<String> {
    let What::Answered { answer, .. } = what else { return None };
    match answer {
        Answer::Accepted(shown) => Some(accepted(shown)),
        Answer::Part { found: Found::Rose { reading, delivery }, .. } => {
            Some(format!("{reading}, delivery {delivery}"))
        }
        _ => None,
    }
}

/// What was accepted, as it was shown then.
fn accepted(shown: &Shown) -> String {
    match shown {
        Shown::Date { last_day, steam_days_left, .. } => {
            let day = last_day.map(|day| format!("through {day}"));
            let left = steam_days_left.map(|n| format!("{n} days in steam left"));
            [day, left].into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
        Shown::Figure { inputs, result, rounds } => {
            let times = if *rounds > 1 { format!("{rounds} x ") } else { String::new() };
            let from: Vec<String> = inputs.iter().map(Reading::to_string).collect();
            let from = if from.is_empty() { String::new() } else { format!(" from {}", from.join(", ")) };
            format!("{times}{result}{from}")
        }
    }
}
