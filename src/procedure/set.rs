//! Anything named that was set, said at any question: timing, a spacer, plugs, an air cleaner, a part by its path.

use super::ask::Refusal;
use super::decide::fitted;
use super::event::{Event, PartChange};
use super::plan::Step;
use super::state::State;
use crate::analysis::verdict::{Settings, same_words};
use crate::setup::{PartPath, PartSize};

const LONGEST_NAME: usize = 40;
const LONGEST_VALUE: usize = 80;
const MOST: usize = 40;

/// One thing beside the carburetor's parts that was set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingChange {
    /// Which.
    pub name: String,
    /// What it had been said to be before; `None` when nothing had been said of it.
    pub from: Option<String>,
    /// To what.
    pub to: String,
    /// A log or a pull had been taken before.
    pub(super) begun: bool,
}

impl SettingChange {
    /// Something was changed, where the first word about a thing before any trial only says how it was found.
    pub fn is_change(&self) -> bool {
        self.from.as_ref().map_or(self.begun, |from| !same_words(from, &self.to))
    }
}

/// The events that `said` comes to: one for the parts each, one for all the rest.
pub fn events(state: &State, step: Step, said: &Settings) -> Result<Vec<Event>, Refusal> {
    let (mut parts, mut settings) = (Vec::new(), Settings::new());
    for (name, value) in said {
        let (name, value) = tidy(name, value)?;
        match name.parse::<PartPath>() {
            Ok(part) => parts.extend(part_set(state, part, &value)?),
            Err(_) if names_a_circuit(&name) => {
                return Err(Refusal(format!(
                    "{name} looks like a part, and this carburetor has none so named"
                )));
            }
            Err(_) => {
                settings.insert(name, value);
            }
        }
    }
    if state.settings.keys().chain(settings.keys()).count() > MOST {
        return Err(Refusal(format!("more than {MOST} things set are more than can be told apart")));
    }
    if parts.is_empty() && settings.is_empty() {
        return Err(Refusal("say what was set, and to what, such as timing=8 deg".to_owned()));
    }
    if !settings.is_empty() {
        parts.push(Event::Set { step, settings });
    }
    Ok(parts)
}

/// A name and a value as they are kept: trimmed, the name in small letters with single spaces.
pub(super) fn tidy(name: &str, value: &str) -> Result<(String, String), Refusal> {
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let value = value.split_whitespace().collect::<Vec<_>>().join(" ");
    let fine = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_' | '.' | '/');
    if !name.starts_with(char::is_alphabetic)
        || !name.chars().all(fine)
        || name.chars().count() > LONGEST_NAME
    {
        return Err(Refusal(format!(
            "a thing that is set is named by a letter and up to {} letters, digits, dots or dashes",
            LONGEST_NAME - 1
        )));
    }
    if value.is_empty() || value.chars().count() > LONGEST_VALUE || value.chars().any(char::is_control) {
        return Err(Refusal(format!("{name}: say to what, in up to {LONGEST_VALUE} characters")));
    }
    Ok((name, value))
}

/// "timing=8 deg, spacer=1 in open".
pub fn parse(text: &str) -> Result<Settings, Refusal> {
    let mut settings = Settings::new();
    for pair in text.split(',') {
        let (name, value) = pair.split_once('=').ok_or_else(|| {
            Refusal("NAME=VALUE is wanted, more of them between commas: timing=8 deg".to_owned())
        })?;
        let (name, value) = tidy(name, value)?;
        if settings.insert(name.clone(), value).is_some() {
            return Err(Refusal(format!("{name} is set twice")));
        }
    }
    Ok(settings)
}

fn names_a_circuit(name: &str) -> bool {
    ["main.", "idle.", "enrichment.", "pump."].iter().any(|circuit| name.starts_with(circuit))
}

fn part_set(state: &State, part: PartPath, value: &str) -> Result<Option<Event>, Refusal> {
    let Some(from) = state.setup.carburetor.size(part) else {
        return Err(Refusal(format!("this carburetor has no {}", part.said())));
    };
    let refuse = |e: crate::units::QuantityError| Refusal(format!("{part}: {e}"));
    let to = match from {
        PartSize::Bore(_) => PartSize::Bore(value.parse().map_err(refuse)?),
        PartSize::Opening(_) => PartSize::Opening(value.parse().map_err(refuse)?),
        PartSize::Turns(_) => {
            return Err(Refusal("mixture screws are set in their own step, by the needle".to_owned()));
        }
    };
    if from == to {
        return Ok(None);
    }
    fitted(state, PartChange { part, from, to }).map(|mut events| events.pop())
}

/// It moves the best idle mixture: the ignition's timing, by whatever name.
pub(super) fn moves_idle_mixture(name: &str) -> bool {
    ["timing", "advance", "ignition"].iter().any(|word| name.contains(word))
}

/// It has no say in how much fuel an engine gets for its air, so that logs before and after it teach the same.
pub(super) fn meters_nothing(name: &str) -> bool {
    moves_idle_mixture(name)
        || ["plug", "gap", "converter", "gear", "tire", "tyre", "propeller", "oil", "cable"]
            .iter()
            .any(|word| name.contains(word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_are_read_trimmed_and_refused_where_they_are_none() {
        let found = parse(" Timing = 8  deg , spacer=1 in open").unwrap();
        assert_eq!(found.len(), 2);
        assert_eq!(found["timing"], "8 deg");
        assert_eq!(found["spacer"], "1 in open");
        for bad in ["", "timing", "timing=", "=8 deg", "timing=8 deg,timing=9 deg", "8=timing", "a\u{7}=b"] {
            assert!(parse(bad).is_err(), "{bad:?}");
        }
        assert!(parse(&format!("a={}", "x".repeat(LONGEST_VALUE))).is_ok());
        assert!(parse(&format!("a={}", "x".repeat(LONGEST_VALUE + 1))).is_err());
        assert!(parse(&format!("{}=1", "a".repeat(LONGEST_NAME))).is_ok());
        assert!(parse(&format!("{}=1", "a".repeat(LONGEST_NAME + 1))).is_err());
    }

    #[test]
    fn the_first_word_before_any_trial_changes_nothing_and_another_spelling_neither() {
        let change = |from: Option<&str>, to: &str, begun| {
            let from = from.map(str::to_owned);
            SettingChange { name: "timing".to_owned(), from, to: to.to_owned(), begun }.is_change()
        };
        assert!(!change(None, "8 deg", false));
        assert!(change(None, "8 deg", true));
        assert!(change(Some("8 deg"), "12 deg", false));
        assert!(!change(Some("8 deg"), "8deg", true));
    }

    #[test]
    fn timing_moves_the_idle_mixture_and_meters_nothing_and_a_spacer_may_meter() {
        assert!(moves_idle_mixture("initial timing") && meters_nothing("initial timing"));
        assert!(!moves_idle_mixture("plugs") && meters_nothing("plugs"));
        for meters in ["spacer", "air cleaner", "fuel", "fuel pressure", "thermostat"] {
            assert!(!moves_idle_mixture(meters) && !meters_nothing(meters), "{meters}");
        }
    }
}
