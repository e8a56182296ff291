//! Every page in every scheme and on every size of screen, written as pictures for a person to look at, never empty, and
//! the same as the small pictures that are kept of them.

mod window;

use std::cell::RefCell;
use std::path::Path;

use offshed::screen::{Scheme, Screen};
use offshed::ui::BoilerPage;
use slint::ComponentHandle;
use window::{Bench, SIZES, Size, fits, reference};

/// Pages of which small pictures are kept in `tests/pictures`.
const KEPT: [&str; 17] = [
    "board-all",
    "crew-1-engines",
    "crew-2-engine",
    "crew-2-engine-tagged",
    "crew-3-now",
    "crew-4-people",
    "crew-6-waits",
    "crew-8-number",
    "crew-9-low-water",
    "foreman-1-sheets",
    "foreman-2-sheet",
    "foreman-4-dates",
    "more-settings",
    "boiler-2-level",
    "boiler-5-worst",
    "boiler-6-not-measured",
    "treatment-1-tests",
];

/// More than one colour, and ink enough to be a page.
fn is_a_page(pixels: &slint::SharedPixelBuffer<slint::Rgba8Pixel>) -> bool {
    let first = pixels.as_slice()[0];
    let other = pixels.as_slice().iter().filter(|pixel| **pixel != first).count();
    other * 100 > pixels.as_slice().len()
}

/// A way through pages; what it is given is called with each page's name while that page is up.
type Walk = fn(&Bench, &dyn Fn(&str));

/// One window a thread, for each size and scheme.
fn each(name: &'static str, work: Walk) -> Vec<String> {
    let mut wrong = Vec::new();
    for size in SIZES {
        let started = Scheme::ALL.map(|scheme| std::thread::spawn(move || show(name, size, scheme, work)));
        wrong.extend(started.into_iter().flat_map(|shown| shown.join().expect("a page")));
    }
    wrong
}

fn show(name: &str, size: Size, scheme: Scheme, work: Walk) -> Vec<String> {
    let bench = Bench::new(size, &Screen { scheme, ..Screen::default() });
    let wrong = RefCell::new(Vec::new());
    let picture = |page: &str| {
        let full = format!("{name}-{page}-{}-{}", size.name, scheme.key());
        let pixels = bench.picture(&full);
        assert!(is_a_page(&pixels), "{full}");
        if KEPT.contains(&format!("{name}-{page}").as_str()) {
            wrong.borrow_mut().extend(reference::held(&full, &pixels));
        }
    };
    work(&bench, &picture);
    wrong.into_inner()
}

fn board(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("Board");
    picture("all");
}

fn crew(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("Crew");
    picture("1-engines");
    bench.touch("NOT FIT: No. 23");
    picture("2-engine");
    bench.touch(&bench.starting("Open: Preparation"));
    picture("3-now");
    bench.touch("Sign on");
    picture("4-people");
    bench.touch("Jory Tamble");
    bench.touch("Back");
    bench.touch("Hang my tag");
    picture("2-engine-tagged");
    bench.touch("Something happened");
    picture("10-events");
    bench.touch("Cancel");
    bench.touch("Leave a note");
    picture("11-letters");
    bench.touch("Cancel");
    bench.touch(&bench.starting("Open: Preparation"));
    bench.touch("All steps");
    picture("5-all");
    bench.touch(&bench.starting("Waits: Trial"));
    picture("6-waits");
    bench.touch("Back");
    bench.touch("To do: Pressure gauge");
    picture("7-reading");
    bench.touch("Enter the reading");
    for key in ["1", "0"] {
        bench.touch(key);
    }
    picture("8-number");
    bench.touch("Low water");
    picture("9-low-water");
}

fn more(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("More");
    picture("settings");
    bench.app.window().window().dispatch_event(slint::platform::WindowEvent::PointerScrolled {
        position: slint::LogicalPosition::new(200.0, 500.0),
        delta_x: 0.0,
        delta_y: -1e6,
    });
    picture("about");
}

fn foreman(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("Foreman");
    picture("1-sheets");
    bench.touch("No. 11 Bramble Down \u{2013} Preparation: Accepted");
    picture("2-sheet");
    bench.touch("Back");
    bench.touch(&bench.starting("Defects"));
    picture("3-defects");
    bench.touch(&bench.starting("Restrict: No. 11 Bramble Down"));
    bench.touch("By daylight only");
    bench.touch("Through tomorrow");
    bench.touch("Moss Orrin");
    picture("5-pin");
    bench.touch("Cancel");
    bench.touch(&bench.starting("Dates"));
    picture("4-dates");
    bench.touch("Water");
    picture("6-water");
}

fn exchange(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("More");
    bench.touch(&bench.starting("Exchange records"));
    picture("1-page");
}

fn boiler(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("Crew");
    bench.touch("FIT: No. 4 Tamsin");
    picture("1-door");
    bench.touch("Boiler picture");
    picture("2-level");
    let page = bench.app.window().global::<BoilerPage>();
    for (what, by) in [("reading", -160), ("slope", -16), ("speed", -10)] {
        page.invoke_move(what.into(), by);
    }
    picture("3-bare");
    bench.touch("Where: On the road");
    bench.touch("To the worst place");
    picture("5-worst");
    bench.one(&bench.starting("Caution: A figure is advice"));
    picture("5-worst-lower");
    bench.touch("Back");
    bench.touch("Back");
    bench.touch("NOT FIT: No. 23");
    bench.touch("Boiler picture");
    picture("6-not-measured");
}

fn treatment(bench: &Bench, picture: &dyn Fn(&str)) {
    bench.touch("More");
    picture("0-doors");
    bench.touch("Water treatment: No. 4 Tamsin");
    picture("1-tests");
    bench.one(&bench.starting("Caution: A figure is advice"));
    picture("1-tests-lower");
    bench.touch("Back");
    bench.touch("Boiler picture: No. 11 Bramble Down");
    picture("2-tapered");
}

const WALKS: [(&str, Walk); 7] = [
    ("board", board),
    ("crew", crew),
    ("more", more),
    ("foreman", foreman),
    ("exchange", exchange),
    ("boiler", boiler),
    ("treatment", treatment),
];

#[test]
fn every_page_is_drawn_as_it_was() {
    let wrong: Vec<String> = WALKS.into_iter().flat_map(|(name, walk)| each(name, walk)).collect();
    let how = "look at them in tmp/window beside the build; if they are meant: OFFSHED_PICTURES=write";
    assert!(wrong.is_empty(), "{}\n{how}", wrong.join("\n"));
}

/// The texts that are cut on the pages of a walk.
fn cut_on(size: Size, text: u16, name: &str, walk: Walk) -> Vec<String> {
    let bench = Bench::new(size, &Screen { text, ..Screen::default() });
    let all = RefCell::new(Vec::new());
    walk(&bench, &|page| {
        let told = fits::cut(&bench).into_iter().map(|cut| format!("{name}-{page}, {}, {text} %: {cut}", size.name));
        all.borrow_mut().extend(told);
    });
    all.into_inner()
}

/// A text is cut where its box is too low for its lines, or too narrow for its longest word.
#[test]
fn no_text_is_cut_at_any_size() {
    let mut wrong = Vec::new();
    for (size, text) in SIZES.into_iter().flat_map(|size| [100, 200].map(|text| (size, text))) {
        let started = WALKS.map(|(name, walk)| std::thread::spawn(move || cut_on(size, text, name, walk)));
        wrong.extend(started.into_iter().flat_map(|looked| looked.join().expect("a walk")));
    }
    assert!(wrong.is_empty(), "{} texts are cut:\n{}", wrong.len(), wrong.join("\n"));
}

/// Writes the pictures of the README: `cargo test -p offshed --test app_pictures -- --ignored readme`.
#[test]
#[ignore = "it writes into the sources"]
fn readme() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("pictures");
    let write = |name: &str, size: Size, work: fn(&Bench)| {
        let path = folder.join(format!("{name}.png"));
        let drawn = move || {
            let bench = Bench::new(size, &Screen::default());
            work(&bench);
            reference::whole(&bench.pixels()).write(&path);
            std::fs::metadata(path).expect("written").len()
        };
        let bytes = std::thread::spawn(drawn).join().expect("a picture");
        assert!(bytes <= 150_000, "{name}: {bytes} bytes are much for a page that many load");
    };
    write("board", SIZES[1], |bench| bench.touch("Board"));
    write("step", SIZES[0], |bench| {
        bench.touch("Crew");
        bench.touch("NOT FIT: No. 23");
        bench.touch(&bench.starting("Open: Preparation"));
        bench.touch("All steps");
        bench.touch(&bench.starting("Waits: Trial"));
    });
    write("boiler", SIZES[1], |bench| {
        bench.touch("Crew");
        bench.touch("FIT: No. 4 Tamsin");
        bench.touch("Boiler picture");
        bench.touch("Where: On the road");
        bench.touch("To the worst place");
    });
}
