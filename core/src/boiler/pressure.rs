//! Pressures that cannot be mistaken: what a gauge shows is one type, what steam tables want is another, and only the
//! air's pressure of the day turns one into the other.

use super::{BadNumber, within};

/// Kilopascals in one pound-force per square inch: 4.448 221 615 260 5 N over (0.0254 m)², exact (NIST SP 811, B.8).
pub const KPA_PER_PSI: f64 = 4.448_221_615_260_5 / 0.645_16;
/// Kilopascals in one bar, exact (NIST SP 811, B.8).
pub const KPA_PER_BAR: f64 = 100.0;
/// Kilopascals in one kilogram-force per square centimetre, exact (NIST SP 811, B.8).
pub const KPA_PER_KGF_CM2: f64 = 98.066_5;
/// Kilopascals in one conventional inch of mercury: 25.4 times 133.322 387 415 Pa, exact (NIST SP 811, B.8).
pub const KPA_PER_INHG: f64 = 25.4 * 0.133_322_387_415;

/// Greatest gauge pressure taken, kPa; above it a reading is a slip of the pen, not a locomotive.
const MOST_GAUGE_KPA: f64 = 10_000.0;

/// The air's pressure at the place, which a gauge takes as zero.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Atmosphere {
    kpa: f64,
}

impl Atmosphere {
    /// The standard atmosphere, 101.325 kPa (ISO 2533).
    pub const STANDARD: Atmosphere = Atmosphere { kpa: 101.325 };

    /// From kilopascals, 50 to 110: from the highest railways to the deepest anticyclone.
    ///
    /// # Errors
    /// When `kpa` is outside that range; millibars (1013) are caught by it.
    pub fn from_kpa(kpa: f64) -> Result<Atmosphere, BadNumber> {
        within("atmosphere_kpa", kpa, 50.0, 110.0).map(|kpa| Atmosphere { kpa })
    }

    /// In kilopascals.
    pub fn kpa(self) -> f64 {
        self.kpa
    }
}

/// A pressure above (or, negative, below) the air's, as a gauge shows it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Gauge {
    kpa: f64,
}

impl Gauge {
    /// From kilopascals, -110 to 10 000.
    ///
    /// # Errors
    /// When `kpa` is outside that range.
    pub fn from_kpa(kpa: f64) -> Result<Gauge, BadNumber> {
        within("gauge_kpa", kpa, -110.0, MOST_GAUGE_KPA).map(|kpa| Gauge { kpa })
    }

    /// From pounds-force per square inch.
    ///
    /// # Errors
    /// As [`Gauge::from_kpa`].
    pub fn from_psi(psi: f64) -> Result<Gauge, BadNumber> {
        Gauge::from_kpa(psi * KPA_PER_PSI)
    }

    /// From bar.
    ///
    /// # Errors
    /// As [`Gauge::from_kpa`].
    pub fn from_bar(bar: f64) -> Result<Gauge, BadNumber> {
        Gauge::from_kpa(bar * KPA_PER_BAR)
    }

    /// From kilogram-force per square centimetre.
    ///
    /// # Errors
    /// As [`Gauge::from_kpa`].
    pub fn from_kgf_cm2(kgf_cm2: f64) -> Result<Gauge, BadNumber> {
        Gauge::from_kpa(kgf_cm2 * KPA_PER_KGF_CM2)
    }

    /// From inches of mercury of vacuum: 21 inHg of vacuum lies 71.1 kPa below the air's pressure.
    ///
    /// # Errors
    /// As [`Gauge::from_kpa`].
    pub fn from_vacuum_inhg(inhg: f64) -> Result<Gauge, BadNumber> {
        Gauge::from_kpa(-inhg * KPA_PER_INHG)
    }

    /// In kilopascals.
    pub fn kpa(self) -> f64 {
        self.kpa
    }

    /// In pounds-force per square inch.
    pub fn psi(self) -> f64 {
        self.kpa / KPA_PER_PSI
    }

    /// In bar.
    pub fn bar(self) -> f64 {
        self.kpa / KPA_PER_BAR
    }

    /// In kilogram-force per square centimetre.
    pub fn kgf_cm2(self) -> f64 {
        self.kpa / KPA_PER_KGF_CM2
    }

    /// In inches of mercury of vacuum; negative above the air's pressure.
    pub fn vacuum_inhg(self) -> f64 {
        -self.kpa / KPA_PER_INHG
    }

    /// Counted from nothing, with the air's pressure of the place.
    ///
    /// # Errors
    /// When the gauge is below a perfect vacuum at that air pressure.
    pub fn absolute(self, air: Atmosphere) -> Result<Absolute, BadNumber> {
        within("gauge_kpa", self.kpa, -air.kpa, MOST_GAUGE_KPA)?;
        Absolute::from_kpa(self.kpa + air.kpa)
    }
}

/// A pressure counted from nothing, as steam tables want it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Absolute {
    kpa: f64,
}

impl Absolute {
    /// From kilopascals, 0 to 22 064 (water's critical pressure, IAPWS R7-97(2012)).
    ///
    /// # Errors
    /// When `kpa` is outside that range.
    pub fn from_kpa(kpa: f64) -> Result<Absolute, BadNumber> {
        within("absolute_kpa", kpa, 0.0, 22_064.0).map(|kpa| Absolute { kpa })
    }

    /// From megapascals, 0 to 22.064.
    ///
    /// # Errors
    /// As [`Absolute::from_kpa`].
    pub fn from_mpa(mpa: f64) -> Result<Absolute, BadNumber> {
        Absolute::from_kpa(mpa * 1_000.0)
    }

    /// In kilopascals.
    pub fn kpa(self) -> f64 {
        self.kpa
    }

    /// In megapascals.
    pub fn mpa(self) -> f64 {
        self.kpa / 1_000.0
    }

    /// What a gauge at that place shows.
    ///
    /// # Errors
    /// When that is more than a gauge is taken to show, 10 000 kPa.
    pub fn gauge(self, air: Atmosphere) -> Result<Gauge, BadNumber> {
        Gauge::from_kpa(self.kpa - air.kpa)
    }
}
