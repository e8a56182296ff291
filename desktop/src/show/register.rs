//! The register as text.

use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now};
use offshed_core::words::{Arg, Names};
use offshed_depot::ids::Ids;
use offshed_depot::ledger::{EngineCard, Ledger, PackNames, Person};
use offshed_depot::packfile::PackFile;
use offshed_depot::views::Moments;
use serde::Serialize;

use super::{BOLD, styled};

/// Everything the register knows.
#[derive(Debug, Serialize)]
pub(crate) struct RegisterView {
    people: Vec<PersonLine>,
    engines: Vec<EngineLine>,
}

#[derive(Debug, Serialize)]
struct PersonLine {
    number: u16,
    name: String,
    grades: Vec<String>,
}

#[derive(Debug, Serialize)]
struct EngineLine {
    number: u16,
    name: String,
    working_pressure: Option<String>,
    glass_mm: Option<u16>,
    has: Vec<String>,
    fittings: Vec<String>,
    dates: Vec<String>,
    turns: Vec<String>,
}

/// As data.
pub(crate) fn view(ledger: &Ledger, now: Now) -> RegisterView {
    let pack = ledger.adopted();
    let names = PackNames::new(ledger, pack, now.stamp);
    let named = |arg: Arg| {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = names.write(arg, &mut out);
        out
    };
    let person = |number: u16, p: &Person| PersonLine {
        number,
        name: p.name.clone(),
        grades: p
            .grades
            .iter()
            .map(|(grade, until)| match until {
                Some(day) => format!("{} through {day}", named(Arg::Grade(*grade))),
                None => named(Arg::Grade(*grade)),
            })
            .collect(),
    };
    let people = ledger.office.people.iter().map(|(id, p)| person(id.0, p)).collect();
    let engines =
        ledger.office.engines.iter().map(|(id, card)| engine(ledger, pack, id.0, card, &named, now)).collect();
    RegisterView { people, engines }
}

fn engine(
    ledger: &Ledger,
    pack: Option<&PackFile>,
    number: u16,
    card: &EngineCard,
    named: &impl Fn(Arg) -> String,
    now: Now,
) -> EngineLine {
    let moments = Moments::new(ledger.office.zone());
    let today = Day::of(ledger.office.zone().day(now.stamp));
    let feature = |n: u8| {
        let id = offshed_core::ident::FeatureId(n);
        pack.map_or_else(|| n.to_string(), |p| Ids::of(p).feature_id(id))
    };
    let date = |(due, record): (&offshed_core::ident::DueId, &offshed_core::register::DueRecord)| {
        let since = Day(record.done_on.0.saturating_add(1));
        let days = card.steam.count(since, today, today) + u32::from(record.days_before);
        let postponed = record.postponed_to.map(|d| format!(", postponed to {d}")).unwrap_or_default();
        format!("{}: done {}, {days} days in steam since{postponed}", named(Arg::Due(*due)), record.done_on)
    };
    EngineLine {
        number,
        name: card.name.clone(),
        working_pressure: card.facts.working.map(|w| w.to_string()),
        glass_mm: card.facts.glass_mm,
        has: card.facts.features.members().map(feature).collect(),
        fittings: card.fittings.iter().map(|(id, n)| format!("{}: {n}", named(Arg::Fitting(*id)))).collect(),
        dates: card.dues.iter().map(date).collect(),
        turns: card.turns.iter().map(|(at, name)| format!("{name}: off shed {}", moments.long(*at))).collect(),
    }
}

/// As text.
pub(crate) fn text(view: &RegisterView) -> String {
    let mut out = format!("{}\n", styled(BOLD, "PEOPLE"));
    for p in &view.people {
        out.push_str(&format!("  {:>4}  {}: {}\n", p.number, p.name, p.grades.join(", ")));
    }
    out.push_str(&format!("{}\n", styled(BOLD, "ENGINES")));
    for e in &view.engines {
        let pressure = e.working_pressure.as_deref().unwrap_or("pressure not entered");
        let glass = e.glass_mm.map_or_else(|| "glass not entered".to_owned(), |mm| format!("glass {mm} mm"));
        out.push_str(&format!("  No. {} {}: {pressure}, {glass}\n", e.number, e.name));
        out.push_str(&super::wrapped("        has ", &e.has.join(", ")));
        for line in e.fittings.iter().chain(&e.dates).chain(&e.turns) {
            out.push_str(&format!("        {line}\n"));
        }
    }
    out
}
