//! The band of engine speeds that matters for the use, and means over it.

use super::pull::{Pull, watts};
use crate::setup::Application;
use crate::units::{EngineSpeed, Lambda, Power, Torque};

/// A band of engine speeds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Lower end.
    pub low: EngineSpeed,
    /// Upper end.
    pub high: EngineSpeed,
    /// Why this one.
    pub why: &'static str,
}

/// Means of one pull over a band; power and torque corrected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Means {
    /// Mean torque.
    pub torque: Torque,
    /// Mean power.
    pub power: Power,
    /// Mean lambda, when logged.
    pub lambda: Option<Lambda>,
    /// Fuel over work as read, g/kWh, when fuel flow is logged.
    pub bsfc_g_per_kwh: Option<f64>,
}

/// Grid speeds that every pull has: first and last number. `None` when they do not overlap.
pub fn common_range(pulls: &[&Pull]) -> Option<(i64, i64)> {
    let low = pulls.iter().map(|p| p.torque.range().0).max()?;
    let high = pulls.iter().map(|p| p.torque.range().1).min()?;
    (low < high).then_some((low, high))
}

impl Band {
    /// Everything from one speed to another.
    pub fn whole(low: EngineSpeed, high: EngineSpeed) -> Band {
        Band { low, high, why: "all speeds the pulls have in common" }
    }

    /// The band that matters for a use, as shares of the top speed: where such an engine spends its full-throttle
    /// time (common practice; give a band of your own where you know better).
    pub fn for_use(application: Application, top: EngineSpeed) -> Band {
        let (low, high, why) = match application {
            Application::Street => (0.40, 0.80, "street: 40 to 80 % of top speed"),
            Application::Race => (0.75, 1.00, "racing: the top quarter"),
            Application::Marine => (0.65, 1.00, "boat: the propeller loads the upper third"),
            Application::Tow => (0.35, 0.70, "towing: 35 to 70 % of top speed"),
            Application::Farm => (0.55, 0.95, "farm: below governed speed"),
        };
        Band { low: top * low, high: top * high, why }
    }

    /// The grid numbers inside it, within what the pulls have in common; `None` when fewer than two are.
    pub fn within(&self, step: EngineSpeed, common: (i64, i64)) -> Option<(i64, i64)> {
        let step = step.as_rpm();
        let from = ((self.low.as_rpm() / step - 1e-9).ceil() as i64).max(common.0);
        let to = ((self.high.as_rpm() / step + 1e-9).floor() as i64).min(common.1);
        (from < to).then_some((from, to))
    }
}

/// A pull has enough of a stretch of grid numbers, ends included: less than a tenth of it is missing.
pub fn has(pull: &Pull, from: i64, to: i64) -> bool {
    pull.torque.mean(from, to).is_some()
}

/// The grid numbers of a stretch, ends included, at which every pull has a figure. Means of several pulls are over these
/// alone: a hole in one would else compare it over other speeds than the others.
pub fn shared(pulls: &[&Pull], from: i64, to: i64) -> Vec<i64> {
    (from..=to).filter(|k| pulls.iter().all(|p| p.torque.at(*k).is_some())).collect()
}

/// Means of a pull over grid numbers; `None` when there are none, or it lacks one of them.
pub fn means(pull: &Pull, speeds: &[i64]) -> Option<Means> {
    let torques: Vec<f64> = speeds.iter().map(|k| pull.torque.at(*k)).collect::<Option<_>>()?;
    let powers: Vec<f64> = speeds.iter().map(|k| pull.power_at(*k)).collect::<Option<_>>()?;
    let mean =
        |values: &[f64]| (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
    // What is logged beside the torque may have holes of its own, a tenth at most.
    let enough = |found: usize| found * 10 >= powers.len() * 9;
    let fuel: Vec<(f64, f64)> = speeds
        .iter()
        .filter_map(|k| {
            let raw = watts(pull.torque.at(*k)?, pull.torque.speed(*k).as_rpm());
            Some((pull.fuel_flow.as_ref()?.at(*k)?, raw))
        })
        .collect();
    let (grams, work) = fuel.iter().fold((0.0, 0.0), |s, f| (s.0 + f.0, s.1 + f.1));
    let lambda: Vec<f64> = speeds.iter().filter_map(|k| pull.lambda.as_ref()?.at(*k)).collect();
    Some(Means {
        torque: Torque::from_n_m(mean(&torques)? * pull.factor()),
        power: Power::from_w(mean(&powers)?),
        lambda: mean(&lambda).filter(|_| enough(lambda.len())).map(Lambda::from_ratio),
        bsfc_g_per_kwh: (enough(fuel.len()) && work > 0.0).then(|| grams * 3600.0 / (work / 1e3)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hole_in_one_pull_is_left_out_of_all() {
        let whole = crate::analysis::pulls::specimen::kept_example();
        let (from, to) = whole.torque.range();
        let middle = i64::midpoint(from, to);
        let values = (from..=to).map(|k| whole.torque.at(k).filter(|_| (k - middle).abs() > 1)).collect();
        let step = whole.torque.step();
        let holed =
            Pull { torque: crate::analysis::pulls::Curve::on_grid(step, from, values), ..whole.clone() };
        let speeds = shared(&[&whole, &holed], from, to);
        assert_eq!(i64::try_from(speeds.len()).unwrap(), to - from + 1 - 3);
        let power = |p: &Pull| means(p, &speeds).unwrap().power.as_w();
        assert!((power(&whole) - power(&holed)).abs() < 1e-9, "alike but for the hole");
        let all = shared(&[&whole], from, to);
        assert!((power(&whole) - means(&whole, &all).unwrap().power.as_w()).abs() > 1.0, "the hole matters");
        assert!(means(&holed, &all).is_none() && means(&whole, &[]).is_none());
        assert!(has(&whole, from, to) && !has(&holed, middle - 5, middle + 5));
    }

    #[test]
    fn a_band_takes_the_grid_speeds_inside_it_ends_included() {
        let step = EngineSpeed::from_rpm(50.0);
        let band = Band { low: EngineSpeed::from_rpm(2500.0), high: EngineSpeed::from_rpm(4100.0), why: "" };
        assert_eq!(band.within(step, (40, 90)), Some((50, 82)));
        assert_eq!(band.within(step, (55, 70)), Some((55, 70)));
        assert_eq!(band.within(step, (82, 90)), None);
    }
}
