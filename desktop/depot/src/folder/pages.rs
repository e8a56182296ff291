//! What is wrong with the blocks of all books, and which engines that leaves in doubt.

use std::collections::BTreeMap;

use offshed_core::ident::{DeviceId, EntryRef};
use offshed_core::record::head::root;
use offshed_core::record::seal::SealState;

use super::books::{Hole, Page};
use super::finding::{BlockFault, FolderFinding, Found, Scope};
use super::trust::{Judged, Source, Trust};

/// The findings of all books; `held` tells whether an entry is here.
pub(crate) fn findings(sources: &[Source], trust: &Trust<'_>, held: impl Fn(EntryRef) -> bool) -> Vec<FolderFinding> {
    let mut findings = Vec::new();
    let mut unknown: BTreeMap<DeviceId, u32> = BTreeMap::new();
    for (source, judged) in sources.iter().zip(&trust.judged) {
        findings.extend(source.book.findings.iter().cloned());
        let look = Look { source, sources, trust, held: &held };
        findings.extend(source.book.holes.iter().map(|hole| look.hole(hole)));
        let mut before: Option<&Page> = None;
        for (page, judged) in source.book.pages.iter().zip(judged) {
            findings.extend(look.order(before, page));
            findings.extend(look.page(page, *judged));
            if judged.state == SealState::UnknownKey {
                *unknown.entry(source.device).or_default() += 1;
            }
            before = Some(page);
        }
    }
    for (device, blocks) in unknown {
        let file = sources.iter().find(|source| source.device == device).map(|source| source.file.clone());
        let what = Found::UnknownKey { key: trust.own_word(device), blocks };
        findings.push(FolderFinding::new(file.unwrap_or_default(), None, Some(device), what));
    }
    findings
}

struct Look<'l, F> {
    source: &'l Source,
    sources: &'l [Source],
    trust: &'l Trust<'l>,
    held: &'l F,
}

impl<F: Fn(EntryRef) -> bool> Look<'_, F> {
    fn found(&self, offset: usize, what: Found) -> FolderFinding {
        FolderFinding::new(&self.source.file, Some(offset as u64), Some(self.source.device), what)
    }

    /// Whether another file, or this one elsewhere, has a block of this number that is read and counts.
    fn elsewhere(&self, number: u32) -> bool {
        let books = self.sources.iter().zip(&self.trust.judged).filter(|(s, _)| s.device == self.source.device);
        let mut pages = books.flat_map(|(source, judged)| source.book.pages.iter().zip(judged));
        pages.any(|(page, judged)| {
            page.head.number == number && page.fault.is_none() && judged.head_holds && judged.state != SealState::Bad
        })
    }

    /// Bytes that are no block: any engine may have been in them, unless the block that stood there is here.
    fn hole(&self, hole: &Hole) -> FolderFinding {
        let before = hole.pages.checked_sub(1).and_then(|at| self.source.book.pages.get(at));
        let number = before.map_or(0, |page| page.head.number.saturating_add(1));
        let scope = if self.elsewhere(number) { Scope::nothing() } else { Scope::Every };
        self.found(hole.offset, Found::Damaged { bytes: hole.bytes as u64 }).about(scope)
    }

    /// Whether a block follows the one before it.
    fn order(&self, before: Option<&Page>, page: &Page) -> Option<FolderFinding> {
        if page.head.device != self.source.device {
            return None;
        }
        let number = before.map_or(0, |page| page.head.number.saturating_add(1));
        let previous = before.map_or(root(self.source.device), |page| page.hash);
        let of = page.head.number;
        let what = match of.cmp(&number) {
            std::cmp::Ordering::Less => Found::Repeated { number: of },
            std::cmp::Ordering::Equal if page.head.previous == previous => return None,
            _ => Found::Broken { number: of },
        };
        let lost = (number..of).all(|number| self.elsewhere(number));
        let chained = of > number || matches!(what, Found::Repeated { .. });
        let scope = if chained && lost { Scope::nothing() } else { Scope::Every };
        Some(self.found(page.offset, what).about(scope))
    }

    fn page(&self, page: &Page, judged: Judged) -> Option<FolderFinding> {
        let number = page.head.number;
        let block = |fault| Found::Block { number, fault };
        let what = match (page.fault, judged.state) {
            (Some(fault), _) => block(fault),
            (None, SealState::Bad) => block(BlockFault::Seal),
            (None, SealState::Revoked) => {
                let since = self.trust.until(self.source.device)?;
                Found::Revoked { number, entries: page.head.entries, since }
            }
            (None, _) if judged.spoilt => Found::SealSpoilt { number },
            _ => return None,
        };
        Some(self.found(page.offset, what).about(self.scope(page, judged)))
    }

    /// The engines a block that is not read leaves in doubt: none when its entries are here from elsewhere; those its
    /// head names, when the head is the device's word; else every one.
    fn scope(&self, page: &Page, judged: Judged) -> Scope {
        let device = self.source.device;
        let all_held = (page.head.first..=page.head.last()).all(|seq| (self.held)(EntryRef { device, seq }));
        match judged {
            Judged { state: SealState::Revoked, .. } | Judged { spoilt: true, .. } => Scope::nothing(),
            _ if all_held && page.head.device == device => Scope::nothing(),
            Judged { head_holds: true, .. } => Scope::of(&page.head.touched),
            _ => Scope::Every,
        }
    }
}
