//! How late lambda is: waiting for the exhaust stroke, transport through the pipe, the sensor's own lag.
//!
//! The pipe's part falls as one over the flow: one figure for a whole log would be wrong by a factor of six between
//! idle and full throttle. Flow is speed times manifold pressure here, which needs no displacement.

use super::context::TraceContext;
use super::sample::{Pumping, Sample};
use crate::units::TimeSpan;
use serde::{Deserialize, Serialize};

/// Where a delay came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DelaySource {
    /// Typical figures for an engine of any size.
    Typical,
    /// The setup's exhaust volume and sensor.
    Setup,
    /// The log's own transients.
    Fitted,
}

/// The delay that was taken out, and how well it is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DelayUsed {
    /// Where it came from.
    pub source: DelaySource,
    /// At this engine's idle.
    pub at_idle: TimeSpan,
    /// At a usual cruise: 2200 rpm, half the air.
    pub at_cruise: TimeSpan,
    /// At full throttle and 4000 rpm.
    pub at_full_throttle: TimeSpan,
    /// One standard deviation of the delay at cruise.
    pub uncertainty: TimeSpan,
    /// Transients it was fitted from; 0 when it was not.
    pub transients: u64,
    /// Rows it was used on.
    pub rows: u64,
}

impl DelayUsed {
    /// An order in which to choose one of several.
    pub(super) fn rank(&self, other: &Self) -> std::cmp::Ordering {
        (self.rows, self.source, self.transients)
            .cmp(&(other.rows, other.source, other.transients))
            .then(self.at_cruise.total_cmp(&other.at_cruise))
            .then(self.at_idle.total_cmp(&other.at_idle))
            .then(self.at_full_throttle.total_cmp(&other.at_full_throttle))
            .then(self.uncertainty.total_cmp(&other.uncertainty))
    }
}

/// Waiting for the exhaust stroke: three quarters of two turns (geometry), in seconds times rpm.
const WAIT_RPM_S: f64 = 90.0;
/// Density of exhaust between port and sensor, kg/m3: near 750 K (from memory of usual exhaust temperatures).
const EXHAUST_KG_M3: f64 = 0.47;
/// Exhaust per air: one part of fuel to about fourteen of air.
const EXHAUST_PER_AIR: f64 = 1.07;
/// Transport for an engine of any size, in rpm kPa s: a pipe about as large as the engine (common practice).
const TYPICAL_PIPE: f64 = 12_000.0;
/// A log slower than this cannot show a delay.
const LONGEST_S: f64 = 2.0;

/// Delay as a function of speed and flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DelayModel {
    pub(super) source: DelaySource,
    /// Sensor and logger, s.
    pub(super) lag_s: f64,
    /// Beyond lag and stroke, s: only a fit finds it.
    pub(super) extra_s: f64,
    /// Transport, rpm kPa s.
    pub(super) pipe: f64,
    /// Standard deviation of the transport.
    pub(super) pipe_sd: f64,
    /// Standard deviation of the whole where the pipe counts as at `pivot`.
    pub(super) extra_sd_s: f64,
    /// One over the flow at which a fitted delay is known best; its transport and the rest err against each other.
    pub(super) pivot: f64,
    /// Standard deviation of the transport that no number of answers takes away.
    pub(super) plug_sd: f64,
    pub(super) transients: u64,
}

impl DelayModel {
    /// From the setup when it knows the pipe, else typical.
    pub(super) fn prior(ctx: &TraceContext, pumping: &Pumping) -> Self {
        let column_lag: f64 = ctx
            .logger
            .columns
            .iter()
            .filter(|c| c.channel == super::Channel::Lambda)
            .find_map(|c| c.lag)
            .map_or(0.0, TimeSpan::as_s);
        let lag_s = ctx.sensor_lag.as_s() + column_lag;
        let base = Self {
            source: DelaySource::Typical,
            lag_s,
            extra_s: 0.0,
            pipe: TYPICAL_PIPE,
            pipe_sd: 0.4 * TYPICAL_PIPE,
            extra_sd_s: 0.05,
            pivot: 0.0,
            plug_sd: 0.0,
            transients: 0,
        };
        let share = ctx.share_of_exhaust.as_ratio();
        match (ctx.pipe_volume, pumping.g_s) {
            (Some(volume), Some(g_s)) if share > 0.0 => {
                let grams = 1000.0 * volume.as_m3() * EXHAUST_KG_M3;
                let pipe = grams / (share * EXHAUST_PER_AIR * g_s);
                Self { source: DelaySource::Setup, pipe, pipe_sd: 0.2 * pipe, extra_sd_s: 0.03, ..base }
            }
            _ => base,
        }
    }

    /// Transport alone, without the sensor's lag: when a change first shows.
    pub(super) fn onset_s(&self, speed_rpm: f64, pumping: f64) -> f64 {
        WAIT_RPM_S / speed_rpm.max(100.0) + self.extra_s + self.pipe / pumping.max(1000.0)
    }

    /// The whole delay of a row.
    #[inline]
    pub(super) fn at(&self, s: &Sample) -> f64 {
        let pumping = s.pumping();
        // Without a manifold reading: between idle and full load.
        let pumping = if pumping.is_nan() { 60.0 * s.speed_rpm } else { pumping };
        let pumping = pumping.max(1000.0);
        // One division for both: 90 / speed is 90 * manifold / pumping.
        let inverse = 1.0 / pumping;
        let wait = if s.manifold_kpa.is_nan() {
            WAIT_RPM_S / s.speed_rpm
        } else {
            WAIT_RPM_S * s.manifold_kpa * inverse
        };
        let delay = self.lag_s + self.extra_s + wait + self.pipe * inverse;
        if delay < LONGEST_S { delay } else { LONGEST_S }
    }

    /// As it is told.
    pub(super) fn told(&self, idle_rpm: f64, idle_kpa: f64, rows: u64) -> DelayUsed {
        let at =
            |rpm: f64, kpa: f64| TimeSpan::from_s((self.lag_s + self.onset_s(rpm, rpm * kpa)).min(LONGEST_S));
        let cruise = 1.0 / (2200.0 * 50.0);
        let parts = [self.extra_sd_s, self.pipe_sd * (cruise - self.pivot), self.plug_sd * cruise];
        DelayUsed {
            source: self.source,
            at_idle: at(idle_rpm, idle_kpa),
            at_cruise: at(2200.0, 50.0),
            at_full_throttle: at(4000.0, 98.0),
            uncertainty: TimeSpan::from_s(parts.iter().map(|p| p * p).sum::<f64>().sqrt()),
            transients: self.transients,
            rows,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::segment::tests::row;
    use super::super::{Channel, ColumnMap, LoggerProfile};
    use super::*;
    use crate::units::{Fraction, Volume};
    use approx::assert_relative_eq;

    fn prior(change: impl FnOnce(&mut TraceContext)) -> DelayModel {
        let mut ctx = TraceContext::bare(&LoggerProfile::standard());
        change(&mut ctx);
        DelayModel::prior(&ctx, &Pumping::of(&ctx))
    }

    /// 1.6 litres, 0.85 filled with air of 25 C: 39.7 g/s at 3000 rpm and 100 kPa.
    fn known(ctx: &mut TraceContext) {
        ctx.displacement = Some(Volume::from_cc(1600.0));
        ctx.pipe_volume = Some(Volume::from_cc(2000.0));
    }

    #[test]
    fn wait_transport_and_lag_add_up_at_each_flow() {
        // lag 0.07 s; 90 / rpm; 12 000 / (rpm * kPa)
        let told = prior(|_| ()).told(800.0, 40.0, 77);
        assert_relative_eq!(told.at_idle.as_s(), 0.07 + 0.1125 + 0.375, epsilon = 1e-9);
        assert_relative_eq!(told.at_cruise.as_s(), 0.07 + 0.040_909 + 0.109_091, epsilon = 1e-5);
        assert_relative_eq!(told.at_full_throttle.as_s(), 0.07 + 0.0225 + 0.030_612, epsilon = 1e-5);
        // 0.05 s and 0.4 of the transport at cruise, not knowing one of the other.
        assert_relative_eq!(told.uncertainty.as_s(), 0.05f64.hypot(0.043_636), epsilon = 1e-5);
        assert_eq!((told.source, told.transients, told.rows), (DelaySource::Typical, 0, 77));
        assert_eq!(prior(|_| ()).told(60.0, 40.0, 0).at_idle.as_s(), 2.0, "no longer than two seconds");
        // Away from the flow it was fitted at, a fit is known less well; the plug's part stays.
        let fit = DelayModel { extra_s: 0.02, pivot: 1.0 / 60_000.0, plug_sd: 2_200.0, ..prior(|_| ()) };
        let told = fit.told(800.0, 40.0, 0);
        assert_relative_eq!(told.at_cruise.as_s(), 0.24, epsilon = 1e-5);
        let parts = [0.05f64, 4800.0 * (1.0 / 60_000.0 - 1.0 / 110_000.0), 0.02];
        assert_relative_eq!(
            told.uncertainty.as_s(),
            parts.iter().map(|p| p.powi(2)).sum::<f64>().sqrt(),
            epsilon = 1e-9
        );
    }

    #[test]
    fn a_row_is_late_by_what_is_told() {
        let model = DelayModel { extra_s: 0.03, ..prior(|_| ()) };
        for (speed, vacuum) in [(800.0, 18.0), (2200.0, 14.0), (4000.0, 1.0)] {
            let s = row(1.0, speed, vacuum, 20.0);
            let told = model.told(speed, s.manifold_kpa, 0).at_idle.as_s();
            assert_relative_eq!(model.at(&s), told, epsilon = 1e-12);
        }
        // Without a manifold reading as at 60 kPa.
        let blind = row(1.0, 2000.0, f64::NAN, 20.0);
        assert_relative_eq!(model.at(&blind), 0.07 + 0.03 + 0.045 + 0.1, epsilon = 1e-12);
        assert_eq!(model.at(&row(1.0, 0.0, 0.0, 0.0)), 2.0, "an engine that stands");
        assert_relative_eq!(model.at(&row(1.0, 60.0, 0.0, 0.0)), 2.0, epsilon = 1e-12);
    }

    #[test]
    fn a_pipe_that_is_known_sets_the_transport() {
        let typical = prior(|_| ());
        // 2 litres of exhaust at 0.47 kg/m3, and 1.07 times 0.1324 mg/s of air for each rpm and kPa.
        let setup = prior(known);
        assert_eq!((typical.source, setup.source), (DelaySource::Typical, DelaySource::Setup));
        assert_relative_eq!(setup.pipe, 6634.0, epsilon = 2.0);
        assert_relative_eq!(setup.pipe_sd / setup.pipe, 0.2, epsilon = 1e-9);
        assert!(setup.extra_sd_s < typical.extra_sd_s);
        let half = prior(|ctx| {
            known(ctx);
            ctx.share_of_exhaust = Fraction::from_ratio(0.5);
        });
        assert_relative_eq!(half.pipe, 2.0 * setup.pipe, epsilon = 1e-6);
        for lost in [
            (|ctx| ctx.pipe_volume = None) as fn(&mut TraceContext),
            |ctx| ctx.displacement = None,
            |ctx| ctx.share_of_exhaust = Fraction::from_ratio(0.0),
        ] {
            let model = prior(|ctx| {
                known(ctx);
                lost(ctx);
            });
            assert_eq!(model, typical);
        }
    }

    #[test]
    fn a_loggers_own_filter_is_added_to_the_sensors() {
        let column = |channel, lag| ColumnMap {
            channel,
            lag: Some(TimeSpan::from_ms(lag)),
            ..LoggerProfile::standard().columns[0].clone()
        };
        let model = prior(|ctx| {
            ctx.logger.columns = vec![column(Channel::Speed, 500.0), column(Channel::Lambda, 40.0)];
        });
        assert_relative_eq!(model.lag_s, 0.11, epsilon = 1e-12);
    }
}
