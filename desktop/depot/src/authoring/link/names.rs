//! Ids and numbers: each used once, and found by what names them.

use offshed_core::ident::Set;

use super::super::complaint::{Complaints, suggest};
use super::super::cursor::{At, Text};

/// The ids of one kind of thing, with their numbers.
pub(super) struct Names<'s> {
    noun: &'static str,
    known: Vec<(String, u32)>,
    sink: &'s Complaints,
}

impl<'s> Names<'s> {
    pub(super) fn new(noun: &'static str, sink: &'s Complaints) -> Names<'s> {
        Names { noun, known: Vec::new(), sink }
    }

    /// Takes in an id and its number, neither of which may be there already.
    pub(super) fn add(&mut self, id: &Text, number: At<u32>) {
        let (noun, subject) = (self.noun, format!("{} `{}`", self.noun, id.value));
        if self.known.iter().any(|(known, _)| *known == id.value) {
            let what = format!("there is another {noun} `{}`", id.value);
            self.sink.say(id.at, &subject, "id", what, "give each an id of its own");
        }
        if let Some((other, _)) = self.known.iter().find(|(_, n)| *n == number.value) {
            let what = format!("number {} is that of `{other}`", number.value);
            self.sink.say(
                number.at,
                &subject,
                "number",
                what,
                "numbers are permanent: give the newer one a new number",
            );
        }
        self.known.push((id.value.clone(), number.value));
    }

    /// The number of what is named; reported when there is none.
    pub(super) fn find(&self, name: &Text, subject: &str, key: &str) -> Option<u32> {
        let found = self.known.iter().find(|(id, _)| *id == name.value);
        if found.is_none() {
            let what = format!("there is no {} `{}`", self.noun, name.value);
            let cure = suggest(&name.value, self.known.iter().map(|(id, _)| id.as_str()), self.noun);
            self.sink.say(name.at, subject, key, what, cure);
        }
        found.map(|(_, number)| *number)
    }

    /// The number of what is named, where it fits a byte.
    pub(super) fn byte(&self, name: &Text, subject: &str, key: &str) -> Option<u8> {
        self.find(name, subject, key).and_then(|n| u8::try_from(n).ok())
    }

    /// The set of what is named.
    pub(super) fn set(&self, names: &[Text], subject: &str, key: &str) -> Set {
        names.iter().filter_map(|name| self.byte(name, subject, key)).fold(Set::EMPTY, Set::with)
    }
}
