use super::*;

fn at(seq: u64, idx: u32) -> NoticeAt {
    NoticeAt { seq, idx }
}

#[test]
fn the_cursor_passes_only_what_is_done_and_remembers_what_went_ahead() {
    let rows = [at(3, 0), at(3, 1), at(5, 0), at(9, 0)];
    let mut cursor = Cursor::default();
    // An urgent one overtakes two that wait for the morning.
    cursor.done(rows[2], &rows);
    assert_eq!((cursor.place(), cursor.ahead.len()), (at(0, 0), 1));
    assert!(cursor.is_done(rows[2]) && !cursor.is_done(rows[0]));
    cursor.done(rows[0], &rows);
    assert_eq!(cursor.place(), rows[0]);
    cursor.done(rows[1], &rows);
    assert_eq!((cursor.place(), cursor.ahead.len()), (rows[2], 0));
    assert!(!cursor.is_done(rows[3]));
}

#[test]
fn a_message_id_is_the_same_for_every_try_and_another_for_every_notice() {
    let person = PersonId(uuid::Uuid::from_u128(5));
    assert_eq!(message_id(1, person, at(7, 0)), message_id(1, person, at(7, 0)));
    let others =
        [message_id(2, person, at(7, 0)), message_id(1, person, at(7, 1)), message_id(1, person, at(70, 0))];
    assert!(others.iter().all(|other| *other != message_id(1, person, at(7, 0))));
}

#[test]
fn tries_come_less_and_less_often() {
    let waits: Vec<u64> = (0..12).map(|tries| backoff(tries).as_secs()).collect();
    assert_eq!(waits[..4], [5, 10, 20, 40]);
    assert_eq!(*waits.last().unwrap(), 900);
}

#[test]
fn the_configuration_refuses_what_it_does_not_know_and_hides_the_password() {
    let read = |text: &str| toml::from_str::<Smtp>(text);
    let smtp =
        read("host = 'mail.example.test'\nfrom = 'shop@example.test'\nuser = 'u'\npassword = 'secret'")
            .unwrap();
    assert_eq!((smtp.port, smtp.tls), (587, Tls::Starttls));
    assert!(!format!("{smtp:?}").contains("secret"));
    assert!(read("host = 'h'\nfrom = 'f'\nhots = 'x'").is_err());
    assert!(read("host = 'h'\nfrom = 'f'\ntls = 'sometimes'").is_err());
}

#[test]
fn outside_the_shift_only_what_is_urgent_goes() {
    use domain::ids::{CalendarId, DepartmentId};
    use domain::stored::NoticeKind;
    let mut state = State::default();
    let shift = serde_json::json!([{"from": 480, "to": 1020}]);
    let calendar = serde_json::json!({"id": "day", "title": {"text": "Day"}, "week": vec![shift; 7]});
    let calendar: domain::stored::Calendar = serde_json::from_value(calendar).unwrap();
    let person = serde_json::json!({"id": uuid::Uuid::from_u128(1), "name": "Ada", "department": "body", "role": "technician",
        "calendar": "day"});
    let person: Person = serde_json::from_value(person).unwrap();
    let notice = |urgent| Notice {
        person: person.id,
        kind: NoticeKind::Asked,
        at: 0,
        order: None,
        card: None,
        handoff: None,
        exception: None,
        equipment: None,
        by: None,
        urgent,
    };
    let hour = 60 * MINUTE;
    let (night, morning) = (4 * hour, 9 * hour);
    // Without any working hours there is no shift to wait for.
    assert!(due(&state, &TimeZone::UTC, &person, &notice(false), night));
    state.calendars.insert(CalendarId::from("day"), Arc::new(calendar));
    assert!(!due(&state, &TimeZone::UTC, &person, &notice(false), night));
    assert!(due(&state, &TimeZone::UTC, &person, &notice(true), night));
    assert!(due(&state, &TimeZone::UTC, &person, &notice(false), morning));
    // Away for a month: it waits, although no shift comes soon.
    let away = domain::stored::Absence { from: 0, to: 30 * 24 * hour, reason: None };
    let away = Person { away: vec![away], department: DepartmentId::from("body"), ..person.clone() };
    assert!(!due(&state, &TimeZone::UTC, &away, &notice(false), morning));
}

/// A mail server for one test: takes what comes on loopback and answers each recipient as told
/// (RFC 5321: HELO, MAIL, RCPT, DATA, QUIT; enough for a client that sends).
async fn sink(answers: Vec<&'static str>) -> (u16, tokio::sync::mpsc::UnboundedReceiver<String>) {
    use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let (got, letters) = tokio::sync::mpsc::unbounded_channel();
    tokio::spawn(async move {
        let mut answers = answers.into_iter();
        while let Ok((stream, _)) = listener.accept().await {
            let (read, mut write) = stream.into_split();
            let mut lines = BufReader::new(read).lines();
            write.write_all(b"220 sink\r\n").await.unwrap();
            let (mut data, mut letter) = (false, String::new());
            while let Ok(Some(line)) = lines.next_line().await {
                let answer = match line.as_str() {
                    "." => {
                        data = false;
                        let _ = got.send(std::mem::take(&mut letter));
                        "250 kept"
                    }
                    _ if data => {
                        letter.push_str(&line);
                        letter.push('\n');
                        continue;
                    }
                    "DATA" => {
                        data = true;
                        "354 go on"
                    }
                    "QUIT" => "221 bye",
                    rcpt if rcpt.starts_with("RCPT") => answers.next().unwrap_or("250 yes"),
                    _ => "250 yes",
                };
                if write.write_all(format!("{answer}\r\n").as_bytes()).await.is_err() {
                    break;
                }
            }
        }
    });
    (port, letters)
}

#[tokio::test]
async fn a_notice_is_mailed_once_and_again_only_when_the_server_asked_for_patience() {
    use crate::clock::Clock;
    use crate::control::{Contact, Record};
    use crate::shop::OwnOp;
    use domain::stored::{Act, Reminder};

    let store = store::Memory::new(11);
    let shop = Shop::open(Arc::new(store.clone()), Clock::at(9 * 60 * MINUTE)).unwrap();
    let planner = PersonId(uuid::Uuid::from_u128(1));
    let acts = serde_json::json!([
        {"kind": "set_calendar", "args": {"calendar": {"id": "day", "title": {"text": "Day"}, "week": vec![serde_json::json!([{"from": 480, "to": 1020}]); 7]}}},
        {"kind": "set_shop", "args": {"shop": {"name": "Elm Road Body", "time_zone": "UTC", "calendar": "day"}}},
        {"kind": "set_department", "args": {"department": {"id": "office", "title": {"text": "Office"}, "working": "pool"}}},
        {"kind": "set_person", "args": {"person": {"id": planner, "name": "Ada", "department": "office", "role": "planner", "language": "es"}}},
        {"kind": "open_order", "args": {"number": "2041", "vehicle": "grey wagon"}},
    ]);
    let acts: Vec<Act> = serde_json::from_value(acts).unwrap();
    let made = shop.own(acts.into_iter().map(OwnOp::system).collect()).await.unwrap();
    assert!(made.ops.iter().all(|op| op.verdict == domain::stored::Verdict::Applied), "{:?}", made.ops);
    let contact = Contact { email: Some("ada@example.test".into()), mail: true };
    shop.control.write(vec![Record::Contact { person: planner, contact }]).unwrap();
    let order = shop.view().state.in_shop().next().unwrap().id;
    let remind =
        || OwnOp::system(Act::Remind { about: Reminder::PromiseUnlikely, card: None, order: Some(order) });
    shop.own(vec![remind()]).await.unwrap();

    // First "later", then "never" for the first notice; the second one is taken.
    let (port, mut letters) = sink(vec!["450 later", "550 never"]).await;
    let smtp = Smtp {
        host: "127.0.0.1".into(),
        port,
        user: None,
        password: None,
        from: "shop@example.test".into(),
        tls: Tls::None,
        link: String::new(),
    };
    let (_publish, plan) = watch::channel(Arc::<Published>::default());
    let post = |shop: &Arc<Shop>| Post {
        shop: shop.clone(),
        plan: plan.clone(),
        mailer: Mailer::new(&smtp).unwrap(),
        link: String::new(),
        cursors: None,
        later: BTreeMap::new(),
    };
    let mut first = post(&shop);
    assert!(first.round().await.is_ok());
    assert_eq!(first.cursors.as_ref().unwrap()[&planner], Cursor::default(), "not yet passed");
    assert!(first.later.contains_key(&planner));
    first.later.clear();
    shop.own(vec![remind()]).await.unwrap();
    assert!(first.round().await.is_ok());
    let letter = letters.try_recv().unwrap();
    assert!(letter.contains("Message-ID: <000000000000000b."), "{letter}");
    assert!(letter.contains("Subject: 2041: "), "{letter}");
    assert!(letters.try_recv().is_err(), "the refused one is not sent");

    // A restart goes on where it was.
    drop(first);
    let mut second = post(&shop);
    assert!(second.round().await.is_ok());
    assert!(letters.try_recv().is_err());

    // At night it waits, in the morning it goes; and nothing is lost while the mail server is away.
    shop.clock.advance(12 * 60 * MINUTE);
    shop.own(vec![remind()]).await.unwrap();
    assert!(second.round().await.is_ok());
    assert!(letters.try_recv().is_err());
    shop.clock.advance(12 * 60 * MINUTE);
    let nowhere = Smtp { port: 1, ..smtp.clone() };
    second.mailer = Mailer::new(&nowhere).unwrap();
    assert!(second.round().await.is_err());
    second.mailer = Mailer::new(&smtp).unwrap();
    assert!(second.round().await.is_ok());
    assert!(letters.try_recv().is_ok());
}
