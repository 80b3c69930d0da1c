//! How many more pulls would settle it.

use super::effect::{CONFIDENCE, Judged, Observation, student};
use super::fit::fit;
use super::noise::{ENOUGH_FREEDOM, FLOOR_FREEDOM};

/// Beyond this many further pulls a difference is not worth chasing.
pub const FURTHER_LIMIT: usize = 24;

/// The least number of further pulls, run alternately (`label`, baseline, `label`, ...), after which the 90 %
/// interval would be clear of zero if the effect is really what it looks like and the noise stays what it is.
/// Zero when it is clear already; `None` beyond [`FURTHER_LIMIT`].
pub fn further_pulls(series: &[Observation], judged: &Judged, label: &str) -> Option<usize> {
    let effect = judged.effects.iter().find(|e| e.label == label)?;
    if effect.low > 0.0 || effect.high < 0.0 {
        return Some(0);
    }
    let step = typical_step(series);
    let mut labels: Vec<(&str, f64)> = series.iter().map(|o| (o.label.as_str(), o.at)).collect();
    for more in 1..=FURTHER_LIMIT {
        let (last, at) = labels.last().copied().unwrap_or((label, 0.0));
        labels.push((if last == label { &judged.baseline } else { label }, at + step));
        if let Some(half) = half_width(&labels, judged, label)
            && half <= effect.effect.abs()
        {
            return Some(more);
        }
    }
    None
}

fn typical_step(series: &[Observation]) -> f64 {
    let span = series.last().map_or(0.0, |l| l.at) - series.first().map_or(0.0, |f| f.at);
    if series.len() > 1 && span > 0.0 { span / (series.len() - 1) as f64 } else { 1.0 }
}

/// The half-width a planned series would give, with the noise known so far.
fn half_width(labels: &[(&str, f64)], judged: &Judged, label: &str) -> Option<f64> {
    let mut columns = vec![vec![1.0; labels.len()]];
    let mut at_label = 0;
    for e in &judged.effects {
        columns.push(labels.iter().map(|(l, _)| f64::from(u8::from(*l == e.label))).collect());
        if e.label == label {
            at_label = columns.len() - 1;
        }
    }
    columns.push(labels.iter().map(|(_, at)| *at).collect());
    let design = fit(&columns, &vec![0.0; labels.len()])?;
    if !*design.estimable.get(at_label)? {
        return None;
    }
    let own = design.freedom as f64;
    let freedom = if design.freedom >= ENOUGH_FREEDOM { own } else { own + FLOOR_FREEDOM };
    Some(student(freedom, CONFIDENCE)? * judged.noise.deviation * design.unit_variance[at_label].sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::effect::judge;
    use super::super::noise::Rig;
    use super::*;

    fn aba(b: f64) -> Vec<Observation> {
        [("A", 200.0), ("B", b), ("A", 200.0)]
            .iter()
            .enumerate()
            .map(|(k, (l, v))| Observation { label: (*l).to_owned(), value: *v, at: k as f64 })
            .collect()
    }

    #[test]
    fn the_smaller_the_effect_the_more_pulls() {
        let count = |b: f64| {
            let series = aba(b);
            let judged = judge(&series, Rig::ChassisDyno.floor(), true).unwrap();
            further_pulls(&series, &judged, "B")
        };
        assert_eq!(count(206.0), Some(0));
        let (two, one) = (count(202.0).unwrap(), count(201.0).unwrap());
        assert!(two > 0 && one > two, "{two} {one}");
        assert_eq!(count(200.05), None);
    }
}
