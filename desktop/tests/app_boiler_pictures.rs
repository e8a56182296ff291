//! The boiler picture and the treatment page in every scheme and on every size of screen, as pictures for a person to
//! look at, and never empty.

mod window;

use offshed::screen::{Scheme, Screen};
use window::{Bench, SIZES, Size};

/// More than one colour, and ink enough to be a page.
fn is_a_page(pixels: &slint::SharedPixelBuffer<slint::Rgba8Pixel>) -> bool {
    let first = pixels.as_slice()[0];
    let other = pixels.as_slice().iter().filter(|pixel| **pixel != first).count();
    other * 200 > pixels.as_slice().len()
}

/// One window a thread, for each size and scheme.
fn each(name: &'static str, work: impl Fn(&Bench, &dyn Fn(&str)) + Send + Copy + 'static) {
    for size in SIZES {
        for scheme in Scheme::ALL {
            std::thread::spawn(move || show(name, size, scheme, work)).join().expect("a page");
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
fn boiler() {
    each("boiler", |bench, picture| {
        bench.touch("Crew");
        bench.touch("FIT: No. 4 Tamsin");
        picture("1-door");
        bench.touch("Boiler picture");
        picture("2-level");
        for _ in 0..16 {
            bench.touch("Gradient: Down");
            bench.touch("Reading down 10 mm");
        }
        for _ in 0..10 {
            bench.touch("Speed: Brake");
        }
        picture("3-bare");
        bench.touch("Where: On the road");
        picture("4-road");
        bench.touch("To the worst place");
        picture("5-worst");
        bench.one("Regulator: Open");
        picture("5-worst-lower");
        bench.touch("Back");
        bench.touch("Back");
        bench.touch("NOT FIT: No. 23");
        bench.touch("Boiler picture");
        picture("6-not-measured");
    });
}

#[test]
fn treatment() {
    each("treatment", |bench, picture| {
        bench.touch("More");
        picture("0-doors");
        bench.touch("Water treatment: No. 4 Tamsin");
        picture("1-tests");
        bench.one(&bench.starting("Caution: A figure is advice"));
        picture("1-tests-lower");
        bench.touch("Back");
        bench.touch("Boiler picture: No. 11 Bramble Down");
        picture("2-tapered");
    });
}
