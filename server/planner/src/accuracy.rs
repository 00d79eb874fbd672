//! Whether forecasts come true, and what that teaches: forecasts of the shop's own past are made again from the
//! log and compared with what happened.
//!
//! The log is read again entry by entry. On the evening of each day on which a vehicle arrived, was authorised
//! or had half of its planned work done, the shop as it was then is forecast, without any later knowledge, and
//! with what earlier vehicles had taught until then. The result is the share of vehicles that were finished by
//! the forecast dates, and how much later than the runs they were.
//! Invariants: only dates that have passed are judged, kept or not, so that slow vehicles cannot hide by being
//! open; stopped visits are left out; nothing of the present day is used, so that a day has one answer; it is
//! computed from the log alone, so that anybody gets the same numbers from it.
//! Must not know: screens; how forecasts are made.

use std::collections::{BTreeMap, BTreeSet};

use domain::calendar::{self, local_date};
use domain::cold::COLD_AFTER;
use domain::fold;
use domain::ids::*;
use domain::state::{Key, State};
use domain::stored::*;
use domain::{MINUTE, Ms, learn};
use plan::{Budget, Case, Foreseen, Minutes, OpenHours, Slip};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Shown;
use super::forecast::{order_of, run};
use super::problem::{self, Built};
use sync::shop::{OpenError, Shop, zone_of};

/// Older work says little about today's people.
const BACK: Ms = 180 * 24 * 60 * MINUTE;
/// Enough for two dates; the forecast on the screen is made with more.
const RUNS: usize = 200;
/// Calendars are unrolled this far; beyond it every hour counts as open.
const AHEAD: Ms = 400 * 24 * 60 * MINUTE;

/// When in a visit a forecast was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    /// On the evening of the day its keys came in.
    Arrived,
    /// On the evening of the day its repair was authorised.
    Authorised,
    /// On the evening of the day half of its planned minutes were done.
    HalfWay,
}

/// How forecasts of the last 180 days came true. A vehicle is finished when its last card is done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Accuracy {
    /// The beginning of these days, UTC ms.
    pub from: Ms,
    /// Their end, UTC ms.
    pub to: Ms,
    /// One judgement for each moment of a visit.
    pub moments: Vec<Judged>,
}

/// How forecasts made at one moment of a visit came true.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Judged {
    /// Which moment.
    pub at: Moment,
    /// How many times as long as the runs say vehicles take from then on, in open hours: the median, learnt
    /// from earlier vehicles and already applied to the dates. A prior until vehicles have taught it.
    pub factor: f64,
    /// Vehicles both of whose dates, given then, have passed.
    pub vehicles: u32,
    /// Of these, finished by the date that half of the runs kept.
    pub by_p50: u32,
    /// Of these, finished by the date that nine of ten runs kept.
    pub by_p90: u32,
}

/// What the past says and what it teaches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Past {
    /// How forecasts came true.
    pub accuracy: Accuracy,
    /// What that adds to the next ones.
    pub slips: Slips,
}

/// How much later than forecast vehicles were finished, by how far they had come when it was made.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Slips(BTreeMap<Moment, Slip>);

impl Slips {
    /// For a vehicle as it is now. One that has not come yet is as uncertain as one that has just arrived.
    pub fn of(&self, state: &State, order: &Order) -> Slip {
        let moment = reached(state, order).last().copied().unwrap_or(Moment::Arrived);
        self.0.get(&moment).copied().unwrap_or_default()
    }

    /// How many vehicles it was learnt from.
    pub fn vehicles(&self) -> u32 {
        self.0.values().map(|slip| slip.count).max().unwrap_or(0)
    }
}

/// When the shop is open, from the forecast's beginning on.
pub fn open_hours(state: &State, built: &Built) -> OpenHours {
    let zone = zone_of(state);
    let open = calendar::of_shop(state, &zone, built.origin, built.origin + AHEAD);
    let minutes = |at: Ms| (at - built.origin).div_euclid(MINUTE);
    OpenHours::new(&plan::Calendar { open: open.iter().map(|&(a, b)| (minutes(a), minutes(b))).collect() })
}

/// A seed that follows from the order, the same for every caller: one vehicle's factor does not follow
/// another's.
pub fn seed_of(order: OrderId) -> u64 {
    order.0.as_u64_pair().1
}

struct Given {
    order: OrderId,
    at: Moment,
    made: Ms,
    /// Open minutes of the shop until then.
    made_open: Minutes,
    foreseen: Foreseen,
    /// Open minutes it took from then on, once its end is known.
    took: Option<Minutes>,
    p50: Ms,
    p90: Ms,
}

#[derive(Default)]
struct Walk {
    state: State,
    /// Time of the last act; never goes back.
    now: Ms,
    seen: BTreeSet<(OrderId, Moment)>,
    /// Moments that were reached since the last evening.
    today: Vec<(OrderId, Moment)>,
    /// The plan that was made last.
    shown: Shown,
    given: Vec<Given>,
    /// Vehicles whose work ended since the last evening.
    over: BTreeSet<OrderId>,
    /// Open minutes from the first evening to the last.
    open: Minutes,
    evening: Ms,
}

/// Reads the whole log; takes seconds. Blocks.
pub fn past(shop: &Shop, now: Ms) -> Result<Past, OpenError> {
    let zone = shop.view().zone.clone();
    let until = calendar::instant(local_date(now, &zone), 0, &zone).unwrap_or(now);
    let from = until - BACK;
    let mut walk = Walk::default();
    let (mut ahead, mut cooled) = (Vec::new(), 0);
    for entry in shop.past() {
        let entry = entry?;
        if entry.act_at >= until {
            ahead.push(entry);
            continue;
        }
        // The server's clock had run ahead and was set back: these happened before.
        for early in ahead.drain(..) {
            walk.entry(&early, from);
        }
        let at = entry.act_at.max(walk.now);
        if !walk.today.is_empty() {
            let zone = zone_of(&walk.state);
            if local_date(walk.now, &zone) != local_date(at, &zone) {
                walk.evening();
            }
        }
        if at - cooled > COLD_AFTER / 2 {
            cooled = at;
            walk.state.cool(at - COLD_AFTER);
        }
        walk.now = at;
        walk.entry(&entry, from);
    }
    walk.evening();
    let slips = walk.slips();
    let accuracy = Accuracy { from, to: until, moments: judged(&walk, &slips, until) };
    Ok(Past { accuracy, slips })
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
            if matches!(order.stage, Stage::Ready | Stage::Delivered) {
                self.over.insert(order.id);
            }
            for at in reached(&self.state, order) {
                if self.seen.insert((order.id, at)) && self.now >= from {
                    self.today.push((order.id, at));
                }
            }
        }
    }

    /// Forecasts the shop as it is now for the vehicles that reached a moment today.
    fn evening(&mut self) {
        let today = std::mem::take(&mut self.today);
        self.close();
        let built = problem::build(&self.state, &zone_of(&self.state), self.now, &self.shown, &|_| false);
        let known: BTreeMap<OrderId, usize> =
            built.orders.iter().enumerate().map(|(job, id)| (*id, job)).collect();
        if !today.iter().any(|(order, _)| known.contains_key(order)) {
            return;
        }
        let Ok(starts) = order_of(&built, &self.shown, Budget::First) else { return };
        let origin = built.origin.div_euclid(MINUTE);
        self.shown.starts = built.cards.iter().copied().zip(starts.iter().map(|at| at + origin)).collect();
        let learnt = learn::learn(&self.state, self.now);
        let Ok(mut found) = run(&built, &self.state, &learnt, &starts, RUNS) else { return };
        let (open, slips) = (open_hours(&self.state, &built), self.slips());
        for (order, at) in today {
            // Finished on the same day: nothing was left to forecast.
            let Some(&job) = known.get(&order) else { continue };
            let Some(foreseen) = found.foreseen(job, &open) else { continue };
            let as_run = found.jobs[job].clone();
            found.slip(job, &slips.0.get(&at).copied().unwrap_or_default(), &open, seed_of(order));
            let (p50, p90) = (found.by(job, 0.5), found.by(job, 0.9));
            // It may have reached two moments on one day.
            found.jobs[job] = as_run;
            let (Some(p50), Some(p90)) = (p50, p90) else { continue };
            let (p50, p90) = (built.at(p50), built.at(p90));
            let (made, made_open) = (self.now, self.open);
            self.given.push(Given { order, at, made, made_open, foreseen, took: None, p50, p90 });
        }
    }

    /// How long those vehicles took whose end has become known.
    fn close(&mut self) {
        let over = std::mem::take(&mut self.over);
        let zone = zone_of(&self.state);
        if self.evening > 0 {
            let open = calendar::of_shop(&self.state, &zone, self.evening, self.now);
            self.open += calendar::length(&open) / MINUTE;
        }
        self.evening = self.now;
        for given in self.given.iter_mut().filter(|given| over.contains(&given.order)) {
            let Some(end) = finished(&self.state, given.order).filter(|end| *end < Ms::MAX) else { continue };
            let open = calendar::of_shop(&self.state, &zone, given.made, end.max(given.made));
            given.took = Some(calendar::length(&open) / MINUTE);
        }
    }

    fn slips(&self) -> Slips {
        let of = |at: Moment| {
            let cases = self.given.iter().filter(|given| given.at == at);
            let case = |given: &Given| {
                let (took, over) = match given.took {
                    Some(took) => (took, true),
                    None => (self.open - given.made_open, false),
                };
                let stopped = self.state.orders.get(&given.order).is_none_or(|o| o.stage == Stage::Stopped);
                (!stopped).then_some(Case { foreseen: given.foreseen, took, over })
            };
            (at, Slip::learn(cases.filter_map(case)))
        };
        Slips([Moment::Arrived, Moment::Authorised, Moment::HalfWay].map(of).into())
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

/// When the last card of a vehicle was done; [`Ms::MAX`] while it is not. None for stopped visits.
fn finished(state: &State, order: OrderId) -> Option<Ms> {
    let order = state.orders.get(&order).filter(|o| o.stage != Stage::Stopped)?;
    let over = matches!(order.stage, Stage::Ready | Stage::Delivered);
    let done = state.cards_of(order.id).try_fold(0, |last: Ms, card| match card.life {
        Life::Cancelled | Life::Proposed => Some(last),
        _ => card.done_at.map(|at| last.max(at)),
    });
    // Keys back over a card that nobody reported done: then it was done.
    let back = || order.stages.iter().rfind(|s| s.stage == order.stage).map(|s| s.at);
    Some(done.or_else(|| over.then(back).flatten()).unwrap_or(Ms::MAX))
}

fn judged(walk: &Walk, slips: &Slips, now: Ms) -> Vec<Judged> {
    [Moment::Arrived, Moment::Authorised, Moment::HalfWay]
        .map(|at| {
            let factor = slips.0.get(&at).copied().unwrap_or_default().median();
            let mut judged = Judged { at, factor, vehicles: 0, by_p50: 0, by_p90: 0 };
            for given in walk.given.iter().filter(|given| given.at == at && given.p90 <= now) {
                let Some(end) = finished(&walk.state, given.order) else { continue };
                judged.vehicles += 1;
                judged.by_p50 += u32::from(end <= given.p50);
                judged.by_p90 += u32::from(end <= given.p90);
            }
            judged
        })
        .to_vec()
}
