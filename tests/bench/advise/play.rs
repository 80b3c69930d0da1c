//! One engine played by one adviser, to the end.

use crate::hidden::{CHANNEL, FEED, Hidden, JET, inches};
use leanbest::analysis::advise::{Advice, AdviceInput, Options, Outcome, Trial, advise};
use leanbest::rules::RuleBook;
use leanbest::setup::{Carburetor, PartPath, PartSize, Regime, Setup};
use leanbest::trace::TraceSummary;

/// What an adviser does next.
pub enum Next {
    Change(PartPath, PartSize),
    LogMore,
    Stop,
}

/// An adviser in the loop.
pub trait Adviser {
    fn next(
        &mut self,
        setup: &Setup,
        rules: &RuleBook,
        log: &TraceSummary,
        memory: &[Trial],
    ) -> (Next, Option<Advice>);
}

/// The program's own.
pub struct Ours;

impl Adviser for Ours {
    fn next(
        &mut self,
        setup: &Setup,
        rules: &RuleBook,
        trace: &TraceSummary,
        memory: &[Trial],
    ) -> (Next, Option<Advice>) {
        let advice =
            advise(&AdviceInput { setup, rules, trace, weather: None, memory, options: Options::default() });
        let next = match (advice.outcome, advice.changes.first()) {
            (Outcome::Change, Some(c)) => Next::Change(c.part, c.to),
            (Outcome::LogMore, _) => Next::LogMore,
            _ => Next::Stop,
        };
        (next, Some(advice))
    }
}

/// How it went.
#[derive(Debug, Default, Clone)]
pub struct Played {
    /// The carburetor after each change, the first as found.
    pub states: Vec<Carburetor>,
    /// Logs taken.
    pub logs: usize,
    /// Changes that took a part back toward where it had come from.
    pub hunted: usize,
    /// Changes that took a part back a second time: to and fro.
    pub to_and_fro: usize,
    /// Full throttle leaner than its limit because of a change.
    pub violations: usize,
    /// 90 % intervals that held the truth, and all of them.
    pub held: usize,
    pub intervals: usize,
    /// Times one part was changed after having been changed the other way.
    moves: Vec<(PartPath, f64)>,
}

const MOST_CHANGES: usize = 8;
const MOST_LOGS_A_STATE: usize = 4;

/// Plays until the adviser stops, or the caps.
pub fn play(
    adviser: &mut dyn Adviser,
    hidden: &mut Hidden,
    start: &Setup,
    rules: &RuleBook,
    stop_lean: f64,
) -> Played {
    let mut setup = start.clone();
    let mut memory: Vec<Trial> = Vec::new();
    let mut played = Played { states: vec![setup.carburetor.clone()], ..Played::default() };
    let mut here = 0;
    while played.states.len() <= MOST_CHANGES {
        let log = hidden.log(&setup, &setup.carburetor);
        played.logs += 1;
        here += 1;
        let (next, advice) = adviser.next(&setup, rules, &log, &memory);
        memory.push(Trial { carburetor: setup.carburetor.clone(), weather: setup.weather, trace: log });
        match next {
            Next::Stop => break,
            Next::LogMore if here >= MOST_LOGS_A_STATE => break,
            Next::LogMore => {}
            Next::Change(part, to) => {
                let before = setup.carburetor.clone();
                let Some(after) = before.with(part, to) else { break };
                setup.carburetor = after;
                here = 0;
                account(
                    &mut played,
                    hidden,
                    &before,
                    &setup.carburetor,
                    part,
                    to,
                    advice.as_ref(),
                    stop_lean,
                );
            }
        }
    }
    played
}

#[allow(clippy::too_many_arguments, reason = "it is the book-keeping of one loop")]
fn account(
    played: &mut Played,
    hidden: &Hidden,
    before: &Carburetor,
    after: &Carburetor,
    part: PartPath,
    to: PartSize,
    advice: Option<&Advice>,
    stop_lean: f64,
) {
    let (was, is) = (hidden.leanest_full(before), hidden.leanest_full(after));
    if is > stop_lean && is > was + 1e-9 {
        played.violations += 1;
    }
    let size = |s: PartSize| match s {
        PartSize::Bore(d) => d.as_m(),
        PartSize::Opening(v) => v.as_pa(),
        PartSize::Turns(t) => t.as_turns(),
    };
    let by = size(to) - before.size(part).map_or(0.0, size);
    if played.moves.iter().any(|(p, last)| *p == part && last * by < 0.0) {
        played.hunted += 1;
    }
    played.moves.push((part, by));
    let of_it: Vec<f64> = played.moves.iter().filter(|(p, _)| *p == part).map(|(_, by)| *by).collect();
    let turns = of_it.windows(2).filter(|w| w[0] * w[1] < 0.0).count();
    played.to_and_fro += usize::from(turns >= 2);
    for e in advice.and_then(|a| a.changes.first()).map(|c| c.expect.as_slice()).unwrap_or_default() {
        let truth = hidden.regime(after, e.regime);
        played.intervals += 1;
        played.held += usize::from(truth >= e.low.as_ratio() && truth <= e.high.as_ratio());
    }
    played.states.push(after.clone());
}

impl Played {
    /// The parts after each change, with the true mixture of every regime: how a run went, for whoever looks into it.
    pub fn path(&self, hidden: &Hidden) -> String {
        let state = |c: &Carburetor| {
            let sizes = [JET, CHANNEL, FEED].map(|p| format!("{:.1}", 1e3 * inches(c, p)));
            let judged = [Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];
            let truth = judged.map(|r| format!("{:.3}", hidden.regime(c, r)));
            format!("{} ({})", sizes.join("/"), truth.join(" "))
        };
        self.states.iter().map(state).collect::<Vec<_>>().join(" -> ")
    }
    /// How often a change went back on an earlier one.
    pub fn back_and_forth(&self) -> usize {
        self.hunted
    }
    /// The carburetor after a number of changes (the last, if it stopped before).
    pub fn after(&self, changes: usize) -> &Carburetor {
        &self.states[changes.min(self.states.len() - 1)]
    }
    /// Changes until something holds; `None` when it never does.
    pub fn until(&self, holds: impl Fn(&Carburetor) -> bool) -> Option<usize> {
        self.states.iter().position(holds)
    }
}

/// Median lambda of a regime in a log.
pub fn median(log: &TraceSummary, regime: Regime) -> Option<f64> {
    log.regime(regime)?.lambda.as_ref().map(|l| l.median.as_ratio())
}
