//! Why a command did not do what it was asked, and the exit code that says so.

use std::fmt;
use std::process::ExitCode;

use offshed_core::reason::Why;
use offshed_core::words;
use offshed_depot::folder::FolderFault;
use offshed_depot::shed::Denial;

/// Exit codes, as documented in the help.
pub(crate) mod code {
    /// The rules refuse it.
    pub(crate) const REFUSED: u8 = 1;
    /// The command line is wrong, or asks for a window where there is no display.
    pub(crate) const USAGE: u8 = 2;
    /// A file given is not right, or an id in it is not known.
    pub(crate) const INPUT: u8 = 3;
    /// The data folder can't be read or written.
    pub(crate) const FOLDER: u8 = 4;
    /// A PIN is missing or wrong.
    pub(crate) const PIN: u8 = 5;
    /// Verification found something.
    pub(crate) const FOUND: u8 = 6;
}

/// A command that failed.
#[derive(Debug)]
pub(crate) struct Fault {
    /// The exit code.
    pub(crate) code: u8,
    /// Stable key for machine readers.
    pub(crate) key: &'static str,
    /// What is wrong, where, and what to do.
    pub(crate) words: String,
}

impl Fault {
    /// A file or id given is not right.
    pub(crate) fn input(words: impl fmt::Display) -> Fault {
        Fault { code: code::INPUT, key: "input", words: words.to_string() }
    }

    /// No window can be opened here.
    pub(crate) fn window(words: impl fmt::Display) -> Fault {
        Fault { code: code::USAGE, key: "window", words: words.to_string() }
    }

    /// A PIN is missing or wrong.
    pub(crate) fn pin(words: impl fmt::Display) -> Fault {
        Fault { code: code::PIN, key: "pin", words: words.to_string() }
    }

    /// The data folder.
    pub(crate) fn folder(words: impl fmt::Display) -> Fault {
        Fault { code: code::FOLDER, key: "folder", words: words.to_string() }
    }

    /// The rules refuse it; `sentence` says why.
    pub(crate) fn refused(why: &Why, sentence: String) -> Fault {
        Fault { code: code::REFUSED, key: words::key(why), words: sentence }
    }

    /// What a denial is, where `sentence` puts a refusal in words.
    pub(crate) fn denied(denial: Denial, sentence: impl FnOnce(&Why) -> String) -> Fault {
        match denial {
            Denial::Refused(why) => Fault::refused(&why, sentence(&why)),
            Denial::Folder(fault) => Fault::folder(fault),
            Denial::Pack(fault) => Fault::input(fault),
            Denial::Exhausted => Fault::folder(
                "this device's count of entries is used up: give the folder a new identity (`offshed identity`)",
            ),
            Denial::Unwritable => Fault::input("the entry is longer than a record may be"),
        }
    }

    /// Writes the fault to standard error, as JSON where asked.
    pub(crate) fn report(&self, json: bool) {
        if json {
            let fault = serde_json::json!({ "error": { "code": self.code, "key": self.key, "words": self.words } });
            anstream::eprintln!("{fault}");
        } else {
            let label = if self.code == code::REFUSED { "refused" } else { "error" };
            anstream::eprintln!("{label}: {}", self.words);
        }
    }

    /// The process's exit code.
    pub(crate) fn exit_code(&self) -> ExitCode {
        ExitCode::from(self.code)
    }
}

impl From<FolderFault> for Fault {
    fn from(fault: FolderFault) -> Fault {
        Fault::folder(fault)
    }
}
