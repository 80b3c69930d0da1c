use super::super::header::{self, Head};
use super::*;
use crate::units::AirFuelRatio;

fn settle(logger: &LoggerProfile, text: &str) -> Result<Head, TraceError> {
    header::settle(text.as_bytes(), true, false, logger).map(Option::unwrap)
}

fn settled(text: &str) -> Head {
    settle(&LoggerProfile::standard(), text).unwrap()
}

/// A column of this name beside a time, with twenty such cells.
fn beside_time(logger: &LoggerProfile, name: &str, cell: impl Fn(u32) -> String) -> Head {
    let rows: String = (0..20).map(|i| format!("{:.2};{}\n", f64::from(i) / 100.0, cell(i))).collect();
    settle(logger, &format!("time_s;{name}\n{rows}")).unwrap()
}

fn said<'a>(head: &'a Head, name: &str) -> Vec<&'a str> {
    head.notes.iter().filter(|n| n.name == name).map(|n| n.what.as_str()).collect()
}

#[test]
fn a_ratio_that_looks_like_lambda_and_lambda_that_looks_like_a_ratio() {
    let standard = LoggerProfile::standard();
    let doubt = |logger: &LoggerProfile, name: &str, value: f64| {
        let head = beside_time(logger, name, |_| format!("{value}"));
        said(&head, "doubtful-column")
            .first()
            .map(|what| what.rsplit(" looks like ").next().unwrap().to_owned())
    };
    let ends = |what: Option<String>, begin: &str| what.is_some_and(|w| w.starts_with(begin));
    for (value, is) in [(0.49, false), (0.5, true), (1.69, true), (1.7, false)] {
        assert_eq!(ends(doubt(&standard, "afr", value), "lambda;"), is, "{value}");
        assert_eq!(doubt(&standard, "lambda", value), None, "{value}");
        assert_eq!(doubt(&standard, "map_kpa", value), None, "{value}");
    }
    for (value, is) in [(7.9, false), (8.0, true), (24.9, true), (25.0, false)] {
        assert_eq!(ends(doubt(&standard, "lambda", value), "an air-fuel ratio"), is, "{value}");
        assert_eq!(doubt(&standard, "map_kpa", value), None, "{value}");
    }
    for (value, is) in [(5.4, false), (5.5, true), (10.9, true), (11.0, false)] {
        assert_eq!(ends(doubt(&standard, "afr", value), "another fuel"), is, "{value}");
    }
    // Told its scale, a ratio of nine is no wonder; and volts are none at all.
    let mut e85 = standard.clone();
    e85.columns.iter_mut().for_each(|c| c.stoichiometric = Some(AirFuelRatio::from_ratio(9.8)));
    assert_eq!(doubt(&e85, "afr", 8.5), None);
    assert!(said(&beside_time(&e85, "afr", |_| "8.5".to_owned()), "afr-scale").is_empty());
    assert_eq!(said(&beside_time(&standard, "afr", |_| "13.2".to_owned()), "afr-scale").len(), 1);
    assert!(said(&beside_time(&standard, "lambda", |_| "0.9".to_owned()), "afr-scale").is_empty());
    let mut volts = standard;
    volts.columns.iter_mut().for_each(|c| c.volts = vec![(0.0, 0.7), (5.0, 1.3)]);
    assert_eq!(doubt(&volts, "lambda", 8.5), None);
    assert!(said(&beside_time(&volts, "afr", |_| "2.5".to_owned()), "afr-scale").is_empty());
}

#[test]
fn the_middle_of_the_first_rows_decides() {
    let head =
        beside_time(&LoggerProfile::standard(), "afr", |i| if i < 9 { "0.9".into() } else { "13.1".into() });
    assert!(said(&head, "doubtful-column").is_empty(), "one that warms up: {:?}", head.notes);
    let head =
        beside_time(&LoggerProfile::standard(), "afr", |i| if i < 11 { "0.9".into() } else { "13.1".into() });
    assert_eq!(said(&head, "doubtful-column").len(), 1);
}

#[test]
fn a_time_in_whole_steps_is_doubted() {
    let doubted = |name: &str, step: f64, rows: u32| {
        let rows: String = (0..rows).map(|i| format!("{},800\n", f64::from(i) * step)).collect();
        !said(&settled(&format!("{name},rpm\n{rows}")), "doubtful-column").is_empty()
    };
    assert!(doubted("time_s", 2.0, 6) && doubted("time_s", 20.0, 20));
    assert!(!doubted("time_s", 2.0, 5), "too few rows to tell");
    assert!(!doubted("time_s", 1.0, 20) && !doubted("time_s", 2.5, 20));
    assert!(!doubted("time_ms", 20.0, 20) && !doubted("time_ms", 1.0, 16));
    let begins = |from: f64, step: f64| {
        let rows: String = (0..20).map(|i| format!("{},800\n", from + f64::from(i) * step)).collect();
        !said(&settled(&format!("time_s,rpm\n{rows}")), "doubtful-column").is_empty()
    };
    assert!(begins(0.25, 2.0) && !begins(10.0, 1.0), "steps, not times");
    let speed: String = (0..20).map(|i| format!("0.{i:02},{}\n", 800 + 2 * i)).collect();
    assert!(said(&settled(&format!("time_s,rpm\n{speed}")), "doubtful-column").is_empty());
}

#[test]
fn a_unit_behind_every_number_is_taken_off_and_believed() {
    let of = |name: &str, cells: [&str; 3]| {
        let head = beside_time(&LoggerProfile::standard(), name, |i| cells[i as usize % 3].to_owned());
        let used = head.layout.used[1].clone();
        (String::from_utf8(used.suffix).unwrap(), used.scale, said(&head, "unit-in-cells").len())
    };
    let (suffix, scale, notes) = of("map_inhg", ["50 kPa", "51.5 kPa", ""]);
    assert_eq!((suffix.as_str(), scale, notes), ("kPa", 1.0, 1));
    let (suffix, scale, _) = of("lambda", ["13,2AFR", "-1,5AFR", "+13AFR"]);
    assert!(suffix == "AFR" && (scale - 1.0 / 14.7).abs() < 1e-12);
    let (suffix, scale, notes) = of("map_inhg", ["50 kPa", "51 kPa", "50"]);
    assert!(suffix.is_empty() && (scale - 3.386).abs() < 0.001 && notes == 0, "not behind every one");
    assert!(of("map_inhg", ["50 kPa", "51 psi", "50 kPa"]).0.is_empty(), "not the same");
    assert!(of("map_inhg", ["kPa", "kPa", "kPa"]).0.is_empty(), "no number");
    assert!(of("map_inhg", ["50 rpm", "51 rpm", "50 rpm"]).0.is_empty(), "no unit of a pressure");
    assert!(of("map_kpa", ["50", "51", "52"]).0.is_empty());
}

#[test]
fn the_profiles_scale_comes_before_the_unit() {
    let used = |unit: &str, scale, offset| {
        let mut logger = LoggerProfile::standard();
        let column = logger.columns.iter_mut().find(|c| c.names.contains(&"coolant_c".to_owned())).unwrap();
        (column.unit, column.scale, column.offset) = (Some(unit.to_owned()), scale, offset);
        beside_time(&logger, "coolant_c", |_| "40".to_owned()).layout.used[1].clone()
    };
    // (40 * 2 + 12) degF
    assert!((used("degF", Some(2.0), Some(12.0)).convert(40.0) - (92.0 - 32.0) / 1.8).abs() < 1e-9);
    assert!((used("degC", None, Some(12.0)).convert(40.0) - 52.0).abs() < 1e-9);
    assert!((used("degC", Some(0.5), None).convert(40.0) - 20.0).abs() < 1e-9);
    assert!((used("degF", Some(1.8), Some(32.0)).convert(40.0) - 40.0).abs() < 1e-9);
    assert!((used("degF", Some(1.8), Some(-32.0)).convert(40.0) - (72.0 - 64.0) / 1.8).abs() < 1e-9);
    assert!(used("degC", Some(1.0), Some(0.0)).untouched && used("degC", None, None).untouched);
    assert!(!used("degC", None, Some(12.0)).untouched && !used("degC", Some(0.5), None).untouched);
    let head = beside_time(&LoggerProfile::standard(), "map_kpa [foo]", |_| "40".to_owned());
    assert_eq!(head.layout.used[1].scale, 1.0);
}

#[test]
fn names_that_are_left_out_are_told() {
    let more = |n: usize| {
        let names: Vec<String> = (0..n).map(|i| format!("x{i}")).collect();
        let head = settled(&format!("time_s,{}\n0{}\n", names.join(","), ",1".repeat(n)));
        said(&head, "unused-columns").first().map(|what| what.split("x10").last().unwrap().to_owned())
    };
    assert_eq!(more(12).as_deref(), Some(", x11"));
    assert_eq!(more(13).as_deref(), Some(", x11 and 1 more"));
    assert!(said(&settled("time_s,rpm\n0,1\n"), "unused-columns").is_empty());
    let two = settle(&LoggerProfile::standard(), "a,rpm,time_s,RPM\n1,2,3,4\n").unwrap_err().to_string();
    assert!(two.starts_with("line 1: columns 2 and 4 are both called"), "{two}");
    let second = settled("rpm,afr,time_s,lambda\n1,2,3,4\n");
    assert_eq!(
        said(&second, "second-column"),
        ["column 4 (lambda) is used for lambda; column 2 (afr) is left out"]
    );
    assert_eq!(without_unit("(kPa)"), ("(kPa)", None), "brackets alone are the name");
    assert_eq!(without_unit(" Manifold {kPa} "), ("Manifold", Some("kPa")));
}

#[test]
fn a_row_of_units_has_no_number_in_it() {
    assert_eq!(settled("time_s,rpm,map\ns,rpm,kPa\n0,1,2\n").lines.units, 1);
    assert_eq!(settled("time_s,rpm,map\n,rpm,\n0,1,2\n").lines.units, 1, "some cells are empty");
    assert_eq!(settled("time_s,rpm,map\n,,\n0,1,2\n").lines.units, 0, "all are");
    assert_eq!(settled("time_s;lambda\n0,1;0,9\n0,2;0,9\n").lines.units, 0, "decimal commas");
    assert_eq!(settled("time_s,rpm,map\ns,rpm\n0,1,2\n").lines.units, 0);
}

#[test]
fn the_decimal_sign_is_seen_in_the_cells() {
    let sign = |text: &str| settle(&LoggerProfile::standard(), text).map(|h| char::from(h.layout.point));
    assert_eq!(sign("time_s;lambda\n0,1;0,9\n0,2;0,9\n"), Ok(','));
    assert_eq!(sign("time_s;lambda\n0.1;0.9\n0.2;0.9\n"), Ok('.'));
    assert_eq!(sign("time_s;lambda\n1;9\n2;9\n"), Ok('.'), "neither is seen");
    assert_eq!(sign("time_s;lambda\n0,1;0.9\n0,2;0.9\n"), Ok('.'), "both are");
    assert_eq!(sign("time_s;lambda;note\n0.1;0.9;1,5\n"), Ok('.'), "only columns that are used count");
    // Commas between the columns and in the numbers: more cells than names, in row after row.
    let commas = sign("time_s,rpm,lambda\n0,1,800,5,0,9\n0,2,800,5,0,9\n").unwrap_err().to_string();
    assert!(commas.starts_with("line 2: 6 cells under 3 names"), "{commas}");
    assert_eq!(sign("time_s,rpm,lambda\n0,1,800,5,0,9\n"), Ok('.'), "one row is no proof");
    assert_eq!(sign("time_s,rpm,lambda\n0,1,800,5,0,9\n0.2,800,0.9\n"), Ok('.'));
    assert_eq!(
        sign("time_s,rpm,lambda\n0,1,2,3\n0,1,2,3\n"),
        Ok('.'),
        "one cell more is a separator at the end"
    );
    assert_eq!(sign("time_s,rpm,lambda\n0,1,2,3,4,5,6\n0,1,2,3,4,5,6\n"), Ok('.'), "more than twice as many");
}
