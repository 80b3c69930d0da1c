//! Where the throttle must stand to pass an air flow at a manifold vacuum, and how the sets of barrels share it.
//!
//! Only what metering needs: how far the secondaries are open and how much of the slot shows.

use super::assumed;
use super::nozzle::Inlet;
use crate::numeric::solve;
use crate::setup::{Carburetor, MainSet, SetName};
use crate::units::Fraction;

/// Angle of a shut blade from square across the bore, degrees.
const SHUT_DEG: f64 = 8.0;
/// Discharge coefficient of a throttle.
const THROTTLE_DISCHARGE: f64 = 0.85;

/// Share of a throttle's full area that is open at a share of its travel: `1 - cos psi / cos psi0`.
fn open_share(travel: f64) -> f64 {
    let shut = SHUT_DEG.to_radians();
    let angle = shut + travel.clamp(0.0, 1.0) * (core::f64::consts::FRAC_PI_2 - shut);
    1.0 - angle.cos() / shut.cos()
}

/// Travel of a set's own blades at a travel of the primary's.
fn own_travel(carburetor: &Carburetor, set: SetName, travel: f64) -> f64 {
    match set {
        SetName::Primary => travel,
        SetName::Secondary => {
            let start = carburetor.secondary_opens_at.map_or(assumed::SECONDARY_OPENS_AT, Fraction::as_ratio);
            ((travel - start) / (1.0 - start).max(1e-6)).clamp(0.0, 1.0)
        }
    }
}

fn throttle_area(set: &MainSet, own: f64) -> f64 {
    let bore = set.throttle_bore.unwrap_or(set.venturi * assumed::THROTTLE_OVER_VENTURI);
    f64::from(set.barrels) * THROTTLE_DISCHARGE * bore.bore_area().as_m2() * open_share(own)
}

/// Venturi and throttle of a set one behind the other, m2 of effective area.
fn through_area(carburetor: &Carburetor, set: &MainSet, travel: f64) -> f64 {
    let venturi = f64::from(set.barrels) * assumed::VENTURI_DISCHARGE * set.venturi.bore_area().as_m2();
    let throttle = throttle_area(set, own_travel(carburetor, set.set, travel));
    if throttle <= 0.0 { 0.0 } else { venturi * throttle / venturi.hypot(throttle) }
}

/// Share of the throttle's travel that passes an air flow at a manifold vacuum; wide open when even that passes
/// less.
///
/// # Errors
/// The solver's.
pub(super) fn travel(
    carburetor: &Carburetor,
    air: Inlet,
    air_kg_s: f64,
    vacuum_pa: f64,
) -> Result<f64, solve::SolveError> {
    let flux = air.flux(vacuum_pa.max(0.0));
    let short = |travel: f64| {
        carburetor.main.iter().map(|s| throttle_area(s, own_travel(carburetor, s.set, travel))).sum::<f64>()
            * flux
            - air_kg_s
    };
    if short(1.0) <= 0.0 {
        return Ok(1.0);
    }
    if short(0.0) >= 0.0 {
        return Ok(0.0);
    }
    solve::root(0.0, 1.0, 1e-7, short)
}

/// How much of the air each set passes at a travel, in the order of the carburetor's sets.
pub(super) fn shares(carburetor: &Carburetor, travel: f64) -> Vec<f64> {
    let areas: Vec<f64> = carburetor.main.iter().map(|s| through_area(carburetor, s, travel)).collect();
    let sum: f64 = areas.iter().sum();
    if sum > 0.0 {
        areas.iter().map(|a| a / sum).collect()
    } else {
        carburetor.main.iter().map(|s| if s.set == SetName::Primary { 1.0 } else { 0.0 }).collect()
    }
}
