//! A row as the analysis sees it: known quantities in fixed units, NaN where one is missing.

use super::channel::Channel;
use super::context::TraceContext;
use super::layout::Layout;

/// Specific gas constant of dry air, J/(kg K) (CODATA molar constant over 28.9645 g/mol).
const GAS_CONSTANT_AIR: f64 = 287.05;

/// One row. Units are in the names; NaN is "not there" and never leaves the room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    pub(super) t_s: f64,
    pub(super) speed_rpm: f64,
    pub(super) vacuum_inhg: f64,
    pub(super) manifold_kpa: f64,
    pub(super) throttle_pct: f64,
    pub(super) lambda: f64,
    pub(super) lambda_2: f64,
    pub(super) coolant_c: f64,
    pub(super) fuel_pressure_kpa: f64,
    /// Measured air flow.
    pub(super) meter_g_s: f64,
    /// What few loggers have.
    pub(super) aside: Aside,
}

/// Air breathed, accelerations and slope; half as wide as the rest, for every row waits with them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Aside {
    pub(super) air_c: f32,
    pub(super) lateral_g: f32,
    pub(super) longitudinal_g: f32,
    pub(super) tilt_deg: f32,
}

impl Aside {
    /// Whether an acceleration or a slope is there.
    #[inline]
    pub(super) fn moves(&self) -> bool {
        !(self.lateral_g.is_nan() && self.longitudinal_g.is_nan() && self.tilt_deg.is_nan())
    }

    /// None of it is logged.
    pub(super) const NONE: Self =
        Self { air_c: f32::NAN, lateral_g: f32::NAN, longitudinal_g: f32::NAN, tilt_deg: f32::NAN };
}

impl Sample {
    /// Speed times manifold pressure: what the engine pumps, up to a factor.
    #[inline]
    pub(super) fn pumping(&self) -> f64 {
        self.speed_rpm * self.manifold_kpa
    }
}

/// Where the channels stand in a row, and the air outside.
#[derive(Debug, Clone)]
pub(super) struct Sampler {
    slots: [usize; Channel::ALL.len()],
    /// Station pressure: given, logged, or assumed.
    pub(super) barometer_kpa: f64,
    /// No time is logged: rows come this far apart.
    period_s: Option<f64>,
    rows: u64,
    /// Some of what few loggers have is there.
    aside: bool,
}

/// No such column.
const NOWHERE: usize = usize::MAX;
const KPA_PER_INHG: f64 = 3.386_389;

impl Sampler {
    /// For rows of this layout.
    pub(super) fn new(layout: &Layout, ctx: &TraceContext) -> Self {
        Self {
            slots: Channel::ALL.map(|c| layout.slot(c).unwrap_or(NOWHERE)),
            barometer_kpa: ctx.barometer.as_kpa(),
            period_s: ctx.logger.period.map(crate::units::TimeSpan::as_s),
            rows: 0,
            aside: [Channel::IntakeAir, Channel::Lateral, Channel::Longitudinal, Channel::Tilt]
                .into_iter()
                .any(|c| layout.slot(c).is_some()),
        }
    }

    /// Whether rows hold this channel.
    pub(super) fn has(&self, channel: Channel) -> bool {
        self.slots[channel as usize] != NOWHERE
    }

    /// The time of a row as logged, or as counted from the rows; NaN when it has none.
    #[inline]
    pub(super) fn logged_time(&mut self, row: &[f64]) -> f64 {
        self.rows += 1;
        match self.period_s {
            Some(period) if !self.has(Channel::Time) => (self.rows - 1) as f64 * period,
            _ => row.get(self.slots[Channel::Time as usize]).copied().unwrap_or(f64::NAN),
        }
    }

    /// The row at its time.
    #[inline]
    pub(super) fn sample(&mut self, row: &[f64], t_s: f64) -> Sample {
        let get = |channel: Channel| row.get(self.slots[channel as usize]).copied().unwrap_or(f64::NAN);
        let barometer = get(Channel::Barometer);
        if !barometer.is_nan() {
            self.barometer_kpa = barometer;
        }
        let (mut vacuum, mut manifold) = (get(Channel::Vacuum), get(Channel::Manifold));
        if vacuum.is_nan() {
            vacuum = (self.barometer_kpa - manifold) / KPA_PER_INHG;
        } else if manifold.is_nan() {
            manifold = self.barometer_kpa - vacuum * KPA_PER_INHG;
        }
        Sample {
            t_s,
            speed_rpm: get(Channel::Speed),
            vacuum_inhg: vacuum,
            manifold_kpa: manifold,
            throttle_pct: get(Channel::Throttle),
            lambda: get(Channel::Lambda),
            lambda_2: get(Channel::Lambda2),
            coolant_c: get(Channel::Coolant),
            fuel_pressure_kpa: get(Channel::FuelPressure),
            meter_g_s: get(Channel::AirFlow),
            aside: if self.aside {
                Aside {
                    air_c: get(Channel::IntakeAir) as f32,
                    lateral_g: get(Channel::Lateral) as f32,
                    longitudinal_g: get(Channel::Longitudinal) as f32,
                    tilt_deg: get(Channel::Tilt) as f32,
                }
            } else {
                Aside::NONE
            },
        }
    }
}

/// Factors from what is pumped to air flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pumping {
    /// g/s for one rpm kPa; `None` without a displacement.
    pub(super) g_s: Option<f64>,
    /// Share of the rating for one rpm kPa.
    pub(super) share: f64,
    /// Share of the rating for one g/s; `None` without a rating.
    pub(super) share_of_g_s: Option<f64>,
}

impl Pumping {
    /// Speed density: displacement times volumetric efficiency, filled once in two turns with air at manifold
    /// pressure and outside temperature. One efficiency for all loads: right to about a seventh.
    pub(super) fn of(ctx: &TraceContext) -> Self {
        let g_s = ctx.displacement.map(|displacement| {
            let efficiency = ctx.volumetric_efficiency.map_or(0.85, crate::units::Fraction::as_ratio);
            let kg_m3_per_kpa = 1000.0 / (GAS_CONSTANT_AIR * ctx.air_temperature.as_k());
            1000.0 * efficiency * displacement.as_m3() / 120.0 * kg_m3_per_kpa
        });
        let share_of_g_s = ctx.rated_flow.map(|rated| 1.0 / rated.as_g_s()).filter(|s| s.is_finite());
        let share = match (g_s, share_of_g_s) {
            (Some(g_s), Some(share)) => g_s * share,
            // Without a setup: a share of 6000 rpm at 100 kPa.
            _ => 1.0 / (6000.0 * 100.0),
        };
        Self { g_s, share, share_of_g_s }
    }
}
