//! The window without a display: made on a data folder, touched by the labels of its controls, and rendered.

// Each test program uses a part of this.
#![allow(dead_code, unreachable_pub)]

pub mod fits;
pub mod hands;
pub mod keys;
pub mod reference;
pub mod sheet;

use std::fs;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::OnceLock;

use i_slint_backend_testing::{ElementHandle, ElementQuery, TestingBackend, TestingBackendOptions};
use offshed::clock::StepClock;
use offshed::screen::Screen;
use offshed::{App, init};
use offshed_core::stamp::Stamp;
use offshed_depot::folder::Folder;
use offshed_depot::{demo, script};
use slint::ComponentHandle;
use slint::platform::{Key, WindowEvent};

/// 2026-05-02 09:29 at an hour ahead of UTC: where the demonstration's day ends.
pub const MORNING: Stamp = Stamp(1_777_710_540);

/// A window under test, its clock, and its data folder, which is thrown away.
pub struct Bench {
    pub app: App,
    pub clock: Rc<StepClock>,
    pub folder: tempfile::TempDir,
}

/// Which day a window is opened on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Day {
    /// The demonstration's end.
    Morning,
    /// Before its first sheet of the day: every engine cold or banked.
    Night,
    /// The demonstration's end, but that nothing of the morning was reviewed.
    Unreviewed,
}

/// A demonstration's folder, made once a test program.
pub fn demonstration(day: Day) -> PathBuf {
    static MADE: OnceLock<tempfile::TempDir> = OnceLock::new();
    static NIGHT: OnceLock<tempfile::TempDir> = OnceLock::new();
    static UNREVIEWED: OnceLock<tempfile::TempDir> = OnceLock::new();
    let reviewed = |line: &&str| line.contains(",review,review,accepted") && !line.contains("not-in-grade");
    let unreviewed: String =
        demo::SCRIPT.lines().filter(|line| !reviewed(line)).flat_map(|line| [line, "\n"]).collect();
    let (made, script) = match day {
        Day::Morning => (&MADE, demo::SCRIPT),
        Day::Unreviewed => (&UNREVIEWED, unreviewed.as_str()),
        Day::Night => (&NIGHT, demo::SCRIPT.split("# --- The day ---").next().unwrap_or_default()),
    };
    made.get_or_init(|| play(script)).path().join("demo")
}

fn play(script: &str) -> tempfile::TempDir {
    let temp = tempfile::tempdir().expect("a folder");
    let path = temp.path().join("demo");
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE).expect("a data folder"));
    let sources = demo::write_sources(&path).expect("its sources");
    script::play(&path, script, &sources).expect("the day plays");
    temp
}

pub fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for item in fs::read_dir(from).expect("a folder").map(|item| item.expect("an item")) {
        let target = to.join(item.file_name());
        if item.file_type().expect("a type").is_dir() {
            copy(&item.path(), &target);
        } else {
            fs::copy(item.path(), target).expect("a file");
        }
    }
}

/// A backend of this thread's own, that renders in software and whose time stands until it is stepped.
pub fn backend() {
    let options = TestingBackendOptions { mock_time: true, threading: false, renderer_name: Some("software".into()) };
    slint::platform::set_platform(Box::new(TestingBackend::new(options))).expect("one backend a thread");
}

/// A size in dots, and the density that makes millimetres of them.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    pub name: &'static str,
    pub width: f32,
    pub height: f32,
    pub density: u16,
}

/// A 7-inch tablet upright, a 10-inch one lying, and a screen on a desk.
pub const SIZES: [Size; 3] = [
    Size { name: "tablet-7", width: 600.0, height: 1024.0, density: 160 },
    Size { name: "tablet-10", width: 1280.0, height: 800.0, density: 160 },
    Size { name: "desk", width: 1920.0, height: 1080.0, density: 96 },
];

impl Bench {
    /// The demonstration on a screen of this size, the caution read.
    pub fn new(size: Size, screen: &Screen) -> Bench {
        let bench = Bench::unread(size, screen, Day::Morning);
        bench.touch("Read");
        bench
    }

    /// As [`Bench::new`], at half past three, before anything was done that day.
    pub fn night(size: Size, screen: &Screen) -> Bench {
        let bench = Bench::unread(size, screen, Day::Night);
        bench.touch("Read");
        bench
    }

    /// As [`Bench::new`], with the caution still up.
    pub fn unread(size: Size, screen: &Screen, day: Day) -> Bench {
        backend();
        let folder = tempfile::tempdir().expect("a folder");
        copy(&demonstration(day), &folder.path().join("shed"));
        let from = if day == Day::Night { Stamp(MORNING.0 - 6 * 3_600) } else { MORNING };
        Bench::on(folder, size, screen, Rc::new(StepClock::new(from)))
    }

    /// A window on the data folder `shed` in `folder`, beside others of this thread.
    pub fn on(folder: tempfile::TempDir, size: Size, screen: &Screen, clock: Rc<StepClock>) -> Bench {
        let path = folder.path().join("shed");
        Screen { density: size.density, ..screen.clone() }.write(&path).expect("settings");
        let app = init(&path, Some(clock.clone())).expect("a window");
        app.window().window().set_size(slint::LogicalSize::new(size.width, size.height));
        app.window().show().expect("shown");
        Bench { app, clock, folder }
    }

    /// A window on a folder that is there, for as long as it is there; the backend is the caller's.
    pub fn there(path: &Path, size: Size, from: Stamp) -> Bench {
        let clock = Rc::new(StepClock::new(from));
        let app = init(path, Some(clock.clone())).expect("a window");
        app.window().window().set_size(slint::LogicalSize::new(size.width, size.height));
        app.window().show().expect("shown");
        Bench { app, clock, folder: tempfile::tempdir().expect("a folder") }
    }

    /// Every control with this label.
    pub fn all(&self, label: &str) -> Vec<ElementHandle> {
        ElementHandle::find_by_accessible_label(self.app.window(), label).collect()
    }

    /// Whether there is such a control.
    pub fn has(&self, label: &str) -> bool {
        !self.all(label).is_empty()
    }

    /// Drags what can be dragged, from its top to its end, until there is what is looked for.
    pub fn reach<R>(&self, look: impl Fn(&Bench) -> Option<R>) -> Option<R> {
        if let Some(found) = look(self) {
            return Some(found);
        }
        for page in ElementHandle::find_by_element_type_name(self.app.window(), "Scroll") {
            page.scroll(0.0, 1e6);
            let steps = 300;
            for _ in 0..steps {
                if let Some(found) = look(self) {
                    return Some(found);
                }
                page.scroll(0.0, -page.size().height * 0.6);
            }
            page.scroll(0.0, 1e6);
        }
        None
    }

    /// The one control with this label.
    #[track_caller]
    pub fn one(&self, label: &str) -> ElementHandle {
        let found = self.reach(|bench| Some(bench.all(label)).filter(|found| !found.is_empty()));
        let mut found = found.unwrap_or_default();
        assert_eq!(found.len(), 1, "controls called \"{label}\"; there are {:#?}", self.labels());
        found.remove(0)
    }

    /// Touches the one control with this label.
    #[track_caller]
    pub fn touch(&self, label: &str) {
        self.one(label).invoke_accessible_default_action();
    }

    /// The first label that starts so.
    #[track_caller]
    pub fn starting(&self, start: &str) -> String {
        let found = self.reach(|bench| bench.labels().into_iter().find(|label| label.starts_with(start)));
        found.unwrap_or_else(|| panic!("no label starts \"{start}\"; there are {:#?}", self.labels()))
    }

    /// The controls that can be touched.
    pub fn controls(&self) -> Vec<ElementHandle> {
        let query = ElementQuery::from_root(self.app.window());
        let touchable = |e: &ElementHandle| {
            matches!(
                e.accessible_role(),
                Some(i_slint_backend_testing::AccessibleRole::Button | i_slint_backend_testing::AccessibleRole::Tab)
            )
        };
        query.match_predicate(touchable).find_all()
    }

    /// Asserts that every control is at least so many millimetres large, has a name, and is on the screen.
    #[track_caller]
    pub fn controls_take(&self, least_mm: f32, size: Size, place: &str) {
        let least = least_mm * f32::from(size.density) / 25.4;
        for control in self.controls() {
            let (label, is) = (control.accessible_label().unwrap_or_default(), control.size());
            assert!(!label.is_empty(), "{place} on {}: a control without a name at {is:?}", size.name);
            let large = is.width >= least && is.height >= least;
            assert!(large, "{place} on {}, {label}: {is:?} is below {least}", size.name);
            let left = control.absolute_position().x;
            let inside = left >= -0.5 && left + is.width <= size.width + 0.5;
            assert!(inside, "{place} on {}, {label}: from {left}, {is:?} leaves the screen", size.name);
        }
    }

    /// Asserts that of every text that is on the screen, as it is drawn, the ink is at least 7:1 on what it stands on
    /// (WCAG 2.1, success criterion 1.4.6), and that no text leaves the screen; answers how many there were.
    #[track_caller]
    pub fn texts_stand_out(&self, size: Size, place: &str) -> usize {
        let pixels = self.pixels();
        let mut looked_at = 0;
        for text in ElementHandle::find_by_element_type_name(self.app.window(), "Text") {
            let (at, is) = (text.absolute_position(), text.size());
            let shown = at.y >= 0.0 && at.y + is.height <= size.height && is.width > 2.0 && is.height > 2.0;
            if !shown {
                continue;
            }
            assert!(at.x >= -0.5 && at.x + is.width <= size.width + 0.5, "{place} on {}: {at:?} {is:?}", size.name);
            looked_at += usize::from(stands_out(&pixels, (at.x, at.y), (is.width, is.height), place, size));
        }
        looked_at
    }

    /// Every label there is, in order.
    pub fn labels(&self) -> Vec<String> {
        let query = ElementQuery::from_root(self.app.window());
        let labelled = query.match_predicate(|e| e.accessible_label().is_some_and(|label| !label.is_empty()));
        labelled.find_all().iter().filter_map(|e| e.accessible_label()).map(|label| label.to_string()).collect()
    }

    /// How many entries the folder holds.
    pub fn entries(&self) -> usize {
        self.app.desks(|desks| desks.session.as_ref().expect("a folder").ledger().entries().count())
    }

    /// Presses and releases a key.
    pub fn key(&self, key: impl Into<slint::SharedString>) {
        let text = key.into();
        self.app.window().window().dispatch_event(WindowEvent::KeyPressed { text: text.clone() });
        self.app.window().window().dispatch_event(WindowEvent::KeyReleased { text });
    }

    /// The tabulator.
    pub fn tab(&self) {
        self.key(slint::SharedString::from(Key::Tab));
    }

    /// What the window shows, as pixels.
    pub fn pixels(&self) -> slint::SharedPixelBuffer<slint::Rgba8Pixel> {
        self.app.window().window().take_snapshot().expect("a snapshot")
    }

    /// Writes what the window shows where a person can look at it, beside the build.
    pub fn picture(&self, name: &str) -> slint::SharedPixelBuffer<slint::Rgba8Pixel> {
        let dir = Path::new(env!("CARGO_TARGET_TMPDIR")).join("window");
        fs::create_dir_all(&dir).expect("a folder");
        let path = dir.join(format!("{name}.png"));
        let pixels = self.pixels();
        let file = fs::File::create(&path).expect("a file");
        let mut png = png::Encoder::new(file, pixels.width(), pixels.height());
        png.set_color(png::ColorType::Rgba);
        png.set_depth(png::BitDepth::Eight);
        let mut writer = png.write_header().expect("a head");
        writer.write_image_data(pixels.as_bytes()).expect("an image");
        pixels
    }
}

/// WCAG 2.1, "relative luminance".
fn luminance(pixel: slint::Rgba8Pixel) -> f64 {
    let channel = |c: u8| {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(pixel.r) + 0.7152 * channel(pixel.g) + 0.0722 * channel(pixel.b)
}

/// WCAG 2.1, "contrast ratio".
pub fn contrast(a: slint::Rgba8Pixel, b: slint::Rgba8Pixel) -> f64 {
    let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
    if a > b { a / b } else { b / a }
}

/// Of the pixels of one text: what most of them are is its ground, what differs most from that its ink. False where
/// nothing is drawn there, as where a page is scrolled away.
#[track_caller]
fn stands_out(
    pixels: &slint::SharedPixelBuffer<slint::Rgba8Pixel>,
    at: (f32, f32),
    is: (f32, f32),
    place: &str,
    size: Size,
) -> bool {
    let width = pixels.width() as usize;
    let mut counts: std::collections::HashMap<[u8; 3], usize> = std::collections::HashMap::new();
    for y in at.1.ceil() as usize..(at.1 + is.1).floor() as usize {
        for x in at.0.max(0.0).ceil() as usize..((at.0 + is.0).floor() as usize).min(width) {
            let pixel = pixels.as_slice()[y * width + x];
            *counts.entry([pixel.r, pixel.g, pixel.b]).or_default() += 1;
        }
    }
    let pixel = |[r, g, b]: [u8; 3]| slint::Rgba8Pixel { r, g, b, a: 255 };
    let Some((ground, _)) = counts.iter().max_by_key(|(_, count)| **count) else { return false };
    let ground = pixel(*ground);
    let most = counts.keys().map(|ink| contrast(pixel(*ink), ground)).fold(1.0, f64::max);
    if most < 1.05 {
        return false;
    }
    assert!(most >= 7.0, "{place} on {}: a text at {at:?} of {is:?} is drawn at {most:.1}:1 on {ground:?}", size.name);
    true
}
