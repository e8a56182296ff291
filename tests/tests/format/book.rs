//! Frames, books and journals: the worked example, vectors, published check values.

use offshed_core::entry::{Entry, What};
use offshed_core::ident::EngineId;
use offshed_core::record::chain::{self, BlockHead, Met};
use offshed_core::record::frame;

use super::acts::{encoded, entry};
use super::{DEVICE, FORMAT, unhex, words};

fn example() -> Vec<u8> {
    let (_, rest) = FORMAT.split_once("```hex\n").unwrap();
    unhex(rest.split_once("```").unwrap().0)
}

/// Writes a book with the functions of the core.
fn write_book(blocks: &[&[Entry]]) -> Vec<u8> {
    let mut book = chain::head(chain::BOOK, DEVICE).to_vec();
    let mut previous = chain::root(DEVICE);
    for (number, entries) in blocks.iter().enumerate() {
        let head =
            BlockHead { number: number as u32, first: entries[0].at.seq, entries: entries.len() as u32, previous };
        let mut hash = chain::BlockHash::default();
        let mut put = |kind, body: &[u8]| {
            let mut buffer = [0; frame::BODY + frame::OVERHEAD];
            let frame = frame::write(kind, body, &mut buffer).unwrap();
            book.extend(frame);
            hash.frame(frame);
        };
        put(frame::kind::BLOCK, &head.write());
        entries.iter().for_each(|entry| put(frame::kind::ENTRY, &encoded(entry)));
        previous = hash.finish();
        book.extend(frame::write(frame::kind::END, &previous, &mut [0; 64]).unwrap().iter());
    }
    book
}

fn three() -> [Entry; 3] {
    let engine = EngineId(11);
    let note = What::HandedOver { engine, words: words("left feed slow") };
    [entry(1, What::TagHung { engine }), entry(2, What::TagLifted { engine }), entry(3, note)]
}

#[test]
fn the_worked_example_is_what_the_code_writes_and_reads() {
    let [hung, ..] = three();
    let example = example();
    assert_eq!(write_book(&[std::slice::from_ref(&hung)]), example);
    assert_eq!(chain::read_head(chain::BOOK, &example), Ok(DEVICE));
    let met: Vec<Met> = chain::walk(&example, DEVICE).collect();
    assert!(matches!(&met[..], [Met::Entry { entry, offset: 68 }, Met::Block { .. }] if *entry == hung), "{met:?}");
}

#[test]
fn a_book_reads_and_writes_as_written_down() {
    let vector = unhex(include_str!("../../vectors/book.hex"));
    let [one, two, three] = three();
    assert_eq!(write_book(&[std::slice::from_ref(&one), &[two.clone(), three.clone()]]), vector);
    assert!(vector.starts_with(&example()));
    let mut entries = Vec::new();
    let mut blocks = Vec::new();
    for met in chain::walk(&vector, DEVICE) {
        match met {
            Met::Entry { entry, .. } => entries.push(entry),
            Met::Block { head, hash } => blocks.push((head.number, head.first, head.entries, hash)),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(entries, [one, two, three]);
    // By Python's hashlib over the frames of the vector.
    let end = |hex: &str| chain::Hash::try_from(unhex(hex)).unwrap();
    let first = end("6b2a666325dc752502414c9e36121a6e925b7dc1b57d689edd09306e1544be77");
    let second = end("5e8b88808cac0527c42bc10b73eee4dd76dd08ac43f59b3622a34f63fddc770a");
    assert_eq!(blocks, [(0, 1, 1, first), (1, 2, 2, second)]);
}

#[test]
fn a_journal_reads_as_written_down() {
    let vector = unhex(include_str!("../../vectors/journal.hex"));
    assert_eq!(chain::read_head(chain::JOURNAL, &vector), Ok(DEVICE));
    let met: Vec<Met> = chain::walk(&vector, DEVICE).collect();
    let [one, two, _] = three();
    let entry = |entry, offset| Met::Entry { entry, offset };
    assert_eq!(met, [entry(one, 16), entry(two, 50)]);
}

/// CRC-32/ISO-HDLC bit by bit, from its parameters in the catalogue of parametrised CRC algorithms: width 32, polynomial
/// 04C11DB7, initial value and final exclusive-or all ones, input and output reflected.
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32| if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
    !bytes.iter().fold(u32::MAX, |crc, byte| (0..8).fold(crc ^ u32::from(*byte), |crc, _| step(crc)))
}

#[test]
fn a_frames_check_is_the_published_crc() {
    // The catalogue's check value of CRC-32/ISO-HDLC, over "123456789".
    assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    for body in [b"".as_slice(), b"123456789", &[0xff; frame::BODY]] {
        let mut buffer = [0; frame::BODY + frame::OVERHEAD];
        let frame = frame::write(7, body, &mut buffer).unwrap();
        let (covered, check) = frame[1..].split_last_chunk::<4>().unwrap();
        assert_eq!(u32::from_le_bytes(*check), crc32(covered));
    }
}

/// FIPS 180-4; the digests are those of NIST's example "abc", of the empty message, and of the 448-bit example.
#[test]
fn a_blocks_hash_is_the_published_one() {
    let hash = |parts: &[&[u8]]| {
        let mut hash = chain::BlockHash::default();
        parts.iter().for_each(|part| hash.frame(part));
        hash.finish().to_vec()
    };
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(hash(&[b"abc"]), unhex(abc));
    assert_eq!(hash(&[b"a", b"", b"bc"]), unhex(abc));
    let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    assert_eq!(hash(&[]), unhex(empty));
    let long = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    assert_eq!(hash(&[b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"]), unhex(long));
}

/// Every byte of the example matters: a change is met as a finding or refused with the head, save the two bytes of nothing.
#[test]
fn every_flipped_bit_of_the_example_is_found() {
    let example = example();
    for at in 0..example.len() {
        for bit in 0..8 {
            let mut bytes = example.clone();
            bytes[at] ^= 1 << bit;
            let head = chain::read_head(chain::BOOK, &bytes);
            let sound =
                !chain::walk(&bytes, DEVICE).any(|met| matches!(met, Met::Finding { .. } | Met::Unknown { .. }));
            let unnoticed = head == Ok(DEVICE) && sound;
            assert_eq!(unnoticed, (6..8).contains(&at), "byte {at} bit {bit}");
        }
    }
}
