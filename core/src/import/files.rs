//! Which table a file is, and which of its fields is which column.

use super::names::nearest;
use super::report::ColumnReport;
use super::row::{Fault, Layout};
use super::source::{ImportError, Source};
use super::text::{CsvReader, Record, Stop};
use crate::tables::FolderTable;
use crate::{due, orders_list};
use std::io::Read;

/// A file whose header is understood, read up to its first row.
pub(super) struct Opened<'a> {
    pub(super) reader: CsvReader<Box<dyn Read + 'a>>,
    pub(super) layout: Layout,
    pub(super) columns: Vec<ColumnReport>,
    pub(super) table: FolderTable,
}

impl Opened<'_> {
    /// Whether it is the work-order list, by which orders are changed.
    pub(super) const fn is_list(&self) -> bool {
        self.layout.is_list
    }
}

/// Why a file is not read.
pub(super) enum Unusable {
    /// Something is wrong with it, in that row.
    Faulty(Box<Fault>, u64),
    /// It is a list that this program wrote for other systems, in words with an article.
    OwnList(&'static str),
}

/// Opens a file and reads its header; a file that cannot be used says why.
pub(super) fn open(source: &Source) -> Result<Result<Opened<'_>, Unusable>, ImportError> {
    let faulty = |(fault, row)| Err(Unusable::Faulty(Box::new(fault), row));
    let mut header = Record::default();
    let begun = CsvReader::new(source.open()?).and_then(|mut reader| {
        // blank lines above the header are no harm
        while reader.read(&mut header)? && header.is_blank() {}
        Ok(reader)
    });
    let reader = match begun {
        Ok(reader) => reader,
        Err(stop) => return Ok(faulty(fault_of(source.system_failure(stop)?, header.line.max(1)))),
    };
    let line = header.line;
    let list = own_list(&header).filter(|_| !source.is_told());
    if let Some(OwnList::Due) = list {
        return Ok(Err(Unusable::OwnList("a due list")));
    }
    let understood = match list {
        Some(_) => orders_list_layout(source, &header, reader.by_semicolons()),
        None => layout(source, &header, reader.by_semicolons()),
    };
    let (layout, table) = match understood {
        Ok(understood) => understood,
        Err(fault) => return Ok(faulty((fault, line))),
    };
    let columns = column_reports(source, &layout)?;
    Ok(Ok(Opened { reader, layout, columns, table }))
}

fn header_fault(column: &str, value: &str, why: String, mend: String) -> Fault {
    Fault { column: column.to_owned(), value: value.to_owned(), why, mend, waits_for: None }
}

/// A list that this program writes for other systems.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum OwnList {
    Orders,
    Due,
}

/// The list of this program that a header belongs to: most columns of the list are there. No file
/// of a shop folder has so many of them.
fn own_list(header: &Record) -> Option<OwnList> {
    let names: Vec<String> = (0..header.len())
        .map(|index| String::from_utf8_lossy(header.field(index)).trim().to_ascii_lowercase())
        .collect();
    let is_head = |columns: &[String]| {
        let there = columns.iter().filter(|column| names.contains(column)).count();
        4 * there >= 3 * columns.len()
    };
    let orders = orders_list::COLUMNS.map(ToOwned::to_owned);
    [(OwnList::Orders, orders.to_vec()), (OwnList::Due, due::csv_columns())]
        .into_iter()
        .find_map(|(list, columns)| is_head(&columns).then_some(list))
}

/// What a column of the work-order list is called in `orders.csv`. Columns that only tell (place,
/// force, reason, the service-by of today) change no order and are none.
fn column_of_list(name: &str) -> Option<&'static str> {
    [
        ("order", "order"),
        ("spindle", "spindle"),
        ("service", "kind"),
        ("state", "state"),
        ("service_by", "service_by"),
        ("start", "start"),
        ("duration_h", "duration_h"),
        ("technician", "technician"),
    ]
    .into_iter()
    .find_map(|(theirs, ours)| theirs.eq_ignore_ascii_case(name).then_some(ours))
}

/// The layout of a work-order list: its columns as those of `orders.csv`.
fn orders_list_layout(source: &Source, header: &Record, by_semicolons: bool) -> Result<(Layout, FolderTable), Fault> {
    let (table, names) = (FolderTable::Orders, names_of(source, header)?);
    let fields: Vec<Option<usize>> = table
        .columns()
        .iter()
        .map(|column| names.iter().position(|name| column_of_list(name) == Some(column.name)))
        .collect();
    for needed in ["order", "spindle", "service", "state"] {
        if !names.iter().any(|name| name.eq_ignore_ascii_case(needed)) {
            let why = format!("the work-order list needs the column {needed}; found are {}", listed(&names));
            let mend = format!("add {needed} to the header row");
            return Err(header_fault("header", &names.join(","), why, mend));
        }
    }
    Ok((Layout { table, fields, names, decimal_comma: by_semicolons, is_list: true }, table))
}

/// The header as it stands in the file, with the names that were said for its columns.
fn names_of(source: &Source, header: &Record) -> Result<Vec<String>, Fault> {
    let mut names = Vec::new();
    for index in 0..header.len() {
        let Ok(name) = std::str::from_utf8(header.field(index)) else {
            let value = String::from_utf8_lossy(header.field(index)).into_owned();
            let mend = "save the file as UTF-8 and import it again".to_owned();
            return Err(header_fault("header", &value, "is not UTF-8 text".to_owned(), mend));
        };
        names.push(source.column_name(name.trim()).trim().to_owned());
    }
    Ok(names)
}

fn layout(source: &Source, header: &Record, by_semicolons: bool) -> Result<(Layout, FolderTable), Fault> {
    let names = names_of(source, header)?;
    let table = match source.known_table() {
        Some(table) => table,
        None => table_of_header(&names)?,
    };
    let mut fields: Vec<Option<usize>> = Vec::new();
    for column in table.columns() {
        let mut of_name = names.iter().enumerate().filter(|(_, name)| name.eq_ignore_ascii_case(column.name));
        let first = of_name.next().map(|(index, _)| index);
        if let Some((second, name)) = of_name.next() {
            let why = format!("the header names it twice, in fields {} and {}", first.unwrap_or(0) + 1, second + 1);
            return Err(header_fault(column.name, name, why, "leave one of the two columns out".to_owned()));
        }
        if first.is_none() && column.required {
            return Err(missing(column.name, table, &names));
        }
        fields.push(first);
    }
    if table == FolderTable::Meters {
        let has = |wanted: &str| names.iter().any(|name| name.eq_ignore_ascii_case(wanted));
        if !(has("spindle") || (has("machine") && has("position"))) {
            return Err(missing("spindle (or machine and position)", table, &names));
        }
    }
    Ok((Layout { table, fields, names, decimal_comma: by_semicolons, is_list: false }, table))
}

fn missing(column: &str, table: FolderTable, names: &[String]) -> Fault {
    let why = format!("{table} needs the column {column}; found are {}", listed(names));
    let mend = match nearest(column, names.iter().map(String::as_str)) {
        Some(near) => format!("is {near} meant? Name it {column}"),
        None => format!("add {column} to the header row"),
    };
    header_fault("header", &names.join(","), why, mend)
}

fn listed(names: &[String]) -> String {
    const MOST: usize = 30;
    let mut text = names.iter().take(MOST).map(String::as_str).collect::<Vec<_>>().join(", ");
    if names.len() > MOST {
        text.push_str(", ...");
    }
    text
}

/// The table that a header fits: all its required columns are there, and most columns of the file
/// are its own. Where several fit, the one with most columns in the file; then the one of which
/// fewest are missing.
fn table_of_header(names: &[String]) -> Result<FolderTable, Fault> {
    let has = |wanted: &str| names.iter().any(|name| name.eq_ignore_ascii_case(wanted));
    let named = names.iter().filter(|name| !name.is_empty()).count();
    let found = |table: FolderTable| table.columns().iter().filter(|column| has(column.name)).count();
    let complete: Vec<FolderTable> = FolderTable::ALL
        .into_iter()
        .filter(|table| table.columns().iter().all(|column| !column.required || has(column.name)))
        .collect();
    let mut fitting: Vec<((std::cmp::Reverse<usize>, usize), FolderTable)> = complete
        .iter()
        .filter(|table| 2 * found(**table) > named)
        .map(|table| ((std::cmp::Reverse(found(*table)), table.columns().len() - found(*table)), *table))
        .collect();
    fitting.sort();
    match (&fitting[..], &complete[..]) {
        ([(best, table), (second, other), ..], _) if best == second => {
            let why = format!("its columns fit {table} and {other}");
            Err(header_fault("header", &names.join(","), why, format!("name the file {table} or {other}")))
        }
        ([(_, table), ..], _) => Ok(*table),
        ([], [table, ..]) => {
            let why = format!("most of its columns are not of a shop folder; found are {}", listed(names));
            let mend = format!("leave the file out, or name it {table} if that is what it holds");
            Err(header_fault("header", &names.join(","), why, mend))
        }
        ([], []) => {
            let why =
                format!("neither its name nor its columns are those of a shop folder; found are {}", listed(names));
            let known: Vec<&str> = FolderTable::ALL.into_iter().map(FolderTable::file_name).collect();
            let mend = format!("name the file {}, or complete its header", known.join(", "));
            Err(header_fault("header", &names.join(","), why, mend))
        }
    }
}

/// Columns of the file that are none of ours, each in a sentence.
pub(super) fn left_out(layout: &Layout) -> Vec<String> {
    let is_of_list =
        |name: &str| layout.is_list && orders_list::COLUMNS.iter().any(|one| one.eq_ignore_ascii_case(name));
    let unknown = layout
        .names
        .iter()
        .enumerate()
        .filter(|(index, name)| !layout.fields.contains(&Some(*index)) && !is_of_list(name));
    unknown
        .map(|(index, name)| {
            if name.is_empty() {
                return format!("column {} has no name and was left out", index + 1);
            }
            let columns = layout.table.columns().iter().map(|column| column.name);
            let hint = nearest(name, columns).map(|near| format!("; is {near} meant?")).unwrap_or_default();
            format!("column '{name}' is not known and was left out{hint}")
        })
        .collect()
}

/// The columns with the first row's values, for a look before anything is written.
fn column_reports(source: &Source, layout: &Layout) -> Result<Vec<ColumnReport>, ImportError> {
    let mut record = Record::default();
    let sampled = CsvReader::new(source.open()?).and_then(|mut reader| {
        while reader.read(&mut record)? && record.is_blank() {}
        reader.read(&mut record)
    });
    let sampled = sampled.unwrap_or(false);
    Ok(layout
        .names
        .iter()
        .enumerate()
        .map(|(index, name)| {
            let ours = layout.fields.iter().position(|field| *field == Some(index));
            let ours = ours.and_then(|column| layout.table.columns().get(column)).map(|column| column.name);
            let sample =
                if sampled { String::from_utf8_lossy(record.field(index)).into_owned() } else { String::new() };
            ColumnReport { name: name.clone(), ours, sample }
        })
        .collect())
}

/// What stopped the reading of a file, as the fault of a row.
pub(super) fn fault_of(stop: Stop, line: u64) -> (Fault, u64) {
    let fault = |why: &str, mend: &str| header_fault("", "", why.to_owned(), mend.to_owned());
    match stop {
        Stop::Empty => (fault("the file is empty", "give it a header row and rows, or leave it out"), 1),
        Stop::NotText { utf16: true } => {
            (fault("the file is not UTF-8 text but UTF-16", "save it as UTF-8 (CSV UTF-8) and import it again"), 1)
        }
        Stop::NotText { utf16: false } => {
            (fault("the file is not text", "export it as CSV in UTF-8 and import that"), 1)
        }
        Stop::QuoteNotClosed { line } => (
            fault(
                "a quoted field that begins in this row is never closed; the rest of the file was not read",
                "close the quote, or double it where it is meant",
            ),
            line,
        ),
        Stop::TooLong { line } => (
            fault(
                "the row is longer than a million bytes; the rest of the file was not read",
                "check that it is a CSV file with one record a line",
            ),
            line,
        ),
        // failures of the system never come here; said all the same rather than lost
        Stop::Io(cause) => (fault(&format!("cannot be read: {cause}"), "try again"), line),
    }
}
