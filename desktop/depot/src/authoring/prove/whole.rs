//! Order: no step waits for itself in a circle, every step can be reached, and none only after its sheet is finished.

use offshed_core::ident::{Set, StepId};

use super::super::complaint::Complaints;
use super::super::model::{Goal, Model, Step};
use super::super::wording;
use super::net::{Net, Reach, World, steps_of};

/// Complains about circles; where there is none, about steps and a fitness that can't be reached.
pub(in crate::authoring) fn check(model: &Model, sink: &Complaints) {
    let net = Net::of(model);
    let mut state = vec![Seen::Not; net.steps.len()];
    let circles: Vec<Vec<StepId>> =
        (0..net.steps.len()).filter_map(|start| circle(&net, start, &mut state, &mut Vec::new())).collect();
    for circle in &circles {
        say_circle(&net, circle, sink);
    }
    if circles.is_empty() {
        unreachable(&net, sink);
    }
    if sink.is_empty() {
        after_the_end(&net, sink);
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Seen {
    Not,
    OnTheWay,
    Done,
}

/// The first circle met when following every requirement that is no alternative.
fn circle(net: &Net<'_>, n: usize, state: &mut [Seen], way: &mut Vec<StepId>) -> Option<Vec<StepId>> {
    let node = net.steps.get(n)?;
    match state.get(n)? {
        Seen::Done => return None,
        Seen::OnTheWay => {
            let from = way.iter().position(|s| *s == node.step.number)?;
            return Some(way.get(from..)?.to_vec());
        }
        Seen::Not => {}
    }
    state[n] = Seen::OnTheWay;
    way.push(node.step.number);
    let single = node.step.needs.iter().filter(|need| !need.any);
    let waits: Vec<StepId> = single.flat_map(|need| &need.rules).flat_map(|r| steps_of(*r)).flatten().collect();
    let mut found = None;
    for step in waits {
        let place = net.steps.iter().position(|other| other.step.number == step);
        found = found.or_else(|| circle(net, place?, state, way));
    }
    way.pop();
    state[n] = Seen::Done;
    found
}

fn say_circle(net: &Net<'_>, circle: &[StepId], sink: &Complaints) {
    let Some(first) = circle.iter().min().and_then(|s| net.node(*s)) else { return };
    let turn = circle.iter().position(|s| *s == first.step.number).unwrap_or(0);
    let turned = circle.iter().cycle().skip(turn).take(circle.len() + 1);
    let ids: Vec<String> = turned.map(|s| format!("`{}`", net.model.step_id(*s))).collect();
    let what = format!("waits for itself in a circle: {}", ids.join(" waits for "));
    sink.say(first.step.at, &subject(first.step), "needs", what, "take one of these needs away");
}

fn subject(step: &Step) -> String {
    format!("step `{}`", step.id)
}

/// Needs that never hold, in words.
fn stuck(net: &Net<'_>, goal: Goal, world: World<'_>, reach: &Reach) -> String {
    let needs = net.asked(goal, None).filter(|(_, need)| !net.need_holds(need, world, reach));
    needs.map(|(_, need)| wording::need(net.model, need)).collect::<Vec<_>>().join("; ")
}

fn unreachable(net: &Net<'_>, sink: &Complaints) {
    let world = World { features: net.every_feature(), ..World::default() };
    let reach = net.reach(world);
    let cure = "let some step or event bring it about, or take the need away";
    for node in net.steps.iter().filter(|node| !net.done(&reach, node.step.number)) {
        let stuck = stuck(net, Goal::Step(node.step.number), world, &reach);
        let what = format!("can never be reached: it waits for ever that {stuck}");
        sink.say(node.step.at, &subject(node.step), "needs", what, cure);
    }
    if !net.reaches(Goal::Fitness, world, &reach) {
        let stuck = stuck(net, Goal::Fitness, world, &reach);
        let at = net.model.fitness.first().map(|need| need.at).unwrap_or_default();
        sink.say(at, "fitness", "needs", format!("no engine can ever be fit: it waits for ever that {stuck}"), cure);
    }
}

/// A step that can only be done once a closing step of its own sequence was: by then the sheet takes no answers.
fn after_the_end(net: &Net<'_>, sink: &Complaints) {
    for sequence in &net.model.sequences {
        let closing: Vec<&Step> = sequence.steps.iter().filter(|s| s.closes).collect();
        let banned: Vec<StepId> = closing.iter().map(|s| s.number).collect();
        let world = World { banned: &banned, without: None, features: net.every_feature() };
        let reach = net.reach(world);
        for step in sequence.steps.iter().filter(|s| !s.closes && !net.done(&reach, s.number)) {
            let ids: Vec<String> = closing.iter().map(|s| format!("`{}`", s.id)).collect();
            let what = format!("can only be done after {}, which finishes the sheet", ids.join(" or "));
            sink.say(step.at, &subject(step), "needs", what, "close the sheet with a later step");
        }
    }
}

impl Net<'_> {
    /// The features of an engine that lacks nothing.
    pub(super) fn every_feature(&self) -> Set {
        self.model.features.iter().fold(Set::EMPTY, |set, f| set.with(f.number))
    }
}
