//! What is shown of the board: a whole preparation by keys, picture by picture; a book that the office takes; power cuts.

use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::Duration;

use offshed_core::entry::Entry;
use offshed_core::fitness::Verdict;
use offshed_core::ident::{DeviceId, EngineId, PersonId};
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::record::chain;
use offshed_core::stamp::{Now, Stamp};
use offshed_depot::folder::Folder;
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::{self, Shed};
use offshed_depot::{demo, script as scripts, sync, typed};
use offshed_handheld::keys::Key;
use offshed_sd::book;

use crate::board::{Board, command, connect, dump, emulator};
use crate::cuts::cut;
use crate::elf::Elf;
use crate::hands::{Hands, pin};
use crate::image::{self, Contents};
use crate::picture::Canvas;
use crate::script::{self, Act};
use crate::twin::Twin;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// The device, and its secret key: made for this check, and for nothing else.
const DEVICE: DeviceId = DeviceId(*b"handheld");
const SEED: [u8; 32] = *b"a key for checks, and no other's";
const TAMSIN: EngineId = EngineId(4);
const START: &str = "2026-05-02 03:30";

/// A folder in which the demo's evening was played.
pub(crate) struct Evening {
    path: PathBuf,
    ledger: Ledger,
    pub(crate) pack: PackFile,
    entries: Vec<Entry>,
    pins: Vec<(PersonId, String)>,
    pub(crate) start: Stamp,
}

impl Evening {
    fn play(path: &Path) -> Outcome<Evening> {
        let (evening, _) = demo::SCRIPT.split_once("# --- The day ---").ok_or("the demo has no evening")?;
        drop(Folder::make(path, demo::DEVICE, demo::ZONE)?);
        let sources = demo::write_sources(path)?;
        scripts::play(path, evening, &sources).map_err(|fault| fault.to_string())?;
        let (ledger, _, _) = shed::look(path)?;
        let pack = ledger.adopted().ok_or("the demo adopts no pack")?.clone();
        let mut entries: Vec<Entry> = ledger.entries().cloned().collect();
        entries.sort_by_key(Entry::order);
        let pins = ledger.office.people.keys().map(|person| (*person, pin(*person))).collect();
        use offshed_core::register::Register;
        let start = ledger.office.zone().moment(typed::moment(START, None).map_err(|fault| fault.to_string())?);
        Ok(Evening { path: path.to_owned(), pack, entries, pins, start, ledger })
    }

    /// The device that its card is for.
    pub(crate) fn device(&self) -> DeviceId {
        DEVICE
    }

    /// The pack and its words.
    pub(crate) fn rules(&self) -> (Pack<'_>, SliceTexts<'_>) {
        (self.pack.pack(), self.pack.texts())
    }

    /// The same device on this computer.
    pub(crate) fn twin<'a>(&self, rules: (&'a Pack<'a>, &'a SliceTexts<'a>)) -> Twin<'a> {
        Twin::new(rules, DEVICE, &self.entries, &self.pins, self.start)
    }

    fn contents(&self) -> Contents<'_> {
        let Evening { pack, entries, pins, start, .. } = self;
        Contents { pack, entries, pins, device: DEVICE, seed: SEED, made: *start }
    }
}

/// What was measured while a script was played.
#[derive(Clone, Debug, Default)]
pub(crate) struct Measures {
    pictures: usize,
    frame: u64,
    work: u64,
}

/// Plays acts on the board and on the twin; every picture is the same, and so is the time.
pub(crate) fn side_by_side(board: &mut Board, twin: &mut Twin<'_>, acts: &[Act], out: &Path) -> Outcome<Measures> {
    let mut measures = Measures::default();
    for (n, act) in acts.iter().enumerate() {
        let done = match act {
            Act::Press(key, ms) => board.hold(Some(*key), *ms)?,
            Act::Wait(ms) => board.wait(*ms)?,
            Act::Shot(_) => board.draw()?,
        };
        twin.play(act);
        measures.frame = measures.frame.max(done.frame);
        measures.work = measures.work.max(done.work);
        // Between a press and its letting go nothing is looked at: a press is one act, and what follows it another.
        if matches!(act, Act::Press(..)) {
            continue;
        }
        let shown = board.shown()?;
        if shown != *twin.shown() || done.ms.abs_diff(twin.ms()) > 100 {
            shown.write_png(&out.join("board.png"), 4)?;
            twin.shown().write_png(&out.join("twin.png"), 4)?;
            let at = format!("act {n}, {act:?}: board at {} ms, twin at {} ms", done.ms, twin.ms());
            return Err(format!("{at}: the board shows something else: board.png, twin.png").into());
        }
        measures.pictures += 1;
        if let Act::Shot(name) = act {
            shown.write_png(&out.join(format!("{name}.png")), 4)?;
        }
    }
    Ok(measures)
}

/// All of it; ends at the first thing that is not as it should be.
///
/// # Errors
/// Says what that was.
pub(crate) fn prove(elf: &Path, out: &Path) -> Outcome<()> {
    fs::create_dir_all(out)?;
    let folder = tempfile::tempdir()?;
    let evening = Evening::play(&folder.path().join("office"))?;
    let again = Evening::play(&folder.path().join("beside"))?;
    let (pack, texts) = evening.rules();
    let twin = || evening.twin((&pack, &texts));

    let mut first = twin();
    let keys = Hands::new(&mut first, &pack).prepare(&mut Shed::open(&again.path)?, TAMSIN)?;
    fs::write(out.join("preparation.keys"), &keys)?;
    let acts = script::parse(&keys)?;
    println!("a preparation by keys: {} acts in {} s of the device's time", acts.len(), first.ms() / 1_000);

    let card = out.join("card.img");
    let fresh = out.join("fresh.img");
    image::make(&fresh, &evening.contents())?;
    by_hand(elf, &fresh, &mut twin(), out)?;
    cut(elf, &evening, &fresh, &acts, out)?;
    fs::copy(&fresh, &card)?;
    let mut board = Board::start(elf, &card, evening.start)?;
    let mut second = twin();
    let measures = side_by_side(&mut board, &mut second, &acts, out)?;
    let (stack, pages) = board.told()?;
    println!(
        "{} pictures are the twin's, dot for dot, in {} acts; {pages} pages of log",
        measures.pictures,
        acts.len()
    );
    board.said.iter().for_each(|line| println!("{line}"));
    limits(&measures, stack, elf, &board.said)?;
    drop(board);
    taken(&evening, &card, &second, folder.path())
}

/// The office takes the book from the card: its entries are the twin's, and the board of the office changes.
fn taken(evening: &Evening, card: &Path, twin: &Twin<'_>, folder: &Path) -> Outcome<()> {
    let stick = folder.join("stick");
    fs::create_dir_all(stick.join("books"))?;
    let taken = stick.join("books").join(format!("{DEVICE}.book"));
    image::take(card, book::NAME, &taken)?;
    let device = chain::read_head(chain::BOOK, &fs::read(&taken)?).map_err(|fault| format!("{fault:?}"))?;
    if device != DEVICE {
        return Err(format!("the book is of {device}").into());
    }
    let now = Now::good(twin.now().stamp);
    let before = evening.ledger.fitness(TAMSIN, now).verdict;
    let report = sync::sync_with_dir(&mut Folder::open(&evening.path)?.folder, &stick)?;
    let (ledger, findings, _) = shed::look(&evening.path)?;
    let ours: Vec<&Entry> = twin.program.journal().entries.iter().filter(|entry| entry.at.device == DEVICE).collect();
    let theirs: Vec<&Entry> = ledger.entries().filter(|entry| entry.at.device == DEVICE).collect();
    let after = ledger.fitness(TAMSIN, now).verdict;
    println!("{} entries in the book, {} of the twin's", theirs.len(), ours.len());
    println!("{} bytes of book; {:?}", fs::metadata(&taken)?.len(), report.into_first);
    println!("findings: {findings:?}");
    println!("No. {TAMSIN}: {before:?}, then {after:?}");
    if ours != theirs {
        return Err("the book is not what was entered".into());
    }
    if before == Verdict::Fit || after != Verdict::Fit {
        return Err("the office's board does not change to fit".into());
    }
    Ok(())
}

/// The board's own buttons, by the emulator's keyboard and in its own time: the list moves as on the twin.
fn by_hand(elf: &Path, fresh: &Path, twin: &mut Twin<'_>, out: &Path) -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let (card, socket) = (out.join("hand.img"), folder.path().join("monitor"));
    fs::copy(fresh, &card)?;
    let mut running = emulator(elf, &card, &[]);
    running.args(["-serial", "none", "-monitor"]).arg(format!("unix:{},server=on,wait=off", socket.display()));
    let mut running = Running(running.spawn()?);
    let mut monitor = connect(&socket)?;
    let picture = folder.path().join("shown.ppm");
    let wait = |monitor: &mut _, wanted: &Canvas| -> Outcome<()> {
        for _ in 0..240 {
            if dump(monitor, &picture)? == *wanted {
                return Ok(());
            }
            sleep(Duration::from_millis(250));
        }
        dump(monitor, &picture)?.write_png(&out.join("hand.png"), 4)?;
        Err("the board's own buttons lead elsewhere: hand.png".into())
    };
    wait(&mut monitor, twin.shown())?;
    // The emulator's buttons read closed from its start until they are let go once.
    for name in ["up", "down", "left", "right", "ctrl"] {
        command(&mut monitor, &format!("sendkey {name} 100"))?;
        sleep(Duration::from_millis(300));
    }
    for (name, key) in [("down", Key::Down), ("down", Key::Down), ("up", Key::Up), ("ctrl", Key::Select)] {
        command(&mut monitor, &format!("sendkey {name} 150"))?;
        twin.play(&Act::Press(key, 80));
        twin.play(&Act::Wait(120));
        wait(&mut monitor, twin.shown())?;
    }
    running.0.kill()?;
    println!("four presses of the board's own buttons lead where they lead the twin");
    Ok(())
}

/// An emulator that ends with what it is for.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// The most that is allowed, each with what it is counted in.
const MOST_FRAME: u64 = 2_500_000;
const MOST_SEAL: u64 = 8_000_000;
const MOST_RAM: u64 = 48 << 10;

/// Holds what was measured below its limits.
fn limits(measures: &Measures, stack: u64, elf: &Path, said: &[String]) -> Outcome<()> {
    let fixed = Elf::read(fs::read(elf)?)?.static_ram() as u64;
    let seals = said.iter().filter(|line| line.starts_with("sealed"));
    let seal = seals.filter_map(|line| line.split(' ').nth(7)?.parse().ok()).max().unwrap_or(u64::MAX);
    let rows = [
        ("instructions from a key to a finished frame", measures.frame, MOST_FRAME),
        ("instructions of sealing at a signature", seal, MOST_SEAL),
        ("bytes of static RAM and stack", fixed + stack, MOST_RAM),
    ];
    for (what, found, most) in rows {
        println!("{what}: {found}, at most {most}");
    }
    match rows.iter().find(|(_, found, most)| found > most) {
        Some((what, found, most)) => Err(format!("{what}: {found}, more than {most}").into()),
        None => Ok(()),
    }
}

/// Bytes of flash that the board has.
const FLASH: usize = 256 << 10;

/// Tells what the image takes, and who in it can reach a panic.
///
/// # Errors
/// When it is no image, or takes more flash than there is.
pub(crate) fn measure(elf: &Path) -> Outcome<()> {
    let image = Elf::read(fs::read(elf)?)?;
    println!("flash {} of {FLASH} bytes", image.flash());
    println!("static RAM {} bytes", image.static_ram());
    image.panics()?.iter().for_each(|pair| println!("panic: {pair}"));
    if image.flash() > FLASH { Err("the image takes more flash than there is".into()) } else { Ok(()) }
}

/// Starts the emulator for a person, on a card of the demo's evening.
///
/// # Errors
/// When the card can't be made, or the emulator not be started.
pub(crate) fn emulate(elf: &Path, image: &Path) -> Outcome<()> {
    if !image.exists() {
        let folder = tempfile::tempdir()?;
        let evening = Evening::play(&folder.path().join("office"))?;
        image::make(image, &evening.contents())?;
        println!("{}: a card of the demo's evening; everybody's PIN is 7000 and their number", image.display());
    }
    println!("keys: sendkey up, down, left, right, ctrl (select); screendump FILE; quit");
    let mut running = emulator(elf, image, &[]);
    running.args(["-serial", "none", "-monitor", "stdio"]).stdin(Stdio::inherit());
    let ended = running.status()?;
    if ended.success() { Ok(()) } else { Err("the emulator failed".into()) }
}
