//! What an act on one vehicle does to the others: how many of their cards move by more than half an hour, in three invented
//! shops in the middle of a working day, for every kind of act, a restart, and time in which nothing happens.
//!
//! usage: cargo run --example churn [-- --shops N] [--cars N] [--days N] [--verbose] [--check]
//!
//! Each act is tried by itself on the same state and the same shown plan: repaired at once, then searched as often as the
//! server would until nothing more is found. Common practice of what counts as moved: half an hour, since shown times are
//! rounded to five minutes and people prepare for the half hour.

use std::collections::BTreeMap;

use domain::decide::{self, Context, SYSTEM};
use domain::fold;
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::{MINUTE, Ms};
use jiff::tz::TimeZone;
use planner::keeper::Keeper;
use planner::{Plan, PlanVehicle, Shown};
use sync::shop::View;

const MOVED_MS: Ms = 30 * MINUTE;
const HOUR: Ms = 60 * MINUTE;
/// What `--check` holds every act to, over all of them …
const MEAN_PERCENT_MAX: f64 = 2.0;
const WORST_PERCENT_MAX: f64 = 15.0;
/// … and a minute in which nobody does anything.
const IDLE_MEAN_PERCENT_MAX: f64 = 0.5;
/// Not counted with the others: a vehicle that waits on the only booth keeps everybody else out of it, so nothing that
/// goes through it can stay where it was.
const BLOCKS: &str = "block";

/// How the server goes on from a shown plan, until it finds nothing more.
fn settle(keeper: &mut Keeper, view: &View, now: Ms) {
    while keeper.finds() {
        keeper.search(view, now, None);
    }
}

fn planned(view: &View, now: Ms, shown: Shown) -> Keeper {
    let mut keeper = Keeper::from(shown);
    keeper.repair(view, now);
    settle(&mut keeper, view, now);
    keeper
}

#[derive(Default)]
struct Tally {
    /// Share of other vehicles' cards that moved, in thousandths, per act.
    shares: Vec<f64>,
    by_department: BTreeMap<DepartmentId, (u64, u64)>,
    tardiness_before: i64,
    tardiness: i64,
}

impl Tally {
    fn add(&mut self, before: &Plan, after: &Plan, touched: Option<OrderId>, view: &View) {
        let is: BTreeMap<CardId, Ms> = after.rows.iter().map(|r| (r.card, r.from)).collect();
        let (mut cards, mut moved) = (0u64, 0u64);
        for row in before.rows.iter().filter(|r| Some(r.order) != touched && r.place > 0) {
            let Some(now) = is.get(&row.card) else { continue };
            let far = (now - row.from).abs() > MOVED_MS;
            cards += 1;
            moved += u64::from(far);
            let (of, n) = self.by_department.entry(row.department.clone()).or_default();
            *of += 1;
            *n += u64::from(far);
        }
        self.shares.push(100.0 * moved as f64 / cards.max(1) as f64);
        let weighted = |plan: &Plan| -> i64 {
            let of = |v: &PlanVehicle| {
                view.state.orders.get(&v.order).map_or(0, |o| i64::from(o.weight)) * v.late_minutes
            };
            plan.vehicles.iter().map(of).sum()
        };
        self.tardiness_before += weighted(before);
        self.tardiness += weighted(after);
    }

    fn say(&self, what: &str) {
        let n = self.shares.len().max(1);
        let worst = self.shares.iter().copied().fold(0.0, f64::max);
        println!(
            "{what:<12} {:>3} times  moved: mean {:>6.2} %, worst {:>6.2} %   weighted lateness {:>7} -> {:>7} min",
            self.shares.len(),
            self.shares.iter().sum::<f64>() / n as f64,
            worst,
            self.tardiness_before / n as i64,
            self.tardiness / n as i64,
        );
    }
}

/// What moved, by department: how many, and by how much in the middle.
fn explain(before: &Plan, after: &Plan, touched: OrderId, view: &View, act: &Act) {
    let is: BTreeMap<CardId, Ms> = after.rows.iter().map(|r| (r.card, r.from)).collect();
    let mut shifts: BTreeMap<&DepartmentId, Vec<Ms>> = BTreeMap::new();
    for row in before.rows.iter().filter(|r| r.order != touched && r.place > 0) {
        if let Some(now) = is.get(&row.card).filter(|now| (**now - row.from).abs() > MOVED_MS) {
            shifts.entry(&row.department).or_default().push((now - row.from) / MINUTE);
        }
    }
    if shifts.values().map(Vec::len).sum::<usize>() < 40 {
        return;
    }
    let order = &view.state.orders[&touched];
    println!("   {act:?}");
    println!(
        "   open {:?} stage {:?}",
        order.open.iter().map(|o| (&o.open, &o.equipment)).collect::<Vec<_>>(),
        order.stage
    );
    for (department, mut all) in shifts {
        all.sort_unstable();
        println!(
            "   {}: {} moved, {} .. {} .. {} min",
            department.0,
            all.len(),
            all[0],
            all[all.len() / 2],
            all[all.len() - 1]
        );
    }
}

struct Shop {
    state: State,
    zone: TimeZone,
    now: Ms,
    planner: PersonId,
}

impl Shop {
    fn view(&self, state: &State) -> View {
        View { head: Default::default(), state: state.clone(), zone: self.zone.clone() }
    }

    fn act(&self, number: u128, by: PersonId, act: &Act) -> Option<State> {
        let op = OpId(uuid::Uuid::from_u128(0xC0FF_EE00_0000 + number));
        let role = self.state.people.get(&by)?.role;
        let context =
            Context { by, role, op, at: self.now, uncertain: false, now: self.now, zone: &self.zone };
        let events = decide::decide(&self.state, act, &[], &context).ok()?;
        if events.is_empty() {
            return None;
        }
        let mut state = self.state.clone();
        events.iter().for_each(|e| fold::fold(&mut state, e, &mut fold::Changed::new()));
        Some(state)
    }

    fn cards(&self, order: OrderId, which: impl Fn(&Card) -> bool) -> Vec<Card> {
        self.state.cards_of(order).filter(|c| which(c)).cloned().collect()
    }

    fn ready(&self, card: &Card) -> bool {
        card.life == Life::Waiting && card.ready_at.is_some_and(|at| at <= self.now)
    }

    fn worker(&self, card: &Card) -> Option<PersonId> {
        let mut all = self.state.people_of(&card.department).filter(|p| p.role <= Role::Parts);
        all.find(|p| p.department == card.department && self.state.running_cards(p.id).next().is_none())
            .map(|p| p.id)
    }

    /// The act of one kind on a vehicle, if it fits it.
    fn of_kind(&self, kind: &str, order: &Order) -> Option<(PersonId, Act)> {
        let first = |cards: Vec<Card>| cards.into_iter().next();
        let open = |c: &Card| matches!(c.life, Life::Waiting | Life::Taken | Life::Paused);
        let ready = || first(self.cards(order.id, |c| self.ready(c)));
        let working = || first(self.cards(order.id, |c| c.life == Life::Working));
        let who = |c: &Card| c.spans.iter().find(|s| s.to.is_none()).map(|s| s.person);
        Some(match kind {
            "first" => {
                let card = ready()?.id;
                (self.planner, Act::PutFirst { card, reason: "waits".into(), until: self.now + 8 * HOUR })
            }
            "hold" | BLOCKS => {
                let keeps = order.open.iter().any(|o| o.equipment.is_some());
                if keeps != (kind == BLOCKS) {
                    return None;
                }
                let due = Some(self.now + 48 * HOUR);
                let (what, cards, note) = (HoldKind::Parts, Vec::new(), None);
                (self.planner, Act::Hold { order: order.id, what, cards, blocks: Blocks::Start, due, note })
            }
            "unhold" => {
                let hold = order.holds.iter().find(|h| h.ended.is_none())?.id;
                (self.planner, Act::Unhold { order: order.id, hold })
            }
            "take" => {
                let card = ready()?;
                (self.worker(&card)?, Act::Take { card: card.id })
            }
            "start" => {
                let card = ready()?;
                (self.worker(&card)?, Act::Start { card: card.id, on: None })
            }
            "pause" => {
                let card = working()?;
                (who(&card)?, Act::Pause { card: card.id, why: Some(PauseWhy::Parts) })
            }
            "finish" => {
                let card = working()?;
                (who(&card)?, Act::Finish { card: card.id, checks: Vec::new(), wet_minutes: None })
            }
            "add" => {
                let next = first(self.cards(order.id, open))?;
                let add = AddCard {
                    order: order.id,
                    department: next.department.clone(),
                    title: Words::from("Straighten a tab"),
                    planned_minutes: 20,
                    sold_minutes: None,
                    after: Vec::new(),
                    before: vec![next.id],
                    proposed: false,
                    needs: Needs::default(),
                };
                (self.planner, Act::AddCard(add))
            }
            "cancel" => {
                let plain = |c: &Card| {
                    c.needs.opens.is_none() && c.needs.closes.is_none() && c.needs.inside.is_none()
                };
                let card = first(self.cards(order.id, |c| c.life == Life::Waiting && plain(c)))?.id;
                (self.planner, Act::CancelCard { card, reason: None })
            }
            "promise" => {
                let due = order.promise? + 7 * 24 * HOUR;
                (self.planner, Act::Promise { order: order.id, due: Some(due), reason: None })
            }
            "lead" => {
                let card = first(self.cards(order.id, open))?;
                let person = self.worker(&card).filter(|p| order.leads.get(&card.department) != Some(p))?;
                let department = card.department;
                (self.planner, Act::Lead { order: order.id, department, person: Some(person) })
            }
            _ => (
                self.planner,
                Act::Note { order: order.id, card: None, body: "Two clips are missing.".into() },
            ),
        })
    }
}

const KINDS: [&str; 13] = [
    "first", "hold", BLOCKS, "unhold", "take", "start", "pause", "finish", "add", "cancel", "promise",
    "lead", "note",
];

fn shop(seed: u64, days: u32) -> Shop {
    let zone = TimeZone::get("America/Chicago").expect("bundled");
    let local: jiff::civil::DateTime = "2025-03-19T10:20".parse().expect("a local time");
    let now = zone.to_timestamp(local).expect("in range").as_millisecond();
    let built = demo::build(seed, days, now, &zone);
    let mut state = State::default();
    for op in &built.ops {
        let role = if op.by == SYSTEM { Role::Admin } else { state.people[&op.by].role };
        let context =
            Context { by: op.by, role, op: op.op, at: op.at, uncertain: false, now: op.at, zone: &zone };
        let Ok(events) = decide::decide(&state, &op.act, &[], &context) else { continue };
        events.iter().for_each(|e| fold::fold(&mut state, e, &mut fold::Changed::new()));
    }
    let planner = state.people.values().find(|p| p.role >= Role::Planner).expect("somebody plans").id;
    Shop { state, zone, now, planner }
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let number = |name: &str, or: u64| {
        args.iter().position(|a| a == name).and_then(|i| args.get(i + 1)?.parse().ok()).unwrap_or(or)
    };
    let cars = number("--cars", 3) as usize;
    let verbose = args.iter().any(|a| a == "--verbose");
    let mut kinds: BTreeMap<&str, Tally> = BTreeMap::new();
    let (mut all, mut at_once, mut stays) = (Tally::default(), Tally::default(), Tally::default());
    for seed in 1..=number("--shops", 3) {
        let mut shop = shop(seed, number("--days", 40) as u32);
        let view = shop.view(&shop.state);
        // As it stands in a shop that has worked by it for a while: nothing better is found any more.
        let mut shown = planned(&view, shop.now, Shown::default());
        for _ in 0..30 {
            let before = shown.shown.clone();
            shown.repair(&view, shop.now);
            settle(&mut shown, &view, shop.now);
            if shown.shown == before {
                break;
            }
        }
        // The server looks when a moment of the plan comes; what the minute itself moves counts as idle.
        shop.now += MINUTE;
        shown.look(&view, shop.now);
        let orders: Vec<Order> = shop.state.in_shop().cloned().collect();
        for (k, kind) in KINDS.iter().enumerate() {
            let mut done = 0;
            // Not always the same vehicles: each kind begins elsewhere.
            for i in 0..orders.len() {
                let order = &orders[(i + k * 5) % orders.len()];
                let Some((by, act)) = shop.of_kind(kind, order) else { continue };
                let Some(state) = shop.act((seed as u128) << 32 | (k as u128) << 16 | i as u128, by, &act)
                else {
                    continue;
                };
                let view = shop.view(&state);
                let mut keeper = shown.clone();
                keeper.repair(&view, shop.now);
                at_once.add(&shown.plan, &keeper.plan, Some(order.id), &view);
                if verbose {
                    explain(&shown.plan, &keeper.plan, order.id, &view, &act);
                }
                settle(&mut keeper, &view, shop.now);
                let tally = kinds.entry(kind).or_default();
                tally.add(&shown.plan, &keeper.plan, Some(order.id), &view);
                if verbose {
                    let of = |tally: &Tally| tally.shares.last().copied().unwrap_or_default();
                    println!(
                        "{kind:<8} shop {seed} {}: at once {:.1} %, then {:.1} %",
                        order.number,
                        of(&at_once),
                        of(tally)
                    );
                }
                // What staying costs: the same shop, planned by nobody's old order.
                if done == 0 {
                    let anew = planned(&view, shop.now, Shown::default());
                    stays.add(&anew.plan, &keeper.plan, Some(order.id), &view);
                }
                if *kind != BLOCKS {
                    all.add(&shown.plan, &keeper.plan, Some(order.id), &view);
                }
                done += 1;
                if done == cars {
                    break;
                }
            }
        }
        let mut again = Keeper::from(shown.shown.clone());
        again.look(&view, shop.now);
        settle(&mut again, &view, shop.now);
        kinds.entry("restart").or_default().add(&shown.plan, &again.plan, None, &view);
        let mut idle = shown.clone();
        for look in 1..=20 {
            let before = idle.plan.clone();
            idle.look(&view, shop.now + look * MINUTE);
            let tally = kinds.entry("idle").or_default();
            tally.add(&before, &idle.plan, None, &view);
            if verbose {
                println!(
                    "idle     shop {seed} {look} min: {:.1} %",
                    tally.shares.last().copied().unwrap_or_default()
                );
            }
        }
    }
    kinds.iter().for_each(|(kind, tally)| tally.say(kind));
    at_once.say("at once");
    all.say("all acts");
    let n = stays.shares.len().max(1) as i64;
    println!(
        "weighted lateness if planned anew {} min, staying {} min ({} acts)",
        stays.tardiness_before / n,
        stays.tardiness / n,
        n
    );
    if args.iter().any(|a| a == "--check") {
        let mean = all.shares.iter().sum::<f64>() / all.shares.len().max(1) as f64;
        let worst = all.shares.iter().copied().fold(0.0, f64::max);
        let idle = &kinds["idle"].shares;
        let idle = idle.iter().sum::<f64>() / idle.len().max(1) as f64;
        let restart = kinds["restart"].shares.iter().copied().fold(0.0, f64::max);
        if mean > MEAN_PERCENT_MAX
            || worst > WORST_PERCENT_MAX
            || idle > IDLE_MEAN_PERCENT_MAX
            || restart > 0.0
        {
            eprintln!(
                "churn: acts move more of other vehicles' cards than {MEAN_PERCENT_MAX} % ({WORST_PERCENT_MAX} % at worst), \
                 a minute more than {IDLE_MEAN_PERCENT_MAX} %, or a restart any"
            );
            std::process::exit(1);
        }
    }
    for (department, (cards, moved)) in &all.by_department {
        println!("  {:<14} {:>6.2} %", department.0, 100.0 * *moved as f64 / (*cards).max(1) as f64);
    }
}
