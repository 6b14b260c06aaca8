//! Work beside the frame thread: one named thread per errand, with progress and a way to stop it.

use almanac_core::forecast::Progress;
use eframe::egui;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How often progress asks for a frame at most.
const REPAINT_EVERY: Duration = Duration::from_millis(100);

/// What the working thread and the window share.
#[derive(Debug)]
struct Shared {
    stop: AtomicBool,
    done: AtomicUsize,
    total: AtomicUsize,
    last_repaint: Mutex<Instant>,
}

/// The working thread's end: says how far it is, and learns whether to go on.
#[derive(Debug, Clone)]
pub struct Pulse {
    shared: Arc<Shared>,
    ctx: egui::Context,
}

impl Pulse {
    /// Whether the window asked to stop.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        self.shared.stop.load(Ordering::Relaxed)
    }
}

impl Progress for Pulse {
    fn step(&self, done: usize, total: usize) -> bool {
        self.shared.done.store(done, Ordering::Relaxed);
        self.shared.total.store(total, Ordering::Relaxed);
        if let Ok(mut last) = self.shared.last_repaint.try_lock()
            && last.elapsed() >= REPAINT_EVERY
        {
            *last = Instant::now();
            self.ctx.request_repaint();
        }
        !self.is_stopped()
    }
}

/// The window's end of a piece of work.
#[derive(Debug)]
pub struct Task<T> {
    /// What is being done, such as `reading sample-shop`.
    pub what: String,
    shared: Arc<Shared>,
    result: Receiver<T>,
}

/// How a piece of work stands.
#[derive(Debug)]
pub enum Outcome<T> {
    /// Not ready yet.
    Running,
    /// Its result.
    Done(T),
    /// Its thread ended without a result.
    Lost,
}

impl<T: Send + 'static> Task<T> {
    /// Starts work on a thread of that name.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn start(
        ctx: &egui::Context,
        thread: &str,
        what: String,
        work: impl FnOnce(&Pulse) -> T + Send + 'static,
    ) -> Result<Self, String> {
        let shared = Arc::new(Shared {
            stop: AtomicBool::new(false),
            done: AtomicUsize::new(0),
            total: AtomicUsize::new(0),
            last_repaint: Mutex::new(Instant::now()),
        });
        let pulse = Pulse { shared: Arc::clone(&shared), ctx: ctx.clone() };
        let (sender, result) = channel();
        std::thread::Builder::new()
            .name(thread.to_owned())
            .spawn(move || {
                // Dropped on every way out, a panic included, so that the window notices the loss.
                let wake = Wake(pulse.ctx.clone());
                let value = work(&pulse);
                // A window that no longer waits has nothing to be told.
                let _window_left = sender.send(value);
                drop(sender);
                drop(wake);
            })
            .map_err(|error| format!("no thread could be started for {what}: {error}"))?;
        Ok(Self { what, shared, result })
    }
}

/// Asks for a frame when the thread ends.
struct Wake(egui::Context);

impl Drop for Wake {
    fn drop(&mut self) {
        self.0.request_repaint();
    }
}

impl<T> Task<T> {
    /// The result, once it is there.
    pub fn poll(&self) -> Outcome<T> {
        match self.result.try_recv() {
            Ok(value) => Outcome::Done(value),
            Err(TryRecvError::Empty) => Outcome::Running,
            Err(TryRecvError::Disconnected) => Outcome::Lost,
        }
    }

    /// Asks it to stop; it answers with its result as soon as it can.
    pub fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }

    /// How far it is: done, of how many; `None`: not said yet.
    #[must_use]
    pub fn progress(&self) -> Option<(usize, usize)> {
        let total = self.shared.total.load(Ordering::Relaxed);
        (total > 0).then(|| (self.shared.done.load(Ordering::Relaxed), total))
    }
}
