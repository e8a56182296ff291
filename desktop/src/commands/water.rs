//! `offshed water`: one engine's water.

use offshed_core::ident::EngineId;
use offshed_depot::views;

use super::{Call, Outcome, as_of};
use crate::cli::WaterArgs;
use crate::fault::Fault;
use crate::show;

/// `offshed water`
pub(super) fn water(call: &Call, args: &WaterArgs) -> Outcome {
    let (ledger, folder) = call.look()?;
    let (ledger, now) = as_of(args.as_of.as_deref(), ledger, &folder)?;
    let engine = EngineId(args.engine);
    let known = ledger.engine_ids();
    if !known.contains(&engine) {
        let numbers = known.iter().map(|id| id.0.to_string()).collect::<Vec<_>>().join(", ");
        let which = if numbers.is_empty() { "no engines".to_owned() } else { format!("engines {numbers}") };
        return Err(Fault::input(format!("there is no engine {}: these records know {which}", args.engine)));
    }
    call.print(&views::water(&ledger, engine, now), show::water::text)
}
