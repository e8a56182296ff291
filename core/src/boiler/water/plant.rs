//! Treated feed, tested going into the plant and coming out.

use super::super::{BadNumber, within};
use super::{AgainstBand, Band, Estimate, MOST_LITRES, MOST_MG_L};

/// Less than this going in has no share that means anything, in the unit of the test.
const LEAST_IN: f64 = 1e-3;

/// A plant tested on both sides, in one unit: hardness of a softener, conductivity of a membrane plant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plant {
    /// Going in, 0 to 100 000.
    pub going_in: Estimate,
    /// Coming out, 0 to 100 000.
    pub coming_out: Estimate,
    /// The most that may come out, 0 to 100 000.
    pub most_out: f64,
}

/// How a plant does its work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Work {
    /// What comes out is right.
    Working,
    /// Right or wrong within the error of the test: test again.
    CannotTell,
    /// Too much comes out, though less than goes in.
    Slipping,
    /// As much comes out as goes in: exhausted, bypassed, or the samples were swapped.
    NotTreating,
}

impl Work {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Work::Working => "the plant does its work",
            Work::CannotTell => "right or wrong within the error of the test; test again",
            Work::Slipping => "too much comes through; regenerate or call the maker",
            Work::NotTreating => "nothing is taken out: exhausted, bypassed, or the samples were swapped",
        }
    }
}

/// What a test of a plant comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlantCheck {
    /// Share taken out, 1 for all, negative when more comes out than goes in; `None` when next to nothing goes in.
    pub taken_out: Option<f64>,
    /// How it does its work.
    pub work: Work,
}

/// Looks at a plant's two tests.
///
/// # Errors
/// When a number is out of range; names the field.
pub fn check(plant: &Plant) -> Result<PlantCheck, BadNumber> {
    let going_in = plant.going_in.within("going_in", 0.0, MOST_MG_L)?;
    let coming_out = plant.coming_out.within("coming_out", 0.0, MOST_MG_L)?;
    let most = Band::at_most(within("most_out", plant.most_out, 0.0, MOST_MG_L)?)?;
    let work = match coming_out.against(most)? {
        AgainstBand::Inside => Work::Working,
        told if told.error_could_change() => Work::CannotTell,
        _ if coming_out.value >= going_in.value => Work::NotTreating,
        _ => Work::Slipping,
    };
    let taken_out = (going_in.value >= LEAST_IN).then(|| 1.0 - coming_out.value / going_in.value);
    Ok(PlantCheck { taken_out, work })
}

/// Litres that a softener still treats before it must be regenerated; 0 when it is used up.
///
/// `capacity_g` is what it takes out between regenerations, grams as CaCO3 (1 to 1 000 000), `hardness_mg_l` what goes
/// in (0.1 to 100 000) and `treated_litres` what it has treated since (0 to 1 000 000).
///
/// # Errors
/// When a number is out of range.
pub fn litres_left(capacity_g: f64, hardness_mg_l: f64, treated_litres: f64) -> Result<f64, BadNumber> {
    let capacity = within("capacity_g", capacity_g, 1.0, 1e6)? * 1_000.0;
    let hardness = within("hardness_mg_l", hardness_mg_l, 0.1, MOST_MG_L)?;
    let treated = within("treated_litres", treated_litres, 0.0, MOST_LITRES)?;
    Ok((capacity / hardness - treated).max(0.0))
}
