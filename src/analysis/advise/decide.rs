//! From a log to advice.

use super::bands::{Bands, rounded, verdicts};
use super::cells::{Survey, visits};
use super::choose::{Choice, Chooser};
use super::effects;
use super::gates::{self, Gates};
use super::input::AdviceInput;
use super::learn::{Mind, Move};
use super::say;
use super::tip_in::{self, Pump};
use super::types::{Advice, Change, Expect, Outcome, PlanStep, RegimeVerdict, Verdict, Withheld};
use super::{learned, prior};
use crate::physics::metering::Model;
use crate::setup::{Carburetor, PartPath, Regime, Weather};
use crate::units::{Fraction, Lambda, Pressure, System, Temperature};

/// A change less sure to help than this waits for more log, when more log can settle it.
const SURE_TO_HELP: f64 = 0.80;
/// Visits to a regime beyond which more of the same log settles little.
const ENOUGH_VISITS: f64 = 27.0;
/// Nine in ten.
const NINE_IN_TEN: f64 = 1.645;

/// The next change and the plan behind it. The same input always gives the same advice.
pub fn advise(input: &AdviceInput<'_>) -> Advice {
    let bands = Bands::of(input);
    let gates = gates::look(input, &bands);
    let mind = learn(input);
    let regimes = verdicts(input, &bands, mind.as_ref());
    let mut advice = Advice {
        outcome: Outcome::LogMore,
        regimes,
        mend_first: gates.mend.clone(),
        changes: Vec::new(),
        plan: Vec::new(),
        withheld: gates.withheld.clone(),
        learned: mind.as_ref().map(learned::say).unwrap_or_default(),
        notes: learned::notes(input),
    };
    if !gates.mend.is_empty() {
        advice.outcome = Outcome::MendFirst;
        let what = "jets and bleeds";
        let reason = "what is named first comes before them; log again when it is put right";
        advice.withheld.push(Withheld::of(what, reason));
        return advice;
    }
    let outside = mind.as_ref().is_some_and(|mind| steady(input, &bands, &gates, mind, &mut advice));
    pump(input, outside, &mut advice);
    advice
}

/// Air of a standard day, where none is known: the model's shares hardly depend on it.
fn standard_air() -> Weather {
    Weather {
        pressure: Pressure::from_pa(101_325.0),
        temperature: Temperature::from_c(15.0),
        humidity: Fraction::from_ratio(0.0),
    }
}

/// What is believed after the log and those before it.
pub(super) fn learn(input: &AdviceInput<'_>) -> Option<Mind> {
    let survey = Survey::of(input);
    if survey.cells.is_empty() {
        return None;
    }
    let air = input.air().unwrap_or_else(standard_air);
    let model = Model::of(&input.setup.carburetor, &input.setup.fuel, &air);
    let trials: Vec<&Carburetor> = survey.logs.iter().map(|l| l.carburetor).collect();
    Mind::learn(&survey, effects::parts(&model, &survey.cells, &trials), &input.rules.effects)
}

/// Advice on the steady mixture; says whether anything was outside its band.
fn steady(input: &AdviceInput<'_>, bands: &Bands, gates: &Gates, mind: &Mind, advice: &mut Advice) -> bool {
    if !gates.lambda {
        return true;
    }
    let barred = barred(input);
    let chooser = Chooser::new(mind, bands, lean_end(input, mind), gates.full_throttle, barred);
    let outside = chooser.outside();
    let unsure = advice.regimes.iter().any(|r| r.verdict == Verdict::Unsure);
    if outside.is_empty() {
        advice.outcome = if unsure { Outcome::LogMore } else { Outcome::LeaveAlone };
        if advice
            .regimes
            .iter()
            .all(|r| matches!(r.verdict, Verdict::NotSeen | Verdict::NoTarget | Verdict::WitnessOnly))
        {
            advice.outcome = Outcome::LogMore;
        }
        return false;
    }
    let choice = chooser.choose();
    for ((p, to), why) in &choice.refused {
        let has_channel = input.setup.carburetor.size(PartPath::ChannelRestriction).is_some();
        let part = &mind.parts[*p];
        advice.withheld.push(say::refused(part, *to, why, has_channel, input.options.system));
    }
    let Some(now) = choice.now else {
        advice.outcome =
            if choice.refused.is_empty() && unsure { Outcome::LogMore } else { Outcome::NothingHelps };
        if choice.refused.is_empty() {
            advice.notes.push(nearest_fitted(&outside));
        }
        return true;
    };
    plan(mind, &choice, advice);
    let settles = more_log_would_settle(input, &outside);
    let within_noise = choice.back && !chooser.surely_outside();
    if settles && (within_noise || choice.helps < SURE_TO_HELP) {
        advice.outcome = Outcome::LogMore;
        ask_for_log(&outside, now, mind, choice.helps, input.options.system, advice);
        return true;
    }
    if within_noise {
        advice.outcome = Outcome::LeaveAlone;
        advice.plan.clear();
        advice.notes.push(stays(now, mind, &outside, input.options.system));
        return true;
    }
    advice.outcome = Outcome::Change;
    let mut moves = vec![now];
    if input.options.together {
        moves.extend(separable(mind, &chooser, &choice));
    }
    advice.changes =
        moves.iter().map(|m| change(input, mind, *m, &moves, &choice, &outside, advice)).collect();
    advice.plan.retain(|step| !advice.changes.iter().any(|c| c.part == step.part && c.to == step.to));
    true
}

fn nearest_fitted(outside: &[Regime]) -> String {
    let named: Vec<&str> = outside.iter().map(|r| r.said()).collect();
    format!(
        "{} lies outside its band, but no part in stock is expected to bring it nearer.",
        say::capital(&named.join(", "))
    )
}

/// Parts that are not touched: idle parts while the idle itself is not understood.
fn barred(input: &AdviceInput<'_>) -> Vec<PartPath> {
    let seen = input.trace.regime(Regime::OffIdle).is_some_and(|r| r.lambda.is_some());
    if seen { Vec::new() } else { vec![PartPath::IdleFeed, PartPath::IdleAirBleed] }
}

/// How far the lean end of the pulls lies above the middle of full throttle, in ln(lambda).
fn lean_end(input: &AdviceInput<'_>, mind: &Mind) -> f64 {
    let full: Vec<usize> =
        (0..mind.cells.len()).filter(|c| mind.cells[*c].regime == Regime::FullThrottle).collect();
    if full.len() > 1 {
        return 0.0;
    }
    let median = input.trace.regime(Regime::FullThrottle).and_then(|r| r.lambda.as_ref()).map(|l| l.median);
    let lean = input.trace.pulls.iter().filter_map(|p| p.lambda_to).reduce(Lambda::max);
    median.zip(lean).map_or(0.0, |(m, l)| (l / m).ln().clamp(0.0, 0.05))
}

fn counted(input: &AdviceInput<'_>, regime: Regime) -> f64 {
    let here = |t: &crate::trace::TraceSummary| {
        t.regime(regime)
            .map_or(0.0, |r| if r.lambda.is_some() { visits(r.visits, r.kept_seconds.as_s()) } else { 0.0 })
    };
    let same = input.memory.iter().filter(|t| t.carburetor == input.setup.carburetor).map(|t| here(&t.trace));
    here(input.trace) + same.sum::<f64>()
}

fn more_log_would_settle(input: &AdviceInput<'_>, outside: &[Regime]) -> bool {
    outside.iter().any(|r| counted(input, *r) < ENOUGH_VISITS)
}

fn ask_for_log(outside: &[Regime], now: Move, mind: &Mind, helps: f64, system: System, advice: &mut Advice) {
    for row in advice.regimes.iter_mut().filter(|r| outside.contains(&r.regime)) {
        row.needs = row.needs.max(row.seconds.max(crate::units::TimeSpan::from_s(20.0)));
    }
    let part = &mind.parts[now.0];
    advice.notes.push(format!(
        "Another run is worth more than another part now: {} {} to {} is only {} in 100 likely to help, and as much log \
         again would settle it.",
        part.path.said(), say::size(part.fitted, system), say::size(now.1, system),
        crate::units::show::fixed(100.0 * helps, 0)
    ));
}

/// Why a part is not turned back.
fn stays(m: Move, mind: &Mind, outside: &[Regime], system: System) -> String {
    let part = &mind.parts[m.0];
    let named: Vec<&str> = outside.iter().map(|r| r.said()).collect();
    format!(
        "The {} stays at {}: {} lies so near the border of its band that going back to {} would chase the noise of the logs.",
        part.path.said(),
        say::size(part.fitted, system),
        named.join(" and "),
        say::size(m.1, system)
    )
}

fn plan(mind: &Mind, choice: &Choice, advice: &mut Advice) {
    let mut fitted: Vec<Move> = Vec::new();
    for (p, to) in &choice.plan {
        let part = &mind.parts[*p];
        let from = fitted.iter().rev().find(|(q, _)| q == p).map_or(part.fitted, |(_, s)| *s);
        let why = if say::makes_richer(part, *to) { "richer there" } else { "leaner there" };
        let again = "; reckoned again after the next log";
        advice.plan.push(PlanStep { part: part.path, from, to: *to, why: format!("{why}{again}") });
        fitted.push((*p, *to));
    }
}

/// Further moves of the plan that touch none of the regimes the first one touches.
fn separable(mind: &Mind, chooser: &Chooser<'_>, choice: &Choice) -> Vec<Move> {
    let touches = |m: Move, r: Regime| {
        mind.weights(r).iter().any(|(c, _)| mind.of(&mind.effect(*c, m.0, m.1)).0.abs() > 0.005)
    };
    let mut done: Vec<Move> = choice.now.into_iter().collect();
    for m in choice.plan.iter().skip(1) {
        let apart = done
            .iter()
            .all(|d| d.0 != m.0 && !Regime::ALL.iter().any(|r| touches(*d, *r) && touches(*m, *r)));
        let mut all = done.clone();
        all.push(*m);
        if apart && chooser.refusal(&all).is_none() {
            done.push(*m);
        }
    }
    done.split_off(1)
}

fn change(
    input: &AdviceInput<'_>,
    mind: &Mind,
    m: Move,
    all: &[Move],
    choice: &Choice,
    outside: &[Regime],
    advice: &Advice,
) -> Change {
    let part = &mind.parts[m.0];
    let expect = expectations(mind, all);
    let moved = |r: Regime| {
        let sum = |w: &[(usize, f64)]| {
            w.iter().map(|(c, w)| w * mind.of(&mind.effect(*c, m.0, m.1)).0).sum::<f64>()
        };
        sum(&mind.weights(r)).abs()
    };
    let most = prior::JUDGED
        .into_iter()
        .filter(|r| expect.iter().any(|e| e.regime == *r))
        .max_by(|a, b| moved(*a).total_cmp(&moved(*b)));
    let off: Vec<&RegimeVerdict> =
        advice.regimes.iter().filter(|r| outside.contains(&r.regime) && moved(r.regime) > 0.003).collect();
    let rests_on = off.iter().map(|r| counted(input, r.regime)).fold(f64::INFINITY, f64::min);
    let rests_on = if rests_on.is_finite() { rests_on } else { 1.0 };
    let learned = mind.has_seen_changes();
    Change {
        part: part.path,
        from: part.fitted,
        to: m.1,
        why: say::why(part, m.1, &off, learned),
        how_sure: say::how_sure(choice.helps, learned, rests_on),
        proves_wrong: say::proves_wrong(&expect, most),
        expect,
    }
}

/// Lambda of each regime after some moves, with nine-in-ten intervals.
fn expectations(mind: &Mind, moves: &[Move]) -> Vec<Expect> {
    let of = |regime: Regime| {
        let (mean, variance) = mind.of(&mind.regime_after(regime, moves)?);
        let reach = NINE_IN_TEN * variance.sqrt();
        let at = |x: f64| rounded(x.exp());
        Some(Expect { regime, lambda: at(mean), low: at(mean - reach), high: at(mean + reach) })
    };
    prior::JUDGED.into_iter().filter_map(of).collect()
}

fn pump(input: &AdviceInput<'_>, outside: bool, advice: &mut Advice) {
    match tip_in::judge(input, !outside) {
        Pump::Well => {}
        Pump::Hold(held) => advice.withheld.push(held),
        Pump::Fit(change) if advice.changes.is_empty() && advice.outcome != Outcome::MendFirst => {
            advice.outcome = Outcome::Change;
            advice.changes.push(*change);
        }
        Pump::Fit(change) if input.options.together => advice.changes.push(*change),
        Pump::Fit(change) => advice.plan.push(PlanStep {
            part: change.part,
            from: change.from,
            to: change.to,
            why: change.why,
        }),
    }
}
