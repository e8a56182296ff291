//! Obligations: what must never happen without what, proved over a model, and which requirement each proof stands on.
//!
//! Pure functions: a test takes one requirement away and proves again. `AUTHORING.md` says what a proof is.

mod failure;
mod implies;
mod moment;
mod net;
mod whole;

use offshed_core::ident::StepId;

use super::model::{Goal, Model};
pub use failure::{Failure, Gap};
use moment::Question;
pub use moment::{Ending, Outlives};
pub use net::NeedRef;
use net::{Net, World};
pub(super) use whole::check as check_order;

/// What an obligation asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// A proof that is alive at the moment of the goal.
    Fresh(StepId),
    /// A step that was done at some time before.
    After(StepId),
    /// A rule, by its place in the obligation's `holds`.
    Holds(usize),
}

/// One thing that one obligation asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// The obligation, by its place in the model.
    pub obligation: usize,
    /// The obligation's goal.
    pub goal: Goal,
    /// What is asked for.
    pub wanted: Wanted,
    /// Requirements that prove it; without any other it stays proved.
    pub outcome: Result<Vec<NeedRef>, Failure>,
}

/// One requirement and what breaks without it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matter {
    /// The requirement.
    pub need: NeedRef,
    /// Items that can't be proved without it, by their place in [`Proofs::items`]; none: implied by others.
    pub breaks: Vec<usize>,
}

/// What was proved.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proofs {
    /// Every item of every obligation.
    pub items: Vec<Item>,
    /// Every requirement of every step and of fitness, in order; empty while an item is not proved.
    pub matters: Vec<Matter>,
}

impl Proofs {
    /// Whether every item is proved.
    pub fn hold(&self) -> bool {
        self.items.iter().all(|item| item.outcome.is_ok())
    }

    /// Items that are not proved.
    pub fn failures(&self) -> impl Iterator<Item = (&Item, &Failure)> {
        self.items.iter().filter_map(|item| Some((item, item.outcome.as_ref().err()?)))
    }

    /// Requirements without which nothing breaks.
    pub fn implied(&self) -> impl Iterator<Item = NeedRef> {
        self.matters.iter().filter(|m| m.breaks.is_empty()).map(|m| m.need)
    }
}

/// Proves every obligation, and finds what each requirement is good for.
pub fn prove(model: &Model) -> Proofs {
    let net = Net::of(model);
    let items: Vec<Item> = wanted(model)
        .map(|(obligation, goal, wanted)| {
            let outcome = net.prove(obligation, goal, wanted);
            Item { obligation, goal, wanted, outcome }
        })
        .collect();
    let mut proofs = Proofs { items, matters: Vec::new() };
    if proofs.hold() {
        proofs.matters = matters(&net, &proofs.items);
    }
    proofs
}

/// Everything that is asked for, in order.
fn wanted(model: &Model) -> impl Iterator<Item = (usize, Goal, Wanted)> {
    model.obligations.iter().enumerate().flat_map(|(n, o)| {
        let fresh = o.fresh.iter().map(|s| Wanted::Fresh(*s));
        let after = o.after.iter().map(|s| Wanted::After(*s));
        let holds = (0..o.holds.len()).map(Wanted::Holds);
        fresh.chain(after).chain(holds).map(move |wanted| (n, o.goal, wanted))
    })
}

/// Takes each requirement away in turn. A proof that does not stand on it is not looked at again.
fn matters(net: &Net<'_>, items: &[Item]) -> Vec<Matter> {
    let breaks = |need: NeedRef| {
        let standing = |item: &Item| item.outcome.as_ref().is_ok_and(|proof| proof.contains(&need));
        let broken = |item: &Item| net.proof(item.obligation, item.goal, item.wanted, Some(need)).is_none();
        let items = items.iter().enumerate().filter(|(_, item)| standing(item) && broken(item));
        items.map(|(n, _)| n).collect()
    };
    requirements(net.model).map(|need| Matter { need, breaks: breaks(need) }).collect()
}

/// Every requirement of every step and of fitness.
pub fn requirements(model: &Model) -> impl Iterator<Item = NeedRef> {
    let goals = model.steps().map(|(_, step)| Goal::Step(step.number)).chain([Goal::Fitness]);
    goals.flat_map(|owner| (0..model.needs(owner).len()).map(move |need| NeedRef { owner, need }))
}

impl Net<'_> {
    fn prove(&self, obligation: usize, goal: Goal, wanted: Wanted) -> Result<Vec<NeedRef>, Failure> {
        self.proof(obligation, goal, wanted, None).ok_or_else(|| self.failure(goal, wanted))
    }

    /// Why an item has no proof.
    fn failure(&self, goal: Goal, wanted: Wanted) -> Failure {
        let gap = match wanted {
            Wanted::Fresh(step) | Wanted::After(step) if self.necessary(goal, step, None).is_none() => {
                return self.reached(goal, step);
            }
            Wanted::Fresh(step) => {
                match self.alive(self.question(goal, step, None)).err().unwrap_or_default().first() {
                    Some(loss) => Gap::Outlived(*loss),
                    None => Gap::NotAsked(self.node(step).and_then(|n| self.endings(n, None).first().copied())),
                }
            }
            Wanted::After(_) | Wanted::Holds(_) => Gap::NotHeld,
        };
        Failure { gap, path: self.way_to(goal) }
    }

    /// Requirements that prove an item, one of all requirements perhaps taken away.
    fn proof(&self, obligation: usize, goal: Goal, wanted: Wanted, without: Option<NeedRef>) -> Option<Vec<NeedRef>> {
        match wanted {
            Wanted::After(step) => self.necessary(goal, step, without),
            // What asks for a living proof asks for the proof, so it is necessary as well.
            Wanted::Fresh(step) => self.alive(self.question(goal, step, without)).ok(),
            Wanted::Holds(n) => self.held(obligation, goal, n, without),
        }
    }

    /// Features that an engine on which the question arises is sure to have.
    fn features_of(&self, goal: Goal, step: StepId) -> offshed_core::ident::Set {
        self.goal_features(goal).union(self.features(step))
    }

    /// *Necessity*: without the proof the goal can't be reached, whatever else is done.
    fn necessary(&self, goal: Goal, step: StepId, without: Option<NeedRef>) -> Option<Vec<NeedRef>> {
        let world = World { banned: &[step], without, features: self.features_of(goal, step) };
        let reach = self.reach(world);
        (!self.reaches(goal, world, &reach)).then(|| self.blocks(goal, step, world, &reach))
    }

    fn reached(&self, goal: Goal, step: StepId) -> Failure {
        let world = World { banned: &[step], without: None, features: self.features_of(goal, step) };
        Failure { gap: Gap::Reached, path: self.path(goal, world, &self.reach(world)) }
    }

    /// *At the moment*: the proof is alive when the goal is reached.
    fn question(&self, goal: Goal, step: StepId, without: Option<NeedRef>) -> Question {
        Question { goal, step, features: self.features_of(goal, step), without }
    }

    /// A condition: the goal itself asks for it, at least as strictly.
    fn held(&self, obligation: usize, goal: Goal, n: usize, without: Option<NeedRef>) -> Option<Vec<NeedRef>> {
        let wanted = self.model.obligations.get(obligation)?.holds.get(n)?;
        if self.grade_implies(goal, wanted) {
            return Some(Vec::new());
        }
        let found = self.asked(goal, without).find(|(_, need)| self.need_implies(goal, need, wanted));
        found.map(|(at, _)| vec![at])
    }

    /// The ordinary way to a goal.
    fn way_to(&self, goal: Goal) -> Vec<String> {
        let world = World { banned: &[], without: None, features: self.every_feature() };
        self.path(goal, world, &self.reach(world))
    }
}
