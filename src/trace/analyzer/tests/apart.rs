//! Logs that come in pieces, or are read apart; and what is not read at all.

use super::*;

#[test]
fn lines_read_apart_are_taken_only_where_a_line_begins() {
    let cruise = |t: f64| format!("2000,14.0,20.0,{:.3}", 0.95 + alive(t));
    let text = log("rpm,vacuum_inhg,tps_pct,lambda", &[(60.0, &cruise)]);
    let whole = read(bare(), &text);
    for line_end in ["\n", "\r"] {
        let text = text.replace('\n', line_end);
        let mut analyzer = Analyzer::new(bare());
        assert!(!analyzer.at_line_start() && analyzer.shape().is_none() && !analyzer.take(&Rows::default()));
        let (first, rest) = text.as_bytes().split_at(text[..9000].rfind(line_end).unwrap() + 1);
        analyzer.push(first);
        let shape = analyzer.shape().unwrap();
        assert_eq!(shape.line_end(), line_end.as_bytes()[0]);
        assert!(analyzer.at_line_start());
        let mut rows = Rows::default();
        let used = shape.read(&rest[..2005], &mut rows);
        assert!(used > 1900 && used <= 2005 && rest[used - 1] == shape.line_end(), "{used}");
        assert!(analyzer.take(&rows));
        analyzer.push(&rest[used..used + 5]);
        assert!(!analyzer.at_line_start() && !analyzer.take(&rows), "in the middle of a line");
        analyzer.push(&rest[used + 5..]);
        assert_eq!(analyzer.lines(), whole.lines.lines);
        assert_eq!(analyzer.finish().unwrap(), whole);
    }
    let mut failed = Analyzer::new(bare());
    failed.push(b"PK\x03\x04");
    assert!(failed.failed().is_some() && !failed.take(&Rows::default()));
}

#[test]
fn only_what_something_is_worked_out_from_is_read() {
    let ctx = TraceContext::bare(&LoggerProfile::dyno());
    let s = read(ctx, "time_s,rpm,torque_n_m,lambda\n0,800,x,0.9\n0.1,800,y,0.9\n");
    assert_eq!((s.lines.used, s.lines.quarantined), (2, 0));
    assert_eq!(read(bare(), "time_s,rpm\n0,800\n").period, None, "one row has none");
    let missing = |text: &str| {
        let mut analyzer = Analyzer::new(bare());
        analyzer.push(text.as_bytes());
        analyzer.finish().unwrap_err().to_string()
    };
    assert!(
        missing("# a\ntime_s,lambda\ns,lambda\n0,1\n").starts_with("line 2: there is no engine speed column")
    );
    assert!(missing("rpm,lambda\n800,1\n").starts_with("line 1: there is no time column"));
}

#[test]
fn a_line_too_long_to_read_costs_itself_however_it_comes() {
    let cruise = |t: f64| format!("2000,14.0,20.0,{:.3}", 0.95 + alive(t));
    let text = log("rpm,vacuum_inhg,tps_pct,lambda", &[(10.0, &cruise)]);
    let at = text[..5000].rfind('\n').unwrap() + 1;
    let long = "9".repeat(150_000);
    let spoilt = format!("{}{long}\n{}", &text[..at], &text[at..]);
    for piece in [1000, 65_536, spoilt.len()] {
        let mut analyzer = Analyzer::new(bare());
        for (n, bytes) in spoilt.as_bytes().chunks(piece).enumerate() {
            analyzer.push(bytes);
            let inside = at + 70_000..at + 140_000;
            assert!(
                !(inside.contains(&((n + 1) * piece)) && analyzer.at_line_start()),
                "in the middle of it"
            );
        }
        assert!(analyzer.at_line_start());
        let s = analyzer.finish().unwrap();
        assert_eq!((s.lines.lines, s.lines.used, s.lines.quarantined), (322, 320, 1), "pieces of {piece}");
        assert_eq!(s.faults[0].kind, FaultKind::LongLine);
        assert_eq!(s.faults[0].line as usize, text[..at].lines().count() + 1);
    }
}
