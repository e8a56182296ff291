//! The boiler from the side, to scale: water line, crown, glass, and how much stands over the crown.

use core::fmt;

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;
use offshed_core::boiler::level::{GlassReading, Regulator, Tilt};
use offshed_core::boiler::shape::{Boiler, Vessel};
use offshed_core::verdict::GLASS_ERROR_MM;

use super::screen;
use crate::decimal::whole;
use crate::paint::Paint;

/// The boiler at one level of the glass, standing on the level, regulator shut.
pub struct BoilerPage<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// The boiler.
    pub vessel: &'a Vessel,
    /// Level over the bottom nut, mm.
    pub glass_mm: u16,
    /// Where the level is from: when it was read, or that somebody tries it.
    pub from: &'a str,
}

/// From the boiler's millimetres to the display's dots, one scale both ways.
struct Map {
    area: Rectangle,
    /// Height of the top of the picture, mm.
    top_mm: f64,
    /// Dots a millimetre.
    scale: f64,
}

impl Map {
    /// A picture of the whole boiler, from the foundation ring to the casing's or the barrel's top.
    fn of(area: Rectangle, boiler: &Boiler) -> Map {
        let length = boiler.casing.length_mm + boiler.barrel.length_mm;
        let barrel_top = boiler.barrel.front_axis_rise_mm + boiler.barrel.front_diameter_mm / 2.0;
        let top_mm = boiler.casing.top_mm.max(barrel_top).max(boiler.barrel.back_diameter_mm / 2.0);
        let height = (top_mm - boiler.casing.foundation_mm).max(1.0);
        let along = f64::from(area.size.width.saturating_sub(1)) / length.max(1.0);
        let up = f64::from(area.size.height.saturating_sub(1)) / height;
        Map { area, top_mm, scale: along.min(up) }
    }

    fn at(&self, along_mm: f64, height_mm: f64) -> Point {
        let dots = |mm: f64| (mm * self.scale) as i32;
        self.area.top_left + Point::new(dots(along_mm), dots(self.top_mm - height_mm))
    }
}

/// What the boiler is made of, seen from the side.
fn outline<D>(paint: &mut Paint<'_, D>, map: &Map, boiler: &Boiler) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let (casing, barrel) = (&boiler.casing, &boiler.barrel);
    let (throat, front) = (casing.length_mm, casing.length_mm + barrel.length_mm);
    let (back_r, front_r) = (barrel.back_diameter_mm / 2.0, barrel.front_diameter_mm / 2.0);
    let rise = barrel.front_axis_rise_mm;
    let corners = [
        (0.0, casing.foundation_mm),
        (0.0, casing.top_mm),
        (throat, casing.top_mm),
        (throat, back_r),
        (front, rise + front_r),
        (front, rise - front_r),
        (throat, -back_r),
        (throat, casing.foundation_mm),
        (0.0, casing.foundation_mm),
    ];
    let next = corners.iter().skip(1);
    corners.iter().zip(next).try_for_each(|(a, b)| paint.line(map.at(a.0, a.1), map.at(b.0, b.1)))?;
    let firebox = &boiler.firebox;
    let (crown_back, crown_front) = (firebox.back_gap_mm, firebox.back_gap_mm + firebox.length_mm);
    let (back, ahead) = (map.at(crown_back, firebox.crown_back_mm), map.at(crown_front, firebox.crown_front_mm));
    paint.line(map.at(crown_back, casing.foundation_mm), back)?;
    paint.line(ahead, map.at(crown_front, casing.foundation_mm))?;
    // The crown is what matters: it stands thick.
    paint.line(back, ahead)?;
    paint.line(back + Point::new(0, 1), ahead + Point::new(0, 1))
}

/// The water, hatched from its surface down, where it is not the fire's side of the firebox.
fn water<D>(paint: &mut Paint<'_, D>, map: &Map, boiler: &Boiler, surface_mm: f64) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let length = boiler.casing.length_mm + boiler.barrel.length_mm;
    paint.line(map.at(0.0, surface_mm), map.at(length, surface_mm))?;
    let (from, to) = (map.at(0.0, surface_mm), map.at(length, boiler.casing.foundation_mm));
    for y in ((from.y + 2)..=to.y).step_by(2) {
        for x in (from.x..=to.x).filter(|x| (x + y) % 4 == 0) {
            let along = f64::from(x - map.area.top_left.x) / map.scale;
            let height = map.top_mm - f64::from(y - map.area.top_left.y) / map.scale;
            if holds_water(boiler, along, height) {
                paint.fill(Rectangle::new(Point::new(x, y), Size::new(1, 1)), BinaryColor::On)?;
            }
        }
    }
    Ok(())
}

/// Whether water can stand at a place of the middle section.
fn holds_water(boiler: &Boiler, along: f64, height: f64) -> bool {
    let (casing, barrel, firebox) = (&boiler.casing, &boiler.barrel, &boiler.firebox);
    if along > casing.length_mm {
        let share = (along - casing.length_mm) / barrel.length_mm.max(1.0);
        let radius = (barrel.back_diameter_mm + (barrel.front_diameter_mm - barrel.back_diameter_mm) * share) / 2.0;
        return height > barrel.front_axis_rise_mm * share - radius;
    }
    let share = (along - firebox.back_gap_mm) / firebox.length_mm.max(1.0);
    let crown = firebox.crown_back_mm + (firebox.crown_front_mm - firebox.crown_back_mm) * share;
    let over_the_fire = (0.0..=1.0).contains(&share);
    height > casing.foundation_mm && !(over_the_fire && height < crown)
}

/// The glass with its nuts, beside the back plate.
fn glass<D>(paint: &mut Paint<'_, D>, map: &Map, vessel: &Vessel, surface_mm: f64) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let bottom = vessel.bottom_nut_height_mm();
    let (low, high) = (map.at(0.0, bottom), map.at(0.0, bottom + vessel.visible_mm()));
    let left = |y: i32, by: i32| Point::new(map.area.top_left.x - by, y);
    paint.line(left(high.y, 5), left(low.y, 5))?;
    paint.line(left(high.y, 3), left(low.y, 3))?;
    paint.line(left(high.y, 7), left(high.y, 1))?;
    paint.line(left(low.y, 7), left(low.y, 1))?;
    let level = map.at(0.0, surface_mm).y.clamp(high.y, low.y);
    paint.line(left(level, 4), left(low.y, 4))
}

screen!(BoilerPage, self, paint, {
    let _ = self.texts;
    let layout = paint.layout;
    let mut right: heapless::String<16> = heapless::String::new();
    // A number of five digits has room.
    let _ = fmt::write(&mut right, format_args!("{} mm", self.glass_mm));
    paint.bar(self.from, &right)?;
    paint.foot("up/down: try another level  left: back")?;
    let reading = GlassReading { mm: f64::from(self.glass_mm), error_mm: GLASS_ERROR_MM };
    let seen = self.vessel.at_reading(reading, Regulator::Shut, Tilt::LEVEL);
    let words = if layout.rows > 6 { 2 } else { 1 };
    let mut column = paint.column(layout.rows.saturating_sub(words), 0);
    match &seen {
        Err(bad) => column.words(format_args!("cannot be told: {}", bad.field)),
        Ok(seen) if layout.rows > 6 => column.words(format_args!(
            "{} mm over the crown (+-{}), {} l, standing level, regulator shut",
            whole(seen.as_read.cover.least_mm),
            whole(seen.cover_error_mm()),
            whole(seen.as_read.volume_l)
        )),
        Ok(seen) => {
            let (cover, litres) = (whole(seen.as_read.cover.least_mm), whole(seen.as_read.volume_l));
            column.words(format_args!("cover {cover} mm, {litres} l"))
        }
    };
    let extent = column.done()?;
    let (top, last) = (layout.row(0).top_left, layout.row(layout.rows.saturating_sub(words)).top_left);
    let inset = 9;
    let size = Size::new(layout.size.width.saturating_sub(11), (last.y - top.y - 2).max(1).cast_unsigned());
    let map = Map::of(Rectangle::new(top + Point::new(inset, 1), size), self.vessel.boiler());
    let surface = self.vessel.bottom_nut_height_mm() + f64::from(self.glass_mm);
    outline(&mut paint, &map, self.vessel.boiler())?;
    water(&mut paint, &map, self.vessel.boiler(), surface)?;
    glass(&mut paint, &map, self.vessel, surface)?;
    Ok(extent)
});
