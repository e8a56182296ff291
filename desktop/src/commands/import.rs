//! `offshed import`: tables of others into the records.

use std::fs;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use offshed_depot::import::{self, Kind, Options, Report};

use super::{Call, Outcome, clock, who};
use crate::cli::By;
use crate::fault::{Fault, code};

/// What a table holds.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum What {
    /// Engines: number, name, glass, pressure, has.
    Engines,
    /// People: number, name, grade, until.
    People,
    /// When things that are due were last done: engine, date, done, days_before.
    Dates,
    /// Readings for open sheets: engine, step, at, value, unit.
    Readings,
}

#[derive(Debug, Args)]
pub(crate) struct ImportArgs {
    /// What the table holds.
    what: What,
    /// The table: comma-separated values whose first line names the columns.
    file: PathBuf,
    /// Take a column of the file for one of ours: "Their name=ours". May be given again.
    #[arg(long = "map", value_name = "THEIRS=OURS")]
    map: Vec<String>,
    /// Only try, and say what would be written.
    #[arg(long)]
    dry_run: bool,
    /// Pass over rows that are not right, and write the others.
    #[arg(long)]
    skip_bad: bool,
    #[command(flatten)]
    by: By,
}

/// `offshed import`
pub(super) fn run(call: &Call, args: &ImportArgs) -> Outcome {
    let kind = match args.what {
        What::Engines => Kind::Engines,
        What::People => Kind::People,
        What::Dates => Kind::Dates,
        What::Readings => Kind::Readings,
    };
    let name = args.file.display();
    let bytes = fs::read(&args.file).map_err(|error| Fault::input(format!("cannot read {name}: {error}")))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| Fault::input(format!("{name} is not UTF-8 text: save the table as UTF-8")))?;
    let map = args.map.iter().map(|text| pair(text)).collect::<Result<Vec<_>, Fault>>()?;
    let table = import::read(kind, &text, &map).map_err(|fault| Fault::input(format!("{name}: {fault}")))?;
    let mut shed = call.shed()?;
    let now = clock();
    let person = who(&mut shed, &args.by, now)?;
    let options = Options { dry_run: args.dry_run, skip_bad: args.skip_bad };
    let report = import::import(&mut shed, &table, options, person, now).map_err(Fault::folder)?;
    call.print(&report, |report| self::text(report, options))?;
    let failed = !report.bad.is_empty() && !options.skip_bad;
    Ok(if failed { ExitCode::from(code::INPUT) } else { ExitCode::SUCCESS })
}

fn pair(text: &str) -> Result<(String, String), Fault> {
    let parts = text.rsplit_once('=').map(|(theirs, ours)| (theirs.trim().to_owned(), ours.trim().to_owned()));
    parts.ok_or_else(|| Fault::input(format!("--map \"{text}\": write \"THEIRS=OURS\"")))
}

fn text(report: &Report, options: Options) -> String {
    let mut out = String::new();
    for mapped in &report.mapping {
        out.push_str(&format!("column \"{}\" is {}: {}\n", mapped.theirs, mapped.ours, mapped.holds));
    }
    if !report.unused.is_empty() {
        out.push_str(&format!("columns not used: {}\n", report.unused.join(", ")));
    }
    out.extend(report.new.iter().map(|line| format!("  {line}\n")));
    out.extend(report.bad.iter().map(|bad| format!("NOT RIGHT: {bad}\n")));
    let (new, already, bad) = (report.new.len(), report.already, report.bad.len());
    out.push_str(&format!(
        "{} rows: {new} with something new, {already} on record already, {bad} not right\n",
        report.rows
    ));
    let written = report.written;
    let done = match (options.dry_run, bad > 0 && !options.skip_bad) {
        (true, _) => "only tried: nothing was written".to_owned(),
        (false, true) => "nothing was written: put those rows right, or pass them over with --skip-bad".to_owned(),
        (false, false) => format!("{written} entries written"),
    };
    out.push_str(&format!("{done}\n"));
    out
}
