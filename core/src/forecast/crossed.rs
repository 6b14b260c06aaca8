//! The chance of having crossed a limit by each day ahead: what a plan weighs its days by.

use super::full::Modelled;
use crate::units::Percent;
use chrono::NaiveDate;

/// Points stand a week apart for so many weeks, half a year and a little more.
const WEEKS: u32 = 27;
/// Days between later points, about a quarter of a year.
const LATER_STEP: u32 = 91;
/// Between two points whose chances differ by less, nothing is worked out.
const ALIKE: f64 = 0.5e-4;

/// When a spindle comes to need its service, as chances.
///
/// Empty for a spindle that is not mounted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CrossedBy {
    /// Force under the service limit or setting dimension out of tolerance, both independent.
    pub wear: ChanceCurve,
    /// Force under the stop limit.
    pub stop: ChanceCurve,
    /// The day on which the first fixed interval counts as over (calendar, run hours, clamp cycles);
    /// may lie in the past.
    pub interval_end: Option<NaiveDate>,
}

/// A chance that never falls, by the end of days ahead: known at some of them, straight between.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChanceCurve {
    /// Days ahead, ascending, and the chance as a share.
    points: Vec<(u32, f64)>,
}

impl ChanceCurve {
    /// It has happened already.
    #[must_use]
    pub fn certain() -> Self {
        Self { points: vec![(0, 1.0)] }
    }

    /// From points; days must ascend. Shares are kept from falling and within 0 to 1.
    #[must_use]
    pub fn through(points: impl IntoIterator<Item = (u32, Percent)>) -> Self {
        let mut highest: f64 = 0.0;
        let points = points.into_iter().map(|(day, chance)| {
            highest = highest.max((chance.get() / 100.0).clamp(0.0, 1.0));
            (day, highest)
        });
        Self { points: points.collect() }
    }

    /// A law at weekly points, later ones further apart, up to so many days ahead; worked out only
    /// where it still rises.
    fn of(last: u32, chance: impl Fn(u32) -> f64) -> Self {
        let weekly = (0..=WEEKS).map(|week| week * 7);
        let later = (1..).map(|step| WEEKS * 7 + step * LATER_STEP).take_while(|day| *day < last);
        let mut days: Vec<u32> = weekly.chain(later).filter(|day| *day < last).collect();
        days.push(last);
        let mut points: Vec<(u32, f64)> = days.into_iter().map(|day| (day, 0.0)).collect();
        let end = points.len() - 1;
        for edge in [0, end] {
            if let Some((day, share)) = points.get_mut(edge) {
                *share = chance(*day).clamp(0.0, 1.0);
            }
        }
        fill(&mut points, &chance);
        let mut highest: f64 = 0.0;
        for (_, share) in &mut points {
            highest = highest.max(*share);
            *share = highest;
        }
        Self { points }
    }

    /// The chance by the end of a day ahead; past the last point it stays level. Without points: none.
    #[must_use]
    pub fn by(&self, day: u32) -> Percent {
        Percent::new(self.share(day) * 100.0).unwrap_or_default()
    }

    /// The same as a share from 0 to 1.
    pub(crate) fn share(&self, day: u32) -> f64 {
        let after = self.points.partition_point(|(known, _)| *known <= day);
        let before = after.checked_sub(1).and_then(|index| self.points.get(index));
        match (before, self.points.get(after)) {
            (Some((from, low)), Some((to, high))) => {
                low + (high - low) * f64::from(day - from) / f64::from((to - from).max(1))
            }
            (Some((_, share)), None) | (None, Some((_, share))) => *share,
            (None, None) => 0.0,
        }
    }

    /// The last day ahead of which something is known.
    #[must_use]
    pub fn last_day(&self) -> u32 {
        self.points.last().map_or(0, |(day, _)| *day)
    }
}

/// Works out the points between the first and the last, whose chances are known.
fn fill(points: &mut [(u32, f64)], chance: &impl Fn(u32) -> f64) {
    let (Some(&(from, low)), Some(&(to, high))) = (points.first(), points.last()) else { return };
    if points.len() <= 2 {
        return;
    }
    if high - low < ALIKE {
        for (day, share) in points.iter_mut() {
            *share = low + (high - low) * f64::from(*day - from) / f64::from(to - from);
        }
        return;
    }
    let middle = points.len() / 2;
    if let Some((day, share)) = points.get_mut(middle) {
        *share = chance(*day).clamp(0.0, 1.0);
    }
    if let Some(half) = points.get_mut(..=middle) {
        fill(half, chance);
    }
    if let Some(half) = points.get_mut(middle..) {
        fill(half, chance);
    }
}

impl CrossedBy {
    /// Of a mounted spindle. `worn`: force or setting dimension have crossed already; `under_stop`:
    /// the force is under the stop limit already.
    pub(super) fn of(
        model: &Modelled<'_>,
        worn: bool,
        under_stop: bool,
        interval_end: Option<NaiveDate>,
        horizon_days: u32,
    ) -> Self {
        let law = |is_passed: bool, chance: &dyn Fn(u32) -> f64| {
            if is_passed { ChanceCurve::certain() } else { ChanceCurve::of(horizon_days.max(1), chance) }
        };
        Self {
            wear: law(worn, &|day| model.worn_by_end_of(i64::from(day))),
            stop: law(under_stop, &|day| model.under_stop_by_end_of(i64::from(day))),
            interval_end,
        }
    }

    /// The chance of having crossed a limit by the end of a day ahead, fixed intervals included.
    #[must_use]
    pub fn by(&self, as_of: NaiveDate, day: u32) -> Percent {
        let is_over = self.interval_end.is_some_and(|end| (end - as_of).num_days() <= i64::from(day));
        if is_over { Percent::new(100.0).unwrap_or_default() } else { self.wear.by(day) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_law_is_met_at_its_points_and_straight_between() {
        let law = |day: u32| 1.0 - (-f64::from(day) / 200.0).exp();
        let curve = ChanceCurve::of(1825, law);
        for day in (0..=189).step_by(7) {
            assert!((curve.share(day) - law(day)).abs() < 1e-12, "day {day}");
        }
        let between = (3.0 * law(7) + 4.0 * law(14)) / 7.0;
        assert!((curve.share(11) - between).abs() < 1e-12);
        assert!((curve.share(1825) - law(1825)).abs() < 1e-12);
        assert_eq!(curve.last_day(), 1825);
        assert!((curve.share(5000) - law(1825)).abs() < 1e-12, "it stays level");
    }

    #[test]
    fn little_is_worked_out_where_nothing_rises() {
        let asked = std::cell::Cell::new(0);
        let curve = ChanceCurve::of(1825, |_| {
            asked.set(asked.get() + 1);
            0.25
        });
        assert_eq!(asked.get(), 2);
        assert_eq!(curve.by(100).get(), 25.0);
    }

    #[test]
    fn a_short_horizon_has_its_two_ends() {
        let curve = ChanceCurve::of(3, |day| f64::from(day) / 10.0);
        assert!((curve.share(0), curve.share(3)) == (0.0, 0.3));
        assert!((curve.share(1) - 0.1).abs() < 1e-12);
    }

    #[test]
    fn what_has_happened_is_certain_and_an_interval_ends_on_its_day() {
        assert_eq!(ChanceCurve::certain().by(0).get(), 100.0);
        assert_eq!(ChanceCurve::default().by(9).get(), 0.0);
        let as_of = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
        let crossed = CrossedBy { interval_end: NaiveDate::from_ymd_opt(2026, 3, 12), ..CrossedBy::default() };
        assert_eq!((crossed.by(as_of, 9).get(), crossed.by(as_of, 10).get()), (0.0, 100.0));
    }
}
