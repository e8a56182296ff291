//! A data folder at work: what is recorded, folded, and the one way to write more.

use std::path::Path;

use offshed_core::desk::{Denied, Desk, View};
use offshed_core::engine::EngineState;
use offshed_core::entry::{Answer, Entry, Found, What};
use offshed_core::fold;
use offshed_core::ident::{EngineId, PackHash, PersonId, SheetId, StepId};
use offshed_core::pack::Pack;
use offshed_core::pack::rows::KindRow;
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now, Stamp};
use offshed_core::verdict::{self, Scene};
use offshed_core::words::{self, ENGLISH};

use crate::exchange::{Came, Exchange, Exchanged};
use crate::folder::{self, Folder, FolderFault, FolderFinding};
use crate::ledger::{Ledger, PackNames};
use crate::packfile::{PackFile, PackFileFault};
use crate::sync::{self, SyncReport};

/// A folder open for writing.
pub struct Shed {
    desk: Desk<Folder>,
    ledger: Ledger,
    findings: Vec<FolderFinding>,
}

/// Why nothing was written.
#[derive(Debug)]
pub enum Denial {
    /// The rules refuse it.
    Refused(Why),
    /// The folder could not make it durable, or could not be read.
    Folder(FolderFault),
    /// A pack file is not sound.
    Pack(PackFileFault),
    /// This device's count is used up; give the folder a new identity.
    Exhausted,
    /// The entry is longer than its buffer.
    Unwritable,
}

impl From<FolderFault> for Denial {
    fn from(fault: FolderFault) -> Denial {
        Denial::Folder(fault)
    }
}

impl From<Denied<FolderFault>> for Denial {
    fn from(denied: Denied<FolderFault>) -> Denial {
        match denied {
            Denied::Refused(why) => Denial::Refused(why),
            Denied::NotDurable(fault) => Denial::Folder(fault),
            Denied::Exhausted => Denial::Exhausted,
            Denied::Unwritable(_) => Denial::Unwritable,
        }
    }
}

/// An answer to a step with what surrounds it.
#[derive(Clone, Debug)]
pub struct Given {
    /// On this sheet.
    pub sheet: SheetId,
    /// The step.
    pub step: StepId,
    /// The answer.
    pub answer: Answer,
    /// The second person who was there.
    pub with: Option<PersonId>,
    /// When it was done, if not just now.
    pub done_at: Option<Stamp>,
}

/// What a folder holds, folded, for looking only: takes no lock and writes nothing.
///
/// # Errors
/// When there is no data folder, or it can't be read.
pub fn look(path: &Path) -> Result<(Ledger, Vec<FolderFinding>, Folder), FolderFault> {
    let opened = Folder::open_read_only(path)?;
    let (ledger, findings) = fold_all(&opened.folder, opened.entries, opened.findings)?;
    Ok((ledger, findings, opened.folder))
}

pub(crate) fn fold_all(
    folder: &Folder,
    entries: Vec<Entry>,
    mut findings: Vec<FolderFinding>,
) -> Result<(Ledger, Vec<FolderFinding>), FolderFault> {
    let mut packs = Vec::new();
    for hash in folder.packs()? {
        match folder.pack(hash)?.map(PackFile::from_bytes) {
            Some(Ok(pack)) => packs.push(pack),
            Some(Err(fault)) => findings.push(unusable(hash, &fault)),
            None => {}
        }
    }
    let mut ledger = Ledger::build(packs, entries);
    for finding in findings.iter().filter(|finding| finding.leaves_doubt()) {
        ledger.doubt(finding.device, finding.scope.clone());
    }
    Ok((ledger, findings))
}

/// A pack whose bytes are those of its name, and which this program can't use all the same.
fn unusable(hash: PackHash, fault: &PackFileFault) -> FolderFinding {
    let what = folder::Found::CannotRead { why: fault.to_string() };
    FolderFinding::new(format!("packs/{hash:#}.pack"), None, None, what)
}

impl Shed {
    /// Opens a folder for writing.
    ///
    /// # Errors
    /// When there is none, it is in use, or it can't be read.
    pub fn open(path: &Path) -> Result<Shed, FolderFault> {
        let opened = Folder::open(path)?;
        let (ledger, findings) = fold_all(&opened.folder, opened.entries, opened.findings)?;
        let folder = opened.folder;
        let desk = Desk::new(folder.device(), folder.last_seq(), ledger.clock(), folder);
        Ok(Shed { desk, ledger, findings })
    }

    /// What is recorded, folded.
    pub fn ledger(&self) -> &Ledger {
        &self.ledger
    }

    /// The folder.
    pub fn folder(&self) -> &Folder {
        self.desk.store()
    }

    /// The folder, to set PINs and the like.
    pub fn folder_mut(&mut self) -> &mut Folder {
        self.desk.store_mut()
    }

    /// What was damaged, and where, when the folder was opened.
    pub fn findings(&self) -> &[FolderFinding] {
        &self.findings
    }

    /// Judges an intention, makes it durable and folds it. A signature or review seals the journal into a block.
    ///
    /// # Errors
    /// When the rules refuse it or it is not durable; nothing is then written.
    pub fn act(&mut self, what: What, person: PersonId, now: Now) -> Result<Entry, Denial> {
        let seals = matches!(&what, What::Answered { answer: Answer::Signed { .. } | Answer::Reviewed { .. }, .. });
        self.check_join(&what)?;
        let ledger = &self.ledger;
        let sheet = sheet_of(&what).and_then(|id| ledger.sheet(id));
        let hash = sheet.map_or(ledger.office.adopted, |s| Some(s.pack));
        let pack: Option<Pack<'_>> = hash.and_then(|h| ledger.pack(h)).map(PackFile::pack);
        let id = ledger.engine_of(&what);
        let nothing = EngineState::new(id.unwrap_or(EngineId(0)));
        let engine = id.map(|id| ledger.engine(id).unwrap_or(&nothing));
        let today = Day::of(ledger.office.zone().day(now.stamp));
        let office = ledger.office.staffing(ledger.adopted().map(PackFile::pack).as_ref(), today);
        let view = View { pack: pack.as_ref(), register: &ledger.office, engine, sheet, office };
        let entry = self.desk.act(&view, what, person, now)?;
        self.ledger.take(entry.clone());
        if seals {
            self.desk.store_mut().seal()?;
        }
        Ok(entry)
    }

    /// Two sheets can be joined when both are open and of one engine, sequence and pack.
    fn check_join(&self, what: &What) -> Result<(), Denial> {
        let What::Joined { into, from } = what else { return Ok(()) };
        let refused = Denial::Refused(Why::NotJoinable { sheet: *from });
        match (self.ledger.sheet(*into), self.ledger.sheet(*from)) {
            (Some(into), Some(from)) => fold::joinable(into, from).map_err(Denial::Refused),
            _ => Err(refused),
        }
    }

    /// Answers a step; the answer that stands on it is named, so that two devices' answers are told apart later.
    ///
    /// # Errors
    /// As [`Shed::act`].
    pub fn answer(&mut self, given: Given, person: PersonId, now: Now) -> Result<Entry, Denial> {
        let Given { sheet, step, answer, with, done_at } = given;
        let answer = self.completed(sheet, step, answer);
        let over = self.ledger.sheet(sheet).and_then(|s| {
            let pack = self.ledger.pack(s.pack)?;
            fold::standing(&pack.pack(), s, step)
        });
        self.act(What::Answered { sheet, step, answer, done_at, with, over }, person, now)
    }

    /// What a derived step shows now, as an answer that accepts it.
    ///
    /// # Errors
    /// When there is no such sheet or step, or what it computes can't be told.
    pub fn acceptance(&self, sheet: SheetId, step: StepId, now: Now) -> Result<Answer, Denial> {
        let shown = scene(&self.ledger, sheet, |scene| {
            let (row, _) = verdict::find(scene, step)?;
            verdict::shown(scene, &row, now)
        });
        shown.unwrap_or(Err(Why::SheetClosed)).map(Answer::Accepted).map_err(Denial::Refused)
    }

    /// An answer with what is computed from it: the delivery of a feed, where it can be told.
    fn completed(&self, sheet: SheetId, step: StepId, answer: Answer) -> Answer {
        let Answer::Part { part, found: Found::Reading(reading) } = answer else { return answer };
        let told = scene(&self.ledger, sheet, |scene| {
            let row = scene.pack.step(step)?;
            let KindRow::Procedure { parts } = row.kind else { return None };
            let asked = scene.pack.parts(parts).nth(usize::from(part))?.ask;
            verdict::delivery(scene, &row, asked, reading).ok()?
        });
        match told.flatten() {
            Some(told) => Answer::Part { part, found: Found::Rose { reading, delivery: told.shown } },
            None => Answer::Part { part, found: Found::Reading(reading) },
        }
    }

    /// A signature as of what this device has seen on the sheet.
    ///
    /// # Errors
    /// When there is no such sheet.
    pub fn signature(&self, sheet: SheetId) -> Result<Answer, Denial> {
        let found = self.ledger.sheet(sheet).ok_or(Denial::Refused(Why::SheetClosed))?;
        Ok(Answer::Signed { pack: found.pack, seen: found.heads().clone() })
    }

    /// A review as of what this device has seen on the sheet.
    ///
    /// # Errors
    /// When there is no such sheet.
    pub fn review(
        &self,
        sheet: SheetId,
        outcome: offshed_core::entry::Review,
        words: offshed_core::entry::Words,
    ) -> Result<Answer, Denial> {
        let found = self.ledger.sheet(sheet).ok_or(Denial::Refused(Why::SheetClosed))?;
        Ok(Answer::Reviewed { outcome, words, seen: found.heads().clone() })
    }

    /// Looks at a sheet and its engine under the sheet's pack.
    pub fn scene<R>(&self, sheet: SheetId, look: impl FnOnce(&Scene<'_>) -> R) -> Option<R> {
        scene(&self.ledger, sheet, look)
    }

    /// Takes a pack file in.
    ///
    /// # Errors
    /// When it is not sound, or can't be stored.
    pub fn add_pack(&mut self, bytes: Vec<u8>) -> Result<PackHash, Denial> {
        let pack = PackFile::from_bytes(bytes).map_err(Denial::Pack)?;
        self.desk.store_mut().add_pack(pack.bytes())?;
        let hash = pack.hash();
        self.ledger.add_pack(pack);
        Ok(hash)
    }

    /// Exchanges what is missing with another folder; both then hold the same books and packs.
    ///
    /// # Errors
    /// When a folder can't be read or written. What was exchanged before stays.
    pub fn sync(&mut self, other: &mut Shed) -> Result<SyncReport, Denial> {
        let report = sync::sync(self.desk.store_mut(), other.desk.store_mut())?;
        self.refold()?;
        other.refold()?;
        Ok(report)
    }

    /// Exchanges what is missing with a plain directory that carries books and packs between folders.
    ///
    /// # Errors
    /// As [`Shed::sync`].
    pub fn sync_with_dir(&mut self, dir: &Path) -> Result<SyncReport, Denial> {
        let report = sync::sync_with_dir(self.desk.store_mut(), dir)?;
        self.refold()?;
        Ok(report)
    }

    /// Gives the books away for an exchange that goes on elsewhere; entries can be recorded here all the while.
    ///
    /// # Errors
    /// When the journal can't be sealed, or the books are given away already.
    pub fn lend(&mut self) -> Result<Exchange, Denial> {
        let folder = self.desk.store_mut();
        let (root, device) = (folder.path().to_path_buf(), folder.device());
        let (shelf, hold) = folder.lend_shelf()?;
        Ok(Exchange::new(root, device, shelf, hold))
    }

    /// Takes in what came by an exchange, with what was recorded here meanwhile behind it, and answers its report.
    ///
    /// Where this device's own book grew, as after a backup was put back, the folder must be opened again before anything
    /// is recorded: see [`Shed::own_came`].
    pub fn take_exchanged(&mut self, exchanged: Exchanged) -> (SyncReport, Option<FolderFault>) {
        let Exchanged { report, fault, came, .. } = exchanged;
        if let Some(Came { mut ledger, mut findings, folder }) = came {
            let missing = self.ledger.packs().filter(|pack| ledger.pack(pack.hash()).is_none());
            let missing: Vec<PackFile> = missing.cloned().collect();
            missing.into_iter().for_each(|pack| ledger.add_pack(pack));
            let meanwhile = self.ledger.entries().filter(|entry| ledger.entry(entry.at).is_none());
            let meanwhile: Vec<Entry> = meanwhile.cloned().collect();
            ledger.take_in(meanwhile);
            let of_journal = self.findings.iter().filter(|finding| finding.is_of_journal());
            for finding in of_journal.cloned() {
                if finding.leaves_doubt() {
                    ledger.doubt(finding.device, finding.scope.clone());
                }
                findings.push(finding);
            }
            self.desk.store_mut().knows_too(&folder);
            self.desk.saw(ledger.clock());
            (self.ledger, self.findings) = (ledger, findings);
        }
        (report, fault)
    }

    /// Whether an exchange brought entries of this device's own.
    pub fn own_came(&self, report: &SyncReport) -> bool {
        report.into_first.books.iter().any(|book| book.device == self.folder().device())
    }

    /// Reads and folds everything again, after other devices' books came in.
    fn refold(&mut self) -> Result<(), Denial> {
        let (entries, findings) = self.desk.store().read_again()?;
        let (ledger, findings) = fold_all(self.desk.store(), entries, findings)?;
        self.desk.saw(ledger.clock());
        (self.ledger, self.findings) = (ledger, findings);
        Ok(())
    }
}

fn sheet_of(what: &What) -> Option<SheetId> {
    match what {
        What::Answered { sheet, .. } | What::Struck { sheet, .. } | What::Abandoned { sheet, .. } => Some(*sheet),
        What::Joined { into, .. } => Some(*into),
        _ => None,
    }
}

/// Looks at a sheet and its engine under the sheet's pack; `None` when the sheet or its pack is not here.
pub fn scene<R>(ledger: &Ledger, sheet: SheetId, look: impl FnOnce(&Scene<'_>) -> R) -> Option<R> {
    let sheet = ledger.sheet(sheet)?;
    let pack = ledger.pack(sheet.pack)?.pack();
    let nothing = EngineState::new(sheet.engine);
    let engine = ledger.engine(sheet.engine).unwrap_or(&nothing);
    Some(look(&Scene { pack: &pack, register: &ledger.office, engine, sheet: Some(sheet), left_at: None }))
}

/// A refusal as a sentence, in the words of a sheet's pack or the adopted one.
pub fn sentence(ledger: &Ledger, pack: Option<&PackFile>, why: &Why, now: Stamp) -> String {
    let mut out = String::new();
    let names = PackNames::new(ledger, pack.or(ledger.adopted()), now);
    // Writing to a string does not fail.
    let _ = words::why(&ENGLISH, &names, why, &mut out);
    out
}
