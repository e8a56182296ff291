//! Any text as a day script: read, or refused with a line.
#![no_main]

use libfuzzer_sys::fuzz_target;
use offshed_depot::script::row;
use offshed_depot::typed;

fuzz_target!(|text: &str| {
    match row::parse(text) {
        Ok(rows) => {
            for row in rows {
                let _ = typed::moment(&row.time, None);
                let _ = typed::road(&row.what);
                let _ = typed::product(&row.value, &row.words);
                let _ = typed::pascals(&row.value);
                let _ = typed::entry_ref(&row.on);
            }
        }
        Err(fault) => assert!(!fault.problem.is_empty()),
    }
});
