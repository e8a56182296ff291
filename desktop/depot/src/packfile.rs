//! A compiled pack file in memory: bytes, hash, rules checked once, words by language.

use std::fmt;

use offshed_core::ident::PackHash;
use offshed_core::pack::layout::{self, HeadFault};
use offshed_core::pack::{Checked, Pack, PackFault, SliceTexts, layout::text};
use sha2::{Digest, Sha256};

/// The name of the texts block that holds ids instead of words: for machines and scripts.
pub const IDS: &str = "id";

/// A checked pack with its bytes.
#[derive(Clone)]
pub struct PackFile {
    bytes: Vec<u8>,
    rules: usize,
    checked: Checked,
    language: String,
}

/// Why bytes are no pack file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PackFileFault {
    /// The rules are not sound.
    Rules(PackFault),
    /// The words are not there, or damaged.
    Texts,
    /// The bytes are not those the name promises.
    Hash {
        /// The hash wanted.
        want: PackHash,
        /// The hash of the bytes.
        got: PackHash,
    },
}

impl fmt::Display for PackFileFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PackFileFault::Rules(PackFault::Head(HeadFault::NotAPack)) => write!(f, "not a compiled pack"),
            PackFileFault::Rules(PackFault::Head(HeadFault::Version { found })) => {
                write!(f, "a pack of format {found}; this program reads format {}", layout::VERSION)
            }
            PackFileFault::Rules(PackFault::Head(HeadFault::Short { want, got })) => {
                write!(f, "cut short: {got} bytes of {want}; copy the pack file again")
            }
            PackFileFault::Rules(PackFault::TooLong { got, most }) => {
                write!(f, "{got} bytes of rules; a handheld keeps {most}")
            }
            PackFileFault::Rules(PackFault::Row { table, row, fault }) => {
                write!(f, "damaged: table {table:?}, row {row}: {fault:?}; copy or build the pack file again")
            }
            PackFileFault::Texts => write!(f, "its words are missing or damaged; copy or build the pack file again"),
            PackFileFault::Hash { want, got } => {
                write!(f, "its bytes hash to {got}, not {want}; copy the pack file again")
            }
        }
    }
}

impl std::error::Error for PackFileFault {}

impl fmt::Debug for PackFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PackFile({}, {} bytes)", self.hash(), self.bytes.len())
    }
}

impl PackFile {
    /// Checks bytes and keeps them.
    ///
    /// # Errors
    /// When rules or words are not sound.
    pub fn from_bytes(bytes: Vec<u8>) -> Result<PackFile, PackFileFault> {
        let hash = PackHash(Sha256::digest(&bytes).into());
        let checked = Pack::check(&bytes, hash).map_err(PackFileFault::Rules)?.checked();
        let rules = Pack::reopen(&bytes, checked).head().rules_len as usize;
        let texts = bytes.get(rules..).unwrap_or(&[]);
        let language = SliceTexts::languages(texts).find(|l| *l != IDS).ok_or(PackFileFault::Texts)?.to_owned();
        let count = usize::from(Pack::reopen(&bytes, checked).head().texts);
        let whole = |l: &str| SliceTexts::open(texts, l).is_some_and(|t| t.len() == count);
        if !whole(&language) || !whole(IDS) {
            return Err(PackFileFault::Texts);
        }
        Ok(PackFile { bytes, rules, checked, language })
    }

    /// The rules.
    pub fn pack(&self) -> Pack<'_> {
        Pack::reopen(&self.bytes, self.checked)
    }

    /// SHA-256 of the file.
    pub fn hash(&self) -> PackHash {
        self.pack().hash()
    }

    /// The file's bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The words in the pack's first language.
    pub fn texts(&self) -> SliceTexts<'_> {
        self.block(&self.language)
    }

    /// The ids of steps, sequences, grades and so on, each in the place of its name.
    pub fn ids(&self) -> SliceTexts<'_> {
        self.block(IDS)
    }

    fn block(&self, language: &str) -> SliceTexts<'_> {
        let texts = self.bytes.get(self.rules..).unwrap_or(&[]);
        // Both blocks were there when the file was checked.
        SliceTexts::open(texts, language).unwrap_or_default()
    }

    /// The pack's title and edition.
    pub fn title(&self) -> String {
        let texts = self.texts();
        format!("{} ({})", texts.get(text::TITLE), texts.get(text::EDITION))
    }
}
