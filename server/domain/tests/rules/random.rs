//! Whatever people do, in any order, late or twice: nothing panics, facts are kept, the log makes the
//! state, and what must always hold holds after every single act.

use domain::decide::{Code, Refusal};
use domain::ids::*;
use domain::stored::*;
use domain::{MINUTE, Ms};
use proptest::prelude::*;

use crate::cold;
use crate::support::*;

const WHO: [&str; 9] = ["ines", "bruno", "milo", "tova", "pia", "petra", "rask", "mara", "odin"];

/// One thing somebody does; the numbers choose among what is there.
#[derive(Debug, Clone)]
struct Doing {
    who: usize,
    what: u8,
    a: usize,
    b: usize,
    minutes: i64,
    /// How long ago it was done, for what comes late.
    late_minutes: i64,
}

fn doing() -> impl Strategy<Value = Doing> {
    // Work is done more often than the shop is rebuilt.
    let what = prop_oneof![6 => 0u8..8, 2 => 8u8..28, 1 => 28u8..46];
    let late = prop_oneof![3 => Just(0i64), 1 => 0i64..90];
    // Few people and much to do, so that they meet themselves and each other.
    let who = prop_oneof![3 => Just(0usize), 2 => Just(2usize), 2 => 0..WHO.len()];
    (who, what, 0usize..1000, 0usize..1000, 0i64..40, late)
        .prop_map(|(who, what, a, b, minutes, late_minutes)| Doing { who, what, a, b, minutes, late_minutes })
}

fn pick<T: Copy>(from: &[T], number: usize) -> Option<T> {
    (!from.is_empty()).then(|| from[number % from.len()])
}

/// What the numbers mean in the shop as it is now; none if there is nothing to do it to.
fn act_of(shop: &TestShop, doing: &Doing, at: Ms) -> Option<Act> {
    let state = &shop.state;
    let orders: Vec<OrderId> = state.orders.keys().copied().collect();
    let order = pick(&orders, doing.a)?;
    let cards = &state.orders[&order].cards;
    let card = || pick(cards, doing.b);
    let other = || pick(cards, doing.b / 7);
    let last = |c: CardId| state.cards.get(&c).and_then(|c| c.last_act);
    let someone = person(WHO[doing.b % WHO.len()]);
    let places = ["stall-1", "stall-2", "lift-1", "lift-2", "booth"];
    let departments = ["body", "mechanical", "refinish"];
    let stages = [
        Stage::Expected,
        Stage::Arrived,
        Stage::Authorised,
        Stage::Away,
        Stage::Ready,
        Stage::Delivered,
        Stage::Stopped,
    ];
    let odd = doing.b % 2 == 1;
    Some(match doing.what {
        0 | 1 => start(card()?),
        2 => pause(card()?),
        3 | 4 => Act::Finish { card: card()?, checks: vec![0], wet_minutes: odd.then_some(doing.b as u32) },
        5 => take(card()?),
        6 => {
            let from = departments[doing.b % 3].into();
            let for_card = odd.then(card).flatten();
            let after = if doing.b.is_multiple_of(3) { vec![link(other()?, 15)] } else { Vec::new() };
            let routing = if doing.b.is_multiple_of(5) { "paint" } else { DOWN };
            Act::Ask(Ask { from, for_card, after, ..ask(order, routing) })
        }
        7 => undo(last(card()?)?, card()?),
        8 => Act::GiveBack { card: card()? },
        9 => Act::Help { card: card()? },
        10 => Act::Assign { card: card()?, to: someone },
        11 => {
            Act::Move { order, to: places[doing.b % places.len()].into(), on: odd.then_some(StandsOn::Lift) }
        }
        12 => {
            let spans = &state.cards[&card()?].spans;
            let span = spans.get(doing.a % spans.len().max(1))?;
            let to = span.to.map(|to| to - (doing.minutes % 9) * MINUTE).or(odd.then_some(shop.now));
            Act::Correct { card: card()?, span: span.id, from: span.from + (doing.minutes % 5) * MINUTE, to }
        }
        13 => {
            let mut add = add_card(order, departments[doing.b % 3], "Extra", &[]);
            add.after = other().into_iter().map(|card| link(card, 30)).collect();
            add.before = if odd { card().into_iter().collect() } else { Vec::new() };
            add.proposed = doing.b.is_multiple_of(5);
            add.needs.inside = doing.b.is_multiple_of(4).then(|| DOWN.into());
            add.needs.cautions =
                if doing.b.is_multiple_of(6) { vec![Caution::HighVoltage] } else { Vec::new() };
            add.needs.opens = doing.b.is_multiple_of(12).then(|| "high-voltage-off".into());
            Act::AddCard(add)
        }
        14 => Act::Link { card: card()?, after: link(other()?, 10) },
        15 => Act::Unlink { card: card()?, after: other()? },
        16 => Act::CancelCard { card: card()?, reason: odd.then(|| "not needed".into()) },
        17 => hold(
            order,
            HoldKind::Parts,
            &if odd { vec![card()?] } else { vec![] },
            if odd { Blocks::Finish } else { Blocks::Start },
        ),
        18 => {
            let hold = state.orders[&order].holds.get(doing.b % 3)?.id;
            if odd {
                Act::Unhold { order, hold }
            } else {
                Act::HoldDue { order, hold, due: at + doing.minutes * MINUTE }
            }
        }
        19 => Act::PutFirst { card: card()?, reason: "customer".into(), until: at + HOUR },
        20 => Act::PutBack { card: card()? },
        21 => Act::Found { order, card: card(), what: Found::Seized, note: odd.then(|| "bolt".into()) },
        22 => Act::Note { order, card: card(), body: "Flange bent".into() },
        23 => Act::Condition {
            order,
            change: ConditionChange { rolls: Some(odd), ..ConditionChange::default() },
        },
        24 => Act::EditCard {
            card: card()?,
            change: CardChange { approved: odd, planned_minutes: Some(30), ..CardChange::default() },
        },
        25 => {
            Act::Lead { order, department: departments[doing.b % 3].into(), person: odd.then_some(someone) }
        }
        26 => Act::Answer {
            exception: *state.exceptions.keys().nth(doing.b % state.exceptions.len().max(1))?,
            reason: "seen".into(),
        },
        27 => Act::Promise { order, due: odd.then_some(at + 30 * HOUR), reason: None },
        28 | 29 => stage(order, stages[doing.b % stages.len()]),
        30 => {
            let high_voltage = if odd { HighVoltage::Live } else { HighVoltage::Isolated };
            Act::Energy { order, energy: Energy { high_voltage, ..Energy::default() } }
        }
        31 => open_order(&format!("{}", 3_000 + doing.b % 8)),
        32 => order_with(&format!("{}", 4_000 + doing.b % 8), |open| {
            open.routings = vec![DOWN.into(), "paint".into()]
        }),
        33 => Act::EditOrder {
            order,
            change: OrderChange {
                number: Some(format!("{}", 3_000 + doing.b % 8)),
                ..OrderChange::default()
            },
        },
        34 => Act::Photo {
            order,
            card: card(),
            handoff: None,
            sha256: format!("{:064x}", doing.b % 3),
            mime: "image/jpeg".into(),
            bytes: 1,
            taken_at: at,
        },
        35 | 36 => {
            let now = state.people.get(&someone)?;
            Act::SetPerson { person: Person { retired: odd, ..(**now).clone() } }
        }
        37 => {
            let mut routing = suspension_down();
            routing.steps[0].planned_minutes = 30 + doing.b as u32;
            Act::SetRouting { routing }
        }
        38 => take(CardId(id(doing.b as u64))),
        40 => Act::EquipmentOut { equipment: places[2 + doing.b % 3].into(), note: None },
        41 => Act::EquipmentBack { equipment: places[2 + doing.b % 3].into() },
        42 => Act::Start { card: card()?, on: Some(places[2 + doing.b % 3].into()) },
        43 => Act::StageBack { order, stage: Stage::Delivered, reason: "the other one".into() },
        44 => {
            let asks: Vec<HandoffId> = state.handoffs_of(order).map(|h| h.id).collect();
            Act::CallOff { handoff: *asks.get(doing.b % asks.len().max(1))?, reason: None }
        }
        _ => Act::Dropped { why: "too large".into() },
    })
}

/// The same, on a shop whose vehicles have all left in between: what comes late meets them packed away.
fn deliver_all(shop: &mut TestShop) {
    let orders: Vec<OrderId> = shop.state.orders.keys().copied().collect();
    for order in orders {
        for card in shop.state.orders[&order].cards.clone() {
            let running: Vec<PersonId> =
                shop.state.cards[&card].spans.iter().filter(|s| s.to.is_none()).map(|s| s.person).collect();
            for person in running {
                let who =
                    WHO.iter().find(|name| crate::support::person(name) == person).expect("of the shop");
                let _ = shop.act(who, pause(card));
            }
        }
        let _ = shop.act("mara", stage(order, Stage::Delivered));
    }
}

/// Facts are refused for who said them or for what cannot be, never for the state they meet.
fn may_refuse_a_fact(refusal: &Refusal) -> bool {
    matches!(refusal.code, Code::Forbidden | Code::Invalid) || refusal.code.word().starts_with("unknown")
}

fn a_busy_shop() -> TestShop {
    let mut shop = TestShop::new();
    shop.ok("rask", order_with("2041", |open| open.routings = vec![DOWN.into(), "paint".into()]));
    let order = shop.order("2042");
    shop.card(order, "mechanical", "Alignment", &[]);
    shop.round_trip(order);
    shop
}

/// A quarter of the usual number: every act of every case checks the whole shop. PROPTEST_CASES counts.
fn config() -> ProptestConfig {
    let usual = ProptestConfig::default();
    ProptestConfig { cases: (usual.cases / 4).max(1), max_shrink_iters: 4_000, ..usual }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_vehicle_that_is_packed_away_is_the_same_to_every_act(
        before in prop::collection::vec(doing(), 1..25),
        after in prop::collection::vec(doing(), 1..25),
    ) {
        let mut shop = a_busy_shop();
        for (doings, delivered) in [(&before, false), (&after, true)] {
            if delivered {
                deliver_all(&mut shop);
            }
            for doing in doings {
                shop.later(doing.minutes);
                let at = shop.now - doing.late_minutes * MINUTE;
                let Some(act) = act_of(&shop, doing, at) else { continue };
                // Beside the invariants every step is done on a packed twin.
                let _ = shop.act_at(WHO[doing.who], at, act);
            }
        }
        cold::measured_alike(&shop);
    }

    #[test]
    fn any_order_of_acts_keeps_every_promise(doings in prop::collection::vec(doing(), 1..50)) {
        let mut shop = a_busy_shop();
        for doing in &doings {
            shop.later(doing.minutes);
            let at = shop.now - doing.late_minutes * MINUTE;
            let Some(act) = act_of(&shop, doing, at) else { continue };
            let fact = act.is_fact();
            // Every invariant of `support::invariants` is checked inside.
            match shop.act_at(WHO[doing.who], at, act.clone()) {
                Ok(_) => {}
                Err(refusal) => prop_assert!(!fact || may_refuse_a_fact(&refusal), "{act:?}: {refusal}"),
            }
        }
        // The whole log from the beginning, not only step by step.
        let mut again = domain::state::State::default();
        for entry in &shop.entries {
            domain::fold::entry(&mut again, entry);
        }
        prop_assert_eq!(documents::all(&again), documents::all(&shop.state));
    }
}
