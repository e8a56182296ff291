//! offshed on an emulated microcontroller: a Cortex-M3 with 256 KiB of flash, 64 KiB of RAM and no floating-point unit.
//!
//! It holds what the core's arithmetic is measured with so far: the cases, a counter of instructions, and a gauge of
//! the stack.
//! A machine that runs the handheld follows.
#![no_std]

pub mod cases;
pub mod meter;
pub mod stack;
