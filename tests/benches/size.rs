//! Bytes of a sheet of 60 entries with three signatures, in blocks of this format and as others write them; and how long
//! a seal and its check take.
//!
//! `cargo bench -p offshed-tests --bench size`

use std::hint::black_box;
use std::time::{Duration, Instant};

use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, EngineId, SheetId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::block::{self, Place};
use offshed_core::record::chain::Block;
use offshed_core::record::columns;
use offshed_core::record::frame::OVERHEAD;
use offshed_core::record::head::{self, Touched};
use offshed_core::record::seal::Signer;
use offshed_tests::practice;
use offshed_tests::workload::{self, Dice};

const DEVICE: DeviceId = DeviceId([0x5a, 1, 2, 3, 4, 5, 6, 7]);
const SHEETS: u32 = 40;

/// Bytes of each of the sheets.
fn table(name: &str, sheets: &[Vec<Entry>], bytes: impl Fn(&[Entry]) -> usize) {
    let mut sizes: Vec<usize> = sheets.iter().map(|sheet| bytes(sheet)).collect();
    sizes.sort_unstable();
    let mean = sizes.iter().sum::<usize>() as f64 / sizes.len() as f64;
    let (least, most) = (sizes.first().copied().unwrap_or(0), sizes.last().copied().unwrap_or(0));
    println!("{name:<52} {mean:>8.1} {least:>7} {most:>7}");
}

fn columns_of(entries: &[Entry]) -> usize {
    let mut sheets: Vec<SheetId> = entries.iter().filter_map(Entry::sheet).collect();
    sheets.dedup();
    columns::write(DEVICE, &sheets, entries, &mut [0; 65_536]).expect("a run of entries")
}

/// The block of a run, not the first of its book.
fn block_of(entries: &[Entry], signer: &Signer) -> Vec<u8> {
    let mut touched = Touched::default();
    touched.engine(EngineId(4));
    let place = Place { device: DEVICE, number: 200, previous: [7; 32] };
    let mut body = vec![0; head::BODY_BYTES];
    let sealed = block::seal(place, entries, touched, signer, &mut body).expect("a block");
    let body = &body[..sealed.head.body_len as usize];
    [&sealed.bytes, &sealed.signature[..], body].concat()
}

fn timed(mut work: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..201)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .collect();
    times.sort_unstable();
    times[times.len() / 2]
}

/// Medians on this machine.
fn times(sheet: &[Entry], signer: &Signer) {
    let bytes = block_of(sheet, signer);
    let block = Block::read(&bytes, 0).expect("the block");
    let mut body = [0; 4_096];
    println!("sign {:?}", timed(|| assert_eq!(black_box(signer.sign(black_box(&bytes[..80]))).len(), 64)));
    println!("check a signature {:?}", timed(|| assert!(black_box(&block).signed_by(signer.key()))));
    println!(
        "60 entries to bits {:?}",
        timed(|| assert!(columns::write(DEVICE, &[], black_box(sheet), &mut body).is_ok()))
    );
    println!("60 entries from bits {:?}", timed(|| assert_eq!(block.entries().expect("a body").flatten().count(), 60)));
}

fn postcard_of(entry: &Entry) -> usize {
    entry.encode(&mut [0; ENTRY_BYTES]).expect("an entry").len()
}

fn main() {
    let mut dice = Dice::new(1);
    let mut sheets = Vec::new();
    let mut ideal = Vec::new();
    workload::with_pack(&practice().bytes, |pack| {
        for n in 0..SHEETS {
            let before = dice.bits;
            sheets.push(workload::sheet(&mut dice, pack, DEVICE, 1 + n * workload::ENTRIES as u32));
            ideal.push((dice.bits - before) / 8.0);
        }
    });
    assert!(sheets.iter().all(|sheet| sheet.len() == workload::ENTRIES), "every sheet has the same number of entries");
    println!("{SHEETS} sheets of {} entries, three signatures; bytes a sheet", workload::ENTRIES);
    println!("{:<52} {:>8} {:>7} {:>7}", "", "mean", "least", "most");
    let mean = ideal.iter().sum::<f64>() / ideal.len() as f64;
    println!("{:<52} {mean:>8.1}", "ideal code that knows pack and habits");
    println!("{:<52} {:>8.1}", "the same, and the pack's hash in two blocks", mean + 64.0);
    table("columns, in the blocks of the signatures", &sheets, |sheet| workload::sealed(sheet).map(columns_of).sum());
    table("columns, in one block", &sheets, columns_of);
    let signer = Signer::from_seed(&[3; 32]);
    let blocks = |sheet: &[Entry]| workload::sealed(sheet).map(|run| block_of(run, &signer).len()).sum();
    table("three blocks: heads, hashes, signatures and bodies", &sheets, blocks);
    table("postcard, as in the journal", &sheets, |sheet| sheet.iter().map(|e| postcard_of(e) + OVERHEAD).sum());
    table("postcard alone", &sheets, |sheet| sheet.iter().map(postcard_of).sum());
    table("bitcode 0.6, all entries at once", &sheets, |sheet| bitcode::serialize(sheet).expect("bitcode").len());
    table("CBOR (ciborium)", &sheets, |sheet| {
        let mut out = Vec::new();
        ciborium::into_writer(sheet, &mut out).expect("CBOR");
        out.len()
    });
    table("JSON (serde_json)", &sheets, |sheet| serde_json::to_vec(sheet).expect("JSON").len());
    times(&sheets[0], &signer);
}
