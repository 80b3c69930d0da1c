//! Made-up pulls for the tests of this room.

use super::row::Row;
use crate::numeric::rng::Chance;
use crate::units::{EngineSpeed, TimeSpan, Torque};

/// How a made-up pull is run.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Specimen {
    pub(crate) from_rpm: f64,
    pub(crate) to_rpm: f64,
    pub(crate) seconds: f64,
    /// Everything is multiplied by this: effect, drift, pull-to-pull noise.
    pub(crate) strength: f64,
    /// Noise of one row, N m.
    pub(crate) row_noise: f64,
    pub(crate) start_s: f64,
}

impl Default for Specimen {
    fn default() -> Self {
        Self { from_rpm: 1800.0, to_rpm: 4300.0, seconds: 10.0, strength: 1.0, row_noise: 1.5, start_s: 0.0 }
    }
}

/// Torque of the skiff's engine, N m: 300 at 2400 rpm, about 257 (148 hp) at 4100.
pub(crate) fn torque(rpm: f64) -> f64 {
    300.0 - 43.0 * ((rpm - 2400.0) / 1700.0).powi(2)
}

impl Specimen {
    /// Twenty rows a second, rising.
    pub(crate) fn rows(self, chance: &mut Chance) -> Vec<Row> {
        let n = (self.seconds * 20.0) as u32;
        let row = |k: u32| {
            let part = f64::from(k) / f64::from(n - 1);
            let rpm = self.from_rpm + (self.to_rpm - self.from_rpm) * part;
            Row {
                line: u64::from(k) + 2,
                time: Some(TimeSpan::from_s(self.start_s + self.seconds * part)),
                speed: Some(EngineSpeed::from_rpm(rpm + 4.0 * chance.normal())),
                torque: Some(Torque::from_n_m(
                    torque(rpm) * self.strength + self.row_noise * chance.normal(),
                )),
                ..Row::default()
            }
        };
        (0..n).map(row).collect()
    }
}

/// A coast-down from `from` to `to` rpm.
pub(crate) fn coast(from: f64, to: f64, start_s: f64) -> Vec<Row> {
    let row = |k: u32| {
        let part = f64::from(k) / 79.0;
        Row {
            line: 500 + u64::from(k),
            time: Some(TimeSpan::from_s(start_s + 4.0 * part)),
            speed: Some(EngineSpeed::from_rpm(from + (to - from) * part)),
            torque: Some(Torque::from_n_m(-20.0)),
            ..Row::default()
        }
    };
    (0..80).map(row).collect()
}

/// A pull with air, corrected, for the tests of what is kept.
pub(crate) fn kept_example() -> super::pull::Pull {
    use crate::physics::air::{MoistAir, Moisture};
    let air = MoistAir::new(
        crate::units::Pressure::from_kpa(97.0),
        crate::units::Temperature::from_c(30.0),
        Moisture::Relative(crate::units::Fraction::from_percent(60.0)),
    );
    let how = super::pull::Reading {
        standard: Some(crate::physics::correction::Standard::SaeJ1349),
        air: Some(air.expect("an air")),
        ..super::pull::Reading::default()
    };
    let rows = Specimen::default().rows(&mut Chance::with_seed(5));
    super::pull::Pull::read(super::find::PullRows { rows, remarks: Vec::new() }, &how).expect("a pull")
}
