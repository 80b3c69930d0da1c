//! `watch` on standard input and on a pseudo-terminal pair that stands for the serial line.

#![cfg(test)]

use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::ffi::OsStrExt as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

const HEADER: &str = "time_s,rpm,vacuum_inhg,tps_pct,lambda\n";
/// Longest wait for a sentence that must come; far more than it needs.
const PATIENCE: Duration = Duration::from_secs(20);

/// The near end of a serial line, whose far end the program opens.
struct Wire {
    near: File,
    far: PathBuf,
    _held: std::os::fd::OwnedFd,
}

/// A program started while a wire is being made would hold its near end open too.
static MAKING: std::sync::Mutex<()> = std::sync::Mutex::new(());

fn wire() -> Wire {
    use nix::fcntl::{FcntlArg, FdFlag, fcntl};
    let _alone = MAKING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let pair = nix::pty::openpty(None, None).unwrap();
    for end in [&pair.master, &pair.slave] {
        fcntl(end, FcntlArg::F_SETFD(FdFlag::FD_CLOEXEC)).unwrap();
    }
    let far = nix::unistd::ttyname(&pair.slave).unwrap();
    Wire { near: File::from(pair.master), far, _held: pair.slave }
}

struct Program {
    child: Child,
    lines: Receiver<String>,
}

impl Program {
    fn start(port: &Path) -> Self {
        let alone = MAKING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let mut child = Command::new(env!("CARGO_BIN_EXE_leanbest"))
            .args(["watch", "--port"])
            .arg(port)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        drop(alone);
        let (send, lines) = channel();
        let out = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || out.lines().map_while(Result::ok).try_for_each(|l| send.send(l)));
        let program = Self { child, lines };
        program.wait_for("Watching");
        program
    }

    /// Waits for a line with these words.
    fn wait_for(&self, words: &str) -> String {
        let mut seen = Vec::new();
        loop {
            match self.lines.recv_timeout(PATIENCE) {
                Ok(line) if line.contains(words) => return line,
                Ok(line) => seen.push(line),
                Err(e) => panic!("no \"{words}\" ({e}) after {seen:#?}"),
            }
        }
    }

    fn interrupt(mut self) -> i32 {
        let id = nix::unistd::Pid::from_raw(i32::try_from(self.child.id()).unwrap());
        nix::sys::signal::kill(id, nix::sys::signal::Signal::SIGINT).unwrap();
        self.child.wait().unwrap().code().unwrap()
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn send(wire: &mut Wire, text: &str) {
    wire.near.write_all(text.as_bytes()).unwrap();
    wire.near.flush().unwrap();
}

/// Rows at 20 Hz for so long.
fn feed(wire: &mut Wire, from: u32, rows: u32, row: impl Fn(u32) -> String) {
    for i in from..from + rows {
        send(wire, &format!("{:.2},{}\n", f64::from(i) / 20.0, row(i)));
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn lean_at_load_says_close_the_throttle() {
    let mut wire = wire();
    let program = Program::start(&wire.far);
    send(&mut wire, HEADER);
    feed(&mut wire, 0, 30, |i| format!("3500,1.0,95.0,0.9{}", 50 + i % 7));
    let alarm = program.wait_for("LEAN AT LOAD");
    assert!(alarm.contains("CLOSE THE THROTTLE"), "{alarm}");
    assert_eq!(program.interrupt(), 130);
}

#[test]
fn half_lines_garbage_and_a_lost_line() {
    let folder = tempfile::tempdir().unwrap();
    let port = folder.path().join("gauge");
    let mut first = wire();
    std::os::unix::fs::symlink(&first.far, &port).unwrap();
    let program = Program::start(&port);
    send(&mut first, "0,15.0,1.0\n");
    send(&mut first, HEADER);
    send(&mut first, "0.00,800,15.0,1.");
    std::thread::sleep(Duration::from_millis(200));
    send(&mut first, "0,0.900\n");
    program.wait_for("800 rpm");
    for i in 0..60u8 {
        first.near.write_all(&[0xf1 ^ (i & 7), 0xa2, 0x93, b'\n']).unwrap();
    }
    program.wait_for("cannot be read");
    drop(first);
    program.wait_for("LINE LOST");
    let mut second = wire();
    std::fs::remove_file(&port).unwrap();
    std::os::unix::fs::symlink(&second.far, &port).unwrap();
    program.wait_for("Line back");
    feed(&mut second, 100, 20, |_| "812,15.0,1.0,0.910".to_owned());
    program.wait_for("812 rpm");
    assert!(port.as_os_str().as_bytes().len() > 1);
    assert_eq!(program.interrupt(), 130);
}

#[test]
fn a_line_that_stalls_and_a_sensor_that_sticks() {
    let mut wire = wire();
    let program = Program::start(&wire.far);
    send(&mut wire, HEADER);
    feed(&mut wire, 0, 60, |i| format!("{},12.0,20.0,0.950", 2000 + 10 * i));
    program.wait_for("sensor is stuck");
    program.wait_for("No readings for 3 s");
    feed(&mut wire, 60, 2, |_| "2000,12.0,20.0,0.93".to_owned());
    program.wait_for("Readings again");
    assert_eq!(program.interrupt(), 130);
}

#[test]
fn a_flood_is_read_whole() {
    let mut wire = wire();
    let program = Program::start(&wire.far);
    send(&mut wire, HEADER);
    let many: String = (0..20_000)
        .map(|i| format!("{:.4},900,15.0,1.0,0.9{:02}\n", f64::from(i) / 10_000.0, i % 90))
        .collect();
    send(&mut wire, &many);
    std::thread::sleep(Duration::from_millis(300));
    let pid = nix::unistd::Pid::from_raw(i32::try_from(program.child.id()).unwrap());
    // Everything written before the interruption has been taken, or is said to be lost.
    program.wait_for("900 rpm");
    feed(&mut wire, 100, 20, |_| "901,15.0,1.0,0.9".to_owned());
    program.wait_for("901 rpm");
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGINT).unwrap();
    let end = program.wait_for("set aside");
    let rows: u64 = end.split(' ').next().unwrap().parse().unwrap();
    assert!(rows >= 20_010, "{end}");
}

#[test]
fn a_clock_that_jumps_a_line_without_end_and_the_wrong_speed() {
    let mut wire = wire();
    let program = Program::start(&wire.far);
    send(&mut wire, HEADER);
    feed(&mut wire, 100, 10, |_| "800,15.0,1.0,0.900".to_owned());
    feed(&mut wire, 0, 10, |_| "801,15.0,1.0,0.900".to_owned());
    let jump = program.wait_for("clock jumped");
    assert!(jump.contains("from 5.45 s to 0.00 s"), "{jump}");
    // The end of a line is lost: the next line end is where it is read again.
    send(&mut wire, &"9".repeat(9000));
    send(&mut wire, "\n");
    feed(&mut wire, 10, 15, |_| "802,15.0,1.0,0.900".to_owned());
    program.wait_for("802 rpm");
    // At the wrong speed every byte is another.
    let wrong: Vec<u8> = (0..4000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8 | 0x80).collect();
    for piece in wrong.chunks(25) {
        wire.near.write_all(&[piece, b"\n"].concat()).unwrap();
    }
    let said = program.wait_for("cannot be read");
    assert!(said.contains("--baud"), "{said}");
    feed(&mut wire, 25, 15, |_| "803,15.0,1.0,0.900".to_owned());
    program.wait_for("803 rpm");
    assert_eq!(program.interrupt(), 130);
}

/// Memory of a process that is its own, KiB.
fn memory_kib(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status.lines().find(|l| l.starts_with("VmRSS:")).unwrap();
    line.split_ascii_whitespace().nth(1).unwrap().parse().unwrap()
}

/// Ten thousand rows a second with garbage, half lines, a stuck sensor, a clock that wraps and pauses between; every
/// good row is counted, memory stands, and the line is still read in the end.
fn soak(seconds: u32) {
    let mut wire = wire();
    let program = Program::start(&wire.far);
    let clock = leanbest::bench::clock::Stopwatch::start();
    send(&mut wire, HEADER);
    let mut good = 0u64;
    let mut early_kib = 0;
    for tenth in 0..seconds * 10 {
        let mut text = String::new();
        for i in 0..1000u32 {
            let t = f64::from((tenth * 1000 + i) % 655_360) / 10_000.0;
            let lambda = if tenth % 50 < 25 { 900 } else { 880 + i % 40 };
            let _ = writeln!(text, "{t:.4},{},15.0,1.0,0.{lambda:03}", 900 + i % 30);
            good += 1;
        }
        match tenth % 10 {
            3 => text.push_str("0.1,9"),
            4 => text.insert(0, '\n'),
            6 => text.push_str("\u{fffd}\u{fffd}garbage\0\n,,,,,,,,\n"),
            _ => {}
        }
        send(&mut wire, &text);
        let due = Duration::from_millis(100) * (tenth + 1);
        std::thread::sleep(due.saturating_sub(Duration::from_secs_f64(clock.now().as_s())));
        if tenth == 15 {
            early_kib = memory_kib(program.child.id());
        }
    }
    let late_kib = memory_kib(program.child.id());
    assert!(late_kib < early_kib + 4096 && late_kib < 64 * 1024, "{early_kib} KiB became {late_kib} KiB");
    feed(&mut wire, 100, 20, |_| "1234,15.0,1.0,0.9".to_owned());
    program.wait_for("1234 rpm");
    let pid = nix::unistd::Pid::from_raw(i32::try_from(program.child.id()).unwrap());
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGINT).unwrap();
    let end = program.wait_for("set aside");
    let rows: u64 = end.split(' ').next().unwrap().parse().unwrap();
    assert!(rows >= good, "{rows} of {good}: {end}");
}

#[test]
fn a_flood_with_everything_in_it_for_five_seconds() {
    soak(5);
}

/// `cargo test --release --test watch -- --ignored` before a release.
#[test]
#[ignore = "takes ten minutes"]
fn a_flood_with_everything_in_it_for_ten_minutes() {
    soak(600);
}

#[test]
fn standard_input_ends_with_what_is_lacking_and_a_missing_device_says_what_there_is() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(["watch", "--json"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let text = format!("{HEADER}0.0,800,15.0,1.0,0.9\n0.1,800,15.0,1.0,0.9\n");
    child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success());
    let last = String::from_utf8(out.stdout).unwrap();
    let last: serde_json::Value = serde_json::from_str(last.lines().last().unwrap()).unwrap();
    assert_eq!(last["rows"], 2);
    assert!(last["lacks"].as_array().unwrap().iter().any(|l| l["regime"] == "full-throttle"));
    let out = Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(["watch", "--port", "/dev/no-such-gauge"])
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&out.stderr).contains("no such device"));
}
