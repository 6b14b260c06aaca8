//! The track record as text: for people, as CSV, as JSON.

use super::{BANDS, LEAD_DAYS, LEAST_FOR_PERCENT, Summary, TrackRecord};
use crate::due::rounded;
use crate::export::csv_text::CsvText;
use crate::shop::Shop;
use crate::units::Percent;
use crate::words::{self, Align};
use serde::Serialize;

/// What is said where there is nothing to score.
#[must_use]
pub fn nothing_to_score() -> String {
    format!(
        "Nothing to score yet: no routine or as-found reading of clamp force lies {} days or more after another of its \
         spindle.",
        super::LEAST_DAYS_BETWEEN
    )
}

/// The record in one sentence.
#[must_use]
pub fn sentence(summary: &Summary) -> String {
    let [_, inside, _] = summary.inside;
    let Some(since) = summary.since else { return nothing_to_score() };
    let since = words::month_year(since);
    if summary.scored == 1 {
        let lay = if inside == 1 { "inside" } else { "outside" };
        return format!("The one reading forecast since {since} lay {lay} the 80 % band.");
    }
    let (scored, inside_words) = (count(summary.scored), count(inside));
    if summary.scored < LEAST_FOR_PERCENT {
        return format!(
            "Of {scored} readings forecast since {since}, {inside_words} lay inside the 80 % band; a percentage takes at \
             least {LEAST_FOR_PERCENT}."
        );
    }
    format!(
        "Of {scored} readings forecast since {since}, {inside_words} lay inside the 80 % band ({}); honest would be 80 %.",
        share(inside, summary.scored)
    )
}

fn count(count: usize) -> String {
    words::number(count as f64, 0)
}

fn share(part: usize, whole: usize) -> String {
    format!("{} %", words::number(100.0 * part as f64 / whole.max(1) as f64, 0))
}

/// `17 of 19`, with the share where there are enough.
fn of(part: usize, whole: usize) -> String {
    let counts = format!("{} of {}", count(part), count(whole));
    if whole < LEAST_FOR_PERCENT { counts } else { format!("{counts}, {}", share(part, whole)) }
}

const HEADS: [(&str, Align); 4] =
    [("", Align::Left), ("forecast", Align::Right), ("honest", Align::Right), ("naive line", Align::Right)];

/// For people: a sentence, then the figures, then what was left out.
#[must_use]
pub fn to_table(record: &TrackRecord) -> String {
    let summary = record.summary();
    let mut text = sentence(&summary);
    text.push('\n');
    let nothing = || words::UNKNOWN.to_owned();
    let figure = |value: Option<Percent>| value.map_or_else(nothing, |value| words::number(value.get(), 2));
    let mut rows = Vec::new();
    if summary.scored > 0 {
        for (band, inside) in BANDS.into_iter().zip(summary.inside) {
            let what = format!("inside the {} % band", band.percent);
            rows.push(vec![what, of(inside, summary.scored), format!("{} %", band.percent), nothing()]);
        }
        let bias = summary.bias.map_or_else(nothing, |bias| words::signed(bias.get(), 2));
        rows.push(vec!["bias, reading less forecast, % of nominal".to_owned(), bias, "0".to_owned(), nothing()]);
        rows.push(vec![
            "half of them missed by no more than, % of nominal".to_owned(),
            figure(summary.median_miss),
            nothing(),
            figure(summary.naive_median_miss),
        ]);
        let crps = "CRPS, % of nominal (smaller is better)".to_owned();
        rows.push(vec![crps, figure(summary.crps), nothing(), figure(summary.naive_crps)]);
        if summary.naive_scored < summary.scored {
            let answered = of(summary.naive_scored, summary.scored);
            let same = format!("the same where the naive line has an answer, {answered}");
            rows.push(vec![same, figure(summary.crps_beside_naive), nothing(), figure(summary.naive_crps)]);
        }
    }
    if summary.crossings > 0 {
        rows.push(vec![
            format!("crossings of the service limit caught {LEAD_DAYS} days before"),
            of(summary.caught, summary.crossings),
            nothing(),
            of(summary.naive_caught, summary.crossings),
        ]);
    }
    if !rows.is_empty() {
        text.push('\n');
        text.push_str(&words::table(&HEADS, rows));
    }
    let notes = notes(record, &summary);
    if !notes.is_empty() {
        text.push('\n');
    }
    for note in notes {
        text.push_str(&note);
        text.push('\n');
    }
    text
}

fn notes(record: &TrackRecord, summary: &Summary) -> Vec<String> {
    let mut notes = Vec::new();
    if summary.crossings == 0 {
        notes.push(format!("No crossing of the service limit could be forecast {LEAD_DAYS} days before."));
    }
    if record.doubted > 0 {
        let (what, are) = if record.doubted == 1 { ("reading", "is") } else { ("readings", "are") };
        let counted = words::capital(&words::count_words(record.doubted));
        notes.push(format!("{counted} doubted {what} {are} not scored."));
    }
    if record.too_soon > 0 {
        let (what, are) = if record.too_soon == 1 { ("crossing", "is") } else { ("crossings", "are") };
        let counted = words::capital(&words::count_words(record.too_soon));
        notes.push(format!(
            "{counted} {what} less than {LEAD_DAYS} days after a service or the first record {are} not scored."
        ));
    }
    notes
}

#[derive(Serialize)]
struct Json {
    scored: usize,
    inside: Inside,
    bias_pct: Option<f64>,
    crps_pct: Option<f64>,
    naive: Naive,
    crossings: Crossings,
    since: Option<String>,
}

#[derive(Serialize)]
struct Inside {
    #[serde(rename = "50")]
    half: usize,
    #[serde(rename = "80")]
    most: usize,
    #[serde(rename = "90")]
    nearly_all: usize,
}

#[derive(Serialize)]
struct Naive {
    crps_pct: Option<f64>,
    /// A line has no bands.
    inside: Option<Inside>,
}

#[derive(Serialize)]
struct Crossings {
    n: usize,
    caught: usize,
    naive_caught: usize,
}

/// The figures as JSON, in the shape that the file formats describe: counts, no shares. Without
/// anything to score counts are 0 and the rest `null`.
///
/// # Errors
/// None that is known: all fields are plain figures and texts.
pub fn to_json(record: &TrackRecord) -> Result<String, serde_json::Error> {
    let summary = record.summary();
    let [half, most, nearly_all] = summary.inside;
    let percent = |value: Option<Percent>| value.map(|value| rounded(value.get(), 2));
    let json = Json {
        scored: summary.scored,
        inside: Inside { half, most, nearly_all },
        bias_pct: percent(summary.bias),
        crps_pct: percent(summary.crps),
        naive: Naive { crps_pct: percent(summary.naive_crps), inside: None },
        crossings: Crossings { n: summary.crossings, caught: summary.caught, naive_caught: summary.naive_caught },
        since: summary.since.map(|day| day.to_string()),
    };
    let mut text = serde_json::to_string_pretty(&json)?;
    text.push('\n');
    Ok(text)
}

/// Columns of the CSV: a row per scored reading.
const COLUMNS: [&str; 18] = [
    "spindle",
    "day",
    "forecast_from",
    "phase",
    "reading_pct",
    "forecast_pct",
    "sd_pct",
    "low_50_pct",
    "high_50_pct",
    "low_80_pct",
    "high_80_pct",
    "low_90_pct",
    "high_90_pct",
    "inside_50",
    "inside_80",
    "inside_90",
    "crps_pct",
    "naive_pct",
];

/// One row per scored reading, oldest first; `_pct` is percent of nominal, `inside_` yes or no.
#[must_use]
pub fn to_csv(shop: &Shop, record: &TrackRecord) -> String {
    let mut csv = CsvText::new();
    for column in COLUMNS {
        csv.plain(column);
    }
    csv.end_row();
    let percent = |value: Percent| rounded(value.get(), 2);
    for scored in &record.readings {
        let name = shop.spindles.get(&scored.spindle).map(|spindle| spindle.name.as_str()).unwrap_or_default();
        csv.text(name).number(scored.day).number(scored.from).plain(scored.phase.key());
        csv.number(percent(scored.read)).number(percent(scored.forecast)).number(percent(scored.sd));
        for band in BANDS {
            let (low, high) = scored.ends(band);
            csv.number(percent(low)).number(percent(high));
        }
        for band in BANDS {
            csv.plain(if scored.is_inside(band) { "yes" } else { "no" });
        }
        csv.number(percent(scored.crps())).optional(scored.naive.map(percent));
        csv.end_row();
    }
    csv.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::track_record::{ScoredReading, TrackRecord};
    use crate::ids::{ReadingId, SpindleId};
    use crate::moment::parse_iso_date;
    use crate::reading::Phase;

    /// So many readings, each a week later, 1 % off, the bands 50 and 80 % missed by every fifth.
    fn record(count: usize) -> TrackRecord {
        let percent = |value| Percent::new(value).unwrap();
        let first = parse_iso_date("2022-03-01").unwrap();
        let readings = first
            .iter_weeks()
            .take(count)
            .enumerate()
            .map(|(index, day)| ScoredReading {
                spindle: SpindleId::from_row(1),
                reading: ReadingId::from_row(index as i64),
                day,
                from: day.pred_opt().unwrap(),
                phase: Phase::Routine,
                read: percent(if index % 5 == 4 { 93.0 } else { 91.0 }),
                forecast: percent(90.0),
                sd: percent(2.0),
                naive: Some(percent(90.0)),
            })
            .collect();
        let as_of = parse_iso_date("2026-03-02").unwrap();
        TrackRecord { as_of, readings, crossings: Vec::new(), doubted: 0, too_soon: 0 }
    }

    #[track_caller]
    fn check(count: usize, expected: &str) {
        assert_eq!(sentence(&record(count).summary()), expected);
    }

    #[test]
    fn no_percentage_of_fewer_than_twenty() {
        check(
            25,
            "Of 25 readings forecast since March 2022, 20 lay inside the 80 % band (80 %); honest would be 80 %.",
        );
        check(
            19,
            "Of 19 readings forecast since March 2022, 16 lay inside the 80 % band; a percentage takes at least 20.",
        );
        check(1, "The one reading forecast since March 2022 lay inside the 80 % band.");
        check(0, &nothing_to_score());
        assert!(to_table(&record(20)).contains("16 of 20, 80 %"));
        let few = to_table(&record(19));
        assert!(few.contains("16 of 19 ") && !few.contains("16 of 19,"), "{few}");
    }

    #[test]
    fn the_json_has_these_keys_in_this_order() {
        let text = to_json(&record(5)).unwrap();
        let plain: String = text.split_whitespace().collect();
        assert_eq!(
            plain,
            r#"{"scored":5,"inside":{"50":4,"80":4,"90":5},"bias_pct":1.4,"crps_pct":0.93,"naive":{"crps_pct":1.4,"inside":null},"crossings":{"n":0,"caught":0,"naive_caught":0},"since":"2022-03-01"}"#
        );
        let nothing: String = to_json(&record(0)).unwrap().split_whitespace().collect();
        assert_eq!(
            nothing,
            r#"{"scored":0,"inside":{"50":0,"80":0,"90":0},"bias_pct":null,"crps_pct":null,"naive":{"crps_pct":null,"inside":null},"crossings":{"n":0,"caught":0,"naive_caught":0},"since":null}"#
        );
    }
}
