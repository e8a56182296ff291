//! A compiled pack with any of its bytes changed, or cut short: refused, or every row and every word of it can be looked
//! at.
#![no_main]

use std::path::Path;
use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use offshed_core::ident::{PackHash, TextId};
use offshed_core::pack::Pack;
use offshed_depot::authoring;
use offshed_depot::packfile::PackFile;

/// The practice pack. Bytes out of nowhere would hardly ever get past its head.
static SOUND: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../core/packs/practice");
    authoring::compile_folder(&source).expect("the practice pack is sound").bytes
});

/// The first byte says how much is cut off; then each three are a place and what stands there.
fn changed(edits: &[u8]) -> Vec<u8> {
    let mut bytes = SOUND.clone();
    let Some((cut, edits)) = edits.split_first() else { return bytes };
    for edit in edits.chunks_exact(3) {
        let place = usize::from(u16::from_le_bytes([edit[0], edit[1]])) % bytes.len();
        bytes[place] = edit[2];
    }
    if *cut > 200 {
        bytes.truncate(bytes.len() * usize::from(*cut - 200) / 56);
    }
    bytes
}

fuzz_target!(|edits: &[u8]| {
    let bytes = changed(edits);
    if let Ok(pack) = Pack::check(&bytes, PackHash([0; 32])) {
        for step in pack.all_steps() {
            assert_eq!(pack.placed(step.id).map(|(found, _)| found.id), Some(step.id));
            let _ = pack.needs(step.needs).count() + pack.listed(step.voids).count();
            let _ = pack.value_of(step.id);
        }
        let _ = pack.fitness_needs().count() + pack.events().count() + pack.dues().count();
    }
    match PackFile::from_bytes(bytes) {
        Ok(file) => {
            let texts = file.texts();
            let _ = (0..file.pack().head().texts).map(|n| texts.get(TextId(n)).len()).sum::<usize>();
        }
        Err(_) => assert!(!edits.is_empty(), "the pack without a change is refused"),
    }
});
