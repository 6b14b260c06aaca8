//! Limits and service intervals: where each comes from and which one is in force.
//!
//! Four steps, the later one wins: built in, the shop (`*`), the interface, the spindle itself.

use crate::interface::{Interface, StandardInterface};
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Percent, RunHours};

/// Source of every built-in limit.
pub const COMMON_PRACTICE: &str = "common practice, no source";
/// Source of the nominal forces that the forms offer.
pub const FROM_MEMORY: &str = "from memory, to be confirmed";

/// The limits that one step sets; what it leaves open comes from the step before.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LimitValues {
    /// Nominal clamp force.
    pub nominal_force: Option<Kilonewtons>,
    /// Below this share of nominal a service is due.
    pub service_limit: Option<Percent>,
    /// Below this share of nominal the spindle must not run.
    pub stop_limit: Option<Percent>,
    /// Setting dimension aimed at.
    pub setting_dimension: Option<Millimetres>,
    /// How far it may be off, either way.
    pub setting_tolerance: Option<Millimetres>,
    /// Calendar interval.
    pub every_months: Option<u32>,
    /// Interval in run hours.
    pub every_hours: Option<RunHours>,
    /// Interval in clamp cycles.
    pub every_cycles: Option<ClampCycles>,
    /// Who or what says so.
    pub source: Option<String>,
}

/// The shop's own limits for one interface, or for all.
#[derive(Debug, Clone, PartialEq)]
pub struct InterfaceLimits {
    /// `None` stands for all interfaces (`*` in the files).
    pub interface: Option<Interface>,
    /// What it sets.
    pub values: LimitValues,
}

/// Which step set a limit; a later one wins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Shipped with the program.
    BuiltIn,
    /// The shop's value for all interfaces.
    Shop,
    /// The shop's value for this interface.
    Interface,
    /// This spindle's own.
    Spindle,
}

impl Step {
    /// In words.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::BuiltIn => "built in",
            Self::Shop => "shop",
            Self::Interface => "interface",
            Self::Spindle => "this spindle",
        }
    }
}

/// A limit in force, with where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct InForce<T> {
    /// The value.
    pub value: T,
    /// Which step set it.
    pub step: Step,
    /// The source that this step names; empty when none was given.
    pub source: String,
}

/// The limits of one spindle as they are in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Nominal clamp force.
    pub nominal_force: InForce<Kilonewtons>,
    /// Service limit in percent of nominal.
    pub service_limit: InForce<Percent>,
    /// Stop limit in percent of nominal.
    pub stop_limit: InForce<Percent>,
    /// Setting dimension, where one is known.
    pub setting_dimension: Option<InForce<Millimetres>>,
    /// Its tolerance, either way.
    pub setting_tolerance: Option<InForce<Millimetres>>,
    /// Calendar interval in months.
    pub every_months: Option<InForce<u32>>,
    /// Interval in run hours.
    pub every_hours: Option<InForce<RunHours>>,
    /// Interval in clamp cycles.
    pub every_cycles: Option<InForce<ClampCycles>>,
}

impl Limits {
    /// The limits of a spindle from all steps.
    ///
    /// `shop` are the values of `*`, `interface` those of the spindle's interface. Each row keeps the stop
    /// limit under the service limit, but two rows may not go together: then the service limit is raised
    /// to the stop limit, so that a service is never due later than the spindle must stand.
    #[must_use]
    pub fn resolve(
        spindle: &LimitValues,
        nominal_force: Kilonewtons,
        interface: Option<&LimitValues>,
        shop: Option<&LimitValues>,
        built_in: &LimitValues,
    ) -> Self {
        let steps = in_order(spindle, interface, shop, built_in);
        let source_of = |values: &LimitValues| values.source.clone().unwrap_or_default();
        let stop_limit = pick(&steps, |v| v.stop_limit).unwrap_or_else(|| built_in_share(STOP_LIMIT_PCT));
        let mut service_limit = pick(&steps, |v| v.service_limit).unwrap_or_else(|| built_in_share(SERVICE_LIMIT_PCT));
        if service_limit.value < stop_limit.value {
            let of_row = crate::words::percent_short(service_limit.value);
            service_limit = InForce {
                value: stop_limit.value,
                step: stop_limit.step,
                source: format!("raised from {of_row} % to the stop limit"),
            };
        }
        Self {
            nominal_force: InForce { value: nominal_force, step: Step::Spindle, source: source_of(spindle) },
            service_limit,
            stop_limit,
            setting_dimension: pick(&steps, |v| v.setting_dimension),
            setting_tolerance: pick(&steps, |v| v.setting_tolerance),
            every_months: pick(&steps, |v| v.every_months),
            every_hours: pick(&steps, |v| v.every_hours),
            every_cycles: pick(&steps, |v| v.every_cycles),
        }
    }

    /// The service limit as a force.
    #[must_use]
    pub fn service_limit_force(&self) -> Kilonewtons {
        Kilonewtons::from_percent(self.service_limit.value, self.nominal_force.value)
    }

    /// The stop limit as a force.
    #[must_use]
    pub fn stop_limit_force(&self) -> Kilonewtons {
        Kilonewtons::from_percent(self.stop_limit.value, self.nominal_force.value)
    }

    /// Setting dimension and tolerance, where both are in force.
    #[must_use]
    pub fn setting(&self) -> Option<(Millimetres, Millimetres)> {
        Some((self.setting_dimension.as_ref()?.value, self.setting_tolerance.as_ref()?.value))
    }
}

/// Attention below this share of nominal: common practice, no source.
const SERVICE_LIMIT_PCT: f64 = 80.0;
/// Out of service below this share of nominal: common practice, no source.
const STOP_LIMIT_PCT: f64 = 70.0;

/// Where each limit is looked for, in the order in which the places count.
const fn in_order<'v>(
    spindle: &'v LimitValues,
    interface: Option<&'v LimitValues>,
    shop: Option<&'v LimitValues>,
    built_in: &'v LimitValues,
) -> [(Step, Option<&'v LimitValues>); 4] {
    [(Step::Spindle, Some(spindle)), (Step::Interface, interface), (Step::Shop, shop), (Step::BuiltIn, Some(built_in))]
}

/// Setting dimension and tolerance, where both are in force: those of [`Limits::setting`], without
/// the texts on where each limit comes from.
pub(crate) fn setting_in_force(
    spindle: &LimitValues,
    interface: Option<&LimitValues>,
    shop: Option<&LimitValues>,
    built_in: &LimitValues,
) -> Option<(Millimetres, Millimetres)> {
    let values = in_order(spindle, interface, shop, built_in).map(|(_, values)| values);
    let first = |field: fn(&LimitValues) -> Option<Millimetres>| values.into_iter().flatten().find_map(field);
    Some((first(|values| values.setting_dimension)?, first(|values| values.setting_tolerance)?))
}

fn built_in_share(percent: f64) -> InForce<Percent> {
    InForce {
        value: Percent::new(percent).unwrap_or_default(),
        step: Step::BuiltIn,
        source: COMMON_PRACTICE.to_owned(),
    }
}

fn pick<T>(steps: &[(Step, Option<&LimitValues>)], field: impl Fn(&LimitValues) -> Option<T>) -> Option<InForce<T>> {
    steps.iter().find_map(|(step, values)| {
        let values = (*values)?;
        let value = field(values)?;
        Some(InForce { value, step: *step, source: values.source.clone().unwrap_or_default() })
    })
}

/// The limits shipped with the program for an interface; all common practice, no source.
///
/// 80 % and 70 % for every interface; 10.5 mm +- 0.1 mm for HSK size 63 (also read as 0.413 in).
#[must_use]
pub fn built_in(interface: &Interface) -> LimitValues {
    let hsk63 = matches!(interface.standard(), Some(StandardInterface::Hsk { size: 63, .. }));
    LimitValues {
        service_limit: Percent::new(SERVICE_LIMIT_PCT),
        stop_limit: Percent::new(STOP_LIMIT_PCT),
        setting_dimension: hsk63.then(|| Millimetres::new(10.5)).flatten(),
        setting_tolerance: hsk63.then(|| Millimetres::new(0.1)).flatten(),
        source: Some(COMMON_PRACTICE.to_owned()),
        ..LimitValues::default()
    }
}

/// A nominal force that a form may offer for an interface: from memory, to be confirmed for each
/// spindle; the spindle builder's value rules. `None` where we remember none.
///
/// HSK by taper size: forms A, C, E, T share the flange size, B, D, F have a taper one size smaller.
/// 7/24 tapers: the middle of the remembered range.
#[must_use]
pub fn offered_nominal_force(interface: &Interface) -> Option<Kilonewtons> {
    let force = match interface.standard()? {
        StandardInterface::Hsk { form, size } => {
            let sizes = [25, 32, 40, 50, 63, 80, 100, 125, 160];
            let flange = sizes.iter().position(|known| *known == size)?;
            let taper = if "BDF".contains(form) { flange.checked_sub(1)? } else { flange };
            *[2.8, 5.0, 6.8, 11.0, 18.0, 28.0, 45.0, 70.0, 115.0].get(taper)?
        }
        StandardInterface::SteepTaper { size: 30 } => 3.5,
        StandardInterface::SteepTaper { size: 40 } => 10.0,
        StandardInterface::SteepTaper { size: 50 } => 21.0,
        _ => return None,
    };
    Kilonewtons::new(force)
}
