//! Roads as the register states them: a head, and runs of sections that may come in any number of entries.

use offshed_core::boiler::level::Tilt;
use offshed_core::boiler::record::SectionRecord;
use offshed_core::boiler::road::Point;
use offshed_core::ident::RoadId;
use offshed_core::register::RoadFacts;

/// A road.
#[derive(Clone, Debug)]
pub struct Road {
    /// Its name.
    pub name: String,
    start: Option<Tilt>,
    used_l_per_km: f64,
    sections: Vec<Option<SectionRecord>>,
    points: Vec<Point>,
}

impl Road {
    /// A road whose sections are still to come.
    pub(super) fn new(name: String, start: Option<Tilt>, used_l_per_km: f64, sections: u16) -> Road {
        Road { name, start, used_l_per_km, sections: vec![None; usize::from(sections)], points: Vec::new() }
    }

    /// Takes a run of sections in; those beyond the end are passed over.
    pub(super) fn take(&mut self, first: u16, sections: &[SectionRecord]) {
        for (place, section) in self.sections.iter_mut().skip(usize::from(first)).zip(sections) {
            *place = section.check().is_ok().then_some(*section);
        }
        let mut at = 0.0;
        let ends = self.sections.iter().map_while(|section| {
            let ends = section.as_ref()?.ends(at);
            at = ends[1].distance_m;
            Some(ends)
        });
        self.points = ends.flatten().collect();
    }

    /// Whether all of it is here.
    pub fn is_whole(&self) -> bool {
        !self.sections.is_empty() && self.sections.iter().all(Option::is_some)
    }

    /// Its sections, as far as they are here.
    pub fn sections(&self) -> impl Iterator<Item = &SectionRecord> {
        self.sections.iter().flatten()
    }

    /// For figures, once all of it is here.
    pub(super) fn facts(&self, road: RoadId) -> Option<RoadFacts<'_>> {
        let start = self.start.filter(|_| self.is_whole())?;
        Some(RoadFacts { road, points: &self.points, start, used_l_per_km: self.used_l_per_km })
    }
}
