//! Advice in the words of a tuner: why, how sure, what would prove it wrong, what was learned.

use super::bands::{LEAST_SECONDS, MOST_SECONDS};
use super::choose::Refusal;
use super::effects::Part;
use super::types::{Expect, HeldChange, RegimeVerdict, Verdict, Withheld};
use crate::setup::{PartPath, PartSize, Regime};
use crate::units::show::fixed;
use crate::units::{Lambda, System};

/// A lambda as it is read aloud.
pub(super) fn lambda(l: Lambda) -> String {
    fixed(l.as_ratio(), 3)
}

/// A size as it is stamped: bores in hundredths of a millimetre or in whole thousandths of an inch, to the half one
/// where there is a half.
pub(super) fn size(s: PartSize, system: System) -> String {
    match s {
        PartSize::Bore(d) if system == System::Us => {
            let ten_thousandths = fixed(d.as_inches(), 4);
            format!("{} in", ten_thousandths.strip_suffix('0').unwrap_or(&ten_thousandths))
        }
        other => other.show(system),
    }
}

/// One regime in a sentence or two.
pub(super) fn regime(row: &RegimeVerdict, witness_only: bool) -> String {
    let band = match (row.target_low, row.target_high) {
        (Some(low), Some(high)) => format!("{} to {}", lambda(low), lambda(high)),
        _ => return "nothing is tuned by it".to_owned(),
    };
    let Some(median) = row.lambda_median else {
        return format!(
            "not seen; the band is {band}; log at least {} s of it, in three visits",
            fixed(row.needs.as_s(), 0)
        );
    };
    let read = lambda(median);
    let more = fixed(row.needs.as_s(), 0);
    match row.verdict {
        Verdict::Inside => format!("{read}, inside {band}"),
        Verdict::Rich => format!("{read}, richer than {band}"),
        Verdict::Lean => format!("{read}, leaner than {band}"),
        Verdict::Unsure if row.seconds.as_s() < LEAST_SECONDS => {
            let seen = fixed(row.seconds.as_s(), 0);
            format!("{read} against {band}, but only {seen} s of it; {more} s more would tell")
        }
        Verdict::Unsure => {
            let tells = if row.needs.as_s() < MOST_SECONDS {
                format!("{more} s more of it would tell")
            } else {
                "ten minutes more of it may not tell".to_owned()
            };
            format!("{read} against {band}: too close to call; {tells}")
        }
        Verdict::WitnessOnly if row.regime == Regime::TipIn => {
            format!("settles about {read}; its peaks are judged by themselves")
        }
        Verdict::WitnessOnly if witness_only => {
            format!(
                "{read}, as a witness only: the sensor reads lean here from overlap or misfire; vacuum decides"
            )
        }
        Verdict::WitnessOnly => format!("{read} against {band}, as a witness only: vacuum decides at idle"),
        Verdict::NotSeen | Verdict::NoTarget => read,
    }
}

/// Why a change is made.
pub(super) fn why(part: &Part, to: PartSize, off: &[&RegimeVerdict], learned: bool) -> String {
    let richer = makes_richer(part, to);
    let mut text = String::new();
    let mut named: Vec<String> = Vec::new();
    for row in off {
        let Some(read) = row.lambda_median else { continue };
        named.push(format!(
            "{} reads {} over {} s",
            row.regime.said(),
            lambda(read),
            fixed(row.seconds.as_s(), 0)
        ));
    }
    if named.is_empty() {
        text.push_str("The stations, taken one by one, lie off the middle of their bands");
    } else {
        text.push_str(&capital(&named.join(", ")));
    }
    text.push_str(". ");
    text.push_str(role(part.path));
    text.push_str(if richer { "; larger feed there is richer." } else { "; this way it is leaner." });
    if learned {
        text.push_str(" The effect is reckoned with what this engine's earlier changes did.");
    }
    text
}

/// Whether a size gives more fuel than the one fitted, in the usual way.
pub(super) fn makes_richer(part: &Part, to: PartSize) -> bool {
    let larger = super::effects::measure(to) > super::effects::measure(part.fitted);
    match part.path {
        PartPath::MainAirBleed(_) | PartPath::IdleAirBleed => !larger,
        _ => larger,
    }
}

fn role(path: PartPath) -> &'static str {
    match path {
        PartPath::MainJet(crate::setup::SetName::Primary) => {
            "The primary main jet meters cruise, heavy cruise and full throttle alike"
        }
        PartPath::MainJet(crate::setup::SetName::Secondary) => {
            "The secondary main jet meters only once the secondaries open"
        }
        PartPath::MainAirBleed(_) => {
            "The main air bleed acts most at high air flow and on when the main starts; which way is usual, not certain"
        }
        PartPath::ChannelRestriction => {
            "The channel behind the enrichment valve meters only while the valve is open"
        }
        PartPath::EnrichmentOpening => {
            "The enrichment valve decides from which vacuum on the channel adds its fuel"
        }
        PartPath::IdleFeed => {
            "The idle feed meters idle, the slot and very light cruise; re-trim the screws by vacuum after it"
        }
        PartPath::IdleAirBleed => {
            "The idle air bleed shapes idle and slot; re-trim the screws by vacuum after it"
        }
        PartPath::PumpNozzle => "The pump nozzle sets how fast the shot comes",
        PartPath::IdleScrew(_) => "The mixture screws trim the idle",
    }
}

/// How sure a change is.
pub(super) fn how_sure(helps: f64, learned: bool, visits: f64) -> String {
    let ground = if learned {
        "the carburetor model, corrected by what this engine did after earlier changes"
    } else {
        "the carburetor model alone, no change on this engine having been measured yet"
    };
    format!(
        "About {} in 100 that it brings the mixture nearer to the middle of the band. It rests on {} visits and on {ground}.",
        fixed((100.0 * helps).clamp(1.0, 99.0), 0),
        fixed(visits, 0)
    )
}

/// What reading would prove a change wrong.
pub(super) fn proves_wrong(expect: &[Expect], most: Option<Regime>) -> String {
    let Some(e) = most.and_then(|r| expect.iter().find(|e| e.regime == r)).or_else(|| expect.first()) else {
        return "No change of lambda at all in the next log.".to_owned();
    };
    format!(
        "{} outside {} to {} in the next log: then the part was not what its stamp says, or something else has changed.",
        capital(e.regime.said()),
        lambda(e.low),
        lambda(e.high)
    )
}

/// Why something is not done, and what would release it. Only parts that are there are named: `has_channel` says whether
/// there is a channel behind an enrichment valve.
pub(super) fn refused(
    part: &Part,
    to: PartSize,
    why: &Refusal,
    has_channel: bool,
    system: System,
) -> Withheld {
    let change = HeldChange { part: part.path, from: part.fitted, to };
    let channel_first = if has_channel && part.path != PartPath::ChannelRestriction {
        "a richer enrichment channel first, "
    } else {
        ""
    };
    let reason = match why {
        Refusal::FullThrottleUnknown => {
            "it would lean full throttle, which was not read by a trusted sensor; log a pull of a few seconds at full \
             throttle with one, from a rich setting"
                .to_owned()
        }
        Refusal::LeanLimit(chance) => format!(
            "the chance that a full-throttle station ends leaner than its limit would be {} %; a smaller step, \
             {channel_first}or more full-throttle log releases it",
            fixed(100.0 * chance, 0)
        ),
        Refusal::TooFar => {
            "it leans full throttle by more than one jet step at once; go one step, log, then go on".to_owned()
        }
    };
    Withheld { what: change.said(system), reason, change: Some(change) }
}

/// A sentence begun with a capital.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Length, TimeSpan};

    #[test]
    fn a_bore_is_said_as_it_is_stamped() {
        let said = |inches| size(PartSize::Bore(Length::from_inches(inches)), System::Us);
        assert_eq!(said(0.074), "0.074 in");
        assert_eq!(said(0.060), "0.060 in", "no shorter than its neighbour");
        assert_eq!(said(0.100), "0.100 in");
        assert_eq!(said(0.0595), "0.0595 in");
        assert_eq!(size(PartSize::Bore(Length::from_mm(1.5)), System::Metric), "1.50 mm");
    }

    #[test]
    fn what_more_log_would_tell_is_not_promised_past_the_most_that_is_asked_for() {
        let row = |seconds, needs| RegimeVerdict {
            regime: Regime::Cruise,
            lambda_median: Some(Lambda::from_ratio(0.918)),
            uncertainty: None,
            target_low: Some(Lambda::from_ratio(0.92)),
            target_high: Some(Lambda::from_ratio(0.98)),
            seconds: TimeSpan::from_s(seconds),
            verdict: Verdict::Unsure,
            needs: TimeSpan::from_s(needs),
            says: String::new(),
        };
        assert!(regime(&row(10.0, 599.0), false).ends_with("too close to call; 599 s more of it would tell"));
        assert!(regime(&row(8.0, 2.0), false).ends_with("0.980, but only 8 s of it; 2 s more would tell"));
        assert!(regime(&row(10.0, MOST_SECONDS), false).ends_with("; ten minutes more of it may not tell"));
    }

    #[test]
    fn only_a_channel_that_is_there_is_named_and_never_as_a_way_round_itself() {
        let bore = |inches| PartSize::Bore(Length::from_inches(inches));
        let part = |path| Part::named(path, bore(0.060));
        let jet = part(PartPath::MainJet(crate::setup::SetName::Primary));
        let said =
            |part: &Part, has| refused(part, bore(0.058), &Refusal::LeanLimit(0.4), has, System::Us).reason;
        assert!(said(&jet, true).contains("a smaller step, a richer enrichment channel first, or more"));
        assert!(said(&jet, false).contains("a smaller step, or more full-throttle log"));
        assert!(!said(&part(PartPath::ChannelRestriction), true).contains("enrichment"));
        let held = refused(&jet, bore(0.058), &Refusal::TooFar, true, System::Us);
        assert_eq!(held.said(System::Us), "primary main jet 0.060 in to 0.058 in");
        assert_eq!(held.said(System::Metric), "primary main jet 1.52 mm to 1.47 mm");
    }
}
