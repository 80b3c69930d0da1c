//! Taking a file to record into: the lock, who holds it, the tag of a new session, the signal of a size limit.

use super::disk::OpenError;
use super::error::SessionError;
use super::{read, record};
use std::hash::{BuildHasher, Hasher};
use std::path::Path;

/// Turns the signal that would end the program at a file size limit into an orderly error from the write.
pub(super) fn ignore_size_signal(path: &Path) -> Result<(), SessionError> {
    #[cfg(unix)]
    {
        static IGNORED: std::sync::Once = std::sync::Once::new();
        let mut refused = Ok(());
        IGNORED.call_once(|| {
            refused = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, std::sync::Arc::default())
                .map(drop);
        });
        refused
            .map_err(|error| SessionError::io(path, "the file size signal could not be ignored", error))?;
    }
    Ok(())
}

/// The refusal of an open, worded.
pub(super) fn opened(path: &Path, error: OpenError) -> SessionError {
    let path = path.to_owned();
    match error {
        OpenError::Busy => SessionError::Locked { who: holder(&path), path },
        OpenError::NotAFile => SessionError::NotAFile { path },
        OpenError::Io(source) => SessionError::io(path, "could not be opened for recording", source),
    }
}

/// Who holds the file, as its last run says.
fn holder(path: &Path) -> String {
    let Ok((scan, _)) = read::scan_file(path) else { return String::new() };
    let begun =
        scan.records.iter().rev().find(|record| record::number_in(&record.payload, "process").is_some());
    begun.map_or_else(String::new, |record| {
        let process = record::number_in(&record.payload, "process").unwrap_or(0);
        format!(" (process {process}, since {:.0})", record.at)
    })
}

/// Five letters and digits that no other session is likely to carry.
pub(super) fn random_tag() -> String {
    const LETTERS: &[u8; 32] = b"abcdefghijkmnpqrstuvwxyz23456789";
    let mut bits = std::collections::hash_map::RandomState::new().build_hasher().finish();
    (0..5)
        .map(|_| {
            let letter = LETTERS.get(bits as usize % LETTERS.len()).copied().unwrap_or(b'a');
            bits /= LETTERS.len() as u64;
            char::from(letter)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::random_tag;
    use std::collections::BTreeSet;

    #[test]
    fn tags_are_five_letters_of_thirty_two_in_every_place() {
        let tags: Vec<String> = (0..2000).map(|_| random_tag()).collect();
        assert!(tags.iter().all(|tag| tag.len() == 5));
        for place in 0..5 {
            let letters: BTreeSet<u8> = tags.iter().map(|tag| tag.as_bytes()[place]).collect();
            assert_eq!(letters.len(), 32, "in place {place}");
        }
        let alike = tags.iter().filter(|tag| tag.as_bytes()[3] == tag.as_bytes()[4]).count();
        assert!(alike < 200, "one place follows the other in {alike} of 2000");
        assert!(tags.iter().collect::<BTreeSet<_>>().len() > 1990);
    }
}
