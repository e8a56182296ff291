//! `reckon plan` and `plan`: working back from off shed, over a pack alone or for an engine of the data folder.

use std::fs;
use std::path::Path;

use offshed_core::ident::{EngineId, GradeId, SequenceId, Set};
use offshed_core::plan::Raising;
use offshed_core::stamp::{Now, Stamp, Zone};
use offshed_core::units::Quantity;
use offshed_depot::authoring::{self, Complaint, SourceFile};
use offshed_depot::demo;
use offshed_depot::ids::Ids;
use offshed_depot::packfile::PackFile;
use offshed_depot::planning::{self, Asked, Begun, COLD_C, EngineAsked, Heat, PlanView};
use offshed_depot::views::Moments;
use offshed_depot::zone;
use serde::Serialize;

use super::args::{EnginePlanArgs, PlanArgs, ReckonPlanArgs};
use super::{Call, Outcome, input, named, value};
use crate::commands::{clock, local_time, moment};
use crate::fault::Fault;
use crate::show;
use crate::show::reckon::{Input, Report, text};

const PLAN: &str = "latest start: the longest chain of steps behind it (critical path, Kelley and Walker 1959); planned \
                    start: the steps shared out backwards among those at hand; minutes and order: the pack; raising \
                    steam: the heating limit up to the saturation line (IAPWS R7-97(2012), region 4)";

/// What a plan of this kind does not do.
const ADVICE: &str = "A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it says \
                      nothing of whether the engine may leave. The railway's rules and competent persons go before it.";

/// The built-in practice pack, a folder of TOML, or a compiled file.
fn pack(path: Option<&Path>) -> Result<(PackFile, Input), Fault> {
    let refused = |found: Vec<Complaint>| {
        let lines: Vec<String> = found.iter().map(ToString::to_string).collect();
        Fault::input(format!("the pack is refused:\n{}", lines.join("\n")))
    };
    let bytes = match path {
        None => {
            let file = |(name, text): (&str, &str)| SourceFile { name: name.to_owned(), text: text.to_owned() };
            let files: Vec<SourceFile> = demo::PACK.into_iter().map(file).collect();
            authoring::compile(&files).map_err(refused)?.bytes
        }
        Some(folder) if folder.is_dir() => authoring::compile_folder(folder).map_err(refused)?.bytes,
        Some(file) => fs::read(file).map_err(|bad| Fault::input(format!("`pack`: {}: {bad}", file.display())))?,
    };
    let read = PackFile::from_bytes(bytes).map_err(|bad| named("pack", bad))?;
    let from = path.map_or("built in".to_owned(), |path| path.display().to_string());
    let told = input("pack", format!("{} ({from})", read.title()));
    Ok((read, told))
}

/// The heating limit that was given.
fn limit(args: &PlanArgs) -> Result<Raising, Fault> {
    if !(1.0..=200.0).contains(&args.limit) {
        return Err(named("limit", format!("is {}; give K/h from 1 to 200", args.limit)));
    }
    let minutes = value("first-pressure", &args.first_pressure, Quantity::Time, None)? / 60.0;
    if !(0.0..=2_880.0).contains(&minutes) {
        return Err(named("first-pressure", format!("is {minutes} min; give a time from 0 to 48 h")));
    }
    Ok(Raising { k_per_h: args.limit, first_pressure_minutes: minutes, cold_c: COLD_C })
}

/// The water's temperature that was given, °C.
fn water(args: &PlanArgs) -> Result<Option<f64>, Fault> {
    let Some(text) = &args.from else { return Ok(None) };
    let celsius = value("from", text, Quantity::Temperature, None)?;
    if !(0.0..=250.0).contains(&celsius) {
        return Err(named("from", format!("is {celsius} °C; give a temperature from 0 to 250 °C")));
    }
    Ok(Some(celsius))
}

fn hands(ids: Ids<'_>, args: &PlanArgs) -> Result<Vec<GradeId>, Fault> {
    args.hand.iter().map(|id| ids.grade(id).map_err(|none| named("hand", none))).collect()
}

fn sequence(ids: Ids<'_>, args: &PlanArgs) -> Result<Option<SequenceId>, Fault> {
    let id = args.sequence.as_ref();
    id.map(|id| ids.sequence(id)).transpose().map_err(|none| named("sequence", none))
}

/// The moment that was given as now, else the clock's.
fn now_of(args: &PlanArgs, zone: &Zone) -> Result<Now, Fault> {
    let clock = clock();
    match &args.now {
        Some(text) => moment(text, zone, clock).map(Now::good).map_err(|bad| named("now", bad.words)),
        None => Ok(clock),
    }
}

/// The off-shed time that was given; it is to come.
fn off_shed(text: &str, zone: &Zone, now: Now) -> Result<Stamp, Fault> {
    let at = moment(text, zone, now).map_err(|bad| named("off-shed", bad.words))?;
    let past = now.stamp.since(at);
    if past >= 0 {
        let minutes = past / 60;
        return Err(named(
            "off-shed",
            format!("\"{text}\" is past, by {minutes} min; give a later time, with its day"),
        ));
    }
    Ok(at)
}

/// How the heat that a plan reckons with is told; `otherwise`: what holds where the water's temperature is not given.
fn heat_inputs(args: &PlanArgs, otherwise: &str) -> Vec<Input> {
    vec![
        input("water now", args.from.as_deref().unwrap_or(otherwise)),
        input("heating limit", format!("{} K/h (common practice, from memory)", args.limit)),
        input("first pressure from cold", format!("{} (common practice, from memory)", args.first_pressure)),
    ]
}

/// `offshed reckon plan`
pub(super) fn reckon(call: &Call, args: &ReckonPlanArgs) -> Outcome {
    let rows = zone::rows(&args.zone).map_err(|bad| named("zone", bad))?;
    let zone = Zone::new(&rows).unwrap_or_default();
    let now = now_of(&args.plan, &zone)?;
    let (file, told) = pack(args.pack.as_deref())?;
    let ids = Ids::of(&file);
    let has = args.has.iter().try_fold(Set::EMPTY, |set, id| {
        ids.feature(id).map(|feature| set.with(feature.0)).map_err(|none| named("has", none))
    })?;
    let pressure = args.pressure.as_ref().map(|text| super::gauge("pressure", text)).transpose()?;
    let given = sequence(ids, &args.plan)?;
    let sequence = given.or_else(|| planning::leading_out(&file.pack()));
    let asked = Asked {
        sequence: sequence.ok_or_else(|| Fault::input(planning::NotPlanned::NoSequence))?,
        features: has,
        off_shed: off_shed(&args.off_shed, &zone, now)?,
        now: now.stamp,
        hands: &hands(ids, &args.plan)?,
        heat: Heat {
            limit: limit(&args.plan)?,
            water_c: water(&args.plan)?,
            working_kpa: pressure.map(|gauge| gauge.kpa()),
        },
    };
    let planned = planning::work_back(&file, &asked, &Begun::default()).map_err(Fault::input)?;
    let result = planning::view(&file, &planned, &zone);
    let mut inputs = vec![told, input("off shed", &result.off_shed_words), input("now", &result.as_of_words)];
    inputs.push(input("has", if args.has.is_empty() { "no features".to_owned() } else { args.has.join(", ") }));
    inputs.push(input("working pressure", args.pressure.as_deref().unwrap_or("not given")));
    inputs.extend(heat_inputs(&args.plan, &format!("not given, cold: {COLD_C} °C")));
    let plot = show::plan::text(&result);
    let report = Report { reckon: "plan", inputs, formula: PLAN, result, caution: ADVICE, lines: Vec::new(), plot };
    call.print(&report, text)
}

/// An engine's plan.
#[derive(Serialize)]
struct EngineView {
    engine: u16,
    name: String,
    turn: Option<String>,
    inputs: Vec<Input>,
    #[serde(flatten)]
    plan: PlanView,
    caution: &'static str,
}

/// `offshed plan`
pub(crate) fn engine(call: &Call, args: &EnginePlanArgs) -> Outcome {
    let (ledger, folder) = call.look()?;
    let zone = local_time(&ledger, &folder)?;
    let now = now_of(&args.plan, &zone)?;
    let ledger = if args.plan.now.is_some() { ledger.as_of(now.stamp) } else { ledger };
    let ids = crate::commands::ids(&ledger)?;
    let off_shed = args.off_shed.as_ref().map(|text| off_shed(text, &zone, now)).transpose()?;
    let asked = EngineAsked {
        off_shed,
        sequence: sequence(ids, &args.plan)?,
        hands: &hands(ids, &args.plan)?,
        water_c: water(&args.plan)?,
        limit: Some(limit(&args.plan)?),
    };
    let made = planning::engine(&ledger, EngineId(args.engine), &asked, now).map_err(Fault::input)?;
    let working = made.working.map_or("not registered".to_owned(), |reading| reading.to_string());
    let mut inputs = vec![input("pack", made.pack.title()), input("now", Moments::new(&zone).long(now.stamp))];
    inputs.push(input("working pressure", working));
    let otherwise = format!("not given: as the last pressure on the sheet, in steam at least 100 °C, else {COLD_C} °C");
    inputs.extend(heat_inputs(&args.plan, &otherwise));
    let view = EngineView {
        engine: args.engine,
        name: ledger.office.engines.get(&EngineId(args.engine)).map(|card| card.name.clone()).unwrap_or_default(),
        turn: made.turn.map(str::to_owned),
        inputs,
        plan: planning::view(made.pack, &made.planned, &zone),
        caution: ADVICE,
    };
    call.print(&view, |view| {
        let inputs: Vec<String> = view.inputs.iter().map(|i| format!("{} {}", i.name, i.value)).collect();
        show::plan::engine(view.engine, &view.name, view.turn.as_deref(), &view.plan, &inputs.join("; "), view.caution)
    })
}
