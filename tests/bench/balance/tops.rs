//! What the virtual engines ask of a hand: where their tops lie, how near eighth and sixteenth marks come to them, and
//! how far readings of one setting scatter.

use leanbest::bench::virtual_engine::{Character, VirtualEngine, scenario};
use leanbest::units::{TimeSpan, Turns};

/// Prints one line for each engine of each family with `n` screws.
pub(crate) fn print(n: usize, count: u64) {
    println!(
        "{:<22} {:>4} {:>6} {:>6} {:>6} {:>6}  {:>8} {:>8}  {:>6} {:>6}  turns out at the top",
        "", "seed", "vacuum", "rpm", "top", "rpm", "eighths", "sixteens", "1 look", "5 looks"
    );
    let setup = if n == 2 { scenario::oyster_skiff() } else { scenario::pulling_tractor() };
    for character in Character::ALL {
        for seed in 0..count {
            let mut engine = VirtualEngine::new(&setup, character, seed);
            if engine.start() {
                line(&mut engine, character.name(), seed);
            }
        }
    }
}

fn line(engine: &mut VirtualEngine, name: &str, seed: u64) {
    engine.advance(TimeSpan::from_s(20.0));
    let (Some(here), Some(best)) = (engine.settled(), engine.best_vacuum()) else { return };
    let top = best.vacuum.as_inhg();
    let turns: Vec<f64> = best.turns.iter().map(|t| t.as_turns()).collect();
    let mut at_top = engine.clone();
    go(&mut at_top, &turns);
    let speed = at_top.settled().map_or(0.0, |s| s.speed.as_rpm());
    let marks = |mark: f64| top - nearest(engine, &turns, mark);
    let (once, often) = scatter(&mut at_top);
    println!(
        "{name:<22} {seed:>4} {:>6.2} {:>6.0} {top:>6.2} {speed:>6.0}  {:>8.3} {:>8.3}  {once:>6.3} {often:>6.3}  {turns:.2?}",
        here.vacuum.as_inhg(),
        here.speed.as_rpm(),
        marks(0.125),
        marks(0.0625),
    );
}

fn go(engine: &mut VirtualEngine, turns: &[f64]) {
    for (i, t) in turns.iter().enumerate() {
        let by = t - engine.screws()[i].as_turns();
        engine.turn_screw(i as u8 + 1, Turns::from_turns(by));
    }
}

/// The most vacuum at marks counted from where the screws stand, found by steps of one screw or all from the nearest.
fn nearest(engine: &VirtualEngine, top: &[f64], mark: f64) -> f64 {
    let from: Vec<f64> = engine.screws().iter().map(|t| t.as_turns()).collect();
    let mut at: Vec<f64> =
        from.iter().zip(top).map(|(f, t)| (f + ((t - f) / mark).round() * mark).max(f % mark)).collect();
    let vacuum = |at: &[f64]| {
        let mut other = engine.clone();
        go(&mut other, at);
        other.settled().map_or(0.0, |s| s.vacuum.as_inhg())
    };
    let mut best = vacuum(&at);
    loop {
        let before = best;
        for i in 0..=at.len() {
            for by in [mark, -mark] {
                let mut next = at.clone();
                next.iter_mut()
                    .enumerate()
                    .filter(|(k, _)| i == *k || i == top.len())
                    .for_each(|(_, t)| *t += by);
                let v = if next.iter().all(|t| *t >= -1e-9) { vacuum(&next) } else { 0.0 };
                if v > best + 1e-6 {
                    (best, at) = (v, next);
                }
            }
        }
        if best <= before {
            return best;
        }
    }
}

/// Spread of one look at the needle ten seconds apart, and of the mean of five looks one second apart.
fn scatter(engine: &mut VirtualEngine) -> (f64, f64) {
    let (mut once, mut often) = (Vec::new(), Vec::new());
    for _ in 0..40 {
        engine.advance(TimeSpan::from_s(5.0));
        let mut sum = 0.0;
        for k in 0..5 {
            engine.advance(TimeSpan::from_s(1.0));
            let look = engine.gauges().vacuum.as_inhg();
            sum += look / 5.0;
            if k == 4 {
                once.push(look);
            }
        }
        often.push(sum);
    }
    (spread(&once), spread(&often))
}

fn spread(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt()
}
