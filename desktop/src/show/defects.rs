//! Defects as text.

use offshed_depot::views::DefectView;

use super::{BOLD, styled, wrapped};

/// The list.
pub(crate) fn text(defects: &[DefectView]) -> String {
    if defects.is_empty() {
        return "no defects\n".to_owned();
    }
    defects.iter().map(one).collect()
}

fn one(defect: &DefectView) -> String {
    let state = if defect.open { "OPEN" } else { "cleared" };
    let head = format!("No. {}  {} {}  {}", defect.engine, defect.grade, state, defect.defect);
    let mut out = format!("{}\n", styled(BOLD, &head));
    out.push_str(&wrapped("    ", &format!("{} ({}, {})", defect.words, defect.by, defect.at)));
    for words in defect.restriction.iter().map(|w| format!("restriction: {w}")) {
        out.push_str(&wrapped("    ", &words));
    }
    for words in &defect.cleared {
        out.push_str(&wrapped("    cleared: ", words));
    }
    out
}
