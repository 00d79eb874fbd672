//! A CSV as shops have it: any usual delimiter, byte order mark, quoted line breaks; every line keeps
//! the number it has in the file.
//!
//! Must not know: what the columns mean.

use std::collections::BTreeSet;

use csv::{ReaderBuilder, StringRecord};

use crate::limits::{IMPORT_COLUMNS_MAX, IMPORT_LINES_MAX};

#[derive(Debug, PartialEq, Eq)]
pub struct Table {
    /// Titles, each only once: a second "Date" is "Date (2)".
    pub columns: Vec<String>,
    pub lines: Vec<Line>,
}

#[derive(Debug, PartialEq, Eq)]
pub struct Line {
    /// As a text editor counts, where the line begins.
    pub number: u64,
    pub cells: Vec<String>,
    /// Why the line cannot be read as a whole.
    pub wrong: Option<String>,
}

const DELIMITERS: [char; 3] = [',', ';', '\t'];

pub fn read(csv: &str) -> Result<Table, String> {
    let text = csv.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n");
    let (delimiter, skipped) = delimiter(&text);
    let open_quote = unclosed_quote(&text, delimiter);
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter as u8)
        .from_reader(text.as_bytes());
    let mut records: Vec<(u64, StringRecord)> = Vec::new();
    let mut counted = Counted::default();
    for record in reader.records() {
        let record = record.map_err(|error| format!("The file cannot be read as CSV: {error}."))?;
        let at = record.position().map_or(0, |position| position.byte() as usize);
        let blank = record.iter().all(|cell| cell.trim().is_empty());
        if blank || at < skipped {
            continue;
        }
        if records.is_empty() && record.len() > IMPORT_COLUMNS_MAX {
            return Err(format!(
                "The first line names {} columns; a list of open orders has {IMPORT_COLUMNS_MAX} at most.",
                record.len()
            ));
        }
        records.push((counted.line_of(&text, at), record));
        // The titles, and one line more than is brought over at once: the caller says so.
        if records.len() > IMPORT_LINES_MAX + 1 {
            break;
        }
    }
    let mut records = records.into_iter();
    let Some((_, header)) = records.next() else {
        return Err("The file is empty; its first line must name the columns.".into());
    };
    let columns = titles(&header);
    let mut lines: Vec<Line> = records.map(|(number, record)| line(number, &record, columns.len())).collect();
    if let Some(opened) = open_quote {
        let wrong =
            "A quotation mark is opened here and never closed; nothing after it can be read.".to_owned();
        match lines.last_mut() {
            // The last record swallowed the rest of the file.
            Some(last) => (last.number, last.wrong) = (opened, Some(wrong)),
            None => return Err(wrong),
        }
    }
    Ok(Table { columns, lines })
}

fn line(number: u64, record: &StringRecord, columns: usize) -> Line {
    let cells: Vec<String> = record.iter().map(|cell| cell.trim().to_owned()).collect();
    let beyond = cells.iter().skip(columns).any(|cell| !cell.is_empty());
    let wrong = beyond.then(|| {
        format!("This line has {} values, but there are {columns} columns; a value may hold an unquoted delimiter.", cells.len())
    });
    Line { number, cells, wrong }
}

/// Lines so far: each is counted once, however many records there are.
#[derive(Default)]
struct Counted {
    upto: usize,
    breaks: u64,
}

impl Counted {
    /// Where a record begins: blank lines before it are not part of it. Records come in the order of the file.
    fn line_of(&mut self, text: &str, byte: usize) -> u64 {
        let begins = text[byte..].find(|c| c != '\n').map_or(byte, |more| byte + more);
        let new = text[self.upto..begins].bytes().filter(|b| *b == b'\n').count();
        self.breaks += new as u64;
        self.upto = begins;
        1 + self.breaks
    }
}

/// The delimiter, and how many bytes at the front say nothing but that: some spreadsheets write "sep=;".
fn delimiter(text: &str) -> (char, usize) {
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    if let Some(said) = first.trim().strip_prefix("sep=").and_then(|rest| rest.chars().next())
        && DELIMITERS.contains(&said)
    {
        return (said, text.find("sep=").unwrap_or(0) + first.trim().len());
    }
    let mut quoted = false;
    let mut counts = [0usize; DELIMITERS.len()];
    for c in text.chars() {
        match c {
            '"' => quoted = !quoted,
            '\n' if !quoted && counts.iter().any(|n| *n > 0) => break,
            _ if quoted => {}
            _ => {
                if let Some(i) = DELIMITERS.iter().position(|d| *d == c) {
                    counts[i] += 1;
                }
            }
        }
    }
    let best = (0..DELIMITERS.len()).rev().max_by_key(|i| counts[*i]).unwrap_or(0);
    (DELIMITERS[best], 0)
}

/// The line on which a quotation opens that never closes (RFC 4180, rules 5 to 7).
fn unclosed_quote(text: &str, delimiter: char) -> Option<u64> {
    let (mut line, mut opened, mut cell_begins) = (1, None, true);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        if c == '\n' {
            line += 1;
        }
        match (opened, c) {
            (None, '"') if cell_begins => opened = Some(line),
            (Some(_), '"') if chars.peek() == Some(&'"') => {
                chars.next();
            }
            (Some(_), '"') => opened = None,
            _ => {}
        }
        cell_begins = opened.is_none() && (c == '\n' || c == delimiter);
    }
    opened
}

fn titles(header: &StringRecord) -> Vec<String> {
    let mut columns: Vec<String> = Vec::new();
    let mut taken = BTreeSet::new();
    for (i, title) in header.iter().enumerate() {
        let title = title.trim();
        let base = if title.is_empty() { format!("Column {}", i + 1) } else { title.to_owned() };
        let mut name = base.clone();
        let mut n = 1;
        while !taken.insert(name.clone()) {
            n += 1;
            name = format!("{base} ({n})");
        }
        columns.push(name);
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(csv: &str) -> Vec<(u64, Vec<String>)> {
        read(csv).unwrap().lines.into_iter().map(|line| (line.number, line.cells)).collect()
    }

    #[test]
    fn a_table_has_as_many_columns_as_a_list_of_orders_may_have() {
        let titles = |count: usize| (0..count).map(|n| format!("c{n}")).collect::<Vec<_>>().join(",");
        assert_eq!(read(&titles(IMPORT_COLUMNS_MAX)).unwrap().columns.len(), IMPORT_COLUMNS_MAX);
        let refused = read(&titles(80_000)).map(|_| ()).unwrap_err();
        assert!(refused.contains("80000 columns") && refused.contains("300 at most"), "{refused}");
    }

    #[test]
    fn delimiters_marks_and_line_ends_of_all_kinds() {
        for csv in [
            "\u{feff}RO,Vehicle\r\n2041,grey wagon\r\n",
            "RO;Vehicle\n2041;grey wagon",
            "RO\tVehicle\r2041\tgrey wagon\r",
        ] {
            let table = read(csv).unwrap();
            assert_eq!(table.columns, ["RO", "Vehicle"], "{csv:?}");
            assert_eq!(cells(csv), [(2, vec!["2041".to_owned(), "grey wagon".to_owned()])]);
        }
        // A comma in a quoted title is no sign of commas.
        assert_eq!(read("\"a, b, c\";d\n1;2").unwrap().columns, ["a, b, c", "d"]);
        let said = read("sep=;\nRO;Vehicle\n1;x").unwrap();
        assert_eq!((said.columns.len(), said.lines[0].number), (2, 3));
    }

    #[test]
    fn lines_keep_their_numbers_over_quoted_breaks_and_blank_lines() {
        let csv = "\nRO,Note\n\n1,\"two\nlines, \"\"quoted\"\"\"\n\n,\n2,x\n";
        let found = cells(csv);
        assert_eq!(found[0], (4, vec!["1".to_owned(), "two\nlines, \"quoted\"".to_owned()]));
        assert_eq!(found[1].0, 8);
    }

    #[test]
    fn what_cannot_be_read_says_where() {
        assert!(read(" \n\n").unwrap_err().contains("empty"));
        let table = read("RO,Note\n1,x\n2,\"open\n3,y\n").unwrap();
        assert_eq!(table.lines.len(), 2);
        assert_eq!(table.lines[1].number, 3);
        assert!(table.lines[1].wrong.as_ref().unwrap().contains("never closed"));
        // A mark for inches in the middle is no quotation.
        assert!(read("RO,Note\n1,18\" rim\n").unwrap().lines[0].wrong.is_none());
        assert!(read("RO,Note\n1,a,b\n").unwrap().lines[0].wrong.is_some());
        assert!(read("RO,Note\n1,a,,\n2\n").unwrap().lines.iter().all(|line| line.wrong.is_none()));
    }

    #[test]
    fn a_file_that_is_no_list_of_orders_ends_at_its_first_line() {
        let many = vec!["Status"; 80_000].join(",");
        assert!(read(&format!("{many}\n1")).unwrap_err().contains("80000 columns"));
        let lines = format!("RO,Vehicle\n{}", "1,x\n".repeat(IMPORT_LINES_MAX * 4));
        assert_eq!(read(&lines).unwrap().lines.len(), IMPORT_LINES_MAX + 1);
    }

    #[test]
    fn titles_are_told_apart() {
        assert_eq!(read("Date,,Date\n1,2,3").unwrap().columns, ["Date", "Column 2", "Date (2)"]);
    }
}
