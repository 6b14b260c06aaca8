//! A bounded search for the best hyperparameters that always ends.

use crate::forecast::Cancelled;

/// Asked at every coordinate of a search whether to go on.
pub type GoOn<'a> = &'a dyn Fn() -> bool;

/// What a search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found<const N: usize> {
    /// The best point, in prior standard deviations.
    pub theta: [f64; N],
    /// The objective there.
    pub value: f64,
    /// Curvature per coordinate, at least the prior's own (1).
    pub curvature: [f64; N],
    /// How often the objective was computed.
    pub evaluations: usize,
}

/// Half width of the box, in prior standard deviations.
const BOX: f64 = 4.0;

/// Minimises an objective one coordinate at a time: two probes, one parabola step of at most 1.5,
/// a box of +-4, only improvements are taken, at most `max_sweeps` sweeps.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn coordinate_search<const N: usize>(
    mut objective: impl FnMut(&[f64; N]) -> f64,
    start: &[f64; N],
    max_sweeps: usize,
    go_on: GoOn<'_>,
) -> Result<Found<N>, Cancelled> {
    /// A sweep that gains less than this is the last.
    const LEAST_GAIN: f64 = 0.02;
    let mut theta = start.map(|t| t.clamp(-BOX, BOX));
    let mut value = objective(&theta);
    let mut probe = [0.4; N];
    let mut curvature = [1.0; N];
    let mut evaluations = 1;
    for _ in 0..max_sweeps {
        let before = value;
        for i in 0..N {
            if !go_on() {
                return Err(Cancelled);
            }
            let at = |t: f64| {
                let mut point = theta;
                point[i] = t.clamp(-BOX, BOX);
                point
            };
            let (up, down) = (at(theta[i] + probe[i]), at(theta[i] - probe[i]));
            let (value_up, value_down) = (objective(&up), objective(&down));
            let c = (value_up - 2.0 * value + value_down) / (probe[i] * probe[i]);
            let slope = (value_up - value_down) / (2.0 * probe[i]);
            curvature[i] = c.max(1.0);
            let step = if c > 0.2 { -slope / c } else { -1.0_f64.copysign(slope) };
            let stepped = at(theta[i] + step.clamp(-1.5, 1.5));
            let value_stepped = objective(&stepped);
            evaluations += 3;
            for (candidate, reached) in [(stepped, value_stepped), (up, value_up), (down, value_down)] {
                if reached < value - 1e-12 {
                    theta = candidate;
                    value = reached;
                }
            }
            probe[i] = (0.7 / curvature[i].sqrt()).clamp(0.05, 0.5);
        }
        if before - value < LEAST_GAIN {
            break;
        }
    }
    Ok(Found { theta, value, curvature, evaluations })
}
