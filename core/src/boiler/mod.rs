//! Boiler arithmetic.
