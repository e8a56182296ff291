//! The synchronous serial port that display and card share; pin PD0 says which of them listens.

use super::{PORT_D, read, write};

const SSI0: u32 = 0x4000_8000;
const CR0: u32 = SSI0;
const CR1: u32 = SSI0 + 4;
const DR: u32 = SSI0 + 8;
const SR: u32 = SSI0 + 0xc;
const CPSR: u32 = SSI0 + 0x10;
/// Something has come in.
const RNE: u32 = 4;
const SELECT: u8 = 1;

/// Who listens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Listener {
    /// The display.
    Display,
    /// The card.
    Card,
}

/// Eight bits a frame, the port as master.
pub(super) fn start() {
    PORT_D.outputs(SELECT);
    select(Listener::Display);
    write(CR1, 0);
    write(CPSR, 2);
    write(CR0, 7);
    write(CR1, 2);
}

pub(super) fn select(listener: Listener) {
    PORT_D.set(SELECT, listener == Listener::Display);
}

/// Sends a byte and answers the one that came in for it.
pub(super) fn exchange(byte: u8) -> u8 {
    write(DR, byte.into());
    while read(SR) & RNE == 0 {}
    read(DR) as u8
}
