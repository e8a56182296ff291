//! The network of steps: looked over, its longest chains, and the steps shared out among people.
//!
//! Time is counted in minutes before off shed, so that working back is adding up.

use super::{Activity, Grades, MOST_MINUTES, NoPlan, Row, Work};

/// Looks over the request, all but rings.
pub(super) fn check(work: &Work<'_>) -> Result<(), NoPlan> {
    let steps = work.activities;
    if u16::try_from(steps.len()).is_err() || u16::try_from(work.crew.len()).is_err() {
        return Err(NoPlan::TooMany);
    }
    for (n, step) in steps.iter().enumerate() {
        let Activity { id, minutes, .. } = *step;
        if steps.iter().skip(n + 1).any(|other| other.id == id) {
            return Err(NoPlan::Twice { id });
        }
        if minutes > MOST_MINUTES {
            return Err(NoPlan::TooLong { id, minutes });
        }
        if let Some(place) = step.after.iter().copied().find(|p| usize::from(*p) >= steps.len()) {
            return Err(NoPlan::NoSuchStep { id, place });
        }
        if step.attended() && !work.crew.iter().any(|person| person.meets(step.grades)) {
            return Err(NoPlan::Nobody { id });
        }
    }
    Ok(())
}

/// The longest chain after and before each step.
pub(super) fn critical_path(steps: &[Activity<'_>], rows: &mut [Row]) -> Result<(), NoPlan> {
    rows.fill(Row::default());
    count_links(steps, rows);
    for k in 0..steps.len() {
        let ready = rows.iter().position(|row| !row.placed && row.waiting == 0);
        let Some((n, step)) = ready.and_then(|n| Some((n, steps.get(n)?))) else {
            return Err(in_a_ring(steps, rows));
        };
        if let Some(row) = rows.get_mut(k) {
            // The number of steps fits, as has been checked.
            row.order = n as u16;
        }
        place(n, step, rows, |row| &mut row.latest);
    }
    heads(steps, rows);
    Ok(())
}

/// For each step the number of links from steps after it; nothing placed.
fn count_links(steps: &[Activity<'_>], rows: &mut [Row]) {
    for row in rows.iter_mut() {
        row.waiting = 0;
        row.placed = false;
    }
    for before in steps.iter().flat_map(|step| step.after) {
        if let Some(row) = rows.get_mut(usize::from(*before)) {
            row.waiting = row.waiting.saturating_add(1);
        }
    }
}

/// Places a step: its field, so far when it must be over, becomes when it must start, and what comes before it must be
/// over by then.
fn place(n: usize, step: &Activity<'_>, rows: &mut [Row], field: impl Fn(&mut Row) -> &mut u32) {
    let Some(row) = rows.get_mut(n) else { return };
    row.placed = true;
    let start = field(row).saturating_add(step.left());
    *field(row) = start;
    for before in step.after {
        if let Some(row) = rows.get_mut(usize::from(*before)) {
            row.waiting = row.waiting.saturating_sub(1);
            let over = field(row);
            *over = start.max(*over);
        }
    }
}

/// The longest chain before each step, in the reverse of the order in which they were placed.
fn heads(steps: &[Activity<'_>], rows: &mut [Row]) {
    for k in (0..steps.len()).rev() {
        let n = rows.get(k).map_or(0, |row| usize::from(row.order));
        let after = steps.get(n).map_or(&[][..], |step| step.after).iter();
        let chains = after.filter_map(|p| {
            let p = usize::from(*p);
            Some(rows.get(p)?.head.saturating_add(steps.get(p)?.left()))
        });
        let head = chains.max().unwrap_or(0);
        if let Some(row) = rows.get_mut(n) {
            row.head = head;
        }
    }
}

/// A step of a ring: whoever follows steps that could not be placed from one to the next ends up in it.
fn in_a_ring(steps: &[Activity<'_>], rows: &[Row]) -> NoPlan {
    let stuck = |n: &usize| rows.get(*n).is_some_and(|row| !row.placed);
    let next = |n: usize| {
        let follows = |m: &usize| steps.get(*m).is_some_and(|s| s.after.iter().any(|p| usize::from(*p) == n));
        (0..steps.len()).filter(stuck).find(follows)
    };
    let mut at = (0..steps.len()).find(stuck).unwrap_or(0);
    for _ in 0..steps.len() {
        at = next(at).unwrap_or(at);
    }
    NoPlan::Cycle { id: steps.get(at).map_or(0, |step| step.id) }
}

/// Shares the steps out among the crew, from the end backwards.
///
/// Of the steps whose followers are placed, the one that can end latest is next; of several, the one with the longest
/// chain before it.
pub(super) fn share_out(steps: &[Activity<'_>], crew: &[Grades], rows: &mut [Row], people: &mut [u32]) {
    people.fill(0);
    count_links(steps, rows);
    while let Some((n, over, person)) = next(steps, crew, rows, people) {
        let Some(step) = steps.get(n) else { return };
        if let Some(row) = rows.get_mut(n) {
            row.planned = over;
            row.person = person.and_then(|p| u16::try_from(p).ok());
        }
        place(n, step, rows, |row| &mut row.planned);
        if let Some(busy) = person.and_then(|p| people.get_mut(p)) {
            *busy = over.saturating_add(step.left());
        }
    }
}

/// The next step to place, when it is over, and who does it.
fn next(steps: &[Activity<'_>], crew: &[Grades], rows: &[Row], people: &[u32]) -> Option<(usize, u32, Option<usize>)> {
    let ready = steps.iter().zip(rows).enumerate();
    ready
        .filter(|(_, (_, row))| !row.placed && row.waiting == 0)
        .map(|(n, (step, row))| {
            let person = step.attended().then(|| who(step, row.planned, crew, people)).flatten();
            let busy = person.and_then(|p| people.get(p)).copied().unwrap_or(0);
            (n, row.planned.max(busy), person, row.head)
        })
        .min_by_key(|(_, over, _, head)| (*over, u32::MAX - head))
        .map(|(n, over, person, _)| (n, over, person))
}

/// Who can end a step latest; of several the one who idles least until then, then the one with the fewest grades.
fn who(step: &Activity<'_>, over: u32, crew: &[Grades], people: &[u32]) -> Option<usize> {
    let able = crew.iter().zip(people).enumerate().filter(|(_, (grades, _))| grades.meets(step.grades));
    able.min_by_key(|(_, (grades, busy))| (over.max(**busy), over.saturating_sub(**busy), grades.count()))
        .map(|(n, _)| n)
}
