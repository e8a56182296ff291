//! Exchanging records, checking them, playing day scripts.

use std::fs;
use std::process::ExitCode;

use offshed_depot::card::{self, CardFault};
use offshed_depot::folder::verify_folder;
use offshed_depot::script;
use offshed_depot::shed::Shed;

use super::{Call, Outcome, clock, local_time, moment};
use crate::cli::{CardArgs, Play, Sync, VerifyArgs};
use crate::fault::{Fault, code};
use crate::show;

/// `offshed sync`
pub(super) fn sync(call: &Call, args: &Sync) -> Outcome {
    let mut shed = call.shed()?;
    let plain = |why: &offshed_core::reason::Why| format!("{why:?}");
    let report = if args.other.join("folder.toml").exists() {
        let mut other = Shed::open(&args.other)?;
        shed.sync(&mut other)
    } else if args.other.is_dir() {
        shed.sync_with_dir(&args.other)
    } else {
        return Err(Fault::input(format!("{} is no folder", args.other.display())));
    };
    let report = report.map_err(|denial| Fault::denied(denial, plain))?;
    call.print(&show::sync::view(&report), show::sync::text)
}

/// `offshed card`
pub(super) fn card(call: &Call, args: &CardArgs) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let zone = local_time(shed.ledger(), shed.folder())?;
    let stated = args.as_of.as_deref().map(|text| moment(text, &zone, now)).transpose()?;
    let plain = |why: &offshed_core::reason::Why| format!("{why:?}");
    let report = card::exchange(&mut shed, &args.card, now.stamp, stated).map_err(|fault| match fault {
        CardFault::Denied(denial) => Fault::denied(*denial, plain),
        CardFault::Missing { .. } | CardFault::DataFolder { .. } | CardFault::NoPack => Fault::input(fault),
        _ => Fault::folder(fault),
    })?;
    call.print(&show::card::view(&report, &zone), show::card::text)
}

/// `offshed verify`
pub(super) fn verify(call: &Call, args: &VerifyArgs) -> Outcome {
    if let Some(line) = &args.paper {
        return super::export::check_paper(call, line);
    }
    let path = call.folder()?;
    let findings = verify_folder(path);
    let (ledger, folder) = call.look()?;
    let view = show::verify::view(&findings, &ledger, folder.key());
    call.print(&view, show::verify::text)?;
    Ok(if view.findings.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(code::FOUND) })
}

/// `offshed play`
pub(super) fn play(call: &Call, args: &Play) -> Outcome {
    let path = call.folder()?;
    let text = fs::read(&args.script);
    let text = text.map_err(|error| Fault::input(format!("cannot read {}: {error}", args.script.display())))?;
    let text = String::from_utf8(text);
    let text = text.map_err(|_| Fault::input(format!("{} is not UTF-8 text", args.script.display())))?;
    let base = args.script.parent().unwrap_or(path);
    let report = script::play(path, &text, base).map_err(|fault| match fault {
        script::PlayFault::Script(fault) => Fault::input(format!("{}, {fault}", args.script.display())),
        script::PlayFault::Folder(fault) => Fault::folder(fault),
        script::PlayFault::Copy(_) => Fault::folder(fault),
    })?;
    call.print(&show::play::view(&report, args.rows), show::play::text)
}
