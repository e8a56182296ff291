//! What is asked of a [`Vessel`]: from a reading to its water, to that water at another tilt or temperature, and back.

use super::level::{Cover, Crown, Edge, Fill, GlassReading, InGlass, Needed, Regulator, Seen, Tilt, Water};
use super::shape::Vessel;
use super::volume::Settled;
use super::{BadNumber, steam, within};

/// The error of reading, mm, once checked.
pub(super) fn reading_error(error_mm: f64) -> Result<f64, BadNumber> {
    within("reading.error_mm", error_mm, 0.0, 100.0)
}

/// A required cover, mm.
pub(super) fn required_cover(cover_mm: f64) -> Result<f64, BadNumber> {
    within("cover_mm", cover_mm, -500.0, 1_000.0)
}

impl Vessel {
    /// The water that a reading means, and what becomes of it at another tilt with the regulator shut.
    ///
    /// `now` is the tilt at the reading and `then` the tilt asked about; give the same twice for the present state.
    /// The swell of an open regulator is taken off the reading first.
    ///
    /// # Errors
    /// When the reading lies outside the glass, or a number is out of range.
    pub fn after(&self, reading: GlassReading, regulator: Regulator, now: Tilt, then: Tilt) -> Result<Seen, BadNumber> {
        let [as_read, at_least, at_most] = self.volumes(reading, regulator, now)?;
        Ok(Seen {
            as_read: self.settled(as_read, then),
            at_least: self.settled(at_least, then),
            at_most: self.settled(at_most, then),
        })
    }

    /// The water that a reading means: [`Vessel::after`] without a change.
    ///
    /// # Errors
    /// As [`Vessel::after`].
    pub fn at_reading(&self, reading: GlassReading, regulator: Regulator, tilt: Tilt) -> Result<Seen, BadNumber> {
        self.after(reading, regulator, tilt, tilt)
    }

    /// Litres in the boiler when the glass stands at `mm` over the bottom nut, regulator shut, 0 to the visible glass.
    ///
    /// # Errors
    /// When the reading lies outside the glass.
    pub fn litres_at(&self, mm: f64, tilt: Tilt) -> Result<f64, BadNumber> {
        let mm = within("reading.mm", mm, 0.0, self.visible_mm())?;
        Ok(self.volume.under(self.bottom_nut_height_mm() + mm, tilt.along()).volume.max(0.0) / 1e6)
    }

    /// The same water once it is at another temperature, both in Celsius, 0 to 350 (steam that forms is left out).
    ///
    /// Levels at disposal and at the next preparation are compared this way: equal mass, not equal millimetres.
    ///
    /// # Errors
    /// As [`Vessel::after`], or when a temperature is out of range.
    pub fn at_temperature(&self, reading: GlassReading, tilt: Tilt, from_c: f64, to_c: f64) -> Result<Seen, BadNumber> {
        let times = steam::expansion(from_c, to_c)?;
        let [as_read, at_least, at_most] = self.volumes(reading, Regulator::Shut, tilt)?;
        Ok(Seen {
            as_read: self.settled(as_read * times, tilt),
            at_least: self.settled(at_least * times, tilt),
            at_most: self.settled(at_most * times, tilt),
        })
    }

    /// Mass of the water that a reading means, kg, at its temperature in Celsius, 0 to 350.
    ///
    /// # Errors
    /// As [`Vessel::after`], or when the temperature is out of range.
    pub fn mass_kg(&self, reading: GlassReading, tilt: Tilt, celsius: f64) -> Result<f64, BadNumber> {
        let density = steam::water_density(celsius)?;
        let [as_read, ..] = self.volumes(reading, Regulator::Shut, tilt)?;
        Ok(as_read / 1e9 * density)
    }

    /// Where `litres` of water (0 to 1 000 000) stand; more than the boiler holds is brim-full.
    ///
    /// # Errors
    /// When `litres` is out of range.
    pub fn at_volume(&self, litres: f64, tilt: Tilt) -> Result<Water, BadNumber> {
        let litres = within("volume_l", litres, 0.0, 1e6)?;
        Ok(self.settled(litres * 1e6, tilt))
    }

    /// The reading at `now`, regulator as given, that leaves `cover_mm` (-500 to 1 000) over the whole crown at `then`.
    ///
    /// # Errors
    /// When a number is out of range.
    pub fn reading_for_cover(
        &self,
        cover_mm: f64,
        then: Tilt,
        now: Tilt,
        regulator: Regulator,
    ) -> Result<Needed, BadNumber> {
        let cover = required_cover(cover_mm)?;
        let swell = regulator.swell()?;
        Ok(match self.volume_for_cover(cover, then) {
            Some(volume) => self.needed(volume, now, swell),
            None => Needed::OverBrimFull,
        })
    }

    /// Least volume, mm³, that leaves `cover` over the whole crown; none if the boiler cannot hold it.
    pub(super) fn volume_for_cover(&self, cover: f64, tilt: Tilt) -> Option<f64> {
        let lean = self.crown_lean_mm(tilt.across());
        let [back, front] = self.crown_edges().map(|(place, height)| {
            let at_glass = self.volume.plane(0.0, tilt.along()).at(place);
            height + lean + cover - at_glass
        });
        let at_glass = back.max(front);
        let (_, full) = self.volume.bracket(tilt.along());
        (at_glass <= full).then(|| self.volume.under(at_glass, tilt.along()).volume)
    }

    /// The reading at which the boiler holds `volume`, mm³.
    pub(super) fn needed(&self, volume: f64, now: Tilt, swell: f64) -> Needed {
        let capacity = self.volume.capacity();
        if volume > capacity * (1.0 + 1e-12) {
            return Needed::OverBrimFull;
        }
        let settled = self.volume.settle(volume.min(capacity), now.along(), None);
        let mm = settled.at_glass - self.bottom_nut_height_mm() + swell;
        match self.in_glass(mm) {
            InGlass::Shows { mm } => Needed::Reading { mm },
            InGlass::OutBelow { by_mm } => Needed::AnyInSight { spare_mm: by_mm },
            InGlass::OutAbove { by_mm } => Needed::OverTheGlass { by_mm },
        }
    }

    /// Volumes, mm³, of a reading: as read, less its error, with its error.
    pub(super) fn volumes(
        &self,
        reading: GlassReading,
        regulator: Regulator,
        tilt: Tilt,
    ) -> Result<[f64; 3], BadNumber> {
        let mm = within("reading.mm", reading.mm, 0.0, self.visible_mm())?;
        let error = reading_error(reading.error_mm)?;
        let height = self.bottom_nut_height_mm() + mm - regulator.swell()?;
        let volume = |at_glass: f64| self.volume.under(at_glass, tilt.along()).volume.max(0.0);
        Ok([volume(height), volume(height - error), volume(height + error)])
    }

    /// The water's state at a volume, mm³.
    pub(super) fn settled(&self, volume: f64, tilt: Tilt) -> Water {
        self.settled_near(volume, tilt, None).0
    }

    /// The same, starting from a surface that holds about as much; with the plane's height at the glass.
    pub(super) fn settled_near(&self, volume: f64, tilt: Tilt, near: Option<(f64, f64)>) -> (Water, f64) {
        let capacity = self.volume.capacity();
        let (empty, full) = self.volume.bracket(tilt.along());
        let plane_at = |at_glass| Settled { at_glass, surface: 0.0 };
        let (fill, settled) = if volume >= capacity * (1.0 - 1e-12) {
            let excess_l = ((volume - capacity) / 1e6).max(0.0);
            (Fill::BrimFull { excess_l }, plane_at(full))
        } else if volume <= capacity * 1e-12 {
            (Fill::Dry, plane_at(empty))
        } else {
            (Fill::PartFull, self.volume.settle(volume, tilt.along(), near))
        };
        (self.water(volume, tilt, fill, settled), settled.at_glass)
    }

    fn water(&self, volume: f64, tilt: Tilt, fill: Fill, settled: Settled) -> Water {
        let cover = self.cover(settled.at_glass, tilt);
        Water {
            volume_l: volume / 1e6,
            tilt,
            fill,
            glass: self.in_glass(settled.at_glass - self.bottom_nut_height_mm()),
            glasses_differ_mm: tilt.across() * self.boiler().glass.separation_mm,
            cover,
            crown: if cover.least_mm > 0.0 { Crown::Covered } else { Crown::Bare },
            litres_per_mm: settled.surface / 1e6,
        }
    }

    fn cover(&self, at_glass: f64, tilt: Tilt) -> Cover {
        let plane = self.volume.plane(at_glass, tilt.along());
        let lean = self.crown_lean_mm(tilt.across());
        let [(back_place, back), (front_place, front)] = self.crown_edges();
        let back_mm = plane.at(back_place) - back - lean;
        let front_mm = plane.at(front_place) - front - lean;
        let (edge, place_mm) = if (front_mm - back_mm).abs() < 1e-6 {
            (Edge::Everywhere, back_place)
        } else if front_mm < back_mm {
            (Edge::Front, front_place)
        } else {
            (Edge::Back, back_place)
        };
        Cover { front_mm, back_mm, least_mm: front_mm.min(back_mm), edge, place_mm }
    }

    /// Sorts a level over the bottom nut; a rounding of a billionth of a millimetre puts nothing out of sight.
    fn in_glass(&self, mm: f64) -> InGlass {
        let visible = self.visible_mm();
        if mm < -1e-6 {
            InGlass::OutBelow { by_mm: -mm }
        } else if mm > visible + 1e-6 {
            InGlass::OutAbove { by_mm: mm - visible }
        } else {
            InGlass::Shows { mm: mm.clamp(0.0, visible) }
        }
    }
}
