//! Packs: checking, building, the locking table, adopting.

use std::fs;
use std::path::Path;
use std::process::ExitCode;

use offshed_core::entry::{Fact, What};
use offshed_depot::authoring::{self, Compiled};
use offshed_depot::reach;

use super::{Call, Outcome, act, clock, who};
use crate::cli::PackCommand;
use crate::fault::Fault;
use crate::show;

/// `offshed pack`
pub(super) fn run(call: &Call, command: PackCommand) -> Outcome {
    match command {
        PackCommand::Check { source } => {
            let compiled = compile(&source)?;
            call.print(&show::pack::summary(&compiled), show::pack::text)
        }
        PackCommand::Build { source, file } => {
            let compiled = compile(&source)?;
            fs::write(&file, &compiled.bytes)
                .map_err(|error| Fault::input(format!("cannot write {}: {error}", file.display())))?;
            call.print(&show::pack::summary(&compiled), |summary| {
                format!("{}wrote {}\n", show::pack::text(summary), file.display())
            })
        }
        PackCommand::Locks { source } => {
            let compiled = compile(&source)?;
            let table = authoring::locking_table(&compiled.model, &compiled.proofs);
            call.print(&table, ToString::to_string)
        }
        PackCommand::Adopt { source, by } => {
            let bytes = read(&source)?;
            let mut shed = call.shed()?;
            let now = clock();
            let person = who(&mut shed, &by, now)?;
            let pack = shed.add_pack(bytes).map_err(|denial| Fault::denied(denial, |why| format!("{why:?}")))?;
            act(call, &mut shed, What::Registered(Fact::PackAdopted { pack }), person, now)
        }
        PackCommand::List => {
            let (ledger, _) = call.look()?;
            let rows = show::pack::list(&ledger);
            call.print(&rows, |rows| show::pack::list_text(rows))?;
            Ok(ExitCode::SUCCESS)
        }
    }
}

/// A compiled file as it is, or a folder compiled.
fn read(source: &Path) -> Result<Vec<u8>, Fault> {
    if source.is_dir() {
        return compile(source).map(|compiled| compiled.bytes);
    }
    fs::read(source).map_err(|error| Fault::input(format!("cannot read {}: {error}", source.display())))
}

/// Compiles and proves a folder, and runs it through the real rules.
pub(super) fn compile(source: &Path) -> Result<Compiled, Fault> {
    if !source.is_dir() {
        return Err(Fault::input(format!(
            "{} is no folder: give the folder of the pack's TOML files",
            source.display()
        )));
    }
    let complaints = |found: Vec<authoring::Complaint>| {
        let lines: Vec<String> = found.iter().map(ToString::to_string).collect();
        Fault::input(format!("the pack is refused:\n{}", lines.join("\n")))
    };
    let compiled = authoring::compile_folder(source).map_err(complaints)?;
    reach::prove(&compiled.bytes).map_err(|stuck| Fault::input(format!("the pack is refused: {stuck}")))?;
    Ok(compiled)
}
