//! The emulated board at work: the emulator as a process, its serial port, its monitor, and what its display shows.

use std::fs;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use embedded_graphics::prelude::Size;
use offshed_core::stamp::Stamp;
use offshed_handheld::keys::Key;

use crate::picture::Canvas;
use crate::twin::{LONG_MS, passed};

/// The display's dots, and how often the emulator's picture repeats each.
pub(crate) const SIZE: Size = Size::new(128, 64);
const SCALE: usize = 4;

/// How the emulator is told of its board.
pub(crate) fn emulator(elf: &Path, image: &Path, arguments: &[String]) -> Command {
    let mut command = Command::new("qemu-system-arm");
    let words: String = arguments.iter().map(|word| format!(",arg={word}")).collect();
    command.args(["-M", "lm3s6965evb", "-cpu", "cortex-m3", "-display", "none"]);
    command.arg("-semihosting-config").arg(format!("enable=on,target=native,arg=handheld{words}"));
    command.arg("-drive").arg(format!("if=sd,format=raw,file={}", image.display()));
    command.arg("-kernel").arg(elf);
    command
}

/// An act's end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Done {
    /// When, ms of the device's time.
    pub(crate) ms: u64,
    /// Most instructions of a look with a frame.
    pub(crate) frame: u64,
    /// Most instructions of any look.
    pub(crate) work: u64,
}

/// A board whose bench is this program.
pub(crate) struct Board {
    emulator: Child,
    lines: BufReader<ChildStdout>,
    monitor: UnixStream,
    folder: tempfile::TempDir,
    /// Lines that answered no act.
    pub(crate) said: Vec<String>,
}

impl Board {
    /// Starts it, `as_of` being its wall clock; time moves one nanosecond an instruction, and not at all while it waits.
    ///
    /// # Errors
    /// When the emulator can't be started, or the device says that it can't start.
    pub(crate) fn start(elf: &Path, image: &Path, as_of: Stamp) -> io::Result<Board> {
        let folder = tempfile::tempdir()?;
        let monitor = folder.path().join("monitor");
        let mut command = emulator(elf, image, &["bench".to_owned(), format!("as-of={}", as_of.0)]);
        command.args(["-icount", "shift=0,sleep=off", "-serial", "stdio", "-monitor"]);
        command.arg(format!("unix:{},server=on,wait=off", monitor.display()));
        let mut emulator = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
        let out = emulator.stdout.take().ok_or_else(|| io::Error::other("the emulator has no output"))?;
        let monitor = connect(&monitor)?;
        let mut board = Board { emulator, lines: BufReader::new(out), monitor, folder, said: Vec::new() };
        board.answer("ready")?;
        Ok(board)
    }

    /// The words behind `wanted` in the next line that starts so; others are kept.
    fn answer(&mut self, wanted: &str) -> io::Result<Vec<u64>> {
        loop {
            let mut line = String::new();
            if self.lines.read_line(&mut line)? == 0 {
                return Err(io::Error::other(format!("the board stopped: {:?}", self.said)));
            }
            let line = line.trim_end();
            if line.starts_with("fault") {
                return Err(io::Error::other(line.to_owned()));
            }
            if line.split(' ').next() == Some(wanted) {
                return Ok(line.split(' ').filter_map(|word| word.parse().ok()).collect());
            }
            self.said.push(line.to_owned());
        }
    }

    fn ask(&mut self, line: &str, wanted: &str) -> io::Result<Vec<u64>> {
        let input = self.emulator.stdin.as_mut().ok_or_else(|| io::Error::other("the emulator has no input"))?;
        writeln!(input, "{line}")?;
        input.flush()?;
        self.answer(wanted)
    }

    fn act(&mut self, line: &str) -> io::Result<Done> {
        match self.ask(line, "done")?.as_slice() {
            [ms, frame, work] => Ok(Done { ms: *ms, frame: *frame, work: *work }),
            other => Err(io::Error::other(format!("{line}: {other:?}"))),
        }
    }

    /// Holds a key, or none, for so long.
    ///
    /// # Errors
    /// When the board stops.
    pub(crate) fn hold(&mut self, key: Option<Key>, ms: u64) -> io::Result<Done> {
        let mask = key.map_or(0, |key| 1u8 << key as u8);
        self.act(&format!("keys {mask} {ms}"))
    }

    /// Nothing is pressed for so long; a long wait passes at once but for its end.
    ///
    /// # Errors
    /// When the board stops.
    pub(crate) fn wait(&mut self, ms: u64) -> io::Result<Done> {
        if ms <= LONG_MS {
            return self.hold(None, ms);
        }
        self.act(&format!("skip {}", passed(ms)))?;
        self.hold(None, ms - passed(ms))
    }

    /// Lets it draw anew.
    ///
    /// # Errors
    /// When the board stops.
    pub(crate) fn draw(&mut self) -> io::Result<Done> {
        self.act("draw")
    }

    /// Bytes of stack used at the deepest, and pages of the log.
    ///
    /// # Errors
    /// When the board stops.
    pub(crate) fn told(&mut self) -> io::Result<(u64, u64)> {
        match self.ask("told", "stack")?.as_slice() {
            [stack, pages, _] => {
                let told = (*stack, *pages);
                self.answer("ready")?;
                Ok(told)
            }
            other => Err(io::Error::other(format!("told: {other:?}"))),
        }
    }

    /// What the display shows.
    ///
    /// # Errors
    /// When the emulator gives no picture.
    pub(crate) fn shown(&mut self) -> io::Result<Canvas> {
        let path = self.folder.path().join("shown.ppm");
        dump(&mut self.monitor, &path)
    }

    /// Switches it off, in the middle of whatever it does.
    pub(crate) fn cut(mut self) -> io::Result<()> {
        self.emulator.kill()?;
        self.emulator.wait().map(|_| ())
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.emulator.kill();
        let _ = self.emulator.wait();
    }
}

/// A monitor, as soon as it is there; its first prompt is read.
///
/// # Errors
/// When it is not there within ten seconds.
pub(crate) fn connect(path: &Path) -> io::Result<UnixStream> {
    for _ in 0..200 {
        if let Ok(mut stream) = UnixStream::connect(path) {
            prompt(&mut stream)?;
            return Ok(stream);
        }
        sleep(Duration::from_millis(50));
    }
    Err(io::Error::other("the emulator opens no monitor"))
}

/// Reads up to the monitor's next prompt.
fn prompt(stream: &mut UnixStream) -> io::Result<()> {
    let mut last = Vec::new();
    let mut byte = [0];
    while !last.ends_with(b"(qemu) ") {
        stream.read_exact(&mut byte)?;
        last.push(byte[0]);
    }
    Ok(())
}

/// Gives the monitor a command.
///
/// # Errors
/// When the emulator stops.
pub(crate) fn command(monitor: &mut UnixStream, words: &str) -> io::Result<()> {
    writeln!(monitor, "{words}")?;
    prompt(monitor)
}

/// The emulator's picture of the display.
///
/// # Errors
/// When it is not the picture of a display of this size.
pub(crate) fn dump(monitor: &mut UnixStream, path: &PathBuf) -> io::Result<Canvas> {
    command(monitor, &format!("screendump {}", path.display()))?;
    let bytes = fs::read(path)?;
    let (wide, high) = (SIZE.width as usize * SCALE, SIZE.height as usize * SCALE);
    let head = format!("P6\n{wide} {high}\n255\n");
    let dots = bytes.strip_prefix(head.as_bytes()).ok_or_else(|| io::Error::other("not a picture of the display"))?;
    let lit = |n: usize| {
        let (x, y) = (n % SIZE.width as usize, n / SIZE.width as usize);
        dots.get(((y * SCALE + 1) * wide + x * SCALE + 1) * 3).is_some_and(|red| *red > 127)
    };
    Ok(Canvas::of(SIZE, (0..(SIZE.width * SIZE.height) as usize).map(lit)))
}
