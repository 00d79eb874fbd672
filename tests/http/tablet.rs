//! A tablet that several people share: a PIN changes between those who are signed in on it, and opens
//! nothing from elsewhere.

use domain::MINUTE;
use domain::ids::{NoteId, PersonId};
use domain::stored::Role;
use serde_json::{Value, json};
use ureq::Agent;
use uuid::Uuid;

use crate::support::{Shop, User, agent};

struct Tablet {
    shop: Shop,
    agent: Agent,
    browser: Uuid,
}

impl Tablet {
    fn new() -> Self {
        Self { shop: Shop::start(), agent: agent(), browser: Uuid::new_v4() }
    }

    /// Comes in by an own link on this tablet and chooses a PIN.
    fn add(&self, name: &str, pin: &str) -> User {
        let id = self.shop.user(name, "mechanical", Role::Technician).id;
        let user = self.shop.sign_in_on(id, Some(self.browser), self.agent.clone());
        assert_eq!(user.post("/api/v1/auth/pin", json!({"pin": pin})).0, 204);
        user
    }

    fn switch(&self, to: PersonId, pin: &str) -> (u16, Value) {
        self.ask("switch", json!({"person": to, "pin": pin}))
    }

    fn ask(&self, what: &str, body: Value) -> (u16, Value) {
        let url = format!("{}/api/v1/auth/{what}", self.shop.base);
        let mut answer = self.agent.post(url).send_json(body).unwrap();
        (answer.status().as_u16(), answer.body_mut().read_json().unwrap_or(Value::Null))
    }

    fn here(&self) -> Value {
        let url = format!("{}/api/v1/auth/me", self.shop.base);
        self.agent.get(url).call().unwrap().body_mut().read_json().unwrap()
    }
}

#[test]
fn a_pin_changes_between_people_of_one_browser() {
    let tablet = Tablet::new();
    let marta = tablet.add("Marta Okafor", "4711");
    let teo = tablet.add("Teo Salgado", "081500");
    assert_eq!(tablet.here()["person"], teo.id.to_string());
    let faces = teo.get("/api/v1/auth/faces").1;
    let named = |name: &str| {
        faces["people"].as_array().unwrap().iter().any(|f| f["name"] == name && f["has_pin"] == true)
    };
    assert!(named("Marta Okafor") && named("Teo Salgado"), "{faces}");

    let (status, signed_in) =
        tablet.ask("switch", json!({"person": marta.id, "pin": "4711", "client": marta.client}));
    assert_eq!(status, 200, "{signed_in}");
    assert_eq!((&signed_in["session"], &signed_in["client"]), (&json!(marta.session), &json!(marta.client)));
    assert_eq!(tablet.here()["person"], marta.id.to_string());
    // What comes back is a whole sign-in: it can be refreshed, and changed from again.
    let refreshed =
        tablet.agent.post(format!("{}/api/v1/auth/refresh", tablet.shop.base)).send_empty().unwrap();
    assert_eq!(refreshed.status().as_u16(), 200);
    assert_eq!(tablet.switch(teo.id, "081500").0, 200);
    assert_eq!(tablet.here()["person"], teo.id.to_string());
}

#[test]
fn whoever_is_there_delivers_for_all_and_each_counts_as_oneself() {
    let tablet = Tablet::new();
    let mut planner = tablet.shop.user("Greta Amsel", "office", Role::Planner);
    let order =
        planner.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let mut marta = tablet.add("Marta Okafor", "4711");
    let teo = tablet.add("Teo Salgado", "0815");
    // Teo's cookies, Marta's client and session.
    let op = marta.op("note", json!({"order": order, "body": "upper bolt seized"}));
    let (status, body) = teo.post(
        "/api/v1/sync/push",
        json!({"epoch": marta.epoch, "client": marta.client, "device_now": marta.clock.now(), "ops": [op]}),
    );
    assert_eq!(status, 200, "{body}");
    let note = NoteId(op["id"].as_str().unwrap().parse().unwrap());
    assert_eq!(tablet.shop.opened.view().state.notes[&note].by, marta.id);
}

#[test]
fn a_pin_opens_nothing_from_elsewhere() {
    let tablet = Tablet::new();
    let marta = tablet.add("Marta Okafor", "4711");
    // Another tablet of the same shop, with somebody signed in; and a browser with nobody.
    let other = Tablet { agent: agent(), browser: Uuid::new_v4(), shop: tablet.shop };
    let lou = other.shop.user("Lou Brandt", "mechanical", Role::Technician).id;
    assert_eq!(other.switch(marta.id, "4711").0, 401);
    other.shop.sign_in_on(lou, Some(other.browser), other.agent.clone());
    assert_eq!(other.switch(marta.id, "4711").1["code"], "signed_out");
    // A browser that was never met shares nothing.
    let alone = Tablet { agent: agent(), browser: Uuid::new_v4(), shop: other.shop };
    let user = alone.shop.sign_in_on(lou, None, alone.agent.clone());
    assert_eq!(alone.switch(marta.id, "4711").0, 401);
    assert_eq!(user.get("/api/v1/auth/faces").1["people"].as_array().map(Vec::len), Some(1));
}

#[test]
fn ten_wrong_pins_close_that_face_on_that_tablet() {
    let tablet = Tablet::new();
    let marta = tablet.add("Marta Okafor", "4711");
    let teo = tablet.add("Teo Salgado", "0815");
    for guess in 0..9 {
        assert_eq!(tablet.switch(marta.id, &format!("{guess:04}")).1["code"], "wrong_pin");
    }
    assert_eq!(tablet.switch(marta.id, "4711").0, 200, "the right one begins the count anew");
    for guess in 0..10 {
        assert_eq!(tablet.switch(marta.id, &format!("{guess:04}")).1["code"], "wrong_pin");
    }
    assert_eq!(tablet.switch(marta.id, "4711").1["code"], "signed_out");
    tablet.shop.clock.advance(16 * MINUTE);
    assert_eq!(tablet.switch(marta.id, "4711").1["code"], "signed_out", "until a link");
    assert_eq!(tablet.switch(teo.id, "0815").0, 200, "others are not kept out");
    tablet.shop.sign_in_on(marta.id, Some(tablet.browser), tablet.agent.clone());
    assert_eq!(tablet.switch(teo.id, "0815").0, 200);
    assert_eq!(tablet.switch(marta.id, "4711").0, 200);
}

#[test]
fn a_pin_is_changed_by_whoever_knows_it_or_has_just_come_in() {
    let tablet = Tablet::new();
    let marta = tablet.add("Marta Okafor", "4711");
    for short in ["123", "123456789", "12a4", ""] {
        let (status, body) = marta.post("/api/v1/auth/pin", json!({"pin": short}));
        assert_eq!((status, &body["code"]), (422, &json!("pin_digits")), "{short}");
    }
    assert_eq!(marta.post("/api/v1/auth/pin", json!({"pin": "5000"})).0, 204, "she has just come in");
    tablet.shop.clock.advance(11 * MINUTE);
    assert_eq!(marta.post("/api/v1/auth/pin", json!({"pin": "6000"})).1["code"], "wrong_pin");
    assert_eq!(
        marta.post("/api/v1/auth/pin", json!({"pin": "6000", "current": "4711"})).1["code"],
        "wrong_pin"
    );
    assert_eq!(marta.post("/api/v1/auth/pin", json!({"pin": "6000", "current": "5000"})).0, 204);
    assert_eq!(tablet.switch(marta.id, "6000").0, 200);
}

#[test]
fn who_leaves_does_not_lock_the_others_out_and_does_not_come_back() {
    let tablet = Tablet::new();
    let marta = tablet.add("Marta Okafor", "4711");
    let teo = tablet.add("Teo Salgado", "0815");
    // Teo's sign-in ends while the tablet is his.
    assert_eq!(teo.delete(&format!("/api/v1/auth/devices/{}", teo.session)).0, 204);
    assert_eq!(teo.get("/api/v1/auth/me").0, 401);
    assert_eq!(tablet.switch(marta.id, "4711").0, 200);
    assert_eq!(tablet.switch(teo.id, "0815").1["code"], "signed_out");
    assert_eq!(tablet.here()["person"], marta.id.to_string());
}
