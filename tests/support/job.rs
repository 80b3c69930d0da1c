//! A made-up job and logs made up for it, for tests and benchmarks of advice: no file is read, the log's summary is
//! written directly.

#![allow(dead_code, reason = "each user of this file needs a part of it")]

use leanbest::setup::*;
use leanbest::trace::{
    DelaySource, DelayUsed, LineCounts, RegimeSummary, SensorQuality, ShareOf, Spread, Station, TraceSummary,
};
use leanbest::units::*;
use std::collections::BTreeMap;

fn row(from: f64, to: f64, step: f64) -> Vec<Length> {
    let count = ((to - from) / step).round() as usize;
    (0..=count).map(|i| Length::from_inches(((from + step * i as f64) * 1e4).round() / 1e4)).collect()
}

/// A two-barrel on a street or work engine.
pub(crate) fn setup(application: Application) -> Setup {
    Setup {
        name: "made-up job".into(),
        application,
        engine: Engine {
            name: "inline six".into(),
            displacement: Volume::from_l(4.2),
            cylinders: 6,
            bore: None,
            stroke: None,
            compression: Some(8.4),
            cam: None,
            cooling: Cooling::Water,
            drive: Drive::Manual,
            plenum: Plenum::DualPlane,
            rated_speed: EngineSpeed::from_rpm(4100.0),
            volumetric_efficiency: Fraction::from_percent(75.0),
            idle_speed: None,
            idle_timing: None,
            vacuum_brakes: false,
            standing: Standing::Unknown,
        },
        carburetor: carburetor(),
        fuel: Fuel {
            name: "e10".into(),
            family: FuelFamily::Gasoline,
            ethanol: Fraction::from_percent(10.0),
            stoichiometric: AirFuelRatio::from_ratio(14.10),
            density: Density::from_kg_m3(749.0),
        },
        instruments: Instruments {
            vacuum_mark: PressureDifference::from_inhg(0.5),
            speed_step: EngineSpeed::from_rpm(10.0),
            lambda: Some(LambdaSensor {
                time_constant: TimeSpan::from_ms(70.0),
                pipe_volume: None,
                share_of_exhaust: Fraction::from_ratio(1.0),
                trusted: true,
            }),
            fuel_pressure: true,
        },
        weather: Some(weather()),
    }
}

/// A mild day.
pub(crate) fn weather() -> Weather {
    Weather {
        pressure: Pressure::from_inhg(29.92),
        temperature: Temperature::from_f(68.0),
        humidity: Fraction::from_percent(50.0),
    }
}

fn carburetor() -> Carburetor {
    Carburetor {
        name: "two-barrel, 280 CFM".into(),
        barrels: 2,
        rated_flow: VolumeFlow::from_cfm(280.0),
        rated_depression: PressureDifference::from_inhg(3.0),
        idle: IdleCircuit {
            screws: 2,
            screws_meter_air: false,
            turns_out: vec![Turns::from_turns(1.5); 2],
            screw_range: Turns::from_turns(4.0),
            feed_restriction: Length::from_inches(0.030),
            air_bleed: Length::from_inches(0.070),
            slot_exposure: None,
        },
        main: vec![MainSet {
            set: SetName::Primary,
            barrels: 2,
            venturi: Length::from_inches(1.06),
            jet: Length::from_inches(0.060),
            air_bleed: Length::from_inches(0.028),
            throttle_bore: None,
            nozzle: None,
            emulsion_depth: None,
            lip: None,
            booster_gain: None,
        }],
        enrichment: Some(Enrichment {
            opens_below: Vacuum::from_inhg(6.5),
            channel_restriction: Length::from_inches(0.024),
        }),
        pump: Some(Pump { nozzle: Length::from_inches(0.025), stroke_volume: None }),
        secondary_opens_at: None,
        float_level: None,
        stock: Stock {
            main_jets: row(0.050, 0.075, 0.001),
            main_air_bleeds: Vec::new(),
            idle_feeds: row(0.024, 0.038, 0.001),
            idle_air_bleeds: Vec::new(),
            channel_restrictions: row(0.016, 0.036, 0.002),
            pump_nozzles: row(0.022, 0.034, 0.003),
            enrichment_valves: [2.5, 3.5, 4.5, 5.5, 6.5, 8.5, 10.5].map(Vacuum::from_inhg).to_vec(),
        },
    }
}

/// One station of a made-up log.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Made {
    pub(crate) regime: Regime,
    /// Share of the rated air flow.
    pub(crate) share: f64,
    /// Vacuum, inHg.
    pub(crate) inhg: f64,
    pub(crate) lambda: f64,
    /// Distance between the quartiles within the station.
    pub(crate) spread: f64,
    pub(crate) seconds: f64,
    pub(crate) visits: u64,
}

fn spread(lambda: f64, quartiles: f64, count: u64) -> Spread {
    let at = Lambda::from_ratio;
    Spread {
        median: at(lambda),
        p10: at(lambda - 0.95 * quartiles),
        p90: at(lambda + 0.95 * quartiles),
        spread: at(quartiles),
        count,
    }
}

/// The summary a log of these stations would have.
pub(crate) fn log_of(setup: &Setup, made: &[Made]) -> TraceSummary {
    let rated = setup.carburetor.rated_flow * Density::from_kg_m3(1.2);
    let mut log = TraceSummary {
        rows: 0,
        lines: LineCounts::default(),
        faults: Vec::new(),
        fault_counts: BTreeMap::new(),
        kept: 0,
        dropped: BTreeMap::new(),
        start: Some(TimeSpan::ZERO),
        end: None,
        seconds: TimeSpan::ZERO,
        stopped_seconds: TimeSpan::ZERO,
        period: Some(TimeSpan::from_ms(100.0)),
        regimes: Vec::new(),
        stations: Vec::new(),
        throttle_closed: None,
        share_of: ShareOf::Rating,
        delay: DelayUsed {
            source: DelaySource::Typical,
            at_idle: TimeSpan::from_ms(600.0),
            at_cruise: TimeSpan::from_ms(250.0),
            at_full_throttle: TimeSpan::from_ms(100.0),
            uncertainty: TimeSpan::from_ms(50.0),
            transients: 0,
            rows: 0,
        },
        tip_ins: Vec::new(),
        tip_in_count: 0,
        pulls: Vec::new(),
        pull_count: 0,
        events: Vec::new(),
        event_counts: BTreeMap::new(),
        sensor: SensorQuality {
            vouched: Some(true),
            believable: Some(Fraction::from_ratio(1.0)),
            ..SensorQuality::default()
        },
        notes: Vec::new(),
    };
    for m in made {
        let count = (m.seconds * 10.0) as u64;
        log.rows += count;
        log.kept += count;
        log.seconds += TimeSpan::from_s(m.seconds);
        log.stations.push(Station {
            regime: m.regime,
            air_flow_share_low: Fraction::from_ratio(m.share - 0.02),
            air_flow_share_high: Fraction::from_ratio(m.share + 0.02),
            vacuum_low: Vacuum::from_inhg(m.inhg - 0.5),
            vacuum_high: Vacuum::from_inhg(m.inhg + 0.5),
            lambda: spread(m.lambda, m.spread, count),
            speed: EngineSpeed::from_rpm(800.0 + 3300.0 * m.share),
            vacuum: Vacuum::from_inhg(m.inhg),
            air_flow: Some(rated * m.share),
            seconds: TimeSpan::from_s(m.seconds),
            visits: m.visits,
            enough: m.visits >= 3 && count >= 20,
            counts: leanbest::trace::StationCounts::default(),
        });
    }
    for regime in Regime::ALL {
        let of: Vec<&Made> = made.iter().filter(|m| m.regime == regime).collect();
        let seconds: f64 = of.iter().map(|m| m.seconds).sum();
        if seconds <= 0.0 {
            continue;
        }
        let mean = of.iter().map(|m| m.lambda * m.seconds).sum::<f64>() / seconds;
        let quartiles = of.iter().map(|m| m.spread).fold(0.0, f64::max);
        log.regimes.push(RegimeSummary {
            regime,
            seconds: TimeSpan::from_s(seconds),
            visits: of.iter().map(|m| m.visits).max().unwrap_or(0),
            samples: (seconds * 10.0) as u64,
            kept_seconds: TimeSpan::from_s(seconds),
            lambda: Some(spread(mean, quartiles, (seconds * 10.0) as u64)),
            vacuum: of.first().map(|m| Vacuum::from_inhg(m.inhg)),
            speed: None,
            air_flow: None,
            enriched: None,
            counts: leanbest::trace::RegimeCounts::default(),
        });
    }
    log
}
