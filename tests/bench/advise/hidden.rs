//! A carburetor whose laws only this file knows: other discharge exponents, mislabelled bores, other shares between
//! the circuits, an enrichment that opens early and slowly.

use crate::job::{self, Made};
use leanbest::numeric::rng::Chance;
use leanbest::setup::{Carburetor, PartPath, PartSize, Regime, SetName, Setup};
use leanbest::trace::TraceSummary;
use leanbest::units::Length;

pub const JET: PartPath = PartPath::MainJet(SetName::Primary);
pub const CHANNEL: PartPath = PartPath::ChannelRestriction;
pub const FEED: PartPath = PartPath::IdleFeed;

/// Places that are logged: regime, share of the rated air flow, vacuum in inHg.
const PLACES: [(Regime, f64, f64); 10] = [
    (Regime::OffIdle, 0.08, 16.5),
    (Regime::OffIdle, 0.12, 15.5),
    (Regime::Cruise, 0.18, 14.0),
    (Regime::Cruise, 0.24, 12.5),
    (Regime::Cruise, 0.30, 11.5),
    (Regime::HeavyCruise, 0.38, 9.2),
    (Regime::HeavyCruise, 0.46, 8.4),
    (Regime::FullThrottle, 0.70, 2.0),
    (Regime::FullThrottle, 0.82, 1.6),
    (Regime::FullThrottle, 0.92, 1.2),
];

/// What is drawn for the noise of a log.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    /// Of one visit, shared by a regime.
    pub visit: f64,
    /// Of one visit to a station, beside that.
    pub station: f64,
    /// Of a whole log.
    pub log: f64,
    /// Visits in a log.
    pub visits: u64,
}

/// The hidden truth of one engine.
pub struct Hidden {
    seed: u64,
    mains_exponent: f64,
    channel_exponent: f64,
    feed_exponent: f64,
    idle_reach: f64,
    idle_at_rest: f64,
    channel_share: f64,
    opens_inhg: f64,
    width_inhg: f64,
    /// Right lambda of each place.
    right: Vec<f64>,
    /// Bores that make it so.
    right_jet: f64,
    right_channel: f64,
    right_feed: f64,
    noise: Noise,
    chance: Chance,
    label_spread: f64,
}

fn hash(seed: u64, what: u64) -> u64 {
    let mut x = seed ^ what.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x ^ (x >> 31)
}

/// Which circuits are wrong, and by how many steps; the parts fitted in the setup are off by these.
pub struct Faults {
    pub jet: f64,
    pub channel: f64,
    pub feed: f64,
}

impl Hidden {
    /// An engine that is right, regime by regime, at `aim`, when its faults are undone.
    pub fn draw(
        seed: u64,
        setup: &Setup,
        faults: &Faults,
        aim: impl Fn(Regime) -> f64,
        noise: Noise,
    ) -> Hidden {
        let mut chance = Chance::with_seed(hash(seed, 1));
        let fitted = |p| inches(&setup.carburetor, p);
        // What would be right lies anywhere between two parts in stock.
        let jet_between = chance.between(-0.5, 0.5);
        let right_jet = fitted(JET) + 0.001 * (jet_between - faults.jet);
        let right_channel = fitted(CHANNEL) + 0.002 * (chance.between(-0.5, 0.5) - faults.channel);
        let right_feed = fitted(FEED) + 0.001 * (chance.between(-0.5, 0.5) - faults.feed);
        let right = PLACES.iter().map(|(r, _, _)| aim(*r) * (1.0 + 0.008 * chance.normal())).collect();
        Hidden {
            seed,
            mains_exponent: chance.between(0.82, 1.10),
            channel_exponent: chance.between(0.75, 1.10),
            feed_exponent: chance.between(0.75, 1.10),
            idle_reach: chance.between(0.30, 0.50),
            idle_at_rest: chance.between(0.75, 1.0),
            channel_share: chance.between(0.08, 0.20),
            opens_inhg: 6.5 + chance.between(0.0, 1.2),
            width_inhg: chance.between(0.4, 2.0),
            right,
            right_jet,
            right_channel,
            right_feed,
            noise,
            chance,
            label_spread: 0.4,
        }
    }

    /// The bore behind a stamp, in inches: the same part is always off by the same.
    fn really(&self, path: PartPath, stamp: f64) -> f64 {
        let key = hash(self.seed, (stamp * 1e4).round() as u64 * 31 + path.to_string().len() as u64);
        let mut own = Chance::with_seed(key);
        stamp + 0.001 * self.label_spread * own.normal()
    }

    fn open(&self, inhg: f64) -> f64 {
        (0.5 + (self.opens_inhg - inhg) / self.width_inhg).clamp(0.0, 1.0)
    }

    /// True lambda at every place with some parts; `labels` off reckons with the stamps, as one who knew the
    /// engine's own curve but not its parts would.
    pub fn lambdas(&self, c: &Carburetor, labels: bool) -> Vec<f64> {
        let bore = |p| if labels { self.really(p, inches(c, p)) } else { inches(c, p) };
        let jet = (bore(JET) / self.right_jet).powf(2.0 * self.mains_exponent);
        let channel = (bore(CHANNEL) / self.right_channel).powf(2.0 * self.channel_exponent);
        let feed = (bore(FEED) / self.right_feed).powf(2.0 * self.feed_exponent);
        let stamped = match c.size(PartPath::EnrichmentOpening) {
            Some(PartSize::Opening(v)) => v.as_inhg(),
            _ => 6.5,
        };
        PLACES
            .iter()
            .zip(&self.right)
            .map(|((_, share, inhg), right)| {
                let idle = self.idle_at_rest * (1.0 - share / self.idle_reach).max(0.0).powf(1.5);
                let was = self.channel_share * self.open(*inhg);
                let is = self.channel_share * self.open(*inhg + 6.5 - stamped);
                let main = (1.0 - idle).max(0.0);
                // Shares of the fuel when everything is right; enrichment comes on top.
                let before = main + idle + was;
                let after = main * jet + idle * feed + is * channel;
                right * before / after
            })
            .collect()
    }

    /// Mean of ln(lambda) of a regime.
    pub fn regime(&self, c: &Carburetor, regime: Regime) -> f64 {
        let all = self.lambdas(c, true);
        let of: Vec<f64> =
            PLACES.iter().zip(all).filter(|((r, _, _), _)| *r == regime).map(|(_, l)| l.ln()).collect();
        (of.iter().sum::<f64>() / of.len().max(1) as f64).exp()
    }

    /// Leanest true lambda at full throttle.
    pub fn leanest_full(&self, c: &Carburetor) -> f64 {
        let all = self.lambdas(c, true);
        PLACES
            .iter()
            .zip(all)
            .filter(|((r, _, _), _)| *r == Regime::FullThrottle)
            .map(|(_, l)| l)
            .fold(0.0, f64::max)
    }

    /// A log of the engine with some parts.
    pub fn log(&mut self, setup: &Setup, c: &Carburetor) -> TraceSummary {
        let truth = self.lambdas(c, true);
        let root = (self.noise.visits as f64).sqrt();
        let whole = self.noise.log * self.chance.normal();
        let mut made = Vec::new();
        for regime in Regime::ALL {
            let shared = self.noise.visit / root * self.chance.normal();
            for ((r, share, inhg), lambda) in PLACES.iter().zip(&truth) {
                if *r == regime {
                    let own = self.noise.station / root * self.chance.normal();
                    made.push(Made {
                        regime,
                        share: *share,
                        inhg: *inhg,
                        lambda: lambda * (1.0 + whole + shared + own),
                        spread: 0.027,
                        seconds: 3.0 * self.noise.visits as f64,
                        visits: self.noise.visits,
                    });
                }
            }
        }
        job::log_of(setup, &made)
    }
}

/// The bore of a part, in inches.
pub fn inches(c: &Carburetor, path: PartPath) -> f64 {
    c.size(path).and_then(PartSize::bore).map_or(f64::NAN, Length::as_inches)
}
