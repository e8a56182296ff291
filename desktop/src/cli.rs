//! The command line: words of the trade, one command a job; without a command, the window.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::commands::export::{ExportCommand, Retain};
use crate::commands::figures::FigureFact;
use crate::commands::import::ImportArgs;
use crate::commands::reckon::args::{EnginePlanArgs, Reckon};

const AFTER: &str = "\
Exit codes: 0 done; 1 the rules refuse it (the reason is printed); 2 the command line is wrong; 3 a file or id given is \
not right; 4 the data folder can't be read or written; 5 a PIN is missing or wrong; 6 verification found something.

Without a command the window opens on the data folder; where none is named, on this computer's own. Without a display \
that is exit code 2, and every command still works.

This records what competent people did. It does not make an engine safe, and replaces neither the railway's rule book, \
the written scheme of examination, the boiler inspector nor licensed practice.";

/// May this engine leave? Signed sheets for preparing and disposing of steam engines, and the duty board.
#[derive(Debug, Parser)]
#[command(name = "offshed", version, after_help = AFTER)]
pub(crate) struct Cli {
    /// The data folder.
    #[arg(short = 'F', long, global = true, env = "OFFSHED_FOLDER", value_name = "FOLDER")]
    pub(crate) folder: Option<PathBuf>,
    /// Write JSON for machine readers; keys are stable.
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// What to do; left out: open the window on the data folder.
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Make a new, empty data folder.
    New(New),
    /// Make a data folder with one day on the invented Harrow Vale line, and print its duty board.
    Demo(Demo),
    /// Give a copied or restored data folder a device identity of its own.
    Identity(Identity),
    /// Compile, check and prove packs of rules, and adopt one.
    #[command(subcommand)]
    Pack(PackCommand),
    /// The register: people, engines, fittings, dates, turns.
    #[command(subcommand)]
    Register(RegisterCommand),
    /// Set or change a person's PIN on this device.
    Pin(PinArgs),
    /// Open a sheet for an engine.
    Open(Open),
    /// What may be done now on a sheet, and why the rest may not.
    Now(Now),
    /// Answer a step.
    Answer(AnswerArgs),
    /// Sign a signature step.
    Sign(Sign),
    /// Review a finished sheet.
    Review(ReviewArgs),
    /// Strike out an answer; it stays readable.
    Strike(Strike),
    /// Give up a sheet.
    Abandon(SheetWords),
    /// Make two sheets, opened apart for the same work, one.
    Join(Join),
    /// Leave a note for whoever has the engine next.
    Note(EngineWords),
    /// Record something that happened to an engine.
    Event(EventArgs),
    /// Report, list, restrict and clear defects.
    #[command(subcommand)]
    Defect(DefectCommand),
    /// Waive a proof or a date in writing, until a day.
    Dispense(Dispense),
    /// Hang your tag on an engine, or lift it.
    #[command(subcommand)]
    Tag(TagCommand),
    /// List sheets, or show one.
    Sheet(SheetArgs),
    /// The duty board: every engine, may it leave, why not, and until when.
    Board(BoardArgs),
    /// An engine's water: every test with its limits, what was put in, and where the dissolved solids are heading.
    Water(WaterArgs),
    /// An engine's way off shed: light up by, crew on by, planned start of each step left, what is late already.
    Plan(EnginePlanArgs),
    /// Exchange records with another data folder, or with a folder on a stick.
    Sync(Sync),
    /// Exchange records with handhelds by a card: take in their books, put on it what it lacks, write a shift file.
    Card(CardArgs),
    /// Check every file of the data folder and say what is wrong, and where; or hold a paper against the book.
    Verify(VerifyArgs),
    /// Write records as papers and files: signed sheets, histories, defects, dates, water, blank sheets, the board.
    #[command(subcommand)]
    Export(ExportCommand),
    /// Bring tables of engines, people, dates or readings into the records; repeating it writes nothing twice.
    Import(ImportArgs),
    /// How long records are to be kept, and what is older.
    Retention(Retain),
    /// Play a day script into the data folder, whole or not at all.
    Play(Play),
    /// Boiler arithmetic alone, without a data folder: level, road, steam, blowdown, dose ...
    #[command(subcommand)]
    Reckon(Box<Reckon>),
}

#[derive(Debug, Args)]
pub(crate) struct New {
    /// What this device is called: letters, digits, hyphens.
    #[arg(long, default_value = "office")]
    pub(crate) device: String,
    /// Local time: an IANA name or a POSIX rule.
    #[arg(long, default_value = "Etc/UTC")]
    pub(crate) zone: String,
}

#[derive(Debug, Args)]
pub(crate) struct Identity {
    /// What the device is called from now on; left out: as before.
    #[arg(long)]
    pub(crate) device: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Demo {
    /// Where to make it; must not exist yet. Left out: a new temporary folder, which is kept.
    pub(crate) path: Option<PathBuf>,
    /// Print every row of the day as it is played.
    #[arg(long)]
    pub(crate) rows: bool,
}

#[derive(Debug, Subcommand)]
pub(crate) enum PackCommand {
    /// Read, check and prove a pack's TOML folder.
    Check {
        /// The folder.
        source: PathBuf,
    },
    /// Check a pack and write the one file that devices carry.
    Build {
        /// The folder.
        source: PathBuf,
        /// The file to write.
        file: PathBuf,
    },
    /// Print the locking table: what each step needs, and why.
    Locks {
        /// The folder.
        source: PathBuf,
    },
    /// Take a pack in and adopt its fitness rules from now on.
    Adopt {
        /// A compiled file, or a TOML folder to compile.
        source: PathBuf,
        #[command(flatten)]
        by: By,
    },
    /// The packs in the data folder.
    List,
}

/// Who is doing it.
#[derive(Debug, Args)]
pub(crate) struct By {
    /// The person, by name or number.
    #[arg(long, value_name = "PERSON")]
    pub(crate) by: String,
    /// Their PIN; asked for when left out and one is set.
    #[arg(long, env = "OFFSHED_PIN", hide_env_values = true, value_name = "PIN")]
    pub(crate) pin: Option<String>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum RegisterCommand {
    /// Everything the register knows.
    Show,
    /// Enter what this folder's device is called, so that every device shows its name.
    Device {
        /// Its name.
        name: String,
        #[command(flatten)]
        by: By,
    },
    /// Confirm the key of a device, so that its signatures are known to be its own; or withdraw it.
    Key {
        /// The device, 16 hexadecimal digits; `verify` names those whose key is not confirmed.
        device: String,
        /// The key as that device shows it (`offshed verify` there): its first 16 digits, or more.
        key: String,
        /// Withdraw it: what the device records after this local moment does not count, "YYYY-MM-DD HH:MM".
        #[arg(long, value_name = "MOMENT")]
        until: Option<String>,
        #[command(flatten)]
        by: By,
    },
    /// Enter a person, or change a name.
    Person {
        /// Their number.
        number: u16,
        /// Their name.
        name: String,
        #[command(flatten)]
        by: By,
    },
    /// Take a person's name out of every view and export; from then on they are called by their number.
    Forget {
        /// The person, by name or number.
        person: String,
        #[command(flatten)]
        by: By,
    },
    /// Grant a person a grade, or withdraw it.
    Grade {
        /// The person, by name or number.
        person: String,
        /// The grade's id in the pack.
        grade: String,
        /// The last day, YYYY-MM-DD; left out: without end.
        #[arg(long, value_name = "DAY")]
        until: Option<String>,
        /// Withdraw the grade.
        #[arg(long, conflicts_with = "until")]
        withdraw: bool,
        #[command(flatten)]
        by: By,
    },
    /// Enter an engine, or change what it has.
    Engine {
        /// Its number.
        number: u16,
        /// Its name.
        #[arg(default_value = "")]
        name: String,
        /// Visible glass, nut to nut: "180 mm".
        #[arg(long, value_name = "LENGTH")]
        glass: Option<String>,
        /// Working pressure: "160 psi".
        #[arg(long, value_name = "PRESSURE")]
        pressure: Option<String>,
        /// A feature it has, by the pack's id; may be given again.
        #[arg(long = "has", value_name = "FEATURE")]
        features: Vec<String>,
        #[command(flatten)]
        by: By,
    },
    /// Enter the number of a fitting: a seal, a plug.
    Fitted {
        /// The engine.
        engine: u16,
        /// The fitting's id in the pack.
        fitting: String,
        /// Its number.
        number: String,
        #[command(flatten)]
        by: By,
    },
    /// Enter when something was last done that a due date counts from.
    Done {
        /// The engine.
        engine: u16,
        /// The date's id in the pack.
        date: String,
        /// The day, YYYY-MM-DD.
        day: String,
        /// Days in steam since then that these records do not count.
        #[arg(long, default_value_t = 0, value_name = "DAYS")]
        days_before: u16,
        #[command(flatten)]
        by: By,
    },
    /// Postpone a due date in writing.
    Postpone {
        /// The engine.
        engine: u16,
        /// The date's id in the pack.
        date: String,
        /// The last day of the postponement, YYYY-MM-DD.
        day: String,
        /// Why, and by whom.
        words: String,
        #[command(flatten)]
        by: By,
    },
    /// Book an engine for a turn.
    Turn {
        /// The engine.
        engine: u16,
        /// The turn's name.
        name: String,
        /// When it is booked off shed, local: "YYYY-MM-DD HH:MM".
        off_shed: String,
        /// The number of the road it works; left out: the one the engine usually works.
        #[arg(long, value_name = "ROAD")]
        road: Option<u8>,
        #[command(flatten)]
        by: By,
    },
    #[command(flatten)]
    Figure(FigureFact),
}

#[derive(Debug, Args)]
pub(crate) struct PinArgs {
    /// The person, by name or number.
    pub(crate) person: String,
    /// The new PIN, 4 to 8 digits; asked for when left out.
    #[arg(long, value_name = "PIN")]
    pub(crate) new: Option<String>,
    /// The old PIN, where one is set; asked for when left out.
    #[arg(long, env = "OFFSHED_PIN", hide_env_values = true, value_name = "PIN")]
    pub(crate) old: Option<String>,
    /// Somebody of the office, who must let a first PIN be set once the office has PINs.
    #[arg(long, value_name = "PERSON")]
    pub(crate) by: Option<String>,
    /// Their PIN.
    #[arg(long, value_name = "PIN", requires = "by")]
    pub(crate) pin: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Open {
    /// The engine.
    pub(crate) engine: u16,
    /// The sequence's id in the pack: preparation, disposal, relief ...
    pub(crate) sequence: String,
    #[command(flatten)]
    pub(crate) by: By,
}

/// Which sheet: its id, or an engine with one sheet open.
#[derive(Debug, Args)]
pub(crate) struct Which {
    /// The sheet: its id, or an engine's number where just one sheet is open for it.
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: String,
}

#[derive(Debug, Args)]
pub(crate) struct Now {
    #[command(flatten)]
    pub(crate) which: Which,
    /// For this person; left out: whoever holds the grade.
    #[arg(long, value_name = "PERSON")]
    pub(crate) by: Option<String>,
    /// As of this moment, local: "YYYY-MM-DD HH:MM"; only what was recorded by then counts.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) as_of: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct AnswerArgs {
    #[command(flatten)]
    pub(crate) which: Which,
    /// The step's id in the pack.
    pub(crate) step: String,
    #[command(flatten)]
    pub(crate) how: How,
    /// The second person who is there.
    #[arg(long, value_name = "PERSON")]
    pub(crate) with: Option<String>,
    /// When it was done, if not just now, local: "HH:MM" or "YYYY-MM-DD HH:MM".
    #[arg(long, value_name = "MOMENT")]
    pub(crate) done_at: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

/// The answer: just one of these.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub(crate) struct How {
    /// Done as described.
    #[arg(long)]
    pub(crate) done: bool,
    /// A reading: "95 mm", "120 psi".
    #[arg(long, value_name = "READING", allow_hyphen_values = true)]
    pub(crate) reading: Option<String>,
    /// The number found on a fitting.
    #[arg(long, value_name = "NUMBER")]
    pub(crate) number: Option<String>,
    /// An option, by its number from 1.
    #[arg(long, value_name = "N")]
    pub(crate) choose: Option<u8>,
    /// Start a hold; with a reading where the step takes one.
    #[arg(long, value_name = "READING", num_args = 0..=1, default_missing_value = "")]
    pub(crate) begin: Option<String>,
    /// End a hold: how long it was, and the reading where the step takes one: "60 s 20.5 inHg".
    #[arg(long, value_name = "TIME")]
    pub(crate) end: Option<String>,
    /// A part of a procedure: its number and what was found: "3 seen", "1 90 mm", "6 2.1 s".
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    /// Accept what was worked out.
    #[arg(long)]
    pub(crate) accept: bool,
    /// Looked at, and not right: what was found. For a part of a procedure: "3: what was found".
    #[arg(long, value_name = "WORDS")]
    pub(crate) not_right: Option<String>,
    /// Does not apply today, and why.
    #[arg(long, value_name = "WORDS")]
    pub(crate) skip: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Sign {
    #[command(flatten)]
    pub(crate) which: Which,
    /// The signature step's id in the pack.
    pub(crate) step: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Outcome {
    /// Accepted.
    Accepted,
    /// Sent back: its signatures no longer count.
    SentBack,
    /// The engine is stopped.
    Stopped,
}

#[derive(Debug, Args)]
pub(crate) struct ReviewArgs {
    #[command(flatten)]
    pub(crate) which: Which,
    /// The review step's id in the pack.
    pub(crate) step: String,
    /// The outcome.
    pub(crate) outcome: Outcome,
    /// In words; wanted unless it is accepted.
    #[arg(default_value = "")]
    pub(crate) words: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Strike {
    #[command(flatten)]
    pub(crate) which: Which,
    /// The step whose answer is struck out.
    pub(crate) step: String,
    /// Why.
    pub(crate) reason: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct SheetWords {
    #[command(flatten)]
    pub(crate) which: Which,
    /// Why.
    pub(crate) reason: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Join {
    /// The sheet that goes on, by id.
    pub(crate) into: String,
    /// The sheet that is folded into it, by id.
    pub(crate) from: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct EngineWords {
    /// The engine.
    pub(crate) engine: u16,
    /// The note.
    pub(crate) words: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct EventArgs {
    /// The engine.
    pub(crate) engine: u16,
    /// The event's id in the pack.
    pub(crate) event: String,
    /// In words.
    #[arg(default_value = "")]
    pub(crate) words: String,
    /// When, if not just now, local.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) done_at: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Subcommand)]
pub(crate) enum DefectCommand {
    /// Defects of one engine, or of all.
    List {
        /// The engine; left out: all.
        engine: Option<u16>,
        /// Cleared ones too.
        #[arg(long)]
        all: bool,
    },
    /// Report a defect.
    Report {
        /// The engine.
        engine: u16,
        /// How bad.
        grade: Severity,
        /// What was found.
        words: String,
        /// The step it was found at.
        #[arg(long, value_name = "STEP")]
        step: Option<String>,
        #[command(flatten)]
        by: By,
    },
    /// Let the engine out with a restricted defect, as written, until a day.
    Restrict {
        /// The defect's id.
        defect: String,
        /// The last day, YYYY-MM-DD.
        until: String,
        /// The restriction.
        words: String,
        #[command(flatten)]
        by: By,
    },
    /// Clear a defect.
    Clear {
        /// The defect's id.
        defect: String,
        /// The grade in which it is cleared.
        grade: String,
        /// What was done.
        words: String,
        #[command(flatten)]
        by: By,
    },
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Severity {
    /// The engine may not leave.
    Stopping,
    /// It may leave under a written restriction.
    Restricted,
    /// To be known.
    Note,
}

#[derive(Debug, Args)]
pub(crate) struct Dispense {
    /// The engine.
    pub(crate) engine: u16,
    /// What is waived: `step:ID` or `date:ID`.
    pub(crate) what: String,
    /// The last day, YYYY-MM-DD.
    pub(crate) until: String,
    /// Why, and under what conditions.
    pub(crate) words: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Subcommand)]
pub(crate) enum TagCommand {
    /// Hang your tag: nothing on the engine may be moved.
    Hang {
        /// The engine.
        engine: u16,
        #[command(flatten)]
        by: By,
    },
    /// Lift your own tag.
    Lift {
        /// The engine.
        engine: u16,
        #[command(flatten)]
        by: By,
    },
}

#[derive(Debug, Args)]
pub(crate) struct SheetArgs {
    /// The sheet, or an engine's number where just one is open for it; left out: list all.
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: Option<String>,
    /// As of this moment, local: "YYYY-MM-DD HH:MM"; only what was recorded by then counts.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) as_of: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct BoardArgs {
    /// As of this moment, local: "YYYY-MM-DD HH:MM"; only what was recorded by then counts.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) as_of: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct WaterArgs {
    /// The engine.
    pub(crate) engine: u16,
    /// As of this moment, local: "YYYY-MM-DD HH:MM"; only what was recorded by then counts.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) as_of: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Sync {
    /// The other data folder, or a plain folder that carries records.
    pub(crate) other: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct VerifyArgs {
    /// Hold a paper against the book: its check line, as it stands at the paper's end.
    #[arg(long, value_name = "CHECK LINE")]
    pub(crate) paper: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct CardArgs {
    /// The card: the directory that it is seen as, or any other directory.
    pub(crate) card: PathBuf,
    /// Write the shift file as of this moment, local: "YYYY-MM-DD HH:MM"; only what was recorded by then is in it.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) as_of: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Play {
    /// The day script.
    pub(crate) script: PathBuf,
    /// Print every row as it was played.
    #[arg(long)]
    pub(crate) rows: bool,
}
