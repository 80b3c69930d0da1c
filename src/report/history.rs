//! A folder of sessions: what was changed, how it stands, and the way back to the last good state.

use crate::analysis::advise::{Advice, Verdict};
use crate::analysis::verdict::{Setting, SettingDifference, Settings};
use crate::procedure::{Ending, IdleReading, State};
use crate::report::differing::Differing;
use crate::report::pulls::{PullsWanted, pull_series};
use crate::report::{pulls, text, words};
use crate::setup::{Carburetor, Regime};
use crate::units::System;
use crate::units::show::{Shown, fixed};
use serde_json::{Value, json};

/// A state in which every regime that could be judged was inside its target.
#[derive(Debug, Clone, PartialEq)]
pub struct Good {
    /// The session it was in.
    pub file: String,
    /// When its log was judged.
    pub when: String,
    /// What was in the carburetor.
    pub carburetor: Carburetor,
    /// What else was set, as far as it had been said.
    pub settings: Settings,
    /// The regimes that were inside.
    pub inside: Vec<Regime>,
}

impl Good {
    /// What was changed since, up to how a session stands now.
    fn since(&self, now: &State) -> Differing {
        Differing::between((&self.carburetor, &self.settings), (&now.setup.carburetor, &now.settings))
    }
}

/// One session of the folder.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The file.
    pub file: String,
    /// When it began and ended.
    pub days: (String, String),
    /// How often it was taken up.
    pub runs: u64,
    /// As it stood at its end; `None` when it cannot be read at all.
    pub state: Option<State>,
    /// The last good state of this engine up to the end of this session.
    pub good: Option<Good>,
    /// Why it cannot be read, or from where on it is damaged.
    pub damage: Option<String>,
    /// What else should be told.
    pub notes: Vec<String>,
}

/// Whether an advice found everything it could judge inside: at least one regime inside, none outside.
pub fn is_good(advice: &Advice) -> bool {
    let any = |of: Verdict| advice.regimes.iter().any(|r| r.verdict == of);
    any(Verdict::Inside) && !any(Verdict::Rich) && !any(Verdict::Lean) && advice.mend_first.is_empty()
}

/// Everything that was changed in a session, in the order it was: parts, then what else was set.
fn changed(state: &State) -> Differing {
    let named = state.set.iter().filter(|c| c.is_change()).map(|c| SettingDifference {
        name: c.name.clone(),
        from: c.from.clone().map(Setting::Said),
        to: Some(Setting::Said(c.to.clone())),
    });
    Differing { parts: state.changes.clone(), named: named.collect() }
}

/// As one JSON object.
pub fn json(entries: &[Entry]) -> Value {
    json!({ "sessions": entries.iter().map(entry).collect::<Vec<_>>() })
}

fn entry(e: &Entry) -> Value {
    let state = e.state.as_ref();
    let outcome = state.map(State::outcome);
    let advice = state.and_then(|s| s.advice.last()).map(|(_, a)| a);
    let good = e.good.as_ref().zip(state).map(|(g, s)| {
        let since = g.since(s);
        json!({
            "session": g.file,
            "date": g.when,
            "inside": g.inside.iter().map(|r| r.name()).collect::<Vec<_>>(),
            "changed_since": since.json(),
            "go_back": since.back().json(),
        })
    });
    json!({
        "file": e.file,
        "name": state.map(|s| s.setup.name.clone()),
        "engine": state.map(|s| s.setup.engine.name.clone()),
        "date": e.days.0,
        "ended": e.days.1,
        "runs": e.runs,
        "finished": outcome.as_ref().map(|o| o.finished),
        "changes": state.map(|s| changed(s).json()).unwrap_or_default(),
        "settings": state.map(|s| &s.settings),
        "pulls": state.and_then(|s| pull_series(s, &PullsWanted::default())).map(|p| pulls::brief_json(&p)),
        "last_readings": {
            "idle": outcome.as_ref().and_then(|o| o.idle_after).map(idle),
            "regimes": advice.map(|a| a.regimes.iter().filter(|r| r.lambda_median.is_some()).map(|r| json!({
                "regime": r.regime.name(),
                "lambda_median": r.lambda_median.map(|l| tidy(l.as_ratio(), 5)),
                "verdict": r.verdict,
            })).collect::<Vec<_>>()).unwrap_or_default(),
        },
        "last_good": good,
        "damage": e.damage,
        "notes": e.notes,
    })
}

fn idle(r: IdleReading) -> Value {
    json!({"vacuum_inhg": tidy(r.reading.vacuum.as_inhg(), 3), "speed_rpm": r.reading.speed.map(|s| tidy(s.as_rpm(), 1)),
           "lambda": r.reading.lambda.map(|l| tidy(l.as_ratio(), 4))})
}

fn tidy(value: f64, decimals: i32) -> f64 {
    let power = 10f64.powi(decimals);
    (value * power).round() / power
}

/// In words.
pub fn say(entries: &[Entry], system: System, width: usize) -> String {
    let mut out = Vec::new();
    if entries.is_empty() {
        out.push("No session here: a session's file ends in .tune.jsonl.".to_owned());
    }
    for e in entries {
        if !out.is_empty() {
            out.push(String::new());
        }
        say_one(&mut out, e, system, width);
    }
    let mut page = out.join("\n");
    page.push('\n');
    page
}

fn say_one(out: &mut Vec<String>, e: &Entry, system: System, width: usize) {
    let Some(state) = &e.state else {
        out.push(words(&e.file));
        text::paragraph(out, &words(e.damage.as_deref().unwrap_or("cannot be read")), "  ", width);
        return;
    };
    out.push(format!("{}  {}  ({})", e.days.0, words(&state.setup.name), words(&e.file)));
    let ending = match &state.ending {
        Some(Ending::Finished) => "finished",
        Some(Ending::Stopped) => "stopped before its end",
        Some(Ending::Emergency(_)) => "stopped in an emergency",
        Some(Ending::Paused) | None => "not finished: `leanbest guide` takes it up again",
    };
    text::paragraph(out, &format!("{}, {ending}.", words(&state.setup.engine.name)), "  ", width);
    if let Some(r) = state.outcome().idle_after {
        let speed = r.reading.speed.map_or_else(String::new, |s| format!(" at {}", s.show(system)));
        out.push(format!("  Idle {}{speed}.", r.reading.vacuum.show(system)));
    }
    if let Some((_, advice)) = state.advice.last() {
        let seen = advice
            .regimes
            .iter()
            .filter_map(|r| Some(format!("{} {}", r.regime.said(), fixed(r.lambda_median?.as_ratio(), 2))));
        text::paragraph(out, &format!("Lambda: {}.", seen.collect::<Vec<_>>().join(", ")), "  ", width);
    }
    let all = changed(state);
    let changed = if all.is_empty() { "nothing".to_owned() } else { all.chains(system) };
    text::paragraph(out, &words(&format!("Changed: {changed}.")), "  ", width);
    say_pulls(out, state, system, width);
    say_good(out, e.good.as_ref(), state, system, width);
    for said in e.damage.iter().chain(&e.notes) {
        text::paragraph(out, &words(said), "  ", width);
    }
}

fn say_pulls(out: &mut Vec<String>, state: &State, system: System, width: usize) {
    let Some(series) = pull_series(state, &PullsWanted::default()) else { return };
    let count = series.account.pulls.len();
    let mut all = vec![format!("Pulls: {count}, {}.", pulls::corrected(&series))];
    all.extend(pulls::put_down(&series, system));
    let unattributed = series.account.attributed.as_ref().map(|a| a.unattributed().len()).unwrap_or_default();
    if unattributed > 0 {
        all.push(
            "Several things were changed at once in it, and their effect is put down to none of them."
                .to_owned(),
        );
    }
    for line in all {
        text::paragraph(out, &words(&line), "  ", width);
    }
}

/// The last good state, what was changed since, and the way back.
fn say_good(out: &mut Vec<String>, good: Option<&Good>, state: &State, system: System, width: usize) {
    let Some(good) = good else {
        out.push("  No log so far found everything inside its target.".to_owned());
        return;
    };
    let inside: Vec<&str> = good.inside.iter().map(|r| r.said()).collect();
    let since = good.since(state);
    let stands = if since.is_empty() { " It stands so still." } else { "" };
    let said = format!(
        "Last good: {} ({}), inside its target in {}.{stands}",
        good.when,
        good.file,
        super::from_session::join(&inside)
    );
    text::paragraph(out, &words(&said), "  ", width);
    if !since.is_empty() {
        for said in [
            format!("Changed since: {}.", since.list(system)),
            format!("To go back: {}.", since.back().to_do(system, &first_said(state))),
        ] {
            text::paragraph(out, &words(&said), "  ", width);
        }
    }
}

/// What every setting was when it was first said.
fn first_said(state: &State) -> Settings {
    let mut first = Settings::new();
    for change in &state.set {
        first.entry(change.name.clone()).or_insert_with(|| change.to.clone());
    }
    first
}

/// The regimes an advice found inside.
pub fn inside(advice: &Advice) -> Vec<Regime> {
    advice.regimes.iter().filter(|r| r.verdict == Verdict::Inside).map(|r| r.regime).collect()
}
