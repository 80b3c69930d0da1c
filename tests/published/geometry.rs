//! Valve events, piston travel, compression, air demand and ratings against values from outside.

use super::case::hold;
use leanbest::physics::breathing::{air_demand, rating_at, torque, volumetric_efficiency};
use leanbest::physics::cam::events;
use leanbest::physics::cylinder::{dynamic_compression, piston_rise};
use leanbest::setup::Cam;
use leanbest::units::{EngineSpeed, MassFlow, Power, PressureDifference, VolumeFlow};

#[test]
fn cam_and_cylinder() {
    hold(include_str!("cam.toml"), 23, |c| {
        let v = || {
            events(&Cam {
                intake_duration: c.q("intake"),
                exhaust_duration: c.q("exhaust"),
                separation: c.q("separation"),
                centerline: c.maybe("centerline"),
            })
        };
        Some(match c.of.as_str() {
            "overlap_deg" => v().overlap.as_deg(),
            "ivo_btdc_deg" => v().intake_opens_btdc.as_deg(),
            "ivc_abdc_deg" => v().intake_closes_abdc.as_deg(),
            "evo_bbdc_deg" => v().exhaust_opens_bbdc.as_deg(),
            "evc_atdc_deg" => v().exhaust_closes_atdc.as_deg(),
            "piston_rise_in" => piston_rise(c.q("stroke"), c.q("rod"), c.q("closes")).ok()?.as_inches(),
            "dynamic_compression" => {
                dynamic_compression(c.n("ratio"), c.q("stroke"), c.q("rod"), c.q("closes")).ok()?
            }
            _ => return None,
        })
    });
}

#[test]
fn air_demand_and_ratings() {
    hold(include_str!("size.toml"), 10, |c| {
        Some(match c.of.as_str() {
            "demand_cfm" => air_demand(c.q("displacement"), c.q("speed"), c.q("efficiency")).as_cfm(),
            "rating_cfm" => rating_at(c.q::<VolumeFlow>("flow"), c.q("at"), c.q("other"))?.as_cfm(),
            "kpa" => c.q::<PressureDifference>("pressure").as_kpa(),
            "efficiency_pct" => {
                let air: MassFlow = c.q("air");
                volumetric_efficiency(air, c.q("displacement"), c.q("speed"), c.q("density"))?.as_percent()
            }
            "torque_nm" => torque(c.q::<Power>("power"), c.q::<EngineSpeed>("speed"))?.as_n_m(),
            _ => return None,
        })
    });
}
