//! `reckon plant`: feed tested going into a softener or other plant and coming out.

use offshed_core::boiler::water::Estimate;
use offshed_core::boiler::water::plant::{Plant, Work, check, litres_left};
use offshed_core::units::Quantity;
use serde::Serialize;

use super::args::PlantArgs;
use super::{Call, Outcome, base_unit, input, named, tested, told, value};
use crate::fault::Fault;

const PLANT: &str =
    "share taken out = 1 - out / in; litres left = capacity / hardness going in - treated, by mass balance";

#[derive(Serialize)]
struct Tested {
    unit: &'static str,
    taken_out_percent: Option<f64>,
    work: &'static str,
    litres_left: Option<f64>,
}

/// `offshed reckon plant`
pub(super) fn plant(call: &Call, args: &PlantArgs) -> Outcome {
    let quantity = tested("going-in", &args.going_in)?;
    if quantity == Quantity::Ph {
        return Err(named("going-in", "pH does not add up; give a hardness, a concentration or a conductivity"));
    }
    if !(0.0..=100_000.0).contains(&args.error) {
        return Err(named("error", "give 0 to 100000"));
    }
    let going_in = value("going-in", &args.going_in, quantity, None)?;
    let coming_out = value("coming-out", &args.coming_out, quantity, None)?;
    let told_of = check(&Plant {
        going_in: Estimate::around(going_in, args.error),
        coming_out: Estimate::around(coming_out, args.error),
        most_out: value("most", &args.most, quantity, None)?,
    })
    .map_err(Fault::input)?;
    let left = args.capacity.map(|capacity| left(args, quantity, capacity, going_in)).transpose()?;
    let taken_out = told_of.taken_out.map(|share| share * 100.0);
    let mut lines = vec![told_of.work.words().to_owned()];
    lines.extend(taken_out.map(|percent| format!("{percent:.1} % is taken out")));
    lines.extend(left.map(|litres| match litres {
        0.0 => "its capacity is used up: regenerate before more feed is made".to_owned(),
        litres => format!("{litres:.0} l more before it must be regenerated"),
    }));
    let work = match told_of.work {
        Work::Working => "working",
        Work::CannotTell => "cannot tell",
        Work::Slipping => "slipping",
        Work::NotTreating => "not treating",
    };
    let result = Tested { unit: base_unit(quantity), taken_out_percent: taken_out, work, litres_left: left };
    let mut inputs = vec![
        input("going in", &args.going_in),
        input("coming out", &args.coming_out),
        input("most out", &args.most),
        input("error", format!("{} {}", args.error, base_unit(quantity))),
    ];
    inputs.extend(args.capacity.map(|grams| input("capacity", format!("{grams} g as CaCO3"))));
    inputs.extend(args.treated.as_ref().map(|litres| input("treated", litres)));
    told(call, "plant", PLANT, inputs, result, lines)
}

/// Litres that a softener has left.
fn left(args: &PlantArgs, quantity: Quantity, capacity_g: f64, hardness_mg_l: f64) -> Result<f64, Fault> {
    if quantity != Quantity::Hardness {
        return Err(named("capacity", "needs a hardness going in, as in \"280 mg/l CaCO3\""));
    }
    let treated = args.treated.as_deref().map(|text| value("treated", text, Quantity::Volume, None)).transpose()?;
    litres_left(capacity_g, hardness_mg_l, treated.unwrap_or(0.0)).map_err(|bad| named("capacity", bad))
}
