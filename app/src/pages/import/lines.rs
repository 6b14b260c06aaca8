//! The lines of the import page, in order: files, questions, refused rows, remarks.

use almanac_core::import::ImportReport;
use std::collections::{BTreeMap, BTreeSet};

/// One line; a number says which file, question, row or remark of the report it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Line {
    /// Between two parts.
    Gap,
    /// Head of a part.
    Head(Part),
    /// Names of the columns of a part.
    Columns(Part),
    /// A file.
    File(usize),
    /// A column of a file.
    Column(usize, usize),
    /// Questions that are alike.
    Group(usize),
    /// One question of an opened group.
    Question(usize),
    /// A refused row.
    Refused(usize),
    /// More of the part than is listed.
    More(Part),
    /// A remark.
    Note(usize),
}

/// A part of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Part {
    /// What is read.
    Files,
    /// Figures that cannot be right.
    Questions,
    /// Rows that do not come in.
    Refused,
    /// What was left out without harm.
    Notes,
}

/// All lines of a report.
#[derive(Debug, Default)]
pub(super) struct Lines {
    pub(super) list: Vec<Line>,
    /// Questions that are alike: of one file, and one quantity, kind of slip and factor.
    pub(super) groups: Vec<Vec<usize>>,
}

impl Lines {
    /// The lines of a report; files and groups in `open` show what is in them.
    pub(super) fn of(report: &ImportReport, open: &BTreeSet<Line>) -> Self {
        let groups = groups_of(report);
        let mut list = vec![Line::Head(Part::Files), Line::Columns(Part::Files)];
        for (file, content) in report.files.iter().enumerate() {
            list.push(Line::File(file));
            if open.contains(&Line::File(file)) {
                list.extend((0..content.columns.len()).map(|column| Line::Column(file, column)));
            }
        }
        if !groups.is_empty() {
            list.extend([Line::Gap, Line::Head(Part::Questions), Line::Columns(Part::Questions)]);
            for (group, questions) in groups.iter().enumerate() {
                list.push(Line::Group(group));
                if questions.len() > 1 && open.contains(&Line::Group(group)) {
                    list.extend(questions.iter().map(|question| Line::Question(*question)));
                }
            }
            if report.question_count > report.questions.len() {
                list.push(Line::More(Part::Questions));
            }
        }
        if !report.refused.is_empty() {
            list.extend([Line::Gap, Line::Head(Part::Refused), Line::Columns(Part::Refused)]);
            list.extend((0..report.refused.len()).map(Line::Refused));
            if report.refused_unlisted() > 0 {
                list.push(Line::More(Part::Refused));
            }
        }
        if !report.notes.is_empty() {
            list.extend([Line::Gap, Line::Head(Part::Notes)]);
            list.extend((0..report.notes.len()).map(Line::Note));
        }
        Self { list, groups }
    }

    fn can_be_chosen(line: Line) -> bool {
        !matches!(line, Line::Gap | Line::Head(_) | Line::Columns(_) | Line::More(_))
    }

    /// The first line that can be chosen.
    pub(super) fn first_chosen(&self) -> usize {
        self.list.iter().position(|line| Self::can_be_chosen(*line)).unwrap_or(0)
    }

    /// The next line that can be chosen, else the same.
    pub(super) fn next(&self, from: usize) -> usize {
        let after = self.list.iter().enumerate().skip(from + 1).find(|(_, line)| Self::can_be_chosen(**line));
        after.map_or(from, |(index, _)| index)
    }

    /// The one before, else the same.
    pub(super) fn previous(&self, from: usize) -> usize {
        let before = self.list.iter().enumerate().take(from).rev().find(|(_, line)| Self::can_be_chosen(**line));
        before.map_or(from, |(index, _)| index)
    }

    /// The first question.
    pub(super) fn first_question(&self) -> Option<usize> {
        self.list.iter().position(|line| matches!(line, Line::Group(_)))
    }

    /// The next question after a line.
    pub(super) fn next_question(&self, from: usize) -> Option<usize> {
        let is_question = |line: &Line| matches!(line, Line::Group(_) | Line::Question(_));
        self.list.iter().enumerate().skip(from + 1).find(|(_, line)| is_question(line)).map(|(index, _)| index)
    }
}

fn groups_of(report: &ImportReport) -> Vec<Vec<usize>> {
    let mut order = Vec::new();
    let mut groups: BTreeMap<_, Vec<usize>> = BTreeMap::new();
    for (index, question) in report.questions.iter().enumerate() {
        let key = (question.file.as_str(), question.alike.as_str());
        let group = groups.entry(key).or_default();
        if group.is_empty() {
            order.push(key);
        }
        group.push(index);
    }
    order.into_iter().filter_map(|key| groups.remove(&key)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::ids::ReadingId;
    use almanac_core::import::{FileReport, Question, Refused, Target};
    use almanac_core::plausibility::SlipKind;

    fn refused(row: u64) -> Refused {
        let text = String::new;
        Refused { file: "a.csv".to_owned(), row, column: text(), value: text(), why: text(), mend: text(), rows: 1 }
    }

    fn question(row: u64, alike: &str) -> Question {
        let text = String::new;
        Question {
            file: "a.csv".to_owned(),
            row,
            column: "stroke_1",
            value: text(),
            why: text(),
            likely: None,
            doubt: text(),
            kind: SlipKind::DecimalPoint,
            alike: alike.to_owned(),
            target: Target::Reading(ReadingId::from_row(row as i64), None),
        }
    }

    #[test]
    fn questions_of_another_quantity_or_factor_are_another_group() {
        let (large, small) = ("kN ten times too large", "kN ten times too small");
        let report = ImportReport {
            questions: vec![question(2, large), question(3, small), question(4, large), question(5, "mm far off")],
            ..ImportReport::default()
        };
        assert_eq!(Lines::of(&report, &BTreeSet::new()).groups, [vec![0, 2], vec![1], vec![3]]);
    }

    #[test]
    fn the_cursor_skips_heads_and_ends_at_the_last_row() {
        let report = ImportReport {
            files: vec![FileReport::default()],
            refused: vec![refused(2), refused(3)],
            refused_count: 5,
            ..ImportReport::default()
        };
        let lines = Lines::of(&report, &BTreeSet::new());
        let first = lines.first_chosen();
        assert_eq!(lines.list.get(first), Some(&Line::File(0)));
        let next = lines.next(first);
        assert_eq!(lines.list.get(next), Some(&Line::Refused(0)));
        let last = lines.next(next);
        assert_eq!(lines.next(last), last, "three more are counted but not listed");
        assert_eq!(lines.list.last(), Some(&Line::More(Part::Refused)));
        assert_eq!(lines.previous(next), first);
    }
}
