//! Builders for the checks: the practice pack compiled once, and days that read as scripts.
//!
//! A day is a script body (see `desktop/depot/SCRIPTS.md`) behind a register that is the same for all. A row whose last
//! column holds a reason's key must be refused for that reason; every other row must be accepted.

pub mod workload;
pub mod years;

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use offshed_core::fitness::Fitness;
use offshed_core::ident::EngineId;
use offshed_core::stamp::{Now, Stamp};
use offshed_depot::authoring::{self, Compiled};
use offshed_depot::folder::{Folder, FolderFinding};
use offshed_depot::ledger::Ledger;
use offshed_depot::script::{self, Report};
use offshed_depot::{demo, shed, typed};

/// The repository's root.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The practice pack, compiled once in a process.
pub fn practice() -> &'static Compiled {
    static PACK: OnceLock<Compiled> = OnceLock::new();
    PACK.get_or_init(|| {
        let compiled = authoring::compile_folder(&root().join("core/packs/practice"));
        compiled.unwrap_or_else(|complaints| {
            panic!("the practice pack: {}", complaints.first().map_or_else(String::new, ToString::to_string))
        })
    })
}

/// A file with the compiled practice pack, for scripts to adopt.
fn pack_file() -> &'static Path {
    static FILE: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = FILE.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("practice.pack");
        std::fs::write(&path, &practice().bytes).expect("the compiled pack");
        (folder, path)
    });
    path
}

/// People: 1 foreman, 11 and 12 drivers, 21 and 22 firemen, 31 cleaner, 41 fitter, 42 boilersmith, 51 inspector.
/// Engines: 4 has two glasses, vacuum and steam brake and a blowdown valve; 17 has one glass, test cocks and a steam
/// brake. All dates are in.
const REGISTER: &str = "\
time,device,who,on,do,what,value,with,as,words,expect
,,,,day,EVE
17:00,office,1,,person,1,Moss Orrin
,,,,adopt,practice.pack
,,,,local-time,\"GMT0BST,M3.5.0/1,M10.5.0\"
,,,,grade,1,foreman,,,no end
,,,,grade,11,driver,,,no end
,,,,grade,12,driver,,,no end
,,,,grade,21,fireman,,,no end
,,,,grade,22,fireman,,,no end
,,,,grade,31,cleaner,,,no end
,,,,grade,41,fitter,,,no end
,,,,grade,42,boilersmith,,,no end
,,,,grade,51,inspector,,,no end
,,,4,engine,4,Tamsin,,,glass 180 mm; pressure 145 psi; has second-glass vacuum-brake steam-brake blowdown-valve
,,,,fitted,front-valve-seal,HV 1041
,,,,fitted,back-valve-seal,HV 1042
,,,,date-done,certificate,2021-09-14
,,,,date-done,examination,2025-09-02
,,,,date-done,washout,DONE
,,,,date-done,plugs,DONE
,,,,date-done,fitness-exam,DONE
,,,17,engine,17,Fennel,,,glass 160 mm; pressure 145 psi; has test-cocks steam-brake
,,,,fitted,front-valve-seal,HV 1701
,,,,fitted,back-valve-seal,HV 1702
,,,,date-done,certificate,2021-09-14
,,,,date-done,examination,2025-09-02
,,,,date-done,washout,DONE
,,,,date-done,plugs,DONE
,,,,date-done,fitness-exam,DONE
,,,,day,TODAY
";

/// A preparation of engine 4, warm, worked through the feeds: the start of many days. Ends about 07:00.
pub const TO_THE_FEEDS: &str = "\
05:00,,21,4,open,preparation,,,p
,,,p,choose,found,2
,,,,work,date-plugs,5 s
05:20,,,,work,fire-ready,5 s,31
05:30,,,,work,open-fire,5 s
06:00,,,,work,feed-2,5 s
";

/// What follows [`TO_THE_FEEDS`] up to both signatures and the review. Ends at 07:41.
pub const TO_THE_REVIEW: &str = "\
07:00,,21,p,work,regulator-tight,5 s
07:15,,11,,work,running-brake,5 s
07:30,,21,,work,level-final,5 s
07:38,,21,,sign,fireman-signs
07:39,,11,,sign,driver-signs
07:40,,1,,review,review,accepted
";

/// A played day.
pub struct Day {
    /// Everything folded.
    pub ledger: Ledger,
    /// Row by row.
    pub report: Report,
    /// The folder, kept as long as the day.
    pub folder: tempfile::TempDir,
}

impl Day {
    /// The verdict on an engine at a local moment, `2026-05-02 07:41`.
    pub fn fitness(&self, engine: u16, moment: &str) -> Fitness {
        self.ledger.fitness(EngineId(engine), Now::good(self.at(moment)))
    }

    /// A local moment.
    pub fn at(&self, moment: &str) -> Stamp {
        use offshed_core::register::Register;
        let local = typed::moment(moment, None).expect("a moment");
        self.ledger.office.zone().moment(local)
    }
}

/// Which day is played.
#[derive(Clone, Copy, Debug)]
pub struct Dates {
    /// The evening on which the register is set up.
    pub eve: &'static str,
    /// The day itself.
    pub today: &'static str,
    /// When washout, plugs and fitness examination were done.
    pub done: &'static str,
}

/// 2 May 2026, in summer time.
pub const MAY: Dates = Dates { eve: "2026-05-01", today: "2026-05-02", done: "2026-04-18" };

fn register(dates: Dates) -> String {
    REGISTER.replace("EVE", dates.eve).replace("TODAY", dates.today).replace("DONE", dates.done)
}

/// Plays a day; `Err` is what `offshed play` would say.
pub fn try_day(rows: &[&str]) -> Result<Day, String> {
    try_day_on(MAY, rows)
}

/// Plays a day on other dates.
pub fn try_day_on(dates: Dates, rows: &[&str]) -> Result<Day, String> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("shed");
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE).expect("a data folder"));
    let base = pack_file().parent().expect("the pack's folder");
    let text = format!("{}{}", register(dates), rows.concat());
    let report = script::play(&path, &text, base).map_err(|fault| fault.to_string())?;
    let (ledger, findings, _) = shed::look(&path).expect("the folder");
    // A day's devices do not know each other's keys; that is told, and is no fault.
    assert!(findings.iter().all(FolderFinding::is_notice), "{findings:?}");
    Ok(Day { ledger, report, folder })
}

/// Plays a day in which every row must do as it says.
#[track_caller]
pub fn day(rows: &[&str]) -> Day {
    day_on(MAY, rows)
}

/// As [`day`], on other dates.
#[track_caller]
pub fn day_on(dates: Dates, rows: &[&str]) -> Day {
    match try_day_on(dates, rows) {
        Ok(day) => day,
        Err(fault) => {
            let body = rows.concat();
            let register = register(dates);
            let numbered = register.lines().chain(body.lines()).enumerate();
            let told: Vec<String> = numbered.map(|(n, line)| format!("{:>3} {line}", n + 1)).collect();
            panic!("{fault}\n{}", told.join("\n"));
        }
    }
}

/// The key of a reason, for comparing.
pub fn keys(fitness: &Fitness) -> Vec<&'static str> {
    fitness.reasons.iter().map(|reason| offshed_core::words::key(&reason.why)).collect()
}
