//! A verification as text.

use offshed_depot::folder::FolderFinding;
use offshed_depot::ledger::Ledger;
use serde::Serialize;

/// What was found.
#[derive(Debug, Serialize)]
pub(crate) struct VerifyView {
    /// What is wrong, and where.
    pub(crate) findings: Vec<String>,
    entries: usize,
    sheets: usize,
    contested: Vec<String>,
    unjudged: Vec<String>,
}

/// As data.
pub(crate) fn view(findings: &[FolderFinding], ledger: &Ledger) -> VerifyView {
    let contested = ledger.sheets().filter(|s| !s.contested().is_empty());
    VerifyView {
        findings: findings.iter().map(ToString::to_string).collect(),
        entries: ledger.entries().count(),
        sheets: ledger.sheets().count(),
        contested: contested.map(|s| format!("{}: {} contested", s.id, s.contested().len())).collect(),
        unjudged: ledger.unjudged().iter().map(|(s, p)| format!("{s}: pack {p} is not here")).collect(),
    }
}

/// As text.
pub(crate) fn text(view: &VerifyView) -> String {
    let mut out = format!("{} entries, {} sheets\n", view.entries, view.sheets);
    out.extend(view.contested.iter().map(|line| format!("sheet {line}\n")));
    out.extend(view.unjudged.iter().map(|line| format!("sheet {line}: carried, not judged\n")));
    match view.findings.len() {
        0 => out.push_str("every file is whole: chains, counts and checks agree\n"),
        n => out.push_str(&format!("{n} findings\n")),
    }
    out.extend(view.findings.iter().map(|line| format!("  {line}\n")));
    out
}
