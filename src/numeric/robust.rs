//! Statistics that one wild reading cannot spoil.

/// The median of a slice, which it sorts; `None` when it is empty. NaN sorts last.
pub fn median(values: &mut [f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// The `q` quantile (0 to 1) with linear interpolation between order statistics; sorts the slice.
pub fn quantile(values: &mut [f64], q: f64) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    let at = q.clamp(0.0, 1.0) * last as f64;
    let (low, part) = (at.floor() as usize, at.fract());
    let high = (low + 1).min(last);
    Some(values[low] + part * (values[high] - values[low]))
}

/// Median absolute deviation about the median, scaled by 1.4826 so that it estimates the standard deviation of
/// normal noise.
pub fn spread(values: &mut [f64]) -> Option<f64> {
    let centre = median(values)?;
    let mut off: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    median(&mut off).map(|m| 1.4826 * m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn middle_of_odd_and_even() {
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&mut []), None);
    }

    #[test]
    fn one_wild_reading_changes_nothing_much() {
        assert_eq!(median(&mut [1.0, 1.1, 0.9, 1.0, 900.0]), Some(1.0));
    }

    #[test]
    fn no_spread_is_zero_not_nothing() {
        assert_eq!(spread(&mut [2.0, 2.0, 2.0]), Some(0.0));
    }
}
