//! A row `work`: passing answers to everything that is open, as far as a step.

use offshed_core::ident::{PersonId, SheetId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::KindRow;
use offshed_core::stamp::Now;
use offshed_core::verdict::{self, Scene, StepState, Who};

use super::row::{Row, ScriptFault, fault};
use crate::ids::Ids;
use crate::passing::{Passer, Passing};
use crate::shed::{Given, Shed};

/// The steps named after "but" in a row `work`: they are left alone.
pub(super) fn left_alone(shed: &Shed, row: &Row, sheet: SheetId) -> Result<Vec<StepId>, ScriptFault> {
    let Some(list) = row.words.strip_prefix("but ") else {
        return if row.words.is_empty() {
            Ok(Vec::new())
        } else {
            fault(row, "words", "\"but\" and step ids, or nothing")
        };
    };
    let pack = shed.ledger().sheet(sheet).and_then(|s| shed.ledger().pack(s.pack));
    let Some(pack) = pack else { return Ok(Vec::new()) };
    let ids = Ids::of(pack);
    list.split_whitespace().map(|id| ids.step(id).or_else(|none| fault(row, "words", none.to_string()))).collect()
}

/// What a row `work` answers.
pub(super) struct Plan {
    pub(super) sheet: SheetId,
    pub(super) goal: StepId,
    pub(super) left: Vec<StepId>,
    pub(super) person: PersonId,
    pub(super) with: Option<PersonId>,
}

impl Plan {
    /// The next passing answer on the sheet, in the sequence's order and no further than the goal, and the seconds that
    /// pass before it.
    pub(super) fn next(&self, shed: &Shed, now: Now) -> Option<(Given, u32)> {
        shed.scene(self.sheet, |scene| {
            let last = scene.pack.place_of(self.goal)?;
            let who = Who { person: Some(self.person), with: self.with };
            let mut open = verdict::offers(scene, who, now)
                .filter(|offer| scene.pack.place_of(offer.step) <= Some(last) && !self.left.contains(&offer.step));
            open.find_map(|offer| self.answer(scene, offer.step, who, now))
        })?
    }

    fn answer(&self, scene: &Scene<'_>, id: StepId, who: Who, now: Now) -> Option<(Given, u32)> {
        let step = scene.pack.step(id)?;
        // What somebody found not right, or put aside, is for a person to take up again.
        let state = verdict::of(scene, id, who, now);
        let put_aside = matches!(state, StepState::NotRight { .. } | StepState::Skipped { .. });
        if put_aside || matches!(step.kind, KindRow::Signature { .. }) {
            return None;
        }
        let passer = Passer { scene, now };
        let Passing { answer, seconds } = passer.answer(scene.sheet?, &step)?;
        let wants = scene.pack.needs(step.needs).any(|need| matches!(need.rule, Rule::With(_)));
        let with = self.with.filter(|_| wants);
        Some((Given { sheet: self.sheet, step: id, answer, with, done_at: None }, seconds))
    }
}
