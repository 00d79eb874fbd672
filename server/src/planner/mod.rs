//! When to plan: on every change and as time passes. The order itself is decided by the `plan` crate.
//!
//! Invariants: a plan is made from the durable state only; same state, previous plan, minute and seed
//! give the same plan; it is published at most every two seconds, and only when a row changed.

pub mod accuracy;
pub mod forecast;
pub mod hindsight;
pub mod jam;
mod problem;
mod rows;
pub mod what_if;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::{Duration, Instant};

use domain::ids::CardId;
use domain::{MINUTE, Ms};
use plan::{Adopt, Budget, Options, PlanError};
use serde_json::value::RawValue;
use tokio::sync::watch;

pub use rows::{Binding, ChainLink, Next, Plan, PlanChange, PlanRow, PlanVehicle, Reason, WaitReason, Waits};

use crate::metrics::Planning;
use crate::shop::{Shop, View};

/// A plan as it goes out: serialised once.
pub struct Published {
    pub rev: u64,
    pub plan: Plan,
    pub json: Box<RawValue>,
    /// What is new in it, for who has the one before ([`PlanChange`]).
    pub change: String,
}

impl Published {
    pub fn new(plan: Plan, before: &Plan) -> Self {
        let json = serde_json::value::to_raw_value(&plan).unwrap_or_else(|_| RawValue::NULL.to_owned());
        let change = PlanChange::between(before, &plan);
        tracing::debug!(
            rev = plan.rev,
            rows = plan.rows.len(),
            changed = change.rows.len(),
            vehicles = change.vehicles.len(),
            "plan"
        );
        let change = serde_json::to_string(&change).unwrap_or_default();
        Self { rev: plan.rev, plan, json, change }
    }
}

/// Before the first plan.
impl Default for Published {
    fn default() -> Self {
        Self::new(Plan::default(), &Plan::default())
    }
}

/// Between two published plans.
const PUBLISH_EVERY: Duration = Duration::from_secs(2);
/// As time passes, without any change.
pub const LOOK_EVERY_MS: Ms = 30_000;
/// Tasks placed while looking for a better order, in the background.
pub const SEARCH_TASKS: u64 = 400_000;
/// A new order is adopted only when it is worth unsettling people.
const ADOPT: Adopt = Adopt { primary_permille: 10, flow_permille: 10, price: ADOPT_PRICE, near: 24 * 60 };
/// In urgency × minutes: half an hour of a usual vehicle for each card of the next day that moves.
const ADOPT_PRICE: i64 = 60;

/// Starts of the plan before, by card, as minutes since 1970.
type Before = BTreeMap<CardId, i64>;

/// Plans now, quickly: the plan before repaired, or the best simple rule.
pub fn plan_now(view: &View, now: Ms, before: &Before, budget: Budget) -> (Plan, Before) {
    let built = problem::build(&view.state, &view.zone, now);
    let origin = built.origin / MINUTE;
    let previous: Vec<Option<i64>> =
        built.cards.iter().map(|card| before.get(card).map(|at| at - origin)).collect();
    let options = Options {
        seed: 1,
        budget,
        previous: Some(&previous).filter(|_| !before.is_empty()).map(Vec::as_slice),
        adopt: (!before.is_empty()).then_some(ADOPT),
        stop: None,
    };
    let blank = Plan { rev: 0, at_seq: view.head.seq, at_time: now, ..Plan::default() };
    match plan::solve(&built.problem, &options) {
        Ok(solution) => {
            let starts = built
                .cards
                .iter()
                .zip(&solution.starts)
                .map(|(card, start)| (*card, start + origin))
                .collect();
            let writer = rows::Writer::new(&view.state, &built, &solution, now);
            (Plan { rows: writer.rows(), vehicles: writer.vehicles(), ..blank }, starts)
        }
        Err(error) => {
            let trouble = Some(in_words(&error, view));
            (Plan { trouble, ..blank }, before.clone())
        }
    }
}

/// Ids of cards mean nothing to people: the sentence names vehicle and task.
fn in_words(error: &PlanError, view: &View) -> String {
    let mut text = error.to_string();
    for card in view.state.in_shop().flat_map(|o| view.state.cards_of(o.id)) {
        let id = card.id.to_string();
        if text.contains(&id) {
            let number = view.state.orders.get(&card.order).map_or("", |o| o.number.as_str());
            text = text.replace(&id, &format!("{number} «{}»", card.title.text));
        }
    }
    text
}

/// Keeps planning until the shop closes.
pub fn start(shop: Arc<Shop>, planning: Arc<Planning>) -> watch::Receiver<Arc<Published>> {
    let (publish, watch_plan) = watch::channel(Arc::<Published>::default());
    // A thread of its own: planning is work for a processor, and must not hold up those who serve.
    let thread = std::thread::Builder::new().name("planner".into());
    let spawned = thread.spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build();
        runtime.map(|runtime| runtime.block_on(keep_planning(shop, publish, &planning)))
    });
    if let Err(error) = spawned {
        tracing::error!(%error, "there is no planning; the order shown stays as it is");
    }
    watch_plan
}

async fn keep_planning(shop: Arc<Shop>, publish: watch::Sender<Arc<Published>>, planning: &Planning) {
    let mut changed = shop.watch();
    let mut before = Before::new();
    let mut last = Instant::now().checked_sub(PUBLISH_EVERY).unwrap_or_else(Instant::now);
    loop {
        let budgets = [Budget::First, Budget::Tasks(SEARCH_TASKS)];
        for budget in budgets {
            let view = changed.borrow_and_update().clone();
            let (now, old) = (shop.clock.now(), before.clone());
            let began = Instant::now();
            let planned = std::panic::catch_unwind(move || plan_now(&view, now, &old, budget));
            let Ok((plan, starts)) = planned else {
                tracing::error!("planning failed; the order shown stays as it was");
                break;
            };
            match budget {
                Budget::First => planning.repaired(began.elapsed()),
                _ => planning.searched(began.elapsed(), starts != before),
            }
            before = starts;
            if publish_if_new(&publish, plan, planning) {
                last = Instant::now();
            }
            if changed.has_changed().unwrap_or(false) {
                break;
            }
        }
        tokio::select! {
            more = changed.changed() => if more.is_err() { return },
            () = tokio::time::sleep(Duration::from_millis(LOOK_EVERY_MS as u64)) => {}
            () = publish.closed() => return,
        }
        tokio::time::sleep(PUBLISH_EVERY.saturating_sub(last.elapsed())).await;
    }
}

fn publish_if_new(publish: &watch::Sender<Arc<Published>>, mut plan: Plan, planning: &Planning) -> bool {
    let shown = publish.borrow().clone();
    if plan.rows == shown.plan.rows
        && plan.vehicles == shown.plan.vehicles
        && plan.trouble == shown.plan.trouble
    {
        return false;
    }
    // Revisions of a new start must not meet those a phone remembers from before it.
    plan.rev = plan.at_time.max(0) as u64 + 1;
    plan.rev = plan.rev.max(shown.rev + 1);
    planning.published(&shown.plan, &plan);
    publish.send_replace(Arc::new(Published::new(plan, &shown.plan)));
    true
}
