//! Quantities and units: readings are integers in thousandths of a unit, and no unit is taken for another.
//!
//! Conversions are exact fractions of the SI definitions (NIST SP 811, appendix B.8), rounded once to the nearest
//! thousandth of the base unit.

use core::fmt;
use serde::{Deserialize, Serialize};

/// What a reading is a reading of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[repr(u8)]
pub enum Quantity {
    /// Water level above the bottom nut of a gauge glass; base millimetre.
    Glass,
    /// Length; base millimetre.
    Length,
    /// Pressure above the atmosphere's; base kilopascal.
    Pressure,
    /// Vacuum below the atmosphere's; base kilopascal.
    Vacuum,
    /// Temperature; base degree Celsius.
    Temperature,
    /// Electrical conductivity; base microsiemens per centimetre.
    Conductivity,
    /// Acidity; base pH.
    Ph,
    /// Mass in volume; base milligram per litre.
    Concentration,
    /// Hardness or alkalinity; base milligram per litre as CaCO3.
    Hardness,
    /// Duration; base second.
    Time,
    /// Volume; base litre.
    Volume,
    /// Mass; base kilogram.
    Mass,
    /// A share of a whole; base per cent.
    Share,
    /// A count; base one.
    Count,
    /// Volume in time; base litre a minute.
    Flow,
    /// Change of temperature in time; base kelvin an hour.
    Heating,
    /// Dissolved solids for conductivity at 25 °C; base milligram per litre for each microsiemens per centimetre.
    SolidsFactor,
}

/// A unit. Its number in records is its place in the table of units, which only grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[repr(u8)]
pub enum Unit {
    /// Millimetre of glass.
    GlassMm,
    /// Inch of glass.
    GlassInch,
    /// Per cent of the engine's visible glass.
    GlassShare,
    /// Millimetre.
    Mm,
    /// Inch.
    Inch,
    /// Pound-force per square inch.
    Psi,
    /// Bar.
    Bar,
    /// Kilopascal.
    KPa,
    /// Kilogram-force per square centimetre.
    KgfPerCm2,
    /// Inch of mercury of vacuum.
    InHg,
    /// Kilopascal of vacuum.
    VacuumKPa,
    /// Millibar of vacuum.
    VacuumMbar,
    /// Degree Celsius.
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
    /// Microsiemens per centimetre.
    MicroSiemensPerCm,
    /// pH.
    Ph,
    /// Milligram per litre.
    MgPerL,
    /// Part per million by mass, taken as milligram per litre.
    Ppm,
    /// Milligram per litre as CaCO3.
    MgPerLCaCO3,
    /// Clark degree: grain per imperial gallon.
    Clark,
    /// Grain per US gallon.
    GrainPerGallonUs,
    /// German degree.
    GermanDegree,
    /// French degree.
    FrenchDegree,
    /// Second.
    Second,
    /// Minute.
    Minute,
    /// Hour.
    Hour,
    /// Day of 24 hours.
    Day,
    /// Litre.
    Litre,
    /// Imperial gallon.
    Gallon,
    /// US gallon.
    GallonUs,
    /// Kilogram.
    Kilogram,
    /// Gram.
    Gram,
    /// Pound.
    Pound,
    /// Per cent.
    Percent,
    /// One.
    One,
    /// Per cent of the engine's working pressure.
    WorkingShare,
    /// Litre a minute.
    LitrePerMinute,
    /// Imperial gallon a minute.
    GallonPerMinute,
    /// Kelvin an hour.
    KelvinPerHour,
    /// Degree Fahrenheit an hour.
    FahrenheitPerHour,
    /// Milligram per litre for each microsiemens per centimetre at 25 °C.
    MgPerLPerMicroSiemens,
    /// Pound-force per square inch above the engine's working pressure: for limits in packs, never an answer.
    PsiOverWorking,
}

/// One row of the table of units.
struct Row {
    unit: Unit,
    quantity: Quantity,
    symbol: &'static str,
    /// `base = (value + shift) * num / den`, value and shift in the unit.
    num: i64,
    den: i64,
    shift: i64,
    /// Digits after the point that a person reads off an instrument.
    digits: u8,
}

const fn row(unit: Unit, quantity: Quantity, symbol: &'static str, num: i64, den: i64, digits: u8) -> Row {
    Row { unit, quantity, symbol, num, den, shift: 0, digits }
}

/// All units, in the order of their numbers.
const UNITS: [Row; 42] = [
    row(Unit::GlassMm, Quantity::Glass, "mm", 1, 1, 0),
    row(Unit::GlassInch, Quantity::Glass, "in", 254, 10, 2),
    row(Unit::GlassShare, Quantity::Glass, "%", 1, 1, 0),
    row(Unit::Mm, Quantity::Length, "mm", 1, 1, 1),
    row(Unit::Inch, Quantity::Length, "in", 254, 10, 2),
    row(Unit::Psi, Quantity::Pressure, "psi", 6_894_757_293_168, 1_000_000_000_000, 0),
    row(Unit::Bar, Quantity::Pressure, "bar", 100, 1, 2),
    row(Unit::KPa, Quantity::Pressure, "kPa", 1, 1, 0),
    row(Unit::KgfPerCm2, Quantity::Pressure, "kgf/cm2", 980_665, 10_000, 2),
    row(Unit::InHg, Quantity::Vacuum, "inHg", 3_386_389, 1_000_000, 1),
    row(Unit::VacuumKPa, Quantity::Vacuum, "kPa", 1, 1, 0),
    row(Unit::VacuumMbar, Quantity::Vacuum, "mbar", 1, 10, 0),
    row(Unit::Celsius, Quantity::Temperature, "C", 1, 1, 1),
    Row { unit: Unit::Fahrenheit, quantity: Quantity::Temperature, symbol: "F", num: 5, den: 9, shift: -32, digits: 1 },
    row(Unit::MicroSiemensPerCm, Quantity::Conductivity, "uS/cm", 1, 1, 0),
    row(Unit::Ph, Quantity::Ph, "pH", 1, 1, 1),
    row(Unit::MgPerL, Quantity::Concentration, "mg/l", 1, 1, 0),
    row(Unit::Ppm, Quantity::Concentration, "ppm", 1, 1, 0),
    row(Unit::MgPerLCaCO3, Quantity::Hardness, "mg/l CaCO3", 1, 1, 0),
    // A grain is 64.79891 mg; an imperial gallon 4.54609 l; a US gallon 3.785411784 l.
    row(Unit::Clark, Quantity::Hardness, "degClark", 6_479_891, 454_609, 1),
    row(Unit::GrainPerGallonUs, Quantity::Hardness, "gpg", 64_798_910_000, 3_785_411_784, 1),
    // 10 mg/l CaO; molar masses 100.087 and 56.077 g/mol.
    row(Unit::GermanDegree, Quantity::Hardness, "degdH", 1_000_870, 56_077, 1),
    row(Unit::FrenchDegree, Quantity::Hardness, "degfH", 10, 1, 1),
    row(Unit::Second, Quantity::Time, "s", 1, 1, 1),
    row(Unit::Minute, Quantity::Time, "min", 60, 1, 0),
    row(Unit::Hour, Quantity::Time, "h", 3_600, 1, 1),
    row(Unit::Day, Quantity::Time, "d", 86_400, 1, 0),
    row(Unit::Litre, Quantity::Volume, "l", 1, 1, 0),
    row(Unit::Gallon, Quantity::Volume, "gal", 454_609, 100_000, 0),
    row(Unit::GallonUs, Quantity::Volume, "galUS", 3_785_411_784, 1_000_000_000, 0),
    row(Unit::Kilogram, Quantity::Mass, "kg", 1, 1, 2),
    row(Unit::Gram, Quantity::Mass, "g", 1, 1_000, 0),
    row(Unit::Pound, Quantity::Mass, "lb", 45_359_237, 100_000_000, 2),
    row(Unit::Percent, Quantity::Share, "%", 1, 1, 0),
    row(Unit::One, Quantity::Count, "no", 1, 1, 0),
    row(Unit::WorkingShare, Quantity::Pressure, "% of working", 1, 1, 0),
    row(Unit::LitrePerMinute, Quantity::Flow, "l/min", 1, 1, 0),
    row(Unit::GallonPerMinute, Quantity::Flow, "gal/min", 454_609, 100_000, 1),
    row(Unit::KelvinPerHour, Quantity::Heating, "K/h", 1, 1, 0),
    row(Unit::FahrenheitPerHour, Quantity::Heating, "F/h", 5, 9, 0),
    row(Unit::MgPerLPerMicroSiemens, Quantity::SolidsFactor, "mg/l per uS/cm", 1, 1, 2),
    row(Unit::PsiOverWorking, Quantity::Pressure, "psi over working", 6_894_757_293_168, 1_000_000_000_000, 0),
];

impl Unit {
    fn row(self) -> &'static Row {
        // The table lists every unit in order; the `table_is_in_order` test holds it.
        UNITS.get(self as usize).unwrap_or(&UNITS[0])
    }

    /// The unit with this number in records, if this version knows it.
    pub fn from_number(number: u8) -> Option<Unit> {
        UNITS.get(usize::from(number)).map(|row| row.unit)
    }

    /// The unit of `quantity` written `symbol`.
    pub fn of(quantity: Quantity, symbol: &str) -> Option<Unit> {
        let mut rows = UNITS.iter();
        rows.find(|row| row.quantity == quantity && row.symbol == symbol).map(|row| row.unit)
    }

    /// All units of a quantity in which a person may answer.
    pub fn all(quantity: Quantity) -> impl Iterator<Item = Unit> {
        UNITS.iter().filter(move |row| row.quantity == quantity && row.unit.is_answered()).map(|row| row.unit)
    }

    /// Whether readings are given in it; else it is only for limits in packs.
    pub fn is_answered(self) -> bool {
        self != Unit::PsiOverWorking
    }

    /// Whether what it says depends on the engine: a share of, or a difference from, one of its own measures.
    pub fn is_own(self) -> bool {
        matches!(self, Unit::GlassShare | Unit::WorkingShare | Unit::PsiOverWorking)
    }

    /// What the unit measures.
    pub fn quantity(self) -> Quantity {
        self.row().quantity
    }

    /// How it is written in packs, scripts and on screens.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// Digits after the point that a person reads off an instrument in this unit.
    pub fn digits(self) -> u8 {
        self.row().digits
    }
}

/// All quantities with the names packs use.
const QUANTITIES: [(Quantity, &str); 17] = [
    (Quantity::Glass, "glass"),
    (Quantity::Length, "length"),
    (Quantity::Pressure, "pressure"),
    (Quantity::Vacuum, "vacuum"),
    (Quantity::Temperature, "temperature"),
    (Quantity::Conductivity, "conductivity"),
    (Quantity::Ph, "ph"),
    (Quantity::Concentration, "concentration"),
    (Quantity::Hardness, "hardness"),
    (Quantity::Time, "time"),
    (Quantity::Volume, "volume"),
    (Quantity::Mass, "mass"),
    (Quantity::Share, "share"),
    (Quantity::Count, "count"),
    (Quantity::Flow, "flow"),
    (Quantity::Heating, "heating"),
    (Quantity::SolidsFactor, "solids factor"),
];

impl Quantity {
    /// The quantity with this name in a pack.
    pub fn named(name: &str) -> Option<Quantity> {
        QUANTITIES.iter().find(|(_, n)| *n == name).map(|(q, _)| *q)
    }

    /// Its name in a pack.
    pub fn name(self) -> &'static str {
        QUANTITIES.iter().find(|(q, _)| *q == self).map_or("", |(_, n)| n)
    }

    /// All names, for an error that lists them.
    pub fn names() -> impl Iterator<Item = &'static str> {
        QUANTITIES.iter().map(|(_, n)| *n)
    }
}

/// A value with its unit, in thousandths of the unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// Thousandths of the unit.
    pub milli: i32,
    /// The unit it was read in; kept as read, never converted in a record.
    pub unit: Unit,
}

/// Why two values can't be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Incomparable {
    /// The units measure different things.
    Quantity {
        /// What was wanted.
        want: Quantity,
        /// What was given.
        got: Quantity,
    },
    /// A share of the glass needs the engine's visible glass, and the register has none.
    GlassUnknown,
    /// A share of the working pressure needs that pressure, and the register has none.
    WorkingUnknown,
}

/// An engine's own measures, of which a reading may be a share.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Own {
    /// Visible glass from nut to nut, millimetres, when known.
    pub glass_mm: Option<u16>,
    /// Working pressure, in a unit that is no share, when known.
    pub working: Option<Reading>,
}

impl Own {
    /// No engine is meant, or nothing is known of it: shares can't be told.
    pub const UNKNOWN: Own = Own { glass_mm: None, working: None };

    /// Only the visible glass is known, millimetres.
    pub const fn glass(mm: u16) -> Own {
        Own { glass_mm: Some(mm), working: None }
    }

    /// What the whole is, in thousandths of the base unit, of which `unit` is a share in per cent; `None`: it is none.
    fn whole(self, unit: Unit) -> Option<Result<i128, Incomparable>> {
        match unit {
            Unit::GlassShare => {
                let known = self.glass_mm.filter(|mm| *mm > 0).ok_or(Incomparable::GlassUnknown);
                Some(known.map(|mm| i128::from(mm) * 1_000))
            }
            Unit::WorkingShare => Some(self.working_base()),
            _ => None,
        }
    }

    /// The working pressure in thousandths of the base unit.
    fn working_base(self) -> Result<i128, Incomparable> {
        let known = self.working.filter(|w| !w.unit.is_own() && w.milli > 0);
        let base = known.and_then(|w| w.in_base(Quantity::Pressure, Own::UNKNOWN).ok());
        base.map(i128::from).ok_or(Incomparable::WorkingUnknown)
    }

    /// From where `unit` counts, in thousandths of the base unit.
    fn start(self, unit: Unit) -> Result<i128, Incomparable> {
        if unit == Unit::PsiOverWorking { self.working_base() } else { Ok(0) }
    }
}

impl Reading {
    /// A whole number of a unit.
    pub const fn whole(value: i32, unit: Unit) -> Reading {
        Reading { milli: value.saturating_mul(1_000), unit }
    }

    /// In thousandths of the base unit of `quantity`, to the nearest; `own` are the engine's measures.
    ///
    /// # Errors
    /// When the unit measures something else, or is a share of a whole that is not known.
    pub fn in_base(self, quantity: Quantity, own: Own) -> Result<i64, Incomparable> {
        let from = self.scaled(quantity, own, self.unit.row().shift)?;
        let start = i64::try_from(own.start(self.unit)?).unwrap_or(i64::MAX);
        Ok(from.saturating_add(start))
    }

    /// As [`Reading::in_base`], of a difference between two values: 9 degrees Fahrenheit are 5 degrees Celsius.
    ///
    /// # Errors
    /// As [`Reading::in_base`].
    pub fn difference_in_base(self, quantity: Quantity, own: Own) -> Result<i64, Incomparable> {
        self.scaled(quantity, own, 0)
    }

    fn scaled(self, quantity: Quantity, own: Own, shift: i64) -> Result<i64, Incomparable> {
        let row = self.unit.row();
        if row.quantity != quantity {
            return Err(Incomparable::Quantity { want: quantity, got: row.quantity });
        }
        let milli = i128::from(self.milli) + i128::from(shift) * 1_000;
        match own.whole(self.unit) {
            Some(whole) => Ok(rounded(milli * whole?, 100_000)),
            None => Ok(rounded(milli * i128::from(row.num), i128::from(row.den))),
        }
    }

    /// The same value in another unit of its quantity, to the nearest thousandth; `None` where it does not fit.
    pub fn to(self, unit: Unit, own: Own) -> Option<Reading> {
        let base = i128::from(self.in_base(unit.quantity(), own).ok()?) - own.start(unit).ok()?;
        let row = unit.row();
        let milli = match own.whole(unit) {
            Some(whole) => rounded(base * 100_000, whole.ok()?),
            None => rounded(base * i128::from(row.den), i128::from(row.num)) - row.shift * 1_000,
        };
        Some(Reading { milli: i32::try_from(milli).ok()?, unit })
    }

    /// The value in the base unit of its own quantity as a number; `None` for a share of a whole that is not known.
    pub fn value(self, own: Own) -> Option<f64> {
        let base = self.in_base(self.unit.quantity(), own).ok()?;
        Some(base as f64 / 1_000.0)
    }

    /// A number in the base unit of `unit`'s quantity, in `unit`, rounded as `how` says to the last digit that a person
    /// reads off an instrument in that unit; `None` when it is not finite or does not fit.
    pub fn rounded(value: f64, unit: Unit, how: Rounding) -> Option<Reading> {
        let row = unit.row();
        let shown = value * row.den as f64 / row.num as f64 - row.shift as f64;
        let scale = [1.0, 10.0, 100.0, 1_000.0].get(usize::from(row.digits)).copied()?;
        // A value that is a whole number but for the noise of arithmetic is not pushed to the next one.
        let scaled = libm::round(shown * scale * 1e6) / 1e6;
        let whole = match how {
            Rounding::Up => libm::ceil(scaled),
            Rounding::Nearest => libm::round(scaled),
        };
        let milli = whole * (1_000.0 / scale);
        (milli.is_finite() && milli.abs() <= f64::from(i32::MAX)).then_some(Reading { milli: milli as i32, unit })
    }

    /// The step by which a person reads the unit: one in its last digit, thousandths.
    pub fn step_milli(unit: Unit) -> i32 {
        [1_000, 100, 10, 1].get(usize::from(unit.digits())).copied().unwrap_or(1)
    }

    /// Reads "25 mm", "-1.5 psi", "75 %": a number with at most three digits after the point, and a unit of `quantity`.
    pub fn parse(text: &str, quantity: Quantity) -> Result<Reading, BadReading> {
        let text = text.trim();
        let split = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(text.len());
        let (number, symbol) = text.split_at(split);
        let milli = parse_milli(number).ok_or(BadReading::Number)?;
        let symbol = symbol.trim();
        if symbol.is_empty() {
            return Err(BadReading::NoUnit);
        }
        let unit = Unit::of(quantity, symbol).ok_or(BadReading::Unit)?;
        Ok(Reading { milli, unit })
    }
}

/// How a computed value is rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// To the next one up: what is a least value stays one.
    Up,
    /// To the nearest.
    Nearest,
}

/// Why words are no reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BadReading {
    /// No number, more than three digits after the point, or beyond two million.
    Number,
    /// A number without a unit.
    NoUnit,
    /// A unit that does not fit the quantity.
    Unit,
}

/// Thousandths of a decimal number; at most three digits after the point.
pub fn parse_milli(number: &str) -> Option<i32> {
    let (negative, digits) = match number.as_bytes().first()? {
        b'-' => (true, number.get(1..)?),
        b'+' => (false, number.get(1..)?),
        _ => (false, number),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || !plain(whole) || !plain(fraction) || fraction.len() > 3 || digits.ends_with('.') {
        return None;
    }
    let scale = [1_000, 100, 10, 1].get(fraction.len()).copied()?;
    let parts = if fraction.is_empty() { 0 } else { fraction.parse::<i64>().ok()? };
    let milli = whole.parse::<i64>().ok()?.checked_mul(1_000)?.checked_add(parts * scale)?;
    i32::try_from(if negative { -milli } else { milli }).ok()
}

/// `num / den` to the nearest, halves away from zero, held within `i64`.
fn rounded(num: i128, den: i128) -> i64 {
    let half = den / 2;
    let shifted = if num < 0 { num - half } else { num + half };
    i64::try_from(shifted / den).unwrap_or(if num < 0 { i64::MIN } else { i64::MAX })
}

impl fmt::Display for Reading {
    /// The value without needless zeros, a space, the unit.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.milli < 0 { "-" } else { "" };
        let size = self.milli.unsigned_abs();
        let (whole, part) = (size / 1_000, size % 1_000);
        match part {
            0 => write!(f, "{sign}{whole}"),
            p if p % 100 == 0 => write!(f, "{sign}{whole}.{}", p / 100),
            p if p % 10 == 0 => write!(f, "{sign}{whole}.{:02}", p / 10),
            p => write!(f, "{sign}{whole}.{p:03}"),
        }?;
        write!(f, " {}", self.unit.symbol())
    }
}

/// A number that is not finite or outside its range; names the field, what was given, and what would do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BadNumber {
    /// The field, with its unit.
    pub field: &'static str,
    /// What was given.
    pub value: f64,
    /// The least value that would do.
    pub low: f64,
    /// The greatest value that would do.
    pub high: f64,
}

impl fmt::Display for BadNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let BadNumber { field, value, low, high } = self;
        write!(f, "`{field}` is {value}; give a number from {low} to {high}")
    }
}

impl core::error::Error for BadNumber {}

/// `value` if it lies within the range, ends included.
pub(crate) fn within(field: &'static str, value: f64, low: f64, high: f64) -> Result<f64, BadNumber> {
    // A value that is not a number lies in no range.
    if (low..=high).contains(&value) { Ok(value) } else { Err(BadNumber { field, value, low, high }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table_is_in_order() {
        for (place, row) in UNITS.iter().enumerate() {
            assert_eq!(row.unit as usize, place, "{:?}", row.unit);
        }
    }

    #[test]
    fn converts_by_definition() {
        // NIST SP 811 B.8: 1 psi = 6.894 757 kPa; 1 inHg (conventional) = 3.386 389 kPa.
        let base = |milli, unit: Unit| Reading { milli, unit }.in_base(unit.quantity(), Own::glass(200)).unwrap();
        assert_eq!(base(160_000, Unit::Psi), 1_103_161);
        assert_eq!(base(21_000, Unit::InHg), 71_114);
        assert_eq!(base(212_000, Unit::Fahrenheit), 100_000);
        let nine = Reading::whole(9, Unit::Fahrenheit);
        assert_eq!(nine.difference_in_base(Quantity::Temperature, Own::UNKNOWN), Ok(5_000));
        assert_eq!(base(1_000, Unit::Clark), 14_254);
        assert_eq!(base(1_000, Unit::GrainPerGallonUs), 17_118);
        assert_eq!(base(1_000, Unit::GermanDegree), 17_848);
        assert_eq!(base(75_000, Unit::GlassShare), 150_000);
        assert_eq!(base(1_000, Unit::GallonPerMinute), 4_546);
        assert_eq!(base(54_000, Unit::FahrenheitPerHour), 30_000);
    }

    #[test]
    fn a_share_is_of_something_known() {
        let three_quarters = Reading::whole(75, Unit::WorkingShare);
        let of = |working| three_quarters.in_base(Quantity::Pressure, Own { glass_mm: None, working });
        // Three quarters of 160 psi are 120 psi.
        assert_eq!(of(Some(Reading::whole(160, Unit::Psi))), Ok(827_371));
        assert_eq!(of(None), Err(Incomparable::WorkingUnknown));
        assert_eq!(of(Some(three_quarters)), Err(Incomparable::WorkingUnknown));
        assert_eq!(Reading::whole(1, Unit::Bar).to(Unit::GlassShare, Own::glass(0)), None);
    }

    #[test]
    fn computed_values_are_rounded_to_what_is_read() {
        let up = |value, unit| Reading::rounded(value, unit, Rounding::Up);
        assert_eq!(up(70.2, Unit::GlassMm), Some(Reading::whole(71, Unit::GlassMm)));
        assert_eq!(up(70.000_000_000_1, Unit::GlassMm), Some(Reading::whole(70, Unit::GlassMm)));
        // 25.4 mm are an inch; 26 mm are 1.03 inches and a little.
        assert_eq!(up(26.0, Unit::GlassInch), Some(Reading { milli: 1_030, unit: Unit::GlassInch }));
        let nearest = Reading::rounded(2_499.6, Unit::MgPerL, Rounding::Nearest);
        assert_eq!(nearest, Some(Reading::whole(2_500, Unit::MgPerL)));
        assert_eq!(up(f64::NAN, Unit::GlassMm), None);
        assert_eq!(up(1e9, Unit::GlassMm), None);
    }

    #[test]
    fn there_and_back_is_the_same() {
        for row in &UNITS {
            let reading = Reading { milli: 12_000, unit: row.unit };
            for other in Unit::all(row.quantity) {
                let own = Own { glass_mm: Some(180), working: Some(Reading::whole(160, Unit::Psi)) };
                let back = reading.to(other, own).unwrap().to(row.unit, own).unwrap();
                let off = (back.milli - reading.milli).abs();
                // One thousandth of the coarser unit.
                let step = Reading { milli: 1, unit: other }.to(row.unit, own).map_or(0, |r| r.milli.abs());
                assert!(
                    off <= step + 1 || row.quantity == Quantity::Temperature && off <= 2,
                    "{row:?} {other:?}",
                    row = row.unit
                );
            }
        }
    }

    #[test]
    fn reads_what_people_write() {
        let glass = |text| Reading::parse(text, Quantity::Glass);
        assert_eq!(glass("25 mm"), Ok(Reading::whole(25, Unit::GlassMm)));
        assert_eq!(glass("75%"), Ok(Reading::whole(75, Unit::GlassShare)));
        assert_eq!(glass("25"), Err(BadReading::NoUnit));
        assert_eq!(glass("25 psi"), Err(BadReading::Unit));
        assert_eq!(glass("1.2345 mm"), Err(BadReading::Number));
        assert_eq!(glass("--1 mm"), Err(BadReading::Number));
        assert_eq!(glass(""), Err(BadReading::Number));
        assert_eq!(parse_milli("-0.5"), Some(-500));
        assert_eq!(parse_milli("99999999999"), None);
        assert_eq!(parse_milli("1."), None);
    }
}
