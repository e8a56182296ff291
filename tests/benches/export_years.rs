//! What exporting years of records takes: seconds, bytes written, and the most memory held beyond the records themselves.
//!
//! `cargo bench -p offshed-tests --bench export_years -- [ENGINES DAYS]`; without numbers 1 engine for 3 650 days.

use std::io::{self, Write};
use std::time::Instant;

use offshed_core::ident::EngineId;
use offshed_core::stamp::Now;
use offshed_depot::export::{self, Form, Origin, Wanted};
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

/// Forgets the most that was held, so that the next answer is about what comes now (proc(5), clear_refs).
fn forget_most() {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

/// Counts what is written and keeps none of it.
#[derive(Default)]
struct Counted(u64);

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0 += bytes.len() as u64;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn main() {
    let given: Vec<u16> = std::env::args().filter_map(|arg| arg.parse().ok()).collect();
    let (engines, days) = match given.as_slice() {
        [engines, days, ..] => (*engines, *days),
        _ => (1, 3_650),
    };
    let years = Years { engines, days, devices: 3, seed: 2026 };
    let (day, entries) = years::entries(years);
    let now = Now::good(years::ends(years, &day));
    let count = entries.len();
    let ledger = Ledger::build(day.ledger.packs().cloned().collect(), entries);
    println!("{engines} engines, {days} days, {count} entries, {} MB held", memory().0 / 1_024);
    println!("kind          form  seconds       lines     MB out  pages  MB beyond  progress");
    let engine = EngineId(1);
    let history = Wanted::History { engine, from: None, until: None };
    for (name, wanted, form) in [
        ("history", history, Form::Csv),
        ("history", history, Form::Json),
        ("history", history, Form::Pdf),
        ("water", Wanted::Water(engine), Form::Csv),
        ("dates", Wanted::Dates(None), Form::Ics),
    ] {
        forget_most();
        let (held, start, mut out, mut told) = (memory().0, Instant::now(), Counted::default(), 0);
        let origin = Origin { ledger: &ledger, folder: None, doubts: &[] };
        let made = export::write(origin, (wanted, form), now, &mut out, &mut |_| told += 1).expect("an export");
        println!(
            "{name:<13} {:<5} {:>7.2} {:>11} {:>10.1} {:>6} {:>10} {told:>9}",
            form.ending(),
            start.elapsed().as_secs_f64(),
            made.lines,
            out.0 as f64 / 1e6,
            made.pages.unwrap_or(0),
            memory().1.saturating_sub(held) / 1_024,
        );
    }
}
