//! What the keeper goes on with, in the invented shop and in small ones.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::MINUTE;
use domain::ids::*;
use domain::stored::*;
use serde_json::json;

use super::super::what_if::tests::{Small, invented};
use super::super::{Binding, PlanRow};
use super::*;

fn planned(view: &View, now: Ms) -> Keeper {
    let mut keeper = Keeper::default();
    keeper.repair(view, now);
    keeper
}

#[test]
fn a_search_that_does_not_end_is_ended_and_changes_nothing() {
    let (view, now) = invented();
    let mut keeper = planned(&view, now);
    let before = (keeper.plan.clone(), keeper.shown.clone());
    assert!(keeper.finds());
    assert!(!keeper.search(&view, now, Some(&|| true)));
    assert!(keeper.stuck && !keeper.finds());
    assert_eq!((keeper.plan, keeper.shown), before);
}

#[test]
fn a_note_asks_for_no_search_and_a_promise_does() {
    let (mut view, now) = invented();
    let mut keeper = planned(&view, now);
    while keeper.finds() {
        keeper.search(&view, now, None);
    }
    // What the search has left free for somebody who is free now.
    keeper.look(&view, now);
    keeper.repair(&view, now);
    assert!(!keeper.finds(), "nothing has changed");
    let planned = keeper.plan.rows.iter().map(|row| view.state.orders[&row.order].clone());
    let order = (*planned.into_iter().find(|order| order.promise.is_some()).unwrap()).clone();
    let earlier = Order { promise: order.promise.map(|due| due - 24 * 60 * MINUTE), ..order };
    view.state.orders.insert(earlier.id, Arc::new(earlier));
    keeper.repair(&view, now);
    assert!(keeper.finds());
}

/// One vehicle whose dates no shop can mean leaves the others where they are. Rules refuse such dates today; older logs have them.
#[test]
fn one_value_empties_nobodys_order() {
    let (view, now) = invented();
    let keeper = planned(&view, now);
    let all: Vec<Order> = view.state.in_shop().cloned().collect();
    let others = |plan: &Plan, order: OrderId| -> BTreeMap<CardId, Ms> {
        plan.rows.iter().filter(|row| row.order != order).map(|row| (row.card, row.from)).collect()
    };
    let extremes = [Ms::MIN, -1, 0, 1, 577_000_000_000_000, Ms::MAX];
    type Change = fn(&mut Order, Ms);
    let changes: [Change; 4] = [
        |order, at| order.promise = Some(at),
        |order, at| (order.stage, order.expected_at) = (Stage::Expected, Some(at)),
        |order, at| {
            let (id, what, blocks) = (HoldId(order.id.0), HoldKind::Parts, Blocks::Start);
            let hold = Hold {
                id,
                what,
                cards: vec![],
                blocks,
                since: at,
                due: Some(at),
                first_due: None,
                ended: None,
                note: None,
            };
            order.holds.push(hold);
        },
        |order, at| order.weight = at.unsigned_abs() as u32,
    ];
    for (i, change) in changes.into_iter().enumerate() {
        for at in extremes {
            let order = &all[i * 7 % all.len()];
            let mut odd = order.clone();
            change(&mut odd, at);
            let mut view = View { head: view.head, state: view.state.clone(), zone: view.zone.clone() };
            view.state.orders.insert(odd.id, Arc::new(odd));
            let mut next = keeper.clone();
            next.repair(&view, now);
            assert_eq!(next.plan.trouble, None, "change {i} at {at}");
            let (was, is) = (others(&keeper.plan, order.id), others(&next.plan, order.id));
            assert!(was.keys().eq(is.keys()), "change {i} at {at}: other vehicles' cards lost their rows");
        }
    }
    // Lengths and cures of cards.
    for minutes in [0, u32::MAX] {
        let mut view = View { head: view.head, state: view.state.clone(), zone: view.zone.clone() };
        let waits = |c: &&Card| c.life == Life::Waiting && !c.after.is_empty();
        let card = all.iter().find_map(|o| view.state.cards_of(o.id).find(waits)).unwrap().clone();
        let link = Link { lag_minutes: minutes, ..card.after[0].clone() };
        let odd = Card { planned_minutes: minutes, after: vec![link], ..card.clone() };
        view.state.cards.insert(odd.id, Arc::new(odd));
        let mut next = keeper.clone();
        next.repair(&view, now);
        assert!(
            others(&keeper.plan, card.order).keys().eq(others(&next.plan, card.order).keys()),
            "{minutes} minutes"
        );
    }
}

/// Closed over undone sealing: the plan must not say that it can begin now, nor that the vehicle is ready sooner for it.
#[test]
fn what_was_closed_over_is_opened_again_in_the_plan() {
    let mut shop = Small::new();
    shop.person("Tomas Okafor", "body");
    shop.person("Ines Duarte", "mechanical");
    let order =
        shop.act("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let mut card = |department: &str, more: serde_json::Value, after: Option<uuid::Uuid>| {
        let mut args = json!({"order": order, "department": department, "title": {"text": "Work"}, "planned_minutes": 60});
        args.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        args["after"] = after.map_or(json!([]), |card| json!([{"card": card}]));
        shop.act("add_card", args)
    };
    let down = "suspension-down-rear";
    let drop = card("mechanical", json!({"equipment": "lift", "opens": down}), None);
    let seal = card("body", json!({"inside": down}), Some(drop));
    let refit = card("mechanical", json!({"equipment": "lift", "closes": down}), Some(drop));
    shop.act("finish", json!({"card": drop}));
    let mut keeper = planned(&shop.view(), shop.now());
    let finish = |keeper: &Keeper| {
        keeper.plan.vehicles.iter().find(|v| v.order.0 == order).and_then(|v| v.finish).unwrap()
    };
    let before = finish(&keeper);
    shop.act("finish", json!({"card": refit}));
    keeper.repair(&shop.view(), shop.now());
    let row = |keeper: &Keeper| -> PlanRow {
        keeper.plan.rows.iter().find(|row| row.card.0 == seal).unwrap().clone()
    };
    let sealing = row(&keeper);
    assert_eq!(sealing.reason.binding, Binding::Shut { open: down.into() });
    assert!(sealing.equipment.is_some_and(|lift| lift.0.starts_with("lift")), "it goes up again");
    assert!(finish(&keeper) >= before, "never sooner for having been closed too early");
    // An hour down and an hour up again beside the hour of sealing.
    assert!(sealing.to - sealing.from >= 3 * 60 * MINUTE);
}
