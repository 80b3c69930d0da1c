//! Cost of finding the top: the search beside hand methods and textbook optimisers, in the same run, on two sets of
//! engines that share nothing with it: a small independent simulator (`simulated`) and the program's virtual engine
//! (`virtual`), which was made without it.
//!
//! ```text
//! cargo bench --bench balance                         # everything, 200 engines of each family
//! cargo bench --bench balance -- --engines 40 --screws 2 --set virtual --alone
//! cargo bench --bench balance -- --show mild 2 17     # one search, told move by move
//! cargo bench --bench balance -- --left 10            # turns said to be left against turns it took
//! cargo bench --bench balance -- --tops 4 --engines 10 # where virtual tops lie, what marks reach, how readings scatter
//! ```
//!
//! Measured: cost to stay within 0.1 inHg of the top at the middle and the ninetieth percentile, and runs that end
//! further off, both sets, all 14 families. Two screws, 560 runs (`--alone --screws 2 --engines 40`): 19 and 36, 2.5 %.
//! Four screws, 224 runs (`--alone --screws 4 --engines 16`): 44 and 94, 4.0 %, none by more than 0.3 inHg. All dead
//! screws named, no live one called dead. Mild engines end off in 0 to 2.5 % of the runs, lopey ones in 0 to 7.5 %; the
//! engine found wrecked (`v/as-found`) costs most, 39 and 110 to 122 at the middle, and with four screws ends off most often.
//! Beside the others on the same 252 engines (`--engines 18`), runs that end off: two screws 2.4 %, by hand 29 %,
//! golden section 53 %, Nelder-Mead 23 %, COBYLA 35 %; four screws 3.2 %, and 50, 81, 47 and 53 %: most of their runs
//! never come to stay.
//! A virtual reading is the middle of five looks a second apart, at the end of the ten seconds a reading costs. The best
//! eighth marks lie within 0.07 inHg of every virtual top (`--tops`). A virtual engine has an idle-speed screw, and the
//! search may ask to trim it, which costs a turn and a reading and moves its tops; the simulated ones have none, nor do
//! the rivals use it. A decision takes 9 ms at the mean with two screws and 20 with four, 99 of 100 within 20 and 45 to
//! 48; the longest took 74 ms of one busy processor, after some 70 readings.
#![allow(missing_docs)]
#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]

#[path = "balance/engine.rs"]
mod engine;
#[path = "balance/left.rs"]
mod left;
#[path = "balance/ours.rs"]
mod ours;
#[path = "balance/rig.rs"]
mod rig;
#[path = "balance/rivals.rs"]
mod rivals;
#[path = "balance/tally.rs"]
mod tally;
#[path = "balance/tops.rs"]
mod tops;

use engine::{Bench, Engine, FAMILIES};
use leanbest::bench::virtual_engine::{Character, VirtualEngine, scenario};
use leanbest::rules::balance::Belief;
use rig::{Rehearsal, Rig};
use tally::{Run, heading, row};

/// A family of engines by name, and how to make the `seed`th with `n` screws.
type Maker = Box<dyn Fn(usize, u64) -> Option<Box<dyn Rig>> + Sync>;

fn makers(set: &str) -> Vec<(String, Maker)> {
    let mut found: Vec<(String, Maker)> = Vec::new();
    if set != "virtual" {
        for family in FAMILIES {
            let make: Maker =
                Box::new(move |n, seed| Some(Box::new(Bench::new(Engine::new(family, n, seed), seed))));
            found.push((format!("{family:?}").to_lowercase(), make));
        }
    }
    if set != "simulated" {
        for character in Character::ALL {
            let hot = move |n| character == Character::Lopey || n == 4 && character == Character::AsFound;
            let make: Maker = Box::new(move |n, seed| rehearsal(character, n, hot(n), seed));
            found.push((format!("v/{}", character.name()), make));
        }
        let make: Maker = Box::new(|n, seed| rehearsal(Character::Mild, n, true, seed));
        found.push(("v/hot-cam".to_owned(), make));
    }
    found
}

/// The skiff's six with its two screws or the tractor's with its four, each with the skiff's mild cam or with the tractor's
/// hot one, and the idle speed that goes with it. A hot cam makes an engine lopey whatever else it is.
fn rehearsal(character: Character, n: usize, hot: bool, seed: u64) -> Option<Box<dyn Rig>> {
    let (skiff, tractor) = (scenario::oyster_skiff(), scenario::pulling_tractor());
    let cam = if hot { &tractor.engine } else { &skiff.engine };
    let mut setup = if n == 2 { skiff.clone() } else { tractor.clone() };
    setup.engine.cam = cam.cam;
    setup.engine.idle_speed = cam.idle_speed;
    setup.engine.idle_timing = cam.idle_timing;
    let moves = matches!(character, Character::WarmingUp | Character::AsFound);
    let engine = VirtualEngine::new(&setup, character, seed);
    Rehearsal::new(engine, hot, moves).map(|r| Box::new(r) as Box<dyn Rig>)
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let after =
        |name: &str, k: usize| args.iter().position(|a| a == name).and_then(|i| args.get(i + k).cloned());
    let count: u64 = after("--engines", 1).and_then(|s| s.parse().ok()).unwrap_or(200);
    let only: Option<usize> = after("--screws", 1).and_then(|s| s.parse().ok());
    let set = after("--set", 1).unwrap_or_default();
    if let (Some(family), Some(n), Some(seed)) = (after("--show", 1), after("--show", 2), after("--show", 3))
    {
        show(&family, n.parse().unwrap_or(2), seed.parse().unwrap_or(0));
        return;
    }
    if let Some(count) = after("--left", 1).and_then(|s| s.parse().ok()) {
        left::table(count, only, &makers(&set));
        return;
    }
    if let Some(n) = after("--tops", 1) {
        tops::print(n.parse().unwrap_or(4), after("--engines", 1).and_then(|s| s.parse().ok()).unwrap_or(10));
        return;
    }
    for n in [2usize, 4] {
        if only.is_some_and(|o| o != n) {
            continue;
        }
        println!("\n{n} screws, the search, {count} engines of each family");
        heading();
        let mut all = Vec::new();
        for (name, make) in makers(&set) {
            let runs = on_two_threads(count, |seed| make(n, seed).map(|mut rig| search(rig.as_mut(), n)));
            row(&name, &runs);
            all.extend(runs);
        }
        row("all", &all);
        println!("{}", ours::times());
        if args.iter().any(|a| a == "--alone") {
            continue;
        }
        println!("\n{n} screws, the others, over the same engines");
        heading();
        for (name, rival) in rivals::RIVALS {
            let mut runs = Vec::new();
            for (_, make) in makers(&set) {
                runs.extend(on_two_threads(count, |seed| {
                    make(n, seed).map(|mut rig| {
                        rival(rig.as_mut());
                        Run::of(rig.as_ref(), None)
                    })
                }));
            }
            row(name, &runs);
        }
    }
}

fn on_two_threads(count: u64, one: impl Fn(u64) -> Option<Run> + Sync) -> Vec<Run> {
    let half = |odd: u64| (0..count).filter(|s| s % 2 == odd).filter_map(&one).collect::<Vec<Run>>();
    std::thread::scope(|scope| {
        let other = scope.spawn(|| half(1));
        let mut runs = half(0);
        runs.extend(other.join().unwrap_or_default());
        runs
    })
}

fn search(rig: &mut dyn Rig, n: usize) -> Run {
    let outcome = ours::run(rig, 400, |_, _, _, _| {});
    let mut run = Run::of(rig, outcome.as_ref());
    run.ended = outcome.is_some();
    let live: Vec<f64> = (0..n).filter(|i| !rig.dead().contains(i)).map(|i| rig.turns()[i]).collect();
    let high = live.iter().copied().fold(f64::MIN, f64::max);
    run.uneven = (high - live.iter().copied().fold(f64::MAX, f64::min)).max(0.0);
    run
}

fn show(family: &str, n: usize, seed: u64) {
    let Some((_, make)) = makers("").into_iter().find(|(name, _)| name == family) else {
        println!("no family {family}");
        return;
    };
    let Some(mut rig) = make(n, seed) else {
        println!("it does not run as found");
        return;
    };
    let outcome = ours::run(rig.as_mut(), 400, |next, why, belief, history| {
        if let Some(leanbest::rules::balance::Observation::Read(r)) = history.last() {
            println!("   read {:?} {:?} lambda {:?}", r.vacuum, r.speed, r.lambda);
        }
        println!("{next:?}  {why}");
        if let Some(belief) = belief {
            tell(belief);
        }
    });
    println!("best {:?}", rig.best());
    println!("lost {:.3} cost {} dead {:?} track {:?}", rig.lost(), rig.cost(), rig.dead(), rig.track());
    println!("{outcome:?}");
}

fn tell(b: &Belief) {
    for s in &b.screws {
        let (at, top, unsure) = (s.stands.as_turns(), s.top.as_turns(), s.unsure.as_turns());
        print!("   {at:.3} (top {top:.2}±{unsure:.2}, dead {:.2})", s.dead);
    }
    let (top, unsure, gain) = (b.top.as_inhg(), b.top_unsure.as_inhg(), b.to_gain.as_inhg());
    println!("   top {top:.2}±{unsure:.2}, to gain {gain:.2}, {} more, drift {:?}", b.moves_left, b.drifting);
}
