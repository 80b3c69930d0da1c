use super::super::segment::tests::row;
use super::*;
use crate::numeric::rng::Chance;

/// Throttle steps at several speeds; lambda answers after wait + extra + pipe / pumped.
fn log(extra_s: f64, pipe: f64, noise: f64) -> Transients {
    let mut chance = Chance::with_seed(3);
    let mut transients = Transients::new();
    let mut t = 0.0;
    let mut seen = 0.92;
    for step in 0..24 {
        let speed = 900.0 + 160.0 * f64::from(step % 8);
        let vacuum_after = 16.0 - 1.2 * f64::from(step % 5);
        let pumped = speed * (101.3 - 3.386 * vacuum_after);
        let late = 90.0 / speed + extra_s + pipe / pumped;
        for i in 0..500 {
            let since = f64::from(i) / 100.0 - 2.0;
            let (throttle, vacuum) = if since > 0.0 { (20.0, vacuum_after) } else { (5.0, 16.0) };
            let mut s = row(t, speed, vacuum, throttle);
            // Through the sensor's own lag.
            let gas = if since > late || (step > 0 && since < late - 2.0) { 0.80 } else { 0.92 };
            seen += (gas - seen) * (1.0 - (-0.01f64 / 0.07).exp());
            s.lambda = seen + noise * chance.normal();
            transients.push(&s);
            t += 0.01;
        }
    }
    transients
}

fn prior() -> DelayModel {
    DelayModel {
        source: DelaySource::Typical,
        lag_s: 0.07,
        extra_s: 0.0,
        pipe: 12_000.0,
        pipe_sd: 5_000.0,
        extra_sd_s: 0.05,
        pivot: 0.0,
        plug_sd: 0.0,
        transients: 0,
    }
}

#[test]
fn finds_the_transport_it_was_given() {
    for (extra, pipe) in [(0.0, 12_000.0), (0.08, 20_000.0), (0.02, 5_000.0)] {
        let fit = log(extra, pipe, 0.004).fit(&prior()).unwrap();
        assert_eq!(fit.source, DelaySource::Fitted);
        let at = |m: &DelayModel| m.onset_s(1500.0, 90_000.0);
        let truth = DelayModel { extra_s: extra, pipe, ..prior() };
        assert!((at(&fit) - at(&truth)).abs() < 0.03, "{extra} {pipe}: {fit:?}");
    }
}

#[test]
fn no_movement_no_fit() {
    let mut transients = Transients::new();
    (0..10_000).for_each(|i| transients.push(&row(f64::from(i) / 100.0, 800.0, 16.0, 1.0)));
    assert!(transients.fit(&prior()).is_none());
}

/// Answers that a sensor of 0.07 s gives behind this transport, at these speeds and 60 kPa, each off by so much.
fn answered(extra_s: f64, pipe: f64, speeds: &[f64], off: impl Fn(usize) -> f64) -> Transients {
    let mut transients = Transients::new();
    transients.answers = speeds
        .iter()
        .enumerate()
        .map(|(i, speed)| {
            let (inverse, rise) = (1.0 / (speed * 60.0), 0.2 + 0.05 * (i % 3) as f64);
            Answer { inverse, delay_s: extra_s + pipe * inverse + 0.07 * rise + off(i), rise }
        })
        .collect();
    transients
}

const SPEEDS: [f64; 9] = [1000.0, 1200.0, 1500.0, 1800.0, 2200.0, 2700.0, 3300.0, 4000.0, 5000.0];

#[test]
fn a_fit_is_the_line_through_its_answers_and_knows_how_well() {
    let exact = answered(0.05, 9_000.0, &SPEEDS, |_| 0.0).fit(&prior()).unwrap();
    assert!((exact.pipe - 9_000.0).abs() < 1e-6 && (exact.extra_s - 0.05).abs() < 1e-9, "{exact:?}");
    assert!((exact.plug_sd - 0.15 * 9_000.0).abs() < 1e-6);
    assert!((exact.pivot - 1.0 / (2200.0 * 60.0)).abs() < 1e-12);
    assert!((exact.extra_sd_s - 0.03).abs() < 1e-9 && exact.pipe_sd < 1e-3);
    assert_eq!((exact.transients, exact.lag_s, exact.source), (9, 0.07, DelaySource::Fitted));
    // Off by 20 ms to one side and to the other: the error of their median, over the spread of the flows.
    let off = answered(0.05, 9_000.0, &SPEEDS, |i| 0.02 * (i % 3) as f64 - 0.02).fit(&prior()).unwrap();
    assert!((off.pipe - 9_000.0).abs() < 1_500.0, "{off:?}");
    let sd = (off.extra_sd_s.powi(2) - 0.03f64.powi(2)).sqrt();
    assert!((0.005..0.02).contains(&sd), "{off:?}");
    let mut inverses = SPEEDS.map(|s| 1.0 / (s * 60.0));
    let spread = robust::spread(&mut inverses).unwrap();
    assert!((off.pipe_sd - sd / spread).abs() < 1e-3 * off.pipe_sd);
}

#[test]
fn what_the_answers_cannot_tell_apart_goes_to_the_pipe() {
    // All at one flow: what is late there, the pipe is given.
    let alike = answered(0.05, 9_000.0, &[2000.0; 8], |_| 0.0).fit(&prior()).unwrap();
    let inverse = 1.0 / 120_000.0;
    let sum = alike.extra_s + alike.pipe * inverse;
    assert!((sum - 0.05 - 9_000.0 * inverse).abs() < 1e-9, "{alike:?}");
    assert!(
        (alike.extra_s - (0.05 - 3_000.0 * inverse)).abs() < 1e-9,
        "the rest beyond the prior's pipe: {alike:?}"
    );
    // A delay below nothing is none.
    let early = answered(-0.02, 9_000.0, &SPEEDS, |_| 0.0).fit(&prior()).unwrap();
    assert!(early.extra_s == 0.0 && early.pipe < 9_000.0 && early.pipe > 5_000.0, "{early:?}");
    // And no pipe is eight times as long as usual, or shorter than none.
    let steep = answered(0.0, 100_000.0, &SPEEDS, |_| 0.0).fit(&prior()).unwrap();
    assert!((steep.pipe - 96_000.0).abs() < 1e-6, "{steep:?}");
    let falls = answered(0.3, -9_000.0, &SPEEDS, |_| 0.0).fit(&prior()).unwrap();
    assert_eq!(falls.pipe, 0.0);
}

#[test]
fn six_answers_that_agree_are_needed() {
    assert!(answered(0.05, 9_000.0, &SPEEDS[..5], |_| 0.0).fit(&prior()).is_none());
    assert!(answered(0.05, 9_000.0, &SPEEDS[..6], |_| 0.0).fit(&prior()).is_some());
    let wild = |by: f64| answered(1.0, 9_000.0, &SPEEDS, |i| by * ((i % 3) as f64 - 1.0)).fit(&prior());
    assert!(wild(0.15).is_some(), "scattered by 0.22 s");
    assert!(wild(0.19).is_none(), "by 0.28 s");
}

/// One movement at two seconds, and an answer of lambda so much later.
struct Step {
    throttle: (f64, f64),
    vacuum: (f64, f64),
    answers_after: f64,
    lambda: (f64, f64),
    wander: f64,
    breaks_at: f64,
}

const STEP: Step = Step {
    throttle: (5.0, 20.0),
    vacuum: (16.0, 12.0),
    answers_after: 0.3,
    lambda: (0.92, 0.80),
    wander: 0.0,
    breaks_at: f64::INFINITY,
};

fn answers(step: &Step) -> Vec<Answer> {
    let mut transients = Transients::new();
    for i in 0..256 {
        let t = f64::from(i) / 64.0;
        let pick = |(before, after): (f64, f64), at: f64| if t < at { before } else { after };
        let mut s = row(64.0 + t, 1500.0, pick(step.vacuum, 2.0), pick(step.throttle, 2.0));
        s.lambda =
            pick(step.lambda, 2.0 + step.answers_after) + if i % 2 == 0 { step.wander } else { -step.wander };
        if t == step.breaks_at {
            transients.end();
        }
        transients.push(&s);
    }
    transients.answers
}

#[test]
fn an_answer_in_figures() {
    let all = answers(&STEP);
    assert_eq!(all.len(), 1, "{all:?}");
    let a = all[0];
    // Between the row that has not left its level and the one that has.
    assert!((a.delay_s + 90.0 / 1500.0 - 0.3).abs() < 0.018, "{a:?}");
    assert!((1.0 / a.inverse / (1500.0 * (101.3 - 3.386 * 12.0)) - 1.0).abs() < 0.03, "{a:?}");
    assert!((a.rise + (1.0f64 - 0.03 / 0.12).ln()).abs() < 1e-9, "{a:?}");
    let leaner = answers(&Step { lambda: (0.80, 0.92), ..STEP });
    assert!(leaner.len() == 1 && (leaner[0].rise - a.rise).abs() < 1e-9, "{leaner:?}");
}

#[test]
fn which_movements_are_looked_at() {
    let none = f64::NAN;
    for (step, seen, why) in [
        (Step { throttle: (5.0, 11.1), ..STEP }, 1, "six per cent"),
        (Step { throttle: (5.0, 10.9), ..STEP }, 0, "less"),
        (Step { throttle: (20.0, 5.0), ..STEP }, 1, "shutting"),
        (Step { throttle: (none, none), ..STEP }, 1, "by vacuum"),
        (Step { throttle: (none, none), vacuum: (16.0, 12.9), ..STEP }, 1, "three inches"),
        (Step { throttle: (none, none), vacuum: (16.0, 13.1), ..STEP }, 0, "less than three"),
        (Step { answers_after: 1.45, ..STEP }, 1, "a late answer"),
        (Step { answers_after: 1.55, ..STEP }, 0, "too late for one"),
        (Step { answers_after: 0.0, ..STEP }, 0, "at once: something else"),
        (Step { lambda: (0.92, 0.895), ..STEP }, 0, "hardly an answer"),
        (Step { lambda: (0.92, 0.885), ..STEP }, 1, "an answer"),
        (Step { wander: 0.02, lambda: (0.92, 0.80), ..STEP }, 1, "four times what it wanders"),
        (Step { wander: 0.02, lambda: (0.92, 0.87), ..STEP }, 0, "less than that"),
        (Step { wander: 0.031, lambda: (0.92, 0.70), ..STEP }, 0, "it wanders too much"),
        (Step { lambda: (0.92, 1.7), ..STEP }, 0, "no reading"),
        (Step { breaks_at: 1.5, ..STEP }, 1, "a break before"),
        (Step { breaks_at: 1.75, ..STEP }, 0, "no half second of calm after the break"),
        (Step { breaks_at: 2.109_375, ..STEP }, 0, "a break before the answer"),
    ] {
        assert_eq!(answers(&step).len(), seen, "{why}");
    }
}

#[test]
fn an_answer_begins_between_two_rows_and_a_movement_where_it_leaves_its_place() {
    let log = |throttle: &dyn Fn(f64) -> f64, vacuum: &dyn Fn(f64) -> f64, lambda: &dyn Fn(f64) -> f64| {
        let mut transients = Transients::new();
        for i in 0..256 {
            let t = f64::from(i) / 64.0 - 2.0;
            let mut s = row(64.0 + t, 1500.0, vacuum(t), throttle(t));
            s.lambda = lambda(t);
            transients.push(&s);
        }
        assert_eq!(transients.answers.len(), 1);
        transients.answers[0].delay_s + 90.0 / 1500.0
    };
    let row_s = 1.0 / 64.0;
    let (steps, still) = (|t: f64| if t < 0.0 { 5.0 } else { 20.0 }, |_: f64| 14.0);
    // A row that is two thirds of the way there, and the next far beyond: it crossed a tenth of a row behind the first.
    let lambda = |t: f64| match t {
        t if t < 19.0 * row_s => 0.92,
        t if t < 20.0 * row_s => 0.90,
        _ => 0.80,
    };
    // The movement begins at the last row before it, one row early.
    let delay = log(&steps, &still, &lambda);
    assert!((delay - row_s - 19.1 * row_s).abs() < 1e-9, "{}", delay / row_s);
    // A throttle that runs at 30 % a second has left its place, by 1.5 %, after a twentieth of a second.
    let ramp = |t: f64| 5.0 + 30.0 * t.clamp(0.0, 0.5);
    let begins = 0.3 - log(&ramp, &still, &lambda);
    assert!((begins - 0.05).abs() < 1.1 * row_s, "{begins}");
    // And a vacuum that falls at 8 inHg a second, by 0.8, after a tenth.
    let falls = |t: f64| 14.0 - 8.0 * t.clamp(0.0, 0.5);
    let begins = 0.3 - log(&|_| f64::NAN, &falls, &lambda);
    assert!((begins - 0.1).abs() < 1.1 * row_s, "{begins}");
}
