//! Profiles and setups from the outside: what is built in loads whole, and what is wrong in a person's file is told
//! all at once, where it stands.

#![cfg(test)]

use leanbest::bench::virtual_engine::scenario;
use leanbest::profile::{Fault, Kind, LoadError, Origin, load_setup, load_setup_text};
use leanbest::units::{Length, Turns};
use std::path::Path;

const WHOLE: &str = r#"
name = "test"
use = "street"
engine = "large-eight"
carburetor = "plain-two-barrel"
fuel = "e10"
[instruments]
vacuum_mark = "0.5 inHg"
speed_step = "10 rpm"
"#;

fn faults(text: &str) -> Vec<Fault> {
    match load_setup_text("t.toml", text, None) {
        Err(LoadError::Faulty(faults)) => faults,
        other => panic!("no faults: {other:?}"),
    }
}

/// The one fault of a text, and the text under its caret.
fn only(text: &str) -> Fault {
    let mut all = faults(text);
    assert_eq!(all.len(), 1, "{all:#?}");
    all.remove(0)
}

#[test]
fn the_built_in_setups_are_the_scenario_of_the_virtual_engine() {
    for (name, setup) in
        [("petrel", scenario::oyster_skiff()), ("pulling-tractor", scenario::pulling_tractor())]
    {
        let loaded = load_setup(name, None).unwrap();
        let mut expected = serde_json::to_value(&setup).unwrap();
        let mut got = serde_json::to_value(&loaded.setup).unwrap();
        // The fuel is the blend's own arithmetic, to one more digit.
        expected["fuel"] = serde_json::Value::Null;
        got["fuel"] = serde_json::Value::Null;
        assert_eq!(got, expected, "{name}");
        assert_eq!(loaded.setup.fuel.name, "e10");
        assert!(loaded.warnings.is_empty(), "{:?}", loaded.warnings);
        assert!(loaded.from.iter().all(|c| c.origin == Origin::BuiltIn));
    }
}

#[test]
fn every_name_of_a_fuel_loads() {
    for fuel in ["e0", "E5", "e10", "e15", "e30", "e85", "e100", "methanol", "gasoline"] {
        let text = WHOLE.replace("e10", fuel);
        load_setup_text("t.toml", &text, None).unwrap_or_else(|e| panic!("{fuel}: {e}"));
    }
}

#[test]
fn a_profile_with_overrides_keeps_the_rest() {
    let text = WHOLE.replace(
        "carburetor = \"plain-two-barrel\"",
        "carburetor = { profile = \"plain two-barrel\", idle.turns_out = [1.25, \"1 1/2 turns\"], \
         main = [{ set = \"primary\", jet = \"0.064 in\" }] }",
    );
    let loaded = load_setup_text("t.toml", &text, None).unwrap();
    let carburetor = &loaded.setup.carburetor;
    assert_eq!(carburetor.idle.turns_out, [Turns::from_turns(1.25), Turns::from_turns(1.5)]);
    assert_eq!(carburetor.main.len(), 1);
    assert_eq!(carburetor.main[0].jet, Length::from_inches(0.064));
    assert_eq!(carburetor.main[0].venturi, Length::from_inches(1.19));
    assert_eq!(carburetor.stock.main_jets.len(), 41);
    assert!(
        loaded.from.iter().any(|c| c.kind == Kind::Carburetor && c.overridden && c.origin == Origin::BuiltIn)
    );
}

#[test]
fn all_faults_are_told_at_once_with_their_places() {
    let text = r#"name = "é"
use = "stret"
fuel = "e10"
[engine]
name = "x"
displacement = "4.2 inHg"
cylinders = 0
drive = "manual"
rated_sped = "4100 rpm"
volumetric_efficiency = 80
[carburetor]
profile = "plain-two-barrel"
idle.turns_out = 9
pump = { nozzle = "-0.025 in" }
[instruments]
vacuum_mark = "0.5 inHg"
speed_step = nan
"#;
    let found = faults(text);
    let at: Vec<_> = found.iter().map(|f| (f.line, f.column, f.key.as_str())).collect();
    for expected in [
        (2, 7, "use"),
        (4, 2, "engine.rated_speed"),
        (6, 16, "engine.displacement"),
        (7, 13, "engine.cylinders"),
        (9, 1, "engine.rated_sped"),
        (10, 25, "engine.volumetric_efficiency"),
        (13, 18, "carburetor.idle.turns_out"),
        (14, 19, "carburetor.pump.nozzle"),
        (17, 14, "instruments.speed_step"),
    ] {
        assert!(at.contains(&expected), "{expected:?} not in {at:#?}");
    }
    assert_eq!(found.len(), 9, "{found:#?}");
    let said = |key: &str| found.iter().find(|f| f.key == key).unwrap().to_string();
    assert!(said("use").contains("did you mean \"street\"?"), "{}", said("use"));
    assert!(said("engine.rated_sped").contains("did you mean rated_speed?"));
    assert!(said("engine.displacement").contains("these would do: L, in3"));
    assert!(said("engine.volumetric_efficiency").contains("80 %"));
    assert!(said("carburetor.pump.nozzle").contains("from 0.008 in to 0.2 in"));
}

#[test]
fn both_sides_of_a_border() {
    let with = |jet: &str| {
        WHOLE.replace(
            "carburetor = \"plain-two-barrel\"",
            &format!("carburetor = {{ profile = \"plain-two-barrel\", main = [{{ set = \"primary\", jet = \"{jet}\" }}] }}"),
        )
    };
    assert!(load_setup_text("t", &with("0.010 in"), None).is_ok());
    assert!(only(&with("0.0099 in")).what.contains("from 0.01 in to 0.3 in"));
    assert!(load_setup_text("t", &with("0.300 in"), None).is_ok());
    assert!(only(&with("0.301 in")).what.contains("from 0.01 in to 0.3 in"));

    // A jet a third of its venturi, 1.19 in, is a slip of some kind; 0.300 in is a quarter. A small venturi tells.
    let small = |jet: &str| with(jet).replace("jet =", "venturi = \"0.60 in\", jet =");
    assert!(load_setup_text("t", &small("0.199 in"), None).is_ok());
    assert!(only(&small("0.201 in")).what.contains("out of all proportion"));

    let turns = |turns: &str| {
        WHOLE.replace(
            "carburetor = \"plain-two-barrel\"",
            &format!("carburetor = {{ profile = \"plain-two-barrel\", idle.turns_out = {turns} }}"),
        )
    };
    assert!(load_setup_text("t", &turns("4.0"), None).is_ok());
    assert!(only(&turns("4.125")).what.contains("beyond the screw's range"));
    assert!(only(&turns("[1, 1, 1]")).what.contains("3 values for 2 screws"));
}

#[test]
fn a_newer_file_says_so_and_its_unknown_keys_too() {
    let found = faults(&format!("format = 2\nspark_map = 1\n{WHOLE}"));
    assert_eq!(found.len(), 2, "{found:#?}");
    assert!(found[0].what.contains("format 2") && found[0].hint.contains("newer version"));
    assert_eq!(found[1].key, "spark_map");
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_are_no_fault_but_other_bytes_are() {
    let windows = format!("\u{feff}{}", WHOLE.replace('\n', "\r\n"));
    load_setup_text("t", &windows, None).unwrap();
    let shifted = only(&windows.replace("use = \"street\"", "use = \"boat\""));
    assert_eq!((shifted.line, shifted.column), (3, 7));
    assert!(!faults(&WHOLE.replace("test", "te\0st")).is_empty());

    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("latin.toml");
    std::fs::write(&path, b"name = \"caf\xe9\"\n").unwrap();
    let Err(LoadError::Faulty(found)) = load_setup(path.to_str().unwrap(), None) else { panic!() };
    assert_eq!((found[0].line, found[0].column), (1, 12), "{found:#?}");
    assert!(found[0].what.contains("UTF-8"));
}

#[test]
fn size_depth_and_numbers_beyond_measure() {
    let huge = only(&format!("# {}", "x".repeat(1024 * 1024)));
    assert!(huge.what.contains("1 MiB"));
    for (text, line) in [
        (format!("name = \"a\"\nx = {}1{}\n", "[".repeat(5000), "]".repeat(5000)), 2),
        (format!("name = \"a\"\n\n{}a = 1\n", "a.".repeat(100_000)), 3),
        (format!("[{}a]\n", "a.".repeat(100_000)), 1),
    ] {
        let found = faults(&text);
        assert!(found.iter().any(|f| f.what.contains("deeper") && f.line == line), "{:#?}", found.first());
    }
    let big = WHOLE.replace(
        "\"large-eight\"",
        "{ profile = \"large-eight\", cylinders = 99999999999999999999, compression = 1e999 }",
    );
    let keys: Vec<_> = faults(&big).into_iter().map(|f| f.key).collect();
    assert_eq!(keys, ["engine.cylinders", "engine.compression"]);
}

#[test]
fn what_a_file_says_never_reaches_the_terminal_raw_or_long() {
    let evil = "\\u001b]0;owned\\u0007".repeat(2000);
    for text in [
        WHOLE.replace("street", &evil),
        WHOLE.replace("e10", &evil),
        WHOLE.replace("test", &evil),
        format!("\"{evil}\" = 1\n{WHOLE}"),
        format!("{WHOLE}\n\u{9b}31m = 1"),
        format!("x = \"\u{1b}[2J\"\n{WHOLE}"),
    ] {
        for fault in faults(&text) {
            let said = fault.to_string();
            assert!(said.chars().all(|c| c == '\n' || !c.is_control()), "{said:?}");
            assert!(said.chars().count() < 900, "{}", said.chars().count());
        }
    }
}

#[test]
fn duplicate_keys_and_several_slips_of_writing_are_told_together() {
    let found = faults(&format!("{}\nuse = \"race\"\n", WHOLE.trim().split("[instruments]").next().unwrap()));
    assert!(found.iter().any(|f| f.what.contains("second time") && f.line == 7), "{found:#?}");
}

#[test]
fn a_setup_names_files_only_beside_itself() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("home");
    std::fs::create_dir(&home).unwrap();
    std::fs::write(folder.path().join("outside.toml"), "name = \"x\"").unwrap();
    let engine = include_str!("../profiles/engines/medium-six.toml");
    std::fs::write(home.join("mine.toml"), engine).unwrap();
    let path = home.join("setup.toml");
    let load = |engine: &str| {
        std::fs::write(&path, WHOLE.replace("large-eight", engine)).unwrap();
        load_setup(path.to_str().unwrap(), None)
    };
    assert_eq!(load("mine.toml").unwrap().setup.engine.cylinders, 6);
    let outside = folder.path().join("outside.toml");
    for name in ["../outside.toml", outside.to_str().unwrap(), "/etc/passwd"] {
        let Err(LoadError::Faulty(found)) = load(name) else { panic!("{name}") };
        assert!(found[0].what.contains("own folder"), "{found:#?}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&outside, home.join("link.toml")).unwrap();
        let Err(LoadError::Faulty(found)) = load("link.toml") else { panic!() };
        assert!(found[0].what.contains("own folder"), "{found:#?}");
    }
}

#[test]
fn the_folder_given_comes_before_what_is_built_in_and_a_wrong_name_is_guessed_at() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("fuels")).unwrap();
    let mine = include_str!("../profiles/fuels/e10.toml").replace("749.4", "751");
    std::fs::write(folder.path().join("fuels/e10.toml"), mine).unwrap();
    let loaded = load_setup_text("t", WHOLE, Some(folder.path())).unwrap();
    assert!((loaded.setup.fuel.density.as_kg_m3() - 751.0).abs() < 1e-9);
    assert!(loaded.from.iter().any(|c| matches!(&c.origin, Origin::Given(_)) && c.kind == Kind::Fuel));

    assert!(
        only(&WHOLE.replace("large-eight", "large-ieght")).hint.contains("did you mean \"large-eight\"?")
    );
    assert!(matches!(load_setup("nothing-like-it", None), Err(LoadError::NoSuch { .. })));
    assert!(matches!(load_setup("no/such.toml", Some(Path::new("/nowhere"))), Err(LoadError::Read { .. })));
}

#[test]
fn rules_and_loggers_are_checked_in_their_own_files() {
    let folder = tempfile::tempdir().unwrap();
    for (kind, name, text) in [
        ("rules", "mine", "name = \"mine\"\n[idel]\nlowest = \"550 rpm\"\n"),
        ("loggers", "box", "name = \"box\"\n[[column]]\nchannel = \"warp\"\nnames = [\"a\"]\n"),
    ] {
        std::fs::create_dir(folder.path().join(kind)).unwrap();
        std::fs::write(folder.path().join(kind).join(format!("{name}.toml")), text).unwrap();
    }
    let text = format!("rules = \"mine\"\nlogger = \"box\"\n{WHOLE}");
    let Err(LoadError::Faulty(found)) = load_setup_text("t", &text, Some(folder.path())) else { panic!() };
    assert_eq!(found.len(), 2, "{found:#?}");
    assert!(found[0].hint.contains("did you mean idle?") && found[0].line == 2, "{found:#?}");
    assert!(found[1].what.contains("\"warp\"") && found[1].line == 3, "{found:#?}");
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 200, failure_persistence: None, ..Default::default() })]

    /// Whatever is done to a whole file, it loads or is refused in print: placed in the text, short, without a
    /// character that moves the cursor.
    #[test]
    fn no_damage_panics_or_prints_raw(at in 0..2_000usize, gone in 0..40usize, put in "(?s).{0,12}|[\\[\\]{}\"=.#\n0-9-]{0,30}") {
        let text = written_out();
        let mut chars: Vec<char> = text.chars().collect();
        let at = at.min(chars.len());
        let end = (at + gone).min(chars.len());
        chars.splice(at..end, put.chars());
        let damaged: String = chars.into_iter().collect();
        if let Err(LoadError::Faulty(found)) = load_setup_text("t.toml", &damaged, None) {
            proptest::prop_assert!(!found.is_empty());
            let lines = damaged.split(['\n', '\r']).count();
            for fault in found {
                let said = fault.to_string();
                proptest::prop_assert!(said.chars().all(|c| c == '\n' || !c.is_control()), "{said:?}");
                proptest::prop_assert!(said.chars().count() < 1_000 && fault.line <= lines, "{said}");
            }
        }
    }
}

/// A setup with its whole carburetor in it.
fn written_out() -> String {
    let carburetor = include_str!("../profiles/carburetors/four-barrel-600.toml");
    let inline = carburetor.replace("[[main]]", "[[carburetor.main]]").replace("\n[", "\n[carburetor.");
    let inline = inline.replace("[carburetor.[carburetor.main]]", "[[carburetor.main]]");
    WHOLE.replace("carburetor = \"plain-two-barrel\"\n", "") + "[carburetor]\n" + &inline
}

#[test]
fn the_text_of_the_damage_test_loads_undamaged() {
    load_setup_text("t.toml", &written_out(), None).unwrap();
}
