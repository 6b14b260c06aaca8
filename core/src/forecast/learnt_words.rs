//! What a shop taught, in sentences.

use super::learnt::{Basis, ClockSurety, DriftShape, InterfaceLearnt, RecordFaults, ShopLearnt, UsageLearnt};
use super::model::observed::Clock;
use crate::units::Percent;
use crate::words;
use chrono::NaiveDate;

/// Said of what rests on no reading.
const EXPERIENCE: &str = "weakly informative, from experience, to be confirmed";

impl ClockSurety {
    /// `cannot yet tell` or `98 % sure`.
    #[must_use]
    pub fn in_words(self) -> String {
        match self {
            Self::CannotYetTell => "cannot yet tell".to_owned(),
            Self::Sure(share) if share.get() > 99.5 => "over 99 % sure".to_owned(),
            Self::Sure(share) => format!("{} % sure", words::number(share.get(), 0)),
        }
    }
}

impl DriftShape {
    /// One word or three.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Slows => "slows",
            Self::SpeedsUp => "speeds up",
            Self::Steady => "steady",
            Self::CannotYetTell => "cannot yet tell",
        }
    }

    const fn sentence_part(self) -> &'static str {
        match self {
            Self::Slows => "drift slows with time since service",
            Self::SpeedsUp => "drift speeds up with time since service",
            Self::Steady => "drift is steady between services",
            Self::CannotYetTell => "whether drift slows or speeds up cannot yet be told",
        }
    }
}

impl Basis {
    /// In the table.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Own => "its own",
            Self::All => "all spindles",
            Self::Experience => "experience",
        }
    }
}

/// `run hours` or `clamp cycles`.
#[must_use]
const fn clock_word(clock: Clock) -> &'static str {
    match clock {
        Clock::Hours => "run hours",
        Clock::Cycles => "clamp cycles",
    }
}

/// `every 2.5 years`, `once in 31 years`.
fn years(years: f64) -> String {
    if !years.is_finite() || years > 1000.0 {
        "less than once in 1,000 years".to_owned()
    } else if years >= 10.0 {
        format!("once in {} years", words::number(years, 0))
    } else if years < 0.125 {
        "every month".to_owned()
    } else if years < 0.95 {
        format!("every {} months", words::number(12.0 * years, 0))
    } else if (years - 1.0).abs() < 0.05 {
        "every year".to_owned()
    } else {
        let is_whole = (years - years.round()).abs() < 0.05;
        format!("every {} years", words::number(years, if is_whole { 0 } else { 1 }))
    }
}

fn percent(value: Percent) -> String {
    format!("{} %", words::percent(value))
}

impl InterfaceLearnt {
    /// Its name, or that of all spindles.
    #[must_use]
    pub fn name(&self) -> String {
        self.interface.as_ref().map_or_else(|| "all spindles".to_owned(), ToString::to_string)
    }

    /// `run hours`, or `clamp cycles`.
    #[must_use]
    pub const fn clock_word(&self) -> &'static str {
        clock_word(self.clock)
    }

    /// `once in 31 years`.
    #[must_use]
    pub fn steps_in_words(&self) -> String {
        years(self.years_per_step)
    }

    /// How it drifts, in one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let [low, high] = self.loss_quarters.map(words::percent);
        let clock = match self.clock_surety {
            ClockSurety::Sure(_) => format!("counted in {}", self.clock_word()),
            ClockSurety::CannotYetTell => {
                format!("counted in {}, though it cannot yet be told whether hours or cycles count", self.clock_word())
            }
        };
        format!(
            "{}: loses {} per 1,000 h, half of the spindles between {low} and {high}; {clock}; {}",
            words::capital(&self.name()),
            percent(self.loss_per_1000_h),
            self.shape.sentence_part(),
        )
    }

    /// What a service gives back and what stays lost, in one sentence without a full stop.
    #[must_use]
    pub fn service_sentence(&self) -> String {
        format!(
            "A service restores what is left of {} when new, give or take {}; {} per 1,000 h do not come back; \
             a sudden drop comes {} per spindle",
            percent(self.level_when_new),
            percent(self.restore_scatter),
            percent(self.lasting_per_1000_h),
            self.steps_in_words(),
        )
    }

    /// What it rests on, in one sentence without a full stop.
    #[must_use]
    pub fn basis_sentence(&self) -> String {
        let spindles = match self.spindles {
            1 => "one spindle".to_owned(),
            count => format!("{} spindles", words::count_words(count)),
        };
        match self.basis {
            Basis::Own => format!(
                "From {} of {spindles}; a reading scatters by {} from set-up to set-up and {} from stroke to stroke{}",
                readings(self.readings),
                percent(self.set_up_scatter),
                percent(self.stroke_scatter),
                self.faults.map(RecordFaults::in_words).unwrap_or_default(),
            ),
            Basis::All if self.spindles == 0 => {
                "None of its spindles was measured: its figures are those of all spindles".to_owned()
            }
            Basis::All => format!(
                "With {} of {spindles} it cannot be told from the others: its figures are those of all spindles",
                readings(self.readings),
            ),
            Basis::Experience => words::capital(EXPERIENCE),
        }
    }
}

impl RecordFaults {
    fn in_words(self) -> String {
        format!(
            "; it reckons with one wrong reading in {}, and with a service that nobody logged before one in {}",
            one_in(self.wrong),
            one_in(self.unlogged)
        )
    }
}

/// `110`: as one says of a share of one in 110.
fn one_in(share: Percent) -> String {
    let count = 100.0 / share.get();
    let step = match count {
        _ if count < 20.0 => 1.0,
        _ if count < 200.0 => 10.0,
        _ if count < 500.0 => 50.0,
        _ => 100.0,
    };
    words::number((count / step).round() * step, 0)
}

fn readings(count: usize) -> String {
    match count {
        1 => "one reading".to_owned(),
        _ => format!("{} readings", words::number(count as f64, 0)),
    }
}

impl UsageLearnt {
    /// In one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let size = self.change.get();
        let size = if (45.0..55.0).contains(&size) {
            "by half".to_owned()
        } else {
            format!("by {} %", words::number(size, 0))
        };
        let about = years(self.years_per_change);
        let stops = match self.stop_days.round() {
            // learnt before stops were told apart from changes
            days if !self.years_per_stop.is_finite() || days < 1.0 => String::new(),
            days => format!(
                "; a stop of about {} comes about {}",
                if days > 1.0 {
                    format!("{} working days", words::number(days, 0))
                } else {
                    "a working day".to_owned()
                },
                years(self.years_per_stop),
            ),
        };
        format!(
            "Usage in {} changes for good about {about} per spindle, {size}; besides it wanders by {} % within a \
             year{stops}",
            clock_word(self.clock),
            words::number(self.wanders.get(), 0),
        )
    }
}

impl ShopLearnt {
    /// The day, and what it rests on, in one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self, as_of: NaiveDate) -> String {
        if self.is_weak {
            return format!("Nothing was learnt from readings yet: all figures are {EXPERIENCE}");
        }
        let day = words::date_long(self.fitted_on, as_of);
        let known = readings(self.readings);
        match &self.outdated {
            Some(reason) => format!("Learnt on {day} from {known}; to be learnt anew: {reason}"),
            None => format!("Learnt on {day} from {known}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interface::Interface;

    fn of(basis: Basis) -> InterfaceLearnt {
        let percent = |value: f64| Percent::new(value).unwrap();
        InterfaceLearnt {
            interface: Interface::parse("HSK-A63"),
            basis,
            spindles: 9,
            readings: 212,
            loss_per_1000_h: percent(5.9),
            loss_quarters: [percent(4.4), percent(7.2)],
            clock: Clock::Hours,
            clock_surety: ClockSurety::Sure(percent(97.6)),
            shape: DriftShape::Slows,
            set_up_scatter: percent(0.7),
            stroke_scatter: percent(1.9),
            level_when_new: percent(97.8),
            restore_scatter: percent(1.1),
            lasting_per_1000_h: percent(0.4),
            faults: Some(RecordFaults { wrong: percent(0.93), unlogged: percent(0.4) }),
            steps_per_1000_h: 0.016,
            years_per_step: 31.2,
        }
    }

    #[test]
    fn a_planner_reads_sentences() {
        let learnt = of(Basis::Own);
        assert_eq!(
            learnt.sentence(),
            "HSK-A63: loses 5.9 % per 1,000 h, half of the spindles between 4.4 and 7.2; counted in run hours; \
             drift slows with time since service"
        );
        assert_eq!(
            learnt.service_sentence(),
            "A service restores what is left of 97.8 % when new, give or take 1.1 %; 0.4 % per 1,000 h do not come \
             back; a sudden drop comes once in 31 years per spindle"
        );
        assert_eq!(
            learnt.basis_sentence(),
            "From 212 readings of nine spindles; a reading scatters by 0.7 % from set-up to set-up and 1.9 % from \
             stroke to stroke; it reckons with one wrong reading in 110, and with a service that nobody logged before \
             one in 250"
        );
        assert_eq!(learnt.clock_surety.in_words(), "98 % sure");
        let before_they_were_counted = InterfaceLearnt { faults: None, ..of(Basis::Own) };
        assert!(before_they_were_counted.basis_sentence().ends_with("1.9 % from stroke to stroke"));
        let borrowed = InterfaceLearnt { spindles: 2, readings: 7, ..of(Basis::All) };
        assert!(borrowed.basis_sentence().starts_with("With 7 readings of two spindles"));
        assert!(of(Basis::Experience).basis_sentence().contains("to be confirmed"));
    }

    #[test]
    fn usage_in_words() {
        let percent = |value: f64| Percent::new(value).unwrap();
        let law = UsageLearnt {
            clock: Clock::Hours,
            years_per_change: 2.5,
            change: percent(50.0),
            wanders: percent(14.0),
            years_per_stop: 3.04,
            stop_days: 8.3,
        };
        assert_eq!(
            law.sentence(),
            "Usage in run hours changes for good about every 2.5 years per spindle, by half; besides it wanders by \
             14 % within a year; a stop of about 8 working days comes about every 3 years"
        );
        for without in [UsageLearnt { years_per_stop: f64::INFINITY, ..law }, UsageLearnt { stop_days: 0.0, ..law }] {
            assert!(without.sentence().ends_with("14 % within a year"), "{}", without.sentence());
        }
    }

    #[test]
    fn shares_as_one_says_them() {
        let cases = [(20.0, "5"), (7.0, "14"), (3.1, "30"), (0.93, "110"), (0.4, "250"), (0.05, "2,000")];
        for (share, said) in cases {
            assert_eq!(one_in(Percent::new(share).unwrap()), said);
        }
    }

    #[test]
    fn years_as_one_says_them() {
        let cases = [
            (0.05, "every month"),
            (0.5, "every 6 months"),
            (1.02, "every year"),
            (2.5, "every 2.5 years"),
            (3.04, "every 3 years"),
            (31.2, "once in 31 years"),
            (f64::INFINITY, "less than once in 1,000 years"),
        ];
        for (figure, said) in cases {
            assert_eq!(years(figure), said);
        }
    }
}
