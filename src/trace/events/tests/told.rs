//! What is told of each happening: when it began, how long it lasted, and its figures.

use super::*;
use crate::trace::sample::Sample;

/// Seconds, regime, and what is set of a row, and its lambda, by the time in the stretch.
type Part<'a> = (f64, Option<Regime>, &'a dyn Fn(f64, &mut Sample) -> f64);

/// Begins here, so that no time is right by being counted from nothing.
const BEGINS_S: f64 = 64.0;

/// Thirty-two rows a second: eight to a block, and every time a whole number of binary places.
fn told(parts: &[Part<'_>]) -> Vec<Event> {
    let mut happenings = Happenings::new(Borders { closed_pct: 1.0, ..borders() });
    let (mut events, mut counts) = (Vec::new(), BTreeMap::new());
    let mut n = 0;
    for (seconds, regime, of) in parts {
        for i in 0..(seconds * 32.0) as u32 {
            let mut s = row(BEGINS_S + f64::from(n) / 32.0, 800.0, 16.0, 1.0);
            let lambda = of(f64::from(i) / 32.0, &mut s);
            happenings.push(&s, *regime, lambda, &mut events, &mut counts);
            n += 1;
        }
    }
    happenings.end(&mut events, &mut counts);
    events
}

const IDLE: Option<Regime> = Some(Regime::Idle);
const OFF_IDLE: Option<Regime> = Some(Regime::OffIdle);
const CRUISE: Option<Regime> = Some(Regime::Cruise);
const OVERRUN: Option<Regime> = Some(Regime::Overrun);

/// A stretch that stands.
fn at(speed: f64, vacuum: f64, throttle: f64, lambda: f64) -> impl Fn(f64, &mut Sample) -> f64 {
    move |_, s| {
        (s.speed_rpm, s.vacuum_inhg, s.throttle_pct) = (speed, vacuum, throttle);
        lambda
    }
}

/// Speed and throttle swing once in two seconds.
fn wave(mean: f64, swing: f64, throttle: f64, lambda: f64) -> impl Fn(f64, &mut Sample) -> f64 {
    move |t, s| {
        let x = (t * 0.5 * core::f64::consts::TAU).sin();
        (s.speed_rpm, s.vacuum_inhg, s.throttle_pct) = (mean + swing * x, 14.0, 20.0 + throttle * x);
        lambda
    }
}

/// Kind, seconds from the beginning, how long, lambda, speed; what is not told is zero.
type Told = (EventKind, f64, f64, f64, f64);

/// Times must be right to the row, lambda to the thousandth, speed within `rpm`.
fn assert_told(what: &str, rpm: f64, parts: &[Part<'_>], expected: &[Told]) {
    let events = told(parts);
    let got: Vec<Told> = events
        .iter()
        .map(|e| {
            let (lambda, speed) = (e.lambda.map(Lambda::as_ratio), e.speed.map(EngineSpeed::as_rpm));
            let from_s = e.start.as_s() - BEGINS_S;
            (e.kind, from_s, e.seconds.as_s(), lambda.unwrap_or(0.0), speed.unwrap_or(0.0))
        })
        .collect();
    let near = |a: &Told, b: &Told| {
        (a.0, a.1, a.2) == (b.0, b.1, b.2) && (a.3 - b.3).abs() < 5e-4 && (a.4 - b.4).abs() <= rpm
    };
    let all = got.len() == expected.len() && got.iter().zip(expected).all(|(a, b)| near(a, b));
    assert!(all, "{what}: {got:?}, not {expected:?}");
}

#[test]
fn at_idle_and_just_off_it() {
    let after = at(900.0, 15.0, 14.0, 0.95);
    let stumbles = |throttle: f64| {
        told(&[
            (0.5, IDLE, &at(900.0, 16.0, 1.0, 0.9)),
            (3.5, IDLE, &at(830.0, 16.0, 1.0, 0.9)),
            (0.5, OFF_IDLE, &at(740.0, 15.0, throttle, 1.06)),
            (0.5, OFF_IDLE, &at(730.0, 15.0, throttle, 1.1)),
            (2.0, OFF_IDLE, &after),
        ])
    };
    // From the fastest of the three seconds before, not from what was before those.
    let stumble = stumbles(14.0);
    assert_eq!(stumble.len(), 1);
    assert_eq!((stumble[0].start.as_s() - BEGINS_S, stumble[0].seconds.as_s()), (4.0, 0.96875));
    assert!((stumble[0].speed.unwrap().as_rpm() - 100.0).abs() < 1e-6);
    assert!((stumble[0].lambda.unwrap().as_ratio() - 1.1).abs() < 1e-9);
    assert!(stumbles(14.1).is_empty() && stumbles(2.9).is_empty(), "thirteen and two per cent off the stop");

    let falls = |from: f64, per_s: f64, throttle: f64| {
        move |t: f64, s: &mut Sample| {
            (s.speed_rpm, s.vacuum_inhg, s.throttle_pct) = (from - per_s * t, 18.0, throttle);
            0.95
        }
    };
    let hangs = |from: f64, per_s: f64, throttle: f64, kept: &[Told]| {
        let coming_down = falls(from, per_s, throttle);
        let parts: [Part<'_>; 3] = [
            (2.0, CRUISE, &at(2000.0, 14.0, 20.0, 0.95)),
            (4.0, OVERRUN, &coming_down),
            (2.0, IDLE, &at(800.0, 16.0, 1.0, 0.95)),
        ];
        assert_told("hanging", 0.01, &parts, kept);
    };
    hangs(1120.0, 40.0, 3.0, &[(EventKind::HangingIdle, 2.0, 3.96875, 0.0, 240.625)]);
    hangs(1280.0, 80.0, 3.0, &[]);
    hangs(1120.0, 40.0, 3.1, &[]);
    hangs(2290.0, 0.0, 1.0, &[(EventKind::HangingIdle, 2.0, 3.96875, 0.0, 1490.0)]);
    hangs(2310.0, 0.0, 1.0, &[]);

    let idle = at(750.0, 16.0, 1.0, 0.9);
    let stalls: [Part<'_>; 4] = [
        (5.0, IDLE, &idle),
        (1.0, IDLE, &at(450.0, 10.0, 4.0, 0.9)),
        (5.0, IDLE, &idle),
        (1.0, IDLE, &at(400.0, 10.0, f64::NAN, 0.9)),
    ];
    assert_told(
        "stalls",
        0.01,
        &stalls,
        &[
            (EventKind::LoadStall, 1.75, 3.46875, 0.0, 450.0),
            (EventKind::LoadStall, 7.75, 3.46875, 0.0, 400.0),
        ],
    );
    assert_told("driven away", 0.01, &[stalls[0], (1.0, IDLE, &at(450.0, 10.0, 4.1, 0.9))], &[]);

    let dips = |before: Regime, waits_s: f64| {
        told(&[
            (5.0, Some(before), &at(1800.0, 14.0, 20.0, 0.95)),
            (waits_s, IDLE, &at(800.0, 16.0, 1.0, 0.9)),
            (1.0, IDLE, &at(580.0, 15.0, 1.0, 0.8)),
            (5.0, IDLE, &at(560.0, 16.0, 1.0, 0.9)),
        ])
    };
    for before in [Regime::Overrun, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle] {
        let dip = dips(before, 0.5);
        assert_eq!(dip.len(), 1, "{before}");
        assert_eq!((dip[0].kind, dip[0].start.as_s() - BEGINS_S), (EventKind::StopDip, 5.0), "{before}");
        assert_eq!(dip[0].seconds.as_s(), 0.71875, "{before}");
        assert!((dip[0].speed.unwrap().as_rpm() - 220.0).abs() < 1e-6, "{before}");
    }
    assert_eq!(dips(Regime::Cruise, 2.75).len(), 1);
    assert!(dips(Regime::Cruise, 3.0).is_empty(), "long after the stop");
    assert!(dips(Regime::OffIdle, 0.5).is_empty(), "no stop before it");

    let loads = |t: f64, s: &mut Sample| {
        s.vacuum_inhg = 16.0 - 0.35 * t / 60.0;
        0.9 - 0.01 * t / 60.0
    };
    let drives = at(1800.0, 14.0, 20.0, 0.95);
    let idles: [Part<'_>; 3] = [(5.0, CRUISE, &drives), (180.0, IDLE, &loads), (5.0, CRUISE, &drives)];
    assert_told("loads", 0.0, &idles, &[(EventKind::LoadingUp, 5.0, 179.96875, 0.885, 0.0)]);
    let halves: [Part<'_>; 3] = [(100.0, IDLE, &loads), (5.0, CRUISE, &drives), (100.0, IDLE, &loads)];
    assert_told("two short ones", 0.0, &halves, &[]);
}

#[test]
fn at_part_throttle() {
    let (surges, still) = (wave(2000.0, 30.0, 0.0, 1.08), wave(2000.0, 0.0, 0.0, 1.08));
    let shut = wave(2000.0, 0.0, 0.0, 0.9);
    let surge = |from_s: f64, seconds: f64| (EventKind::Surge, from_s, seconds, 1.08, 60.0);
    assert_told("surge", 2.0, &[(20.0, CRUISE, &surges), (3.0, OVERRUN, &shut)], &[surge(0.0, 19.71875)]);
    // Over when the last twelve seconds no longer show it; what comes then is another.
    let parts: [Part<'_>; 3] = [(20.0, CRUISE, &surges), (40.0, CRUISE, &still), (20.0, CRUISE, &surges)];
    assert_told("twice", 2.0, &parts, &[surge(0.0, 23.71875), surge(56.5, 23.21875)]);
    let hunts = wave(1800.0, 60.0, -3.0, 0.95);
    let hunting = |seconds: f64| (EventKind::Hunting, 0.0, seconds, 0.95, 120.0);
    assert_told("hunting at idle too", 4.0, &[(20.0, IDLE, &hunts)], &[hunting(19.71875)]);
    // A surge that turns into hunting is two things.
    let both = told(&[(20.0, CRUISE, &surges), (20.0, CRUISE, &hunts)]);
    assert_eq!(both.iter().map(|e| e.kind).collect::<Vec<_>>(), [EventKind::Surge, EventKind::Hunting]);

    let ices = |t: f64, s: &mut Sample| {
        let part = t / 90.0;
        (s.speed_rpm, s.vacuum_inhg, s.throttle_pct) = (2000.0 * (1.0 - 0.1 * part), 14.0 + part, 20.0);
        0.95 - 0.06 * part
    };
    let before = at(1800.0, 14.0, 20.0, 0.95);
    let icing: Told = (EventKind::Icing, 3.0, 89.96875, 0.896, 160.0);
    assert_told("ice", 0.1, &[(3.0, OVERRUN, &before), (90.0, CRUISE, &ices)], &[icing]);
    let sags = |t: f64, s: &mut Sample| {
        (s.speed_rpm, s.vacuum_inhg, s.throttle_pct) = (3000.0, 5.0, 60.0);
        s.fuel_pressure_kpa = 40.0 - 10.0 * t / 60.0;
        0.90 + 0.06 * t / 60.0
    };
    let sagging: Told = (EventKind::PressureSag, 3.0, 59.96875, 0.954, 0.0);
    let heavy = Some(Regime::HeavyCruise);
    assert_told("sag", 0.0, &[(3.0, OVERRUN, &before), (60.0, heavy, &sags)], &[sagging]);
}

#[test]
fn stopping_starting_and_turning() {
    let stands = at(0.0, 0.0, 1.0, f64::NAN);
    let dies = |seconds: f64, throttle: f64| {
        move |t: f64, s: &mut Sample| {
            (s.speed_rpm, s.throttle_pct) = (400.0 * (1.0 - t / seconds), throttle);
            f64::NAN
        }
    };
    let idle = at(800.0, 16.0, 3.0, 0.9);
    let runs_on: [Part<'_>; 3] = [(5.0, IDLE, &idle), (3.5, None, &dies(3.5, 3.0)), (3.0, None, &stands)];
    assert_told("run on", 0.0, &runs_on, &[(EventKind::RunOn, 4.96875, 3.03125, 0.0, 800.0)]);
    assert_told("with the foot on it", 0.0, &[runs_on[0], (3.5, None, &dies(3.5, 3.1)), runs_on[2]], &[]);
    let fast = at(1190.0, 16.0, 3.0, 0.9);
    assert_eq!(told(&[(5.0, IDLE, &fast), runs_on[1], runs_on[2]]).len(), 1, "from one and a half of idle");
    let faster = at(1210.0, 16.0, 3.0, 0.9);
    assert!(told(&[(5.0, IDLE, &faster), runs_on[1], runs_on[2]]).is_empty(), "from more");

    // The first two seconds and what comes after twenty do not count.
    let floods = |t: f64, _: &mut Sample| match t {
        t if t < 2.0 => 0.9,
        t if t < 12.5 => 0.7,
        t if t < 20.25 => 0.76,
        _ => 1.2,
    };
    let flooded: Told = (EventKind::FloodedRestart, 5.0, 20.0, (41.0 * 0.70 + 31.0 * 0.76) / 72.0, 0.0);
    assert_told("flooded", 0.0, &[(5.0, None, &stands), (30.0, IDLE, &floods)], &[flooded]);
    assert_told("given up at once", 0.0, &[(5.0, None, &stands), (3.5, IDLE, &|_, _| 0.7)], &[]);

    let leans = |g: f32, lambda: f64| {
        move |_: f64, s: &mut Sample| {
            s.throttle_pct = 20.0;
            (s.aside.lateral_g, s.aside.longitudinal_g, s.aside.tilt_deg) = (g, 0.0, 1.0);
            lambda
        }
    };
    let level = leans(0.0, 0.95);
    // Still the same turn until it is nearly over, and told when the log ends in it.
    let (hard, less) = (leans(-0.4, 1.02), leans(-0.2, 1.06));
    let turn: [Part<'_>; 4] =
        [(6.0, CRUISE, &level), (1.0, CRUISE, &hard), (1.0, CRUISE, &less), (6.0, CRUISE, &level)];
    let slosh: Told = (EventKind::SloshMinus, 6.0, 1.96875, 1.04, 0.0);
    assert_told("turn", 0.0, &turn, &[slosh]);
    assert_told("the log ends in it", 0.0, &turn[..3], &[slosh]);
    // Held against the last four seconds, not against what was long before.
    let other = leans(0.0, 0.85);
    let slowly: [Part<'_>; 3] =
        [(6.0, CRUISE, &other), (4.5, CRUISE, &level), (1.0, CRUISE, &leans(0.4, 0.97))];
    assert_told("no step", 0.0, &slowly, &[]);
    // A mixture that wanders by itself shows nothing.
    let wanders = |t: f64, s: &mut Sample| {
        leans(0.0, 0.0)(t, s);
        if t % 1.0 < 0.5 { 0.92 } else { 0.98 }
    };
    assert_told("wanders", 0.0, &[(6.0, CRUISE, &wanders), (1.0, CRUISE, &leans(0.4, 1.03))], &[]);
    assert_eq!(told(&[(6.0, CRUISE, &wanders), (1.0, CRUISE, &leans(0.4, 1.09))]).len(), 1);
}

#[test]
fn what_breaks_a_long_look_at_part_throttle() {
    let ices = |moves: f64| {
        move |t: f64, s: &mut Sample| {
            let part = t / 90.0;
            (s.speed_rpm, s.vacuum_inhg) = (2000.0 * (1.0 - 0.1 * part), 14.0 + part);
            s.throttle_pct = if t < 45.0 { 20.0 } else { 20.0 + moves };
            0.95 - 0.06 * part
        }
    };
    assert_eq!(told(&[(90.0, CRUISE, &ices(0.9))]).len(), 1);
    assert!(told(&[(90.0, CRUISE, &ices(1.1))]).is_empty(), "the foot moved");
    assert!(told(&[(90.0, CRUISE, &ices(f64::NAN))]).is_empty(), "half of it without a throttle");
    let late = |t: f64, s: &mut Sample| ices(0.0)(t + 45.0, s);
    let shut = at(2000.0, 21.0, 20.0, 0.95);
    let broken: [Part<'_>; 3] = [(45.0, CRUISE, &ices(0.0)), (3.0, OVERRUN, &shut), (45.0, CRUISE, &late)];
    assert!(told(&broken).is_empty(), "an overrun between");
    let sags = |seconds: f64| {
        move |t: f64, s: &mut Sample| {
            (s.speed_rpm, s.vacuum_inhg, s.throttle_pct) = (3000.0, 5.0, 60.0);
            s.fuel_pressure_kpa = 40.0 - 20.0 * t / seconds;
            0.90 + 0.1 * t / seconds
        }
    };
    let heavy = Some(Regime::HeavyCruise);
    assert!(
        told(&[(9.75, heavy, &sags(9.75))]).is_empty() && told(&[(10.25, heavy, &sags(10.25))]).len() == 1
    );
    // A surge that does not show for some seconds in between is one.
    let flickers = |t: f64, s: &mut Sample| {
        wave(2000.0, 30.0, 0.0, 0.0)(t, s);
        match t {
            t if (15.0..15.25).contains(&t) => 0.6,
            t if (19.0..19.25).contains(&t) => 1.6,
            _ => 1.055,
        }
    };
    assert_eq!(told(&[(40.0, CRUISE, &flickers)]).len(), 1);
    // Speed that swings a quarter turn behind the throttle does not swing against it.
    let behind = |turn: f64| {
        move |t: f64, s: &mut Sample| {
            let x = t * 0.5 * core::f64::consts::TAU;
            (s.speed_rpm, s.throttle_pct) = (1800.0 + 60.0 * x.sin(), 20.0 - 3.0 * (x + turn).sin());
            0.95
        }
    };
    assert_eq!(told(&[(20.0, CRUISE, &behind(0.9))]).len(), 1);
    assert!(told(&[(20.0, CRUISE, &behind(1.3))]).is_empty());
}

#[test]
fn a_row_without_a_reading_does_not_spoil_a_long_idle() {
    let loads = |per_minute: f64, lambda_per_minute: f64| {
        move |t: f64, s: &mut Sample| {
            s.vacuum_inhg = 16.0 - per_minute * t / 60.0;
            if (50.0..50.5).contains(&t) { f64::NAN } else { 0.9 - lambda_per_minute * t / 60.0 }
        }
    };
    for seconds in [180.0, 240.0] {
        let said = |vacuum, lambda| !told(&[(seconds, IDLE, &loads(vacuum, lambda))]).is_empty();
        assert!(said(0.31, 0.0035) && !said(0.29, 0.0035) && !said(0.31, 0.0025), "{seconds} s");
    }
    let (stands, rich) = (at(0.0, 0.0, 1.0, f64::NAN), at(800.0, 16.0, 1.0, 0.7));
    assert_eq!(
        told(&[(5.0, None, &stands), (10.0, IDLE, &rich)]).len(),
        1,
        "the log ends while it is flooded"
    );
}

#[test]
fn one_accelerometer_and_what_it_is_held_against() {
    const NONE: f32 = f32::NAN;
    let leans = |lateral: f32, longitudinal: f32, tilt: f32, lambda: f64| {
        move |_: f64, s: &mut Sample| {
            s.throttle_pct = 20.0;
            (s.aside.lateral_g, s.aside.longitudinal_g, s.aside.tilt_deg) = (lateral, longitudinal, tilt);
            lambda
        }
    };
    let one = |level: (f32, f32, f32), leant: (f32, f32, f32), lambda: f64| {
        let (before, there) =
            (leans(level.0, level.1, level.2, 0.95), leans(leant.0, leant.1, leant.2, lambda));
        told(&[(6.0, CRUISE, &before), (3.0, CRUISE, &there)]).iter().map(|e| e.kind).collect::<Vec<_>>()
    };
    assert_eq!(one((0.0, NONE, NONE), (0.4, NONE, NONE), 1.02), [EventKind::SloshPlus]);
    assert_eq!(one((NONE, 0.0, NONE), (NONE, -0.4, NONE), 1.02), [EventKind::SloshBraking]);
    assert_eq!(one((NONE, NONE, 1.0), (NONE, NONE, 12.0), 0.89), [EventKind::RichOnSlope]);
    // Only calm, level running with a mixture that says something is what comes before.
    let (level, turn) = (leans(0.0, 0.0, 1.0, 0.95), leans(0.4, 0.0, 1.0, 1.02));
    for (regime, g, lambda, why) in [
        (CRUISE, (0.2, 0.0, 1.0), 1.3, "half a turn"),
        (CRUISE, (0.0, 0.0, 7.0), 1.3, "half a slope"),
        (Some(Regime::TipIn), (0.0, 0.0, 1.0), 1.3, "a tip-in"),
        (OVERRUN, (0.0, 0.0, 1.0), 1.3, "an overrun"),
        (CRUISE, (0.0, 0.0, 1.0), f64::NAN, "no reading"),
    ] {
        let between = leans(g.0, g.1, g.2, lambda);
        let parts: [Part<'_>; 4] =
            [(6.0, CRUISE, &level), (0.5, regime, &between), (1.5, CRUISE, &level), (1.0, CRUISE, &turn)];
        assert_eq!(told(&parts).len(), 1, "{why}");
    }
    // What was long ago does not count.
    let long_ago = leans(0.0, 0.0, 1.0, 0.85);
    let parts: [Part<'_>; 3] = [(6.0, CRUISE, &long_ago), (4.5, CRUISE, &level), (1.0, CRUISE, &turn)];
    assert_eq!(told(&parts).len(), 1);
}

#[test]
fn each_kind_is_called_in_json_as_in_a_session() {
    for kind in [
        EventKind::Stumble,
        EventKind::Surge,
        EventKind::Hunting,
        EventKind::HangingIdle,
        EventKind::LoadStall,
        EventKind::StopDip,
        EventKind::LoadingUp,
        EventKind::FloodedRestart,
        EventKind::HotFlood,
        EventKind::RunOn,
        EventKind::SloshPlus,
        EventKind::SloshMinus,
        EventKind::SloshBraking,
        EventKind::RichOnSlope,
        EventKind::Icing,
        EventKind::PressureSag,
    ] {
        assert_eq!(serde_json::to_value(kind).unwrap(), kind.name());
    }
    for reason in crate::trace::Dropped::ALL {
        assert_eq!(serde_json::to_value(reason).unwrap(), reason.name());
    }
}
