//! Interlocks: one rule a table.

use super::super::cursor::{Table, Text};
use super::super::draft::{Need, Rule};
use super::CAUTION;
use super::head::DEFECTS;

/// The keys that name a rule, each with the other keys it takes.
const RULES: [(&str, &[&str]); 15] = [
    ("any", &["any", "because"]),
    ("at_least", &["at_least", "reading", "because"]),
    ("after", &["after", "because"]),
    ("fresh", &["fresh", "within", "because"]),
    ("reading", &["reading", "low", "high", "because"]),
    ("agree", &["agree", "within", "because"]),
    ("wait", &["wait", "since", "because"]),
    ("grade", &["grade", "because"]),
    ("different", &["different", "because"]),
    ("with", &["with", "because"]),
    ("in_date", &["in_date", "because"]),
    ("no_defect", &["no_defect", "because"]),
    ("state", &["state", "because"]),
    ("state_not", &["state_not", "because"]),
    ("no_tag", &["no_tag", "because"]),
];

/// The rules under a key.
pub(super) fn needs(table: &Table<'_>, key: &str) -> Vec<Need> {
    table.tables(key, "").into_iter().filter_map(|rule| need(rule.named(path(table, key)))).collect()
}

fn path(table: &Table<'_>, key: &str) -> String {
    match table.subject.as_str() {
        "" => key.to_owned(),
        subject => format!("{subject}, {key}"),
    }
}

/// Which rule a table is; more than one, or none, is reported.
fn which<'t>(table: &Table<'t>) -> Option<(&'static str, Table<'t>)> {
    let mut named: Vec<&'static str> = RULES.iter().map(|(key, _)| *key).filter(|key| table.has(key)).collect();
    if named.starts_with(&["at_least"]) {
        named.retain(|key| *key != "reading");
    }
    match named.as_slice() {
        [one] => Some((one, table.again())),
        [] => {
            let wrong = table.keys().find(|key| *key != "because").unwrap_or("");
            let near = crate::ids::nearest(wrong, RULES.iter().map(|(key, _)| *key));
            let cure = near
                .map_or("see the table of interlocks in AUTHORING.md".to_owned(), |n| format!("did you mean `{n}`?"));
            table.say(table.at, wrong, "names no rule", cure);
            None
        }
        [first, second, ..] => {
            let what = format!("two rules in one table: `{first}` and `{second}`");
            table.say(table.at, second, what, "write each in braces of its own");
            None
        }
    }
}

fn need(table: Table<'_>) -> Option<Need> {
    let (name, table) = which(&table)?;
    if name != "any" {
        let rules = rule(&table, name).map(|rule| (rule, table.at)).into_iter().collect();
        return Some(Need { rules, any: false, because: because(&table), at: table.at });
    }
    let table = table.allow("`any`", &["any", "because"]);
    let mut reasons: Vec<String> = because(&table).into_iter().collect();
    let mut rules = Vec::new();
    let alternatives = table.tables("any", "");
    if alternatives.is_empty() && table.is_list("any") {
        table.fault("any", "no alternatives, so it never holds", "name one rule or more");
    }
    for alternative in alternatives {
        let subject = table.subject.clone();
        let Some((name, alternative)) = which(&alternative.named(subject)) else { continue };
        if name == "any" {
            alternative.say(alternative.at, "any", "`any` inside `any`", "write its alternatives in the outer list");
            continue;
        }
        reasons.extend(because(&alternative));
        rules.extend(rule(&alternative, name).map(|rule| (rule, alternative.at)));
    }
    let because = (!reasons.is_empty()).then(|| reasons.join("; "));
    Some(Need { rules, any: true, because, at: table.at })
}

fn because(table: &Table<'_>) -> Option<String> {
    table.words_opt("because", CAUTION)
}

/// The rule, its keys checked.
fn rule(table: &Table<'_>, name: &'static str) -> Option<Rule> {
    let keys = RULES.iter().find(|(key, _)| *key == name).map_or(&[][..], |(_, keys)| keys);
    let table = table.again().allow(&format!("the rule `{name}`"), keys);
    let seconds = |key| table.duration(key, 1_000).map(super::super::measure::seconds);
    let word = || table.text(name);
    Some(match name {
        "after" => Rule::After(word()),
        "fresh" => Rule::Fresh(word(), seconds("within")),
        "reading" => {
            let (low, high) = (table.text_opt("low"), table.text_opt("high"));
            if low.is_none() && high.is_none() {
                table.say(table.at, "reading", "neither `low` nor `high`", "give one, or write `fresh`");
            }
            Rule::Reading(word(), low, high)
        }
        "agree" => agree(&table)?,
        "wait" => Rule::Wait(table.text("since"), seconds("wait").unwrap_or(0)),
        "at_least" => Rule::AtLeast { derived: word(), reading: table.text("reading") },
        "grade" => Rule::Grade(word()),
        "different" => match word() {
            everyone if everyone.value == "everyone" => Rule::DifferentEveryone,
            step => Rule::Different(step),
        },
        "with" => Rule::With(word()),
        "in_date" => Rule::InDate(word()),
        "no_defect" => Rule::NoDefect(table.choice("no_defect", &DEFECTS)?.value),
        "state" => Rule::State(word()),
        "state_not" => Rule::StateNot(word()),
        _ => {
            if !table.flag("no_tag") {
                table.fault("no_tag", "only `true` is a rule", "write `no_tag = true`");
            }
            Rule::NoTag
        }
    })
}

fn agree(table: &Table<'_>) -> Option<Rule> {
    let within = table.text("within");
    let steps: Vec<Text> = table.list("agree");
    match <[Text; 2]>::try_from(steps) {
        Ok([a, b]) => Some(Rule::Agree(a, b, within)),
        Err(steps) => {
            table.fault("agree", format!("{} steps", steps.len()), "name two different steps");
            None
        }
    }
}
