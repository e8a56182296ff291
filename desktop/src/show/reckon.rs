//! The arithmetic commands as text: the result, then inputs, formula and caution; and a small plot of a road.

use offshed_core::boiler::level::{InGlass, Needed};
use serde::Serialize;

use super::{BOLD, FAINT, styled, wrapped};

/// What every command says last.
pub(crate) const CAUTION: &str = "A figure for a competent person, who looks at the glass and the gauge; the railway's \
                                  rules and the boiler inspector go before it.";

/// One input as it was taken.
#[derive(Debug, Serialize)]
pub(crate) struct Input {
    /// Its name, as on the command line.
    pub(crate) name: &'static str,
    /// Its value with the unit.
    pub(crate) value: String,
}

/// What one command worked out.
#[derive(Debug, Serialize)]
pub(crate) struct Report<R> {
    /// The command.
    pub(crate) reckon: &'static str,
    /// What it was worked out from.
    pub(crate) inputs: Vec<Input>,
    /// The formula and its source.
    pub(crate) formula: &'static str,
    /// The figures, unrounded; the unit stands in each key.
    pub(crate) result: R,
    /// What to mind.
    pub(crate) caution: &'static str,
    /// The result in words.
    #[serde(skip)]
    pub(crate) lines: Vec<String>,
    /// What stands before the words, as it is.
    #[serde(skip)]
    pub(crate) plot: String,
}

/// A report as text.
pub(crate) fn text<R>(report: &Report<R>) -> String {
    let mut out = format!("{}\n", styled(BOLD, &format!("RECKON {}", report.reckon.to_uppercase())));
    out.push_str(&report.plot);
    let inputs: Vec<String> = report.inputs.iter().map(|i| format!("{} {}", i.name, i.value)).collect();
    out.push_str(&wrapped("inputs:  ", &inputs.join("; ")));
    out.push_str(&wrapped("formula: ", report.formula));
    for line in &report.lines {
        out.push_str(&wrapped("result:  ", line));
    }
    out.push_str(&styled(FAINT, &wrapped("caution: ", report.caution)));
    out
}

/// Rounded up to whole millimetres; a millionth is rounding.
pub(crate) fn up(mm: f64) -> f64 {
    (mm - 1e-6).ceil().max(0.0)
}

/// What a glass shows, in words.
pub(crate) fn glass(glass: InGlass) -> String {
    match glass {
        InGlass::Shows { mm } => format!("the glass shows {mm:.0} mm"),
        InGlass::OutAbove { by_mm } => format!("out of glass above, by {by_mm:.0} mm"),
        InGlass::OutBelow { by_mm } => {
            format!("out of glass below, by {by_mm:.0} mm: the low-water instruction applies")
        }
    }
}

/// A needed reading in words; readings are rounded up.
pub(crate) fn needed(needed: Needed) -> String {
    match needed {
        Needed::Reading { mm } => format!("{:.0} mm of glass", up(mm)),
        Needed::AnyInSight { spare_mm } => format!("any level in sight ({spare_mm:.0} mm to spare)"),
        Needed::OverTheGlass { by_mm } => format!("no level in sight is enough ({by_mm:.0} mm over the top nut)"),
        Needed::OverBrimFull => "not even a brim-full boiler is enough".to_owned(),
    }
}

/// Columns and rows of a plot.
const COLUMNS: usize = 80;
const ROWS: usize = 12;

/// Least cover along the road: `*` the least in each column, `-` the cover wanted.
pub(crate) fn plot(covers: &[(f64, f64)], wanted: f64) -> String {
    let first = covers.first().map_or(0.0, |c| c.0);
    let length = (covers.last().map_or(0.0, |c| c.0) - first).max(1.0);
    let mut least = vec![f64::INFINITY; COLUMNS];
    for (at, cover) in covers {
        let column = (((at - first) / length * (COLUMNS as f64)) as usize).min(COLUMNS - 1);
        if let Some(slot) = least.get_mut(column) {
            *slot = slot.min(*cover);
        }
    }
    let known = || least.iter().copied().filter(|c| c.is_finite()).chain([wanted]);
    let (low, high) = (known().fold(f64::INFINITY, f64::min), known().fold(f64::NEG_INFINITY, f64::max));
    let step = ((high - low) / (ROWS as f64 - 1.0)).max(1.0);
    let row_of = |cover: f64| (((high - cover) / step).round() as usize).min(ROWS - 1);
    let mut out = "cover, mm (* least, - wanted)\n".to_owned();
    for row in 0..ROWS {
        let blank = if row == row_of(wanted) { '-' } else { ' ' };
        let line: String = least.iter().map(|c| if c.is_finite() && row_of(*c) == row { '*' } else { blank }).collect();
        out.push_str(format!("{:>6.0} |{line}", high - step * row as f64).trim_end());
        out.push('\n');
    }
    out.push_str(&format!("       +{}\n", "-".repeat(COLUMNS)));
    let end = format!("{:.1} km", (first + length) / 1_000.0);
    out.push_str(&format!("        {:<9}{end:>71}\n", format!("{:.1} km", first / 1_000.0)));
    out
}
