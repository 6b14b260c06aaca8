//! The sleep study: the filter at estimates of a mixed model gives the predictions of that model.
//!
//! Reaction times of 18 subjects on ten days (Belenky et al. 2003, J. Sleep Res. 12:1-12), each with an
//! intercept and a slope of its own. The estimates by restricted maximum likelihood are published (Bates,
//! Maechler, Bolker and Walker 2015, J. Stat. Softw. 67(1)). What they predict for each subject is worked
//! out here by the mixed-model equations (Henderson 1975, Biometrics 31:423-447), densely and without
//! anything of the filter.

use super::filter::{Event, Filter, Occasion};
use super::fixture_tests::{fixture, list, near, num, nums, plain};
use super::parameters::Parameters;
use serde_json::Value;

/// Intercept and slope.
type Pair = [f64; 2];

fn study() -> Value {
    fixture(include_str!("../../../../tests/fixtures/forecast/03_sleepstudy.json"))
}

/// Days and reactions of one subject.
struct Subject {
    days: Vec<f64>,
    reactions: Vec<f64>,
}

fn subjects(study: &Value) -> Vec<Subject> {
    let subjects: Vec<Subject> = list(&study["input"]["data"])
        .iter()
        .map(|subject| Subject { days: nums(&subject["days"]), reactions: nums(&subject["reaction"]) })
        .collect();
    assert_eq!(subjects.len(), 18);
    assert!(subjects.iter().all(|s| s.days.len() == 10 && s.reactions.len() == 10));
    subjects
}

/// How intercepts and slopes scatter between subjects, and reactions about their line.
#[derive(Debug, Clone, Copy)]
struct Variances {
    between: [Pair; 2],
    residual: f64,
}

impl Variances {
    fn of(published: &Value) -> Self {
        let (intercept, slope) = (num(&published["var_intercept"]), num(&published["var_slope"]));
        let together = published["corr"].as_f64().unwrap_or(0.0) * (intercept * slope).sqrt();
        Self { between: [[intercept, together], [together, slope]], residual: num(&published["var_resid"]) }
    }
}

/// What the filter makes of one subject: by how much its intercept and slope differ from the mean ones, and
/// the log-likelihood.
fn filtered(subject: &Subject, [intercept, slope]: Pair, variances: &Variances) -> (Pair, f64) {
    let [[intercept_variance, together], [_, slope_variance]] = variances.between;
    let par = Parameters {
        beta: -slope,
        cvu: slope_variance.sqrt() / slope.abs(),
        cvv: 0.0,
        q: 0.0,
        sb: variances.residual.sqrt(),
        sr: 0.0,
        a0: intercept,
        sa: intercept_variance.sqrt(),
        delta: 0.0,
        ..plain()
    };
    let mut filter = Filter::new(&par, true);
    // the state holds losses; a new spindle's level says nothing of its rate, an intercept may
    for rate in [1, 2] {
        (filter.covariance[0][rate], filter.covariance[rate][0]) = (-together, -together);
    }
    for (k, (y, x)) in subject.reactions.iter().zip(&subject.days).enumerate() {
        if k > 0 {
            filter.apply(&Event::Move { from: x - 1.0, to: *x });
        }
        filter.apply(&Event::Read { y: *y, strokes: 1.0, occasion: Occasion::Routine });
    }
    let own = -filter.mean[1];
    ([filter.mean[0] - 9.0 * own - intercept, own - slope], filter.log_likelihood)
}

/// Solves a system of equations for some right-hand sides: Gauss with the largest pivot.
fn solved(mut matrix: Vec<Vec<f64>>, mut rights: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let n = matrix.len();
    for column in 0..n {
        let pivot = (column..n).max_by(|a, b| matrix[*a][column].abs().total_cmp(&matrix[*b][column].abs())).unwrap();
        matrix.swap(column, pivot);
        rights.iter_mut().for_each(|right| right.swap(column, pivot));
        let top = matrix[column].clone();
        for row in (0..n).filter(|row| *row != column) {
            let factor = matrix[row][column] / top[column];
            matrix[row].iter_mut().zip(&top).for_each(|(own, above)| *own -= factor * above);
            rights.iter_mut().for_each(|right| right[row] -= factor * right[column]);
        }
    }
    for right in &mut rights {
        right.iter_mut().enumerate().for_each(|(i, value)| *value /= matrix[i][i]);
    }
    rights
}

/// The mixed-model equations solved: intercept and slope by generalised least squares with their
/// covariance, and the best linear unbiased predictions (BLUPs) of each subject.
struct MixedModel {
    fixed: Pair,
    covariance: [Pair; 2],
    blups: Vec<Pair>,
}

fn mixed_model(subjects: &[Subject], variances: &Variances) -> MixedModel {
    let [[a, b], [_, c]] = variances.between;
    let determinant = a * c - b * b;
    // residual variance times the inverse of the covariance between subjects
    let ratio = [[c, -b], [-b, a]].map(|row| row.map(|value| variances.residual * value / determinant));
    let size = 2 + 2 * subjects.len();
    let mut matrix = vec![vec![0.0; size]; size];
    let mut right = vec![0.0; size];
    for (index, subject) in subjects.iter().enumerate() {
        let own = 2 + 2 * index;
        for (y, x) in subject.reactions.iter().zip(&subject.days) {
            let row = [(0, 1.0), (1, *x), (own, 1.0), (own + 1, *x)];
            for (i, left) in row {
                right[i] += left * y;
                for (j, value) in row {
                    matrix[i][j] += left * value;
                }
            }
        }
        for i in 0..2 {
            for j in 0..2 {
                matrix[own + i][own + j] += ratio[i][j];
            }
        }
    }
    let unit = |at: usize| (0..size).map(|i| f64::from(u8::from(i == at))).collect();
    let found = solved(matrix, vec![right, unit(0), unit(1)]);
    MixedModel {
        fixed: [found[0][0], found[0][1]],
        covariance: [&found[1], &found[2]].map(|of| [of[0], of[1]].map(|value| variances.residual * value)),
        blups: found[0][2..].chunks(2).map(|pair| [pair[0], pair[1]]).collect(),
    }
}

/// The BLUPs of one subject about a given line: (Z'Z + s^2 G^-1)^-1 Z'(y - X b), two by two.
fn blup_about(subject: &Subject, line: Pair, variances: &Variances) -> Pair {
    let [[a, b], [_, c]] = variances.between;
    let per_determinant = variances.residual / (a * c - b * b);
    let mut matrix = [[c * per_determinant, -b * per_determinant], [-b * per_determinant, a * per_determinant]];
    let mut right = [0.0; 2];
    for (y, x) in subject.reactions.iter().zip(&subject.days) {
        let off = y - line[0] - line[1] * x;
        right = [right[0] + off, right[1] + off * x];
        matrix = [[matrix[0][0] + 1.0, matrix[0][1] + x], [matrix[1][0] + x, matrix[1][1] + x * x]];
    }
    let determinant = matrix[0][0] * matrix[1][1] - matrix[0][1] * matrix[1][0];
    [
        (matrix[1][1] * right[0] - matrix[0][1] * right[1]) / determinant,
        (matrix[0][0] * right[1] - matrix[1][0] * right[0]) / determinant,
    ]
}

/// The estimates by restricted maximum likelihood, as published: their last digits are rounded.
#[test]
fn the_filter_at_the_published_estimates_gives_the_predictions_of_the_mixed_model() {
    let study = study();
    let subjects = subjects(&study);
    let with_correlation = &study["published_reml_correlated"];
    let line = [num(&with_correlation["intercept"]), num(&with_correlation["slope"])];
    let errors = [num(&with_correlation["se_intercept"]), num(&with_correlation["se_slope"])];
    for published in ["published_reml_uncorrelated", "published_reml_correlated"] {
        let variances = Variances::of(&study[published]);
        let model = mixed_model(&subjects, &variances);
        // the design is balanced: generalised least squares gives one line whatever the variances
        for (found, said) in model.fixed.iter().zip(line) {
            assert!((found - said).abs() <= 0.0005, "{published}: {found}, published {said}");
        }
        let mut log_likelihood = 0.0;
        for (subject, blup) in subjects.iter().zip(&model.blups) {
            let (own, log) = filtered(subject, model.fixed, &variances);
            near(own[0], blup[0], 1e-9, "intercept");
            near(own[1], blup[1], 1e-9, "slope");
            log_likelihood += log;
            // the same about the line as it is published
            let (own, _) = filtered(subject, line, &variances);
            let blup = blup_about(subject, line, &variances);
            near(own[0], blup[0], 1e-9, "intercept about the published line");
            near(own[1], blup[1], 1e-9, "slope about the published line");
        }
        // Patterson and Thompson 1971, Biometrika 58:545-554: the line integrated out
        let [[a, b], [_, c]] = model.covariance;
        let criterion = -2.0 * log_likelihood - (a * c - b * b).ln() - 2.0 * std::f64::consts::TAU.ln();
        if published == "published_reml_correlated" {
            for (found, said) in [a, c].map(f64::sqrt).iter().zip(errors) {
                assert!((found - said).abs() <= 0.0005, "standard error {found}, published {said}");
            }
            let said = num(&with_correlation["reml_criterion"]);
            assert!((criterion - said).abs() <= 0.05, "criterion {criterion}, published {said}");
        }
    }
}

/// The estimates by maximum likelihood, and the predictions from them, as another package computed them.
#[test]
fn the_filter_at_estimates_of_another_package_gives_its_predictions() {
    let study = study();
    let want = &study["expected"];
    let estimates = &study["input"]["estimates_ml_uncorrelated"];
    let line = [num(&estimates["intercept"]), num(&estimates["slope"])];
    let variances = Variances::of(estimates);
    let subjects = subjects(&study);
    assert_eq!(list(&want["blup"]).len(), subjects.len());
    let mut log_likelihood = 0.0;
    for (subject, want) in subjects.iter().zip(list(&want["blup"])) {
        let (own, log) = filtered(subject, line, &variances);
        near(own[0], num(&want["intercept"]), 1e-9, "intercept");
        near(own[1], num(&want["slope"]), 1e-9, "slope");
        log_likelihood += log;
    }
    near(log_likelihood, num(&want["loglik"]), 1e-9, "log-likelihood");
}
