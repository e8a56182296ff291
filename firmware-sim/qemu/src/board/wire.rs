//! The first serial port: lines of words, for a bench that plays keys and for what cannot be shown.

use core::fmt;

use heapless::Vec;

use super::{read, write};

const UART0: u32 = 0x4000_c000;
const DR: u32 = UART0;
const FR: u32 = UART0 + 0x18;
const LCRH: u32 = UART0 + 0x2c;
const CTL: u32 = UART0 + 0x30;
/// Nothing has come in.
const RXFE: u32 = 1 << 4;
/// No room to send.
const TXFF: u32 = 1 << 5;
/// Bytes of a line.
const LINE: usize = 64;

/// Eight bits with the queues on, sending and receiving.
pub(super) fn start() {
    write(CTL, 0);
    write(LCRH, 0x70);
    write(CTL, 0x301);
}

/// The port.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wire;

impl fmt::Write for Wire {
    fn write_str(&mut self, words: &str) -> fmt::Result {
        for byte in words.bytes() {
            while read(FR) & TXFF != 0 {}
            write(DR, byte.into());
        }
        Ok(())
    }
}

impl Wire {
    /// Waits for a line and answers its bytes; what does not fit is left out.
    pub fn line(&mut self) -> Vec<u8, LINE, u8> {
        let mut line = Vec::new();
        loop {
            while read(FR) & RXFE != 0 {}
            match read(DR) as u8 {
                b'\n' => return line,
                byte => {
                    let _ = line.push(byte);
                }
            }
        }
    }
}
