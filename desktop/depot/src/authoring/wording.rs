//! Rules in plain words, for complaints and the locking table.

use offshed_core::ident::{DueId, GradeId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::DefectGrade;

use super::model::{Model, Need};

/// A requirement.
pub(super) fn need(model: &Model, need: &Need) -> String {
    let rules: Vec<String> = need.rules.iter().map(|r| rule(model, *r)).collect();
    match (need.any, rules.as_slice()) {
        (true, [_, _, ..]) => format!("one of: {}", rules.join(" / ")),
        _ => rules.join(", "),
    }
}

/// Seconds in the largest unit that holds them whole.
pub(super) fn time(seconds: u32) -> String {
    let units = [(86_400, "d"), (3_600, "h"), (60, "min")];
    let found = units.into_iter().find(|(size, _)| seconds > 0 && seconds.is_multiple_of(*size));
    found.map_or_else(|| format!("{seconds} s"), |(size, unit)| format!("{} {unit}", seconds / size))
}

fn rule(model: &Model, rule: Rule) -> String {
    let step = |s: StepId| format!("`{}`", model.step_id(s));
    match rule {
        Rule::After(s) => format!("{} was done", step(s)),
        Rule::Fresh { step: s, within_seconds: None } => format!("the proof of {} is alive", step(s)),
        Rule::Fresh { step: s, within_seconds: Some(most) } => {
            format!("the proof of {} is alive and at most {} old", step(s), time(most))
        }
        Rule::Within { step: s, low, high } => match (low, high) {
            (Some(low), Some(high)) => format!("{} reads {low} to {high}", step(s)),
            (Some(low), None) => format!("{} reads at least {low}", step(s)),
            (None, Some(high)) => format!("{} reads at most {high}", step(s)),
            (None, None) => format!("{} reads something", step(s)),
        },
        Rule::Agree { a, b, within } => format!("{} and {} agree within {within}", step(a), step(b)),
        Rule::Wait { since, seconds } => format!("{} have passed since {}", time(seconds), step(since)),
        Rule::AtLeast { reading, derived } => format!("{} is not below {}", step(reading), step(derived)),
        Rule::Grade(g) => format!("the person is {}", grade(model, g)),
        Rule::Different(s) => format!("the person did not do {}", step(s)),
        Rule::DifferentEveryone => "the person answered nothing else on this sheet".to_owned(),
        Rule::With(g) => format!("a second person, {}, is present", grade(model, g)),
        Rule::InDate(due) => format!("`{}` is in date", due_id(model, due)),
        Rule::NoDefect(worst) => format!("no {} is open", defect(worst)),
        Rule::State(state) => format!("the engine is in state `{}`", model.state_id(state)),
        Rule::StateNot(state) => format!("the engine is not in state `{}`", model.state_id(state)),
        Rule::NoTag => "nobody holds a tag".to_owned(),
    }
}

fn defect(worst: DefectGrade) -> &'static str {
    match worst {
        DefectGrade::Note => "defect of any grade",
        DefectGrade::Restricted => "restricted or stopping defect",
        DefectGrade::Stopping => "stopping defect",
    }
}

fn grade(model: &Model, id: GradeId) -> String {
    let found = model.grades.iter().find(|g| g.named.number == id.0);
    found.map_or_else(|| id.to_string(), |g| g.named.id.clone())
}

fn due_id(model: &Model, id: DueId) -> String {
    let found = model.dues.iter().find(|d| d.named.number == id.0);
    found.map_or_else(|| id.to_string(), |d| d.named.id.clone())
}
