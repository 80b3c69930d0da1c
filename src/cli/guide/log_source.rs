//! A log for the logging step: a file on disk, or text the virtual engine has just written.

use super::hands::Hands;
use crate::cli::progress::Working;
use crate::procedure::{LogTaken, Refusal, State, Tell};
use crate::trace::{Analyzer, TraceContext};
use std::fs::File;
use std::io::Read;
use std::path::PathBuf;

/// Where a log comes from.
pub enum LogSource {
    /// A CSV file.
    File(PathBuf),
    /// Standard input, to its end: a logger piped in, while the answers come from elsewhere.
    StandardInput,
}

const PIECE: usize = 256 * 1024;

impl LogSource {
    /// Reads it and sums it up for the setup as it stands.
    pub fn take(&self, state: &State, hands: &mut dyn Hands) -> Result<LogTaken, Refusal> {
        let name = match self {
            LogSource::File(path) => path.display().to_string(),
            LogSource::StandardInput => "standard input".to_owned(),
        };
        let refuse = |what: String| Refusal(format!("{name}: {what}"));
        let working = match self {
            LogSource::File(path) => Some(Working::reading(path)),
            LogSource::StandardInput => None,
        };
        let mut ctx = TraceContext::new(&state.setup, &state.job.logger);
        ctx.barometer_known &= !state.assumed("barometer");
        let mut analyzer = Analyzer::new(ctx);
        let mut file: Box<dyn Read> = match self {
            LogSource::File(path) => Box::new(File::open(path).map_err(|e| refuse(e.to_string()))?),
            LogSource::StandardInput => Box::new(std::io::stdin()),
        };
        let (mut piece, mut done) = (vec![0; PIECE], 0);
        loop {
            match file.read(&mut piece) {
                Ok(0) => break,
                Ok(n) => {
                    analyzer.push(&piece[..n]);
                    done += n as u64;
                    if let Some(working) = &working {
                        working.at(done);
                    }
                }
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => return Err(refuse(e.to_string())),
            }
        }
        drop(working);
        let trace = analyzer.finish().map_err(|e| refuse(e.to_string()))?;
        let faults: u64 = trace.fault_counts.values().sum();
        if faults > 0 {
            let first = trace.faults.first().map(|f| format!("; the first: {name}:{f}")).unwrap_or_default();
            let _ =
                hands.tell(&Tell::caution(format!("{faults} faults in the log were set aside{first}")), None);
        }
        Ok(LogTaken { source: name, weather: None, trace })
    }
}
