//! What is torn, changed or not the office's is refused with words, and nothing is lost by it.

use super::*;

/// A card pulled after any byte that is written to it: the next time the book on it is the whole one, and what stands there
/// meanwhile is taken in by an office without a word but of what is torn.
#[test]
fn a_card_may_be_pulled_at_any_byte() {
    let Worked { office, flash, hands } = worked();
    drop(hands);
    let whole = tempfile::tempdir().unwrap();
    fs::create_dir(whole.path().join(names::FOLDER)).unwrap();
    let mut store = mounted(flash);
    let report = store.exchange(&mut CardDir::new(whole.path()), None);
    assert!(report.given.is_ok_and(|given| given > 50), "{report}");
    let path = names::book(IDENTITY.device, 0);
    let wanted = fs::read(whole.path().join(path.as_str())).unwrap();
    for pulled in 0..wanted.len() {
        let card = tempfile::tempdir().unwrap();
        fs::create_dir(card.path().join(names::FOLDER)).unwrap();
        let mut dir = CardDir::new(card.path());
        dir.pulled_after = Some(pulled);
        let report = store.exchange(&mut dir, None);
        assert_eq!(report.given, Err(GiveFault::Card(CardFault::Gone)), "{pulled}: {report}");
        assert!(report.to_string().contains("Nothing is lost"), "{report}");
        let left = fs::read(card.path().join(path.as_str())).unwrap_or_default();
        assert_eq!(left, wanted[..pulled]);
        let report = store.exchange(&mut CardDir::new(card.path()), None);
        assert!(report.given.is_ok(), "{pulled}: {report}");
        assert_eq!(fs::read(card.path().join(path.as_str())).unwrap(), wanted, "{pulled}");
    }
    // An office that meets a card that was pulled takes what is whole, and takes the rest the next time.
    let mut shed = office.shed;
    let card = office.temp.path().join("torn");
    for pulled in [10, 16, 200, wanted.len() - 1, wanted.len()] {
        let at = card.join(path.as_str());
        fs::create_dir_all(at.parent().unwrap()).unwrap();
        fs::write(&at, &wanted[..pulled]).unwrap();
        let now = REST.at("2026-05-02 09:29");
        card::exchange(&mut shed, &card, now, None).unwrap_or_else(|fault| panic!("{fault}"));
        let came = shed.ledger().entries().filter(|entry| entry.at.device == IDENTITY.device).count();
        assert_eq!(came == mounted(flash).last() as usize, pulled == wanted.len(), "{came} entries of {pulled} bytes");
    }
}

/// A shift file on a card, changed.
fn changed(card: &Path, change: impl FnOnce(&mut Vec<u8>)) {
    let path = card.join(names::SHIFT);
    let mut bytes = fs::read(&path).unwrap();
    change(&mut bytes);
    fs::write(&path, bytes).unwrap();
}

/// Signs a shift file anew with another key.
fn signed_by(seed: u8, bytes: &mut [u8], change: impl FnOnce(&mut ShiftHead)) {
    let signer = Signer::from_seed(&[seed; 32]);
    let mut head = ShiftHead::read(bytes).unwrap();
    head.key = signer.key();
    change(&mut head);
    bytes[..HEAD].copy_from_slice(&head.write(&signer));
}

#[test]
fn what_is_not_the_offices_is_refused_with_words() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let card = office.card();
    let sound = fs::read(card.join(names::SHIFT)).unwrap();
    let flash = new_flash(256);
    let meet = |card: &Path| {
        let report = mounted(flash).exchange(&mut CardDir::new(card), None);
        (report, report.to_string())
    };
    // A card of somebody else: nothing is written to it.
    let foreign = tempfile::tempdir().unwrap();
    let (report, words) = meet(foreign.path());
    assert_eq!((report.given, report.taken), (Err(GiveFault::Foreign), Err(ShiftRefused::None)));
    assert!(
        words.contains("not from an office of ours") && fs::read_dir(foreign.path()).unwrap().count() == 0,
        "{words}"
    );
    let (report, _) = meet(Path::new("/nowhere"));
    assert_eq!(report.given, Err(GiveFault::Card(CardFault::Gone)));

    let refused = |change: &dyn Fn(&mut Vec<u8>), fault: ShiftRefused, says: &str| {
        fs::write(card.join(names::SHIFT), &sound).unwrap();
        changed(&card, change);
        let (report, words) = meet(&card);
        assert_eq!(report.taken, Err(fault), "{words}");
        assert!(words.contains(says), "{words}");
    };
    let newer = ShiftRefused::Fault(ShiftFault::Newer(2));
    refused(&|bytes| bytes[6] = 2, newer, "of version 2, and this device reads 1");
    refused(&|bytes| bytes[150] ^= 1, ShiftRefused::Fault(ShiftFault::Signature), "signature is wrong");
    refused(&|bytes| bytes[20] ^= 1, ShiftRefused::Fault(ShiftFault::Signature), "signature is wrong");
    let last = sound.len() - 1;
    refused(&|bytes| bytes[last] ^= 1, ShiftRefused::Fault(ShiftFault::Differs), "damaged or cut short");
    let (want, got) = (sound.len() as u32, last as u32);
    refused(
        &|bytes| bytes.truncate(last),
        ShiftRefused::Fault(ShiftFault::Short { want, got }),
        "damaged or cut short",
    );
    refused(
        &|bytes| bytes.truncate(3),
        ShiftRefused::Fault(ShiftFault::Short { want: HEAD as u32, got: 3 }),
        "cut short",
    );
    refused(&|bytes| bytes[0] = b'X', ShiftRefused::Fault(ShiftFault::Magic), "damaged");
    fs::remove_file(card.join(names::SHIFT)).unwrap();
    assert_eq!(meet(&card).0.taken, Err(ShiftRefused::None));
    // An office that was interrupted left the new file under its other name.
    fs::write(card.join(names::SHIFT_PART), &sound).unwrap();
    assert!(matches!(meet(&card).0.taken, Ok(Taken::First { .. })));
    fs::rename(card.join(names::SHIFT_PART), card.join(names::SHIFT)).unwrap();
    assert_eq!(meet(&card).0.taken, Ok(Taken::Same));

    // From here on an office is trusted, and no other.
    let refused = |change: &dyn Fn(&mut Vec<u8>), says: &str| {
        fs::write(card.join(names::SHIFT), &sound).unwrap();
        changed(&card, change);
        let (report, words) = meet(&card);
        assert!(words.contains(says), "{words}");
        report.taken
    };
    let key = Signer::from_seed(&[7; 32]).key();
    let taken = refused(&|bytes| signed_by(7, bytes, |_| {}), "from another office, whose key is");
    assert_eq!(taken, Err(ShiftRefused::Untrusted(key)));
    office.meets("2026-05-02 06:20");
    assert!(matches!(meet(&card).0.taken, Ok(Taken::New { .. })));
    office.meets("2026-05-02 06:10");
    assert!(matches!(meet(&card).0.taken, Err(ShiftRefused::Older(_))));
    // It works on by what it had.
    assert_eq!(mounted(flash).judged().map(|(stated, _)| stated), Some(REST.at("2026-05-02 06:20")));
}

#[test]
fn other_rules_wait_until_the_office_has_what_was_recorded_under_the_old_ones() {
    let Worked { mut office, flash, hands } = worked();
    drop(hands);
    let card = office.card();
    // The office adopts another edition.
    let folder = office.shed.folder().path().to_path_buf();
    let source = demo::write_sources(&folder).expect("sources").join("practice");
    let text = fs::read_to_string(source.join("pack.toml")).unwrap();
    assert!(text.contains("2026-1"));
    fs::write(source.join("pack.toml"), text.replace("2026-1", "2026-2")).unwrap();
    let compiled = offshed_depot::authoring::compile_folder(&source).unwrap_or_else(|_| panic!("it compiles"));
    let pack = office.shed.add_pack(compiled.bytes).unwrap_or_else(|denial| panic!("{denial:?}"));
    let adopted = What::Registered(offshed_core::entry::Fact::PackAdopted { pack });
    let now = Now::good(REST.at("2026-05-02 09:29"));
    office.shed.act(adopted, PersonId(1), now).unwrap_or_else(|denial| panic!("{denial:?}"));
    office.meets("2026-05-02 09:29");
    let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
    assert_eq!(report.taken, Err(ShiftRefused::OtherPack), "{report}");
    assert!(report.given.is_ok_and(|given| given > 50) && report.to_string().contains("has other rules"), "{report}");
    office.meets("2026-05-02 09:30");
    let report = mounted(flash).exchange(&mut CardDir::new(&card), None);
    assert!(matches!(report.taken, Ok(Taken::New { .. })), "{report}");
}

/// Mutated shift files: each is refused, none panics.
#[test]
fn any_change_to_a_shift_file_is_found() {
    let mut office = Office::new();
    office.meets("2026-05-02 06:10");
    let sound = fs::read(office.card().join(names::SHIFT)).unwrap();
    struct Held(Vec<u8>);
    impl offshed_handheld::card::Card for Held {
        fn has_dir(&mut self, _: &str) -> Result<bool, CardFault> {
            Ok(true)
        }
        fn len(&mut self, path: &str) -> Result<Option<u32>, CardFault> {
            Ok((path == names::SHIFT).then_some(self.0.len() as u32))
        }
        fn read(&mut self, _: &str, at: u32, out: &mut [u8]) -> Result<(), CardFault> {
            let at = at as usize;
            out.copy_from_slice(self.0.get(at..at + out.len()).ok_or(CardFault::Unreadable)?);
            Ok(())
        }
        fn write(&mut self, _: &str, _: u32, _: &[u8]) -> Result<(), CardFault> {
            Err(CardFault::Locked)
        }
    }
    let check = |bytes: Vec<u8>| offshed_handheld::card::shift::on_card(&mut Held(bytes)).map(|(_, head)| head);
    let head = check(sound.clone()).expect("it is sound");
    assert_eq!(head.len() as usize, sound.len());
    for bit in 0..HEAD * 8 {
        let mut bytes = sound.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        // The version of the writer is signed, too.
        assert!(check(bytes).is_err(), "bit {bit}");
    }
    let mut seed = 1_u32;
    for _ in 0..400 {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let mut bytes = sound.clone();
        let at = seed as usize % bytes.len();
        match seed >> 30 {
            0 => bytes.truncate(at),
            1 => bytes.insert(at, seed as u8),
            _ => bytes[at] ^= 1 << (seed >> 27 & 7),
        }
        assert!(check(bytes).is_err(), "{at}");
    }
    for cut in 0..HEAD + 2 {
        assert!(check(sound[..cut].to_vec()).is_err(), "{cut}");
    }
}
