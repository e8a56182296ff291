//! Power cuts: through a whole preparation on flash memory the power goes at every byte that is written or erased, half a
//! byte included, and again while the memory is put right. And the same for a card's sectors.

mod common;

use std::cell::RefCell;
use std::sync::LazyLock;

use common::Evening;
use common::card_dir::CardDir;
use common::nor::{Change, SimFlash};
use embedded_sdmmc::Block as Block512;
use offshed_core::desk::Store;
use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, EntryRef};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::card as names;
use offshed_core::record::chain::Block;
use offshed_depot::demo;
use offshed_handheld::card::fat::FatCard;
use offshed_handheld::card::give::{Blocks, GiveFault, give};
use offshed_handheld::hand::{Records, Unstored};
use offshed_handheld::store::{Identity, NorStore, provision};

type Flash = SimFlash<4>;

const IDENTITY: Identity = Identity { device: DeviceId(*b"handheld"), seed: [0x5a; 32] };
/// Pages of a memory that a preparation fills to a part.
const PAGES: usize = 20;

/// A whole preparation as the demo records it, in one device's count.
static PREPARATION: LazyLock<Vec<Entry>> = LazyLock::new(|| {
    let day = Evening::of(demo::SCRIPT);
    let sheets = day.ledger.sheets().filter(|sheet| sheet.engine.0 == 17 || sheet.engine.0 == 4);
    let sheet = sheets.max_by_key(|sheet| (sheet.sequence.0 == 1, sheet.opened)).expect("a preparation").id;
    let on_it = day.ledger.entries().filter(|entry| entry.sheet() == Some(sheet));
    let own = |at: EntryRef| EntryRef { device: IDENTITY.device, seq: at.seq - sheet.seq + 1 };
    let mut entries: Vec<Entry> = on_it.filter(|entry| entry.at.device == sheet.device).cloned().collect();
    for (seq, entry) in (1..).zip(&mut entries) {
        entry.at = EntryRef { device: IDENTITY.device, seq };
        if let offshed_core::entry::What::Answered { sheet, over, .. } = &mut entry.what {
            *sheet = own(*sheet);
            *over = over.map(own);
        }
    }
    assert!(entries.len() > 60, "{}", entries.len());
    entries
});

/// A store as the checks look at it.
trait Checked<'f>: Store<Error = Unstored> + Sized {
    fn open(flash: &'f RefCell<Flash>) -> Self;
    /// Entries it shows, and whether its blocks hold together; how many entries are sealed.
    fn shown(&self) -> (Vec<Entry>, u32);
}

impl<'f> Checked<'f> for NorStore<'f, Flash> {
    fn open(flash: &'f RefCell<Flash>) -> Self {
        NorStore::mount(flash).unwrap_or_else(|fault| panic!("it is not opened: {fault:?}"))
    }

    fn shown(&self) -> (Vec<Entry>, u32) {
        let mut entries = Vec::new();
        self.each(&mut |entry| entries.push(entry.clone()));
        assert_eq!(self.doubt(offshed_core::ident::EngineId(17)), None);
        let (mut sealed, mut previous) = (0, offshed_core::record::head::root(IDENTITY.device));
        assert!(self.each_block(&mut |bytes| {
            let block = Block::read(bytes, 0).expect("a block");
            assert!(block.is_whole() && block.signed_by(self.key()) && block.head.previous == previous);
            assert_eq!(block.head.first, sealed + 1);
            for entry in block.entries().expect("its entries").map(Result::unwrap) {
                assert_eq!(Some(&entry), entries.get(entry.at.seq as usize - 1), "a block and the entries differ");
            }
            (sealed, previous) = (block.head.last(), block.hash);
            true
        }));
        (entries, sealed)
    }
}

/// A store without its safety: an entry is answered first, and written when the next one comes.
struct Hasty<'f> {
    store: NorStore<'f, Flash>,
    held: Option<(Entry, Vec<u8>)>,
}

impl Store for Hasty<'_> {
    type Error = Unstored;

    fn append(&mut self, entry: &Entry, bytes: &[u8]) -> Result<(), Unstored> {
        let before = self.held.replace((entry.clone(), bytes.to_vec()));
        before.map_or(Ok(()), |(entry, bytes)| self.store.append(&entry, &bytes))
    }
}

impl<'f> Checked<'f> for Hasty<'f> {
    fn open(flash: &'f RefCell<Flash>) -> Self {
        Hasty { store: NorStore::open(flash), held: None }
    }

    fn shown(&self) -> (Vec<Entry>, u32) {
        self.store.shown()
    }
}

/// A memory on which a handheld is set up.
fn prepared() -> Vec<u8> {
    let flash = RefCell::new(Flash::blank(PAGES));
    provision(&flash, &IDENTITY).expect("it is set up");
    flash.into_inner().bytes
}

/// One run: what was changed, and after how many changes how many entries were answered.
struct Run {
    base: Vec<u8>,
    changes: Vec<Change>,
    answered: Vec<(usize, usize)>,
}

fn append<S: Store<Error = Unstored>>(store: &mut S, entry: &Entry) -> Result<(), Unstored> {
    let mut buffer = [0; ENTRY_BYTES];
    let bytes = entry.encode(&mut buffer).expect("it fits");
    store.append(entry, bytes)
}

fn run<'f, S: Checked<'f>>(flash: &'f RefCell<Flash>, entries: &[Entry]) -> Vec<(usize, usize)> {
    let mut store = S::open(flash);
    let mut answered = Vec::new();
    for (n, entry) in entries.iter().enumerate() {
        append(&mut store, entry).unwrap_or_else(|fault| panic!("entry {n}: {fault:?}"));
        answered.push((flash.borrow().noted.as_ref().map_or(0, Vec::len), n + 1));
    }
    answered
}

fn recorded<S: for<'f> Opens<'f>>() -> Run {
    let base = prepared();
    let flash = RefCell::new(Flash { noted: Some(Vec::new()), ..Flash::of(base.clone()) });
    let answered = run::<<S as Opens<'_>>::Store>(&flash, &PREPARATION);
    let changes = flash.into_inner().noted.expect("it was noted");
    Run { base, changes, answered }
}

/// Names a store whatever its memory's lifetime is.
trait Opens<'f> {
    type Store: Checked<'f>;
}

struct Safe;
struct Unsafe;

impl<'f> Opens<'f> for Safe {
    type Store = NorStore<'f, Flash>;
}

impl<'f> Opens<'f> for Unsafe {
    type Store = Hasty<'f>;
}

fn bytes_of(change: &Change) -> usize {
    match change {
        Change::Write(_, bytes) => bytes.len(),
        Change::Erase(from, to) => (*to - *from) as usize,
    }
}

/// What is wrong after a cut: fewer entries than were answered, or others than were meant.
fn wrong(image: Vec<u8>, answered: usize) -> Result<(RefCell<Flash>, usize), String> {
    let flash = RefCell::new(Flash { noted: Some(Vec::new()), ..Flash::of(image) });
    let shown = NorStore::open(&flash).shown().0;
    if shown.len() < answered || shown.len() > answered + 1 {
        return Err(format!("{answered} were answered, and {} are there", shown.len()));
    }
    if shown != PREPARATION[..shown.len()] {
        return Err("others are there than were meant".to_owned());
    }
    Ok((flash, shown.len()))
}

/// Cuts the power at every byte of a run; answers how many cuts there were.
fn cut_everywhere(run: &Run, twice: usize) -> Result<usize, String> {
    let (mut image, mut cuts) = (run.base.clone(), 0);
    for (n, change) in run.changes.iter().enumerate() {
        let answered = run.answered.iter().rev().find(|(changes, _)| *changes <= n).map_or(0, |(_, count)| *count);
        // An erased page is cut at its first and last bytes and here and there between: one byte is as another.
        let step = if matches!(change, Change::Erase(..)) { 509 } else { 1 };
        for lasts in (0..bytes_of(change)).step_by(step) {
            let mut cut = Flash { power: Some(lasts), ..Flash::of(image.clone()) };
            let _ = cut.change(change);
            let at = format!("change {n}, byte {lasts}");
            let (flash, there) = wrong(cut.bytes.clone(), answered).map_err(|fault| format!("{at}: {fault}"))?;
            cuts += 1;
            if cuts % twice == 0 {
                cuts += cut_again(&cut.bytes, &flash, there).map_err(|fault| format!("{at}, again: {fault}"))?;
            }
        }
        let mut whole = Flash::of(image);
        whole.change(change).expect("it is changed");
        image = whole.bytes;
    }
    Ok(cuts)
}

/// Cuts the power at every byte of what comes after a cut: putting right, and the next entry.
fn cut_again(image: &[u8], flash: &RefCell<Flash>, there: usize) -> Result<usize, String> {
    let Some(next) = PREPARATION.get(there) else { return Ok(0) };
    // What was put right at the opening is noted already; the next entry goes on from there.
    append(&mut NorStore::open(flash), next).map_err(|fault| format!("the next entry: {fault:?}"))?;
    let shown = NorStore::open(flash).shown().0;
    if shown != PREPARATION[..there + 1] {
        return Err("the next entry is not there".to_owned());
    }
    let changes = flash.borrow().noted.clone().unwrap_or_default();
    let (mut now, mut cuts) = (image.to_vec(), 0);
    for change in &changes {
        for lasts in (0..bytes_of(change)).step_by(if matches!(change, Change::Erase(..)) { 509 } else { 1 }) {
            let mut cut = Flash { power: Some(lasts), ..Flash::of(now.clone()) };
            let _ = cut.change(change);
            wrong(cut.bytes, there)?;
            cuts += 1;
        }
        let mut whole = Flash::of(now);
        whole.change(change).expect("it is changed");
        now = whole.bytes;
    }
    Ok(cuts)
}

#[test]
fn the_power_may_go_at_any_byte_and_again() {
    let run = recorded::<Safe>();
    assert_eq!(run.answered.last().map(|(_, count)| *count), Some(PREPARATION.len()));
    let cuts = cut_everywhere(&run, 37).unwrap_or_else(|fault| panic!("{fault}"));
    println!("{cuts} cuts in {} changes of the memory", run.changes.len());
    assert!(cuts > 10_000, "{cuts}");
}

/// The same check finds a store that answers before it has written.
#[test]
fn a_store_without_its_safety_is_found() {
    let fault = cut_everywhere(&recorded::<Unsafe>(), 37).expect_err("it loses what it answered");
    assert!(fault.contains("were answered"), "{fault}");
}

/// A failed write that is no power cut: nothing more is written until the memory was opened again, and then the count goes
/// on from what stands there.
#[test]
fn after_a_failed_write_no_count_is_used_twice() {
    for power in [0, 1, 7, 20, 60] {
        let flash = RefCell::new(Flash::of(prepared()));
        let mut store = NorStore::open(&flash);
        append(&mut store, &PREPARATION[0]).expect("it is stored");
        flash.borrow_mut().power = Some(power);
        let failed = append(&mut store, &PREPARATION[1]);
        flash.borrow_mut().power = None;
        if failed.is_err() {
            assert_eq!(failed, Err(Unstored::Failed));
            assert_eq!(append(&mut store, &PREPARATION[1]), Err(Unstored::Failed), "it is not tried again");
        }
        let mut store = NorStore::open(&flash);
        let last = store.last() as usize;
        assert!(last == 1 || last == 2);
        append(&mut store, &PREPARATION[last]).expect("it is stored");
        assert_eq!(store.shown().0, PREPARATION[..last + 1]);
    }
}

/// A disk of sectors in memory, with what was written to it.
struct Disk {
    sectors: RefCell<Vec<u8>>,
    written: RefCell<Vec<(u32, Block512)>>,
}

impl embedded_sdmmc::BlockDevice for &Disk {
    type Error = std::io::Error;

    fn read(&self, blocks: &mut [Block512], start: embedded_sdmmc::BlockIdx) -> Result<(), std::io::Error> {
        let sectors = self.sectors.borrow();
        for (n, block) in blocks.iter_mut().enumerate() {
            let at = (start.0 as usize + n) * 512;
            block.contents.copy_from_slice(sectors.get(at..at + 512).ok_or(std::io::ErrorKind::UnexpectedEof)?);
        }
        Ok(())
    }

    fn write(&self, blocks: &[Block512], start: embedded_sdmmc::BlockIdx) -> Result<(), std::io::Error> {
        for (n, block) in (start.0..).zip(blocks) {
            self.sectors.borrow_mut()[n as usize * 512..][..512].copy_from_slice(&block.contents);
            self.written.borrow_mut().push((n, block.clone()));
        }
        Ok(())
    }

    fn num_blocks(&self) -> Result<embedded_sdmmc::BlockCount, std::io::Error> {
        Ok(embedded_sdmmc::BlockCount((self.sectors.borrow().len() / 512) as u32))
    }
}

/// Midnight of the day the file system counts from.
struct NoClock;

impl embedded_sdmmc::TimeSource for NoClock {
    fn get_timestamp(&self) -> embedded_sdmmc::Timestamp {
        embedded_sdmmc::Timestamp {
            year_since_1970: 10,
            zero_indexed_month: 0,
            zero_indexed_day: 0,
            hours: 0,
            minutes: 0,
            seconds: 0,
        }
    }
}

/// Sectors before the partition.
const BEFORE: usize = 64;
/// Sectors of the partition: FAT16 with clusters of one sector.
const SECTORS: usize = 6_144;

/// A card as an office makes it ready, by another implementation of the file system.
fn blank_card() -> Vec<u8> {
    let mut disk = vec![0; (BEFORE + SECTORS) * 512];
    // The partition table: one of type 6 (FAT16).
    disk[446 + 4] = 0x06;
    disk[446 + 8..446 + 12].copy_from_slice(&(BEFORE as u32).to_le_bytes());
    disk[446 + 12..446 + 16].copy_from_slice(&(SECTORS as u32).to_le_bytes());
    disk[510..512].copy_from_slice(&[0x55, 0xaa]);
    let mut volume = std::io::Cursor::new(vec![0; SECTORS * 512]);
    let options = fatfs::FormatVolumeOptions::new().bytes_per_cluster(512).fat_type(fatfs::FatType::Fat16);
    fatfs::format_volume(&mut volume, options).expect("it is formatted");
    let files = fatfs::FileSystem::new(&mut volume, fatfs::FsOptions::new()).expect("a file system");
    for directory in [names::FOLDER, names::BOOKS, names::PACKS] {
        files.root_dir().create_dir(directory).expect("a directory");
    }
    drop(files);
    disk[BEFORE * 512..].copy_from_slice(volume.get_ref());
    disk
}

/// The book on a card, read by another implementation of the file system; `None` where there is none.
fn book_on(disk: &[u8]) -> Option<Vec<u8>> {
    use std::io::Read;
    let volume = std::io::Cursor::new(disk[BEFORE * 512..].to_vec());
    let files = fatfs::FileSystem::new(volume, fatfs::FsOptions::new()).expect("a file system");
    let mut bytes = Vec::new();
    let mut file = files.root_dir().open_file(&names::book(IDENTITY.device, 0)).ok()?;
    file.read_to_end(&mut bytes).expect("the book");
    Some(bytes)
}

fn give_to(disk: Vec<u8>, store: &NorStore<'_, Flash>) -> (Result<u32, GiveFault>, Disk) {
    let disk = Disk { sectors: RefCell::new(disk), written: RefCell::new(Vec::new()) };
    let given = give(store, &mut FatCard::new(&disk, NoClock)).map(|given| given.entries);
    (given, disk)
}

/// A card with a FAT file system: the power goes after every sector that is written, and in the middle of each. What was
/// whole on the card is whole, and the next time the book is.
#[test]
fn a_cards_power_may_go_at_any_sector() {
    let flash = RefCell::new(Flash::of(prepared()));
    run::<NorStore<'_, Flash>>(&flash, &PREPARATION);
    let mut store = NorStore::open(&flash);
    store.seal().expect("it is sealed");
    let blank = blank_card();
    let (given, card) = give_to(blank.clone(), &store);
    assert_eq!(given, Ok(PREPARATION.len() as u32));
    let wanted = book_on(&card.sectors.borrow()).expect("the book");
    assert!(wanted.starts_with(b"OSBK") && wanted.len() > 512, "{}", wanted.len());
    let written = card.written.into_inner();
    assert!(written.len() > 5, "{}", written.len());
    let mut disk = blank;
    for (n, (sector, block)) in written.iter().enumerate() {
        let at = *sector as usize * 512;
        for half in [false, true] {
            let mut cut = disk.clone();
            if half {
                cut[at..at + 256].copy_from_slice(&block.contents[..256]);
            }
            let left = book_on(&cut).unwrap_or_default();
            assert!(left.len() <= wanted.len(), "write {n}");
            let (given, card) = give_to(cut, &store);
            assert!(given.is_ok(), "write {n}, half {half}: {given:?}");
            assert_eq!(book_on(&card.sectors.borrow()).as_ref(), Some(&wanted), "write {n}, half {half}");
        }
        disk[at..at + 512].copy_from_slice(&block.contents);
    }
}

/// An exchange with a card in which a new shift file comes in and what the office has is forgotten: the power goes within
/// every change of the memory. Nothing recorded is missing afterwards, and the exchange can be done again.
#[test]
fn the_power_may_go_while_a_shift_file_comes_in() {
    let (evening, temp) = (Evening::play(), tempfile::tempdir().expect("a directory"));
    let mut shed = offshed_depot::shed::Shed::open(&evening.path).expect("the folder");
    let now = evening.at("2026-05-02 10:00");
    let mut meet = || offshed_depot::card::exchange(&mut shed, temp.path(), now, None).map(|_| ()).expect("the office");
    let some = &PREPARATION[..20];
    let flash = RefCell::new(Flash::blank(96));
    provision(&flash, &IDENTITY).expect("it is set up");
    meet();
    let report = NorStore::open(&flash).exchange(&mut CardDir::new(temp.path()), None);
    assert!(report.is_good(), "{report}");
    let mut store = NorStore::open(&flash);
    some.iter().for_each(|entry| append(&mut store, entry).expect("it is stored"));
    let report = store.exchange(&mut CardDir::new(temp.path()), None);
    assert_eq!(report.given, Ok(20), "{report}");
    meet();
    let base = flash.borrow().bytes.clone();
    flash.borrow_mut().noted = Some(Vec::new());
    let report = NorStore::open(&flash).exchange(&mut CardDir::new(temp.path()), None);
    assert_eq!((report.given, report.freed), (Ok(0), 20), "{report}");
    let changes = flash.borrow_mut().noted.take().expect("it was noted");
    assert!(changes.len() > 60, "{}", changes.len());
    let own = |store: &NorStore<'_, Flash>| {
        let mut own = Vec::new();
        store.each(&mut |entry| own.extend((entry.at.device == IDENTITY.device).then(|| entry.clone())));
        own
    };
    let mut image = base;
    for (n, change) in changes.iter().enumerate() {
        let all = bytes_of(change);
        for lasts in [0, 1, all / 2, all - 1] {
            let mut cut = Flash { power: Some(lasts), ..Flash::of(image.clone()) };
            let _ = cut.change(change);
            let flash = RefCell::new(Flash::of(cut.bytes));
            let mut store = NorStore::open(&flash);
            assert_eq!(own(&store), some, "change {n}, byte {lasts}");
            let report = store.exchange(&mut CardDir::new(temp.path()), None);
            assert!(report.is_good(), "change {n}, byte {lasts}: {report}");
            let store = NorStore::open(&flash);
            assert_eq!((own(&store).as_slice(), store.last()), (some, 20), "change {n}, byte {lasts}");
        }
        let mut whole = Flash::of(image);
        whole.change(change).expect("it is changed");
        image = whole.bytes;
    }
}
