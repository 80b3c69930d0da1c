//! The quick door and the slow one, on the same text: nobody must be able to tell which a row came through.

use super::super::channel::Channel;
use super::super::layout::plausible;
use super::*;
use crate::numeric::rng::Chance;

const CHANNELS: [Channel; 6] =
    [Channel::Time, Channel::Speed, Channel::Manifold, Channel::Throttle, Channel::Lambda, Channel::Coolant];

/// A column as it stands, in the inside unit.
pub(in crate::trace) fn used(index: usize, channel: Channel) -> Used {
    let (low, high) = plausible(channel);
    Used {
        index,
        channel,
        scale: 1.0,
        offset: 0.0,
        untouched: true,
        volts: Vec::new(),
        low,
        high,
        name: channel.name().to_owned(),
        suffix: Vec::new(),
    }
}

/// Six columns, of which all but `unread` are read.
pub(in crate::trace) fn layout(unread: &[usize]) -> Layout {
    let used = CHANNELS.iter().enumerate().map(|(index, channel)| used(index, *channel));
    Layout {
        delimiter: b',',
        point: b'.',
        line_end: b'\n',
        fields: CHANNELS.len(),
        used: used.filter(|u| !unread.contains(&u.index)).collect(),
        header: b"time,speed,manifold,throttle,lambda,coolant".to_vec(),
        join_lines: true,
        longest_line: LONGEST_LINE,
    }
}

/// One in `odd` cells, and as many lines, is out of the ordinary; all are when that is one.
fn text(layout: &Layout, lines: usize, odd: usize, seed: u64) -> Vec<u8> {
    const CELLS: [&str; 26] = [
        "",
        "-",
        "x",
        "1e3",
        "+5",
        " 7",
        "7 ",
        "-0.5",
        "-0",
        ".5",
        "5.",
        "1.2.3",
        "NaN",
        "12345678",
        "123456789",
        "1234567.25",
        "0.1234567",
        "0.12345678",
        "1234567890.12345",
        "1234567890123456",
        "99999999999",
        "\"7\"",
        "\"7,5\"",
        "/1",
        "1:2",
        "-12.5",
    ];
    const LINES: [&str; 21] = [
        "",
        " ",
        "# note",
        "// note",
        "%",
        "time,speed,manifold,throttle,lambda,coolant",
        "1,2,3",
        "1,2,3,4,0.9,6,7",
        "1,2,3,4,0.9,6,",
        "\"1,2,3,4,0.9,6",
        "1,2,3\0,4,0.9,6",
        "1,2,3\r,4,0.9,6",
        "1,2,3,4,0.9,6\r",
        ",,,,,",
        "# a,2,3,4,0.9,6",
        "%,2,3,4,0.9,6",
        "99999999999,2,3,4,99,6",
        "-1234.5678,2,3,4,0.9,6",
        "-1234.5678,2,3,4,0.9,6",
        "//,2,3,4,0.9,6",
        " ,2,3,4,0.9,6",
    ];
    let mut chance = Chance::with_seed(seed);
    let mut below = |n: usize| (chance.uniform() * n as f64) as usize;
    let mut text = String::new();
    for n in 0..lines {
        if below(odd) == 0 {
            text += LINES[below(LINES.len())];
        } else {
            let plain = [
                format!("{:.3}", n as f64 / 100.0 + 99_990.0),
                format!("{}", 800 + below(5000)),
                format!("{:.2}", 30.0 + below(7000) as f64 / 100.0),
                format!("{:.1}", below(1000) as f64 / 10.0),
                format!("{:.4}", 0.7 + below(6000) as f64 / 10_000.0),
                format!("{}", 70 + below(40)),
            ];
            for (place, cell) in plain.iter().enumerate() {
                text += if place == 0 { "" } else { "," };
                text += if below(odd * 6) == 0 { CELLS[below(CELLS.len())] } else { cell };
            }
        }
        text.push(char::from(layout.line_end));
    }
    text.into_bytes()
}

fn slowly(layout: &Layout, bytes: &[u8]) -> Block {
    let mut block = Block::default();
    while let Some(after) = line(layout, bytes, block.consumed, true, &mut block) {
        block.consumed = after;
    }
    block
}

fn assert_alike(layout: &Layout, bytes: &[u8], what: &str) {
    let mut quickly = Block::default();
    read(layout, bytes, true, &mut quickly);
    let slowly = slowly(layout, bytes);
    let bits = |b: &Block| b.values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
    assert_eq!(quickly.consumed, bytes.len(), "{what}");
    assert_eq!(quickly.lines, slowly.lines, "{what}");
    assert_eq!(quickly.line_of, slowly.line_of, "{what}");
    assert!(bits(&quickly) == bits(&slowly), "{what}: other numbers");
    assert_eq!(quickly.breaks, slowly.breaks, "{what}");
    assert_eq!(quickly.faults.into_parts(), slowly.faults.into_parts(), "{what}");
}

#[test]
fn quickly_and_slowly_the_same_rows() {
    for (unread, odd) in
        [(&[][..], 1000), (&[0, 2], 1000), (&[5], 40), (&[], 8), (&[0], 3), (&[1, 2, 3, 4], 8)]
    {
        let layout = layout(unread);
        for seed in 0..3 {
            let what = format!("without {unread:?}, one in {odd} odd, seed {seed}");
            assert_alike(&layout, &text(&layout, 900, odd, seed), &what);
        }
    }
    let returns = Layout { line_end: b'\r', ..layout(&[]) };
    assert_alike(&returns, &text(&returns, 900, 8, 7), "carriage returns");
    let mut scaled = layout(&[]);
    for u in &mut scaled.used {
        (u.scale, u.offset, u.untouched) = (0.1, 0.25, false);
    }
    assert_alike(&scaled, &text(&scaled, 900, 8, 8), "scaled");
    // Without a lambda nothing else shows that a number came out wrong.
    let mut bare = layout(&[4]);
    let points = ["12.50,2000,50,20,1,81\n", "-1234.5678,2000,50,20,1,81\n", "7,2000,50,20,1,81\n"]
        .map(|l| l.repeat(40));
    let points = points.concat();
    assert_alike(&bare, points.as_bytes(), "decimals in the time alone");
    for u in &mut bare.used {
        (u.scale, u.offset, u.untouched) = (0.5, 0.25, false);
    }
    assert_alike(&bare, points.as_bytes(), "and scaled");
    // Two numbers of a row beyond what any instrument shows.
    let beyond = format!("{0}99999999999,2000,50,20,99,81\n{0}", "7,2000,50,20,1,81\n".repeat(40));
    assert_alike(&layout(&[]), beyond.as_bytes(), "two beyond");
    let mut volts = layout(&[]);
    volts.used[3].volts = vec![(0.0, 10.0), (50.0, 20.0), (100.0, 90.0)];
    volts.used[3].untouched = false;
    assert_alike(&volts, &text(&volts, 900, 8, 9), "a table of voltages");
    volts.used.retain(|u| u.index == 3);
    assert_alike(&volts, &text(&volts, 900, 8, 9), "and nothing else");
    let short = Layout { longest_line: 40, ..layout(&[]) };
    assert_alike(&short, &text(&short, 900, 4, 10), "lines of forty bytes at most");
    let numbers = Layout { header: b"1,2,3,4,5,6".to_vec(), ..layout(&[]) };
    let mut named = numbers.clone();
    named.used.iter_mut().zip(1..).for_each(|(u, n)| u.name = n.to_string());
    let again = "5,2,3,4,5,6\n1,2,3,4,5,6\n6,2,3,4,5,6\n".repeat(20);
    assert_alike(&named, again.as_bytes(), "a header of numbers, again");
}

#[test]
fn a_line_is_read_the_same_wherever_it_stands() {
    let layout = layout(&[0]);
    let plain = "note,2000,50.25,20.0,0.9125,81\n";
    for odd in [
        "\u{b0}C,2000,50.25,20.0,0.9125,81\n",
        "note,2000,50.25,20.0,0.9125,81\r\n",
        "note,2000,50.25,20.0,0.9125,81,\n",
        "note,2000,50.25,20.0,0.9125,81,\r\n",
        "no\rte,2000,50.25,20.0,0.9125,81\n",
        "no\0te,2000,50.25,20.0,0.9125,81\n",
        "\"no,te\",2000,50.25,20.0,0.9125,81\n",
        "note,2000,50.25,20.0,-0.9125,81\n",
        "note,2000,50.25,-2.125,0.9125,-11\n",
        "note,,50.25,,0.9125,\n",
        "note,2000,1234567890.5,20.0,0.9125,81\n",
    ] {
        for before in 0..70 {
            let text = format!("# {}\n{plain}{odd}{plain}{odd}{odd}{plain}", "x".repeat(before));
            assert_alike(&layout, text.as_bytes(), &format!("{odd:?} after {before}"));
            let text =
                format!("# a first line of some length\n{}{plain}{odd}{plain}{plain}", "x".repeat(before));
            assert_alike(&layout, text.as_bytes(), &format!("one {odd:?} after {before}"));
        }
    }
    // At the end of a window, and through it.
    for shift in 0..40 {
        let text = format!("# {}\n{}", "x".repeat(shift), plain.repeat(1100));
        assert_alike(&layout, text.as_bytes(), &format!("windows shifted by {shift}"));
    }
}

#[test]
fn lines_are_counted_for_what_they_are() {
    let layout = layout(&[]);
    let text = "1,2,3,4,0.9,6\n\n # note\ntime,speed,manifold,throttle,lambda,coolant\n2,2,3,4,0.9,6\n\"3\n\",2,3,4,0.9,6\n\
                4,2,3,4,0.9,6\r5,2,3,4,0.9,6\r\n1,2\n6,2,3,4,0.9,6";
    let mut block = Block::default();
    read(&layout, text.as_bytes(), true, &mut block);
    let expected = LineCounts {
        lines: 11,
        blank: 1,
        comments: 1,
        headers_again: 1,
        continued: 1,
        quarantined: 1,
        used: 6,
        ..LineCounts::default()
    };
    assert_eq!(block.lines, expected);
    assert_eq!(block.values.chunks(6).map(|row| row[0]).collect::<Vec<_>>(), [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    assert_eq!(block.line_of, [1, 5, 6, 8, 9, 11]);
    assert_eq!(block.breaks, [1], "the logger started again before the second row");
    let (faults, _) = block.faults.into_parts();
    let places: Vec<_> = faults.iter().map(|f| (f.line, f.column, f.kind)).collect();
    assert_eq!(
        places,
        [
            (4, 0, FaultKind::HeaderAgain),
            (6, 0, FaultKind::Joined),
            (10, 0, FaultKind::Ragged),
            (11, 0, FaultKind::TornEnd)
        ]
    );
    // Unfinished, it waits.
    let mut block = Block::default();
    read(&layout, text.as_bytes(), false, &mut block);
    assert_eq!((block.lines.used, block.consumed), (5, text.len() - 13));
}

#[test]
fn what_costs_a_row_and_what_only_a_cell() {
    let read_all = |layout: &Layout, text: &str| {
        let mut block = Block::default();
        read(layout, format!("1,2,3,4,0.9,6\n{text}\n1,2,3,4,0.9,6\n").as_bytes(), true, &mut block);
        let counts = (block.lines.used, block.lines.quarantined);
        let (faults, _) = block.faults.into_parts();
        (counts, faults.iter().map(|f| (f.line, f.column, f.kind)).collect::<Vec<_>>())
    };
    let both = layout(&[]);
    let cell = |n: usize| format!("1,2,3,4,0.9,\"{}\"", "6".repeat(n));
    assert_eq!(read_all(&both, &cell(LONGEST_CELL + 1)), ((2, 1), vec![(2, 6, FaultKind::LongCell)]));
    assert_eq!(read_all(&both, &cell(LONGEST_CELL)).1, [(2, 6, FaultKind::NotANumber)]);
    assert_eq!(read_all(&both, "1,-5,3,4,0.9,6"), ((3, 0), vec![(2, 2, FaultKind::OutOfRange)]));
    assert_eq!(read_all(&both, "1,99999,3,4,0.9,6"), ((3, 0), vec![(2, 2, FaultKind::OutOfRange)]));
    assert_eq!(read_all(&both, "1,2,3,inf,0.9,6"), ((3, 0), vec![(2, 4, FaultKind::NotFinite)]));
    assert_eq!(read_all(&both, "1,2,3,4,x,6"), ((2, 1), vec![(2, 5, FaultKind::NotANumber)]));
    assert_eq!(read_all(&both, "1,2,3,"), ((2, 1), vec![(2, 0, FaultKind::Ragged)]));
    // On a live line a quote is closed where it opens, or the line is lost.
    let live = Layout { join_lines: false, ..layout(&[0]) };
    let note = "1,2,3,4,0.9,\"6\n\"";
    assert_eq!(read_all(&both, note).0, (3, 0));
    assert_eq!(read_all(&live, note).0, (2, 2));
}
