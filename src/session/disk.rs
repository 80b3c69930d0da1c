//! The disk as the journal needs it: append, sync, take back, read. A seam, so that crashes, full disks and failing
//! drives can be staged in memory, each operation counted.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Where the file is, seen from its path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whereabouts {
    /// The path still names the file being written.
    Here,
    /// The path names nothing or another file, but ours still has a name somewhere.
    Moved,
    /// Ours has no name left: it vanishes when closed.
    Deleted,
}

/// One append-only file.
pub trait Disk {
    /// Everything in the file.
    fn read_all(&mut self) -> io::Result<Vec<u8>>;
    /// The file's length in bytes.
    fn length(&mut self) -> io::Result<u64>;
    /// One write at the end; may write fewer bytes than given, and says how many.
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize>;
    /// Returns once the bytes and the length are on the disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Returns once the file's name is on the disk too.
    fn sync_name(&mut self) -> io::Result<()>;
    /// Cuts the file to a length: only ever used on our own half-written line.
    fn set_len(&mut self, length: u64) -> io::Result<()>;
    /// Fills `into` from `offset`, to hold it against what was written.
    fn read_at(&mut self, offset: u64, into: &mut [u8]) -> io::Result<()>;
    /// Removes the file, if its path still names it: only ever used on a copy that could not be finished.
    fn remove(&mut self);
    /// Whether the path still names this file.
    fn whereabouts(&mut self) -> Whereabouts;
    /// A new, locked file elsewhere, for a session that must go on there. Never replaces anything.
    fn new_file(&mut self, path: &Path) -> io::Result<Box<dyn Disk>>;
    /// Folders to go on in when the file's own will not do, best first.
    fn refuges(&self) -> Vec<PathBuf>;
}

/// A file of the operating system, held under an exclusive lock.
#[derive(Debug)]
pub struct LockedFile {
    file: File,
    path: PathBuf,
    /// False where the file system has no locks; said to the person.
    pub locked: bool,
}

/// Why a file could not be opened for writing.
#[derive(Debug)]
pub enum OpenError {
    /// Another process holds the lock.
    Busy,
    /// It is a folder, a device, a pipe.
    NotAFile,
    /// The operating system refused.
    Io(io::Error),
}

impl From<io::Error> for OpenError {
    fn from(error: io::Error) -> Self {
        OpenError::Io(error)
    }
}

impl LockedFile {
    /// Creates the file; fails if anything of that name exists, a dangling link included.
    pub fn create(path: &Path) -> Result<Self, OpenError> {
        Self::lock(options().create_new(true).open(path)?, path)
    }

    /// Opens the file that is there.
    pub fn open(path: &Path) -> Result<Self, OpenError> {
        // Looked at before opening: opening a pipe for writing would wait for ever.
        if !std::fs::metadata(path)?.is_file() {
            return Err(OpenError::NotAFile);
        }
        Self::lock(options().open(path)?, path)
    }

    fn lock(file: File, path: &Path) -> Result<Self, OpenError> {
        let locked = match lock_soon(&file) {
            Ok(()) => true,
            Err(TryLockError::WouldBlock) => return Err(OpenError::Busy),
            // No locks on this file system: going on without is better than not recording; it is said.
            Err(TryLockError::Error(_)) => false,
        };
        Ok(LockedFile { file, path: path.to_owned(), locked })
    }
}

/// Locks the file, waiting a moment for a program that is just ending, or a child that has the file only until it
/// becomes another program.
fn lock_soon(file: &File) -> Result<(), TryLockError> {
    const TRIES: u32 = 15;
    const PAUSE: Duration = Duration::from_millis(20);
    for _ in 1..TRIES {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => std::thread::sleep(PAUSE),
            done => return done,
        }
    }
    file.try_lock()
}

fn options() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.read(true).append(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

impl Disk for LockedFile {
    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        self.file.seek(SeekFrom::Start(0))?;
        read_bounded(&self.file)
    }

    fn length(&mut self) -> io::Result<u64> {
        Ok(self.file.metadata()?.len())
    }

    fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn sync_name(&mut self) -> io::Result<()> {
        self.file.sync_all()?;
        #[cfg(unix)]
        File::open(folder_of(&self.path))?.sync_all()?;
        Ok(())
    }

    fn set_len(&mut self, length: u64) -> io::Result<()> {
        self.file.set_len(length)
    }

    fn read_at(&mut self, offset: u64, into: &mut [u8]) -> io::Result<()> {
        self.file.seek(SeekFrom::Start(offset))?;
        self.file.read_exact(into)
    }

    fn remove(&mut self) {
        if self.whereabouts() == Whereabouts::Here {
            // Best effort: a leftover copy is numbered past and harms nothing.
            let _ = std::fs::remove_file(&self.path);
        }
    }

    #[cfg(unix)]
    fn whereabouts(&mut self) -> Whereabouts {
        use std::os::unix::fs::MetadataExt;
        let Ok(ours) = self.file.metadata() else { return Whereabouts::Here };
        match std::fs::metadata(&self.path) {
            Ok(named) if named.dev() == ours.dev() && named.ino() == ours.ino() => Whereabouts::Here,
            _ if ours.nlink() == 0 => Whereabouts::Deleted,
            _ => Whereabouts::Moved,
        }
    }

    #[cfg(not(unix))]
    fn whereabouts(&mut self) -> Whereabouts {
        if self.path.exists() { Whereabouts::Here } else { Whereabouts::Moved }
    }

    fn new_file(&mut self, path: &Path) -> io::Result<Box<dyn Disk>> {
        match LockedFile::create(path) {
            Ok(file) => Ok(Box::new(file)),
            Err(OpenError::Io(error)) => Err(error),
            Err(OpenError::Busy | OpenError::NotAFile) => Err(io::ErrorKind::AlreadyExists.into()),
        }
    }

    fn refuges(&self) -> Vec<PathBuf> {
        let mut refuges = vec![folder_of(&self.path).to_owned()];
        if let Ok(home) = etcetera::home_dir() {
            refuges.push(home);
        }
        refuges.push(std::env::temp_dir());
        refuges
    }
}

/// Longest file read, bytes: some hundred thousand records, far more than a job has.
pub(super) const MOST_BYTES: u64 = 256 * 1024 * 1024;

/// All of a file that can be a session: memory stays bounded whatever is given.
pub(super) fn read_bounded(file: &File) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(io::Error::other("it is larger than 256 MiB, which no session is"));
    }
    Ok(bytes)
}

/// The folder a path is in; the current one for a bare name.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
