use super::*;
use crate::clock::Clock;
use domain::fold;
use domain::ids::*;
use domain::stored::NoticeKind;
use planner::PlanVehicle;
use serde_json::{Value, json};
use store::{Memory, NoticeAt};
use uuid::Uuid;

const HOUR: Ms = 60 * MINUTE;
/// Thursday 1970-01-08, 08:00 UTC: the shop's doors open.
const EIGHT: Ms = 7 * 24 * HOUR + 8 * HOUR;

fn id(n: u128) -> Uuid {
    Uuid::from_u128(n)
}

fn put<K: Ord + Clone, V: serde::de::DeserializeOwned + Clone>(
    docs: &mut domain::state::Docs<K, V>,
    key: K,
    body: Value,
) {
    docs.insert(key, Arc::new(serde_json::from_value(body).unwrap()));
}

/// One vehicle on a lift, suspension down since eight o'clock; another ask waits since then.
fn shop() -> State {
    let mut state = State::default();
    let shift = json!([{"from": 8 * 60, "to": 12 * 60}, {"from": 13 * 60, "to": 17 * 60}]);
    let week: Vec<Value> = (0..7).map(|day| if day < 5 { shift.clone() } else { json!([]) }).collect();
    put(
        &mut state.calendars,
        CalendarId::from("day"),
        json!({"id": "day", "title": {"text": "Day"}, "week": week}),
    );
    let shop = json!({"name": "S", "time_zone": "UTC", "calendar": "day"});
    state.shop = Some(Arc::new(serde_json::from_value(shop).unwrap()));
    let department = json!({"id": "mechanical", "title": {"text": "Mechanical"}, "working": "pool"});
    put(&mut state.departments, DepartmentId::from("mechanical"), department);
    for (n, role) in [(7, "planner"), (8, "technician")] {
        let person = json!({"id": id(n), "name": "P", "department": "mechanical", "role": role});
        put(&mut state.people, PersonId(id(n)), person);
    }
    put(
        &mut state.orders,
        OrderId(id(1)),
        json!({"id": id(1), "number": "2041", "vehicle": "grey wagon", "weight": 2,
        "stage": "authorised", "created_at": 0, "cards": [id(2), id(3)], "promise": EIGHT + 100 * HOUR,
        "open": [{"open": "suspension-down", "since": EIGHT, "by": id(2), "equipment": "lift-1"}]}),
    );
    let card = |n: u128, more: Value| {
        let mut card = json!({"id": id(n), "order": id(1), "department": "mechanical", "title": {"text": "T"},
            "planned_minutes": 60, "created_at": 0, "ready_at": EIGHT});
        card.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        card
    };
    put(&mut state.cards, CardId(id(2)), card(2, json!({"handoff": id(4)})));
    put(&mut state.cards, CardId(id(3)), card(3, json!({"closes": "suspension-down"})));
    put(
        &mut state.handoffs,
        HandoffId(id(4)),
        json!({"id": id(4), "order": id(1), "routing": "r", "title": {"text": "T"},
        "from": "body", "to": "mechanical", "asked_by": id(8), "asked_at": EIGHT, "life": "asked", "cards": [id(2)],
        "condition": {}}),
    );
    fold::reindex(&mut state, []);
    state
}

fn nothing_planned() -> Planned {
    Planned { expected: Expected::new(), missed: Vec::new() }
}

fn found(state: &State, planned: &Planned, now: Ms, book: &mut Book) -> Vec<Reminder> {
    let told = look(state, &TimeZone::UTC, planned, now, book);
    let kinds = told.iter().map(|(_, act)| match act {
        Act::Remind { about, .. } => *about,
        other => panic!("{other:?}"),
    });
    kinds.collect()
}

#[test]
fn untaken_counts_working_hours_only() {
    let mut state = shop();
    let mut book = Book::new();
    let planned = nothing_planned();
    assert!(found(&state, &planned, EIGHT + HOUR, &mut book).is_empty());
    assert_eq!(found(&state, &planned, EIGHT + HOUR + MINUTE, &mut book), [Reminder::Untaken]);
    // Asked at half past four: half an hour on that day, the rest the next morning.
    let mut handoff = (*state.handoffs[&HandoffId(id(4))]).clone();
    handoff.asked_at = EIGHT + 8 * HOUR + 30 * MINUTE;
    state.handoffs.insert(handoff.id, Arc::new(handoff));
    let next_day = EIGHT + 24 * HOUR;
    assert!(found(&state, &planned, next_day + 30 * MINUTE, &mut Book::new()).is_empty());
    assert_eq!(found(&state, &planned, next_day + 31 * MINUTE, &mut Book::new()), [Reminder::Untaken]);
}

#[test]
fn what_cannot_be_taken_is_not_called_untaken() {
    let late = EIGHT + 6 * HOUR;
    let with = |change: fn(&mut Order, &mut Card, &mut Handoff)| {
        let mut state = shop();
        let mut order = (*state.orders[&OrderId(id(1))]).clone();
        let mut card = (*state.cards[&CardId(id(2))]).clone();
        let mut handoff = (*state.handoffs[&HandoffId(id(4))]).clone();
        change(&mut order, &mut card, &mut handoff);
        state.orders.insert(order.id, Arc::new(order));
        state.cards.insert(card.id, Arc::new(card));
        state.handoffs.insert(handoff.id, Arc::new(handoff));
        found(&state, &nothing_planned(), late, &mut Book::new())
    };
    assert_eq!(with(|_, _, _| {}), [Reminder::Untaken]);
    assert!(with(|order, _, _| order.stage = Stage::Away).is_empty());
    assert!(with(|_, card, _| card.ready_at = None).is_empty());
    assert!(with(|_, card, _| card.taken_by = Some(PersonId(id(8)))).is_empty());
    assert!(with(|_, _, handoff| handoff.life = HandoffLife::Taken).is_empty());
    let held = with(|order, _, _| {
        let hold = json!({"id": id(9), "what": "parts", "since": 0});
        order.holds.push(serde_json::from_value(hold).unwrap());
    });
    assert!(held.is_empty());
}

#[test]
fn a_lift_is_held_too_long_against_the_first_plan_not_the_one_that_moved() {
    let state = shop();
    let mut book = Book::new();
    let planned = |end: Ms| Planned { expected: [(CardId(id(3)), (EIGHT, end))].into(), missed: Vec::new() };
    let noon = EIGHT + 4 * HOUR;
    assert!(!found(&state, &planned(noon), EIGHT + MINUTE, &mut book).contains(&Reminder::LiftBlocked));
    // The plan has moved on with the time; the lift is still held.
    let moved = planned(EIGHT + 8 * HOUR);
    assert!(!found(&state, &moved, noon + HOUR, &mut book).contains(&Reminder::LiftBlocked));
    assert!(found(&state, &moved, noon + HOUR + MINUTE, &mut book).contains(&Reminder::LiftBlocked));
}

#[tokio::test]
async fn each_is_told_once_also_after_a_restart() {
    let store = Memory::new(3);
    let shop = Shop::open(Arc::new(store.clone()), Clock::at(EIGHT)).unwrap();
    let state = self::shop();
    let people = state.people.values().map(|p| Act::SetPerson { person: (**p).clone() });
    let setup = [
        Act::SetCalendar { calendar: (*state.calendars[&CalendarId::from("day")]).clone() },
        Act::SetShop { shop: (**state.shop.as_ref().unwrap()).clone() },
        Act::SetDepartment { department: (*state.departments[&DepartmentId::from("mechanical")]).clone() },
    ];
    let order = json!({"kind": "open_order", "args": {"number": "2041", "vehicle": "grey wagon", "stage": "authorised",
        "promise": EIGHT + 26 * HOUR}});
    let acts = setup.into_iter().chain(people).chain([serde_json::from_value(order).unwrap()]);
    let made = shop.own(acts.map(OwnOp::system).collect()).await.unwrap();
    assert!(made.ops.iter().all(|op| op.verdict == domain::stored::Verdict::Applied), "{:?}", made.ops);

    let order = shop.view().state.in_shop().next().unwrap().id;
    let vehicle = PlanVehicle {
        order,
        finish: None,
        promise: Some(EIGHT + 26 * HOUR),
        late_minutes: 30,
        waits: None,
        chain: Vec::new(),
    };
    let plan = Plan { rev: 1, vehicles: vec![vehicle], ..Plan::default() };
    let mut book = read_book(&shop);
    round(&shop, &plan, &mut book).await;
    round(&shop, &plan, &mut book).await;
    drop(shop);

    let shop = Shop::open(Arc::new(store), Clock::at(EIGHT + HOUR)).unwrap();
    let mut book = read_book(&shop);
    round(&shop, &plan, &mut book).await;
    let notices = shop.notices_after(id(7).as_bytes(), NoticeAt::default(), 10).unwrap();
    let kinds: Vec<NoticeKind> = notices
        .iter()
        .map(|n| serde_json::from_slice::<domain::stored::Notice>(&n.body).unwrap().kind)
        .collect();
    assert_eq!(kinds, [NoticeKind::PromiseUnlikely]);
}

/// The work of person 8 on a card, running since then.
fn at_work(since: Ms) -> State {
    let mut state = shop();
    let mut card = (*state.cards[&CardId(id(3))]).clone();
    card.life = Life::Working;
    card.taken_by = Some(PersonId(id(8)));
    let span = json!({"id": id(20), "person": id(8), "from": since});
    card.spans.push(serde_json::from_value(span).unwrap());
    state.cards.insert(card.id, Arc::new(card));
    // Nothing but this calls for a reminder.
    let mut handoff = (*state.handoffs[&HandoffId(id(4))]).clone();
    handoff.life = HandoffLife::Taken;
    state.handoffs.insert(handoff.id, Arc::new(handoff));
    fold::reindex(&mut state, []);
    state
}

#[test]
fn whose_work_runs_on_after_the_shift_is_asked_once() {
    let state = at_work(EIGHT + 6 * HOUR);
    let (planned, mut book) = (nothing_planned(), Book::new());
    let five = EIGHT + 9 * HOUR;
    assert!(found(&state, &planned, five + 14 * MINUTE, &mut book).is_empty(), "still finishing something");
    assert_eq!(found(&state, &planned, five + 15 * MINUTE, &mut book), [Reminder::StillRunning]);
    book.values_mut().for_each(|matter| matter.told = true);
    assert!(found(&state, &planned, five + 30 * HOUR, &mut book).is_empty());
    // Found the next morning, by a server that was off at night.
    assert_eq!(found(&state, &planned, five + 14 * HOUR, &mut Book::new()), [Reminder::StillRunning]);
    // Over lunch too, and again in the evening.
    let (morning, mut book) = (at_work(EIGHT), Book::new());
    let noon = EIGHT + 4 * HOUR;
    assert!(found(&morning, &planned, noon + 14 * MINUTE, &mut book).is_empty(), "still finishing something");
    assert_eq!(found(&morning, &planned, noon + 15 * MINUTE, &mut book), [Reminder::StillRunning]);
    book.values_mut().for_each(|matter| matter.told = true);
    assert!(found(&morning, &planned, noon + 20 * MINUTE, &mut book).is_empty(), "once");
    assert!(found(&morning, &planned, EIGHT + 6 * HOUR, &mut book).is_empty(), "back at work");
    assert_eq!(found(&morning, &planned, five + 15 * MINUTE, &mut book), [Reminder::StillRunning]);
    // Who begins in the break means to work in it.
    let in_it = at_work(noon + 5 * MINUTE);
    assert!(found(&in_it, &planned, noon + 25 * MINUTE, &mut Book::new()).is_empty());
    // On a day without a shift somebody may work all the same, for a time.
    let saturday = EIGHT + 2 * 24 * HOUR;
    let weekend = at_work(saturday);
    assert!(found(&weekend, &planned, saturday + 9 * HOUR, &mut Book::new()).is_empty());
    assert_eq!(found(&weekend, &planned, saturday + 11 * HOUR, &mut Book::new()), [Reminder::StillRunning]);
}

#[test]
fn keys_of_a_stopped_job_are_asked_about() {
    let mut state = at_work(EIGHT);
    let mut card = (*state.cards[&CardId(id(3))]).clone();
    card.spans.clear();
    state.cards.insert(card.id, Arc::new(card));
    let mut order = (*state.orders[&OrderId(id(1))]).clone();
    order.stage = Stage::Stopped;
    order.stages.push(serde_json::from_value(json!({"stage": "stopped", "at": EIGHT})).unwrap());
    order.open.clear();
    state.orders.insert(order.id, Arc::new(order));
    fold::reindex(&mut state, []);
    let planned = nothing_planned();
    assert!(found(&state, &planned, EIGHT + 72 * HOUR, &mut Book::new()).is_empty());
    assert_eq!(found(&state, &planned, EIGHT + 73 * HOUR, &mut Book::new()), [Reminder::StoppedHere]);
}
