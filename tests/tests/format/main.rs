//! The bytes are those of `core/FORMAT.md`: vectors put together from its tables by another program, published check
//! values of the parts it is built from, and its own tables and example held against the code.

mod acts;
mod book;
mod entries;
mod pack;

use offshed_core::entry::{Name, Words};
use offshed_core::ident::{DeviceId, EntryRef, PackHash};

const FORMAT: &str = include_str!("../../../core/FORMAT.md");
const DEVICE: DeviceId = DeviceId([1, 2, 3, 4, 5, 6, 7, 8]);
const OTHER: DeviceId = DeviceId([0xa1, 0xa2, 0xa3, 0xa4, 0xa5, 0xa6, 0xa7, 0xa8]);

/// The bytes that text writes in hexadecimal digits, comments left out.
fn unhex(text: &str) -> Vec<u8> {
    let digits: String = text.lines().map(|line| line.split('#').next().unwrap()).collect();
    let digits: Vec<char> = digits.chars().filter(|c| !c.is_whitespace()).collect();
    let byte = |pair: &[char]| u8::from_str_radix(&pair.iter().collect::<String>(), 16).unwrap();
    digits.chunks(2).map(byte).collect()
}

/// The named parts of a vector file.
fn named(text: &str) -> Vec<(&str, Vec<u8>)> {
    let parts = text.split("\n# ").skip(1);
    parts.map(|part| part.split_once('\n').unwrap()).map(|(name, hex)| (name, unhex(hex))).collect()
}

/// The section of FORMAT.md under a heading.
fn section(heading: &str) -> &'static str {
    let start = FORMAT.find(&format!("### {heading}\n")).unwrap_or_else(|| panic!("no section {heading}"));
    let rest = &FORMAT[start + 4..];
    &rest[..rest.find("\n#").unwrap_or(rest.len())]
}

/// The first two columns of the tables of a section.
fn table(heading: &str) -> Vec<(&'static str, &'static str)> {
    let rows = section(heading).lines().filter(|line| line.starts_with("| ") && !line.contains("---"));
    let cells = rows.map(|line| line.trim_matches('|').split(" | ").map(|cell| cell.trim().trim_matches('`')));
    cells.map(|mut cells| (cells.next().unwrap(), cells.next().unwrap())).skip(1).collect()
}

/// The rows of the one table whose head starts so.
fn cells(head: &str) -> Vec<&'static str> {
    let rows = FORMAT.lines().skip_while(|line| !line.starts_with(head)).take_while(|line| line.starts_with('|'));
    rows.skip(2).collect()
}

fn at(device: DeviceId, seq: u32) -> EntryRef {
    EntryRef { device, seq }
}

fn words(text: &str) -> Words {
    Words::try_from(text).unwrap()
}

fn name(text: &str) -> Name {
    Name::try_from(text).unwrap()
}

fn hash() -> PackHash {
    PackHash(std::array::from_fn(|n| n as u8))
}
