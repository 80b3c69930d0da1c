//! The gauges and the air as written.

use super::super::section::{Section, within};
use crate::setup::{Instruments, LambdaSensor, Weather};
use crate::units::{EngineSpeed, Fraction, Pressure, PressureDifference, Temperature, TimeSpan, Volume};

/// A dial gauge and a shop tachometer, for a setup that does not say: common practice.
pub(in crate::profile) const USUAL: Instruments = Instruments {
    vacuum_mark: PressureDifference::from_inhg(0.5),
    speed_step: EngineSpeed::from_rpm(10.0),
    lambda: None,
    fuel_pressure: false,
};

/// Reads the gauges.
pub(in crate::profile) fn instruments(s: Section<'_>) -> Option<Instruments> {
    let mark = within(
        PressureDifference::from_inhg(0.005),
        PressureDifference::from_inhg(5.0),
        "it is from one mark to the next",
    );
    let vacuum_mark = s.quantity("vacuum_mark", "0.5 inHg", &mark);
    let step =
        within(EngineSpeed::from_rpm(0.1), EngineSpeed::from_rpm(250.0), "it is the smallest step shown");
    let speed_step = s.quantity("speed_step", "10 rpm", &step);
    let lambda = s.section("lambda").map(lambda);
    let fuel_pressure = s.flag("fuel_pressure", false);
    s.end();
    Some(Instruments {
        vacuum_mark: vacuum_mark?,
        speed_step: speed_step?,
        lambda: match lambda {
            Some(read) => Some(read?),
            None => None,
        },
        fuel_pressure: fuel_pressure?,
    })
}

fn lambda(s: Section<'_>) -> Option<LambdaSensor> {
    let lag = within(TimeSpan::from_ms(5.0), TimeSpan::from_s(3.0), "wideband sensors take 50 to 100 ms");
    let time_constant = s.quantity("time_constant", "70 ms", &lag);
    let pipe = within(
        Volume::from_cc(20.0),
        Volume::from_l(60.0),
        "it is the exhaust between the ports and the sensor",
    );
    let pipe_volume = s.maybe_quantity("pipe_volume", "3 L", &pipe);
    let part = within(Fraction::from_percent(1.0), Fraction::from_percent(100.0), "half for one bank of two");
    let share_read = s.maybe_quantity("share_of_exhaust", "100 %", &part);
    let share_of_exhaust =
        if s.has("share_of_exhaust") { share_read } else { Some(Fraction::from_ratio(1.0)) };
    // Trust is the person's to give: left out, the sensor is a witness only.
    let trusted = s.flag("trusted", false);
    s.end();
    Some(LambdaSensor {
        time_constant: time_constant?,
        pipe_volume,
        share_of_exhaust: share_of_exhaust?,
        trusted: trusted?,
    })
}

/// Reads the air of the day.
pub(in crate::profile) fn weather(s: Section<'_>) -> Option<Weather> {
    let lowest_highest = within(
        Pressure::from_hpa(450.0),
        Pressure::from_hpa(1100.0),
        "station pressure, not reduced to sea level",
    );
    let pressure = s.quantity("pressure", "30.05 inHg", &lowest_highest);
    let bearable =
        within(Temperature::from_c(-50.0), Temperature::from_c(70.0), "the air the engine breathes");
    let temperature = s.quantity("temperature", "71 degF", &bearable);
    let share = within(Fraction::from_percent(0.0), Fraction::from_percent(100.0), "relative humidity");
    let humidity = s.quantity("humidity", "60 %", &share);
    s.end();
    Some(Weather { pressure: pressure?, temperature: temperature?, humidity: humidity? })
}
