//! A shared browser sends everybody's work. Whoever holds it can put anything into another's outbox, so what another
//! person's sign-in brings counts as a technician's, and what is above waits for its own person
//! (ASVS 5.0, 8.2.1 and 8.3.1: what one may do is decided by the server, for whoever asks).

use domain::MINUTE;
use domain::ids::PersonId;
use domain::stored::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::support::{Shop, User, agent};

struct Tablet {
    shop: Shop,
    browser: Uuid,
}

impl Tablet {
    fn new() -> Self {
        Self { shop: Shop::start(), browser: Uuid::new_v4() }
    }

    fn add(&self, name: &str, role: Role) -> User {
        let id = self.shop.user(name, "body", role).id;
        self.again(id)
    }

    fn again(&self, id: PersonId) -> User {
        self.shop.sign_in_on(id, Some(self.browser), agent())
    }
}

/// Brings operations of `of` under the cookies of `by`, as an app that knows `held`, or one that does not.
fn brings(by: &User, of: &User, ops: Vec<Value>, knows_held: Option<bool>) -> (u16, Value) {
    let mut body = json!({"epoch": of.epoch, "client": of.client, "device_now": of.clock.now(), "ops": ops});
    if let Some(knows) = knows_held {
        body["knows_held"] = json!(knows);
    }
    by.post("/api/v1/sync/push", body)
}

fn promoted(shop: &Shop, who: &User) -> Value {
    let mut person = shop.doc(&format!("person/{}", who.id));
    person["role"] = json!("admin");
    json!({"person": person})
}

fn role(shop: &Shop, who: &User) -> Role {
    shop.opened.view().state.people[&who.id].role
}

#[test]
fn a_technician_does_not_become_administrator_by_anothers_ids() {
    let tablet = Tablet::new();
    let mut admin = tablet.add("Ivo Marsh", Role::Admin);
    let teo = tablet.add("Teo Salgado", Role::Technician);
    let forged = admin.op("set_person", promoted(&tablet.shop, &teo));
    let (status, said) = brings(&teo, &admin, vec![forged.clone()], Some(true));
    assert_eq!((status, &said["results"]), (200, &json!([])), "{said}");
    assert_eq!(said["held"], json!({"client": admin.client, "from_n": 1}));
    // The administrator has left, and it says it is from a minute before.
    assert_eq!(admin.post("/api/v1/auth/sign_out", json!({})).0, 204);
    let mut earlier = forged.clone();
    earlier["device_at"] = json!(tablet.shop.clock.now() - MINUTE);
    let (status, said) = brings(&teo, &admin, vec![earlier], Some(true));
    assert_eq!((status, &said["held"]["from_n"]), (200, &json!(1)), "{said}");
    assert_eq!(role(&tablet.shop, &teo), Role::Technician);
    // One's own cookies with somebody else's sign-in in the operation.
    let mut own = tablet.again(teo.id);
    let mut named = own.op("set_person", promoted(&tablet.shop, &teo));
    named["session"] = json!(admin.session);
    let (_, said) = own.push(vec![named]);
    assert_eq!(said["results"][0]["verdict"], "refused", "{said}");
    assert_eq!(role(&tablet.shop, &teo), Role::Technician);
}

#[test]
fn what_waits_is_sent_when_its_person_is_there_and_others_go_on() {
    let tablet = Tablet::new();
    let mut planner = tablet.add("Greta Amsel", Role::Planner);
    let mut teo = tablet.add("Teo Salgado", Role::Technician);
    let order =
        planner.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    // An evening without a network: a planner writes and promises, a technician writes.
    let said = planner.op("note", json!({"order": order, "body": "customer called"}));
    let due = tablet.shop.clock.now() + 3 * 24 * 60 * MINUTE;
    let promised = planner.op("promise", json!({"order": order, "due": due}));
    let after = planner.op("note", json!({"order": order, "body": "told the insurer"}));
    let teos = teo.op("note", json!({"order": order, "body": "bolt seized"}));
    let all = vec![said, promised, after];
    let (status, answer) = brings(&teo, &planner, all.clone(), Some(true));
    assert_eq!((status, answer["results"].as_array().map(Vec::len)), (200, Some(1)), "{answer}");
    assert_eq!(answer["held"], json!({"client": planner.client, "from_n": 3}), "nothing overtakes it");
    assert_eq!(teo.push(vec![teos]).1["results"][0]["verdict"], "applied");
    // An app that does not know `held`: a word it knows already, by which it keeps everything and goes on.
    for knows in [None, Some(false)] {
        let (status, answer) = brings(&teo, &planner, all[1..].to_vec(), knows);
        assert_eq!((status, &answer["code"]), (403, &json!("client_unknown")), "{answer}");
    }
    let (status, answer) = brings(&teo, &planner, all.clone(), None);
    assert_eq!((status, &answer["held"]), (200, &Value::Null), "what has a verdict is answered");
    // Unlocked: the very same operations.
    let (status, answer) = planner.push(all);
    assert_eq!(status, 200, "{answer}");
    for result in answer["results"].as_array().unwrap() {
        assert_eq!(result["verdict"], "applied", "{answer}");
    }
    assert_eq!(tablet.shop.doc(&format!("order/{order}"))["promise"], json!(due));
}

#[test]
fn people_of_parts_count_as_technicians_too() {
    let tablet = Tablet::new();
    let mut parts = tablet.add("Pia Lund", Role::Parts);
    let mut planner = tablet.shop.user("Greta Amsel", "office", Role::Planner);
    let teo = tablet.add("Teo Salgado", Role::Technician);
    let order =
        planner.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let note = parts.op("note", json!({"order": order, "body": "mirror came"}));
    let (status, said) = brings(&teo, &parts, vec![note], Some(true));
    assert_eq!((status, &said["results"][0]["verdict"]), (200, &json!("applied")), "{said}");
}

#[test]
fn what_was_done_before_a_sign_in_ended_goes_out_whole_unless_it_was_taken_away() {
    let tablet = Tablet::new();
    let mut boss = tablet.shop.user("Ivo Marsh", "body", Role::Admin);
    let mut planner = tablet.add("Greta Amsel", Role::Planner);
    let order =
        planner.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let evening = |planner: &mut User, day: i64| {
        let due = tablet.shop.clock.now() + day * 24 * 60 * MINUTE;
        let seen = tablet.shop.doc(&format!("order/{order}"))["promise"].clone();
        let mut promise = planner.op("promise", json!({"order": order, "due": due}));
        promise["expect"] = json!([{"promise": {"order": order, "due": seen}}]);
        if seen.is_null() {
            promise.as_object_mut().unwrap().remove("expect");
        }
        vec![promise, planner.op("note", json!({"order": order, "body": format!("day {day}")}))]
    };
    let verdicts = |said: &Value| -> Vec<String> {
        let all = said["results"].as_array().unwrap_or_else(|| panic!("{said}"));
        all.iter().map(|one| one["verdict"].as_str().unwrap().to_owned()).collect()
    };
    let back = |planner: &User| {
        let mut again = tablet.again(planner.id);
        assert_eq!(again.post("/api/v1/auth/client", json!({"client": planner.client})).0, 200);
        (again.client, again.n) = (planner.client.clone(), planner.n);
        again
    };
    // Signed out: all of it counts at the next sign-in there.
    let waiting = evening(&mut planner, 3);
    assert_eq!(planner.post("/api/v1/auth/sign_out", json!({})).0, 204);
    let mut planner = back(&planner);
    assert_eq!(verdicts(&planner.push(waiting).1), ["applied", "applied"]);
    // Ended by a manager, because the tablet was lost: what happened stands, what was wished for is asked again.
    tablet.shop.clock.advance(MINUTE);
    let waiting = evening(&mut planner, 4);
    tablet.shop.clock.advance(MINUTE);
    assert_eq!(boss.delete(&format!("/api/v1/auth/devices/{}", planner.session)).0, 204);
    let planner = back(&planner);
    assert_eq!(verdicts(&planner.push(waiting).1), ["refused", "applied"]);
    boss.done("note", json!({"order": order, "body": "the others go on"}));
}
