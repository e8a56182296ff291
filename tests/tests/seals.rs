//! Signatures of devices: what was cut, moved, repeated, put in from elsewhere or signed with another key is named and
//! not taken; keys are confirmed and withdrawn by the office; and a damaged block leaves only its own engines in doubt.

mod yard;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::desk::Store;
use offshed_core::entry::{Entry, Fact, What};
use offshed_core::ident::{DeviceId, DeviceKey, EngineId, EntryRef, PersonId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::reason::Why;
use offshed_core::record::block::{self, Place};
use offshed_core::record::chain::{self, Block, HEAD, InBook};
use offshed_core::record::head::{self, Touched};
use offshed_core::record::seal::Signer;
use offshed_core::stamp::{Clock, Hlc, Now, Stamp};
use offshed_depot::folder::{BlockFault, Folder, FolderFinding, Found, Scope, verify_folder};
use offshed_depot::shed;
use offshed_depot::sync::sync;

use yard::{device, folder, place};

fn book(n: u8) -> PathBuf {
    Path::new("books").join(format!("{}.book", device(n)))
}

/// Writes what a device does next, at second `stamp`.
fn put(folder: &mut Folder, stamp: i64, what: What) -> Entry {
    let at = EntryRef { device: folder.device(), seq: folder.next_seq() };
    let (hlc, stamp) = (Hlc::default().tick(Stamp(stamp)), Stamp(stamp));
    let entry = Entry { at, hlc, stamp, clock: Clock::Good, person: PersonId(7), what };
    folder.append(&entry, entry.encode(&mut [0; ENTRY_BYTES]).unwrap()).unwrap();
    entry
}

fn tag(engine: u16) -> What {
    What::TagHung { engine: EngineId(engine) }
}

fn blocks(bytes: &[u8], n: u8) -> Vec<Block<'_>> {
    let met = chain::walk_book(bytes, device(n), HEAD);
    met.filter_map(|met| if let InBook::Block(block) = met { Some(block) } else { None }).collect()
}

fn seqs(entries: &[Entry]) -> Vec<u32> {
    entries.iter().map(|entry| entry.at.seq).collect()
}

fn what(findings: &[FolderFinding]) -> Vec<&Found> {
    findings.iter().map(|finding| &finding.what).collect()
}

fn faults(findings: &[FolderFinding]) -> Vec<(u32, BlockFault)> {
    let faults = findings.iter().filter_map(|finding| match finding.what {
        Found::Block { number, fault } => Some((number, fault)),
        _ => None,
    });
    faults.collect()
}

/// Device `n` tags engine 4, 5, 6 in a block each; the book's bytes, and the folder's path.
fn tagged(name: &str, n: u8) -> (PathBuf, Vec<u8>) {
    let mut folder = folder(name, n);
    for (at, engine) in [(1_000, 4), (1_010, 5), (1_020, 6)] {
        put(&mut folder, at, tag(engine));
        folder.seal().unwrap();
    }
    let path = folder.path().to_path_buf();
    drop(folder);
    let bytes = fs::read(path.join(book(n))).unwrap();
    (path, bytes)
}

/// What a folder of another device makes of a book of device `n`.
fn received(name: &str, n: u8, bytes: &[u8]) -> (Vec<Entry>, Vec<FolderFinding>) {
    let folder = folder(name, 99);
    fs::write(folder.path().join(book(n)), bytes).unwrap();
    folder.read_again().unwrap()
}

fn engines(scope: &Scope) -> Option<Vec<u16>> {
    match scope {
        Scope::Every => None,
        Scope::Engines(engines) => Some(engines.iter().map(|engine| engine.0).collect()),
    }
}

#[test]
fn a_damaged_body_leaves_only_its_own_engine_in_doubt() {
    let (path, bytes) = tagged("body", 1);
    let second = &blocks(&bytes, 1)[1];
    let mut damaged = bytes.clone();
    damaged[second.offset + second.bytes.len() - 1] ^= 1;
    fs::write(path.join(book(1)), &damaged).unwrap();
    let (ledger, findings, _) = shed::look(&path).unwrap();
    let [finding] = &findings[..] else { panic!("{findings:?}") };
    assert_eq!(finding.what, Found::Block { number: 1, fault: BlockFault::Differs });
    assert_eq!(engines(&finding.scope), Some(vec![5]));
    let missing = |engine| {
        let fitness = ledger.fitness(EngineId(engine), Now::good(Stamp(2_000)));
        fitness.reasons.iter().any(|reason| matches!(reason.why, Why::RecordsMissing { .. }))
    };
    assert_eq!([4, 5, 6].map(missing), [false, true, false]);
    assert!(finding.to_string().contains("No. 5"), "{finding}");
}

#[test]
fn a_changed_head_leaves_every_engine_in_doubt() {
    let (_, bytes) = tagged("head", 1);
    for n in [0, 1] {
        let block = blocks(&bytes, 1)[n].clone();
        // The engine's number in the head, behind marker, versions, device, number, count, entries, and how many.
        let engine = block.offset + 3 + 8 + 3 + 1;
        assert_eq!(bytes[engine], 4 + n as u8);
        let mut changed = bytes.clone();
        changed[engine] = 9;
        let (entries, findings) = received("head-in", 1, &changed);
        // With the first block's head the key is gone, and what is whole is read unsigned.
        assert_eq!(seqs(&entries), [vec![1, 2, 3], vec![1, 3]][n]);
        assert!(findings.iter().any(|found| found.leaves_doubt() && found.scope == Scope::Every), "{findings:?}");
    }
}

#[test]
fn what_was_cut_moved_repeated_or_put_in_is_named() {
    let (_, bytes) = tagged("moved", 1);
    let (_, foreign) = tagged("foreign", 2);
    let [one, two, three] = &blocks(&bytes, 1)[..] else { panic!() };
    let of_two = blocks(&foreign, 2)[1].bytes;
    let book = |parts: &[&[u8]]| [&bytes[..HEAD], &parts.concat()].concat();
    let take = |name: &str, bytes: &[u8]| received(name, 1, bytes);

    // Cut inside the last block: its head still names its engine, but is vouched for by its own signature only.
    let (entries, findings) = take("cut", &bytes[..bytes.len() - 1]);
    assert_eq!((seqs(&entries), faults(&findings)), (vec![1, 2], vec![(2, BlockFault::Cut)]));
    let cut = findings.iter().find(|finding| matches!(finding.what, Found::Block { .. })).unwrap();
    assert_eq!(engines(&cut.scope), Some(vec![6]));

    // In another order.
    let (_, findings) = take("order", &book(&[one.bytes, three.bytes, two.bytes]));
    assert!(what(&findings).contains(&&Found::Broken { number: 2 }), "{findings:?}");
    assert!(what(&findings).contains(&&Found::Repeated { number: 1 }), "{findings:?}");

    // One a second time.
    let (entries, findings) = take("again", &book(&[one.bytes, two.bytes, three.bytes, two.bytes]));
    assert_eq!(seqs(&entries), [1, 2, 3]);
    assert!(what(&findings).contains(&&Found::Repeated { number: 1 }), "{findings:?}");

    // One left out: it is named, and so is the count that is missing.
    let (entries, findings) = take("out", &book(&[one.bytes, three.bytes]));
    assert_eq!(seqs(&entries), [1, 3]);
    assert!(what(&findings).contains(&&Found::Broken { number: 2 }));
    assert!(what(&findings).contains(&&Found::Missing { first: 2, last: 2 }));

    // One of another device.
    let (entries, findings) = take("splice", &book(&[one.bytes, of_two, two.bytes, three.bytes]));
    assert_eq!(seqs(&entries), [1, 2, 3]);
    assert!(faults(&findings).contains(&(1, BlockFault::Foreign(device(2)))), "{findings:?}");
}

/// A block in device 1's name, in place of its third, signed with another key.
fn forged(bytes: &[u8], seed: u8) -> Vec<u8> {
    let [.., two, three] = &blocks(bytes, 1)[..] else { panic!() };
    let at = EntryRef { device: device(1), seq: 3 };
    let (hlc, stamp) = (Hlc::default().tick(Stamp(1_020)), Stamp(1_020));
    let what = What::TagLifted { engine: EngineId(6) };
    let entry = Entry { at, hlc, stamp, clock: Clock::Good, person: PersonId(7), what };
    let mut touched = Touched::default();
    touched.engine(EngineId(6));
    let place = Place { device: device(1), number: 2, previous: two.hash };
    let mut body = vec![0; head::BODY_BYTES];
    let sealed = block::seal(place, &[entry], touched, &Signer::from_seed(&[seed; 32]), &mut body).unwrap();
    let body = &body[..sealed.head.body_len as usize];
    [&bytes[..three.offset], &sealed.bytes, &sealed.signature, body].concat()
}

#[test]
fn a_block_signed_with_another_key_is_not_taken() {
    let (_, bytes) = tagged("wrong", 1);
    assert_eq!(forged(&bytes, 1).len(), bytes.len());
    let (entries, findings) = received("wrong-in", 1, &forged(&bytes, 2));
    assert_eq!((seqs(&entries), faults(&findings)), (vec![1, 2], vec![(2, BlockFault::Seal)]));
    // A head that nobody vouches for may hide which engine it was about.
    assert!(findings.iter().any(|found| found.leaves_doubt() && found.scope == Scope::Every));
}

#[test]
fn the_office_confirms_a_key_and_withdraws_it() {
    let (mut office, mut cab) = (folder("keys-office", 1), folder("keys-cab", 2));
    let key = cab.key().unwrap();
    assert_eq!(key, Signer::from_seed(&[2; 32]).key());
    put(&mut cab, 1_000, tag(4));
    sync(&mut office, &mut cab).unwrap();
    let unknown = |folder: &Folder, n: u8| {
        let (_, findings) = folder.read_again().unwrap();
        findings.into_iter().any(|finding| {
            finding.device == Some(device(n)) && matches!(finding.what, Found::UnknownKey { key: Some(_), .. })
        })
    };
    assert!(unknown(&office, 2), "counted, and shown");
    assert_eq!(office.read_again().unwrap().0.len(), 1);

    let fact = |until| What::Registered(Fact::DeviceKey { device: device(2), key, until });
    put(&mut office, 1_100, fact(None));
    assert!(!unknown(&office, 2), "confirmed");
    put(&mut cab, 1_200, tag(5));
    sync(&mut office, &mut cab).unwrap();
    assert!(unknown(&cab, 1), "the cab has not confirmed the office");

    // Lost at 1,300: what is recorded after that does not count, what came before does.
    put(&mut office, 1_400, fact(Some(Stamp(1_300))));
    put(&mut cab, 1_500, tag(6));
    sync(&mut office, &mut cab).unwrap();
    let (entries, findings) = office.read_again().unwrap();
    let of_cab: Vec<u32> = entries.iter().filter(|e| e.at.device == device(2)).map(|e| e.at.seq).collect();
    assert_eq!(of_cab, [1, 2]);
    assert_eq!(what(&findings), [&Found::Revoked { number: 2, entries: 1, since: Stamp(1_300) }]);
    assert!(!findings[0].leaves_doubt() && !findings[0].is_notice());
}

#[test]
fn a_key_that_only_an_unknown_device_states_is_not_believed() {
    let (mut office, mut liar) = (folder("liar-office", 1), folder("liar-cab", 2));
    let key = DeviceKey([9; 32]);
    let fact = What::Registered(Fact::DeviceKey { device: device(3), key, until: None });
    put(&mut liar, 1_000, fact);
    sync(&mut office, &mut liar).unwrap();
    let (_, bytes) = tagged("liar-third", 3);
    fs::write(office.path().join(book(3)), &bytes).unwrap();
    let (entries, findings) = office.read_again().unwrap();
    assert_eq!(entries.iter().filter(|e| e.at.device == device(3)).count(), 3);
    assert!(faults(&findings).is_empty(), "{findings:?}");
}

#[test]
fn a_confirmed_key_refuses_a_book_of_another() {
    let mut office = folder("swap-office", 1);
    let key = Signer::from_seed(&[2; 32]).key();
    put(&mut office, 900, What::Registered(Fact::DeviceKey { device: device(2), key, until: None }));
    let stranger = place("swap-stranger");
    let made = Folder::make_as(&stranger, device(2), &[77; 32], "Stranger", "Etc/UTC");
    let mut stranger = made.unwrap();
    put(&mut stranger, 1_000, tag(4));
    stranger.seal().unwrap();
    fs::copy(stranger.path().join(book(2)), office.path().join(book(2))).unwrap();
    let (entries, findings) = office.read_again().unwrap();
    assert_eq!((entries.len(), faults(&findings)), (1, vec![(0, BlockFault::Seal)]));
}

#[test]
fn a_fork_leaves_the_engines_of_both_in_doubt_until_the_key_is_withdrawn() {
    let (path, bytes) = tagged("fork", 1);
    let mut other = Folder::open(&path).unwrap().folder;
    put(&mut other, 1_030, tag(7));
    other.seal().unwrap();
    let left = fs::read(path.join(book(1))).unwrap();
    drop(other);
    fs::write(path.join(book(1)), &bytes).unwrap();
    let mut other = Folder::open(&path).unwrap().folder;
    put(&mut other, 1_040, tag(8));
    other.seal().unwrap();
    let right = fs::read(path.join(book(1))).unwrap();

    let mut office = folder("fork-office", 99);
    let fork = format!("books/{}.fork-0011aabb.book", device(1));
    fs::write(office.path().join(book(1)), &left).unwrap();
    fs::write(office.path().join(&fork), &right).unwrap();
    let (_, findings) = office.read_again().unwrap();
    let doubted: BTreeSet<EngineId> = findings
        .iter()
        .filter(|finding| finding.leaves_doubt())
        .flat_map(|finding| match (&finding.what, &finding.scope) {
            (Found::Fork { .. }, Scope::Engines(engines)) => engines.clone(),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(doubted, BTreeSet::from([EngineId(7), EngineId(8)]));

    let key = Signer::from_seed(&[1; 32]).key();
    let fact = Fact::DeviceKey { device: device(1), key, until: Some(Stamp(1_025)) };
    put(&mut office, 1_100, What::Registered(fact));
    let (entries, findings) = office.read_again().unwrap();
    assert_eq!(entries.iter().filter(|e| e.at.device == device(1)).count(), 3);
    assert!(findings.iter().all(|finding| !finding.leaves_doubt()), "{findings:?}");
    assert_eq!(findings.iter().filter(|f| matches!(f.what, Found::Revoked { .. })).count(), 2);
}

#[test]
fn a_clock_put_back_and_an_order_far_ahead_are_told_once() {
    let mut folder = folder("clock", 1);
    for at in [10_000, 9_800, 5_000, 5_010] {
        put(&mut folder, at, tag(4));
    }
    let at = EntryRef { device: folder.device(), seq: folder.next_seq() };
    for seq in [at.seq, at.seq + 1] {
        let (hlc, stamp) = (Hlc::default().tick(Stamp(6_000 + i64::from(seq))), Stamp(5_020));
        let at = EntryRef { seq, ..at };
        let entry = Entry { at, hlc, stamp, clock: Clock::Good, person: PersonId(7), what: tag(4) };
        folder.append(&entry, entry.encode(&mut [0; ENTRY_BYTES]).unwrap()).unwrap();
    }
    let (_, findings) = folder.read_again().unwrap();
    let back = Found::ClockBack { entry: 3, from: Stamp(10_000), to: Stamp(5_000) };
    let ahead = Found::ClockAhead { entry: 5, at: Stamp(5_020), ahead_seconds: 985 };
    assert_eq!(what(&findings), [&back, &ahead]);
    assert!(findings.iter().all(|finding| !finding.leaves_doubt()));
}

#[test]
fn a_lost_key_is_told_and_nothing_is_signed_with_another() {
    let (path, bytes) = tagged("lost", 1);
    fs::remove_dir_all(path.join("keys")).unwrap();
    let mut opened = Folder::open(&path).unwrap();
    assert!(what(&opened.findings).contains(&&Found::KeyLost));
    put(&mut opened.folder, 1_100, tag(4));
    let refused = opened.folder.seal().unwrap_err().to_string();
    assert!(refused.contains("offshed identity"), "{refused}");
    drop(opened);
    assert_eq!(fs::read(path.join(book(1))).unwrap(), bytes);
    assert_eq!(Folder::open(&path).unwrap().entries.len(), 4);
}

#[cfg(unix)]
#[test]
fn the_secret_key_is_its_owners_alone_and_never_travels() {
    use std::os::unix::fs::PermissionsExt;
    let (mut shed, mut cab) = (folder("secret-shed", 1), folder("secret-cab", 2));
    put(&mut shed, 1_000, tag(4));
    sync(&mut shed, &mut cab).unwrap();
    let keys = |folder: &Folder| -> Vec<PathBuf> {
        let listed = fs::read_dir(folder.path().join("keys")).unwrap();
        listed.map(|item| item.unwrap().path()).collect()
    };
    let [key] = &keys(&shed)[..] else { panic!() };
    assert_eq!(fs::metadata(key).unwrap().permissions().mode() & 0o777, 0o600);
    assert_eq!((fs::read(key).unwrap(), keys(&cab).len()), (vec![1; 32], 1));
}

#[test]
fn many_entries_become_several_blocks() {
    let mut folder = folder("many", 1);
    for n in 0..250 {
        put(&mut folder, 1_000 + n, tag(4));
    }
    folder.seal().unwrap();
    let path = folder.path().to_path_buf();
    drop(folder);
    let bytes = fs::read(path.join(book(1))).unwrap();
    let entries: Vec<u32> = blocks(&bytes, 1).iter().map(|block| block.head.entries).collect();
    assert_eq!(entries, [120, 120, 10]);
    assert_eq!(verify_folder(&path), []);
    assert_eq!(Folder::open(&path).unwrap().entries.len(), 250);
    // Interrupted between the blocks, and inside one.
    for cut in [blocks(&bytes, 1)[1].offset, blocks(&bytes, 1)[2].offset, bytes.len() - 3] {
        let path = place("many-cut");
        let id: DeviceId = device(1);
        let mut folder = Folder::make_as(&path.join("f"), id, &[1; 32], "Tablet", "Etc/UTC").unwrap();
        for n in 0..250 {
            put(&mut folder, 1_000 + n, tag(4));
        }
        let path = folder.path().to_path_buf();
        drop(folder);
        fs::write(path.join(book(1)), &bytes[..cut]).unwrap();
        let mut opened = Folder::open(&path).unwrap();
        opened.folder.seal().unwrap();
        drop(opened);
        assert_eq!(Folder::open(&path).unwrap().entries.len(), 250, "{cut}");
        assert_eq!(verify_folder(&path), [], "{cut}");
    }
}
