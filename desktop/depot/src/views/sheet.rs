//! One sheet: stages, steps, how each stands and why, what is contested.

use offshed_core::entry::{Answer, What};
use offshed_core::ident::{SheetId, TextId};
use offshed_core::pack::rows::{AskRow, KindRow, StepRow};
use offshed_core::pack::{Pack, part_unit, slot};
use offshed_core::register::Register;
use offshed_core::sheet::{Contest, Mark, Outcome, Sheet, Stage};
use offshed_core::stamp::Now;
use offshed_core::verdict::{self, Judged, Scene, StepState, Who};
use offshed_core::words::{self, Arg, ENGLISH, Names};
use serde::Serialize;

use super::Moments;
use super::board::{ReasonView, pack_of, reason_view};
use super::working::{Titles, WorkingView};
use crate::ids::Ids;
use crate::ledger::{Ledger, PackNames};
use crate::packfile::PackFile;
use crate::shed::scene;

/// A sheet.
#[derive(Clone, Debug, Serialize)]
pub struct SheetView {
    /// Its id: the opening entry.
    pub sheet: String,
    /// The engine.
    pub engine: u16,
    /// The sequence, by id.
    pub sequence: String,
    /// The sequence's title.
    pub title: String,
    /// `open`, `finished`, `abandoned`, `joined`.
    pub stage: &'static str,
    /// When it was opened, RFC 3339 local.
    pub opened: String,
    /// By whom.
    pub opened_by: String,
    /// The pack it is bound to.
    pub pack: String,
    /// Steps that apply and are proven.
    pub proven: usize,
    /// Steps that apply.
    pub steps: usize,
    /// The stages.
    pub stages: Vec<StageView>,
    /// Entries that do not count, or count but must be seen.
    pub contested: Vec<ContestView>,
}

/// A stage of a sheet.
#[derive(Clone, Debug, Serialize)]
pub struct StageView {
    /// Its title.
    pub title: String,
    /// Its steps.
    pub steps: Vec<StepView>,
}

/// A step on a sheet.
#[derive(Clone, Debug, Serialize)]
pub struct StepView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// What to do.
    pub instruction: String,
    /// Where it can hurt; may be empty.
    pub caution: String,
    /// Where it comes from.
    pub source: String,
    /// `open`, `under-way`, `waiting`, `proven`, `warned`, `lapsed`, `not-right`, `skipped`, `does-not-apply`.
    pub state: &'static str,
    /// What it asks, with limits, in words; for a procedure under way, its next part.
    pub asks: String,
    /// The working of the figure it computes, when it is to be accepted and can be told.
    pub working: Option<WorkingView>,
    /// Whether it may be marked not applicable now, with a reason.
    pub may_skip: bool,
    /// Who may answer it.
    pub by: String,
    /// Minutes it usually takes.
    pub minutes: u8,
    /// When it was answered, RFC 3339 local.
    pub at: Option<String>,
    /// When it was answered, short.
    pub at_short: Option<String>,
    /// Who answered it.
    pub person: Option<String>,
    /// The value that was read.
    pub value: Option<String>,
    /// When the proof lapses, short.
    pub until: Option<String>,
    /// Why it waits, or why its proof is gone.
    pub reasons: Vec<ReasonView>,
}

/// A contested entry.
#[derive(Clone, Debug, Serialize)]
pub struct ContestView {
    /// The entry.
    pub entry: String,
    /// The step, by id.
    pub step: Option<String>,
    /// `not-offered`, `unseen`, `arrived-after-signing`.
    pub kind: &'static str,
    /// In words, with the devices.
    pub words: String,
}

/// One line about a sheet.
#[derive(Clone, Debug, Serialize)]
pub struct SheetLine {
    /// Its id.
    pub sheet: String,
    /// The engine.
    pub engine: u16,
    /// The sequence, by id.
    pub sequence: String,
    /// `open`, `finished`, `abandoned`, `joined`.
    pub stage: &'static str,
    /// When it was opened, local.
    pub opened: String,
    /// Contested entries.
    pub contested: usize,
}

/// All sheets, newest first.
pub fn sheets(ledger: &Ledger) -> Vec<SheetLine> {
    let moments = Moments::new(ledger.office.zone());
    let mut all: Vec<&Sheet> = ledger.sheets().collect();
    all.sort_by_key(|s| std::cmp::Reverse((s.opened, s.id)));
    let line = |sheet: &Sheet| SheetLine {
        sheet: sheet.id.to_string(),
        engine: sheet.engine.0,
        sequence: ledger
            .pack(sheet.pack)
            .map_or_else(|| sheet.sequence.to_string(), |p| Ids::of(p).sequence_id(sheet.sequence)),
        stage: stage_key(sheet.stage()),
        opened: moments.long(sheet.opened),
        contested: sheet.contested().len() + usize::from(sheet.contested_more()),
    };
    all.into_iter().map(line).collect()
}

/// The stable key of a sheet's stage.
pub(crate) fn stage_key(stage: Stage) -> &'static str {
    match stage {
        Stage::Open => "open",
        Stage::Finished(_) => "finished",
        Stage::Abandoned(_) => "abandoned",
        Stage::Joined(_) => "joined",
    }
}

/// A sheet at work in a few words: "Preparation, 34 of 62".
pub fn sheet_title(ledger: &Ledger, sheet: &Sheet, now: Now) -> String {
    let Some((file, pack)) = pack_of(ledger, sheet.pack) else { return format!("sheet under pack {}", sheet.pack) };
    let title = pack.sequence(sheet.sequence).map_or("", |s| file.texts().get(s.text));
    let counted = scene(ledger, sheet.id, |scene| count(scene, &pack, sheet, now));
    let (proven, steps) = counted.unwrap_or((0, 0));
    format!("{title}, {proven} of {steps}")
}

fn count(scene: &Scene<'_>, pack: &Pack<'_>, sheet: &Sheet, now: Now) -> (usize, usize) {
    pack.steps(sheet.sequence).fold((0, 0), |(proven, steps), step| {
        match verdict::of(scene, step.id, Who::default(), now) {
            StepState::DoesNotApply => (proven, steps),
            StepState::Proven { .. } | StepState::Skipped { .. } => (proven + 1, steps + 1),
            _ => (proven, steps + 1),
        }
    })
}

/// A sheet as it stands at `now` for `who`; `None` when it or its pack is not here.
pub fn sheet(ledger: &Ledger, id: SheetId, who: Who, now: Now) -> Option<SheetView> {
    let sheet = ledger.sheet(id)?;
    let (file, pack) = pack_of(ledger, sheet.pack)?;
    let names = PackNames::new(ledger, Some(file), now.stamp);
    let moments = Moments::new(ledger.office.zone());
    scene(ledger, id, |scene| {
        let view = View { ledger, file, pack, names: &names, moments, scene, who, now };
        view.sheet(sheet)
    })
}

struct View<'a> {
    ledger: &'a Ledger,
    file: &'a PackFile,
    pack: Pack<'a>,
    names: &'a PackNames<'a>,
    moments: Moments<'a>,
    scene: &'a Scene<'a>,
    who: Who,
    now: Now,
}

impl View<'_> {
    fn text(&self, id: TextId) -> String {
        self.file.texts().get(id).to_owned()
    }

    fn named(&self, arg: Arg) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = self.names.write(arg, &mut out);
        out
    }

    fn sheet(&self, sheet: &Sheet) -> SheetView {
        let row = self.pack.sequence(sheet.sequence);
        let stages = row.map_or(0, |r| r.stages.len);
        let (proven, steps) = count(self.scene, &self.pack, sheet, self.now);
        SheetView {
            sheet: sheet.id.to_string(),
            engine: sheet.engine.0,
            sequence: Ids::of(self.file).sequence_id(sheet.sequence),
            title: row.map_or_else(String::new, |r| self.text(r.text)),
            stage: stage_key(sheet.stage()),
            opened: self.moments.rfc3339(sheet.opened),
            opened_by: self.named(Arg::Person(sheet.opener)),
            pack: self.file.title(),
            proven,
            steps,
            stages: (0..stages).map(|n| self.stage(sheet, n)).collect(),
            contested: sheet.contested().iter().map(|c| self.contested(c)).collect(),
        }
    }

    fn stage(&self, sheet: &Sheet, n: u8) -> StageView {
        let steps = self.pack.steps(sheet.sequence).filter(|step| step.stage == n);
        StageView {
            title: self.text(self.pack.stage_title(sheet.sequence, n)),
            steps: steps.map(|step| self.step(&step)).collect(),
        }
    }

    fn step(&self, step: &StepRow) -> StepView {
        let state = verdict::of(self.scene, step.id, self.who, self.now);
        let text = |n: u16| self.text(TextId(step.text.0.saturating_add(n)));
        let mut view = StepView {
            id: Ids::of(self.file).step_id(step.id),
            title: text(0),
            instruction: text(1),
            caution: text(2),
            source: text(3),
            state: "open",
            asks: self.asks(step, &state),
            working: self.working(step, &state),
            may_skip: self.may_skip(step, &state),
            by: self.named(Arg::Grade(step.by)),
            minutes: step.minutes,
            at: None,
            at_short: None,
            person: None,
            value: None,
            until: None,
            reasons: Vec::new(),
        };
        self.fill(&mut view, state);
        view
    }

    fn fill(&self, view: &mut StepView, state: StepState) {
        match state {
            StepState::DoesNotApply => view.state = "does-not-apply",
            StepState::Open => view.state = "open",
            StepState::UnderWay { .. } => view.state = "under-way",
            StepState::Waiting(judged) => {
                view.state = "waiting";
                view.reasons = self.reasons(&judged);
            }
            StepState::Proven { mark, until } => {
                self.answered(view, &mark);
                let warned = matches!(mark.outcome, Outcome::Proven { warned: true });
                view.state = if warned { "warned" } else { "proven" };
                view.until = until.map(|at| self.moments.short(at, self.now.stamp));
            }
            StepState::Gone { mark, why } => {
                self.answered(view, &mark);
                view.state = "lapsed";
                view.reasons.push(self.reason(why));
            }
            StepState::NotRight { mark } => {
                self.answered(view, &mark);
                view.state = "not-right";
            }
            StepState::Skipped { mark } => {
                self.answered(view, &mark);
                view.state = "skipped";
            }
        }
    }

    fn reasons(&self, judged: &Judged) -> Vec<ReasonView> {
        judged.reasons.iter().map(|reason| reason_view(self.names, Some(self.file), reason)).collect()
    }

    fn reason(&self, why: offshed_core::reason::Why) -> ReasonView {
        let reason = verdict::Reason { rule: None, group: 0, why };
        reason_view(self.names, Some(self.file), &reason)
    }

    fn answered(&self, view: &mut StepView, mark: &Mark) {
        let proof = &mark.proof;
        view.at = Some(self.moments.rfc3339(proof.at));
        view.at_short = Some(self.moments.short(proof.at, self.now.stamp));
        view.person = Some(self.named(Arg::Person(proof.by)));
        let told = || self.ledger.entry(proof.entry).and_then(|entry| told(&entry.what));
        // A figure is told with what it was computed from; a plain value by itself.
        view.value = told().or_else(|| proof.value.map(|v| v.to_string()));
    }

    fn asks(&self, step: &StepRow, state: &StepState) -> String {
        let limit = |slots, n| self.pack.limit(slots, n).map(|l| l.to_string());
        match step.kind {
            KindRow::Check => "done, or not right".to_owned(),
            KindRow::Reading { unit, limits } => {
                format!("a reading in {}{}", unit.symbol(), range(limit(limits, slot::LOW), limit(limits, slot::HIGH)))
            }
            KindRow::Identity { fitting } => format!("the number on: {}", self.named(Arg::Fitting(fitting))),
            KindRow::Choice { options } => {
                let options = self.pack.options(options).enumerate();
                options.map(|(n, o)| format!("{}: {}", n + 1, self.text(o.text))).collect::<Vec<_>>().join("; ")
            }
            KindRow::Timed { limits, .. } => {
                format!("a timed hold{}", range(limit(limits, slot::AT_LEAST), limit(limits, slot::AT_MOST)))
            }
            KindRow::Due { due } => format!("accept the date worked out: {}", self.due(due)),
            KindRow::Procedure { parts } => {
                let next = if let StepState::UnderWay { next } = state { *next } else { 0 };
                let part = self.pack.parts(parts).nth(usize::from(next));
                let (todo, ask) = part.map_or((String::new(), ""), |p| (self.text(p.text), ask_word(p.ask)));
                format!("part {} of {}: {todo} [{ask}]", next + 1, parts.len)
            }
            KindRow::Figure { unit, .. } => match verdict::figure(self.scene, step, self.now) {
                Ok(worked) => {
                    let times = if worked.rounds > 1 { format!("{} x ", worked.rounds) } else { String::new() };
                    format!("accept what is worked out: {times}{} (within {})", worked.result, worked.error)
                }
                Err(why) => format!("accept a figure in {}: {}", unit.symbol(), self.sentence(&why)),
            },
            KindRow::Signature { review: false } => "a signature with a PIN".to_owned(),
            KindRow::Signature { review: true } => "a review: accepted, sent back, or stopped".to_owned(),
        }
    }

    fn may_skip(&self, step: &StepRow, state: &StepState) -> bool {
        let settled = matches!(state, StepState::DoesNotApply | StepState::Proven { .. } | StepState::Skipped { .. });
        let open = self.scene.sheet.is_some_and(|sheet| verdict::takes_answers(sheet).is_ok());
        step.skippable && !settled && open && verdict::needs_to_skip(self.scene, step, self.who, self.now).holds()
    }

    /// The working of a figure that is to be accepted now.
    fn working(&self, step: &StepRow, state: &StepState) -> Option<WorkingView> {
        match state {
            StepState::DoesNotApply | StepState::Waiting(_) | StepState::Proven { .. } => None,
            _ => {
                let text = |id| self.text(id);
                let titles = Titles { text: &text, office: &self.ledger.office };
                super::working::working(self.scene, &titles, step, self.now)
            }
        }
    }

    fn sentence(&self, why: &offshed_core::reason::Why) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = words::why(&ENGLISH, self.names, why, &mut out);
        out
    }

    fn due(&self, due: offshed_core::ident::DueId) -> String {
        let name = self.named(Arg::Due(due));
        match verdict::due_standing(self.scene, due, self.now) {
            Err(why) => self.sentence(&why),
            Ok(standing) => {
                let day = standing.last_day.map(|d| format!("through {d}"));
                let left = standing.steam_days_left.map(|n| format!("{n} days in steam left"));
                let parts: Vec<String> = [day, left].into_iter().flatten().collect();
                let in_date = if standing.in_date { "in date" } else { "OUT OF DATE" };
                format!("{name} {in_date}, {}", parts.join(", "))
            }
        }
    }

    fn contested(&self, contested: &offshed_core::sheet::Contested) -> ContestView {
        let step = contested.step.map(|s| self.named(Arg::Step(s))).unwrap_or_default();
        let device = |d| self.ledger.office.devices.get(&d).cloned().unwrap_or_else(|| format!("device {d}"));
        let own = device(contested.entry.device);
        let (kind, words) = match contested.contest {
            Contest::NotOffered(why) => {
                let reason = self.reason(why).words;
                ("not-offered", format!("{step}, from {own}, does not count where it falls in order: {reason}"))
            }
            Contest::Unseen { other } => {
                let other = device(other.device);
                ("unseen", format!("{step} was answered on {other} and on {own}, neither having seen the other"))
            }
            Contest::ArrivedAfterSigning { signature } => {
                let signer = device(signature.device);
                (
                    "arrived-after-signing",
                    format!("an entry from {own} had not reached {signer} when it was signed there"),
                )
            }
        };
        ContestView {
            entry: contested.entry.to_string(),
            step: contested.step.map(|s| Ids::of(self.file).step_id(s)),
            kind,
            words,
        }
    }
}

/// Limits in words, with the comma before them.
pub(crate) fn range(low: Option<String>, high: Option<String>) -> String {
    match (low, high) {
        (Some(low), Some(high)) => format!(", {low} to {high}"),
        (Some(low), None) => format!(", at least {low}"),
        (None, Some(high)) => format!(", at most {high}"),
        (None, None) => String::new(),
    }
}

/// What a part asks for, in a word.
pub(crate) fn ask_word(ask: AskRow) -> &'static str {
    match (ask, part_unit(ask)) {
        (AskRow::Seen, _) => "seen",
        (AskRow::Time { .. }, _) => "s",
        (_, Some(unit)) => unit.symbol(),
        (_, None) => "",
    }
}

/// What an answer says in words of its own.
fn told(what: &What) -> Option<String> {
    let What::Answered { answer, .. } = what else { return None };
    match answer {
        Answer::NotRight { words } | Answer::NotApplicable { reason: words } => Some(words.to_string()),
        Answer::Number(number) => Some(number.to_string()),
        Answer::Reviewed { words, .. } if !words.is_empty() => Some(words.to_string()),
        Answer::Part { found: offshed_core::entry::Found::NotRight { words }, .. } => Some(words.to_string()),
        _ => super::working::computed(what),
    }
}
