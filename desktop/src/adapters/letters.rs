//! The keys for words, as every desk's overlay shows them.

use slint::{ModelRc, SharedString};

use super::models::list;
use crate::controllers::crew::LETTERS;
use crate::ui::LetterPage;

/// The pages of letters, each three lines of four keys.
pub(super) fn pages() -> ModelRc<LetterPage> {
    list(LETTERS.iter().map(|(title, keys)| page(title, keys)))
}

fn page(title: &str, keys: &str) -> LetterPage {
    let line = |n: usize| list(keys.chars().skip(4 * n).take(4).map(|key| SharedString::from(key.to_string())));
    LetterPage { title: title.into(), line_1: line(0), line_2: line(1), line_3: line(2) }
}
