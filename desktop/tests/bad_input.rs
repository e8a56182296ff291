//! Bad command lines and bad files: one clear error, the documented exit code, and a data folder as it was, byte for
//! byte.

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::{contents, fails, ok};

fn demo() -> (tempfile::TempDir, PathBuf) {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("demo");
    ok(temp.path(), &["demo", path.to_str().unwrap()]);
    (temp, path)
}

/// What every failure must be: the exit code, one error, no panic.
#[track_caller]
fn clear(folder: &Path, args: &[&str], want: i32) {
    let (code, words) = fails(folder, args);
    assert_eq!(code, want, "{args:?}: {words}");
    let first = words.lines().next().unwrap_or("");
    assert!(first.starts_with("error: ") || first.starts_with("refused: "), "{args:?}: {words}");
    assert!(!words.contains("panicked") && !words.contains("RUST_BACKTRACE"), "{args:?}: {words}");
    assert_eq!(words.matches("error: ").count() + words.matches("refused: ").count(), 1, "{args:?}: {words}");
}

#[test]
fn command_lines() {
    let (_temp, path) = demo();
    let before = contents(&path);
    let pin = ["--by", "1", "--pin", "4711"];
    let foreman = |args: &[&'static str]| [args, &pin[..]].concat();
    let usage: Vec<Vec<&str>> = [
        vec![],
        vec!["departure"],
        vec!["board", "--soon"],
        vec!["board", "4"],
        vec!["open"],
        vec!["open", "4"],
        vec!["open", "4", "preparation"],
        vec!["open", "four", "preparation", "--by", "21"],
        vec!["open", "-4", "preparation", "--by", "21"],
        vec!["open", "70000", "preparation", "--by", "21"],
        vec!["answer"],
        vec!["answer", "4"],
        vec!["answer", "4", "secured", "--by", "21"],
        vec!["answer", "4", "secured", "--done"],
        vec!["answer", "4", "secured", "--done", "--accept", "--by", "21"],
        vec!["answer", "4", "secured", "--reading", "--by", "21"],
        vec!["answer", "4", "found", "--choose", "two", "--by", "21"],
        vec!["answer", "4", "found", "--choose", "300", "--by", "21"],
        vec!["sign"],
        vec!["sign", "4"],
        vec!["review", "4", "review", "perhaps", "--by", "1"],
        vec!["strike", "4", "secured", "--by", "21"],
        vec!["defect"],
        vec!["defect", "report", "4", "fatal", "x", "--by", "21"],
        vec!["defect", "report", "4", "stopping", "--by", "21"],
        vec!["defect", "clear", "x", "--by", "41"],
        vec!["tag", "4", "--by", "42"],
        vec!["dispense", "4", "date:washout", "--by", "1"],
        vec!["register", "person", "x", "Name", "--by", "1"],
        vec!["register", "grade", "21", "fireman", "--until", "2026-12-31", "--withdraw", "--by", "1"],
        vec!["register", "done", "4", "washout", "2026-05-01", "--days-before", "-3", "--by", "1"],
        vec!["pack"],
        vec!["pack", "check"],
        vec!["pack", "build", "only-one"],
        vec!["sync"],
        vec!["play"],
        vec!["event", "4", "--by", "21"],
        vec!["--json"],
    ]
    .into();
    for args in &usage {
        let (code, words) = fails(&path, args);
        assert_eq!(code, 2, "{args:?}: {words}");
        assert!(!words.contains("panicked"), "{words}");
    }
    let input: Vec<Vec<&str>> = vec![
        vec!["open", "4", "preperation", "--by", "21"],
        vec!["open", "4", "preparation", "--by", "Nobody Here"],
        vec!["answer", "99", "secured", "--done", "--by", "21"],
        vec!["answer", "tamsin", "secured", "--done", "--by", "21"],
        vec!["answer", "0000000000000000-1", "secured", "--done", "--by", "21"],
        vec!["answer", "0000-1", "secured", "--done", "--by", "21"],
        vec!["answer", "23", "secure", "--done", "--by", "21"],
        vec!["answer", "23", "level-final", "--reading", "full", "--by", "21"],
        vec!["answer", "23", "level-final", "--reading", "100 psi", "--by", "21"],
        vec!["answer", "23", "level-final", "--reading", "1e3 mm", "--by", "21"],
        vec!["answer", "23", "level-final", "--reading", "NaN", "--by", "21"],
        vec!["answer", "23", "level-final", "--reading", "99999999999 mm", "--by", "21"],
        vec!["answer", "23", "level-final", "--reading", "", "--by", "21"],
        vec!["answer", "23", "secured", "--reading", "100 mm", "--by", "21"],
        vec!["answer", "23", "glass-left", "--part", "0 seen", "--by", "21"],
        vec!["answer", "23", "glass-left", "--part", "99 seen", "--by", "21"],
        vec!["answer", "23", "glass-left", "--part", "seen", "--by", "21"],
        vec!["answer", "23", "glass-left", "--part", "3 120 mm", "--by", "21"],
        vec!["answer", "23", "glass-left", "--part", "5 quickly", "--by", "21"],
        vec!["answer", "23", "secured", "--part", "1 seen", "--by", "21"],
        vec!["answer", "23", "vacuum-hold", "--end", "soon", "--by", "21"],
        vec!["answer", "23", "vacuum-hold", "--end", "60 s 21 mm", "--by", "21"],
        vec!["answer", "23", "secured", "--done", "--done-at", "25:00", "--by", "21"],
        vec!["answer", "23", "secured", "--done", "--done-at", "yesterday", "--by", "21"],
        vec!["answer", "23", "secured", "--done", "--with", "Nobody", "--by", "21"],
        vec!["now", "99"],
        vec!["now", "23"],
        vec!["now", "4", "--by", "Nobody"],
        vec!["now", "4", "--as-of", "tomorrow"],
        vec!["sheet", "nonsense"],
        vec!["sheet", "4", "--as-of", "2026-13-01 10:00"],
        vec!["board", "--as-of", "2026-02-30 10:00"],
        vec!["board", "--as-of", "9 o'clock"],
        foreman(&["register", "grade", "21", "firemann"]),
        foreman(&["register", "grade", "21", "fireman", "--until", "31.12.2026"]),
        foreman(&["register", "grade", "21", "fireman", "--until", "2026-02-30"]),
        foreman(&["register", "engine", "5", "X", "--glass", "180 psi"]),
        foreman(&["register", "engine", "5", "X", "--glass=-180 mm"]),
        foreman(&["register", "engine", "5", "X", "--pressure", "145 mm"]),
        foreman(&["register", "engine", "5", "X", "--has", "wings"]),
        foreman(&["register", "fitted", "4", "front-seal", "1"]),
        foreman(&["register", "fitted", "4", "front-valve-seal", "1234567890123456789012345"]),
        foreman(&["register", "done", "4", "wash", "2026-05-01"]),
        foreman(&["register", "done", "4", "washout", "the 1st"]),
        foreman(&["register", "turn", "4", "Goods", "half past nine"]),
        foreman(&["register", "person", "5", "A name that is longer than the forty bytes a name may have"]),
        vec!["event", "4", "explosion", "--by", "21"],
        vec!["defect", "clear", "D1", "fitter", "done", "--by", "41"],
        vec!["defect", "restrict", "D1", "2026-05-09", "x", "--by", "1", "--pin", "4711"],
        vec!["dispense", "4", "washout", "2026-05-09", "x", "--by", "1", "--pin", "4711"],
        vec!["dispense", "4", "date:wash", "2026-05-09", "x", "--by", "1", "--pin", "4711"],
        vec!["dispense", "4", "step:glass", "2026-05-09", "x", "--by", "1", "--pin", "4711"],
        vec!["pack", "check", "/nowhere/at/all"],
        vec!["pack", "adopt", "/nowhere/at/all", "--by", "1", "--pin", "4711"],
        vec!["sync", "/nowhere/at/all"],
        vec!["play", "/nowhere/at/all.csv"],
        vec!["pin", "77", "--new", "1234"],
    ];
    for args in &input {
        clear(&path, args, 3);
    }
    let refused: Vec<Vec<&str>> = vec![
        vec!["answer", "23", "light-up", "--done", "--by", "41"],
        vec!["answer", "23", "secured", "--accept", "--by", "21"],
        vec!["answer", "23", "found", "--choose", "9", "--by", "21"],
        vec!["open", "99", "preparation", "--by", "21"],
        vec!["open", "4", "preparation", "--by", "77"],
        vec!["tag", "lift", "4", "--by", "21"],
        vec!["note", "4", " ", "--by", "21"],
        vec!["abandon", "4", " ", "--by", "21"],
        vec!["defect", "report", "4", "note", " ", "--by", "21"],
        vec!["register", "person", "5", "X", "--by", "21"],
        foreman(&["dispense", "4", "date:washout", "2026-05-01", "a day long past"]),
    ];
    for args in &refused {
        clear(&path, args, 1);
    }
    for args in [
        vec!["register", "person", "5", "X", "--by", "1"],
        vec!["register", "person", "5", "X", "--by", "1", "--pin", "12"],
        vec!["sign", "23", "fireman-signs", "--by", "21"],
        vec!["pin", "1", "--new", "5555"],
        vec!["pin", "21", "--new", "12"],
        vec!["pin", "21", "--new", "letters"],
    ] {
        clear(&path, &args, 5);
    }
    let mut after = contents(&path);
    // Wrong tries are remembered on purpose.
    after.retain(|file, _| !file.ends_with("tries.toml"));
    let mut before = before;
    before.retain(|file, _| !file.ends_with("tries.toml"));
    assert_eq!(after.keys().collect::<Vec<_>>(), before.keys().collect::<Vec<_>>());
    assert!(after == before, "the folder changed");
}

#[test]
fn no_folder_or_one_that_is_none() {
    let temp = tempfile::tempdir().unwrap();
    for command in [&["board"][..], &["sheet"], &["verify"], &["open", "4", "preparation", "--by", "1"]] {
        let (code, words) = fails(&temp.path().join("nothing"), command);
        assert!(code == 4 || code == 6, "{command:?} {code}: {words}");
    }
    fs::write(temp.path().join("letter.txt"), "a letter").unwrap();
    let before = contents(temp.path());
    let (code, words) = fails(temp.path(), &["new"]);
    assert_eq!(code, 4, "{words}");
    assert_eq!(contents(temp.path()), before);
}

const HEAD: &str = "time,device,who,on,do,what,value,with,as,words,expect\n";

#[test]
fn scripts() {
    let (temp, path) = demo();
    let before = contents(&path);
    let file = temp.path().join("day.csv");
    let open = "09:40,office,1,,pin,1,4711\n,,12,23,open,relief,,,r\n";
    let bad: Vec<(String, &str)> = vec![
        (String::new(), "line 1"),
        ("time,who\n".to_owned(), "line 1"),
        ("\u{feff}time\n".to_owned(), "line 1"),
        (HEAD.replace("words", "remarks"), "line 1"),
        (format!("{HEAD}1,2,3,4,5,6,7,8,9,10,11,12\n"), "12 columns"),
        (format!("{HEAD}09:40,office,1,4,,secured\n"), "column `do`"),
        (format!("{HEAD},,,,day,2026-02-30\n"), "column `what`"),
        (format!("{HEAD},,,,day,today\n"), "YYYY-MM-DD"),
        (format!("{HEAD}09:40,office,1,4,note\n"), "column `time`"),
        (format!("{HEAD},,,,day,2026-05-02\n,office,1,4,note\n"), "column `time`"),
        (format!("{HEAD},,,,day,2026-05-02\n9.40,office,1,4,note\n"), "HH:MM"),
        (format!("{HEAD},,,,day,2026-05-02\n24:01,office,1,4,note\n"), "HH:MM"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,,4,note\n"), "column `who`"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,Nobody,4,note\n"), "Nobody"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,4,note,,,,,x\n"), "row `pin`"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,9999\n"), "column `value`"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,../evil,21,4,note,,,,,x\n"), "letters, digits and hyphens"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,whistle\n"), "no sheet is called"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,open,preperation\n"), "did you mean"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,four,open,preparation\n"), "engine number"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,99,open,preparation\n"), "engine-unknown"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,x,done,secured\n"), "no sheet is called"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,event,explosion\n"), "no event"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,defect,,fatal,,,x\n"), "stopping, restricted or note"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,defect,glas,note,,,x\n"), "no step"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,clear,nothing,fitter,,,x\n"), "no open defect"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,sync,office\n"), "itself"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,done,relief-handovr\n"), "did you mean"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,reading,relief-pressure,lots\n"), "no reading"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,reading,relief-pressure,100 mm\n"), "pressure is read in"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,reading,relief-handover,100\n"), "takes no reading"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,part,relief-glass-left,seen\n"), "part's number"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,part,relief-glass-left,40 seen\n"), "parts"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,part,relief-handover,1 seen\n"), "no procedure"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,choose,relief-handover,x\n"), "from 1"),
        (
            format!("{HEAD},,,,day,2026-05-02\n{open},,,r,review,relief-review,maybe\n"),
            "accepted, sent-back or stopped",
        ),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,strike,relief-handover,,,,x\n"), "no answer to strike"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,done,relief-handover,,Nobody\n"), "Nobody"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,done,relief-handover,,,soon\n"), "column `as`"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,sign,relief-driver-signs\n"), "refused"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,done,relief-handover,,,,,needs-first\n"), "was to be refused"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,sign,relief-driver-signs,,,,,lapsed\n"), "not for"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,work,relief-handover,often\n"), "column `value`"),
        (format!("{HEAD},,,,day,2026-05-02\n{open},,,r,join,q\n"), "no sheet is called"),
        (format!("{HEAD},,,,day,2026-05-02\n{open}09:39,,,r,done,relief-handover\n"), "already"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,grade,21,firemann,,,no end\n"), "no grade"),
        (
            format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,grade,21,fireman,,,soon\n"),
            "column `words`",
        ),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,engine,x,Name\n"), "engine number"),
        (
            format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,engine,5,Name,,,has wings\n"),
            "no feature",
        ),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,engine,5,Name,,,long and low\n"), "write"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,4,fitted,seal,1\n"), "no fitting"),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,4,date-done,washout,1 May\n"), "YYYY-MM-DD"),
        (
            format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,4,date-done,washout,2026-05-01,,,few\n"),
            "whole number",
        ),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,4,turn,Goods,noon\n"), "HH:MM"),
        (
            format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,adopt,nowhere.pack\n"),
            "cannot read the pack",
        ),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,,local-time,Harrow Vale\n"), "no time zone"),
        (
            format!("{HEAD},,,,day,2026-05-02\n09:40,office,1,,pin,1,4711\n,,,4,dispense,washout,2026-05-09,,,x\n"),
            "date:ID",
        ),
        (format!("{HEAD},,,,day,2026-05-02\n09:40,office,21,4,note,,,,,{}\n", "w".repeat(300)), "at most 240"),
    ];
    assert!(bad.len() >= 55, "{}", bad.len());
    for (text, told) in &bad {
        fs::write(&file, text).unwrap();
        let (code, words) = fails(&path, &["play", file.to_str().unwrap()]);
        assert_eq!(code, 3, "{text}\n{words}");
        assert!(words.contains(told), "wanted \"{told}\"\n{text}\n{words}");
        assert!(words.contains("line "), "{words}");
        assert!(!words.contains("panicked"), "{words}");
    }
    fs::write(&file, b"time,\xff\xfe").unwrap();
    assert_eq!(fails(&path, &["play", file.to_str().unwrap()]).0, 3);
    assert!(contents(&path) == before, "the folder changed");
}
