//! What README.md shows is what the program prints.
//!
//! Every line `$ ...` of a block that opens with "```console" is run, in order, in one folder, beside the files
//! of tests/readme. In a plain block
//! the output must be the same, character for character. In a block marked `sample` it is an example: its figures move
//! with the simulated engine, so the command must only end as it should. `head=N`, `tail=N`: only so many lines are
//! shown. `code=N`: how it ends, 0 when left out.
//!
//! Pictures that README.md links are drawn by the same commands, under the same names.
//!
//! `LEANBEST_BLESS=1 cargo test --test readme` writes the output of today into README.md, and its pictures
//! into tests/readme, to be looked at before they are committed.

#![cfg(test)]

use std::path::Path;
use std::process::{Command, Stdio};

/// How one block is run and held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Manner {
    sample: bool,
    head: Option<usize>,
    tail: Option<usize>,
    code: i32,
}

impl Manner {
    fn read(words: &str) -> Self {
        let number = |key: &str| {
            words.split_whitespace().find_map(|w| w.strip_prefix(key)).map(|n| n.parse().expect(words))
        };
        Self {
            sample: words.split_whitespace().any(|w| w == "sample"),
            head: number("head=").map(|n: i32| n as usize),
            tail: number("tail=").map(|n: i32| n as usize),
            code: number("code=").unwrap_or(0),
        }
    }

    fn shown(self, output: &str) -> Vec<String> {
        let lines: Vec<String> = output.trim_end().lines().map(|l| l.trim_end().to_owned()).collect();
        let dots = || "...".to_owned();
        match (self.head, self.tail) {
            (Some(n), _) if lines.len() > n => lines.iter().take(n).cloned().chain([dots()]).collect(),
            (_, Some(n)) if lines.len() > n => {
                [dots()].into_iter().chain(lines.iter().skip(lines.len() - n).cloned()).collect()
            }
            _ => lines,
        }
    }
}

/// Runs one command of the README in a shell, so that it may be what a person types: with a pipe, or a file.
fn run(command: &str, folder: &Path, manner: Manner) -> Vec<String> {
    let program = env!("CARGO_BIN_EXE_leanbest");
    let output = Command::new("bash")
        .args(["-c", &format!("set -o pipefail; leanbest() {{ '{program}' \"$@\"; }}; {command} 2>&1")])
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap_or_default())
        .env("HOME", folder)
        .env("LANG", "C.UTF-8")
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("bash runs");
    let text = String::from_utf8(output.stdout).expect("the output is text");
    assert_eq!(output.status.code(), Some(manner.code), "$ {command}\n{text}");
    manner.shown(&text)
}

/// The README with the output of today in its blocks, and what differs.
fn told_again(readme: &str, folder: &Path) -> (String, Vec<String>) {
    let (mut today, mut differs) = (String::new(), Vec::new());
    let mut lines = readme.lines().peekable();
    while let Some(line) = lines.next() {
        today.push_str(line);
        today.push('\n');
        let Some(manner) = line.strip_prefix("```console").map(Manner::read) else { continue };
        while let Some(command) = lines.next_if(|l| *l != "```") {
            let typed = command.strip_prefix("$ ").expect("a block begins with a command");
            let mut shown = Vec::new();
            while let Some(next) = lines.next_if(|l| *l != "```" && !l.starts_with("$ ")) {
                shown.push(next.to_owned());
            }
            let printed = run(typed, folder, manner);
            if printed != shown && !manner.sample {
                differs.push(format!("$ {typed}\n{}", printed.join("\n")));
            }
            for line in [command].into_iter().chain(printed.iter().map(String::as_str)) {
                today.push_str(line);
                today.push('\n');
            }
        }
    }
    (today, differs)
}

/// The files of tests/readme that the README shows as pictures.
fn pictures(readme: &str) -> Vec<String> {
    let named = readme.split("](tests/readme/").skip(1).filter_map(|rest| rest.split(')').next());
    named.filter(|name| Path::new(name).extension().is_some_and(|e| e == "svg")).map(str::to_owned).collect()
}

#[test]
fn the_readme_shows_what_the_program_prints() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let readme = std::fs::read_to_string(&path).expect("README.md");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let given = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/readme");
    let is_svg = |file: &Path| file.extension().is_some_and(|e| e == "svg");
    for file in std::fs::read_dir(&given).expect("tests/readme").map(|f| f.expect("a file").path()) {
        if is_svg(&file) {
            continue;
        }
        std::fs::copy(&file, folder.path().join(file.file_name().expect("a name"))).expect("copied");
    }
    let (today, differs) = told_again(&readme, folder.path());
    let shown = pictures(&readme);
    assert!(shown.len() >= 3, "the pictures of the tour: {shown:?}");
    for picture in &shown {
        let drawn =
            std::fs::read_to_string(folder.path().join(picture)).expect("drawn by a command of the README");
        if std::env::var_os("LEANBEST_BLESS").is_some() {
            std::fs::write(given.join(picture), &drawn).expect("tests/readme can be written");
        }
        let kept = std::fs::read_to_string(given.join(picture)).expect("a picture that is there");
        let title =
            |svg: &str| svg.split("</title>").next().and_then(|t| t.rsplit('>').next()).map(str::to_owned);
        assert!(kept.contains("<svg") && title(&kept) == title(&drawn), "{picture} shows something else");
    }
    if std::env::var_os("LEANBEST_BLESS").is_some() {
        std::fs::write(&path, today).expect("README.md can be written");
        return;
    }
    assert!(
        differs.is_empty(),
        "README.md shows other output than this; LEANBEST_BLESS=1 cargo test --test readme puts it in:\n{}",
        differs.join("\n\n")
    );
}

#[test]
fn a_block_that_shows_something_else_is_found() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let readme = "```console\n$ leanbest --version\nleanbest 99\n```\n";
    let (today, differs) = told_again(readme, folder.path());
    assert_eq!(differs.len(), 1, "{today}");
    assert_eq!(
        today,
        format!("```console\n$ leanbest --version\nleanbest {}\n```\n", env!("CARGO_PKG_VERSION"))
    );
    assert!(told_again(&today, folder.path()).1.is_empty());
    let cut = Manner { sample: false, head: None, tail: Some(1), code: 0 };
    assert_eq!(cut.shown("a\nb\n"), ["...", "b"]);
    assert_eq!(Manner { head: Some(1), tail: None, ..cut }.shown("a\nb\n"), ["a", "..."]);
}
