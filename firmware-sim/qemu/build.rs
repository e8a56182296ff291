//! Puts the memory map where the linker looks for it, and the pack where the image takes it from.

use std::path::{Path, PathBuf};
use std::{env, error, fs};

use offshed_depot::authoring::{SourceFile, compile};
use offshed_depot::packfile::PackFile;

type Outcome<T> = Result<T, Box<dyn error::Error>>;

/// The pack that the image holds where no other is named.
const PRACTICE: &str = "../../core/packs/practice";

fn main() -> Outcome<()> {
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or("cargo gives no OUT_DIR")?);
    fs::copy("memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rerun-if-changed=memory.x");
    println!("cargo:rerun-if-env-changed=OFFSHED_PACK");
    put_pack(&pack()?, &out)
}

/// The pack file that `OFFSHED_PACK` names, or the practice pack.
fn pack() -> Outcome<PackFile> {
    let bytes = match env::var_os("OFFSHED_PACK") {
        Some(path) => {
            println!("cargo:rerun-if-changed={}", Path::new(&path).display());
            fs::read(path)?
        }
        None => compiled(Path::new(PRACTICE))?,
    };
    Ok(PackFile::from_bytes(bytes)?)
}

fn compiled(folder: &Path) -> Outcome<Vec<u8>> {
    println!("cargo:rerun-if-changed={}", folder.display());
    let mut files = Vec::new();
    for file in fs::read_dir(folder)? {
        let path = file?.path();
        if path.extension().is_some_and(|extension| extension == "toml") {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            files.push(SourceFile { name, text: fs::read_to_string(&path)? });
        }
    }
    let compiled = compile(&files).map_err(|complaints| format!("{}: {complaints:?}", folder.display()))?;
    Ok(compiled.bytes)
}

/// Writes the rules, and the hash of the whole.
fn put_pack(pack: &PackFile, out: &Path) -> Outcome<()> {
    let rules = pack.bytes().get(..pack.pack().head().rules_len as usize).ok_or("a pack without rules")?;
    fs::write(out.join("rules.bin"), rules)?;
    fs::write(out.join("hash.bin"), pack.hash().0)?;
    Ok(())
}
