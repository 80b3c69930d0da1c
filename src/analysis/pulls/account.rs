//! Everything the given files and figures say, put together once for text, JSON and export.

use super::against::{Against, AgainstError, How, Labelled, hold, mark_unlike};
use super::band::{Band, Means, common_range, has, means, shared};
use super::check;
use super::find::find_pulls;
use super::pull::{Pull, Reading};
use super::remark::Remark;
use super::row::{Row, SpeedSource};
use crate::analysis::factorial::{self, Attribution, Run, State};
use crate::analysis::verdict::{SettingDifference, differences};
use crate::rules::limits::LambdaLimits;
use crate::setup::Application;
use crate::units::{EngineSpeed, PressureDifference, VolumeFlow};
use std::collections::BTreeMap;

/// One file's rows, speeds worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct FileRows {
    /// What it is called in messages.
    pub name: String,
    /// The label of its pulls; `None` when none was given.
    pub label: Option<String>,
    /// Rows in order.
    pub rows: Vec<Row>,
    /// Where its engine speed came from.
    pub speed: SpeedSource,
    /// How its pulls are to be read (each file may have its own air).
    pub reading: Reading,
}

/// A pull in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// Which file, from 0.
    pub file: usize,
    /// Its label, when the file has one.
    pub label: Option<String>,
    /// The pull.
    pub pull: Pull,
    /// Means over the band, when it has the band.
    pub means: Option<Means>,
}

/// What separates the labels.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Attributed {
    /// What differs from the first label to each other one.
    pub differences: Vec<(String, Vec<SettingDifference>)>,
    /// The effect of each thing, in W of mean power in the band, when states were given.
    pub attribution: Option<Attribution>,
    /// Further states that would tell everything apart: empty when it is told, `None` when there is no small set.
    pub further: Option<Vec<State>>,
    /// Things only some labels mention.
    pub unsaid: Vec<String>,
}

impl Attributed {
    /// Labels that differ from the first in more than one thing while those things cannot be told apart.
    pub fn unattributed(&self) -> Vec<&str> {
        // What only some labels mention is in no fit: it may be what made the difference.
        let fitted = |a: &Attribution, d: &SettingDifference| a.factors.iter().any(|f| f.name == d.name);
        let told = |all: &[SettingDifference]| {
            self.attribution.as_ref().is_some_and(|a| a.separated && all.iter().all(|d| fitted(a, d)))
        };
        let many = |d: &&(String, Vec<SettingDifference>)| d.1.len() > 1 && !told(&d.1);
        self.differences.iter().filter(many).map(|d| d.0.as_str()).collect()
    }
}

/// What is asked of the files.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The band asked for.
    pub band: Option<Band>,
    /// The use, for a band when none was asked for.
    pub application: Option<Application>,
    /// The highest speed really used, that the use's band is a share of; the pulls' own top when not known.
    pub top: Option<EngineSpeed>,
    /// How to hold pulls against each other; its band is filled in here.
    pub how: How,
    /// The carburetor's rated flow and the depression it was rated at.
    pub rating: Option<(VolumeFlow, PressureDifference)>,
    /// Full-throttle limits of lambda.
    pub limits: Option<LambdaLimits>,
    /// What each label was set to.
    pub states: BTreeMap<String, State>,
}

/// Everything.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// File names, and where each one's engine speed came from.
    pub files: Vec<(String, SpeedSource)>,
    /// Pulls in the order given.
    pub pulls: Vec<Listed>,
    /// What was met outside pulls: file (from 0) and remark.
    pub outside: Vec<(usize, Remark)>,
    /// The band means are over; `None` when the pulls have nothing in common.
    pub band: Option<Band>,
    /// Grid speeds of the band that means leave out, because not every pull has them.
    pub holes: usize,
    /// The comparison, when two labels or more were given.
    pub against: Option<Result<Against, AgainstError>>,
    /// What separates the labels, when states were given.
    pub attributed: Option<Attributed>,
}

/// Puts everything together. Files are taken to be in the order run.
pub fn account(files: Vec<FileRows>, asked: &Asked) -> Account {
    let mut outside = Vec::new();
    let mut labelled: Vec<(usize, Option<String>, Labelled)> = Vec::new();
    for (k, file) in files.iter().enumerate() {
        let found = find_pulls(&file.rows);
        outside.extend(found.remarks.into_iter().map(|r| (k, r)));
        for mut pull in found.pulls.into_iter().filter_map(|p| Pull::read(p, &file.reading)) {
            if let Some(limits) = &asked.limits {
                pull.remarks.extend(check::limits(&pull.rows, limits));
            }
            let label = file.label.clone().unwrap_or_default();
            labelled.push((k, file.label.clone(), Labelled { label, pull }));
        }
    }
    let files = files.into_iter().map(|f| (f.name, f.speed)).collect();
    put_together(files, labelled, outside, asked)
}

/// Pulls that were kept, each with the file it came from and its label, in the order run.
pub fn side_by_side(pulls: Vec<(String, String, Pull)>, asked: &Asked) -> Account {
    let files = pulls.iter().map(|(source, _, _)| (source.clone(), SpeedSource::Read)).collect();
    let one = |(k, (_, label, pull)): (usize, (String, String, Pull))| {
        (k, Some(label.clone()), Labelled { label, pull })
    };
    put_together(files, pulls.into_iter().enumerate().map(one).collect(), Vec::new(), asked)
}

fn put_together(
    files: Vec<(String, SpeedSource)>,
    labelled: Vec<(usize, Option<String>, Labelled)>,
    outside: Vec<(usize, Remark)>,
    asked: &Asked,
) -> Account {
    let mut bare: Vec<Labelled> = labelled.iter().map(|(_, _, l)| l.clone()).collect();
    mark_unlike(&mut bare);
    for l in bare.iter_mut().filter(|l| !l.pull.figures_hold()) {
        (l.pull.torque_peak, l.pull.power_peak) = (None, None);
    }
    let band = the_band(&bare, asked);
    let how = How { band, ..asked.how };
    let against = compared(&labelled, &bare, &how);
    let range = band.zip(common(&bare)).and_then(|(b, c)| b.within(asked.how.step, c));
    let speeds = range.map(|range| everywhere(&bare, range)).unwrap_or_default();
    let holes = range.map_or(0, |(from, to)| (to - from + 1) as usize - speeds.len());
    let list = |((file, label, _), l): ((usize, Option<String>, Labelled), Labelled)| Listed {
        means: if l.pull.figures_hold() { means(&l.pull, &speeds) } else { None },
        file,
        label,
        pull: l.pull,
    };
    let pulls: Vec<Listed> = labelled.into_iter().zip(bare).map(list).collect();
    let attributed = (!asked.states.is_empty()).then(|| attribute(&pulls, against.as_ref(), asked));
    Account { files, pulls, outside, band, holes, against, attributed }
}

/// The grid numbers of a range that every pull has which can be compared and has enough of it.
fn everywhere(pulls: &[Labelled], (from, to): (i64, i64)) -> Vec<i64> {
    let good = pulls.iter().map(|l| &l.pull).filter(|p| p.barred().is_none() && has(p, from, to));
    shared(&good.collect::<Vec<_>>(), from, to)
}

fn common(pulls: &[Labelled]) -> Option<(i64, i64)> {
    let good: Vec<&Pull> = pulls.iter().map(|l| &l.pull).filter(|p| p.barred().is_none()).collect();
    common_range(&good)
}

/// The band asked for, else the one of the use, else everything in common.
fn the_band(pulls: &[Labelled], asked: &Asked) -> Option<Band> {
    let (low, high) = common(pulls)?;
    let speed = |k: i64| asked.how.step * k as f64;
    let of_use = asked.application.map(|a| Band::for_use(a, asked.top.unwrap_or(speed(high))));
    asked.band.or(of_use).or(Some(Band::whole(speed(low), speed(high))))
}

/// Compares when there are labels at all and more than one of them.
fn compared(
    labelled: &[(usize, Option<String>, Labelled)],
    bare: &[Labelled],
    how: &How,
) -> Option<Result<Against, AgainstError>> {
    let first = labelled.first()?.1.clone()?;
    let several = labelled.iter().any(|(_, l, _)| l.as_ref() != Some(&first));
    let all = labelled.iter().all(|(_, l, _)| l.is_some());
    (several && all).then(|| hold(bare, how))
}

fn attribute(pulls: &[Listed], against: Option<&Result<Against, AgainstError>>, asked: &Asked) -> Attributed {
    let used: Vec<usize> = match against {
        Some(Ok(a)) => a.used.clone(),
        _ => Vec::new(),
    };
    let run = |k: usize| {
        let p = pulls.get(k)?;
        let state = asked.states.get(p.label.as_ref()?)?.clone();
        Some(Run { state, value: p.means?.power.as_w(), at: k as f64 })
    };
    let runs: Vec<Run> = used.into_iter().filter_map(run).collect();
    attributed(&runs, &labels(pulls), asked)
}

fn labels(pulls: &[Listed]) -> Vec<String> {
    let mut labels: Vec<String> = Vec::new();
    for label in pulls.iter().filter_map(|p| p.label.as_ref()) {
        if !labels.contains(label) {
            labels.push(label.clone());
        }
    }
    labels
}

/// What separates labels, in the order first run, from runs whose states are known.
pub fn attributed(runs: &[Run], labels: &[String], asked: &Asked) -> Attributed {
    let first = labels.first().and_then(|l| asked.states.get(l));
    let differs = |label: &String| Some((label.clone(), differences(first?, asked.states.get(label)?)));
    Attributed {
        differences: labels.iter().skip(1).filter_map(differs).collect(),
        attribution: factorial::attribute(runs, asked.how.rig.floor()),
        further: factorial::further_states(runs),
        unsaid: factorial::unsaid(runs),
    }
}

impl Account {
    /// Everything that has to be said before any figure is believed: starvation.
    pub fn stops(&self) -> impl Iterator<Item = (usize, &Remark)> {
        self.pulls
            .iter()
            .enumerate()
            .flat_map(|(k, p)| p.pull.remarks.iter().map(move |r| (k, r)))
            .filter(|(_, r)| r.kind.stops())
    }

    /// The pulls compared well enough for an answer, or no comparison was asked for.
    pub fn answered(&self) -> bool {
        !self.pulls.is_empty() && !matches!(self.against, Some(Err(_)))
    }
}
