//! What the picture says in words. Every state has its own; a figure is never rounded to the flattering side.

use offshed_core::boiler::level::{Crown, Edge, Fill, InGlass, Seen, Water};

/// The caution that stands on the page.
pub const CAUTION: &str = "A figure is advice to a competent person, who looks at the glass. Where the glass and this \
page differ, the glass is right. Low water is an emergency: what to do is the railway's own approved instruction. This \
page never advises feeding.";

/// A state in capitals, and whether it needs the warning sign.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Headline {
    /// In words.
    pub words: String,
    /// The warning sign stands beside it.
    pub warns: bool,
}

fn headline(words: impl Into<String>, warns: bool) -> Headline {
    Headline { words: words.into(), warns }
}

/// How the crown is: covered, bare, or the one or the other by the error of reading.
pub fn crown(seen: &Seen) -> Headline {
    match (seen.as_read.crown, seen.at_least.crown, seen.at_most.crown) {
        (_, _, Crown::Bare) => headline("CROWN BARE", true),
        (Crown::Bare, _, Crown::Covered) => headline("CROWN BARE AS READ; covered only if the glass was misread", true),
        (Crown::Covered, Crown::Bare, _) => headline("CROWN COVERED AS READ; bare if the glass was misread", true),
        (Crown::Covered, Crown::Covered, _) => headline("CROWN COVERED", false),
    }
}

/// What the glass shows there, regulator shut.
pub fn glass(glass: InGlass) -> Headline {
    match glass {
        InGlass::Shows { mm } => headline(format!("IN SIGHT: the glass shows {mm:.0} mm"), false),
        InGlass::OutAbove { by_mm } => {
            headline(format!("OUT OF SIGHT ABOVE, by {by_mm:.0} mm: the glass does not say how much"), true)
        }
        InGlass::OutBelow { by_mm } => headline(
            format!("OUT OF SIGHT BELOW, by {by_mm:.0} mm: the railway's own low-water instruction applies"),
            true,
        ),
    }
}

/// A boiler that is full or empty; empty words for one that is neither.
pub fn fill(fill: Fill) -> Headline {
    match fill {
        Fill::PartFull => Headline::default(),
        Fill::BrimFull { .. } => headline("BRIM-FULL: no steam space", true),
        Fill::Dry => headline("DRY: no water in the boiler", true),
    }
}

/// Cover in whole millimetres, rounded down; bare where there is none.
pub fn cover(mm: f64) -> String {
    let whole = mm.floor();
    if mm > 0.0 { format!("{whole:.0} mm") } else { format!("bare by {:.0} mm", -whole) }
}

/// An error in whole millimetres, rounded up.
pub fn error(mm: f64) -> String {
    format!("\u{b1} {:.0} mm", (mm - 1e-9).ceil().max(0.0))
}

/// Cover over the crown in one line, the worst place named.
pub fn cover_line(seen: &Seen) -> String {
    let found = &seen.as_read.cover;
    let (back, front) = (cover(found.back_mm), cover(found.front_mm));
    let least = format!("{} ({})", cover(found.least_mm), error(seen.cover_error_mm()));
    match found.edge {
        Edge::Everywhere => format!("Cover over the crown: {least}, the same all along"),
        Edge::Front => format!("Least cover: {least}, at the FRONT edge of the crown. Back edge: {back}"),
        Edge::Back => format!("Least cover: {least}, at the BACK edge of the crown. Front edge: {front}"),
    }
}

/// Volume, and what a millimetre of glass holds.
pub fn volume_line(seen: &Seen) -> String {
    let Water { volume_l, litres_per_mm, .. } = seen.as_read;
    let error = seen.volume_error_l().ceil();
    let each = if litres_per_mm > 0.0 {
        format!("; a millimetre of glass is {litres_per_mm:.1} l there")
    } else {
        String::new()
    };
    format!("Water: {volume_l:.0} l (\u{b1} {error:.0} l){each}")
}
