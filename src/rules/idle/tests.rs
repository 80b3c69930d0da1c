use super::*;
use crate::setup::Standing;
use crate::units::{Fraction, Volume};
use proptest::prelude::*;

/// The table's own engine: eight cylinders of 44 in3, 110 degrees of separation, manual, sea level.
pub(crate) fn plain(duration: f64) -> Engine {
    Engine {
        name: "plain".to_owned(),
        displacement: Volume::from_in3(352.0),
        cylinders: 8,
        bore: None,
        stroke: None,
        compression: None,
        cam: Some(cam(duration, duration, 110.0)),
        cooling: Cooling::Water,
        drive: Drive::Manual,
        plenum: Plenum::DualPlane,
        rated_speed: EngineSpeed::from_rpm(5500.0),
        volumetric_efficiency: Fraction::from_percent(85.0),
        idle_speed: None,
        idle_timing: None,
        vacuum_brakes: false,
        standing: Standing::Unknown,
    }
}

fn cam(i: f64, e: f64, s: f64) -> Cam {
    let deg = CrankAngle::from_deg;
    Cam { intake_duration: deg(i), exhaust_duration: deg(e), separation: deg(s), centerline: None }
}

fn street(engine: &Engine) -> IdleAim {
    aim(engine, Application::Street, None, &RuleBook::common(), System::Us)
}

fn rpm_of(speed: EngineSpeed) -> f64 {
    (speed.as_rpm() * 1000.0).round() / 1000.0
}

#[test]
fn a_cam_of_218_aims_at_750() {
    let a = street(&plain(218.0));
    assert_eq!(rpm_of(a.aim), 750.0);
    assert_eq!((rpm_of(a.low), rpm_of(a.high)), (650.0, 750.0));
    assert!(a.reasons.iter().any(|r| r.contains("straight-line seed gives 710 rpm")), "{:?}", a.reasons);
}

#[test]
fn rows_change_at_their_borders() {
    for (duration, low, high) in [
        (199.9, 550.0, 650.0),
        (200.0, 600.0, 700.0),
        (209.9, 600.0, 700.0),
        (210.0, 650.0, 750.0),
        (220.0, 700.0, 850.0),
        (229.9, 700.0, 850.0),
        (230.0, 800.0, 950.0),
        (240.0, 900.0, 1050.0),
        (250.0, 1000.0, 1200.0),
        (260.0, 1100.0, 1300.0),
        (269.9, 1100.0, 1300.0),
        (270.0, 1200.0, 1500.0),
        (320.0, 1200.0, 1500.0),
    ] {
        let a = street(&plain(duration));
        assert_eq!((rpm_of(a.low), rpm_of(a.high)), (low, high), "{duration}");
    }
}

#[test]
fn displacement_a_cylinder_shifts_the_duration() {
    let mut small = plain(225.0);
    small.displacement = Volume::from_in3(352.0 * 0.8);
    assert_eq!(rpm_of(street(&small).low), 800.0, "20 % smaller acts like 7 degrees more: 232");
    let mut large = plain(225.0);
    large.displacement = Volume::from_in3(352.0 * 1.2);
    assert_eq!(rpm_of(street(&large).low), 650.0, "20 % larger acts like 7 degrees less: 218");
}

#[test]
fn five_thousand_feet_take_five_inches() {
    // expected 18 at sea level, 13 at 5000 ft (US Army OD1001 lesson 3), within 0.3
    let barometer = crate::physics::atmosphere::standard("5000 ft".parse().unwrap()).unwrap().pressure;
    let e = plain(215.0);
    let here = street(&e);
    let there = aim(&e, Application::Street, Some(barometer), &RuleBook::common(), System::Us);
    assert!((here.vacuum_high.as_inhg() - 18.0).abs() < 1e-9);
    assert!((there.vacuum_high.as_inhg() - 13.0).abs() < 0.3);
    assert_eq!(there.aim, here.aim);
}

#[test]
fn separation_and_plenum_move_the_vacuum_not_the_aim() {
    let mut wide = plain(225.0);
    wide.cam = Some(cam(225.0, 225.0, 112.0));
    let (a, b) = (street(&plain(225.0)), street(&wide));
    let gain = b.vacuum_low.above(a.vacuum_low).as_inhg();
    assert!((0.5..=1.0).contains(&gain), "two degrees wider is worth 0.5 to 1 inHg: {gain}");
    assert_eq!(a.aim, b.aim);
    let mut open = plain(225.0);
    open.plenum = Plenum::SinglePlane;
    let c = street(&open);
    assert!((a.vacuum_low.above(c.vacuum_low).as_inhg() - 3.0).abs() < 1e-9);
    assert!((a.vacuum_high.above(c.vacuum_high).as_inhg() - 1.0).abs() < 1e-9);
}

#[test]
fn use_drive_and_maker() {
    let e = plain(215.0);
    let of = |a| rpm_of(aim(&e, a, None, &RuleBook::common(), System::Us).aim);
    assert_eq!((of(Application::Tow), of(Application::Race)), (650.0, 750.0));
    let mut auto = plain(215.0);
    auto.drive = Drive::Automatic;
    assert_eq!(street(&auto).in_gear.map(rpm_of), Some(580.0));
    let tow = aim(&auto, Application::Tow, None, &RuleBook::common(), System::Us);
    assert!(tow.in_gear.unwrap() >= EngineSpeed::from_rpm(550.0));
    assert_eq!(street(&e).in_gear, None);
    let mut made = plain(215.0);
    made.idle_speed = Some(EngineSpeed::from_rpm(680.0));
    let a = street(&made);
    assert_eq!((rpm_of(a.aim), rpm_of(a.low), rpm_of(a.high)), (680.0, 630.0, 730.0));
    (made.drive, made.idle_speed) = (Drive::Propeller, Some(EngineSpeed::from_rpm(640.0)));
    assert_eq!(street(&made).in_gear.map(rpm_of), Some(640.0), "650 in gear, but not faster than neutral");
}

#[test]
fn the_workboat() {
    let mut e = plain(202.0);
    e.displacement = Volume::from_in3(256.0);
    e.cylinders = 6;
    e.cam = Some(cam(202.0, 206.0, 112.0));
    e.drive = Drive::Propeller;
    let a = aim(&e, Application::Marine, Some(Pressure::from_inhg(30.05)), &RuleBook::common(), System::Us);
    assert_eq!((rpm_of(a.low), rpm_of(a.high)), (600.0, 700.0));
    assert_eq!(a.in_gear.map(rpm_of), Some(650.0));
    assert_eq!(rpm_of(a.aim), 700.0);
    assert_eq!(a.overlap.unwrap().as_deg(), -20.0);
    // 17.6 inHg was found when it ran right
    assert!(a.vacuum_low.as_inhg() < 17.6 + 0.5 && a.vacuum_high.as_inhg() > 17.6, "{a:?}");
}

#[test]
fn overlap_beyond_fifteen_makes_lambda_a_witness() {
    assert!(!street(&plain(235.0)).lambda_is_witness);
    assert!(street(&plain(235.1)).lambda_is_witness);
}

#[test]
fn late_timing_and_weak_brakes_are_said() {
    let mut e = plain(225.0);
    (e.idle_timing, e.vacuum_brakes) = (Some(CrankAngle::from_deg(7.9)), true);
    e.plenum = Plenum::SinglePlane;
    let said = street(&e).reasons.join("\n");
    assert!(said.contains("mend that first") && said.contains("reservoir"), "{said}");
    (e.idle_timing, e.plenum) = (Some(CrankAngle::from_deg(8.0)), Plenum::DualPlane);
    let said = street(&e).reasons.join("\n");
    assert!(!said.contains("mend that first") && !said.contains("reservoir"), "{said}");
}

#[test]
fn the_reasons_are_in_the_units_asked_for() {
    let mut e = plain(235.1);
    e.displacement = Volume::from_in3(352.0 * 0.8);
    e.cam = Some(cam(235.1, 245.0, 108.0));
    (e.idle_timing, e.vacuum_brakes, e.plenum) = (Some(CrankAngle::from_deg(7.9)), true, Plenum::SinglePlane);
    let barometer = Some(Pressure::from_kpa(84.0));
    let [us, metric] = [System::Us, System::Metric]
        .map(|system| aim(&e, Application::Street, barometer, &RuleBook::common(), system));
    assert_eq!(us.reasons.len(), metric.reasons.len());
    assert_eq!(
        IdleAim { reasons: Vec::new(), ..us.clone() },
        IdleAim { reasons: Vec::new(), ..metric.clone() }
    );
    let (us, metric) = (us.reasons.join("\n"), metric.reasons.join("\n"));
    for (there, here) in [(" inHg", " kPa"), (" in3", " cc"), (" ft", " m")] {
        assert!(us.contains(there) && !metric.contains(there), "{there}: {metric}");
        assert!(metric.contains(here), "{here}: {metric}");
    }
}

#[test]
fn an_unknown_cam_is_said_to_be_taken_as_stock() {
    let mut e = plain(0.0);
    e.cam = None;
    let a = street(&e);
    assert_eq!((rpm_of(a.low), rpm_of(a.high)), (550.0, 650.0));
    assert!(a.reasons[0].contains("not known"));
    let mut pump = e.clone();
    (pump.cylinders, pump.displacement, pump.cooling) = (1, Volume::from_cc(300.0), Cooling::Air);
    assert_eq!(rpm_of(aim(&pump, Application::Farm, None, &RuleBook::common(), System::Us).aim), 1200.0);
}

proptest! {
    #[test]
    fn more_cam_never_idles_slower_nor_with_more_vacuum(d in 170.0..300.0f64, step in 0.0..20.0f64) {
        let (a, b) = (street(&plain(d)), street(&plain(d + step)));
        prop_assert!(b.aim >= a.aim && b.vacuum_low <= a.vacuum_low && b.vacuum_high <= a.vacuum_high);
        prop_assert!(a.aim >= a.low && a.aim <= a.high, "{a:?}");
    }
}
