//! The smallest shop in which each change can be made.

use serde_json::{Value, json};

use super::*;

const NOW: Ms = 1_780_318_800_000; // Monday, 2026-06-01, 8:00 in Chicago

struct Shop {
    state: State,
    zone: TimeZone,
    acts: u128,
}

impl Shop {
    fn new() -> Self {
        let zone = TimeZone::get("America/Chicago").unwrap();
        let mut shop = Self { state: State::default(), zone, acts: 0 };
        let week = json!([[{"from": 420, "to": 960}], [], [], [], [], [], []]);
        shop.act(
            "set_calendar",
            json!({"calendar": {"id": "shop", "title": {"text": "Shop"}, "week": week}}),
        );
        shop.act(
            "set_shop",
            json!({"shop": {"name": "S", "time_zone": "America/Chicago", "calendar": "shop", "language": "en"}}),
        );
        for id in ["body", "mechanical"] {
            shop.act(
                "set_department",
                json!({"department": {"id": id, "title": {"text": id}, "working": "pool"}}),
            );
        }
        shop
    }

    fn act(&mut self, kind: &str, args: Value) -> Uuid {
        let act = serde_json::from_value(json!({"kind": kind, "args": args})).unwrap();
        self.acts += 1;
        let op = OpId(Uuid::from_u128(self.acts));
        self.state = lay(&self.state, &self.zone, op, &act, Role::Admin).unwrap();
        op.0
    }

    fn person(&mut self, name: &str, role: &str, calendar: Option<&str>) -> PersonId {
        let id = Uuid::from_u128(1_000 + self.acts);
        let person =
            json!({"id": id, "name": name, "department": "body", "role": role, "calendar": calendar});
        self.act("set_person", json!({"person": person}));
        PersonId(id)
    }

    fn suppose(&self, change: Change) -> Result<Supposed, NotSupposed> {
        suppose(&self.state, &self.zone, NOW, &[change])
    }
}

fn lay(state: &State, zone: &TimeZone, op: OpId, act: &Act, role: Role) -> Result<State, decide::Refusal> {
    let context = Context { by: SYSTEM, role, op, at: NOW, uncertain: false, now: NOW, zone };
    let mut state = state.clone();
    let events = decide::decide(&state, act, &[], &context)?;
    events.iter().for_each(|event| fold::fold(&mut state, event, &mut fold::Changed::new()));
    Ok(state)
}

/// What the screen does: the steps as operations, by somebody of the role that is said, and by nobody below it.
fn made_so(shop: &Shop, supposed: &Supposed) -> State {
    let all = |role| {
        supposed
            .steps
            .iter()
            .try_fold(shop.state.clone(), |state, step| lay(&state, &shop.zone, step.op, &step.act, role))
    };
    if supposed.role > Role::Planner {
        let below = if supposed.role == Role::Admin { Role::Manager } else { Role::Planner };
        assert!(all(below).is_err(), "{below:?} may not");
    }
    all(supposed.role).unwrap()
}

fn assert_same(is: &State, was: &State) {
    assert_eq!(is.calendars, was.calendars);
    assert_eq!(is.departments, was.departments);
    assert_eq!(is.people, was.people);
    assert_eq!(is.orders, was.orders);
    assert_eq!(is.cards, was.cards);
}

fn saturday() -> Change {
    Change::ExtraShift { department: "body".into(), day: "2026-06-06".into(), from: 420, to: 720 }
}

#[test]
fn what_is_supposed_is_what_comes_of_sending_it() {
    let mut shop = Shop::new();
    let person = shop.person("Ines", "technician", None);
    let chief = shop.person("Olga", "admin", None);
    let order = OrderId(
        shop.act("open_order", json!({"number": "1", "vehicle": "grey wagon", "stage": "authorised"})),
    );
    let card =
        json!({"order": order, "department": "body", "title": {"text": "Work"}, "planned_minutes": 60});
    let card = CardId(shop.act("add_card", card));
    let hold = shop
        .act("hold", json!({"order": order, "what": "parts", "blocks": "start", "due": NOW + 60 * MINUTE}));
    let until = NOW + 24 * 60 * MINUTE;
    for (change, role) in [
        (Change::VehicleFirst { order }, Role::Planner),
        (Change::CardFirst { card }, Role::Planner),
        (Change::HoldUntil { order, hold: HoldId(hold), due: until }, Role::Planner),
        (Change::Away { person, from: None, until }, Role::Manager),
        (Change::Away { person: chief, from: None, until }, Role::Admin),
        (Change::Back { person, until }, Role::Manager),
        (saturday(), Role::Manager),
    ] {
        let supposed = shop.suppose(change.clone()).unwrap();
        assert_eq!((supposed.steps.is_empty(), supposed.role), (false, role), "{change:?}");
        assert_same(&made_so(&shop, &supposed), &supposed.state);
        assert_eq!(shop.suppose(change).unwrap().steps, supposed.steps, "the same question, the same acts");
    }
}

/// A person's id alone has 36 of the 40 characters that a calendar's may have.
#[test]
fn hours_of_ones_own_have_a_name_that_the_shop_takes() {
    let mut shop = Shop::new();
    let week = json!([[], [{"from": 420, "to": 900}], [], [], [], [], []]);
    shop.act("set_calendar", json!({"calendar": {"id": "short", "title": {"text": "Short"}, "week": week}}));
    let both =
        [shop.person("Ines", "technician", Some("short")), shop.person("Mikel", "technician", Some("short"))];
    let supposed = shop.suppose(saturday()).unwrap();
    let calendars = both.map(|person| supposed.state.people[&person].calendar.clone().unwrap());
    assert_ne!(calendars[0], calendars[1]);
    for id in calendars {
        assert!(id.well_formed(), "{id}");
        let of_saturday = &supposed.state.calendars[&id].days["2026-06-06"];
        assert_eq!(of_saturday, &[Shift { from: 420, to: 720 }]);
    }
    let short = CalendarId::from("short");
    assert_eq!(supposed.state.calendars[&short], shop.state.calendars[&short], "others go on by it");
    assert_same(&made_so(&shop, &supposed), &supposed.state);
}

/// Whoever works by a calendar alone keeps it; shifts that meet become one.
#[test]
fn hours_that_nobody_shares_get_longer_in_place() {
    let mut shop = Shop::new();
    let week = json!([[{"from": 420, "to": 960}], [], [], [], [], [], []]);
    shop.act("set_calendar", json!({"calendar": {"id": "body", "title": {"text": "Body"}, "week": week}}));
    shop.act(
        "set_department",
        json!({"department": {"id": "body", "title": {"text": "Body"}, "working": "pool", "calendar": "body"}}),
    );
    let longer =
        Change::ExtraShift { department: "body".into(), day: "2026-06-01".into(), from: 960, to: 1_080 };
    let supposed = shop.suppose(longer).unwrap();
    let [Step { act: Act::SetCalendar { calendar }, .. }] = &supposed.steps[..] else { panic!("one act") };
    assert_eq!(calendar.id.0, "body");
    assert_eq!(calendar.days["2026-06-01"], [Shift { from: 420, to: 1_080 }]);
}

#[test]
fn somebody_who_is_only_imagined_is_nobody_to_send() {
    let shop = Shop::new();
    let joins = Change::Joins { department: "body".into(), until: NOW + 24 * 60 * MINUTE };
    let supposed = shop.suppose(joins).unwrap();
    assert_eq!(supposed.state.people.len(), shop.state.people.len() + 1);
    assert!(supposed.steps.is_empty());
}
