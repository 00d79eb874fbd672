//! How long one decision takes on a busy shop: 60 vehicles, 800 cards.
//!
//! `cargo bench -p domain --bench decide`. Each figure is decide and fold of one operation on the same
//! state, so nothing grows while it is measured.

#[path = "../tests/support/mod.rs"]
mod support;

use std::hint::black_box;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use domain::decide::{Context, decide};
use domain::fold;
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use support::*;

const VEHICLES: usize = 60;
const CARDS: usize = 800;

struct Busy {
    shop: TestShop,
    order: OrderId,
    ready: CardId,
    running: CardId,
    own: CardId,
}

/// Vehicles in the middle of their work: a third of the cards done, the rest waiting in chains.
fn busy() -> Busy {
    let mut shop = TestShop::new();
    shop.checked = false;
    let departments = ["body", "mechanical", "refinish"];
    let workers = ["ines", "milo", "pia"];
    let mut last = None;
    for number in 0..VEHICLES {
        let order = shop.order(&format!("{}", 2000 + number));
        let count = CARDS / VEHICLES + usize::from(number < CARDS % VEHICLES);
        let mut before: Vec<CardId> = Vec::new();
        for card in 0..count {
            let after: Vec<CardId> = before.last().copied().into_iter().collect();
            before.push(shop.card(order, departments[card % 3], "Some work on the vehicle", &after));
        }
        for (card, id) in before.iter().enumerate().take(count / 3) {
            shop.do_it(workers[card % 3], *id, 1);
        }
        last = Some((order, before));
    }
    assert_eq!(shop.state.cards.len(), CARDS);
    let (order, cards) = last.expect("vehicles");
    let ready = shop.card(order, "body", "Ready", &[]);
    let running = shop.card(order, "mechanical", "Running", &[]);
    shop.ok("milo", start(running));
    Busy { order, ready, running, own: *cards.last().expect("cards"), shop }
}

fn once(shop: &TestShop, who: &str, act: &Act) -> (usize, State) {
    let by = person(who);
    let context = Context {
        by,
        role: shop.state.people[&by].role,
        op: OpId(id(0xffff)),
        at: shop.now,
        uncertain: false,
        now: shop.now,
        zone: &shop.zone,
    };
    let events = decide(&shop.state, act, &[], &context).expect("it is decided");
    let mut state = shop.state.clone();
    let mut changed = fold::Changed::new();
    for event in &events {
        fold::fold(&mut state, event, &mut changed);
    }
    (events.len() + changed.len(), state)
}

fn decisions(criterion: &mut Criterion) {
    let busy = busy();
    let Busy { shop, order, ready, running, own } = &busy;
    let lift = Act::Move { order: *order, to: "lift-1".into(), on: None };
    let acts = [
        (
            "note",
            "ines",
            Act::Note { order: *order, card: None, body: "Flange bent behind the lamp pocket.".into() },
        ),
        ("take", "ines", take(*ready)),
        ("start", "ines", start(*ready)),
        ("finish", "milo", finish(*running)),
        ("ask", "ines", Act::Ask(Ask { for_card: Some(*own), ..ask(*order, DOWN) })),
        ("move", "milo", lift),
    ];
    let mut group = criterion.benchmark_group("decide_and_fold");
    for (name, who, act) in &acts {
        group.bench_function(*name, |bench| {
            // The old state is dropped outside the measured time, as the writer does later too.
            bench.iter_batched(|| (), |()| once(shop, who, black_box(act)), BatchSize::SmallInput);
        });
    }
    group.finish();
    criterion.bench_function("reindex", |bench| {
        bench.iter_batched(
            || shop.state.clone(),
            |mut state| {
                fold::reindex(&mut state, []);
                state
            },
            BatchSize::SmallInput,
        );
    });
}

criterion_group!(benches, decisions);
criterion_main!(benches);
