//! What a picture starts from: the last reading of the engine's glass that is on record.

use offshed_core::ident::EngineId;
use offshed_core::pack::rows::KindRow;
use offshed_core::register::Register;
use offshed_core::sheet::{Mark, Outcome, Sheet};
use offshed_core::units::Quantity;
use offshed_depot::views::Moments;

use super::super::Session;

/// The last reading on record, and whether the page still starts from it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Standing {
    /// Over the bottom nut, mm; none where none is on record.
    pub reading_mm: Option<f64>,
    /// When and at which step, in words.
    pub words: String,
    /// Another reading was set on the page since.
    pub changed: bool,
}

/// The latest reading of a glass on any of the engine's sheets, right or not: a level that is too low is still the
/// level. A figure that was accepted is none: it may be a fall, or a level that was only worked out.
pub(super) fn standing(session: &Session, engine: EngineId) -> Standing {
    let sheets = session.ledger().sheets().filter(|sheet| sheet.engine == engine);
    let latest = sheets.flat_map(|sheet| readings(session, sheet)).max_by_key(|found| found.0.proof.at);
    let Some((mark, title)) = latest else { return Standing::default() };
    let own = session.ledger().office.engine(engine).unwrap_or_default().own();
    let now = session.now().stamp;
    Standing {
        reading_mm: mark.proof.value.and_then(|reading| reading.value(own)),
        words: format!("{}, \u{201c}{title}\u{201d}", Moments::new(session.zone()).short(mark.proof.at, now)),
        changed: false,
    }
}

fn readings(session: &Session, sheet: &Sheet) -> Vec<(Mark, String)> {
    let Some(file) = session.ledger().pack(sheet.pack) else { return Vec::new() };
    let pack = file.pack();
    let steps = pack.steps(sheet.sequence).filter(|step| !matches!(step.kind, KindRow::Figure { .. }));
    let read = steps.filter_map(|step| {
        let mark = sheet.mark(pack.place_of(step.id)?)?;
        let glass = mark.proof.value.is_some_and(|value| value.unit.quantity() == Quantity::Glass);
        let read = matches!(mark.outcome, Outcome::Proven { .. } | Outcome::NotRight);
        (glass && read).then(|| (*mark, file.texts().get(pack.step_title(step.id)).to_owned()))
    });
    read.collect()
}
