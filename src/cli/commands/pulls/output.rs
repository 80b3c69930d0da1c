//! Writes the tables of `pulls` to a file.

use super::{Account, Args};
use crate::cli::Fault;
use crate::report::export::Table;
use crate::report::pulls::{curve_table, effect_table, pull_table};
use clap::ValueEnum;
use std::io::Write;
use std::path::Path;

/// Which table goes into a CSV file.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum TableName {
    /// One row for each pull
    Pulls,
    /// One row for each pull and engine speed
    Curves,
    /// One row for each label and stretch of engine speeds
    Effects,
}

/// Writes what `--export` asks for.
pub(super) fn export(args: &Args, account: &Account) -> Result<(), Fault> {
    let Some(path) = &args.export else { return Ok(()) };
    let table = |name: TableName| -> Table {
        match name {
            TableName::Pulls => pull_table(account),
            TableName::Curves => curve_table(account),
            TableName::Effects => effect_table(account),
        }
    };
    let text = match path.extension().and_then(|e| e.to_str()).map(str::to_lowercase).as_deref() {
        Some("csv") => table(args.table).to_csv(),
        Some("json") => {
            let all = [TableName::Pulls, TableName::Curves, TableName::Effects].map(table);
            let object: serde_json::Map<String, serde_json::Value> =
                all.iter().map(|t| (t.name.to_owned(), t.to_json())).collect();
            format!("{}\n", serde_json::Value::Object(object))
        }
        _ => {
            return Err(Fault::input(format!(
                "--export {}: the name must end in .csv or .json",
                path.display()
            )));
        }
    };
    write(path, text.as_bytes(), args.force)
}

/// Whole or not at all: to a temporary beside it, then into place. Never through a link, and over an existing file
/// only when told to.
fn write(path: &Path, bytes: &[u8], force: bool) -> Result<(), Fault> {
    let doing = || format!("could not write {}", path.display());
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if path.exists() && !force {
        return Err(Fault::input(format!("{} exists already", path.display()))
            .hint("give another name, or --force to overwrite it"));
    }
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(|e| Fault::io(doing(), e))?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(|e| Fault::io(doing(), e))?;
    let placed = if force { file.persist(path).map(drop) } else { file.persist_noclobber(path).map(drop) };
    placed.map_err(|e| Fault::io(doing(), e.error))
}
