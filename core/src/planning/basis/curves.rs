//! The chance of having crossed a limit, as weekly points in whole numbers.

use crate::forecast::ChanceCurve;
use crate::planning::problem::Curve;

/// One in the unit of a point.
const ONE: i64 = 10_000;

/// A chance at days 0, 7, 14, .. up to the end of the horizon.
pub(super) fn weekly(chance: &ChanceCurve, weeks: usize) -> Curve {
    let mut highest = 0;
    let points = (0..=weeks).map(|week| {
        let day = u32::try_from(week * 7).unwrap_or(u32::MAX);
        highest = highest.max((chance.share(day) * ONE as f64).round() as i64).clamp(0, ONE);
        highest
    });
    Curve(points.collect())
}

/// The same with the service-by day on which it was reckoned: straight lines between weekly points
/// would move it by a day or two, and what a day too early and a day too late cost would then
/// name another day as the cheapest one. Only the two points around it are touched.
///
/// `day`: the service-by day. `is_hard`: a fixed interval ends on it, and wear alone reaches the
/// accepted risk no earlier. `early`, `late`: what a day too early and a day too late cost; the
/// cheapest day is the first on which the chance exceeds early / (early + late).
pub(super) fn meet(curve: &mut Curve, day: usize, is_hard: bool, early: i64, late: i64) {
    let Some(whole) = early.checked_add(late).filter(|whole| 0 < *whole) else { return };
    let points = &mut curve.0;
    let share = i128::from(7 * ONE) * i128::from(early);
    // in 1/70000: at most so much the day before, at least so much on the day
    let at_most = i64::try_from((share + i128::from(whole) - 1) / i128::from(whole)).unwrap_or(i64::MAX) - 1;
    let at_least = i64::try_from(share / i128::from(whole)).unwrap_or(i64::MAX) + 1;
    if day == 0 {
        if let Some(first) = points.first_mut().filter(|_| !is_hard) {
            *first = (*first).max(ceil_div(at_least, 7)).min(ONE);
        }
        return raise(points);
    }
    let (week, past) = ((day - 1) / 7, ((day - 1) % 7 + 1) as i64);
    // low enough that a whole number fits between the two conditions below
    let most_before = ((at_most - 50) / 7).max(0);
    for point in points.iter_mut().take(week + 1) {
        *point = (*point).min(most_before);
    }
    // where even certainty a week later would not reach it, the point before is too low
    if !is_hard && past < 7 {
        let needed = ceil_div(at_least - past * ONE, 7 - past).min(most_before);
        if let Some(point) = points.get_mut(week) {
            *point = (*point).max(needed);
        }
    }
    let (Some(before), Some(after)) = (points.get(week).copied(), points.get(week + 1).copied()) else { return };
    let highest = if past == 1 { ONE } else { (at_most - before * (8 - past)).div_euclid(past - 1).clamp(0, ONE) };
    let lowest = if is_hard { 0 } else { ceil_div(at_least - before * (7 - past), past).clamp(0, ONE) };
    if let Some(point) = points.get_mut(week + 1) {
        *point = after.min(highest).max(lowest).max(before);
    }
    raise(points);
}

fn ceil_div(amount: i64, by: i64) -> i64 {
    -(-amount).div_euclid(by)
}

/// Never falling.
fn raise(points: &mut [i64]) {
    let mut highest = 0;
    for point in points {
        highest = highest.max(*point);
        *point = highest;
    }
}

/// Expected days of service life beyond the horizon, up to the end of a fixed interval (a day
/// ahead) or of what is known.
pub(super) fn tail_days(chance: &ChanceCurve, horizon: usize, hard: Option<i64>) -> i64 {
    let from = u32::try_from(horizon).unwrap_or(u32::MAX);
    let known = chance.last_day();
    let end = hard.map_or(known, |hard| u32::try_from(hard.max(0)).unwrap_or(u32::MAX).min(known));
    let mut days = 0.0;
    let mut day = from;
    while day < end {
        let step = (end - day).min(7);
        let middle = f64::from(day) + f64::from(step) / 2.0;
        days += (1.0 - chance.share(middle as u32)) * f64::from(step);
        day += step;
    }
    days.round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Percent;

    fn curve(of: impl Fn(f64) -> f64) -> ChanceCurve {
        ChanceCurve::through((0..300).map(|week| (week * 7, Percent::new(100.0 * of(f64::from(week) * 7.0)).unwrap())))
    }

    /// The first day from which waiting costs more than it gives.
    fn cheapest(curve: &Curve, hard: Option<usize>, early: i64, late: i64, days: usize) -> usize {
        let chance = |day: usize| if hard.is_some_and(|hard| hard <= day) { 70_000 } else { curve.on(day) };
        let cost = |day: usize| -> i64 {
            (0..days).map(|t| if t < day { late * chance(t) } else { early * (70_000 - chance(t)) }).sum()
        };
        (0..days).min_by_key(|day| cost(*day)).unwrap()
    }

    #[test]
    fn the_cheapest_day_is_the_service_by_day_whatever_its_weekday() {
        for scale in [40.0, 90.0, 200.0] {
            let law = curve(|day| 1.0 - (-(day / scale).powi(3)).exp());
            for risk in [0.02_f64, 0.10, 0.30] {
                let (early, below) = (39, (39.0 * (1.0 - risk) / risk).round() as i64);
                for day in 0..150 {
                    let mut weekly = weekly(&law, 26);
                    meet(&mut weekly, day, false, early, below);
                    assert_eq!(cheapest(&weekly, None, early, below, 182), day, "scale {scale}, risk {risk}");
                    assert!(weekly.0.is_sorted() && weekly.0.iter().all(|point| (0..=ONE).contains(point)));
                }
            }
        }
    }

    #[test]
    fn the_same_where_a_fixed_interval_ends() {
        let law = curve(|day| (day / 400.0).min(1.0));
        for day in 1..40 {
            let mut weekly = weekly(&law, 26);
            meet(&mut weekly, day, true, 39, 351);
            assert_eq!(cheapest(&weekly, Some(day), 39, 351, 182), day);
        }
    }

    #[test]
    fn a_curve_that_agrees_stays_as_it_is() {
        let law = curve(|day| (day / 650.0).min(1.0));
        let plain = weekly(&law, 26);
        let mut met = plain.clone();
        // 10 % on day 65, more on day 66
        meet(&mut met, 66, false, 1000, 9000);
        assert_eq!(met, plain);
    }

    #[test]
    fn life_beyond_the_horizon_ends_with_a_fixed_interval() {
        let never = curve(|_| 0.0);
        assert_eq!(tail_days(&never, 182, Some(200)), 18);
        assert_eq!(tail_days(&never, 182, Some(100)), 0);
        assert_eq!(tail_days(&never, 182, None), 299 * 7 - 182);
        let half = curve(|_| 0.5);
        assert_eq!(tail_days(&half, 182, Some(282)), 50);
    }
}
