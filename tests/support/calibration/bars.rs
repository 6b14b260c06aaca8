//! What the finished model must reach, and whether it does.

use super::run::RowScores;
use super::truth::Scenario;

/// One demand and the figure that stands against it.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What is asked of which row.
    pub demand: String,
    /// The figure.
    pub figure: f64,
    /// Whether it is met.
    pub is_met: bool,
}

impl std::fmt::Display for Bar {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let word = if self.is_met { "met" } else { "missed" };
        write!(f, "{word:<6} {:>6.1}  {}", self.figure, self.demand)
    }
}

/// Slack for sampling where the finished model is compared with the plain one.
const SLACK: f64 = 1.02;
/// By how much improvements must lower the mean CRPS, percent.
const CRPS_GAIN: f64 = 2.0;

/// The bounds of one scenario, percent.
struct Bounds {
    in90: Option<(f64, f64)>,
    in80: (f64, f64),
    clear: Option<(f64, f64)>,
    late: (f64, f64),
    /// How far the error must lie under that of the naive line.
    under_naive: Option<f64>,
}

const fn bounds(scenario: Scenario) -> Bounds {
    use Scenario::{AllTogether, CurvedUp, HeavyTails, UsageChanged, Young, YoungFive};
    match scenario {
        UsageChanged | AllTogether => Bounds {
            in90: None,
            in80: (80.0, 89.0),
            clear: Some((75.0, 86.0)),
            late: (0.0, 10.0),
            under_naive: Some(30.0),
        },
        Young => Bounds { in90: None, in80: (80.0, 87.0), clear: None, late: (0.0, 10.0), under_naive: Some(15.0) },
        YoungFive => Bounds { in90: None, in80: (79.0, 100.0), clear: None, late: (0.0, 13.0), under_naive: None },
        _ => Bounds {
            in90: Some((88.0, 94.0)),
            in80: (81.0, 87.0),
            clear: Some((77.0, 83.0)),
            late: (5.0, 10.0),
            under_naive: Some(match scenario {
                HeavyTails => 10.0,
                CurvedUp => 45.0,
                _ => 25.0,
            }),
        },
    }
}

/// All bars of the rows that were run; the one over all rows only when all ten were.
#[must_use]
pub fn bars(rows: &[RowScores]) -> Vec<Bar> {
    let mut bars = Vec::new();
    for row in rows {
        of_row(row, &mut bars);
    }
    if rows.len() == Scenario::ALL.len() {
        let mean = |of: fn(&RowScores) -> f64| rows.iter().map(of).sum::<f64>() / rows.len() as f64;
        let gain = 100.0 * (1.0 - mean(|row| row.finished.crps) / mean(|row| row.plain.crps));
        bars.push(Bar {
            demand: format!("mean CRPS over the rows at least {CRPS_GAIN} % under the plain model, %"),
            figure: gain,
            is_met: gain >= CRPS_GAIN,
        });
    }
    bars
}

fn of_row(row: &RowScores, bars: &mut Vec<Bar>) {
    let name = row.scenario.name();
    let bounds = bounds(row.scenario);
    let law = &row.finished;
    let mut between = |what: &str, figure: f64, (low, high): (f64, f64)| {
        let range = if low <= 0.0 {
            format!("at most {high}")
        } else if high >= 100.0 {
            format!("at least {low}")
        } else {
            format!("{low} to {high}")
        };
        bars.push(Bar { demand: format!("{name}: {what} {range}, %"), figure, is_met: (low..=high).contains(&figure) });
    };
    if let Some(range) = bounds.in90 {
        between("inside the 90 % band", law.inside[0], range);
    }
    between("inside the 80 % band", law.inside[1], bounds.in80);
    if let Some(range) = bounds.clear {
        between("clear ones inside the 80 % band", law.clear, range);
    }
    between("late", law.late, bounds.late);
    if let Some(under) = bounds.under_naive {
        let gain = 100.0 * (1.0 - law.error_where_naive / row.naive.error);
        bars.push(Bar {
            demand: format!("{name}: error at least {under} % under the naive line where that answers, %"),
            figure: gain,
            is_met: gain >= under,
        });
    }
    for (what, finished, plain) in [("error", law.error, row.plain.error), ("CRPS", law.crps, row.plain.crps)] {
        bars.push(Bar {
            demand: format!("{name}: {what} no larger than that of the plain model ({plain:.1}), 2 % slack, days"),
            figure: finished,
            is_met: finished <= SLACK * plain,
        });
    }
}
