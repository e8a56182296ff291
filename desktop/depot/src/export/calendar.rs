//! Dates as an iCalendar (RFC 5545): one all-day event on the last day in date of each thing that is due on an engine.

use offshed_core::ident::DeviceId;
use offshed_core::stamp::Stamp;

use crate::views::DateView;

/// Octets of a content line, without its end (RFC 5545, section 3.1).
const LINE: usize = 75;

/// What a calendar is made from.
pub(super) struct Wanted<'a> {
    /// The dates.
    pub(super) dates: &'a [DateView],
    /// Whose register it is: the device that wrote its first entry, so that every device names an event alike.
    pub(super) origin: DeviceId,
    /// The moment it speaks of.
    pub(super) as_of: Stamp,
    /// The same, for people.
    pub(super) as_of_words: &'a str,
    /// The caution.
    pub(super) caution: &'a str,
}

/// A calendar, and what has no day in it.
pub(super) struct Calendar {
    /// Its text.
    pub(super) text: String,
    /// How many events.
    pub(super) events: usize,
    /// What has no last day by the calendar, in words.
    pub(super) left_out: Vec<String>,
}

/// Makes the calendar.
pub(super) fn calendar(wanted: &Wanted<'_>) -> Calendar {
    let (dated, undated): (Vec<&DateView>, Vec<&DateView>) =
        wanted.dates.iter().partition(|date| date.last_day.is_some());
    let left_out: Vec<String> = undated.iter().map(|date| without_day(date)).collect();
    let mut about = format!("As of {}; not live.", wanted.as_of_words);
    if !left_out.is_empty() {
        about.push_str(&format!(" Not in this calendar, having no last day: {}.", left_out.join("; ")));
    }
    let mut out = Lines::default();
    out.plain("BEGIN:VCALENDAR");
    out.plain("VERSION:2.0");
    out.plain("PRODID:-//offshed//dates//EN");
    out.plain("CALSCALE:GREGORIAN");
    out.text("DESCRIPTION", &about);
    for date in &dated {
        event(&mut out, date, wanted);
    }
    out.plain("END:VCALENDAR");
    Calendar { text: out.0, events: dated.len(), left_out }
}

fn without_day(date: &DateView) -> String {
    let why = match (date.standing, date.steam_days_left) {
        ("not-known", _) => "nobody has entered when it was last done".to_owned(),
        (_, Some(left)) => format!("{left} days in steam left, none by the calendar"),
        (_, None) => "it does not run out".to_owned(),
    };
    format!("{} {}: {why}", engine(date), date.what)
}

fn engine(date: &DateView) -> String {
    if date.name.is_empty() { format!("No. {}", date.engine) } else { format!("No. {} {}", date.engine, date.name) }
}

fn event(out: &mut Lines, date: &DateView, wanted: &Wanted<'_>) {
    let day = date.last_day.as_deref().unwrap_or("");
    let day: Option<chrono::NaiveDate> = day.parse().ok();
    let Some((day, next)) = day.and_then(|day| Some((day, day.succ_opt()?))) else { return };
    let stamp = chrono::DateTime::from_timestamp(wanted.as_of.0, 0).unwrap_or_default();
    let over = if date.standing == "out-of-date" { "OUT OF DATE: " } else { "" };
    out.plain("BEGIN:VEVENT");
    out.plain(&format!("UID:due-{}-{}@{}.offshed.invalid", date.engine, date.date, wanted.origin));
    out.plain(&format!("DTSTAMP:{}", stamp.format("%Y%m%dT%H%M%SZ")));
    out.plain(&format!("DTSTART;VALUE=DATE:{}", day.format("%Y%m%d")));
    // The end of an all-day event is the day after it (section 3.6.1).
    out.plain(&format!("DTEND;VALUE=DATE:{}", next.format("%Y%m%d")));
    out.text("SUMMARY", &format!("{over}{}: {}, last day", engine(date), date.what));
    out.text("DESCRIPTION", &description(date, wanted));
    out.text("CATEGORIES", &date.what);
    out.plain("TRANSP:TRANSPARENT");
    out.plain("END:VEVENT");
}

fn description(date: &DateView, wanted: &Wanted<'_>) -> String {
    let mut lines = vec![format!("Last day in date as of {}.", wanted.as_of_words)];
    lines.extend(date.steam_days_left.map(|left| format!("It may come sooner: {left} days in steam are left.")));
    lines.extend(date.postponed_to.as_ref().map(|day| format!("Postponed in writing to {day}.")));
    if !wanted.caution.is_empty() {
        lines.push(wanted.caution.to_owned());
    }
    lines.join("\n")
}

/// Content lines, folded.
#[derive(Default)]
struct Lines(String);

impl Lines {
    /// A property with a value of TEXT type, escaped (section 3.3.11).
    fn text(&mut self, name: &str, value: &str) {
        let mut escaped = String::with_capacity(value.len());
        for c in value.chars().filter(|c| *c != '\r') {
            match c {
                '\\' | ';' | ',' => escaped.extend(['\\', c]),
                '\n' => escaped.push_str("\\n"),
                // No other control character may stand in a text; a person's words have none that matters.
                c if c.is_control() && c != '\t' => escaped.push(' '),
                c => escaped.push(c),
            }
        }
        self.plain(&format!("{name}:{escaped}"));
    }

    /// A line, folded where it is longer than [`LINE`] octets, never inside a character.
    fn plain(&mut self, line: &str) {
        let mut used = 0;
        for c in line.chars() {
            if used + c.len_utf8() > LINE {
                self.0.push_str("\r\n ");
                used = 1;
            }
            self.0.push(c);
            used += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5545, section 3.1: no line is longer than 75 octets, and unfolding gives back what was written; section
    /// 3.3.11: backslash, semicolon, comma and line end are escaped.
    #[test]
    fn lines_are_folded_and_escaped() {
        let mut lines = Lines::default();
        lines.text("SUMMARY", &format!("a;b,c\\d\ne{}", "ä€𝄞".repeat(40)));
        assert!(lines.0.split("\r\n").all(|line| line.len() <= LINE));
        let unfolded = lines.0.replace("\r\n ", "");
        assert!(unfolded.starts_with("SUMMARY:a\\;b\\,c\\\\d\\ne"), "{unfolded}");
        assert!(unfolded.trim_end().ends_with(&"ä€𝄞".repeat(40)));
    }
}
