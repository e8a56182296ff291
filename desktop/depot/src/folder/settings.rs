//! `folder.toml`: whose data folder this is.

use std::path::Path;

use offshed_core::ident::DeviceId;
use offshed_core::limits::NAME;
use serde::{Deserialize, Serialize};

use super::fault::FolderFault;
use super::files;

/// The format of the folder's files; 0 is unstable.
pub const FORMAT: u16 = offshed_core::record::chain::VERSION;

/// What a data folder says of itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Settings {
    /// The device that writes here.
    pub(crate) device: DeviceId,
    /// What the device is called.
    pub(crate) name: String,
    /// The time zone, by IANA name or POSIX rule.
    pub(crate) zone: String,
}

/// As written.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    format: u16,
    device: String,
    name: String,
    zone: String,
}

/// Only the version, whatever else stands there.
#[derive(Deserialize)]
struct Version {
    format: u16,
}

impl Settings {
    /// Settings with names that can be kept.
    pub(crate) fn new(device: DeviceId, name: &str, zone: &str) -> Result<Settings, FolderFault> {
        let name = fits("device", name)?;
        let zone = fits("zone", zone)?;
        Ok(Settings { device, name, zone })
    }

    /// Reads a folder's settings.
    pub(crate) fn read(root: &Path) -> Result<Settings, FolderFault> {
        if !root.is_dir() {
            return Err(FolderFault::Missing { path: root.to_path_buf() });
        }
        let path = root.join(files::SETTINGS);
        let not_there = || FolderFault::NotAFolder { path: root.to_path_buf() };
        let bytes = files::read(&path)?.ok_or_else(not_there)?;
        let text = std::str::from_utf8(&bytes).map_err(|error| bad(&path, &error))?;
        let Version { format } = toml::from_str(text).map_err(|error| bad(&path, &error))?;
        if format != FORMAT {
            return Err(FolderFault::Version { path, found: format });
        }
        let written: Written = toml::from_str(text).map_err(|error| bad(&path, &error))?;
        let device = files::device(&written.device);
        let device = device.ok_or_else(|| bad(&path, &"\"device\" is not 16 hexadecimal digits"))?;
        Settings::new(device, &written.name, &written.zone)
    }

    /// Writes them, the file as a whole.
    pub(crate) fn write(&self, root: &Path) -> Result<(), FolderFault> {
        let path = root.join(files::SETTINGS);
        let written = Written {
            format: FORMAT,
            device: self.device.to_string(),
            name: self.name.clone(),
            zone: self.zone.clone(),
        };
        let text = toml::to_string(&written).map_err(|error| bad(&path, &error))?;
        let text = format!("# A data folder of offshed. Its records are in journal and books.\n{text}");
        files::replace(&path, text.as_bytes())
    }
}

/// A settings file that can't be understood.
pub(crate) fn bad(path: &Path, why: &dyn std::fmt::Display) -> FolderFault {
    let why = why.to_string().trim_end().to_owned();
    FolderFault::Settings { path: path.to_path_buf(), why }
}

fn fits(of: &'static str, name: &str) -> Result<String, FolderFault> {
    let name = name.trim();
    let why = if name.is_empty() {
        "it is empty".to_owned()
    } else if name.len() > NAME {
        format!("it takes {} bytes, and {NAME} is the most", name.len())
    } else if name.chars().any(char::is_control) {
        "it holds a control character".to_owned()
    } else {
        return Ok(name.to_owned());
    };
    Err(FolderFault::Name { of, why })
}
