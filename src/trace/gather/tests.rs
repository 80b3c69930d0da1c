use super::super::segment::tests::row;
use super::*;
use approx::assert_relative_eq;

fn kept(regime: Regime, lambda: f64, share: f64) -> Kept {
    Kept { regime, lambda, share, air_flow_g_s: Some(12.345), dt_s: 1.0 / 32.0 }
}

/// So many rows from a time on, thirty-two a second.
fn hold(g: &mut Gathered, from_s: f64, rows: u32, vacuum: f64, air_c: f32, kept: Kept) {
    for i in 0..rows {
        let mut s = row(from_s + f64::from(i) / 32.0, 2000.4, vacuum, 20.0);
        s.aside.air_c = air_c;
        g.keep(&s, kept);
    }
}

#[test]
fn a_station_is_its_place_and_the_means_of_its_rows() {
    let mut g = Gathered::new(None);
    hold(&mut g, 100.0, 40, 13.45, 22.4, kept(Regime::Cruise, 0.951, 0.27));
    // Away for a second is the same visit, for longer another one.
    hold(&mut g, 102.21875, 1, 13.45, 22.4, kept(Regime::Cruise, 0.951, 0.27));
    hold(&mut g, 103.25, 20, 13.45, 27.6, kept(Regime::Cruise, 0.991, 0.27));
    hold(&mut g, 200.0, 3, 13.45, f32::NAN, kept(Regime::Cruise, 0.991, 0.27));
    hold(&mut g, 300.0, 2, 1.0, f32::NAN, kept(Regime::FullThrottle, 0.85, 1.21));
    let stations = g.stations(true);
    assert_eq!(stations.len(), 2);
    let s = &stations[0];
    let percents = [s.air_flow_share_low, s.air_flow_share_high].map(Fraction::as_percent);
    let inhg = [s.vacuum_low, s.vacuum_high].map(Vacuum::as_inhg);
    assert_relative_eq!(percents[0], 25.0, epsilon = 1e-9);
    assert_relative_eq!(percents[1], 30.0, epsilon = 1e-9);
    assert_relative_eq!(inhg[0], 12.0, epsilon = 1e-9);
    assert_relative_eq!(inhg[1], 14.0, epsilon = 1e-9);
    assert_eq!((s.regime, s.visits, s.seconds.as_s(), s.enough), (Regime::Cruise, 3, 2.0, true));
    assert_relative_eq!(s.lambda.median.as_ratio(), 0.951, epsilon = 1e-9);
    assert_relative_eq!(s.lambda.p90.as_ratio(), 0.991, epsilon = 1e-9);
    assert_relative_eq!(s.lambda.spread.as_ratio(), 0.04, epsilon = 1e-9);
    assert_relative_eq!(s.speed.as_rpm(), 2000.0, epsilon = 1e-9);
    assert_relative_eq!(s.vacuum.as_inhg(), 13.45, epsilon = 0.011);
    assert_relative_eq!(s.air_flow.unwrap().as_g_s(), 12.345, epsilon = 0.0011);
    let airs: Vec<_> = s.counts.by_air.iter().map(|(at, a)| (*at, a.rows, a.milli_lambda)).collect();
    assert_eq!(airs, [(225, 41, 41 * 951), (275, 20, 20 * 991)], "in the middle of steps of five degrees");
    let other = &stations[1];
    assert_eq!((other.regime, other.visits, other.enough), (Regime::FullThrottle, 1, false));
    assert_relative_eq!(other.air_flow_share_low.as_percent(), 120.0, epsilon = 1e-9);
    assert_relative_eq!(other.vacuum_low.as_inhg(), 0.0, epsilon = 1e-9);
    assert_relative_eq!(other.lambda.median.as_ratio(), 0.85, epsilon = 1e-9);
    assert!(other.counts.by_air.is_empty());
    assert!(g.stations(false).iter().all(|s| s.air_flow.is_none()));
}

#[test]
fn what_is_beyond_the_grid_is_in_its_outermost_stations() {
    let at = |share: f64, vacuum: f64, air_c: f32| {
        let mut g = Gathered::new(None);
        hold(&mut g, 100.0, 1, vacuum, air_c, kept(Regime::Cruise, 0.9, share));
        let s = g.stations(true).remove(0);
        let air = *s.counts.by_air.first_key_value().unwrap().0;
        (s.air_flow_share_low.as_percent().round(), s.vacuum_low.as_inhg().round(), air)
    };
    assert_eq!(at(0.0, -2.0, -40.0), (0.0, -2.0, -375));
    assert_eq!(at(-0.2, -9.0, -60.0), (0.0, -2.0, -375));
    assert_eq!(at(1.999, 33.9, 119.0), (195.0, 32.0, 1175));
    assert_eq!(at(7.0, 90.0, 300.0), (195.0, 32.0, 1175));
    assert_eq!(at(0.049, -0.1, -0.1), (0.0, -2.0, -25));
    assert_eq!(at(0.051, 0.1, 0.1), (5.0, 0.0, 25));
}

#[test]
fn twenty_rows_and_three_visits_are_enough() {
    let enough = |rows: u32, visits: u32| {
        let mut g = Gathered::new(None);
        for visit in 0..visits {
            let share = if visit == 0 { rows - visits + 1 } else { 1 };
            let from_s = 100.0 * f64::from(visit);
            hold(&mut g, from_s, share, 13.0, 20.0, kept(Regime::Cruise, 0.9, 0.2));
        }
        g.stations(true)[0].enough
    };
    assert!(enough(20, 3));
    assert!(!enough(19, 3) && !enough(20, 2));
}

#[test]
fn a_regime_is_its_visits_and_the_medians_of_its_rows() {
    let mut g = Gathered::new(Some(6.5));
    for (state, from_s, to_s) in [
        (State::Stopped, 0.0, 2.5),
        (State::In(Regime::HeavyCruise), 2.5, 12.5),
        (State::Unknown, 12.5, 14.0),
        (State::In(Regime::HeavyCruise), 14.0, 19.0),
        (State::In(Regime::Overrun), 19.0, 21.0),
    ] {
        g.segment(&Segment { state, from_s, to_s });
    }
    hold(&mut g, 3.0, 24, 6.5, 20.0, kept(Regime::HeavyCruise, 0.90, 0.4));
    hold(&mut g, 5.0, 8, 6.4, 20.0, kept(Regime::HeavyCruise, 0.91, 0.4));
    hold(&mut g, 7.0, 32, f64::NAN, 20.0, kept(Regime::HeavyCruise, 0.94, 0.4));
    g.shown(Regime::Overrun, 1.1);
    let regimes = g.regimes();
    assert_eq!(g.stopped_s, 4.0);
    assert_eq!(regimes.iter().map(|r| r.regime).collect::<Vec<_>>(), [Regime::HeavyCruise, Regime::Overrun]);
    let mut full = Gathered::new(None);
    full.segment(&Segment { state: State::In(Regime::FullThrottle), from_s: 0.0, to_s: 1.0 });
    hold(&mut full, 0.0, 32, 1.0, 20.0, kept(Regime::FullThrottle, 0.85, 0.9));
    assert_relative_eq!(full.regimes()[0].vacuum.unwrap().as_inhg(), 1.0, epsilon = 1e-9);
    let r = &regimes[0];
    assert_eq!((r.seconds.as_s(), r.visits, r.samples, r.kept_seconds.as_s()), (15.0, 2, 64, 2.0));
    // Rows without a vacuum are in no station, but in the regime.
    assert_relative_eq!(r.lambda.unwrap().median.as_ratio(), 0.925, epsilon = 1e-9);
    assert_eq!(r.lambda.unwrap().count, 64);
    assert_relative_eq!(r.vacuum.unwrap().as_inhg(), 6.5, epsilon = 1e-9);
    assert_relative_eq!(r.speed.unwrap().as_rpm(), 2000.0, epsilon = 1e-9);
    assert_relative_eq!(r.air_flow.unwrap().as_g_s(), 12.25, epsilon = 1e-9);
    assert_relative_eq!(r.enriched.unwrap().as_percent(), 25.0, epsilon = 1e-9);
    let over = &regimes[1];
    assert_relative_eq!(over.lambda.unwrap().median.as_ratio(), 1.1, epsilon = 1e-9);
    assert_eq!((over.samples, over.vacuum, over.enriched), (0, None, None));
}
