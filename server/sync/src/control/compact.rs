//! Leaves out of the control journal what says nothing any more: every hour of every sign-in, every notice
//! that was read, links that have expired, sign-ins that ended long ago.
//!
//! Invariants: who may come in afterwards is who might before; texts all stay; lines stay byte for byte and
//! in their order. A sign-in is remembered for longer than any token of it is good and any phone is away,
//! because it says whose act it was.

use std::collections::{BTreeMap, BTreeSet};

use domain::Ms;
use serde_json::Value;

use super::{Access, Control, TEXT, cannot_write};

const DAY: Ms = 24 * 3_600_000;
/// For so long a link that has expired is answered as what it is.
const LINK_KEPT_MS: Ms = 30 * DAY;
/// Tokens last ninety days; a phone that was away for a year still delivers under its own name.
const SIGN_IN_KEPT_MS: Ms = 400 * DAY;
/// Below this nothing is gained.
const BYTES_MIN: u64 = 1 << 20;

/// How large it was after the last time.
const LAST: (&str, &[u8]) = ("control", b"compacted");

impl Control {
    /// Once it is twice as large as after the last time; returns how many lines went.
    pub fn compact(&self, now: Ms) -> Result<usize, store::Error> {
        let last = self.store.tables().kv_get(LAST.0, LAST.1)?;
        let last = last.and_then(|bytes| Some(u64::from_be_bytes(bytes.try_into().ok()?))).unwrap_or(0);
        if self.store.control().bytes() < 2 * last + BYTES_MIN {
            return Ok(0);
        }
        // Nobody comes in or goes meanwhile.
        let mut access = self.read();
        let head = self.store.control().head();
        let lines: Vec<Vec<u8>> = self.store.control().replay().collect::<Result<_, _>>()?;
        let stay = kept(&lines, now);
        let kept: Vec<&[u8]> =
            lines.iter().zip(&stay).filter(|(_, stays)| **stays).map(|(line, _)| &**line).collect();
        let gone = lines.len() - kept.len();
        if gone > 0 {
            self.store.control().compact(head.seq, &kept).map_err(cannot_write)?;
            *access = said_by(&kept);
        }
        let bytes = self.store.control().bytes().to_be_bytes();
        self.store.tables().kv_put(LAST.0, LAST.1, &bytes)?;
        Ok(gone)
    }
}

pub(super) fn said_by(lines: &[&[u8]]) -> Access {
    let mut access = Access::default();
    let records = lines.iter().filter(|line| !line.starts_with(TEXT));
    records.filter_map(|line| serde_json::from_slice(line).ok()).for_each(|record| access.apply(record));
    access
}

/// The last that names the token it used stays too: a copy of that one must still be seen.
fn of_refreshed(body: &Value) -> String {
    if body.get("used").is_some() { "refreshed by".into() } else { "refreshed".into() }
}

/// Which lines stay. What another version wrote is not understood, and stays.
fn kept(lines: &[Vec<u8>], now: Ms) -> Vec<bool> {
    let read = |line: &Vec<u8>| -> Option<(String, Value)> {
        if line.starts_with(TEXT) {
            return None;
        }
        let value = serde_json::from_slice::<Value>(line).ok()?;
        value.as_object()?.iter().next().map(|(kind, body)| (kind.clone(), body.clone()))
    };
    let records: Vec<Option<(String, Value)>> = lines.iter().map(read).collect();
    let word = |body: &Value, field: &str| body.get(field).map(Value::to_string).unwrap_or_default();
    let time = |body: &Value, field: &str| body.get(field).and_then(Value::as_i64);

    // The last of each that says the same of the same, and what ended when.
    let mut last = BTreeMap::<(String, String), usize>::new();
    let mut ended = BTreeMap::<String, Ms>::new();
    let mut first_sign_in = None;
    for (place, (kind, body)) in records.iter().enumerate().filter_map(|(n, r)| Some((n, r.as_ref()?))) {
        match kind.as_str() {
            "refreshed" => {
                last.insert((of_refreshed(body), word(body, "session")), place);
            }
            "read" | "password" | "pin" | "contact" | "tried" => {
                last.insert((kind.clone(), word(body, "person")), place);
            }
            "passkey_used" | "passkey_named" => {
                last.insert((kind.clone(), word(body, "id")), place);
            }
            "signed_out" | "proved" => {
                ended.entry(word(body, "session")).or_insert(time(body, "at").unwrap_or(Ms::MAX));
            }
            // It is what ended the links that were made for whoever came in first.
            "signed_in" if first_sign_in.is_none() => first_sign_in = Some(word(body, "session")),
            _ => {}
        }
    }
    let forgotten = |session: &String| {
        ended.get(session).is_some_and(|at| *at < now - SIGN_IN_KEPT_MS)
            && first_sign_in.as_ref() != Some(session)
    };
    let is_last = |kind: &str, of: String, place| last.get(&(kind.to_owned(), of)) == Some(&place);
    let sign_in = |place: usize, kind: &str, body: &Value| {
        !forgotten(&word(body, "session"))
            && (kind != "refreshed" || is_last(&of_refreshed(body), word(body, "session"), place))
    };
    let mut stays: Vec<bool> = (records.iter().enumerate())
        .map(|(place, record)| match record {
            None => true,
            Some((kind, body)) => match kind.as_str() {
                "refreshed" | "signed_in" | "came_over" | "signed_out" | "proved" => {
                    sign_in(place, kind, body)
                }
                "read" | "password" | "pin" | "contact" | "tried" => {
                    is_last(kind, word(body, "person"), place)
                }
                "noted" => time(body, "at").is_none_or(|at| at >= now - SIGN_IN_KEPT_MS),
                "passkey_used" | "passkey_named" => is_last(kind, word(body, "id"), place),
                _ => true,
            },
        })
        .collect();
    // A link stays as long as a sign-in refers to it: it says whether that one only shows.
    let named = |(record, stays): (&Option<(String, Value)>, &bool)| {
        let (kind, body) = record.as_ref().filter(|_| *stays)?;
        (kind == "signed_in").then(|| word(body, "token"))
    };
    let used: BTreeSet<String> = records.iter().zip(&stays).filter_map(named).collect();
    for (record, stays) in records.iter().zip(&mut stays) {
        if let Some((kind, body)) = record
            && kind == "invited"
        {
            let expired = time(body, "until").is_some_and(|until| until < now - LINK_KEPT_MS);
            *stays = !expired || used.contains(&word(body, "token"));
        }
    }
    stays
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use domain::ids::{ClientId, PersonId, SessionId};
    use store::{Memory, Store};
    use uuid::Uuid;

    use super::super::{Record, keep_text};
    use super::*;

    const NOW: Ms = 1_000 * DAY;

    fn session(n: u128) -> SessionId {
        SessionId(Uuid::from_u128(n))
    }

    fn person(n: u128) -> PersonId {
        PersonId(Uuid::from_u128(n))
    }

    fn invited(token: &str, until: Ms, display: bool) -> Record {
        let (token, person, by) = (token.into(), person(1), person(2));
        Record::Invited { token, person, by, until, transfer: false, display, proved: None }
    }

    fn signed_in(n: u128, token: Option<&str>) -> Record {
        let (session, person, device) = (session(n), person(1), "phone".into());
        Record::SignedIn {
            session,
            person,
            device,
            at: 3,
            token: token.map(str::to_owned),
            browser: None,
            passkey: None,
        }
    }

    fn signed_out(n: u128, at: Ms) -> Record {
        serde_json::from_value(serde_json::json!({"signed_out": {"session": session(n), "at": at}})).unwrap()
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
            Record::Bound { client: ClientId(Uuid::from_u128(9)), person: person(1) },
            Record::Password { person: person(1), phc: "before".into() },
            Record::Password { person: person(1), phc: "now".into() },
            signed_out(1, 5),
            signed_out(3, 5),
            signed_out(4, NOW - DAY),
        ];
        records.extend((1..=20_000).map(|n| Record::Refreshed {
            session: session(2),
            generation: n,
            at: n as Ms,
            used: Some(format!("token {n}")),
        }));
        records.push(Record::Refreshed { session: session(2), generation: 20_000, at: 20_001, used: None });
        records.extend((1..=10).map(|upto| Record::Read { person: person(1), upto }));
        // What a passkey is stays, and of its uses the last.
        let key = Uuid::from_u128(7);
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
        assert!(control.compact(NOW).unwrap() > 20_000);
        assert!(store.control().bytes() < before / 50);
        {
            let access = control.read();
            let sessions: Vec<u128> = access.sessions.keys().map(|id| id.0.as_u128()).collect();
            assert_eq!(sessions, [1, 2, 4], "the first one stays, and whoever ended lately");
            assert!(
                access.sessions[&session(2)].display && access.sessions[&session(2)].generation == 20_000
            );
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
        assert_eq!(control.compact(NOW).unwrap(), 0);
    }
}
