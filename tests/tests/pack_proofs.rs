//! Obligations: what is proved, what is not and along which path, and that every requirement of the practice pack matters.

use std::path::{Path, PathBuf};

use offshed_core::ident::{EventId, GradeId, StepId};
use offshed_depot::authoring::model::{Goal, Model, Voids};
use offshed_depot::authoring::{
    self, Compiled, Ending, Gap, NeedRef, Outlives, SourceFile, Wanted, prove, requirements,
};

/// A pack of one line a step: `id number rest`, where the rest is more keys. `=` heads a sequence, `!` an obligation,
/// `@` an event, `?` fitness.
fn source(lines: &str) -> Vec<SourceFile> {
    let mut head = String::from(
        "[pack]\nid = \"t\"\ntitle = \"T\"\nedition = \"1\"\nlanguage = \"en\"\ncaution = \"C\"\nlow_water = \"L\"\n\
         [[grade]]\nid = \"fireman\"\nnumber = 1\nname = \"F\"\n[[grade]]\nid = \"driver\"\nnumber = 2\nname = \"D\"\n\
         covers = [\"fireman\"]\n[[feature]]\nid = \"brake\"\nnumber = 1\nname = \"B\"\n[[feature]]\nid = \"glass\"\n\
         number = 2\nname = \"G\"\n[[state]]\nid = \"lit\"\nnumber = 1\nname = \"lit\"\n[[due]]\nid = \"wash\"\nnumber = 1\n\
         name = \"W\"\ndays = 30\nlast_day = \"anniversary\"\nsource = \"S\"\n[defects]\ncleared_by = [\"driver\"]\n\
         restricted_by = [\"driver\"]\n",
    );
    let mut fitness = "[]".to_owned();
    let mut files: Vec<SourceFile> = Vec::new();
    let (mut events, mut obligations) = (0, String::new());
    for line in lines.lines().map(str::trim).filter(|l| !l.is_empty()) {
        let (mark, rest) = line.split_at(1);
        let (word, more) = rest.trim().split_once(' ').unwrap_or((rest.trim(), ""));
        match mark {
            "=" => files.push(SourceFile {
                name: format!("{word}.toml"),
                text: format!(
                    "[sequence]\nid = \"{word}\"\nnumber = {}\ntitle = \"T\"\npurpose = \"P\"\nby = \"fireman\"\n[[stage]]\n\
                     id = \"s\"\ntitle = \"S\"\n",
                    files.len() + 1
                ),
            }),
            "!" => obligations.push_str(&format!("[[obligation]]\ngoal = \"{word}\"\n{}\nwhy = \"W\"\n", keys(more))),
            "@" => {
                events += 1;
                head.push_str(&format!(
                    "[[event]]\nid = \"{word}\"\nnumber = {events}\nname = \"E\"\nby = \"fireman\"\n{}\n",
                    keys(more)
                ));
            }
            "?" => fitness = rest.trim().to_owned(),
            _ => {
                let (id, number) = line.split_once(' ').unwrap();
                let (number, more) = number.split_once(' ').unwrap_or((number, ""));
                let more = keys(more);
                let kind = if more.contains("kind =") { "" } else { "kind = \"check\"\n" };
                files.last_mut().unwrap().text.push_str(&format!(
                    "[[step]]\nid = \"{id}\"\nnumber = {number}\nstage = \"s\"\ntitle = \"T\"\ndo = \"D\"\nminutes = 1\n\
                     source = \"S\"\n{kind}{more}\n"
                ));
            }
        }
    }
    head.push_str(&format!("[fitness]\nneeds = {fitness}\n{obligations}"));
    files.push(SourceFile { name: "pack.toml".to_owned(), text: head });
    files
}

/// Keys of one line, each after `;`.
fn keys(more: &str) -> String {
    more.split(';').map(str::trim).collect::<Vec<_>>().join("\n")
}

#[track_caller]
fn proved(lines: &str) -> Compiled {
    authoring::compile(&source(lines))
        .unwrap_or_else(|c| panic!("{:#?}", c.iter().map(ToString::to_string).collect::<Vec<_>>()))
}

/// The one complaint of a pack that is refused.
#[track_caller]
fn refused(lines: &str) -> String {
    let complaints = authoring::compile(&source(lines)).expect_err("refused");
    let said: Vec<String> = complaints.iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 1, "{said:#?}");
    assert!(said[0].starts_with("pack.toml:"), "{}", said[0]);
    said[0].clone()
}

#[track_caller]
fn says(said: &str, words: &[&str]) {
    for word in words {
        assert!(said.contains(word), "{said} has no {word:?}");
    }
}

/// Model without one requirement.
fn without(model: &Model, at: NeedRef) -> Model {
    let mut model = model.clone();
    let needs = match at.owner {
        Goal::Fitness => &mut model.fitness,
        Goal::Step(step) => {
            let steps = model.sequences.iter_mut().flat_map(|s| &mut s.steps);
            &mut steps.into_iter().find(|s| s.number == step).unwrap().needs
        }
    };
    needs.remove(at.need);
    model
}

// ---- Necessity ----

#[test]
fn a_chain_proves_what_must_come_before() {
    let pack = proved(
        "= q
         water 1
         look 2 needs = [ { after = \"water\" } ]
         light 3 needs = [ { after = \"look\" } ]; closes = true
         ! light after = [\"water\"]",
    );
    assert_eq!(pack.proofs.items.len(), 1);
    assert!(pack.proofs.implied().next().is_none());
    // Without either link the fire is lit with no water seen, and the path says how.
    for (step, path) in [(2, vec!["look", "light"]), (3, vec!["light"])] {
        let model = without(&pack.model, NeedRef { owner: Goal::Step(StepId(step)), need: 0 });
        let proofs = prove(&model);
        let (item, failure) = proofs.failures().next().unwrap();
        assert_eq!(item.wanted, Wanted::After(StepId(1)));
        assert_eq!((failure.gap, &failure.path), (Gap::Reached, &path.iter().map(ToString::to_string).collect()));
    }
}

#[test]
fn a_missing_need_is_named_with_its_path() {
    let said = refused(
        "= q
         water 1
         look 2
         light 3 needs = [ { after = \"look\" } ]; closes = true
         ! light after = [\"water\", \"look\"]",
    );
    says(
        &said,
        &["obligation on `light`: `light` is reached without `water`: look, light", "; ask for it on that way"],
    );
}

#[test]
fn not_applicable_is_a_way_past() {
    let lines = |skip: &str, rule: &str| {
        format!(
            "= q
             water 1 {skip}
             light 2 needs = [ {{ {rule} = \"water\" }} ]; closes = true
             ! light after = [\"water\"]"
        )
    };
    proved(&lines("", "after"));
    // A proof that must be alive can't be marked away.
    proved(&lines("not_applicable = true", "fresh"));
    let said = refused(&lines("not_applicable = true", "after"));
    says(&said, &["`light` is reached without `water`: water (marked not applicable), light"]);
}

#[test]
fn an_engine_that_lacks_a_feature_goes_another_way() {
    let lines = |feature: &str, goal: &str| {
        format!(
            "= q
             water 1
             brake 2 {feature} needs = [ {{ fresh = \"water\" }} ]
             move 3 {goal} needs = [ {{ fresh = \"brake\" }} ]; closes = true
             ! move after = [\"water\"]"
        )
    };
    proved(&lines("", ""));
    let said = refused(&lines("applies = \"brake\";", ""));
    says(&said, &["`move` is reached without `water`: move"]);
    // The goal itself is only for engines that have it.
    proved(&lines("applies = \"brake\";", "applies = \"brake\";"));
}

#[test]
fn agreement_with_a_glass_the_engine_lacks_asks_for_the_other() {
    let reading = "kind = \"reading\"; quantity = \"glass\"; unit = \"mm\"";
    let lines = |pair: &str| {
        format!(
            "= q
             left 1 {reading}
             right 2 {reading}; applies = \"glass\"
             level 3 needs = [ {{ agree = [{pair}], within = \"9 mm\" }} ]; closes = true
             ! level after = [\"left\"]"
        )
    };
    proved(&lines("\"left\", \"right\""));
    proved(&lines("\"right\", \"left\""));
}

#[test]
fn a_state_stands_for_whoever_can_set_it() {
    let lines = |event: &str, other: &str| {
        format!(
            "= q
             secured 1 sets = [\"lit\"]
             under 2 needs = [ {{ state = \"lit\" }} ]; closes = true
             {other}
             {event}
             ! under after = [\"secured\"]"
        )
    };
    proved(&lines("", ""));
    says(&refused(&lines("@ came sets = [\"lit\"]", "")), &["reached without `secured`: event came, under"]);
    says(&refused(&lines("", "by-hand 3 sets = [\"lit\"]")), &["reached without `secured`: by-hand, under"]);
}

#[test]
fn another_sequence_may_be_the_hole() {
    let lines = |brake: &str| {
        format!(
            "= a
             water 1 shared = true
             brake 2 shared = true; {brake} closes = true
             = b
             move 3 needs = [ {{ fresh = \"brake\" }} ]; closes = true
             ! move after = [\"water\"]"
        )
    };
    proved(&lines("needs = [ { after = \"water\" } ];"));
    says(&refused(&lines("")), &["`move` is reached without `water`: brake, move"]);
}

#[test]
fn one_open_alternative_is_enough_to_get_past() {
    let lines = |cocks: &str, any: &str| {
        format!(
            "= q
             water 1
             glass 2 needs = [ {{ fresh = \"water\" }} ]
             cocks 3 {cocks}
             feed 4 needs = [ {{ any = [ {any} ] }} ]; closes = true
             ! feed after = [\"water\"]"
        )
    };
    let both = "{ fresh = \"glass\" }, { fresh = \"cocks\" }";
    proved(&lines("needs = [ { fresh = \"water\" } ]", both));
    says(&refused(&lines("", both)), &["`feed` is reached without `water`: cocks, feed"]);
    proved(&lines("", "{ fresh = \"glass\" }"));
}

#[test]
fn nothing_hides_behind_a_condition_that_only_hinders() {
    let said = refused(
        "= q
         water 1
         light 2 needs = [ { no_tag = true }, { state_not = \"lit\" }, { in_date = \"wash\" } ]; closes = true
         ! light after = [\"water\"]; holds = [ { no_tag = true }, { state_not = \"lit\" }, { in_date = \"wash\" } ]",
    );
    says(&said, &["`light` is reached without `water`: light"]);
}

#[test]
fn fitness_is_a_goal() {
    proved(
        "= q
         sign 1 shared = true; closes = true
         ? [ { fresh = \"sign\" } ]
         ! fitness fresh = [\"sign\"]",
    );
    let said = refused(
        "= q
         sign 1 shared = true; closes = true
         ! fitness fresh = [\"sign\"]",
    );
    says(&said, &["obligation on `fitness`: `fitness` is reached without `sign`: nothing at all"]);
}

// ---- At the moment ----

const CROWN: &str = "{ fresh = \"crown\" }";

fn fire(crown: &str, ready: &str, asks: &str, more: &str) -> String {
    format!(
        "= q
         crown 1 {crown}
         ready 2 {ready} needs = [ {CROWN} ]
         light 3 needs = [ {asks} ]; closes = true
         {more}
         ! light fresh = [\"crown\"]"
    )
}

#[test]
fn a_proof_the_goal_asks_for_bears_another() {
    proved(&fire("", "", "{ fresh = \"ready\" }", ""));
    proved(&fire("", "life = \"1 h\";", "{ fresh = \"ready\" }", ""));
    let said = refused(&fire("", "", "{ after = \"ready\" }", ""));
    says(
        &said,
        &[
            "`crown` is not sure to be alive at `light`: nothing asks for it there",
            "add `{ fresh = \"crown\" }` to the needs of `light`",
        ],
    );
}

#[test]
fn a_lapse_is_a_hole() {
    let said = refused(&fire("life = \"15 min\"", "", "{ fresh = \"ready\" }", ""));
    says(&said, &["the proof of `ready` outlives it: crown, ready, (`crown` lapses after 15 min), light"]);
    // The bearer lapses as well, but it was proven later.
    says(&refused(&fire("life = \"15 min\"", "life = \"15 min\";", "{ fresh = \"ready\" }", "")), &["outlives it"]);
    let both = format!("{{ fresh = \"ready\", because = \"x\" }}, {CROWN}");
    proved(&fire("life = \"15 min\"", "", &both, "! ready fresh = [\"crown\"]"));
}

#[test]
fn an_event_that_voids_one_and_not_the_other_is_a_hole() {
    let asks = "{ fresh = \"ready\" }";
    let said = refused(&fire("", "", asks, "@ emptied voids = [\"crown\"]"));
    says(&said, &["outlives it: crown, ready, (event emptied takes `crown` away), light"]);
    proved(&fire("", "", asks, "@ emptied voids = [\"crown\", \"ready\"]"));
    proved(&fire("", "", asks, "@ emptied voids = \"all\""));
    proved(&fire("", "", asks, "@ emptied voids = [\"ready\"]"));
}

#[test]
fn a_step_that_voids_one_and_not_the_other_is_a_hole() {
    let asks = "{ fresh = \"ready\" }";
    let said = refused(&fire("", "", asks, "drop 4 voids = [\"crown\"]"));
    says(&said, &["(drop takes `crown` away)"]);
    proved(&fire("", "", asks, "drop 4 voids = [\"crown\", \"ready\"]"));
    // The bearer takes away what it was to bear.
    says(&refused(&fire("", "voids = [\"crown\"];", asks, "")), &["(ready takes `crown` away)"]);
}

#[test]
fn the_bearer_may_be_borne_itself() {
    let lines = |middle: &str, event: &str| {
        format!(
            "= q
             crown 1
             ready 2 needs = [ {CROWN} ]
             steady 3 {middle} needs = [ {{ fresh = \"ready\" }} ]
             light 4 needs = [ {{ fresh = \"steady\" }} ]; closes = true
             {event}
             ! light fresh = [\"crown\"]"
        )
    };
    proved(&lines("", "@ e voids = [\"crown\", \"ready\", \"steady\"]"));
    says(&refused(&lines("", "@ e voids = [\"crown\", \"ready\"]")), &["the proof of `steady` outlives it"]);
    says(&refused(&lines("", "@ e voids = [\"crown\"]")), &["outlives it"]);
    proved(&lines("life = \"1 h\";", "@ e voids = [\"crown\", \"ready\", \"steady\"]"));
}

#[test]
fn every_alternative_must_bear_it() {
    let lines = |second: &str| {
        format!(
            "= q
             crown 1
             one 2 needs = [ {CROWN} ]
             two 3 needs = [ {second} ]
             light 4 needs = [ {{ any = [ {{ fresh = \"one\" }}, {{ fresh = \"two\" }} ] }} ]; closes = true
             ! light fresh = [\"crown\"]"
        )
    };
    proved(&lines(CROWN));
    says(&refused(&lines("{ after = \"crown\" }")), &["`crown` is not sure to be alive at `light`"]);
}

#[test]
fn a_bearer_that_may_not_apply_bears_nothing() {
    let said = refused(&fire("", "applies = \"glass\";", "{ fresh = \"ready\" }, { after = \"crown\" }", ""));
    says(&said, &["`crown` is not sure to be alive at `light`"]);
}

#[test]
fn the_next_sheet_ends_a_proof_that_lives_as_long_as_the_sheet() {
    let lines = |sign: &str| {
        format!(
            "= q
             crown 1 shared = true
             review 2 shared = true; {sign} needs = [ {CROWN} ]; closes = true
             ? [ {{ fresh = \"review\" }} ]
             ! fitness fresh = [\"crown\"]"
        )
    };
    proved(&lines(""));
    let said = refused(&lines("life = \"2 h\";"));
    says(&said, &["crown, review, (the next sheet of q is opened, which ends `crown`), fitness"]);
}

#[test]
fn a_review_that_sends_back_takes_signatures_away() {
    let lines = |bearer: &str| {
        format!(
            "= q
             sign 1 kind = \"signature\"
             bearer 2 {bearer}; needs = [ {{ fresh = \"sign\" }} ]
             review 3 kind = \"signature\"; review = true
             leave 4 needs = [ {{ fresh = \"bearer\" }} ]; closes = true
             ! leave fresh = [\"sign\"]"
        )
    };
    proved(&lines("kind = \"signature\""));
    says(
        &refused(&lines("minutes = 2").replace("minutes = 2;", "")),
        &["(review sends the sheet back, which ends `sign`)"],
    );
}

// ---- Conditions ----

#[test]
fn a_condition_must_be_asked_by_the_goal_as_strictly() {
    let reading = "kind = \"reading\"; quantity = \"glass\"; unit = \"mm\"";
    let lines = |asks: &str, holds: &str| {
        format!(
            "= q
             left 1 {reading}
             right 2 {reading}
             goal 3 by = \"driver\"; needs = [ {asks} ]; closes = true
             set 4 sets = [\"lit\"]
             ! goal holds = [ {holds} ]"
        )
    };
    let rules = [
        ("{ no_tag = true }", "{ no_tag = true }", None),
        ("{ in_date = \"wash\" }", "{ in_date = \"wash\" }", None),
        ("{ state = \"lit\" }", "{ state = \"lit\" }", Some("{ state_not = \"lit\" }")),
        ("{ no_defect = \"stopping\" }", "{ no_defect = \"restricted\" }", None),
        ("{ no_defect = \"restricted\" }", "{ no_defect = \"note\" }", Some("{ no_defect = \"stopping\" }")),
        (
            "{ wait = \"10 min\", since = \"left\" }",
            "{ wait = \"1 h\", since = \"left\" }",
            Some("{ wait = \"9 min\", since = \"left\" }"),
        ),
        (
            "{ fresh = \"left\", within = \"10 min\" }",
            "{ fresh = \"left\", within = \"5 min\" }",
            Some("{ fresh = \"left\", within = \"11 min\" }"),
        ),
        ("{ fresh = \"left\" }", "{ fresh = \"left\", within = \"5 min\" }", Some("{ after = \"left\" }")),
        ("{ fresh = \"left\" }", "{ reading = \"left\", low = \"5 mm\" }", Some("{ fresh = \"right\" }")),
        (
            "{ reading = \"left\", low = \"20 mm\" }",
            "{ reading = \"left\", low = \"1 in\" }",
            Some("{ reading = \"left\", low = \"19 mm\" }"),
        ),
        (
            "{ reading = \"left\", low = \"20 mm\", high = \"60 mm\" }",
            "{ reading = \"left\", low = \"20 mm\", high = \"60 mm\" }",
            Some("{ reading = \"left\", low = \"20 mm\" }"),
        ),
        (
            "{ reading = \"left\", low = \"20 %\" }",
            "{ reading = \"left\", low = \"20 %\" }",
            Some("{ reading = \"left\", low = \"90 mm\" }"),
        ),
        (
            "{ agree = [\"left\", \"right\"], within = \"9 mm\" }",
            "{ agree = [\"right\", \"left\"], within = \"8 mm\" }",
            Some("{ agree = [\"left\", \"right\"], within = \"10 mm\" }"),
        ),
        ("{ with = \"fireman\" }", "{ with = \"driver\" }", None),
        ("{ with = \"driver\" }", "{ with = \"driver\" }", Some("{ with = \"fireman\" }")),
        ("{ different = \"left\" }", "{ different = \"everyone\" }", Some("{ different = \"right\" }")),
        ("{ different = \"everyone\" }", "{ different = \"everyone\" }", Some("{ different = \"left\" }")),
        ("{ after = \"left\" }", "{ wait = \"1 s\", since = \"left\" }", None),
        (
            "{ any = [ { fresh = \"left\" }, { fresh = \"right\" } ] }",
            "{ any = [ { fresh = \"right\" }, { fresh = \"left\" } ] }",
            None,
        ),
        (
            "{ any = [ { fresh = \"left\" }, { fresh = \"right\" } ] }",
            "{ fresh = \"left\" }",
            Some("{ any = [ { fresh = \"left\" }, { no_tag = true } ] }"),
        ),
        (
            "{ fresh = \"left\" }",
            "{ fresh = \"left\" }",
            Some("{ any = [ { fresh = \"left\" }, { fresh = \"right\" } ] }"),
        ),
    ];
    for (holds, strict, loose) in rules {
        let pack = proved(&lines(strict, holds));
        assert!(pack.proofs.implied().next().is_none(), "{strict}");
        for bad in loose.into_iter().chain(["{ grade = \"driver\" }"]) {
            let said = refused(&lines(bad, holds));
            says(
                &said,
                &["obligation on `goal`: `goal` does not itself ask, as strictly, that", ": add the rule"]
                    .map(|w| w.trim_start_matches(": ")),
            );
        }
    }
    // The step's own grade answers for a grade.
    let pack = proved(&lines("{ no_tag = true, because = \"x\" }", "{ grade = \"fireman\" }"));
    assert_eq!(pack.proofs.items[0].outcome, Ok(Vec::new()));
}

#[test]
fn a_rule_that_may_not_apply_is_no_alternative() {
    let lines = |asks: &str| {
        format!(
            "= q
             left 1
             right 2 applies = \"glass\"
             goal 3 needs = [ {asks} ]; closes = true
             ! goal holds = [ {{ any = [ {{ fresh = \"left\" }}, {{ fresh = \"right\" }} ] }} ]"
        )
    };
    proved(&lines("{ fresh = \"left\" }"));
    // On an engine without it this asks for nothing at all.
    says(&refused(&lines("{ fresh = \"right\" }")), &["does not itself ask"]);
    proved(&lines("{ any = [ { fresh = \"right\" } ] }"));
}

// ---- Every requirement matters ----

#[test]
fn a_requirement_without_an_obligation_says_why_or_is_refused() {
    let lines = |because: &str| {
        format!(
            "= q
             one 1
             two 2 needs = [ {{ after = \"one\"{because} }} ]; closes = true"
        )
    };
    let complaints = authoring::compile(&source(&lines(""))).unwrap_err();
    assert_eq!(complaints[0].file, "q.toml");
    says(&complaints[0].to_string(), &["step `two`", "no obligation depends on this requirement: `one` was done"]);
    let pack = proved(&lines(", because = \"order for convenience\""));
    let table = authoring::locking_table(&pack.model, &pack.proofs);
    let need = &table.rows[1].needs[0];
    assert!(need.implied && need.serves.is_empty());
    assert_eq!(need.because.as_deref(), Some("order for convenience"));
    says(&table.to_string(), &["two: T", "- `one` was done", "because: order for convenience", "implied by others"]);
}

#[test]
fn defence_in_depth_is_named_on_both_sides() {
    // Either of two links is enough, so neither alone matters.
    let pack = proved(
        "= q
         crown 1
         ready 2 needs = [ { fresh = \"crown\", because = \"a\" } ]
         light 3 needs = [ { fresh = \"ready\", because = \"b\" }, { fresh = \"crown\", because = \"c\" } ]; closes = true
         ! light fresh = [\"crown\"]",
    );
    assert_eq!(pack.proofs.implied().count(), 3);
}

// ---- The practice pack ----

fn practice_sources() -> Vec<SourceFile> {
    let folder: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/packs/practice");
    let names = std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path());
    let tomls = names.filter(|p| p.extension().is_some_and(|e| e == "toml"));
    let file = |p: PathBuf| SourceFile {
        name: p.file_name().unwrap().to_string_lossy().into_owned(),
        text: std::fs::read_to_string(&p).unwrap(),
    };
    tomls.map(file).collect()
}

#[track_caller]
fn practice() -> Compiled {
    authoring::compile(&practice_sources())
        .unwrap_or_else(|c| panic!("{:#?}", c.iter().map(ToString::to_string).collect::<Vec<_>>()))
}

/// Requirements of the practice pack that others imply: order for convenience, and defence in depth.
const IMPLIED: &[&str] = &[
    "driver-signs: the proof of `motion` is alive",
    "driver-signs: the proof of `hoppers` is alive",
    "driver-signs: the proof of `handbrake` is alive",
    "driver-signs: the proof of `handbrake-tender` is alive",
    "driver-signs: the proof of `regulator-tight` is alive",
    "review: the proof of `fireman-signs` is alive",
    "blower-off: the proof of `fire-state` is alive",
];

/// The slow way: the requirement is really taken away, and everything is proved again.
fn taken_away(pack: &Compiled, at: NeedRef) {
    let proofs = prove(&without(&pack.model, at));
    let broken: Vec<usize> =
        proofs.items.iter().enumerate().filter(|(_, i)| i.outcome.is_err()).map(|(n, _)| n).collect();
    let quick = pack.proofs.matters.iter().find(|m| m.need == at).unwrap();
    let need = &pack.model.needs(at.owner)[at.need];
    assert_eq!(quick.breaks, broken, "{}: {need:?}", pack.model.goal_id(at.owner));
}

#[test]
fn every_requirement_of_the_practice_pack_matters_or_is_named() {
    let pack = practice();
    assert!(pack.proofs.hold());
    let all: Vec<NeedRef> = requirements(&pack.model).collect();
    let (first, second) = all.split_at(all.len() / 2);
    std::thread::scope(|scope| {
        let half = scope.spawn(|| first.iter().for_each(|at| taken_away(&pack, *at)));
        second.iter().for_each(|at| taken_away(&pack, *at));
        half.join().unwrap();
    });
    let implied: Vec<NeedRef> = pack.proofs.implied().collect();
    assert!(implied.iter().all(|at| pack.model.needs(at.owner)[at.need].because.is_some()));
    let named = authoring::summary(&pack).implied;
    assert_eq!(named.len(), implied.len());
    let listed: Vec<&str> = named.iter().map(|line| line.split(" (").next().unwrap()).collect();
    assert_eq!(listed, IMPLIED, "the list of implied requirements has changed");
}

#[test]
fn the_practice_pack_keeps_its_most_important_promises() {
    let pack = practice();
    let id = |step: &str| pack.model.steps().find(|(_, s)| s.id == step).unwrap().1.number;
    let kept = |goal: Goal, wanted: Wanted| {
        pack.proofs.items.iter().any(|i| i.goal == goal && i.wanted == wanted && i.outcome.is_ok())
    };
    for proof in ["crown", "plugs", "seal-front", "seal-back", "smokebox", "fire-ready"] {
        assert!(kept(Goal::Step(id("light-up")), Wanted::Fresh(id(proof))), "{proof}");
    }
    for proof in ["blower", "gauge", "valve-reseat", "seal-front", "seal-back", "plugs-hot", "handbrake"] {
        assert!(kept(Goal::Fitness, Wanted::Fresh(id(proof))), "{proof}");
    }
}

#[test]
fn the_locking_table_has_every_step_and_fits_a_terminal() {
    let pack = practice();
    let table = authoring::locking_table(&pack.model, &pack.proofs);
    assert_eq!(table.rows.len(), pack.model.steps().count() + 1);
    for (row, (_, step)) in table.rows.iter().zip(pack.model.steps()) {
        assert_eq!((&row.step, row.needs.len()), (&step.id, step.needs.len()));
        for need in &row.needs {
            assert!(need.implied == need.serves.is_empty() && (!need.implied || need.because.is_some()), "{need:?}");
        }
    }
    let text = table.to_string();
    assert!(text.lines().all(|line| line.chars().count() <= 100));
    says(&text, &["light-up: Light up", "`light-up` never without `fire-ready` alive"]);
}

#[test]
fn compiling_twice_gives_the_same_bytes_whatever_the_order_of_files() {
    let mut sources = practice_sources();
    let first = authoring::compile(&sources).unwrap();
    sources.reverse();
    assert_eq!(authoring::compile(&sources).unwrap().hash, first.hash);
}

#[test]
fn failures_are_data_as_well_as_words() {
    let pack = proved(&fire("", "", "{ fresh = \"ready\" }", "@ emptied voids = [\"crown\", \"ready\"]"));
    let mut model = pack.model.clone();
    model.events[0].voids = Voids::Steps(vec![StepId(1)]);
    let proofs = prove(&model);
    let (_, failure) = proofs.failures().next().unwrap();
    let loss = Outlives { bearer: StepId(2), ending: Ending::Event(EventId(1)) };
    assert_eq!(failure.gap, Gap::Outlived(loss));
    assert!(proofs.matters.is_empty());
    let grade = GradeId(1);
    assert!(model.holders_of(grade).has(2) && !model.holders_of(GradeId(2)).has(1));
}
