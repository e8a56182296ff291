//! The words of a pack, apart from its rules: fetched by number and language when something is shown.

use crate::ident::TextId;

/// Where the words of a pack in one language come from: a slice, a file on a card read by page.
pub trait Texts {
    /// Copies the part of text `id` that starts at byte `from` into `out` and answers how many bytes were copied.
    ///
    /// 0 when there is no such text, or nothing at or after `from`.
    fn read(&self, id: TextId, from: usize, out: &mut [u8]) -> usize;

    /// The whole text, where the words lie in memory; `None` where they must be read by page.
    fn whole(&self, id: TextId) -> Option<&str>;
}

/// The words of one language in memory.
#[derive(Clone, Copy, Debug, Default)]
pub struct SliceTexts<'a> {
    ends: &'a [u8],
    words: &'a str,
}

/// Bytes of a language block before its ends: language (8), count (2), bytes of words (4).
const BLOCK_HEAD: usize = 14;

impl<'a> SliceTexts<'a> {
    /// Opens the block of `language` in the texts part of a pack (the bytes after its rules).
    ///
    /// `None` when the language is not there, or the block is damaged.
    pub fn open(mut bytes: &'a [u8], language: &str) -> Option<SliceTexts<'a>> {
        loop {
            let (block, rest, name) = split_block(bytes)?;
            if name == language {
                return Some(block);
            }
            bytes = rest;
        }
    }

    /// The languages of a texts part, in order.
    pub fn languages(mut bytes: &'a [u8]) -> impl Iterator<Item = &'a str> {
        core::iter::from_fn(move || {
            let (_, rest, name) = split_block(bytes)?;
            bytes = rest;
            Some(name)
        })
    }

    /// How many texts there are.
    pub fn len(&self) -> usize {
        self.ends.len() / 4
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// The text, or "" when there is none.
    pub fn get(&self, id: TextId) -> &'a str {
        let n = usize::from(id.0);
        let start = n.checked_sub(1).map_or(Some(0), |before| self.end(before));
        let range = start.zip(self.end(n));
        range.and_then(|(start, end)| self.words.get(start..end)).unwrap_or("")
    }

    fn end(&self, n: usize) -> Option<usize> {
        let bytes = self.ends.get(n * 4..n * 4 + 4)?;
        Some(u32::from_le_bytes(bytes.try_into().ok()?) as usize)
    }
}

fn split_block(bytes: &[u8]) -> Option<(SliceTexts<'_>, &[u8], &str)> {
    let name = core::str::from_utf8(bytes.get(..8)?).ok()?.trim_end_matches('\0');
    let count = usize::from(u16::from_le_bytes(bytes.get(8..10)?.try_into().ok()?));
    let size = u32::from_le_bytes(bytes.get(10..14)?.try_into().ok()?) as usize;
    let (ends, words) = bytes.get(BLOCK_HEAD..)?.split_at_checked(count * 4)?;
    let (words, rest) = words.split_at_checked(size)?;
    Some((SliceTexts { ends, words: core::str::from_utf8(words).ok()? }, rest, name))
}

impl Texts for SliceTexts<'_> {
    fn read(&self, id: TextId, from: usize, out: &mut [u8]) -> usize {
        let tail = self.get(id).as_bytes().get(from..).unwrap_or(&[]);
        let pairs = out.iter_mut().zip(tail);
        pairs.map(|(to, byte)| *to = *byte).count()
    }

    fn whole(&self, id: TextId) -> Option<&str> {
        Some(self.get(id))
    }
}
