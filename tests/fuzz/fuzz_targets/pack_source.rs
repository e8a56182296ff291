//! Any text as the head and a sequence of a pack's source: complaints with places, or a pack that its own check takes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use offshed_depot::authoring::{SourceFile, compile};
use offshed_depot::packfile::PackFile;

fuzz_target!(|texts: (&str, &str)| {
    let file = |name: &str, text: &str| SourceFile { name: name.to_owned(), text: text.to_owned() };
    match compile(&[file("pack.toml", texts.0), file("work.toml", texts.1)]) {
        Ok(compiled) => drop(PackFile::from_bytes(compiled.bytes).expect("a compiled pack is sound")),
        Err(complaints) => assert!(!complaints.is_empty()),
    }
});
