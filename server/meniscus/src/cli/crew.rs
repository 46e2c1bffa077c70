//! Work on many files, on all cores, with the progress shown to who waits at a terminal.

use std::io::{self, IsTerminal, Write as _};
use std::num::NonZero;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};

/// What takes less is over before anybody wonders.
const PATIENCE: Duration = Duration::from_millis(400);
/// Between two pictures of the progress.
const EVERY: Duration = Duration::from_millis(100);
/// Cells of the bar.
const CELLS: usize = 30;
/// Fewer files than these are read before a thread has started.
const FEW: usize = 16;

/// What comes of each item, in the order of the items.
pub(super) fn each<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let crew = match items.len() {
        0..FEW => 1,
        many => thread::available_parallelism()
            .map_or(1, NonZero::get)
            .min(many),
    };
    let next = AtomicUsize::new(0);
    let progress = Progress::of(items.len());
    let worker = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(index) else {
                return done;
            };
            done.push((index, work(item)));
            progress.show(index + 1);
        }
    };
    let mut done = thread::scope(|scope| {
        let others: Vec<_> = (1..crew).map(|_| scope.spawn(worker)).collect();
        let mut done = worker();
        for other in others {
            match other.join() {
                Ok(its) => done.extend(its),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        done
    });
    progress.clear();
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, result)| result).collect()
}

/// A bar on standard error, where that is a terminal; gone when the work is done.
struct Progress {
    of: usize,
    begun: Instant,
    /// When it was last drawn.
    drawn: Option<Mutex<Option<Instant>>>,
}

impl Progress {
    fn of(of: usize) -> Progress {
        Progress {
            of,
            begun: Instant::now(),
            drawn: io::stderr().is_terminal().then(Mutex::default),
        }
    }

    fn show(&self, done: usize) {
        let Some(drawn) = &self.drawn else { return };
        if self.begun.elapsed() < PATIENCE {
            return;
        }
        // Another thread is drawing: this picture is not missed.
        let Ok(mut last) = drawn.try_lock() else {
            return;
        };
        if last.is_none_or(|last| last.elapsed() >= EVERY) {
            *last = Some(Instant::now());
            let _ = write!(io::stderr(), "\r{}", bar(done, self.of));
        }
    }

    fn clear(&self) {
        let Some(drawn) = &self.drawn else { return };
        let drawn = drawn.lock().unwrap_or_else(PoisonError::into_inner);
        if drawn.is_some() {
            let _ = write!(io::stderr(), "\r\u{1b}[K");
        }
    }
}

fn bar(done: usize, of: usize) -> String {
    let full = done * CELLS / of.max(1);
    let cells = "=".repeat(full) + &" ".repeat(CELLS.saturating_sub(full));
    let width = of.to_string().len();
    format!("[{cells}] {done:width$} of {of} files")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_is_that_of_the_items() {
        for count in [0, 1, FEW, 1000] {
            let items: Vec<usize> = (0..count).collect();
            let expected: Vec<usize> = items.iter().map(|item| item * 2).collect();
            assert_eq!(each(&items, |item| item * 2), expected);
        }
    }

    #[test]
    fn a_bar_is_as_long_at_the_end_as_at_the_start() {
        assert_eq!(
            bar(0, 200),
            format!("[{}]   0 of 200 files", " ".repeat(30))
        );
        assert_eq!(
            bar(200, 200),
            format!("[{}] 200 of 200 files", "=".repeat(30))
        );
    }
}
