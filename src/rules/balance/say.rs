//! The reasons, in a person's words.

use super::past::Past;
use super::plan::dead_chances;
use super::posterior::Posterior;
use super::prior::Prior;
use super::types::{Belief, Finish};
use super::worth::{Probe, Stand, groups};
use crate::units::show::{Shown, fixed};
use crate::units::{EngineSpeed, PressureDifference, System};

pub(super) const FIRST_READING: &str = "Read where it stands before anything is turned.";
pub(super) const STALLED: &str = "It stalled: go back to where it ran, richer if it has not run yet.";
pub(super) const READ: &str = "Let the needle settle, then read.";
pub(super) const AGAIN: &str = "Read once more: the last reading alone is too rough to go by.";

/// A small difference of vacuum, finer than a gauge is read: "0.04 inHg".
pub(super) fn fine(by: PressureDifference, system: System) -> String {
    format!("{} {}", fixed(by.number(system), 2), PressureDifference::unit_symbol(system))
}

/// What is lost at a setting.
fn lost(at: &Stand, system: System) -> String {
    fine(PressureDifference::from_inhg(at.loss), system)
}

/// Why the idle speed is brought back.
pub(super) fn trim(toward: EngineSpeed) -> String {
    format!(
        "It idles well above {:.0} rpm now; a top found at the wrong speed is the wrong top.",
        toward.as_rpm()
    )
}

/// Why this probe.
pub(super) fn probe(
    prior: &Prior,
    from: &Past,
    posterior: &Posterior,
    probe: &Probe,
    best: &Stand,
    system: System,
) -> String {
    let steps = groups(prior.n, &from.anchor, &probe.at);
    let to_best = (0..prior.n).all(|i| (probe.at[i] - best.at[i]).abs() < 1e-6);
    let Some((screws, by)) = steps.first() else { return AGAIN.to_owned() };
    let leaner = prior.sign * by < 0.0;
    let way = if leaner { "leaner" } else { "richer" };
    if to_best && from.seen.len() > 2 {
        return format!(
            "The top seems to be this way: {} is expected to be off it there.",
            lost(best, system)
        );
    }
    if steps.len() > 1 {
        return "With the screws set so, a reading tells most about how their tops lie to each other."
            .to_owned();
    }
    if screws.len() == prior.n && prior.n > 1 {
        return format!("All together a step {way} shows on which side of the top they stand.");
    }
    let dead = dead_chances(prior, posterior);
    let screw = screws[0];
    if screws.len() == 1 && (dead[screw] > 0.3 || probe.doubt > probe.gain) && prior.n > 1 {
        return format!("Screw {} alone a step {way}: this tells whether it does anything.", screw + 1);
    }
    if screws.len() == 1 && prior.n > 1 {
        return format!("Screw {} alone a step {way} shows where its own top is.", screw + 1);
    }
    format!("A step {way} tells most about where the top is.")
}

/// Why the authority test.
pub(super) fn authority(screw: usize) -> String {
    format!("Screw {} may do nothing: a large turn will show it, then it goes straight back.", screw + 1)
}

/// Why rest there.
pub(super) fn rest(finish: &Finish, stand: &Stand, system: System) -> String {
    match finish {
        Finish::Peak => format!("The top is known: about {} may be lost there.", lost(stand, system)),
        Finish::LeanDrop(drop) => {
            format!("The top is known; now lean until the speed falls {:.0} rpm.", drop.as_rpm())
        }
        Finish::Rich(by) => format!("The top is known; now {:.3} turn richer than it.", by.as_turns()),
    }
}

/// Why nothing more.
pub(super) fn done(stand: &Stand, system: System) -> String {
    format!(
        "Nothing left is worth a turn: about {} may still be hidden in the gauge's marks.",
        lost(stand, system)
    )
}

/// That the engine drifted to the end, by this much a minute.
pub(super) fn drifted(by: PressureDifference, system: System) -> String {
    let way = if by < PressureDifference::ZERO { "falling" } else { "rising" };
    let by = fine(by.abs(), system);
    format!("The vacuum was still {way} by {by} a minute: check again when the engine is fully warm.")
}

/// Says so when the engine drifts.
pub(super) fn with_drift(why: String, belief: &Belief) -> String {
    match belief.drifting {
        Some(rate) if rate.as_inhg() > 0.0 => format!("{why} Wait if you can: it is still warming."),
        Some(_) => format!("{why} The vacuum is slowly falling by itself."),
        None => why,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drift_is_said_with_its_way_and_in_the_units_asked_for() {
        let drifted = |inhg, system| drifted(PressureDifference::from_inhg(inhg), system);
        assert!(drifted(0.1, System::Us).starts_with("The vacuum was still rising by 0.10 inHg a minute:"));
        assert!(
            drifted(-0.1, System::Metric).starts_with("The vacuum was still falling by 0.34 kPa a minute:")
        );
    }
}
