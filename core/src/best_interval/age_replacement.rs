//! Age replacement: at which age a planned replacement costs least in the long run.
//!
//! Barlow and Proschan (1965), Mathematical Theory of Reliability: renewed at the age t for cp, or
//! before it, when it fails, for cf, an item costs per unit of time
//! `C(t) = (cp R(t) + cf F(t)) / integral of R from 0 to t`, F the distribution of its life, R = 1 - F.

/// What renewing costs, planned and not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Renewal {
    /// As planned (cp).
    pub planned: f64,
    /// Not planned (cf).
    pub unplanned: f64,
}

/// The cost rate at an age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtAge {
    /// The age.
    pub age: f64,
    /// Cost per unit of time.
    pub rate: f64,
}

/// The cost rate over ages.
#[derive(Debug, Clone, PartialEq)]
pub struct CostCurve {
    /// At the ends of equal steps up to the last age.
    pub points: Vec<AtAge>,
    /// Where it is least; `None` where it is still falling at the last age.
    pub optimum: Option<AtAge>,
}

/// The rate need not fall by more than this share from the optimum to the last age to count as flat.
const FLAT: f64 = 1e-9;
/// Golden section: 80 steps narrow an interval to 1e-16 of it.
const NARROWING: u32 = 80;
/// Parts of a step for its integral.
const PARTS: u32 = 4;

/// The curve from 0 to `last` in so many steps, and its least point; `life` is the distribution of
/// lives, F, rising from 0 to 1.
///
/// The least of the points is refined between its neighbours, so the steps need only be fine enough
/// to tell the valley. An integral over a step is Simpson's.
#[must_use]
pub fn cost_curve(renewal: Renewal, life: &dyn Fn(f64) -> f64, last: f64, steps: u32) -> CostCurve {
    let steps = steps.max(1);
    let width = last / f64::from(steps);
    let mut before = vec![0.0];
    let mut points = Vec::new();
    let mut lived = 0.0;
    for step in 1..=steps {
        let from = f64::from(step - 1) * width;
        lived += survived(life, from, from + width);
        before.push(lived);
        points.push(AtAge { age: from + width, rate: rate(renewal, life(from + width), lived) });
    }
    let least = points.iter().enumerate().min_by(|(_, one), (_, other)| one.rate.total_cmp(&other.rate));
    let optimum = least.filter(|(index, _)| index + 1 < points.len()).and_then(|(index, _)| {
        let from = f64::from(u32::try_from(index).ok()?) * width;
        let lived = before.get(index).copied()?;
        let at = |age: f64| AtAge { age, rate: rate(renewal, life(age), lived + survived(life, from, age)) };
        let best = narrowed(from.max(width * 1e-6), (from + 2.0 * width).min(last), &at);
        let end = points.last()?.rate;
        (best.rate < end * (1.0 - FLAT)).then_some(best)
    });
    CostCurve { points, optimum }
}

/// The cost rate at one age, by the same sums.
#[must_use]
pub fn cost_at(renewal: Renewal, life: &dyn Fn(f64) -> f64, age: f64, steps: u32) -> AtAge {
    let curve = cost_curve(renewal, life, age, steps);
    curve.points.last().copied().unwrap_or(AtAge { age, rate: f64::INFINITY })
}

fn rate(renewal: Renewal, failed: f64, lived: f64) -> f64 {
    (renewal.planned * (1.0 - failed) + renewal.unplanned * failed) / lived
}

/// The integral of R over a stretch.
fn survived(life: &dyn Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    let width = (to - from) / f64::from(PARTS);
    let alive = |age: f64| 1.0 - life(age);
    (0..PARTS)
        .map(|part| {
            let at = from + f64::from(part) * width;
            width / 6.0 * (alive(at) + 4.0 * alive(at + 0.5 * width) + alive(at + width))
        })
        .sum()
}

/// The least point of a valley, by golden section.
fn narrowed(from: f64, to: f64, at: &dyn Fn(f64) -> AtAge) -> AtAge {
    let share = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (from, to);
    let (mut left, mut right) = (at(high - share * (high - low)), at(low + share * (high - low)));
    for _ in 0..NARROWING {
        if left.rate < right.rate {
            high = right.age;
            right = left;
            left = at(high - share * (high - low));
        } else {
            low = left.age;
            left = right;
            right = at(low + share * (high - low));
        }
    }
    if left.rate < right.rate { left } else { right }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Barlow and Proschan 1965; rows computed at 30 digits, as the file says, which also names a
    /// widely copied value of a coarse grid: 493.19 for beta 2.5, eta 1000, cp 1, cf 5.
    const WEIBULL: &str = include_str!("../../../tests/fixtures/checks/age_replacement_weibull.csv");

    #[test]
    fn the_optimum_of_weibull_lives() {
        let rows = WEIBULL.lines().filter(|line| !line.starts_with('#')).skip(1);
        let mut compared = 0;
        for row in rows {
            let figures: Vec<f64> = row.split(',').map(|cell| cell.parse().unwrap()).collect();
            let [beta, eta, planned, unplanned, age, rate, to_failure] = figures[..] else { panic!("{row}") };
            let life = |t: f64| -(-(t / eta).powf(beta)).exp_m1();
            let curve = cost_curve(Renewal { planned, unplanned }, &life, 10.0 * eta, 2000);
            let best = curve.optimum.unwrap();
            // the valley is flat: its lowest age is found to the root of what its rate is
            assert!((best.age / age - 1.0).abs() < 1e-6, "{row}: at {}", best.age);
            assert!((best.rate / rate - 1.0).abs() < 1e-9, "{row}: {}", best.rate);
            let last = curve.points.last().unwrap();
            assert!((last.rate / to_failure - 1.0).abs() < 1e-4, "{row}: run to failure {}", last.rate);
            compared += 1;
        }
        assert_eq!(compared, 20);
    }

    #[test]
    fn the_widely_copied_optimum_is_a_grid_point_and_costs_more() {
        let life = |t: f64| -(-(t / 1000.0_f64).powf(2.5)).exp_m1();
        let renewal = Renewal { planned: 1.0, unplanned: 5.0 };
        let best = cost_curve(renewal, &life, 10_000.0, 2000).optimum.unwrap();
        let copied = cost_at(renewal, &life, 493.185_118_511_851_2, 2000);
        assert!((copied.rate / 0.003_462_042_918_994_316_7 - 1.0).abs() < 1e-9, "{}", copied.rate);
        assert!(best.rate < copied.rate && (best.age - 493.046_957_597).abs() < 1e-3, "{best:?}");
    }

    #[test]
    fn lives_that_do_not_age_or_failures_that_cost_no_more_have_no_optimum() {
        let renewal = Renewal { planned: 1.0, unplanned: 5.0 };
        let memoryless = |t: f64| -(-t / 1000.0).exp_m1();
        assert_eq!(cost_curve(renewal, &memoryless, 20_000.0, 2000).optimum, None);
        let ageing = |t: f64| -(-(t / 1000.0_f64).powf(2.5)).exp_m1();
        let same = Renewal { planned: 1.0, unplanned: 1.0 };
        assert_eq!(cost_curve(same, &ageing, 5000.0, 2000).optimum, None);
        assert_eq!(cost_curve(renewal, &|_| 0.0, 5000.0, 500).optimum, None);
    }
}
