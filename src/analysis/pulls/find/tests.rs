use super::super::specimen::{Specimen, coast};
use super::*;
use crate::numeric::rng::Chance;
use crate::units::{EngineSpeed, Torque, Velocity};

fn one() -> Vec<Row> {
    Specimen::default().rows(&mut Chance::with_seed(3))
}

fn names(found: &Found) -> Vec<&'static str> {
    found.remarks.iter().chain(found.pulls.iter().flat_map(|p| &p.remarks)).map(|r| r.kind.name()).collect()
}

#[test]
fn a_clean_pull_is_one_pull_and_nothing_is_said() {
    let found = find_pulls(&one());
    assert_eq!(found.pulls.len(), 1);
    assert!(names(&found).is_empty(), "{found:?}");
    assert!(found.pulls[0].rows.len() > 190);
}

#[test]
fn a_coast_down_between_two_pulls_is_left_out_and_said() {
    let mut rows = one();
    rows.extend(coast(4300.0, 1800.0, 10.1));
    rows.extend(Specimen { start_s: 14.5, ..Specimen::default() }.rows(&mut Chance::with_seed(4)));
    let found = find_pulls(&rows);
    assert_eq!(found.pulls.len(), 2, "{:?}", names(&found));
    assert_eq!(names(&found), ["coast-down"]);
    let lowest =
        found.pulls.iter().flat_map(|p| &p.rows).filter_map(Row::torque_n_m).fold(f64::INFINITY, f64::min);
    assert!(lowest > 100.0, "no coasting row in a pull: {lowest}");
}

#[test]
fn a_sweep_down_under_load_is_not_a_pull() {
    let mut rows = one();
    rows.reverse();
    for (k, r) in rows.iter_mut().enumerate() {
        r.time = Some(TimeSpan::from_s(0.05 * k as f64));
    }
    let found = find_pulls(&rows);
    assert!(found.pulls.is_empty());
    assert_eq!(names(&found), ["down-sweep"]);
}

#[test]
fn a_flare_that_comes_back_is_slip_and_its_rows_are_gone() {
    let mut rows = one();
    for (k, r) in rows.iter_mut().enumerate().skip(90).take(14) {
        let flare = 350.0 * (1.0 - ((k as f64 - 96.5) / 7.0).powi(2)).max(0.0);
        r.speed = r.speed.map(|s| s + EngineSpeed::from_rpm(flare));
        r.torque = r.torque.map(|t| t * 0.8);
    }
    let found = find_pulls(&rows);
    assert_eq!(found.pulls.len(), 1, "{found:?}");
    assert_eq!(names(&found), ["wheel-slip"]);
    assert!(found.pulls[0].rows.len() < 190);
    assert!(found.pulls[0].remarks[0].kind.bars_comparison());
}

#[test]
fn slip_without_a_reversal_shows_against_road_speed() {
    let mut rows = one();
    for r in &mut rows {
        r.road_speed = r.speed.map(|s| Velocity::from_mph(s.as_rpm() / 50.0));
    }
    assert!(names(&find_pulls(&rows)).is_empty());
    for r in rows.iter_mut().skip(100).take(20) {
        r.road_speed = r.road_speed.map(|v| v * 0.95);
    }
    assert_eq!(names(&find_pulls(&rows)), ["wheel-slip"]);
}

#[test]
fn a_hole_in_time_is_said_and_stays() {
    let rows: Vec<Row> =
        one().into_iter().enumerate().filter(|(k, _)| !(80..110).contains(k)).map(|(_, r)| r).collect();
    let found = find_pulls(&rows);
    assert_eq!(found.pulls.len(), 1);
    assert_eq!(names(&found), ["gap"]);
    let RemarkKind::Gap { seconds, .. } = found.pulls[0].remarks[0].kind else { panic!("{found:?}") };
    assert!((seconds - 1.5).abs() < 0.2, "{seconds}");
}

#[test]
fn too_short_is_said_just_below_the_border_and_not_above() {
    let pull = |span: f64| Specimen { from_rpm: 3900.0 - span, to_rpm: 3900.0, ..Specimen::default() };
    let with = |span: f64| find_pulls(&pull(span).rows(&mut Chance::with_seed(5)));
    let (short, long) = (with(900.0), with(1060.0));
    assert_eq!((short.pulls.len(), names(&short)), (0, vec!["too-short"]));
    assert_eq!((long.pulls.len(), names(&long)), (1, vec![]));
}

#[test]
fn part_throttle_before_the_pull_is_trimmed_by_throttle_or_by_torque() {
    let mut rows = one();
    for r in rows.iter_mut().take(60) {
        r.torque = r.torque.map(|t| t * 0.4);
    }
    let by_torque = find_pulls(&rows);
    assert!((135..=145).contains(&by_torque.pulls[0].rows.len()), "{}", by_torque.pulls[0].rows.len());
    for (k, r) in rows.iter_mut().enumerate() {
        r.throttle = Some(Fraction::from_ratio(if k < 80 { 0.5 } else { 1.0 }));
    }
    let by_throttle = find_pulls(&rows);
    assert!((115..=121).contains(&by_throttle.pulls[0].rows.len()), "{}", by_throttle.pulls[0].rows.len());
}

#[test]
fn a_table_without_time_is_one_pull() {
    let rows: Vec<Row> = (0..60)
        .map(|k| Row {
            speed: Some(EngineSpeed::from_rpm(1500.0 + 50.0 * f64::from(k))),
            torque: Some(Torque::from_n_m(280.0)),
            ..Row::default()
        })
        .collect();
    let found = find_pulls(&rows);
    assert_eq!((found.pulls.len(), found.pulls[0].rows.len()), (1, 60));
}

#[test]
fn nothing_and_nonsense_do_not_panic() {
    assert_eq!(find_pulls(&[]), Found::default());
    let mut chance = Chance::with_seed(9);
    for _ in 0..50 {
        let n = (chance.uniform() * 60.0) as usize;
        let rows: Vec<Row> = (0..n)
            .map(|_| Row {
                time: Some(TimeSpan::from_s(chance.between(-5.0, 50.0))),
                speed: Some(EngineSpeed::from_rpm(chance.between(0.0, 9000.0))),
                torque: Some(Torque::from_n_m(chance.between(-300.0, 900.0))),
                ..Row::default()
            })
            .collect();
        let _ = find_pulls(&rows);
    }
}

#[test]
fn what_two_signs_show_is_one_slip() {
    assert_eq!(
        one_by_one(vec![(40, 60), (10, 20), (45, 52), (61, 70), (72, 80)]),
        [(10, 20), (40, 70), (72, 80)]
    );
    assert!(one_by_one(Vec::new()).is_empty());
}
