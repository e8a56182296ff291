//! The memory that entries are kept in: its size, its end, and the bytes of the format's worked example.

use super::*;

/// An entry by its count.
fn own(seq: u32) -> EntryRef {
    EntryRef { device: IDENTITY.device, seq }
}

/// A memory that is full says so before anything is half written, and how room is made; and then there is room again.
#[test]
fn a_full_memory_says_so_and_is_freed_by_the_card() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let flash = new_flash(96);
    let card = office.card();
    let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
    assert!(report.is_good(), "{report}");
    let mut hands = program(flash, REST.at("2026-05-02 06:14"), FENNEL);
    hands.sign_in(PersonId(21));
    let fill = |start: u32| {
        let mut store = mounted(flash);
        let (mut count, mut words_long) = (0, 16);
        loop {
            let words = offshed_core::entry::bounded(&"full of words ".repeat(words_long)).unwrap();
            let what = What::HandedOver { engine: FENNEL, words };
            let stamp = REST.at("2026-05-02 06:20").plus(i64::from(start + count));
            let hlc = store.clock().tick(stamp);
            let (at, clock) = (own(store.last() + 1), offshed_core::stamp::Clock::Good);
            let entry = Entry { at, hlc, stamp, clock, person: PersonId(21), what };
            let mut buffer = [0; offshed_core::limits::ENTRY_BYTES];
            let bytes = entry.encode(&mut buffer).unwrap();
            let before = flash.borrow().bytes.clone();
            match offshed_core::desk::Store::append(&mut store, &entry, bytes) {
                Ok(()) => count += 1,
                Err(full) => {
                    assert_eq!(full, offshed_handheld::hand::Unstored::Full);
                    let changed = before.iter().zip(&flash.borrow().bytes).filter(|(a, b)| a != b).count();
                    assert_eq!(changed, 0, "nothing was begun");
                    // Then shorter ones, until none has room.
                    match words_long {
                        1 => return count,
                        _ => words_long = 1,
                    }
                }
            }
        }
    };
    drop(hands);
    let first = fill(0);
    assert!(first > 100, "{first}");
    // By keys: the person is told, and nothing is recorded.
    let mut hands = program(flash, REST.at("2026-05-02 07:14"), FENNEL);
    hands.sign_in(PersonId(21));
    hands.take_up();
    let before = all(hands.program.journal()).len();
    hands.choose(2);
    assert_eq!(all(hands.program.journal()).len(), before);
    let mut screen = common::picture::Canvas::new(Size::new(128, 64));
    let Ok(_) = hands.program.draw(&mut screen, hands.moment());
    assert!(screen.lit() > 0);
    drop(hands);
    // The card, the office, the card again. Blocks had no room for all at once; in turns they all go out.
    let (mut given, mut freed) = (0, 0);
    for minute in 0..12 {
        let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
        given += report.given.unwrap_or_else(|fault| panic!("{fault}"));
        freed += report.freed;
        office.meets(&format!("2026-05-02 07:{:02}", 20 + minute));
    }
    assert_eq!((given, freed), (first, first));
    assert!(fill(first) * 10 > first * 9, "the room is there again");
}

/// The worked example of `core/FORMAT.md`, section 9, which another program put together from the tables: the signature by
/// RFC 8032, section 7.1, TEST 1, the PIN by PBKDF2-HMAC-SHA-256 of another library.
#[test]
fn the_formats_worked_example_is_read_and_written() {
    let format = include_str!("../../../core/FORMAT.md");
    let hex = |n: usize| -> Vec<u8> {
        let text = format.split("```hex\n").nth(n).and_then(|rest| rest.split("```").next()).expect("an example");
        let digits = text.lines().flat_map(|line| line.split('#').next().unwrap_or("").split_whitespace());
        digits.map(|byte| u8::from_str_radix(byte, 16).expect("two digits")).collect()
    };
    let (book, bytes) = (hex(1), hex(2));
    struct File<'b>(&'b [u8]);
    impl Bytes for File<'_> {
        fn read(&self, at: u32, out: &mut [u8]) -> bool {
            let found = self.0.get(at as usize..at as usize + out.len());
            found.map(|bytes| out.copy_from_slice(bytes)).is_some()
        }
    }
    use offshed_core::record::shift::{DoubtRow, PinRow, SeenRow, SteamRow};
    use offshed_handheld::card::shift::{Entries, hashed, rows, seen};
    let (file, head) = (File(&bytes), ShiftHead::read(&bytes).expect("its head"));
    assert_eq!(head.len() as usize, bytes.len());
    assert_eq!(hashed(&head, |at, out| file.read(at, out)), Some(head.body));
    let seed: [u8; 32] = [
        0x9d, 0x61, 0xb1, 0x9d, 0xef, 0xfd, 0x5a, 0x60, 0xba, 0x84, 0x4a, 0xf4, 0x92, 0xec, 0x2c, 0xc4, 0x44, 0x49,
        0xc5, 0x69, 0x7b, 0x32, 0x69, 0x19, 0x70, 0x3b, 0xac, 0x03, 0x1c, 0xae, 0x7f, 0x60,
    ];
    assert_eq!(head.write(&Signer::from_seed(&seed)), bytes[..HEAD]);
    // The book of section 8 holds the block and the entry that are meant.
    let device = DeviceId([1, 2, 3, 4, 5, 6, 7, 8]);
    let block = offshed_core::record::chain::Block::read(&book[16..], 16).expect("the block");
    assert_eq!(seen(&file, &head, device), Some(SeenRow { device, last: 1, block: block.hash }));
    let entry = block.entries().unwrap().next().unwrap().unwrap();
    assert_eq!(Entries::new(&file, &head).collect::<Vec<_>>(), [entry]);
    let mut told = Vec::new();
    assert!(rows(&file, &head, Part::Pins, |row| told.push(PinRow::read(row).unwrap())));
    assert_eq!((told.len(), told[0].person, told[0].iterations), (1, PersonId(7), 1_000));
    assert_eq!(told[0].write()[..], bytes[HEAD + 4..HEAD + 58]);
    let mut steam = Vec::new();
    assert!(rows(&file, &head, Part::Steam, |row| steam.push(SteamRow::read(row).unwrap())));
    let first = offshed_core::stamp::Day::of("2026-03-28".parse().unwrap());
    assert_eq!(steam, [SteamRow { engine: EngineId(11), first, days: 3 }]);
    let mut doubts = Vec::new();
    assert!(rows(&file, &head, Part::Doubts, |row| doubts.push(DoubtRow::read(row).unwrap())));
    assert_eq!(doubts, [DoubtRow { device: Some(device), engine: Some(EngineId(11)) }]);
}

/// What the memory's store and its PINs take of RAM beside the program, which is held where it is built; one page more is on
/// the stack while a block is sealed or given.
#[test]
fn the_store_takes_little_memory() {
    let (store, pins) = (size_of::<NorStore<'static, Flash>>(), size_of::<FlashPins<'static, Flash>>());
    println!("store {store} bytes, PINs {pins} bytes on this machine");
    assert!(store + pins < 1_536, "{store} + {pins}");
}
