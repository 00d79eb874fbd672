//! What somebody who is signed in can fill.

use domain::stored::Role;
use serde_json::{Value, json};
use turnbuckle::limits::{OP_BYTES_MAX, SETUP_OP_BYTES_MAX, WRITE_OPS};

use crate::support::{Shop, User};

/// Bytes of the log and of the texts beside it.
fn written(shop: &Shop) -> usize {
    let store = &shop.opened.store;
    let log = store.log().read(1, usize::MAX).unwrap().iter().map(|entry| entry.body.len()).sum::<usize>();
    log + store.control().bytes() as usize
}

fn note(user: &mut User, order: &str, body: &str) -> Value {
    user.op("note", json!({"order": order, "body": body}))
}

#[test]
fn what_is_refused_leaves_its_envelope_and_its_ids() {
    let shop = Shop::start();
    let mut user = shop.user("Tomas Okafor", "body", Role::Technician);
    let order = uuid::Uuid::now_v7().to_string();
    let before = written(&shop);
    for _ in 0..40 {
        let long = "x".repeat(30_000);
        let refused = user.act(
            "put_first",
            json!({"card": order, "reason": long, "until": 1, "more": {"x": "y".repeat(5_000)}}),
        );
        assert_eq!(refused["verdict"], "refused", "{refused}");
    }
    let grown = written(&shop) - before;
    assert!(grown < 64 * 1024, "{grown} bytes");
    let last = shop.opened.store.log().read(shop.opened.view().head.seq, 1).unwrap();
    let entry: Value = serde_json::from_slice(&last[0].body).unwrap();
    assert_eq!(entry["op"]["kind"], "put_first");
    assert_eq!(entry["op"]["args"], json!({"card": order}));
    assert!(entry["op"]["id"].is_string() && entry["digest"].is_string(), "{entry}");
    // Sent again, it has the same verdict.
    let op = user.op("put_first", json!({"card": order, "reason": "y".repeat(9_000), "until": 1}));
    let (first, second) = (user.push(vec![op.clone()]), user.push(vec![op]));
    assert_eq!((first.0, &first.1["results"][0]["seq"]), (200, &second.1["results"][0]["seq"]));
}

#[test]
fn one_operation_has_a_size() {
    let shop = Shop::start();
    let mut boss = shop.user("Ana Lucero", "office", Role::Manager);
    let order = boss.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let long = note(&mut boss, &order, &"x".repeat(OP_BYTES_MAX));
    let (status, body) = boss.push(vec![long]);
    assert_eq!((status, &body["code"]), (413, &json!("too_large")));
    // What stands before it is done, and only that is answered.
    boss.n -= 1;
    let ops = vec![note(&mut boss, &order, "short"), note(&mut boss, &order, &"x".repeat(OP_BYTES_MAX))];
    let (status, body) = boss.push(ops);
    assert_eq!((status, body["results"].as_array().map(Vec::len)), (200, Some(1)));
    boss.n -= 1;
    // The longest note there may be, in the widest characters.
    let wide = note(&mut boss, &order, &"\u{1F527}".repeat(4_000));
    assert_eq!(boss.push(vec![wide]).1["results"][0]["verdict"], "applied");
    // Setting up takes more: a routing of a hundred steps.
    let steps: Vec<Value> = (0..100)
        .map(|n| {
            let title = json!({"text": "t".repeat(190), "es": "t".repeat(190)});
            json!({"step": format!("s{n}"), "department": "body", "title": title, "planned_minutes": 30})
        })
        .collect();
    let routing = json!({"routing": {"id": "long", "title": {"text": "Long"}, "steps": steps}});
    let op = boss.op("set_routing", routing);
    let size = op.to_string().len();
    assert!((OP_BYTES_MAX..SETUP_OP_BYTES_MAX).contains(&size), "{size}");
    let (status, body) = boss.push(vec![op]);
    assert_eq!((status, &body["results"][0]["verdict"]), (200, &json!("applied")), "{body}");
}

/// Six people, a hundred acts each, sent by one tablet; and it may do so again.
#[test]
fn a_long_offline_day_fits_and_filling_does_not() {
    let shop = Shop::start();
    let mut boss = shop.user("Ana Lucero", "office", Role::Manager);
    let order = boss.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let push = |user: &mut User| {
        let ops = (0..100).map(|n| note(user, &order, &format!("what was seen {n}"))).collect();
        user.push(ops).0
    };
    for _ in 0..12 {
        assert_eq!(push(&mut boss), 200);
    }
    let mut other = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut refused = None;
    for _ in 0..WRITE_OPS as usize / 100 {
        refused = (push(&mut boss) == 429).then_some(()).or(refused);
        if refused.is_some() {
            break;
        }
    }
    assert!(refused.is_some(), "the budget ends");
    assert_eq!(push(&mut other), 200, "others go on");
    // Nothing is lost: the same goes through when its time has come.
    boss.n -= 100;
    shop.clock.advance(3_600_000);
    assert_eq!(push(&mut boss), 200);
}
