//! Derived steps that compute figures: what is wrong with one is said where it stands, with the cure.

use offshed_depot::authoring::{self, SourceFile};

use super::sound::FILES;

/// Readings that figures start from, each a step of its own.
const READINGS: [(&str, &str, &str); 7] = [
    ("tannin", "concentration", "mg/l"),
    ("solids", "concentration", "mg/l"),
    ("alkali", "hardness", "mg/l CaCO3"),
    ("level", "glass", "mm"),
    ("first", "pressure", "psi"),
    ("meter", "conductivity", "uS/cm"),
    ("warmth", "temperature", "C"),
];

/// The sound pack with a sequence of readings, and a last step with these keys.
fn with(keys: &str) -> Result<authoring::Compiled, Vec<String>> {
    let mut figures = String::from(
        "[sequence]\nid = \"figures\"\nnumber = 9\ntitle = \"T\"\npurpose = \"P\"\nby = \"fireman\"\n[[stage]]\nid = \"s\"\ntitle = \"S\"\n",
    );
    let step = |id: &str, number: usize, keys: &str| {
        format!(
            "[[step]]\nid = \"{id}\"\nnumber = {number}\nstage = \"s\"\ntitle = \"T\"\ndo = \"D\"\nminutes = 1\nsource = \"S\"\n{keys}\n"
        )
    };
    for (n, (id, quantity, unit)) in READINGS.iter().enumerate() {
        let keys = format!("kind = \"reading\"\nquantity = \"{quantity}\"\nunit = \"{unit}\"\nfails = \"none\"");
        figures.push_str(&step(id, 900 + n, &keys));
    }
    figures.push_str(&step("figure", 950, &format!("kind = \"derived\"\nfails = \"none\"\n{keys}")));
    figures.push_str(&step("last-of-all", 970, "kind = \"check\"\nfails = \"none\"\ncloses = true"));
    let mut files: Vec<SourceFile> =
        FILES.iter().map(|(name, text)| SourceFile { name: (*name).to_owned(), text: (*text).to_owned() }).collect();
    for file in files.iter_mut().filter(|file| file.name == "pack.toml") {
        file.text.push_str("[[product]]\nid = \"mix\"\nnumber = 1\nname = \"Mix\"\n");
    }
    files.push(SourceFile { name: "figures.toml".to_owned(), text: figures });
    authoring::compile(&files).map_err(|complaints| complaints.iter().map(ToString::to_string).collect())
}

const DOSE: &str =
    "computes = \"dose\"\nproduct = \"mix\"\nof = \"tannin\"\nlevel = \"level\"\ntarget = \"150 mg/l\"\nunit = \"g\"";
const BLOWDOWN: &str = "computes = \"blowdown\"\nof = \"solids\"\nlevel = \"level\"\ntarget = \"2500 mg/l\"\nlower_mark = \"25 %\"\nunit = \"mm\"";
const SOLIDS: &str = "computes = \"solids\"\nof = \"meter\"\ntemperature = \"warmth\"\nfactor = \"0.7 mg/l per uS/cm\"\nper_kelvin = \"2 %\"\nunit = \"mg/l\"";
const HEATING: &str = "computes = \"heating\"\nfrom = \"first\"\nto = \"first\"\nsteady = \"5 psi\"\nunit = \"K/h\"";
const LEAST: &str = "computes = \"least-level\"\ncover = \"75 mm\"\nunit = \"mm\"";

#[test]
fn each_compiles_and_waits_for_what_it_starts_from() {
    let alkali = DOSE.replace("tannin", "alkali").replace("150 mg/l", "600 mg/l CaCO3");
    let warm = format!("{DOSE}\npressure = \"first\"\nlow = \"0 g\"\nhigh = \"5 kg\"");
    for keys in [DOSE, BLOWDOWN, SOLIDS, LEAST, &alkali, &warm] {
        let compiled = with(keys).unwrap_or_else(|said| panic!("{keys}: {said:#?}"));
        let inputs =
            ["of", "level", "temperature", "pressure"].iter().filter(|key| keys.contains(&format!("{key} ="))).count();
        let step = compiled.model.steps().find(|(_, step)| step.id == "figure").unwrap().1;
        assert_eq!(step.needs.len(), inputs, "{keys}");
    }
    // One reading twice makes no rate, and is one requirement.
    assert_eq!(with(HEATING).unwrap().model.steps().find(|(_, s)| s.id == "figure").unwrap().1.needs.len(), 1);
}

#[track_caller]
fn complains(keys: &str, words: &str) {
    let said = with(keys).err().unwrap_or_else(|| panic!("{keys}: compiled"));
    assert_eq!(said.len(), 1, "{keys}: {said:#?}");
    assert!(said[0].starts_with("figures.toml:") && said[0].contains(words), "{} has no {words:?}", said[0]);
}

#[test]
fn a_key_of_another_figure_is_not_passed_over() {
    complains(&format!("{LEAST}\ntarget = \"150 mg/l\""), "key `target`: a step that computes this has no `target`");
    complains(&format!("{DOSE}\nlower_mark = \"25 %\""), "has no `lower_mark`");
    complains("computes = \"due\"\ndue = \"washout\"\nunit = \"mm\"", "a step that computes a date has no `unit`");
}

#[test]
fn what_a_figure_starts_from_reads_what_it_must() {
    complains(&DOSE.replace("\"tannin\"", "\"meter\""), "`meter` reads conductivity; name a step that reads");
    complains(&BLOWDOWN.replace("\"solids\"", "\"alkali\""), "`alkali` reads hardness");
    complains(&DOSE.replace("level = \"level\"", "level = \"levle\""), "did you mean `level`?");
    complains(&DOSE.replace("level = \"level\"", "level = \"figure\""), "the step waits for itself");
    complains(&DOSE.replace("product = \"mix\"", "product = \"mux\""), "there is no product `mux`");
    complains(&DOSE.replace("of = \"tannin\"\n", ""), "a `derived` step needs `of`");
}

#[test]
fn its_limits_measure_what_they_must() {
    complains(&LEAST.replace("75 mm", "75 psi"), "key `cover`: the unit of \"75 psi\" does not fit length");
    complains(&LEAST.replace("cover = \"75 mm\"\n", ""), "a `derived` step needs `cover`");
    complains(&DOSE.replace("150 mg/l", "150 mg/l CaCO3"), "does not fit concentration");
    complains(&SOLIDS.replace("0.7 mg/l per uS/cm", "0.7 mg/l"), "does not fit solids factor");
    complains(&format!("{DOSE}\nlow = \"5 kg\"\nhigh = \"5 g\""), "`low` 5 kg is above `high` 5 g");
    complains(&LEAST.replace("unit = \"mm\"", "unit = \"%\""), "\"%\" is no unit of this figure, which is of glass");
    complains(&HEATING.replace("unit = \"K/h\"", "unit = \"C\""), "is no unit of this figure, which is of heating");
}

#[test]
fn a_reading_is_compared_with_a_figure_of_its_own_kind() {
    let sign = |needs: &str| {
        format!(
            "{LEAST}\n[[step]]\nid = \"sign-it\"\nnumber = 960\nstage = \"s\"\ntitle = \"T\"\ndo = \"D\"\nminutes = 1\nsource = \"S\"\nkind = \"signature\"\nneeds = [ {needs} ]"
        )
    };
    let good = sign("{ at_least = \"figure\", reading = \"level\", because = \"B\" }");
    assert!(with(&good).is_ok(), "{:#?}", with(&good).err());
    complains(
        &sign("{ at_least = \"figure\", reading = \"tannin\", because = \"B\" }"),
        "`figure` computes glass and `tannin` reads concentration",
    );
    complains(&sign("{ at_least = \"level\", reading = \"level\", because = \"B\" }"), "`level` computes nothing");
}

#[test]
fn a_delivery_comes_with_the_highest_reading_that_is_believed() {
    let texts = |more: &str| -> Vec<SourceFile> {
        let of = |(name, text): &(&str, &str)| SourceFile {
            name: (*name).to_owned(),
            text: text.replace("at_least = \"10 mm\"", &format!("at_least = \"10 mm\"\n{more}")),
        };
        FILES.iter().map(of).collect()
    };
    let said = |more: &str| -> Vec<String> {
        authoring::compile(&texts(more)).err().unwrap_or_default().iter().map(ToString::to_string).collect()
    };
    assert_eq!(said("delivery = \"20 l/min\"\nhighest = \"80 mm\""), Vec::<String>::new());
    for (more, words) in [
        ("delivery = \"20 l/min\"", "a delivery without it"),
        ("highest = \"80 mm\"", "`highest` without it"),
        ("delivery = \"20 mm\"\nhighest = \"80 mm\"", "does not fit flow"),
    ] {
        let said = said(more);
        assert!(said.len() == 1 && said[0].contains(words), "{more}: {said:?}");
    }
}
