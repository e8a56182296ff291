//! Hardness and alkalinity, told as mg/l of calcium carbonate.
//!
//! Factors are exact from the units' definitions; a Clark degree, a US grain and a German degree are three different
//! things.

use super::super::{BadNumber, within};
use super::MOST_MG_L;

/// A grain, mg, exact (international avoirdupois pound of 1959).
const GRAIN_MG: f64 = 64.798_91;
/// An imperial gallon, litres, exact (Weights and Measures Act 1985, schedule 1).
const GALLON_L: f64 = 4.546_09;
/// A US gallon, litres, exact: 231 cubic inches (NIST SP 811, appendix B.8).
const GALLON_US_L: f64 = 3.785_411_784;
/// Calcium carbonate, g/mol (handbook value, from memory; atomic weights differ in the last digit).
const CALCIUM_CARBONATE: f64 = 100.087;
/// Calcium oxide, g/mol (same).
const CALCIUM_OXIDE: f64 = 56.077;

/// A unit of hardness or alkalinity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HardnessUnit {
    /// mg/l as CaCO3, or parts per million by mass.
    MgPerLCaCO3,
    /// Clark degree: one grain of CaCO3 in an imperial gallon.
    Clark,
    /// One grain of CaCO3 in a US gallon.
    GrainPerGallonUs,
    /// German degree: 10 mg/l of CaO.
    German,
    /// French degree: 10 mg/l of CaCO3.
    French,
    /// Millimole of CaCO3 a litre.
    MillimolePerL,
    /// Milliequivalent a litre, or equivalent per million: half a millimole of CaCO3.
    MilliequivalentPerL,
}

impl HardnessUnit {
    /// mg/l of CaCO3 in one of these.
    pub const fn mg_l(self) -> f64 {
        match self {
            HardnessUnit::MgPerLCaCO3 => 1.0,
            HardnessUnit::Clark => GRAIN_MG / GALLON_L,
            HardnessUnit::GrainPerGallonUs => GRAIN_MG / GALLON_US_L,
            HardnessUnit::German => 10.0 * CALCIUM_CARBONATE / CALCIUM_OXIDE,
            HardnessUnit::French => 10.0,
            HardnessUnit::MillimolePerL => CALCIUM_CARBONATE,
            HardnessUnit::MilliequivalentPerL => CALCIUM_CARBONATE / 2.0,
        }
    }
}

/// Hardness or alkalinity in mg/l as CaCO3, 0 to 100 000.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Hardness {
    mg_l: f64,
}

impl Hardness {
    /// `value` in a unit.
    ///
    /// # Errors
    /// When it is below zero or above 100 000 mg/l; the range is told in the unit given.
    pub fn new(value: f64, unit: HardnessUnit) -> Result<Hardness, BadNumber> {
        let value = within("hardness", value, 0.0, MOST_MG_L / unit.mg_l())?;
        Ok(Hardness { mg_l: value * unit.mg_l() })
    }

    /// In mg/l as CaCO3.
    pub fn mg_l(self) -> f64 {
        self.mg_l
    }

    /// In another unit.
    pub fn told_in(self, unit: HardnessUnit) -> f64 {
        self.mg_l / unit.mg_l()
    }
}
