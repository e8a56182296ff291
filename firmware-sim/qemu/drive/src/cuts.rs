//! The power goes at any moment: what was shown as recorded is on the card, and the device goes on from there.

use std::error::Error;
use std::fs;
use std::path::Path;

use offshed_core::entry::Entry;
use offshed_core::ident::DeviceId;
use offshed_handheld::hand::Records;
use offshed_sd::disk::{self, Block, Sectors};
use offshed_sd::journal::{Card, CardJournal};
use offshed_sd::log;

use crate::board::Board;
use crate::image::Image;
use crate::prove::{Evening, side_by_side};
use crate::script::Act;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// What the device wrote, as its card tells it.
fn written(card: &Path, evening: &Evening) -> Outcome<Vec<Entry>> {
    let image = Image::open(card)?;
    let card = Card::open(&image, evening.device(), evening.pack.hash())?;
    let mut entries = Vec::new();
    CardJournal::new(&card).each(&mut |entry| entries.push(entry.clone()));
    match card.fault() {
        None => Ok(entries.into_iter().filter(|entry| entry.at.device == evening.device()).collect()),
        Some(fault) => Err(fault.into()),
    }
}

/// Tears page `n` of the log: its second half is as it was before.
fn tear(card: &Path, n: u32) -> Outcome<()> {
    let image = Image::open(card)?;
    let extents = disk::find(&image, log::NAME)?;
    let sector = extents.sector(n).ok_or("no such page")?;
    let mut block = Block::new();
    (&image).read(sector, &mut block)?;
    block.contents[24..].fill(0);
    Ok((&image).write(sector, &block)?)
}

fn of_twin(entries: &[Entry], device: DeviceId) -> Vec<Entry> {
    entries.iter().filter(|entry| entry.at.device == device).cloned().collect()
}

/// Cuts the power after some acts, with and without a torn sector, and starts again.
///
/// # Errors
/// When an entry that was recorded is not on the card, or the device does not start on it.
pub(crate) fn cut(elf: &Path, evening: &Evening, fresh: &Path, acts: &[Act], out: &Path) -> Outcome<()> {
    let shots: Vec<usize> =
        acts.iter().enumerate().filter(|(_, act)| matches!(act, Act::Shot(_))).map(|(n, _)| n).collect();
    for answers in [1, 6, 20] {
        let until = *shots.get(answers).ok_or("too short a script")?;
        let card = out.join("cut.img");
        fs::copy(fresh, &card)?;
        let mut board = Board::start(elf, &card, evening.start)?;
        let (pack, texts) = evening.rules();
        let mut twin = evening.twin((&pack, &texts));
        side_by_side(&mut board, &mut twin, acts.get(..=until).unwrap_or(acts), out)?;
        let (_, pages) = board.told()?;
        board.cut()?;
        let ours = of_twin(&twin.program.journal().entries, evening.device());
        if written(&card, evening)? != ours {
            return Err(format!("after {answers} answers and a cut the card holds something else").into());
        }
        // A sector that is torn in two is one whose entry was never taken: here the last one is made such a sector.
        tear(&card, u32::try_from(pages)? - 1)?;
        let left = written(&card, evening)?;
        if left.as_slice() != ours.get(..ours.len() - 1).unwrap_or_default() {
            return Err(
                format!("a torn sector takes more than its entry with it: {} of {}", left.len(), ours.len()).into()
            );
        }
        let mut board = Board::start(elf, &card, evening.start.plus(3_600))?;
        let (_, found) = board.told()?;
        if found != pages - 1 {
            return Err(format!("the device goes on at page {found}, not {}", pages - 1).into());
        }
        println!("cut after {} entries: all are there; a torn one is written over", ours.len());
    }
    Ok(())
}
