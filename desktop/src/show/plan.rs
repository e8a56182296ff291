//! A plan as a table that is read at six in the morning: what is late first, then when to light up and who comes when.

use anstyle::Style;
use offshed_depot::planning::{HandView, LateView, PlanRowView, PlanView};

use super::{BOLD, FAINT, ILL, MIND, styled, wrapped};

/// The plan of an engine.
pub(crate) fn engine(
    number: u16,
    name: &str,
    turn: Option<&str>,
    plan: &PlanView,
    inputs: &str,
    caution: &str,
) -> String {
    let name = if name.is_empty() { String::new() } else { format!(" {name}") };
    let turn = turn.map_or(String::new(), |turn| format!("  {turn}"));
    let mut out = format!("{}{turn}\n", styled(BOLD, &format!("PLAN  No. {number}{name}")));
    out.push_str(&text(plan));
    out.push_str(&wrapped("inputs:  ", inputs));
    out.push_str(&styled(FAINT, &wrapped("caution: ", caution)));
    out
}

/// The plan alone.
pub(crate) fn text(plan: &PlanView) -> String {
    let mut out = head(plan);
    out.push_str(&table(&plan.rows));
    if plan.done > 0 {
        out.push_str(&format!("done already: {} step(s)\n", plan.done));
    }
    if !plan.left_out.is_empty() {
        let titles: Vec<String> = plan.left_out.iter().map(|title| quoted(title)).collect();
        out.push_str(&wrapped("not asked for this way: ", &titles.join("; ")));
    }
    for note in &plan.notes {
        out.push_str(&wrapped("note:    ", note));
    }
    out
}

fn head(plan: &PlanView) -> String {
    let mut out = format!("{}, off shed {}\n", plan.sequence, plan.off_shed_words);
    out.push_str(&late(&plan.late, "late", "LATE:    ", ILL));
    out.push_str(&late(&plan.late, "behind-plan", "behind plan, not late yet: ", MIND));
    let by = |what: &str, at: &Option<String>| at.as_ref().map(|at| format!("{what} by {at}"));
    let parts = [by("light up", &plan.light_up_by_short), by("crew on", &plan.crew_on_by_short)];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() {
        out.push_str("nothing is left to do\n");
    } else {
        out.push_str(&format!("{}\n", styled(BOLD, &parts.join("; "))));
    }
    out.push_str(&hands(&plan.hands, plan.hands_supposed));
    let mut needs = format!(
        "{} of work and waiting; no sharing among these people takes less than {}",
        span(plan.planned_minutes),
        span(plan.least_minutes)
    );
    if plan.minutes_late > 0 {
        let late = span_of(plan.minutes_late);
        needs.push_str(&format!("; as planned from now: off shed {}, {late} LATE", plan.expected_off_shed_short));
    }
    out.push_str(&wrapped("", &needs));
    out
}

/// A title that may have commas of its own; what stands in brackets needs no more.
fn quoted(title: &str) -> String {
    if title.starts_with('(') { title.to_owned() } else { format!("\"{title}\"") }
}

/// What is late in one way, the worst first.
fn late(all: &[LateView], timing: &str, first: &str, style: Style) -> String {
    let told = all.iter().filter(|late| late.timing == timing);
    let told: Vec<String> = told.map(|late| format!("{} {}", quoted(&late.what), span(late.minutes))).collect();
    if told.is_empty() { String::new() } else { styled(style, &wrapped(first, &told.join("; "))) }
}

fn hands(hands: &[HandView], supposed: bool) -> String {
    let one = |hand: &HandView| match &hand.on_by_short {
        Some(at) => format!("{} on by {at}", hand.name),
        None => format!("{}, nothing planned", hand.name),
    };
    let all: Vec<String> = hands.iter().map(one).collect();
    if all.is_empty() {
        return String::new();
    }
    let supposed = if supposed { " (supposed: one of each; give --hand for each who is there)" } else { "" };
    wrapped("at hand: ", &format!("{}{supposed}", all.join("; ")))
}

fn table(rows: &[PlanRowView]) -> String {
    if rows.is_empty() {
        return String::new();
    }
    let width = |cell: fn(&PlanRowView) -> usize, least: usize| rows.iter().map(cell).max().unwrap_or(0).max(least);
    let (start, latest) = (width(|r| r.start_short.chars().count(), 5), width(|r| r.latest_short.chars().count(), 6));
    let who = width(|r| r.who.as_ref().map_or(0, |who| who.chars().count()), 3);
    let mut out =
        format!("{:>start$}  {:>latest$}  {:>3}  {:<who$}  {:<8}  step\n", "start", "latest", "min", "who", "");
    for row in rows {
        let first = format!(
            "{:>start$}  {:>latest$}  {:>3}  {:<who$}  {:<8}  ",
            row.start_short,
            row.latest_short,
            row.minutes,
            row.who.as_deref().unwrap_or("-"),
            mark(row)
        );
        out.push_str(&wrapped(&first, &row.what));
    }
    out
}

/// What a person should mind, in a word.
fn mark(row: &PlanRowView) -> &'static str {
    match (row.timing, row.critical) {
        ("late", _) => "LATE",
        ("behind-plan", _) => "behind",
        (_, true) => "critical",
        _ => "",
    }
}

fn span(minutes: u32) -> String {
    span_of(i64::from(minutes))
}

/// Minutes as a person says them.
fn span_of(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}
