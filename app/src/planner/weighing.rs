//! Places tried by hand, weighed beside the frame thread; the latest one wins.

use super::Plan;
use crate::task::{Outcome, Task};
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::proposal::{ServiceKey, Weighed};
use eframe::egui;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What was weighed of the plan as it stands: service and tray.
pub type Weighings = BTreeMap<(ServiceKey, usize), Result<Weighed, String>>;

/// A service and a tray on their way.
type Running = ((ServiceKey, usize), Task<Option<Weighed>>);

/// What is weighed, and what is being weighed.
#[derive(Debug, Default)]
pub(super) struct Weigher {
    done: Weighings,
    running: Option<Running>,
}

impl Weigher {
    pub(super) const fn done(&self) -> &Weighings {
        &self.done
    }

    pub(super) const fn is_busy(&self) -> bool {
        self.running.is_some()
    }

    /// The plan changed: nothing that was weighed counts any more.
    pub(super) fn clear(&mut self) {
        self.done.clear();
        self.running = None;
    }

    /// Weighs a service in a tray, in place of what is being weighed.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub(super) fn request(
        &mut self,
        ctx: &egui::Context,
        plan: &Plan,
        service: ServiceKey,
        tray: usize,
    ) -> Result<(), String> {
        let key = (service, tray);
        if self.done.contains_key(&key) || self.running.as_ref().is_some_and(|(running, _)| *running == key) {
            return Ok(());
        }
        let (basis, current) = (Arc::clone(&plan.basis), Arc::clone(plan.current()));
        let task = Task::start(ctx, "weighing", "weighing a place".to_owned(), move |_pulse| {
            weigh(&basis, &current, &Trial { service, tray, start: None, technicians: None })
        })?;
        self.running = Some((key, task));
        Ok(())
    }

    pub(super) fn poll(&mut self) {
        let Some((key, task)) = &self.running else { return };
        let result = match task.poll() {
            Outcome::Running => return,
            Outcome::Done(Some(weighed)) => Ok(weighed),
            Outcome::Done(None) => Err("it cannot stand there: that window is not for its machine".to_owned()),
            Outcome::Lost => Err("that place could not be weighed: a fault in the planning".to_owned()),
        };
        self.done.insert(*key, result);
        self.running = None;
    }
}
