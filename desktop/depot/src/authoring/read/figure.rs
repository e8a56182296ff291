//! A derived step: what it computes, from which steps, under which limits.

use offshed_core::ident::ProductId;
use offshed_core::pack::rows::Figure;
use offshed_core::units::{Reading, Unit};

use super::super::cursor::{Table, Text};
use super::super::draft::{FigureDraft, Kind};
use super::super::measure::units;
use super::sequence::ordered;

/// What a derived step may compute, by the words of packs; a due date is no figure.
const FIGURES: [(&str, Option<Figure>); 6] = [
    ("due", None),
    ("least-level", Some(Figure::LeastLevel)),
    ("dose", Some(Figure::Dose { product: ProductId(0) })),
    ("blowdown", Some(Figure::Blowdown)),
    ("solids", Some(Figure::Solids)),
    ("heating", Some(Figure::Heating)),
];

/// Every key that some derived step may have.
pub(super) const KEYS: [&str; 21] = [
    "not_applicable",
    "computes",
    "due",
    "unit",
    "low",
    "high",
    "warn_low",
    "warn_high",
    "product",
    "of",
    "level",
    "pressure",
    "temperature",
    "from",
    "to",
    "cover",
    "target",
    "lower_mark",
    "factor",
    "per_kelvin",
    "steady",
];

/// Keys of every figure beside its own inputs and limits.
const OF_RESULT: [&str; 5] = ["unit", "low", "high", "warn_low", "warn_high"];

/// The kind of a derived step.
pub(super) fn derived(table: &Table<'_>) -> Kind {
    table.must("computes", "\"due\"");
    match table.choice("computes", &FIGURES).map(|found| found.value) {
        Some(Some(figure)) => {
            only(table, figure);
            Kind::Figure(Box::new(read(table, figure)))
        }
        Some(None) => {
            refuse(table, &["due"], "a step that computes a date");
            Kind::Due(table.text("due"))
        }
        None => Kind::Due(Text { value: String::new(), at: table.at }),
    }
}

/// Keys of another kind of derived step are not silently passed over.
fn only(table: &Table<'_>, figure: Figure) {
    let mut own: Vec<&str> = OF_RESULT.to_vec();
    own.extend(figure.inputs().iter().map(|input| input.key));
    own.extend(figure.params().iter().map(|param| param.key));
    if matches!(figure, Figure::Dose { .. }) {
        own.push("product");
    }
    refuse(table, &own, "a step that computes this");
}

fn refuse(table: &Table<'_>, own: &[&str], noun: &str) {
    for key in KEYS.iter().filter(|key| !matches!(**key, "not_applicable" | "computes") && !own.contains(*key)) {
        if table.has(key) {
            table.fault(key, format!("{noun} has no `{key}`"), format!("its keys are {}", own.join(", ")));
        }
    }
}

fn read(table: &Table<'_>, figure: Figure) -> FigureDraft {
    let unit = unit(table, figure);
    let limit = |key| unit.and_then(|unit: Unit| table.limit(key, unit.quantity(), unit));
    let limits: [Option<Reading>; 4] = ["low", "high", "warn_low", "warn_high"].map(limit);
    let [low, high, warn_low, warn_high] = limits;
    ordered(table, ("low", low), ("high", high));
    ordered(table, ("warn_low", warn_low), ("warn_high", warn_high));
    for input in figure.inputs().iter().filter(|input| input.wanted) {
        table.must(input.key, "\"step\"");
    }
    for param in figure.params() {
        let example = param.quantities.first().and_then(|q| Unit::all(*q).next()).unwrap_or(Unit::One);
        table.must(param.key, &format!("\"25 {}\"", example.symbol()));
    }
    let product = matches!(figure, Figure::Dose { .. }).then(|| table.text("product"));
    FigureDraft {
        figure,
        product,
        unit: unit.unwrap_or(Unit::One),
        inputs: figure.inputs().iter().filter_map(|input| Some((*input, table.text_opt(input.key)?))).collect(),
        limits,
        params: figure.params().iter().filter_map(|param| Some((*param, table.text_opt(param.key)?))).collect(),
    }
}

/// The unit of the result; what it measures goes without saying.
fn unit(table: &Table<'_>, figure: Figure) -> Option<Unit> {
    let text = table.text("unit");
    if !table.is_text("unit") {
        return None;
    }
    let found = Unit::of(figure.quantity(), &text.value);
    // A share is no unit to tell a figure in.
    let found = found.filter(|unit| !unit.is_own());
    if found.is_none() {
        let what = format!("\"{}\" is no unit of this figure, which is of {}", text.value, figure.quantity().name());
        table.say(text.at, "unit", what, format!("its units are {}", units(figure.quantity())));
    }
    found
}
