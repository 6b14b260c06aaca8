//! The thread that reckons pretended figures: the latest request wins.

use crate::results::Figures;
use almanac_core::forecast::{ForecastBasis, ForecastConfig, Groups, Progress, ShopForecast};
use almanac_core::ids::SpindleId;
use almanac_core::shop::Shop;
use almanac_core::what_if::{Basis, ComparedShop, NotCompared, WhatIf, compare};
use eframe::egui;
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

/// What is to be reckoned.
#[derive(Debug)]
pub(super) struct Job {
    pub(super) ticket: u64,
    /// The shop as known on the day of the figures.
    pub(super) known: Arc<Shop>,
    /// The figures in force.
    pub(super) figures: Figures,
    pub(super) what_if: WhatIf,
    pub(super) spindles: Arc<BTreeSet<SpindleId>>,
}

/// What came of it.
#[derive(Debug)]
pub(super) struct Answer {
    pub(super) ticket: u64,
    /// The figures in force to which it belongs.
    pub(super) figures: Figures,
    pub(super) outcome: Result<Box<ComparedShop>, String>,
}

/// The window's end of the thread.
#[derive(Debug)]
pub(super) struct Reckoner {
    jobs: Sender<Job>,
    answers: Receiver<Answer>,
    wanted: Arc<AtomicU64>,
    is_busy: bool,
}

impl Reckoner {
    /// Starts the thread.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub(super) fn start(ctx: &egui::Context) -> Result<Self, String> {
        let wanted = Arc::new(AtomicU64::new(0));
        let (jobs, inbox) = channel();
        let (outbox, answers) = channel();
        let thread = Thread { wanted: Arc::clone(&wanted), ctx: ctx.clone(), outbox, groups: None };
        std::thread::Builder::new()
            .name("what if".to_owned())
            .spawn(move || thread.run(&inbox))
            .map_err(|error| format!("no thread could be started for the what-if: {error}"))?;
        Ok(Self { jobs, answers, wanted, is_busy: false })
    }

    /// Asks for figures; what is being reckoned for an older request is given up.
    ///
    /// # Errors
    /// A sentence where the thread is gone.
    pub(super) fn request(&mut self, job: Job) -> Result<(), String> {
        self.wanted.store(job.ticket, Ordering::Relaxed);
        self.is_busy = true;
        self.jobs.send(job).map_err(|_gone| {
            self.is_busy = false;
            "the what-if can no longer be reckoned: open the shop again".to_owned()
        })
    }

    /// Gives up what is being reckoned.
    pub(super) fn give_up(&mut self) {
        self.wanted.store(0, Ordering::Relaxed);
        self.is_busy = false;
    }

    pub(super) const fn is_busy(&self) -> bool {
        self.is_busy
    }

    /// What came in since the last call.
    pub(super) fn poll(&mut self) -> Vec<Answer> {
        let came: Vec<Answer> = self.answers.try_iter().collect();
        let wanted = self.wanted.load(Ordering::Relaxed);
        if came.iter().any(|answer| answer.ticket == wanted) {
            self.is_busy = false;
        }
        came
    }
}

struct Thread {
    wanted: Arc<AtomicU64>,
    ctx: egui::Context,
    outbox: Sender<Answer>,
    /// What the spindles of the figures in force have in common, once it was worked out.
    groups: Option<(Arc<ShopForecast>, Groups)>,
}

/// Goes on while its request is the one that is wanted.
struct Watch<'a> {
    wanted: &'a AtomicU64,
    ticket: u64,
}

impl Progress for Watch<'_> {
    fn step(&self, _done: usize, _total: usize) -> bool {
        self.wanted.load(Ordering::Relaxed) == self.ticket
    }
}

impl Thread {
    fn run(mut self, inbox: &Receiver<Job>) {
        while let Ok(mut job) = inbox.recv() {
            while let Ok(later) = inbox.try_recv() {
                job = later;
            }
            // A fault in the projection must not take the window down with it.
            let outcome = match catch_unwind(AssertUnwindSafe(|| self.reckon(&job))) {
                Ok(Ok(compared)) => Ok(Box::new(compared)),
                Ok(Err(NotCompared::Cancelled(_))) => continue,
                Ok(Err(refused)) => Err(refused.to_string()),
                Err(_) => Err("the what-if could not be reckoned: a fault in the projection; the shop is not \
                               affected, change a figure or leave with Esc"
                    .to_owned()),
            };
            let Job { ticket, figures, .. } = job;
            if self.outbox.send(Answer { ticket, figures, outcome }).is_err() {
                return;
            }
            self.ctx.request_repaint();
        }
    }

    fn reckon(&mut self, job: &Job) -> Result<ComparedShop, NotCompared> {
        let watch = Watch { wanted: &self.wanted, ticket: job.ticket };
        let Figures { forecast, due, fits, .. } = &job.figures;
        let groups = match &self.groups {
            Some((of, groups)) if Arc::ptr_eq(of, forecast) => groups.clone(),
            _ => {
                let config = ForecastConfig::of(&job.known);
                let basis = ForecastBasis::of(&job.known, forecast.as_of, &config, fits, &watch)?;
                let groups = basis.groups().clone();
                self.groups = Some((Arc::clone(forecast), groups.clone()));
                groups
            }
        };
        let basis = Basis { shop: &job.known, forecast, due, fits, groups: &groups };
        compare(basis, &job.what_if, &job.spindles, &watch)
    }
}
