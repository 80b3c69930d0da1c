//! What comes before jets: a sensor that cannot be believed, fuel that does not arrive, air that comes in elsewhere.

use super::bands::Bands;
use super::input::AdviceInput;
use super::types::{Mend, Withheld};
use crate::setup::Regime;
use crate::trace::{EventKind, Pull, TraceSummary};
use crate::units::show::{Shown, fixed, fuel_pressure};
use crate::units::{Fraction, Lambda, PressureDifference, System};

/// What the gates found.
#[derive(Debug, Clone, Default)]
pub(super) struct Gates {
    /// To be put right first.
    pub(super) mend: Vec<Mend>,
    /// Held back.
    pub(super) withheld: Vec<Withheld>,
    /// Full-throttle readings may be acted on.
    pub(super) full_throttle: bool,
    /// Any reading may be acted on.
    pub(super) lambda: bool,
}

/// Share of believable readings below which the sensor is not acted on.
const BELIEVABLE: f64 = 0.90;
/// Share below which full throttle is not acted on.
const BELIEVABLE_AT_LOAD: f64 = 0.97;
/// Noise at steady cruise beyond which it is misfire or a bad place (peak to peak 0.15: common practice; the
/// distance from the tenth to the ninetieth percentile is less).
const NOISE: f64 = 0.12;

/// Looks before any part is thought of.
pub(super) fn look(input: &AdviceInput<'_>, bands: &Bands) -> Gates {
    let mut gates = Gates { full_throttle: true, lambda: true, ..Gates::default() };
    sensor(input, &mut gates);
    supply(input, &mut gates);
    leak(input, bands, &mut gates);
    idle(input, bands, &mut gates);
    gates
}

fn withhold(gates: &mut Gates, what: &str, reason: String) {
    gates.withheld.push(Withheld::of(what, reason));
}

fn sensor(input: &AdviceInput<'_>, gates: &mut Gates) {
    let quality = &input.trace.sensor;
    let vouched = input.setup.instruments.lambda.as_ref().map(|s| s.trusted);
    let believable = quality.believable.map(Fraction::as_ratio);
    if believable.is_some_and(|b| b < BELIEVABLE) {
        gates.lambda = false;
        gates.full_throttle = false;
        let share = fixed(100.0 * (1.0 - believable.unwrap_or(1.0)), 0);
        let why = format!(
            "{share} % of the running rows have no believable lambda (stuck, out of range or missing)"
        );
        gates.mend.push(Mend {
            what: "The lambda sensor".to_owned(),
            why: why.clone(),
            check: "Take it out, heat it for a minute in clean air and calibrate it there; check its plug and its \
                    place. Then log again."
                .to_owned(),
        });
        withhold(gates, "all advice by lambda", format!("{why}; a log with the sensor working releases it"));
        return;
    }
    let reason = match vouched {
        Some(true) if believable.is_some_and(|b| b < BELIEVABLE_AT_LOAD) => {
            Some("too many readings of this log are stuck, missing or out of range".to_owned())
        }
        Some(true) if quality.cruise_noise.is_some_and(|n| n.as_ratio() > NOISE) => Some(format!(
            "at steady cruise it wanders by {}: a misfire, or a sensor in a bad place",
            quality.cruise_noise.map_or_else(String::new, lambda)
        )),
        Some(true) => None,
        Some(false) => Some(
            "the sensor is not marked as trusted in the setup; calibrate it in clean air, see that it sits dry and \
             hot, and mark it so"
                .to_owned(),
        ),
        None => Some("the setup names no lambda sensor; describe it under instruments".to_owned()),
    };
    if let Some(reason) = reason {
        gates.full_throttle = false;
        withhold(gates, "full-throttle advice", reason);
    }
}

/// The pull that falls short of fuel, when there is one: lambda climbs while the pressure falls, or the pressure
/// falls far by itself.
fn starving<'a>(input: &AdviceInput<'a>) -> Option<(&'a Pull, f64, Option<PressureDifference>)> {
    let limits = &input.rules.limits;
    input.trace.pulls.iter().find_map(|pull| {
        let climb = (pull.lambda_to?.as_ratio() - pull.lambda_from?.as_ratio()).max(0.0);
        let fall = pull.fuel_pressure_from.zip(pull.fuel_pressure_to).map(|(a, b)| a - b);
        let falls = fall.is_some_and(|f| f > limits.fuel_pressure_fall);
        let climbs = climb > limits.climb_in_one_pull.as_ratio();
        (falls || (climbs && fall.is_none())).then_some((pull, climb, fall))
    })
}

fn supply(input: &AdviceInput<'_>, gates: &mut Gates) {
    let sagged = input.trace.event_counts.get(&EventKind::PressureSag).copied().unwrap_or(0) > 0;
    let found = starving(input);
    match found {
        Some((pull, climb, Some(fall))) => {
            gates.full_throttle = false;
            gates.mend.push(Mend {
                what: "Fuel supply".to_owned(),
                why: format!(
                    "in the pull at {} s fuel pressure fell by {} while lambda climbed by {}: fuel does not \
                     arrive as fast as it is burned",
                    fixed(pull.start.as_s(), 0), fuel_pressure(fall, input.options.system), fixed(climb, 2)
                ),
                check: "Filter, pump, lines, tank vent and needle seat; read the pressure at full throttle again. No \
                        jet can mend this."
                    .to_owned(),
            });
        }
        Some((pull, climb, None)) => withhold(
            gates,
            "jets and bleeds for full throttle",
            format!(
                "lambda climbs by {} within the pull at {} s and no fuel pressure is logged; a fuel-pressure \
                 reading that holds through the pull releases it",
                fixed(climb, 2),
                fixed(pull.start.as_s(), 0)
            ),
        ),
        None => {}
    }
    if matches!(found, Some((_, _, None))) {
        gates.full_throttle = false;
    }
    if sagged && found.is_none() {
        gates.full_throttle = false;
        gates.mend.push(Mend {
            what: "Fuel supply".to_owned(),
            why: "lambda drifts lean at steady throttle while fuel pressure sinks".to_owned(),
            check: "Filter, pump, lines, tank vent and needle seat, then log again.".to_owned(),
        });
    }
}

fn median(trace: &TraceSummary, regime: Regime) -> Option<Lambda> {
    trace.regime(regime)?.lambda.as_ref().map(|l| l.median)
}

/// Idle lean while full throttle is normal: air comes in past the carburetor, because the same hole is the largest
/// share of the air where there is least.
fn leak(input: &AdviceInput<'_>, bands: &Bands, gates: &mut Gates) {
    let seen = |r| median(input.trace, r).map(crate::units::Lambda::as_ratio);
    let (Some(idle), Some(full)) = (seen(Regime::Idle), seen(Regime::FullThrottle)) else { return };
    let (Some(idle_band), Some(full_band)) = (bands.band(Regime::Idle), bands.band(Regime::FullThrottle))
    else {
        return;
    };
    let over = idle / idle_band.high.as_ratio() - 1.0;
    let normal = full <= full_band.high.as_ratio() + 0.01;
    if over < 0.02 || !normal || input.trace.sensor.idle_witness_only {
        return;
    }
    let middle = f64::midpoint(idle_band.low.as_ratio(), idle_band.high.as_ratio());
    let share = 100.0 * (idle / middle - 1.0);
    gates.mend.push(Mend {
        what: "An air leak, or a reading that is not the mixture".to_owned(),
        why: format!(
            "idle reads {} while full throttle reads {}: a leak of about {} % of the idle air, at the engine or \
             before the sensor, would do that, and overlap or a misfire reads lean too",
            fixed(idle, 2), fixed(full, 2), fixed(share, 0)
        ),
        check: "Cover part of the air intake with a gloved card: a rise in speed means lean or leaking. Check \
                gaskets, hoses and the exhaust before the sensor; believe vacuum, and carbon monoxide where you can \
                read it."
            .to_owned(),
    });
}

fn idle(input: &AdviceInput<'_>, bands: &Bands, gates: &mut Gates) {
    let (Some(seen), Some(band)) = (median(input.trace, Regime::Idle), bands.band(Regime::Idle)) else {
        return;
    };
    if seen < band.low {
        withhold(
            gates,
            "leaning the idle by lambda",
            format!(
                "idle reads {}, but lambda only witnesses there: the mixture screws by vacuum decide; peak vacuum \
                 with the screws nearly shut would point at the idle feed",
                lambda(seen)
            ),
        );
    }
}

fn lambda(l: Lambda) -> String {
    l.show(System::Us)
}
