//! The change log: triggers that write down each changed row, and the turning back of what they wrote.
//!
//! The triggers are temporary, so they belong to this connection and always fit the schema that it
//! found. They write while `current_step` holds a step; without one (at undo and redo) they are quiet.
//! Tables must have `id INTEGER PRIMARY KEY`, and rows must be changed by INSERT, UPDATE, DELETE or
//! an upsert, never by REPLACE.

use super::StoreError;
use super::tables::{Changes, ShopTable};
use crate::ids::StepId;
use rusqlite::{Connection, OptionalExtension as _, params};
use std::collections::BTreeMap;

/// How the rows of one table are written down.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// Row in `row_layout`.
    id: i64,
    table: ShopTable,
    columns: Vec<String>,
}

impl Layout {
    /// The values of a row as SQL literals, separated by commas; `row` is `NEW.`, `OLD.` or empty.
    fn image(&self, row: &str) -> String {
        let quoted: Vec<String> = self.columns.iter().map(|column| format!("quote({row}{column})")).collect();
        format!("concat_ws(',', {})", quoted.join(", "))
    }
}

/// Writes down the present columns of each table, where they are not written down yet.
fn note_layouts(connection: &Connection) -> Result<(), StoreError> {
    for table in ShopTable::ALL {
        let columns = columns_of(connection, table)?.join(",");
        let known = connection
            .query_row(
                "SELECT 1 FROM row_layout WHERE table_name = ?1 AND columns = ?2",
                params![table.name(), columns],
                |_| Ok(()),
            )
            .optional()?;
        if known.is_none() {
            connection.execute(
                "INSERT INTO row_layout (table_name, columns) VALUES (?1, ?2)",
                params![table.name(), columns],
            )?;
        }
    }
    Ok(())
}

/// Makes the triggers on this connection.
pub(super) fn install(connection: &Connection) -> Result<(), StoreError> {
    note_layouts(connection)?;
    connection.execute_batch("CREATE TEMP TABLE current_step (step_id INTEGER NOT NULL)")?;
    for table in ShopTable::ALL {
        let layout = present_layout(connection, table)?;
        let (id, name) = (layout.id, table.name());
        let (before, after) = (layout.image("OLD."), layout.image("NEW."));
        let differs =
            layout.columns.iter().map(|column| format!("OLD.{column} IS NOT NEW.{column}")).collect::<Vec<_>>();
        let write = "INSERT INTO step_change (step_id, layout_id, row_id, before, after) SELECT step_id";
        connection.execute_batch(&format!(
            "CREATE TEMP TRIGGER log_insert_{name} AFTER INSERT ON main.{name} BEGIN
                {write}, {id}, NEW.id, NULL, {after} FROM current_step; END;
             CREATE TEMP TRIGGER log_update_{name} AFTER UPDATE ON main.{name} WHEN {} BEGIN
                {write}, {id}, NEW.id, {before}, {after} FROM current_step; END;
             CREATE TEMP TRIGGER log_delete_{name} AFTER DELETE ON main.{name} BEGIN
                {write}, {id}, OLD.id, {before}, NULL FROM current_step; END;",
            differs.join(" OR ")
        ))?;
    }
    Ok(())
}

fn columns_of(connection: &Connection, table: ShopTable) -> Result<Vec<String>, StoreError> {
    let mut statement = connection.prepare("SELECT name FROM pragma_table_info(?1) ORDER BY cid")?;
    let names = statement.query_map([table.name()], |row| row.get(0))?.collect::<Result<Vec<String>, _>>()?;
    Ok(names)
}

fn present_layout(connection: &Connection, table: ShopTable) -> Result<Layout, StoreError> {
    let columns = columns_of(connection, table)?;
    let id = connection.query_row(
        "SELECT id FROM row_layout WHERE table_name = ?1 AND columns = ?2",
        params![table.name(), columns.join(",")],
        |row| row.get(0),
    )?;
    Ok(Layout { id, table, columns })
}

/// Every layout that ever was, by its row.
pub(super) fn layouts(connection: &Connection) -> Result<BTreeMap<i64, Layout>, StoreError> {
    let mut statement = connection.prepare_cached("SELECT id, table_name, columns FROM row_layout")?;
    let mut rows = statement.query([])?;
    let mut layouts = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let name: String = row.get(1)?;
        let columns: String = row.get(2)?;
        let table = ShopTable::from_name(&name)
            .ok_or_else(|| StoreError::Damaged(format!("the journal names an unknown table '{name}'")))?;
        let columns = columns.split(',').map(str::to_owned).collect();
        layouts.insert(row.get(0)?, Layout { id: row.get(0)?, table, columns });
    }
    Ok(layouts)
}

impl Layout {
    /// The table.
    pub(super) const fn table(&self) -> ShopTable {
        self.table
    }

    /// The columns, `id` first.
    pub(super) fn columns(&self) -> &[String] {
        &self.columns
    }
}

/// Writes down that rows of a table were added, as ranges of ids, instead of one by one.
pub(super) fn note_added(
    connection: &Connection,
    step: StepId,
    table: ShopTable,
    mut ids: Vec<i64>,
) -> Result<(), StoreError> {
    let layout = present_layout(connection, table)?.id;
    ids.sort_unstable();
    for range in ids.chunk_by(|before, after| after - before == 1) {
        if let (Some(first), Some(last)) = (range.first(), range.last()) {
            connection
                .prepare_cached(
                    "INSERT INTO step_range (step_id, layout_id, first_row_id, last_row_id) VALUES (?1, ?2, ?3, ?4)",
                )?
                .execute(params![step.row(), layout, first, last])?;
        }
    }
    Ok(())
}

/// The tables that a step touched.
pub(super) fn touched(connection: &Connection, step: StepId) -> Result<Changes, StoreError> {
    let mut statement = connection.prepare_cached(
        "SELECT table_name FROM row_layout WHERE id IN (
             SELECT layout_id FROM step_change WHERE step_id = ?1
             UNION SELECT layout_id FROM step_range WHERE step_id = ?1)",
    )?;
    let names = statement.query_map([step.row()], |row| row.get::<_, String>(0))?.collect::<Result<Vec<_>, _>>()?;
    Ok(Changes { tables: names.iter().filter_map(|name| ShopTable::from_name(name)).collect() })
}

/// One changed row of the log.
struct LoggedChange {
    layout: i64,
    row: i64,
    before: Option<String>,
    after: Option<String>,
}

/// Many added rows of the log.
struct LoggedRange {
    id: i64,
    layout: i64,
    first: i64,
    last: i64,
}

fn logged_changes(connection: &Connection, step: StepId) -> Result<Vec<LoggedChange>, StoreError> {
    let mut statement = connection
        .prepare_cached("SELECT layout_id, row_id, before, after FROM step_change WHERE step_id = ?1 ORDER BY id")?;
    let changes = statement
        .query_map([step.row()], |row| {
            Ok(LoggedChange { layout: row.get(0)?, row: row.get(1)?, before: row.get(2)?, after: row.get(3)? })
        })?
        .collect::<Result<Vec<_>, _>>()?;
    Ok(changes)
}

fn logged_ranges(connection: &Connection, step: StepId) -> Result<Vec<LoggedRange>, StoreError> {
    let mut statement = connection.prepare_cached(
        "SELECT id, layout_id, first_row_id, last_row_id FROM step_range WHERE step_id = ?1 ORDER BY id",
    )?;
    let ranges = statement
        .query_map([step.row()], |row| {
            Ok(LoggedRange { id: row.get(0)?, layout: row.get(1)?, first: row.get(2)?, last: row.get(3)? })
        })?
        .collect::<Result<Vec<_>, _>>()?;
    Ok(ranges)
}

/// Turns the rows of a step back, the last change first.
pub(super) fn turn_back(connection: &Connection, step: StepId) -> Result<(), StoreError> {
    let turn = Turn { connection, step, layouts: layouts(connection)? };
    for change in logged_changes(connection, step)?.iter().rev() {
        turn.replace(change.layout, change.row, change.after.as_deref(), change.before.as_deref())?;
    }
    for range in logged_ranges(connection, step)?.iter().rev() {
        turn.take_out(range)?;
    }
    Ok(())
}

/// Does the rows of a step again, in their order.
pub(super) fn turn_forth(connection: &Connection, step: StepId) -> Result<(), StoreError> {
    let turn = Turn { connection, step, layouts: layouts(connection)? };
    for range in &logged_ranges(connection, step)? {
        turn.put_in(range)?;
    }
    for change in &logged_changes(connection, step)? {
        turn.replace(change.layout, change.row, change.before.as_deref(), change.after.as_deref())?;
    }
    Ok(())
}

/// Rows put in by one statement at redo: few enough for SQLite's limits, enough to be quick.
const ROWS_AT_ONCE: i64 = 100;

/// Undo or redo of one step.
struct Turn<'c> {
    connection: &'c Connection,
    step: StepId,
    layouts: BTreeMap<i64, Layout>,
}

impl Turn<'_> {
    fn layout(&self, id: i64) -> Result<&Layout, StoreError> {
        self.layouts.get(&id).ok_or_else(|| StoreError::Damaged("the journal lacks a table layout".to_owned()))
    }

    fn changed_outside(&self, table: ShopTable, row: i64) -> StoreError {
        let label = self
            .connection
            .query_row("SELECT label FROM step WHERE id = ?1", [self.step.row()], |row| row.get(0))
            .unwrap_or_default();
        StoreError::ChangedOutside { label, what: table.label(), row }
    }

    /// Puts one image of a row in the place of another, which has to be there.
    fn replace(&self, layout: i64, row: i64, there: Option<&str>, wanted: Option<&str>) -> Result<(), StoreError> {
        let layout = self.layout(layout)?;
        let (name, columns) = (layout.table.name(), layout.columns.join(", "));
        let present: Option<String> = self
            .connection
            .prepare_cached(&format!("SELECT {} FROM {name} WHERE id = ?1", layout.image("")))?
            .query_row([row], |row| row.get(0))
            .optional()?;
        if present.as_deref() != there {
            return Err(self.changed_outside(layout.table, row));
        }
        match (there, wanted) {
            (None, Some(wanted)) => {
                self.connection.execute(&format!("INSERT INTO {name} ({columns}) VALUES ({wanted})"), [])?;
            }
            (Some(_), Some(wanted)) => {
                self.connection.execute(&format!("UPDATE {name} SET ({columns}) = ({wanted}) WHERE id = ?1"), [row])?;
            }
            (Some(_), None) => {
                self.connection.prepare_cached(&format!("DELETE FROM {name} WHERE id = ?1"))?.execute([row])?;
            }
            (None, None) => {}
        }
        Ok(())
    }

    /// Takes the rows of a range out and keeps them.
    fn take_out(&self, range: &LoggedRange) -> Result<(), StoreError> {
        let layout = self.layout(range.layout)?;
        let name = layout.table.name();
        let kept = self.connection.execute(
            &format!(
                "INSERT INTO step_range_row (range_id, row_id, content)
                 SELECT ?1, id, {} FROM {name} WHERE id BETWEEN ?2 AND ?3",
                layout.image("")
            ),
            params![range.id, range.first, range.last],
        )?;
        if i64::try_from(kept).ok() != Some(range.last - range.first + 1) {
            return Err(self.changed_outside(layout.table, range.first));
        }
        self.connection
            .execute(&format!("DELETE FROM {name} WHERE id BETWEEN ?1 AND ?2"), params![range.first, range.last])?;
        Ok(())
    }

    /// Puts the kept rows of a range in again.
    fn put_in(&self, range: &LoggedRange) -> Result<(), StoreError> {
        let layout = self.layout(range.layout)?;
        let into = format!("INSERT INTO {} ({}) VALUES ", layout.table.name(), layout.columns.join(", "));
        let mut from = range.first;
        while from <= range.last {
            let mut statement = self.connection.prepare_cached(
                "SELECT row_id, content FROM step_range_row WHERE range_id = ?1 AND row_id >= ?2
                 ORDER BY row_id LIMIT ?3",
            )?;
            let rows = statement
                .query_map(params![range.id, from, ROWS_AT_ONCE], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect::<Result<Vec<(i64, String)>, _>>()?;
            let Some((last, _)) = rows.last() else {
                return Err(self.changed_outside(layout.table, from));
            };
            from = last + 1;
            let values: Vec<String> = rows.iter().map(|(_, content)| format!("({content})")).collect();
            self.connection.execute_batch(&format!("{into}{}", values.join(",")))?;
        }
        self.connection.execute("DELETE FROM step_range_row WHERE range_id = ?1", [range.id])?;
        Ok(())
    }
}

/// Rows of the shop that are not as the last step left them, or that no step made.
pub(super) fn faults(connection: &Connection, faults: &mut Vec<String>) -> Result<(), StoreError> {
    for layout in layouts(connection)?.values() {
        let (name, label) = (layout.table.name(), layout.table.label());
        let mut statement = connection.prepare(&format!(
            "SELECT logged.row_id FROM (
                 SELECT max(step_change.id) AS last_id, row_id FROM step_change
                 JOIN step ON step.id = step_id JOIN row_layout ON row_layout.id = layout_id
                 WHERE state = 'done' AND table_name = ?1 GROUP BY row_id) AS last
             JOIN step_change AS logged ON logged.id = last_id AND logged.layout_id = ?2
             LEFT JOIN {name} ON {name}.id = logged.row_id
             WHERE after IS NOT iif({name}.id IS NULL, NULL, {}) ORDER BY 1",
            layout.image(&format!("{name}."))
        ))?;
        let rows = statement.query_map(params![name, layout.id], |row| row.get::<_, i64>(0))?;
        for row in rows {
            faults.push(format!("{label} in row {} is not as the journal left it", row?));
        }
    }
    for table in ShopTable::ALL {
        let name = table.name();
        let mut statement = connection.prepare(&format!(
            "SELECT id FROM {name} WHERE id NOT IN (
                 SELECT row_id FROM step_change JOIN step ON step.id = step_id
                 JOIN row_layout ON row_layout.id = layout_id WHERE state = 'done' AND table_name = ?1)
             AND NOT EXISTS (
                 SELECT 1 FROM step_range JOIN step ON step.id = step_id
                 JOIN row_layout ON row_layout.id = layout_id
                 WHERE state = 'done' AND table_name = ?1 AND {name}.id BETWEEN first_row_id AND last_row_id)
             ORDER BY id"
        ))?;
        let rows = statement.query_map([name], |row| row.get::<_, i64>(0))?;
        for row in rows {
            faults.push(format!("{} in row {} is in no step of the journal", table.label(), row?));
        }
    }
    Ok(())
}
