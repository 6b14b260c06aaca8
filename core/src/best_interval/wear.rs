//! How soon a spindle just serviced crosses its service limit, by what its kind taught.

use crate::forecast::fits::InterfaceFit;
use crate::forecast::model::crossing::{Crossing, CrossingInput};
use crate::forecast::model::filter::{Event, Filter, ServiceKind};
use crate::forecast::model::lognormal_rate::lognormal_rate;
use crate::forecast::model::observed::Clock;

/// The lowest rate that a prior may have, as a share of the group's: as in a forecast.
const LEAST_RATE: f64 = 0.05;

/// A spindle of a kind, serviced on day 0, of which nothing else is known.
pub(super) struct Wear<'a> {
    fit: &'a InterfaceFit,
    law: Crossing,
    /// Reference intervals per day, closed days included.
    usage: f64,
}

impl<'a> Wear<'a> {
    /// `limit` in percent of nominal force, `working` the share of a working day in a day.
    ///
    /// The group's parameters with their spread between spindles and between intervals, at the usage
    /// that is usual for the kind: how usage differs from spindle to spindle is not part of it.
    pub(super) fn just_serviced(fit: &'a InterfaceFit, limit: f64, working: f64) -> Self {
        let parameters = &fit.parameters;
        let filter = Filter::new(parameters, true).without_log().run(&[Event::Service(ServiceKind::Minor)]);
        let posterior = (filter.mean[1], filter.covariance[1][1]);
        let input = CrossingInput {
            log_rate: lognormal_rate(filter.rate_prior, posterior, LEAST_RATE * parameters.beta),
            usage_variance: 0.0,
            q: parameters.q,
            limit,
            step_hazard: parameters.step_hazard,
        };
        let law = Crossing::new(&filter.mean, &filter.covariance, &input);
        Self { fit, law, usage: fit.counting.prior_level / fit.counting.reference * working }
    }

    /// Chance of having crossed the limit by so many days after the service.
    pub(super) fn crossed_by(&self, days: f64) -> f64 {
        let exposure = (self.usage * days).max(0.0);
        self.law.cdf(exposure.powf(self.fit.parameters.p)).clamp(0.0, 1.0)
    }

    /// Run hours per working day that are usual for the kind.
    pub(super) fn hours_per_day(&self) -> f64 {
        match self.fit.counting.clock {
            Clock::Hours => self.fit.counting.prior_level,
            Clock::Cycles => self.fit.counting.prior_level / self.fit.cycles_per_hour,
        }
    }

    /// Clamp cycles per working day that are usual for the kind.
    pub(super) fn cycles_per_day(&self) -> f64 {
        self.hours_per_day() * self.fit.cycles_per_hour
    }
}
