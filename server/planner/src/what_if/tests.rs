//! A shop small enough to be planned by hand: one technician a department, Mondays to Fridays from 7:00 to 11:30
//! and from 12:00 to 16:00, and it is Monday, 9:00.

use std::sync::Arc;

use domain::calendar;
use domain::decide::{self, Context, SYSTEM};
use domain::fold;
use domain::ids::part_of;
use domain::open;
use domain::state::State;
use jiff::tz::TimeZone;
use serde_json::{Value, json};
use uuid::Uuid;

use super::*;
use crate::{Planned, Shown};

const HOUR: i64 = 60;

pub(crate) struct Small {
    state: State,
    zone: TimeZone,
    acts: u128,
}

impl Small {
    pub(crate) fn new() -> Self {
        let zone = TimeZone::get("America/Chicago").unwrap();
        let mut shop = Self { state: State::default(), zone, acts: 0 };
        let set_up = starter::library();
        set_up.into_iter().chain([starter::shop("Two Rivers Body", "America/Chicago", "en")]).for_each(
            |act| {
                shop.does(&act);
            },
        );
        shop
    }

    pub(crate) fn at(&self, day: &str, minute: u16) -> Ms {
        calendar::instant(day.parse().unwrap(), minute, &self.zone).unwrap()
    }

    pub(crate) fn now(&self) -> Ms {
        self.at("2026-06-01", 9 * 60)
    }

    fn does(&mut self, act: &Act) -> OpId {
        self.acts += 1;
        let op = OpId(Uuid::from_u128(self.acts));
        let now = self.now();
        let role = Role::Admin;
        let context = Context { by: SYSTEM, role, op, at: now, uncertain: false, now, zone: &self.zone };
        let events = decide::decide(&self.state, act, &[], &context).unwrap();
        events.iter().for_each(|event| fold::fold(&mut self.state, event, &mut fold::Changed::new()));
        op
    }

    pub(crate) fn act(&mut self, kind: &str, args: Value) -> Uuid {
        self.does(&serde_json::from_value(json!({"kind": kind, "args": args})).unwrap()).0
    }

    pub(crate) fn person(&mut self, name: &str, department: &str) -> PersonId {
        let id = Uuid::from_u128(1_000 + self.acts);
        let person = json!({"id": id, "name": name, "department": department, "role": "technician"});
        self.act("set_person", json!({"person": person}));
        PersonId(id)
    }

    /// A vehicle promised for a moment, with one card.
    pub(crate) fn vehicle(
        &mut self,
        number: &str,
        department: &str,
        minutes: i64,
        promise: Ms,
    ) -> (OrderId, CardId) {
        let open = json!({"number": number, "vehicle": "grey wagon", "stage": "authorised"});
        let order = self.act("open_order", open);
        let card = json!({"order": order, "department": department, "title": {"text": "Work"}, "planned_minutes": minutes});
        let card = self.act("add_card", card);
        self.act("promise", json!({"order": order, "due": promise}));
        (OrderId(order), CardId(card))
    }

    pub(crate) fn view(&self) -> View {
        View { head: Default::default(), state: self.state.clone(), zone: self.zone.clone() }
    }

    pub(crate) fn shown(&self) -> Published {
        published(plan_now(&self.view(), self.now(), &Shown::default(), Effort::SEARCH))
    }

    fn ask(&self, changes: &[Change]) -> Result<Answer, NoAnswer> {
        what_if(&self.view(), self.now(), &self.shown(), changes)
    }

    fn rows(&self, changes: &[Change]) -> Vec<(OrderId, i64)> {
        let answer = self.ask(changes).unwrap();
        answer.rows.iter().map(|row| (row.order, row.later_minutes())).collect()
    }
}

pub(crate) fn published(planned: Planned) -> Published {
    Published::new(Plan { rev: 1, ..planned.plan }, planned.shown, &Plan::default()).unwrap()
}

/// Two vehicles at one technician: the first takes two hours, the second three; the second is due later.
fn two(shop: &mut Small) -> ((OrderId, CardId), (OrderId, CardId)) {
    shop.person("Tomas Okafor", "body");
    let noon = shop.at("2026-06-01", 12 * 60);
    let first = shop.vehicle("2041", "body", 2 * HOUR, noon);
    let second = shop.vehicle("2042", "body", 3 * HOUR, noon + 3 * 60 * MINUTE);
    (first, second)
}

#[test]
fn who_goes_first_is_done_sooner_and_the_other_later() {
    let mut shop = Small::new();
    let ((one, _), (other, card)) = two(&mut shop);
    for change in [Change::VehicleFirst { order: other }, Change::CardFirst { card }] {
        let answer = shop.ask(&[change]).unwrap();
        // Three hours from nine with the noon break end at 12:30, then two more: 14:30 instead of 11:00.
        let row = &answer.rows[0];
        assert_eq!((row.order, row.finish_after), (one, shop.at("2026-06-01", 14 * 60 + 30)));
        assert_eq!((row.finish_before, row.late_before_minutes), (shop.at("2026-06-01", 11 * 60), 0));
        assert_eq!(row.late_after_minutes, 150, "promised for noon");
        let row = &answer.rows[1];
        assert_eq!((row.order, row.later_minutes()), (other, -2 * HOUR));
        assert_eq!((answer.rows.len(), answer.same), (2, 0));
        assert_eq!(answer.before, Lateness::default());
        // Usual urgency is 2.
        assert_eq!(answer.after, Lateness { late_vehicles: 1, weighted_minutes: 2 * 150 });
    }
}

#[test]
fn who_is_first_already_changes_nothing() {
    let mut shop = Small::new();
    let ((one, _), _) = two(&mut shop);
    let answer = shop.ask(&[Change::VehicleFirst { order: one }]).unwrap();
    assert_eq!((answer.rows.len(), answer.same), (0, 2));
    assert_eq!(answer.before, answer.after);
}

/// The plan is published a moment after the act: a question in between is about the shop as it is.
#[test]
fn what_came_since_the_plan_was_shown_is_in_the_answer() {
    let mut shop = Small::new();
    shop.person("Ines", "body");
    let ((one, _), _) = two(&mut shop);
    let shown = shop.shown();
    let (new, card) = shop.vehicle("3", "body", 60, shop.at("2026-06-03", 960));
    let mut view = shop.view();
    view.head.seq = 99;
    let answer = what_if(&view, shop.now(), &shown, &[Change::CardFirst { card }]).unwrap();
    let row =
        answer.rows.iter().find(|row| row.order == new).expect("it has a time before, and another after");
    assert!(row.later_minutes() < 0 && answer.rows.iter().any(|row| row.order == one));
}

#[test]
fn nothing_is_written_and_the_answer_is_repeated() {
    let mut shop = Small::new();
    let (_, (other, card)) = two(&mut shop);
    let (view, shown) = (shop.view(), shop.shown());
    let change = [Change::VehicleFirst { order: other }];
    let answer = what_if(&view, shop.now(), &shown, &change).unwrap();
    assert_eq!(what_if(&view, shop.now(), &shown, &change).unwrap(), answer);
    assert_eq!(view.state.cards[&card].put_first, None);
}

#[test]
fn a_person_away_and_back() {
    let mut shop = Small::new();
    let ((one, _), (other, _)) = two(&mut shop);
    let (person, tomorrow) = (*shop.state.people.keys().next().unwrap(), shop.at("2026-06-02", 7 * 60));
    let away = Change::Away { person, from: None, until: tomorrow };
    // From Monday 11:00 to Tuesday 9:00; from 14:30 to Tuesday 12:30.
    assert_eq!(shop.rows(std::slice::from_ref(&away)), [(other, 22 * HOUR), (one, 22 * HOUR)]);
    // Away only in the afternoon: the first is not touched, three hours of the second are left.
    let half = Change::Away { person, from: Some(shop.at("2026-06-01", 11 * 60)), until: tomorrow };
    assert_eq!(shop.rows(std::slice::from_ref(&half)), [(other, 19 * HOUR + 30)]);
    // Back undoes what stands in the calendar, and what was said before it.
    assert_eq!(shop.rows(&[away.clone(), Change::Back { person, until: tomorrow }]), []);
    let mut planned = (*shop.state.people[&person]).clone();
    planned.away = vec![Absence { from: shop.now() - MINUTE, to: tomorrow, reason: None }];
    shop.does(&Act::SetPerson { person: planned });
    assert_eq!(shop.rows(&[away]), [], "is away already");
    assert_eq!(
        shop.rows(&[Change::Back { person, until: tomorrow }]),
        [(one, -22 * HOUR), (other, -22 * HOUR)]
    );
}

#[test]
fn a_lift_out_of_service_is_waited_for() {
    let mut shop = Small::new();
    shop.person("Ines Duarte", "mechanical");
    let due = shop.at("2026-06-05", 12 * 60);
    let (order, card) = shop.vehicle("2041", "mechanical", HOUR, due);
    shop.act("edit_card", json!({"card": card, "change": {"needs": {"equipment": "alignment"}}}));
    let until = shop.at("2026-06-02", 8 * 60);
    let out = |id: &str| Change::OutOfService { equipment: id.into(), from: None, until };
    assert_eq!(shop.rows(&[out("alignment-rack")]), [(order, 23 * HOUR)]);
    assert_eq!(shop.rows(&[out("lift-1")]), [], "of another kind");
    // One of two is out, however often that is said; the other is there.
    shop.act("edit_card", json!({"card": card, "change": {"needs": {"equipment": "lift"}}}));
    assert_eq!(shop.rows(&[out("lift-1"), out("lift-1")]), []);
    assert_eq!(shop.rows(&[out("lift-1"), out("lift-2")]), [(order, 23 * HOUR)]);
}

#[test]
fn a_saturday_brings_monday_forward() {
    let mut shop = Small::new();
    shop.person("Tomas Okafor", "body");
    // 6.5 hours of today, four days of 8.5: five hours are left for Monday, until 12:30.
    let minutes = 13 * HOUR / 2 + 4 * 17 * HOUR / 2 + 5 * HOUR;
    let (order, _) = shop.vehicle("2041", "body", minutes, shop.at("2026-06-08", 8 * 60));
    let shift =
        |day: &str, from, to| Change::ExtraShift { department: "body".into(), day: day.into(), from, to };
    let answer = shop.ask(&[shift("2026-06-06", 7 * 60, 13 * 60)]).unwrap();
    assert_eq!(answer.rows[0].finish_before, shop.at("2026-06-08", 12 * 60 + 30));
    assert_eq!(answer.rows[0].finish_after, shop.at("2026-06-06", 12 * 60));
    assert_eq!((answer.before.late_vehicles, answer.after.late_vehicles), (1, 0));
    // An hour more on Tuesday comes to the usual day, not instead of it, and is nobody else's.
    // The hour before 12:30 is half an hour of work and the noon break.
    assert_eq!(shop.rows(&[shift("2026-06-02", 16 * 60, 17 * 60)]), [(order, -HOUR * 3 / 2)]);
    assert_eq!(shop.rows(&[shift("2026-06-02", 8 * 60, 15 * 60)]), [(order, -HOUR)], "one break less");
    let other = Change::ExtraShift {
        department: "refinish".into(),
        day: "2026-06-02".into(),
        from: 16 * 60,
        to: 17 * 60,
    };
    assert_eq!(shop.rows(&[other]), []);
}

#[test]
fn who_has_a_calendar_of_their_own_works_the_extra_shift_too() {
    let mut shop = Small::new();
    let person = shop.person("Tomas Okafor", "body");
    let mut own = (*shop.state.calendars[&CalendarId::from(starter::CALENDAR)]).clone();
    own.id = "mondays-off".into();
    shop.does(&Act::SetCalendar { calendar: own });
    let mut changed = (*shop.state.people[&person]).clone();
    changed.calendar = Some("mondays-off".into());
    shop.does(&Act::SetPerson { person: changed });
    let (order, _) = shop.vehicle("2041", "body", 7 * HOUR, shop.at("2026-06-08", 8 * 60));
    let shift = Change::ExtraShift {
        department: "body".into(),
        day: "2026-06-01".into(),
        from: 16 * 60,
        to: 17 * 60,
    };
    // The last half hour today at 16:30 and not tomorrow at 7:30.
    assert_eq!(shop.rows(&[shift]), [(order, -15 * HOUR)]);
}

#[test]
fn parts_that_come_later() {
    let mut shop = Small::new();
    let ((order, _), (other, _)) = two(&mut shop);
    let due = shop.at("2026-06-01", 10 * 60);
    let op = shop.act("hold", json!({"order": order, "what": "parts", "due": due}));
    let hold = shop.state.orders[&order].holds[0].id;
    let later = Change::HoldUntil { order, hold, due: shop.at("2026-06-02", 7 * 60) };
    let rows = shop.rows(&[later]);
    assert!(rows[0].0 == order && rows[0].1 > 16 * HOUR, "{rows:?} {op}");
    assert!(rows[1..].iter().all(|(id, by)| *id == other && *by < 0), "{rows:?}");
    let (hold, due) = (HoldId(part_of(OpId(op), "other")), shop.at("2026-06-02", 7 * 60));
    let unknown = shop.ask(&[Change::HoldUntil { order, hold, due }]);
    assert_eq!(unknown, Err(NotSupposed::Unknown("hold").into()));
}

#[test]
fn what_cannot_be_asked_is_said() {
    let mut shop = Small::new();
    let ((order, card), _) = two(&mut shop);
    let now = shop.now();
    let person = *shop.state.people.keys().next().unwrap();
    let nobody = Uuid::from_u128(77);
    let out = |from, until| Change::OutOfService { equipment: "lift-1".into(), from, until };
    let shift =
        |day: &str, from, to| Change::ExtraShift { department: "body".into(), day: day.into(), from, to };
    let cases = [
        (Change::VehicleFirst { order: OrderId(nobody) }, NotSupposed::Unknown("vehicle")),
        (Change::CardFirst { card: CardId(nobody) }, NotSupposed::Unknown("card")),
        (
            Change::OutOfService { equipment: "crane".into(), from: None, until: now + MINUTE },
            NotSupposed::Unknown("equipment"),
        ),
        (
            Change::Away { person: PersonId(nobody), from: None, until: now + MINUTE },
            NotSupposed::Unknown("person"),
        ),
        (out(None, now), NotSupposed::Past),
        (out(Some(now + 2 * MINUTE), now + MINUTE), NotSupposed::Backwards),
        (Change::Back { person, until: now - MINUTE }, NotSupposed::Past),
        (shift("tomorrow", 0, 60), NotSupposed::Day("tomorrow".into())),
        (shift("2026-06-02", 60, 60), NotSupposed::Shift),
        (shift("2026-06-02", 60, 24 * 60 + 1), NotSupposed::Shift),
        (shift("2026-06-01", 7 * 60, 9 * 60), NotSupposed::Past),
        (
            Change::ExtraShift { department: "nowhere".into(), day: "2026-06-02".into(), from: 0, to: 60 },
            NotSupposed::Unknown("department"),
        ),
    ];
    for (change, why) in cases {
        assert_eq!(shop.ask(std::slice::from_ref(&change)), Err(why.into()), "{change:?}");
    }
    assert_eq!(shop.ask(&[]), Err(NoAnswer::Changes));
    assert_eq!(shop.ask(&vec![Change::CardFirst { card }; CHANGES_MAX + 1]), Err(NoAnswer::Changes));
    let none = what_if(&shop.view(), now, &Published::default(), &[Change::CardFirst { card }]);
    assert_eq!(none, Err(NoAnswer::NoPlan));
    shop.act("cancel_card", json!({"card": card}));
    assert_eq!(shop.ask(&[Change::CardFirst { card }]), Err(NotSupposed::Over.into()));
    assert_eq!(shop.ask(&[Change::VehicleFirst { order }]), Err(NotSupposed::Over.into()));
}

#[test]
fn somebody_more_works_until_then_and_not_longer() {
    let mut shop = Small::new();
    let ((one, _), (other, _)) = two(&mut shop);
    let until = |day: &str| Change::Joins { department: "body".into(), until: shop.at(day, 16 * 60) };
    let answer = shop.ask(&[until("2026-06-01")]).unwrap();
    // Both begin at nine: three hours end at 12:30 after the noon break, where they ended at 14:30.
    let row = &answer.rows[0];
    assert_eq!((row.order, row.finish_before), (other, shop.at("2026-06-01", 14 * 60 + 30)));
    assert_eq!((row.finish_after, answer.rows.len()), (shop.at("2026-06-01", 12 * 60 + 30), 1));
    assert!(!answer.rows.iter().any(|row| row.order == one), "the other is as it was");
    // Gone after an hour, nothing can be finished by somebody more.
    let gone = Change::Joins { department: "body".into(), until: shop.at("2026-06-01", 10 * 60) };
    assert_eq!(shop.rows(&[gone]), []);
    let nowhere = Change::Joins { department: "nowhere".into(), until: shop.at("2026-06-02", 0) };
    assert_eq!(shop.ask(&[nowhere]), Err(NotSupposed::Unknown("department").into()));
    assert_eq!(shop.ask(&[until("2026-05-01")]), Err(NotSupposed::Past.into()));
}

/// One lift: on it a vehicle whose seam waits for sealer until Wednesday at nine; another needs the lift.
struct Blocked {
    shop: Small,
    open: Uuid,
    inside: Uuid,
    refit: Uuid,
    waiting: OrderId,
}

const DOWN: &str = "suspension-down-rear";

fn blocked(whole_vehicle: bool) -> Blocked {
    let mut shop = Small::new();
    let lift = (*shop.state.equipment[&EquipmentId::from("lift-2")]).clone();
    shop.act("set_equipment", json!({"equipment": Equipment { retired: true, ..lift }}));
    shop.person("Tomas Okafor", "body");
    shop.person("Ines Duarte", "mechanical");
    let open = json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"});
    let open = shop.act("open_order", open);
    let mut card = |department: &str, title: &str, more: Value, after: Option<Uuid>| {
        let mut args =
            json!({"order": open, "department": department, "title": {"text": title}, "planned_minutes": 60});
        args.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        args["after"] = after.map_or(json!([]), |card| json!([{"card": card}]));
        shop.act("add_card", args)
    };
    let drop = card("mechanical", "Take it down", json!({"equipment": "lift", "opens": DOWN}), None);
    let inside = card("body", "Seal the seam", json!({"inside": DOWN}), Some(drop));
    let refit = card("mechanical", "Refit it", json!({"equipment": "lift", "closes": DOWN}), Some(inside));
    shop.act("finish", json!({"card": drop}));
    let cards = if whole_vehicle { vec![] } else { vec![inside] };
    let due = shop.at("2026-06-03", 9 * 60);
    shop.act("hold", json!({"order": open, "what": "parts", "cards": cards, "blocks": "start", "due": due}));
    let promise = shop.at("2026-06-01", 15 * 60);
    let (waiting, card) = shop.vehicle("2042", "mechanical", 2 * HOUR, promise);
    shop.act("cancel_card", json!({"card": card}));
    let on_lift = json!({"order": waiting, "department": "mechanical", "title": {"text": "Drain the tank"}, "planned_minutes": 120, "equipment": "lift"});
    shop.act("add_card", on_lift);
    Blocked { shop, open, inside, refit, waiting }
}

#[test]
fn closed_up_a_vehicle_leaves_the_lift_to_others() {
    let Blocked { shop, open, waiting, .. } = blocked(false);
    let close = Change::CloseUp { order: OrderId(open), open: DOWN.into() };
    let answer = shop.ask(std::slice::from_ref(&close)).unwrap();
    // Waiting for it the lift is taken until the seam is sealed (9 to 10) and closed (10 to 11) on Wednesday:
    // two hours from 11 end at 13:30. Closed up from 9 to 10 today, they end at 12:30 today.
    let row = &answer.rows[0];
    assert_eq!((row.order, row.finish_before), (waiting, shop.at("2026-06-03", 13 * 60 + 30)));
    assert_eq!((row.finish_after, row.late_after_minutes), (shop.at("2026-06-01", 12 * 60 + 30), 0));
    // Opened again in time, the other loses nothing by it but the mechanic's hour.
    assert_eq!(answer.rows.len(), 1, "{:?}", answer.rows);
}

#[test]
fn a_vehicle_that_waits_as_a_whole_can_be_closed_up_and_is_opened_again_when_it_goes_on() {
    let Blocked { shop, open, waiting, .. } = blocked(true);
    let rows = shop.rows(&[Change::CloseUp { order: OrderId(open), open: DOWN.into() }]);
    // Opened again on Wednesday from 9 to 10, sealed until 11, closed at 12:30 after the noon break: at 11 if it waits.
    assert_eq!(rows.len(), 2, "{rows:?}");
    assert!(rows.contains(&(OrderId(open), 90)), "{rows:?}");
    assert!(rows.iter().any(|(order, later)| *order == waiting && *later < 0), "{rows:?}");
}

/// What the answer promised is what the acts do: closing over what is to be opened for again is no exception.
#[test]
fn closing_up_is_two_cards_and_no_exception() {
    let Blocked { mut shop, open, inside, refit, .. } = blocked(true);
    let order = OrderId(open);
    let close_up = Change::CloseUp { order, open: DOWN.into() };
    let answered = shop.ask(std::slice::from_ref(&close_up)).unwrap();
    let up = open::close_up(&shop.state, &shop.state.orders[&order], &DOWN.into()).unwrap();
    let close = CardId(shop.does(&Act::AddCard(up.close.clone())).0);
    let reopen = CardId(shop.does(&Act::AddCard(up.reopen_after(close))).0);
    // The whole vehicle waits: it may be closed meanwhile, and not for good.
    let holds = |card: CardId| {
        let hold = &shop.state.orders[&order].holds[0];
        open::keeps(&shop.state, hold, &shop.state.cards[&card])
    };
    assert_eq!([close, reopen, CardId(inside), CardId(refit)].map(holds), [false, true, true, true]);
    let planned = shop.shown();
    for row in &answered.rows {
        let vehicle = planned.plan.vehicles.iter().find(|v| v.order == row.order).unwrap();
        assert_eq!(vehicle.finish, Some(row.finish_after));
    }
    assert_eq!(shop.ask(&[close_up]), Err(NotSupposed::NotToClose.into()), "it is being closed up");

    shop.act("finish", json!({"card": close}));
    let is_open = |shop: &Small| open::is_open(&shop.state.orders[&order], &DOWN.into()).is_some();
    assert!(!is_open(&shop));
    assert!(shop.state.exceptions.is_empty(), "{:?}", shop.state.exceptions);
    shop.act("unhold", json!({"order": open, "hold": shop.state.orders[&order].holds[0].id}));
    shop.act("finish", json!({"card": reopen}));
    assert!(is_open(&shop));
    shop.act("finish", json!({"card": inside}));
    shop.act("finish", json!({"card": refit}));
    assert!(!is_open(&shop));
    assert!(shop.state.exceptions.is_empty(), "{:?}", shop.state.exceptions);
}

#[test]
fn only_what_stands_open_for_nobody_is_closed_up() {
    let Blocked { mut shop, open, inside, .. } = blocked(false);
    let order = OrderId(open);
    let front = Change::CloseUp { order, open: "suspension-down-front".into() };
    assert_eq!(shop.ask(&[front]), Err(NotSupposed::NotToClose.into()), "it is not open");
    let card = (*shop.state.cards[&CardId(inside)]).clone();
    shop.state.cards.insert(card.id, Arc::new(Card { life: Life::Working, ..card }));
    let rear = Change::CloseUp { order, open: DOWN.into() };
    assert_eq!(shop.ask(&[rear]), Err(NotSupposed::NotToClose.into()), "somebody works inside");
}

/// The invented shop in the middle of a working day.
pub(crate) fn invented() -> (View, Ms) {
    let zone = TimeZone::get("America/Chicago").unwrap();
    let now = calendar::instant("2025-03-19".parse().unwrap(), 10 * 60 + 40, &zone).unwrap();
    let mut state = State::default();
    for op in demo::build(1, 14, now, &zone).ops.iter().filter(|op| !op.refused) {
        let role = if op.by == SYSTEM { Role::Admin } else { state.people[&op.by].role };
        let context =
            Context { by: op.by, role, op: op.op, at: op.at, uncertain: false, now: op.at, zone: &zone };
        let events = decide::decide(&state, &op.act, &[], &context).unwrap();
        events.iter().for_each(|event| fold::fold(&mut state, event, &mut fold::Changed::new()));
    }
    (View { head: Default::default(), state, zone }, now)
}

/// In a busy shop the rows account for the totals, and what is occupied now does not make a plan impossible.
#[test]
fn rows_account_for_the_totals() {
    let (view, now) = invented();
    let shown = published(plan_now(&view, now, &Shown::default(), Effort::Repair));
    for equipment in ["booth", "lift-2", "frame-bench"].map(EquipmentId::from) {
        let out = Change::OutOfService {
            equipment: equipment.clone(),
            from: None,
            until: now + 3 * 24 * 60 * MINUTE,
        };
        let answer = what_if(&view, now, &shown, &[out]).unwrap();
        for row in &answer.rows {
            let vehicle = shown.plan.vehicles.iter().find(|v| v.order == row.order).unwrap();
            assert_eq!(Some(row.finish_before), vehicle.finish, "before is the plan that is shown");
        }
        let worse: i64 = answer
            .rows
            .iter()
            .map(|row| {
                let weight = i64::from(view.state.orders[&row.order].weight);
                weight * (row.late_after_minutes - row.late_before_minutes)
            })
            .sum();
        assert_eq!(answer.after.weighted_minutes - answer.before.weighted_minutes, worse, "{equipment}");
    }
}

/// What changes nothing moves nobody: both sides are the plan that is shown.
#[test]
fn a_change_that_is_none_has_no_rows() {
    let (view, now) = invented();
    let shown = published(plan_now(&view, now, &Shown::default(), Effort::SEARCH));
    let due = |hold: &Hold| hold.due.filter(|due| hold.ended.is_none() && *due > now);
    let held = view.state.in_shop().find_map(|o| o.holds.iter().find_map(|h| Some((o.id, h.id, due(h)?))));
    let (order, hold, due) = held.expect("something is expected");
    let answer = what_if(&view, now, &shown, &[Change::HoldUntil { order, hold, due }]).unwrap();
    assert_eq!(answer.rows, []);
    assert_eq!(answer.before, answer.after);
}
