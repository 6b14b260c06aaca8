//! Normal distribution: what the crossing law and the likelihoods need.

use std::f64::consts::{FRAC_1_SQRT_2, LOG2_E, PI};

/// Probability that a standard normal variable lies below z.
#[must_use]
#[inline]
pub fn cdf(z: f64) -> f64 {
    let tail = 0.5 * bell(z) * erfcx(z.abs() * FRAC_1_SQRT_2);
    if z < 0.0 { tail } else { 1.0 - tail }
}

/// exp(-z^2/2).
#[must_use]
#[inline]
pub fn bell(z: f64) -> f64 {
    exp(-0.5 * z * z)
}

/// Exponents are kept within these, where the result is an ordinary number.
const EXPONENTS: (f64, f64) = (-708.0, 709.0);
/// Added and taken off again, it rounds to a whole number, which then stands in the last bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0;
/// ln 2 in two parts, the first exact when multiplied by a whole number of up to 11 bits.
const LN_2: (f64, f64) = (0.693_147_180_369_123_8, 1.908_214_929_270_587_7e-10);
/// 1/k! up to k = 13: on |r| <= ln(2)/2 what is left out is below 4e-18.
const RECIPROCAL_FACTORIALS: [f64; 14] = [
    1.0,
    1.0,
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
];

/// The exponential function within `EXPONENTS`, to its last digit or two; beyond them it stays at
/// the value that it has there.
///
/// Our own because it has no branch, so that the processor takes several at once, and because it is the
/// same on every machine: x = k ln 2 + r (Cody and Waite 1980, Software Manual for the Elementary
/// Functions), exp r by its series.
#[must_use]
#[inline]
pub fn exp(x: f64) -> f64 {
    let x = if x < EXPONENTS.0 { EXPONENTS.0 } else { x };
    let x = if x > EXPONENTS.1 { EXPONENTS.1 } else { x };
    let shifted = x * LOG2_E + ROUNDER;
    let k = shifted - ROUNDER;
    let r = (x - k * LN_2.0) - k * LN_2.1;
    let c = &RECIPROCAL_FACTORIALS;
    let r2 = r * r;
    let r4 = r2 * r2;
    // short chains in place of a long one
    let low = (c[2] + c[3] * r) + (c[4] + c[5] * r) * r2;
    let middle = (c[6] + c[7] * r) + (c[8] + c[9] * r) * r2;
    let high = (c[10] + c[11] * r) + (c[12] + c[13] * r) * r2;
    let series = ((low + (middle + high * r4) * r4) * r2 + r) + 1.0;
    let power = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
    series * power
}

/// Centre of the map that brings 0 to infinity onto -1 to 1.
const CENTRE: f64 = 3.0;

/// `(1 + 2x) erfcx(x)` as a polynomial of `(x - 3) / (x + 3)`, lowest power first.
///
/// The form is that of Shepherd and Laframboise (1981), "Chebyshev approximation of
/// (1 + 2x) exp(x^2) erfc x in 0 <= x < infinity", Mathematics of Computation 36. The figures were
/// computed to 40 digits for this centre; their relative error is below 1e-14.
const SCALED: [f64; 21] = [
    1.253008058269728,
    -0.1356211061244227,
    -0.047562294353053265,
    0.12964515869106003,
    -0.11927366343144447,
    0.06830802759881013,
    -0.023770514662452773,
    0.0025293892660317734,
    0.0018886882651257164,
    -0.0007798182066738429,
    -0.00010514976075877727,
    0.00012505252621834297,
    4.919245158648344e-06,
    -2.0002234665689688e-05,
    -6.723107877502762e-07,
    3.340620572250462e-06,
    2.8092479323589547e-07,
    -5.06127675883555e-07,
    -7.898498436546517e-08,
    4.753850893120822e-08,
    1.0346433476269121e-08,
];

/// Scaled complementary error function `exp(x^2) erfc(x)` for x from 0 on.
///
/// Our own because nearly all the time of a projection is spent here: it has no branch, and the
/// library at hand is exact to ten digits only.
#[must_use]
#[inline]
pub fn erfcx(x: f64) -> f64 {
    // one division for both quotients
    let scale = 1.0 / ((x + CENTRE) * (1.0 + 2.0 * x));
    let t = (x - CENTRE) * (1.0 + 2.0 * x) * scale;
    let t2 = t * t;
    let t4 = t2 * t2;
    // powers 4k, 4k + 1, 4k + 2, 4k + 3 apart: four short chains instead of a long one
    let (mut c0, mut c1, mut c2, mut c3) = (SCALED[20] * t4 + SCALED[16], SCALED[17], SCALED[18], SCALED[19]);
    for i in (0..4).rev() {
        c0 = c0 * t4 + SCALED[4 * i];
        c1 = c1 * t4 + SCALED[4 * i + 1];
        c2 = c2 * t4 + SCALED[4 * i + 2];
        c3 = c3 * t4 + SCALED[4 * i + 3];
    }
    ((c0 + c1 * t) + (c2 + c3 * t) * t2) * ((x + CENTRE) * scale)
}

/// Beyond this score the upper tail is taken from its series.
pub const FAR: f64 = 12.0;

/// [`scaled_tail`] beyond [`FAR`].
#[must_use]
#[inline]
pub fn far_scaled_tail(z: f64) -> f64 {
    let per_z = 1.0 / z;
    let t = per_z * per_z;
    (1.0 - t + 3.0 * t * t - 15.0 * t * t * t) * per_z * (1.0 / (2.0 * PI).sqrt())
}

/// The upper tail beyond `z`, at least 0, over exp(-z^2/2): far out by the same three terms as
/// [`log_cdf`], so that both agree.
#[must_use]
#[inline]
pub fn scaled_tail(z: f64) -> f64 {
    let near = 0.5 * erfcx(z * FRAC_1_SQRT_2);
    if z > FAR { far_scaled_tail(z) } else { near }
}

/// Normal density of a residual with a variance.
#[must_use]
#[inline]
pub fn density(residual: f64, variance: f64) -> f64 {
    let per_sd = 1.0 / variance.sqrt();
    let z = residual * per_sd;
    bell(z) * per_sd * (1.0 / (2.0 * PI).sqrt())
}

/// Logarithm of the normal density of a residual with a variance.
#[must_use]
#[inline]
pub fn log_density(residual: f64, variance: f64) -> f64 {
    -0.5 * ((2.0 * PI * variance).ln() + residual * residual / variance)
}

/// Logarithm of [`cdf`], safe far in the lower tail: below -12 by the asymptotic series of Mills'
/// ratio (Abramowitz and Stegun 26.2.12), three terms.
#[must_use]
pub fn log_cdf(z: f64) -> f64 {
    if z > -FAR {
        return cdf(z).max(1e-300).ln();
    }
    let t = 1.0 / (z * z);
    -0.5 * z * z - (-z).ln() - 0.5 * (2.0 * PI).ln() + (-t + 3.0 * t * t - 15.0 * t.powi(3)).ln_1p()
}

#[cfg(test)]
mod tests {
    use super::*;

    // computed to 40 digits
    const SCALED_TAILS: [(f64, f64); 10] = [
        (0.0, 1.0),
        (0.125, 0.8732218450821508),
        (0.5, 0.6156903441929259),
        (1.0, 0.427583576155807),
        (1.75, 0.2849722347374364),
        (3.0, 0.17900115118138996),
        (4.5, 0.12248480427384142),
        (7.0, 0.07980005432915294),
        (12.0, 0.04685422101489376),
        (26.0, 0.021683584850562907),
    ];

    #[test]
    fn the_scaled_tail_is_exact_to_its_last_digits() {
        for (x, want) in SCALED_TAILS {
            assert!((erfcx(x) / want - 1.0).abs() < 2e-14, "{x}: {} against {want}", erfcx(x));
        }
        // far out: 1 / (x sqrt(pi)), Abramowitz and Stegun 7.1.23
        let far = 1e8;
        assert!((erfcx(far) * far * PI.sqrt() - 1.0).abs() < 1e-14);
    }

    #[test]
    fn the_exponential_is_that_of_the_standard_library() {
        for i in -70_800..=70_900 {
            let x = f64::from(i) * 0.01 + 0.003 * f64::from(i % 3);
            if !(-708.0..=709.0).contains(&x) {
                continue;
            }
            let want = x.exp();
            assert!((exp(x) / want - 1.0).abs() < 5e-16, "{x}: {} against {want}", exp(x));
        }
        assert_eq!(exp(0.0).to_bits(), 1.0_f64.to_bits());
        assert!(exp(f64::NEG_INFINITY) < 1e-307 && exp(-1e300) < 1e-307);
        assert!(exp(1e300).is_finite() && exp(f64::NAN).is_nan());
    }

    #[test]
    fn the_distribution_is_that_of_a_library_as_far_as_that_is_exact() {
        for i in -1000..=1000 {
            let z = f64::from(i) * 0.0371;
            let want = 0.5 * statrs::function::erf::erfc(-z * FRAC_1_SQRT_2);
            assert!((cdf(z) - want).abs() <= 2e-10 * want + f64::MIN_POSITIVE, "{z}");
        }
    }
}
