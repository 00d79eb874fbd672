//! Keeps one plan: repaired at every change, searched now and then, published when a row changed, and restored
//! after a restart.
//!
//! Invariants: published at most every two seconds; searched at most every [`SEARCH_EVERY`], and only as long
//! as that improves it; a shop in which nothing happens is looked at only when a moment of the plan comes due;
//! a search that does not end is stopped, and that is reported.
//! Must not know: how a plan is found.

use std::sync::Arc;
use std::time::{Duration, Instant};

use domain::Ms;
use domain::ids::OrderId;
use plan::Minutes;
use serde::{Deserialize, Serialize};
use tokio::sync::watch;

use super::{Effort, Plan, Planned, Published, Shown, plan_now};
use sync::shop::{Shop, View};

/// Between two published plans.
const PUBLISH_EVERY: Duration = Duration::from_secs(2);
/// Between two searches.
const SEARCH_EVERY: Duration = Duration::from_secs(30);
/// A search counts its work and takes a fraction of a second: one that still runs after this will not end by
/// itself.
const SEARCH_ENDS: Duration = Duration::from_secs(10);
/// If more cards than this share (per thousand) would move, the order is searched first and only then shown.
const MANY_PERMILLE: usize = 15;
const FEW: usize = 6;
const MOVED_MINUTES: Minutes = 30;
/// So that one change does not set off endless searching.
const SEARCHES_MAX: u32 = 2;
/// An order made from nothing is not settled by one search.
const SEARCHES_FRESH: u32 = 6;
/// At most this often the shown plan is stored for a restart.
const KEEP_EVERY: Duration = Duration::from_secs(20);
/// A moment of the plan may be far away; clocks are set, and sleeping machines wake.
const LOOK_EVERY_MAX: Duration = Duration::from_secs(15 * 60);

/// The plan that is shown, and how to go on from it. Knows no clock: callers say what time it is.
#[derive(Clone, Default)]
pub struct Keeper {
    /// What people see.
    pub plan: Plan,
    /// The same, to the minute.
    pub shown: Shown,
    /// When something of the plan comes due, UTC ms: `look` then.
    pub next_look: Ms,
    /// How many searches may still follow the last change, as long as they improve the plan.
    searches: u32,
    /// Nobody has worked by this order yet: it was made from nothing and has not been searched to the end.
    fresh: bool,
    /// The last search did not end by itself.
    pub stuck: bool,
    asked: Vec<(OrderId, Option<Minutes>, i64)>,
}

impl Keeper {
    /// Continues from a plan that was shown before.
    pub fn from(shown: Shown) -> Self {
        Self { shown, ..Self::default() }
    }

    /// Somebody did something.
    pub fn repair(&mut self, view: &View, now: Ms) {
        let stands = plan_now(view, now, &self.shown, Effort::Stand);
        // A note or a take does not call for another order.
        let same = stands.asked == self.asked && stands.shown.stands_as(&self.shown);
        if same {
            return self.take(stands);
        }
        self.fresh |= self.shown.is_empty();
        self.searches = if self.fresh { SEARCHES_FRESH } else { SEARCHES_MAX };
        let repaired = plan_now(view, now, &self.shown, Effort::Repair);
        self.settle(view, now, repaired);
    }

    /// Time went on: what should have begun slips. No search, because nothing changed that it could use.
    pub fn look(&mut self, view: &View, now: Ms) {
        let stands = plan_now(view, now, &self.shown, Effort::Stand);
        self.settle(view, now, stands);
    }

    /// Before many cards are moved elsewhere, a vehicle that can wait is looked for.
    fn settle(&mut self, view: &View, now: Ms, repaired: Planned) {
        let moved = repaired.shown.moved_from(&self.shown, MOVED_MINUTES);
        let many = moved > FEW && moved * 1000 > repaired.shown.starts.len() * MANY_PERMILLE;
        self.take(if many { plan_now(view, now, &self.shown, Effort::SEARCH) } else { repaired });
    }

    /// Whether a search may find something.
    pub fn finds(&self) -> bool {
        self.searches > 0
    }

    /// Searches; true if the order changed.
    pub fn search(&mut self, view: &View, now: Ms, ends: Option<&dyn Fn() -> bool>) -> bool {
        let stopped = std::cell::Cell::new(false);
        let stop = || {
            let over = ends.is_some_and(|ends| ends());
            stopped.set(stopped.get() || over);
            over
        };
        let stop: &dyn Fn() -> bool = &stop;
        let found = plan_now(view, now, &self.shown, Effort::Search { fresh: self.fresh, stop: Some(stop) });
        self.stuck = stopped.get();
        // The shown plan stays: a search that had to be stopped may have produced anything.
        let finds = !self.stuck && found.shown != self.shown;
        self.searches = if finds { self.searches.saturating_sub(1) } else { 0 };
        self.fresh &= self.searches > 0;
        if finds {
            self.take(found);
        }
        finds
    }

    fn take(&mut self, planned: Planned) {
        (self.plan, self.shown, self.next_look) = (planned.plan, planned.shown, planned.next_look);
        self.asked = planned.asked;
    }
}

/// Counts what planning costs and how much it unsettles people.
pub trait Observer: Send + Sync {
    /// A plan was repaired.
    fn repaired(&self, took: Duration);
    /// A better order was searched for; `adopted`, if one was found, `stuck`, if the search had to be ended.
    fn searched(&self, took: Duration, adopted: bool, stuck: bool);
    /// People see another plan than before.
    fn published(&self, before: &Plan, now: &Plan);
}

/// Keeps planning until the shop is closed.
pub fn start(shop: Arc<Shop>, observer: Arc<dyn Observer>) -> watch::Receiver<Arc<Published>> {
    let (publish, watch_plan) = watch::channel(Arc::<Published>::default());
    // In a thread of its own, because planning keeps a processor busy and must not hold up requests.
    let thread = std::thread::Builder::new().name("planner".into());
    let spawned = thread.spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build();
        runtime.map(|runtime| runtime.block_on(keep_planning(shop, publish, observer.as_ref())))
    });
    if let Err(error) = spawned {
        tracing::error!(%error, "there is no planning; the order shown stays as it is");
    }
    watch_plan
}

async fn keep_planning(shop: Arc<Shop>, publish: watch::Sender<Arc<Published>>, observer: &dyn Observer) {
    let mut changed = shop.watch();
    let kept = read(&shop);
    let mut rev = kept.as_ref().map_or(0, |kept| kept.rev);
    let mut keeper = Keeper::from(kept.map(|kept| kept.shown).unwrap_or_default());
    let long_ago = |by: Duration| Instant::now().checked_sub(by).unwrap_or_else(Instant::now);
    let (mut published, mut searched, mut put) =
        (long_ago(PUBLISH_EVERY), long_ago(SEARCH_EVERY), Instant::now());
    // A plan that was shown before a restart has been searched already.
    let (mut due, mut acted) = (true, keeper.shown.is_empty());
    loop {
        let view = changed.borrow_and_update().clone();
        let now = shop.clock.now();
        if due {
            let began = Instant::now();
            guarded(
                &mut keeper,
                |keeper| if acted { keeper.repair(&view, now) } else { keeper.look(&view, now) },
            );
            observer.repaired(began.elapsed());
            if publish_if_new(&publish, &keeper, &mut rev, observer) {
                published = Instant::now();
            }
        }
        if keeper.finds() && searched.elapsed() >= SEARCH_EVERY {
            searched = Instant::now();
            let ends = move || searched.elapsed() > SEARCH_ENDS;
            guarded(&mut keeper, |keeper| {
                keeper.search(&view, now, Some(&ends));
            });
            observer.searched(searched.elapsed(), keeper.finds(), keeper.stuck);
            if keeper.stuck {
                tracing::error!("the search for a better order did not end; the repaired order stays");
            }
            if publish_if_new(&publish, &keeper, &mut rev, observer) {
                published = Instant::now();
            }
        }
        if put.elapsed() >= KEEP_EVERY {
            put = Instant::now();
            keep(&shop, rev, &keeper.shown);
        }
        let look = Duration::from_millis(keeper.next_look.saturating_sub(now).clamp(0, 1 << 40) as u64);
        let mut wait = look.min(LOOK_EVERY_MAX);
        if keeper.finds() {
            wait = wait.min(SEARCH_EVERY.saturating_sub(searched.elapsed()));
        }
        tokio::select! {
            more = changed.changed() => {
                if more.is_err() {
                    break;
                }
                (due, acted) = (true, true);
                tokio::time::sleep(PUBLISH_EVERY.saturating_sub(published.elapsed())).await;
            }
            () = tokio::time::sleep(wait) => {
                (due, acted) = (shop.clock.now() >= keeper.next_look || wait == LOOK_EVERY_MAX, false);
            }
            () = publish.closed() => break,
        }
    }
}

/// The last thing before a server ends, so that the next one continues from what is shown now.
pub fn leave(shop: &Shop, published: &Published) {
    if published.rev > 0 {
        keep(shop, published.rev, &published.shown);
    }
}

/// If a plan cannot be made, the one that is shown is kept.
fn guarded(keeper: &mut Keeper, look: impl FnOnce(&mut Keeper)) {
    let mut next = keeper.clone();
    let made = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        look(&mut next);
        next
    }));
    match made {
        Ok(next) => *keeper = next,
        Err(_) => {
            tracing::error!("planning failed; the order shown stays as it was");
            keeper.searches = 0;
            keeper.next_look = Ms::MAX;
        }
    }
}

fn publish_if_new(
    publish: &watch::Sender<Arc<Published>>,
    keeper: &Keeper,
    rev: &mut u64,
    observer: &dyn Observer,
) -> bool {
    let shown = publish.borrow().clone();
    let mut plan = keeper.plan.clone();
    if plan.rows == shown.plan.rows
        && plan.vehicles == shown.plan.vehicles
        && plan.trouble == shown.plan.trouble
    {
        return false;
    }
    // A new start must not reuse revisions that a phone remembers from before.
    plan.rev = (plan.at_time.max(0) as u64 + 1).max(shown.rev + 1).max(*rev + 1);
    *rev = plan.rev;
    let published = match Published::new(plan, keeper.shown.clone(), &shown.plan) {
        Ok(published) => published,
        Err(error) => {
            tracing::error!(%error, "a plan could not be written; the one before stays");
            return false;
        }
    };
    observer.published(&shown.plan, &published.plan);
    publish.send_replace(Arc::new(published));
    true
}

const PLACE: (&str, &[u8]) = ("plan", b"shown");

#[derive(Serialize, Deserialize)]
struct Kept {
    rev: u64,
    shown: Shown,
}

/// Stored beside the tables: it may be lost, and then an order is made from nothing.
fn keep(shop: &Shop, rev: u64, shown: &Shown) {
    let kept = Kept { rev, shown: shown.clone() };
    let bytes = match serde_json::to_vec(&kept) {
        Ok(bytes) => bytes,
        Err(error) => return tracing::warn!(%error, "the order shown is not kept for the next start"),
    };
    if let Err(error) = shop.store.tables().kv_put(PLACE.0, PLACE.1, &bytes) {
        tracing::debug!(%error, "the order shown is not kept for the next start");
    }
}

fn read(shop: &Shop) -> Option<Kept> {
    let bytes = shop.store.tables().kv_get(PLACE.0, PLACE.1).ok()??;
    serde_json::from_slice(&bytes).ok()
}

#[cfg(test)]
mod tests;
