//! A glass drawn large: marks at their heights, their words apart from each other.

/// How far beyond its nuts a mark is drawn, as a share of the visible glass.
const BEYOND: f64 = 0.06;
/// Least distance between two lines of words, as a share of the visible glass.
pub const APART: f64 = 0.135;

/// What a mark is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// Where the water stands, or will.
    Level,
    /// Where it stood when it was read.
    Read,
    /// A line that counts: the least to leave with, the lower mark.
    Line,
}

impl MarkKind {
    /// Its key.
    pub fn key(self) -> &'static str {
        match self {
            MarkKind::Level => "level",
            MarkKind::Read => "read",
            MarkKind::Line => "line",
        }
    }
}

/// A mark beside the glass.
#[derive(Clone, Debug, PartialEq)]
pub struct GaugeMark {
    /// What it is.
    pub kind: MarkKind,
    /// Its height as a share of the visible glass, a little under 0 or over 1 where it is out of sight.
    pub at: f64,
    /// Where its words stand.
    pub words_at: f64,
    /// Its words.
    pub words: String,
}

/// A glass.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gauge {
    /// How full, 0 to 1.
    pub fill: f64,
    /// The band of the error of reading, from and to, 0 to 1; the same where there is none.
    pub band: [f64; 2],
    /// Marks, from the top.
    pub marks: Vec<GaugeMark>,
    /// All of it for those who hear it.
    pub spoken: String,
}

/// A height over the bottom nut as a share of the visible glass, within what is drawn.
fn share(mm: f64, visible_mm: f64) -> f64 {
    let share = mm / visible_mm.max(1.0);
    // What is no number is drawn as an empty glass.
    if share.is_nan() { -BEYOND } else { share.clamp(-BEYOND, 1.0 + BEYOND) }
}

impl Gauge {
    /// A glass of so much visible length, filled to a level, with marks at heights over the bottom nut, mm.
    pub fn new(visible_mm: f64, level_mm: f64, error_mm: f64, marks: Vec<(MarkKind, f64, String)>) -> Gauge {
        let mark = |(kind, mm, words): (MarkKind, f64, String)| {
            let at = share(mm, visible_mm);
            GaugeMark { kind, at, words_at: at, words }
        };
        let mut marks: Vec<GaugeMark> = marks.into_iter().map(mark).collect();
        marks.sort_by(|a, b| b.at.total_cmp(&a.at));
        spread(&mut marks);
        let within = |mm: f64| share(mm, visible_mm).clamp(0.0, 1.0);
        let spoken = marks.iter().map(|mark| mark.words.as_str()).collect::<Vec<_>>().join("; ");
        let band = [within(level_mm - error_mm), within(level_mm + error_mm)];
        Gauge { fill: within(level_mm), band, marks, spoken: format!("Gauge glass. {spoken}") }
    }

    /// The same with the band from one height to another, mm over the bottom nut.
    #[must_use]
    pub fn banded(self, visible_mm: f64, from_mm: f64, to_mm: f64) -> Gauge {
        let band = [from_mm, to_mm].map(|mm| share(mm, visible_mm).clamp(0.0, 1.0));
        Gauge { band, ..self }
    }
}

/// Words of marks that stand close are moved apart, in their order, between the glass's ends.
fn spread(marks: &mut [GaugeMark]) {
    let (top, low) = (1.0 + BEYOND, -BEYOND);
    let mut most = top;
    for mark in marks.iter_mut() {
        mark.words_at = mark.words_at.min(most);
        most = mark.words_at - APART;
    }
    let mut least = low;
    for mark in marks.iter_mut().rev() {
        mark.words_at = mark.words_at.max(least);
        least = mark.words_at + APART;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gauge(heights: &[f64]) -> Gauge {
        let marks = heights.iter().map(|mm| (MarkKind::Line, *mm, format!("{mm} mm"))).collect();
        Gauge::new(200.0, 95.0, 3.0, marks)
    }

    #[test]
    fn words_stand_apart_and_in_order() {
        for heights in [vec![95.0, 96.0, 97.0], vec![0.0, 0.0, 0.0, 0.0], vec![200.0, 199.0, 198.0], vec![-50.0, 300.0]]
        {
            let drawn = gauge(&heights);
            for pair in drawn.marks.windows(2) {
                assert!(pair[0].words_at - pair[1].words_at >= APART - 1e-9, "{heights:?}: {pair:?}");
            }
            for mark in &drawn.marks {
                assert!((-BEYOND - 1e-9..=1.0 + BEYOND + 1e-9).contains(&mark.words_at), "{heights:?}: {mark:?}");
            }
        }
    }

    #[test]
    fn a_mark_stands_at_its_height() {
        let drawn = gauge(&[50.0, 150.0]);
        assert_eq!(drawn.marks.iter().map(|m| m.at).collect::<Vec<_>>(), [0.75, 0.25]);
        assert!((drawn.fill - 0.475).abs() < 1e-12);
        assert!((drawn.band[0] - 0.46).abs() < 1e-12 && (drawn.band[1] - 0.49).abs() < 1e-12);
    }
}
