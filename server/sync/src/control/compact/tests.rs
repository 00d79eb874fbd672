use std::collections::BTreeSet;
use std::sync::Arc;

use domain::ids::{ClientId, PersonId, SessionId};
use proptest::prelude::*;
use store::{Memory, Store};
use uuid::Uuid;

use super::super::{Contact, Noted, Passkey, Record, Sister, Told, ToldOf, keep_text};
use super::*;

const NOW: Ms = 1_000 * DAY;
/// Longer ago than anything is remembered for.
const ONCE: Ms = NOW - 500 * DAY;

fn id(n: u128) -> Uuid {
    Uuid::from_u128(n)
}

fn session(n: u128) -> SessionId {
    SessionId(id(n))
}

fn person(n: u128) -> PersonId {
    PersonId(id(n))
}

fn client(n: u128) -> ClientId {
    ClientId(id(n))
}

fn invited(token: &str, until: Ms, display: bool) -> Record {
    let (token, person, by) = (token.into(), person(1), person(2));
    Record::Invited { token, person, by, until, transfer: false, display, proved: None }
}

fn signed_in_at(n: u128, of: u128, at: Ms, browser: Option<u128>, token: Option<&str>) -> Record {
    Record::SignedIn {
        session: session(n),
        person: person(of),
        device: "phone".into(),
        at,
        token: token.map(str::to_owned),
        browser: browser.map(id),
        passkey: None,
    }
}

fn signed_in(n: u128, token: Option<&str>) -> Record {
    signed_in_at(n, 1, 3, None, token)
}

fn signed_out(n: u128, at: Ms) -> Record {
    Record::SignedOut { session: session(n), at, revoked: false }
}

fn bound(n: u128, of: u128, browser: Option<u128>, at: Option<Ms>) -> Record {
    Record::Bound { client: client(n), person: person(of), browser: browser.map(id), at }
}

fn nobody_used(_: &ClientId) -> Option<Ms> {
    None
}

fn lines(records: &[Record]) -> Vec<Vec<u8>> {
    records.iter().map(|record| serde_json::to_vec(record).unwrap()).collect()
}

/// What is left of these records.
fn left_of(records: &[Record], used_at: UsedAt<'_>) -> Vec<Record> {
    let stays = kept(&lines(records), NOW, used_at);
    records.iter().zip(stays).filter(|(_, stays)| *stays).map(|(record, _)| record.clone()).collect()
}

fn said(records: &[Record]) -> Access {
    let mut access = Access::default();
    records.iter().cloned().for_each(|record| access.apply(record));
    access
}

fn clients(records: &[Record]) -> Vec<u128> {
    said(records).clients.keys().map(|client| client.0.as_u128()).collect()
}

#[test]
fn what_says_nothing_any_more_goes_and_who_may_come_in_stays() {
    let store: Arc<dyn Store> = Arc::new(Memory::new(1));
    let control = Control::open(store.clone()).unwrap();
    let mut records = vec![
        invited("long ago", 1, false),
        invited("for the wall", 1, true),
        invited("open", NOW + DAY, false),
        signed_in(1, None),
        signed_in(2, Some("for the wall")),
        signed_in(3, None),
        signed_in(4, None),
        bound(9, 1, None, None),
        Record::Password { person: person(1), phc: "before".into() },
        Record::Password { person: person(1), phc: "now".into() },
        signed_out(1, 5),
        signed_out(3, 5),
        signed_out(4, NOW - DAY),
    ];
    records.extend((1..=20_000).map(|n| Record::Refreshed {
        session: session(2),
        generation: n,
        at: NOW - 30_000 + n as Ms,
        used: Some(format!("token {n}")),
    }));
    records.push(Record::Refreshed { session: session(2), generation: 20_000, at: NOW - 1, used: None });
    records.extend((1..=10).map(|upto| Record::Read { person: person(1), upto }));
    // What a passkey is stays, and of its uses the last.
    let key = id(7);
    let line = format!(
        r#"{{"passkey":{{"id":"{key}","person":"{key}","name":"a","credential":"AQ","key":"pQ","rp":"shop.lan","since":3}}}}"#
    );
    records.push(serde_json::from_str(&line).unwrap());
    records.extend((1..=10).map(|count| Record::PasskeyUsed { id: key, count, at: 4 }));
    records.push(Record::PasskeyNamed { id: key, name: "b".into() });
    let text = keep_text("seized bolt", [1; 16]);
    records.push(text.1);
    control.write(records).unwrap();
    let before = store.control().bytes();
    assert!(control.compact(NOW, &nobody_used).unwrap() > 20_000);
    assert!(store.control().bytes() < before / 50);
    {
        let access = control.read();
        let sessions: Vec<u128> = access.sessions.keys().map(|id| id.0.as_u128()).collect();
        assert_eq!(sessions, [1, 2, 4], "the first one stays, and whoever ended lately");
        assert!(access.sessions[&session(2)].display && access.sessions[&session(2)].generation == 20_000);
        assert_eq!(access.sessions[&session(2)].used.as_deref(), Some("token 20000"));
        assert_eq!(access.sessions[&session(4)].ended, Some(NOW - DAY));
        let links: Vec<&str> = access.invitations.keys().map(String::as_str).collect();
        assert_eq!(links, ["for the wall", "open"]);
        assert_eq!((access.passwords[&person(1)].as_str(), access.read[&person(1)]), ("now", 10));
        assert_eq!(access.clients.len(), 1);
        assert_eq!((&*access.passkeys[&key].name, access.passkeys[&key].count), ("b", 10));
    }
    // A start reads the same, and the text is there.
    let again = Control::open(store.clone()).unwrap();
    assert_eq!(*again.read(), *control.read());
    let wanted = BTreeSet::from([text.0.clone()]);
    assert_eq!(Control::texts(&*store, &wanted).unwrap()[&text.0], "seized bolt");
    // And not again, until it has grown.
    assert_eq!(control.compact(NOW, &nobody_used).unwrap(), 0);
}

#[test]
fn a_client_goes_only_when_nothing_of_it_can_come_any_more() {
    let records = [
        signed_in_at(50, 9, 1, None, None),
        // Over long ago, on a browser of its own.
        signed_in_at(1, 1, ONCE, Some(11), None),
        bound(1, 1, Some(11), Some(ONCE)),
        signed_out(1, ONCE + 1),
        // The same, and something was done by it later, which a colleague brought.
        bound(2, 1, Some(11), Some(ONCE)),
        // The person is signed in there again, with the client they had.
        signed_in_at(3, 3, ONCE, Some(13), None),
        bound(3, 3, Some(13), Some(ONCE)),
        signed_out(3, ONCE + 1),
        signed_in_at(4, 3, NOW - DAY, Some(13), None),
        // Ended a year ago: a phone that was away as long still delivers.
        signed_in_at(5, 5, ONCE, Some(15), None),
        bound(5, 5, Some(15), Some(ONCE)),
        signed_out(5, NOW - 365 * DAY),
        // Bound before it was said where, by somebody who is signed in, and by somebody who is not.
        bound(6, 3, None, None),
        bound(7, 1, None, None),
        // Nobody signed it out; no token of it is good any more, and was not for longer than phones are away.
        signed_in_at(8, 8, ONCE, Some(18), None),
        bound(8, 8, Some(18), Some(ONCE)),
    ];
    let used_at = |of: &ClientId| (*of == client(2)).then_some(NOW - 399 * DAY);
    assert_eq!(clients(&left_of(&records, &used_at)), [2, 3, 5, 6]);
    let used_at = |of: &ClientId| (*of == client(2)).then_some(NOW - 401 * DAY);
    assert_eq!(clients(&left_of(&records, &used_at)), [3, 5, 6]);
    let access = said(&left_of(&records, &used_at));
    assert_eq!(access.delivers(&session(4), &client(3)), Some((person(3), true)));
}

#[test]
fn a_colleague_who_binds_without_end_keeps_the_clients_that_did_something() {
    let mut records = vec![signed_in_at(1, 1, NOW - DAY, Some(11), None), bound(1, 1, Some(11), Some(NOW))];
    records.extend((2..10_000).map(|n| bound(n, 1, Some(11), Some(NOW))));
    records.push(signed_in_at(2, 2, NOW - DAY, Some(11), None));
    records.push(bound(10_000, 2, Some(11), Some(NOW)));
    let used_at = |of: &ClientId| (*of == client(1)).then_some(NOW);
    let left = clients(&left_of(&records, &used_at));
    assert_eq!(left.len(), 1 + IDLE_CLIENTS_MAX + 1);
    assert!(left.contains(&1) && left.contains(&9_999) && left.contains(&10_000), "{left:?}");
}

/// What anybody of the shop can say anew, 2,000 times: a few lines are left, however long it goes on.
#[test]
fn nothing_that_is_said_anew_grows() {
    type Said = fn(u64, Ms) -> Vec<Record>;
    let all: [(&str, Said); 11] = [
        ("PINs", |_, at| {
            let session = session(1);
            vec![Record::PinTried { session, at }, Record::PinFitted { session, at }]
        }),
        ("told", |_, at| {
            let told = Told { what: ToldOf::Link, by: person(2), at };
            vec![Record::Told { person: person(1), told }, Record::ToldRead { person: person(1), at }]
        }),
        ("told and never read", |_, at| {
            vec![Record::Told { person: person(1), told: Told { what: ToldOf::Link, by: person(2), at } }]
        }),
        ("kin", |n, at| {
            let (shop, person, pass) = ("sister".to_owned(), person(1), format!("pass {n}"));
            let kin = Record::Kin { shop: shop.clone(), there: person, name: "R.".into(), person, pass, at };
            vec![kin, Record::KinGone { shop, person, at }]
        }),
        ("passkeys", |n, at| {
            let key = id(900 + u128::from(n));
            let passkey = Passkey {
                person: person(1),
                name: "a".into(),
                credential: format!("{n}"),
                key: "pQ".into(),
                rp: "shop.lan".into(),
                since: at,
                count: 0,
                used_at: None,
                browser: None,
            };
            vec![
                Record::Passkey { id: key, passkey },
                Record::PasskeyUsed { id: key, count: 1, at },
                Record::PasskeyNamed { id: key, name: "b".into() },
                Record::PasskeyGone { id: key, at },
            ]
        }),
        ("noted", |_, at| {
            let what = "locked_out".into();
            vec![Record::Noted(Noted {
                at,
                what,
                person: None,
                session: None,
                about: None,
                address: None,
                detail: None,
            })]
        }),
        ("passwords, with all others signed out", |n, at| {
            let (person, session) = (person(1), session(1));
            let phc = format!("phc {n}");
            vec![Record::Password { person, phc }, Record::OthersSignedOut { person, session, at }]
        }),
        ("sign-ins that a password ended", |n, at| {
            let other = 100 + u128::from(n);
            let others = Record::OthersSignedOut { person: person(1), session: session(1), at };
            vec![signed_in_at(other, 1, at, None, None), others]
        }),
        ("contact, tries, read marks", |n, at| {
            let person = person(1);
            let contact = Contact { email: Some(format!("{n}@shop.example")), mail: true };
            vec![
                Record::Contact { person, contact },
                Record::Tried { person, count: 3, at },
                Record::Read { person, upto: n },
            ]
        }),
        ("sign-outs", |_, at| vec![signed_out(2, at)]),
        ("sister shops", |_, at| {
            let sister = Sister {
                id: "sister".into(),
                name: "S".into(),
                address: "https://s.lan".into(),
                key: String::new(),
            };
            let (id, by) = (sister.id.clone(), person(1));
            vec![Record::Sister { sister, by, at }, Record::SisterGone { id, by, at }]
        }),
    ];
    for (what, said_anew) in all {
        let mut records = vec![signed_in_at(1, 1, 1, Some(11), None), signed_in_at(2, 1, ONCE, None, None)];
        records.push(Record::Refreshed { session: session(1), generation: 2, at: NOW, used: None });
        let begun = records.len();
        records.extend((0..2_000).flat_map(|n| said_anew(n, ONCE + n as Ms)));
        let left = left_of(&records, &nobody_used);
        assert!(left.len() <= begun + TOLD_MAX + 2, "{what}: {} lines are left", left.len());
    }
}

/// The mark is the furthest that was ever said, in whatever order it came.
#[test]
fn what_was_read_stays_read() {
    let read = |upto| Record::Read { person: person(1), upto };
    let left = left_of(&[read(10), read(5)], &nobody_used);
    assert_eq!((said(&left).read[&person(1)], left.len()), (10, 1));
}

/// Any record that people make, in any order: two persons, four sign-ins, times from long ago to now.
fn any_record() -> impl Strategy<Value = Record> {
    let at = prop_oneof![ONCE - 200 * DAY..ONCE, NOW - 399 * DAY..NOW];
    let one = || 1..3u128;
    let who = (one(), one(), 1..5u128, at, 0..20u64);
    (0..22u8, who).prop_map(|(kind, (p, q, s, at, n))| {
        let (of, by, session, key) = (person(p), person(q), session(s), id(n.into()));
        let shop = || format!("sister {q}");
        match kind {
            0 => signed_in_at(s, p, at, Some(q), Some(&format!("link {n}"))),
            1 => Record::SignedOut { session, at, revoked: n % 2 == 0 },
            2 => Record::Refreshed { session, generation: 2, at, used: (n % 2 == 0).then(|| "one".into()) },
            3 => Record::OthersSignedOut { person: of, session, at },
            4 => Record::Removed { person: of, at },
            5 => Record::PinTried { session, at },
            6 => Record::PinFitted { session, at },
            7 => Record::Told { person: of, told: Told { what: ToldOf::Contact, by, at } },
            8 => Record::ToldRead { person: of, at },
            9 => Record::Kin {
                shop: shop(),
                there: by,
                name: "R.".into(),
                person: of,
                pass: n.to_string(),
                at,
            },
            10 => Record::KinGone { shop: shop(), person: of, at },
            11 => Record::CameOver {
                session,
                person: of,
                device: "phone".into(),
                at,
                shop: shop(),
                pass: n.to_string(),
                browser: Some(id(q)),
            },
            12 => {
                let sister =
                    Sister { id: shop(), name: n.to_string(), address: String::new(), key: String::new() };
                Record::Sister { sister, by, at }
            }
            13 => Record::SisterGone { id: shop(), by, at },
            14 => Record::Read { person: of, upto: n },
            15 => Record::Pin { person: of, phc: n.to_string() },
            16 => Record::Passkey {
                id: key,
                passkey: Passkey {
                    person: of,
                    name: "a".into(),
                    credential: String::new(),
                    key: String::new(),
                    rp: String::new(),
                    since: at,
                    count: 0,
                    used_at: None,
                    browser: None,
                },
            },
            17 => Record::PasskeyUsed { id: key, count: 2, at },
            18 => Record::PasskeyGone { id: key, at },
            19 => Record::Erased { person: of, at },
            20 => Record::Proved { session, person: of, at },
            _ => Record::Invited {
                token: format!("link {n}"),
                person: of,
                by,
                until: at,
                transfer: false,
                display: n % 5 == 0,
                proved: None,
            },
        }
    })
}

/// Of what the journal says, what is meant to be forgotten is taken away: sign-ins long over, links that nothing names,
/// passes that are used up.
fn meant(mut access: Access, left: &Access) -> serde_json::Value {
    access.sessions.retain(|id, s| !is_over(s, NOW) || left.sessions.contains_key(id));
    access
        .invitations
        .retain(|token, link| link.until >= NOW - LINK_KEPT_MS || left.invitations.contains_key(token));
    access.passes.retain(|_, at| *at >= NOW - PASS_KEPT_MS);
    serde_json::to_value(access).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, ..ProptestConfig::default() })]

    #[test]
    fn what_is_left_says_the_same(records in prop::collection::vec(any_record(), 1..40)) {
        // A sign-in, passkey or link begins once: its id is never given again.
        let mut begun = BTreeSet::new();
        let begins = |record: &Record| match record {
            Record::SignedIn { session, .. } | Record::CameOver { session, .. } => Some(session.0.to_string()),
            Record::Passkey { id, .. } => Some(format!("key {id}")),
            Record::Invited { token, .. } => Some(token.clone()),
            _ => None,
        };
        let records: Vec<Record> =
            records.into_iter().filter(|r| begins(r).is_none_or(|id| begun.insert(id))).collect();
        let left = left_of(&records, &nobody_used);
        let access = said(&left);
        let again = left_of(&left, &nobody_used);
        prop_assert_eq!(meant(said(&records), &access), meant(said(&left), &access), "{:?}", left);
        prop_assert_eq!(serde_json::to_value(said(&again)).unwrap(), serde_json::to_value(&access).unwrap());
    }
}
