//! Wrong passwords, PINs and links: how many are free, how long the next one has to wait, and telling the
//! person they were tried on.
//!
//! Invariants: nobody is kept out for good, and nobody can keep somebody out of their own browser; an attempt
//! during a wait is not checked and does not lengthen the wait.

use std::collections::BTreeMap;

use actix_web::{HttpRequest, HttpResponse, web as routes};
use domain::Ms;
use domain::ids::PersonId;
use domain::stored::Role;
use serde::Serialize;
use utoipa::ToSchema;

use super::auth::known_browser;
use super::{Answer, Shared, blocking};
use crate::auth::{AuthError, Who};
use crate::control::{Record, Told, ToldOf, token_hash};
use crate::limits::{
    PASSWORD_TRIES_ALL_MAX, PASSWORD_TRIES_MAX, TRIES_KEPT, TRIES_TOLD_FROM, TRY_WAIT_FIRST, TRY_WAIT_MAX,
    WRONG_FROM_ADDRESS_MAX,
};

pub fn configure(config: &mut routes::ServiceConfig) {
    config.service(
        routes::resource("/auth/tried").route(routes::get().to(tried)).route(routes::delete().to(tried_read)),
    );
}

/// The person with this name, as signing in reads it.
pub(super) fn person_called(app: &Shared, name: &str) -> Option<PersonId> {
    let (view, wanted) = (app.shop.view(), name.trim().to_lowercase());
    let mut people = view.state.people.values();
    people.find(|p| !p.retired && p.name.to_lowercase() == wanted).map(|p| p.id)
}

/// Wrong passwords for one name, counted so that a stranger cannot keep its owner out: a browser that was here
/// before has an allowance of its own, any other shares one with its address, and all addresses together have
/// one that outlasts a slow guesser.
pub(super) struct Tries {
    keys: Vec<(String, u32)>,
}

impl Tries {
    pub(super) fn of(app: &Shared, request: &HttpRequest, name: &str) -> Self {
        // No person's name is this long, and a stranger's must not fill the memory.
        let hashed = (name.len() > NAME_BYTES).then(|| token_hash(name));
        let name = hashed.as_deref().unwrap_or(name);
        let keys = match known_browser(app, request) {
            Some(browser) => vec![(format!("name {name} on {browser}"), PASSWORD_TRIES_MAX)],
            None => vec![
                (format!("name {name} from {}", app.outside.line(request)), PASSWORD_TRIES_MAX),
                (format!("name {name}"), PASSWORD_TRIES_ALL_MAX),
            ],
        };
        Self { keys }
    }

    pub(super) fn count(&self, app: &Shared) -> Result<(), AuthError> {
        count_all(app, &self.keys)
    }

    pub(super) fn forget(&self, app: &Shared) {
        self.keys.iter().for_each(|(key, _)| forget_tries(app, key));
    }

    /// After a wrong one: once there have been several, the person is told.
    pub(super) async fn tell(&self, app: &Shared, person: PersonId) -> Result<(), super::error::ApiError> {
        let wrong = {
            let tries = app.tries.lock().unwrap_or_else(|e| e.into_inner());
            self.keys.iter().filter_map(|(key, _)| tries.get(key)).map(|(count, _)| *count).max().unwrap_or(0)
        };
        if wrong < TRIES_TOLD_FROM {
            return Ok(());
        }
        let (shop, at) = (app.shop.clone(), app.shop.clock.now());
        let written = blocking(move || {
            shop.control.write_if(|access| {
                let before = access.tried.get(&person).map_or(TRIES_TOLD_FROM - 1, |(count, _)| *count);
                let count = before.max(TRIES_TOLD_FROM - 1).saturating_add(1);
                Ok::<_, store::Error>(((), vec![Record::Tried { person, count, at }]))
            })
        });
        Ok(written.await??)
    }
}

fn from_address(app: &Shared, request: &HttpRequest) -> String {
    format!("from {}", app.outside.line(request))
}

/// Nothing is looked up for an address with too many wrong attempts: no names, links or passes.
pub(super) fn may_try_from(app: &Shared, request: &HttpRequest) -> Result<(), AuthError> {
    let tries = app.tries.lock().unwrap_or_else(|e| e.into_inner());
    let counted = tries.get(&from_address(app, request));
    counted.map_or(Ok(()), |counted| may_now(counted, WRONG_FROM_ADDRESS_MAX, app.shop.clock.now()))
}

/// Counts a guess against the address.
pub(super) fn failed_from(app: &Shared, request: &HttpRequest, error: AuthError) -> AuthError {
    use AuthError as E;
    if matches!(
        error,
        E::LinkUnknown
            | E::WrongPassword
            | E::PassOver
            | E::UnknownSister
            | E::PasskeyUnknown
            | E::PasskeyWrong
    ) {
        let _ = count_all(app, &[(from_address(app, request), WRONG_FROM_ADDRESS_MAX)]);
    }
    error
}

pub(super) fn forget_tries(app: &Shared, name: &str) {
    app.tries.lock().unwrap_or_else(|e| e.into_inner()).remove(name);
}

pub(super) fn count_try(app: &Shared, name: &str) -> Result<(), AuthError> {
    count_all(app, &[(name.to_owned(), PASSWORD_TRIES_MAX)])
}

/// How long the next attempt has to wait after the last: each time twice as long.
fn wait_after(count: u32, most: u32) -> Ms {
    match count.checked_sub(most) {
        None => 0,
        Some(over) => TRY_WAIT_FIRST.saturating_mul(1 << over.min(20)).min(TRY_WAIT_MAX),
    }
}

fn may_now((count, last): &(u32, Ms), most: u32, now: Ms) -> Result<(), AuthError> {
    let left = last + wait_after(*count, most) - now;
    if left <= 0 { Ok(()) } else { Err(AuthError::TooManyTries { seconds: (left as u64).div_ceil(1_000) }) }
}

/// A few are forgotten soon, many only the next day: a guesser who comes back continues where they were.
const FEW_KEPT_MS: Ms = 15 * 60_000;
const MANY_KEPT_MS: Ms = 24 * 3_600_000;

/// A name of eighty characters, the widest.
const NAME_BYTES: usize = 320;

/// Attempts from very many addresses push out records of few and old attempts, never a lock-out.
fn make_room(tries: &mut BTreeMap<String, (u32, Ms)>, most: usize) {
    if tries.len() < most {
        return;
    }
    let mut by_weight: Vec<((u32, Ms), String)> =
        tries.iter().map(|(key, tried)| (*tried, key.clone())).collect();
    by_weight.sort_unstable();
    for (_, key) in by_weight.into_iter().take(most / 4) {
        tries.remove(&key);
    }
}

/// Counted before it is checked, so that attempts made all at once are no more than attempts made one by one.
fn count_all(app: &Shared, keys: &[(String, u32)]) -> Result<(), AuthError> {
    let now = app.shop.clock.now();
    let mut tries = app.tries.lock().unwrap_or_else(|e| e.into_inner());
    let kept = |count: u32| if count >= PASSWORD_TRIES_MAX { MANY_KEPT_MS } else { FEW_KEPT_MS };
    tries.retain(|_, (count, last)| now - *last < kept(*count));
    make_room(&mut tries, TRIES_KEPT);
    for (key, most) in keys {
        tries.get(key).map_or(Ok(()), |counted| may_now(counted, *most, now))?;
    }
    for (key, _) in keys {
        let (count, last) = tries.entry(key.clone()).or_insert((0, now));
        (*count, *last) = (count.saturating_add(1), now);
    }
    Ok(())
}

/// Lets a manager or administrator know that somebody else made a link with which one comes in as them, or
/// changed where their mail goes.
pub(super) async fn tell_them(
    app: &Shared,
    by: PersonId,
    person: PersonId,
    what: ToldOf,
) -> Result<(), super::error::ApiError> {
    let manages = app.shop.view().state.people.get(&person).is_some_and(|p| p.role >= Role::Manager);
    // The first link of a new person is how they come in at all.
    let was_here = app.shop.control.read().sessions.values().any(|s| s.person == person && !s.display);
    if by == person || !manages || !was_here {
        return Ok(());
    }
    let shop = app.shop.clone();
    let told = Told { what, by, at: shop.clock.now() };
    Ok(blocking(move || shop.control.write(vec![Record::Told { person, told }])).await??)
}

/// What others did to the caller's ways of coming in since the caller last looked: wrong passwords typed for
/// them, and what was changed.
#[derive(Serialize, ToSchema)]
pub struct Tried {
    /// Wrong passwords typed for them; 0: none.
    count: u32,
    /// When the last of them was typed, UTC ms.
    at: Ms,
    /// What was changed, oldest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    told: Vec<Told>,
}

#[utoipa::path(get, path = "/api/v1/auth/tried", tag = "sign-in", responses((status = 200, body = Tried)))]
pub async fn tried(app: Shared, who: Who) -> Answer {
    let access = app.shop.control.read();
    let (count, at) = access.tried.get(&who.person).copied().unwrap_or_default();
    let told = access.told.get(&who.person).cloned().unwrap_or_default();
    Ok(HttpResponse::Ok().json(Tried { count, at, told }))
}

#[utoipa::path(delete, path = "/api/v1/auth/tried", tag = "sign-in", responses((status = 204)))]
pub async fn tried_read(app: Shared, who: Who) -> Answer {
    let (shop, person, at) = (app.shop.clone(), who.person, app.shop.clock.now());
    let read = vec![Record::Tried { person, count: 0, at }, Record::ToldRead { person, at }];
    blocking(move || shop.control.write(read)).await??;
    Ok(HttpResponse::NoContent().finish())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn very_many_names_and_addresses_fill_nothing_and_lift_no_lock_out() {
        let mut tries = BTreeMap::new();
        tries.insert("guessed".to_owned(), (PASSWORD_TRIES_MAX, 0));
        for n in 0..10_000 {
            make_room(&mut tries, 1_000);
            tries.insert(format!("name {n}"), (1, n));
            assert!(tries.len() <= 1_000);
        }
        assert!(
            tries.contains_key("guessed") && tries.contains_key("name 9999") && !tries.contains_key("name 0")
        );
    }
}
