//! What every export says of itself: which kind it is, of which moment, under which rules, from which records.

use offshed_core::ident::EngineId;
use offshed_core::pack::layout::text;
use offshed_core::register::Register;
use offshed_core::stamp::Now;
use serde::Serialize;

use super::proof::{Proof, ProofData, Scope, Sources};
use crate::folder::{Folder, FolderFault};
use crate::ledger::Ledger;
use crate::packfile::PackFile;
use crate::views::{self, DateView, DefectView, Moments};

/// The form of JSON exports, in which later versions only add.
pub const FORMAT: &str = "offshed-export";
/// Its version.
pub const VERSION: u32 = 1;

/// What exports are made from.
#[derive(Clone, Copy)]
pub struct Origin<'l> {
    /// What is recorded, folded.
    pub ledger: &'l Ledger,
    /// The folder, which tells in which blocks records stand; `None` names none.
    pub folder: Option<&'l Folder>,
    /// What is damaged or missing in the records, in words: stands on every export.
    pub doubts: &'l [String],
}

/// An export with its head.
#[derive(Clone, Debug, Serialize)]
pub struct Envelope<T> {
    /// [`FORMAT`].
    pub format: &'static str,
    /// [`VERSION`].
    pub version: u32,
    /// `sheet`, `history`, `defects`, `dates`, `water`.
    pub kind: &'static str,
    /// The moment it speaks of, RFC 3339 local.
    pub as_of: String,
    /// The adopted rules.
    pub rules: String,
    /// The caution that belongs to every record.
    pub caution: String,
    /// Which records it was made from.
    pub proof: ProofData,
    /// What was damaged or missing in the records when it was made.
    pub doubts: Vec<String>,
    /// The engine it is about, where it is about one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engine: Option<u16>,
    /// The engine's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engine_name: Option<String>,
    /// What it says.
    pub data: T,
}

impl<T> Envelope<T> {
    /// With the head of a ledger at `now`.
    ///
    /// # Errors
    /// When a book can't be read.
    pub fn new(
        kind: &'static str,
        Origin { ledger, folder, doubts }: Origin<'_>,
        scope: Scope,
        now: Now,
        data: T,
    ) -> Result<Envelope<T>, FolderFault> {
        let sources = folder.map(|folder| Sources::of(ledger, folder, scope)).transpose()?.unwrap_or_default();
        let pack = ledger.adopted();
        let engine = match scope {
            Scope::Engine(id) => Some(id),
            Scope::Sheet(id) => ledger.sheet(id).map(|sheet| sheet.engine),
            Scope::All => None,
        };
        Ok(Envelope {
            format: FORMAT,
            version: VERSION,
            kind,
            as_of: Moments::new(ledger.office.zone()).rfc3339(now.stamp),
            rules: pack.map_or_else(|| "no rules are adopted".to_owned(), PackFile::title),
            caution: pack.map_or("", |p| p.texts().get(text::CAUTION)).to_owned(),
            proof: ProofData::new(&Proof::of(ledger, scope), sources),
            doubts: doubts.to_vec(),
            engine: engine.map(|id| id.0),
            engine_name: engine.and_then(|id| ledger.office.engines.get(&id)).map(|card| card.name.clone()),
            data,
        })
    }
}

/// Every defect of one engine or of all, open ones first, then oldest first.
pub fn defects_data(ledger: &Ledger, engine: Option<EngineId>, now: Now) -> Vec<DefectView> {
    let mut all = views::defects(ledger, engine, false, now.stamp);
    all.sort_by_key(|defect| !defect.open);
    all
}

/// Every date of one engine or of all; what runs out first is first.
pub fn dates_data(ledger: &Ledger, engine: Option<EngineId>, now: Now) -> Vec<DateView> {
    let mut all = views::dates(ledger, now);
    all.retain(|date| engine.is_none_or(|id| date.engine == id.0));
    all
}
