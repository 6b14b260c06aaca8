//! The import page: what the files bring, what is questioned, what is refused; nothing is written
//! until one says so.

mod lines;
mod rows;

use super::PageContext;
use crate::task::{Outcome, Task};
use crate::theme::{LIST_ROW, MARGIN, palette, sans, serif, serif_semibold, size};
use crate::widgets::foot::{self, FootKey, foot_key};
use almanac_core::actions::ImportBatch;
use almanac_core::import::{Answer, ImportError, ImportOutcome, apply_answers, import, read_paths};
use almanac_core::shop::Shop;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Key, Modifiers, RichText};
use lines::{Line, Lines};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Columns that the user matched: file and its column, ours.
type Matched = BTreeMap<(String, String), &'static str>;

/// Against which shop the files are read.
#[derive(Debug, Clone)]
pub struct Against {
    /// The whole shop.
    pub shop: Arc<Shop>,
    /// Its revision.
    pub revision: u64,
    /// Today, for a shop that names no present.
    pub today: NaiveDate,
}

/// What is asked for on the page.
#[derive(Debug)]
pub enum Asked {
    /// Write these rows.
    Write(Box<ImportBatch>),
    /// Read the files again.
    ReadAgain,
    /// Leave without writing.
    Leave,
}

/// What was read, with the user's answers.
#[derive(Debug)]
struct Read {
    outcome: Arc<ImportOutcome>,
    of_revision: u64,
    /// Per question: take the likely figure.
    taken: Vec<bool>,
    lines: Lines,
}

/// An import being looked through.
#[derive(Debug, Default)]
pub struct ImportPage {
    paths: Vec<PathBuf>,
    matched: Matched,
    reading: Option<(Task<Result<ImportOutcome, ImportError>>, u64)>,
    read: Option<Read>,
    failed: Option<String>,
    /// Rows that are good come in although others are refused.
    good_rows_alone: bool,
    chosen: usize,
    open: BTreeSet<Line>,
    preparing: Option<Task<ImportBatch>>,
    /// The result as counted, once it was sent off to be written.
    sent: Option<String>,
    visible: std::ops::Range<usize>,
}

impl ImportPage {
    /// Starts with files and folders.
    pub fn start(&mut self, ctx: &egui::Context, paths: Vec<PathBuf>, against: Against) {
        *self = Self { paths, ..Self::default() };
        self.read_files(ctx, against);
    }

    /// Reads the files (again).
    pub fn read_files(&mut self, ctx: &egui::Context, against: Against) {
        if let Some((running, _)) = &self.reading {
            running.stop();
        }
        let (paths, matched) = (self.paths.clone(), self.matched.clone());
        let Against { shop, revision, today } = against;
        let what = format!("reading {}", self.source_words());
        let task = Task::start(ctx, "import", what, move |pulse| {
            let (sources, remarks) = read_paths(&paths)?;
            let sources: Vec<_> = sources
                .into_iter()
                .map(|source| {
                    let name = source.name().to_owned();
                    let of_file = matched.iter().filter(|((file, _), _)| *file == name);
                    of_file.fold(source, |source, ((_, theirs), ours)| source.with_column(theirs, ours))
                })
                .collect();
            let mut outcome = import(&sources, &shop, today, pulse)?;
            outcome.report.notes.extend(remarks);
            outcome.report.notes.sort();
            Ok(outcome)
        });
        match task {
            Ok(task) => self.reading = Some((task, revision)),
            Err(sentence) => self.failed = Some(sentence),
        }
    }

    /// Whether something is on its way.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.reading.is_some() || self.preparing.is_some()
    }

    /// Stops reading.
    pub fn stop(&self) {
        if let Some((reading, _)) = &self.reading {
            reading.stop();
        }
    }

    /// The rows were written: the result as it was counted.
    pub fn written(&mut self) -> Option<String> {
        self.sent.take()
    }

    /// The rows could not be written; nothing came in.
    pub fn not_written(&mut self, sentence: &str) -> bool {
        let was_sent = self.sent.take().is_some();
        if was_sent {
            self.failed = Some(words::capital(sentence));
        }
        was_sent
    }

    fn source_words(&self) -> String {
        match self.paths.as_slice() {
            [one] => file_name(one),
            several => format!("{} files", several.len()),
        }
    }

    /// Takes in what the threads have ready.
    fn poll(&mut self) -> Option<Asked> {
        if let Some((reading, revision)) = &self.reading {
            let revision = *revision;
            match reading.poll() {
                Outcome::Running => {}
                Outcome::Done(Ok(outcome)) => self.take(outcome, revision),
                Outcome::Done(Err(ImportError::Cancelled(_))) => {
                    self.reading = None;
                    return self.read.is_none().then_some(Asked::Leave);
                }
                Outcome::Done(Err(error)) => {
                    self.reading = None;
                    self.failed = Some(words::capital(&crate::document::in_the_window(&error)));
                }
                Outcome::Lost => {
                    self.reading = None;
                    self.failed = Some("A fault in the program while the files were read".to_owned());
                }
            }
        }
        match self.preparing.as_ref().map(Task::poll) {
            Some(Outcome::Done(batch)) => {
                self.preparing = None;
                Some(Asked::Write(Box::new(batch)))
            }
            Some(Outcome::Lost) => {
                self.preparing = None;
                self.sent = None;
                self.failed = Some("A fault in the program while the rows were made ready".to_owned());
                None
            }
            Some(Outcome::Running) | None => None,
        }
    }

    fn take(&mut self, outcome: ImportOutcome, of_revision: u64) {
        self.reading = None;
        self.failed = None;
        let taken = vec![false; outcome.report.questions.len()];
        let outcome = Arc::new(outcome);
        let lines = Lines::of(&outcome.report, &self.open);
        self.chosen = lines.first_question().unwrap_or_else(|| lines.first_chosen());
        self.read = Some(Read { outcome, of_revision, taken, lines });
    }

    /// Draws the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>) -> Option<Asked> {
        let mut asked = self.poll();
        // The shop changed meanwhile: what is new and what is here has to be counted again.
        let is_stale = self.read.as_ref().is_some_and(|read| read.of_revision != context.revision);
        if is_stale && !self.is_busy() && self.sent.is_none() {
            asked = asked.or(Some(Asked::ReadAgain));
        }
        let from_keys = self.foot(ui, context);
        asked = asked.or(from_keys);
        self.read_out(ui);
        let margin = egui::Margin { left: MARGIN as i8, right: MARGIN as i8, top: 12, bottom: 0 };
        let frame = egui::Frame::new().fill(palette(ui).paper).inner_margin(margin);
        egui::CentralPanel::default().frame(frame).show(ui, |ui| {
            self.lead(ui, context);
            self.list(ui);
        });
        asked
    }

    /// All of the chosen line in words: in the table long sentences are cut.
    fn read_out(&self, ui: &mut egui::Ui) {
        let colours = palette(ui);
        let report = self.read.as_ref().map(|read| &read.outcome.report);
        let line = self.read.as_ref().and_then(|read| read.lines.list.get(self.chosen).copied());
        let first = self.chosen_questions().first().copied();
        let question = report.and_then(|report| report.questions.get(first?));
        let refused = match line {
            Some(Line::Refused(index)) => report.and_then(|report| report.refused.get(index)),
            _ => None,
        };
        let of_group = self.chosen_questions().len();
        let question = question.map(|question| match of_group {
            0 | 1 => question.to_string(),
            _ => format!("{}: {of_group} alike: {}", question.file, question.alike),
        });
        let text = question.or_else(|| refused.map(ToString::to_string));
        let margin = egui::Margin { left: MARGIN as i8, right: MARGIN as i8, top: 6, bottom: 6 };
        egui::Panel::bottom("read-out of the import")
            .exact_size(50.0)
            .resizable(false)
            .show_separator_line(false)
            .frame(egui::Frame::new().fill(colours.paper).inner_margin(margin))
            .show(ui, |ui| {
                let top = ui.max_rect().top() - 6.0;
                ui.painter().hline(ui.max_rect().x_range(), top, egui::Stroke::new(1.0, colours.ink));
                if let Some(text) = text {
                    ui.label(RichText::new(text).font(sans(size::BODY)));
                }
            });
    }

    fn may_write(&self, context: &PageContext<'_>) -> bool {
        context.entry_closed.is_none()
            && !self.is_busy()
            && self.sent.is_none()
            && self
                .read
                .as_ref()
                .is_some_and(|read| read.outcome.may_apply(self.good_rows_alone) && !read.outcome.batch.is_empty())
    }

    fn foot(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>) -> Option<Asked> {
        let may_write = self.may_write(context);
        let refused = self.read.as_ref().is_some_and(|read| read.outcome.report.refused_count > 0);
        let question = self.chosen_questions();
        let has_likely = self.has_likely(&question);
        let mut asked = None;
        let key =
            |ui: &mut egui::Ui, printed, does, enabled| foot_key(ui, FootKey { printed, does }, enabled).clicked();
        foot::frame(ui, |ui| {
            let ctrl_enter = ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, Key::Enter));
            let write = key(ui, "Ctrl Enter", "write", may_write);
            if (write || ctrl_enter) && may_write {
                self.prepare(ui.ctx());
            }
            if !question.is_empty() {
                if (key(ui, "Space", "take the likely figure", has_likely) || foot::pressed(ui, Key::Space))
                    && has_likely
                {
                    self.answer(&question, true);
                }
                if key(ui, "Enter", "keep as typed, doubted", true) || foot::pressed(ui, Key::Enter) {
                    self.answer(&question, false);
                }
            }
            if refused {
                let does = if self.good_rows_alone { "all or nothing" } else { "take the good rows alone" };
                if key(ui, "A", does, true) || foot::pressed(ui, Key::A) {
                    self.good_rows_alone = !self.good_rows_alone;
                }
            }
            if key(ui, "R", "read again", !self.is_busy()) || (foot::pressed(ui, Key::R) && !self.is_busy()) {
                asked = Some(Asked::ReadAgain);
            }
            if key(ui, "Esc", "leave", true) {
                asked = Some(Asked::Leave);
            }
        });
        self.move_by_arrows(ui);
        asked
    }

    /// Puts the answers into the rows, away from the frame, and then asks for writing.
    fn prepare(&mut self, ctx: &egui::Context) {
        let Some(read) = &self.read else { return };
        let answers: Vec<Answer> =
            read.taken.iter().enumerate().map(|(question, taken)| Answer { question, take_likely: *taken }).collect();
        let outcome = Arc::clone(&read.outcome);
        let work = move |_: &crate::task::Pulse| apply_answers((*outcome).clone(), &answers).batch;
        match Task::start(ctx, "import", "writing".to_owned(), work) {
            Ok(task) => {
                self.preparing = Some(task);
                self.sent = Some(read.outcome.report.summary());
            }
            Err(sentence) => self.failed = Some(words::capital(&sentence)),
        }
    }

    /// The sentence on what comes in, and what stands against it.
    fn lead(&self, ui: &mut egui::Ui, context: &PageContext<'_>) {
        let colours = palette(ui);
        let (urgent, rest) = self.lead_words(context);
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 8.0;
            if !urgent.is_empty() {
                ui.label(RichText::new(urgent).font(serif_semibold(size::LEAD)).color(colours.act));
            }
            ui.label(RichText::new(rest).font(serif(size::LEAD)));
        });
        ui.label(RichText::new(self.sources_in_words()).font(sans(size::LABEL)).color(colours.ink2));
        ui.add_space(8.0);
    }

    fn sources_in_words(&self) -> String {
        let paths: Vec<String> = self.paths.iter().map(|path| path.display().to_string()).collect();
        format!("from {}", paths.join(", "))
    }

    fn lead_words(&self, context: &PageContext<'_>) -> (String, String) {
        if let Some(failed) = &self.failed {
            return (format!("{failed}."), "Nothing was written.".to_owned());
        }
        if let Some((reading, _)) = &self.reading {
            let words = crate::app::with_progress(&words::capital(&reading.what), reading.progress());
            return (String::new(), format!("{words}; Esc stops."));
        }
        let Some(read) = &self.read else { return (String::new(), String::new()) };
        if self.sent.is_some() {
            return (String::new(), format!("Writing: {}.", read.outcome.report.summary()));
        }
        if let Some(closed) = context.entry_closed {
            return (format!("{}.", words::capital(closed)), read.outcome.report.summary());
        }
        let report = &read.outcome.report;
        let counted = format!("{}.", report.summary());
        if report.refused_count > 0 && !self.good_rows_alone {
            let (rows, are) = if report.refused_count == 1 { ("row", "is") } else { ("rows", "are") };
            let count = words::capital(&words::count_words(report.refused_count));
            let urgent = format!("{count} {rows} {are} refused, so nothing comes in.");
            return (urgent, format!("Mend the file and read it again, or take the good rows alone: {counted}"));
        }
        if read.outcome.batch.is_empty() {
            return (String::new(), format!("There is nothing to write: {counted}"));
        }
        let taken = read.taken.iter().filter(|taken| **taken).count();
        let answers = match (report.question_count, taken) {
            (0, _) => String::new(),
            (_, 0) => " Questioned figures come in as typed, marked as doubted.".to_owned(),
            (all, taken) => format!(" The likely figure is taken for {taken} of {all}; the others stay doubted."),
        };
        (String::new(), format!("{counted}{answers} Nothing is written until Ctrl Enter."))
    }

    /// The questions of the chosen line.
    fn chosen_questions(&self) -> Vec<usize> {
        let Some(read) = &self.read else { return Vec::new() };
        match read.lines.list.get(self.chosen) {
            Some(Line::Group(group)) => read.lines.groups.get(*group).cloned().unwrap_or_default(),
            Some(Line::Question(question)) => vec![*question],
            _ => Vec::new(),
        }
    }

    fn has_likely(&self, questions: &[usize]) -> bool {
        let Some(read) = &self.read else { return false };
        questions.iter().any(|index| read.outcome.report.questions.get(*index).is_some_and(|q| q.likely.is_some()))
    }

    fn answer(&mut self, questions: &[usize], take: bool) {
        let Some(read) = &mut self.read else { return };
        for index in questions {
            let has_likely =
                read.outcome.report.questions.get(*index).is_some_and(|question| question.likely.is_some());
            if let Some(taken) = read.taken.get_mut(*index) {
                *taken = take && has_likely;
            }
        }
        if let Some(next) = read.lines.next_question(self.chosen) {
            self.chosen = next;
        }
    }

    /// Up and down between lines; right and left open and close.
    fn move_by_arrows(&mut self, ui: &egui::Ui) {
        let Some(read) = &self.read else { return };
        let mut chosen = self.chosen;
        if foot::pressed(ui, Key::ArrowDown) {
            chosen = read.lines.next(chosen);
        }
        if foot::pressed(ui, Key::ArrowUp) {
            chosen = read.lines.previous(chosen);
        }
        if foot::pressed(ui, Key::Home) {
            chosen = read.lines.first_chosen();
        }
        if foot::pressed(ui, Key::End) {
            chosen = read.lines.previous(read.lines.list.len());
        }
        if foot::pressed(ui, Key::PageDown) {
            chosen = (0..20).fold(chosen, |chosen, _| read.lines.next(chosen));
        }
        if foot::pressed(ui, Key::PageUp) {
            chosen = (0..20).fold(chosen, |chosen, _| read.lines.previous(chosen));
        }
        self.chosen = chosen;
        let line = self.read.as_ref().and_then(|read| read.lines.list.get(self.chosen).copied());
        let opens = foot::pressed(ui, Key::ArrowRight);
        let closes = foot::pressed(ui, Key::ArrowLeft);
        if let Some(line) = line.filter(|_| opens || closes) {
            self.set_open(line, opens);
        }
    }

    fn set_open(&mut self, line: Line, open: bool) {
        if open {
            self.open.insert(line)
        } else {
            self.open.remove(&line)
        };
        if let Some(read) = &mut self.read {
            read.lines = Lines::of(&read.outcome.report, &self.open);
            self.chosen = read.lines.list.iter().position(|other| *other == line).unwrap_or(0);
        }
    }

    /// All lines; only those in sight are laid out.
    fn list(&mut self, ui: &mut egui::Ui) {
        let Some(read) = &self.read else { return };
        let count = read.lines.list.len();
        let mut area = egui::ScrollArea::vertical().auto_shrink(false);
        let entered = self.chosen_questions().is_empty() && foot::pressed(ui, Key::Enter);
        let in_sight = self.visible.len().max(1);
        if !self.visible.is_empty() && !(self.visible.start..self.visible.end.saturating_sub(1)).contains(&self.chosen)
        {
            let first = if self.chosen < self.visible.start {
                self.chosen
            } else {
                self.chosen + 2 - in_sight.min(self.chosen + 2)
            };
            area = area.vertical_scroll_offset(first as f32 * LIST_ROW);
        }
        ui.spacing_mut().item_spacing.y = 0.0;
        let mut events = Vec::new();
        let shown = area.show_rows(ui, LIST_ROW, count, |ui, range| {
            for index in range.clone() {
                if let Some(line) = read.lines.list.get(index) {
                    let chosen = index == self.chosen;
                    let open = self.open.contains(line);
                    let row = rows::Row { read, line: *line, chosen, open, entered: entered && chosen };
                    if let Some(event) = row.ui(ui) {
                        events.push((index, *line, event));
                    }
                }
            }
            range
        });
        self.visible = shown.inner;
        for (index, line, event) in events {
            self.chosen = index;
            match event {
                rows::Event::Chosen => {}
                rows::Event::Toggle => {
                    let is_open = self.open.contains(&line);
                    self.set_open(line, !is_open);
                }
                rows::Event::Match { file, theirs, ours } => {
                    self.matched.insert((file, theirs), ours);
                    self.read = None;
                    return;
                }
            }
        }
    }

    /// A column was matched: the files have to be read again.
    #[must_use]
    pub fn wants_reading(&self) -> bool {
        self.read.is_none() && self.reading.is_none() && self.failed.is_none() && !self.paths.is_empty()
    }
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}
