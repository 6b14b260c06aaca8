//! One line of the import page, painted in columns that line up.

use super::Read;
use super::lines::{Line, Part};
use crate::theme::{LIST_ROW, palette, sans, semibold, serif_semibold, size};
use crate::widgets::text::{left, left_cut, right};
use almanac_core::import::{FileReport, LISTED, Question};
use almanac_core::words;
use eframe::egui::{self, Color32, FontId, Popup, Rect, Response, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// What was done with a line.
pub(super) enum Event {
    /// It was chosen.
    Chosen,
    /// It is opened or closed.
    Toggle,
    /// A column of the file is one of ours.
    Match {
        /// The file.
        file: String,
        /// Its column.
        theirs: String,
        /// Ours.
        ours: &'static str,
    },
}

/// A line to be drawn.
pub(super) struct Row<'a> {
    pub(super) read: &'a Read,
    pub(super) line: Line,
    pub(super) chosen: bool,
    pub(super) open: bool,
    /// Enter was pressed and this is the chosen line.
    pub(super) entered: bool,
}

/// Left edges of the columns, from the left edge of the page.
const FILE: f32 = 22.0;
const ROW_END: f32 = 220.0;
const COLUMN: f32 = 236.0;
const VALUE: f32 = 366.0;
const WHY: f32 = 500.0;
/// Right edges of the counts of a file.
const COUNTS: [(f32, &str); 4] = [(560.0, "new"), (650.0, "changed"), (760.0, "already here"), (850.0, "refused")];

/// Where one paints, and in which inks.
struct Pen<'u> {
    ui: &'u egui::Ui,
    rect: Rect,
}

impl Pen<'_> {
    fn at(&self, x: f32) -> egui::Pos2 {
        pos2(self.rect.left() + x, self.rect.center().y)
    }

    fn cut(&self, x: f32, to: f32, text: &str, font: FontId, ink: Color32) {
        left_cut(self.ui.painter(), self.at(x), text, font, ink, (to - x - 8.0).max(20.0));
    }

    fn body(&self, x: f32, to: f32, text: &str) {
        self.cut(x, to, text, sans(size::BODY), palette(self.ui).ink);
    }

    fn quiet(&self, x: f32, to: f32, text: &str) {
        self.cut(x, to, text, sans(size::BODY), palette(self.ui).ink2);
    }

    fn right(&self, x: f32, text: &str, ink: Color32) {
        right(self.ui.painter(), self.at(x), text, sans(size::BODY), ink);
    }

    fn width(&self) -> f32 {
        self.rect.width()
    }
}

impl Row<'_> {
    /// Draws the line and tells what was done with it.
    pub(super) fn ui(&self, ui: &mut egui::Ui) -> Option<Event> {
        let can_be_chosen = !matches!(self.line, Line::Gap | Line::Head(_) | Line::Columns(_) | Line::More(_));
        let sense = if can_be_chosen { Sense::click() } else { Sense::hover() };
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), LIST_ROW), sense);
        let pen = Pen { ui, rect };
        let colours = palette(ui);
        if self.chosen {
            ui.painter().rect_filled(rect, 0.0, colours.tint);
            let bar = Rect::from_min_size(rect.min, vec2(3.0, rect.height()));
            ui.painter().rect_filled(bar, 0.0, colours.ink);
        }
        let name = match self.line {
            Line::Gap => String::new(),
            Line::Head(part) => self.head(&pen, part),
            Line::Columns(part) => self.columns(&pen, part),
            Line::File(index) => self.file(&pen, index),
            Line::Column(file, column) => self.column(&pen, file, column),
            Line::Group(group) => self.group(&pen, group),
            Line::Question(question) => self.question(&pen, question, None),
            Line::Refused(index) => self.refused(&pen, index),
            Line::More(part) => self.more(&pen, part),
            Line::Note(index) => self.note(&pen, index),
        };
        if !name.is_empty() {
            response.widget_info(|| {
                if can_be_chosen {
                    WidgetInfo::selected(Role::ListBoxOption, true, self.chosen, &name)
                } else {
                    WidgetInfo::labeled(Role::Label, true, &name)
                }
            });
        }
        self.event(&response)
    }

    fn event(&self, response: &Response) -> Option<Event> {
        if let Line::Column(file, column) = self.line
            && let Some(event) = self.match_menu(response, file, column)
        {
            return Some(event);
        }
        let opens_menu = self.entered && matches!(self.line, Line::Column(..));
        if opens_menu {
            Popup::toggle_id(&response.ctx, Popup::default_response_id(response));
        }
        if response.clicked() || (self.entered && !opens_menu) {
            let opens = matches!(self.line, Line::File(_)) || self.several().is_some();
            return Some(if opens { Event::Toggle } else { Event::Chosen });
        }
        (response.has_focus() && !self.chosen).then_some(Event::Chosen)
    }

    /// The size of a group of several questions.
    fn several(&self) -> Option<usize> {
        let Line::Group(group) = self.line else { return None };
        self.read.lines.groups.get(group).map(Vec::len).filter(|size| *size > 1)
    }

    fn head(&self, pen: &Pen<'_>, part: Part) -> String {
        let report = &self.read.outcome.report;
        let text = match part {
            Part::Files => "Files".to_owned(),
            Part::Questions => format!("Questions ({})", words::number(report.question_count as f64, 0)),
            Part::Refused => format!("Refused rows ({})", words::number(report.refused_count as f64, 0)),
            Part::Notes => "Remarks".to_owned(),
        };
        let ink = if part == Part::Refused { palette(pen.ui).act } else { palette(pen.ui).ink };
        pen.cut(0.0, pen.width(), &text, serif_semibold(size::SECTION), ink);
        text
    }

    fn columns(&self, pen: &Pen<'_>, part: Part) -> String {
        let colours = palette(pen.ui);
        let painter = pen.ui.painter();
        let label = |x: f32, text: &str| left(painter, pen.at(x), text, sans(size::LABEL), colours.ink2);
        match part {
            Part::Files => {
                label(FILE, "file");
                label(COLUMN, "holds");
                for (x, name) in COUNTS {
                    right(painter, pen.at(x), name, sans(size::LABEL), colours.ink2);
                }
                label(880.0, "columns");
            }
            Part::Questions | Part::Refused => {
                label(FILE, "file");
                right(painter, pen.at(ROW_END), "row", sans(size::LABEL), colours.ink2);
                label(COLUMN, "column");
                label(VALUE, "value");
                label(WHY, "why");
                label(self.last_column(pen), if part == Part::Questions { "comes in as" } else { "mend" });
            }
            Part::Notes => {}
        }
        painter.hline(pen.rect.x_range(), pen.rect.bottom() - 0.5, Stroke::new(1.0, colours.ink));
        String::new()
    }

    /// Where the last column begins: the room beyond goes to the words.
    fn last_column(&self, pen: &Pen<'_>) -> f32 {
        (pen.width() * 0.74).max(WHY + 160.0)
    }

    fn file(&self, pen: &Pen<'_>, index: usize) -> String {
        let Some(file) = self.read.outcome.report.files.get(index) else { return String::new() };
        let colours = palette(pen.ui);
        self.triangle(pen);
        pen.cut(FILE, COLUMN, &file.file, semibold(size::BODY), colours.ink);
        let holds = file.table.map_or("unknown", |table| table.file_name().trim_end_matches(".csv"));
        pen.quiet(COLUMN, 470.0, &holds.replace('_', " "));
        let counts = [file.new, file.changed, file.already_here, file.refused];
        for ((x, name), count) in COUNTS.into_iter().zip(counts) {
            let ink = match (name, count) {
                ("refused", 1..) => colours.act,
                (_, 0) => colours.ink3,
                _ => colours.ink,
            };
            pen.right(x, &words::number(count as f64, 0), ink);
        }
        let left_out: Vec<&str> =
            file.columns.iter().filter(|column| column.ours.is_none()).map(|column| column.name.as_str()).collect();
        let columns = if left_out.is_empty() {
            format!("{} known", file.columns.len())
        } else {
            format!("{} known; left out: {}", file.columns.len() - left_out.len(), left_out.join(", "))
        };
        pen.quiet(880.0, pen.width(), &columns);
        let [new, changed, here, refused] = counts;
        format!(
            "{}: {new} new, {changed} changed, {here} already here, {refused} refused; columns {columns}",
            file.file
        )
    }

    /// A triangle that points right where the line can be opened, down where it is open.
    fn triangle(&self, pen: &Pen<'_>) {
        let centre = pen.at(11.0);
        let points = if self.open {
            vec![centre + vec2(-4.0, -2.0), centre + vec2(4.0, -2.0), centre + vec2(0.0, 3.0)]
        } else {
            vec![centre + vec2(-2.0, -4.0), centre + vec2(3.0, 0.0), centre + vec2(-2.0, 4.0)]
        };
        pen.ui.painter().add(egui::Shape::convex_polygon(points, palette(pen.ui).ink2, Stroke::NONE));
    }

    fn column(&self, pen: &Pen<'_>, file: usize, column: usize) -> String {
        let Some(column) = self.read.outcome.report.files.get(file).and_then(|file| file.columns.get(column)) else {
            return String::new();
        };
        pen.body(COLUMN, VALUE + 60.0, &column.name);
        let ours = column.ours.unwrap_or("left out; Enter says which it is");
        pen.quiet(VALUE + 60.0, 700.0, &format!("\u{2192} {ours}"));
        pen.quiet(700.0, pen.width(), &format!("such as {}", sample(&column.sample)));
        format!("column {}: {ours}; such as {}", column.name, sample(&column.sample))
    }

    /// Under a column that was left out: our columns that the file does not have yet.
    fn match_menu(&self, response: &Response, file: usize, column: usize) -> Option<Event> {
        let report: &FileReport = self.read.outcome.report.files.get(file)?;
        let theirs = report.columns.get(column)?;
        if theirs.ours.is_some() {
            return None;
        }
        let free = report
            .table?
            .columns()
            .iter()
            .filter(|ours| !report.columns.iter().any(|column| column.ours == Some(ours.name)));
        let shown = Popup::menu(response).accessible_name("Which column it is").show(|ui| {
            let mut chosen = None;
            for ours in free {
                if ui.button(ours.name).clicked() {
                    chosen = Some(ours.name);
                }
            }
            chosen
        });
        let ours = shown.and_then(|shown| shown.inner)?;
        Some(Event::Match { file: report.file.clone(), theirs: theirs.name.clone(), ours })
    }

    fn group(&self, pen: &Pen<'_>, group: usize) -> String {
        let Some(questions) = self.read.lines.groups.get(group) else { return String::new() };
        let Some(first) = questions.first() else { return String::new() };
        if questions.len() == 1 {
            return self.question(pen, *first, None);
        }
        self.triangle(pen);
        let taken = questions.iter().filter(|index| self.read.taken.get(**index) == Some(&true)).count();
        self.question(pen, *first, Some((questions.len(), taken)))
    }

    /// One question, or several alike with how many are answered by the likely figure.
    fn question(&self, pen: &Pen<'_>, index: usize, alike: Option<(usize, usize)>) -> String {
        let Some(question) = self.read.outcome.report.questions.get(index) else { return String::new() };
        let colours = palette(pen.ui);
        let last = self.last_column(pen);
        let indent = if matches!(self.line, Line::Question(_)) { 12.0 } else { 0.0 };
        pen.body(FILE + indent, ROW_END - 60.0, &question.file);
        match alike {
            Some((count, _)) => pen.right(ROW_END, &format!("{count} rows"), colours.ink),
            None => pen.right(ROW_END, &words::number(question.row as f64, 0), colours.ink),
        }
        pen.body(COLUMN, VALUE, question.column);
        let values = alike.map_or_else(|| question.value.clone(), |_| self.of_group(|question| Some(&question.value)));
        pen.body(VALUE, WHY, &values);
        let why = alike.map_or_else(|| question.why.clone(), |(all, _)| format!("{all} alike: {}", question.alike));
        pen.quiet(WHY, last, &why);
        let is_taken = self.read.taken.get(index) == Some(&true);
        let comes_in = match (alike, &question.likely) {
            (Some((all, taken)), Some(_)) if taken > 0 => format!("likely figure, {taken} of {all}"),
            (Some(_), Some(_)) => {
                format!("as typed, doubted; likely {}", self.of_group(|question| question.likely.as_ref()))
            }
            (None, Some(likely)) if is_taken => likely.clone(),
            (_, Some(likely)) => format!("as typed, doubted; likely {likely}"),
            (_, None) => "as typed, doubted".to_owned(),
        };
        let answered = is_taken || alike.is_some_and(|(_, taken)| taken > 0);
        let (font, ink) = if answered { (semibold(size::BODY), colours.ink) } else { (sans(size::BODY), colours.act) };
        pen.cut(last, pen.width(), &comes_in, font, ink);
        match alike {
            Some((all, _)) => {
                format!("{}, {all} rows: {}, {values}; comes in {comes_in}", question.file, question.alike)
            }
            None => format!("{question}; comes in {comes_in}"),
        }
    }

    /// What the first questions of a group say, each thing once.
    fn of_group(&self, part: impl Fn(&Question) -> Option<&String>) -> String {
        const SHOWN: usize = 3;
        let Line::Group(group) = self.line else { return String::new() };
        let questions = &self.read.outcome.report.questions;
        let mut texts: Vec<&str> = Vec::new();
        for index in self.read.lines.groups.get(group).into_iter().flatten() {
            let text = questions.get(*index).and_then(&part);
            if let Some(text) = text.filter(|text| !texts.contains(&text.as_str())) {
                if texts.len() == SHOWN {
                    return format!("{}, \u{2026}", texts.join(", "));
                }
                texts.push(text);
            }
        }
        texts.join(", ")
    }

    fn refused(&self, pen: &Pen<'_>, index: usize) -> String {
        let Some(refused) = self.read.outcome.report.refused.get(index) else { return String::new() };
        let colours = palette(pen.ui);
        let last = self.last_column(pen);
        pen.body(FILE, ROW_END - 60.0, &refused.file);
        pen.right(ROW_END, &words::number(refused.row as f64, 0), colours.ink);
        pen.body(COLUMN, VALUE, &refused.column);
        pen.body(VALUE, WHY, &refused.value);
        pen.cut(WHY, last, &refused.why, sans(size::BODY), colours.act);
        pen.body(last, pen.width(), &refused.mend);
        refused.to_string()
    }

    fn more(&self, pen: &Pen<'_>, part: Part) -> String {
        let report = &self.read.outcome.report;
        let all = if part == Part::Refused { report.refused_count } else { report.question_count };
        let text = format!(
            "The first {} are listed, {} in all.",
            words::number(LISTED as f64, 0),
            words::number(all as f64, 0)
        );
        pen.quiet(FILE, pen.width(), &text);
        text
    }

    fn note(&self, pen: &Pen<'_>, index: usize) -> String {
        let Some(note) = self.read.outcome.report.notes.get(index) else { return String::new() };
        pen.body(FILE, COLUMN, &note.file);
        pen.quiet(COLUMN, pen.width(), &note.text);
        note.to_string()
    }
}

/// The first value of a column, `–` where it is empty.
fn sample(text: &str) -> &str {
    if text.trim().is_empty() { words::UNKNOWN } else { text }
}
