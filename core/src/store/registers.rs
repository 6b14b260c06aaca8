//! Columns of the registers whose fields are their columns.

use super::tables::stored;
use crate::crew::Technician;
use crate::gauge::Gauge;
use crate::machine::Machine;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};

stored!(Machine: MachineId in Machines {
    name: "name",
    hall: "hall",
    description: "description",
    line: "line",
    stop_cost_per_hour: "stop_cost_per_hour",
    positions: "positions",
    day_below_cost: "day_below_cost",
});

stored!(Gauge: GaugeId in Gauges {
    name: "name",
    quantity: "quantity",
    range_max: "range_max",
    unit: "unit",
    resolution: "resolution",
    calibrated_on: "calibrated_on",
    calibration_due: "calibration_due",
    certificate: "certificate",
    services_per_day: "services_per_day",
    out: "out",
});

stored!(Technician: TechnicianId in Technicians {
    name: "name",
    skills: "skills",
    shifts: "shifts",
    hours_per_day: "hours_per_day",
    absent: "absent",
});

stored!(Part: PartId in Parts {
    name: "name",
    description: "description",
    on_hand: "on_hand",
    unit: "unit",
    lead_time_days: "lead_time_days",
    price: "price",
    reorder_point: "reorder_point",
});

stored!(Delivery: DeliveryId in Deliveries {
    part: "part",
    expected_on: "expected_on",
    quantity: "quantity",
    note: "note",
});

stored!(KitLine: KitLineId in KitLines {
    interface: "interface",
    kind: "kind",
    part: "part",
    quantity: "quantity",
});

stored!(ServiceKind: ServiceKindId in ServiceKinds {
    interface: "interface",
    kind: "kind",
    minutes: "duration_min",
    crew: "crew",
    gauge_quantity: "gauge_quantity",
});

stored!(Order: OrderId in Orders {
    name: "name",
    spindle: "spindle_id",
    kind: "kind",
    state: "state",
    opened_on: "opened_on",
    service_by: "service_by",
    start: "starts_at",
    duration: "duration_h",
    technicians: "technicians",
    held: "held",
    closed_on: "closed_on",
    note: "note",
});
