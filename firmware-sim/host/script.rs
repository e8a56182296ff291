//! Key scripts: which button is pressed when, for how long, and when the display is kept as a picture. `KEYS.md` says
//! how they are written.

use std::fmt;

use offshed_handheld::keys::Key;

/// How long a press lasts where a script does not say, ms.
const PRESS_MS: u64 = 80;
/// How long a script waits between two lines where it does not say, ms.
const PAUSE_MS: u64 = 120;

/// One line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Act {
    /// A key is down for so long, ms.
    Press(Key, u64),
    /// Nothing happens for so long, ms.
    Wait(u64),
    /// The display is kept under this name.
    Shot(String),
}

/// What is wrong with a script, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ScriptFault {
    /// The line, from 1.
    pub(crate) line: usize,
    /// What is wrong, and what to do.
    pub(crate) words: String,
}

impl fmt::Display for ScriptFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.words)
    }
}

impl std::error::Error for ScriptFault {}

/// Reads a script.
///
/// # Errors
/// The first line that is no act.
pub(crate) fn parse(text: &str) -> Result<Vec<Act>, ScriptFault> {
    let mut acts = Vec::new();
    for (n, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or("").trim();
        if !line.is_empty() {
            let read = read_line(line).map_err(|words| ScriptFault { line: n + 1, words })?;
            acts.extend(read);
        }
    }
    Ok(acts)
}

fn read_line(line: &str) -> Result<Vec<Act>, String> {
    let words: Vec<&str> = line.split_whitespace().collect();
    match words.as_slice() {
        ["shot", name] if name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') => {
            Ok(vec![Act::Shot((*name).to_owned())])
        }
        ["shot", ..] => Err("`shot` wants one name of letters, digits and hyphens".to_owned()),
        ["wait", ..] if words.len() != 2 => Err("after `wait` comes one time, as 12s".to_owned()),
        ["wait", time] => Ok(vec![Act::Wait(ms(time)?)]),
        [key, rest @ ..] => {
            let key = Key::named(key)
                .ok_or_else(|| format!("`{key}` is no key: write up, down, left, right, select, wait or shot"))?;
            let (times, held) = match rest {
                [] => (1, PRESS_MS),
                [times] if times.starts_with('x') => (count(times)?, PRESS_MS),
                [held] => (1, ms(held)?),
                _ => return Err("after a key comes one thing: how long, or how often as x3".to_owned()),
            };
            Ok((0..times).flat_map(|_| [Act::Press(key, held), Act::Wait(PAUSE_MS)]).collect())
        }
        [] => Ok(Vec::new()),
    }
}

fn count(word: &str) -> Result<u32, String> {
    let n = word.trim_start_matches('x').parse().ok().filter(|n| (1..=999).contains(n));
    n.ok_or_else(|| format!("`{word}`: write how often as x1 to x999"))
}

/// `250`, `250ms`, `12s`, `5min` in milliseconds, up to a day.
fn ms(word: &str) -> Result<u64, String> {
    let split = word.find(|c: char| !c.is_ascii_digit()).unwrap_or(word.len());
    let (number, unit) = word.split_at(split);
    let factor = match unit {
        "" | "ms" => Some(1),
        "s" => Some(1_000),
        "min" => Some(60_000),
        _ => None,
    };
    let told = number.parse::<u64>().ok().zip(factor).and_then(|(n, factor)| n.checked_mul(factor));
    told.filter(|ms| *ms <= 86_400_000).ok_or_else(|| format!("`{word}`: write a time as 250ms, 12s or 5min"))
}
