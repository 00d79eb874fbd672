//! Work that costs so much memory or time that only some of it runs at once and little of it waits. Who
//! comes to a full queue is told so at once: what waits holds memory, and whoever waits long asks again.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError, mpsc};

use tokio::sync::{OwnedSemaphorePermit, Semaphore, oneshot};

/// Counts who runs and who waits.
#[derive(Debug)]
struct Queue {
    /// Running and waiting.
    places: Arc<Semaphore>,
    running: Arc<Semaphore>,
}

/// A turn, for as long as this lives.
#[derive(Debug)]
struct Turn(#[expect(dead_code, reason = "held, and given back at the end")] [OwnedSemaphorePermit; 2]);

/// So many run and wait already.
#[derive(Debug, PartialEq, Eq)]
pub struct Full;

type Job = Box<dyn FnOnce() + Send>;

/// A queue before threads of its own. Each thread of a pool that serves everything would keep what the
/// largest work on it once took: glibc gives such memory back to the thread's arena, not to the system.
#[derive(Debug)]
pub struct Workers {
    queue: Queue,
    jobs: mpsc::Sender<Job>,
}

impl Workers {
    pub fn start(name: &str, running: usize, waiting: usize) -> std::io::Result<Self> {
        let (jobs, todo) = mpsc::channel::<Job>();
        let todo = Arc::new(Mutex::new(todo));
        for _ in 0..running {
            let todo = todo.clone();
            let next = move || todo.lock().unwrap_or_else(PoisonError::into_inner).recv();
            std::thread::Builder::new().name(name.to_owned()).spawn(move || {
                while let Ok(job) = next() {
                    // Whatever happens to one job, the thread is there for the next.
                    let _ = catch_unwind(AssertUnwindSafe(job));
                }
            })?;
        }
        Ok(Self { queue: Queue::new(running, waiting), jobs })
    }

    /// None: the work itself failed.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<Option<T>, Full> {
        let turn = self.queue.turn().await?;
        let (tell, told) = oneshot::channel();
        // The turn goes along: work that was begun goes on when whoever asked for it has gone.
        let job = Box::new(move || {
            let done = work();
            drop(turn);
            let _ = tell.send(done);
        });
        let _ = self.jobs.send(job);
        Ok(told.await.ok())
    }
}

impl Queue {
    fn new(running: usize, waiting: usize) -> Self {
        Self {
            places: Arc::new(Semaphore::new(running + waiting)),
            running: Arc::new(Semaphore::new(running)),
        }
    }

    async fn turn(&self) -> Result<Turn, Full> {
        let place = self.places.clone().try_acquire_owned().map_err(|_| Full)?;
        let turn = self.running.clone().acquire_owned().await.map_err(|_| Full)?;
        Ok(Turn([turn, place]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use futures_util::FutureExt;

    #[test]
    fn some_run_some_wait_and_one_more_is_told_at_once() {
        let queue = Queue::new(2, 1);
        let first = queue.turn().now_or_never().unwrap().unwrap();
        let _second = queue.turn().now_or_never().unwrap().unwrap();
        let mut waiting = Box::pin(queue.turn());
        assert!((&mut waiting).now_or_never().is_none(), "it waits");
        assert_eq!(queue.turn().now_or_never().unwrap().unwrap_err(), Full);
        drop(first);
        assert!(waiting.now_or_never().unwrap().is_ok());
    }

    #[test]
    fn what_fails_leaves_its_thread_to_the_next() {
        let workers = Workers::start("test", 1, 1).unwrap();
        let run = |work: fn() -> u32| futures_util::future::FutureExt::boxed(workers.run(work));
        actix_web::rt::System::new().block_on(async {
            assert_eq!(run(|| panic!("on purpose")).await, Ok(None));
            assert_eq!(run(|| 7).await, Ok(Some(7)));
        });
    }

    #[test]
    fn who_goes_away_while_waiting_leaves_the_place() {
        let queue = Queue::new(1, 1);
        let _running = queue.turn().now_or_never().unwrap().unwrap();
        let mut waiting = Box::pin(queue.turn());
        assert!((&mut waiting).now_or_never().is_none());
        drop(waiting);
        assert!(queue.turn().now_or_never().is_none(), "a place is free again, and it waits");
    }
}
