//! A thousand requests of each kind of caller, made from the API's own document: whatever they ask, nothing above
//! their role answers, and nothing above it changes (ASVS 5.0, 8.2.1, 8.2.2 and 8.3.1). What a role may is written
//! down here by hand, from the shop's table of roles, and not read from the code.

use std::collections::BTreeMap;
use std::time::Duration;

use domain::ids::PersonId;
use domain::stored::Role;
use serde_json::{Value, json};
use ureq::Agent;
use uuid::Uuid;

use crate::support::{Shop, User};

const REQUESTS: usize = 1_000;

/// Always the same numbers, so that what failed fails again.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        // Knuth's multiplicative congruential generator of the MMIX machine.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 33
    }

    fn below(&mut self, most: usize) -> usize {
        self.next() as usize % most.max(1)
    }

    fn of<'a, T>(&mut self, some: &'a [T]) -> &'a T {
        &some[self.below(some.len())]
    }
}

/// Makes what the document describes, of ids that are there wherever one fits.
struct Maker<'a> {
    document: &'a Value,
    ids: &'a [String],
    dice: Dice,
}

impl Maker<'_> {
    fn value(&mut self, schema: &Value, depth: usize) -> Value {
        if let Some(name) = schema["$ref"].as_str() {
            let schema = self.document.pointer(&name[1..]).cloned().unwrap_or_default();
            return self.value(&schema, depth + 1);
        }
        for word in ["oneOf", "anyOf"] {
            if let Some(ways) = schema[word].as_array() {
                let way = self.dice.of(ways).clone();
                return self.value(&way, depth + 1);
            }
        }
        if let Some(parts) = schema["allOf"].as_array() {
            let mut whole = serde_json::Map::new();
            for part in parts {
                if let Value::Object(made) = self.value(part, depth + 1) {
                    whole.extend(made);
                }
            }
            return Value::Object(whole);
        }
        if let Some(words) = schema["enum"].as_array() {
            return self.dice.of(words).clone();
        }
        let kind = match &schema["type"] {
            Value::Array(kinds) => self.dice.of(kinds).clone(),
            kind => kind.clone(),
        };
        match kind.as_str().unwrap_or("null") {
            "object" => {
                let must: Vec<&str> =
                    schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
                let fields = schema["properties"].as_object().cloned().unwrap_or_default();
                let mut made = serde_json::Map::new();
                for (name, of) in &fields {
                    if must.contains(&name.as_str()) || (depth < 8 && self.dice.below(2) == 0) {
                        made.insert(name.clone(), self.value(of, depth + 1));
                    }
                }
                Value::Object(made)
            }
            "array" if depth < 8 => {
                (0..self.dice.below(3)).map(|_| self.value(&schema["items"], depth + 1)).collect()
            }
            "array" => json!([]),
            "string" if schema["format"] == "uuid" => json!(self.dice.of(self.ids)),
            "string" => {
                let words = [
                    "body",
                    "paint",
                    "Mara Lindqvist",
                    "4711",
                    "anvil lantern quorum",
                    "day",
                    "x",
                    "../x",
                    "",
                ];
                if self.dice.below(3) == 0 {
                    json!(self.dice.of(self.ids))
                } else {
                    json!(self.dice.of(&words))
                }
            }
            "integer" => json!(self.dice.of(&[0_i64, 1, 7, 90, 1_780_000_000_000])),
            "number" => json!(0.5),
            "boolean" => json!(self.dice.below(2) == 0),
            _ => Value::Null,
        }
    }
}

/// Who asks.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Caller {
    Removed,
    Wall,
    Is(Role),
}

/// The least who gets an answer there, of what is not for everybody who is signed in; and whether one's own is anybody's.
const ABOVE: [(&str, &str, Role, bool); 16] = [
    ("post", "/api/v1/auth/display", Role::Manager, false),
    ("post", "/api/v1/auth/invite", Role::Manager, false),
    ("post", "/api/v1/auth/set_password", Role::Planner, false),
    ("post", "/api/v1/auth/passkeys/begin", Role::Planner, false),
    ("post", "/api/v1/auth/passkeys", Role::Planner, false),
    ("delete", "/api/v1/auth/devices/{session}", Role::Manager, true),
    ("get", "/api/v1/people/{id}/contact", Role::Manager, true),
    ("put", "/api/v1/people/{id}/contact", Role::Manager, true),
    ("get", "/api/v1/people/{id}/kin", Role::Manager, true),
    ("delete", "/api/v1/people/{id}/kin/{shop}", Role::Manager, true),
    ("get", "/api/v1/sisters", Role::Admin, false),
    ("post", "/api/v1/sisters", Role::Admin, false),
    ("delete", "/api/v1/sisters/{id}", Role::Admin, false),
    ("get", "/api/v1/security", Role::Admin, false),
    ("get", "/api/v1/jam", Role::Planner, false),
    ("post", "/api/v1/import/orders", Role::Planner, false),
];

/// For everybody, signed in or not; those that let somebody in need a secret that nobody here has.
const OPEN: [(&str, &str); 3] = [("get", "/healthz"), ("get", "/readyz"), ("get", "/trust.txt")];
/// What a screen on the wall asks.
const WALL: [&str; 5] =
    ["/api/v1/auth/me", "/api/v1/sync/open", "/api/v1/sync/pull", "/api/v1/live", "/api/v1/forecast"];

fn may(caller: Caller, method: &str, path: &str, own: bool) -> bool {
    if OPEN.contains(&(method, path)) {
        return true;
    }
    match caller {
        Caller::Removed => false,
        Caller::Wall => method == "get" && WALL.contains(&path) || path == "/api/v1/auth/refresh",
        Caller::Is(role) => {
            let least = ABOVE.iter().find(|(m, p, ..)| (*m, *p) == (method, path));
            least.is_none_or(|(_, _, least, for_own)| role >= *least || (*for_own && own))
        }
    }
}

/// Acts of planners and of managers (README and deploy/security/who-may.md); whatever else there is, anybody does.
const OF_PLANNERS: [&str; 14] = [
    "assign",
    "open_order",
    "edit_order",
    "promise",
    "edit_card",
    "cancel_card",
    "link",
    "unlink",
    "put_first",
    "put_back",
    "answer",
    "equipment_back",
    "photo_here",
    "remind",
];

fn least_for(kind: &str) -> Role {
    match kind {
        _ if kind.starts_with("set_") => Role::Manager,
        _ if OF_PLANNERS.contains(&kind) => Role::Planner,
        _ => Role::Technician,
    }
}

/// Everything that only somebody above changes: what the shop is set up as, and who comes in by what.
fn above(shop: &Shop, watcher: &User, caller: Caller, person: PersonId) -> BTreeMap<String, Value> {
    let mut kept = BTreeMap::new();
    let set_up = ["shop/", "person/", "department/", "equipment/", "place/", "calendar/", "routing/"];
    let docs = watcher.get("/api/v1/sync/pull?after=0").1["docs"].as_array().unwrap().clone();
    for doc in docs {
        let key = doc["key"].as_str().unwrap();
        if caller < Caller::Is(Role::Manager) && set_up.iter().any(|start| key.starts_with(start)) {
            kept.insert(key.to_owned(), doc["body"].clone());
        }
        if caller < Caller::Is(Role::Technician) {
            kept.insert(key.to_owned(), doc["body"].clone());
        }
    }
    assert!(
        caller >= Caller::Is(Role::Manager) || kept.len() > 10,
        "there is something to keep: {}",
        kept.len()
    );
    let roles = shop.opened.view();
    let over = |other: &PersonId| {
        let theirs = roles.state.people.get(other).map_or(Role::Technician, |p| p.role);
        *other != person
            && match caller {
                Caller::Is(role) if role >= Role::Manager => role != Role::Admin && theirs >= role,
                _ => true,
            }
    };
    let access = shop.opened.control.read();
    let of = |what: &str, id: &PersonId| format!("{what} of {}", id.0);
    for (id, contact) in access.contacts.iter().filter(|(id, _)| over(id)) {
        kept.insert(of("contact", id), json!(contact));
    }
    for (id, phc) in access.passwords.iter().chain(&access.pins).filter(|(id, _)| over(id)) {
        kept.insert(of(&phc[..20], id), json!(phc));
    }
    for (id, session) in
        access.sessions.iter().filter(|(_, s)| over(&s.person) && caller < Caller::Is(Role::Manager))
    {
        kept.insert(format!("sign-in {}", id.0), json!([session.person, session.ended, session.revoked]));
    }
    for (token, link) in access.invitations.iter().filter(|(_, link)| over(&link.person)) {
        kept.insert(format!("link {token}"), json!([link.person, link.used]));
    }
    if caller < Caller::Is(Role::Admin) {
        kept.insert("sisters".into(), json!(access.sisters));
    }
    kept
}

fn asked(agent: &Agent, base: &str, method: &str, path: &str, body: Option<&Value>) -> u16 {
    let request =
        ureq::http::Request::builder().method(method.to_uppercase().as_str()).uri(format!("{base}{path}"));
    let request = request.header("Tus-Resumable", "1.0.0");
    let answer = match body {
        Some(body) => {
            let json = request.header("Content-Type", "application/json").body(body.to_string()).unwrap();
            agent.run(json)
        }
        None => agent.run(request.body(()).unwrap()),
    };
    // Not what it says: the channel of what happens now has no end.
    answer.map_or(0, |answer| answer.status().as_u16())
}

fn plays(caller: Caller) {
    let role = if let Caller::Is(role) = caller { role } else { Role::Technician };
    plays_as(caller, role);
}

/// Somebody of a role, judged as a caller.
fn plays_as(caller: Caller, role: Role) {
    let shop = Shop::start();
    let mut admin = shop.user("Mara Lindqvist", "assembly", Role::Admin);
    // Not among those whom the requests name.
    let watcher = shop.user("Ada Brandt", "office", Role::Admin);
    let colleague = shop.user("Ines Duarte", "body", Role::Manager);
    let mut user = shop.user("Teo Salgado", "body", role);
    let anybody = Agent::config_builder()
        .http_status_as_error(false)
        .allow_non_standard_methods(true)
        .timeout_global(Some(Duration::from_secs(20)))
        .build();
    let anybody: Agent = anybody.into();
    match caller {
        Caller::Wall => {
            let link = admin.post("/api/v1/auth/display", json!({})).1;
            let url = format!("{}/api/v1/auth/join", shop.base);
            let mut joined = anybody.post(&url).send_json(json!({"token": link["token"]})).unwrap();
            let me: Value = joined.body_mut().read_json().unwrap();
            assert_eq!(me["display"], true);
            (user.agent, user.client, user.session) =
                (anybody, me["client"].as_str().unwrap().into(), me["session"].as_str().unwrap().into());
        }
        _ => user = shop.sign_in_on(user.id, None, anybody),
    }
    let order = admin.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let card = |title: &str| json!({"order": order, "department": "body", "title": {"text": title}, "planned_minutes": 60});
    let cards: Vec<String> = ["One", "Two", "Three"].map(|title| admin.done("add_card", card(title))).into();
    assert_eq!(admin.post("/api/v1/auth/set_password", json!({"password": "gravel piano umbrella"})).0, 204);
    assert_eq!(colleague.post("/api/v1/auth/pin", json!({"pin": "8264"})).0, 204);
    let contact = json!({"email": "mara@shop.example", "mail": true});
    assert_eq!(admin.put(&format!("/api/v1/people/{}/contact", admin.id.0), contact).0, 200);
    if caller == Caller::Removed {
        let person = json!({"id": user.id, "name": "Teo Salgado", "department": "body", "role": "technician", "retired": true});
        admin.done("set_person", json!({"person": person}));
    }
    let own = [user.id.0.to_string(), user.session.clone()];
    let mut ids = vec![order, admin.id.0.to_string(), admin.session.clone(), colleague.id.0.to_string()];
    ids.extend([colleague.session.clone(), Uuid::from_u128(9).to_string()]);
    ids.extend(own.iter().chain(&cards).cloned());

    let document: Value = serde_json::from_str(include_str!("../openapi.json")).unwrap();
    let mut routes = Vec::new();
    for (path, methods) in document["paths"].as_object().unwrap() {
        for (method, about) in methods.as_object().unwrap() {
            // To go out of one's own will is everybody's right, and would end the play.
            if path != "/api/v1/auth/sign_out" {
                routes.push((method.as_str(), path.as_str(), about));
            }
        }
    }
    for (method, path, ..) in ABOVE {
        assert!(
            routes.iter().any(|(m, p, _)| (*m, *p) == (method, path)),
            "{method} {path} is in the document"
        );
    }
    let before = above(&shop, &watcher, caller, user.id);
    let mut maker = Maker { document: &document, ids: &ids, dice: Dice(7 + caller_number(caller)) };
    let acts = document["components"]["schemas"]["Act"]["oneOf"].as_array().unwrap();
    let (mut answered, mut applied, mut n) = (0, 0, 0);
    for request in 0..REQUESTS {
        // Every second one is an act: one endpoint takes them all.
        if request % 2 == 0 {
            let mut act = maker.value(&acts[request / 2 % acts.len()], 0);
            let kind = act["kind"].as_str().unwrap().to_owned();
            let op = act.as_object_mut().unwrap();
            let session = if request % 10 == 0 { maker.dice.of(&ids).clone() } else { user.session.clone() };
            for (name, value) in [
                ("n", json!(n + 1)),
                ("id", json!(Uuid::new_v4())),
                ("session", json!(session)),
                ("device_at", json!(shop.clock.now())),
                ("seen", json!(0)),
            ] {
                op.insert(name.into(), value);
            }
            let (status, body) = user.push(vec![act.clone()]);
            if status == 200 {
                assert!(caller >= Caller::Is(Role::Technician), "{caller:?}: {act}");
                n += 1;
                let verdict = &body["results"][0]["verdict"];
                assert!(
                    *verdict != "applied" || caller >= Caller::Is(least_for(&kind)),
                    "{caller:?} did {kind}: {act} {body}"
                );
                applied += usize::from(*verdict == "applied");
            }
            continue;
        }
        let (method, path, about) = routes[request / 2 % routes.len()];
        let (mut filled, mut is_own) = (path.to_owned(), false);
        while let Some((start, rest)) = filled.clone().split_once('{') {
            let id = maker.dice.of(&ids).clone();
            // The first part says whose it is.
            is_own |= own.contains(&id) && !start.contains("/kin/");
            filled = format!("{start}{id}{}", rest.split_once('}').unwrap().1);
        }
        let ends_itself = method == "delete" && filled.ends_with(&user.session);
        if ends_itself || (caller == Caller::Is(Role::Admin) && filled.contains(&admin.session)) {
            continue;
        }
        let schema = &about["requestBody"]["content"]["application/json"]["schema"];
        let body = schema.is_object().then(|| maker.value(schema, 0));
        let status = asked(&user.agent, &shop.base, method, &filled, body.as_ref());
        if (200..300).contains(&status) {
            answered += 1;
            assert!(
                may(caller, method, path, is_own),
                "{caller:?}: {method} {filled} {body:?} answered {status}"
            );
        }
    }
    let after = above(&shop, &watcher, caller, user.id);
    let gone: Vec<_> = before.iter().filter(|(key, value)| after.get(*key) != Some(value)).collect();
    let new: Vec<_> = after.keys().filter(|key| !before.contains_key(*key)).collect();
    assert!(gone.is_empty() && new.is_empty(), "{caller:?} changed {gone:?} and made {new:?}");
    // It was no wall that all of it ran into.
    if let Caller::Is(_) = caller {
        assert!(answered > 100 && applied > 10, "{caller:?}: {answered} answered, {applied} applied");
    }
}

fn caller_number(caller: Caller) -> u64 {
    match caller {
        Caller::Removed => 0,
        Caller::Wall => 1,
        Caller::Is(role) => 2 + role as u64,
    }
}

#[test]
fn of_a_thousand_requests_a_technician_gets_nothing_above() {
    plays(Caller::Is(Role::Technician));
}

/// Whoever may more than they should is found.
#[test]
#[should_panic(expected = "Is(Technician)")]
fn a_manager_who_is_taken_for_a_technician_is_seen() {
    plays_as(Caller::Is(Role::Technician), Role::Manager);
}

#[test]
fn of_a_thousand_requests_the_parts_desk_gets_nothing_above() {
    plays(Caller::Is(Role::Parts));
}

#[test]
fn of_a_thousand_requests_a_planner_gets_nothing_above() {
    plays(Caller::Is(Role::Planner));
}

#[test]
fn of_a_thousand_requests_a_manager_gets_nothing_above() {
    plays(Caller::Is(Role::Manager));
}

#[test]
fn of_a_thousand_requests_a_screen_on_the_wall_only_shows() {
    plays(Caller::Wall);
}

#[test]
fn of_a_thousand_requests_who_was_removed_gets_none_answered() {
    plays(Caller::Removed);
}
