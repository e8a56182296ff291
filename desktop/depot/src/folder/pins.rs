//! PINs: 4 to 8 digits, kept as salted PBKDF2-HMAC-SHA-256 (RFC 8018, section 5.2), never as themselves.
//!
//! After [`TRIES`] wrong tries in a row the person waits a minute, and after each further one twice as long, up to an
//! hour. Wrong tries are written down before they are answered, so a restart shortens nothing. A clock set back starts
//! the wait again; a clock set forward shortens it.
//!
//! A PIN stops a borrowed name. It does not stop somebody who has the folder and a computer: there are at most
//! 111,110,000 PINs, and they can all be tried.

use std::collections::BTreeMap;
use std::fmt;
use std::path::Path;

use offshed_core::ident::PersonId;
use offshed_core::record::shift::PinRow;
use offshed_core::stamp::{Stamp, Zone};
use serde::{Deserialize, Serialize};
use sha2::Sha256;
use subtle::ConstantTimeEq;

use super::fault::FolderFault;
use super::files;
use super::settings::bad;

/// Wrong tries in a row before the first wait.
pub const TRIES: u32 = 5;
/// Seconds of the first wait.
pub const FIRST_WAIT: i64 = 60;
/// Seconds of the longest wait.
pub const LONGEST_WAIT: i64 = 3_600;
/// The fewest and the most digits of a PIN.
const DIGITS: std::ops::RangeInclusive<usize> = 4..=8;
/// Bytes of salt.
const SALT: usize = 16;

/// How often a PIN is hashed: more makes every guess dearer, and every right try slower.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PinCost(u32);

impl PinCost {
    /// What new data folders use.
    pub const DEFAULT: PinCost = PinCost(100_000);
    /// The dearest that is accepted: some ten seconds.
    pub const MOST: PinCost = PinCost(10_000_000);

    /// So many iterations, held between 1 and [`PinCost::MOST`].
    pub const fn iterations(count: u32) -> PinCost {
        match count {
            0 => PinCost(1),
            n if n > PinCost::MOST.0 => PinCost::MOST,
            n => PinCost(n),
        }
    }
}

/// Why a PIN is not accepted.
#[derive(Debug)]
pub enum PinFault {
    /// The person has none.
    NoPin {
        /// The person.
        person: PersonId,
    },
    /// It is not theirs.
    Wrong {
        /// Further tries before a wait.
        left: u32,
    },
    /// Too many wrong tries.
    Wait {
        /// The first moment at which another try is taken.
        until: Stamp,
    },
    /// It is not 4 to 8 digits.
    BadForm,
    /// The data folder can't be read or written.
    Folder(FolderFault),
}

impl fmt::Display for PinFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PinFault::NoPin { person } => write!(f, "person {person} has no PIN on this device: set one first"),
            PinFault::Wrong { left: 1 } => f.write_str("wrong PIN: one more try, then a wait"),
            PinFault::Wrong { left } => write!(f, "wrong PIN: {left} more tries, then a wait"),
            PinFault::Wait { until } => {
                write!(f, "too many wrong PINs: wait until {} UTC", Zone::default().local(*until))
            }
            PinFault::BadForm => f.write_str("a PIN is 4 to 8 digits"),
            PinFault::Folder(fault) => fault.fmt(f),
        }
    }
}

impl std::error::Error for PinFault {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            PinFault::Folder(fault) => Some(fault),
            _ => None,
        }
    }
}

impl From<FolderFault> for PinFault {
    fn from(fault: FolderFault) -> PinFault {
        PinFault::Folder(fault)
    }
}

/// One person's verifier, as written.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Verifier {
    salt: String,
    iterations: u32,
    hash: String,
}

/// One person's wrong tries, as written.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Wrong {
    /// How many in a row.
    wrong: u32,
    /// When the last one was, seconds since 1970-01-01 00:00:00 UTC.
    last: i64,
}

/// A file with a table of persons, by number.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table<T> {
    format: u16,
    #[serde(default = "BTreeMap::new")]
    person: BTreeMap<String, T>,
}

fn read<T: for<'de> Deserialize<'de>>(path: &Path) -> Result<BTreeMap<String, T>, FolderFault> {
    let Some(bytes) = files::read(path)? else {
        return Ok(BTreeMap::new());
    };
    let text = std::str::from_utf8(&bytes).map_err(|error| bad(path, &error))?;
    let table: Table<T> = toml::from_str(text).map_err(|error| bad(path, &error))?;
    match table.format {
        super::FORMAT => Ok(table.person),
        found => Err(FolderFault::Version { path: path.to_path_buf(), found }),
    }
}

fn write<T: Serialize>(path: &Path, person: BTreeMap<String, T>) -> Result<(), FolderFault> {
    let table = Table { format: super::FORMAT, person };
    let text = toml::to_string(&table).map_err(|error| bad(path, &error))?;
    files::replace_private(path, text.as_bytes())
}

/// An error when either file can't be understood.
pub(crate) fn check_files(root: &Path) -> Result<(), FolderFault> {
    read::<Verifier>(&root.join(files::PINS))?;
    read::<Wrong>(&root.join(files::TRIES)).map(|_| ())
}

fn formed(pin: &str) -> Result<(), PinFault> {
    let digits = pin.bytes().all(|byte| byte.is_ascii_digit());
    if digits && DIGITS.contains(&pin.len()) { Ok(()) } else { Err(PinFault::BadForm) }
}

fn derive(pin: &str, salt: &[u8], cost: PinCost) -> [u8; 32] {
    pbkdf2::pbkdf2_hmac_array::<Sha256, 32>(pin.as_bytes(), salt, cost.0)
}

/// All verifiers, by person.
pub(crate) fn rows(root: &Path) -> Result<Vec<PinRow>, FolderFault> {
    let path = root.join(files::PINS);
    let rows = read::<Verifier>(&path)?.into_iter().map(|(person, verifier)| verifier.row(&person));
    let mut rows: Vec<PinRow> = rows.collect::<Option<_>>().ok_or_else(|| bad(&path, &"a verifier is not sound"))?;
    rows.sort_by_key(|row| row.person);
    Ok(rows)
}

/// Whether the person has a PIN here.
pub(crate) fn has(root: &Path, person: PersonId) -> Result<bool, FolderFault> {
    Ok(read::<Verifier>(&root.join(files::PINS))?.contains_key(&person.to_string()))
}

/// Sets or replaces a person's PIN and forgets their wrong tries.
pub(crate) fn set(root: &Path, person: PersonId, pin: &str, cost: PinCost) -> Result<(), PinFault> {
    formed(pin)?;
    let mut salt = [0; SALT];
    files::random(&mut salt)?;
    let path = root.join(files::PINS);
    let mut pins = read(&path)?;
    let hash = files::hex(&derive(pin, &salt, cost));
    pins.insert(person.to_string(), Verifier { salt: files::hex(&salt), iterations: cost.0, hash });
    write(&path, pins)?;
    forget(root, person)?;
    Ok(())
}

/// Whether the PIN is the person's.
pub(crate) fn check(root: &Path, person: PersonId, pin: &str, now: Stamp) -> Result<(), PinFault> {
    formed(pin)?;
    let path = root.join(files::PINS);
    let verifier = read::<Verifier>(&path)?.remove(&person.to_string()).ok_or(PinFault::NoPin { person })?;
    let tried = waited(root, person, now)?;
    if verifier.accepts(pin).ok_or_else(|| bad(&path, &format!("person {person} has no sound verifier")))? {
        return forget(root, person).map_err(PinFault::Folder);
    }
    let wrong = Wrong { wrong: tried.saturating_add(1), last: now.0 };
    note(root, person, wrong)?;
    match wrong.until() {
        Some(until) => Err(PinFault::Wait { until }),
        None => Err(PinFault::Wrong { left: TRIES.saturating_sub(wrong.wrong) }),
    }
}

impl Verifier {
    /// As a small device is handed it; `None` when what is written is no verifier.
    fn row(&self, person: &str) -> Option<PinRow> {
        let (person, iterations) = (PersonId(person.parse().ok()?), self.iterations);
        let (salt, hash) = (files::unhex(&self.salt)?, files::unhex(&self.hash)?);
        Some(PinRow { person, iterations, salt: salt.try_into().ok()?, hash: hash.try_into().ok()? })
    }

    /// `None` when what is written is no verifier.
    fn accepts(&self, pin: &str) -> Option<bool> {
        let salt = files::unhex(&self.salt).filter(|salt| salt.len() == SALT)?;
        let hash = files::unhex(&self.hash).filter(|hash| hash.len() == 32)?;
        let cost = PinCost::iterations(self.iterations);
        (cost.0 == self.iterations).then(|| derive(pin, &salt, cost).ct_eq(&hash).into())
    }
}

impl Wrong {
    /// Seconds to wait after so many wrong tries.
    fn wait(self) -> Option<i64> {
        let further = self.wrong.checked_sub(TRIES)?;
        let doubled = FIRST_WAIT.checked_shl(further.min(30)).unwrap_or(LONGEST_WAIT);
        Some(doubled.min(LONGEST_WAIT))
    }

    /// The first moment at which another try is taken, if there is a wait.
    fn until(self) -> Option<Stamp> {
        Some(Stamp(self.last).plus(self.wait()?))
    }
}

/// How many wrong tries the person made in a row, when they have waited for them.
fn waited(root: &Path, person: PersonId, now: Stamp) -> Result<u32, PinFault> {
    let tries = read::<Wrong>(&root.join(files::TRIES))?;
    let Some(mut wrong) = tries.get(&person.to_string()).copied() else {
        return Ok(0);
    };
    let set_back = now.0 < wrong.last && wrong.wait().is_some();
    if set_back {
        wrong.last = now.0;
        note(root, person, wrong)?;
    }
    match wrong.until() {
        Some(until) if now < until => Err(PinFault::Wait { until }),
        _ => Ok(wrong.wrong),
    }
}

fn note(root: &Path, person: PersonId, wrong: Wrong) -> Result<(), FolderFault> {
    let path = root.join(files::TRIES);
    let mut tries = read(&path)?;
    tries.insert(person.to_string(), wrong);
    write(&path, tries)
}

fn forget(root: &Path, person: PersonId) -> Result<(), FolderFault> {
    let path = root.join(files::TRIES);
    let mut tries = read::<Wrong>(&path)?;
    match tries.remove(&person.to_string()) {
        Some(_) => write(&path, tries),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait(wrong: u32) -> Option<i64> {
        Wrong { wrong, last: 0 }.wait()
    }

    #[test]
    fn waits_double_up_to_an_hour() {
        let waits: Vec<_> = (3..14).map(wait).collect();
        let minutes = |n: i64| Some(n * 60);
        let expected = [None, None, minutes(1), minutes(2), minutes(4), minutes(8), minutes(16), minutes(32)];
        assert_eq!(waits[..8], expected);
        assert!(waits[8..].iter().chain([&wait(u32::MAX)]).all(|wait| *wait == minutes(60)));
    }

    #[test]
    fn only_four_to_eight_digits_are_a_pin() {
        for pin in ["1234", "12345678"] {
            assert!(formed(pin).is_ok(), "{pin}");
        }
        for pin in ["", "123", "123456789", "12a4", " 1234", "-1234", "１２３４"] {
            assert!(matches!(formed(pin), Err(PinFault::BadForm)), "{pin}");
        }
    }

    /// PBKDF2-HMAC-SHA-256, password "password", salt "salt", by Python's `hashlib.pbkdf2_hmac` (OpenSSL).
    #[test]
    fn derives_as_others_do() {
        let by_python = |iterations| derive("password", b"salt", PinCost::iterations(iterations));
        assert_eq!(files::hex(&by_python(1)), "120fb6cffcf8b32c43e7225256c4f837a86548c92ccc35480805987cb70be17b");
        assert_eq!(files::hex(&by_python(4096)), "c5e478d59288c841aa530db6845c4c8d962893a001ce4e11a4963873aa98134a");
    }
}
