//! Laws that every plan of the practice pack keeps, for every sequence, way into steam and set of features, and at every
//! point of the work: checked against the pack's own requirements, not against the planner's network.

use std::collections::BTreeMap;

use offshed_core::ident::{GradeId, SequenceId, Set, StepId};
use offshed_core::pack::{Need, Pack, Rule};
use offshed_core::stamp::Stamp;
use offshed_depot::authoring::{self, SourceFile};
use offshed_depot::demo;
use offshed_depot::packfile::PackFile;
use offshed_depot::planning::{Asked, Begun, DoneStep, Heat, Planned, USUAL, What, leading_out, work_back};

const OFF_SHED: Stamp = Stamp(1_800_000_000);

fn practice() -> PackFile {
    let file = |(name, text): (&str, &str)| SourceFile { name: name.to_owned(), text: text.to_owned() };
    let files: Vec<SourceFile> = demo::PACK.into_iter().map(file).collect();
    let compiled = authoring::compile(&files).expect("the practice pack is sound");
    PackFile::from_bytes(compiled.bytes).expect("a pack")
}

fn heat(water_c: Option<f64>) -> Heat {
    Heat { limit: USUAL, water_c, working_kpa: Some(1_000.0) }
}

fn asked(sequence: SequenceId, features: Set, water_c: Option<f64>, now: Stamp) -> Asked<'static> {
    Asked { sequence, features, off_shed: OFF_SHED, now, hands: &[], heat: heat(water_c) }
}

/// Sets of features: none, each alone, all.
fn feature_sets(pack: &Pack<'_>) -> Vec<Set> {
    let all = pack.features().fold(Set::EMPTY, |set, f| set.with(f.number));
    let each = pack.features().map(|f| Set::EMPTY.with(f.number));
    [Set::EMPTY, all].into_iter().chain(each).collect()
}

/// Planned start and end of each step.
fn times(planned: &Planned) -> BTreeMap<StepId, (Stamp, Stamp)> {
    let rows = planned.rows.iter().filter_map(|row| {
        let What::Step(step) = row.what else { return None };
        Some((step, (row.planned_start, row.planned_start.plus(i64::from(row.minutes) * 60))))
    });
    rows.collect()
}

/// The steps that a requirement puts before the step that has it.
fn first(rule: Rule) -> Vec<StepId> {
    match rule {
        Rule::After(step) | Rule::Fresh { step, .. } | Rule::Within { step, .. } => vec![step],
        Rule::Wait { since, .. } => vec![since],
        Rule::Agree { a, b, .. } => vec![a, b],
        Rule::AtLeast { reading, derived } => vec![reading, derived],
        _ => Vec::new(),
    }
}

/// Whether a requirement is kept: what it names is over in time, or does not apply, or is done.
fn kept(pack: &Pack<'_>, rule: Rule, features: Set, begun: &Begun, times: &Times, start: Stamp) -> bool {
    let wait = if let Rule::Wait { seconds, .. } = rule { i64::from(seconds) } else { 0 };
    first(rule).into_iter().all(|step| {
        let row = pack.step(step).expect("a step");
        let applies = row.applies.is_none_or(|f| features.has(f.0));
        let over = times.get(&step).is_some_and(|(_, end)| end.plus(wait) <= start);
        !applies || over || begun.steps.contains_key(&step)
    })
}

type Times = BTreeMap<StepId, (Stamp, Stamp)>;

#[track_caller]
fn order_is_kept(pack: &Pack<'_>, sequence: SequenceId, features: Set, begun: &Begun, planned: &Planned) {
    let times = times(planned);
    for (step, (start, _)) in &times {
        let row = pack.step(*step).expect("a step");
        let needs: Vec<Need> = pack.needs(row.needs).collect();
        for group in needs.chunk_by(|a, b| a.group == b.group && a.group != 0) {
            // A proof of another sheet is not planned here.
            let here = |need: &&Need| {
                first(need.rule).iter().all(|s| pack.step(*s).is_some_and(|row| row.sequence == sequence))
            };
            let mut own = group.iter().filter(here).peekable();
            let any = own.peek().is_none() || own.any(|need| kept(pack, need.rule, features, begun, &times, *start));
            assert!(any, "{step}: {group:?}");
        }
    }
}

/// The states at a moment, when each step changes them as it ends.
fn states_at(pack: &Pack<'_>, begun: &Begun, times: &Times, at: Stamp, own: StepId) -> Set {
    let mut ended: Vec<(Stamp, StepId)> =
        times.iter().filter(|(s, (_, end))| **s != own && *end <= at).map(|(s, (_, end))| (*end, *s)).collect();
    ended.sort();
    ended
        .into_iter()
        .filter_map(|(_, step)| pack.step(step))
        .fold(begun.states, |states, row| states.without(row.clears).union(row.sets))
}

/// A state that a step wants holds while it is done, unless the plan says that nothing brings it.
#[track_caller]
fn states_are_right(pack: &Pack<'_>, begun: &Begun, planned: &Planned) {
    let times = times(planned);
    for (step, (start, end)) in &times {
        let row = pack.step(*step).expect("a step");
        for need in pack.needs(row.needs).filter(|need| need.group == 0) {
            for at in [*start, *end] {
                let states = states_at(pack, begun, &times, at, *step);
                let told = |state| planned.wanting.contains(&(*step, state));
                match need.rule {
                    Rule::State(state) => assert!(states.has(state.0) || told(state), "{step} {state}"),
                    Rule::StateNot(state) => assert!(!states.has(state.0) || told(state), "{step} not {state}"),
                    _ => {}
                }
            }
        }
    }
}

/// A proof is used before it lapses, from the end of one step to the end of the other, unless the plan tells.
#[track_caller]
fn proofs_live_until_used(pack: &Pack<'_>, planned: &Planned) {
    let times = times(planned);
    for (step, (_, used)) in &times {
        for need in pack.needs(pack.step(*step).expect("a step").needs) {
            let within = if let Rule::Fresh { within_seconds, .. } = need.rule { within_seconds } else { None };
            let alive = !matches!(need.rule, Rule::After(_) | Rule::Wait { .. } | Rule::AtLeast { .. });
            for proof in first(need.rule).into_iter().filter(|_| alive) {
                let Some((_, made)) = times.get(&proof) else { continue };
                let own = pack.step(proof).map(|row| row.life_seconds).filter(|life| *life > 0);
                let life = own.into_iter().chain(within).min().map_or(i64::MAX, i64::from);
                let told = planned.lapses.iter().any(|lapse| (lapse.step, lapse.before) == (proof, *step));
                assert!(used.since(*made) <= life || told, "{proof} before {step}");
            }
        }
    }
}

#[track_caller]
fn nobody_is_in_two_places(planned: &Planned) {
    for n in 0..planned.hands.len() {
        let mut own: Vec<(Stamp, Stamp)> = planned
            .rows
            .iter()
            .filter(|row| row.hand == Some(n) && row.minutes > 0)
            .map(|row| (row.planned_start, row.planned_start.plus(i64::from(row.minutes) * 60)))
            .collect();
        own.sort();
        assert!(own.windows(2).all(|pair| matches!(pair, [a, b] if a.1 <= b.0)), "{own:?}");
    }
}

#[track_caller]
fn people_are_right(pack: &Pack<'_>, planned: &Planned) {
    let who: BTreeMap<StepId, usize> = planned
        .rows
        .iter()
        .filter_map(|row| if let What::Step(step) = row.what { Some((step, row.hand?)) } else { None })
        .collect();
    for (step, hand) in &who {
        let row = pack.step(*step).expect("a step");
        assert!(pack.holders_of(row.by).has(planned.hands[*hand].grade.0), "{step}");
        for need in pack.needs(row.needs) {
            match need.rule {
                Rule::Different(other) => assert_ne!(who.get(&other), Some(hand), "{step} {other}"),
                Rule::DifferentEveryone => assert_eq!(who.values().filter(|h| *h == hand).count(), 1, "{step}"),
                _ => {}
            }
        }
    }
}

#[test]
fn every_plan_keeps_the_packs_order_and_people() {
    let file = practice();
    let pack = file.pack();
    let now = OFF_SHED.plus(-24 * 3_600);
    for sequence in pack.sequences() {
        for features in feature_sets(&pack) {
            for water_c in [None, Some(60.0), Some(150.0)] {
                let begun = Begun::default();
                let planned = work_back(&file, &asked(sequence.id, features, water_c, now), &begun).expect("a plan");
                assert!(!planned.rows.is_empty());
                order_is_kept(&pack, sequence.id, features, &begun, &planned);
                states_are_right(&pack, &begun, &planned);
                proofs_live_until_used(&pack, &planned);
                nobody_is_in_two_places(&planned);
                people_are_right(&pack, &planned);
                // Two at work and a foreman keep every proof alive until it is used, on every engine.
                assert!(Some(sequence.id) != leading_out(&pack) || planned.lapses.is_empty(), "{:?}", planned.lapses);
                let closes = pack.steps(sequence.id).filter(|row| row.closes);
                assert!(closes.into_iter().all(|row| times(&planned).contains_key(&row.id)));
            }
        }
    }
}

/// What the plan says first is done first, one step after the other: what is left never grows, and it ends with nothing.
#[test]
fn work_that_is_done_is_not_planned_again() {
    let file = practice();
    let pack = file.pack();
    let features = feature_sets(&pack)[1];
    let sequence = leading_out(&pack).expect("a sequence");
    let mut begun = Begun::default();
    let mut now = OFF_SHED.plus(-24 * 3_600);
    let mut before = u32::MAX;
    for _ in 0..100 {
        let planned = work_back(&file, &asked(sequence, features, None, now), &begun).expect("a plan");
        order_is_kept(&pack, sequence, features, &begun, &planned);
        states_are_right(&pack, &begun, &planned);
        assert!(planned.least_minutes <= before, "{} after {before}", planned.least_minutes);
        before = planned.least_minutes;
        let next = planned.rows.iter().filter_map(|row| match row.what {
            What::Step(step) => Some((step, row.planned_start.plus(i64::from(row.minutes) * 60))),
            _ => None,
        });
        let Some((step, end)) = next.min_by_key(|(_, end)| *end) else {
            assert_eq!((planned.crew_on_by, planned.light_up_by, before), (None, None, 0));
            return;
        };
        let row = pack.step(step).expect("a step");
        begun.states = begun.states.without(row.clears).union(row.sets);
        now = now.max(end);
        begun.steps.insert(step, DoneStep { alive: true, at: end, value: None });
    }
    panic!("the plan does not end");
}

/// A grade that nobody holds is named, for each grade that steps ask for.
#[test]
fn whoever_lacks_is_named() {
    let file = practice();
    let pack = file.pack();
    let sequence = leading_out(&pack).expect("a sequence");
    let now = OFF_SHED.plus(-24 * 3_600);
    let usual = work_back(&file, &asked(sequence, Set::EMPTY, None, now), &Begun::default()).expect("a plan");
    // From cold every state that a step wants is brought by a step before it.
    assert_eq!((&usual.wanting, &usual.elsewhere), (&Vec::new(), &Vec::new()));
    let hands: Vec<GradeId> = usual.hands.iter().map(|hand| hand.grade).collect();
    for lacking in &hands {
        let rest: Vec<GradeId> = hands.iter().copied().filter(|grade| grade != lacking).collect();
        let asked = Asked { hands: &rest, ..asked(sequence, Set::EMPTY, None, now) };
        let bad = work_back(&file, &asked, &Begun::default()).expect_err("somebody lacks");
        assert!(bad.to_string().contains("add"), "{bad}");
    }
}
