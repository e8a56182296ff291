//! A look at every file of a data folder, for whoever wants to know whether it is sound.

use std::path::Path;

use super::fault::FolderFault;
use super::finding::{FolderFinding, Found};
use super::settings::Settings;
use super::trust::Depth;
use super::{files, gather, journal, packs, pins};

/// Looks at every file of a data folder and tells what is wrong; writes nothing, and needs no settings to do so.
pub fn verify_folder(path: &Path) -> Vec<FolderFinding> {
    let whole = |file: &str, fault: FolderFault| {
        FolderFinding::new(file, None, None, Found::CannotRead { why: fault.to_string() })
    };
    let mut findings = Vec::new();
    let seen = match Settings::read(path).and_then(|settings| journal::look(path, settings.device)) {
        Ok(seen) => Some(seen),
        Err(fault) => {
            findings.push(whole(files::SETTINGS, fault));
            None
        }
    };
    match gather::gather(path, seen, Depth::Every) {
        Ok(gathered) => findings.extend(gathered.findings),
        Err(fault) => findings.push(whole(files::BOOKS, fault)),
    }
    findings.extend(packs::findings(path));
    findings.extend(pins::check_files(path).err().map(|fault| whole(files::PINS, fault)));
    findings
}
