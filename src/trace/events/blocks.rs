//! Quarter-second means of what happenings are read from.

use super::super::sample::Sample;
use super::super::steady::BLOCK_S;
use crate::setup::Regime;

/// Means over one block; NaN where nothing was there. The regime is the block's last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Block {
    pub(super) t_s: f64,
    pub(super) to_s: f64,
    pub(super) regime: Option<Regime>,
    pub(super) speed_rpm: f64,
    pub(super) vacuum_inhg: f64,
    pub(super) throttle_pct: f64,
    pub(super) lambda: f64,
    pub(super) fuel_pressure_kpa: f64,
    pub(super) coolant_c: f64,
    pub(super) lateral_g: f64,
    pub(super) longitudinal_g: f64,
    pub(super) tilt_deg: f64,
}

/// Gathers rows into blocks.
#[derive(Debug, Default)]
pub(super) struct Blocks {
    from_s: f64,
    last_s: f64,
    sums: [f64; 6],
    counts: [u32; 6],
    /// Of accelerations and slope, which few loggers have.
    aside: [f64; 3],
    aside_counts: [u32; 3],
    rows: u32,
    regime: Option<Regime>,
}

impl Blocks {
    /// Takes a row; gives the block that is full.
    #[inline]
    pub(super) fn push(&mut self, s: &Sample, regime: Option<Regime>, lambda: f64) -> Option<Block> {
        let full = if self.rows > 0 && s.t_s - self.from_s >= BLOCK_S { self.close() } else { None };
        if self.rows == 0 {
            self.from_s = s.t_s;
        }
        let values = [s.speed_rpm, s.vacuum_inhg, s.throttle_pct, lambda, s.fuel_pressure_kpa, s.coolant_c];
        for ((sum, count), value) in self.sums.iter_mut().zip(&mut self.counts).zip(values) {
            if !value.is_nan() {
                *sum += value;
                *count += 1;
            }
        }
        if s.aside.moves() {
            let aside = [s.aside.lateral_g, s.aside.longitudinal_g, s.aside.tilt_deg];
            for ((sum, count), value) in self.aside.iter_mut().zip(&mut self.aside_counts).zip(aside) {
                if !value.is_nan() {
                    *sum += f64::from(value);
                    *count += 1;
                }
            }
        }
        self.rows += 1;
        self.last_s = s.t_s;
        self.regime = regime;
        full
    }

    /// The block under way, if there is one.
    pub(super) fn close(&mut self) -> Option<Block> {
        if self.rows == 0 {
            return None;
        }
        let mean = |which: usize| self.sums[which] / f64::from(self.counts[which]);
        let aside = |which: usize| self.aside[which] / f64::from(self.aside_counts[which]);
        let block = Block {
            t_s: self.from_s,
            to_s: self.last_s,
            regime: self.regime,
            speed_rpm: mean(0),
            vacuum_inhg: mean(1),
            throttle_pct: mean(2),
            lambda: mean(3),
            fuel_pressure_kpa: mean(4),
            coolant_c: mean(5),
            lateral_g: aside(0),
            longitudinal_g: aside(1),
            tilt_deg: aside(2),
        };
        *self = Self::default();
        Some(block)
    }
}
