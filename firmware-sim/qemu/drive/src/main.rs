//! Drives offshed on an emulated handheld: makes cards, works a preparation by keys, and holds what the board shows, keeps
//! and takes beside what it should.

mod board;
mod cuts;
#[path = "../../../host/device.rs"]
mod device;
mod elf;
mod hands;
mod image;
#[allow(dead_code)]
#[path = "../../../host/memory.rs"]
mod memory;
#[allow(dead_code)]
#[path = "../../../host/picture.rs"]
mod picture;
mod prove;
#[path = "../../../host/script.rs"]
mod script;
mod twin;

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use lexopt::Arg::{Long, Short, Value};
use lexopt::ValueExt;

const HELP: &str = "\
Drives offshed on an emulated handheld.

  offshed-drive emulate ELF [--image FILE]
      makes a card image of the demo's evening where there is none, and starts the emulator
  offshed-drive prove ELF --out DIR
      works a preparation on the board and beside it, compares every picture, cuts the power, reads the card back,
      brings its book to the office; pictures, scripts and measures are kept in DIR
  offshed-drive measure ELF
      tells flash and static RAM, and who in the image can reach a panic
";

type Outcome<T> = Result<T, Box<dyn Error>>;

fn run() -> Outcome<()> {
    let mut parser = lexopt::Parser::from_env();
    let (mut words, mut image, mut out) = (Vec::new(), None, None);
    while let Some(arg) = parser.next()? {
        match arg {
            Value(word) => words.push(word.string()?),
            Long("image") => image = Some(PathBuf::from(parser.value()?)),
            Long("out") => out = Some(PathBuf::from(parser.value()?)),
            Long("help") | Short('h') => {
                print!("{HELP}");
                return Ok(());
            }
            other => return Err(other.unexpected().into()),
        }
    }
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["emulate", elf] => prove::emulate(Path::new(elf), &image.unwrap_or_else(|| PathBuf::from("card.img"))),
        ["prove", elf] => prove::prove(Path::new(elf), &out.ok_or("--out is wanted: see --help")?),
        ["measure", elf] => prove::measure(Path::new(elf)),
        _ => Err("say what to do: see --help".into()),
    }
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::FAILURE
        }
    }
}
