//! Any table, written as CSV or JSON for other programs.
//!
//! Two formats that every spreadsheet and every language reads. Columnar files (Parquet) are left out on purpose. Measured
//! with `parquet` 60.1 stripped of all features but one codec, writing one column: 31 crates, 12 of them new here (among
//! them another calendar), 46 s of processor for its release build where the same program without it takes
//! 4 s, and 0.88 MB more binary. That is a lot for a season's worth of rows that fit a few hundred kilobytes of CSV, which
//! the engines that read Parquet read as well, units in the column names and all.

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing known.
    Missing,
    /// A number, with the decimals it deserves.
    Number(f64, usize),
    /// A whole number.
    Count(u64),
    /// Text, perhaps a person's.
    Text(String),
    /// Yes or no.
    Flag(bool),
}

/// A table: every column named with its unit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// What it holds.
    pub name: &'static str,
    /// Column names; those with a unit end in it.
    pub columns: Vec<&'static str>,
    /// Rows, each as long as the columns.
    pub rows: Vec<Vec<Cell>>,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }
}

impl Cell {
    /// A number with so many decimals; missing when there is none or it is not finite.
    pub fn number(value: Option<f64>, decimals: usize) -> Cell {
        value.filter(|v| v.is_finite()).map_or(Cell::Missing, |v| Cell::Number(v, decimals))
    }
}

impl Table {
    /// An empty table.
    pub fn new(name: &'static str, columns: &[&'static str]) -> Table {
        Table { name, columns: columns.to_vec(), rows: Vec::new() }
    }

    /// As CSV (RFC 4180, line feeds), header first.
    ///
    /// A text cell that a spreadsheet would take for a formula (it begins with `=`, `+`, `-`, `@`, a tab or a line
    /// end) gets an apostrophe in front, as does one that begins with an apostrophe, so that [`unguarded`] gives back
    /// exactly what was written. Numbers are never guarded.
    pub fn to_csv(&self) -> String {
        let mut out = self.columns.join(",");
        out.push('\n');
        for row in &self.rows {
            let cells: Vec<String> = row.iter().map(csv_cell).collect();
            out.push_str(&cells.join(","));
            out.push('\n');
        }
        out
    }

    /// As an array of objects, one for each row.
    pub fn to_json(&self) -> serde_json::Value {
        let object = |row: &Vec<Cell>| {
            let pairs = self.columns.iter().zip(row).map(|(c, cell)| ((*c).to_owned(), json_cell(cell)));
            serde_json::Value::Object(pairs.collect())
        };
        serde_json::Value::Array(self.rows.iter().map(object).collect())
    }
}

fn csv_cell(cell: &Cell) -> String {
    match cell {
        Cell::Missing => String::new(),
        Cell::Number(value, decimals) => crate::units::show::fixed(*value, *decimals),
        Cell::Count(n) => n.to_string(),
        Cell::Flag(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Cell::Text(text) => quoted(&guarded(text)),
    }
}

fn json_cell(cell: &Cell) -> serde_json::Value {
    match cell {
        Cell::Missing => serde_json::Value::Null,
        Cell::Number(value, decimals) => {
            let power = 10f64.powf(*decimals as f64);
            let rounded = (value * power).round() / power;
            serde_json::Number::from_f64(rounded).map_or(serde_json::Value::Null, serde_json::Value::Number)
        }
        Cell::Count(n) => (*n).into(),
        Cell::Flag(yes) => (*yes).into(),
        Cell::Text(text) => text.as_str().into(),
    }
}

fn guarded(text: &str) -> String {
    match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '\'') => format!("'{text}"),
        _ => text.to_owned(),
    }
}

/// A text cell of an exported table as it was before it was guarded.
pub fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if guarded(rest) == cell => rest,
        _ => cell,
    }
}

fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r', ';']) || text.starts_with(' ') || text.ends_with(' ') {
        return format!("\"{}\"", text.replace('"', "\"\""));
    }
    text.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn table(text: &str) -> Table {
        let mut t = Table::new("t", &["label", "torque_n_m", "pulls", "told"]);
        t.rows.push(vec![text.into(), Cell::Number(-1.5, 2), Cell::Count(3), Cell::Flag(true)]);
        t.rows.push(vec![Cell::Missing, Cell::number(Some(f64::NAN), 1), Cell::Missing, Cell::Flag(false)]);
        t
    }

    #[test]
    fn numbers_stay_numbers_and_formulas_do_not_stay_formulas() {
        assert_eq!(
            table("=1+1, \"x\"").to_csv(),
            "label,torque_n_m,pulls,told\n\"'=1+1, \"\"x\"\"\",-1.50,3,yes\n,,,no\n"
        );
        assert_eq!(
            table("@A").to_json(),
            serde_json::json!([
                { "label": "@A", "torque_n_m": -1.5, "pulls": 3, "told": true },
                { "label": null, "torque_n_m": null, "pulls": null, "told": false },
            ])
        );
    }

    /// Reads one CSV record back, as any reader would.
    fn first_field(csv: &str) -> String {
        let body = csv.split_once('\n').unwrap().1;
        let mut core = csv_core::Reader::new();
        let mut out = vec![0; body.len() + 16];
        let (_, _, n) = core.read_field(body.as_bytes(), &mut out);
        String::from_utf8(out[..n].to_vec()).unwrap()
    }

    proptest! {
        #[test]
        fn any_text_comes_back_and_never_as_a_formula(text in "[=+@'\"\\-,; a-zé\t\r\n]{0,12}") {
            let field = first_field(&table(&text).to_csv());
            prop_assert!(!field.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']));
            prop_assert_eq!(unguarded(&field), text.as_str());
        }
    }
}
