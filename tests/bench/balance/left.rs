//! Turns said to be left against turns that it took.

use super::{Maker, ours};
use leanbest::rules::balance::{Move, Observation};

/// After one reading: the readings so far, what was reckoned then, and the turns that followed.
struct Said {
    readings: usize,
    reckoned: u32,
    gain: f64,
    took: usize,
}

/// What was reckoned at every reading, over `count` engines of each family.
pub(crate) fn table(count: u64, only: Option<usize>, makers: &[(String, Maker)]) {
    for n in [2usize, 4].into_iter().filter(|n| only.is_none_or(|o| o == *n)) {
        let mut said: Vec<Said> = Vec::new();
        for (_, make) in makers {
            for seed in 0..count {
                if let Some(mut rig) = make(n, seed) {
                    said.extend(of(rig.as_mut()));
                }
            }
        }
        println!(
            "{n} screws\n{:>9} {:>7} {:>7} {:>7} {:>7} {:>7}",
            "reckoned", "times", "10 %", "middle", "mean", "90 %"
        );
        let mut reckoned: Vec<u32> = said.iter().map(|s| s.reckoned).collect();
        reckoned.sort_unstable();
        reckoned.dedup();
        for r in reckoned {
            row(&r.to_string(), said.iter().filter(|s| s.reckoned == r));
        }
        println!("by readings");
        for k in 1..=20 {
            row(&k.to_string(), said.iter().filter(|s| s.readings == k));
        }
        println!("by gain");
        for k in 0..12 {
            let (a, b) = (0.02 * 1.5f64.powi(k) - 0.02, 0.02 * 1.5f64.powi(k + 1) - 0.02);
            row(&format!("{a:.2}"), said.iter().filter(|s| s.gain >= a && s.gain < b));
        }
    }
}

fn row<'a>(name: &str, of: impl Iterator<Item = &'a Said>) {
    let mut took: Vec<usize> = of.map(|s| s.took).collect();
    if took.is_empty() {
        return;
    }
    took.sort_unstable();
    let at = |q: f64| took[((took.len() - 1) as f64 * q) as usize];
    let mean = took.iter().sum::<usize>() as f64 / took.len() as f64;
    println!("{name:>9} {:>7} {:>7} {:>7} {mean:>7.1} {:>7}", took.len(), at(0.1), at(0.5), at(0.9));
}

fn of(rig: &mut dyn super::Rig) -> Vec<Said> {
    let mut said = Vec::new();
    let mut turns = 0usize;
    let ended = ours::run(rig, 400, |next, _, belief, history| {
        if let (Some(Observation::Read(_)), Some(b)) = (history.last(), belief) {
            let readings = history.iter().filter(|o| matches!(o, Observation::Read(_))).count();
            said.push(Said { readings, reckoned: b.moves_left, gain: b.to_gain.as_inhg(), took: turns });
        }
        turns += usize::from(matches!(next, Move::Turn { .. }));
    });
    if ended.is_none() {
        return Vec::new();
    }
    for s in &mut said {
        s.took = turns - s.took;
    }
    said
}
