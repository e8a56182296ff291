//! How long the window takes to stand there drawn, what memory it holds, whether it rests when nobody touches it, and how
//! long an answer takes until it is durable and its page is drawn again.
//!
//! `cargo build --release && cargo bench -p offshed --bench window [-- FOLDER]`
//!
//! Answers are measured without a display: from the touch of a control, found by its label before, until the entry is
//! synced to the disk that holds the system's temporary folder, and the whole window of 1280 by 800 dots is rendered anew
//! in software. A screen draws less, since it draws only what changed.
//!
//! The rest needs an X server: the one of `DISPLAY`, else `Xvfb` (Debian: `xvfb`), which is started for the purpose.
//! Measured from the start of the process to the server's own word that the window is mapped, and on to the first
//! picture of it that is not all one colour.

#[path = "../tests/window/mod.rs"]
mod window;

use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use offshed::screen::Screen;
use offshed_depot::{demo, folder::Folder, script};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{ChangeWindowAttributesAux, ConnectionExt, EventMask, ImageFormat, Window};
use x11rb::rust_connection::RustConnection;

const RUNS: usize = 11;

/// An X server of our own, ended with the bench.
struct Server {
    child: Option<Child>,
    display: String,
}

impl Server {
    fn start() -> Server {
        if let Ok(display) = std::env::var("DISPLAY") {
            return Server { child: None, display };
        }
        let started = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1280x800x24", "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut child = started.expect("an X server: set DISPLAY, or install xvfb");
        let mut number = Vec::new();
        let mut out = child.stdout.take().expect("its display number");
        let mut byte = [0];
        while out.read(&mut byte).is_ok_and(|n| n == 1) && byte[0] != b'\n' {
            number.push(byte[0]);
        }
        let number = String::from_utf8(number).expect("a number");
        Server { child: Some(child), display: format!(":{}", number.trim()) }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(child) = &mut self.child {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// Waits for the next window that is mapped directly beneath the root.
fn mapped(connection: &RustConnection) -> Window {
    loop {
        if let Event::MapNotify(event) = connection.wait_for_event().expect("an event") {
            return event.window;
        }
    }
}

/// Whether the window shows more than one colour.
fn drawn(connection: &RustConnection, window: Window) -> bool {
    let Some(size) = connection.get_geometry(window).ok().and_then(|c| c.reply().ok()) else { return false };
    let image = connection.get_image(ImageFormat::Z_PIXMAP, window, 0, 0, size.width, size.height, u32::MAX);
    let Some(image) = image.ok().and_then(|cookie| cookie.reply().ok()) else { return false };
    let mut pixels = image.data.chunks_exact(4);
    let first = pixels.next();
    pixels.any(|pixel| Some(pixel) != first)
}

fn status(child: &Child, key: &str) -> u64 {
    let text = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
    let line = text.lines().find(|line| line.starts_with(key));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}

/// Clock ticks of processor time that the process has used.
fn ticks(child: &Child) -> u64 {
    let text = std::fs::read_to_string(format!("/proc/{}/stat", child.id())).unwrap_or_default();
    let fields: Vec<&str> = text.rsplit(") ").next().unwrap_or("").split(' ').collect();
    let field = |n: usize| fields.get(n).and_then(|f| f.parse::<u64>().ok()).unwrap_or(0);
    field(11) + field(12)
}

fn median<T: Ord + Copy>(mut all: Vec<T>) -> T {
    all.sort_unstable();
    all[all.len() / 2]
}

fn program() -> Option<PathBuf> {
    let here = std::env::current_exe().ok()?;
    let release = here.parent()?.parent()?.join("offshed");
    release.exists().then_some(release)
}

fn demo_folder(path: &Path) {
    drop(Folder::make(path, demo::DEVICE, demo::ZONE).expect("a data folder"));
    let sources = demo::write_sources(path).expect("the demo's sources");
    script::play(path, demo::SCRIPT, &sources).expect("the demo day");
}

/// Answers of one touch on a preparation: how long each took until it was durable, and until it was drawn as well.
fn answers() -> (Vec<Duration>, Vec<Duration>) {
    let bench = window::Bench::night(window::SIZES[1], &Screen::default());
    for label in ["Sign on", "Jory Tamble"] {
        bench.touch(label);
    }
    bench.touch(&bench.starting("NOT FIT: No. 4"));
    bench.touch("Open Preparation");
    let (mut durable, mut drawn) = (Vec::new(), Vec::new());
    // Rendered once, so that no font is read while an answer is measured.
    bench.pixels();
    for _ in 0..300 {
        let plain = ["Done", "Seen", "Accept"].into_iter().find(|label| bench.has(label));
        if let Some(control) = plain.map(|label| bench.one(label)) {
            let before = bench.entries();
            let start = Instant::now();
            control.invoke_accessible_default_action();
            durable.push(start.elapsed());
            bench.pixels();
            drawn.push(start.elapsed());
            assert_eq!(bench.entries(), before + 1, "it is recorded");
        } else if !window::sheet::answer(&bench) {
            match bench.labels().into_iter().find(|label| label.starts_with("Next: ")) {
                Some(next) => bench.touch(&next),
                None => bench.clock.step(6_000),
            }
        }
        bench.clock.step(100);
        bench.app.tick();
    }
    (durable, drawn)
}

/// Measured in a thread of its own, since a backend is a thread's.
fn tell_answers() {
    let (durable, drawn) = std::thread::spawn(answers).join().expect("a sheet is worked");
    let count = drawn.len();
    let worst = drawn.iter().max().copied().unwrap_or_default();
    println!("{count} answers of one touch: durable after {:?} (median)", median(durable));
    println!("durable and the window drawn again after {:?} (median), {worst:?} (worst)", median(drawn));
}

fn main() {
    tell_answers();
    let Some(program) = program() else {
        println!("the program is not built beside this bench: `cargo build --release` first");
        return;
    };
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let given = std::env::args().skip(1).find(|arg| !arg.starts_with("--")).map(PathBuf::from);
    let folder = given.unwrap_or_else(|| {
        let path = scratch.path().join("demo");
        demo_folder(&path);
        path
    });
    let server = Server::start();
    let (connection, screen) = RustConnection::connect(Some(&server.display)).expect("the X server");
    let root = connection.setup().roots[screen].root;
    let watch = ChangeWindowAttributesAux::new().event_mask(EventMask::SUBSTRUCTURE_NOTIFY);
    connection.change_window_attributes(root, &watch).expect("the root window").check().expect("its events");

    let (mut to_map, mut to_draw, mut resident) = (Vec::new(), Vec::new(), Vec::new());
    let mut idle = None;
    for run in 0..RUNS {
        let start = Instant::now();
        let mut child = Command::new(&program)
            .env("DISPLAY", &server.display)
            .env_remove("WAYLAND_DISPLAY")
            .arg("--folder")
            .arg(&folder)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program");
        let window = mapped(&connection);
        to_map.push(start.elapsed());
        while !drawn(&connection, window) {
            std::thread::sleep(Duration::from_micros(500));
            assert!(start.elapsed() < Duration::from_secs(30), "nothing was drawn in half a minute");
        }
        to_draw.push(start.elapsed());
        std::thread::sleep(Duration::from_millis(700));
        resident.push(status(&child, "VmRSS:"));
        if run + 1 == RUNS {
            std::thread::sleep(Duration::from_secs(2));
            let before = ticks(&child);
            std::thread::sleep(Duration::from_secs(10));
            idle = Some(ticks(&child) - before);
        }
        let _ = child.kill();
        let _ = child.wait();
        while let Ok(Some(_)) = connection.poll_for_event() {}
    }
    println!("folder {}, {RUNS} starts of {}", folder.display(), program.display());
    println!("window mapped after {:?} (median), first picture after {:?}", median(to_map), median(to_draw));
    println!("resident 0.7 s after that: {} MB (median)", median(resident) / 1_024);
    // A clock tick is a hundredth of a second on Linux.
    println!("processor time of ten seconds at rest: {} ms", idle.unwrap_or(0) * 10);
}
