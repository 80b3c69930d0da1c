//! `leanbest watch`.

use crate::bench::clock::Stopwatch;
use crate::bench::line::{FromLine, Line, LineError, LineSource};
use crate::cli::guide::leave_well;
use crate::cli::screen::{Aims, Feed, Gauges, Left, Look, Task, show};
use crate::cli::{Console, Exit, Fault};
use crate::report::live::{reading_json, reading_text, said_text};
use crate::rules::{self, RuleBook, limits};
use crate::setup::{Application, Cooling, FuelFamily, Regime, Setup};
use crate::trace::TraceContext;
use crate::trace::live::{Alarms, Lack, LiveReader, LiveRow, Monitor, Say};
use crate::units::{System, TimeSpan};
use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Arguments of `watch`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Serial device to read, or - for standard input
    #[arg(long, value_name = "DEV", default_value = "-")]
    port: String,
    /// Speed of the serial device
    #[arg(long, default_value_t = 115_200)]
    baud: u32,
    /// The setup of the job: limits of the lean alarm, enrichment opening, idle
    #[arg(long, value_name = "SETUP")]
    setup: Option<String>,
    /// A logger profile: names, units and scales of its columns
    #[arg(long, value_name = "NAME|TOML")]
    logger: Option<PathBuf>,
    /// Plain lines, not the screen
    #[arg(long)]
    plain: bool,
}

/// Readings are shown this often, s.
const SHOWN_EVERY_S: f64 = 0.5;
/// And written as data this often, s.
const WRITTEN_EVERY_S: f64 = 0.1;

/// Runs `watch`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let job = super::trace::job(args.setup.as_deref(), args.logger.as_deref(), console)?;
    let source = match args.port.as_str() {
        "-" => LineSource::Stdin,
        port => LineSource::Serial { port: PathBuf::from(port), baud: args.baud },
    };
    let alarms = job.alarms.unwrap_or_else(careful_alarms);
    if let Some(look) = look(console).filter(|_| wants_screen(args, console)) {
        return on_screen(&source, &job, alarms, look, console);
    }
    let interrupted = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&interrupted))
            .map_err(|e| Fault::io("could not take signals", e))?;
    }
    let line = Line::open(&source).map_err(refused)?;
    let mut watch = Watch::new(job.ctx, alarms);
    watch.start(console, &args.port)?;
    let clock = Stopwatch::start();
    while !interrupted.load(Ordering::Relaxed) {
        match line.next(Duration::from_millis(100)) {
            Some(FromLine::Bytes(bytes)) => watch.bytes(clock.now(), &bytes, console)?,
            Some(FromLine::Lost(why)) => {
                watch.tell(console, &format!("LINE LOST: {why}. Waiting for {} to come back.", args.port))?;
            }
            Some(FromLine::Back) => {
                watch.reader.reconnected();
                watch.tell(console, "Line back.")?;
            }
            Some(FromLine::Flooded(bytes)) => {
                watch.tell(
                    console,
                    &format!("The line is faster than this machine: {bytes} bytes were lost."),
                )?;
            }
            Some(FromLine::Ended) => {
                watch.end(console)?;
                return Ok(Exit::Done);
            }
            None => {}
        }
        if let Some(say) = watch.monitor.tick(clock.now()) {
            watch.say(console, &say)?;
        }
    }
    watch.end(console)?;
    Ok(Exit::Interrupted)
}

/// The screen is for a person: not with data asked for, and not where the readings are typed at the terminal.
fn wants_screen(args: &Args, console: &Console) -> bool {
    !(args.plain || console.json || (args.port == "-" && io::stdin().is_terminal()))
}

/// How the screen may look here; `None` where there is no terminal that could show it.
pub(super) fn look(console: &Console) -> Option<Look> {
    let able =
        io::stdout().is_terminal() && std::env::var("TERM").is_ok_and(|t| !matches!(t.as_str(), "" | "dumb"));
    able.then(|| Look { ascii: console.ascii, colour: ::console::colors_enabled() })
}

fn on_screen(
    source: &LineSource,
    job: &super::trace::Job,
    alarms: Alarms,
    look: Look,
    console: &mut Console,
) -> Result<Exit, Fault> {
    leave_well("Stopped watching.".to_owned());
    let mut feed = Feed::open(source, job.ctx.clone()).map_err(refused)?;
    let aims = match &job.loaded {
        Some(l) => aims(&l.setup, &l.rules, alarms),
        None => Aims { alarms: Some(alarms), ..Aims::default() },
    };
    let mut gauges = Gauges::new(&job.ctx, aims, console.system, Task::Watch);
    let left = show(&mut feed, &mut gauges, &Task::Watch, look, |_| Ok(()))
        .map_err(|e| Fault::io("could not use the terminal", e))?;
    if gauges.alarms() > 0 {
        console.say(&format!("The lean alarm came {} times.", gauges.alarms()))?;
    }
    summary(console, feed.counts(), &gauges.meter().lacks())?;
    Ok(if left == Left::Interrupted { Exit::Interrupted } else { Exit::Done })
}

/// What the numbers of this setup should be.
pub(super) fn aims(setup: &Setup, rules: &RuleBook, alarms: Alarms) -> Aims {
    let engine = &setup.engine;
    let barometer = setup.weather.map(|w| w.pressure);
    // only its figures are taken, none of its words
    let idle = rules::idle::aim(engine, setup.application, barometer, rules, System::default());
    let band = |regime| {
        let band = rules::targets::band(
            regime,
            setup.application,
            engine.cooling,
            setup.fuel.family,
            idle.overlap,
            rules,
        )?;
        Some((regime, band.low, band.high))
    };
    Aims {
        // Without a cam the table has nothing to say about this engine.
        idle_vacuum: engine.cam.as_ref().map(|_| (idle.vacuum_low, idle.vacuum_high)),
        idle_speed: engine.cam.as_ref().map(|_| idle.aim),
        lambda: Regime::ALL.into_iter().filter_map(band).collect(),
        alarms: Some(alarms),
    }
}

pub(super) fn refused(error: LineError) -> Fault {
    let hint = error.hint.clone();
    Fault::io(format!("could not open {}", error.port.display()), error.source).hint(hint)
}

/// Without a setup the strictest of the gasoline limits hold.
pub(super) fn careful_alarms() -> Alarms {
    let book = crate::rules::RuleBook::common();
    super::trace::alarms_of(&limits::full_throttle(
        Application::Tow,
        Cooling::Air,
        FuelFamily::Gasoline,
        &book,
    ))
}

struct Watch {
    reader: LiveReader,
    monitor: Monitor,
    alarms: Alarms,
    shown_s: f64,
    seen_header: bool,
}

impl Watch {
    fn new(ctx: TraceContext, alarms: Alarms) -> Self {
        let monitor = Monitor::new(&ctx, Some(alarms));
        Self { reader: LiveReader::new(ctx), monitor, alarms, shown_s: f64::NEG_INFINITY, seen_header: false }
    }

    fn start(&self, console: &mut Console, port: &str) -> Result<(), Fault> {
        let from = if port == "-" { "standard input" } else { port };
        let (warn, stop) = (self.alarms.warn.as_ratio(), self.alarms.stop.as_ratio());
        self.tell(
            console,
            &format!("Watching {from}. Lean alarm at load: warning above {warn:.2}, stop above {stop:.2}."),
        )
    }

    fn bytes(&mut self, now: TimeSpan, bytes: &[u8], console: &mut Console) -> Result<(), Fault> {
        let rows = self.reader.push(bytes);
        if self.reader.settled() && !self.seen_header {
            self.seen_header = true;
            let names: Vec<&str> = self.reader.channels().iter().map(|c| c.name()).collect();
            self.tell(console, &format!("Columns: {}.", names.join(", ")))?;
        }
        let many = rows.len().max(1) as f64;
        for (n, row) in rows.iter().enumerate() {
            // Rows that came in one piece were made one after another: spread them over the moment they came in.
            let at = TimeSpan::from_s((now.as_s() - 0.02 * (1.0 - (n as f64 + 1.0) / many)).max(0.0));
            for say in self.monitor.push(at, row) {
                self.say(console, &say)?;
            }
        }
        if let Some(last) = rows.last() {
            self.show(now, last, console)?;
        }
        if let Some(garbled) = self.reader.garbled() {
            let share = 100 * garbled.lines / garbled.of.max(1);
            self.tell(
                console,
                &format!(
                    "{share} % of the last {} lines cannot be read: is the speed (--baud) right?",
                    garbled.of
                ),
            )?;
        }
        Ok(())
    }

    fn show(&mut self, now: TimeSpan, row: &LiveRow, console: &mut Console) -> Result<(), Fault> {
        let every = if console.json { WRITTEN_EVERY_S } else { SHOWN_EVERY_S };
        if now.as_s() - self.shown_s < every {
            return Ok(());
        }
        self.shown_s = now.as_s();
        if console.json {
            console.answer_json(&reading_json(now, row, &self.monitor))?;
        } else {
            console.say(&reading_text(now, row, &self.monitor, console.system))?;
        }
        console.flush().map_err(Fault::from)
    }

    fn say(&self, console: &mut Console, say: &Say) -> Result<(), Fault> {
        if let Some(text) = said_text(say, console.system) {
            self.tell(console, &text)?;
        }
        Ok(())
    }

    /// A sentence: between the readings, or as a line of data.
    #[expect(clippy::unused_self, reason = "told in the name of the watch")]
    fn tell(&self, console: &mut Console, text: &str) -> Result<(), Fault> {
        if console.json {
            console.answer_json(&serde_json::json!({ "tell": text }))?;
        } else {
            console.say(text)?;
        }
        console.flush().map_err(Fault::from)
    }

    fn end(&self, console: &mut Console) -> Result<(), Fault> {
        summary(console, self.reader.counts(), &self.monitor.meter().lacks())
    }
}

/// What was watched, and what each regime still lacks.
fn summary(console: &mut Console, (used, set_aside): (u64, u64), lacks: &[Lack]) -> Result<(), Fault> {
    if console.json {
        let lacks: Vec<_> = lacks
            .iter()
            .map(|l| serde_json::json!({"regime": l.regime.name(), "have_s": l.have.as_s(), "need_s": l.need.as_s(), "visits": l.visits, "need_visits": l.need_visits}))
            .collect();
        console.answer_json(&serde_json::json!({"rows": used, "set_aside": set_aside, "lacks": lacks}))?;
        return Ok(());
    }
    console.say(&format!("{used} rows, {set_aside} set aside."))?;
    for l in lacks {
        console.say(&format!(
            "  {} still lacks data: {:.0} of {:.0} s, {} of {} visits",
            l.regime.said(),
            l.have.as_s().min(l.need.as_s()),
            l.need.as_s(),
            l.visits.min(l.need_visits),
            l.need_visits
        ))?;
    }
    Ok(())
}
