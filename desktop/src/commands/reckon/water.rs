//! `reckon dose`, `reckon solids` and `reckon hardness`: water treatment.

use offshed_core::boiler::water::conductivity::{Conversion, Sample, solids as solids_of};
use offshed_core::boiler::water::dose::{Dose, Measure, Product, Request, dose as dose_of};
use offshed_core::boiler::water::hardness::{Hardness, HardnessUnit};
use offshed_core::boiler::water::{Estimate, cold_litres};
use offshed_core::units::Quantity;
use serde::Serialize;

use super::args::{DoseArgs, HardnessArgs, SolidsArgs};
use super::{Call, Outcome, Span, input, named, told, value};
use crate::fault::Fault;

const DOSE: &str = "grams = (target - reading) x litres / strength / 1000, by mass balance; hot litres brought to 25 °C \
                    by density (IAPWS SR1-86(1992), equation 2)";

#[derive(Serialize)]
struct Dosed {
    grams: Span,
    over_mg_l: Option<f64>,
    litres: f64,
    measures: Option<f64>,
    measured_grams: Option<f64>,
    reaches_mg_l: Option<f64>,
}

fn dosed(dose: Dose, litres: f64) -> (Dosed, Vec<String>) {
    let none = Span { value: 0.0, low: 0.0, high: 0.0 };
    let empty =
        Dosed { grams: none, over_mg_l: None, litres, measures: None, measured_grams: None, reaches_mg_l: None };
    match dose {
        Dose::None { over_mg_l } => {
            let line = format!("none: the reading is at its target or over, by {over_mg_l:.0} mg/l");
            (Dosed { over_mg_l: Some(over_mg_l), ..empty }, vec![line])
        }
        Dose::Add { grams, measured } => {
            let mut lines = vec![format!("{:.1} g of product ({:.1} to {:.1})", grams.value, grams.low, grams.high)];
            lines.extend(measured.map(|m| {
                format!("{} measure(s), {:.1} g, which reach {:.0} mg/l", m.measures, m.grams, m.reaches_mg_l)
            }));
            let result = Dosed {
                grams: grams.into(),
                measures: measured.map(|m| m.measures),
                measured_grams: measured.map(|m| m.grams),
                reaches_mg_l: measured.map(|m| m.reaches_mg_l),
                ..empty
            };
            (result, lines)
        }
    }
}

/// `offshed reckon dose`
pub(super) fn dose(call: &Call, args: &DoseArgs) -> Outcome {
    let mg_l = |field: &str, text: &str| value(field, text, Quantity::Concentration, None);
    if !(0.0..=100_000.0).contains(&args.error) {
        return Err(named("error", "give mg/l from 0 to 100000"));
    }
    let mut litres = value("water", &args.water, Quantity::Volume, None)?;
    if let Some(hot) = &args.hot {
        let celsius = value("hot", hot, Quantity::Temperature, None)?;
        litres = cold_litres(litres, celsius).map_err(|bad| named("hot", bad))?;
    }
    let measure = args.measure.map(|grams| Measure { grams, parts: args.parts });
    let request = Request {
        reading_mg_l: Estimate::around(mg_l("reading", &args.reading)?, args.error),
        target_mg_l: mg_l("target", &args.target)?,
        litres: Estimate::exact(litres),
        product: Product { strength: args.strength, measure },
    };
    let (result, lines) = dosed(dose_of(&request).map_err(Fault::input)?, litres);
    let mut inputs = vec![
        input("reading", format!("{} ± {} mg/l", args.reading, args.error)),
        input("target", &args.target),
        input("water", &args.water),
        input("strength", args.strength),
    ];
    inputs.extend(args.hot.as_ref().map(|hot| input("hot", hot)));
    inputs.extend(args.measure.map(|grams| input("measure", format!("{grams} g in {} part(s)", args.parts))));
    told(call, "dose", DOSE, inputs, result, lines)
}

const SOLIDS: &str = "k25 = k / (1 + a (t - 25)), the linear correction of ISO 7888; solids = factor x k25";

#[derive(Serialize)]
struct Dissolved {
    us_cm_25: Span,
    mg_l: Span,
}

/// `offshed reckon solids`
pub(super) fn solids(call: &Call, args: &SolidsArgs) -> Outcome {
    let sample = Sample {
        us_cm: value("conductivity", &args.conductivity, Quantity::Conductivity, None)?,
        error_us_cm: args.error,
        celsius: value("at", &args.at, Quantity::Temperature, None)?,
        error_k: args.error_k,
    };
    let by = Conversion { percent_per_k: args.percent_per_k, mg_l_per_us_cm: args.factor };
    let found = solids_of(sample, by).map_err(Fault::input)?;
    let (k, s) = (found.us_cm_25, found.mg_l);
    let lines = vec![
        format!("{:.0} µS/cm at 25 °C ({:.0} to {:.0})", k.value, k.low, k.high),
        format!("{:.0} mg/l dissolved solids ({:.0} to {:.0})", s.value, s.low, s.high),
    ];
    let inputs = vec![
        input("conductivity", format!("{} ± {} uS/cm", args.conductivity, args.error)),
        input("at", format!("{} ± {} K", args.at, args.error_k)),
        input("coefficient", format!("{} %/K", args.percent_per_k)),
        input("factor", args.factor),
    ];
    told(call, "solids", SOLIDS, inputs, Dissolved { us_cm_25: k.into(), mg_l: s.into() }, lines)
}

const HARDNESS: &str = "units by definition: grain 64.79891 mg, gallon 4.54609 l, US gallon 231 in3 (NIST SP 811, \
                        B.8), German degree 10 mg/l CaO";

#[derive(Serialize)]
struct Hard {
    mg_l_caco3: f64,
    clark: f64,
    grain_per_us_gallon: f64,
    german: f64,
    french: f64,
    mmol_per_l: f64,
    meq_per_l: f64,
}

/// `offshed reckon hardness`
pub(super) fn hardness(call: &Call, args: &HardnessArgs) -> Outcome {
    let mg_l = value("value", &args.value, Quantity::Hardness, None)?;
    let hard = Hardness::new(mg_l, HardnessUnit::MgPerLCaCO3).map_err(|bad| named("value", bad))?;
    let result = Hard {
        mg_l_caco3: hard.mg_l(),
        clark: hard.told_in(HardnessUnit::Clark),
        grain_per_us_gallon: hard.told_in(HardnessUnit::GrainPerGallonUs),
        german: hard.told_in(HardnessUnit::German),
        french: hard.told_in(HardnessUnit::French),
        mmol_per_l: hard.told_in(HardnessUnit::MillimolePerL),
        meq_per_l: hard.told_in(HardnessUnit::MilliequivalentPerL),
    };
    let line = format!(
        "{:.1} mg/l CaCO3 = {:.2} degClark = {:.2} gpg (US) = {:.2} degdH = {:.2} degfH = {:.3} mmol/l = {:.3} meq/l",
        result.mg_l_caco3,
        result.clark,
        result.grain_per_us_gallon,
        result.german,
        result.french,
        result.mmol_per_l,
        result.meq_per_l
    );
    told(call, "hardness", HARDNESS, vec![input("value", &args.value)], result, vec![line])
}
