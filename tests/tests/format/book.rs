//! Frames, books and journals: the worked example, vectors, published check values.

use offshed_core::entry::{Entry, What};
use offshed_core::ident::{DeviceKey, EngineId};
use offshed_core::record::block::{self, Place};
use offshed_core::record::chain::{self, Block, HEAD, InBook, Met};
use offshed_core::record::frame;
use offshed_core::record::head::{self, Hash, Touched};
use offshed_core::record::seal::{Signer, verify};
use offshed_core::stamp::Stamp;

use super::acts::{acts, doubted, entry};
use super::{DEVICE, FORMAT, named, unhex, words};

/// RFC 8032, section 7.1, TEST 1: the secret key, which signs the example and the vectors here.
const SEED: [u8; 32] = [
    0x9d, 0x61, 0xb1, 0x9d, 0xef, 0xfd, 0x5a, 0x60, 0xba, 0x84, 0x4a, 0xf4, 0x92, 0xec, 0x2c, 0xc4, 0x44, 0x49, 0xc5,
    0x69, 0x7b, 0x32, 0x69, 0x19, 0x70, 0x3b, 0xac, 0x03, 0x1c, 0xae, 0x7f, 0x60,
];

fn example() -> Vec<u8> {
    let (_, rest) = FORMAT.split_once("```hex\n").unwrap();
    unhex(rest.split_once("```").unwrap().0)
}

/// Writes a book with the functions of the core.
fn write_book(blocks: &[&[Entry]]) -> Vec<u8> {
    let mut book = chain::head(chain::BOOK, DEVICE).to_vec();
    let mut previous = head::root(DEVICE);
    for (number, entries) in blocks.iter().enumerate() {
        let mut touched = Touched::default();
        entries.iter().for_each(|entry| touched.entry(entry, |_| Some(EngineId(11))));
        let mut body = vec![0; head::BODY_BYTES];
        let place = Place { device: DEVICE, number: number as u32, previous };
        let sealed = block::seal(place, entries, touched, &Signer::from_seed(&SEED), &mut body).unwrap();
        book.extend_from_slice(&sealed.bytes);
        book.extend_from_slice(&sealed.signature);
        book.extend_from_slice(&body[..sealed.head.body_len as usize]);
        previous = hash_of(&sealed.bytes);
    }
    book
}

fn hash_of(head: &[u8]) -> Hash {
    use sha2::Digest;
    sha2::Sha256::digest(head).into()
}

fn blocks(book: &[u8]) -> Vec<Block<'_>> {
    let met = chain::walk_book(book, DEVICE, HEAD);
    met.map(|met| if let InBook::Block(block) = met { block } else { panic!("{met:?}") }).collect()
}

fn entries_of(block: &Block<'_>) -> Vec<Entry> {
    block.entries().unwrap().map(Result::unwrap).collect()
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
    let [block] = &blocks(&example)[..] else { panic!() };
    assert_eq!((entries_of(block), block.offset), (vec![hung], 16));
    assert!(block.is_whole() && block.signed_by(Signer::from_seed(&SEED).key()));
}

/// A block of every kind of entry, one of a further sheet's work, and one by a doubted clock, from another program.
#[test]
fn books_read_and_write_as_written_down() {
    let vectors = named(include_str!("../../vectors/book.hex"));
    let every: Vec<Entry> = acts().into_iter().enumerate().map(|(n, what)| entry(n as u32 + 1, what)).collect();
    let after = every.len() as u32 + 1;
    let later =
        vec![Entry { stamp: Stamp(every[0].stamp.0 + 75), ..entry(after + 2, acts()[1].clone()) }, doubted(after + 3)];
    let [one, two, three] = three();
    let expected = [
        ("three entries in two blocks", vec![vec![one], vec![two, three]]),
        ("every kind of entry, then a gap, an order ahead of the clock, and a doubted clock", vec![every, later]),
    ];
    assert_eq!(vectors.len(), expected.len());
    for ((name, bytes), (title, written)) in vectors.iter().zip(expected) {
        assert_eq!(*name, title);
        let read: Vec<Vec<Entry>> = blocks(bytes).iter().map(entries_of).collect();
        assert_eq!(read, written, "{name}");
        let runs: Vec<&[Entry]> = written.iter().map(Vec::as_slice).collect();
        assert!(write_book(&runs) == *bytes, "{name}");
        let key = Signer::from_seed(&SEED).key();
        assert!(blocks(bytes).iter().all(|block| block.is_whole() && block.signed_by(key)), "{name}");
    }
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

/// RFC 8032, section 7.1, tests 1 to 3: secret key, public key, message, signature.
#[test]
fn signatures_are_the_published_ones() {
    let tests = [
        (
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ),
        (
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ),
        (
            "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            "af82",
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        ),
    ];
    for (seed, key, message, signature) in tests {
        let signer = Signer::from_seed(&unhex(seed).try_into().unwrap());
        let (key, message) = (DeviceKey(unhex(key).try_into().unwrap()), unhex(message));
        assert_eq!((signer.key(), signer.sign(&message).to_vec()), (key, unhex(signature)));
        let signature = unhex(signature).try_into().unwrap();
        assert!(verify(key, &message, &signature));
        assert!(!verify(key, b"another message", &signature));
        // RFC 8032, section 5.1.7: the second half is below the order of the group, so half + order is refused.
        let mut other = signature;
        let order = unhex("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010");
        let mut carry = 0;
        for (byte, add) in other[32..].iter_mut().zip(order) {
            let sum = u16::from(*byte) + u16::from(add) + carry;
            (*byte, carry) = (sum as u8, sum >> 8);
        }
        assert!(carry == 0 && !verify(key, &message, &other));
    }
    // The neutral point as key, of small order, would take any message with this signature.
    let (mut neutral, mut signature) = ([0; 32], [0; 64]);
    (neutral[0], signature[0]) = (1, 1);
    assert!(!verify(DeviceKey(neutral), b"anything", &signature));
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
fn a_bodys_hash_is_the_start_of_the_published_one() {
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    let long = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    let example = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq".as_slice();
    for (message, digest) in [(b"abc".as_slice(), abc), (b"", empty), (example, long)] {
        assert_eq!(head::body_hash(message).as_slice(), &unhex(digest)[..16]);
    }
}

/// Every byte of the example matters: a change is refused with the head, or the block is no longer signed and whole.
#[test]
fn every_flipped_bit_of_the_example_is_found() {
    let example = example();
    let key = Signer::from_seed(&SEED).key();
    for at in 0..example.len() {
        for bit in 0..8 {
            let mut bytes = example.clone();
            bytes[at] ^= 1 << bit;
            let head = chain::read_head(chain::BOOK, &bytes);
            let good = |met| matches!(met, InBook::Block(block) if block.is_whole() && block.signed_by(key));
            let unnoticed = head == Ok(DEVICE) && chain::walk_book(&bytes, DEVICE, HEAD).all(good);
            assert_eq!(unnoticed, (6..8).contains(&at), "byte {at} bit {bit}");
        }
    }
}

/// A block that needs a later reader still tells which engines it touches.
#[test]
fn a_later_blocks_head_is_read() {
    let [hung, ..] = three();
    let book = write_book(&[std::slice::from_ref(&hung)]);
    let [block] = &blocks(&book)[..] else { panic!() };
    let mut head = block.head.clone();
    (head.version, head.reader) = (9, 8);
    let mut later = chain::head(chain::BOOK, DEVICE).to_vec();
    let bytes = head.write().unwrap();
    later.extend_from_slice(&bytes);
    later.extend(Signer::from_seed(&SEED).sign(&bytes));
    later.extend_from_slice(&book[book.len() - head.body_len as usize..]);
    let [block] = &blocks(&later)[..] else { panic!() };
    assert_eq!(block.entries().err(), Some(chain::BodyFault::Newer(8)));
    assert!(block.signed_by(Signer::from_seed(&SEED).key()));
    assert_eq!(block.head.touched.engines, [EngineId(11)]);
}
