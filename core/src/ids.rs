//! Row numbers as types, so that a spindle cannot be taken for a machine.

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(i64);

        impl $name {
            /// The id of that row of the shop file.
            #[must_use]
            pub const fn from_row(row: i64) -> Self {
                Self(row)
            }

            /// The row in the shop file.
            #[must_use]
            pub const fn row(self) -> i64 {
                self.0
            }
        }
    };
}

id!(/// A machine.
    MachineId);
id!(/// A spindle.
    SpindleId);
id!(/// The limits of one tool interface, or of all (`*`).
    InterfaceLimitsId);
id!(/// One stay of a spindle in a machine position.
    MountingId);
id!(/// A meter reading.
    MeterReadingId);
id!(/// A force or setting-dimension reading.
    ReadingId);
id!(/// A service that was done.
    ServiceId);
id!(/// A time in which the shop does not run.
    ClosureId);
id!(/// A gauge.
    GaugeId);
id!(/// A technician.
    TechnicianId);
id!(/// A downtime window.
    DowntimeId);
id!(/// A part.
    PartId);
id!(/// A delivery on order.
    DeliveryId);
id!(/// One line of a kit.
    KitLineId);
id!(/// How long a service of a kind takes on an interface.
    ServiceKindId);
id!(/// A work order.
    OrderId);
id!(/// One journalled step.
    StepId);

/// A stored value with its id; reads like the value itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row<I, T> {
    /// Where it stands in the shop file.
    pub id: I,
    /// What stands there.
    pub value: T,
}

impl<I, T> std::ops::Deref for Row<I, T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}
