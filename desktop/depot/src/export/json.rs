//! Exports as JSON (RFC 8259), in the form that `schema/export.schema.json` describes. A history is written entry by
//! entry.

use std::io::{self, Write};

use serde::Serialize;

use super::data::Envelope;
use super::lines::EntryLine;

/// Writes an export.
pub(super) fn whole<T: Serialize>(out: &mut dyn Write, envelope: &Envelope<T>) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, envelope)?;
    out.write_all(b"\n")
}

/// An export whose data is a list that is written line by line.
pub(super) struct Listed<'o> {
    out: &'o mut dyn Write,
    any: bool,
}

impl<'o> Listed<'o> {
    /// Writes the head, up to the list.
    pub(super) fn begin(out: &'o mut dyn Write, head: &Envelope<[EntryLine; 0]>) -> io::Result<Listed<'o>> {
        let text = serde_json::to_string(head)?;
        // The data stand last, so the head ends in an empty list and a closing brace.
        out.write_all(text.strip_suffix("]}").unwrap_or(&text).as_bytes())?;
        Ok(Listed { out, any: false })
    }

    /// Writes one line.
    pub(super) fn line(&mut self, line: &EntryLine) -> io::Result<()> {
        self.out.write_all(if self.any { b",\n" } else { b"\n" })?;
        self.any = true;
        serde_json::to_writer(&mut *self.out, line)?;
        Ok(())
    }

    /// Writes what is left.
    pub(super) fn end(self) -> io::Result<()> {
        self.out.write_all(b"\n]}\n")
    }
}
