//! The files of a shop folder: their names and columns, for reading and writing alike.

use std::fmt;

/// A table of the shop folder, which is one CSV file. Each stands after those it refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FolderTable {
    /// Settings as `key,value`.
    Shop,
    /// Machines.
    Machines,
    /// Spindles.
    Spindles,
    /// The shop's own limits per interface.
    Limits,
    /// Which spindle sat where.
    Mountings,
    /// Gauges.
    Gauges,
    /// Technicians.
    Crew,
    /// Parts.
    Parts,
    /// What is on order.
    Deliveries,
    /// What one service takes.
    Kits,
    /// How long one service takes.
    ServiceKinds,
    /// Times in which the shop does not run.
    Closures,
    /// Downtime windows.
    Downtime,
    /// Meter readings.
    Meters,
    /// Force and setting-dimension readings.
    Readings,
    /// Services done.
    Services,
    /// Work orders.
    Orders,
}

/// One column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name in the header row.
    pub name: &'static str,
    /// Whether a file without it is refused.
    pub required: bool,
    /// Whether it holds words of the shop, which a spreadsheet might run as a formula; all other
    /// columns hold figures, dates and fixed words.
    pub text: bool,
}

const fn text(name: &'static str) -> Column {
    Column { name, required: false, text: true }
}

const fn plain(name: &'static str) -> Column {
    Column { name, required: false, text: false }
}

const fn required(column: Column) -> Column {
    Column { required: true, ..column }
}

const SHOP: &[Column] = &[required(plain("key")), required(text("value"))];
const MACHINES: &[Column] = &[
    required(text("machine")),
    required(text("hall")),
    text("description"),
    text("line"),
    plain("stop_cost_per_hour"),
    plain("spindle_positions"),
    plain("day_below_cost"),
];
const SPINDLES: &[Column] = &[
    required(text("spindle")),
    required(text("interface")),
    required(plain("nominal_force_kn")),
    plain("service_limit_pct"),
    plain("stop_limit_pct"),
    plain("setting_dimension_mm"),
    plain("setting_tolerance_mm"),
    plain("installed_on"),
    plain("service_every_months"),
    plain("service_every_hours"),
    plain("service_every_cycles"),
    plain("out_of_service_on"),
    text("limit_source"),
    text("notes"),
    plain("service_not_before"),
    plain("not_before_said_on"),
];
const LIMITS: &[Column] = &[
    required(text("interface")),
    plain("nominal_force_kn"),
    plain("service_limit_pct"),
    plain("stop_limit_pct"),
    plain("setting_dimension_mm"),
    plain("setting_tolerance_mm"),
    plain("service_every_months"),
    plain("service_every_hours"),
    plain("service_every_cycles"),
    text("limit_source"),
];
const MOUNTINGS: &[Column] = &[
    required(text("spindle")),
    required(text("machine")),
    required(plain("position")),
    required(plain("mounted_on")),
    plain("removed_on"),
];
const METERS: &[Column] = &[
    text("spindle"),
    text("machine"),
    plain("position"),
    required(plain("date")),
    required(plain("run_hours")),
    plain("clamp_cycles"),
    plain("meter_replaced"),
    plain("recorded_on"),
    plain("replaced_on"),
];
const READINGS: &[Column] = &[
    required(text("spindle")),
    required(plain("date")),
    required(plain("phase")),
    required(plain("quantity")),
    required(plain("unit")),
    required(plain("stroke_1")),
    plain("stroke_2"),
    plain("stroke_3"),
    plain("stroke_4"),
    plain("stroke_5"),
    plain("run_hours"),
    plain("clamp_cycles"),
    text("gauge"),
    plain("zero_checked"),
    text("technician"),
    text("note"),
    plain("recorded_on"),
    plain("replaced_on"),
    text("doubt"),
    // yes: the shop holds the figure without doubt; the import does not ask about it again
    plain("doubt_settled"),
];
const SERVICES: &[Column] = &[
    required(text("spindle")),
    required(plain("date")),
    required(plain("kind")),
    text("order"),
    text("technician"),
    plain("stop_hours"),
    text("findings"),
    text("parts"),
    text("note"),
    plain("recorded_on"),
    plain("replaced_on"),
];
const CLOSURES: &[Column] = &[required(plain("start")), required(plain("end")), text("what")];
const GAUGES: &[Column] = &[
    required(text("gauge")),
    required(plain("quantity")),
    plain("range_max"),
    plain("unit"),
    plain("resolution"),
    plain("calibrated_on"),
    plain("calibration_due"),
    text("certificate"),
    plain("services_per_day"),
    plain("out"),
];
const CREW: &[Column] = &[
    required(text("technician")),
    required(plain("skills")),
    plain("shifts"),
    plain("hours_per_day"),
    plain("absent"),
];
const DOWNTIME: &[Column] = &[
    required(plain("start")),
    required(plain("end")),
    text("hall"),
    text("machine"),
    text("what"),
    plain("stop_factor"),
    plain("premium_per_hour"),
    plain("repeat"),
];
const PARTS: &[Column] = &[
    required(text("part")),
    required(text("description")),
    required(plain("on_hand")),
    text("unit"),
    plain("lead_time_days"),
    plain("price"),
    plain("reorder_point"),
];
const DELIVERIES: &[Column] =
    &[required(text("part")), required(plain("expected_on")), required(plain("quantity")), text("note")];
const KITS: &[Column] =
    &[required(text("interface")), required(plain("kind")), required(text("part")), required(plain("quantity"))];
const SERVICE_KINDS: &[Column] = &[
    required(text("interface")),
    required(plain("kind")),
    required(plain("minutes")),
    required(plain("crew")),
    plain("gauge_quantity"),
];
const ORDERS: &[Column] = &[
    required(text("order")),
    required(text("spindle")),
    required(plain("kind")),
    required(plain("state")),
    plain("opened_on"),
    plain("service_by"),
    plain("start"),
    plain("duration_h"),
    text("technician"),
    plain("held"),
    plain("closed_on"),
    text("note"),
];

impl FolderTable {
    /// All tables in their order.
    pub const ALL: [Self; 17] = [
        Self::Shop,
        Self::Machines,
        Self::Spindles,
        Self::Limits,
        Self::Mountings,
        Self::Gauges,
        Self::Crew,
        Self::Parts,
        Self::Deliveries,
        Self::Kits,
        Self::ServiceKinds,
        Self::Closures,
        Self::Downtime,
        Self::Meters,
        Self::Readings,
        Self::Services,
        Self::Orders,
    ];

    /// The file's name in the folder.
    #[must_use]
    pub const fn file_name(self) -> &'static str {
        match self {
            Self::Shop => "shop.csv",
            Self::Machines => "machines.csv",
            Self::Spindles => "spindles.csv",
            Self::Limits => "limits.csv",
            Self::Mountings => "mountings.csv",
            Self::Meters => "meters.csv",
            Self::Readings => "readings.csv",
            Self::Services => "services.csv",
            Self::Closures => "closures.csv",
            Self::Gauges => "gauges.csv",
            Self::Crew => "crew.csv",
            Self::Downtime => "downtime.csv",
            Self::Parts => "parts.csv",
            Self::Deliveries => "deliveries.csv",
            Self::Kits => "kits.csv",
            Self::ServiceKinds => "service_kinds.csv",
            Self::Orders => "orders.csv",
        }
    }

    /// The columns in the order in which they are written.
    #[must_use]
    pub const fn columns(self) -> &'static [Column] {
        match self {
            Self::Shop => SHOP,
            Self::Machines => MACHINES,
            Self::Spindles => SPINDLES,
            Self::Limits => LIMITS,
            Self::Mountings => MOUNTINGS,
            Self::Meters => METERS,
            Self::Readings => READINGS,
            Self::Services => SERVICES,
            Self::Closures => CLOSURES,
            Self::Gauges => GAUGES,
            Self::Crew => CREW,
            Self::Downtime => DOWNTIME,
            Self::Parts => PARTS,
            Self::Deliveries => DELIVERIES,
            Self::Kits => KITS,
            Self::ServiceKinds => SERVICE_KINDS,
            Self::Orders => ORDERS,
        }
    }

    /// The table whose file has that name; case does not matter.
    #[must_use]
    pub fn of_file_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|table| table.file_name().eq_ignore_ascii_case(name))
    }

    /// The column of that name; case and spaces around it do not matter.
    #[must_use]
    pub fn column(self, name: &str) -> Option<Column> {
        self.columns().iter().copied().find(|column| column.name.eq_ignore_ascii_case(name.trim()))
    }
}

impl fmt::Display for FolderTable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.file_name())
    }
}
