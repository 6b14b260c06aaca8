//! The report of an import as text: for people, as CSV, as JSON.

use almanac_core::export::csv_text::CsvText;
use almanac_core::import::ImportReport;
use serde::Serialize;

/// For people: files, refused rows, questions, remarks, the sum.
pub(super) fn report_table(report: &ImportReport, is_dry_run: bool, may_apply: bool) -> String {
    let mut lines = Vec::new();
    let width = report.files.iter().map(|file| file.file.chars().count()).max().unwrap_or(0).max(4);
    lines.push(format!("{:<width$} {:>9} {:>9} {:>13} {:>9}", "file", "new", "changed", "already here", "refused"));
    for file in &report.files {
        lines.push(format!(
            "{:<width$} {:>9} {:>9} {:>13} {:>9}",
            file.file, file.new, file.changed, file.already_here, file.refused
        ));
    }
    let unasked = report.question_count - report.questions.len();
    let sections = [
        ("refused", report.refused.iter().map(ToString::to_string).collect::<Vec<_>>(), report.refused_unlisted()),
        ("questions (the figure goes in as typed, marked as doubted)", questions(report), unasked),
        ("remarks", report.notes.iter().map(ToString::to_string).collect(), 0),
    ];
    for (head, items, unlisted) in sections {
        if items.is_empty() {
            continue;
        }
        lines.push(String::new());
        lines.push(format!("{head}:"));
        lines.extend(items.into_iter().map(|item| format!("  {item}")));
        if unlisted > 0 {
            lines.push(format!("  ... and {unlisted} more"));
        }
    }
    lines.push(String::new());
    let said = match (may_apply, is_dry_run) {
        (false, _) => "nothing was written",
        (true, true) => "dry run, nothing was written",
        (true, false) if report.new_rows() + report.changed() == 0 => "nothing to add, nothing was written",
        (true, false) => "written",
    };
    lines.push(format!("{}; {said}", report.summary()));
    lines.push(String::new());
    lines.join("\n")
}

fn questions(report: &ImportReport) -> Vec<String> {
    report
        .questions
        .iter()
        .map(|question| match &question.likely {
            Some(likely) => format!("{question}; likely {likely}"),
            None => question.to_string(),
        })
        .collect()
}

/// `file,row,column,value,why,mend` of refused rows and questions; `what` tells them apart. Where
/// not all are listed, a last row says how many more there are.
pub(super) fn report_csv(report: &ImportReport) -> String {
    let mut csv = CsvText::new();
    for column in ["file", "row", "column", "value", "why", "mend", "what"] {
        csv.plain(column);
    }
    csv.end_row();
    for refused in &report.refused {
        csv.text(&refused.file).number(refused.row).text(&refused.column).text(&refused.value);
        csv.text(&refused.why).text(&refused.mend).plain("refused");
        csv.end_row();
    }
    for question in &report.questions {
        let mend = question.likely.as_ref().map(|likely| format!("likely {likely}")).unwrap_or_default();
        csv.text(&question.file).number(question.row).text(question.column).text(&question.value);
        csv.text(&question.why).text(&mend).plain("question");
        csv.end_row();
    }
    for (unlisted, what) in [
        (report.refused_unlisted(), "refused"),
        (report.question_count.saturating_sub(report.questions.len()), "question"),
    ] {
        if unlisted > 0 {
            csv.plain("").plain("").plain("").plain("");
            csv.text(&format!("{unlisted} more are counted, not listed")).plain("").plain(what);
            csv.end_row();
        }
    }
    csv.finish()
}

#[derive(Serialize)]
struct ReportJson<'a> {
    written: bool,
    new: usize,
    changed: usize,
    already_here: usize,
    refused_count: usize,
    question_count: usize,
    files: Vec<FileJson<'a>>,
    refused: Vec<RefusedJson<'a>>,
    questions: Vec<QuestionJson<'a>>,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct FileJson<'a> {
    file: &'a str,
    new: usize,
    changed: usize,
    already_here: usize,
    refused: usize,
}

#[derive(Serialize)]
struct RefusedJson<'a> {
    file: &'a str,
    row: u64,
    column: &'a str,
    value: &'a str,
    why: &'a str,
    mend: &'a str,
    rows: usize,
}

#[derive(Serialize)]
struct QuestionJson<'a> {
    file: &'a str,
    row: u64,
    column: &'a str,
    value: &'a str,
    why: &'a str,
    likely: Option<&'a str>,
}

/// The whole report as JSON.
pub(super) fn report_json(report: &ImportReport, written: bool) -> Result<String, serde_json::Error> {
    let json = ReportJson {
        written,
        new: report.new_rows(),
        changed: report.changed(),
        already_here: report.already_here(),
        refused_count: report.refused_count,
        question_count: report.question_count,
        files: report
            .files
            .iter()
            .map(|file| FileJson {
                file: &file.file,
                new: file.new,
                changed: file.changed,
                already_here: file.already_here,
                refused: file.refused,
            })
            .collect(),
        refused: report
            .refused
            .iter()
            .map(|r| RefusedJson {
                file: &r.file,
                row: r.row,
                column: &r.column,
                value: &r.value,
                why: &r.why,
                mend: &r.mend,
                rows: r.rows,
            })
            .collect(),
        questions: report
            .questions
            .iter()
            .map(|q| QuestionJson {
                file: &q.file,
                row: q.row,
                column: q.column,
                value: &q.value,
                why: &q.why,
                likely: q.likely.as_deref(),
            })
            .collect(),
        notes: report.notes.iter().map(ToString::to_string).collect(),
    };
    let mut text = serde_json::to_string_pretty(&json)?;
    text.push('\n');
    Ok(text)
}
