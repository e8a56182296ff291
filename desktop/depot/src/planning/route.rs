//! Which steps a plan holds, and in which order: found by going back from the step that closes the sheet along the
//! requirements of the pack, one alternative of each group.

use std::collections::BTreeSet;

use offshed_core::ident::{SequenceId, Set, StateId, StepId};
use offshed_core::pack::rows::StepRow;
use offshed_core::pack::{Need, Pack, Rule};

use super::Begun;

/// Which way a boiler is brought into steam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// From cold: of alternatives, the one with a waiting time.
    Cold,
    /// Warm or with a fire in: of alternatives, the one without.
    Warm,
}

/// A waiting time of the pack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Wait {
    /// Row of the step it counts from.
    pub(super) since: usize,
    /// Row of the step that waits.
    pub(super) step: usize,
    /// Seconds.
    pub(super) seconds: u32,
}

/// The steps of one sequence that apply to an engine, and how they stand to each other.
pub(super) struct Route {
    /// Every step that applies, in the order of the sequence.
    pub(super) rows: Vec<StepRow>,
    /// For each, the chosen requirements.
    pub(super) rules: Vec<Vec<Rule>>,
    /// For each, the rows that come before it.
    pub(super) before: Vec<BTreeSet<usize>>,
    /// For each, whether the plan holds it: `Some(true)` where its proof must be alive, `Some(false)` where it is
    /// enough that it was done once.
    held: Vec<Option<bool>>,
    /// The step that lights the fire.
    pub(super) lit: Option<usize>,
    /// Waiting times.
    pub(super) waits: Vec<Wait>,
    /// Proofs that steps of other sequences must bring.
    pub(super) elsewhere: BTreeSet<StepId>,
    /// States that a step wants and no step of the sequence brings.
    pub(super) wanting: BTreeSet<(StepId, StateId)>,
}

/// The steps that a rule names, and whether their proofs must be alive.
fn named(rule: Rule) -> (Vec<StepId>, bool) {
    match rule {
        Rule::After(step) => (vec![step], false),
        Rule::Wait { since, .. } => (vec![since], false),
        Rule::Fresh { step, .. } | Rule::Within { step, .. } => (vec![step], true),
        Rule::Agree { a, b, .. } => (vec![a, b], true),
        Rule::AtLeast { reading, derived } => (vec![reading, derived], true),
        _ => (Vec::new(), false),
    }
}

impl Route {
    /// Finds the route of a sequence on an engine that has `features` and is in the states of `begun`.
    pub(super) fn find(pack: &Pack<'_>, sequence: SequenceId, features: Set, way: Way, begun: &Begun) -> Route {
        let applies = |row: &StepRow| row.applies.is_none_or(|feature| features.has(feature.0));
        let rows: Vec<StepRow> = pack.steps(sequence).filter(applies).collect();
        let chooser = Chooser { pack, features, way, begun };
        let rules: Vec<Vec<Rule>> = rows.iter().map(|row| chooser.chosen(row)).collect();
        let count = rows.len();
        let mut route = Route {
            rows,
            rules,
            before: vec![BTreeSet::new(); count],
            held: vec![None; count],
            lit: None,
            waits: Vec::new(),
            elsewhere: BTreeSet::new(),
            wanting: BTreeSet::new(),
        };
        route.order();
        route.lit = route.lighting(pack);
        route.hold_goals(pack);
        route.settle(begun);
        route.find_waits(begun);
        route.find_elsewhere(pack, features, begun);
        route
    }

    fn place(&self, step: StepId) -> Option<usize> {
        self.rows.iter().position(|row| row.id == step)
    }

    /// Whether the plan holds a row.
    pub(super) fn holds(&self, row: usize) -> bool {
        self.held.get(row).copied().flatten().is_some()
    }

    /// Whether a row is done as far as the plan needs it.
    pub(super) fn done(&self, row: usize, begun: &Begun) -> bool {
        let Some(done) = self.rows.get(row).and_then(|r| begun.steps.get(&r.id)) else { return false };
        done.alive || self.held.get(row).copied().flatten() == Some(false)
    }

    /// Steps that apply and are not done, but that nothing asks for on this way.
    pub(super) fn left_out(&self, begun: &Begun) -> Vec<StepId> {
        let all = self.rows.iter().enumerate();
        let out = all.filter(|(n, row)| !self.holds(*n) && !begun.steps.contains_key(&row.id));
        out.map(|(_, row)| row.id).collect()
    }

    /// Puts each row behind those its requirements name.
    fn order(&mut self) {
        for row in 0..self.rows.len() {
            let steps: Vec<StepId> = self.rules_of(row).iter().flat_map(|rule| named(*rule).0).collect();
            let places: Vec<usize> = steps.into_iter().filter_map(|step| self.place(step)).collect();
            if let Some(before) = self.before.get_mut(row) {
                before.extend(places);
            }
        }
    }

    fn rules_of(&self, row: usize) -> Vec<Rule> {
        self.rules.get(row).cloned().unwrap_or_default()
    }

    /// All rows that come before a row, near or far.
    pub(super) fn ancestors(&self, row: usize) -> BTreeSet<usize> {
        let mut found = BTreeSet::new();
        let mut next = vec![row];
        while let Some(at) = next.pop() {
            for before in self.before.get(at).into_iter().flatten() {
                if found.insert(*before) {
                    next.push(*before);
                }
            }
        }
        found
    }

    /// Whether one step comes after another, near or far.
    pub(super) fn is_after(&self, step: StepId, earlier: StepId) -> bool {
        let places = self.place(step).zip(self.place(earlier));
        places.is_some_and(|(step, earlier)| self.ancestors(step).contains(&earlier))
    }

    /// The last step before steam that changes the engine's states: it lights the fire.
    fn lighting(&self, pack: &Pack<'_>) -> Option<usize> {
        let steam = pack.head().steam?;
        let first = self.rows.iter().position(|row| row.sets.has(steam.0))?;
        let mut next: BTreeSet<usize> = self.before.get(first)?.clone();
        let mut seen = BTreeSet::new();
        while let Some(at) = next.pop_last() {
            let row = self.rows.get(at)?;
            if row.sets != Set::EMPTY {
                return Some(at);
            }
            if seen.insert(at) {
                next.extend(self.before.get(at).into_iter().flatten());
            }
        }
        None
    }

    /// The plan holds what closes the sheet, what fitness asks of this sequence, and what these need.
    fn hold_goals(&mut self, pack: &Pack<'_>) {
        let closing: Vec<usize> =
            (0..self.rows.len()).filter(|n| self.rows.get(*n).is_some_and(|r| r.closes)).collect();
        let asked: Vec<(StepId, bool)> = pack
            .fitness_needs()
            .flat_map(|need| {
                let (steps, alive) = named(need.rule);
                steps.into_iter().map(move |step| (step, alive))
            })
            .collect();
        closing.into_iter().for_each(|row| self.hold(row, true));
        for (step, alive) in asked {
            if let Some(row) = self.place(step) {
                self.hold(row, alive);
            }
        }
    }

    fn hold(&mut self, row: usize, alive: bool) {
        if let Some(held) = self.held.get_mut(row) {
            *held = Some(held.unwrap_or(false) || alive);
        }
    }

    /// Holds what the held steps need, and brings the states they want, until nothing more is found.
    fn settle(&mut self, begun: &Begun) {
        // Each round that changes something holds one more step or one more link; the bound ends what could not.
        for _ in 0..self.rows.len() * 4 {
            let was = (self.held.clone(), self.before.clone());
            self.wanting.clear();
            self.each_open(begun, |route, _, rule| route.hold_named(rule));
            if was.0 == self.held {
                // What brings a state is linked before what takes it away is looked for.
                self.each_open(begun, |route, row, rule| {
                    if let Rule::State(state) = rule {
                        route.bring(row, state, true, begun);
                    }
                });
                self.each_open(begun, |route, row, rule| {
                    if let Rule::StateNot(state) = rule {
                        route.bring(row, state, false, begun);
                    }
                });
            }
            if was == (self.held.clone(), self.before.clone()) {
                return;
            }
        }
    }

    /// Each rule of each step that the plan holds and that is not done.
    fn each_open(&mut self, begun: &Begun, mut act: impl FnMut(&mut Route, usize, Rule)) {
        for row in 0..self.rows.len() {
            if self.holds(row) && !self.done(row, begun) {
                self.rules_of(row).into_iter().for_each(|rule| act(self, row, rule));
            }
        }
    }

    fn hold_named(&mut self, rule: Rule) {
        let (steps, alive) = named(rule);
        let places: Vec<usize> = steps.into_iter().filter_map(|step| self.place(step)).collect();
        places.into_iter().for_each(|place| self.hold(place, alive));
    }

    /// Sees that `state` holds (`wanted`) or does not hold when a row is done.
    fn bring(&mut self, row: usize, state: StateId, wanted: bool, begun: &Begun) {
        let already = begun.states.has(state.0) == wanted;
        let changes = |r: &StepRow, to: bool| if to { r.sets.has(state.0) } else { r.clears.has(state.0) };
        let those = |to: bool| -> Vec<usize> {
            let all = self.rows.iter().enumerate().filter(|(n, r)| *n != row && changes(r, to));
            all.map(|(n, _)| n).filter(|n| !self.done(*n, begun)).collect()
        };
        let (helpers, spoilers) = (those(wanted), those(!wanted));
        let earlier = self.ancestors(row);
        let spoiled: Vec<usize> = spoilers.iter().copied().filter(|n| self.holds(*n) && earlier.contains(n)).collect();
        if !already || !spoiled.is_empty() {
            if let Some(helper) = self.helper(row, &helpers, &spoiled, &earlier) {
                self.hold(helper, true);
                self.link(helper, row);
            } else if let Some(step) = self.rows.get(row) {
                self.wanting.insert((step.id, state));
            }
        }
        for later in spoilers.into_iter().filter(|n| !earlier.contains(n)) {
            if self.holds(later) {
                self.link(row, later);
            }
        }
    }

    /// The step that brings a state again after all that took it away: one the plan holds and that comes before already,
    /// else one it holds, else the first.
    fn helper(&self, row: usize, helpers: &[usize], spoiled: &[usize], earlier: &BTreeSet<usize>) -> Option<usize> {
        let behind = |n: &usize| {
            let own = self.ancestors(*n);
            !own.contains(&row) && spoiled.iter().all(|spoiler| own.contains(spoiler))
        };
        let fit: Vec<usize> = helpers.iter().copied().filter(behind).collect();
        let first = |wanted: &dyn Fn(&usize) -> bool| fit.iter().copied().find(|n| wanted(n));
        let held = |n: &usize| self.holds(*n);
        first(&|n| held(n) && earlier.contains(n)).or_else(|| first(&held)).or_else(|| first(&|_| true))
    }

    /// One row before another, unless that would close a ring.
    fn link(&mut self, earlier: usize, later: usize) {
        let ring = earlier == later || self.ancestors(earlier).contains(&later);
        if let Some(before) = self.before.get_mut(later).filter(|_| !ring) {
            before.insert(earlier);
        }
    }

    fn find_waits(&mut self, begun: &Begun) {
        let open = (0..self.rows.len()).filter(|row| self.holds(*row) && !self.done(*row, begun));
        let all = open.flat_map(|step| self.rules_of(step).into_iter().map(move |rule| (step, rule)));
        let waits = all.filter_map(|(step, rule)| match rule {
            Rule::Wait { since, seconds } => Some(Wait { since: self.place(since)?, step, seconds }),
            _ => None,
        });
        self.waits = waits.collect();
    }

    /// Shared proofs of other sequences that the open steps ask for.
    fn find_elsewhere(&mut self, pack: &Pack<'_>, features: Set, begun: &Begun) {
        let applies = |step: &StepId| {
            let row = pack.step(*step);
            row.is_some_and(|r| r.applies.is_none_or(|feature| features.has(feature.0)))
        };
        let open = (0..self.rows.len()).filter(|row| self.holds(*row) && !self.done(*row, begun));
        let steps = open.flat_map(|row| self.rules_of(row)).flat_map(|rule| named(rule).0);
        let wanted = steps.filter(|step| self.place(*step).is_none() && applies(step));
        self.elsewhere = wanted.filter(|step| !begun.elsewhere.contains(step)).collect();
    }
}

/// Chooses one alternative of each group.
struct Chooser<'a> {
    pack: &'a Pack<'a>,
    features: Set,
    way: Way,
    begun: &'a Begun,
}

impl Chooser<'_> {
    /// A step's requirements with one alternative of each group.
    fn chosen(&self, row: &StepRow) -> Vec<Rule> {
        let needs: Vec<Need> = self.pack.needs(row.needs).collect();
        let groups = needs.chunk_by(|a, b| a.group == b.group && a.group != 0);
        groups
            .filter_map(|group| if group.len() == 1 { group.first().map(|n| n.rule) } else { self.one_of(group) })
            .collect()
    }

    /// What is done already goes first; then the way into steam decides; then the order in the pack.
    fn one_of(&self, group: &[Need]) -> Option<Rule> {
        let fit: Vec<Rule> = group.iter().map(|need| need.rule).filter(|rule| self.applies(*rule)).collect();
        let waits = |rule: &&Rule| matches!(rule, Rule::Wait { .. });
        let done = fit.iter().find(|rule| self.done(**rule));
        let by_way = match self.way {
            _ if !fit.iter().any(|rule| waits(&rule)) => None,
            Way::Cold => fit.iter().find(waits),
            Way::Warm => fit.iter().find(|rule| !waits(rule)),
        };
        done.or(by_way).or(fit.first()).copied()
    }

    fn applies(&self, rule: Rule) -> bool {
        named(rule).0.into_iter().all(|step| {
            let row = self.pack.step(step);
            row.is_some_and(|r| r.applies.is_none_or(|feature| self.features.has(feature.0)))
        })
    }

    fn done(&self, rule: Rule) -> bool {
        let (steps, alive) = named(rule);
        let done = |step: &StepId| self.begun.steps.get(step).is_some_and(|d| d.alive || !alive);
        !steps.is_empty() && steps.iter().all(done)
    }
}
