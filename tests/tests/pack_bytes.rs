//! A model to bytes and back: what the compiled practice pack says is what its source says.

use std::fs;

use offshed_core::due::Rule as DueRule;
use offshed_core::ident::{DueId, EventId, FeatureId, StepId, TextId};
use offshed_core::pack::rows::{AskRow, KindRow, LimitSlots, Voids as VoidsRow};
use offshed_core::pack::{Need as CoreNeed, Pack, slot};
use offshed_core::units::Reading;
use offshed_depot::authoring::model::{Ask, Kind, Model, Need, Role, Step, Voids};
use offshed_depot::authoring::{self, Compiled, SourceFile};
use offshed_depot::packfile::PackFile;
use offshed_tests::{practice, root};

#[test]
fn the_bytes_say_what_the_model_says() {
    same(practice());
}

/// The practice pack with one date that only engines of one feature must be in.
#[test]
fn a_dates_feature_is_in_the_bytes() {
    let date = "id = \"certificate\"\nnumber = 1\n";
    let files: Vec<SourceFile> = fs::read_dir(root().join("core/packs/practice"))
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| SourceFile {
            name: entry.file_name().into_string().unwrap(),
            text: fs::read_to_string(entry.path()).unwrap().replace(date, &format!("{date}applies = \"air-brake\"\n")),
        })
        .collect();
    let compiled = authoring::compile(&files).unwrap();
    let air_brake = compiled.model.features.iter().find(|feature| feature.id == "air-brake").unwrap();
    let pack = PackFile::from_bytes(compiled.bytes.clone()).unwrap();
    assert_eq!(pack.pack().due_applies(DueId(1)), Some(FeatureId(air_brake.number)));
    same(&compiled);
}

fn same(compiled: &Compiled) {
    let file = PackFile::from_bytes(compiled.bytes.clone()).unwrap();
    let (pack, model) = (file.pack(), &compiled.model);
    assert_eq!((file.hash(), file.title()), (compiled.hash, format!("{} ({})", model.title, model.edition)));
    let text = |id: TextId| file.texts().get(id);
    let head: Vec<&str> = (0..5).map(|n| text(TextId(n))).collect();
    assert_eq!(head, [&model.id, &model.title, &model.edition, &model.caution, &model.low_water]);
    assert_eq!(pack.head().steam, model.role(Role::Steam));
    assert_eq!(pack.head().away, model.role(Role::Away));
    assert_eq!(pack.head().unattended, model.role(Role::Unattended));
    assert_eq!(pack.head().defects_cleared_by, model.defects_cleared_by);
    assert_eq!(pack.head().restricted_by, model.restricted_by);
    same_needs(pack.fitness_needs(), &model.fitness);
    names(&file, model);
    events(&file, model);
    assert_eq!(pack.sequences().count(), model.sequences.len());
    for (row, sequence) in pack.sequences().zip(&model.sequences) {
        assert_eq!(
            (row.id, text(row.text), file.ids().get(row.text)),
            (sequence.number, &*sequence.title, &*sequence.id)
        );
        assert_eq!(text(TextId(row.text.0 + 1)), sequence.purpose);
        let stages: Vec<&str> = (0..row.stages.len).map(|n| text(pack.stage_title(row.id, n))).collect();
        assert_eq!(stages, sequence.stages.iter().map(|(_, title)| title.as_str()).collect::<Vec<_>>());
        let steps: Vec<StepId> = pack.steps(row.id).map(|s| s.id).collect();
        assert_eq!(steps, sequence.steps.iter().map(|s| s.number).collect::<Vec<_>>());
        sequence.steps.iter().for_each(|step| same_step(&file, step));
    }
}

fn names(file: &PackFile, model: &Model) {
    let pack = file.pack();
    let both = |id: TextId| (file.texts().get(id).to_owned(), file.ids().get(id).to_owned());
    let grades: Vec<_> = pack.grades().map(|g| (g.id.0, g.covers, both(g.text))).collect();
    let want = model.grades.iter().map(|g| (g.named.number, g.covers, (g.named.name.clone(), g.named.id.clone())));
    assert_eq!(grades, want.collect::<Vec<_>>());
    let named = |rows: Vec<(u8, TextId)>| rows.into_iter().map(|(n, t)| (n, both(t))).collect::<Vec<_>>();
    let want = |n: &offshed_depot::authoring::model::Named| (n.number, (n.name.clone(), n.id.clone()));
    let features = named(pack.features().map(|f| (f.number, f.text)).collect());
    assert_eq!(features, model.features.iter().map(want).collect::<Vec<_>>());
    let fittings = named(pack.fittings().map(|f| (f.number, f.text)).collect());
    assert_eq!(fittings, model.fittings.iter().map(want).collect::<Vec<_>>());
    let states = named(pack.states().map(|s| (s.number, s.text)).collect());
    assert_eq!(states, model.states.iter().map(|s| want(&s.named)).collect::<Vec<_>>());
    let products = named(pack.products().map(|p| (p.number, p.text)).collect());
    assert!(!products.is_empty());
    assert_eq!(products, model.products.iter().map(want).collect::<Vec<_>>());
    dues(file, model);
}

fn dues(file: &PackFile, model: &Model) {
    let source = |text: TextId| file.texts().get(TextId(text.0 + 1)).to_owned();
    let dues: Vec<(DueId, DueRule, Option<FeatureId>, String)> =
        file.pack().dues().map(|d| (d.id, d.rule, d.applies, source(d.text))).collect();
    let want = model.dues.iter().map(|d| (DueId(d.named.number), d.rule, d.applies, d.source.clone()));
    assert_eq!(dues, want.collect::<Vec<_>>());
}

fn events(file: &PackFile, model: &Model) {
    let pack = file.pack();
    assert_eq!(pack.events().count(), model.events.len());
    for (row, event) in pack.events().zip(&model.events) {
        assert_eq!((row.id, row.by), (EventId(event.named.number), event.by));
        let parts = (row.sets, row.clears, row.opens, row.cleared_by);
        assert_eq!(parts, (event.sets, event.clears, event.opens, event.cleared_by));
        assert_eq!(file.ids().get(row.text), event.named.id);
        let voids = match row.voids {
            VoidsRow::All => Voids::All,
            VoidsRow::Steps(span) => Voids::Steps(pack.listed(span).collect()),
        };
        assert_eq!(voids, event.voids, "{}", event.named.id);
    }
}

fn same_needs(got: impl Iterator<Item = CoreNeed>, want: &[Need]) {
    let mut groups: Vec<(u8, Need)> = Vec::new();
    for need in got {
        match groups.last_mut().filter(|(group, _)| need.group != 0 && *group == need.group) {
            Some((_, alternatives)) => alternatives.rules.push(need.rule),
            None => groups.push((
                need.group,
                Need { rules: vec![need.rule], any: need.group != 0, because: None, at: Default::default() },
            )),
        }
    }
    let want: Vec<Need> = want.iter().map(|n| Need { because: None, at: Default::default(), ..n.clone() }).collect();
    assert_eq!(groups.into_iter().map(|(_, need)| need).collect::<Vec<_>>(), want);
}

fn same_step(file: &PackFile, step: &Step) {
    let pack = file.pack();
    let row = pack.step(step.number).unwrap();
    let texts: Vec<&str> = (0..4).map(|n| file.texts().get(TextId(row.text.0 + n))).collect();
    assert_eq!(texts, [&step.title, &step.instruction, &step.caution, &step.source]);
    assert_eq!(file.ids().get(row.text), step.id);
    assert_eq!(
        (row.stage, row.by, row.minutes, row.life_seconds),
        (step.stage, step.by, step.minutes, step.life_seconds)
    );
    assert_eq!((row.shared, row.skippable, row.closes), (step.shared, step.skippable, step.closes));
    assert_eq!((row.fails, row.applies, row.sets, row.clears), (step.fails, step.applies, step.sets, step.clears));
    assert_eq!(pack.listed(row.voids).collect::<Vec<_>>(), step.voids);
    same_needs(pack.needs(row.needs), &step.needs);
    assert_eq!(kind(file, row.kind), step.kind, "{}", step.id);
}

fn kind(file: &PackFile, row: KindRow) -> Kind {
    let pack = file.pack();
    let limit = |limits: LimitSlots, slot| pack.limit(limits, slot);
    let text = |id| file.texts().get(id).to_owned();
    match row {
        KindRow::Check => Kind::Check,
        KindRow::Reading { unit, limits } => Kind::Reading {
            unit,
            low: limit(limits, 0),
            high: limit(limits, 1),
            warn_low: limit(limits, 2),
            warn_high: limit(limits, 3),
        },
        KindRow::Identity { fitting } => Kind::Identity(fitting),
        KindRow::Choice { options } => Kind::Choice(pack.options(options).map(|o| (text(o.text), o.passes)).collect()),
        KindRow::Timed { unit, limits } => Kind::Timed {
            at_least: limit(limits, 0).unwrap(),
            at_most: limit(limits, 1),
            unit,
            max_fall: limit(limits, 2),
            min_rise: limit(limits, 3),
        },
        KindRow::Due { due } => Kind::Due(due),
        KindRow::Procedure { parts } => {
            let part = |p: offshed_core::pack::rows::PartRow| offshed_depot::authoring::model::Part {
                instruction: text(p.text),
                ask: ask(&pack, p.ask),
            };
            Kind::Procedure(pack.parts(parts).map(part).collect())
        }
        KindRow::Signature { review } => Kind::Signature { review },
        KindRow::Figure { figure, unit, inputs, limits: slots } => Kind::Figure {
            figure,
            unit,
            inputs: pack.listed(inputs).collect(),
            limits: [slot::LOW, slot::HIGH, slot::WARN_LOW, slot::WARN_HIGH].map(|n| limit(slots, n)),
            params: (slot::OWN..8).filter_map(|n| limit(slots, n)).collect(),
        },
    }
}

fn ask(pack: &Pack<'_>, row: AskRow) -> Ask {
    let limit = |limits: LimitSlots, slot| -> Option<Reading> { pack.limit(limits, slot) };
    match row {
        AskRow::Seen => Ask::Seen,
        AskRow::Reading { unit, limits } => Ask::Reading { unit, low: limit(limits, 0), high: limit(limits, 1) },
        AskRow::Time { limits } => Ask::Time { at_least: limit(limits, 0), at_most: limit(limits, 1) },
        AskRow::Same { unit, part, limits } => Ask::Same { unit, part, within: limit(limits, 0).unwrap() },
        AskRow::Rise { unit, part, timed_by, limits } => {
            let (rise, over) = (limit(limits, 0).unwrap(), limit(limits, 1).unwrap());
            let delivery = limit(limits, slot::DELIVERY).zip(limit(limits, slot::HIGHEST));
            Ask::Rise { unit, part, timed_by, rise, over, delivery }
        }
    }
}
