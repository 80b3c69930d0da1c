//! What the metering model says each part does at each cell: the mean of the prior.

use super::cells::Cell;
use crate::physics::metering::{Model, Operating};
use crate::setup::{Carburetor, PartPath, PartSize, Stock};
use crate::units::Length;

/// A part that may be changed, the sizes in stock, and what the model says of it.
#[derive(Debug, Clone)]
pub(super) struct Part {
    /// Which.
    pub(super) path: PartPath,
    /// What is in it.
    pub(super) fitted: PartSize,
    /// Sizes in stock, in order, the fitted one left out.
    pub(super) stock: Vec<PartSize>,
    curves: Curves,
}

#[cfg(test)]
impl Part {
    /// One that is only talked about.
    pub(super) fn named(path: PartPath, fitted: PartSize) -> Self {
        Part { path, fitted, stock: Vec::new(), curves: Curves::Area(Vec::new()) }
    }
}

/// Change of ln(lambda) by cell.
#[derive(Debug, Clone)]
enum Curves {
    /// `a x + b x^2` in the ln of the area over the fitted one's, for each cell.
    Area(Vec<(f64, f64)>),
    /// Sizes and their effect in each cell.
    Table(Vec<(PartSize, Vec<f64>)>),
}

/// ln of the area ratio at which the model is asked, either way.
const REACH: f64 = 0.12;

/// The parts of a carburetor that advice may change by lambda, with the model's word on each in each cell. `others`
/// are sizes seen in earlier trials.
pub(super) fn parts(model: &Model, cells: &[Cell], trials: &[&Carburetor]) -> Vec<Part> {
    let carburetor = model.carburetor();
    let base: Vec<Option<f64>> = cells.iter().map(|c| ln_lambda(model, c.at)).collect();
    carburetor
        .parts()
        .into_iter()
        .filter(|(path, _)| !matches!(path, PartPath::IdleScrew(_) | PartPath::PumpNozzle))
        .filter_map(|(path, fitted)| {
            let stock = in_stock(&carburetor.stock, path, fitted);
            let seen: Vec<PartSize> =
                trials.iter().filter_map(|c| c.size(path)).filter(|s| *s != fitted).collect();
            if stock.is_empty() && seen.is_empty() {
                return None;
            }
            let curves = match fitted {
                PartSize::Bore(bore) => Curves::Area(area_curves(model, cells, &base, path, bore)),
                PartSize::Opening(_) => {
                    let mut sizes = stock.clone();
                    sizes.extend(seen);
                    Curves::Table(table(model, cells, &base, path, sizes))
                }
                PartSize::Turns(_) => return None,
            };
            Some(Part { path, fitted, stock, curves })
        })
        .collect()
}

fn ln_lambda(model: &Model, at: Operating) -> Option<f64> {
    model.at(at).ok().map(|m| m.lambda.as_ratio().ln())
}

/// What a change does where the model answers both before and after; elsewhere nothing is known and nothing said.
fn change(model: &Model, at: Operating, base: Option<f64>) -> f64 {
    base.zip(ln_lambda(model, at)).map_or(0.0, |(before, after)| after - before)
}

fn area_curves(
    model: &Model,
    cells: &[Cell],
    base: &[Option<f64>],
    path: PartPath,
    bore: Length,
) -> Vec<(f64, f64)> {
    let with = |x: f64| {
        let size = PartSize::Bore(bore * (0.5 * x).exp());
        model.carburetor().with(path, size).map(|c| model.with(c))
    };
    let (Some(more), Some(less)) = (with(REACH), with(-REACH)) else { return vec![(0.0, 0.0); cells.len()] };
    cells
        .iter()
        .zip(base)
        .map(|(cell, before)| {
            let (up, down) = (change(&more, cell.at, *before), change(&less, cell.at, *before));
            ((up - down) / (2.0 * REACH), (up + down) / (2.0 * REACH * REACH))
        })
        .collect()
}

fn table(
    model: &Model,
    cells: &[Cell],
    base: &[Option<f64>],
    path: PartPath,
    sizes: Vec<PartSize>,
) -> Vec<(PartSize, Vec<f64>)> {
    sizes
        .into_iter()
        .filter_map(|size| {
            let changed = model.with(model.carburetor().with(path, size)?);
            let effects = cells.iter().zip(base).map(|(c, b)| change(&changed, c.at, *b)).collect();
            Some((size, effects))
        })
        .collect()
}

impl Part {
    /// ln of a size's area over the fitted one's; zero for a valve.
    pub(super) fn ln_area(&self, size: PartSize) -> f64 {
        match (self.fitted.bore(), size.bore()) {
            (Some(from), Some(to)) if from > Length::ZERO && to > Length::ZERO => 2.0 * (to / from).ln(),
            _ => 0.0,
        }
    }

    /// The model's change of ln(lambda) in a cell when the part gets a size.
    pub(super) fn effect(&self, cell: usize, size: PartSize) -> f64 {
        match &self.curves {
            Curves::Area(curves) => {
                let x = self.ln_area(size);
                curves.get(cell).map_or(0.0, |(a, b)| a * x + b * x * x)
            }
            Curves::Table(table) => {
                table.iter().find(|(s, _)| *s == size).and_then(|(_, e)| e.get(cell).copied()).unwrap_or(0.0)
            }
        }
    }

    /// The model's elasticity in a cell; zero for a valve.
    pub(super) fn elasticity(&self, cell: usize) -> f64 {
        match &self.curves {
            Curves::Area(curves) => curves.get(cell).map_or(0.0, |(a, _)| -a),
            Curves::Table(_) => 0.0,
        }
    }

    /// How many sizes lie between the fitted one and another, that one counted.
    pub(super) fn steps_to(&self, size: PartSize) -> usize {
        let (from, to) = (measure(self.fitted), measure(size));
        let (low, high) = (from.min(to), from.max(to));
        let between =
            self.stock.iter().map(|s| measure(*s)).filter(|m| *m > low + 1e-12 && *m < high - 1e-12).count();
        between + 1
    }

    /// The next size in stock, larger or smaller.
    pub(super) fn next(&self, larger: bool) -> Option<PartSize> {
        let here = measure(self.fitted);
        let beyond = self.stock.iter().copied().filter(|s| (measure(*s) > here) == larger);
        if larger {
            beyond.min_by(|a, b| measure(*a).total_cmp(&measure(*b)))
        } else {
            beyond.max_by(|a, b| measure(*a).total_cmp(&measure(*b)))
        }
    }
}

/// A size as one number: SI bore, opening vacuum or turns.
pub(super) fn measure(size: PartSize) -> f64 {
    match size {
        PartSize::Bore(d) => d.as_m(),
        PartSize::Opening(v) => v.as_pa(),
        PartSize::Turns(t) => t.as_turns(),
    }
}

/// Whether two sizes are the same to a micrometre (or a pascal).
pub(super) fn same(a: PartSize, b: PartSize) -> bool {
    let within = if a.bore().is_some() { 1e-6 } else { 1.0 };
    (measure(a) - measure(b)).abs() < within
}

fn in_stock(stock: &Stock, path: PartPath, fitted: PartSize) -> Vec<PartSize> {
    let bores = match path {
        PartPath::MainJet(_) => &stock.main_jets,
        PartPath::MainAirBleed(_) => &stock.main_air_bleeds,
        PartPath::ChannelRestriction => &stock.channel_restrictions,
        PartPath::IdleFeed => &stock.idle_feeds,
        PartPath::IdleAirBleed => &stock.idle_air_bleeds,
        PartPath::PumpNozzle => &stock.pump_nozzles,
        PartPath::EnrichmentOpening | PartPath::IdleScrew(_) => &Vec::new(),
    };
    let mut sizes: Vec<PartSize> = match path {
        PartPath::EnrichmentOpening => {
            stock.enrichment_valves.iter().map(|v| PartSize::Opening(*v)).collect()
        }
        _ => bores.iter().map(|d| PartSize::Bore(*d)).collect(),
    };
    sizes.retain(|s| !same(*s, fitted));
    sizes.sort_by(|a, b| measure(*a).total_cmp(&measure(*b)));
    sizes
}

/// Pump nozzles in stock, the fitted one left out.
pub(super) fn pump_nozzles(stock: &Stock, fitted: PartSize) -> Vec<PartSize> {
    in_stock(stock, PartPath::PumpNozzle, fitted)
}
