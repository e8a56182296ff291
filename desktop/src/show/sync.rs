//! An exchange as text.

use offshed_depot::sync::{Carried, SyncReport};
use serde::Serialize;

/// What was exchanged.
#[derive(Debug, Serialize)]
pub(crate) struct SyncView {
    exchanged: Vec<String>,
    findings: Vec<String>,
}

/// As data.
pub(crate) fn view(report: &SyncReport) -> SyncView {
    SyncView {
        exchanged: exchanged(report, "the other"),
        findings: report.findings.iter().map(ToString::to_string).collect(),
    }
}

/// What came into each side, a line each; the second side is called `other`.
pub(super) fn exchanged(report: &SyncReport, other: &str) -> Vec<String> {
    lines("this folder", &report.into_first).chain(lines(other, &report.into_second)).collect()
}

fn lines<'a>(side: &'a str, carried: &'a Carried) -> impl Iterator<Item = String> + 'a {
    let books = carried.books.iter();
    let books =
        books.map(move |b| format!("into {side}: {} entries of device {} ({} bytes)", b.entries, b.device, b.bytes));
    books.chain(carried.packs.iter().map(move |p| format!("into {side}: pack {p}")))
}

/// As text.
pub(crate) fn text(view: &SyncView) -> String {
    let mut out = String::new();
    if view.exchanged.is_empty() {
        out.push_str("nothing was missing on either side\n");
    }
    out.extend(view.exchanged.iter().map(|line| format!("{line}\n")));
    out.extend(view.findings.iter().map(|line| format!("warning: {line}\n")));
    out
}
