//! The least reading to leave with, as the adopted rules want it for the road of the engine's turn.

use offshed_core::ident::EngineId;
use offshed_core::pack::rows::{Figure, KindRow};
use offshed_core::register::Register;
use offshed_core::units::Own;
use offshed_core::verdict::{self, Basis, Scene};
use offshed_depot::shed;

use super::super::Session;

/// The least reading to leave with, as the adopted rules want it.
pub(super) struct Least {
    /// Over the bottom nut, mm.
    pub(super) mm: f64,
    /// In words, with what the rules want.
    pub(super) words: String,
}

/// The least reading to leave with by the adopted pack's first step that works it out, and the cover it wants, mm.
pub(super) fn least(session: &Session, engine: EngineId) -> Option<(Result<Least, String>, f64)> {
    let ledger = session.ledger();
    let file = ledger.adopted()?;
    let pack = file.pack();
    let wants = |kind: &KindRow| matches!(kind, KindRow::Figure { figure: Figure::LeastLevel, .. });
    let step = pack.all_steps().find(|step| wants(&step.kind))?;
    let state = offshed_core::engine::EngineState::new(engine);
    let state = ledger.engine(engine).unwrap_or(&state);
    let scene = Scene { pack: &pack, register: &ledger.office, engine: state, sheet: None, left_at: None };
    let now = session.now();
    Some(match verdict::figure(&scene, &step, now) {
        Ok(worked) => {
            let cover_mm = if let Basis::LeastLevel { cover_mm, .. } = worked.basis { cover_mm } else { 0.0 };
            let own = ledger.office.engine(engine).map_or(Own::UNKNOWN, |facts| facts.own());
            let words = format!(
                "Least to leave with for the road of the turn: {} or more, regulator shut; the rules want {cover_mm:.0} mm \
                 over the crown, and the error of reading is in it.",
                worked.result
            );
            let mm = worked.result.value(own);
            (mm.map(|mm| Least { mm, words }).ok_or_else(|| "its unit needs the engine's glass".to_owned()), cover_mm)
        }
        Err(why) => (Err(shed::sentence(ledger, Some(file), &why, now.stamp)), 0.0),
    })
}
