//! A logger's own names, units and scales.

use super::channel::Channel;
use super::encoding::Encoding;
use super::unit;
use crate::units::{AirFuelRatio, TimeSpan};
use serde::{Deserialize, Serialize};

/// How a logger writes its columns.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LoggerProfile {
    /// What the person calls it.
    pub name: String,
    /// The first line names the columns. When not, `column` entries must be in the order of the columns.
    #[serde(default = "yes")]
    pub header: bool,
    /// What stands between columns; found out when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub delimiter: Option<char>,
    /// The decimal point is a comma; found out when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decimal_comma: Option<bool>,
    /// How its text is written, when not in UTF-8; numbers are the same in all of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub encoding: Option<Encoding>,
    /// Time between rows, for a logger that writes no time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period: Option<TimeSpan>,
    /// The columns that are used.
    #[serde(default, rename = "column")]
    pub columns: Vec<ColumnMap>,
}

/// One column: which quantity it is and how its numbers become that quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ColumnMap {
    /// Which quantity.
    pub channel: Channel,
    /// Its names in the header; case and spaces at the ends do not matter.
    pub names: Vec<String>,
    /// The unit of its numbers ("kPa", "inHg", "degF", "ms", "AFR", "V"); the channel's usual one when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Points of voltage and value for a sensor logged in volts: straight lines between them, nothing beyond.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub volts: Vec<(f64, f64)>,
    /// Multiplies the number, before the unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<f64>,
    /// Is added after the scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<f64>,
    /// For an air-fuel ratio: the stoichiometric ratio its display is scaled by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stoichiometric: Option<AirFuelRatio>,
    /// How late the logger's own filter makes this column.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag: Option<TimeSpan>,
}

/// A logger profile that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LoggerError {
    /// The TOML does not say what a logger profile says.
    #[error("{0}")]
    Toml(String),
    /// A key that cannot work.
    #[error("{key}: {what}")]
    Key {
        /// Which.
        key: &'static str,
        /// What is wrong and what would do.
        what: String,
    },
    /// A column that cannot work.
    #[error("column \"{column}\": {what}")]
    Column {
        /// Which of the `[[column]]` tables, from 0.
        number: usize,
        /// Its channel.
        column: &'static str,
        /// What is wrong and what would do.
        what: String,
    },
}

fn yes() -> bool {
    true
}

impl LoggerProfile {
    /// The names the tool itself uses, in every unit it knows for them.
    pub fn standard() -> Self {
        Self::of_tables("standard names", &[STANDARD])
    }

    /// The names the tool itself uses in dyno files: the standard ones, with torque, power and what a cell measures.
    pub fn dyno() -> Self {
        Self::of_tables("standard dyno names", &[DYNO, STANDARD])
    }

    /// This logger's own columns, and behind them the names the tool itself uses in dyno files. Where a file has both, the
    /// logger's own are taken. A logger without a header counts its columns and gets none beside them.
    #[must_use]
    pub fn with_dyno(&self) -> Self {
        let dyno = Self::dyno();
        if *self == Self::standard() {
            return dyno;
        }
        let mut both = self.clone();
        if !both.header {
            return both;
        }
        let own = |name: &String| {
            self.columns.iter().flat_map(|c| &c.names).any(|n| n.trim().eq_ignore_ascii_case(name))
        };
        both.columns.extend(dyno.columns.into_iter().filter_map(|mut column| {
            column.names.retain(|name| !own(name));
            (!column.names.is_empty()).then_some(column)
        }));
        both
    }

    fn of_tables(name: &str, tables: &[&[(Channel, &str, &[&str])]]) -> Self {
        let columns = tables
            .iter()
            .flat_map(|t| t.iter())
            .map(|(channel, unit, names)| ColumnMap {
                channel: *channel,
                names: names.iter().map(|n| (*n).to_owned()).collect(),
                unit: Some((*unit).to_owned()),
                volts: Vec::new(),
                scale: None,
                offset: None,
                stoichiometric: None,
                lag: None,
            })
            .collect();
        Self {
            name: name.to_owned(),
            header: true,
            delimiter: None,
            decimal_comma: None,
            encoding: None,
            period: None,
            columns,
        }
    }

    /// From TOML.
    pub fn from_toml(text: &str) -> Result<Self, LoggerError> {
        let profile: Self = toml::from_str(text).map_err(|e| LoggerError::Toml(e.to_string()))?;
        profile.check()?;
        Ok(profile)
    }

    /// Whether every key and column can work.
    pub fn check(&self) -> Result<(), LoggerError> {
        let key = |key, what: &str| Err(LoggerError::Key { key, what: what.to_owned() });
        let delimiter = self.delimiter.unwrap_or(';');
        if !matches!(delimiter, '\t' | ' '..='~')
            || delimiter.is_ascii_alphanumeric()
            || "\".-+#".contains(delimiter)
        {
            return key(
                "delimiter",
                "cannot stand between columns; it is mostly \",\", \";\", \"|\" or \"\\t\"",
            );
        }
        if self.decimal_comma == Some(true) && delimiter == ',' {
            return key(
                "decimal_comma",
                "the comma cannot stand both between columns and in numbers; one of the two is wrong",
            );
        }
        if self.period.is_some_and(|p| !(1e-5..=60.0).contains(&p.as_s())) {
            return key("period", "the time between rows is from 0.01 ms to 60 s, such as \"10 ms\"");
        }
        self.columns.iter().enumerate().try_for_each(|(number, column)| {
            column.fault(self.header).map_or(Ok(()), |what| {
                Err(LoggerError::Column { number, column: column.channel.name(), what })
            })
        })
    }
}

impl ColumnMap {
    /// Why it cannot work, when that is so.
    fn fault(&self, header: bool) -> Option<String> {
        let say = |what: &str| Some(what.to_owned());
        if header && self.names.iter().all(|n| n.trim().is_empty()) {
            return say("has no names; give names = [\"...\"]");
        }
        let unit = self.unit.as_deref().unwrap_or_default();
        if matches!(unit.to_lowercase().as_str(), "v" | "volt" | "volts") && self.volts.is_empty() {
            return say("is a voltage: give its points, such as volts = [[0.0, 0.68], [5.0, 1.36]]");
        }
        let voltage =
            !self.volts.is_empty() && matches!(unit.to_lowercase().as_str(), "v" | "volt" | "volts");
        if !(unit.is_empty() || voltage || unit::to_inside(self.channel, unit, None).is_some()) {
            return Some(format!(
                "\"{}\" is no unit of {}; these would do: {}",
                unit.escape_debug(),
                self.channel.name(),
                unit::known(self.channel)
            ));
        }
        if self.volts.len() == 1 {
            return say("a voltage table needs at least two points, such as [[0.0, 0.68], [5.0, 1.36]]");
        }
        let finite = self.volts.iter().all(|(v, x)| v.is_finite() && x.is_finite());
        if !finite || self.volts.windows(2).any(|w| w[1].0 <= w[0].0) {
            return say("the voltages of its table must be finite and rise");
        }
        if self.scale.is_some_and(|s| !s.is_finite() || s == 0.0)
            || self.offset.is_some_and(|o| !o.is_finite())
        {
            return say("scale and offset must be finite, and scale not zero");
        }
        if self.stoichiometric.is_some_and(|s| !(3.0..=25.0).contains(&s.as_ratio())) {
            return say("the stoichiometric ratio is from 3 to 25, such as \"14.7 AFR\" for gasoline");
        }
        if self.lag.is_some_and(|l| !(0.0..=2.0).contains(&l.as_s())) {
            return say("the lag of a filter is from 0 to 2 s, such as \"50 ms\"");
        }
        None
    }
}

/// Channel, unit and names of the tool's own columns.
const STANDARD: &[(Channel, &str, &[&str])] = &[
    (Channel::Time, "s", &["time_s", "time", "t_s"]),
    (Channel::Time, "ms", &["time_ms"]),
    (Channel::Time, "min", &["time_min"]),
    (Channel::Speed, "rpm", &["rpm", "speed_rpm"]),
    (Channel::Manifold, "kPa", &["map_kpa"]),
    (Channel::Manifold, "inHg", &["map_inhg"]),
    (Channel::Vacuum, "inHg", &["vacuum_inhg", "vac_inhg"]),
    (Channel::Vacuum, "kPa", &["vacuum_kpa", "vac_kpa"]),
    (Channel::Throttle, "%", &["tps_pct", "throttle_pct"]),
    (Channel::Lambda, "lambda", &["lambda", "lambda_1"]),
    (Channel::Lambda, "AFR", &["afr", "afr_1"]),
    (Channel::Lambda2, "lambda", &["lambda_2"]),
    (Channel::Lambda2, "AFR", &["afr_2"]),
    (Channel::Coolant, "degC", &["coolant_c", "head_c"]),
    (Channel::Coolant, "degF", &["coolant_f", "head_f"]),
    (Channel::FuelPressure, "kPa", &["fuel_pressure_kpa"]),
    (Channel::FuelPressure, "psi", &["fuel_pressure_psi"]),
    (Channel::IntakeAir, "degC", &["iat_c", "air_c"]),
    (Channel::IntakeAir, "degF", &["iat_f", "air_f"]),
    (Channel::Barometer, "kPa", &["baro_kpa", "barometer_kpa"]),
    (Channel::Barometer, "inHg", &["baro_inhg", "barometer_inhg"]),
    (Channel::AirFlow, "g/s", &["air_flow_g_per_s", "air_flow_g_s"]),
    (Channel::AirFlow, "kg/h", &["air_flow_kg_per_h", "air_flow_kg_h"]),
    (Channel::AirFlow, "lb/h", &["air_flow_lb_per_h", "air_flow_lb_h"]),
    (Channel::Lateral, "g", &["lateral_g", "accel_lateral_g"]),
    (Channel::Longitudinal, "g", &["longitudinal_g", "accel_longitudinal_g"]),
    (Channel::Tilt, "deg", &["tilt_deg"]),
];

/// Further channel, unit and names of dyno files. The bare names say nothing of a unit: a unit in brackets behind
/// them, or in a row under the header, must.
const DYNO: &[(Channel, &str, &[&str])] = &[
    (Channel::Torque, "N m", &["torque_n_m", "torque_nm", "torque"]),
    (Channel::Torque, "lbf ft", &["torque_lbf_ft", "torque_lbft", "torque_ft_lb", "torque_ftlb"]),
    (Channel::Power, "kW", &["power_kw", "power"]),
    (Channel::Power, "hp", &["power_hp", "hp"]),
    (Channel::Power, "PS", &["power_ps"]),
    (Channel::RoadSpeed, "km/h", &["speed_km_h", "speed_kmh", "road_speed_km_h", "road_speed", "speed"]),
    (Channel::RoadSpeed, "mph", &["speed_mph", "road_speed_mph"]),
    (Channel::FuelFlow, "g/s", &["fuel_flow_g_per_s", "fuel_flow_g_s"]),
    (Channel::FuelFlow, "kg/h", &["fuel_flow_kg_per_h", "fuel_flow_kg_h"]),
    (Channel::FuelFlow, "lb/h", &["fuel_flow_lb_per_h", "fuel_flow_lb_h"]),
    (Channel::Barometer, "kPa", &["air_pressure_kpa"]),
    (Channel::Barometer, "hPa", &["air_pressure_hpa", "baro_hpa"]),
    (Channel::Barometer, "inHg", &["air_pressure_inhg"]),
    (Channel::Humidity, "%", &["humidity_pct", "rh_pct"]),
    (Channel::Oil, "degC", &["oil_c"]),
    (Channel::Oil, "degF", &["oil_f"]),
];

#[cfg(test)]
mod channel_tests {
    use super::*;
    use crate::trace::{Analyzer, TraceContext, TraceSummary};
    use std::fmt::Write as _;

    fn read(profile: &str, log: &str) -> TraceSummary {
        let mut analyzer = Analyzer::new(TraceContext::bare(&LoggerProfile::from_toml(profile).unwrap()));
        analyzer.push(log.as_bytes());
        analyzer.finish().unwrap()
    }

    /// Median lambda at cruise of a log whose last column stands at one value, give or take.
    fn lambda_of(column: &str, name: &str, value: impl Fn(u32) -> f64) -> f64 {
        let profile = format!(
            "name = \"test\"\n[[column]]\nchannel = \"time\"\nnames = [\"T\"]\n[[column]]\nchannel = \"speed\"\nnames = [\"N\"]\n\
             [[column]]\nchannel = \"throttle\"\nnames = [\"TP\"]\n{column}"
        );
        let mut log = format!("T,N,TP,{name}\n");
        for i in 0..5000 {
            let _ = writeln!(log, "{:.2},2000,20,{:.4}", f64::from(i) / 100.0, value(i));
        }
        let summary = read(&profile, &log);
        summary.regime(crate::setup::Regime::Cruise).unwrap().lambda.unwrap().median.as_ratio()
    }

    #[test]
    fn volts_through_a_line_and_through_a_table() {
        let line = "[[column]]\nchannel = \"lambda\"\nnames = [\"WB\"]\nunit = \"V\"\nvolts = [[0.0, 0.68], [5.0, 1.36]]\n";
        let at = lambda_of(line, "WB", |i| 2.0 + f64::from(i % 3) * 0.0001);
        assert!((at - 0.952).abs() < 0.0011, "{at}");
        let table = line.replace("[5.0, 1.36]", "[1.0, 0.80], [5.0, 1.36]");
        let at = lambda_of(&table, "WB", |i| 0.5 + f64::from(i % 3) * 0.0001);
        assert!((at - 0.740).abs() < 0.0011, "{at}");
    }

    #[test]
    fn a_ratio_by_the_scale_of_its_display() {
        let column = "[[column]]\nchannel = \"lambda\"\nnames = [\"AFR\"]\nunit = \"AFR\"\n";
        let value = |i: u32| 13.23 + f64::from(i % 3) * 0.0001;
        assert!((lambda_of(column, "AFR", value) - 0.900).abs() < 0.0011);
        let scaled = format!("{column}stoichiometric = \"14.1 AFR\"\n");
        assert!((lambda_of(&scaled, "AFR", value) - 0.938).abs() < 0.0011);
    }

    #[test]
    fn a_loggers_own_columns_go_before_the_dyno_names_and_no_name_is_two_things() {
        let text = "name = \"x\"\n[[column]]\nchannel = \"speed\"\nnames = [\"Speed\"]\n";
        let own = LoggerProfile::from_toml(text).unwrap();
        let both = own.with_dyno();
        assert_eq!(both.columns[0], own.columns[0]);
        let named = |name: &str| {
            let has = |c: &&ColumnMap| c.names.iter().any(|n| n.eq_ignore_ascii_case(name));
            both.columns.iter().filter(has).map(|c| c.channel).collect::<Vec<_>>()
        };
        assert_eq!(named("speed"), [Channel::Speed], "the tool's own road speed is not taken for it");
        assert_eq!(named("torque_n_m"), [Channel::Torque]);
        assert_eq!(LoggerProfile::standard().with_dyno(), LoggerProfile::dyno());
        let bare = LoggerProfile::from_toml(&format!("header = false\n{text}")).unwrap();
        assert_eq!(bare.with_dyno(), bare, "columns that are counted stay as they are");
    }

    #[test]
    fn profiles_that_cannot_work_are_refused() {
        let column = |rest: &str| {
            LoggerProfile::from_toml(&format!("name = \"x\"\n[[column]]\nchannel = \"lambda\"\n{rest}"))
        };
        for (rest, word) in [
            ("names = []", "no names"),
            ("names = [\"a\"]\nunit = \"V\"", "voltage"),
            ("names = [\"a\"]\nvolts = [[0.0, 1.0]]", "two points"),
            ("names = [\"a\"]\nvolts = [[1.0, 1.0], [0.0, 2.0]]", "rise"),
            ("names = [\"a\"]\nscale = 0.0", "not zero"),
            ("names = [\"a\"]\ncolour = 1", "unknown field"),
        ] {
            let error = column(rest).unwrap_err().to_string();
            assert!(error.contains(word), "{rest}: {error}");
        }
        assert!(column("names = [\"a\"]").is_ok());
    }

    #[test]
    fn rows_without_header_and_without_time() {
        let profile = "name = \"gauge\"\nheader = false\nperiod = \"10 ms\"\n[[column]]\nchannel = \"speed\"\nnames = []\n\
                       [[column]]\nchannel = \"vacuum\"\nnames = []\n";
        let log = "800,15.0\n801,15.0\n".repeat(250);
        let summary = read(profile, &log);
        assert_eq!(summary.rows, 500);
        assert!((summary.seconds.as_s() - 4.99).abs() < 0.02);
    }

    #[test]
    fn what_can_stand_between_columns_and_what_a_column_may_say() {
        let with = |key: &str| {
            let column = "[[column]]\nchannel = \"throttle\"\nnames = [\"TP\"]\n";
            let (top, below) = if key.starts_with("delimiter") { (key, "") } else { ("", key) };
            LoggerProfile::from_toml(&format!("name = \"x\"\n{top}\n{column}{below}\n")).is_ok()
        };
        for (delimiter, works) in [
            (",", true),
            (" ", true),
            ("\\t", true),
            ("~", true),
            ("a", false),
            ("7", false),
            (".", false),
            ("-", false),
            ("\\u00e9", false),
            ("\\u0001", false),
        ] {
            assert_eq!(with(&format!("delimiter = \"{delimiter}\"")), works, "{delimiter}");
        }
        for (key, works) in [
            ("unit = \"V\"\nvolts = [[0.0, 0.0], [5.0, 100.0]]", true),
            ("volts = [[0.0, 0.0], [5.0, 100.0]]", true),
            ("unit = \"V\"", false),
            ("unit = \"rpm\"", false),
            ("unit = \"rpm\"\nvolts = [[0.0, 0.0], [5.0, 100.0]]", false),
            ("volts = [[0.0, nan], [5.0, 100.0]]", false),
            ("volts = [[nan, 0.0], [5.0, 100.0]]", false),
            ("volts = [[0.0, 0.0]]", false),
            ("offset = 1.0", true),
            ("offset = inf", false),
            ("scale = inf", false),
            ("scale = 0.0", false),
            ("lag = \"2 s\"", true),
            ("lag = \"2.1 s\"", false),
            ("lag = \"-1 ms\"", false),
        ] {
            assert_eq!(with(key), works, "{key}");
        }
    }
}
