//! How this device shows things: theme, text size, density, hand, units. Kept in `screen.toml` in the data folder, which
//! is this device's own; it is no record and is never exchanged.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

/// The file's name.
pub const FILE: &str = "screen.toml";

/// Colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Scheme {
    /// Dark on light.
    #[default]
    Day,
    /// Light on dark.
    Night,
    /// White on black, nothing between.
    Contrast,
}

impl Scheme {
    /// All of them.
    pub const ALL: [Scheme; 3] = [Scheme::Day, Scheme::Night, Scheme::Contrast];

    /// Its key, as written.
    pub fn key(self) -> &'static str {
        match self {
            Scheme::Day => "day",
            Scheme::Night => "night",
            Scheme::Contrast => "contrast",
        }
    }

    /// The scheme with this key.
    pub fn named(key: &str) -> Option<Scheme> {
        Scheme::ALL.into_iter().find(|scheme| scheme.key() == key)
    }
}

/// Which unit stands first where a step takes a reading. What is recorded is always what was read, in its unit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// The pack's.
    #[default]
    Pack,
    /// Millimetres, bar, kilopascals, degrees Celsius, litres.
    Metric,
    /// Inches, pounds to the square inch, inches of mercury, degrees Fahrenheit, gallons.
    Imperial,
}

impl Units {
    /// All of them.
    pub const ALL: [Units; 3] = [Units::Pack, Units::Metric, Units::Imperial];

    /// Its key, as written.
    pub fn key(self) -> &'static str {
        match self {
            Units::Pack => "pack",
            Units::Metric => "metric",
            Units::Imperial => "imperial",
        }
    }

    /// The choice with this key.
    pub fn named(key: &str) -> Option<Units> {
        Units::ALL.into_iter().find(|units| units.key() == key)
    }
}

/// Percent of the usual text size, held between 100 and 200.
pub const TEXT: std::ops::RangeInclusive<u16> = 100..=200;
/// Dots to the inch, held between 60 and 600.
pub const DENSITY: std::ops::RangeInclusive<u16> = 60..=600;

/// How this device shows things.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Screen {
    /// Colours.
    pub scheme: Scheme,
    /// Text size, percent.
    pub text: u16,
    /// Logical dots to the inch: sizes of controls are millimetres.
    pub density: u16,
    /// Answer controls stand on the left.
    pub left_handed: bool,
    /// Which unit stands first.
    pub units: Units,
    /// The shared folder that is exchanged with by itself; empty: none.
    pub shared: String,
    /// An invented day to look round in: its clock goes on from the last entry, not from today.
    pub demonstration: bool,
}

impl Default for Screen {
    fn default() -> Screen {
        Screen {
            scheme: Scheme::Day,
            text: 100,
            density: 160,
            left_handed: false,
            units: Units::Pack,
            shared: String::new(),
            demonstration: false,
        }
    }
}

/// Why the file can't be used.
#[derive(Debug)]
pub struct ScreenFault {
    /// The file.
    pub path: PathBuf,
    /// What is wrong with it.
    pub why: String,
}

impl fmt::Display for ScreenFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "how this device shows things can't be kept in \"{}\": {}", self.path.display(), self.why)
    }
}

impl std::error::Error for ScreenFault {}

impl Screen {
    /// What the data folder at `folder` has; the usual, where it has nothing.
    ///
    /// # Errors
    /// When the file is there and can't be read or understood.
    pub fn read(folder: &Path) -> Result<Screen, ScreenFault> {
        let path = folder.join(FILE);
        if !path.exists() {
            return Ok(Screen::default());
        }
        let fault = |why: String| ScreenFault { path: path.clone(), why };
        let text = fs::read_to_string(&path).map_err(|error| fault(error.to_string()))?;
        let read: Screen = toml::from_str(&text).map_err(|error| fault(error.to_string().trim_end().to_owned()))?;
        Ok(read.held())
    }

    /// Writes the file as a whole, by a temporary one and a rename.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn write(&self, folder: &Path) -> Result<(), ScreenFault> {
        let path = folder.join(FILE);
        let fault = |why: String| ScreenFault { path: path.clone(), why };
        let text = toml::to_string(self).map_err(|error| fault(error.to_string()))?;
        let text = format!("# How this device shows things. No record, and never exchanged.\n{text}");
        let part = tempfile::NamedTempFile::new_in(folder).map_err(|error| fault(error.to_string()))?;
        fs::write(part.path(), text).map_err(|error| fault(error.to_string()))?;
        part.persist(&path).map(drop).map_err(|error| fault(error.to_string()))
    }

    /// With every number within its bounds.
    #[must_use]
    pub fn held(mut self) -> Screen {
        self.text = self.text.clamp(*TEXT.start(), *TEXT.end());
        self.density = self.density.clamp(*DENSITY.start(), *DENSITY.end());
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(Screen::read(folder.path()).unwrap(), Screen::default());
        let mine = Screen {
            scheme: Scheme::Night,
            text: 150,
            units: Units::Imperial,
            shared: "/shed/shared".to_owned(),
            ..Screen::default()
        };
        mine.write(folder.path()).unwrap();
        assert_eq!(Screen::read(folder.path()).unwrap(), mine);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_is_wrong_is_said_and_numbers_are_held() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(FILE), "text = 900\ndensity = 1\n").unwrap();
        let read = Screen::read(folder.path()).unwrap();
        assert_eq!((read.text, read.density), (200, 60));
        fs::write(folder.path().join(FILE), "colour = \"pink\"\n").unwrap();
        let fault = Screen::read(folder.path()).unwrap_err();
        assert!(fault.to_string().contains("colour"), "{fault}");
    }
}
