//! A day script as rows: who did what, when, on which device. Comma-separated values with a fixed head line.

use std::fmt;

/// The columns, in order.
pub const COLUMNS: [&str; 11] = ["time", "device", "who", "on", "do", "what", "value", "with", "as", "words", "expect"];

/// One row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Row {
    /// Line in the file, from 1.
    pub line: u64,
    /// Local time of day, `HH:MM` or `HH:MM:SS`; empty: as the row before.
    pub time: String,
    /// Whether the row names its time itself; else it follows at once on what its device did last.
    pub own_time: bool,
    /// The device; empty: as the row before.
    pub device: String,
    /// The person, by number or name; empty: as the row before.
    pub who: String,
    /// The sheet (by its `as` name) or the engine it is about; empty: as the row before.
    pub on: String,
    /// The act.
    pub act: String,
    /// What it is done to: a step, an event, a date.
    pub what: String,
    /// A value.
    pub value: String,
    /// The second person.
    pub with: String,
    /// A name for what is made.
    pub name: String,
    /// Words.
    pub words: String,
    /// Empty: must be accepted; else the key of the reason it must be refused for.
    pub expect: String,
}

/// What is wrong with a script, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScriptFault {
    /// Line, from 1.
    pub line: u64,
    /// The column, when it is one.
    pub column: &'static str,
    /// What is wrong and what to do.
    pub problem: String,
}

impl fmt::Display for ScriptFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.column {
            "" => write!(f, "line {}: {}", self.line, self.problem),
            column => write!(f, "line {}, column `{column}`: {}", self.line, self.problem),
        }
    }
}

impl std::error::Error for ScriptFault {}

/// A fault in a column of a row.
pub fn fault<T>(row: &Row, column: &'static str, problem: impl Into<String>) -> Result<T, ScriptFault> {
    Err(ScriptFault { line: row.line, column, problem: problem.into() })
}

/// Reads all rows. Lines that start with `#` and empty lines are passed over; empty `time`, `device`, `who` and `on`
/// repeat the row before.
///
/// # Errors
/// When the head line or a row does not have the columns.
pub fn parse(text: &str) -> Result<Vec<Row>, ScriptFault> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes());
    let mut rows: Vec<Row> = Vec::new();
    let mut headed = false;
    for record in reader.records() {
        let record = record.map_err(|error| csv_fault(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        if !headed {
            check_head(&record, line)?;
            headed = true;
            continue;
        }
        if record.iter().all(str::is_empty) {
            continue;
        }
        let row = read_row(&record, line, rows.last())?;
        rows.push(row);
    }
    if headed { Ok(rows) } else { Err(ScriptFault { line: 1, column: "", problem: wants_head() }) }
}

fn wants_head() -> String {
    format!("the first line must name the columns: {}", COLUMNS.join(","))
}

fn csv_fault(error: &csv::Error) -> ScriptFault {
    let line = error.position().map_or(1, csv::Position::line);
    let problem = match error.kind() {
        csv::ErrorKind::Utf8 { .. } => "not UTF-8 text: save the script as UTF-8".to_owned(),
        _ => format!("not comma-separated values: {error}"),
    };
    ScriptFault { line, column: "", problem }
}

fn check_head(record: &csv::StringRecord, line: u64) -> Result<(), ScriptFault> {
    let same = record.len() == COLUMNS.len() && record.iter().zip(COLUMNS).all(|(got, want)| got == want);
    if same { Ok(()) } else { Err(ScriptFault { line, column: "", problem: wants_head() }) }
}

fn read_row(record: &csv::StringRecord, line: u64, before: Option<&Row>) -> Result<Row, ScriptFault> {
    if record.len() > COLUMNS.len() {
        let problem =
            format!("{} columns; there are {}: put words with commas in double quotes", record.len(), COLUMNS.len());
        return Err(ScriptFault { line, column: "", problem });
    }
    let field = |n: usize| record.get(n).unwrap_or("").to_owned();
    let kept = |n: usize, earlier: fn(&Row) -> &String| match field(n) {
        empty if empty.is_empty() => before.map(earlier).cloned().unwrap_or_default(),
        given => given,
    };
    let row = Row {
        line,
        time: kept(0, |r| &r.time),
        own_time: !field(0).is_empty(),
        device: kept(1, |r| &r.device),
        who: kept(2, |r| &r.who),
        on: kept(3, |r| &r.on),
        act: field(4),
        what: field(5),
        value: field(6),
        with: field(7),
        name: field(8),
        words: field(9),
        expect: field(10),
    };
    if row.act.is_empty() { fault(&row, "do", "empty: say what was done") } else { Ok(row) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_columns_repeat_the_row_before() {
        let text = "time,device,who,on,do,what,value,with,as,words,expect\n# a comment\n06:00,pad,2,p,done,secured\n,,,,done,fire-lit,,,,\"with, comma\"\n";
        let rows = parse(text).unwrap();
        assert_eq!((rows[1].line, rows[1].time.as_str(), rows[1].on.as_str()), (4, "06:00", "p"));
        assert_eq!(rows[1].words, "with, comma");
    }

    #[test]
    fn faults_name_the_line() {
        assert_eq!(parse("").unwrap_err().line, 1);
        assert_eq!(parse("time,who\n").unwrap_err().line, 1);
        let head = COLUMNS.join(",");
        assert_eq!(parse(&format!("{head}\n06:00,a,b,c,,x\n")).unwrap_err().column, "do");
        assert!(parse(&format!("{head}\n1,2,3,4,5,6,7,8,9,10,11,12\n")).unwrap_err().problem.contains("12 columns"));
    }
}
