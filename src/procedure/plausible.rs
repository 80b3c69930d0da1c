//! What makes an answer surprising. A surprising answer is questioned once; stood by, it is believed and marked.

use super::state::State;
use crate::rules::balance::Reading;
use crate::units::show::Shown;
use crate::units::{
    EngineSpeed, Fraction, Length, Pressure, PressureDifference, Temperature, Turns, Vacuum, Volume,
};

/// What is surprising about a reading of the gauges, in words; `None` when nothing is.
pub(super) fn reading(state: &State, reading: &Reading) -> Option<String> {
    let system = state.system;
    let barometer = state.setup.weather.map_or(Pressure::from_kpa(101.325), |w| w.pressure);
    if reading.vacuum > Vacuum::below(barometer, Pressure::ZERO).plus(PressureDifference::from_inhg(-2.0)) {
        return Some(format!("{} is more vacuum than the air outside allows.", reading.vacuum.show(system)));
    }
    if reading.vacuum.as_pa() < 0.0 {
        return Some("A vacuum below zero would be boost.".to_owned());
    }
    if reading.has_stopped() {
        return Some(
            "That is an engine that has stopped: start it again, then read. Where it will not keep running, give the same again."
                .to_owned(),
        );
    }
    if let Some(speed) = reading.speed
        && let Some(odd) = self::speed(speed)
    {
        return Some(odd);
    }
    if let Some(lambda) = reading.lambda
        && !(0.5..=1.8).contains(&lambda.as_ratio())
    {
        return Some(format!(
            "Lambda {:.2} is outside what such sensors show; an air-fuel ratio, perhaps?",
            lambda.as_ratio()
        ));
    }
    let last = state.idle_readings.last()?;
    let jump = (reading.vacuum.as_inhg() - last.reading.vacuum.as_inhg()).abs();
    (jump > 6.0).then(|| {
        format!(
            "{} is a long way from the {} read before.",
            reading.vacuum.show(system),
            last.reading.vacuum.show(system)
        )
    })
}

pub(super) fn vacuum(vacuum: Vacuum) -> Option<String> {
    (!(0.0..=27.0).contains(&vacuum.as_inhg()))
        .then(|| "A manifold is between 0 and about 27 inHg (91 kPa) below the air.".to_owned())
}

pub(super) fn speed(speed: EngineSpeed) -> Option<String> {
    let rpm = speed.as_rpm();
    if rpm > 12_000.0 {
        return Some(format!("{rpm:.0} rpm is faster than such engines turn."));
    }
    (rpm < 200.0).then(|| format!("{rpm:.0} rpm is slower than an engine runs."))
}

pub(super) fn barometer(pressure: Pressure) -> Option<String> {
    (!(50.0..=108.0).contains(&pressure.as_kpa()))
        .then(|| "Station pressure lies between about 50 and 108 kPa (15 and 32 inHg).".to_owned())
}

pub(super) fn fuel_pressure(pressure: PressureDifference) -> Option<String> {
    (!(0.5..=12.0).contains(&pressure.as_psi()))
        .then(|| "Carburetors are fed at some 1 to 9 psi (7 to 62 kPa).".to_owned())
}

pub(super) fn temperature(temperature: Temperature) -> Option<String> {
    (!(-45.0..=140.0).contains(&temperature.as_c()))
        .then(|| "That is hotter or colder than expected here.".to_owned())
}

pub(super) fn share(share: Fraction) -> Option<String> {
    (!(0.0..=1.0).contains(&share.as_ratio())).then(|| "A share lies between 0 and 100 %.".to_owned())
}

pub(super) fn turns(turns: Turns) -> Option<String> {
    (!(0.0..=6.0).contains(&turns.as_turns()))
        .then(|| "Mixture screws stand between 0 and about 6 turns out.".to_owned())
}

pub(super) fn displacement(volume: Volume) -> Option<String> {
    (!(0.05..=20.0).contains(&volume.as_l())).then(|| "That is an unusual displacement.".to_owned())
}

pub(super) fn bore(bore: Length) -> Option<String> {
    (!(0.2..=60.0).contains(&bore.as_mm())).then(|| "That is an unusual bore.".to_owned())
}
