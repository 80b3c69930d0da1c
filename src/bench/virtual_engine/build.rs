//! Makes an engine out of a setup and a family: sizes what the setup does not say, then finds the idle it was
//! designed for and sets the circuits so that each corner's best mixture lies where the draw put it.

use super::character::{Character, HOT, Hidden};
use super::circuits::{IdleCorner, MainBarrel, liquid};
use super::engine::STALL;
use super::fit::{design_idle, fit_corners, fit_mains, fit_propeller, fit_throttles};
use super::loads::Load;
use super::plant::{Barrels, MOST_CORNERS, Plant, Shot, Standing, Valve};
use crate::numeric::rng::Chance;
use crate::numeric::solve::root;
use crate::physics::engine::{OverlapFactor, nozzle_flow};
use crate::setup::{MainSet, SetName, Setup, Weather};
use crate::units::{Area, CrankAngle, Fraction, Length, Pressure, Temperature};
use core::f64::consts::PI;

const RPM: f64 = PI / 30.0;
const IDLE_SLOT: f64 = 0.028 * 0.0254;

/// The air of the standard atmosphere at sea level, half humid.
const STANDARD_DAY: Weather = Weather {
    pressure: Pressure::from_pa(101_325.0),
    temperature: Temperature::from_k(293.15),
    humidity: Fraction::from_ratio(0.5),
};

/// A built engine and where it stands at the start.
pub(super) struct Built {
    pub(super) plant: Plant,
    pub(super) standing: Standing,
    pub(super) hidden: Hidden,
}

/// Puts a day's air into the standing. Saturation pressure after Buck (1981), from memory.
pub(super) fn breathe(s: &mut Standing, weather: &Weather) {
    let c = weather.temperature.as_c();
    let vapour = weather.humidity.as_ratio() * 611.21 * ((18.678 - c / 234.5) * c / (257.14 + c)).exp();
    s.pressure = weather.pressure.as_pa();
    s.temperature = weather.temperature.as_k();
    let dry = (s.pressure - vapour) / (287.05 * s.temperature);
    s.density = dry + vapour / (461.5 * s.temperature);
    s.dry = dry / s.density;
}

struct CamFacts {
    overlap_050: f64,
    closes_abdc: f64,
    intake: f64,
}

fn cam_facts(setup: &Setup, more_overlap: f64) -> CamFacts {
    let (intake, exhaust, separation, centre) = setup.engine.cam.map_or((205.0, 205.0, 112.0, 112.0), |c| {
        let separation = c.separation.as_deg();
        let centre = c.centerline.map_or(separation, CrankAngle::as_deg);
        (c.intake_duration.as_deg(), c.exhaust_duration.as_deg(), separation, centre)
    });
    let intake = intake + more_overlap;
    CamFacts {
        overlap_050: (intake + exhaust + more_overlap) / 2.0 - 2.0 * separation,
        closes_abdc: intake / 2.0 + centre - 180.0,
        intake,
    }
}

fn barrels(setup: &Setup, set: &MainSet, hidden: &Hidden, jet_off: f64, share: f64) -> Barrels {
    let density = setup.fuel.density.as_kg_m3();
    let venturi = set.venturi.as_m();
    let bore = set.throttle_bore.map_or(1.28 * venturi, Length::as_m);
    let carburetor = &setup.carburetor;
    let p0 = Pressure::from_pa(101_325.0);
    let t0 = Temperature::from_c(15.0);
    let gas = crate::physics::engine::AIR;
    let rated = carburetor.rated_flow.as_m3_s() * 1.225;
    let flux = nozzle_flow(Area::from_m2(1.0), gas, p0, t0, p0.less(carburetor.rated_depression)).as_kg_s();
    let whole = share * rated / flux.max(1.0);
    let wide = 0.80 * f64::from(set.barrels) * PI / 4.0 * bore * bore * 0.75;
    let venturi_area = 1.0 / (1.0 / (whole * whole) - 1.0 / (wide * wide)).max(0.15 / (whole * whole)).sqrt();
    Barrels {
        count: f64::from(set.barrels),
        bore,
        closed_deg: 8.0,
        venturi: venturi_area,
        idle_deg: 15.0,
        slot: IDLE_SLOT,
        main: MainBarrel {
            venturi: 0.85 * PI / 4.0 * venturi * venturi,
            jet: jet_off * liquid(set.jet.as_m(), 0.80, density),
            bleed: hidden.off_stamp[3] * liquid(set.air_bleed.as_m(), 0.75, 1.19),
            nozzle: 0.8 * PI / 4.0 * set.nozzle.map_or(2.5 * set.jet.as_m(), Length::as_m).powi(2),
            gain: 1.0,
            waking: 1250.0,
            lip: set.lip.map_or(4e-3, Length::as_m),
        },
    }
}

fn plant(setup: &Setup, hidden: &Hidden, screws: usize) -> Plant {
    let engine = &setup.engine;
    let displacement = engine.displacement.as_m3();
    let cam = cam_facts(setup, hidden.more_overlap);
    let one = displacement / f64::from(engine.cylinders.max(1));
    let bore = engine.bore.map_or((4.0 * one / PI).cbrt(), Length::as_m);
    let rated = engine.rated_speed.as_rad_s();
    // at low speed the charge taken in beyond the valve's closing is pushed back out
    let trapped = f64::midpoint(1.0, (cam.closes_abdc + 10.0).max(0.0).to_radians().cos());
    let filling_rated = engine.volumetric_efficiency.as_ratio();
    let idle = engine.idle_speed.filter(|_| hidden.more_overlap == 0.0).map_or_else(
        || RPM * (650.0 + 7.5 * (cam.intake - 210.0)).clamp(550.0, 1500.0),
        crate::units::EngineSpeed::as_rad_s,
    );
    let four = setup.carburetor.main.len() > 1;
    let venturi_sum: f64 =
        setup.carburetor.main.iter().map(|m| f64::from(m.barrels) * m.venturi.as_m().powi(2)).sum();
    let share = |m: &MainSet| f64::from(m.barrels) * m.venturi.as_m().powi(2) / venturi_sum;
    let first = &setup.carburetor.main[0];
    let density = setup.fuel.density.as_kg_m3();
    let secondary = setup.carburetor.main_set(SetName::Secondary).filter(|_| four);
    Plant {
        displacement,
        compression: engine.compression.unwrap_or(8.5),
        // seat overlap is some 45 degrees more than overlap at 0.050 in; valve sizes in proportion to the bore, and
        // a longer cam lifts further
        overlap: OverlapFactor::new(
            CrankAngle::from_deg(cam.overlap_050 + 45.0),
            Length::from_m(bore),
            Length::from_m(0.42 * bore),
            Length::from_m(0.105 * bore * (1.0 + (cam.intake - 205.0).max(0.0) / 90.0)),
        ),
        filling_low: 0.84 * trapped,
        // efficiency is told against outside air; the manifold's is warmer and thinner
        filling_rated: 1.10 * filling_rated,
        rated,
        rated_air: filling_rated * displacement * rated / (4.0 * PI) * 1.19,
        inertia: 90.0 * displacement,
        work_per_air: 0.43 * 42.5e6 / 14.3,
        stoichiometric: setup.fuel.stoichiometric.as_ratio(),
        fuel_density: density,
        friction: hidden.friction,
        manifold: 1.1 * displacement,
        spread: hidden.spread,
        mixing: hidden.mixing,
        air_share: hidden.air_share.clone(),
        corners: corners(setup, hidden, screws, secondary.is_some()),
        primary: barrels(setup, first, hidden, hidden.off_stamp[0], share(first)),
        secondary: secondary.map(|m| barrels(setup, m, hidden, hidden.off_stamp[1], share(m))),
        secondary_opens_at: setup.carburetor.secondary_opens_at.map_or(0.4, Fraction::as_ratio),
        valve: setup.carburetor.enrichment.map(|e| Valve {
            opens_below: e.opens_below.as_pa(),
            off: hidden.valve_off,
            channel: hidden.off_stamp[2] * liquid(e.channel_restriction.as_m(), 0.70, density),
        }),
        shot: setup.carburetor.pump.as_ref().map(|p| Shot {
            rate: shot_rate(p.nozzle.as_m(), f64::from(first.barrels), hidden.off_stamp[5], density),
            stroke: p.stroke_volume.map_or(1.0e-6 * f64::from(first.barrels), crate::units::Volume::as_m3)
                * density,
        }),
        drive: engine.drive,
        propeller: 0.0,
        idle,
        leak_corner: screws - 1,
    }
}

/// Flow of the pump's nozzles under its spring.
pub(super) fn shot_rate(nozzle: f64, count: f64, off: f64, density: f64) -> f64 {
    off * count * liquid(nozzle, 0.7, density) * 12e3f64.sqrt()
}

fn corners(setup: &Setup, hidden: &Hidden, screws: usize, four: bool) -> Vec<IdleCorner> {
    let idle = &setup.carburetor.idle;
    let density = setup.fuel.density.as_kg_m3();
    let barrels = f64::from(setup.carburetor.main.iter().map(|m| m.barrels).sum::<u8>());
    let fed = (barrels / screws as f64).clamp(0.5, 2.0);
    (0..screws)
        .map(|k| {
            let dead = hidden.dead.is_some_and(|(d, _)| d == k);
            let secondary = four && screws >= 4 && k >= screws.div_ceil(2);
            let share = if secondary { 0.5 + 0.5 * hidden.screw_share } else { hidden.screw_share };
            IdleCorner {
                feed: fed * hidden.off_stamp[4] * liquid(idle.feed_restriction.as_m(), 0.75, density),
                bleed: fed * hidden.off_stamp[3] * liquid(idle.air_bleed.as_m(), 0.75, 1.19),
                discharge: 0.5e-6,
                screw_share: if dead { 0.0 } else { share },
                best_turns: hidden.best_turns[k],
                range: idle.screw_range.as_turns(),
                meters_air: idle.screws_meter_air,
                secondary,
            }
        })
        .collect()
}

/// Builds it.
pub(super) fn build(setup: &Setup, character: Character, chance: &mut Chance) -> Built {
    let screws = usize::from(setup.carburetor.idle.screws).clamp(1, MOST_CORNERS);
    let overlap = cam_facts(setup, 0.0).overlap_050;
    let hidden = Hidden::draw(character, screws, overlap, chance);
    let mut plant = plant(setup, &hidden, screws);
    let found = character == Character::AsFound;
    let timing = setup.engine.idle_timing.map_or(10.0, CrankAngle::as_deg);
    let mut s = Standing {
        turns: hidden.best_turns.clone(),
        stop_deg: 0.0,
        throttle: 0.0,
        load: Load::Neutral,
        pressure: 0.0,
        temperature: 0.0,
        density: 0.0,
        dry: 1.0,
        float_high: 0.0,
        fuel_pressure: 4.5 * 6894.757,
        timing: if found { timing.max(8.0) } else { timing },
        leak_area: 0.0,
        torn_valve: false,
        play: 0.0,
        exhaust_leak: 0.0,
        coolant: HOT,
        drift: 1.0,
    };
    breathe(&mut s, &setup.weather.unwrap_or(STANDARD_DAY));
    let design = design_idle(&plant, &s);
    fit_throttles(&mut plant, &s, &design);
    s.stop_deg = plant.primary.idle_deg;
    fit_corners(&mut plant, &s, &design, &hidden);
    fit_mains(&mut plant, &s, &hidden);
    fit_propeller(&mut plant, &s);
    let leak = hidden.leak * plant.primary.area(plant.primary.idle_deg);
    start_position(&plant, &mut s, setup, &hidden, leak);
    if found {
        s.float_high = 1.6e-3;
        s.fuel_pressure = 6.2 * 6894.757;
        s.timing = 4.0;
        s.play = 0.04;
    }
    if found {
        s.stop_deg = stop_for(&plant, &s, &hidden).unwrap_or(plant.primary.idle_deg);
    } else {
        trim(&plant, &mut s, &hidden);
    }
    s.coolant = hidden.coolant;
    Built { plant, standing: s, hidden }
}

fn start_position(plant: &Plant, s: &mut Standing, setup: &Setup, hidden: &Hidden, leak: f64) {
    s.leak_area = leak;
    let said = &setup.carburetor.idle.turns_out;
    for k in 0..plant.corner_count() {
        let start = hidden.start_turns.get(k).copied();
        let turns = start.or_else(|| said.get(k).map(|t| t.as_turns())).unwrap_or(1.5);
        s.turns[k] = turns.clamp(0.0, plant.corners[k].range);
    }
}

/// Sets the stop so that it starts near its idle speed with the screws where they are. Where they are too far in for
/// that, somebody has turned them out until it ran.
fn trim(plant: &Plant, s: &mut Standing, hidden: &Hidden) {
    for _ in 0..12 {
        s.stop_deg = stop_for(plant, s, hidden).unwrap_or(plant.primary.idle_deg);
        let sound = plant.steady(s).is_some_and(|x| plant.at(s, x.speed, x.manifold).2.misfire < 0.12);
        if sound {
            return;
        }
        for (turns, corner) in s.turns.iter_mut().zip(&plant.corners) {
            let out = if corner.meters_air { -0.15 } else { 0.15 };
            *turns = (*turns + out).clamp(0.0, corner.range);
        }
    }
}

fn stop_for(plant: &Plant, s: &Standing, hidden: &Hidden) -> Option<f64> {
    let wanted = (hidden.start_speed * plant.idle).max(1.2 * STALL);
    let closed = plant.primary.closed_deg;
    root(closed + 0.2, closed + 25.0, 1e-3, |deg| {
        let trial = Standing { stop_deg: deg, ..s.clone() };
        plant.steady(&trial).map_or(0.0, |x| x.speed) - wanted
    })
    .ok()
}
