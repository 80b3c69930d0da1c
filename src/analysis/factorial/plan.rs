//! The smallest set of further pulls that tells every effect, and every pair's interaction, apart.

use super::model::{Factor, Run, State, cell, design, factors, terms};
use crate::analysis::verdict::fit;

/// Beyond this many states a plan is no longer a small one.
const STATE_LIMIT: usize = 64;
/// Further pulls looked for.
const RUN_LIMIT: usize = 12;

/// The fewest further states to run, in order, after which every effect, every pair's interaction and the drift can
/// be told. Empty when they can be told already; `None` when there are too many things at once for a small plan.
///
/// Each next state is the one that leaves the least uncertainty behind among those that tell something new (the
/// greatest gain of the determinant of the information, Fedorov 1972, from memory), given when it would be run, so
/// that drift is not mistaken for an effect.
pub fn further_states(runs: &[Run]) -> Option<Vec<State>> {
    let factors = factors(runs);
    let first = runs.first()?;
    let mut cells: Vec<Vec<usize>> = runs.iter().map(|r| cell(&factors, &r.state)).collect::<Option<_>>()?;
    let mut at: Vec<f64> = runs.iter().map(|r| r.at).collect();
    let needs: Vec<_> = terms(&factors, true).into_iter().map(|(_, n)| n).collect();
    let states = every_cell(&factors)?;
    let mut plan = Vec::new();
    while !told(&cells, &at, &needs) {
        if plan.len() >= RUN_LIMIT {
            return None;
        }
        let next = at.last().map_or(0.0, |t| t + 1.0);
        at.push(next);
        let best = states.iter().max_by(|a, b| {
            information(&cells, a, &at, &needs).total_cmp(&information(&cells, b, &at, &needs))
        })?;
        cells.push(best.clone());
        plan.push(state_of(&factors, &first.state, best));
    }
    Some(plan)
}

fn every_cell(factors: &[Factor]) -> Option<Vec<Vec<usize>>> {
    let mut cells = vec![Vec::new()];
    for f in factors {
        cells = cells
            .iter()
            .flat_map(|c| (0..f.values.len()).map(move |v| [c.as_slice(), &[v]].concat()))
            .collect();
        if cells.len() > STATE_LIMIT {
            return None;
        }
    }
    Some(cells)
}

fn told(cells: &[Vec<usize>], at: &[f64], needs: &[Vec<(usize, usize)>]) -> bool {
    let columns = design(cells, at, needs);
    fit(&columns, &vec![0.0; cells.len()]).is_some_and(|f| f.estimable.iter().all(|e| *e))
}

/// Log determinant of the information with one more run; a small ridge stands for what is still unknown.
fn information(cells: &[Vec<usize>], more: &[usize], at: &[f64], needs: &[Vec<(usize, usize)>]) -> f64 {
    const RIDGE: f64 = 1e-4;
    let mut cells = cells.to_vec();
    cells.push(more.to_vec());
    let mut columns = design(&cells, at, needs);
    // Drift in spans of the series, so that one unit of each column weighs alike.
    let span = at.iter().fold(1.0_f64, |m, t| m.max(t.abs()));
    if let Some(drift) = columns.last_mut() {
        for t in drift.iter_mut() {
            *t /= span;
        }
    }
    let n = columns.len();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let m = nalgebra::DMatrix::from_fn(n, n, |i, j| {
        dot(&columns[i], &columns[j]) + if i == j { RIDGE } else { 0.0 }
    });
    m.cholesky().map_or(f64::NEG_INFINITY, |c| c.l_dirty().diagonal().iter().map(|d| d.ln()).sum())
}

fn state_of(factors: &[Factor], base: &State, cell: &[usize]) -> State {
    let mut state = base.clone();
    for (f, v) in factors.iter().zip(cell) {
        state.insert(f.name.clone(), f.values[*v].clone());
    }
    state
}
