//! Ids as people type them and machines read them, looked up in a pack.

use offshed_core::ident::{DueId, EventId, FeatureId, FittingId, GradeId, ProductId, SequenceId, StepId, TextId};
use offshed_core::pack::Pack;

use crate::packfile::PackFile;

/// No such id in the pack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoSuchId {
    /// What was looked for: "step", "grade".
    pub kind: &'static str,
    /// The id given.
    pub id: String,
    /// The nearest there is.
    pub nearest: Option<String>,
    /// All there are, when they are few.
    pub known: Vec<String>,
}

impl std::fmt::Display for NoSuchId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the pack has no {} \"{}\"", self.kind, self.id)?;
        match &self.nearest {
            Some(nearest) => write!(f, "; did you mean \"{nearest}\"?"),
            None if self.known.len() <= 20 => write!(f, "; it has {}", self.known.join(", ")),
            None => Ok(()),
        }
    }
}

impl std::error::Error for NoSuchId {}

/// Ids of one pack, both ways.
#[derive(Clone, Copy)]
pub struct Ids<'a> {
    file: &'a PackFile,
}

macro_rules! both_ways {
    ($kind:literal, $rows:ident, $to:ident, $from:ident, $id:ident, $number:expr, $text:expr) => {
        #[doc = concat!("The ", $kind, " with this id.")]
        ///
        /// # Errors
        /// When the pack has none; names the nearest.
        pub fn $from(&self, id: &str) -> Result<$id, NoSuchId> {
            self.find($kind, id, |pack| pack.$rows().map(|row| ($number(&row), $text(&row))).collect()).map($id)
        }

        #[doc = concat!("The id of a ", $kind, "; its number where the pack has none.")]
        pub fn $to(&self, number: $id) -> String {
            let pack = self.file.pack();
            let row = pack.$rows().find(|row| $number(row) == number.0);
            row.map_or_else(|| number.to_string(), |row| self.file.ids().get($text(&row)).to_owned())
        }
    };
}

impl<'a> Ids<'a> {
    /// Ids of a pack.
    pub fn of(file: &'a PackFile) -> Ids<'a> {
        Ids { file }
    }

    both_ways!(
        "step",
        all_steps,
        step_id,
        step,
        StepId,
        |r: &offshed_core::pack::rows::StepRow| r.id.0,
        |r: &offshed_core::pack::rows::StepRow| r.text
    );
    both_ways!(
        "sequence",
        sequences,
        sequence_id,
        sequence,
        SequenceId,
        |r: &offshed_core::pack::rows::SequenceRow| r.id.0,
        |r: &offshed_core::pack::rows::SequenceRow| r.text
    );
    both_ways!(
        "grade",
        grades,
        grade_id,
        grade,
        GradeId,
        |r: &offshed_core::pack::rows::GradeRow| r.id.0,
        |r: &offshed_core::pack::rows::GradeRow| r.text
    );
    both_ways!(
        "event",
        events,
        event_id,
        event,
        EventId,
        |r: &offshed_core::pack::rows::EventRow| r.id.0,
        |r: &offshed_core::pack::rows::EventRow| r.text
    );
    both_ways!(
        "date",
        dues,
        due_id,
        due,
        DueId,
        |r: &offshed_core::pack::rows::DueRow| r.id.0,
        |r: &offshed_core::pack::rows::DueRow| r.text
    );
    both_ways!(
        "fitting",
        fittings,
        fitting_id,
        fitting,
        FittingId,
        |r: &offshed_core::pack::rows::NamedRow| r.number,
        |r: &offshed_core::pack::rows::NamedRow| r.text
    );
    both_ways!(
        "product",
        products,
        product_id,
        product,
        ProductId,
        |r: &offshed_core::pack::rows::NamedRow| r.number,
        |r: &offshed_core::pack::rows::NamedRow| r.text
    );
    both_ways!(
        "feature",
        features,
        feature_id,
        feature,
        FeatureId,
        |r: &offshed_core::pack::rows::NamedRow| r.number,
        |r: &offshed_core::pack::rows::NamedRow| r.text
    );

    fn find<N: Copy>(
        &self,
        kind: &'static str,
        id: &str,
        rows: impl Fn(&Pack<'_>) -> Vec<(N, TextId)>,
    ) -> Result<N, NoSuchId> {
        let ids = self.file.ids();
        let rows = rows(&self.file.pack());
        if let Some((number, _)) = rows.iter().find(|(_, text)| ids.get(*text) == id) {
            return Ok(*number);
        }
        let known: Vec<String> = rows.iter().map(|(_, text)| ids.get(*text).to_owned()).collect();
        let nearest = nearest(id, known.iter().map(String::as_str)).map(str::to_owned);
        Err(NoSuchId { kind, id: id.to_owned(), nearest, known })
    }
}

/// The nearest of several words, if one is near enough to be meant.
pub fn nearest<'w>(word: &str, known: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let scored = known.map(|k| (strsim::jaro_winkler(word, k), k)).filter(|(score, _)| *score > 0.8);
    scored.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, k)| k)
}
