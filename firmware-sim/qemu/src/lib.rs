//! offshed on an emulated microcontroller: a Cortex-M3 with 256 KiB of flash, 64 KiB of RAM and no floating-point unit.
//!
//! Two programs: `handheld`, the device as firmware, and `cost`, which measures what the core's arithmetic takes.
//!
//! ```text
//! board                   drivers of the emulated board
//! rules                   the pack that is built into the image
//! bench                   lines over the serial port that play keys by the device's own time
//! cases, meter, stack     what is measured, a counter of instructions, a gauge of the stack
//! ```
#![no_std]

pub mod bench;
pub mod board;
pub mod cases;
pub mod meter;
pub mod rules;
pub mod stack;
