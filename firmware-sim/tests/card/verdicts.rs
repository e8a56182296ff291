//! What a shift file says of engines is what all records say.

use super::*;

/// Every verdict of every engine at every minute of the demo's two days, from what a shift file holds at that minute and
/// from all records: reasons, conditions, and until when; then, and later without anything more.
#[test]
fn a_shift_file_says_of_every_engine_what_all_records_say() {
    let all = &WHOLE.ledger;
    let packs = || all.packs().cloned().collect::<Vec<_>>();
    let (mut at, end) = (WHOLE.at("2026-05-01 17:01"), WHOLE.at("2026-05-02 09:31"));
    let mut known: Option<(usize, Ledger, Ledger)> = None;
    let mut judged = 0;
    while at <= end {
        let count = all.entries().filter(|entry| entry.stamp <= at).count();
        if known.as_ref().is_none_or(|(before, ..)| *before != count) {
            let then = all.as_of(at);
            let folded = select(&then, at).ledger(packs());
            known = Some((count, then, folded));
        }
        let (_, then, folded) = known.as_ref().unwrap();
        for engine in then.engine_ids() {
            for later in [0, 3_600, 86_400, 30 * 86_400] {
                let now = Now::good(at.plus(later));
                assert_eq!(
                    folded.fitness(engine, now),
                    then.fitness(engine, now),
                    "No. {engine} at {at:?} + {later} s"
                );
                judged += 1;
            }
        }
        at = at.plus(60);
    }
    assert!(judged > 10_000, "{judged}");
}

/// Tamsin's entries of the demo's day as other devices recorded them so many days later, with her fire out at its end.
fn days_later(days: u8) -> Vec<Entry> {
    let seconds = i64::from(days) * 86_400;
    let devices: Vec<DeviceId> = WHOLE.ledger.entries().map(|entry| entry.at.device).collect();
    let other = |id: DeviceId| DeviceId(id.0.map(|byte| byte ^ days));
    let mut later = Vec::new();
    let tamsins = |entry: &&Entry| WHOLE.ledger.engine_of(&entry.what) == Some(EngineId(4));
    for entry in WHOLE.ledger.entries().filter(tamsins) {
        let mut buffer = [0; offshed_core::limits::ENTRY_BYTES];
        let mut bytes = entry.encode(&mut buffer).unwrap().to_vec();
        // A device stands in an entry as its eight bytes.
        for at in 0..bytes.len().saturating_sub(7) {
            let id = DeviceId(bytes[at..at + 8].try_into().unwrap());
            if devices.contains(&id) {
                bytes[at..at + 8].copy_from_slice(&other(id).0);
            }
        }
        let mut moved = Entry::decode(&bytes).unwrap();
        moved.stamp = moved.stamp.plus(seconds);
        moved.hlc = offshed_core::stamp::Hlc(moved.hlc.0 + ((seconds as u64) << 20));
        if let What::Answered { done_at: Some(at), .. } | What::Happened { done_at: Some(at), .. } = &mut moved.what {
            *at = at.plus(seconds);
        }
        later.push(moved);
    }
    let pack = WHOLE.pack().pack();
    let steam = pack.head().steam.expect("the pack counts days in steam");
    let out = pack.events().find(|event| event.clears.has(steam.0)).expect("an event that ends steam");
    let last = later.last().expect("entries").clone();
    let (at, stamp) = (EntryRef { seq: 9_999, ..last.at }, last.stamp.plus(8 * 3_600));
    let hlc = last.hlc.tick(stamp);
    let what = What::Happened { engine: EngineId(4), event: out.id, words: Default::default(), done_at: None };
    later.push(Entry { at, stamp, hlc, what, ..last });
    later
}

/// Twelve such days, one after the other: whatever is left out, no verdict changes.
#[test]
fn what_is_left_out_changes_no_verdict() {
    let days = (1..=12).flat_map(days_later);
    let packs: Vec<PackFile> = WHOLE.ledger.packs().cloned().collect();
    let all = Ledger::build(packs.clone(), WHOLE.ledger.entries().cloned().chain(days).collect());
    for hours in [-10, -2, 0, 200] {
        let stated = WHOLE.at("2026-05-14 09:31").plus(hours * 3_600);
        let then = all.as_of(stated);
        let selection = select(&then, stated);
        let count = then.entries().count();
        println!("{} of {count} entries, {} runs of days in steam", selection.entries.len(), selection.steam.len());
        assert_eq!(selection.entries.len() + selection.left_out, count);
        assert!(selection.entries.is_sorted_by_key(Entry::order));
        let folded = selection.ledger(packs.clone());
        for engine in then.engine_ids() {
            for later in [0, 3_600, 86_400, 365 * 86_400] {
                let now = Now::good(stated.plus(later));
                assert_eq!(folded.fitness(engine, now), then.fitness(engine, now), "No. {engine}");
            }
        }
    }
}

/// The handheld's own verdicts over a shift file, engine by engine, are the office's.
#[test]
fn the_handheld_says_over_a_shift_file_what_the_board_says() {
    for at in ["2026-05-01 22:30", "2026-05-02 06:10", "2026-05-02 08:09", "2026-05-02 09:29"] {
        let mut office = Office::new();
        office.meets(at);
        let flash = new_flash(256);
        let report = mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
        assert!(report.is_good(), "{report}");
        let then = REST.ledger.as_of(REST.at(at));
        let mut hands = program(flash, REST.at(at), FENNEL);
        for (engine, _) in hands.program.roster().engines().map(|(id, name)| (id, name.to_owned())).collect::<Vec<_>>()
        {
            hands.engine = engine;
            hands.presses(offshed_handheld::keys::Key::Left, 4);
            hands.take_up();
            let now = hands.moment();
            assert_eq!(hands.program.fitness(now), then.fitness(engine, now.now), "No. {engine} at {at}");
        }
    }
}

/// What the office has is told to come from there, with its moment.
#[test]
fn a_shift_file_tells_when_it_was_written_and_by_whom() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let flash = new_flash(256);
    mounted(flash).exchange(&mut CardDir::new(&office.card()), None);
    let judged = mounted(flash).judged();
    assert_eq!(judged, Some((REST.at("2026-05-02 06:10"), office.shed.folder().device())));
}
