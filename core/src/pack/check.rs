//! The one look at every row of a compiled pack, so that nothing after it can meet a row it does not understand.

use super::layout::{self, HEAD, HeadFault, Table};
use super::rows::{
    AskRow, DueRow, EventRow, Figure, GradeRow, KindRow, LimitSlots, NamedRow, NeedRow, OptionRow, PartRow, Row,
    RuleRow, SequenceRow, Span, StepRow, Voids,
};
use super::{Pack, part_unit, slot};
use crate::ident::{StepId, TextId};
use crate::limits::{NEEDS_PER_STEP, PACK_RULES_BYTES, PARTS_PER_PROCEDURE, STEPS_PER_SHEET};
use crate::units::{Own, Quantity, Reading, Unit};

/// Why bytes are no sound pack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PackFault {
    /// The head is wrong.
    Head(HeadFault),
    /// The rules are longer than a handheld can keep.
    TooLong {
        /// Bytes of rules.
        got: u32,
        /// Bytes allowed.
        most: u32,
    },
    /// A row is wrong.
    Row {
        /// The table.
        table: Table,
        /// The row, from 0.
        row: u16,
        /// What is wrong with it.
        fault: Fault,
    },
}

/// What is wrong with a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The row lies outside the rules, or holds a value this version does not know.
    Unreadable,
    /// Its number stands in an earlier row, too.
    Repeated,
    /// It names rows that are not there.
    Span,
    /// It names a step that is not there.
    NoSuchStep(StepId),
    /// It names a grade, feature, state, fitting, due date or stage that is not there.
    NoSuchNumber(u8),
    /// It names a text that is not there.
    NoSuchText(TextId),
    /// A limit's unit does not fit, a duration is negative, or the low limit is above the high one.
    Limit,
    /// A step lies in no sequence, or in one that does not claim it.
    Astray,
    /// More rows than one thing may have.
    TooMany,
    /// A part refers to a part that is not before it, or of the wrong sort.
    Part,
    /// A figure starts from a step that gives no reading of the right sort.
    NoReading(StepId),
}

type Found = Result<(), Fault>;

/// Checks every table.
pub(super) fn run(pack: &Pack<'_>) -> Result<(), PackFault> {
    let len = pack.checked.head.rules_len;
    if len as usize > PACK_RULES_BYTES {
        return Err(PackFault::TooLong { got: len, most: PACK_RULES_BYTES as u32 });
    }
    table::<Reading>(pack, Table::Limits, |_, _| Ok(()))?;
    table::<StepId>(pack, Table::StepLists, |_, id| known_step(pack, id))?;
    table::<TextId>(pack, Table::Stages, |_, id| known_text(pack, id, 1))?;
    table::<OptionRow>(pack, Table::Options, |_, row| known_text(pack, row.text, 1))?;
    table::<GradeRow>(pack, Table::Grades, |n, row| grade(pack, n, row))?;
    for names in [Table::Features, Table::States, Table::Fittings, Table::Products] {
        table::<NamedRow>(pack, names, |n, row| named(pack, names, n, row))?;
    }
    table::<DueRow>(pack, Table::Dues, |n, row| due(pack, n, row))?;
    table::<SequenceRow>(pack, Table::Sequences, |n, row| sequence(pack, n, row))?;
    table::<PartRow>(pack, Table::Parts, |_, row| part(pack, row))?;
    table::<NeedRow>(pack, Table::Needs, |_, row| need(pack, row))?;
    table::<StepRow>(pack, Table::Steps, |n, row| step(pack, n, row))?;
    table::<EventRow>(pack, Table::Events, |n, row| event(pack, n, row))?;
    let head = |fault| PackFault::Row { table: Table::Needs, row: pack.checked.head.fitness.first, fault };
    span(pack, Table::Needs, pack.checked.head.fitness, NEEDS_PER_STEP).map_err(head)
}

fn table<R: Row>(pack: &Pack<'_>, table: Table, check: impl Fn(usize, R) -> Found) -> Result<(), PackFault> {
    let place = pack.checked.directory.get(table as usize).copied().unwrap_or_default();
    let rules = pack.checked.head.rules_len as usize;
    for n in 0..place.rows {
        let fault = |fault| PackFault::Row { table, row: n, fault };
        let end = usize::from(place.offset) + (usize::from(n) + 1) * R::WIDTH;
        if usize::from(place.offset) < HEAD || end > rules {
            return Err(fault(Fault::Unreadable));
        }
        let bytes = layout::row_bytes::<R>(pack.bytes, place, usize::from(n));
        let row = bytes.and_then(R::read).ok_or(fault(Fault::Unreadable))?;
        check(usize::from(n), row).map_err(fault)?;
    }
    Ok(())
}

fn ensure(holds: bool, fault: Fault) -> Found {
    if holds { Ok(()) } else { Err(fault) }
}

fn known_step(pack: &Pack<'_>, id: StepId) -> Found {
    ensure(pack.step(id).is_some(), Fault::NoSuchStep(id))
}

/// `count` texts in a row from `id`.
fn known_text(pack: &Pack<'_>, id: TextId, count: u16) -> Found {
    ensure(id.0.checked_add(count).is_some_and(|end| end <= pack.checked.head.texts), Fault::NoSuchText(id))
}

fn known_grade(pack: &Pack<'_>, number: u8) -> Found {
    ensure(pack.grades().any(|g| g.id.0 == number), Fault::NoSuchNumber(number))
}

fn known_name(mut rows: impl Iterator<Item = NamedRow>, number: u8) -> Found {
    ensure(rows.any(|row| row.number == number), Fault::NoSuchNumber(number))
}

fn known_due(pack: &Pack<'_>, number: u8) -> Found {
    ensure(pack.dues().any(|d| d.id.0 == number), Fault::NoSuchNumber(number))
}

fn span(pack: &Pack<'_>, table: Table, span: Span, most: usize) -> Found {
    let rows = pack.checked.directory.get(table as usize).map_or(0, |p| usize::from(p.rows));
    ensure(span.places().end <= rows, Fault::Span)?;
    ensure(usize::from(span.len) <= most, Fault::TooMany)
}

fn first_of<R: Row>(pack: &Pack<'_>, table: Table, n: usize, same: impl Fn(&R) -> bool) -> Found {
    ensure(!pack.rows::<R>(table).take(n).any(|row| same(&row)), Fault::Repeated)
}

fn grade(pack: &Pack<'_>, n: usize, row: GradeRow) -> Found {
    first_of::<GradeRow>(pack, Table::Grades, n, |r| r.id == row.id)?;
    ensure((1..32).contains(&row.id.0), Fault::NoSuchNumber(row.id.0))?;
    known_text(pack, row.text, 1)
}

fn named(pack: &Pack<'_>, names: Table, n: usize, row: NamedRow) -> Found {
    first_of::<NamedRow>(pack, names, n, |r| r.number == row.number)?;
    let range = if names == Table::States { 0..16 } else { 1..64 };
    ensure(range.contains(&row.number), Fault::NoSuchNumber(row.number))?;
    known_text(pack, row.text, 1)
}

fn due(pack: &Pack<'_>, n: usize, row: DueRow) -> Found {
    first_of::<DueRow>(pack, Table::Dues, n, |r| r.id == row.id)?;
    ensure((1..64).contains(&row.id.0), Fault::NoSuchNumber(row.id.0))?;
    ensure(row.rule.months > 0 || row.rule.days > 0 || row.rule.steam_days > 0, Fault::Limit)?;
    if let Some(feature) = row.applies {
        known_name(pack.features(), feature.0)?;
    }
    known_text(pack, row.text, 2)
}

fn sequence(pack: &Pack<'_>, n: usize, row: SequenceRow) -> Found {
    first_of::<SequenceRow>(pack, Table::Sequences, n, |r| r.id == row.id)?;
    span(pack, Table::Steps, row.steps, STEPS_PER_SHEET)?;
    span(pack, Table::Stages, row.stages, STEPS_PER_SHEET)?;
    let own = pack.span(Table::Steps, row.steps).all(|step: StepRow| step.sequence == row.id);
    ensure(own && row.steps.len > 0, Fault::Astray)?;
    known_text(pack, row.text, 2)
}

/// Every given limit lies in the table and measures `quantity`; durations are not negative.
fn limits(pack: &Pack<'_>, slots: LimitSlots, quantities: &[Quantity]) -> Found {
    for (n, quantity) in quantities.iter().enumerate() {
        let Some(place) = slots.place(n as u8) else { continue };
        let limit = pack.limit_at(place).ok_or(Fault::Span)?;
        let sound = limit.unit.quantity() == *quantity && (*quantity != Quantity::Time || limit.milli >= 0);
        ensure(sound, Fault::Limit)?;
    }
    ensure(slots.mask >> quantities.len() == 0, Fault::Limit)
}

/// Two slots in order, where both are given and can be compared.
fn ordered(pack: &Pack<'_>, slots: LimitSlots, low: u8, high: u8) -> Found {
    let base = |n| pack.limit(slots, n).and_then(|l| l.in_base(l.unit.quantity(), Own::UNKNOWN).ok());
    ensure(!matches!((base(low), base(high)), (Some(low), Some(high)) if low > high), Fault::Limit)
}

fn reading_limits(pack: &Pack<'_>, slots: LimitSlots, unit: Unit) -> Found {
    ensure(unit.is_answered(), Fault::Limit)?;
    limits(pack, slots, &[unit.quantity(); 4])?;
    ordered(pack, slots, slot::LOW, slot::HIGH)?;
    ordered(pack, slots, slot::WARN_LOW, slot::WARN_HIGH)
}

fn part(pack: &Pack<'_>, row: PartRow) -> Found {
    known_text(pack, row.text, 1)?;
    match row.ask {
        AskRow::Seen => Ok(()),
        AskRow::Reading { unit, limits: slots } => reading_limits(pack, slots, unit),
        AskRow::Time { limits: slots } => {
            limits(pack, slots, &[Quantity::Time; 2])?;
            ordered(pack, slots, slot::AT_LEAST, slot::AT_MOST)
        }
        AskRow::Same { unit, limits: slots, .. } => {
            ensure(slots.mask == 1, Fault::Limit)?;
            limits(pack, slots, &[unit.quantity()])
        }
        AskRow::Rise { unit, limits: slots, .. } => {
            // Rise and time always; a delivery only of a glass, and only with the highest reading to believe.
            ensure(slots.mask == 0b11 || slots.mask == 0b1111 && unit.quantity() == Quantity::Glass, Fault::Limit)?;
            limits(pack, slots, &[unit.quantity(), Quantity::Time, Quantity::Flow, unit.quantity()])?;
            ensure(pack.limit_tenths(slots, slot::OVER).is_some_and(|t| t > 0), Fault::Limit)
        }
    }
}

fn procedure(pack: &Pack<'_>, parts: Span) -> Found {
    span(pack, Table::Parts, parts, PARTS_PER_PROCEDURE)?;
    ensure(parts.len > 0, Fault::Span)?;
    let at = |n: u8| pack.parts(parts).nth(usize::from(n)).map(|p| p.ask);
    for n in 0..parts.len {
        let reads = |earlier: u8| earlier < n && at(earlier).is_some_and(|a| part_unit(a).is_some());
        let times = |earlier: u8| earlier < n && matches!(at(earlier), Some(AskRow::Time { .. }));
        let sound = match at(n) {
            Some(AskRow::Same { part, .. }) => reads(part),
            Some(AskRow::Rise { part, timed_by, .. }) => reads(part) && times(timed_by),
            other => other.is_some(),
        };
        ensure(sound, Fault::Part)?;
    }
    Ok(())
}

fn limit_row(pack: &Pack<'_>, place: u16, quantity: Option<Quantity>) -> Found {
    let limit = pack.limit_at(usize::from(place)).ok_or(Fault::Span)?;
    let fits = quantity.is_none_or(|q| limit.unit.quantity() == q);
    ensure(fits && (limit.unit.quantity() != Quantity::Time || limit.milli >= 0), Fault::Limit)
}

fn need(pack: &Pack<'_>, row: NeedRow) -> Found {
    let limit = |place: Option<u16>, quantity| place.map_or(Ok(()), |p| limit_row(pack, p, quantity));
    let time = Some(Quantity::Time);
    match row.rule {
        RuleRow::After(step) | RuleRow::Different(step) => known_step(pack, step),
        RuleRow::Fresh(step, within) => known_step(pack, step).and_then(|()| limit(within, time)),
        RuleRow::Within(step, low, high) => {
            known_step(pack, step)?;
            limit(low, None)?;
            limit(high, None)
        }
        RuleRow::Agree(a, b, within) => {
            known_step(pack, a)?;
            known_step(pack, b)?;
            limit(Some(within), None)
        }
        RuleRow::Wait(step, duration) => known_step(pack, step).and_then(|()| limit(Some(duration), time)),
        RuleRow::AtLeast(a, b) => known_step(pack, a).and_then(|()| known_step(pack, b)),
        RuleRow::Grade(grade) | RuleRow::With(grade) => known_grade(pack, grade.0),
        RuleRow::InDate(due) => known_due(pack, due.0),
        RuleRow::State(state) | RuleRow::StateNot(state) => known_name(pack.states(), state.0),
        RuleRow::DifferentEveryone | RuleRow::NoDefect(_) | RuleRow::NoTag => Ok(()),
    }
}

fn step(pack: &Pack<'_>, n: usize, row: StepRow) -> Found {
    first_of::<StepRow>(pack, Table::Steps, n, |r| r.id == row.id)?;
    let claimed = pack.sequence(row.sequence).filter(|s| s.steps.places().contains(&n)).ok_or(Fault::Astray)?;
    ensure(row.stage < claimed.stages.len, Fault::NoSuchNumber(row.stage))?;
    known_grade(pack, row.by.0)?;
    if let Some(feature) = row.applies {
        known_name(pack.features(), feature.0)?;
    }
    span(pack, Table::Needs, row.needs, NEEDS_PER_STEP)?;
    span(pack, Table::StepLists, row.voids, usize::from(u8::MAX))?;
    row.sets.union(row.clears).members().try_for_each(|s| known_name(pack.states(), s))?;
    known_text(pack, row.text, 4)?;
    kind(pack, row.kind)
}

fn kind(pack: &Pack<'_>, kind: KindRow) -> Found {
    match kind {
        KindRow::Check | KindRow::Signature { .. } => Ok(()),
        KindRow::Reading { unit, limits } => reading_limits(pack, limits, unit),
        KindRow::Identity { fitting } => known_name(pack.fittings(), fitting.0),
        KindRow::Choice { options } => {
            span(pack, Table::Options, options, usize::from(u8::MAX))?;
            ensure(options.len > 0, Fault::Span)
        }
        KindRow::Timed { unit, limits: slots } => {
            let moved = unit.map_or(Quantity::Time, Unit::quantity);
            let reads = unit.is_some() || slots.mask >> slot::MAX_FALL == 0;
            ensure(reads, Fault::Limit)?;
            limits(pack, slots, &[Quantity::Time, Quantity::Time, moved, moved])?;
            ordered(pack, slots, slot::AT_LEAST, slot::AT_MOST)
        }
        KindRow::Due { due } => known_due(pack, due.0),
        KindRow::Procedure { parts } => procedure(pack, parts),
        KindRow::Figure { figure: what, unit, inputs, limits: slots } => figure(pack, what, unit, inputs, slots),
    }
}

/// A figure's result, inputs and own limits measure what they must, and none that is wanted is missing.
fn figure(pack: &Pack<'_>, figure: Figure, unit: Unit, inputs: Span, slots: LimitSlots) -> Found {
    // A share of an engine's own measure is no unit to tell a figure in.
    let share = unit.is_own();
    ensure(unit.quantity() == figure.quantity() && !share, Fault::Limit)?;
    if let Figure::Dose { product } = figure {
        known_name(pack.products(), product.0)?;
    }
    span(pack, Table::StepLists, inputs, figure.inputs().len())?;
    let wanted = figure.inputs().iter().filter(|input| input.wanted).count();
    ensure(usize::from(inputs.len) >= wanted, Fault::Span)?;
    for (input, step) in figure.inputs().iter().zip(pack.listed(inputs)) {
        known_step(pack, step)?;
        let value = pack.value_of(step);
        ensure(value.is_some_and(|quantity| input.quantities.contains(&quantity)), Fault::NoReading(step))?;
    }
    let own = figure.params();
    for n in slot::LOW..=slot::WARN_HIGH {
        let limit = pack.limit(slots, n);
        ensure(limit.is_none_or(|l| l.unit.quantity() == unit.quantity()), Fault::Limit)?;
    }
    let first = pack.listed(inputs).next().and_then(|step| pack.value_of(step));
    for (n, param) in (slot::OWN..).zip(own) {
        let quantity = pack.limit(slots, n).ok_or(Fault::Limit)?.unit.quantity();
        let chosen = param.quantities.len() == 1 || first == Some(quantity);
        ensure(param.quantities.contains(&quantity) && chosen, Fault::Limit)?;
    }
    // Every limit that is said to be there is there, and there are no others.
    let last = usize::from(slot::OWN) + own.len();
    ensure((0..last as u8).all(|n| slots.place(n).is_none() || pack.limit(slots, n).is_some()), Fault::Span)?;
    ensure(u16::from(slots.mask) >> last == 0, Fault::Limit)?;
    ordered(pack, slots, slot::LOW, slot::HIGH)?;
    ordered(pack, slots, slot::WARN_LOW, slot::WARN_HIGH)
}

fn event(pack: &Pack<'_>, n: usize, row: EventRow) -> Found {
    first_of::<EventRow>(pack, Table::Events, n, |r| r.id == row.id)?;
    known_grade(pack, row.by.0)?;
    if let Voids::Steps(voids) = row.voids {
        span(pack, Table::StepLists, voids, usize::from(u8::MAX))?;
    }
    row.sets.union(row.clears).members().try_for_each(|s| known_name(pack.states(), s))?;
    row.cleared_by.members().try_for_each(|g| known_grade(pack, g))?;
    known_text(pack, row.text, 1)
}
