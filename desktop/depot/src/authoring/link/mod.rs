//! Drafts to a model: ids become numbers, and what one thing says about another is checked.

mod figures;
mod names;
mod rules;
mod whole;

use offshed_core::ident::{DueId, FeatureId, FittingId, GradeId, SequenceId, StateId, StepId};

use super::complaint::{Complaints, Place};
use super::cursor::{At, Text};
use super::draft::{self, Draft, Head};
use super::model::{Due, Event, Goal, Grade, Kind, Model, Named, Obligation, Sequence, State, Step, Voids};
use names::Names;
use rules::{Asker, Steps};

/// Words that stand for something else where a step's id may stand.
const RESERVED: [&str; 3] = ["fitness", "everyone", "all"];

/// All ids of a pack.
struct Linker<'s> {
    sink: &'s Complaints,
    grades: Names<'s>,
    features: Names<'s>,
    states: Names<'s>,
    fittings: Names<'s>,
    products: Names<'s>,
    dues: Names<'s>,
    steps: Names<'s>,
    facts: Steps,
}

/// Links a draft that was read without complaint.
pub(super) fn link(draft: Draft, files: Vec<String>, sink: &Complaints) -> Option<Model> {
    let head = draft.head.as_ref()?;
    let mut sequences: Vec<&draft::Sequence> = draft.sequences.iter().collect();
    sequences.sort_by_key(|s| s.number.value);
    let linker = Linker::gather(head, &sequences, sink);
    if !sink.is_empty() {
        // While two things share a name, nothing can be said of what names them.
        return None;
    }
    let model = Model {
        files,
        id: head.id.clone(),
        title: head.title.clone(),
        edition: head.edition.clone(),
        language: head.language.clone(),
        caution: head.caution.clone(),
        low_water: head.low_water.clone(),
        retired_steps: head.retired.iter().map(|n| step_id(n.value)).collect(),
        grades: head.grades.iter().map(|g| linker.grade(g)).collect(),
        features: head.features.iter().map(named).collect(),
        states: states(head, sink),
        fittings: head.fittings.iter().map(named).collect(),
        products: head.products.iter().map(named).collect(),
        dues: head.dues.iter().map(|d| linker.due(d)).collect(),
        events: head.events.iter().map(|e| linker.event(e)).collect(),
        defects_cleared_by: linker.some_grades(&head.cleared_by, "cleared_by"),
        restricted_by: linker.some_grades(&head.restricted_by, "restricted_by"),
        fitness: linker.needs(&Asker::fitness("fitness, needs"), &head.fitness),
        sequences: sequences.iter().map(|s| linker.sequence(s)).collect(),
        obligations: draft.obligations.iter().filter_map(|o| linker.obligation(o)).collect(),
    };
    whole::check(&model, sink);
    Some(model)
}

fn step_id(number: u32) -> StepId {
    StepId(u16::try_from(number).unwrap_or(u16::MAX))
}

fn wide(number: &At<u8>) -> At<u32> {
    At { value: number.value.into(), at: number.at }
}

fn named(named: &draft::Named) -> Named {
    Named { id: named.id.value.clone(), number: named.number.value, name: named.name.clone() }
}

/// States; a role is that of one state.
fn states(head: &Head, sink: &Complaints) -> Vec<State> {
    let mut states: Vec<State> = Vec::new();
    for state in &head.states {
        let role = state.role.as_ref().map(|r| r.value);
        if let (Some(role), Some(other)) = (&state.role, states.iter().find(|s| s.role.is_some() && s.role == role)) {
            let (subject, what) =
                (format!("state `{}`", state.named.id.value), format!("`{}` has this role", other.named.id));
            sink.say(role.at, &subject, "role", what, "a role is that of one state: leave one out");
        }
        states.push(State { named: named(&state.named), role });
    }
    states
}

impl<'s> Linker<'s> {
    fn gather(head: &Head, sequences: &[&draft::Sequence], sink: &'s Complaints) -> Linker<'s> {
        let names = |noun: &'static str, all: Vec<&draft::Named>| {
            let mut names = Names::new(noun, sink);
            all.iter().for_each(|n| names.add(&n.id, wide(&n.number)));
            names
        };
        names("event", head.events.iter().map(|e| &e.named).collect());
        let (mut steps, mut titles) = (Names::new("step", sink), Names::new("sequence", sink));
        for sequence in sequences {
            titles.add(&sequence.id, wide(&sequence.number));
            for step in &sequence.steps {
                fresh_number(head, step, sink);
                steps.add(&step.id, At { value: step.number.value, at: step.number.at });
            }
        }
        let products = names("product", head.products.iter().collect());
        let fittings = names("fitting", head.fittings.iter().collect());
        let dues = names("due", head.dues.iter().map(|d| &d.named).collect());
        Linker {
            sink,
            grades: names("grade", head.grades.iter().map(|g| &g.named).collect()),
            features: names("feature", head.features.iter().collect()),
            states: names("state", head.states.iter().map(|s| &s.named).collect()),
            facts: Steps::of(sequences),
            fittings,
            products,
            dues,
            steps,
        }
    }

    fn grade(&self, grade: &draft::Grade) -> Grade {
        let subject = format!("grade `{}`", grade.named.id.value);
        let covers = self.grades.set(&grade.covers, &subject, "covers");
        if let Some(own) = grade.covers.iter().find(|c| c.value == grade.named.id.value) {
            self.sink.say(own.at, &subject, "covers", "a grade covers itself anyway", "leave it out");
        }
        Grade { named: named(&grade.named), covers }
    }

    fn due(&self, due: &draft::Due) -> Due {
        let subject = format!("date `{}`", due.named.id.value);
        let applies = due.applies.as_ref().and_then(|name| self.features.byte(name, &subject, "applies"));
        let applies = applies.map(FeatureId);
        Due { named: named(&due.named), rule: due.rule, applies, source: due.source.clone() }
    }

    fn some_grades(&self, names: &[Text], key: &str) -> offshed_core::ident::Set {
        let set = self.grades.set(names, "defects", key);
        if names.is_empty() {
            let head = Place { file: 0, line: 0, column: 0 };
            self.sink.say(
                head,
                "defects",
                key,
                "nobody is named, so no defect could ever go",
                "name one grade or more",
            );
        }
        set
    }

    fn grade_id(&self, name: &Text, subject: &str, key: &str) -> GradeId {
        GradeId(self.grades.byte(name, subject, key).unwrap_or(0))
    }

    fn step_list(&self, names: &[Text], subject: &str, key: &str) -> Vec<StepId> {
        names.iter().filter_map(|name| self.steps.find(name, subject, key)).map(step_id).collect()
    }

    fn event(&self, event: &draft::Event) -> Event {
        let subject = format!("event `{}`", event.named.id.value);
        let voids = match &event.voids {
            draft::Voids::All => Voids::All,
            draft::Voids::Steps(steps) => Voids::Steps(self.step_list(steps, &subject, "voids")),
        };
        let (sets, clears) = self.sets(&event.sets, &event.clears, &subject);
        Event {
            named: named(&event.named),
            by: self.grade_id(&event.by, &subject, "by"),
            voids,
            sets,
            clears,
            opens: event.opens,
            cleared_by: self.grades.set(&event.cleared_by, &subject, "cleared_by"),
        }
    }

    /// States that are set and cleared; none may be both.
    fn sets(
        &self,
        sets: &[Text],
        clears: &[Text],
        subject: &str,
    ) -> (offshed_core::ident::Set, offshed_core::ident::Set) {
        if let Some(both) = clears.iter().find(|c| sets.iter().any(|s| s.value == c.value)) {
            let what = format!("`{}` is set and cleared at once", both.value);
            self.sink.say(both.at, subject, "clears", what, "leave it in one of the two");
        }
        (self.states.set(sets, subject, "sets"), self.states.set(clears, subject, "clears"))
    }

    fn sequence(&self, sequence: &draft::Sequence) -> Sequence {
        let subject = format!("sequence `{}`", sequence.id.value);
        let mut stages = Names::new("stage", self.sink);
        for (n, (id, _)) in sequence.stages.iter().enumerate() {
            stages.add(id, At { value: u32::try_from(n).unwrap_or(u32::MAX), at: id.at });
            if !sequence.steps.iter().any(|s| s.stage.value == id.value) {
                let what = format!("no step stands in stage `{}`", id.value);
                self.sink.say(id.at, &subject, "stage", what, "take it out, or put a step into it");
            }
        }
        let by = sequence.by.as_ref().map(|by| self.grade_id(by, &subject, "by"));
        Sequence {
            id: sequence.id.value.clone(),
            number: SequenceId(sequence.number.value),
            title: sequence.title.clone(),
            purpose: sequence.purpose.clone(),
            stages: sequence.stages.iter().map(|(id, title)| (id.value.clone(), title.clone())).collect(),
            steps: sequence.steps.iter().map(|s| self.step(sequence, s, &stages, by)).collect(),
        }
    }

    fn step(&self, sequence: &draft::Sequence, step: &draft::Step, stages: &Names<'_>, by: Option<GradeId>) -> Step {
        let subject = format!("step `{}`", step.id.value);
        let own = step.by.as_ref().map(|by| self.grade_id(by, &subject, "by"));
        let by = own.or(by);
        if by.is_none() {
            let cure = "write `by` in the step or in `[sequence]`";
            self.sink.say(step.at, &subject, "by", "neither the step nor its sequence says who may answer it", cure);
        }
        let asker = Asker::step(sequence, step);
        let (sets, clears) = self.sets(&step.sets, &step.clears, &subject);
        let applies = step.applies.as_ref().and_then(|f| self.features.byte(f, &subject, "applies"));
        Step {
            id: step.id.value.clone(),
            number: step_id(step.number.value),
            stage: stages.byte(&step.stage, &subject, "stage").unwrap_or(0),
            title: step.title.clone(),
            instruction: step.instruction.clone(),
            caution: step.caution.clone(),
            source: step.source.clone(),
            minutes: step.minutes,
            kind: self.kind(&step.kind, &asker, &subject),
            by: by.unwrap_or(GradeId(0)),
            needs: self.step_needs(&asker, step),
            voids: self.step_list(&step.voids, &subject, "voids"),
            sets,
            clears,
            life_seconds: step.life_seconds,
            ends_with_day: step.ends_with_day,
            shared: step.shared,
            skippable: step.skippable,
            closes: step.closes,
            applies: applies.map(FeatureId),
            fails: step.fails,
            at: step.at,
        }
    }

    fn kind(&self, kind: &draft::Kind, asker: &Asker, subject: &str) -> Kind {
        match kind {
            draft::Kind::Ready(kind) => kind.clone(),
            draft::Kind::Identity(fitting) => {
                Kind::Identity(FittingId(self.fittings.byte(fitting, subject, "fitting").unwrap_or(0)))
            }
            draft::Kind::Due(due) => Kind::Due(DueId(self.dues.byte(due, subject, "due").unwrap_or(0))),
            draft::Kind::Figure(figure) => self.figure(figure, asker, subject),
        }
    }

    fn obligation(&self, obligation: &draft::Obligation) -> Option<Obligation> {
        let subject = format!("obligation on `{}`", obligation.goal.value);
        let (goal, asker) = if obligation.goal.value == "fitness" {
            (Goal::Fitness, Asker::fitness(&format!("{subject}, holds")))
        } else {
            let step = step_id(self.steps.find(&obligation.goal, &subject, "goal")?);
            (Goal::Step(step), Asker::goal(step, &format!("{subject}, holds"), &self.facts))
        };
        Some(Obligation {
            goal,
            fresh: self.step_list(&obligation.fresh, &subject, "fresh"),
            after: self.step_list(&obligation.after, &subject, "after"),
            holds: self.needs(&asker, &obligation.holds),
            why: obligation.why.clone(),
            at: obligation.at,
        })
    }

    fn state(&self, name: &Text, subject: &str, key: &str) -> Option<StateId> {
        self.states.byte(name, subject, key).map(StateId)
    }
}

/// A step's number is not a retired one, and its id no word that means something else.
fn fresh_number(head: &Head, step: &draft::Step, sink: &Complaints) {
    let subject = format!("step `{}`", step.id.value);
    if head.retired.iter().any(|n| n.value == step.number.value) {
        let what = format!("number {} is retired", step.number.value);
        sink.say(step.number.at, &subject, "number", what, "old records mean another step by it: take a new number");
    }
    if RESERVED.contains(&step.id.value.as_str()) {
        sink.say(step.id.at, &subject, "id", "this word means something else in packs", "take another id");
    }
}
