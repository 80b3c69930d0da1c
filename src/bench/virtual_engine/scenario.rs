//! The two invented engines of the demonstration and the tests, as setups: the oyster skiff *Petrel Ann* and a
//! pulling tractor.

use crate::setup::{
    Application, Cam, Carburetor, Cooling, Drive, Engine, Enrichment, Fuel, FuelFamily, IdleCircuit,
    Instruments, LambdaSensor, MainSet, Plenum, Pump, SetName, Setup, Standing, Stock, Weather,
};
use crate::units::{
    AirFuelRatio, CrankAngle, Density, EngineSpeed, Fraction, Length, Pressure, PressureDifference,
    Temperature, TimeSpan, Turns, Vacuum, Volume, VolumeFlow,
};

fn inches(value: f64) -> Length {
    Length::from_inches(value)
}

fn thousandths(from: u32, to: u32) -> Vec<Length> {
    (from..=to).map(|t| inches(f64::from(t) / 1000.0)).collect()
}

fn stock() -> Stock {
    Stock {
        main_jets: thousandths(50, 90),
        main_air_bleeds: (24..=40).step_by(2).map(|t| inches(f64::from(t) / 1000.0)).collect(),
        idle_feeds: thousandths(26, 36),
        idle_air_bleeds: (60..=80).step_by(2).map(|t| inches(f64::from(t) / 1000.0)).collect(),
        channel_restrictions: thousandths(20, 50),
        pump_nozzles: [21, 25, 28, 31, 35].map(|t| inches(f64::from(t) / 1000.0)).to_vec(),
        enrichment_valves: [2.5, 3.5, 4.5, 5.5, 6.5, 8.5, 10.5].map(Vacuum::from_inhg).to_vec(),
    }
}

fn cam(intake: f64, exhaust: f64, separation: f64) -> Cam {
    Cam {
        intake_duration: CrankAngle::from_deg(intake),
        exhaust_duration: CrankAngle::from_deg(exhaust),
        separation: CrankAngle::from_deg(separation),
        centerline: None,
    }
}

fn instruments() -> Instruments {
    Instruments {
        vacuum_mark: PressureDifference::from_inhg(0.5),
        speed_step: EngineSpeed::from_rpm(10.0),
        lambda: Some(LambdaSensor {
            time_constant: TimeSpan::from_ms(70.0),
            pipe_volume: Some(Volume::from_l(3.0)),
            share_of_exhaust: Fraction::from_ratio(1.0),
            trusted: true,
        }),
        fuel_pressure: true,
    }
}

fn main_set(set: SetName, venturi: f64, jet: f64, bore: f64) -> MainSet {
    MainSet {
        set,
        barrels: 2,
        venturi: inches(venturi),
        jet: inches(jet),
        air_bleed: inches(0.028),
        throttle_bore: Some(inches(bore)),
        nozzle: None,
        emulsion_depth: None,
        lip: None,
        booster_gain: None,
    }
}

fn e10() -> Fuel {
    Fuel {
        name: "e10".to_owned(),
        family: FuelFamily::Gasoline,
        ethanol: Fraction::from_ratio(0.10),
        stoichiometric: AirFuelRatio::from_ratio(14.10),
        density: Density::from_kg_m3(749.0),
    }
}

/// The oyster skiff's inline six with its two-barrel, screws at the common start.
pub fn oyster_skiff() -> Setup {
    Setup {
        name: "Petrel Ann".to_owned(),
        application: Application::Marine,
        engine: Engine {
            name: "inboard inline six, 256 in3".to_owned(),
            displacement: Volume::from_in3(256.0),
            cylinders: 6,
            bore: None,
            stroke: None,
            compression: Some(8.4),
            cam: Some(cam(202.0, 206.0, 112.0)),
            cooling: Cooling::Water,
            drive: Drive::Propeller,
            plenum: Plenum::DualPlane,
            rated_speed: EngineSpeed::from_rpm(4100.0),
            volumetric_efficiency: Fraction::from_ratio(0.65),
            idle_speed: Some(EngineSpeed::from_rpm(700.0)),
            idle_timing: Some(CrankAngle::from_deg(8.0)),
            vacuum_brakes: false,
            standing: Standing::Marine,
        },
        carburetor: Carburetor {
            name: "two-barrel, 280 CFM".to_owned(),
            barrels: 2,
            rated_flow: VolumeFlow::from_cfm(280.0),
            rated_depression: PressureDifference::from_inhg(3.0),
            idle: idle(2, 1.5, 0.030, 0.070),
            main: vec![main_set(SetName::Primary, 1.06, 0.060, 1.375)],
            enrichment: Some(Enrichment {
                opens_below: Vacuum::from_inhg(8.5),
                channel_restriction: inches(0.024),
            }),
            pump: Some(Pump { nozzle: inches(0.025), stroke_volume: None }),
            secondary_opens_at: None,
            float_level: None,
            stock: stock(),
        },
        fuel: e10(),
        instruments: instruments(),
        weather: Some(Weather {
            pressure: Pressure::from_inhg(30.05),
            temperature: Temperature::from_f(71.0),
            humidity: Fraction::from_ratio(0.62),
        }),
    }
}

fn idle(screws: u8, turns: f64, feed: f64, bleed: f64) -> IdleCircuit {
    IdleCircuit {
        screws,
        screws_meter_air: false,
        turns_out: vec![Turns::from_turns(turns); usize::from(screws)],
        screw_range: Turns::from_turns(4.0),
        feed_restriction: inches(feed),
        air_bleed: inches(bleed),
        slot_exposure: None,
    }
}

/// The antique pulling tractor's six with its four-corner four-barrel.
pub fn pulling_tractor() -> Setup {
    let mut setup = oyster_skiff();
    "pulling tractor".clone_into(&mut setup.name);
    setup.application = Application::Farm;
    setup.engine = Engine {
        name: "pulling six, 408 in3".to_owned(),
        displacement: Volume::from_in3(408.0),
        compression: Some(9.0),
        cam: Some(cam(240.0, 246.0, 108.0)),
        drive: Drive::None,
        plenum: Plenum::SinglePlane,
        rated_speed: EngineSpeed::from_rpm(4800.0),
        volumetric_efficiency: Fraction::from_ratio(0.82),
        idle_speed: Some(EngineSpeed::from_rpm(950.0)),
        idle_timing: Some(CrankAngle::from_deg(18.0)),
        standing: Standing::CompetitionOnly,
        ..setup.engine
    };
    setup.carburetor = Carburetor {
        name: "four-barrel, four-corner idle, 600 CFM".to_owned(),
        barrels: 4,
        rated_flow: VolumeFlow::from_cfm(600.0),
        rated_depression: PressureDifference::from_inhg(1.5),
        idle: idle(4, 1.0, 0.031, 0.070),
        main: vec![
            main_set(SetName::Primary, 1.25, 0.068, 1.5625),
            main_set(SetName::Secondary, 1.3125, 0.076, 1.5625),
        ],
        enrichment: Some(Enrichment {
            opens_below: Vacuum::from_inhg(6.5),
            channel_restriction: inches(0.042),
        }),
        pump: Some(Pump { nozzle: inches(0.028), stroke_volume: None }),
        secondary_opens_at: Some(Fraction::from_ratio(0.40)),
        ..setup.carburetor
    };
    setup
}
