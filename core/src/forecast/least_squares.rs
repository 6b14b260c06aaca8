//! Least-squares polynomials with their full statistics.
//!
//! The abscissa is centred and scaled to -1..1, the design matrix taken apart by Householder
//! reflections, and the result carried back to powers of the raw abscissa; so digits survive where
//! the normal equations lose them.

/// Why a polynomial cannot be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LeastSquaresError {
    /// Not as many ordinates as abscissas.
    #[error("{x} abscissas but {y} ordinates; expected as many")]
    Lengths {
        /// How many abscissas.
        x: usize,
        /// How many ordinates.
        y: usize,
    },
    /// Fewer points than coefficients.
    #[error("{points} points are too few for {coefficients} coefficients")]
    TooFew {
        /// How many points.
        points: usize,
        /// How many coefficients.
        coefficients: usize,
    },
    /// The points do not settle every coefficient.
    #[error("the points do not settle a polynomial of degree {0}: too few different abscissas")]
    Undetermined(usize),
    /// A figure that is no number.
    #[error("a point is not finite")]
    NotFinite,
}

/// A fitted polynomial.
#[derive(Debug, Clone, PartialEq)]
pub struct PolynomialFit {
    /// Coefficients of the powers 0, 1, .. of the abscissa.
    pub coefficients: Vec<f64>,
    /// Standard error of each; 0 where there are no degrees of freedom to tell it from.
    pub standard_errors: Vec<f64>,
    /// Sum of the squared residuals.
    pub residual_sum: f64,
    /// Standard deviation of the residuals; 0 without degrees of freedom.
    pub residual_sd: f64,
    /// Share of the variance about the mean that the polynomial explains; 1 where there is none.
    pub r_squared: f64,
    /// Points less coefficients.
    pub degrees_of_freedom: usize,
}

impl PolynomialFit {
    /// Its value.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.coefficients.iter().rev().fold(0.0, |sum, coefficient| sum * x + coefficient)
    }
}

/// The polynomial of that degree with the smallest sum of squared residuals.
///
/// # Errors
/// Too few points or too few different abscissas, or a figure that is not finite.
pub fn polynomial(x: &[f64], y: &[f64], degree: usize) -> Result<PolynomialFit, LeastSquaresError> {
    let (points, count) = (x.len(), degree + 1);
    if points != y.len() {
        return Err(LeastSquaresError::Lengths { x: points, y: y.len() });
    }
    if points < count {
        return Err(LeastSquaresError::TooFew { points, coefficients: count });
    }
    if !x.iter().chain(y).all(|value| value.is_finite()) {
        return Err(LeastSquaresError::NotFinite);
    }
    let centre = x.iter().sum::<f64>() / points as f64;
    let half = x.iter().map(|value| (value - centre).abs()).fold(0.0, f64::max);
    if half <= 0.0 && degree > 0 {
        return Err(LeastSquaresError::Undetermined(degree));
    }
    let half = if half > 0.0 { half } else { 1.0 };
    let mut columns: Vec<Vec<f64>> = vec![vec![1.0; points]];
    for _ in 0..degree {
        let last = columns.last().map(Vec::as_slice).unwrap_or_default();
        let next = last.iter().zip(x).map(|(power, value)| power * (value - centre) / half).collect();
        columns.push(next);
    }
    let mut rest = y.to_vec();
    let upper = triangle(&mut columns, &mut rest).ok_or(LeastSquaresError::Undetermined(degree))?;
    let scaled = solve_upper(&upper, rest.get(..count).unwrap_or_default());
    let inverse: Vec<Vec<f64>> = (0..count)
        .map(|column| {
            solve_upper(&upper, &(0..count).map(|row| f64::from(u8::from(row == column))).collect::<Vec<_>>())
        })
        .collect();
    let raise = powers_of_raw(centre, half, count);
    let coefficients: Vec<f64> = raise.iter().map(|row| dot(row, &scaled)).collect();
    let residual_sum: f64 = rest.iter().skip(count).map(|value| value * value).sum();
    let degrees_of_freedom = points - count;
    let variance = if degrees_of_freedom > 0 { residual_sum / degrees_of_freedom as f64 } else { 0.0 };
    // covariance is variance x R^-1 R^-T, carried to the raw powers by `raise`
    let standard_errors = raise
        .iter()
        .map(|row| {
            let spread: f64 = inverse.iter().map(|column| dot(row, column).powi(2)).sum();
            (variance * spread).sqrt()
        })
        .collect();
    let mean = y.iter().sum::<f64>() / points as f64;
    let about_mean: f64 = y.iter().map(|value| (value - mean).powi(2)).sum();
    let r_squared = if about_mean > 0.0 { 1.0 - residual_sum / about_mean } else { 1.0 };
    Ok(PolynomialFit {
        coefficients,
        standard_errors,
        residual_sum,
        residual_sd: variance.sqrt(),
        r_squared,
        degrees_of_freedom,
    })
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Householder reflections: the upper triangle (by rows); `y` becomes its projections, then the
/// residual part. `None` where a column depends on those before it.
fn triangle(columns: &mut [Vec<f64>], y: &mut [f64]) -> Option<Vec<Vec<f64>>> {
    let count = columns.len();
    let points = y.len();
    let mut upper = vec![vec![0.0; count]; count];
    for step in 0..count {
        let (done, open) = columns.split_at_mut(step + 1);
        let tail = done.last()?.get(step..)?;
        let norm = dot(tail, tail).sqrt();
        if norm <= 1e-13 * (points as f64).sqrt() {
            return None;
        }
        let head = *tail.first()?;
        let alpha = if head > 0.0 { -norm } else { norm };
        let mut mirror = tail.to_vec();
        *mirror.first_mut()? -= alpha;
        let length = dot(&mirror, &mirror);
        let reflect = |column: &mut [f64]| {
            if let Some(part) = column.get_mut(step..) {
                let along = 2.0 * dot(&mirror, part) / length;
                for (value, direction) in part.iter_mut().zip(&mirror) {
                    *value -= along * direction;
                }
            }
        };
        if length > 0.0 {
            reflect(y);
            for column in open.iter_mut() {
                reflect(column);
            }
        }
        let row = upper.get_mut(step)?;
        *row.get_mut(step)? = alpha;
        for (offset, column) in open.iter().enumerate() {
            *row.get_mut(step + 1 + offset)? = *column.get(step)?;
        }
    }
    Some(upper)
}

fn solve_upper(upper: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let mut solution = vec![0.0; upper.len()];
    for (index, row) in upper.iter().enumerate().rev() {
        let known: f64 = row.iter().zip(&solution).skip(index + 1).map(|(a, b)| a * b).sum();
        let (Some(pivot), Some(value), Some(place)) = (row.get(index), right.get(index), solution.get_mut(index))
        else {
            continue;
        };
        *place = (value - known) / pivot;
    }
    solution
}

/// Row i holds what each power of z = (x - centre) / half gives to x^i.
fn powers_of_raw(centre: f64, half: f64, count: usize) -> Vec<Vec<f64>> {
    let mut raise = vec![vec![0.0; count]; count];
    // coefficients of z^k in powers of x, from those of z^(k-1)
    let mut power = vec![0.0; count];
    if let Some(first) = power.first_mut() {
        *first = 1.0;
    }
    for k in 0..count {
        for (row, value) in raise.iter_mut().zip(&power) {
            if let Some(place) = row.get_mut(k) {
                *place = *value;
            }
        }
        let mut next = vec![0.0; count];
        for (i, place) in next.iter_mut().enumerate() {
            let lower = i.checked_sub(1).and_then(|below| power.get(below)).copied().unwrap_or(0.0);
            let same = power.get(i).copied().unwrap_or(0.0);
            *place = (lower - centre * same) / half;
        }
        power = next;
    }
    raise
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_points_on_no_line() {
        // by hand: mean x 1, y 2; Sxx 2, Sxy 3; slope 1.5, intercept 0.5; residuals 0.5 -1 0.5;
        // s = sqrt(1.5 / 1); se slope = s / sqrt(2); se intercept = s sqrt(1/3 + 1/2)
        let fit = polynomial(&[0.0, 1.0, 2.0], &[1.0, 1.0, 4.0], 1).unwrap();
        let expected = [0.5, 1.5];
        for (found, expected) in fit.coefficients.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-14, "{found}");
        }
        assert!((fit.residual_sd - 1.5_f64.sqrt()).abs() < 1e-14);
        assert!((fit.standard_errors[1] - 0.75_f64.sqrt()).abs() < 1e-14);
        assert!((fit.standard_errors[0] - (1.5_f64 * 5.0 / 6.0).sqrt()).abs() < 1e-14);
        assert!((fit.r_squared - (1.0 - 1.5 / 6.0)).abs() < 1e-14);
        assert!((fit.at(3.0) - 5.0).abs() < 1e-13);
        assert_eq!(fit.degrees_of_freedom, 1);
    }

    #[test]
    fn what_cannot_be_fitted() {
        assert_eq!(polynomial(&[1.0], &[1.0, 2.0], 1), Err(LeastSquaresError::Lengths { x: 1, y: 2 }));
        assert_eq!(polynomial(&[1.0], &[1.0], 1), Err(LeastSquaresError::TooFew { points: 1, coefficients: 2 }));
        assert_eq!(polynomial(&[1.0, 1.0], &[1.0, 2.0], 1), Err(LeastSquaresError::Undetermined(1)));
        assert_eq!(polynomial(&[1.0, 2.0, 1.0], &[1.0, 2.0, 1.0], 2), Err(LeastSquaresError::Undetermined(2)));
        assert_eq!(polynomial(&[1.0, f64::NAN], &[1.0, 2.0], 1), Err(LeastSquaresError::NotFinite));
        assert_eq!(polynomial(&[2.0], &[5.0], 0).unwrap().coefficients, [5.0]);
    }
}
