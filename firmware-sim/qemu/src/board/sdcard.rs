//! The card, by commands over the serial port (SD Physical Layer Simplified Specification, section 7: SPI mode).
//!
//! Only what this board's emulator has: a card of standard capacity, addressed by byte, one sector a command. It answers
//! the data of a write without the gap that other cards allow, so a driver for those does not work here.

use core::fmt;

use offshed_sd::disk::{Block, Sectors};
use offshed_sd::fault::CardFault;

use super::spi::{Listener, exchange, select};

/// Bytes looked at for an answer.
const PATIENCE: u32 = 100_000;
/// What a card answers in its idle state, and in its ready one.
const IDLE: u8 = 1;
const READY: u8 = 0;
/// What goes before data.
const TOKEN: u8 = 0xfe;
/// What a card answers when it took data: three bits above one.
const TAKEN: u8 = 0x05;

/// Why the card did not do it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// It does not answer.
    Silent,
    /// It answers this to a command.
    Command(u8),
    /// It did not take the data.
    Data(u8),
    /// The sector lies beyond what can be addressed.
    Beyond,
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Silent => f.write_str("the card does not answer"),
            Refused::Command(answer) => write!(f, "the card answers {answer:#04x}"),
            Refused::Data(answer) => write!(f, "the card took no data: {answer:#04x}"),
            Refused::Beyond => f.write_str("the sector lies beyond the card"),
        }
    }
}

impl core::error::Error for Refused {}

/// The card in the board's only slot; it was started.
#[derive(Clone, Copy, Debug)]
pub struct SdCard(());

impl SdCard {
    /// Wakes the card.
    ///
    /// # Errors
    /// When there is none, or it is of a kind that this board does not know.
    pub fn start() -> Result<SdCard, Refused> {
        select(Listener::Display);
        // At least 74 clocks while nobody talks to the card (section 6.4.1.1).
        for _ in 0..10 {
            exchange(0xff);
        }
        select(Listener::Card);
        expect(command(0, 0, 0x95)?, IDLE)?;
        expect(command(8, 0x1aa, 0x87)?, IDLE)?;
        for _ in 0..4 {
            exchange(0xff);
        }
        for _ in 0..1_000 {
            command(55, 0, 0xff)?;
            if command(41, 0x4000_0000, 0xff)? == READY {
                return Ok(SdCard(()));
            }
        }
        Err(Refused::Silent)
    }
}

fn expect(answer: u8, wanted: u8) -> Result<(), Refused> {
    if answer == wanted { Ok(()) } else { Err(Refused::Command(answer)) }
}

/// The first byte for which `is` holds.
fn until(is: impl Fn(u8) -> bool) -> Result<u8, Refused> {
    (0..PATIENCE).map(|_| exchange(0xff)).find(|byte| is(*byte)).ok_or(Refused::Silent)
}

/// Sends a command and answers the first byte of its response, whose highest bit is clear.
fn command(number: u8, argument: u32, check: u8) -> Result<u8, Refused> {
    exchange(0xff);
    exchange(0x40 | number);
    for byte in argument.to_be_bytes() {
        exchange(byte);
    }
    exchange(check);
    until(|byte| byte & 0x80 == 0)
}

/// The byte address of a sector.
fn address(sector: u32) -> Result<u32, Refused> {
    sector.checked_mul(512).ok_or(Refused::Beyond)
}

fn read_sector(sector: u32, into: &mut Block) -> Result<(), Refused> {
    select(Listener::Card);
    expect(command(17, address(sector)?, 0xff)?, READY)?;
    until(|byte| byte == TOKEN)?;
    for byte in &mut into.contents {
        *byte = exchange(0xff);
    }
    exchange(0xff);
    exchange(0xff);
    Ok(())
}

fn write_sector(sector: u32, from: &Block) -> Result<(), Refused> {
    select(Listener::Card);
    expect(command(24, address(sector)?, 0xff)?, READY)?;
    exchange(TOKEN);
    for byte in &from.contents {
        exchange(*byte);
    }
    exchange(0xff);
    exchange(0xff);
    let answer = until(|byte| byte & 0x11 == 1)?;
    if answer & 0x1f != TAKEN {
        return Err(Refused::Data(answer));
    }
    // Zeros while it writes.
    until(|byte| byte == 0xff).map(|_| ())
}

impl Sectors for SdCard {
    fn read(&self, n: u32, into: &mut Block) -> Result<(), CardFault> {
        read_sector(n, into).map_err(|_| CardFault::Card)
    }

    fn write(&self, n: u32, from: &Block) -> Result<(), CardFault> {
        write_sector(n, from).map_err(|_| CardFault::Card)
    }
}
