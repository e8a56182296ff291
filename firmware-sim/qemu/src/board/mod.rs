//! The emulated board: an LM3S6965 evaluation board as QEMU models it, driver by driver.
//!
//! Addresses and bits are the Stellaris LM3S6965 data sheet's, as far as the emulator has them; where the emulator
//! differs, the driver says so.
//! Registers are named in one place each, and all access goes through [`read`] and [`write`].

pub mod buttons;
pub mod clock;
pub mod host;
pub mod oled;
pub mod sdcard;
pub mod spi;
pub mod wire;

/// System control.
const SYSCTL: u32 = 0x400f_e000;
/// Run-mode clock gating: UART0 and SSI0.
const RCGC1: u32 = SYSCTL + 0x104;
/// Run-mode clock gating: ports A to G.
const RCGC2: u32 = SYSCTL + 0x108;

/// A register of the board.
#[allow(unsafe_code)]
fn read(register: u32) -> u32 {
    // SAFETY: every address in this module is a register of the board, aligned, and reading it touches no memory.
    unsafe { (register as *const u32).read_volatile() }
}

/// Sets a register of the board.
#[allow(unsafe_code)]
fn write(register: u32, value: u32) {
    // SAFETY: as in `read`; no register here moves memory.
    unsafe { (register as *mut u32).write_volatile(value) }
}

/// A port of eight pins.
#[derive(Clone, Copy, Debug)]
struct Port(u32);

const PORT_C: Port = Port(0x4000_6000);
const PORT_D: Port = Port(0x4000_7000);
const PORT_E: Port = Port(0x4002_4000);
const PORT_F: Port = Port(0x4002_5000);

impl Port {
    /// The data register through a mask: only these pins are read or written.
    fn masked(self, pins: u8) -> u32 {
        self.0 + (u32::from(pins) << 2)
    }

    fn get(self, pins: u8) -> u8 {
        read(self.masked(pins)) as u8
    }

    fn set(self, pins: u8, high: bool) {
        write(self.masked(pins), if high { u32::from(pins) } else { 0 });
    }

    fn outputs(self, pins: u8) {
        write(self.0 + 0x400, read(self.0 + 0x400) | u32::from(pins));
        write(self.0 + 0x51c, read(self.0 + 0x51c) | u32::from(pins));
    }

    /// Inputs that rest high.
    fn inputs(self, pins: u8) {
        write(self.0 + 0x400, read(self.0 + 0x400) & !u32::from(pins));
        write(self.0 + 0x510, read(self.0 + 0x510) | u32::from(pins));
        write(self.0 + 0x51c, read(self.0 + 0x51c) | u32::from(pins));
    }
}

/// Clocks to what is used, and pins as they are used.
pub fn start() {
    write(RCGC1, read(RCGC1) | 1 | 1 << 4);
    write(RCGC2, 0x7f);
    spi::start();
    oled::start();
    buttons::start();
    wire::start();
}
