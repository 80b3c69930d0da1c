//! Bytes in, summary out: one pass, in memory that does not grow with the log.

use super::channel::Channel;
use super::clock::{Clock, Tick};
use super::context::TraceContext;
use super::course::Course;
use super::fault::{FaultKind, Tally, TraceError};
use super::found::Found;
use super::gather;
use super::layout::Layout;
use super::learn::{self, Learnt, ROWS_LEARNT_FROM};
use super::reader::{self, Reader};
use super::rows::Block;
use super::sample::{Pumping, Sample, Sampler};
use super::summary::{Dropped, LineCounts, Note, SensorQuality, TraceSummary, whole_64ths};
use crate::units::TimeSpan;

/// Reads a log pushed to it in pieces of any size; owns no file.
///
/// Large logs can be read on several threads: [`Analyzer::shape`] gives, once the first bytes have been pushed, what
/// [`Shape::read`] needs to turn whole lines into [`Rows`] anywhere; [`Analyzer::take`] takes those in order.
#[derive(Debug)]
pub struct Analyzer {
    reader: Reader,
    intake: Intake,
    failed: Option<TraceError>,
}

/// The settled shape of a log: its columns and how they are written.
#[derive(Debug, Clone)]
pub struct Shape {
    layout: Layout,
}

/// Rows of whole lines, read apart from the rest of their log.
#[derive(Debug, Default)]
pub struct Rows {
    block: Block,
}

impl Shape {
    /// Reads the whole lines in `bytes`, which must begin a line, into `rows`; gives the bytes used. The unfinished
    /// rest is to be pushed.
    pub fn read(&self, bytes: &[u8], rows: &mut Rows) -> usize {
        reader::read_apart(&self.layout, bytes, &mut rows.block);
        rows.block.consumed
    }

    /// What ends a line.
    pub fn line_end(&self) -> u8 {
        self.layout.line_end
    }
}

impl Analyzer {
    /// Ready for the first byte.
    pub fn new(ctx: TraceContext) -> Self {
        Self {
            reader: Reader::new(&ctx.logger, false).wanting(wanted),
            intake: Intake::new(ctx),
            failed: None,
        }
    }

    /// Takes the next bytes of the log. A log that cannot be read at all is known from
    /// [`failed`](Self::failed) at once, and again at the end.
    pub fn push(&mut self, bytes: &[u8]) {
        if self.failed.is_some() {
            return;
        }
        let intake = &mut self.intake;
        self.failed =
            self.reader.push(bytes, &mut |head, block| intake.first(head).map(|()| intake.take(block))).err();
    }

    /// Why the log cannot be read at all, when that is so.
    pub fn failed(&self) -> Option<&TraceError> {
        self.failed.as_ref()
    }

    /// Lines read so far.
    pub fn lines(&self) -> u64 {
        self.intake.lines.lines
    }

    /// The shape of the log, once enough of it has been pushed.
    pub fn shape(&self) -> Option<Shape> {
        self.reader.head().map(|h| Shape { layout: h.layout.clone() })
    }

    /// Whether the next byte begins a line, so that rows read apart may be taken.
    pub fn at_line_start(&self) -> bool {
        self.reader.at_line_start()
    }

    /// Takes rows read apart, which must follow what was pushed or taken before. Refused (false) in the middle of a
    /// line: their bytes must then be pushed instead.
    pub fn take(&mut self, rows: &Rows) -> bool {
        if !self.at_line_start() || self.failed.is_some() {
            return false;
        }
        self.intake.take(&rows.block);
        true
    }

    /// The log is at its end.
    pub fn finish(mut self) -> Result<TraceSummary, TraceError> {
        if self.failed.is_none() {
            let intake = &mut self.intake;
            self.failed =
                self.reader.finish(&mut |head, block| intake.first(head).map(|()| intake.take(block))).err();
        }
        if let Some(error) = self.failed {
            return Err(error);
        }
        self.intake.finish()
    }
}

/// Columns that something is worked out from; the others need not be read.
fn wanted(channel: Channel) -> bool {
    !matches!(
        channel,
        Channel::Torque
            | Channel::Power
            | Channel::RoadSpeed
            | Channel::FuelFlow
            | Channel::Humidity
            | Channel::Oil
    )
}

/// Takes blocks in order: line numbers, the clock, then learning, then the course.
#[derive(Debug)]
struct Intake {
    ctx: TraceContext,
    pumping: Pumping,
    sampler: Option<Sampler>,
    width: usize,
    time_column: usize,
    clock: Clock,
    lines: LineCounts,
    faults: Tally,
    notes: Vec<Note>,
    held: Vec<(Sample, bool)>,
    learnt: Option<Learnt>,
    course: Option<Course>,
    anew: bool,
}

impl Intake {
    fn new(ctx: TraceContext) -> Self {
        let pumping = Pumping::of(&ctx);
        Self {
            ctx,
            pumping,
            sampler: None,
            width: 0,
            time_column: 0,
            clock: Clock::default(),
            lines: LineCounts::default(),
            faults: Tally::default(),
            notes: Vec::new(),
            held: Vec::new(),
            learnt: None,
            course: None,
            anew: false,
        }
    }

    /// Looks at the shape when the first block comes.
    fn first(&mut self, head: &super::header::Head) -> Result<(), TraceError> {
        if self.sampler.is_some() {
            return Ok(());
        }
        let layout = &head.layout;
        let line = head.lines.lines - head.lines.units;
        let missing =
            |what, remedy| TraceError::NoColumn { line, what, found: head.names.join(", "), remedy };
        if layout.slot(Channel::Time).is_none() && self.ctx.logger.period.is_none() {
            return Err(missing(
                "time",
                "name it in a logger profile, or give the time between rows there (period = \"10 ms\")",
            ));
        }
        if layout.slot(Channel::Speed).is_none() {
            return Err(missing(
                "engine speed",
                "without it no regime can be told; map it in a logger profile",
            ));
        }
        self.notes.extend(head.notes.iter().cloned());
        for (channels, what) in [
            (&[Channel::Lambda][..], "there is no lambda column: regimes are told, but no mixture"),
            (
                &[Channel::Manifold, Channel::Vacuum][..],
                "there is no manifold pressure or vacuum: no stations can be made",
            ),
            (
                &[Channel::Throttle][..],
                "there is no throttle column: regimes are told from vacuum and speed, off-idle is not told apart",
            ),
        ] {
            if channels.iter().all(|c| layout.slot(*c).is_none()) {
                self.notes.push(Note { name: "no-column".to_owned(), what: what.to_owned() });
            }
        }
        self.width = layout.used.len();
        self.time_column = layout.used.iter().find(|u| u.channel == Channel::Time).map_or(0, |u| u.index + 1);
        self.sampler = Some(Sampler::new(layout, &self.ctx));
        Ok(())
    }

    fn take(&mut self, block: &Block) {
        let base = self.lines.lines;
        let Some(sampler) = &mut self.sampler else {
            return;
        };
        self.faults.take(&block.faults, base);
        self.lines.add(&block.lines);
        let mut breaks = block.breaks.iter().peekable();
        let width = self.width.max(1);
        for (n, (row, line)) in block.values.chunks_exact(width).zip(&block.line_of).enumerate() {
            while breaks.peek().is_some_and(|b| **b as usize <= n) {
                breaks.next();
                self.anew = true;
            }
            let logged = sampler.logged_time(row);
            let t_s =
                match self.clock.tick(logged, base + u64::from(*line), self.time_column, &mut self.faults) {
                    Tick::At(t) => t,
                    Tick::Anew(t) => {
                        self.anew = true;
                        t
                    }
                    Tick::SetAside => {
                        self.lines.used -= 1;
                        self.lines.quarantined += 1;
                        continue;
                    }
                };
            let sample = sampler.sample(row, t_s);
            let anew = std::mem::take(&mut self.anew);
            if let Some(course) = &mut self.course {
                course.push(&sample, anew);
            } else {
                self.held.push((sample, anew));
            }
        }
        // A new start behind the last row is for the first of the next block.
        self.anew |= breaks.next().is_some();
        if self.course.is_none() && self.held.len() >= ROWS_LEARNT_FROM {
            self.learn();
        }
    }

    /// Learns from the rows held back and lets them run.
    fn learn(&mut self) {
        let mut held = std::mem::take(&mut self.held);
        let mut learnt = learn::learn(&held, &self.ctx, &self.pumping);
        if let (Some(sampler), Some(standing)) = (&mut self.sampler, learnt.standing_kpa)
            && !self.ctx.barometer_known
            && sampler.has(Channel::Manifold)
            && !sampler.has(Channel::Vacuum)
            && !sampler.has(Channel::Barometer)
        {
            // Manifold pressure with the engine standing is the air outside.
            let shift = (standing - sampler.barometer_kpa) / 3.386_389;
            sampler.barometer_kpa = standing;
            for (s, _) in &mut held {
                s.vacuum_inhg += shift;
            }
            self.ctx.barometer = crate::units::Pressure::from_kpa(standing);
            self.ctx.barometer_known = true;
            learnt = learn::learn(&held, &self.ctx, &self.pumping);
            let what = format!(
                "the barometer was not given; {standing:.1} kPa was read from the manifold with the engine standing"
            );
            self.notes.push(Note { name: "barometer".to_owned(), what });
        }
        let mut course = Course::new(&self.ctx, self.pumping, &learnt);
        for (s, anew) in &held {
            course.push(s, *anew);
        }
        self.learnt = Some(learnt);
        self.course = Some(course);
    }

    fn finish(mut self) -> Result<TraceSummary, TraceError> {
        if self.course.is_none() {
            self.learn();
        }
        if self.lines.used == 0 {
            return Err(TraceError::NoRows { why: self.why_no_rows() });
        }
        let (Some(course), Some(learnt)) = (self.course.take(), self.learnt) else {
            return Err(TraceError::NoRows { why: "nothing was read".to_owned() });
        };
        let found = course.finish();
        self.more_notes(&found);
        Ok(self.summary(found, &learnt).figured().settled_text())
    }

    fn why_no_rows(&self) -> String {
        let ragged = self.faults.of(FaultKind::Ragged);
        if ragged > 0 {
            return format!(
                "{ragged} lines do not have as many columns as the header; is the separator right?"
            );
        }
        if self.lines.quarantined > 0 {
            return format!("all {} rows had to be set aside", self.lines.quarantined);
        }
        "the log has a header and nothing under it".to_owned()
    }

    fn more_notes(&mut self, found: &Found) {
        let mut note = |name: &str, what: String| self.notes.push(Note { name: name.to_owned(), what });
        let rows = self.lines.used + self.lines.quarantined;
        if self.lines.quarantined * 20 > rows {
            note(
                "many-set-aside",
                format!(
                    "{} of {rows} rows were set aside: is the separator right, is the file whole?",
                    self.lines.quarantined
                ),
            );
        }
        if !self.ctx.barometer_known
            && self.sampler.as_ref().is_some_and(|s| {
                s.has(Channel::Manifold) && !s.has(Channel::Vacuum) && !s.has(Channel::Barometer)
            })
        {
            note("barometer", "the barometer is not known: 101.3 kPa was assumed, and every vacuum is off by as much as that is".to_owned());
        }
        if found.tip_in_count == 0 && found.kept == 0 {
            note(
                "nothing-kept",
                "no row was steady, warm and believable enough to make a station of".to_owned(),
            );
        }
    }

    fn summary(self, found: Found, learnt: &Learnt) -> TraceSummary {
        let dropped = found.dropped();
        let of = |r: Dropped| dropped.get(&r).copied().unwrap_or(0);
        let flow_known =
            self.pumping.g_s.is_some() || self.sampler.as_ref().is_some_and(|s| s.has(Channel::AirFlow));
        let sensor = SensorQuality {
            vouched: self.ctx.sensor_trusted,
            stuck: of(Dropped::SensorStuck),
            out_of_range: of(Dropped::SensorRange),
            missing: of(Dropped::NoLambda),
            running: found.running,
            believed: found.believable,
            much_overlap: self.ctx.overlap.is_some_and(|o| o.as_deg() > 15.0),
            bank_counts: found.bank_difference.counted(),
            ..SensorQuality::default()
        };
        let (faults, fault_counts) = self.faults.into_parts();
        let (mut tip_ins, mut pulls, mut events) = (found.tip_ins, found.pulls, found.events);
        super::merge::keep_worst_tips(&mut tip_ins);
        super::merge::keep_worst_pulls(&mut pulls);
        super::merge::keep_first_events(&mut events);
        let mut notes = self.notes;
        notes.sort();
        notes.dedup();
        TraceSummary {
            rows: self.lines.used + self.lines.quarantined,
            lines: self.lines,
            faults,
            fault_counts,
            kept: found.kept,
            dropped,
            start: found.first_s.map(TimeSpan::from_s),
            end: found.first_s.map(|_| TimeSpan::from_s(found.last_s)),
            seconds: whole_64ths(found.covered_s),
            stopped_seconds: whole_64ths(found.gathered.stopped_s),
            throttle_closed: learnt
                .borders
                .throttle
                .then(|| crate::units::Fraction::from_percent(learnt.borders.closed_pct)),
            period: (learnt.period_s > 0.0).then(|| TimeSpan::from_s(learnt.period_s)),
            regimes: found.gathered.regimes(),
            stations: found.gathered.stations(flow_known),
            share_of: gather::share_of(self.ctx.rated_flow.is_some() && flow_known),
            delay: learnt.delay.told(learnt.borders.idle_rpm, learnt.idle_kpa, found.judged),
            tip_ins,
            tip_in_count: found.tip_in_count,
            pulls,
            pull_count: found.pull_count,
            events,
            event_counts: found.event_counts,
            sensor,
            notes,
        }
    }
}

impl TraceSummary {
    /// Written out and read back once, so that what a session file holds is exactly what was computed with.
    fn settled_text(self) -> TraceSummary {
        serde_json::to_string(&self).ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or(self)
    }
}

#[cfg(test)]
mod tests;
