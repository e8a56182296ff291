//! The simulator as a person starts it: a roster file of a data folder, a key script, pictures; and what it says of bad
//! input.

mod common;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::LazyLock;

use common::Evening;

static EVENING: LazyLock<Evening> = LazyLock::new(Evening::play);

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_offshed-handheld")).args(args).output().expect("the simulator")
}

fn said(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn path(path: &Path) -> &str {
    path.to_str().expect("a path in UTF-8")
}

/// Width and height from a PNG's head (PNG, 3rd edition, section 11.2.1: IHDR).
fn png_size(path: &Path) -> (u32, u32) {
    let bytes = fs::read(path).expect("the picture");
    let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
    assert_eq!(&bytes[12..16], b"IHDR");
    (number(16), number(20))
}

const SIGN_IN_AND_OPEN: &str = "\
# The person stands below the engines.
down x9
select
select          # Moss Orrin
up x2           # 1
right
up x3           # 2
right
up x4           # 3
right
up x5           # 4
shot pin
select
up x9
select
shot engine
down x3
select          # Preparation
shot steps
left 1500ms     # the low-water card
shot card
left
shot steps-again
";

#[test]
fn a_script_is_played_and_its_pictures_kept() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (roster, keys, shots) =
        (folder.path().join("roster"), folder.path().join("keys.txt"), folder.path().join("shots"));
    let made = run(&["--make", path(&EVENING.path), "--roster", path(&roster)]);
    assert!(made.status.success(), "{}", said(&made.stderr));
    fs::write(&keys, SIGN_IN_AND_OPEN).expect("the script");
    let played = run(&[
        "--roster",
        path(&roster),
        "--keys",
        path(&keys),
        "--shots",
        path(&shots),
        "--as-of",
        "2026-05-02 03:30",
        "--pin",
        "1=1234",
    ]);
    assert!(played.status.success(), "{}", said(&played.stderr));
    assert_eq!(said(&played.stdout), "1 entries written\n", "the sheet is opened");
    let read = |name: &str| fs::read(shots.join(name)).expect("the picture");
    assert_eq!(png_size(&shots.join("pin.png")), (4 * 128, 4 * 64));
    assert_ne!(read("steps.png"), read("card.png"));
    assert_eq!(read("steps.png"), read("steps-again.png"));
}

#[test]
fn what_is_wrong_is_said_and_where() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (roster, keys) = (folder.path().join("roster"), folder.path().join("keys.txt"));
    let made = run(&["--make", path(&EVENING.path), "--roster", path(&roster)]);
    assert!(made.status.success(), "{}", said(&made.stderr));
    let play = |roster: &Path| {
        let played = run(&["--roster", path(roster), "--keys", path(&keys), "--shots", path(folder.path())]);
        assert!(!played.status.success());
        said(&played.stderr)
    };
    for (script, words) in [
        ("up\nsideways\n", "line 2: `sideways` is no key"),
        ("wait 3 days\n", "line 1: after `wait` comes one time"),
        ("up x0\n", "line 1: `x0`"),
        ("down 12h\n", "line 1: `12h`: write a time"),
        ("shot a/b\n", "line 1: `shot` wants one name"),
    ] {
        fs::write(&keys, script).expect("the script");
        let said = play(&roster);
        assert!(said.contains(words), "{said}");
    }
    fs::write(&keys, "up\n").expect("the script");
    let whole = fs::read(&roster).expect("the roster file");
    for (bytes, words) in [(&whole[..whole.len() - 3], "cut short"), (&b"something"[..], "not a roster file")] {
        let broken = folder.path().join("broken");
        fs::write(&broken, bytes).expect("a file");
        assert!(play(&broken).contains(words), "{}", play(&broken));
    }
    let bare = run(&["--size", "10x10"]);
    assert!(said(&bare.stderr).contains("write 128x64 to 400x240"), "{}", said(&bare.stderr));
    let nothing = run(&[]);
    assert!(said(&nothing.stderr).contains("--roster is wanted"), "{}", said(&nothing.stderr));
}

const BY_THE_CARD: &str = "\
select          # what the card came to
down x9         # who works
select
select          # Moss Orrin
up x5           # 4
right
up x8           # 7
right
up x2           # 1
right
up x2           # 1
select
up x9
select
down x3
select          # Preparation
left x3
up x9
down x5
shot row
select          # the card
shot done
";

/// An office makes a card ready, the simulator works by keys and gives and takes, the office takes it in; and the flash
/// image keeps what was recorded.
#[test]
fn a_simulated_handheld_meets_an_office_by_a_card() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let evening = Evening::play();
    let (card, image, keys, shots) = (
        folder.path().join("card"),
        folder.path().join("flash"),
        folder.path().join("keys.txt"),
        folder.path().join("shots"),
    );
    fs::create_dir(&card).expect("a directory");
    fs::write(&keys, BY_THE_CARD).expect("the script");
    let at = evening.at("2026-05-02 03:20");
    let meet = || {
        let mut shed = offshed_depot::shed::Shed::open(&evening.path).expect("the folder");
        offshed_depot::card::exchange(&mut shed, &card, at, Some(at)).unwrap_or_else(|fault| panic!("{fault}"))
    };
    let before = meet();
    assert_eq!(before.sync.into_first.entries(), 0);
    let flash = ["--flash", path(&image), "--card", path(&card), "--as-of", "2026-05-02 03:30"];
    let played = run(&[&flash[..], &["--keys", path(&keys), "--shots", path(&shots)]].concat());
    assert!(played.status.success(), "{}", said(&played.stderr));
    assert!(said(&played.stdout).contains(": 1 entries written"), "{}", said(&played.stdout));
    let read = |name: &str| fs::read(shots.join(name)).expect("the picture");
    assert_ne!(read("row.png"), read("done.png"));
    assert_eq!(meet().sync.into_first.entries(), 1, "the sheet that was opened");
    // Another start over the same image: nothing new, and what was recorded is there.
    fs::write(&keys, "shot again\n").expect("the script");
    let played = run(&[&flash[..], &["--keys", path(&keys), "--shots", path(&shots)]].concat());
    assert!(said(&played.stdout).contains(": 0 entries written"), "{}", said(&played.stderr));
    assert_eq!(meet().sync.into_first.entries(), 0);
    // A handheld without a card says what it wants.
    let bare = folder.path().join("bare");
    let played = run(&["--flash", path(&bare), "--keys", path(&keys), "--shots", path(&shots)]);
    assert!(played.status.success(), "{}", said(&played.stderr));
    fs::write(&bare, [0; 100]).expect("a file");
    let broken = run(&["--flash", path(&bare), "--keys", path(&keys), "--shots", path(&shots)]);
    assert!(said(&broken.stderr).contains("no flash image: 100 bytes"), "{}", said(&broken.stderr));
}
