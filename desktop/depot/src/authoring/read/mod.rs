//! TOML to drafts: every key, sort, range and length is checked here; what one thing says about another is not.

mod figure;
mod head;
mod needs;
mod sequence;

pub(super) use sequence::above;

use toml::de::DeTable;

use super::complaint::{Complaints, Place};
use super::cursor::{Source, Table};
use super::draft::{Draft, Named, Obligation};

/// The head's file name.
pub(super) const HEAD_FILE: &str = "pack.toml";

/// Bytes of a title or a name.
const TITLE: usize = 60;
/// Bytes of what to do.
const INSTRUCTION: usize = 400;
/// Bytes of a caution, a purpose or a reason.
const CAUTION: usize = 240;
/// Bytes of a source.
const SOURCE: usize = 120;
/// Bytes of the pack's own caution and low-water text.
const NOTICE: usize = 1_200;

/// Reads all files; `files` are names and texts, the head among them.
pub(super) fn read(files: &[(String, String)], sink: &Complaints) -> Draft {
    let mut draft = Draft::default();
    for (n, (name, text)) in files.iter().enumerate() {
        let source = Source::new(u16::try_from(n).unwrap_or(u16::MAX), text, sink);
        let (document, errors) = DeTable::parse_recoverable(text);
        // What follows the first is often only its echo.
        if let Some(first) = errors.first() {
            syntax(&source, first);
        } else {
            file(&source, document.get_ref(), name == HEAD_FILE, &mut draft);
        }
    }
    draft
}

fn syntax(source: &Source<'_>, error: &toml::de::Error) {
    let at = source.place(error.span().map_or(0, |span| span.start));
    let what = format!("not TOML: {}", error.message().trim().replace('\n', ", "));
    source.sink.say(at, "", "", what, "correct this place; a text stands in quotes, a list in brackets");
}

fn file(source: &Source<'_>, map: &DeTable<'_>, is_head: bool, draft: &mut Draft) {
    let document = Table::document(source, map);
    let document = if is_head {
        let document = document.allow("`pack.toml`", &head::KEYS);
        draft.head = head::head(&document);
        document
    } else {
        let document = document.allow("a sequence file", &["sequence", "stage", "step", "obligation"]);
        draft.sequences.extend(sequence::sequence(&document));
        document
    };
    draft.obligations.extend(document.tables("obligation", "obligation").into_iter().map(obligation));
}

fn obligation(table: Table<'_>) -> Obligation {
    let goal = table.text("goal");
    let subject = format!("obligation on `{}`", goal.value);
    let table = table.named(subject).allow("an obligation", &["goal", "fresh", "after", "holds", "why"]);
    let (fresh, after) = (table.list("fresh"), table.list("after"));
    let holds = needs::needs(&table, "holds");
    if !["fresh", "after", "holds"].iter().any(|key| table.has(key)) {
        table.say(table.at, "", "an obligation that asks for nothing", "add `fresh`, `after` or `holds`");
    }
    Obligation { goal, fresh, after, holds, why: table.words("why", CAUTION), at: table.at }
}

/// `id`, `number`, `name`.
fn named(table: &Table<'_>, range: std::ops::RangeInclusive<u32>) -> Named {
    Named { id: table.id("id"), number: table.byte("number", range), name: table.words("name", TITLE) }
}

/// The place of a file as a whole.
pub(super) fn whole(file: u16) -> Place {
    Place { file, line: 0, column: 0 }
}
