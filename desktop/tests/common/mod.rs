//! Running the program as a person does, and looking at what a data folder holds.

// Each test program uses a part of this.
#![allow(dead_code, unreachable_pub)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The program with a data folder, in no terminal and with nobody to ask.
pub fn offshed(folder: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_offshed"));
    command.env_remove("OFFSHED_PIN").env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY").env_remove("WAYLAND_SOCKET");
    command.env("OFFSHED_FOLDER", folder).args(args);
    command.stdin(std::process::Stdio::null()).output().expect("the program starts")
}

/// What it wrote to standard output, when it ended well.
#[track_caller]
pub fn ok(folder: &Path, args: &[&str]) -> String {
    let output = offshed(folder, args);
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

/// Its exit code and what it wrote to standard error.
pub fn fails(folder: &Path, args: &[&str]) -> (i32, String) {
    let output = offshed(folder, args);
    (output.status.code().unwrap_or(-1), String::from_utf8_lossy(&output.stderr).into_owned())
}

/// Every file beneath a folder with its bytes.
pub fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut waiting = vec![folder.to_owned()];
    while let Some(next) = waiting.pop() {
        for item in fs::read_dir(next).expect("a folder").map(|item| item.expect("an item").path()) {
            if item.is_dir() {
                waiting.push(item);
            } else {
                let bytes = fs::read(&item).expect("a file");
                found.insert(item, bytes);
            }
        }
    }
    found
}

/// The repository's root.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}
