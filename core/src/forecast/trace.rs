//! The state of a spindle through its records: the filter run once, every state kept, and the force
//! smoothed between services for the line that is drawn.
//!
//! Within an interval force and rate are a Gaussian state of their own: L falls by b g, and a
//! reading tells L alone. Their means are smoothed backwards from the service that ended the
//! interval, or from now (Rauch, Tung and Striebel 1965). A reading that was taken for a step drop
//! or for a service nobody logged parts the line: what came after it says nothing of the level before.

use super::model::filter::{Event, Filter, Weighed};
use super::model::meter::Curve;
use super::model::observed::Built;
use super::model::parameters::Parameters;
use super::model::working_days::WorkingDays;

/// The state after an event.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    day: i64,
    /// Exposure since the service that began its interval, reference intervals.
    since_service: f64,
    /// The drift clock there.
    drift: f64,
    /// Filtered force and rate, with their covariance.
    mean: [f64; 2],
    covariance: [f64; 3],
    what: What,
    /// Smoothed force.
    force: f64,
}

/// What led to a node.
#[derive(Debug, Clone, Copy, PartialEq)]
enum What {
    /// The beginning of the records.
    Start,
    Move,
    Reading {
        /// It parts the line.
        parts: bool,
    },
    Service,
}

/// The filter after all events, and the way there.
#[derive(Debug, Clone)]
pub(super) struct Trace<'a> {
    pub(super) filter: Filter<'a>,
    /// Force readings as weighed, each with its day.
    pub(super) readings: Vec<(i64, Weighed)>,
    nodes: Vec<Node>,
    /// Drift clock exponent.
    curvature: f64,
}

/// What turns days into exposure for [`Trace::force_on`].
#[derive(Debug, Clone, Copy)]
pub(super) struct ExposureOver<'a> {
    pub(super) curve: &'a Curve,
    pub(super) calendar: &'a WorkingDays,
    /// Usage per working day after the last meter reading, in the unit of the curve.
    pub(super) rate: f64,
}

impl<'a> Trace<'a> {
    pub(super) fn of(parameters: &'a Parameters, known_start: bool, start: i64, built: &Built) -> Self {
        let mut filter = Filter::new(parameters, known_start);
        let mut nodes = Vec::with_capacity(built.events.len() + 1);
        let mut readings = Vec::with_capacity(built.events.len() / 2 + 1);
        let (mut since_service, mut drift) = (0.0, 0.0);
        nodes.push(Node::of(&filter, start, (0.0, 0.0), What::Start));
        for (event, day) in built.events.iter().zip(&built.days) {
            filter.apply(event);
            let what = match event {
                Event::Move { to, .. } => {
                    since_service = *to;
                    drift = filter.drift_clock();
                    What::Move
                }
                Event::Service(_) => {
                    (since_service, drift) = (0.0, 0.0);
                    What::Service
                }
                Event::Read { .. } => {
                    let weighed = filter.log.last().copied();
                    readings.extend(weighed.map(|weighed| (*day, weighed)));
                    What::Reading { parts: weighed.is_some_and(|w| w.weights[2] + w.weights[3] > 0.5) }
                }
            };
            nodes.push(Node::of(&filter, *day, (since_service, drift), what));
        }
        let mut trace = Self { filter, readings, nodes, curvature: parameters.p };
        trace.smooth(parameters.q);
        trace
    }

    fn drift(&self, since_service: f64) -> f64 {
        since_service.powf(self.curvature)
    }

    fn smooth(&mut self, q: f64) {
        let mut after: Option<(Node, [f64; 2])> = None;
        for index in (0..self.nodes.len()).rev() {
            let Some(node) = self.nodes.get(index).copied() else { continue };
            let smoothed = match after {
                None => node.mean,
                Some((next, smoothed)) => match next.what {
                    What::Move => node.smoothed(next.drift - node.drift, q, smoothed),
                    What::Reading { parts: false } => smoothed,
                    What::Reading { parts: true } | What::Service | What::Start => node.mean,
                },
            };
            if let Some(known) = self.nodes.get_mut(index) {
                [known.force, _] = smoothed;
            }
            after = Some((node, smoothed));
        }
    }

    /// The node in force on a day and the one after it.
    fn around(&self, day: i64) -> Option<(usize, Option<&Node>)> {
        let index = self.nodes.partition_point(|node| node.day <= day).checked_sub(1)?;
        Some((index, self.nodes.get(index + 1)))
    }

    /// Smoothed force on a day, percent of nominal, after whatever happened on it; `None` before
    /// the first record.
    pub(super) fn force_on(&self, day: i64, over: ExposureOver<'_>) -> Option<f64> {
        let (index, next) = self.around(day)?;
        let node = self.nodes.get(index)?;
        Some(match next {
            Some(next) if next.what == What::Move => self.between(node, next, day, over),
            _ => node.force,
        })
    }

    /// The expected force between two nodes of one move lies straight over the drift clock.
    fn between(&self, node: &Node, next: &Node, day: i64, over: ExposureOver<'_>) -> f64 {
        let at = |day: i64| over.curve.at(over.calendar, day as f64, over.rate);
        let (from, to) = (at(node.day), at(next.day));
        let share = if to > from { ((at(day) - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        let since = node.since_service + share * (next.since_service - node.since_service);
        let (low, high) = (node.drift, next.drift);
        let along = if high > low { (self.drift(since) - low) / (high - low) } else { 0.0 };
        node.force + along * (next.force - node.force)
    }

    /// The interval that began on a day (with the records, or with the last service of that day),
    /// as the places of its nodes.
    fn interval(&self, from: i64, began_with_service: bool) -> Option<std::ops::Range<usize>> {
        let first = if began_with_service {
            self.nodes.iter().rposition(|node| node.what == What::Service && node.day == from)?
        } else {
            0
        };
        let rest = self.nodes.get(first + 1..)?;
        let length = rest.iter().position(|node| node.what == What::Service).unwrap_or(rest.len());
        Some(first..first + 1 + length)
    }

    /// The corners of the smoothed line of an interval: days and forces, oldest first; `step` days
    /// lie between two of them at most.
    pub(super) fn line(
        &self,
        (from, began_with_service): (i64, bool),
        step: i64,
        over: ExposureOver<'_>,
    ) -> Vec<(i64, f64)> {
        let Some(range) = self.interval(from, began_with_service) else { return Vec::new() };
        let nodes = self.nodes.get(range).unwrap_or_default();
        let mut corners: Vec<(i64, f64)> = Vec::with_capacity(nodes.len());
        for (index, node) in nodes.iter().enumerate() {
            if node.what == What::Move
                && let Some(before) = index.checked_sub(1).and_then(|index| nodes.get(index))
            {
                let mut day = before.day + step;
                while day < node.day {
                    corners.push((day, self.between(before, node, day, over)));
                    day += step;
                }
            }
            let corner = (node.day, node.force);
            if corners.last() != Some(&corner) {
                corners.push(corner);
            }
        }
        corners
    }

    /// Exposure and drift rate, filtered, at the end of an interval: rate and its variance.
    pub(super) fn rate_of(&self, from: i64, began_with_service: bool) -> Option<(f64, f64)> {
        let range = self.interval(from, began_with_service)?;
        let last = self.nodes.get(range)?.last()?;
        let ([_, rate], [_, _, variance]) = (last.mean, last.covariance);
        Some((rate, variance))
    }

    /// Since when the smoothed force has been below a level, as far back as the interval that runs
    /// goes; `None` where it is not below now.
    pub(super) fn below_since(&self, level: f64, over: ExposureOver<'_>) -> Option<i64> {
        let last = self.nodes.last()?;
        if last.force >= level {
            return None;
        }
        let mut since = last.day;
        for (index, node) in self.nodes.iter().enumerate().rev() {
            if node.force >= level {
                let next = self.nodes.get(index + 1)?;
                let (mut low, mut high) = (node.day, next.day);
                if next.what != What::Move {
                    return Some(high);
                }
                while low < high {
                    let middle = low + (high - low) / 2;
                    if self.between(node, next, middle, over) < level {
                        high = middle;
                    } else {
                        low = middle + 1;
                    }
                }
                return Some(low);
            }
            since = node.day;
            if node.what == What::Service {
                break;
            }
        }
        Some(since)
    }
}

impl Node {
    fn of(filter: &Filter<'_>, day: i64, (since_service, drift): (f64, f64), what: What) -> Self {
        let (m, p) = (&filter.mean, &filter.covariance);
        Self {
            day,
            since_service,
            drift,
            mean: [m[0], m[1]],
            covariance: [p[0][0], p[0][1], p[1][1]],
            what,
            force: m[0],
        }
    }

    /// Smoothed force and rate here, given those a move of `g` later.
    fn smoothed(&self, g: f64, q: f64, later: [f64; 2]) -> [f64; 2] {
        let [force, rate] = self.mean;
        let [vl, c, vb] = self.covariance;
        // P A' and A P A' + Q for A = (1 -g; 0 1)
        let (a, b) = (vl - g * c, c - g * vb);
        let (pll, plb, pbb) = (a - g * b + q * g, b, vb);
        let determinant = pll * pbb - plb * plb;
        if !(determinant.is_finite() && determinant > 1e-12 * pll.abs() * pbb.abs()) {
            return self.mean;
        }
        let off = [later[0] - (force - g * rate), later[1] - rate];
        let x = [(pbb * off[0] - plb * off[1]) / determinant, (pll * off[1] - plb * off[0]) / determinant];
        let smoothed = [force + a * x[0] + c * x[1], rate + b * x[0] + vb * x[1]];
        if smoothed.iter().all(|value| value.is_finite()) { smoothed } else { self.mean }
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::filter::Occasion;
    use super::super::model::improvements::Improvements;
    use super::*;

    #[test]
    fn it_ends_where_the_filter_of_all_events_does() {
        let parameters = Parameters::weak().with(Improvements::all());
        let mut events = Vec::new();
        // the last reading may be a step or an error
        for (i, y) in [97.0, 96.0, 95.0, 94.0, 84.0].into_iter().enumerate() {
            let from = 0.1 * i as f64;
            events.push(Event::Move { from, to: from + 0.1 });
            events.push(Event::Read { y, strokes: 3.0, occasion: Occasion::Routine });
        }
        let filter = Filter::new(&parameters, true).run(&events);
        assert!(filter.apart().count() > 1, "undecided");
        let built = Built {
            days: (0..events.len() as i64).collect(),
            events,
            dimension_events: Vec::new(),
            usage: 0.004,
            usage_variance: 0.02,
            usage_growth: 0.05,
            usage_law: None,
            since_service: 0.5,
            unread: 0.0,
        };
        assert_eq!(Trace::of(&parameters, true, 0, &built).filter, filter);
    }
}
