//! A value of an instance file together with the way to it, so that an error can say where it is.

use serde_json::Value;
use std::collections::BTreeMap;

/// Why an instance file cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}: {field} is {value}: {mend}")]
pub struct InstanceError {
    /// The file.
    pub file: String,
    /// The way to the field, such as `services[3].minutes`.
    pub field: String,
    /// What stands there.
    pub value: String,
    /// What would mend it.
    pub mend: String,
}

/// A value and the way to it.
#[derive(Debug, Clone)]
pub(super) struct Field<'a> {
    value: &'a Value,
    path: String,
    file: &'a str,
}

impl<'a> Field<'a> {
    pub(super) const fn root(value: &'a Value, file: &'a str) -> Self {
        Self { value, path: String::new(), file }
    }

    fn under(&self, value: &'a Value, step: &str) -> Self {
        let mut path = self.path.clone();
        if !path.is_empty() && !step.starts_with('[') {
            path.push('.');
        }
        path.push_str(step);
        Self { value, path, file: self.file }
    }

    /// An error at this field.
    pub(super) fn fault(&self, mend: &str) -> InstanceError {
        let field = if self.path.is_empty() { "the whole file".to_owned() } else { self.path.clone() };
        InstanceError {
            file: self.file.to_owned(),
            field,
            value: shortened(&self.value.to_string()),
            mend: mend.to_owned(),
        }
    }

    /// A key that must be there.
    pub(super) fn get(&self, key: &str) -> Result<Self, InstanceError> {
        self.optional(key)?.ok_or_else(|| InstanceError {
            file: self.file.to_owned(),
            field: self.under(self.value, key).path,
            value: "missing".to_owned(),
            mend: "add it".to_owned(),
        })
    }

    /// A key that may be missing or null.
    pub(super) fn optional(&self, key: &str) -> Result<Option<Self>, InstanceError> {
        let object = self.value.as_object().ok_or_else(|| self.fault("write it as an object in braces"))?;
        Ok(object.get(key).filter(|value| !value.is_null()).map(|value| self.under(value, key)))
    }

    /// Every entry of a list.
    pub(super) fn each<T>(
        &self,
        mut read: impl FnMut(&Self) -> Result<T, InstanceError>,
    ) -> Result<Vec<T>, InstanceError> {
        let list = self.value.as_array().ok_or_else(|| self.fault("write it as a list in brackets"))?;
        list.iter().enumerate().map(|(index, value)| read(&self.under(value, &format!("[{index}]")))).collect()
    }

    /// A list of so many entries.
    pub(super) fn exactly<const N: usize>(&self, what: &str) -> Result<[Self; N], InstanceError> {
        let entries = self.each(|entry| Ok(entry.clone()))?;
        entries.try_into().map_err(|other: Vec<Self>| {
            self.fault(&format!("write it as {what} in brackets, {N} values instead of {}", other.len()))
        })
    }

    /// A text that says something.
    pub(super) fn text(&self) -> Result<String, InstanceError> {
        let text = self.value.as_str().filter(|text| !text.is_empty());
        text.map(str::to_owned).ok_or_else(|| self.fault("write it as a text in quotes"))
    }

    /// A whole number between two others.
    pub(super) fn whole(&self, least: i64, most: i64) -> Result<i64, InstanceError> {
        self.value
            .as_i64()
            .filter(|number| (least..=most).contains(number))
            .ok_or_else(|| self.fault(&format!("write a whole number from {least} to {most}")))
    }

    /// The index of a name that stands elsewhere in the file.
    pub(super) fn one_of(&self, known: &BTreeMap<String, usize>, where_from: &str) -> Result<usize, InstanceError> {
        known.get(&self.text()?).copied().ok_or_else(|| self.fault(&format!("name one of the {where_from}")))
    }
}

/// As much of a value as a sentence bears.
fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    let mut short = String::new();
    for (count, letter) in text.chars().enumerate() {
        if count == MOST {
            short.push('…');
            break;
        }
        short.push(letter);
    }
    short
}
