//! Sync: union, in any order, as often as one likes, interrupted anywhere; nothing readable is ever written over, and two
//! histories of one device are both kept and told.

mod yard;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::entry::Entry;
use offshed_core::ident::EntryRef;
use offshed_core::ident::PersonId;
use offshed_core::record::chain::{HEAD, InBook, walk_book};
use offshed_depot::folder::{Folder, FolderFault, FolderFinding, Found, PinCost, pack_hash, verify_folder};
use offshed_depot::sync::{SyncReport, sync, sync_with_dir};
use proptest::prelude::*;

use yard::{device, files, folder, lay, place, write};

type Files = BTreeMap<PathBuf, Vec<u8>>;

fn entries(folder: &Folder) -> Vec<Entry> {
    let (entries, findings) = folder.read_again().unwrap();
    let findings = wrong(findings);
    assert!(findings.is_empty(), "{findings:?}");
    entries
}

/// The books and packs of a folder or directory.
fn carried(root: &Path) -> Files {
    let carried = |path: &PathBuf| path.starts_with("books") || path.starts_with("packs");
    files(root).into_iter().filter(|(path, _)| carried(path)).collect()
}

fn book(n: u8) -> PathBuf {
    Path::new("books").join(format!("{}.book", device(n)))
}

/// Two of a list of folders.
fn pair(folders: &mut [Folder], a: usize, b: usize) -> (&mut Folder, &mut Folder) {
    let [a, b] = folders.get_disjoint_mut([a, b]).unwrap();
    (a, b)
}

fn said(report: &SyncReport) -> Vec<&Found> {
    report.findings.iter().map(|finding: &FolderFinding| &finding.what).collect()
}

/// Where the blocks of a sound book of device 1 start, and where the last one ends.
fn starts(bytes: &[u8]) -> Vec<usize> {
    let starts = walk_book(bytes, device(1), HEAD).map(|met| match met {
        InBook::Block(block) => block.offset,
        InBook::Damaged(damage) => panic!("{damage:?}"),
    });
    starts.chain([bytes.len()]).collect()
}

#[test]
fn what_is_missing_goes_both_ways_and_then_nothing() {
    let (mut shed, mut cab) = (folder("both-shed", 1), folder("both-cab", 2));
    ["one", "two"].iter().for_each(|words| drop(write(&mut shed, words)));
    write(&mut cab, "three");
    shed.add_pack(b"rules").unwrap();
    let report = sync(&mut shed, &mut cab).unwrap();
    assert_eq!((report.into_first.entries(), report.into_second.entries()), (1, 2));
    let came = report.into_second.books[0];
    assert_eq!((came.device, came.bytes), (device(1), carried(shed.path())[&book(1)].len() as u64));
    assert_eq!((&report.into_first.packs, &report.into_second.packs), (&vec![], &vec![pack_hash(b"rules")]));
    assert_eq!((entries(&shed).len(), entries(&shed)), (3, entries(&cab)));
    assert_eq!(carried(shed.path()), carried(cab.path()));
    let again = sync(&mut shed, &mut cab).unwrap();
    assert!(again.is_quiet() && again.findings.is_empty());
    write(&mut cab, "four");
    let report = sync(&mut shed, &mut cab).unwrap();
    assert_eq!((report.into_first.entries(), report.into_second.entries()), (1, 0));
    assert!(wrong(verify_folder(shed.path())).is_empty() && wrong(verify_folder(cab.path())).is_empty());
}

#[test]
fn three_folders_converge_in_every_order() {
    let pairs = [(0, 1), (0, 2), (1, 2)];
    let orders = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];
    let mut results = BTreeSet::new();
    for order in orders {
        let mut folders = [1, 2, 3].map(|n| folder(&format!("order-{n}"), n));
        for (n, folder) in folders.iter_mut().enumerate() {
            (0..=n).for_each(|_| drop(write(folder, "done")));
            folder.add_pack(&[n as u8]).unwrap();
        }
        for n in order.into_iter().chain(order) {
            let (a, b) = pair(&mut folders, pairs[n].0, pairs[n].1);
            assert!(sync(a, b).unwrap().findings.is_empty());
        }
        for (a, b) in pairs {
            let (a, b) = pair(&mut folders, a, b);
            assert!(sync(a, b).unwrap().is_quiet());
        }
        folders.iter().for_each(|folder| assert_eq!(entries(folder).len(), 6));
        results.extend(folders.iter().map(|folder| carried(folder.path())));
    }
    assert_eq!(results.len(), 1);
}

#[derive(Clone, Debug)]
enum Act {
    Write(usize),
    Seal(usize),
    Reopen(usize),
    Sync(usize, usize),
    Stick(usize),
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let who = 0..3usize;
    let act = prop_oneof![
        4 => who.clone().prop_map(Act::Write),
        1 => who.clone().prop_map(Act::Seal),
        1 => who.clone().prop_map(Act::Reopen),
        2 => (who.clone(), 1..3usize).prop_map(|(a, by)| Act::Sync(a, (a + by) % 3)),
        2 => who.prop_map(Act::Stick),
    ];
    prop::collection::vec(act, 1..24)
}

/// Every file that was there is there, and starts with what it was.
/// What was told beyond keys that nobody has confirmed.
fn wrong(findings: Vec<FolderFinding>) -> Vec<FolderFinding> {
    findings.into_iter().filter(|finding| !matches!(finding.what, Found::UnknownKey { .. })).collect()
}

fn nothing_written_over(before: &Files, after: &Files) {
    for (path, bytes) in before {
        assert!(after.get(path).is_some_and(|now| now.starts_with(bytes)), "{}", path.display());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_order_of_acts_ends_in_the_union(acts in acts()) {
        let mut folders = [1, 2, 3].map(|n| folder(&format!("acts-{n}"), n)).map(Some);
        let stick = place("acts-stick");
        let mut written: BTreeMap<EntryRef, Entry> = BTreeMap::new();
        let root = |folders: &[Option<Folder>; 3], n: usize| folders[n].as_ref().unwrap().path().to_path_buf();
        let all = |folders: &[Option<Folder>; 3]| {
            [0, 1, 2].map(|n| carried(&root(folders, n))).into_iter().chain([carried(&stick)]).collect::<Vec<_>>()
        };
        let finish = [(0, 1), (1, 2), (0, 2)].into_iter().map(|(a, b)| Act::Sync(a, b));
        for act in acts.into_iter().chain(finish) {
            let before = all(&folders);
            match act {
                Act::Write(n) => {
                    let entry = write(folders[n].as_mut().unwrap(), "done");
                    written.insert(entry.at, entry);
                }
                Act::Seal(n) => drop(folders[n].as_mut().unwrap().seal().unwrap()),
                Act::Reopen(n) => {
                    let path = root(&folders, n);
                    folders[n] = None;
                    folders[n] = Some(Folder::open(&path).unwrap().folder);
                }
                Act::Sync(a, b) => {
                    let [a, b] = folders.get_disjoint_mut([a, b]).unwrap();
                    let report = sync(a.as_mut().unwrap(), b.as_mut().unwrap()).unwrap();
                    prop_assert!(report.findings.is_empty());
                }
                Act::Stick(n) => {
                    let report = sync_with_dir(folders[n].as_mut().unwrap(), &stick).unwrap();
                    prop_assert!(report.findings.is_empty());
                }
            }
            before.iter().zip(&all(&folders)).for_each(|(before, after)| nothing_written_over(before, after));
        }
        let mut expected: Vec<Entry> = written.into_values().collect();
        expected.sort_by_key(Entry::order);
        for folder in folders.iter().flatten() {
            prop_assert_eq!(&entries(folder), &expected);
        }
    }
}

#[test]
fn a_copy_interrupted_at_any_byte_is_gone_on_with() {
    let mut shed = folder("cut-shed", 1);
    write(&mut shed, "one");
    shed.seal().unwrap();
    ["two", "three"].iter().for_each(|words| drop(write(&mut shed, words)));
    shed.seal().unwrap();
    let whole = fs::read(shed.path().join(book(1))).unwrap();
    for cut in 0..whole.len() {
        let mut cab = folder("cut-cab", 2);
        fs::write(cab.path().join(book(1)), &whole[..cut]).unwrap();
        // A third folder that meets the cut copy first takes what is whole of it.
        let mut yard = folder("cut-yard", 3);
        sync(&mut cab, &mut yard).unwrap();
        assert_eq!(carried(yard.path()).len(), usize::from(cut >= starts(&whole)[1]), "{cut}");
        for folder in [&mut cab, &mut yard] {
            let report = sync(&mut shed, folder).unwrap();
            assert!(report.findings.is_empty() && report.into_first.is_empty(), "{cut}: {report:?}");
            assert_eq!(fs::read(folder.path().join(book(1))).unwrap(), whole, "{cut}");
            assert_eq!(carried(folder.path()).len(), 1);
        }
    }
}

/// A folder of device 1 with one sealed entry, and a copy of it, both closed.
fn twins(name: &str) -> (PathBuf, PathBuf) {
    let mut first = folder(&format!("{name}-first"), 1);
    write(&mut first, "one");
    first.seal().unwrap();
    let path = first.path().to_path_buf();
    drop(first);
    let copy = place(&format!("{name}-copy"));
    lay(&copy, &files(&path));
    (path, copy)
}

#[test]
fn a_fork_is_kept_told_and_taken_alike_everywhere() {
    let (first, copy) = twins("fork");
    let (mut first, mut copy) = (Folder::open(&first).unwrap().folder, Folder::open(&copy).unwrap().folder);
    let refused = sync(&mut first, &mut copy).unwrap_err();
    assert!(matches!(refused, FolderFault::SameDevice { device: same } if same == device(1)));
    ["left", "left too"].iter().for_each(|words| drop(write(&mut first, words)));
    write(&mut copy, "right");
    let stick = place("fork-stick");
    assert!(sync_with_dir(&mut first, &stick).unwrap().findings.is_empty());
    let before = (carried(first.path()), carried(copy.path()), carried(&stick));
    let report = sync_with_dir(&mut copy, &stick).unwrap();
    assert!(said(&report).iter().all(|what| matches!(what, Found::KeptBeside { .. })), "{report:?}");
    assert_eq!(report.findings.len(), 2);
    assert!(report.findings[0].to_string().contains(&device(1).to_string()));
    sync_with_dir(&mut first, &stick).unwrap();
    nothing_written_over(&before.0, &carried(first.path()));
    nothing_written_over(&before.2, &carried(&stick));

    let contents = |root: &Path| carried(root).into_values().collect::<BTreeSet<_>>();
    assert_eq!((contents(first.path()), contents(copy.path())), (contents(&stick), contents(&stick)));
    assert_eq!(contents(&stick).len(), 2);
    let (of_first, told) = first.read_again().unwrap();
    let (of_copy, _) = copy.read_again().unwrap();
    assert_eq!((of_first.len(), &of_first), (3, &of_copy));
    assert!(matches!(told[..], [FolderFinding { what: Found::Fork { entries: 1, .. }, .. }]), "{told:?}");
    for folder in [&mut first, &mut copy] {
        assert!(sync_with_dir(folder, &stick).unwrap().is_quiet());
    }
    nothing_written_over(&before.1, &carried(copy.path()));
}

#[test]
fn both_sides_of_a_fork_grow_where_they_are() {
    let (first, copy) = twins("grow");
    let (mut first, mut copy) = (Folder::open(&first).unwrap().folder, Folder::open(&copy).unwrap().folder);
    write(&mut first, "left");
    write(&mut copy, "right");
    let mut yard = folder("grow-yard", 3);
    for round in 0..3 {
        sync(&mut first, &mut yard).unwrap();
        sync(&mut copy, &mut yard).unwrap();
        let of_device = carried(yard.path()).keys().filter(|path| path.to_str().unwrap().contains("0101")).count();
        assert_eq!(of_device, 2, "{round}");
        write(&mut first, "left on");
        write(&mut copy, "right on");
    }
}

#[test]
fn an_older_copy_is_told_and_counts_on_from_what_it_meets() {
    let (first, copy) = twins("older");
    let mut first = Folder::open(&first).unwrap().folder;
    ["two", "three"].iter().for_each(|words| drop(write(&mut first, words)));
    let mut cab = folder("older-cab", 2);
    sync(&mut first, &mut cab).unwrap();
    drop(first);
    let mut copy = Folder::open(&copy).unwrap().folder;
    assert_eq!(copy.next_seq(), 2);
    let report = sync(&mut copy, &mut cab).unwrap();
    assert_eq!(said(&report), [&Found::OwnBookElsewhere]);
    assert_eq!(copy.next_seq(), 4);
    write(&mut copy, "four");
    sync(&mut copy, &mut cab).unwrap();
    assert_eq!(entries(&copy).len(), 4);
    assert_eq!(entries(&copy), entries(&cab));
    assert_eq!(wrong(verify_folder(copy.path())), []);
}

#[test]
fn a_damaged_copy_brings_what_is_sound_and_spoils_nothing() {
    let mut shed = folder("spoil-shed", 1);
    for words in ["one", "two", "three"] {
        write(&mut shed, words);
        shed.seal().unwrap();
    }
    let whole = fs::read(shed.path().join(book(1))).unwrap();
    let second = starts(&whole)[1];
    let stick = place("spoil-stick");
    let mut spoilt = whole.clone();
    spoilt[second + 130] ^= 0x40;
    lay(&stick, &BTreeMap::from([(book(1), spoilt.clone())]));

    // Who has the sound book takes nothing, and the stick gets a sound one beside the damaged one.
    let report = sync_with_dir(&mut shed, &stick).unwrap();
    assert_eq!(fs::read(shed.path().join(book(1))).unwrap(), whole);
    assert_eq!((report.into_first.is_empty(), carried(shed.path()).len()), (true, 1));
    assert!(said(&report).contains(&&Found::NothingNew), "{report:?}");
    assert_eq!((fs::read(stick.join(book(1))).unwrap(), carried(&stick).len()), (spoilt.clone(), 2));

    // Who has nothing gets all that is sound, even of the damaged one alone.
    let alone = place("spoil-alone");
    lay(&alone, &BTreeMap::from([(book(1), spoilt)]));
    let mut cab = folder("spoil-cab", 2);
    sync_with_dir(&mut cab, &alone).unwrap();
    let (read, told) = cab.read_again().unwrap();
    let seqs: Vec<u32> = read.iter().map(|entry| entry.at.seq).collect();
    assert!(seqs == [1, 3] && !told.is_empty());
    sync_with_dir(&mut cab, &stick).unwrap();
    assert_eq!(cab.read_again().unwrap().0.len(), 3);
    assert!(sync_with_dir(&mut cab, &stick).unwrap().is_quiet());
}

#[test]
fn every_flipped_byte_on_a_stick_leaves_the_sound_book_sound() {
    let mut shed = folder("stick-shed", 1);
    for words in ["one", "two"] {
        write(&mut shed, words);
        shed.seal().unwrap();
    }
    let whole = fs::read(shed.path().join(book(1))).unwrap();
    for at in (0..whole.len()).step_by(5) {
        let stick = place("stick-stick");
        let mut flipped = whole.clone();
        flipped[at] ^= 0x04;
        lay(&stick, &BTreeMap::from([(book(1), flipped)]));
        let mut yard = folder("stick-yard", 3);
        for _ in 0..2 {
            sync_with_dir(&mut shed, &stick).unwrap();
            sync_with_dir(&mut yard, &stick).unwrap();
        }
        assert_eq!(fs::read(shed.path().join(book(1))).unwrap(), whole, "{at}");
        for folder in [&shed, &yard] {
            assert_eq!(folder.read_again().unwrap().0.len(), 2, "{at}");
        }
    }
}

#[test]
fn only_books_and_packs_travel() {
    let (mut shed, mut cab) = (folder("only-shed", 1), folder("only-cab", 2));
    shed.set_pin_cost(PinCost::iterations(1));
    shed.set_pin(PersonId(7), "4711").unwrap();
    shed.check_pin(PersonId(7), "0000", offshed_core::stamp::Stamp(0)).unwrap_err();
    write(&mut shed, "one");
    shed.add_pack(b"rules").unwrap();
    let settings = files(cab.path())[Path::new("folder.toml")].clone();
    let stick = place("only-stick");
    sync(&mut shed, &mut cab).unwrap();
    sync_with_dir(&mut shed, &stick).unwrap();
    let expected: Vec<PathBuf> = carried(shed.path()).into_keys().collect();
    assert_eq!(files(&stick).into_keys().collect::<Vec<_>>(), expected);
    assert!(!cab.has_pin(PersonId(7)).unwrap());
    assert_eq!(files(cab.path())[Path::new("folder.toml")], settings);
    assert!(files(shed.path()).contains_key(Path::new("tries.toml")));
}

#[test]
fn a_damaged_pack_is_not_carried_and_a_sound_one_takes_its_place() {
    let (mut shed, mut cab) = (folder("pack-shed", 1), folder("pack-cab", 2));
    let hash = shed.add_pack(b"rules").unwrap();
    let file = format!("packs/{hash:#}.pack");
    fs::write(shed.path().join(&file), "rulez").unwrap();
    let report = sync(&mut shed, &mut cab).unwrap();
    assert!(matches!(said(&report)[..], [Found::PackDiffers { .. }]));
    assert!(report.is_quiet() && cab.pack(hash).unwrap().is_none());
    cab.add_pack(b"rules").unwrap();
    let report = sync(&mut shed, &mut cab).unwrap();
    assert!(said(&report).contains(&&Found::PackRenewed), "{report:?}");
    assert_eq!(shed.pack(hash).unwrap().as_deref(), Some(b"rules".as_slice()));
    assert!(sync(&mut shed, &mut cab).unwrap().findings.is_empty());
}

#[test]
fn a_directory_that_is_missing_or_a_data_folder_is_refused() {
    let (mut shed, cab) = (folder("dir-shed", 1), folder("dir-cab", 2));
    write(&mut shed, "one");
    let missing = shed.path().join("not-there");
    let before = files(cab.path());
    assert!(matches!(sync_with_dir(&mut shed, &missing), Err(FolderFault::Missing { .. })));
    assert!(matches!(sync_with_dir(&mut shed, cab.path()), Err(FolderFault::Already { .. })));
    assert_eq!((files(cab.path()), missing.exists()), (before, false));
}

#[test]
fn a_book_of_another_version_is_carried_as_it_is() {
    let (mut shed, mut cab) = (folder("version-shed", 1), folder("version-cab", 2));
    let mut later = b"OSBK\x02\x00\x00\x00".to_vec();
    later.extend([9; 8]);
    later.extend(b"of a later day");
    fs::write(shed.path().join(book(9)), &later).unwrap();
    sync(&mut shed, &mut cab).unwrap();
    assert_eq!(fs::read(cab.path().join(book(9))).unwrap(), later);
    later.extend(b", and more");
    fs::write(shed.path().join(book(9)), &later).unwrap();
    assert!(sync(&mut shed, &mut cab).unwrap().findings.is_empty());
    assert_eq!(fs::read(cab.path().join(book(9))).unwrap(), later);
}

#[test]
fn a_sync_that_the_disk_refuses_is_told_and_done_again() {
    let (mut shed, mut cab) = (folder("refuse-shed", 1), folder("refuse-cab", 2));
    write(&mut shed, "one");
    write(&mut cab, "two");
    fs::remove_dir(cab.path().join("books")).unwrap();
    fs::write(cab.path().join("books"), "in the way").unwrap();
    let words = sync(&mut shed, &mut cab).unwrap_err().to_string();
    assert!(words.contains("books"), "{words}");
    fs::remove_file(cab.path().join("books")).unwrap();
    sync(&mut shed, &mut cab).unwrap();
    assert_eq!(entries(&shed).len(), 2);
    assert_eq!(entries(&shed), entries(&cab));
}
