//! When technicians are there: weekly shifts less absences, cut where the shop's day begins.

use super::days::Grid;
use crate::crew::Technician;
use crate::planning::problem::{DayShift, Person, Span};
use crate::service::Kind;
use chrono::{Days, NaiveDate, NaiveDateTime, NaiveTime};

/// A technician as a plan sees it. A shift that begins on a day of absence falls away as a whole,
/// and so does what of any shift lies on one.
pub(super) fn person(technician: &Technician, grid: &Grid) -> Person {
    let mut shifts: Vec<DayShift> = Vec::new();
    // one day before: its night shift may reach into the plan
    let before = grid.date(0).pred_opt().unwrap_or(NaiveDate::MIN);
    for date in before.iter_days().take(grid.days() + 2) {
        for shift in technician.shifts.iter().filter(|shift| shift.is_on(chrono::Datelike::weekday(&date))) {
            if is_absent(technician, date) {
                continue;
            }
            let ends_on = if shift.from < shift.to { date } else { next(date) };
            for (from, to) in present(technician, date.and_time(shift.from), ends_on.and_time(shift.to)) {
                shifts.extend(grid.cut(from, to).into_iter().map(|(day, span)| DayShift { day, span }));
            }
        }
    }
    let skills = Kind::ALL.map(|kind| technician.skills.contains(&kind)).to_vec();
    let minutes_per_day = technician.hours_per_day.map(|hours| (hours.get() * 60.0 + 1e-9).floor() as i64);
    Person { skills, shifts: without_overlaps(shifts), minutes_per_day }
}

fn next(date: NaiveDate) -> NaiveDate {
    date.checked_add_days(Days::new(1)).unwrap_or(date)
}

fn is_absent(technician: &Technician, date: NaiveDate) -> bool {
    technician.absent.iter().any(|days| days.contains(date))
}

/// The parts of a stretch that lie on days without absence.
fn present(technician: &Technician, from: NaiveDateTime, to: NaiveDateTime) -> Vec<(NaiveDateTime, NaiveDateTime)> {
    let midnight = next(from.date()).and_time(NaiveTime::MIN);
    if to <= midnight {
        return vec![(from, to)];
    }
    // over midnight: the second part counts where its day does
    if is_absent(technician, to.date()) { vec![(from, midnight)] } else { vec![(from, to)] }
}

/// Shifts in their order; those that overlap become one.
fn without_overlaps(mut shifts: Vec<DayShift>) -> Vec<DayShift> {
    shifts.sort_by_key(|shift| (shift.day, shift.span));
    let mut apart: Vec<DayShift> = Vec::with_capacity(shifts.len());
    for shift in shifts {
        match apart.last_mut().filter(|last| last.day == shift.day && shift.span.from < last.span.to) {
            Some(last) => last.span.to = last.span.to.max(shift.span.to),
            None => apart.push(shift),
        }
    }
    apart
}

/// Somebody the shop does not know, there for exactly one held service and for nothing else.
pub(super) fn stranger(day: usize, span: Span) -> Person {
    Person { skills: vec![true; Kind::ALL.len()], shifts: vec![DayShift { day, span }], minutes_per_day: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::parse_shifts;
    use crate::moment::{DayRange, parse_iso_date};

    fn technician(shifts: &str, absent: &[&str]) -> Technician {
        Technician {
            name: "Brook".to_owned(),
            skills: vec![Kind::Minor],
            shifts: parse_shifts(shifts).unwrap(),
            hours_per_day: crate::units::RunHours::new(6.5),
            absent: absent.iter().filter_map(|text| DayRange::parse(text)).collect(),
        }
    }

    #[track_caller]
    fn check(shifts: &str, absent: &[&str], begins: u32, expected: &[(usize, i64, i64)]) {
        // Monday 2 March 2026
        let begins = NaiveTime::from_hms_opt(begins, 0, 0).unwrap();
        let grid = Grid::new(parse_iso_date("2026-03-02").unwrap(), begins, 4);
        let found = person(&technician(shifts, absent), &grid);
        let spans: Vec<(usize, i64, i64)> = found.shifts.iter().map(|s| (s.day, s.span.from, s.span.to)).collect();
        assert_eq!(spans, expected, "{shifts} {absent:?}");
        assert_eq!((found.skills, found.minutes_per_day), (vec![true, false], Some(390)));
    }

    #[test]
    fn shifts_stand_on_their_weekdays() {
        check("Mon-Wed 06:00-14:00; Sat 07:00-12:00", &[], 0, &[(0, 360, 840), (1, 360, 840), (2, 360, 840)]);
        check("Mon-Wed 06:00-14:00", &["2026-03-03"], 0, &[(0, 360, 840), (2, 360, 840)]);
        check("Mon 06:00-12:00; Mon 11:00-14:00; Mon 14:00-15:00", &[], 0, &[(0, 360, 840), (0, 840, 900)]);
    }

    #[test]
    fn a_night_shift_is_cut_where_the_day_begins() {
        check("Sun-Mon 22:00-06:00", &[], 0, &[(0, 0, 360), (0, 1320, 1440), (1, 0, 360)]);
        check("Sun-Mon 22:00-06:00", &[], 6, &[(0, 960, 1440)]);
    }

    #[test]
    fn nobody_works_on_a_day_of_absence_or_in_a_shift_that_began_on_one() {
        check("Mon 22:00-06:00", &["2026-03-02"], 0, &[]);
        check("Mon 22:00-06:00", &["2026-03-03"], 0, &[(0, 1320, 1440)]);
    }
}
