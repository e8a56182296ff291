//! *At the moment*: a proof is asked for by the goal itself, or by another proof that can't outlive it.

use offshed_core::ident::{EventId, SequenceId, Set, StepId};

use super::super::model::Goal;
use super::implies::Stand;
use super::net::{NeedRef, Net, Node, steps_of};

/// Something that ends a proof.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Its time runs out.
    Lapse {
        /// The proof's life, seconds.
        seconds: u32,
    },
    /// The local day on which it was made is over.
    EndOfDay,
    /// A step that voids it is done.
    Step(StepId),
    /// An event that voids it happens.
    Event(EventId),
    /// The next sheet of this sequence is opened.
    NextSheet(SequenceId),
    /// This review sends the sheet back.
    SentBack(StepId),
}

/// Where a proof might be lost unseen: `bearer`, which the goal asks for, would outlive it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outlives {
    /// The proof the goal asks for.
    pub bearer: StepId,
    /// What ends the wanted proof and not the bearer.
    pub ending: Ending,
}

/// A question: is `step` alive whenever `goal` is reached?
#[derive(Clone, Copy)]
pub(super) struct Question {
    pub(super) goal: Goal,
    pub(super) step: StepId,
    pub(super) features: Set,
    pub(super) without: Option<NeedRef>,
}

impl Net<'_> {
    /// The requirements by which the step is alive at the goal; else the proofs that would outlive it.
    pub(super) fn alive(&self, question: Question) -> Result<Vec<NeedRef>, Vec<Outlives>> {
        let mut losses = Vec::new();
        let found = self.asked_alive(question, question.goal, question.step, &mut Vec::new(), &mut losses);
        found.ok_or(losses)
    }

    fn asked_alive(
        &self,
        question: Question,
        owner: Goal,
        step: StepId,
        on_the_way: &mut Vec<Goal>,
        losses: &mut Vec<Outlives>,
    ) -> Option<Vec<NeedRef>> {
        if on_the_way.contains(&owner) {
            return None;
        }
        on_the_way.push(owner);
        let mut found = None;
        for (at, need) in self.asked(owner, question.without) {
            let stand = Stand { owner, features: question.features, inside_any: need.any };
            let mut used = vec![at];
            let holds = !need.rules.is_empty()
                && need.rules.iter().all(|rule| {
                    if self.asks_fresh(*rule, stand, step) {
                        return true;
                    }
                    let bearers = steps_of(*rule).into_iter().flatten();
                    let mut bearers = bearers.filter(|b| *b != step && self.asks_fresh(*rule, stand, *b));
                    bearers.any(|bearer| match self.borne(question, bearer, step, on_the_way, losses) {
                        Some(more) => {
                            used.extend(more);
                            true
                        }
                        None => false,
                    })
                });
            if holds {
                found = Some(used);
                break;
            }
        }
        on_the_way.pop();
        found
    }

    /// Whether a living proof of `bearer` makes sure of a living proof of `step`.
    fn borne(
        &self,
        question: Question,
        bearer: StepId,
        step: StepId,
        on_the_way: &mut Vec<Goal>,
        losses: &mut Vec<Outlives>,
    ) -> Option<Vec<NeedRef>> {
        let used = self.asked_alive(question, Goal::Step(bearer), step, on_the_way, losses)?;
        let (Some(of), Some(by)) = (self.node(step), self.node(bearer)) else { return None };
        let ends_bearer = self.endings(by, None);
        let beside = self.on_one_sheet(question.goal, of, by);
        // A bearer that lapses as well was proven later, and so lapses later.
        let survived = |ending: &Ending| matches!(ending, Ending::Lapse { .. }) || !ends_bearer.contains(ending);
        let lost = self.endings(of, beside).into_iter().find(survived);
        match lost {
            None => Some(used),
            Some(ending) => {
                losses.push(Outlives { bearer, ending });
                None
            }
        }
    }

    /// The sequence of goal and both proofs, when all are seen on one and the same sheet.
    fn on_one_sheet(&self, goal: Goal, of: &Node<'_>, by: &Node<'_>) -> Option<SequenceId> {
        let Goal::Step(goal) = goal else { return None };
        let goal = self.node(goal)?.sequence;
        (goal == of.sequence && goal == by.sequence).then_some(goal)
    }

    /// Everything that ends a step's proof. On one sheet, opening the next is no matter.
    pub(super) fn endings(&self, node: &Node<'_>, one_sheet: Option<SequenceId>) -> Vec<Ending> {
        let step = node.step;
        let mut endings = Vec::new();
        if step.life_seconds > 0 {
            endings.push(Ending::Lapse { seconds: step.life_seconds });
        } else if step.ends_with_day {
            // A proof that stands on it was made on the same day, and ends with it too where it ends with its day.
            endings.push(Ending::EndOfDay);
        } else if one_sheet.is_none() {
            endings.push(Ending::NextSheet(node.sequence));
        }
        endings.extend(node.voided_by.iter().copied().map(Ending::Event));
        endings.extend(node.voided_after.iter().copied().map(Ending::Step));
        endings.extend(node.sent_back_by.iter().copied().map(Ending::SentBack));
        endings
    }
}
