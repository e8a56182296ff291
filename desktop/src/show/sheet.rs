//! A sheet as text, and the list of sheets.

use offshed_depot::views::{SheetLine, SheetView, StepView};

use super::{BOLD, FAINT, ILL, MIND, WELL, styled, wrapped};

/// The list.
pub(crate) fn list(lines: &[SheetLine]) -> String {
    if lines.is_empty() {
        return "no sheets yet: open one with `offshed open ENGINE SEQUENCE --by PERSON`\n".to_owned();
    }
    let row = |l: &SheetLine| {
        let contested = if l.contested == 0 { String::new() } else { format!("  {} contested", l.contested) };
        format!(
            "{:<24} No. {:<4} {:<14} {:<10} opened {}{contested}\n",
            l.sheet, l.engine, l.sequence, l.stage, l.opened
        )
    };
    lines.iter().map(row).collect()
}

/// One sheet.
pub(crate) fn text(view: &SheetView) -> String {
    let title = format!("{} of No. {}", view.title, view.engine);
    let mut out = format!("{}  {}, {} of {} steps proven\n", styled(BOLD, &title), view.stage, view.proven, view.steps);
    out.push_str(&format!(
        "sheet {}, opened {} by {}\nrules: {}\n",
        view.sheet, view.opened, view.opened_by, view.pack
    ));
    for stage in &view.stages {
        out.push_str(&format!("\n{}\n", styled(BOLD, &stage.title)));
        for step in &stage.steps {
            out.push_str(&self::step(step));
        }
    }
    if !view.contested.is_empty() {
        out.push_str(&format!("\n{}\n", styled(MIND, "CONTESTED: to be looked at")));
        for alike in view.contested.chunk_by(|a, b| a.words == b.words) {
            let times = if alike.len() > 1 { format!(" ({} entries)", alike.len()) } else { String::new() };
            out.extend(alike.first().map(|c| wrapped("  ? ", &format!("{}{times}", c.words))));
        }
    }
    out
}

/// A sign for a step's state, different in shape for each.
pub(super) fn sign(state: &str) -> (&'static str, anstyle::Style) {
    match state {
        "proven" => ("[x]", WELL),
        "warned" => ("[w]", MIND),
        "open" => ("[ ]", BOLD),
        "under-way" => ("[>]", BOLD),
        "lapsed" => ("[~]", MIND),
        "not-right" => ("[!]", ILL),
        "skipped" => ("[/]", FAINT),
        "does-not-apply" => ("   ", FAINT),
        _ => ("[-]", FAINT),
    }
}

fn step(step: &StepView) -> String {
    let (sign, style) = sign(step.state);
    let mut line = format!("{} {} ({})", styled(style, sign), step.title, step.id);
    let told = match step.state {
        "proven" | "warned" | "not-right" | "lapsed" | "skipped" => answered(step),
        "does-not-apply" => ": does not apply to this engine".to_owned(),
        "under-way" => format!(": under way, {}", step.asks),
        _ => String::new(),
    };
    line.push_str(&told);
    let mut out = wrapped("  ", &line);
    for reason in &step.reasons {
        let bullet = if reason.one_of == 0 { "        waits: " } else { "        waits, one of: " };
        let bullet = if step.state == "lapsed" { "        " } else { bullet };
        out.push_str(&wrapped(bullet, &reason.words));
    }
    out
}

fn answered(step: &StepView) -> String {
    let word = match step.state {
        "not-right" => "NOT RIGHT",
        "skipped" => "not applicable",
        "warned" => "done, WITH A WARNING",
        "lapsed" => "no longer counts",
        _ => "done",
    };
    let value = step.value.as_ref().map(|v| format!(" {v}")).unwrap_or_default();
    let at = step.at_short.as_deref().unwrap_or("");
    let person = step.person.as_deref().unwrap_or("");
    let until = step.until.as_ref().map(|u| format!(", lives until {u}")).unwrap_or_default();
    format!(": {word}{value}, {at} {person}{until}")
}
