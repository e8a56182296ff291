//! The window by keys alone: the tabulator until the focus ring stands on a control, then Return.

use std::time::Duration;

use i_slint_backend_testing::ElementHandle;
use slint::ComponentHandle;
use slint::platform::Key;

use super::Bench;
use super::hands::type_keys;

/// More controls than any page has.
const MOST: usize = 200;

/// Where the focus ring stands, dots from the window's corner, with its size.
pub fn ring(bench: &Bench) -> Option<(f32, f32, f32, f32)> {
    let mut rings = ElementHandle::find_by_element_id(bench.app.window(), "Touchable::ring");
    let ring = rings.next()?;
    assert!(rings.next().is_none(), "one control has the keys");
    Some(place(&ring))
}

fn place(element: &ElementHandle) -> (f32, f32, f32, f32) {
    let (at, size) = (element.absolute_position(), element.size());
    (at.x, at.y, size.width, size.height)
}

/// Whether two places are one, but for what adding up lengths rounds.
fn same(one: (f32, f32, f32, f32), other: (f32, f32, f32, f32)) -> bool {
    let near = |a: f32, b: f32| (a - b).abs() < 0.5;
    near(one.0, other.0) && near(one.1, other.1) && near(one.2, other.2) && near(one.3, other.3)
}

/// Goes to the control with this label and presses Return. The ring is wholly in view there, or its top is.
#[track_caller]
pub fn press(bench: &Bench, label: &str) {
    for _ in 0..MOST {
        bench.tab();
        // What the focus brings into view moves a moment later.
        i_slint_backend_testing::mock_elapsed_time(Duration::from_millis(20));
        let Some(ring) = ring(bench) else { continue };
        if bench.all(label).iter().any(|control| same(place(control), ring)) {
            let height = bench.app.window().window().size().height as f32;
            assert!(
                ring.1 >= -0.5 && ring.1 + ring.3.min(120.0) <= height + 0.5,
                "\"{label}\" is at {ring:?} of {height}"
            );
            bench.key(slint::SharedString::from(Key::Return));
            i_slint_backend_testing::mock_elapsed_time(Duration::from_millis(20));
            return;
        }
    }
    panic!("the tabulator does not come to \"{label}\"; there are {:#?}", bench.labels());
}

/// Types text and Return.
pub fn type_return(bench: &Bench, text: &str) {
    type_keys(bench, text);
    bench.key(slint::SharedString::from(Key::Return));
    i_slint_backend_testing::mock_elapsed_time(Duration::from_millis(20));
}
