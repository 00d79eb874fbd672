//! Numbers for whoever keeps the server running, in the OpenMetrics text format.
//!
//! Invariants: counted always, shown only on a listener of its own that `--metrics` names, never beside the app; nothing in them
//! names a person, a vehicle or what was written. Times are seconds of the wall clock.
//! Must not know: rules, HTTP beyond its one page.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use actix_web::{HttpResponse, web as routes};
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::{Histogram, exponential_buckets};
use prometheus_client::registry::{Registry, Unit};

use crate::shop::Shop;
use planner::keeper::Observer;
use planner::{Plan, first_places};

/// 1 ms to about 16 s.
const SECONDS: (f64, f64, u16) = (0.001, 2.0, 15);

/// What planning cost, and how much it unsettled people.
pub struct Planning {
    first: Histogram,
    search: Histogram,
    searches: Counter,
    adopted: Counter,
    published: Counter,
    places: Counter,
    changed: Counter,
    stuck: AtomicBool,
}

impl Default for Planning {
    fn default() -> Self {
        let seconds = || {
            let (from, factor, count) = SECONDS;
            Histogram::new(exponential_buckets(from, factor, count))
        };
        Self {
            first: seconds(),
            search: seconds(),
            searches: Counter::default(),
            adopted: Counter::default(),
            published: Counter::default(),
            places: Counter::default(),
            changed: Counter::default(),
            stuck: AtomicBool::new(false),
        }
    }
}

impl Planning {
    /// Whether the last search had to be ended.
    pub fn is_stuck(&self) -> bool {
        self.stuck.load(Ordering::Relaxed)
    }
}

impl Observer for Planning {
    fn repaired(&self, took: Duration) {
        self.first.observe(took.as_secs_f64());
    }

    fn searched(&self, took: Duration, adopted: bool, stuck: bool) {
        self.search.observe(took.as_secs_f64());
        self.searches.inc();
        self.adopted.inc_by(u64::from(adopted));
        self.stuck.store(stuck, Ordering::Relaxed);
    }

    fn published(&self, before: &Plan, now: &Plan) {
        self.published.inc();
        let (old, new) = (first_places(before, &[]), first_places(now, &[]));
        for (department, was) in &old {
            let is = new.get(department).map(Vec::as_slice).unwrap_or_default();
            self.places.inc_by(was.len() as u64);
            let same = was.iter().zip(is).filter(|(a, b)| a == b).count();
            self.changed.inc_by((was.len() - same) as u64);
        }
    }
}

/// Everything there is to say, said when asked.
pub struct Page {
    registry: Registry,
    shop: Arc<Shop>,
    entries: Gauge,
    vehicles: Gauge,
    read_only: Gauge,
}

impl Page {
    pub fn new(shop: Arc<Shop>, planning: &Planning) -> Self {
        let mut registry = Registry::with_prefix("turnbuckle");
        let (entries, vehicles, read_only) = (Gauge::default(), Gauge::default(), Gauge::default());
        let mut plan = |name: &str, help: &str, what: &Histogram| {
            registry.register_with_unit(name, help, Unit::Seconds, what.clone());
        };
        plan("plan_first", "A plan repaired after a change, or as time passes", &planning.first);
        plan("plan_search", "The search for a better order that follows", &planning.search);
        let mut count = |name: &str, help: &str, what: &Counter| registry.register(name, help, what.clone());
        count("plan_searches", "Searches for a better order", &planning.searches);
        count("plan_adopted", "Searches whose order was worth the change", &planning.adopted);
        count("plan_published", "Plans in which something was new", &planning.published);
        count(
            "plan_places",
            "First five places of every department, at each published plan",
            &planning.places,
        );
        count("plan_places_changed", "Those of them that went to another card", &planning.changed);
        registry.register("log_entries", "Durable entries of the shop's log", entries.clone());
        registry.register("vehicles", "Vehicles in the shop", vehicles.clone());
        registry.register("read_only", "1 while the log takes nothing more", read_only.clone());
        Self { registry, shop, entries, vehicles, read_only }
    }

    fn text(&self) -> Result<String, std::fmt::Error> {
        let view = self.shop.view();
        self.entries.set(view.head.seq as i64);
        self.vehicles.set(view.state.in_shop().count() as i64);
        self.read_only.set(i64::from(self.shop.store.log().read_only().is_some()));
        let mut text = String::new();
        encode(&mut text, &self.registry)?;
        Ok(text)
    }
}

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/metrics", routes::get().to(metrics));
}

async fn metrics(page: routes::Data<Page>) -> HttpResponse {
    match page.text() {
        Ok(text) => HttpResponse::Ok()
            .content_type("application/openmetrics-text; version=1.0.0; charset=utf-8")
            .body(text),
        Err(error) => HttpResponse::InternalServerError().body(error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use domain::ids::{CardId, DepartmentId, OrderId};
    use planner::{Binding, PlanRow, Reason};

    fn plan(cards: &[u128]) -> Plan {
        let row = |(i, card): (usize, &u128)| PlanRow {
            card: CardId(Uuid::from_u128(*card)),
            order: OrderId(Uuid::from_u128(9)),
            department: DepartmentId::from("body"),
            place: i as u32 + 1,
            from: 0,
            to: 0,
            person: None,
            equipment: None,
            reason: Reason { binding: Binding::Now, next: None, slack_minutes: None, put_first: None },
        };
        Plan { rows: cards.iter().enumerate().map(row).collect(), ..Plan::default() }
    }

    #[test]
    fn places_that_went_to_another_card_are_counted_up_to_the_fifth() {
        let planning = Planning::default();
        planning.published(&Plan::default(), &plan(&[1, 2]));
        assert_eq!((planning.places.get(), planning.changed.get()), (0, 0), "nobody had seen anything");
        planning.published(&plan(&[1, 2, 3, 4, 5, 6, 7]), &plan(&[1, 3, 2, 4, 5, 7, 6]));
        assert_eq!((planning.places.get(), planning.changed.get()), (5, 2));
        planning.published(&plan(&[1, 2, 3]), &plan(&[1, 2]));
        assert_eq!((planning.places.get(), planning.changed.get()), (8, 3));
        assert_eq!(planning.published.get(), 3);
    }
}
