//! What is said of symptoms at load.

use super::{Layer, Symptom, Words, say};

pub(super) const fn at_load(symptom: Symptom) -> Words {
    use Layer as L;
    match symptom {
        Symptom::LeanAtFullThrottle => say(
            L::Danger,
            "At full throttle it runs leaner than this engine bears.",
            &[
                "main jets or channel restriction too small",
                "fuel supply falling behind",
                "float low",
                "an air leak behind the carburetor",
            ],
            "Fuel pressure and float level first; then go up at least two jet steps and log one pull.",
            "No more full-throttle pulls, and nothing leaner anywhere, until a pull stays inside the limit.",
        ),
        Symptom::Starvation => say(
            L::Danger,
            "Along a pull it goes lean while the fuel pressure falls: the bowl runs dry.",
            &["fuel pump or line too small", "filter blocked", "needle and seat too small", "tank vent shut"],
            "Measure pressure and delivery at the carburetor under load; look at filter and tank vent.",
            "No jets: a larger jet hides this for a second and empties the bowl sooner.",
        ),
        Symptom::PressureSags => say(
            L::FuelSupply,
            "Fuel pressure sinks at a held throttle and the mixture goes lean with it.",
            &[
                "fuel boiling in the line (vapour lock)",
                "filter filling up",
                "pump weak when hot",
                "tank vent shut",
            ],
            "Feel where the line runs by the exhaust; repeat with a return line open or the line cooled.",
            "No jets before the pressure holds.",
        ),
        Symptom::LeanWithLoad => say(
            L::FullThrottle,
            "Idle and cruise are right; it goes lean only with load.",
            &["main jet part-blocked", "enrichment valve not opening", "fuel supply", "main jets too small"],
            "Take out and look through the main jets; check that the enrichment valve opens at its vacuum.",
            "No idle or cruise parts.",
        ),
        Symptom::RichWithLoad => say(
            L::FullThrottle,
            "Cruise is right; it is too rich only with load.",
            &[
                "channel restriction or main jets too large",
                "air filter blocked",
                "main air bleed too small or blocked",
            ],
            "Measure vacuum above the throttle at full throttle with and without the filter; then one step leaner at load.",
            "No idle or cruise parts.",
        ),
        Symptom::LeanerWithSpeed => say(
            L::FullThrottle,
            "Along a pull it goes leaner as the speed rises.",
            &[
                "fuel pressure falling (measure it)",
                "main air bleed too large",
                "main jets too small at the top",
                "filter or line restricting",
            ],
            "Log fuel pressure along a pull; if it holds, a smaller main air bleed usually evens the curve.",
            "No larger main jet for the top end alone: it makes the bottom rich.",
        ),
        Symptom::RicherWithSpeed => say(
            L::FullThrottle,
            "Along a pull it goes richer as the speed rises.",
            &["main air bleed too small", "main jets too large at the top", "air filter restricting"],
            "One pull without the filter element, if that is safe; then a larger main air bleed.",
            "No smaller main jet for the top end alone: it makes the bottom lean.",
        ),
        _ => say(
            L::FullThrottle,
            "More than 2 inHg (7 kPa) of vacuum is left at full throttle: the engine cannot breathe in.",
            &[
                "throttle not fully open",
                "secondaries not opening",
                "air filter blocked",
                "carburetor too small",
            ],
            "With the engine off, press the pedal fully and look down the bores; repeat a pull without the filter element.",
            "No jets: more fuel does not help an engine that lacks air.",
        ),
    }
}
