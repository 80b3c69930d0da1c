//! `leanbest cam`.

use super::load_fault;
use crate::cli::{Console, Exit, Fault, layout, typed};
use crate::physics::cam::{ValveEvents, events};
use crate::profile::load_setup;
use crate::rules::RuleBook;
use crate::rules::idle::{IdleAim, aim};
use crate::setup::{Application, Cam, Cooling, Drive, Engine, Plenum, Standing};
use crate::units::show::{Shown, fixed};
use crate::units::{CrankAngle, EngineSpeed, Fraction, Pressure, Volume};
use serde_json::json;

/// Arguments of `cam`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Intake duration at 0.050 in, crank degrees
    #[arg(long, value_name = "DEG", value_parser = typed::degrees, required_unless_present = "setup")]
    intake: Option<CrankAngle>,
    /// Exhaust duration at 0.050 in, crank degrees
    #[arg(long, value_name = "DEG", value_parser = typed::degrees, required_unless_present = "setup")]
    exhaust: Option<CrankAngle>,
    /// Lobe separation, cam degrees
    #[arg(long, value_name = "DEG", value_parser = typed::degrees, required_unless_present = "setup")]
    separation: Option<CrankAngle>,
    /// Installed intake centreline, crank degrees after top dead centre (left out: straight up)
    #[arg(long, value_name = "DEG", value_parser = typed::degrees)]
    centerline: Option<CrankAngle>,
    /// Barometer beside the engine (left out: sea level)
    #[arg(long, value_name = "PRESSURE")]
    barometer: Option<Pressure>,
    /// Setup whose engine, use and rules count; what is typed beside it replaces its cam's figures
    #[arg(long, value_name = "NAME or FILE")]
    setup: Option<String>,
}

/// Runs `cam`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let job = job_of(args, console)?;
    let cam = job.cam;
    let idle = aim(&job.engine, job.application, job.barometer, &job.book, console.system);
    let valve = events(&cam);
    if console.json {
        console.answer_json(&as_json(&valve, &idle))?;
    } else {
        as_text(&cam, &valve, &idle, console)?;
    }
    Ok(Exit::Done)
}

/// What the idle aim is reckoned for.
struct Job {
    cam: Cam,
    engine: Engine,
    application: Application,
    barometer: Option<Pressure>,
    book: RuleBook,
}

fn job_of(args: &Args, console: &mut Console) -> Result<Job, Fault> {
    let Some(name) = &args.setup else {
        let cam = cam_of(args, None)?;
        let book = RuleBook::common();
        let engine = engine_of_the_table(cam, &book);
        return Ok(Job { cam, engine, application: Application::Street, barometer: args.barometer, book });
    };
    let loaded = load_setup(name, console.profiles.as_deref()).map_err(load_fault)?;
    for warning in &loaded.warnings {
        console.complain(warning);
    }
    let cam = cam_of(args, loaded.setup.engine.cam)?;
    let engine = Engine { cam: Some(cam), ..loaded.setup.engine };
    let barometer = args.barometer.or(loaded.setup.weather.map(|w| w.pressure));
    Ok(Job { cam, engine, application: loaded.setup.application, barometer, book: loaded.rules })
}

/// The cam typed, over that of the setup, when it can be one.
fn cam_of(args: &Args, of_setup: Option<Cam>) -> Result<Cam, Fault> {
    let figure = |typed: Option<CrankAngle>, of_setup: Option<CrankAngle>, name: &str| {
        typed.or(of_setup).ok_or_else(|| {
            Fault::input(format!("the setup's engine names no cam, and --{name} is not given"))
                .hint("Give --intake, --exhaust and --separation, or name the cam in the setup.")
        })
    };
    let intake_duration = figure(args.intake, of_setup.map(|c| c.intake_duration), "intake")?;
    let exhaust_duration = figure(args.exhaust, of_setup.map(|c| c.exhaust_duration), "exhaust")?;
    let separation = figure(args.separation, of_setup.map(|c| c.separation), "separation")?;
    let centerline = args.centerline.or(of_setup.and_then(|c| c.centerline));
    let within = |name: &str, angle: CrankAngle, low: f64, high: f64| {
        if (low..=high).contains(&angle.as_deg()) {
            return Ok(());
        }
        let said = fixed(angle.as_deg(), 1);
        Err(Fault::input(format!("--{name}: {said} degrees is outside {low} to {high}"))
            .hint("Durations are in crank degrees at 0.050 in of lift; separation in cam degrees."))
    };
    within("intake", intake_duration, 120.0, 400.0)?;
    within("exhaust", exhaust_duration, 120.0, 400.0)?;
    within("separation", separation, 90.0, 135.0)?;
    if let Some(c) = centerline {
        within("centerline", c, 80.0, 140.0)?;
    }
    Ok(Cam { intake_duration, exhaust_duration, separation, centerline })
}

/// The engine the idle table is written for, with this cam.
fn engine_of_the_table(cam: Cam, book: &RuleBook) -> Engine {
    const CYLINDERS: u8 = 8;
    Engine {
        name: "the table's engine".to_owned(),
        displacement: Volume::from_m3(book.idle.reference_cylinder.as_m3() * f64::from(CYLINDERS)),
        cylinders: CYLINDERS,
        bore: None,
        stroke: None,
        compression: None,
        cam: Some(cam),
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

fn as_json(v: &ValveEvents, idle: &IdleAim) -> serde_json::Value {
    json!({
        "overlap_deg": v.overlap.as_deg(),
        "ivo_btdc_deg": v.intake_opens_btdc.as_deg(),
        "ivc_abdc_deg": v.intake_closes_abdc.as_deg(),
        "evo_bbdc_deg": v.exhaust_opens_bbdc.as_deg(),
        "evc_atdc_deg": v.exhaust_closes_atdc.as_deg(),
        "idle_aim_rpm": whole(idle.aim),
        "idle_low_rpm": whole(idle.low),
        "idle_high_rpm": whole(idle.high),
        "idle_in_gear_rpm": idle.in_gear.map(whole),
        "vacuum_low_inhg": tenth(idle.vacuum_low.as_inhg()),
        "vacuum_high_inhg": tenth(idle.vacuum_high.as_inhg()),
        "character": idle.character,
        "lambda_is_witness": idle.lambda_is_witness,
        "why": idle.reasons,
    })
}

/// Rules of thumb are whole revolutions; conversion dust is not shown.
fn whole(speed: EngineSpeed) -> f64 {
    speed.as_rpm().round()
}

fn tenth(inhg: f64) -> f64 {
    (inhg * 10.0).round() / 10.0
}

fn as_text(cam: &Cam, v: &ValveEvents, idle: &IdleAim, console: &mut Console) -> Result<(), Fault> {
    let us = console.system;
    let deg = |a: CrankAngle| fixed(a.as_deg(), 1).trim_end_matches(".0").to_owned();
    let side = |a: CrankAngle, before: &str, after: &str| {
        format!("{} deg {}", deg(a.abs()), if a < CrankAngle::ZERO { after } else { before })
    };
    console.say(&format!(
        "Cam {}/{} at 0.050 in on {}, intake centreline {}",
        deg(cam.intake_duration),
        deg(cam.exhaust_duration),
        deg(cam.separation),
        deg(cam.centerline.unwrap_or(cam.separation))
    ))?;
    console.say("")?;
    let mut rows = vec![
        ("intake opens", side(v.intake_opens_btdc, "before top dead centre", "after top dead centre")),
        (
            "intake closes",
            side(v.intake_closes_abdc, "after bottom dead centre", "before bottom dead centre"),
        ),
        (
            "exhaust opens",
            side(v.exhaust_opens_bbdc, "before bottom dead centre", "after bottom dead centre"),
        ),
        ("exhaust closes", side(v.exhaust_closes_atdc, "after top dead centre", "before top dead centre")),
        ("overlap", format!("{} deg", deg(v.overlap))),
        (
            "idle",
            format!("{}, from {} to {}", idle.aim.show(us), fixed(idle.low.as_rpm(), 0), idle.high.show(us)),
        ),
    ];
    if let Some(gear) = idle.in_gear {
        rows.push(("idle in gear", gear.show(us)));
    }
    rows.push(("idle vacuum", format!("{} to {}", idle.vacuum_low.show(us), idle.vacuum_high.show(us))));
    rows.push(("character", idle.character.clone()));
    layout::facts(console, &rows)?;
    let mut why = idle.reasons.clone();
    if cam.intake_duration > CrankAngle::from_deg(275.0) {
        why.push("so long a duration is usually an advertised one: the idle figures hold for durations at 0.050 in only".to_owned());
    }
    Ok(layout::sentences(console, "Why", &why)?)
}
