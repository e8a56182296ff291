//! Facts of the register that still matter: those that a later one replaced before anything needed was recorded do not.

use std::collections::BTreeSet;

use offshed_core::entry::{Entry, Fact, Order, What};
use offshed_core::ident::EngineId;
use offshed_core::stamp::Stamp;

use crate::ledger::Office;

/// How long after its off-shed time a turn is looked at, seconds: an hour, and an hour to spare.
const TURN_SECONDS: i64 = 7_200;

/// What a fact replaces when it is stated again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Person(u16),
    Engine(u16),
    Fitted(u16, u8),
    Done(u16, u8),
    Postponed(u16, u8),
    Pack,
    Turn(u16, Stamp),
    Device([u8; 8]),
    Boiler(u16),
    Road(u8),
    Sections(u8, u16),
    UsualRoad(u16),
    Product(u8),
    Water,
    Air,
}

/// `None`: it replaces nothing as a whole, and is always kept.
fn key(fact: &Fact) -> Option<Key> {
    Some(match fact {
        Fact::Person { person, .. } => Key::Person(person.0),
        Fact::Engine { engine, .. } => Key::Engine(engine.0),
        Fact::Fitted { engine, fitting, .. } => Key::Fitted(engine.0, fitting.0),
        Fact::DueDone { engine, due, .. } => Key::Done(engine.0, due.0),
        Fact::DuePostponed { engine, due, .. } => Key::Postponed(engine.0, due.0),
        Fact::PackAdopted { .. } => Key::Pack,
        Fact::Turn { engine, off_shed, .. } => Key::Turn(engine.0, *off_shed),
        Fact::Device { device, .. } => Key::Device(device.0),
        Fact::Boiler { engine, .. } => Key::Boiler(engine.0),
        Fact::Road { road, .. } => Key::Road(road.0),
        Fact::RoadSections { road, first, .. } => Key::Sections(road.0, *first),
        Fact::UsualRoad { engine, .. } => Key::UsualRoad(engine.0),
        Fact::Product { product, .. } => Key::Product(product.0),
        Fact::FeedWater { .. } => Key::Water,
        Fact::Air { .. } => Key::Air,
        Fact::Competence { .. } | Fact::LocalTime { .. } | Fact::DeviceKey { .. } => return None,
    })
}

/// The facts in force, of all in the merged order: all from `cut` on, and before it those that nothing before it replaced.
///
/// Where that folds to another register than all facts do, all are kept.
pub(super) fn in_force<'l>(facts: &[&'l Entry], cut: Option<Order>, since: Stamp) -> Vec<&'l Entry> {
    let behind = |entry: &Entry| cut.is_some_and(|cut| entry.order() >= cut);
    let mut replaced: BTreeSet<Key> = BTreeSet::new();
    let mut later: BTreeSet<EngineId> = BTreeSet::new();
    let mut kept: Vec<&Entry> = Vec::new();
    for entry in facts.iter().rev() {
        let What::Registered(fact) = &entry.what else { continue };
        let goes =
            !behind(entry) && key(fact).is_some_and(|key| is_replaced(key, &replaced) || is_past(fact, since, &later));
        if !goes {
            kept.push(entry);
        }
        if !behind(entry) {
            replaced.extend(key(fact));
        }
        // A turn is past when a later one of the engine is kept, whichever was stated first.
        if let Fact::Turn { engine, off_shed, .. } = fact
            && *off_shed >= since.plus(-TURN_SECONDS)
        {
            later.insert(*engine);
        }
    }
    kept.reverse();
    if register(&kept, since) == register(facts, since) { kept } else { facts.to_vec() }
}

fn is_replaced(key: Key, replaced: &BTreeSet<Key>) -> bool {
    let by = match key {
        Key::Postponed(engine, due) => Some(Key::Done(engine, due)),
        Key::Sections(road, _) => Some(Key::Road(road)),
        _ => None,
    };
    replaced.contains(&key) || by.is_some_and(|by| replaced.contains(&by))
}

fn is_past(fact: &Fact, since: Stamp, later: &BTreeSet<EngineId>) -> bool {
    match fact {
        Fact::Turn { engine, off_shed, .. } => *off_shed < since.plus(-TURN_SECONDS) && later.contains(engine),
        _ => false,
    }
}

/// The register that facts fold to, without turns that are past.
fn register(facts: &[&Entry], since: Stamp) -> String {
    let mut office = Office::default();
    for entry in facts {
        if let What::Registered(fact) = &entry.what {
            office.apply(fact);
        }
    }
    for card in office.engines.values_mut() {
        let from = since.plus(-TURN_SECONDS);
        if card.turns.range(from..).next().is_some() {
            card.turns.retain(|off_shed, _| *off_shed >= from);
        }
    }
    format!("{office:?}")
}
