//! Every page in every scheme and on every size of screen, written as pictures for a person to look at, and never empty.

mod window;

use offshed::screen::{Scheme, Screen};
use window::{Bench, SIZES};

/// More than one colour, and ink enough to be a page.
fn is_a_page(bench: &Bench) -> bool {
    let pixels = bench.pixels();
    let first = pixels.as_slice()[0];
    let other = pixels.as_slice().iter().filter(|pixel| **pixel != first).count();
    other * 100 > pixels.as_slice().len()
}

#[test]
fn board() {
    for size in SIZES {
        for scheme in Scheme::ALL {
            std::thread::spawn(move || {
                let bench = Bench::new(size, &Screen { scheme, ..Screen::default() });
                bench.touch("Board");
                bench.picture(&format!("board-{}-{}", size.name, scheme.key()));
                assert!(is_a_page(&bench), "{size:?} {scheme:?}");
            })
            .join()
            .expect("a page");
        }
    }
}
