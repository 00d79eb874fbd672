//! One department asks another: a routing becomes linked cards, and what is open is joined.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::*;

use crate::support::*;

fn after(shop: &TestShop, card: CardId) -> Vec<CardId> {
    shop.get(card).after.iter().map(|link| link.card).collect()
}

#[test]
fn asking_expands_the_routing_into_linked_cards() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let mut asked = ask(order, DOWN);
    asked.minutes.insert("down".into(), 75);
    asked.condition.rolls = Some(false);
    shop.ok("ines", Act::Ask(asked));
    let (down, work, up) = (shop.step("down"), shop.step("work"), shop.step("up"));
    assert_eq!(shop.vehicle(order).cards, vec![down, work, up]);
    assert_eq!((after(&shop, down), after(&shop, work), after(&shop, up)), (vec![], vec![down], vec![work]));
    assert_eq!(shop.get(up).after[0].lag_minutes, 30);
    assert_eq!((shop.get(down).planned_minutes, shop.get(up).planned_minutes), (75, 60));
    let handoff = shop.handoff(shop.last_op());
    assert_eq!((handoff.from.0.as_str(), handoff.to.0.as_str()), ("body", "mechanical"));
    assert_eq!(handoff.condition.rolls, Some(false), "the facts of the moment go along");
    assert_eq!(handoff.ready_at, Some(shop.now));
    assert_eq!(handoff.cards, vec![down, work, up]);
    assert!(!handoff.joined);
}

#[test]
fn the_askers_card_takes_the_place_of_the_inside_step_and_later_cards_wait_for_the_closer() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let own = shop.card(order, "body", "Seal wheelhouse seam", &[]);
    let later = shop.card(order, "refinish", "Prime", &[own]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(own), ..ask(order, DOWN) }));
    let (down, up) = (shop.step("down"), shop.step("up"));
    assert_eq!(
        shop.vehicle(order).cards,
        vec![own, later, down, up],
        "no card for the step that is the asker's own"
    );
    assert_eq!(after(&shop, own), vec![down]);
    assert_eq!(after(&shop, up), vec![own]);
    assert_eq!(after(&shop, later), vec![own, up]);
    assert_eq!(shop.get(own).needs.inside, Some(DOWN.into()));
    assert_eq!(shop.handoff(shop.last_op()).for_card, Some(own));
}

#[test]
fn asking_while_it_is_open_joins() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    let more = shop.card(order, "body", "Plug-weld the bracket", &[]);
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }));
    let joined = shop.last_op();
    assert!(shop.handoff(joined).joined);
    assert_eq!(shop.handoff(joined).life, HandoffLife::Open, "it is open already");
    assert_eq!(shop.vehicle(order).cards, vec![own, down, up, more], "nothing goes up twice");
    assert_eq!(after(&shop, up), vec![own, more], "closing waits for both");
    assert_eq!(shop.exceptions(), vec![]);

    shop.do_it("ines", own, 10);
    shop.do_it("bruno", more, 10);
    shop.later(30);
    shop.do_it("milo", up, 60);
    assert_eq!(shop.handoff(joined).life, HandoffLife::HandedBack, "together with the first");
    assert_eq!(shop.handoff(joined).handed_back_at, Some(shop.now));
}

#[test]
fn asking_before_it_is_open_joins_and_opens_with_it() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, up) = shop.round_trip(order);
    let more = shop.card(order, "body", "Plug-weld the bracket", &[]);
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }));
    let joined = shop.last_op();
    assert_eq!((shop.handoff(joined).joined, shop.handoff(joined).life), (true, HandoffLife::Asked));
    shop.ok("milo", start(down));
    shop.later(60).ok("milo", finish(down));
    let finished = shop.last_op();
    assert_eq!(shop.handoff(joined).life, HandoffLife::Open);
    assert_eq!(shop.handoff(joined).opened_at, Some(shop.now));
    shop.ok("milo", undo(finished, down));
    assert_eq!((shop.handoff(joined).life, shop.handoff(joined).opened_at), (HandoffLife::Asked, None));
    shop.ok("milo", finish(down));
    shop.do_it("milo", up, 60);
    assert_eq!(shop.handoff(joined).life, HandoffLife::HandedBack);
}

#[test]
fn joining_without_an_own_card_makes_the_closer_wait_for_the_new_work() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    shop.ok("bruno", Act::Ask(ask(order, DOWN)));
    let work = shop.step("work");
    assert_eq!(shop.vehicle(order).cards, vec![own, down, up, work]);
    assert_eq!(after(&shop, work), vec![down]);
    assert_eq!(after(&shop, up), vec![own, work]);
}

#[test]
fn what_follows_a_closing_that_is_joined_is_done_once() {
    let mut shop = TestShop::new();
    shop.ok("odin", Act::SetRouting { routing: suspension_down_then_aligned() });
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    let align = shop.step("align");
    let more = shop.card(order, "body", "Plug-weld the bracket", &[]);
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }));
    assert_eq!(shop.vehicle(order).cards, vec![own, down, up, align, more], "nothing is aligned twice");
    assert_eq!((after(&shop, up), after(&shop, align)), (vec![own, more], vec![up]));
    // Open again after it was aligned, it is aligned again.
    for (who, card) in [("milo", down), ("ines", own), ("bruno", more), ("milo", up), ("milo", align)] {
        shop.later(30);
        shop.do_it(who, card, 10);
    }
    shop.ok("ines", Act::Ask(ask(order, DOWN)));
    assert_ne!(shop.step("align"), align);
}

#[test]
fn opening_a_second_time_is_said() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    shop.do_it("ines", own, 20);
    shop.later(30);
    shop.do_it("milo", up, 60);
    shop.ok("ines", Act::Ask(ask(order, DOWN)));
    assert_eq!(shop.exceptions(), vec![ExceptionKind::OpenedTwice]);
    assert_eq!(shop.exception(ExceptionKind::OpenedTwice).about, vec![down]);
    assert_eq!(shop.get(shop.step("down")).life, Life::Waiting, "it is asked all the same");
}

#[test]
fn asking_after_other_work_waits_for_it() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let first = shop.card(order, "body", "Rail off", &[]);
    shop.ok("ines", Act::Ask(Ask { after: vec![link(first, 15)], ..ask(order, DOWN) }));
    let (asked, down) = (shop.last_op(), shop.step("down"));
    assert_eq!(shop.get(down).after, vec![link(first, 15)]);
    assert_eq!(shop.handoff(asked).ready_at, None);
    shop.do_it("ines", first, 10);
    assert_eq!(
        shop.handoff(asked).ready_at,
        Some(shop.now + 15 * domain::MINUTE),
        "latency counts from really ready"
    );
}

#[test]
fn asking_can_not_make_work_wait_for_itself() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let own = shop.card(order, "body", "Seal", &[]);
    let later = shop.card(order, "body", "Reassemble", &[own]);
    // After one's own card, and after what comes after it: the links that would turn in a circle are left out.
    for after in [own, later] {
        let asked = Ask { for_card: Some(own), after: vec![link(after, 0)], ..ask(order, DOWN) };
        shop.ok("ines", Act::Ask(asked));
    }
}

#[test]
fn a_handoff_goes_through_its_lives() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    let asked = shop.last_op();
    let life = |shop: &TestShop| shop.handoff(asked).life;
    assert_eq!(life(&shop), HandoffLife::Asked);
    shop.ok("milo", take(down));
    assert_eq!(life(&shop), HandoffLife::Taken);
    shop.ok("milo", Act::GiveBack { card: down });
    assert_eq!((life(&shop), shop.handoff(asked).taken_by), (HandoffLife::Asked, None));
    shop.ok("tova", start(down));
    assert_eq!((life(&shop), shop.handoff(asked).taken_by), (HandoffLife::Started, Some(person("tova"))));
    shop.later(50).ok("tova", finish(down));
    assert_eq!(life(&shop), HandoffLife::Open);
    shop.do_it("ines", own, 20);
    shop.later(30).ok("milo", take(up));
    assert_eq!(life(&shop), HandoffLife::Open, "taking the second card takes nothing back");
    let taken = shop.last_op();
    shop.ok("milo", undo(taken, up));
    assert_eq!((life(&shop), shop.handoff(asked).taken_by), (HandoffLife::Open, Some(person("tova"))));
    shop.do_it("milo", up, 60);
    assert_eq!((life(&shop), shop.handoff(asked).handed_back_at), (HandoffLife::HandedBack, Some(shop.now)));
}

#[test]
fn cancelling_the_rest_hands_back_and_cancelling_all_cancels() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, up) = shop.round_trip(order);
    let asked = shop.last_op();
    assert_eq!(shop.refused("bruno", Act::CancelCard { card: up, reason: None }).code, Code::Forbidden);
    shop.ok("ines", Act::CancelCard { card: down, reason: None });
    shop.ok("ines", Act::CancelCard { card: up, reason: None });
    assert_eq!(shop.handoff(asked).life, HandoffLife::Cancelled);

    let order = shop.order("2042");
    let (down, _, up) = shop.round_trip(order);
    let asked = shop.last_op();
    shop.do_it("milo", down, 60);
    let done_at = shop.now;
    shop.later(60).ok("rask", Act::CancelCard { card: up, reason: Some("stays down".into()) });
    assert_eq!(
        (shop.handoff(asked).life, shop.handoff(asked).handed_back_at),
        (HandoffLife::HandedBack, Some(done_at))
    );
}

#[test]
fn what_can_not_be_asked_says_why() {
    let mut shop = TestShop::new();
    let (order, other) = (shop.order("2041"), shop.order("2042"));
    let foreign = shop.card(other, "body", "Rail off", &[]);
    let over = shop.card(order, "body", "Trim out", &[]);
    shop.do_it("ines", over, 10);
    let code = |shop: &mut TestShop, ask: Ask| shop.refused("ines", Act::Ask(ask)).code;
    assert_eq!(code(&mut shop, ask(OrderId(id(9)), DOWN)), Code::UnknownOrder);
    assert_eq!(code(&mut shop, ask(order, "cradle-down")), Code::UnknownRouting);
    assert_eq!(code(&mut shop, Ask { from: "glass".into(), ..ask(order, DOWN) }), Code::UnknownDepartment);
    assert_eq!(code(&mut shop, Ask { for_card: Some(foreign), ..ask(order, DOWN) }), Code::UnknownCard);
    assert_eq!(code(&mut shop, Ask { after: vec![link(foreign, 0)], ..ask(order, DOWN) }), Code::UnknownCard);
    assert_eq!(code(&mut shop, Ask { for_card: Some(over), ..ask(order, DOWN) }), Code::Done);
    assert_eq!(code(&mut shop, Ask { note: Some("x".repeat(4_001)), ..ask(order, DOWN) }), Code::Invalid);
    assert_eq!(
        code(&mut shop, Ask { minutes: [("down".to_owned(), 0)].into(), ..ask(order, DOWN) }),
        Code::Invalid
    );
    shop.ok("mara", Act::SetRouting { routing: Routing { retired: true, ..suspension_down() } });
    assert_eq!(code(&mut shop, ask(order, DOWN)), Code::UnknownRouting, "retired");
    shop.ok("rask", stage(other, Stage::Delivered));
    assert_eq!(code(&mut shop, ask(other, "paint")), Code::Delivered);
}

/// The planner cancels the opening: whoever joined it waits for nothing.
#[test]
fn an_ask_that_joined_an_opening_is_cancelled_with_it() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, _) = shop.round_trip(order);
    let other = shop.card(order, "body", "Another seam", &[]);
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(other), ..ask(order, DOWN) }));
    let joined = shop.last_op();
    assert!(shop.handoff(joined).joined && shop.handoff(joined).cards.is_empty());
    shop.ok("rask", Act::CancelCard { card: own, reason: None });
    assert_eq!(shop.handoff(joined).life, HandoffLife::Asked);
    shop.ok("rask", Act::CancelCard { card: down, reason: Some("sealed from outside".into()) });
    assert_eq!(shop.handoff(joined).life, HandoffLife::Cancelled);
    assert_eq!((shop.get(other).needs.inside.clone(), after(&shop, other)), (None, vec![]));
}

/// The library's way: what is inside has checks of its own, and cures before it is closed.
fn down_to_seal() -> Routing {
    let mut routing = suspension_down();
    routing.steps[1].needs.checks = vec!["Photographed the bare seam".into(), "Dry".into()];
    routing.steps[1].needs.cautions = vec![Caution::Lift, Caution::Spraying];
    routing
}

#[test]
fn the_askers_card_goes_inside_whatever_its_department() {
    let mut shop = TestShop::new();
    shop.ok("odin", Act::SetRouting { routing: down_to_seal() });
    let order = shop.order("2041");
    let mut wax = add_card(order, "refinish", "Cavity wax", &[]);
    wax.needs.checks = vec!["Dry".into(), "Every cavity".into()];
    wax.needs.cautions = vec![Caution::Spraying];
    shop.ok("rask", Act::AddCard(wax));
    let wax = CardId(shop.last_op().0);
    let trim = shop.card(order, "body", "Refit trim", &[wax]);
    shop.ok("pia", Act::Ask(Ask { from: "refinish".into(), for_card: Some(wax), ..ask(order, DOWN) }));
    let (down, up) = (shop.step("down"), shop.step("up"));
    assert_eq!(shop.vehicle(order).cards, vec![wax, trim, down, up], "no sealing that nobody wanted");
    let own = shop.get(wax).needs.clone();
    assert_eq!(own.inside, Some(DOWN.into()));
    assert_eq!(own.checks, vec!["Dry".into(), "Every cavity".into(), "Photographed the bare seam".into()]);
    assert_eq!(own.cautions, vec![Caution::Spraying, Caution::Lift]);
    assert_eq!((after(&shop, wax), shop.get(up).after.clone()), (vec![down], vec![link(wax, 30)]));
    assert_eq!(after(&shop, trim), vec![wax, up]);
    shop.do_it("milo", down, 60);
    shop.do_it("milo", up, 60);
    assert!(shop.exceptions().contains(&ExceptionKind::ClosedOverUndone), "not in silence");
}

#[test]
fn another_departments_card_joins_what_is_open() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    let wax = shop.card(order, "refinish", "Cavity wax", &[]);
    shop.ok("pia", Act::Ask(Ask { from: "refinish".into(), for_card: Some(wax), ..ask(order, DOWN) }));
    assert_eq!(shop.vehicle(order).cards, vec![own, down, up, wax]);
    assert_eq!(shop.get(wax).needs.inside, Some(DOWN.into()));
    assert_eq!(after(&shop, up), vec![own, wax]);
}

#[test]
fn without_work_inside_the_askers_card_comes_after_the_hand_back() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    // Nothing is opened: the whole of it comes first.
    let own = shop.card(order, "body", "Refit trim", &[]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(own), ..ask(order, "paint") }));
    let spray = shop.step("spray");
    assert_eq!((after(&shop, own), shop.get(own).needs.inside.clone()), (vec![spray], None));
    // The booth is opened and cleared: it comes after what clears it.
    let booth = || Needs { equipment: Some("booth".into()), ..Needs::default() };
    let open: OpenId = "in-the-booth".into();
    let steps = vec![
        step("paint", "refinish", &[], Needs { opens: Some(open.clone()), ..booth() }),
        step("unload", "refinish", &[("paint", 50)], Needs { closes: Some(open), ..booth() }),
        step("polish", "refinish", &[("unload", 60)], Needs::default()),
    ];
    shop.ok("odin", Act::SetRouting { routing: routing("refinish", steps) });
    let own = shop.card(order, "body", "Refit lamps", &[]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(own), ..ask(order, "refinish") }));
    let polish = shop.step("polish");
    assert_eq!((after(&shop, own), shop.get(own).needs.inside.clone()), (vec![polish], None));
}

#[test]
fn what_is_opened_on_no_equipment_is_opened_for_the_asker() {
    let mut shop = TestShop::new();
    let open: OpenId = "high-voltage-off".into();
    let steps = vec![
        step("isolate", "mechanical", &[], Needs { opens: Some(open.clone()), ..Needs::default() }),
        step(
            "live",
            "mechanical",
            &[("isolate", 0)],
            Needs { closes: Some(open.clone()), ..Needs::default() },
        ),
    ];
    shop.ok("odin", Act::SetRouting { routing: routing("high-voltage-safe", steps) });
    let order = shop.order("2041");
    let weld = shop.card(order, "body", "Weld near the battery", &[]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(weld), ..ask(order, "high-voltage-safe") }));
    let (isolate, live) = (shop.step("isolate"), shop.step("live"));
    assert_eq!((after(&shop, weld), after(&shop, live)), (vec![isolate], vec![isolate, weld]));
    assert_eq!(shop.get(weld).needs.inside, Some(open));
}

#[test]
fn calling_the_ask_off_gives_the_card_back_as_it_was() {
    let mut shop = TestShop::new();
    shop.ok("odin", Act::SetRouting { routing: down_to_seal() });
    let order = shop.order("2041");
    let wax = shop.card(order, "refinish", "Cavity wax", &[]);
    let before = shop.get(wax).clone();
    shop.ok("pia", Act::Ask(Ask { from: "refinish".into(), for_card: Some(wax), ..ask(order, DOWN) }));
    shop.ok("pia", Act::CancelCard { card: shop.step("down"), reason: None });
    assert_eq!(*shop.get(wax), before);
    shop.do_it("pia", wax, 20);
    assert_eq!(shop.exceptions(), vec![]);

    // A plain ask, called off card by card.
    let own = shop.card(order, "body", "Refit trim", &[]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(own), ..ask(order, "paint") }));
    let (prep, spray) = (shop.step("prep"), shop.step("spray"));
    shop.ok("ines", Act::CancelCard { card: prep, reason: None });
    assert_eq!(after(&shop, own), vec![spray], "the rest is still asked for");
    shop.ok("ines", Act::CancelCard { card: spray, reason: None });
    assert_eq!(after(&shop, own), vec![]);
}

#[test]
fn an_ask_that_only_joined_another_is_called_off_by_itself() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, first, up) = shop.round_trip(order);
    let own = shop.card(order, "body", "Bracket", &[]);
    let before = shop.get(own).clone();
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(own), ..ask(order, DOWN) }));
    let joined = shop.last_op();
    assert_eq!(shop.get(own).needs.inside, Some(DOWN.into()));
    let call_off = |op: OpId| Act::CallOff { handoff: HandoffId(op.0), reason: None };
    assert_eq!(shop.refused("milo", call_off(joined)).code, Code::Forbidden, "others do not");
    shop.ok("bruno", call_off(joined));
    assert_eq!(shop.handoff(joined).life, HandoffLife::Cancelled);
    assert_eq!(
        (&shop.get(own).needs, &shop.get(own).after),
        (&before.needs, &before.after),
        "as if never asked"
    );
    for card in [down, first, up] {
        assert!(!shop.get(card).life.is_over(), "what the other asked for stays");
    }
    assert!(shop.get(up).after.iter().all(|link| link.card != own), "the closing does not wait for it");
    shop.do_it("milo", down, 60);
    assert_eq!(shop.handoff(joined).life, HandoffLife::Cancelled, "opening does not bring it back");
    shop.do_it("ines", first, 60);
    shop.later(30).do_it("milo", up, 60);
    assert!(shop.exceptions().is_empty(), "{:?}", shop.exceptions());
    // Said twice it was so already; one with cards of its own is called off card by card.
    assert!(shop.ok("bruno", call_off(joined)).is_empty());
    let other = shop.order("2042");
    shop.ok("ines", Act::Ask(ask(other, DOWN)));
    let asked = shop.last_op();
    assert_eq!(shop.refused("ines", call_off(asked)).code, Code::Invalid);
}

#[test]
fn a_card_that_was_asked_for_twice_stays_inside_when_one_ask_is_called_off() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (_, own, _) = shop.round_trip(order);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(own), ..ask(order, DOWN) }));
    let handoff = HandoffId(shop.last_op().0);
    shop.ok("ines", Act::CallOff { handoff, reason: None });
    assert_eq!(shop.get(own).needs.inside, Some(DOWN.into()));
}
