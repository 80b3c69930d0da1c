use super::*;
use crate::physics::metering::{effect, elasticity};
use crate::setup::{Enrichment, FuelFamily, IdleCircuit, PartPath, PartSize, Pump, Stock};
use crate::units::{AirFuelRatio, Length, PressureDifference, Temperature, VolumeFlow};
use proptest::prelude::*;

pub(crate) fn weather() -> Weather {
    Weather {
        pressure: Pressure::from_inhg(30.05),
        temperature: Temperature::from_f(71.0),
        humidity: Fraction::from_percent(62.0),
    }
}

pub(crate) fn e10() -> Fuel {
    Fuel {
        name: "e10".into(),
        family: FuelFamily::Gasoline,
        ethanol: Fraction::from_percent(10.0),
        stoichiometric: AirFuelRatio::from_ratio(14.10),
        density: Density::from_kg_m3(749.0),
    }
}

fn main_set(set: SetName, jet: f64) -> MainSet {
    MainSet {
        set,
        barrels: 2,
        venturi: Length::from_inches(1.06),
        jet: Length::from_inches(jet),
        air_bleed: Length::from_inches(0.028),
        throttle_bore: None,
        nozzle: None,
        emulsion_depth: None,
        lip: None,
        booster_gain: None,
    }
}

pub(crate) fn two_barrel() -> Carburetor {
    Carburetor {
        name: "two-barrel".into(),
        barrels: 2,
        rated_flow: VolumeFlow::from_cfm(280.0),
        rated_depression: PressureDifference::from_inhg(3.0),
        idle: IdleCircuit {
            screws: 2,
            screws_meter_air: false,
            turns_out: vec![Turns::from_turns(1.25); 2],
            screw_range: Turns::from_turns(4.0),
            feed_restriction: Length::from_inches(0.030),
            air_bleed: Length::from_inches(0.070),
            slot_exposure: None,
        },
        main: vec![main_set(SetName::Primary, 0.060)],
        enrichment: Some(Enrichment {
            opens_below: Vacuum::from_inhg(8.5),
            channel_restriction: Length::from_inches(0.024),
        }),
        pump: Some(Pump { nozzle: Length::from_inches(0.025), stroke_volume: None }),
        secondary_opens_at: None,
        float_level: None,
        stock: Stock::default(),
    }
}

fn four_barrel() -> Carburetor {
    let mut c = two_barrel();
    c.barrels = 4;
    c.main.push(main_set(SetName::Secondary, 0.066));
    c
}

fn at(kg_h: f64, inhg: f64) -> Operating {
    Operating { air_flow: MassFlow::from_kg_h(kg_h), vacuum: Vacuum::from_inhg(inhg) }
}

fn model(c: &Carburetor) -> Model {
    Model::of(c, &e10(), &weather())
}

/// The propeller curve of the invented skiff: speed, air flow and vacuum from idle to full throttle.
const CURVE: [(f64, f64); 10] = [
    (27.0, 17.6),
    (79.0, 14.5),
    (102.0, 13.4),
    (127.0, 12.2),
    (155.0, 11.0),
    (188.0, 9.6),
    (225.0, 8.0),
    (280.0, 5.8),
    (310.0, 4.7),
    (394.0, 1.6),
];

/// Every point of the curve, with the mixture there.
fn along(c: &Carburetor) -> Vec<f64> {
    let m = model(c);
    CURVE.iter().map(|(flow, vacuum)| m.at(at(*flow, *vacuum)).unwrap().lambda.as_ratio()).collect()
}

#[test]
fn lambda_along_the_propeller_curve_is_a_carburetors() {
    for lambda in along(&two_barrel()) {
        assert!((0.72..1.12).contains(&lambda), "{lambda}");
    }
}

#[test]
fn idle_comes_from_the_idle_circuit_and_full_throttle_from_the_main() {
    let m = model(&two_barrel());
    let idle = m.at(at(27.0, 17.6)).unwrap();
    assert_eq!(idle.fuel.total(), idle.fuel.idle);
    let full = m.at(at(394.0, 1.6)).unwrap();
    assert!(full.fuel.idle.as_kg_s() < 0.01 * full.fuel.total().as_kg_s());
    assert!(full.fuel.enrichment.as_kg_s() > 0.05 * full.fuel.total().as_kg_s());
    assert!(full.throttle.as_ratio() > 0.6 && idle.throttle.as_ratio() < 0.12);
}

#[test]
fn every_part_acts_its_own_way_everywhere() {
    let c = two_barrel();
    for (flow, vacuum) in CURVE {
        let says = |part| elasticity(&model(&c), part, at(flow, vacuum)).unwrap().unwrap().value;
        assert!(says(PartPath::MainJet(SetName::Primary)) > -1e-4);
        assert!(says(PartPath::MainAirBleed(SetName::Primary)) < 1e-4);
        assert!(says(PartPath::ChannelRestriction) > -1e-4);
        assert!(says(PartPath::IdleFeed) > -1e-4, "{flow}");
        assert!(says(PartPath::IdleAirBleed) < 1e-4);
    }
}

#[test]
fn a_parts_say_is_where_its_circuit_flows() {
    let m = model(&two_barrel());
    let says = |part, flow, vacuum| elasticity(&m, part, at(flow, vacuum)).unwrap().unwrap().value;
    let jet = PartPath::MainJet(SetName::Primary);
    assert!(says(jet, 27.0, 17.6) < 0.05);
    assert!((0.4..0.95).contains(&says(jet, 155.0, 11.0)), "{}", says(jet, 155.0, 11.0));
    assert!(says(PartPath::IdleFeed, 102.0, 13.4) > 2.0 * says(PartPath::IdleFeed, 225.0, 8.0));
    assert!(says(PartPath::ChannelRestriction, 155.0, 11.0) < 1e-9);
    assert!((0.05..0.25).contains(&says(PartPath::ChannelRestriction, 394.0, 1.6)));
    assert!(says(PartPath::IdleScrew(1), 27.0, 17.6) > 0.1);
    assert!(says(PartPath::IdleScrew(1), 394.0, 1.6) < 0.02);
}

#[test]
fn a_screw_that_meters_air_leans_when_turned_out() {
    let mut c = two_barrel();
    c.idle.screws_meter_air = true;
    let says = elasticity(&model(&c), PartPath::IdleScrew(1), at(27.0, 17.6)).unwrap().unwrap();
    assert!(says.value < -0.02, "{says:?}");
}

#[test]
fn thinner_air_richens_by_the_root_of_its_density() {
    let high = Weather { pressure: Pressure::from_inhg(24.90), ..weather() };
    let (here, there) =
        (Model::of(&two_barrel(), &e10(), &weather()), Model::of(&two_barrel(), &e10(), &high));
    // The same speed at full throttle: air by volume.
    let density = 24.90 / 30.05;
    let before = here.at(at(394.0, 1.6)).unwrap().lambda;
    let after = there.at(at(394.0 * density, 1.6 * density)).unwrap().lambda;
    let expected = f64::sqrt(density);
    assert!((after / before / expected - 1.0).abs() < 0.02, "{} {expected}", after / before);
}

#[test]
fn secondaries_stay_shut_at_part_throttle_and_open_later() {
    let m = model(&four_barrel());
    let cruise = m.at(at(200.0, 12.0)).unwrap();
    assert_eq!(cruise.fuel.main_secondary, MassFlow::ZERO);
    let full = m.at(at(700.0, 2.0)).unwrap();
    assert!(full.fuel.main_secondary > full.fuel.main_primary * 0.6);
    assert!((0.7..1.1).contains(&full.lambda.as_ratio()), "{:?}", full.lambda);
}

#[test]
fn what_is_not_physical_is_refused_and_named() {
    let m = model(&two_barrel());
    assert!(matches!(m.at(at(0.0, 10.0)), Err(MeteringError::Unphysical { what: "air flow", .. })));
    assert!(matches!(m.at(at(100.0, 31.0)), Err(MeteringError::Unphysical { what: "manifold vacuum", .. })));
    assert!(matches!(m.at(at(4000.0, 1.0)), Err(MeteringError::Choked { .. })));
    let mut c = two_barrel();
    c.main[0].jet = Length::ZERO;
    assert!(matches!(model(&c).at(at(100.0, 10.0)), Err(MeteringError::Unphysical { .. })));
    let secondary = PartPath::MainJet(SetName::Secondary);
    assert!(matches!(elasticity(&m, secondary, at(100.0, 10.0)), Err(MeteringError::NoPart(_))));
    assert_eq!(elasticity(&m, PartPath::EnrichmentOpening, at(100.0, 10.0)), Ok(None));
}

#[test]
fn the_enrichment_opens_over_its_width_without_a_step() {
    let m = model(&two_barrel());
    let open: Vec<f64> =
        (0..=400).map(|i| m.enrichment_open(Vacuum::from_inhg(6.5 + 0.01 * f64::from(i)))).collect();
    assert_eq!((open[0], open[400]), (1.0, 0.0));
    assert!((m.enrichment_open(Vacuum::from_inhg(8.5)) - 0.5).abs() < 1e-12);
    assert!(open.windows(2).all(|w| w[0] >= w[1] && w[0] - w[1] < 0.02));
}

#[test]
fn a_lower_opening_leans_between_the_two_marks_and_nowhere_else() {
    let m = model(&two_barrel());
    let to = PartSize::Opening(Vacuum::from_inhg(6.5));
    let effect = |flow, vacuum| effect(&m, PartPath::EnrichmentOpening, to, at(flow, vacuum)).unwrap();
    assert!(effect(225.0, 7.5) > 0.05);
    assert!(effect(155.0, 11.0).abs() < 1e-9 && effect(394.0, 1.6).abs() < 1e-9);
}

proptest! {
    #[test]
    fn lambda_is_continuous_from_idle_to_main_and_across_the_enrichment(flow in 20.0..400.0f64, share in 0.0..1.0f64) {
        let m = model(&two_barrel());
        // From the vacuum of an unloaded engine to that of full throttle.
        let vacuum = 1.0 + share * 17.0 * (1.0 - flow / 450.0);
        let here = m.at(at(flow, vacuum)).unwrap().lambda.as_ratio();
        let beside = m.at(at(flow + 0.002, vacuum - 0.0002)).unwrap().lambda.as_ratio();
        prop_assert!((beside / here - 1.0).abs() < 0.004, "{here} {beside}");
    }

    #[test]
    fn a_bigger_jet_is_never_leaner(jet in 0.045..0.085f64, flow in 20.0..400.0f64, vacuum in 1.0..18.0f64) {
        let with = |d: f64| {
            let size = PartSize::Bore(Length::from_inches(d));
            let c = two_barrel().with(PartPath::MainJet(SetName::Primary), size).unwrap();
            model(&c).at(at(flow, vacuum)).unwrap().lambda.as_ratio()
        };
        prop_assert!(with(jet * 1.01) <= with(jet) * (1.0 + 1e-5));
    }
}

#[test]
fn the_main_begins_once_and_a_bigger_jet_does_not_put_it_off() {
    // Where the main just begins: a light emulsion that flows and a heavy one that stands were both answers here.
    let with = |d: f64| {
        let size = PartSize::Bore(Length::from_inches(d));
        let c = two_barrel().with(PartPath::MainJet(SetName::Primary), size).unwrap();
        model(&c).at(at(43.729_775_698_800_2, 7.161_359_503_611_503)).unwrap()
    };
    let (small, large) = (with(0.045_528_512_531_238_144), with(0.045_528_512_531_238_144 * 1.01));
    assert!(large.lambda < small.lambda, "{small:?} {large:?}");
    assert!((large.air / small.air - 1.0).abs() < 2e-4, "{small:?} {large:?}");
}
