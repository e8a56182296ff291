//! `offshed` without a command: the window, or why there is none.

use std::panic::{self, AssertUnwindSafe};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::CommandFactory;

use crate::app::{self, App, NoWindow};
use crate::cli::Cli;
use crate::fault::Fault;

/// What the window needs on a Debian system beside a display.
const LIBRARIES: &str = "libx11-6 libx11-xcb1 libxcursor1 libxi6 libxkbcommon-x11-0";

/// Opens the window and runs it until it is closed.
pub(crate) fn window(folder: Option<PathBuf>, json: bool) -> Result<ExitCode, Fault> {
    if json {
        return Err(Fault::window(format!("--json wants a command: one of {}", commands())));
    }
    if !has_display() {
        let words = "there is no display (neither DISPLAY nor WAYLAND_DISPLAY is set), so no window can be opened";
        return Err(Fault::window(format!("{words}; every command works without one: {}", commands())));
    }
    let path = folder.or_else(own_folder).ok_or_else(|| {
        Fault::input("which data folder? this computer names no place of its own: give --folder FOLDER")
    })?;
    let app = quietly(|| {
        let app = app::init(&path, None)?;
        app.show()?;
        Ok(app)
    })?;
    app.run().map_err(told)?;
    Ok(ExitCode::SUCCESS)
}

/// Where this computer keeps a data folder when none is named.
fn own_folder() -> Option<PathBuf> {
    Some(dirs::data_dir()?.join("offshed"))
}

/// Off Linux a window system is always there.
fn has_display() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || set("DISPLAY") || set("WAYLAND_DISPLAY") || set("WAYLAND_SOCKET")
}

/// The commands by name.
fn commands() -> String {
    let command = Cli::command();
    let names: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
    format!("{} (`offshed --help`)", names.join(", "))
}

/// A window system without its libraries makes the toolkit panic while a window is made; that is told as what it is.
fn quietly(open: impl FnOnce() -> Result<App, NoWindow>) -> Result<App, Fault> {
    let hook = panic::take_hook();
    panic::set_hook(Box::new(|_| {}));
    let done = panic::catch_unwind(AssertUnwindSafe(open));
    panic::set_hook(hook);
    match done {
        Ok(opened) => opened.map_err(told),
        Err(payload) => Err(no_window(&panic_words(payload.as_ref()))),
    }
}

fn told(why: NoWindow) -> Fault {
    match why {
        NoWindow::Folder(fault) => Fault::folder(fault),
        NoWindow::Display(why) => no_window(&why),
    }
}

fn no_window(why: &str) -> Fault {
    // What follows the first line is about the toolkit's own source.
    let why = why.lines().next().unwrap_or("the window system gives none").trim_end_matches('.');
    Fault::window(format!(
        "no window can be opened: {why}; it needs a display and, on Debian, the packages {LIBRARIES}; every command works without: {}",
        commands()
    ))
}

fn panic_words(payload: &(dyn std::any::Any + Send)) -> String {
    let text = payload.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| payload.downcast_ref::<&str>().copied()).unwrap_or("the window system failed").to_owned()
}
