//! How good forecasts were: coverage, lateness, error, CRPS.

use super::fleet::HORIZON;

/// How many quantiles of a law are scored.
pub const SHARES: usize = 19;

/// Their shares, evenly spaced: 5, 10, .. 95 %.
pub const TAUS: [f64; SHARES] =
    [0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75, 0.80, 0.85, 0.90, 0.95];

const Q05: usize = 0;
const Q10: usize = 1;
const Q25: usize = 4;
const Q50: usize = 9;
const Q75: usize = 14;
const Q90: usize = 17;
const Q95: usize = 18;

/// A date in days from as-of, cut off at the horizon.
#[must_use]
pub fn censored(date: Option<f64>) -> f64 {
    date.unwrap_or(f64::INFINITY).clamp(0.0, HORIZON as f64)
}

/// Pinball loss of one quantile (Koenker and Bassett 1978).
#[must_use]
pub fn pinball(y: f64, quantile: f64, tau: f64) -> f64 {
    let below = if y < quantile { 1.0 } else { 0.0 };
    (tau - below) * (y - quantile)
}

/// CRPS as twice the mean pinball loss over evenly spaced shares (Gneiting and Ranjan 2011).
#[must_use]
pub fn crps_from_quantiles(y: f64, quantiles: &[f64; SHARES]) -> f64 {
    let sum: f64 = quantiles.iter().zip(TAUS).map(|(quantile, tau)| pinball(y, *quantile, tau)).sum();
    2.0 * sum / SHARES as f64
}

/// One forecast law against the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scored {
    /// Inside the 90, 80 and 50 % bands. Surely below already or surely beyond the horizon counts
    /// as inside.
    pub inside: [bool; 3],
    /// The 5 % date lies ahead and the 95 % date inside the horizon.
    pub is_clear: bool,
    /// It crossed before the 10 % date.
    pub is_late: bool,
    /// It crossed before the 50 % date.
    pub is_before_middle: bool,
    /// The 50 % date against the true one, days; both cut off at the horizon.
    pub error: f64,
    /// CRPS, days; cut off at the horizon.
    pub crps: f64,
}

impl Scored {
    /// The score of one spindle: quantiles and true date in days from as-of.
    #[must_use]
    pub fn of(quantiles: &[Option<f64>; SHARES], truth: Option<f64>) -> Self {
        let y = censored(truth);
        let q = quantiles.map(censored);
        let band = |low: usize, high: usize| q[low] <= y && y <= q[high];
        Self {
            inside: [band(Q05, Q95), band(Q10, Q90), band(Q25, Q75)],
            is_clear: q[Q05] > 0.0 && quantiles[Q95].is_some_and(|day| day < HORIZON as f64),
            is_late: y < q[Q10],
            is_before_middle: y < q[Q50],
            error: (q[Q50] - y).abs(),
            crps: crps_from_quantiles(y, &q),
        }
    }
}

/// Scores of a forecaster that gives a law, over many spindles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LawScores {
    /// Share inside the 90, 80 and 50 % bands, percent.
    pub inside: [f64; 3],
    /// Share of the clear spindles inside the 80 % band, percent.
    pub clear: f64,
    /// Share that crossed before the 10 % date, percent.
    pub late: f64,
    /// Share of the clear spindles that crossed before the 50 % date, percent.
    pub before_middle: f64,
    /// Median over the spindles of the error of the 50 % date, days.
    pub error: f64,
    /// The same over those for which the naive line answers.
    pub error_where_naive: f64,
    /// Mean CRPS, days.
    pub crps: f64,
}

/// Scores of the naive line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NaiveScores {
    /// Median error where it answers, days.
    pub error: f64,
    /// Mean CRPS, days: of a single date, its error; no answer counts as the horizon.
    pub crps: f64,
    /// Share without an answer, percent.
    pub no_answer: f64,
}

/// What is true of the spindles of a row: how hard its question is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truths {
    /// Share below the limit already, percent.
    pub already: f64,
    /// Share that stays above it beyond the horizon, percent.
    pub beyond: f64,
    /// Quartiles of the days from as-of, cut off at the horizon.
    pub quartiles: [f64; 3],
}

/// Sums up true dates.
#[must_use]
pub fn pool_truths(truths: &[Option<f64>]) -> Truths {
    let mut days: Vec<f64> = truths.iter().map(|truth| censored(*truth)).collect();
    days.sort_by(f64::total_cmp);
    let at = |quarter: usize| days.get(days.len() * quarter / 4).copied().unwrap_or(f64::NAN);
    Truths {
        already: percent(truths.iter().filter(|truth| truth.is_some_and(|day| day <= 0.0)).count(), truths.len()),
        beyond: percent(truths.iter().filter(|truth| truth.is_none()).count(), truths.len()),
        quartiles: [at(1), at(2), at(3)],
    }
}

/// The middle of values; of an even number the mean of the two middle ones.
#[must_use]
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    match (values.get(half.wrapping_sub(1)), values.get(half)) {
        (Some(low), Some(high)) if values.len().is_multiple_of(2) => 0.5 * (low + high),
        (_, Some(middle)) => *middle,
        _ => f64::NAN,
    }
}

fn percent(count: usize, of: usize) -> f64 {
    100.0 * count as f64 / of as f64
}

/// Pools scored laws; `naive` has an entry for each, `None` where the naive line does not answer.
#[must_use]
pub fn pool(scored: &[Scored], naive: &[Option<f64>]) -> LawScores {
    let count = |what: &dyn Fn(&&Scored) -> bool| scored.iter().filter(what).count();
    let clear: Vec<&Scored> = scored.iter().filter(|s| s.is_clear).collect();
    let answered = scored.iter().zip(naive).filter(|(_, answer)| answer.is_some());
    LawScores {
        inside: [0, 1, 2].map(|band: usize| percent(count(&|s| s.inside[band]), scored.len())),
        clear: percent(clear.iter().filter(|s| s.inside[1]).count(), clear.len()),
        late: percent(count(&|s| s.is_late), scored.len()),
        before_middle: percent(clear.iter().filter(|s| s.is_before_middle).count(), clear.len()),
        error: median(scored.iter().map(|s| s.error).collect()),
        error_where_naive: median(answered.map(|(s, _)| s.error).collect()),
        crps: scored.iter().map(|s| s.crps).sum::<f64>() / scored.len() as f64,
    }
}

/// Pools the answers of the naive line with the true dates.
#[must_use]
pub fn pool_naive(answers: &[Option<f64>], truths: &[Option<f64>]) -> NaiveScores {
    let each = || answers.iter().zip(truths);
    let errors = each().filter_map(|(answer, truth)| Some((censored(Some((*answer)?)) - censored(*truth)).abs()));
    let all = each().map(|(answer, truth)| (censored(*answer) - censored(*truth)).abs());
    NaiveScores {
        error: median(errors.collect()),
        crps: all.sum::<f64>() / answers.len() as f64,
        no_answer: percent(answers.iter().filter(|answer| answer.is_none()).count(), answers.len()),
    }
}
