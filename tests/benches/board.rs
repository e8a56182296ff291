//! How long the duty board takes on the demo folder: the whole program, cold, and the parts of it in this process.
//!
//! `cargo bench -p offshed-tests --bench board`

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use offshed_core::stamp::{Now, Stamp};
use offshed_depot::{demo, folder::Folder, script, shed, views};

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times.get(times.len() / 2).copied().unwrap_or_default()
}

fn timed(runs: usize, mut work: impl FnMut()) -> Duration {
    let once = |work: &mut dyn FnMut()| {
        let start = Instant::now();
        work();
        start.elapsed()
    };
    median((0..runs).map(|_| once(&mut work)).collect())
}

fn program() -> Option<std::path::PathBuf> {
    let here = std::env::current_exe().ok()?;
    let release = here.parent()?.parent()?.join("offshed");
    release.exists().then_some(release)
}

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("demo");
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE).expect("a data folder"));
    let sources = demo::write_sources(&path).expect("the demo's sources");
    let report = script::play(&path, demo::SCRIPT, &sources).expect("the demo day");
    let now = Now::good(report.ended.unwrap_or(Stamp(0)));
    println!("demo folder: {} entries", report.entries());

    let read = timed(51, || drop(std::hint::black_box(shed::look(&path))));
    let (ledger, _, _) = shed::look(&path).expect("the folder");
    let judged = timed(51, || drop(std::hint::black_box(views::board(&ledger, now))));
    println!("in this process: read and fold {read:?}, judge all engines {judged:?}");
    whole(&path);
}

/// The program as a person starts it: a new process each time; `true` is the floor that the system sets.
fn whole(path: &Path) {
    let Some(program) = program() else {
        println!("the program is not built beside this bench: `cargo build --release` first");
        return;
    };
    let run = |command: &mut Command| {
        let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status();
        assert!(status.is_ok_and(|s| s.success()), "{command:?}");
    };
    let board = timed(31, || run(Command::new(&program).arg("--folder").arg(path).arg("board")));
    let floor = timed(31, || run(&mut Command::new("true")));
    println!("whole program, new process: board {board:?}; `true` {floor:?}");
}
