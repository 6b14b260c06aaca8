//! What the model does beyond its plain form, one switch each.

/// Each improvement on the plain model, which the reference values under `tests/fixtures/forecast`
/// come from. DEVELOPERS.md says what each was worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Improvements {
    /// A small fall of a counter that later figures contradict is a misreading, not a new meter.
    pub misread_meters: bool,
    /// Usage keeps several levels after an undecided change, and reverts to the spindle's own middle.
    pub usage_humps: bool,
    /// A meter segment may hold a stop, after which the spindle runs on at its level.
    pub stops: bool,
    /// How often usage changed of late is judged by the likelihood of the segments.
    pub recent_changes: bool,
    /// The crossing law takes the humps of usage as they are, and changes to come one by one.
    pub usage_mixture: bool,
    /// An error of usage bends with the drift clock.
    pub curved_usage: bool,
    /// A mean rate that is known to a factor only is a lognormal with its middle at the fitted one.
    pub unsure_rate: bool,
    /// Steps are counted by their expected number.
    pub step_rate: bool,
    /// Gross errors and services that nobody logged are counted by their expected number, and the group is
    /// fitted with the rates that were found; nothing without `step_rate`, which counts them.
    pub record_faults: bool,
    /// Where a reading leaves two explanations open, each keeps a state of its own until others decide.
    pub undecided_readings: bool,
    /// Moments of a crossing are sought as closely as a date asks for, not to twelve digits.
    pub dates_suffice: bool,
}

impl Improvements {
    /// The plain model.
    #[must_use]
    pub const fn none() -> Self {
        Self {
            misread_meters: false,
            usage_humps: false,
            stops: false,
            recent_changes: false,
            usage_mixture: false,
            curved_usage: false,
            unsure_rate: false,
            step_rate: false,
            record_faults: false,
            undecided_readings: false,
            dates_suffice: false,
        }
    }

    /// What the product uses: all that proved their worth.
    #[must_use]
    pub const fn all() -> Self {
        Self {
            misread_meters: true,
            usage_humps: true,
            stops: true,
            recent_changes: true,
            usage_mixture: true,
            curved_usage: true,
            unsure_rate: true,
            step_rate: true,
            record_faults: true,
            undecided_readings: true,
            dates_suffice: true,
        }
    }

    /// The same with one more, by the name of its field; `None` where there is none of that name.
    #[must_use]
    pub fn and(mut self, name: &str) -> Option<Self> {
        let switch = match name {
            "misread_meters" => &mut self.misread_meters,
            "usage_humps" => &mut self.usage_humps,
            "stops" => &mut self.stops,
            "recent_changes" => &mut self.recent_changes,
            "usage_mixture" => &mut self.usage_mixture,
            "curved_usage" => &mut self.curved_usage,
            "unsure_rate" => &mut self.unsure_rate,
            "step_rate" => &mut self.step_rate,
            "record_faults" => &mut self.record_faults,
            "undecided_readings" => &mut self.undecided_readings,
            "dates_suffice" => &mut self.dates_suffice,
            _ => return None,
        };
        *switch = true;
        Some(self)
    }
}
