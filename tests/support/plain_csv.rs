//! A second reader of CSV, written from the grammar of RFC 4180 alone, to compare files with.
//!
//! ```text
//! file = record *(CRLF record) [CRLF]; record = field *(COMMA field);
//! field = escaped / non-escaped; escaped = DQUOTE *(TEXTDATA / COMMA / CR / LF / 2DQUOTE) DQUOTE
//! ```

/// The records of a file; `Err` says where it breaks the grammar.
pub fn read(text: &str) -> Result<Vec<Vec<String>>, String> {
    let mut rest = text;
    let mut records = Vec::new();
    while !rest.is_empty() {
        let mut record = Vec::new();
        loop {
            let (field, after) = field(rest).map_err(|why| format!("record {}: {why}", records.len() + 1))?;
            record.push(field);
            rest = after;
            match rest.strip_prefix(',') {
                Some(next) => rest = next,
                None => break,
            }
        }
        records.push(record);
        rest = match rest.strip_prefix("\r\n") {
            Some(next) => next,
            None if rest.is_empty() => rest,
            None => return Err(format!("record {}: no CRLF after it", records.len())),
        };
    }
    Ok(records)
}

fn field(text: &str) -> Result<(String, &str), String> {
    let Some(quoted) = text.strip_prefix('"') else {
        let end = text.find([',', '\r', '\n', '"']).unwrap_or(text.len());
        let (field, rest) = text.split_at(end);
        return if rest.starts_with('"') {
            Err("a quote inside a plain field".to_owned())
        } else {
            Ok((field.to_owned(), rest))
        };
    };
    let mut out = String::new();
    let mut rest = quoted;
    loop {
        let (before, after) = rest.split_once('"').ok_or_else(|| "a quote that is not closed".to_owned())?;
        out.push_str(before);
        match after.strip_prefix('"') {
            Some(next) => {
                out.push('"');
                rest = next;
            }
            None => return Ok((out, after)),
        }
    }
}
