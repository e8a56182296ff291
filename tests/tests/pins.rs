//! PINs: a person's own, never written down as they are, and a wait after wrong ones that nothing shortens.

mod yard;

use std::fs;

use offshed_core::ident::PersonId;
use offshed_core::stamp::Stamp;
use offshed_depot::folder::{Folder, FolderFault, PinCost, PinFault, verify_folder};

use yard::folder;

const PERSON: PersonId = PersonId(7);

fn guarded(name: &str) -> Folder {
    let mut folder = folder(name, 1);
    folder.set_pin_cost(PinCost::iterations(2));
    folder.set_pin(PERSON, "4711").unwrap();
    folder
}

fn wrong(folder: &mut Folder, now: i64) -> String {
    match folder.check_pin(PERSON, "0000", Stamp(now)) {
        Err(PinFault::Wrong { left }) => format!("{left} left"),
        Err(PinFault::Wait { until }) => format!("wait until {}", until.0),
        other => format!("{other:?}"),
    }
}

#[test]
fn a_pin_is_its_persons() {
    let mut folder = guarded("pin");
    assert!(folder.has_pin(PERSON).unwrap() && !folder.has_pin(PersonId(8)).unwrap());
    assert!(folder.check_pin(PERSON, "4711", Stamp(0)).is_ok());
    let other = folder.check_pin(PersonId(8), "4711", Stamp(0));
    assert!(matches!(other, Err(PinFault::NoPin { person: PersonId(8) })));
    for bad in ["", "471", "123456789", "47 11", "four"] {
        assert!(matches!(folder.check_pin(PERSON, bad, Stamp(0)), Err(PinFault::BadForm)), "{bad}");
        assert!(matches!(folder.set_pin(PERSON, bad), Err(PinFault::BadForm)), "{bad}");
    }
    folder.set_pin(PERSON, "12345678").unwrap();
    assert!(folder.check_pin(PERSON, "12345678", Stamp(0)).is_ok());
    assert_eq!(wrong(&mut folder, 0), "4 left");
}

#[test]
fn no_file_holds_a_pin_and_two_people_with_one_pin_differ() {
    let mut folder = guarded("pin-file");
    // Eight digits, so that they hardly stand in random hexadecimal ones by chance.
    [PERSON, PersonId(8)].iter().for_each(|person| folder.set_pin(*person, "20471109").unwrap());
    let text = String::from_utf8(fs::read(folder.path().join("pins.toml")).unwrap()).unwrap();
    assert!(!text.contains("20471109"));
    let hashes: Vec<&str> = text.lines().filter(|line| line.starts_with("hash")).collect();
    assert_eq!(hashes.len(), 2);
    assert_ne!(hashes[0], hashes[1]);
}

#[cfg(unix)]
#[test]
fn only_its_owner_reads_the_file_of_pins() {
    use std::os::unix::fs::PermissionsExt;
    let folder = guarded("pin-mode");
    let mode = fs::metadata(folder.path().join("pins.toml")).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
}

#[test]
fn five_wrong_tries_wait_and_the_wait_doubles() {
    let mut folder = guarded("pin-wait");
    let first: Vec<String> = (0..5).map(|n| wrong(&mut folder, n)).collect();
    assert_eq!(first, ["4 left", "3 left", "2 left", "1 left", "wait until 64"]);
    // Nothing is tried during a wait, not even the right one.
    assert_eq!(wrong(&mut folder, 63), "wait until 64");
    assert!(matches!(folder.check_pin(PERSON, "4711", Stamp(63)), Err(PinFault::Wait { until: Stamp(64) })));
    assert_eq!(wrong(&mut folder, 64), "wait until 184");
    assert_eq!(wrong(&mut folder, 184), "wait until 424");
    // A right one ends the row.
    assert!(folder.check_pin(PERSON, "4711", Stamp(424)).is_ok());
    assert_eq!(wrong(&mut folder, 425), "4 left");
    // So does a new one.
    (0..4).for_each(|n| drop(wrong(&mut folder, 430 + n)));
    assert_eq!(wrong(&mut folder, 440), "wait until 493");
    folder.set_pin(PERSON, "4711").unwrap();
    assert!(folder.check_pin(PERSON, "4711", Stamp(441)).is_ok());
}

#[test]
fn others_do_not_wait() {
    let mut folder = guarded("pin-others");
    folder.set_pin(PersonId(8), "1234").unwrap();
    (0..5).for_each(|n| drop(wrong(&mut folder, n)));
    assert!(folder.check_pin(PersonId(8), "1234", Stamp(5)).is_ok());
    assert_eq!(wrong(&mut folder, 6), "wait until 64");
}

#[test]
fn a_wait_outlives_a_restart_and_a_clock_set_back() {
    let mut folder = guarded("pin-restart");
    let path = folder.path().to_path_buf();
    (0..3).for_each(|n| drop(wrong(&mut folder, 1_000 + n)));
    drop(folder);
    let mut folder = Folder::open(&path).unwrap().folder;
    assert_eq!(wrong(&mut folder, 1_003), "1 left");
    assert_eq!(wrong(&mut folder, 1_004), "wait until 1064");
    drop(folder);
    let mut folder = Folder::open(&path).unwrap().folder;
    assert!(matches!(folder.check_pin(PERSON, "4711", Stamp(1_063)), Err(PinFault::Wait { .. })));
    // Set back by a day, the whole minute is waited again, and no more than that.
    assert_eq!(wrong(&mut folder, -85_000), "wait until -84940");
    assert!(matches!(folder.check_pin(PERSON, "4711", Stamp(-84_941)), Err(PinFault::Wait { .. })));
    assert!(folder.check_pin(PERSON, "4711", Stamp(-84_940)).is_ok());
}

#[test]
fn a_wrong_try_that_cannot_be_written_down_is_no_try() {
    let mut folder = guarded("pin-disk");
    fs::create_dir(folder.path().join("tries.toml.part")).unwrap();
    let refused = folder.check_pin(PERSON, "0000", Stamp(0)).unwrap_err();
    assert!(matches!(&refused, PinFault::Folder(FolderFault::Io { .. })), "{refused}");
}

#[test]
fn damaged_files_of_pins_are_told_and_let_nobody_in() {
    let mut folder = guarded("pin-damage");
    let path = folder.path().to_path_buf();
    let good = fs::read_to_string(path.join("pins.toml")).unwrap();
    for bad in
        ["person", "format = 0\nperson = 3\n", "format = 9\n", &good.replace("iterations = 2", "iterations = 99999999")]
    {
        fs::write(path.join("pins.toml"), bad).unwrap();
        let refused = folder.check_pin(PERSON, "4711", Stamp(0)).unwrap_err();
        assert!(
            matches!(&refused, PinFault::Folder(_)) && refused.to_string().contains("pins.toml"),
            "{bad}: {refused}"
        );
    }
    fs::write(path.join("pins.toml"), good).unwrap();
    fs::write(path.join("tries.toml"), "[").unwrap();
    assert!(matches!(folder.check_pin(PERSON, "4711", Stamp(0)), Err(PinFault::Folder(_))));
    assert!(!verify_folder(&path).is_empty());
}
