//! Curb idle and the vacuum to expect at it, from the cam.
#![doc = "\n"]
#![doc = include_str!("why/idle-aim.md")]

use super::book::{IdleNumbers, IdleRow, RuleBook};
use super::border::{above, below};
use crate::physics::cam::overlap;
use crate::setup::{Application, Cam, Cooling, Drive, Engine, Plenum};
use crate::units::show::{Shown, fixed};
use crate::units::{CrankAngle, EngineSpeed, Pressure, PressureDifference, System, Vacuum};
use serde::{Deserialize, Serialize};

/// What idle to aim at, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IdleAim {
    /// Aim with nothing engaged.
    pub aim: EngineSpeed,
    /// Slowest that is normal.
    pub low: EngineSpeed,
    /// Fastest that is normal.
    pub high: EngineSpeed,
    /// Least vacuum that is normal, at this altitude.
    pub vacuum_low: Vacuum,
    /// Most vacuum that is normal, at this altitude.
    pub vacuum_high: Vacuum,
    /// Overlap of the cam at 0.050 in, when the cam is known.
    pub overlap: Option<CrankAngle>,
    /// Aim in gear, where the drive makes that the one that counts.
    pub in_gear: Option<EngineSpeed>,
    /// How such an engine idles.
    pub character: String,
    /// Lambda at this idle is a witness only, because overlap passes fresh charge to the sensor.
    pub lambda_is_witness: bool,
    /// What it rests on, a sentence each, with sources.
    pub reasons: Vec<String>,
}

const SEA_LEVEL: Pressure = Pressure::from_pa(crate::physics::atmosphere::SEA_LEVEL_PA);
const TABLE: &str = "idle table by duration at 0.050 in: common practice, soft";

/// Curb idle for an engine, and the vacuum to expect at it; why, and from where: see [the module](self).
///
/// `barometer` is the station pressure; without it sea level is taken. `system` is the units of the reasons.
pub fn aim(
    engine: &Engine,
    application: Application,
    barometer: Option<Pressure>,
    book: &RuleBook,
    system: System,
) -> IdleAim {
    let n = &book.idle;
    let mut reasons = Vec::new();
    let duration = shifted_duration(engine, n, system, &mut reasons);
    let row = row_of(n, duration);
    let mut aim = from_curve(n, engine.cam.as_ref(), duration, row, &mut reasons);
    let (mut low, mut high) = (row.low, row.high);
    aim = for_use(aim, row, application, engine.drive, &mut reasons);
    if let Some(class) = industrial_class(engine, application, n) {
        (aim, low, high) = (class.aim, class.low, class.high);
        reasons.push(format!("small air-cooled work engine: {}", class.source));
    }
    let mut in_gear = gear_aim(row, engine.drive, application, book, &mut reasons);
    if engine.drive == Drive::Propeller
        && let Some(gear) = in_gear
    {
        aim = (gear + n.propeller.neutral_above).clamp(low, high);
    }
    aim = rounded(aim.clamp(n.lowest, n.highest));
    if let Some(maker) = engine.idle_speed {
        reasons.push(format!("the maker's or builder's {} wins over the table's {}", rpm(maker), rpm(aim)));
        (aim, low, high) = (maker, maker - n.maker_tolerance, maker + n.maker_tolerance);
        // the maker's figure is for neutral; in gear never faster than that
        in_gear = in_gear.map(|gear| gear.min(maker));
    }
    let (vacuum_low, vacuum_high) = vacuum_band(engine, row, barometer, n, system, &mut reasons);
    let overlap = engine.cam.as_ref().map(overlap);
    let lambda_is_witness = overlap.is_some_and(|o| above(o, n.rough_overlap));
    engine_remarks(engine, vacuum_low, lambda_is_witness, n, system, &mut reasons);
    IdleAim {
        aim,
        low,
        high,
        vacuum_low,
        vacuum_high,
        overlap,
        in_gear,
        character: row.character.clone(),
        lambda_is_witness,
        reasons,
    }
}

fn rpm(speed: EngineSpeed) -> String {
    speed.show(System::Us)
}

fn rounded(speed: EngineSpeed) -> EngineSpeed {
    EngineSpeed::from_rpm((speed.as_rpm() / 10.0).round() * 10.0)
}

/// The duration the table is entered with: each 10 % more displacement a cylinder acts like some degrees less.
fn shifted_duration(
    engine: &Engine,
    n: &IdleNumbers,
    system: System,
    reasons: &mut Vec<String>,
) -> CrankAngle {
    let Some(cam) = &engine.cam else {
        let stock = n.row.first().map_or(CrankAngle::ZERO, |r| r.below - CrankAngle::from_deg(0.1));
        reasons.push(
            "the cam is not known: taken as a stock cam; name its durations at 0.050 in for a better aim"
                .to_owned(),
        );
        return stock;
    };
    let each = engine.displacement / f64::from(engine.cylinders.max(1));
    let tenths = (each / n.reference_cylinder - 1.0) * 10.0;
    let shift = (n.duration_for_ten_percent * -tenths).clamp(-n.most_duration_shift, n.most_duration_shift);
    if shift.as_deg().abs() >= 0.5 {
        reasons.push(format!(
            "{} a cylinder against the table's {}: {} acts like {} (each 10 % is worth {} degrees; common practice)",
            each.show(system),
            n.reference_cylinder.show(system),
            cam.intake_duration.show(system),
            (cam.intake_duration + shift).show(system),
            fixed(n.duration_for_ten_percent.as_deg(), 1),
        ));
    }
    cam.intake_duration + shift
}

fn row_of(n: &IdleNumbers, duration: CrankAngle) -> &IdleRow {
    let index = n.row.partition_point(|r| !below(duration, r.below));
    &n.row[index.min(n.row.len() - 1)]
}

fn from_curve(
    n: &IdleNumbers,
    cam: Option<&Cam>,
    duration: CrankAngle,
    row: &IdleRow,
    reasons: &mut Vec<String>,
) -> EngineSpeed {
    let curve = interpolated(n, duration).clamp(n.lowest, n.highest);
    let aim = rounded(curve.clamp(row.low, row.high));
    if cam.is_some() {
        let degrees = (duration - n.seed.at).as_deg();
        let seed =
            (n.seed.speed + n.seed.speed_for_ten_degrees * (degrees / 10.0)).clamp(n.lowest, n.highest);
        reasons.push(format!(
            "{} at 0.050 in: {} (row {} to {}); {TABLE}. A straight-line seed gives {}",
            duration.show(System::Us),
            rpm(aim),
            fixed(row.low.as_rpm(), 0),
            rpm(row.high),
            rpm(seed)
        ));
    }
    aim
}

fn interpolated(n: &IdleNumbers, duration: CrankAngle) -> EngineSpeed {
    let after = n.anchor.partition_point(|a| a.duration <= duration);
    match (after.checked_sub(1).and_then(|i| n.anchor.get(i)), n.anchor.get(after)) {
        (Some(a), Some(b)) => {
            let share = (duration - a.duration) / (b.duration - a.duration);
            a.speed + (b.speed - a.speed) * share
        }
        (Some(only), None) | (None, Some(only)) => only.speed,
        (None, None) => n.lowest,
    }
}

fn for_use(
    aim: EngineSpeed,
    row: &IdleRow,
    application: Application,
    drive: Drive,
    reasons: &mut Vec<String>,
) -> EngineSpeed {
    match application {
        Application::Tow | Application::Farm | Application::Marine if drive != Drive::Propeller => {
            reasons.push(
                "towing, farm and marine engines idle at the low end of the row (common practice)".to_owned(),
            );
            row.low
        }
        Application::Race => {
            reasons.push("competition: the high end of the row (common practice)".to_owned());
            row.high
        }
        _ => aim,
    }
}

/// The idle that counts with the drive engaged, where it does.
fn gear_aim(
    row: &IdleRow,
    drive: Drive,
    application: Application,
    book: &RuleBook,
    reasons: &mut Vec<String>,
) -> Option<EngineSpeed> {
    let n = &book.idle;
    match drive {
        Drive::Automatic => {
            let truck = application == Application::Tow;
            let least = if truck { book.in_gear.truck_stop_below } else { book.in_gear.stop_below };
            let gear = rounded((row.low - n.automatic_below_row).max(least));
            reasons.push(format!(
                "automatic with an ordinary converter: set {} in gear, then accept what neutral gives (common practice)",
                rpm(gear)
            ));
            Some(gear)
        }
        Drive::Propeller => {
            let p = &n.propeller;
            let gear = p.aim.max(row.low - book.in_gear.fall_mild.high);
            reasons.push(format!(
                "propeller engaged, in the water: {} ({} to {} accepted; above {} the shift suffers; marine owners' pages)",
                rpm(gear),
                fixed(p.low.as_rpm(), 0),
                rpm(p.high),
                rpm(p.too_fast)
            ));
            Some(gear)
        }
        Drive::Manual | Drive::LooseAutomatic | Drive::None => None,
    }
}

/// Small air-cooled work engines have published idle speeds of their own.
fn industrial_class<'b>(
    engine: &Engine,
    application: Application,
    n: &'b IdleNumbers,
) -> Option<&'b super::book::IdleClass> {
    let small = engine.cylinders <= 2
        && engine.displacement / f64::from(engine.cylinders.max(1)) <= n.reference_cylinder;
    let fits =
        small && engine.cooling == Cooling::Air && application == Application::Farm && engine.cam.is_none();
    fits.then(|| n.class.iter().find(|c| c.kind == "small-industrial"))?
}

fn vacuum_band(
    engine: &Engine,
    row: &IdleRow,
    barometer: Option<Pressure>,
    n: &IdleNumbers,
    system: System,
    reasons: &mut Vec<String>,
) -> (Vacuum, Vacuum) {
    let (mut low, mut high) = (row.vacuum_low, row.vacuum_high);
    if let Some(cam) = &engine.cam {
        // what this cam overlaps beyond a single-pattern cam of its intake duration on the table's separation
        let extra = overlap(cam) - (cam.intake_duration - n.reference_overlap_at);
        let loss = n.vacuum_for_ten_degrees_overlap * (extra.as_deg() / 10.0);
        if loss.as_inhg().abs() >= 0.05 {
            (low, high) = (low.plus(-loss), high.plus(-loss));
            reasons.push(format!(
                "overlap {} degrees {} than the table's cam: vacuum {} {} (common practice)",
                fixed(extra.as_deg().abs(), 0),
                if extra > CrankAngle::ZERO { "more" } else { "less" },
                if extra > CrankAngle::ZERO { "less by" } else { "more by" },
                loss.abs().show(system)
            ));
        }
    }
    if engine.plenum != Plenum::DualPlane {
        let hidden = n.open_plenum_reads_lower;
        (low, high) = (low.plus(-hidden.high), high.plus(-hidden.low));
        reasons.push(format!(
            "open plenum or individual throats: the gauge pulses and reads {} to {} lower (common practice)",
            fixed(hidden.low.number(system), 0),
            hidden.high.show(system)
        ));
    }
    if let Some(barometer) = barometer {
        let missing = SEA_LEVEL.drop_to(barometer);
        if missing.abs() >= PressureDifference::from_inhg(0.3) {
            (low, high) = (low.plus(-missing), high.plus(-missing));
            reasons.push(format!(
                "barometer {}: vacuum {} by {} than at sea level (US Army OD1001 lesson 3: {})",
                barometer.show(system),
                if missing > PressureDifference::ZERO { "lower" } else { "higher" },
                missing.abs().show(system),
                match system {
                    System::Us => "1 inHg for 1000 ft",
                    System::Metric => "11 kPa for 1000 m",
                }
            ));
        }
    }
    (low.max(Vacuum::ZERO), high.max(Vacuum::ZERO))
}

fn engine_remarks(
    engine: &Engine,
    vacuum_low: Vacuum,
    witness: bool,
    n: &IdleNumbers,
    system: System,
    reasons: &mut Vec<String>,
) {
    if witness {
        reasons.push(format!(
            "overlap beyond {}: lambda at idle reads lean and is a witness only; vacuum decides",
            n.rough_overlap.show(system)
        ));
    }
    if let Some(timing) = engine.idle_timing.filter(|t| below(*t, n.timing_at_least)) {
        reasons.push(format!(
            "timing of {} at idle is below {}: mend that first, it is worth {} and 50 to 200 rpm (common practice)",
            timing.show(system),
            n.timing_at_least.show(system),
            match system {
                System::Us => "0.5 to 2 inHg",
                System::Metric => "2 to 7 kPa",
            }
        ));
    }
    if engine.vacuum_brakes && below(vacuum_low, n.brakes_need_help_below) {
        reasons.push(format!(
            "vacuum brakes want {} for full assistance and may get less than {}: plan a reservoir or a pump",
            n.brakes_full_assist.show(system),
            n.brakes_need_help_below.show(system)
        ));
    }
}

#[cfg(test)]
mod tests;
