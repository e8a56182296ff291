//! The demo: one day on the Harrow Vale line, which is invented, as are its engines and people.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::reckon::{boiler, road};

/// The device in the running foreman's office.
pub const DEVICE: &str = "office";
/// Local time: an hour ahead in summer.
pub const ZONE: &str = "GMT0BST,M3.5.0/1,M10.5.0";
/// The day, as a script.
pub const SCRIPT: &str = include_str!("../demo/harrow-vale.csv");

/// The practice pack's source files, for the script to compile.
pub const PACK: [(&str, &str); 8] = [
    ("pack.toml", include_str!("../../../core/packs/practice/pack.toml")),
    ("preparation.toml", include_str!("../../../core/packs/practice/preparation.toml")),
    ("disposal.toml", include_str!("../../../core/packs/practice/disposal.toml")),
    ("relief.toml", include_str!("../../../core/packs/practice/relief.toml")),
    ("water-test.toml", include_str!("../../../core/packs/practice/water-test.toml")),
    ("washout.toml", include_str!("../../../core/packs/practice/washout.toml")),
    ("fitness-exam.toml", include_str!("../../../core/packs/practice/fitness-exam.toml")),
    ("standing.toml", include_str!("../../../core/packs/practice/standing.toml")),
];

/// Boilers and road that the script states.
pub const MEASURES: [(&str, &str); 3] = [
    ("boiler-tamsin.toml", boiler::DEMO),
    ("boiler-bramble-down.toml", include_str!("../demo/boiler-bramble-down.toml")),
    ("road-harrow-vale.toml", road::DEMO),
];

/// Writes the script and the practice pack's source into `source/` beneath a data folder, to be read and edited.
///
/// # Errors
/// When they can't be written.
pub fn write_sources(folder: &Path) -> io::Result<PathBuf> {
    let source = folder.join("source");
    fs::create_dir_all(source.join("practice"))?;
    fs::write(source.join("harrow-vale.csv"), SCRIPT)?;
    for (name, text) in MEASURES {
        fs::write(source.join(name), text)?;
    }
    for (name, text) in PACK {
        fs::write(source.join("practice").join(name), text)?;
    }
    Ok(source)
}
