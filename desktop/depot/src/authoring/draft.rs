//! A pack as its author wrote it: every key checked by itself, ids still words.

use offshed_core::due::Rule as DueRule;
use offshed_core::pack::rows::{DefectGrade, Figure, Input, Param};
use offshed_core::units::{Reading, Unit};

use super::complaint::Place;
use super::cursor::{At, Text};
use super::model::Role;

/// All files.
#[derive(Debug, Default)]
pub(super) struct Draft {
    pub(super) head: Option<Head>,
    pub(super) sequences: Vec<Sequence>,
    pub(super) obligations: Vec<Obligation>,
}

/// `pack.toml`.
#[derive(Debug)]
pub(super) struct Head {
    pub(super) id: String,
    pub(super) title: String,
    pub(super) edition: String,
    pub(super) language: String,
    pub(super) caution: String,
    pub(super) low_water: String,
    pub(super) retired: Vec<At<u32>>,
    pub(super) grades: Vec<Grade>,
    pub(super) features: Vec<Named>,
    pub(super) states: Vec<State>,
    pub(super) fittings: Vec<Named>,
    pub(super) products: Vec<Named>,
    pub(super) dues: Vec<Due>,
    pub(super) events: Vec<Event>,
    pub(super) cleared_by: Vec<Text>,
    pub(super) restricted_by: Vec<Text>,
    pub(super) fitness: Vec<Need>,
}

/// A number with an id and a name.
#[derive(Debug)]
pub(super) struct Named {
    pub(super) id: Text,
    pub(super) number: At<u8>,
    pub(super) name: String,
}

#[derive(Debug)]
pub(super) struct Grade {
    pub(super) named: Named,
    pub(super) covers: Vec<Text>,
}

#[derive(Debug)]
pub(super) struct State {
    pub(super) named: Named,
    pub(super) role: Option<At<Role>>,
}

#[derive(Debug)]
pub(super) struct Due {
    pub(super) named: Named,
    pub(super) rule: DueRule,
    pub(super) applies: Option<Text>,
    pub(super) source: String,
}

/// Whose proofs something takes away.
#[derive(Debug)]
pub(super) enum Voids {
    All,
    Steps(Vec<Text>),
}

#[derive(Debug)]
pub(super) struct Event {
    pub(super) named: Named,
    pub(super) by: Text,
    pub(super) voids: Voids,
    pub(super) sets: Vec<Text>,
    pub(super) clears: Vec<Text>,
    pub(super) opens: Option<DefectGrade>,
    pub(super) cleared_by: Vec<Text>,
}

#[derive(Debug)]
pub(super) struct Sequence {
    pub(super) id: Text,
    pub(super) number: At<u8>,
    pub(super) title: String,
    pub(super) purpose: String,
    pub(super) by: Option<Text>,
    pub(super) stages: Vec<(Text, String)>,
    pub(super) steps: Vec<Step>,
}

#[derive(Debug)]
pub(super) struct Step {
    pub(super) id: Text,
    pub(super) number: At<u32>,
    pub(super) stage: Text,
    pub(super) title: String,
    pub(super) instruction: String,
    pub(super) caution: String,
    pub(super) source: String,
    pub(super) minutes: u8,
    pub(super) kind: Kind,
    pub(super) by: Option<Text>,
    pub(super) needs: Vec<Need>,
    pub(super) voids: Vec<Text>,
    pub(super) sets: Vec<Text>,
    pub(super) clears: Vec<Text>,
    /// 0: the sheet.
    pub(super) life_seconds: u32,
    pub(super) ends_with_day: bool,
    pub(super) shared: bool,
    pub(super) skippable: bool,
    pub(super) closes: bool,
    pub(super) applies: Option<Text>,
    pub(super) fails: Option<DefectGrade>,
    pub(super) at: Place,
}

/// A kind: the model's own, where it names nothing else.
#[derive(Debug)]
pub(super) enum Kind {
    Ready(super::model::Kind),
    Identity(Text),
    Due(Text),
    Figure(Box<FigureDraft>),
}

/// A figure; what its limits measure may hang on another step.
#[derive(Debug)]
pub(super) struct FigureDraft {
    pub(super) figure: Figure,
    pub(super) product: Option<Text>,
    pub(super) unit: Unit,
    pub(super) inputs: Vec<(Input, Text)>,
    pub(super) limits: [Option<Reading>; 4],
    pub(super) params: Vec<(Param, Text)>,
}

/// One requirement, or alternatives of which one is enough.
#[derive(Debug)]
pub(super) struct Need {
    pub(super) rules: Vec<(Rule, Place)>,
    pub(super) any: bool,
    pub(super) because: Option<String>,
    pub(super) at: Place,
}

/// A rule; limits that need another step's quantity are still words.
#[derive(Debug)]
pub(super) enum Rule {
    After(Text),
    Fresh(Text, Option<u32>),
    Reading(Text, Option<Text>, Option<Text>),
    Agree(Text, Text, Text),
    Wait(Text, u32),
    AtLeast { derived: Text, reading: Text },
    Grade(Text),
    Different(Text),
    DifferentEveryone,
    With(Text),
    InDate(Text),
    NoDefect(DefectGrade),
    State(Text),
    StateNot(Text),
    NoTag,
}

#[derive(Debug)]
pub(super) struct Obligation {
    pub(super) goal: Text,
    pub(super) fresh: Vec<Text>,
    pub(super) after: Vec<Text>,
    pub(super) holds: Vec<Need>,
    pub(super) why: String,
    pub(super) at: Place,
}

/// What stands for a unit that was reported.
pub(super) const NO_UNIT: Unit = Unit::One;

/// What stands for a value that was reported.
pub(super) const NO_READING: Reading = Reading::whole(0, Unit::One);
