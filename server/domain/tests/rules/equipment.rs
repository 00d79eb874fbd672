//! Lifts and booths: which one it is, and what should keep a vehicle off it.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::ExceptionKind::{InspectionOverdue, Occupied, OutOfService, UnsafeLift};
use domain::stored::*;

use crate::support::*;

fn on(card: CardId, equipment: &str) -> Act {
    Act::Start { card, on: Some(equipment.into()) }
}

fn out(equipment: &str) -> Act {
    Act::EquipmentOut { equipment: equipment.into(), note: Some("drops by itself".into()) }
}

fn back(equipment: &str) -> Act {
    Act::EquipmentBack { equipment: equipment.into() }
}

fn change(order: OrderId, change: ConditionChange) -> Act {
    Act::Condition { order, change }
}

fn edited(shop: &mut TestShop, equipment: &str, change: impl FnOnce(&mut Equipment)) {
    let mut edited = (*shop.state.equipment[&EquipmentId::from(equipment)]).clone();
    change(&mut edited);
    shop.ok("mara", Act::SetEquipment { equipment: edited });
}

/// A vehicle in a stall that is to go down, and two free lifts.
fn scene() -> (TestShop, OrderId, CardId) {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    (shop, order, down)
}

#[test]
fn of_two_free_lifts_it_is_the_one_that_is_said() {
    let (mut shop, order, down) = scene();
    shop.ok("milo", start(down));
    assert_eq!(shop.get(down).used, None, "never a guess");
    let began = shop.last_op();
    shop.ok("milo", undo(began, down));
    shop.ok("milo", on(down, "lift-2"));
    assert_eq!(shop.get(down).used, Some("lift-2".into()));
    shop.later(60).ok("milo", finish(down));
    assert_eq!(shop.vehicle(order).open[0].equipment, Some("lift-2".into()));
    let other = shop.order("2042");
    let (down, ..) = shop.round_trip(other);
    shop.ok("tova", on(down, "lift-2"));
    assert_eq!(shop.exceptions(), vec![Occupied], "the rules of lifts are on");
    assert_eq!(shop.refused("tova", on(down, "lift-9")).code, Code::Unknown);
}

#[test]
fn a_broken_lift_is_said_by_anybody_and_released_by_a_planner() {
    let (mut shop, order, down) = scene();
    shop.ok("ines", out("lift-1"));
    assert_eq!(shop.ok("milo", out("lift-1")), vec![], "it is out already");
    let absence = shop.state.equipment[&EquipmentId::from("lift-1")].out_of_service[0].clone();
    assert_eq!((absence.from, absence.reason.as_deref()), (shop.now, Some("drops by itself")));
    shop.later(5).ok("milo", on(down, "lift-1"));
    assert_eq!(shop.exceptions(), vec![OutOfService]);
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: None });
    assert_eq!(shop.exceptions(), vec![OutOfService, OutOfService]);
    assert_eq!(shop.refused("milo", back("lift-1")).code, Code::Forbidden);
    shop.ok("rask", back("lift-1"));
    assert_eq!(shop.ok("rask", back("lift-1")), vec![]);
    let absence = shop.state.equipment[&EquipmentId::from("lift-1")].out_of_service[0].clone();
    assert_eq!(absence.to, shop.now);
    shop.ok("milo", pause(down));
    shop.ok("milo", start(down));
    assert_eq!(shop.exceptions().len(), 2, "it is in service again");
    assert_eq!(shop.refused("ines", out("lift-9")).code, Code::Unknown);
    let long = Act::EquipmentOut { equipment: "lift-2".into(), note: Some("x".repeat(4_001)) };
    assert_eq!(shop.refused("ines", long).code, Code::Invalid);
}

#[test]
fn released_at_once_nothing_of_it_is_left() {
    let (mut shop, ..) = scene();
    shop.ok("ines", out("lift-1"));
    shop.ok("rask", back("lift-1"));
    assert_eq!(shop.state.equipment[&EquipmentId::from("lift-1")].out_of_service, vec![]);
}

#[test]
fn of_two_lifts_one_is_out_and_the_other_is_meant() {
    let (mut shop, _, down) = scene();
    shop.ok("ines", out("lift-1"));
    shop.ok("milo", start(down));
    assert_eq!((shop.get(down).used.clone(), shop.exceptions()), (Some("lift-2".into()), vec![]));
}

#[test]
fn an_overdue_inspection_is_said() {
    let (mut shop, _, down) = scene();
    let due = shop.now;
    edited(&mut shop, "lift-1", |lift| lift.inspection_due = Some(due));
    shop.ok("milo", on(down, "lift-1"));
    assert_eq!(shop.exceptions(), vec![]);
    shop.ok("milo", pause(down));
    shop.later(1).ok("milo", on(down, "lift-1"));
    assert_eq!(shop.exceptions(), vec![InspectionOverdue]);
}

#[test]
fn a_vehicle_that_can_not_stand_on_a_lift_is_said() {
    let conditions = [
        ConditionChange { lifting_points: Some(LiftingPoints::Damaged), ..ConditionChange::default() },
        ConditionChange { weight_off: Some(vec![End::Front]), ..ConditionChange::default() },
    ];
    for condition in conditions {
        let (mut shop, order, down) = scene();
        shop.ok("ines", change(order, condition));
        shop.ok("milo", on(down, "lift-1"));
        assert_eq!(shop.exceptions(), vec![UnsafeLift]);
        shop.later(60).ok("milo", finish(down));
        shop.ok("milo", on(down, "lift-1"));
        let count = shop.exceptions().iter().filter(|kind| **kind == UnsafeLift).count();
        assert_eq!(count, 1, "it hangs there by now");
    }
    let (mut shop, order, down) = scene();
    let doubtful =
        ConditionChange { lifting_points: Some(LiftingPoints::Doubtful), ..ConditionChange::default() };
    shop.ok("ines", change(order, doubtful));
    shop.ok("milo", on(down, "lift-1"));
    assert_eq!(shop.exceptions(), vec![]);
}
