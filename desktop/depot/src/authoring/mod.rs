//! Pack authoring: a folder of TOML becomes one checked, proved pack file, or complaints that name file, line, key, the
//! fault and its cure.
//!
//! ```text
//! read      TOML to drafts: keys, sorts, ranges, lengths
//! link      drafts to a model: ids to numbers, what one thing says about another
//! prove     order, then obligations, then what each requirement is good for
//! emit      the model to bytes that the core takes
//! locks     the locking table
//! ```
//!
//! Each stage runs only when the one before it had nothing to complain about, and complains about all it finds.

mod complaint;
mod cursor;
mod draft;
mod emit;
mod link;
mod locks;
mod measure;
pub mod model;
mod prove;
mod read;
mod wording;

use std::fs;
use std::path::Path;

use offshed_core::ident::PackHash;
use offshed_core::limits::PACK_RULES_BYTES;

pub use complaint::Complaint;
use complaint::{Complaints, Place};
pub use locks::{LockNeed, LockRow, LockTable, locking_table};
use model::{Kind, Model};
pub use prove::{Ending, Failure, Gap, Item, Matter, NeedRef, Outlives, Proofs, Wanted, prove, requirements};

/// Bytes of the longest source file that is read.
const FILE_BYTES: u64 = 1024 * 1024;

/// One source file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceFile {
    /// Its name, as complaints show it; the head is `pack.toml`.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// A pack that compiled and was proved.
#[derive(Clone, Debug)]
pub struct Compiled {
    /// The pack file.
    pub bytes: Vec<u8>,
    /// SHA-256 of the pack file.
    pub hash: PackHash,
    /// What it was made from.
    pub model: Model,
    /// What was proved.
    pub proofs: Proofs,
}

/// Compiles and proves a pack.
///
/// # Errors
/// Everything the first stage that found something found, in the order of files and lines.
pub fn compile(files: &[SourceFile]) -> Result<Compiled, Vec<Complaint>> {
    let mut files: Vec<(String, String)> = files.iter().map(|f| (f.name.clone(), f.text.clone())).collect();
    files.sort_by_key(|(name, _)| (name != read::HEAD_FILE, name.clone()));
    let names: Vec<String> = files.iter().map(|(name, _)| name.clone()).collect();
    let sink = Complaints::new(names.clone());
    check_files(&names, &sink);
    let draft = read::read(&files, &sink);
    sink.settle()?;
    let model = link::link(draft, names, &sink);
    sink.settle()?;
    let Some(model) = model else { return Err(Vec::new()) };
    prove::check_order(&model, &sink);
    sink.settle()?;
    let proofs = prove(&model);
    say_failures(&model, &proofs, &sink);
    sink.settle()?;
    say_needless(&model, &proofs, &sink);
    sink.settle()?;
    match emit::emit(&model) {
        Ok(emitted) => Ok(Compiled { bytes: emitted.bytes, hash: emitted.hash, model, proofs }),
        Err(unfit) => Err(vec![say_unfit(unfit)]),
    }
}

/// Compiles and proves the `*.toml` files of a folder.
///
/// # Errors
/// As [`compile`], and when the folder or a file can't be read.
pub fn compile_folder(folder: &Path) -> Result<Compiled, Vec<Complaint>> {
    compile(&read_folder(folder)?)
}

fn read_folder(folder: &Path) -> Result<Vec<SourceFile>, Vec<Complaint>> {
    let refuse = |file: String, what: String, cure: &str| Complaint {
        file,
        line: 0,
        column: 0,
        subject: String::new(),
        key: String::new(),
        what,
        cure: cure.to_owned(),
    };
    let listed = fs::read_dir(folder).and_then(Iterator::collect::<Result<Vec<_>, _>>);
    let entries = listed.map_err(|error| {
        let what = format!("can't be read: {error}");
        vec![refuse(folder.display().to_string(), what, "give the folder of the pack's TOML files")]
    })?;
    let (mut files, mut complaints) = (Vec::new(), Vec::new());
    for path in entries.into_iter().map(|entry| entry.path()).filter(|p| p.extension().is_some_and(|e| e == "toml")) {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        match read_file(&path) {
            Ok(text) => files.push(SourceFile { name, text }),
            Err((what, cure)) => complaints.push(refuse(name, what, cure)),
        }
    }
    complaints.sort_by(|a, b| a.file.cmp(&b.file));
    if complaints.is_empty() { Ok(files) } else { Err(complaints) }
}

fn read_file(path: &Path) -> Result<String, (String, &'static str)> {
    let size = fs::metadata(path).map_or(0, |meta| meta.len());
    if size > FILE_BYTES {
        return Err((format!("{size} bytes; at most {FILE_BYTES} are read"), "split it, or take it out of the folder"));
    }
    let bytes = fs::read(path).map_err(|error| (format!("can't be read: {error}"), "make it a readable file"))?;
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes().iter().take(good).filter(|b| **b == b'\n').count() + 1;
        (format!("line {line} is not UTF-8"), "save the file as UTF-8")
    })
}

/// There is a head, and no name twice.
fn check_files(names: &[String], sink: &Complaints) {
    let place = |n: usize| read::whole(u16::try_from(n).unwrap_or(u16::MAX));
    if names.first().map(String::as_str) != Some(read::HEAD_FILE) {
        let at = Place { file: u16::MAX, line: 0, column: 0 };
        sink.say(at, "", "", "the pack has no `pack.toml`", "add the head; AUTHORING.md shows one");
    }
    for (n, pair) in names.windows(2).enumerate() {
        if let [a, b] = pair
            && a == b
        {
            sink.say(place(n + 1), "", "", "given twice", "give each file once");
        }
    }
}

fn say_failures(model: &Model, proofs: &Proofs, sink: &Complaints) {
    for (item, failure) in proofs.failures() {
        let at = model.obligations.get(item.obligation).map(|o| o.at).unwrap_or_default();
        let (what, cure) = failure.words(model, item);
        sink.say(at, &format!("obligation on `{}`", model.goal_id(item.goal)), "", what, cure);
    }
}

/// Requirements that nothing depends on, and that do not say why they stand.
fn say_needless(model: &Model, proofs: &Proofs, sink: &Complaints) {
    for at in proofs.implied() {
        let Some(need) = model.needs(at.owner).get(at.need).filter(|need| need.because.is_none()) else { continue };
        let owner = model.goal_id(at.owner);
        let subject = if owner == "fitness" { owner } else { format!("step `{owner}`") };
        let what = format!("no obligation depends on this requirement: {}", wording::need(model, need));
        sink.say(need.at, &subject, "needs", what, "say why it stands in `because`, or add the obligation");
    }
}

fn say_unfit(unfit: emit::Unfit) -> Complaint {
    let (what, cure) = match unfit {
        emit::Unfit::Rules(bytes) => (
            format!("{bytes} bytes of rules; a handheld keeps {PACK_RULES_BYTES}"),
            "take steps, needs or events out, or make two packs of it",
        ),
        emit::Unfit::Texts(texts) => (format!("{texts} texts; at most 65534 can be numbered"), "make two packs of it"),
        emit::Unfit::Internal(fault) => {
            (format!("internal: the compiled pack is not sound: {fault}"), "this is a fault of the compiler; report it")
        }
    };
    let (subject, key) = ("pack".to_owned(), String::new());
    Complaint { file: read::HEAD_FILE.to_owned(), line: 0, column: 0, subject, key, what, cure: cure.to_owned() }
}

/// What a pack amounts to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Summary {
    /// Title and edition.
    pub title: String,
    /// Sequences.
    pub sequences: usize,
    /// Steps of all of them.
    pub steps: usize,
    /// Requirements; alternatives count as one.
    pub needs: usize,
    /// Parts of procedures.
    pub parts: usize,
    /// Bytes of rules, the head included.
    pub rules_bytes: usize,
    /// Bytes of words and ids.
    pub text_bytes: usize,
    /// Obligations, all proved.
    pub obligations: usize,
    /// Requirements that others imply, each with the reason it stands for all that.
    pub implied: Vec<String>,
}

/// Counts a compiled pack.
pub fn summary(compiled: &Compiled) -> Summary {
    let model = &compiled.model;
    let parts = model.steps().map(|(_, step)| match &step.kind {
        Kind::Procedure(parts) => parts.len(),
        _ => 0,
    });
    let head = offshed_core::pack::layout::read_head(&compiled.bytes);
    let rules_bytes = head.map_or(0, |(head, _)| head.rules_len as usize);
    Summary {
        title: format!("{} ({})", model.title, model.edition),
        sequences: model.sequences.len(),
        steps: model.steps().count(),
        needs: requirements(model).count(),
        parts: parts.sum(),
        rules_bytes,
        text_bytes: compiled.bytes.len().saturating_sub(rules_bytes),
        obligations: model.obligations.len(),
        implied: locks::implied(model, &compiled.proofs),
    }
}
