//! One row as typed fields, each fault with its column, value and mend.

use super::names::nearest;
use super::register::Place;
use super::text::Record;
use crate::export::csv_text::undo_harmless;
use crate::interface::Interface;
use crate::moment::{DayRange, Moment, parse_iso_date};
use crate::tables::FolderTable;
use chrono::NaiveDate;

/// Why a row does not come in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) column: String,
    pub(super) value: String,
    pub(super) why: String,
    pub(super) mend: String,
    /// The table whose refused file the row waits for: such rows are told in one.
    pub(super) waits_for: Option<FolderTable>,
}

/// A file's columns as they lie in it.
#[derive(Debug)]
pub(super) struct Layout {
    pub(super) table: FolderTable,
    /// For each column of the table, which field of the file it is.
    pub(super) fields: Vec<Option<usize>>,
    /// The header as it stands in the file.
    pub(super) names: Vec<String>,
    /// Numbers may be written with a decimal comma.
    pub(super) decimal_comma: bool,
    /// It is the work-order list: its rows change orders, and some of its columns only tell.
    pub(super) is_list: bool,
}

/// A row whose fields are known to be text, as many as the header has.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowReader<'a> {
    layout: &'a Layout,
    record: &'a Record,
    pub(super) place: Place,
    /// Whether a fault would be listed: else no effort is made for its mend.
    pub(super) listed: bool,
}

/// What a figure must be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Range {
    Any,
    FromZero,
    AboveZero,
}

impl<'a> RowReader<'a> {
    pub(super) fn new(layout: &'a Layout, record: &'a Record, place: Place, listed: bool) -> Result<Self, Fault> {
        let (have, want) = (record.len(), layout.names.len());
        let first = || String::from_utf8_lossy(record.field(0)).into_owned();
        if have != want {
            return Err(Fault {
                column: layout.names.first().cloned().unwrap_or_default(),
                value: first(),
                why: format!("the row has {have} fields, the header has {want}"),
                mend: "add or remove separators; put a text that holds one into quotes".to_owned(),
                waits_for: None,
            });
        }
        for (index, name) in layout.names.iter().enumerate() {
            let fault = |why: &str, mend: &str| {
                let value = String::from_utf8_lossy(record.field(index)).into_owned();
                Fault { column: name.clone(), value, why: why.to_owned(), mend: mend.to_owned(), waits_for: None }
            };
            match std::str::from_utf8(record.field(index)) {
                Err(_not_text) => return Err(fault("is not UTF-8 text", "save the file as UTF-8 and import it again")),
                Ok(text) if text.contains('\0') => {
                    return Err(fault(
                        "holds a NUL character",
                        "write the field anew; something else than text got into it",
                    ));
                }
                Ok(_) if record.stray_quote == Some(index) => {
                    return Err(fault("text follows its closing quote", "double each quote inside a quoted field"));
                }
                Ok(_) => {}
            }
        }
        Ok(Self { layout, record, place, listed })
    }

    /// The field of a column; `None` where the file has no such column.
    pub(super) fn field(&self, column: &'static str) -> Option<Field<'a>> {
        let columns = self.layout.table.columns();
        let index = columns.iter().position(|known| known.name == column)?;
        let field = self.layout.fields.get(index).copied().flatten()?;
        let text = std::str::from_utf8(self.record.field(field)).unwrap_or_default();
        let guarded = columns.get(index).is_some_and(|known| known.text);
        Some(Field {
            column,
            text: if guarded { undo_harmless(text) } else { text },
            decimal_comma: self.layout.decimal_comma,
            listed: self.listed,
        })
    }

    /// The field of a column, empty where the file has no such column.
    pub(super) fn at(&self, column: &'static str) -> Field<'a> {
        let empty = Field { column, text: "", decimal_comma: self.layout.decimal_comma, listed: self.listed };
        self.field(column).unwrap_or(empty)
    }

    /// Sets a value where the file has its column; else it stays.
    pub(super) fn set<T>(
        &self,
        column: &'static str,
        slot: &mut T,
        read: impl FnOnce(Field<'a>) -> Result<T, Fault>,
    ) -> Result<(), Fault> {
        if let Some(field) = self.field(column) {
            *slot = read(field)?;
        }
        Ok(())
    }
}

/// One field of a row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field<'a> {
    pub(super) column: &'static str,
    pub(super) text: &'a str,
    decimal_comma: bool,
    pub(super) listed: bool,
}

impl<'a> Field<'a> {
    pub(super) fn fault(&self, why: impl Into<String>, mend: impl Into<String>) -> Fault {
        Fault {
            column: self.column.to_owned(),
            value: self.text.to_owned(),
            why: why.into(),
            mend: mend.into(),
            waits_for: None,
        }
    }

    fn trimmed(&self) -> Option<&'a str> {
        Some(self.text.trim()).filter(|text| !text.is_empty())
    }

    /// Free text, as it stands.
    #[expect(clippy::unnecessary_wraps, reason = "read like all other fields")]
    pub(super) fn free_text(self) -> Result<String, Fault> {
        Ok(self.text.to_owned())
    }

    /// A name, without spaces around it.
    #[expect(clippy::unnecessary_wraps, reason = "read like all other fields")]
    pub(super) fn name(self) -> Result<Option<String>, Fault> {
        Ok(self.trimmed().map(ToOwned::to_owned))
    }

    /// Free text, as it stands; `None` where there is none.
    #[expect(clippy::unnecessary_wraps, reason = "read like all other fields")]
    pub(super) fn optional_text(self) -> Result<Option<String>, Fault> {
        Ok(Some(self.text.to_owned()).filter(|text| !text.is_empty()))
    }

    /// What must be there.
    pub(super) fn needed<T>(self, value: Option<T>) -> Result<T, Fault> {
        value.ok_or_else(|| self.fault("is empty", format!("fill in {}", self.column)))
    }

    pub(super) fn needed_name(self) -> Result<String, Fault> {
        let name = self.name()?;
        self.needed(name)
    }

    /// A name that other fields list, separated by semicolons.
    pub(super) fn needed_listed_name(self) -> Result<String, Fault> {
        let name = self.needed_name()?;
        if name.contains(';') {
            return Err(self.fault("holds a semicolon, by which the files separate names", "write the name without it"));
        }
        Ok(name)
    }

    pub(super) fn interface(self) -> Result<Interface, Fault> {
        self.needed(Interface::parse(self.text))
    }

    /// A number with a decimal point, or with a comma where semicolons separate the fields.
    pub(super) fn number_text(self) -> Result<Option<String>, Fault> {
        let Some(text) = self.trimmed() else { return Ok(None) };
        let one_comma = text.matches(',').count() == 1 && !text.contains('.');
        let pointed = if one_comma && self.decimal_comma { text.replace(',', ".") } else { text.to_owned() };
        let plain = pointed.chars().all(|c| c.is_ascii_digit() || "+-.eE".contains(c));
        match pointed.parse::<f64>() {
            Ok(number) if plain && number.is_finite() => Ok(Some(pointed)),
            Ok(_) => Err(self.fault("is not a finite number", "write the figure in digits, such as 16.9")),
            Err(_) if one_comma && text.replace(',', ".").parse::<f64>().is_ok() => Err(self.fault(
                "has a decimal comma in a file separated by commas",
                format!("write {}, or separate the file by semicolons", text.replace(',', ".")),
            )),
            Err(_) if without_thousands(text).is_some() => Err(self.fault(
                "has marks for thousands",
                format!("write {} without them", without_thousands(text).unwrap_or_default()),
            )),
            Err(_not_a_number) => Err(self
                .fault("is not a number", "write digits and at most one decimal point, without a unit, such as 16.9")),
        }
    }

    pub(super) fn number(self, range: Range) -> Result<Option<f64>, Fault> {
        let Some(text) = self.number_text()? else { return Ok(None) };
        let number: f64 = text.parse().unwrap_or_default();
        match range {
            Range::FromZero if number < 0.0 => Err(self.fault("is below 0", "write 0 or more")),
            Range::AboveZero if number <= 0.0 => Err(self.fault("is not above 0", "write a figure above 0")),
            // adding zero turns -0 into 0
            _ => Ok(Some(number + 0.0)),
        }
    }

    /// A number as a quantity.
    pub(super) fn quantity<Q>(self, make: fn(f64) -> Option<Q>, range: Range) -> Result<Option<Q>, Fault> {
        Ok(self.number(range)?.and_then(make))
    }

    /// A whole number of at least `least`.
    pub(super) fn whole(self, least: u32) -> Result<Option<u32>, Fault> {
        let Some(number) = self.number(Range::Any)? else { return Ok(None) };
        let fits = number.fract() == 0.0 && f64::from(least) <= number && number <= f64::from(u32::MAX);
        let wrong = || self.fault("is not a whole number in range", format!("write a whole number from {least} on"));
        if fits { Ok(Some(number as u32)) } else { Err(wrong()) }
    }

    pub(super) fn date(self) -> Result<Option<NaiveDate>, Fault> {
        let Some(text) = self.trimmed() else { return Ok(None) };
        parse_iso_date(text).map(Some).ok_or_else(|| self.date_fault(text, Moment::parse(text).is_some()))
    }

    pub(super) fn moment(self) -> Result<Option<Moment>, Fault> {
        let Some(text) = self.trimmed() else { return Ok(None) };
        Moment::parse(text).map(Some).ok_or_else(|| self.date_fault(text, false))
    }

    fn date_fault(self, text: &str, is_moment: bool) -> Fault {
        if is_moment {
            return self.fault("holds a time of day where a day is wanted", "write the day alone, such as 2026-03-09");
        }
        let numbers: Vec<Option<u32>> = text.split('.').map(|part| part.trim().parse().ok()).collect();
        if let [Some(day), Some(month), Some(year)] = numbers[..]
            && let Some(date) = i32::try_from(year).ok().and_then(|year| NaiveDate::from_ymd_opt(year, month, day))
        {
            return self.fault("is not an ISO 8601 date", format!("write it as {date}"));
        }
        let day = text.get(..10).unwrap_or(text);
        let shape: String = day.chars().map(|c| if c.is_ascii_digit() { '9' } else { c }).collect();
        let (why, mend) = if shape == "9999-99-99" && parse_iso_date(day).is_none() {
            ("is a day that does not exist", "check year, month and day; days run from 1900-01-01 to 2199-12-31")
        } else {
            ("is not an ISO 8601 date", "write year, month and day such as 2026-03-09, with a time 2026-03-09T14:30")
        };
        self.fault(why, mend)
    }

    /// `yes`, `no`, or nothing.
    pub(super) fn yes_no(self) -> Result<Option<bool>, Fault> {
        match self.trimmed().map(str::to_ascii_lowercase).as_deref() {
            None => Ok(None),
            Some("yes") => Ok(Some(true)),
            Some("no") => Ok(Some(false)),
            Some(_) => Err(self.fault("is neither yes nor no", "write yes or no, or leave it empty")),
        }
    }

    /// One of some fixed words; `what` says what they are, such as `a phase`.
    pub(super) fn word<T>(
        self,
        parse: fn(&str) -> Option<T>,
        what: &str,
        words: &[&'static str],
    ) -> Result<Option<T>, Fault> {
        let Some(text) = self.trimmed() else { return Ok(None) };
        parse(text).map(Some).ok_or_else(|| {
            let mend = format!("write one of {}", words.join(", "));
            let mend = match nearest(text, words.iter().copied()) {
                Some(word) => format!("did you mean {word}? {mend}"),
                None => mend,
            };
            self.fault(format!("is not {what}"), mend)
        })
    }

    /// Days or intervals, separated by semicolons.
    pub(super) fn days(self) -> Result<Vec<DayRange>, Fault> {
        let items = self.text.split(';').map(str::trim).filter(|item| !item.is_empty());
        items.map(DayRange::parse).collect::<Option<_>>().ok_or_else(|| {
            self.fault(
                "is not a list of days",
                "write intervals such as 2026-04-01/2026-04-12, separated by semicolons",
            )
        })
    }

    /// That a name is not known, with the nearest one that is.
    pub(super) fn unknown<'n>(self, what: &str, names: impl Iterator<Item = &'n str>, file: FolderTable) -> Fault {
        let near = if self.listed { nearest(self.text.trim(), names) } else { None };
        let mend = match near {
            Some(name) => format!("did you mean {name}? Else add it to {file}"),
            None => format!("check the name, or add it to {file}"),
        };
        self.fault(format!("is not {what} of this shop"), mend)
    }
}

/// The figure with a decimal point and without marks for thousands, where `1.234,5`, `1,234.5`,
/// `1.234.567` or `1 234,5` cannot mean anything else.
fn without_thousands(text: &str) -> Option<String> {
    let is_mark = |c: char| matches!(c, '.' | ',' | '\'' | ' ' | '\u{a0}' | '\u{202f}');
    let last = text.rfind(is_mark)?;
    let mark = text.get(last..)?.chars().next()?;
    let (whole, rest) = (text.get(..last)?, text.get(last + mark.len_utf8()..)?);
    // the last mark is the decimal one unless the same one stands before it
    let has_decimals = matches!(mark, '.' | ',') && !whole.contains(mark) && whole.contains(is_mark);
    let (whole, decimals) = if has_decimals { (whole, Some(rest)) } else { (text, None) };
    let mut groups = whole.split(is_mark);
    let digits = |group: &str| !group.is_empty() && group.chars().all(|c| c.is_ascii_digit());
    let first = groups.next()?;
    let lead = first.trim_start_matches(['+', '-']);
    let grouped = digits(lead) && lead.len() <= 3 && groups.all(|group| digits(group) && group.len() == 3);
    if !grouped || decimals.is_some_and(|decimals| !digits(decimals)) {
        return None;
    }
    let whole: String = whole.chars().filter(|c| !is_mark(*c)).collect();
    Some(decimals.map_or_else(|| whole.clone(), |decimals| format!("{whole}.{decimals}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_for_thousands_are_told_from_other_slips() {
        for (text, plain) in [
            ("1.234,5", Some("1234.5")),
            ("1,234.5", Some("1234.5")),
            ("-1 234 567,25", Some("-1234567.25")),
            ("1.234.567", Some("1234567")),
            ("1'234", Some("1234")),
            ("1.23,4", None),
            ("12 kN", None),
            ("1.2.3", None),
            ("x", None),
            (",", None),
        ] {
            assert_eq!(without_thousands(text).as_deref(), plain, "{text}");
        }
    }
}
