//! What can be reached: a closure that only ever grows, taken a little too wide so that nothing hides behind chance.
//!
//! Lapses, voids and every condition that could only hinder (a state that must not hold, a tag, a defect, a time to
//! wait, another person) are left out; events happen at will; an engine may lack any feature that is not named.

use offshed_core::ident::{EventId, SequenceId, Set, StateId, StepId};
use offshed_core::pack::Rule;

use super::super::model::{Event, Goal, Kind, Model, Need, Sequence, Step, Voids};

/// One requirement: whose, and which of its needs, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct NeedRef {
    /// Whose.
    pub owner: Goal,
    /// Its place among the owner's needs.
    pub need: usize,
}

/// No place.
const NOWHERE: u16 = u16::MAX;

/// What brings a state about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Setter {
    Event(EventId),
    Step(usize),
}

/// A model's steps by place, with what refers to them.
pub(super) struct Net<'m> {
    pub(super) model: &'m Model,
    pub(super) steps: Vec<Node<'m>>,
    /// The place of each step, by its number; [`NOWHERE`] where there is none.
    places: Vec<u16>,
}

/// One step in the net.
pub(super) struct Node<'m> {
    pub(super) step: &'m Step,
    pub(super) sequence: SequenceId,
    /// Events that take its proof away.
    pub(super) voided_by: Vec<EventId>,
    /// Steps that take its proof away.
    pub(super) voided_after: Vec<StepId>,
    /// Reviews that take its proof away when they send the sheet back.
    pub(super) sent_back_by: Vec<StepId>,
}

/// Under which circumstances something is to be reached.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct World<'w> {
    /// Steps that are never proven.
    pub(super) banned: &'w [StepId],
    /// A requirement taken away.
    pub(super) without: Option<NeedRef>,
    /// Features that the engine is known to have.
    pub(super) features: Set,
}

/// What was reached.
pub(super) struct Reach {
    /// Steps in the order they were passed: proven, or marked not applicable.
    order: Vec<usize>,
    done: Vec<bool>,
    passed: Vec<bool>,
    states: Vec<(StateId, Setter)>,
}

impl<'m> Net<'m> {
    pub(super) fn of(model: &'m Model) -> Net<'m> {
        let events = |step: StepId| model.events.iter().filter(move |event| voids(event, step));
        let node = |(sequence, step): (&'m Sequence, &'m Step)| Node {
            step,
            sequence: sequence.number,
            voided_by: events(step.number).map(|event| EventId(event.named.number)).collect(),
            voided_after: model
                .steps()
                .filter(|(_, s)| s.voids.contains(&step.number))
                .map(|(_, s)| s.number)
                .collect(),
            sent_back_by: sequence.steps.iter().filter(|s| sends_back(s, step)).map(|s| s.number).collect(),
        };
        let steps: Vec<Node<'m>> = model.steps().map(node).collect();
        let mut places = vec![NOWHERE; usize::from(u16::MAX) + 1];
        for (n, node) in steps.iter().enumerate() {
            places[usize::from(node.step.number.0)] = u16::try_from(n).unwrap_or(NOWHERE);
        }
        Net { model, steps, places }
    }

    fn place(&self, step: StepId) -> Option<usize> {
        self.places.get(usize::from(step.0)).filter(|n| **n != NOWHERE).map(|n| usize::from(*n))
    }

    pub(super) fn node(&self, step: StepId) -> Option<&Node<'m>> {
        self.steps.get(self.place(step)?)
    }

    /// The features a step is about.
    pub(super) fn features(&self, step: StepId) -> Set {
        let feature = self.node(step).and_then(|node| node.step.applies);
        feature.map_or(Set::EMPTY, |f| Set::EMPTY.with(f.0))
    }

    /// The features a goal is about.
    pub(super) fn goal_features(&self, goal: Goal) -> Set {
        match goal {
            Goal::Step(step) => self.features(step),
            Goal::Fitness => Set::EMPTY,
        }
    }

    /// Whether a step may not apply to an engine that has these features.
    pub(super) fn may_lack(&self, step: StepId, features: Set) -> bool {
        self.node(step).and_then(|node| node.step.applies).is_some_and(|f| !features.has(f.0))
    }

    pub(super) fn needs(&self, goal: Goal) -> &'m [Need] {
        match goal {
            Goal::Fitness => &self.model.fitness,
            Goal::Step(step) => self.node(step).map_or(&[], |node| &node.step.needs),
        }
    }

    /// A goal's needs with their places, the one that was taken away left out.
    pub(super) fn asked(&self, goal: Goal, without: Option<NeedRef>) -> impl Iterator<Item = (NeedRef, &'m Need)> {
        let needs = self.needs(goal).iter().enumerate();
        let named = needs.map(move |(need, n)| (NeedRef { owner: goal, need }, n));
        named.filter(move |(at, _)| Some(*at) != without)
    }

    /// Everything that can be reached.
    pub(super) fn reach(&self, world: World<'_>) -> Reach {
        let mut reach = Reach {
            order: Vec::new(),
            done: vec![false; self.steps.len()],
            passed: vec![false; self.steps.len()],
            states: Vec::new(),
        };
        for event in &self.model.events {
            reach.set(event.sets, Setter::Event(EventId(event.named.number)));
        }
        let banned: Vec<usize> = world.banned.iter().filter_map(|s| self.place(*s)).collect();
        loop {
            let mut changed = false;
            for (n, node) in self.steps.iter().enumerate() {
                if reach.done[n] {
                    continue;
                }
                let can_do = !banned.contains(&n) && self.holds_all(Goal::Step(node.step.number), world, &reach);
                if can_do {
                    reach.done[n] = true;
                    changed = true;
                    reach.set(node.step.sets, Setter::Step(n));
                }
                if !reach.passed[n] && (can_do || self.can_skip(node.step, world, &reach)) {
                    reach.passed[n] = true;
                    changed = true;
                    reach.order.push(n);
                }
            }
            if !changed {
                return reach;
            }
        }
    }

    /// Whether a goal can be reached.
    pub(super) fn reaches(&self, goal: Goal, world: World<'_>, reach: &Reach) -> bool {
        match goal {
            Goal::Fitness => self.holds_all(goal, world, reach),
            Goal::Step(step) => self.is(&reach.done, step),
        }
    }

    fn holds_all(&self, goal: Goal, world: World<'_>, reach: &Reach) -> bool {
        self.asked(goal, world.without).all(|(_, need)| self.need_holds(need, world, reach))
    }

    /// Whether a step can be marked not applicable; what a figure is computed from need not be there for that.
    fn can_skip(&self, step: &Step, world: World<'_>, reach: &Reach) -> bool {
        let computed_from = |need: &Need| match (&step.kind, need.rules.as_slice()) {
            (Kind::Figure { inputs, .. }, [Rule::Fresh { step, .. }]) => !need.any && inputs.contains(step),
            _ => false,
        };
        let asked = self.asked(Goal::Step(step.number), world.without);
        step.skippable && asked.filter(|(_, n)| !computed_from(n)).all(|(_, n)| self.need_holds(n, world, reach))
    }

    pub(super) fn need_holds(&self, need: &Need, world: World<'_>, reach: &Reach) -> bool {
        need.rules.iter().any(|rule| self.holds(*rule, need.any, world, reach))
    }

    fn is(&self, which: &[bool], step: StepId) -> bool {
        self.place(step).and_then(|n| which.get(n)).copied() == Some(true)
    }

    /// Whether a rule can hold. Inside `any` an alternative that does not apply does not count.
    fn holds(&self, rule: Rule, inside_any: bool, world: World<'_>, reach: &Reach) -> bool {
        let lacks = |step| !inside_any && self.may_lack(step, world.features);
        let done = |step| lacks(step) || self.is(&reach.done, step);
        let done_or_absent = |step| self.may_lack(step, world.features) || self.is(&reach.done, step);
        match rule {
            Rule::After(step) => lacks(step) || self.is(&reach.passed, step),
            Rule::Fresh { step, .. } | Rule::Within { step, .. } | Rule::Wait { since: step, .. } => done(step),
            // Where one does not apply, the other is asked for all the same, also inside `any`.
            Rule::Agree { a, b, .. } => {
                let one = lacks(a) && lacks(b) || self.is(&reach.done, a) || self.is(&reach.done, b);
                done_or_absent(a) && done_or_absent(b) && one
            }
            // Where nothing is computed, the reading is asked for all the same.
            Rule::AtLeast { reading, derived } => done(reading) && (lacks(reading) || done_or_absent(derived)),
            Rule::State(state) => reach.states.iter().any(|(s, _)| *s == state),
            _ => true,
        }
    }

    /// A requirement that blocks each step on the way to a goal that was not reached: together they prove that it can't
    /// be. Where several block, the one that names `about` is taken.
    pub(super) fn blocks(&self, goal: Goal, about: StepId, world: World<'_>, reach: &Reach) -> Vec<NeedRef> {
        let (mut proof, mut seen, mut open) = (Vec::new(), Vec::new(), vec![goal]);
        while let Some(goal) = open.pop() {
            if seen.contains(&goal) || matches!(goal, Goal::Step(step) if world.banned.contains(&step)) {
                continue;
            }
            seen.push(goal);
            let blocking = || self.asked(goal, world.without).filter(|(_, need)| !self.need_holds(need, world, reach));
            let direct = blocking().find(|(_, need)| need.rules.iter().any(|r| steps_of(*r).contains(&Some(about))));
            let Some((at, need)) = direct.or_else(|| blocking().next()) else { continue };
            proof.push(at);
            for rule in &need.rules {
                open.extend(self.wanted(*rule, reach).map(Goal::Step));
            }
        }
        proof
    }

    /// Steps that a rule which does not hold still waits for.
    fn wanted(&self, rule: Rule, reach: &Reach) -> impl Iterator<Item = StepId> {
        let setters: Vec<StepId> = match rule {
            Rule::State(state) => {
                self.steps.iter().map(|n| n.step).filter(|s| s.sets.has(state.0)).map(|s| s.number).collect()
            }
            _ => Vec::new(),
        };
        let named = steps_of(rule).into_iter().flatten().filter(|s| !self.is(&reach.done, *s));
        named.chain(setters).collect::<Vec<_>>().into_iter()
    }

    /// The steps and events, in order, that lead to a goal that was reached.
    pub(super) fn path(&self, goal: Goal, world: World<'_>, reach: &Reach) -> Vec<String> {
        let mut steps = Vec::new();
        let mut events: Vec<EventId> = Vec::new();
        let mut open = vec![goal];
        while let Some(goal) = open.pop() {
            if let Goal::Step(step) = goal {
                let Some(place) = self.place(step).filter(|p| !steps.contains(p)) else { continue };
                steps.push(place);
            }
            for (_, need) in self.asked(goal, world.without) {
                let held = need.rules.iter().find(|rule| self.holds(**rule, need.any, world, reach));
                for cause in held.into_iter().flat_map(|rule| self.causes(*rule, need.any, world, reach)) {
                    match cause {
                        Setter::Step(place) => open.extend(self.steps.get(place).map(|n| Goal::Step(n.step.number))),
                        Setter::Event(event) if !events.contains(&event) => events.push(event),
                        Setter::Event(_) => {}
                    }
                }
            }
        }
        let mut path: Vec<String> = events.iter().map(|e| format!("event {}", self.model.event_id(*e))).collect();
        let passed = reach.order.iter().filter(|n| steps.contains(n));
        path.extend(passed.filter_map(|n| Some((*n, self.steps.get(*n)?))).map(|(n, node)| {
            let skipped = reach.done.get(n) == Some(&false);
            format!("{}{}", node.step.id, if skipped { " (marked not applicable)" } else { "" })
        }));
        path
    }

    /// What made a rule hold; nothing for a step that does not apply.
    fn causes(&self, rule: Rule, inside_any: bool, world: World<'_>, reach: &Reach) -> Vec<Setter> {
        if let Rule::State(state) = rule {
            return reach.states.iter().find(|(s, _)| *s == state).map(|(_, by)| *by).into_iter().collect();
        }
        let steps = steps_of(rule).into_iter().flatten();
        let there = steps.filter(|s| inside_any || !self.may_lack(*s, world.features));
        there.filter_map(|s| self.place(s)).map(Setter::Step).collect()
    }

    /// Whether a step can be done.
    pub(super) fn done(&self, reach: &Reach, step: StepId) -> bool {
        self.is(&reach.done, step)
    }
}

impl Reach {
    fn set(&mut self, states: Set, by: Setter) {
        for state in states.members().map(StateId) {
            if !self.states.iter().any(|(known, _)| *known == state) {
                self.states.push((state, by));
            }
        }
    }
}

/// The steps whose proof a rule asks for.
pub(super) fn steps_of(rule: Rule) -> [Option<StepId>; 2] {
    match rule {
        Rule::After(step) | Rule::Fresh { step, .. } | Rule::Within { step, .. } | Rule::Wait { since: step, .. } => {
            [Some(step), None]
        }
        Rule::Agree { a, b, .. } => [Some(a), Some(b)],
        Rule::AtLeast { reading, derived } => [Some(derived), Some(reading)],
        _ => [None, None],
    }
}

/// Whether an event takes a step's proof away.
fn voids(event: &Event, step: StepId) -> bool {
    match &event.voids {
        Voids::All => true,
        Voids::Steps(steps) => steps.contains(&step),
    }
}

/// Whether a review of the same sequence takes the step's proof away when it sends the sheet back.
fn sends_back(review: &Step, step: &Step) -> bool {
    let signed = step.kind == Kind::Signature { review: false } || step.number == review.number;
    review.kind == Kind::Signature { review: true } && signed
}
