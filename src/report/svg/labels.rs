//! Finds each label of a picture a place where it covers neither another label nor a mark.

/// A rectangle on the picture: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area(pub(super) f64, pub(super) f64, pub(super) f64, pub(super) f64);

impl Area {
    /// What a label of so many letters covers when its middle stands at `x` and its foot at `y`.
    pub(super) fn label(letters: usize, x: f64, y: f64) -> Area {
        let half = 3.2 * letters as f64 + 2.0;
        Area(x - half, y - 10.0, x + half, y + 3.0)
    }

    fn middle(self) -> f64 {
        f64::midpoint(self.0, self.2)
    }

    fn covers(self, other: Area) -> f64 {
        let across = self.2.min(other.2) - self.0.max(other.0);
        let down = self.3.min(other.3) - self.1.max(other.1);
        across.max(0.0) * down.max(0.0)
    }
}

/// Where a label of so many letters stands when it is kept on the page: its middle and its foot.
pub(super) fn within(letters: usize, (x, y): (f64, f64), page: Area) -> (f64, f64) {
    let half = 3.2 * letters as f64 + 2.0;
    let across = x.clamp(page.0 + half, (page.2 - half).max(page.0 + half));
    (across, y.clamp(page.1 + 10.0, (page.3 - 2.0).max(page.1 + 10.0)))
}

/// How much of what is taken a label would cover there.
pub(super) fn covered(letters: usize, (x, y): (f64, f64), taken: &[Area]) -> f64 {
    taken.iter().map(|t| Area::label(letters, x, y).covers(*t)).sum()
}

/// Places a label of `letters` at one of the corners or edges of `of`, inside `page`: the first place that is free, or
/// the one that covers least of what is `taken`. Gives the middle and the foot of the label.
pub(super) fn place(letters: usize, of: Area, page: Area, taken: &mut Vec<Area>) -> (f64, f64) {
    let half = 3.2 * letters as f64 + 2.0;
    let keep = |x: f64| x.clamp(page.0 + half, (page.2 - half).max(page.0 + half));
    let (left, middle, right) = (keep(of.0 + half), keep(of.middle()), keep(of.2 - half));
    let (over, under) = (of.1 - 4.0, of.3 + 11.0);
    let (inside_top, inside_foot) = (of.1 + 11.0, of.3 - 4.0);
    let heights = [over, under, inside_top, inside_foot];
    let candidates = heights.into_iter().flat_map(|y| [middle, left, right].map(|x| (x, y)));
    let within = candidates.filter(|(_, y)| *y - 10.0 >= page.1 && *y + 2.0 <= page.3);
    let cost =
        |&(x, y): &(f64, f64)| -> f64 { taken.iter().map(|t| Area::label(letters, x, y).covers(*t)).sum() };
    let mut best: Option<((f64, f64), f64)> = None;
    for at in within {
        let covered = cost(&at);
        if best.is_none_or(|(_, least)| covered < least - 1e-9) {
            best = Some((at, covered));
        }
    }
    let at = best.map_or((middle, inside_top), |(at, _)| at);
    taken.push(Area::label(letters, at.0, at.1));
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: Area = Area(0.0, 0.0, 300.0, 200.0);

    #[test]
    fn a_free_place_over_the_band_is_taken_first_and_not_twice() {
        let band = Area(50.0, 80.0, 150.0, 120.0);
        let mut taken = Vec::new();
        assert_eq!(place(6, band, PAGE, &mut taken), (100.0, 76.0));
        let second = place(6, band, PAGE, &mut taken);
        assert_ne!(second, (100.0, 76.0));
        assert!(taken[0].covers(taken[1]) < 1e-9);
    }

    #[test]
    fn a_label_stays_on_the_picture() {
        let mut taken = Vec::new();
        let (x, y) = place(20, Area(0.0, 0.0, 10.0, 5.0), PAGE, &mut taken);
        assert!(x >= 60.0 && y >= 10.0, "{x} {y}");
    }
}
