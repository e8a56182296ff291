//! What the handheld says of every engine at the end of the demo's whole day, from the records of all its devices, is what
//! the depot's board says: verdict, reasons, conditions, and until when.

mod common;

use common::Evening;
use common::memory::{MemoryJournal, MemoryPins};
use embedded_graphics::prelude::Size;
use offshed_core::desk::Desk;
use offshed_core::fitness::Verdict;
use offshed_core::ident::DeviceId;
use offshed_core::stamp::Now;
use offshed_depot::demo;
use offshed_handheld::hand::Moment;
use offshed_handheld::keys::{Event, Key};
use offshed_handheld::program::Program;

#[test]
fn the_handheld_says_what_the_board_says() {
    let day = Evening::of(demo::SCRIPT);
    let (pack, texts) = (day.pack().pack(), day.pack().texts());
    let at = Moment { now: Now::good(day.at("2026-05-02 09:29")), ms: 0 };
    let journal = MemoryJournal::new(day.ledger.entries().cloned().collect());
    let desk = Desk::new(DeviceId(*b"handheld"), 0, journal.clock(), journal);
    let mut program = Program::new(&pack, &texts, desk, MemoryPins::default(), Size::new(128, 64), at);
    let engines: Vec<_> = program.roster().engines().map(|(id, _)| id).collect();
    assert_eq!(engines.len(), day.ledger.engine_ids().len());
    let mut told = Vec::new();
    for (n, id) in engines.into_iter().enumerate() {
        let mut press = |key, times| (0..times).for_each(|_| program.step(Event::Press(key), at));
        press(Key::Left, 4);
        press(Key::Up, 20);
        press(Key::Down, n);
        press(Key::Select, 1);
        let (hand, board) = (program.fitness(at), day.ledger.fitness(id, at.now));
        assert_eq!(hand, board, "No. {id}");
        told.push(hand.verdict);
    }
    for verdict in [Verdict::Fit, Verdict::Restricted, Verdict::NotFit, Verdict::NotKnown] {
        assert!(told.contains(&verdict), "the demo has no {verdict:?}");
    }
}
