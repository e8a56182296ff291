//! The firmware image: what it takes of flash and RAM, and who in it can reach a panic.
//!
//! Names and offsets are those of the System V ABI, chapter 4 (ELF), and of the Arm Architecture Procedure Call Standard's
//! mapping symbols (`$t` for instructions); branches are decoded as in the ARMv7-M Architecture Reference Manual, A7.7.18.

use std::collections::{BTreeMap, BTreeSet};
use std::error::Error;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// One section.
#[derive(Clone, Debug)]
struct Section {
    name: String,
    address: usize,
    offset: usize,
    size: usize,
    link: usize,
    /// It takes memory, and whether it takes room in the file.
    allocated: bool,
    in_file: bool,
}

/// One symbol.
#[derive(Clone, Debug)]
struct Symbol {
    name: String,
    value: usize,
    size: usize,
    is_function: bool,
}

/// An image.
pub(crate) struct Elf {
    bytes: Vec<u8>,
    sections: Vec<Section>,
    symbols: Vec<Symbol>,
}

fn number(bytes: &[u8], at: usize, width: usize) -> Outcome<usize> {
    let field = bytes.get(at..at + width).ok_or("the image ends too early")?;
    Ok(field.iter().rev().fold(0, |sum, byte| sum << 8 | usize::from(*byte)))
}

fn text(bytes: &[u8], at: usize) -> String {
    let name = bytes.get(at..).unwrap_or_default();
    String::from_utf8_lossy(name.split(|byte| *byte == 0).next().unwrap_or_default()).into_owned()
}

impl Elf {
    /// Reads an image of 32 bits, lowest byte first.
    ///
    /// # Errors
    /// When it is another kind of file.
    pub(crate) fn read(bytes: Vec<u8>) -> Outcome<Elf> {
        if !bytes.starts_with(b"\x7fELF\x01\x01") {
            return Err("not an image of 32 bits, lowest byte first".into());
        }
        let (table, width, count) = (number(&bytes, 32, 4)?, number(&bytes, 46, 2)?, number(&bytes, 48, 2)?);
        let names_at = number(&bytes, 50, 2)?;
        let field = |n: usize, at: usize| number(&bytes, table + n * width + at, 4);
        let names = field(names_at, 16)?;
        let mut sections = Vec::new();
        for n in 0..count {
            sections.push(Section {
                name: text(&bytes, names + field(n, 0)?),
                address: field(n, 12)?,
                offset: field(n, 16)?,
                size: field(n, 20)?,
                link: field(n, 24)?,
                allocated: field(n, 8)? & 2 != 0,
                in_file: field(n, 4)? != 8,
            });
        }
        let mut elf = Elf { bytes, sections, symbols: Vec::new() };
        elf.symbols = elf.read_symbols()?;
        Ok(elf)
    }

    fn section(&self, name: &str) -> Outcome<&Section> {
        self.sections.iter().find(|section| section.name == name).ok_or_else(|| format!("no {name}").into())
    }

    fn read_symbols(&self) -> Outcome<Vec<Symbol>> {
        let table = self.section(".symtab")?;
        let names = self.sections.get(table.link).ok_or("symbols without names")?.offset;
        let one = |n: usize| {
            let at = table.offset + n * 16;
            Ok(Symbol {
                name: text(&self.bytes, names + number(&self.bytes, at, 4)?),
                value: number(&self.bytes, at + 4, 4)?,
                size: number(&self.bytes, at + 8, 4)?,
                is_function: number(&self.bytes, at + 12, 1)? & 15 == 2,
            })
        };
        (0..table.size / 16).map(one).collect()
    }

    /// Bytes of flash: all sections that are in the file and take memory.
    pub(crate) fn flash(&self) -> usize {
        self.sections.iter().filter(|s| s.allocated && s.in_file).map(|s| s.size).sum()
    }

    /// Bytes of static RAM: what lies at and above the start of RAM.
    pub(crate) fn static_ram(&self) -> usize {
        self.sections.iter().filter(|s| s.allocated && s.address >= 0x2000_0000).map(|s| s.size).sum()
    }

    /// Functions by their first byte.
    fn functions(&self) -> BTreeMap<usize, &Symbol> {
        let functions = self.symbols.iter().filter(|symbol| symbol.is_function && symbol.size > 0);
        functions.map(|symbol| (symbol.value & !1, symbol)).collect()
    }

    /// Who calls whom: pairs of demangled names.
    fn calls(&self) -> Outcome<BTreeSet<(String, String)>> {
        let text = self.section(".text")?;
        let functions = self.functions();
        let code = self.bytes.get(text.offset..text.offset + text.size).ok_or("the image ends too early")?;
        let data: BTreeMap<usize, bool> = self
            .symbols
            .iter()
            .filter(|symbol| symbol.name.starts_with("$t") || symbol.name.starts_with("$d"))
            .map(|symbol| (symbol.value & !1, symbol.name.starts_with("$d")))
            .collect();
        let name = |symbol: &Symbol| format!("{:#}", rustc_demangle::demangle(&symbol.name));
        let within = |at: usize| {
            functions.range(..=at).next_back().filter(|(start, symbol)| at < *start + symbol.size).map(|(_, s)| *s)
        };
        let mut calls = BTreeSet::new();
        let mut at = 0;
        while at + 4 <= code.len() {
            let address = text.address + at;
            let is_data = data.range(..=address).next_back().is_some_and(|(_, data)| *data);
            let (high, low) = (number(code, at, 2)?, number(code, at + 2, 2)?);
            let is_long = high >> 11 >= 0b11101;
            if !is_data
                && let Some(to) = branch(high, low, address)
                && let (Some(from), Some((_, to))) = (within(address), functions.get_key_value(&to))
                && !std::ptr::eq(from, *to)
            {
                calls.insert((name(from), name(to)));
            }
            at += if is_long && !is_data { 4 } else { 2 };
        }
        Ok(calls)
    }

    /// Who reaches a panic of the standard library, and by which of its functions: `caller -> callee`.
    ///
    /// # Errors
    /// When the image has no code or no names.
    pub(crate) fn panics(&self) -> Outcome<Vec<String>> {
        let is_panic = |name: &str| {
            name.starts_with("core::panicking::")
                || name.ends_with("unwrap_failed")
                || name.ends_with("expect_failed")
                || name.ends_with("slice_index_fail")
                || name.ends_with("len_mismatch_fail")
                || name.contains("slice::index::slice_")
        };
        let calls = self.calls()?;
        let outside = calls.iter().filter(|(from, to)| is_panic(to) && !is_panic(from));
        Ok(outside.map(|(from, to)| format!("{from} -> {to}")).collect())
    }
}

/// Where a branch of four bytes leads: `BL` and `B.W` (T4).
fn branch(high: usize, low: usize, address: usize) -> Option<usize> {
    if high >> 11 != 0b11110 || low & 0x9000 != 0x9000 {
        return None;
    }
    let s = high >> 10 & 1;
    let (j1, j2) = (low >> 13 & 1, low >> 11 & 1);
    let (i1, i2) = (!(j1 ^ s) & 1, !(j2 ^ s) & 1);
    let far = s << 24 | i1 << 23 | i2 << 22 | (high & 0x3ff) << 12 | (low & 0x7ff) << 1;
    let back = if s == 1 { 1 << 25 } else { 0 };
    (address + 4 + far).checked_sub(back)
}
