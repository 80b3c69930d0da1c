//! What is said of symptoms of the float bowl, of heat, and of stopping.

use super::{Layer, Symptom, Words, say};

pub(super) const fn at_the_bowl(symptom: Symptom) -> Words {
    use Layer as L;
    match symptom {
        Symptom::HotFlood => say(
            L::FuelSupply,
            "Started again after standing hot, it is very rich for the first seconds: flooded by heat.",
            &[
                "fuel boiling out of the bowl while it stands",
                "fuel line swelling past the needle in the heat",
                "float high",
                "needle leaking",
            ],
            "Ten minutes after a hot stop take the air cleaner off and look down the bores, nothing burning near: fuel \
             creeping from the nozzles is boiling; a cold engine that does it too has a float or a needle to mend.",
            "No jets and no idle screws: it is right again once it has cleared. A spacer, a shield or a return line \
             comes first.",
        ),
        Symptom::FloodedRestart => say(
            L::FuelSupply,
            "In the first seconds after a restart it is very rich: flooded.",
            &[
                "fuel boiling over from the bowl (heat soak)",
                "float high",
                "needle leaking",
                "choke shut too long",
            ],
            "After a hot stop look down the bores: wet and smelling means it boils or drips. With the coolant logged, \
             a hot restart is told from a cold one.",
            "No jets.",
        ),
        Symptom::Slosh => say(
            L::FuelSupply,
            "In turns or under braking, and only there, the mixture steps or the engine dies: the fuel in the bowl \
             moves away from the jets or over the vents.",
            &[
                "float low (lean to one side)",
                "float high (spilling into the vents, rich)",
                "vents too short",
                "no baffle in the bowl",
            ],
            "The same turn left and right at one throttle: one side only is the side the jet uncovers; both rich is a \
             level or a vent.",
            "No jets: on the level the mixture is what they make it.",
        ),
        Symptom::RichOnSlope => say(
            L::FuelSupply,
            "Out of level it goes rich or dies.",
            &[
                "float sunk or set high",
                "carburetor mounted with its bowl to the wrong end for this slope",
                "vent spilling",
            ],
            "Weigh or shake the float for fuel in it; set it, then the same slope nose up and nose down.",
            "No leaner idle or jets to suit the slope.",
        ),
        Symptom::LeanWhenHot => say(
            L::FuelSupply,
            "With hot intake air it goes lean, where thinner air alone would make it richer.",
            &[
                "fuel heated until it bubbles in bowl or line",
                "fuel pressure falling with heat",
                "air leak that opens when hot",
            ],
            "Log fuel pressure and the bowl's temperature, or put a shield and a spacer under it for one drive: if the \
             difference goes, it was heat in the fuel.",
            "No larger jets: they would make it rich on a cool day.",
        ),
        _ => say(
            L::Idle,
            "From idle the speed took long to die away: if the key was off, it runs on.",
            &[
                "throttle too far open, idle speed too high",
                "hot spots (deposits, plugs too hot)",
                "fuel of too low octane",
                "timing late at idle",
            ],
            "Was the key off there? A log cannot see it. Then slot and idle speed first; one stop in gear or with the \
             throttle shut by hand.",
            "No richer or leaner idle to cure it; a stop solenoid only after the blades stand right.",
        ),
    }
}
