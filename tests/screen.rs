//! The screen through a real pseudo-terminal, with another as the serial line of the instruments.

#![cfg(test)]
#![cfg(all(test, unix))]

use nix::pty::{Winsize, openpty};
use nix::sys::signal::{Signal, kill};
use nix::sys::termios::{SetArg, Termios, cfmakeraw, tcgetattr, tcsetattr};
use nix::unistd::{Pid, ttyname};
use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::{self, sleep};
use std::time::Duration;

const ON: &str = "\u{1b}[?1049h";
const OFF: &str = "\u{1b}[?1049l";

/// A logger on a serial line: a header, then 20 rows a second until it is dropped.
struct Logger {
    port: PathBuf,
    stop: Arc<AtomicBool>,
    _line: OwnedFd,
}

impl Logger {
    fn sending(row: impl Fn(f64) -> String + Send + 'static) -> Self {
        let pair = openpty(None, None).unwrap();
        let mut raw = tcgetattr(&pair.slave).unwrap();
        cfmakeraw(&mut raw);
        tcsetattr(&pair.slave, SetArg::TCSANOW, &raw).unwrap();
        let port = ttyname(&pair.slave).unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let mut line = File::from(pair.master);
        thread::spawn(move || {
            let _ = line.write_all(b"time_s,rpm,vacuum_inhg,tps_pct,lambda\n");
            let mut n = 0;
            while !stopped.load(Ordering::Relaxed) {
                let t = f64::from(n) / 20.0;
                let _ = line.write_all(format!("{t:.2},{}\n", row(t)).as_bytes());
                n += 1;
                sleep(Duration::from_millis(50));
            }
        });
        Self { port, stop, _line: pair.slave }
    }

    fn idling() -> Self {
        Self::sending(|t| {
            format!("{:.0},{:.2},1.0,{:.3}", 750.0 + 2.0 * t.sin(), 15.2 + 0.05 * (9.0 * t).sin(), 0.86)
        })
    }
}

impl Drop for Logger {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// A person at a terminal of 80 by 24.
struct Person {
    child: Child,
    terminal: OwnedFd,
    keys: File,
    seen: Arc<Mutex<Vec<u8>>>,
    before: Termios,
}

impl Person {
    fn starts(folder: &Path, arguments: &[&str]) -> Self {
        let size = Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 };
        let pair = openpty(Some(&size), None).unwrap();
        let before = tcgetattr(&pair.slave).unwrap();
        let end = || Stdio::from(pair.slave.try_clone().unwrap());
        let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
        command.env_clear().env("HOME", folder).env("TERM", "xterm").current_dir(folder).args(arguments);
        let child = command.stdin(end()).stdout(end()).stderr(end()).spawn().unwrap();
        let keys = File::from(pair.master);
        let mut from = keys.try_clone().unwrap();
        let seen = Arc::new(Mutex::new(Vec::new()));
        let into = Arc::clone(&seen);
        thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(n) = from.read(&mut buffer) {
                into.lock().unwrap().extend_from_slice(&buffer[..n]);
            }
        });
        Self { child, terminal: pair.slave, keys, seen, before }
    }

    fn seen(&self) -> String {
        String::from_utf8_lossy(&self.seen.lock().unwrap()).into_owned()
    }

    /// Waits until what is on the terminal after `from` holds this; gives where it ends.
    fn sees(&self, what: &str, from: usize) -> usize {
        for _ in 0..1500 {
            let seen = self.seen();
            if let Some(at) = seen.get(from..).and_then(|s| s.find(what)) {
                return from + at + what.len();
            }
            sleep(Duration::from_millis(20));
        }
        panic!("never saw {what:?} in {:?}", self.seen());
    }

    fn types(&mut self, keys: &str) {
        self.keys.write_all(keys.as_bytes()).unwrap();
    }

    /// Answers with Enter until the screen comes on after `from`; gives where.
    fn keeps_what_is_shown_until_the_screen(&mut self, from: usize) -> usize {
        for _ in 0..80 {
            let seen = self.seen();
            if let Some(at) = seen[from..].find(ON) {
                return from + at + ON.len();
            }
            // A question is open when the last thing on the terminal is its prompt.
            if seen.ends_with(": ") && seen.len() > from {
                // What guards people wants a yes that was meant.
                let gate = seen.lines().last().is_some_and(|l| l.contains("(y/n)"));
                self.types(if gate { "y\r" } else { "\r" });
            }
            for _ in 0..50 {
                sleep(Duration::from_millis(20));
                if self.seen().len() > seen.len() {
                    break;
                }
            }
            sleep(Duration::from_millis(100));
        }
        panic!("no screen: {:?}", self.seen());
    }

    fn is_raw(&self) -> bool {
        tcgetattr(&self.terminal).unwrap() != self.before
    }

    fn ends(&mut self) -> ExitStatus {
        for _ in 0..500 {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status;
            }
            sleep(Duration::from_millis(20));
        }
        let _ = self.child.kill();
        panic!("still running: {:?}", self.seen());
    }

    /// What was written last may still be on its way through the terminal.
    fn has_its_terminal_back(&self) {
        assert!(!self.is_raw(), "the terminal is not as it was");
        let on = self.seen().rfind(ON).expect("the screen was on") + ON.len();
        let off = self.sees(OFF, on) - OFF.len();
        self.sees("\u{1b}[?25h", off);
    }
}

fn watching(folder: &Path, logger: &Logger) -> Person {
    let person = Person::starts(folder, &["watch", "--port", &logger.port.display().to_string()]);
    let on = person.sees(ON, 0);
    // Drawn word by word, with the cursor moved between them.
    person.sees("Vacuum,", on);
    assert!(person.is_raw());
    person
}

#[test]
fn watch_leaves_on_q_and_says_what_it_saw() {
    let folder = tempfile::tempdir().unwrap();
    let logger = Logger::idling();
    let mut person = watching(folder.path(), &logger);
    person.types("q");
    assert_eq!(person.ends().code(), Some(0));
    person.has_its_terminal_back();
    person.sees("rows, 0 set aside", 0);
}

#[test]
fn a_control_c_and_every_signal_give_the_terminal_back() {
    let folder = tempfile::tempdir().unwrap();
    let logger = Logger::idling();
    for signal in [None, Some(Signal::SIGTERM), Some(Signal::SIGHUP), Some(Signal::SIGINT)] {
        let mut person = watching(folder.path(), &logger);
        match signal {
            None => person.types("\u{3}"),
            Some(signal) => kill(Pid::from_raw(person.child.id().cast_signed()), signal).unwrap(),
        }
        assert_eq!(person.ends().code(), Some(130), "{signal:?}");
        person.has_its_terminal_back();
    }
}

#[test]
fn no_screen_when_plain_is_asked_for_or_the_terminal_is_dumb() {
    let folder = tempfile::tempdir().unwrap();
    let logger = Logger::idling();
    let port = logger.port.display().to_string();
    let mut person = Person::starts(folder.path(), &["watch", "--plain", "--port", &port]);
    person.sees("15.2 inHg", 0);
    assert!(!person.is_raw());
    kill(Pid::from_raw(person.child.id().cast_signed()), Signal::SIGTERM).unwrap();
    assert_eq!(person.ends().code(), Some(130));
    assert!(!person.seen().contains('\u{1b}'), "{:?}", person.seen());
}

#[test]
fn the_guide_takes_a_reading_by_itself_and_a_key_lets_the_person_type() {
    let folder = tempfile::tempdir().unwrap();
    let logger = Logger::idling();
    let port = logger.port.display().to_string();
    let arguments = ["guide", "a.tune.jsonl", "--setup", "petrel", "--port", &port];
    let mut person = Person::starts(folder.path(), &arguments);
    let at = person.keeps_what_is_shown_until_the_screen(0);
    // The bell that says it stands.
    let at = person.sees("\u{7}", at);
    person.types("\r");
    let at = person.sees(OFF, at);
    // Which rows fell into the five seconds is the machine's affair: the speed may be one off.
    let at = person.sees("Taken: 15.2 inHg, 7", at);
    let at = person.sees(" rpm, lambda 0.86", at);
    let at = person.keeps_what_is_shown_until_the_screen(at);
    person.types("x");
    let at = person.sees(OFF, at);
    let at = person.sees("Vacuum, inHg", at);
    person.types("q\r");
    person.sees("Recorded in a.tune.jsonl", at);
    person.ends();
    person.has_its_terminal_back();
    // The mean over five seconds, as it is.
    let session = std::fs::read_to_string(folder.path().join("a.tune.jsonl")).unwrap();
    let taken = session.lines().filter(|l| l.contains("\"reading\"")).any(|l| {
        let after = l.split("\"vacuum\":\"").nth(1).unwrap_or_default();
        let inhg: String = after.chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
        inhg.parse::<f64>().is_ok_and(|v| (v - 15.2).abs() < 0.03)
    });
    assert!(taken, "the reading is not in the session: {session}");
}

/// The session of the demo as far as the first log.
fn a_session_that_waits_for_a_log(folder: &Path) -> PathBuf {
    let mut demo = Command::new(env!("CARGO_BIN_EXE_leanbest"));
    demo.env_clear().env("HOME", folder).current_dir(folder).args(["demo", "--out", "."]);
    assert!(demo.stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap().success());
    let whole = std::fs::read_to_string(folder.join("petrel-ann.tune.jsonl")).unwrap();
    let before: String =
        whole.split_inclusive('\n').take_while(|line| !line.contains("\"kind\":\"logged\"")).collect();
    assert!(before.len() < whole.len());
    let session = folder.join("again.tune.jsonl");
    std::fs::write(&session, before).unwrap();
    session
}

#[test]
fn the_guide_records_a_log_from_the_line_and_reads_it() {
    let folder = tempfile::tempdir().unwrap();
    let session = a_session_that_waits_for_a_log(folder.path());
    let logger = Logger::idling();
    let port = logger.port.display().to_string();
    let mut person = Person::starts(folder.path(), &["guide", "again.tune.jsonl", "--port", &port]);
    let at = person.keeps_what_is_shown_until_the_screen(0);
    person.sees("missing:", at);
    sleep(Duration::from_secs(4));
    person.types("\r");
    let at = person.sees(OFF, at);
    let at = person.sees("Recorded in", at);
    // What of the log the advice still lacks, and the next question.
    let at = person.keeps_what_is_shown_until_the_screen(at);
    person.types("\u{1b}");
    person.sees(OFF, at);
    person.types("q\r");
    person.ends();
    person.has_its_terminal_back();
    let log = std::fs::read_to_string(folder.path().join("again.csv")).unwrap();
    let mut lines = log.lines();
    assert_eq!(lines.next(), Some("time_s,rpm,vacuum_inhg,tps_pct,lambda"));
    let times: Vec<f64> = lines.map(|row| row.split(',').next().unwrap().parse().unwrap()).collect();
    assert!(times.len() > 40, "{} rows", times.len());
    let gap = times.windows(2).find(|w| (w[1] - w[0] - 0.05).abs() >= 1e-6);
    assert!(
        gap.is_none(),
        "a row is missing or doubled: {gap:?} of {:?} to {:?}",
        times.first(),
        times.last()
    );
    let kept = std::fs::read_to_string(session).unwrap();
    let logged = kept.lines().find(|line| line.contains("\"kind\":\"logged\"")).expect("a log is recorded");
    assert!(logged.contains("again.csv"), "{logged}");
}

impl Person {
    /// Waits until the system says that it is stopped, or that it is not.
    fn stands(&self, still: bool) {
        for _ in 0..500 {
            let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id())).unwrap_or_default();
            let state = stat.rsplit(") ").next().and_then(|s| s.chars().next());
            if (state == Some('T')) == still {
                return;
            }
            sleep(Duration::from_millis(20));
        }
        panic!("stopped or not: {:?}", self.seen());
    }

    fn is_brought_back(&self) {
        kill(Pid::from_raw(self.child.id().cast_signed()), Signal::SIGCONT).unwrap();
        self.stands(false);
    }
}

#[test]
#[cfg(target_os = "linux")]
fn the_screen_is_put_aside_and_drawn_again() {
    let folder = tempfile::tempdir().unwrap();
    let logger = Logger::idling();
    for by_key in [true, false] {
        let mut person = watching(folder.path(), &logger);
        if by_key {
            person.types("\u{1a}");
        } else {
            kill(Pid::from_raw(person.child.id().cast_signed()), Signal::SIGTSTP).unwrap();
        }
        person.stands(true);
        person.has_its_terminal_back();
        let at = person.seen().len();
        person.is_brought_back();
        let at = person.sees(ON, at);
        person.sees("Vacuum,", at);
        assert!(person.is_raw());
        person.types("q");
        assert_eq!(person.ends().code(), Some(0));
        person.has_its_terminal_back();
    }
}

#[test]
#[cfg(target_os = "linux")]
fn a_question_is_put_aside_and_asked_again_with_what_was_typed() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::starts(folder.path(), &["guide", "a.tune.jsonl", "--setup", "petrel"]);
    let at = person.sees("More (Enter): ", 0);
    person.types("ab\u{1a}");
    person.stands(true);
    assert!(!person.is_raw());
    person.sees("fg brings it back", at);
    let at = person.seen().len();
    person.is_brought_back();
    let at = person.sees("More (Enter): ab", at);
    assert!(person.is_raw());
    person.types("\r");
    person.sees("Yes? (y/n): ", at);
    person.types("\u{3}");
    assert_eq!(person.ends().code(), Some(130));
    assert!(!person.is_raw());
}

#[test]
fn the_lean_alarm_is_loud_while_a_question_stands() {
    let folder = tempfile::tempdir().unwrap();
    let logger = Logger::sending(|t| {
        let lambda = if t > 3.0 { 1.05 } else { 0.85 };
        format!("3400,1.5,95.0,{lambda:.3}")
    });
    let port = logger.port.display().to_string();
    let arguments = ["guide", "a.tune.jsonl", "--setup", "petrel", "--port", &port];
    let mut person = Person::starts(folder.path(), &arguments);
    let at = person.sees("More (Enter): ", 0);
    let at = person.sees("\u{7}\u{7}\u{7}", at);
    let at = person.sees("DANGER  LEAN AT LOAD", at);
    let at = person.sees("Close the throttle now.", at);
    // The question stands again below it.
    person.sees("More (Enter): ", at);
    person.types("\u{3}");
    assert_eq!(person.ends().code(), Some(130));
}
