use super::super::{Channel, LoggerProfile, TraceContext};
use super::*;
use crate::setup::Regime;
use crate::units::{Lambda, TimeSpan};

fn ctx() -> TraceContext {
    TraceContext::bare(&LoggerProfile::standard())
}

const HEADER: &str = "time_s,rpm,vacuum_inhg,tps_pct,lambda\n";

fn rows(text: &str) -> Vec<LiveRow> {
    LiveReader::new(ctx()).push(text.as_bytes())
}

fn alarms() -> Alarms {
    Alarms {
        warn: Lambda::from_ratio(0.87),
        stop: Lambda::from_ratio(0.90),
        longer_than: TimeSpan::from_s(0.5),
    }
}

/// Feeds rows at 20 Hz; each is rpm, vacuum, throttle, lambda at a time.
fn watched(seconds: f64, of: impl Fn(f64) -> [f64; 4]) -> (Monitor, Vec<(f64, Say)>) {
    let mut reader = LiveReader::new(ctx());
    let mut monitor = Monitor::new(&ctx(), Some(alarms()));
    reader.push(HEADER.as_bytes());
    let mut said = Vec::new();
    for i in 0..(seconds * 20.0) as u32 {
        let t = f64::from(i) / 20.0;
        let [speed, vacuum, throttle, lambda] = of(t);
        let line = format!("{t:.2},{speed:.0},{vacuum:.2},{throttle:.1},{lambda:.3}\n");
        for row in reader.push(line.as_bytes()) {
            said.extend(monitor.push(TimeSpan::from_s(t), &row).into_iter().map(|s| (t, s)));
        }
    }
    (monitor, said)
}

fn lean(said: &[(f64, Say)]) -> Vec<AlarmLevel> {
    said.iter()
        .filter_map(|(_, s)| if let Say::Lean { level, .. } = s { Some(*level) } else { None })
        .collect()
}

#[test]
fn lines_in_pieces_are_the_same_rows() {
    let text = format!("{HEADER}0.00,800,15.0,1.0,0.900\n0.10,810,15.1,1.0,0.910\n0.20,805,15.0,1.0,0.905\n");
    let whole = rows(&text);
    assert_eq!(whole.len(), 3);
    let mut reader = LiveReader::new(ctx());
    let pieces: Vec<LiveRow> = text.bytes().flat_map(|b| reader.push(&[b])).collect();
    assert_eq!(format!("{whole:?}"), format!("{pieces:?}"));
}

#[test]
fn a_half_line_and_garbage_cost_only_themselves() {
    let mut reader = LiveReader::new(ctx());
    let text = format!("5,0.8\n{HEADER}0.00,800,15.0,1.0,0.900\n0.1\u{fffd}~x\n0.20,805,15.0,1.0,0.905\n");
    assert_eq!(reader.push(text.as_bytes()).len(), 2);
    assert_eq!(reader.counts(), (2, 1));
    reader.push(b"0.30,80");
    reader.reconnected();
    assert_eq!(reader.push(b"0.40,806,15.0,1.0,0.906\n").len(), 1);
}

#[test]
fn mostly_garbage_is_said_and_survived() {
    let mut reader = LiveReader::new(ctx());
    for i in 0..60u8 {
        assert!(reader.push(&[0xf0 ^ i, 0x81, 0x9c ^ i, b'\n']).is_empty());
    }
    assert!(reader.garbled().is_some());
    let good = format!("{HEADER}0.00,800,15.0,1.0,0.900\n0.10,800,15.0,1.0,0.900\n");
    let mut rows = reader.push(good.as_bytes()).len();
    for i in 0..60 {
        rows += reader.push(format!("{i}.00,800,15.0,1.0,0.900\n").as_bytes()).len();
    }
    assert!(rows >= 60, "{rows}");
}

#[test]
fn the_lean_alarm_at_load_on_both_sides_of_its_limits() {
    let at = |lambda: f64, vacuum: f64, throttle: f64| {
        lean(&watched(3.0, |_| [3500.0, vacuum, throttle, lambda]).1)
    };
    assert_eq!(at(0.901, 1.0, 95.0), [AlarmLevel::Warn, AlarmLevel::Stop][1..]);
    assert_eq!(at(0.900, 1.0, 95.0), [AlarmLevel::Warn]);
    assert_eq!(at(0.870, 1.0, 95.0), []);
    assert_eq!(at(1.000, 14.0, 20.0), [], "not at load");
    assert_eq!(at(1.000, 1.0, 30.0), [AlarmLevel::Stop], "little vacuum is load");
}

#[test]
fn a_spike_shorter_than_half_a_second_is_no_alarm() {
    let spike = |seconds: f64| {
        lean(
            &watched(4.0, |t| {
                [3500.0, 1.0, 95.0, if (1.0..1.0 + seconds).contains(&t) { 1.0 } else { 0.84 }]
            })
            .1,
        )
    };
    assert_eq!(spike(0.4), []);
    assert_eq!(spike(0.8), [AlarmLevel::Stop]);
}

#[test]
fn the_alarm_ends_once_and_comes_first() {
    let (monitor, said) = watched(8.0, |t| {
        let lean = (1.0..3.0).contains(&t);
        [
            3500.0,
            if t < 4.0 { 1.0 } else { 15.0 },
            if t < 4.0 { 95.0 } else { 10.0 },
            if lean { 0.95 } else { 0.84 },
        ]
    });
    assert_eq!(said.iter().filter(|(_, s)| *s == Say::LeanOver).count(), 1);
    assert!(monitor.alarm().is_none());
}

#[test]
fn a_stuck_sensor_is_said_once_and_so_is_its_recovery() {
    let (_, said) = watched(10.0, |t| {
        [2000.0 + 200.0 * t.sin(), 12.0, 20.0, if t < 6.0 { 0.950 } else { 0.9 + 0.01 * t }]
    });
    assert_eq!(said.iter().filter(|(_, s)| matches!(s, Say::SensorStuck { .. })).count(), 1);
    assert_eq!(said.iter().filter(|(_, s)| *s == Say::SensorMoves).count(), 1);
    let (_, still) = watched(10.0, |_| [2000.0, 12.0, 20.0, 0.950]);
    assert!(
        !still.iter().any(|(_, s)| matches!(s, Say::SensorStuck { .. })),
        "an engine that stands may read the same"
    );
}

#[test]
fn a_stall_is_said_once_after_three_seconds() {
    let (mut monitor, _) = watched(2.0, |_| [800.0, 15.0, 1.0, 0.9]);
    assert!(monitor.tick(TimeSpan::from_s(4.9)).is_none());
    assert!(matches!(monitor.tick(TimeSpan::from_s(5.1)), Some(Say::Stalled { .. })));
    assert!(monitor.tick(TimeSpan::from_s(9.0)).is_none());
}

#[test]
fn settled_and_the_meter() {
    let (monitor, said) = watched(30.0, |t| [800.0, 15.0, 0.5, 0.9 + 0.01 * t.sin()]);
    assert!(said.iter().any(|(_, s)| matches!(s, Say::Settled { .. })));
    let idle = monitor.meter().all().into_iter().find(|l| l.regime == Regime::Idle).unwrap();
    assert!(idle.have.as_s() > 25.0 && idle.visits == 1 && !idle.enough());
    assert!(monitor.meter().lacks().iter().any(|l| l.regime == Regime::FullThrottle));
}

#[test]
fn a_clock_that_jumps_is_said_and_readings_go_on() {
    let jumps = |times: &[(f64, f64)]| {
        let mut reader = LiveReader::new(ctx());
        let mut monitor = Monitor::new(&ctx(), None);
        reader.push(HEADER.as_bytes());
        let mut rows = 0;
        let mut said = Vec::new();
        for (now, logged) in times {
            for row in reader.push(format!("{logged:.2},800,15.0,1.0,0.900\n").as_bytes()) {
                rows += 1;
                said.extend(monitor.push(TimeSpan::from_s(*now), &row));
            }
        }
        assert_eq!(rows, times.len());
        said.into_iter().filter(|s| matches!(s, Say::ClockJumped { .. })).count()
    };
    assert_eq!(jumps(&[(0.0, 59.9), (0.1, 59.95), (0.2, 0.0), (0.3, 0.1)]), 1, "it wraps");
    assert_eq!(jumps(&[(0.0, 5.0), (0.1, 10.09)]), 0, "nearly a leap");
    assert_eq!(jumps(&[(0.0, 5.0), (0.1, 10.11)]), 1, "a leap");
    assert_eq!(jumps(&[(0.0, 5.0), (30.0, 35.0)]), 0, "both clocks went on");
    assert_eq!(
        jumps(&[(0.0, 5.0), (1.0, 1.0), (2.0, 0.5), (10.9, 0.2), (11.0, 0.1)]),
        2,
        "said now and then"
    );
}

#[test]
fn a_live_line_of_more_than_four_thousand_bytes_has_lost_its_end() {
    let padded = |length: usize| {
        let mut reader = LiveReader::new(ctx());
        let start = format!("{HEADER}0.00,800,15.0,1.0,0.900\n");
        reader.push(start.as_bytes());
        let row = "0.10,800,15.0,1.0,";
        let long = format!("{row}{}0.9\n0.20,800,15.0,1.0,0.900\n", " ".repeat(length - row.len() - 3));
        long.as_bytes().chunks(700).for_each(|piece| drop(reader.push(piece)));
        reader.counts()
    };
    assert_eq!(padded(4096), (3, 0));
    assert_eq!(padded(4097), (2, 1));
    // Without any line end, and without a header: nothing piles up, and the line is read when it makes sense again.
    let mut reader = LiveReader::new(ctx());
    (0..100).for_each(|_| drop(reader.push(&[b'U'; 1000])));
    assert!(reader.garbled().is_some());
    let good = format!("\n{HEADER}0.00,800,15.0,1.0,0.900\n0.10,800,15.0,1.0,0.900\n");
    assert_eq!(reader.push(good.as_bytes()).len(), 2);
}

#[test]
fn a_byte_lost_doubled_or_put_in_costs_two_rows_at_most() {
    let rows = 40;
    let text = (0..rows).fold(HEADER.to_owned(), |text, i| format!("{text}{i}.00,800,15.0,1.0,0.900\n"));
    let bytes = text.as_bytes();
    let read = |bytes: &[u8]| LiveReader::new(ctx()).push(bytes).len();
    for at in (HEADER.len()..bytes.len()).step_by(23) {
        let (before, after) = bytes.split_at(at);
        for spoiled in [
            [before, &after[1..]].concat(),
            [before, &after[..1], after].concat(),
            [before, &[0xff][..], after].concat(),
            [before, b"\n", after].concat(),
            [before, &[0][..], after].concat(),
        ] {
            assert!(read(&spoiled) + 2 >= rows, "at {at}");
        }
    }
}

/// As [`watched`], in another context.
fn watched_in(ctx: &TraceContext, seconds: f64, of: impl Fn(f64) -> [f64; 4]) -> Vec<(f64, Say)> {
    let mut reader = LiveReader::new(ctx.clone());
    let mut monitor = Monitor::new(ctx, Some(alarms()));
    reader.push(HEADER.as_bytes());
    let mut said = Vec::new();
    for i in 0..(seconds * 20.0) as u32 {
        let t = f64::from(i) / 20.0;
        let [speed, vacuum, throttle, lambda] = of(t);
        let line = format!("{t:.2},{speed:.0},{vacuum:.2},{throttle:.1},{lambda:.3}\n");
        for row in reader.push(line.as_bytes()) {
            said.extend(monitor.push(TimeSpan::from_s(100.0 + t), &row).into_iter().map(|s| (t, s)));
        }
    }
    said
}

#[test]
fn what_is_load() {
    let loads = |opening: Option<f64>, of: [f64; 3]| {
        let ctx = TraceContext { enrichment_opening: opening.map(crate::units::Vacuum::from_inhg), ..ctx() };
        !lean(&watched_in(&ctx, 2.0, |_| [of[0], of[1], of[2], 1.0])).is_empty()
    };
    for (opening, of, is) in [
        (None, [500.0, 15.0, 95.0], false),
        (None, [501.0, 15.0, 95.0], true),
        (None, [3000.0, 15.0, 60.0], false),
        (None, [3000.0, 15.0, 60.1], true),
        (None, [3000.0, 5.0, 20.0], false),
        (None, [3000.0, 4.9, 20.0], true),
        (Some(3.0), [3000.0, 3.0, 20.0], false),
        (Some(3.0), [3000.0, 2.9, 20.0], true),
        (Some(1.0), [3000.0, 2.1, 20.0], false),
        (Some(1.0), [3000.0, 1.9, 20.0], true),
        (Some(9.0), [3000.0, 5.1, 20.0], false),
    ] {
        assert_eq!(loads(opening, of), is, "{of:?} with an opening at {opening:?}");
    }
}

#[test]
fn each_thing_is_said_in_its_moment() {
    let said =
        watched_in(&ctx(), 8.0, |t| [3500.0, 1.0, 95.0, if (1.0..3.0).contains(&t) { 0.95 } else { 0.84 }]);
    let when = |is: fn(&Say) -> bool| said.iter().filter(|(_, s)| is(s)).map(|(t, _)| *t).collect::<Vec<_>>();
    assert_eq!(when(|s| matches!(s, Say::Lean { .. })), [1.55], "more than half a second of it");
    assert_eq!(when(|s| *s == Say::LeanOver), [4.05], "more than a second without");
    assert_eq!(when(|s| matches!(s, Say::Regime(Regime::FullThrottle))), [0.0]);
    assert_eq!(when(|s| matches!(s, Say::Settled { .. })), [5.0]);
    let stuck = |low: f64| {
        let of = |t: f64| {
            [if t < 2.5 { 2000.0 } else { low }, 12.0, 20.0, if t < 2.0 { 0.9 + 0.01 * t } else { 0.95 }]
        };
        let said = watched_in(&ctx(), 8.0, of);
        said.into_iter().find(|(_, s)| matches!(s, Say::SensorStuck { .. })).map(|(t, _)| t)
    };
    assert_eq!(stuck(1959.0), Some(4.05), "more than two seconds, and 2 %");
    assert_eq!(stuck(1960.0), None);
    let (monitor, _) = watched(3.0, |_| [3500.0, 1.0, 95.0, 1.0]);
    assert_eq!(monitor.alarm(), Some(AlarmLevel::Stop));
    let (monitor, _) = watched(8.0, |t| [800.0, 15.0 + (t * 9.0).sin(), 1.0, 0.9]);
    assert!(monitor.needle().unwrap().peak_to_peak.as_inhg() > 1.8);
}

#[test]
fn a_line_that_comes_back_says_after_how_long() {
    let (mut monitor, _) = watched(10.0, |_| [800.0, 15.0, 1.0, 0.9]);
    assert!(matches!(monitor.settled(), crate::trace::settle::Settled::Yes { .. }));
    assert_eq!(monitor.tick(TimeSpan::from_s(12.94)), None);
    let since = monitor.tick(TimeSpan::from_s(12.96));
    assert!(matches!(since, Some(Say::Stalled { since }) if (since.as_s() - 3.01).abs() < 1e-9), "{since:?}");
    assert!(!matches!(monitor.settled(), crate::trace::settle::Settled::Yes { .. }), "it begins afresh");
    let row = rows(&format!("{HEADER}0.00,800,15.0,1.0,0.900\n0.05,800,15.0,1.0,0.900\n"))[0];
    let said = monitor.push(TimeSpan::from_s(14.95), &row);
    assert!(matches!(said[0], Say::Resumed { after } if (after.as_s() - 5.0).abs() < 1e-9), "{said:?}");
    assert!(!monitor.push(TimeSpan::from_s(15.0), &row).iter().any(|s| matches!(s, Say::Resumed { .. })));
}

#[test]
fn only_good_rows_fill_the_meter() {
    let have = |regime: Regime, of: &dyn Fn(f64) -> [f64; 4]| {
        let (monitor, _) = watched(12.0, of);
        let lack = monitor.meter().all().into_iter().find(|l| l.regime == regime).unwrap();
        assert_eq!(monitor.regime(), Some(regime));
        lack.have.as_s()
    };
    let alive = |t: f64| 0.9 + 0.01 * t.sin();
    let full = have(Regime::FullThrottle, &|t| [4000.0 - 100.0 * t, 1.0, 95.0, alive(t) - 0.06]);
    assert!((11.0..11.6).contains(&full), "{full}: the speed may move, the throttle not");
    let cruise = have(Regime::Cruise, &|t| [2000.0, 14.0, 20.0, alive(t)]);
    assert!((9.4..10.1).contains(&cruise), "{cruise}: after two seconds of standing");
    assert!(have(Regime::Cruise, &|t| [2000.0 + 80.0 * t, 14.0, 20.0, alive(t)]) < 1.0, "it moves");
    assert!(have(Regime::Cruise, &|_| [2000.0, 14.0, 20.0, 1.9]) < 0.1, "no lambda");
    let stuck = have(Regime::Cruise, &|t| [2000.0 + 30.0 * (t * 3.0).sin(), 14.0, 20.0, 0.95]);
    assert!(stuck < 3.0, "{stuck}: a stuck sensor fills nothing");
    for (have, visits, enough) in [(30.0, 3, true), (29.9, 3, false), (30.0, 2, false)] {
        let (have, need) = (TimeSpan::from_s(have), TimeSpan::from_s(30.0));
        assert_eq!(Lack { regime: Regime::Cruise, have, need, visits, need_visits: 3 }.enough(), enough);
    }
}

#[test]
fn a_live_line_knows_its_columns_and_when_it_is_garbled() {
    let mut reader = LiveReader::new(ctx());
    assert!(!reader.settled() && reader.channels().is_empty());
    assert!(reader.push(HEADER.as_bytes()).is_empty() && !reader.settled(), "one row settles it");
    let row = reader.push(b"30.00,800,15.0,1.0,0.900\n")[0];
    assert!(reader.settled() && (row.time.unwrap().as_s() - 30.0).abs() < 1e-9);
    let channels = [Channel::Time, Channel::Speed, Channel::Vacuum, Channel::Throttle, Channel::Lambda];
    assert_eq!(reader.channels(), channels);
    // Three lines in ten.
    let garbled = |bad: usize| {
        let mut reader = LiveReader::new(ctx());
        reader.push(format!("{HEADER}0.00,800,15.0,1.0,0.900\n").as_bytes());
        for i in 0..39 {
            reader.push(if i < bad { b"~~\n" } else { b"0.10,800,15.0,1.0,0.900\n" });
        }
        reader.garbled()
    };
    assert_eq!(garbled(12), None);
    assert_eq!(garbled(13), Some(Garbled { lines: 13, of: 40 }));
}

#[test]
fn a_loggers_own_clock_may_stand() {
    let mut reader = LiveReader::new(ctx());
    let mut monitor = Monitor::new(&ctx(), None);
    reader.push(HEADER.as_bytes());
    let mut regimes = Vec::new();
    for i in 0..80 {
        let line: &[u8] = if i < 40 { b"7.00,800,15.0,1.0,0.900\n" } else { b"7.00,2000,14.0,20.0,0.900\n" };
        for row in reader.push(line) {
            let said = monitor.push(TimeSpan::from_s(1000.0 + f64::from(i) / 20.0), &row);
            assert!(
                !said.iter().any(|s| matches!(s, Say::ClockJumped { .. })),
                "a clock that stands is no jump"
            );
            regimes
                .extend(said.into_iter().filter_map(|s| if let Say::Regime(r) = s { Some(r) } else { None }));
        }
    }
    assert_eq!(*regimes.last().unwrap(), Regime::Cruise);
    let mut leaps = Monitor::new(&ctx(), None);
    let text = format!("{HEADER}5.00,800,15.0,1.0,0.900\n10.20,800,15.0,1.0,0.900\n");
    let leapt: Vec<Say> = rows(&text)
        .iter()
        .zip([1000.0, 1000.1])
        .flat_map(|(row, at)| leaps.push(TimeSpan::from_s(at), row))
        .collect();
    assert!(leapt.iter().any(|s| matches!(s, Say::ClockJumped { .. })), "{leapt:?}");
}

#[test]
fn heavy_is_told_from_the_enrichment_opening() {
    let regime = |opening: Option<f64>, vacuum: f64| {
        let ctx = TraceContext { enrichment_opening: opening.map(crate::units::Vacuum::from_inhg), ..ctx() };
        let said = watched_in(&ctx, 1.0, |_| [2000.0, vacuum, 20.0, 0.9]);
        said.into_iter().find_map(|(_, s)| if let Say::Regime(r) = s { Some(r) } else { None }).unwrap()
    };
    assert_eq!((regime(Some(6.5), 9.4), regime(Some(6.5), 9.6)), (Regime::HeavyCruise, Regime::Cruise));
    assert_eq!((regime(None, 7.9), regime(None, 8.1)), (Regime::HeavyCruise, Regime::Cruise));
}
