//! BOOK.OSB: this device's book, format 1. What the log holds and the book does not is sealed into signed blocks.
//!
//! A block is first made whole in memory, then written behind the end of the book, and last the book's new length is
//! stated. The log stays as it is.

use heapless::Vec;
use offshed_core::entry::{Entry, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef};
use offshed_core::record::bits::BitFault;
use offshed_core::record::chain::{self, HeadFault};
use offshed_core::record::columns::Encoder;
use offshed_core::record::head::{
    self, BLOCK_VERSION, BlockHead, BodyHash, ENTRIES, HEAD_BYTES, Hash, SHEETS, Touch, Touched,
};
use offshed_core::record::seal::{SIGNATURE, Signer};
use sha2::{Digest, Sha256};

use crate::disk::{self, Extents, Sectors, Stream};
use crate::fault::CardFault;
use crate::journal::Card;

/// The file's name.
pub const NAME: &str = "BOOK.OSB";
/// Bytes of a body that are made in memory: a run that takes more becomes several blocks.
const BODY: usize = 2_048;
/// The file that holds the device's id (8 bytes) and its secret key (32).
pub const KEY: &str = "DEVICE.KEY";

/// Who the device is: its id, and what it signs with.
///
/// # Errors
/// When the file is not there, or not 40 bytes long.
pub fn identity<D: Sectors>(device: D) -> Result<(DeviceId, Signer), CardFault> {
    let extents = disk::find(device, KEY)?;
    let mut bytes = [0; 40];
    if extents.bytes != 40 || !Stream::new(device, &extents, 0).fill(&mut bytes)? {
        return Err(CardFault::Damaged(KEY, 0));
    }
    let (id, seed) = bytes.split_first_chunk::<8>().ok_or(CardFault::Damaged(KEY, 0))?;
    let seed = <[u8; 32]>::try_from(seed).map_err(|_| CardFault::Damaged(KEY, 8))?;
    Ok((DeviceId(*id), Signer::from_seed(&seed)))
}

/// Where the next block goes, and what it follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tip {
    /// Bytes of the book.
    pub bytes: u32,
    /// Its blocks.
    pub blocks: u32,
    /// The highest count in it.
    pub last: u32,
    previous: Hash,
}

/// The end of the book on the card; the office has put at least its head there.
///
/// # Errors
/// When it is damaged or another device's: it is then never appended to.
pub fn tip<D: Sectors>(device: D, own: DeviceId) -> Result<Tip, CardFault> {
    let extents = disk::find(device, NAME)?;
    let mut tip = Tip { bytes: chain::HEAD as u32, blocks: 0, last: 0, previous: head::root(own) };
    let mut start = [0; chain::HEAD];
    let whole = Stream::new(device, &extents, 0).fill(&mut start)?;
    match chain::read_head(chain::BOOK, &start) {
        Ok(device) if whole && device == own => {}
        Err(HeadFault::Version(found)) => return Err(CardFault::Version(NAME, found)),
        _ => return Err(CardFault::Damaged(NAME, 0)),
    }
    while tip.bytes < extents.bytes {
        tip = after(device, &extents, own, tip)?;
    }
    Ok(tip)
}

/// The tip behind the block that stands at the tip.
fn after<D: Sectors>(device: D, extents: &Extents, own: DeviceId, tip: Tip) -> Result<Tip, CardFault> {
    let damaged = CardFault::Damaged(NAME, tip.bytes);
    let mut bytes = [0; HEAD_BYTES];
    let there = (extents.bytes - tip.bytes).min(HEAD_BYTES as u32) as usize;
    let start = bytes.get_mut(..there).ok_or(damaged)?;
    Stream::new(device, extents, tip.bytes).fill(start)?;
    let (block, length) = BlockHead::read(start).ok_or(damaged)?;
    let follows = block.device == own && block.number == tip.blocks && block.previous == tip.previous;
    let body = tip.bytes + (length + SIGNATURE) as u32;
    if !follows || body.saturating_add(block.body_len) > extents.bytes {
        return Err(damaged);
    }
    if body_hash(device, extents, body, block.body_len)? != block.body_hash {
        return Err(damaged);
    }
    let previous = Sha256::digest(start.get(..length).ok_or(damaged)?).into();
    Ok(Tip { bytes: body + block.body_len, blocks: tip.blocks + 1, last: tip.last.max(block.last()), previous })
}

fn body_hash<D: Sectors>(device: D, extents: &Extents, at: u32, length: u32) -> Result<BodyHash, CardFault> {
    let (mut stream, mut hash, mut left) = (Stream::new(device, extents, at), Sha256::new(), length as usize);
    let mut piece = [0; 64];
    while left > 0 {
        let take = piece.get_mut(..left.min(64)).unwrap_or_default();
        if !stream.fill(take)? {
            return Err(CardFault::Damaged(NAME, at));
        }
        left -= take.len();
        hash.update(take);
    }
    let whole: Hash = hash.finalize().into();
    Ok(whole.first_chunk().copied().unwrap_or_default())
}

/// What a block says of the entries in it, before they are put into it.
struct Run {
    first: u32,
    entries: u32,
    touched: Touched,
    sheets: Vec<EntryRef, SHEETS>,
}

/// Sheets and defects whose engines are known while a run is looked at.
type Openers = Vec<(EntryRef, Option<EngineId>), 16>;

/// Seals what the log holds behind the end of the book; answers the new end, and how many entries were sealed.
///
/// # Errors
/// When the book is damaged, an entry fits no block, or the card does not answer; the log still holds everything.
pub fn seal<D: Sectors>(card: &Card<D>, signer: &Signer) -> Result<(Tip, u32), CardFault> {
    let mut tip = tip(card.device(), card.own())?;
    let mut sealed = 0;
    let mut most = ENTRIES;
    while let Some(run) = run(card, tip.last, most)? {
        let mut body = [0; BODY];
        match encode(card, &run, &mut body) {
            Err(BitFault::Full) if run.entries > 1 => most = run.entries / 2,
            Err(_) => return Err(CardFault::Unsealable),
            Ok(length) => {
                let body = body.get(..length).ok_or(CardFault::Unsealable)?;
                sealed += run.entries;
                tip = append(card, tip, run, body, signer)?;
                most = ENTRIES;
            }
        }
    }
    Ok((tip, sealed))
}

/// The entries of the log behind a count, in the order of counts.
fn behind<D: Sectors>(
    card: &Card<D>,
    last: u32,
    most: u32,
    mut show: impl FnMut(&Entry) -> Result<(), BitFault>,
) -> Result<Result<(), BitFault>, CardFault> {
    let mut walk = card.log().walk();
    let mut shown = 0;
    while let Some(entry) = walk.entry_next()? {
        if entry.at.seq > last && entry.at.device == card.own() {
            if shown == most {
                break;
            }
            shown += 1;
            if let Err(fault) = show(&entry) {
                return Ok(Err(fault));
            }
        }
    }
    Ok(Ok(()))
}

fn run<D: Sectors>(card: &Card<D>, last: u32, most: u32) -> Result<Option<Run>, CardFault> {
    let mut run = Run { first: 0, entries: 0, touched: Touched::default(), sheets: Vec::new() };
    let mut openers = Openers::new();
    let mut failed = None;
    let looked = behind(card, last, most, |entry| {
        run.first = if run.entries == 0 { entry.at.seq } else { run.first };
        run.entries += 1;
        if let Some(sheet) = entry.sheet().filter(|sheet| !run.sheets.contains(sheet)) {
            // Those beyond the first are written out in the body.
            let _ = run.sheets.push(sheet);
        }
        let engine = match head::touch(&entry.what) {
            Touch::Of(opened) => opener(card, &mut openers, opened),
            _ => Ok(None),
        };
        failed = failed.or(engine.err());
        run.touched.entry(entry, |_| engine.unwrap_or_default());
        Ok(())
    });
    looked?.map_err(|_| CardFault::Unsealable)?;
    if let Some(fault) = failed {
        return Err(fault);
    }
    Ok((run.entries > 0).then_some(run))
}

/// The engine of a sheet or a defect, by the entry that opened it.
fn opener<D: Sectors>(card: &Card<D>, known: &mut Openers, of: EntryRef) -> Result<Option<EngineId>, CardFault> {
    if let Some((_, engine)) = known.iter().find(|(at, _)| *at == of) {
        return Ok(*engine);
    }
    let engine = match opened_in_log(card, of)? {
        None => opened_before(card, of)?,
        found => found,
    };
    if known.is_full() {
        known.remove(0);
    }
    let _ = known.push((of, engine));
    Ok(engine)
}

fn engine_of(entry: &Entry) -> Option<EngineId> {
    match entry.what {
        What::SheetOpened { engine, .. } | What::DefectOpened { engine, .. } => Some(engine),
        _ => None,
    }
}

fn opened_in_log<D: Sectors>(card: &Card<D>, of: EntryRef) -> Result<Option<EngineId>, CardFault> {
    let mut walk = card.log().walk();
    while let Some(entry) = walk.entry_next()? {
        if entry.at == of {
            return Ok(engine_of(&entry));
        }
    }
    Ok(None)
}

fn opened_before<D: Sectors>(card: &Card<D>, of: EntryRef) -> Result<Option<EngineId>, CardFault> {
    let mut frames = card.intake().frames(card.device());
    while let Some(entry) = frames.entry()? {
        if entry.at == of {
            return Ok(engine_of(&entry));
        }
    }
    Ok(None)
}

fn encode<D: Sectors>(card: &Card<D>, run: &Run, body: &mut [u8]) -> Result<usize, BitFault> {
    let mut encoder = Encoder::new(card.own(), run.first, &run.sheets, body);
    let last = run.first.saturating_sub(1);
    match behind(card, last, run.entries, |entry| encoder.put(entry)) {
        Ok(put) => put.and_then(|()| encoder.finish()),
        Err(_) => Err(BitFault::Meaningless),
    }
}

fn append<D: Sectors>(card: &Card<D>, tip: Tip, run: Run, body: &[u8], signer: &Signer) -> Result<Tip, CardFault> {
    let head = BlockHead {
        version: BLOCK_VERSION,
        reader: BLOCK_VERSION,
        device: card.own(),
        number: tip.blocks,
        first: run.first,
        entries: run.entries,
        touched: run.touched,
        sheets: run.sheets,
        previous: tip.previous,
        key: (tip.blocks == 0).then(|| signer.key()),
        body_len: body.len() as u32,
        body_hash: head::body_hash(body),
    };
    let bytes = head.write().ok_or(CardFault::Unsealable)?;
    let signature = signer.sign(&bytes);
    let mut extents = disk::find(card.device(), NAME)?;
    disk::append(card.device(), &mut extents, &[&bytes, &signature, body])?;
    let after = self::tip(card.device(), card.own())?;
    // The book is read back to its end: what is sealed is on the card as it was made.
    let kept = after.previous == Hash::from(Sha256::digest(&bytes));
    if kept { Ok(after) } else { Err(CardFault::ReadBack) }
}
