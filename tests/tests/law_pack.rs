//! tmp
use offshed_depot::{authoring, reach};
use std::path::Path;
#[test]
fn the_pack_is_sound() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/packs/cfr230");
    let compiled = authoring::compile_folder(&folder)
        .unwrap_or_else(|c| panic!("{}", c.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")));
    let s = authoring::summary(&compiled);
    eprintln!(
        "{} {} {} {} {} {} {:?}",
        s.sequences, s.steps, s.needs, s.parts, s.rules_bytes, s.obligations, s.implied
    );
    let runs = reach::prove(&compiled.bytes).unwrap_or_else(|s| panic!("{s}"));
    eprintln!("{runs:#?}");
}
