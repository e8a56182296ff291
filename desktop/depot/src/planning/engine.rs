//! The plan of an engine of the register: its booked turn, and what its open sheet proves.

use std::collections::BTreeMap;

use offshed_core::engine::EngineState;
use offshed_core::ident::{EngineId, GradeId, SequenceId};
use offshed_core::pack::rows::StepRow;
use offshed_core::plan::Raising;
use offshed_core::register::Register;
use offshed_core::sheet::{Sheet, Stage};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::units::{Own, Quantity, Reading};
use offshed_core::verdict::{self, Scene, StepState, Who};

use super::{Asked, Begun, DoneStep, Heat, NotPlanned, Planned, USUAL, leading_out, work_back};
use crate::ledger::Ledger;
use crate::packfile::PackFile;

/// What is asked of an engine of the register; what is left out, the register knows.
#[derive(Clone, Copy, Debug, Default)]
pub struct EngineAsked<'a> {
    /// The off-shed time; left out: the booked turn's.
    pub off_shed: Option<Stamp>,
    /// The sequence; left out: the one that leads off shed.
    pub sequence: Option<SequenceId>,
    /// As [`Asked::hands`].
    pub hands: &'a [GradeId],
    /// The water's temperature now, °C.
    pub water_c: Option<f64>,
    /// The heating limit; left out: [`USUAL`].
    pub limit: Option<Raising>,
}

/// An engine's plan, with the rules it was made under.
#[derive(Clone, Debug)]
pub struct EnginePlan<'a> {
    /// The rules: those of its open sheet, or the adopted ones.
    pub pack: &'a PackFile,
    /// The turn it is planned for.
    pub turn: Option<&'a str>,
    /// The working pressure that the register knows.
    pub working: Option<Reading>,
    /// The plan.
    pub planned: Planned,
}

/// Plans an engine's way off shed: what its open sheet proves counts as done.
///
/// # Errors
/// [`NotPlanned`].
pub fn engine<'a>(
    ledger: &'a Ledger,
    id: EngineId,
    asked: &EngineAsked<'_>,
    now: Now,
) -> Result<EnginePlan<'a>, NotPlanned> {
    let facts = ledger.office.engine(id).ok_or(NotPlanned::NoEngine { engine: id })?;
    let adopted = ledger.adopted();
    let sequence = asked.sequence.or_else(|| leading_out(&adopted?.pack()));
    let sheet = open_sheet(ledger, id, sequence.or_else(|| leading_out(&adopted?.pack())));
    let pack = sheet.and_then(|sheet| ledger.pack(sheet.pack)).or(adopted).ok_or(NotPlanned::NoPack)?;
    let sequence = sequence.or_else(|| leading_out(&pack.pack())).ok_or(NotPlanned::NoSequence)?;
    let begun = begun(ledger, pack, id, sheet, now);
    if pack.pack().head().away.is_some_and(|state| begun.states.has(state.0)) {
        return Err(NotPlanned::Away { engine: id });
    }
    let turn = ledger.office.turn(id, now.stamp);
    let off_shed = asked.off_shed.or(turn.map(|(at, _)| at)).ok_or(NotPlanned::NoTurn { engine: id })?;
    let working = facts.working.and_then(|reading| reading.in_base(Quantity::Pressure, Own::UNKNOWN).ok());
    let heat = Heat {
        limit: asked.limit.unwrap_or(USUAL),
        water_c: asked.water_c,
        working_kpa: working.map(|milli| milli as f64 / 1_000.0),
    };
    let asked = Asked { sequence, features: facts.features, off_shed, now: now.stamp, hands: asked.hands, heat };
    let planned = work_back(pack, &asked, &begun)?;
    let turn = turn.filter(|(at, _)| *at == off_shed).map(|(_, turn)| turn.name.as_str());
    Ok(EnginePlan { pack, turn, working: facts.working, planned })
}

/// The engine's open sheet of a sequence; of several, the one opened last.
fn open_sheet(ledger: &Ledger, id: EngineId, sequence: Option<SequenceId>) -> Option<&Sheet> {
    let open = ledger.sheets().filter(|s| s.engine == id && Some(s.sequence) == sequence && s.stage() == Stage::Open);
    open.max_by_key(|sheet| (sheet.opened, sheet.id))
}

/// What is done on an engine.
fn begun(ledger: &Ledger, file: &PackFile, id: EngineId, sheet: Option<&Sheet>, now: Now) -> Begun {
    let nothing = EngineState::new(id);
    let engine = ledger.engine(id).unwrap_or(&nothing);
    let pack = file.pack();
    let in_steam = pack.head().steam.is_some_and(|state| engine.is_in(state));
    let elsewhere = pack.all_steps().filter(|row| alive(ledger, engine, row, now)).map(|row| row.id).collect();
    let mut begun = Begun { states: engine.states(), in_steam, steps: BTreeMap::new(), elsewhere };
    let Some(sheet) = sheet else { return begun };
    let scene = Scene { pack: &pack, register: &ledger.office, engine, sheet: Some(sheet), left_at: None };
    for row in pack.steps(sheet.sequence) {
        let (mark, alive) = match verdict::of(&scene, row.id, Who::default(), now) {
            StepState::Proven { mark, .. } => (mark, true),
            StepState::Skipped { mark } => (mark, true),
            StepState::Gone { mark, .. } => (mark, false),
            _ => continue,
        };
        let done = DoneStep { alive, at: mark.proof.at, value: mark.proof.value };
        begun.steps.insert(row.id, done);
    }
    begun
}

/// Whether the engine's last proof of a shared step is neither taken away nor lapsed.
fn alive(ledger: &Ledger, engine: &EngineState, row: &StepRow, now: Now) -> bool {
    let Some(proof) = engine.proof(row.id) else { return false };
    let (life, zone) = (i64::from(row.life_seconds), ledger.office.zone());
    let in_time = life == 0 || now.stamp.since(proof.at) < life;
    let same_day = !row.ends_with_day || zone.day(proof.at) == zone.day(now.stamp);
    engine.voided(row.id, proof.nth).is_none() && in_time && same_day
}
