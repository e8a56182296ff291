//! The program; what it does is in the library, so that tests can start it without running it.

use std::process::ExitCode;

fn main() -> ExitCode {
    offshed::main()
}
