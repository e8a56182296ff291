//! Any bytes as a journal, a book or an entry: walked to the end, and what reads as an entry writes as the same entry.
#![no_main]

use libfuzzer_sys::fuzz_target;
use offshed_core::entry::Entry;
use offshed_core::ident::DeviceId;
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::chain::{self, InBook, Met};
use offshed_core::record::columns;

fn again(entry: &Entry) {
    let mut buffer = [0; ENTRY_BYTES];
    let bytes = entry.encode(&mut buffer).expect("an entry that was read fits its buffer");
    assert_eq!(Entry::decode(bytes).as_ref(), Ok(entry));
}

fuzz_target!(|bytes: &[u8]| {
    if let Ok(entry) = Entry::decode(bytes) {
        again(&entry);
    }
    let device = chain::read_head(chain::JOURNAL, bytes).unwrap_or(DeviceId([1; 8]));
    for met in chain::walk(bytes, device) {
        if let Met::Entry { entry, .. } = met {
            again(&entry);
        }
    }
    let device = chain::read_head(chain::BOOK, bytes).unwrap_or(DeviceId([1; 8]));
    for met in chain::walk_book(bytes, device, chain::HEAD) {
        if let InBook::Block(block) = met {
            block.entries().into_iter().flatten().flatten().for_each(|entry| again(&entry));
        }
    }
    columns::read(bytes, device, 1, [], 120).flatten().for_each(|entry| again(&entry));
});
