//! One step, large: what to do, where it can hurt, where it comes from, how it stands, and what it waits for.

use offshed_core::ident::StepId;
use offshed_core::pack::Rule;
use offshed_core::reason::Why;
use offshed_core::verdict::{self, Reason, StepState};
use offshed_depot::ids::Ids;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed;
use offshed_depot::views::{self, StepView};

use super::super::Session;
use super::form::Looks;
use super::{CrewDesk, people};

/// One step.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StepCard {
    /// Its number.
    pub id: u16,
    /// Its title.
    pub title: String,
    /// Its stage.
    pub stage: String,
    /// What to do.
    pub instruction: String,
    /// Where it can hurt.
    pub caution: String,
    /// Where it comes from.
    pub source: String,
    /// Who may answer it, and how long it takes.
    pub by: String,
    /// Its state's key.
    pub state: &'static str,
    /// Its state in a word or two.
    pub word: &'static str,
    /// What was answered, when and by whom; until when it holds.
    pub answered: String,
    /// What was worked out, for a person to accept.
    pub worked_out: String,
    /// Why it waits.
    pub reasons: Vec<ReasonRow>,
    /// The answer may be struck out by the person who is signed on.
    pub may_strike: bool,
    /// A fault may be reported though the step is not open.
    pub may_report: bool,
}

/// One reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReasonRow {
    /// In words, with what would cure it.
    pub words: String,
    /// Where it leads when it is touched; empty: nowhere on this sheet.
    pub leads: String,
}

/// Where a reason leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Target {
    /// To the step that would cure it.
    Step(StepId),
    /// To the second person.
    Second,
    /// To somebody else.
    Person,
    /// Nothing on this sheet cures it.
    Nowhere,
}

/// The state of a step in a word or two.
pub(in super::super) fn state_word(state: &str) -> &'static str {
    match state {
        "open" => "To do",
        "under-way" => "Under way",
        "waiting" => "Waits",
        "proven" => "Done",
        "warned" => "Done, with a warning",
        "lapsed" => "Lapsed",
        "not-right" => "Not right",
        "skipped" => "Not applicable",
        "does-not-apply" => "Not fitted",
        _ => "Not known",
    }
}

/// Where each reason of a step leads, in the reasons' order.
pub(super) fn targets(looks: &Looks<'_>, step: StepId) -> Vec<Target> {
    reasons(looks, step).iter().map(|reason| target(looks, reason)).collect()
}

/// Every reason against the step now: of its state; where its answer no longer holds, that first, then what stands in
/// the way of another.
fn reasons(looks: &Looks<'_>, step: StepId) -> Vec<Reason> {
    let now = looks.session.now();
    let found = shed::scene(looks.session.ledger(), looks.sheet, |scene| {
        let state = verdict::of(scene, step, looks.who, now);
        let mut all: Vec<Reason> = Vec::new();
        match &state {
            StepState::Waiting(judged) => all.extend(judged.reasons.iter().copied()),
            StepState::Gone { why, .. } => all.push(Reason { rule: None, group: 0, why: *why }),
            _ => {}
        }
        let again = matches!(
            state,
            StepState::Gone { .. }
                | StepState::NotRight { .. }
                | StepState::Skipped { .. }
                | StepState::UnderWay { .. }
        );
        if let (true, Ok((row, _))) = (again, verdict::find(scene, step)) {
            all.extend(verdict::needs(scene, &row, looks.who, now).reasons.iter().copied());
        }
        all
    });
    found.unwrap_or_default()
}

fn target(looks: &Looks<'_>, reason: &Reason) -> Target {
    if matches!(reason.rule, Some(Rule::With(_))) {
        return Target::Second;
    }
    let step = match reason.why {
        Why::NeedsFirst { step }
        | Why::NotRight { step }
        | Why::Skipped { step }
        | Why::Lapsed { step, .. }
        | Why::Voided { step, .. }
        | Why::ClockDoubted { step }
        | Why::Low { step, .. }
        | Why::High { step, .. }
        | Why::NoValue { step } => Some(step),
        Why::Disagree { a, .. } => Some(a),
        Why::TooSoon { since, .. } => Some(since),
        Why::NotInGrade { .. } | Why::GradeLapsed { .. } | Why::SamePerson { .. } | Why::OnThisSheet { .. } => {
            return Target::Person;
        }
        _ => None,
    };
    let here = step.filter(|step| on_this_sheet(looks, *step));
    here.map_or(Target::Nowhere, Target::Step)
}

fn on_this_sheet(looks: &Looks<'_>, step: StepId) -> bool {
    shed::scene(looks.session.ledger(), looks.sheet, |scene| verdict::find(scene, step).is_ok()).unwrap_or(false)
}

impl CrewDesk {
    /// One step as the page shows it.
    pub(super) fn step_card(&self, looks: &Looks<'_>, id: StepId, view: &views::SheetView) -> StepCard {
        let found = view.stages.iter().find_map(|stage| {
            let step = stage.steps.iter().find(|step| number(looks, step) == Some(id))?;
            Some((stage.title.clone(), step))
        });
        let Some((stage, step)) = found else { return StepCard::default() };
        let form = looks.form(id);
        let accepts = form.kind == super::form::Kind::Accept;
        let open = view.stage == "open";
        StepCard {
            id: id.0,
            title: step.title.clone(),
            stage,
            instruction: step.instruction.clone(),
            caution: step.caution.clone(),
            source: step.source.clone(),
            by: by(step),
            state: step.state,
            word: state_word(step.state),
            answered: answered(step),
            worked_out: if accepts { worked_out(step) } else { String::new() },
            reasons: self.reason_rows(looks, id),
            may_strike: self.may_strike(looks, id),
            may_report: open && !form.kind.answers() && !signature(looks, id) && step.state != "does-not-apply",
        }
    }

    fn reason_rows(&self, looks: &Looks<'_>, step: StepId) -> Vec<ReasonRow> {
        let pack = pack(looks);
        let row = |reason: &Reason| {
            let words = looks.session.refusal(&reason.why, pack).words;
            let words = if reason.group == 0 { words } else { format!("one of several ways: {words}") };
            let leads = match target(looks, reason) {
                Target::Step(step) => self.title_of(looks.session, looks.sheet, step),
                Target::Second => "name the second person".to_owned(),
                Target::Person => "sign on as somebody else".to_owned(),
                Target::Nowhere => String::new(),
            };
            ReasonRow { words, leads }
        };
        reasons(looks, step).iter().map(row).collect()
    }

    /// Whoever gave the answer may strike it out, and so may the office, while the sheet is open.
    fn may_strike(&self, looks: &Looks<'_>, step: StepId) -> bool {
        let open = looks.session.ledger().sheet(looks.sheet).is_some_and(|s| verdict::takes_answers(s).is_ok());
        let mark = self.mark(looks.session, looks.sheet, step);
        let Some((mark, person)) = mark.zip(self.hands.person) else { return false };
        open && (mark.proof.by == person || people::of_office(looks.session.ledger(), person))
    }

    /// A step's title.
    pub(super) fn title_of(&self, session: &Session, sheet: offshed_core::ident::SheetId, step: StepId) -> String {
        let pack = session.ledger().sheet(sheet).and_then(|sheet| session.ledger().pack(sheet.pack));
        pack.map_or(String::new(), |file| file.texts().get(file.pack().step_title(step)).to_owned())
    }
}

fn signature(looks: &Looks<'_>, step: StepId) -> bool {
    let row = pack(looks).and_then(|file| file.pack().step(step));
    row.is_some_and(|row| matches!(row.kind, offshed_core::pack::rows::KindRow::Signature { .. }))
}

fn pack<'a>(looks: &Looks<'a>) -> Option<&'a PackFile> {
    let sheet = looks.session.ledger().sheet(looks.sheet)?;
    looks.session.ledger().pack(sheet.pack)
}

/// The number of a step of a view.
pub(super) fn number(looks: &Looks<'_>, step: &StepView) -> Option<StepId> {
    Ids::of(pack(looks)?).step(&step.id).ok()
}

/// What is to be accepted, with its working where it is a figure.
fn worked_out(step: &StepView) -> String {
    let Some(working) = &step.working else { return step.asks.clone() };
    let inputs: Vec<String> = working.inputs.iter().map(|i| format!("{} {}", i.name, i.value)).collect();
    let mut lines = vec![format!("{} (within {})", working.result, working.error)];
    lines.extend(working.lines.iter().cloned());
    lines.push(format!("From: {}", inputs.join("; ")));
    lines.push(format!("By: {} ({})", working.formula, working.source));
    lines.join("\n")
}

fn by(step: &StepView) -> String {
    match step.minutes {
        0 => step.by.clone(),
        minutes => format!("{}, about {minutes} min", step.by),
    }
}

/// "08:12, Corin Vey, 95 mm, until 12:12".
pub(super) fn answered(step: &StepView) -> String {
    let until = step.until.as_ref().map(|until| format!("until {until}"));
    let parts = [step.at_short.clone(), step.person.clone(), step.value.clone(), until];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}
