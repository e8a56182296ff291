//! What a person has to look at in the records: damage, what is contested, what lacks its rules, keys nobody confirmed.

use offshed_core::sheet::Stage;
use offshed_depot::folder::{FolderFinding, Found};
use offshed_depot::ledger::Ledger;
use offshed_depot::views;

use super::super::Session;
use super::super::foreman::engine_title;

/// Digits of a key that are shown: they tell it from any other.
const KEY_DIGITS: usize = 16;

/// Something in the records that a person has to look at.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Matter {
    /// The key of its sign: `not-fit` where records are damaged, `restricted` elsewhere, `not-known` for a key.
    pub mark: &'static str,
    /// What it is.
    pub title: String,
    /// What to do.
    pub todo: String,
}

impl Matter {
    fn new(mark: &'static str, title: String, todo: &str) -> Matter {
        Matter { mark, title, todo: todo.to_owned() }
    }
}

/// Damage in the records, then what is contested on open sheets, what lacks its rules or its sheet, and unknown keys.
pub(super) fn all(session: &Session) -> Vec<Matter> {
    let ledger = session.ledger();
    let (keys, findings): (Vec<&FolderFinding>, Vec<&FolderFinding>) =
        session.findings().iter().partition(|finding| matches!(finding.what, Found::UnknownKey { .. }));
    let mut all: Vec<Matter> = findings.into_iter().filter(|finding| !finding.is_notice()).map(damaged).collect();
    all.extend(contested(session));
    if !ledger.unjudged().is_empty() {
        let title = format!("{} sheets came without their rules and are not judged", ledger.unjudged().len());
        all.push(Matter::new("restricted", title, "Exchange with the device that opened them."));
    }
    if !ledger.adrift().is_empty() {
        let title = format!("{} entries speak of a sheet or a defect that is not here", ledger.adrift().len());
        all.push(Matter::new("restricted", title, "Exchange with the device that has it."));
    }
    all.extend(keys.into_iter().map(|finding| unconfirmed(ledger, finding)));
    all
}

/// Each finding says itself what to do.
fn damaged(finding: &FolderFinding) -> Matter {
    if finding.leaves_doubt() {
        let todo = "No engine is called fit on what is left. Exchange with a folder that has a sound copy.";
        return Matter::new("not-fit", finding.to_string(), todo);
    }
    Matter::new("restricted", finding.to_string(), "")
}

fn contested(session: &Session) -> impl Iterator<Item = Matter> {
    let ledger = session.ledger();
    let open = ledger.sheets().filter(|sheet| sheet.stage() == Stage::Open && !sheet.contested().is_empty());
    open.map(|sheet| {
        let (engine, title) = (engine_title(ledger, sheet.engine.0), views::sheet_title(ledger, sheet, session.now()));
        let count = sheet.contested().len() + usize::from(sheet.contested_more());
        let entries = if count == 1 { "1 contested entry".to_owned() } else { format!("{count} contested entries") };
        let todo = "Look at the sheet at the foreman\u{2019}s desk. Where two answers differ, the step is done again.";
        Matter::new("restricted", format!("{engine} \u{2013} {title}: {entries}"), todo)
    })
}

/// A device's name with its id.
fn device(ledger: &Ledger, finding: &FolderFinding) -> String {
    let Some(id) = finding.device else { return "a device that is not named".to_owned() };
    ledger.office.devices.get(&id).map_or_else(|| id.to_string(), |name| format!("{name} ({id})"))
}

fn unconfirmed(ledger: &Ledger, finding: &FolderFinding) -> Matter {
    let of = device(ledger, finding);
    let Found::UnknownKey { key, blocks } = &finding.what else { return damaged(finding) };
    let records = if *blocks == 1 { "1 block counts".to_owned() } else { format!("{blocks} blocks count") };
    let (title, todo) = match key {
        Some(key) => {
            let (digits, of_id) = (digits(&format!("{key:#}")), finding.device.map(|id| id.to_string()));
            let todo = format!(
                "Compare the digits with those that the device shows of itself on this page; where they are the same, \
                 the office confirms it: offshed register key {} {digits}",
                of_id.unwrap_or_default()
            );
            (format!("Key not confirmed: {of} signs with {digits}; {records} all the same"), todo)
        }
        None => (
            format!("Key not known: {of}; {records} all the same"),
            "Its first block is not here: exchange with a folder that has all of its records.".to_owned(),
        ),
    };
    Matter { mark: "not-known", title, todo }
}

/// The first digits of a key.
pub(super) fn digits(key: &str) -> String {
    key.chars().take(KEY_DIGITS).collect()
}
