//! The same attacks against the command as it is started, on a data directory of its own, in real time: what the other
//! files try in one process is tried here on what a shop runs, one test for each kind, with the right use beside it.
//! What needs a clock that can be set (a sign-in of a month ago) stays there.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use domain::ids::PersonId;
use serde_json::{Value, json};
use turnbuckle::clock::Clock;
use ureq::Agent;
use uuid::Uuid;

use super::passkey::{Authenticator, Ways};
use crate::process::{self, Server};
use crate::support::{User, agent};

const PASSWORD: &str = "anvil lantern quorum";

/// A shop in a directory, and the server that runs on it.
struct Shop {
    server: Option<Server>,
    base: String,
    dir: tempfile::TempDir,
}

impl Shop {
    /// And its administrator, by the first link.
    fn start() -> (Self, User) {
        let dir = tempfile::tempdir().unwrap();
        let (server, token) = Server::start(&mut process::serve(&dir.path().join("data")), true);
        let base = server.base.clone();
        let shop = Self { server: Some(server), base, dir };
        let admin = shop.join(&token.unwrap(), agent());
        (shop, admin)
    }

    fn data(&self) -> PathBuf {
        self.dir.path().join("data")
    }

    fn join(&self, token: &str, agent: Agent) -> User {
        let (status, me) = post(&agent, &self.base, "auth/join", json!({"token": token, "device": "test"}));
        assert_eq!(status, 200, "{me}");
        self.user(&me, agent)
    }

    fn by_password(&self, name: &str, agent: Agent) -> User {
        let said = json!({"name": name, "password": PASSWORD, "device": "test"});
        let (status, me) = post(&agent, &self.base, "auth/password", said);
        assert_eq!(status, 200, "{me}");
        self.user(&me, agent)
    }

    fn user(&self, me: &Value, agent: Agent) -> User {
        let word = |field: &str| me[field].as_str().unwrap().to_owned();
        User {
            agent,
            base: self.base.clone(),
            id: PersonId(word("person").parse().unwrap()),
            client: word("client"),
            session: word("session"),
            epoch: word("epoch"),
            n: 0,
            clock: Clock::System,
        }
    }

    /// Signed up by the administrator, and in on the browser that `agent` is.
    fn add(&self, admin: &mut User, name: &str, role: &str, agent: Agent) -> User {
        let id = Uuid::now_v7();
        admin.done("set_person", json!({"person": person(id, name, role)}));
        let (_, link) = admin.post("/api/v1/auth/invite", json!({"person": id}));
        self.join(link["token"].as_str().unwrap(), agent)
    }
}

impl Drop for Shop {
    fn drop(&mut self) {
        if let Some(server) = self.server.take() {
            server.kill();
        }
    }
}

fn person(id: Uuid, name: &str, role: &str) -> Value {
    json!({"id": id, "name": name, "department": "body", "role": role, "language": "en"})
}

fn post(agent: &Agent, base: &str, path: &str, body: Value) -> (u16, Value) {
    let mut answer = agent.post(format!("{base}/api/v1/{path}")).send_json(body).unwrap();
    (answer.status().as_u16(), answer.body_mut().read_json().unwrap_or(Value::Null))
}

fn brings(by: &User, of: &User, ops: Vec<Value>) -> (u16, Value) {
    let body = json!({"epoch": of.epoch, "client": of.client, "device_now": of.clock.now(), "ops": ops, "knows_held": true});
    by.post("/api/v1/sync/push", body)
}

/// What a thief copies: names and values of the cookies that a sign-in is given.
fn cookies(agent: &Agent, base: &str, path: &str, body: Value) -> Vec<(String, String)> {
    let answer = agent.post(format!("{base}/api/v1/{path}")).send_json(body).unwrap();
    let set = answer.headers().get_all("set-cookie").iter().filter_map(|one| one.to_str().ok());
    let pair = |one: &str| {
        let (name, value) = one.split(';').next()?.split_once('=')?;
        Some((name.to_owned(), value.to_owned()))
    };
    set.filter_map(pair).collect()
}

fn of_kind<'a>(jar: &'a [(String, String)], kind: &str) -> &'a (String, String) {
    jar.iter().find(|(name, _)| name.contains(&format!("_{kind}_"))).expect("the cookie")
}

/// With these cookies and no others.
fn refresh(base: &str, (name, value): &(String, String)) -> Option<(String, String)> {
    let url = format!("{base}/api/v1/auth/refresh");
    let answer = agent().post(url).header("cookie", format!("{name}={value}")).send_empty().unwrap();
    let set = answer.headers().get_all("set-cookie").iter().filter_map(|one| one.to_str().ok());
    let next = set.filter_map(|one| one.strip_prefix(&format!("{name}="))).next();
    let next = next.map(|rest| (name.clone(), rest.split(';').next().unwrap().to_owned()));
    next.filter(|_| answer.status().as_u16() == 200)
}

fn me_with(base: &str, name: &str, value: &str) -> u16 {
    let asked = agent().get(format!("{base}/api/v1/auth/me"));
    asked.header("cookie", format!("{name}={value}")).call().unwrap().status().as_u16()
}

/// Nobody writes above themselves under another's ids; beside it a tablet's evening: three people, one after the other,
/// without a network, sent by whoever is there last.
#[test]
fn another_persons_ids_make_nobody_more_and_the_tablets_evening_comes_in() {
    let (shop, mut admin) = Shop::start();
    let tablet = agent();
    let mut rosa = shop.add(&mut admin, "Rosa Quintal", "admin", tablet.clone());
    let teo = shop.add(&mut admin, "Teo Salgado", "technician", tablet.clone());
    let order =
        admin.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let mut forged = rosa.op("set_person", json!({"person": person(teo.id.0, "Teo Salgado", "admin")}));
    forged["device_at"] = json!(rosa.clock.now() - 60_000);
    let (status, said) = brings(&teo, &rosa, vec![forged]);
    assert_eq!((status, &said["held"]["from_n"], &said["results"]), (200, &json!(1), &json!([])), "{said}");
    assert_eq!(teo.get("/api/v1/auth/me").1["role"], "technician");

    let mut evening: Vec<User> = ["Ines Duarte", "Ugo Brandt", "Ada Brandt"]
        .map(|name| shop.add(&mut admin, name, "technician", tablet.clone()))
        .into();
    let made: Vec<(usize, Vec<Value>)> = (0..3)
        .map(|n| {
            let note = |text: &str| json!({"order": order, "body": text});
            let (one, two) =
                (evening[n].op("note", note("left side")), evening[n].op("note", note("right side")));
            (n, vec![one, two])
        })
        .collect();
    for (n, ops) in made {
        let (status, said) = brings(&evening[2], &evening[n], ops);
        let verdicts: Vec<&Value> =
            said["results"].as_array().into_iter().flatten().map(|one| &one["verdict"]).collect();
        assert_eq!((status, verdicts), (200, vec![&json!("applied"); 2]), "{said}");
    }
}

/// A new password ends the sign-in; what was made in it goes out whole at the next one.
#[test]
fn what_was_made_before_a_sign_in_ended_is_not_lost() {
    let (shop, mut admin) = Shop::start();
    let browser = agent();
    let mut greta = shop.add(&mut admin, "Greta Amsel", "planner", browser.clone());
    assert_eq!(greta.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let opened = greta.op("open_order", json!({"number": "2042", "vehicle": "blue van"}));
    let elsewhere = shop.by_password("Greta Amsel", agent());
    let new = json!({"password": "gravel piano umbrella", "current": PASSWORD, "end_others": true});
    assert_eq!(elsewhere.post("/api/v1/auth/set_password", new).0, 204);
    assert_eq!(greta.push(vec![opened.clone()]).0, 401);
    let said = json!({"name": "Greta Amsel", "password": "gravel piano umbrella"});
    let (status, _) = post(&browser, &shop.base, "auth/password", said);
    assert_eq!(status, 200);
    assert_eq!(greta.post("/api/v1/auth/client", json!({"client": greta.client})).0, 200);
    assert_eq!(greta.push(vec![opened]).1["results"][0]["verdict"], "applied");
}

#[test]
fn who_says_to_be_the_tablet_is_not_and_a_face_closes_alone() {
    let (shop, mut admin) = Shop::start();
    let tablet = agent();
    let mara = shop.add(&mut admin, "Mara Lindqvist", "manager", tablet.clone());
    assert_eq!(mara.post("/api/v1/auth/pin", json!({"pin": "4711"})).0, 204);
    let teo = shop.add(&mut admin, "Teo Salgado", "technician", tablet.clone());
    assert_eq!(teo.post("/api/v1/auth/pin", json!({"pin": "8264"})).0, 204);
    let switch = |agent: &Agent, to: &User, pin: &str| {
        let said = json!({"person": to.id, "pin": pin, "browser": Uuid::from_u128(7)});
        post(agent, &shop.base, "auth/switch", said).0
    };
    assert_eq!(switch(&agent(), &mara, "4711"), 401, "a laptop that says it is the tablet");
    assert_eq!(switch(&tablet, &mara, "4711"), 200);
    assert_eq!(admin.post("/api/v1/auth/pin", json!({"pin": "4711"})).1["code"], "no_pin");
    for _ in 0..11 {
        assert_eq!(switch(&tablet, &mara, "0000"), 401);
    }
    assert_eq!(switch(&tablet, &mara, "4711"), 401, "closed, also for the right one");
    assert_eq!(switch(&tablet, &teo, "8264"), 200, "others go on");
}

fn open_to_others(path: &Path, found: &mut Vec<PathBuf>) {
    // What the server that runs has taken away meanwhile is open to nobody.
    let Ok(about) = std::fs::symlink_metadata(path) else { return };
    if about.permissions().mode() & 0o077 != 0 {
        found.push(path.to_owned());
    }
    if about.is_dir() {
        std::fs::read_dir(path).unwrap().for_each(|entry| open_to_others(&entry.unwrap().path(), found));
    }
}

/// Whose output goes into a log finds no link there: the link lies in a file of the owner's alone, until it is used.
#[test]
fn the_first_link_is_on_a_screen_or_in_a_file_of_the_owners_and_nowhere_else() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let log = dir.path().join("log");
    let mut child = process::serve(&data).stdout(std::fs::File::create(&log).unwrap()).spawn().unwrap();
    let kept = data.join("first-link");
    let link = crate::support::wait_for("the first link", || {
        std::fs::read_to_string(&kept).ok().filter(|link| link.ends_with('\n'))
    });
    crate::support::wait_for("where it is", || {
        let said = std::fs::read_to_string(&log).unwrap();
        said.contains(&format!("is in {}", kept.display())).then_some(())
    });
    assert!(!std::fs::read_to_string(&log).unwrap().contains("join="));
    assert_eq!(std::fs::metadata(&kept).unwrap().permissions().mode() & 0o777, 0o600);
    let mut found = Vec::new();
    open_to_others(&data, &mut found);
    assert_eq!(found, Vec::<PathBuf>::new());
    let (base, token) = link.trim().split_once("/#join=").unwrap();
    let base = base.replace("localhost", "127.0.0.1");
    assert_eq!(post(&agent(), &base, "auth/join", json!({"token": token})).0, 200);
    child.kill().unwrap();
    child.wait().unwrap();
    let (server, _) = Server::start(&mut process::serve(&data), false);
    crate::support::wait_for("the used link to be taken away", || (!kept.exists()).then_some(()));
    server.kill();
}

/// With a terminal (script, of Debian's util-linux, makes one) it stands on it, and in no file.
#[test]
fn on_a_terminal_the_first_link_is_shown() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let shown = dir.path().join("shown");
    let binary = process::binary().get_program().to_string_lossy().into_owned();
    let run = format!("exec {binary} serve --listen 127.0.0.1:0 --data {}", data.display());
    let mut child = std::process::Command::new("script")
        .args(["-q", "-f", "-c", &run])
        .arg(&shown)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    crate::support::wait_for("the link on the screen", || {
        std::fs::read_to_string(&shown).ok()?.contains("/#join=").then_some(())
    });
    assert!(!data.join("first-link").exists());
    child.kill().unwrap();
    child.wait().unwrap();
}

/// A stranger's wrong passwords keep nobody out of a browser of their own; the person is told.
#[test]
fn a_guesser_waits_and_its_victim_does_not() {
    let (shop, mut admin) = Shop::start();
    let own = agent();
    let mara = shop.add(&mut admin, "Mara Lindqvist", "manager", own.clone());
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let guess = json!({"name": "Mara Lindqvist", "password": "not this one at all"});
    let stranger = agent();
    let answers: Vec<u16> =
        (0..12).map(|_| post(&stranger, &shop.base, "auth/password", guess.clone()).0).collect();
    assert_eq!((answers[9], answers[10], answers[11]), (401, 429, 429), "{answers:?}");
    assert_eq!(shop.by_password("Mara Lindqvist", own).id, mara.id);
    assert!(mara.get("/api/v1/auth/tried").1["count"].as_u64().unwrap() >= 5);
}

/// A copy in step with its owner is seen; an answer that was lost is given again; no token is another kind's.
#[test]
fn copies_of_tokens_are_seen_and_lost_answers_are_not() {
    let (shop, mut admin) = Shop::start();
    let teo = shop.add(&mut admin, "Teo Salgado", "technician", agent());
    let link = || admin.post("/api/v1/auth/invite", json!({"person": teo.id})).1["token"].clone();
    let jar = cookies(&agent(), &shop.base, "auth/join", json!({"token": link()}));
    let (access, first) = (of_kind(&jar, "access"), of_kind(&jar, "refresh"));
    assert_eq!(me_with(&shop.base, &access.0, &access.1), 200);
    assert_eq!(me_with(&shop.base, &access.0, &first.1), 401, "a refresh token is no access token");
    assert_eq!(refresh(&shop.base, &(first.0.clone(), access.1.clone())), None, "nor the other way about");
    let bearer = agent().get(format!("{}/api/v1/auth/me", shop.base));
    let bearer = bearer.header("authorization", format!("Bearer {}", first.1)).call().unwrap();
    assert_eq!(bearer.status().as_u16(), 401);
    let lost = refresh(&shop.base, first).unwrap();
    let again = refresh(&shop.base, first).expect("the answer was lost");
    assert_ne!(lost, again);
    let owner = refresh(&shop.base, &again).unwrap();
    assert_eq!(refresh(&shop.base, &lost), None, "a copy");
    assert_eq!(refresh(&shop.base, &owner), None, "nobody can tell who is who");
    let seen = admin.get("/api/v1/security").1["happened"].as_array().unwrap().clone();
    assert!(seen.iter().any(|one| one["what"] == "token_reused"), "{seen:?}");
}

#[test]
fn who_was_removed_stays_out_also_after_coming_back() {
    let (shop, mut admin) = Shop::start();
    let mara = shop.add(&mut admin, "Mara Lindqvist", "manager", agent());
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let (_, spare) = admin.post("/api/v1/auth/invite", json!({"person": mara.id}));
    let mut retired = person(mara.id.0, "Mara Lindqvist", "manager");
    retired["retired"] = json!(true);
    admin.done("set_person", json!({"person": retired}));
    admin.done("set_person", json!({"person": person(mara.id.0, "Mara Lindqvist", "manager")}));
    assert_eq!(mara.get("/api/v1/auth/me").0, 401);
    let said = json!({"name": "Mara Lindqvist", "password": PASSWORD});
    assert_eq!(post(&agent(), &shop.base, "auth/password", said).0, 401);
    assert_eq!(post(&agent(), &shop.base, "auth/join", json!({"token": spare["token"]})).0, 410);
    let (_, link) = admin.post("/api/v1/auth/invite", json!({"person": mara.id}));
    let back = shop.join(link["token"].as_str().unwrap(), agent());
    assert_eq!(back.post("/api/v1/auth/set_password", json!({"password": "password12"})).0, 422);
    assert_eq!(back.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
}

#[test]
fn other_pages_and_forged_names_reach_nothing() {
    let (shop, mut admin) = Shop::start();
    let teo = shop.add(&mut admin, "Teo Salgado", "technician", agent());
    let me = |name: &str, value: &str| {
        let asked = teo.agent.get(format!("{}/api/v1/auth/me", shop.base));
        asked.header(name, value).call().unwrap().status().as_u16()
    };
    assert_eq!((me("Sec-Fetch-Site", "same-origin"), me("Origin", &shop.base)), (200, 200));
    assert_eq!((me("Sec-Fetch-Site", "same-site"), me("Origin", "http://127.0.0.1:1")), (403, 403));
    let link = |name: &str| {
        let asked = admin.agent.post(format!("{}/api/v1/auth/invite", shop.base)).header(name, "evil.test");
        let body = asked.send_json(json!({"person": teo.id})).unwrap().body_mut().read_json::<Value>();
        body.unwrap()["link"].as_str().unwrap().to_owned()
    };
    for name in ["X-Forwarded-Host", "Host"] {
        assert!(!link(name).contains("evil.test"), "{name}");
    }
    let push = |kind: &str| {
        let body = json!({"epoch": teo.epoch, "client": teo.client, "device_now": 0, "ops": []}).to_string();
        let asked = teo.agent.post(format!("{}/api/v1/sync/push", shop.base)).header("Content-Type", kind);
        asked.send(body).unwrap().status().as_u16()
    };
    assert_eq!((push("text/plain"), push("application/json")), (415, 200));
}

#[test]
fn links_are_touched_and_made_for_who_may_less() {
    let (shop, mut admin) = Shop::start();
    let mara = shop.add(&mut admin, "Mara Lindqvist", "manager", agent());
    let rosa = shop.add(&mut admin, "Rosa Quintal", "admin", agent());
    let invite = |by: &User, whom: &User| by.post("/api/v1/auth/invite", json!({"person": whom.id}));
    assert_eq!(invite(&mara, &rosa).0, 403);
    let (status, link) = invite(&admin, &rosa);
    assert_eq!(status, 200);
    assert_eq!(rosa.get("/api/v1/auth/tried").1["told"][0]["what"], "link", "she is told");
    let token = json!({"token": link["token"]});
    let looked = post(&agent(), &shop.base, "auth/look", token.clone());
    assert_eq!((looked.0, &looked.1["name"]), (200, &json!("Rosa Quintal")));
    assert_eq!(post(&agent(), &shop.base, "auth/join", token.clone()).0, 200);
    assert_eq!(post(&agent(), &shop.base, "auth/join", token).0, 410);
    assert_eq!((mara.get("/api/v1/security").0, rosa.get("/api/v1/security").0), (403, 200));
}

#[test]
fn a_passkey_opens_at_its_own_server_once() {
    let (mut shop, mut admin) = Shop::start();
    shop.base = shop.base.replace("127.0.0.1", "localhost");
    let mara = shop.add(&mut admin, "Mara Lindqvist", "manager", agent());
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let mut key = Authenticator::new(7, mara.id);
    let (_, wanted) = mara.post("/api/v1/auth/passkeys/begin", json!({"password": PASSWORD}));
    let made = key.made(&wanted["challenge"], &Ways::at(&shop.base, "webauthn.create"), "Laptop");
    assert_eq!(mara.post("/api/v1/auth/passkeys", made).0, 200);
    let right = Ways::at(&shop.base, "webauthn.get");
    let browser = agent();
    let challenge = || post(&browser, &shop.base, "auth/passkey/begin", json!({})).1["challenge"].clone();
    let mut elsewhere = right.clone();
    elsewhere.origin = "https://evil.test".into();
    let phished = key.sign(&challenge(), &elsewhere);
    assert_eq!(post(&browser, &shop.base, "auth/passkey", phished).0, 401);
    let answer = key.sign(&challenge(), &right);
    let (status, me) = post(&browser, &shop.base, "auth/passkey", answer.clone());
    assert_eq!((status, &me["person"]), (200, &json!(mara.id)));
    assert_eq!(post(&browser, &shop.base, "auth/passkey", answer).0, 401, "a second time");
}

/// The backup is put back: who came in before it goes on, who came in after it signs in again and loses nothing.
#[test]
fn after_a_restore_the_sign_ins_of_the_backup_stand_and_no_later_one() {
    let (mut shop, mut admin) = Shop::start();
    let teo = shop.add(&mut admin, "Teo Salgado", "technician", agent());
    let order =
        admin.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let link = |admin: &User| admin.post("/api/v1/auth/invite", json!({"person": teo.id})).1["token"].clone();
    let before = cookies(&agent(), &shop.base, "auth/join", json!({"token": link(&admin)}));
    let backup = shop.dir.path().join("backup");
    let run = |args: &[&str]| {
        let out = process::binary().args(args).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    };
    let text = |path: &Path| path.to_str().unwrap().to_owned();
    shop.server.take().unwrap().kill();
    run(&["backup", "--data", &text(&shop.data()), &text(&backup)]);
    let (server, _) = Server::start(&mut process::serve(&shop.data()), false);
    shop.base = server.base.clone();
    admin.base = server.base.clone();
    shop.server = Some(server);
    let later = agent();
    let ines = shop.add(&mut admin, "Ines Duarte", "technician", later);
    let after = cookies(&agent(), &shop.base, "auth/join", json!({"token": link(&admin)}));
    shop.server.take().unwrap().kill();
    let restored = shop.dir.path().join("restored");
    run(&["restore", "--data", &text(&restored), &text(&backup)]);
    let (server, _) = Server::start(&mut process::serve(&restored), false);
    let base = server.base.clone();
    shop.server = Some(server);
    assert!(refresh(&base, of_kind(&before, "refresh")).is_some());
    assert_eq!(refresh(&base, of_kind(&after, "refresh")), None, "nobody knows whether it was ended since");
    let asked = ines.agent.get(format!("{base}/api/v1/auth/me")).call().unwrap();
    assert_eq!(asked.status().as_u16(), 401, "not of this shop any more");
    // The vehicle is there, and work goes on.
    let jar = refresh(&base, of_kind(&before, "refresh")).expect("a lost answer is given again");
    assert!(!jar.1.is_empty());
    let access = of_kind(&before, "access");
    let pulled = agent().get(format!("{base}/api/v1/sync/pull?after=0"));
    let mut pulled = pulled.header("cookie", format!("{}={}", access.0, access.1)).call().unwrap();
    assert!(pulled.body_mut().read_to_string().unwrap().contains(&order));
}
