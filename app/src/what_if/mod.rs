//! What if: figures pretended beside those in force, and nothing written.
//!
//! The strip under the head holds a draft of texts. As soon as it makes sense a thread of its own
//! reckons the pretended figures; the pages then show those, with the figures in force beside them.

pub mod draft;
mod reckoner;
mod strip;

use crate::document::Snapshot;
use crate::forms::draft::{Draft, FieldErrors};
use crate::pages::{Page, PageContext};
use crate::results::Figures;
use almanac_core::due::{DueList, DueRow};
use almanac_core::forecast::{ShopForecast, SpindleForecast};
use almanac_core::ids::SpindleId;
use almanac_core::shop::Shop;
use almanac_core::what_if::{ComparedShop, WhatIf};
use eframe::egui;
use reckoner::{Job, Reckoner};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Said while it is on, wherever something would be entered.
pub const ENTRY_CLOSED: &str = "entry is closed while a what-if is shown: Esc ends it";
/// What the head says of it.
pub const IN_HEAD: &str = "what if: nothing is saved; Esc ends";

/// What of the shop is pretended about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Of {
    /// The spindle of the page, or of the chosen row.
    #[default]
    ThisSpindle,
    /// All rows that the due page shows.
    AllShown,
}

impl Of {
    /// The words of the choice.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::ThisSpindle => "this spindle",
            Self::AllShown => "all shown",
        }
    }
}

/// Figures in force and pretended ones.
#[derive(Debug)]
pub struct Shown {
    /// The projection in force.
    pub before: Arc<ShopForecast>,
    /// The due list in force.
    pub before_due: Arc<DueList>,
    /// The pretended figures and what follows from them.
    pub compared: ComparedShop,
    /// Changes with every new set of pretended figures; above all revisions of figures in force.
    pub figures_revision: u64,
}

impl Shown {
    /// The projection in force of a spindle of which something is pretended.
    #[must_use]
    pub fn before_of(&self, spindle: SpindleId) -> Option<&SpindleForecast> {
        self.compared.spindles.get(&spindle).map(|both| &*both.before)
    }

    /// The row in force of a spindle of which something is pretended.
    #[must_use]
    pub fn row_before(&self, spindle: SpindleId) -> Option<&DueRow> {
        self.compared.spindles.get(&spindle)?;
        self.before_due.rows.iter().find(|row| row.spindle == spindle)
    }
}

/// The same context with the pretended figures in place of those in force.
#[must_use]
pub fn over<'a>(context: PageContext<'a>, shown: Option<&'a Shown>) -> PageContext<'a> {
    match shown {
        Some(shown) => PageContext {
            forecast: Some(&shown.compared.forecast),
            due: Some(&shown.compared.due),
            figures_revision: shown.figures_revision,
            what_if: Some(shown),
            ..context
        },
        None => context,
    }
}

/// What was asked of the thread.
#[derive(Debug, Clone, PartialEq)]
struct Asked {
    /// Revision of the figures in force.
    figures: u64,
    what_if: WhatIf,
    spindles: Arc<BTreeSet<SpindleId>>,
}

/// A what-if that is on.
#[derive(Debug, Default)]
struct Open {
    draft: Draft,
    of: Of,
    /// The spindle of the last frame.
    spindle: Option<SpindleId>,
    asked: Option<Asked>,
    shown: Option<Arc<Shown>>,
    /// Why the last request was refused.
    refused: Option<String>,
    wants_focus: bool,
    had_focus: bool,
}

/// Whose figures are pretended about, as the page stands.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The spindle of the page, or of the chosen row.
    pub spindle: Option<SpindleId>,
    /// The rows that the due page shows.
    pub shown: &'a Arc<BTreeSet<SpindleId>>,
    /// The open page.
    pub page: Page,
}

/// The what-if of the window, if one is on, and its thread.
#[derive(Debug, Default)]
pub struct WhatIfMode {
    open: Option<Open>,
    reckoner: Option<Reckoner>,
    tickets: u64,
}

/// Pretended figures count above those in force, so that no cache takes the one for the other.
const FIRST_FIGURES: u64 = 1 << 40;

impl WhatIfMode {
    /// Whether one is on.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.open.is_some()
    }

    /// Whether figures are being reckoned.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.open.is_some() && self.reckoner.as_ref().is_some_and(Reckoner::is_busy)
    }

    /// Begins one, or leads back into its fields.
    pub fn begin(&mut self, of: Of) {
        let open = self.open.get_or_insert_with(|| Open { of, ..Open::default() });
        open.wants_focus = true;
    }

    /// Ends it: everything is as before.
    pub fn end(&mut self) {
        self.open = None;
        if let Some(reckoner) = &mut self.reckoner {
            reckoner.give_up();
        }
    }

    /// The pretended figures, where there are some.
    #[must_use]
    pub fn shown(&self) -> Option<Arc<Shown>> {
        self.open.as_ref()?.shown.clone()
    }

    /// One frame: the strip over the page, then what must be reckoned. On a page that shows no
    /// forecast a what-if ends.
    ///
    /// # Errors
    /// A sentence where nothing can be reckoned.
    pub fn frame(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        subject: Subject<'_>,
        (in_force, esc_is_free): (Option<(&Snapshot, &Figures)>, bool),
    ) -> Result<(), String> {
        if !matches!(subject.page, Page::Due | Page::Spindle(_)) {
            if self.is_on() {
                self.end();
            }
            return Ok(());
        }
        self.ui(ui, context, subject, esc_is_free);
        match in_force.filter(|_| context.is_current) {
            Some((snapshot, figures)) => self.ask(ui.ctx(), &snapshot.known, figures, context, subject),
            None => Ok(()),
        }
    }

    /// Draws the strip over the page; ends the what-if where that is asked for.
    fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, subject: Subject<'_>, esc_is_free: bool) {
        let is_busy = self.is_busy();
        let Some(open) = &mut self.open else { return };
        if open.spindle != subject.spindle {
            // a reading or a service was pretended of the other one
            if open.spindle.is_some() {
                draft::forget_records(&mut open.draft);
            }
            open.spindle = subject.spindle;
        }
        if strip::ui(ui, open, context, subject, (is_busy, esc_is_free)) {
            self.end();
        }
    }

    /// What is wrong with what stands in the fields.
    fn parsed(open: &Open, shop: &Shop, context: &PageContext<'_>) -> Result<WhatIf, FieldErrors> {
        draft::what_if(&open.draft, shop, context.as_of, open.of)
    }

    /// Asks the thread for pretended figures where something changed.
    fn ask(
        &mut self,
        ctx: &egui::Context,
        known: &Arc<Shop>,
        figures: &Figures,
        context: &PageContext<'_>,
        subject: Subject<'_>,
    ) -> Result<(), String> {
        let Some(open) = &mut self.open else { return Ok(()) };
        let Ok(what_if) = Self::parsed(open, known, context) else { return Ok(()) };
        if what_if.is_empty() {
            (open.asked, open.shown, open.refused) = (None, None, None);
            return Ok(());
        }
        let spindles = match open.of {
            Of::AllShown => Arc::clone(subject.shown),
            Of::ThisSpindle => Arc::new(subject.spindle.into_iter().collect()),
        };
        let asked = Asked { figures: context.figures_revision, what_if, spindles };
        if open.asked.as_ref() == Some(&asked) {
            return Ok(());
        }
        let reckoner = match &mut self.reckoner {
            Some(reckoner) => reckoner,
            none => none.insert(Reckoner::start(ctx)?),
        };
        self.tickets += 1;
        reckoner.request(Job {
            ticket: self.tickets,
            known: Arc::clone(known),
            figures: figures.clone(),
            what_if: asked.what_if.clone(),
            spindles: Arc::clone(&asked.spindles),
        })?;
        open.asked = Some(asked);
        Ok(())
    }

    /// Takes in what the thread has ready; an answer to anything but the last request is dropped.
    pub fn take_answers(&mut self) {
        let Some(reckoner) = &mut self.reckoner else { return };
        for answer in reckoner.poll() {
            let Some(open) = self.open.as_mut().filter(|open| open.asked.is_some()) else { continue };
            if answer.ticket != self.tickets {
                continue;
            }
            match answer.outcome {
                Ok(compared) => {
                    open.refused = None;
                    open.shown = Some(Arc::new(Shown {
                        before: answer.figures.forecast,
                        before_due: answer.figures.due,
                        compared: *compared,
                        figures_revision: FIRST_FIGURES + answer.ticket,
                    }));
                }
                Err(sentence) => open.refused = Some(sentence),
            }
        }
    }
}
