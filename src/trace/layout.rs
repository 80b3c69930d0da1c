//! Which column is what, and how its numbers become the quantity: settled once, from the header.

use super::channel::Channel;

/// Most columns that can be used at once.
pub(super) const MOST_USED: usize = Channel::ALL.len();

/// A column that is used. Numbers become `number * scale + offset`, or go through the table first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Used {
    /// Its place in the line, from 0.
    pub(super) index: usize,
    /// What it is.
    pub(super) channel: Channel,
    /// Multiplies the number.
    pub(super) scale: f64,
    /// Is added after.
    pub(super) offset: f64,
    /// The number is the quantity as it stands.
    pub(super) untouched: bool,
    /// Voltage and value, rising; empty for none.
    pub(super) volts: Vec<(f64, f64)>,
    /// Below this no such instrument reads (after conversion).
    pub(super) low: f64,
    /// Above this neither.
    pub(super) high: f64,
    /// Its name in the header, for messages.
    pub(super) name: String,
    /// A unit that stands behind the number in every cell; empty for none.
    pub(super) suffix: Vec<u8>,
}

/// The inside unit of each channel in a row: s, rpm, kPa, inHg, %, lambda, degC, kPa, degC, kPa, g/s, N m,
/// kW, m/s, g/s, %, degC, g, g, degrees; and the range beyond which a reading is no reading.
pub(super) const fn plausible(channel: Channel) -> (f64, f64) {
    match channel {
        Channel::Time => (-1e6, 1e10),
        Channel::Speed => (0.0, 30_000.0),
        Channel::Manifold => (0.0, 400.0),
        Channel::Vacuum => (-90.0, 35.0),
        Channel::Throttle => (-20.0, 130.0),
        Channel::Lambda | Channel::Lambda2 => (0.0, 20.0),
        Channel::Coolant | Channel::IntakeAir | Channel::Oil => (-60.0, 400.0),
        Channel::FuelPressure => (-50.0, 2_000.0),
        Channel::Barometer => (40.0, 115.0),
        Channel::AirFlow | Channel::FuelFlow => (-10.0, 5_000.0),
        Channel::Torque => (-5_000.0, 50_000.0),
        Channel::Power => (-5_000.0, 10_000.0),
        Channel::RoadSpeed => (-10.0, 250.0),
        Channel::Humidity => (0.0, 105.0),
        Channel::Lateral | Channel::Longitudinal => (-5.0, 5.0),
        Channel::Tilt => (-90.0, 90.0),
    }
}

/// The shape of a line of readings.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    /// Between columns.
    pub(super) delimiter: u8,
    /// Decimal sign.
    pub(super) point: u8,
    /// Line end: line feed, or carriage return in files that have no other.
    pub(super) line_end: u8,
    /// Columns in a line.
    pub(super) fields: usize,
    /// Those used, in order of their place.
    pub(super) used: Vec<Used>,
    /// The header as it stands, to know it when it comes again; empty without one.
    pub(super) header: Vec<u8>,
    /// Records may go over several lines (a note in quotes): not on a live line.
    pub(super) join_lines: bool,
    /// Longest line that is read: a live line's are short, or the line is garbled.
    pub(super) longest_line: usize,
}

impl Layout {
    /// The place in a row of a channel's value.
    pub(super) fn slot(&self, channel: Channel) -> Option<usize> {
        self.used.iter().position(|u| u.channel == channel)
    }
}

impl Used {
    /// A cell without the unit that stands in every cell of this column.
    pub(super) fn bare<'a>(&self, cell: &'a [u8]) -> &'a [u8] {
        if self.suffix.is_empty() {
            return cell;
        }
        cell.trim_ascii().strip_suffix(self.suffix.as_slice()).unwrap_or(cell)
    }

    /// The quantity a number of this column stands for; NaN outside a voltage table.
    #[inline]
    pub(super) fn convert(&self, number: f64) -> f64 {
        if self.untouched {
            return number;
        }
        let number = if self.volts.is_empty() { number } else { self.through_table(number) };
        number * self.scale + self.offset
    }

    /// Straight lines between the points. Voltages a little beyond the ends (2 % of the span) are the ends.
    fn through_table(&self, volts: f64) -> f64 {
        let (Some(first), Some(last)) = (self.volts.first(), self.volts.last()) else {
            return volts;
        };
        let slack = 0.02 * (last.0 - first.0);
        if volts < first.0 - slack || volts > last.0 + slack {
            return f64::NAN;
        }
        let volts = volts.clamp(first.0, last.0);
        let after = self.volts.partition_point(|p| p.0 < volts).clamp(1, self.volts.len() - 1);
        let (a, b) = (self.volts[after - 1], self.volts[after]);
        a.1 + (b.1 - a.1) * (volts - a.0) / (b.0 - a.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_a_little_below_nothing_are_readings() {
        for channel in Channel::ALL {
            let (low, high) = plausible(channel);
            assert!(low <= 0.0 || channel == Channel::Barometer, "{channel:?} from {low}");
            assert!(high > low && high > 0.0, "{channel:?} to {high}");
        }
        for (channel, reads) in [
            (Channel::Throttle, -2.0),
            (Channel::Coolant, -40.0),
            (Channel::FuelPressure, -5.0),
            (Channel::AirFlow, -0.5),
            (Channel::Torque, -50.0),
            (Channel::Power, -10.0),
            (Channel::RoadSpeed, -0.5),
            (Channel::Lateral, -1.2),
            (Channel::Longitudinal, -1.2),
            (Channel::Tilt, -30.0),
            (Channel::Vacuum, -2.0),
            (Channel::Time, -10.0),
        ] {
            assert!(plausible(channel).0 < reads, "{channel:?}");
        }
    }

    #[test]
    fn a_table_of_voltages_is_straight_between_its_points_and_ends_a_little_beyond_them() {
        let used = Used {
            index: 0,
            channel: Channel::Throttle,
            scale: 1.0,
            offset: 0.0,
            untouched: false,
            volts: vec![(0.5, 10.0), (2.5, 20.0), (4.5, 80.0)],
            low: -20.0,
            high: 130.0,
            name: String::new(),
            suffix: Vec::new(),
        };
        for (volts, value) in [
            (0.5, 10.0),
            (1.5, 15.0),
            (2.5, 20.0),
            (3.0, 35.0),
            (4.5, 80.0),
            // 2 % of four volts
            (0.43, 10.0),
            (4.57, 80.0),
        ] {
            assert!((used.convert(volts) - value).abs() < 1e-9, "{volts} V: {}", used.convert(volts));
        }
        assert!(used.convert(0.41).is_nan() && used.convert(4.59).is_nan(), "a wire is off");
    }
}
