//! Rows as they stand: for files that are tables of a test (dyno pulls) rather than a log of driving.

use super::channel::Channel;
use super::columns::without_unit;
use super::fault::{Fault, FaultKind, Tally, TraceError};
use super::header::Head;
use super::logger::LoggerProfile;
use super::reader::Reader;
use super::rows::Block;
use super::summary::{LineCounts, Note};
use crate::units::{
    EngineSpeed, Fraction, Lambda, MassFlow, Power, Pressure, PressureDifference, Temperature, TimeSpan,
    Torque, Vacuum, Velocity,
};
use std::collections::BTreeMap;

/// Rows that are kept: half an hour at a hundred rows a second.
const MOST_ROWS: usize = 200_000;

/// Why no table can be made of a file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// It cannot be read as a table at all.
    #[error("{0}")]
    Trace(#[from] TraceError),
    /// A column is named without a unit.
    #[error(
        "line {line}, column {column}: \"{name}\" does not say its unit; call it {would_do}, or map it in a logger profile"
    )]
    NoUnit {
        /// Header line.
        line: u64,
        /// Column, from 1.
        column: usize,
        /// Its name.
        name: String,
        /// Names that would do.
        would_do: &'static str,
    },
    /// More rows than such a file has.
    #[error("more than {MOST_ROWS} rows; cut the file to the runs that matter")]
    TooManyRows,
}

/// A table read from pushed bytes, or from one file after another.
#[derive(Debug)]
pub struct TableReader {
    reader: Reader,
    table: Table,
    failed: Option<TableError>,
}

/// The rows of a file, and what was met on the way.
#[derive(Debug, Default)]
pub struct Table {
    channels: Vec<Channel>,
    values: Vec<f64>,
    lines: Vec<u64>,
    /// Time between rows where the file has no time and the logger profile gives it.
    period: Option<TimeSpan>,
    counts: LineCounts,
    tally: Tally,
    notes: Vec<Note>,
}

impl TableReader {
    /// Ready for the first byte.
    pub fn new(logger: &LoggerProfile) -> Self {
        let table = Table { period: logger.period, ..Table::default() };
        Self { reader: Reader::new(logger, false), table, failed: None }
    }

    /// Takes the next bytes. A file that cannot be read is known at once.
    pub fn push(&mut self, bytes: &[u8]) -> Result<(), TableError> {
        self.feed(Some(bytes))
    }

    /// The file is at its end.
    pub fn finish(mut self) -> Result<Table, TableError> {
        self.feed(None)?;
        if self.table.lines.is_empty() {
            let ragged = self.table.tally.of(FaultKind::Ragged);
            let why = match ragged {
                0 => "the table has a header and nothing under it".to_owned(),
                n => format!("{n} lines do not have as many columns as the header; is the separator right?"),
            };
            return Err(TraceError::NoRows { why }.into());
        }
        Ok(self.table)
    }

    fn feed(&mut self, bytes: Option<&[u8]>) -> Result<(), TableError> {
        let mut refused = self.failed.take();
        if refused.is_none() {
            let table = &mut self.table;
            let mut sink = |head: &Head, block: &Block| {
                if refused.is_none() {
                    refused = table.take(head, block).err();
                }
                Ok(())
            };
            let read = match bytes {
                Some(bytes) => self.reader.push(bytes, &mut sink),
                None => self.reader.finish(&mut sink),
            };
            refused = refused.or_else(|| read.err().map(TableError::Trace));
        }
        self.failed.clone_from(&refused);
        refused.map_or(Ok(()), Err)
    }
}

/// Names that say nothing of a unit, and what would.
const BARE: [(Channel, &str); 3] = [
    (Channel::Torque, "torque_n_m or torque_lbf_ft"),
    (Channel::Power, "power_kw, power_hp or power_ps"),
    (Channel::RoadSpeed, "speed_km_h or speed_mph"),
];

fn without_units(head: &Head) -> Option<TableError> {
    if head.lines.units > 0 {
        return None;
    }
    let bare = |u: &&super::layout::Used| {
        let name = head.names.get(u.index).map(String::as_str).unwrap_or_default();
        let plain =
            ["torque", "power", "speed", "road_speed"].iter().any(|n| name.trim().eq_ignore_ascii_case(n));
        plain && without_unit(name).1.is_none()
    };
    let used = head.layout.used.iter().find(bare)?;
    let (_, would_do) = BARE.iter().find(|b| b.0 == used.channel)?;
    Some(TableError::NoUnit {
        line: head.lines.lines,
        column: used.index + 1,
        name: used.name.clone(),
        would_do,
    })
}

impl Table {
    fn take(&mut self, head: &Head, block: &Block) -> Result<(), TableError> {
        if self.channels.is_empty() {
            if let Some(refusal) = without_units(head) {
                return Err(refusal);
            }
            self.channels = head.layout.used.iter().map(|u| u.channel).collect();
            self.notes.extend(head.notes.iter().cloned());
        }
        let base = self.counts.lines;
        self.tally.take(&block.faults, base);
        self.counts.add(&block.lines);
        self.values.extend_from_slice(&block.values);
        self.lines.extend(block.line_of.iter().map(|l| base + u64::from(*l)));
        if self.lines.len() > MOST_ROWS { Err(TableError::TooManyRows) } else { Ok(()) }
    }

    /// Channels that have a column.
    pub fn channels(&self) -> &[Channel] {
        &self.channels
    }

    /// Every row.
    pub fn rows(&self) -> impl Iterator<Item = TableRow<'_>> {
        let values = self.values.chunks_exact(self.channels.len().max(1));
        values.zip(&self.lines).enumerate().map(|(number, (values, line))| TableRow {
            table: self,
            values,
            line: *line,
            number,
        })
    }

    /// Where every line went.
    pub fn line_counts(&self) -> &LineCounts {
        &self.counts
    }

    /// The first faults of each kind with their place, and how many there were of each.
    pub fn faults(&self) -> (Vec<Fault>, BTreeMap<FaultKind, u64>) {
        self.tally.clone().into_parts()
    }

    /// What is worth saying about the columns.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }
}

/// One row. A cell that is empty, or holds no number such an instrument shows, gives nothing.
#[derive(Debug, Clone, Copy)]
pub struct TableRow<'a> {
    table: &'a Table,
    values: &'a [f64],
    line: u64,
    number: usize,
}

impl TableRow<'_> {
    fn value(&self, channel: Channel) -> Option<f64> {
        let at = self.table.channels.iter().position(|c| *c == channel)?;
        self.values.get(at).copied().filter(|v| v.is_finite())
    }

    /// Its line in the file, from 1.
    pub fn line(&self) -> u64 {
        self.line
    }

    /// Time by the file's clock, or by its number where the logger profile gives a period.
    pub fn time(&self) -> Option<TimeSpan> {
        let counted = || self.table.period.map(|p| p * self.number as f64);
        self.value(Channel::Time).map(TimeSpan::from_s).or_else(counted)
    }

    /// Engine speed.
    pub fn speed(&self) -> Option<EngineSpeed> {
        self.value(Channel::Speed).map(EngineSpeed::from_rpm)
    }

    /// Road or roller speed.
    pub fn road_speed(&self) -> Option<Velocity> {
        self.value(Channel::RoadSpeed).map(Velocity::from_m_s)
    }

    /// Torque.
    pub fn torque(&self) -> Option<Torque> {
        self.value(Channel::Torque).map(Torque::from_n_m)
    }

    /// Power.
    pub fn power(&self) -> Option<Power> {
        self.value(Channel::Power).map(Power::from_kw)
    }

    /// Throttle opening.
    pub fn throttle(&self) -> Option<Fraction> {
        self.value(Channel::Throttle).map(|v| Fraction::from_ratio(v / 100.0))
    }

    /// Manifold vacuum as a gauge shows it.
    pub fn vacuum(&self) -> Option<Vacuum> {
        self.value(Channel::Vacuum).map(Vacuum::from_inhg)
    }

    /// Absolute manifold pressure.
    pub fn manifold(&self) -> Option<Pressure> {
        self.value(Channel::Manifold).map(Pressure::from_kpa)
    }

    /// Lambda.
    pub fn lambda(&self) -> Option<Lambda> {
        self.value(Channel::Lambda).map(Lambda::from_ratio)
    }

    /// Fuel flow.
    pub fn fuel_flow(&self) -> Option<MassFlow> {
        self.value(Channel::FuelFlow).map(MassFlow::from_g_s)
    }

    /// Fuel pressure on a gauge.
    pub fn fuel_pressure(&self) -> Option<PressureDifference> {
        self.value(Channel::FuelPressure).map(PressureDifference::from_kpa)
    }

    /// Station pressure.
    pub fn barometer(&self) -> Option<Pressure> {
        self.value(Channel::Barometer).map(Pressure::from_kpa)
    }

    /// Air breathed.
    pub fn intake_air(&self) -> Option<Temperature> {
        self.value(Channel::IntakeAir).map(Temperature::from_c)
    }

    /// Relative humidity.
    pub fn humidity(&self) -> Option<Fraction> {
        self.value(Channel::Humidity).map(|v| Fraction::from_ratio(v / 100.0))
    }

    /// Oil.
    pub fn oil(&self) -> Option<Temperature> {
        self.value(Channel::Oil).map(Temperature::from_c)
    }

    /// Coolant or head.
    pub fn coolant(&self) -> Option<Temperature> {
        self.value(Channel::Coolant).map(Temperature::from_c)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn read(text: &str) -> Result<Table, TableError> {
        let mut reader = TableReader::new(&LoggerProfile::dyno());
        reader.push(text.as_bytes())?;
        reader.finish()
    }

    const GOOD: &str = "rpm,torque_lbf_ft,power_hp,oil_f,note\n3000,200.5,114.5,200,first\n3010,,115,200,\n3020,bad,115,200,\n";

    #[test]
    fn units_are_in_the_names_and_empty_cells_give_nothing() {
        let table = read(GOOD).unwrap();
        let rows: Vec<_> = table.rows().collect();
        assert_eq!(rows.len(), 2, "the unreadable row is set aside");
        assert_relative_eq!(rows[0].torque().unwrap().as_lbf_ft(), 200.5, epsilon = 1e-9);
        assert_relative_eq!(rows[0].power().unwrap().as_hp(), 114.5, epsilon = 1e-9);
        assert_relative_eq!(rows[0].oil().unwrap().as_f(), 200.0, epsilon = 1e-9);
        assert_eq!((rows[1].torque(), rows[1].line(), rows[1].time()), (None, 3, None));
        let (faults, counts) = table.faults();
        assert_eq!(counts[&FaultKind::NotANumber], 1);
        assert_eq!(
            faults.iter().find(|f| f.kind == FaultKind::NotANumber).map(|f| (f.line, f.column)),
            Some((4, 2))
        );
    }

    #[test]
    fn a_bare_name_is_refused_unless_a_unit_stands_beside_it() {
        let refused = read("rpm,torque\n3000,200\n").unwrap_err().to_string();
        assert!(refused.starts_with("line 1, column 2: \"torque\" does not say its unit"), "{refused}");
        let bracketed = read("rpm;Torque (lb-ft)\n3000;200,5\n3010;201,5\n").unwrap();
        assert_relative_eq!(
            bracketed.rows().next().unwrap().torque().unwrap().as_lbf_ft(),
            200.5,
            epsilon = 1e-9
        );
        let under = read("rpm,torque\nrpm,Nm\n3000,200\n").unwrap();
        assert_relative_eq!(under.rows().next().unwrap().torque().unwrap().as_n_m(), 200.0, epsilon = 1e-9);
    }

    #[test]
    fn an_empty_table_and_a_picture_are_refused() {
        assert!(matches!(read("rpm,torque_n_m\n"), Err(TableError::Trace(TraceError::NoRows { .. }))));
        assert!(matches!(
            read("PK\x03\x04 and so on, for many bytes"),
            Err(TableError::Trace(TraceError::NotText { .. }))
        ));
    }

    proptest! {
        #[test]
        fn however_the_bytes_are_cut_the_rows_are_the_same(cuts in proptest::collection::vec(1usize..40, 0..12)) {
            let whole: Vec<_> = read(GOOD).unwrap().rows().map(|r| (r.line(), r.torque(), r.power())).collect();
            let mut reader = TableReader::new(&LoggerProfile::dyno());
            let mut rest = GOOD.as_bytes();
            for cut in cuts {
                let (now, later) = rest.split_at(cut.min(rest.len()));
                reader.push(now).unwrap();
                rest = later;
            }
            reader.push(rest).unwrap();
            let pieces: Vec<_> = reader.finish().unwrap().rows().map(|r| (r.line(), r.torque(), r.power())).collect();
            prop_assert_eq!(whole, pieces);
        }
    }

    #[test]
    fn each_column_is_read_in_its_unit() {
        let text = "time_s,rpm,speed_km_h,torque_n_m,power_kw,throttle_pct,vacuum_inhg,map_kpa,lambda,fuel_flow_g_s,\
                    fuel_pressure_kpa,baro_kpa,iat_c,rh_pct,oil_c,coolant_c,more\n\
                    0.5,3000,72,210,66,40,12,60,0.9,4,35,99,25,55,100,85,x\n";
        let table = read(text).unwrap();
        let row = table.rows().next().unwrap();
        let close =
            |got: Option<f64>, expected: f64| assert_relative_eq!(got.unwrap(), expected, epsilon = 1e-9);
        close(row.time().map(TimeSpan::as_s), 0.5);
        close(row.speed().map(EngineSpeed::as_rpm), 3000.0);
        close(row.road_speed().map(Velocity::as_m_s), 20.0);
        close(row.torque().map(Torque::as_n_m), 210.0);
        close(row.power().map(Power::as_kw), 66.0);
        close(row.throttle().map(Fraction::as_percent), 40.0);
        close(row.vacuum().map(Vacuum::as_inhg), 12.0);
        close(row.manifold().map(Pressure::as_kpa), 60.0);
        close(row.lambda().map(Lambda::as_ratio), 0.9);
        close(row.fuel_flow().map(MassFlow::as_g_s), 4.0);
        close(row.fuel_pressure().map(PressureDifference::as_kpa), 35.0);
        close(row.barometer().map(Pressure::as_kpa), 99.0);
        close(row.intake_air().map(Temperature::as_c), 25.0);
        close(row.humidity().map(Fraction::as_percent), 55.0);
        close(row.oil().map(Temperature::as_c), 100.0);
        close(row.coolant().map(Temperature::as_c), 85.0);
        assert_eq!((table.channels().len(), table.channels()[3]), (16, Channel::Torque));
        assert_eq!((table.line_counts().lines, table.line_counts().used), (2, 1));
        assert!(table.notes().iter().any(|n| n.what == "columns not used: more"), "{:?}", table.notes());
    }

    #[test]
    fn time_is_counted_where_the_profile_gives_a_period() {
        let logger = LoggerProfile { period: Some(TimeSpan::from_ms(20.0)), ..LoggerProfile::dyno() };
        let mut reader = TableReader::new(&logger);
        reader.push(b"rpm\n3000\n3010\n3020\n").unwrap();
        let table = reader.finish().unwrap();
        let times: Vec<_> = table.rows().map(|r| r.time().unwrap().as_s()).collect();
        assert_eq!(times, [0.0, 0.02, 0.04]);
    }

    #[test]
    fn what_would_do_is_named_for_each_bare_name() {
        for (name, would_do) in BARE.map(|(channel, would_do)| (channel.name().replace('-', "_"), would_do)) {
            let refused = read(&format!("rpm,{name}\n3000,200\n")).unwrap_err().to_string();
            assert!(refused.contains(&format!("call it {would_do}, or map it")), "{refused}");
        }
    }

    #[test]
    fn two_hundred_thousand_rows_and_no_more() {
        let head = super::super::header::settle(b"rpm\n1\n", true, false, &LoggerProfile::dyno());
        let (mut block, mut table) = (Block::default(), Table::default());
        block.line_of = vec![1; MOST_ROWS];
        assert_eq!(table.take(head.as_ref().unwrap().as_ref().unwrap(), &block), Ok(()));
        block.line_of = vec![1];
        assert_eq!(table.take(&head.unwrap().unwrap(), &block), Err(TableError::TooManyRows));
    }
}
