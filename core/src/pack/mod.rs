//! The pack: compiled, checked, immutable rules. It names no engine, person or date.
//!
//! [`Pack::check`] looks at every row once; after that no accessor fails or panics.
//! The rules are read in place from the bytes (`FORMAT.md`, section 2); the words stand apart, behind [`Texts`], so that
//! a small device fetches them when it shows them.

mod check;
pub mod layout;
pub mod rows;
mod texts;

pub use check::{Fault, PackFault};
pub use texts::{SliceTexts, Texts};

use crate::due::Rule as DueRule;
use crate::ident::{
    DueId, EventId, FeatureId, FittingId, GradeId, PackHash, ProductId, SequenceId, Set, StateId, StepId, TextId,
};
use crate::units::{Own, Quantity, Reading, Unit};
use layout::{Directory, Head, Table};
use rows::{
    AskRow, DueRow, EventRow, GradeRow, KindRow, LimitSlots, NamedRow, NeedRow, OptionRow, PartRow, Row, RuleRow,
    SequenceRow, Span, StepRow,
};

/// Limit slots of a reading step or part.
pub mod slot {
    /// Lowest value that counts.
    pub const LOW: u8 = 0;
    /// Highest value that counts.
    pub const HIGH: u8 = 1;
    /// Below this it counts, with a warning.
    pub const WARN_LOW: u8 = 2;
    /// Above this it counts, with a warning.
    pub const WARN_HIGH: u8 = 3;
    /// Shortest time.
    pub const AT_LEAST: u8 = 0;
    /// Longest time.
    pub const AT_MOST: u8 = 1;
    /// Greatest fall of the value during a hold.
    pub const MAX_FALL: u8 = 2;
    /// Least rise of the value during a hold.
    pub const MIN_RISE: u8 = 3;
    /// Greatest difference from the earlier part.
    pub const WITHIN: u8 = 0;
    /// Least rise for each [`OVER`].
    pub const RISE: u8 = 0;
    /// The time for which [`RISE`] is stated.
    pub const OVER: u8 = 1;
    /// Least delivery of a feed.
    pub const DELIVERY: u8 = 2;
    /// Highest reading at which a rise is believed.
    pub const HIGHEST: u8 = 3;
    /// The first limit of a figure's own; those before are of its result.
    pub const OWN: u8 = 4;
}

/// A checked pack over its bytes.
#[derive(Clone, Copy, Debug)]
pub struct Pack<'a> {
    bytes: &'a [u8],
    checked: Checked,
}

/// What a check found: opens the same bytes again without another look at every row.
#[derive(Clone, Copy, Debug)]
pub struct Checked {
    head: Head,
    directory: Directory,
    hash: PackHash,
}

impl<'a> Pack<'a> {
    /// Checks the rules part of a pack and opens it. `hash` is SHA-256 of the whole file, texts included.
    ///
    /// # Errors
    /// Names the table, the row and what is wrong with it; see [`Fault`].
    pub fn check(bytes: &'a [u8], hash: PackHash) -> Result<Pack<'a>, PackFault> {
        let (head, directory) = layout::read_head(bytes).map_err(PackFault::Head)?;
        let pack = Pack { bytes, checked: Checked { head, directory, hash } };
        check::run(&pack)?;
        Ok(pack)
    }

    /// Opens rules that were checked when they were built into a device, where a second check has no place.
    ///
    /// Other bytes than those give answers without meaning, but no panic.
    ///
    /// # Errors
    /// When the head is not that of a pack of this version.
    pub fn built_in(bytes: &'a [u8], hash: PackHash) -> Result<Pack<'a>, layout::HeadFault> {
        let (head, directory) = layout::read_head(bytes)?;
        Ok(Pack { bytes, checked: Checked { head, directory, hash } })
    }

    /// Opens bytes that were checked before. Other bytes than those give answers without meaning, but no panic.
    pub fn reopen(bytes: &'a [u8], checked: Checked) -> Pack<'a> {
        Pack { bytes, checked }
    }

    /// What the check found, for [`Pack::reopen`].
    pub fn checked(&self) -> Checked {
        self.checked
    }

    /// SHA-256 of the pack file: what sheets are bound to.
    pub fn hash(&self) -> PackHash {
        self.checked.hash
    }

    /// The head's fields.
    pub fn head(&self) -> &Head {
        &self.checked.head
    }

    fn row<R: Row>(&self, table: Table, n: usize) -> Option<R> {
        let place = *self.checked.directory.get(table as usize)?;
        R::read(layout::row_bytes::<R>(self.bytes, place, n)?)
    }

    fn rows<R: Row>(&self, table: Table) -> impl Iterator<Item = R> {
        let count = self.checked.directory.get(table as usize).map_or(0, |p| usize::from(p.rows));
        (0..count).filter_map(move |n| self.row(table, n))
    }

    fn span<R: Row>(&self, table: Table, span: Span) -> impl Iterator<Item = R> {
        span.places().filter_map(move |n| self.row(table, n))
    }

    /// All sequences, in the pack's order.
    pub fn sequences(&self) -> impl Iterator<Item = SequenceRow> {
        self.rows(Table::Sequences)
    }

    /// The sequence with this number.
    pub fn sequence(&self, id: SequenceId) -> Option<SequenceRow> {
        self.sequences().find(|s| s.id == id)
    }

    /// A sequence's steps, in order.
    pub fn steps(&self, id: SequenceId) -> impl Iterator<Item = StepRow> {
        self.span(Table::Steps, self.sequence(id).map_or(Span::default(), |s| s.steps))
    }

    /// All steps of all sequences.
    pub fn all_steps(&self) -> impl Iterator<Item = StepRow> {
        self.rows(Table::Steps)
    }

    /// The row of the step with this number: its number is the row's first two bytes, so only those are looked at.
    ///
    /// Numbers mostly rise along a sequence, one by one, with a later step put in here and there: the search starts
    /// where that would put the step, and goes outwards from there over all rows.
    fn step_row(&self, id: StepId) -> Option<usize> {
        let place = *self.checked.directory.get(Table::Steps as usize)?;
        let rows = usize::from(place.rows);
        let number = |n: usize| {
            let start = usize::from(place.offset) + n * StepRow::WIDTH;
            self.bytes.get(start..).and_then(|row| row.first_chunk()).map(|id| u16::from_le_bytes(*id))
        };
        let firsts = self.sequences().map(|sequence| usize::from(sequence.steps.first));
        let known = firsts.filter_map(|n| Some((number(n)?, n))).filter(|(first, _)| *first <= id.0);
        let (first, row) = known.max().unwrap_or((id.0, 0));
        let guess = (row + usize::from(id.0 - first)).min(rows.saturating_sub(1));
        let is = |n: &usize| *n < rows && number(*n) == Some(id.0);
        (0..rows).find_map(|off| [guess.checked_add(off), guess.checked_sub(off)].into_iter().flatten().find(is))
    }

    /// The step with this number.
    pub fn step(&self, id: StepId) -> Option<StepRow> {
        self.row(Table::Steps, self.step_row(id)?)
    }

    /// The step with this number, and where it stands in its sequence, from 0.
    pub fn placed(&self, id: StepId) -> Option<(StepRow, usize)> {
        let row = self.step_row(id)?;
        let step: StepRow = self.row(Table::Steps, row)?;
        Some((step, row.checked_sub(usize::from(self.sequence(step.sequence)?.steps.first))?))
    }

    /// Where a step stands in its sequence, from 0.
    pub fn place_of(&self, id: StepId) -> Option<usize> {
        self.placed(id).map(|(_, place)| place)
    }

    /// The title of stage `n` of a sequence.
    pub fn stage_title(&self, id: SequenceId, n: u8) -> TextId {
        let stages = self.sequence(id).map_or(Span::default(), |s| s.stages);
        self.span(Table::Stages, stages).nth(usize::from(n)).unwrap_or(TextId::NONE)
    }

    /// The requirements in a span, with their limits looked up.
    pub fn needs(&self, span: Span) -> impl Iterator<Item = Need> {
        self.span(Table::Needs, span)
            .filter_map(move |row: NeedRow| Some(Need { rule: self.rule(row.rule)?, group: row.group }))
    }

    /// What fitness needs.
    pub fn fitness_needs(&self) -> impl Iterator<Item = Need> {
        self.needs(self.checked.head.fitness)
    }

    fn rule(&self, row: RuleRow) -> Option<Rule> {
        let limit = |place: u16| self.limit_at(usize::from(place));
        let optional = |place: Option<u16>| place.and_then(limit);
        Some(match row {
            RuleRow::After(step) => Rule::After(step),
            RuleRow::Fresh(step, within) => Rule::Fresh { step, within_seconds: optional(within).map(seconds) },
            RuleRow::Within(step, low, high) => Rule::Within { step, low: optional(low), high: optional(high) },
            RuleRow::Agree(a, b, within) => Rule::Agree { a, b, within: limit(within)? },
            RuleRow::Wait(since, time) => Rule::Wait { since, seconds: seconds(limit(time)?) },
            RuleRow::AtLeast(reading, derived) => Rule::AtLeast { reading, derived },
            RuleRow::Grade(grade) => Rule::Grade(grade),
            RuleRow::Different(step) => Rule::Different(step),
            RuleRow::DifferentEveryone => Rule::DifferentEveryone,
            RuleRow::With(grade) => Rule::With(grade),
            RuleRow::InDate(due) => Rule::InDate(due),
            RuleRow::NoDefect(grade) => Rule::NoDefect(grade),
            RuleRow::State(state) => Rule::State(state),
            RuleRow::StateNot(state) => Rule::StateNot(state),
            RuleRow::NoTag => Rule::NoTag,
        })
    }

    fn limit_at(&self, place: usize) -> Option<Reading> {
        self.row(Table::Limits, place)
    }

    /// The limit in a slot, when it is given.
    pub fn limit(&self, slots: LimitSlots, slot: u8) -> Option<Reading> {
        self.limit_at(slots.place(slot)?)
    }

    /// A limit in a slot that holds a duration, in tenths of a second.
    pub fn limit_tenths(&self, slots: LimitSlots, slot: u8) -> Option<i64> {
        let base = self.limit(slots, slot)?.in_base(Quantity::Time, Own::UNKNOWN).ok()?;
        Some(base / 100)
    }

    /// The parts of a procedure, in order.
    pub fn parts(&self, span: Span) -> impl Iterator<Item = PartRow> {
        self.span(Table::Parts, span)
    }

    /// The options of a choice, in order.
    pub fn options(&self, span: Span) -> impl Iterator<Item = OptionRow> {
        self.span(Table::Options, span)
    }

    /// The steps in a span: those whose proofs are taken away, or that a figure starts from.
    pub fn listed(&self, span: Span) -> impl Iterator<Item = StepId> {
        self.span(Table::StepLists, span)
    }

    /// What a step's proof is a reading of: the value, the end of a hold, the last reading of a procedure, the result.
    pub fn value_of(&self, id: StepId) -> Option<Quantity> {
        let unit = match self.step(id)?.kind {
            KindRow::Reading { unit, .. } | KindRow::Figure { unit, .. } => Some(unit),
            KindRow::Timed { unit, .. } => unit,
            KindRow::Procedure { parts } => self.parts(parts).filter_map(|part| part_unit(part.ask)).last(),
            KindRow::Check
            | KindRow::Identity { .. }
            | KindRow::Choice { .. }
            | KindRow::Due { .. }
            | KindRow::Signature { .. } => None,
        };
        unit.map(Unit::quantity)
    }

    /// All grades.
    pub fn grades(&self) -> impl Iterator<Item = GradeRow> {
        self.rows(Table::Grades)
    }

    /// The grade with this number.
    pub fn grade(&self, id: GradeId) -> Option<GradeRow> {
        self.grades().find(|g| g.id == id)
    }

    /// The grades whose holder may act in grade `id`: itself, and those that cover it.
    pub fn holders_of(&self, id: GradeId) -> Set {
        let covering = self.grades().filter(|g| g.id == id || g.covers.has(id.0));
        covering.fold(Set::EMPTY, |set, g| set.with(g.id.0))
    }

    /// All features.
    pub fn features(&self) -> impl Iterator<Item = NamedRow> {
        self.rows(Table::Features)
    }

    /// All states.
    pub fn states(&self) -> impl Iterator<Item = NamedRow> {
        self.rows(Table::States)
    }

    /// All numbered fittings.
    pub fn fittings(&self) -> impl Iterator<Item = NamedRow> {
        self.rows(Table::Fittings)
    }

    /// All due dates.
    pub fn dues(&self) -> impl Iterator<Item = DueRow> {
        self.rows(Table::Dues)
    }

    /// The due date with this number.
    pub fn due(&self, id: DueId) -> Option<DueRow> {
        self.dues().find(|d| d.id == id)
    }

    /// A due date's rule.
    pub fn due_rule(&self, id: DueId) -> Option<DueRule> {
        self.due(id).map(|d| d.rule)
    }

    /// The feature without which a due date does not apply.
    pub fn due_applies(&self, id: DueId) -> Option<FeatureId> {
        self.due(id).and_then(|d| d.applies)
    }

    /// All treatment products.
    pub fn products(&self) -> impl Iterator<Item = NamedRow> {
        self.rows(Table::Products)
    }

    /// The name of a treatment product.
    pub fn product_name(&self, id: ProductId) -> TextId {
        name_in(self.products(), id.0)
    }

    /// All kinds of event.
    pub fn events(&self) -> impl Iterator<Item = EventRow> {
        self.rows(Table::Events)
    }

    /// The event with this number.
    pub fn event(&self, id: EventId) -> Option<EventRow> {
        self.events().find(|e| e.id == id)
    }

    /// The name of a feature.
    pub fn feature_name(&self, id: FeatureId) -> TextId {
        name_in(self.features(), id.0)
    }

    /// The name of a state.
    pub fn state_name(&self, id: StateId) -> TextId {
        name_in(self.states(), id.0)
    }

    /// The name of a numbered fitting.
    pub fn fitting_name(&self, id: FittingId) -> TextId {
        name_in(self.fittings(), id.0)
    }

    /// The name of a grade.
    pub fn grade_name(&self, id: GradeId) -> TextId {
        self.grade(id).map_or(TextId::NONE, |g| g.text)
    }

    /// The name of a due date.
    pub fn due_name(&self, id: DueId) -> TextId {
        self.due(id).map_or(TextId::NONE, |d| d.text)
    }

    /// The title of a step; what to do, caution and source are the next three texts.
    pub fn step_title(&self, id: StepId) -> TextId {
        self.step(id).map_or(TextId::NONE, |s| s.text)
    }
}

fn name_in(mut rows: impl Iterator<Item = NamedRow>, number: u8) -> TextId {
    rows.find(|row| row.number == number).map_or(TextId::NONE, |row| row.text)
}

/// The unit of a part that takes a reading.
pub fn part_unit(ask: AskRow) -> Option<Unit> {
    match ask {
        AskRow::Reading { unit, .. } | AskRow::Same { unit, .. } | AskRow::Rise { unit, .. } => Some(unit),
        AskRow::Seen | AskRow::Time { .. } => None,
    }
}

/// Whole seconds of a duration; a checked pack's durations are neither negative nor beyond 32 bits.
fn seconds(limit: Reading) -> u32 {
    let base = limit.in_base(Quantity::Time, Own::UNKNOWN).unwrap_or(0);
    u32::try_from(base / 1_000).unwrap_or(0)
}

/// One requirement with its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Need {
    /// The rule.
    pub rule: Rule,
    /// 0: on its own; neighbours with the same number are alternatives.
    pub group: u8,
}

/// One interlock: the closed list of what a step can wait for. It is evaluated in `verdict` and nowhere else.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// The step was done on this sheet.
    After(StepId),
    /// The step's proof is alive.
    Fresh {
        /// The step.
        step: StepId,
        /// A shorter life here, seconds.
        within_seconds: Option<u32>,
    },
    /// The step's proof is alive and its reading within.
    Within {
        /// The step.
        step: StepId,
        /// Lowest that counts.
        low: Option<Reading>,
        /// Highest that counts.
        high: Option<Reading>,
    },
    /// Both proofs are alive and the readings differ by no more.
    Agree {
        /// One step.
        a: StepId,
        /// The other.
        b: StepId,
        /// Greatest difference.
        within: Reading,
    },
    /// So long has passed since the step.
    Wait {
        /// The step.
        since: StepId,
        /// Seconds.
        seconds: u32,
    },
    /// The reading is not below the computed value.
    AtLeast {
        /// The reading step.
        reading: StepId,
        /// The derived step.
        derived: StepId,
    },
    /// The person answering holds the grade, in date.
    Grade(GradeId),
    /// Somebody other than who did the step.
    Different(StepId),
    /// Somebody other than everyone who answered on this sheet.
    DifferentEveryone,
    /// A second person of the grade is named as present.
    With(GradeId),
    /// The engine's due is in date.
    InDate(DueId),
    /// No open defect of this grade or worse.
    NoDefect(rows::DefectGrade),
    /// The engine is in the state.
    State(StateId),
    /// The engine is not in the state.
    StateNot(StateId),
    /// Nobody holds a tag on the engine.
    NoTag,
}
