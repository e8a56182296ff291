//! Names on a card: short ones of eight and three signs, so that a plain FAT file system without long names holds them.
//! They are in `FORMAT.md`, section 9.

use core::fmt::Write;

use heapless::String;

use crate::ident::{DeviceId, PackHash};

/// The directory that everything of ours lies in; a card without it is not ours.
pub const FOLDER: &str = "OFFSHED";
/// The shift file.
pub const SHIFT: &str = "OFFSHED/SHIFT.OSF";
/// The shift file while it is written: taken where the other one is not there.
pub const SHIFT_PART: &str = "OFFSHED/SHIFT.NEW";
/// The directory of books.
pub const BOOKS: &str = "OFFSHED/BOOKS";
/// The directory of packs.
pub const PACKS: &str = "OFFSHED/PACKS";

/// A path on a card, its parts parted by `/`.
pub type CardPath = String<40>;

/// Further books of one device beside the first, at most.
pub const COPIES: u8 = 9;

/// The directory of a device's books: its first eight digits.
pub fn books_of(device: DeviceId) -> CardPath {
    let [a, b, c, d, ..] = device.0;
    let mut path = CardPath::new();
    // The longest of these paths has room: the test below holds it.
    let _ = write!(path, "{BOOKS}/{a:02X}{b:02X}{c:02X}{d:02X}");
    path
}

/// A device's book; `copy` from 1 to [`COPIES`] is a further one that differs.
pub fn book(device: DeviceId, copy: u8) -> CardPath {
    let mut path = books_of(device);
    let [.., e, f, g, h] = device.0;
    let _ = write!(path, "/{e:02X}{f:02X}{g:02X}{h:02X}.");
    let _ = if copy == 0 { path.write_str("BOK") } else { write!(path, "BK{}", copy.min(COPIES)) };
    path
}

/// The device, and which of its books, that a directory's and a file's name mean; capitals or not.
pub fn book_named(directory: &str, file: &str) -> Option<(DeviceId, u8)> {
    let (stem, end) = file.split_once('.')?;
    let copy = match end.as_bytes() {
        end if end.eq_ignore_ascii_case(b"BOK") => 0,
        [b'B' | b'b', b'K' | b'k', n @ b'1'..=b'9'] => n - b'0',
        _ => return None,
    };
    let (first, second) = (half(directory)?, half(stem)?);
    let mut id = [0; 8];
    for (to, from) in id.iter_mut().zip(first.into_iter().chain(second)) {
        *to = from;
    }
    Some((DeviceId(id), copy))
}

/// A pack's file, by the first eight digits of its hash.
pub fn pack(hash: PackHash) -> CardPath {
    let [a, b, c, d, ..] = hash.0;
    let mut path = CardPath::new();
    let _ = write!(path, "{PACKS}/{a:02X}{b:02X}{c:02X}{d:02X}.OSP");
    path
}

/// Four bytes from eight hexadecimal digits.
fn half(digits: &str) -> Option<[u8; 4]> {
    let sound = digits.len() == 8 && digits.bytes().all(|digit| digit.is_ascii_hexdigit());
    sound.then(|| u32::from_str_radix(digits, 16).ok())?.map(u32::to_be_bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_both_ways_and_are_short() {
        let device = DeviceId([0, 1, 2, 0xab, 0xcd, 0xff, 0, 9]);
        for copy in 0..=COPIES {
            let path = book(device, copy);
            let mut parts = path.rsplit('/');
            let (file, directory) = (parts.next().unwrap(), parts.next().unwrap());
            assert_eq!(book_named(directory, file), Some((device, copy)), "{path}");
            assert_eq!(book_named(&directory.to_ascii_lowercase(), &file.to_ascii_lowercase()), Some((device, copy)));
        }
        let longest = [book(device, 9), pack(PackHash([0xab; 32])), CardPath::try_from(SHIFT).unwrap()];
        for path in longest {
            assert!(path.len() < path.capacity(), "nothing was cut off: {path}");
            for part in path.split('/') {
                let (stem, end) = part.split_once('.').unwrap_or((part, ""));
                assert!(stem.len() <= 8 && end.len() <= 3, "{path}");
            }
        }
    }

    #[test]
    fn other_names_are_nobodys() {
        for (directory, file) in
            [("", ""), ("0001", "0203.BOK"), ("00010203", "04050607.TXT"), ("+1234567", "04050607.BOK")]
        {
            assert_eq!(book_named(directory, file), None, "{directory}/{file}");
        }
    }
}
