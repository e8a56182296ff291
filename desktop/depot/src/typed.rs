//! What people type: days, times, readings, people, answers to parts. Every refusal says what to write instead.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use offshed_core::boiler::pressure::Atmosphere;
use offshed_core::boiler::record::{MeasureRecord, ProductRecord};
use offshed_core::entry::{Answer, Found, Words, bounded};
use offshed_core::ident::{EntryRef, PersonId, RoadId, Set};
use offshed_core::pack::rows::{AskRow, DefectGrade, KindRow, StepRow};
use offshed_core::pack::{Pack, part_unit};
use offshed_core::units::{BadReading, Own, Quantity, Reading, Unit};

use crate::ids::Ids;
use crate::ledger::Office;
use crate::packfile::PackFile;

/// A local moment: `HH:MM`, `HH:MM:SS`, or a day before either.
pub fn moment(text: &str, day: Option<NaiveDate>) -> Result<NaiveDateTime, String> {
    let (date, clock) = match text.split_once([' ', 'T']) {
        Some((date, clock)) => (Some(day_named(date)?), clock.trim()),
        None => (day, text),
    };
    let time = NaiveTime::parse_from_str(clock, "%H:%M:%S").or_else(|_| NaiveTime::parse_from_str(clock, "%H:%M"));
    let time = time.map_err(|_| format!("\"{clock}\" is no time of day: write HH:MM or HH:MM:SS"))?;
    let date = date.ok_or("no day yet: put a row `day` with the date before the first time")?;
    Ok(date.and_time(time))
}

/// A calendar day `YYYY-MM-DD`.
pub fn day_named(text: &str) -> Result<NaiveDate, String> {
    let parsed = NaiveDate::parse_from_str(text, "%Y-%m-%d");
    parsed.map_err(|_| format!("\"{text}\" is no calendar day: write YYYY-MM-DD"))
}

/// A person by number or by name.
pub fn person(office: &Office, text: &str) -> Result<PersonId, String> {
    if let Ok(number) = text.parse() {
        return Ok(PersonId(number));
    }
    let mut named = office.people.iter().filter(|(_, p)| p.name == text).map(|(id, _)| *id);
    match (named.next(), named.next()) {
        (Some(id), None) => Ok(id),
        (Some(_), Some(_)) => Err(format!("more than one person is called \"{text}\": give the number")),
        (None, _) => Err(format!("nobody is called \"{text}\": give a name of the register, or a number")),
    }
}

/// A reading as typed, in the unit asked for or another of the same quantity.
pub fn reading_text(text: &str, unit: Unit) -> Result<Reading, String> {
    let quantity: Quantity = unit.quantity();
    let units = || Unit::all(quantity).map(Unit::symbol).collect::<Vec<_>>().join(", ");
    match Reading::parse(text, quantity) {
        Ok(reading) if reading.unit.is_answered() => Ok(reading),
        Ok(_) => Err(format!("\"{text}\" is a limit, no reading: {} is read in {}", quantity.name(), units())),
        Err(BadReading::NoUnit) => Reading::parse(&format!("{text} {}", unit.symbol()), quantity)
            .map_err(|_| format!("\"{text}\" is no reading: write a number and a unit ({})", units())),
        Err(BadReading::Unit) => Err(format!("\"{text}\": {} is read in {}", quantity.name(), units())),
        Err(BadReading::Number) => Err(format!(
            "\"{text}\" is no reading: a number with at most three digits after the point, and a unit ({})",
            units()
        )),
    }
}

/// A reading whose unit is written with it; none is taken for granted.
///
/// # Errors
/// Words that say what to write.
pub fn stated(text: &str, example: Unit) -> Result<Reading, String> {
    match Reading::parse(text, example.quantity()) {
        Err(BadReading::NoUnit) => {
            Err(format!("\"{text}\" has no unit: write it as in \"{} {}\"", text.trim(), example.symbol()))
        }
        _ => reading_text(text, example),
    }
}

/// A time in tenths of a second: `2.1 s`, `1 min`.
pub fn tenths_text(text: &str) -> Result<u32, String> {
    let reading = reading_text(text, Unit::Second)?;
    let base = reading.in_base(Quantity::Time, Own::UNKNOWN).unwrap_or(-1);
    u32::try_from(base / 100).map_err(|_| format!("\"{text}\" is no time: write \"2.1 s\""))
}

/// A defect grade by its word.
pub fn grade_named(word: &str) -> Option<DefectGrade> {
    match word {
        "note" => Some(DefectGrade::Note),
        "restricted" => Some(DefectGrade::Restricted),
        "stopping" => Some(DefectGrade::Stopping),
        _ => None,
    }
}

/// `glass 180 mm; pressure 160 psi; has second-glass air-brake`, in any order, each at most once.
pub fn engine_words(pack: &PackFile, text: &str) -> Result<(Set, u16, Option<Reading>), String> {
    let (mut features, mut glass, mut working) = (Set::EMPTY, 0, None);
    for part in text.split(';').map(str::trim).filter(|p| !p.is_empty()) {
        match part.split_once(' ') {
            Some(("glass", length)) => {
                let reading = reading_text(length, Unit::GlassMm)?;
                let mm = reading
                    .in_base(Quantity::Glass, Own::UNKNOWN)
                    .map_err(|_| "the glass's length in mm or in".to_owned())?;
                glass = u16::try_from(mm / 1_000).map_err(|_| format!("\"{length}\" is no length of a glass"))?;
            }
            Some(("pressure", value)) => working = Some(reading_text(value, Unit::Psi)?),
            Some(("has", list)) => {
                for feature in list.split_whitespace() {
                    features = features.with(Ids::of(pack).feature(feature).map_err(|none| none.to_string())?.0);
                }
            }
            _ => {
                return Err(format!(
                    "\"{part}\": write \"glass 180 mm; pressure 160 psi; has second-glass air-brake\""
                ));
            }
        }
    }
    Ok((features, glass, working))
}

/// An answer to a reading or hold: `95 mm`, in the step's unit or another of its quantity.
pub fn step_reading(step: &StepRow, text: &str) -> Result<Reading, String> {
    match step.kind {
        KindRow::Reading { unit, .. } | KindRow::Timed { unit: Some(unit), .. } => reading_text(text, unit),
        _ => Err("this step takes no reading".to_owned()),
    }
}

/// The start of a hold, with a reading where the step takes one.
pub fn begin(step: &StepRow, text: &str) -> Result<Answer, String> {
    if text.is_empty() { Ok(Answer::Began(None)) } else { Ok(Answer::Began(Some(step_reading(step, text)?))) }
}

/// The end of a hold: `60 s`, or `60 s 20.5 inHg` where the step takes a reading.
pub fn end(step: &StepRow, text: &str) -> Result<Answer, String> {
    let mut words = text.splitn(3, ' ');
    let time = [words.next().unwrap_or(""), words.next().unwrap_or("")].join(" ");
    let tenths = tenths_text(time.trim())?;
    let reading = match (words.next(), step.kind) {
        (Some(rest), KindRow::Timed { unit: Some(unit), .. }) => Some(reading_text(rest, unit)?),
        (None, _) => None,
        (Some(_), _) => return Err("this hold takes a time and no reading".to_owned()),
    };
    Ok(Answer::Ended { tenths, reading })
}

/// A part of a procedure: `3 seen`, `1 90 mm`, `6 2.1 s`; `3 not-right` with words.
pub fn part(pack: &Pack<'_>, step: &StepRow, text: &str, words: &str) -> Result<Answer, String> {
    let (number, found) = text.split_once(' ').unwrap_or((text, "seen"));
    let number = number.parse::<u8>().ok().and_then(|n| n.checked_sub(1));
    let number = number.ok_or("begin with the part's number, from 1: \"3 seen\", \"1 90 mm\", \"6 2.1 s\"")?;
    let KindRow::Procedure { parts } = step.kind else {
        return Err("this step is no procedure: it has no parts".to_owned());
    };
    let asked = pack.parts(parts).nth(usize::from(number));
    let asked = asked.ok_or_else(|| format!("the procedure has {} parts", parts.len))?.ask;
    let found = match (found.trim(), asked) {
        ("seen", _) => Found::Seen,
        ("not-right", _) => Found::NotRight { words: words_of(words)? },
        (text, AskRow::Time { .. }) => Found::Time { tenths: tenths_text(text)? },
        (text, ask) => match part_unit(ask) {
            Some(unit) => Found::Reading(reading_text(text, unit)?),
            None => return Err("this part is answered \"seen\" or \"not-right\"".to_owned()),
        },
    };
    Ok(Answer::Part { part: number, found })
}

/// An option by its number, from 1.
pub fn option(text: &str) -> Result<Answer, String> {
    let number = text.parse::<u8>().ok().and_then(|n| n.checked_sub(1));
    number.map(Answer::Choice).ok_or_else(|| "choose an option by its number, from 1".to_owned())
}

/// Words no longer than their place.
pub fn words_of(text: &str) -> Result<Words, String> {
    bounded(text).map_err(|long| format!("{} bytes of words; at most {}", long.got, long.most))
}

/// An entry's id as it is printed: sixteen hexadecimal digits, a hyphen, a count.
pub fn entry_ref(text: &str) -> Option<EntryRef> {
    let (device, seq) = text.split_once('-')?;
    let mut id = [0; 8];
    if device.len() != 16 || !device.is_ascii() {
        return None;
    }
    for (n, byte) in id.iter_mut().enumerate() {
        *byte = u8::from_str_radix(device.get(2 * n..2 * n + 2)?, 16).ok()?;
    }
    Some(EntryRef { device: offshed_core::ident::DeviceId(id), seq: seq.parse().ok()? })
}

/// A road by its number, `1` or `road 1`; nothing, or `none`, for none.
pub fn road(text: &str) -> Result<Option<RoadId>, String> {
    let text = text.trim();
    if text.is_empty() || text == "none" {
        return Ok(None);
    }
    let number = text.strip_prefix("road ").unwrap_or(text).trim().parse().ok().filter(|n| *n > 0);
    number.map(|n| Some(RoadId(n))).ok_or_else(|| format!("\"{text}\" is no road: write its number, 1 to 255, or none"))
}

/// A product's strength in per cent, and the measure that comes with it: `35 %` and `scoop 50 g in 2`, the measure left
/// out where there is none.
pub fn product(strength: &str, measure: &str) -> Result<ProductRecord, String> {
    let percent = stated(strength, Unit::Percent)?.milli;
    // Thousandths of a per cent are tens of millionths.
    let strength_millionths = u32::try_from(percent).ok().and_then(|milli| milli.checked_mul(10));
    let record = ProductRecord {
        strength_millionths: strength_millionths.ok_or_else(|| format!("\"{strength}\" is no strength"))?,
        measure: measured(measure.trim())?,
    };
    record.product().map_err(|bad| bad.to_string())?;
    Ok(record)
}

/// `scoop 50 g in 2`: its name, what it holds, and into how many parts a person can divide it.
fn measured(text: &str) -> Result<Option<MeasureRecord>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    let bad = || format!("\"{text}\" is no measure: write \"scoop 50 g\", or \"scoop 50 g in 2\" for half scoops");
    let (name, rest) = text.split_once(' ').ok_or_else(bad)?;
    let (mass, parts) = rest.split_once(" in ").unwrap_or((rest, "1"));
    let kilograms = stated(mass, Unit::Gram)?.value(Own::UNKNOWN).ok_or_else(bad)?;
    let milligrams = (kilograms * 1e6).round();
    Ok(Some(MeasureRecord {
        name: bounded(name).map_err(|long| format!("a measure's name has at most {} bytes", long.most))?,
        milligrams: if (0.0..=f64::from(u32::MAX)).contains(&milligrams) { milligrams as u32 } else { 0 },
        parts: parts.trim().parse().map_err(|_| bad())?,
    }))
}

/// The air's pressure in pascals, from a pressure with its unit: `1013 hPa` is written `101.3 kPa`.
pub fn pascals(text: &str) -> Result<u32, String> {
    let kpa = stated(text, Unit::KPa)?.value(Own::UNKNOWN).unwrap_or(0.0);
    let air = Atmosphere::from_kpa(kpa).map_err(|bad| bad.to_string())?;
    Ok((air.kpa() * 1_000.0).round() as u32)
}
