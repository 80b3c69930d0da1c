//! Finds and reads profiles: the folder given, the user's data folder, what is compiled in, in that order.

use super::builtin::BUILT_IN;
use super::kind::{Kind, Origin};
use super::safe::safe;
use super::tree::LARGEST;
use etcetera::BaseStrategy;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// A profile's bytes and where they came from.
#[derive(Debug, Clone)]
pub(super) struct Found {
    /// What to call it in a message.
    pub(super) file: String,
    pub(super) bytes: Vec<u8>,
    pub(super) origin: Origin,
    /// The folder it is in, when it is a file.
    pub(super) folder: Option<PathBuf>,
}

/// One line of the list of profiles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Its kind.
    pub kind: Kind,
    /// The name to ask for it by.
    pub name: String,
    /// Where it is.
    pub origin: Origin,
    /// A profile of the same name stands before it.
    pub hidden: bool,
}

/// A place profiles are kept in.
struct Shelf {
    folder: PathBuf,
    given: bool,
}

/// Where profiles are looked for.
pub(super) struct Store {
    shelves: Vec<Shelf>,
}

impl Store {
    /// With the folder given on the command line, when one was.
    pub(super) fn open(given: Option<&Path>) -> Store {
        let mut shelves = Vec::new();
        if let Some(folder) = given {
            shelves.push(Shelf { folder: folder.to_owned(), given: true });
        }
        if let Some(folder) = user_folder() {
            shelves.push(Shelf { folder, given: false });
        }
        Store { shelves }
    }

    /// A profile by kind and name; `Ok(None)` when there is none of that name.
    pub(super) fn find(&self, kind: Kind, name: &str) -> Result<Option<Found>, (PathBuf, io::Error)> {
        let Some(name) = plain_name(name) else { return Ok(None) };
        for shelf in &self.shelves {
            let path = shelf.folder.join(kind.folder()).join(format!("{name}.toml"));
            match read_file(&path) {
                Ok(bytes) => {
                    let shown = path.display().to_string();
                    let origin =
                        if shelf.given { Origin::Given(shown.clone()) } else { Origin::User(shown.clone()) };
                    return Ok(Some(Found {
                        file: shown,
                        bytes,
                        origin,
                        folder: path.parent().map(Path::to_owned),
                    }));
                }
                Err(error)
                    if matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => {}
                Err(error) => return Err((path, error)),
            }
        }
        let built = BUILT_IN.iter().find(|(k, n, _)| *k == kind && *n == name);
        Ok(built.map(|(_, name, text)| Found {
            file: format!("built-in {}/{name}.toml", kind.folder()),
            bytes: text.as_bytes().to_vec(),
            origin: Origin::BuiltIn,
            folder: None,
        }))
    }

    /// Every profile there is, by kind and name; one that stands behind another of its name is marked.
    pub(super) fn list(&self) -> Vec<Listed> {
        let mut all: Vec<Listed> = Vec::new();
        for kind in Kind::ALL {
            let mut add = |name: String, origin: Origin| {
                let hidden = all.iter().any(|l| l.kind == kind && l.name == name);
                all.push(Listed { kind, name, origin, hidden });
            };
            for shelf in &self.shelves {
                for (name, path) in names_in(&shelf.folder.join(kind.folder())) {
                    add(name, if shelf.given { Origin::Given(path) } else { Origin::User(path) });
                }
            }
            for (_, name, _) in BUILT_IN.iter().filter(|(k, _, _)| *k == kind) {
                add((*name).to_owned(), Origin::BuiltIn);
            }
        }
        all.sort_by(|a, b| (a.kind, &a.name, a.hidden).cmp(&(b.kind, &b.name, b.hidden)));
        all
    }

    /// The names of a kind.
    pub(super) fn names(&self, kind: Kind) -> Vec<String> {
        self.list().into_iter().filter(|l| l.kind == kind && !l.hidden).map(|l| l.name).collect()
    }
}

/// The user's own profiles.
pub fn user_folder() -> Option<PathBuf> {
    etcetera::choose_base_strategy().ok().map(|base| base.data_dir().join("leanbest").join("profiles"))
}

/// A name that can only be a file of a profile folder: letters, digits, `-` and `_`; spaces count as `-`.
pub(super) fn plain_name(written: &str) -> Option<String> {
    let name: String =
        written.trim().to_lowercase().chars().map(|c| if c == ' ' { '-' } else { c }).collect();
    let plain = !name.is_empty()
        && name.len() <= 64
        && !name.starts_with('-')
        && name.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_'));
    plain.then_some(name)
}

/// Reads an ordinary file of at most a profile's size; a pipe, a device or a folder is refused before it is opened.
pub(super) fn read_file(path: &Path) -> io::Result<Vec<u8>> {
    if !std::fs::metadata(path)?.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is not an ordinary file"));
    }
    let mut bytes = Vec::new();
    // One byte more than is allowed is enough to know that it is too large.
    std::fs::File::open(path)?.take(LARGEST as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn names_in(folder: &Path) -> Vec<(String, String)> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut names: Vec<_> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .filter_map(|path| {
            let name = plain_name(path.file_stem()?.to_str()?)?;
            Some((name, safe(&path.display().to_string(), 300)))
        })
        .collect();
    names.sort();
    names
}
