//! The demo shop keeps what its module promises, for several seeds and at several times of the week.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use domain::decide::{self, Context, SYSTEM};
use domain::fold;
use domain::ids::*;
use domain::measure;
use domain::state::State;
use domain::stored::*;

use super::*;

/// Local times in a shop of its time zone: a Wednesday morning in work, the night after, a Sunday, just
/// after the shift began, the noon break.
const NOWS: [&str; 5] =
    ["2025-03-19T10:40", "2025-03-19T22:15", "2025-03-23T11:00", "2025-11-03T07:09", "2025-06-12T11:45"];

fn zone() -> TimeZone {
    TimeZone::get("America/Chicago").expect("bundled")
}

fn at(local: &str) -> Ms {
    local_time(local, &zone())
}

fn local_time(local: &str, zone: &TimeZone) -> Ms {
    let local: jiff::civil::DateTime = local.parse().expect("a local time");
    zone.to_timestamp(local).expect("in range").as_millisecond()
}

struct Built {
    seed: u64,
    days: u32,
    now: Ms,
    demo: Demo,
    state: State,
    /// Refusals of acts that were not meant to be refused, and acceptances of those that were.
    wrong: Vec<String>,
    /// What the simulation meant and the rules refused.
    dropped: Vec<String>,
}

fn built() -> &'static [Built] {
    static BUILT: OnceLock<Vec<Built>> = OnceLock::new();
    BUILT.get_or_init(|| {
        let one = |seed, days, now| {
            let zone = zone();
            let (mut sim, photos) = simulate(seed, days, now, &zone);
            let dropped = std::mem::take(&mut sim.dropped);
            let demo = shown(sim, photos);
            let (state, wrong) = replay(&demo.ops);
            Built { seed, days, now, demo, state, wrong, dropped }
        };
        let seeds = (1..=5).map(|seed| one(seed, 90, at(NOWS[0])));
        seeds.chain(NOWS[1..].iter().zip(1..).map(|(now, seed)| one(seed, 40, at(now)))).collect()
    })
}

/// Decides every act again, in a state of its own.
fn replay(ops: &[DemoOp]) -> (State, Vec<String>) {
    let (mut state, mut wrong, zone) = (State::default(), Vec::new(), zone());
    for op in ops {
        let role = if op.by == SYSTEM { Role::Admin } else { state.people[&op.by].role };
        let context =
            Context { by: op.by, role, op: op.op, at: op.at, uncertain: false, now: op.at, zone: &zone };
        match decide::decide(&state, &op.act, &[], &context) {
            Ok(_) if op.refused => wrong.push(format!("accepted: {:?}", op.act)),
            Err(no) if !op.refused => wrong.push(format!("{no}: {:?}", op.act)),
            Ok(events) => events.iter().for_each(|e| fold::fold(&mut state, e, &mut fold::Changed::new())),
            Err(_) => {}
        }
    }
    (state, wrong)
}

#[test]
fn the_same_seed_and_date_give_the_same_shop() {
    let first = &built()[5];
    let again = build(first.seed, first.days, first.now, &zone());
    assert_eq!(first.demo.ops, again.ops);
    assert_eq!(first.demo.photos, again.photos);
    assert_ne!(built()[0].demo.ops, built()[1].demo.ops);
}

#[test]
fn the_rules_agree_with_every_act() {
    for Built { seed, now, demo, wrong, dropped, .. } in built() {
        assert!(dropped.is_empty(), "seed {seed} at {now}: {:?}", dropped.first());
        assert!(wrong.is_empty(), "seed {seed} at {now}: {} wrong, first: {:?}", wrong.len(), wrong.first());
        let refused = demo.ops.iter().filter(|op| op.refused).count();
        assert!((1..40).contains(&refused), "seed {seed}: {refused} refused on purpose");
        let ids: BTreeSet<OpId> = demo.ops.iter().map(|op| op.op).collect();
        assert_eq!(ids.len(), demo.ops.len());
    }
}

#[test]
fn acts_stand_in_order_in_working_time_and_not_in_the_future() {
    for Built { seed, now, demo, state, .. } in built() {
        assert!(demo.ops.windows(2).all(|pair| pair[0].at <= pair[1].at), "seed {seed}");
        let first = demo.ops[0].at;
        let open = calendar::of_shop(state, &zone(), first, *now);
        let set_up = |act: &Act| {
            matches!(
                act,
                Act::SetShop { .. }
                    | Act::SetCalendar { .. }
                    | Act::SetDepartment { .. }
                    | Act::SetEquipment { .. }
                    | Act::SetPlace { .. }
                    | Act::SetRouting { .. }
                    | Act::SetPerson { .. }
            )
        };
        for op in demo.ops.iter().filter(|op| !set_up(&op.act)) {
            let inside = open.iter().any(|(a, b)| (*a..=*b).contains(&op.at));
            assert!(inside && op.at <= *now, "seed {seed}: {} {:?}", op.at, op.act);
        }
    }
}

#[test]
fn the_shop_is_full_of_people_and_vehicles() {
    for Built { seed, days, now, demo, state, .. } in built() {
        assert!(demo.people.len() >= 8);
        let roles: BTreeSet<Role> = demo.people.iter().map(|p| p.role).collect();
        assert_eq!(roles.len(), 5, "every role has somebody");
        let here = state.in_shop().filter(|o| o.stage != Stage::Expected).count();
        assert!((25..=45).contains(&here), "seed {seed} at {now}: {here} here");
        let delivered = state.orders.values().filter(|o| o.stage == Stage::Delivered).count();
        assert!(delivered >= *days as usize * 4 / 3, "seed {seed} at {now}: {delivered} delivered");
        assert!(state.in_shop().any(|o| o.stage == Stage::Expected));
    }
}

#[test]
fn nobody_does_two_things_at_once() {
    for Built { seed, now, state, .. } in built() {
        let mut spans: BTreeMap<PersonId, Vec<(Ms, Ms)>> = BTreeMap::new();
        for span in state.cards.values().flat_map(|c| &c.spans) {
            spans.entry(span.person).or_default().push((span.from, span.to.unwrap_or(*now)));
        }
        for of_one in spans.values_mut() {
            of_one.sort_unstable();
            assert!(of_one.windows(2).all(|pair| pair[0].1 <= pair[1].0), "seed {seed} at {now}");
        }
    }
}

#[test]
fn one_vehicle_at_a_time_on_each_piece_of_equipment() {
    for Built { seed, now, state, .. } in built() {
        let kinds: BTreeSet<ExceptionKind> = state.exceptions.values().map(|e| e.kind).collect();
        let allowed = [
            ExceptionKind::ClosedOverUndone,
            ExceptionKind::MovedOpen,
            ExceptionKind::StartedEarly,
            ExceptionKind::FinishedEarly,
            ExceptionKind::TooLate,
            ExceptionKind::LeftOpen,
        ];
        assert!(kinds.iter().all(|k| allowed.contains(k)), "seed {seed} at {now}: {kinds:?}");
        // From the spans themselves too, not only from what the rules noticed.
        let mut used: BTreeMap<&EquipmentId, Vec<(Ms, Ms, OrderId)>> = BTreeMap::new();
        for card in state.cards.values() {
            let Some(equipment) = &card.used else { continue };
            let spans = card.spans.iter().map(|s| (s.from, s.to.unwrap_or(*now), card.order));
            used.entry(equipment).or_default().extend(spans);
        }
        for (equipment, spans) in &mut used {
            spans.sort_unstable();
            for pair in spans.windows(2) {
                let apart = pair[0].1 <= pair[1].0 || pair[0].2 == pair[1].2;
                assert!(apart, "seed {seed} at {now}: two vehicles on {equipment}");
            }
        }
    }
}

#[test]
fn work_runs_in_the_shift_and_rests_outside() {
    for Built { seed, now, state, .. } in built() {
        let running = state.cards.values().filter(|c| c.life == Life::Working).count();
        if calendar::of_shop(state, &zone(), *now, now + 1).is_empty() {
            assert_eq!(running, 0, "seed {seed} at {now}");
            assert!(state.cards.values().any(|c| c.life == Life::Paused));
        } else {
            assert!(running >= 4, "seed {seed} at {now}: {running} running");
        }
    }
}

fn order_like<'a>(state: &'a State, vehicle: &str) -> &'a Order {
    state.in_shop().filter(|o| o.vehicle == vehicle).max_by_key(|o| o.created_at).expect(vehicle)
}

#[test]
fn todays_stories_stand_where_they_should() {
    for Built { seed, now, state, .. } in built() {
        let what = format!("seed {seed} at {now}");
        let handoff = |vehicle: &str, routing: &str| {
            let order = order_like(state, vehicle).id;
            let found = state.handoffs.values().find(|h| h.order == order && h.routing.0 == routing);
            found.unwrap_or_else(|| panic!("{what}: {vehicle} {routing}"))
        };
        let wagon = order_like(state, "grey wagon");
        assert_eq!(handoff("grey wagon", "suspension-down-rear").life, HandoffLife::Open, "{what}");
        assert_eq!(wagon.open.first().and_then(|o| o.equipment.clone()), Some("lift-2".into()), "{what}");
        let sealing =
            state.cards_of(wagon.id).find(|c| c.title.text.starts_with("Seal wheelhouse")).expect("sealing");
        assert!(matches!(sealing.life, Life::Working | Life::Paused), "{what}: {:?}", sealing.life);
        assert_eq!(handoff("blue coupe", "suspension-down-front").life, HandoffLife::Open, "{what}");
        assert_eq!(handoff("white pickup", "fuel-tank-out").life, HandoffLife::Taken, "{what}");
        assert_eq!(handoff("yellow van", "cradle-down").life, HandoffLife::Asked, "{what}");
        assert_eq!(order_like(state, "white van").stage, Stage::Away, "{what}");
        assert_eq!(order_like(state, "tan sedan").stage, Stage::Stopped, "{what}");
        let bumper = order_like(state, "orange hatchback");
        assert!(bumper.weight == 4 && state.cards_of(bumper.id).any(|c| c.put_first.is_some()), "{what}");
        assert!(state.in_shop().any(|o| o.comeback_of.is_some()), "{what}");
        let held = |kind| {
            state.in_shop().filter(|o| o.holds.iter().any(|h| h.ended.is_none() && h.what == kind)).count()
        };
        assert!(
            held(HoldKind::Parts) >= 2 && held(HoldKind::Approval) >= 2 && held(HoldKind::Sublet) >= 1,
            "{what}"
        );
        assert!(
            state.in_shop().any(|o| o.promise.is_some_and(|p| p < *now) && o.stage == Stage::Authorised),
            "{what}"
        );
        let open: Vec<_> = state.exceptions.values().filter(|e| e.answered_by.is_none()).collect();
        assert!(open.iter().any(|e| e.kind == ExceptionKind::ClosedOverUndone), "{what}");
        assert!(open.len() <= 6, "{what}");
    }
    let curing = |b: &Built| b.state.in_shop().any(|o| o.condition.wet_until.is_some_and(|wet| wet > b.now));
    assert!(built().iter().filter(|b| b.now == at(NOWS[0])).all(curing));
}

#[test]
fn the_figures_are_those_of_a_believable_shop() {
    for Built { seed, now, state, .. } in built() {
        let from = now - 40 * DAY;
        let figures = measure::measures(state, &zone(), from, *now, *now);
        let of = |id: &str| figures.iter().find(|m| m.id == id).map(|m| m.all).expect("known");
        let days = of("keys_to_keys");
        let (median, p90) = (days.value.unwrap_or(0.0), days.p90.unwrap_or(0.0));
        assert!(
            (6.0..=20.0).contains(&median) && p90 <= 34.0,
            "seed {seed} at {now}: {median:.1} and {p90:.1} days"
        );
        let kept = of("promise_kept").value.unwrap_or(0.0);
        assert!((0.4..=0.95).contains(&kept), "seed {seed} at {now}: {kept:.2} kept");
        let taken = of("asked_to_started");
        assert!(taken.count >= 8 && taken.value.is_some_and(|h| h > 0.1), "seed {seed} at {now}: {taken:?}");
        let touch = of("touch_sold").value.unwrap_or(0.0);
        assert!((0.7..=4.5).contains(&touch), "seed {seed} at {now}: {touch:.2} hours a day");
    }
}

#[test]
fn vins_pass_their_check_and_belong_to_nobody() {
    let state = &built()[0].state;
    for order in state.orders.values() {
        let vin = order.vin.as_deref().expect("each has one");
        assert!(vin.starts_with("AX7") && domain::vin::check(vin).is_ok() && !order.vin_doubtful, "{vin}");
    }
}

#[test]
fn photos_are_jpeg_and_named_by_what_they_are() {
    let demo = &built()[0].demo;
    let known: BTreeMap<String, u64> = demo.photos.iter().map(|p| (sha256(p), p.len() as u64)).collect();
    assert!(demo.photos.iter().all(|p| image::guess_format(p).ok() == Some(image::ImageFormat::Jpeg)));
    let mut named = 0;
    for op in &demo.ops {
        if let Act::Photo { sha256, bytes, .. } = &op.act {
            assert_eq!(known.get(sha256), Some(bytes));
            named += 1;
        }
    }
    assert!(named > 50);
}

#[test]
fn a_short_history_is_a_shop_too() {
    let now = at(NOWS[0]);
    for days in [1, 16] {
        let (state, wrong) = replay(&build(7, days, now, &zone()).ops);
        assert!(wrong.is_empty(), "{:?}", wrong.first());
        assert!(state.in_shop().filter(|o| o.stage != Stage::Expected).count() >= 25);
    }
}

#[test]
fn another_zone_works_its_own_hours() {
    let zone = TimeZone::get("Europe/Madrid").expect("bundled");
    let now = local_time("2025-04-02T10:40", &zone);
    let demo = build(1, 14, now, &zone);
    let shop =
        demo.ops.iter().find_map(|op| if let Act::SetShop { shop } = &op.act { Some(shop) } else { None });
    assert_eq!(shop.map(|s| s.time_zone.as_str()), Some("Europe/Madrid"));
    let started = demo.ops.iter().filter(|op| matches!(op.act, Act::Start { .. }));
    for op in started {
        let local = zone.to_datetime(jiff::Timestamp::from_millisecond(op.at).expect("in range"));
        assert!((7..16).contains(&local.hour()), "{local}");
    }
}
