//! An X server of its own, the program's window on it, and a pointer and keys that are the server's.

use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::xproto::{ConnectionExt, ImageFormat, Window};
use x11rb::rust_connection::RustConnection;

/// How long the window may take to come up on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// The server.
pub struct Server {
    child: Child,
    display: String,
    connection: RustConnection,
}

impl Server {
    pub fn start() -> Server {
        let started = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1920x1080x24", "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut child = started.expect("Xvfb (Debian: xvfb)");
        let mut out = child.stdout.take().expect("its display number");
        let (mut number, mut byte) = (Vec::new(), [0]);
        while out.read(&mut byte).is_ok_and(|n| n == 1) && byte[0] != b'\n' {
            number.push(byte[0]);
        }
        let display = format!(":{}", String::from_utf8(number).expect("a number").trim());
        let (connection, _) = RustConnection::connect(Some(&display)).expect("the server");
        Server { child, display, connection }
    }

    /// The program's window on a folder, of a size in dots, mapped and with the keys.
    pub fn open(&self, folder: &Path, clock: &Path, size: (u32, u32)) -> Shown {
        let program = std::env::current_exe().expect("this program");
        let child = Command::new(program)
            .arg("--window")
            .args([folder, clock])
            .env("DISPLAY", &self.display)
            .env_remove("WAYLAND_DISPLAY")
            .env_remove("WAYLAND_SOCKET")
            .env("WINIT_X11_SCALE_FACTOR", "1")
            .env("SLINT_SCALE_FACTOR", "1")
            .spawn()
            .expect("the window's program");
        let mut shown = Shown { child, window: 0 };
        let start = Instant::now();
        while shown.window == 0 {
            assert!(start.elapsed() < PATIENCE, "no window came up");
            sleep(Duration::from_millis(20));
            let pid = shown.child.id().to_string();
            let found = self.tool(&["search", "--onlyvisible", "--pid", &pid, "--name", "^offshed$"]);
            shown.window = found.lines().next().and_then(|id| id.parse().ok()).unwrap_or(0);
        }
        let id = shown.window.to_string();
        self.tool(&["windowsize", &id, &size.0.to_string(), &size.1.to_string(), "windowmove", &id, "0", "0"]);
        self.tool(&["windowfocus", &id]);
        shown
    }

    pub fn click(&self, x: f32, y: f32) {
        let at = [(x as i32).to_string(), (y as i32).to_string()];
        self.tool(&["mousemove", &at[0], &at[1], "mousedown", "1", "mouseup", "1"]);
    }

    pub fn key(&self, name: &str) {
        self.tool(&["key", name]);
    }

    fn tool(&self, args: &[&str]) -> String {
        let run = Command::new("xdotool").args(args).env("DISPLAY", &self.display).output();
        String::from_utf8(run.expect("xdotool").stdout).unwrap_or_default()
    }

    /// What the window shows, three bytes a dot; nothing while it is not there.
    pub fn pixels(&self, shown: &Shown, size: (u32, u32)) -> Option<Vec<[u8; 3]>> {
        let window: Window = shown.window;
        let (width, height) = (u16::try_from(size.0).ok()?, u16::try_from(size.1).ok()?);
        let image = self.connection.get_image(ImageFormat::Z_PIXMAP, window, 0, 0, width, height, u32::MAX);
        let image = image.ok()?.reply().ok()?;
        self.connection.flush().ok()?;
        Some(image.data.chunks_exact(4).map(|dot| [dot[2], dot[1], dot[0]]).collect())
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The program with its window.
pub struct Shown {
    child: Child,
    window: Window,
}

impl Shown {
    /// Ends it as a cut of the power would: without a word.
    pub fn kill(&mut self) {
        self.child.kill().expect("killed");
        self.child.wait().expect("gone");
    }
}

impl Drop for Shown {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
