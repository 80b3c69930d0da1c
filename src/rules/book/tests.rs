use super::*;
use crate::units::*;

#[test]
fn the_common_book_is_whole_and_its_own_way_back() {
    let book = RuleBook::from_toml(RuleBook::common_text()).unwrap();
    assert_eq!(book, RuleBook::common());
    let written = toml::to_string(&book).unwrap();
    let again = RuleBook::from_toml(&written).unwrap();
    assert_eq!(toml::to_string(&again).unwrap(), written);
    assert!(again.loosened(&book).is_empty(), "the dust of a round trip is no loosening");
}

#[test]
fn a_shop_replaces_one_table_and_keeps_the_rest() {
    let text = "name = \"ours\"\n[finish]\nrich_allowance = \"0.25 turns\"\nlean_drop = \"10 rpm\"\npair_within = \"0.25 turns\"\nall_within = \"0.5 turns\"\n";
    let book = RuleBook::from_toml(text).unwrap();
    assert_eq!(book.finish.rich_allowance, Turns::from_turns(0.25));
    assert_eq!(book.limits, RuleBook::common().limits);
}

#[test]
fn an_unknown_key_or_a_bare_number_is_refused_with_its_place() {
    let unknown = RuleBook::from_toml("name = \"x\"\n[finsh]\n").unwrap_err();
    assert!(unknown.to_string().contains("finsh") && unknown.span().is_some(), "{unknown}");
    let bare = RuleBook::common_text().replace("lowest = \"550 rpm\"", "lowest = \"550\"");
    let error = RuleBook::from_toml(&bare).unwrap_err().to_string();
    assert!(error.contains("has no unit") && error.contains("rpm"), "{error}");
}

#[test]
fn a_table_with_a_hole_or_out_of_order_is_refused() {
    let hole = RuleBook::common_text().replace(
        "{ regime = \"cruise\", use = \"race\", low = \"0.90 lambda\", high = \"1.00 lambda\" },",
        "",
    );
    assert!(RuleBook::from_toml(&hole).unwrap_err().to_string().contains("no row for cruise, race gasoline"));
    let crossed =
        RuleBook::common_text().replace("warn_lean = \"0.90 lambda\"", "warn_lean = \"0.95 lambda\"");
    assert!(RuleBook::from_toml(&crossed).unwrap_err().to_string().contains("must rise"));
    let order = RuleBook::common_text().replace("{ duration = \"190 deg\"", "{ duration = \"310 deg\"");
    assert!(RuleBook::from_toml(&order).unwrap_err().to_string().contains("rising duration"));
}

#[test]
fn no_limit_is_loosened_in_silence() {
    let common = RuleBook::common();
    assert!(common.loosened(&common).is_empty());
    let mut looser = RuleBook::common();
    looser.limits.full_throttle[0].stop_lean = Lambda::from_ratio(0.95);
    looser.limits.full_throttle[1].warn_rich = Lambda::from_ratio(0.74);
    looser.limits.jet_steps_leaner_at_full_throttle = 2;
    looser.limits.chance_of_passing_lean_limit = Fraction::from_percent(10.0);
    looser.limits.carbon_monoxide_stop_ppm = 400.0;
    looser.limits.exhaust_stop = Temperature::from_f(1600.0);
    looser.limits.longer_than = TimeSpan::from_s(1.0);
    let said = looser.loosened(&common);
    assert_eq!(said.len(), 7, "{said:#?}");
    assert!(said[0].contains("lean stop (water) loosened from lambda 0.93 to 0.95"), "{}", said[0]);
    // stricter is nobody's business
    let mut stricter = RuleBook::common();
    stricter.limits.full_throttle[0].stop_lean = Lambda::from_ratio(0.91);
    stricter.limits.chance_of_passing_lean_limit = Fraction::from_percent(1.0);
    assert!(stricter.loosened(&common).is_empty());
}
