//! A model to the bytes of a pack file: head, tables of rules, then the words and the ids.
//!
//! Runs of rows that are alike (limits, lists of voids, needs, parts) stand in their table once.

mod tables;
mod words;

use offshed_core::ident::PackHash;
use offshed_core::limits::PACK_RULES_BYTES;
use offshed_core::pack::layout::{self, Directory, HEAD, Head, Place};
use offshed_core::pack::rows::{Row, Span};
use sha2::{Digest, Sha256};

use super::model::{Model, Role};
use crate::packfile::{IDS, PackFile};
use tables::Tables;
use words::Words;

/// A pack file's bytes and their SHA-256.
#[derive(Clone, Debug)]
pub(super) struct Emitted {
    pub(super) bytes: Vec<u8>,
    pub(super) hash: PackHash,
}

/// Why no bytes were made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Unfit {
    /// More bytes of rules than a handheld keeps.
    Rules(usize),
    /// More texts than can be numbered.
    Texts(usize),
    /// The bytes are not what the core takes for a pack: a fault of this module.
    Internal(String),
}

/// Writes a model.
pub(super) fn emit(model: &Model) -> Result<Emitted, Unfit> {
    let mut tables = Tables::default();
    for text in [&model.id, &model.title, &model.edition, &model.caution, &model.low_water] {
        tables.words.add(&[(text, "")]);
    }
    let fitness = tables.fill(model);
    let mut rules = Rules { bytes: vec![0; HEAD], directory: Directory::default(), next: 0 };
    tables.write(&mut rules);
    finish(model, rules, &tables.words, fitness)
}

fn finish(model: &Model, rules: Rules, words: &Words, fitness: Span) -> Result<Emitted, Unfit> {
    let Rules { mut bytes, directory, .. } = rules;
    let len = bytes.len();
    if len > PACK_RULES_BYTES {
        return Err(Unfit::Rules(len));
    }
    let texts = u16::try_from(words.len()).ok().filter(|n| *n < u16::MAX).ok_or(Unfit::Texts(words.len()))?;
    let head = Head {
        rules_len: u32::try_from(len).unwrap_or(u32::MAX),
        texts,
        fitness,
        steam: model.role(Role::Steam),
        away: model.role(Role::Away),
        unattended: model.role(Role::Unattended),
        defects_cleared_by: model.defects_cleared_by,
        restricted_by: model.restricted_by,
    };
    layout::write_head(&head, &directory, &mut bytes);
    words.block(&model.language, false, &mut bytes);
    words.block(IDS, true, &mut bytes);
    let hash = PackHash(Sha256::digest(&bytes).into());
    PackFile::from_bytes(bytes.clone()).map_err(|fault| Unfit::Internal(fault.to_string()))?;
    Ok(Emitted { bytes, hash })
}

/// The rules part as it grows, table after table in the order of the directory.
struct Rules {
    bytes: Vec<u8>,
    directory: Directory,
    next: usize,
}

impl Rules {
    fn table<R: Row>(&mut self, rows: &[R]) {
        if let Some(place) = self.directory.get_mut(self.next) {
            // What does not fit 16 bits makes the rules longer than they may be, and is refused as such.
            let short = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
            *place = Place { offset: short(self.bytes.len()), rows: short(rows.len()) };
        }
        self.next += 1;
        for row in rows {
            let start = self.bytes.len();
            self.bytes.resize(start + R::WIDTH, 0);
            row.write(self.bytes.get_mut(start..).unwrap_or(&mut []));
        }
    }
}
