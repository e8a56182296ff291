//! What may be done now, and why the rest may not.

use offshed_depot::views::{SheetView, StepView};
use serde::Serialize;

use super::sheet::sign;
use super::{BOLD, MIND, styled, wrapped};

/// What may be done now on a sheet.
#[derive(Debug, Serialize)]
pub(crate) struct NowView {
    /// The sheet.
    pub(crate) sheet: String,
    /// In words.
    pub(crate) title: String,
    /// What may be answered now.
    pub(crate) open: Vec<StepView>,
    /// What waits, and why.
    pub(crate) waiting: Vec<StepView>,
    /// How many steps are proven.
    pub(crate) proven: usize,
    /// Of how many.
    pub(crate) steps: usize,
}

/// Sorts a sheet's steps into open and waiting.
pub(crate) fn view(sheet: SheetView) -> NowView {
    let steps = sheet.stages.into_iter().flat_map(|s| s.steps);
    let (mut open, mut waiting) = (Vec::new(), Vec::new());
    for step in steps {
        match step.state {
            "open" | "under-way" | "lapsed" | "not-right" => open.push(step),
            "waiting" => waiting.push(step),
            _ => {}
        }
    }
    let title = format!("{} of No. {}", sheet.title, sheet.engine);
    NowView { sheet: sheet.sheet, title, open, waiting, proven: sheet.proven, steps: sheet.steps }
}

/// As text.
pub(crate) fn text(view: &NowView) -> String {
    let mut out = format!("{}  {} of {} steps proven\n", styled(BOLD, &view.title), view.proven, view.steps);
    out.push_str(&format!("\n{}\n", styled(BOLD, "MAY BE DONE NOW")));
    if view.open.is_empty() {
        out.push_str("  nothing\n");
    }
    for step in &view.open {
        out.push_str(&open(step));
    }
    out.push_str(&format!("\n{}\n", styled(BOLD, "WAITS")));
    for step in &view.waiting {
        out.push_str(&wrapped("  [-] ", &format!("{} ({}) waits:", step.title, step.id)));
        for reason in &step.reasons {
            let bullet = if reason.one_of == 0 { "        - " } else { "        - one of: " };
            out.push_str(&wrapped(bullet, &reason.words));
        }
    }
    out
}

fn open(step: &StepView) -> String {
    let (sign, style) = sign(step.state);
    let mut out = wrapped(
        "  ",
        &format!("{} {} ({}), about {} min, {}", styled(style, sign), step.title, step.id, step.minutes, step.by),
    );
    out.push_str(&wrapped("        ", &step.instruction));
    if !step.caution.is_empty() {
        out.push_str(&wrapped("        ", &styled(MIND, &format!("CAUTION: {}", step.caution))));
    }
    out.push_str(&wrapped("        asks: ", &step.asks));
    if let Some(working) = &step.working {
        out.push_str(&super::working(working));
    }
    for reason in &step.reasons {
        out.push_str(&wrapped("        again, since ", &reason.words));
    }
    out
}
