//! A pack's rows, tables and kinds.

use offshed_core::ident::{DueId, EventId, FeatureId, GradeId, ProductId, SequenceId, Set, StepId, TextId};
use offshed_core::pack::layout::{HEAD, TABLES, Table};
use offshed_core::pack::rows::{self, AskRow, DefectGrade, Figure, KindRow, Row};
use offshed_core::pack::{Pack, Rule, SliceTexts, slot};
use offshed_core::units::{Quantity, Reading, Unit};

use super::{FORMAT, cells, hash, table, unhex};

#[test]
fn a_pack_reads_as_written_down() {
    let bytes = unhex(include_str!("../../vectors/pack.hex"));
    let pack = Pack::check(&bytes, hash()).unwrap();
    let texts = SliceTexts::open(&bytes[pack.head().rules_len as usize..], "en").unwrap();
    assert_eq!((texts.len(), texts.get(TextId(1)), texts.get(TextId(77))), (78, "Tiny pack", "Tannin treatment"));
    let steps: Vec<u16> = pack.steps(SequenceId(1)).map(|step| step.id.0).collect();
    assert_eq!(steps, [300, 301, 303, 304, 310, 305, 306, 309, 311, 308, 307, 313, 312, 302]);
    let blown = pack.step(StepId(300)).unwrap();
    assert_eq!(
        (blown.by, blown.minutes, blown.life_seconds, blown.fails),
        (GradeId(2), 5, 3_600, Some(DefectGrade::Stopping))
    );
    assert!(blown.shared && !blown.skippable && !blown.closes && blown.applies.is_none());
    assert_eq!(texts.get(pack.step_title(StepId(300))), "Left glass");
    let KindRow::Procedure { parts } = blown.kind else { panic!("{blown:?}") };
    let asked: Vec<_> = pack.parts(parts).map(|part| (texts.get(part.text), part.ask)).collect();
    assert_eq!((asked[0].0, asked[1].0), ("Shut", "Refills"));
    let AskRow::Time { limits } = asked[1].1 else { panic!("{asked:?}") };
    assert_eq!(
        (pack.limit_tenths(limits, slot::AT_LEAST), pack.limit_tenths(limits, slot::AT_MOST)),
        (Some(10), Some(50))
    );
}

#[test]
fn a_packs_rules_read_as_written_down() {
    let bytes = unhex(include_str!("../../vectors/pack.hex"));
    let pack = Pack::check(&bytes, hash()).unwrap();
    let read = pack.step(StepId(301)).unwrap();
    let KindRow::Reading { unit: Unit::GlassMm, limits } = read.kind else { panic!("{read:?}") };
    assert_eq!(pack.limit(limits, slot::LOW), Some(Reading::whole(25, Unit::GlassMm)));
    assert_eq!(pack.limit(limits, slot::HIGH), Some(Reading::whole(200, Unit::GlassMm)));
    assert_eq!((pack.limit(limits, slot::WARN_LOW), read.sets.0, read.clears.0), (None, 2, 0));
    assert_eq!(pack.listed(read.voids).collect::<Vec<_>>(), [StepId(300)]);
    let rules = |span| pack.needs(span).map(|need| (need.rule, need.group)).collect::<Vec<_>>();
    assert_eq!(rules(read.needs), [(Rule::Fresh { step: StepId(300), within_seconds: None }, 0)]);
    let within = Rule::Within { step: StepId(301), low: Some(Reading::whole(25, Unit::GlassMm)), high: None };
    let at_least = Rule::AtLeast { reading: StepId(301), derived: StepId(306) };
    let signed = pack.step(StepId(302)).unwrap();
    assert!(signed.closes && signed.kind == KindRow::Signature { review: false });
    assert_eq!(rules(signed.needs), [(within, 0), (Rule::Different(StepId(301)), 1), (at_least, 0)]);
    assert_eq!(pack.fitness_needs().map(|need| need.rule).collect::<Vec<_>>(), [Rule::NoTag, Rule::InDate(DueId(3))]);
    let head = pack.head();
    assert_eq!((head.steam.map(|s| s.0), head.away, head.unattended), (Some(1), None, None));
    assert_eq!((head.defects_cleared_by.0, head.restricted_by.0), (8, 12));
    assert_eq!(pack.holders_of(GradeId(2)), Set::EMPTY.with(2).with(3));
    let due = pack.due(DueId(3)).unwrap();
    assert_eq!((due.rule.months, due.rule.days, due.rule.steam_days), (0, 0, 28));
    assert_eq!((due.applies, pack.product_name(ProductId(1))), (Some(FeatureId(1)), TextId(77)));
    let event = pack.event(EventId(5)).unwrap();
    assert_eq!((event.by, event.clears.0, event.opens), (GradeId(2), 2, Some(DefectGrade::Stopping)));
}

#[test]
fn a_packs_figures_read_as_written_down() {
    let bytes = unhex(include_str!("../../vectors/pack.hex"));
    let pack = Pack::check(&bytes, hash()).unwrap();
    let read = |step| {
        let row = pack.step(StepId(step)).unwrap();
        let KindRow::Figure { figure, unit, inputs, limits } = row.kind else { panic!("{row:?}") };
        let inputs: Vec<u16> = pack.listed(inputs).map(|id| id.0).collect();
        let limits: Vec<_> = (0..8).filter_map(|bit| Some((bit, pack.limit(limits, bit)?))).collect();
        (figure, unit, inputs, limits)
    };
    let limit = |bit, milli, unit| (bit, Reading { milli, unit });
    let solids = |bit, milli| limit(bit, milli, Unit::MgPerL);
    let dose = Figure::Dose { product: ProductId(1) };
    let most = limit(slot::HIGH, 5_000_000, Unit::Gram);
    assert_eq!(read(305), (dose, Unit::Gram, vec![304, 301, 310], vec![most, solids(4, 150_000)]));
    let cover = limit(4, 75_000, Unit::Mm);
    assert_eq!(read(306), (Figure::LeastLevel, Unit::GlassMm, vec![], vec![cover]));
    let fall = vec![solids(4, 2_500_000), limit(5, 25_000, Unit::GlassShare)];
    assert_eq!(read(307), (Figure::Blowdown, Unit::GlassInch, vec![308, 301], fall));
    let by = [limit(4, 700, Unit::MgPerLPerMicroSiemens), limit(5, 2_000, Unit::Percent)];
    let by = [solids(1, 3_500_000), solids(3, 2_500_000)].into_iter().chain(by).collect();
    assert_eq!(read(308), (Figure::Solids, Unit::MgPerL, vec![309, 311], by));
    let rate = vec![limit(3, 30_000, Unit::KelvinPerHour), limit(4, 5_000, Unit::Psi)];
    assert_eq!(read(312), (Figure::Heating, Unit::KelvinPerHour, vec![310, 313], rate));
}

#[test]
fn a_rise_with_a_delivery_reads_as_written_down() {
    let bytes = unhex(include_str!("../../vectors/pack.hex"));
    let pack = Pack::check(&bytes, hash()).unwrap();
    let fed = pack.step(StepId(303)).unwrap();
    let KindRow::Procedure { parts } = fed.kind else { panic!("{fed:?}") };
    let risen = pack.parts(parts).last().unwrap().ask;
    let AskRow::Rise { unit: Unit::GlassMm, part: 0, timed_by: 1, limits } = risen else { panic!("{risen:?}") };
    let limits: Vec<_> = (0..8).filter_map(|bit| pack.limit(limits, bit)).collect();
    let whole = [(10, Unit::GlassMm), (1, Unit::Minute), (25, Unit::LitrePerMinute), (90, Unit::GlassShare)];
    assert_eq!(limits, whole.map(|(value, unit)| Reading::whole(value, unit)));
}

#[test]
fn every_shorter_pack_and_every_flipped_rule_is_refused_or_read_without_panic() {
    let bytes = unhex(include_str!("../../vectors/pack.hex"));
    let rules = Pack::check(&bytes, hash()).unwrap().head().rules_len as usize;
    for len in 0..rules {
        assert!(Pack::check(&bytes[..len], hash()).is_err(), "{len}");
    }
    for at in 0..rules {
        for bit in 0..8 {
            let mut flipped = bytes.clone();
            flipped[at] ^= 1 << bit;
            if let Ok(pack) = Pack::check(&flipped, hash()) {
                let needs: usize = pack.all_steps().map(|step| pack.needs(step.needs).count()).sum();
                let most = pack.all_steps().count() * usize::from(u8::MAX);
                assert!(needs <= most, "byte {at} bit {bit}");
            }
        }
    }
}

/// The widths and the order of a pack's tables.
#[test]
fn the_table_of_tables_is_the_codes() {
    assert!(FORMAT.contains(&format!("\n### Head, {HEAD} bytes\n")));
    let widths = [
        (Table::Sequences, rows::SequenceRow::WIDTH),
        (Table::Stages, TextId::WIDTH),
        (Table::Steps, rows::StepRow::WIDTH),
        (Table::Needs, rows::NeedRow::WIDTH),
        (Table::StepLists, StepId::WIDTH),
        (Table::Parts, rows::PartRow::WIDTH),
        (Table::Options, rows::OptionRow::WIDTH),
        (Table::Limits, Reading::WIDTH),
        (Table::Grades, rows::GradeRow::WIDTH),
        (Table::Features, rows::NamedRow::WIDTH),
        (Table::States, rows::NamedRow::WIDTH),
        (Table::Fittings, rows::NamedRow::WIDTH),
        (Table::Dues, rows::DueRow::WIDTH),
        (Table::Events, rows::EventRow::WIDTH),
        (Table::Products, rows::NamedRow::WIDTH),
    ];
    let written = table("Tables, in the order of the directory");
    assert_eq!((written.len(), widths.len()), (TABLES, TABLES));
    for (place, ((name, width), (table, bytes))) in written.iter().zip(widths).enumerate() {
        assert_eq!((format!("{table:?}"), bytes.to_string()), (name.to_string(), width.to_string()));
        assert_eq!(table as usize, place);
    }
}

/// `key` and what it may measure, as the table of figures writes them.
fn measured(key: &str, quantities: &[Quantity]) -> String {
    let names: Vec<&str> = quantities.iter().map(|quantity| quantity.name()).collect();
    format!("`{key}` {}", names.join(" or "))
}

fn joined(items: impl Iterator<Item = String>) -> String {
    let items: Vec<String> = items.collect();
    if items.is_empty() { "–".to_owned() } else { items.join(", ") }
}

/// Kind, name, result, what it starts from and its own limits of every figure.
#[test]
fn the_table_of_figures_is_the_codes() {
    let figures = (0..=u8::MAX).filter_map(|kind| Some((kind, Figure::from_number(kind, 0)?)));
    let rows = figures.map(|(kind, figure)| {
        let inputs = figure.inputs().iter().map(|input| {
            let optional = if input.wanted { "" } else { "optional " };
            format!("{optional}{}", measured(input.key, input.quantities))
        });
        let params = figure.params().iter().map(|param| measured(param.key, param.quantities));
        let debug = format!("{figure:?}");
        let name = debug.split(' ').next().unwrap_or_default();
        let result = figure.quantity().name();
        format!("| {kind} | `{name}` | {result} | {} | {} |", joined(inputs), joined(params))
    });
    assert_eq!(cells("| kind | figure | result |"), rows.collect::<Vec<_>>());
}

/// The kinds of steps and of parts that are known are those in the tables.
#[test]
fn the_tables_of_kinds_list_every_kind() {
    let known = |width: usize, at: usize| -> Vec<u8> {
        let row = |kind| {
            let mut row = vec![0; width];
            row[at] = kind;
            row
        };
        let step = |kind| rows::StepRow::read(&row(kind)).is_some();
        let part = |kind| rows::PartRow::read(&row(kind)).is_some();
        (0..=u8::MAX).filter(|kind| if width == rows::StepRow::WIDTH { step(*kind) } else { part(*kind) }).collect()
    };
    let written = |heading| {
        let numbers = cells(heading).into_iter().flat_map(|row| {
            let first = row.trim_start_matches("| ").split(" |").next().unwrap_or_default();
            first.split(", ").map(|n| n.parse::<u8>().unwrap()).collect::<Vec<_>>()
        });
        let mut numbers: Vec<u8> = numbers.collect();
        numbers.sort_unstable();
        numbers
    };
    assert_eq!(written("| kind | step | detail |"), known(rows::StepRow::WIDTH, 4));
    assert_eq!(written("| kind | asks | limits"), known(rows::PartRow::WIDTH, 0));
    assert_eq!(written("| kind | holds when |"), (0..=u8::MAX).filter(|kind| need(*kind)).collect::<Vec<_>>());
}

/// Whether a need of this kind can be read, with every number in it 1.
fn need(kind: u8) -> bool {
    rows::NeedRow::read(&[kind, 0, 1, 0, 1, 0, 1, 0]).is_some()
}
