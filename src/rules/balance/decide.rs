//! The next move.

use super::belief;
use super::dead;
use super::engine::Setting;
use super::finish;
use super::past::Past;
use super::plan::{self, Aim};
use super::posterior::{Posterior, learn};
use super::prior::{MAX, Prior};
use super::say;
use super::types::{Decision, Move, Observation, Outcome, Spec};
use super::worth::{Probe, Scales, Stand, groups};
use crate::units::{EngineSpeed, System, Turns, Vacuum};

/// The next move for this history. Pure and deterministic: the same history gives the same move.
///
/// The mixture screws are asked to turn by whole marks within their range, never further lean at once than
/// [`plan::LEAN_STEP_TOGETHER`] and [`plan::LEAN_STEP_ALONE`]. The answer to `Cannot` is to go on without. `system` is the
/// units of the words, and touches nothing else.
pub fn decide(spec: &Spec, history: &[Observation], system: System) -> Decision {
    let past = Past::of(spec, history);
    let prior = Prior::of(spec, &past.trims);
    if past.no_reading {
        return give_up(spec, &past, "without vacuum readings the top cannot be found");
    }
    if spec.screws.turns_out.is_empty() {
        return give_up(spec, &past, "there is no mixture screw to turn");
    }
    let mark = spec.screws.mark.as_turns().abs().max(1e-3);
    let range = spec.screws.range.as_turns().max(mark);
    if let Some(next) = after_stall(&prior, &past, mark, range) {
        return Decision { next, why: say::STALLED.into(), belief: None };
    }
    // After a trim too: how far the needle went with the speed is not known, and a leaner engine may not like it.
    if past.stalled_since_reading() || past.trimmed_since_reading() {
        return Decision { next: Move::Read, why: say::READ.into(), belief: None };
    }
    let Some(posterior) = learn(&prior, &past) else {
        return Decision { next: Move::Read, why: say::FIRST_READING.into(), belief: None };
    };
    Search { spec, prior: &prior, past: &past, posterior: &posterior, mark, range, system }.next()
}

struct Search<'a> {
    spec: &'a Spec,
    prior: &'a Prior,
    past: &'a Past,
    posterior: &'a Posterior,
    mark: f64,
    range: f64,
    system: System,
}

impl Search<'_> {
    fn next(&self) -> Decision {
        // The plan is made at the last reading and carried out from there, whatever turns it takes.
        let planned_from = Past { stands: self.past.anchor, ..self.past.clone() };
        let scales = Scales::new(self.prior, self.posterior, &planned_from, self.mark, self.range);
        if let Some(toward) = self.trim_due() {
            return self.decision(Move::TrimIdle { toward }, say::trim(toward), &scales, None);
        }
        let (aim, best, top) = plan::aim(self.prior, &planned_from, self.posterior, &scales, self.mark);
        let (target, why) = self.target(&aim, &best, &planned_from, &scales);
        let n = self.prior.n;
        let remaining = groups(n, &self.past.stands, &target);
        let turned_since = self.past.turned_since_reading;
        if let (Some((screws, by)), true) = (remaining.first(), turned_since <= n) {
            let next = Move::Turn {
                screws: screws.iter().map(|&i| (i + 1) as u8).collect(),
                by: Turns::from_turns(tidy(*by)),
            };
            return self.decision(next, why, &scales, top);
        }
        if !self.past.fresh {
            return self.decision(Move::Read, say::READ.into(), &scales, top);
        }
        match aim {
            Aim::Rest(stand) => self.done(&stand, &scales),
            Aim::Probe(_) | Aim::Authority(..) => self.decision(Move::Read, say::AGAIN.into(), &scales, top),
        }
    }

    fn target(&self, aim: &Aim, best: &Stand, from: &Past, scales: &Scales<'_>) -> (Setting, String) {
        match aim {
            Aim::Probe(probe) => {
                (probe.at, say::probe(self.prior, from, self.posterior, probe, best, self.system))
            }
            Aim::Authority(screw, at) => (*at, say::authority(*screw)),
            Aim::Rest(stand) => {
                let to =
                    finish::setting(self.spec, self.prior, self.posterior, scales, stand, from, self.mark);
                let at =
                    plan::on_the_way(self.prior, from, self.posterior, scales, &scales.stand(to), self.mark);
                // Also where the way to a setting too far for one step would lead back.
                let at = if finish::turns_in_a_circle(self.spec, self.prior, from, &at) {
                    from.anchor
                } else {
                    at
                };
                (at, say::rest(&self.spec.finish, stand, self.system))
            }
        }
    }

    /// The speed to come back to, when the last reading is more than 50 rpm or 5 % above the aim.
    fn trim_due(&self) -> Option<EngineSpeed> {
        let aim = self.spec.idle_aim?;
        let p = self.past;
        if p.no_trim || p.no_speed || !p.fresh || p.trims_in_a_row >= 2 || p.trims_in_vain >= 2 {
            return None;
        }
        let speed = self.past.seen.last()?.speed?;
        let allowed = 50f64.min(0.05 * aim.as_rpm()).max(25.0);
        let noise = self.posterior.speed.as_ref().map_or(0.0, |c| c.scatter.reading);
        (speed - aim.as_rpm() > allowed + 0.5 * noise).then_some(aim)
    }

    fn decision(&self, next: Move, why: String, scales: &Scales<'_>, top: Option<Probe>) -> Decision {
        let belief = belief::now(self.prior, self.past, self.posterior, scales, top);
        Decision { next, why: say::with_drift(why, &belief), belief: Some(belief) }
    }

    fn done(&self, stand: &Stand, scales: &Scales<'_>) -> Decision {
        let belief = belief::now(self.prior, self.past, self.posterior, scales, None);
        let chances = plan::dead_chances(self.prior, self.posterior);
        let unresponsive = dead::named(self.prior, self.past, &chances);
        let top = belief.top.as_inhg();
        let here = scales.stand(self.past.stands);
        let outcome = Outcome {
            turns_out: turns(self.spec, &self.past.stands),
            vacuum: Vacuum::from_inhg(top - here.loss),
            moves: self.past.moves,
            readings: self.past.readings,
            remarks: finish::remarks(self.spec, self.prior, self.past, &belief, &unresponsive, self.system),
            unresponsive,
        };
        Decision { next: Move::Done(outcome), why: say::done(stand, self.system), belief: Some(belief) }
    }
}

/// A reading this far below the best one is of an engine that hardly ran, inHg.
const HARDLY_RAN: f64 = 1.0;

/// After a stall: back to where it last ran, or toward rich when it has not run yet.
fn after_stall(prior: &Prior, past: &Past, mark: f64, range: f64) -> Option<Move> {
    let &(ran, at, read_before) = past.stalled_at.last()?;
    if past.seen.len() > read_before {
        return None;
    }
    // Back to the last reading, or to the best one when that one hardly ran; where that has stalled too, richer.
    let best = past.seen.iter().max_by(|a, b| a.vacuum.total_cmp(&b.vacuum)).map(|s| s.at);
    let stalled: Vec<_> =
        past.stalled_at.iter().filter(|(_, _, read)| *read == read_before).map(|(_, at, _)| *at).collect();
    let hardly = best.is_some_and(|b| past.vacuum_at(&ran) < past.vacuum_at(&b) - HARDLY_RAN);
    let to = if hardly || stalled.contains(&ran) { best } else { Some(ran) };
    let mut back: Vec<(Vec<usize>, f64)> = match to {
        Some(to) if !stalled.contains(&to) => groups(prior.n, &past.stands, &to),
        _ if past.stands != at => Vec::new(),
        _ => {
            let free = (0..prior.n).filter(|i| past.stuck >> i & 1 == 0).collect();
            vec![(free, prior.sign * (0.25 / mark).round().max(1.0) * mark)]
        }
    };
    back.retain(|(screws, _)| !screws.is_empty());
    let (screws, by) = back.into_iter().next()?;
    let room = |i: &usize| (-1e-9..=range + 1e-9).contains(&(past.stands[*i] + by));
    if screws.is_empty() || !screws.iter().all(room) {
        return None;
    }
    Some(Move::Turn {
        screws: screws.iter().map(|&i| (i + 1) as u8).collect(),
        by: Turns::from_turns(tidy(by)),
    })
}

/// Rounds away the dust of repeated addition.
fn tidy(turns: f64) -> f64 {
    (turns * 1e6).round() / 1e6
}

pub(super) fn turns(spec: &Spec, at: &Setting) -> Vec<Turns> {
    (0..spec.screws.turns_out.len().min(MAX)).map(|i| Turns::from_turns(tidy(at[i]))).collect()
}

fn give_up(spec: &Spec, past: &Past, why: &str) -> Decision {
    let outcome = Outcome {
        turns_out: turns(spec, &past.stands),
        vacuum: Vacuum::from_inhg(past.seen.last().map_or(0.0, |s| s.vacuum)),
        moves: past.moves,
        readings: past.readings,
        unresponsive: Vec::new(),
        remarks: vec![why.to_owned()],
    };
    Decision { next: Move::Done(outcome), why: why.to_owned(), belief: None }
}
