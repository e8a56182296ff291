//! A sheet to be read in two minutes: what is unusual, who signed, what was read, and the rest stage by stage.

use offshed_core::ident::SheetId;
use offshed_core::pack::rows::{Figure, KindRow, StepRow};
use offshed_core::pack::{Pack, slot};
use offshed_core::stamp::Now;
use offshed_core::verdict::Who;

use super::{Case, Oddity, oddities};
use crate::views::{self, StepView};

/// A sheet in the order in which it is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Brief {
    /// The sheet.
    pub sheet: SheetId,
    /// The engine.
    pub engine: u16,
    /// The sequence's title.
    pub title: String,
    /// Steps proven, of all that apply.
    pub proven: usize,
    /// Steps that apply.
    pub steps: usize,
    /// When it was opened, RFC 3339 local.
    pub opened: String,
    /// By whom.
    pub opened_by: String,
    /// What is unusual.
    pub oddities: Vec<Oddity>,
    /// Signatures, in the sequence's order.
    pub signatures: Vec<SignatureLine>,
    /// Readings and figures, in the sequence's order.
    pub readings: Vec<ReadingLine>,
    /// All other steps that were answered, or are still to do, by stage.
    pub stages: Vec<StageLines>,
}

/// A signature.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignatureLine {
    /// What was signed.
    pub title: String,
    /// Who signed; empty: nobody yet.
    pub person: String,
    /// Their grades.
    pub grades: String,
    /// When.
    pub at: String,
    /// The state's key, as in [`StepView::state`].
    pub state: &'static str,
    /// Why it does not count; empty: it does.
    pub why: String,
}

/// A reading or a figure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadingLine {
    /// What was read.
    pub title: String,
    /// The value with its unit.
    pub value: String,
    /// What is right; empty: no limits.
    pub limits: String,
    /// What kind of value it is where it was not read: `worked out`, `a fall of the glass, worked out`; empty: it was read.
    pub worked_out: &'static str,
    /// When.
    pub at: String,
    /// By whom.
    pub person: String,
    /// The state's key, as in [`StepView::state`].
    pub state: &'static str,
}

/// The remaining steps of a stage.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StageLines {
    /// The stage's title.
    pub title: String,
    /// How many are done.
    pub done: usize,
    /// One line a step: its state's key, and its title with when and by whom.
    pub lines: Vec<(&'static str, String)>,
}

/// A sheet's brief with proofs as they stand at `now`; `None` when it or its pack is not here.
pub fn brief(ledger: &crate::ledger::Ledger, id: SheetId, now: Now) -> Option<Brief> {
    let case = Case::of(ledger, id, now)?;
    let view = views::sheet(ledger, id, Who::default(), now)?;
    let pack = case.pack();
    let rows: Vec<StepRow> = pack.steps(case.sheet.sequence).collect();
    let mut all = Brief {
        sheet: id,
        engine: view.engine,
        title: view.title,
        proven: view.proven,
        steps: view.steps,
        opened: view.opened,
        opened_by: view.opened_by,
        oddities: oddities(&case),
        signatures: Vec::new(),
        readings: Vec::new(),
        stages: Vec::new(),
    };
    // The view's steps stand stage by stage in the sequence's order.
    for (n, stage) in view.stages.into_iter().enumerate() {
        let steps = rows.iter().filter(|row| usize::from(row.stage) == n);
        let mut rest = StageLines { title: stage.title, done: 0, lines: Vec::new() };
        for (row, step) in steps.zip(stage.steps).filter(|(_, step)| step.state != "does-not-apply") {
            match row.kind {
                KindRow::Signature { review: false } => all.signatures.push(signature(&case, row, &step)),
                KindRow::Signature { review: true } => {}
                _ if reads(row) && step.value.is_some() && step.state != "skipped" => {
                    all.readings.push(reading(&pack, row, step))
                }
                _ => {
                    rest.done += usize::from(matches!(step.state, "proven" | "warned" | "skipped"));
                    rest.lines.push((step.state, line(&step)));
                }
            }
        }
        if !rest.lines.is_empty() {
            all.stages.push(rest);
        }
    }
    Some(all)
}

/// A value is read or worked out at the step.
fn reads(row: &StepRow) -> bool {
    matches!(row.kind, KindRow::Reading { .. } | KindRow::Figure { .. } | KindRow::Timed { unit: Some(_), .. })
}

fn signature(case: &Case<'_>, row: &StepRow, step: &StepView) -> SignatureLine {
    let by = case.marks().find(|(other, _)| other.id == row.id).map(|(_, mark)| mark.proof.by);
    let grades = by.map_or(String::new(), |by| views::grades(case.ledger, by, case.now));
    SignatureLine {
        title: step.title.clone(),
        person: step.person.clone().unwrap_or_default(),
        grades,
        at: step.at_short.clone().unwrap_or_default(),
        state: step.state,
        why: if step.state == "lapsed" { reasons(step) } else { String::new() },
    }
}

fn reasons(step: &StepView) -> String {
    step.reasons.iter().map(|reason| reason.words.clone()).collect::<Vec<_>>().join("; ")
}

fn reading(pack: &Pack<'_>, row: &StepRow, step: StepView) -> ReadingLine {
    ReadingLine {
        title: step.title,
        value: step.value.unwrap_or_default(),
        limits: limits(pack, row),
        worked_out: worked_out(row),
        at: step.at_short.unwrap_or_default(),
        person: step.person.unwrap_or_default(),
        state: step.state,
    }
}

/// A blowdown is worked out as how far the glass falls, which is never a level.
fn worked_out(row: &StepRow) -> &'static str {
    match row.kind {
        KindRow::Figure { figure: Figure::Blowdown, .. } => "a fall of the glass, worked out",
        KindRow::Figure { .. } => "worked out",
        _ => "",
    }
}

fn limits(pack: &Pack<'_>, row: &StepRow) -> String {
    let (KindRow::Reading { limits, .. } | KindRow::Figure { limits, .. }) = row.kind else { return String::new() };
    match (pack.limit(limits, slot::LOW), pack.limit(limits, slot::HIGH)) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("at least {low}"),
        (None, Some(high)) => format!("at most {high}"),
        (None, None) => String::new(),
    }
}

fn line(step: &StepView) -> String {
    let value = step.value.as_ref().map(|value| format!(" {value}")).unwrap_or_default();
    let by = match (&step.at_short, &step.person) {
        (Some(at), Some(person)) => format!(", {at} {person}"),
        _ => String::new(),
    };
    format!("{}{value}{by}", step.title)
}
