//! A mail server that is down, or takes a connection and never says a word, stops nothing but mail (OWASP ASVS 5.0.0,
//! 16.5.2).

use std::net::TcpListener;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use domain::stored::Role;
use serde_json::json;
use store::Memory;
use turnbuckle::clock::Clock;
use turnbuckle::notify::{Smtp, Tls};

use crate::support::{Shop, monday, wait_for};

fn with_mail_at(port: u16) -> Shop {
    let smtp = Smtp {
        host: "127.0.0.1".into(),
        port,
        user: None,
        password: None,
        from: "Shop <shop@shop.example>".into(),
        tls: Tls::None,
        link: String::new(),
    };
    Shop::start_with(Arc::new(Memory::new(1)), Clock::at(monday()), Some(smtp))
}

/// Somebody is asked for something, and everybody works on while their mail does not go out. The slowest answer.
fn works_on(shop: &Shop, meanwhile: impl FnOnce()) -> Duration {
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let mut body = shop.user("Tomas Okafor", "body", Role::Technician);
    let mechanic = shop.user("Ines Duarte", "mechanical", Role::Technician);
    let contact = json!({"email": "i.duarte@shop.example", "mail": true});
    assert_eq!(manager.put(&format!("/api/v1/people/{}/contact", mechanic.id), contact).0, 200);
    let order =
        manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    body.done("ask", json!({"order": order, "routing": "suspension-down-rear", "from": "body"}));
    meanwhile();
    let mut slowest = Duration::ZERO;
    for n in 0..20 {
        let began = Instant::now();
        body.done("note", json!({"order": order, "body": format!("note {n}")}));
        assert!(
            mechanic.notices().iter().any(|notice| notice["kind"] == "asked"),
            "told in the app all the same"
        );
        assert_eq!(manager.get("/readyz").0, 200);
        slowest = slowest.max(began.elapsed());
    }
    slowest
}

#[test]
fn a_mail_server_that_says_nothing_or_is_down_stops_only_mail() {
    let silent = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = silent.local_addr().unwrap().port();
    let taken = Arc::new(AtomicUsize::new(0));
    let count = taken.clone();
    std::thread::spawn(move || {
        let mut held = Vec::new();
        for stream in silent.incoming() {
            held.push(stream);
            count.fetch_add(1, Ordering::SeqCst);
        }
    });
    let shop = with_mail_at(port);
    // Not before the server waits for the first word of it.
    let waits = || wait_for("the mail to be tried", || (taken.load(Ordering::SeqCst) > 0).then_some(()));
    let slowest = works_on(&shop, waits);
    assert!(slowest < Duration::from_secs(2), "{slowest:?}");
    drop(shop);
    // Nobody listens there any more.
    let gone = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let shop = with_mail_at(gone);
    let slowest = works_on(&shop, || std::thread::sleep(Duration::from_secs(4)));
    assert!(slowest < Duration::from_secs(2), "{slowest:?}");
}
