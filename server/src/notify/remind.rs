//! Notices born of the clock and the plan: asked and not taken, equipment held past the plan, a promise
//! that the plan no longer keeps. Each is entered in the log by the server itself, once.
//!
//! Invariants: [`look`] is pure; a reminder counts as told only when its entry is durable; what was told
//! is remembered beside the tables, and losing that costs one repetition.
//! Must not know: e-mail, HTTP.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Duration;

use domain::calendar;
use domain::ids::OrderId;
use domain::state::State;
use domain::stored::{Act, Blocks, Card, Handoff, HandoffLife, Life, Order, Reminder, Span, Stage};
use domain::{MINUTE, Ms};
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use tokio::sync::watch;
use tokio::task::JoinHandle;

use super::words::Expected;
use crate::shop::{OwnOp, Shop};
use planner::{Plan, Published};

const LOOK_EVERY: Duration = Duration::from_secs(60);
/// Working time of the asked department.
const UNTAKEN_MS: Ms = 60 * MINUTE;
/// Past the end that was planned when it was opened.
const HELD_MS: Ms = 60 * MINUTE;
/// Past the end of a shift, before somebody is asked whether their work still runs.
const AFTER_SHIFT_MS: Ms = 15 * MINUTE;
/// The same for whoever works outside of any shift.
const WITHOUT_SHIFT_MS: Ms = 10 * 60 * MINUTE;
/// How long keys of a stopped job may hang here before somebody is asked about them.
const STOPPED_MS: Ms = 3 * 24 * 60 * MINUTE;

const TREE: &str = "reminded";

/// One matter that may call for a reminder.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Matter {
    pub order: OrderId,
    pub told: bool,
    /// When the vehicle was planned to be closed, as first seen: the plan itself moves on with the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned_end: Option<Ms>,
}

pub type Book = BTreeMap<String, Matter>;

/// What the plan says, as far as it matters here.
pub struct Planned {
    pub expected: Expected,
    /// Orders whose promise it misses, with that promise.
    pub missed: Vec<(OrderId, Ms)>,
}

impl Planned {
    pub fn read(plan: &Plan) -> Self {
        let late = plan.vehicles.iter().filter(|v| v.late_minutes > 0);
        let missed = late.filter_map(|v| Some((v.order, v.promise?))).collect();
        Self { expected: super::expected(plan), missed }
    }
}

/// What is to be told now, under the name of its matter. Notes new matters in the book; whoever tells
/// sets `told`.
pub fn look(
    state: &State,
    zone: &TimeZone,
    planned: &Planned,
    now: Ms,
    book: &mut Book,
) -> Vec<(String, Act)> {
    let here: BTreeSet<OrderId> = state.in_shop().map(|order| order.id).collect();
    book.retain(|_, matter| here.contains(&matter.order));
    let mut tell = Vec::new();
    for order in state.in_shop() {
        for handoff in state.handoffs_of(order.id) {
            if let Some(card) = untaken(state, zone, order, handoff, now) {
                let act =
                    Act::Remind { about: Reminder::Untaken, card: Some(card.id), order: Some(order.id) };
                tell.push((format!("untaken/{}", handoff.id), order.id, act));
            }
        }
        for open in order.open.iter().filter(|open| open.equipment.is_some()) {
            let name = format!("held/{}/{}/{}", order.id, open.open, open.since);
            let closes =
                |card: &&Card| card.needs.closes.as_ref() == Some(&open.open) && !card.life.is_over();
            let closer = state.cards_of(order.id).find(closes);
            let end = closer.and_then(|card| planned.expected.get(&card.id)).map(|(_, to)| *to);
            let matter = Matter { order: order.id, told: false, planned_end: None };
            let matter = book.entry(name.clone()).or_insert(matter);
            matter.planned_end = matter.planned_end.or(end);
            if matter.planned_end.is_some_and(|end| now > end + HELD_MS) {
                let card = closer.map(|card| card.id);
                tell.push((
                    name,
                    order.id,
                    Act::Remind { about: Reminder::LiftBlocked, card, order: Some(order.id) },
                ));
            }
        }
    }
    for order in state.in_shop() {
        for card in state.cards_of(order.id) {
            for span in &card.spans {
                let Some(off) = still_running(state, zone, span, now) else { continue };
                let act =
                    Act::Remind { about: Reminder::StillRunning, card: Some(card.id), order: Some(order.id) };
                // Asked in a break, one is asked again when the shift is over.
                let name = match off {
                    Off::Home => format!("running/{}", span.id),
                    Off::Break(since) => format!("break/{}/{since}", span.id),
                };
                tell.push((name, order.id, act));
            }
        }
        let stopped = order.stages.last().filter(|last| last.stage == Stage::Stopped);
        if let Some(since) = stopped.map(|last| last.at).filter(|since| now > since + STOPPED_MS) {
            let act = Act::Remind { about: Reminder::StoppedHere, card: None, order: Some(order.id) };
            tell.push((format!("stopped/{}/{since}", order.id), order.id, act));
        }
    }
    for (order, promise) in &planned.missed {
        // The plan may be a moment older than the promise.
        let stands = state.orders.get(order).is_some_and(|o| o.promise == Some(*promise) && in_work(o));
        if stands {
            let act = Act::Remind { about: Reminder::PromiseUnlikely, card: None, order: Some(*order) };
            tell.push((format!("promise/{order}/{promise}"), *order, act));
        }
    }
    tell.retain(|(name, order, _)| {
        let matter = Matter { order: *order, told: false, planned_end: None };
        !book.entry(name.clone()).or_insert(matter).told
    });
    tell.into_iter().map(|(name, _, act)| (name, act)).collect()
}

/// What its person does by the calendar while the work runs.
enum Off {
    Home,
    /// Since then.
    Break(Ms),
}

/// Whether its person is not there: a shift in which it ran is over, for the day or for a break.
fn still_running(state: &State, zone: &TimeZone, span: &Span, now: Ms) -> Option<Off> {
    let (None, Some(person)) = (span.to, state.people.get(&span.person)) else { return None };
    let worked = calendar::of_person(state, person, zone, span.from, now);
    let Some((_, ended)) = worked.last().copied() else {
        return (now > span.from + WITHOUT_SHIFT_MS).then_some(Off::Home);
    };
    if now < ended + AFTER_SHIFT_MS {
        return None;
    }
    let midnight = calendar::local_date(now, zone).tomorrow().ok();
    let midnight = midnight.and_then(|date| calendar::instant(date, 0, zone)).unwrap_or(now);
    let comes_back = !calendar::of_person(state, person, zone, now, midnight).is_empty();
    let today = calendar::local_date(ended, zone) == calendar::local_date(now, zone);
    Some(if comes_back && today { Off::Break(ended) } else { Off::Home })
}

fn in_work(order: &Order) -> bool {
    matches!(order.stage, Stage::Arrived | Stage::Authorised)
}

/// The first card of a hand-off that could be taken and was not, for too long.
fn untaken<'a>(
    state: &'a State,
    zone: &TimeZone,
    order: &Order,
    handoff: &Handoff,
    now: Ms,
) -> Option<&'a Card> {
    if handoff.life != HandoffLife::Asked || !in_work(order) {
        return None;
    }
    let card = state.cards.get(handoff.cards.first()?)?;
    let held = order.holds.iter().any(|hold| {
        let about = hold.cards.is_empty() || hold.cards.contains(&card.id);
        hold.ended.is_none() && hold.blocks == Blocks::Start && about
    });
    if card.life != Life::Waiting || card.taken_by.is_some() || held {
        return None;
    }
    let since = card.ready_at?.max(handoff.asked_at);
    let worked = calendar::of_department(state, &card.department, zone, since, now);
    (since < now && calendar::length(&worked) > UNTAKEN_MS).then_some(card)
}

/// Looks every minute until it is aborted.
pub fn start(shop: Arc<Shop>, plan: watch::Receiver<Arc<Published>>) -> JoinHandle<()> {
    tokio::spawn(async move {
        let mut book = read_book(&shop);
        let mut minute = tokio::time::interval(LOOK_EVERY);
        minute.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        loop {
            minute.tick().await;
            let published = plan.borrow().clone();
            round(&shop, &published.plan, &mut book).await;
        }
    })
}

/// One look, and what it finds entered in the log. Without a plan it waits for one.
pub async fn round(shop: &Arc<Shop>, plan: &Plan, book: &mut Book) {
    if plan.rev == 0 || plan.trouble.is_some() {
        return;
    }
    let (view, now) = (shop.view(), shop.clock.now());
    let before = book.clone();
    let tell = look(&view.state, &view.zone, &Planned::read(plan), now, book);
    if !tell.is_empty() {
        let ops = tell.iter().map(|(_, act)| OwnOp::system(act.clone())).collect();
        match shop.own(ops).await {
            Ok(_) => {
                for (name, _) in &tell {
                    book.entry(name.clone()).and_modify(|matter| matter.told = true);
                }
            }
            Err(error) => tracing::warn!(%error, "reminders could not be entered; they are tried again"),
        }
    }
    keep_book(shop, before, book).await;
}

pub fn read_book(shop: &Shop) -> Book {
    let rows = shop.store.tables().kv_list(TREE).unwrap_or_else(|error| {
        tracing::warn!(%error, "which reminders were told could not be read; one may come again");
        Vec::new()
    });
    let read = |(key, value): (Vec<u8>, Vec<u8>)| {
        Some((String::from_utf8(key).ok()?, serde_json::from_slice(&value).ok()?))
    };
    rows.into_iter().filter_map(read).collect()
}

async fn keep_book(shop: &Arc<Shop>, before: Book, book: &Book) {
    if before == *book {
        return;
    }
    let (shop, book) = (shop.clone(), book.clone());
    let kept = tokio::task::spawn_blocking(move || {
        let tables = shop.store.tables();
        for name in before.keys().filter(|name| !book.contains_key(*name)) {
            tables.kv_delete(TREE, name.as_bytes())?;
        }
        for (name, matter) in book.iter().filter(|(name, matter)| before.get(*name) != Some(*matter)) {
            tables.kv_put(TREE, name.as_bytes(), &store::json("a reminder", matter)?)?;
        }
        Ok::<_, store::Error>(())
    });
    if !matches!(kept.await, Ok(Ok(()))) {
        tracing::warn!("which reminders were told could not be kept; after a restart one may come again");
    }
}

#[cfg(test)]
mod tests;
