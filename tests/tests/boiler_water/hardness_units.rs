use super::*;

#[track_caller]
fn mg_l(value: f64, unit: HardnessUnit) -> f64 {
    Hardness::new(value, unit).unwrap().mg_l()
}

/// From the units' definitions: a grain (64.79891 mg) in 4.54609 l and in 3.785411784 l; 10 mg/l CaO; 10 mg/l
/// CaCO3.
/// Two of them printed: Clark 14.254 (a derivation from 64.8/4.546), US grain 17.118 (a boiler maker's manual).
#[test]
fn one_of_each() {
    near(mg_l(1.0, HardnessUnit::Clark), 14.2538, 5e-5);
    near(mg_l(1.0, HardnessUnit::GrainPerGallonUs), 17.1181, 5e-5);
    near(mg_l(1.0, HardnessUnit::German), 17.848, 5e-4);
    near(mg_l(1.0, HardnessUnit::French), 10.0, 0.0);
    near(mg_l(1.0, HardnessUnit::MilliequivalentPerL), 50.04, 5e-3);
    near(mg_l(1.0, HardnessUnit::Clark), 14.254, 5e-4);
    near(mg_l(1.0, HardnessUnit::GrainPerGallonUs), 17.118, 5e-4);
}

/// A filter maker's worked example: 350 mg/l times 0.0584 are 20.44 grains a US gallon.
#[test]
fn three_hundred_and_fifty_in_grains() {
    let grains = Hardness::new(350.0, HardnessUnit::MgPerLCaCO3).unwrap().told_in(HardnessUnit::GrainPerGallonUs);
    near(grains, 20.44, 0.01);
}

/// EN 12953-10:2003, Table 5-1 (as quoted in boiler manuals): 0.01 mmol/l of Ca and Mg are 1.0 mg/l CaCO3.
#[test]
fn millimoles() {
    near(mg_l(0.01, HardnessUnit::MillimolePerL), 1.0, 0.05);
}

/// Published pages equate the Clark degree with the US grain, and swap the German degree and the US grain.
#[test]
fn units_that_are_taken_for_each_other_differ() {
    let [clark, gpg, german] =
        [HardnessUnit::Clark, HardnessUnit::GrainPerGallonUs, HardnessUnit::German].map(HardnessUnit::mg_l);
    near(gpg / clark, 4.54609 / 3.785_411_784, 1e-12);
    near(german / gpg, 1.0426, 1e-4);
}

/// Readings are thousandths of a unit; both ways of converting agree to that.
#[test]
fn readings_agree() {
    let pairs = [
        (Unit::Clark, HardnessUnit::Clark),
        (Unit::GrainPerGallonUs, HardnessUnit::GrainPerGallonUs),
        (Unit::GermanDegree, HardnessUnit::German),
        (Unit::FrenchDegree, HardnessUnit::French),
    ];
    for (unit, ours) in pairs {
        let reading = Reading { milli: 1_000_000, unit }.to(Unit::MgPerLCaCO3, Own::UNKNOWN).unwrap();
        near(f64::from(reading.milli) / 1_000.0, mg_l(1_000.0, ours), 0.001);
    }
}

#[test]
fn what_cannot_be_is_refused() {
    for bad in [f64::NAN, f64::INFINITY, -0.1, 1e7] {
        assert_eq!(Hardness::new(bad, HardnessUnit::Clark).unwrap_err().field, "hardness");
    }
}
