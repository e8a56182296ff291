//! The steps shared out among those at hand, so that proofs do not lapse before they are used where that can be helped.

use offshed_core::ident::StepId;
use offshed_core::pack::Rule;
use offshed_core::plan::{NoPlan, Row, StepTime, Timing, Work, plan};
use offshed_core::stamp::Stamp;

use super::crew::Crew;
use super::net::{Net, Node};
use super::route::Route;
use super::{Asked, Begun, Lapse, PlannedRow, What};

/// How often a sharing is mended.
const MENDINGS: usize = 8;

/// The work, shared out.
pub(super) struct Shared {
    /// What is left to do, by planned start.
    pub(super) rows: Vec<PlannedRow>,
    /// Proofs that would lapse before they are used.
    pub(super) lapses: Vec<Lapse>,
    /// Minutes that no sharing can beat.
    pub(super) least_minutes: u32,
    /// Minutes that this one needs.
    pub(super) planned_minutes: u32,
    /// Off shed at the earliest.
    pub(super) expected: Stamp,
    /// When the first person is wanted.
    pub(super) crew_on_by: Option<Stamp>,
    /// When each person is.
    pub(super) on_by: Vec<Option<Stamp>>,
}

/// Shares the work out; where a proof would lapse, what keeps its maker busy meanwhile goes before it, and of all
/// sharings tried the one with the fewest lapses is taken, of several the shortest.
///
/// Latest starts and what is critical stay those of the pack alone.
pub(super) fn out(
    asked: &Asked<'_>,
    route: &Route,
    crew: &Crew,
    net: &mut Net,
    begun: &Begun,
) -> Result<Shared, NoPlan> {
    let (mut best, plain) = once(asked, route, crew, net, begun, None)?;
    let least_minutes = best.least_minutes;
    let mut links = before_it(route, &best);
    for _ in 0..MENDINGS {
        if !links.into_iter().fold(false, |any, (first, then)| net.link(first, then) || any) {
            break;
        }
        // Links that close a ring make no plan: what was found before them stands.
        let Ok((next, _)) = once(asked, route, crew, net, begun, Some(&plain)) else { break };
        links = before_it(route, &next);
        if (next.lapses.len(), next.planned_minutes) < (best.lapses.len(), best.planned_minutes) {
            best = Shared { least_minutes, ..next };
        }
    }
    Ok(best)
}

/// One sharing, and the times of the network; latest starts are those of `plain` where it is given.
fn once(
    asked: &Asked<'_>,
    route: &Route,
    crew: &Crew,
    net: &Net,
    begun: &Begun,
    plain: Option<&[StepTime]>,
) -> Result<(Shared, Vec<StepTime>), NoPlan> {
    let people = crew.each();
    let work = Work { off_shed: asked.off_shed, now: asked.now, activities: &net.activities(), crew: &people };
    let (mut scratch, mut busy) = (vec![Row::default(); net.nodes.len()], vec![0; people.len()]);
    let plan = plan(work, &mut scratch, &mut busy)?;
    let times: Vec<StepTime> = plan.steps().collect();
    let both = times.iter().zip(plain.unwrap_or(&times)).zip(&net.nodes);
    let open = both.filter(|(_, node)| !node.done);
    let mut rows: Vec<PlannedRow> = open.map(|((time, plain), node)| row(asked.now, time, plain, node)).collect();
    rows.reverse();
    rows.sort_by_key(|row| (row.planned_start, row.latest_start));
    let shared = Shared {
        lapses: lapses(route, &rows, begun),
        rows,
        least_minutes: plan.least_minutes(),
        planned_minutes: plan.planned_minutes(),
        expected: plan.off_shed_expected(),
        crew_on_by: plan.crew_on_by(),
        on_by: (0u16..).take(people.len()).map(|person| plan.person_on_by(person)).collect(),
    };
    Ok((shared, times))
}

fn row(now: Stamp, time: &StepTime, plain: &StepTime, node: &Node) -> PlannedRow {
    let behind = now.since(time.planned_start).max(0);
    let minutes = u32::try_from((behind + 59) / 60).unwrap_or(u32::MAX);
    PlannedRow {
        what: node.what,
        minutes: node.minutes,
        latest_start: plain.latest_start,
        planned_start: time.planned_start,
        hand: time.person.map(usize::from),
        critical: plain.critical,
        timing: match (plain.timing, minutes) {
            (Timing::Late { minutes }, _) => Timing::Late { minutes },
            (_, 0) => Timing::InTime,
            (_, minutes) => Timing::BehindPlan { minutes },
        },
    }
}

/// For each lapse, what keeps the maker of the proof busy until it is used, and may as well be done before it.
fn before_it(route: &Route, shared: &Shared) -> Vec<(StepId, StepId)> {
    let find = |step: StepId| shared.rows.iter().find(|row| row.what == What::Step(step));
    let mut links = Vec::new();
    for lapse in &shared.lapses {
        let (Some(made), Some(used)) = (find(lapse.step), find(lapse.before)) else { continue };
        for row in shared.rows.iter().filter(|row| row.hand == made.hand && row.hand.is_some()) {
            let What::Step(step) = row.what else { continue };
            let between = row.planned_start >= made.planned_start && row.planned_start < used.planned_start;
            if between && step != lapse.step && step != lapse.before && !route.is_after(step, lapse.step) {
                links.push((step, lapse.step));
            }
        }
    }
    links
}

/// Proofs that are wanted alive for longer than they live: from the end of the one step to the end of the other.
fn lapses(route: &Route, rows: &[PlannedRow], begun: &Begun) -> Vec<Lapse> {
    let end = |step: StepId| {
        let row = rows.iter().find(|row| row.what == What::Step(step))?;
        Some(row.planned_start.plus(i64::from(row.minutes) * 60))
    };
    let mut found = Vec::new();
    for (row, rules) in route.rows.iter().zip(&route.rules) {
        let Some(used) = end(row.id) else { continue };
        for (step, within) in rules.iter().flat_map(|rule| living(*rule)) {
            let life = route.rows.iter().find(|r| r.id == step).map_or(0, |r| r.life_seconds);
            let life = within.map_or(life, |within| if life == 0 { within } else { within.min(life) });
            let made = end(step).or_else(|| begun.steps.get(&step).map(|done| done.at));
            if life > 0 && made.is_some_and(|made| used.since(made) > i64::from(life)) {
                let lapse = Lapse { step, before: row.id, life_seconds: life };
                if !found.contains(&lapse) {
                    found.push(lapse);
                }
            }
        }
    }
    found
}

/// The proofs that a rule wants alive, each with a shorter life where the rule gives one.
fn living(rule: Rule) -> Vec<(StepId, Option<u32>)> {
    match rule {
        Rule::Fresh { step, within_seconds } => vec![(step, within_seconds)],
        Rule::Within { step, .. } => vec![(step, None)],
        Rule::Agree { a, b, .. } => vec![(a, None), (b, None)],
        _ => Vec::new(),
    }
}
