//! Reasons: why something waits, fails or is refused, as data that names the step, the rule and what would cure it.
//!
//! `words` turns a reason into a sentence in the reader's language.

use crate::engine::{Overflow, VoidedBy};
use crate::ident::{
    DefectId, DeviceId, DueId, EntryRef, FeatureId, FittingId, GradeId, PersonId, ProductId, SheetId, StateId, StepId,
};
use crate::pack::rows::DefectGrade;
use crate::stamp::{Day, Stamp};
use crate::units::{Quantity, Reading};

/// Why a figure can't be told from readings that are all there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoFigure {
    /// A number it rests on is out of range.
    Number {
        /// The field, with its unit.
        field: &'static str,
    },
    /// The road's numbers are out of range.
    Road,
    /// The result is too large for its unit.
    TooLarge,
    /// No level that the glass shows keeps the crown covered and the level in sight on the whole road.
    NoLevelIsEnough,
    /// The glass stands too low to blow down from.
    FillFirst {
        /// The least to start from.
        least: Reading,
    },
    /// More rounds of blowing down than are worked out: fill higher first, or wash out.
    TooManyRounds,
    /// The feed is no cleaner than the target.
    FeedTooStrong,
    /// The pressure is too low to tell the temperature.
    NoSteadyPressure,
    /// The two readings were not taken one after the other, or days apart.
    NotApart,
    /// The glass was nearly full: the rise may have gone out of sight.
    NearlyFull {
        /// The highest reading at which a rise is believed.
        highest: Reading,
    },
}

/// Why one requirement does not hold, or why something was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// The step has not been done. Cure: do it.
    NeedsFirst {
        /// The step.
        step: StepId,
    },
    /// The step's last answer was "not right". Cure: put it right and do the step again.
    NotRight {
        /// The step.
        step: StepId,
    },
    /// A person marked the step not applicable, and a proof is wanted. Cure: do the step.
    Skipped {
        /// The step.
        step: StepId,
    },
    /// The proof has outlived its life. Cure: prove again.
    Lapsed {
        /// The step.
        step: StepId,
        /// When it lapsed.
        at: Stamp,
    },
    /// Something took the proof away. Cure: prove again.
    Voided {
        /// The step.
        step: StepId,
        /// When.
        at: Stamp,
        /// What.
        by: VoidedBy,
    },
    /// The proof was made under a clock that was not set. Cure: prove again with the clock set.
    ClockDoubted {
        /// The step.
        step: StepId,
    },
    /// The value is below the limit.
    Low {
        /// The step.
        step: StepId,
        /// The value.
        got: Reading,
        /// The limit.
        limit: Reading,
    },
    /// The value is above the limit.
    High {
        /// The step.
        step: StepId,
        /// The value.
        got: Reading,
        /// The limit.
        limit: Reading,
    },
    /// Two values differ by too much.
    Disagree {
        /// One step.
        a: StepId,
        /// The other.
        b: StepId,
        /// The one value.
        got_a: Reading,
        /// The other value.
        got_b: Reading,
        /// Greatest difference allowed.
        within: Reading,
    },
    /// The step holds no value to compare. Cure: do it again with a reading.
    NoValue {
        /// The step.
        step: StepId,
    },
    /// A share of the glass is wanted, and the register has no glass length for the engine.
    GlassUnknown,
    /// A share of the working pressure is wanted, and the register has none for the engine.
    WorkingUnknown,
    /// A figure wants the boiler's measures, and the register has none for the engine.
    BoilerUnknown,
    /// A figure wants the road that the engine will work, and the register names none.
    RoadUnknown,
    /// A dose wants the product's strength, and the register has none.
    ProductUnknown {
        /// The product.
        product: ProductId,
    },
    /// A figure wants the feed water's solids, and the register has none.
    FeedWaterUnknown,
    /// No figure can be told.
    NoFigure {
        /// The step.
        step: StepId,
        /// Why not.
        because: NoFigure,
    },
    /// Another figure was accepted than is due from what is recorded. Cure: look at the figure again.
    FigureDiffers {
        /// The step.
        step: StepId,
        /// What was accepted.
        got: Reading,
        /// What is due.
        due: Reading,
    },
    /// What the office states does not hold together.
    Unsound {
        /// The field, with its unit.
        field: &'static str,
    },
    /// It is too soon. Cure: wait.
    TooSoon {
        /// Since this step.
        since: StepId,
        /// Until then.
        until: Stamp,
    },
    /// The person does not hold the grade.
    NotInGrade {
        /// The grade.
        grade: GradeId,
    },
    /// The person's grade ran out.
    GradeLapsed {
        /// The grade.
        grade: GradeId,
        /// Its last day.
        last_day: Day,
    },
    /// The same person did that step. Cure: somebody else does this one.
    SamePerson {
        /// The step.
        step: StepId,
        /// The person.
        person: PersonId,
    },
    /// The person answered something on this sheet. Cure: somebody who did not.
    OnThisSheet {
        /// The person.
        person: PersonId,
    },
    /// A second person of the grade is to be named as present.
    NobodyWith {
        /// The grade.
        grade: GradeId,
    },
    /// The second person named is the one answering.
    WithOneself,
    /// The due date has passed, or its days in steam are used up.
    OutOfDate {
        /// Which.
        due: DueId,
        /// Its last day by the calendar, if it has one.
        last_day: Option<Day>,
        /// Days in steam left (negative: over), if they count.
        steam_days_left: Option<i32>,
    },
    /// Nobody has stated when it was last done.
    DateUnknown {
        /// Which.
        due: DueId,
    },
    /// A defect is open.
    DefectOpen {
        /// The defect.
        defect: DefectId,
        /// How bad.
        grade: DefectGrade,
    },
    /// The engine is not in the state.
    StateWanted {
        /// The state.
        state: StateId,
    },
    /// The engine is in the state.
    StateUnwanted {
        /// The state.
        state: StateId,
        /// Since when.
        since: Stamp,
    },
    /// Somebody holds a tag on the engine. Cure: its holder lifts it.
    TagHeld {
        /// The holder.
        person: PersonId,
        /// Since when.
        since: Stamp,
    },
    /// None of the alternatives applies to the engine: the pack has no way for it.
    NoAlternative,
    /// The step does not apply: the engine lacks the feature.
    NoFeature {
        /// The feature.
        feature: FeatureId,
    },
    /// The sheet is finished, given up or joined to another.
    SheetClosed,
    /// The sheet's people, devices or procedures are more than one sheet tells apart: it is carried, not judged.
    SheetCrowded,
    /// The step is not in the sheet's sequence.
    NotInSequence {
        /// The step.
        step: StepId,
    },
    /// The answer is of another kind than the step asks for.
    WrongKind {
        /// The step.
        step: StepId,
    },
    /// The reading's unit measures something else.
    WrongQuantity {
        /// The step.
        step: StepId,
        /// What is asked for.
        want: Quantity,
        /// What was given.
        got: Quantity,
    },
    /// A reading is asked for and none was given.
    ReadingMissing {
        /// The step.
        step: StepId,
    },
    /// There is no such option.
    NoSuchOption {
        /// How many there are.
        options: u8,
    },
    /// Words are asked for and none were given.
    WordsMissing,
    /// A part out of its order. Cure: do the part that is next.
    PartOrder {
        /// The step.
        step: StepId,
        /// The part that is next, from 0.
        next: u8,
    },
    /// The hold was not started. Cure: start it.
    NotBegun {
        /// The step.
        step: StepId,
    },
    /// As many procedures and holds are under way as one sheet keeps. Cure: finish one.
    TooManyUnderWay,
    /// The time was too short.
    TooShort {
        /// The step.
        step: StepId,
        /// Tenths of a second.
        tenths: u32,
        /// Tenths of a second wanted.
        least: u32,
    },
    /// The time was too long.
    TooLong {
        /// The step.
        step: StepId,
        /// Tenths of a second.
        tenths: u32,
        /// Tenths of a second allowed.
        most: u32,
    },
    /// The value fell too far during the hold.
    Fell {
        /// The step.
        step: StepId,
        /// From.
        from: Reading,
        /// To.
        to: Reading,
        /// Greatest fall allowed.
        most: Reading,
    },
    /// The value did not rise enough.
    RoseTooLittle {
        /// The step.
        step: StepId,
        /// From.
        from: Reading,
        /// To.
        to: Reading,
        /// Least rise wanted (over the time stated in the pack).
        least: Reading,
    },
    /// The number is not the one in the register.
    NumberDiffers {
        /// Which fitting.
        fitting: FittingId,
    },
    /// The register has no number to compare with.
    NumberUnknown {
        /// Which fitting.
        fitting: FittingId,
    },
    /// The option chosen does not pass.
    OptionFails {
        /// The step.
        step: StepId,
    },
    /// It is marked "not applicable", which this step does not allow.
    MayNotSkip {
        /// The step.
        step: StepId,
    },
    /// The moment stated lies in the future.
    InFuture,
    /// The moment stated lies before the sheet was opened.
    BeforeSheet,
    /// The answer to strike out is not there, or is struck out already.
    NoSuchAnswer {
        /// The entry.
        entry: EntryRef,
    },
    /// There is no such engine in the register.
    EngineUnknown,
    /// There is no such person in the register.
    PersonUnknown {
        /// The person.
        person: PersonId,
    },
    /// There is no such sequence in the pack.
    SequenceUnknown,
    /// There is no such event in the pack.
    EventUnknown,
    /// There is no such open defect.
    DefectUnknown {
        /// The defect.
        defect: DefectId,
    },
    /// The person holds no tag on the engine.
    NoTagOfTheirs,
    /// No pack is adopted, or the adopted one is not here. Cure: bring the pack.
    PackMissing,
    /// The signature names another pack than the sheet's.
    PackDiffers,
    /// The sheets do not belong together: another engine, sequence or pack.
    NotJoinable {
        /// The other sheet.
        sheet: SheetId,
    },
    /// More is recorded of the engine than this device can hold; it is not known.
    TooMuchRecorded {
        /// Which list ran over.
        list: Overflow,
    },
    /// Records of a device are damaged or missing here: what they said is not known. Cure: sync with a folder that has
    /// them.
    RecordsMissing {
        /// The device, where it is known.
        device: Option<DeviceId>,
    },
    /// A day already past.
    DayPast {
        /// The day.
        day: Day,
    },
    /// A restriction was written for a defect that is not graded "restricted".
    NotRestrictable {
        /// The defect.
        defect: DefectId,
    },
}
