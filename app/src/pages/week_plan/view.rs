//! What the user set on the week plan: weeks shown, halls or technicians, and which part.

/// How many weeks can be shown.
pub const WEEK_STEPS: [usize; 6] = [3, 4, 6, 8, 10, 13];

/// More rows than these do not stand under each other: one is shown at a time.
pub(super) const ROWS_TOGETHER: usize = 4;

/// Weeks, rows and which part of them is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct WeekPlanView {
    /// So many weeks stand side by side.
    pub weeks: usize,
    /// The first week shown, counted from the week of the as-of day.
    pub first: usize,
    /// Rows are technicians; else halls.
    pub by_technician: bool,
    /// The row shown where one is shown at a time.
    pub row: usize,
}

impl Default for WeekPlanView {
    fn default() -> Self {
        Self { weeks: 8, first: 0, by_technician: false, row: 0 }
    }
}

impl WeekPlanView {
    /// The next larger number of weeks.
    pub fn more_weeks(&mut self) {
        self.weeks = WEEK_STEPS.into_iter().find(|step| self.weeks < *step).unwrap_or(self.weeks);
    }

    /// The next smaller number of weeks.
    pub fn fewer_weeks(&mut self) {
        self.weeks = WEEK_STEPS.into_iter().rev().find(|step| *step < self.weeks).unwrap_or(self.weeks);
    }

    /// Keeps the shown part inside a plan of so many weeks and rows.
    pub(super) fn keep_inside(&mut self, weeks: usize, rows: usize) {
        self.first = self.first.min(weeks.saturating_sub(self.weeks));
        self.row = self.row.min(rows.saturating_sub(1));
    }

    /// Brings a week into what is shown, moving no further than needed.
    pub(super) fn show_week(&mut self, week: usize) {
        if week < self.first {
            self.first = week;
        } else if self.first + self.weeks <= week {
            self.first = week + 1 - self.weeks;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_part_shown_follows_a_week_and_stays_inside() {
        let mut view = WeekPlanView::default();
        view.show_week(7);
        assert_eq!(view.first, 0);
        view.show_week(8);
        assert_eq!(view.first, 1);
        view.show_week(0);
        assert_eq!(view.first, 0);
        view.first = 25;
        view.keep_inside(27, 3);
        assert_eq!(view.first, 19);
        view.keep_inside(4, 3);
        assert_eq!(view.first, 0, "a short plan is shown from its start");
    }

    #[test]
    fn steps_of_weeks_end_at_both_ends() {
        let mut view = WeekPlanView::default();
        for _ in 0..9 {
            view.more_weeks();
        }
        assert_eq!(view.weeks, 13);
        for _ in 0..9 {
            view.fewer_weeks();
        }
        assert_eq!(view.weeks, 3);
    }
}
