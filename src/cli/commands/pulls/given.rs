//! What is given on the command line of `pulls`, read.

use super::{Band, Gearing};
use crate::analysis::factorial::State;
use crate::analysis::verdict::{Setting, Settings};
use crate::cli::{Console, Fault, typed};
use crate::physics::air::MoistAir;
use crate::procedure::parse_settings;
use crate::profile::{Loaded, load_setup};
use crate::units::{EngineSpeed, Velocity};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A label: a letter, then letters, digits, dashes; at most sixteen.
fn is_label(text: &str) -> bool {
    text.len() <= 16
        && text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_'))
}

/// Files with their labels. Either every file has one, or none has.
pub(super) fn labelled(files: &[String]) -> Result<Vec<(Option<String>, PathBuf)>, Fault> {
    let one = |text: &String| match text.split_once('=') {
        Some((label, path)) if is_label(label) && !Path::new(text).exists() => {
            (Some(label.to_owned()), PathBuf::from(path))
        }
        _ => (None, PathBuf::from(text)),
    };
    let named: Vec<(Option<String>, PathBuf)> = files.iter().map(one).collect();
    let with = named.iter().filter(|n| n.0.is_some()).count();
    if with != 0 && with != named.len() {
        let bare =
            named.iter().find(|n| n.0.is_none()).map(|n| n.1.display().to_string()).unwrap_or_default();
        return Err(Fault::input(format!("{bare} has no label and other files have"))
            .hint("give every file one: A=one.csv B=two.csv A=three.csv"));
    }
    if named.iter().filter(|n| n.1.as_os_str() == "-").count() > 1 {
        return Err(Fault::input("standard input (-) can be read once only"));
    }
    Ok(named)
}

/// A setup by its name or file.
pub(super) fn setup(name: &str, console: &Console) -> Result<Loaded, Fault> {
    load_setup(name, console.profiles.as_deref()).map_err(super::super::load_fault)
}

/// One air for all files, or one for each.
pub(super) fn airs(texts: &[String], files: usize) -> Result<Vec<Option<MoistAir>>, Fault> {
    let read: Vec<MoistAir> = texts.iter().map(|t| air(t)).collect::<Result<_, _>>()?;
    match read.len() {
        0 => Ok(vec![None; files]),
        1 => Ok(vec![Some(read[0]); files]),
        n if n == files => Ok(read.into_iter().map(Some).collect()),
        n => Err(Fault::input(format!(
            "--air was given {n} times for {files} files; give it once, or once for each file"
        ))),
    }
}

/// "30.05 inHg,71F,62%". A decimal comma would be taken for a separator, so a semicolon separates too.
fn air(text: &str) -> Result<MoistAir, Fault> {
    let expect = "expected station pressure, temperature and humidity, such as --air \"30.05 inHg,71F,62%\"";
    let separator = if text.contains(';') { ';' } else { ',' };
    let parts: Vec<&str> = text.split(separator).map(str::trim).collect();
    // Elsewhere what is left out is standard; a correction must not rest on an air nobody read.
    if parts.len() != 3 || parts.iter().any(|p| p.is_empty()) {
        return Err(Fault::input(format!("--air \"{text}\" has {} parts; {expect}", parts.len())));
    }
    typed::air(text).map_err(|e| Fault::input(format!("--air: {e}; {expect}")))
}

/// "2800-4100 rpm", "2800 to 4100 rpm".
pub(super) fn band(text: &str) -> Result<Band, Fault> {
    let refuse = |why: String| {
        Fault::input(format!("--band \"{text}\": {why}")).hint("such as --band \"2800-4100 rpm\"")
    };
    let (low, high) = text
        .split_once(" to ")
        .or_else(|| text.split_once('-'))
        .ok_or_else(|| refuse("expected two engine speeds".to_owned()))?;
    let read = |part: &str| {
        crate::units::parse::parse_or_in::<EngineSpeed>(part, "rpm").map_err(|e| refuse(e.to_string()))
    };
    let (low, high) = (read(low.trim())?, read(high.trim())?);
    if !(text.to_lowercase().contains("rpm")
        || text.contains("rev")
        || text.contains("Hz")
        || text.contains("rad"))
    {
        return Err(refuse("no unit; an engine speed is written in rpm".to_owned()));
    }
    if low >= high || low.as_rpm() < 0.0 {
        return Err(refuse("the first speed must be the lower".to_owned()));
    }
    Ok(Band { low, high, why: "as asked" })
}

/// "3500 rpm at 65 mph".
pub(super) fn gearing(text: &str) -> Result<Gearing, Fault> {
    let refuse = |why: String| {
        Fault::input(format!("--gearing \"{text}\": {why}")).hint("such as --gearing \"3500 rpm at 65 mph\"")
    };
    let (engine, road) = text
        .split_once(" at ")
        .ok_or_else(|| refuse("expected an engine speed at a road speed".to_owned()))?;
    let engine: EngineSpeed =
        engine.parse().map_err(|e: crate::units::QuantityError| refuse(e.to_string()))?;
    let road: Velocity = road.parse().map_err(|e: crate::units::QuantityError| refuse(e.to_string()))?;
    if engine.as_rpm() <= 0.0 || road.as_m_s() <= 0.0 {
        return Err(refuse("both speeds must be above zero".to_owned()));
    }
    Ok(Gearing { engine, road })
}

/// "A=timing=10 deg, spacer=no".
pub(super) fn states(sets: &[String]) -> Result<BTreeMap<String, State>, Fault> {
    let mut states: BTreeMap<String, State> = BTreeMap::new();
    for text in sets {
        let refuse = |why: &str| {
            Fault::input(format!("--set \"{text}\": {why}"))
                .hint("such as --set \"A=timing=10 deg, spacer=no\"")
        };
        let (label, rest) =
            text.split_once('=').ok_or_else(|| refuse("expected a label and what it was set to"))?;
        if !is_label(label.trim()) {
            return Err(refuse("a label is a letter and up to fifteen letters, digits or dashes"));
        }
        let state = states.entry(label.trim().to_owned()).or_default();
        for pair in rest.split(',') {
            let (name, value) =
                pair.split_once('=').ok_or_else(|| refuse("expected NAME=VALUE between commas"))?;
            let (name, value) = (name.trim().to_lowercase(), value.trim());
            if name.is_empty() || value.is_empty() {
                return Err(refuse("a name or a value is empty"));
            }
            if state.insert(name.clone(), Setting::Said(value.to_owned())).is_some() {
                return Err(refuse(&format!("{name} is set twice for this label")));
            }
        }
    }
    Ok(states)
}

/// What was set in a session, by label; under no label where none was given: "timing=10 deg, spacer=no" for every
/// file, "A=timing=10 deg" for the file labelled A.
pub(super) fn in_session(sets: &[String]) -> Result<BTreeMap<String, Settings>, Fault> {
    let mut found: BTreeMap<String, Settings> = BTreeMap::new();
    for text in sets {
        let first = text.split(',').next().unwrap_or_default();
        let (label, rest) = match text.split_once('=') {
            Some((label, rest)) if first.matches('=').count() > 1 && is_label(label.trim()) => {
                (label.trim(), rest)
            }
            _ => ("", text.as_str()),
        };
        let settings = parse_settings(rest).map_err(|e| Fault::input(format!("--set \"{text}\": {e}")))?;
        found.entry(label.to_owned()).or_default().extend(settings);
    }
    Ok(found)
}

/// Every label that was set is a label that was run, and the other way about.
pub(super) fn check_labels<'a>(
    states: &BTreeMap<String, State>,
    run: impl Iterator<Item = &'a str>,
) -> Result<(), Fault> {
    if states.is_empty() {
        return Ok(());
    }
    let run: Vec<&str> = run.collect();
    if let Some(stray) = states.keys().find(|k| !run.contains(&k.as_str())) {
        return Err(Fault::input(format!("--set names {stray}, and no file or figure carries that label")));
    }
    match run.iter().find(|l| !states.contains_key(**l)) {
        Some(missing) => Err(Fault::input(format!(
            "--set says nothing of {missing}; say what every label was set to, changed or not"
        ))),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn said(fault: &Fault) -> String {
        fault.to_string()
    }

    #[test]
    fn labels_are_all_or_none() {
        let files = |texts: &[&str]| labelled(&texts.iter().map(|t| (*t).to_owned()).collect::<Vec<_>>());
        let named = files(&["A=one.csv", "B=C:\\runs\\two.csv"]).unwrap();
        assert_eq!(named[1], (Some("B".into()), PathBuf::from("C:\\runs\\two.csv")));
        assert_eq!(files(&["one.csv", "two.csv"]).unwrap()[0].0, None);
        assert!(said(&files(&["A=one.csv", "two.csv"]).unwrap_err()).contains("two.csv has no label"));
        assert!(files(&["A=-", "B=-"]).is_err());
    }

    #[test]
    fn the_air_is_three_quantities_with_units() {
        let found = air("30.05 inHg,71F,62%").unwrap();
        assert_relative_eq!(found.pressure().as_inhg(), 30.05, epsilon = 1e-9);
        assert!(air("101,3 kPa; 21,5 C; 62%").is_ok());
        assert!(said(&air("30.05,71F,62%").unwrap_err()).contains("no unit"));
        assert!(said(&air("30.05 inHg,71F").unwrap_err()).contains("2 parts"));
        assert!(said(&air("30.05 inHg,71F,162%").unwrap_err()).contains("humidity"));
        assert!(airs(&["30 inHg,71F,62%".into(), "30 inHg,71F,62%".into()], 3).is_err());
    }

    #[test]
    fn a_band_needs_its_unit_and_its_order() {
        assert_relative_eq!(band("2800-4100 rpm").unwrap().high.as_rpm(), 4100.0, epsilon = 1e-9);
        assert_relative_eq!(band("2800 rpm to 4100 rpm").unwrap().low.as_rpm(), 2800.0, epsilon = 1e-9);
        assert!(said(&band("2800-4100").unwrap_err()).contains("no unit"));
        assert!(band("4100-2800 rpm").is_err());
        assert!(band("2800 rpm").is_err());
    }

    #[test]
    fn in_a_session_a_label_may_be_left_out() {
        let found = in_session(&["timing=10 deg, spacer=no".into(), "B=timing=14 deg".into()]).unwrap();
        assert_eq!(found[""]["timing"], "10 deg");
        assert_eq!(found[""]["spacer"], "no");
        assert_eq!(found["B"]["timing"], "14 deg");
        assert!(in_session(&["timing".into()]).is_err());
    }

    #[test]
    fn settings_are_read_and_doubles_refused() {
        let found = states(&["A=timing=10 deg, spacer=no".into()]).unwrap();
        assert_eq!(found["A"]["timing"], Setting::Said("10 deg".into()));
        for bad in ["A", "A=timing", "A=timing=10,timing=12", "1=timing=10", "A=timing="] {
            assert!(states(&[bad.into()]).is_err(), "{bad}");
        }
        assert!(check_labels(&found, ["A", "B"].into_iter()).is_err());
        assert!(check_labels(&found, ["B"].into_iter()).is_err());
        assert!(check_labels(&found, ["A", "A"].into_iter()).is_ok());
    }
}
