//! When one rule, asked at a moment, makes sure of another at the same moment.

use offshed_core::ident::{GradeId, Set, StepId};
use offshed_core::pack::Rule;
use offshed_core::units::{Own, Reading};

use super::super::model::{Goal, Kind, Need};
use super::super::read::above;
use super::net::{Net, steps_of};

/// Where a rule stands: whose it is, which features the engine has, whether it is one of several alternatives.
#[derive(Clone, Copy)]
pub(super) struct Stand {
    pub(super) owner: Goal,
    pub(super) features: Set,
    pub(super) inside_any: bool,
}

impl Net<'_> {
    /// Whether the rule, where it stands, makes sure that `step`'s proof is alive.
    pub(super) fn asks_fresh(&self, rule: Rule, stand: Stand, step: StepId) -> bool {
        let there = |s: StepId| stand.inside_any || !self.may_lack(s, stand.features);
        match rule {
            Rule::Fresh { step: s, .. } | Rule::Within { step: s, .. } => s == step && there(s),
            // Where one does not apply, the other is asked for all the same.
            Rule::Agree { a, b, .. } => there(step) && (step == a || step == b),
            // Where the reading does not apply, nothing is asked for.
            Rule::AtLeast { derived, reading } => there(reading) && there(step) && (step == derived || step == reading),
            _ => false,
        }
    }

    /// Whether requirement `need` of `owner` makes sure of the condition.
    pub(super) fn need_implies(&self, owner: Goal, need: &Need, condition: &Need) -> bool {
        let about = condition.rules.iter().flat_map(|rule| steps_of(*rule)).flatten();
        let own = self.goal_features(owner);
        // A condition of its own about a step that does not apply asks for nothing; among alternatives it never holds.
        let features = if condition.any { own } else { about.fold(own, |set, step| set.union(self.features(step))) };
        let stand = Stand { owner, features, inside_any: need.any };
        let implied = |rule: &Rule| condition.rules.iter().any(|wanted| self.implies(*rule, stand, *wanted));
        !need.rules.is_empty() && need.rules.iter().all(implied)
    }

    /// Whether the grade of the goal itself makes sure of the condition.
    pub(super) fn grade_implies(&self, owner: Goal, condition: &Need) -> bool {
        let Goal::Step(step) = owner else { return false };
        let by = self.node(step).map(|node| node.step.by);
        condition.rules.iter().any(|rule| matches!((rule, by), (Rule::Grade(want), Some(by)) if self.covers(by, *want)))
    }

    /// Whether everybody who may act in `given` may act in `want`.
    fn covers(&self, given: GradeId, want: GradeId) -> bool {
        self.model.holders_of(given).without(self.model.holders_of(want)) == Set::EMPTY
    }

    fn implies(&self, rule: Rule, stand: Stand, wanted: Rule) -> bool {
        let there = |s: StepId| stand.inside_any || !self.may_lack(s, stand.features);
        let applies = steps_of(rule).into_iter().flatten().all(there);
        match (wanted, rule) {
            (Rule::After(step), Rule::After(s) | Rule::Wait { since: s, .. }) => s == step && there(s),
            (Rule::After(step), _) => self.asks_fresh(rule, stand, step),
            (Rule::Fresh { step, within_seconds: Some(most) }, _) => {
                let own = self.node(step).map_or(0, |node| node.step.life_seconds);
                let lives = [own, asked_life(rule, step)].into_iter().filter(|s| *s > 0).min();
                self.asks_fresh(rule, stand, step) && lives.is_some_and(|s| s <= most)
            }
            (Rule::Fresh { step, within_seconds: None }, _) => self.asks_fresh(rule, stand, step),
            (Rule::Within { step, low, high }, Rule::Within { step: s, low: l, high: h }) => {
                let tighter = |want: Option<Reading>, got: Option<Reading>, wrong: fn(Reading, Reading) -> bool| {
                    want.is_none_or(|want| got.is_some_and(|got| comparable(want, got) && !wrong(want, got)))
                };
                s == step && applies && tighter(low, l, above) && tighter(high, h, |want, got| above(got, want))
            }
            (Rule::Agree { a, b, within }, Rule::Agree { a: c, b: d, within: got }) => {
                let same = (a, b) == (c, d) || (a, b) == (d, c);
                same && applies && comparable(within, got) && !above(got, within)
            }
            (Rule::Wait { since, seconds }, Rule::Wait { since: s, seconds: got }) => {
                s == since && applies && got >= seconds
            }
            (Rule::Grade(want), Rule::Grade(got)) | (Rule::With(want), Rule::With(got)) => self.covers(got, want),
            (Rule::Different(step), Rule::DifferentEveryone) => self.answers_on_the_sheet(stand.owner, step),
            (Rule::NoDefect(want), Rule::NoDefect(got)) => got <= want,
            (want, got) => want == got && applies,
        }
    }

    /// Whether "everyone who answered on this sheet" takes in who did `step`: it is of the same sequence, and no review.
    fn answers_on_the_sheet(&self, owner: Goal, step: StepId) -> bool {
        let Goal::Step(owner) = owner else { return false };
        let (Some(owner), Some(node)) = (self.node(owner), self.node(step)) else { return false };
        owner.sequence == node.sequence && node.step.kind != Kind::Signature { review: true }
    }
}

/// The shorter life that a rule asks of a step, seconds; 0: none.
fn asked_life(rule: Rule, step: StepId) -> u32 {
    match rule {
        Rule::Fresh { step: s, within_seconds: Some(seconds) } if s == step => seconds,
        _ => 0,
    }
}

/// A share of a glass and a length of it can be compared only on an engine.
fn comparable(a: Reading, b: Reading) -> bool {
    let base = |r: Reading| r.in_base(r.unit.quantity(), Own::UNKNOWN).is_ok();
    a.unit == b.unit || (base(a) && base(b))
}
