//! Puts the memory map where the linker looks for it.

use std::path::PathBuf;
use std::{env, error, fs};

fn main() -> Result<(), Box<dyn error::Error>> {
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or("cargo gives no OUT_DIR")?);
    fs::copy("memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rerun-if-changed=memory.x");
    Ok(())
}
