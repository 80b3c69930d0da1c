//! What is said of symptoms at idle, and of those that show everywhere.

use super::{Layer, Symptom, Words, say};

#[expect(clippy::too_many_lines, reason = "a table of sentences")]
pub(super) const fn at_idle_and_everywhere(symptom: Symptom) -> Words {
    use Layer as L;
    match symptom {
        Symptom::SensorDoubtful => say(
            L::Instruments,
            "Much of the log has no believable lambda: the sensor is pinned, out of range or silent.",
            &[
                "sensor cold, aged or unplugged",
                "supply voltage",
                "sensor reading free air through an exhaust leak",
            ],
            "Take it out, heat it a minute in clean air and check that it reads free air.",
            "Nothing by this log's lambda; no full-throttle pulls on this sensor.",
        ),
        Symptom::NoisyLambda => say(
            L::Engine,
            "Lambda scatters by more than 0.15 at steady cruise.",
            &[
                "a cylinder misfiring",
                "sensor in a bad place (too near a port, or near the open end)",
                "exhaust leak before the sensor",
            ],
            "Kill cylinders one at a time; look at the joints before the sensor.",
            "No jets: a misfire reads lean while the engine may be rich.",
        ),
        Symptom::LeanIdleOnly => say(
            L::Engine,
            "It reads lean at idle and right under load: air that the carburetor does not meter, or a cylinder not burning.",
            &[
                "air leak at gasket, hose or throttle shaft",
                "one cylinder not firing",
                "cam overlap passing fresh air",
                "exhaust leak before the sensor",
            ],
            "Pinch hoses one by one and cover joints (no open flame); cylinder kill test; a CO reading tells whether it is rich in truth.",
            "Do not lean the idle; and do not richen it past best vacuum to please the sensor.",
        ),
        Symptom::BanksDiffer => say(
            L::Engine,
            "One bank is richer than the other by more than 0.03.",
            &["one float high or stuck", "leak on the lean bank", "sensors disagree"],
            "Swap the two sensors: if the difference goes with them it is theirs.",
            "No jets staggered before the sensors have been swapped.",
        ),
        Symptom::RichEverywhere => say(
            L::FuelSupply,
            "It is rich in every regime.",
            &[
                "choke not fully open",
                "float level or fuel pressure high",
                "enrichment valve ruptured",
                "wrong jets for this fuel",
            ],
            "Choke by eye, fuel pressure by gauge, the enrichment valve by a hand pump: it must hold vacuum.",
            "No jets before choke, float and valve are known to be right.",
        ),
        Symptom::Ice => say(
            L::Engine,
            "At a still throttle speed sinks and the mixture goes rich: ice in the carburetor.",
            &[
                "damp air near freezing to 15 C without manifold heat",
                "heat riser or warm-air flap not working",
            ],
            "Stop, wait a few minutes, look down the bores; it runs well again when thawed.",
            "No jets and no idle screw on a day like this.",
        ),
        Symptom::HangingIdle => say(
            L::Engine,
            "The speed stays up after the throttle has shut, at high vacuum.",
            &["air leak", "idle mixture lean", "advance not coming back", "linkage not returning"],
            "Cover part of the air intake with a gloved card: if the speed comes down it was lean or leaking; read the timing.",
            "No idle-speed screw: it is not held up by the stop.",
        ),
        Symptom::DiesInGear => say(
            L::Idle,
            "When a load comes on at idle the speed falls away.",
            &[
                "timing late at idle",
                "transition slot wrong, screws lean",
                "idle speed too low",
                "converter or propeller too tight for this idle",
            ],
            "Speed and vacuum in neutral and in gear, side by side; timing at idle.",
            "No idle speed above the gear's limit to hide it.",
        ),
        Symptom::DipsAfterStop => say(
            L::Idle,
            "After a hard stop the speed dives under idle.",
            &["fuel slopping over in the bowl", "idle mixture rich", "dashpot or idle speed low"],
            "Stop gently and hard in turn: only hard means the bowl.",
            "No leaner idle before the float is right.",
        ),
        Symptom::LoadsUp => say(
            L::Idle,
            "In a long idle vacuum and lambda sink together: it loads up.",
            &["idle mixture rich", "nozzle dripping (float, pressure)", "timing late at idle"],
            "Three minutes of idle, cleared, and three more with the screws an eighth in.",
            "No main jets.",
        ),
        Symptom::RichIdle => say(
            L::Idle,
            "Idle is richer than 0.80.",
            &["nozzle dripping: float or pressure high", "screws too far out", "throttle too far open"],
            "Look across the bores at idle: a wet nozzle is not the screws' doing.",
            "No idle feed restriction while the nozzle drips.",
        ),
        Symptom::FastIdle => say(
            L::Idle,
            "Hot idle is more than 150 rpm above its aim: it may run on when switched off.",
            &["throttle stop too far in", "choke's fast-idle cam still engaged", "air leak"],
            "Fast-idle cam off its step, then the stop; if the stop is not touching, look for a leak.",
            "No mixture by a speed that is not idle.",
        ),
        Symptom::LowIdleVacuum => say(
            L::Engine,
            "At idle it pulls less vacuum than an engine with this cam does.",
            &[
                "ignition late at idle",
                "air leak at manifold, carburetor base or hose",
                "cam timing late (chain jumped)",
                "mixture far off at idle",
            ],
            "Timing by a light first, then pinch the hoses one by one (no open flame near); then the gauge's needle: \
             steady and low is timing or a leak, dropping is a cylinder.",
            "No mixture screws to hide it: it also runs hot, and they do not cure that.",
        ),
        Symptom::BlockedIdle => say(
            L::Idle,
            "The screws are far out and idle is still lean.",
            &["idle passage or feed restriction blocked", "idle feed too small for this fuel", "air leak"],
            "Blow through the idle passages both ways; look for a leak first.",
            "No screws further out: beyond three turns they meter nothing.",
        ),
        _ => say(
            L::Engine,
            "On overrun it reads leaner than 1.3: it may pop in the exhaust.",
            &["exhaust joint leaking before the sensor", "idle circuit lean"],
            "Seal check first: a missing gasket has fooled many; then the screws an eighth out.",
            "No idle feed restriction before the joints are tight.",
        ),
    }
}
