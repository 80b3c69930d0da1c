//! `leanbest help`: every step and rule has its page, in the words of the thing itself, and every page that is named
//! anywhere is there.

#![cfg(test)]

use leanbest::procedure::{Job, Step, outline};
use leanbest::profile::load_setup;
use leanbest::report::manual;
use leanbest::rules::{cautions, why};
use leanbest::units::System;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn help(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .arg("help")
        .args(words)
        .env_clear()
        .output()
        .expect("the program runs")
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

/// Words with one space between them, however they were wrapped.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn job() -> Job {
    let loaded = load_setup("petrel", None).expect("built in");
    Job { setup: loaded.setup, rules: loaded.rules, logger: loaded.logger, ask_for_setup: true }
}

fn page(name: &str) -> String {
    let topic = manual::topic(name).unwrap_or_else(|| panic!("no page on {name}"));
    unwrapped(&manual::page(&topic, &job(), System::Us, 80).join("\n"))
}

#[test]
fn every_step_has_a_page_that_says_what_it_asks_and_why() {
    let mut questions = 0;
    for step in Step::ALL {
        let page = page(step.name());
        assert!(page.contains(&unwrapped(step.purpose())), "{step:?}");
        for asked in outline(step, &job(), System::Us) {
            assert!(
                step == Step::Cautions || page.contains(&unwrapped(&asked.say)),
                "{step:?}: {}",
                asked.say
            );
            assert!(!asked.why.is_empty(), "{step:?}: {} has no why", asked.say);
            questions += 1;
        }
    }
    assert!(questions > 35, "only {questions} questions: the walk ends early");
}

#[test]
fn every_rule_has_a_page_with_its_why_its_source_and_its_figures() {
    let book: toml::Table = leanbest::rules::RuleBook::common_text().parse().expect("whole");
    for why in why::ALL {
        let page = page(why.topic);
        assert!(page.contains("Source: "), "{}", why.topic);
        assert!(unwrapped(why.text).split(' ').all(|word| page.contains(word)), "{}", why.topic);
        for table in why.tables {
            let table = book[*table].as_table().expect("a table");
            for key in table.keys().filter(|k| !table[*k].is_array()) {
                assert!(page.contains(&key.replace('_', " ")), "{}: {key}", why.topic);
            }
            let sources =
                table.values().filter_map(|v| v.as_array()).flatten().filter_map(|r| r.get("source"));
            for source in sources.filter_map(|s| s.as_str()) {
                assert!(page.contains(&unwrapped(source)), "{}: {source}", why.topic);
            }
        }
    }
}

#[test]
fn every_caution_is_on_the_page_of_safety_with_its_source() {
    let page = page("safety");
    for caution in &cautions::ALL {
        assert!(page.contains(&unwrapped(caution.text)) && page.contains(&unwrapped(caution.source)));
    }
}

#[test]
fn pages_keep_to_the_screen_and_leave_no_hole() {
    for topic in manual::chapters().into_iter().flat_map(|c| c.topics) {
        for width in [40, 80] {
            let lines = manual::page(&topic, &job(), System::Us, width);
            assert!(lines.len() > 4, "{}", topic.name);
            assert!(lines.windows(2).all(|w| !(w[0].is_empty() && w[1].is_empty())), "{}", topic.name);
            // Examples and columns stand as they are; at 80 they fit too.
            let long =
                lines.iter().find(|l| l.chars().count() > width && (width == 80 || !l.starts_with("  ")));
            assert!(long.is_none(), "{} at {width}: {long:?}", topic.name);
        }
    }
}

#[test]
fn commands_and_topics_are_listed_together_and_share_no_name() {
    let listed = text(&help(&[]));
    let data: serde_json::Value = serde_json::from_slice(&help(&["--json"]).stdout).expect("JSON");
    let names = |key: &str| -> Vec<String> {
        data[key].as_array().expect(key).iter().map(|n| n.as_str().expect("a name").to_owned()).collect()
    };
    let (commands, topics) = (names("commands"), names("topics"));
    assert!(commands.len() > 20 && topics.len() > 30);
    for name in commands.iter().chain(&topics) {
        assert!(listed.contains(&format!("  {name}  ")), "{name} is not listed");
    }
    assert!(topics.iter().all(|t| !commands.contains(t)));
    let mut once = topics.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), topics.len(), "a name twice");
}

#[test]
fn help_of_a_command_is_what_the_command_says_of_itself() {
    for words in [vec!["size"], vec!["profile", "new"], vec!["help"]] {
        let ours = help(&words);
        let own = Command::new(env!("CARGO_BIN_EXE_leanbest"))
            .args(&words)
            .arg("--help")
            .env_clear()
            .output()
            .expect("runs");
        assert_eq!(text(&ours), text(&own), "{words:?}");
        assert!(text(&own).contains("Usage: leanbest"));
    }
}

#[test]
fn what_there_is_no_page_on_is_said_with_what_is_near() {
    let out = help(&["nedle"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("near it: needle"), "{out:?}");
    let out = help(&["profile", "nothing"]);
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(help(&["your", "logger"]).status.code(), Some(0), "two words are one name");
}

/// Everything that `leanbest help ...` is followed by, in a text.
fn named(text: &str) -> Vec<String> {
    let words = |rest: &str| -> String {
        rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '-').collect::<String>()
    };
    let found = text.split("leanbest help ").skip(1).map(words);
    found.map(|w| w.trim_end_matches('-').to_owned()).filter(|w| !w.is_empty()).collect()
}

fn files(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs" || e == "md" || e == "toml") {
            out.push(path);
        }
    }
}

#[test]
fn every_page_that_is_named_anywhere_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = vec![root.join("README.md"), root.join("DEVELOPERS.md")];
    files(&root.join("src"), &mut all);
    files(&root.join("profiles"), &mut all);
    let mut texts: Vec<(String, String)> =
        all.iter().map(|f| (f.display().to_string(), fs::read_to_string(f).expect("text"))).collect();
    for topic in manual::chapters().into_iter().flat_map(|c| c.topics) {
        texts.push((topic.name.to_owned(), page(topic.name)));
    }
    // A sentence, not a name: "leanbest help lists both".
    let sentence = ["lists", "tells"];
    let mut seen = 0;
    for (place, text) in texts {
        for name in named(&text).iter().filter(|n| !sentence.contains(&n.as_str())) {
            assert_eq!(help(&[name]).status.code(), Some(0), "{place} names {name}");
            seen += 1;
        }
    }
    assert!(seen > 30, "only {seen} found: the search is blind");
}
