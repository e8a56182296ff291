//! The demo: one day on the Harrow Vale line, invented, in one command.

use std::path::{Path, PathBuf};

use offshed_core::stamp::Now;
use offshed_depot::demo;
use offshed_depot::folder::Folder;
use offshed_depot::script::{self, PlayFault};
use offshed_depot::shed;
use offshed_depot::views;

use super::{Call, Outcome};
use crate::cli::Demo;
use crate::fault::Fault;
use crate::screen::Screen;
use crate::show;

/// `offshed demo`
pub(super) fn run(call: &Call, args: &Demo) -> Outcome {
    let path = target(args.path.as_deref())?;
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE)?);
    let made = demo::write_sources(&path).map_err(|error| Fault::folder(format!("{}: {error}", path.display())))?;
    let report = script::play(&path, demo::SCRIPT, &made).map_err(|fault| match fault {
        PlayFault::Script(fault) => Fault::input(format!("the demo day, {fault}")),
        other => Fault::folder(other),
    })?;
    // The window on this folder stays on the demo's own day.
    let screen = Screen { demonstration: true, ..Screen::default() };
    screen.write(&path).map_err(Fault::folder)?;
    let (ledger, _, _) = shed::look(&path)?;
    let ended = report.ended.map_or_else(super::clock, Now::good);
    let board = views::board(&ledger, ended);
    let rows = if args.rows { show::play::text(&show::play::view(&report, true)) } else { String::new() };
    call.print(&board, |board| {
        format!(
            "{rows}{}\nPlayed {} rows, {} entries, into {}\nLook around: offshed --folder {} board --as-of \"{}\", or without a command for the window\n",
            show::board::text(board),
            report.rows.len(),
            report.entries(),
            path.display(),
            path.display(),
            board.as_of.get(..16).unwrap_or(&board.as_of)
        )
    })
}

/// The folder named, or a new one beneath the system's temporary folder.
fn target(path: Option<&Path>) -> Result<PathBuf, Fault> {
    let Some(path) = path else {
        let name = format!("offshed-demo-{}-{}", std::process::id(), super::clock().stamp.0);
        return Ok(std::env::temp_dir().join(name));
    };
    if path.exists() {
        return Err(Fault::input(format!("{} exists already: name a folder that does not", path.display())));
    }
    Ok(path.to_owned())
}
