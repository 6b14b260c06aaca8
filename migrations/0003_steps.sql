-- What was done when by whom, and how to undo it: one step per action.

-- state: done; undone (can be redone); dropped (undone, and something else was done since)
CREATE TABLE step (
    id INTEGER PRIMARY KEY,
    label TEXT NOT NULL,
    done_at TEXT NOT NULL,
    done_by TEXT NOT NULL,
    state TEXT NOT NULL DEFAULT 'done' CHECK (state IN ('done', 'undone', 'dropped')),
    -- the last time that it was undone or redone, and by whom
    turned_at TEXT,
    turned_by TEXT
) STRICT;
CREATE INDEX step_by_state ON step (state, id);

-- The columns that a table had when a change was written, so that later columns do no harm.
CREATE TABLE row_layout (
    id INTEGER PRIMARY KEY,
    table_name TEXT NOT NULL,
    columns TEXT NOT NULL,
    UNIQUE (table_name, columns)
) STRICT;

-- One changed row. before and after are its values as SQL literals, separated by commas;
-- NULL: the row was not there.
CREATE TABLE step_change (
    id INTEGER PRIMARY KEY,
    step_id INTEGER NOT NULL REFERENCES step (id) ON DELETE CASCADE,
    layout_id INTEGER NOT NULL REFERENCES row_layout (id),
    row_id INTEGER NOT NULL,
    before TEXT,
    after TEXT
) STRICT;
CREATE INDEX step_change_by_step ON step_change (step_id, id);

-- Many new rows of one table at once, from the first to the last id.
CREATE TABLE step_range (
    id INTEGER PRIMARY KEY,
    step_id INTEGER NOT NULL REFERENCES step (id) ON DELETE CASCADE,
    layout_id INTEGER NOT NULL REFERENCES row_layout (id),
    first_row_id INTEGER NOT NULL,
    last_row_id INTEGER NOT NULL
) STRICT;
CREATE INDEX step_range_by_step ON step_range (step_id, id);

-- The rows of an undone range, kept for redo.
CREATE TABLE step_range_row (
    range_id INTEGER NOT NULL REFERENCES step_range (id) ON DELETE CASCADE,
    row_id INTEGER NOT NULL,
    content TEXT NOT NULL,
    PRIMARY KEY (range_id, row_id)
) STRICT;
