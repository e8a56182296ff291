//! What is measured: calls of the core with fixed input, the same on a microcontroller and on a desktop machine.
//!
//! Each call answers with a word made of the bits of its results, so that two machines can be held against each other
//! and no call is optimised away.
//! The boiler is that of the invented Harrow Vale line's demo.

use core::hint::black_box;

use offshed_core::boiler::level::{Facing, GlassReading, Needed, Regulator, Seen, Tilt, Water};
use offshed_core::boiler::pressure::Absolute;
use offshed_core::boiler::road::{Journey, Point, Run, Used};
use offshed_core::boiler::shape::{BadBoiler, Barrel, Boiler, Bundle, Casing, Firebox, Girders, Glass, Top, Vessel};
use offshed_core::boiler::steam::{saturation_pressure, saturation_temperature};
use offshed_core::boiler::water::Estimate;
use offshed_core::boiler::water::blowdown::{Advice, Task, fewest_rounds};
use offshed_core::entry::{Answer, Entry, What};
use offshed_core::ident::{DeviceId, EntryRef, PersonId, StepId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::head::body_hash;
use offshed_core::stamp::{Clock, Hlc, Stamp};
use offshed_core::units::{Reading, Unit};

/// One kind of call, with input for each of its states.
pub struct Case<'w> {
    /// What is called.
    pub name: &'static str,
    /// How many states it is called in, at least 1.
    pub states: u32,
    /// Parts of one call that its cost is shared among: points of a road; else 1.
    pub parts: u32,
    /// Whether the call finds the water level of one state, which has a limit.
    pub is_level: bool,
    /// Makes the call in one state, counted from 0, and answers its word; none when the core refuses the input.
    pub call: &'w dyn Fn(u32) -> Option<u64>,
}

impl Case<'_> {
    /// The words of all states in one; none when the core refuses any.
    pub fn answer(&self) -> Option<u64> {
        (0..self.states).try_fold(0, |sum, state| Some(mixed(sum, (self.call)(state)?)))
    }
}

/// The boiler of the demo, equal to its file.
pub const TAMSIN: Boiler = Boiler {
    barrel: Barrel {
        back_diameter_mm: 1_200.0,
        front_diameter_mm: 1_200.0,
        length_mm: 3_000.0,
        front_axis_rise_mm: 0.0,
    },
    casing: Casing { length_mm: 1_500.0, width_mm: 1_220.0, top_mm: 610.0, top: Top::Round, foundation_mm: -1_000.0 },
    firebox: Firebox {
        back_gap_mm: 80.0,
        length_mm: 1_330.0,
        width_mm: 1_000.0,
        crown_back_mm: 200.0,
        crown_front_mm: 200.0,
        crown: Top::Flat { corner_radius_mm: 60.0 },
    },
    tubes: Bundle { count: 150, outside_diameter_mm: 45.0, lower_mm: -450.0, upper_mm: 120.0 },
    flues: Bundle::NONE,
    girders: Girders::NONE,
    glass: Glass { position_mm: -60.0, bottom_nut_mm: 80.0, top_nut_mm: 280.0, separation_mm: 600.0 },
};

/// The same with all that a boiler can have: a tapered barrel, flues, a sloping crown and girder stays.
pub const TAPERED: Boiler = Boiler {
    barrel: Barrel { front_diameter_mm: 1_080.0, front_axis_rise_mm: -60.0, ..TAMSIN.barrel },
    casing: Casing { top: Top::Flat { corner_radius_mm: 250.0 }, ..TAMSIN.casing },
    firebox: Firebox { crown_front_mm: 230.0, ..TAMSIN.firebox },
    flues: Bundle { count: 8, outside_diameter_mm: 130.0, lower_mm: 0.0, upper_mm: 240.0 },
    girders: Girders { volume_l: 40.0, height_mm: 120.0 },
    ..TAMSIN
};

/// Points of the road.
pub const POINTS: usize = 1_000;

/// A road whose gradient changes at every point, chimney first out and bunker first back.
pub static ROAD: [Point; POINTS] = road();

const fn road() -> [Point; POINTS] {
    let mut road = [place(0); POINTS];
    let mut step = 0;
    while step < POINTS {
        road[step] = place(step);
        step += 1;
    }
    road
}

/// Gradients of 1 in 50 at most, speed gained and lost at up to 0.1 m/s², and a little cant.
const fn place(step: usize) -> Point {
    let wave = (step * 37 % 81) as f64 - 40.0;
    let surge = (step * 11 % 21) as f64 - 10.0;
    Point {
        distance_m: 20.0 * step as f64,
        gradient: wave / 2_000.0,
        acceleration_m_s2: surge / 100.0,
        facing: if step < POINTS / 2 { Facing::ChimneyFirst } else { Facing::BunkerFirst },
        cant: 0.02,
    }
}

/// Gradient, acceleration in m/s² and cant of each tilt: the level, a hair off it, gentle and steep ways up and down, a
/// steep one with braking, and the steepest that the core takes.
///
/// A hair off the level in a boiler all but full is the longest search for a level that a sweep of some thousand states
/// found in a parallel barrel; 1 in 20 up in a boiler a thousandth short of full is the longest in a tapered one.
const LEANS: [(f64, f64, f64); 15] = [
    (0.0, 0.0, 0.0),
    (1e-6, 0.0, 0.0),
    (1e-4, 0.0, 0.0),
    (0.004, 0.0, 0.0),
    (-0.004, 0.0, 0.0),
    (0.01, 0.15, 0.06),
    (-0.01, -0.3, 0.06),
    (1.0 / 60.0, 0.0, 0.0),
    (-1.0 / 60.0, 0.0, 0.0),
    (1.0 / 30.0, 0.3, 0.1),
    (-1.0 / 30.0, -0.3, 0.1),
    (0.05, 0.0, 0.0),
    (-0.05, -1.0, 0.0),
    (0.25, 5.0, 0.0),
    (-0.25, -5.0, 0.0),
];

/// How full the boiler is, as a share of what it can hold.
const SHARES: [f64; 17] =
    [1e-6, 0.001, 0.02, 0.1, 0.3, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99, 0.999, 0.999_999, 0.999_999_97];

/// Readings of the glass, mm over the bottom nut.
const READINGS: [f64; 7] = [0.0, 3.0, 40.0, 95.0, 120.0, 180.0, 200.0];

/// Solids in the boiler, mg/l.
const SOLIDS: [f64; 4] = [3_050.0, 3_200.0, 3_500.0, 4_000.0];

/// Absolute pressures, kPa.
const PRESSURES: [f64; 6] = [1.0, 101.325, 300.0, 1_101.0, 1_500.0, 20_000.0];

/// Temperatures, K.
const KELVINS: [f64; 6] = [280.0, 373.15, 410.0, 457.0, 500.0, 640.0];

/// Order matters, as in any checksum.
fn mixed(sum: u64, word: u64) -> u64 {
    sum.rotate_left(7) ^ word
}

fn word(values: &[f64]) -> u64 {
    values.iter().fold(0, |sum, value| mixed(sum, value.to_bits()))
}

fn water_word(water: &Water) -> u64 {
    word(&[water.volume_l, water.cover.front_mm, water.cover.back_mm, water.litres_per_mm])
}

fn seen_word(seen: &Seen) -> u64 {
    [&seen.as_read, &seen.at_least, &seen.at_most].into_iter().fold(0, |sum, water| mixed(sum, water_word(water)))
}

fn run_word(run: &Run) -> u64 {
    mixed(water_word(&run.worst.water), word(&[run.cover_error_mm, run.leaving.volume_l.unwrap_or(0.0)]))
}

/// One of a table that is not empty; states beyond its end begin again.
fn pick<T: Copy, const N: usize>(table: &[T; N], state: u32) -> Option<T> {
    table.get(state as usize % N).copied()
}

/// Each of a table in each of another.
fn pick_both<A: Copy, B: Copy, const N: usize, const M: usize>(
    outer: &[A; N],
    inner: &[B; M],
    state: u32,
) -> Option<(A, B)> {
    Some((pick(outer, state / M as u32)?, pick(inner, state)?))
}

fn tilts() -> [Tilt; LEANS.len()] {
    LEANS.map(|(gradient, acceleration, cant)| {
        let tilt = Tilt::travelling(gradient, acceleration, Facing::ChimneyFirst);
        tilt.and_then(|tilt| tilt.canted(cant)).unwrap_or(Tilt::LEVEL)
    })
}

fn read(mm: f64) -> GlassReading {
    GlassReading { mm, error_mm: 3.0 }
}

/// Shows every case to `visit`, in an order that does not change.
///
/// # Errors
/// When the core refuses a boiler.
pub fn each(visit: &mut dyn FnMut(&Case)) -> Result<(), BadBoiler> {
    let (vessel, tapered) = (black_box(TAMSIN).check()?, black_box(TAPERED).check()?);
    level("level of one state", &vessel, visit);
    level("level of one state, tapered boiler", &tapered, visit);
    readings(&vessel, visit);
    blowdown(&vessel, visit);
    saturation(visit);
    journey("road of 1 000 points", &vessel, visit);
    journey("road of 1 000 points, tapered boiler", &tapered, visit);
    records(visit);
    Ok(())
}

fn level(name: &'static str, vessel: &Vessel, visit: &mut dyn FnMut(&Case)) {
    let tilts = tilts();
    let volumes = SHARES.map(|share| share * vessel.capacity_l());
    let call = |state| {
        let (tilt, litres) = pick_both(&tilts, &volumes, state)?;
        vessel.at_volume(litres, tilt).ok().map(|water| water_word(&water))
    };
    visit(&Case { name, states: (LEANS.len() * SHARES.len()) as u32, parts: 1, is_level: true, call: &call });
}

fn readings(vessel: &Vessel, visit: &mut dyn FnMut(&Case)) {
    let tilts = tilts();
    let states = (LEANS.len() * READINGS.len()) as u32;
    let seen = |state, now_or: Option<Tilt>| {
        let (then, mm) = pick_both(&tilts, &READINGS, state)?;
        let seen = vessel.after(read(mm), Regulator::Shut, now_or.unwrap_or(then), then);
        seen.ok().map(|seen| seen_word(&seen))
    };
    let here = |state| seen(state, None);
    visit(&Case { name: "reading and its error to water", states, parts: 1, is_level: false, call: &here });
    let after = |state| seen(state, Some(Tilt::LEVEL));
    visit(&Case { name: "the same after a change of gradient", states, parts: 1, is_level: false, call: &after });
    let wanted = |state| {
        let (then, cover_mm) = pick_both(&tilts, &READINGS, state)?;
        let needed = vessel.reading_for_cover(cover_mm, then, Tilt::LEVEL, Regulator::Shut).ok()?;
        Some(word(&[needed_mm(needed)]))
    };
    visit(&Case { name: "reading wanted for a cover", states, parts: 1, is_level: false, call: &wanted });
}

fn needed_mm(needed: Needed) -> f64 {
    match needed {
        Needed::Reading { mm } => mm,
        Needed::AnyInSight { spare_mm } => -spare_mm,
        Needed::OverTheGlass { by_mm } => by_mm,
        Needed::OverBrimFull => 0.0,
    }
}

fn blowdown(vessel: &Vessel, visit: &mut dyn FnMut(&Case)) {
    let litres = |mm| {
        let reading = GlassReading { mm, error_mm: 0.0 };
        vessel.at_reading(reading, Regulator::Shut, Tilt::LEVEL).ok().map(|seen| seen.as_read.volume_l)
    };
    let call = |state| {
        let (solids, mm) = pick_both(&SOLIDS, &[150.0, 180.0], state)?;
        let task = Task {
            solids_mg_l: Estimate::around(solids, 100.0),
            feed_mg_l: 200.0,
            target_mg_l: 3_000.0,
            level: read(mm),
            lower_mark_mm: 50.0,
        };
        match fewest_rounds(&task, litres).ok()? {
            Advice::Blow(rounds) => Some(word(&[rounds.fall_mm, rounds.litres_each, rounds.reaches_mg_l.high])),
            Advice::NotNeeded { .. } => None,
        }
    };
    visit(&Case { name: "blowdown as mm of glass", states: 8, parts: 1, is_level: false, call: &call });
}

fn saturation(visit: &mut dyn FnMut(&Case)) {
    let pressures = PRESSURES.map(Absolute::from_kpa);
    let celsius = |state| {
        let pressure = pick(&pressures, state)?.ok()?;
        saturation_temperature(pressure).ok().map(f64::to_bits)
    };
    let states = PRESSURES.len() as u32;
    visit(&Case { name: "saturation temperature", states, parts: 1, is_level: false, call: &celsius });
    let pressure = |state| saturation_pressure(pick(&KELVINS, state)?).ok().map(|p| p.kpa().to_bits());
    let states = KELVINS.len() as u32;
    visit(&Case { name: "saturation pressure", states, parts: 1, is_level: false, call: &pressure });
}

fn journey(name: &'static str, vessel: &Vessel, visit: &mut dyn FnMut(&Case)) {
    let journey = Journey {
        points: &ROAD,
        start: Tilt::LEVEL,
        regulator: Regulator::Shut,
        used: Used::PerKm(10.0),
        cover_mm: 50.0,
        error_mm: 3.0,
    };
    let call = |_| vessel.run(&journey, 150.0).ok().map(|run| run_word(&run));
    visit(&Case { name, states: 1, parts: POINTS as u32, is_level: false, call: &call });
}

fn records(visit: &mut dyn FnMut(&Case)) {
    let block = black_box([0x5a; 1_024]);
    let hashed = |_| body_hash(&block).first_chunk().copied().map(u64::from_le_bytes);
    visit(&Case { name: "SHA-256 of 1 KiB", states: 1, parts: 1, is_level: false, call: &hashed });
    let entry = entry();
    let written = |_| {
        let mut buffer = [0; ENTRY_BYTES];
        let bytes = entry.encode(&mut buffer).ok()?;
        Some(bytes.iter().fold(0, |sum, byte| mixed(sum, u64::from(*byte))))
    };
    visit(&Case { name: "one entry to bytes", states: 1, parts: 1, is_level: false, call: &written });
}

/// A reading of the glass, as a fireman enters it.
fn entry() -> Entry {
    let device = DeviceId([0x41; 8]);
    let sheet = EntryRef { device, seq: 70 };
    let answer = Answer::Reading(Reading::whole(95, Unit::GlassMm));
    let with = Some(PersonId(22));
    black_box(Entry {
        at: EntryRef { device, seq: 113 },
        hlc: Hlc(1_777_713_000 << 20),
        stamp: Stamp(1_777_713_000),
        clock: Clock::Good,
        person: PersonId(21),
        what: What::Answered { sheet, step: StepId(12), answer, done_at: None, with, over: None },
    })
}
