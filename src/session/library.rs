//! A folder of sessions, each in brief, newest first.

use super::continuation::ENDING;
use super::error::SessionError;
use super::read::{damaged, recovered, scan_file};
use super::record::Record;
use jiff::Timestamp;
use std::path::{Path, PathBuf};

/// One session in brief.
#[derive(Debug)]
pub struct Brief {
    /// The file.
    pub path: PathBuf,
    /// What is in it, or why it cannot be read.
    pub content: Result<Content, SessionError>,
}

/// What a readable session holds, in brief.
#[derive(Debug, Clone, PartialEq)]
pub struct Content {
    /// When it began.
    pub began: Timestamp,
    /// When its last record was made.
    pub ended: Timestamp,
    /// How often it was taken up, the first time included.
    pub runs: u64,
    /// All its records; the opening's payload is what the caller opened with.
    pub records: Vec<Record>,
    /// What a person should be told.
    pub notes: Vec<String>,
    /// The first damage in words; the records are those before it.
    pub damage: Option<String>,
}

/// The sessions in a folder, newest first; those that cannot be read come last. Sub-folders are not looked into.
pub fn list(folder: &Path) -> Result<Vec<Brief>, SessionError> {
    let io = |source| SessionError::io(folder, "could not be listed", source);
    let mut briefs = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(io)? {
        let path = entry.map_err(io)?.path();
        if path.file_name().is_some_and(|name| name.to_string_lossy().ends_with(ENDING)) {
            let content = content(&path);
            briefs.push(Brief { path, content });
        }
    }
    briefs.sort_by(|a, b| {
        let key = |brief: &Brief| brief.content.as_ref().ok().map(|content| content.began);
        key(b).cmp(&key(a)).then_with(|| a.path.cmp(&b.path))
    });
    Ok(briefs)
}

fn content(path: &Path) -> Result<Content, SessionError> {
    let (scan, _) = scan_file(path)?;
    let damage = scan.damage.as_ref().map(|damage| damaged(path, damage, &scan));
    let read = recovered(scan);
    let (Some(first), Some(last)) = (read.records.first(), read.records.last()) else {
        return Err(damage.unwrap_or(SessionError::NotBegun { path: path.to_owned() }));
    };
    Ok(Content {
        began: first.at,
        ended: last.at,
        runs: last.run,
        notes: read.notes,
        damage: damage.map(|damage| damage.to_string()),
        records: read.records,
    })
}
