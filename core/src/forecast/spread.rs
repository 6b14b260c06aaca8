//! Work on many spindles, spread over the processors.

use super::{Cancelled, Progress};
use std::num::NonZero;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread;

/// Spindles that a thread takes at a time: few enough that none waits long for the last.
const BLOCK: usize = 16;
/// With fewer of them than this for each thread, starting it is not worth while.
const LEAST_EACH: usize = 32;
/// No more threads than this: memory has no more to give.
const MOST_THREADS: usize = 8;

/// One result for each item, in their order. The calling thread takes its share of the work, and it alone tells
/// `progress`, before each of its items.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub(super) fn spread<I: Sync, T: Send>(
    items: &[I],
    progress: &dyn Progress,
    work: impl Fn(&I) -> T + Sync,
) -> Result<Vec<T>, Cancelled> {
    let processors = thread::available_parallelism().map_or(1, NonZero::get);
    let threads = processors.min(MOST_THREADS).min(items.len() / LEAST_EACH).max(1);
    over(threads, items, progress, work)
}

/// The same over so many threads.
fn over<I: Sync, T: Send>(
    threads: usize,
    items: &[I],
    progress: &dyn Progress,
    work: impl Fn(&I) -> T + Sync,
) -> Result<Vec<T>, Cancelled> {
    let blocks: Vec<&[I]> = items.chunks(BLOCK).collect();
    let (next, done, is_stopped) = (AtomicUsize::new(0), AtomicUsize::new(0), AtomicBool::new(false));
    // takes blocks until none is left, or until it is told to stop
    let take = |go_on: &dyn Fn() -> bool| {
        let _guard = StopsOthers(&is_stopped);
        let mut results: Vec<(usize, Vec<T>)> = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(block) = blocks.get(at) else { return results };
            let mut of_block = Vec::with_capacity(block.len());
            for item in *block {
                if !go_on() {
                    return results;
                }
                of_block.push(work(item));
                done.fetch_add(1, Ordering::Relaxed);
            }
            results.push((at, of_block));
        }
    };
    let goes_on = || !is_stopped.load(Ordering::Relaxed);
    let mut results = thread::scope(|scope| {
        // where the system gives no thread, those that are there do its share
        let spawn = |_| thread::Builder::new().spawn_scoped(scope, || take(&goes_on)).ok();
        let others: Vec<_> = (1..threads).filter_map(spawn).collect();
        let mut results = take(&|| {
            if goes_on() && !progress.step(done.load(Ordering::Relaxed), items.len()) {
                is_stopped.store(true, Ordering::Relaxed);
            }
            goes_on()
        });
        for other in others {
            // what went wrong there goes wrong here
            results.extend(other.join().unwrap_or_else(|cause| std::panic::resume_unwind(cause)));
        }
        results
    });
    if is_stopped.load(Ordering::Relaxed) || !progress.step(items.len(), items.len()) {
        return Err(Cancelled);
    }
    results.sort_unstable_by_key(|(at, _)| *at);
    Ok(results.into_iter().flat_map(|(_, of_block)| of_block).collect())
}

/// Stops the others where a thread fails.
struct StopsOthers<'a>(&'a AtomicBool);

impl Drop for StopsOthers<'_> {
    fn drop(&mut self) {
        if thread::panicking() {
            self.0.store(true, Ordering::Relaxed);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::NoProgress;
    use super::*;
    use std::cell::RefCell;

    /// What was told, and after how many times to stop.
    struct Told {
        steps: RefCell<Vec<usize>>,
        most: usize,
    }

    impl Progress for Told {
        fn step(&self, done: usize, total: usize) -> bool {
            assert_eq!(total, 500);
            self.steps.borrow_mut().push(done);
            self.steps.borrow().len() <= self.most
        }
    }

    #[test]
    fn results_come_in_the_order_of_the_items() {
        let items: Vec<usize> = (0..500).collect();
        let want: Vec<usize> = items.iter().map(|item| item * item).collect();
        for threads in [1, 2, 3, 8, 40] {
            let told = Told { steps: RefCell::default(), most: usize::MAX };
            assert_eq!(over(threads, &items, &told, |item| item * item), Ok(want.clone()));
            let steps = told.steps.into_inner();
            assert!(steps.is_sorted() && steps.last() == Some(&500), "{threads}: {steps:?}");
            if threads == 1 {
                assert_eq!(steps.len(), 501);
            }
        }
        assert_eq!(spread(&items, &NoProgress, |item| item * item), Ok(want));
        assert_eq!(spread(&[] as &[usize], &NoProgress, |item| *item), Ok(Vec::new()));
    }

    #[test]
    fn all_threads_stop_when_one_is_told_to() {
        let items: Vec<usize> = (0..500).collect();
        for threads in [1, 2, 8] {
            let told = Told { steps: RefCell::default(), most: 3 };
            let worked = AtomicUsize::new(0);
            let result = over(threads, &items, &told, |item| {
                worked.fetch_add(1, Ordering::Relaxed);
                thread::sleep(std::time::Duration::from_millis(1));
                *item
            });
            assert_eq!(result, Err(Cancelled));
            assert!(worked.load(Ordering::Relaxed) < 400, "{threads}");
        }
    }

    #[test]
    #[should_panic(expected = "item 400")]
    fn a_failure_on_another_thread_is_not_lost() {
        let items: Vec<usize> = (0..500).collect();
        let _ = over(4, &items, &NoProgress, |item| assert_ne!(*item, 400, "item 400"));
    }
}
