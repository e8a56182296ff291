//! An engine's water as text: where the solids are heading on top, then every test sheet by sheet, then what was put in.

use offshed_depot::views::{SolidsView, Treatment, WaterLog, WaterTest};

use super::sheet::sign;
use super::{BOLD, FAINT, ILL, MIND, WELL, styled, wrapped};

/// Columns and rows of the plot.
const COLUMNS: usize = 60;
const ROWS: usize = 10;

/// The whole log.
pub(crate) fn text(log: &WaterLog) -> String {
    let name = if log.name.is_empty() { String::new() } else { format!(" {}", log.name) };
    let title = format!("WATER of No. {}{name}", log.engine);
    let mut out = format!("{}  as of {}\n", styled(BOLD, &title), log.as_of);
    out.push_str(&counted(log));
    if let Some(solids) = &log.solids {
        out.push_str(&self::solids(solids));
    }
    for note in &log.notes {
        out.push_str(&wrapped("note: ", note));
    }
    out.push_str(&tests(log));
    out.push_str(&treatments(log));
    if !log.caution.is_empty() {
        out.push_str(&format!("\n{}", styled(FAINT, &wrapped("", &log.caution))));
    }
    out
}

fn counted(log: &WaterLog) -> String {
    let mut out = String::new();
    if let Some(since) = &log.since {
        out.push_str(&wrapped("", &format!("{} since {} on {}", in_steam(since.steam_days), since.what, since.on)));
    }
    if let Some(booked) = &log.booked {
        let left = match booked.steam_days_left {
            over @ ..0 => format!("OUT OF DATE by {}", in_steam(over.unsigned_abs())),
            left => format!("{} left", in_steam(left.unsigned_abs())),
        };
        let day = booked.last_day.as_ref().map(|day| format!(", by the calendar through {day}")).unwrap_or_default();
        out.push_str(&wrapped("", &format!("{}: {left}{day}", booked.what)));
    }
    out
}

fn in_steam(days: u32) -> String {
    if days == 1 { "1 day in steam".to_owned() } else { format!("{days} days in steam") }
}

fn solids(view: &SolidsView) -> String {
    let style = match view.washout {
        Some("overdue" | "now") => ILL,
        Some("bring forward" | "watch") => MIND,
        Some(_) => WELL,
        None => BOLD,
    };
    let mut out = format!("\n{}\n", styled(BOLD, "Dissolved solids"));
    out.push_str(&plot(view));
    let last = view.lines.len().saturating_sub(1);
    for (n, line) in view.lines.iter().enumerate() {
        let line = wrapped("  ", line);
        // Only the last line, what is to be done, stands out, and by its place as well as its colour.
        out.push_str(&if n == last { styled(style, &line) } else { line });
    }
    out.push_str(&styled(FAINT, &wrapped("  by: ", view.basis)));
    out
}

/// Solids against days in steam: `*` a test, `-` the limit, `.` the warning.
pub(crate) fn plot(view: &SolidsView) -> String {
    let values = || view.points.iter().map(|point| point.mg_l);
    let lines = || view.limit_mg_l.into_iter().chain(view.warn_mg_l);
    let low = values().chain(lines()).fold(f64::INFINITY, f64::min);
    let high = values().chain(lines()).fold(f64::NEG_INFINITY, f64::max);
    let step = ((high - low) / (ROWS as f64 - 1.0)).max(1.0);
    // A float beyond an integer's range stops at its end.
    let row_of = |value: f64| (((high - value) / step).round() as usize).min(ROWS - 1);
    let days = view.steam_days_now.max(1);
    let column_of = |day: u32| (f64::from(day.min(days)) / f64::from(days) * (COLUMNS as f64 - 1.0)).round() as usize;
    let mut out = "  mg/l by days in steam (* test, - limit, . warning)\n".to_owned();
    for row in 0..ROWS {
        let at = |line: Option<f64>| line.is_some_and(|value| row_of(value) == row);
        let blank = if at(view.limit_mg_l) {
            '-'
        } else if at(view.warn_mg_l) {
            '.'
        } else {
            ' '
        };
        let mut line = vec![blank; COLUMNS];
        for point in view.points.iter().filter(|point| row_of(point.mg_l) == row) {
            if let Some(cell) = line.get_mut(column_of(point.steam_days)) {
                *cell = '*';
            }
        }
        let line: String = line.into_iter().collect();
        out.push_str(format!("{:>8.0} |{line}", high - step * row as f64).trim_end());
        out.push('\n');
    }
    out.push_str(&format!("         +{}\n", "-".repeat(COLUMNS)));
    let last = days.to_string();
    out.push_str(&format!("          0{last:>width$}\n", width = COLUMNS - 1));
    out
}

/// Sheet by sheet, the newest first; on a sheet in the order of testing.
fn tests(log: &WaterLog) -> String {
    if log.tests.is_empty() {
        return "no water test is on record: open a sheet that has one, and answer it\n".to_owned();
    }
    let mut out = String::new();
    for sheet in log.tests.chunk_by(|a, b| a.sheet == b.sheet) {
        out.push_str(&format!("\n{}\n", styled(BOLD, &heading(sheet))));
        out.extend(sheet.iter().rev().map(test));
    }
    if log.tests_before > 0 {
        out.push_str(&format!("\n{} older tests are not shown: look back with --as-of\n", log.tests_before));
    }
    out
}

fn heading(sheet: &[WaterTest]) -> String {
    let Some(first) = sheet.last() else { return String::new() };
    let day = match (&first.since, first.steam_days) {
        (Some(since), Some(days)) => format!("  {} since {since}", in_steam(days)),
        _ => String::new(),
    };
    let mut people: Vec<&str> = sheet.iter().rev().map(|test| test.by.as_str()).collect();
    people.dedup();
    format!("{}{day}  {}", first.at_short, people.join(", "))
}

fn test(test: &WaterTest) -> String {
    let (key, words) = match test.standing {
        "not-right" => ("not-right", "NOT RIGHT"),
        "warned" => ("warned", "warning"),
        _ => ("proven", "right"),
    };
    let (sign, style) = sign(key);
    let contested = if test.contested { "  contested" } else { "" };
    let limits = limits(test);
    let line = format!("{:<34} {:>16}  {words:<9}{limits}{contested}", test.title, test.value);
    wrapped(&format!("  {} ", styled(style, sign)), line.trim_end())
}

fn limits(test: &WaterTest) -> String {
    let range = |low: &Option<String>, high: &Option<String>| match (low, high) {
        (Some(low), Some(high)) => Some(format!("{low} to {high}")),
        (Some(low), None) => Some(format!("at least {low}")),
        (None, Some(high)) => Some(format!("at most {high}")),
        (None, None) => None,
    };
    let right = range(&test.low, &test.high);
    let warned = range(&test.warn_low, &test.warn_high).map(|range| format!("without a warning {range}"));
    let all: Vec<String> = [right, warned].into_iter().flatten().collect();
    if all.is_empty() { String::new() } else { format!(" ({})", all.join("; ")) }
}

fn treatments(log: &WaterLog) -> String {
    if log.treatments.is_empty() {
        return String::new();
    }
    let mut out = format!("\n{}\n", styled(BOLD, "Doses and blowdowns"));
    out.extend(log.treatments.iter().map(treatment));
    if log.treatments_before > 0 {
        out.push_str(&format!("{} older ones are not shown: look back with --as-of\n", log.treatments_before));
    }
    out
}

fn treatment(done: &Treatment) -> String {
    let kind = match done.kind {
        "put-in" => "put in",
        _ => "worked out",
    };
    let value = match (done.kind, done.rounds) {
        (_, 0) => "none needed".to_owned(),
        (_, 1) => done.value.clone(),
        (_, n) => format!("{n} x {}", done.value),
    };
    let line = format!("{:<18} {:<34} {kind:<10} {value:>12}  {}", done.at_short, done.title, done.by);
    wrapped("  ", &line)
}
