//! A tablet that several people share: each has a sign-in of their own on the same browser, and a PIN
//! changes between them.
//!
//! Invariants: a PIN opens only sign-ins that stand already on the browser it is typed on, so it is no way
//! in from elsewhere; which browser that is says a cookie that only the server makes. Ten wrong ones close that
//! face on that tablet, and nobody else's. Administrators have none.
//! Must not know: HTTP, cookies.

use domain::ids::{ClientId, PersonId, SessionId};
use domain::stored::Role;
use uuid::Uuid;

use super::tokens::Kind;
use super::{AuthError, DUMMY_PHC, SignedIn, Who, bind, finish, fits, hashed, is_fresh, is_over};
use crate::control::{Access, Record};
use crate::limits::{PIN_DIGITS_MAX, PIN_DIGITS_MIN};
use crate::shop::Shop;

/// Somebody who can change to on this browser.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Face {
    pub person: PersonId,
    pub name: String,
    pub has_pin: bool,
}

/// A new PIN of one's own; who has one already shows it, or has just come in by a link.
pub fn set(shop: &Shop, who: &Who, pin: &str, current: Option<&str>) -> Result<(), AuthError> {
    if who.role == Role::Admin {
        return Err(AuthError::NoPin);
    }
    if !(PIN_DIGITS_MIN..=PIN_DIGITS_MAX).contains(&pin.len()) || !pin.bytes().all(|b| b.is_ascii_digit()) {
        return Err(AuthError::PinDigits);
    }
    let (before, fresh) = {
        let access = shop.control.read();
        let fresh = is_fresh(&access, &who.session, shop.clock.now());
        (access.pins.get(&who.person).cloned(), fresh)
    };
    match before {
        Some(phc) if !current.map_or(fresh, |shown| fits(shown, &phc)) => return Err(AuthError::WrongPin),
        None if !fresh => return Err(AuthError::LinkTooOld),
        _ => {}
    }
    let phc = hashed(pin).ok_or(AuthError::PinDigits)?;
    Ok(shop.control.write(vec![Record::Pin { person: who.person, phc }])?)
}

/// Everybody with a standing sign-in on the browser of this one.
pub fn faces(shop: &Shop, session: SessionId) -> Vec<Face> {
    let (mut people, pins) = {
        let access = shop.control.read();
        let Some(browser) = access.sessions.get(&session).and_then(|s| s.browser) else { return Vec::new() };
        let beside = access.sessions.values().filter(|s| s.browser == Some(browser) && s.ended.is_none());
        let people: Vec<PersonId> = beside.map(|s| s.person).collect();
        let pins: Vec<PersonId> = access.pins.keys().copied().collect();
        (people, pins)
    };
    people.sort_unstable();
    people.dedup();
    let view = shop.view();
    let face = |person: PersonId| {
        let known = view.state.people.get(&person).filter(|p| !p.retired)?;
        Some(Face { person, name: known.name.clone(), has_pin: pins.contains(&person) })
    };
    people.into_iter().filter_map(face).collect()
}

/// Which browser a token was given to, whether or not its sign-in still stands.
pub fn browser_of(shop: &Shop, tokens: &[(Kind, &str)]) -> Option<Uuid> {
    let access = shop.control.read();
    let now = shop.clock.now();
    let read = |(kind, token): &(Kind, &str)| super::tokens::read(&access, now, *kind, token);
    let claims = tokens.iter().find_map(read)?;
    access.sessions.get(&claims.sid)?.browser
}

/// Wrong PINs on one tablet, after which that face there is closed until its person comes in by a link.
pub const WRONG_PINS_MAX: u32 = 10;

/// Changes to somebody else's sign-in on the same browser.
pub fn switch(
    shop: &Shop,
    browser: Option<Uuid>,
    person: PersonId,
    pin: &str,
    client: Option<ClientId>,
) -> Result<SignedIn, AuthError> {
    let browser = browser.ok_or(AuthError::SignedOut)?;
    let at = shop.clock.now();
    let role = shop.view().state.people.get(&person).map_or(Role::Technician, |p| p.role);
    let standing = |access: &Access| {
        let own = access
            .sessions
            .iter()
            .filter(|(_, s)| s.person == person && s.browser == Some(browser) && s.ended.is_none())
            .filter(|(_, s)| !is_over(access, s, role, at));
        own.max_by_key(|(_, s)| s.since).map(|(id, s)| (*id, s.generation, s.wrong_pins))
    };
    if role == Role::Admin {
        return Err(AuthError::NoPin);
    }
    // Counted before it is looked at: tries that come all at once are no more than ten.
    let (phc, over) = shop.control.write_if(|access| {
        let (session, _, wrong) = standing(access).ok_or(AuthError::SignedOut)?;
        let mut records = vec![Record::PinTried { session, at }];
        let over = wrong >= WRONG_PINS_MAX;
        if over {
            records = vec![Record::SignedOut { session, at, revoked: false }];
        }
        Ok::<_, AuthError>(((access.pins.get(&person).cloned(), over), records))
    })?;
    if over {
        return Err(AuthError::FaceClosed);
    }
    let right = fits(pin, phc.as_deref().unwrap_or(DUMMY_PHC));
    if phc.is_none() || !right {
        return Err(AuthError::WrongPin);
    }
    let (session, client, generation) = shop.control.write_if(|access| {
        let (session, before, _) = standing(access).ok_or(AuthError::SignedOut)?;
        let (client, mut records) = bind(shop, access, client, person, Some(browser))?;
        let generation = before + 1;
        records.push(Record::PinFitted { session, at });
        records.push(Record::Refreshed { session, generation, at, used: None });
        Ok::<_, AuthError>(((session, client, generation), records))
    })?;
    finish(shop, person, session, client, generation)
}
