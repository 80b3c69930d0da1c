//! What is said of symptoms off idle and at part throttle.

use super::{Layer, Symptom, Words, say};

pub(super) const fn on_the_way(symptom: Symptom) -> Words {
    use Layer as L;
    match symptom {
        Symptom::Stumble => say(
            L::Transition,
            "It stumbles just off idle: lean, and the speed sags.",
            &[
                "throttle blades closed too far over the transition slot",
                "idle feed restriction too small",
                "slack in the pump linkage",
            ],
            "Look at the slot: 0.020 to 0.040 in (0.5 to 1 mm) should show at idle; with the engine off, the pump must squirt with the first movement.",
            "No main jets: the main circuit is not flowing here.",
        ),
        Symptom::RichOffIdle => say(
            L::Transition,
            "It is flat and rich just off idle.",
            &[
                "transition slot showing too much at idle",
                "idle feed restriction too large",
                "fuel pulled from the nozzle by a throttle held too far open",
            ],
            "Measure the slot at idle: more than 0.040 in (1 mm) is too much; more timing, or more bypass air, lets the blade close.",
            "No smaller idle feed until the blade stands right.",
        ),
        Symptom::LeanBog => say(
            L::Transition,
            "Opened quickly, it goes lean and bogs.",
            &["slack in the pump linkage", "pump nozzle too small", "pump worn or its check leaking"],
            "Engine off: a full stream from every nozzle with the first degree of throttle.",
            "No jets: this lasts less than a second and only the pump feeds it.",
        ),
        Symptom::RichBog => say(
            L::Transition,
            "Opened quickly, it goes very rich: a black puff.",
            &["pump nozzle or stroke too large", "secondaries opening too fast", "float high"],
            "One nozzle size smaller at the same stroke, and the same opening logged again.",
            "No jets.",
        ),
        Symptom::SecondaryBog => say(
            L::Transition,
            "A second lean peak comes where the secondaries open.",
            &[
                "secondaries opening too early or too fast",
                "secondary circuit starting late",
                "secondary pump (if any) not delivering",
            ],
            "Hold the secondaries shut and repeat: if the peak is gone, slow their opening.",
            "No primary pump or jets.",
        ),
        Symptom::Surge => say(
            L::Cruise,
            "At steady cruise it surges, lean.",
            &["main jets or idle feed too small for cruise", "too much vacuum advance", "float low"],
            "Pinch the vacuum-advance hose while it surges: if it stops, it was the advance; if not, one jet step up.",
            "No full-throttle parts.",
        ),
        Symptom::Hunting => say(
            L::Cruise,
            "Speed and throttle swing against each other: the governor hunts.",
            &["main or idle mixture lean", "governor linkage sticking or set too keen"],
            "Close the choke a little while it hunts: if that smooths it, it is lean; if not, free the linkage.",
            "No governor spring before the mixture is right.",
        ),
        Symptom::LeanSteady => say(
            L::Cruise,
            "It runs leaner than it can burn cleanly at steady throttle: it may pop back.",
            &["jets too small for this fuel", "air leak", "float low", "intake valve tight"],
            "Pull the choke a little: if it runs better it is lean; then look for a leak before jetting.",
            "No larger jets before leaks are ruled out.",
        ),
        Symptom::EnrichmentToggles => say(
            L::Cruise,
            "At one and the same vacuum the mixture jumps between two levels: the enrichment valve opens and shuts at cruise.",
            &["enrichment opening too near cruise vacuum", "valve leaking or sticking"],
            "Fit a valve that opens 1.5 to 2 inHg (5 to 7 kPa) lower and log the same cruise.",
            "No main jets from this cruise: it is two mixtures mixed.",
        ),
        _ => say(
            L::Cruise,
            "Cruise is richer than 0.90: fuel goes to nothing, without any symptom.",
            &[
                "enrichment valve open at cruise vacuum",
                "main jets too large",
                "float high",
                "choke not fully open",
            ],
            "Compare cruise vacuum with the valve's opening; look at the choke.",
            "No leaner main jet before the valve is known to be shut.",
        ),
    }
}
