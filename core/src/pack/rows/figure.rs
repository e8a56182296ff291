//! What a derived step can compute: a closed list. Which steps it starts from, its limits and its units are pack data.

use crate::ident::ProductId;
use crate::units::Quantity;

/// A figure that the software computes and a person accepts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Figure {
    /// The least reading of the glass to leave with, for the road of the engine's turn: the crown keeps its cover, and
    /// the level stays in sight, everywhere on it.
    LeastLevel,
    /// How much of a product brings a test up to its target in the water that the boiler holds now.
    Dose {
        /// The product.
        product: ProductId,
    },
    /// How far the glass is to fall, and how often, to bring the dissolved solids down to their target.
    Blowdown,
    /// Dissolved solids from conductivity and temperature.
    Solids,
    /// How fast the boiler warmed between two readings of the pressure.
    Heating,
}

/// A reading that a figure starts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Input {
    /// Its key in a pack.
    pub key: &'static str,
    /// What it may be a reading of.
    pub quantities: &'static [Quantity],
    /// Whether the figure can't be told without it. Those that can follow those that can't.
    pub wanted: bool,
}

/// A limit of a figure's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Param {
    /// Its key in a pack.
    pub key: &'static str,
    /// What it may measure; where there is a choice, what the figure's first input measures.
    pub quantities: &'static [Quantity],
}

const fn input(key: &'static str, quantities: &'static [Quantity], wanted: bool) -> Input {
    Input { key, quantities, wanted }
}

const fn param(key: &'static str, quantities: &'static [Quantity]) -> Param {
    Param { key, quantities }
}

const GLASS: &[Quantity] = &[Quantity::Glass];
const PRESSURE: &[Quantity] = &[Quantity::Pressure];
const DISSOLVED: &[Quantity] = &[Quantity::Concentration, Quantity::Hardness];

const DOSE_INPUTS: [Input; 3] = [input("of", DISSOLVED, true), input("level", GLASS, true), PRESSURE_INPUT];
const PRESSURE_INPUT: Input = input("pressure", PRESSURE, false);
const BLOWDOWN_INPUTS: [Input; 2] = [input("of", SOLIDS, true), input("level", GLASS, true)];
const SOLIDS_INPUTS: [Input; 2] =
    [input("of", &[Quantity::Conductivity], true), input("temperature", &[Quantity::Temperature], true)];
const HEATING_INPUTS: [Input; 2] = [input("from", PRESSURE, true), input("to", PRESSURE, true)];

const SOLIDS: &[Quantity] = &[Quantity::Concentration];

const LEVEL_PARAMS: [Param; 1] = [param("cover", &[Quantity::Length])];
const DOSE_PARAMS: [Param; 1] = [param("target", DISSOLVED)];
const BLOWDOWN_PARAMS: [Param; 2] = [param("target", SOLIDS), param("lower_mark", GLASS)];
const SOLIDS_PARAMS: [Param; 2] = [param("factor", &[Quantity::SolidsFactor]), param("per_kelvin", &[Quantity::Share])];
const HEATING_PARAMS: [Param; 1] = [param("steady", PRESSURE)];

impl Figure {
    /// Places of [`Figure::params`] among a step's limits, counted from [`crate::pack::slot::OWN`].
    pub const COVER: u8 = 0;
    /// Target of a dose or a blowdown.
    pub const TARGET: u8 = 0;
    /// The mark below which a blowdown never goes.
    pub const LOWER_MARK: u8 = 1;
    /// Dissolved solids for conductivity.
    pub const FACTOR: u8 = 0;
    /// Temperature coefficient of conductivity, per cent a kelvin.
    pub const PER_KELVIN: u8 = 1;
    /// The pressure from which a gauge is believed.
    pub const STEADY: u8 = 0;

    /// The figure with this kind and detail in a pack.
    pub fn from_number(kind: u8, detail: u8) -> Option<Figure> {
        match (kind, detail) {
            (8, 0) => Some(Figure::LeastLevel),
            (9, product) => Some(Figure::Dose { product: ProductId(product) }),
            (10, 0) => Some(Figure::Blowdown),
            (11, 0) => Some(Figure::Solids),
            (12, 0) => Some(Figure::Heating),
            _ => None,
        }
    }

    /// Its kind and detail in a pack.
    pub fn number(self) -> (u8, u8) {
        match self {
            Figure::LeastLevel => (8, 0),
            Figure::Dose { product } => (9, product.0),
            Figure::Blowdown => (10, 0),
            Figure::Solids => (11, 0),
            Figure::Heating => (12, 0),
        }
    }

    /// What its result measures.
    pub fn quantity(self) -> Quantity {
        match self {
            Figure::LeastLevel | Figure::Blowdown => Quantity::Glass,
            Figure::Dose { .. } => Quantity::Mass,
            Figure::Solids => Quantity::Concentration,
            Figure::Heating => Quantity::Heating,
        }
    }

    /// The readings it starts from, in order.
    pub fn inputs(self) -> &'static [Input] {
        match self {
            Figure::LeastLevel => &[],
            Figure::Dose { .. } => &DOSE_INPUTS,
            Figure::Blowdown => &BLOWDOWN_INPUTS,
            Figure::Solids => &SOLIDS_INPUTS,
            Figure::Heating => &HEATING_INPUTS,
        }
    }

    /// Its own limits, in order.
    pub fn params(self) -> &'static [Param] {
        match self {
            Figure::LeastLevel => &LEVEL_PARAMS,
            Figure::Dose { .. } => &DOSE_PARAMS,
            Figure::Blowdown => &BLOWDOWN_PARAMS,
            Figure::Solids => &SOLIDS_PARAMS,
            Figure::Heating => &HEATING_PARAMS,
        }
    }
}
