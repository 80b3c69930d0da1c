//! The program under torment, and what it had promised when it ended.

use crate::table::Table;
use leanbest::session;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// What a recorder had said by the time it ended.
#[derive(Debug, Default, Clone)]
pub(crate) struct Said {
    /// Index of the last record called saved, and the file it was in.
    pub saved: Option<(u64, PathBuf)>,
    pub notices: Vec<String>,
    pub refused: u64,
}

impl Said {
    pub(crate) fn hear(&mut self, line: &str) {
        if let Some(rest) = line.strip_prefix("saved ") {
            if let Some((n, path)) = rest.split_once(' ') {
                self.saved = n.parse().ok().map(|n| (n, PathBuf::from(path)));
            }
        } else if let Some(notice) = line.strip_prefix("notice ") {
            self.notices.push(notice.to_owned());
        } else if line.starts_with("refused ") {
            self.refused += 1;
        }
    }

    fn all(output: &[u8]) -> Self {
        let mut said = Said::default();
        // A last line without its end was not yet said.
        for line in output.split_inclusive(|&byte| byte == b'\n').filter(|line| line.ends_with(b"\n")) {
            said.hear(String::from_utf8_lossy(line).trim_end());
        }
        said
    }
}

/// A program that lies beside this one.
pub(crate) fn program(name: &str) -> PathBuf {
    let here = std::env::current_exe().unwrap();
    let folder = here.parent().unwrap();
    let beside = folder.join(name);
    if beside.exists() { beside } else { folder.parent().unwrap().join(name) }
}

pub(crate) fn recorder(file: &Path, count: u64) -> Command {
    let mut command = Command::new(program("recorder"));
    command.arg(file).arg(count.to_string());
    command
}

/// Runs a command to its end, or kills it after a while; `None` then.
pub(crate) fn run(mut command: Command) -> (Option<Output>, Said) {
    let child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    match within(child, Duration::from_secs(20)) {
        Some(output) => {
            let said = Said::all(&output.stdout);
            (Some(output), said)
        }
        None => (None, Said::default()),
    }
}

fn within(mut child: Child, limit: Duration) -> Option<Output> {
    let drain = |stream: Option<Box<dyn Read + Send>>| {
        std::thread::spawn(move || {
            let mut bytes = Vec::new();
            if let Some(mut stream) = stream {
                // What could be read before the end is what was said.
                let _ = stream.read_to_end(&mut bytes);
            }
            bytes
        })
    };
    let stdout = drain(child.stdout.take().map(|stream| Box::new(stream) as Box<dyn Read + Send>));
    let stderr = drain(child.stderr.take().map(|stream| Box::new(stream) as Box<dyn Read + Send>));
    let until = now() + limit;
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break Some(status);
        }
        if now() > until {
            child.kill().unwrap();
            child.wait().unwrap();
            break None;
        }
        std::thread::sleep(Duration::from_millis(1));
    };
    let (stdout, stderr) = (stdout.join().unwrap(), stderr.join().unwrap());
    status.map(|status| Output { status, stdout, stderr })
}

#[expect(clippy::disallowed_methods, reason = "a harness needs a deadline")]
pub(crate) fn now() -> Instant {
    Instant::now()
}

/// Starts a command, lets it run for a while, kills it, and gives what it had said.
pub(crate) fn kill_after(mut command: Command, pause: Duration) -> Said {
    let mut child =
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let out = child.stdout.take().unwrap();
    let listener = std::thread::spawn(move || {
        let mut said = Said::default();
        let mut lines = BufReader::new(out);
        let mut line = String::new();
        while lines.read_line(&mut line).is_ok_and(|read| read > 0) {
            if line.ends_with('\n') {
                said.hear(line.trim_end());
            }
            line.clear();
        }
        said
    });
    std::thread::sleep(pause);
    child.kill().unwrap();
    child.wait().unwrap();
    listener.join().unwrap()
}

/// Holds what is in the file against what was promised; gives whether there was a torn tail.
pub(crate) fn judge(table: &mut Table, said: &Said, how: &str) -> bool {
    let Some((n, path)) = &said.saved else { return false };
    match session::read(path) {
        Ok(read) => {
            let found = read.records.last().map(|record| record.n);
            let lost = found.is_none_or(|found| found < *n);
            table.zero("acknowledged records lost", u64::from(lost));
            if lost {
                table.failed(&format!("{how}: record {n} was saved and {found:?} is the last found"));
            }
            table.zero("false alarms", 0);
            read.torn.is_some()
        }
        Err(error) => {
            table.zero("false alarms", 1);
            table.failed(&format!("{how}: {error}"));
            false
        }
    }
}

/// Counts panics and hangs of a run that ended by itself.
pub(crate) fn judge_end(table: &mut Table, output: Option<&Output>, how: &str) {
    table.zero("panics", u64::from(output.is_some_and(|output| output.status.code() == Some(101))));
    table.zero("hangs", u64::from(output.is_none()));
    if output.is_none_or(|output| output.status.code() == Some(101)) {
        let text =
            output.map(|output| String::from_utf8_lossy(&output.stderr).into_owned()).unwrap_or_default();
        table.failed(&format!("{how}: {text}"));
    }
}

/// A count from the environment.
pub(crate) fn count(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}
