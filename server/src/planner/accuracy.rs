//! Whether forecasts come true: those of the shop's own past, made anew from the log and held against what happened.
//!
//! The log is read again entry by entry. On the evening of the day on which a vehicle arrived, was authorised or had half of its
//! planned work done, the shop as it then was is forecast, knowing nothing of later. What is said is the share of vehicles
//! that were finished by the dates found.
//! Invariants: only dates that have passed are judged, kept or not, so that slow vehicles cannot hide by being open; stopped
//! visits are left out; from the log alone, so anybody gets the same numbers from it.
//! Must not know: screens; how forecasts are made.

use std::collections::{BTreeMap, BTreeSet};

use domain::calendar::local_date;
use domain::fold;
use domain::ids::*;
use domain::state::{Key, State};
use domain::stored::*;
use domain::{MINUTE, Ms, learn};
use plan::Budget;
use serde::Serialize;
use utoipa::ToSchema;

use super::forecast::{order_of, run};
use super::problem;
use crate::shop::{OpenError, Shop, zone_of};

/// Older work says little about today's people.
const BACK: Ms = 180 * 24 * 60 * MINUTE;
/// Enough for two dates; the forecast on the screen is made with more.
const RUNS: usize = 250;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    Arrived,
    Authorised,
    /// Half of the planned minutes of its work were done.
    HalfWay,
}

/// Of the last 180 days. Finished: its last card was done.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Accuracy {
    pub from: Ms,
    pub to: Ms,
    pub moments: Vec<Judged>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Judged {
    pub at: Moment,
    /// Vehicles whose dates, given then, have both passed.
    pub vehicles: u32,
    /// Finished by the date that half of the runs kept …
    pub by_p50: u32,
    /// … and by the one that nine of ten kept.
    pub by_p90: u32,
}

struct Given {
    order: OrderId,
    at: Moment,
    p50: Ms,
    p90: Ms,
}

#[derive(Default)]
struct Walk {
    state: State,
    /// Time of the last act: never runs back.
    now: Ms,
    seen: BTreeSet<(OrderId, Moment)>,
    /// What has come to pass since the last evening.
    today: Vec<(OrderId, Moment)>,
    /// Starts as they were planned last.
    shown: BTreeMap<CardId, Ms>,
    given: Vec<Given>,
}

/// Reads the whole log; takes seconds. Blocks.
pub fn accuracy(shop: &Shop, now: Ms) -> Result<Accuracy, OpenError> {
    let from = now - BACK;
    let mut walk = Walk::default();
    for entry in shop.past() {
        let entry = entry?;
        let at = entry.act_at.clamp(walk.now, now);
        if !walk.today.is_empty() {
            let zone = zone_of(&walk.state);
            if local_date(walk.now, &zone) != local_date(at, &zone) {
                walk.evening();
            }
        }
        walk.now = at;
        walk.entry(&entry, from);
    }
    walk.evening();
    Ok(Accuracy { from, to: now, moments: judged(&walk, now) })
}

impl Walk {
    fn entry(&mut self, entry: &Entry, from: Ms) {
        for key in fold::entry(&mut self.state, entry) {
            let order = match key {
                Key::Order(id) => Some(id),
                Key::Card(id) => self.state.cards.get(&id).map(|card| card.order),
                _ => None,
            };
            let Some(order) = order.and_then(|id| self.state.orders.get(&id)) else { continue };
            for at in reached(&self.state, order) {
                if self.seen.insert((order.id, at)) && self.now >= from {
                    self.today.push((order.id, at));
                }
            }
        }
    }

    /// Forecasts the shop as it is now for what has come to pass today.
    fn evening(&mut self) {
        let today = std::mem::take(&mut self.today);
        let built = problem::build(&self.state, &zone_of(&self.state), self.now);
        let known: BTreeMap<OrderId, usize> =
            built.orders.iter().enumerate().map(|(job, id)| (*id, job)).collect();
        if !today.iter().any(|(order, _)| known.contains_key(order)) {
            return;
        }
        let Ok(starts) = order_of(&built, &self.shown, Budget::First) else { return };
        self.shown = built.cards.iter().copied().zip(starts.iter().map(|at| built.at(*at))).collect();
        let learnt = learn::learn(&self.state, self.now);
        let Ok(found) = run(&built, &self.state, &learnt, &starts, RUNS) else { return };
        for (order, at) in today {
            // Finished on the same day: nothing was left to forecast.
            let Some(job) = known.get(&order) else { continue };
            let (Some(p50), Some(p90)) = (found.by(*job, 0.5), found.by(*job, 0.9)) else { continue };
            self.given.push(Given { order, at, p50: built.at(p50), p90: built.at(p90) });
        }
    }
}

fn reached(state: &State, order: &Order) -> Vec<Moment> {
    let been = |stage| order.stages.iter().any(|s| s.stage == stage);
    let mut all = Vec::new();
    if been(Stage::Arrived) {
        all.push(Moment::Arrived);
    }
    if been(Stage::Authorised) {
        all.push(Moment::Authorised);
        let (mut done, mut planned) = (0u64, 0u64);
        for card in state.cards_of(order.id).filter(|c| !matches!(c.life, Life::Cancelled | Life::Proposed)) {
            planned += u64::from(card.planned_minutes);
            done += if card.life == Life::Done { u64::from(card.planned_minutes) } else { 0 };
        }
        if planned > 0 && 2 * done >= planned {
            all.push(Moment::HalfWay);
        }
    }
    all
}

fn judged(walk: &Walk, now: Ms) -> Vec<Judged> {
    let finished = |order: OrderId| {
        let order = walk.state.orders.get(&order).filter(|o| o.stage != Stage::Stopped)?;
        let mut cards = walk.state.cards_of(order.id);
        let over = matches!(order.stage, Stage::Ready | Stage::Delivered);
        let done = cards.try_fold(0, |last: Ms, card| match card.life {
            Life::Cancelled | Life::Proposed => Some(last),
            _ => card.done_at.map(|at| last.max(at)),
        });
        // Keys back over a card that nobody finished on paper: then it was done.
        let back = || order.stages.iter().rfind(|s| s.stage == order.stage).map(|s| s.at);
        Some(done.or_else(|| over.then(back).flatten()).unwrap_or(Ms::MAX))
    };
    [Moment::Arrived, Moment::Authorised, Moment::HalfWay]
        .map(|at| {
            let mut judged = Judged { at, vehicles: 0, by_p50: 0, by_p90: 0 };
            for given in walk.given.iter().filter(|given| given.at == at && given.p90 <= now) {
                let Some(end) = finished(given.order) else { continue };
                judged.vehicles += 1;
                judged.by_p50 += u32::from(end <= given.p50);
                judged.by_p90 += u32::from(end <= given.p90);
            }
            judged
        })
        .to_vec()
}
