//! `turnbuckle demo`: the invented shop, served.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use domain::calendar::instant;
use domain::decide::SYSTEM;
use domain::ids::PersonId;

use domain::stored::{Act, Life, Role};
use domain::{MINUTE, Ms};
use jiff::civil::{Date, Time, Weekday};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use sha2::{Digest, Sha256};

use super::serve::{leading, log};
use super::{DemoArgs, Failure};
use crate::auth;
use crate::clock::Clock;
use crate::config::LogForm;
use crate::control::Record;
use crate::http::auth::link_to;
use crate::http::notices::PLACES;
use crate::serve::{ServeError, close, open, start};
use crate::shop::{OwnOp, Shop, read_entry};
use demo::Demo;
use tls::door::Door;

/// Where the invented town lies.
const ZONE: &str = "America/Chicago";
pub fn run(args: DemoArgs) -> Result<(), Failure> {
    log(LogForm::Text);
    let zone = TimeZone::get(ZONE)
        .map_err(|error| Failure::Said(format!("the demo's time zone is missing: {error}")))?;
    let temporary = std::env::temp_dir().join(format!("turnbuckle-demo-{}", std::process::id()));
    let dir = args.data.clone().unwrap_or_else(|| temporary.clone());
    let real = Clock::System.now();
    let now = opens_at(args.date.unwrap_or_else(|| latest_working_day(real, &zone)), args.at, &zone)
        .ok_or_else(|| Failure::Said("there is no such time on that day in the demo's town".into()))?;
    let kept = open(&dir, Clock::System)?;
    let last = last_entry(&kept)?;
    drop(kept);
    // A kept one goes on: never before what has happened in it, and only elsewhere in time where somebody asks for that.
    let begins = match last {
        None => now,
        Some(last) if args.date.is_some() => now.max(last + MINUTE),
        Some(last) => real.max(last + MINUTE),
    };
    let shop = open(&dir, Clock::Ahead(begins - real))?;
    if last.is_none() {
        let began = Instant::now();
        let demo = demo::build(args.seed, args.days, now, &zone);
        let acts = demo.ops.len();
        fill(&shop, demo)?;
        tracing::info!(
            acts,
            elapsed_ms = began.elapsed().as_millis() as u64,
            "the demo shop has its history"
        );
    }
    let door = Door {
        listen: args.listen,
        https: crate::config::File::default().https(args.door.https, args.door.plain)?,
        address: None,
        dir: dir.join("tls"),
        onboard: args.door.onboard,
        trusted: Vec::new(),
    };
    let served = serve(shop, &door, &dir);
    if args.data.is_none() {
        let _ = std::fs::remove_dir_all(&temporary);
    }
    served
}

fn opens_at(date: Date, time: Time, zone: &TimeZone) -> Option<Ms> {
    instant(date, time.hour() as u16 * 60 + time.minute() as u16, zone)
}

/// Nobody works in the invented shop on a Saturday or a Sunday.
fn latest_working_day(now: Ms, zone: &TimeZone) -> Date {
    let today = zone.to_datetime(Timestamp::from_millisecond(now).unwrap_or_default()).date();
    let back = match today.weekday() {
        Weekday::Saturday => 1,
        Weekday::Sunday => 2,
        _ => 0,
    };
    today.checked_sub(back.days()).unwrap_or(today)
}

/// When the last thing in it happened; none in an empty shop.
fn last_entry(shop: &Shop) -> Result<Option<Ms>, Failure> {
    let seq = shop.view().head.seq;
    if seq == 0 {
        return Ok(None);
    }
    let last = shop.store.log().replay(seq).next().transpose()?;
    let entry = last.map(|stored| read_entry(stored.seq, &stored.body, &Default::default())).transpose();
    Ok(entry.map_err(ServeError::from)?.map(|entry| entry.at))
}

fn serve(shop: Arc<Shop>, door: &Door, dir: &Path) -> Result<(), Failure> {
    actix_web::rt::System::new().block_on(async move {
        let running = start(shop.clone(), door, None)?;
        say!(
            "The demo shop is open on {} (data in {}). It sends nothing outside.\n",
            running.address,
            dir.display()
        )
        .ok();
        say_on!("{}", leading(&running.tls)).ok();
        say!("Sign in with one of these links; each works once:\n").ok();
        for (who, name, link) in links(&shop, &running.address)? {
            say!("  {who:<24} {name:<22} {link}").ok();
        }
        say!("\nStop with Ctrl-C.").ok();
        let plan = running.app.plan.clone();
        running.server.await.map_err(ServeError::from)?;
        close(shop, plan).await;
        Ok(())
    })
}

/// One person for every role and department.
fn links(shop: &Shop, address: &str) -> Result<Vec<(String, String, String)>, Failure> {
    let view = shop.view();
    let mut seen = BTreeSet::new();
    let mut found = Vec::new();
    let mut people: Vec<_> = view.state.people.values().filter(|p| !p.retired).cloned().collect();
    // Of each, somebody with work in hand.
    let working = |person: PersonId| {
        view.state.cards.values().any(|card| card.taken_by == Some(person) && card.life == Life::Working)
    };
    people.sort_by_key(|p| {
        (p.role, view.state.departments.get(&p.department).map(|d| d.rank), !working(p.id), p.id)
    });
    for person in people {
        let who = match person.role {
            Role::Technician => format!("technician, {}", person.department),
            Role::Parts => "parts".into(),
            Role::Planner => "planner".into(),
            Role::Manager => "manager".into(),
            Role::Admin => "admin".into(),
        };
        if seen.insert(who.clone()) {
            let (token, _) = auth::invite(shop, person.id, SYSTEM, false).map_err(ServeError::from)?;
            found.push((who, person.name.clone(), link_to(address, &token)));
        }
    }
    Ok(found)
}

/// The history goes through the same writer as everything else.
pub fn fill(shop: &Shop, demo: Demo) -> Result<(), Failure> {
    let roles = |shop: &Shop, by| shop.view().state.people.get(&by).map_or(Role::Admin, |p| p.role);
    let mut pending: Vec<OwnOp> = Vec::new();
    let flush = |pending: &mut Vec<OwnOp>| -> Result<(), Failure> {
        shop.own_now(std::mem::take(pending)).map_err(ServeError::from)?;
        Ok(())
    };
    for op in demo.ops {
        let sets_people = matches!(op.act, Act::SetPerson { .. });
        let role = if op.by == SYSTEM { Role::Admin } else { roles(shop, op.by) };
        pending.push(OwnOp { by: op.by, role, id: op.op, act: op.act, at: Some(op.at) });
        // Roles are read from the durable state.
        if sets_people || pending.len() >= 500 {
            flush(&mut pending)?;
        }
    }
    flush(&mut pending)?;
    for (number, bytes) in demo.photos.iter().enumerate() {
        keep_photo(shop, number, bytes)?;
    }
    // What happened before today has been read; today's notices are news.
    let yesterday = last_entry_before(shop, shop.clock.now() - 8 * 60 * MINUTE)?;
    let people: Vec<PersonId> = shop.view().state.people.keys().copied().collect();
    let read = people.into_iter().map(|person| Record::Read { person, upto: yesterday * PLACES });
    shop.control.write(read.collect())?;
    shop.put_snapshot();
    Ok(())
}

/// The last entry of the log that was decided before a time.
fn last_entry_before(shop: &Shop, time: Ms) -> Result<u64, Failure> {
    let mut last = 0;
    for stored in shop.store.log().replay(1) {
        let stored = stored?;
        let entry = read_entry(stored.seq, &stored.body, &Default::default()).map_err(ServeError::from)?;
        if entry.at >= time {
            break;
        }
        last = stored.seq;
    }
    Ok(last)
}

fn keep_photo(shop: &Shop, number: usize, bytes: &[u8]) -> Result<(), Failure> {
    let sha256: [u8; 32] = Sha256::digest(bytes).into();
    let photos = shop.store.photos();
    let id = format!("demo-{number}");
    let kept = photos
        .begin_upload(&id)
        .and_then(|()| photos.write_at(&id, 0, bytes))
        .and_then(|_| photos.finish(&id, &sha256));
    kept.map_err(store::Error::from)?;
    let here = OwnOp::system(Act::PhotoHere { sha256: hex::encode(sha256) });
    shop.own_now(vec![here]).map_err(ServeError::from)?;
    Ok(())
}
