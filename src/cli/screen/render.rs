//! Draws the screen into a buffer: a pure function of what is to be shown and of the room there is.
//!
//! The terminal's own colours and one accent; weight and space instead of boxes. When there is little room the less
//! important goes first: the alarm, the number and what to do next stay longest.

use super::glyphs;
use super::state::{BigNumber, Screen, Way};
use crate::cli::layout::wrap;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};

/// How it may look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// Plain ASCII only.
    pub ascii: bool,
    /// The one accent may be used.
    pub colour: bool,
}

/// Rows that belong together, and what is given up first when there is no room (the highest number).
struct Block {
    rows: Vec<(String, Style)>,
    rank: u8,
    /// Empty rows before it, when there is room.
    before: usize,
}

const ALARM: &str = "CLOSE THE THROTTLE";

/// Draws it.
pub fn render(screen: &Screen, look: Look, area: Rect, buffer: &mut Buffer) {
    let area = area.intersection(buffer.area);
    if area.is_empty() {
        return;
    }
    let (width, height) = (usize::from(area.width), usize::from(area.height));
    let margin = match width {
        60.. => 4,
        20.. => 1,
        _ => 0,
    };
    let inside = width - margin;
    let mut blocks = blocks(screen, look, inside, height);
    let used = |blocks: &[Block]| blocks.iter().map(|b| b.rows.len()).sum::<usize>();
    while used(&blocks) > height && blocks.len() > 1 {
        let last = blocks.iter().enumerate().max_by_key(|(_, b)| b.rank).map_or(0, |(n, _)| n);
        blocks.remove(last);
    }
    // The keys stand on the last row when there is a row to spare.
    let spare = height.saturating_sub(used(&blocks));
    let wanted: usize = blocks.iter().map(|b| b.before).sum();
    let mut row = 0;
    let mut left = spare;
    let last = blocks.len().saturating_sub(1);
    for (n, block) in blocks.iter().enumerate() {
        let keys = block.rank == KEYS_RANK;
        let gap = if keys && n == last {
            left
        } else if wanted <= spare {
            block.before
        } else {
            block.before.min(1).min(left)
        };
        left -= gap.min(left);
        row += gap;
        for (text, style) in &block.rows {
            if row < height {
                let y = area.y + row as u16;
                buffer.set_stringn(area.x + margin as u16, y, text, inside, *style);
            }
            row += 1;
        }
    }
}

const KEYS_RANK: u8 = 9;

fn blocks(screen: &Screen, look: Look, width: usize, height: usize) -> Vec<Block> {
    let plain = Style::new();
    let bold = plain.add_modifier(Modifier::BOLD);
    let loud = bold.add_modifier(Modifier::REVERSED);
    // The largest gaps are for the largest windows.
    let gap = (height / 14).clamp(1, 4);
    let mut blocks = Vec::new();
    let mut add = |rank: u8, before: usize, rows: Vec<(String, Style)>| {
        if !rows.is_empty() {
            blocks.push(Block { rows, rank, before });
        }
    };
    if let Some(danger) = &screen.danger {
        add(2, 0, vec![(format!("{:<width$}", format!(" {}", danger.said)), loud)]);
        add(0, 1, alarm(width, height, look).into_iter().map(|l| (l, bold)).collect());
    }
    if let Some(trouble) = &screen.trouble {
        add(3, 0, lines(trouble, width).into_iter().map(|l| (l, loud)).collect());
    }
    if let Some(number) = &screen.number {
        let share = if screen.danger.is_some() { 4 } else { 2 };
        let drawn = large(number, width, height / share, look);
        let heading = if number.unit.is_empty() {
            number.name.to_owned()
        } else {
            format!("{}, {}", number.name, number.unit)
        };
        match drawn {
            Some(rows) => {
                add(5, 1, vec![(heading, plain)]);
                add(1, 1, rows.into_iter().map(|l| (l, plain)).collect());
            }
            None => add(1, 0, vec![(format!("{} {}", number.text.trim(), number.unit), bold)]),
        }
    }
    add(6, gap, aim_and_trend(screen, look, width).into_iter().map(|l| (l, plain)).collect());
    let mark = if look.ascii { "> " } else { "\u{203a} " };
    let accent = if look.colour { bold.fg(Color::Cyan) } else { bold };
    let next: Vec<(String, Style)> = lines(&screen.next, width.saturating_sub(2))
        .into_iter()
        .enumerate()
        .map(
            |(n, line)| {
                if n == 0 { (format!("{mark}{line}"), accent) } else { (format!("  {line}"), accent) }
            },
        )
        .collect();
    // An alarm has said in large letters what to do.
    add(if screen.danger.is_some() { 8 } else { 4 }, gap, next);
    if !screen.lacks.is_empty() && screen.danger.is_none() {
        let text = format!("Still missing: {}.", screen.lacks.join(", "));
        add(7, gap, lines(&text, width).into_iter().map(|l| (l, plain)).collect());
    }
    add(KEYS_RANK, 1, vec![(screen.keys.clone(), plain.add_modifier(Modifier::DIM))]);
    blocks
}

fn lines(text: &str, width: usize) -> Vec<String> {
    if text.is_empty() { Vec::new() } else { wrap(text, width.max(1)) }
}

fn large(number: &BigNumber, width: usize, rows: usize, look: Look) -> Option<Vec<String>> {
    let longest =
        if number.text.chars().count() > number.widest.len() { &number.text } else { number.widest };
    let scale = glyphs::scale(longest, width, rows, look.ascii)?;
    Some(glyphs::large(&number.text, scale, look.ascii))
}

/// What to do in an alarm, as large as there is room for.
fn alarm(width: usize, height: usize, look: Look) -> Vec<String> {
    let (first, second) = ("CLOSE THE", "THROTTLE");
    let rows = (height / 2).saturating_sub(1) / 2;
    if let Some(scale) = glyphs::scale(first, width, rows, look.ascii) {
        let mut drawn = glyphs::large(first, scale, look.ascii);
        drawn.push(String::new());
        drawn.extend(glyphs::large(second, scale, look.ascii));
        return drawn;
    }
    if let Some(scale) = glyphs::scale(ALARM, width, height / 2, look.ascii) {
        return glyphs::large(ALARM, scale, look.ascii);
    }
    lines(ALARM, width)
}

fn aim_and_trend(screen: &Screen, look: Look, width: usize) -> Vec<String> {
    let trend = screen.trend.as_ref().map(|trend| {
        let arrow = match (trend.way, look.ascii) {
            (Way::Rising, false) => "\u{2191} ",
            (Way::Falling, false) => "\u{2193} ",
            (Way::Rising, true) => "^ ",
            (Way::Falling, true) => "v ",
            (Way::Steady, _) => "= ",
        };
        format!("{arrow}{}", trend.said)
    });
    match (&screen.aim, trend) {
        (Some(aim), Some(trend)) if aim.chars().count() + 4 + trend.chars().count() <= width => {
            vec![format!("{aim}    {trend}")]
        }
        (Some(aim), Some(trend)) => vec![aim.clone(), trend],
        (Some(one), None) => vec![one.clone()],
        (None, Some(one)) => vec![one],
        (None, None) => Vec::new(),
    }
}
