//! An engine as written.

use super::super::section::{Bounds, Section, within};
use crate::setup::{Cam, Cooling, Drive, Engine, Plenum, Standing};
use crate::units::{CrankAngle, EngineSpeed, Fraction, Length, Volume};

const DISPLACEMENT: Bounds<Volume> = within(
    Volume::from_l(0.02),
    Volume::from_l(60.0),
    "from the smallest mower to the largest stationary engine",
);
const LENGTH: Bounds<Length> =
    within(Length::from_mm(20.0), Length::from_mm(300.0), "no cylinder is outside this");
const DURATION: Bounds<CrankAngle> = within(
    CrankAngle::from_deg(120.0),
    CrankAngle::from_deg(340.0),
    "it is measured at 0.050 in of tappet lift, in crank degrees",
);
const SEPARATION: Bounds<CrankAngle> =
    within(CrankAngle::from_deg(90.0), CrankAngle::from_deg(130.0), "it is measured in cam degrees");
const CENTERLINE: Bounds<CrankAngle> =
    within(CrankAngle::from_deg(80.0), CrankAngle::from_deg(140.0), "it is measured after top dead centre");
const SPEED: Bounds<EngineSpeed> =
    within(EngineSpeed::from_rpm(300.0), EngineSpeed::from_rpm(20_000.0), "the highest speed really used");
const IDLE: Bounds<EngineSpeed> =
    within(EngineSpeed::from_rpm(200.0), EngineSpeed::from_rpm(3_000.0), "no engine idles outside this");
const EFFICIENCY: Bounds<Fraction> = within(
    Fraction::from_percent(30.0),
    Fraction::from_percent(140.0),
    "a tired engine fills to half, a tuned one to 115 %",
);
const TIMING: Bounds<CrankAngle> =
    within(CrankAngle::from_deg(-20.0), CrankAngle::from_deg(60.0), "it is read before top dead centre");

/// Reads an engine.
pub(in crate::profile) fn engine(s: Section<'_>) -> Option<Engine> {
    let name = s.name("name", "the six in the shed");
    let displacement = s.quantity("displacement", "4.2 L", &DISPLACEMENT);
    let cylinders = s.count("cylinders", "6", &within(1, 28, "an engine has at least one"));
    let bore = s.maybe_quantity("bore", "94 mm", &LENGTH);
    let stroke = s.maybe_quantity("stroke", "100 mm", &LENGTH);
    let compression =
        s.maybe_number("compression", "8.4", &within(3.0, 20.0, "it is volume at bottom to volume at top"));
    let cam = s.section("cam").map(cam);
    let cooling = s.choice("cooling", COOLING, Some(Cooling::Water));
    let drive = s.choice("drive", DRIVE, None);
    let plenum = s.choice("plenum", PLENUM, Some(Plenum::DualPlane));
    let rated_speed = s.quantity("rated_speed", "4100 rpm", &SPEED);
    let volumetric_efficiency = s.quantity("volumetric_efficiency", "80 %", &EFFICIENCY);
    let idle_speed = s.maybe_quantity("idle_speed", "650 rpm", &IDLE);
    let idle_timing = s.maybe_quantity("idle_timing", "8 deg", &TIMING);
    let vacuum_brakes = s.flag("vacuum_brakes", false);
    let standing = s.choice("standing", STANDING, Some(Standing::Unknown));
    if let (Some(idle), Some(rated)) = (idle_speed, rated_speed)
        && idle >= rated
    {
        s.fault("idle_speed", "the idle speed is not below the rated speed", "mend one of the two");
    }
    if let (Some(v), Some(n)) = (displacement, cylinders) {
        whole_and_cylinders(&s, v, n, bore, stroke);
    }
    s.end();
    Some(Engine {
        name: name?,
        displacement: displacement?,
        cylinders: cylinders?,
        bore,
        stroke,
        compression,
        cam: match cam {
            Some(read) => Some(read?),
            None => None,
        },
        cooling: cooling?,
        drive: drive?,
        plenum: plenum?,
        rated_speed: rated_speed?,
        volumetric_efficiency: volumetric_efficiency?,
        idle_speed,
        idle_timing,
        vacuum_brakes: vacuum_brakes?,
        standing: standing?,
    })
}

/// Displacement held against the cylinders: a slip of a unit shows here.
fn whole_and_cylinders(
    s: &Section<'_>,
    whole: Volume,
    cylinders: u8,
    bore: Option<Length>,
    stroke: Option<Length>,
) {
    let each = whole / f64::from(cylinders);
    if each < Volume::from_cc(15.0) || each > Volume::from_l(4.0) {
        let what = format!(
            "displacement comes to {:.0} cc a cylinder, which no carbureted engine has",
            each.as_cc()
        );
        s.fault("displacement", &what, "it is the whole engine's, all cylinders; look at its unit too");
    }
    if let (Some(bore), Some(stroke)) = (bore, stroke) {
        let swept = Volume::from_m3(bore.bore_area().as_m2() * stroke.as_m()) * f64::from(cylinders);
        if (swept / whole - 1.0).abs() > 0.03 {
            let what = format!(
                "bore and stroke of {cylinders} cylinders sweep {:.2} L, not {:.2} L",
                swept.as_l(),
                whole.as_l()
            );
            s.fault("displacement", &what, "mend the one that is wrong, or leave bore and stroke out");
        }
    }
}

fn cam(s: Section<'_>) -> Option<Cam> {
    let intake_duration = s.quantity("intake_duration", "202 deg", &DURATION);
    let exhaust_duration = s.quantity("exhaust_duration", "206 deg", &DURATION);
    let separation = s.quantity("separation", "112 deg", &SEPARATION);
    let centerline = s.maybe_quantity("centerline", "108 deg", &CENTERLINE);
    s.end();
    Some(Cam {
        intake_duration: intake_duration?,
        exhaust_duration: exhaust_duration?,
        separation: separation?,
        centerline,
    })
}

const COOLING: &[(&str, Cooling)] = &[("water", Cooling::Water), ("air", Cooling::Air)];
const DRIVE: &[(&str, Drive)] = &[
    ("manual", Drive::Manual),
    ("automatic", Drive::Automatic),
    ("loose-automatic", Drive::LooseAutomatic),
    ("propeller", Drive::Propeller),
    ("none", Drive::None),
];
const PLENUM: &[(&str, Plenum)] = &[
    ("dual-plane", Plenum::DualPlane),
    ("single-plane", Plenum::SinglePlane),
    ("individual-runner", Plenum::IndividualRunner),
];
const STANDING: &[(&str, Standing)] = &[
    ("certified-road", Standing::CertifiedRoad),
    ("off-road", Standing::OffRoad),
    ("marine", Standing::Marine),
    ("competition-only", Standing::CompetitionOnly),
    ("exempt-by-age", Standing::ExemptByAge),
    ("unknown", Standing::Unknown),
];
