use super::super::LoggerProfile;
use super::super::learn;
use super::super::segment::tests::row;
use super::*;

fn course() -> Course {
    let ctx = TraceContext::bare(&LoggerProfile::standard());
    let pumping = Pumping::of(&ctx);
    Course::new(&ctx, pumping, &learn::learn(&[], &ctx, &pumping))
}

#[test]
fn a_logger_faster_than_any_costs_no_more_memory() {
    // The first waits for its regime, the second has its rows go before their lambda has come.
    for hz in [100_000.0, 1_000_000.0] {
        let mut course = course();
        for i in 0..90_000 {
            course.push(&row(f64::from(i) / hz, 2000.0, 14.0, 20.0), false);
            assert!(course.rows.len() <= MOST_WAITING + CLEARED + TOGETHER + 1, "{}", course.rows.len());
        }
        let found = course.finish();
        assert_eq!(found.judged, 90_000);
        assert_eq!(found.kept + found.dropped.iter().sum::<u64>(), 90_000);
    }
}

#[test]
fn a_log_may_end_while_any_number_of_rows_wait() {
    for rows in (2040..2200).step_by(7) {
        let mut course = course();
        (0..rows).for_each(|i| course.push(&row(f64::from(i) / 32.0, 2000.0, 14.0, 20.0), false));
        course.push(&row(1000.0, 2000.0, 14.0, 20.0), true);
        let found = course.finish();
        assert_eq!(found.judged, rows as u64 + 1);
    }
}
