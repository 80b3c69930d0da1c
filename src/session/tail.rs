//! The end of the file, where lines are put: written whole, synced, held against what the disk then gives; or
//! taken back; or the file is given up.

use super::disk::Disk;
use std::io;

/// Interrupted writes in a row before it is taken for a failing disk.
const MOST_INTERRUPTIONS: u32 = 100;

/// How a line failed to reach the disk.
pub(super) enum Failed {
    /// Nothing of it is left in the file, which can be used again.
    TakenBack(io::Error),
    /// The file can no longer be trusted.
    Poisoned(String),
}

impl Failed {
    pub(super) fn into_io(self) -> io::Error {
        match self {
            Failed::TakenBack(error) => error,
            Failed::Poisoned(why) => io::Error::other(why),
        }
    }
}

/// A file and what is known to be in it.
pub(super) struct Tail {
    pub(super) disk: Box<dyn Disk>,
    /// Every byte up to the end of the last saved record: what a continuation copies.
    saved: Vec<u8>,
    /// The next write begins with a line end: the file's last byte is not one.
    wall: bool,
}

impl Tail {
    /// The end of a file that holds `bytes`.
    pub(super) fn of(disk: Box<dyn Disk>, bytes: Vec<u8>) -> Self {
        Tail { disk, wall: !bytes.is_empty() && !bytes.ends_with(b"\n"), saved: bytes }
    }

    /// Fills a new file with all that another holds as saved; the next line's sync saves it.
    pub(super) fn fill(&mut self, from: &Tail) -> io::Result<()> {
        write_all(self.disk.as_mut(), &from.saved)?;
        self.saved.clone_from(&from.saved);
        self.wall = !self.saved.ends_with(b"\n");
        Ok(())
    }

    /// Writes and syncs one line, and holds the disk's answer against it.
    pub(super) fn put(&mut self, line: &[u8]) -> Result<(), Failed> {
        let start = self.saved.len() as u64;
        match self.disk.length() {
            Ok(length) if length == start => {}
            Ok(length) => {
                return Err(Failed::Poisoned(format!(
                    "it is {length} bytes long where we left {start}: something else wrote into it"
                )));
            }
            Err(error) => return Err(Failed::Poisoned(error.to_string())),
        }
        let mut bytes = Vec::with_capacity(line.len() + 1);
        if self.wall {
            bytes.push(b'\n');
        }
        bytes.extend_from_slice(line);
        if let Err(error) = write_all(self.disk.as_mut(), &bytes) {
            return Err(self.take_back(start, error));
        }
        // A failed sync is never tried again on this file: the system may have dropped the page and say yes.
        self.disk.sync().map_err(|error| Failed::Poisoned(format!("it could not be synced: {error}")))?;
        let mut held = vec![0; bytes.len()];
        match self.disk.read_at(start, &mut held) {
            Ok(()) if held == bytes => {}
            Ok(()) => return Err(Failed::Poisoned("the disk does not hold what was written".to_owned())),
            Err(error) => return Err(Failed::Poisoned(format!("it could not be read back: {error}"))),
        }
        self.saved.extend_from_slice(&bytes);
        self.wall = false;
        Ok(())
    }

    /// Takes our half line back after a failed write.
    fn take_back(&mut self, start: u64, error: io::Error) -> Failed {
        let clean =
            self.disk.set_len(start).is_ok() && self.disk.length().is_ok_and(|length| length == start);
        let room = matches!(
            error.kind(),
            io::ErrorKind::StorageFull
                | io::ErrorKind::QuotaExceeded
                | io::ErrorKind::FileTooLarge
                | io::ErrorKind::Interrupted
                | io::ErrorKind::WriteZero
        );
        if clean && room {
            Failed::TakenBack(error)
        } else {
            Failed::Poisoned(format!("it could not be written: {error}"))
        }
    }
}

fn write_all(disk: &mut dyn Disk, bytes: &[u8]) -> io::Result<()> {
    let mut rest = bytes;
    let mut interruptions = 0;
    while !rest.is_empty() {
        match disk.append(rest) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(written) => rest = rest.get(written..).unwrap_or_default(),
            Err(error)
                if error.kind() == io::ErrorKind::Interrupted && interruptions < MOST_INTERRUPTIONS =>
            {
                interruptions += 1;
            }
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
