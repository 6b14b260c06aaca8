//! The scores as a table.

use super::run::RowScores;
use super::score::LawScores;
use std::fmt::Write as _;

/// One block of rows per model: finished, plain; the naive line beside both; then what is true.
#[must_use]
pub fn table(rows: &[RowScores]) -> String {
    let mut text = String::new();
    for (title, of) in [
        ("finished model", (|row: &RowScores| row.finished) as fn(&RowScores) -> LawScores),
        ("plain model", |row: &RowScores| row.plain),
    ] {
        let _ = writeln!(
            text,
            "{title:<22} |  n    | 90   80   50   clear late half | error  CRPS | naive: error  CRPS  none | model there | naive of late"
        );
        for row in rows {
            let law = of(row);
            let [in90, in80, in50] = law.inside;
            let _ = writeln!(
                text,
                "{:<22} | {:>5} | {in90:>4.1} {in80:>4.1} {in50:>4.1} {:>5.1} {:>4.1} {:>4.1} | {:>5.1} {:>5.1} | {:>12.0} {:>5.0} {:>4.0}% | {:>11.1} | {:>5.0}",
                row.scenario.name(),
                row.spindles,
                law.clear,
                law.late,
                law.before_middle,
                law.error,
                law.crps,
                row.naive.error,
                row.naive.crps,
                row.naive.no_answer,
                law.error_where_naive,
                row.naive_of_late,
            );
        }
        text.push('\n');
    }
    let _ = writeln!(text, "{:<22} | below already | beyond the horizon | quartiles of the days left", "true dates");
    for row in rows {
        let truths = row.truths;
        let [low, middle, high] = truths.quartiles;
        let _ = writeln!(
            text,
            "{:<22} | {:>11.1} % | {:>16.1} % | {low:>4.0} {middle:>4.0} {high:>4.0}",
            row.scenario.name(),
            truths.already,
            truths.beyond
        );
    }
    text.push('\n');
    text
}
