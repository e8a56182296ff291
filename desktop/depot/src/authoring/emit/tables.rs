//! The tables of rules, filled from a model.

use offshed_core::ident::{DueId, EventId, GradeId, StepId, TextId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::{
    AskRow, DueRow, EventRow, GradeRow, KindRow, LimitSlots, NamedRow, NeedRow, OptionRow, PartRow, RuleRow,
    SequenceRow, Span, StepRow, Voids as VoidsRow,
};
use offshed_core::units::{Reading, Unit};

use super::super::model::{Ask, Due, Event, Grade, Kind, Model, Named, Need, Part, Sequence, Step, Voids};
use super::Rules;
use super::words::Words;

/// The tables as they fill.
#[derive(Default)]
pub(super) struct Tables {
    pub(super) words: Words,
    sequences: Vec<SequenceRow>,
    stages: Vec<TextId>,
    steps: Vec<StepRow>,
    needs: Vec<NeedRow>,
    lists: Vec<StepId>,
    parts: Vec<PartRow>,
    options: Vec<OptionRow>,
    limits: Vec<Reading>,
    grades: Vec<GradeRow>,
    features: Vec<NamedRow>,
    states: Vec<NamedRow>,
    fittings: Vec<NamedRow>,
    dues: Vec<DueRow>,
    events: Vec<EventRow>,
    products: Vec<NamedRow>,
}

/// A number that is beyond its field only where the rules are too long as well.
fn short(n: usize) -> u16 {
    u16::try_from(n).unwrap_or(u16::MAX)
}

/// Puts a run of rows into a table, or finds one alike; answers where it is.
fn run<R: PartialEq + Copy>(table: &mut Vec<R>, rows: &[R]) -> Span {
    let known = if rows.is_empty() { Some(0) } else { table.windows(rows.len()).position(|w| w == rows) };
    let first = known.unwrap_or(table.len());
    if known.is_none() {
        table.extend_from_slice(rows);
    }
    Span { first: short(first), len: u8::try_from(rows.len()).unwrap_or(u8::MAX) }
}

/// Seconds in the largest unit that holds them whole, so that they fit a reading.
fn time(seconds: u32) -> Reading {
    let units = [(Unit::Day, 86_400), (Unit::Hour, 3_600), (Unit::Minute, 60)];
    let (unit, size) = units.into_iter().find(|(_, size)| seconds.is_multiple_of(*size)).unwrap_or((Unit::Second, 1));
    Reading::whole(i32::try_from(seconds / size).unwrap_or(i32::MAX), unit)
}

impl Tables {
    /// Fills everything; answers what fitness needs.
    pub(super) fn fill(&mut self, model: &Model) -> Span {
        let fitness = self.needs(&model.fitness);
        self.grades = model.grades.iter().map(|g| self.grade(g)).collect();
        self.features = model.features.iter().map(|f| self.named(f)).collect();
        self.states = model.states.iter().map(|s| self.named(&s.named)).collect();
        self.fittings = model.fittings.iter().map(|f| self.named(f)).collect();
        self.products = model.products.iter().map(|p| self.named(p)).collect();
        self.dues = model.dues.iter().map(|d| self.due(d)).collect();
        model.sequences.iter().for_each(|s| self.sequence(s));
        self.events = model.events.iter().map(|e| self.event(e)).collect();
        fitness
    }

    /// Writes the tables in the order of the directory.
    pub(super) fn write(&self, rules: &mut Rules) {
        rules.table(&self.sequences);
        rules.table(&self.stages);
        rules.table(&self.steps);
        rules.table(&self.needs);
        rules.table(&self.lists);
        rules.table(&self.parts);
        rules.table(&self.options);
        rules.table(&self.limits);
        rules.table(&self.grades);
        rules.table(&self.features);
        rules.table(&self.states);
        rules.table(&self.fittings);
        rules.table(&self.dues);
        rules.table(&self.events);
        rules.table(&self.products);
    }

    fn named(&mut self, named: &Named) -> NamedRow {
        NamedRow { number: named.number, text: self.words.add(&[(&named.name, &named.id)]) }
    }

    fn grade(&mut self, grade: &Grade) -> GradeRow {
        let NamedRow { number, text } = self.named(&grade.named);
        GradeRow { id: GradeId(number), covers: grade.covers, text }
    }

    fn due(&mut self, due: &Due) -> DueRow {
        let text = self.words.add(&[(&due.named.name, &due.named.id), (&due.source, "")]);
        DueRow { id: DueId(due.named.number), rule: due.rule, applies: due.applies, text }
    }

    fn limit(&mut self, limit: Reading) -> u16 {
        run(&mut self.limits, &[limit]).first
    }

    /// Limits in their slots; those given stand one behind the other.
    fn slots(&mut self, limits: &[Option<Reading>]) -> LimitSlots {
        let given: Vec<Reading> = limits.iter().copied().flatten().collect();
        let bits = [1, 2, 4, 8, 16, 32, 64, 128].into_iter().zip(limits).filter(|(_, limit)| limit.is_some());
        LimitSlots { mask: bits.map(|(bit, _)| bit).sum(), first: run(&mut self.limits, &given).first }
    }

    fn needs(&mut self, needs: &[Need]) -> Span {
        let mut rows = Vec::new();
        let mut group = 0u8;
        for need in needs {
            if need.any {
                group = group.saturating_add(1);
            }
            let own = if need.any { group } else { 0 };
            rows.extend(need.rules.iter().map(|rule| NeedRow { rule: self.rule(*rule), group: own }));
        }
        run(&mut self.needs, &rows)
    }

    fn rule(&mut self, rule: Rule) -> RuleRow {
        match rule {
            Rule::After(step) => RuleRow::After(step),
            Rule::Fresh { step, within_seconds } => RuleRow::Fresh(step, within_seconds.map(|s| self.limit(time(s)))),
            Rule::Within { step, low, high } => {
                let (low, high) = (low.map(|l| self.limit(l)), high.map(|h| self.limit(h)));
                RuleRow::Within(step, low, high)
            }
            Rule::Agree { a, b, within } => RuleRow::Agree(a, b, self.limit(within)),
            Rule::Wait { since, seconds } => RuleRow::Wait(since, self.limit(time(seconds))),
            Rule::AtLeast { reading, derived } => RuleRow::AtLeast(reading, derived),
            Rule::Grade(grade) => RuleRow::Grade(grade),
            Rule::Different(step) => RuleRow::Different(step),
            Rule::DifferentEveryone => RuleRow::DifferentEveryone,
            Rule::With(grade) => RuleRow::With(grade),
            Rule::InDate(due) => RuleRow::InDate(due),
            Rule::NoDefect(grade) => RuleRow::NoDefect(grade),
            Rule::State(state) => RuleRow::State(state),
            Rule::StateNot(state) => RuleRow::StateNot(state),
            Rule::NoTag => RuleRow::NoTag,
        }
    }

    fn sequence(&mut self, sequence: &Sequence) {
        let text = self.words.add(&[(&sequence.title, &sequence.id), (&sequence.purpose, "")]);
        let titles: Vec<TextId> = sequence.stages.iter().map(|(id, title)| self.words.once(title, id)).collect();
        let stages = run(&mut self.stages, &titles);
        let first = short(self.steps.len());
        for step in &sequence.steps {
            let row = self.step(sequence, step);
            self.steps.push(row);
        }
        let steps = Span { first, len: u8::try_from(sequence.steps.len()).unwrap_or(u8::MAX) };
        self.sequences.push(SequenceRow { id: sequence.number, steps, stages, text });
    }

    fn step(&mut self, sequence: &Sequence, step: &Step) -> StepRow {
        let texts: [(&str, &str); 4] =
            [(&step.title, &step.id), (&step.instruction, ""), (&step.caution, ""), (&step.source, "")];
        StepRow {
            id: step.number,
            sequence: sequence.number,
            stage: step.stage,
            kind: self.kind(&step.kind),
            shared: step.shared,
            skippable: step.skippable,
            closes: step.closes,
            fails: step.fails,
            by: step.by,
            minutes: step.minutes,
            applies: step.applies,
            life_seconds: step.life_seconds,
            ends_with_day: step.ends_with_day,
            needs: self.needs(&step.needs),
            voids: run(&mut self.lists, &step.voids),
            sets: step.sets,
            clears: step.clears,
            text: self.words.add(&texts),
        }
    }

    fn kind(&mut self, kind: &Kind) -> KindRow {
        match kind {
            Kind::Check => KindRow::Check,
            Kind::Reading { unit, low, high, warn_low, warn_high } => {
                KindRow::Reading { unit: *unit, limits: self.slots(&[*low, *high, *warn_low, *warn_high]) }
            }
            Kind::Identity(fitting) => KindRow::Identity { fitting: *fitting },
            Kind::Choice(options) => {
                let words = &mut self.words;
                let row = |(title, passes): &(String, bool)| OptionRow { text: words.once(title, ""), passes: *passes };
                let rows: Vec<OptionRow> = options.iter().map(row).collect();
                KindRow::Choice { options: run(&mut self.options, &rows) }
            }
            Kind::Timed { at_least, at_most, unit, max_fall, min_rise } => {
                let limits = self.slots(&[Some(*at_least), *at_most, *max_fall, *min_rise]);
                KindRow::Timed { unit: *unit, limits }
            }
            Kind::Due(due) => KindRow::Due { due: *due },
            Kind::Procedure(parts) => {
                let rows: Vec<PartRow> = parts.iter().map(|p| self.part(p)).collect();
                KindRow::Procedure { parts: run(&mut self.parts, &rows) }
            }
            Kind::Signature { review } => KindRow::Signature { review: *review },
            Kind::Figure { figure, unit, inputs, limits, params } => {
                let slots: Vec<Option<Reading>> =
                    limits.iter().copied().chain(params.iter().copied().map(Some)).collect();
                let inputs = run(&mut self.lists, inputs);
                KindRow::Figure { figure: *figure, unit: *unit, inputs, limits: self.slots(&slots) }
            }
        }
    }

    fn part(&mut self, part: &Part) -> PartRow {
        let ask = match part.ask {
            Ask::Seen => AskRow::Seen,
            Ask::Reading { unit, low, high } => AskRow::Reading { unit, limits: self.slots(&[low, high]) },
            Ask::Time { at_least, at_most } => AskRow::Time { limits: self.slots(&[at_least, at_most]) },
            Ask::Same { unit, part, within } => AskRow::Same { unit, part, limits: self.slots(&[Some(within)]) },
            Ask::Rise { unit, part, timed_by, rise, over, delivery } => {
                let (least, highest) = delivery.unzip();
                AskRow::Rise { unit, part, timed_by, limits: self.slots(&[Some(rise), Some(over), least, highest]) }
            }
        };
        PartRow { ask, text: self.words.once(&part.instruction, "") }
    }

    fn event(&mut self, event: &Event) -> EventRow {
        let voids = match &event.voids {
            Voids::All => VoidsRow::All,
            Voids::Steps(steps) => VoidsRow::Steps(run(&mut self.lists, steps)),
        };
        EventRow {
            id: EventId(event.named.number),
            by: event.by,
            voids,
            sets: event.sets,
            clears: event.clears,
            opens: event.opens,
            cleared_by: event.cleared_by,
            text: self.words.add(&[(&event.named.name, &event.named.id)]),
        }
    }
}
