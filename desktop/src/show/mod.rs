//! What commands print: the views as text. Colour only on a terminal, and never alone.

pub(crate) mod board;
pub(crate) mod card;
pub(crate) mod defects;
pub(crate) mod now;
pub(crate) mod pack;
pub(crate) mod plan;
pub(crate) mod play;
pub(crate) mod reckon;
pub(crate) mod register;
pub(crate) mod sheet;
pub(crate) mod sync;
pub(crate) mod verify;
pub(crate) mod water;

use anstyle::{AnsiColor, Style};
use offshed_depot::views::WorkingView;

/// Columns a line may have.
pub(crate) const WIDTH: usize = 100;

/// `text` in a style; on anything but a terminal the style is dropped when printed.
pub(crate) fn styled(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

/// Bold.
pub(crate) const BOLD: Style = Style::new().bold();
/// For words that say something is well.
pub(crate) const WELL: Style = AnsiColor::Green.on_default().bold();
/// For words that say something must be seen to.
pub(crate) const ILL: Style = AnsiColor::Red.on_default().bold();
/// For words that say something is conditional or unknown.
pub(crate) const MIND: Style = AnsiColor::Yellow.on_default().bold();
/// For what stands in the second row.
pub(crate) const FAINT: Style = Style::new().dimmed();

/// Wraps `text` with `first` before the first line and as many spaces before the rest.
pub(crate) fn wrapped(first: &str, text: &str) -> String {
    let rest = " ".repeat(first.chars().count());
    let options = textwrap::Options::new(WIDTH).initial_indent(first).subsequent_indent(&rest);
    let mut out = textwrap::fill(text, options);
    out.push('\n');
    out
}

/// The working of a figure: what it means, then inputs, formula and source.
pub(crate) fn working(view: &WorkingView) -> String {
    let mut out = String::new();
    for line in &view.lines {
        out.push_str(&wrapped("        = ", line));
    }
    let inputs: Vec<String> = view.inputs.iter().map(|i| format!("{} {}", i.name, i.value)).collect();
    out.push_str(&wrapped("        from: ", &inputs.join("; ")));
    out.push_str(&wrapped("        by: ", &format!("{} ({})", view.formula, view.source)));
    out
}
