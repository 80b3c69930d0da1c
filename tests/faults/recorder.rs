//! What the fault harness torments: begins or resumes a session and appends records, saying on standard output
//! what is saved, where, and what is not. `recorder FILE COUNT [PAUSE_MS]`.

use leanbest::session::{Journal, SessionError};
use serde_json::json;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(file) = arguments.first() else { return ExitCode::from(2) };
    let number = |k: usize| arguments.get(k).and_then(|text| text.parse().ok()).unwrap_or(0);
    let code = match record(Path::new(file), number(1), number(2)) {
        Ok(0) => 0,
        Ok(_) | Err(Ended::Output) => 3,
        Err(Ended::Session(error)) => {
            // Where even that cannot be said, the exit code says it.
            let _ = writeln!(io::stderr(), "{error}\n  {}", error.hint());
            if error.is_io() { 3 } else { 2 }
        }
    };
    ExitCode::from(code)
}

enum Ended {
    Session(SessionError),
    Output,
}

impl From<SessionError> for Ended {
    fn from(error: SessionError) -> Self {
        Ended::Session(error)
    }
}

impl From<io::Error> for Ended {
    fn from(_: io::Error) -> Self {
        Ended::Output
    }
}

/// Gives the number of records refused.
fn record(file: &Path, count: u64, pause_ms: u64) -> Result<u64, Ended> {
    let mut out = io::stdout();
    let mut journal = match Journal::resume(file) {
        Ok((journal, _)) => journal,
        Err(SessionError::WentOn { on, .. }) => Journal::resume(&on)?.0,
        Err(SessionError::NotBegun { .. }) => Journal::create(file, json!({"engine": "inline six"}))?,
        Err(SessionError::Io { source, .. }) if source.kind() == io::ErrorKind::NotFound => {
            Journal::create(file, json!({"engine": "inline six"}))?
        }
        Err(error) => return Err(error.into()),
    };
    writeln!(out, "saved {} {}", journal.records() - 1, journal.path().display())?;
    let mut refused = 0;
    for reading in 0..count {
        let text = "x".repeat((reading % 7 * 90) as usize);
        match journal.append("reading", &json!({"reading": reading, "vacuum_inhg": 14.5, "text": text})) {
            Ok(saved) => {
                for notice in &saved.notices {
                    writeln!(out, "notice {notice}")?;
                }
                writeln!(out, "saved {} {}", saved.n, journal.path().display())?;
            }
            Err(error) if error.not_saved() => {
                refused += 1;
                writeln!(out, "refused {error}")?;
            }
            Err(error) => return Err(error.into()),
        }
        if pause_ms > 0 {
            std::thread::sleep(Duration::from_millis(pause_ms));
        }
    }
    Ok(refused)
}
