//! A pull as a session keeps it: its curves on the grid, its air and what was wrong with it, without its rows. What is
//! kept is as read; a correction is worked out again from the air, so that pulls of different days can be held against
//! each other by one standard.

use super::curve::Curve;
use super::peak::Peak;
use super::pull::{AirSource, Pull};
use super::remark::{Remark, RemarkKind};
use super::row::Row;
use crate::physics::air::MoistAir;
use crate::physics::correction::Standard;
use crate::setup::Weather;
use crate::units::{EngineSpeed, Power, Temperature, Torque, Vacuum};
use serde::{Deserialize, Serialize};

/// A pull, kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptPull {
    /// Rows it was read from.
    pub rows: u32,
    /// Its first line in the file.
    pub first_line: u64,
    /// Its last line.
    pub last_line: u64,
    /// Speed it began at.
    pub first_speed: Option<EngineSpeed>,
    /// The air it breathed, and where that was known from.
    pub air: Option<(Weather, AirSource)>,
    /// The standard it was corrected to when it was recorded.
    pub standard: Option<Standard>,
    /// The factor of that correction.
    pub factor: Option<f64>,
    /// Mean over the band that was judged by when it was recorded, corrected by that factor.
    pub mean: Option<KeptMean>,
    /// Torque peak as read.
    pub torque_peak: Option<KeptPeak<Torque>>,
    /// Power peak as read.
    pub power_peak: Option<KeptPeak<Power>>,
    /// Torque as read, on the grid.
    pub torque_n_m: KeptCurve,
    /// Lambda on the grid.
    pub lambda: Option<KeptCurve>,
    /// Fuel flow on the grid.
    pub fuel_flow_g_per_s: Option<KeptCurve>,
    /// Manifold vacuum on the grid.
    pub vacuum_pa: Option<KeptCurve>,
    /// Full-throttle vacuum at the top of the pull.
    pub top_vacuum: Option<Vacuum>,
    /// Oil at the start.
    pub oil: Option<Temperature>,
    /// Coolant at the start.
    pub coolant: Option<Temperature>,
    /// What was wrong with it.
    pub remarks: Vec<KeptRemark>,
}

/// A mean, and over which band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct KeptMean {
    /// Lower end of the band.
    pub low: EngineSpeed,
    /// Upper end.
    pub high: EngineSpeed,
    /// Mean torque.
    pub torque: Torque,
    /// Mean power.
    pub power: Power,
}

/// The top of a curve, as read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct KeptPeak<Q> {
    /// Height.
    pub value: Q,
    /// Its standard error within the pull.
    pub error: Q,
    /// Speed.
    pub speed: EngineSpeed,
    /// Its standard error.
    pub speed_error: EngineSpeed,
    /// The curve turned over inside the pull.
    pub passed: bool,
}

/// A curve on the grid; `null` where a hole is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptCurve {
    /// Number of the first grid speed: that speed over the step.
    pub first: i64,
    /// Distance between grid speeds.
    pub step: EngineSpeed,
    /// Values.
    pub values: Vec<Option<f64>>,
}

/// What was wrong with a pull, by its short name with its figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptRemark {
    /// Short name.
    pub kind: String,
    /// Its figures, in the order the remark has them.
    pub figures: Vec<f64>,
    /// First line of the file it holds for.
    pub first_line: u64,
    /// Last line.
    pub last_line: u64,
}

impl KeptPull {
    /// What is kept of a pull.
    pub fn of(pull: &Pull, standard: Option<Standard>, mean: Option<KeptMean>) -> KeptPull {
        let weather = |air: MoistAir| Weather {
            pressure: air.pressure(),
            temperature: air.temperature(),
            humidity: air.relative_humidity(),
        };
        KeptPull {
            rows: u32::try_from(pull.rows.len()).unwrap_or(u32::MAX),
            first_line: pull.rows.first().map_or(0, |r| r.line),
            last_line: pull.rows.last().map_or(0, |r| r.line),
            first_speed: pull.first_speed(),
            air: pull.air.map(|(air, source)| (weather(air), source)),
            standard: standard.filter(|_| pull.correction.is_some()),
            factor: pull.correction.map(|c| (c.factor * 1e8).round() / 1e8),
            mean,
            torque_peak: pull.torque_peak.map(|p| kept_peak(&p, Torque::from_n_m)),
            power_peak: pull.power_peak.map(|p| kept_peak(&p, Power::from_w)),
            torque_n_m: KeptCurve::of(&pull.torque, 3),
            lambda: pull.lambda.as_ref().map(|c| KeptCurve::of(c, 4)),
            fuel_flow_g_per_s: pull.fuel_flow.as_ref().map(|c| KeptCurve::of(c, 4)),
            vacuum_pa: pull.vacuum.as_ref().map(|c| KeptCurve::of(c, 0)),
            top_vacuum: pull.top_vacuum,
            oil: pull.oil,
            coolant: pull.coolant,
            remarks: pull.remarks.iter().filter_map(KeptRemark::of).collect(),
        }
    }

    /// The pull again, corrected to `standard`. Its rows are gone: there are as many as there were, and only the first
    /// and the last say anything.
    pub fn pull(&self, standard: Option<Standard>) -> Pull {
        let air = self.air.and_then(|(w, source)| Some((MoistAir::from_weather(&w).ok()?, source)));
        let mut rows = vec![Row::default(); (self.rows as usize).clamp(2, 100_000)];
        if let Some(first) = rows.first_mut() {
            (first.line, first.speed) = (self.first_line, self.first_speed);
        }
        if let Some(last) = rows.last_mut() {
            last.line = self.last_line;
        }
        Pull {
            rows,
            remarks: self.remarks.iter().filter_map(KeptRemark::remark).collect(),
            torque: self.torque_n_m.curve(),
            lambda: self.lambda.as_ref().map(KeptCurve::curve),
            fuel_flow: self.fuel_flow_g_per_s.as_ref().map(KeptCurve::curve),
            vacuum: self.vacuum_pa.as_ref().map(KeptCurve::curve),
            air,
            correction: standard.zip(air).map(|(s, (a, _))| s.correction(&a)),
            torque_peak: self.torque_peak.map(|p| peak(&p, Torque::as_n_m)),
            power_peak: self.power_peak.map(|p| peak(&p, Power::as_w)),
            top_vacuum: self.top_vacuum,
            oil: self.oil,
            coolant: self.coolant,
        }
    }

    /// Distance between the speeds of its curves.
    pub fn grid(&self) -> EngineSpeed {
        self.torque_n_m.step
    }

    /// A pull as it is read back: quantities are written to twelve digits.
    #[cfg(test)]
    pub(crate) fn specimen() -> KeptPull {
        let kept = KeptPull::of(&super::specimen::kept_example(), None, None);
        serde_json::from_str(&serde_json::to_string(&kept).expect("written")).expect("read")
    }
}

fn kept_peak<Q>(peak: &Peak, si: impl Fn(f64) -> Q) -> KeptPeak<Q> {
    KeptPeak {
        value: si(peak.value),
        error: si(peak.value_error),
        speed: EngineSpeed::from_rpm(peak.rpm),
        speed_error: EngineSpeed::from_rpm(peak.rpm_error),
        passed: peak.passed,
    }
}

fn peak<Q: Copy>(kept: &KeptPeak<Q>, si: impl Fn(Q) -> f64) -> Peak {
    Peak {
        value: si(kept.value),
        value_error: si(kept.error),
        rpm: kept.speed.as_rpm(),
        rpm_error: kept.speed_error.as_rpm(),
        passed: kept.passed,
    }
}

impl KeptCurve {
    fn of(curve: &Curve, decimals: i32) -> KeptCurve {
        let (first, last) = curve.range();
        let power = 10f64.powi(decimals);
        let round = |v: f64| (v * power).round() / power;
        KeptCurve {
            first,
            step: curve.step(),
            values: (first..=last).map(|k| curve.at(k).map(round)).collect(),
        }
    }

    fn curve(&self) -> Curve {
        Curve::on_grid(self.step, self.first, self.values.clone())
    }
}

impl KeptRemark {
    /// `None` for what is told afresh whenever pulls are put side by side.
    fn of(remark: &Remark) -> Option<KeptRemark> {
        let figures = match remark.kind {
            RemarkKind::CoastDown | RemarkKind::DownSweep | RemarkKind::Inconsistent => Vec::new(),
            RemarkKind::TooShort { span_rpm, rows } => vec![span_rpm, rows as f64],
            RemarkKind::Gap { seconds, from_rpm, to_rpm } => vec![seconds, from_rpm, to_rpm],
            RemarkKind::Slip { from_rpm, to_rpm } => vec![from_rpm, to_rpm],
            RemarkKind::OtherUnits { ratio, .. } | RemarkKind::OtherShaft { ratio } => vec![ratio],
            RemarkKind::UnlikeOthers { .. } => return None,
            RemarkKind::LambdaClimbs { by, starving } => vec![by, f64::from(u8::from(starving))],
            RemarkKind::BeyondLimit { lambda, limit, seconds, stop, .. } => {
                vec![lambda, limit, seconds, f64::from(u8::from(stop))]
            }
            RemarkKind::PressureFalls { by_psi } => vec![by_psi],
        };
        Some(KeptRemark {
            kind: remark.kind.name().to_owned(),
            figures,
            first_line: remark.first_line,
            last_line: remark.last_line,
        })
    }

    /// The remark again; `None` for a kind this version does not know.
    fn remark(&self) -> Option<Remark> {
        let kind = match (self.kind.as_str(), self.figures.as_slice()) {
            ("gap", &[seconds, from_rpm, to_rpm]) => RemarkKind::Gap { seconds, from_rpm, to_rpm },
            ("wheel-slip", &[from_rpm, to_rpm]) => RemarkKind::Slip { from_rpm, to_rpm },
            ("other-units", &[ratio]) => {
                RemarkKind::OtherUnits { ratio, looks_like: super::check::looks_like(ratio) }
            }
            ("other-shaft", &[ratio]) => RemarkKind::OtherShaft { ratio },
            ("inconsistent", _) => RemarkKind::Inconsistent,
            ("lambda-climbs", &[by, starving]) => RemarkKind::LambdaClimbs { by, starving: starving > 0.5 },
            (lean_or_rich @ ("too-lean" | "too-rich"), &[lambda, limit, seconds, stop]) => {
                let lean = lean_or_rich == "too-lean";
                RemarkKind::BeyondLimit { lambda, limit, seconds, lean, stop: stop > 0.5 }
            }
            ("fuel-pressure-falls", &[by_psi]) => RemarkKind::PressureFalls { by_psi },
            _ => return None,
        };
        Some(Remark { kind, first_line: self.first_line, last_line: self.last_line })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_kept_pull_comes_back_with_its_curve_its_air_and_its_faults() {
        let mut pull = super::super::specimen::kept_example();
        let kinds = [
            RemarkKind::Slip { from_rpm: 3000.0, to_rpm: 3300.0 },
            RemarkKind::OtherUnits { ratio: 1.341, looks_like: super::super::check::looks_like(1.341) },
            RemarkKind::Inconsistent,
            RemarkKind::LambdaClimbs { by: 0.05, starving: true },
            RemarkKind::BeyondLimit { lambda: 0.95, limit: 0.92, seconds: 1.5, lean: true, stop: true },
            RemarkKind::PressureFalls { by_psi: 1.5 },
            RemarkKind::Gap { seconds: 0.5, from_rpm: 2500.0, to_rpm: 2600.0 },
            RemarkKind::OtherShaft { ratio: 3.1 },
        ];
        pull.remarks = kinds.into_iter().map(|kind| Remark { kind, first_line: 12, last_line: 40 }).collect();
        let kept = KeptPull::of(&pull, Some(Standard::SaeJ1349), None);
        let text = serde_json::to_string(&kept).unwrap();
        let back: KeptPull = serde_json::from_str(&text).unwrap();
        assert_eq!(serde_json::to_string(&back).unwrap(), text, "read back, it is written the same");
        let again = back.pull(Some(Standard::SaeJ1349));
        assert_eq!(again.remarks, pull.remarks);
        assert_eq!(again.torque.range(), pull.torque.range());
        let (from, to) = pull.torque.range();
        assert_relative_eq!(
            again.torque.mean(from, to).unwrap(),
            pull.torque.mean(from, to).unwrap(),
            epsilon = 1e-3
        );
        assert_relative_eq!(again.factor(), pull.factor(), epsilon = 1e-6);
        assert!((again.factor() - 1.0).abs() > 1e-3, "the air of the example is not the standard's");
        assert_eq!(again.rows.len(), pull.rows.len());
        let first = |p: &Pull| p.first_speed().unwrap().as_rpm();
        assert_relative_eq!(first(&again), first(&pull), max_relative = 1e-9);
        assert_relative_eq!(
            again.power_peak.unwrap().value,
            pull.power_peak.unwrap().value,
            epsilon = 1e-6,
            max_relative = 1e-9
        );
        assert!(text.len() < 8000, "compact: {} bytes", text.len());
    }
}
