//! offshed.
fn main() {}
