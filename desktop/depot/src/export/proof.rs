//! Which records a paper was made from: a scope, how far each device's records went, and a digest over them. Whoever
//! holds the paper years later can tell whether the book still says the same, whatever was added since.

use std::collections::BTreeMap;
use std::fmt;

use offshed_core::entry::{Entry, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef, SheetId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::head::{Touch, touch};
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::folder::{Folder, FolderFault};
use crate::ledger::Ledger;
use crate::typed;

/// What stands before the first entry in the digest.
const DOMAIN: &[u8] = b"offshed paper 1\n";
/// Fewest hexadecimal digits of a digest that are compared: 64 bits.
const LEAST_DIGITS: usize = 16;

/// The records that a paper is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// One sheet's entries.
    Sheet(SheetId),
    /// Every entry about one engine, facts of the register that name it among them.
    Engine(EngineId),
    /// Every entry.
    All,
}

impl fmt::Display for Scope {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Scope::Sheet(id) => write!(f, "sheet:{id}"),
            Scope::Engine(id) => write!(f, "engine:{id}"),
            Scope::All => f.write_str("all"),
        }
    }
}

impl Scope {
    fn parse(text: &str) -> Option<Scope> {
        match text.split_once(':') {
            None if text == "all" => Some(Scope::All),
            Some(("sheet", id)) => typed::entry_ref(id).map(Scope::Sheet),
            Some(("engine", number)) => number.parse().ok().map(|number| Scope::Engine(EngineId(number))),
            _ => None,
        }
    }

    /// Whether an entry belongs to it. That never changes: it follows from the entry and from those it names.
    pub fn holds(self, ledger: &Ledger, entry: &Entry) -> bool {
        match self {
            Scope::Sheet(id) => entry.sheet() == Some(id),
            Scope::Engine(id) => engine_of(ledger, &entry.what) == Some(id),
            Scope::All => true,
        }
    }
}

/// The engine that an entry is about: as the ledger says, and for a fact of the register the one it states.
pub(super) fn engine_of(ledger: &Ledger, what: &What) -> Option<EngineId> {
    match touch(what) {
        Touch::Engine(engine) => Some(engine),
        _ => ledger.engine_of(what),
    }
}

/// A digest under way.
struct Digester {
    hash: Sha256,
    entries: u64,
    to: BTreeMap<DeviceId, u32>,
}

impl Digester {
    fn new(scope: Scope) -> Digester {
        let mut hash = Sha256::new();
        hash.update(DOMAIN);
        hash.update(format!("{scope}\n"));
        Digester { hash, entries: 0, to: BTreeMap::new() }
    }

    /// An entry's bytes behind their length, two bytes, little end first.
    fn take(&mut self, entry: &Entry) {
        let mut buffer = [0; ENTRY_BYTES];
        // An entry that was read fits its buffer.
        let bytes = entry.encode(&mut buffer).unwrap_or(&[]);
        let length = u16::try_from(bytes.len()).unwrap_or(u16::MAX);
        self.hash.update(length.to_le_bytes());
        self.hash.update(bytes);
        self.entries += 1;
        let last = self.to.entry(entry.at.device).or_default();
        *last = (*last).max(entry.at.seq);
    }

    fn finish(self, scope: Scope) -> Proof {
        let to = self.to.into_iter().map(|(device, seq)| EntryRef { device, seq }).collect();
        Proof { scope, to, entries: self.entries, sha256: self.hash.finalize().into() }
    }
}

/// What a paper was made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proof {
    /// Which records.
    pub scope: Scope,
    /// The last entry of each device among them.
    pub to: Vec<EntryRef>,
    /// How many entries.
    pub entries: u64,
    /// SHA-256 over the scope and the entries, in the merged order (`EXPORTS.md`, "The check line").
    pub sha256: [u8; 32],
}

impl fmt::Display for Proof {
    /// The check line: `sheet:ID to ID,ID sha256 HEX`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to ", self.scope)?;
        for (n, at) in self.to.iter().enumerate() {
            write!(f, "{}{at}", if n == 0 { "" } else { "," })?;
        }
        if self.to.is_empty() {
            f.write_str("none")?;
        }
        write!(f, " sha256 {}", hex(&self.sha256))
    }
}

pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Proof {
    /// Of all entries in a scope.
    pub fn of(ledger: &Ledger, scope: Scope) -> Proof {
        Proof::up_to(ledger, scope, |_| true)
    }

    fn up_to(ledger: &Ledger, scope: Scope, within: impl Fn(EntryRef) -> bool) -> Proof {
        let mut digester = Digester::new(scope);
        let of = ledger.entries().filter(|entry| within(entry.at) && scope.holds(ledger, entry));
        of.for_each(|entry| digester.take(entry));
        digester.finish(scope)
    }
}

/// Where a paper's entries stand in the books.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Sources {
    /// The blocks, device by device.
    pub blocks: Vec<BlockLine>,
    /// Entries in the journal, not yet in a block.
    pub unsealed: u64,
}

/// The blocks of one device that hold a paper's entries.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BlockLine {
    /// The device.
    pub device: String,
    /// What it is called.
    pub device_name: Option<String>,
    /// Numbers of the blocks, each run as first and last.
    pub runs: Vec<(u32, u32)>,
    /// SHA-256 of the head of the last of them; through the chain it vouches for all before it.
    pub last_hash: String,
}

impl BlockLine {
    /// `office (0a0b...), blocks 3 to 5, 9; the last one's hash 9f86...`.
    pub fn words(&self) -> String {
        let run = |(first, last): &(u32, u32)| match first == last {
            true => first.to_string(),
            false => format!("{first} to {last}"),
        };
        let runs: Vec<String> = self.runs.iter().map(run).collect();
        let name = self.device_name.as_ref().map_or(String::new(), |name| format!("{name}, "));
        format!("{name}device {}: blocks {}; the last one's hash {}", self.device, runs.join(", "), self.last_hash)
    }
}

impl Sources {
    /// Of all entries in a scope.
    ///
    /// # Errors
    /// When a book can't be read.
    pub fn of(ledger: &Ledger, folder: &Folder, scope: Scope) -> Result<Sources, FolderFault> {
        let wanted = |at: EntryRef| ledger.entry(at).is_some_and(|entry| scope.holds(ledger, entry));
        let cited = folder.cite(wanted)?;
        let mut blocks: Vec<BlockLine> = Vec::new();
        let mut sealed: BTreeMap<DeviceId, u32> = BTreeMap::new();
        for block in cited {
            let last = sealed.entry(block.device).or_default();
            *last = (*last).max(block.last);
            let device = block.device.to_string();
            match blocks.last_mut().filter(|line| line.device == device) {
                Some(line) => line.take(block.number, block.hash),
                None => {
                    let device_name = ledger.office.devices.get(&block.device).cloned();
                    let (runs, last_hash) = (vec![(block.number, block.number)], hex(&block.hash));
                    blocks.push(BlockLine { device, device_name, runs, last_hash });
                }
            }
        }
        let in_block = |at: EntryRef| sealed.get(&at.device).is_some_and(|last| at.seq <= *last);
        let left = ledger.entries().filter(|entry| !in_block(entry.at) && scope.holds(ledger, entry));
        Ok(Sources { blocks, unsealed: left.count() as u64 })
    }
}

impl BlockLine {
    fn take(&mut self, number: u32, hash: [u8; 32]) {
        match self.runs.last_mut() {
            Some((_, last)) if *last == number => {}
            Some((_, last)) if last.checked_add(1) == Some(number) => *last = number,
            _ => self.runs.push((number, number)),
        }
        self.last_hash = hex(&hash);
    }
}

/// A proof as data.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ProofData {
    /// The check line, for `offshed verify --paper`.
    pub check_line: String,
    /// The scope.
    pub scope: String,
    /// The last entry of each device.
    pub to: Vec<String>,
    /// How many entries.
    pub entries: u64,
    /// The digest, hexadecimal.
    pub sha256: String,
    /// Where they stand in the books.
    #[serde(flatten)]
    pub sources: Sources,
}

impl ProofData {
    /// A proof with where its entries stand.
    pub fn new(proof: &Proof, sources: Sources) -> ProofData {
        ProofData {
            check_line: proof.to_string(),
            scope: proof.scope.to_string(),
            to: proof.to.iter().map(ToString::to_string).collect(),
            entries: proof.entries,
            sha256: hex(&proof.sha256),
            sources,
        }
    }
}

/// A text that is no check line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadPaper {
    /// What is wrong and what to write.
    pub problem: String,
}

impl fmt::Display for BadPaper {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.problem)
    }
}

impl std::error::Error for BadPaper {}

/// How a paper stands to the records.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Checked {
    /// The records that the paper was made from are here, every one, as they were.
    pub agrees: bool,
    /// The scope.
    pub scope: String,
    /// Entries here that the paper should have been made from.
    pub entries: u64,
    /// Entries of the scope that came in since.
    pub since: u64,
    /// Devices whose records do not go as far here as on the paper, by the last entry the paper names.
    pub short: Vec<String>,
    /// The digest of what is here, hexadecimal.
    pub sha256: String,
}

struct Line {
    scope: Scope,
    to: BTreeMap<DeviceId, u32>,
    digits: String,
}

/// Reads a check line; spaces and line breaks inside it do not matter, nor does the case of the digest.
fn parse(text: &str) -> Result<Line, BadPaper> {
    let bad = |problem: String| BadPaper { problem };
    let form = "a check line is \"SCOPE to ENTRY,ENTRY sha256 DIGITS\", as it stands at the foot of the paper";
    let words: Vec<&str> = text.split_whitespace().collect();
    let to = words.iter().position(|word| *word == "to").ok_or_else(|| bad(form.to_owned()))?;
    let sha = words.iter().position(|word| *word == "sha256").filter(|at| *at > to);
    let sha = sha.ok_or_else(|| bad(form.to_owned()))?;
    let joined = |words: Option<&[&str]>| words.unwrap_or(&[]).concat();
    let scope = joined(words.get(..to));
    let scope = Scope::parse(&scope).ok_or_else(|| {
        bad(format!("\"{scope}\" is no scope: it is sheet:ID, engine:NUMBER or all, as it stands on the paper"))
    })?;
    let named = joined(words.get(to + 1..sha));
    let mut heads = BTreeMap::new();
    for name in named.split(',').filter(|name| !name.is_empty() && *name != "none") {
        let at = typed::entry_ref(name)
            .ok_or_else(|| bad(format!("\"{name}\" is no entry: sixteen hexadecimal digits, a hyphen, a count")))?;
        heads.insert(at.device, at.seq);
    }
    let digits = joined(words.get(sha + 1..)).to_ascii_lowercase();
    let hexadecimal = digits.len() <= 64 && digits.chars().all(|c| c.is_ascii_hexdigit());
    if !hexadecimal || digits.len() < LEAST_DIGITS {
        let problem = format!("\"{digits}\": the digest is {LEAST_DIGITS} to 64 hexadecimal digits");
        return Err(bad(problem));
    }
    Ok(Line { scope, to: heads, digits })
}

/// Holds a paper's check line against the records.
///
/// # Errors
/// When the text is no check line.
pub fn check(ledger: &Ledger, text: &str) -> Result<Checked, BadPaper> {
    let Line { scope, to, digits } = parse(text)?;
    let within = |at: EntryRef| to.get(&at.device).is_some_and(|last| at.seq <= *last);
    let here = Proof::up_to(ledger, scope, within);
    let all = ledger.entries().filter(|entry| scope.holds(ledger, entry)).count() as u64;
    let reached = |at: &EntryRef| ledger.entry(*at).is_none();
    let named = to.iter().map(|(device, seq)| EntryRef { device: *device, seq: *seq });
    let sha256 = hex(&here.sha256);
    Ok(Checked {
        agrees: sha256.starts_with(&digits),
        scope: scope.to_string(),
        entries: here.entries,
        since: all.saturating_sub(here.entries),
        short: named.filter(reached).map(|at| at.to_string()).collect(),
        sha256,
    })
}
