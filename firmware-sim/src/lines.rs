//! A text of a pack as lines of a narrow screen, read by page: the whole text is never in memory.

use heapless::String;
use offshed_core::ident::TextId;
use offshed_core::pack::Texts;

/// Most characters of one line; a screen is no wider.
pub const COLUMNS: usize = 64;
/// Most bytes of one line: a character has at most four.
pub const WIDEST: usize = 4 * COLUMNS;
/// Bytes read from the texts at once: a line, and the space or line end behind it.
pub const PAGE: usize = WIDEST + 4;

/// One line.
pub type Line = String<WIDEST>;

/// Walks a text line by line, broken between words; a word longer than a line is broken inside.
///
/// `columns` counts characters; 0 is taken as 1, and more than [`COLUMNS`] as that.
pub fn lines<T: Texts + ?Sized>(texts: &T, id: TextId, columns: usize) -> Lines<'_, T> {
    Lines { texts, id, at: 0, columns: columns.clamp(1, COLUMNS) }
}

/// See [`lines`].
#[derive(Debug)]
pub struct Lines<'t, T: Texts + ?Sized> {
    texts: &'t T,
    id: TextId,
    /// The next byte of the text.
    at: usize,
    columns: usize,
}

impl<T: Texts + ?Sized> Lines<'_, T> {
    /// The text from the next byte on, as far as a page goes and no character is cut.
    fn page<'b>(&self, buffer: &'b mut [u8; PAGE]) -> &'b str {
        let read = self.texts.read(self.id, self.at, buffer);
        let bytes = buffer.get(..read).unwrap_or(&[]);
        match core::str::from_utf8(bytes) {
            Ok(text) => text,
            // The page ends inside a character: what is before it is sound.
            Err(cut) => bytes.get(..cut.valid_up_to()).and_then(|b| core::str::from_utf8(b).ok()).unwrap_or(""),
        }
    }
}

/// Where a line of at most `columns` characters ends in `text`: bytes of the line, and bytes to go on after.
fn break_at(text: &str, columns: usize) -> (usize, usize) {
    let end = text.char_indices().nth(columns).map_or(text.len(), |(byte, _)| byte);
    if end == text.len() && text.chars().count() <= columns {
        return (end, end);
    }
    let fits = text.get(..end).unwrap_or(text);
    if text.get(end..).is_some_and(|rest| rest.starts_with(' ')) {
        return (end, end + 1);
    }
    match fits.rfind(' ') {
        Some(space) if space > 0 => (space, space + 1),
        _ => (end, end),
    }
}

impl<T: Texts + ?Sized> Iterator for Lines<'_, T> {
    type Item = Line;

    fn next(&mut self) -> Option<Line> {
        let mut buffer = [0; PAGE];
        let page = self.page(&mut buffer);
        if page.is_empty() {
            return None;
        }
        let line_end = page.find('\n');
        let whole = line_end.and_then(|end| page.get(..end)).unwrap_or(page);
        // A page holds more than the longest line, so what ends with the page is the end of the text.
        let (len, next) = break_at(whole, self.columns);
        let broken_here = len == whole.len() && line_end.is_some();
        self.at += if broken_here { len + 1 } else { next.max(1) };
        Line::try_from(whole.get(..len).unwrap_or("")).ok()
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::string::{String, ToString};
    use std::vec::Vec;

    use super::*;

    /// A text that can only be read by page.
    struct Paged(&'static str);

    impl Texts for Paged {
        fn read(&self, _: TextId, from: usize, out: &mut [u8]) -> usize {
            let tail = self.0.as_bytes().get(from..).unwrap_or(&[]);
            let pairs = out.iter_mut().zip(tail);
            pairs.map(|(to, byte)| *to = *byte).count()
        }

        fn whole(&self, _: TextId) -> Option<&str> {
            None
        }
    }

    fn broken(text: &'static str, columns: usize) -> Vec<String> {
        lines(&Paged(text), TextId(0), columns).map(|line| line.to_string()).collect()
    }

    #[test]
    fn breaks_between_words() {
        let text = "Handbrake hard on, wheels scotched both ways, reverser in mid gear, regulator shut.";
        let lines = broken(text, 21);
        assert_eq!(lines[..2], ["Handbrake hard on,", "wheels scotched both"]);
        assert!(lines.iter().all(|line| line.chars().count() <= 21));
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn breaks_a_word_longer_than_a_line() {
        assert_eq!(broken("abcdefghij kl", 4), ["abcd", "efgh", "ij", "kl"]);
    }

    #[test]
    fn keeps_characters_whole_at_the_end_of_a_page() {
        let text = "°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°°";
        let lines = broken(text, 7);
        assert_eq!(lines.concat(), text);
    }

    #[test]
    fn a_line_of_the_widest_characters_is_whole() {
        let text = "\u{1F682}".repeat(150);
        let text: &'static str = std::boxed::Box::leak(text.into_boxed_str());
        let lines = broken(text, 1_000);
        assert_eq!(lines.concat(), text);
        assert_eq!(lines[0].chars().count(), COLUMNS);
    }

    #[test]
    fn new_lines_and_the_ends() {
        assert_eq!(broken("one\ntwo", 10), ["one", "two"]);
        assert_eq!(broken("", 10), Vec::<String>::new());
        assert_eq!(broken("one two", 0), ["o", "n", "e", "t", "w", "o"]);
    }
}
