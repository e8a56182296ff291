//! The boiler that is measured on a microcontroller is the demo's, and every measured call has an answer.

#[path = "../../firmware-sim/qemu/src/cases.rs"]
#[allow(dead_code, unreachable_pub)]
mod cases;

use offshed_depot::reckon::boiler::read;

#[test]
fn the_measured_boiler_is_the_demos() {
    let text = include_str!("../../desktop/depot/demo/boiler-tamsin.toml");
    let demo = read("boiler-tamsin.toml", text).unwrap();
    assert_eq!(demo.vessel.boiler(), &cases::TAMSIN);
}

#[test]
fn every_measured_call_has_an_answer() {
    let mut refused = Vec::new();
    let mut shown = 0;
    cases::each(&mut |case| {
        shown += 1;
        if case.answer().is_none() {
            refused.push(case.name);
        }
    })
    .unwrap();
    assert!(shown > 0 && refused.is_empty(), "{refused:?}");
}
