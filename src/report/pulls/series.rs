//! The pulls of a session, judged together: each is a trial of what it was run under, and what differs between two
//! of them is computed, not typed.

use crate::analysis::factorial::State as Set;
use crate::analysis::pulls::{Account, Asked, Band, How, Reading, Smoothing, side_by_side};
use crate::analysis::verdict::{Rig, SettingDifference, Verdict, differences};
use crate::physics::correction::Standard;
use crate::procedure::{PullTrial, State};
use crate::rules::limits::full_throttle;
use crate::setup::Application;
use crate::units::EngineSpeed;
use std::collections::BTreeMap;

/// To which standard pulls are to be corrected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Correcting {
    /// SAE J1349 where the air of every pull is known; as read where it is not.
    #[default]
    WhereKnown,
    /// To this one.
    To(Standard),
    /// As read.
    AsRead,
}

/// How pulls are to be judged, where not by what the session says.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PullsWanted {
    /// Band of engine speeds.
    pub band: Option<Band>,
    /// Use, which picks a band.
    pub application: Option<Application>,
    /// What they were run on.
    pub rig: Option<Rig>,
    /// Correction.
    pub correcting: Correcting,
    /// Width of the smoothing, for a session that does not say.
    pub smoothing: Option<EngineSpeed>,
}

/// Pulls judged together.
#[derive(Debug, Clone, PartialEq)]
pub struct PullSeries {
    /// Everything they say.
    pub account: Account,
    /// What was asked of them.
    pub asked: Asked,
    /// How they were read.
    pub reading: Reading,
    /// Pulls left out because their curves are on another grid than the first one's: source and grid.
    pub off_grid: Vec<(String, EngineSpeed)>,
}

/// An effect that can be put down to one thing, because nothing else differs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PutDown<'a> {
    /// The label.
    pub label: &'a str,
    /// The one thing that differs from the first state.
    pub thing: &'a SettingDifference,
    /// What the pulls say.
    pub verdict: Verdict,
}

impl PullSeries {
    /// What is put down to one thing alone.
    pub fn put_down(&self) -> Vec<PutDown<'_>> {
        let (Some(Ok(against)), Some(found)) = (&self.account.against, &self.account.attributed) else {
            return Vec::new();
        };
        let one = |(label, all): &'_ (String, Vec<SettingDifference>)| match all.as_slice() {
            [_] => against.verdict(label),
            _ => None,
        };
        let all = found.differences.iter().filter_map(|d| Some((d, one(d)?)));
        all.filter_map(|((label, things), verdict)| Some(PutDown { label, thing: things.first()?, verdict }))
            .collect()
    }
}

/// Every pull of a session, a letter for each state in the order first run; `None` when there is no pull in it.
pub fn pull_series(state: &State, wanted: &PullsWanted) -> Option<PullSeries> {
    let all: Vec<&PullTrial> = state.pulls.iter().collect();
    let mut seen: Vec<Set> = Vec::new();
    let labelled = all.into_iter().map(|trial| {
        let set = trial.state();
        let at = seen.iter().position(|s| differences(s, &set).is_empty());
        let at = at.unwrap_or_else(|| {
            seen.push(set);
            seen.len() - 1
        });
        (letter(at), trial)
    });
    let labelled: Vec<_> = labelled.collect();
    series(&labelled, state, wanted)
}

/// Pulls of one state held against pulls of another: A and B. `state` says what engine it is.
pub fn pulls_against(
    before: &[PullTrial],
    after: &[PullTrial],
    state: &State,
    wanted: &PullsWanted,
) -> Option<PullSeries> {
    if before.is_empty() || after.is_empty() {
        return None;
    }
    let label = |letter: &'static str| move |t| (letter.to_owned(), t);
    let all: Vec<_> = before.iter().map(label("A")).chain(after.iter().map(label("B"))).collect();
    series(&all, state, wanted)
}

fn series(all: &[(String, &PullTrial)], state: &State, wanted: &PullsWanted) -> Option<PullSeries> {
    let step = all.first()?.1.pull.grid();
    let on_grid = |t: &PullTrial| (t.pull.grid() - step).as_rpm().abs() < 1e-6;
    let used: Vec<&(String, &PullTrial)> = all.iter().filter(|(_, t)| on_grid(t)).collect();
    let off = all.iter().filter(|(_, t)| !on_grid(t));
    let air_known = used.iter().all(|(_, t)| t.pull.air.is_some());
    let standard = match wanted.correcting {
        Correcting::To(standard) => Some(standard),
        Correcting::AsRead => None,
        Correcting::WhereKnown => air_known.then_some(Standard::SaeJ1349),
    };
    let mut states: BTreeMap<String, Set> = BTreeMap::new();
    for (label, trial) in &used {
        states.entry(label.clone()).or_insert_with(|| trial.state());
    }
    let asked = Asked { states, ..asked(state, wanted, rig(&used, wanted), step, standard) };
    let width = used.iter().find_map(|(_, t)| t.smoothing).or(wanted.smoothing);
    let usual = Smoothing::default();
    let pulls = used.iter().map(|(label, t)| (t.source.clone(), label.clone(), t.pull.pull(standard)));
    Some(PullSeries {
        account: side_by_side(pulls.collect(), &asked),
        asked,
        reading: Reading {
            smoothing: Smoothing { width: width.unwrap_or(usual.width), step },
            standard,
            air: None,
        },
        off_grid: off.map(|(_, t)| (t.source.clone(), t.pull.grid())).collect(),
    })
}

/// What is asked of pulls, the session's own setup standing behind what is wanted.
fn asked(
    state: &State,
    wanted: &PullsWanted,
    rig: Rig,
    step: EngineSpeed,
    standard: Option<Standard>,
) -> Asked {
    let setup = &state.setup;
    let limits = full_throttle(setup.application, setup.engine.cooling, setup.fuel.family, &state.job.rules);
    Asked {
        band: wanted.band,
        application: Some(wanted.application.unwrap_or(setup.application)),
        top: Some(setup.engine.rated_speed),
        how: How { step, band: None, rig, standard: standard.map_or("no standard", Standard::said) },
        rating: Some((setup.carburetor.rated_flow, setup.carburetor.rated_depression)),
        limits: Some(limits),
        states: BTreeMap::new(),
    }
}

/// What they were run on: as wanted, else the noisiest of those written down.
fn rig(used: &[&(String, &PullTrial)], wanted: &PullsWanted) -> Rig {
    let said = used.iter().filter_map(|(_, t)| t.rig);
    let noisiest = said.max_by(|a, b| a.floor().as_ratio().total_cmp(&b.floor().as_ratio()));
    wanted.rig.or(noisiest).unwrap_or_default()
}

fn letter(k: usize) -> String {
    match u8::try_from(k) {
        Ok(k) if k < 26 => char::from(b'A' + k).to_string(),
        _ => format!("S{}", k + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_beyond_the_alphabet() {
        assert_eq!(letter(0), "A");
        assert_eq!(letter(25), "Z");
        assert_eq!(letter(26), "S27");
    }
}
