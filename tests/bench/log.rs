//! How fast a log is read: parse alone and the whole pass, in bytes and rows a second, and as so many times what
//! reading its bytes alone takes in the same run.
//!
//! `cargo bench --bench log`; a file's path as argument reads that log, otherwise one of about 64 MB is made.

#![allow(clippy::print_stdout, reason = "a benchmark prints its figures")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops where it fails")]

use leanbest::bench::clock::Stopwatch;
use leanbest::bench::log_file::read_log;
use leanbest::trace::{Analyzer, LoggerProfile, Rows, TraceContext};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

const CHUNK: usize = 1 << 18;
const RUNS: usize = 5;

fn ctx() -> TraceContext {
    TraceContext::bare(&LoggerProfile::standard())
}

fn made() -> tempfile::NamedTempFile {
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    let mut text =
        "time_s,rpm,map_kpa,tps_pct,lambda,coolant_c,iat_c,fuel_pressure_kpa,vbat_v,marker\n".to_owned();
    for i in 0u32..1_200_000 {
        let t = f64::from(i) / 100.0;
        let noise = f64::from(i.wrapping_mul(2_654_435_761) >> 20) / 4096.0 - 0.5;
        let (rpm, map, tps, lambda) = match t % 60.0 {
            p if p < 15.0 => (750.0, 42.0, 0.5, 0.90),
            p if p < 40.0 => (2000.0, 62.0, 25.5, 0.95),
            p if p < 47.0 => (2000.0 + 300.0 * (p - 40.0), 98.0, 98.0, 0.84),
            _ => (1500.0, 25.0, 0.5, 1.1),
        };
        let _ = writeln!(
            text,
            "{t:.2},{:.0},{:.1},{tps:.2},{:.3},88.1,38.2,{:.1},13.90,",
            rpm + 9.0 * noise,
            map + noise,
            lambda + 0.02 * noise,
            41.0 + noise
        );
        if text.len() > 1 << 20 {
            file.write_all(text.as_bytes()).expect("room for the log");
            text.clear();
        }
    }
    file.write_all(text.as_bytes()).expect("room for the log");
    file
}

/// The best of several runs, in seconds.
fn best(mut run: impl FnMut()) -> f64 {
    (0..RUNS)
        .map(|_| {
            let clock = Stopwatch::start();
            run();
            clock.now().as_s()
        })
        .fold(f64::INFINITY, f64::min)
}

fn bytes_alone(path: &Path) -> u64 {
    let mut file = File::open(path).expect("the log");
    let mut buffer = vec![0; CHUNK];
    let mut sum = 0;
    loop {
        match file.read(&mut buffer).expect("the log") {
            0 => return sum,
            n => sum += n as u64,
        }
    }
}

fn parse_alone(path: &Path) {
    let mut file = File::open(path).expect("the log");
    let mut buffer = vec![0; CHUNK];
    let mut first = vec![0; 1 << 20];
    let n = file.read(&mut first).expect("the log");
    let mut analyzer = Analyzer::new(ctx());
    analyzer.push(&first[..n]);
    let shape = analyzer.shape().expect("a header");
    let mut rows = Rows::default();
    loop {
        match file.read(&mut buffer).expect("the log") {
            0 => return,
            n => {
                let begins = memchr::memchr(shape.line_end(), &buffer[..n]).map_or(n, |at| at + 1);
                shape.read(&buffer[begins..n], &mut rows);
            }
        }
    }
}

fn main() {
    let given = std::env::args().skip(1).find(|a| !a.starts_with("--")).map(PathBuf::from);
    let made = if given.is_none() { Some(made()) } else { None };
    let path = given.unwrap_or_else(|| made.as_ref().expect("made above").path().to_owned());
    let rows = read_log(&path, ctx()).expect("a log").rows as f64;
    let megabytes = bytes_alone(&path) as f64 / 1e6;
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{megabytes:.0} MB, {rows:.0} rows; the best of {RUNS} runs of each");
    let _ = writeln!(out, "{:<32} {:>8} {:>10} {:>10} {:>16}", "", "s", "MB/s", "Mrows/s", "of bytes alone");
    let alone = best(|| {
        bytes_alone(&path);
    });
    let mut say = |what: &str, seconds: f64| {
        let _ = writeln!(
            out,
            "{what:<32} {seconds:>8.3} {:>10.1} {:>10.2} {:>14.1} x",
            megabytes / seconds,
            rows / seconds / 1e6,
            seconds / alone
        );
    };
    say("reading the bytes alone", alone);
    say("parse alone, one thread", best(|| parse_alone(&path)));
    say(
        "the whole pass, one thread",
        best(|| {
            let mut analyzer = Analyzer::new(ctx());
            let mut file = File::open(&path).expect("the log");
            let mut buffer = vec![0; CHUNK];
            loop {
                match file.read(&mut buffer).expect("the log") {
                    0 => break,
                    n => analyzer.push(&buffer[..n]),
                }
            }
            analyzer.finish().expect("a log");
        }),
    );
    say(
        "the whole pass, every core",
        best(|| {
            read_log(&path, ctx()).expect("a log");
        }),
    );
}
