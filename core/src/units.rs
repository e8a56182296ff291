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
const UNITS: [Row; 35] = [
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

    /// All units of a quantity.
    pub fn all(quantity: Quantity) -> impl Iterator<Item = Unit> {
        UNITS.iter().filter(move |row| row.quantity == quantity).map(|row| row.unit)
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
const QUANTITIES: [(Quantity, &str); 14] = [
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
}

impl Reading {
    /// A whole number of a unit.
    pub const fn whole(value: i32, unit: Unit) -> Reading {
        Reading { milli: value.saturating_mul(1_000), unit }
    }

    /// In thousandths of the base unit of `quantity`, to the nearest; `glass_mm` is the engine's visible glass.
    ///
    /// # Errors
    /// When the unit measures something else, or is a share of a glass whose length is not known.
    pub fn in_base(self, quantity: Quantity, glass_mm: Option<u16>) -> Result<i64, Incomparable> {
        self.scaled(quantity, glass_mm, self.unit.row().shift)
    }

    /// As [`Reading::in_base`], of a difference between two values: 9 degrees Fahrenheit are 5 degrees Celsius.
    ///
    /// # Errors
    /// As [`Reading::in_base`].
    pub fn difference_in_base(self, quantity: Quantity, glass_mm: Option<u16>) -> Result<i64, Incomparable> {
        self.scaled(quantity, glass_mm, 0)
    }

    fn scaled(self, quantity: Quantity, glass_mm: Option<u16>, shift: i64) -> Result<i64, Incomparable> {
        let row = self.unit.row();
        if row.quantity != quantity {
            return Err(Incomparable::Quantity { want: quantity, got: row.quantity });
        }
        let milli = i128::from(self.milli) + i128::from(shift) * 1_000;
        if self.unit == Unit::GlassShare {
            let glass = glass_mm.ok_or(Incomparable::GlassUnknown)?;
            return Ok(rounded(milli * i128::from(glass), 100));
        }
        Ok(rounded(milli * i128::from(row.num), i128::from(row.den)))
    }

    /// The same value in another unit of its quantity, to the nearest thousandth; `None` where it does not fit.
    pub fn to(self, unit: Unit, glass_mm: Option<u16>) -> Option<Reading> {
        let base = i128::from(self.in_base(unit.quantity(), glass_mm).ok()?);
        let row = unit.row();
        let milli = if unit == Unit::GlassShare {
            rounded(base * 100, i128::from(glass_mm.filter(|mm| *mm > 0)?))
        } else {
            rounded(base * i128::from(row.den), i128::from(row.num)) - row.shift * 1_000
        };
        Some(Reading { milli: i32::try_from(milli).ok()?, unit })
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
        let base = |milli, unit: Unit| Reading { milli, unit }.in_base(unit.quantity(), Some(200)).unwrap();
        assert_eq!(base(160_000, Unit::Psi), 1_103_161);
        assert_eq!(base(21_000, Unit::InHg), 71_114);
        assert_eq!(base(212_000, Unit::Fahrenheit), 100_000);
        let nine = Reading::whole(9, Unit::Fahrenheit);
        assert_eq!(nine.difference_in_base(Quantity::Temperature, None), Ok(5_000));
        assert_eq!(base(1_000, Unit::Clark), 14_254);
        assert_eq!(base(1_000, Unit::GrainPerGallonUs), 17_118);
        assert_eq!(base(1_000, Unit::GermanDegree), 17_848);
        assert_eq!(base(75_000, Unit::GlassShare), 150_000);
    }

    #[test]
    fn there_and_back_is_the_same() {
        for row in &UNITS {
            let reading = Reading { milli: 12_000, unit: row.unit };
            for other in Unit::all(row.quantity) {
                let back = reading.to(other, Some(180)).unwrap().to(row.unit, Some(180)).unwrap();
                let off = (back.milli - reading.milli).abs();
                // One thousandth of the coarser unit.
                let step = Reading { milli: 1, unit: other }.to(row.unit, Some(180)).map_or(0, |r| r.milli.abs());
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
