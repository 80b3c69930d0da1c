//! What can go wrong with a session file, in the person's words: what, where, and what to do.

use std::io;
use std::path::PathBuf;

/// A session file that could not be used.
#[derive(Debug, thiserror::Error)]
pub enum SessionError {
    /// Another program is recording into it.
    #[error("{}: being recorded by another run of this program{who}", path.display())]
    Locked {
        /// The file.
        path: PathBuf,
        /// Which process and since when, if the file says; empty otherwise.
        who: String,
    },
    /// `create` met a session.
    #[error("{}: there is a session in it already", path.display())]
    AlreadyBegun {
        /// The file.
        path: PathBuf,
    },
    /// `resume` or `read` met a file in which no session ever began.
    #[error("{}: no session has begun in it", path.display())]
    NotBegun {
        /// The file.
        path: PathBuf,
    },
    /// Not a session file.
    #[error("{}: not a session file", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// A folder, a device, a pipe.
    #[error("{}: not a regular file", path.display())]
    NotAFile {
        /// The path.
        path: PathBuf,
    },
    /// Written by a newer program.
    #[error("{}: written by version {version} in format {format}{needs}; this program knows format {}", path.display(), super::record::FORMAT)]
    Newer {
        /// The file.
        path: PathBuf,
        /// Version that wrote it.
        version: String,
        /// Its format.
        format: u64,
        /// Unknown features, worded; empty when there are none.
        needs: String,
    },
    /// Damaged before the tail.
    #[error("{}:{line}: {what}{rest}", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: u64,
        /// What is wrong with the line.
        what: String,
        /// What is known of the rest, worded.
        rest: String,
        /// Index of the last good record, if there is one.
        last_good: Option<u64>,
    },
    /// The session went on elsewhere.
    #[error("{}: this session went on in {}", path.display(), on.display())]
    WentOn {
        /// The file.
        path: PathBuf,
        /// Where it went on.
        on: PathBuf,
    },
    /// The disk is full or a size limit is reached: the record is not saved, the file is whole.
    #[error("NOT SAVED, {}: {source}", path.display())]
    Full {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// The file can no longer be trusted and no other could be begun: the record is not saved.
    #[error("NOT SAVED, {}: {why}; and the session could not go on elsewhere: {source}", path.display())]
    NowhereToGoOn {
        /// The file that failed.
        path: PathBuf,
        /// What failed in it.
        why: String,
        /// Why no other file could be begun.
        source: io::Error,
    },
    /// A record the format cannot hold. Nothing was written.
    #[error("this cannot be recorded: {what}")]
    Unwritable {
        /// Why not.
        what: String,
    },
    /// The operating system refused.
    #[error("{}: {doing}: {source}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        source: io::Error,
    },
}

impl SessionError {
    pub(super) fn io(path: impl Into<PathBuf>, doing: &'static str, source: io::Error) -> Self {
        SessionError::Io { path: path.into(), doing, source }
    }

    /// What the person can do about it.
    pub fn hint(&self) -> String {
        match self {
            SessionError::Locked { .. } => {
                "let that run finish or stop it; or read this one with `leanbest replay`, or give another file name"
                    .to_owned()
            }
            SessionError::AlreadyBegun { .. } => "go on with it by `leanbest guide FILE`, or give another file name".to_owned(),
            SessionError::NotBegun { .. } => "begin one with `leanbest guide FILE --setup SETUP`".to_owned(),
            SessionError::Foreign { .. } | SessionError::NotAFile { .. } => {
                "give the name of a .tune.jsonl file, or a new name; this one is left untouched".to_owned()
            }
            SessionError::Newer { version, .. } => {
                format!("use leanbest {version} or later; this program neither reads nor adds to it")
            }
            SessionError::Damaged { last_good: Some(n), .. } => {
                format!("read the part before it with `leanbest replay FILE --until {n}`; keep the file as it is")
            }
            SessionError::Damaged { last_good: None, .. } => {
                "nothing before it can be read; keep the file as it is and look for a copy".to_owned()
            }
            SessionError::WentOn { on, .. } => format!("use {}", on.display()),
            SessionError::Full { .. } => "free some space and try again; everything saved before is safe".to_owned(),
            SessionError::NowhereToGoOn { .. } => {
                "note this reading on paper; everything saved before is in the file".to_owned()
            }
            SessionError::Unwritable { .. } => "shorten the note".to_owned(),
            SessionError::Io { .. } => "check the path, the permissions and the disk".to_owned(),
        }
    }

    /// True when reading or writing failed (exit 3); false when what was given cannot be used (exit 2).
    pub fn is_io(&self) -> bool {
        match self {
            SessionError::Full { .. } | SessionError::NowhereToGoOn { .. } | SessionError::Locked { .. } => {
                true
            }
            SessionError::Io { source, .. } => source.kind() != io::ErrorKind::NotFound,
            _ => false,
        }
    }

    /// True when only the latest record was refused and the session can go on: the caller may try again.
    pub fn not_saved(&self) -> bool {
        matches!(
            self,
            SessionError::Full { .. } | SessionError::NowhereToGoOn { .. } | SessionError::Unwritable { .. }
        )
    }
}
