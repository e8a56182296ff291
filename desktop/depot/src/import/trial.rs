//! A copy of a data folder, in which a table is tried before anything is written.

use std::fs;
use std::io;
use std::path::Path;

use tempfile::TempDir;

use super::ImportFault;
use crate::folder::{self, FolderFault};
use crate::shed::Shed;

/// A copy of the folder, open, and what keeps it until it is dropped.
pub(super) fn copy(shed: &Shed) -> Result<(TempDir, Shed), ImportFault> {
    let trial = tempfile::tempdir().map_err(ImportFault::Copy)?;
    let (from, to) = (shed.folder().path(), trial.path());
    copy_files(from, to).map_err(ImportFault::Copy)?;
    for dir in folder::DIRS {
        fs::create_dir_all(to.join(dir)).map_err(ImportFault::Copy)?;
        if from.join(dir).is_dir() {
            copy_files(&from.join(dir), &to.join(dir)).map_err(ImportFault::Copy)?;
        }
    }
    let open: Result<Shed, FolderFault> = Shed::open(to);
    Ok((trial, open?))
}

/// The files of a directory, without those beneath it.
fn copy_files(from: &Path, to: &Path) -> io::Result<()> {
    for item in fs::read_dir(from)? {
        let item = item?;
        if item.file_type()?.is_file() {
            fs::copy(item.path(), to.join(item.file_name()))?;
        }
    }
    Ok(())
}
