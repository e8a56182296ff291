//! The window itself, on an X server: one whole preparation by pointer and keyboard, while the program is killed at
//! moments drawn from a seed. No accepted answer is lost, and it opens again at the same step.
//!
//! `OFFSHED_REAL_WINDOW=1 cargo test -p offshed --test real_window`; needs `Xvfb` and `xdotool`. A number as an argument
//! is another seed. What it looks like in the end is written beside the build as `window/real.png`.
//!
//! Where a control stands is told by a twin: the same window without a display, on a copy of the records, with the same
//! clock. What is done is done to both, and the picture on the server is held against the twin's.

#![allow(unreachable_pub)]

#[path = "real/clock.rs"]
mod clock;
#[path = "real/crew.rs"]
mod crew;
#[path = "real/screen.rs"]
mod screen;
#[path = "real/twin.rs"]
mod twin;
mod window;

use std::path::Path;
use std::process::ExitCode;
use std::rc::Rc;

use offshed_core::fitness::Verdict;
use twin::{Killed, Twin};

/// How often the program is killed before the engine is fit.
const KILLS: usize = 20;
/// More rounds than any sheet needs.
const MOST: usize = 1_500;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().collect();
    match args.get(1..).unwrap_or_default() {
        [what, folder, clock] if what == "--window" => show(Path::new(folder), Path::new(clock)),
        _ if std::env::var_os("OFFSHED_REAL_WINDOW").is_none() => {
            println!("not run: OFFSHED_REAL_WINDOW=1 asks for it; it needs Xvfb and xdotool and takes minutes");
            ExitCode::SUCCESS
        }
        rest => {
            let seed = rest.iter().find_map(|arg| arg.parse().ok()).unwrap_or(2026);
            work(seed);
            ExitCode::SUCCESS
        }
    }
}

/// The window as the program opens it, but for its clock.
fn show(folder: &Path, clock: &Path) -> ExitCode {
    let app = offshed::init(folder, Some(Rc::new(clock::FileClock(clock.to_owned())))).expect("a window");
    app.show().expect("shown");
    app.run().expect("it runs");
    ExitCode::SUCCESS
}

fn work(seed: u64) {
    let mut twin = Twin::new(seed, KILLS);
    let mut rounds = 0;
    while twin.verdict() != Verdict::Fit {
        rounds += 1;
        assert!(rounds < MOST, "the engine is not fit after {rounds} rounds: {:#?}", twin.labels());
        match crew::go_on(&mut twin) {
            Ok(()) => {}
            Err(Killed) => twin.after_a_kill(),
        }
    }
    twin.picture();
    println!("{}", twin.told());
    assert_eq!(twin.kills_left(), 0, "killed as often as it was to be");
    assert!(twin.same_pictures() >= 0.9, "the pictures on the server are the twin's: {}", twin.same_pictures());
}
