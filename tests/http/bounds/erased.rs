//! Whoever is erased stays erased, whatever comes back: a phone that was away, an older backup.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use domain::ids::PersonId;
use domain::stored::{Act, Person, Role};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use turnbuckle::clock::Clock;
use turnbuckle::serve::{accepted, begin, open};
use turnbuckle::shop::{OwnOp, Shop as Opened};
use uuid::Uuid;

use crate::set_back::backup_of;
use crate::support::{Shop, User, agent, monday};

/// What the person wrote, in every place where people write.
const WORDS: [&str; 6] =
    ["chafed hose", "ask me first", "red arrow here", "customer waits", "my own reason", "ill that week"];
const NAME: &str = "Tomas Okafor";

/// Every byte that is kept of a shop but the pictures.
fn kept(shop: &Opened) -> String {
    // With what is on its way into the tables.
    shop.tables().unwrap();
    let store = &*shop.store;
    let mut all = Vec::new();
    store.log().replay(1).for_each(|entry| all.extend(entry.unwrap().body));
    store.control().replay().for_each(|line| all.extend(line.unwrap()));
    let tables = store.tables();
    for doc in tables.docs_after(0, usize::MAX, u64::MAX).unwrap().docs {
        all.extend(doc.body.unwrap());
    }
    all.extend(tables.kv_get("control", b"gist").unwrap().unwrap_or_default());
    if let Some(snapshot) = store.snapshots().latest_snapshot().unwrap() {
        all.extend(snapshot.bytes);
    }
    String::from_utf8_lossy(&all).into_owned()
}

fn says_nothing_of(kept: &str) {
    for word in WORDS.iter().chain(&[NAME]) {
        let around = kept.find(word).map(|at| kept[..at].chars().rev().take(200).collect::<String>());
        let around = around.map(|back| back.chars().rev().collect::<String>());
        assert_eq!(around, None, "«{word}» is still kept, after this");
    }
}

fn picture(n: u8) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    image::RgbImage::from_pixel(8, 8, image::Rgb([n, 90, 120]))
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

fn sha(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

/// As tus does it: how far the server says it has it, before anything was sent, and then all of it.
fn upload(user: &User, bytes: &[u8]) -> (u16, String) {
    let said = format!("sha256 {},mime {}", STANDARD.encode(sha(bytes)), STANDARD.encode("image/png"));
    let asked = user.agent.post(format!("{}/api/v1/photos", user.base)).header("Tus-Resumable", "1.0.0");
    let asked = asked.header("Upload-Length", bytes.len().to_string()).header("Upload-Metadata", said);
    let begun = asked.send_empty().unwrap();
    let head =
        |name: &str| begun.headers().get(name).map(|v| v.to_str().unwrap().to_owned()).unwrap_or_default();
    let offset = head("upload-offset");
    if offset == "0" {
        let asked = user.agent.patch(format!("{}{}", user.base, head("location")));
        let asked = asked.header("Tus-Resumable", "1.0.0").header("Upload-Offset", "0");
        let sent = asked.header("Content-Type", "application/offset+octet-stream").send(bytes).unwrap();
        assert_eq!(sent.status().as_u16(), 204);
    }
    (begun.status().as_u16(), offset)
}

struct Scene {
    shop: Shop,
    boss: User,
    gone: User,
    order: String,
    card: String,
    browser: Uuid,
    note: String,
}

/// A person writes wherever people write, and somebody else beside them.
fn scene() -> Scene {
    let shop = Shop::start();
    let mut boss = shop.user("Ana Lucero", "office", Role::Admin);
    let id = shop.user(NAME, "body", Role::Planner).id;
    let browser = Uuid::new_v4();
    let mut gone = shop.sign_in_on(id, Some(browser), agent());
    let order =
        boss.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let card = boss.done(
        "add_card",
        json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 60}),
    );
    assert_eq!(
        boss.put(
            &format!("/api/v1/people/{id}/contact"),
            json!({"email": "t.okafor@shop.example", "mail": true})
        )
        .0,
        200
    );
    let note = gone.done("note", json!({"order": order, "body": WORDS[0]}));
    gone.done("hold", json!({"order": order, "what": "customer", "note": WORDS[3]}));
    gone.done("put_first", json!({"card": card, "reason": WORDS[1], "until": shop.clock.now() + 3_600_000}));
    gone.done("condition", json!({"order": order, "change": {"bolts": "blue tray"}}));
    let shown = picture(1);
    assert_eq!(upload(&gone, &shown), (201, "0".into()));
    let photo = gone.done(
        "photo",
        json!({"order": order, "sha256": sha(&shown), "mime": "image/png", "bytes": shown.len(), "taken_at": shop.clock.now()}),
    );
    gone.done(
        "mark_photo",
        json!({"photo": photo, "marks": [{"kind": "text", "x1": 1, "y1": 1, "x2": 2, "y2": 2, "text": WORDS[2]}]}),
    );
    gone.done("edit_order", json!({"order": order, "change": {"weight": 4, "weight_reason": WORDS[4]}}));
    // What somebody else typed about them, and what somebody else wrote.
    let mut away = shop.doc(&format!("person/{id}"));
    let soon = shop.clock.now() + 86_400_000;
    away["away"] = json!([{"from": soon, "to": soon + 86_400_000, "reason": WORDS[5]}]);
    boss.done("set_person", json!({"person": away}));
    boss.done("note", json!({"order": order, "body": "glass comes at two"}));
    // A snapshot of before.
    shop.opened.put_snapshot();
    Scene { shop, boss, gone, order, card, browser, note }
}

fn erase(boss: &mut User, person: PersonId) {
    boss.done("erase_person", json!({"person": person}));
}

#[test]
fn what_a_person_wrote_and_photographed_goes_and_the_chain_verifies() {
    let Scene { shop, mut boss, gone, order, card, note, .. } = scene();
    let shown = sha(&picture(1));
    let heads: Vec<_> = shop.opened.store.log().replay(1).map(|entry| entry.unwrap().hash).collect();
    assert_eq!(boss.get(&format!("/api/v1/photos/{shown}")).0, 200);
    let other = boss.get("/api/v1/sync/pull?after=0").1;
    let (at, hash) = (other["to"].clone(), other["hash"].as_str().unwrap().to_owned());
    erase(&mut boss, gone.id);
    let store = &*shop.opened.store;
    shop.opened.put_snapshot();
    let kept = kept(&shop.opened);
    says_nothing_of(&kept);
    assert!(!kept.contains("t.okafor@shop.example"), "how they were reached");
    assert!(
        kept.contains("glass comes at two") && kept.contains("blue tray"),
        "what others wrote, where bolts are"
    );
    // The log is byte for byte what it was.
    store.log().verify().unwrap();
    assert!(store.log().replay(1).zip(&heads).all(|(entry, hash)| entry.unwrap().hash == *hash));
    // A phone that knew it all gets the same documents without it.
    let missed = boss.get(&format!("/api/v1/sync/pull?after={at}&hash={hash}")).1;
    let keys: Vec<&str> =
        missed["docs"].as_array().unwrap().iter().map(|d| d["key"].as_str().unwrap()).collect();
    for key in [
        format!("note/{note}"),
        format!("order/{order}"),
        format!("card/{card}"),
        format!("person/{}", gone.id),
    ] {
        assert!(keys.contains(&key.as_str()), "{key} in {keys:?}");
    }
    says_nothing_of(&missed.to_string());
    let person = shop.doc(&format!("person/{}", gone.id));
    assert_eq!(
        (&person["name"], person["erased_at"].is_i64(), &person["retired"]),
        (&json!("—"), true, &json!(true))
    );
    // The picture too, and whoever was in is out.
    assert_eq!(boss.get(&format!("/api/v1/photos/{shown}")).0, 404);
    assert_eq!(gone.get("/api/v1/auth/me").0, 401);
    // It is so after a start that reads the log, and they do not come back under this id.
    let mut back = person.clone();
    back["retired"] = json!(false);
    assert_eq!(boss.act("set_person", json!({"person": back}))["verdict"], "refused");
    let state = shop.opened.view().state.clone();
    let again = Opened::open(backup_of(&shop), shop.clock.clone()).unwrap();
    assert_eq!(again.view().state.notes, state.notes);
    assert_eq!(again.view().state.orders, state.orders);
    assert_eq!(again.view().state.photos, state.photos);
}

#[test]
fn only_an_administrator_erases_and_nobody_themselves() {
    let Scene { shop, mut boss, mut gone, .. } = scene();
    let mut manager = shop.user("Petra Nowak", "office", Role::Manager);
    for (user, person) in [(&mut manager, gone.id), (&mut gone, boss.id)] {
        assert_eq!(user.act("erase_person", json!({"person": person}))["code"], "forbidden");
    }
    let own = boss.id;
    assert_eq!(boss.act("erase_person", json!({"person": own}))["code"], "invalid");
    assert_eq!(boss.act("erase_person", json!({"person": Uuid::now_v7()}))["code"], "unknown_person");
    erase(&mut boss, gone.id);
    assert_eq!(boss.act("erase_person", json!({"person": gone.id}))["verdict"], "noop");
}

/// It had been away for a month, and a colleague on the same tablet delivers what was on it.
#[test]
fn a_phone_that_was_away_for_a_month_brings_no_text_back() {
    let Scene { shop, mut boss, mut gone, order, card, browser, .. } = scene();
    let late = picture(2);
    let ops = vec![
        gone.op("start", json!({"card": card})),
        gone.op("note", json!({"order": order, "body": WORDS[0]})),
        gone.op("photo", json!({"order": order, "sha256": sha(&late), "mime": "image/png", "bytes": late.len(), "taken_at": shop.clock.now()})),
        gone.op("pause", json!({"card": card})),
    ];
    shop.clock.advance(60_000);
    erase(&mut boss, gone.id);
    shop.clock.advance(31 * 86_400_000);
    assert_eq!(gone.push(ops.clone()).0, 401, "it opens nothing any more");
    let known = shop.user("Teo Salgado", "body", Role::Technician);
    let beside = shop.sign_in_on(known.id, Some(browser), agent());
    let beside = User { client: gone.client.clone(), n: 0, ..beside };
    let (status, told) = beside.push(ops);
    assert_eq!(status, 200, "{told}");
    // The work is in the log, with its times; nothing they wrote is.
    let verdicts: Vec<&Value> = told["results"].as_array().unwrap().iter().map(|r| &r["verdict"]).collect();
    assert_eq!(verdicts, ["applied"; 4], "{told}");
    let spans = shop.doc(&format!("card/{card}"))["spans"].clone();
    assert_eq!(spans[0]["person"], json!(gone.id));
    says_nothing_of(&kept(&shop.opened));
    // Nor the picture: it is taken for here, so that no phone sends it again and again.
    assert_eq!(upload(&beside, &late), (201, late.len().to_string()));
    assert!(shop.opened.store.photos().list().unwrap().is_empty());
    let boss = shop.sign_in(boss.id);
    assert_eq!(boss.get(&format!("/api/v1/photos/{}", sha(&late))).0, 404);
}

/// Set back without any list: the administrator's phone sends the erasing again, as it does with everything.
#[test]
fn an_administrators_phone_erases_again_after_the_server_was_set_back() {
    let Scene { shop, boss, mut gone, .. } = scene();
    let backup = backup_of(&shop);
    let mut boss = shop.sign_in(boss.id);
    let op = boss.op("erase_person", json!({"person": gone.id}));
    assert_eq!(boss.push(vec![op.clone()]).0, 200);
    let now = shop.clock.now();
    drop(shop);
    let shop = Shop::start_with(backup, Clock::at(now), None);
    assert!(kept(&shop.opened).contains(WORDS[0]), "the backup has it");
    gone.epoch = String::new();
    let boss = crate::set_back::comes_back(boss, &shop);
    assert_eq!(boss.push(vec![op]).1["results"][0]["verdict"], "applied");
    says_nothing_of(&kept(&shop.opened));
}

fn turnbuckle(args: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_turnbuckle")).args(args).output().unwrap();
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

fn own(shop: &Arc<Opened>, by: PersonId, role: Role, act: Act) {
    let op = OwnOp { by, role, ..OwnOp::system(act) };
    accepted(shop.own_now(vec![op]).unwrap()).unwrap();
}

#[test]
fn a_restore_of_an_older_backup_erases_again() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    let data = path("data");
    let person = PersonId(Uuid::now_v7());
    let read = |data: &str, ask: &dyn Fn(&Arc<Opened>)| {
        let shop = open(Path::new(data), Clock::at(monday())).unwrap();
        ask(&shop);
        shop.close();
    };
    read(&data, &|shop| {
        begin(shop).unwrap();
        let department = shop.view().state.departments.keys().next().unwrap().clone();
        let json = json!({"id": person, "name": NAME, "department": department, "role": "technician"});
        let someone: Person = serde_json::from_value(json).unwrap();
        own(shop, domain::decide::SYSTEM, Role::Admin, Act::SetPerson { person: someone });
        let order = OwnOp::system(
            serde_json::from_value(
                json!({"kind": "open_order", "args": {"number": "2041", "vehicle": "grey wagon"}}),
            )
            .unwrap(),
        );
        let id = domain::ids::OrderId(order.id.0);
        accepted(shop.own_now(vec![order]).unwrap()).unwrap();
        own(shop, person, Role::Technician, Act::Note { order: id, card: None, body: WORDS[0].into() });
    });
    std::fs::create_dir(path("backups")).unwrap();
    turnbuckle(&["backup", "--data", &data, &path("backups/monday.tar")]);
    read(&data, &|shop| own(shop, domain::decide::SYSTEM, Role::Admin, Act::ErasePerson { person }));
    // The list goes beside the backups with the next one; an old one is restored.
    turnbuckle(&["backup", "--data", &data, &path("backups/tuesday.tar")]);
    let said = turnbuckle(&["restore", "--data", &path("one"), &path("backups/monday.tar")]);
    assert!(said.contains("1 person"), "{said}");
    read(&path("one"), &|shop| says_nothing_of(&kept(shop)));
    turnbuckle(&["verify", "--data", &path("one")]);
    // Without one beside it, from the directory that is replaced; it is written whenever the shop is opened there.
    std::fs::create_dir(path("elsewhere")).unwrap();
    std::fs::copy(path("backups/monday.tar"), path("elsewhere/monday.tar")).unwrap();
    let elsewhere = path("elsewhere/monday.tar");
    turnbuckle(&["restore", "--data", &path("two"), &elsewhere, "--erasures", &path("one")]);
    read(&path("two"), &|shop| says_nothing_of(&kept(shop)));
    // And told nothing, it brings them back: so the list is looked for first.
    turnbuckle(&["restore", "--data", &path("three"), &elsewhere]);
    read(&path("three"), &|shop| assert!(kept(shop).contains(WORDS[0])));
    let list = std::fs::read_to_string(path("backups/erasures.ndjson")).unwrap();
    assert!(list.contains(&person.to_string()) && !list.contains(NAME), "{list}");
    assert!(std::fs::read_to_string(path("two/erasures.ndjson")).unwrap().contains(&person.to_string()));
    // A list that is not there ends it before anything is made.
    let out = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
        .args(["restore", "--data", &path("four"), &elsewhere, "--erasures", &path("nowhere")])
        .output()
        .unwrap();
    assert!(!out.status.success() && !Path::new(&path("four")).exists());
}
