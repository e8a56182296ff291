//! Any text as a boiler or a road: what is taken has a record that holds together, and answers with numbers.
#![no_main]

use libfuzzer_sys::fuzz_target;
use offshed_core::boiler::level::Tilt;
use offshed_core::ident::RoadId;
use offshed_depot::reckon::{boiler, road};

fuzz_target!(|text: &str| {
    if let Ok(found) = boiler::read("fuzz", text)
        && let Ok(record) = found.record()
    {
        let vessel = record.vessel().expect("what was recorded holds together");
        let litres = vessel.litres_at(vessel.visible_mm() / 2.0, Tilt::LEVEL).expect("the middle of the glass");
        assert!(litres.is_finite() && litres >= 0.0);
    }
    if let Ok(found) = road::read("fuzz", text) {
        let _ = found.facts(RoadId(1));
    }
});
