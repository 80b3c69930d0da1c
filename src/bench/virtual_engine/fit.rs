//! Fits what a setup cannot say: throttle stops, idle discharge, boosters and propeller, so that the engine idles,
//! cruises and reaches its speed as it was designed to, with its hidden departures.

use super::character::Hidden;
use super::circuits::IdleCorner;
use super::equilibrium::GEAR_DRAG;
use super::loads::Load;
use super::plant::{Air, Barrels, Corners, MOST_CORNERS, Plant, Standing, WIDE_DEG};
use crate::numeric::solve::{minimum, root};
use crate::physics::engine::nozzle_flow;
use crate::units::{Area, Pressure, Temperature};

/// The idle it was designed for: hot, no load, every corner at its best mixture, timing in order.
pub(super) struct DesignIdle {
    manifold: f64,
    air: f64,
    lambda: f64,
}

pub(super) fn design_idle(plant: &Plant, s: &Standing) -> DesignIdle {
    let best = |manifold: f64| {
        minimum(0.70, 1.05, 1e-4, |l| {
            let lambda: Corners = [l; MOST_CORNERS];
            -plant.work(s, plant.idle, manifold, 1e-2, &lambda).torque
        })
    };
    let drawn = |p: f64| plant.drawn(s, plant.idle, p, plant.residual(s, plant.idle, p));
    let spare = |p: f64| {
        let lambda: Corners = [best(p); MOST_CORNERS];
        plant.work(s, plant.idle, p, drawn(p), &lambda).torque
    };
    let manifold = root(12e3, 0.97 * s.pressure, 1.0, spare).unwrap_or(0.8 * s.pressure);
    DesignIdle { manifold, air: drawn(manifold), lambda: best(manifold) }
}

pub(super) fn fit_throttles(plant: &mut Plant, s: &Standing, design: &DesignIdle) {
    let flux = nozzle_flow(
        Area::from_m2(1.0),
        crate::physics::engine::AIR,
        Pressure::from_pa(s.pressure),
        Temperature::from_k(s.temperature),
        Pressure::from_pa(design.manifold),
    )
    .as_kg_s();
    let need = design.air / flux;
    let angle = |b: &Barrels, area: f64| {
        root(b.closed_deg, WIDE_DEG, 1e-4, |deg| b.area(deg) - area).unwrap_or(b.closed_deg + 5.0)
    };
    let carried = if plant.secondary.is_some() { 0.40 } else { 0.0 };
    if let Some(b) = plant.secondary.as_mut() {
        b.idle_deg = angle(b, carried * need);
        b.slot = 0.012 * 0.0254;
    }
    plant.primary.idle_deg = angle(&plant.primary, (1.0 - carried) * need);
}

pub(super) fn fit_corners(plant: &mut Plant, s: &Standing, design: &DesignIdle, hidden: &Hidden) {
    let n = plant.corner_count();
    let need: Vec<f64> = (0..n)
        .map(|k| {
            let lambda = hidden.dead.filter(|(d, _)| *d == k).map_or(design.lambda, |(_, l)| l);
            plant.air_share[k] * design.air * s.dry / (lambda * plant.stoichiometric)
        })
        .collect();
    let mean = need.iter().sum::<f64>() / n as f64;
    let drop = (s.pressure - design.manifold).min(0.49 * s.pressure);
    for (k, needed) in need.iter().enumerate() {
        let own = ((needed - plant.mixing * mean) / (1.0 - plant.mixing)).max(0.1 * mean);
        let (turns, density) = (hidden.best_turns[k], plant.fuel_density);
        let corner = &mut plant.corners[k];
        let at = |log: f64, c: &IdleCorner| IdleCorner { discharge: log.exp(), ..c.clone() };
        let most = at(1e-4f64.ln(), corner).fuel(turns, 1.0, drop, 0.0, density, 0.0);
        if most < 1.5 * own {
            corner.feed *= 1.5 * own / most.max(1e-9);
        }
        let log = root(1e-10f64.ln(), 1e-4f64.ln(), 1e-7, |log| {
            at(log, corner).fuel(turns, 1.0, drop, 0.0, density, 0.0) - own
        });
        corner.discharge = log.map_or(0.5e-6, f64::exp);
    }
}

/// Sets booster gain and waking of the primaries so that the drawn mixture holds at a medium cruise, where the idle
/// circuit still helps, and all but holds far above it, where it does not; secondaries wake sooner in their flow.
pub(super) fn fit_mains(plant: &mut Plant, s: &Standing, hidden: &Hidden) {
    let air = plant.rated_air * if plant.secondary.is_some() { 0.30 } else { 0.44 };
    let mut cruising = Standing { throttle: 0.22, ..s.clone() };
    cruising.turns.clone_from(&hidden.best_turns);
    let n = plant.corner_count();
    let total = |p: &Plant, flow: f64, inhg: f64| {
        let flows = Air { primary: flow, secondary: 0.0, leak: 0.0 };
        let open = p.openings(&cruising, 0.0);
        let fuel = p.fuel(&cruising, &open, s.pressure - inhg * 3386.389, p.mains(&cruising, flows, 0.0));
        fuel[..n].iter().sum::<f64>()
    };
    let wanted = air * s.dry / (hidden.main_lambda * plant.stoichiometric);
    let head = plant.primary.main.head(air / plant.primary.count, s.density);
    let gain_for = |p: &mut Plant, waking: f64| {
        let log = root(-4.0, 7.0, 1e-5, |log: f64| {
            p.primary.main.tune(log.exp(), waking * head);
            total(p, air, 11.0) - wanted
        });
        p.primary.main.tune(log.map_or(1.2, f64::exp), waking * head);
    };
    let beyond_ref = if plant.secondary.is_some() { 1.7 } else { 2.2 };
    let mut beyond = |log: f64| {
        let mut trial = plant.clone();
        gain_for(&mut trial, log.exp());
        total(&trial, beyond_ref * air, 1.5) - beyond_ref * wanted / 1.02
    };
    let (early, late) = (0.15f64.ln(), 1.5f64.ln());
    let waking = root(early, late, 1e-3, &mut beyond);
    let waking = waking.unwrap_or_else(|_| if beyond(early) > 0.0 { early } else { late });
    gain_for(plant, waking.exp());
    let density = plant.fuel_density;
    if let Some(b) = plant.secondary.as_mut() {
        let flow = 0.45 * plant.rated_air / b.count;
        let wanted = flow * s.dry / (0.5 * (hidden.main_lambda + 0.82) * plant.stoichiometric);
        let head = b.main.head(flow, s.density);
        let log = root(-3.0, 4.0, 1e-6, |log: f64| {
            b.main.tune(log.exp(), 0.12 * head);
            b.main.fuel(flow, s.density, 0.0, density, 0.0).0 - wanted
        });
        b.main.tune(log.map_or(1.2, f64::exp), 0.12 * head);
    }
}

pub(super) fn fit_propeller(plant: &mut Plant, s: &Standing) {
    let wide = Standing { throttle: 1.0, ..s.clone() };
    let speed = 0.995 * plant.rated;
    let torque = plant.settle(&wide, speed).map_or(0.0, |p| plant.at(&wide, speed, p).2.torque);
    plant.propeller = 1.0;
    plant.propeller =
        (torque - GEAR_DRAG).max(20.0) / (plant.load_torque(Load::Propeller, speed) - GEAR_DRAG);
}
