//! The handheld on a desktop computer: plays a key script without a window and keeps pictures of its display.

mod card_dir;
mod device;
mod machine;
mod memory;
mod nor;
#[allow(dead_code)]
mod picture;
mod roster_file;
mod script;
mod window;

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use embedded_graphics::prelude::Size;
use lexopt::Arg::{Long, Short};
use lexopt::ValueExt;
use offshed_core::desk::Desk;
use offshed_core::ident::{DeviceId, PersonId};
use offshed_core::register::Register;
use offshed_core::stamp::{Now, Stamp, Zone};
use offshed_depot::typed;
use offshed_handheld::hand::{Hand, Records};
use offshed_handheld::keys::{Contacts, Keys};
use offshed_handheld::program::Program;

use device::Simulated;
use machine::{Handheld, Machine, Plain};
use memory::{MemoryJournal, MemoryPins};
use picture::Canvas;
use script::Act;

const HELP: &str = "\
The handheld on a desktop computer.

  offshed-handheld --flash FILE --card DIR [--size 128x64] [--as-of ...] [--keys FILE --shots DIR]
      a handheld whose memory is FILE (made where it is missing) and whose card is seen as DIR: `offshed card DIR` of an
      office makes the card ready and takes in what was recorded; what is entered is kept in FILE
  offshed-handheld --make FOLDER --roster FILE
      makes a roster file of a data folder: its adopted pack and its entries
  offshed-handheld --roster FILE --keys FILE --shots DIR [--size 128x64] [--as-of \"2026-05-02 03:30\"] [--pin 21=2121]
      plays a key script and writes the pictures it asks for, enlarged four times
  offshed-handheld --roster FILE [--size 128x64] [--as-of ...] [--pin 21=2121]
      opens a window: the arrow keys are up, down, left and right, Enter is select

With --keys it plays a key script; without, a window opens. --size from 128x64 to 400x240.
Over a roster file --pin may be given for each person, and what is entered is not kept. Over a flash file PINs are those
of the office, and the clock begins at --as-of, else a minute after the shift file was written.
How key scripts are written: firmware-sim/KEYS.md
";

/// The device that the simulator writes as.
const DEVICE: DeviceId = DeviceId(*b"simulate");
/// Milliseconds between two looks at the buttons.
const LOOK_MS: u64 = 5;
/// How often a dot is enlarged in pictures.
const SCALE: u32 = 4;

/// What is asked for.
#[derive(Default)]
struct Asked {
    flash: Option<PathBuf>,
    card: Option<PathBuf>,
    make: Option<PathBuf>,
    roster: Option<PathBuf>,
    keys: Option<PathBuf>,
    shots: Option<PathBuf>,
    size: Option<Size>,
    as_of: Option<String>,
    pins: Vec<(PersonId, String)>,
    help: bool,
}

type Outcome<T> = Result<T, Box<dyn Error>>;

fn asked() -> Outcome<Asked> {
    let mut asked = Asked::default();
    let mut parser = lexopt::Parser::from_env();
    while let Some(arg) = parser.next()? {
        match arg {
            Long("flash") => asked.flash = Some(parser.value()?.into()),
            Long("card") => asked.card = Some(parser.value()?.into()),
            Long("make") => asked.make = Some(parser.value()?.into()),
            Long("roster") => asked.roster = Some(parser.value()?.into()),
            Long("keys") => asked.keys = Some(parser.value()?.into()),
            Long("shots") => asked.shots = Some(parser.value()?.into()),
            Long("size") => asked.size = Some(size(&parser.value()?.string()?)?),
            Long("as-of") => asked.as_of = Some(parser.value()?.string()?),
            Long("pin") => asked.pins.push(pin(&parser.value()?.string()?)?),
            Long("help") | Short('h') => asked.help = true,
            other => return Err(other.unexpected().into()),
        }
    }
    Ok(asked)
}

fn size(text: &str) -> Outcome<Size> {
    let parts = text.split_once('x').and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
    let within = parts.filter(|(w, h)| (128..=400).contains(w) && (64..=240).contains(h));
    within.map(|(w, h)| Size::new(w, h)).ok_or_else(|| format!("--size {text}: write 128x64 to 400x240").into())
}

fn pin(text: &str) -> Outcome<(PersonId, String)> {
    let (person, digits) = text.split_once('=').ok_or_else(|| format!("--pin {text}: write it as 21=2121"))?;
    Ok((PersonId(person.parse()?), digits.to_owned()))
}

fn wanted<'p>(path: Option<&'p PathBuf>, option: &str) -> Outcome<&'p Path> {
    path.map(PathBuf::as_path).ok_or_else(|| format!("{option} is wanted: see --help").into())
}

fn run() -> Outcome<()> {
    let asked = asked()?;
    if asked.help {
        print!("{HELP}");
        return Ok(());
    }
    if let Some(image) = &asked.flash {
        return handheld(&asked, image);
    }
    let roster = wanted(asked.roster.as_ref(), "--roster")?;
    if let Some(folder) = &asked.make {
        let made = roster_file::of_folder(folder)?;
        roster_file::write(roster, &made)?;
        println!("{} entries and {} in {}", made.entries.len(), made.pack.title(), roster.display());
        return Ok(());
    }
    let roster = roster_file::read(roster).map_err(|fault| format!("{}: {fault}", roster.display()))?;
    work(&asked, roster)
}

/// A handheld over a flash image.
fn handheld(asked: &Asked, image: &Path) -> Outcome<()> {
    let size = asked.size.unwrap_or(Size::new(128, 64));
    let mut handheld = Handheld::open(image, asked.card.clone(), size)?;
    if handheld.stated()?.is_none() && asked.card.is_some() {
        handheld.exchange()?;
    }
    let last = handheld.stated()?.unwrap_or(Stamp(0));
    let mut hand = simulated(asked, last, &handheld.zone()?, size)?;
    let at = hand.moment();
    handheld.start(at)?;
    run_machine(asked, handheld, &mut hand)
}

/// A program over a roster file.
fn work(asked: &Asked, roster: roster_file::RosterFile) -> Outcome<()> {
    let size = asked.size.unwrap_or(Size::new(128, 64));
    let journal = MemoryJournal::new(roster.entries);
    let last = journal.entries.last().map_or(Stamp(0), |entry| entry.stamp);
    let mut hand = simulated(asked, last, &zone(&journal), size)?;
    let (pack, texts) = (roster.pack.pack(), roster.pack.texts());
    let before = journal.entries.len();
    let desk = Desk::new(DEVICE, 0, journal.clock(), journal);
    let pins = MemoryPins::new(asked.pins.clone());
    let program = Program::new(&pack, &texts, desk, pins, size, hand.moment());
    let written = |journal: &MemoryJournal| journal.entries.len();
    run_machine(asked, Plain { program, written, before }, &mut hand)
}

/// A device whose clock begins at `--as-of`, else a minute after `last`.
fn simulated(asked: &Asked, last: Stamp, zone: &Zone, size: Size) -> Outcome<Simulated> {
    let start = match &asked.as_of {
        Some(text) => zone.moment(typed::moment(text, None).map_err(|fault| format!("--as-of {text}: {fault}"))?),
        None => last.plus(60),
    };
    Ok(Simulated { start: Now::good(start), ms: 0, contacts: Contacts::OPEN, display: Canvas::new(size) })
}

/// Plays the key script, or opens a window where there is none.
fn run_machine<M: Machine>(asked: &Asked, mut machine: M, hand: &mut Simulated) -> Outcome<()> {
    match &asked.keys {
        Some(keys) => play(&mut machine, hand, keys, wanted(asked.shots.as_ref(), "--shots")?)?,
        None => window::open(&mut machine, hand)?,
    }
    println!("{}", machine.farewell());
    Ok(())
}

/// Plays a key script and keeps the pictures that it asks for.
fn play(machine: &mut dyn Machine, hand: &mut Simulated, keys: &Path, shots: &Path) -> Outcome<()> {
    let text = std::fs::read_to_string(keys).map_err(|fault| format!("{}: {fault}", keys.display()))?;
    let acts = script::parse(&text).map_err(|f| format!("{}, {f}", keys.display()))?;
    std::fs::create_dir_all(shots).map_err(|fault| format!("{}: {fault}", shots.display()))?;
    let mut keys = Keys::default();
    let at = hand.moment();
    machine.draw(&mut hand.display, at);
    for act in acts {
        let (contacts, ms) = match act {
            Act::Press(key, ms) => (Contacts::OPEN.with(key), ms),
            Act::Wait(ms) => (Contacts::OPEN, ms),
            Act::Shot(name) => {
                let at = hand.moment();
                machine.draw(&mut hand.display, at);
                hand.display.write_png(&shots.join(format!("{name}.png")), SCALE)?;
                continue;
            }
        };
        hand.contacts = contacts;
        for _ in 0..ms.div_ceil(LOOK_MS) {
            hand.ms += LOOK_MS;
            keys = machine.turn(hand, keys)?;
        }
    }
    Ok(())
}

/// Local time as the entries state it.
pub(crate) fn zone(records: &dyn Records) -> Zone {
    let mut roster = offshed_handheld::roster::Roster::new();
    records.each(&mut |entry| {
        if let offshed_core::entry::What::Registered(fact) = &entry.what {
            roster.apply(fact);
        }
    });
    roster.zone().clone()
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
