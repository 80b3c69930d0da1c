//! What advice must do and must never do, on made-up logs.

#![cfg(test)]

#[path = "support/job.rs"]
mod job;

use job::{Made, log_of, setup, weather};
use leanbest::analysis::advise::{Advice, AdviceInput, Options, Outcome, Trial, Verdict, advise, rejet};
use leanbest::report::pictures::lambda_by_regime;
use leanbest::rules::RuleBook;
use leanbest::setup::{Application, PartPath, PartSize, Regime, SetName, Setup, Weather};
use leanbest::trace::{Pull, TipIn, TraceSummary};
use leanbest::units::*;

const JET: PartPath = PartPath::MainJet(SetName::Primary);

/// Lambda at idle, off idle, cruise, heavy cruise and full throttle.
fn log(setup: &Setup, lambda: [f64; 5], visits: u64) -> TraceSummary {
    let places = [
        (Regime::Idle, 0.05, 17.0),
        (Regime::OffIdle, 0.10, 16.0),
        (Regime::Cruise, 0.20, 13.0),
        (Regime::Cruise, 0.28, 12.0),
        (Regime::HeavyCruise, 0.40, 9.2),
        (Regime::FullThrottle, 0.75, 2.0),
        (Regime::FullThrottle, 0.90, 1.5),
    ];
    let of = |r| match r {
        Regime::Idle => lambda[0],
        Regime::OffIdle => lambda[1],
        Regime::Cruise => lambda[2],
        Regime::HeavyCruise => lambda[3],
        _ => lambda[4],
    };
    let made: Vec<Made> = places
        .iter()
        .map(|(regime, share, inhg)| Made {
            regime: *regime,
            share: *share,
            inhg: *inhg,
            lambda: of(*regime),
            spread: 0.02,
            seconds: 6.0 * visits as f64,
            visits,
        })
        .collect();
    log_of(setup, &made)
}

fn advice_with(setup: &Setup, trace: &TraceSummary, memory: &[Trial], together: bool) -> Advice {
    let rules = RuleBook::common();
    advise(&AdviceInput {
        setup,
        rules: &rules,
        trace,
        weather: None,
        memory,
        options: Options { together, ..Options::default() },
    })
}

fn advice(setup: &Setup, lambda: [f64; 5]) -> Advice {
    advice_with(setup, &log(setup, lambda, 12), &[], false)
}

/// The middle of every band of a street engine.
const RIGHT: [f64; 5] = [0.96, 0.95, 1.00, 0.935, 0.87];

/// To a hundredth of a thousandth.
fn inches(size: PartSize) -> f64 {
    (size.bore().unwrap().as_inches() * 1e5).round() / 1e5
}

fn pull(psi_from: Option<f64>, psi_to: Option<f64>, lambda_from: f64, lambda_to: f64) -> Pull {
    let l = |x| Some(Lambda::from_ratio(x));
    Pull {
        start: TimeSpan::from_s(100.0),
        seconds: TimeSpan::from_s(6.0),
        speed_from: EngineSpeed::from_rpm(2500.0),
        speed_to: EngineSpeed::from_rpm(4000.0),
        lambda: l(lambda_from),
        lambda_from: l(lambda_from),
        lambda_to: l(lambda_to),
        lambda_per_1000_rpm: None,
        worst: l(lambda_to),
        worst_at: None,
        richest: l(lambda_from),
        fuel_pressure_from: psi_from.map(PressureDifference::from_psi),
        fuel_pressure_to: psi_to.map(PressureDifference::from_psi),
        vacuum_to: None,
        throttle: None,
        samples: 60,
    }
}

#[test]
fn what_is_right_is_left_alone() {
    let a = advice(&setup(Application::Street), RIGHT);
    assert_eq!(a.outcome, Outcome::LeaveAlone);
    assert!(a.changes.is_empty() && a.plan.is_empty());
}

#[test]
fn lean_cruise_and_full_throttle_want_a_larger_main_jet() {
    let s = setup(Application::Street);
    let a = advice(&s, [0.96, 0.96, 1.09, 1.02, 0.95]);
    assert_eq!(a.outcome, Outcome::Change);
    let c = &a.changes[0];
    assert_eq!((a.changes.len(), c.part), (1, JET));
    assert!((0.062..=0.065).contains(&inches(c.to)), "{:?}", c.to);
    let full = c.expect.iter().find(|e| e.regime == Regime::FullThrottle).unwrap();
    assert!(full.low < full.lambda && full.lambda < full.high && full.lambda.as_ratio() < 0.92);
    assert!(!c.why.is_empty() && !c.how_sure.is_empty() && !c.proves_wrong.is_empty());
}

#[test]
fn full_throttle_alone_wants_the_channel() {
    let a = advice(&setup(Application::Street), [0.96, 0.95, 1.00, 0.935, 0.93]);
    assert_eq!(a.changes[0].part, PartPath::ChannelRestriction);
    assert!(inches(a.changes[0].to) > 0.024);
}

#[test]
fn rich_everywhere_goes_one_jet_step_leaner_and_plans_the_rest() {
    let a = advice(&setup(Application::Street), [0.90, 0.93, 0.86, 0.80, 0.77]);
    let c = &a.changes[0];
    assert_eq!(c.part, JET);
    assert_eq!(inches(c.to), 0.059, "one step of 0.001 in");
    assert!(a.plan.iter().any(|s| s.part == JET && inches(s.to) < 0.059), "{:?}", a.plan);
}

#[test]
fn nothing_is_leaned_at_full_throttle_near_its_limit() {
    // Cruise is rich and full throttle already at the lean stop.
    let a = advice(&setup(Application::Street), [0.96, 0.95, 0.90, 0.85, 0.925]);
    assert!(a.changes.iter().all(|c| c.part != JET || inches(c.to) > 0.060), "{:?}", a.changes);
}

#[test]
fn a_sensor_that_is_not_trusted_gives_no_full_throttle_advice() {
    let mut s = setup(Application::Street);
    s.instruments.lambda.as_mut().unwrap().trusted = false;
    let a = advice(&s, [0.96, 0.95, 1.00, 0.935, 0.93]);
    assert!(a.changes.is_empty(), "{:?}", a.changes);
    assert!(a.withheld.iter().any(|w| w.what == "full-throttle advice" && w.reason.contains("calibrate")));
    let rich = advice(&s, [0.90, 0.93, 0.86, 0.80, 0.77]);
    assert!(rich.changes.iter().all(|c| c.part != JET), "leaning reaches full throttle: {:?}", rich.changes);
}

#[test]
fn a_sensor_that_fails_in_the_log_comes_first() {
    let s = setup(Application::Street);
    let mut trace = log(&s, [0.96, 0.96, 1.09, 1.02, 0.95], 12);
    trace.sensor.believable = Some(Fraction::from_percent(60.0));
    let a = advice_with(&s, &trace, &[], false);
    assert_eq!(a.outcome, Outcome::MendFirst);
    assert!(a.changes.is_empty());
}

#[test]
fn falling_fuel_pressure_comes_before_jets() {
    let s = setup(Application::Street);
    let mut trace = log(&s, [0.96, 0.95, 1.00, 0.935, 0.93], 12);
    trace.pulls = vec![pull(Some(5.5), Some(3.9), 0.88, 0.96)];
    let a = advice_with(&s, &trace, &[], false);
    assert_eq!(a.outcome, Outcome::MendFirst);
    assert_eq!(a.mend_first[0].what, "Fuel supply");
    assert!(a.changes.is_empty());
    // A fall of less than the limit at a steady mixture is no fault.
    trace.pulls = vec![pull(Some(5.5), Some(4.8), 0.93, 0.93)];
    assert_eq!(advice_with(&s, &trace, &[], false).outcome, Outcome::Change);
}

#[test]
fn a_climb_without_a_pressure_gauge_holds_full_throttle_back() {
    let s = setup(Application::Street);
    let mut trace = log(&s, [0.96, 0.95, 1.00, 0.935, 0.93], 12);
    trace.pulls = vec![pull(None, None, 0.90, 0.96)];
    let a = advice_with(&s, &trace, &[], false);
    assert!(a.changes.is_empty());
    assert!(a.withheld.iter().any(|w| w.reason.contains("fuel pressure")), "{:?}", a.withheld);
}

#[test]
fn idle_lean_with_a_normal_full_throttle_is_a_leak_until_shown_otherwise() {
    let a = advice(&setup(Application::Marine), [1.04, 0.95, 0.95, 0.92, 0.835]);
    assert_eq!(a.outcome, Outcome::MendFirst);
    assert!(a.mend_first[0].what.contains("leak"), "{:?}", a.mend_first);
    assert!(a.changes.is_empty());
}

#[test]
fn a_rich_idle_is_not_leaned_by_lambda() {
    let a = advice(&setup(Application::Street), [0.80, 0.95, 1.00, 0.935, 0.87]);
    assert!(a.changes.is_empty());
    assert!(a.withheld.iter().any(|w| w.what == "leaning the idle by lambda"));
}

#[test]
fn too_little_log_is_said_with_the_seconds_that_are_missing() {
    let s = setup(Application::Street);
    let a = advice_with(&s, &log(&s, [0.96, 0.95, 0.965, 0.935, 0.87], 1), &[], false);
    let cruise = a.regimes.iter().find(|r| r.regime == Regime::Cruise).unwrap();
    assert_eq!(cruise.verdict, Verdict::Unsure);
    assert!(cruise.needs > TimeSpan::ZERO);
    assert_eq!(a.outcome, Outcome::LogMore);
}

#[test]
fn a_part_that_is_not_in_stock_is_never_named() {
    let mut s = setup(Application::Street);
    s.carburetor.stock.main_jets = [0.060, 0.061, 0.068].map(Length::from_inches).to_vec();
    let a = advice(&s, [0.96, 0.96, 1.09, 1.02, 0.95]);
    let known = |c: &leanbest::analysis::advise::Change| match c.part {
        JET => s.carburetor.stock.main_jets.contains(&c.to.bore().unwrap()),
        _ => true,
    };
    assert!(!a.changes.is_empty() && a.changes.iter().all(known), "{:?}", a.changes);
}

/// A jet change that did half of what the model says.
fn half_as_much(s: &Setup) -> (Setup, Vec<Trial>) {
    let mut before = s.clone();
    before.carburetor = before.carburetor.with(JET, PartSize::Bore(Length::from_inches(0.056))).unwrap();
    let trace = log(&before, [0.96, 0.97, 1.13, 1.06, 0.99], 40);
    (s.clone(), vec![Trial { carburetor: before.carburetor, weather: s.weather, trace }])
}

#[test]
fn a_change_teaches_what_a_step_is_worth_here() {
    let (s, memory) = half_as_much(&setup(Application::Street));
    let trace = log(&s, [0.96, 0.96, 1.09, 1.02, 0.95], 40);
    let (fresh, taught) = (advice_with(&s, &trace, &[], false), advice_with(&s, &trace, &memory, false));
    assert!(fresh.learned.is_empty());
    assert!(
        taught.learned.iter().any(|l| l.contains("primary main jet") && l.contains("worth")),
        "{:?}",
        taught.learned
    );
    let to = |a: &Advice| inches(a.changes.iter().find(|c| c.part == JET).unwrap().to);
    assert!(
        to(&taught) >= to(&fresh),
        "an engine that answers less needs a larger step: {} {}",
        to(&taught),
        to(&fresh)
    );
}

#[test]
fn the_weather_is_taken_out_before_anything_is_learned() {
    let s = setup(Application::Street);
    let trace = log(&s, [0.96, 0.96, 1.09, 1.02, 0.95], 40);
    let with = |weather: Weather, ratio: f64| {
        let mut before = s.clone();
        before.carburetor = before.carburetor.with(JET, PartSize::Bore(Length::from_inches(0.058))).unwrap();
        let lambda = [0.96, 0.97, 1.14, 1.07, 1.00].map(|l| l * ratio);
        let memory = [Trial {
            weather: Some(weather),
            trace: log(&before, lambda, 40),
            carburetor: before.carburetor,
        }];
        let a = advice_with(&s, &trace, &memory, false);
        a.changes[0].expect.iter().map(|e| e.lambda.as_ratio()).collect::<Vec<_>>()
    };
    let mountain = Weather { pressure: Pressure::from_inhg(24.9), ..weather() };
    let (here, there) = (with(weather(), 1.0), with(mountain, (24.9f64 / 29.92).sqrt()));
    for (a, b) in here.iter().zip(&there) {
        assert!((a - b).abs() < 0.012, "{here:?} {there:?}");
    }
}

#[test]
fn lean_openings_want_a_larger_pump_nozzle_once_the_steady_mixture_is_right() {
    let s = setup(Application::Street);
    let mut trace = log(&s, RIGHT, 12);
    let tip = TipIn {
        start: TimeSpan::from_s(10.0),
        throttle_from: Fraction::from_percent(10.0),
        throttle_to: Fraction::from_percent(50.0),
        opening_per_s: 1.5,
        peak: Lambda::from_ratio(1.22),
        peak_after: TimeSpan::from_ms(300.0),
        lean_seconds: TimeSpan::from_ms(550.0),
        richest: Lambda::from_ratio(0.85),
        rich_seconds: TimeSpan::ZERO,
        recovery: None,
        settled: Some(Lambda::from_ratio(0.86)),
        speed_dip: EngineSpeed::from_rpm(90.0),
        second_peak: None,
    };
    trace.tip_ins = vec![tip; 3];
    let a = advice_with(&s, &trace, &[], false);
    assert_eq!((a.changes[0].part, inches(a.changes[0].to)), (PartPath::PumpNozzle, 0.028));
    trace.tip_ins.pop();
    let few = advice_with(&s, &trace, &[], false);
    assert!(few.changes.is_empty() && few.withheld.iter().any(|w| w.what == "the accelerator pump"));
}

#[test]
fn the_same_log_gives_the_same_advice_and_a_file_keeps_it_whole() {
    let (s, memory) = half_as_much(&setup(Application::Street));
    let trace = log(&s, [0.96, 0.96, 1.09, 1.02, 0.95], 12);
    let (a, b) = (advice_with(&s, &trace, &memory, true), advice_with(&s, &trace, &memory, true));
    assert_eq!(a, b);
    let kept: Advice = serde_json::from_str(&serde_json::to_string(&a).unwrap()).unwrap();
    assert_eq!(a, kept);
    let json = a.to_json(System::Us);
    for key in ["part", "from", "to", "from_in", "to_in", "expect", "why"] {
        assert!(json["changes"][0].get(key).is_some(), "{key}");
    }
}

#[test]
fn a_part_that_was_turned_back_once_is_not_turned_again() {
    let s = setup(Application::Street);
    let lean = [0.96, 0.97, 1.08, 0.995, 0.90];
    let trace = log(&s, lean, 40);
    let on = |jet: f64, lambda| {
        let size = PartSize::Bore(Length::from_inches(jet));
        let carburetor = s.carburetor.with(JET, size).unwrap();
        Trial { carburetor, weather: s.weather, trace: log(&s, lambda, 40) }
    };
    let up = |a: &Advice| a.changes.iter().any(|c| c.part == JET && inches(c.to) > 0.060);
    // From below it goes on; from above, where it had come from below, it does not go to and fro.
    let smaller = on(0.058, [0.96, 0.98, 1.13, 1.05, 0.95]);
    assert!(up(&advice_with(&s, &trace, std::slice::from_ref(&smaller), false)));
    let larger = on(0.062, [0.96, 0.96, 1.03, 0.94, 0.85]);
    assert!(!up(&advice_with(&s, &trace, &[smaller, larger], false)));
}

#[test]
fn other_air_says_when_to_re_jet_and_back() {
    let s = setup(Application::Street);
    let rules = RuleBook::common();
    let trace = log(&s, RIGHT, 12);
    let mountain = Weather { pressure: Pressure::from_inhg(27.0), ..weather() };
    let with = |air: Option<&Weather>| {
        let input = AdviceInput {
            setup: &s,
            rules: &rules,
            trace: &trace,
            weather: air,
            memory: &[],
            options: Options::default(),
        };
        rejet(&input, &advise(&input)).unwrap()
    };
    let here = with(None);
    assert!(here.since_setup.is_none());
    let (denser, thinner) = (here.denser.clone().unwrap(), here.thinner.clone().unwrap());
    assert!(denser.temperature.is_none_or(|t| t < weather().temperature));
    assert!(denser.lambda < denser.edge && denser.jets.iter().all(|(_, from, to)| to >= from));
    assert!(thinner.altitude.unwrap() > Length::from_feet(1000.0) && thinner.lambda > thinner.edge);
    assert!(thinner.jets.iter().all(|(_, from, to)| to <= from));
    assert!(here.say(System::Us).iter().any(|text| text.contains("jet back before coming down")));
    let there = with(Some(&mountain));
    let since = there.since_setup.as_ref().unwrap();
    assert!(since.lambda_factor < 0.96 && since.jetting.says.len() > 2);
    assert!(there.say(System::Us).iter().any(|text| text.contains("by each rule")));
    let json = there.to_json();
    assert!(json["since_setup"]["rules"].as_array().unwrap().len() > 2);
    assert!(json["thinner"]["pressure_altitude_ft"].is_number() && json["rejet_if"].is_array());
}

#[test]
fn the_picture_shows_every_regime_now_and_what_is_expected() {
    let a = advice(&setup(Application::Street), [0.96, 0.96, 1.09, 1.02, 0.95]);
    let picture = lambda_by_regime(&a).unwrap();
    assert_eq!(picture.rows.len(), 5);
    let cruise = picture.rows.iter().find(|r| r.label == "cruise").unwrap();
    let (middle, low, high) = cruise.expected.unwrap();
    assert!((cruise.before - 1.09).abs() < 1e-3 && low < middle && middle < high && middle < cruise.before);
    let idle = picture.rows.iter().find(|r| r.label.starts_with("idle")).unwrap();
    assert!(idle.expected.is_none() && idle.band.is_some());
    assert!(picture.rows.iter().all(|r| r.after.is_none()));
}
