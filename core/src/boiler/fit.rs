//! The checks that make a boiler's data a [`Vessel`]: every number in its range, every part inside what it lies in.

use libm::sqrt;

use super::shape::{BadBoiler, Boiler, Bundle, Top, Vessel};
use super::volume::Volume;
use super::{BadNumber, within};

impl Boiler {
    /// Checks every number and that the parts fit into each other.
    ///
    /// # Errors
    /// The first field that is out of range, or that does not fit within another.
    pub fn check(&self) -> Result<Vessel, BadBoiler> {
        self.check_numbers()?;
        self.check_firebox()?;
        self.check_girders()?;
        self.check_tubes()?;
        let volume = Volume::new(self.terms(), self.cone(), self.corners(), self.glass.position_mm);
        Ok(Vessel { boiler: *self, volume })
    }

    fn check_numbers(&self) -> Result<(), BadNumber> {
        let Boiler { barrel, casing, .. } = self;
        within("barrel.back_diameter_mm", barrel.back_diameter_mm, 50.0, 4_000.0)?;
        within("barrel.front_diameter_mm", barrel.front_diameter_mm, 50.0, 4_000.0)?;
        within("barrel.length_mm", barrel.length_mm, 50.0, 20_000.0)?;
        within("barrel.front_axis_rise_mm", barrel.front_axis_rise_mm, -1e3, 1e3)?;
        within("casing.length_mm", casing.length_mm, 50.0, 10_000.0)?;
        within("casing.width_mm", casing.width_mm, 50.0, 4_000.0)?;
        within("casing.foundation_mm", casing.foundation_mm, -5_000.0, 2_000.0)?;
        within("casing.top_mm", casing.top_mm, -2_000.0, 4_000.0)?;
        check_top("casing.top.corner_radius_mm", casing.top, casing.width_mm)?;
        self.check_inner_numbers()?;
        self.check_glass()
    }

    fn check_inner_numbers(&self) -> Result<(), BadNumber> {
        let Boiler { firebox, girders, .. } = self;
        within("firebox.back_gap_mm", firebox.back_gap_mm, 1.0, 2_000.0)?;
        within("firebox.length_mm", firebox.length_mm, 20.0, 10_000.0)?;
        within("firebox.width_mm", firebox.width_mm, 20.0, 4_000.0)?;
        within("firebox.crown_back_mm", firebox.crown_back_mm, -2_000.0, 3_000.0)?;
        within("firebox.crown_front_mm", firebox.crown_front_mm, -2_000.0, 3_000.0)?;
        check_top("firebox.crown.corner_radius_mm", firebox.crown, firebox.width_mm)?;
        within("girders.volume_l", girders.volume_l, 0.0, 1_000.0)?;
        if girders.volume_l > 0.0 {
            within("girders.height_mm", girders.height_mm, 1.0, 1_000.0)?;
        }
        for (bundle, names) in self.bundles() {
            if bundle.count > 0 {
                within(names[0], f64::from(bundle.count), 0.0, 1_000.0)?;
                within(names[1], bundle.outside_diameter_mm, 5.0, 400.0)?;
                within(names[2], bundle.lower_mm, -2_000.0, 2_000.0)?;
                let least = bundle.lower_mm + bundle.outside_diameter_mm;
                within(names[3], bundle.upper_mm, least, 2_400.0)?;
            }
        }
        Ok(())
    }

    fn check_glass(&self) -> Result<(), BadNumber> {
        let glass = &self.glass;
        within("glass.position_mm", glass.position_mm, -1_000.0, 30_000.0)?;
        within("glass.bottom_nut_mm", glass.bottom_nut_mm, -500.0, 1_000.0)?;
        within("glass.top_nut_mm", glass.top_nut_mm, glass.bottom_nut_mm + 10.0, 2_000.0)?;
        within("glass.separation_mm", glass.separation_mm, 0.0, 4_000.0)?;
        Ok(())
    }

    /// The bundles with the names of their fields.
    fn bundles(&self) -> [(Bundle, [&'static str; 4]); 2] {
        let tubes = ["tubes.count", "tubes.outside_diameter_mm", "tubes.lower_mm", "tubes.upper_mm"];
        let flues = ["flues.count", "flues.outside_diameter_mm", "flues.lower_mm", "flues.upper_mm"];
        [(self.tubes, tubes), (self.flues, flues)]
    }

    fn check_firebox(&self) -> Result<(), BadBoiler> {
        let Boiler { casing, firebox, .. } = self;
        let misfit = |field, inside| Err(BadBoiler::DoesNotFit { field, inside });
        let casing_arch = self.casing_arch();
        if casing_arch.straight_top() <= casing.foundation_mm {
            return misfit("casing.foundation_mm", "casing.top_mm");
        }
        if firebox.back_gap_mm + firebox.length_mm > casing.length_mm {
            return misfit("firebox.length_mm", "casing.length_mm");
        }
        if firebox.width_mm >= casing.width_mm {
            return misfit("firebox.width_mm", "casing.width_mm");
        }
        let crowns =
            [("firebox.crown_back_mm", firebox.crown_back_mm), ("firebox.crown_front_mm", firebox.crown_front_mm)];
        for (field, crown) in crowns {
            let arch = self.firebox_arch(crown);
            if arch.straight_top() < casing.foundation_mm || crown <= casing.foundation_mm {
                return misfit("casing.foundation_mm", field);
            }
            if !casing_arch.holds(arch) {
                return misfit(field, "casing.top_mm");
            }
        }
        Ok(())
    }

    fn check_girders(&self) -> Result<(), BadBoiler> {
        if self.girders.volume_l == 0.0 {
            return Ok(());
        }
        let highest = self.highest_crown_mm() + self.girders.height_mm;
        if self.girder_width() >= self.casing_arch().width_at(highest) {
            return Err(BadBoiler::DoesNotFit { field: "girders.volume_l", inside: "casing.width_mm" });
        }
        Ok(())
    }

    /// At every height the tubes leave some width of water: chords bulge, so the bundles' own ends are the places to
    /// look.
    fn check_tubes(&self) -> Result<(), BadBoiler> {
        let casing = self.casing_arch();
        for (bundle, names) in self.bundles() {
            for height in [bundle.lower_mm, bundle.upper_mm] {
                let taken = self.tube_width_at(height);
                if taken == 0.0 {
                    continue;
                }
                if taken >= self.barrel_chord(0.0, height) || taken >= self.barrel_chord(1.0, height) {
                    return Err(BadBoiler::DoesNotFit { field: names[0], inside: "barrel.back_diameter_mm" });
                }
                if taken >= casing.width_at(height) {
                    return Err(BadBoiler::DoesNotFit { field: names[0], inside: "casing.width_mm" });
                }
            }
        }
        Ok(())
    }

    fn tube_width_at(&self, height: f64) -> f64 {
        let there = |b: Bundle| b.count > 0 && (b.lower_mm..=b.upper_mm).contains(&height);
        let bundles = [self.tubes, self.flues].into_iter();
        bundles.filter(|b| there(*b)).map(Bundle::width).sum()
    }

    /// The barrel's chord at a height and a share of its length.
    fn barrel_chord(&self, share: f64, height: f64) -> f64 {
        let b = &self.barrel;
        let radius = (b.back_diameter_mm + share * (b.front_diameter_mm - b.back_diameter_mm)) / 2.0;
        let u = height - share * b.front_axis_rise_mm;
        2.0 * sqrt((radius * radius - u * u).max(0.0))
    }
}

fn check_top(field: &'static str, top: Top, width: f64) -> Result<(), BadNumber> {
    if let Top::Flat { corner_radius_mm } = top {
        within(field, corner_radius_mm, 0.0, width / 2.0)?;
    }
    Ok(())
}
