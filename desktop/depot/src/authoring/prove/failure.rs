//! Why an obligation is not proved, and the words for it.

use super::super::model::{Goal, Model};
use super::super::wording;
use super::{Ending, Item, Outlives, Wanted};

/// Why an item is not proved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    /// What is open.
    pub gap: Gap,
    /// Steps and events, in order, that lead to the goal.
    pub path: Vec<String>,
}

/// What is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gap {
    /// The goal is reached along the path without what is wanted.
    Reached,
    /// The goal asks for a proof that would outlive the one that is wanted.
    Outlived(Outlives),
    /// Nothing the goal asks for makes sure of it at that moment; what might end it, if anything.
    NotAsked(Option<Ending>),
    /// The goal does not itself ask for the condition, or less strictly.
    NotHeld,
}

impl Failure {
    /// What is wrong, in a sentence, and the cure.
    pub(in crate::authoring) fn words(&self, model: &Model, item: &Item) -> (String, String) {
        let goal = model.goal_id(item.goal);
        let wanted = wanted(model, item);
        let path = self.path.join(", ");
        let way = |extra: String| {
            let (last, before) = self.path.split_last().map_or((goal.as_str(), &[][..]), |(l, b)| (l.as_str(), b));
            let (last, before) =
                if item.goal == Goal::Fitness { ("fitness", self.path.as_slice()) } else { (last, before) };
            [before.join(", "), extra, last.to_owned()]
                .into_iter()
                .filter(|s| !s.is_empty())
                .collect::<Vec<_>>()
                .join(", ")
        };
        let ask = format!("add `{{ {wanted} }}` to the needs of `{goal}`, or correct the obligation");
        match self.gap {
            Gap::Reached => {
                let path = if path.is_empty() { "nothing at all".to_owned() } else { path };
                let what = format!("`{goal}` is reached without `{}`: {path}", short(model, item));
                (what, "ask for it on that way, or correct the obligation".to_owned())
            }
            Gap::Outlived(Outlives { bearer, ending }) => {
                let (id, bearer) = (short(model, item), model.step_id(bearer));
                let ends = ended(model, ending, &id);
                let what = format!(
                    "`{id}` is not sure to be alive at `{goal}`: the proof of `{bearer}` outlives it: {}",
                    way(ends)
                );
                (what, format!("{ask}, or let what ends `{id}` end `{bearer}` as well"))
            }
            Gap::NotAsked(ending) => {
                let id = short(model, item);
                let ends = ending.map(|e| ended(model, e, &id)).unwrap_or_default();
                let what =
                    format!("`{id}` is not sure to be alive at `{goal}`: nothing asks for it there: {}", way(ends));
                (what, ask)
            }
            Gap::NotHeld => {
                let what = format!("`{goal}` does not itself ask, as strictly, that {wanted}: {path}");
                (what, format!("add the rule to the needs of `{goal}`, or correct the obligation"))
            }
        }
    }
}

/// The id of the step that an item is about; the rule in words where it is about none.
fn short(model: &Model, item: &Item) -> String {
    match item.wanted {
        Wanted::Fresh(step) | Wanted::After(step) => model.step_id(step),
        Wanted::Holds(_) => wanted(model, item),
    }
}

/// What an item wants, in words.
pub(in crate::authoring) fn wanted(model: &Model, item: &Item) -> String {
    match item.wanted {
        Wanted::Fresh(step) => format!("fresh = \"{}\"", model.step_id(step)),
        Wanted::After(step) => format!("after = \"{}\"", model.step_id(step)),
        Wanted::Holds(n) => {
            let need = model.obligations.get(item.obligation).and_then(|o| o.holds.get(n));
            need.map_or_else(String::new, |need| wording::need(model, need))
        }
    }
}

fn ended(model: &Model, ending: Ending, id: &str) -> String {
    match ending {
        Ending::Lapse { seconds } => format!("(`{id}` lapses after {})", wording::time(seconds)),
        Ending::EndOfDay => format!("(`{id}` ends with its day)"),
        Ending::Step(step) => format!("({} takes `{id}` away)", model.step_id(step)),
        Ending::Event(event) => format!("(event {} takes `{id}` away)", model.event_id(event)),
        Ending::NextSheet(sequence) => {
            let sequence = model.sequences.iter().find(|s| s.number == sequence).map_or("", |s| s.id.as_str());
            format!("(the next sheet of {sequence} is opened, which ends `{id}`)")
        }
        Ending::SentBack(review) => format!("({} sends the sheet back, which ends `{id}`)", model.step_id(review)),
    }
}
