//! Which figures of a counter count, and where a new meter begins.
//!
//! Of several figures of one day the larger counts. A flagged reading, or a fall to less than half,
//! starts a new meter. A small fall, or a rise that cannot be, is a misread counter and stays out; it
//! is named.

use super::counter::Shown;

/// A figure that was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Misread {
    /// Number of its day.
    pub(super) day: i32,
    pub(super) value: f64,
    /// The neighbouring figure that it does not go with.
    pub(super) against: f64,
}

/// A fall by no more than this is rounding.
const ROUNDING: f64 = 0.5;
/// No counter goes beyond this; keeps sums of absurd figures finite.
pub(super) const LARGEST: f64 = 1e12;

/// Whether one meter can show the second figure, on its day, after the first.
pub(super) fn goes_on(from: (i32, f64), to: (i32, f64), most_per_day: f64) -> bool {
    let days = f64::from(to.0 - from.0) + 1.0;
    to.1 >= from.1 - ROUNDING && to.1 - from.1 <= most_per_day * days
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Start {
    SameMeter,
    /// A new meter, flagged as such.
    Announced,
    /// A new meter by its fall.
    Unannounced,
    /// The counter goes on from elsewhere.
    Jumped,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Kept {
    pub(super) day: i32,
    pub(super) value: f64,
    pub(super) start: Start,
}

/// Sorted by day; of a day the largest figure of the old meter, then the largest of the new one.
pub(super) fn one_per_day(mut shown: Vec<Shown>) -> Vec<Shown> {
    shown.retain(|figure| figure.value.is_finite());
    for figure in &mut shown {
        figure.value = figure.value.clamp(0.0, LARGEST);
    }
    shown.sort_by(|a, b| (a.day, a.replaced).cmp(&(b.day, b.replaced)).then(b.value.total_cmp(&a.value)));
    shown.dedup_by_key(|figure| (figure.day, figure.replaced));
    shown
}

pub(super) fn clean(shown: Vec<Shown>, most_per_day: f64, misread: &mut Vec<Misread>) -> Vec<Kept> {
    let goes_on = |from: (i32, f64), to: (i32, f64)| goes_on(from, to, most_per_day);
    let mut kept: Vec<Kept> = Vec::with_capacity(shown.len());
    for (index, figure) in shown.iter().enumerate() {
        let now = (figure.day, figure.value);
        let keep = |start| Kept { day: figure.day, value: figure.value, start };
        let Some(last) = kept.last().copied() else {
            kept.push(keep(Start::SameMeter));
            continue;
        };
        if figure.replaced {
            kept.push(keep(Start::Announced));
            continue;
        }
        let before = (last.day, last.value);
        if goes_on(before, now) {
            kept.push(keep(Start::SameMeter));
            continue;
        }
        let next = shown.get(index + 1).filter(|next| !next.replaced).map(|next| (next.day, next.value));
        let fits_around = next.is_some_and(|next| goes_on(before, next));
        let falls = now.1 < before.1;
        if falls && now.1 < before.1 / 2.0 && !fits_around {
            // unless the figure before was the wrong one: this one goes on from the one before that
            let earlier = kept.len().checked_sub(2).and_then(|at| kept.get(at)).copied();
            let last_was_high = last.start == Start::Jumped
                && earlier.is_some_and(|earlier| goes_on((earlier.day, earlier.value), now));
            if !last_was_high {
                kept.push(keep(Start::Unannounced));
                continue;
            }
        }
        let earlier = kept.len().checked_sub(2).and_then(|at| kept.get(at)).copied();
        let from_earlier = earlier.is_some_and(|e| last.start != Start::Announced && goes_on((e.day, e.value), now));
        if falls && !fits_around && from_earlier && next.is_some_and(|next| goes_on(now, next)) {
            misread.push(Misread { day: last.day, value: last.value, against: figure.value });
            kept.pop();
            kept.push(keep(Start::SameMeter));
        } else if !fits_around && next.is_some_and(|next| goes_on(now, next)) {
            kept.push(keep(Start::Jumped));
        } else {
            misread.push(Misread { day: figure.day, value: figure.value, against: last.value });
        }
    }
    kept
}
