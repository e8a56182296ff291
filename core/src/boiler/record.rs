//! Boilers, roads and treatment products as records keep them: whole numbers with their units, no floats.
//!
//! What is recorded is checked when it is stated and again when it is read: a record that does not hold together gives
//! no [`Vessel`].

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

use super::level::{Facing, Tilt};
use super::road::Point;
use super::shape::{BadBoiler, Barrel, Boiler, Bundle, Casing, Firebox, Girders, Glass, Top, Vessel};
use super::water::dose::{Measure, Product};
use super::{BadNumber, within};

/// A length in tenths of a millimetre.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TenthMm(pub i32);

impl TenthMm {
    /// In millimetres.
    pub fn mm(self) -> f64 {
        f64::from(self.0) / 10.0
    }

    /// The nearest tenth; `None` when it is not finite or beyond 100 km.
    pub fn of(mm: f64) -> Option<TenthMm> {
        let tenths = libm::round(mm * 10.0);
        (tenths.is_finite() && tenths.abs() < 1e9).then_some(TenthMm(tenths as i32))
    }
}

/// Tubes of one size; see [`Bundle`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BundleRecord {
    /// How many.
    pub count: u16,
    /// Outside diameter.
    pub outside_diameter: TenthMm,
    /// Height of the underside of the lowest.
    pub lower: TenthMm,
    /// Height of the top of the highest.
    pub upper: TenthMm,
}

/// Girder stays; see [`Girders`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GirdersRecord {
    /// Volume of metal, tenths of a litre.
    pub volume_tenth_l: u16,
    /// Height above the crown.
    pub height: TenthMm,
}

/// A boiler's measures; see [`Boiler`] for what each is and its range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoilerRecord {
    /// Barrel: inside diameter at the throat plate.
    pub barrel_back_diameter: TenthMm,
    /// Barrel: inside diameter at the smokebox tubeplate.
    pub barrel_front_diameter: TenthMm,
    /// Barrel: inside length.
    pub barrel_length: TenthMm,
    /// Barrel: height of the axis at the front above the axis at the back.
    pub barrel_front_axis_rise: TenthMm,
    /// Casing: inside length.
    pub casing_length: TenthMm,
    /// Casing: inside width.
    pub casing_width: TenthMm,
    /// Casing: height of the inside of the top.
    pub casing_top: TenthMm,
    /// Casing: radius of the corners of a flat top; `None`: round.
    pub casing_corner: Option<TenthMm>,
    /// Casing: height of the foundation ring.
    pub casing_foundation: TenthMm,
    /// Firebox: width of the water space behind it.
    pub firebox_back_gap: TenthMm,
    /// Firebox: outside length.
    pub firebox_length: TenthMm,
    /// Firebox: outside width.
    pub firebox_width: TenthMm,
    /// Crown: height of its water side at the back edge.
    pub crown_back: TenthMm,
    /// Crown: height of its water side at the front edge.
    pub crown_front: TenthMm,
    /// Crown: radius of the corners of a flat one; `None`: round.
    pub crown_corner: Option<TenthMm>,
    /// Small tubes.
    pub tubes: Option<BundleRecord>,
    /// Large flues.
    pub flues: Option<BundleRecord>,
    /// Girder stays.
    pub girders: Option<GirdersRecord>,
    /// Glass: how far in front of the inside of the back plate.
    pub glass_position: TenthMm,
    /// Glass: height of the bottom nut above the highest part of the crown.
    pub glass_bottom_nut: TenthMm,
    /// Glass: height of the top nut above the highest part of the crown.
    pub glass_top_nut: TenthMm,
    /// Glass: distance between two glasses across the engine; 0: one, or not known.
    pub glass_separation: TenthMm,
    /// How much the glass shows too much while the regulator is open.
    pub swell: TenthMm,
}

impl BoilerRecord {
    /// The record of a boiler, to the nearest tenth of a millimetre and of a litre.
    ///
    /// # Errors
    /// The field of a number that no record can hold.
    pub fn of(boiler: &Boiler, swell_mm: f64) -> Result<BoilerRecord, BadNumber> {
        let Boiler { barrel, casing, firebox, glass, .. } = boiler;
        Ok(BoilerRecord {
            barrel_back_diameter: tenths("barrel.back_diameter_mm", barrel.back_diameter_mm)?,
            barrel_front_diameter: tenths("barrel.front_diameter_mm", barrel.front_diameter_mm)?,
            barrel_length: tenths("barrel.length_mm", barrel.length_mm)?,
            barrel_front_axis_rise: tenths("barrel.front_axis_rise_mm", barrel.front_axis_rise_mm)?,
            casing_length: tenths("casing.length_mm", casing.length_mm)?,
            casing_width: tenths("casing.width_mm", casing.width_mm)?,
            casing_top: tenths("casing.top_mm", casing.top_mm)?,
            casing_corner: corner("casing.top.corner_radius_mm", casing.top)?,
            casing_foundation: tenths("casing.foundation_mm", casing.foundation_mm)?,
            firebox_back_gap: tenths("firebox.back_gap_mm", firebox.back_gap_mm)?,
            firebox_length: tenths("firebox.length_mm", firebox.length_mm)?,
            firebox_width: tenths("firebox.width_mm", firebox.width_mm)?,
            crown_back: tenths("firebox.crown_back_mm", firebox.crown_back_mm)?,
            crown_front: tenths("firebox.crown_front_mm", firebox.crown_front_mm)?,
            crown_corner: corner("firebox.crown.corner_radius_mm", firebox.crown)?,
            tubes: bundle("tubes", boiler.tubes)?,
            flues: bundle("flues", boiler.flues)?,
            girders: girders(boiler.girders)?,
            glass_position: tenths("glass.position_mm", glass.position_mm)?,
            glass_bottom_nut: tenths("glass.bottom_nut_mm", glass.bottom_nut_mm)?,
            glass_top_nut: tenths("glass.top_nut_mm", glass.top_nut_mm)?,
            glass_separation: tenths("glass.separation_mm", glass.separation_mm)?,
            swell: tenths("swell_mm", swell_mm)?,
        })
    }

    /// The boiler, checked.
    ///
    /// # Errors
    /// The first field that is out of range, or that does not fit within another.
    pub fn vessel(&self) -> Result<Vessel, BadBoiler> {
        within("swell_mm", self.swell.mm(), 0.0, 200.0)?;
        self.boiler().check()
    }

    /// As plain numbers.
    fn boiler(&self) -> Boiler {
        let top = |corner: Option<TenthMm>| match corner {
            Some(radius) => Top::Flat { corner_radius_mm: radius.mm() },
            None => Top::Round,
        };
        Boiler {
            barrel: Barrel {
                back_diameter_mm: self.barrel_back_diameter.mm(),
                front_diameter_mm: self.barrel_front_diameter.mm(),
                length_mm: self.barrel_length.mm(),
                front_axis_rise_mm: self.barrel_front_axis_rise.mm(),
            },
            casing: Casing {
                length_mm: self.casing_length.mm(),
                width_mm: self.casing_width.mm(),
                top_mm: self.casing_top.mm(),
                top: top(self.casing_corner),
                foundation_mm: self.casing_foundation.mm(),
            },
            firebox: Firebox {
                back_gap_mm: self.firebox_back_gap.mm(),
                length_mm: self.firebox_length.mm(),
                width_mm: self.firebox_width.mm(),
                crown_back_mm: self.crown_back.mm(),
                crown_front_mm: self.crown_front.mm(),
                crown: top(self.crown_corner),
            },
            tubes: self.tubes.map_or(Bundle::NONE, BundleRecord::bundle),
            flues: self.flues.map_or(Bundle::NONE, BundleRecord::bundle),
            girders: self.girders.map_or(Girders::NONE, |g| Girders {
                volume_l: f64::from(g.volume_tenth_l) / 10.0,
                height_mm: g.height.mm(),
            }),
            glass: Glass {
                position_mm: self.glass_position.mm(),
                bottom_nut_mm: self.glass_bottom_nut.mm(),
                top_nut_mm: self.glass_top_nut.mm(),
                separation_mm: self.glass_separation.mm(),
            },
        }
    }
}

impl BundleRecord {
    fn bundle(self) -> Bundle {
        Bundle {
            count: self.count,
            outside_diameter_mm: self.outside_diameter.mm(),
            lower_mm: self.lower.mm(),
            upper_mm: self.upper.mm(),
        }
    }
}

fn tenths(field: &'static str, mm: f64) -> Result<TenthMm, BadNumber> {
    TenthMm::of(mm).ok_or(BadNumber { field, value: mm, low: -1e5, high: 1e5 })
}

fn corner(field: &'static str, top: Top) -> Result<Option<TenthMm>, BadNumber> {
    match top {
        Top::Round => Ok(None),
        Top::Flat { corner_radius_mm } => tenths(field, corner_radius_mm).map(Some),
    }
}

fn bundle(field: &'static str, bundle: Bundle) -> Result<Option<BundleRecord>, BadNumber> {
    if bundle.count == 0 {
        return Ok(None);
    }
    Ok(Some(BundleRecord {
        count: bundle.count,
        outside_diameter: tenths(field, bundle.outside_diameter_mm)?,
        lower: tenths(field, bundle.lower_mm)?,
        upper: tenths(field, bundle.upper_mm)?,
    }))
}

fn girders(girders: Girders) -> Result<Option<GirdersRecord>, BadNumber> {
    if girders.volume_l == 0.0 {
        return Ok(None);
    }
    let litres = within("girders.volume_l", girders.volume_l, 0.0, 6_553.5)?;
    let height = tenths("girders.height_mm", girders.height_mm)?;
    Ok(Some(GirdersRecord { volume_tenth_l: libm::round(litres * 10.0) as u16, height }))
}

/// How an engine stands at the start of a road: gradient, chimney end uphill positive, millionths, ±250 000.
///
/// # Errors
/// When the gradient is out of range.
pub fn road_start(millionths: i32) -> Result<Tilt, BadNumber> {
    Tilt::travelling(f64::from(millionths) / 1e6, 0.0, Facing::ChimneyFirst)
}

/// A stretch of road on which nothing changes, in the direction of travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SectionRecord {
    /// Length, m, 1 to 200 000.
    pub metres: u32,
    /// Rise over run, uphill positive, millionths, ±250 000.
    pub gradient_millionths: i32,
    /// Acceleration, gaining speed positive, mm/s², ±5 000.
    pub acceleration_mm_s2: i16,
    /// Whether the bunker or tender leads.
    pub bunker_first: bool,
    /// Cant, rail over rail height by their distance, ten-thousandths, ±2 000.
    pub cant_ten_thousandths: i16,
}

impl SectionRecord {
    /// Its two ends, the first `from_m` from the start of the road.
    ///
    /// Water is used evenly and the surface leans alike all along, so that one of its ends is its worst place.
    pub fn ends(&self, from_m: f64) -> [Point; 2] {
        let at = |distance_m| Point {
            distance_m,
            gradient: f64::from(self.gradient_millionths) / 1e6,
            acceleration_m_s2: f64::from(self.acceleration_mm_s2) / 1e3,
            facing: if self.bunker_first { Facing::BunkerFirst } else { Facing::ChimneyFirst },
            cant: f64::from(self.cant_ten_thousandths) / 1e4,
        };
        [at(from_m), at(from_m + f64::from(self.metres))]
    }

    /// Whether every number is in its range.
    ///
    /// # Errors
    /// The first that is not.
    pub fn check(&self) -> Result<(), BadNumber> {
        within("metres", f64::from(self.metres), 1.0, 200_000.0)?;
        let [start, _] = self.ends(0.0);
        start.tilt().map(|_| ())
    }
}

/// A measure's name: scoop, cup, ounce.
pub type MeasureName = String<16>;

/// Sections of a road in one entry.
pub const SECTIONS: usize = 24;

/// A run of sections.
pub type Sections = Vec<SectionRecord, SECTIONS>;

/// The measure that comes with a product.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeasureRecord {
    /// What it is called.
    pub name: MeasureName,
    /// Product in one, thousandths of a gram, 10 to 100 000 000.
    pub milligrams: u32,
    /// Into how many parts a person can divide one, 1 to 16.
    pub parts: u8,
}

/// A treatment product as it is bought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProductRecord {
    /// Grams of what the test shows in a million grams of product, 100 to 10 000 000.
    pub strength_millionths: u32,
    /// The measure that comes with it.
    pub measure: Option<MeasureRecord>,
}

impl ProductRecord {
    /// As plain numbers, checked.
    ///
    /// # Errors
    /// The first that is out of range.
    pub fn product(&self) -> Result<Product, BadNumber> {
        let strength = within("strength", f64::from(self.strength_millionths) / 1e6, 1e-4, 10.0)?;
        let measure = self.measure.as_ref().map(MeasureRecord::measure).transpose()?;
        Ok(Product { strength, measure })
    }
}

impl MeasureRecord {
    fn measure(&self) -> Result<Measure, BadNumber> {
        let grams = within("measure_grams", f64::from(self.milligrams) / 1e3, 0.01, 100_000.0)?;
        within("measure_parts", self.parts.into(), 1.0, 16.0)?;
        Ok(Measure { grams, parts: self.parts })
    }
}
