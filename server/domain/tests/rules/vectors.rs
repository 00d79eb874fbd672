//! Stored formats and shared cases. `UPDATE_VECTORS=1 cargo test -p domain --test rules vectors` writes
//! what is missing; it never touches `events/v1`, which every release must read as it is.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use domain::decide::{Context, decide};
use domain::ids::*;
use domain::stored::*;
use domain::{Ms, fold, text};
use serde_json::{Value, json};

use crate::support::*;

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/vectors").join(name)
}

fn read(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()))
}

fn all_in(name: &str) -> Vec<(String, Value)> {
    let files = std::fs::read_dir(folder(name)).expect("the folder of the vectors");
    let mut files: Vec<PathBuf> = files.map(|file| file.expect("a file").path()).collect();
    files.retain(|path| path.extension().is_some_and(|end| end == "json"));
    files.sort();
    files.iter().map(|path| (path.file_stem().unwrap().to_string_lossy().into_owned(), read(path))).collect()
}

fn updating() -> bool {
    std::env::var("UPDATE_VECTORS").is_ok_and(|on| on == "1")
}

// The core itself touches no file; its tests keep vectors in files.
#[allow(clippy::disallowed_methods)]
fn write(path: &Path, value: &Value) {
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
    let text = serde_json::to_string_pretty(value).expect("JSON") + "\n";
    std::fs::write(path, text).expect("written");
}

/// Whether everything in `part` is in `whole` as it is: a later version may add fields, never change one.
fn is_in(part: &Value, whole: &Value) -> Result<(), String> {
    match (part, whole) {
        (Value::Object(part), Value::Object(whole)) => {
            part.iter().try_for_each(|(name, value)| match whole.get(name) {
                Some(found) => is_in(value, found).map_err(|wrong| format!("{name}.{wrong}")),
                None if value.is_null() => Ok(()),
                None => Err(format!("{name}: {value} is gone")),
            })
        }
        (Value::Array(part), Value::Array(whole)) if part.len() == whole.len() => part
            .iter()
            .zip(whole)
            .enumerate()
            .try_for_each(|(i, (a, b))| is_in(a, b).map_err(|wrong| format!("{i}.{wrong}"))),
        (part, whole) if part == whole => Ok(()),
        (part, whole) => Err(format!(": {part} became {whole}")),
    }
}

// ---- Stored entries ----

fn stored(entry: &Entry) -> Value {
    let mut value = serde_json::to_value(entry).expect("an entry is JSON");
    let mut texts: BTreeMap<String, String> = BTreeMap::new();
    text::take_out(&mut value, &mut |text| {
        let digest = format!("digest-{}", texts.len() + 1);
        texts.insert(digest.clone(), text.to_owned());
        digest
    });
    json!({ "entry": value, "texts": texts })
}

fn entry_of(vector: &Value) -> Entry {
    let mut value = vector["entry"].clone();
    text::put_back(&mut value, &mut |digest| vector["texts"][digest].as_str().map(str::to_owned));
    serde_json::from_value(value)
        .unwrap_or_else(|wrong| panic!("an entry of version 1 must be read: {wrong}\n{vector}"))
}

fn kind_of(event: &Event) -> String {
    serde_json::to_value(event).expect("an event is JSON")["event"].as_str().expect("a kind").to_owned()
}

/// A turn in which every kind of event happens.
fn a_whole_turn() -> TestShop {
    let mut shop = TestShop::new();
    shop.ok(
        "rask",
        order_with("2041", |open| {
            open.vin = Some("ZZ9AAAAA1AAAAAAAA".into());
            open.stage = Stage::Arrived;
            open.sold_minutes = Some(1_200);
        }),
    );
    let order = OrderId(shop.last_op().0);
    shop.ok("rask", stage(order, Stage::Authorised));
    shop.ok("rask", Act::Promise { order, due: Some(local("2026-03-06T16:00")), reason: None });
    let change = OrderChange {
        weight: Some(4),
        weight_reason: Some("customer waits".into()),
        ..OrderChange::default()
    };
    shop.ok("rask", Act::EditOrder { order, change });
    shop.ok(
        "rask",
        Act::Energy {
            order,
            energy: Energy {
                high_voltage: HighVoltage::Isolated,
                bake_limit_celsius: Some(60),
                bake_limit_minutes: Some(45),
            },
        },
    );
    shop.ok("ines", Act::Lead { order, department: "body".into(), person: Some(person("ines")) });
    let own = shop.card(order, "body", "Seal wheelhouse seam", &[]);
    let later = shop.card(order, "body", "Refit trim", &[own]);
    let condition = ConditionChange {
        keys: Some("board, hook 4".into()),
        rolls: Some(true),
        loose: Some(vec![Loose::BatteryOff]),
        ..ConditionChange::default()
    };
    shop.later(10).ok(
        "ines",
        Act::Ask(Ask {
            for_card: Some(own),
            note: Some("Rail seam above the subframe.".into()),
            not_yet: Some("Do not refit the liner.".into()),
            condition,
            ..ask(order, DOWN)
        }),
    );
    let (down, up) = (shop.step("down"), shop.step("up"));
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: Some(StandsOn::Lift) });
    shop.later(5).ok("milo", take(down));
    shop.ok("milo", Act::GiveBack { card: down });
    shop.ok("milo", start(down));
    let began = SpanId(shop.last_op().0);
    shop.ok("tova", Act::Help { card: down });
    shop.later(30).ok("milo", Act::Pause { card: down, why: Some(PauseWhy::Break) });
    let paused = shop.last_op();
    shop.ok("milo", undo(paused, down));
    shop.later(30).ok("milo", finish(down));
    let from = shop.now - 58 * domain::MINUTE;
    shop.ok("milo", Act::Correct { card: down, span: began, from, to: Some(shop.now) });
    shop.ok(
        "milo",
        Act::Found { order, card: Some(down), what: Found::Seized, note: Some("upper bolt".into()) },
    );
    let taken_at = shop.now;
    shop.ok(
        "milo",
        Act::Photo {
            order,
            card: Some(down),
            handoff: None,
            sha256: "ab".repeat(32),
            mime: "image/jpeg".into(),
            bytes: 240_000,
            taken_at,
        },
    );
    shop.ok("petra", hold(order, HoldKind::Parts, &[later], Blocks::Start));
    let parts = HoldId(shop.last_op().0);
    shop.ok("petra", Act::HoldDue { order, hold: parts, due: local("2026-03-05T12:00") });
    shop.ok("petra", Act::Unhold { order, hold: parts });
    shop.ok(
        "rask",
        Act::PutFirst { card: own, reason: "a lift waits".into(), until: local("2026-03-02T17:00") },
    );
    shop.ok("rask", Act::PutBack { card: own });
    shop.ok(
        "rask",
        Act::EditCard {
            card: later,
            change: CardChange { planned_minutes: Some(45), ..CardChange::default() },
        },
    );
    shop.ok("rask", Act::Link { card: later, after: link(down, 0) });
    shop.ok("rask", Act::Unlink { card: later, after: down });
    shop.later(20).ok("milo", finish(up));
    let closed_over = shop.exception(ExceptionKind::ClosedOverUndone).id;
    shop.ok("rask", Act::Answer { exception: closed_over, reason: "it goes up again".into() });
    shop.ok("rask", Act::CancelCard { card: later, reason: Some("not needed".into()) });
    let other = shop.order("2042");
    shop.round_trip(other);
    let more = shop.card(other, "body", "Bracket", &[]);
    shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(other, DOWN) }));
    let joined = HandoffId(shop.last_op().0);
    shop.ok("bruno", Act::CallOff { handoff: joined, reason: Some("reached from above".into()) });
    shop.system(Act::Remind { about: Reminder::PromiseUnlikely, card: None, order: Some(order) })
        .expect("the server");
    let note = Some("drops by itself".to_owned());
    shop.ok("milo", Act::EquipmentOut { equipment: "lift-2".into(), note });
    shop.ok("rask", Act::EquipmentBack { equipment: "lift-2".into() });
    let photo = *shop.state.photos.keys().next().expect("a photo");
    let text = Some("this bolt".to_owned());
    let marks = vec![Mark { kind: MarkKind::Text, x1: 5_000, y1: 2_500, x2: 5_000, y2: 2_500, text }];
    shop.ok("milo", Act::MarkPhoto { photo, marks });
    shop.ok("rask", stage(order, Stage::Delivered));
    let reason = "the other grey wagon left".into();
    shop.ok("rask", Act::StageBack { order, stage: Stage::Delivered, reason });
    let mut arrived = shop.entries.last().expect("an entry").clone();
    arrived.events = vec![Event::PhotoHere { sha256: "ab".repeat(32) }];
    (arrived.n, arrived.op, arrived.op_id) = (arrived.n + 1, json!({"kind": "photo_here"}), OpId(id(0x9999)));
    fold::entry(&mut shop.state, &arrived);
    let mut erased = arrived.clone();
    shop.entries.push(arrived);
    erased.events = vec![Event::PersonErased { person: person("pia"), at: erased.at }];
    let op = json!({"kind": "erase_person", "args": {"person": person("pia")}});
    (erased.n, erased.op, erased.op_id) = (erased.n + 1, op, OpId(id(0x999a)));
    fold::entry(&mut shop.state, &erased);
    shop.entries.push(erased);
    shop
}

/// All kinds of events there are, from the type itself: adding one without a vector fails here.
fn every_kind() -> BTreeSet<String> {
    let wrong = serde_json::from_value::<Event>(json!({"event": "?"}))
        .expect_err("there is no such event")
        .to_string();
    let named: BTreeSet<String> = wrong.split('`').skip(1).step_by(2).map(str::to_owned).collect();
    named.into_iter().filter(|word| word != "?").collect()
}

#[test]
fn every_kind_of_event_has_a_stored_entry_and_it_is_read() {
    let mut vectors: BTreeMap<String, Value> = all_in_or_empty("events/v1");
    for entry in a_whole_turn().entries.iter().filter(|_| updating()) {
        for event in &entry.events {
            let kind = kind_of(event);
            // Only what is missing: a stored format is a promise.
            vectors.entry(kind.clone()).or_insert_with(|| {
                write(&folder("events/v1").join(format!("{kind}.json")), &stored(entry));
                stored(entry)
            });
        }
    }
    let kinds = every_kind();
    assert!(kinds.len() > 30, "{kinds:?}");
    for kind in &kinds {
        let vector =
            vectors.get(kind).unwrap_or_else(|| panic!("no entry with the event «{kind}» in events/v1"));
        let entry = entry_of(vector);
        assert!(entry.events.iter().any(|event| kind_of(event) == *kind), "{kind}");
        let mut again = stored(&entry);
        // Texts were numbered when they were taken out; compare with them put back.
        text::put_back(&mut again["entry"], &mut |digest| {
            vector["texts"][digest].as_str().map(str::to_owned)
        });
        let mut before = vector["entry"].clone();
        text::put_back(&mut before, &mut |digest| vector["texts"][digest].as_str().map(str::to_owned));
        is_in(&before, &serde_json::to_value(&entry).expect("JSON"))
            .unwrap_or_else(|wrong| panic!("{kind}: {wrong}"));
    }
}

fn all_in_or_empty(name: &str) -> BTreeMap<String, Value> {
    if folder(name).exists() { all_in(name).into_iter().collect() } else { BTreeMap::new() }
}

/// A log of version 1 makes the documents it made when it was written, in every later release.
#[test]
fn a_stored_log_makes_the_documents_it_made() {
    let path = folder("events/v1/log/whole-turn.json");
    if updating() && !path.exists() {
        let shop = a_whole_turn();
        let entries: Vec<Value> = shop.entries.iter().map(stored).collect();
        write(&path, &json!({ "entries": entries, "documents": documents::all(&shop.state) }));
    }
    let vector = read(&path);
    let mut state = domain::state::State::default();
    for entry in vector["entries"].as_array().expect("entries") {
        fold::entry(&mut state, &entry_of(entry));
    }
    let made = serde_json::to_value(documents::all(&state)).expect("JSON");
    is_in(&vector["documents"], &made).unwrap_or_else(|wrong| panic!("{wrong}"));
}

#[test]
fn a_vector_that_lost_a_field_is_noticed() {
    assert!(is_in(&json!({"a": [{"b": 1}]}), &json!({"a": [{"b": 1, "new": 2}]})).is_ok());
    assert!(is_in(&json!({"a": [{"b": 1}]}), &json!({"a": [{"new": 2}]})).is_err());
    assert!(is_in(&json!({"a": [1, 2]}), &json!({"a": [1]})).is_err());
}

// ---- Overlay and decisions: given documents, when an operation, then documents ----

/// Decides and folds a vector's operation on a vector's documents.
fn run(
    vector: &Value,
) -> (Result<Vec<Event>, domain::decide::Refusal>, documents::Documents, documents::Documents) {
    let given: documents::Documents = serde_json::from_value(vector["docs"].clone()).expect("documents");
    let mut state = documents::state(&given);
    let op: Op = serde_json::from_value(vector["op"].clone()).expect("an operation");
    let by: PersonId = serde_json::from_value(vector["me"].clone()).expect("a person");
    let now: Ms = vector["now"].as_i64().expect("a time");
    let role = state.people.get(&by).map_or(Role::Technician, |p| p.role);
    let zone = state.shop.as_ref().map_or("UTC", |shop| shop.time_zone.as_str());
    let zone = jiff::tz::TimeZone::get(zone).expect("a time zone");
    let context = Context { by, role, op: op.id, at: now, uncertain: false, now, zone: &zone };
    let before = documents::all(&state);
    let decided = decide(&state, &op.act, &op.expect, &context);
    for event in decided.iter().flatten() {
        fold::fold(&mut state, event, &mut fold::Changed::new());
    }
    (decided, before, documents::all(&state))
}

/// What the phone lays over its documents is what the server makes of the operation. Exceptions are the
/// server's to raise and no part of it.
#[test]
fn overlay_vectors_hold_for_the_server() {
    for (file, vector) in all_in("overlay") {
        let (_, before, after) = run(&vector);
        let expected = vector["after"].as_object().expect("documents after");
        for (key, body) in expected {
            assert_eq!(after.get(key), Some(body), "{file}: {key}");
        }
        for (key, body) in &after {
            let foreseen =
                before.get(key) == Some(body) || expected.contains_key(key) || key.starts_with("exception/");
            assert!(foreseen, "{file}: the server changes {key} too");
        }
    }
}

#[test]
fn decision_vectors_hold() {
    let vectors = all_in("decide");
    assert!(vectors.len() >= 10);
    for (file, vector) in vectors {
        let (decided, before, after) = run(&vector);
        assert_eq!(outcome(&decided, &before, &after), vector["then"], "{file}");
    }
}

fn outcome(
    decided: &Result<Vec<Event>, domain::decide::Refusal>,
    before: &documents::Documents,
    after: &documents::Documents,
) -> Value {
    let changed: documents::Documents = after
        .iter()
        .filter(|(key, body)| before.get(*key) != Some(body))
        .map(|(k, b)| (k.clone(), b.clone()))
        .collect();
    match decided {
        Err(refusal) => json!({ "refused": refusal.code.word(), "other": refusal.other }),
        Ok(events) => json!({ "events": events, "after": changed }),
    }
}

/// A case made from a scene: everything of the shop, what is done, and what comes of it.
fn case(shop: &TestShop, name: &str, who: &str, act: Act) -> Value {
    let op = Op {
        n: 1,
        id: OpId(id(0xffff)),
        session: SessionId(id(0)),
        v: 1,
        act,
        expect: Vec::new(),
        device_at: shop.now,
        offset: None,
        seen: 9,
    };
    json!({ "name": name, "docs": documents::all(&shop.state), "op": op, "me": person(who), "now": shop.now })
}

fn checked_in(dir: &str, file: &str, vector: Value) {
    let path = folder(dir).join(format!("{file}.json"));
    if updating() {
        write(&path, &vector);
    }
    assert_eq!(
        read(&path),
        vector,
        "{} is not what the scene makes; UPDATE_VECTORS=1 writes it anew",
        path.display()
    );
}

pub fn overlay_case(shop: &TestShop, file: &str, name: &str, who: &str, act: Act) {
    let mut vector = case(shop, name, who, act);
    let (decided, before, after) = run(&vector);
    decided.unwrap_or_else(|refusal| panic!("{name}: {refusal}"));
    let changed =
        |(key, body): &(&String, &Value)| before.get(*key) != Some(body) && !key.starts_with("exception/");
    vector["after"] = after.iter().filter(changed).map(|(k, b)| (k.clone(), b.clone())).collect();
    checked_in("overlay", file, vector);
}

pub fn decide_case(shop: &TestShop, file: &str, name: &str, who: &str, act: Act) {
    decide_case_expecting(shop, file, name, who, Vec::new(), act);
}

pub fn decide_case_expecting(
    shop: &TestShop,
    file: &str,
    name: &str,
    who: &str,
    expect: Vec<Expect>,
    act: Act,
) {
    let mut vector = case(shop, name, who, act);
    if !expect.is_empty() {
        vector["op"]["expect"] = json!(expect);
    }
    let (decided, before, after) = run(&vector);
    vector["then"] = outcome(&decided, &before, &after);
    checked_in("decide", file, vector);
}

#[test]
fn overlay_cases_are_what_the_scenes_make() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    let later = shop.card(order, "refinish", "Prime", &[own]);
    let until = shop.now + HOUR;
    overlay_case(
        &shop,
        "50-stage-ready",
        "stage: everything is done, keys may go back",
        "ines",
        stage(order, Stage::Ready),
    );
    {
        let mut gone = shop.clone();
        gone.ok("rask", stage(order, Stage::Delivered));
        let reason = "the other grey wagon left".into();
        overlay_case(
            &gone,
            "88-keys-are-not-back",
            "stage_back: as if nobody had said so, and why is kept",
            "rask",
            Act::StageBack { order, stage: Stage::Delivered, reason },
        );
    }
    overlay_case(
        &shop,
        "51-put-first",
        "put_first: with its reason and its end",
        "rask",
        Act::PutFirst { card: own, reason: "a lift waits".into(), until },
    );
    let mut milo = (*shop.state.people[&person("milo")]).clone();
    milo.qualifications.insert("high-voltage".into(), None);
    shop.ok("mara", Act::SetPerson { person: milo });
    overlay_case(
        &shop,
        "52-energy",
        "energy: isolated, with the maker's limit",
        "milo",
        Act::Energy {
            order,
            energy: Energy {
                high_voltage: HighVoltage::Isolated,
                bake_limit_celsius: Some(60),
                bake_limit_minutes: Some(45),
            },
        },
    );
    overlay_case(
        &shop,
        "53-lead",
        "lead: a vehicle that nobody leads",
        "ines",
        Act::Lead { order, department: "body".into(), person: Some(person("ines")) },
    );
    overlay_case(
        &shop,
        "54-promise",
        "promise: the first after authorisation",
        "rask",
        Act::Promise { order, due: Some(local("2026-03-06T16:00")), reason: None },
    );
    let between = AddCard { before: vec![later], ..add_card(order, "body", "Stone guard", &[own]) };
    overlay_case(
        &shop,
        "55-add-card-between",
        "add_card: the next waits for it",
        "ines",
        Act::AddCard(between),
    );
    overlay_case(
        &shop,
        "56-cancel-card",
        "cancel_card: nothing waits for it any more",
        "rask",
        Act::CancelCard { card: down, reason: None },
    );
    overlay_case(
        &shop,
        "57-link",
        "link: with a cure",
        "rask",
        Act::Link { card: later, after: link(up, 45) },
    );
    overlay_case(
        &shop,
        "58-unlink",
        "unlink: it is ready at once",
        "rask",
        Act::Unlink { card: own, after: down },
    );
    overlay_case(
        &shop,
        "59-assign",
        "assign: to a mechanic",
        "rask",
        Act::Assign { card: down, to: person("tova") },
    );
    overlay_case(
        &shop,
        "60-edit-card",
        "edit_card: longer than planned",
        "rask",
        Act::EditCard {
            card: later,
            change: CardChange { planned_minutes: Some(90), ..CardChange::default() },
        },
    );
    shop.do_it("milo", down, 60);
    overlay_case(
        &shop,
        "61-ask-joins-without-an-own-card",
        "ask: joining without an own card, closing waits for the new work",
        "bruno",
        Act::Ask(ask(order, DOWN)),
    );
    shop.ok(
        "rask",
        Act::PutFirst { card: own, reason: "a lift waits".into(), until: local("2026-03-02T17:00") },
    );
    overlay_case(
        &shop,
        "62-put-back",
        "put_back: in its own place again",
        "rask",
        Act::PutBack { card: own },
    );
}

#[test]
fn overlay_cases_of_joining() {
    let mut shop = TestShop::new();
    shop.checked = false;
    shop.ok("odin", Act::SetRouting { routing: suspension_down_then_aligned() });
    let order = shop.order("2041");
    shop.round_trip(order);
    let more = shop.card(order, "body", "Plug-weld the bracket", &[]);
    overlay_case(
        &shop,
        "73-ask-joins-what-follows-the-closing",
        "ask: what follows a closing that is joined is done once",
        "bruno",
        Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }),
    );
}

#[test]
fn overlay_cases_of_photos() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    let taken_at = shop.now;
    let photo = Act::Photo {
        order,
        card: None,
        handoff: None,
        sha256: "ab".repeat(32),
        mime: "image/jpeg".into(),
        bytes: 240_000,
        taken_at,
    };
    shop.ok("ines", photo);
    let photo = PhotoId(shop.last_op().0);
    let arrow = Mark { kind: MarkKind::Arrow, x1: 500, y1: 9_000, x2: 5_000, y2: 5_000, text: None };
    let words = Mark { kind: MarkKind::Text, text: Some("seized".into()), ..arrow.clone() };
    let circle = Mark { kind: MarkKind::Circle, ..arrow.clone() };
    let mark = |marks: Vec<Mark>| Act::MarkPhoto { photo, marks };
    overlay_case(
        &shop,
        "70-mark-photo",
        "mark_photo: the first marks",
        "ines",
        mark(vec![arrow.clone(), words]),
    );
    shop.ok("ines", mark(vec![arrow.clone()]));
    shop.ok("milo", mark(vec![circle.clone()]));
    overlay_case(
        &shop,
        "71-mark-photo-again",
        "mark_photo: only the own ones change",
        "ines",
        mark(vec![circle]),
    );
    overlay_case(
        &shop,
        "72-mark-photo-off",
        "mark_photo: all of the own ones are off",
        "ines",
        mark(Vec::new()),
    );
}

/// What somebody without a network can run into, for the words the app has for it.
#[test]
fn decision_cases_of_conflicts() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    let own = shop.card(order, "body", "Seal wheelhouse seam", &[]);
    let gone = shop.card(order, "body", "Refit trim", &[]);
    shop.ok("ines", take(own));
    decide_case(&shop, "finish-anothers", "finished by somebody who had not taken it", "bruno", finish(own));
    shop.ok("ines", finish(own));
    decide_case(&shop, "finish-done", "finished after somebody else had finished it", "bruno", finish(own));
    decide_case(&shop, "take-done", "a take of what is done", "bruno", take(own));
    shop.ok("rask", Act::CancelCard { card: gone, reason: None });
    decide_case(&shop, "finish-cancelled", "finished after it was cancelled", "bruno", finish(gone));
    decide_case(&shop, "take-cancelled", "a take of what was cancelled", "bruno", take(gone));
    let held = shop.card(order, "body", "Rail on", &[]);
    shop.ok("petra", hold(order, HoldKind::Parts, &[held], Blocks::Start));
    decide_case(&shop, "start-on-hold", "begun during a hold", "bruno", start(held));
    decide_case(&shop, "take-on-hold", "a take during a hold", "bruno", take(held));
    decide_case(
        &shop,
        "unknown-order",
        "a note on what is not known",
        "bruno",
        Act::Note { order: OrderId(id(0x7777)), card: None, body: "seized".into() },
    );
}

#[test]
fn decision_cases_are_what_the_scenes_make() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: Some(StandsOn::Lift) });
    let (down, own, up) = shop.round_trip(order);
    decide_case(&shop, "take-not-ready", "a take waits for its predecessor", "ines", take(own));
    decide_case(
        &shop,
        "start-early",
        "a start before its predecessor is kept, with an exception",
        "ines",
        start(own),
    );
    decide_case(
        &shop,
        "cycle",
        "links never turn in a circle",
        "rask",
        Act::Link { card: down, after: link(up, 0) },
    );
    decide_case(
        &shop,
        "forbidden",
        "a technician promises nothing",
        "ines",
        Act::Promise { order, due: None, reason: None },
    );
    decide_case(
        &shop,
        "promise-closed",
        "a promise on a closed day",
        "rask",
        Act::Promise { order, due: Some(local("2026-03-07T12:00")), reason: None },
    );
    shop.ok("milo", take(down));
    let took = shop.last_op();
    decide_case(&shop, "take-taken", "the loser learns who and when", "tova", take(down));
    decide_case(&shop, "undo-take", "a take is taken back", "milo", undo(took, down));
    shop.later(1).ok("milo", start(down));
    let began = shop.last_op();
    decide_case(&shop, "undo-start", "a start is taken back", "milo", undo(began, down));
    shop.later(30).ok("milo", pause(down));
    let paused = shop.last_op();
    decide_case(&shop, "undo-pause", "a pause is taken back", "milo", undo(paused, down));
    shop.ok("milo", start(down));
    shop.later(30).ok("milo", finish(down));
    let finished = shop.last_op();
    decide_case(
        &shop,
        "undo-finish-that-opened",
        "a finish is taken back with what it opened",
        "milo",
        undo(finished, down),
    );
    decide_case(&shop, "close-over-undone", "closing over undone work raises an alarm", "milo", finish(up));
    shop.do_it("ines", own, 20);
    shop.later(30);
    shop.do_it("milo", up, 60);
    let closed = shop.last_op();
    decide_case(
        &shop,
        "undo-finish-that-closed",
        "a finish is taken back and the vehicle is open again",
        "milo",
        undo(closed, up),
    );
    decide_case(&shop, "opened-twice", "a second opening is said", "ines", Act::Ask(ask(order, DOWN)));
    decide_case(&shop, "done-by-another", "finished after it was finished", "tova", finish(up));
}
