//! A carburetor as written.

use super::super::section::{Bounds, Section, within};
use super::stock::stock;
use crate::setup::{Carburetor, Enrichment, IdleCircuit, MainSet, Pump, SetName, Stock};
use crate::units::{Fraction, Length, PressureDifference, Turns, Vacuum, Volume, VolumeFlow};

pub(super) const JET: Bounds<Length> =
    within(Length::from_inches(0.010), Length::from_inches(0.300), "main jets are drilled within this");
pub(super) const BLEED: Bounds<Length> =
    within(Length::from_inches(0.005), Length::from_inches(0.300), "air bleeds are drilled within this");
pub(super) const RESTRICTION: Bounds<Length> = within(
    Length::from_inches(0.008),
    Length::from_inches(0.200),
    "restrictions and nozzles are drilled within this",
);
pub(super) const OPENING: Bounds<Vacuum> = within(
    Vacuum::from_inhg(0.5),
    Vacuum::from_inhg(20.0),
    "a valve outside this is always shut or always open",
);
const VENTURI: Bounds<Length> =
    within(Length::from_mm(5.0), Length::from_mm(80.0), "no venturi is outside this");
const BORE: Bounds<Length> =
    within(Length::from_mm(6.0), Length::from_mm(100.0), "no throttle bore is outside this");
const FLOW: Bounds<VolumeFlow> =
    within(VolumeFlow::from_cfm(2.0), VolumeFlow::from_cfm(4000.0), "no carburetor is rated outside this");
const RATED_AT: Bounds<PressureDifference> = within(
    PressureDifference::from_inhg(0.2),
    PressureDifference::from_inhg(25.0),
    "ratings are taken at 1.5 or 3.0 inHg as a rule",
);
const RANGE: Bounds<Turns> =
    within(Turns::from_turns(1.0), Turns::from_turns(20.0), "from lightly seated to falling out");
const TURNS: Bounds<Turns> =
    within(Turns::from_turns(0.0), Turns::from_turns(20.0), "it is counted from lightly seated, outward");
const SMALL: Bounds<Length> =
    within(Length::ZERO, Length::from_mm(60.0), "it is a depth inside a carburetor");
const SLOT: Bounds<Length> = within(Length::ZERO, Length::from_mm(8.0), "the slot is not longer");

/// Reads a carburetor.
pub(in crate::profile) fn carburetor(s: Section<'_>) -> Option<Carburetor> {
    let name = s.name("name", "two-barrel, 280 cfm");
    let barrels = s.count("barrels", "2", &within(1, 12, "a carburetor has at least one barrel"));
    let rated_flow = s.quantity("rated_flow", "280 cfm", &FLOW);
    let rated_depression = s.quantity("rated_depression", "3.0 inHg", &RATED_AT);
    let idle = s.needed_section("idle").and_then(idle);
    let read: Vec<Option<MainSet>> = s.needed_sections("main").into_iter().map(main_set).collect();
    let whole = !read.is_empty() && read.iter().all(Option::is_some);
    let mut main: Vec<MainSet> = read.into_iter().flatten().collect();
    if whole {
        sets(&s, &main, barrels);
    }
    main.sort_by_key(|m| m.set);
    let enrichment = s.section("enrichment").map(enrichment);
    let pump = s.section("pump").map(pump);
    let share = within(
        Fraction::from_percent(0.0),
        Fraction::from_percent(100.0),
        "it is a share of throttle travel",
    );
    let secondary_opens_at = s.maybe_quantity("secondary_opens_at", "40 %", &share);
    let float_level = s.maybe_quantity("float_level", "10 mm", &SMALL);
    let stock = s.section("stock").map_or(Some(Stock::default()), stock);
    s.end();
    Some(Carburetor {
        name: name?,
        barrels: barrels?,
        rated_flow: rated_flow?,
        rated_depression: rated_depression?,
        idle: idle?,
        main,
        enrichment: swap(enrichment)?,
        pump: swap(pump)?,
        secondary_opens_at,
        float_level,
        stock: stock?,
    })
}

/// A part that is there but unreadable spoils the whole; one that is not there does not.
#[expect(clippy::option_option, reason = "absent and unreadable are two things")]
fn swap<T>(read: Option<Option<T>>) -> Option<Option<T>> {
    match read {
        None => Some(None),
        Some(Some(part)) => Some(Some(part)),
        Some(None) => None,
    }
}

fn idle(s: Section<'_>) -> Option<IdleCircuit> {
    let screws = s.count("screws", "2", &within(1, 12, "there is at least one mixture screw"));
    let screws_meter_air = s.choice("screws_meter", &[("fuel", false), ("air", true)], Some(false));
    let range_read = s.maybe_quantity("screw_range", "4 turns", &RANGE);
    let screw_range = if s.has("screw_range") { range_read } else { Some(Turns::from_turns(4.0)) };
    let turns_out = turns_out(&s, screws, screw_range);
    let feed_restriction = s.quantity("feed_restriction", "0.030 in", &RESTRICTION);
    let air_bleed = s.quantity("air_bleed", "0.070 in", &BLEED);
    let slot_exposure = s.maybe_quantity("slot_exposure", "0.030 in", &SLOT);
    s.end();
    Some(IdleCircuit {
        screws: screws?,
        screws_meter_air: screws_meter_air?,
        turns_out: turns_out?,
        screw_range: screw_range?,
        feed_restriction: feed_restriction?,
        air_bleed: air_bleed?,
        slot_exposure,
    })
}

/// One value for all screws, or a list with one for each.
fn turns_out(s: &Section<'_>, screws: Option<u8>, range: Option<Turns>) -> Option<Vec<Turns>> {
    use super::super::tree::Value;
    let key = "turns_out";
    if !s.has(key) {
        return s.quantity(key, "1.5 turns", &TURNS).map(|t| vec![t]);
    }
    let node = s.get(key)?;
    let nodes: Vec<_> = match &node.value {
        Value::List(list) => list.iter().collect(),
        _ => vec![node],
    };
    let single = !matches!(node.value, Value::List(_));
    let mut turns = Vec::new();
    for node in &nodes {
        let one = s.quantity_of(node, key, "1.5 turns", &TURNS);
        if let (Some(one), Some(range)) = (one, range)
            && one > range
        {
            let what = format!("{one:?} out is beyond the screw's range of {range:?}");
            s.fault_at(node, key, &what, "mend it, or give screw_range");
        }
        turns.push(one);
    }
    let turns: Vec<Turns> = turns.into_iter().collect::<Option<_>>()?;
    let screws = screws?;
    if single {
        return Some(vec![turns[0]; usize::from(screws)]);
    }
    if turns.len() != usize::from(screws) {
        let what = format!("turns_out has {} values for {screws} screws", turns.len());
        s.fault_at(node, key, &what, "give one for each screw, or one for all: turns_out = 1.5");
        return None;
    }
    Some(turns)
}

fn main_set(s: Section<'_>) -> Option<MainSet> {
    let set = s.choice("set", &[("primary", SetName::Primary), ("secondary", SetName::Secondary)], None);
    let barrels = s.count("barrels", "2", &within(1, 12, "a set has at least one barrel"));
    let venturi = s.quantity("venturi", "1.06 in", &VENTURI);
    let jet = s.quantity("jet", "0.060 in", &JET);
    let air_bleed = s.quantity("air_bleed", "0.028 in", &BLEED);
    let throttle_bore = s.maybe_quantity("throttle_bore", "1.44 in", &BORE);
    let nozzle = s.maybe_quantity("nozzle", "0.120 in", &JET);
    let emulsion_depth = s.maybe_quantity("emulsion_depth", "0.4 in", &SMALL);
    let lip = s.maybe_quantity("lip", "0.2 in", &SMALL);
    let booster_gain = s.maybe_number(
        "booster_gain",
        "1.8",
        &within(1.0, 6.0, "1 is no booster; two in line reach about 4"),
    );
    if let (Some(venturi), Some(bore)) = (venturi, throttle_bore)
        && venturi > bore
    {
        s.fault("venturi", "the venturi is larger than its throttle bore", "mend one of the two");
    }
    if let (Some(venturi), Some(jet)) = (venturi, jet)
        && jet * 3.0 > venturi
    {
        s.fault(
            "jet",
            "the jet is out of all proportion to its venturi",
            "a jet is 1/15 to 1/25 of the venturi's bore; look at the unit",
        );
    }
    s.end();
    Some(MainSet {
        set: set?,
        barrels: barrels?,
        venturi: venturi?,
        jet: jet?,
        air_bleed: air_bleed?,
        throttle_bore,
        nozzle,
        emulsion_depth,
        lip,
        booster_gain,
    })
}

/// The sets held against each other and the barrels.
fn sets(s: &Section<'_>, main: &[MainSet], barrels: Option<u8>) {
    let count = |set| main.iter().filter(|m| m.set == set).count();
    if count(SetName::Primary) != 1 || count(SetName::Secondary) > 1 {
        s.fault("main", "there must be one primary set, and at most one secondary", "name each set once");
    }
    let sum: u32 = main.iter().map(|m| u32::from(m.barrels)).sum();
    if let Some(barrels) = barrels
        && sum != u32::from(barrels)
    {
        s.fault(
            "barrels",
            &format!("barrels is {barrels}, but the main sets have {sum} together"),
            "mend one of them",
        );
    }
}

fn enrichment(s: Section<'_>) -> Option<Enrichment> {
    let opens_below = s.quantity("opens_below", "6.5 inHg", &OPENING);
    let channel_restriction = s.quantity("channel_restriction", "0.024 in", &RESTRICTION);
    s.end();
    Some(Enrichment { opens_below: opens_below?, channel_restriction: channel_restriction? })
}

fn pump(s: Section<'_>) -> Option<Pump> {
    let nozzle = s.quantity("nozzle", "0.025 in", &RESTRICTION);
    let shot = within(Volume::from_cc(0.05), Volume::from_cc(20.0), "one full stroke");
    let stroke_volume = s.maybe_quantity("stroke_volume", "1.2 cc", &shot);
    s.end();
    Some(Pump { nozzle: nozzle?, stroke_volume })
}
