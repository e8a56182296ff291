//! The whole job by commands: from an empty folder to an engine that may leave, on two devices.

mod common;

use common::{fails, offshed, ok, root};
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).expect("JSON")
}

#[test]
fn the_demo_ends_with_every_verdict() {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("demo");
    let board = json(&ok(temp.path(), &["--json", "demo", path.to_str().unwrap()]));
    let verdicts: Vec<&str> =
        board["engines"].as_array().unwrap().iter().map(|e| e["verdict"].as_str().unwrap()).collect();
    for wanted in ["fit", "restricted", "not-fit", "not-known"] {
        assert!(verdicts.contains(&wanted), "{wanted} is not among {verdicts:?}");
    }
    let text = ok(&path, &["board", "--as-of", "2026-05-02 09:30"]);
    assert!(text.contains("No. 4 Tamsin") && text.contains("[ FIT      ]"), "{text}");
    assert!(!text.contains('\u{1b}'), "colour where there is no terminal");
    assert!(ok(&path, &["verify"]).contains("every file is whole"));
}

#[test]
fn from_an_empty_folder_to_a_refused_and_an_accepted_answer() {
    let temp = tempfile::tempdir().unwrap();
    let shed = temp.path().join("shed");
    let pack = root().join("core/packs/practice");
    let pack = pack.to_str().unwrap();
    let by = ["--by", "1"];
    let run = |args: &[&str]| ok(&shed, &[args, &by[..]].concat());
    ok(&shed, &["new", "--device", "office", "--zone", "GMT0BST,M3.5.0/1,M10.5.0"]);
    run(&["register", "person", "1", "Moss Orrin"]);
    run(&["pack", "adopt", pack]);
    run(&["register", "grade", "1", "foreman"]);
    run(&["register", "person", "21", "Corin Vey"]);
    run(&["register", "grade", "21", "fireman", "--until", "2099-12-31"]);
    run(&["register", "engine", "4", "Tamsin", "--glass", "180 mm", "--pressure", "145 psi", "--has", "second-glass"]);

    // Nobody but the office enters facts once there is an office.
    let (code, words) = fails(&shed, &["register", "person", "99", "Somebody", "--by", "21"]);
    assert_eq!(code, 1, "{words}");

    ok(&shed, &["open", "4", "preparation", "--by", "Corin Vey"]);
    let (code, words) = fails(&shed, &["answer", "4", "light-up", "--done", "--by", "21"]);
    assert_eq!(code, 1);
    assert!(words.starts_with("refused: ") && words.contains("not yet proven, do it first"), "{words}");
    let now = ok(&shed, &["now", "4"]);
    assert!(now.contains("MAY BE DONE NOW") && now.contains("waits:"), "{now}");
    ok(&shed, &["answer", "4", "secured", "--done", "--by", "21"]);
    let sheet = json(&ok(&shed, &["--json", "sheet", "4"]));
    let steps = sheet["stages"].as_array().unwrap().iter().flat_map(|s| s["steps"].as_array().unwrap());
    let secured = steps.clone().find(|s| s["id"] == "secured").unwrap();
    assert_eq!(secured["state"], "proven");
    assert_eq!(secured["person"], "Corin Vey");

    // A signature needs a PIN that is set, and the right one.
    let (code, words) = fails(&shed, &["sign", "4", "fireman-signs", "--by", "21"]);
    assert_eq!(code, 5, "{words}");
    ok(&shed, &["pin", "21", "--new", "2468"]);
    let (code, words) = fails(&shed, &["sign", "4", "fireman-signs", "--by", "21", "--pin", "1111"]);
    assert_eq!(code, 5, "{words}");
    let (code, words) = fails(&shed, &["sign", "4", "fireman-signs", "--by", "21", "--pin", "2468"]);
    assert_eq!(code, 1, "the proofs are missing: {words}");

    // Once the office has a PIN, it must agree to anybody's first one.
    ok(&shed, &["pin", "1", "--new", "4711", "--by", "1"]);
    run(&["--json", "register", "person", "22", "Lowen Ash", "--pin", "4711"]);
    let (code, words) = fails(&shed, &["pin", "22", "--new", "1357"]);
    assert_eq!(code, 5, "{words}");
    assert_eq!(fails(&shed, &["pin", "22", "--new", "1357", "--by", "21", "--pin", "2468"]).0, 5);
    ok(&shed, &["pin", "22", "--new", "1357", "--by", "1", "--pin", "4711"]);

    // A defect stops the engine; the foreman is no fitter.
    let reported = ["defect", "report", "4", "stopping", "Cracked gauge frame", "--by", "21", "--pin", "2468"];
    let recorded = json(&ok(&shed, &[&["--json"], &reported[..]].concat()));
    let defect = recorded["recorded"].as_str().unwrap();
    assert_eq!(fails(&shed, &["defect", "clear", defect, "fitter", "Mended", "--by", "1", "--pin", "4711"]).0, 1);
    assert!(ok(&shed, &["defect", "list"]).contains("Cracked gauge frame"));
    let board = json(&ok(&shed, &["--json", "board"]));
    assert_eq!(board["engines"][0]["verdict"], "not-fit");
    let reasons = board["engines"][0]["reasons"].as_array().unwrap();
    assert!(reasons.iter().any(|r| r["key"] == "defect-stopping"));

    // A second device meets the first through a plain folder, and both show the same board.
    let stick = temp.path().join("stick");
    std::fs::create_dir(&stick).unwrap();
    let other = temp.path().join("other");
    ok(&other, &["new", "--device", "tablet"]);
    ok(&shed, &["sync", stick.to_str().unwrap()]);
    ok(&other, &["sync", stick.to_str().unwrap()]);
    let as_of = ["--json", "board", "--as-of", "2030-01-01 12:00"];
    assert_eq!(json(&ok(&shed, &as_of)), json(&ok(&other, &as_of)));
    assert!(offshed(&other, &["verify"]).status.success());

    // The office confirms the tablet's key by the digits that the tablet shows.
    ok(&shed, &["sync", stick.to_str().unwrap()]);
    let unknown = || json(&ok(&shed, &["--json", "verify"]))["unknown_keys"].as_array().unwrap().clone();
    let told = unknown();
    let told = told[0].as_str().unwrap();
    let device = &told[told.find(".book").unwrap() - 16..][..16];
    let key = json(&ok(&other, &["--json", "verify"]))["key"].as_str().unwrap().to_owned();
    let confirm = |digits: &str| ["register", "key", device, digits, "--by", "1", "--pin", "4711"].map(str::to_owned);
    let run = |args: [String; 8]| offshed(&shed, &args.each_ref().map(String::as_str));
    assert!(!run(confirm("0123456789abcdef")).status.success());
    assert!(!run(confirm(&key[..8])).status.success());
    assert_eq!(unknown().len(), 1);
    assert!(run(confirm(&key[..16])).status.success());
    assert_eq!(unknown().len(), 0);
}

#[test]
fn where_records_are_damaged_no_engine_is_called_fit() {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("demo");
    ok(temp.path(), &["demo", path.to_str().unwrap()]);
    let as_of = ["--json", "board", "--as-of", "2026-05-02 09:29"];
    let verdicts = |board: &str| -> Vec<String> {
        let board = json(board);
        board["engines"].as_array().unwrap().iter().map(|e| e["verdict"].as_str().unwrap().to_owned()).collect()
    };
    assert!(verdicts(&ok(&path, &as_of)).contains(&"fit".to_owned()));
    let books = std::fs::read_dir(path.join("books")).unwrap();
    let book = books.map(|item| item.unwrap().path()).max_by_key(|p| p.metadata().unwrap().len()).unwrap();
    let mut bytes = std::fs::read(&book).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x40;
    std::fs::write(&book, &bytes).unwrap();
    let output = offshed(&path, &as_of);
    let damaged = verdicts(std::str::from_utf8(&output.stdout).unwrap());
    assert!(damaged.iter().all(|v| v == "not-fit" || v == "not-known"), "{damaged:?}");
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("damaged") && told.contains("books"), "{told}");
    let (code, _) = fails(&path, &["verify"]);
    assert_eq!(code, 6);

    // The board says so itself, beside each engine.
    let text = ok(&path, &["board", "--as-of", "2026-05-02 09:29"]);
    assert!(text.contains("damaged or missing here"), "{text}");
}

fn copy(from: &std::path::Path, to: &std::path::Path) {
    for (file, bytes) in common::contents(from) {
        let target = to.join(file.strip_prefix(from).unwrap());
        std::fs::create_dir_all(target.parent().unwrap()).unwrap();
        std::fs::write(target, bytes).unwrap();
    }
}

#[test]
fn a_copied_folder_takes_an_identity_of_its_own_before_it_meets_the_other() {
    let temp = tempfile::tempdir().unwrap();
    let (shed, twin) = (temp.path().join("shed"), temp.path().join("twin"));
    ok(&shed, &["new", "--device", "office"]);
    ok(&shed, &["register", "person", "1", "Moss Orrin", "--by", "1"]);
    copy(&shed, &twin);
    let (code, words) = fails(&shed, &["sync", twin.to_str().unwrap()]);
    assert_eq!(code, 4);
    assert!(words.contains("`offshed identity`"), "{words}");
    ok(&twin, &["identity", "--device", "tablet"]);
    ok(&twin, &["register", "person", "2", "Petra Sallow", "--by", "1"]);
    ok(&twin, &["register", "device", "tablet", "--by", "1"]);
    ok(&shed, &["sync", twin.to_str().unwrap()]);
    let register = ok(&shed, &["register", "show"]);
    assert!(register.contains("Moss Orrin") && register.contains("Petra Sallow"), "{register}");
    assert!(ok(&shed, &["verify"]).contains("every file is whole"));
}
