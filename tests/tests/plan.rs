//! Working back from off shed: textbook networks, an independent graph library, and laws that any plan must keep.

use offshed_core::plan::{Activity, Grades, NoPlan, Plan, Raising, Row, StepTime, Timing, Work, plan, raising_minutes};
use offshed_core::stamp::Stamp;
use petgraph::algo::{bellman_ford, is_cyclic_directed, tarjan_scc};
use petgraph::graph::{DiGraph, NodeIndex};
use proptest::prelude::*;

const OFF_SHED: Stamp = Stamp(1_800_000_000);

fn before(minutes: i64) -> Stamp {
    OFF_SHED.plus(-minutes * 60)
}

fn grades(list: &[u8]) -> Grades {
    list.iter().fold(Grades::NONE, |set, g| set.with(*g).unwrap())
}

/// A step for the tests: minutes, the places it comes after, grades.
#[derive(Debug)]
struct Step(u32, Vec<u16>, Grades);

/// Makes a plan and hands it on; a test's scratch is as long as it must be.
fn planned<T>(steps: &[Step], crew: &[Grades], now: Stamp, look: impl FnOnce(Plan<'_>) -> T) -> Result<T, NoPlan> {
    let activities: Vec<_> = steps
        .iter()
        .enumerate()
        .map(|(n, Step(minutes, after, grades))| Activity {
            id: n as u16,
            minutes: *minutes,
            after,
            grades: *grades,
            done: false,
        })
        .collect();
    let work = Work { off_shed: OFF_SHED, now, activities: &activities, crew };
    let mut rows = vec![Row::default(); steps.len()];
    let mut people = vec![0; crew.len()];
    plan(work, &mut rows, &mut people).map(look)
}

/// Latest starts counted from the beginning, as textbooks do.
#[track_caller]
fn latest_starts(steps: &[Step], length: u32) -> Vec<i64> {
    planned(steps, &[], before(100_000), |plan| {
        assert_eq!(plan.critical_minutes(), length);
        let start = before(i64::from(length));
        plan.steps().map(|s| s.latest_start.since(start) / 60).collect()
    })
    .unwrap()
}

fn unattended(minutes: u32, after: &[u16]) -> Step {
    Step(minutes, after.to_vec(), Grades::NONE)
}

/// Hillier and Lieberman, Introduction to Operations Research, chapter on project management with PERT/CPM, the
/// building of a plant in fourteen activities A to N: 44 weeks along A-B-C-E-F-J-L-N; slack D 4, G 4, H 4, I 2, K 1, M
/// 4 (from memory; durations and length checked by its six paths: 40, 31, 43, 44, 41, 42).
#[test]
fn the_fourteen_activities_of_hillier_and_lieberman() {
    let steps = [
        unattended(2, &[]),       // A
        unattended(4, &[0]),      // B
        unattended(10, &[1]),     // C
        unattended(6, &[2]),      // D
        unattended(4, &[2]),      // E
        unattended(5, &[4]),      // F
        unattended(7, &[3]),      // G
        unattended(9, &[4, 6]),   // H
        unattended(7, &[2]),      // I
        unattended(8, &[5, 8]),   // J
        unattended(4, &[9]),      // K
        unattended(5, &[9]),      // L
        unattended(2, &[7]),      // M
        unattended(6, &[10, 11]), // N
    ];
    assert_eq!(latest_starts(&steps, 44), [0, 2, 6, 20, 16, 20, 26, 33, 18, 25, 34, 33, 42, 38]);
    let critical: String = planned(&steps, &[], before(44), |plan| {
        let on_path = plan.steps().zip('A'..).filter(|(s, _)| s.critical);
        on_path.map(|(_, letter)| letter).collect()
    })
    .unwrap();
    assert_eq!(critical, "ABCEFJLN");
}

/// Steps on nodes from a textbook's steps on arrows `(from, to, time)`: a step comes after those that end where it
/// begins.
fn from_arrows(arrows: &[(u8, u8, u32)]) -> Vec<Step> {
    let ending_at = |node: u8| (0..).zip(arrows).filter(move |(_, a)| a.1 == node).map(|(n, _)| n);
    arrows.iter().map(|a| unattended(a.2, &ending_at(a.0).collect::<Vec<_>>())).collect()
}

/// Taylor, Introduction to Management Science, chapter 8, problem 5, printed solution: times, latest starts, 20 in all.
#[test]
fn problem_5_of_taylor_chapter_8() {
    let arrows = [(1, 2, 7), (1, 3, 10), (2, 4, 6), (3, 4, 5), (3, 5, 4), (4, 5, 3), (5, 6, 2)];
    assert_eq!(latest_starts(&from_arrows(&arrows), 20), [2, 0, 9, 10, 14, 15, 18]);
}

/// Same, problem 6, with a dummy of no length: 38 in all.
#[test]
fn problem_6_of_taylor_chapter_8() {
    let arrows = [
        (1, 2, 8),
        (1, 3, 10),
        (1, 4, 9),
        (2, 5, 6),
        (2, 6, 4),
        (3, 5, 5),
        (4, 5, 0),
        (4, 7, 7),
        (5, 7, 12),
        (5, 8, 15),
        (6, 9, 18),
        (7, 8, 4),
        (8, 9, 7),
    ];
    assert_eq!(latest_starts(&from_arrows(&arrows), 38), [1, 0, 6, 9, 16, 10, 15, 20, 15, 16, 20, 27, 31]);
}

const FIREMAN: u8 = 0;
const DRIVER: u8 = 1;

/// A small morning, worked by hand: water and fire first, steam in 180 minutes, oiling round beside it, sign and go.
fn morning() -> [Step; 5] {
    [
        Step(20, vec![], grades(&[FIREMAN])),             // 0 look over, water in sight
        Step(10, vec![0], grades(&[FIREMAN])),            // 1 light up
        Step(180, vec![1], Grades::NONE),                 // 2 raise steam
        Step(60, vec![0], grades(&[DRIVER])),             // 3 oil round
        Step(15, vec![2, 3], grades(&[FIREMAN, DRIVER])), // 4 ready
    ]
}

#[test]
fn a_morning_by_hand() {
    let crew = [grades(&[FIREMAN]), grades(&[DRIVER])];
    planned(&morning(), &crew, before(240), |plan| {
        assert_eq!(plan.critical_minutes(), 225);
        assert_eq!(plan.planned_minutes(), 225);
        let light_up = plan.step(1).unwrap();
        assert_eq!(light_up.latest_start, before(205));
        assert_eq!(light_up.person, Some(0));
        assert_eq!(light_up.timing, Timing::InTime);
        assert_eq!(plan.step(3).unwrap().latest_start, before(75));
        assert!(!plan.step(3).unwrap().critical);
        assert_eq!(plan.crew_on_by(), Some(before(225)));
        assert_eq!(plan.person_on_by(1), Some(before(75)));
        assert_eq!(plan.off_shed_expected(), OFF_SHED);
        assert_eq!(plan.step(9), None);
    })
    .unwrap();
}

#[test]
fn one_pair_of_hands_does_one_thing_at_a_time() {
    let both = [grades(&[FIREMAN, DRIVER])];
    let steps = [
        Step(30, vec![], grades(&[FIREMAN])),
        Step(40, vec![], grades(&[DRIVER])),
        Step(50, vec![], grades(&[DRIVER])),
    ];
    planned(&steps, &both, before(100), |plan| {
        assert_eq!(plan.critical_minutes(), 50);
        assert_eq!(plan.least_minutes(), 120);
        assert_eq!(plan.planned_minutes(), 120);
        assert_eq!(plan.off_shed_expected(), OFF_SHED.plus(20 * 60));
        let timings: Vec<_> = plan.steps().map(|s| s.timing).collect();
        assert!(timings.contains(&Timing::BehindPlan { minutes: 20 }), "{timings:?}");
    })
    .unwrap();
}

#[test]
fn what_is_late_says_by_how_much() {
    let crew = [grades(&[FIREMAN]), grades(&[DRIVER])];
    let now = before(200).plus(1);
    planned(&morning(), &crew, now, |plan| {
        let timings: Vec<_> = plan.steps().map(|s| s.timing).collect();
        // A second over is told as a minute.
        assert_eq!(timings[0], Timing::Late { minutes: 26 });
        assert_eq!(timings[1], Timing::Late { minutes: 6 });
        assert_eq!(timings[2], Timing::InTime, "steam is raised from 195 minutes before");
    })
    .unwrap();
}

#[test]
fn what_is_done_takes_no_time_and_nobody() {
    let steps = morning();
    let mut activities: Vec<_> = (0..)
        .zip(&steps)
        .map(|(id, Step(minutes, after, grades))| Activity {
            id,
            minutes: *minutes,
            after,
            grades: *grades,
            done: id < 2,
        })
        .collect();
    activities[2].minutes = 100; // eighty of them are over
    let work =
        Work { off_shed: OFF_SHED, now: before(115), activities: &activities, crew: &[grades(&[FIREMAN, DRIVER])] };
    let (mut rows, mut people) = ([Row::default(); 5], [0]);
    let plan = plan(work, &mut rows, &mut people).unwrap();
    assert_eq!(plan.critical_minutes(), 115);
    assert_eq!(plan.step(0).unwrap().timing, Timing::Done);
    assert_eq!(plan.step(0).unwrap().person, None);
    assert_eq!(plan.step(2).unwrap().timing, Timing::InTime);
    assert_eq!(plan.crew_on_by(), Some(before(75)));
}

#[test]
fn mistakes_name_the_step() {
    let look = |steps: &[Step], crew: &[Grades]| planned(steps, crew, OFF_SHED, |_| ()).unwrap_err();
    let ring =
        [unattended(1, &[]), unattended(1, &[0, 3]), unattended(1, &[1]), unattended(1, &[2]), unattended(1, &[3])];
    let NoPlan::Cycle { id } = look(&ring, &[]) else { panic!("a ring was not seen") };
    assert!((1..=3).contains(&id), "{id} only hangs on the ring");
    assert_eq!(look(&[unattended(1, &[0])], &[]), NoPlan::Cycle { id: 0 });
    assert_eq!(look(&[unattended(1, &[7])], &[]), NoPlan::NoSuchStep { id: 0, place: 7 });
    assert_eq!(look(&[unattended(10_081, &[])], &[]), NoPlan::TooLong { id: 0, minutes: 10_081 });
    let driver_only = [Step(1, vec![], grades(&[DRIVER]))];
    assert_eq!(look(&driver_only, &[grades(&[FIREMAN])]), NoPlan::Nobody { id: 0 });
    assert_eq!(Grades::NONE.with(32), None);
}

#[test]
fn scratch_and_numbers_are_looked_at() {
    let step = |id| Activity { id, minutes: 5, after: &[], grades: Grades::NONE, done: false };
    let work = |activities| Work { off_shed: OFF_SHED, now: OFF_SHED, activities, crew: &[] };
    let twice = [step(4), step(4)];
    let mut rows = [Row::default(); 2];
    assert_eq!(plan(work(&twice), &mut rows, &mut []).unwrap_err(), NoPlan::Twice { id: 4 });
    assert_eq!(plan(work(&twice), &mut rows[..1], &mut []).unwrap_err(), NoPlan::Scratch { needed: 2, given: 1 });
    assert_eq!(plan(work(&[]), &mut [], &mut []).unwrap().critical_minutes(), 0);
}

/// By hand: 85 K at 30 K/h are 170 min, so three hours to first pressure count; 84 K more are 168 min.
/// The three hours and 30 K/h are common practice, no source.
#[test]
fn raising_steam_by_hand() {
    let limit = Raising { k_per_h: 30.0, first_pressure_minutes: 180.0, cold_c: 15.0 };
    for (from, to, minutes) in [
        (15.0, 184.0, 348),
        (5.0, 184.0, 358), // 95 K are 190 min, longer than three hours
        (120.0, 184.0, 128),
        (60.0, 184.0, 253), // 40/85 of three hours are 84.7 min, longer than the rate's 80
        (15.0, 100.0, 180),
        (100.0, 100.5, 1),
        (184.0, 184.0, 0),
        (190.0, 184.0, 0),
    ] {
        assert_eq!(raising_minutes(limit, from, to), Ok(minutes), "{from} to {to}");
    }
    let field = |limit, from, to| match raising_minutes(limit, from, to) {
        Err(bad) => bad.field,
        other => panic!("{other:?}"),
    };
    for bad in [f64::NAN, -1.0, f64::INFINITY] {
        assert_eq!(field(limit, bad, 184.0), "from_c");
        assert_eq!(field(limit, 15.0, bad), "to_c");
    }
    assert_eq!(field(Raising { k_per_h: 0.0, ..limit }, 15.0, 184.0), "k_per_h");
}

/// Steps whose predecessors come before them in the list, so that there is no ring.
fn network(most: usize) -> impl Strategy<Value = Vec<Step>> {
    let step = (0u32..200, proptest::collection::vec(any::<u16>(), 0..4), 0usize..4);
    proptest::collection::vec(step, 1..most).prop_map(|steps| {
        let choices = [Grades::NONE, grades(&[FIREMAN]), grades(&[DRIVER]), grades(&[FIREMAN, DRIVER])];
        (0u16..)
            .zip(steps)
            .map(|(n, (minutes, after, who))| {
                let after = after.into_iter().filter(|_| n > 0).map(|p| p % n.max(1)).collect();
                Step(minutes, after, choices[who])
            })
            .collect()
    })
}

/// The longest way from each step's start to off shed by petgraph's Bellman-Ford over negative lengths.
fn longest_by_petgraph(steps: &[Step]) -> Vec<i64> {
    let mut graph = DiGraph::<(), f64>::new();
    let nodes: Vec<_> = steps.iter().map(|_| graph.add_node(())).collect();
    let end = graph.add_node(());
    for (n, Step(minutes, after, _)) in steps.iter().enumerate() {
        // Reversed: from off shed back to the start of each step.
        graph.add_edge(end, nodes[n], -f64::from(*minutes));
        for p in after {
            let minutes = steps[usize::from(*p)].0;
            graph.add_edge(nodes[n], nodes[usize::from(*p)], -f64::from(minutes));
        }
    }
    let paths = bellman_ford(&graph, end).expect("no ring");
    nodes.iter().map(|n| -paths.distances[n.index()] as i64).collect()
}

fn planned_minutes(step: &StepTime) -> i64 {
    OFF_SHED.since(step.planned_start) / 60
}

proptest! {
    #[test]
    fn latest_starts_agree_with_petgraph(steps in network(40)) {
        let crew = [grades(&[FIREMAN, DRIVER])];
        let got: Vec<_> = planned(&steps, &crew, OFF_SHED, |plan| {
            plan.steps().map(|s| OFF_SHED.since(s.latest_start) / 60).collect()
        }).unwrap();
        prop_assert_eq!(got, longest_by_petgraph(&steps));
    }

    /// Rings are seen exactly when petgraph sees one, and the step named lies in one.
    #[test]
    fn rings_agree_with_petgraph(links in proptest::collection::vec((0u16..12, 0u16..12), 0..20)) {
        let mut steps: Vec<_> = (0..12).map(|_| unattended(1, &[])).collect();
        let mut graph = DiGraph::<(), ()>::new();
        let nodes: Vec<_> = steps.iter().map(|_| graph.add_node(())).collect();
        for (from, to) in links {
            steps[usize::from(to)].1.push(from);
            graph.add_edge(nodes[usize::from(from)], nodes[usize::from(to)], ());
        }
        match planned(&steps, &[], OFF_SHED, |_| ()) {
            Ok(()) => prop_assert!(!is_cyclic_directed(&graph)),
            Err(NoPlan::Cycle { id }) => {
                let node = NodeIndex::new(usize::from(id));
                let ring = tarjan_scc(&graph).into_iter().find(|ring| ring.contains(&node)).unwrap();
                prop_assert!(ring.len() > 1 || graph.contains_edge(node, node), "{} is in no ring", id);
            }
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    /// Nobody does two things at once or anything beyond their grade, and nothing starts before what it waits for is
    /// over.
    #[test]
    fn a_plan_can_be_carried_out(steps in network(30), more in proptest::collection::vec(0usize..3, 0..4)) {
        let kinds = [grades(&[FIREMAN]), grades(&[DRIVER]), grades(&[FIREMAN, DRIVER])];
        let crew: Vec<_> = more.into_iter().chain([0, 1]).map(|k| kinds[k]).collect();
        planned(&steps, &crew, OFF_SHED, |plan| {
            let told: Vec<_> = plan.steps().collect();
            let over = |n: usize| planned_minutes(&told[n]) - i64::from(steps[n].0);
            for (n, (step, time)) in steps.iter().zip(&told).enumerate() {
                prop_assert!(time.planned_start <= time.latest_start);
                prop_assert!(over(n) >= 0);
                for p in &step.1 {
                    prop_assert!(over(usize::from(*p)) >= planned_minutes(time));
                }
                prop_assert_eq!(time.person.is_some(), !step.2.is_empty());
                if let Some(person) = time.person {
                    prop_assert!(crew[usize::from(person)].meets(step.2));
                }
                for (m, other) in told.iter().enumerate().filter(|(m, o)| *m != n && o.person.is_some()) {
                    let apart = over(n) >= planned_minutes(other) || over(m) >= planned_minutes(time);
                    prop_assert!(apart || time.person != other.person);
                }
            }
            prop_assert!(plan.critical_minutes() <= plan.least_minutes());
            prop_assert!(plan.least_minutes() <= plan.planned_minutes());
            Ok(())
        }).unwrap()?;
    }

    /// With a pair of hands for every step only the longest chain counts.
    #[test]
    fn enough_hands_need_the_critical_path_only(steps in network(20)) {
        let crew = vec![grades(&[FIREMAN, DRIVER]); steps.len()];
        planned(&steps, &crew, OFF_SHED, |plan| {
            for step in plan.steps() {
                prop_assert_eq!(step.planned_start, step.latest_start);
            }
            Ok(())
        }).unwrap()?;
    }

    /// Graham 1969, SIAM J. Appl. Math. 17:416: with m like hands a list plan takes at most work/m + (1 − 1/m) of the
    /// longest chain.
    #[test]
    fn like_hands_keep_to_grahams_bound(steps in network(30), hands in 1usize..5) {
        let both = grades(&[FIREMAN, DRIVER]);
        let steps: Vec<_> = steps.into_iter().map(|Step(m, after, _)| Step(m, after, both)).collect();
        let work: u32 = steps.iter().map(|s| s.0).sum();
        let m = hands as u32;
        planned(&steps, &vec![both; hands], OFF_SHED, |plan| {
            prop_assert!(plan.planned_minutes() * m <= work + (m - 1) * plan.critical_minutes());
            if m == 1 {
                prop_assert_eq!(plan.planned_minutes(), work);
            }
            Ok(())
        }).unwrap()?;
    }
}
