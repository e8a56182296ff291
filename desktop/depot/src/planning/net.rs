//! The network of one plan: the steps, between them the heating and the waiting times.

use offshed_core::ident::StepId;
use offshed_core::plan::{Activity, Grades, NoPlan};
use offshed_core::stamp::Stamp;

use super::crew::Crew;
use super::heat::{Heating, left};
use super::route::Route;
use super::{Begun, NotPlanned, What, Words};

/// The held rows in the order in which they are placed last where it makes no other difference: proofs that lapse, the
/// shortest first, then the later one of the sequence.
fn placing_order(route: &Route) -> Vec<usize> {
    let mut held: Vec<usize> = (0..route.rows.len()).rev().filter(|n| route.holds(*n)).collect();
    let life = |n: &usize| route.rows.get(*n).map_or(0, |row| row.life_seconds);
    held.sort_by_key(|n| life(n).checked_sub(1).unwrap_or(u32::MAX));
    held
}

/// One activity of the network.
pub(super) struct Node {
    pub(super) what: What,
    pub(super) minutes: u32,
    after: Vec<u16>,
    people: Grades,
    pub(super) done: bool,
}

/// The network that is planned: the held rows, then heating, then waiting times.
pub(super) struct Net {
    pub(super) nodes: Vec<Node>,
    /// For each row of the route, its node.
    of_row: Vec<Option<u16>>,
}

impl Net {
    pub(super) fn lay(route: &Route, crew: &Crew, heatings: &[Heating], begun: &Begun, now: Stamp) -> Net {
        let held = placing_order(route);
        let mut of_row = vec![None; route.rows.len()];
        for (node, row) in (0u16..).zip(&held) {
            if let Some(place) = of_row.get_mut(*row) {
                *place = Some(node);
            }
        }
        let mut net = Net { nodes: Vec::new(), of_row };
        for row in held {
            net.step(route, crew, begun, row);
        }
        for heating in heatings {
            net.heat(route, heating);
        }
        for wait in &route.waits {
            let since = route.rows.get(wait.since).map(|row| row.id);
            let done = since.and_then(|step| begun.steps.get(&step)).map(|done| done.at);
            let minutes = left(wait.seconds.div_ceil(60), done, now);
            if let Some(since) = since {
                net.between(&[wait.since], What::Waiting { since }, minutes, &[wait.step]);
            }
        }
        net
    }

    fn node(&self, row: usize) -> Option<u16> {
        self.of_row.get(row).copied().flatten()
    }

    fn step(&mut self, route: &Route, crew: &Crew, begun: &Begun, n: usize) {
        let Some(row) = route.rows.get(n) else { return };
        let after = route.before.get(n).into_iter().flatten().filter_map(|before| self.node(*before)).collect();
        let done = route.done(n, begun);
        let people = if done { Grades::NONE } else { crew.people(n) };
        // What is done waits for nothing.
        let after = if done { Vec::new() } else { after };
        self.nodes.push(Node { what: What::Step(row.id), minutes: row.minutes.into(), after, people, done });
    }

    fn heat(&mut self, route: &Route, heating: &Heating) {
        let what = What::Raising { kpa: heating.kpa, told: heating.told };
        let lit: Vec<usize> = route.lit.into_iter().collect();
        self.between(&lit, what, heating.minutes, &heating.steps);
    }

    /// A time that nobody works in, after some rows and before others.
    fn between(&mut self, after: &[usize], what: What, minutes: u32, before: &[usize]) {
        // A sheet has far fewer steps, pressures and waits than 16 bits count.
        let Ok(place) = u16::try_from(self.nodes.len()) else { return };
        let after = after.iter().filter_map(|row| self.node(*row)).collect();
        self.nodes.push(Node { what, minutes, after, people: Grades::NONE, done: minutes == 0 });
        for row in before {
            let node = self.node(*row).and_then(|n| self.nodes.get_mut(usize::from(n)));
            if let Some(node) = node.filter(|node| !node.done) {
                node.after.push(place);
            }
        }
    }

    /// Puts an open step before another; whether that is new.
    pub(super) fn link(&mut self, first: StepId, then: StepId) -> bool {
        let place = |step: StepId| self.nodes.iter().position(|node| node.what == What::Step(step));
        let (Some(first), Some(then)) = (place(first).and_then(|n| u16::try_from(n).ok()), place(then)) else {
            return false;
        };
        match self.nodes.get_mut(then) {
            Some(node) if !node.after.contains(&first) => {
                node.after.push(first);
                true
            }
            _ => false,
        }
    }

    pub(super) fn activities(&self) -> Vec<Activity<'_>> {
        let all = (0u16..).zip(&self.nodes);
        all.map(|(id, node)| Activity {
            id,
            minutes: node.minutes,
            after: &node.after,
            grades: node.people,
            done: node.done,
        })
        .collect()
    }

    /// A fault of the core under the step's own name.
    pub(super) fn fault(&self, words: &Words<'_>, bad: NoPlan) -> NotPlanned {
        let (NoPlan::Cycle { id } | NoPlan::Nobody { id }) = bad else { return NotPlanned::Network(bad) };
        match self.nodes.get(usize::from(id)).map(|node| node.what) {
            Some(What::Step(step)) => NotPlanned::Number { words: format!("\"{}\": {bad}", words.step(step)) },
            _ => NotPlanned::Network(bad),
        }
    }
}
