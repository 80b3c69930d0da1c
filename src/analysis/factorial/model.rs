//! The model of a small factorial, and its fit.

use crate::analysis::verdict::{Fit, Noise, Setting, differences, fit, quantile};
use crate::units::Fraction;
use std::collections::BTreeMap;

/// What a state was set to, by name.
pub type State = BTreeMap<String, Setting>;

/// A thing that was changed: its name and the values it took, the first one first.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Its name.
    pub name: String,
    /// Values, in the order first run; the first is what the effects are held against.
    pub values: Vec<Setting>,
}

/// One pull: its state and its figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// What was set.
    pub state: State,
    /// The figure, all in one unit.
    pub value: f64,
    /// When, in pulls.
    pub at: f64,
}

/// A column of the model.
#[derive(Debug, Clone, PartialEq)]
pub enum Term {
    /// One thing, from its first value to `to`.
    Change {
        /// Which thing.
        factor: String,
        /// From what.
        from: Setting,
        /// To what.
        to: Setting,
    },
    /// Two things changed together, beyond the sum of each alone.
    Together {
        /// One.
        first: String,
        /// The other.
        second: String,
    },
}

/// What the pulls say of one term.
#[derive(Debug, Clone, PartialEq)]
pub struct TermEffect {
    /// Which term.
    pub term: Term,
    /// Effect and its 90 % interval; `None` when the pulls made cannot tell it from others.
    pub effect: Option<Interval>,
}

/// An effect with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Best value.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A factorial series judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Attribution {
    /// Things that were changed.
    pub factors: Vec<Factor>,
    /// Every term of the model.
    pub terms: Vec<TermEffect>,
    /// Drift for each pull, when it can be told.
    pub drift_per_pull: Option<f64>,
    /// Pull-to-pull noise.
    pub noise: Noise,
    /// Every single thing's effect can be told.
    pub separated: bool,
    /// Interactions are in the model; without them, effects are taken to add up.
    pub interactions: bool,
}

/// Things set to more than one value over the runs, leaving out what only some runs mention.
pub fn factors(runs: &[Run]) -> Vec<Factor> {
    let Some(first) = runs.first() else { return Vec::new() };
    let mut found: Vec<Factor> = Vec::new();
    for run in runs {
        for difference in differences(&first.state, &run.state) {
            let (Some(from), Some(to)) = (difference.from, difference.to) else { continue };
            match found.iter_mut().find(|f| f.name == difference.name) {
                None => found.push(Factor { name: difference.name, values: vec![from, to] }),
                Some(factor) if index_of(factor, &to).is_none() => factor.values.push(to),
                Some(_) => {}
            }
        }
    }
    found
}

/// Names that some runs set and others do not mention: nothing can be said about them.
pub fn unsaid(runs: &[Run]) -> Vec<String> {
    let mut names: Vec<String> = runs.iter().flat_map(|r| r.state.keys().cloned()).collect();
    names.sort();
    names.dedup();
    names.retain(|n| !runs.iter().all(|r| r.state.contains_key(n)));
    names
}

/// Position of a setting among a factor's values, spelling apart.
fn index_of(factor: &Factor, setting: &Setting) -> Option<usize> {
    let alone = |s: &Setting| State::from([(String::new(), s.clone())]);
    factor.values.iter().position(|v| differences(&alone(v), &alone(setting)).is_empty())
}

/// Which value of each factor a state has.
pub(super) fn cell(factors: &[Factor], state: &State) -> Option<Vec<usize>> {
    factors.iter().map(|f| index_of(f, state.get(&f.name)?)).collect()
}

/// The terms of the model: every change, and every pair of two-valued things.
pub(super) fn terms(factors: &[Factor], interactions: bool) -> Vec<(Term, Vec<(usize, usize)>)> {
    let mut out = Vec::new();
    for (k, f) in factors.iter().enumerate() {
        for (v, to) in f.values.iter().enumerate().skip(1) {
            let term = Term::Change { factor: f.name.clone(), from: f.values[0].clone(), to: to.clone() };
            out.push((term, vec![(k, v)]));
        }
    }
    let two = |f: &Factor| f.values.len() == 2;
    for (i, a) in factors.iter().enumerate().filter(|(_, f)| interactions && two(f)) {
        for (j, b) in factors.iter().enumerate().skip(i + 1).filter(|(_, f)| two(f)) {
            out.push((
                Term::Together { first: a.name.clone(), second: b.name.clone() },
                vec![(i, 1), (j, 1)],
            ));
        }
    }
    out
}

/// One column of the design: 1 where every named factor has the named value.
fn column(cells: &[Vec<usize>], needs: &[(usize, usize)]) -> Vec<f64> {
    cells.iter().map(|c| f64::from(u8::from(needs.iter().all(|(k, v)| c[*k] == *v)))).collect()
}

/// Level, terms, drift.
pub(super) fn design(cells: &[Vec<usize>], at: &[f64], needs: &[Vec<(usize, usize)>]) -> Vec<Vec<f64>> {
    let mut columns = vec![vec![1.0; cells.len()]];
    columns.extend(needs.iter().map(|n| column(cells, n)));
    let centre = at.iter().sum::<f64>() / at.len().max(1) as f64;
    columns.push(at.iter().map(|t| t - centre).collect());
    columns
}

/// Attributes the figures to the things that were changed. Interactions are fitted when the pulls can tell them;
/// otherwise the effects are taken to add up, and `interactions` is false. `None` with fewer than two runs, no thing
/// changed, or a figure that is not finite.
pub fn attribute(runs: &[Run], floor: Fraction) -> Option<Attribution> {
    let factors = factors(runs);
    if factors.is_empty() || runs.len() < 2 {
        return None;
    }
    let told = |a: &Attribution| a.terms.iter().all(|t| t.effect.is_some());
    let full = attribute_with(runs, &factors, floor, true)?;
    if told(&full) {
        return Some(full);
    }
    // Without interactions more may be told; offered only when it then tells every single effect.
    let plain = attribute_with(runs, &factors, floor, false)?;
    Some(if told(&plain) { plain } else { full })
}

fn attribute_with(
    runs: &[Run],
    factors: &[Factor],
    floor: Fraction,
    interactions: bool,
) -> Option<Attribution> {
    let cells: Vec<Vec<usize>> = runs.iter().map(|r| cell(factors, &r.state)).collect::<Option<_>>()?;
    let (y, at): (Vec<f64>, Vec<f64>) = runs.iter().map(|r| (r.value, r.at)).unzip();
    let (names, needs): (Vec<Term>, Vec<_>) = terms(factors, interactions).into_iter().unzip();
    let mut columns = design(&cells, &at, &needs);
    let mut found = fit(&columns, &y)?;
    let mut drift =
        found.estimable.last().copied().unwrap_or(false).then(|| found.value.last().copied()).flatten();
    let of_terms = |f: &Fit| f.estimable[1..=names.len()].iter().all(|e| *e);
    if !of_terms(&found) {
        // Too few pulls for drift as well: try without it, and let the noise carry it.
        columns.pop();
        let without = fit(&columns, &y)?;
        if of_terms(&without) {
            (found, drift) = (without, None);
        }
    }
    let base: Vec<f64> =
        runs.iter().zip(&cells).filter(|(_, c)| c.iter().all(|v| *v == 0)).map(|(r, _)| r.value).collect();
    let level = base.iter().sum::<f64>() / base.len().max(1) as f64;
    let mut noise = Noise::of(&found, level, floor);
    if drift.is_none() {
        noise.deviation *= core::f64::consts::SQRT_2;
    }
    let errors = quantile(noise.freedom)?;
    let effect = |k: usize| {
        let half = errors * noise.deviation * found.unit_variance[k].sqrt();
        let value = found.value[k];
        found.estimable[k].then_some(Interval { value, low: value - half, high: value + half })
    };
    let terms: Vec<TermEffect> =
        names.into_iter().enumerate().map(|(k, term)| TermEffect { term, effect: effect(k + 1) }).collect();
    let separated = terms.iter().all(|t| matches!(t.term, Term::Together { .. }) || t.effect.is_some());
    Some(Attribution {
        factors: factors.to_vec(),
        terms,
        drift_per_pull: drift,
        noise,
        separated,
        interactions,
    })
}
