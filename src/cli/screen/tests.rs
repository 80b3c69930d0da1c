use super::*;
use crate::setup::Regime;
use crate::trace::live::{AlarmLevel, Alarms, LiveReader};
use crate::trace::{LoggerProfile, TraceContext};
use crate::units::{Lambda, System, TimeSpan, Vacuum};
use ratatui::Terminal;
use ratatui::backend::TestBackend;

const SIZES: [(u16, u16); 3] = [(80, 24), (100, 30), (200, 60)];
const PLAIN: Look = Look { ascii: false, colour: true };
const ASCII: Look = Look { ascii: true, colour: false };

fn drawn(screen: &Screen, look: Look, (width, height): (u16, u16)) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| render(screen, look, frame.area(), frame.buffer_mut())).unwrap();
    let text = terminal.backend().to_string();
    let rows = text.lines().map(|l| l.trim_matches('"').trim_end().to_owned());
    rows.collect::<Vec<_>>().join("\n")
}

fn reading() -> Screen {
    Screen {
        number: Some(BigNumber::of("Vacuum", "inHg", Some(15.24), 1, "00.0")),
        aim: Some("normal here 14.0 to 17.5 inHg".to_owned()),
        trend: Some(Trend { way: Way::Rising, said: "rising, +0.4 in 5 s".to_owned() }),
        next: "Screw 1 is an eighth further out: let it settle, then read. Leave it: it settles in 3 s."
            .to_owned(),
        keys: "Enter takes it    any other key: type it instead".to_owned(),
        ..Screen::default()
    }
}

fn watching() -> Screen {
    Screen {
        number: Some(BigNumber::of("Lambda", "", Some(0.943), 2, "0.00")),
        aim: Some("aim 0.95 to 1.02".to_owned()),
        trend: Some(Trend { way: Way::Steady, said: "steady".to_owned() }),
        next: "Hold it here: cruise needs 12 s more.".to_owned(),
        lacks: ["off idle 15 s", "cruise 12 s", "heavy cruise 15 s", "full throttle 6 s"]
            .map(str::to_owned)
            .to_vec(),
        keys: "q ends    v vacuum    l lambda    s speed    a by itself".to_owned(),
        ..Screen::default()
    }
}

fn lean() -> Screen {
    Screen {
        number: Some(BigNumber::of("Lambda", "", Some(0.93), 2, "0.00")),
        aim: Some("never leaner than 0.90 at load".to_owned()),
        next: "Close the throttle now.".to_owned(),
        danger: Some(Danger {
            level: AlarmLevel::Stop,
            said: "LEAN AT LOAD   lambda 0.93, limit 0.90".to_owned(),
        }),
        ..watching()
    }
}

fn lost() -> Screen {
    Screen {
        number: Some(BigNumber::of("Vacuum", "inHg", None, 1, "00.0")),
        next: "Waiting for readings.".to_owned(),
        trouble: Some("The line is lost (the device hung up). Look at plug and power.".to_owned()),
        ..Screen::default()
    }
}

#[test]
fn each_screen_at_each_size() {
    for size in SIZES {
        let (width, height) = size;
        for (name, screen) in
            [("reading", reading()), ("watching", watching()), ("lean", lean()), ("lost", lost())]
        {
            insta::assert_snapshot!(format!("{name}_{width}x{height}"), drawn(&screen, PLAIN, size));
        }
    }
    insta::assert_snapshot!("reading_ascii_80x24", drawn(&reading(), ASCII, (80, 24)));
    insta::assert_snapshot!("lean_ascii_80x24", drawn(&lean(), ASCII, (80, 24)));
    insta::assert_snapshot!("lean_40x10", drawn(&lean(), PLAIN, (40, 10)));
}

#[test]
fn what_matters_most_stays_at_any_size() {
    let screens = [reading(), watching(), lean(), lost(), Screen::default()];
    for screen in &screens {
        for (width, height) in [(1, 1), (3, 2), (2, 40), (200, 1), (10, 3), (20, 5), (40, 10), (80, 24)] {
            for look in [PLAIN, ASCII] {
                let text = drawn(screen, look, (width, height));
                assert!(!look.ascii || text.is_ascii(), "{text}");
                assert!(!text.contains("NaN"));
            }
        }
    }
    assert!(drawn(&lean(), PLAIN, (40, 4)).contains("CLOSE THE THROTTLE"));
    assert!(drawn(&lean(), PLAIN, (20, 1)).contains("CLOSE THE THROTTLE"));
    assert!(drawn(&reading(), PLAIN, (30, 1)).contains("15.2"));
    let small = drawn(&watching(), PLAIN, (60, 3));
    assert!(small.contains("0.94") && small.contains("Hold it here"), "{small}");
}

#[test]
fn what_is_no_number_is_shown_as_dashes() {
    let of = |value| BigNumber::of("Vacuum", "inHg", value, 1, "00.0").text;
    assert_eq!(of(Some(f64::NAN)), "--.-");
    assert_eq!(of(Some(f64::INFINITY)), "--.-");
    assert_eq!(of(None), "--.-");
    assert_eq!(of(Some(9.96)), "10.0");
    assert_eq!(of(Some(9.0)), " 9.0");
    assert_eq!(of(Some(-0.01)), " 0.0");
}

/// Feeds rows at 20 Hz: rpm, vacuum, throttle, lambda at a time.
fn fed(task: Task, seconds: f64, of: impl Fn(f64) -> [f64; 4]) -> (Gauges, Vec<Sound>) {
    let ctx = TraceContext::bare(&LoggerProfile::standard());
    let aims = Aims {
        idle_vacuum: Some((Vacuum::from_inhg(14.0), Vacuum::from_inhg(17.0))),
        lambda: vec![(Regime::Cruise, Lambda::from_ratio(0.95), Lambda::from_ratio(1.02))],
        alarms: Some(Alarms {
            warn: Lambda::from_ratio(0.87),
            stop: Lambda::from_ratio(0.90),
            longer_than: TimeSpan::from_s(0.5),
        }),
        ..Aims::default()
    };
    let mut reader = LiveReader::new(ctx.clone());
    reader.push(b"time_s,rpm,vacuum_inhg,tps_pct,lambda\n");
    let mut gauges = Gauges::new(&ctx, aims, System::Us, task);
    let mut heard = Vec::new();
    for i in 0..(seconds * 20.0) as u32 {
        let t = f64::from(i) / 20.0;
        let [speed, vacuum, throttle, lambda] = of(t);
        let rows =
            reader.push(format!("{t:.2},{speed:.0},{vacuum:.2},{throttle:.1},{lambda:.3}\n").as_bytes());
        heard.push(gauges.rows(TimeSpan::from_s(t + 0.02), &rows));
    }
    heard.retain(|s| *s != Sound::Silence);
    (gauges, heard)
}

#[test]
fn a_reading_counts_down_then_bells_once_and_can_be_taken() {
    let read = || Task::Read("Let it settle, then read.".to_owned());
    let idle = |t: f64| [755.0, 15.2 + 0.05 * (t * 9.0).sin(), 1.0, 0.86];
    let (early, heard) = fed(read(), 2.0, idle);
    assert!(early.settled().is_none() && heard.is_empty());
    assert!(early.screen().next.contains("it settles in 4 s"), "{}", early.screen().next);
    let (ready, heard) = fed(read(), 8.0, idle);
    assert_eq!(heard, [Sound::Ready]);
    let taken = ready.settled().unwrap();
    assert!((taken.vacuum.as_inhg() - 15.2).abs() < 0.03);
    assert!((taken.speed.unwrap().as_rpm() - 755.0).abs() < 1.0);
    assert!((taken.lambda.unwrap().as_ratio() - 0.86).abs() < 0.005);
    let screen = ready.screen();
    assert!(
        screen.next.ends_with("It stands: Enter takes 15.2 inHg, 755 rpm, lambda 0.86."),
        "{}",
        screen.next
    );
    assert_eq!(screen.number.unwrap().text, "15.2");
    assert_eq!(screen.aim.as_deref(), Some("normal here 14.0 to 17.0 inHg"));
    let (moving, _) = fed(read(), 8.0, |t| [700.0 + 20.0 * t, 13.0 + 0.3 * t, 1.0, 0.86]);
    assert!(moving.settled().is_none());
    assert!(moving.screen().next.contains("Still moving"));
    assert_eq!(moving.screen().trend.unwrap().way, Way::Rising);
    assert!(moving.as_it_is().is_some());
}

#[test]
fn the_lean_alarm_takes_the_screen_and_bells_until_it_is_over() {
    let pull = |t: f64| if t < 6.0 { [3500.0, 1.0, 95.0, 0.95] } else { [900.0, 15.0, 2.0, 0.85] };
    let (during, heard) = fed(Task::Watch, 5.0, pull);
    assert!(heard.len() >= 4 && heard.iter().all(|s| *s == Sound::Danger), "{heard:?}");
    let screen = during.screen();
    assert_eq!(screen.danger.as_ref().map(|d| d.level), Some(AlarmLevel::Stop));
    assert_eq!(screen.number.unwrap().text, "0.95");
    assert!(screen.next.starts_with("Close the throttle"));
    let (after, _) = fed(Task::Watch, 10.0, pull);
    assert!(after.screen().danger.is_none());
    assert_eq!(after.alarms(), 1);
    let (rich, heard) = fed(Task::Watch, 5.0, |_| [3500.0, 1.0, 95.0, 0.86]);
    assert!(rich.screen().danger.is_none() && heard.is_empty());
}

#[test]
fn an_old_number_is_not_shown_as_if_it_were_live() {
    let (mut gauges, _) = fed(Task::Watch, 8.0, |_| [755.0, 15.2, 1.0, 0.86]);
    assert!(!gauges.tick(TimeSpan::from_s(9.0)));
    assert_eq!(gauges.screen().number.unwrap().text, "15.2");
    assert!(gauges.tick(TimeSpan::from_s(12.0)));
    let screen = gauges.screen();
    assert_eq!(screen.number.unwrap().text, "--.-");
    assert!(screen.trouble.unwrap().contains("No readings"));
}

#[test]
fn the_person_may_choose_the_number() {
    let (mut gauges, _) = fed(Task::Watch, 8.0, |_| [1755.0, 15.2, 1.0, 0.86]);
    gauges.choose(Some(Gauge::Speed));
    assert_eq!(gauges.screen().number.unwrap().text, "1760", "to the next ten");
    gauges.choose(Some(Gauge::Lambda));
    assert_eq!(gauges.screen().number.unwrap().text, "0.86");
}

/// The insides of the test below, each run in a terminal of its own.
mod endings {
    use super::super::terminal;
    use std::time::Duration;

    fn screen_on() {
        terminal::take().unwrap();
        std::thread::sleep(Duration::from_millis(300));
    }

    #[test]
    #[ignore = "the inside of another test"]
    fn panics() {
        screen_on();
        panic!("on purpose");
    }

    #[test]
    #[ignore = "the inside of another test"]
    fn panics_in_a_thread() {
        screen_on();
        let died = std::thread::spawn(|| panic!("on purpose")).join();
        assert!(died.is_ok(), "and that ends it");
    }

    struct PanicsWhenDropped;

    impl Drop for PanicsWhenDropped {
        fn drop(&mut self) {
            panic!("on purpose");
        }
    }

    #[test]
    #[ignore = "the inside of another test"]
    fn panics_within_a_panic() {
        screen_on();
        let _last = PanicsWhenDropped;
        panic!("first");
    }

    #[test]
    #[ignore = "the inside of another test"]
    fn aborts() {
        screen_on();
        std::process::abort();
    }

    fn deeper(depth: u64) -> u64 {
        let room = std::hint::black_box([depth; 512]);
        if depth == u64::MAX { 0 } else { deeper(depth + 1) + room[7] }
    }

    #[test]
    #[ignore = "the inside of another test"]
    fn runs_over_its_stack() {
        screen_on();
        assert_ne!(deeper(0), 1);
    }
}

/// Runs one of the insides in a terminal of its own; gives what was seen there, and whether the terminal was raw at some
/// time and is as before in the end.
fn ending(inside: &str) -> (String, bool, bool) {
    use nix::pty::openpty;
    use nix::sys::termios::{LocalFlags, tcgetattr};
    use std::io::Read;
    use std::process::{Command, Stdio};
    let pair = openpty(None, None).unwrap();
    let before = tcgetattr(&pair.slave).unwrap();
    let end = || Stdio::from(pair.slave.try_clone().unwrap());
    let name = format!("cli::screen::tests::endings::{inside}");
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--ignored", "--exact", &name, "--nocapture"]).env("TERM", "xterm");
    let mut child = command.stdin(end()).stdout(end()).stderr(end()).spawn().unwrap();
    drop(command);
    let mut master = std::fs::File::from(pair.master);
    let heard = std::thread::spawn(move || {
        let (mut seen, mut buffer) = (Vec::new(), [0; 4096]);
        while let Ok(n @ 1..) = master.read(&mut buffer) {
            seen.extend_from_slice(&buffer[..n]);
        }
        String::from_utf8_lossy(&seen).into_owned()
    });
    let mut was_raw = false;
    let status = loop {
        was_raw |= !tcgetattr(&pair.slave).unwrap().local_flags.contains(LocalFlags::ICANON);
        match child.try_wait().unwrap() {
            Some(status) => break status,
            None => std::thread::sleep(std::time::Duration::from_millis(10)),
        }
    };
    assert!(!status.success(), "{inside}");
    let as_before = before == tcgetattr(&pair.slave).unwrap();
    drop(pair.slave);
    (heard.join().unwrap(), was_raw, as_before)
}

#[test]
fn every_bad_ending_gives_the_terminal_back() {
    for inside in ["panics", "panics_in_a_thread", "panics_within_a_panic", "aborts", "runs_over_its_stack"] {
        let (seen, was_raw, as_before) = ending(inside);
        assert!(was_raw, "{inside}: the screen was never on");
        assert!(as_before, "{inside}: the terminal is not as it was");
        let (on, off) = (seen.find("\u{1b}[?1049h").unwrap(), seen.rfind("\u{1b}[?1049l").unwrap_or(0));
        assert!(on < off, "{inside}: {seen:?}");
        if inside.starts_with("panics") {
            assert!(off < seen.rfind("on purpose").unwrap(), "{inside}: said where nobody sees it: {seen:?}");
        }
    }
}
