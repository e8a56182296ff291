//! Malformed packs: each is one small edit of a sound pack, and gives one clear complaint with file, line and cure.

mod figures;
mod sound;

use std::fs;

use offshed_depot::authoring::{self, Complaint, SourceFile};
use offshed_depot::packfile::{PackFile, PackFileFault};
use sound::FILES;

fn files(texts: &[(&str, String)]) -> Vec<SourceFile> {
    texts.iter().map(|(name, text)| SourceFile { name: (*name).to_owned(), text: text.clone() }).collect()
}

/// The files with the first `from` after `behind` in `file` replaced.
fn edited(file: &str, behind: &str, from: &str, to: &str) -> (Vec<SourceFile>, usize) {
    let mut line = 0;
    let texts = FILES.map(|(name, text)| {
        if name != file {
            return (name, text.to_owned());
        }
        let start = text.find(behind).unwrap_or_else(|| panic!("no {behind:?} in {file}"));
        let at = start + text[start..].find(from).unwrap_or_else(|| panic!("no {from:?} behind {behind:?}"));
        line = text[..at].matches('\n').count() + 1;
        (name, format!("{}{to}{}", &text[..at], &text[at + from.len()..]))
    });
    (files(&texts), line)
}

/// One malformed pack: in `file`, the first `from` after `behind` becomes `to`, and the complaint stands `below` lines
/// under the edit, or over it.
struct Case {
    file: &'static str,
    behind: &'static str,
    from: &'static str,
    to: &'static str,
    below: i64,
    words: &'static str,
}

/// A complaint on the edited line.
const fn at(
    file: &'static str,
    behind: &'static str,
    from: &'static str,
    to: &'static str,
    words: &'static str,
) -> Case {
    off(file, behind, from, to, 0, words)
}

/// A complaint so many lines below the edited one.
const fn off(
    file: &'static str,
    behind: &'static str,
    from: &'static str,
    to: &'static str,
    below: i64,
    words: &'static str,
) -> Case {
    Case { file, behind, from, to, below, words }
}

fn check(cases: &[Case]) {
    for case in cases {
        let shown = format!("{}: {:?} becomes {:?}", case.file, case.from, case.to);
        let (files, line) = edited(case.file, case.behind, case.from, case.to);
        let complaints = authoring::compile(&files).err().unwrap_or_else(|| panic!("{shown}: compiled"));
        let said: Vec<String> = complaints.iter().map(Complaint::to_string).collect();
        assert_eq!(said.len(), 1, "{shown}: {said:#?}");
        let (complaint, said) = (&complaints[0], &said[0]);
        assert!(said.contains(case.words), "{shown}: {said} has no {:?}", case.words);
        assert_eq!(complaint.file, case.file, "{shown}: {said}");
        assert_eq!(i64::from(complaint.line), line as i64 + case.below, "{shown}: {said}");
        assert!(complaint.column > 0 && !complaint.cure.is_empty(), "{shown}: {said}");
        assert!(said.starts_with(&format!("{}:{}: ", complaint.file, complaint.line)), "{said}");
    }
}

#[test]
fn the_pack_they_are_made_from_is_sound() {
    let compiled = authoring::compile(&files(&FILES.map(|(name, text)| (name, text.to_owned())))).unwrap();
    let summary = authoring::summary(&compiled);
    assert_eq!((summary.sequences, summary.steps, summary.parts, summary.obligations), (2, 9, 4, 5));
    assert_eq!(summary.rules_bytes + summary.text_bytes, compiled.bytes.len());
    let file = PackFile::from_bytes(compiled.bytes).unwrap();
    assert_eq!(file.hash(), compiled.hash);
}

#[rustfmt::skip]
#[test]
fn toml_that_is_none() {
    check(&[
        at("pack.toml", "[pack]", "id = \"tiny\"", "id = tiny", "not TOML"),
        at("pack.toml", "[pack]", "title = ", "title ", "not TOML"),
        at("work.toml", "[[stage]]", "[[stage]]", "[[stage]", "not TOML"),
        off("work.toml", "id = \"sign\"", "{ in_date = \"washout\" },", "{ in_date = \"washout\" ,", 1, "not TOML"),
        off("work.toml", "[sequence]", "number = 1", "number = 1\nnumber = 2", 1, "not TOML: duplicate key"),
        at("other.toml", "[sequence]", "title = \"Other\"", "title = \"Other", "not TOML"),
        at("other.toml", "[sequence]", "id = \"other\"", "= \"other\"", "not TOML"),
        at("other.toml", "number = 2", "number = 2", "number = 02", "not TOML"),
    ]);
}

#[rustfmt::skip]
#[test]
fn keys_that_are_none() {
    check(&[
        at("work.toml", "id = \"sign\"", "{ after = \"plug\" }", "{ afer = \"plug\" }", "did you mean `after`?"),
        at("pack.toml", "[pack]", "title =", "titel =", "key `titel`: not a key of `[pack]`; did you mean `title`?"),
        at("pack.toml", "[[event]]", "voids =", "void =", "not a key of an event; did you mean `voids`?"),
    ]);
    check(&[
        off("pack.toml", "[[due]]", "source =", "weeks = 3\nsource =", 0, "key `weeks`: not a key of a date; its keys are"),
        off("pack.toml", "[[feature]]", "id =", "colour = 3\nid =", 0, "key `colour`: not a key of a feature"),
        off("pack.toml", "[[state]]", "role =", "rolle = \"x\"\nrole =", 0, "not a key of a state; did you mean `role`?"),
        off("pack.toml", "[fitness]", "needs =", "need = []\nneeds =", 0, "not a key of `[fitness]`; did you mean `needs`?"),
        off("pack.toml", "[defects]", "cleared_by =", "cleared = []\ncleared_by =", 0, "not a key of `[defects]`"),
        off("pack.toml", "[defects]", "[defects]", "[extra]\n[defects]", 0, "not a key of `pack.toml`"),
        off("work.toml", "[sequence]", "by =", "form = 1\nby =", 0, "not a key of `[sequence]`"),
        off("work.toml", "[[stage]]", "title =", "name = 1\ntitle =", 0, "not a key of a stage"),
        off("work.toml", "id = \"water\"", "caution =", "cuation = \"x\"\ncaution =", 0, "did you mean `caution`?"),
        off("work.toml", "id = \"plug\"", "fitting =", "low = \"1 mm\"\nfitting =", 0, "not a key of an `identity` step"),
        off("work.toml", "id = \"look-over\"", "review =", "not_applicable = true\nreview =", 0, "not a key of a `signature` step"),
        off("work.toml", "ask = \"time\"", "at_least =", "low = \"1 mm\"\nat_least =", 0, "step `feed`, part 2, key `low`: not a key of a part that asks `time`"),
        at("work.toml", "id = \"sign\"", "since = \"feed\"", "since = \"feed\", low = \"1 s\"", "not a key of the rule `wait`"),
        at("work.toml", "options", "passes = true", "passes = true, fails = true", "not a key of an option"),
        off("other.toml", "[[obligation]]", "why =", "whyy = \"x\"\nwhy =", 0, "not a key of an obligation; did you mean `why`?"),
        off("other.toml", "[sequence]", "[sequence]", "[fitness]\n[sequence]", 0, "not a key of a sequence file"),
    ]);
}

#[rustfmt::skip]
#[test]
fn keys_that_are_missing() {
    check(&[
        off("pack.toml", "[pack]", "title = \"Tiny pack\"\n", "", -2, "`[pack]` needs `title`; write `title = \"...\"`"),
        off("pack.toml", "[pack]", "low_water = \"Follow the notice in the cab.\"\n", "", -6, "needs `low_water`"),
        off("pack.toml", "[[grade]]", "number = 1\n", "", -2, "a grade needs `number`"),
        off("pack.toml", "[[due]]", "last_day = \"anniversary\"\n", "", -5, "a date needs `last_day`"),
        off("pack.toml", "[[due]]", "steam_days = 28\n", "", -4, "a date that never comes"),
        off("pack.toml", "[[event]]", "by = \"fireman\"\n", "", -4, "an event needs `by`"),
        off("pack.toml", "[defects]", "restricted_by = [\"foreman\"]\n", "", -2, "`[defects]` needs `restricted_by`"),
        off("work.toml", "[sequence]", "purpose = \"To be ready.\"\n", "", -4, "`[sequence]` needs `purpose`"),
        off("work.toml", "id = \"water\"", "do = \"Read the level.\"\n", "", -5, "a `reading` step needs `do`"),
        off("work.toml", "id = \"water\"", "unit = \"mm\"\n", "", -11, "a `reading` step needs `unit`"),
        off("work.toml", "id = \"water\"", "kind = \"reading\"\n", "", -9, "a step needs `kind`"),
        off("work.toml", "id = \"plug\"", "fitting = \"plug\"\n", "", -9, "needs `fitting`"),
        off("work.toml", "id = \"plug\"", "source = \"common practice, no source\"\n", "", -7, "needs `source`"),
        off("work.toml", "id = \"brake\"", "at_least = \"60 s\"\n", "", -9, "a `timed` step needs `at_least`"),
        off("work.toml", "ask = \"rise\"", "over = \"1 min\"\n", "", -6, "needs `over`"),
        off("work.toml", "ask = \"same\"", "within = \"12 mm\"\n", "", -4, "needs `within`"),
        off("work.toml", "id = \"sign\"", ", within = \"50 mm\"", "", 0, "the rule `agree` needs `within`"),
        off("work.toml", "id = \"sign\"", ", since = \"feed\"", "", 0, "the rule `wait` needs `since`"),
        off("work.toml", "id = \"state\"", "{ title = \"Cold\", passes = true }", "{ title = \"Cold\" }, { title = \"x\", passes = true }", 0, "an option needs `passes`"),
        off("other.toml", "[[obligation]]", "why = \"Only then.\"\n", "", -3, "an obligation needs `why`"),
    ]);
}

#[rustfmt::skip]
#[test]
fn values_of_the_wrong_sort() {
    check(&[
        at("pack.toml", "[pack]", "title = \"Tiny pack\"", "title = 3", "a whole number, where \"...\" is wanted"),
        at("pack.toml", "[pack]", "[99]", "[\"x\"]", "out of range or no number"),
        at("pack.toml", "[pack]", "[99]", "99", "a whole number, where [1] is wanted"),
        at("pack.toml", "[[grade]]", "number = 1", "number = \"1\"", "text in quotes, where 1 is wanted"),
        at("pack.toml", "[[grade]]", "number = 1", "number = 1.5", "a decimal number"),
        at("pack.toml", "[[grade]]", "covers = []", "covers = \"fireman\"", "text in quotes, where [\"...\"] is wanted"),
        at("pack.toml", "[[grade]]", "covers = []", "covers = [1]", "a whole number, where [\"...\"] is wanted"),
        at("pack.toml", "id = \"drained\"", "voids = [\"water\", \"sign\", \"look-over\"]", "voids = \"some\"", "write `voids = \"all\"`, or a list"),
        at("pack.toml", "[fitness]", "needs = [ { fresh = \"look-over\" }, { no_defect = \"stopping\" } ]", "needs = [ \"look-over\" ]", "text in quotes, where [ { ... } ] is wanted"),
        at("work.toml", "id = \"water\"", "shared = true", "shared = \"yes\"", "text in quotes, where true is wanted"),
        at("work.toml", "id = \"water\"", "kind = \"reading\"", "kind = \"readng\"", "is no kind of step; did you mean `reading`?"),
        at("work.toml", "id = \"water\"", "fails = \"stopping\"", "fails = \"stop\"", "is none of its words; did you mean `stopping`?"),
        at("work.toml", "ask = \"same\"", "ask = \"same\"", "ask = \"sane\"", "did you mean `same`?"),
        at("work.toml", "id = \"date\"", "computes = \"due\"", "computes = \"doze\"", "is none of its words"),
        at("pack.toml", "[[due]]", "last_day = \"anniversary\"", "last_day = \"the day\"", "there is `anniversary`, `day-before`"),
        at("work.toml", "id = \"water\"", "minutes = 1", "minutes = 1979-05-27", "a date, where 1 is wanted"),
        at("pack.toml", "[fitness]", "{ no_defect = \"stopping\" }", "{ no_defect = \"none\" }", "is none of its words"),
        at("pack.toml", "[fitness]", "{ no_defect = \"stopping\" }", "{ no_tag = false }", "only `true` is a rule"),
        at("work.toml", "id = \"sign\"", "[\"water\", \"feed\"]", "[\"water\"]", "1 steps; name two different steps"),
        at("work.toml", "id = \"sign\"", "{ grade = \"fireman\",", "{ grade = \"fireman\", state = \"hot\",", "two rules in one table"),
        at("work.toml", "id = \"sign\"", "{ grade = \"fireman\",", "{", "names no rule"),
        at("work.toml", "id = \"sign\"", "{ any = [ { after = \"plug\" }, { after = \"state\" } ] }", "{ any = [ ] }", "no alternatives, so it never holds"),
        at("work.toml", "id = \"sign\"", "{ after = \"plug\" }", "{ any = [ { after = \"plug\" } ] }", "`any` inside `any`"),
    ]);
}

#[rustfmt::skip]
#[test]
fn numbers_out_of_range_or_used_twice() {
    check(&[
        at("pack.toml", "[[grade]]", "number = 1", "number = 32", "32 is out of range; give a number from 1 to 31"),
        at("pack.toml", "[[grade]]", "number = 1", "number = 0", "0 is out of range"),
        at("pack.toml", "[[grade]]", "number = 1", "number = -1", "-1 is out of range"),
        at("pack.toml", "[[feature]]", "number = 1", "number = 64", "from 1 to 63"),
        at("pack.toml", "[[state]]", "number = 1", "number = 16", "from 0 to 15"),
        at("pack.toml", "[[fitting]]", "number = 1", "number = 0x40", "from 1 to 63"),
        at("pack.toml", "[[event]]", "number = 1", "number = 251", "from 1 to 250"),
        at("pack.toml", "[[due]]", "steam_days = 28", "steam_days = 0", "from 1 to 65535"),
        at("pack.toml", "[[due]]", "steam_days = 28", "months = 70000", "from 1 to 65535"),
        at("work.toml", "[sequence]", "number = 1", "number = 256", "from 1 to 255"),
        at("work.toml", "id = \"water\"", "number = 1", "number = 99999999999999999999", "out of range"),
        at("work.toml", "id = \"water\"", "minutes = 1", "minutes = 0", "from 1 to 240"),
        at("work.toml", "id = \"water\"", "number = 1", "number = 99", "number 99 is retired"),
        at("work.toml", "id = \"plug\"", "number = 2", "number = 1", "number 1 is that of `water`"),
    ]);
    check(&[
        at("other.toml", "id = \"end\"", "number = 20", "number = 8", "number 8 is that of `look-over`"),
        at("pack.toml", "id = \"gone\"", "number = 2", "number = 1", "number 1 is that of `hot`"),
        at("pack.toml", "id = \"burst\"", "number = 2", "number = 1", "number 1 is that of `drained`"),
        at("pack.toml", "id = \"gone\"", "role = \"away\"", "role = \"steam\"", "`hot` has this role"),
    ]);
    // The sequence with the smaller number is looked at first, so the newer file is the one complained about.
    check(&[
        off("other.toml", "[[step]]", "id = \"end\"", "id = \"water\"", 0, "there is another step `water`"),
        at("other.toml", "[sequence]", "id = \"other\"", "id = \"work\"", "there is another sequence `work`"),
    ]);
}

#[rustfmt::skip]
#[test]
fn ids_that_are_none_or_not_there() {
    check(&[
        at("pack.toml", "[pack]", "id = \"tiny\"", "id = \"Tiny\"", "\"Tiny\" is no id; use 1 to 40 lower case letters"),
        at("pack.toml", "[pack]", "language = \"en\"", "language = \"id\"", "write it with its region: `id-ID`"),
        at("pack.toml", "[pack]", "language = \"en\"", "language = \"en-GB-oxendict\"", "no language tag of at most 8 bytes"),
        at("pack.toml", "id = \"foreman\"", "[\"fireman\"]", "[\"firman\"]", "there is no grade `firman`; did you mean `fireman`?"),
        at("pack.toml", "id = \"foreman\"", "[\"fireman\"]", "[\"foreman\"]", "a grade covers itself anyway"),
        at("pack.toml", "id = \"drained\"", "by = \"fireman\"", "by = \"driver\"", "there is no grade `driver`"),
        at("pack.toml", "id = \"drained\"", "\"look-over\"", "\"look-ovr\"", "there is no step `look-ovr`; did you mean `look-over`?"),
        at("pack.toml", "id = \"drained\"", "\"look-over\"", "\"water\"", "`water` stands twice"),
        at("pack.toml", "id = \"burst\"", "sets = [\"gone\"]", "sets = [\"goner\"]", "there is no state `goner`"),
        at("pack.toml", "id = \"burst\"", "clears = [\"hot\"]", "clears = [\"gone\"]", "`gone` is set and cleared at once"),
        at("pack.toml", "id = \"burst\"", "cleared_by = [\"foreman\"]", "cleared_by = [\"smith\"]", "there is no grade `smith`"),
        off("pack.toml", "id = \"burst\"", "opens = \"stopping\"\n", "", 0, "there is no defect to clear"),
    ]);
    check(&[
        at("pack.toml", "[defects]", "cleared_by = [\"foreman\"]", "cleared_by = [\"fitter\"]", "there is no grade `fitter`"),
        at("pack.toml", "[defects]", "restricted_by = [\"foreman\"]", "restricted_by = [\"fitter\"]", "there is no grade `fitter`"),
    ]);
    check(&[
        at("work.toml", "[sequence]", "by = \"fireman\"", "by = \"firemen\"", "there is no grade `firemen`"),
        at("work.toml", "id = \"look-over\"", "by = \"foreman\"", "by = \"formen\"", "did you mean `foreman`?"),
        at("work.toml", "id = \"look-over\"", "voids = []", "voids = [\"watr\"]", "did you mean `water`?"),
        at("work.toml", "id = \"plug\"", "fitting = \"plug\"", "fitting = \"plugs\"", "there is no fitting `plugs`; did you mean `plug`?"),
        at("work.toml", "id = \"date\"", "due = \"washout\"", "due = \"washing\"", "there is no due `washing`"),
        at("work.toml", "id = \"brake\"", "applies = \"air-brake\"", "applies = \"airbrake\"", "did you mean `air-brake`?"),
        at("work.toml", "id = \"plug\"", "stage = \"first\"", "stage = \"frist\"", "there is no stage `frist`; did you mean `first`?"),
        at("work.toml", "id = \"feed\"", "reading = \"water\"", "reading = \"watr\"", "did you mean `water`?"),
        at("work.toml", "id = \"feed\"", "sets = [\"hot\"]", "sets = [\"hott\"]", "did you mean `hot`?"),
        at("work.toml", "id = \"sign\"", "fresh = \"water\"", "fresh = \"waters\"", "step `sign`, needs, key `fresh`: there is no step"),
        at("work.toml", "id = \"sign\"", "since = \"feed\"", "since = \"feet\"", "did you mean `feed`?"),
        at("work.toml", "id = \"sign\"", "in_date = \"washout\"", "in_date = \"wash\"", "there is no due `wash`"),
        at("work.toml", "id = \"sign\"", "state_not = \"gone\"", "state_not = \"one\"", "there is no state `one`"),
        at("work.toml", "id = \"sign\"", "{ grade = \"fireman\",", "{ grade = \"fire\",", "there is no grade `fire`"),
        at("work.toml", "goal = \"feed\"", "goal = \"feed\"", "goal = \"feeed\"", "there is no step `feeed`; did you mean `feed`?"),
        at("work.toml", "goal = \"sign\"", "after = [\"feed\"]", "after = [\"fed\"]", "obligation on `sign`, key `after`"),
        at("other.toml", "needs", "fresh = \"sign\"", "fresh = \"plug\"", "`plug` is of another sequence and not shared; write `shared = true` in step `plug`"),
        at("pack.toml", "[fitness]", "{ no_defect = \"stopping\" }", "{ after = \"plug\" }", "`plug` is not seen by fitness and not shared"),
        at("pack.toml", "[fitness]", "{ no_defect = \"stopping\" }", "{ with = \"fireman\" }", "nobody answers fitness"),
        at("work.toml", "id = \"sign\"", "fresh = \"water\"", "fresh = \"sign\"", "the step waits for itself"),
    ]);
}

#[rustfmt::skip]
#[test]
fn limits_that_cannot_be() {
    check(&[
        at("work.toml", "id = \"water\"", "low = \"20 mm\"", "low = \"20\"", "\"20\" has no unit; write `\"20 mm\"`"),
        at("work.toml", "id = \"water\"", "low = \"20 mm\"", "low = \"20 psi\"", "the unit of \"20 psi\" does not fit glass; its units are `mm`, `in`, `%`"),
        at("work.toml", "id = \"water\"", "low = \"20 mm\"", "low = \"some mm\"", "is no number"),
        at("work.toml", "id = \"water\"", "low = \"20 mm\"", "low = 20", "a whole number, where \"...\" is wanted"),
        at("work.toml", "id = \"water\"", "low = \"20 mm\"", "low = \"20.1234 mm\"", "at most three digits"),
    ]);
    check(&[
        off("work.toml", "id = \"water\"", "warn_low = \"30 mm\"", "warn_low = \"10 mm\"", -2, "`low` 20 mm is above `warn_low` 10 mm"),
        at("work.toml", "id = \"water\"", "warn_high = \"80 mm\"", "warn_high = \"95 mm\"", "`warn_high` 95 mm is above `high` 90 mm"),
        off("work.toml", "id = \"water\"", "warn_high = \"80 mm\"", "warn_high = \"1 in\"", -1, "`warn_low` 30 mm is above `warn_high` 1 in"),
        at("work.toml", "id = \"water\"", "quantity = \"glass\"", "quantity = \"level\"", "\"level\" is no quantity"),
        at("work.toml", "id = \"water\"", "unit = \"mm\"", "unit = \"psi\"", "\"psi\" is no unit of glass; its units are"),
        off("work.toml", "id = \"brake\"", "at_most = \"90 s\"", "at_most = \"9 s\"", -1, "`at_least` 60 s is above `at_most` 9 s"),
        at("work.toml", "id = \"brake\"", "at_least = \"60 s\"", "at_least = \"-60 s\"", "is no time above nothing"),
        at("work.toml", "id = \"brake\"", "at_least = \"60 s\"", "at_least = \"60.01 s\"", "finer than tenths of a second"),
        at("work.toml", "id = \"brake\"", "at_least = \"60 s\"", "at_least = \"60\"", "\"60\" is no time"),
        at("work.toml", "id = \"brake\"", "max_fall = \"5 psi\"", "max_fall = \"-5 psi\"", "is below nothing"),
        off("work.toml", "id = \"brake\"", "max_fall = \"5 psi\"\n", "", -13, "a reading that may move as it likes"),
        at("work.toml", "id = \"feed\"", "life = \"4 h\"", "life = \"0 s\"", "is no time above nothing"),
        at("work.toml", "id = \"feed\"", "life = \"4 h\"", "life = \"4.5 s\"", "finer than whole seconds"),
        at("work.toml", "id = \"feed\"", "life = \"4 h\"", "life = \"forever\"", "is no time; write a time above nothing"),
        at("work.toml", "id = \"feed\"", "life = \"4 h\"", "life = \"9999 d\"", "longer than 13 years"),
        at("work.toml", "id = \"feed\"", "low = \"25 mm\", high = \"60 mm\"", "low = \"65 mm\", high = \"60 mm\"", "`low` 65 mm is above `high` 60 mm"),
        at("work.toml", "id = \"feed\"", "low = \"25 mm\", high = \"60 mm\"", "low = \"95 mm\"", "above the highest `water` ever counts at, 90 mm"),
        at("work.toml", "id = \"feed\"", "low = \"25 mm\", high = \"60 mm\"", "high = \"19 mm\"", "below the lowest `water` ever counts at, 20 mm"),
        at("work.toml", "id = \"feed\"", ", low = \"25 mm\", high = \"60 mm\"", "", "neither `low` nor `high`"),
        at("work.toml", "id = \"feed\"", "low = \"25 mm\"", "low = \"25 bar\"", "does not fit glass"),
        at("work.toml", "id = \"feed\"", "reading = \"water\"", "reading = \"plug\"", "`plug` gives no reading"),
        at("work.toml", "id = \"sign\"", "[\"water\", \"feed\"]", "[\"water\", \"brake\"]", "`water` reads glass and `brake` reads pressure"),
        at("work.toml", "id = \"sign\"", "[\"water\", \"feed\"]", "[\"water\", \"state\"]", "`state` gives no reading"),
        at("work.toml", "id = \"sign\"", "within = \"50 mm\"", "within = \"-1 mm\"", "is below nothing"),
        at("work.toml", "id = \"sign\"", "wait = \"10 min\"", "wait = \"10\"", "\"10\" is no time"),
        at("work.toml", "id = \"sign\"", "{ wait = \"10 min\", since = \"feed\" }", "{ at_least = \"date\", reading = \"water\" }", "`date` computes a date"),
        at("work.toml", "id = \"sign\"", "{ wait = \"10 min\", since = \"feed\" }", "{ at_least = \"plug\", reading = \"water\" }", "`plug` computes nothing"),
        at("other.toml", "needs", "within = \"30 min\"", "within = \"0 min\"", "is no time above nothing"),
    ]);
}

#[rustfmt::skip]
#[test]
fn parts_options_and_signatures() {
    check(&[
        at("work.toml", "ask = \"rise\"", "from = 1", "from = 2", "part 2 takes no reading"),
        at("work.toml", "ask = \"rise\"", "from = 1", "from = 3", "part 3 does not come before this one"),
        at("work.toml", "ask = \"rise\"", "timed_by = 2", "timed_by = 1", "part 1 is no earlier part that asks `time`"),
        at("work.toml", "ask = \"rise\"", "timed_by = 2", "timed_by = 9", "part 9 is no earlier part that asks `time`"),
        at("work.toml", "ask = \"rise\"", "at_least = \"10 mm\"", "at_least = \"0 mm\"", "a rise of nothing"),
        at("work.toml", "ask = \"rise\"", "at_least = \"10 mm\"", "at_least = \"10 bar\"", "does not fit glass"),
        at("work.toml", "ask = \"rise\"", "over = \"1 min\"", "over = \"0 s\"", "no time above nothing"),
        at("work.toml", "ask = \"same\"", "as = 3", "as = 4", "part 4 does not come before this one"),
        at("work.toml", "ask = \"same\"", "as = 3", "as = 2", "part 2 takes no reading"),
        at("work.toml", "ask = \"same\"", "as = 3", "as = 0", "0 is out of range"),
        at("work.toml", "ask = \"same\"", "within = \"12 mm\"", "within = \"12 bar\"", "does not fit glass"),
        off("work.toml", "do = \"Run it.\"", "at_least = \"60 s\"\nat_most = \"5 min\"\n", "", -3, "a time that may be anything"),
        at("work.toml", "options", "{ title = \"Cold\", passes = true }", "{ title = \"Cold\", passes = false }", "no option passes"),
        at("work.toml", "options", "\"Burst\"", "\"Cold\"", "two options are called \"Cold\""),
        at("work.toml", "options", "[ { title = \"Cold\", passes = true }, { title = \"Burst\", passes = false } ]", "[]", "no option passes"),
        off("work.toml", "id = \"look-over\"", "review = true\n", "review = true\nfails = \"stopping\"\n", 1, "a signature is never \"not right\""),
        off("other.toml", "by = \"fireman\"", "by = \"fireman\"\n", "", -9, "neither the step nor its sequence says who may answer it"),
        off("other.toml", "closes = true", "closes = true\n", "", -21, "no step closes it"),
    ]);
}

#[rustfmt::skip]
#[test]
fn texts_that_do_not_fit() {
    let long = |n: usize| "w".repeat(n);
    for (behind, key, most) in [
        ("id = \"water\"", "title = \"Water seen\"", 60),
        ("id = \"water\"", "do = \"Read the level.\"", 400),
        ("id = \"water\"", "caution = \"Face away.\"", 240),
        ("id = \"water\"", "source = \"common practice, no source\"", 120),
        ("[[stage]]", "title = \"First\"", 60),
        ("[sequence]", "purpose = \"To be ready.\"", 240),
        ("options", "title = \"Cold\"", 60),
        ("do = \"Run it.\"", "do = \"Run it.\"", 400),
    ] {
        let name = key.split(' ').next().unwrap();
        let (fits, _) = edited("work.toml", behind, key, &format!("{name} = \"{}\"", long(most)));
        assert!(authoring::compile(&fits).is_ok(), "{key}: {most} bytes fit");
        let (files, line) = edited("work.toml", behind, key, &format!("{name} = \"{}\"", long(most + 1)));
        let complaints = authoring::compile(&files).unwrap_err();
        let words = format!("{} bytes long; at most {most}; shorten it", most + 1);
        assert_eq!(complaints.len(), 1);
        assert!(complaints[0].to_string().ends_with(&words), "{}", complaints[0]);
        assert_eq!((complaints[0].file.as_str(), complaints[0].line as usize), ("work.toml", line));
    }
    for key in ["caution = \"Follow your railway's rules.\"", "low_water = \"Follow the notice in the cab.\""] {
        let name = key.split(' ').next().unwrap();
        let (fits, _) = edited("pack.toml", "[pack]", key, &format!("{name} = \"{}\"", long(1_200)));
        assert!(authoring::compile(&fits).is_ok());
        let (files, _) = edited("pack.toml", "[pack]", key, &format!("{name} = \"{}\"", long(1_201)));
        assert!(authoring::compile(&files).unwrap_err()[0].what.contains("at most 1200"));
    }
    check(&[
        at("work.toml", "id = \"water\"", "title = \"Water seen\"", "title = \" \"", "key `title`: empty"),
        at("work.toml", "id = \"water\"", "title = \"Water seen\"", "title = \"a\\u0007b\"", "holds the control character '\\u{7}'"),
        at("work.toml", "goal = \"feed\"", "why = \"Water first.\"", "why = \"\"", "key `why`: empty"),
    ]);
}

#[rustfmt::skip]
#[test]
fn order_that_cannot_be() {
    check(&[
        off("work.toml", "id = \"water\"", "shared = true", "needs = [ { after = \"feed\" } ]\nshared = true", -16, "waits for itself in a circle: `water` waits for `feed` waits for `water`"),
        off("work.toml", "id = \"plug\"", "fitting = \"plug\"", "fitting = \"plug\"\nneeds = [ { after = \"look-over\" } ]", -9, "can only be done after `look-over`, which finishes the sheet"),
    ]);
    // Nothing sets the state any more.
    let (files, _) = edited("work.toml", "id = \"feed\"", "sets = [\"hot\"]\n", "");
    let complaints = authoring::compile(&files).unwrap_err();
    assert_eq!(complaints.len(), 1, "{complaints:?}");
    let said = complaints[0].to_string();
    assert!(said.starts_with("other.toml:11: step `end`"), "{said}");
    assert!(said.contains("waits for ever that the engine is in state `hot`"), "{said}");
    // Two steps that wait for each other through alternatives.
    let (files, _) =
        edited("work.toml", "id = \"plug\"", "fitting", "needs = [ { any = [ { after = \"sign\" } ] } ]\nfitting");
    let (_, text) = ("", files[1].text.replace("{ after = \"plug\" }, { after = \"state\" }", "{ after = \"plug\" }"));
    let mut files = files;
    files[1].text = text;
    let complaints = authoring::compile(&files).unwrap_err();
    let said: Vec<String> = complaints.iter().map(Complaint::to_string).collect();
    assert!(said.iter().any(|s| s.contains("step `plug`, key `needs`: can never be reached")), "{said:#?}");
}

#[rustfmt::skip]
#[test]
fn requirements_nobody_asks_for() {
    check(&[
        at("work.toml", "id = \"sign\"", "{ in_date = \"washout\" }", "{ in_date = \"washout\" }, { no_tag = true }", "step `sign`, key `needs`: no obligation depends on this requirement: nobody holds a tag; say why it stands in `because`, or add the obligation"),
        at("pack.toml", "[fitness]", "{ no_defect = \"stopping\" } ]", "{ no_defect = \"stopping\" }, { in_date = \"washout\" } ]", "fitness, key `needs`: no obligation depends on this requirement"),
    ]);
    let (files, _) = edited(
        "pack.toml",
        "[fitness]",
        "{ no_defect = \"stopping\" } ]",
        "{ no_defect = \"stopping\" }, { in_date = \"washout\", because = \"Asked twice.\" } ]",
    );
    let compiled = authoring::compile(&files).unwrap();
    let implied = authoring::summary(&compiled).implied;
    assert_eq!(implied.last().unwrap(), "fitness: `washout` is in date (Asked twice.)");
}

#[test]
fn too_many_of_something() {
    let step = |n: usize, more: &str| {
        format!(
            "\n[[step]]\nid = \"s{n}\"\nnumber = {}\nstage = \"all-of-it\"\ntitle = \"S\"\ndo = \"D\"\nminutes = 1\n\
             source = \"S\"\nkind = \"check\"\nby = \"fireman\"\n{more}",
            1_000 + n
        )
    };
    let with = |more: String| {
        let mut texts = FILES.map(|(name, text)| (name, text.to_owned()));
        texts[2].1.push_str(&more);
        authoring::compile(&files(&texts))
    };
    let first = |result: Result<authoring::Compiled, Vec<Complaint>>| {
        let complaints = result.expect_err("refused");
        assert_eq!(complaints.len(), 1, "{complaints:?}");
        complaints[0].to_string()
    };
    assert!(with((0..95).map(|n| step(n, "")).collect()).is_ok());
    assert!(first(with((0..96).map(|n| step(n, "")).collect())).contains("97 steps in one sequence; at most 96"));
    let shared: String = (0..62).map(|n| step(n, "shared = true\n")).collect();
    assert!(first(with(shared)).contains("65 shared steps in the pack; an engine's record keeps 64"));
    let needs = "{ no_tag = true, because = \"x\" }, ".repeat(49);
    assert!(first(with(step(0, &format!("needs = [ {needs} ]\n")))).contains("49 rules; at most 48"));
    let parts = "[[step.part]]\ndo = \"D\"\nask = \"seen\"\n".repeat(17);
    let procedure = step(0, &parts).replace("kind = \"check\"", "kind = \"procedure\"");
    assert!(first(with(procedure)).contains("more than 16 parts"));
    let none = step(0, "").replace("kind = \"check\"", "kind = \"procedure\"");
    assert!(first(with(none)).contains("a procedure without parts"));
}

#[test]
fn rules_longer_than_a_handheld_keeps() {
    let mut texts: Vec<(String, String)> =
        FILES.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    for sequence in 3..6 {
        let mut text = format!(
            "[sequence]\nid = \"q{sequence}\"\nnumber = {sequence}\ntitle = \"Q\"\npurpose = \"P\"\nby = \"fireman\"\n\
             [[stage]]\nid = \"a\"\ntitle = \"A\"\n"
        );
        for n in 0..70 {
            let number = sequence * 100 + n;
            let limits: Vec<String> = (1..5)
                .map(|due| format!("{{ wait = \"{} s\", since = \"water\", because = \"x\" }}", number * 10 + due))
                .collect();
            text.push_str(&format!(
                "[[step]]\nid = \"s{number}\"\nnumber = {number}\nstage = \"a\"\ntitle = \"S\"\ndo = \"D\"\nminutes = 1\n\
                 source = \"S\"\nkind = \"check\"\ncloses = true\nneeds = [ {} ]\n",
                limits.join(", ")
            ));
        }
        texts.push((format!("q{sequence}.toml"), text));
    }
    let sources: Vec<SourceFile> = texts.into_iter().map(|(name, text)| SourceFile { name, text }).collect();
    let complaints = authoring::compile(&sources).unwrap_err();
    assert!(complaints[0].to_string().contains("bytes of rules; a handheld keeps 12288"), "{complaints:?}");
}

#[test]
fn files_that_are_missing_or_not_text() {
    let said = |files: &[SourceFile]| authoring::compile(files).err().map(|c| c[0].to_string()).unwrap_or_default();
    let all = files(&FILES.map(|(name, text)| (name, text.to_owned())));
    assert!(said(&all[1..]).starts_with("pack.toml: the pack has no `pack.toml`"), "{}", said(&all[1..]));
    assert!(said(&[]).starts_with("pack.toml: the pack has no `pack.toml`"));
    assert!(said(&[all.clone(), vec![all[1].clone()]].concat()).starts_with("work.toml: given twice"));
    let empty = SourceFile { name: "empty.toml".to_owned(), text: String::new() };
    assert!(said(&[all.clone(), vec![empty]].concat()).starts_with("empty.toml: has no `[sequence]`"));
    let mut headless = all.clone();
    headless[0].text =
        headless[0].text.replace("[defects]\ncleared_by = [\"foreman\"]\nrestricted_by = [\"foreman\"]\n", "");
    assert!(said(&headless).starts_with("pack.toml: has no `[defects]`; add the table"), "{}", said(&headless));

    let folder = tempfile::tempdir().unwrap();
    let refused = |folder: &std::path::Path| authoring::compile_folder(folder).unwrap_err()[0].to_string();
    assert!(refused(&folder.path().join("nowhere")).contains("can't be read"));
    assert!(refused(folder.path()).contains("the pack has no `pack.toml`"));
    for (name, text) in FILES {
        fs::write(folder.path().join(name), text).unwrap();
    }
    fs::write(folder.path().join("notes.txt"), "not looked at").unwrap();
    assert!(authoring::compile_folder(folder.path()).is_ok());
    fs::write(folder.path().join("bad.toml"), b"a = 1\nb = \"\xff\"\n").unwrap();
    assert_eq!(refused(folder.path()), "bad.toml: line 2 is not UTF-8; save the file as UTF-8");
}

#[test]
fn everything_of_one_stage_is_said_in_the_order_of_files_and_lines() {
    let (mut files, _) = edited("work.toml", "id = \"water\"", "minutes = 1", "minuts = 1");
    files[0].text = files[0].text.replace("number = 1", "number = 1000");
    let complaints = authoring::compile(&files).unwrap_err();
    let places: Vec<(&str, u32)> = complaints.iter().map(|c| (c.file.as_str(), c.line)).collect();
    assert!(complaints.len() >= 7, "{complaints:#?}");
    let work = places.iter().position(|(file, _)| *file == "work.toml").unwrap();
    assert!(places[..work].iter().all(|(file, _)| *file == "pack.toml") && places[..work].is_sorted_by_key(|p| p.1));
}

#[test]
fn compiled_bytes_that_are_damaged() {
    let compiled = authoring::compile(&files(&FILES.map(|(name, text)| (name, text.to_owned())))).unwrap();
    let open = |bytes: &[u8]| PackFile::from_bytes(bytes.to_vec());
    for len in 0..compiled.bytes.len() {
        let fault = open(&compiled.bytes[..len]).expect_err("cut short");
        let said = fault.to_string();
        assert!(!said.is_empty() && !said.contains('\n'), "{said}");
    }
    assert_eq!(open(b"PK\x03\x04").unwrap_err().to_string(), "not a compiled pack");
    let mut newer = compiled.bytes.clone();
    newer[4] = 7;
    assert_eq!(open(&newer).unwrap_err().to_string(), "a pack of format 7; this program reads format 0");
    assert!(matches!(open(&compiled.bytes[..90]), Err(PackFileFault::Rules(_))));
    // Any one byte changed gives another hash, and opens or is refused, but never panics.
    for at in 0..compiled.bytes.len() {
        let mut bytes = compiled.bytes.clone();
        bytes[at] ^= 0x55;
        if let Ok(file) = open(&bytes) {
            assert_ne!(file.hash(), compiled.hash);
        }
    }
}

#[test]
fn any_line_lost_doubled_or_cut_is_answered_and_never_a_panic() {
    let mut refused = 0;
    for (n, (_, text)) in FILES.iter().enumerate() {
        let lines: Vec<&str> = text.lines().collect();
        for at in 0..lines.len() {
            let half = lines[at].get(..lines[at].len() / 2).unwrap_or("");
            for put in [&[][..], &[lines[at], lines[at]], &[half]] {
                let mut texts = FILES.map(|(name, text)| (name, text.to_owned()));
                texts[n].1 = [&lines[..at], put, &lines[at + 1..]].concat().join("\n");
                for complaint in authoring::compile(&files(&texts)).err().unwrap_or_default() {
                    refused += 1;
                    assert!(!complaint.what.is_empty() && !complaint.cure.is_empty(), "{complaint}");
                    assert!(!complaint.to_string().contains("internal"), "{complaint}");
                }
            }
        }
    }
    assert!(refused > 500, "{refused}");
}
