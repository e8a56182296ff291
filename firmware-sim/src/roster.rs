//! The register as a handheld keeps it: tables of fixed size for the shed, and what one engine at a time is made of.
//!
//! It is folded from the same facts as any register. What does not fit is counted and told, and no engine is called fit
//! on a register that lacks something.

use heapless::{String, Vec};
use offshed_core::boiler::level::Tilt;
use offshed_core::boiler::pressure::Atmosphere;
use offshed_core::boiler::record::{SectionRecord, road_start};
use offshed_core::boiler::road::Point;
use offshed_core::boiler::shape::Vessel;
use offshed_core::boiler::water::dose::Product;
use offshed_core::entry::{Fact, FittingNumber};
use offshed_core::ident::{DueId, EngineId, FittingId, GradeId, PackHash, PersonId, ProductId, RoadId};
use offshed_core::limits::NAME;
use offshed_core::register::{BoilerFacts, Competence, DueRecord, EngineFacts, FeedWater, Register, RoadFacts};
use offshed_core::stamp::{Day, Stamp, Zone};
use offshed_core::units::Own;

use crate::steam::SteamDays;

/// Every capacity of the roster, each with its reason.
pub mod room {
    /// Engines of one shed: few heritage sheds keep more in traffic.
    pub const ENGINES: usize = 12;
    /// People who may sign in on one handheld: the rostered crews of a shed, and its foremen and fitters.
    pub const PEOPLE: usize = 28;
    /// Grades held in all: nearly everybody holds one, a few hold three.
    pub const GRADES: usize = 48;
    /// Numbered fittings of one engine: seals of two valves, plugs, glasses.
    pub const FITTINGS: usize = 8;
    /// Due dates of one engine: the practice pack has five.
    pub const DUES: usize = 10;
    /// Turns of one engine: a week.
    pub const TURNS: usize = 7;
    /// Treatment products: the practice pack has one.
    pub const PRODUCTS: usize = 4;
    /// Sections of the road that the engine will work: a line of ten miles has a dozen.
    pub const SECTIONS: usize = 18;
}

/// A name with a short count of its length.
type ShortName = String<NAME, u8>;

/// How long after its off-shed time a turn is still the one an engine is made ready for, seconds.
const LATE_SECONDS: i64 = 3_600;

/// A person.
#[derive(Clone, Debug)]
struct Person {
    id: PersonId,
    name: ShortName,
}

/// A grade that somebody holds.
#[derive(Clone, Copy, Debug)]
struct Held {
    person: PersonId,
    grade: GradeId,
    /// [`Day`]'s greatest: without end.
    until: Day,
}

/// Held without end.
const NO_END: Day = Day(i32::MAX);

/// An engine of the shed.
#[derive(Clone, Debug)]
struct Engine {
    id: EngineId,
    name: ShortName,
    facts: EngineFacts,
}

/// A booked turn.
#[derive(Clone, Copy, Debug)]
struct Turn {
    off_shed: Stamp,
    road: Option<RoadId>,
}

/// A road: its points as far as its sections came in order.
#[derive(Clone, Debug)]
struct Road {
    id: RoadId,
    start: Option<Tilt>,
    used_l_per_km: f64,
    sections: u16,
    points: Vec<Point, { 2 * room::SECTIONS }, u8>,
}

/// What only the engine in hand needs.
#[derive(Clone, Debug)]
struct Focus {
    engine: EngineId,
    fittings: Vec<(FittingId, String<{ offshed_core::limits::FITTING_NUMBER }, u8>), { room::FITTINGS }, u8>,
    dues: Vec<(DueId, DueRecord), { room::DUES }, u8>,
    turns: Vec<Turn, { room::TURNS }, u8>,
    usual_road: Option<RoadId>,
    vessel: Option<Vessel>,
    swell_mm: f64,
    steam: SteamDays,
}

/// The register.
#[derive(Clone, Debug)]
pub struct Roster {
    people: Vec<Person, { room::PEOPLE }, u8>,
    grades: Vec<Held, { room::GRADES }, u8>,
    engines: Vec<Engine, { room::ENGINES }, u8>,
    products: Vec<(ProductId, Product), { room::PRODUCTS }, u8>,
    feed_water: Option<FeedWater>,
    air: Option<Atmosphere>,
    zone: Zone,
    adopted: Option<PackHash>,
    focus: Focus,
    road: Option<Road>,
    /// The road whose sections are wanted.
    wanted_road: Option<RoadId>,
    /// Facts that found no room.
    passed_over: u16,
}

impl Default for Roster {
    fn default() -> Roster {
        Roster::new()
    }
}

/// `text` in a short name; a name of an entry is never longer.
fn short<const N: usize>(text: &str) -> String<N, u8> {
    let mut short = String::new();
    for letter in text.chars() {
        if short.push(letter).is_err() {
            break;
        }
    }
    short
}

impl Roster {
    /// An empty register.
    pub fn new() -> Roster {
        Roster {
            people: Vec::new(),
            grades: Vec::new(),
            engines: Vec::new(),
            products: Vec::new(),
            feed_water: None,
            air: None,
            zone: Zone::default(),
            adopted: None,
            focus: Focus::on(EngineId(0)),
            road: None,
            wanted_road: None,
            passed_over: 0,
        }
    }

    /// Empties the register for a fold from the start, in which `engine` is the one in hand and `road` the one it works,
    /// where that is known already.
    #[inline(never)]
    pub fn restart(&mut self, engine: EngineId, road: Option<RoadId>) {
        *self = Roster::new();
        self.focus = Focus::on(engine);
        self.wanted_road = road;
    }

    /// Folds one fact.
    pub fn apply(&mut self, fact: &Fact) {
        let kept = match fact {
            Fact::Person { person, name } => self.person(*person, name),
            Fact::Competence { person, grade, until, held } => self.grade(*person, *grade, *until, *held),
            Fact::Engine { engine, name, features, glass_mm, working } => {
                let glass_mm = (*glass_mm > 0).then_some(*glass_mm);
                self.engine_is(*engine, name, EngineFacts { features: *features, glass_mm, working: *working })
            }
            Fact::PackAdopted { pack } => {
                self.adopted = Some(*pack);
                true
            }
            Fact::LocalTime { rows } => self.local_time(rows),
            Fact::Product { product, bought } => bought.product().is_ok_and(|p| self.product_is(*product, p)),
            Fact::FeedWater { solids, temperature } => {
                let value = |reading: &offshed_core::units::Reading| reading.value(Own::UNKNOWN);
                let both = value(solids).zip(value(temperature));
                self.feed_water = both.map(|(solids_mg_l, celsius)| FeedWater { solids_mg_l, celsius });
                true
            }
            Fact::Air { pascals } => {
                self.air = Atmosphere::from_kpa(f64::from(*pascals) / 1e3).ok();
                true
            }
            Fact::Road { road, start_millionths, used_tenth_l_per_km, sections, .. } => {
                self.road_is(*road, *start_millionths, *used_tenth_l_per_km, *sections);
                true
            }
            Fact::RoadSections { road, first, sections } => self.sections(*road, *first, sections),
            // Keys are checked where records come in.
            Fact::Device { .. } | Fact::DeviceKey { .. } => true,
            Fact::Fitted { .. }
            | Fact::DueDone { .. }
            | Fact::DuePostponed { .. }
            | Fact::Turn { .. }
            | Fact::Boiler { .. }
            | Fact::UsualRoad { .. } => self.focus.apply(fact),
        };
        if !kept {
            self.passed_over = self.passed_over.saturating_add(1);
        }
    }

    fn person(&mut self, id: PersonId, name: &str) -> bool {
        match self.people.iter_mut().find(|p| p.id == id) {
            Some(person) => person.name = short(name),
            None => return self.people.push(Person { id, name: short(name) }).is_ok(),
        }
        true
    }

    fn grade(&mut self, person: PersonId, grade: GradeId, until: Option<Day>, held: bool) -> bool {
        self.grades.retain(|g| (g.person, g.grade) != (person, grade));
        let granted = Held { person, grade, until: until.unwrap_or(NO_END) };
        !held || self.grades.push(granted).is_ok()
    }

    fn engine_is(&mut self, id: EngineId, name: &str, facts: EngineFacts) -> bool {
        match self.engines.iter_mut().find(|e| e.id == id) {
            Some(engine) => (engine.name, engine.facts) = (short(name), facts),
            None => return self.engines.push(Engine { id, name: short(name), facts }).is_ok(),
        }
        true
    }

    fn product_is(&mut self, id: ProductId, product: Product) -> bool {
        self.products.retain(|(known, _)| *known != id);
        self.products.push((id, product)).is_ok()
    }

    /// New rows replace what was there from their first moment on.
    fn local_time(&mut self, rows: &[offshed_core::stamp::ZoneRow]) -> bool {
        let Some(first) = rows.first() else { return true };
        let mut all: Vec<_, { offshed_core::limits::ZONE_ROWS }> = Vec::new();
        let before = self.zone.rows().iter().filter(|row| row.from < first.from);
        let kept = before.chain(rows).all(|row| all.push(*row).is_ok());
        match Zone::new(&all).filter(|_| kept) {
            Some(zone) => self.zone = zone,
            None => return false,
        }
        true
    }

    fn road_is(&mut self, id: RoadId, start_millionths: i32, used_tenth_l_per_km: u16, sections: u16) {
        if self.wanted_road == Some(id) {
            let start = road_start(start_millionths).ok();
            let used_l_per_km = f64::from(used_tenth_l_per_km) / 10.0;
            self.road = Some(Road { id, start, used_l_per_km, sections, points: Vec::new() });
        }
    }

    fn sections(&mut self, id: RoadId, first: u16, sections: &[SectionRecord]) -> bool {
        match self.road.as_mut().filter(|road| road.id == id) {
            Some(road) => road.take(first, sections),
            None => true,
        }
    }

    /// Facts that found no room: the register lacks something.
    pub fn passed_over(&self) -> u16 {
        self.passed_over
    }

    /// The adopted pack.
    pub fn adopted(&self) -> Option<PackHash> {
        self.adopted
    }

    /// The engine in hand.
    pub fn in_hand(&self) -> EngineId {
        self.focus.engine
    }

    /// The engine in hand was in steam from `first` through `last`, by records that are not all here. Said before
    /// anything else of it is folded.
    pub fn was_in_steam(&mut self, first: Day, last: Day) {
        self.focus.steam.change(true, first);
        self.focus.steam.change(false, last);
    }

    /// The engine in hand came into steam, or went out of it.
    pub fn note_steam(&mut self, in_steam: bool, at: Stamp) {
        let day = Day::of(self.zone.day(at));
        self.focus.steam.change(in_steam, day);
    }

    /// People in the order they were entered: number and name.
    pub fn people(&self) -> impl Iterator<Item = (PersonId, &str)> {
        self.people.iter().map(|p| (p.id, p.name.as_str()))
    }

    /// A person's name.
    pub fn person_name(&self, id: PersonId) -> Option<&str> {
        self.people().find(|(known, _)| *known == id).map(|(_, name)| name)
    }

    /// Engines in the order they were entered: number and name, which may be empty.
    pub fn engines(&self) -> impl Iterator<Item = (EngineId, &str)> {
        self.engines.iter().map(|e| (e.id, e.name.as_str()))
    }

    /// An engine's name; may be empty.
    pub fn engine_name(&self, id: EngineId) -> &str {
        self.engines().find(|(known, _)| *known == id).map_or("", |(_, name)| name)
    }

    /// The next booked turn of the engine in hand that is not later gone than an hour, else the last one.
    fn turn(&self, at: Stamp) -> Option<Turn> {
        let from = at.plus(-LATE_SECONDS);
        let turns = || self.focus.turns.iter().copied();
        let next = turns().filter(|t| t.off_shed >= from).min_by_key(|t| t.off_shed);
        next.or_else(|| turns().max_by_key(|t| t.off_shed))
    }

    /// The road that the engine in hand works next: its turn's, where that names one, else its usual one.
    pub fn road_ahead(&self, at: Stamp) -> Option<RoadId> {
        self.turn(at).and_then(|turn| turn.road).or(self.focus.usual_road)
    }

    /// When the engine in hand is booked off shed next.
    pub fn off_shed(&self, at: Stamp) -> Option<Stamp> {
        self.turn(at).map(|turn| turn.off_shed)
    }
}

impl Focus {
    fn on(engine: EngineId) -> Focus {
        Focus {
            engine,
            fittings: Vec::new(),
            dues: Vec::new(),
            turns: Vec::new(),
            usual_road: None,
            vessel: None,
            swell_mm: 0.0,
            steam: SteamDays::default(),
        }
    }

    /// Folds a fact about one engine; those of other engines are passed over without loss.
    fn apply(&mut self, fact: &Fact) -> bool {
        match fact {
            Fact::Fitted { engine, fitting, number } if *engine == self.engine => self.fitted(*fitting, number),
            Fact::DueDone { engine, due, on, days_before } if *engine == self.engine => {
                let record = DueRecord { done_on: *on, days_before: *days_before, postponed_to: None };
                self.dues.retain(|(id, _)| id != due);
                self.dues.push((*due, record)).is_ok()
            }
            Fact::DuePostponed { engine, due, until, .. } if *engine == self.engine => {
                let found = self.dues.iter_mut().find(|(id, _)| id == due);
                found.into_iter().for_each(|(_, record)| record.postponed_to = Some(*until));
                true
            }
            Fact::Turn { engine, off_shed, road, .. } if *engine == self.engine => self.booked(*off_shed, *road),
            Fact::Boiler { engine, boiler } if *engine == self.engine => {
                self.vessel = boiler.vessel().ok();
                self.swell_mm = boiler.swell.mm();
                true
            }
            Fact::UsualRoad { engine, road } if *engine == self.engine => {
                self.usual_road = *road;
                true
            }
            _ => true,
        }
    }

    fn fitted(&mut self, fitting: FittingId, number: &FittingNumber) -> bool {
        self.fittings.retain(|(id, _)| *id != fitting);
        self.fittings.push((fitting, short(number))).is_ok()
    }

    /// The latest turns stay: the earliest makes room.
    fn booked(&mut self, off_shed: Stamp, road: Option<RoadId>) -> bool {
        self.turns.retain(|turn| turn.off_shed != off_shed);
        if self.turns.is_full() {
            let earliest = self.turns.iter().map(|turn| turn.off_shed).min();
            self.turns.retain(|turn| Some(turn.off_shed) != earliest);
        }
        self.turns.push(Turn { off_shed, road }).is_ok()
    }
}

impl Road {
    /// Takes a run of sections that begins where the last one ended; whether it was one, sound, and had room.
    fn take(&mut self, first: u16, sections: &[SectionRecord]) -> bool {
        if usize::from(first) * 2 != self.points.len() {
            return false;
        }
        sections.iter().all(|section| {
            let from_m = self.points.last().map_or(0.0, |p| p.distance_m);
            section.check().is_ok() && section.ends(from_m).into_iter().all(|end| self.points.push(end).is_ok())
        })
    }

    fn facts(&self) -> Option<RoadFacts<'_>> {
        let whole = self.sections > 0 && self.points.len() == 2 * usize::from(self.sections);
        let start = self.start.filter(|_| whole)?;
        Some(RoadFacts { road: self.id, points: &self.points, start, used_l_per_km: self.used_l_per_km })
    }
}

impl Register for Roster {
    fn competence(&self, person: PersonId, grade: GradeId) -> Competence {
        let held = self.grades.iter().find(|g| (g.person, g.grade) == (person, grade));
        match held.map(|g| g.until) {
            None => Competence::None,
            Some(NO_END) => Competence::Held,
            Some(day) => Competence::Until(day),
        }
    }

    fn engine(&self, engine: EngineId) -> Option<EngineFacts> {
        let facts = self.engines.iter().find(|e| e.id == engine)?.facts;
        let vessel = self.focus.vessel.as_ref().filter(|_| engine == self.focus.engine);
        // A measured boiler says how long its glass is.
        let measured = vessel.map(|v| (v.visible_mm() + 0.5) as u16);
        Some(EngineFacts { glass_mm: measured.or(facts.glass_mm), ..facts })
    }

    fn fitting(&self, engine: EngineId, fitting: FittingId) -> Option<&str> {
        let mut fittings = self.focus.fittings.iter().filter(|_| engine == self.focus.engine);
        fittings.find(|(id, _)| *id == fitting).map(|(_, number)| number.as_str())
    }

    fn due(&self, engine: EngineId, due: DueId) -> Option<DueRecord> {
        let mut dues = self.focus.dues.iter().filter(|_| engine == self.focus.engine);
        dues.find(|(id, _)| *id == due).map(|(_, record)| *record)
    }

    fn steam_days(&self, engine: EngineId, first: Day, last: Day, now: Stamp) -> u32 {
        let today = Day::of(self.zone.day(now));
        if engine == self.focus.engine { self.focus.steam.count(first, last, today) } else { 0 }
    }

    fn zone(&self) -> &Zone {
        &self.zone
    }

    fn boiler(&self, engine: EngineId) -> Option<BoilerFacts<'_>> {
        let vessel = self.focus.vessel.as_ref().filter(|_| engine == self.focus.engine)?;
        Some(BoilerFacts { vessel, swell_mm: self.focus.swell_mm })
    }

    fn road(&self, engine: EngineId, at: Stamp) -> Option<RoadFacts<'_>> {
        let ahead = self.road_ahead(at).filter(|_| engine == self.focus.engine)?;
        self.road.as_ref().filter(|road| road.id == ahead)?.facts()
    }

    fn product(&self, product: ProductId) -> Option<Product> {
        self.products.iter().find(|(id, _)| *id == product).map(|(_, product)| *product)
    }

    fn feed_water(&self) -> Option<FeedWater> {
        self.feed_water
    }

    fn air(&self) -> Atmosphere {
        self.air.unwrap_or(Atmosphere::STANDARD)
    }
}

#[cfg(test)]
mod tests {
    use offshed_core::entry::Name;
    use offshed_core::ident::Set;

    use super::*;

    fn engine(number: u16) -> Fact {
        let (engine, name) = (EngineId(number), Name::new());
        Fact::Engine { engine, name, features: Set::EMPTY, glass_mm: 0, working: None }
    }

    #[test]
    fn what_finds_no_room_is_counted_and_not_known() {
        let mut roster = Roster::new();
        let more = u16::try_from(room::ENGINES).unwrap() + 1;
        (0..more).for_each(|n| roster.apply(&engine(n)));
        assert_eq!(roster.passed_over(), 1);
        assert!(roster.engine(EngineId(0)).is_some() && roster.engine(EngineId(more - 1)).is_none());
        // One that is known already takes no further room.
        roster.apply(&engine(0));
        assert_eq!(roster.passed_over(), 1);
    }

    #[test]
    fn facts_of_other_engines_take_no_room() {
        let mut roster = Roster::new();
        roster.restart(EngineId(4), None);
        let done = |engine, due| {
            let (engine, due) = (EngineId(engine), DueId(due));
            Fact::DueDone { engine, due, on: Day(20_000), days_before: 0 }
        };
        (0..60).for_each(|due| roster.apply(&done(11, due)));
        roster.apply(&done(4, 1));
        assert_eq!(roster.passed_over(), 0);
        assert!(roster.due(EngineId(4), DueId(1)).is_some());
        assert_eq!(roster.due(EngineId(11), DueId(1)), None);
    }

    #[test]
    fn a_withdrawn_grade_is_none() {
        let mut roster = Roster::new();
        let fact = |until, held| Fact::Competence { person: PersonId(1), grade: GradeId(2), until, held };
        let held = |roster: &Roster| roster.competence(PersonId(1), GradeId(2));
        roster.apply(&fact(Some(Day(20_000)), true));
        assert_eq!(held(&roster), Competence::Until(Day(20_000)));
        roster.apply(&fact(None, true));
        assert_eq!(held(&roster), Competence::Held);
        roster.apply(&fact(None, false));
        assert_eq!(held(&roster), Competence::None);
    }
}
