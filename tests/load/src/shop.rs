//! The load shop: 60 vehicles, 800 cards, a person on every phone; and what each does next.
//!
//! Mix: 40 % note, 25 start or pause, 15 take (a third meets a card that is taken), 12 finish,
//! 5 condition, 3 ask. The phones draw from a generator of their own, so that a run can be repeated.

use std::time::{SystemTime, UNIX_EPOCH};

use serde_json::{Value, json};
use uuid::Uuid;

use crate::http::Connection;

const VEHICLES: usize = 60;
const CARDS: usize = 800;
/// How many of these somebody without a phone here has taken already.
const GONE: usize = 20;

pub struct Load {
    pub phones: Vec<Phone>,
    pub work: Work,
}

/// What there is to work on.
pub struct Work {
    orders: Vec<String>,
    cards: Vec<String>,
    /// Taken before the phones begin, for the takes that come too late.
    gone: Vec<String>,
}

pub struct Phone {
    pub cookie: String,
    me: Value,
    n: u64,
    dice: u64,
    number: usize,
    phones: usize,
    running: Option<usize>,
    taken: usize,
}

/// Somebody who prepares the shop.
struct Hand {
    connection: Connection,
    me: Value,
    n: u64,
}

impl Hand {
    fn push(&mut self, acts: Vec<(String, Value)>) {
        for acts in acts.chunks(100) {
            let ops: Vec<Value> = acts
                .iter()
                .map(|(kind, args)| {
                    self.n += 1;
                    let id = args["id"].as_str().map_or_else(|| Uuid::new_v4().to_string(), str::to_owned);
                    json!({"n": self.n, "id": id, "session": self.me["session"], "kind": kind, "args": args["args"], "device_at": now_ms()})
                })
                .collect();
            let body = json!({"epoch": self.me["epoch"], "client": self.me["client"], "device_now": now_ms(), "ops": ops});
            let answer = self.connection.send("POST", "/api/v1/sync/push", Some(&body)).expect("an answer");
            let refused = answer.body["results"]
                .as_array()
                .and_then(|r| r.iter().find(|r| r["verdict"] == "refused").cloned());
            assert!(answer.status == 200 && refused.is_none(), "{} {refused:?}", answer.status);
        }
    }
}

fn join(host: &str, token: &str) -> (Connection, Value) {
    let mut connection = Connection::open(host).expect("a connection");
    let answer = connection
        .send("POST", "/api/v1/auth/join", Some(&json!({"token": token, "device": "load"})))
        .expect("an answer");
    assert!(answer.status == 200 && !answer.cookies.is_empty(), "{}", answer.body);
    (connection, answer.body)
}

fn now_ms() -> u64 {
    SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_millis() as u64)
}

pub fn set_up(host: &str, token: &str, phones: usize) -> Load {
    let (connection, me) = join(host, token);
    let mut admin = Hand { connection, me, n: 0 };
    let ids = |count: usize| -> Vec<String> { (0..count).map(|_| Uuid::new_v4().to_string()).collect() };
    // Order numbers are unique in a shop, and this one may have seen a load before.
    let run = &Uuid::new_v4().simple().to_string()[..6];
    let (people, orders, mut cards) = (ids(phones + 1), ids(VEHICLES), ids(CARDS));
    let person = |(number, id): (usize, &String)| {
        let person =
            json!({"id": id, "name": format!("Load {number}"), "department": "body", "role": "technician"});
        ("set_person".to_owned(), json!({"args": {"person": person}}))
    };
    admin.push(people.iter().enumerate().map(person).collect());
    let order = |(number, id): (usize, &String)| {
        (
            "open_order".to_owned(),
            json!({"id": id, "args": {"number": format!("L{run}-{number}"), "vehicle": "grey wagon", "stage": "authorised"}}),
        )
    };
    admin.push(orders.iter().enumerate().map(order).collect());
    let card = |(number, id): (usize, &String)| {
        let args = json!({"order": orders[number % VEHICLES], "department": "body", "title": {"text": "Repair panel"},
                          "planned_minutes": 45, "beside": true});
        ("add_card".to_owned(), json!({"id": id, "args": args}))
    };
    admin.push(cards.iter().enumerate().map(card).collect());
    let gone = cards.split_off(CARDS - GONE);
    let mut signed_in = Vec::new();
    for (number, person) in people.iter().enumerate() {
        let answer = admin
            .connection
            .send("POST", "/api/v1/auth/invite", Some(&json!({"person": person})))
            .expect("an answer");
        let (connection, me) = join(host, answer.body["token"].as_str().expect("a token"));
        if number == phones {
            let takes = gone.iter().map(|card| ("take".to_owned(), json!({"args": {"card": card}})));
            Hand { connection, me, n: 0 }.push(takes.collect());
            break;
        }
        signed_in.push(Phone {
            cookie: connection.cookie().to_owned(),
            me,
            n: 0,
            dice: 0x9e37_79b9_7f4a_7c15 ^ (number as u64 + 1),
            number,
            phones,
            running: None,
            taken: 0,
        });
    }
    Load { phones: signed_in, work: Work { orders, cards, gone } }
}

impl Phone {
    pub fn client(&self) -> &str {
        self.me["client"].as_str().unwrap_or_default()
    }

    fn throw(&mut self, sides: u64) -> u64 {
        self.dice ^= self.dice << 13;
        self.dice ^= self.dice >> 7;
        self.dice ^= self.dice << 17;
        self.dice % sides
    }

    /// The next operation, with its id and kind.
    pub fn next(&mut self, work: &Work) -> (String, &'static str, Value) {
        let order = work.orders[self.throw(work.orders.len() as u64) as usize].clone();
        // Cards are dealt out, so that two of three takes succeed; the third comes too late.
        let own =
            |phone: &Self| phone.number + phone.phones * (phone.taken % (work.cards.len() / phone.phones));
        let (kind, args) = match self.throw(100) {
            0..40 => (
                "note",
                json!({"order": order, "body": "Rail seam cleaned, primer on, photo follows after the break"}),
            ),
            40..65 => match self.running.take() {
                Some(card) => ("pause", json!({"card": work.cards[card], "why": "other_work"})),
                None => {
                    let card = own(self);
                    self.running = Some(card);
                    ("start", json!({"card": work.cards[card]}))
                }
            },
            65..80 => {
                let card = if self.throw(3) == 0 {
                    &work.gone[self.throw(GONE as u64) as usize]
                } else {
                    self.taken += 1;
                    &work.cards[own(self)]
                };
                ("take", json!({"card": card}))
            }
            80..92 => {
                let card = self.running.take().unwrap_or_else(|| own(self));
                self.taken += 1;
                ("finish", json!({"card": work.cards[card]}))
            }
            92..97 => ("condition", json!({"order": order, "change": {"rolls": self.throw(2) == 0}})),
            _ => ("ask", json!({"order": order, "routing": "suspension-down-rear", "from": "body"})),
        };
        self.n += 1;
        let id = Uuid::new_v4().to_string();
        let op = json!({"n": self.n, "id": id, "session": self.me["session"], "kind": kind, "args": args, "device_at": now_ms()});
        let push = json!({"epoch": self.me["epoch"], "client": self.me["client"], "device_now": now_ms(), "ops": [op]});
        (id, kind, push)
    }
}
