//! The table.

use super::rig::Rig;
use leanbest::rules::balance::Outcome;

/// Vacuum that counts as on the top, and as badly off it, inHg.
pub(crate) const ON_TOP: f64 = 0.1;
pub(crate) const FAR_OFF: f64 = 0.3;

/// How one search went.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    pub(crate) stay: Option<u32>,
    pub(crate) total: u32,
    pub(crate) lost: f64,
    pub(crate) named: bool,
    pub(crate) wrong: bool,
    pub(crate) has_dead: bool,
    pub(crate) stalls: u32,
    pub(crate) ended: bool,
    pub(crate) uneven: f64,
}

impl Run {
    pub(crate) fn of(rig: &dyn Rig, outcome: Option<&Outcome>) -> Self {
        let named: Vec<usize> =
            outcome.iter().flat_map(|o| o.unresponsive.iter().map(|u| usize::from(u.screw) - 1)).collect();
        let dead = rig.dead();
        Self {
            stay: rig.cost_to_stay(ON_TOP),
            total: rig.cost(),
            lost: rig.lost(),
            named: !dead.is_empty() && dead.iter().all(|d| named.contains(d)),
            wrong: named.iter().any(|s| !dead.contains(s)),
            has_dead: !dead.is_empty(),
            stalls: rig.stalls(),
            ended: true,
            uneven: 0.0,
        }
    }
}

/// Column names.
pub(crate) fn heading() {
    println!(
        "{:<22} {:>6} {:>11} {:>11} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7}",
        "",
        "runs",
        "cost to stay",
        "whole cost",
        ">0.1",
        ">0.3",
        "named",
        "wrongly",
        "uneven",
        "stalls",
        "endless"
    );
}

/// Middle and ninetieth percentile of the cost to come within 0.1 inHg of the top and stay, and of the whole cost;
/// shares that end further off; dead screws named, live screws called dead; mean spread of the screws; stalls a run.
pub(crate) fn row(name: &str, runs: &[Run]) {
    if runs.is_empty() {
        return;
    }
    let n = runs.len() as f64;
    let share = |f: &dyn Fn(&Run) -> bool| 100.0 * runs.iter().filter(|r| f(r)).count() as f64 / n;
    let mut stay: Vec<f64> = runs.iter().map(|r| r.stay.map_or(f64::INFINITY, f64::from)).collect();
    let mut total: Vec<f64> = runs.iter().map(|r| f64::from(r.total)).collect();
    stay.sort_by(f64::total_cmp);
    total.sort_by(f64::total_cmp);
    let at = |v: &[f64], q: f64| v[((v.len() - 1) as f64 * q) as usize];
    let dead: Vec<&Run> = runs.iter().filter(|r| r.has_dead).collect();
    let named = if dead.is_empty() {
        "-".to_owned()
    } else {
        format!("{:.1}%", 100.0 * dead.iter().filter(|r| r.named).count() as f64 / dead.len() as f64)
    };
    println!(
        "{name:<22} {:>6} {:>6} {:>5} {:>5} {:>5} {:>6.1}% {:>6.1}% {named:>7} {:>6.1}% {:>7.2} {:>7.2} {:>6.1}%",
        runs.len(),
        at(&stay, 0.5),
        at(&stay, 0.9),
        at(&total, 0.5),
        at(&total, 0.9),
        share(&|r| r.lost > ON_TOP),
        share(&|r| r.lost > FAR_OFF),
        share(&|r| r.wrong),
        runs.iter().map(|r| r.uneven).sum::<f64>() / n,
        runs.iter().map(|r| f64::from(r.stalls)).sum::<f64>() / n,
        share(&|r| !r.ended),
    );
}
