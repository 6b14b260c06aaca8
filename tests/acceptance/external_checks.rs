//! Figures from elsewhere beside what the program makes of the same data. The sources stand in the
//! first lines of the files in `fixtures/checks`; what was written down from memory says so here too.

use almanac_core::forecast::least_squares::{PolynomialFit, polynomial};
use almanac_core::moment::Moment;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::units::{MILLIMETRES_PER_INCH, NEWTONS_PER_POUND_FORCE, Unit};
use almanac_tests::hand_shop::{HandShop, day};
use std::collections::BTreeMap;
use std::path::Path;

/// The rows of a fixture, by column.
fn rows(name: &str) -> Vec<BTreeMap<String, String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/checks").join(name);
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).unwrap();
    reader.deserialize().map(|row| row.unwrap()).collect()
}

fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap()
}

/// Decimal digits in which two figures agree.
fn digits(found: f64, expected: f64) -> f64 {
    -((found - expected) / expected).abs().max(1e-17).log10()
}

#[track_caller]
fn agrees(what: &str, found: f64, expected: f64) {
    assert!(digits(found, expected) >= 9.0, "{what}: {found:e}, certified {expected:e}");
}

/// NIST StRD, linear least squares, https://www.itl.nist.gov/div898/strd/lls/
fn check_certified(dataset: &str, degree: usize) {
    let data = rows(&format!("nist_strd_{dataset}.csv"));
    let x: Vec<f64> = data.iter().map(|row| number(row, "x")).collect();
    let y: Vec<f64> = data.iter().map(|row| number(row, "y")).collect();
    let fit: PolynomialFit = polynomial(&x, &y, degree).unwrap();
    let mut compared = 0;
    for row in rows("nist_strd_certified.csv").iter().filter(|row| row["dataset"] == dataset) {
        let (parameter, value) = (row["parameter"].as_str(), number(row, "value"));
        compared += 1;
        match parameter {
            "residual_sd" => agrees(parameter, fit.residual_sd, value),
            "r2" => agrees(parameter, fit.r_squared, value),
            _ => {
                let index: usize = parameter.trim_start_matches('B').parse().unwrap();
                agrees(parameter, fit.coefficients[index], value);
                agrees(parameter, fit.standard_errors[index], number(row, "sd_of_estimate"));
            }
        }
    }
    assert_eq!(compared, degree + 3, "every certified value of {dataset} was compared");
}

#[test]
fn norris_to_nine_digits() {
    check_certified("norris", 1);
}

#[test]
fn pontius_to_nine_digits() {
    check_certified("pontius", 2);
}

/// Meeker and Escobar, Statistical Methods for Reliability Data (1998): GaAs lasers. The readings are
/// published; the fifteen pseudo failure times at 10 %, to the hour, are from memory and were not
/// seen again, so this shows that a line with intercept reproduces them, no more.
#[test]
fn lasers_fail_at_the_hours_remembered_for_published_readings() {
    let data = rows("gaas_laser.csv");
    let crossings = rows("gaas_laser_crossings.csv");
    assert_eq!(crossings.len(), 15);
    for crossing in crossings {
        let of_unit = || data.iter().filter(|row| row["unit"] == crossing["unit"]);
        let hours: Vec<f64> = of_unit().map(|row| number(row, "hours")).collect();
        let increase: Vec<f64> = of_unit().map(|row| number(row, "increase")).collect();
        let fit = polynomial(&hours, &increase, 1).unwrap();
        let at_ten = (10.0 - fit.coefficients[0]) / fit.coefficients[1];
        let remembered = number(&crossing, "t10_pseudo_Meeker_Escobar_memory_h");
        assert!((at_ten - remembered).abs() <= 0.5, "unit {}: {at_ten}, from memory {remembered}", crossing["unit"]);
    }
}

/// The lasers as spindles of a shop: clamp force falls as the current rises, 90 % is the limit, a meter
/// reading with each. It is the naive line, not the model, that must cross within the day in which the
/// line by least squares through the same readings does, for units of which that lies after the last one.
#[test]
fn lasers_as_spindles_cross_when_their_line_does() {
    let data = rows("gaas_laser.csv");
    let mut compared = 0;
    for crossing in rows("gaas_laser_crossings.csv") {
        let mut made = HandShop::new();
        let machine = made.machine("M-01");
        let spindle = made.spindle("S-1", 100.0, Some(day(0)));
        made.mount(spindle, machine, day(0), None);
        made.limits(spindle, |limits| limits.service_limit = almanac_core::units::Percent::new(90.0));
        // one hour of the test is an hour at ten hours a day
        for row in data.iter().filter(|row| row["unit"] == crossing["unit"]) {
            let on = day((number(row, "hours") / 10.0) as u64);
            made.hours_at(machine, on, number(row, "hours"));
            made.force(spindle, on, 100.0 - number(row, "increase"));
        }
        let shop = made.shop();
        let book = almanac_core::exposure::ExposureBook::of(&shop, day(400), 1825);
        let hours = number(&crossing, "t10_ols_h");
        if hours < 4000.0 {
            continue;
        }
        let line = almanac_core::forecast::naive::naive_line(&shop, &book, spindle).unwrap();
        let crossed = line.crosses(almanac_core::units::Percent::new(90.0).unwrap()).unwrap();
        let found = (crossed - day(0)).num_days() as f64 * 10.0;
        // within the day of ten hours in which it crosses
        assert!((found - hours).abs() <= 10.0, "unit {}: {found}, by its line {hours}", crossing["unit"]);
        compared += 1;
    }
    assert_eq!(compared, 12);
}

/// NIST SP 811 and the international yard and pound of 1959: exact.
#[test]
fn units_are_the_exact_ones() {
    let of = |name: &str| -> f64 {
        let rows = rows("units.csv");
        number(rows.iter().find(|row| row["name"] == name).unwrap(), "value")
    };
    assert_eq!(NEWTONS_PER_POUND_FORCE, of("lbf_to_N"));
    assert_eq!(MILLIMETRES_PER_INCH, of("inch_to_mm"));
    let near = |found: f64, expected: f64| assert!(digits(found, expected) > 13.0, "{found}, expected {expected}");
    near(Unit::PoundForce.from_base(1.0), of("kN_to_lbf"));
    near(Unit::PoundForce.from_base(18.0), of("18_kN_in_lbf"));
    near(Unit::PoundForce.from_base(45.0), of("45_kN_in_lbf"));
    near(Unit::PoundForce.to_base(2000.0), of("2000_lbf_in_kN"));
    near(Unit::Inch.to_base(0.001), of("thou_to_mm"));
}

/// After JCGM 100:2008, 4.4.3, data and answers from memory and not seen again, so a check of
/// consistency: the mean of repeated readings, their standard deviation, and that of the mean.
#[test]
fn repeated_readings_as_remembered_from_the_guide() {
    let values: Vec<f64> = rows("gum_4_4_3.csv").iter().map(|row| number(row, "t_C")).collect();
    assert_eq!(values.len(), 20);
    // a polynomial of degree 0 is the mean; its standard error is that of the mean
    let x: Vec<f64> = (0..values.len()).map(|index| index as f64).collect();
    let fit = polynomial(&x, &values, 0).unwrap();
    assert!((fit.coefficients[0] - 100.145).abs() < 5e-4, "{}", fit.coefficients[0]);
    assert!((fit.residual_sd - 1.489).abs() < 5e-4, "{}", fit.residual_sd);
    assert!((fit.standard_errors[0] - 0.333).abs() < 5e-4, "{}", fit.standard_errors[0]);
    // and the mean of strokes of a reading is the same mean
    let strokes = values.iter().filter_map(|value| Stroke::parse(&value.to_string(), Unit::Kilonewton)).collect();
    let spindle = almanac_core::ids::SpindleId::from_row(1);
    let reading = Reading::of(spindle, Moment::day(day(0)), Phase::Routine, Unit::Kilonewton, strokes);
    assert!((reading.mean_base() - fit.coefficients[0]).abs() < 1e-9);
}

/// Common practice, no source: HSK size 63 is set to 10.5 mm +- 0.1 mm, also read as 0.413 in.
#[test]
fn a_setting_in_inches_lies_inside_its_millimetres() {
    let mut made = HandShop::new();
    let machine = made.machine("M-01");
    let spindle = made.spindle("S-1", 18.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    made.reading(spindle, day(10), Phase::Routine, Unit::Inch, &["0.413"]);
    let shop = made.shop();
    let config = almanac_core::forecast::ForecastConfig::of(&shop);
    let all =
        almanac_core::forecast::forecast_shop(&shop, day(10), &config, &almanac_core::forecast::NoProgress).unwrap();
    let forecast = &all.spindles[&spindle];
    let now = forecast.setting_now.unwrap().mean.get();
    // 0.413 x 25.4 = 10.4902, which the estimate draws towards the 10.5 that it was set to
    assert!((shop.readings[0].mean_base() - 10.4902).abs() < 1e-9);
    assert!(10.4902 < now && now < 10.5, "{now}");
    assert!(!forecast.setting_out_of_tolerance);
    assert!(!forecast.is_passed);
}
