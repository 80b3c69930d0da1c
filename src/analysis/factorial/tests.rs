use super::*;
use crate::analysis::verdict::{Rig, Setting};
use approx::assert_relative_eq;

fn run(timing: &str, spacer: &str, value: f64, at: f64) -> Run {
    let said = |t: &str| Setting::Said(t.to_owned());
    Run { state: State::from([("timing".into(), said(timing)), ("spacer".into(), said(spacer))]), value, at }
}

#[test]
fn two_changes_at_once_are_left_unattributed() {
    let runs = [run("10", "no", 200.0, 0.0), run("14", "yes", 206.0, 1.0), run("10", "no", 200.4, 2.0)];
    let found = attribute(&runs, Rig::EngineDyno.floor()).unwrap();
    assert!(!found.separated);
    assert!(found.terms.iter().all(|t| t.effect.is_none()), "{found:?}");
    assert_eq!(found.factors.len(), 2);
}

#[test]
fn the_two_missing_states_are_the_smallest_set_and_then_it_is_told() {
    let mut runs =
        vec![run("10", "no", 200.0, 0.0), run("14", "yes", 207.5, 1.0), run("10", "no", 201.0, 2.0)];
    let plan = further_states(&runs).unwrap();
    assert_eq!(plan.len(), 2, "{plan:?}");
    let said = |s: &State, k: &str| match &s[k] {
        Setting::Said(t) => t.clone(),
        Setting::Part(_) => String::new(),
    };
    for (k, state) in plan.iter().enumerate() {
        let (timing, spacer) = (said(state, "timing"), said(state, "spacer"));
        assert_ne!((timing == "14"), (spacer == "yes"), "each alone");
        // truth: timing +4, spacer +1, together +1.5 beyond, drift +0.5 a pull
        let at = 3.0 + k as f64;
        let value = 200.0 + 0.5 * at + if timing == "14" { 4.0 } else { 1.0 };
        runs.push(run(&timing, &spacer, value, at));
    }
    runs[1].value = 200.0 + 0.5 + 4.0 + 1.0 + 1.5;
    assert!(further_states(&runs).unwrap().is_empty());
    let found = attribute(&runs, Rig::EngineDyno.floor()).unwrap();
    assert!(found.separated && found.interactions);
    for (term, truth) in found.terms.iter().zip([1.0, 4.0, 1.5]) {
        let interval = term.effect.unwrap();
        assert_relative_eq!(interval.value, truth, epsilon = 1e-8);
        assert!(interval.low < truth && truth < interval.high);
    }
    assert_relative_eq!(found.drift_per_pull.unwrap(), 0.5, epsilon = 1e-9);
}

#[test]
fn one_state_alone_tells_both_when_they_are_taken_to_add_up() {
    let runs = [
        run("10", "no", 200.0, 0.0),
        run("14", "yes", 206.0, 1.0),
        run("14", "no", 204.0, 2.0),
        run("10", "no", 200.0, 3.0),
    ];
    let found = attribute(&runs, Rig::EngineDyno.floor()).unwrap();
    assert!(found.separated && !found.interactions, "{found:?}");
    let value = |name: &str| {
        let is = |t: &&TermEffect| matches!(&t.term, Term::Change { factor, .. } if factor == name);
        found.terms.iter().find(is).unwrap().effect.unwrap().value
    };
    assert_relative_eq!(value("timing"), 4.0, epsilon = 1e-8);
    assert_relative_eq!(value("spacer"), 2.0, epsilon = 1e-8);
}

#[test]
fn what_only_some_runs_mention_is_no_factor_and_is_named() {
    let mut runs = vec![run("10", "no", 1.0, 0.0), run("14", "no", 2.0, 1.0)];
    runs[1].state.insert("plugs".into(), Setting::Said("new".into()));
    assert_eq!(factors(&runs).len(), 1);
    assert_eq!(unsaid(&runs), ["plugs"]);
}

#[test]
fn three_things_at_once_still_get_a_plan() {
    let with = |a: &str, b: &str, c: &str, at: f64| {
        let mut r = run(a, b, 200.0, at);
        r.state.insert("cleaner".into(), Setting::Said(c.into()));
        r
    };
    let runs = [with("10", "no", "on", 0.0), with("14", "yes", "off", 1.0)];
    // level, 3 effects, 3 interactions, drift: eight unknowns, two pulls made
    assert_eq!(further_states(&runs).unwrap().len(), 6);
}
