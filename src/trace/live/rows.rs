//! Bytes of a live line to rows.

use super::super::channel::Channel;
use super::super::context::TraceContext;
use super::super::fault::Tally;
use super::super::header::Head;
use super::super::reader::Reader;
use super::super::rows::Block;
use super::super::sample::{Sample, Sampler};
use super::super::summary::LineCounts;
use crate::units::{EngineSpeed, Fraction, Lambda, PressureDifference, Temperature, TimeSpan, Vacuum};

/// One row of a live line; what it does not hold, or not believably, is `None`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiveRow {
    /// The logger's own time.
    pub time: Option<TimeSpan>,
    /// Speed.
    pub speed: Option<EngineSpeed>,
    /// Vacuum.
    pub vacuum: Option<Vacuum>,
    /// Throttle.
    pub throttle: Option<Fraction>,
    /// Lambda; not when it stands at an end of the sensor's range.
    pub lambda: Option<Lambda>,
    /// Coolant.
    pub coolant: Option<Temperature>,
    /// Fuel pressure.
    pub fuel_pressure: Option<PressureDifference>,
    pub(super) sample: Sample,
}

/// How much of a line cannot be read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Garbled {
    /// Lines that could not be read, lately.
    pub lines: u64,
    /// Of so many.
    pub of: u64,
}

/// More unreadable than this: probably the wrong speed.
const GARBLED_SHARE: f64 = 0.3;
/// Lines looked back on.
const LOOK_BACK: u64 = 40;

/// Turns a live line's bytes into rows. Half lines, garbage, and a header that comes late or again do no harm.
#[derive(Debug)]
pub struct LiveReader {
    ctx: TraceContext,
    reader: Reader,
    sampler: Option<Sampler>,
    lines: LineCounts,
    faults: Tally,
    lately: (u64, u64),
    garbled: Option<Garbled>,
    rows: Vec<LiveRow>,
    settled: bool,
}

impl LiveReader {
    /// Ready for the first byte. With a logger profile without header it knows the columns from the start.
    pub fn new(ctx: TraceContext) -> Self {
        Self {
            reader: Reader::new(&ctx.logger, true),
            ctx,
            sampler: None,
            lines: LineCounts::default(),
            faults: Tally::default(),
            lately: (0, 0),
            garbled: None,
            rows: Vec::new(),
            settled: false,
        }
    }

    /// Takes bytes; gives the rows that are whole now. The first line after (re)connecting may be half a line: when it
    /// cannot be read it is only counted.
    pub fn push(&mut self, bytes: &[u8]) -> Vec<LiveRow> {
        let Self { reader, sampler, lines, faults, rows, lately, ctx, .. } = self;
        let mut sink = |head: &Head, block: &Block| {
            let sampler = sampler.get_or_insert_with(|| Sampler::new(&head.layout, ctx));
            faults.take(&block.faults, lines.lines);
            lines.add(&block.lines);
            lately.0 += block.lines.quarantined;
            lately.1 += block.lines.quarantined + block.lines.used;
            let width = head.layout.used.len().max(1);
            rows.extend(block.values.chunks_exact(width).map(|row| {
                let logged = sampler.logged_time(row);
                live_row(sampler.sample(row, logged))
            }));
            Ok(())
        };
        let failed = reader.push(bytes, &mut sink).is_err();
        if failed {
            // No header among the first lines, or no line ends at all: garbage. Begin again with what comes.
            self.lately.0 += LOOK_BACK;
            self.lately.1 += LOOK_BACK;
            self.reader = Reader::new(&self.ctx.logger, true);
            self.sampler = None;
        }
        self.settled = self.reader.head().is_some();
        self.judge_garbage();
        std::mem::take(&mut self.rows)
    }

    /// The line was lost and is back: what was half read is dropped, the columns stay.
    pub fn reconnected(&mut self) {
        self.reader.drop_tail();
    }

    /// Whether the columns are known.
    pub fn settled(&self) -> bool {
        self.settled
    }

    /// Names of the channels it shows.
    pub fn channels(&self) -> Vec<Channel> {
        self.reader.head().map(|h| h.layout.used.iter().map(|u| u.channel).collect()).unwrap_or_default()
    }

    /// When much of the line cannot be read; said once until it is read again.
    pub fn garbled(&mut self) -> Option<Garbled> {
        self.garbled.take()
    }

    /// Rows used and set aside so far.
    pub fn counts(&self) -> (u64, u64) {
        (self.lines.used, self.lines.quarantined)
    }

    fn judge_garbage(&mut self) {
        if self.lately.1 < LOOK_BACK {
            return;
        }
        let (lines, of) = std::mem::take(&mut self.lately);
        if lines as f64 > GARBLED_SHARE * of as f64 {
            self.garbled = Some(Garbled { lines, of });
        }
    }
}

fn live_row(s: Sample) -> LiveRow {
    let lambda = (0.5..1.6).contains(&s.lambda).then(|| Lambda::from_ratio(s.lambda));
    LiveRow {
        time: TimeSpan::try_from_min(s.t_s / 60.0).ok(),
        speed: EngineSpeed::try_from_rpm(s.speed_rpm).ok(),
        vacuum: Vacuum::try_from_inhg(s.vacuum_inhg).ok(),
        throttle: Fraction::try_from_percent(s.throttle_pct).ok(),
        lambda,
        coolant: Temperature::try_from_c(s.coolant_c).ok(),
        fuel_pressure: PressureDifference::try_from_kpa(s.fuel_pressure_kpa).ok(),
        sample: s,
    }
}
