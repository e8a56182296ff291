//! What was done with a card, as text.

use offshed_core::record::shift::Part;
use offshed_core::stamp::Zone;
use offshed_depot::card::CardReport;
use offshed_depot::views::Moments;
use serde::Serialize;

use super::sync;

/// What was done with a card.
#[derive(Debug, Serialize)]
pub(crate) struct CardView {
    exchanged: Vec<String>,
    shift: ShiftView,
    findings: Vec<String>,
}

/// The shift file that is on it.
#[derive(Debug, Serialize)]
struct ShiftView {
    as_of: String,
    device: String,
    key: String,
    pack: String,
    bytes: usize,
    entries: u32,
    left_out: usize,
    pins: u32,
    devices_seen: u32,
}

/// As data.
pub(crate) fn view(report: &CardReport, zone: &Zone) -> CardView {
    let shift = &report.shift;
    let strays = report.strays.iter().map(|path| format!("{}: this is no book; it was left alone", path.display()));
    CardView {
        exchanged: sync::exchanged(&report.sync, "the card"),
        shift: ShiftView {
            as_of: Moments::new(zone).rfc3339(shift.stated),
            device: shift.device.to_string(),
            key: shift.key.to_string(),
            pack: shift.pack.to_string(),
            bytes: report.bytes,
            entries: shift.entries,
            left_out: report.left_out,
            pins: shift.rows(Part::Pins),
            devices_seen: shift.rows(Part::Seen),
        },
        findings: report.sync.findings.iter().map(ToString::to_string).chain(strays).collect(),
    }
}

/// As text.
pub(crate) fn text(view: &CardView) -> String {
    let CardView { exchanged, shift, findings } = view;
    let mut out = String::new();
    if exchanged.is_empty() {
        out.push_str("books: nothing was missing on either side\n");
    }
    out.extend(exchanged.iter().map(|line| format!("{line}\n")));
    out.push_str(&format!(
        "shift file as of {}: {} entries ({} more are not needed), {} PINs, {} bytes\n",
        shift.as_of, shift.entries, shift.left_out, shift.pins, shift.bytes
    ));
    out.push_str(&format!("signed by device {}, whose key is {}\n", shift.device, shift.key));
    out.extend(findings.iter().map(|line| format!("warning: {line}\n")));
    out
}
