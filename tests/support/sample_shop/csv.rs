//! Writing a table as CSV: UTF-8, header row, quotes only where RFC 4180 asks for them, one line feed per row.

/// A table under way: header and rows.
pub(super) struct Table {
    text: String,
    width: usize,
}

impl Table {
    /// Begins a table with its column names, written with commas between.
    pub(super) fn new(header: &str) -> Self {
        Self { text: format!("{header}\n"), width: header.split(',').count() }
    }

    /// Adds a row; fields missing at its end are empty.
    pub(super) fn row<T: AsRef<str>>(&mut self, fields: &[T]) {
        for column in 0..self.width {
            if column > 0 {
                self.text.push(',');
            }
            let field = fields.get(column).map_or("", |field| field.as_ref());
            if field.contains([',', '"', '\n', '\r']) {
                self.text.push('"');
                self.text.push_str(&field.replace('"', "\"\""));
                self.text.push('"');
            } else {
                self.text.push_str(field);
            }
        }
        self.text.push('\n');
    }

    /// The finished text.
    pub(super) fn finish(self) -> String {
        self.text
    }
}

/// A table whose rows stand in the source as texts already.
pub(super) fn fixed(header: &str, rows: &[&[&str]]) -> String {
    let mut table = Table::new(header);
    for row in rows {
        table.row(row);
    }
    table.finish()
}
