//! How values stand in columns, so that the nouns know nothing of SQL.

use crate::crew::{Shift, parse_shifts};
use crate::ids::{MachineId, SpindleId};
use crate::interface::Interface;
use crate::moment::{DayRange, Moment, parse_iso_date};
use crate::order::OrderState;
use crate::reading::Phase;
use crate::service::{Kind, PartQuantity, format_parts, parse_parts};
use crate::store::StoreError;
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Minutes, Money, Percent, Quantity, RunHours, Unit};
use chrono::{NaiveDate, NaiveTime};
use rusqlite::types::{Value, ValueRef};

/// A value that fits into one column.
pub(crate) trait Column: Sized {
    /// As it is stored.
    fn to_value(&self) -> Value;
    /// The value of what is stored; `None` if that does not fit.
    fn from_stored(stored: ValueRef<'_>) -> Option<Self>;
}

/// The columns of one row, taken from left to right.
pub(crate) struct Fields<'row> {
    row: &'row rusqlite::Row<'row>,
    table: &'static str,
    columns: &'static [&'static str],
    next: usize,
}

impl<'row> Fields<'row> {
    /// The fields after the row id, which stands first.
    pub(super) const fn of(
        row: &'row rusqlite::Row<'row>,
        table: &'static str,
        columns: &'static [&'static str],
    ) -> Self {
        Self { row, table, columns, next: 1 }
    }

    /// The next field.
    pub(super) fn take<T: Column>(&mut self) -> Result<T, StoreError> {
        let stored = self.row.get_ref(self.next)?;
        self.next += 1;
        T::from_stored(stored).ok_or_else(|| self.unreadable(stored))
    }

    fn unreadable(&self, stored: ValueRef<'_>) -> StoreError {
        let column = self.columns.get(self.next.saturating_sub(2)).copied().unwrap_or_default();
        StoreError::Content {
            table: self.table,
            row: self.row.get(0).unwrap_or_default(),
            column,
            value: text_of(stored),
        }
    }
}

/// A stored value for a message.
fn text_of(stored: ValueRef<'_>) -> String {
    match stored {
        ValueRef::Null => "nothing".to_owned(),
        ValueRef::Integer(number) => number.to_string(),
        ValueRef::Real(number) => number.to_string(),
        ValueRef::Text(bytes) => format!("'{}'", String::from_utf8_lossy(bytes)),
        ValueRef::Blob(bytes) => format!("{} bytes", bytes.len()),
    }
}

impl<T: Column> Column for Option<T> {
    fn to_value(&self) -> Value {
        self.as_ref().map_or(Value::Null, Column::to_value)
    }
    fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
        if matches!(stored, ValueRef::Null) { Some(None) } else { T::from_stored(stored).map(Some) }
    }
}

impl Column for String {
    fn to_value(&self) -> Value {
        Value::Text(self.clone())
    }
    fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
        stored.as_str().ok().map(str::to_owned)
    }
}

impl Column for f64 {
    fn to_value(&self) -> Value {
        Value::Real(*self)
    }
    fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
        stored.as_f64().ok().filter(|number| number.is_finite())
    }
}

impl Column for u32 {
    fn to_value(&self) -> Value {
        Value::Integer(i64::from(*self))
    }
    fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
        stored.as_i64().ok().and_then(|number| Self::try_from(number).ok())
    }
}

impl Column for bool {
    fn to_value(&self) -> Value {
        Value::Integer(i64::from(*self))
    }
    fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
        match stored.as_i64() {
            Ok(0) => Some(false),
            Ok(1) => Some(true),
            _ => None,
        }
    }
}

macro_rules! quantity_columns {
    ($($name:ident),*) => {$(
        impl Column for $name {
            fn to_value(&self) -> Value {
                Value::Real(self.get())
            }
            fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
                stored.as_f64().ok().and_then(Self::new)
            }
        }
    )*};
}
quantity_columns!(ClampCycles, Kilonewtons, Millimetres, Minutes, Money, Percent, RunHours);

macro_rules! id_columns {
    ($($name:ident),*) => {$(
        impl Column for $name {
            fn to_value(&self) -> Value {
                Value::Integer(self.row())
            }
            fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
                stored.as_i64().ok().map(Self::from_row)
            }
        }
    )*};
}
id_columns!(MachineId, SpindleId);

/// Values that are stored as the text that the files use: how it is written, how it is read. Words
/// are stored in one spelling only, so they are compared as they are.
macro_rules! text_columns {
    ($($name:ty: $write:expr, $read:expr;)*) => {$(
        impl Column for $name {
            fn to_value(&self) -> Value {
                let write: fn(&Self) -> String = $write;
                Value::Text(write(self))
            }
            fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
                let read: fn(&str) -> Option<Self> = $read;
                stored.as_str().ok().and_then(read)
            }
        }
    )*};
}
text_columns! {
    NaiveDate: |day| day.to_string(), parse_iso_date;
    NaiveTime: |time| time_text(*time), |text| NaiveTime::parse_from_str(text, "%H:%M:%S").ok();
    Moment: |moment| moment.to_string(), Self::parse;
    Interface: |interface| interface.as_str().to_owned(), Self::parse;
    Quantity: |quantity| quantity.key().to_owned(), |text| Self::ALL.into_iter().find(|known| known.key() == text);
    Unit: |unit| unit.symbol().to_owned(), |text| Self::ALL.into_iter().find(|known| known.symbol() == text);
    Phase: |phase| phase.key().to_owned(), |text| Self::ALL.into_iter().find(|known| known.key() == text);
    Kind: |kind| kind.key().to_owned(), |text| Self::ALL.into_iter().find(|known| known.key() == text);
    OrderState: |state| state.key().to_owned(), |text| Self::ALL.into_iter().find(|known| known.key() == text);
    Vec<Kind>: |kinds| joined(kinds.iter().map(|kind| kind.key())), |text| items(text).map(Kind::from_key).collect();
    Vec<Shift>: |shifts| joined(shifts), parse_shifts;
    Vec<DayRange>: |ranges| joined(ranges), |text| items(text).map(DayRange::parse).collect();
    Vec<PartQuantity>: |parts| format_parts(parts), parse_parts;
    Vec<String>: |names| names.join(";"), |text| Some(items(text).map(str::to_owned).collect());
}

fn time_text(time: NaiveTime) -> String {
    time.format("%H:%M:%S").to_string()
}

fn joined(values: impl IntoIterator<Item = impl ToString>) -> String {
    values.into_iter().map(|value| value.to_string()).collect::<Vec<_>>().join(";")
}

fn items(text: &str) -> impl Iterator<Item = &str> {
    text.split(';').map(str::trim).filter(|item| !item.is_empty())
}

/// The shares of the weekdays, Monday first.
impl Column for [f64; 7] {
    fn to_value(&self) -> Value {
        Value::Text(joined(self))
    }
    fn from_stored(stored: ValueRef<'_>) -> Option<Self> {
        let shares: Option<Vec<f64>> = items(stored.as_str().ok()?).map(|item| item.parse().ok()).collect();
        shares?.try_into().ok()
    }
}
