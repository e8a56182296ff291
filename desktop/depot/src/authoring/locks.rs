//! The locking table: every step, what it waits for, and why.

use std::fmt;

use serde::Serialize;

use super::model::{Goal, Model, Need};
use super::prove::{NeedRef, Proofs, Wanted};
use super::wording;

/// Columns of the table as text.
const WIDTH: usize = 100;

/// One requirement.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LockNeed {
    /// What must hold, in words.
    pub needs: String,
    /// Obligations that break without it: "`light-up` never without `crown` alive".
    pub serves: Vec<String>,
    /// The author's reason, if one is given.
    pub because: Option<String>,
    /// No obligation breaks without it: others imply it.
    pub implied: bool,
}

/// One step, or fitness.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LockRow {
    /// The id of its sequence; empty for fitness.
    pub sequence: String,
    /// Its id, or "fitness".
    pub step: String,
    /// Its title.
    pub title: String,
    /// What it waits for.
    pub needs: Vec<LockNeed>,
}

/// The locking table of a pack.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LockTable {
    /// The pack's title.
    pub pack: String,
    /// Its edition.
    pub edition: String,
    /// Steps in order, then fitness.
    pub rows: Vec<LockRow>,
}

/// Makes the locking table of a proved model.
pub fn locking_table(model: &Model, proofs: &Proofs) -> LockTable {
    let step_row = |(sequence, step): (&super::model::Sequence, &super::model::Step)| LockRow {
        sequence: sequence.id.clone(),
        step: step.id.clone(),
        title: step.title.clone(),
        needs: needs(model, proofs, Goal::Step(step.number), &step.needs),
    };
    let mut rows: Vec<LockRow> = model.steps().map(step_row).collect();
    rows.push(LockRow {
        sequence: String::new(),
        step: "fitness".to_owned(),
        title: "Fit to leave".to_owned(),
        needs: needs(model, proofs, Goal::Fitness, &model.fitness),
    });
    LockTable { pack: model.title.clone(), edition: model.edition.clone(), rows }
}

fn needs(model: &Model, proofs: &Proofs, owner: Goal, needs: &[Need]) -> Vec<LockNeed> {
    let row = |(n, need): (usize, &Need)| {
        let at = NeedRef { owner, need: n };
        let breaks = proofs.matters.iter().find(|m| m.need == at).map_or(&[][..], |m| &m.breaks);
        LockNeed {
            needs: wording::need(model, need),
            serves: breaks.iter().filter_map(|item| serves(model, proofs, *item)).collect(),
            because: need.because.clone(),
            implied: breaks.is_empty(),
        }
    };
    needs.iter().enumerate().map(row).collect()
}

/// One item of an obligation in words.
fn serves(model: &Model, proofs: &Proofs, item: usize) -> Option<String> {
    let item = proofs.items.get(item)?;
    let goal = model.goal_id(item.goal);
    Some(match item.wanted {
        Wanted::Fresh(step) => format!("`{goal}` never without `{}` alive", model.step_id(step)),
        Wanted::After(step) => format!("`{goal}` never before `{}`", model.step_id(step)),
        Wanted::Holds(n) => {
            let need = model.obligations.get(item.obligation)?.holds.get(n)?;
            format!("`{goal}` never unless {}", wording::need(model, need))
        }
    })
}

/// Requirements that others imply, each with the reason it stands for all that.
pub(super) fn implied(model: &Model, proofs: &Proofs) -> Vec<String> {
    let line = |at: NeedRef| {
        let need = model.needs(at.owner).get(at.need)?;
        let because = need.because.as_deref().unwrap_or("no reason given");
        Some(format!("{}: {} ({because})", model.goal_id(at.owner), wording::need(model, need)))
    };
    proofs.implied().filter_map(line).collect()
}

impl fmt::Display for LockTable {
    /// Text for a terminal, at most 100 columns wide.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Locking table: {} ({})", self.pack, self.edition)?;
        let mut sequence = None;
        for row in &self.rows {
            if sequence != Some(&row.sequence) {
                sequence = Some(&row.sequence);
                let name = if row.sequence.is_empty() { "engine" } else { &row.sequence };
                writeln!(f, "\n{name}")?;
            }
            write_row(f, row)?;
        }
        Ok(())
    }
}

fn write_row(f: &mut fmt::Formatter<'_>, row: &LockRow) -> fmt::Result {
    wrapped(f, 2, 4, &format!("{}: {}", row.step, row.title))?;
    if row.needs.is_empty() {
        return writeln!(f, "    always open");
    }
    for need in &row.needs {
        wrapped(f, 4, 6, &format!("- {}", need.needs))?;
        for served in &need.serves {
            wrapped(f, 8, 10, &format!("so that {served}"))?;
        }
        if let Some(because) = &need.because {
            wrapped(f, 8, 10, &format!("because: {because}"))?;
        }
        if need.implied {
            writeln!(f, "        implied by others")?;
        }
    }
    Ok(())
}

/// Writes words in lines of at most [`WIDTH`] columns; a single word that is longer stands on a line of its own.
fn wrapped(f: &mut fmt::Formatter<'_>, first: usize, rest: usize, text: &str) -> fmt::Result {
    let mut column = first;
    write!(f, "{:first$}", "")?;
    for (n, word) in text.split_whitespace().enumerate() {
        let width = word.chars().count();
        if n > 0 && column + 1 + width > WIDTH {
            write!(f, "\n{:rest$}", "")?;
            column = rest;
        } else if n > 0 {
            write!(f, " ")?;
            column += 1;
        }
        write!(f, "{word}")?;
        column += width;
    }
    writeln!(f)
}
