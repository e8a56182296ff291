//! The pack of published law, 49 CFR Part 230 (2015 annual edition), held to its table of conformance and to the numbers
//! of the law; a day under it, and what is refused when one proof of that day is withdrawn.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use offshed_core::due::LastDay;
use offshed_core::engine::VoidedBy;
use offshed_core::entry::{Entry, What, Words};
use offshed_core::fitness::{Fitness, Verdict};
use offshed_core::ident::{EngineId, EntryRef, PersonId, StepId};
use offshed_core::limits::PACK_RULES_BYTES;
use offshed_core::pack::Rule;
use offshed_core::reason::Why;
use offshed_core::stamp::{Clock, Hlc, Now};
use offshed_core::units::{Reading, Unit};
use offshed_core::verdict::Who;
use offshed_depot::authoring::model::{Kind, Model, Step};
use offshed_depot::authoring::{self, Compiled};
use offshed_depot::folder::{Folder, FolderFinding};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::{demo, reach, script, shed, typed, views};
use offshed_tests::root;

fn folder() -> PathBuf {
    root().join("core/packs/cfr230")
}

fn law() -> &'static Compiled {
    static PACK: OnceLock<Compiled> = OnceLock::new();
    PACK.get_or_init(|| {
        authoring::compile_folder(&folder())
            .unwrap_or_else(|found| panic!("{}", found.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")))
    })
}

fn steps(model: &Model) -> impl Iterator<Item = &Step> {
    model.sequences.iter().flat_map(|sequence| &sequence.steps)
}

fn step(id: &str) -> &'static Step {
    steps(&law().model).find(|step| step.id == id).unwrap_or_else(|| panic!("no step {id}"))
}

/// Every step, date and event of the pack with what it says of its source; fitness with why it is asked.
fn sources() -> BTreeMap<String, String> {
    let model = &law().model;
    let mut all: BTreeMap<String, String> = steps(model).map(|s| (s.id.clone(), s.source.clone())).collect();
    all.extend(model.dues.iter().map(|due| (due.named.id.clone(), due.source.clone())));
    all.extend(model.events.iter().map(|event| (event.named.id.clone(), event.named.name.clone())));
    let fitness = fs::read_to_string(folder().join("pack.toml")).unwrap();
    let why = fitness.rsplit_once("goal = \"fitness\"").unwrap().1.to_owned();
    all.insert("fitness".to_owned(), why);
    all
}

/// The numbers n of all sections 230.n in a text.
fn sections(text: &str) -> BTreeSet<u16> {
    let digits = |rest: &str| rest.chars().take_while(char::is_ascii_digit).collect::<String>();
    text.split("230.").skip(1).filter_map(|rest| digits(rest).parse().ok()).collect()
}

/// One row of the table of conformance.
struct Row {
    sections: Vec<u16>,
    checked_by: Vec<String>,
    left_out: String,
}

fn table() -> Vec<Row> {
    let text = fs::read_to_string(folder().join("CONFORMANCE.md")).unwrap();
    let rows = text.lines().filter(|line| line.starts_with("| 230."));
    rows.map(|line| {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        assert_eq!(cells.len(), 4, "{line}");
        let named: Vec<u16> = sections(cells[0]).into_iter().collect();
        let ids = cells[2].split('`').skip(1).step_by(2).map(str::to_owned).collect();
        Row { sections: (named[0]..=*named.last().unwrap()).collect(), checked_by: ids, left_out: cells[3].to_owned() }
    })
    .collect()
}

#[test]
fn the_pack_is_sound_and_every_step_is_reached() {
    let pack = law();
    let summary = authoring::summary(pack);
    assert!(summary.rules_bytes <= PACK_RULES_BYTES, "{} bytes", summary.rules_bytes);
    assert!(summary.implied.iter().all(|line| line.starts_with("fitness:")), "{:?}", summary.implied);
    reach::prove(&pack.bytes).unwrap_or_else(|stuck| panic!("{stuck}"));
    assert!(pack.model.edition.contains("2015"), "{}", pack.model.edition);
}

#[test]
fn every_section_of_the_part_has_one_row_and_each_row_says_what_checks_it_or_why_nothing_does() {
    // 49 CFR Part 230 runs from 230.1 to 230.116.
    let mut seen: Vec<u16> = table().iter().flat_map(|row| row.sections.clone()).collect();
    seen.sort_unstable();
    assert_eq!(seen, (1..=116).collect::<Vec<u16>>());
    for row in table() {
        let nothing = ["", "–"].contains(&row.left_out.as_str());
        assert!(!row.checked_by.is_empty() || !nothing, "{:?} has neither", row.sections);
    }
}

#[test]
fn the_table_and_the_pack_name_each_other() {
    let sources = sources();
    let mut rows: BTreeMap<u16, BTreeSet<String>> = BTreeMap::new();
    for row in table() {
        for id in &row.checked_by {
            let source =
                sources.get(id).unwrap_or_else(|| panic!("{:?} names `{id}`, which is not here", row.sections));
            assert!(
                row.sections.iter().any(|n| sections(source).contains(n)),
                "`{id}` of {:?}: {source}",
                row.sections
            );
        }
        row.sections.iter().for_each(|n| rows.entry(*n).or_default().extend(row.checked_by.clone()));
    }
    for (id, source) in sources.iter().filter(|(id, _)| *id != "fitness") {
        for n in sections(source).into_iter().filter(|n| !is_in_passing(id, *n)) {
            assert!(rows[&n].contains(id), "`{id}` says 230.{n}, whose row does not name it");
        }
    }
}

/// Events name where the duty to act comes from; only one row names each.
fn is_in_passing(id: &str, section: u16) -> bool {
    matches!((id, section), ("gauge-cocks", 51))
}

#[test]
fn every_step_names_its_section_or_that_it_is_not_of_the_law() {
    for step in steps(&law().model) {
        let named = !sections(&step.source).is_empty();
        assert!(named || step.source.starts_with("common practice, no source"), "{}: {}", step.id, step.source);
    }
    // Those that stop the locomotive before it is opened are the only ones outside the law.
    let outside: Vec<&str> =
        steps(&law().model).filter(|s| s.source.starts_with("common")).map(|s| s.id.as_str()).collect();
    assert_eq!(outside, ["tag-31", "tag-annual", "tag-1472"]);
}

#[test]
fn each_item_of_appendix_a_stands_in_a_step() {
    // Appendix A to Part 230: 21 daily items, 6 for 31 service days, 6 for 92, 9 annual, 1 five-year, 4 for 1472.
    let lists =
        [("daily ", 21), ("31 days ", 6), ("92 days ", 6), ("annual ", 9), ("five years ", 1), ("1472 days ", 4)];
    let all: Vec<&str> = steps(&law().model).map(|step| step.source.as_str()).collect();
    for (list, items) in lists {
        for n in 1..=items {
            let item = format!("Appendix A, {list}{n}");
            let ends = |rest: &str| !rest.starts_with(|c: char| c.is_ascii_digit());
            let found = all.iter().any(|source| source.split_once(&item).is_some_and(|(_, rest)| ends(rest)));
            // The hydrostatic test of 1472 service days is that of the annual inspection, which it takes in.
            assert!(found || item == "Appendix A, 1472 days 3", "{item} stands in no step");
        }
    }
    // Items with an asterisk are of the beginning of the day: 2, 4, 5, 8, 9, 12 and 18.
    let starred = |n: u32| all.iter().any(|source| source.contains(&format!("daily {n}*")));
    let marked: Vec<u32> = (1..=21).filter(|n| starred(*n)).collect();
    assert_eq!(marked, [2, 4, 5, 8, 9, 12, 18]);
}

fn psi(value: i32) -> Option<Reading> {
    Some(Reading::whole(value, Unit::Psi))
}

fn limits(id: &str) -> (Option<Reading>, Option<Reading>) {
    let Kind::Reading { low, high, .. } = step(id).kind else { panic!("{id} is no reading") };
    (low, high)
}

#[test]
fn the_numbers_are_those_of_the_law() {
    // (date, months, days, service days): 230.14(a), 230.15(a), 230.16(a)(1), 230.17(a), 230.59, 230.60(a).
    let rules = [
        ("inspection-31", 0, 0, 31),
        ("inspection-92", 0, 0, 92),
        ("annual", 0, 368, 0),
        ("inspection-1472", 180, 0, 1472),
        ("plugs", 0, 0, 31),
        ("washout", 0, 0, 31),
    ];
    for (id, months, days, steam_days) in rules {
        let rule = law().model.dues.iter().find(|due| due.named.id == id).unwrap().rule;
        assert_eq!((rule.months, rule.days, rule.steam_days), (months, days, steam_days), "{id}");
        assert_eq!(rule.last_day, LastDay::Anniversary);
    }
    let whole = |value, unit| Some(Reading::whole(value, unit));
    // 230.49(b): at least one at no more than the allowed pressure, none more than 6 psi above it.
    assert_eq!(limits("valve-low").1, whole(100, Unit::WorkingShare));
    assert_eq!(limits("valve-lowest").1, whole(100, Unit::WorkingShare));
    assert_eq!(limits("valve-highest").1, whole(6, Unit::PsiOverWorking));
    // 230.51: 3 in above the crown sheet. 230.36(b): 70 to 120 F, 25 percent above. 230.37: 95 to 100 percent.
    assert_eq!(limits("glass-height").0, whole(3, Unit::Inch));
    assert_eq!(limits("metal-temperature"), (whole(70, Unit::Fahrenheit), whole(120, Unit::Fahrenheit)));
    assert_eq!(limits("hydrostatic").0, whole(125, Unit::WorkingShare));
    assert_eq!(limits("steam-test"), (whole(95, Unit::WorkingShare), whole(100, Unit::WorkingShare)));
    // 230.76(b): 3 1/2, 6, 8 and 9 in.
    let travel =
        ["travel-cam", "travel-driving", "travel-truck", "travel-tender"].map(|id| limits(id).1.unwrap().milli);
    assert_eq!(travel, [3_500, 6_000, 8_000, 9_000]);
    // 230.39(b): broken staybolts found at the inspection are replaced then.
    assert_eq!(limits("staybolts").1, whole(0, Unit::One));
    // 230.78: brake pipe 5 psi a minute; reservoir 3 psi a minute over 3 minutes; cylinders hold 5 minutes.
    let hold = |id: &str| match step(id).kind {
        Kind::Timed { at_least, max_fall, .. } => (at_least, max_fall),
        _ => panic!("{id} is no hold"),
    };
    assert_eq!(hold("brake-pipe"), (Reading::whole(1, Unit::Minute), psi(5)));
    assert_eq!(hold("reservoir-leak"), (Reading::whole(3, Unit::Minute), psi(3 * 3)));
    assert_eq!(hold("cylinder-leak"), (Reading::whole(5, Unit::Minute), None));
    // 230.49(c): gauges within 3 psi, at most 3/4 of the glass. 230.73(a): air gauges 3 psi.
    let rules = |id: &str| step(id).needs.iter().flat_map(|need| need.rules.clone()).collect::<Vec<Rule>>();
    for valve in ["valve-lowest", "valve-highest"] {
        let rules = rules(valve);
        assert!(rules.iter().any(|r| matches!(r, Rule::Agree { within, .. } if Some(*within) == psi(3))));
        let high = whole(75, Unit::GlassShare);
        assert!(rules.iter().any(|r| matches!(r, Rule::Within { high: h, .. } if *h == high)));
    }
    assert!(
        rules("air-gauges-right").iter().any(|r| matches!(r, Rule::Agree { within, .. } if Some(*within) == psi(3)))
    );
    // Reports: 10 days (230.14(c), 230.15(b), 230.16(c)), 30 days (230.17(b), 230.20).
    for (id, days) in
        [("s31-filed", 10), ("s92-filed", 10), ("annual-filed", 10), ("s1472-filed", 30), ("repair-filed", 30)]
    {
        let within = rules(id).iter().find_map(|rule| match rule {
            Rule::Fresh { within_seconds, .. } => *within_seconds,
            _ => None,
        });
        assert_eq!(within, Some(days * 86_400), "{id}");
    }
    // 230.12(b): seven items on the tag.
    let Kind::Procedure(parts) = &step("move-tag").kind else { panic!() };
    assert_eq!(parts.len(), 7);
}

#[test]
fn the_daily_inspection_is_of_the_day() {
    // 230.13(a), 230.54(a), 230.57(b), 230.70(a), 230.78(c), 230.84: each day, at its beginning.
    let daily = law().model.sequences.iter().find(|sequence| sequence.id == "daily").unwrap();
    let longer: Vec<&str> = daily.steps.iter().filter(|s| !s.ends_with_day).map(|s| s.id.as_str()).collect();
    assert_eq!(longer, ["daily-filed"]);
}

// ---- A day under the pack ----

/// People: 1 owner, 21 fireman, 41 competent, 42 boilermaker. Engine 4 has what most have; its inspections are in date.
const REGISTER: &str = "\
time,device,who,on,do,what,value,with,as,words,expect
,,,,day,2026-05-01
17:00,office,1,,person,1,Moss Orrin
,,,,adopt,law.pack
,,,,local-time,\"EST5EDT,M3.2.0,M11.1.0\"
,,,,grade,1,owner,,,no end
,,,,grade,21,fireman,,,no end
,,,,grade,41,competent,,,no end
,,,,grade,42,boilermaker,,,no end
,,,4,engine,4,Tamsin,,,glass 180 mm; pressure 145 psi; has gauge-cocks air-brake tender fusible-plugs tubular-glasses lever-brake
,,,,date-done,inspection-31,2026-04-18
,,,,date-done,inspection-92,2026-04-18
,,,,date-done,annual,2025-05-01
,,,,date-done,inspection-1472,2021-09-14
,,,,date-done,washout,2026-04-18
,,,,date-done,plugs,2026-04-18
,,,,day,2026-05-02
";

const TO_THE_SIGNATURE: &str = "\
06:00,,41,4,open,daily,,,d
,,,d,work,tender-trucks,5 s
";

const TO_THE_RELEASE: &str = "\
07:00,,41,d,sign,daily-signs
,,,,review,daily-released,accepted
";

struct Played {
    ledger: Ledger,
    _folder: tempfile::TempDir,
}

#[track_caller]
fn play(rows: &[&str]) -> Played {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shed");
    fs::write(folder.path().join("law.pack"), &law().bytes).unwrap();
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE).unwrap());
    let text = format!("{REGISTER}{}", rows.concat());
    if let Err(fault) = script::play(&path, &text, folder.path()) {
        panic!("{fault}\n{}", rows.concat());
    }
    let (ledger, findings, _) = shed::look(&path).unwrap();
    assert!(findings.iter().all(FolderFinding::is_notice), "{findings:?}");
    Played { ledger, _folder: folder }
}

impl Played {
    /// The day with one more entry: the answer that stands on a step is struck out.
    fn struck(&self, id: &str, moment: &str) -> Played {
        let pack = PackFile::from_bytes(law().bytes.clone()).unwrap();
        let at = self.now(moment).stamp;
        let sheet = self.ledger.sheets().next().unwrap();
        let number = step(id).number;
        let mark = sheet.mark(pack.pack().place_of(number).unwrap()).unwrap();
        let mut entries: Vec<Entry> = self.ledger.entries().cloned().collect();
        let seq = entries.iter().map(|entry| entry.at.seq).max().unwrap() + 1;
        let reason = Words::try_from("Not seen after all").unwrap();
        entries.push(Entry {
            at: EntryRef { device: sheet.id.device, seq },
            hlc: Hlc(u64::try_from(at.0).unwrap() << 20),
            stamp: at,
            clock: Clock::Good,
            person: PersonId(41),
            what: What::Struck { sheet: sheet.id, step: number, entry: mark.proof.entry, reason },
        });
        Played { ledger: Ledger::build(vec![pack], entries), _folder: tempfile::tempdir().unwrap() }
    }

    fn now(&self, moment: &str) -> Now {
        use offshed_core::register::Register;
        Now::good(self.ledger.office.zone().moment(typed::moment(moment, None).unwrap()))
    }

    fn fitness(&self, moment: &str) -> Fitness {
        self.ledger.fitness(EngineId(4), self.now(moment))
    }
}

/// The steps that reasons are about, and sections that those steps or dates name.
fn refused_under(fitness: &Fitness) -> BTreeSet<u16> {
    let of = |id: StepId| steps(&law().model).find(|s| s.number == id).map(|s| sections(&s.source)).unwrap_or_default();
    let mut found = BTreeSet::new();
    for reason in &fitness.reasons {
        match reason.why {
            Why::NeedsFirst { step } | Why::NotRight { step } | Why::Lapsed { step, .. } => found.extend(of(step)),
            Why::Voided { by: VoidedBy::Foundation(step), .. } => found.extend(of(step)),
            Why::Voided { step, .. } => found.extend(of(step)),
            Why::OutOfDate { due, .. } | Why::DateUnknown { due } => {
                let due = law().model.dues.iter().find(|d| d.named.number == due.0);
                found.extend(due.map(|d| sections(&d.source)).unwrap_or_default());
            }
            _ => {}
        }
    }
    found
}

#[test]
fn a_day_under_the_law_reaches_fit_and_ends_with_the_day() {
    let day = play(&[TO_THE_SIGNATURE, TO_THE_RELEASE]);
    assert_eq!(day.fitness("2026-05-02 07:05").verdict, Verdict::Fit, "{:?}", day.fitness("2026-05-02 07:05"));
    assert_eq!(day.fitness("2026-05-02 23:59").verdict, Verdict::Fit);
    // 230.13(a): each day that it is offered for use.
    let next = day.fitness("2026-05-03 00:00");
    assert_eq!(next.verdict, Verdict::NotFit);
    assert!(refused_under(&next).contains(&13), "{next:?}");
    let unsigned = play(&[TO_THE_SIGNATURE]);
    assert_eq!(unsigned.fitness("2026-05-02 07:05").verdict, Verdict::NotFit);
    // 368 calendar days after 1 May 2025 are 4 May 2026 (python-dateutil, `relativedelta(days=368)`).
    let annual = play(&[TO_THE_SIGNATURE, TO_THE_RELEASE]).fitness("2026-05-05 06:00");
    assert!(refused_under(&annual).contains(&16), "{annual:?}");
    assert!(!refused_under(&play(&[TO_THE_SIGNATURE]).fitness("2026-05-04 23:59")).contains(&16));
}

#[test]
fn the_withdrawal_of_each_proof_is_refused_under_its_section() {
    let withdrawn = [
        ("glass-left", 54),
        ("glass-right", 51),
        ("gauge-cocks", 54),
        ("cab-lamps", 56),
        ("feed-injector", 57),
        ("feed-second", 57),
        ("compressor", 70),
        ("air-drained", 70),
        ("brakes", 70),
        ("brake-pipe", 78),
        ("sanders", 84),
        ("headlights", 86),
        ("valve-low", 49),
        ("glass-shields", 55),
        ("lagging", 64),
        ("vision", 65),
        ("travel-driving", 76),
        ("travel-tender", 76),
        ("brake-gear", 77),
        ("draw-gear", 90),
        ("draft-gear", 92),
        ("crossheads", 94),
        ("piston-rods", 93),
        ("rods", 96),
        ("running-gear", 112),
        ("tender-frame", 107),
        ("tender-trucks", 109),
        ("days-31", 14),
        ("days-92", 15),
        ("days-annual", 16),
        ("days-1472", 17),
        ("daily-signs", 13),
        ("daily-released", 13),
    ];
    let day = play(&[TO_THE_SIGNATURE, TO_THE_RELEASE]);
    for (id, section) in withdrawn {
        let after = day.struck(id, "2026-05-02 07:10").fitness("2026-05-02 07:11");
        assert_eq!(after.verdict, Verdict::NotFit, "{id}");
        assert!(refused_under(&after).contains(&section), "{id}: {after:?}");
    }
}

#[test]
fn nobody_signs_for_an_item_that_was_withdrawn() {
    let day = play(&[TO_THE_SIGNATURE]);
    let state = |day: &Played, id: &str| {
        let sheet = day.ledger.sheets().next().unwrap().id;
        let view = views::sheet(&day.ledger, sheet, Who::default(), day.now("2026-05-02 06:56")).unwrap();
        view.stages.iter().flat_map(|s| &s.steps).find(|s| s.id == id).unwrap().state
    };
    assert_eq!(state(&day, "daily-signs"), "open");
    let asked = step("daily-signs").needs.iter().flat_map(|need| &need.rules).filter_map(|rule| match rule {
        Rule::Fresh { step, .. } => steps(&law().model).find(|s| s.number == *step),
        _ => None,
    });
    let answered: Vec<&Step> = asked.filter(|step| state(&day, &step.id) != "does-not-apply").collect();
    assert!(answered.len() > 25, "{}", answered.len());
    for step in answered {
        let withdrawn = day.struck(&step.id, "2026-05-02 06:55");
        assert_eq!(state(&withdrawn, "daily-signs"), "waiting", "{}", step.id);
    }
}

#[test]
fn what_does_not_comply_stops_the_engine_until_it_is_repaired_whatever_anybody_allows() {
    // 230.11: repaired, and approved, before it is placed back into service.
    let open = "06:56,,41,4,defect,sanders,restricted,,f,Left sander dead\n";
    let refused = "07:00,,41,d,sign,daily-signs\n,,,,review,daily-released,accepted,,,,defect-restricted\n";
    play(&[TO_THE_SIGNATURE, open, refused]);
    let allowed = "06:57,,1,4,restrict,f,2026-05-09,,,Dry rail only\n";
    let day = play(&[TO_THE_SIGNATURE, open, allowed, refused]);
    assert_eq!(day.fitness("2026-05-02 07:05").verdict, Verdict::NotFit);
    let cleared = "06:58,,42,4,clear,f,boilermaker,,,Pipe cleared and tried\n";
    let day = play(&[TO_THE_SIGNATURE, open, cleared, TO_THE_RELEASE]);
    assert_eq!(day.fitness("2026-05-02 07:05").verdict, Verdict::Fit);
}

#[test]
fn a_valve_above_the_allowed_pressure_and_a_pipe_that_leaks_do_not_pass() {
    // 230.49(b) with an allowed pressure of 145 psi; 230.78(c).
    let high = "06:00,,41,4,open,daily,,,d\n,,,d,work,vision,5 s,,,but valve-low\n,,,d,reading,valve-low,146 psi\n";
    let day = play(&[high]);
    let defects: Vec<String> = day.ledger.defects().map(|(_, defect)| format!("{:?}", defect.grade)).collect();
    assert_eq!(defects, ["Stopping"]);
    let leak = "06:00,,41,4,open,daily,,,d\n,,,d,work,brakes,5 s\n,,,d,begin,brake-pipe,90 psi\n\
                ,,,d,end,brake-pipe,60 s 84 psi\n";
    assert_eq!(play(&[leak]).ledger.defects().count(), 1);
}

#[test]
fn a_locomotive_under_its_tag_is_not_fit_and_the_tag_comes_off_when_it_complies() {
    // 230.12(b): determined, notified, tagged and signed; 230.11: repaired.
    let tagged = "07:10,,1,4,open,movement,,,m\n,,,m,work,move-tag,5 s\n,,,m,sign,move-signs\n";
    let day = play(&[TO_THE_SIGNATURE, TO_THE_RELEASE, tagged]);
    assert_eq!(day.fitness("2026-05-02 07:30").verdict, Verdict::NotFit);
    let off = "07:40,,1,m,done,move-tag-off\n";
    let day = play(&[TO_THE_SIGNATURE, TO_THE_RELEASE, tagged, off]);
    assert_eq!(day.fitness("2026-05-02 07:45").verdict, Verdict::Fit);
}

#[test]
fn a_repaired_boiler_is_tested_under_steam_and_inspected_again() {
    // 230.37: 95 to 100 percent of 145 psi is 138 to 145 psi.
    let repaired = "07:10,,42,4,event,boiler-repaired\n";
    let day = play(&[TO_THE_SIGNATURE, TO_THE_RELEASE, repaired]);
    assert_eq!(day.fitness("2026-05-02 07:30").verdict, Verdict::NotFit);
    let low = "07:20,,41,4,open,repair,,,r\n,,,r,skip,repair-hydrostatic,,,,Staybolt replaced\n\
               ,,,r,reading,steam-test,137 psi\n";
    assert_eq!(play(&[TO_THE_SIGNATURE, TO_THE_RELEASE, repaired, low]).ledger.defects().count(), 1);
}
