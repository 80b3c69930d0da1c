//! Every part as it stands, in both scales, for the person who takes it apart next.

use super::Tale;
use super::readings::capital;
use crate::procedure::Answer;
use crate::report::document::{Block, Table, Text};
use crate::setup::{MainSet, PartPath, PartSize, SetName};
use crate::units::System;
use crate::units::show::{Shown, turns_as_fraction};

pub(super) fn blocks(tale: &Tale<'_>) -> Vec<Block> {
    let (now, was) = (&tale.state.setup.carburetor, &tale.state.job.setup.carburetor);
    let (here, there) = match tale.system() {
        System::Us => (System::Us, System::Metric),
        System::Metric => (System::Metric, System::Us),
    };
    let other = if there == System::Metric { "Metric" } else { "US" };
    let row = |(path, size): (PartPath, PartSize)| {
        let found = as_found(tale, path).or(was.size(path)).map(|f| shown(f, here));
        let stands = shown(size, here);
        let changed = found.filter(|f| *f != stands);
        vec![
            Text::ours(capital(&path.said())).aside(scale(path, tale)),
            Text::ours(stands),
            Text::ours(if matches!(size, PartSize::Turns(_)) { String::new() } else { shown(size, there) }),
            changed.map_or_else(|| Text::default().aside("the same"), Text::ours),
        ]
    };
    let mut rows: Vec<Vec<Text>> = now.parts().into_iter().map(row).collect();
    rows.extend(now.main.iter().map(|set| venturi(set, here, there)));
    rows.extend(tale.state.settings.iter().map(|(name, to)| named(tale, name, to)));
    vec![Block::Table(Table {
        caption: "Every part as it stands, with its scale, and as it was found".to_owned(),
        heads: ["Part", "Now", other, "As found"].map(str::to_owned).into(),
        figures: vec![1, 2, 3],
        rows,
    })]
}

/// Anything else that was set, in the person's own words.
fn named(tale: &Tale<'_>, name: &str, to: &str) -> Vec<Text> {
    let first = tale.state.set.iter().find(|c| c.name == name);
    let found = first.and_then(|c| if c.is_change() { c.from.clone() } else { Some(c.to.clone()) });
    let found = match found {
        Some(found) if found == to => Text::default().aside("the same"),
        Some(found) => Text::theirs(found),
        None => Text::default().aside("not said"),
    };
    vec![Text::theirs(capital(name)).aside("as it was said"), Text::theirs(to), Text::default(), found]
}

/// A venturi is not changed, but the next person needs it to know the carburetor again.
fn venturi(set: &MainSet, here: System, there: System) -> Vec<Text> {
    let name = match set.set {
        SetName::Primary => "Primary venturi",
        SetName::Secondary => "Secondary venturi",
    };
    vec![
        Text::ours(name).aside("bore at its throat, each barrel"),
        Text::ours(set.venturi.show(here)),
        Text::ours(set.venturi.show(there)),
        Text::default().aside("the same"),
    ]
}

/// A screw is found where it was counted, not where the setup said.
pub(super) fn as_found(tale: &Tale<'_>, path: PartPath) -> Option<PartSize> {
    let PartPath::IdleScrew(n) = path else { return None };
    match tale.state.answered(&format!("turns-out.{n}"))?.1 {
        Answer::Value(text) => text.parse().ok().map(PartSize::Turns),
        _ => None,
    }
}

fn shown(size: PartSize, system: System) -> String {
    match size {
        PartSize::Turns(t) => format!("{} turns", turns_as_fraction(t)),
        other => other.show(system),
    }
}

/// What the figure counts, from where.
fn scale(path: PartPath, tale: &Tale<'_>) -> &'static str {
    match path {
        PartPath::MainJet(_) | PartPath::IdleFeed => "bore, each barrel; larger is richer",
        PartPath::MainAirBleed(_) | PartPath::IdleAirBleed => "bore, each barrel; larger is leaner",
        PartPath::ChannelRestriction => "bore, each barrel; adds fuel while the valve is open",
        PartPath::EnrichmentOpening => "opens below this manifold vacuum",
        PartPath::PumpNozzle => "bore, each barrel",
        PartPath::IdleScrew(_) if tale.state.setup.carburetor.idle.screws_meter_air => {
            "out from lightly seated; out is leaner"
        }
        PartPath::IdleScrew(_) => "out from lightly seated; out is richer",
    }
}
