//! A whole shop in one process, with people to act in it. Tests never sleep: an answer is durable when
//! it comes, and what comes later is waited for by asking.
#![allow(dead_code)] // each test target uses its part

use std::net::TcpListener;
use std::sync::{Arc, mpsc};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use domain::Ms;
use domain::calendar::instant;
use domain::ids::{DepartmentId, PersonId};
use domain::stored::{Act, Person, Role};
use jiff::tz::TimeZone;
use planner::keeper::leave;
use serde_json::{Value, json};
use store::{Memory, Store};
use tls::door::Door;
use turnbuckle::auth;
use turnbuckle::clock::Clock;
use turnbuckle::notify::Smtp;
use turnbuckle::serve::{accepted, open_store, start};
use turnbuckle::shop::{OwnOp, Shop as Opened};
use ureq::http::Response;
use ureq::{Agent, Body};
use uuid::Uuid;

pub struct Shop {
    pub opened: Arc<Opened>,
    pub base: String,
    pub clock: Clock,
    stop: Option<(actix_web::dev::ServerHandle, JoinHandle<()>)>,
}

/// A Monday in the middle of the morning, in the shop's zone.
pub fn monday() -> Ms {
    let zone = TimeZone::get("America/Chicago").unwrap();
    instant("2026-06-01".parse().unwrap(), 9 * 60, &zone).unwrap()
}

impl Shop {
    pub fn start() -> Self {
        Self::start_with(Arc::new(Memory::new(7)), Clock::at(monday()), None)
    }

    pub fn start_with(store: Arc<dyn Store>, clock: Clock, smtp: Option<Smtp>) -> Self {
        Self::start_at(&Door::plain("127.0.0.1:0"), store, clock, smtp)
    }

    /// Behind a proxy of this machine that does HTTPS under a name.
    pub fn start_behind_proxy() -> Self {
        let door = Door {
            address: Some("https://shop.example".into()),
            trusted: vec!["127.0.0.1".parse().unwrap()],
            ..Door::plain("127.0.0.1:0")
        };
        Self::start_at(&door, Arc::new(Memory::new(7)), Clock::at(monday()), None)
    }

    pub fn start_at(door: &Door, store: Arc<dyn Store>, clock: Clock, smtp: Option<Smtp>) -> Self {
        let opened = open_store(store, clock.clone()).unwrap();
        if opened.view().head.seq == 0 {
            let mut acts = starter::library();
            acts.push(starter::shop("Two Rivers Body", "America/Chicago", "en"));
            accepted(opened.own_now(acts.into_iter().map(OwnOp::system).collect()).unwrap()).unwrap();
        }
        let (told, hear) = mpsc::channel();
        let (serving, mut door) = (opened.clone(), door.clone());
        if door.address.is_some() {
            // Tests must find the port behind the proxy.
            let free = TcpListener::bind(&door.listen).unwrap().local_addr().unwrap();
            door.listen = free.to_string();
        }
        let there = door.address.as_ref().map(|_| format!("http://{}", door.listen));
        let thread = std::thread::spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let running = start(serving, &door, smtp).unwrap();
                told.send((running.address.replace("localhost", "127.0.0.1"), running.server.handle()))
                    .unwrap();
                let (plan, shop) = (running.app.plan.clone(), running.app.shop.clone());
                running.server.await.unwrap();
                leave(&shop, &plan.borrow());
            });
        });
        let (base, handle) = hear.recv().unwrap();
        let base = there.unwrap_or(base);
        Self { opened, base, clock, stop: Some((handle, thread)) }
    }

    /// Signs somebody up and in.
    pub fn user(&self, name: &str, department: &str, role: Role) -> User {
        let id = PersonId(Uuid::now_v7());
        let person = Person {
            id,
            name: name.into(),
            department: DepartmentId::from(department),
            also: Vec::new(),
            role,
            language: "en".into(),
            qualifications: Default::default(),
            calendar: None,
            away: Vec::new(),
            retired: false,
            retired_at: None,
            erased_at: None,
        };
        accepted(self.opened.own_now(vec![OwnOp::system(Act::SetPerson { person })]).unwrap()).unwrap();
        self.sign_in(id)
    }

    pub fn sign_in(&self, id: PersonId) -> User {
        self.sign_in_on(id, None, agent())
    }

    /// What a browser shows that this server has met before.
    pub fn browser_cookie(&self, browser: Uuid) -> String {
        let access = self.opened.control.read();
        let id = access.identity.as_ref().unwrap().id[..8].to_owned();
        format!("turnbuckle_browser_{id}={}", auth::browser::mark(&access.key, browser))
    }

    /// On a browser that has a name, with the cookies of `agent`.
    pub fn sign_in_on(&self, id: PersonId, browser: Option<Uuid>, agent: Agent) -> User {
        let (token, _) = auth::invite(&self.opened, id, id, false).unwrap();
        let url = format!("{}/api/v1/auth/join", self.base);
        let asked = json!({"token": token, "device": "test"});
        let mut request = agent.post(&url);
        if let Some(browser) = browser {
            request = request.header("cookie", self.browser_cookie(browser));
        }
        let mut answer = request.send_json(asked).unwrap();
        let signed_in: Value = answer.body_mut().read_json().unwrap();
        User {
            agent,
            base: self.base.clone(),
            id,
            client: signed_in["client"].as_str().unwrap().into(),
            session: signed_in["session"].as_str().unwrap().into(),
            epoch: signed_in["epoch"].as_str().unwrap().into(),
            n: 0,
            clock: self.clock.clone(),
        }
    }

    /// A document as everybody may read it.
    pub fn doc(&self, key: &str) -> Value {
        let doc =
            self.opened.tables().unwrap().doc(key).unwrap().unwrap_or_else(|| panic!("no document {key}"));
        serde_json::from_slice(&doc.body.unwrap()).unwrap()
    }
}

impl Drop for Shop {
    fn drop(&mut self) {
        if let Some((handle, thread)) = self.stop.take() {
            drop(handle.stop(false));
            let _ = thread.join();
        }
        // As at the end of the process: nothing of this start goes on writing beside the next one.
        self.opened.close();
    }
}

pub fn agent() -> Agent {
    Agent::config_builder()
        .http_status_as_error(false)
        .timeout_global(Some(Duration::from_secs(20)))
        .build()
        .into()
}

/// One person on one phone.
pub struct User {
    pub agent: Agent,
    pub base: String,
    pub id: PersonId,
    pub client: String,
    pub session: String,
    pub epoch: String,
    pub n: u64,
    pub clock: Clock,
}

impl User {
    /// An operation as a phone would make it now, not sent.
    pub fn op(&mut self, kind: &str, args: Value) -> Value {
        self.n += 1;
        json!({
            "n": self.n, "id": Uuid::now_v7(), "session": self.session, "v": 1, "kind": kind, "args": args,
            "device_at": self.clock.now(), "seen": 0
        })
    }

    pub fn push(&self, ops: Vec<Value>) -> (u16, Value) {
        self.post(
            "/api/v1/sync/push",
            json!({"epoch": self.epoch, "client": self.client, "device_now": self.clock.now(), "ops": ops}),
        )
    }

    /// Does one thing and returns its verdict; panics unless the push itself went through.
    pub fn act(&mut self, kind: &str, args: Value) -> Value {
        let op = self.op(kind, args);
        let (status, body) = self.push(vec![op.clone()]);
        assert_eq!(status, 200, "{body}");
        let mut result = body["results"][0].clone();
        result["id"] = op["id"].clone();
        result
    }

    /// The same, for what must go through; returns the id.
    pub fn done(&mut self, kind: &str, args: Value) -> String {
        let result = self.act(kind, args);
        assert_eq!(result["verdict"], "applied", "{kind}: {result}");
        result["id"].as_str().unwrap().into()
    }

    pub fn get(&self, path: &str) -> (u16, Value) {
        self.fresh(|| self.agent.get(self.url(path)).call().unwrap())
    }

    pub fn post(&self, path: &str, body: Value) -> (u16, Value) {
        self.fresh(|| self.agent.post(self.url(path)).send_json(&body).unwrap())
    }

    pub fn put(&self, path: &str, body: Value) -> (u16, Value) {
        self.fresh(|| self.agent.put(self.url(path)).send_json(&body).unwrap())
    }

    pub fn delete(&self, path: &str) -> (u16, Value) {
        self.fresh(|| self.agent.delete(self.url(path)).call().unwrap())
    }

    fn url(&self, path: &str) -> String {
        format!("{}{path}", self.base)
    }

    /// As the app does: when the access token has run out, refresh once and ask again.
    fn fresh(&self, send: impl Fn() -> Response<Body>) -> (u16, Value) {
        let answer = read(send());
        let ran_out = answer.0 == 401
            && self.agent.post(self.url("/api/v1/auth/refresh")).send_empty().unwrap().status().as_u16()
                == 200;
        if ran_out { read(send()) } else { answer }
    }

    pub fn notices(&self) -> Vec<Value> {
        self.get("/api/v1/notices").1["notices"].as_array().unwrap().clone()
    }

    /// The plan, once it satisfies `fits`; the planner follows changes within seconds.
    pub fn plan(&self, fits: impl Fn(&Value) -> bool) -> Value {
        wait_for("a plan", || {
            let plan = self.get("/api/v1/sync/pull?after=0").1["plan"].clone();
            fits(&plan).then_some(plan)
        })
    }
}

/// Asks until there is an answer; fails after a time no healthy run needs.
pub fn wait_for<T>(what: &str, mut ask: impl FnMut() -> Option<T>) -> T {
    let end = Instant::now() + Duration::from_secs(30);
    loop {
        if let Some(found) = ask() {
            return found;
        }
        assert!(Instant::now() < end, "{what} did not come");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn read(mut answer: Response<Body>) -> (u16, Value) {
    let status = answer.status().as_u16();
    let text = answer.body_mut().read_to_string().unwrap_or_default();
    (status, serde_json::from_str(&text).unwrap_or(Value::String(text)))
}
