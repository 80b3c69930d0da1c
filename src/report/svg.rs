//! Pictures as SVG.
//!
//! Drawn here and not by a plotting library. The chart of lambda against air flow was drawn by both from the same
//! stations and looked at side by side (plotters 0.3, its SVG form alone: 25 lines, 6.2 kB against 5.4 kB of ours). As
//! a picture on white the library's was as good: clean axes, bands, whiskers. It fell short in what a page needs and
//! a picture does not: its colours are written into every shape, so that the page cannot follow the reader's light or
//! dark, nor a printer's black; it has no title and no description for those who listen instead of look; its
//! numbers came as "0.9" beside "0.85" and "20.0" until each axis was given a format of its own; and the names of
//! the bands would have had to be placed by hand there too, which is most of what is here. All shapes carry classes,
//! and the page (or, for a picture on its own, [`STYLE`]) says what those look like.

mod labels;

use super::chart::{Band, Chart, Mark, PairRow, Pairs, Picture, Point, Series};
use super::sink::{Svg, coordinate as c};
use labels::Area;
use maud::{Markup, PreEscaped, html};

/// What the classes look like; colours are `--ink`, `--quiet`, `--hair`, `--accent`.
pub const STYLE: &str = "svg text{font:11px/1 var(--face);fill:var(--quiet);paint-order:stroke;stroke:var(--paper);stroke-width:2px;stroke-linejoin:round}svg .name{fill:var(--ink)}\
svg .hair{stroke:var(--hair);stroke-width:1;fill:none}svg .band{fill:var(--accent);opacity:var(--wash)}\
svg .open{fill:var(--paper);stroke:var(--ink);stroke-width:1.4}svg .full{fill:var(--accent);stroke:none}\
svg .whisker{stroke:var(--quiet);stroke-width:1;fill:none}svg .whisker.now{stroke:var(--accent)}\
svg .curve{stroke:var(--ink);stroke-width:1.6;fill:none}svg .curve.new{stroke:var(--accent);stroke-width:2}svg .stands.old{fill:var(--ink)}svg .unsure{fill:var(--hair);opacity:.55}\
svg .stand{stroke:var(--accent);stroke-width:1.2;fill:none}svg .stands{fill:var(--accent)}";

/// Colours in the light and in the dark.
pub const COLOURS: &str = ":root{--paper:#fff;--ink:#161616;--quiet:#5b5b5b;--hair:#d9d9d9;--accent:#0b57a4;--wash:.1;\
--face:system-ui,-apple-system,'Segoe UI','Helvetica Neue',Arial,sans-serif;color-scheme:light dark}\
@media(prefers-color-scheme:dark){:root{--paper:#141414;--ink:#ececec;--quiet:#a8a8a8;--hair:#3a3a3a;--accent:#7db7f0;--wash:.2}}\
@media print{:root{--paper:#fff;--ink:#000;--quiet:#444;--hair:#d0d0d0;--accent:#0b57a4;--wash:.1}}";

const WIDTH: f64 = 360.0;
const LEFT: f64 = 42.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 40.0;
/// Height of the line of marks at the top.
const LEGEND: f64 = 18.0;
const BOTTOM: f64 = 34.0;
const TALL: f64 = 204.0;

/// A picture within a page.
pub fn inline(picture: &Picture) -> Markup {
    draw(picture, false)
}

/// Several pictures as one file, one under the other; `None` without any.
pub fn together(pictures: &[Picture]) -> Option<String> {
    let [first, rest @ ..] = pictures else { return None };
    if rest.is_empty() {
        return Some(alone(first));
    }
    let heights: Vec<f64> = pictures.iter().map(|p| height(p) + 22.0).collect();
    let tops = heights.iter().scan(0.0, |sum, h| {
        let top = *sum;
        *sum += h + 12.0;
        Some(top)
    });
    let all: f64 = heights.iter().map(|h| h + 12.0).sum();
    let page = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {} {}", c(WIDTH), c(all))) {
            @for ((picture, top), height) in pictures.iter().zip(tops).zip(&heights) {
                svg x="0" y=(c(top)) width=(c(WIDTH)) height=(c(*height)) { (draw(picture, true)) }
            }
        }
    };
    Some(format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", page.into_string()))
}

fn height(picture: &Picture) -> f64 {
    match picture {
        Picture::Chart(chart) => TALL - spare(chart),
        Picture::Pairs(pairs) => TOP + BOTTOM + ROW * pairs.rows.len() as f64,
    }
}

/// Lines are named where they run: a chart of nothing else has no line of marks at its top, and no room for one.
fn spare(chart: &Chart) -> f64 {
    if chart.bands.is_empty() && marked(&chart.series).next().is_none() { LEGEND } else { 0.0 }
}

/// The series that the line of marks names.
fn marked(series: &[Series]) -> impl Iterator<Item = &Series> {
    series.iter().filter(|s| !matches!(s.mark, Mark::Line { .. }))
}

/// A picture as a file of its own.
pub fn alone(picture: &Picture) -> String {
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", draw(picture, true).into_string())
}

fn draw(picture: &Picture, alone: bool) -> Markup {
    match picture {
        Picture::Chart(chart) => {
            let (top, body) = (spare(chart), chart_body(chart));
            frame(&chart.id, &chart.title, &chart.says, (top, height(picture)), alone, &body)
        }
        Picture::Pairs(pairs) => {
            let body = pairs_body(pairs);
            frame(&pairs.id, &pairs.title, &pairs.says, (0.0, height(picture)), alone, &body)
        }
    }
}

/// `body` from `top` on, `height` of it.
fn frame(id: &str, title: &str, says: &str, (top, height): (f64, f64), alone: bool, body: &Markup) -> Markup {
    let head = if alone { 22.0 } else { 0.0 };
    let named = format!("{id}-title {id}-says");
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 {} {} {}", c(top - head), c(WIDTH), c(height + head)))
            role="img" aria-labelledby=(named) {
            title id=(format!("{id}-title")) { (Svg(title)) }
            desc id=(format!("{id}-says")) { (Svg(says)) }
            @if alone {
                style { (PreEscaped(COLOURS)) (PreEscaped(STYLE)) "svg{background:var(--paper)}" }
                text class="name" x="4" y=(c(top - 8.0)) { (Svg(title)) }
            }
            (body)
        }
    }
}

/// Where things go on the picture.
struct Plot<'a> {
    chart: &'a Chart,
}

impl Plot<'_> {
    fn x(&self, value: f64) -> Option<f64> {
        self.chart.x.share(value).map(|s| LEFT + s * (WIDTH - LEFT - RIGHT))
    }

    fn y(&self, value: f64) -> Option<f64> {
        self.chart.y.share(value).map(|s| TALL - BOTTOM - s * (TALL - TOP - BOTTOM))
    }

    fn at(&self, p: &Point) -> Option<(f64, f64)> {
        let inside = self.chart.x.holds(p.x) && self.chart.y.holds(p.y);
        inside.then(|| Some((self.x(p.x)?, self.y(p.y)?))).flatten()
    }
}

fn chart_body(chart: &Chart) -> Markup {
    let plot = Plot { chart };
    html! {
        (legend(&chart.series, !chart.bands.is_empty()))
        @for band in &chart.bands {
            @if let (Some(x0), Some(x1), Some(y0), Some(y1)) = (plot.x(band.x.0), plot.x(band.x.1), plot.y(band.y.1), plot.y(band.y.0)) {
                rect class="band" x=(c(x0)) y=(c(y0)) width=(c((x1 - x0).max(1.0))) height=(c((y1 - y0).max(1.0))) {}
            }
        }
        (axes(&plot))
        @for (value, said) in &chart.lines {
            @if let (true, Some(x)) = (chart.x.holds(*value), plot.x(*value)) {
                path class="stand" d=(format!("M{} {}V{}", c(x), c(TOP), c(TALL - BOTTOM))) {}
                @let left = x > WIDTH * 0.62;
                text class="stands" x=(c(if left { x - 5.0 } else { x + 5.0 })) y=(c(TALL - BOTTOM - 7.0)) text-anchor=(if left { "end" } else { "start" }) { (Svg(said)) }
            }
        }
        @for series in &chart.series { (one_series(&plot, series)) }
        @for (class, label, (x, y)) in all_labels(&plot) {
            text class=(class) x=(c(x)) y=(c(y)) text-anchor="middle" { (Svg(label)) }
        }
    }
}

/// A class, words, and where they stand.
type Label<'a> = (&'static str, &'a str, (f64, f64));

/// The name of each line, then of each band, where it covers no mark and no other name.
fn all_labels<'a>(plot: &Plot<'a>) -> Vec<Label<'a>> {
    let page = Area(LEFT, TOP - 6.0, WIDTH - RIGHT, TALL - BOTTOM);
    let marks = plot.chart.series.iter().filter(|s| matches!(s.mark, Mark::Open | Mark::Filled));
    let marks = marks.flat_map(|s| &s.points);
    let mut taken: Vec<Area> =
        marks.filter_map(|p| plot.at(p)).map(|(x, y)| Area(x - 4.0, y - 4.0, x + 4.0, y + 4.0)).collect();
    // A line covers what lies between its points, and its own width.
    for series in plot.chart.series.iter().filter(|s| matches!(s.mark, Mark::Line { .. })) {
        for pair in series.points.windows(2) {
            if let (Some(a), Some(b)) = (plot.at(&pair[0]), plot.at(&pair[1])) {
                taken.push(Area(a.0, a.1.min(b.1) - 2.0, b.0, a.1.max(b.1) + 2.0));
            }
        }
    }
    let mut all: Vec<Label<'a>> =
        plot.chart.series.iter().filter_map(|s| line_label(plot, s, page, &mut taken)).collect();
    let one = |band: &'a Band| {
        let of = Area(plot.x(band.x.0)?, plot.y(band.y.1)?, plot.x(band.x.1)?, plot.y(band.y.0)?);
        Some(("", band.label.as_str(), labels::place(band.label.chars().count(), of, page, &mut taken)))
    };
    all.extend(plot.chart.bands.iter().filter_map(one));
    all
}

/// The name of a line, beside the point of it that lies furthest from every other line.
fn line_label<'a>(
    plot: &Plot<'a>,
    series: &'a Series,
    page: Area,
    taken: &mut Vec<Area>,
) -> Option<Label<'a>> {
    let Mark::Line { new, .. } = series.mark else { return None };
    let apart = |p: &Point| {
        let others = plot.chart.series.iter().filter(|o| o.name != series.name).flat_map(|o| &o.points);
        others.filter(|o| o.x == p.x).map(|o| (o.y - p.y).abs()).fold(f64::INFINITY, f64::min)
    };
    let inner = series.points.len() / 8;
    let places = series.points.iter().skip(inner).take(series.points.len() - 2 * inner);
    let letters = series.name.chars().count();
    let beside = places.filter_map(|p| Some((plot.at(p)?, apart(p)))).flat_map(|((x, y), far)| {
        [(x, y - 7.0), (x, y + 15.0)].map(|at| (labels::within(letters, at, page), far))
    });
    let covered = |at: (f64, f64)| labels::covered(letters, at, taken);
    let (at, _) = beside
        .min_by(|(a, far), (b, other)| covered(*a).total_cmp(&covered(*b)).then(other.total_cmp(far)))?;
    taken.push(Area::label(letters, at.0, at.1));
    Some((if new { "stands" } else { "stands old" }, series.name.as_str(), at))
}

fn axes(plot: &Plot<'_>) -> Markup {
    let (xs, x_decimals) = plot.chart.x.ticks(6);
    let (ys, y_decimals) = plot.chart.y.ticks(5);
    let number = crate::units::show::fixed;
    html! {
        @for value in &ys {
            @if let Some(y) = plot.y(*value) {
                path class="hair" d=(format!("M{} {}H{}", c(LEFT), c(y), c(WIDTH - RIGHT))) {}
                text x=(c(LEFT - 6.0)) y=(c(y + 4.0)) text-anchor="end" { (number(*value, y_decimals)) }
            }
        }
        @for value in &xs {
            @if let Some(x) = plot.x(*value) {
                path class="hair" d=(format!("M{} {}V{}", c(x), c(TALL - BOTTOM), c(TALL - BOTTOM + 4.0))) {}
                text x=(c(x)) y=(c(TALL - BOTTOM + 16.0)) text-anchor="middle" { (number(*value, x_decimals)) }
            }
        }
        text class="name" x="4" y=(c(TOP - 10.0)) { (Svg(&plot.chart.y.label)) }
        text class="name" x=(c(WIDTH - RIGHT)) y=(c(TALL - 4.0)) text-anchor="end" { (Svg(&plot.chart.x.label)) }
    }
}

/// What the marks mean, in one line at the top.
fn legend(series: &[Series], bands: bool) -> Markup {
    let mut x = 4.0;
    let mut place = |words: &str| {
        let here = x;
        x += 28.0 + 5.9 * words.chars().count() as f64;
        here
    };
    html! {
        @if bands {
            @let at = place("target");
            rect class="band" x=(c(at)) y="4" width="14" height="10" {}
            text x=(c(at + 19.0)) y="13" { "target" }
        }
        @for one in marked(series) {
            @let at = place(&one.name);
            @match one.mark {
                Mark::Open => circle class="open" cx=(c(at + 7.0)) cy="9" r="3.6" {},
                Mark::Filled => circle class="full" cx=(c(at + 7.0)) cy="9" r="4.2" {},
                Mark::Curve | Mark::Line { .. } => path class="curve" d=(format!("M{} 9H{}", c(at), c(at + 14.0))) {},
            }
            text x=(c(at + 19.0)) y="13" { (Svg(&one.name)) }
        }
    }
}

fn one_series(plot: &Plot<'_>, series: &Series) -> Markup {
    match series.mark {
        Mark::Curve => curve(plot, series, "curve"),
        Mark::Line { new, .. } => curve(plot, series, if new { "curve new" } else { "curve" }),
        Mark::Open | Mark::Filled => {
            let now = series.mark == Mark::Filled;
            html! {
                @for p in &series.points {
                    @if let Some((x, y)) = plot.at(p) {
                        @if let Some((Some(low), Some(high))) = p.interval.map(|(l, h)| (plot.y(l), plot.y(h))) {
                            path class=(if now { "whisker now" } else { "whisker" }) d=(format!("M{} {}V{}", c(x), c(low), c(high))) {}
                        }
                        circle class=(if now { "full" } else { "open" }) cx=(c(x)) cy=(c(y)) r=(radius(now, p.sure)) {}
                    }
                }
            }
        }
    }
}

/// What rests on little is drawn small.
const fn radius(now: bool, sure: bool) -> &'static str {
    match (now, sure) {
        (true, true) => "4.2",
        (false, true) => "3.6",
        (true, false) => "2.4",
        (false, false) => "2",
    }
}

fn curve(plot: &Plot<'_>, series: &Series, class: &str) -> Markup {
    let points: Vec<(f64, f64)> =
        series.points.iter().filter_map(|p| Some((plot.x(p.x)?, plot.y(p.y)?))).collect();
    let edge = |pick: fn((f64, f64)) -> f64| -> Vec<(f64, f64)> {
        series.points.iter().filter_map(|p| Some((plot.x(p.x)?, plot.y(pick(p.interval?))?))).collect()
    };
    let (low, high) = (edge(|i| i.0), edge(|i| i.1));
    let around: Vec<(f64, f64)> = high.into_iter().chain(low.into_iter().rev()).collect();
    html! {
        @if around.len() > 3 { path class="unsure" d=(format!("{}Z", path(&around))) {} }
        @if points.len() > 1 { path class=(class) d=(path(&points)) {} }
    }
}

fn path(points: &[(f64, f64)]) -> String {
    let steps: Vec<String> = points.iter().map(|(x, y)| format!("{} {}", c(*x), c(*y))).collect();
    format!("M{}", steps.join("L"))
}

/// Height of a row, and where the words of it end.
const ROW: f64 = 19.0;
const WORDS: f64 = 150.0;

fn pairs_body(pairs: &Pairs) -> Markup {
    let x = |value: f64| pairs.x.share(value).map(|s| WORDS + s * (WIDTH - WORDS - RIGHT));
    let bottom = TOP - 8.0 + ROW * pairs.rows.len() as f64;
    let (ticks, decimals) = pairs.x.ticks(5);
    html! {
        (pairs_legend(pairs))
        @for value in &ticks {
            @if let Some(at) = x(*value) {
                path class="hair" d=(format!("M{} {}V{}", c(at), c(TOP - 8.0), c(bottom))) {}
                text x=(c(at)) y=(c(bottom + 14.0)) text-anchor="middle" { (crate::units::show::fixed(*value, decimals)) }
            }
        }
        text class="name" x=(c(WIDTH - RIGHT)) y=(c(bottom + 30.0)) text-anchor="end" { (Svg(&pairs.x.label)) }
        @for (i, row) in pairs.rows.iter().enumerate() { (pair(row, TOP + ROW * i as f64, &x)) }
    }
}

fn pairs_legend(pairs: &Pairs) -> Markup {
    html! {
        @if pairs.rows.iter().any(|r| r.band.is_some()) {
            rect class="band" x="4" y="4" width="14" height="10" {}
            text x="23" y="13" { "target" }
        }
        circle class="open" cx="72" cy="9" r="3.6" {}
        text x="81" y="13" { (Svg(pairs.was)) }
        @let shift = 89.0 + 6.1 * pairs.was.chars().count() as f64;
        @if pairs.rows.iter().any(|r| r.expected.is_some()) {
            path class="curve" d=(format!("M{} 9H{}", c(shift), c(shift + 18.0))) {}
            text x=(c(shift + 23.0)) y="13" { "expected, 9 in 10" }
        }
        @if pairs.rows.iter().any(|r| r.after.is_some()) {
            circle class="full" cx=(c(shift + 139.0)) cy="9" r="4.2" {}
            text x=(c(shift + 148.0)) y="13" { "measured" }
        }
    }
}

fn pair(row: &PairRow, top: f64, x: &impl Fn(f64) -> Option<f64>) -> Markup {
    let y = top + 3.0;
    html! {
        text class="name" x="4" y=(c(y + 4.0)) { (Svg(&row.label)) }
        @if let Some((Some(low), Some(high))) = row.band.map(|(l, h)| (x(l), x(h))) {
            rect class="band" x=(c(low)) y=(c(y - 8.0)) width=(c((high - low).max(1.0))) height="16" {}
        }
        @if let Some((Some(middle), Some(low), Some(high))) = row.expected.map(|(m, l, h)| (x(m), x(l), x(h))) {
            path class="curve" d=(format!("M{} {y}H{}M{} {}V{}", c(low), c(high), c(middle), c(y - 4.0), c(y + 4.0), y = c(y))) {}
        }
        @if let Some(at) = x(row.before) { circle class="open" cx=(c(at)) cy=(c(y)) r="3.6" {} }
        @if let Some(at) = row.after.and_then(x) { circle class="full" cx=(c(at)) cy=(c(y)) r="4.2" {} }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::chart::{Axis, Band};

    fn chart(mark: Mark, bands: Vec<Band>) -> Picture {
        let axis = |label: &str| Axis { label: label.to_owned(), low: 0.0, high: 1.0 };
        let point = |x, y| Point { x, y, interval: None, sure: true };
        Picture::Chart(Chart {
            id: "it".to_owned(),
            title: "It".to_owned(),
            says: "How it is.".to_owned(),
            x: axis("x"),
            y: axis("y"),
            bands,
            series: vec![Series {
                name: "one".to_owned(),
                mark,
                points: vec![point(0.1, 0.2), point(0.9, 0.8)],
            }],
            lines: Vec::new(),
        })
    }

    #[test]
    fn no_room_is_kept_for_a_line_of_marks_that_is_not_there() {
        let band = || vec![Band { label: "target".to_owned(), x: (0.0, 1.0), y: (0.2, 0.4) }];
        let line = Mark::Line { sign: '.', new: false };
        for (picture, marks) in [
            (chart(Mark::Open, Vec::new()), true),
            (chart(line, band()), true),
            (chart(line, Vec::new()), false),
        ] {
            let spared = if marks { 0.0 } else { LEGEND };
            assert_eq!(height(&picture), TALL - spared);
            let page = alone(&picture);
            let from = format!("viewBox=\"0 {} ", c(spared - 22.0));
            assert!(page.contains(&from), "{page}");
            assert_eq!(page.contains("y=\"13\""), marks, "the line of marks: {page}");
        }
    }
}
