//! What the advisor is held against: the field rule, the plain square law, and one who knows the engine's own curve
//! (but not what its parts really are).

use crate::hidden::{CHANNEL, FEED, Hidden, JET, inches};
use crate::play::{Adviser, Next, median};
use leanbest::analysis::advise::{Advice, Trial};
use leanbest::rules::{RuleBook, targets};
use leanbest::setup::{Carburetor, PartPath, PartSize, Regime, Setup};
use leanbest::trace::TraceSummary;
use leanbest::units::Length;

const JUDGED: [Regime; 4] = [Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];

/// Rich edge, middle and lean edge of a regime.
pub fn band(setup: &Setup, rules: &RuleBook, regime: Regime) -> (f64, f64, f64) {
    let b = targets::band(regime, setup.application, setup.engine.cooling, setup.fuel.family, None, rules)
        .expect("judged regimes have bands");
    (b.low.as_ratio(), b.middle().as_ratio(), b.high.as_ratio())
}

/// Lambda over target of the regime furthest outside its band, and the part the trade's table names for it.
fn worst(setup: &Setup, rules: &RuleBook, log: &TraceSummary) -> Option<(f64, PartPath, Regime)> {
    let off = |r: &Regime| {
        let (low, middle, high) = band(setup, rules, *r);
        let read = median(log, *r)?;
        (read < low || read > high).then_some((read / middle, *r))
    };
    let all: Vec<(f64, Regime)> = JUDGED.iter().filter_map(off).collect();
    let (ratio, regime) = all.iter().copied().max_by(|a, b| a.0.ln().abs().total_cmp(&b.0.ln().abs()))?;
    let main_off = all.iter().any(|(_, r)| matches!(r, Regime::Cruise | Regime::HeavyCruise));
    let part = match regime {
        Regime::OffIdle if !main_off => FEED,
        Regime::FullThrottle if !main_off => CHANNEL,
        _ => JET,
    };
    Some((ratio, part, regime))
}

fn nearest(stock: &[Length], want: f64) -> Option<Length> {
    stock.iter().copied().min_by(|a, b| (a.as_inches() - want).abs().total_cmp(&(b.as_inches() - want).abs()))
}

fn stock(c: &Carburetor, part: PartPath) -> &[Length] {
    match part {
        PartPath::IdleFeed => &c.stock.idle_feeds,
        PartPath::ChannelRestriction => &c.stock.channel_restrictions,
        _ => &c.stock.main_jets,
    }
}

fn fit(c: &Carburetor, part: PartPath, want: f64) -> Next {
    match nearest(stock(c, part), want) {
        Some(d) if (d.as_inches() - inches(c, part)).abs() > 1e-6 => Next::Change(part, PartSize::Bore(d)),
        _ => Next::Stop,
    }
}

/// Two steps for half a ratio: the trade's rule of thumb (one step moves 0.2 to 0.4).
pub struct FieldRule;

impl Adviser for FieldRule {
    fn next(
        &mut self,
        setup: &Setup,
        rules: &RuleBook,
        log: &TraceSummary,
        _: &[Trial],
    ) -> (Next, Option<Advice>) {
        let Some((ratio, part, regime)) = worst(setup, rules, log) else { return (Next::Stop, None) };
        let (_, middle, _) = band(setup, rules, regime);
        let off = 14.7 * middle * (ratio - 1.0);
        let step = if part == CHANNEL { 0.002 } else { 0.001 };
        let steps = (off / 0.5 * 2.0).round();
        let steps = if steps == 0.0 { off.signum() } else { steps };
        (fit(&setup.carburetor, part, inches(&setup.carburetor, part) + step * steps), None)
    }
}

/// All the fuel of a regime through its part, in the square of the bore; the channel beside the jet.
pub struct SquareLaw;

impl Adviser for SquareLaw {
    fn next(
        &mut self,
        setup: &Setup,
        rules: &RuleBook,
        log: &TraceSummary,
        _: &[Trial],
    ) -> (Next, Option<Advice>) {
        let Some((ratio, part, _)) = worst(setup, rules, log) else { return (Next::Stop, None) };
        let c = &setup.carburetor;
        let d = inches(c, part);
        let want = if part == CHANNEL {
            let jet = inches(c, JET);
            ((jet * jet + d * d) * ratio - jet * jet).max(0.0).sqrt()
        } else {
            d * ratio.sqrt()
        };
        (fit(c, part, want), None)
    }
}

/// Knows the engine's curve at cruise, sees only the log; averages what it has read of one state.
pub struct KnowsTheCurve<'a> {
    pub truth: &'a Hidden,
}

impl Adviser for KnowsTheCurve<'_> {
    fn next(
        &mut self,
        setup: &Setup,
        rules: &RuleBook,
        log: &TraceSummary,
        _: &[Trial],
    ) -> (Next, Option<Advice>) {
        let (_, middle, _) = band(setup, rules, Regime::Cruise);
        let Some(read) = median(log, Regime::Cruise) else { return (Next::Stop, None) };
        let c = &setup.carburetor;
        let model =
            |c: &Carburetor| self.truth.lambdas(c, false)[2..5].iter().map(|l| l.ln()).sum::<f64>() / 3.0;
        let here = model(c);
        let miss = |d: &Length| {
            let c = c.with(JET, PartSize::Bore(*d)).expect("it has a jet");
            (read.ln() + model(&c) - here - middle.ln()).abs()
        };
        let best = stock(c, JET).iter().copied().min_by(|a, b| miss(a).total_cmp(&miss(b)));
        match best {
            Some(d) if (d.as_inches() - inches(c, JET)).abs() > 1e-6 => {
                (Next::Change(JET, PartSize::Bore(d)), None)
            }
            _ => (Next::Stop, None),
        }
    }
}
