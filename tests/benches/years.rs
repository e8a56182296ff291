//! How folding grows with years of records: entries, seconds, nanoseconds for each, and the most memory held.
//!
//! `cargo bench -p offshed-tests --bench years -- [ENGINES DAYS]...`; without numbers 12 engines for 9, 90 and 365 days.

use std::time::Instant;

use offshed_core::fitness::Verdict;
use offshed_core::ident::EngineId;
use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_tests::years::{self, Years};

/// Kilobytes held now and at the most, as the system tells.
fn memory() -> (u64, u64) {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let of = |key: &str| {
        let line = status.lines().find(|line| line.starts_with(key));
        line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
    };
    (of("VmRSS:"), of("VmHWM:"))
}

fn main() {
    let given: Vec<u16> = std::env::args().filter_map(|arg| arg.parse().ok()).collect();
    let cases: Vec<(u16, u16)> = match given.as_slice() {
        [] => vec![(12, 9), (12, 90), (12, 365)],
        some => some.chunks(2).filter_map(|c| Some((*c.first()?, *c.get(1)?))).collect(),
    };
    println!("engines  days   entries  fold s  ns/entry  judge all ms  held MB  most MB");
    for (engines, days) in cases {
        let years = Years { engines, days, devices: 3, seed: 2026 };
        let (day, entries) = years::entries(years);
        let (count, before) = (entries.len(), memory().0);
        let packs = day.ledger.packs().cloned().collect();
        let start = Instant::now();
        let ledger = Ledger::build(packs, entries);
        let fold = start.elapsed();
        let now = Now::good(years::ends(years, &day).plus(-54_000));
        let start = Instant::now();
        let fit = (1..=engines).filter(|n| ledger.fitness(EngineId(*n), now).verdict == Verdict::Fit).count();
        let judge = start.elapsed();
        let (held, most) = memory();
        println!(
            "{engines:>7} {days:>5} {count:>9} {:>7.3} {:>9.0} {:>13.2} {:>8} {:>8}   {fit} fit, {} contested",
            fold.as_secs_f64(),
            fold.as_nanos() as f64 / count as f64,
            judge.as_secs_f64() * 1e3,
            held.saturating_sub(before) / 1_024,
            most / 1_024,
            ledger.sheets().map(|s| s.contested().len()).sum::<usize>()
        );
    }
}
