//! The duty board as text: one look says who may leave.

use offshed_depot::views::{Board, BoardRow, ReasonView};

use super::{BOLD, FAINT, ILL, MIND, WELL, WIDTH, styled, wrapped};

/// The whole board.
pub(crate) fn text(board: &Board) -> String {
    let mut out = format!("{}  as of {}\n", styled(BOLD, "DUTY BOARD"), board.as_of);
    out.push_str(&format!("Rules: {}\n", board.pack));
    for row in &board.engines {
        out.push_str(&"-".repeat(WIDTH));
        out.push('\n');
        out.push_str(&engine(row));
    }
    out.push_str(&"-".repeat(WIDTH));
    out.push('\n');
    if !board.caution.is_empty() {
        out.push_str(&wrapped("", &board.caution));
    }
    out
}

/// A sign that differs in shape, so that colour is never alone.
fn sign(verdict: &str) -> (&'static str, anstyle::Style) {
    match verdict {
        "fit" => ("[ FIT      ]", WELL),
        "restricted" => ("[ FIT, BUT ]", MIND),
        "not-fit" => ("[ NOT FIT  ]", ILL),
        _ => ("[ ?        ]", MIND),
    }
}

fn engine(row: &BoardRow) -> String {
    let (sign, style) = sign(row.verdict);
    let name = if row.name.is_empty() { String::new() } else { format!(" {}", row.name) };
    let title = format!("No. {}{name}", row.engine);
    let mut out = format!("{} {}  {}\n", styled(style, sign), styled(BOLD, &title), row.verdict_words);
    if let Some(line) = turn(row) {
        out.push_str(&wrapped("    ", &line));
    }
    out.push_str(&reasons(&row.reasons));
    for condition in &row.conditions {
        out.push_str(&wrapped("    ! ", &format!("{} (through {})", condition.words, condition.last_day)));
    }
    if let Some(until) = &row.until {
        out.push_str(&wrapped("    ", &format!("until {}: then {} lapses", until.short, until.what)));
    }
    for work in &row.at_work {
        out.push_str(&wrapped("    ", &format!("at work: {work}")));
    }
    for note in &row.noted {
        out.push_str(&styled(FAINT, &wrapped("    noted: ", note)));
    }
    if let Some(words) = &row.handover {
        out.push_str(&styled(FAINT, &wrapped("    handover: ", words)));
    }
    out
}

/// What was never done stands together in one sentence; every other reason has its own.
fn reasons(all: &[ReasonView]) -> String {
    let mut out = String::new();
    let (missing, told): (Vec<&ReasonView>, Vec<&ReasonView>) = all.iter().partition(|r| r.key == "needs-first");
    let open = |group: u8| missing.iter().filter(move |r| r.one_of == group && group != 0);
    for reason in &told {
        let instead: Vec<&str> = open(reason.one_of).map(|r| r.about.as_str()).collect();
        let or = if instead.is_empty() { String::new() } else { format!(" (or instead: {})", instead.join(", ")) };
        out.push_str(&wrapped("    - ", &format!("{}{or}", reason.words)));
    }
    let lost = |r: &ReasonView| r.one_of != 0 && told.iter().any(|t| t.one_of == r.one_of);
    let never: Vec<&ReasonView> = missing.iter().copied().filter(|r| !lost(r)).collect();
    let ways = never.chunk_by(|a, b| a.one_of == b.one_of && a.one_of != 0).map(|way| {
        let titles: Vec<&str> = way.iter().map(|r| r.about.as_str()).collect();
        titles.join(" or ")
    });
    let ways: Vec<String> = ways.collect();
    if !ways.is_empty() {
        out.push_str(&wrapped("    - ", &format!("not yet proven ({}): {}", ways.len(), ways.join("; "))));
    }
    out
}

fn turn(row: &BoardRow) -> Option<String> {
    let away = row.away_since.as_ref().map(|at| format!("off shed since {at}"));
    let booked = row.turn.as_ref().zip(row.off_shed.as_ref()).map(|(turn, at)| {
        let late = row.minutes_to_off_shed.filter(|_| row.away_since.is_none());
        match late {
            Some(minutes) if minutes < 0 => format!("{turn}, booked off shed {at}: {} late", span(-minutes)),
            Some(minutes) => format!("{turn}, booked off shed {at}, in {}", span(minutes)),
            None => format!("{turn}, booked off shed {at}"),
        }
    });
    let parts: Vec<String> = [away, booked].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// Minutes as a person says them.
fn span(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}
