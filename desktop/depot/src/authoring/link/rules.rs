//! Interlocks: what they name is there, may be seen from where it is asked for, and gives the reading they speak of.

use std::collections::BTreeMap;

use offshed_core::ident::{DueId, GradeId, StepId};
use offshed_core::limits::NEEDS_PER_STEP;
use offshed_core::pack::Rule;
use offshed_core::units::{Quantity, Reading, Unit};

use super::super::complaint::Place;
use super::super::cursor::Text;
use super::super::draft;
use super::super::measure::{bad_difference, reading};
use super::super::model::{Kind, Need};
use super::super::read::above;
use super::{Linker, step_id};

/// What rules must know of a step.
#[derive(Clone, Debug)]
pub(super) struct Fact {
    pub(super) id: String,
    sequence: u8,
    shared: bool,
    due: bool,
    figure: bool,
    pub(super) value: Option<Quantity>,
    limits: (Option<Reading>, Option<Reading>),
}

/// Every step, by number.
#[derive(Debug)]
pub(super) struct Steps(pub(super) BTreeMap<u32, Fact>);

impl Steps {
    pub(super) fn of(sequences: &[&draft::Sequence]) -> Steps {
        let steps = sequences.iter().flat_map(|s| s.steps.iter().map(move |step| (s.number.value, step)));
        Steps(steps.map(|(sequence, step)| (step.number.value, fact(sequence, step))).collect())
    }
}

fn fact(sequence: u8, step: &draft::Step) -> Fact {
    let (value, limits) = match &step.kind {
        draft::Kind::Ready(kind @ Kind::Reading { low, high, .. }) => (kind.value(), (*low, *high)),
        draft::Kind::Ready(kind) => (kind.value(), (None, None)),
        draft::Kind::Figure(figure) => (Some(figure.unit.quantity()), (figure.limits[0], figure.limits[1])),
        draft::Kind::Identity(_) | draft::Kind::Due(_) => (None, (None, None)),
    };
    let due = matches!(step.kind, draft::Kind::Due(_));
    let figure = matches!(step.kind, draft::Kind::Figure(_));
    Fact { id: step.id.value.clone(), sequence, shared: step.shared, due, figure, value, limits }
}

/// Who asks: a step, fitness, or an obligation on one of them.
pub(super) struct Asker {
    pub(super) subject: String,
    step: Option<u32>,
    sequence: Option<u8>,
    at: Place,
}

impl Asker {
    pub(super) fn fitness(subject: &str) -> Asker {
        Asker { subject: subject.to_owned(), step: None, sequence: None, at: Place::default() }
    }

    pub(super) fn step(sequence: &draft::Sequence, step: &draft::Step) -> Asker {
        let subject = format!("step `{}`, needs", step.id.value);
        Asker { subject, step: Some(step.number.value), sequence: Some(sequence.number.value), at: step.at }
    }

    pub(super) fn goal(step: StepId, subject: &str, facts: &Steps) -> Asker {
        let number = u32::from(step.0);
        let sequence = facts.0.get(&number).map(|f| f.sequence);
        Asker { subject: subject.to_owned(), step: Some(number), sequence, at: Place::default() }
    }
}

impl Linker<'_> {
    /// Links requirements.
    pub(super) fn needs(&self, asker: &Asker, needs: &[draft::Need]) -> Vec<Need> {
        let count: usize = needs.iter().map(|n| n.rules.len()).sum();
        if count > NEEDS_PER_STEP {
            let at = needs.first().map_or(asker.at, |n| n.at);
            let what = format!("{count} rules; at most {NEEDS_PER_STEP}, alternatives counted");
            self.sink.say(at, &asker.subject, "", what, "gather some behind one step");
        }
        needs.iter().map(|need| self.need(asker, need)).collect()
    }

    fn need(&self, asker: &Asker, need: &draft::Need) -> Need {
        let rules = need.rules.iter().filter_map(|(rule, at)| self.rule(asker, rule, *at)).collect();
        Need { rules, any: need.any, because: need.because.clone(), at: need.at }
    }

    fn rule(&self, asker: &Asker, rule: &draft::Rule, at: Place) -> Option<Rule> {
        let step = |name: &Text, key| self.seen(asker, name, key);
        let subject = asker.subject.as_str();
        let grade = |name: &Text, key| self.grades.byte(name, subject, key).map(GradeId);
        Some(match rule {
            draft::Rule::After(name) => Rule::After(step(name, "after")?),
            draft::Rule::Fresh(name, within_seconds) => {
                Rule::Fresh { step: step(name, "fresh")?, within_seconds: *within_seconds }
            }
            draft::Rule::Reading(name, low, high) => self.within(asker, name, low.as_ref(), high.as_ref())?,
            draft::Rule::Agree(a, b, within) => self.agree(asker, a, b, within)?,
            draft::Rule::Wait(since, seconds) => Rule::Wait { since: step(since, "since")?, seconds: *seconds },
            draft::Rule::AtLeast { derived, reading } => self.at_least(asker, derived, reading)?,
            draft::Rule::Grade(name) => self.person(asker, at, Rule::Grade(grade(name, "grade")?)),
            draft::Rule::Different(name) => self.person(asker, at, Rule::Different(step(name, "different")?)),
            draft::Rule::DifferentEveryone => self.person(asker, at, Rule::DifferentEveryone),
            draft::Rule::With(name) => self.person(asker, at, Rule::With(grade(name, "with")?)),
            draft::Rule::InDate(name) => Rule::InDate(DueId(self.dues.byte(name, subject, "in_date")?)),
            draft::Rule::NoDefect(grade) => Rule::NoDefect(*grade),
            draft::Rule::State(name) => Rule::State(self.state(name, subject, "state")?),
            draft::Rule::StateNot(name) => Rule::StateNot(self.state(name, subject, "state_not")?),
            draft::Rule::NoTag => Rule::NoTag,
        })
    }

    /// A rule about the person answering; nobody answers fitness.
    fn person(&self, asker: &Asker, at: Place, rule: Rule) -> Rule {
        if asker.step.is_none() {
            let cure = "ask it of the step whose proof fitness asks for";
            self.sink.say(at, &asker.subject, "", "nobody answers fitness, so no rule can ask who does", cure);
        }
        rule
    }

    /// A step whose proof the asker may see: one of its own sequence, or a shared one.
    pub(super) fn seen(&self, asker: &Asker, name: &Text, key: &str) -> Option<StepId> {
        let number = self.steps.find(name, &asker.subject, key)?;
        let fact = self.facts.0.get(&number)?;
        if asker.step == Some(number) {
            self.sink.say(name.at, &asker.subject, key, "the step waits for itself", "name another step");
            return None;
        }
        if asker.sequence != Some(fact.sequence) && !fact.shared {
            let from = if asker.sequence.is_some() { "of another sequence" } else { "not seen by fitness" };
            let what = format!("`{}` is {from} and not shared", fact.id);
            self.sink.say(name.at, &asker.subject, key, what, format!("write `shared = true` in step `{}`", fact.id));
        }
        Some(step_id(number))
    }

    /// What a step's proof is a reading of; reported where it is of nothing.
    pub(super) fn value(&self, asker: &Asker, name: &Text, key: &str) -> Option<(StepId, Quantity)> {
        let step = self.seen(asker, name, key)?;
        let fact = self.facts.0.get(&u32::from(step.0))?;
        if fact.value.is_none() {
            let what = format!("`{}` gives no reading", fact.id);
            self.sink.say(name.at, &asker.subject, key, what, "name a reading, a hold or a procedure that ends in one");
        }
        fact.value.map(|quantity| (step, quantity))
    }

    pub(super) fn limit(&self, asker: &Asker, text: &Text, key: &str, quantity: Quantity) -> Option<Reading> {
        let example = Unit::all(quantity).next().unwrap_or(Unit::One);
        let read = reading(text, quantity, example);
        let said = |(what, cure): (String, String)| {
            let cure = format!("{cure}: `{key} = \"25 {}\"`", example.symbol());
            self.sink.say(text.at, &asker.subject, key, what, cure);
        };
        read.map_err(said).ok()
    }

    /// Limits on another step's reading, which that step's own limits must leave room for.
    fn within(&self, asker: &Asker, name: &Text, low: Option<&Text>, high: Option<&Text>) -> Option<Rule> {
        let (step, quantity) = self.value(asker, name, "reading")?;
        let read = |text: Option<&Text>, key| text.and_then(|text| self.limit(asker, text, key, quantity));
        let (low_limit, high_limit) = (read(low, "low"), read(high, "high"));
        let (own_low, own_high) = self.facts.0.get(&u32::from(step.0)).map_or((None, None), |f| f.limits);
        let clash = |a: Option<Reading>, b: Option<Reading>| a.zip(b).filter(|(a, b)| above(*a, *b));
        let at = |text: Option<&Text>| text.map_or(name.at, |t| t.at);
        if let Some((a, b)) = clash(low_limit, high_limit) {
            let what = format!("`low` {a} is above `high` {b}");
            self.sink.say(at(low), &asker.subject, "low", what, "swap them, or correct one");
        }
        if let Some((a, b)) = clash(low_limit, own_high) {
            let what = format!("{a} is above the highest `{}` ever counts at, {b}", name.value);
            self.sink.say(at(low), &asker.subject, "low", what, "it could never hold: correct one of the two");
        }
        if let Some((a, b)) = clash(own_low, high_limit) {
            let what = format!("{b} is below the lowest `{}` ever counts at, {a}", name.value);
            self.sink.say(at(high), &asker.subject, "high", what, "it could never hold: correct one of the two");
        }
        Some(Rule::Within { step, low: low_limit, high: high_limit })
    }

    fn agree(&self, asker: &Asker, a: &Text, b: &Text, within: &Text) -> Option<Rule> {
        let first = self.value(asker, a, "agree");
        let second = self.value(asker, b, "agree");
        let ((a_step, quantity), (b_step, other)) = (first?, second?);
        if quantity != other {
            let what = format!("`{}` reads {} and `{}` reads {}", a.value, quantity.name(), b.value, other.name());
            self.sink.say(b.at, &asker.subject, "agree", what, "name two readings of the same quantity");
            return None;
        }
        let limit = self.limit(asker, within, "within", quantity)?;
        if let Some((what, cure)) = bad_difference(limit) {
            self.sink.say(within.at, &asker.subject, "within", what, cure);
        }
        Some(Rule::Agree { a: a_step, b: b_step, within: limit })
    }

    /// The computed value is that of a derived step, of the same quantity as the reading; a date gives none.
    fn at_least(&self, asker: &Asker, derived: &Text, read: &Text) -> Option<Rule> {
        let (derived_step, reading) = (self.seen(asker, derived, "at_least"), self.value(asker, read, "reading"));
        let (derived_step, (reading_step, quantity)) = (derived_step?, reading?);
        let fact = self.facts.0.get(&u32::from(derived_step.0))?;
        let what = match fact.value {
            _ if fact.due => format!("`{}` computes a date, and a reading is not compared with a date", derived.value),
            Some(computed) if fact.figure && computed == quantity => {
                return Some(Rule::AtLeast { reading: reading_step, derived: derived_step });
            }
            Some(computed) if fact.figure => {
                format!(
                    "`{}` computes {} and `{}` reads {}",
                    derived.value,
                    computed.name(),
                    read.value,
                    quantity.name()
                )
            }
            _ => format!("`{}` computes nothing", derived.value),
        };
        self.sink.say(derived.at, &asker.subject, "at_least", what, "write `reading` with `low` instead");
        None
    }
}
