//! Texts by number, each in two columns: the words for people, and the id that machines know it by.

use offshed_core::ident::TextId;

/// The texts of a pack.
#[derive(Debug, Default)]
pub(super) struct Words {
    texts: Vec<(String, String)>,
}

impl Words {
    pub(super) fn len(&self) -> usize {
        self.texts.len()
    }

    fn id(place: usize) -> TextId {
        // More texts than can be numbered are refused when the file is finished.
        TextId(u16::try_from(place).unwrap_or(u16::MAX))
    }

    /// Adds texts that follow each other, each with its id; answers the first.
    pub(super) fn add(&mut self, texts: &[(&str, &str)]) -> TextId {
        let first = self.texts.len();
        self.texts.extend(texts.iter().map(|(text, id)| ((*text).to_owned(), (*id).to_owned())));
        Words::id(first)
    }

    /// Adds a text, or finds it where it stands already.
    pub(super) fn once(&mut self, text: &str, id: &str) -> TextId {
        match self.texts.iter().position(|(known, of)| known == text && of == id) {
            Some(place) => Words::id(place),
            None => self.add(&[(text, id)]),
        }
    }

    /// Appends the block of one language: its tag in 8 bytes, how many, how long, where each ends, the words.
    pub(super) fn block(&self, language: &str, ids: bool, out: &mut Vec<u8>) {
        let column = || self.texts.iter().map(|(text, id)| if ids { id } else { text });
        let size: usize = column().map(String::len).sum();
        let mut tag = [0u8; 8];
        tag.iter_mut().zip(language.bytes()).for_each(|(to, byte)| *to = byte);
        let wide = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        out.extend_from_slice(&tag);
        out.extend_from_slice(&u16::try_from(self.texts.len()).unwrap_or(u16::MAX).to_le_bytes());
        out.extend_from_slice(&wide(size).to_le_bytes());
        let mut end = 0;
        for text in column() {
            end += text.len();
            out.extend_from_slice(&wide(end).to_le_bytes());
        }
        column().for_each(|text| out.extend_from_slice(text.as_bytes()));
    }
}
