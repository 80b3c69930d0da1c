//! After a part that acts at idle the guide goes back to the screws, over the link, on a virtual engine whose log asks
//! for such a part; and an engine that stalls is not left so without a word.

use super::rig::{Engine, Link, folder, program};
use leanbest::bench::virtual_engine::scenario::oyster_skiff;
use leanbest::bench::virtual_engine::{Character, Load, RunProgram, VirtualEngine};
use leanbest::setup::{PartPath, PartSize, SetName};
use leanbest::units::{Length, TimeSpan, Turns};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

const JOB: &str = "job.tune.jsonl";
const NEW: [&str; 6] = ["guide", JOB, "--setup", "petrel", "--answers", "-"];
const ON: [&str; 4] = ["guide", JOB, "--answers", "-"];

/// A bench that answers from a virtual engine, and starts it only where it is asked to idle.
struct Bench {
    engine: VirtualEngine,
    folder: PathBuf,
    logs: u32,
}

impl Bench {
    /// The skiff's engine with its mains about right and an idle feed larger than its stamp.
    fn rich_off_idle(folder: &Path) -> Self {
        let mut engine = VirtualEngine::new(&oyster_skiff(), Character::named("mild").expect("a family"), 3);
        let bore = |inch| PartSize::Bore(Length::from_inches(inch));
        assert!(engine.change_part(PartPath::MainJet(SetName::Primary), bore(0.0572)));
        assert!(engine.change_part(PartPath::IdleFeed, bore(0.036)));
        assert!(engine.start());
        Self { engine, folder: folder.to_owned(), logs: 0 }
    }

    fn keep_running(&mut self) {
        for _ in 0..3 {
            if self.engine.is_running() || self.engine.start() {
                return;
            }
        }
    }

    fn trim(&mut self, toward: f64) {
        for _ in 0..12 {
            self.keep_running();
            self.engine.advance(TimeSpan::from_s(6.0));
            let off = toward - self.engine.gauges().speed.as_rpm();
            if off.abs() < 15.0 {
                break;
            }
            self.engine.turn_idle_speed_screw(Turns::from_turns((off / 500.0).clamp(-0.25, 0.25)));
        }
    }

    fn answer(&mut self, ask: &Value) -> Value {
        match ask["ask"].as_str() {
            Some("confirm") => {
                if ask["name"] == "in-gear.engaged" {
                    self.engine.set_load(Load::InGear);
                } else if ask["name"] == "in-gear.neutral" {
                    self.engine.set_load(Load::Neutral);
                }
                json!({ "yes": true })
            }
            Some("choose") => match ask["name"].as_str().unwrap_or_default() {
                name if name.starts_with("more.") || name.starts_with("mend.") => {
                    json!({ "choice": "enough" })
                }
                "enrichment.fit" => json!({ "choice": "leave-it" }),
                _ => json!({ "choice": ask["default"].as_str().or_else(|| ask["options"][0].as_str()) }),
            },
            Some("value") => {
                let screw = ask["name"].as_str().and_then(|n| n.strip_prefix("turns-out."));
                match screw.and_then(|n| n.parse::<usize>().ok()) {
                    Some(n) => {
                        json!({ "value": format!("{} turns", self.engine.screws()[n - 1].as_turns()) })
                    }
                    None => json!({ "value": ask["default"] }),
                }
            }
            Some("turn") => {
                let by = Turns::from_turns(ask["by_turns"].as_f64().expect("by_turns"));
                for screw in ask["screws"].as_array().expect("screws") {
                    self.engine.turn_screw(screw.as_u64().expect("a screw") as u8, by);
                }
                json!({ "done": true })
            }
            Some("idle_speed") => {
                match ask["by_turns"].as_f64() {
                    Some(by) => self.engine.turn_idle_speed_screw(Turns::from_turns(by)),
                    None => self.trim(ask["toward_rpm"].as_f64().expect("a speed")),
                }
                json!({ "done": true })
            }
            Some("reading") => self.reading(),
            Some("change") => {
                let part: PartPath = ask["part"].as_str().expect("a part").parse().expect("a part's path");
                let to = ask["to_in"].as_f64().map(|inch| PartSize::Bore(Length::from_inches(inch)));
                self.engine.stop();
                if let Some(to) = to {
                    assert!(self.engine.change_part(part, to));
                }
                json!({ "done": true })
            }
            Some("log") => {
                self.keep_running();
                let text = self.engine.log(&RunProgram::standard(self.engine.setup()));
                self.engine.set_load(Load::Neutral);
                self.logs += 1;
                let path = self.folder.join(format!("log-{}.csv", self.logs));
                fs::write(&path, text).expect("a log");
                json!({ "file": path })
            }
            other => panic!("not in the contract: {other:?} in {ask}"),
        }
    }

    fn reading(&mut self) -> Value {
        self.keep_running();
        self.engine.advance(TimeSpan::from_s(10.0));
        if !self.engine.is_running() {
            return json!({ "stalled": true });
        }
        let seen = self.engine.gauges();
        json!({
            "vacuum": format!("{:.1} inHg", seen.vacuum.as_inhg()),
            "speed": format!("{:.0} rpm", seen.speed.as_rpm()),
        })
    }
}

fn replay(folder: &Path) -> Value {
    let out = program(folder).args(["replay", JOB, "--json"]).output().expect("replay runs");
    serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&out.stderr)))
}

#[test]
fn an_idle_part_advised_leads_back_to_the_screws_before_the_next_log_and_can_be_cut_anywhere() {
    let folder = folder();
    let mut bench = Bench::rich_off_idle(folder.path());
    let mut link = Link::start(folder.path(), &NEW);
    let (mut asked, mut told) = (Vec::new(), 0);
    let mut changed: Option<usize> = None;
    let result = loop {
        let line = link.next().expect("a line");
        if let Some(result) = line.get("result") {
            break result.clone();
        }
        asked.push(line.clone());
        let idle = |line: &Value| {
            line["ask"] == "change" && line["part"].as_str().is_some_and(|p| p.starts_with("idle."))
        };
        if idle(&line) && changed.is_none() {
            changed = Some(asked.len());
        }
        let reply = bench.answer(&line);
        link.answer(&reply);
        // after the change the program is stopped and started again at every third question
        if changed.is_some() && asked.len() % 3 == 0 && told < 4 {
            let next = link.next().expect("the next question");
            link.child.kill().expect("killed");
            link.child.wait().expect("gone");
            link = Link::start(folder.path(), &ON);
            let again = link.next().expect("the same question");
            assert_eq!((&again["name"], &again["say"]), (&next["name"], &next["say"]));
            told += 1;
            asked.push(again.clone());
            let reply = bench.answer(&again);
            link.answer(&reply);
        }
        assert!(
            asked.len() < 300,
            "no end: {:?}",
            asked.iter().map(|a| a["name"].clone()).collect::<Vec<_>>()
        );
    };
    let at = changed.expect("the log of this engine asks for an idle part");
    let names: Vec<&str> = asked[at..].iter().filter_map(|a| a["name"].as_str()).collect();
    let place = |start: &str| {
        names.iter().position(|n| n.starts_with(start)).unwrap_or_else(|| panic!("{start}: {names:?}"))
    };
    assert_eq!(place("mixture.again.part."), 0, "{names:?}");
    assert!(place("curb-idle.reading") < place("mixture.reading"), "{names:?}");
    assert!(place("mixture.reading") < place("log."), "{names:?}");
    assert_eq!(result["finished"], true);
    assert!(bench.engine.is_running(), "left running");
    let open = result["open_items"].to_string();
    assert!(!open.contains("set them again") && !open.contains("stalled"), "{open}");
    assert!(
        bench.engine.regret().as_inhg() < 0.6,
        "the screws are near their top: {:?}",
        bench.engine.regret()
    );
    assert_eq!(replay(folder.path())["agrees"], true);
}

/// To the close on the simple engine; `at_close` answers the final readings, the first first.
fn close_with(folder: &Path, choice: &str, at_close: &[Value]) -> (Vec<String>, Vec<String>, Value) {
    let mut engine = Engine::new(2);
    let mut link = Link::start(folder, &NEW);
    let (mut names, mut said, mut finals) = (Vec::new(), Vec::new(), at_close.iter());
    let result = loop {
        let (tells, line) = link.next_with_tells();
        said.extend(tells.iter().filter_map(|t| t["tell"].as_str().map(str::to_owned)));
        let line = line.expect("a line");
        if let Some(result) = line.get("result") {
            break result.clone();
        }
        let name = line["name"].as_str().unwrap_or_default().to_owned();
        let reply = match name.as_str() {
            "close.reading" => finals.next().cloned().unwrap_or_else(|| engine.answer(&line)),
            _ if name.starts_with("mixture.again.") => json!({ "choice": choice }),
            _ => engine.answer(&line),
        };
        link.answer(&reply);
        names.push(name);
        assert!(names.len() < 200, "{names:?}");
    };
    assert_eq!(link.code(), Some(0));
    assert_eq!(replay(folder)["agrees"], true);
    (names, said, result)
}

#[test]
fn an_engine_that_stalls_at_the_close_is_set_again_and_read_again() {
    let folder = folder();
    let (names, said, result) = close_with(folder.path(), "again", &[json!({ "stalled": true })]);
    assert!(said.iter().any(|t| t.contains("Start it again")), "{said:?}");
    let back = names.iter().position(|n| n == "mixture.again.stalled.1").expect("led back");
    assert!(names[back..].iter().any(|n| n == "mixture.reading"));
    assert_eq!(names.iter().filter(|n| *n == "close.reading").count(), 2, "{names:?}");
    assert!(!result["open_items"].to_string().contains("stalled"), "{result}");
    assert!(result["idle_vacuum_after_inhg"].as_f64() > Some(17.0), "{result}");
}

#[test]
fn an_engine_that_will_not_idle_is_left_with_a_word_and_not_asked_for_ever() {
    let dead = json!({ "vacuum": "0 inHg", "speed": "0 rpm" });
    for (choice, readings) in [("leave", 2), ("again", 3)] {
        let folder = folder();
        let (names, said, result) =
            close_with(folder.path(), choice, &[dead.clone(), dead.clone(), json!({ "stalled": true })]);
        assert_eq!(names.iter().filter(|n| *n == "close.reading").count(), readings, "{names:?}");
        assert!(said.iter().any(|t| t.contains("start it again")), "{said:?}");
        assert!(result["open_items"].to_string().contains("left stalled"), "{result}");
        assert_eq!(result["finished"], true);
    }
}

#[test]
fn the_way_back_may_be_left_taken_back_or_skipped_and_stays_an_open_item() {
    for way in [json!({ "choice": "leave" }), json!({ "cannot": true }), json!({ "skip": "no time" })] {
        let folder = folder();
        let (mut link, mut engine) = (Link::start(folder.path(), &NEW), Engine::new(2));
        let (mut set, mut undone) = (false, false);
        let result = loop {
            let line = link.next().expect("a line");
            if let Some(result) = line.get("result") {
                break result.clone();
            }
            let reply = if line["name"].as_str().is_some_and(|n| n.starts_with("mixture.again.")) {
                assert_eq!(line["name"], "mixture.again.part.1", "asked once");
                if undone { way.clone() } else { json!({ "undo": true }) }
            } else if line["step"] == "logging" && !set {
                set = true;
                json!({ "set": { "idle.air_bleed": "0.074 in" } })
            } else if set && !undone {
                undone = true;
                assert_eq!(line["step"], "logging", "the change taken back, nothing is to be set again");
                json!({ "set": { "idle.air_bleed": "0.074 in" } })
            } else {
                engine.answer(&line)
            };
            link.answer(&reply);
        };
        assert!(undone, "{way}");
        assert_eq!(result["finished"], true);
        assert!(result["open_items"].to_string().contains("idle air bleed was changed"), "{result}");
        assert_eq!(replay(folder.path())["agrees"], true);
    }
}
