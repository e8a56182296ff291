//! Reasons as sentences: the wording stands in a message file (`words/en.txt`), one line a key, so that a language is a
//! file and no rule knows its own words.

use core::fmt::{self, Write};

use crate::engine::VoidedBy;
use crate::fitness::Verdict;
use crate::ident::{
    DefectId, DeviceId, DueId, EventId, FeatureId, FittingId, GradeId, PersonId, ProductId, StateId, StepId,
};
use crate::pack::rows::DefectGrade;
use crate::reason::{NoFigure, Why};
use crate::stamp::{Day, Stamp};
use crate::units::Reading;

/// The English sentences.
pub const ENGLISH: Catalogue<'static> = Catalogue(include_str!("../words/en.txt"));

/// A message file: lines `key = sentence`; `#` starts a comment line.
#[derive(Clone, Copy, Debug)]
pub struct Catalogue<'a>(pub &'a str);

impl<'a> Catalogue<'a> {
    /// The sentence of a key.
    pub fn get(&self, key: &str) -> Option<&'a str> {
        let lines = self.0.lines().filter(|line| !line.starts_with('#'));
        let mut pairs = lines.filter_map(|line| line.split_once(" = "));
        pairs.find(|(k, _)| *k == key).map(|(_, sentence)| sentence)
    }

    /// All keys, in the file's order.
    pub fn keys(&self) -> impl Iterator<Item = &'a str> {
        let lines = self.0.lines().filter(|line| !line.starts_with('#'));
        lines.filter_map(|line| line.split_once(" = ")).map(|(key, _)| key)
    }
}

/// A thing a sentence names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arg {
    /// A step's title.
    Step(StepId),
    /// A value with its unit.
    Reading(Reading),
    /// A moment, in local time.
    At(Stamp),
    /// A calendar day.
    Day(Day),
    /// A person's name.
    Person(PersonId),
    /// A grade's name.
    Grade(GradeId),
    /// A due date's name.
    Due(DueId),
    /// A state's name.
    State(StateId),
    /// A fitting's name.
    Fitting(FittingId),
    /// A feature's name.
    Feature(FeatureId),
    /// An event's name.
    Event(EventId),
    /// A defect, in a few of its own words.
    Defect(DefectId),
    /// A device's name.
    Device(DeviceId),
    /// A treatment product's name.
    Product(ProductId),
    /// A number.
    Number(i64),
    /// Tenths of a second.
    Tenths(u32),
    /// A word as it stands.
    Word(&'static str),
    /// What took a proof away.
    VoidedBy(VoidedBy),
}

/// Writes the names of things in the reader's language and time zone.
pub trait Names {
    /// Writes one thing. [`Arg::Number`], [`Arg::Tenths`], [`Arg::Word`] and [`Arg::VoidedBy`] never come here.
    ///
    /// # Errors
    /// When the writer fails.
    fn write(&self, arg: Arg, out: &mut dyn Write) -> fmt::Result;
}

/// Writes a reason as a sentence without a full stop. A key that the file lacks is written as itself.
///
/// # Errors
/// When the writer fails.
pub fn why(words: &Catalogue<'_>, names: &dyn Names, why: &Why, out: &mut dyn Write) -> fmt::Result {
    let (key, args) = sentence(why);
    fill(words, names, words.get(key).unwrap_or(key), &args, out)
}

/// The key of a verdict.
pub fn verdict_key(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fit => "fit",
        Verdict::Restricted => "restricted",
        Verdict::NotFit => "not-fit",
        Verdict::NotKnown => "not-known",
    }
}

/// The key of a reason: stable, for machine readers.
pub fn key(why: &Why) -> &'static str {
    sentence(why).0
}

type Args = [(&'static str, Option<Arg>); 5];

fn fill(words: &Catalogue<'_>, names: &dyn Names, mut text: &str, args: &Args, out: &mut dyn Write) -> fmt::Result {
    while let Some((before, rest)) = text.split_once('{') {
        out.write_str(before)?;
        let Some((name, after)) = rest.split_once('}') else {
            return out.write_str(rest);
        };
        let found = args.iter().find(|(n, _)| *n == name).and_then(|(_, arg)| *arg);
        match found {
            Some(arg) => put(words, names, arg, out)?,
            None => write!(out, "{{{name}}}")?,
        }
        text = after;
    }
    out.write_str(text)
}

fn put(words: &Catalogue<'_>, names: &dyn Names, arg: Arg, out: &mut dyn Write) -> fmt::Result {
    let key = |key: &'static str| words.get(key).unwrap_or(key);
    match arg {
        Arg::Number(n) => write!(out, "{n}"),
        Arg::Tenths(t) if t % 10 == 0 => write!(out, "{} s", t / 10),
        Arg::Tenths(t) => write!(out, "{}.{} s", t / 10, t % 10),
        Arg::Word(word) => out.write_str(word),
        Arg::VoidedBy(VoidedBy::Step(step)) => {
            fill(words, names, key("by-step"), &args([("step", Arg::Step(step))]), out)
        }
        Arg::VoidedBy(VoidedBy::Event(event)) => {
            fill(words, names, key("by-event"), &args([("event", Arg::Event(event))]), out)
        }
        Arg::VoidedBy(VoidedBy::Foundation(step)) => {
            fill(words, names, key("by-foundation"), &args([("step", Arg::Step(step))]), out)
        }
        Arg::VoidedBy(VoidedBy::SentBack) => out.write_str(key("by-sent-back")),
        other => names.write(other, out),
    }
}

fn args<const N: usize>(given: [(&'static str, Arg); N]) -> Args {
    let mut all = [("", None); 5];
    for (slot, (name, arg)) in all.iter_mut().zip(given) {
        *slot = (name, Some(arg));
    }
    all
}

/// The key and the things named, for every reason.
fn sentence(why: &Why) -> (&'static str, Args) {
    use Arg::{At, Day, Defect, Due, Fitting, Grade, Number, Person, Reading, Step, Tenths};
    let step_only = |key, step: StepId| (key, args([("step", Step(step))]));
    let plain = |key| (key, args([]));
    match *why {
        Why::NeedsFirst { step } => step_only("needs-first", step),
        Why::NotRight { step } => step_only("not-right", step),
        Why::Skipped { step } => step_only("skipped", step),
        Why::Lapsed { step, at } => ("lapsed", args([("step", Step(step)), ("at", At(at))])),
        Why::Voided { step, at, by } => {
            ("voided", args([("step", Step(step)), ("at", At(at)), ("by", Arg::VoidedBy(by))]))
        }
        Why::ClockDoubted { step } => step_only("clock-doubted", step),
        Why::Low { step, got, limit } => compared("low", step, got, limit),
        Why::High { step, got, limit } => compared("high", step, got, limit),
        Why::Disagree { a, b, got_a, got_b, within } => {
            let key = if a == b { "parts-disagree" } else { "disagree" };
            let named = [
                ("step", Step(a)),
                ("other", Step(b)),
                ("got", Reading(got_a)),
                ("reading", Reading(got_b)),
                ("limit", Reading(within)),
            ];
            (key, args(named))
        }
        Why::NoValue { step } => step_only("no-value", step),
        Why::GlassUnknown => plain("glass-unknown"),
        Why::WorkingUnknown => plain("working-unknown"),
        Why::BoilerUnknown => plain("boiler-unknown"),
        Why::RoadUnknown => plain("road-unknown"),
        Why::ProductUnknown { product } => ("product-unknown", args([("product", Arg::Product(product))])),
        Why::FeedWaterUnknown => plain("feed-water-unknown"),
        Why::NoFigure { step, because } => no_figure(step, because),
        Why::FigureDiffers { step, got, due } => {
            ("figure-differs", args([("step", Step(step)), ("got", Reading(got)), ("want", Reading(due))]))
        }
        Why::Unsound { field } => ("unsound", args([("n", Arg::Word(field))])),
        Why::TooSoon { since, until } => ("too-soon", args([("step", Step(since)), ("at", At(until))])),
        Why::NotInGrade { grade } => ("not-in-grade", args([("grade", Grade(grade))])),
        Why::GradeLapsed { grade, last_day } => {
            ("grade-lapsed", args([("grade", Grade(grade)), ("day", Day(last_day))]))
        }
        Why::SamePerson { step, person } => ("same-person", args([("step", Step(step)), ("person", Person(person))])),
        Why::OnThisSheet { person } => ("on-this-sheet", args([("person", Person(person))])),
        Why::NobodyWith { grade } => ("nobody-with", args([("grade", Grade(grade))])),
        Why::WithOneself => plain("with-oneself"),
        Why::OutOfDate { due, last_day, steam_days_left } => out_of_date(due, last_day, steam_days_left),
        Why::DateUnknown { due } => ("date-unknown", args([("due", Due(due))])),
        Why::DefectOpen { defect, grade } => {
            let key = match grade {
                DefectGrade::Stopping => "defect-stopping",
                DefectGrade::Restricted => "defect-restricted",
                DefectGrade::Note => "defect-note",
            };
            (key, args([("defect", Defect(defect))]))
        }
        Why::StateWanted { state } => ("state-wanted", args([("state", Arg::State(state))])),
        Why::StateUnwanted { state, since } => {
            ("state-unwanted", args([("state", Arg::State(state)), ("at", At(since))]))
        }
        Why::TagHeld { person, since } => ("tag-held", args([("person", Person(person)), ("at", At(since))])),
        Why::NoAlternative => plain("no-alternative"),
        Why::NoFeature { feature } => ("no-feature", args([("feature", Arg::Feature(feature))])),
        Why::SheetClosed => plain("sheet-closed"),
        Why::SheetCrowded => plain("sheet-crowded"),
        Why::NotInSequence { step } => step_only("not-in-sequence", step),
        Why::WrongKind { step } => step_only("wrong-kind", step),
        Why::WrongQuantity { step, want, got } => {
            let named = [("step", Step(step)), ("want", Arg::Word(want.name())), ("got", Arg::Word(got.name()))];
            ("wrong-quantity", args(named))
        }
        Why::ReadingMissing { step } => step_only("reading-missing", step),
        Why::NoSuchOption { options } => ("no-such-option", args([("n", Number(options.into()))])),
        Why::WordsMissing => plain("words-missing"),
        Why::PartOrder { step, next } => {
            ("part-order", args([("step", Step(step)), ("n", Number(i64::from(next) + 1))]))
        }
        Why::NotBegun { step } => step_only("not-begun", step),
        Why::TooManyUnderWay => plain("too-many-under-way"),
        Why::TooShort { step, tenths, least } => {
            ("too-short", args([("step", Step(step)), ("from", Tenths(tenths)), ("limit", Tenths(least))]))
        }
        Why::TooLong { step, tenths, most } => {
            ("too-long", args([("step", Step(step)), ("from", Tenths(tenths)), ("limit", Tenths(most))]))
        }
        Why::Fell { step, from, to, most } => moved("fell", step, from, to, most),
        Why::RoseTooLittle { step, from, to, least } => moved("rose-too-little", step, from, to, least),
        Why::NumberDiffers { fitting } => ("number-differs", args([("fitting", Fitting(fitting))])),
        Why::NumberUnknown { fitting } => ("number-unknown", args([("fitting", Fitting(fitting))])),
        Why::OptionFails { step } => step_only("option-fails", step),
        Why::MayNotSkip { step } => step_only("may-not-skip", step),
        Why::InFuture => plain("in-future"),
        Why::BeforeSheet => plain("before-sheet"),
        Why::NoSuchAnswer { .. } => plain("no-such-answer"),
        Why::EngineUnknown => plain("engine-unknown"),
        Why::PersonUnknown { person } => ("person-unknown", args([("person", Person(person))])),
        Why::SequenceUnknown => plain("sequence-unknown"),
        Why::EventUnknown => plain("event-unknown"),
        Why::DefectUnknown { defect } => ("defect-unknown", args([("defect", Defect(defect))])),
        Why::NoTagOfTheirs => plain("no-tag-of-theirs"),
        Why::PackMissing => plain("pack-missing"),
        Why::PackDiffers => plain("pack-differs"),
        Why::NotJoinable { .. } => plain("not-joinable"),
        Why::TooMuchRecorded { .. } => plain("too-much-recorded"),
        Why::RecordsMissing { device: Some(device) } => ("records-missing", args([("device", Arg::Device(device))])),
        Why::RecordsMissing { device: None } => plain("records-damaged"),
        Why::DayPast { day } => ("day-past", args([("day", Day(day))])),
        Why::NotRestrictable { defect } => ("not-restrictable", args([("defect", Defect(defect))])),
    }
}

/// Why no figure can be told.
fn no_figure(step: StepId, because: NoFigure) -> (&'static str, Args) {
    let named = |key, name, arg| (key, args([("step", Arg::Step(step)), (name, arg)]));
    let plain = |key| (key, args([("step", Arg::Step(step))]));
    match because {
        NoFigure::Number { field } => named("figure-number", "n", Arg::Word(field)),
        NoFigure::Road => plain("figure-road"),
        NoFigure::TooLarge => plain("figure-too-large"),
        NoFigure::NoLevelIsEnough => plain("no-level-is-enough"),
        NoFigure::FillFirst { least } => named("fill-first", "limit", Arg::Reading(least)),
        NoFigure::TooManyRounds => plain("too-many-rounds"),
        NoFigure::FeedTooStrong => plain("feed-too-strong"),
        NoFigure::NoSteadyPressure => plain("no-steady-pressure"),
        NoFigure::NotApart => plain("not-apart"),
        NoFigure::NearlyFull { highest } => named("nearly-full", "limit", Arg::Reading(highest)),
    }
}

fn compared(key: &'static str, step: StepId, got: Reading, limit: Reading) -> (&'static str, Args) {
    (key, args([("step", Arg::Step(step)), ("got", Arg::Reading(got)), ("limit", Arg::Reading(limit))]))
}

fn moved(key: &'static str, step: StepId, from: Reading, to: Reading, limit: Reading) -> (&'static str, Args) {
    let reading = Arg::Reading;
    (key, args([("step", Arg::Step(step)), ("from", reading(from)), ("got", reading(to)), ("limit", reading(limit))]))
}

/// The days in steam where they are used up, else the calendar.
fn out_of_date(due: DueId, last_day: Option<Day>, steam_days_left: Option<i32>) -> (&'static str, Args) {
    match (steam_days_left, last_day) {
        (Some(left), _) if left < 0 => {
            ("out-of-steam-days", args([("due", Arg::Due(due)), ("n", Arg::Number(left.into()))]))
        }
        (_, Some(day)) => ("out-of-date", args([("due", Arg::Due(due)), ("day", Arg::Day(day))])),
        (left, None) => {
            let left = left.unwrap_or(0);
            ("out-of-steam-days", args([("due", Arg::Due(due)), ("n", Arg::Number(left.into()))]))
        }
    }
}
