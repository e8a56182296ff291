//! Looking: the board, sheets, what may be done now, defects.

use std::process::ExitCode;

use offshed_core::ident::EngineId;
use offshed_core::verdict::Who;
use offshed_depot::views;

use super::{Call, Outcome, as_of, clock, person, sheet_id};
use crate::cli::{BoardArgs, Now, SheetArgs};
use crate::fault::Fault;
use crate::show;

/// `offshed board`
pub(super) fn board(call: &Call, args: &BoardArgs) -> Outcome {
    let (ledger, folder) = call.look()?;
    let (ledger, now) = as_of(args.as_of.as_deref(), ledger, &folder)?;
    call.print(&views::board(&ledger, now), show::board::text)
}

/// `offshed sheet`
pub(super) fn sheet(call: &Call, args: &SheetArgs) -> Outcome {
    let (ledger, folder) = call.look()?;
    let (ledger, now) = as_of(args.as_of.as_deref(), ledger, &folder)?;
    let Some(text) = &args.sheet else {
        return call.print(&views::sheets(&ledger), |lines| show::sheet::list(lines));
    };
    let id = sheet_id(&ledger, text, None)?;
    let view = views::sheet(&ledger, id, Who::default(), now);
    let view =
        view.ok_or_else(|| Fault::input("the sheet's pack is not in this folder: sync with a device that has it"))?;
    call.print(&view, show::sheet::text)
}

/// `offshed now`
pub(super) fn now(call: &Call, args: &Now) -> Outcome {
    let (ledger, folder) = call.look()?;
    let (ledger, now) = as_of(args.as_of.as_deref(), ledger, &folder)?;
    let id = sheet_id(&ledger, &args.which.sheet, None)?;
    let by = args.by.as_deref().map(|text| person(&ledger, text)).transpose()?;
    let view = views::sheet(&ledger, id, Who { person: by, with: None }, now);
    let view =
        view.ok_or_else(|| Fault::input("the sheet's pack is not in this folder: sync with a device that has it"))?;
    call.print(&show::now::view(view), show::now::text)
}

/// `offshed defect list`
pub(super) fn defects(call: &Call, engine: Option<u16>, all: bool) -> Outcome {
    let (ledger, _) = call.look()?;
    let found = views::defects(&ledger, engine.map(EngineId), !all, clock().stamp);
    call.print(&found, |found| show::defects::text(found))?;
    Ok(ExitCode::SUCCESS)
}
