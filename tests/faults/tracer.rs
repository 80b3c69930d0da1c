//! Killed at every system call, and every system call failed, by the injection of `strace`.

use crate::subject::{Said, judge, judge_end, program, run as run_command};
use crate::table::Table;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::Command;

const CALLS: [&str; 12] = [
    "openat",
    "read",
    "write",
    "lseek",
    "fstat,statx,newfstatat",
    "flock",
    "fsync",
    "fdatasync",
    "ftruncate",
    "unlink",
    "mmap",
    "rt_sigaction",
];
/// A call is failed at most so often; a session of six records makes fewer of each.
const MOST: u32 = 60;

fn traced(file: &Path, injection: &str, calls: &str) -> Command {
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("trace={calls}")]);
    command.args(["-e", &format!("inject={calls}:{injection}")]);
    command.arg(program("recorder")).arg(file).arg("5");
    command
}

pub(crate) fn run(table: &mut Table) {
    let there = Command::new("strace").arg("-V").output().is_ok_and(|output| output.status.success());
    if !there {
        table.skipped("kills and errors at every system call: strace is not installed");
        return;
    }
    let probe = tempfile::tempdir().unwrap();
    let (output, _) = run_command(traced(&probe.path().join("a.tune.jsonl"), "error=EIO:when=900", "fsync"));
    if !output.is_some_and(|output| output.status.success()) {
        table.skipped("kills and errors at every system call: strace may not trace or inject here");
        return;
    }
    for calls in CALLS {
        for resumed in [false, true] {
            kills(table, calls, resumed);
            for error in ["EIO", "ENOSPC", "EINTR"] {
                errors(table, calls, error, resumed, "");
                // Interrupted for ever is a loop inside the standard library too: not asked.
                if error != "EINTR" {
                    errors(table, calls, error, resumed, "+");
                }
            }
        }
    }
}

fn prepared(resumed: bool) -> (tempfile::TempDir, std::path::PathBuf, Said) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("skiff.tune.jsonl");
    let mut before = Said::default();
    if resumed {
        before = run_command(crate::subject::recorder(&file, 3)).1;
    }
    (folder, file, before)
}

/// Ends when a run is no longer reached by the injection.
fn kills(table: &mut Table, calls: &str, resumed: bool) {
    for when in 1..MOST {
        let (_folder, file, before) = prepared(resumed);
        let (output, said) = run_command(traced(&file, &format!("signal=SIGKILL:when={when}"), calls));
        let said = if said.saved.is_some() { said } else { before };
        let how = format!("killed at {calls} number {when}");
        let torn = judge(table, &said, &how);
        table.count("kill -9 that left a torn tail", u64::from(torn));
        let killed =
            output.is_none_or(|output| output.status.signal() == Some(9) || !output.status.success());
        if !killed {
            return;
        }
        table.count("kill -9 at each system call", 1);
        // And what is there can be gone on with.
        let (output, again) = run_command(crate::subject::recorder(&file, 1));
        let whole = output.is_some_and(|output| output.status.success());
        table.hold(whole, &format!("{how}: the session could not be gone on with"));
        judge(table, &again, &how);
    }
}

fn errors(table: &mut Table, calls: &str, error: &str, resumed: bool, for_good: &str) {
    for when in 1..MOST {
        let (_folder, file, before) = prepared(resumed);
        let (output, said) =
            run_command(traced(&file, &format!("error={error}:when={when}{for_good}"), calls));
        let how = format!("{error} at {calls} number {when}{for_good}");
        judge_end(table, output.as_ref(), &how);
        let told = said.saved.is_some();
        let failed = output.as_ref().is_some_and(|output| !output.status.success());
        judge(table, if told { &said } else { &before }, &how);
        table.count("errors at each system call", 1);
        table.count("errors that moved the session to another file", u64::from(!said.notices.is_empty()));
        table.count("errors that refused a record", u64::from(said.refused > 0));
        // Reached no more: the run went as if nothing had been injected.
        let clean = !failed && said.notices.is_empty() && said.refused == 0;
        if clean && when > 12 {
            return;
        }
    }
}
