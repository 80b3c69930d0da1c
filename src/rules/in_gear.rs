//! Whether an engine takes being put in gear.
#![doc = "\n"]
#![doc = include_str!("why/gear-limits.md")]

use super::book::RuleBook;
use super::border::{above, below};
use crate::setup::{Application, Drive};
use crate::units::show::Shown;
use crate::units::{CrankAngle, EngineSpeed, PressureDifference, System, Vacuum};
use serde::{Deserialize, Serialize};

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct GearReadings {
    /// Speed in neutral.
    pub speed_neutral: EngineSpeed,
    /// Speed engaged; `None` when it stalled.
    pub speed_engaged: Option<EngineSpeed>,
    /// Vacuum in neutral.
    pub vacuum_neutral: Option<Vacuum>,
    /// Vacuum engaged.
    pub vacuum_engaged: Option<Vacuum>,
}

/// How it came out, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GearVerdict {
    /// As it should be.
    Good,
    /// More than usual; look.
    Watch,
    /// Do not tune around it; find the cause.
    Stop,
}

/// One thing found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GearFinding {
    /// How bad.
    pub verdict: GearVerdict,
    /// What, with its figures and the limit.
    pub what: String,
}

/// The check in gear.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InGear {
    /// The worst of the findings.
    pub verdict: GearVerdict,
    /// Fall of speed; `None` when it stalled.
    pub speed_fall: Option<EngineSpeed>,
    /// Fall of vacuum, when read.
    pub vacuum_fall: Option<PressureDifference>,
    /// What was found, a line each.
    pub findings: Vec<GearFinding>,
    /// Where to look, likeliest first, when something is wrong.
    pub causes: Vec<String>,
}

/// Causes of a large fall (common practice).
const CAUSES: [&str; 5] = [
    "converter too tight, or propeller too large, for the cam",
    "mechanical advance already part-way in at idle, dropping out in gear",
    "vacuum advance dropping out at low vacuum",
    "idle mixture lean",
    "throttle blades too far closed, transition slot covered",
];

/// Holds the readings against the limits: fall of speed 50 to 150 rpm (100 to 250 with a big cam), fall of vacuum 1 to 3 inHg (2 to 5),
/// a stop at 300 rpm of fall, below 500 rpm (550 for trucks: US Army TM 5-4210-230-14&P-1) or at a stall, and 2 inHg kept above the
/// enrichment opening. All else: common practice. A cam is big from the book's rough overlap on. `system` is the units of
/// the words.
pub fn judge(
    readings: &GearReadings,
    application: Application,
    drive: Drive,
    overlap: Option<CrankAngle>,
    enrichment_opens_below: Option<Vacuum>,
    book: &RuleBook,
    system: System,
) -> InGear {
    let big = overlap.is_some_and(|o| above(o, book.idle.rough_overlap));
    let mut findings = Vec::new();
    let speed_fall = speed_findings(readings, application, drive, big, book, &mut findings);
    let vacuum_fall = vacuum_findings(readings, big, enrichment_opens_below, book, system, &mut findings);
    let verdict = findings.iter().map(|f| f.verdict).max().unwrap_or(GearVerdict::Good);
    let causes = if verdict == GearVerdict::Good { Vec::new() } else { CAUSES.map(str::to_owned).to_vec() };
    InGear { verdict, speed_fall, vacuum_fall, findings, causes }
}

fn speed_findings(
    readings: &GearReadings,
    application: Application,
    drive: Drive,
    big: bool,
    book: &RuleBook,
    findings: &mut Vec<GearFinding>,
) -> Option<EngineSpeed> {
    let n = &book.in_gear;
    let us = System::Us;
    let Some(engaged) = readings.speed_engaged else {
        findings.push(GearFinding { verdict: GearVerdict::Stop, what: "it stalled when engaged".to_owned() });
        return None;
    };
    let fall = readings.speed_neutral - engaged;
    let usual = if big { n.fall_big_cam } else { n.fall_mild };
    let truck = application == Application::Tow && drive == Drive::Automatic;
    let least = if truck { n.truck_stop_below } else { n.stop_below };
    let verdict = match fall {
        f if above(f, n.stop_fall) => GearVerdict::Stop,
        f if above(f, usual.high) => GearVerdict::Watch,
        _ => GearVerdict::Good,
    };
    findings.push(GearFinding {
        verdict,
        what: format!(
            "speed falls {} ({} to {} is usual; beyond {} find the cause)",
            fall.show(us),
            usual.low.show(us),
            usual.high.show(us),
            n.stop_fall.show(us)
        ),
    });
    if below(engaged, least) {
        findings.push(GearFinding {
            verdict: GearVerdict::Stop,
            what: format!("{} in gear is below {}", engaged.show(us), least.show(us)),
        });
    }
    let p = &book.idle.propeller;
    if drive == Drive::Propeller && above(engaged, p.high) {
        let verdict = if above(engaged, p.too_fast) { GearVerdict::Stop } else { GearVerdict::Watch };
        findings.push(GearFinding {
            verdict,
            what: format!(
                "{} in gear is above {}; beyond {} the shift mechanism suffers",
                engaged.show(us),
                p.high.show(us),
                p.too_fast.show(us)
            ),
        });
    }
    if drive == Drive::Propeller && below(engaged, p.low) {
        findings.push(GearFinding {
            verdict: GearVerdict::Watch,
            what: format!("{} in gear is below {}: slow for shifting", engaged.show(us), p.low.show(us)),
        });
    }
    Some(fall)
}

fn vacuum_findings(
    readings: &GearReadings,
    big: bool,
    opens_below: Option<Vacuum>,
    book: &RuleBook,
    system: System,
    findings: &mut Vec<GearFinding>,
) -> Option<PressureDifference> {
    let n = &book.in_gear;
    if let (Some(engaged), Some(opens)) = (readings.vacuum_engaged, opens_below) {
        let kept = engaged.above(opens);
        let verdict = if below(kept, n.above_enrichment) { GearVerdict::Watch } else { GearVerdict::Good };
        findings.push(GearFinding {
            verdict,
            what: format!(
                "{} in gear is {} above the enrichment opening of {} ({} is wanted)",
                engaged.show(system),
                kept.show(system),
                opens.show(system),
                n.above_enrichment.show(system)
            ),
        });
    }
    let fall = readings.vacuum_neutral?.above(readings.vacuum_engaged?);
    let usual = if big { n.vacuum_fall_big_cam } else { n.vacuum_fall_mild };
    let verdict = if above(fall, usual.high) { GearVerdict::Watch } else { GearVerdict::Good };
    findings.push(GearFinding {
        verdict,
        what: format!(
            "vacuum falls {} ({} to {} is usual)",
            fall.show(system),
            usual.low.show(system),
            usual.high.show(system)
        ),
    });
    Some(fall)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(neutral: f64, engaged: Option<f64>, v: Option<(f64, f64)>) -> GearReadings {
        GearReadings {
            speed_neutral: EngineSpeed::from_rpm(neutral),
            speed_engaged: engaged.map(EngineSpeed::from_rpm),
            vacuum_neutral: v.map(|v| Vacuum::from_inhg(v.0)),
            vacuum_engaged: v.map(|v| Vacuum::from_inhg(v.1)),
        }
    }

    fn street(r: &GearReadings, overlap: f64) -> GearVerdict {
        let o = Some(CrankAngle::from_deg(overlap));
        judge(r, Application::Street, Drive::Automatic, o, None, &RuleBook::common(), System::Us).verdict
    }

    #[test]
    fn both_sides_of_the_speed_limits() {
        assert_eq!(street(&readings(750.0, Some(600.0), None), 0.0), GearVerdict::Good);
        assert_eq!(street(&readings(750.0, Some(599.0), None), 0.0), GearVerdict::Watch);
        assert_eq!(street(&readings(900.0, Some(600.0), None), 0.0), GearVerdict::Watch);
        assert_eq!(street(&readings(901.0, Some(600.0), None), 0.0), GearVerdict::Stop);
        assert_eq!(street(&readings(850.0, Some(600.0), None), 15.0), GearVerdict::Watch);
        assert_eq!(street(&readings(850.0, Some(600.0), None), 15.1), GearVerdict::Good);
        assert_eq!(street(&readings(600.0, Some(500.0), None), 0.0), GearVerdict::Good);
        assert_eq!(street(&readings(600.0, Some(499.0), None), 0.0), GearVerdict::Stop);
        assert_eq!(street(&readings(700.0, None, None), 0.0), GearVerdict::Stop);
    }

    #[test]
    fn a_truck_wants_550_in_drive() {
        let of = |rpm| {
            judge(
                &readings(650.0, Some(rpm), None),
                Application::Tow,
                Drive::Automatic,
                None,
                None,
                &RuleBook::common(),
                System::Us,
            )
            .verdict
        };
        assert_eq!((of(550.0), of(549.0)), (GearVerdict::Good, GearVerdict::Stop));
    }

    #[test]
    fn both_sides_of_the_vacuum_limits() {
        assert_eq!(street(&readings(700.0, Some(600.0), Some((18.0, 15.0))), 0.0), GearVerdict::Good);
        assert_eq!(street(&readings(700.0, Some(600.0), Some((18.0, 14.9))), 0.0), GearVerdict::Watch);
        let near = |opens: f64| {
            let r = readings(700.0, Some(600.0), Some((12.0, 10.5)));
            judge(
                &r,
                Application::Street,
                Drive::Automatic,
                None,
                Some(Vacuum::from_inhg(opens)),
                &RuleBook::common(),
                System::Us,
            )
            .verdict
        };
        assert_eq!((near(8.5), near(8.6)), (GearVerdict::Good, GearVerdict::Watch));
    }

    #[test]
    fn the_workboat_as_found_and_when_done() {
        let book = RuleBook::common();
        let of = |r: &GearReadings| {
            judge(
                r,
                Application::Marine,
                Drive::Propeller,
                None,
                Some(Vacuum::from_inhg(8.5)),
                &book,
                System::Us,
            )
        };
        let found = of(&readings(820.0, Some(560.0), Some((15.2, 11.8))));
        assert_eq!(found.verdict, GearVerdict::Watch);
        assert!(!found.causes.is_empty());
        let done = of(&readings(742.0, Some(650.0), Some((17.8, 17.0))));
        assert_eq!(done.verdict, GearVerdict::Good, "{done:?}");
        assert_eq!(of(&readings(790.0, Some(701.0), None)).verdict, GearVerdict::Watch);
        assert_eq!(of(&readings(890.0, Some(801.0), None)).verdict, GearVerdict::Stop);
    }
}
