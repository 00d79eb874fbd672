//! A vehicle does not leave open, isolated, loose, owed or unanswered unsaid, and what closes it is not
//! called off in silence.

use std::collections::{BTreeMap, BTreeSet};

use domain::decide::Code;
use domain::ids::*;
use domain::stored::ExceptionKind::{CancelledOpen, LeftOpen, OutOfTurn, StartedEarly};
use domain::stored::*;
use domain::{MINUTE, Ms};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;

use crate::support::*;

fn cancel(card: CardId, reason: &str) -> Act {
    Act::CancelCard { card, reason: Some(reason.into()) }
}

fn loose(order: OrderId, loose: &[Loose]) -> Act {
    let change = ConditionChange { loose: Some(loose.to_vec()), ..ConditionChange::default() };
    Act::Condition { order, change }
}

fn needs(card: CardId, needs: Needs) -> Act {
    Act::EditCard { card, change: CardChange { needs: Some(needs), ..CardChange::default() } }
}

fn isolated() -> Energy {
    Energy { high_voltage: HighVoltage::Isolated, ..Energy::default() }
}

#[test]
fn what_closes_an_open_vehicle_is_not_the_askers_to_call_off() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    assert_eq!(shop.refused("ines", cancel(up, "not now")).code, Code::Forbidden, "it will be opened");
    shop.do_it("milo", down, 60);
    assert_eq!(shop.refused("ines", cancel(up, "not now")).code, Code::Forbidden, "it is open");
    let silent = Act::CancelCard { card: up, reason: None };
    assert_eq!(shop.refused("rask", silent).code, Code::ReasonNeeded);
    let blank = Act::CancelCard { card: up, reason: Some(" ".into()) };
    assert_eq!(shop.refused("rask", blank).code, Code::ReasonNeeded);
    shop.ok("rask", cancel(up, "goes to the dealer as it is"));
    let cancelled = shop.get(up).cancelled.clone().expect("it is kept");
    assert_eq!((cancelled.by, cancelled.at), (person("rask"), shop.now));
    assert_eq!(cancelled.reason.as_deref(), Some("goes to the dealer as it is"));
    let stands = shop.exception(CancelledOpen);
    assert_eq!((stands.card, stands.about.as_slice()), (Some(up), [down].as_slice()));

    assert_eq!(shop.refused("rask", Act::CancelCard { card: own, reason: None }).code, Code::ReasonNeeded);
    assert_eq!(shop.refused("ines", cancel(own, "not needed")).code, Code::Forbidden, "undone inside");
    shop.ok("rask", cancel(own, "not needed"));
}

#[test]
fn of_two_closings_one_can_be_called_off() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    let more = shop.card(order, "mechanical", "Up again, by hand", &[]);
    shop.ok("rask", needs(more, Needs { closes: Some(DOWN.into()), ..Needs::default() }));
    shop.ok("rask", Act::CancelCard { card: more, reason: None });
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn without_a_planner_on_shift_the_deputy_of_the_department_calls_it_off() {
    let mut shop = TestShop::new();
    let deputies = vec![person("tova")];
    let department =
        Department { deputies, ..(*shop.state.departments[&DepartmentId::from("mechanical")]).clone() };
    shop.ok("mara", Act::SetDepartment { department });
    let order = shop.order("2041");
    let (down, _, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    assert_eq!(shop.refused("tova", cancel(up, "no parts")).code, Code::Forbidden, "rask is there");
    shop.later(10 * 60);
    assert_eq!(shop.refused("milo", cancel(up, "no parts")).code, Code::Forbidden, "no deputy");
    assert_eq!(shop.refused("ines", cancel(up, "no parts")).code, Code::Forbidden, "nor is who asked");
    shop.ok("tova", cancel(up, "no parts"));
    assert_eq!(shop.exceptions(), vec![CancelledOpen]);
}

#[test]
fn calling_off_what_opens_takes_all_of_the_ask_back() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    assert_eq!(shop.get(own).needs.inside, Some(DOWN.into()));
    let asked = shop.last_op();
    shop.ok("ines", Act::CancelCard { card: down, reason: None });
    assert_eq!((shop.get(down).life, shop.get(up).life), (Life::Cancelled, Life::Cancelled));
    assert_eq!(shop.handoff(asked).life, HandoffLife::Cancelled);
    assert_eq!((shop.get(own).needs.inside.clone(), shop.get(own).after.len()), (None, 0));
    shop.do_it("ines", own, 20);
    assert_eq!(shop.exceptions(), vec![], "nothing says that it was not open");
}

#[test]
fn what_somebody_has_begun_is_not_called_off_with_the_opening() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("ines", Act::Ask(ask(order, DOWN)));
    let (down, work, up) = (shop.step("down"), shop.step("work"), shop.step("up"));
    shop.ok("ines", start(work));
    shop.ok("rask", Act::CancelCard { card: down, reason: None });
    let lives = (shop.get(down).life, shop.get(work).life, shop.get(up).life);
    assert_eq!(lives, (Life::Cancelled, Life::Working, Life::Cancelled));
}

#[test]
fn what_opens_for_others_too_is_a_planners_to_call_off() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    let more = shop.card(order, "body", "Plug-weld the bracket", &[]);
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }));
    assert_eq!(shop.refused("ines", cancel(down, "sealed from outside")).code, Code::Forbidden);
    shop.ok("rask", cancel(down, "sealed from outside"));
    assert_eq!(shop.exception(CancelledOpen).about, vec![more]);
}

#[test]
fn ready_and_keys_back_over_what_is_open_are_said_until_answered() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    shop.ok("rask", cancel(up, "forgotten"));
    shop.ok("rask", cancel(own, "forgotten"));
    for stands in [CancelledOpen, CancelledOpen] {
        let open = shop.state.exceptions.values().find(|e| e.kind == stands && e.answered_by.is_none());
        let exception = open.expect("it stands").id;
        shop.ok("rask", Act::Answer { exception, reason: "seen".into() });
    }
    shop.ok("ines", stage(order, Stage::Ready));
    let left = shop.exception(LeftOpen).clone();
    assert_eq!((left.owner, left.about.as_slice()), (None, [down].as_slice()));
    shop.ok("rask", Act::Answer { exception: left.id, reason: "towed to the dealer".into() });
    shop.ok("rask", stage(order, Stage::Delivered));
    let count = shop.exceptions().iter().filter(|kind| **kind == LeftOpen).count();
    assert_eq!(count, 2, "keys back is another moment than ready");
}

/// One thing left on the vehicle, whether it is to be said at *ready*.
fn ready_over(act: impl FnOnce(OrderId) -> Act) -> Vec<ExceptionKind> {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("rask", act(order));
    shop.ok("rask", stage(order, Stage::Ready));
    shop.exceptions()
}

#[test]
fn what_is_loose_is_said_where_it_matters_for_driving() {
    use Loose::*;
    let matter = [
        AirbagsOff,
        HighVoltageOff,
        CoolantDrained,
        BrakesOpen,
        SuspensionLoose,
        SteeringLoose,
        SeatsOut,
        GlassOut,
    ];
    for one in matter {
        assert_eq!(ready_over(|order| loose(order, &[one])), vec![LeftOpen], "{one:?}");
    }
    for one in [BatteryOff, FuelDrained, RefrigerantOut, TrimOut] {
        assert_eq!(ready_over(|order| loose(order, &[one])), vec![], "{one:?}");
    }
    let change = |brakes, steers| ConditionChange { brakes, steers, ..ConditionChange::default() };
    let said = |change| ready_over(|order| Act::Condition { order, change });
    assert_eq!(said(change(Some(false), None)), vec![LeftOpen]);
    assert_eq!(said(change(None, Some(false))), vec![LeftOpen]);
    assert_eq!(said(change(Some(true), Some(true))), vec![]);
}

#[test]
fn an_alignment_found_owed_is_owed_until_it_is_done() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let align = shop.card(order, "mechanical", "Alignment", &[]);
    let owed = |what| Act::Found { order, card: None, what, note: None };
    shop.do_it("milo", align, 10);
    shop.later(1).ok("milo", owed(Found::AlignmentOwed));
    let again = shop.card(order, "mechanical", "Alineación", &[]);
    shop.ok("rask", Act::CancelCard { card: again, reason: None });
    shop.ok("ines", stage(order, Stage::Ready));
    assert_eq!(shop.exceptions(), vec![LeftOpen], "the one before it was found does not count");

    let order = shop.order("2042");
    shop.ok("milo", Act::Found { order, card: None, what: Found::AlignmentOwed, note: None });
    shop.ok("milo", Act::Found { order, card: None, what: Found::CalibrationOwed, note: None });
    let align = shop.card(order, "mechanical", "Alignment", &[]);
    let calibrate = shop.card(order, "mechanical", "Calibrate the radar", &[]);
    shop.do_it("milo", align, 10);
    shop.do_it("milo", calibrate, 10);
    shop.ok("ines", stage(order, Stage::Ready));
    assert_eq!(shop.exceptions(), vec![LeftOpen], "nothing of the second");
}

#[test]
fn what_nobody_has_answered_for_does_not_leave_unsaid() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let first = shop.card(order, "body", "Rail off", &[]);
    let next = shop.card(order, "body", "Rail on", &[first]);
    shop.ok("ines", start(next));
    shop.ok("ines", finish(next));
    shop.do_it("ines", first, 10);
    shop.ok("ines", stage(order, Stage::Ready));
    assert_eq!(shop.exception(StartedEarly).answered_by, None);
    assert_eq!(shop.exception(LeftOpen).about, vec![next]);
}

#[test]
fn what_comes_to_light_once_it_is_gone_is_said_then() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    shop.ok("milo", start(down));
    shop.ok("rask", stage(order, Stage::Delivered));
    assert_eq!(shop.exceptions(), vec![OutOfTurn]);
    // Made offline, sent late.
    let at = shop.now;
    shop.later(30).act_at("milo", at, finish(down)).expect("a fact");
    assert_eq!(shop.exception(LeftOpen).about, vec![down]);
    shop.ok("milo", loose(order, &[Loose::BrakesOpen]));
    shop.ok("milo", loose(order, &[Loose::BrakesOpen, Loose::TrimOut]));
    let count = shop.exceptions().iter().filter(|kind| **kind == LeftOpen).count();
    assert_eq!(count, 2, "each thing once");
}

#[test]
fn a_vehicle_is_not_road_tested_open() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let test = shop.card(order, "mechanical", "Road test", &[]);
    shop.ok("rask", needs(test, Needs { cautions: vec![Caution::Driving], ..Needs::default() }));
    shop.ok("ines", Act::Found { order, card: None, what: Found::AlignmentOwed, note: None });
    shop.do_it("milo", test, 10);
    assert_eq!(shop.exceptions(), vec![], "whether it pulls is found out by driving");
    let again = shop.card(order, "mechanical", "Road test", &[]);
    shop.ok("rask", needs(again, Needs { cautions: vec![Caution::Driving], ..Needs::default() }));
    shop.ok("milo", loose(order, &[Loose::BrakesOpen]));
    shop.ok("milo", start(again));
    assert_eq!(shop.exception(LeftOpen).card, Some(again));
}

// ---- Whatever people do ----

#[derive(Debug, Clone)]
struct Doing {
    who: usize,
    what: u8,
    a: usize,
    late: bool,
}

const WHO: [&str; 6] = ["ines", "milo", "rask", "tova", "mara", "bruno"];

fn doing() -> impl Strategy<Value = Doing> {
    let what = prop_oneof![5 => 0u8..4, 3 => 4u8..9, 3 => 9u8..12, 3 => 12u8..24];
    (0..WHO.len(), what, 0usize..1_000, prop::bool::weighted(0.2)).prop_map(|(who, what, a, late)| Doing {
        who,
        what,
        a,
        late,
    })
}

fn act_of(shop: &TestShop, order: OrderId, doing: &Doing) -> Option<Act> {
    let state = &shop.state;
    let a = doing.a;
    let cards = &state.orders[&order].cards;
    let card = (!cards.is_empty()).then(|| cards[a % cards.len()]);
    let other = (!cards.is_empty()).then(|| cards[(a / 7) % cards.len()]);
    let span = || {
        let spans = &state.cards[&card?].spans;
        spans.get((a / 3) % spans.len().max(1)).cloned()
    };
    let open: Option<OpenId> = (!a.is_multiple_of(3)).then(|| DOWN.into());
    Some(match doing.what {
        0 | 1 => start(card?),
        2 | 3 => finish(card?),
        4 | 5 => Act::CancelCard { card: card?, reason: (!a.is_multiple_of(4)).then(|| "called off".into()) },
        6 => undo(state.cards[&card?].last_act?, card?),
        7 => Act::Ask(Ask { for_card: card.filter(|_| a.is_multiple_of(2)), ..ask(order, DOWN) }),
        8 => pause(card?),
        9 => stage(order, Stage::Ready),
        10 => stage(order, Stage::Delivered),
        11 => stage(order, [Stage::Authorised, Stage::Stopped, Stage::Away][a % 3]),
        12 => loose(order, &[[Loose::BrakesOpen, Loose::TrimOut, Loose::AirbagsOff][a % 3]][..a % 2]),
        13 => Act::Energy { order, energy: if a.is_multiple_of(2) { isolated() } else { Energy::default() } },
        14 => Act::Found { order, card, what: Found::AlignmentOwed, note: None },
        15 => {
            let exceptions: Vec<ExceptionId> = state.exceptions.keys().copied().collect();
            let exception = *exceptions.get(a % exceptions.len().max(1))?;
            Act::Answer { exception, reason: "seen".into() }
        }
        16 => Act::Link { card: card?, after: link(other?, 0) },
        17 => Act::Unlink { card: card?, after: other? },
        18 => {
            let now = state.cards[&card?].needs.clone();
            let needs_then = match a % 4 {
                0 => Needs { opens: open, ..now },
                1 => Needs { inside: open, ..now },
                2 => Needs { closes: open, ..now },
                _ => Needs::default(),
            };
            needs(card?, needs_then)
        }
        19 => {
            let span = span()?;
            let to = span.to.map(|to| to + (a % 9) as Ms * MINUTE);
            Act::Correct { card: card?, span: span.id, from: span.from - MINUTE, to }
        }
        20 => Act::AddCard(add_card(order, "mechanical", ["Alignment", "Extra"][a % 2], &[])),
        21 => Act::GiveBack { card: card? },
        22 => Act::StageBack { order, stage: Stage::Delivered, reason: "the other one".into() },
        _ => {
            let asks: Vec<HandoffId> = state.handoffs_of(order).map(|h| h.id).collect();
            Act::CallOff { handoff: *asks.get(a % asks.len().max(1))?, reason: None }
        }
    })
}

/// What is left of one vehicle, in words; not by the core's own looking, which is what is tested.
fn left(shop: &TestShop, order: &Order) -> BTreeSet<String> {
    let mut left: BTreeSet<String> = order.open.iter().map(|now| format!("open {}", now.open)).collect();
    if order.energy.high_voltage == HighVoltage::Isolated {
        left.insert("isolated".into());
    }
    for loose in &order.condition.loose {
        if matches!(loose, Loose::BrakesOpen | Loose::AirbagsOff) {
            left.insert(format!("{loose:?}"));
        }
    }
    for note in shop.state.notes.values().filter(|n| n.order == order.id) {
        let aligned = |id: &CardId| {
            let card = &shop.state.cards[id];
            card.title.text == "Alignment" && card.life == Life::Done && card.done_at >= Some(note.at)
        };
        if note.found == Some(Found::AlignmentOwed) && !order.cards.iter().any(aligned) {
            left.insert(format!("owed {}", note.id));
        }
    }
    left
}

/// Since which step each thing is left, the stage is what it is, and when it was last said.
#[derive(Default)]
struct Seen {
    left: BTreeMap<String, usize>,
    stage: usize,
    said: Option<usize>,
}

fn never_unsaid(base: &TestShop, orders: &[OrderId], doings: &[Doing]) -> Result<(), TestCaseError> {
    let mut shop = base.clone();
    let mut seen: BTreeMap<OrderId, Seen> = orders.iter().map(|id| (*id, Seen::default())).collect();
    for (step, doing) in doings.iter().enumerate() {
        shop.later(5);
        let order = orders[doing.a % orders.len()];
        let Some(act) = act_of(&shop, order, doing) else { continue };
        let before = shop.state.clone();
        let at = if doing.late { shop.now - 40 * MINUTE } else { shop.now };
        let Ok(events) = shop.act_at(WHO[doing.who], at, act.clone()) else { continue };
        for (id, seen) in &mut seen {
            let now = left(&shop, shop.vehicle(*id));
            seen.left.retain(|thing, _| now.contains(thing));
            now.into_iter().for_each(|thing| {
                seen.left.entry(thing).or_insert(step);
            });
            let reached = |e: &Event| matches!(e, Event::StageReached { order, .. } if order == id);
            let said = |e: &Event| matches!(e, Event::ExceptionRaised { exception: e } if e.order == *id && e.kind == LeftOpen);
            if events.iter().any(said) {
                seen.said = Some(step);
            }
            let gone = matches!(shop.vehicle(*id).stage, Stage::Ready | Stage::Delivered);
            if events.iter().any(reached) {
                seen.stage = step;
                let asks = |e: &std::sync::Arc<Exception>| e.order == *id && e.answered_by.is_none();
                let unanswered = before.exceptions.values().any(asks);
                prop_assert!(!gone || !unanswered || seen.said == Some(step), "unanswered: {act:?}");
            }
            for (thing, since) in seen.left.iter().filter(|_| gone) {
                let since = *since.max(&seen.stage);
                prop_assert!(seen.said.is_some_and(|said| said >= since), "{thing} unsaid after {act:?}");
            }
        }
    }
    Ok(())
}

/// A tenth by default; all of them in the full run.
#[test]
fn nothing_leaves_open_isolated_loose_owed_or_unanswered_unsaid() {
    let full = std::env::var("TURNBUCKLE_TESTS").is_ok_and(|tests| tests == "full");
    let cases = if full { 10_000 } else { 1_000 };
    let mut base = TestShop::new();
    base.checked = false;
    // Who may say that it is isolated; the others' word does not count.
    let mut milo = (*base.state.people[&person("milo")]).clone();
    milo.qualifications.insert("high-voltage".into(), None);
    base.ok("mara", Act::SetPerson { person: milo });
    let (order, other) = (base.order("2041"), base.order("2042"));
    base.round_trip(order);
    base.card(order, "mechanical", "Alignment", &[]);
    base.card(other, "body", "Rail off", &[]);
    let mut runner = TestRunner::new(ProptestConfig { cases, ..ProptestConfig::default() });
    let tried = runner
        .run(&prop::collection::vec(doing(), 8..40), |doings| never_unsaid(&base, &[order, other], &doings));
    tried.unwrap_or_else(|wrong| panic!("{wrong}"));
}
