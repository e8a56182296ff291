//! The register folded from entries: people, engines, dates, turns, devices, local time.

use std::collections::{BTreeMap, BTreeSet};

use offshed_core::boiler::pressure::Atmosphere;
use offshed_core::boiler::record::{BoilerRecord, ProductRecord, road_start};
use offshed_core::boiler::shape::Vessel;
use offshed_core::boiler::water::dose::Product;
use offshed_core::desk::Staffing;
use offshed_core::entry::Fact;
use offshed_core::ident::{
    DeviceId, DeviceKey, DueId, EngineId, FittingId, GradeId, PackHash, PersonId, ProductId, RoadId, Set,
};
use offshed_core::pack::Pack;
use offshed_core::register::{BoilerFacts, Competence, DueRecord, EngineFacts, FeedWater, Register, RoadFacts};
use offshed_core::stamp::{Day, Stamp, Zone, ZoneRow};
use offshed_core::units::{Own, Reading};

use super::roads::Road;

/// How long after its off-shed time a turn is still the one an engine is made ready for, seconds.
const LATE_SECONDS: i64 = 3_600;

/// A person.
#[derive(Clone, Debug, Default)]
pub struct Person {
    /// Name.
    pub name: String,
    /// Grades held; `None`: without end.
    pub grades: BTreeMap<GradeId, Option<Day>>,
}

/// What the register knows of an engine.
#[derive(Clone, Debug, Default)]
pub struct EngineCard {
    /// Name; may be empty.
    pub name: String,
    /// What it has.
    pub facts: EngineFacts,
    /// Numbers of fittings.
    pub fittings: BTreeMap<FittingId, String>,
    /// Dates.
    pub dues: BTreeMap<DueId, DueRecord>,
    /// Booked turns by off-shed time.
    pub turns: BTreeMap<Stamp, Turn>,
    /// Its boiler.
    pub boiler: Option<BoilerCard>,
    /// The road it usually works.
    pub usual_road: Option<RoadId>,
    /// Days in steam.
    pub steam: SteamDays,
}

/// A booked turn.
#[derive(Clone, Debug, Default)]
pub struct Turn {
    /// Its name.
    pub name: String,
    /// The road it works; `None`: the one the engine usually works.
    pub road: Option<RoadId>,
}

/// An engine's boiler as stated, and as arithmetic uses it.
#[derive(Clone, Debug)]
pub struct BoilerCard {
    /// As stated.
    pub record: BoilerRecord,
    vessel: Vessel,
}

/// The local days on which an engine was in steam.
#[derive(Clone, Debug, Default)]
pub struct SteamDays {
    days: BTreeSet<Day>,
    since: Option<(Stamp, Day)>,
}

impl SteamDays {
    /// The engine came into steam, or went out of it, at `at`.
    pub fn change(&mut self, in_steam: bool, at: Stamp, zone: &Zone) {
        let day = Day::of(zone.day(at));
        match (self.since, in_steam) {
            (None, true) => self.since = Some((at, day)),
            (Some((_, first)), false) => {
                self.days.extend((first.0..=day.0.max(first.0)).map(Day));
                self.since = None;
            }
            _ => {}
        }
    }

    /// The days that are over, in order: a run that goes on is not among them.
    pub fn days(&self) -> impl Iterator<Item = Day> + '_ {
        self.days.iter().copied()
    }

    /// It was in steam on a day, by records that are not all here.
    pub fn note(&mut self, day: Day) {
        self.days.insert(day);
    }

    /// Distinct days from `first` through `last`; a fire kept past midnight counts both days.
    pub fn count(&self, first: Day, last: Day, today: Day) -> u32 {
        let last = last.min(today);
        if first > last {
            return 0;
        }
        let over = self.days.range(first..=last).count();
        let running = self.since.map_or(0..0, |(_, day)| day.0.max(first.0)..last.0.saturating_add(1));
        let running = running.filter(|day| !self.days.contains(&Day(*day))).count();
        u32::try_from(over + running).unwrap_or(u32::MAX)
    }
}

/// The register.
#[derive(Clone, Debug, Default)]
pub struct Office {
    /// People by number.
    pub people: BTreeMap<PersonId, Person>,
    /// Engines by number.
    pub engines: BTreeMap<EngineId, EngineCard>,
    /// Names of devices.
    pub devices: BTreeMap<DeviceId, String>,
    /// Keys of devices, and from when on they are withdrawn.
    pub keys: BTreeMap<DeviceId, (DeviceKey, Option<Stamp>)>,
    /// The pack whose fitness rules and events hold.
    pub adopted: Option<PackHash>,
    /// Roads by number.
    pub roads: BTreeMap<RoadId, Road>,
    /// Treatment products as they are bought.
    pub products: BTreeMap<ProductId, ProductRecord>,
    /// The railway's feed water.
    pub feed_water: Option<FeedWater>,
    air: Option<Atmosphere>,
    /// Grades that were ever granted to anybody.
    granted: Set,
    zone: Zone,
    rows: Vec<ZoneRow>,
}

impl Office {
    /// Folds one fact.
    pub fn apply(&mut self, fact: &Fact) {
        match fact {
            Fact::Person { person, name } => {
                self.people.entry(*person).or_default().name = name.to_string();
            }
            Fact::Competence { person, grade, until, held } => {
                let grades = &mut self.people.entry(*person).or_default().grades;
                if *held {
                    self.granted = self.granted.with(grade.0);
                    grades.insert(*grade, *until);
                } else {
                    grades.remove(grade);
                }
            }
            Fact::Engine { engine, name, features, glass_mm, working } => {
                let card = self.engines.entry(*engine).or_default();
                card.name = name.to_string();
                let glass_mm = (*glass_mm > 0).then_some(*glass_mm);
                card.facts = EngineFacts { features: *features, glass_mm, working: *working };
            }
            Fact::Fitted { engine, fitting, number } => {
                self.engines.entry(*engine).or_default().fittings.insert(*fitting, number.to_string());
            }
            Fact::DueDone { engine, due, on, days_before } => {
                let record = DueRecord { done_on: *on, days_before: *days_before, postponed_to: None };
                self.engines.entry(*engine).or_default().dues.insert(*due, record);
            }
            Fact::DuePostponed { engine, due, until, .. } => {
                if let Some(record) = self.engines.entry(*engine).or_default().dues.get_mut(due) {
                    record.postponed_to = Some(*until);
                }
            }
            Fact::PackAdopted { pack } => self.adopted = Some(*pack),
            Fact::LocalTime { rows } => self.local_time(rows),
            Fact::Turn { engine, name, off_shed, road } => {
                let turn = Turn { name: name.to_string(), road: *road };
                self.engines.entry(*engine).or_default().turns.insert(*off_shed, turn);
            }
            Fact::Device { device, name } => {
                self.devices.insert(*device, name.to_string());
            }
            Fact::Boiler { engine, boiler } => {
                // A record that does not hold together is none: the desk refuses it, a damaged one gives no figure.
                let card = boiler.vessel().ok().map(|vessel| BoilerCard { record: *boiler, vessel });
                self.engines.entry(*engine).or_default().boiler = card;
            }
            Fact::UsualRoad { engine, road } => self.engines.entry(*engine).or_default().usual_road = *road,
            Fact::Road { road, name, start_millionths, used_tenth_l_per_km, sections } => {
                let start = road_start(*start_millionths).ok();
                let stated = Road::new(name.to_string(), start, f64::from(*used_tenth_l_per_km) / 10.0, *sections);
                self.roads.insert(*road, stated);
            }
            Fact::RoadSections { road, first, sections } => {
                if let Some(road) = self.roads.get_mut(road) {
                    road.take(*first, sections);
                }
            }
            Fact::Product { product, bought } => drop(self.products.insert(*product, bought.clone())),
            Fact::FeedWater { solids, temperature } => {
                let value = |reading: &Reading| reading.value(Own::UNKNOWN);
                self.feed_water = value(solids)
                    .zip(value(temperature))
                    .map(|(solids_mg_l, celsius)| FeedWater { solids_mg_l, celsius });
            }
            Fact::DeviceKey { device, key, until } => {
                self.keys.insert(*device, (*key, *until));
            }
            Fact::Air { pascals } => self.air = Atmosphere::from_kpa(f64::from(*pascals) / 1e3).ok(),
        }
    }

    /// New rows replace what was there from their first moment on.
    fn local_time(&mut self, rows: &[ZoneRow]) {
        let Some(first) = rows.first() else { return };
        self.rows.retain(|row| row.from < first.from);
        self.rows.extend_from_slice(rows);
        if let Some(zone) = Zone::new(&self.rows) {
            self.zone = zone;
        }
    }

    /// Who keeps the register today, under the adopted pack.
    pub fn staffing(&self, pack: Option<&Pack<'_>>, today: Day) -> Staffing {
        let Some(pack) = pack else { return Staffing::Never };
        let office = pack.head().restricted_by;
        let holds = |person: &Person| {
            person.grades.iter().any(|(grade, until)| office.has(grade.0) && until.is_none_or(|day| day >= today))
        };
        if self.people.values().any(holds) {
            Staffing::Staffed
        } else if office.without(self.granted) == office {
            Staffing::Never
        } else {
            Staffing::Lapsed
        }
    }

    /// The next booked turn at or after `from`, or the last one before it.
    pub fn turn(&self, engine: EngineId, from: Stamp) -> Option<(Stamp, &Turn)> {
        let turns = &self.engines.get(&engine)?.turns;
        let found = turns.range(from..).next().or_else(|| turns.iter().next_back());
        found.map(|(at, turn)| (*at, turn))
    }

    /// The road an engine will work next: its turn's, where that names one, else its usual one. A turn counts as next
    /// until an hour after its off-shed time.
    pub fn road_of(&self, engine: EngineId, at: Stamp) -> Option<RoadId> {
        let turn = self.turn(engine, at.plus(-LATE_SECONDS)).and_then(|(_, turn)| turn.road);
        turn.or(self.engines.get(&engine)?.usual_road)
    }
}

impl Register for Office {
    fn competence(&self, person: PersonId, grade: GradeId) -> Competence {
        match self.people.get(&person).and_then(|p| p.grades.get(&grade)) {
            None => Competence::None,
            Some(None) => Competence::Held,
            Some(Some(day)) => Competence::Until(*day),
        }
    }

    fn engine(&self, engine: EngineId) -> Option<EngineFacts> {
        let card = self.engines.get(&engine)?;
        // A measured boiler says how long its glass is.
        let measured = card.boiler.as_ref().map(|b| b.vessel.visible_mm().round() as u16);
        Some(EngineFacts { glass_mm: measured.or(card.facts.glass_mm), ..card.facts })
    }

    fn fitting(&self, engine: EngineId, fitting: FittingId) -> Option<&str> {
        self.engines.get(&engine)?.fittings.get(&fitting).map(String::as_str)
    }

    fn due(&self, engine: EngineId, due: DueId) -> Option<DueRecord> {
        self.engines.get(&engine)?.dues.get(&due).copied()
    }

    fn steam_days(&self, engine: EngineId, first: Day, last: Day, now: Stamp) -> u32 {
        let today = Day::of(self.zone.day(now));
        self.engines.get(&engine).map_or(0, |card| card.steam.count(first, last, today))
    }

    fn zone(&self) -> &Zone {
        &self.zone
    }

    fn boiler(&self, engine: EngineId) -> Option<BoilerFacts<'_>> {
        let card = self.engines.get(&engine)?.boiler.as_ref()?;
        Some(BoilerFacts { vessel: &card.vessel, swell_mm: card.record.swell.mm() })
    }

    fn road(&self, engine: EngineId, at: Stamp) -> Option<RoadFacts<'_>> {
        let id = self.road_of(engine, at)?;
        self.roads.get(&id)?.facts(id)
    }

    fn product(&self, product: ProductId) -> Option<Product> {
        self.products.get(&product)?.product().ok()
    }

    fn feed_water(&self) -> Option<FeedWater> {
        self.feed_water
    }

    fn air(&self) -> Atmosphere {
        self.air.unwrap_or(Atmosphere::STANDARD)
    }
}
