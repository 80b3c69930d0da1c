//! The trade's table of symptoms, row by row: what in a log shows each, and what of it a log leaves open (common
//! practice).

use super::Symptom;

/// How a row of the table is held.
#[derive(Debug, Clone, Copy)]
pub enum Held {
    /// By these, from one log. The text says what is needed beside speed, throttle, vacuum, lambda and time, or what
    /// part of the row a log leaves open; empty when it shows the whole.
    By(&'static [Symptom], &'static str),
    /// From two logs set side by side.
    Comparing(&'static str),
}

/// One row.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// What the person says.
    pub complaint: &'static str,
    /// How it is held.
    pub held: Held,
}

const fn by(complaint: &'static str, symptoms: &'static [Symptom]) -> Row {
    Row { complaint, held: Held::By(symptoms, "") }
}

const fn partly(complaint: &'static str, symptoms: &'static [Symptom], open: &'static str) -> Row {
    Row { complaint, held: Held::By(symptoms, open) }
}

use Symptom as S;

/// Every row, in the order in which the trade lists them: off idle, cruise, load, stopping, idle, heat, bowl.
pub const ROWS: [Row; 35] = [
    by("stumbles off idle at light throttle", &[S::Stumble]),
    by("flat and rich off idle", &[S::RichOffIdle]),
    by("bogs on quick opening and pops back", &[S::LeanBog]),
    by("bogs with a black puff", &[S::RichBog]),
    by("bogs when the secondaries open", &[S::SecondaryBog]),
    by("surges at steady cruise", &[S::Surge]),
    by("governed engine hunts", &[S::Hunting]),
    partly(
        "flat at high speed, lean",
        &[S::Starvation, S::LeanerWithSpeed, S::LeanAtFullThrottle],
        "fuel pressure tells supply from jets",
    ),
    by("flat at high speed, rich", &[S::RicherWithSpeed]),
    by("flat, with vacuum left at full throttle", &[S::VacuumAtFullThrottle]),
    partly(
        "runs on after it is switched off",
        &[S::RunOn, S::FastIdle],
        "the key is not logged: only how slowly the speed dies",
    ),
    partly(
        "floods on a hot restart",
        &[S::HotFlood, S::FloodedRestart],
        "coolant tells a hot restart from a cold one",
    ),
    partly("vapour lock on the road", &[S::PressureSags], "needs fuel pressure"),
    partly("dies in turns or under braking", &[S::Slosh], "needs an accelerometer"),
    partly("nozzle drips at idle", &[S::RichIdle], "that it drips is seen only by looking"),
    by("black smoke everywhere", &[S::RichEverywhere]),
    by("black smoke only when loaded", &[S::RichWithLoad]),
    partly("pops through the carburetor", &[S::LeanSteady], "the pop itself is heard, not logged"),
    partly(
        "pops in the exhaust on closed throttle",
        &[S::LeanOverrun],
        "the pop itself is heard, not logged",
    ),
    by("idle hangs", &[S::HangingIdle]),
    by("dies in gear", &[S::DiesInGear]),
    partly(
        "dies after a hard stop",
        &[S::DipsAfterStop, S::Slosh],
        "an accelerometer tells the bowl from the mixture",
    ),
    by("loads up in a long idle", &[S::LoadsUp]),
    partly("idle sinks on a damp cool day", &[S::Ice], "that it is ice is the likeliest reading, not seen"),
    partly("one cylinder cold", &[S::LeanIdleOnly, S::NoisyLambda], "which cylinder it is takes a kill test"),
    by("screws far out and still lean", &[S::BlockedIdle]),
    partly(
        "runs hot at idle",
        &[S::LowIdleVacuum],
        "timing is not logged: only the vacuum that late timing costs",
    ),
    partly("good cold, lean hot", &[S::LeanWhenHot], "needs the temperature of the intake air"),
    Row {
        complaint: "good one day, rich the next",
        held: Held::Comparing(
            "compare takes the air's density out of the difference between two logs, and advise does so \
                               for the logs of a session",
        ),
    },
    partly("one bank richer", &[S::BanksDiffer], "needs a sensor in each bank"),
    by("surges only near the enrichment opening", &[S::EnrichmentToggles]),
    by("high fuel use and no other sign", &[S::RichCruise]),
    by("weak and popping under load, fine at idle", &[S::LeanWithLoad]),
    partly("stalls on a slope", &[S::RichOnSlope], "needs an inclinometer"),
    partly(
        "runs clean only with the choke pulled",
        &[S::LeanSteady],
        "the choke is not logged: only that it is lean",
    ),
];

/// What is found that is no complaint of a driver's: the instruments.
pub const BESIDE: [Symptom; 1] = [S::SensorDoubtful];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symptom_stands_in_a_row_and_every_row_says_something() {
        let held: Vec<Symptom> = ROWS
            .iter()
            .flat_map(|row| match row.held {
                Held::By(symptoms, _) => symptoms.to_vec(),
                Held::Comparing(why) => {
                    assert!(why.len() > 20, "{}", row.complaint);
                    Vec::new()
                }
            })
            .chain(BESIDE)
            .collect();
        for symptom in Symptom::ALL {
            assert!(held.contains(&symptom), "{} stands in no row", symptom.name());
        }
        assert!(ROWS.iter().all(|r| !matches!(r.held, Held::By([], _))));
    }

    #[test]
    fn names_are_told_apart_and_words_are_whole() {
        for (n, symptom) in Symptom::ALL.iter().enumerate() {
            assert!(Symptom::ALL[n + 1..].iter().all(|s| s.name() != symptom.name()));
            let words = symptom.words();
            assert!(!words.causes.is_empty() && !words.check.is_empty() && !words.not_yet.is_empty());
        }
    }
}
