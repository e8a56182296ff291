//! A clock that stands in a file: whoever drives the window puts it on, so that a morning passes in minutes.

use std::fs;
use std::path::{Path, PathBuf};

use offshed::clock::Clock;
use offshed_core::stamp::{Now, Stamp};

/// The wall clock in seconds and the steady one in tenths, with a space between.
pub struct FileClock(pub PathBuf);

impl FileClock {
    fn read(&self) -> (i64, u64) {
        let text = fs::read_to_string(&self.0).expect("the clock's file");
        let (wall, steady) = text.split_once(' ').expect("two clocks");
        (wall.parse().expect("seconds"), steady.parse().expect("tenths"))
    }
}

impl Clock for FileClock {
    fn now(&self) -> Now {
        Now::good(Stamp(self.read().0))
    }

    fn tenths(&self) -> u64 {
        self.read().1
    }
}

/// Puts the clock in the file to a moment, at once for whoever reads it.
pub fn put(path: &Path, wall: Stamp, tenths: u64) {
    let part = path.with_extension("part");
    fs::write(&part, format!("{} {tenths}", wall.0)).expect("written");
    fs::rename(part, path).expect("renamed");
}
