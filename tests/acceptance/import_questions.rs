//! Figures that cannot be right are asked about, not changed; answers are put in.

use almanac_core::import::{Answer, ImportOutcome, apply_answers};
use almanac_core::plausibility::SlipKind;
use almanac_core::units::Unit;
use almanac_tests::small_shop::{METERS, READINGS, run, shop, today};

/// One question: `(row, column, value, likely)`.
type Asked<'a> = (u64, &'a str, &'a str, Option<&'a str>);

#[track_caller]
fn check_asked(file: &str, text: &str, expected: &[Asked<'_>]) -> ImportOutcome {
    let outcome = run(&[(file, text.as_bytes())], &shop());
    assert_eq!(outcome.report.refused, []);
    let asked: Vec<Asked<'_>> = outcome
        .report
        .questions
        .iter()
        .map(|question| (question.row, question.column, question.value.as_str(), question.likely.as_deref()))
        .collect();
    assert_eq!(asked, expected, "{:#?}", outcome.report.questions);
    assert!(outcome.may_apply(false), "a question refuses nothing");
    outcome
}

#[track_caller]
fn check_figure(unit: &str, strokes: &str, expected: &[Asked<'_>]) -> ImportOutcome {
    let quantity = if ["mm", "in"].contains(&unit) { "setting_dimension" } else { "clamp_force" };
    let row = format!("S-0117,2026-01-05,routine,{quantity},{unit},{strokes},,\n");
    let outcome = check_asked("readings.csv", &format!("{READINGS}{row}"), expected);
    let reading = &outcome.batch.readings.added[0];
    assert_eq!(reading.strokes[0].typed, strokes.split(',').next().unwrap(), "it goes in as typed");
    assert_eq!(reading.doubt.is_some(), !expected.is_empty());
    outcome
}

#[test]
fn figures_that_cannot_be_right_are_asked_about() {
    check_figure("kN", "16.9,17.0", &[]);
    check_figure("kN", "9.1,9.0", &[]);
    check_figure("kN", "169,16.8", &[(2, "stroke_1", "169", Some("16.9"))]);
    check_figure("kN", "16.9,1.68", &[(2, "stroke_2", "1.68", Some("16.8"))]);
    check_figure("kN", "1690,", &[(2, "stroke_1", "1690", Some("16.9"))]);
    check_figure("kN", "3800,3790", &[(2, "unit", "kN", Some("lbf"))]);
    check_figure("kN", "16900,16800", &[(2, "unit", "kN", Some("N"))]);
    check_figure("N", "16.9,", &[(2, "unit", "N", Some("kN"))]);
    check_figure("lbf", "16.9,", &[(2, "unit", "lbf", Some("kN"))]);
    check_figure("mm", "10.52,", &[]);
    check_figure("in", "0.413,", &[]);
    check_figure("in", "4.13,", &[(2, "stroke_1", "4.13", Some("0.413"))]);
    check_figure("mm", "0.413,", &[(2, "unit", "mm", Some("in"))]);
    // 0.413 in = 10.4902 mm by the exact inch (NIST SP 811)
    check_figure("mm", "4.13,10.5", &[(2, "stroke_1", "4.13", Some("10.49"))]);
    check_figure("kN", "60,", &[(2, "stroke_1", "60", None)]);
}

#[test]
fn the_level_of_the_spindle_counts() {
    // a spindle that lost most of its force: a tenth of that is a slip, though nominal says more
    let mut text = READINGS.to_owned();
    for day in 1..=5 {
        text.push_str(&format!("S-0119,2026-01-0{day},routine,clamp_force,kN,4.{day},,,\n"));
    }
    text.push_str("S-0119,2026-01-08,routine,clamp_force,kN,0.41,,,\n");
    let outcome = check_asked("readings.csv", &text, &[(7, "stroke_1", "0.41", Some("4.1"))]);
    assert_eq!(outcome.report.questions[0].kind, SlipKind::DecimalPoint);
}

#[test]
fn doubt_that_is_told_or_settled_is_not_asked_again() {
    let header = READINGS.replace("doubt", "doubt,doubt_settled");
    let told = format!("{header}S-0117,2026-01-05,routine,clamp_force,kN,169,,,gauge fell down,\n");
    let outcome = check_asked("readings.csv", &told, &[]);
    assert_eq!(outcome.batch.readings.added[0].doubt.as_deref(), Some("gauge fell down"));
    let settled = format!("{header}S-0117,2026-01-05,routine,clamp_force,kN,169,,,,yes\n");
    assert_eq!(check_asked("readings.csv", &settled, &[]).batch.readings.added[0].doubt, None);
}

#[test]
fn meters_that_run_backwards_are_asked_about() {
    let rows = "S-0117,,,2026-01-01,8000,,\nS-0117,,,2026-01-11,8100,,\nS-0117,,,2026-01-21,815,,\nS-0117,,,2026-02-01,8200,,\n";
    check_asked("meters.csv", &format!("{METERS}{rows}"), &[(4, "run_hours", "815", Some("8150"))]);
    let replaced = "S-0117,,,2026-01-01,8000,,\nS-0117,,,2026-01-11,0,,yes\nS-0117,,,2026-01-21,60,,\n";
    check_asked("meters.csv", &format!("{METERS}{replaced}"), &[]);
    let cycles = ",R-04,1,2026-01-01,,5000,\n,R-04,1,2026-01-11,,4000,\n";
    check_asked("meters.csv", &format!("{METERS}{cycles}"), &[(3, "clamp_cycles", "4000", None)]);
    // more than 24 h a day is no run hour meter; the next one stands against the last good figure
    let fast = "S-0117,,,2026-01-01,8000,,\nS-0117,,,2026-01-11,81000,,\nS-0117,,,2026-01-21,8150,,\n";
    check_asked("meters.csv", &format!("{METERS}{fast}"), &[(3, "run_hours", "81000", Some("8100"))]);
    // readings show the meter too
    let reading = format!(
        "{READINGS}S-0117,2026-01-05,routine,clamp_force,kN,16.9,,8000,\nS-0117,2026-01-15,routine,clamp_force,kN,16.9,,7000,\n"
    );
    let outcome = check_asked("readings.csv", &reading, &[(3, "run_hours", "7000", None)]);
    assert!(outcome.batch.readings.added[1].doubt.as_deref().unwrap().contains("no new meter is noted"));
}

#[test]
fn dates_after_the_present_are_asked_about() {
    let text = format!("{READINGS}S-0117,2027-01-05,routine,clamp_force,kN,16.9,,,\n");
    check_asked("readings.csv", &text, &[(2, "date", "2027-01-05", Some("2026-01-05"))]);
    check_asked("services.csv", "spindle,date,kind\nS-0117,2026-03-03,minor\n", &[(2, "date", "2026-03-03", None)]);
    check_asked("services.csv", "spindle,date,kind\nS-0117,2026-03-02,minor\n", &[]);
    let entered = "spindle,date,kind,recorded_on\nS-0117,2026-03-01,minor,2062-03-02\n";
    check_asked("services.csv", entered, &[(2, "recorded_on", "2062-03-02", None)]);
    // the shop's own present counts, also when it comes in with the same run
    let readings = format!("{READINGS}S-0117,2025-06-01,routine,clamp_force,kN,16.9,,,\n");
    let files: [(&str, &[u8]); 2] =
        [("shop.csv", b"key,value\nas_of,2025-01-01\n"), ("readings.csv", readings.as_bytes())];
    assert_eq!(run(&files, &shop()).report.question_count, 1);
}

#[test]
fn answers_are_put_in() {
    let rows = "S-0117,2026-01-05,routine,clamp_force,kN,169,16.8,8000,\nS-0117,2026-01-06,routine,clamp_force,kN,3800,,,\n\
                S-0117,2027-01-07,routine,clamp_force,kN,16.5,,7000,\n";
    let outcome = run(&[("readings.csv", format!("{READINGS}{rows}").as_bytes())], &shop());
    let kinds: Vec<SlipKind> = outcome.report.questions.iter().map(|question| question.kind).collect();
    let unit = SlipKind::Unit { typed: Unit::Kilonewton, likely: Unit::PoundForce };
    assert_eq!(kinds, [SlipKind::DecimalPoint, unit, SlipKind::AfterPresent, SlipKind::MeterBackwards]);
    let take = |question| Answer { question, take_likely: true };
    let answered = apply_answers(outcome.clone(), &[take(0), take(1), take(2), take(3), take(99)]);
    let added = answered.batch.readings.added.clone();
    let (typed, readings) = added.split_at(3);
    for (before, after) in outcome.batch.readings.added.iter().zip(typed) {
        assert_eq!((&before.strokes, &before.doubt), (&after.strokes, &after.doubt), "what was typed stays");
        assert_eq!(after.replaced_on, Some(after.at.date), "and counts on no day");
    }
    assert_eq!(
        (readings[0].strokes[0].typed.as_str(), readings[0].strokes[0].base, &readings[0].doubt),
        ("16.9", 16.9, &None)
    );
    // 3,800 lbf = 16.903 kN (exact pound and standard gravity, NIST SP 811)
    assert_eq!(readings[1].unit, Unit::PoundForce);
    assert!((readings[1].mean_base() - 16.903_242).abs() < 1e-6 && readings[1].doubt.is_none());
    assert_eq!(readings[2].at.to_string(), "2026-01-07");
    assert!(readings[2].doubt.as_deref().unwrap().contains("7000"), "no likely figure: the doubt stays");
    let after = answered.batch.apply_to(&shop());
    assert_eq!(after.known_on(today()).readings.len(), 3);
    let again = run(&[("readings.csv", format!("{READINGS}{rows}").as_bytes())], &after);
    assert!(again.batch.is_empty(), "the same file adds nothing, though its figures were corrected");
    let kept = apply_answers(outcome.clone(), &[Answer { question: 0, take_likely: false }]);
    assert_eq!(kept, outcome);
}

#[test]
fn a_meter_takes_its_likely_figure() {
    let rows = "S-0117,,,2026-01-01,8000,,\nS-0117,,,2026-01-11,810,,\n";
    let outcome = check_asked("meters.csv", &format!("{METERS}{rows}"), &[(3, "run_hours", "810", Some("8100"))]);
    let after = apply_answers(outcome, &[Answer { question: 0, take_likely: true }]).batch.apply_to(&shop());
    let known = after.known_on(today());
    let hours: Vec<f64> = known.meters.iter().filter_map(|row| Some(row.run_hours?.get())).collect();
    assert_eq!(hours, [8000.0, 8100.0]);
}
