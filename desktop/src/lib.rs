//! `offshed`: may this engine leave? The window of a steam shed for tablets and desks, and the commands for scripts,
//! offices and devices without a screen.
//!
//! Rings, each of which may use only those after it: markup (`ui/`), [`ui`], adapters (the only code that names the
//! toolkit), [`controllers`] (what a page shows and does, without the toolkit), and the depot and the core beneath.

mod adapters;
mod app;
mod cli;
pub mod clock;
mod commands;
pub mod controllers;
pub mod exchanged;
mod fault;
mod office;
pub mod screen;
mod show;
mod start;
#[allow(missing_docs, unreachable_pub, unsafe_code, clippy::all)]
pub mod ui;

pub use app::{App, NoWindow, init};

use std::process::ExitCode;

use clap::Parser;

/// Does what the command line says; without a command, opens the window.
pub fn main() -> ExitCode {
    let cli = cli::Cli::parse();
    let json = cli.json;
    let done = match cli.command {
        Some(command) => commands::run(cli.folder, json, command),
        None => start::window(cli.folder, json),
    };
    match done {
        Ok(code) => code,
        Err(fault) => {
            fault.report(json);
            fault.exit_code()
        }
    }
}
