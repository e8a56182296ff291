//! Acts that state what figures are computed from: boilers, roads, treatment products, feed water, the air.

use std::fs;
use std::path::Path;

use offshed_core::entry::Fact;
use offshed_core::ident::{EngineId, RoadId};
use offshed_core::units::Unit;

use super::parse;
use super::row::{Row, ScriptFault, fault};
use crate::ids::Ids;
use crate::packfile::PackFile;
use crate::reckon;
use crate::typed;

/// The fact of a row, when it states one.
pub(super) fn fact(
    row: &Row,
    pack: Option<&PackFile>,
    engine: impl Fn() -> Result<EngineId, ScriptFault>,
) -> Result<Option<Fact>, ScriptFault> {
    let value = |column, read: Result<_, String>| read.or_else(|problem| fault(row, column, problem));
    Ok(Some(match row.act.as_str() {
        "usual-road" => Fact::UsualRoad { engine: engine()?, road: road_named(row, "what", &row.what)? },
        "product" => {
            let Some(pack) = pack else { return fault(row, "do", "no pack is adopted on this device") };
            let product = Ids::of(pack).product(&row.what).or_else(|none| fault(row, "what", none.to_string()))?;
            let bought = typed::product(&row.value, &row.words).or_else(|problem| fault(row, "value", problem))?;
            Fact::Product { product, bought }
        }
        "feed-water" => Fact::FeedWater {
            solids: value("value", typed::stated(&row.value, Unit::MgPerL))?,
            temperature: value("words", typed::stated(&row.words, Unit::Celsius))?,
        },
        "air" => {
            let pascals = typed::pascals(&row.value).or_else(|problem| fault(row, "value", problem))?;
            Fact::Air { pascals }
        }
        _ => return Ok(None),
    }))
}

/// `road 1`, a number alone, or nothing for none.
pub(super) fn road_named(row: &Row, column: &'static str, text: &str) -> Result<Option<RoadId>, ScriptFault> {
    typed::road(text).or_else(|problem| fault(row, column, problem))
}

/// The facts of a row `boiler` or `road`, whose `value` names a TOML file.
pub(super) fn from_file(row: &Row, base: &Path) -> Result<Vec<Fact>, ScriptFault> {
    let path = base.join(&row.value);
    let text = fs::read_to_string(&path)
        .or_else(|error| fault(row, "value", format!("cannot read {}: {error}", path.display())))?;
    if row.act == "boiler" {
        let engine = parse::engine(row, "on", &row.on)?;
        let read = reckon::boiler::read(&row.value, &text).map_err(|fault| fault.to_string());
        let boiler = read.and_then(|boiler| boiler.record()).or_else(|problem| fault(row, "value", problem))?;
        return Ok(vec![Fact::Boiler { engine, boiler }]);
    }
    let Some(road) = road_named(row, "what", &row.what)? else {
        return fault(row, "what", "which road? give it a number from 1 to 255");
    };
    let read = reckon::road::read(&row.value, &text).map_err(|fault| fault.to_string());
    read.and_then(|read| read.facts(road)).or_else(|problem| fault(row, "value", problem))
}
