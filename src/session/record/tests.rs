use super::*;
use proptest::prelude::*;

fn envelope<'a>(kind: &'a str, previous: &'a str) -> Envelope<'a> {
    Envelope {
        n: 42,
        tag: "k7q2m",
        run: 3,
        at: "2026-05-03T10:15:02.184Z".parse().unwrap(),
        up: Duration::from_millis(912_184),
        durable: 42,
        kind,
        previous,
    }
}

fn line(payload: &str) -> Vec<u8> {
    let mut line = seal(&envelope("reading", "5ad3debbc5ea561a"), payload.as_bytes());
    assert_eq!(line.pop(), Some(b'\n'));
    line
}

/// The check here was computed by a separate program (sha256sum of the bytes before `,"check":`).
#[test]
fn a_line_is_what_the_format_says() {
    assert_eq!(
        String::from_utf8(line(r#"{"vacuum_inhg":14.5}"#)).unwrap(),
        r#"{"n":42,"session":"k7q2m","run":3,"at":"2026-05-03T10:15:02.184Z","up_ms":912184,"durable":42,"kind":"reading","payload":{"vacuum_inhg":14.5},"previous":"5ad3debbc5ea561a","check":"8b5279f92d230978"}"#
    );
}

#[test]
fn the_check_is_the_head_of_sha_256() {
    // FIPS 180-4, the example message "abc": ba7816bf 8f01cfea ...
    assert_eq!(check_of(b"abc"), "ba7816bf8f01cfea");
}

#[test]
fn every_field_comes_back() {
    let record = open(&line(r#"{"vacuum_inhg":14.5}"#), 43).unwrap();
    assert_eq!((record.n, record.run, record.durable, record.line), (42, 3, 42, 43));
    assert_eq!((record.kind.as_str(), record.tag.as_str()), ("reading", "k7q2m"));
    assert_eq!(record.up, Duration::from_millis(912_184));
    assert_eq!(record.at.to_string(), "2026-05-03T10:15:02.184Z");
    assert_eq!(record.payload, json!({"vacuum_inhg": 14.5}));
    assert_eq!(record.previous, "5ad3debbc5ea561a");
}

#[test]
fn a_changed_byte_anywhere_is_refused() {
    let line = line(r#"{"vacuum_inhg":14.5}"#);
    for at in 0..line.len() {
        let mut changed = line.clone();
        changed[at] ^= 1;
        let refused = open(&changed, 1).unwrap_err();
        assert!(matches!(refused, BadLine::CheckDiffers | BadLine::NoCheck), "byte {at}: {refused:?}");
    }
}

#[test]
fn a_check_in_capitals_is_not_the_check() {
    let text = String::from_utf8(line("{}")).unwrap();
    let (body, check) = text.split_at(text.len() - 18);
    assert_eq!(
        open(format!("{body}{}\"}}", check[..16].to_uppercase()).as_bytes(), 1),
        Err(BadLine::CheckDiffers)
    );
}

#[test]
fn a_key_given_twice_is_refused_at_any_depth() {
    for twice in [r#"{"a":1,"a":2}"#, r#"{"b":[{"a":1,"a":1}]}"#] {
        assert_eq!(
            open(&line(twice), 1),
            Err(BadLine::NotARecord(
                "the same key is given twice at line 1 column ".to_owned() + &column(twice)
            ))
        );
    }
    assert!(open(&line(r#"{"a":{"b":1},"b":2}"#), 1).is_ok(), "the same key in two objects is fine");
}

fn column(payload: &str) -> String {
    let start = String::from_utf8(line("{}")).unwrap().find("{}").unwrap();
    let second = payload.rfind("\"a\"").unwrap();
    (start + second + 3).to_string()
}

#[test]
fn a_whole_number_is_kept_or_refused_never_bent() {
    assert_eq!(strict(b"18446744073709551615").unwrap(), json!(u64::MAX));
    assert_eq!(strict(b"-9223372036854775808").unwrap(), json!(i64::MIN));
    assert_eq!(strict(b"18446744073709551616"), Err("a whole number of 20 digits".to_owned()));
    assert_eq!(strict(b"[1,{\"a\":-9223372036854775809}]"), Err("a whole number of 19 digits".to_owned()));
    assert_eq!(strict(b"1e20").unwrap(), json!(1e20));
    assert_eq!(
        strict(b"\"99999999999999999999 \\\" 99999999999999999999\"").unwrap().as_str().unwrap().len(),
        43
    );
}

#[test]
fn what_json_cannot_hold_is_refused() {
    for bad in ["NaN", "1e999", "[1,]", "{} {}", ""] {
        assert!(strict(bad.as_bytes()).is_err(), "{bad}");
    }
    let deep = "[".repeat(200) + &"]".repeat(200);
    assert!(strict(deep.as_bytes()).is_err());
}

#[test]
fn a_longer_line_than_the_limit_is_refused_and_one_at_it_is_not() {
    let bare = line("\"\"").len();
    let at_limit = line(&format!("\"{}\"", "a".repeat(READ_LIMIT - bare)));
    assert_eq!(at_limit.len(), READ_LIMIT);
    assert!(open(&at_limit, 1).is_ok());
    assert_eq!(open(&line(&format!("\"{}\"", "a".repeat(READ_LIMIT - bare + 1))), 1), Err(BadLine::TooLong));
}

#[test]
fn a_record_is_found_before_what_follows_it_on_its_line() {
    let whole = line(r#"{"check":"0123456789abcdef","note":"a key named like the check"}"#);
    for rest in ["\0\0\0", "x", "{\"n\":43,\"sess", "\u{7f}"] {
        let glued = [whole.clone(), rest.as_bytes().to_vec()].concat();
        let (record, end) = open_start(&glued, 1).unwrap();
        assert_eq!((record.n, end), (42, whole.len()));
    }
    assert!(open_start(&whole[..whole.len() - 1], 1).is_none());
    let mut changed = whole;
    changed[3] ^= 1;
    assert!(open_start(&changed, 1).is_none());
}

#[test]
fn complaints_carry_no_control_characters() {
    let refused = open(&line("{\"\u{1b}[2J\":1}"), 1).unwrap_err().to_string();
    assert!(!refused.contains('\u{1b}'), "{refused:?}");
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_filter("JSON has no others", |x| x.is_finite()).prop_map(Value::from),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 32, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::hash_map(any::<String>(), inner, 0..6)
                .prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn any_payload_reads_back_bit_for_bit(payload in any_json()) {
        let bytes = payload_bytes(&payload).unwrap();
        let line = seal(&envelope("note", ""), &bytes);
        prop_assert_eq!(memchr::memchr(b'\n', &line), Some(line.len() - 1));
        let record = open(line.strip_suffix(b"\n").unwrap(), 1).unwrap();
        prop_assert_eq!(&record.payload, &payload);
        prop_assert_eq!(payload_bytes(&record.payload).unwrap(), payload_bytes(&payload).unwrap());
    }

    #[test]
    fn no_bytes_make_the_reader_fail(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        prop_assert!(open(&bytes, 1).is_err());
        let _ = crate::session::scan::scan(&bytes);
    }
}
