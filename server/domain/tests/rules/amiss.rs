//! Work on equipment that is out of service, and work begun too late after what comes before it: facts that
//! stand and are asked about.

use domain::MINUTE;
use domain::ids::*;
use domain::stored::ExceptionKind::{OutOfService, TooLate};
use domain::stored::*;

use crate::support::*;

fn out_of_service(shop: &mut TestShop, word: &str, from: domain::Ms, to: domain::Ms) {
    let now = (*shop.state.equipment[&EquipmentId::from(word)]).clone();
    let out_of_service = vec![Absence { from, to, reason: Some("cable worn".into()) }];
    shop.ok("mara", Act::SetEquipment { equipment: Equipment { out_of_service, ..now } });
}

#[test]
fn work_on_equipment_that_is_out_of_service_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: Some(StandsOn::Lift) });
    let (from, to) = (shop.now + 60 * MINUTE, shop.now + 180 * MINUTE);
    out_of_service(&mut shop, "lift-1", from, to);
    shop.ok("milo", start(down));
    assert_eq!(shop.exceptions(), vec![], "not yet");
    shop.later(60).ok("milo", finish(down));
    assert_eq!(shop.exceptions(), vec![OutOfService], "finished on it");
    assert_eq!(shop.exception(OutOfService).card, Some(down));
    // Inside is on the lift too, and is asked about once.
    shop.do_it("ines", own, 20);
    assert_eq!(shop.exceptions(), vec![OutOfService; 2]);
    shop.later(100);
    shop.do_it("milo", up, 30);
    assert_eq!(shop.exceptions(), vec![OutOfService; 2], "in service again");
}

#[test]
fn work_on_equipment_that_was_put_away_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: Some(StandsOn::Lift) });
    let now = (*shop.state.equipment[&EquipmentId::from("lift-1")]).clone();
    shop.ok("mara", Act::SetEquipment { equipment: Equipment { retired: true, ..now } });
    shop.ok("milo", finish(down));
    assert_eq!(shop.exceptions(), vec![OutOfService], "and who only finishes began there too");
}

/// The only booth is out of service: whatever is sprayed is sprayed in it.
#[test]
fn the_only_piece_of_its_kind_is_the_one_that_is_used() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("ines", Act::Ask(ask(order, "paint")));
    let (prep, spray) = (shop.step("prep"), shop.step("spray"));
    shop.do_it("pia", prep, 10);
    let (from, to) = (shop.now, shop.now + HOUR);
    out_of_service(&mut shop, "booth", from, to);
    shop.ok("pia", start(spray));
    assert_eq!(shop.exceptions(), vec![OutOfService]);
}

fn base_and_clear(shop: &mut TestShop) -> (CardId, CardId) {
    let order = shop.order("2041");
    let base = shop.card(order, "refinish", "Base", &[]);
    let clear = shop.card(order, "refinish", "Clear", &[]);
    let after = Link { card: base, lag_minutes: 10, lag_minutes_max: Some(60) };
    shop.ok("rask", Act::Link { card: clear, after });
    (base, clear)
}

#[test]
fn what_is_begun_too_late_after_what_comes_before_is_an_exception() {
    let mut shop = TestShop::new();
    let (base, clear) = base_and_clear(&mut shop);
    shop.do_it("pia", base, 30);
    shop.later(180).ok("pia", start(clear));
    assert_eq!(shop.exceptions(), vec![TooLate]);
    let raised = shop.exception(TooLate);
    assert_eq!((raised.card, raised.about.clone()), (Some(clear), vec![base]));
    // Going on with it is not beginning it.
    shop.later(5).ok("pia", pause(clear));
    shop.later(50).ok("pia", start(clear));
    shop.ok("pia", finish(clear));
    assert_eq!(shop.exceptions(), vec![TooLate]);
}

#[test]
fn within_the_time_between_two_cards_nothing_is_asked() {
    let mut shop = TestShop::new();
    let (base, clear) = base_and_clear(&mut shop);
    shop.do_it("pia", base, 30);
    shop.later(60).ok("pia", start(clear));
    assert_eq!(shop.exceptions(), vec![]);
}

/// Whoever only says that it is finished began it as long before as was planned.
#[test]
fn only_finished_it_was_begun_as_planned() {
    let mut shop = TestShop::new();
    let (base, clear) = base_and_clear(&mut shop);
    shop.do_it("pia", base, 30);
    let at = shop.now;
    for (minutes, raised) in [(120, vec![]), (121, vec![TooLate])] {
        let mut shop = shop.clone();
        shop.now = at;
        shop.later(minutes).ok("pia", finish(clear));
        assert_eq!(shop.exceptions(), raised, "{minutes}");
    }
}
