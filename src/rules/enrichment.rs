//! At which vacuum the power-enrichment valve should open.
#![doc = "\n"]
#![doc = include_str!("why/enrichment.md")]

use super::book::{EnrichmentNumbers, RuleBook, Span};
use super::border::{above, below};
use crate::setup::Drive;
use crate::units::show::Shown;
use crate::units::{Fraction, PressureDifference, System, Vacuum};
use serde::{Deserialize, Serialize};

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct VacuumSeen {
    /// Hot idle, nothing engaged.
    pub idle_neutral: Option<Vacuum>,
    /// Hot idle, engaged.
    pub idle_in_gear: Option<Vacuum>,
    /// The lowest steady cruise vacuum: hill, headwind, loaded.
    pub lowest_cruise: Option<Vacuum>,
}

/// Which rule decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Binding {
    /// Half of idle vacuum.
    Idle,
    /// Below the lowest steady cruise vacuum.
    Cruise,
    /// Below idle vacuum in gear, so that it stays shut at idle.
    IdleSafety,
}

/// Which opening to fit, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EnrichmentAdvice {
    /// Half of idle vacuum.
    pub idle_rule: Option<Vacuum>,
    /// Below cruise: from the wide margin to the narrow one.
    pub cruise_rule: Option<Span<Vacuum>>,
    /// The most at which it surely stays shut at idle.
    pub idle_safety: Option<Vacuum>,
    /// Which of the three is lowest.
    pub binding: Binding,
    /// The highest opening all rules allow.
    pub opens_below: Vacuum,
    /// The largest stocked valve not above it; `None` when the stock has none.
    pub stocked: Option<Vacuum>,
    /// How far idle and cruise rule are apart, when that is worth saying.
    pub disagreement: Option<PressureDifference>,
    /// What it rests on, a sentence each.
    pub reasons: Vec<String>,
}

/// Why no opening can be named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum EnrichmentError {
    /// Nothing was measured.
    #[error(
        "no vacuum is known; read hot idle vacuum, in gear where the drive has one, and the lowest steady cruise vacuum"
    )]
    NothingMeasured,
    /// The vacuum leaves no room for a valve.
    #[error("idle vacuum is too low for a vacuum-opened valve; block it and jet for full throttle")]
    NoRoom,
}

/// The opening that idle, cruise and idle safety allow together, rounded down to what is stocked.
///
/// Three rules, of which the lowest decides; why, and from where: see [the module](self). `system` is the units of the
/// reasons.
pub fn opening(
    seen: &VacuumSeen,
    drive: Drive,
    stock: &[Vacuum],
    book: &RuleBook,
    system: System,
) -> Result<EnrichmentAdvice, EnrichmentError> {
    let n = &book.enrichment;
    let mut reasons = Vec::new();
    let idle = idle_that_counts(seen, drive, &mut reasons);
    let idle_rule = idle.map(|v| v * n.share_of_idle.as_ratio());
    let idle_safety = seen.idle_in_gear.or(seen.idle_neutral).map(|v| v.plus(-n.below_idle_in_gear));
    let cruise_rule = seen
        .lowest_cruise
        .map(|v| Span { low: v.plus(-n.below_cruise.high), high: v.plus(-n.below_cruise.low) });
    let candidates = [
        (Binding::Idle, idle_rule),
        (Binding::Cruise, cruise_rule.map(|c| c.high)),
        (Binding::IdleSafety, idle_safety),
    ];
    let lowest = candidates
        .into_iter()
        .filter_map(|(b, v)| v.map(|v| (b, v)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .ok_or(EnrichmentError::NothingMeasured)?;
    if lowest.1 <= Vacuum::ZERO {
        return Err(EnrichmentError::NoRoom);
    }
    let disagreement = disagreement(idle_rule, cruise_rule, n);
    say(&mut reasons, seen, (idle_rule, cruise_rule, idle_safety), lowest, disagreement, n, system);
    let stocked = stocked_below(lowest.1, stock);
    match stocked {
        Some(v) => reasons.push(format!("largest stocked valve not above that: {}", v.show(system))),
        None if stock.is_empty() => reasons.push("no valves are listed in stock".to_owned()),
        None => {
            reasons.push("every stocked valve opens too early; one that opens lower is needed".to_owned());
        }
    }
    Ok(EnrichmentAdvice {
        idle_rule,
        cruise_rule,
        idle_safety,
        binding: lowest.0,
        opens_below: lowest.1,
        stocked,
        disagreement,
        reasons,
    })
}

/// The largest stocked valve that does not open earlier than allowed.
fn stocked_below(most: Vacuum, stock: &[Vacuum]) -> Option<Vacuum> {
    stock.iter().copied().filter(|v| !above(*v, most)).max_by(Vacuum::total_cmp)
}

fn idle_that_counts(seen: &VacuumSeen, drive: Drive, reasons: &mut Vec<String>) -> Option<Vacuum> {
    let engaged = matches!(drive, Drive::Automatic | Drive::LooseAutomatic | Drive::Propeller);
    if !engaged {
        return seen.idle_neutral.or(seen.idle_in_gear);
    }
    if seen.idle_in_gear.is_none() && seen.idle_neutral.is_some() {
        reasons.push(
            "vacuum in gear is not known: neutral stands in for it and is too high; read it in gear"
                .to_owned(),
        );
    }
    seen.idle_in_gear.or(seen.idle_neutral)
}

fn disagreement(
    idle: Option<Vacuum>,
    cruise: Option<Span<Vacuum>>,
    n: &EnrichmentNumbers,
) -> Option<PressureDifference> {
    let apart = cruise?.high.above(idle?).abs();
    above(apart, n.rules_differ_above).then_some(apart)
}

type Rules = (Option<Vacuum>, Option<Span<Vacuum>>, Option<Vacuum>);

fn say(
    reasons: &mut Vec<String>,
    seen: &VacuumSeen,
    (idle, cruise, safety): Rules,
    (binding, _): (Binding, Vacuum),
    disagreement: Option<PressureDifference>,
    n: &EnrichmentNumbers,
    system: System,
) {
    let mark = |which| if binding == which { ": this one binds" } else { "" };
    if let Some(v) = idle {
        reasons.push(format!(
            "half of idle vacuum is {} (a rod shop's published rule){}",
            v.show(system),
            mark(Binding::Idle)
        ));
    }
    if let Some(c) = cruise {
        reasons.push(format!(
            "lowest steady cruise less {} to {} is {} to {} (common practice){}",
            n.below_cruise.low.show(system),
            n.below_cruise.high.show(system),
            c.low.show(system),
            c.high.show(system),
            mark(Binding::Cruise)
        ));
    } else {
        reasons.push("no cruise vacuum is known: the cruise rule could not be asked".to_owned());
    }
    if let Some(v) = safety {
        reasons.push(format!(
            "idle less {} is {}, so that it stays shut at idle (common practice){}",
            n.below_idle_in_gear.show(system),
            v.show(system),
            mark(Binding::IdleSafety)
        ));
    }
    if let Some(apart) = disagreement {
        reasons.push(format!(
            "idle and cruise rule are {} apart: a load that cruises at low vacuum makes the idle rule wrong, a cam with much \
             overlap makes the cruise rule moot; the lower is taken",
            apart.show(system)
        ));
    }
    if seen.idle_neutral.or(seen.idle_in_gear).is_some_and(|v| !below(v, n.general_purpose_idle)) {
        reasons.push(format!(
            "for comparison, {} is said to serve any engine that idles at {} or more (a magazine's tips on fuel metering)",
            n.general_purpose.show(system),
            n.general_purpose_idle.show(system)
        ));
    }
}

/// What the load at which the valve opens says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LoadVerdict {
    /// Opens before the usual load: check cruise for needless enrichment.
    Early,
    /// Where it should.
    Right,
    /// Later than usual, still accepted.
    Late,
    /// So late that jets are the remedy, not the valve.
    Rejet,
}

/// Holds the load at which the valve opens against the 65 to 75 % it is usually open by (common practice).
pub fn load_verdict(load_at_opening: Fraction, book: &RuleBook) -> LoadVerdict {
    let n = &book.enrichment;
    match load_at_opening {
        l if above(l, n.rejet_past_load) => LoadVerdict::Rejet,
        l if above(l, n.open_by_load.high) => LoadVerdict::Late,
        l if below(l, n.open_by_load.low) => LoadVerdict::Early,
        _ => LoadVerdict::Right,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn inhg(v: f64) -> Vacuum {
        Vacuum::from_inhg(v)
    }

    fn stock() -> Vec<Vacuum> {
        [2.5, 3.5, 4.5, 5.5, 6.5, 8.5, 10.5].map(inhg).to_vec()
    }

    fn seen(neutral: Option<f64>, gear: Option<f64>, cruise: Option<f64>) -> VacuumSeen {
        VacuumSeen {
            idle_neutral: neutral.map(inhg),
            idle_in_gear: gear.map(inhg),
            lowest_cruise: cruise.map(inhg),
        }
    }

    fn advice(s: &VacuumSeen, drive: Drive) -> EnrichmentAdvice {
        opening(s, drive, &stock(), &RuleBook::common(), System::Us).unwrap()
    }

    #[test]
    fn half_of_idle_rounded_down_to_what_is_made() {
        let a = advice(&seen(None, Some(13.0), None), Drive::Automatic);
        assert_eq!((a.stocked, a.binding), (Some(inhg(6.5)), Binding::Idle));
        let b = advice(&seen(None, Some(8.0), None), Drive::Automatic);
        assert_eq!(b.stocked, Some(inhg(3.5)), "4.0 is not made");
        assert!((b.opens_below.as_inhg() - 4.0).abs() < 1e-9);
    }

    #[test]
    fn the_workboat_is_bound_by_cruise() {
        let a = advice(&seen(Some(17.8), Some(17.0), Some(8.0)), Drive::Propeller);
        assert!((a.idle_rule.unwrap().as_inhg() - 8.5).abs() < 1e-9);
        assert_eq!((a.binding, a.stocked), (Binding::Cruise, Some(inhg(6.5))));
        assert!(a.disagreement.is_none(), "exactly 2.0 apart is not more than 2");
    }

    #[test]
    fn idle_safety_binds_when_idle_is_very_low() {
        let a = advice(&seen(Some(7.0), Some(3.5), None), Drive::Manual);
        assert_eq!(a.binding, Binding::IdleSafety);
        assert!((a.opens_below.as_inhg() - 1.5).abs() < 1e-9);
        assert_eq!(a.stocked, None);
    }

    #[test]
    fn rules_far_apart_are_said_to_be() {
        let near = advice(&seen(Some(12.0), None, Some(5.6)), Drive::Manual);
        assert!(near.disagreement.is_none());
        let far = advice(&seen(Some(12.0), None, Some(5.4)), Drive::Manual);
        assert!((far.disagreement.unwrap().as_inhg() - 2.1).abs() < 1e-9);
    }

    #[test]
    fn neutral_in_place_of_gear_is_admitted() {
        let a = advice(&seen(Some(14.0), None, None), Drive::Automatic);
        assert!(a.reasons[0].contains("read it in gear"));
        let m = advice(&seen(Some(14.0), None, None), Drive::Manual);
        assert!(!m.reasons.iter().any(|r| r.contains("read it in gear")));
    }

    #[test]
    fn nothing_known_or_no_room_is_an_error() {
        let book = RuleBook::common();
        let none = opening(&seen(None, None, None), Drive::Manual, &stock(), &book, System::Us);
        assert_eq!(none, Err(EnrichmentError::NothingMeasured));
        let low = opening(&seen(Some(2.0), None, None), Drive::Manual, &stock(), &book, System::Us);
        assert_eq!(low, Err(EnrichmentError::NoRoom));
    }

    #[test]
    fn load_at_opening() {
        let at = |p| load_verdict(Fraction::from_percent(p), &RuleBook::common());
        assert_eq!((at(64.9), at(65.0)), (LoadVerdict::Early, LoadVerdict::Right));
        assert_eq!((at(75.0), at(75.1)), (LoadVerdict::Right, LoadVerdict::Late));
        assert_eq!((at(80.0), at(80.1)), (LoadVerdict::Late, LoadVerdict::Rejet));
    }

    proptest! {
        #[test]
        fn never_above_any_rule(n in 4.0..22.0f64, g in 4.0..22.0f64, c in 3.0..20.0f64) {
            let a = advice(&seen(Some(n), Some(g), Some(c)), Drive::Automatic);
            let most = (g / 2.0).min(c - 1.5).min(g - 2.0);
            prop_assert!((a.opens_below.as_inhg() - most).abs() < 1e-9);
            prop_assert!(a.stocked.is_none_or(|v| v.as_inhg() <= most + 1e-3));
        }
    }
}
