-- What was measured and done. Records are never overwritten: a correction is a row of its own.

-- A meter belongs to a spindle, or to a machine position.
CREATE TABLE meter_reading (
    id INTEGER PRIMARY KEY,
    spindle_id INTEGER REFERENCES spindle (id) ON DELETE RESTRICT,
    machine_id INTEGER REFERENCES machine (id) ON DELETE RESTRICT,
    position INTEGER CONSTRAINT "positions count from 1" CHECK (position > 0),
    read_at TEXT NOT NULL
        CONSTRAINT "the day of a meter reading is a date of 1900 to 2199"
        CHECK ((read_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' OR
            read_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]*')
            AND read_at BETWEEN '1900' AND '2200'),
    run_hours REAL CONSTRAINT "run hours are 0 or more" CHECK (run_hours >= 0),
    -- REAL: some meters count in thousands, and show fractions of them
    clamp_cycles REAL CONSTRAINT "clamp cycles are 0 or more" CHECK (clamp_cycles >= 0),
    meter_replaced INTEGER NOT NULL CONSTRAINT "a meter was replaced or not" CHECK (meter_replaced IN (0, 1)),
    -- the day it was entered, where that is another one
    recorded_on TEXT
        CONSTRAINT "recorded on is a date of 1900 to 2199"
        CHECK (recorded_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND recorded_on BETWEEN '1900' AND '2200'),
    -- the day on which a correction took its place
    replaced_on TEXT
        CONSTRAINT "replaced on is a date of 1900 to 2199"
        CHECK (replaced_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND replaced_on BETWEEN '1900' AND '2200'),
    CONSTRAINT "a meter belongs to a spindle or to a machine position" CHECK (
        (spindle_id IS NOT NULL AND machine_id IS NULL AND position IS NULL)
        OR (spindle_id IS NULL AND machine_id IS NOT NULL AND position IS NOT NULL)),
    CONSTRAINT "a meter reading needs run hours or clamp cycles" CHECK (run_hours IS NOT NULL OR clamp_cycles IS NOT NULL)
) STRICT;
CREATE INDEX meter_reading_by_spindle ON meter_reading (spindle_id, read_at) WHERE spindle_id IS NOT NULL;
CREATE INDEX meter_reading_by_machine ON meter_reading (machine_id, position, read_at) WHERE machine_id IS NOT NULL;

-- unit says what was measured; value_n is typed_n in kN (kN, lbf, N) or in mm (mm, in)
CREATE TABLE reading (
    id INTEGER PRIMARY KEY,
    spindle_id INTEGER NOT NULL REFERENCES spindle (id) ON DELETE RESTRICT,
    taken_at TEXT NOT NULL
        CONSTRAINT "the day of a reading is a date of 1900 to 2199"
        CHECK ((taken_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' OR
            taken_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]*')
            AND taken_at BETWEEN '1900' AND '2200'),
    phase TEXT NOT NULL
        CONSTRAINT "a reading is routine, as found or as left" CHECK (phase IN ('routine', 'as_found', 'as_left')),
    unit TEXT NOT NULL CONSTRAINT "a reading is in kN, lbf, N, mm or in" CHECK (unit IN ('kN', 'lbf', 'N', 'mm', 'in')),
    typed_1 TEXT NOT NULL,
    value_1 REAL NOT NULL,
    typed_2 TEXT,
    value_2 REAL,
    typed_3 TEXT,
    value_3 REAL,
    typed_4 TEXT,
    value_4 REAL,
    typed_5 TEXT,
    value_5 REAL,
    run_hours REAL CONSTRAINT "run hours are 0 or more" CHECK (run_hours >= 0),
    clamp_cycles REAL CONSTRAINT "clamp cycles are 0 or more" CHECK (clamp_cycles >= 0),
    gauge TEXT,
    -- NULL: not said
    zero_checked INTEGER CONSTRAINT "the zero was checked or not" CHECK (zero_checked IN (0, 1)),
    technician TEXT,
    note TEXT NOT NULL,
    -- the day it was entered, where that is another one
    recorded_on TEXT
        CONSTRAINT "recorded on is a date of 1900 to 2199"
        CHECK (recorded_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND recorded_on BETWEEN '1900' AND '2200'),
    -- the day on which a correction took its place
    replaced_on TEXT
        CONSTRAINT "replaced on is a date of 1900 to 2199"
        CHECK (replaced_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND replaced_on BETWEEN '1900' AND '2200'),
    -- why the figure is doubted
    doubt TEXT,
    CONSTRAINT "a clamp force is above 0" CHECK (
        unit IN ('mm', 'in')
        OR (value_1 > 0 AND ifnull(value_2, 1) > 0 AND ifnull(value_3, 1) > 0
            AND ifnull(value_4, 1) > 0 AND ifnull(value_5, 1) > 0)),
    CONSTRAINT "each stroke has its value and strokes are filled from the first" CHECK (
        (typed_2 IS NULL) = (value_2 IS NULL) AND (typed_3 IS NULL) = (value_3 IS NULL)
        AND (typed_4 IS NULL) = (value_4 IS NULL) AND (typed_5 IS NULL) = (value_5 IS NULL)
        AND (value_3 IS NULL OR value_2 IS NOT NULL) AND (value_4 IS NULL OR value_3 IS NOT NULL)
        AND (value_5 IS NULL OR value_4 IS NOT NULL))
) STRICT;
CREATE INDEX reading_by_spindle ON reading (spindle_id, taken_at);

CREATE TABLE service (
    id INTEGER PRIMARY KEY,
    spindle_id INTEGER NOT NULL REFERENCES spindle (id) ON DELETE RESTRICT,
    done_at TEXT NOT NULL
        CONSTRAINT "the day of a service is a date of 1900 to 2199"
        CHECK ((done_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' OR
            done_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]*')
            AND done_at BETWEEN '1900' AND '2200'),
    kind TEXT NOT NULL CONSTRAINT "a service is minor or major" CHECK (kind IN ('minor', 'major')),
    -- number of the work order, which may be of another system
    order_name TEXT,
    technician TEXT,
    stop_hours REAL CONSTRAINT "stop hours are 0 or more" CHECK (stop_hours >= 0),
    findings TEXT NOT NULL,
    -- gripper grease=1;seal ring=1
    parts TEXT NOT NULL,
    note TEXT NOT NULL,
    -- the day it was entered, where that is another one
    recorded_on TEXT
        CONSTRAINT "recorded on is a date of 1900 to 2199"
        CHECK (recorded_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND recorded_on BETWEEN '1900' AND '2200'),
    -- the day on which a correction took its place
    replaced_on TEXT
        CONSTRAINT "replaced on is a date of 1900 to 2199"
        CHECK (replaced_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND replaced_on BETWEEN '1900' AND '2200')
) STRICT;
CREATE INDEX service_by_spindle ON service (spindle_id, done_at);
