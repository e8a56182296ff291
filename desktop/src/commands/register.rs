//! The data folder itself, the register and PINs.

use std::process::ExitCode;

use offshed_core::entry::What;
use offshed_core::entry::{Fact, Name, bounded};
use offshed_core::ident::{DeviceId, DeviceKey, EngineId, PersonId};
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now, Zone};
use offshed_depot::folder::{Folder, Found};
use offshed_depot::shed::Shed;
use offshed_depot::{script, typed, zone};

use super::{Call, Outcome, act, ask_pin, clock, ids, person, who};
use crate::cli::{By, Identity, New, PinArgs, RegisterCommand};
use crate::fault::Fault;
use crate::{office, show};

/// `offshed new`
pub(super) fn new(call: &Call, args: &New) -> Outcome {
    let path = call.folder()?;
    let rows = zone::rows(&args.zone).map_err(Fault::input)?;
    drop(Folder::make(path, &args.device, &args.zone)?);
    let mut shed = Shed::open(path)?;
    let now = clock();
    let nobody = PersonId(0);
    let written = script::set_local_time(&mut shed, &rows, nobody, now);
    written.map_err(|denial| Fault::denied(denial, |why| format!("{why:?}")))?;
    let device = shed.folder().device();
    let name = name(&args.device)?;
    let named = shed.act(What::Registered(Fact::Device { device, name }), nobody, now);
    named.map_err(|denial| Fault::denied(denial, |why| format!("{why:?}")))?;
    let made = serde_json::json!({ "folder": path.display().to_string(), "device": device.to_string() });
    call.print(&made, |_| {
        format!(
            "made {} for device {device} ({})\nnext: enter a person (`offshed register person 1 NAME --by 1`) and adopt a pack\n",
            path.display(),
            args.device
        )
    })
}

/// `offshed identity`: what was written before stays, as another device's.
pub(super) fn identity(call: &Call, args: &Identity) -> Outcome {
    let mut folder = Folder::open(call.folder()?)?.folder;
    let before = folder.device();
    let device = folder.new_identity()?;
    if let Some(name) = &args.device {
        folder.set_name(name)?;
    }
    let told = serde_json::json!({ "device": device.to_string(), "before": before.to_string() });
    call.print(&told, |_| {
        format!("this folder writes as device {device} from now on; what it wrote as {before} stays\nnext: the office names it (`offshed register device NAME --by PERSON`)\n")
    })
}

fn name(text: &str) -> Result<Name, Fault> {
    bounded(text)
        .map_err(|long| Fault::input(format!("\"{text}\" has {} bytes; a name has at most {}", long.got, long.most)))
}

fn day(text: &str) -> Result<Day, Fault> {
    typed::day_named(text).map(Day::of).map_err(Fault::input)
}

/// Digits of a key that tell it from any other.
const KEY_DIGITS: usize = 16;

/// The device and key that a person means: of the keys that devices state of themselves, or that were confirmed before,
/// the one that starts with these digits.
fn key_of(shed: &Shed, device: &str, digits: &str) -> Result<(DeviceId, DeviceKey), Fault> {
    let own = shed.folder().key().map(|key| (shed.folder().device(), key));
    let confirmed = shed.ledger().office.keys.iter().map(|(device, (key, _))| (*device, *key));
    let stated = shed.findings().iter().filter_map(|finding| match finding.what {
        Found::UnknownKey { key: Some(key), .. } => Some((finding.device?, key)),
        _ => None,
    });
    let mut known = own.into_iter().chain(confirmed).chain(stated);
    let meant = |(of, key): &(DeviceId, DeviceKey)| of.to_string() == device && format!("{key:#}").starts_with(digits);
    match known.find(meant) {
        _ if digits.len() < KEY_DIGITS => Err(Fault::input(format!("a key is told by its first {KEY_DIGITS} digits"))),
        Some(found) => Ok(found),
        None => Err(Fault::input(format!(
            "no records of device {device} here are signed with a key that starts with {digits}: sync with it first, and \
             compare the digits"
        ))),
    }
}

/// `offshed register`
pub(super) fn run(call: &Call, command: RegisterCommand) -> Outcome {
    if let RegisterCommand::Show = command {
        let (ledger, _) = call.look()?;
        let view = show::register::view(&ledger, clock());
        return call.print(&view, show::register::text);
    }
    if let RegisterCommand::Figure(what) = &command {
        return super::figures::run(call, what);
    }
    let mut shed = call.shed()?;
    let (fact, by) = fact(&shed, command)?;
    write(call, &mut shed, fact, &by)
}

fn write(call: &Call, shed: &mut Shed, fact: Fact, by: &By) -> Outcome {
    let now = clock();
    // The very first person enters themselves.
    let own = matches!(&fact, Fact::Person { person, .. } if by.by.parse() == Ok(person.0));
    let first = own && shed.ledger().office.people.is_empty();
    let person = match &fact {
        Fact::Person { person, .. } if first => *person,
        _ => who(shed, by, now)?,
    };
    act(call, shed, What::Registered(fact), person, now)
}

fn fact(shed: &Shed, command: RegisterCommand) -> Result<(Fact, By), Fault> {
    let ledger = shed.ledger();
    Ok(match command {
        RegisterCommand::Show => return Err(Fault::input("nothing to enter")),
        RegisterCommand::Device { name: text, by } => {
            (Fact::Device { device: shed.folder().device(), name: name(&text)? }, by)
        }
        RegisterCommand::Key { device, key, until, by } => {
            let (device, key) = key_of(shed, &device, &key)?;
            let zone: &Zone = ledger.office.zone();
            let until = until.map(|text| super::moment(&text, zone, clock())).transpose()?;
            (Fact::DeviceKey { device, key, until }, by)
        }
        RegisterCommand::Person { number, name: text, by } => {
            (Fact::Person { person: PersonId(number), name: name(&text)? }, by)
        }
        RegisterCommand::Forget { person: text, by } => {
            (Fact::Person { person: person(ledger, &text)?, name: Name::new() }, by)
        }
        RegisterCommand::Grade { person: text, grade, until, withdraw, by } => {
            let grade = ids(ledger)?.grade(&grade).map_err(Fault::input)?;
            let until = until.as_deref().map(day).transpose()?;
            (Fact::Competence { person: person(ledger, &text)?, grade, until, held: !withdraw }, by)
        }
        RegisterCommand::Engine { number, name: text, glass, pressure, features, by } => {
            let mut words = Vec::new();
            words.extend(glass.map(|g| format!("glass {g}")));
            words.extend(pressure.map(|p| format!("pressure {p}")));
            if !features.is_empty() {
                words.push(format!("has {}", features.join(" ")));
            }
            let read = typed::engine_words(super::adopted(ledger)?, &words.join("; "));
            let (features, glass_mm, working) = read.map_err(Fault::input)?;
            let (engine, name) = (EngineId(number), name(&text)?);
            (Fact::Engine { engine, name, features, glass_mm, working }, by)
        }
        RegisterCommand::Fitted { engine, fitting, number, by } => {
            let fitting = ids(ledger)?.fitting(&fitting).map_err(Fault::input)?;
            let number = bounded(&number);
            let number =
                number.map_err(|long| Fault::input(format!("a fitting's number has at most {} bytes", long.most)))?;
            (Fact::Fitted { engine: EngineId(engine), fitting, number }, by)
        }
        RegisterCommand::Done { engine, date, day: text, days_before, by } => {
            let due = ids(ledger)?.due(&date).map_err(Fault::input)?;
            (Fact::DueDone { engine: EngineId(engine), due, on: day(&text)?, days_before }, by)
        }
        RegisterCommand::Postpone { engine, date, day: text, words, by } => {
            let due = ids(ledger)?.due(&date).map_err(Fault::input)?;
            let words = typed::words_of(&words).map_err(Fault::input)?;
            (Fact::DuePostponed { engine: EngineId(engine), due, until: day(&text)?, words }, by)
        }
        RegisterCommand::Figure(_) => return Err(Fault::input("nothing to enter")),
        RegisterCommand::Turn { engine, name: text, off_shed, road, by } => {
            let zone: &Zone = ledger.office.zone();
            let off_shed = super::moment(&off_shed, zone, clock())?;
            let road = road.map(offshed_core::ident::RoadId);
            (Fact::Turn { engine: EngineId(engine), name: name(&text)?, off_shed, road }, by)
        }
    })
}

/// A first PIN gives somebody's name its voice: once anybody of the office has a PIN here, the office must agree.
fn let_office_agree(shed: &mut Shed, args: &PinArgs, now: Now) -> Result<(), Fault> {
    let office = office::with_pins(shed)?;
    if office.is_empty() {
        return Ok(());
    }
    let Some(by) = &args.by else {
        return Err(Fault::pin("the office has PINs on this device: somebody of it must agree, with --by PERSON"));
    };
    let agreeing = who(shed, &By { by: by.clone(), pin: args.pin.clone() }, now)?;
    if office.contains(&agreeing) {
        return Ok(());
    }
    Err(Fault::pin(format!("{by} is not of the office, or has no PIN on this device")))
}

/// `offshed pin`
pub(super) fn pin(call: &Call, args: &PinArgs) -> Outcome {
    let mut shed = call.shed()?;
    let person = person(shed.ledger(), &args.person)?;
    if !shed.ledger().office.people.contains_key(&person) {
        return Err(Fault::input(format!("person {person} is not in the register")));
    }
    let now = clock();
    if shed.folder().has_pin(person)? {
        let old = args.old.clone().map_or_else(|| ask_pin("Old PIN: "), Ok)?;
        shed.folder_mut().check_pin(person, &old, now.stamp).map_err(Fault::pin)?;
    } else {
        let_office_agree(&mut shed, args, now)?;
    }
    let new = args.new.clone().map_or_else(|| ask_pin("New PIN (4 to 8 digits): "), Ok)?;
    shed.folder_mut().set_pin(person, &new).map_err(Fault::pin)?;
    call.print(&serde_json::json!({ "pin": "set", "person": person.0 }), |_| format!("PIN set for person {person}\n"))?;
    Ok(ExitCode::SUCCESS)
}
