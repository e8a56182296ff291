//! Sentences as lines of a narrow screen while they are written: only the line at hand is in memory.

use core::fmt;

use heapless::String;

use crate::lines::{COLUMNS, WIDEST};

/// Breaks what is written between words, a word longer than a line inside, and hands each line on.
pub struct Flow<F: FnMut(&str)> {
    line: String<{ WIDEST + 4 }>,
    columns: usize,
    put: F,
}

impl<F: FnMut(&str)> Flow<F> {
    /// Lines of at most `columns` characters; 0 is taken as 1, and more than [`COLUMNS`] as that.
    pub fn new(columns: usize, put: F) -> Flow<F> {
        Flow { line: String::new(), columns: columns.clamp(1, COLUMNS), put }
    }

    /// Hands the last line on.
    pub fn finish(mut self) {
        if !self.line.is_empty() {
            (self.put)(&self.line);
        }
    }

    fn hand_on(&mut self, end: usize, next: usize) {
        (self.put)(self.line.get(..end).unwrap_or(&self.line));
        let mut rest = String::new();
        // There is room: it is a part of a line of the same length.
        let _ = rest.push_str(self.line.get(next..).unwrap_or(""));
        self.line = rest;
    }

    fn push(&mut self, letter: char) {
        if letter == '\n' {
            return self.hand_on(self.line.len(), self.line.len());
        }
        // There is room: a line is handed on before it is longer than its columns and one more character.
        let _ = self.line.push(letter);
        if self.line.chars().count() <= self.columns {
            return;
        }
        let last = letter.len_utf8();
        let full = self.line.len() - last;
        match self.line.rfind(' ') {
            Some(space) if space > 0 => self.hand_on(space, space + 1),
            _ => self.hand_on(full, full),
        }
    }
}

impl<F: FnMut(&str)> fmt::Write for Flow<F> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        text.chars().for_each(|letter| self.push(letter));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::string::{String, ToString};
    use std::vec::Vec;

    use core::fmt::Write;

    use super::*;

    fn broken(pieces: &[&str], columns: usize) -> Vec<String> {
        let mut lines = Vec::new();
        let mut flow = Flow::new(columns, |line: &str| lines.push(line.to_string()));
        pieces.iter().for_each(|piece| flow.write_str(piece).unwrap());
        flow.finish();
        lines
    }

    #[test]
    fn breaks_between_words_however_it_is_written() {
        let whole = broken(&["Nothing outstanding before the fire: do it first"], 21);
        assert_eq!(whole, ["Nothing outstanding", "before the fire: do", "it first"]);
        assert_eq!(broken(&["Nothing out", "standing before the fire: d", "o it first"], 21), whole);
    }

    #[test]
    fn a_long_word_is_broken_inside_and_line_ends_are_kept() {
        assert_eq!(broken(&["abcdefghij kl"], 4), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(broken(&["one\ntwo"], 9), ["one", "two"]);
        assert_eq!(broken(&["four five"], 4), ["four", "five"]);
        assert_eq!(broken(&[""], 4), Vec::<String>::new());
    }
}
