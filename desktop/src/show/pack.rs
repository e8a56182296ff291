//! Packs as text.

use offshed_depot::authoring::Compiled;
use offshed_depot::ledger::Ledger;
use serde::Serialize;

/// What was compiled and proved.
#[derive(Debug, Serialize)]
pub(crate) struct Summary {
    pack: String,
    hash: String,
    sequences: usize,
    steps: usize,
    requirements: usize,
    parts: usize,
    rules_bytes: usize,
    text_bytes: usize,
    obligations_proved: usize,
    implied: Vec<String>,
}

/// Counts a compiled pack.
pub(crate) fn summary(compiled: &Compiled) -> Summary {
    let s = offshed_depot::authoring::summary(compiled);
    Summary {
        pack: s.title,
        hash: format!("{:#}", compiled.hash),
        sequences: s.sequences,
        steps: s.steps,
        requirements: s.needs,
        parts: s.parts,
        rules_bytes: s.rules_bytes,
        text_bytes: s.text_bytes,
        obligations_proved: s.obligations,
        implied: s.implied,
    }
}

/// As text.
pub(crate) fn text(s: &Summary) -> String {
    let mut out = format!(
        "{}: sound\n  {} sequences, {} steps, {} requirements, {} parts of procedures\n  {} bytes of rules, {} bytes of words\n  {} obligations proved; every step and fitness reached by a run through the rules\n  sha-256 {}\n",
        s.pack,
        s.sequences,
        s.steps,
        s.requirements,
        s.parts,
        s.rules_bytes,
        s.text_bytes,
        s.obligations_proved,
        s.hash
    );
    if !s.implied.is_empty() {
        out.push_str("  requirements implied by others:\n");
        out.extend(s.implied.iter().map(|line| format!("    {line}\n")));
    }
    out
}

/// One pack of the folder.
#[derive(Debug, Serialize)]
pub(crate) struct PackLine {
    hash: String,
    title: String,
    adopted: bool,
}

/// All packs of the folder.
pub(crate) fn list(ledger: &Ledger) -> Vec<PackLine> {
    let line = |p: &offshed_depot::packfile::PackFile| PackLine {
        hash: format!("{:#}", p.hash()),
        title: p.title(),
        adopted: ledger.office.adopted == Some(p.hash()),
    };
    ledger.packs().map(line).collect()
}

/// As text.
pub(crate) fn list_text(lines: &[PackLine]) -> String {
    if lines.is_empty() {
        return "no packs: `offshed pack adopt FILE --by PERSON`\n".to_owned();
    }
    let row = |l: &PackLine| {
        format!("{} {}  {}\n", if l.adopted { "adopted" } else { "       " }, l.hash.get(..8).unwrap_or(""), l.title)
    };
    lines.iter().map(row).collect()
}
