//! Reads the files of `pulls`.

use crate::analysis::pulls::{FileRows, Gearing, Reading, Row, with_speed};
use crate::cli::{Console, Fault};
use crate::trace::LoggerProfile;
use crate::trace::table::{Table, TableReader, TableRow};
use crate::units::Vacuum;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// The columns: those of the logger profile given by name or file, else of the setup's own logger, and the tool's own
/// names behind them.
pub(super) fn logger(
    given: Option<&Path>,
    own: Option<&LoggerProfile>,
    console: &Console,
) -> Result<LoggerProfile, Fault> {
    let Some(name) = given else {
        return Ok(own.map_or_else(LoggerProfile::dyno, LoggerProfile::with_dyno));
    };
    let given = crate::profile::load_logger(&name.to_string_lossy(), console.profiles.as_deref())
        .map_err(super::super::load_fault)?;
    Ok(given.with_dyno())
}

/// Pressure and temperature are among the columns.
pub(super) fn has_own_air(rows: &[Row]) -> bool {
    rows.iter().any(|r| r.barometer.is_some()) && rows.iter().any(|r| r.air_temperature.is_some())
}

/// Reads one file; rows that had to be set aside are said on stderr.
pub(super) fn read(
    label: Option<String>,
    path: &Path,
    logger: &LoggerProfile,
    gearing: Option<Gearing>,
    reading: Reading,
    console: &mut Console,
) -> Result<FileRows, Fault> {
    let name = if path.as_os_str() == "-" { "standard input".to_owned() } else { safe(path) };
    let table = table(path, &name, logger)?;
    say_faults(&name, &table, console);
    let mut rows: Vec<Row> = table.rows().map(|r| row(&r, &reading)).collect();
    let speed = with_speed(&mut rows, gearing).map_err(|e| Fault::input(format!("{name}: {e}")))?;
    Ok(FileRows { name, label, rows, speed, reading })
}

/// A path as it may be printed.
fn safe(path: &Path) -> String {
    let escape = |c: char| if c.is_control() { c.escape_unicode().to_string() } else { c.to_string() };
    path.to_string_lossy().chars().map(escape).collect()
}

fn table(path: &Path, name: &str, logger: &LoggerProfile) -> Result<Table, Fault> {
    let refuse = |e: crate::trace::table::TableError| Fault::input(format!("{name}: {e}"));
    let doing = || format!("could not read {name}");
    let mut source: Box<dyn Read> = if path.as_os_str() == "-" {
        Box::new(std::io::stdin().lock())
    } else {
        let kind = std::fs::metadata(path).map_err(|e| Fault::io(doing(), e))?;
        if !kind.is_file() {
            return Err(Fault::input(format!(
                "{name} is not a file; give a CSV file, or - for standard input"
            )));
        }
        Box::new(File::open(path).map_err(|e| Fault::io(doing(), e))?)
    };
    let mut reader = TableReader::new(logger);
    let mut buffer = vec![0; 1 << 16];
    loop {
        match source.read(&mut buffer) {
            Ok(0) => return reader.finish().map_err(refuse),
            Ok(n) => reader.push(&buffer[..n]).map_err(refuse)?,
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(e) => return Err(Fault::io(doing(), e)),
        }
    }
}

fn say_faults(name: &str, table: &Table, console: &mut Console) {
    let set_aside = table.line_counts().quarantined;
    if set_aside > 0 {
        let (faults, _) = table.faults();
        let first = faults.first().map(|f| format!("; first at {f}")).unwrap_or_default();
        console.complain(&format!("{name}: {set_aside} rows could not be read and were set aside{first}"));
    }
    for note in table.notes().iter().filter(|n| n.name != "unused-columns") {
        console.complain(&format!("{name}: {}", note.what));
    }
}

/// A row of the table; vacuum from the manifold pressure and a barometer where it is not logged itself.
fn row(r: &TableRow<'_>, reading: &Reading) -> Row {
    let barometer = r.barometer().or(reading.air.map(|a| a.pressure()));
    let vacuum = || Some(Vacuum::below(barometer?, r.manifold()?));
    Row {
        line: r.line(),
        time: r.time(),
        speed: r.speed(),
        road_speed: r.road_speed(),
        torque: r.torque(),
        power: r.power(),
        throttle: r.throttle(),
        vacuum: r.vacuum().or_else(vacuum),
        lambda: r.lambda(),
        fuel_flow: r.fuel_flow(),
        fuel_pressure: r.fuel_pressure(),
        barometer: r.barometer(),
        air_temperature: r.intake_air(),
        humidity: r.humidity(),
        oil: r.oil(),
        coolant: r.coolant(),
    }
}
