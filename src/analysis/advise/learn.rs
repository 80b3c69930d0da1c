//! What is believed of this engine: the mixture in every cell, each part's say, what each bore really is. The prior
//! is the model's; every log of the job updates it, at the cells it has seen, with the weather taken out first.

use super::belief::{Belief, Gathering, Linear};
use super::cells::{Cell, Reading, Survey};
use super::effects::{Part, measure, same};
use super::prior;
use crate::physics::air::MoistAir;
use crate::rules::book::EffectNumbers;
use crate::setup::{Carburetor, PartPath, PartSize, Regime, Weather};

/// A part, by its place in the list, and the size it gets.
pub(super) type Move = (usize, PartSize);

/// What is believed.
#[derive(Debug, Clone)]
pub(super) struct Mind {
    /// The cells.
    pub(super) cells: Vec<Cell>,
    /// The parts that may be changed.
    pub(super) parts: Vec<Part>,
    belief: Belief,
    /// What model and practice together say before any log.
    beforehand: Belief,
    unknowns: Unknowns,
    pasts: Vec<Past>,
}

/// How a part came to the size it has.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Past {
    /// The last change of it, in its own measure; zero when it was never changed.
    pub(super) last: f64,
    /// It has been turned back once already.
    pub(super) turned: bool,
}

impl Past {
    /// From the sizes a part had, oldest first.
    fn of(sizes: impl Iterator<Item = PartSize>) -> Past {
        let sizes: Vec<f64> = sizes.map(measure).collect();
        let moves = sizes.windows(2).map(|w| w[1] - w[0]).filter(|by| by.abs() > 1e-9);
        moves.fold(Past::default(), |past, by| Past { last: by, turned: past.turned || past.last * by < 0.0 })
    }
}

/// Where each unknown is.
#[derive(Debug, Clone)]
struct Unknowns {
    cells: usize,
    parts: usize,
    bores: Vec<(usize, PartSize)>,
    logs: usize,
}

const REGIMES: usize = Regime::ALL.len();

fn regime_at(regime: Regime) -> usize {
    Regime::ALL.iter().position(|r| *r == regime).unwrap_or(0)
}

impl Unknowns {
    fn factor(&self, part: usize) -> usize {
        self.cells + part
    }
    fn say(&self, part: usize, regime: Regime) -> usize {
        self.cells + self.parts + part * REGIMES + regime_at(regime)
    }
    fn bore(&self, part: usize, size: PartSize) -> Option<usize> {
        let found = self.bores.iter().position(|(p, s)| *p == part && same(*s, size))?;
        Some(self.cells + self.parts * (1 + REGIMES) + found)
    }
    fn log(&self, log: usize) -> usize {
        self.cells + self.parts * (1 + REGIMES) + self.bores.len() + log
    }
    fn log_regime(&self, log: usize, regime: Regime) -> usize {
        self.log(self.logs) + log * REGIMES + regime_at(regime)
    }
    fn count(&self) -> usize {
        self.log_regime(self.logs, Regime::Idle)
    }
}

/// ln of what fixed jets make of lambda in an air, up to a constant: dry air over fuel, which follows the root of
/// the density of the air that draws it (Heywood 1988, section 7.2, from memory; NACA TN 1874).
pub(super) fn ln_weather(weather: &Weather) -> Option<f64> {
    let air = MoistAir::from_weather(weather).ok()?;
    Some(air.dry_density().as_kg_m3().ln() - 0.5 * air.density().as_kg_m3().ln())
}

/// The weather's shift of ln(lambda) in a log against the latest, and how well it is known.
fn weather_shift(log: &Reading<'_>, latest: Option<Weather>) -> (f64, f64) {
    let both = log.weather.as_ref().and_then(ln_weather).zip(latest.as_ref().and_then(ln_weather));
    both.map_or((0.0, 0.015), |(there, here)| (there - here, prior::WEATHER_DOUBT * (there - here).abs()))
}

impl Mind {
    /// Learns from every log of a survey. `None` when there is nothing to learn from.
    pub(super) fn learn(survey: &Survey<'_>, parts: Vec<Part>, practice: &EffectNumbers) -> Option<Mind> {
        let latest = survey.latest()?;
        let mut bores = Vec::new();
        for log in &survey.logs {
            for (p, part) in parts.iter().enumerate() {
                let size = log.carburetor.size(part.path).filter(|s| s.bore().is_some());
                if let Some(size) = size.filter(|s| !bores.iter().any(|(q, t)| *q == p && same(*t, *s))) {
                    bores.push((p, size));
                }
            }
        }
        let unknowns =
            Unknowns { cells: survey.cells.len(), parts: parts.len(), bores, logs: survey.logs.len() };
        let spreads = spreads(&unknowns, survey, &parts, latest.weather);
        let past = |part: &Part| Past::of(survey.logs.iter().filter_map(|l| l.carburetor.size(part.path)));
        let pasts = parts.iter().map(past).collect();
        let mut mind = Mind {
            cells: survey.cells.clone(),
            pasts,
            belief: Gathering::with_spreads(&spreads).conclude()?,
            beforehand: Gathering::with_spreads(&spreads).conclude()?,
            parts,
            unknowns,
        };
        let mut gathering = Gathering::with_spreads(&spreads);
        for (what, value, spread) in mind.practice(practice) {
            gathering.reads(&what, value, spread);
        }
        mind.beforehand = gathering.clone().conclude()?;
        for (l, log) in survey.logs.iter().enumerate() {
            let (shift, _) = weather_shift(log, latest.weather);
            for reading in &log.cells {
                let mut what = mind.after(reading.cell, &mind.moves_to(log.carburetor));
                let regime = mind.cells[reading.cell].regime;
                what.constant += shift;
                what.extra += unmodelled(latest.carburetor, log.carburetor, regime);
                what.terms.push((mind.unknowns.log(l), 1.0));
                what.terms.push((mind.unknowns.log_regime(l, regime), 1.0));
                gathering.reads(&what, reading.ln_lambda, reading.spread);
            }
        }
        mind.belief = gathering.conclude()?;
        Some(mind)
    }

    /// What the trade's table says each part's say is in each regime, as readings beside the model: the two disagree, above
    /// all where idle hands over to main, and neither is this engine.
    fn practice(&self, table: &EffectNumbers) -> Vec<(Linear, f64, f64)> {
        let mut all = Vec::new();
        for (p, part) in self.parts.iter().enumerate() {
            let Some(row) = table.row.iter().find(|r| r.part == part.path) else { continue };
            let area = 2.0 * (row.to / row.from).ln();
            for regime in prior::JUDGED {
                let weights = self.weights(regime);
                let Some(span) = row.of(regime).filter(|_| !weights.is_empty()) else { continue };
                let (low, high) = (span.low.as_ratio() / area, span.high.as_ratio() / area);
                let model: f64 = weights.iter().map(|(c, w)| w * part.elasticity(*c)).sum();
                let terms = vec![(self.unknowns.factor(p), model), (self.unknowns.say(p, regime), 1.0)];
                let says = Linear { constant: model, terms, extra: 0.0 };
                all.push((says, f64::midpoint(low, high), 0.5 * (high - low).abs() + prior::PRACTICE_SPREAD));
            }
        }
        all
    }

    /// The moves that lead from the fitted parts to another carburetor's.
    fn moves_to(&self, other: &Carburetor) -> Vec<Move> {
        let differs = |(p, part): (usize, &Part)| {
            other.size(part.path).filter(|s| !same(*s, part.fitted)).map(|s| (p, s))
        };
        self.parts.iter().enumerate().filter_map(differs).collect()
    }

    /// ln(lambda) in a cell after some moves, in the latest log's air.
    pub(super) fn after(&self, cell: usize, moves: &[Move]) -> Linear {
        let mut what = Linear { terms: vec![(cell, 1.0)], ..Linear::default() };
        for (p, size) in moves {
            what.add(&self.effect(cell, *p, *size), 1.0);
        }
        what
    }

    /// The change of ln(lambda) in a cell when a part gets a size.
    pub(super) fn effect(&self, cell: usize, p: usize, size: PartSize) -> Linear {
        let part = &self.parts[p];
        let (effect, x) = (part.effect(cell, size), part.ln_area(size));
        let mut what =
            Linear { constant: effect, terms: vec![(self.unknowns.factor(p), effect)], extra: 0.0 };
        if x != 0.0 {
            what.terms.push((self.unknowns.say(p, self.cells[cell].regime), -x));
        }
        if let (Some(from), Some(to)) = (part.fitted.bore(), size.bore()) {
            let say = part.elasticity(cell);
            match self.unknowns.bore(p, size) {
                Some(known) => what.terms.push((known, -say)),
                None => what.extra += (say * 2.0 * prior::BORE_SPREAD_M / to.as_m()).powi(2),
            }
            match self.unknowns.bore(p, part.fitted) {
                Some(known) => what.terms.push((known, say)),
                None => what.extra += (say * 2.0 * prior::BORE_SPREAD_M / from.as_m()).powi(2),
            }
        }
        what
    }

    /// What a step from the fitted size to another is worth in a cell, whatever the two bores really are.
    pub(super) fn say_of(&self, cell: usize, p: usize, size: PartSize) -> Linear {
        let part = &self.parts[p];
        let (effect, x) = (part.effect(cell, size), part.ln_area(size));
        let regime = self.cells[cell].regime;
        let terms = vec![(self.unknowns.factor(p), effect), (self.unknowns.say(p, regime), -x)];
        Linear { constant: effect, terms, extra: 0.0 }
    }

    /// Mean and variance of a combination before any log.
    pub(super) fn beforehand(&self, what: &Linear) -> (f64, f64) {
        self.beforehand.of(what)
    }

    /// Mean and variance of a combination.
    pub(super) fn of(&self, what: &Linear) -> (f64, f64) {
        self.belief.of(what)
    }

    /// Cells of a regime with their weight by the latest log's time; by nothing but presence when it did not see
    /// them.
    pub(super) fn weights(&self, regime: Regime) -> Vec<(usize, f64)> {
        let of: Vec<(usize, f64)> = self
            .cells
            .iter()
            .enumerate()
            .filter(|(_, c)| c.regime == regime)
            .map(|(i, c)| (i, c.seconds))
            .collect();
        let sum: f64 = of.iter().map(|(_, w)| w).sum();
        if sum > 0.0 {
            of.into_iter().map(|(i, w)| (i, w / sum)).filter(|(_, w)| *w > 0.0).collect()
        } else {
            let each = 1.0 / of.len().max(1) as f64;
            of.into_iter().map(|(i, _)| (i, each)).collect()
        }
    }

    /// ln(lambda) of a regime after some moves; `None` when no log saw it.
    pub(super) fn regime_after(&self, regime: Regime, moves: &[Move]) -> Option<Linear> {
        let weights = self.weights(regime);
        if weights.is_empty() {
            return None;
        }
        let mut sum = Linear::default();
        for (cell, weight) in weights {
            let mut here = self.after(cell, moves);
            // What is not known of a new bore is the same in every cell: it does not average out.
            let own = std::mem::take(&mut here.extra);
            sum.add(&here, weight);
            sum.extra = (sum.extra.sqrt() + weight * own.sqrt()).powi(2);
        }
        Some(sum)
    }

    /// Which way a part was last moved, and whether it had been turned back before that.
    pub(super) fn past(&self, p: usize) -> Past {
        self.pasts.get(p).copied().unwrap_or_default()
    }

    /// Whether the parts of two earlier logs ever differed.
    pub(super) fn has_seen_changes(&self) -> bool {
        self.unknowns.bores.len() > self.parts.iter().filter(|p| p.fitted.bore().is_some()).count()
    }
}

fn spreads(u: &Unknowns, survey: &Survey<'_>, parts: &[Part], latest: Option<Weather>) -> Vec<f64> {
    let mut spreads = vec![prior::MIXTURE_SPREAD; u.count()];
    for (p, part) in parts.iter().enumerate() {
        spreads[u.factor(p)] = prior::say_spread(part.path);
        for regime in Regime::ALL {
            spreads[u.say(p, regime)] = regime_say(survey, part, regime);
        }
    }
    for (p, size) in &u.bores {
        if let (Some(at), Some(bore)) = (u.bore(*p, *size), size.bore()) {
            spreads[at] = 2.0 * prior::BORE_SPREAD_M / bore.as_m();
        }
    }
    for (l, log) in survey.logs.iter().enumerate() {
        let (_, doubt) = weather_shift(log, latest);
        spreads[u.log(l)] = prior::LOG_SPREAD.hypot(doubt);
        for regime in Regime::ALL {
            spreads[u.log_regime(l, regime)] = log.regime_spread(regime);
        }
    }
    spreads
}

fn regime_say(survey: &Survey<'_>, part: &Part, regime: Regime) -> f64 {
    let says: Vec<f64> = survey
        .cells
        .iter()
        .enumerate()
        .filter(|(_, c)| c.regime == regime)
        .map(|(i, _)| part.elasticity(i).abs())
        .collect();
    let mean = says.iter().sum::<f64>() / says.len().max(1) as f64;
    if mean > prior::LITTLE_SAY {
        prior::regime_say(regime).min(0.6 * mean + prior::NO_SAY)
    } else {
        prior::NO_SAY
    }
}

/// Doubt about a log in which something differs that lambda advice does not handle: screws and their circuit.
fn unmodelled(now: &Carburetor, then: &Carburetor, regime: Regime) -> f64 {
    let screws =
        (1..=now.idle.screws).any(|n| now.size(PartPath::IdleScrew(n)) != then.size(PartPath::IdleScrew(n)));
    match regime {
        Regime::Idle if screws => 0.2f64.powi(2),
        Regime::OffIdle if screws => 0.05f64.powi(2),
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;

    #[test]
    fn a_part_is_turned_back_when_a_change_goes_against_the_one_before() {
        let past = |sizes: &[f64]| Past::of(sizes.iter().map(|d| PartSize::Bore(Length::from_inches(*d))));
        assert_eq!(past(&[0.060, 0.060]), Past::default());
        let onward = past(&[0.060, 0.062, 0.062, 0.063]);
        assert!(onward.last > 0.0 && !onward.turned);
        let back = past(&[0.060, 0.062, 0.061, 0.061]);
        assert!(back.last < 0.0 && back.turned);
    }
}
