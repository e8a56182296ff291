//! A boiler read from TOML and checked; the keys are those of the core's boiler.

use offshed_core::boiler::record::BoilerRecord;
use offshed_core::boiler::shape::{Barrel, Boiler, Bundle, Casing, Firebox, Girders, Glass, Top, Vessel};
use serde::Deserialize;

use super::{FileFault, line_of, rows};

/// The demo boiler of the invented Harrow Vale line.
pub const DEMO: &str = include_str!("../../demo/boiler-tamsin.toml");

/// A boiler with its name.
#[derive(Clone, Debug)]
pub struct NamedBoiler {
    /// What the file calls it.
    pub name: String,
    /// The boiler.
    pub vessel: Vessel,
    /// How much the glass shows too much while the regulator is open, mm.
    pub swell_mm: f64,
}

impl NamedBoiler {
    /// As the register records it, to the nearest tenth of a millimetre.
    ///
    /// # Errors
    /// Words that name the measure which does not fit, or no longer holds together once rounded.
    pub fn record(&self) -> Result<BoilerRecord, String> {
        let record = BoilerRecord::of(self.vessel.boiler(), self.swell_mm).map_err(|bad| bad.to_string())?;
        record.vessel().map_err(|bad| bad.to_string())?;
        Ok(record)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileRows {
    name: String,
    #[serde(default)]
    swell_mm: f64,
    barrel: BarrelRow,
    casing: CasingRow,
    firebox: FireboxRow,
    tubes: Option<BundleRow>,
    flues: Option<BundleRow>,
    girders: Option<GirdersRow>,
    glass: GlassRow,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BarrelRow {
    back_diameter_mm: f64,
    front_diameter_mm: f64,
    length_mm: f64,
    #[serde(default)]
    front_axis_rise_mm: f64,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase", deny_unknown_fields)]
enum TopRow {
    Round,
    Flat { corner_radius_mm: f64 },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CasingRow {
    length_mm: f64,
    width_mm: f64,
    top_mm: f64,
    top: TopRow,
    foundation_mm: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FireboxRow {
    back_gap_mm: f64,
    length_mm: f64,
    width_mm: f64,
    crown_back_mm: f64,
    crown_front_mm: f64,
    crown: TopRow,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BundleRow {
    count: u16,
    outside_diameter_mm: f64,
    lower_mm: f64,
    upper_mm: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GirdersRow {
    volume_l: f64,
    height_mm: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GlassRow {
    position_mm: f64,
    bottom_nut_mm: f64,
    top_nut_mm: f64,
    #[serde(default)]
    separation_mm: f64,
}

/// Reads and checks a boiler; `file` is how faults name it.
///
/// # Errors
/// [`FileFault`] with the line of the first key that is wrong.
pub fn read(file: &str, text: &str) -> Result<NamedBoiler, FileFault> {
    let rows: FileRows = rows(file, text)?;
    let (name, swell_mm) = (rows.name.clone(), rows.swell_mm);
    let vessel = boiler(rows).check().map_err(|bad| FileFault {
        file: file.to_owned(),
        line: line_of(text, bad.field()),
        words: bad.to_string(),
    })?;
    Ok(NamedBoiler { name, vessel, swell_mm })
}

fn top(row: TopRow) -> Top {
    match row {
        TopRow::Round => Top::Round,
        TopRow::Flat { corner_radius_mm } => Top::Flat { corner_radius_mm },
    }
}

fn bundle(row: Option<BundleRow>) -> Bundle {
    row.map_or(Bundle::NONE, |b| Bundle {
        count: b.count,
        outside_diameter_mm: b.outside_diameter_mm,
        lower_mm: b.lower_mm,
        upper_mm: b.upper_mm,
    })
}

fn boiler(rows: FileRows) -> Boiler {
    let FileRows { barrel, casing, firebox, glass, .. } = rows;
    Boiler {
        barrel: Barrel {
            back_diameter_mm: barrel.back_diameter_mm,
            front_diameter_mm: barrel.front_diameter_mm,
            length_mm: barrel.length_mm,
            front_axis_rise_mm: barrel.front_axis_rise_mm,
        },
        casing: Casing {
            length_mm: casing.length_mm,
            width_mm: casing.width_mm,
            top_mm: casing.top_mm,
            top: top(casing.top),
            foundation_mm: casing.foundation_mm,
        },
        firebox: Firebox {
            back_gap_mm: firebox.back_gap_mm,
            length_mm: firebox.length_mm,
            width_mm: firebox.width_mm,
            crown_back_mm: firebox.crown_back_mm,
            crown_front_mm: firebox.crown_front_mm,
            crown: top(firebox.crown),
        },
        tubes: bundle(rows.tubes),
        flues: bundle(rows.flues),
        girders: rows.girders.map_or(Girders::NONE, |g| Girders { volume_l: g.volume_l, height_mm: g.height_mm }),
        glass: Glass {
            position_mm: glass.position_mm,
            bottom_nut_mm: glass.bottom_nut_mm,
            top_nut_mm: glass.top_nut_mm,
            separation_mm: glass.separation_mm,
        },
    }
}
