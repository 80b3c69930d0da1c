//! A program on the other end of the link, with a simple engine behind it, and a folder of its own.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Output, Stdio};

/// The program, with nothing of the machine's own settings.
pub(crate) fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
    command.env_clear().env("HOME", folder).env("TERM", "xterm").current_dir(folder);
    command
}

/// A folder that goes away with it.
pub(crate) fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// What a run of the program to its end gives.
pub(crate) fn run(folder: &Path, arguments: &[&str]) -> Output {
    program(folder).args(arguments).output().expect("it runs")
}

/// What it answers as JSON.
pub(crate) fn answer(folder: &Path, arguments: &[&str]) -> Value {
    let mut all = arguments.to_vec();
    all.push("--json");
    let out = run(folder, &all);
    serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&out.stderr)))
}

/// One run of the program on the link.
pub(crate) struct Link {
    pub(crate) child: Child,
    answers: Option<ChildStdin>,
    asks: BufReader<ChildStdout>,
    /// Records known to be on the disk, as last said.
    pub(crate) saved: u64,
}

impl Link {
    pub(crate) fn start(folder: &Path, arguments: &[&str]) -> Self {
        let mut child = program(folder)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let answers = child.stdin.take();
        let asks = BufReader::new(child.stdout.take().expect("stdout"));
        Self { child, answers, asks, saved: 0 }
    }

    /// The next line that wants an answer, or the result; `None` at the end of output.
    pub(crate) fn next(&mut self) -> Option<Value> {
        loop {
            let mut line = String::new();
            if self.asks.read_line(&mut line).ok()? == 0 {
                return None;
            }
            let value: Value =
                serde_json::from_str(&line).unwrap_or_else(|e| panic!("not a JSON line: {line:?}: {e}"));
            if let Some(saved) = value["saved"].as_u64() {
                self.saved = self.saved.max(saved);
            }
            if value.get("tell").is_none() {
                return Some(value);
            }
        }
    }

    /// Every line up to and including the next that is not a tell.
    pub(crate) fn next_with_tells(&mut self) -> (Vec<Value>, Option<Value>) {
        let mut tells = Vec::new();
        loop {
            let mut line = String::new();
            if self.asks.read_line(&mut line).unwrap_or(0) == 0 {
                return (tells, None);
            }
            let value: Value = serde_json::from_str(&line).expect("a JSON line");
            if value.get("tell").is_none() {
                return (tells, Some(value));
            }
            tells.push(value);
        }
    }

    pub(crate) fn answer(&mut self, answer: &Value) {
        if let Some(pipe) = &mut self.answers {
            // A program that has just ended is noticed by the next read.
            let _ = writeln!(pipe, "{answer}");
        }
    }

    pub(crate) fn hang_up(&mut self) {
        self.answers = None;
    }

    pub(crate) fn code(mut self) -> Option<i32> {
        self.hang_up();
        self.child.wait().expect("it ends").code()
    }
}

/// An idling engine of two screws: the best is 1.25 turns out, a turn off costs vacuum, more on the lean side.
pub(crate) struct Engine {
    pub(crate) screws: Vec<f64>,
    pub(crate) speed: f64,
    pub(crate) log: Option<PathBuf>,
}

impl Engine {
    pub(crate) fn new(screws: usize) -> Self {
        Self { screws: vec![1.75; screws], speed: 760.0, log: None }
    }

    pub(crate) fn vacuum(&self) -> f64 {
        let loss: f64 =
            self.screws.iter().map(|s| if *s < 1.25 { 6.0 } else { 3.0 } * (s - 1.25).powi(2)).sum();
        17.6 - loss * 2.0 / self.screws.len() as f64
    }

    /// What this engine answers to a request.
    pub(crate) fn answer(&mut self, ask: &Value) -> Value {
        match ask["ask"].as_str() {
            Some("confirm") => json!({ "yes": true }),
            Some("choose") => {
                json!({ "choice": ask["default"].as_str().or_else(|| ask["options"][0].as_str()) })
            }
            Some("value") => match ask["name"]
                .as_str()
                .and_then(|n| n.strip_prefix("turns-out."))
                .and_then(|n| n.parse::<usize>().ok())
            {
                Some(screw) => json!({ "value": format!("{} turns", self.screws[screw - 1]) }),
                None => json!({ "value": ask["default"] }),
            },
            Some("turn") => {
                let by = ask["by_turns"].as_f64().expect("by_turns");
                for screw in ask["screws"].as_array().expect("screws") {
                    self.screws[screw.as_u64().expect("a screw") as usize - 1] += by;
                }
                json!({ "done": true })
            }
            Some("idle_speed") => {
                self.speed = ask["toward_rpm"].as_f64().expect("toward_rpm");
                json!({ "done": true })
            }
            Some("reading") => json!({
                "vacuum": format!("{:.1} inHg", self.vacuum()),
                "speed": format!("{:.0} rpm", self.speed),
            }),
            Some("log") => match &self.log {
                Some(path) => json!({ "file": path }),
                None => json!({ "cannot": true, "why": "no logger" }),
            },
            Some("change") => json!({ "done": true }),
            other => panic!("an ask of a kind that the contract does not name: {other:?} in {ask}"),
        }
    }
}

/// Answers everything until the result or the end of output.
pub(crate) fn to_the_end(link: &mut Link, engine: &mut Engine) -> Option<Value> {
    for _ in 0..600 {
        let line = link.next()?;
        if let Some(result) = line.get("result") {
            return Some(result.clone());
        }
        let answer = engine.answer(&line);
        link.answer(&answer);
    }
    panic!("600 questions and no end");
}
