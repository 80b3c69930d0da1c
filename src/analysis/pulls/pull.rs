//! One pull, read: its curves, its air, its peaks, and whether it may be held against others.

use super::check;
use super::curve::{Curve, Smoothing};
use super::find::PullRows;
use super::peak::{Peak, at_the_top, peak};
use super::remark::Remark;
use super::row::Row;
use super::throttle::SizeVerdict;
use crate::numeric::robust;
use crate::physics::air::{MoistAir, Moisture};
use crate::physics::correction::{Correction, Standard};
use crate::units::{EngineSpeed, Fraction, Lambda, MassFlow, Pressure, Temperature, Vacuum};

/// How pulls are to be read.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Smoothing and grid.
    pub smoothing: Smoothing,
    /// Standard to correct to; `None` leaves the figures as read.
    pub standard: Option<Standard>,
    /// The air of a pull whose file does not have its own.
    pub air: Option<MoistAir>,
}

/// Where a pull's air comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AirSource {
    /// Pressure, temperature and humidity columns of the file.
    File,
    /// Pressure and temperature columns; the humidity was given beside it.
    FileAndGiven,
    /// Pressure and temperature columns; no humidity is known, and it is taken as dry.
    FileDry,
    /// Given beside the file.
    Given,
}

impl AirSource {
    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            AirSource::File => "file",
            AirSource::FileAndGiven => "file-and-given-humidity",
            AirSource::FileDry => "file-humidity-taken-as-dry",
            AirSource::Given => "given",
        }
    }
}

/// A pull.
#[derive(Debug, Clone, PartialEq)]
pub struct Pull {
    /// Rows as read, slipping ones left out.
    pub rows: Vec<Row>,
    /// What is wrong with it.
    pub remarks: Vec<Remark>,
    /// Torque as read (N m), smoothed, on the grid.
    pub torque: Curve,
    /// Lambda, smoothed.
    pub lambda: Option<Curve>,
    /// Fuel flow (g/s), smoothed.
    pub fuel_flow: Option<Curve>,
    /// Manifold vacuum (Pa), smoothed.
    pub vacuum: Option<Curve>,
    /// The air it breathed.
    pub air: Option<(MoistAir, AirSource)>,
    /// The correction to the standard asked for.
    pub correction: Option<Correction>,
    /// Torque peak as read, N m.
    pub torque_peak: Option<Peak>,
    /// Power peak as read, W.
    pub power_peak: Option<Peak>,
    /// Full-throttle vacuum at the top of the pull.
    pub top_vacuum: Option<Vacuum>,
    /// Oil at the start.
    pub oil: Option<Temperature>,
    /// Coolant at the start.
    pub coolant: Option<Temperature>,
}

/// Watts of N m at rpm.
pub(super) fn watts(torque_n_m: f64, rpm: f64) -> f64 {
    torque_n_m * EngineSpeed::from_rpm(rpm).as_rad_s()
}

impl Pull {
    /// Reads a pull; `None` when no curve comes of its rows.
    pub fn read(found: PullRows, how: &Reading) -> Option<Pull> {
        let PullRows { mut rows, mut remarks } = found;
        let (units, other_shaft) = check::units(&rows);
        remarks.extend(units);
        if other_shaft {
            for r in &mut rows {
                r.torque = None;
            }
        }
        let torque = Curve::of(&rows, how.smoothing, Row::torque_n_m)?;
        let points: Vec<(f64, f64)> = torque.points().map(|(_, x, y)| (x, y)).collect();
        let powers: Vec<(f64, f64)> = points.iter().map(|(x, y)| (*x, watts(*y, *x))).collect();
        let torque_peak = peak(&rows, &points, Row::torque_n_m);
        let power_peak = peak(&rows, &powers, |r| Some(watts(r.torque_n_m()?, r.rpm()?)));
        remarks.extend(check::supply(&rows, torque_peak.map(|p| p.rpm)));
        let air = air_of(&rows, how.air);
        let start = |f: &dyn Fn(&Row) -> Option<Temperature>| {
            check::start(&rows, |r| f(r).map(Temperature::as_k)).map(Temperature::from_k)
        };
        Some(Pull {
            lambda: Curve::of(&rows, how.smoothing, |r| r.lambda.map(Lambda::as_ratio)),
            fuel_flow: Curve::of(&rows, how.smoothing, |r| r.fuel_flow.map(MassFlow::as_g_s)),
            vacuum: Curve::of(&rows, how.smoothing, |r| r.vacuum.map(Vacuum::as_pa)),
            top_vacuum: at_the_top(&rows, |r| r.vacuum.map(Vacuum::as_pa)).map(Vacuum::from_pa),
            oil: start(&|r| r.oil),
            coolant: start(&|r| r.coolant),
            correction: how.standard.zip(air).map(|(s, (a, _))| s.correction(&a)),
            torque,
            air,
            torque_peak,
            power_peak,
            rows,
            remarks,
        })
    }

    /// What figures as read are multiplied by; 1 when they are left as read.
    pub fn factor(&self) -> f64 {
        self.correction.map_or(1.0, |c| c.factor)
    }

    /// What its full-throttle vacuum says of the carburetor's size.
    pub fn size_verdict(&self) -> Option<SizeVerdict> {
        self.top_vacuum.map(SizeVerdict::of)
    }

    /// The first remark that bars it from being held against others.
    pub fn barred(&self) -> Option<&Remark> {
        self.remarks.iter().find(|r| r.kind.bars_comparison())
    }

    /// Its figures are in the units they claim, as far as can be told.
    pub fn figures_hold(&self) -> bool {
        !self.remarks.iter().any(|r| r.kind.spoils_figures())
    }

    /// Its correction is outside the conditions its standard asks for.
    pub fn out_of_range(&self) -> bool {
        self.correction.is_some_and(|c| !c.in_range)
    }

    /// Corrected torque at a grid speed, N m.
    pub fn torque_at(&self, index: i64) -> Option<f64> {
        Some(self.torque.at(index)? * self.factor())
    }

    /// Corrected power at a grid speed, W.
    pub fn power_at(&self, index: i64) -> Option<f64> {
        Some(watts(self.torque_at(index)?, self.torque.speed(index).as_rpm()))
    }

    /// Brake-specific fuel consumption at a grid speed, g/kWh: of the power as read, never of the corrected one.
    pub fn bsfc_at(&self, index: i64) -> Option<f64> {
        let kilowatts = watts(self.torque.at(index)?, self.torque.speed(index).as_rpm()) / 1e3;
        let grams_an_hour = self.fuel_flow.as_ref()?.at(index)? * 3600.0;
        (kilowatts > 0.1).then_some(grams_an_hour / kilowatts)
    }

    /// Speed its full-throttle part began at.
    pub fn first_speed(&self) -> Option<EngineSpeed> {
        self.rows.first().and_then(|r| r.speed)
    }
}

/// The air of a pull: its own columns first, then what was given.
fn air_of(rows: &[Row], given: Option<MoistAir>) -> Option<(MoistAir, AirSource)> {
    let middle =
        |f: &dyn Fn(&Row) -> Option<f64>| robust::median(&mut rows.iter().filter_map(f).collect::<Vec<_>>());
    let own = middle(&|r| r.barometer.map(Pressure::as_pa))
        .zip(middle(&|r| r.air_temperature.map(Temperature::as_k)));
    let from_given = given.map(|a| (a, AirSource::Given));
    let Some((pressure, temperature)) = own else { return from_given };
    let (moisture, source) = match (middle(&|r| r.humidity.map(Fraction::as_ratio)), given) {
        (Some(h), _) => (Moisture::Relative(Fraction::from_ratio(h.clamp(0.0, 1.0))), AirSource::File),
        (None, Some(g)) => (Moisture::Relative(g.relative_humidity()), AirSource::FileAndGiven),
        (None, None) => (Moisture::Dry, AirSource::FileDry),
    };
    let air = MoistAir::new(Pressure::from_pa(pressure), Temperature::from_k(temperature), moisture);
    air.ok().map(|a| (a, source)).or(from_given)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Torque;
    use approx::assert_relative_eq;

    fn rows(with: impl Fn(f64) -> Row) -> PullRows {
        let rows = (0..200).map(|k| {
            let rpm = 2000.0 + 10.0 * f64::from(k);
            Row { speed: Some(EngineSpeed::from_rpm(rpm)), ..with(rpm) }
        });
        PullRows { rows: rows.collect(), remarks: Vec::new() }
    }

    fn flat(_rpm: f64) -> Row {
        Row { torque: Some(Torque::from_n_m(200.0)), ..Row::default() }
    }

    #[test]
    fn raw_is_kept_and_the_factor_is_stated() {
        let air = MoistAir::new(
            "28.85 inHg".parse().unwrap(),
            "85F".parse().unwrap(),
            Moisture::Relative("85%".parse().unwrap()),
        );
        let how =
            Reading { standard: Some(Standard::SaeJ607), air: Some(air.unwrap()), ..Reading::default() };
        let pull = Pull::read(rows(flat), &how).unwrap();
        // published: 1.1005 (trade article of 20 July 2020, from these readings)
        assert_relative_eq!(pull.factor(), 1.1005, epsilon = 1e-3);
        assert!(pull.out_of_range(), "beyond 1.07");
        assert_relative_eq!(pull.torque.at(60).unwrap(), 200.0, epsilon = 1e-6);
        assert_relative_eq!(pull.torque_at(60).unwrap(), 200.0 * pull.factor(), epsilon = 1e-6);
    }

    #[test]
    fn its_own_air_wins_over_the_given_one() {
        let given =
            MoistAir::new(Pressure::from_kpa(95.0), Temperature::from_c(10.0), Moisture::Dry).unwrap();
        let own = |_: f64| Row {
            barometer: Some(Pressure::from_kpa(99.0)),
            air_temperature: Some(Temperature::from_c(25.0)),
            ..flat(0.0)
        };
        let how = Reading { standard: Some(Standard::SaeJ1349), air: Some(given), ..Reading::default() };
        let pull = Pull::read(rows(own), &how).unwrap();
        assert_eq!(pull.air.unwrap().1, AirSource::FileAndGiven);
        assert_relative_eq!(pull.factor(), 1.0, epsilon = 1e-3);
        let alone = Pull::read(rows(own), &Reading { air: None, ..how }).unwrap();
        assert_eq!(alone.air.unwrap().1, AirSource::FileDry);
    }

    #[test]
    fn consumption_is_of_the_power_as_read() {
        // 200 N m at 3000 rpm is 62.83 kW; 5 g/s is 18 kg/h: 286.5 g/kWh
        let burning = |_: f64| Row { fuel_flow: Some(MassFlow::from_g_s(5.0)), ..flat(0.0) };
        let air = MoistAir::new(Pressure::from_kpa(95.0), Temperature::from_c(30.0), Moisture::Dry).unwrap();
        let how = Reading { standard: Some(Standard::SaeJ1349), air: Some(air), ..Reading::default() };
        let pull = Pull::read(rows(burning), &how).unwrap();
        assert!(pull.factor() > 1.02);
        assert_relative_eq!(pull.bsfc_at(60).unwrap(), 286.5, epsilon = 0.1);
    }

    #[test]
    fn torque_at_the_wheels_gives_way_to_power() {
        let geared = |rpm: f64| Row {
            torque: Some(Torque::from_n_m(800.0)),
            power: Some(Torque::from_n_m(200.0) * EngineSpeed::from_rpm(rpm)),
            ..Row::default()
        };
        let pull = Pull::read(rows(geared), &Reading::default()).unwrap();
        assert_relative_eq!(pull.torque.at(60).unwrap(), 200.0, epsilon = 1e-6);
        assert!(pull.barred().is_none());
    }
}
