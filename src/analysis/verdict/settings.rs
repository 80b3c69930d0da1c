//! What differs between two states, computed from what each was set to rather than typed.

use crate::setup::{Carburetor, PartSize};
use crate::units::show::turns_as_fraction;
use crate::units::{Fraction, System};
use std::collections::BTreeMap;

/// What a named thing was set to: a part, the timing, a spacer, plugs, an air cleaner.
#[derive(Debug, Clone, PartialEq)]
pub enum Setting {
    /// In the person's own words: "10 deg", "1 in open".
    Said(String),
    /// A carburetor part's size.
    Part(PartSize),
}

/// What was set beside the carburetor's parts, by name, in the person's own words.
pub type Settings = BTreeMap<String, String>;

/// One thing that differs between two states. `None` means the state does not say.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingDifference {
    /// Its name: `timing`, `main.primary.jet`.
    pub name: String,
    /// In the first state.
    pub from: Option<Setting>,
    /// In the second.
    pub to: Option<Setting>,
}

impl Setting {
    /// As a person writes it.
    pub fn show(&self, system: System) -> String {
        match self {
            Setting::Said(text) => text.clone(),
            Setting::Part(size) => size.show(system),
        }
    }

    /// The same thing, whatever the spelling: "10deg" is "10 DEG".
    fn same(&self, other: &Setting) -> bool {
        match (self, other) {
            (Setting::Said(a), Setting::Said(b)) => same_words(a, b),
            (Setting::Part(a), Setting::Part(b)) => same_size(*a, *b),
            _ => false,
        }
    }
}

/// Two wordings of one value: "10deg" is "10 DEG".
pub fn same_words(one: &str, other: &str) -> bool {
    plain(one) == plain(other)
}

fn plain(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_lowercase).collect()
}

/// Sizes closer than a part in a million are one size: text and back may lose the last digit.
fn same_size(a: PartSize, b: PartSize) -> bool {
    let si = |s: PartSize| match s {
        PartSize::Bore(d) => (0, d.as_m()),
        PartSize::Opening(v) => (1, v.as_pa()),
        PartSize::Turns(t) => (2, t.as_turns()),
    };
    let ((kind, a), (other, b)) = (si(a), si(b));
    kind == other && (a - b).abs() <= 1e-6 * a.abs().max(b.abs())
}

/// Every part of a carburetor as named settings.
pub fn of_carburetor(carburetor: &Carburetor) -> BTreeMap<String, Setting> {
    carburetor.parts().into_iter().map(|(path, size)| (path.to_string(), Setting::Part(size))).collect()
}

/// A trial's whole state: the parts of its carburetor and everything else that was set. Mixture screws are one thing,
/// for they are set together.
pub fn state_of(carburetor: &Carburetor, settings: &Settings) -> BTreeMap<String, Setting> {
    let mut state = of_carburetor(carburetor);
    state.retain(|name, _| !name.starts_with("idle.screw."));
    let screws: Vec<String> = carburetor.idle.turns_out.iter().map(|t| turns_as_fraction(*t)).collect();
    if !screws.is_empty() {
        state.insert("idle.screws".to_owned(), Setting::Said(format!("{} turns out", screws.join(", "))));
    }
    state.extend(settings.iter().map(|(name, said)| (name.clone(), Setting::Said(said.clone()))));
    state
}

/// What differs from one state to another, by name.
pub fn differences(
    from: &BTreeMap<String, Setting>,
    to: &BTreeMap<String, Setting>,
) -> Vec<SettingDifference> {
    let mut names: Vec<&String> = from.keys().chain(to.keys()).collect();
    names.sort();
    names.dedup();
    let differs = |name: &&String| match (from.get(*name), to.get(*name)) {
        (Some(a), Some(b)) => !a.same(b),
        _ => true,
    };
    let made = |name: &String| SettingDifference {
        name: name.clone(),
        from: from.get(name).cloned(),
        to: to.get(name).cloned(),
    };
    names.into_iter().filter(differs).map(made).collect()
}

/// The change of a bore's area, for a difference that is one.
pub fn area_change(difference: &SettingDifference) -> Option<Fraction> {
    let bore = |s: &Option<Setting>| match s {
        Some(Setting::Part(size)) => size.bore(),
        _ => None,
    };
    let (from, to) = (bore(&difference.from)?, bore(&difference.to)?);
    (from.as_m() > 0.0).then(|| Fraction::from_ratio((to / from).powi(2) - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;
    use approx::assert_relative_eq;

    fn state(pairs: &[(&str, &str)]) -> BTreeMap<String, Setting> {
        pairs.iter().map(|(k, v)| ((*k).to_owned(), Setting::Said((*v).to_owned()))).collect()
    }

    #[test]
    fn only_what_differs_is_named_and_spelling_is_no_difference() {
        let a = state(&[("timing", "10 deg"), ("spacer", "no"), ("plugs", "0.035 in")]);
        let b = state(&[("timing", "14deg"), ("spacer", "NO"), ("plugs", "0.035in"), ("cleaner", "off")]);
        let found = differences(&a, &b);
        let names: Vec<&str> = found.iter().map(|d| d.name.as_str()).collect();
        assert_eq!(names, ["cleaner", "timing"]);
        assert_eq!(found[0].from, None);
        assert!(differences(&a, &a).is_empty());
    }

    #[test]
    fn a_jet_step_is_a_change_of_area() {
        let size = |inches| Some(Setting::Part(PartSize::Bore(Length::from_inches(inches))));
        let step = SettingDifference { name: "main.primary.jet".into(), from: size(0.070), to: size(0.072) };
        assert_relative_eq!(area_change(&step).unwrap().as_ratio(), 0.058, epsilon = 1e-3);
        assert!(!step.from.as_ref().unwrap().same(step.to.as_ref().unwrap()));
        let again = Setting::Part(PartSize::Bore("1.778 mm".parse().unwrap()));
        assert!(step.from.as_ref().unwrap().same(&again), "0.070 in is 1.778 mm");
    }
}
