//! What a step takes now, and from whom: the controls of an answer, and only those that the rules offer.

use offshed_core::ident::{PersonId, SheetId, StepId};
use offshed_core::pack::rows::{AskRow, KindRow, LimitSlots, PartRow, Span, StepRow};
use offshed_core::pack::{Pack, Rule, part_unit, slot};
use offshed_core::sheet::Progress;
use offshed_core::units::Unit;
use offshed_core::verdict::{self, Scene, Who};
use offshed_depot::packfile::PackFile;
use offshed_depot::shed;

use super::super::Session;
use super::ask::Draft;
use super::watch::{Stopwatch, Watches, face};

/// Which controls an answer has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Kind {
    /// None: the step is not offered.
    #[default]
    Nothing,
    /// Somebody may answer it; nobody is signed on.
    SignOn,
    /// It only waits for a second person to be named.
    Second,
    /// Done, or not right.
    Check,
    /// A value.
    Reading,
    /// A number on a fitting.
    Identity,
    /// A number was read and stands beside the register's.
    Compare,
    /// One of several.
    Choice,
    /// A hold that was not started, which takes a reading first or not.
    Begin,
    /// A hold under way that has not lasted long enough.
    Holding,
    /// A hold that may be ended.
    Held,
    /// A hold that was ended and wants its reading.
    HeldReading,
    /// A part to be seen.
    Seen,
    /// A part that takes a value.
    PartReading,
    /// A part that is timed: the watch at zero, running, or stopped.
    Watch,
    /// The watch runs.
    WatchRuns,
    /// The watch stands.
    WatchStopped,
    /// A value that was worked out.
    Accept,
    /// A signature.
    Sign,
    /// A review.
    Review,
}

impl Kind {
    /// Its key for the markup.
    pub fn key(self) -> &'static str {
        match self {
            Kind::Nothing => "",
            Kind::SignOn => "sign-on",
            Kind::Second => "second",
            Kind::Check => "check",
            Kind::Reading => "reading",
            Kind::Identity => "identity",
            Kind::Compare => "compare",
            Kind::Choice => "choice",
            Kind::Begin => "begin",
            Kind::Holding => "holding",
            Kind::Held => "held",
            Kind::HeldReading => "held-reading",
            Kind::Seen => "seen",
            Kind::PartReading => "part-reading",
            Kind::Watch => "watch",
            Kind::WatchRuns => "watch-runs",
            Kind::WatchStopped => "watch-stopped",
            Kind::Accept => "accept",
            Kind::Sign => "sign",
            Kind::Review => "review",
        }
    }

    /// Whether it gives an answer, so that "not right" stands beside it.
    pub fn answers(self) -> bool {
        !matches!(self, Kind::Nothing | Kind::SignOn | Kind::Second | Kind::Sign | Kind::Review)
    }
}

/// The controls of an answer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Form {
    /// Which.
    pub kind: Kind,
    /// What is to be done or given now.
    pub prompt: String,
    /// What is right, in words.
    pub limits: String,
    /// "Part 3 of 9".
    pub part: String,
    /// The options, in order.
    pub options: Vec<String>,
    /// A time, or a number that was read.
    pub face: String,
    /// How much of a hold has passed, 0 to 1.
    pub share: f32,
    /// The unit that is asked for.
    pub unit: Option<Unit>,
    /// It may be marked not applicable.
    pub may_skip: bool,
    /// A procedure that may start again at its first part.
    pub may_restart: bool,
}

/// What the form looks at.
pub(super) struct Looks<'a> {
    pub(super) session: &'a Session,
    pub(super) sheet: SheetId,
    pub(super) who: Who,
    pub(super) draft: &'a Draft,
    pub(super) watch: &'a Watches,
}

impl Looks<'_> {
    /// The form of a step; nothing where the sheet or its pack is not here.
    pub(super) fn form(&self, step: StepId) -> Form {
        let form = shed::scene(self.session.ledger(), self.sheet, |scene| self.in_scene(scene, step));
        form.flatten().unwrap_or_default()
    }

    /// Whether the step is offered to `who`.
    pub(super) fn offered(&self, step: StepId, who: Who) -> bool {
        let offered = |scene: &Scene<'_>| offers(scene, step, who, self.session);
        shed::scene(self.session.ledger(), self.sheet, offered).unwrap_or(false)
    }

    fn in_scene(&self, scene: &Scene<'_>, id: StepId) -> Option<Form> {
        let (step, _) = verdict::find(scene, id).ok()?;
        if let KindRow::Signature { review } = step.kind {
            // Whoever signs is asked then; the step is open where somebody may.
            let open = offers(scene, id, Who { person: None, with: self.who.with }, self.session);
            let kind = if review { Kind::Review } else { Kind::Sign };
            return open.then(|| Form { kind, ..Form::default() });
        }
        let offered = offers(scene, id, self.who, self.session);
        match (offered, self.who.person) {
            (true, Some(_)) => Some(self.answers(scene, &step)),
            (true, None) => Some(Form { kind: Kind::SignOn, ..Form::default() }),
            (false, _) if only_second(scene, &step, self.who, self.session) => {
                Some(Form { kind: Kind::Second, ..Form::default() })
            }
            (false, Some(_)) if self.skips(scene, &step) => Some(Form { may_skip: true, ..Form::default() }),
            (false, _) => None,
        }
    }

    /// Whether a step that waits may be marked not applicable all the same: what a figure is computed from need not be
    /// there for that.
    fn skips(&self, scene: &Scene<'_>, step: &StepRow) -> bool {
        let now = self.session.now();
        let waits = matches!(verdict::of(scene, step.id, self.who, now), verdict::StepState::Waiting(_));
        let open = scene.sheet.is_some_and(|sheet| verdict::takes_answers(sheet).is_ok());
        waits && open && step.skippable && verdict::needs_to_skip(scene, step, self.who, now).holds()
    }

    fn answers(&self, scene: &Scene<'_>, step: &StepRow) -> Form {
        let pack = scene.pack;
        let mut form = self.of_kind(scene, step);
        form.may_skip = step.skippable && form.kind.answers();
        if let KindRow::Reading { limits, .. } = step.kind {
            form.limits = range(pack, limits, slot::LOW, slot::HIGH);
        }
        form
    }

    fn of_kind(&self, scene: &Scene<'_>, step: &StepRow) -> Form {
        let plain = |kind| Form { kind, ..Form::default() };
        let progress = scene.sheet.and_then(|sheet| sheet.progress(step.id));
        match step.kind {
            KindRow::Check => plain(Kind::Check),
            KindRow::Reading { unit, .. } => Form { unit: Some(unit), ..plain(Kind::Reading) },
            KindRow::Identity { .. } if self.draft.text.is_empty() => plain(Kind::Identity),
            KindRow::Identity { .. } => Form { face: self.draft.text.clone(), ..plain(Kind::Compare) },
            KindRow::Choice { options } => Form { options: self.options(scene.pack, options), ..plain(Kind::Choice) },
            KindRow::Timed { unit, limits } => self.hold(scene.pack, step.id, unit, limits, progress),
            KindRow::Procedure { parts } => self.part(scene.pack, parts, progress),
            KindRow::Signature { .. } => Form::default(),
            // What software worked out is shown, and a person accepts it.
            _ => plain(Kind::Accept),
        }
    }

    fn texts(&self, id: offshed_core::ident::TextId) -> String {
        let sheet = self.session.ledger().sheet(self.sheet);
        let file: Option<&PackFile> = sheet.and_then(|sheet| self.session.ledger().pack(sheet.pack));
        file.map_or(String::new(), |file| file.texts().get(id).to_owned())
    }

    fn options(&self, pack: &Pack<'_>, options: Span) -> Vec<String> {
        pack.options(options).map(|option| self.texts(option.text)).collect()
    }

    fn hold(
        &self,
        pack: &Pack<'_>,
        step: StepId,
        unit: Option<Unit>,
        limits: LimitSlots,
        progress: Option<&Progress>,
    ) -> Form {
        let form = Form { unit, limits: hold_limits(pack, limits), ..Form::default() };
        let Some(progress) = progress else { return Form { kind: Kind::Begin, ..form } };
        if let Some(tenths) = self.draft.ended {
            return Form { kind: Kind::HeldReading, face: face(tenths), share: 1.0, ..form };
        }
        let held = self.held(step, progress);
        let least = pack.limit_tenths(limits, slot::AT_LEAST).and_then(|t| u32::try_from(t).ok()).unwrap_or(0);
        if held >= least {
            return Form { kind: Kind::Held, face: face(held), share: 1.0, ..form };
        }
        let left = (least - held).div_ceil(10) * 10;
        let share = held as f32 / least as f32;
        Form { kind: Kind::Holding, face: clock_face(left), share, ..form }
    }

    /// Tenths of a second since the hold was started: by the steady clock, or by the wall clock where it was started
    /// elsewhere.
    pub(super) fn held(&self, step: StepId, progress: &Progress) -> u32 {
        let wall = self.session.now().stamp.since(progress.at).max(0).saturating_mul(10);
        let steady = self.watch.held(self.sheet, step, self.session.tenths());
        steady.unwrap_or_else(|| u32::try_from(wall).unwrap_or(u32::MAX))
    }

    fn part(&self, pack: &Pack<'_>, parts: Span, progress: Option<&Progress>) -> Form {
        let next = progress.map_or(0, Progress::next);
        let Some(row) = pack.parts(parts).nth(usize::from(next)) else { return Form::default() };
        let watch = self.watch.stopwatch;
        Form {
            kind: part_kind(&row, watch),
            prompt: self.texts(row.text),
            limits: part_limits(pack, &row),
            part: format!("Part {} of {}", u16::from(next) + 1, parts.len),
            unit: part_unit(row.ask),
            face: if matches!(row.ask, AskRow::Time { .. }) {
                face(watch.face(self.session.tenths()))
            } else {
                String::new()
            },
            may_restart: next > 0,
            ..Form::default()
        }
    }
}

fn offers(scene: &Scene<'_>, step: StepId, who: Who, session: &Session) -> bool {
    verdict::offers(scene, who, session.now()).any(|offer| offer.step == step)
}

/// Nothing stands in the way but that nobody was named as the second person, or the person themselves.
fn only_second(scene: &Scene<'_>, step: &StepRow, who: Who, session: &Session) -> bool {
    let closed = scene.sheet.is_none_or(|sheet| verdict::takes_answers(sheet).is_err());
    let reasons = verdict::needs(scene, step, who, session.now()).reasons;
    let second = |rule: Option<Rule>| matches!(rule, Some(Rule::With(_)));
    !closed && !reasons.is_empty() && reasons.iter().all(|reason| second(reason.rule))
}

fn part_kind(row: &PartRow, watch: Stopwatch) -> Kind {
    match (row.ask, watch) {
        (AskRow::Seen, _) => Kind::Seen,
        (AskRow::Time { .. }, Stopwatch::Ready) => Kind::Watch,
        (AskRow::Time { .. }, Stopwatch::Running(_)) => Kind::WatchRuns,
        (AskRow::Time { .. }, Stopwatch::Stopped(_)) => Kind::WatchStopped,
        _ => Kind::PartReading,
    }
}

fn part_limits(pack: &Pack<'_>, row: &PartRow) -> String {
    let limit = |slots, n| pack.limit(slots, n).map(|l| l.to_string());
    match row.ask {
        AskRow::Seen => String::new(),
        AskRow::Reading { limits, .. } => range(pack, limits, slot::LOW, slot::HIGH),
        AskRow::Time { limits } => range(pack, limits, slot::AT_LEAST, slot::AT_MOST),
        AskRow::Same { part, limits, .. } => {
            let within = limit(limits, slot::WITHIN).unwrap_or_default();
            format!("within {within} of part {}", u16::from(part) + 1)
        }
        AskRow::Rise { part, limits, .. } => {
            let (rise, over) = (limit(limits, slot::RISE), limit(limits, slot::OVER));
            let (rise, over) = (rise.unwrap_or_default(), over.unwrap_or_default());
            format!("higher than in part {}, by {rise} for each {over}", u16::from(part) + 1)
        }
    }
}

fn hold_limits(pack: &Pack<'_>, limits: LimitSlots) -> String {
    let limit = |n| pack.limit(limits, n).map(|l| l.to_string());
    let fall = limit(slot::MAX_FALL).map(|fall| format!("falls by no more than {fall}"));
    let rise = limit(slot::MIN_RISE).map(|rise| format!("rises by at least {rise}"));
    let time = Some(range(pack, limits, slot::AT_LEAST, slot::AT_MOST)).filter(|words| !words.is_empty());
    [time, fall, rise].into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// "25 mm to 120 mm", "at least 25 mm", "at most 3 s".
pub(super) fn range(pack: &Pack<'_>, limits: LimitSlots, low: u8, high: u8) -> String {
    match (pack.limit(limits, low), pack.limit(limits, high)) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("at least {low}"),
        (None, Some(high)) => format!("at most {high}"),
        (None, None) => String::new(),
    }
}

/// Whole seconds to go, as a clock: `0:45`.
fn clock_face(tenths: u32) -> String {
    format!("{}:{:02}", tenths / 600, tenths / 10 % 60)
}

/// Everybody to whom a step of a sheet is offered.
pub(super) fn may(looks: &Looks<'_>, step: StepId, people: Vec<PersonId>) -> Vec<PersonId> {
    let with = looks.who.with;
    let offered = |person: &PersonId| looks.offered(step, Who { person: Some(*person), with });
    people.into_iter().filter(offered).collect()
}
