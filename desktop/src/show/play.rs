//! A played script as text.

use offshed_depot::script::Report;
use serde::Serialize;

/// What a script did.
#[derive(Debug, Serialize)]
pub(crate) struct PlayView {
    rows: usize,
    entries: usize,
    refused_as_expected: usize,
    lines: Vec<Line>,
}

#[derive(Debug, Serialize)]
struct Line {
    line: u64,
    at: String,
    row: String,
    entries: usize,
    refused: Option<String>,
}

/// As data; `rows` row by row.
pub(crate) fn view(report: &Report, rows: bool) -> PlayView {
    let line = |p: &offshed_depot::script::Played| Line {
        line: p.line,
        at: p.at.clone(),
        row: p.row.clone(),
        entries: p.entries,
        refused: p.refused.clone(),
    };
    PlayView {
        rows: report.rows.len(),
        entries: report.entries(),
        refused_as_expected: report.rows.iter().filter(|r| r.refused.is_some()).count(),
        lines: if rows { report.rows.iter().map(line).collect() } else { Vec::new() },
    }
}

/// As text.
pub(crate) fn text(view: &PlayView) -> String {
    let row = |l: &Line| {
        let told = match &l.refused {
            Some(key) => format!("refused, as it must be: {key}"),
            None if l.entries == 1 => String::new(),
            None => format!("{} entries", l.entries),
        };
        format!("{:>5}  {}  {:<48} {told}\n", l.line, l.at, l.row)
    };
    let mut out: String = view.lines.iter().map(row).collect();
    out.push_str(&format!(
        "played {} rows: {} entries, {} refused as they must be\n",
        view.rows, view.entries, view.refused_as_expected
    ));
    out
}
