//! A card with a FAT file system, over any device of 512-byte sectors.
//!
//! Each call opens the volume and what it needs and closes all of it again, so that what one call wrote is on the card
//! when it answers, and a card that was pulled leaves nothing open.

use embedded_sdmmc::{BlockDevice, Error, Mode, RawDirectory, RawVolume, TimeSource, VolumeIdx, VolumeManager};

use super::{Card, CardFault};

/// A card with a FAT16 or FAT32 file system in its first partition.
pub struct FatCard<D: BlockDevice, T: TimeSource> {
    volumes: VolumeManager<D, T, 4, 2, 1>,
}

/// What went wrong, as a person is told it.
fn fault<E: core::error::Error>(error: &Error<E>) -> CardFault {
    match error {
        Error::DeviceError(_) => CardFault::Gone,
        Error::DiskFull | Error::NotEnoughSpace => CardFault::Full,
        Error::ReadOnly => CardFault::Locked,
        _ => CardFault::Unreadable,
    }
}

/// The directories of a path, and its last part.
fn parted(path: &str) -> (&str, &str) {
    path.rsplit_once('/').unwrap_or(("", path))
}

impl<D: BlockDevice, T: TimeSource> FatCard<D, T> {
    /// A card in this device; times of files are those of `clock`.
    pub fn new(device: D, clock: T) -> FatCard<D, T> {
        FatCard { volumes: VolumeManager::new_with_limits(device, clock, 1) }
    }

    /// The device, when it is no longer used as a card.
    pub fn into_device(self) -> D {
        self.volumes.free().0
    }

    /// Does something in a directory, made where it is missing when `make` says so; `None` where it is not there.
    fn within<R>(
        &self,
        path: &str,
        make: bool,
        act: impl FnOnce(RawDirectory) -> Result<R, Error<D::Error>>,
    ) -> Result<Option<R>, CardFault> {
        let volume = self.volumes.open_raw_volume(VolumeIdx(0)).map_err(|error| fault(&error))?;
        let done = self.directory(volume, path, make).and_then(|found| match found {
            None => Ok(None),
            Some(directory) => {
                let done = act(directory).map(Some);
                self.volumes.close_dir(directory)?;
                done
            }
        });
        let closed = self.volumes.close_volume(volume);
        done.and_then(|done| closed.map(|()| done)).map_err(|error| fault(&error))
    }

    fn directory(&self, volume: RawVolume, path: &str, make: bool) -> Result<Option<RawDirectory>, Error<D::Error>> {
        let mut at = self.volumes.open_root_dir(volume)?;
        for part in path.split('/').filter(|part| !part.is_empty()) {
            let next = match self.volumes.open_dir(at, part) {
                Err(Error::NotFound) if make => {
                    self.volumes.make_dir_in_dir(at, part).and_then(|()| self.volumes.open_dir(at, part))
                }
                other => other,
            };
            self.volumes.close_dir(at)?;
            at = match next {
                Err(Error::NotFound | Error::OpenedFileAsDir) => return Ok(None),
                other => other?,
            };
        }
        Ok(Some(at))
    }
}

impl<D: BlockDevice, T: TimeSource> Card for FatCard<D, T> {
    fn has_dir(&mut self, path: &str) -> Result<bool, CardFault> {
        self.within(path, false, |_| Ok(())).map(|found| found.is_some())
    }

    fn len(&mut self, path: &str) -> Result<Option<u32>, CardFault> {
        let (directory, name) = parted(path);
        let found = self.within(directory, false, |at| match self.volumes.find_directory_entry(at, name) {
            Ok(entry) if entry.attributes.is_directory() => Ok(None),
            Ok(entry) => Ok(Some(entry.size)),
            Err(Error::NotFound) => Ok(None),
            Err(error) => Err(error),
        })?;
        Ok(found.flatten())
    }

    fn read(&mut self, path: &str, at: u32, out: &mut [u8]) -> Result<(), CardFault> {
        let (directory, name) = parted(path);
        let read = self.within(directory, false, |dir| {
            let file = self.volumes.open_file_in_dir(dir, name, Mode::ReadOnly)?;
            let read = self.volumes.file_seek_from_start(file, at).and_then(|()| self.volumes.read(file, out));
            self.volumes.close_file(file)?;
            read
        })?;
        if read == Some(out.len()) { Ok(()) } else { Err(CardFault::Unreadable) }
    }

    fn write(&mut self, path: &str, at: u32, bytes: &[u8]) -> Result<(), CardFault> {
        let there = self.len(path)?;
        let (directory, name) = parted(path);
        let mode = if there.is_some() { Mode::ReadWriteAppend } else { Mode::ReadWriteCreate };
        let written = self.within(directory, true, |dir| {
            let file = self.volumes.open_file_in_dir(dir, name, mode)?;
            let written = self.volumes.file_seek_from_start(file, at).and_then(|()| self.volumes.write(file, bytes));
            self.volumes.close_file(file)?;
            written
        })?;
        written.ok_or(CardFault::Unreadable)
    }
}
