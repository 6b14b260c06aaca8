//! The one thread that computes figures: the latest request wins, older ones are given up. Where
//! nothing was learnt from a shop yet it learns first; where that is old, after the figures.

use crate::results::{Computed, Figures};
use almanac_core::best_interval::best_intervals;
use almanac_core::due::due_list;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::next_reading::next_readings;
use almanac_core::forecast::refit::needs_refit;
use almanac_core::forecast::{ForecastBasis, ForecastConfig, Progress};
use almanac_core::shop::Shop;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Whether a job may learn from the shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Learning {
    /// Where nothing was learnt yet, or what was no longer does.
    AsNeeded,
    /// In any case: the user asked for it.
    Anew,
    /// Not: the user stopped it.
    Not,
}

/// A shop to be projected.
#[derive(Debug)]
pub struct Job {
    /// Which of the shops that were opened in this window.
    pub shop: u64,
    /// The revision it stands for.
    pub revision: u64,
    /// What was known on the day.
    pub known: Arc<Shop>,
    /// The day.
    pub as_of: NaiveDate,
    /// What the shop taught last, not later than the day.
    pub fits: Option<Arc<ShopFits>>,
    /// Whether it may learn.
    pub learning: Learning,
}

/// What the thread is at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// Spindles are projected: done, of how many.
    Projecting(usize, usize),
    /// The shop is learnt from.
    Learning {
        /// From so many readings.
        readings: usize,
        /// Interfaces done.
        done: usize,
        /// Of how many.
        interfaces: usize,
    },
}

impl Doing {
    /// `updating, 412 of 2,000` or `learning from 412 readings, 3 of 7 interfaces`.
    #[must_use]
    pub fn in_words(self) -> String {
        let count = |count: usize| words::number(count as f64, 0);
        match self {
            Self::Projecting(_, 0) => "updating".to_owned(),
            Self::Projecting(done, total) => format!("updating, {} of {}", count(done), count(total)),
            Self::Learning { readings, interfaces: 0, .. } => format!("learning from {} readings", count(readings)),
            Self::Learning { readings, done, interfaces } if done >= interfaces => {
                format!("learning from {} readings, all interfaces together", count(readings))
            }
            Self::Learning { readings, done, interfaces } => {
                let word = if interfaces == 1 { "interface" } else { "interfaces" };
                format!("learning from {} readings, {} of {} {word}", count(readings), count(done), count(interfaces))
            }
        }
    }

    /// What Esc does.
    #[must_use]
    pub const fn stops(self) -> &'static str {
        match self {
            Self::Projecting(..) => "stop updating",
            Self::Learning { .. } => "stop learning",
        }
    }
}

/// What the thread has to tell.
#[derive(Debug)]
pub enum News {
    /// Figures, or why there are none.
    Figures(Computed),
    /// What the shop taught, to be kept.
    Learnt(Arc<ShopFits>),
    /// Learning was stopped by the user.
    LearningStopped,
}

enum Message {
    News(u64, News),
    /// All that a request asked for is there.
    Done(u64),
}

#[derive(Debug, Default)]
struct Shared {
    /// The request that is wanted; anything else is given up.
    wanted: AtomicU64,
    /// The request that is to learn no further.
    learnt_enough: AtomicU64,
    is_learning: AtomicBool,
    readings: AtomicUsize,
    done: AtomicUsize,
    total: AtomicUsize,
}

/// The window's end of the thread.
#[derive(Debug)]
pub struct Worker {
    jobs: Option<Sender<(u64, Job)>>,
    messages: Receiver<Message>,
    shared: Arc<Shared>,
    /// Of the last request.
    shop: u64,
    revision: u64,
    /// Requests are counted.
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
        let (jobs, inbox) = channel();
        let (outbox, messages) = channel();
        let thread = Thread { shared: Arc::clone(&shared), ctx: ctx.clone(), outbox };
        std::thread::Builder::new()
            .name("figures".to_owned())
            .spawn(move || thread.run(&inbox))
            .map_err(|error| format!("no thread could be started for the figures: {error}"))?;
        let requested_at = Instant::now();
        Ok(Self { jobs: Some(jobs), messages, shared, shop: 0, revision: 0, requested: 0, answered: 0, requested_at })
    }

    /// Asks for figures; what is being computed for an older request is given up.
    pub fn request(&mut self, job: Job) {
        self.requested += 1;
        self.requested_at = Instant::now();
        (self.shop, self.revision) = (job.shop, job.revision);
        self.shared.wanted.store(self.requested, Ordering::Relaxed);
        self.shared.total.store(0, Ordering::Relaxed);
        self.shared.is_learning.store(false, Ordering::Relaxed);
        if self.jobs.as_ref().is_none_or(|jobs| jobs.send((self.requested, job)).is_err()) {
            self.answered = self.requested;
        }
    }

    /// Stops what is being done: learning first, so that figures come from what there is; else the
    /// figures, so that the old ones stay.
    pub fn stop(&mut self) {
        if self.shared.is_learning.load(Ordering::Relaxed) {
            self.shared.learnt_enough.store(self.requested, Ordering::Relaxed);
        } else {
            self.give_up();
        }
    }

    /// Nothing that was requested is wanted any more.
    pub fn give_up(&mut self) {
        self.shared.wanted.store(0, Ordering::Relaxed);
        self.answered = self.requested;
    }

    /// The revision that was asked for last.
    #[must_use]
    pub const fn revision(&self) -> u64 {
        self.revision
    }

    /// What came in since the last call, of the shop that was asked for last.
    pub fn poll(&mut self) -> Vec<News> {
        let mut came = Vec::new();
        for message in self.messages.try_iter() {
            match message {
                Message::News(shop, news) if shop == self.shop => came.push(news),
                Message::News(..) => {}
                Message::Done(request) => self.answered = self.answered.max(request),
            }
        }
        came
    }

    /// Whether figures are being computed, or the shop is learnt from.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.answered < self.requested
    }

    /// Whether it takes so long that one may want to stop it.
    #[must_use]
    pub fn is_slow(&self) -> bool {
        self.is_busy() && self.requested_at.elapsed() > Duration::from_millis(700)
    }

    /// What is being done and how far it is; `None`: nothing.
    #[must_use]
    pub fn doing(&self) -> Option<Doing> {
        let of = |figure: &AtomicUsize| figure.load(Ordering::Relaxed);
        let Shared { is_learning, readings, done, total, .. } = &*self.shared;
        self.is_busy().then(|| match is_learning.load(Ordering::Relaxed) {
            true => Doing::Learning { readings: of(readings), done: of(done), interfaces: of(total) },
            false => Doing::Projecting(of(done), of(total)),
        })
    }
}

struct Thread {
    shared: Arc<Shared>,
    ctx: egui::Context,
    outbox: Sender<Message>,
}

/// Progress of one request: goes on while it is the one that is wanted.
struct Watch<'a> {
    shared: &'a Shared,
    ctx: &'a egui::Context,
    request: u64,
    last_repaint: Mutex<Instant>,
}

impl Watch<'_> {
    fn is_wanted(&self) -> bool {
        self.shared.wanted.load(Ordering::Relaxed) == self.request
    }

    fn has_learnt_enough(&self) -> bool {
        self.shared.is_learning.load(Ordering::Relaxed)
            && self.shared.learnt_enough.load(Ordering::Relaxed) == self.request
    }

    /// From now on it learns, or projects.
    fn begin(&self, learns_from: Option<usize>) {
        self.shared.done.store(0, Ordering::Relaxed);
        self.shared.total.store(0, Ordering::Relaxed);
        self.shared.readings.store(learns_from.unwrap_or(0), Ordering::Relaxed);
        if self.is_wanted() {
            self.shared.is_learning.store(learns_from.is_some(), Ordering::Relaxed);
        }
    }
}

impl Progress for Watch<'_> {
    fn step(&self, done: usize, total: usize) -> bool {
        if !self.is_wanted() || self.has_learnt_enough() {
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

/// Another request is wanted, or none.
struct GivenUp;

impl From<almanac_core::forecast::Cancelled> for GivenUp {
    fn from(_: almanac_core::forecast::Cancelled) -> Self {
        Self
    }
}

impl Thread {
    fn run(&self, inbox: &Receiver<(u64, Job)>) {
        while let Ok((mut request, mut job)) = inbox.recv() {
            while let Ok(later) = inbox.try_recv() {
                (request, job) = later;
            }
            let last_repaint = Mutex::new(Instant::now());
            let watch = Watch { shared: &self.shared, ctx: &self.ctx, request, last_repaint };
            // A fault in the projection must not take the entry of readings down with it.
            match catch_unwind(AssertUnwindSafe(|| self.work(&job, &watch))) {
                Ok(Ok(())) => {}
                Ok(Err(GivenUp)) => continue,
                Err(_) => {
                    let sentence = "the figures could not be computed: a fault in the projection; \
                                    the shop is not affected, and the figures shown are older";
                    self.tell(
                        &job,
                        News::Figures(Computed { revision: job.revision, figures: Err(sentence.to_owned()) }),
                    );
                }
            }
            if self.outbox.send(Message::Done(request)).is_err() {
                return;
            }
            self.ctx.request_repaint();
        }
    }

    fn tell(&self, job: &Job, news: News) {
        // A window that left needs no news; the next job finds that out.
        let _left = self.outbox.send(Message::News(job.shop, news));
        self.ctx.request_repaint();
    }

    fn work(&self, job: &Job, watch: &Watch<'_>) -> Result<(), GivenUp> {
        let weak = || Arc::new(ShopFits::weak(job.as_of));
        let fits = match (&job.fits, job.learning) {
            (Some(fits), Learning::AsNeeded | Learning::Not) => Arc::clone(fits),
            (None, Learning::Not) => weak(),
            (known, Learning::AsNeeded | Learning::Anew) => {
                self.learn(job, watch)?.or_else(|| known.clone()).unwrap_or_else(weak)
            }
        };
        self.project(job, &fits, watch)?;
        let is_old = job.learning == Learning::AsNeeded
            && job.fits.is_some()
            && needs_refit(&fits, &job.known, job.as_of).is_some();
        if is_old && let Some(newer) = self.learn(job, watch)? {
            self.project(job, &newer, watch)?;
        }
        Ok(())
    }

    /// `None`: the user stopped it.
    fn learn(&self, job: &Job, watch: &Watch<'_>) -> Result<Option<Arc<ShopFits>>, GivenUp> {
        watch.begin(Some(job.known.readings.len()));
        let Ok(fits) = ShopFits::fit(&job.known, job.as_of, watch) else {
            if !watch.is_wanted() {
                return Err(GivenUp);
            }
            watch.begin(None);
            self.tell(job, News::LearningStopped);
            return Ok(None);
        };
        let fits = Arc::new(fits);
        self.tell(job, News::Learnt(Arc::clone(&fits)));
        Ok(Some(fits))
    }

    fn project(&self, job: &Job, fits: &Arc<ShopFits>, watch: &Watch<'_>) -> Result<(), GivenUp> {
        watch.begin(None);
        let config = ForecastConfig::of(&job.known);
        let basis = ForecastBasis::of(&job.known, job.as_of, &config, fits, watch)?;
        let forecast = basis.project_all(watch)?;
        let due = due_list(&job.known, &forecast);
        let (forecast, due) = (Arc::new(forecast), Arc::new(due));
        let figures = Figures { forecast, due, fits: Arc::clone(fits), intervals: Arc::default() };
        self.tell(job, News::Figures(Computed { revision: job.revision, figures: Ok(figures.clone()) }));
        // The dates are there; what one more reading would be worth follows, and what interval would be best.
        let readings = next_readings(&basis, &figures.forecast, watch)?;
        let intervals = Arc::new(best_intervals(&job.known, job.as_of, fits, watch)?);
        if !readings.is_empty() || !intervals.is_empty() {
            let due = Arc::new(Arc::unwrap_or_clone(figures.due).with_readings(readings));
            let figures = Figures { due, intervals, ..figures };
            self.tell(job, News::Figures(Computed { revision: job.revision, figures: Ok(figures) }));
        }
        Ok(())
    }
}
