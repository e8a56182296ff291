//! The register as text.

use offshed_core::boiler::record::{BoilerRecord, ProductRecord};
use offshed_core::ident::{ProductId, RoadId};
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now, Stamp};
use offshed_core::words::{Arg, Names};
use offshed_depot::ids::Ids;
use offshed_depot::ledger::{EngineCard, Ledger, PackNames, Person, Road, Turn};
use offshed_depot::packfile::PackFile;
use offshed_depot::views::Moments;
use serde::Serialize;

use super::{BOLD, styled};

/// Everything the register knows.
#[derive(Debug, Serialize)]
pub(crate) struct RegisterView {
    people: Vec<PersonLine>,
    engines: Vec<EngineLine>,
    roads: Vec<String>,
    water: Vec<String>,
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
    boiler: Option<String>,
    usual_road: Option<String>,
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
    RegisterView { people, engines, roads: roads(ledger), water: water(ledger, &named) }
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
        turns: card.turns.iter().map(|(at, turn)| turn_line(ledger, &moments, *at, turn)).collect(),
        boiler: card.boiler.as_ref().map(|b| boiler_line(&b.record)),
        usual_road: card.usual_road.map(|road| road_name(ledger, road)),
    }
}

fn turn_line(ledger: &Ledger, moments: &Moments<'_>, at: Stamp, turn: &Turn) -> String {
    let road = turn.road.map(|road| format!(", road {}", road_name(ledger, road))).unwrap_or_default();
    format!("{}: off shed {}{road}", turn.name, moments.long(at))
}

/// A road's number, its name, and whether all of it is here.
fn road_name(ledger: &Ledger, id: RoadId) -> String {
    match ledger.office.roads.get(&id) {
        Some(road) if road.is_whole() => format!("{id} ({})", road.name),
        Some(road) => format!("{id} ({}, not all of it entered)", road.name),
        None => format!("{id} (not entered)"),
    }
}

fn boiler_line(record: &BoilerRecord) -> String {
    let (barrel, glass) = (record.barrel_back_diameter.mm(), record.glass_bottom_nut.mm());
    format!("barrel {barrel:.0} mm, bottom nut {glass:.0} mm over the crown, swell {:.0} mm", record.swell.mm())
}

fn roads(ledger: &Ledger) -> Vec<String> {
    let length = |road: &Road| f64::from(road.sections().map(|s| s.metres).sum::<u32>()) / 1_000.0;
    let line = |(id, road): (&RoadId, &Road)| {
        format!("{}: {:.1} km in {} sections", road_name(ledger, *id), length(road), road.sections().count())
    };
    ledger.office.roads.iter().map(line).collect()
}

fn water(ledger: &Ledger, named: &impl Fn(Arg) -> String) -> Vec<String> {
    let product = |(id, bought): (&ProductId, &ProductRecord)| {
        let parts = |n: u8| if n > 1 { format!(" in {n} parts") } else { String::new() };
        let measure = bought.measure.as_ref();
        let measure = measure.map(|m| format!(", {} of {} g{}", m.name, f64::from(m.milligrams) / 1e3, parts(m.parts)));
        let strength = f64::from(bought.strength_millionths) / 1e4;
        format!("{}: {strength} %{}", named(Arg::Product(*id)), measure.unwrap_or_default())
    };
    let mut all: Vec<String> = ledger.office.products.iter().map(product).collect();
    let feed = ledger.office.feed_water;
    all.extend(feed.map(|f| format!("feed water: {} mg/l, {} C", f.solids_mg_l, f.celsius)));
    all.push(format!("air: {:.1} kPa", ledger.office.air().kpa()));
    all
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
        for (head, line) in [("boiler: ", &e.boiler), ("usual road: ", &e.usual_road)] {
            if let Some(line) = line {
                out.push_str(&format!("        {head}{line}\n"));
            }
        }
    }
    for (head, lines) in [("ROADS", &view.roads), ("WATER AND AIR", &view.water)] {
        out.push_str(&format!("{}\n", styled(BOLD, head)));
        for line in lines {
            out.push_str(&format!("  {line}\n"));
        }
    }
    out
}
