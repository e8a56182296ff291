//! The window and its twin, worked together; and what must hold when the one is killed.

use std::fs;
use std::path::PathBuf;
use std::thread::sleep;
use std::time::{Duration, Instant};

use offshed::controllers::crew::{CrewView, Place};
use offshed::controllers::place::Kept;
use offshed::screen::Screen;
use offshed_core::entry::Entry;
use offshed_core::fitness::Verdict;
use offshed_core::ident::EngineId;
use offshed_core::stamp::Stamp;
use offshed_depot::passing::{Passer, Passing};
use offshed_depot::shed;
use slint::platform::{PointerEventButton, WindowEvent};
use slint::{ComponentHandle, LogicalPosition};

use crate::clock;
use crate::screen::{Server, Shown};
use crate::window::{self, Bench, Day, MORNING, Size};

pub const ENGINE: EngineId = EngineId(4);
const SIZE: Size = Size { name: "real", width: 1280.0, height: 1000.0, density: 96 };
const DOTS: (u32, u32) = (1280, 1000);
/// How long the window may take until it shows, and holds, what its twin does.
const PATIENCE: Duration = Duration::from_secs(20);
/// Dots that may differ, in a thousand: edges of letters.
const DIFFERENT: usize = 3;
/// Fewer touches than a preparation takes: the moments of the kills are drawn from them.
const TOUCHES: u64 = 420;

/// The program was killed; what was being done is not done to the end.
#[derive(Debug)]
pub struct Killed;

/// The two.
pub struct Twin {
    // Ended in this order: the window, its server, and the folder last.
    shown: Option<Shown>,
    server: Server,
    bench: Option<Bench>,
    /// Touches after which the program is killed, the next one last.
    kills: Vec<u64>,
    chance: u64,
    touches: u64,
    /// Entries that both hold, as they were accepted.
    accepted: Vec<Entry>,
    pictures: (usize, usize),
    /// Kills after which nothing more was written than was accepted, and those after which the answer on its way was.
    cut: (usize, usize),
    root: tempfile::TempDir,
}

impl Twin {
    pub fn new(seed: u64, kills: usize) -> Twin {
        window::backend();
        let root = tempfile::tempdir().expect("a folder");
        let real = root.path().join("real");
        window::copy(&window::demonstration(Day::Night), &real);
        Screen { density: SIZE.density, ..Screen::default() }.write(&real).expect("settings");
        let mut twin = Twin {
            server: Server::start(),
            shown: None,
            bench: None,
            kills: Vec::new(),
            chance: seed | 1,
            touches: 0,
            accepted: Vec::new(),
            pictures: (0, 0),
            cut: (0, 0),
            root,
        };
        let mut moments: Vec<u64> = (0..kills).map(|_| 3 + twin.draw() % TOUCHES).collect();
        moments.sort_unstable_by(|a, b| b.cmp(a));
        twin.kills = moments;
        twin.open(Stamp(MORNING.0 - 6 * 3_600));
        twin.accepted = twin.entries(&twin.real());
        twin
    }

    /// xorshift64* (Vigna 2016).
    fn draw(&mut self) -> u64 {
        self.chance ^= self.chance >> 12;
        self.chance ^= self.chance << 25;
        self.chance ^= self.chance >> 27;
        self.chance.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 16
    }

    fn real(&self) -> PathBuf {
        self.root.path().join("real")
    }

    fn copied(&self) -> PathBuf {
        self.root.path().join("twin")
    }

    fn clock_file(&self) -> PathBuf {
        self.root.path().join("clock")
    }

    fn bench(&self) -> &Bench {
        self.bench.as_ref().expect("the twin is open")
    }

    fn entries(&self, path: &std::path::Path) -> Vec<Entry> {
        let (ledger, findings, _) = shed::look(path).expect("the records");
        assert!(!findings.iter().any(|finding| finding.leaves_doubt()), "{findings:?}");
        ledger.entries().cloned().collect()
    }

    /// Opens both: the twin on a copy of what the window's folder holds.
    fn open(&mut self, at: Stamp) {
        let copied = self.copied();
        if copied.exists() {
            fs::remove_dir_all(&copied).expect("removed");
        }
        window::copy(&self.real(), &copied);
        clock::put(&self.clock_file(), at, 0);
        self.bench = Some(Bench::there(&copied, SIZE, at));
        self.shown = Some(self.server.open(&self.real(), &self.clock_file(), DOTS));
        self.settle();
    }

    /// Waits until the window shows what the twin does, and told whether it came to that.
    fn settle(&mut self) -> bool {
        let wanted: Vec<[u8; 3]> = self.bench().pixels().as_slice().iter().map(|dot| [dot.r, dot.g, dot.b]).collect();
        let start = Instant::now();
        let mut same = false;
        while !same && start.elapsed() < PATIENCE {
            let shown = self.shown.as_ref().and_then(|shown| self.server.pixels(shown, DOTS));
            same = shown.is_some_and(|shown| {
                let different = shown.iter().zip(&wanted).filter(|(a, b)| a != b).count();
                shown.len() == wanted.len() && different * 1_000 <= wanted.len() * DIFFERENT
            });
            if !same {
                sleep(Duration::from_millis(15));
            }
        }
        self.pictures.0 += usize::from(same);
        self.pictures.1 += 1;
        if !same && self.pictures.1 - self.pictures.0 < 4 {
            self.save(&format!("real-differs-{}", self.pictures.1));
            self.bench().picture(&format!("real-differs-{}-twin", self.pictures.1));
        }
        same
    }

    /// Clicks the one control with this label, on both.
    pub fn touch(&mut self, label: &str) -> Result<(), Killed> {
        let control = self.bench().one(label);
        let (at, size) = (control.absolute_position(), control.size());
        let (x, y) = (at.x + size.width / 2.0, at.y + size.height / 2.0);
        assert!(x > 0.0 && y > 0.0 && x < SIZE.width && y < SIZE.height, "\"{label}\" is at {x}, {y}");
        self.server.click(x, y);
        self.fall()?;
        let window = self.bench().app.window().window();
        let position = LogicalPosition::new(x, y);
        window.dispatch_event(WindowEvent::PointerMoved { position });
        window.dispatch_event(WindowEvent::PointerPressed { position, button: PointerEventButton::Left });
        window.dispatch_event(WindowEvent::PointerReleased { position, button: PointerEventButton::Left });
        i_slint_backend_testing::mock_elapsed_time(Duration::from_millis(400));
        self.agree();
        Ok(())
    }

    /// Types a key on both; `name` is the server's for it.
    pub fn key(&mut self, key: &str, name: &str) -> Result<(), Killed> {
        self.server.key(name);
        self.fall()?;
        self.bench().key(slint::SharedString::from(key));
        self.agree();
        Ok(())
    }

    /// Both clocks go on, and both windows see it.
    pub fn wait(&mut self, tenths: u64) -> Result<(), Killed> {
        use offshed::clock::Clock;
        let bench = self.bench();
        bench.clock.step(tenths);
        clock::put(&self.clock_file(), bench.clock.now().stamp, bench.clock.tenths());
        bench.app.tick();
        self.fall()?;
        self.settle();
        Ok(())
    }

    /// The program is killed where the draw says so, somewhere within the time that a touch takes.
    fn fall(&mut self) -> Result<(), Killed> {
        self.touches += 1;
        if self.kills.last().is_none_or(|moment| *moment > self.touches) {
            return Ok(());
        }
        self.kills.pop();
        let wait = self.draw() % 250;
        sleep(Duration::from_millis(wait));
        if let Some(mut shown) = self.shown.take() {
            shown.kill();
        }
        Err(Killed)
    }

    /// What the twin accepted, the window did too, and in the same bytes.
    fn agree(&mut self) {
        let wanted = self.entries(&self.copied());
        let start = Instant::now();
        while wanted.len() > self.accepted.len() && self.entries(&self.real()) != wanted {
            assert!(start.elapsed() < PATIENCE, "the window did not record what its twin did: {:?}", self.labels());
            sleep(Duration::from_millis(10));
        }
        self.accepted = wanted;
        self.settle();
    }

    /// Nothing that was accepted is lost, at most the answer on its way is there too; and both open at the same step.
    pub fn after_a_kill(&mut self) {
        let place = self.place();
        let found = self.entries(&self.real());
        assert!(found.starts_with(&self.accepted), "an accepted answer is lost");
        assert!(found.len() <= self.accepted.len() + 1, "more was written than was given");
        let more = found.len() > self.accepted.len();
        if more {
            self.cut.1 += 1
        } else {
            self.cut.0 += 1
        }
        let kept = Kept::read(&self.real());
        self.accepted = found;
        use offshed::clock::Clock;
        let at = self.bench().clock.now().stamp;
        self.bench().app.window().hide().expect("hidden");
        self.bench = None;
        self.open(at);
        // The touch on its way may have led on; else the window is where it was.
        assert!(Kept::read(&self.copied()) == kept, "opening changes nothing");
        let again = self.place();
        assert!(again == place || self.led_on(place, again), "at {place:?}, and again at {again:?}");
        assert!(self.settle(), "the window opens where its twin does");
        self.click_read();
    }

    /// Whether the touch that was on its way may have led from one place to another.
    fn led_on(&self, from: Place, to: Place) -> bool {
        match (from, to) {
            (Place::Engines, Place::Engine(_)) | (Place::Engine(_), Place::Sheet(_)) => true,
            (Place::Sheet(a), Place::Step(b, _)) | (Place::Step(a, _), Place::Step(b, _)) => a == b,
            _ => false,
        }
    }

    fn click_read(&mut self) {
        // A kill at the very first touch is one more round.
        while let Err(Killed) = self.touch("Read") {
            self.after_a_kill();
        }
    }

    pub fn has(&self, label: &str) -> bool {
        self.bench().has(label)
    }

    pub fn labels(&self) -> Vec<String> {
        self.bench().labels()
    }

    pub fn view(&self) -> CrewView {
        self.bench().app.desks(|desks| desks.crew.view(desks.session.as_ref().expect("a folder")))
    }

    pub fn place(&self) -> Place {
        self.bench().app.desks(|desks| desks.crew.place())
    }

    pub fn verdict(&self) -> Verdict {
        self.bench().app.desks(|desks| {
            let session = desks.session.as_ref().expect("a folder");
            session.ledger().fitness(ENGINE, session.now()).verdict
        })
    }

    /// What somebody would answer who finds everything right at the step that is up.
    pub fn passing(&self) -> Option<Passing> {
        self.bench().app.desks(|desks| {
            let session = desks.session.as_ref()?;
            let Place::Step(sheet, step) = desks.crew.place() else { return None };
            shed::scene(session.ledger(), sheet, |scene| {
                let row = scene.pack.step(step)?;
                Passer { scene, now: session.now() }.answer(scene.sheet?, &row)
            })?
        })
    }

    pub fn kills_left(&self) -> usize {
        self.kills.len()
    }

    pub fn same_pictures(&self) -> f64 {
        self.pictures.0 as f64 / self.pictures.1.max(1) as f64
    }

    pub fn told(&self) -> String {
        format!(
            "{} touches, {} entries; killed {} times: the records then ended {} times with what was accepted, {} times with the answer on its way; {} of {} pictures as the twin's",
            self.touches,
            self.accepted.len(),
            self.cut.0 + self.cut.1,
            self.cut.0,
            self.cut.1,
            self.pictures.0,
            self.pictures.1
        )
    }

    /// Writes what the window shows beside the build.
    pub fn picture(&self) {
        self.save("real");
    }

    fn save(&self, name: &str) {
        let Some(pixels) = self.shown.as_ref().and_then(|shown| self.server.pixels(shown, DOTS)) else { return };
        let dir = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("window");
        fs::create_dir_all(&dir).expect("a folder");
        let file = fs::File::create(dir.join(format!("{name}.png"))).expect("a file");
        let mut png = png::Encoder::new(file, DOTS.0, DOTS.1);
        png.set_color(png::ColorType::Rgb);
        png.set_depth(png::BitDepth::Eight);
        let mut writer = png.write_header().expect("a head");
        writer.write_image_data(pixels.as_flattened()).expect("an image");
    }
}
