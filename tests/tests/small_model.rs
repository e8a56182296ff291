//! Every run of a small pack through the real rules: all orders of answers, "not right", strike-outs, an event and the
//! passing of time, by two people. The states reached are counted, so that a rule that grows weaker is noticed.
//!
//! *Always*: nobody signs but over living proofs of glass and feed, and never who proved the glass. *Sometimes*: it is
//! signed; it is signed again after a proof was lost. What is alive is kept a second time, by hand, beside the rules.

use std::collections::{HashSet, VecDeque};

use offshed_core::desk::{Staffing, View, permit};
use offshed_core::engine::EngineState;
use offshed_core::entry::{Answer, Entry, Fact, What};
use offshed_core::fold;
use offshed_core::ident::{DeviceId, EngineId, EntryRef, EventId, GradeId, PersonId, SequenceId, Set, StepId};
use offshed_core::pack::Pack;
use offshed_core::sheet::Sheet;
use offshed_core::stamp::{Clock, Hlc, Now, Stamp};
use offshed_core::verdict::{Scene, StepState, Who, of, offers};
use offshed_depot::authoring::{SourceFile, compile};
use offshed_depot::ledger::Office;
use offshed_depot::packfile::PackFile;

const HEAD: &str = r#"
[pack]
id = "small"
title = "Small pack"
edition = "1"
language = "en"
caution = "A test."
low_water = "A test."
retired_steps = []
[[grade]]
id = "crew"
number = 1
name = "Crew"
covers = []
[[event]]
id = "renewed"
number = 1
name = "Glass renewed"
by = "crew"
voids = ["glass", "sign"]
[defects]
cleared_by = ["crew"]
restricted_by = ["crew"]
[fitness]
needs = [{ fresh = "sign" }]
"#;

const SEQUENCE: &str = r#"
[sequence]
id = "work"
number = 1
title = "Work"
purpose = "A test."
by = "crew"
[[stage]]
id = "all"
title = "All"
[[step]]
id = "glass"
number = 1
stage = "all"
title = "Glass"
do = "See it."
minutes = 1
source = "a test"
kind = "check"
shared = true
life = "15 min"
fails = "none"
[[step]]
id = "feed"
number = 2
stage = "all"
title = "Feed"
do = "See it."
minutes = 1
source = "a test"
kind = "check"
shared = true
life = "10 min"
fails = "none"
needs = [{ fresh = "glass" }]
[[step]]
id = "sign"
number = 3
stage = "all"
title = "Sign"
do = "Sign."
minutes = 1
source = "a test"
kind = "signature"
shared = true
needs = [{ fresh = "glass" }, { fresh = "feed" }, { different = "glass" }]
[[step]]
id = "end"
number = 4
stage = "all"
title = "End"
do = "End."
minutes = 1
source = "a test"
kind = "check"
closes = true
needs = [{ fresh = "sign" }]
[[obligation]]
goal = "sign"
fresh = ["glass", "feed"]
holds = [{ different = "glass" }]
why = "a test"
[[obligation]]
goal = "feed"
fresh = ["glass"]
why = "a test"
[[obligation]]
goal = "end"
fresh = ["sign"]
why = "a test"
[[obligation]]
goal = "fitness"
fresh = ["sign"]
why = "a test"
"#;

const GLASS: StepId = StepId(1);
const FEED: StepId = StepId(2);
const SIGN: StepId = StepId(3);
const ENGINE: EngineId = EngineId(1);
const PEOPLE: [PersonId; 2] = [PersonId(1), PersonId(2)];

/// What is alive, kept by hand: when and by whom, and whether a proof was ever lost.
#[derive(Clone, Copy, Default)]
struct ByHand {
    glass: Option<(i64, u16)>,
    feed: Option<i64>,
    lost: bool,
}

impl ByHand {
    fn may_sign(&self, now: i64, person: u16) -> bool {
        let glass = self.glass.is_some_and(|(at, by)| now - at < 900 && by != person);
        glass && self.feed.is_some_and(|at| now - at < 600)
    }

    fn answered(&mut self, step: StepId, now: i64, person: u16) {
        match step {
            GLASS => self.glass = Some((now, person)),
            FEED => self.feed = Some(now),
            _ => {}
        }
    }

    /// The glass was struck out or found not right: the feed, which was read in it, goes too.
    fn lost_glass(&mut self) {
        (self.glass, self.feed, self.lost) = (None, None, true);
    }
}

#[derive(Clone)]
struct State {
    sheet: Sheet,
    engine: EngineState,
    hand: ByHand,
    now: i64,
    seq: u32,
    signed: bool,
}

#[derive(Clone, Copy, Debug)]
enum Act {
    Answer(StepId, PersonId),
    GlassNotRight,
    StrikeGlass,
    Renewed,
    Wait,
}

struct World<'a> {
    pack: Pack<'a>,
    office: Office,
}

impl World<'_> {
    fn act(&self, before: &State, act: Act) -> Option<State> {
        let mut state = before.clone();
        state.now += if matches!(act, Act::Wait) { 300 } else { 1 };
        let (what, person) = match act {
            Act::Wait => return Some(state),
            Act::Answer(step, person) => (self.answered(&state, step, self.passing(step)), person),
            Act::GlassNotRight => {
                let words = "cracked".try_into().unwrap();
                (self.answered(&state, GLASS, Answer::NotRight { words }), PEOPLE[0])
            }
            Act::StrikeGlass => {
                let mark = state.sheet.mark(0)?;
                let (entry, reason) = (mark.proof.entry, "wrong engine".try_into().unwrap());
                (What::Struck { sheet: state.sheet.id, step: GLASS, entry, reason }, mark.proof.by)
            }
            Act::Renewed => {
                let words = Default::default();
                (What::Happened { engine: ENGINE, event: EventId(1), words, done_at: None }, PEOPLE[0])
            }
        };
        self.write(&mut state, what, person)?;
        match act {
            Act::Answer(step, person) => {
                if step == SIGN {
                    assert!(state.hand.may_sign(state.now, person.0), "signed over {:?}", state.hand.glass);
                    state.signed = true;
                }
                state.hand.answered(step, state.now, person.0);
            }
            Act::GlassNotRight | Act::StrikeGlass => state.hand.lost_glass(),
            // The event names the glass; the feed stands on a glass that is no more, but lapses by itself.
            Act::Renewed => (state.hand.glass, state.hand.lost) = (None, true),
            Act::Wait => {}
        }
        Some(state)
    }

    fn passing(&self, step: StepId) -> Answer {
        if step == SIGN { Answer::Signed { pack: self.pack.hash(), seen: Default::default() } } else { Answer::Done }
    }

    fn answered(&self, state: &State, step: StepId, answer: Answer) -> What {
        let over = fold::standing(&self.pack, &state.sheet, step);
        What::Answered { sheet: state.sheet.id, step, answer, done_at: None, with: None, over }
    }

    /// The desk's own check, then the fold; `None` when it is refused.
    fn write(&self, state: &mut State, what: What, person: PersonId) -> Option<()> {
        let now = Now::good(Stamp(state.now));
        let view = View {
            pack: Some(&self.pack),
            register: &self.office,
            engine: Some(&state.engine),
            sheet: Some(&state.sheet),
            office: Staffing::Staffed,
        };
        permit(&view, &what, person, now).ok()?;
        state.seq += 1;
        let at = EntryRef { device: DeviceId([1; 8]), seq: state.seq };
        let hlc = Hlc(u64::from(state.seq));
        let entry = Entry { at, hlc, stamp: now.stamp, clock: Clock::Good, person, what };
        match entry.what {
            What::Happened { .. } => fold::engine(Some(&self.pack), &mut state.engine, &entry),
            _ => fold::sheet(&self.pack, &self.office, &mut state.engine, &mut state.sheet, &entry),
        }
        assert!(state.sheet.contested().is_empty(), "what the desk allowed is contested: {entry:?}");
        Some(())
    }

    /// What tells two states apart: how each step stands and how old it is, in steps of five minutes.
    fn key(&self, state: &State) -> Vec<(u8, i64, u16)> {
        let scene = self.scene(state);
        let now = Now::good(Stamp(state.now));
        let steps = self.pack.steps(SequenceId(1));
        let mut key: Vec<(u8, i64, u16)> = steps
            .map(|step| {
                let (kind, mark) = match of(&scene, step.id, Who::default(), now) {
                    StepState::Open => (0, None),
                    StepState::Waiting(_) => (1, None),
                    StepState::Proven { mark, .. } => (2, Some(mark)),
                    StepState::Gone { mark, .. } => (3, Some(mark)),
                    StepState::NotRight { mark } => (4, Some(mark)),
                    other => panic!("{other:?}"),
                };
                let age = mark.map_or(0, |m| (state.now - m.proof.at.0).div_euclid(300).min(3));
                (kind, age, mark.map_or(0, |m| m.proof.by.0))
            })
            .collect();
        key.push((u8::from(state.signed), i64::from(state.hand.lost), 0));
        key
    }

    fn scene<'s>(&'s self, state: &'s State) -> Scene<'s> {
        Scene {
            pack: &self.pack,
            register: &self.office,
            engine: &state.engine,
            sheet: Some(&state.sheet),
            left_at: None,
        }
    }

    /// Offers and the desk agree: what is offered is written, and what is neither offered nor a repeat is refused.
    fn check_offers(&self, state: &State) {
        let scene = self.scene(state);
        for person in PEOPLE {
            let who = Who { person: Some(person), with: None };
            for offer in offers(&scene, who, Now::good(Stamp(state.now + 1))) {
                assert!(self.act(state, Act::Answer(offer.step, person)).is_some(), "offered and refused: {offer:?}");
            }
        }
    }
}

#[test]
fn every_run_of_a_small_pack() {
    let files = [("pack.toml", HEAD), ("work.toml", SEQUENCE)];
    let files = files.map(|(name, text)| SourceFile { name: name.to_owned(), text: text.to_owned() });
    let compiled = compile(&files).unwrap_or_else(|c| panic!("{}", c[0]));
    let file = PackFile::from_bytes(compiled.bytes).unwrap();
    let mut office = Office::default();
    for person in PEOPLE {
        office.apply(&Fact::Competence { person, grade: GradeId(1), until: None, held: true });
    }
    let name = Default::default();
    office.apply(&Fact::Engine { engine: ENGINE, name, features: Set::EMPTY, glass_mm: 0, working: None });
    let world = World { pack: file.pack(), office };
    let at = EntryRef { device: DeviceId([1; 8]), seq: 1 };
    let start = State {
        sheet: Sheet::open(at, ENGINE, SequenceId(1), file.hash(), PEOPLE[0], Stamp(0)),
        engine: EngineState::new(ENGINE),
        hand: ByHand::default(),
        now: 0,
        seq: 1,
        signed: false,
    };
    let answers = [GLASS, FEED, SIGN].into_iter().flat_map(|step| PEOPLE.map(|person| Act::Answer(step, person)));
    let acts: Vec<Act> = answers.chain([Act::GlassNotRight, Act::StrikeGlass, Act::Renewed, Act::Wait]).collect();
    let (mut seen, mut waiting) = (HashSet::new(), VecDeque::from([start]));
    let (mut signed, mut signed_after_loss) = (false, false);
    while let Some(state) = waiting.pop_front() {
        if !seen.insert(world.key(&state)) {
            continue;
        }
        world.check_offers(&state);
        signed |= state.signed;
        signed_after_loss |= state.signed && state.hand.lost;
        waiting.extend(acts.iter().filter_map(|act| world.act(&state, *act)));
    }
    assert!(signed && signed_after_loss, "the checks are empty: it is never signed");
    assert_eq!(seen.len(), 1_820, "states reached");
}
