//! Figures that cannot be right: a slipped decimal point, another unit, a meter that runs backwards.
//!
//! Nothing here changes a figure. A slip is a question to the person who typed it, with the likely
//! right figure where one fits. The bands are wide on purpose: a weak spindle is news, not a slip.
//! Their widths are ours (no source); they follow from the factors that must be told apart: 10 and
//! 100 for the point, 4.448 for lbf and kN, 25.4 for in and mm.

use crate::ids::SpindleId;
use crate::moment::Moment;
use crate::reading::Reading;
use crate::shop::Shop;
use crate::units::{Kilonewtons, Millimetres, Quantity, Unit};
use chrono::{Datelike as _, NaiveDate};

/// What a reading of a spindle may be expected to show, in kN or mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    quantity: Quantity,
    centre: f64,
    usual: (f64, f64),
    possible: (f64, f64),
    from_level: bool,
}

/// How many earlier readings make the recent level: their median stands against one odd reading.
pub const LEVEL_READINGS: usize = 5;

impl Expected {
    /// Around the recent level of the spindle, or its nominal force where there is none.
    ///
    /// `None` where neither is above zero.
    #[must_use]
    pub fn force(nominal: Kilonewtons, level: Option<Kilonewtons>) -> Option<Self> {
        let nominal = nominal.get();
        let level = level.map(Kilonewtons::get).filter(|level| *level > 0.0);
        if nominal <= 0.0 {
            return None;
        }
        let centre = level.unwrap_or(nominal);
        let (low, high) = (centre.min(nominal), centre.max(nominal));
        // lbf typed as N comes out at 0.22 of the true force and must lie outside; a spindle with
        // broken springs still holds more than 0.3 of it
        Some(Self {
            quantity: Quantity::ClampForce,
            centre,
            usual: (0.5 * low, 1.3 * high),
            possible: (0.3 * low, 1.5 * high),
            from_level: level.is_some(),
        })
    }

    /// Around the setting dimension in force, else the recent level.
    ///
    /// `None` where neither is above zero: then nothing can be said.
    #[must_use]
    pub fn setting(aim: Option<Millimetres>, level: Option<Millimetres>) -> Option<Self> {
        let positive = |value: Option<Millimetres>| value.map(Millimetres::get).filter(|value| *value > 0.0);
        let level = positive(level);
        let centre = positive(aim).or(level)?;
        let (low, high) = (level.unwrap_or(centre).min(centre), level.unwrap_or(centre).max(centre));
        Some(Self {
            quantity: Quantity::SettingDimension,
            centre,
            usual: (0.9 * low, 1.1 * high),
            possible: (0.75 * low, 1.25 * high),
            from_level: aim.is_none(),
        })
    }

    /// What is expected.
    #[must_use]
    pub const fn quantity(&self) -> Quantity {
        self.quantity
    }

    /// The band in which the figure usually lies, low and high, in that unit of the same quantity.
    #[must_use]
    pub fn usual_in(&self, unit: Unit) -> (f64, f64) {
        (unit.from_base(self.usual.0), unit.from_base(self.usual.1))
    }

    /// The level around which it is expected, in that unit.
    #[must_use]
    pub fn centre_in(&self, unit: Unit) -> f64 {
        unit.from_base(self.centre)
    }
}

/// The level that the latest readings show, in kN or mm: the median of the last few means that are
/// neither doubted nor replaced. The readings come oldest first.
#[must_use]
pub fn recent_level<'a>(readings: impl DoubleEndedIterator<Item = &'a Reading>, quantity: Quantity) -> Option<f64> {
    let mut means: Vec<f64> = readings
        .rev()
        .filter(|reading| reading.quantity() == quantity && reading.doubt.is_none() && reading.replaced_on.is_none())
        .take(LEVEL_READINGS)
        .map(Reading::mean_base)
        .collect();
    median(&mut means)
}

/// The middle one of some figures.
pub(crate) fn median(figures: &mut [f64]) -> Option<f64> {
    figures.sort_by(f64::total_cmp);
    figures.get(figures.len() / 2).copied()
}

/// What a new reading of that spindle may be expected to show, from what was read before that moment.
#[must_use]
pub fn expected(shop: &Shop, spindle: SpindleId, quantity: Quantity, before: Moment) -> Option<Expected> {
    let readings = shop.readings_of(spindle).iter().map(|row| &row.value).filter(|reading| reading.at < before);
    expected_at_level(shop, spindle, quantity, recent_level(readings, quantity))
}

/// The same from a recent level that the caller has, in kN or mm.
pub(crate) fn expected_at_level(
    shop: &Shop,
    spindle: SpindleId,
    quantity: Quantity,
    level: Option<f64>,
) -> Option<Expected> {
    let spindle = shop.spindles.get(&spindle)?;
    match quantity {
        Quantity::ClampForce => Expected::force(spindle.nominal_force, level.and_then(Kilonewtons::new)),
        Quantity::SettingDimension => {
            let aim = shop.limits_of(spindle).setting_dimension.map(|dimension| dimension.value);
            Expected::setting(aim, level.and_then(Millimetres::new))
        }
    }
}

/// What kind of slip it looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SlipKind {
    /// The decimal point is off by one or two places.
    DecimalPoint,
    /// The figure fits another unit.
    Unit {
        /// As typed.
        typed: Unit,
        /// Which fits.
        likely: Unit,
    },
    /// It fits another unit with the point moved as well.
    UnitAndPoint {
        /// As typed.
        typed: Unit,
        /// Which fits.
        likely: Unit,
    },
    /// Far off, and nothing fits.
    FarOff,
    /// A meter shows less than before.
    MeterBackwards,
    /// A meter rose faster than time allows.
    MeterTooFast,
    /// A date after the present.
    AfterPresent,
}

/// A figure that fits better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likely {
    /// The figure.
    pub value: f64,
    /// In which unit.
    pub unit: Unit,
}

/// A figure that cannot be right.
#[derive(Debug, Clone, PartialEq)]
pub struct Slip {
    /// What it looks like.
    pub kind: SlipKind,
    /// What it should read; `None` where nothing fits.
    pub likely: Option<Likely>,
    /// Why it is doubted, in one sentence without a full stop.
    pub sentence: String,
}

/// Whether one typed stroke looks like a slip against what is expected; the unit must be one of the
/// same quantity, else nothing is said.
#[must_use]
pub fn question_stroke(typed: f64, unit: Unit, expected: &Expected) -> Option<Slip> {
    if unit.quantity() != expected.quantity || !typed.is_finite() {
        return None;
    }
    let base = unit.to_base(typed);
    if expected.possible.0 <= base && base <= expected.possible.1 {
        return None;
    }
    let around = format!(
        "{} {unit} is far from the {} {unit} {}",
        rounded(typed, 6),
        rounded(expected.centre_in(unit), 4),
        match (expected.quantity, expected.from_level) {
            (_, true) => "that this spindle showed before",
            (Quantity::ClampForce, false) => "of its nominal force",
            (Quantity::SettingDimension, false) => "of its setting dimension",
        }
    );
    if let Some((kind, likely)) = best_candidate(typed, unit, expected) {
        let sentence = format!("{around}; {} {} would fit", likely.value, likely.unit);
        return Some(Slip { kind, likely: Some(likely), sentence });
    }
    // A force far too low that fits no slip may be true, and then it matters: no question.
    let too_low_force = expected.quantity == Quantity::ClampForce && base < expected.possible.0;
    (!too_low_force).then_some(Slip { kind: SlipKind::FarOff, likely: None, sentence: around })
}

fn best_candidate(typed: f64, unit: Unit, expected: &Expected) -> Option<(SlipKind, Likely)> {
    const SHIFTS: [f64; 4] = [0.1, 0.01, 10.0, 100.0];
    let others = || Unit::ALL.into_iter().filter(move |other| *other != unit && other.quantity() == unit.quantity());
    let decimal = SHIFTS.map(|shift| (SlipKind::DecimalPoint, typed * shift, unit));
    let units = others().map(|likely| (SlipKind::Unit { typed: unit, likely }, typed, likely));
    let single = closest(decimal.into_iter().chain(units), expected);
    if single.is_some() || expected.quantity == Quantity::ClampForce {
        return single;
    }
    let both = others()
        .flat_map(|likely| SHIFTS.map(|shift| (SlipKind::UnitAndPoint { typed: unit, likely }, typed * shift, likely)));
    closest(both, expected)
}

/// The candidate inside the usual band whose ratio to the expected figure is nearest to one.
fn closest(candidates: impl Iterator<Item = (SlipKind, f64, Unit)>, expected: &Expected) -> Option<(SlipKind, Likely)> {
    candidates
        .filter(|(_, value, unit)| {
            let base = unit.to_base(*value);
            expected.usual.0 <= base && base <= expected.usual.1
        })
        .min_by(|(_, a, unit_a), (_, b, unit_b)| {
            let off = |value: f64, unit: Unit| (unit.to_base(value) / expected.centre).ln().abs();
            off(*a, *unit_a).total_cmp(&off(*b, *unit_b))
        })
        .map(|(kind, value, unit)| (kind, Likely { value: rounded(value, 12), unit }))
}

/// The number with so many significant digits, so that 0.1 * 169 is 16.9.
pub(crate) fn rounded(value: f64, digits: usize) -> f64 {
    format!("{value:.*e}", digits.saturating_sub(1)).parse().unwrap_or(value)
}

/// A slip in words that it shares with others like it: what was typed (a unit, a count or a column),
/// and how far it is off. `times`: the likely figure over the typed one, where one fits.
#[must_use]
pub fn slip_in_words(typed: &str, kind: SlipKind, times: Option<f64>) -> String {
    let moved = times.filter(|times| *times > 0.0).and_then(|times| match times.log10().round() as i32 {
        -2 => Some("a hundred times too large"),
        -1 => Some("ten times too large"),
        1 => Some("ten times too small"),
        2 => Some("a hundred times too small"),
        _ => None,
    });
    match (kind, moved) {
        (SlipKind::Unit { typed, likely }, _) => format!("typed in {typed}, fits {likely}"),
        (SlipKind::UnitAndPoint { typed, likely }, Some(moved)) => {
            format!("typed in {typed}, fits {likely} but {moved}")
        }
        (SlipKind::UnitAndPoint { typed, likely }, None) => {
            format!("typed in {typed}, fits {likely} with the point moved")
        }
        (SlipKind::AfterPresent, _) => format!("{typed} after the present"),
        (_, Some(moved)) => format!("{typed} {moved}"),
        (SlipKind::DecimalPoint | SlipKind::FarOff, None) => format!("{typed} far off"),
        (SlipKind::MeterBackwards, None) => format!("{typed} less than before"),
        (SlipKind::MeterTooFast, None) => format!("{typed} rising faster than time allows"),
    }
}

/// A meter figure that cannot be right.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterSlip {
    /// Backwards, or too fast.
    pub kind: SlipKind,
    /// The figure with the point moved, where that fits.
    pub likely: Option<f64>,
    /// Why, in one sentence without a full stop.
    pub sentence: String,
}

/// What a meter counts, and how fast it can at most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeterCount {
    /// Run hours: 24 a day.
    RunHours,
    /// Clamp cycles: one in four seconds, faster than any tool changer sustains (ours, no source).
    ClampCycles,
}

impl MeterCount {
    const fn most_per_day(self) -> f64 {
        match self {
            Self::RunHours => 24.0,
            Self::ClampCycles => 21_600.0,
        }
    }

    /// What it may well rise in a day: a tool change every half minute, day and night (ours, no
    /// source). A likely figure must lie within it, or nearly every moved point would fit.
    const fn likely_per_day(self) -> f64 {
        match self {
            Self::RunHours => 24.0,
            Self::ClampCycles => 2_880.0,
        }
    }

    /// In words.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::RunHours => "run hours",
            Self::ClampCycles => "clamp cycles",
        }
    }

    /// The column of the files.
    #[must_use]
    pub const fn column(self) -> &'static str {
        match self {
            Self::RunHours => "run_hours",
            Self::ClampCycles => "clamp_cycles",
        }
    }
}

/// Whether a meter figure can follow an earlier one of the same meter, without a new meter between.
///
/// Figures are hours or cycles, as `count` says.
#[must_use]
pub fn question_meter(
    count: MeterCount,
    typed: f64,
    on: NaiveDate,
    before: f64,
    before_on: NaiveDate,
) -> Option<MeterSlip> {
    let days = (on - before_on).num_days().max(0) as f64 + 1.0;
    let fits = |value: f64, per_day: f64| before <= value && value <= before + days * per_day;
    if fits(typed, count.most_per_day()) {
        return None;
    }
    let likely = [0.1, 0.01, 10.0, 100.0]
        .into_iter()
        .map(|shift| rounded(typed * shift, 12))
        .find(|value| fits(*value, count.likely_per_day()));
    let (kind, what) = if typed < before {
        (SlipKind::MeterBackwards, format!("less than the {before} of {before_on}, and no new meter is noted"))
    } else {
        (SlipKind::MeterTooFast, format!("more than can have come to the {before} of {before_on}"))
    };
    let hint = likely.map(|value| format!("; {value} would fit")).unwrap_or_default();
    Some(MeterSlip { kind, likely, sentence: format!("{} show {typed}, {what}{hint}", count.label()) })
}

/// Whether a record is dated after the present, with the same day of an earlier year where that is
/// not long ago.
#[must_use]
pub fn question_day(day: NaiveDate, present: NaiveDate) -> Option<(Option<NaiveDate>, String)> {
    if day <= present {
        return None;
    }
    let likely = day
        .with_year(present.year())
        .filter(|earlier| *earlier <= present)
        .or_else(|| day.with_year(present.year() - 1));
    // a day or two ahead is no slip of the year
    let other_year = (day - present).num_days() > 31;
    let likely = likely.filter(|earlier| other_year && *earlier <= present && (present - *earlier).num_days() <= 366);
    Some((likely, format!("{day} lies after the present, {present}")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::parse_iso_date;

    #[track_caller]
    fn check(typed: f64, unit: Unit, expected: Option<Expected>, likely: Option<(f64, Unit)>) {
        let slip = question_stroke(typed, unit, &expected.unwrap()).unwrap();
        assert_eq!(slip.likely.map(|likely| (likely.value, likely.unit)), likely, "{}", slip.sentence);
    }

    fn hsk63(level: Option<f64>) -> Option<Expected> {
        Expected::force(Kilonewtons::new(18.0).unwrap(), level.and_then(Kilonewtons::new))
    }

    fn setting() -> Option<Expected> {
        Expected::setting(Millimetres::new(10.5), None)
    }

    #[test]
    fn slips_with_the_likely_figure() {
        check(169.0, Unit::Kilonewton, hsk63(Some(16.7)), Some((16.9, Unit::Kilonewton)));
        check(1.69, Unit::Kilonewton, hsk63(None), Some((16.9, Unit::Kilonewton)));
        check(1690.0, Unit::Kilonewton, hsk63(Some(16.7)), Some((16.9, Unit::Kilonewton)));
        check(3800.0, Unit::Kilonewton, hsk63(Some(16.7)), Some((3800.0, Unit::PoundForce)));
        check(3800.0, Unit::Newton, hsk63(Some(16.7)), Some((3800.0, Unit::PoundForce)));
        check(16900.0, Unit::Kilonewton, hsk63(None), Some((16900.0, Unit::Newton)));
        check(16.9, Unit::PoundForce, hsk63(None), Some((16.9, Unit::Kilonewton)));
        check(16.9, Unit::Newton, hsk63(None), Some((16.9, Unit::Kilonewton)));
        check(60.0, Unit::Kilonewton, hsk63(None), None);
        check(4.13, Unit::Inch, setting(), Some((0.413, Unit::Inch)));
        check(0.413, Unit::Millimetre, setting(), Some((0.413, Unit::Inch)));
        check(4.13, Unit::Millimetre, setting(), Some((0.413, Unit::Inch)));
        check(10.49, Unit::Inch, setting(), Some((10.49, Unit::Millimetre)));
        check(105.0, Unit::Millimetre, setting(), Some((10.5, Unit::Millimetre)));
    }

    #[test]
    fn true_figures_are_not_questioned() {
        for kilonewtons in [18.0, 9.0, 6.0, 24.0] {
            assert_eq!(question_stroke(kilonewtons, Unit::Kilonewton, &hsk63(Some(16.0)).unwrap()), None);
        }
        // a spindle that lost nearly everything is no slip
        assert_eq!(question_stroke(4.0, Unit::Kilonewton, &hsk63(Some(16.0)).unwrap()), None);
        // 0.413 in = 10.490 mm by the exact inch (NIST SP 811)
        assert_eq!(question_stroke(0.413, Unit::Inch, &setting().unwrap()), None);
        assert_eq!(question_stroke(10.9, Unit::Millimetre, &setting().unwrap()), None);
        assert_eq!(Expected::setting(None, None), None);
    }

    #[test]
    fn meters_and_days() {
        let day = |text| parse_iso_date(text).unwrap();
        let hours = |typed| question_meter(MeterCount::RunHours, typed, day("2026-03-11"), 8100.0, day("2026-03-01"));
        assert_eq!(hours(8160.0), None);
        assert_eq!(hours(816.0).unwrap().likely, Some(8160.0));
        assert_eq!(hours(12.0).unwrap().likely, None);
        assert_eq!(hours(12.0).unwrap().kind, SlipKind::MeterBackwards);
        assert_eq!(hours(81600.0).unwrap().kind, SlipKind::MeterTooFast);
        assert_eq!(question_day(day("2026-03-01"), day("2026-03-02")), None);
        assert_eq!(question_day(day("2062-03-01"), day("2026-03-02")).unwrap().0, Some(day("2026-03-01")));
        assert_eq!(question_day(day("2026-12-01"), day("2026-03-02")).unwrap().0, Some(day("2025-12-01")));
    }
}
