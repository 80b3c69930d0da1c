//! What is in the drawer: lists, or from, to and step.

use super::super::section::{Bounds, Section, within};
use super::super::tree::{Node, Value};
use super::carburetor;
use crate::setup::Stock;
use crate::units::{Quantity, QuantityError, parse};
use std::str::FromStr;

/// More sizes than any drawer holds.
const MOST: usize = 500;

/// Reads the drawer.
pub(super) fn stock(s: Section<'_>) -> Option<Stock> {
    let main_jets = sizes(&s, "main_jets", "0.060 in", &carburetor::JET);
    let main_air_bleeds = sizes(&s, "main_air_bleeds", "0.028 in", &carburetor::BLEED);
    let idle_feeds = sizes(&s, "idle_feeds", "0.030 in", &carburetor::RESTRICTION);
    let idle_air_bleeds = sizes(&s, "idle_air_bleeds", "0.070 in", &carburetor::BLEED);
    let channel_restrictions = sizes(&s, "channel_restrictions", "0.024 in", &carburetor::RESTRICTION);
    let pump_nozzles = sizes(&s, "pump_nozzles", "0.025 in", &carburetor::RESTRICTION);
    let enrichment_valves = sizes(&s, "enrichment_valves", "6.5 inHg", &carburetor::OPENING);
    s.end();
    Some(Stock {
        main_jets: main_jets?,
        main_air_bleeds: main_air_bleeds?,
        idle_feeds: idle_feeds?,
        idle_air_bleeds: idle_air_bleeds?,
        channel_restrictions: channel_restrictions?,
        pump_nozzles: pump_nozzles?,
        enrichment_valves: enrichment_valves?,
    })
}

fn sizes<Q>(s: &Section<'_>, key: &'static str, example: &str, bounds: &Bounds<Q>) -> Option<Vec<Q>>
where
    Q: Quantity + FromStr<Err = QuantityError>,
{
    let Some(node) = s.get(key) else { return Some(Vec::new()) };
    let mut sizes = match &node.value {
        Value::List(list) => listed(s, node, list, key, example, bounds),
        Value::Table(_) => stepped(s.section(key)?, bounds),
        _ => {
            s.fault_at(
                node,
                key,
                &format!("stock.{key} is a list, or from, to and step"),
                &format!("write {key} = [\"{example}\", ...]"),
            );
            None
        }
    }?;
    sizes.sort_by(|a, b| a.si().total_cmp(&b.si()));
    sizes.dedup_by(|a, b| (a.si() / b.si() - 1.0).abs() < 1e-6);
    Some(sizes)
}

fn listed<Q>(
    s: &Section<'_>,
    node: &Node,
    list: &[Node],
    key: &'static str,
    example: &str,
    bounds: &Bounds<Q>,
) -> Option<Vec<Q>>
where
    Q: Quantity + FromStr<Err = QuantityError>,
{
    if list.len() > MOST {
        s.fault_at(
            node,
            key,
            &format!("stock.{key} has {} sizes; at most {MOST} are read", list.len()),
            "list what is on hand",
        );
        return None;
    }
    let read: Vec<_> = list.iter().map(|n| s.quantity_of(n, key, example, bounds)).collect();
    read.into_iter().collect()
}

fn stepped<Q>(s: Section<'_>, bounds: &Bounds<Q>) -> Option<Vec<Q>>
where
    Q: Quantity + FromStr<Err = QuantityError>,
{
    let sizes = steps_of(&s, bounds);
    s.end();
    sizes
}

fn steps_of<Q>(s: &Section<'_>, bounds: &Bounds<Q>) -> Option<Vec<Q>>
where
    Q: Quantity + FromStr<Err = QuantityError>,
{
    let low = s.quantity("from", "0.050 in", bounds);
    let high = s.quantity("to", "0.090 in", bounds);
    let any = within(Q::from_si(0.0), bounds.high, "a step is larger than nothing");
    let step = s.quantity("step", "0.001 in", &any);
    let (low, high, step) = (low?, high?, step?);
    if step.si() <= 0.0 || high < low {
        let key = if high < low { "to" } else { "step" };
        s.fault(key, "the steps must lead from a smaller size to a larger one", "mend from, to or step");
        return None;
    }
    let steps = ((high.si() - low.si()) / step.si() + 1e-6).floor();
    if steps >= MOST as f64 {
        s.fault("step", &format!("these are more than {MOST} sizes"), "take a larger step");
        return None;
    }
    Some((0..=steps as usize).map(|i| tidy(low.si() + step.si() * i as f64)).collect())
}

/// Without the dust of adding steps.
fn tidy<Q: Quantity + FromStr<Err = QuantityError>>(si: f64) -> Q {
    let unit = &Q::UNITS[0];
    let written = ((si - unit.offset) / unit.scale * 1e9).round() / 1e9;
    parse::parse_or_in(&parse::tidy_number(written), unit.symbol).unwrap_or_else(|_| Q::from_si(si))
}
