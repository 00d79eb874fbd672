//! A small invented shop for tests: three departments, eight people, two lifts, a booth.
//!
//! `shop.act(who, act)` decides and folds as the server does, and after every act checks what must
//! always hold ([`invariants`]); so every scenario tests all of it.

// Each test target uses its own part of this.
#![allow(dead_code)]

pub mod documents;
pub mod invariants;

use std::collections::BTreeMap;

use domain::decide::{Context, Refusal, SYSTEM, decide};
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::{MINUTE, Ms, fold};
use jiff::tz::TimeZone;
use uuid::Uuid;

pub const DOWN: &str = "suspension-down-rear";
pub const HOUR: Ms = 60 * MINUTE;

/// Two body technicians, two mechanics, a painter, and the office.
const PEOPLE: [(&str, &str, Role); 9] = [
    ("ines", "body", Role::Technician),
    ("bruno", "body", Role::Technician),
    ("milo", "mechanical", Role::Technician),
    ("tova", "mechanical", Role::Technician),
    ("pia", "refinish", Role::Technician),
    ("petra", "body", Role::Parts),
    ("rask", "body", Role::Planner),
    ("mara", "body", Role::Manager),
    ("odin", "body", Role::Admin),
];

pub fn id(number: u64) -> Uuid {
    Uuid::from_u128(0x0198_0000_0000_7000_8000_0000_0000_0000 + u128::from(number))
}

pub fn person(name: &str) -> PersonId {
    let place = PEOPLE.iter().position(|(known, _, _)| *known == name);
    PersonId(id(place.unwrap_or_else(|| panic!("nobody is called {name}")) as u64 + 1))
}

/// Local time of the shop, for example "2026-03-02T08:00".
pub fn local(time: &str) -> Ms {
    let zone = TimeZone::get("America/Chicago").expect("bundled time zones");
    let time: jiff::civil::DateTime = time.parse().expect("a local time");
    zone.to_timestamp(time).expect("an instant").as_millisecond()
}

#[derive(Clone)]
pub struct TestShop {
    pub state: State,
    pub zone: TimeZone,
    pub now: Ms,
    /// Everything decided, as the log would keep it.
    pub entries: Vec<Entry>,
    ops: u64,
    /// Off for long random runs, which check at their own pace.
    pub checked: bool,
}

impl TestShop {
    /// Monday, eight in the morning.
    pub fn new() -> Self {
        let zone = TimeZone::get("America/Chicago").expect("bundled time zones");
        let now = local("2026-03-02T08:00");
        let mut shop =
            Self { state: State::default(), zone, now, entries: Vec::new(), ops: 0x1000, checked: true };
        for act in set_up() {
            shop.decide(SYSTEM, Role::Admin, now, &[], act).expect("the shop is set up");
        }
        shop
    }

    pub fn act(&mut self, who: &str, act: Act) -> Result<Vec<Event>, Refusal> {
        self.act_at(who, self.now, act)
    }

    /// What a phone did without network, at an earlier time.
    pub fn act_at(&mut self, who: &str, at: Ms, act: Act) -> Result<Vec<Event>, Refusal> {
        self.act_expecting(who, at, &[], act)
    }

    pub fn act_expecting(
        &mut self,
        who: &str,
        at: Ms,
        expect: &[Expect],
        act: Act,
    ) -> Result<Vec<Event>, Refusal> {
        let by = person(who);
        let role = self.state.people.get(&by).expect("somebody of the shop").role;
        self.decide(by, role, at, expect, act)
    }

    pub fn ok(&mut self, who: &str, act: Act) -> Vec<Event> {
        let said = format!("{act:?}");
        self.act(who, act).unwrap_or_else(|refusal| panic!("{who}: {said}: {refusal}"))
    }

    pub fn refused(&mut self, who: &str, act: Act) -> Refusal {
        match self.act(who, act.clone()) {
            Ok(events) => panic!("{who}: {act:?} should have been refused, but: {events:?}"),
            Err(refusal) => refusal,
        }
    }

    pub fn system(&mut self, act: Act) -> Result<Vec<Event>, Refusal> {
        self.decide(SYSTEM, Role::Admin, self.now, &[], act)
    }

    fn decide(
        &mut self,
        by: PersonId,
        role: Role,
        at: Ms,
        expect: &[Expect],
        act: Act,
    ) -> Result<Vec<Event>, Refusal> {
        self.ops += 1;
        let op = OpId(id(self.ops));
        let context = Context { by, role, op, at, uncertain: false, now: self.now, zone: &self.zone };
        let decided = decide(&self.state, &act, expect, &context);
        // Packed away or not, a vehicle is the same to every rule.
        let mut cold = self.state.clone();
        if self.checked {
            cold.cool(Ms::MAX);
            assert_eq!(decide(&cold, &act, expect, &context), decided, "cold, {act:?}");
        }
        let sent = Op {
            n: self.ops,
            id: op,
            session: SessionId(id(0)),
            v: 1,
            act,
            expect: expect.to_vec(),
            device_at: at,
            offset: None,
            seen: 0,
        };
        let entry = Entry {
            v: 1,
            at: self.now,
            act_at: at,
            by,
            client: ClientId(by.0),
            n: self.ops,
            op_id: op,
            digest: String::new(),
            op: serde_json::to_value(&sent).expect("an operation is JSON"),
            verdict: match &decided {
                Ok(events) if events.is_empty() => Verdict::Noop,
                Ok(_) => Verdict::Applied,
                Err(_) => Verdict::Refused,
            },
            code: decided.as_ref().err().map(|refusal| refusal.code.word().to_owned()),
            other: decided.as_ref().err().and_then(|refusal| refusal.other.clone()),
            events: decided.clone().unwrap_or_default(),
        };
        let before = self.state.clone();
        let changed = fold::entry(&mut self.state, &entry);
        if self.checked {
            assert_eq!(fold::entry(&mut cold, &entry), changed, "cold, {:?}", entry.events);
            for key in &changed {
                assert_eq!(cold.document(key), self.state.document(key), "cold {key}");
            }
            invariants::step(&before, &entry, &self.state);
        }
        self.entries.push(entry);
        decided
    }

    /// The operation that was sent last; what it made has this id.
    pub fn last_op(&self) -> OpId {
        OpId(id(self.ops))
    }

    pub fn later(&mut self, minutes: i64) -> &mut Self {
        self.now += minutes * MINUTE;
        self
    }

    /// An authorised vehicle in stall 1, with nothing to do yet.
    pub fn order(&mut self, number: &str) -> OrderId {
        self.ok("rask", open_order(number));
        OrderId(self.last_op().0)
    }

    /// A card laid out by the planner.
    pub fn card(&mut self, order: OrderId, department: &str, title: &str, after: &[CardId]) -> CardId {
        self.ok("rask", Act::AddCard(add_card(order, department, title, after)));
        CardId(self.last_op().0)
    }

    /// Ines asks for the suspension to come down, for a card of hers; returns down, own, up.
    pub fn round_trip(&mut self, order: OrderId) -> (CardId, CardId, CardId) {
        let own = self.card(order, "body", "Seal wheelhouse seam", &[]);
        self.ok("ines", Act::Ask(Ask { for_card: Some(own), ..ask(order, DOWN) }));
        (self.step("down"), own, self.step("up"))
    }

    /// The card that the last operation made for a routing's step.
    pub fn step(&self, step: &str) -> CardId {
        CardId(part_of(self.last_op(), step))
    }

    pub fn get(&self, card: CardId) -> &Card {
        self.state.cards.get(&card).expect("a card of the shop")
    }

    pub fn vehicle(&self, order: OrderId) -> &Order {
        self.state.orders.get(&order).expect("an order of the shop")
    }

    pub fn handoff(&self, op: OpId) -> &Handoff {
        self.state.handoffs.get(&HandoffId(op.0)).expect("a hand-off of the shop")
    }

    /// Kinds of all exceptions so far, oldest first.
    pub fn exceptions(&self) -> Vec<ExceptionKind> {
        let events = self.entries.iter().flat_map(|entry| &entry.events);
        events
            .filter_map(|event| match event {
                Event::ExceptionRaised { exception } => Some(exception.kind),
                _ => None,
            })
            .collect()
    }

    pub fn exception(&self, kind: ExceptionKind) -> &Exception {
        let found = self.state.exceptions.values().find(|e| e.kind == kind);
        found.unwrap_or_else(|| panic!("no {kind:?} among {:?}", self.exceptions()))
    }

    pub fn do_it(&mut self, who: &str, card: CardId, minutes: i64) {
        self.ok(who, start(card));
        self.later(minutes);
        self.ok(who, finish(card));
    }
}

pub fn take(card: CardId) -> Act {
    Act::Take { card }
}

pub fn start(card: CardId) -> Act {
    Act::Start { card, on: None }
}

pub fn pause(card: CardId) -> Act {
    Act::Pause { card, why: None }
}

pub fn finish(card: CardId) -> Act {
    Act::Finish { card, checks: Vec::new(), wet_minutes: None }
}

pub fn undo(op: OpId, card: CardId) -> Act {
    Act::Undo { op, card }
}

pub fn link(card: CardId, lag_minutes: u32) -> Link {
    Link { card, lag_minutes, lag_minutes_max: None }
}

pub fn stage(order: OrderId, stage: Stage) -> Act {
    Act::Stage { order, stage, reason: None }
}

pub fn hold(order: OrderId, what: HoldKind, cards: &[CardId], blocks: Blocks) -> Act {
    Act::Hold { order, what, cards: cards.to_vec(), blocks, due: None, note: None }
}

pub fn open_order(number: &str) -> Act {
    Act::OpenOrder(OpenOrder {
        number: number.into(),
        vehicle: "grey wagon".into(),
        vin: None,
        towed_in: false,
        weight: 2,
        stage: Stage::Authorised,
        expected_at: None,
        promise: None,
        place: Some("stall-1".into()),
        energy: None,
        sold_minutes: None,
        comeback_of: None,
        routings: Vec::new(),
        arrived_at: None,
    })
}

/// Changes an operation that opens an order.
pub fn order_with(number: &str, change: impl FnOnce(&mut OpenOrder)) -> Act {
    let Act::OpenOrder(mut open) = open_order(number) else { unreachable!("it opens an order") };
    change(&mut open);
    Act::OpenOrder(open)
}

pub fn add_card(order: OrderId, department: &str, title: &str, after: &[CardId]) -> AddCard {
    AddCard {
        order,
        department: department.into(),
        title: title.into(),
        planned_minutes: 60,
        sold_minutes: None,
        after: after.iter().map(|card| link(*card, 0)).collect(),
        before: Vec::new(),
        proposed: false,
        needs: Needs::default(),
    }
}

pub fn ask(order: OrderId, routing: &str) -> Ask {
    Ask {
        order,
        routing: routing.into(),
        from: "body".into(),
        for_card: None,
        after: Vec::new(),
        note: None,
        not_yet: None,
        condition: ConditionChange::default(),
        minutes: BTreeMap::new(),
    }
}

pub fn a_person(name: &str, department: &str, role: Role) -> Person {
    Person {
        id: person(name),
        name: name.into(),
        department: department.into(),
        also: Vec::new(),
        role,
        language: "en".into(),
        qualifications: BTreeMap::new(),
        calendar: None,
        away: Vec::new(),
        retired: false,
        retired_at: None,
        erased_at: None,
    }
}

pub fn week(shifts: &[(u16, u16)], days_open: usize) -> Vec<Vec<Shift>> {
    let open: Vec<Shift> = shifts.iter().map(|(from, to)| Shift { from: *from, to: *to }).collect();
    (0..7).map(|day| if day < days_open { open.clone() } else { Vec::new() }).collect()
}

fn set_up() -> Vec<Act> {
    let mut acts = vec![
        Act::SetCalendar {
            calendar: Calendar {
                id: "week".into(),
                title: "Week".into(),
                week: week(&[(8 * 60, 12 * 60), (12 * 60 + 30, 17 * 60)], 5),
                days: [("2026-07-03".to_owned(), Vec::new())].into(),
            },
        },
        Act::SetShop {
            shop: domain::stored::Shop {
                name: "Alder Road Collision".into(),
                time_zone: "America/Chicago".into(),
                calendar: "week".into(),
                language: "en".into(),
            },
        },
    ];
    for (rank, (word, title, working)) in [
        ("body", "Body", Working::Lead),
        ("mechanical", "Mechanical", Working::Pool),
        ("refinish", "Refinish", Working::Pool),
    ]
    .into_iter()
    .enumerate()
    {
        acts.push(Act::SetDepartment {
            department: Department {
                id: word.into(),
                title: title.into(),
                working,
                calendar: None,
                deputies: Vec::new(),
                rank: rank as u32,
                retired: false,
            },
        });
    }
    acts.extend(
        PEOPLE.map(|(name, department, role)| Act::SetPerson { person: a_person(name, department, role) }),
    );
    for (word, kind, department) in
        [("lift-1", "lift", "mechanical"), ("lift-2", "lift", "mechanical"), ("booth", "booth", "refinish")]
    {
        acts.push(Act::SetEquipment {
            equipment: Equipment {
                id: word.into(),
                title: word.into(),
                kind: kind.into(),
                department: department.into(),
                rated_load_kg: None,
                out_of_service: Vec::new(),
                inspection_due: None,
                retired: false,
            },
        });
    }
    for word in ["stall-1", "stall-2", "lift-1", "lift-2", "booth"] {
        let equipment = (!word.starts_with("stall")).then(|| word.into());
        acts.push(Act::SetPlace {
            place: Place { id: word.into(), title: word.into(), equipment, retired: false },
        });
    }
    acts.push(Act::SetRouting { routing: suspension_down() });
    acts.push(Act::SetRouting { routing: paint() });
    acts
}

pub fn step(word: &str, department: &str, after: &[(&str, u32)], needs: Needs) -> Step {
    Step {
        step: word.into(),
        department: department.into(),
        title: word.into(),
        planned_minutes: 60,
        after: after
            .iter()
            .map(|(step, lag)| StepLink { step: (*step).into(), lag_minutes: *lag, lag_minutes_max: None })
            .collect(),
        needs,
    }
}

pub fn routing(word: &str, steps: Vec<Step>) -> Routing {
    Routing { id: word.into(), version: 0, title: word.into(), steps, retired: false }
}

/// Down, work inside, up again after thirty minutes of cure.
pub fn suspension_down() -> Routing {
    let lift = || Needs { equipment: Some("lift".into()), ..Needs::default() };
    let open: OpenId = DOWN.into();
    routing(
        DOWN,
        vec![
            step("down", "mechanical", &[], Needs { opens: Some(open.clone()), ..lift() }),
            step("work", "body", &[("down", 0)], Needs { inside: Some(open.clone()), ..Needs::default() }),
            step("up", "mechanical", &[("work", 30)], Needs { closes: Some(open), ..lift() }),
        ],
    )
}

/// The same, and the wheels aligned once it is up again.
pub fn suspension_down_then_aligned() -> Routing {
    let down = suspension_down();
    let align = step("align", "mechanical", &[("up", 0)], Needs::default());
    Routing { steps: [down.steps, vec![align]].concat(), ..down }
}

fn paint() -> Routing {
    let bake = Needs {
        equipment: Some("booth".into()),
        one_go: true,
        cautions: vec![Caution::Spraying],
        ..Needs::default()
    };
    routing(
        "paint",
        vec![
            step("prep", "refinish", &[], Needs::default()),
            step("spray", "refinish", &[("prep", 0)], bake),
        ],
    )
}
