//! A small shop, and what its people do: drawn from what each sees on their own phone.

use domain::Ms;
use domain::ids::{OpId, PersonId};
use domain::stored::Act;
use serde_json::{Value, json};

use crate::database::Database;
use crate::dice::Dice;

/// What there is before anybody begins.
pub fn set_up(people: &[PersonId], dice: &mut Dice) -> Vec<Act> {
    let mut acts = vec![
        json!({"kind": "set_calendar", "args": {"calendar": {"id": "weekdays", "title": {"text": "Weekdays"},
        "week": [[{"from": 420, "to": 1020}], [{"from": 420, "to": 1020}], [], [], [], [], []]}}}),
    ];
    acts.push(json!({"kind": "set_shop", "args": {"shop": {"name": "Dry Run Collision", "time_zone": "UTC", "calendar": "weekdays"}}}));
    for (department, working) in [("body", "lead"), ("mechanical", "pool"), ("refinish", "pool")] {
        acts.push(json!({"kind": "set_department", "args": {"department": {"id": department, "title": {"text": department}, "working": working}}}));
    }
    acts.push(json!({"kind": "set_equipment", "args": {"equipment": {"id": "lift-1", "title": {"text": "Lift 1"}, "kind": "lift", "department": "mechanical"}}}));
    for (place, equipment) in [("yard", None), ("bay-1", None), ("on-lift-1", Some("lift-1"))] {
        let mut body = json!({"id": place, "title": {"text": place}});
        if let Some(equipment) = equipment {
            body["equipment"] = equipment.into();
        }
        acts.push(json!({"kind": "set_place", "args": {"place": body}}));
    }
    acts.push(json!({"kind": "set_routing", "args": {"routing": {"id": "down", "title": {"text": "Suspension down"}, "steps": [
        {"step": "down", "department": "mechanical", "title": {"text": "Take down"}, "planned_minutes": 60, "equipment": "lift", "opens": "suspension-down"},
        {"step": "up", "department": "mechanical", "title": {"text": "Put up"}, "planned_minutes": 90, "after": [{"step": "down"}], "closes": "suspension-down"}]}}}));
    for (number, person) in people.iter().enumerate() {
        let department = ["body", "mechanical", "refinish"][number % 3];
        let also = if number % 2 == 1 { vec!["body"] } else { vec!["mechanical"] };
        let role = if number == 0 {
            "admin"
        } else if number == 1 {
            "planner"
        } else {
            "technician"
        };
        acts.push(
            json!({"kind": "set_person", "args": {"person": {"id": person, "name": format!("Person {number}"),
            "department": department, "also": also, "role": role}}}),
        );
    }
    let mut acts: Vec<Act> =
        acts.into_iter().map(|act| serde_json::from_value(act).expect("an act of this version")).collect();
    for number in 0..1 + dice.below(2) {
        let order = json!({"kind": "open_order", "args": {"number": format!("S{number}"), "vehicle": "grey wagon",
            "stage": "authorised", "place": "yard"}});
        acts.push(serde_json::from_value(order).expect("an act of this version"));
    }
    acts
}

/// Ids of one kind of document that this phone shows: what it has, and what it made and has not sent.
fn seen(db: &Database, kind: &str, made_by: &[&str]) -> Vec<String> {
    let mut ids: Vec<String> = db
        .docs
        .range(format!("{kind}/")..format!("{kind}0"))
        .map(|(key, _)| key[kind.len() + 1..].to_owned())
        .collect();
    let made = db.outbox.values().filter(|row| row.op["kind"].as_str().is_some_and(|k| made_by.contains(&k)));
    ids.extend(made.map(|row| row.id.0.to_string()));
    ids
}

/// The next thing somebody does, as an operation without its number. None: there is nothing to do it on.
pub fn next(db: &Database, device_at: Ms, dice: &mut Dice) -> Option<(OpId, Value)> {
    let me = db.who().person;
    let id = OpId(dice.uuid());
    let orders = seen(db, "order", &["open_order"]);
    let cards = seen(db, "card", &["add_card"]);
    let order = dice.pick(&orders).cloned();
    // Often one of the first, so that people meet.
    let few = if dice.chance(600) { cards.len().min(4) } else { cards.len() };
    let card = dice.pick(&cards[..few]).cloned();
    let doc = card.as_ref().and_then(|card| db.docs.get(&format!("card/{card}")));
    let field = |name: &str| doc.and_then(|doc| doc.body.get(name)).cloned().unwrap_or(Value::Null);
    let holder = field("taken_by");
    let mut expect: Vec<Value> = Vec::new();
    let mut holder_as_seen = |dice: &mut Dice| {
        if dice.chance(700) {
            expect.push(json!({"that": "holder", "card": card, "person": holder}));
        }
    };
    let (kind, args) = match dice.below(100) {
        0..16 => {
            holder_as_seen(dice);
            ("take", json!({"card": card.as_ref()?}))
        }
        16..30 => ("start", json!({"card": card.as_ref()?})),
        30..37 => ("pause", json!({"card": card.as_ref()?, "why": "break"})),
        37..46 => ("finish", json!({"card": card.as_ref()?})),
        46..58 => ("note", json!({"order": order?, "body": format!("seam cleaned {}", dice.below(1_000))})),
        58..61 => ("found", json!({"order": order?, "what": "seized", "note": "bolt broke"})),
        61..65 => {
            let to = *dice.pick(&["yard", "bay-1", "on-lift-1"])?;
            ("move", json!({"order": order?, "to": to}))
        }
        65..68 => ("condition", json!({"order": order?, "change": {"rolls": dice.chance(500)}})),
        68..71 => {
            let sha256 = format!("{:016x}", dice.word()).repeat(4);
            (
                "photo",
                json!({"order": order?, "sha256": sha256, "mime": "image/jpeg", "bytes": 9_000, "taken_at": device_at}),
            )
        }
        71..80 => {
            let department = *dice.pick(&["body", "mechanical"])?;
            (
                "add_card",
                json!({"order": order?, "department": department, "title": {"text": "Repair panel"},
                "planned_minutes": 30, "beside": dice.chance(500)}),
            )
        }
        80..84 => ("ask", json!({"order": order?, "routing": "down", "from": "body"})),
        84..87 => {
            if dice.chance(700) {
                expect.push(json!({"that": "holder", "card": card, "person": me}));
            }
            ("give_back", json!({"card": card.as_ref()?}))
        }
        87..91 => {
            // Said of what the planner saw: somebody may have taken it since.
            expect.push(json!({"that": "holder", "card": card, "person": holder}));
            let people = seen(db, "person", &[]);
            ("assign", json!({"card": card.as_ref()?, "to": dice.pick(&people)?}))
        }
        91..93 => ("hold", json!({"order": order?, "what": "parts", "cards": [card.as_ref()?]})),
        93..95 => {
            expect.push(json!({"that": "life", "card": card, "life": field("life")}));
            ("cancel_card", json!({"card": card.as_ref()?}))
        }
        95..97 => {
            let number = format!("N{}", dice.below(40));
            ("open_order", json!({"number": number, "vehicle": "green hatchback", "stage": "authorised"}))
        }
        97..98 => ("help", json!({"card": card.as_ref()?})),
        98..99 => ("undo", json!({"op": field("last_act").as_str()?, "card": card.as_ref()?})),
        // From an app newer than the server.
        _ if dice.chance(500) => ("hum", json!({"tune": "slow"})),
        _ => ("note", json!({"order": order?, "body": "said in another way"})),
    };
    let newer = args.get("body").is_some_and(|body| body == "said in another way");
    let mut op = json!({"v": if newer { 2 } else { 1 }, "kind": kind, "args": args, "device_at": device_at});
    if !expect.is_empty() {
        op["expect"] = expect.into();
    }
    Some((id, op))
}
