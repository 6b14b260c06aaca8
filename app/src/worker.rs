//! The one thread that computes figures: the latest request wins, older ones are given up.

use crate::results::{Computed, Figures};
use almanac_core::due::due_list;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{ForecastConfig, Progress, project_shop};
use almanac_core::shop::Shop;
use chrono::NaiveDate;
use eframe::egui;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A shop to be projected.
#[derive(Debug)]
pub struct Job {
    /// The revision it stands for.
    pub revision: u64,
    /// What was known on the day.
    pub known: Arc<Shop>,
    /// The day.
    pub as_of: NaiveDate,
}

#[derive(Debug, Default)]
struct Shared {
    /// The revision that is wanted; anything else is given up.
    wanted: AtomicU64,
    done: AtomicUsize,
    total: AtomicUsize,
}

/// The window's end of the thread.
#[derive(Debug)]
pub struct Worker {
    jobs: Option<Sender<Job>>,
    results: Receiver<Computed>,
    shared: Arc<Shared>,
    requested: u64,
    answered: u64,
    requested_at: Instant,
}

impl Worker {
    /// Starts the thread.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn start(ctx: &egui::Context) -> Result<Self, String> {
        let shared = Arc::new(Shared::default());
        let (jobs, inbox) = channel::<Job>();
        let (outbox, results) = channel();
        let thread = Thread { shared: Arc::clone(&shared), ctx: ctx.clone(), outbox };
        std::thread::Builder::new()
            .name("figures".to_owned())
            .spawn(move || thread.run(&inbox))
            .map_err(|error| format!("no thread could be started for the figures: {error}"))?;
        Ok(Self { jobs: Some(jobs), results, shared, requested: 0, answered: 0, requested_at: Instant::now() })
    }

    /// Asks for figures; what is being computed for an older revision is given up.
    pub fn request(&mut self, job: Job) {
        self.requested = job.revision;
        self.requested_at = Instant::now();
        self.shared.wanted.store(job.revision, Ordering::Relaxed);
        self.shared.total.store(0, Ordering::Relaxed);
        if self.jobs.as_ref().is_none_or(|jobs| jobs.send(job).is_err()) {
            self.answered = self.requested;
        }
    }

    /// Gives up what is being computed.
    pub fn stop(&mut self) {
        self.shared.wanted.store(0, Ordering::Relaxed);
        self.answered = self.requested;
    }

    /// The revision that was asked for last.
    #[must_use]
    pub const fn requested(&self) -> u64 {
        self.requested
    }

    /// What came in since the last call.
    pub fn poll(&mut self) -> Vec<Computed> {
        let came: Vec<Computed> = self.results.try_iter().collect();
        for computed in &came {
            self.answered = self.answered.max(computed.revision);
        }
        came
    }

    /// Whether figures are being computed.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.answered < self.requested
    }

    /// Whether it takes so long that one may want to stop it.
    #[must_use]
    pub fn is_slow(&self) -> bool {
        self.is_busy() && self.requested_at.elapsed() > Duration::from_millis(700)
    }

    /// How far it is; `None`: nothing is being computed.
    #[must_use]
    pub fn progress(&self) -> Option<(usize, usize)> {
        let total = self.shared.total.load(Ordering::Relaxed);
        self.is_busy().then(|| (self.shared.done.load(Ordering::Relaxed), total))
    }
}

struct Thread {
    shared: Arc<Shared>,
    ctx: egui::Context,
    outbox: Sender<Computed>,
}

/// Progress of one job: goes on while its revision is the one that is wanted.
struct Watch<'a> {
    shared: &'a Shared,
    ctx: &'a egui::Context,
    revision: u64,
    last_repaint: Mutex<Instant>,
}

impl Progress for Watch<'_> {
    fn step(&self, done: usize, total: usize) -> bool {
        if self.shared.wanted.load(Ordering::Relaxed) != self.revision {
            return false;
        }
        self.shared.done.store(done, Ordering::Relaxed);
        self.shared.total.store(total, Ordering::Relaxed);
        if let Ok(mut last) = self.last_repaint.try_lock()
            && last.elapsed() >= Duration::from_millis(100)
        {
            *last = Instant::now();
            self.ctx.request_repaint();
        }
        true
    }
}

impl Thread {
    fn run(&self, inbox: &Receiver<Job>) {
        while let Ok(mut job) = inbox.recv() {
            while let Ok(later) = inbox.try_recv() {
                job = later;
            }
            let watch = Watch {
                shared: &self.shared,
                ctx: &self.ctx,
                revision: job.revision,
                last_repaint: Mutex::new(Instant::now()),
            };
            // A fault in the projection must not take the entry of readings down with it.
            let figures = match catch_unwind(AssertUnwindSafe(|| figures_of(&job, &watch))) {
                Ok(Some(figures)) => Ok(figures),
                Ok(None) => continue,
                Err(_) => Err("the figures could not be computed: a fault in the projection; \
                               the shop is not affected, and the figures shown are older"
                    .to_owned()),
            };
            if self.outbox.send(Computed { revision: job.revision, figures }).is_err() {
                return;
            }
            self.ctx.request_repaint();
        }
    }
}

/// `None`: no longer wanted.
fn figures_of(job: &Job, watch: &Watch<'_>) -> Option<Figures> {
    let config = ForecastConfig::of(&job.known);
    let fits = Arc::new(ShopFits::fit(&job.known, job.as_of, watch).ok()?);
    let forecast = project_shop(&job.known, job.as_of, &config, &fits, watch).ok()?;
    let due = due_list(&job.known, &forecast);
    Some(Figures { forecast: Arc::new(forecast), due: Arc::new(due), fits })
}
