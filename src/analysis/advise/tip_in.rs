//! Pump advice from quick openings: they are told apart from the steady mixture and mended apart from it.

use super::effects::{measure, pump_nozzles};
use super::input::AdviceInput;
use super::say;
use super::types::{Change, Expect, Withheld};
use crate::rules::tip_in;
use crate::setup::{PartPath, PartSize, Regime};
use crate::trace::TipIn;
use crate::units::{Lambda, TimeSpan};

/// Openings needed before the pump is judged.
const ENOUGH: usize = 3;

/// What the pump needs, when the openings agree on it.
pub(super) enum Pump {
    /// Nothing, or nothing can be said.
    Well,
    /// A nozzle.
    Fit(Box<Change>),
    /// Something else first, or no nozzle in stock.
    Hold(Withheld),
}

fn middle(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    crate::numeric::robust::median(&mut values)
}

/// Judges the openings of the latest log.
pub(super) fn judge(input: &AdviceInput<'_>, steady_is_right: bool) -> Pump {
    let setup = input.setup;
    let limits = tip_in::limits(setup.application, setup.engine.cooling, setup.fuel.family, input.rules);
    let seen: &[TipIn] = &input.trace.tip_ins;
    let (Some(peak), Some(lean_s)) =
        (middle(seen.iter().map(|t| t.peak.as_ratio())), middle(seen.iter().map(|t| t.lean_seconds.as_s())))
    else {
        return Pump::Well;
    };
    let rich_s = middle(seen.iter().map(|t| t.rich_seconds.as_s())).unwrap_or(0.0);
    let lean = peak > limits.peak.as_ratio();
    let richer = match (lean, rich_s > 0.5) {
        (true, true) | (false, false) => return rest(lean),
        (lean, _) => lean,
    };
    let hold = |reason: &str| Pump::Hold(Withheld::of("the accelerator pump", reason));
    if seen.len() < ENOUGH {
        return hold("fewer than three quick openings were logged; make three or more, ten seconds apart");
    }
    if richer && !steady_is_right {
        return hold("the steady mixture just above is not right yet; the pump comes after it");
    }
    let Some(fitted) = setup.carburetor.size(PartPath::PumpNozzle) else { return Pump::Well };
    let nozzles = pump_nozzles(&setup.carburetor.stock, fitted);
    let beyond = nozzles.into_iter().filter(|n| (measure(*n) > measure(fitted)) == richer);
    let nearest = beyond.min_by(|a, b| distance(*a, fitted).total_cmp(&distance(*b, fitted)));
    let Some(to) = nearest else {
        return hold("no pump nozzle in stock goes that way; take up any slack in the pump linkage first");
    };
    Pump::Fit(Box::new(change(fitted, to, richer, peak, lean_s, rich_s, limits.peak)))
}

fn rest(lean_then_rich: bool) -> Pump {
    if !lean_then_rich {
        return Pump::Well;
    }
    Pump::Hold(Withheld::of(
        "the accelerator pump",
        "openings go lean and then stay rich: the shot comes late and long; take up slack in the linkage, then a smaller \
         nozzle with the same volume, and log three openings again",
    ))
}

fn distance(a: PartSize, b: PartSize) -> f64 {
    (measure(a) - measure(b)).abs()
}

fn said(lambda: f64) -> Lambda {
    Lambda::from_ratio((lambda * 1e3).round() / 1e3)
}

fn change(
    from: PartSize,
    to: PartSize,
    richer: bool,
    peak: f64,
    lean_s: f64,
    rich_s: f64,
    limit: Lambda,
) -> Change {
    // The lean peak is the part of the air the shot has not caught up with: it goes down about as the flow goes up.
    let flow = (measure(to) / measure(from)).powi(2);
    let excess = (peak - 0.90).max(0.02);
    let expected = 0.90 + excess / flow;
    let doubt = 0.6 * (peak - expected).abs() + 0.04;
    let read = say::lambda(Lambda::from_ratio(peak));
    let expect = Expect {
        regime: Regime::TipIn,
        lambda: said(expected),
        low: said(expected - doubt),
        high: said(expected + doubt),
    };
    let seconds = TimeSpan::from_s(if richer { lean_s } else { rich_s });
    let why = if richer {
        format!(
            "Quick openings go lean to {read} (median of the peaks) for {} s; {} is the most for this use. The \
             steady mixture is right, so the shot is too slow: take up any slack in the linkage, then one nozzle larger.",
            crate::units::show::fixed(seconds.as_s(), 2),
            say::lambda(limit)
        )
    } else {
        format!(
            "Quick openings stay rich for {} s after the shot: one nozzle smaller gives the same volume more slowly.",
            crate::units::show::fixed(seconds.as_s(), 2)
        )
    };
    Change {
        part: PartPath::PumpNozzle,
        from,
        to,
        expect: vec![expect],
        why,
        how_sure:
            "The direction is common practice; the size of the effect is a reckoning with a wide margin."
                .to_owned(),
        proves_wrong: format!(
            "Lean peaks outside {} to {} over three openings.",
            say::lambda(expect.low),
            say::lambda(expect.high)
        ),
    }
}
