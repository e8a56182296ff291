//! What is shown of the board: a whole preparation by keys, picture by picture; a book that the office takes; power cuts.

use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use offshed_core::entry::Entry;
use offshed_core::fitness::Verdict;
use offshed_core::ident::{DeviceId, EngineId, PersonId};
use offshed_core::record::chain;
use offshed_core::stamp::{Now, Stamp};
use offshed_depot::folder::Folder;
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::{self, Shed};
use offshed_depot::{demo, script as scripts, sync, typed};
use offshed_sd::book;

use crate::board::{Board, emulator};
use crate::elf::Elf;
use crate::hands::{Hands, pin};
use crate::image::{self, Contents};
use crate::script::{self, Act};
use crate::twin::Twin;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// The device, and its secret key: made for this check, and for nothing else.
const DEVICE: DeviceId = DeviceId(*b"handheld");
const SEED: [u8; 32] = *b"a key for checks, and no other's";
const TAMSIN: EngineId = EngineId(4);
const START: &str = "2026-05-02 03:30";

/// A folder in which the demo's evening was played.
struct Evening {
    path: PathBuf,
    ledger: Ledger,
    pack: PackFile,
    entries: Vec<Entry>,
    pins: Vec<(PersonId, String)>,
    start: Stamp,
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

    fn contents(&self) -> Contents<'_> {
        let Evening { pack, entries, pins, start, .. } = self;
        Contents { pack, entries, pins, device: DEVICE, seed: SEED, made: *start }
    }
}

/// What was measured while a script was played.
#[derive(Clone, Debug, Default)]
struct Measures {
    pictures: usize,
    frame: u64,
    work: u64,
}

/// Plays acts on the board and on the twin; every picture is the same, and so is the time.
fn side_by_side(board: &mut Board, twin: &mut Twin<'_>, acts: &[Act], out: &Path) -> Outcome<Measures> {
    let mut measures = Measures::default();
    for (n, act) in acts.iter().enumerate() {
        let done = match act {
            Act::Press(key, ms) => board.hold(Some(*key), *ms)?,
            Act::Wait(ms) => board.hold(None, *ms)?,
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
    let (pack, texts) = (evening.pack.pack(), evening.pack.texts());
    let twin = || Twin::new((&pack, &texts), DEVICE, &evening.entries, &evening.pins, evening.start);

    let mut first = twin();
    let keys = Hands::new(&mut first, &pack).prepare(&mut Shed::open(&again.path)?, TAMSIN)?;
    fs::write(out.join("preparation.keys"), &keys)?;
    let acts = script::parse(&keys)?;

    let card = out.join("card.img");
    image::make(&card, &evening.contents())?;
    let mut board = Board::start(elf, &card, evening.start)?;
    let mut second = twin();
    let measures = side_by_side(&mut board, &mut second, &acts, out)?;
    let (stack, pages) = board.told()?;
    println!("{} pictures the same, {} acts", measures.pictures, acts.len());
    println!("frame {} work {} stack {stack} pages {pages}", measures.frame, measures.work);
    board.said.iter().for_each(|line| println!("{line}"));
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
    let report = sync::sync_with_dir(&mut Folder::open(&evening.path)?, &stick)?;
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
    let mut command = emulator(elf, image, &[]);
    command.args(["-serial", "none", "-monitor", "stdio"]).stdin(Stdio::inherit());
    let ended = command.status()?;
    if ended.success() { Ok(()) } else { Err("the emulator failed".into()) }
}
