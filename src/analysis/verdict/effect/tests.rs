use super::super::noise::{NoiseSource, Rig};
use super::*;
use approx::assert_relative_eq;
use proptest::prelude::*;

fn series(text: &str) -> Vec<Observation> {
    let read = |(k, word): (usize, &str)| {
        let (label, value) = word.split_once('=').unwrap();
        Observation { label: label.to_owned(), value: value.parse().unwrap(), at: k as f64 }
    };
    text.split_whitespace().enumerate().map(read).collect()
}

#[test]
fn the_worked_numbers_come_out_exactly() {
    for rig in [Rig::EngineDyno, Rig::ChassisDyno] {
        let judged = judge(&series("A=212.4 B=215.9 A=213.0"), rig.floor(), true).unwrap();
        assert_relative_eq!(judged.effects[0].effect, 3.2, epsilon = 1e-9);
        assert_relative_eq!(judged.drift_between_returns.unwrap(), 0.6, epsilon = 1e-9);
        assert_eq!(judged.effects[0].verdict, Verdict::Better);

        let judged = judge(&series("A=212.4 B=214.0 A=215.1"), rig.floor(), true).unwrap();
        assert_relative_eq!(judged.effects[0].effect, 0.25, epsilon = 1e-9);
        assert_relative_eq!(judged.drift_between_returns.unwrap(), 2.7, epsilon = 1e-9);
        assert_eq!(judged.effects[0].verdict, Verdict::WithinNoise);
    }
}

#[test]
fn less_fuel_is_better_where_less_is_better() {
    // A1 6.32, B 5.91, A2 6.30, B2 5.93: a flow, so lower is better
    let judged = judge(&series("A=6.32 B=5.91 A=6.30 B=5.93"), Rig::Road.floor(), false).unwrap();
    assert_relative_eq!(judged.effects[0].effect, -0.39, epsilon = 0.005);
    assert_eq!(judged.effects[0].verdict, Verdict::Better);
    let power = judge(&series("A=6.32 B=5.91 A=6.30 B=5.93"), Rig::Road.floor(), true).unwrap();
    assert_eq!(power.effects[0].verdict, Verdict::Worse);
}

#[test]
fn an_effect_is_held_back_just_below_twice_the_drift_and_let_through_at_it() {
    let floor = Fraction::from_ratio(0.001);
    // drift |A2 - A1| = 1.0; effect 1.99 and 2.01
    let just_under = judge(&series("A=100 B=102.49 A=101"), floor, true).unwrap();
    assert!(just_under.effects[0].held_back_by_drift);
    assert_eq!(just_under.effects[0].verdict, Verdict::WithinNoise);
    let just_over = judge(&series("A=100 B=102.51 A=101"), floor, true).unwrap();
    assert_eq!(just_over.effects[0].verdict, Verdict::Better);
}

#[test]
fn the_verdict_turns_where_the_interval_comes_clear_of_zero_and_never_inside_the_floor() {
    for rig in [Rig::EngineDyno, Rig::ChassisDyno, Rig::Road] {
        let at = |b: f64| judge(&series(&format!("A=200 B={b:.9} A=200")), rig.floor(), true).unwrap();
        let one = at(201.0);
        let half = 0.5 * (one.effects[0].high - one.effects[0].low);
        assert!(half >= 200.0 * rig.floor().as_ratio(), "{rig:?}: {half}");
        let verdict = |effect: f64| at(200.0 + effect).effects[0].verdict;
        for (effect, wanted) in [
            (half - 0.01, Verdict::WithinNoise),
            (half + 0.01, Verdict::Better),
            (-half + 0.01, Verdict::WithinNoise),
            (-half - 0.01, Verdict::Worse),
        ] {
            assert_eq!(verdict(effect), wanted, "{rig:?}: {effect}");
        }
    }
}

#[test]
fn without_a_return_drift_is_allowed_for_and_the_interval_is_wider() {
    let there = judge(&series("A=200 B=203"), Rig::ChassisDyno.floor(), true).unwrap();
    assert_eq!(there.drift, DriftSource::Allowed);
    assert_eq!(there.drift_between_returns, None);
    assert_relative_eq!(there.effects[0].effect, 3.0, epsilon = 1e-9);
    let back = judge(&series("A=200 B=203 A=200"), Rig::ChassisDyno.floor(), true).unwrap();
    assert!(back.effects[0].high - back.effects[0].low < there.effects[0].high - there.effects[0].low);
    assert_eq!(back.noise.source, NoiseSource::Floor);
}

#[test]
fn one_label_is_no_comparison() {
    assert_eq!(judge(&series("A=1 A=2"), Rig::Road.floor(), true), Err(EffectError::OneLabel));
    assert_eq!(judge(&series("A=0 B=2 A=0"), Rig::Road.floor(), true), Err(EffectError::NoLevel));
}

#[test]
fn three_states_share_one_drift() {
    // drift +1 a pull, B +3, C -2, no noise
    let judged = judge(&series("A=100 B=104 C=100 A=103 B=107"), Rig::EngineDyno.floor(), true).unwrap();
    assert_relative_eq!(judged.effects[0].effect, 3.0, epsilon = 1e-9);
    assert_relative_eq!(judged.effects[1].effect, -2.0, epsilon = 1e-9);
    assert_relative_eq!(judged.drift_per_pull.unwrap(), 1.0, epsilon = 1e-9);
}

proptest! {
    #[test]
    fn steady_drift_of_any_size_never_moves_the_effect(slope in -5.0..5.0f64, effect in -10.0..10.0f64) {
        let make = |slope: f64| -> Vec<Observation> {
            ["A", "B", "A", "B", "A"].iter().enumerate().map(|(k, l)| Observation {
                label: (*l).to_owned(),
                value: 300.0 + slope * k as f64 + if *l == "B" { effect } else { 0.0 },
                at: k as f64,
            }).collect()
        };
        let judged = judge(&make(slope), Rig::EngineDyno.floor(), true).unwrap();
        prop_assert!((judged.effects[0].effect - effect).abs() < 1e-8);
    }

    #[test]
    fn scaling_the_figures_scales_everything_and_changes_no_verdict(k in 0.01..100.0f64, b in 95.0..105.0f64) {
        let plain = judge(&series(&format!("A=100 B={b} A=100.3")), Rig::EngineDyno.floor(), true).unwrap();
        let scaled: Vec<_> = series(&format!("A=100 B={b} A=100.3")).into_iter()
            .map(|o| Observation { value: o.value * k, ..o }).collect();
        let scaled = judge(&scaled, Rig::EngineDyno.floor(), true).unwrap();
        prop_assert!((scaled.effects[0].low - plain.effects[0].low * k).abs() < 1e-7 * k.max(1.0));
        prop_assert_eq!(scaled.effects[0].verdict, plain.effects[0].verdict);
    }
}
