//! One row of a dyno file, whatever columns it has.

use crate::units::{
    EngineSpeed, Fraction, Lambda, MassFlow, Power, Pressure, PressureDifference, Temperature, TimeSpan,
    Torque, Vacuum, Velocity,
};

/// One row: what the file has, as read, nothing corrected.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Row {
    /// Line in the file, from 1.
    pub line: u64,
    /// Time by the file's clock.
    pub time: Option<TimeSpan>,
    /// Speed of the crankshaft.
    pub speed: Option<EngineSpeed>,
    /// Speed of the vehicle or of the roller's face.
    pub road_speed: Option<Velocity>,
    /// Torque.
    pub torque: Option<Torque>,
    /// Power.
    pub power: Option<Power>,
    /// Throttle opening.
    pub throttle: Option<Fraction>,
    /// Manifold vacuum.
    pub vacuum: Option<Vacuum>,
    /// Lambda.
    pub lambda: Option<Lambda>,
    /// Fuel flow.
    pub fuel_flow: Option<MassFlow>,
    /// Fuel pressure on a gauge.
    pub fuel_pressure: Option<PressureDifference>,
    /// Station pressure.
    pub barometer: Option<Pressure>,
    /// Air breathed.
    pub air_temperature: Option<Temperature>,
    /// Relative humidity.
    pub humidity: Option<Fraction>,
    /// Oil.
    pub oil: Option<Temperature>,
    /// Coolant or head.
    pub coolant: Option<Temperature>,
}

impl Row {
    /// Torque at the crankshaft: as read, else from power and speed.
    pub fn torque_n_m(&self) -> Option<f64> {
        let from_power = || {
            let speed = self.speed?.as_rad_s();
            (speed > 1.0).then(|| self.power.map(|p| p.as_w() / speed)).flatten()
        };
        self.torque.map(Torque::as_n_m).or_else(from_power)
    }

    pub(super) fn rpm(&self) -> Option<f64> {
        self.speed.map(EngineSpeed::as_rpm)
    }
}

/// Gearing: so much engine speed at so much road speed, for files without engine speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gearing {
    /// Engine speed.
    pub engine: EngineSpeed,
    /// Road speed it goes with, in the gear the pull is made in.
    pub road: Velocity,
}

/// Where the engine speed came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpeedSource {
    /// The file has it.
    Read,
    /// Power divided by torque.
    PowerOverTorque,
    /// Road speed and gearing.
    Gearing,
}

/// Why a file's rows cannot be made into pulls.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RowsError {
    /// Neither torque nor power.
    #[error("no torque and no power column; a pull needs one of torque_nm, torque_lbfft, power_kw, power_hp")]
    NoTorque,
    /// No engine speed, and nothing to work it out from.
    #[error(
        "no engine speed; a pull needs an rpm column, or torque and power together, or a road speed and its gearing \
         (--gearing \"3500 rpm at 65 mph\")"
    )]
    NoSpeed,
}

/// Gives every row an engine speed where it can be worked out, and says from what.
pub fn with_speed(rows: &mut [Row], gearing: Option<Gearing>) -> Result<SpeedSource, RowsError> {
    if !rows.iter().any(|r| r.torque.is_some() || r.power.is_some()) {
        return Err(RowsError::NoTorque);
    }
    if rows.iter().any(|r| r.speed.is_some()) {
        return Ok(SpeedSource::Read);
    }
    if rows.iter().any(|r| r.torque.is_some() && r.power.is_some()) {
        for r in rows.iter_mut() {
            if let (Some(t), Some(p)) = (r.torque, r.power)
                && t.as_n_m() > 1.0
            {
                r.speed = Some(EngineSpeed::from_rad_s(p.as_w() / t.as_n_m()));
            }
        }
        return Ok(SpeedSource::PowerOverTorque);
    }
    let gearing = gearing.filter(|g| g.road.as_m_s() > 0.0).ok_or(RowsError::NoSpeed)?;
    if !rows.iter().any(|r| r.road_speed.is_some()) {
        return Err(RowsError::NoSpeed);
    }
    for r in rows.iter_mut() {
        r.speed = r.road_speed.map(|v| gearing.engine * (v / gearing.road));
    }
    Ok(SpeedSource::Gearing)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn speed_is_read_else_worked_out_else_asked_for() {
        let torque = Some(Torque::from_lbf_ft(300.0));
        let mut rows = [Row { torque, power: Some(Power::from_hp(300.0)), ..Row::default() }];
        assert_eq!(with_speed(&mut rows, None), Ok(SpeedSource::PowerOverTorque));
        assert_relative_eq!(rows[0].rpm().unwrap(), 5252.1, epsilon = 0.1);

        let mut rows = [Row { torque, road_speed: Some(Velocity::from_mph(80.0)), ..Row::default() }];
        assert_eq!(with_speed(&mut rows, None), Err(RowsError::NoSpeed));
        let gearing = Gearing { engine: EngineSpeed::from_rpm(3500.0), road: Velocity::from_mph(70.0) };
        assert_eq!(with_speed(&mut rows, Some(gearing)), Ok(SpeedSource::Gearing));
        assert_relative_eq!(rows[0].rpm().unwrap(), 4000.0, epsilon = 1e-6);

        let mut rows = [Row { speed: Some(EngineSpeed::from_rpm(3000.0)), ..Row::default() }];
        assert_eq!(with_speed(&mut rows, None), Err(RowsError::NoTorque));
    }
}
