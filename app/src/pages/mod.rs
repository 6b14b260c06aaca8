//! The pages, what they can see, and what they can ask for.
//!
//! A page reads [`PageContext`] and pushes [`Request`]s. It never reaches the shop file.

pub mod due;
pub mod import;
pub mod orders;
pub mod shop;
pub mod spindle;
pub mod week_plan;
pub mod welcome;

use crate::worker::Doing;
use almanac_core::actions::Action;
use almanac_core::best_interval::IntervalOrNot;
use almanac_core::due::DueList;
use almanac_core::forecast::ShopForecast;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::ids::SpindleId;
use almanac_core::shop::Shop;
use chrono::NaiveDate;

/// A place in the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Page {
    /// What needs service before when.
    Due,
    /// One spindle.
    Spindle(SpindleId),
    /// Where each service goes, and what that costs.
    WeekPlan,
    /// Work orders, and what is to book.
    Orders,
    /// Registers and settings.
    Shop,
    /// An import being looked through.
    Import,
    /// No shop is open.
    Welcome,
}

/// All that a page can see.
#[derive(Debug, Clone, Copy)]
pub struct PageContext<'a> {
    /// The shop as it was known on `as_of`: what the page shows.
    pub shop: &'a Shop,
    /// The whole shop: superseded records, later entries.
    pub whole: &'a Shop,
    /// The projection from `as_of`, maybe of an earlier revision; `None`: not computed yet.
    pub forecast: Option<&'a ShopForecast>,
    /// The due list that belongs to `forecast`.
    pub due: Option<&'a DueList>,
    /// What the shop taught, on which `forecast` rests.
    pub fits: Option<&'a ShopFits>,
    /// What is known of the intervals of each interface; empty until worked out.
    pub intervals: &'a [IntervalOrNot],
    /// Changes with every change of the shop or of the as-of day; the key for caches.
    pub revision: u64,
    /// Changes with every new forecast; the key for caches of drawn figures.
    pub figures_revision: u64,
    /// Whether `forecast` belongs to `revision`; else its figures are drawn in second ink.
    pub is_current: bool,
    /// What is being worked out, and how far it is; `None`: nothing.
    pub doing: Option<Doing>,
    /// The day at which the shop is looked at.
    pub as_of: NaiveDate,
    /// The day that stands for now.
    pub present: NaiveDate,
    /// Why nothing can be entered, in words; `None`: entry is open.
    pub entry_closed: Option<&'a str>,
    /// The latest entries of the journal, newest first.
    pub journal: &'a [almanac_core::store::JournalEntry],
    /// The figures are pretended; with those in force beside them.
    pub what_if: Option<&'a crate::what_if::Shown>,
}

/// Which form is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A force or setting-dimension reading of a spindle.
    Reading(SpindleId),
    /// A meter reading of a spindle.
    Meter(SpindleId),
    /// A service of a spindle with as-found and as-left readings.
    Service(SpindleId),
    /// A correction of a reading.
    CorrectReading(almanac_core::ids::ReadingId),
    /// A correction of a service.
    CorrectService(almanac_core::ids::ServiceId),
    /// A correction of a meter reading.
    CorrectMeter(almanac_core::ids::MeterReadingId),
    /// A machine with its spindle, for a start from nothing.
    FirstMachine,
    /// Another spindle comes into the position of this one.
    Exchange(SpindleId),
    /// A row of a register, by its row number; `None`: a new one.
    Row(shop::registers::RegisterKind, Option<i64>),
}

/// What a page asks the program to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Request {
    /// Change the shop.
    Perform(Box<Action>),
    /// Go to a page.
    Go(Page),
    /// Back to where one came from.
    Back,
    /// Open a form over the page.
    OpenForm(Form),
    /// Close the open form.
    CloseForm,
    /// Pretend something, and see the dates that would follow.
    WhatIf(crate::what_if::Of),
    /// Look at the shop as known on a day.
    LookAsOf(NaiveDate),
    /// Ask for a place and write the work-order list there.
    ExportList,
    /// Ask for a place and write what parts are to be ordered there.
    ExportParts,
    /// A gesture of the program, such as undo or importing a folder.
    Run(crate::command::Command),
    /// Something about the plan.
    Plan(crate::planner::Ask),
    /// Tell the user something, in one sentence.
    Notice(String),
    /// Tell the user why something cannot be done, in one sentence.
    Trouble(String),
}

/// The requests of one frame, in the order in which they were made.
#[derive(Debug, Default)]
pub struct Requests {
    list: Vec<Request>,
}

impl Requests {
    /// Adds one.
    pub fn push(&mut self, request: Request) {
        self.list.push(request);
    }

    /// Adds a change of the shop.
    pub fn perform(&mut self, action: Action) {
        self.push(Request::Perform(Box::new(action)));
    }

    /// Takes all out.
    pub fn take(&mut self) -> Vec<Request> {
        std::mem::take(&mut self.list)
    }
}
