//! How much of every department's first five places changes per event, over a working day of the invented shop, planned event
//! by event as the server does it: at once by repair, then by a search whose order counts only if it is worth the change.
//!
//! usage: cargo run --release --example churn [-- --days N] [--seed N] [--json FILE]
//!
//! The event's own vehicle is left out of both lists: what a person did to a vehicle may move that vehicle.

use domain::decide::{self, Context, SYSTEM};
use domain::fold;
use domain::ids::{CardId, OrderId};
use domain::state::State;
use domain::stored::{Event, Role};
use domain::{MINUTE, Ms};
use jiff::tz::TimeZone;
use plan::Budget;
use sync::shop::View;
use turnbuckle::metrics::{FIRST_PLACES, first_places};
use turnbuckle::planner::Plan;
use turnbuckle::{demo, planner};

#[derive(Default)]
struct Tally {
    events: u64,
    places: u64,
    changed: u64,
    /// Places whose card another card has overtaken: not merely moved up because the one before it was done.
    overtaken: u64,
    still: u64,
}

impl Tally {
    fn add(&mut self, before: &Plan, after: &Plan, touched: &[OrderId]) {
        let (old, new) = (first_places(before, touched), first_places(after, touched));
        self.events += 1;
        let mut any = false;
        for (department, was) in &old {
            let is = new.get(department).cloned().unwrap_or_default();
            self.places += was.len() as u64;
            let changed = was.iter().zip(is.iter().map(Some).chain(std::iter::repeat(None)));
            let changed = changed.filter(|(a, b)| Some(*a) != *b).count() as u64;
            self.changed += changed;
            any |= changed > 0;
            let both: Vec<&CardId> = is.iter().filter(|c| was.contains(c)).collect();
            let kept: Vec<&CardId> = was.iter().filter(|c| is.contains(c)).collect();
            self.overtaken += both.iter().zip(&kept).filter(|(a, b)| a != b).count() as u64;
        }
        self.still += u64::from(!any);
    }

    fn say(&self, what: &str) {
        let share = |n: u64, of: u64| 100.0 * n as f64 / of.max(1) as f64;
        println!(
            "{what:<34} {:>5} times, {:>6} places: {:>5.2} % changed, {:>5.2} % overtaken; {:>5.1} % left all of them alone",
            self.events,
            self.places,
            share(self.changed, self.places),
            share(self.overtaken, self.places),
            share(self.still, self.events),
        );
    }
}

fn touched(state: &State, events: &[Event]) -> Vec<OrderId> {
    let mut copy = state.clone();
    let mut changed = fold::Changed::new();
    events.iter().for_each(|e| fold::fold(&mut copy, e, &mut changed));
    let mut orders = Vec::new();
    for key in &changed {
        match key {
            domain::state::Key::Order(id) => orders.push(*id),
            domain::state::Key::Card(id) => orders.extend(copy.cards.get(id).map(|c| c.order)),
            _ => {}
        }
    }
    orders.sort_unstable();
    orders.dedup();
    orders
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let number = |name: &str, or: u64| {
        args.iter().position(|a| a == name).and_then(|i| args.get(i + 1)?.parse().ok()).unwrap_or(or)
    };
    let zone = TimeZone::get("America/Chicago").expect("bundled");
    let local: jiff::civil::DateTime = "2025-03-19T16:55".parse().expect("a local time");
    let now = zone.to_timestamp(local).expect("in range").as_millisecond();
    let days = number("--days", 40) as u32;
    let shop = demo::build(number("--seed", 1), days, now, &zone);
    let today: Ms = now - 10 * 60 * MINUTE;
    let mut state = State::default();
    let (mut at_once, mut searched, mut idle) = (Tally::default(), Tally::default(), Tally::default());
    let mut shown: Option<(Plan, _)> = None;
    let mut last = today;
    for op in &shop.ops {
        let role = if op.by == SYSTEM { Role::Admin } else { state.people[&op.by].role };
        let context =
            Context { by: op.by, role, op: op.op, at: op.at, uncertain: false, now: op.at, zone: &zone };
        let Ok(events) = decide::decide(&state, &op.act, &[], &context) else { continue };
        let orders = touched(&state, &events);
        let view =
            |state: &State| View { head: Default::default(), state: state.clone(), zone: zone.clone() };
        if op.at >= today && shown.is_none() {
            shown = Some(planner::plan_now(
                &view(&state),
                today,
                &Default::default(),
                Budget::Tasks(planner::SEARCH_TASKS),
            ));
        }
        if let Some((plan, before)) = &mut shown {
            // What the half minutes between two events do by themselves.
            while last + planner::LOOK_EVERY_MS < op.at {
                last += planner::LOOK_EVERY_MS;
                let (next, starts) = planner::plan_now(&view(&state), last, before, Budget::First);
                idle.add(plan, &next, &[]);
                (*plan, *before) = (next, starts);
            }
            events.iter().for_each(|e| fold::fold(&mut state, e, &mut fold::Changed::new()));
            let (next, starts) = planner::plan_now(&view(&state), op.at, before, Budget::First);
            at_once.add(plan, &next, &orders);
            (*plan, *before) = (next, starts);
            let (next, starts) =
                planner::plan_now(&view(&state), op.at, before, Budget::Tasks(planner::SEARCH_TASKS));
            searched.add(plan, &next, &[]);
            (*plan, *before) = (next, starts);
        } else {
            events.iter().for_each(|e| fold::fold(&mut state, e, &mut fold::Changed::new()));
        }
    }
    println!("a day of the invented shop, first {FIRST_PLACES} places of every department");
    at_once.say("after an event, other vehicles");
    searched.say("after the search that follows");
    idle.say("while nothing happens, per look");
}
