//! `offshed`: may this engine leave? The commands of a steam shed, for scripts, offices and tablets without a screen.

mod cli;
mod commands;
mod fault;
mod show;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let cli = cli::Cli::parse();
    let json = cli.json;
    match commands::run(cli) {
        Ok(code) => code,
        Err(fault) => {
            fault.report(json);
            fault.exit_code()
        }
    }
}
