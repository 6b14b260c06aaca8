//! The thread that plans.

use super::{Ground, Plan, Proposing};
use almanac_core::forecast::ShopForecast;
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::problem;
use almanac_core::planning::proposal::{PLAN_WEEKS, PlanningConfig, Proposal};
use almanac_core::planning::propose::{PlanProgress, booked, has_booked, propose, with_orders_of};
use almanac_core::planning::week_view::WeekView;
use almanac_core::units::Money;
use eframe::egui;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How often progress asks for a frame at most.
const REPAINT_EVERY: Duration = Duration::from_millis(100);

/// A first plan at once, a better one soon, then the settled one. The first one of a shop with booked
/// services is what is booked, mended.
const fn stages(has_booked: bool) -> [PlanningConfig; 3] {
    let first = if has_booked { PlanningConfig::replan(PLAN_WEEKS) } else { PlanningConfig::start(PLAN_WEEKS) };
    [first, PlanningConfig::quick(PLAN_WEEKS), PlanningConfig::settled(PLAN_WEEKS)]
}

/// What is to be planned.
#[derive(Debug)]
pub(super) struct Job {
    pub(super) ground: Ground,
    /// A proposal that stays.
    pub(super) keep: Option<Arc<Proposal>>,
    /// A proposal is to be made.
    pub(super) proposes: bool,
}

/// What the thread has to tell.
#[derive(Debug)]
pub(super) enum News {
    Plan(Box<Plan>),
    Trouble(String),
}

enum Message {
    News(u64, News),
    Done(u64),
}

#[derive(Debug, Default)]
struct Shared {
    /// The request that is wanted; anything else is given up.
    wanted: AtomicU64,
    done: AtomicU64,
    total: AtomicU64,
    /// What the best plan so far costs, in cents; below 0: none yet.
    best: AtomicI64,
}

/// The window's end of the thread.
#[derive(Debug)]
pub(super) struct Link {
    jobs: Sender<(u64, Job)>,
    messages: Receiver<Message>,
    shared: Arc<Shared>,
    requested: u64,
    answered: u64,
}

impl Link {
    /// Starts the thread.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub(super) fn start(ctx: &egui::Context) -> Result<Self, String> {
        let shared = Arc::new(Shared::default());
        let (jobs, inbox) = channel();
        let (outbox, messages) = channel();
        let thread = Thread { shared: Arc::clone(&shared), ctx: ctx.clone(), outbox, known: None };
        std::thread::Builder::new()
            .name("plan".to_owned())
            .spawn(move || thread.run(&inbox))
            .map_err(|error| format!("no thread could be started for the plan: {error}"))?;
        Ok(Self { jobs, messages, shared, requested: 0, answered: 0 })
    }

    /// Asks for a plan; what is being done for an older request is given up.
    ///
    /// # Errors
    /// A sentence where the thread is gone.
    pub(super) fn request(&mut self, job: Job) -> Result<(), String> {
        self.requested += 1;
        self.shared.wanted.store(self.requested, Ordering::Relaxed);
        self.shared.done.store(0, Ordering::Relaxed);
        self.shared.total.store(0, Ordering::Relaxed);
        self.shared.best.store(-1, Ordering::Relaxed);
        self.jobs.send((self.requested, job)).map_err(|_gone| {
            self.answered = self.requested;
            "nothing can be planned any more: open the shop again".to_owned()
        })
    }

    /// Stops searching; what was told counts.
    pub(super) fn stop(&mut self) {
        self.shared.wanted.store(0, Ordering::Relaxed);
        self.answered = self.requested;
    }

    /// Nothing that was requested is wanted any more, not even what was told already.
    pub(super) fn give_up(&mut self) {
        self.stop();
        self.messages.try_iter().for_each(drop);
        self.requested += 1;
        self.answered = self.requested;
    }

    pub(super) const fn is_busy(&self) -> bool {
        self.answered < self.requested
    }

    /// Moves tried, of how many, and what the best plan so far costs.
    pub(super) fn progress(&self) -> Proposing {
        let of = |figure: &AtomicU64| figure.load(Ordering::Relaxed);
        let best = self.shared.best.load(Ordering::Relaxed);
        let best = if best < 0 { None } else { Money::new(best as f64 / 100.0) };
        Proposing { done: of(&self.shared.done), total: of(&self.shared.total), best }
    }

    /// What came in for the last request since the last call.
    pub(super) fn poll(&mut self) -> Vec<News> {
        let mut came = Vec::new();
        for message in self.messages.try_iter() {
            match message {
                Message::News(request, news) if request == self.requested => came.push(news),
                Message::News(..) => {}
                Message::Done(request) => self.answered = self.answered.max(request),
            }
        }
        came
    }
}

struct Thread {
    shared: Arc<Shared>,
    ctx: egui::Context,
    outbox: Sender<Message>,
    /// The last basis, with the figures for which it was made.
    known: Option<(Arc<ShopForecast>, Arc<PlanBasis>, Arc<Proposal>)>,
}

/// Another request is wanted, or none.
struct GivenUp;

/// Goes on while its request is the one that is wanted.
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
}

impl PlanProgress for Watch<'_> {
    fn step(&self, done: u64, total: u64) -> bool {
        if !self.is_wanted() {
            return false;
        }
        self.shared.done.store(done, Ordering::Relaxed);
        self.shared.total.store(total, Ordering::Relaxed);
        if let Ok(mut last) = self.last_repaint.try_lock()
            && REPAINT_EVERY <= last.elapsed()
        {
            *last = Instant::now();
            self.ctx.request_repaint();
        }
        true
    }

    fn better(&self, _plan: &problem::Plan, cost: i64) {
        if self.is_wanted() {
            self.shared.best.store(cost, Ordering::Relaxed);
        }
    }
}

impl Thread {
    fn run(mut self, inbox: &Receiver<(u64, Job)>) {
        while let Ok((mut request, mut job)) = inbox.recv() {
            while let Ok(later) = inbox.try_recv() {
                (request, job) = later;
            }
            // A fault in the search must not take the window down with it.
            match catch_unwind(AssertUnwindSafe(|| self.work(request, &job))) {
                Ok(Ok(())) => {}
                Ok(Err(GivenUp)) => continue,
                Err(_) => {
                    let sentence = "no plan could be made: a fault in the planning; the shop and its orders are not \
                                    affected";
                    self.tell(request, News::Trouble(sentence.to_owned()));
                }
            }
            if self.outbox.send(Message::Done(request)).is_err() {
                return;
            }
            self.ctx.request_repaint();
        }
    }

    fn tell(&self, request: u64, news: News) {
        // A window that left needs no news; the next job finds that out.
        let _left = self.outbox.send(Message::News(request, news));
        self.ctx.request_repaint();
    }

    fn work(&mut self, request: u64, job: &Job) -> Result<(), GivenUp> {
        let shared = Arc::clone(&self.shared);
        let ctx = self.ctx.clone();
        let watch = Watch { shared: &shared, ctx: &ctx, request, last_repaint: Mutex::new(Instant::now()) };
        let Ground { known, figures, as_of, revision } = &job.ground;
        let (basis, booked) = match &self.known {
            Some((of, basis, booked)) if Arc::ptr_eq(of, &figures.forecast) => (Arc::clone(basis), Arc::clone(booked)),
            _ => {
                let config = PlanningConfig::start(PLAN_WEEKS);
                let basis = PlanBasis::of(known, &figures.forecast, &figures.due, *as_of, &config);
                let booked = Arc::new(booked(&basis));
                let basis = Arc::new(basis);
                self.known = Some((Arc::clone(&figures.forecast), Arc::clone(&basis), Arc::clone(&booked)));
                (basis, booked)
            }
        };
        let plan = |proposed: Option<Arc<Proposal>>| {
            let forecasts = (&*figures.forecast, &*figures.due);
            let view = WeekView::of(known, forecasts, basis.trays(), &booked, proposed.as_deref());
            let (basis, booked) = (Arc::clone(&basis), Arc::clone(&booked));
            News::Plan(Box::new(Plan { basis, booked, proposed, view: Arc::new(view), of_revision: *revision }))
        };
        if !watch.is_wanted() {
            return Err(GivenUp);
        }
        // what was accepted meanwhile has an order now
        let kept = job.keep.as_ref().map(|kept| {
            let renewed = with_orders_of(&basis, kept);
            if renewed == **kept { Arc::clone(kept) } else { Arc::new(renewed) }
        });
        self.tell(request, plan(kept));
        if job.proposes {
            for stage in stages(has_booked(&basis)) {
                let proposal = propose(&basis, &stage, &watch).map_err(|_cancelled| GivenUp)?;
                self.tell(request, plan(Some(Arc::new(proposal))));
            }
        }
        Ok(())
    }
}
