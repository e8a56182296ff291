//! The treatment page: an engine's latest water test beside its limits, the dose and the blowdown worked out from it, and
//! where the solids are heading. It looks and records nothing; every figure is the core's.

mod history;

use offshed_core::boiler::water::blowdown::{Advice, Rounds, Task};
use offshed_core::ident::{EngineId, StepId};
use offshed_core::pack::rows::{Figure, KindRow, LimitSlots, StepRow};
use offshed_core::pack::{Pack, slot};
use offshed_core::sheet::{Sheet, Stage};
use offshed_core::units::Quantity;
use offshed_core::verdict::{self, Basis, Scene, Who};
use offshed_depot::ids::Ids;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed;
use offshed_depot::views::{self, Moments, StepView, Titles};

use super::Session;
use super::boiler::facts;
use super::boiler::gauge::{Gauge, MarkKind};
pub use history::{Dated, History};

/// The caution that stands on the page.
pub const CAUTION: &str = "A figure is advice to a competent person. Treatment and test chemicals: gloves and goggles, the \
supplier's data sheet at hand. Boiler water scalds and is caustic. A blowdown takes two proven means of level, two proven \
feeds, the discharge clear and a second person who watches the glass; it stops at the lower mark whatever the figure says. \
Low water: the railway's own approved instruction. This page never advises feeding.";

/// One test.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TestRow {
    /// What is tested.
    pub title: String,
    /// What it showed; empty: not tested yet.
    pub value: String,
    /// Its limits.
    pub limits: String,
    /// Key of its sign.
    pub mark: &'static str,
    /// Its state in a word or two.
    pub word: &'static str,
    /// When and by whom.
    pub note: String,
}

/// A figure that the rules work out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FigureCard {
    /// What it is; empty: the rules work none out.
    pub title: String,
    /// Its result now; empty: it can't be told.
    pub result: String,
    /// What it means, line by line; or why it can't be told.
    pub lines: Vec<String>,
    /// What it starts from.
    pub from: String,
    /// What was accepted on the sheet; empty: nothing.
    pub recorded: String,
    /// What was put in since the test, which the figure does not know of; empty: nothing.
    pub since: String,
    /// The rules' own caution at this step.
    pub caution: String,
}

/// The page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TreatmentView {
    /// The engine's number.
    pub engine: u16,
    /// The engine.
    pub title: String,
    /// Which sheet it speaks of.
    pub sheet: String,
    /// What to do where there is none; empty: there is one.
    pub missing: String,
    /// The tests.
    pub tests: Vec<TestRow>,
    /// The dose.
    pub dose: FigureCard,
    /// The blowdown.
    pub blowdown: FigureCard,
    /// The blowdown on a glass; without marks where none is to be done.
    pub gauge: Gauge,
    /// Solids and treatments on record.
    pub history: History,
    /// The caution.
    pub caution: &'static str,
}

/// Whether a step tests the water: a reading of what is dissolved in it, or the solids worked out.
fn tests_water(step: &StepRow) -> bool {
    let dissolved = [Quantity::Concentration, Quantity::Hardness, Quantity::Conductivity, Quantity::Ph];
    match step.kind {
        KindRow::Reading { unit, .. } => dissolved.contains(&unit.quantity()),
        KindRow::Figure { figure, .. } => figure == Figure::Solids,
        _ => false,
    }
}

/// The engine's newest sheet that tests its water; a sheet that was given up or joined to another is none.
fn newest(session: &Session, engine: EngineId) -> Option<(&Sheet, &PackFile)> {
    let ledger = session.ledger();
    let counts = |sheet: &&Sheet| sheet.engine == engine && matches!(sheet.stage(), Stage::Open | Stage::Finished(_));
    let tests = ledger.sheets().filter(counts).filter_map(|sheet| {
        let file = ledger.pack(sheet.pack)?;
        file.pack().steps(sheet.sequence).any(|step| tests_water(&step)).then_some((sheet, file))
    });
    tests.max_by_key(|(sheet, _)| (sheet.opened, sheet.id))
}

/// The page for an engine.
pub fn view(session: &Session, engine: EngineId) -> TreatmentView {
    let title = super::boiler::title(session, engine);
    let base = TreatmentView { engine: engine.0, caution: CAUTION, title, ..TreatmentView::default() };
    let Some((sheet, file)) = newest(session, engine) else {
        let missing = "No water test of this engine is on record. Open one at the crew desk: the engine, then the sheet of \
                       the water test.";
        return TreatmentView { missing: missing.to_owned(), ..base };
    };
    let shown =
        shed::scene(session.ledger(), sheet.id, |scene| Page { session, sheet, file, scene }.view(base.clone()));
    shown.unwrap_or(base)
}

struct Page<'a> {
    session: &'a Session,
    sheet: &'a Sheet,
    file: &'a PackFile,
    scene: &'a Scene<'a>,
}

impl Page<'_> {
    fn pack(&self) -> Pack<'_> {
        self.file.pack()
    }

    fn steps(&self) -> Vec<StepRow> {
        self.pack().steps(self.sheet.sequence).collect()
    }

    fn view(&self, base: TreatmentView) -> TreatmentView {
        let ledger = self.session.ledger();
        let full = views::sheet(ledger, self.sheet.id, Who::default(), self.session.now());
        let seen: Vec<StepView> = full.into_iter().flat_map(|f| f.stages).flat_map(|stage| stage.steps).collect();
        let seen_of = |id: StepId| {
            let name = Ids::of(self.file).step_id(id);
            seen.iter().find(|step| step.id == name)
        };
        let steps = self.steps();
        let rows = steps.iter().filter_map(|step| self.test(step, seen_of(step.id)?));
        let card = |wants: fn(Figure) -> bool| {
            let is = |step: &&StepRow| matches!(step.kind, KindRow::Figure { figure, .. } if wants(figure));
            let step = steps.iter().find(is)?;
            Some(self.card(step, seen_of(step.id)))
        };
        let log = views::water(ledger, self.sheet.engine, self.session.now());
        let since = history::put_in_since(&log, &self.sheet.id.to_string());
        let dose = card(|figure| matches!(figure, Figure::Dose { .. }));
        TreatmentView {
            sheet: self.heading(),
            tests: rows.collect(),
            dose: dose.map(|card| FigureCard { since, ..card }).unwrap_or_default(),
            blowdown: card(|figure| matches!(figure, Figure::Blowdown)).unwrap_or_default(),
            gauge: self.gauge(&steps),
            history: history::history(&log),
            ..base
        }
    }

    fn heading(&self) -> String {
        let title = self.pack().sequence(self.sheet.sequence).map_or("", |row| self.file.texts().get(row.text));
        let opened = Moments::new(self.session.zone()).short(self.sheet.opened, self.session.now().stamp);
        let stage = if self.sheet.stage() == Stage::Open { "still open" } else { "finished" };
        format!("{title}, opened {opened}, {stage}")
    }

    /// A test of the water beside its limits, where it applies to the engine.
    fn test(&self, step: &StepRow, seen: &StepView) -> Option<TestRow> {
        let limits = match step.kind {
            KindRow::Reading { limits, .. } | KindRow::Figure { limits, .. } if tests_water(step) => limits,
            _ => return None,
        };
        if seen.state == "does-not-apply" {
            return None;
        }
        let at = [seen.at_short.clone(), seen.person.clone()].into_iter().flatten().collect::<Vec<_>>().join(", ");
        let reason = seen.reasons.first().map_or(String::new(), |reason| reason.words.clone());
        Some(TestRow {
            title: seen.title.clone(),
            value: seen.value.clone().unwrap_or_default(),
            limits: self.limits(limits),
            mark: seen.state,
            word: super::crew::state_word(seen.state),
            note: if at.is_empty() { reason } else { at },
        })
    }

    /// Limits in words: the range that is wanted, and the one that counts.
    fn limits(&self, slots: LimitSlots) -> String {
        let limit = |n| self.pack().limit(slots, n).map(|limit| limit.to_string());
        let range = |low: Option<String>, high: Option<String>| match (low, high) {
            (Some(low), Some(high)) => Some(format!("{low} to {high}")),
            (Some(low), None) => Some(format!("{low} or more")),
            (None, Some(high)) => Some(format!("up to {high}")),
            (None, None) => None,
        };
        let wanted = range(limit(slot::WARN_LOW), limit(slot::WARN_HIGH)).map(|wanted| format!("wanted {wanted}"));
        let right = range(limit(slot::LOW), limit(slot::HIGH)).map(|right| format!("right {right}"));
        let both: Vec<String> = [wanted, right].into_iter().flatten().collect();
        if both.is_empty() { "no limits in the rules".to_owned() } else { both.join("; ") }
    }

    fn card(&self, step: &StepRow, seen: Option<&StepView>) -> FigureCard {
        let ledger = self.session.ledger();
        let now = self.session.now();
        let text = |id| self.file.texts().get(id).to_owned();
        let recorded =
            seen.filter(|seen| seen.value.is_some() && seen.state != "skipped").map_or(String::new(), |seen| {
                let parts = [seen.value.clone(), seen.at_short.clone(), seen.person.clone()];
                format!("Accepted: {}", parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
            });
        let base = FigureCard {
            title: text(self.pack().step_title(step.id)),
            recorded,
            caution: seen.map_or(String::new(), |seen| seen.caution.clone()),
            ..FigureCard::default()
        };
        if seen.is_some_and(|seen| seen.state == "does-not-apply") {
            let why = "It cannot be worked out for this engine: its boiler is not measured, or not said to be. The office \
                       enters it with  offshed register boiler";
            return FigureCard { lines: vec![why.to_owned()], ..base };
        }
        let titles = Titles { text: &text, office: &ledger.office };
        match views::working(self.scene, &titles, step, now) {
            Some(working) => {
                let from: Vec<String> = working.inputs.iter().map(|i| format!("{} {}", i.name, i.value)).collect();
                let result = match self.is_needless(step) {
                    true => "None needed".to_owned(),
                    false => format!("{} (within {})", working.result, working.error),
                };
                FigureCard {
                    result,
                    lines: working.lines,
                    from: format!("From: {}. By: {} ({})", from.join("; "), working.formula, working.source),
                    ..base
                }
            }
            None => FigureCard { lines: vec![self.why_not(step)], ..base },
        }
    }

    /// A blowdown of water that is under its target.
    fn is_needless(&self, step: &StepRow) -> bool {
        let worked = verdict::figure(self.scene, step, self.session.now());
        worked.is_ok_and(|worked| matches!(worked.basis, Basis::Blowdown { advice: Advice::NotNeeded { .. }, .. }))
    }

    fn why_not(&self, step: &StepRow) -> String {
        let now = self.session.now();
        match verdict::figure(self.scene, step, now) {
            Ok(_) => String::new(),
            Err(why) => {
                let words = shed::sentence(self.session.ledger(), Some(self.file), &why, now.stamp);
                format!("It cannot be worked out now: {words}")
            }
        }
    }

    fn gauge(&self, steps: &[StepRow]) -> Gauge {
        let is = |step: &&StepRow| matches!(step.kind, KindRow::Figure { figure: Figure::Blowdown, .. });
        let worked = steps.iter().find(is).and_then(|step| verdict::figure(self.scene, step, self.session.now()).ok());
        let visible = facts(self.session, self.sheet.engine).map(|(vessel, _)| vessel.visible_mm());
        match (worked.map(|worked| worked.basis), visible) {
            (Some(Basis::Blowdown { advice: Advice::Blow(rounds), task }), Some(visible)) => {
                blowdown_gauge(&task, &rounds, visible)
            }
            _ => Gauge::default(),
        }
    }
}

/// A blowdown on a glass: where it starts and stops, and the mark it never passes.
pub fn blowdown_gauge(task: &Task, rounds: &Rounds, visible_mm: f64) -> Gauge {
    let again = match rounds.rounds {
        0 | 1 => String::new(),
        n => format!(", {n} times"),
    };
    let marks = vec![
        (MarkKind::Read, task.level.mm, format!("Start: {:.0} mm", task.level.mm)),
        (
            MarkKind::Level,
            rounds.stop_mm,
            format!("Stop: {:.0} mm, a fall of {:.0} mm{again}", rounds.stop_mm, rounds.fall_mm),
        ),
        (MarkKind::Line, task.lower_mark_mm, format!("Lower mark: {:.0} mm, never below", task.lower_mark_mm)),
    ];
    Gauge::new(visible_mm, task.level.mm, 0.0, marks).banded(visible_mm, rounds.stop_mm, task.level.mm)
}
