//! Counts in bins of fixed width: exact to add, in any order.

#![expect(clippy::cast_possible_wrap, reason = "no grid has more bins than an i32 counts")]

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

/// Counts of values in bins of equal width, numbered from any start. Two of the same grid add up bin by bin, so
/// that a sum is the same whichever way a log was cut. Bin `n` of width `w` holds the values nearest to `n * w`.
///
/// In files it is one string, `"850+3,4,,12"`: the number of the first bin, then the counts, a zero left out.
#[derive(Debug, Clone, PartialEq, Eq, Default, PartialOrd, Ord)]
pub struct Histogram {
    first: i32,
    counts: Vec<u64>,
}

impl Histogram {
    /// From counts of bins `first`, `first + 1`, and so on.
    pub fn new(first: i32, counts: &[u32]) -> Self {
        let mut all = Self { first, counts: counts.iter().map(|c| u64::from(*c)).collect() };
        all.trim();
        all
    }

    /// How many values are in it.
    pub fn count(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// Whether it holds nothing.
    pub fn is_empty(&self) -> bool {
        self.counts.is_empty()
    }

    /// Bins and counts, lowest first.
    pub fn bins(&self) -> impl Iterator<Item = (i32, u64)> + '_ {
        self.counts.iter().enumerate().map(|(i, c)| (self.first + i as i32, *c)).filter(|(_, c)| *c > 0)
    }

    /// Adds the counts of another.
    pub fn add(&mut self, other: &Self) {
        if other.counts.is_empty() {
            return;
        }
        if self.counts.is_empty() {
            *self = other.clone();
            return;
        }
        let first = self.first.min(other.first);
        let end = (self.first + self.counts.len() as i32).max(other.first + other.counts.len() as i32);
        let mut counts = vec![0; (end - first) as usize];
        for one in [&*self, other] {
            let shift = (one.first - first) as usize;
            for (into, count) in counts[shift..].iter_mut().zip(&one.counts) {
                *into += count;
            }
        }
        *self = Self { first, counts };
        self.trim();
    }

    /// The `q` quantile (0 to 1) in bins, interpolated between order statistics as over the sorted values
    /// themselves: exact to the width of a bin.
    pub fn quantile(&self, q: f64) -> Option<f64> {
        let last = self.count().checked_sub(1)?;
        let at = q.clamp(0.0, 1.0) * last as f64;
        let (low, part) = (at.floor() as u64, at.fract());
        let below = self.nth(low)?;
        let above = if part > 0.0 { self.nth(low + 1)? } else { below };
        Some(f64::from(below) + part * f64::from(above - below))
    }

    /// The bin of the `n`th value, counted from zero.
    fn nth(&self, n: u64) -> Option<i32> {
        let mut seen = 0;
        self.bins().find_map(|(bin, count)| {
            seen += count;
            (seen > n).then_some(bin)
        })
    }

    fn trim(&mut self) {
        let Some(low) = self.counts.iter().position(|c| *c > 0) else {
            *self = Self::default();
            return;
        };
        let high = self.counts.iter().rposition(|c| *c > 0).unwrap_or(low);
        self.counts.truncate(high + 1);
        self.counts.drain(..low);
        self.first += low as i32;
    }
}

impl Serialize for Histogram {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if self.counts.is_empty() {
            return s.serialize_str("");
        }
        let cells: Vec<String> =
            self.counts.iter().map(|c| if *c == 0 { String::new() } else { c.to_string() }).collect();
        s.serialize_str(&format!("{}+{}", self.first, cells.join(",")))
    }
}

/// No grid of the program reaches further than this from zero.
const FURTHEST_BIN: i32 = 1 << 20;
/// Nor has more bins than this.
const MOST_BINS: usize = 1 << 16;

impl<'de> Deserialize<'de> for Histogram {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str> as Deserialize<'de>>::deserialize(d)?;
        if text.is_empty() {
            return Ok(Self::default());
        }
        let wrong = || D::Error::custom("expected counts such as \"850+3,4,,12\"");
        let (first, cells) = text.split_once('+').ok_or_else(wrong)?;
        let first: i32 = first.parse().map_err(|_| wrong())?;
        let read = |c: &str| if c.is_empty() { Some(0) } else { c.parse::<u32>().ok().map(u64::from) };
        let counts = cells.split(',').map(read).collect::<Option<Vec<u64>>>().ok_or_else(wrong)?;
        if first.abs() > FURTHEST_BIN || counts.len() > MOST_BINS {
            return Err(wrong());
        }
        let mut all = Self { first, counts };
        all.trim();
        Ok(all)
    }
}

/// A histogram being filled: a fixed range of bins in plain counters.
#[derive(Debug, Clone)]
pub(super) struct Filling {
    first: i32,
    per_unit: f64,
    /// Lower edge of the first bin, in bins.
    start: f64,
    counts: Box<[u32]>,
}

impl Filling {
    /// Bins from `low` to `high` (both in the value's unit), `per_unit` bins to one unit. Values beyond go into
    /// the end bins.
    pub(super) fn over(low: f64, high: f64, per_unit: f64) -> Self {
        let first = (low * per_unit).round() as i32;
        let last = (high * per_unit).round() as i32;
        Self {
            first,
            per_unit,
            start: f64::from(first) - 0.5,
            counts: vec![0; (last - first + 1) as usize].into_boxed_slice(),
        }
    }

    /// Counts one value.
    #[inline]
    pub(super) fn push(&mut self, value: f64) {
        // Half up. Counted from the first bin, so that cutting off the fraction is rounding down.
        let bin = (value * self.per_unit - self.start) as i64;
        let bin = bin.clamp(0, self.counts.len() as i64 - 1) as usize;
        self.counts[bin] = self.counts[bin].saturating_add(1);
    }

    /// What has been counted.
    pub(super) fn counted(&self) -> Histogram {
        Histogram::new(self.first, &self.counts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::robust;
    use proptest::prelude::*;

    fn filled(values: &[f64]) -> Histogram {
        let mut filling = Filling::over(0.3, 3.0, 1000.0);
        for v in values {
            filling.push(*v);
        }
        filling.counted()
    }

    #[test]
    fn written_and_read_back() {
        let h = filled(&[0.850, 0.850, 0.853]);
        let text = serde_json::to_string(&h).unwrap();
        assert_eq!(text, "\"850+2,,,1\"");
        assert_eq!(serde_json::from_str::<Histogram>(&text).unwrap(), h);
        assert!(serde_json::from_str::<Histogram>("\"850\"").is_err());
        assert!(serde_json::from_str::<Histogram>("\"2000000000+1\"").is_err());
        assert_eq!(serde_json::from_str::<Histogram>("\"\"").unwrap(), Histogram::default());
    }

    #[test]
    fn beyond_the_range_goes_to_the_end_bins() {
        let h = filled(&[0.0, 99.0]);
        assert_eq!(h.bins().collect::<Vec<_>>(), vec![(300, 1), (3000, 1)]);
        assert!(!h.is_empty() && Histogram::default().is_empty());
    }

    #[test]
    fn grids_that_begin_on_both_sides_of_zero_add_up() {
        let mut sum = Histogram::new(-5, &[1]);
        sum.add(&Histogram::new(0, &[1, 2, 3]));
        assert_eq!(sum.bins().collect::<Vec<_>>(), [(-5, 1), (0, 1), (1, 2), (2, 3)]);
        let read = |text: String| serde_json::from_str::<Histogram>(&format!("\"{text}\"")).is_ok();
        assert!(read("1048576+1".to_owned()) && !read("1048577+1".to_owned()));
        assert!(
            read(format!("0+1{}", ",1".repeat(MOST_BINS - 1)))
                && !read(format!("0+1{}", ",1".repeat(MOST_BINS)))
        );
    }

    proptest! {
        #[test]
        fn quantiles_are_those_of_the_sorted_values(
            milli in proptest::collection::vec(500u32..1600, 1..400), q in 0.0..=1.0f64,
        ) {
            let mut values: Vec<f64> = milli.iter().map(|m| f64::from(*m) / 1000.0).collect();
            let h = filled(&values);
            let sorted = robust::quantile(&mut values, q).unwrap();
            prop_assert!((h.quantile(q).unwrap() / 1000.0 - sorted).abs() < 1e-9);
        }

        #[test]
        fn adding_is_the_same_in_any_order(
            a in proptest::collection::vec(0.4..2.0f64, 0..50),
            b in proptest::collection::vec(0.4..2.0f64, 0..50),
            c in proptest::collection::vec(0.4..2.0f64, 0..50),
        ) {
            let (ha, hb, hc) = (filled(&a), filled(&b), filled(&c));
            let mut left = ha.clone();
            left.add(&hb);
            left.add(&hc);
            let mut right = hc.clone();
            right.add(&hb);
            let mut other = ha.clone();
            other.add(&right);
            prop_assert_eq!(&left, &other);
            let all: Vec<f64> = a.iter().chain(&b).chain(&c).copied().collect();
            prop_assert_eq!(left, filled(&all));
        }
    }
}
