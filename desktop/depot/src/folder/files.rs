//! Durable files: whole replacement by a temporary file and a rename, appending at a known length, and the names used
//! in a data folder.

use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use offshed_core::ident::{DeviceId, PackHash};
use sha2::{Digest, Sha256};

use super::fault::FolderFault;

/// The settings file; its presence makes a directory a data folder.
pub(crate) const SETTINGS: &str = "folder.toml";
/// Entries that are in no block yet.
pub(crate) const JOURNAL: &str = "journal";
/// The directory of books.
pub(crate) const BOOKS: &str = "books";
/// The directory of packs.
pub(crate) const PACKS: &str = "packs";
/// The directory of secret keys.
pub(crate) const KEYS: &str = "keys";
/// The directory of copies of what was damaged.
pub(crate) const DAMAGED: &str = "damaged";
/// The file that is locked while a process writes here.
pub(crate) const LOCK: &str = "lock";
/// PIN verifiers.
pub(crate) const PINS: &str = "pins.toml";
/// Wrong tries.
pub(crate) const TRIES: &str = "tries.toml";
/// The end of the name of a file that is not whole yet.
pub(crate) const PART: &str = "part";

/// SHA-256 of bytes.
pub(crate) fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// The file's bytes; `None` when there is no such file.
pub(crate) fn read(path: &Path) -> Result<Option<Vec<u8>>, FolderFault> {
    match fs::read(path) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        Err(error) => Err(FolderFault::io("read", path)(error)),
    }
}

/// Makes a directory, and those above it, where they are missing.
pub(crate) fn make_dir(path: &Path) -> Result<(), FolderFault> {
    fs::create_dir_all(path).map_err(FolderFault::io("make the directory", path))
}

/// The names in a directory, sorted; none when it is missing.
pub(crate) fn names(dir: &Path) -> Result<Vec<String>, FolderFault> {
    let listing = match fs::read_dir(dir) {
        Ok(listing) => listing,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(FolderFault::io("list", dir)(error)),
    };
    let mut names = Vec::new();
    for item in listing {
        let item = item.map_err(FolderFault::io("list", dir))?;
        names.push(item.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}

/// Makes the names of a directory durable, on systems where a directory can be opened.
pub(crate) fn sync_dir(dir: &Path) -> Result<(), FolderFault> {
    if cfg!(unix) {
        let sync = File::open(dir).and_then(|handle| handle.sync_all());
        return sync.map_err(FolderFault::io("make durable", dir));
    }
    Ok(())
}

/// Replaces a file as a whole: after a power cut it is the old one or the new one.
pub(crate) fn replace(path: &Path, bytes: &[u8]) -> Result<(), FolderFault> {
    replace_with(path, &part_of(path), bytes, &mut OpenOptions::new())
}

/// As [`replace`], where others may be replacing the same file: each writes a temporary file of its own.
pub(crate) fn replace_shared(path: &Path, bytes: &[u8]) -> Result<(), FolderFault> {
    let mut own = [0; 8];
    random(&mut own)?;
    let part = path.with_extension(format!("{}.{PART}", hex(&own)));
    replace_with(path, &part, bytes, &mut OpenOptions::new())
}

/// As [`replace`]; only the owner of the file may read it, on systems that know owners.
pub(crate) fn replace_private(path: &Path, bytes: &[u8]) -> Result<(), FolderFault> {
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    replace_with(path, &part_of(path), bytes, &mut options)
}

fn replace_with(path: &Path, part: &Path, bytes: &[u8], options: &mut OpenOptions) -> Result<(), FolderFault> {
    let opened = options.write(true).create(true).truncate(true).open(part);
    let mut file = opened.map_err(FolderFault::io("write", part))?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all());
    let renamed = written.and_then(|()| fs::rename(part, path));
    if let Err(error) = renamed {
        // What is left is a temporary file; it is removed at the next opening, too.
        let _ = fs::remove_file(part);
        return Err(FolderFault::io("write", path)(error));
    }
    path.parent().map_or(Ok(()), sync_dir)
}

/// The temporary file that becomes `path`.
fn part_of(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".");
    name.push(PART);
    path.with_file_name(name)
}

/// Removes the temporary files that an interrupted replacement left in a directory.
pub(crate) fn remove_parts(dir: &Path) -> Result<(), FolderFault> {
    for name in names(dir)? {
        let path = dir.join(&name);
        if path.extension().is_some_and(|end| end == PART) && path.is_file() {
            fs::remove_file(&path).map_err(FolderFault::io("remove", &path))?;
        }
    }
    Ok(())
}

/// Writes bytes at the end of a file that is `at` bytes long and makes them durable.
///
/// Bytes already standing behind `at` are the same bytes, or zeros that an interrupted write left.
pub(crate) fn write_at(path: &Path, at: u64, bytes: &[u8]) -> Result<(), FolderFault> {
    let fresh = !path.exists();
    let opened = OpenOptions::new().write(true).create(true).truncate(false).open(path);
    let mut file = opened.map_err(FolderFault::io("write", path))?;
    let seek = file.seek(SeekFrom::Start(at)).map(|_| ());
    let written = seek.and_then(|()| file.write_all(bytes)).and_then(|()| file.sync_data());
    written.map_err(FolderFault::io("write", path))?;
    match path.parent() {
        Some(dir) if fresh => sync_dir(dir),
        _ => Ok(()),
    }
}

/// Keeps a copy of damaged bytes as `damaged/<name>-<n>` and answers where, relative to `root`.
///
/// The same bytes are not kept twice.
pub(crate) fn keep_damaged(root: &Path, name: &str, bytes: &[u8]) -> Result<PathBuf, FolderFault> {
    let dir = root.join(DAMAGED);
    make_dir(&dir)?;
    let mut n = 1u64;
    loop {
        let kept = Path::new(DAMAGED).join(format!("{name}-{n}"));
        match read(&root.join(&kept))? {
            Some(there) if there == bytes => return Ok(kept),
            Some(_) => n += 1,
            None => {
                replace(&root.join(&kept), bytes)?;
                sync_dir(root)?;
                return Ok(kept);
            }
        }
    }
}

/// Fills bytes with random ones of the operating system.
pub(crate) fn random(bytes: &mut [u8]) -> Result<(), FolderFault> {
    getrandom::fill(bytes).map_err(|error| FolderFault::Random { why: error.to_string() })
}

/// The bytes that `text` writes in lower-case hexadecimal digits, if it does.
pub(crate) fn unhex(text: &str) -> Option<Vec<u8>> {
    let nibble = |c: u8| match c {
        b'0'..=b'9' => Some(c - b'0'),
        b'a'..=b'f' => Some(c - b'a' + 10),
        _ => None,
    };
    let pairs = text.as_bytes().chunks(2);
    pairs
        .map(|pair| match *pair {
            [high, low] => Some(nibble(high)? << 4 | nibble(low)?),
            _ => None,
        })
        .collect()
}

/// Bytes as lower-case hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The device that 16 hexadecimal digits name.
pub(crate) fn device(text: &str) -> Option<DeviceId> {
    Some(DeviceId(unhex(text)?.try_into().ok()?))
}

/// The pack whose file has this name.
pub(crate) fn pack_named(name: &str) -> Option<PackHash> {
    let bytes = unhex(name.strip_suffix(".pack")?)?;
    Some(PackHash(bytes.try_into().ok()?))
}

/// The name of a pack's file.
pub(crate) fn pack_name(hash: PackHash) -> String {
    format!("{hash:#}.pack")
}

/// The device whose book has this name: `<device>.book`, or `<device>.fork-<hash>.book`.
pub(crate) fn book_named(name: &str) -> Option<DeviceId> {
    let stem = name.strip_suffix(".book")?;
    match stem.split_once(".fork-") {
        None => device(stem),
        Some((id, hash)) if (4..=32).contains(&unhex(hash)?.len()) => device(id),
        Some(_) => None,
    }
}

/// The name of a device's own book.
pub(crate) fn book_name(device: DeviceId) -> String {
    format!("{device}.book")
}

/// Names for a further copy of a device's book, each longer than the one before.
pub(crate) fn fork_names(device: DeviceId, bytes: &[u8]) -> impl Iterator<Item = String> + use<> {
    let hash = hex(&sha256(bytes));
    [8, 16, 32, 64].into_iter().map(move |digits| format!("{device}.fork-{}.book", hash.get(..digits).unwrap_or(&hash)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_both_ways() {
        let id = DeviceId([0, 1, 2, 3, 0xfc, 0xfd, 0xfe, 0xff]);
        assert_eq!(book_name(id), "00010203fcfdfeff.book");
        assert_eq!(book_named(&book_name(id)), Some(id));
        for fork in fork_names(id, b"x") {
            assert_eq!(book_named(&fork), Some(id), "{fork}");
        }
        let hash = PackHash([0xab; 32]);
        assert_eq!(pack_named(&pack_name(hash)), Some(hash));
    }

    #[test]
    fn other_names_are_nobodys() {
        for name in ["", ".book", "0001.book", "00010203FCFDFEFF.book", "00010203fcfdfeff.fork-.book", "notes.txt"] {
            assert_eq!(book_named(name), None, "{name}");
        }
        assert_eq!(pack_named("ab.pack"), None);
        assert_eq!(unhex("abc"), None);
    }
}
