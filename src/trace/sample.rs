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

#[cfg(test)]
mod tests {
    use super::super::LoggerProfile;
    use super::super::rows::tests::{layout, used};
    use super::*;
    use crate::units::{Fraction, MassFlow, Pressure, TimeSpan, Volume};
    use approx::assert_relative_eq;

    fn ctx() -> TraceContext {
        TraceContext {
            barometer: Pressure::from_kpa(100.0),
            ..TraceContext::bare(&LoggerProfile::standard())
        }
    }

    fn sampler(channels: &[Channel], ctx: &TraceContext) -> Sampler {
        let used = channels.iter().enumerate().map(|(index, channel)| used(index, *channel)).collect();
        Sampler::new(&Layout { used, ..layout(&[]) }, ctx)
    }

    #[test]
    fn each_channel_goes_to_its_place() {
        let channels = [
            Channel::Time,
            Channel::Speed,
            Channel::Throttle,
            Channel::Lambda,
            Channel::Lambda2,
            Channel::Coolant,
            Channel::FuelPressure,
            Channel::AirFlow,
            Channel::IntakeAir,
            Channel::Lateral,
            Channel::Longitudinal,
            Channel::Tilt,
        ];
        let row: Vec<f64> = (1..=12).map(f64::from).collect();
        let mut sampler = sampler(&channels, &ctx());
        assert_relative_eq!(sampler.logged_time(&row), 1.0);
        let s = sampler.sample(&row, 64.0);
        let read =
            [s.t_s, s.speed_rpm, s.throttle_pct, s.lambda, s.lambda_2, s.coolant_c, s.fuel_pressure_kpa];
        assert_eq!(read, [64.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]);
        assert_eq!(s.meter_g_s, 8.0);
        let aside = [s.aside.air_c, s.aside.lateral_g, s.aside.longitudinal_g, s.aside.tilt_deg];
        assert_eq!(aside, [9.0, 10.0, 11.0, 12.0]);
        assert!(s.aside.moves() && s.vacuum_inhg.is_nan() && s.manifold_kpa.is_nan());
        assert!(sampler.has(Channel::Tilt) && !sampler.has(Channel::Manifold));
    }

    #[test]
    fn one_acceleration_or_a_slope_is_enough_to_be_watched() {
        let moves = |channel| sampler(&[channel], &ctx()).sample(&[0.1], 0.0).aside.moves();
        assert!(moves(Channel::Lateral) && moves(Channel::Longitudinal) && moves(Channel::Tilt));
        assert!(!moves(Channel::IntakeAir) && !moves(Channel::Speed));
        assert_eq!(sampler(&[Channel::IntakeAir], &ctx()).sample(&[21.5], 0.0).aside.air_c, 21.5);
    }

    #[test]
    fn vacuum_and_manifold_pressure_make_up_for_each_other() {
        let both = |channels: &[Channel], row: &[f64]| {
            let s = sampler(channels, &ctx()).sample(row, 0.0);
            (s.vacuum_inhg, s.manifold_kpa)
        };
        let (vacuum, manifold) = both(&[Channel::Manifold], &[66.136_11]);
        assert_relative_eq!(vacuum, 10.0, epsilon = 1e-6);
        assert_eq!(manifold, 66.136_11);
        let (vacuum, manifold) = both(&[Channel::Vacuum], &[10.0]);
        assert_relative_eq!(manifold, 66.136_11, epsilon = 1e-6);
        assert_eq!(vacuum, 10.0);
        assert_eq!(both(&[Channel::Vacuum, Channel::Manifold], &[9.0, 70.0]), (9.0, 70.0));
        // The barometer's last reading holds until the next.
        let mut logged = sampler(&[Channel::Manifold, Channel::Barometer], &ctx());
        for baro in [90.0, f64::NAN] {
            assert_relative_eq!(logged.sample(&[56.136_11, baro], 0.0).vacuum_inhg, 10.0, epsilon = 1e-6);
        }
    }

    #[test]
    fn time_is_counted_only_where_none_is_logged() {
        let mut counted = ctx();
        counted.logger.period = Some(TimeSpan::from_ms(10.0));
        let times = |channel, ctx: &TraceContext| {
            let mut sampler = sampler(&[channel], ctx);
            [7.0, 7.5, 8.0].map(|cell| sampler.logged_time(&[cell]))
        };
        assert_eq!(times(Channel::Speed, &counted), [0.0, 0.01, 0.02]);
        assert_eq!(times(Channel::Time, &counted), [7.0, 7.5, 8.0]);
        assert!(times(Channel::Speed, &ctx()).iter().all(|t| t.is_nan()));
    }

    #[test]
    fn speed_density_in_figures() {
        let bare = Pumping::of(&ctx());
        assert_eq!((bare.g_s, bare.share_of_g_s), (None, None));
        assert_relative_eq!(bare.share * 3000.0 * 50.0, 0.25, epsilon = 1e-12);
        let known = TraceContext {
            displacement: Some(Volume::from_cc(1600.0)),
            volumetric_efficiency: Some(Fraction::from_percent(90.0)),
            ..ctx()
        };
        // 1.6 litres every two turns, 0.9 filled with air of 1.168 kg/m3: 42.1 g/s at 3000 rpm.
        let unrated = Pumping::of(&known);
        assert_relative_eq!(unrated.g_s.unwrap() * 3000.0 * 100.0, 42.06, epsilon = 0.01);
        assert_eq!(unrated.share, bare.share);
        let rated = Pumping::of(&TraceContext { rated_flow: Some(MassFlow::from_g_s(84.12)), ..known });
        assert_relative_eq!(rated.share * 3000.0 * 100.0, 0.5, epsilon = 1e-3);
        assert_relative_eq!(rated.share_of_g_s.unwrap() * 42.06, 0.5, epsilon = 1e-9);
        let s = super::super::segment::tests::row(0.0, 3000.0, 0.0, 0.0);
        assert_relative_eq!(s.pumping(), 3000.0 * 101.3, epsilon = 1e-6);
    }
}
