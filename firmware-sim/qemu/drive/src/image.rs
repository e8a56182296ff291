//! A card image: a partition table, a FAT32 volume made by the usual tools, and the files that the office puts there.

use std::cell::RefCell;
use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::process::Command;

use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, PersonId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::chain;
use offshed_core::record::frame::{self, OVERHEAD, kind};
use offshed_core::stamp::Stamp;
use offshed_depot::packfile::PackFile;
use offshed_sd::disk::{self, Block, SECTOR, Sectors};
use offshed_sd::fault::CardFault;
use offshed_sd::intake::{Head, PIN, Verifier};
use offshed_sd::{book, intake, log, words};
use pbkdf2::pbkdf2_hmac_array;
use pbkdf2::sha2::Sha256;

/// Bytes of an image; the emulator wants a power of two.
const BYTES: u64 = 64 << 20;
/// Where the volume starts, sectors.
const START: u32 = 2_048;
/// Bytes of the log, and of the room that the book has.
const LOG_BYTES: usize = 512 << 10;
const BOOK_BYTES: usize = 128 << 10;
/// How often a handheld hashes a PIN; `CARD.md` says what that is worth.
const ITERATIONS: u32 = 1_000;

/// What a card is made of.
pub(crate) struct Contents<'a> {
    /// The pack, with its words.
    pub(crate) pack: &'a PackFile,
    /// Records, in the merged order.
    pub(crate) entries: &'a [Entry],
    /// PINs.
    pub(crate) pins: &'a [(PersonId, String)],
    /// The device that the card is for.
    pub(crate) device: DeviceId,
    /// Its secret key.
    pub(crate) seed: [u8; 32],
    /// When the card is made.
    pub(crate) made: Stamp,
}

/// Makes an image in the place of what is there.
///
/// # Errors
/// When a tool is missing or fails, or the image can't be written.
pub(crate) fn make(image: &Path, contents: &Contents<'_>) -> io::Result<()> {
    let mut file = File::create(image)?;
    file.set_len(BYTES)?;
    file.write_all(&partition_table())?;
    drop(file);
    let kib = (BYTES / 1_024 - u64::from(START) / 2).to_string();
    run(Command::new("mkfs.fat").args(["-F", "32", "-s", "1", "--offset", &START.to_string()]).arg(image).arg(kib))?;
    let mut key = contents.device.0.to_vec();
    key.extend_from_slice(&contents.seed);
    let mut room = chain::head(chain::BOOK, contents.device).to_vec();
    let written = room.len() as u32;
    room.resize(BOOK_BYTES, 0);
    for (name, bytes) in [
        (book::KEY, key),
        (intake::NAME, shift(contents)?),
        (words::NAME, contents.pack.bytes().to_vec()),
        (log::NAME, vec![0; LOG_BYTES]),
        (book::NAME, room),
    ] {
        put(image, name, &bytes)?;
    }
    // The book's room stays its own; how long it is, is stated.
    let image = Image::open(image)?;
    let mut extents = disk::find(&image, book::NAME).map_err(io::Error::other)?;
    disk::set_length(&image, &mut extents, written).map_err(io::Error::other)
}

/// One partition, FAT32 by sector number, over all behind the first mebibyte.
fn partition_table() -> [u8; SECTOR] {
    let mut table = [0; SECTOR];
    let sectors = (BYTES / SECTOR as u64) as u32 - START;
    table[446 + 4] = 0x0c;
    table[446 + 8..446 + 12].copy_from_slice(&START.to_le_bytes());
    table[446 + 12..446 + 16].copy_from_slice(&sectors.to_le_bytes());
    table[510..].copy_from_slice(&[0x55, 0xaa]);
    table
}

/// How the volume in an image is named to the tools that copy.
fn volume(image: &Path) -> String {
    format!("{}@@{}", image.display(), u64::from(START) * SECTOR as u64)
}

fn run(command: &mut Command) -> io::Result<()> {
    let done = command.output().map_err(|fault| io::Error::other(format!("{command:?}: {fault}")))?;
    if done.status.success() {
        return Ok(());
    }
    Err(io::Error::other(format!("{command:?}: {}", String::from_utf8_lossy(&done.stderr))))
}

/// Puts a file into the root directory of the volume.
fn put(image: &Path, name: &str, bytes: &[u8]) -> io::Result<()> {
    let folder = tempfile::tempdir()?;
    let from = folder.path().join(name);
    fs::write(&from, bytes)?;
    run(Command::new("mcopy").args(["-o", "-i", &volume(image)]).arg(from).arg(format!("::{name}")))
}

/// Takes a file out of the volume.
///
/// # Errors
/// When it is not there, or can't be written.
pub(crate) fn take(image: &Path, name: &str, to: &Path) -> io::Result<()> {
    run(Command::new("mcopy").args(["-n", "-o", "-i", &volume(image)]).arg(format!("::{name}")).arg(to))
}

fn frames(pins: &[Verifier], entries: &[Entry]) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let mut put = |kind: u8, body: &[u8]| -> io::Result<()> {
        let mut out = [0; ENTRY_BYTES + OVERHEAD];
        let frame = frame::write(kind, body, &mut out).ok_or_else(|| io::Error::other("longer than a frame"))?;
        bytes.extend_from_slice(frame);
        Ok(())
    };
    for pin in pins {
        put(PIN, &pin.write())?;
    }
    for entry in entries {
        let mut buffer = [0; ENTRY_BYTES];
        let encoded =
            entry.encode(&mut buffer).map_err(|_| io::Error::other(format!("entry {} is too long", entry.at)))?;
        put(kind::ENTRY, encoded)?;
    }
    Ok(bytes)
}

/// The file of what comes in.
fn shift(contents: &Contents<'_>) -> io::Result<Vec<u8>> {
    let verifiers: Vec<Verifier> = contents.pins.iter().map(|(person, digits)| verifier(*person, digits)).collect();
    let frames = frames(&verifiers, contents.entries)?;
    let log = pbkdf2_hmac_array::<Sha256, 8>(&contents.seed, &contents.made.0.to_le_bytes(), 1);
    let length = u32::try_from(frames.len()).map_err(io::Error::other)?;
    let head = Head { pack: contents.pack.hash(), log, made: contents.made, length };
    Ok([&head.write()[..], &frames].concat())
}

fn verifier(person: PersonId, digits: &str) -> Verifier {
    // A salt of its own for each person and PIN; a card for real use takes it from the office's verifiers.
    let salt = pbkdf2_hmac_array::<Sha256, 16>(digits.as_bytes(), &person.0.to_le_bytes(), 1);
    let hash = pbkdf2_hmac_array::<Sha256, 32>(digits.as_bytes(), &salt, ITERATIONS);
    Verifier { person, iterations: ITERATIONS, salt, hash }
}

/// An image as a card.
pub(crate) struct Image(RefCell<File>);

impl Image {
    /// Opens it.
    ///
    /// # Errors
    /// When it can't be opened for writing.
    pub(crate) fn open(path: &Path) -> io::Result<Image> {
        Ok(Image(RefCell::new(File::options().read(true).write(true).open(path)?)))
    }
}

impl Sectors for &Image {
    fn read(&self, n: u32, into: &mut Block) -> Result<(), CardFault> {
        let mut file = self.0.borrow_mut();
        let at = file.seek(SeekFrom::Start(u64::from(n) * SECTOR as u64));
        at.and_then(|_| file.read_exact(&mut into.contents)).map_err(|_| CardFault::Card)
    }

    fn write(&self, n: u32, from: &Block) -> Result<(), CardFault> {
        let mut file = self.0.borrow_mut();
        let at = file.seek(SeekFrom::Start(u64::from(n) * SECTOR as u64));
        at.and_then(|_| file.write_all(&from.contents)).map_err(|_| CardFault::Card)
    }
}
