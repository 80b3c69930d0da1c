//! Pictures as plain data; [`super::svg`] and [`super::chart_text`] draw them.

/// An axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What it counts, with its unit.
    pub label: String,
    /// Least value shown.
    pub low: f64,
    /// Greatest value shown.
    pub high: f64,
}

/// How a series is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Open circles: as it was.
    Open,
    /// Filled circles in the accent: as it is.
    Filled,
    /// A line through the points, with the spread about it when the points have one.
    Curve,
    /// A line through the points that carries its own name: by this sign in characters, in the accent for what is new.
    Line {
        /// In characters.
        sign: char,
        /// What is new, or would be.
        new: bool,
    },
}

/// A point, with an interval about it when there is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Across.
    pub x: f64,
    /// Up.
    pub y: f64,
    /// Lower and upper end of an interval.
    pub interval: Option<(f64, f64)>,
    /// Enough stands behind it to rest something on.
    pub sure: bool,
}

/// Points that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What they are.
    pub name: String,
    /// How they are drawn.
    pub mark: Mark,
    /// The points.
    pub points: Vec<Point>,
}

/// A band to be in, behind everything.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Of what.
    pub label: String,
    /// From and to, across.
    pub x: (f64, f64),
    /// From and to, up.
    pub y: (f64, f64),
}

/// A picture over two axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// A short name, unique in the document.
    pub id: String,
    /// What is shown.
    pub title: String,
    /// What is to be seen in it, in words: for those who cannot see it, and those who can.
    pub says: String,
    /// Across.
    pub x: Axis,
    /// Up.
    pub y: Axis,
    /// Bands behind.
    pub bands: Vec<Band>,
    /// Series, drawn in order.
    pub series: Vec<Series>,
    /// Upright lines with a word: "stands here".
    pub lines: Vec<(f64, String)>,
}

/// One row of a before-and-after picture.
#[derive(Debug, Clone, PartialEq)]
pub struct PairRow {
    /// What.
    pub label: String,
    /// Before.
    pub before: f64,
    /// Expected, with the ends of its interval, when something is.
    pub expected: Option<(f64, f64, f64)>,
    /// Measured after, when it was.
    pub after: Option<f64>,
    /// The band to be in, when there is one.
    pub band: Option<(f64, f64)>,
}

/// Before, expected and measured, a row for each.
#[derive(Debug, Clone, PartialEq)]
pub struct Pairs {
    /// A short name, unique in the document.
    pub id: String,
    /// What is shown.
    pub title: String,
    /// What is to be seen in it.
    pub says: String,
    /// What the first mark of a row is: "before", or "now" where nothing has been done yet.
    pub was: &'static str,
    /// Across.
    pub x: Axis,
    /// The rows.
    pub rows: Vec<PairRow>,
}

/// A picture of either kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Picture {
    /// Over two axes.
    Chart(Chart),
    /// Before and after.
    Pairs(Pairs),
}

impl Picture {
    /// What is shown, and what is to be seen in it.
    pub fn words(&self) -> (&str, &str) {
        match self {
            Picture::Chart(c) => (&c.title, &c.says),
            Picture::Pairs(p) => (&p.title, &p.says),
        }
    }
}

impl Axis {
    /// An axis that holds all of `values` with a little room, and at least `least` from end to end; `None` without a
    /// finite value.
    pub fn around(
        label: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
        least: f64,
    ) -> Option<Axis> {
        let finite = values.into_iter().filter(|v| v.is_finite());
        let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        if low > high {
            return None;
        }
        let span = ((high - low) * 1.08).max(least);
        let middle = f64::midpoint(low, high);
        Some(Axis { label: label.into(), low: middle - span / 2.0, high: middle + span / 2.0 })
    }

    /// The values to mark, about `wanted` of them, in steps of 1, 2 or 5, and the decimals they need.
    pub fn ticks(&self, wanted: usize) -> (Vec<f64>, usize) {
        let span = self.high - self.low;
        if !(span.is_finite() && span > 0.0) {
            return (Vec::new(), 0);
        }
        let rough = span / wanted.max(1) as f64;
        let power = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|m| m * power)
            .into_iter()
            .find(|s| *s >= rough * 0.999)
            .unwrap_or(power * 10.0);
        let decimals = (-(step * 1.0001).log10().floor()).max(0.0) as usize;
        let first = (self.low / step - 1e-9).ceil();
        let count = ((self.high / step + 1e-9).floor() - first).clamp(-1.0, 100.0) as i64 + 1;
        ((0..count).map(|i| (first + i as f64) * step).collect(), decimals)
    }

    /// Where a value lies between the ends, 0 to 1; values beyond them lie at the end.
    pub fn share(&self, value: f64) -> Option<f64> {
        let share = (value - self.low) / (self.high - self.low);
        share.is_finite().then(|| share.clamp(0.0, 1.0))
    }

    /// A value lies on it.
    pub fn holds(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let axis = |low, high| Axis { label: String::new(), low, high };
        assert_eq!(axis(0.0, 1.0).ticks(5), (vec![0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0], 1));
        let (ticks, decimals) = axis(0.743, 1.061).ticks(6);
        assert_eq!((ticks.len(), decimals), (3, 1));
        assert_eq!(axis(12.0, 18.0).ticks(6).0, [12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0]);
        assert!(axis(1.0, 1.0).ticks(5).0.is_empty() && axis(f64::NAN, 1.0).ticks(5).0.is_empty());
    }

    #[test]
    fn an_axis_leaves_out_what_is_not_a_number() {
        assert_eq!(Axis::around("x", [f64::NAN, f64::INFINITY], 1.0), None);
        let a = Axis::around("x", [f64::NAN, 2.0, 4.0], 1.0).unwrap();
        assert!(a.low < 2.0 && a.high > 4.0 && a.holds(3.0) && !a.holds(9.0));
        assert_eq!(a.share(1e308), Some(1.0));
        assert_eq!(a.share(f64::NAN), None);
    }
}
