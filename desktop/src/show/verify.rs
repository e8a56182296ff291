//! A verification as text.

use offshed_core::ident::DeviceKey;
use offshed_depot::folder::{FolderFinding, Found};
use offshed_depot::ledger::Ledger;
use serde::Serialize;

/// What was found.
#[derive(Debug, Serialize)]
pub(crate) struct VerifyView {
    /// What is wrong, and where.
    pub(crate) findings: Vec<String>,
    /// Devices whose records count though nobody confirmed their key.
    unknown_keys: Vec<String>,
    /// The key that this device signs with.
    key: Option<String>,
    entries: usize,
    sheets: usize,
    contested: Vec<String>,
    unjudged: Vec<String>,
}

/// As data.
pub(crate) fn view(findings: &[FolderFinding], ledger: &Ledger, key: Option<DeviceKey>) -> VerifyView {
    let contested = ledger.sheets().filter(|s| !s.contested().is_empty());
    let unknown = |finding: &&FolderFinding| matches!(finding.what, Found::UnknownKey { .. });
    VerifyView {
        findings: findings.iter().filter(|finding| !unknown(finding)).map(ToString::to_string).collect(),
        unknown_keys: findings.iter().filter(unknown).map(ToString::to_string).collect(),
        key: key.map(|key| format!("{key:#}")),
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
    out.extend(view.key.iter().map(|key| format!("this device signs with key {}\n", key.get(..16).unwrap_or(key))));
    out.extend(view.unknown_keys.iter().map(|line| format!("key not confirmed: {line}\n")));
    match view.findings.len() {
        0 => out.push_str("every file is whole: chains, counts, checks and signatures agree\n"),
        n => out.push_str(&format!("{n} findings\n")),
    }
    out.extend(view.findings.iter().map(|line| format!("  {line}\n")));
    out
}
