//! The rows of parts used in the form of a service: as many as there are parts.

use super::draft::{Draft, Key};
use std::sync::{Mutex, PoisonError};

/// A row as it stands in its fields.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartRow {
    /// Name of the part.
    pub part: String,
    /// How many; empty stands for one.
    pub quantity: String,
}

impl PartRow {
    /// A row of that part and quantity.
    #[must_use]
    pub fn new(part: &str, quantity: &str) -> Self {
        Self { part: part.trim().to_owned(), quantity: quantity.trim().to_owned() }
    }
}

/// The fields of a row, counted from 0: `part 1` and `quantity 1`.
#[must_use]
pub fn part_keys(row: usize) -> (Key, Key) {
    static MADE: Mutex<Vec<(Key, Key)>> = Mutex::new(Vec::new());
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    // the name of a field lives as long as the program; each is made once
    let next = made.len() + 1;
    made.extend(
        (next..=row + 1)
            .map(|number| -> (Key, Key) { (format!("part {number}").leak(), format!("quantity {number}").leak()) }),
    );
    made.get(row).copied().unwrap_or(("part", "quantity"))
}

/// How many rows there are up to the last one with a part in it.
#[must_use]
pub fn count(draft: &Draft) -> usize {
    let rows = (0..).take_while(|row| draft.has(part_keys(*row).0));
    rows.filter(|row| !draft.trimmed(part_keys(*row).0).is_empty()).last().map_or(0, |last| last + 1)
}

/// The rows with a part in them.
#[must_use]
pub fn filled(draft: &Draft) -> Vec<PartRow> {
    let rows = (0..count(draft)).map(part_keys);
    let rows = rows.map(|(part, quantity)| PartRow::new(draft.get(part), draft.get(quantity)));
    rows.filter(|row| !row.part.is_empty()).collect()
}

/// Puts these rows in place of those that stand there.
pub fn put(draft: &mut Draft, rows: &[PartRow]) {
    for (part, quantity) in (0..count(draft)).map(part_keys) {
        draft.set(part, "");
        draft.set(quantity, "");
    }
    for (index, row) in rows.iter().enumerate() {
        let (part, quantity) = part_keys(index);
        draft.set(part, row.part.clone());
        draft.set(quantity, row.quantity.clone());
    }
}

/// Puts another kit in place of one that was put before; what a person typed or changed stays.
pub fn change_kit(draft: &mut Draft, old: &[PartRow], new: &[PartRow]) {
    let typed: Vec<PartRow> = filled(draft).into_iter().filter(|row| !old.contains(row)).collect();
    let offered = new.iter().filter(|row| typed.iter().all(|typed| typed.part != row.part));
    let rows: Vec<PartRow> = offered.cloned().chain(typed.iter().cloned()).collect();
    put(draft, &rows);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(of: &[(&str, &str)]) -> Vec<PartRow> {
        of.iter().map(|(part, quantity)| PartRow::new(part, quantity)).collect()
    }

    #[test]
    fn as_many_rows_as_there_are_parts() {
        let names: Vec<String> = (1..=30).map(|n| format!("seal {n}")).collect();
        let many: Vec<PartRow> = names.iter().map(|name| PartRow::new(name, "2")).collect();
        let mut draft = Draft::default();
        put(&mut draft, &many);
        assert_eq!((count(&draft), filled(&draft)), (30, many));
        assert_eq!(draft.get("part 30"), "seal 30");
        put(&mut draft, &rows(&[("grease", "1")]));
        assert_eq!((count(&draft), draft.get("part 2")), (1, ""));
    }

    #[test]
    fn another_kit_leaves_what_was_typed() {
        let minor = rows(&[("grease", "1"), ("seal", "2")]);
        let major = rows(&[("grease", "1"), ("seal", "4"), ("spring pack", "1")]);
        let mut draft = Draft::default();
        change_kit(&mut draft, &[], &minor);
        assert_eq!(filled(&draft), minor);
        draft.set("quantity 2", "3");
        draft.set("part 3", "circlip");
        change_kit(&mut draft, &minor, &major);
        let expected = rows(&[("grease", "1"), ("spring pack", "1"), ("seal", "3"), ("circlip", "")]);
        assert_eq!(filled(&draft), expected);
        change_kit(&mut draft, &major, &minor);
        assert_eq!(filled(&draft), rows(&[("grease", "1"), ("seal", "3"), ("circlip", "")]));
    }
}
