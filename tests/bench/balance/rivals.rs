//! What the search is held against: the usual hand method, golden section by screw, the simplex of Nelder and Mead
//! (1965) and Powell's linear-approximation trust region (1994) from a library.

use super::rig::Rig;
use std::cell::RefCell;

/// A way to look for the top.
pub(crate) type Rival = (&'static str, fn(&mut dyn Rig));

pub(crate) const RIVALS: [Rival; 4] = [
    ("by hand", by_hand),
    ("golden section", golden),
    ("Nelder-Mead", nelder_mead),
    ("COBYLA (library)", cobyla),
];

/// Goes to a setting (screws that turn by the same amount count as one command) and reads; a stalled engine reads
/// nothing and is taken back to where it ran.
fn read_at(rig: &mut dyn Rig, at: &[f64]) -> f64 {
    let from = rig.turns();
    if !go(rig, at) {
        go(rig, &from);
        return 0.0;
    }
    rig.read().vacuum
}

fn go(rig: &mut dyn Rig, at: &[f64]) -> bool {
    let from = rig.turns();
    let mut left: Vec<usize> = (0..at.len()).filter(|&i| (at[i] - from[i]).abs() > 1e-3).collect();
    let mut runs = true;
    while let Some(&first) = left.first() {
        let by = at[first] - from[first];
        let (same, rest): (Vec<usize>, Vec<usize>) =
            left.iter().partition(|&&i| (at[i] - from[i] - by).abs() < 1e-3);
        runs &= rig.turn(&same, by);
        left = rest;
    }
    runs
}

fn readings_allowed(rig: &dyn Rig) -> usize {
    35 * rig.turns().len()
}

/// One screw at a time: a quarter turn while it gets better by two tenths (or 10 rpm), else back and the other way;
/// then eighths; laps until a whole lap brings nothing, four at most.
fn by_hand(rig: &mut dyn Rig) {
    let mut best = rig.read();
    for lap in 0..4 {
        let step = if lap == 0 { 0.25 } else { 0.125 };
        let mut moved = false;
        for screw in 0..rig.turns().len() {
            for by in [step, -step] {
                let mut better = false;
                loop {
                    let at = rig.turns()[screw];
                    if !(0.0..=rig.range()).contains(&(at + by)) {
                        break;
                    }
                    let runs = rig.turn(&[screw], by);
                    let now = if runs { Some(rig.read()) } else { None };
                    match now {
                        Some(now) if now.vacuum >= best.vacuum + 0.2 || now.speed >= best.speed + 10.0 => {
                            best = now;
                            better = true;
                            moved = true;
                        }
                        _ => {
                            rig.turn(&[screw], -by);
                            break;
                        }
                    }
                }
                if better {
                    break;
                }
            }
        }
        if !moved && lap > 0 {
            break;
        }
    }
}

/// Golden section on each screw in turn over one turn either side, then over half a turn.
fn golden(rig: &mut dyn Rig) {
    let ratio = 0.5 * (5f64.sqrt() - 1.0);
    for reach in [1.0, 0.5] {
        for screw in 0..rig.turns().len() {
            let here = rig.turns();
            let (mut low, mut high) =
                ((here[screw] - reach).max(0.0), (here[screw] + reach).min(rig.range()));
            let value = |rig: &mut dyn Rig, x: f64| {
                let mut at = rig.turns();
                at[screw] = x;
                read_at(rig, &at)
            };
            let (mut a, mut b) = (high - ratio * (high - low), low + ratio * (high - low));
            let (mut va, mut vb) = (value(rig, a), value(rig, b));
            while high - low > 0.15 {
                if va >= vb {
                    (high, b, vb) = (b, a, va);
                    a = high - ratio * (high - low);
                    va = value(rig, a);
                } else {
                    (low, a, va) = (a, b, vb);
                    b = low + ratio * (high - low);
                    vb = value(rig, b);
                }
            }
            let mut at = rig.turns();
            at[screw] = 0.5 * (low + high);
            go(rig, &at);
        }
    }
}

/// Reflection 1, expansion 2, contraction and shrinking a half; first edges of half a turn.
fn nelder_mead(rig: &mut dyn Rig) {
    let n = rig.turns().len();
    let range = rig.range();
    let inside = |x: Vec<f64>| -> Vec<f64> { x.into_iter().map(|t| t.clamp(0.0, range)).collect() };
    let start = rig.turns();
    let mut corners: Vec<(f64, Vec<f64>)> = vec![(rig.read().vacuum, start.clone())];
    for i in 0..n {
        let mut at = start.clone();
        at[i] += 0.5;
        corners.push((read_at(rig, &inside(at.clone())), at));
    }
    let mut readings = n + 1;
    while readings < readings_allowed(rig) {
        corners.sort_by(|a, b| b.0.total_cmp(&a.0));
        let widest =
            (0..n).map(|i| corners.iter().map(|c| (c.1[i] - corners[0].1[i]).abs()).fold(0.0, f64::max));
        if widest.fold(0.0, f64::max) < 0.07 {
            break;
        }
        let centre: Vec<f64> =
            (0..n).map(|i| corners[..n].iter().map(|c| c.1[i]).sum::<f64>() / n as f64).collect();
        let worst = corners[n].clone();
        let along = |k: f64| inside((0..n).map(|i| centre[i] + k * (centre[i] - worst.1[i])).collect());
        let mut take = |rig: &mut dyn Rig, k: f64| {
            readings += 1;
            let at = along(k);
            (read_at(rig, &at), at)
        };
        let reflected = take(rig, 1.0);
        if reflected.0 > corners[0].0 {
            let expanded = take(rig, 2.0);
            corners[n] = if expanded.0 > reflected.0 { expanded } else { reflected };
        } else if reflected.0 > corners[n - 1].0 {
            corners[n] = reflected;
        } else {
            let contracted = take(rig, if reflected.0 > worst.0 { 0.5 } else { -0.5 });
            if contracted.0 > worst.0.max(reflected.0) {
                corners[n] = contracted;
            } else {
                let best = corners[0].1.clone();
                for c in &mut corners[1..] {
                    c.1 = (0..n).map(|i| 0.5 * (c.1[i] + best[i])).collect();
                    c.0 = read_at(rig, &c.1);
                    readings += 1;
                }
            }
        }
    }
    corners.sort_by(|a, b| b.0.total_cmp(&a.0));
    go(rig, &corners[0].1);
}

fn cobyla(rig: &mut dyn Rig) {
    let start = rig.turns();
    let bounds = vec![(0.0, rig.range()); start.len()];
    let allowed = readings_allowed(rig);
    let shared = RefCell::new(rig);
    let value = |x: &[f64], (): &mut ()| -> f64 { -read_at(&mut **shared.borrow_mut(), x) };
    let none: [fn(&[f64], &mut ()) -> f64; 0] = [];
    let stop = ::cobyla::StopTols { xtol_abs: vec![0.06; start.len()], ..::cobyla::StopTols::default() };
    let found = ::cobyla::minimize(
        value,
        &start,
        &bounds,
        &none,
        (),
        allowed,
        ::cobyla::RhoBeg::All(0.5),
        Some(stop),
    );
    let at = match found {
        Ok((_, x, _)) | Err((_, x, _)) => x,
    };
    go(&mut **shared.borrow_mut(), &at);
}
