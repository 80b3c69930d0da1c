//! A logger profile guessed from a log's own header and first rows, with what is suspicious said.

use super::channel::Channel;
use super::columns::without_unit;
use super::encoding::Encoding;
use super::fault::{TraceError, excerpt};
use super::header;
use super::logger::{ColumnMap, LoggerProfile};
use super::number::{self, Cell};
use super::split;
use super::unit;

/// A guess, to be read before it is believed.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// The profile.
    pub profile: LoggerProfile,
    /// Why each column was taken for what it was.
    pub because: Vec<String>,
    /// What looks wrong.
    pub suspicious: Vec<String>,
}

impl Guess {
    /// The profile as TOML, to be saved and corrected.
    pub fn to_toml(&self) -> String {
        toml::to_string(&self.profile).unwrap_or_default()
    }
}

/// Words that name a channel, likeliest first; the first channel with a word in the name has it.
const WORDS: &[(Channel, &[&str])] = &[
    (
        Channel::Lambda2,
        &["lambda 2", "lambda2", "lambda_2", "afr 2", "afr2", "afr_2", "lambda b2", "afr right"],
    ),
    (Channel::Lambda, &["lambda", "afr", "a/f", "air fuel", "air/fuel", "wideband", "wbo2", "o2", "lam"]),
    (Channel::FuelPressure, &["fuel pres", "fuel_pres", "fuelpres", "fuel psi", "fp_", "fuel p"]),
    (Channel::Barometer, &["baro"]),
    (Channel::Manifold, &["map", "manifold"]),
    (Channel::Vacuum, &["vacuum", "vac"]),
    (Channel::Throttle, &["tps", "throttle", "tp ", "pedal"]),
    (Channel::Coolant, &["coolant", "clt", "ect", "water temp", "head temp", "cht", "engine temp"]),
    (Channel::IntakeAir, &["iat", "intake air", "air temp", "mat", "act"]),
    (Channel::AirFlow, &["air flow", "airflow", "air_flow", "maf"]),
    (Channel::Lateral, &["lateral", "lat acc", "lat_acc", "accel y", "accel_y"]),
    (Channel::Longitudinal, &["longitudinal", "long acc", "long_acc", "accel x", "accel_x"]),
    (Channel::Tilt, &["tilt", "slope", "inclin"]),
    (Channel::Speed, &["rpm", "engine speed", "tach", "1/min", "rev"]),
    (Channel::Time, &["time", "elapsed", "timestamp", "seconds", "secs", "clock"]),
];

/// What the numbers of a channel usually are, in its usual unit: for suspicion only.
const fn usual_range(channel: Channel) -> Option<(f64, f64)> {
    match channel {
        Channel::Speed => Some((0.0, 12_000.0)),
        Channel::Manifold => Some((10.0, 110.0)),
        Channel::Vacuum => Some((-1.0, 28.0)),
        Channel::Throttle => Some((-2.0, 102.0)),
        Channel::Coolant => Some((-30.0, 140.0)),
        _ => None,
    }
}

/// Guesses from the first bytes of a log (64 KiB are plenty).
pub fn guess(bytes: &[u8]) -> Result<Guess, TraceError> {
    guess_in(bytes, None)
}

/// As [`guess`], of a log whose text is written so.
pub fn guess_in(bytes: &[u8], encoding: Option<Encoding>) -> Result<Guess, TraceError> {
    header::not_something_else(bytes)?;
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let lines: Vec<&[u8]> = text
        .split(|b| matches!(b, b'\n' | b'\r'))
        .filter(|l| !l.trim_ascii().is_empty() && !split::is_comment(l.trim_ascii()))
        .take(200)
        .collect();
    let (at, separator) = best_header(&lines).ok_or_else(|| TraceError::NoHeader {
        line: 1,
        found: lines.first().map_or_else(String::new, |l| excerpt(l)),
        known: "time, rpm, map, vacuum, throttle, lambda, afr".to_owned(),
        remedy: "Write a logger profile with header = false and the columns in their order",
    })?;
    let encoding =
        encoding.or_else(|| std::str::from_utf8(lines[at]).is_err().then_some(Encoding::Windows1252));
    let names: Vec<String> = cells(lines[at], separator, encoding.unwrap_or_default());
    let rows: Vec<Vec<String>> = lines[at + 1..]
        .iter()
        .map(|l| cells(l, separator, Encoding::Utf8))
        .filter(|c| c.len() == names.len())
        .collect();
    let mut guess = Guess {
        profile: LoggerProfile {
            name: "guessed".to_owned(),
            delimiter: Some(char::from(separator)),
            encoding,
            columns: Vec::new(),
            ..LoggerProfile::standard()
        },
        because: Vec::new(),
        suspicious: Vec::new(),
    };
    let comma = separator != b',' && decimal_comma(&rows);
    guess.profile.decimal_comma = Some(comma);
    for (index, name) in names.iter().enumerate() {
        column(name, index, &rows, if comma { b',' } else { b'.' }, &mut guess);
    }
    if !guess.profile.columns.iter().any(|c| c.channel == Channel::Time) {
        guess.suspicious.push("no time column: give the time between rows (period = \"10 ms\")".to_owned());
    }
    Ok(guess)
}

fn cells(line: &[u8], separator: u8, encoding: Encoding) -> Vec<String> {
    let cells = split::cells(line, separator).unwrap_or_default();
    cells.iter().map(|c| encoding.text(c.trim_ascii()).into_owned()).collect()
}

/// The line and separator that give the most names that mean something.
fn best_header(lines: &[&[u8]]) -> Option<(usize, u8)> {
    let mut best: Option<(usize, usize, u8)> = None;
    for (n, line) in lines.iter().take(30).enumerate() {
        for separator in header::SEPARATORS {
            let known =
                cells(line, separator, Encoding::Utf8).iter().filter(|c| channel_of(c).is_some()).count();
            if known > best.map_or(0, |b| b.0) {
                best = Some((known, n, separator));
            }
        }
    }
    best.map(|(_, n, separator)| (n, separator))
}

fn channel_of(name: &str) -> Option<Channel> {
    let lower = name.to_lowercase();
    // A word at the start, or after something that is no letter: "map" but not "sitemap".
    let has = |word: &str| {
        lower
            .match_indices(word)
            .any(|(at, _)| lower[..at].chars().next_back().is_none_or(|c| !c.is_alphabetic()))
    };
    WORDS.iter().find(|(_, words)| words.iter().any(|w| has(w))).map(|(channel, _)| *channel)
}

fn decimal_comma(rows: &[Vec<String>]) -> bool {
    let all = || rows.iter().flatten();
    let comma = all()
        .filter(|c| c.contains(',') && matches!(number::cell(c.as_bytes(), b','), Cell::Number(_)))
        .count();
    let point = all()
        .filter(|c| c.contains('.') && matches!(number::cell(c.as_bytes(), b'.'), Cell::Number(_)))
        .count();
    comma > point
}

fn column(name: &str, index: usize, rows: &[Vec<String>], point: u8, guess: &mut Guess) {
    let Some(channel) = channel_of(name) else { return };
    if guess.profile.columns.iter().any(|c| c.channel == channel) {
        guess.because.push(format!("\"{name}\" looks like {} too; it was left out", channel.name()));
        return;
    }
    let mut values: Vec<f64> = rows
        .iter()
        .filter_map(|r| match number::cell(r.get(index)?.as_bytes(), point) {
            Cell::Number(v) => Some(v),
            _ => None,
        })
        .collect();
    if values.is_empty() && !rows.is_empty() {
        not_numbers(name, channel, rows.iter().find_map(|r| r.get(index).filter(|c| !c.is_empty())), guess);
        return;
    }
    let steps: Vec<f64> = values.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0.0).collect();
    values.sort_by(f64::total_cmp);
    let numbers =
        Numbers { middle: values.get(values.len() / 2).copied(), highest: values.last().copied(), steps };
    if values.len() > 20 && values.first() == values.last() && channel != Channel::Barometer {
        guess
            .suspicious
            .push(format!("\"{name}\" does not move in the first {} rows: is it connected?", values.len()));
    }
    let written = written_unit(name, channel);
    let scale = odd_scale(channel, written.as_deref(), &numbers, name, &mut guess.suspicious);
    let numbers = scale.map_or(numbers.clone(), |scale| numbers.times(scale));
    let unit = guess_unit(channel, written.clone(), &numbers, name, guess);
    let from = written.map_or_else(|| "its numbers".to_owned(), |w| format!("\"{w}\" in its name"));
    guess.because.push(format!("\"{name}\" is {} in {unit}, by its name and {from}", channel.name()));
    if let (Some((low, high)), Some(middle)) = (usual_range(channel), numbers.middle)
        && let Some((scale, offset)) = unit::to_inside(channel, &unit, None)
    {
        let inside = middle * scale + offset;
        if inside < low || inside > high {
            guess
                .suspicious
                .push(format!("\"{name}\" is mostly near {middle} {unit}: no usual {}", channel.name()));
        }
    }
    guess.profile.columns.push(ColumnMap {
        channel,
        names: vec![name.to_owned()],
        unit: Some(unit),
        volts: Vec::new(),
        scale,
        offset: None,
        stoichiometric: None,
        lag: None,
    });
}

/// What a column's numbers look like.
#[derive(Debug, Clone)]
struct Numbers {
    middle: Option<f64>,
    highest: Option<f64>,
    /// Steps upward from row to row.
    steps: Vec<f64>,
}

impl Numbers {
    fn times(&self, scale: f64) -> Self {
        Self {
            middle: self.middle.map(|m| m * scale),
            highest: self.highest.map(|h| h * scale),
            steps: self.steps.clone(),
        }
    }
}

/// A column without one plain number is left out, and why is said.
fn not_numbers(name: &str, channel: Channel, example: Option<&String>, guess: &mut Guess) {
    let Some(example) = example.map(|e| excerpt(e.as_bytes())) else {
        guess.suspicious.push(format!("\"{name}\" is empty in the first rows; it was left out"));
        return;
    };
    let what = if channel == Channel::Time {
        format!(
            "\"{name}\" holds no plain numbers ({example}): a time of day is not read. Export seconds or milliseconds, \
             or give the time between rows (period = \"10 ms\")"
        )
    } else {
        format!("\"{name}\" holds no plain numbers ({example}); it was left out")
    };
    guess.suspicious.push(what);
}

/// Numbers that are the quantity times something: lambda in thousandths, speed in thousands, vacuum below zero.
fn odd_scale(
    channel: Channel,
    written: Option<&str>,
    numbers: &Numbers,
    name: &str,
    suspicious: &mut Vec<String>,
) -> Option<f64> {
    let (middle, highest) = (numbers.middle?, numbers.highest?);
    let (scale, what) = match channel {
        Channel::Lambda | Channel::Lambda2 if (550.0..1700.0).contains(&middle) => {
            (0.001, "lambda in thousandths")
        }
        Channel::Speed if highest > 0.0 && highest < 30.0 && written != Some("krpm") => {
            (1000.0, "thousands of rpm")
        }
        Channel::Vacuum if middle < -1.5 => {
            (-1.0, "pressure against the air outside, which is vacuum below zero")
        }
        _ => return None,
    };
    suspicious.push(format!("\"{name}\" is mostly near {middle}: taken for {what} (scale = {scale})"));
    Some(scale)
}

/// A unit said in the name, in brackets or after the last underscore or space.
fn written_unit(name: &str, channel: Channel) -> Option<String> {
    let (bare, bracket) = without_unit(name);
    let tail = bare.rsplit(['_', ' ']).next().filter(|t| *t != bare);
    let tail = tail.map(|t| match t.to_lowercase().as_str() {
        "pct" => "%".to_owned(),
        "rpm" => "rpm".to_owned(),
        "c" => "degC".to_owned(),
        "f" => "degF".to_owned(),
        _ => t.to_owned(),
    });
    let whole =
        ["rpm", "afr", "lambda"].into_iter().find(|w| bare.to_lowercase().contains(w)).map(str::to_owned);
    let candidates = bracket.map(str::to_owned).into_iter().chain(tail).chain(whole);
    candidates.into_iter().find(|u| !u.is_empty() && unit::to_inside(channel, u, None).is_some())
}

/// The unit, by what is written and by the numbers; what does not fit together is said.
fn guess_unit(
    channel: Channel,
    written: Option<String>,
    numbers: &Numbers,
    name: &str,
    guess: &mut Guess,
) -> String {
    let Some(middle) = numbers.middle else {
        return written.unwrap_or_else(|| unit::usual(channel).to_owned());
    };
    let steps = &numbers.steps;
    let step = steps.get(steps.len() / 2).copied().unwrap_or(0.0);
    let highest = numbers.highest.unwrap_or(middle);
    let mut suspect = |what: String| guess.suspicious.push(what);
    match channel {
        Channel::Lambda | Channel::Lambda2 => lambda_unit(written, middle, highest, name, &mut suspect),
        Channel::Time if written.is_none() || written.as_deref() == Some("s") => {
            if step.fract() == 0.0 && steps.len() > 5 && step > 1.5 {
                let (unit, said) =
                    if step < 1000.0 { ("ms", "milliseconds") } else { ("us", "microseconds") };
                suspect(format!("\"{name}\" goes up by {step} from row to row: taken for {said}"));
                return unit.to_owned();
            }
            if step == 1.0 && steps.len() > 5 {
                suspect(format!(
                    "\"{name}\" goes up by 1 from row to row: taken for seconds; if they are milliseconds, or row \
                     numbers, say so (unit = \"ms\", or period = \"10 ms\" without a time column)"
                ));
            }
            "s".to_owned()
        }
        Channel::Manifold if written.is_none() => match highest {
            h if h <= 2.0 => "bar".to_owned(),
            h if h <= 17.0 => "psi".to_owned(),
            h if h <= 34.0 => "inHg".to_owned(),
            _ => "kPa".to_owned(),
        },
        Channel::Vacuum if written.is_none() => {
            if highest > 35.0 {
                "kPa".to_owned()
            } else {
                "inHg".to_owned()
            }
        }
        Channel::Throttle if written.is_none() && highest <= 1.0 => "ratio".to_owned(),
        Channel::Throttle if written.is_none() && highest <= 5.0 && middle > 0.2 => {
            suspect(format!(
                "\"{name}\" stays between 0 and 5 ({highest} at most): if it is a voltage, give its points (volts = \
                 [[0.5, 0.0], [4.5, 100.0]])"
            ));
            "%".to_owned()
        }
        Channel::Coolant | Channel::IntakeAir if written.is_none() && highest > 140.0 => {
            suspect(format!("\"{name}\" reaches {highest}: taken for degF"));
            "degF".to_owned()
        }
        _ => written.unwrap_or_else(|| unit::usual(channel).to_owned()),
    }
}

/// Lambda, air-fuel ratio or voltage, by the numbers: a column called AFR that holds 0.9 is lambda.
fn lambda_unit(
    written: Option<String>,
    middle: f64,
    highest: f64,
    name: &str,
    suspect: &mut impl FnMut(String),
) -> String {
    let says_ratio = name.to_lowercase().contains("afr");
    let by_numbers = match middle {
        m if (0.55..1.7).contains(&m) && highest < 2.5 => "lambda",
        m if m > 8.5 && m < 25.0 => "AFR",
        m if m > 5.0 && m <= 8.5 => {
            suspect(format!(
                "\"{name}\" is mostly near {m}: a ratio of another fuel than gasoline (methanol is 6.4), or not a ratio; give stoichiometric = \"... AFR\""
            ));
            "AFR"
        }
        m if m <= 5.0 => {
            suspect(format!(
                "\"{name}\" is mostly near {m}: neither lambda nor a ratio; if it is a voltage, give its points (volts = [[0.0, 0.68], [5.0, 1.36]])"
            ));
            "V"
        }
        m => {
            suspect(format!("\"{name}\" is mostly near {m}: neither lambda nor a ratio"));
            return written.unwrap_or_else(|| "lambda".to_owned());
        }
    };
    if says_ratio && by_numbers == "lambda" {
        suspect(format!("\"{name}\" is called a ratio but holds lambda (mostly {middle}): taken for lambda"));
    } else if !says_ratio && written.as_deref() == Some("lambda") && by_numbers == "AFR" {
        suspect(format!(
            "\"{name}\" is called lambda but holds a ratio (mostly {middle}): taken for AFR on a display scale of 14.7"
        ));
    }
    if by_numbers == "AFR" && (9.0..11.0).contains(&middle) {
        suspect(format!(
            "\"{name}\" is mostly near {middle}: if that is E85 on its own scale, give stoichiometric = \"9.8 AFR\""
        ));
    }
    by_numbers.to_owned()
}

#[cfg(test)]
mod tests;
