//! Where a session goes on when its file can no longer be trusted: `NAME.2.tune.jsonl`, a whole copy of what was
//! saved, byte for byte, followed by a `continue` record. Whoever reads it needs no other file.

use super::disk::{Disk, folder_of};
use super::read::scan_file;
use super::record::Record;
use std::io;
use std::path::{Path, PathBuf};

/// The ending of session files.
pub const ENDING: &str = ".tune.jsonl";
const MOST: u32 = 9;

/// The name of the k-th file of a session: `boat.tune.jsonl` gives `boat.2.tune.jsonl`.
pub fn numbered(path: &Path, k: u32, folder: &Path) -> PathBuf {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let stem = name.strip_suffix(ENDING).unwrap_or(&name);
    let stem = match stem.rsplit_once('.') {
        Some((stem, digits)) if digits.len() == 1 && digits.chars().all(|c| c.is_ascii_digit()) => stem,
        _ => stem,
    };
    folder.join(format!("{stem}.{k}{ENDING}"))
}

/// A new file to go on in: beside the old one if that can be, else in another folder.
pub(super) fn begin(disk: &mut dyn Disk, path: &Path) -> io::Result<(Box<dyn Disk>, PathBuf)> {
    let mut last = io::Error::from(io::ErrorKind::NotFound);
    for folder in disk.refuges() {
        for k in 2..=MOST {
            let candidate = numbered(path, k, &folder);
            match disk.new_file(&candidate) {
                Ok(file) => return Ok((file, candidate)),
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => last = error,
                Err(error) => {
                    last = error;
                    break;
                }
            }
        }
    }
    Err(last)
}

/// The file in which the session of `records` went on, when there is one beside it.
pub(super) fn went_on(path: &Path, records: &[Record]) -> Option<PathBuf> {
    let tag = &records.first()?.tag;
    let name = path.file_name()?.to_string_lossy();
    (2..=MOST).map(|k| numbered(path, k, folder_of(path))).filter(|other| other != path).find(|other| {
        scan_file(other).is_ok_and(|(scan, _)| {
            let from_here = |record: &Record| {
                record.kind == "continue"
                    && record.payload.get("from").and_then(|from| from.as_str()) == Some(&*name)
            };
            scan.records.first().is_some_and(|first| first.tag == *tag) && scan.records.iter().any(from_here)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::disk::LockedFile;
    use crate::session::record::{Envelope, open, seal};
    use std::time::Duration;

    fn named(path: &str) -> String {
        numbered(Path::new(path), 3, Path::new("")).display().to_string()
    }

    #[test]
    fn only_a_number_of_one_digit_is_counted_on() {
        assert_eq!(named("in/boat.tune.jsonl"), "boat.3.tune.jsonl");
        assert_eq!(named("boat.2.tune.jsonl"), "boat.3.tune.jsonl");
        assert_eq!(named("boat.x.tune.jsonl"), "boat.x.3.tune.jsonl");
        assert_eq!(named("boat.12.tune.jsonl"), "boat.12.3.tune.jsonl");
        assert_eq!(named("boat.tune.jsonl.bak"), "boat.tune.jsonl.bak.3.tune.jsonl");
    }

    #[test]
    fn the_next_free_number_beside_the_file_is_taken() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("boat.tune.jsonl");
        std::fs::write(folder.path().join("boat.2.tune.jsonl"), "someone's").unwrap();
        let mut disk = LockedFile::create(&path).unwrap();
        let (_, on) = begin(&mut disk, &path).unwrap();
        assert_eq!(on, folder.path().join("boat.3.tune.jsonl"));
        assert_eq!(std::fs::read(folder.path().join("boat.2.tune.jsonl")).unwrap(), b"someone's");
    }

    fn line(n: u64, tag: &str, previous: &str, kind: &str, payload: &str) -> Vec<u8> {
        let at = "2026-05-03T10:00:00Z".parse().unwrap();
        let up = Duration::from_millis(n);
        seal(&Envelope { n, tag, run: 1, at, up, durable: n, kind, previous }, payload.as_bytes())
    }

    fn file(tag: &str, second: &str, payload: &str) -> (Vec<Record>, Vec<u8>) {
        let opening = r#"{"program":"leanbest","version":"0.1.0","format":1,"need":[],"opening":{}}"#;
        let first = line(0, tag, "", "open", opening);
        let record = open(first.trim_ascii_end(), 1).unwrap();
        let bytes = [first, line(1, tag, &record.check, second, payload)].concat();
        (vec![record], bytes)
    }

    #[test]
    fn it_went_on_where_the_same_session_says_it_came_from_here() {
        let from = r#"{"from":"boat.tune.jsonl"}"#;
        for (tag, kind, payload, there) in [
            ("k7q2m", "continue", from, true),
            ("other", "continue", from, false),
            ("k7q2m", "noted", from, false),
            ("k7q2m", "continue", r#"{"from":"ship.tune.jsonl"}"#, false),
        ] {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("boat.tune.jsonl");
            let on = folder.path().join("boat.2.tune.jsonl");
            let (records, _) = file("k7q2m", "noted", "{}");
            std::fs::write(&on, file(tag, kind, payload).1).unwrap();
            assert_eq!(went_on(&path, &records), there.then_some(on), "{tag} {kind} {payload}");
        }
    }
}
