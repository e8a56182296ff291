//! Every page in every scheme and on every size of screen, written as pictures for a person to look at, and never empty.

mod window;

use offshed::screen::{Scheme, Screen};
use slint::ComponentHandle;
use window::{Bench, SIZES, Size};

/// More than one colour, and ink enough to be a page.
fn is_a_page(pixels: &slint::SharedPixelBuffer<slint::Rgba8Pixel>) -> bool {
    let first = pixels.as_slice()[0];
    let other = pixels.as_slice().iter().filter(|pixel| **pixel != first).count();
    other * 100 > pixels.as_slice().len()
}

/// One window a thread, for each size and scheme.
fn each(name: &'static str, work: impl Fn(&Bench, &dyn Fn(&str)) + Send + Copy + 'static) {
    for size in SIZES {
        for scheme in Scheme::ALL {
            let shown = move || show(name, size, scheme, work);
            std::thread::spawn(shown).join().expect("a page");
        }
    }
}

fn show(name: &str, size: Size, scheme: Scheme, work: impl Fn(&Bench, &dyn Fn(&str))) {
    let bench = Bench::new(size, &Screen { scheme, ..Screen::default() });
    let picture = |page: &str| {
        let pixels = bench.picture(&format!("{name}-{page}-{}-{}", size.name, scheme.key()));
        assert!(is_a_page(&pixels), "{name} {page} {size:?} {scheme:?}");
    };
    work(&bench, &picture);
}

#[test]
fn board() {
    each("board", |bench, picture| {
        bench.touch("Board");
        picture("all");
    });
}

#[test]
fn crew() {
    each("crew", |bench, picture| {
        bench.touch("Crew");
        picture("1-engines");
        bench.touch("NOT FIT: No. 23");
        picture("2-engine");
        bench.touch(&bench.starting("Open: Preparation"));
        picture("3-now");
        bench.touch("Sign on");
        picture("4-people");
        bench.touch("Jory Tamble");
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
    });
}

#[test]
fn more() {
    each("more", |bench, picture| {
        bench.touch("More");
        picture("settings");
        bench.app.window().window().dispatch_event(slint::platform::WindowEvent::PointerScrolled {
            position: slint::LogicalPosition::new(200.0, 500.0),
            delta_x: 0.0,
            delta_y: -1e6,
        });
        picture("about");
    });
}
