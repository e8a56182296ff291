//! Data folders: what was accepted is there after any restart, and damage is told and costs nothing that is readable.

mod yard;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::desk::Store;
use offshed_core::entry::Entry;
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::chain::{self, Block, Finding, HEAD, InBook};
use offshed_core::record::frame;
use offshed_depot::folder::{Folder, FolderFault, FolderFinding, Found, pack_hash, verify_folder};

use yard::{device, files, folder, lay, next, place, write};

type Files = BTreeMap<PathBuf, Vec<u8>>;

const JOURNAL: &str = "journal";

fn book(n: u8) -> PathBuf {
    Path::new("books").join(format!("{}.book", device(n)))
}

/// The files of a closed folder of device 1 after `act`.
fn shed(name: &str, act: impl FnOnce(&mut Folder)) -> Files {
    let mut folder = folder(name, 1);
    let path = folder.path().to_path_buf();
    act(&mut folder);
    drop(folder);
    files(&path)
}

/// A directory of this name with these files.
fn laid(name: &str, files: &Files) -> PathBuf {
    let path = place(name);
    lay(&path, files);
    path
}

fn texts(findings: &[FolderFinding]) -> String {
    findings.iter().map(|finding| format!("{finding}\n")).collect()
}

fn seqs(entries: &[Entry]) -> Vec<u32> {
    entries.iter().map(|entry| entry.at.seq).collect()
}

/// The blocks of a sound book of device 1.
fn blocks(bytes: &[u8]) -> Vec<Block<'_>> {
    let met = chain::walk_book(bytes, device(1), HEAD);
    met.map(|met| if let InBook::Block(block) = met { block } else { panic!("{met:?}") }).collect()
}

/// The ends of the frames of a journal.
fn ends(bytes: &[u8]) -> Vec<usize> {
    frame::walk(bytes, HEAD).map(|frame| frame.unwrap()).map(|frame| frame.offset + frame.bytes.len()).collect()
}

#[test]
fn entries_are_there_after_reopening() {
    let mut folder = folder("reopen", 1);
    let path = folder.path().to_path_buf();
    let mut written = Vec::new();
    for round in 0..3 {
        written.extend([write(&mut folder, "left glass"), write(&mut folder, "right glass")]);
        if round > 0 {
            assert!(folder.seal().unwrap().is_some());
            assert_eq!(folder.seal().unwrap(), None);
        }
        drop(folder);
        let opened = Folder::open(&path).unwrap();
        assert_eq!((&opened.entries, texts(&opened.findings).as_str()), (&written, ""));
        assert_eq!(opened.hlc(), written.last().unwrap().hlc);
        folder = opened.folder;
        assert_eq!(folder.last_seq(), written.len() as u32);
    }
    assert_eq!((folder.device(), folder.name(), folder.zone_name()), (device(1), "Shed tablet", "Etc/UTC"));
    folder.set_name("Cab tablet").unwrap();
    drop(folder);
    assert_eq!(Folder::open_read_only(&path).unwrap().folder.name(), "Cab tablet");
    assert_eq!(verify_folder(&path), []);
}

#[test]
fn a_journal_cut_at_every_byte_keeps_every_whole_entry() {
    let whole = shed("torn-from", |folder| {
        ["one", "two", "three"].iter().for_each(|words| drop(write(folder, words)));
    });
    let journal = &whole[Path::new(JOURNAL)];
    let ends = ends(journal);
    for cut in 0..journal.len() {
        let mut torn = whole.clone();
        torn.insert(JOURNAL.into(), journal[..cut].to_vec());
        let path = laid("torn", &torn);
        let kept = ends.iter().filter(|end| **end <= cut).count() as u32;
        let clean = cut == HEAD || ends.contains(&cut);

        let seen = Folder::open_read_only(&path).unwrap();
        assert_eq!((seqs(&seen.entries), seen.findings.is_empty()), ((1..=kept).collect(), clean), "{cut}");
        assert_eq!(files(&path), torn, "reading only writes nothing");

        let mut opened = Folder::open(&path).unwrap();
        assert_eq!((seqs(&opened.entries), opened.findings.is_empty()), ((1..=kept).collect(), clean), "{cut}");
        if cut > HEAD && !clean {
            let bytes = (cut - ends.iter().filter(|end| **end < cut).max().unwrap_or(&HEAD)) as u64;
            let [finding] = &opened.findings[..] else { panic!("{cut}: {}", texts(&opened.findings)) };
            assert_eq!(finding.what, Found::TornTail { bytes });
            let saved = finding.saved.as_ref().unwrap();
            assert_eq!(fs::read(path.join(saved)).unwrap(), journal[..cut]);
        }
        write(&mut opened.folder, "after");
        drop(opened);
        let again = Folder::open(&path).unwrap();
        assert_eq!((seqs(&again.entries), texts(&again.findings)), ((1..=kept + 1).collect(), String::new()));
    }
}

#[test]
fn a_damaged_place_in_the_journal_costs_one_entry() {
    let whole = shed("spot-from", |folder| {
        ["one", "two", "three"].iter().for_each(|words| drop(write(folder, words)));
    });
    let journal = &whole[Path::new(JOURNAL)];
    for at in 0..journal.len() {
        let mut spotted = whole.clone();
        spotted.get_mut(Path::new(JOURNAL)).unwrap()[at] ^= 0x10;
        let path = laid("spot", &spotted);
        let hit = ends(journal).iter().filter(|end| **end <= at).count() as u32 + 1;
        let expected: Vec<u32> = (1..=3).filter(|seq| at < HEAD || *seq != hit).collect();
        let mut opened = Folder::open(&path).unwrap();
        assert_eq!(seqs(&opened.entries), expected, "{at}");
        if (6..8).contains(&at) {
            // Bytes that mean nothing; they are put back.
            assert_eq!(texts(&opened.findings), "");
        } else {
            assert!(!opened.findings.is_empty(), "{at}");
        }
        write(&mut opened.folder, "after");
        opened.folder.seal().unwrap();
        drop(opened);
        assert!(fs::read_dir(path.join("damaged")).unwrap().count() == 1, "{at}");
        let again = Folder::open(&path).unwrap();
        let missing = |finding: &FolderFinding| {
            matches!(finding.what, Found::Missing { .. } | Found::Chain(Finding::Misplaced { .. }))
        };
        assert!(again.findings.iter().all(missing), "{at}: {}", texts(&again.findings));
        assert_eq!(again.entries.len(), expected.len() + 1);
    }
}

#[test]
fn a_flipped_bit_anywhere_in_a_book_is_told_and_costs_at_most_its_own_block() {
    let whole = shed("flip-from", |folder| {
        for words in ["one", "two", "three", "four"] {
            write(folder, words);
            if words != "three" {
                folder.seal().unwrap();
            }
        }
    });
    let bytes = whole[&book(1)].clone();
    let path = laid("flip", &whole);
    let blocks = blocks(&bytes);
    let seqs_of = |block: &Block<'_>| block.head.first..=block.head.last();
    let mut kept_in_signatures = 0;
    for at in 0..bytes.len() {
        let bit = at % 8;
        let mut flipped = bytes.clone();
        flipped[at] ^= 1 << bit;
        fs::write(path.join(book(1)), &flipped).unwrap();
        let told =
            |findings: &[FolderFinding]| findings.iter().any(|found| found.file == book(1) && !found.is_notice());
        // Bytes 6 and 7 mean nothing; bytes 4 and 5 are the version, and another version is not interpreted.
        assert_eq!(told(&verify_folder(&path)), !(6..8).contains(&at), "byte {at} bit {bit}");
        let opened = Folder::open_read_only(&path).unwrap();
        let hit = blocks.iter().position(|block| (block.offset..block.offset + block.bytes.len()).contains(&at));
        let lost = |seq: &u32| (4..6).contains(&at) || hit.is_some_and(|hit| seqs_of(&blocks[hit]).contains(seq));
        let expected: Vec<u32> = (1..=4).filter(|seq| !lost(seq)).collect();
        if let (true, Some(hit)) = (seqs(&opened.entries) == [1, 2, 3, 4], hit) {
            // Only the signature of a block that a later one vouches for is no loss.
            let block = &blocks[hit];
            let head = block.head.write().unwrap().len();
            let signature = block.offset + head..block.offset + head + 64;
            assert!(signature.contains(&at) && hit < blocks.len() - 1, "byte {at} bit {bit}");
            kept_in_signatures += 1;
        } else {
            assert_eq!(seqs(&opened.entries), expected, "byte {at} bit {bit}: {}", texts(&opened.findings));
            assert_eq!(told(&opened.findings), !(6..8).contains(&at), "byte {at} bit {bit}");
        }
    }
    assert_eq!(kept_in_signatures, 2 * 64);
}

#[test]
fn a_damaged_book_is_never_rewritten_and_grows() {
    let mut whole = shed("grow-from", |folder| {
        for words in ["one", "two", "three"] {
            write(folder, words);
            folder.seal().unwrap();
        }
    });
    let length = whole[&book(1)].len();
    for at in (HEAD..length).step_by(7).chain([0, 9]) {
        whole.get_mut(&book(1)).unwrap()[at] ^= 0x20;
        let path = laid("grow", &whole);
        let mut opened = Folder::open(&path).unwrap();
        assert!(opened.folder.next_seq() >= 4, "no count is used twice, byte {at}");
        let entry = write(&mut opened.folder, "four");
        opened.folder.seal().unwrap();
        drop(opened);
        let grown = fs::read(path.join(book(1))).unwrap();
        assert!(grown.len() > length && grown.starts_with(&whole[&book(1)]), "byte {at}");
        let again = Folder::open(&path).unwrap();
        assert_eq!(again.entries.last(), Some(&entry));
        assert!(again.entries.len() >= 3 && !verify_folder(&path).is_empty(), "byte {at}");
        whole.get_mut(&book(1)).unwrap()[at] ^= 0x20;
    }
}

#[test]
fn a_lost_block_is_told_and_the_rest_is_read() {
    let whole = shed("lost-from", |folder| {
        for words in ["one", "two", "three"] {
            write(folder, words);
            folder.seal().unwrap();
        }
    });
    let [_, second, third] = &blocks(&whole[&book(1)])[..] else { panic!() };
    let mut lost = whole.clone();
    lost.get_mut(&book(1)).unwrap().drain(second.offset..third.offset);
    let opened = Folder::open_read_only(&laid("lost", &lost)).unwrap();
    assert_eq!(seqs(&opened.entries), [1, 3]);
    let what: Vec<&Found> = opened.findings.iter().map(|finding| &finding.what).collect();
    assert!(what.contains(&&Found::Broken { number: 2 }), "{what:?}");
    assert!(what.contains(&&Found::Missing { first: 2, last: 2 }), "{what:?}");
}

/// The states that a power cut can leave between the steps of a seal, with two entries in an earlier block.
fn seal_states() -> Vec<(String, Files)> {
    let before = shed("seal-from", |folder| {
        ["one", "two"].iter().for_each(|words| drop(write(folder, words)));
        folder.seal().unwrap();
        ["three", "four"].iter().for_each(|words| drop(write(folder, words)));
    });
    let path = laid("seal-done", &before);
    Folder::open(&path).unwrap().folder.seal().unwrap();
    let after = files(&path);
    let (old, new) = (before[&book(1)].len(), after[&book(1)].clone());
    let mut states = Vec::new();
    for len in old..=new.len() {
        let mut state = before.clone();
        state.insert(book(1), new[..len].to_vec());
        states.push((format!("book cut at {len}"), state.clone()));
        let mut zeros = new[..len].to_vec();
        zeros.resize(new.len(), 0);
        state.insert(book(1), zeros);
        states.push((format!("book zeros from {len}"), state));
    }
    let mut renaming = before.clone();
    renaming.insert(book(1), new);
    renaming.insert("journal.part".into(), after[Path::new(JOURNAL)][..9].to_vec());
    states.push(("new journal half written".into(), renaming));
    states.push(("done".into(), after));
    states
}

#[test]
fn a_seal_interrupted_anywhere_loses_and_doubles_nothing() {
    let states = seal_states();
    let (unsealed, done) = (states[0].1[&book(1)].len(), states.last().unwrap().1.clone());
    for (state, files_then) in states {
        let path = laid("seal", &files_then);
        let seen = Folder::open_read_only(&path).unwrap();
        assert_eq!(seqs(&seen.entries), [1, 2, 3, 4], "{state}");
        let mut opened = Folder::open(&path).unwrap();
        assert_eq!(seqs(&opened.entries), [1, 2, 3, 4], "{state}");
        assert!(opened.findings.iter().all(FolderFinding::is_notice), "{state}: {}", texts(&opened.findings));
        write(&mut opened.folder, "five");
        opened.folder.seal().unwrap();
        drop(opened);
        assert_eq!(verify_folder(&path), [], "{state}");
        assert_eq!(seqs(&Folder::open_read_only(&path).unwrap().entries), [1, 2, 3, 4, 5], "{state}");
        // A block that was begun is finished as it was begun; one that was not takes in the later entry.
        let begun = files_then[&book(1)].len() > unsealed;
        let finished = fs::read(path.join(book(1))).unwrap().starts_with(&done[&book(1)]);
        assert_eq!(finished, begun, "{state}");
    }
}

#[test]
fn a_first_seal_interrupted_anywhere_is_finished() {
    let before = shed("first-from", |folder| {
        ["one", "two"].iter().for_each(|words| drop(write(folder, words)));
    });
    let path = laid("first-done", &before);
    Folder::open(&path).unwrap().folder.seal().unwrap();
    let new = files(&path)[&book(1)].clone();
    for len in 0..=new.len() {
        let mut state = before.clone();
        state.insert(book(1), new[..len].to_vec());
        let path = laid("first", &state);
        let mut folder = Folder::open(&path).unwrap().folder;
        folder.seal().unwrap();
        assert_eq!(fs::read(path.join(book(1))).unwrap(), new, "{len}");
        drop(folder);
        assert_eq!(verify_folder(&path), [], "{len}");
    }
}

#[test]
fn an_entry_damaged_in_the_book_and_still_in_the_journal_is_sealed_again() {
    let before = shed("again-from", |folder| {
        ["one", "two"].iter().for_each(|words| drop(write(folder, words)));
    });
    let path = laid("again-done", &before);
    Folder::open(&path).unwrap().folder.seal().unwrap();
    let mut state = before;
    state.insert(book(1), files(&path)[&book(1)].clone());
    *state.get_mut(&book(1)).unwrap().last_mut().unwrap() ^= 1;
    let path = laid("again", &state);
    let mut folder = Folder::open(&path).unwrap().folder;
    folder.seal().unwrap().unwrap();
    assert_eq!(folder.seal().unwrap(), None);
    drop(folder);
    assert_eq!(seqs(&Folder::open(&path).unwrap().entries), [1, 2]);
}

#[test]
fn one_process_writes_and_others_read() {
    let mut first = folder("lock", 1);
    let path = first.path().to_path_buf();
    let fault = Folder::open(&path).unwrap_err();
    assert!(matches!(&fault, FolderFault::InUse { path: named } if *named == path));
    assert!(fault.to_string().contains(path.to_str().unwrap()), "{fault}");
    write(&mut first, "one");
    let mut reader = Folder::open_read_only(&path).unwrap();
    assert_eq!(seqs(&reader.entries), [1]);
    let entry = next(&reader.folder, "two");
    let refused = reader.folder.append(&entry, entry.encode(&mut [0; ENTRY_BYTES]).unwrap());
    assert!(matches!(refused, Err(FolderFault::ReadOnly { .. })));
    assert!(matches!(reader.folder.seal(), Err(FolderFault::ReadOnly { .. })));
    assert!(matches!(reader.folder.add_pack(b"pack"), Err(FolderFault::ReadOnly { .. })));
    drop(first);
    assert!(Folder::open(&path).is_ok());
}

#[test]
fn a_folder_is_made_only_where_nothing_is() {
    let path = place("make");
    fs::write(path.join("letter.txt"), "to keep").unwrap();
    let before = files(&path);
    let fault = Folder::make(&path, "Tablet", "Etc/UTC").unwrap_err();
    assert!(matches!(&fault, FolderFault::NotEmpty { holds, .. } if holds == "letter.txt"), "{fault}");
    assert_eq!(files(&path), before);

    let path = path.join("new/deep");
    let first = Folder::make(&path, " Tablet ", "Etc/UTC").unwrap();
    assert_eq!(first.name(), "Tablet");
    let id = first.device();
    drop(first);
    assert!(matches!(Folder::make(&path, "Tablet", "Etc/UTC"), Err(FolderFault::Already { .. })));
    assert_eq!(Folder::open(&path).unwrap().folder.device(), id);
    assert_ne!(Folder::make(&place("make-other"), "Tablet", "Etc/UTC").unwrap().device(), id);
}

#[test]
fn an_interrupted_make_is_made_again() {
    let made = shed("half-from", |_| {});
    for missing in ["folder.toml", JOURNAL] {
        let mut half = made.clone();
        half.remove(Path::new("folder.toml"));
        half.remove(Path::new(missing));
        half.insert("folder.toml.part".into(), b"form".to_vec());
        let path = laid("half", &half);
        assert!(matches!(Folder::open(&path), Err(FolderFault::NotAFolder { .. })));
        Folder::make(&path, "Tablet", "Etc/UTC").unwrap();
        assert_eq!(verify_folder(&path), []);
    }
}

#[test]
fn names_that_cannot_be_kept_are_refused() {
    let path = place("names");
    for (name, zone) in
        [("", "Etc/UTC"), ("  ", "Etc/UTC"), ("a\nb", "Etc/UTC"), ("Tablet", ""), (&"n".repeat(41), "Etc/UTC")]
    {
        let refused = Folder::make(&path, name, zone);
        assert!(matches!(refused, Err(FolderFault::Name { .. })), "{name:?}");
    }
    assert!(files(&path).is_empty());
}

#[test]
fn settings_that_are_missing_or_not_understood_are_a_clear_error() {
    let whole = shed("settings-from", |folder| {
        write(folder, "one");
    });
    let missing = Path::new(env!("CARGO_TARGET_TMPDIR")).join("not-there");
    assert!(matches!(Folder::open(&missing), Err(FolderFault::Missing { .. })));
    let text = String::from_utf8(whole[Path::new("folder.toml")].clone()).unwrap();
    let cases = [
        (text.replace("format = 1", "format = 2"), "format 2"),
        (text.replace("format = 1", ""), "format"),
        (text.replace(&device(1).to_string(), "0123"), "16 hexadecimal digits"),
        (text.replace("zone", "zoned"), "zone"),
        (text.replace('"', ""), "line"),
        (String::new(), "format"),
    ];
    for (written, wanted) in cases {
        let mut bad = whole.clone();
        bad.insert("folder.toml".into(), written.clone().into_bytes());
        let path = laid("settings", &bad);
        for fault in [Folder::open(&path).unwrap_err(), Folder::open_read_only(&path).unwrap_err()] {
            let words = fault.to_string();
            assert!(words.contains("folder.toml") && words.contains(wanted), "{written}: {words}");
        }
        assert_eq!(files(&path), bad);
        assert!(!verify_folder(&path).is_empty());
    }
}

#[test]
fn what_the_disk_refuses_is_told_and_loses_nothing() {
    let mut folder = folder("refuse", 1);
    let path = folder.path().to_path_buf();
    let one = write(&mut folder, "one");
    fs::remove_dir(path.join("books")).unwrap();
    fs::write(path.join("books"), "in the way").unwrap();
    let words = folder.seal().unwrap_err().to_string();
    assert!(words.contains(path.join("books").to_str().unwrap()), "{words}");
    let two = write(&mut folder, "two");
    fs::remove_file(path.join("books")).unwrap();
    folder.seal().unwrap().unwrap();
    drop(folder);
    let opened = Folder::open(&path).unwrap();
    assert_eq!((opened.entries, texts(&opened.findings)), (vec![one, two], String::new()));
    drop(opened.folder);

    fs::remove_file(path.join(JOURNAL)).unwrap();
    fs::create_dir(path.join(JOURNAL)).unwrap();
    let words = Folder::open(&path).unwrap_err().to_string();
    assert!(words.contains("journal"), "{words}");
}

#[test]
fn a_missing_journal_is_told() {
    let mut whole = shed("nojournal-from", |folder| {
        write(folder, "one");
        folder.seal().unwrap();
    });
    whole.remove(Path::new(JOURNAL));
    let path = laid("nojournal", &whole);
    let opened = Folder::open(&path).unwrap();
    let what: Vec<&Found> = opened.findings.iter().map(|finding| &finding.what).collect();
    assert_eq!((what, seqs(&opened.entries)), (vec![&Found::NoJournal], vec![1]));
    drop(opened);
    assert_eq!(verify_folder(&path), []);
}

#[test]
fn a_record_of_a_newer_version_stops_writing_and_not_reading() {
    let mut whole = shed("newer-from", |folder| {
        write(folder, "one");
    });
    let mut buffer = [0; 32];
    let newer = frame::write(9, b"later", &mut buffer).unwrap();
    whole.get_mut(Path::new(JOURNAL)).unwrap().extend(newer);
    let path = laid("newer", &whole);
    assert!(matches!(Folder::open(&path), Err(FolderFault::Newer { .. })));
    let seen = Folder::open_read_only(&path).unwrap();
    assert_eq!(seqs(&seen.entries), [1]);
    assert!(matches!(seen.findings[0].what, Found::UnknownKind { kind: 9 }));
    assert_eq!(files(&path), whole);
}

#[test]
fn only_the_next_entry_of_this_device_is_taken() {
    let mut folder = folder("next", 1);
    let mut entry = next(&folder, "one");
    entry.at.seq = 2;
    let mut foreign = next(&folder, "one");
    foreign.at.device = device(2);
    for entry in [entry, foreign] {
        let refused = folder.append(&entry, entry.encode(&mut [0; ENTRY_BYTES]).unwrap());
        assert!(matches!(refused, Err(FolderFault::NotNext { .. })));
    }
    assert_eq!(folder.last_seq(), 0);
}

#[test]
fn a_copied_folder_gets_an_identity_of_its_own() {
    let whole = shed("copy-from", |folder| {
        write(folder, "one");
        folder.seal().unwrap();
        write(folder, "two");
    });
    let path = laid("copy", &whole);
    let mut folder = Folder::open(&path).unwrap().folder;
    let id = folder.new_identity().unwrap();
    assert_ne!(id, device(1));
    assert_eq!((folder.device(), folder.next_seq()), (id, 1));
    write(&mut folder, "of the copy");
    folder.seal().unwrap();
    drop(folder);
    let opened = Folder::open(&path).unwrap();
    assert_eq!((opened.entries.len(), texts(&opened.findings)), (3, String::new()));
    assert_eq!((opened.folder.device(), opened.folder.next_seq()), (id, 2));
}

#[test]
fn an_interrupted_change_of_identity_loses_nothing() {
    let whole = shed("change-from", |folder| {
        ["one", "two"].iter().for_each(|words| drop(write(folder, words)));
    });
    let mut changed = whole.clone();
    let text = String::from_utf8(whole[Path::new("folder.toml")].clone()).unwrap();
    let text = text.replace(&device(1).to_string(), &device(9).to_string());
    changed.insert("folder.toml".into(), text.into_bytes());
    let path = laid("change", &changed);
    let mut folder = Folder::open(&path).unwrap().folder;
    assert_eq!((folder.device(), folder.next_seq()), (device(9), 1));
    write(&mut folder, "of the new");
    drop(folder);
    let opened = Folder::open(&path).unwrap();
    assert_eq!((opened.entries.len(), texts(&opened.findings)), (3, String::new()));
    assert_eq!(opened.entries.iter().filter(|entry| entry.at.device == device(1)).count(), 2);
}

#[test]
fn packs_are_what_their_names_say() {
    let mut folder = folder("packs", 1);
    let path = folder.path().to_path_buf();
    let hash = folder.add_pack(b"rules").unwrap();
    assert_eq!((hash, folder.add_pack(b"rules").unwrap()), (pack_hash(b"rules"), hash));
    // SHA-256 of "rules", by Python's hashlib.
    let name = "packs/6c621d1a05138a7888d37d9269a9da8e2e11e4aced2f6cfd24b05ab1b9e61bb0.pack";
    assert!(path.join(name).is_file());
    assert_eq!(folder.pack(hash).unwrap().as_deref(), Some(b"rules".as_slice()));
    assert_eq!((folder.packs().unwrap(), folder.pack(pack_hash(b"other")).unwrap()), (vec![hash], None));

    fs::write(path.join(name), b"rulez").unwrap();
    let fault = folder.pack(hash).unwrap_err();
    assert!(matches!(fault, FolderFault::PackDiffers { found, .. } if found == pack_hash(b"rulez")));
    assert!(matches!(verify_folder(&path)[..], [FolderFinding { what: Found::PackDiffers { .. }, .. }]));
    folder.add_pack(b"rules").unwrap();
    assert_eq!(folder.pack(hash).unwrap().as_deref(), Some(b"rules".as_slice()));
    assert!(files(&path).iter().any(|(file, bytes)| file.starts_with("damaged") && bytes == b"rulez"));
}

#[test]
fn files_that_are_nobodys_are_left_alone() {
    let mut whole = shed("stray-from", |folder| {
        write(folder, "one");
    });
    whole.insert("books/holiday.jpg".into(), b"sea".to_vec());
    whole.insert("packs/notes.txt".into(), b"note".to_vec());
    let path = laid("stray", &whole);
    drop(Folder::open(&path).unwrap());
    assert_eq!(files(&path), whole);
    let findings = verify_folder(&path);
    assert!(findings.len() == 2 && findings.iter().all(|finding| finding.what == Found::StrayFile), "{findings:?}");
}

#[test]
fn a_fork_is_told_and_every_folder_takes_the_same_history() {
    let base = shed("fork-from", |folder| {
        write(folder, "one");
        folder.seal().unwrap();
    });
    let branch = |words: &str| {
        let path = laid("fork-branch", &base);
        let mut folder = Folder::open(&path).unwrap().folder;
        write(&mut folder, words);
        write(&mut folder, "three");
        folder.seal().unwrap();
        drop(folder);
        files(&path)[&book(1)].clone()
    };
    let (left, right) = (branch("left"), branch("right"));
    let fork = Path::new("books").join(format!("{}.fork-00aa11bb.book", device(1)));
    let mut taken = Vec::new();
    for (main, other) in [(&left, &right), (&right, &left)] {
        let mut both = base.clone();
        both.insert(book(1), main.clone());
        both.insert(fork.clone(), other.clone());
        let opened = Folder::open_read_only(&laid("fork", &both)).unwrap();
        let [finding] = &opened.findings[..] else { panic!("{}", texts(&opened.findings)) };
        let Found::Fork { entry, entries: 1, .. } = &finding.what else { panic!("{finding}") };
        assert_eq!((entry.device, entry.seq, opened.entries.len()), (device(1), 2, 3));
        assert!(finding.to_string().contains(&device(1).to_string()));
        taken.push(opened.entries);
    }
    assert_eq!(taken[0], taken[1]);
}

/// A damaged head is no reason to take another device's records for one's own.
#[test]
fn a_book_is_read_by_the_name_of_its_file() {
    let mut whole = shed("name-from", |folder| {
        write(folder, "one");
        folder.seal().unwrap();
    });
    let bytes = whole[&book(1)].clone();
    whole.insert(book(2), bytes);
    let opened = Folder::open_read_only(&laid("name", &whole)).unwrap();
    assert_eq!(seqs(&opened.entries), [1]);
    let heads = |finding: &&FolderFinding| matches!(finding.what, Found::HeadDevice { found } if found == device(1));
    assert_eq!(opened.findings.iter().filter(heads).count(), 1);
    assert_eq!(chain::HEAD, 16);
}
