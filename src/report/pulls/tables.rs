//! Pulls as tables for export: one row for each pull, for each grid speed, for each stretch of a comparison.

use super::super::export::{Cell, Table};
use crate::analysis::pulls::{Account, Listed, Peak};
use crate::units::{Lambda, Temperature, Vacuum};

fn text(label: Option<&String>) -> Cell {
    label.map_or(Cell::Missing, |l| Cell::Text(l.clone()))
}

/// One row for each pull.
pub fn pull_table(account: &Account) -> Table {
    let mut table = Table::new(
        "pulls",
        &[
            "pull",
            "label",
            "file",
            "first_line",
            "last_line",
            "first_rpm",
            "last_rpm",
            "factor",
            "factor_in_range",
            "torque_peak_n_m",
            "torque_peak_rpm",
            "torque_peak_raw_n_m",
            "power_peak_kw",
            "power_peak_rpm",
            "power_peak_raw_kw",
            "mean_torque_n_m",
            "mean_power_kw",
            "mean_lambda",
            "bsfc_g_per_kwh",
            "top_vacuum_inhg",
            "oil_c",
            "coolant_c",
            "compared",
            "remarks",
        ],
    );
    for (k, p) in account.pulls.iter().enumerate() {
        table.rows.push(pull_row(account, k, p));
    }
    table
}

fn pull_row(account: &Account, k: usize, p: &Listed) -> Vec<Cell> {
    let (pull, factor) = (&p.pull, p.pull.factor());
    let (low, high) = pull.torque.range();
    let file = account.files.get(p.file).map(|f| f.0.as_str()).unwrap_or_default();
    let line = |row: Option<&crate::analysis::pulls::Row>| row.map_or(Cell::Missing, |r| Cell::Count(r.line));
    let peak = |p: Option<Peak>, scale: f64| Cell::number(p.map(|p| p.value * scale), 3);
    let rpm = |p: Option<Peak>| Cell::number(p.map(|p| p.rpm), 0);
    let remarks: Vec<String> = pull.remarks.iter().map(|r| r.kind.name().to_owned()).collect();
    vec![
        Cell::Count(k as u64 + 1),
        text(p.label.as_ref()),
        file.into(),
        line(pull.rows.first()),
        line(pull.rows.last()),
        Cell::Number(pull.torque.speed(low).as_rpm(), 0),
        Cell::Number(pull.torque.speed(high).as_rpm(), 0),
        Cell::number(pull.correction.map(|c| c.factor), 5),
        pull.correction.map_or(Cell::Missing, |c| Cell::Flag(c.in_range)),
        peak(pull.torque_peak, factor),
        rpm(pull.torque_peak),
        peak(pull.torque_peak, 1.0),
        peak(pull.power_peak, factor / 1e3),
        rpm(pull.power_peak),
        peak(pull.power_peak, 1e-3),
        Cell::number(p.means.map(|m| m.torque.as_n_m()), 3),
        Cell::number(p.means.map(|m| m.power.as_kw()), 3),
        Cell::number(p.means.and_then(|m| m.lambda).map(Lambda::as_ratio), 4),
        Cell::number(p.means.and_then(|m| m.bsfc_g_per_kwh), 1),
        Cell::number(pull.top_vacuum.map(Vacuum::as_inhg), 2),
        Cell::number(pull.oil.map(Temperature::as_c), 1),
        Cell::number(pull.coolant.map(Temperature::as_c), 1),
        Cell::Flag(pull.barred().is_none()),
        Cell::Text(remarks.join(" ")),
    ]
}

/// One row for each pull and grid speed.
pub fn curve_table(account: &Account) -> Table {
    let mut table = Table::new(
        "curves",
        &[
            "pull",
            "label",
            "rpm",
            "torque_n_m",
            "torque_raw_n_m",
            "power_kw",
            "power_raw_kw",
            "lambda",
            "fuel_flow_g_per_s",
            "bsfc_g_per_kwh",
            "vacuum_inhg",
        ],
    );
    for (k, p) in account.pulls.iter().enumerate().filter(|(_, p)| p.pull.figures_hold()) {
        for (index, rpm, raw) in p.pull.torque.points() {
            let power = p.pull.power_at(index).map(|w| w / 1e3);
            let vacuum =
                p.pull.vacuum.as_ref().and_then(|c| c.at(index)).map(|pa| Vacuum::from_pa(pa).as_inhg());
            table.rows.push(vec![
                Cell::Count(k as u64 + 1),
                text(p.label.as_ref()),
                Cell::Number(rpm, 0),
                Cell::number(p.pull.torque_at(index), 3),
                Cell::Number(raw, 3),
                Cell::number(power, 3),
                Cell::number(power.map(|w| w / p.pull.factor()), 3),
                Cell::number(p.pull.lambda.as_ref().and_then(|c| c.at(index)), 4),
                Cell::number(p.pull.fuel_flow.as_ref().and_then(|c| c.at(index)), 3),
                Cell::number(p.pull.bsfc_at(index), 1),
                Cell::number(vacuum, 2),
            ]);
        }
    }
    table
}

/// One row for each label and stretch of speeds; empty without a comparison.
pub fn effect_table(account: &Account) -> Table {
    let mut table = Table::new(
        "effects",
        &["label", "from_rpm", "to_rpm", "baseline_torque_n_m", "effect_n_m", "low_n_m", "high_n_m", "clear"],
    );
    if let Some(Ok(against)) = &account.against {
        for s in &against.curve {
            table.rows.push(vec![
                Cell::Text(s.label.clone()),
                Cell::Number(s.low_speed.as_rpm(), 0),
                Cell::Number(s.high_speed.as_rpm(), 0),
                Cell::Number(s.level, 3),
                Cell::Number(s.effect, 3),
                Cell::Number(s.low, 3),
                Cell::Number(s.high, 3),
                Cell::Flag(s.clear),
            ]);
        }
    }
    table
}
