-- The registers of a shop: what stands where, who works when, what is on the shelf, what is planned.
--
-- Dates are texts of ISO 8601 in local shop time (2026-03-09, with a time 2026-03-09T14:30), so that
-- they sort as they follow. Units stand in the column names. Names of constraints are sentences:
-- they are what a refused row is told.

-- One row at most; without it the starting values of the program count.
CREATE TABLE shop_settings (
    id INTEGER PRIMARY KEY CONSTRAINT "a shop has one set of settings" CHECK (id = 1),
    name TEXT NOT NULL,
    -- stands for today; only a shop that shows a past day has one
    as_of TEXT
        CONSTRAINT "as of is a date of 1900 to 2199"
        CHECK (as_of GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND as_of BETWEEN '1900' AND '2200'),
    accepted_risk_share REAL NOT NULL
        CONSTRAINT "accepted risk lies above 0 and below 1" CHECK (accepted_risk_share > 0 AND accepted_risk_share < 1),
    length_unit TEXT NOT NULL CONSTRAINT "lengths are shown in mm or in" CHECK (length_unit IN ('mm', 'in')),
    force_unit TEXT NOT NULL CONSTRAINT "forces are shown in kN or lbf" CHECK (force_unit IN ('kN', 'lbf')),
    currency TEXT NOT NULL,
    booking_horizon_days INTEGER NOT NULL
        CONSTRAINT "the booking horizon is at least one day" CHECK (booking_horizon_days > 0),
    -- seven shares of an ordinary working day, Monday first, separated by ;
    weekday_weights TEXT NOT NULL,
    day_begins TEXT NOT NULL,
    order_pattern TEXT NOT NULL,
    labour_per_hour REAL NOT NULL,
    lockout_min REAL NOT NULL CONSTRAINT "lockout is 0 minutes or more" CHECK (lockout_min >= 0),
    visit_cost REAL NOT NULL,
    move_cost_per_week REAL NOT NULL,
    left_cost REAL NOT NULL
) STRICT;

-- A hall is a text: it has nothing but its name.
CREATE TABLE machine (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT "a machine needs a name" CHECK (trim(name) <> ''),
    hall TEXT NOT NULL CONSTRAINT "a machine needs a hall" CHECK (trim(hall) <> ''),
    description TEXT NOT NULL,
    -- machines of one line stop together
    line TEXT,
    stop_cost_per_hour REAL CONSTRAINT "a stop cost is 0 or more" CHECK (stop_cost_per_hour >= 0),
    positions INTEGER NOT NULL CONSTRAINT "a machine has 1 to 99 spindle positions" CHECK (positions BETWEEN 1 AND 99),
    day_below_cost REAL CONSTRAINT "a day below cost is 0 or more" CHECK (day_below_cost >= 0)
) STRICT;

CREATE TABLE spindle (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT "a spindle needs a name" CHECK (trim(name) <> ''),
    interface TEXT NOT NULL CONSTRAINT "a spindle needs a tool interface" CHECK (trim(interface) <> ''),
    nominal_force_kn REAL NOT NULL CONSTRAINT "a nominal force is above 0 kN" CHECK (nominal_force_kn > 0),
    -- its own limits and intervals; NULL: as the interface, the shop or the program says
    service_limit_pct REAL
        CONSTRAINT "a service limit is above 0 and at most 100 %" CHECK (service_limit_pct > 0 AND service_limit_pct <= 100),
    stop_limit_pct REAL
        CONSTRAINT "a stop limit is above 0 and at most 100 %" CHECK (stop_limit_pct > 0 AND stop_limit_pct <= 100),
    setting_dimension_mm REAL CONSTRAINT "a setting dimension is above 0 mm" CHECK (setting_dimension_mm > 0),
    setting_tolerance_mm REAL CONSTRAINT "a setting tolerance is above 0 mm" CHECK (setting_tolerance_mm > 0),
    service_every_months INTEGER CONSTRAINT "an interval is above 0 months" CHECK (service_every_months > 0),
    service_every_hours REAL CONSTRAINT "an interval is above 0 run hours" CHECK (service_every_hours > 0),
    service_every_cycles REAL CONSTRAINT "an interval is above 0 clamp cycles" CHECK (service_every_cycles > 0),
    limit_source TEXT,
    -- new on that day; NULL: found mid-life
    installed_on TEXT
        CONSTRAINT "installed on is a date of 1900 to 2199"
        CHECK (installed_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND installed_on BETWEEN '1900' AND '2200'),
    out_of_service_on TEXT
        CONSTRAINT "out of service on is a date of 1900 to 2199"
        CHECK (out_of_service_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND out_of_service_on BETWEEN '1900' AND '2200'),
    notes TEXT NOT NULL,
    CONSTRAINT "a stop limit lies below the service limit" CHECK (stop_limit_pct < service_limit_pct),
    CONSTRAINT "a spindle goes out of service after it was installed" CHECK (installed_on <= out_of_service_on)
) STRICT;

-- interface NULL: for all of them (* in the files)
CREATE TABLE interface_limits (
    id INTEGER PRIMARY KEY,
    interface TEXT CONSTRAINT "a tool interface has a name" CHECK (trim(interface) <> ''),
    nominal_force_kn REAL CONSTRAINT "a nominal force is above 0 kN" CHECK (nominal_force_kn > 0),
    service_limit_pct REAL
        CONSTRAINT "a service limit is above 0 and at most 100 %" CHECK (service_limit_pct > 0 AND service_limit_pct <= 100),
    stop_limit_pct REAL
        CONSTRAINT "a stop limit is above 0 and at most 100 %" CHECK (stop_limit_pct > 0 AND stop_limit_pct <= 100),
    setting_dimension_mm REAL CONSTRAINT "a setting dimension is above 0 mm" CHECK (setting_dimension_mm > 0),
    setting_tolerance_mm REAL CONSTRAINT "a setting tolerance is above 0 mm" CHECK (setting_tolerance_mm > 0),
    service_every_months INTEGER CONSTRAINT "an interval is above 0 months" CHECK (service_every_months > 0),
    service_every_hours REAL CONSTRAINT "an interval is above 0 run hours" CHECK (service_every_hours > 0),
    service_every_cycles REAL CONSTRAINT "an interval is above 0 clamp cycles" CHECK (service_every_cycles > 0),
    limit_source TEXT,
    CONSTRAINT "a stop limit lies below the service limit" CHECK (stop_limit_pct < service_limit_pct)
) STRICT;

-- mounted_on counts, removed_on no longer; that stays do not overlap is seen to by the program
CREATE TABLE mounting (
    id INTEGER PRIMARY KEY,
    spindle_id INTEGER NOT NULL REFERENCES spindle (id) ON DELETE RESTRICT,
    machine_id INTEGER NOT NULL REFERENCES machine (id) ON DELETE RESTRICT,
    position INTEGER NOT NULL CONSTRAINT "positions count from 1" CHECK (position > 0),
    mounted_on TEXT NOT NULL
        CONSTRAINT "mounted on is a date of 1900 to 2199"
        CHECK (mounted_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND mounted_on BETWEEN '1900' AND '2200'),
    removed_on TEXT
        CONSTRAINT "removed on is a date of 1900 to 2199"
        CHECK (removed_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND removed_on BETWEEN '1900' AND '2200'),
    CONSTRAINT "a spindle is removed after it was mounted" CHECK (mounted_on < removed_on)
) STRICT;
CREATE INDEX mounting_by_spindle ON mounting (spindle_id, mounted_on);
CREATE INDEX mounting_by_machine ON mounting (machine_id, position);

CREATE TABLE closure (
    id INTEGER PRIMARY KEY,
    first_day TEXT NOT NULL
        CONSTRAINT "first day is a date of 1900 to 2199"
        CHECK (first_day GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND first_day BETWEEN '1900' AND '2200'),
    last_day TEXT NOT NULL
        CONSTRAINT "last day is a date of 1900 to 2199"
        CHECK (last_day GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND last_day BETWEEN '1900' AND '2200'),
    what TEXT NOT NULL,
    CONSTRAINT "a closure does not end before it starts" CHECK (first_day <= last_day)
) STRICT;

CREATE TABLE gauge (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT "a gauge needs a name" CHECK (trim(name) <> ''),
    quantity TEXT NOT NULL
        CONSTRAINT "a gauge measures clamp force or setting dimension" CHECK (quantity IN ('clamp_force', 'setting_dimension')),
    -- range and resolution in the unit that the gauge shows
    range_max REAL,
    unit TEXT CONSTRAINT "a gauge shows kN, lbf, N, mm or in" CHECK (unit IN ('kN', 'lbf', 'N', 'mm', 'in')),
    resolution REAL,
    calibrated_on TEXT
        CONSTRAINT "calibrated on is a date of 1900 to 2199"
        CHECK (calibrated_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND calibrated_on BETWEEN '1900' AND '2200'),
    calibration_due TEXT
        CONSTRAINT "calibration due is a date of 1900 to 2199"
        CHECK (calibration_due GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND calibration_due BETWEEN '1900' AND '2200'),
    certificate TEXT NOT NULL,
    services_per_day INTEGER,
    -- days away: 2026-04-01/2026-04-12, separated by ;
    out TEXT NOT NULL
) STRICT;

CREATE TABLE technician (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT "a technician needs a name" CHECK (trim(name) <> ''),
    -- kinds of service, separated by ;
    skills TEXT NOT NULL,
    -- Mon-Fri 06:00-14:00, separated by ;
    shifts TEXT NOT NULL,
    hours_per_day REAL CONSTRAINT "hours per day lie between 0 and 24" CHECK (hours_per_day BETWEEN 0 AND 24),
    -- days away: 2026-04-01/2026-04-12, separated by ;
    absent TEXT NOT NULL
) STRICT;

-- neither hall nor machine: for all halls
CREATE TABLE downtime (
    id INTEGER PRIMARY KEY,
    starts_at TEXT NOT NULL
        CONSTRAINT "the start is a date of 1900 to 2199"
        CHECK ((starts_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' OR
            starts_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]*')
            AND starts_at BETWEEN '1900' AND '2200'),
    ends_at TEXT NOT NULL
        CONSTRAINT "the end is a date of 1900 to 2199"
        CHECK ((ends_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' OR
            ends_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]*')
            AND ends_at BETWEEN '1900' AND '2200'),
    hall TEXT,
    machine_id INTEGER REFERENCES machine (id) ON DELETE RESTRICT,
    what TEXT NOT NULL,
    stop_factor_pct REAL CONSTRAINT "a stop factor is 0 % or more" CHECK (stop_factor_pct >= 0),
    premium_per_hour REAL CONSTRAINT "a premium is 0 or more" CHECK (premium_per_hour >= 0),
    -- a rule of RFC 5545; NULL: once
    repeat_rule TEXT,
    CONSTRAINT "a downtime window is for a hall or a machine, not both" CHECK (hall IS NULL OR machine_id IS NULL)
) STRICT;
CREATE INDEX downtime_by_machine ON downtime (machine_id) WHERE machine_id IS NOT NULL;

-- quantities are counted in the part's own unit
CREATE TABLE part (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT "a part needs a name" CHECK (trim(name) <> ''),
    description TEXT NOT NULL,
    on_hand REAL NOT NULL,
    unit TEXT NOT NULL,
    lead_time_days INTEGER,
    price REAL,
    reorder_point REAL
) STRICT;

-- deliveries and kits name the part, as the files do
CREATE TABLE delivery (
    id INTEGER PRIMARY KEY,
    part TEXT NOT NULL CONSTRAINT "a delivery needs a part" CHECK (trim(part) <> ''),
    expected_on TEXT NOT NULL
        CONSTRAINT "expected on is a date of 1900 to 2199"
        CHECK (expected_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND expected_on BETWEEN '1900' AND '2200'),
    quantity REAL NOT NULL CONSTRAINT "a delivery brings more than nothing" CHECK (quantity > 0),
    note TEXT NOT NULL
) STRICT;

CREATE TABLE kit_line (
    id INTEGER PRIMARY KEY,
    interface TEXT NOT NULL CONSTRAINT "a tool interface has a name" CHECK (trim(interface) <> ''),
    kind TEXT NOT NULL CONSTRAINT "a service is minor or major" CHECK (kind IN ('minor', 'major')),
    part TEXT NOT NULL CONSTRAINT "a line of a kit needs a part" CHECK (trim(part) <> ''),
    quantity REAL NOT NULL CONSTRAINT "a kit takes more than nothing of a part" CHECK (quantity > 0)
) STRICT;

CREATE TABLE service_kind (
    id INTEGER PRIMARY KEY,
    interface TEXT NOT NULL CONSTRAINT "a tool interface has a name" CHECK (trim(interface) <> ''),
    kind TEXT NOT NULL CONSTRAINT "a service is minor or major" CHECK (kind IN ('minor', 'major')),
    -- working time without lockout
    duration_min REAL NOT NULL CONSTRAINT "a service takes more than 0 minutes" CHECK (duration_min > 0),
    crew INTEGER NOT NULL CONSTRAINT "a service takes one or two people" CHECK (crew IN (1, 2)),
    gauge_quantity TEXT CONSTRAINT "a gauge measures clamp force or setting dimension"
        CHECK (gauge_quantity IN ('clamp_force', 'setting_dimension'))
) STRICT;

CREATE TABLE work_order (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT "an order needs a number" CHECK (trim(name) <> ''),
    spindle_id INTEGER NOT NULL REFERENCES spindle (id) ON DELETE RESTRICT,
    kind TEXT NOT NULL CONSTRAINT "a service is minor or major" CHECK (kind IN ('minor', 'major')),
    state TEXT NOT NULL CONSTRAINT "an order has one of the six states"
        CHECK (state IN ('planned', 'issued', 'under way', 'done', 'partly done', 'not done')),
    opened_on TEXT
        CONSTRAINT "opened on is a date of 1900 to 2199"
        CHECK (opened_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND opened_on BETWEEN '1900' AND '2200'),
    service_by TEXT
        CONSTRAINT "service by is a date of 1900 to 2199"
        CHECK (service_by GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND service_by BETWEEN '1900' AND '2200'),
    starts_at TEXT
        CONSTRAINT "the start is a date of 1900 to 2199"
        CHECK ((starts_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' OR
            starts_at GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]*')
            AND starts_at BETWEEN '1900' AND '2200'),
    duration_h REAL CONSTRAINT "a duration is above 0 h" CHECK (duration_h > 0),
    -- names separated by ; the one who leads stands first
    technicians TEXT NOT NULL,
    held INTEGER NOT NULL CONSTRAINT "an order is held or not" CHECK (held IN (0, 1)),
    closed_on TEXT
        CONSTRAINT "closed on is a date of 1900 to 2199"
        CHECK (closed_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND closed_on BETWEEN '1900' AND '2200')
) STRICT;
CREATE INDEX work_order_by_spindle ON work_order (spindle_id);
