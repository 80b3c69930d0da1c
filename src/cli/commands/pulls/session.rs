//! `pulls` in a session: every pull becomes a trial of the parts and settings it was run under, and all of them are
//! judged together by what differs between them.

use super::super::in_session::{InSession, logger_of};
use super::{Account, Args, Asked, Beside, Correct, How, Reading, answer_with, given};
use crate::analysis::pulls::{KeptMean, KeptPull, Listed};
use crate::analysis::verdict::{Rig, Setting, Settings};
use crate::cli::{Console, Exit, Fault};
use crate::physics::correction::Standard;
use crate::procedure::{Event, PullTaken, State};
use crate::report::differing::thing;
use crate::report::lines;
use crate::report::pulls::{Correcting, PullSeries, PullsWanted, PutDown, pull_series};
use crate::rules::limits::full_throttle;
use crate::trace::LoggerProfile;
use crate::units::System;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// Records the pulls of the files, if there are any, and judges all pulls of the session.
pub(super) fn run(args: &Args, path: &Path, console: &mut Console) -> Result<Exit, Fault> {
    let loaded = args.setup.as_deref().map(|s| given::setup(s, console)).transpose()?;
    let said = given::in_session(&args.sets)?;
    if args.files.is_empty() && loaded.is_none() && said.is_empty() {
        let state = InSession::read(path, console)?;
        return judge(args, path, &state, 0, console);
    }
    let own = match &loaded {
        Some(loaded) => Some(loaded.logger.clone()),
        None => logger_of(path)?,
    };
    let files = files(args, &said, own.as_ref(), console)?;
    let mut session = InSession::open(path, loaded.as_ref(), console)?;
    if let Some(loaded) = &loaded {
        session.fit(&loaded.setup, console)?;
    }
    if let Some(all) = said.get("") {
        session.set(all, console)?;
    }
    let asked = asked(args, &session.state)?;
    let standard = args.correct.and_then(super::Correct::standard).or(Some(Standard::SaeJ1349));
    let mut reading = super::reading(args)?;
    reading.standard = standard.filter(|_| !matches!(args.correct, Some(super::Correct::None)));
    let mut taken = 0;
    for mut file in files {
        file.reading.standard = reading.standard;
        let (label, source) = (file.label.take(), file.name.clone());
        let account = super::account(vec![file], &asked);
        for (_, remark) in &account.outside {
            console.complain(&format!(
                "{source}, lines {}-{}: {}",
                remark.first_line, remark.last_line, remark.kind
            ));
        }
        if account.pulls.is_empty() {
            console.complain(&format!("{source}: no pull was found; nothing was recorded of it"));
            continue;
        }
        if let Some(settings) = label.and_then(|l| said.get(&l)) {
            session.set(settings, console)?;
        }
        for listed in &account.pulls {
            let pull = KeptPull::of(&listed.pull, reading.standard, mean(&account, listed));
            let event = Event::Pulled(Box::new(PullTaken {
                source: source.clone(),
                rig: args.rig.map(Rig::from),
                smoothing: Some(reading.smoothing.width),
                pull,
            }));
            session.record(&event, console)?;
            taken += 1;
        }
    }
    let path = session.path().to_owned();
    judge(args, &path, &session.state, taken, console)
}

/// The files, all of them read before anything is recorded.
fn files(
    args: &Args,
    said: &BTreeMap<String, Settings>,
    own: Option<&LoggerProfile>,
    console: &mut Console,
) -> Result<Vec<crate::analysis::pulls::FileRows>, Fault> {
    let named = given::labelled(&args.files)?;
    for label in named.iter().filter_map(|n| n.0.as_deref()) {
        if !said.contains_key(label) {
            return Err(Fault::input(format!("--set says nothing of {label}"))
                .hint("in a session a pull is known by what was set, not by a letter: --set \"A=timing=10 deg\", or leave the letters out"));
        }
    }
    if let Some(stray) =
        said.keys().find(|l| !l.is_empty() && !named.iter().any(|n| n.0.as_ref() == Some(*l)))
    {
        return Err(Fault::input(format!("--set names {stray}, and no file carries that label")));
    }
    let airs = given::airs(&args.air, named.len())?;
    let logger = super::files::logger(args.logger.as_deref(), own, console)?;
    let gearing = args.gearing.as_deref().map(given::gearing).transpose()?;
    let reading = super::reading(args)?;
    let mut read = Vec::new();
    for (k, (label, path)) in named.into_iter().enumerate() {
        let air = airs.get(k).copied().flatten();
        read.push(super::files::read(label, &path, &logger, gearing, Reading { air, ..reading }, console)?);
    }
    Ok(read)
}

fn mean(account: &Account, listed: &Listed) -> Option<KeptMean> {
    let (band, means) = (account.band?, listed.means?);
    Some(KeptMean { low: band.low, high: band.high, torque: means.torque, power: means.power })
}

/// What is asked, the session's own setup standing behind what is typed.
fn asked(args: &Args, state: &State) -> Result<Asked, Fault> {
    let setup = &state.setup;
    Ok(Asked {
        band: args.band.as_deref().map(given::band).transpose()?,
        application: Some(args.usage.map_or(setup.application, Into::into)),
        top: Some(setup.engine.rated_speed),
        how: How {
            step: args.grid,
            band: None,
            rig: args.rig.map(Rig::from).unwrap_or_default(),
            standard: "none",
        },
        rating: Some((setup.carburetor.rated_flow, setup.carburetor.rated_depression)),
        limits: Some(full_throttle(
            setup.application,
            setup.engine.cooling,
            setup.fuel.family,
            &state.job.rules,
        )),
        states: BTreeMap::new(),
    })
}

/// What the command line wants of them.
fn wanted(args: &Args) -> Result<PullsWanted, Fault> {
    Ok(PullsWanted {
        band: args.band.as_deref().map(given::band).transpose()?,
        application: args.usage.map(Into::into),
        rig: args.rig.map(Rig::from),
        correcting: match args.correct.map(Correct::standard) {
            None => Correcting::WhereKnown,
            Some(None) => Correcting::AsRead,
            Some(Some(standard)) => Correcting::To(standard),
        },
        smoothing: Some(super::reading(args)?.smoothing.width),
    })
}

/// Judges every pull of the session by what it was run under.
fn judge(
    args: &Args,
    path: &Path,
    state: &State,
    recorded: u32,
    console: &mut Console,
) -> Result<Exit, Fault> {
    let Some(series) = pull_series(state, &wanted(args)?) else {
        let why = format!("{}: no pull is recorded in it", path.display());
        if console.json {
            console
                .answer_json(&json!({ "session": path.display().to_string(), "pulls": [], "why": why }))?;
        } else {
            console.say(&why)?;
        }
        return Ok(Exit::No);
    };
    for (source, grid) in &series.off_grid {
        console.complain(&format!(
            "{source}: recorded every {:.0} rpm, the first pull every {:.0} rpm: left out",
            grid.as_rpm(),
            series.asked.how.step.as_rpm()
        ));
    }
    let account = &series.account;
    super::output::export(args, account)?;
    let put_down = put_down(&series, console.system);
    let heading = format!(
        "{}: {} pull{}, {recorded} of them new.",
        path.display(),
        account.pulls.len(),
        if account.pulls.len() == 1 { "" } else { "s" },
    );
    let attributed: Vec<Value> = put_down.iter().map(|p| p.1.clone()).collect();
    let fields = [
        ("session", json!(path.display().to_string())),
        ("recorded", json!(recorded)),
        ("attributed", json!(attributed)),
    ];
    let beside = Beside {
        before: heading,
        after: put_down.into_iter().flat_map(|p| wrap(&p.0, console.width)).collect(),
        fields: fields.map(|(name, value)| (name.to_owned(), value)).into_iter().collect(),
    };
    answer_with(account, &series.asked, &series.reading, Some(beside), console)
}

/// Broken at spaces, further lines set in.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in lines::words(text) {
        let last = lines.last_mut();
        match last {
            Some(line) if line.trim().is_empty() || line.chars().count() + word.chars().count() < width => {
                if !line.trim().is_empty() {
                    line.push(' ');
                }
                line.push_str(&word);
            }
            _ => lines.push(format!("  {word}")),
        }
    }
    lines
}

/// Where one thing alone differs from the first state, its effect is put down to that thing.
fn put_down(series: &PullSeries, system: System) -> Vec<(String, Value)> {
    let show = |s: &Option<Setting>| s.as_ref().map_or_else(|| "not said".to_owned(), |s| s.show(system));
    let one = |found: PutDown<'_>| {
        let (label, name) = (found.label, &found.thing.name);
        let (from, to) = (show(&found.thing.from), show(&found.thing.to));
        let said = found.verdict.said();
        (
            format!(
                "{label}: {said}, and it is put down to {}, {from} to {to}: nothing else differs.",
                thing(name)
            ),
            json!({
                "label": label, "to": name, "from_setting": from, "to_setting": to,
                "verdict": found.verdict.name(),
            }),
        )
    };
    series.put_down().into_iter().map(one).collect()
}
