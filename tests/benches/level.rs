//! What level arithmetic costs: nanoseconds for one state, milliseconds for a road of 10,000 points; then the calls that
//! `firmware-sim/qemu` counts on a microcontroller, in nanoseconds here.
//!
//! Limits: 20 µs for a state and 250 ms for the road on a desktop machine; either exceeded ends in failure.
//! With the argument `answers` it measures nothing and prints what those calls answer, line for line as the
//! microcontroller does.

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

#[path = "../tests/boiler_support/mod.rs"]
mod boiler_support;
#[path = "../../firmware-sim/qemu/src/cases.rs"]
#[allow(dead_code, unreachable_pub)]
mod cases;

use boiler_support::{exact, parallel, tapered};
use cases::Case;
use offshed_core::boiler::level::{Facing, Regulator, Tilt};
use offshed_core::boiler::road::{Journey, Point, Used};
use offshed_core::boiler::shape::{BadBoiler, Vessel};

const STATES: u32 = 100_000;
const POINTS: u32 = 10_000;
const MOST_NS: f64 = 20_000.0;
const MOST_MS: f64 = 250.0;

/// A tilt that changes from call to call, as no cache could foresee.
fn lean(step: u32) -> f64 {
    0.03 * (f64::from(step) * 0.7).sin()
}

/// Nanoseconds for one volume at one new tilt.
fn state_ns(vessel: &Vessel) -> f64 {
    let litres = 0.8 * vessel.capacity_l();
    let start = Instant::now();
    for step in 0..STATES {
        let tilt = Tilt::travelling(lean(step), 0.0, Facing::ChimneyFirst).unwrap_or(Tilt::LEVEL);
        black_box(vessel.at_volume(black_box(litres), tilt)).ok();
    }
    start.elapsed().as_secs_f64() * 1e9 / f64::from(STATES)
}

fn road() -> Vec<Point> {
    let point = |step| Point {
        distance_m: f64::from(step) * 2.0,
        gradient: lean(step) * 0.7,
        acceleration_m_s2: 0.2 * lean(step + 3),
        facing: Facing::ChimneyFirst,
        cant: 0.02,
    };
    (0..POINTS).map(point).collect()
}

/// Milliseconds for worst place, worst cover, verdict and least reading; and for the least reading alone.
fn road_ms(vessel: &Vessel, points: &[Point]) -> (f64, f64) {
    let journey = Journey {
        points,
        start: Tilt::LEVEL,
        regulator: Regulator::Shut,
        used: Used::PerKm(20.0),
        cover_mm: 50.0,
        error_mm: 3.0,
    };
    let start = Instant::now();
    black_box(vessel.run(&journey, 120.0)).ok();
    let whole = start.elapsed().as_secs_f64() * 1e3;
    let start = Instant::now();
    black_box(vessel.least_to_leave(&journey)).ok();
    (whole, start.elapsed().as_secs_f64() * 1e3)
}

/// Nanoseconds of a call in each of its states, the mean of enough calls to last a millisecond or more.
fn case_ns(case: &Case) -> Vec<f64> {
    let ns = |state| {
        let (start, mut calls) = (Instant::now(), 0.0);
        while calls == 0.0 || start.elapsed().as_millis() < 1 {
            black_box((case.call)(black_box(state)));
            calls += 1.0;
        }
        start.elapsed().as_secs_f64() * 1e9 / calls
    };
    let mut all: Vec<f64> = (0..case.states).map(ns).collect();
    all.sort_by(f64::total_cmp);
    all
}

/// Median and worst of every case that a microcontroller is measured with.
fn print_cases() -> Result<(), BadBoiler> {
    println!("nanoseconds                            states      median       worst");
    cases::each(&mut |case| {
        let all = case_ns(case);
        let (median, worst) = (all[all.len() / 2], all[all.len() - 1]);
        println!("{:<38} {:>6} {median:>11.0} {worst:>11.0}", case.name, case.states);
    })
}

/// What every case answers; whether all do.
fn print_answers() -> bool {
    let mut complete = true;
    let shown = cases::each(&mut |case| match case.answer() {
        Some(answer) => println!("answer: {}: {answer:016x}", case.name),
        None => complete = false,
    });
    complete && shown.is_ok()
}

/// Levels and roads within their limits.
fn limits_hold() -> bool {
    let points = road();
    let mut within = true;
    for (name, boiler) in [("parallel", parallel()), ("tapered", tapered())] {
        let Ok(vessel) = boiler.check() else {
            eprintln!("{name}: the boiler does not pass its checks");
            return false;
        };
        black_box(vessel.at_reading(exact(100.0), Regulator::Shut, Tilt::LEVEL)).ok();
        let ns = state_ns(&vessel);
        let (whole, least) = road_ms(&vessel, &points);
        println!(
            "{name}: {ns:.0} ns a state, {whole:.2} ms a road of {POINTS} points ({least:.2} ms its least reading)"
        );
        within &= ns <= MOST_NS && whole <= MOST_MS;
    }
    within
}

fn main() -> ExitCode {
    let passed = if std::env::args().any(|argument| argument == "answers") {
        print_answers()
    } else {
        limits_hold() && print_cases().is_ok()
    };
    if passed { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
