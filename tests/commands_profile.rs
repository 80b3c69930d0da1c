//! `profile`, `completions` and `man` as a person runs them.

#![cfg(test)]

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

struct Home(tempfile::TempDir);

impl Home {
    fn new() -> Home {
        Home(tempfile::tempdir().unwrap())
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// Runs the program in this home, with these lines on standard input.
    fn run(&self, args: &[&str], input: &str) -> Output {
        let mut child = Command::new(env!("CARGO_BIN_EXE_leanbest"))
            .args(args)
            .current_dir(self.path())
            .env("HOME", self.path())
            .env_remove("XDG_DATA_HOME")
            .env_remove("LEANBEST_PROFILES")
            .env_remove("LEANBEST_UNITS")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // The program may end before it has read all of it.
        let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
        child.wait_with_output().unwrap()
    }
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn data(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{e}: {}", out(output)))
}

#[test]
fn everything_built_in_is_listed_and_in_order() {
    let home = Home::new();
    let listed = data(&home.run(&["profile", "list", "--json"], ""));
    let rows = listed["profiles"].as_array().unwrap();
    assert!(rows.len() > 20);
    for row in rows {
        let (kind, name) = (row["kind"].as_str().unwrap(), row["name"].as_str().unwrap());
        let checked = home.run(&["profile", "check", name, "--kind", kind, "--json"], "");
        assert_eq!(code(&checked), 0, "{kind} {name}: {}", err(&checked));
        assert_eq!(data(&checked)["files"][0]["good"], true);
    }
}

#[test]
fn what_is_shown_can_be_copied_and_stands_before_what_is_built_in() {
    let home = Home::new();
    let shown = home.run(&["profile", "show", "e10"], "");
    let folder = home.path().join("mine/fuels");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("e10.toml"), out(&shown).replace("749.4", "752")).unwrap();
    let setup = data(&home.run(&["profile", "show", "petrel", "--json", "--profiles", "mine"], ""));
    assert_eq!(setup["setup"]["fuel"]["density"], "752 kg/m3");
    let listed = out(&home.run(&["profile", "list", "--kind", "fuel", "--profiles", "mine"], ""));
    assert!(listed.contains("built-in (hidden by the one above)"), "{listed}");
}

#[test]
fn check_tells_every_fault_and_ends_with_2() {
    let home = Home::new();
    fs::write(home.path().join("bad.toml"), "name = \"x\"\nuse = \"marin\"\nengine = \"workboat-six\"\ncarburetor = \"two-barrel-280\"\nfule = \"e10\"\n").unwrap();
    let checked = home.run(&["profile", "check", "bad.toml", "petrel"], "");
    assert_eq!(code(&checked), 2);
    let said = err(&checked);
    assert!(said.contains("bad.toml:2:7: use cannot be \"marin\"; did you mean \"marine\"?"), "{said}");
    assert!(
        said.contains("bad.toml:5:1: fule is not a key") && said.contains("did you mean fuel?"),
        "{said}"
    );
    assert!(said.contains("[fuel] is missing") && said.ends_with("3 faults in all\n"), "{said}");
    assert!(out(&checked).contains("petrel.toml: nothing wrong"));

    let checked = home.run(&["profile", "check", "bad.toml", "--json"], "");
    assert_eq!(code(&checked), 2);
    let faults = data(&checked)["files"][0]["faults"].clone();
    assert_eq!(faults.as_array().unwrap().len(), 3);
    assert_eq!(faults.as_array().unwrap().iter().filter(|f| f["line"] == 2 && f["column"] == 7).count(), 1);
}

#[test]
fn what_cannot_be_read_ends_with_3_and_an_unknown_name_with_2() {
    let home = Home::new();
    assert_eq!(code(&home.run(&["profile", "check", "no.toml"], "")), 3);
    assert_eq!(code(&home.run(&["profile", "check", "./"], "")), 3, "a folder");
    let unknown = home.run(&["profile", "show", "petral"], "");
    assert_eq!(code(&unknown), 2);
    assert!(err(&unknown).contains("petrel"), "{}", err(&unknown));
}

#[test]
fn new_writes_a_setup_that_is_in_order_and_never_over_another() {
    let home = Home::new();
    let answers = "medium-six\nplain-two\n\nThe Skiff, spring\n3\n".to_owned() + &"\n".repeat(60);
    let written = home.run(&["profile", "new", "--json"], &answers);
    assert_eq!(code(&written), 0, "{}", err(&written));
    let file = data(&written)["file"].as_str().unwrap().to_owned();
    assert!(file.ends_with("setups/the-skiff-spring.toml"), "{file}");
    let setup = data(&home.run(&["profile", "show", "the skiff spring", "--json"], ""));
    assert_eq!(setup["setup"]["application"], "marine");
    assert_eq!(setup["setup"]["engine"]["cylinders"], 6);
    let before = fs::read(&file).unwrap();

    let again = home.run(&["profile", "new", &file], &answers);
    assert_eq!(code(&again), 2);
    assert!(err(&again).contains("is there already") && err(&again).contains("--force"));
    assert_eq!(fs::read(&file).unwrap(), before);
    let forced = home.run(&["profile", "new", &file, "--force"], &answers.replace("spring", "autumn"));
    assert_eq!(code(&forced), 0, "{}", err(&forced));
    assert!(fs::read_to_string(&file).unwrap().contains("The Skiff, autumn"));
}

#[test]
fn new_refuses_an_impossible_answer_and_the_end_of_answers_and_writes_nothing() {
    let home = Home::new();
    let refused = home.run(&["profile", "new", "a.toml"], "\n\n\n\n\n\n0\n");
    assert_eq!(code(&refused), 2);
    assert!(err(&refused).contains("stdin:7: Cylinders:"), "{}", err(&refused));
    let short = home.run(&["profile", "new", "a.toml"], "\n\n");
    assert_eq!(code(&short), 2);
    assert!(err(&short).contains("stdin:3: the answers ended"), "{}", err(&short));
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[cfg(unix)]
#[test]
fn new_at_a_terminal_asks_again_after_an_impossible_answer() {
    let home = Home::new();
    let mut command = Command::new(env!("CARGO_BIN_EXE_leanbest"));
    command.args(["profile", "new", "mine.toml"]).current_dir(home.path());
    command
        .env("HOME", home.path())
        .env("TERM", "xterm")
        .env_remove("XDG_DATA_HOME")
        .env_remove("LEANBEST_PROFILES");
    let mut terminal = rexpect::session::spawn_command(command, Some(10_000)).unwrap();
    // Enter at the end of a default keeps it; a typed text stands in its place.
    for prompt in
        ["which engine", "which carburetor", "Fuel", "call this job", "engine for", "what do you call it"]
    {
        terminal.exp_string(prompt).unwrap();
        terminal.send_line("").unwrap();
    }
    terminal.exp_string("Cylinders").unwrap();
    terminal.send_line("0").unwrap();
    terminal.exp_string("can be from 1 to 28").unwrap();
    terminal.exp_string("Cylinders").unwrap();
    terminal.send_line("6").unwrap();
    terminal.exp_string("Displacement").unwrap();
    terminal.send_control('c').unwrap();
    terminal.exp_eof().unwrap();
    assert!(!home.path().join("mine.toml").exists());
}

#[test]
fn completions_and_the_manual_name_every_command() {
    let home = Home::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = home.run(&["completions", shell], "");
        assert_eq!(code(&script), 0);
        assert!(out(&script).contains("advise"), "{shell}");
    }
    let page = out(&home.run(&["man"], ""));
    for command in ["GUIDE", "BALANCE", "ADVISE", "PROFILE CHECK"] {
        assert!(page.contains(&format!(".SH \"LEANBEST {command}\"")), "{command}");
    }
    assert!(
        !page.contains("(1)\n") && page.contains("\\fBleanbest guide\\fR"),
        "no page of its own is promised"
    );
    assert_eq!(code(&home.run(&["completions", "tcsh"], "")), 2);
}
