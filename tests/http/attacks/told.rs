//! What is told of sign-ins, rights and refusals, and to whom (ASVS 5.0, 16.2.1, 16.3.1 to 16.3.4 and 16.4.1).

use std::fs::{File, read_to_string};
use std::process::Command;

use domain::stored::Role;
use serde_json::{Value, json};

use crate::process::{self, Server};
use crate::support::{Shop, agent, wait_for};

/// The real command as somebody starts it, but for the form of its log.
#[test]
fn the_log_tells_who_came_in_who_was_refused_and_from_where() {
    let dir = tempfile::tempdir().unwrap();
    let log = dir.path().join("log");
    let mut command: Command = process::binary();
    command
        .args(["serve", "--listen", "127.0.0.1:0", "--log", "json", "--data"])
        .arg(dir.path().join("data"));
    command.stderr(File::create(&log).unwrap());
    let (server, token) = Server::start(&mut command, true);
    let token = token.unwrap();
    let admin = agent();
    let post = |agent: &ureq::Agent, path: &str, body: Value| {
        let url = format!("{}/api/v1/{path}", server.base);
        let mut answer = agent.post(url).send_json(body).unwrap();
        let body = answer.body_mut().read_json::<Value>().unwrap_or_default();
        (answer.status().as_u16(), body)
    };
    let (status, me) = post(&admin, "auth/join", json!({"token": token}));
    assert_eq!(status, 200);
    for _ in 0..12 {
        post(&agent(), "auth/password", json!({"name": "Administrator", "password": "hunter2 hunter2"}));
    }
    assert_eq!(post(&admin, "auth/transfer", json!({})).0, 200);
    let other = "01890000-0000-7000-8000-000000000001";
    let person = |role: &str| {
        json!({"n": if role == "technician" { 1 } else { 2 }, "id": uuid::Uuid::now_v7(), "session": me["session"],
            "v": 1, "kind": "set_person", "args": {"person": {"id": other, "name": "Teo Salgado", "department": "body",
            "role": role}}, "device_at": me["now"], "seen": 0})
    };
    let ops = json!([person("technician"), person("manager")]);
    let push = json!({"epoch": me["epoch"], "client": me["client"], "device_now": me["now"], "ops": ops});
    let (status, pushed) = post(&admin, "sync/push", push);
    assert_eq!((status, &pushed["results"][1]["verdict"]), (200, &json!("applied")), "{pushed}");
    assert_eq!(post(&admin, "auth/sign_out", json!({})).0, 204);

    let lines = || -> Vec<Value> {
        let text = read_to_string(&log).unwrap();
        let lines = text.lines().filter_map(|line| serde_json::from_str::<Value>(line).ok());
        lines.filter(|line| line["target"] == "security").collect()
    };
    wait_for("the last line", || lines().iter().any(|line| line["what"] == "signed_out").then_some(()));
    let told = lines();
    let of = |what: &str| told.iter().filter(|line| line["what"] == what).collect::<Vec<_>>();
    for (what, count) in [("signed_in", 1), ("signed_out", 1), ("link_made", 1), ("role_set", 1)] {
        let found = of(what);
        assert_eq!(found.len(), count, "{what} in {told:?}");
        assert_eq!(found[0]["address"], "127.0.0.1");
        assert_eq!((&found[0]["person"], &found[0]["sign_in"]), (&me["person"], &me["session"]), "{what}");
        assert!(found[0]["timestamp"].is_string());
    }
    assert_eq!(
        (&of("role_set")[0]["about"], &of("role_set")[0]["detail"]),
        (&json!(other), &json!("manager"))
    );
    let denied: Vec<&str> = of("denied").iter().map(|line| line["detail"].as_str().unwrap()).collect();
    let count = |status: &str| denied.iter().filter(|detail| detail.starts_with(status)).count();
    assert_eq!((count("401 wrong_password"), count("429 too_many_tries")), (10, 2), "{denied:?}");
    assert_eq!(of("locked_out").len(), 2);
    assert_eq!(of("locked_out")[0]["about"], me["person"]);
    let text = read_to_string(&log).unwrap();
    assert!(!text.contains("hunter2") && !text.contains(&token), "no secret is told");
    server.kill();
}

#[test]
fn administrators_see_it_and_nobody_else() {
    let shop = Shop::start();
    let admin = shop.user("Mara Lindqvist", "assembly", Role::Admin);
    let manager = shop.user("Ines Duarte", "body", Role::Manager);
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    assert_eq!(manager.get("/api/v1/security").0, 403);
    assert_eq!(teo.post("/api/v1/auth/display", json!({})).0, 403);
    let (status, seen) = admin.get("/api/v1/security");
    assert_eq!(status, 200);
    let all = seen["happened"].as_array().unwrap().clone();
    let denied: Vec<&Value> = all.iter().filter(|one| one["what"] == "denied").collect();
    assert_eq!(denied.len(), 2, "{all:?}");
    let refused = denied.iter().find(|one| one["person"] == json!(teo.id)).unwrap();
    assert_eq!((&refused["session"], &refused["address"]), (&json!(teo.session), &json!("127.0.0.1")));
    assert_eq!(refused["detail"], "403 forbidden POST /api/v1/auth/display");
    assert_eq!(all.iter().filter(|one| one["what"] == "signed_in").count(), 3);

    // A stranger fills neither the log nor the view.
    for _ in 0..100 {
        agent().get(format!("{}/api/v1/auth/me", shop.base)).call().unwrap();
    }
    let all = admin.get("/api/v1/security").1["happened"].as_array().unwrap().clone();
    let count = |what: &str| all.iter().filter(|one| one["what"] == what).count();
    assert_eq!((count("denied"), count("denied_more")), (60, 1));
    assert_eq!(count("signed_in"), 3);
}

/// What the control journal keeps is seen after a start, too.
#[test]
fn what_happened_before_the_start_is_seen_as_far_as_it_was_kept() {
    let store: std::sync::Arc<dyn store::Store> = std::sync::Arc::new(store::Memory::new(7));
    let clock = turnbuckle::clock::Clock::at(crate::support::monday());
    let shop = Shop::start_with(store.clone(), clock.clone(), None);
    let mut mara = shop.user("Mara Lindqvist", "assembly", Role::Admin);
    let (admin, teo) = (mara.id, shop.user("Teo Salgado", "body", Role::Technician).id);
    let mut person = shop.doc(&format!("person/{teo}"));
    person["role"] = json!("planner");
    mara.done("set_person", json!({"person": person}));
    for _ in 0..13 {
        let url = format!("{}/api/v1/auth/password", shop.base);
        agent().post(url).send_json(json!({"name": "Teo Salgado", "password": "x"})).unwrap();
    }
    let noted = || {
        let lines = store.control().replay().filter_map(Result::ok);
        lines.filter(|line| line.starts_with(b"{\"noted\"")).count()
    };
    wait_for("what is noted", || (noted() == 2).then_some(()));
    drop(mara);
    drop(shop);
    clock.advance(domain::MINUTE);
    let shop = Shop::start_with(store.clone(), clock, None);
    let seen = shop.sign_in(admin).get("/api/v1/security").1;
    let of = |what: &str| {
        let all = seen["happened"].as_array().unwrap().iter().filter(|one| one["what"] == what);
        all.cloned().collect::<Vec<Value>>()
    };
    let (role, locked) = (of("role_set"), of("locked_out"));
    assert_eq!((role.len(), locked.len()), (1, 1), "three refused tries are one lock-out");
    assert_eq!((&role[0]["person"], &role[0]["about"]), (&json!(admin), &json!(teo)));
    assert_eq!(role[0]["detail"], "planner");
    assert_eq!((&locked[0]["about"], &locked[0]["address"]), (&json!(teo), &json!("127.0.0.1")));
    let signed_in = seen["happened"].as_array().unwrap().iter().filter(|one| one["what"] == "signed_in");
    let addresses: Vec<bool> = signed_in.map(|one| one["address"].is_string()).collect();
    assert_eq!(addresses, [true, false, false], "the newest first; where from is known since the start");
}
