//! A road read from TOML: sections in the order they are travelled, cut into points for the core.

use offshed_core::boiler::level::{Facing, Tilt};
use offshed_core::boiler::record::{SECTIONS, SectionRecord};
use offshed_core::boiler::road::Point;
use offshed_core::entry::{Fact, bounded};
use offshed_core::ident::RoadId;
use serde::Deserialize;

use super::{FileFault, line_at, rows};

/// The demo road of the invented Harrow Vale line.
pub const DEMO: &str = include_str!("../../demo/road-harrow-vale.toml");

/// Most sections of a road.
pub const MOST_SECTIONS: usize = 1_000;
/// About how many points a whole road is cut into.
const POINTS: f64 = 2_000.0;

/// A road with its name.
#[derive(Clone, Debug)]
pub struct Road {
    /// What the file calls it.
    pub name: String,
    /// How the engine stands when the glass is read before leaving.
    pub start: Tilt,
    /// Water used for each kilometre and not fed again, l.
    pub used_l_per_km: f64,
    /// The points in order.
    pub points: Vec<Point>,
    /// For each point, the section it lies in.
    pub sections: Vec<String>,
    /// Its sections as the register records them: whole metres, millionths.
    pub records: Vec<SectionRecord>,
}

impl Road {
    /// The facts that state this road under a number: its head, then its sections in runs.
    ///
    /// # Errors
    /// Words, when the name is too long for its place, or the water used beyond it.
    pub fn facts(&self, road: RoadId) -> Result<Vec<Fact>, String> {
        let name =
            bounded(&self.name).map_err(|long| format!("the name has {} bytes; at most {}", long.got, long.most))?;
        let tenths = whole_tenths(self.used_l_per_km * 10.0);
        let used_tenth_l_per_km = tenths.ok_or("`used_l_per_km` is 0 to 6553.5")?;
        let sections = u16::try_from(self.records.len()).map_err(|_| "too many sections".to_owned())?;
        let start_millionths = (self.start.along() * 1e6).round() as i32;
        let head = Fact::Road { road, name, start_millionths, used_tenth_l_per_km, sections };
        let runs = self.records.chunks(SECTIONS).enumerate().map(|(n, run)| Fact::RoadSections {
            road,
            // No more sections than a count of 16 bits holds, as is looked at above.
            first: u16::try_from(n * SECTIONS).unwrap_or(u16::MAX),
            sections: run.iter().copied().collect(),
        });
        Ok(std::iter::once(head).chain(runs).collect())
    }
}

/// A number of tenths that fits its place.
fn whole_tenths(tenths: f64) -> Option<u16> {
    let tenths = tenths.round();
    (0.0..=f64::from(u16::MAX)).contains(&tenths).then_some(tenths as u16)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileRows {
    name: String,
    start_gradient: Option<toml::Spanned<String>>,
    #[serde(default)]
    used_l_per_km: f64,
    section: Vec<toml::Spanned<SectionRow>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SectionRow {
    name: String,
    metres: f64,
    gradient: String,
    #[serde(default)]
    leads: Leads,
    #[serde(default)]
    acceleration_m_s2: f64,
    #[serde(default)]
    cant: f64,
}

#[derive(Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Leads {
    #[default]
    Chimney,
    Bunker,
}

/// A gradient as people write it: `1 in 60`, `-1 in 80`, `1.6 %`, `level`; uphill in the direction of travel.
///
/// # Errors
/// Words that say what to write; the range is the core's to check.
pub fn gradient(text: &str) -> Result<f64, String> {
    let bad = || format!("\"{text}\" is no gradient: write \"1 in 60\", \"-1 in 80\", \"1.6 %\" or \"level\"");
    let number = |t: &str| t.trim().parse::<f64>().ok().filter(|n| n.is_finite()).ok_or_else(bad);
    if text.trim() == "level" {
        return Ok(0.0);
    }
    if let Some(percent) = text.trim().strip_suffix('%') {
        return Ok(number(percent)? / 100.0);
    }
    let (rise, run) = text.split_once(" in ").ok_or_else(bad)?;
    let (rise, run) = (number(rise)?, number(run)?);
    if run <= 0.0 {
        return Err(bad());
    }
    Ok(rise / run)
}

/// Reads and checks a road; `file` is how faults name it.
///
/// # Errors
/// [`FileFault`] with the line of the section that is wrong.
pub fn read(file: &str, text: &str) -> Result<Road, FileFault> {
    let rows: FileRows = rows(file, text)?;
    let fault = |line, words| FileFault { file: file.to_owned(), line, words };
    if rows.section.is_empty() || rows.section.len() > MOST_SECTIONS {
        return Err(fault(None, format!("give 1 to {MOST_SECTIONS} tables `[[section]]`")));
    }
    let mut road = Road {
        name: rows.name,
        start: Tilt::LEVEL,
        used_l_per_km: rows.used_l_per_km,
        points: Vec::new(),
        sections: Vec::new(),
        records: Vec::new(),
    };
    if let Some(start) = rows.start_gradient {
        let line = Some(line_at(text, start.span().start));
        road.start = standing(start.get_ref()).map_err(|words| fault(line, format!("`start_gradient`: {words}")))?;
    }
    let whole: f64 = rows.section.iter().map(|s| s.get_ref().metres.max(0.0)).sum();
    let step = (whole / POINTS).max(10.0);
    let mut at = 0.0;
    for section in &rows.section {
        let line = Some(line_at(text, section.span().start));
        let row = section.get_ref();
        at = road.lay(row, at, step).map_err(|words| fault(line, format!("section \"{}\": {words}", row.name)))?;
    }
    Ok(road)
}

/// A section as it is recorded; its numbers are in range already.
fn record(point: &Point, metres: f64) -> SectionRecord {
    SectionRecord {
        metres: metres.round().max(1.0) as u32,
        gradient_millionths: (point.gradient * 1e6).round() as i32,
        acceleration_mm_s2: (point.acceleration_m_s2 * 1e3).round() as i16,
        bunker_first: point.facing == Facing::BunkerFirst,
        cant_ten_thousandths: (point.cant * 1e4).round() as i16,
    }
}

fn standing(text: &str) -> Result<Tilt, String> {
    Tilt::travelling(gradient(text)?, 0.0, Facing::ChimneyFirst).map_err(|bad| bad.to_string())
}

impl Road {
    /// Lays a section from `at` on; gives where it ends.
    fn lay(&mut self, row: &SectionRow, at: f64, step: f64) -> Result<f64, String> {
        if !(1.0..=200_000.0).contains(&row.metres) {
            return Err(format!("`metres` is {}; give a number from 1 to 200000", row.metres));
        }
        let point = Point {
            distance_m: at,
            gradient: gradient(&row.gradient).map_err(|words| format!("`gradient`: {words}"))?,
            acceleration_m_s2: row.acceleration_m_s2,
            facing: match row.leads {
                Leads::Chimney => Facing::ChimneyFirst,
                Leads::Bunker => Facing::BunkerFirst,
            },
            cant: row.cant,
        };
        point.tilt().map_err(|bad| bad.to_string())?;
        self.records.push(record(&point, row.metres));
        let mut along = 0.0;
        while along < row.metres {
            self.put(Point { distance_m: at + along, ..point }, &row.name);
            along += step;
        }
        self.put(Point { distance_m: at + row.metres, ..point }, &row.name);
        Ok(at + row.metres)
    }

    fn put(&mut self, point: Point, section: &str) {
        self.points.push(point);
        self.sections.push(section.to_owned());
    }
}
