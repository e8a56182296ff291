//! A cursor over one TOML table: knows which keys are allowed, reports every other one, and answers typed values.
//!
//! A value that is missing or of the wrong sort is reported and replaced by an empty one, so that the rest is still
//! looked at; nothing is built from a source with complaints.

use std::ops::RangeInclusive;

use offshed_core::units::{Quantity, Reading, Unit};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::complaint::{Complaints, Place, suggest};
use super::measure::{bad_difference, duration, list, reading, units};

/// A value and where it stands.
#[derive(Clone, Debug, Default)]
pub(super) struct At<T> {
    pub(super) value: T,
    pub(super) at: Place,
}

/// A word and where it stands.
pub(super) type Text = At<String>;

/// One file's text, to turn offsets into lines.
pub(super) struct Source<'s> {
    pub(super) file: u16,
    pub(super) sink: &'s Complaints,
    text: &'s str,
    /// Where each line begins.
    lines: Vec<usize>,
}

impl<'s> Source<'s> {
    pub(super) fn new(file: u16, text: &'s str, sink: &'s Complaints) -> Source<'s> {
        let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(n, _)| n + 1)).collect();
        Source { file, sink, text, lines }
    }

    pub(super) fn place(&self, offset: usize) -> Place {
        let line = self.lines.partition_point(|start| *start <= offset).max(1);
        let start = self.lines.get(line - 1).copied().unwrap_or(0);
        let column = self.text.get(start..offset).map_or(0, |before| before.chars().count()) + 1;
        let short = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Place { file: self.file, line: short(line), column: short(column) }
    }
}

/// One table.
pub(super) struct Table<'s> {
    source: &'s Source<'s>,
    map: &'s DeTable<'s>,
    /// Where it begins.
    pub(super) at: Place,
    /// What complaints call it: "step `glass-left`".
    pub(super) subject: String,
    noun: String,
    /// Keys that a key which is not allowed was most likely meant to be.
    meant: Vec<String>,
}

/// The value's sort in plain words.
fn sort(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text in quotes",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

impl<'s> Table<'s> {
    /// The whole document of a file.
    pub(super) fn document(source: &'s Source<'s>, map: &'s DeTable<'s>) -> Table<'s> {
        let at = Place { file: source.file, line: 1, column: 1 };
        Table { source, map, at, subject: String::new(), noun: "a pack".to_owned(), meant: Vec::new() }
    }

    fn of(source: &'s Source<'s>, value: &'s Spanned<DeValue<'s>>, noun: &str) -> Option<Table<'s>> {
        let DeValue::Table(map) = value.get_ref() else { return None };
        let at = source.place(value.span().start);
        Some(Table { source, map, at, subject: noun.to_owned(), noun: noun.to_owned(), meant: Vec::new() })
    }

    /// Names the table by its `id`, so that complaints can.
    pub(super) fn called(mut self, noun: &str) -> Table<'s> {
        let id = self.get("id").and_then(|(_, v)| v.get_ref().as_str());
        self.subject = id.map_or_else(|| noun.to_owned(), |id| format!("{noun} `{id}`"));
        self
    }

    /// The same table, to be looked at under another name.
    pub(super) fn again(&self) -> Table<'s> {
        let (subject, noun, meant) = (self.subject.clone(), self.noun.clone(), self.meant.clone());
        Table { source: self.source, map: self.map, at: self.at, subject, noun, meant }
    }

    /// What the table is, where its keys can't be checked.
    pub(super) fn named_noun(mut self, noun: &str) -> Table<'s> {
        self.noun = noun.to_owned();
        self
    }

    /// Names the table.
    pub(super) fn named(mut self, subject: String) -> Table<'s> {
        self.subject = subject;
        self
    }

    /// Reports every key that is not allowed. `noun` is what has no such key: "a `check` step".
    pub(super) fn allow(mut self, noun: &str, allowed: &[&str]) -> Table<'s> {
        self.noun = noun.to_owned();
        for (key, _) in self.map {
            let name = key.get_ref().as_ref();
            if !allowed.contains(&name) {
                let at = self.source.place(key.span().start);
                let cure = match crate::ids::nearest(name, allowed.iter().copied()) {
                    Some(near) => {
                        self.meant.push(near.to_owned());
                        format!("did you mean `{near}`?")
                    }
                    None => format!("its keys are {}", list(allowed)),
                };
                self.say(at, name, format!("not a key of {noun}"), cure);
            }
        }
        self
    }

    pub(super) fn say(&self, at: Place, key: &str, what: impl Into<String>, cure: impl Into<String>) {
        self.source.sink.say(at, &self.subject, key, what, cure);
    }

    /// Complains about a key where it stands.
    pub(super) fn fault(&self, key: &str, what: impl Into<String>, cure: impl Into<String>) {
        self.say(self.place_of(key), key, what, cure);
    }

    fn get(&self, key: &str) -> Option<(Place, &'s Spanned<DeValue<'s>>)> {
        let (_, value) = self.map.iter().find(|(k, _)| k.get_ref() == key)?;
        Some((self.source.place(value.span().start), value))
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    pub(super) fn is_text(&self, key: &str) -> bool {
        self.get(key).is_some_and(|(_, value)| value.get_ref().is_str())
    }

    pub(super) fn is_list(&self, key: &str) -> bool {
        self.get(key).is_some_and(|(_, value)| value.get_ref().is_array())
    }

    /// The keys there are.
    pub(super) fn keys(&self) -> impl Iterator<Item = &'s str> {
        self.map.keys().map(|k| k.get_ref().as_ref())
    }

    /// Where a key's value stands; the table itself when it has no such key.
    pub(super) fn place_of(&self, key: &str) -> Place {
        self.get(key).map_or(self.at, |(at, _)| at)
    }

    fn missing(&self, key: &str, example: &str) {
        if self.meant.iter().any(|meant| meant == key) {
            return;
        }
        let what = format!("{} needs `{key}`", self.noun);
        self.say(self.at, key, what, format!("write `{key} = {example}`"));
    }

    fn wrong(&self, at: Place, key: &str, value: &DeValue<'_>, example: &str) {
        self.say(at, key, format!("{}, where {example} is wanted", sort(value)), format!("write `{key} = {example}`"));
    }

    /// A text that may be left out.
    pub(super) fn text_opt(&self, key: &str) -> Option<Text> {
        let (at, value) = self.get(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some(At { value: text.to_string(), at }),
            other => {
                self.wrong(at, key, other, "\"...\"");
                None
            }
        }
    }

    /// A text that must be there.
    pub(super) fn text(&self, key: &str) -> Text {
        if !self.has(key) {
            self.missing(key, "\"...\"");
        }
        self.text_opt(key).unwrap_or(At { value: String::new(), at: self.at })
    }

    /// Words for people, of at most `most` bytes.
    pub(super) fn words(&self, key: &str, most: usize) -> String {
        let text = self.text(key);
        self.fits(key, &text, most);
        text.value
    }

    /// Words for people that may be left out: then none.
    pub(super) fn words_opt(&self, key: &str, most: usize) -> Option<String> {
        let text = self.text_opt(key)?;
        self.fits(key, &text, most);
        Some(text.value)
    }

    fn fits(&self, key: &str, text: &Text, most: usize) {
        let got = text.value.len();
        let strange = text.value.chars().find(|c| c.is_control() && *c != '\n');
        if !self.is_text(key) {
            // Reported already.
        } else if text.value.trim().is_empty() {
            self.say(text.at, key, "empty", "write what a person shall read, or leave the key out where it may be");
        } else if got > most {
            self.say(text.at, key, format!("{got} bytes long; at most {most}"), "shorten it");
        } else if let Some(c) = strange {
            self.say(text.at, key, format!("holds the control character {c:?}"), "take it out");
        }
    }

    /// An id of the thing itself: lower case letters, digits, hyphens.
    pub(super) fn id(&self, key: &str) -> Text {
        let text = self.text(key);
        let good = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if self.is_text(key) && (text.value.is_empty() || text.value.len() > 40 || !text.value.chars().all(good)) {
            let what = format!("\"{}\" is no id", text.value);
            self.say(text.at, key, what, "use 1 to 40 lower case letters, digits and hyphens");
        }
        text
    }

    /// A whole number within a range, that may be left out.
    pub(super) fn number_opt(&self, key: &str, range: RangeInclusive<u32>) -> Option<At<u32>> {
        let (at, value) = self.get(key)?;
        let DeValue::Integer(number) = value.get_ref() else {
            self.wrong(at, key, value.get_ref(), &range.start().to_string());
            return None;
        };
        let parsed = i64::from_str_radix(number.as_str(), number.radix()).ok();
        match parsed.and_then(|n| u32::try_from(n).ok()).filter(|n| range.contains(n)) {
            Some(value) => Some(At { value, at }),
            None => {
                let cure = format!("give a number from {} to {}", range.start(), range.end());
                self.say(at, key, format!("{number} is out of range"), cure);
                None
            }
        }
    }

    /// A whole number within a range.
    pub(super) fn number(&self, key: &str, range: RangeInclusive<u32>) -> At<u32> {
        if !self.has(key) {
            self.missing(key, &range.start().to_string());
        }
        self.number_opt(key, range).unwrap_or(At { value: 0, at: self.at })
    }

    /// A number that fits a byte.
    pub(super) fn byte(&self, key: &str, range: RangeInclusive<u32>) -> At<u8> {
        let number = self.number(key, range);
        At { value: u8::try_from(number.value).unwrap_or(0), at: number.at }
    }

    /// True or false; false when left out.
    pub(super) fn flag(&self, key: &str) -> bool {
        match self.get(key) {
            None => false,
            Some((_, value)) if value.get_ref().as_bool().is_some() => value.get_ref().as_bool() == Some(true),
            Some((at, value)) => {
                self.wrong(at, key, value.get_ref(), "true");
                false
            }
        }
    }

    /// One of several words, that may be left out.
    pub(super) fn choice<T: Copy>(&self, key: &str, known: &[(&'static str, T)]) -> Option<At<T>> {
        let text = self.text_opt(key)?;
        let found = known.iter().find(|(word, _)| *word == text.value);
        if found.is_none() {
            let cure = suggest(&text.value, known.iter().map(|(w, _)| *w), "word");
            self.say(text.at, key, format!("\"{}\" is none of its words", text.value), cure);
        }
        found.map(|(_, value)| At { value: *value, at: text.at })
    }

    fn items(&self, key: &str, example: &str) -> Vec<&'s Spanned<DeValue<'s>>> {
        match self.get(key) {
            None => Vec::new(),
            Some((at, value)) => match value.get_ref() {
                DeValue::Array(items) => items.iter().collect(),
                other => {
                    self.wrong(at, key, other, example);
                    Vec::new()
                }
            },
        }
    }

    /// A list of words; none when left out. The same word twice is reported.
    pub(super) fn list(&self, key: &str) -> Vec<Text> {
        let mut words: Vec<Text> = Vec::new();
        for item in self.items(key, "[\"...\"]") {
            let at = self.source.place(item.span().start);
            match item.get_ref() {
                DeValue::String(word) if words.iter().any(|w| w.value == *word) => {
                    self.say(at, key, format!("`{word}` stands twice"), "take one out");
                }
                DeValue::String(word) => words.push(At { value: word.to_string(), at }),
                other => self.wrong(at, key, other, "[\"...\"]"),
            }
        }
        words
    }

    /// A list of whole numbers; none when left out.
    pub(super) fn numbers(&self, key: &str, range: RangeInclusive<u32>) -> Vec<At<u32>> {
        let mut numbers = Vec::new();
        for item in self.items(key, "[1]") {
            let at = self.source.place(item.span().start);
            let parsed = match item.get_ref() {
                DeValue::Integer(n) => u32::from_str_radix(n.as_str(), n.radix()).ok(),
                _ => None,
            };
            match parsed.filter(|n| range.contains(n)) {
                Some(value) => numbers.push(At { value, at }),
                None => {
                    let cure = format!("give numbers from {} to {}", range.start(), range.end());
                    self.say(at, key, format!("{}, out of range or no number", sort(item.get_ref())), cure);
                }
            }
        }
        numbers
    }

    /// A list of tables, as `[[key]]` or in line; none when left out.
    pub(super) fn tables(&self, key: &str, noun: &str) -> Vec<Table<'s>> {
        let items = self.items(key, "[ { ... } ]");
        let table = |item: &'s Spanned<DeValue<'s>>| {
            let table = Table::of(self.source, item, noun);
            if table.is_none() {
                self.wrong(self.source.place(item.span().start), key, item.get_ref(), "[ { ... } ]");
            }
            table
        };
        items.into_iter().filter_map(table).collect()
    }

    /// One table that must be there.
    pub(super) fn table(&self, key: &str) -> Option<Table<'s>> {
        let Some((at, value)) = self.get(key) else {
            let file = Place { line: 0, column: 0, ..self.at };
            self.say(file, "", format!("has no `[{key}]`"), format!("add the table `[{key}]`"));
            return None;
        };
        let table = Table::of(self.source, value, key);
        if table.is_none() {
            self.say(
                at,
                key,
                format!("{}, where a table is wanted", sort(value.get_ref())),
                format!("write `[{key}]`"),
            );
        }
        table
    }

    /// The unit asked for: the keys `quantity` and `unit`.
    pub(super) fn unit(&self) -> Option<Unit> {
        let (quantity, unit) = (self.text("quantity"), self.text("unit"));
        if !self.is_text("quantity") || !self.is_text("unit") {
            return None;
        }
        let Some(of) = Quantity::named(&quantity.value) else {
            let known: Vec<&str> = Quantity::names().collect();
            let cure = suggest(&quantity.value, known.iter().copied(), "quantity");
            self.say(quantity.at, "quantity", format!("\"{}\" is no quantity", quantity.value), cure);
            return None;
        };
        let found = Unit::of(of, &unit.value).filter(|unit| unit.is_answered());
        if found.is_none() {
            let what = format!("\"{}\" is no unit of {}", unit.value, of.name());
            self.say(unit.at, "unit", what, format!("its units are {}", units(of)));
        }
        found
    }

    /// A value with a unit that fits `quantity`; `example` is the unit to suggest.
    pub(super) fn limit(&self, key: &str, quantity: Quantity, example: Unit) -> Option<Reading> {
        let text = self.text_opt(key)?;
        reading(&text, quantity, example)
            .map_err(|(what, cure)| {
                self.say(text.at, key, what, format!("{cure}: `{key} = \"25 {}\"`", example.symbol()))
            })
            .ok()
    }

    /// A difference of two values: never negative, and in no unit whose zero is not nothing.
    pub(super) fn difference(&self, key: &str, quantity: Quantity, example: Unit) -> Option<Reading> {
        let limit = self.limit(key, quantity, example)?;
        if let Some((what, cure)) = bad_difference(limit) {
            self.fault(key, what, cure);
        }
        Some(limit)
    }

    /// A duration above nothing, that may be left out. `step` is the smallest part of it that counts, milliseconds.
    pub(super) fn duration(&self, key: &str, step: i64) -> Option<Reading> {
        let text = self.text_opt(key)?;
        duration(&text, step).map_err(|(what, cure)| self.say(text.at, key, what, cure)).ok()
    }

    /// A key that must be there, whatever it holds.
    pub(super) fn must(&self, key: &str, example: &str) {
        if !self.has(key) {
            self.missing(key, example);
        }
    }
}
