//! The mixture search held to its bars on a few engines of an independent simulator, and to its manners on scripts.
//! The whole table is `cargo bench --bench balance`.

#![cfg(test)]
#![allow(missing_docs, clippy::expect_used)]

#[path = "bench/balance/engine.rs"]
mod engine;
#[path = "bench/balance/ours.rs"]
#[allow(dead_code, reason = "the benchmark uses more of it")]
mod ours;
#[path = "bench/balance/rig.rs"]
#[allow(dead_code, reason = "the benchmark uses more of it")]
mod rig;

use engine::{Bench, Engine, FAMILIES, Family};
use leanbest::rules::balance::{
    Decision, Finish, LEAN_STEP_ALONE, LEAN_STEP_TOGETHER, Move, Observation, Outcome, Reading, ScrewSpec,
    Spec, decide,
};
use leanbest::units::{EngineSpeed, PressureDifference, System, Temperature, Turns, Vacuum};
use rig::Rig;

/// How one search went: cost to stay on the top, vacuum lost at the end, dead screws, screws called dead.
type Went = (Option<u32>, f64, Vec<usize>, Vec<usize>);

/// Runs one engine of each of these families with each of these seeds.
fn runs(families: &[Family], n: usize, seeds: core::ops::Range<u64>) -> Vec<Went> {
    let mut all = Vec::new();
    for &family in families {
        for seed in seeds.clone() {
            let mut bench = Bench::new(Engine::new(family, n, seed), seed);
            let outcome = ours::run(&mut bench, 200, |_, _, _, _| {}).expect("the search ends");
            let named = outcome.unresponsive.iter().map(|u| usize::from(u.screw) - 1).collect();
            all.push((bench.cost_to_stay(0.1), bench.lost(), bench.dead(), named));
        }
    }
    all
}

fn bars(families: &[Family], n: usize, seeds: core::ops::Range<u64>, median: u32, share_off: f64) {
    let all = runs(families, n, seeds);
    let mut cost: Vec<u32> = all.iter().map(|r| r.0.unwrap_or(u32::MAX)).collect();
    cost.sort_unstable();
    let off = all.iter().filter(|r| r.1 > 0.1).count() as f64 / all.len() as f64;
    assert!(cost[cost.len() / 2] <= median, "median cost {} over {median}: {cost:?}", cost[cost.len() / 2]);
    assert!(off <= share_off, "{off:.3} of the runs end more than 0.1 inHg off");
    assert!(all.iter().all(|r| r.1 < 0.6), "one ends far off: {all:?}");
    let wrong = all.iter().filter(|r| r.3.iter().any(|s| !r.2.contains(s))).count();
    assert!(wrong <= 1, "{wrong} searches call a live screw dead");
    let dead: Vec<_> = all.iter().filter(|r| !r.2.is_empty()).collect();
    let missed = dead.iter().filter(|r| !r.3.contains(&r.2[0])).count();
    assert!(!dead.is_empty() && missed <= 1, "{missed} of {} dead screws are missed", dead.len());
}

#[test]
fn two_screws_come_to_the_top_within_the_bar() {
    // Over hundreds of engines the middle is 18 to 20; of a dozen it scatters by some five.
    bars(&FAMILIES, 2, 100..102, 25, 0.1);
}

#[test]
fn four_screws_come_to_the_top_within_the_bar() {
    bars(&[Family::Mild, Family::Mismatched, Family::Dead], 4, 100..101, 50, 0.1);
}

fn spec(turns_out: &[f64]) -> Spec {
    Spec {
        screws: ScrewSpec {
            turns_out: turns_out.iter().copied().map(Turns::from_turns).collect(),
            range: Turns::from_turns(4.0),
            mark: Turns::from_turns(0.125),
            meter_air: false,
        },
        gauge_mark: PressureDifference::from_inhg(0.5),
        speed_step: EngineSpeed::from_rpm(10.0),
        idle_aim: None,
        lopey: false,
        finish: Finish::Peak,
        before: None,
    }
}

/// What a scripted engine answers at these turns out: vacuum and speed, or nothing when it stalls.
type Answer<'a> = &'a dyn Fn(&[f64]) -> Option<(f64, f64)>;

/// A search told in full.
struct Told {
    history: Vec<Observation>,
    moves: Vec<Move>,
    last: Decision,
    outcome: Outcome,
    turns: Vec<f64>,
}

/// Plays a search against a scripted engine. A trim takes the speed back to the aim.
fn play(spec: &Spec, answer: Answer<'_>) -> Told {
    let mut turns: Vec<f64> = spec.screws.turns_out.iter().map(|t| t.as_turns()).collect();
    let (mut history, mut moves, mut trimmed) = (Vec::new(), Vec::new(), 0.0);
    for _ in 0..150 {
        let decision = decide(spec, &history, System::Us);
        moves.push(decision.next.clone());
        match &decision.next {
            Move::Turn { screws, by } => {
                for s in screws {
                    turns[usize::from(*s) - 1] += by.as_turns();
                }
                history.push(Observation::Turned { screws: screws.clone(), by: *by });
                if answer(&turns).is_none() {
                    history.push(Observation::Stalled);
                }
            }
            Move::Read => {
                let (vacuum, speed) = answer(&turns).unwrap_or((0.0, 0.0));
                history.push(Observation::Read(Reading {
                    vacuum: Vacuum::from_inhg((vacuum * 4.0).round() / 4.0),
                    speed: Some(EngineSpeed::from_rpm(((speed - trimmed) / 10.0).round() * 10.0)),
                    lambda: None,
                    coolant: None,
                }));
            }
            Move::TrimIdle { toward } => {
                trimmed = answer(&turns).map_or(0.0, |a| a.1) - toward.as_rpm();
                history.push(Observation::Trimmed { to: Some(*toward) });
            }
            Move::Done(outcome) => {
                let outcome = outcome.clone();
                return Told { history, moves, last: decision, outcome, turns };
            }
        }
    }
    panic!("the search does not end: {moves:?}");
}

/// A two-sided parabola for each screw.
fn parabolas(tops: &[f64], out_is_rich: f64, height: f64) -> impl Fn(&[f64]) -> Option<(f64, f64)> {
    move |turns| {
        let fall: f64 = turns
            .iter()
            .zip(tops)
            .map(|(t, top)| {
                let x = out_is_rich * (t - top);
                if x > 0.0 { height * x * x } else { 2.0 * height * x * x }
            })
            .sum();
        (fall < 5.0).then_some((17.0 - fall, 720.0 - 45.0 * fall))
    }
}

#[test]
fn the_same_history_gives_the_same_move() {
    let spec = spec(&[1.5, 1.5]);
    let told = play(&spec, &parabolas(&[1.1, 1.2], 1.0, 2.5));
    for cut in [1, told.history.len() / 2, told.history.len()] {
        assert_eq!(
            decide(&spec, &told.history[..cut], System::Us),
            decide(&spec, &told.history[..cut], System::Us)
        );
    }
}

#[test]
fn every_turn_is_of_whole_marks_within_the_range_and_no_lean_step_is_too_large() {
    for tops in [[0.3, 0.4], [1.2, 1.4], [3.0, 2.8]] {
        let spec = spec(&[1.5, 1.5]);
        let told = play(&spec, &parabolas(&tops, 1.0, 1.2));
        let mut at = [1.5, 1.5];
        for step in &told.moves {
            let Move::Turn { screws, by } = step else { continue };
            let by = by.as_turns();
            assert!((by * 8.0 - (by * 8.0).round()).abs() < 1e-6, "{by}");
            let limit = if screws.len() > 1 { LEAN_STEP_TOGETHER } else { LEAN_STEP_ALONE };
            assert!(by >= -limit - 1e-9, "{by} lean of {screws:?}");
            for s in screws {
                at[usize::from(*s) - 1] += by;
            }
            assert!(at.iter().all(|t| (0.0..=4.0).contains(t)), "{at:?}");
        }
    }
}

#[test]
fn one_screw_is_enough() {
    let told = play(&spec(&[1.5]), &parabolas(&[1.0], 1.0, 4.0));
    assert!((told.turns[0] - 1.0).abs() <= 0.13, "{:?}", told.turns);
    assert!(told.moves.len() <= 18, "{:?}", told.moves);
    assert_eq!(told.outcome.unresponsive, vec![]);
}

#[test]
fn three_screws_are_not_too_many() {
    let tops = [1.0, 1.1, 0.9];
    let told = play(&spec(&[1.0, 1.0, 1.0]), &parabolas(&tops, 1.0, 1.8));
    assert!(told.turns.iter().zip(tops).all(|(t, top)| (t - top).abs() <= 0.2), "{:?}", told.turns);
}

#[test]
fn screws_that_meter_air_are_turned_the_other_way() {
    let mut spec = spec(&[1.5, 1.5]);
    spec.screws.meter_air = true;
    let told = play(&spec, &parabolas(&[2.0, 2.0], -1.0, 2.5));
    assert!(told.turns.iter().all(|t| (t - 2.0).abs() <= 0.13), "{:?}", told.turns);
    for step in &told.moves {
        let Move::Turn { screws, by } = step else { continue };
        let limit = if screws.len() > 1 { LEAN_STEP_TOGETHER } else { LEAN_STEP_ALONE };
        assert!(by.as_turns() <= limit + 1e-9, "out is lean here: {by:?}");
    }
}

#[test]
fn a_screw_that_does_nothing_is_named_with_tests_that_tell_why() {
    let answer = |turns: &[f64]| {
        let x = turns[0] - 1.2;
        let fall = if x > 0.0 { 2.5 * x * x } else { 5.0 * x * x };
        (fall < 5.0).then_some((16.0 - fall, 700.0 - 45.0 * fall))
    };
    let told = play(&spec(&[1.5, 1.5]), &answer);
    let named: Vec<u8> = told.outcome.unresponsive.iter().map(|u| u.screw).collect();
    assert_eq!(named, vec![2]);
    let causes = &told.outcome.unresponsive[0].causes;
    assert!(causes.len() >= 2 && causes[0].0.contains("blocked"), "{causes:?}");
    assert!((told.turns[0] - 1.2).abs() <= 0.13, "{:?}", told.turns);
}

#[test]
fn when_no_screw_does_anything_the_throttle_is_suspected_first() {
    let told = play(&spec(&[1.5, 1.5]), &|_| Some((13.0, 900.0)));
    assert_eq!(told.outcome.unresponsive.len(), 2);
    assert!(told.outcome.unresponsive[0].causes[0].0.contains("throttle"));
}

#[test]
fn healthy_corners_are_not_called_dead() {
    let told = play(&spec(&[1.0; 4]), &parabolas(&[0.75, 0.75, 0.875, 0.875], 1.0, 1.2));
    assert_eq!(told.outcome.unresponsive, vec![]);
    assert!(told.outcome.remarks.iter().any(|r| r.contains("normal") || r.contains("even")));
}

#[test]
fn the_idle_speed_is_trimmed_when_it_rises_and_left_alone_when_it_cannot_be() {
    let mut spec = spec(&[2.25, 2.25]);
    spec.idle_aim = Some(EngineSpeed::from_rpm(600.0));
    let told = play(&spec, &parabolas(&[1.25, 1.25], 1.0, 1.0));
    assert!(told.moves.iter().any(|m| matches!(m, Move::TrimIdle { .. })));
    let mut history = vec![Observation::Cannot { what: "trim".into() }];
    history.extend(told.history.iter().take(1).cloned());
    assert!(!matches!(decide(&spec, &history, System::Us).next, Move::TrimIdle { .. }));
    assert!(told.turns.iter().all(|t| (t - 1.25).abs() <= 0.26), "{:?}", told.turns);
}

#[test]
fn after_a_stall_it_goes_back_to_where_it_ran_and_not_there_again() {
    let spec = spec(&[1.0, 1.0]);
    let read = |v: f64| {
        Observation::Read(Reading {
            vacuum: Vacuum::from_inhg(v),
            speed: Some(EngineSpeed::from_rpm(600.0)),
            lambda: None,
            coolant: None,
        })
    };
    let turned = |by: f64| Observation::Turned { screws: vec![1, 2], by: Turns::from_turns(by) };
    let mut history = vec![read(14.0), turned(-0.25), Observation::Stalled];
    let back = decide(&spec, &history, System::Us);
    assert_eq!(back.next, Move::Turn { screws: vec![1, 2], by: Turns::from_turns(0.25) });
    history.extend([turned(0.25), read(14.0)]);
    let Move::Turn { by, .. } = decide(&spec, &history, System::Us).next else { panic!("a turn is due") };
    assert!(by.as_turns() > 0.0, "it goes rich after a lean stall, not {by:?}");
}

#[test]
fn a_screw_that_cannot_be_turned_is_left_where_it_stands() {
    let spec = spec(&[1.5, 1.5]);
    let mut history = vec![Observation::Cannot { what: "turn 2".into() }];
    let answer = parabolas(&[1.2, 1.5], 1.0, 2.5);
    let mut turns = [1.5, 1.5];
    for _ in 0..60 {
        match decide(&spec, &history, System::Us).next {
            Move::Turn { screws, by } => {
                assert_eq!(screws, vec![1]);
                turns[0] += by.as_turns();
                history.push(Observation::Turned { screws, by });
            }
            Move::Read => {
                let (v, s) = answer(&turns).unwrap_or((0.0, 0.0));
                history.push(Observation::Read(Reading {
                    vacuum: Vacuum::from_inhg(v),
                    speed: Some(EngineSpeed::from_rpm(s)),
                    lambda: None,
                    coolant: None,
                }));
            }
            Move::TrimIdle { .. } => panic!("no aim, no trim"),
            Move::Done(_) => {
                assert!((turns[0] - 1.2).abs() <= 0.13, "{turns:?}");
                return;
            }
        }
    }
    panic!("it does not end");
}

#[test]
fn without_vacuum_readings_it_says_so() {
    let history = vec![Observation::Cannot { what: "reading of the vacuum".into() }];
    let Move::Done(outcome) = decide(&spec(&[1.5, 1.5]), &history, System::Us).next else {
        panic!("nothing can be done")
    };
    assert!(outcome.remarks[0].contains("vacuum"));
}

#[test]
fn the_finishes_leave_the_screws_where_they_say() {
    let answer = parabolas(&[1.25, 1.25], 1.0, 2.5);
    let mut rich = spec(&[1.5, 1.5]);
    rich.finish = Finish::Rich(Turns::from_turns(0.25));
    let told = play(&rich, &answer);
    assert!(told.turns.iter().all(|t| (1.37..=1.63).contains(t)), "{:?}", told.turns);
    let mut lean = spec(&[1.5, 1.5]);
    lean.finish = Finish::LeanDrop(EngineSpeed::from_rpm(20.0));
    let told = play(&lean, &answer);
    let fell = 720.0 - answer(&told.turns).map_or(0.0, |a| a.1);
    assert!((5.0..=45.0).contains(&fell) && told.turns[0] < 1.25, "{fell} rpm at {:?}", told.turns);
}

/// The second screw does nothing, and the top of the first lies between two marks: richer than the one of them, or richer
/// than the other, but no turning to and fro between the two.
#[test]
fn a_rich_finish_comes_to_rest_wherever_the_top_lies_between_two_marks() {
    for (top, height) in [1.0, 1.18, 1.2].into_iter().flat_map(|top| [(top, 1.0), (top, 3.0)]) {
        let mut rich = spec(&[1.5, 1.5]);
        rich.finish = Finish::Rich(Turns::from_turns(0.125));
        let told = play(&rich, &parabolas(&[top], 1.0, height));
        assert!((top..=top + 0.26).contains(&told.turns[0]), "{top}, {height}: {:?}", told.turns);
        assert!(told.outcome.readings <= 15, "{top}, {height}: {} readings", told.outcome.readings);
    }
}

#[test]
fn a_warming_engine_is_recognised() {
    let spec = spec(&[1.5, 1.5]);
    let mut history = Vec::new();
    for minute in 0..12 {
        let warm = 1.5 * (1.0 - (-f64::from(minute) / 8.0).exp());
        history.push(Observation::Read(Reading {
            vacuum: Vacuum::from_inhg(((14.0 + warm) * 10.0).round() / 10.0),
            speed: Some(EngineSpeed::from_rpm(((600.0 + 60.0 * warm) / 10.0).round() * 10.0)),
            lambda: None,
            coolant: Some(Temperature::from_c(50.0 + 2.0 * f64::from(minute))),
        }));
    }
    let decision = decide(&spec, &history, System::Us);
    let drift = decision.belief.and_then(|b| b.drifting).expect("drift is seen");
    assert!(drift.as_inhg() > 0.05, "{drift:?}");
    assert!(decision.why.contains("warming"), "{}", decision.why);
}

#[test]
fn what_is_believed_is_told_after_every_reading() {
    let told = play(&spec(&[1.5, 1.5]), &parabolas(&[1.1, 1.3], 1.0, 2.5));
    let belief = told.last.belief.expect("there is one after the first reading");
    assert_eq!(belief.screws.len(), 2);
    assert!((belief.top.as_inhg() - 17.0).abs() < 0.3, "{:?}", belief.top);
    assert!((belief.screws[0].top.as_turns() - 1.1).abs() < 0.2 && belief.screws[0].dead < 0.05);
    let counts = (told.outcome.moves as usize, told.outcome.readings as usize);
    let turned = told.moves.iter().filter(|m| matches!(m, Move::Turn { .. })).count();
    assert_eq!(counts, (turned, told.moves.iter().filter(|m| matches!(m, Move::Read)).count()));
}

/// Another system of units is other words for the same moves, and none of them keeps the unit of the first.
#[test]
fn the_reasons_are_in_the_units_asked_for() {
    let spec = spec(&[1.5, 1.5]);
    let (us, metric) = (" inHg", " kPa");
    for tops in [[1.1, 1.3], [0.9, 1.0]] {
        let told = play(&spec, &parabolas(&tops, 1.0, 2.5));
        let mut all = [String::new(), String::new()];
        for cut in 0..=told.history.len() {
            let [mut one, mut other] =
                [System::Us, System::Metric].map(|system| decide(&spec, &told.history[..cut], system));
            for (decision, all) in [&mut one, &mut other].into_iter().zip(&mut all) {
                all.push_str(&std::mem::take(&mut decision.why));
                if let Move::Done(outcome) = &mut decision.next {
                    all.push_str(&std::mem::take(&mut outcome.remarks).join(" "));
                }
            }
            assert_eq!(one, other);
        }
        assert!(all[0].contains(us) && !all[0].contains(metric), "{}", all[0]);
        assert!(all[1].contains(metric) && !all[1].contains(us), "{}", all[1]);
    }
}

#[test]
fn the_families_differ_as_they_say() {
    let lopey = Engine::new(Family::Lopey, 2, 3);
    let dead = Engine::new(Family::Dead, 2, 3);
    assert!(lopey.lopey && dead.dead.is_some());
}

/// A brake or a governor holds the speed: trimming does nothing, and the tachometer says nothing about the mixture.
#[test]
fn a_rig_whose_speed_is_held_is_not_asked_to_trim_for_ever() {
    let mut spec = spec(&[1.5, 1.5]);
    spec.idle_aim = Some(EngineSpeed::from_rpm(750.0));
    let engine = parabolas(&[1.0, 1.1], 1.0, 2.5);
    let mut turns = [1.5, 1.5];
    let (mut history, mut trims) = (Vec::new(), 0);
    for _ in 0..80 {
        match decide(&spec, &history, System::Us).next {
            Move::Turn { screws, by } => {
                for s in &screws {
                    turns[usize::from(*s) - 1] += by.as_turns();
                }
                history.push(Observation::Turned { screws, by });
            }
            Move::Read => history.push(Observation::Read(Reading {
                vacuum: Vacuum::from_inhg((engine(&turns).map_or(0.0, |a| a.0) * 4.0).round() / 4.0),
                speed: Some(EngineSpeed::from_rpm(900.0)),
                lambda: None,
                coolant: None,
            })),
            Move::TrimIdle { .. } => {
                trims += 1;
                history.push(Observation::Trimmed { to: None });
            }
            Move::Done(_) => {
                let lost = 17.0 - engine(&turns).expect("it runs").0;
                assert!((1..=2).contains(&trims), "{trims} trims");
                assert!(lost < 0.15, "{lost:.2} inHg lost at {turns:?}");
                return;
            }
        }
    }
    panic!("the search does not end after {trims} trims");
}

#[test]
fn one_low_reading_of_a_lopey_engine_does_not_end_it() {
    // Before anything is turned the top may be anywhere: every setting near by is thought to lose much.
    for inhg in [4.0, 6.0, 8.0, 10.0] {
        for turns in [0.75, 1.25, 1.8, 2.5] {
            for screws in [1, 2, 4] {
                let spec = Spec { lopey: true, ..spec(&vec![turns; screws]) };
                let reading = Reading {
                    vacuum: Vacuum::from_inhg(inhg),
                    speed: Some(EngineSpeed::from_rpm(900.0)),
                    lambda: None,
                    coolant: None,
                };
                let next = decide(&spec, &[Observation::Read(reading)], System::Us).next;
                assert!(matches!(next, Move::Turn { .. }), "{inhg} inHg, {screws} at {turns}: {next:?}");
            }
        }
    }
}
