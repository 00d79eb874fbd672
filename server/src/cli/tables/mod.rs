//! `turnbuckle export --format csv`: everything the measures are computed from, as plain tables, so that
//! anybody can compute them again.
//!
//! Invariants: people are ids, free text stays inside; every column stands in `columns.csv` with its
//! unit and meaning; times are integer UTC milliseconds; what is not known is an empty cell; the cells
//! are RFC 4180; none begins like a formula.

mod rows;

use std::borrow::Cow;
use std::fmt::Display;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;

use domain::{Ms, plain};

use super::Failure;
use crate::shop::View;
use rows::TABLES;

/// One table: its name, its columns with what they mean, and its rows.
struct Table {
    name: &'static str,
    columns: &'static [(&'static str, &'static str)],
    rows: fn(&View, Ms, &mut Rows<'_>) -> csv::Result<()>,
}

/// Where the rows go: a closed type, so that a table cannot be written with a wrong number of cells.
struct Rows<'a> {
    out: csv::Writer<&'a mut dyn Write>,
}

impl Rows<'_> {
    fn put(&mut self, cells: &[&dyn Display]) -> csv::Result<()> {
        for cell in cells {
            self.out.write_field(&*safe(&cell.to_string()))?;
        }
        self.out.write_record(None::<&[u8]>)
    }
}

/// A spreadsheet runs what begins like a formula, and numbers of repair orders are people's own words.
fn safe(cell: &str) -> Cow<'_, str> {
    let runs = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
    let shown = plain::shown(cell, false);
    if runs { format!("'{shown}").into() } else { shown }
}

/// A cell that may be empty.
struct Maybe<T>(Option<T>);

impl<T: Display> Display for Maybe<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.0 {
            Some(value) => value.fmt(f),
            None => Ok(()),
        }
    }
}

/// The stored word of a stored value ("arrived", "parts").
struct Word<T>(T);

impl<T: serde::Serialize> Display for Word<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let value = serde_json::to_value(&self.0).map_err(|_| std::fmt::Error)?;
        f.write_str(value.as_str().unwrap_or_default())
    }
}

/// Writes every table into a new folder.
pub fn write_folder(view: &View, now: Ms, dir: &Path) -> Result<(), Failure> {
    let cannot = |what: &Path| format!("{} cannot be written", what.display());
    if fs::read_dir(dir).is_ok_and(|mut found| found.next().is_some()) {
        return Err(Failure::Said(format!("{} is not empty; name a new folder with --out", dir.display())));
    }
    fs::create_dir_all(dir).map_err(Failure::io(cannot(dir)))?;
    let view = &whole(view);
    for table in TABLES {
        let path = dir.join(format!("{}.csv", table.name));
        let mut file = BufWriter::new(File::create_new(&path).map_err(Failure::io(cannot(&path)))?);
        write_table(view, now, table, &mut file)?;
        file.flush().map_err(Failure::io(cannot(&path)))?;
    }
    Ok(())
}

/// One table, for the screen.
pub fn write_spans(view: &View, now: Ms, out: &mut dyn Write) -> Result<(), Failure> {
    let view = whole(view);
    TABLES
        .iter()
        .filter(|table| table.name == "spans")
        .try_for_each(|table| write_table(&view, now, table, out))
}

/// With the cards of every visit there ever was.
fn whole(view: &View) -> View {
    View { state: view.state.warmed(Ms::MIN), ..view.clone() }
}

fn write_table(view: &View, now: Ms, table: &Table, out: &mut dyn Write) -> Result<(), Failure> {
    let wrong = |error: csv::Error| Failure::Said(format!("the export cannot be written: {error}"));
    let mut rows = Rows { out: csv::Writer::from_writer(out) };
    rows.out.write_record(table.columns.iter().map(|(name, _)| name)).map_err(wrong)?;
    (table.rows)(view, now, &mut rows).map_err(wrong)?;
    rows.out.flush().map_err(Failure::io("the export cannot be written"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_run_by_a_spreadsheet_and_numbers_stay_numbers() {
        // The beginnings are those of OWASP, "CSV Injection" [MEM].
        assert_eq!(safe("=HYPERLINK(\"http://x\")"), "'=HYPERLINK(\"http://x\")");
        for cell in ["+1+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1"] {
            assert!(safe(cell).starts_with('\''), "{cell:?}");
        }
        for cell in ["-12", "-0.5", "2041", "", "RO-7", "'x"] {
            assert_eq!(safe(cell), cell);
        }
    }
}
