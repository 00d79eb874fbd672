//! Signing in: by a one-time link or QR, by password, by passkey, by refresh token; and signing out.
//!
//! Invariants: a link works once and for a short time; of a refresh token the one before stays good
//! until its successor is used, because radio loses answers; one two back, or a second successor, ends the
//! sign-in, because then somebody has a copy; every request looks whether the sign-in still stands.
//! Must not know: HTTP, cookies.

pub mod browser;
pub mod over;
pub mod passkey;
pub mod pin;
pub mod rekey;
mod secret;
pub mod tokens;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use domain::stored::Role;
use uuid::Uuid;

use crate::control::{Access, Record, Session, token_hash};
use crate::limits::{PASSKEYS_MAX, PASSWORD_CHARS_MAX, PASSWORD_CHARS_MIN, PIN_DIGITS_MAX, PIN_DIGITS_MIN};
use crate::shop::Shop;
use secret::{fits, hashed};
use tokens::{Kind, Signer};

/// How long a link is good: handed over today, used by tomorrow's shift.
pub const INVITE_MS: Ms = 3 * 24 * 3_600_000;
/// From the browser to the home-screen app of the same phone.
pub const TRANSFER_MS: Ms = 10 * 60_000;

#[derive(Debug, thiserror::Error)]
pub enum AuthError {
    #[error("This link has been used already; ask for a new one.")]
    LinkUsed,
    #[error("This link has expired; ask for a new one.")]
    LinkExpired,
    #[error("This link is not from this shop.")]
    LinkUnknown,
    #[error("You are signed out; sign in again. What is not sent stays on this phone.")]
    SignedOut,
    /// A refresh token came that has a successor: to whoever shows it, signed out like any other.
    #[error("You are signed out; sign in again. What is not sent stays on this phone.")]
    Copied { person: PersonId, session: SessionId },
    /// Too many wrong PINs: the same.
    #[error("You are signed out; sign in again. What is not sent stays on this phone.")]
    FaceClosed,
    #[error("Name or password is wrong.")]
    WrongPassword,
    #[error("Too many tries; wait a quarter of an hour.")]
    TooManyTries { seconds: u64 },
    #[error("The PIN is not right.")]
    WrongPin,
    #[error("Administrators have no PIN: on a shared tablet they sign in by their password.")]
    NoPin,
    #[error("A PIN has {PIN_DIGITS_MIN} to {PIN_DIGITS_MAX} digits.")]
    PinDigits,
    #[error("A password has {PASSWORD_CHARS_MIN} to {PASSWORD_CHARS_MAX} characters.")]
    PasswordLength,
    #[error(
        "Many people have this password, or it is made of the shop's or your own name. Choose another: three or four \
         words that do not belong together are good."
    )]
    PasswordUsual,
    #[error(
        "Show that it is you: your password or PIN of this shop. Who has neither chooses one first, in their own things."
    )]
    ProofNeeded,
    #[error(
        "You came in here too long ago to choose a first PIN or password. Ask a manager for a new link, open it \
         on this device, and choose within ten minutes."
    )]
    LinkTooOld,
    #[error("This phone's number belongs to another person; it needs a new one.")]
    ClientTaken,
    #[error("There is no such person in this shop.")]
    UnknownPerson,
    #[error(
        "That is not the connection code of a shop; copy the whole of it in the other shop and paste it here."
    )]
    CodeUnreadable,
    #[error("That is the connection code of this shop itself; paste it in the other shop.")]
    OwnCode,
    #[error("This shop has no such sister shop.")]
    UnknownSister,
    #[error("You came over too late or a second time; go over again from the other shop.")]
    PassOver,
    #[error("This shop does not know yet who you are here; sign in once and say so.")]
    NotKin,
    #[error(
        "Passkeys are for a server that is reached by a name. Here it is reached by an address: sign in by password."
    )]
    PasskeyNotHere,
    #[error("Choose a password first: whoever loses a passkey comes in by it.")]
    PasswordFirst,
    #[error("This shop does not have this passkey; sign in by password.")]
    PasskeyUnknown,
    #[error("That passkey could not be believed; try once more, or sign in by password.")]
    PasskeyWrong,
    #[error("This passkey is here already.")]
    PasskeyKnown,
    #[error("You have {PASSKEYS_MAX} passkeys; remove one that you do not need.")]
    PasskeysMany,
    /// Its count of signatures went back.
    #[error("There may be a copy of this passkey. Sign in by password, remove it and make a new one.")]
    PasskeyCopied { person: PersonId },
    #[error(transparent)]
    Store(#[from] store::Error),
}

/// Somebody, as a request shows them.
#[derive(Debug, Clone)]
pub struct Who {
    pub person: PersonId,
    pub session: SessionId,
    pub role: Role,
    /// A screen on the wall: it sees what everybody sees and enters nothing.
    pub display: bool,
    /// When the token that showed it ends.
    pub until: Ms,
}

pub struct SignedIn {
    pub who: Who,
    pub client: ClientId,
    pub name: String,
    pub access: String,
    pub access_until: Ms,
    pub refresh: String,
}

/// The shop's signing keys, made at the first start.
pub fn ensure_keys(shop: &Shop) -> Result<(), store::Error> {
    shop.control.write_if(|access| {
        let mut records = Vec::new();
        if access.key.is_empty() {
            records.push(Record::Key { hex: hex::encode(random::<32>()) });
        }
        if access.identity.is_none() {
            records.push(over::new_identity());
        }
        if access.ends_from.is_none() {
            records.push(Record::EndsFrom { at: shop.clock.now() });
        }
        Ok(((), records))
    })
}

fn random<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).expect("the operating system gives random bytes");
    bytes
}

/// A one-time link's secret for `person`.
pub fn invite(
    shop: &Shop,
    person: PersonId,
    by: PersonId,
    transfer: bool,
) -> Result<(String, Ms), AuthError> {
    make_link(shop, person, by, transfer, false, None)
}

/// Whether whoever holds this sign-in's device is its person: they came in just now, or show password or PIN. Who has
/// neither cannot show anything.
pub fn is_themselves(shop: &Shop, who: &Who, secret: Option<&str>) -> Result<(), AuthError> {
    let (fresh, has) = {
        let access = shop.control.read();
        let has = access.passwords.contains_key(&who.person) || access.pins.contains_key(&who.person);
        (is_fresh(&access, &who.session, shop.clock.now()), has)
    };
    let shown = || secret.is_some_and(|secret| proves(shop, who.person, secret));
    if fresh || !has || shown() { Ok(()) } else { Err(AuthError::ProofNeeded) }
}

/// For another device of one's own.
pub fn transfer(shop: &Shop, who: &Who, secret: Option<&str>) -> Result<(String, Ms), AuthError> {
    is_themselves(shop, who, secret)?;
    let proved = shop.control.read().sessions.get(&who.session).map(|s| s.proved);
    make_link(shop, who.person, who.person, true, false, proved)
}

/// A one-time link's secret for a screen on the wall, which stands for as long as whoever set it up is of the shop.
pub fn invite_display(shop: &Shop, by: PersonId) -> Result<(String, Ms), AuthError> {
    make_link(shop, by, by, false, true, None)
}

fn make_link(
    shop: &Shop,
    person: PersonId,
    by: PersonId,
    transfer: bool,
    display: bool,
    proved: Option<Ms>,
) -> Result<(String, Ms), AuthError> {
    if shop.view().state.people.get(&person).is_none_or(|p| p.retired) {
        return Err(AuthError::UnknownPerson);
    }
    let token = if transfer { short_code() } else { URL_SAFE_NO_PAD.encode(random::<18>()) };
    let until = shop.clock.now() + if transfer { TRANSFER_MS } else { INVITE_MS };
    let token_kept = token_hash(&token);
    shop.control.write(vec![Record::Invited {
        token: token_kept,
        person,
        by,
        until,
        transfer,
        display,
        proved,
    }])?;
    Ok((token, until))
}

/// Letters that are not taken for one another when they are read from one screen and typed into another
/// (Crockford's base 32).
const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// 50 random bits: at ten thousand guesses a second the chance to hit one within its ten minutes is below
/// one in a hundred million.
const CODE_LETTERS: usize = 10;

fn short_code() -> String {
    random::<CODE_LETTERS>().iter().map(|byte| char::from(LETTERS[usize::from(byte % 32)])).collect()
}

/// A short code as it was made, however it was typed; anything else stays as it is.
fn as_made(typed: &str) -> String {
    let plain: String = typed.chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
    if plain.len() != CODE_LETTERS {
        return typed.trim().to_owned();
    }
    let read = |c: char| match c.to_ascii_uppercase() {
        'O' => '0',
        'I' | 'L' => '1',
        other => other,
    };
    plain.chars().map(read).collect()
}

/// What a browser says of itself when somebody signs in on it.
#[derive(Debug, Clone, Default)]
pub struct Phone {
    /// Its number for this person's operations; none: a new one is made.
    pub client: Option<ClientId>,
    pub device: String,
    /// The browser profile, as the server's own cookie says it.
    pub browser: Option<Uuid>,
}

/// Uses a link. It is used up in the same step.
pub fn join(shop: &Shop, token: &str, phone: &Phone) -> Result<SignedIn, AuthError> {
    let now = shop.clock.now();
    let hash = token_hash(&as_made(token));
    let session = SessionId(Uuid::now_v7());
    let (person, client) = shop.control.write_if(|access| {
        let invitation = access.invitations.get(&hash).ok_or(AuthError::LinkUnknown)?;
        if invitation.used {
            return Err(AuthError::LinkUsed);
        }
        if invitation.until < now {
            return Err(AuthError::LinkExpired);
        }
        let person = invitation.person;
        let (client, mut records) = bind(shop, access, phone.client, person, phone.browser)?;
        if !invitation.display {
            records.extend(replaced(access, person, phone.browser, now));
        }
        records.push(signed_in(session, person, phone, now, Some(hash.clone())));
        Ok(((person, client), records))
    })?;
    finish(shop, person, session, client, 1)
}

/// Whom a link would sign in, before it does.
pub struct Seen {
    pub shop: String,
    pub name: String,
    pub display: bool,
}

/// Looks at a link without using it.
pub fn look(shop: &Shop, token: &str) -> Result<Seen, AuthError> {
    let hash = token_hash(&as_made(token));
    let link = shop.control.read().invitations.get(&hash).cloned().ok_or(AuthError::LinkUnknown)?;
    if link.used {
        return Err(AuthError::LinkUsed);
    }
    if link.until < shop.clock.now() {
        return Err(AuthError::LinkExpired);
    }
    let view = shop.view();
    let person = view.state.people.get(&link.person).filter(|p| !p.retired).ok_or(AuthError::LinkUnknown)?;
    Ok(Seen { shop: over::name_of(shop), name: person.name.clone(), display: link.display })
}

fn signed_in(session: SessionId, person: PersonId, phone: &Phone, at: Ms, token: Option<String>) -> Record {
    let device = domain::plain::shown(&phone.device, false).chars().take(80).collect();
    Record::SignedIn { session, person, device, at, token, browser: phone.browser, passkey: None }
}

/// A client of somebody else is never taken, also where it was forgotten that it is theirs: what they did stands in the
/// log.
fn bind(
    shop: &Shop,
    access: &Access,
    client: Option<ClientId>,
    person: PersonId,
    browser: Option<Uuid>,
) -> Result<(ClientId, Vec<Record>), AuthError> {
    let client = client.unwrap_or_else(|| ClientId(Uuid::now_v7()));
    let did = shop.view().state.clients.get(&client).map(|mark| mark.person);
    match access.clients.get(&client).copied().or(did) {
        _ if client == crate::shop::OWN_CLIENT => Err(AuthError::ClientTaken),
        Some(owner) if owner != person => Err(AuthError::ClientTaken),
        _ if access.clients.contains_key(&client) => Ok((client, Vec::new())),
        _ => {
            let at = Some(shop.clock.now());
            Ok((client, vec![Record::Bound { client, person, browser, at }]))
        }
    }
}

/// A further client id for this sign-in, after two phones had used the same one.
pub fn bind_client(shop: &Shop, who: &Who, client: ClientId) -> Result<(), AuthError> {
    shop.control.write_if(|access| {
        let browser = access.sessions.get(&who.session).and_then(|session| session.browser);
        bind(shop, access, Some(client), who.person, browser).map(|(_, records)| ((), records))
    })
}

pub fn by_password(shop: &Shop, name: &str, password: &str, phone: &Phone) -> Result<SignedIn, AuthError> {
    let view = shop.view();
    let wanted = name.trim().to_lowercase();
    let person =
        view.state.people.values().find(|p| !p.retired && p.name.to_lowercase() == wanted).map(|p| p.id);
    let phc = person.and_then(|id| shop.control.read().passwords.get(&id).cloned());
    // An unknown name takes as long as a wrong password.
    let checked = phc.clone().unwrap_or_else(|| DUMMY_PHC.into());
    let right = fits(password, &checked);
    let (Some(person), true, true) = (person, phc.is_some(), right) else {
        return Err(AuthError::WrongPassword);
    };
    let session = SessionId(Uuid::now_v7());
    let now = shop.clock.now();
    let client = shop.control.write_if(|access| {
        let (client, mut records) = bind(shop, access, phone.client, person, phone.browser)?;
        records.extend(replaced(access, person, phone.browser, now));
        records.push(signed_in(session, person, phone, now, None));
        Ok::<_, AuthError>((client, records))
    })?;
    finish(shop, person, session, client, 1)
}

/// The hash of nothing anybody knows: its own random bytes were thrown away.
const DUMMY_PHC: &str = "$argon2id$v=19$m=19456,t=2,p=1$c29tZXNhbHRzb21lc2FsdA$\
RdescudvJCsgt3ub+b1dWRWJTmaaJObGwAyQn9QNZmY";

/// What a guesser would try in the first hundred million: the passwords, names and words that people use most, with
/// their usual changes, and what the shop and the person are called (NIST SP 800-63B, 5.1.1.2; the estimate is
/// zxcvbn's, whose lists hold the 10,000 most usual passwords and more).
const GUESSES_LOG10_MIN: f64 = 8.0;

fn is_usual(shop: &Shop, person: PersonId, password: &str) -> bool {
    let view = shop.view();
    let names = [
        view.state.shop.as_ref().map(|shop| shop.name.clone()),
        view.state.people.get(&person).map(|person| person.name.clone()),
        Some("turnbuckle".to_owned()),
    ];
    let mut known: Vec<String> = Vec::new();
    for name in names.into_iter().flatten() {
        let words = name.split_whitespace().map(str::to_owned);
        known.extend(words.filter(|word| word.chars().count() > 2));
        known.push(name.split_whitespace().collect());
    }
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    let squeezed: String = password.split_whitespace().collect();
    [password, &squeezed]
        .iter()
        .any(|tried| zxcvbn::zxcvbn(tried, &known).guesses_log10() < GUESSES_LOG10_MIN)
}

pub fn set_password(shop: &Shop, person: PersonId, password: &str) -> Result<(), AuthError> {
    let phc = new_password(shop, person, password)?;
    Ok(shop.control.write(vec![Record::Password { person, phc }])?)
}

fn new_password(shop: &Shop, person: PersonId, password: &str) -> Result<String, AuthError> {
    if !(PASSWORD_CHARS_MIN..=PASSWORD_CHARS_MAX).contains(&password.chars().count()) {
        return Err(AuthError::PasswordLength);
    }
    if is_usual(shop, person, password) {
        return Err(AuthError::PasswordUsual);
    }
    hashed(password).ok_or(AuthError::PasswordLength)
}

const DAY: Ms = 24 * 3_600_000;
/// After which everybody signs in anew.
const SIGN_IN_MS: Ms = 365 * DAY;
/// Who may set up the shop: sooner, and when they were away.
const MANAGER_MS: Ms = 30 * DAY;
const MANAGER_IDLE_MS: Ms = 7 * DAY;

/// Whether a sign-in has come to its end by time. A screen on the wall may as much as anybody, and is not one.
fn is_over(access: &Access, session: &Session, role: Role, now: Ms) -> bool {
    let from = |at: Ms| now - at.max(access.ends_from.unwrap_or(now));
    let manager = role >= Role::Manager && !session.display;
    from(session.since) > SIGN_IN_MS
        || (manager && (from(session.since) > MANAGER_MS || from(session.seen_at) > MANAGER_IDLE_MS))
}

/// The same person again on the same browser: one sign-in is enough there, and one fewer can be copied.
fn replaced(access: &Access, person: PersonId, browser: Option<Uuid>, at: Ms) -> Vec<Record> {
    let before = access.sessions.iter().filter(|(_, s)| {
        s.person == person && browser.is_some() && s.browser == browser && s.ended.is_none()
    });
    before.map(|(id, _)| Record::SignedOut { session: *id, at, revoked: false }).collect()
}

/// A new pair of tokens for a refresh token.
pub fn refresh(shop: &Shop, token: &str) -> Result<SignedIn, AuthError> {
    let now = shop.clock.now();
    let claims = {
        let access = shop.control.read();
        tokens::read(&access, now, Kind::Refresh, token).ok_or(AuthError::SignedOut)?
    };
    let session = claims.sid;
    let role = shop.view().state.people.get(&claims.sub).map_or(Role::Technician, |p| p.role);
    let mut copied = false;
    let generation = shop.control.write_if(|access| {
        let Some(known) = access.sessions.get(&session) else {
            // Of before the server was set back. Nobody knows whether it was ended since, so it opens
            // nothing; but it proves who did what waits on that phone.
            return Ok((None, vec![Record::Proved { session, person: claims.sub, at: now }]));
        };
        if known.ended.is_some() || known.person != claims.sub {
            return Err(AuthError::SignedOut);
        }
        if is_over(access, known, role, now) {
            return Ok((None, vec![Record::SignedOut { session, at: now, revoked: false }]));
        }
        // Older than the one before the newest, or not the one of its generation that was used: somebody has a copy,
        // and nobody can tell who.
        let before = claims.generation < known.generation;
        let other =
            before && known.used.as_deref().is_some_and(|used| used != claims.jti.as_deref().unwrap_or(""));
        if claims.generation + 1 < known.generation || other {
            copied = true;
            return Ok((None, vec![Record::SignedOut { session, at: now, revoked: true }]));
        }
        // The one before the newest: its answer was lost on the way; another of the newest is given. Whichever of
        // them is used first, the others are copies.
        let generation = if before { known.generation } else { claims.generation + 1 };
        let used = claims.jti.clone().or_else(|| Some(String::new()));
        Ok::<_, AuthError>((Some(generation), vec![Record::Refreshed { session, generation, at: now, used }]))
    })?;
    if copied {
        return Err(AuthError::Copied { person: claims.sub, session });
    }
    let generation = generation.ok_or(AuthError::SignedOut)?;
    let client = {
        let access = shop.control.read();
        let mut mine = access.clients.iter().filter(|(_, p)| **p == claims.sub).map(|(c, _)| *c);
        mine.next_back().unwrap_or(ClientId(Uuid::nil()))
    };
    finish(shop, claims.sub, session, client, generation)
}

fn finish(
    shop: &Shop,
    person: PersonId,
    session: SessionId,
    client: ClientId,
    generation: u64,
) -> Result<SignedIn, AuthError> {
    let view = shop.view();
    let found = view.state.people.get(&person).filter(|p| !p.retired).ok_or(AuthError::SignedOut)?;
    let access = shop.control.read();
    let signer = Signer { key: &access.key, now: shop.clock.now() };
    let (token, access_until) = signer.sign(Kind::Access, person, session, 0)?;
    let (refresh, _) = signer.sign(Kind::Refresh, person, session, generation)?;
    let display = access.sessions.get(&session).is_some_and(|s| s.display);
    let role = role_of(found.role, display);
    let who = Who { person, session, role, display, until: access_until };
    Ok(SignedIn { who, client, name: found.name.clone(), access: token, access_until, refresh })
}

/// Who shows this access token, if the sign-in still stands and the person is still of the shop.
pub fn who(shop: &Shop, token: &str) -> Result<Who, AuthError> {
    let access = shop.control.read();
    let now = shop.clock.now();
    let claims = tokens::read(&access, now, Kind::Access, token).ok_or(AuthError::SignedOut)?;
    let session = access.sessions.get(&claims.sid).filter(|s| s.ended.is_none() && s.person == claims.sub);
    let (stands, display) = (session.is_some(), session.is_some_and(|s| s.display));
    drop(access);
    let view = shop.view();
    let person =
        view.state.people.get(&claims.sub).filter(|p| !p.retired && stands).ok_or(AuthError::SignedOut)?;
    let role = role_of(person.role, display);
    Ok(Who { person: claims.sub, session: claims.sid, role, display, until: claims.exp * 1000 })
}

/// Whether a token is from before sign-ins ended by their age: of a browser that has not come back since.
pub fn given_before(shop: &Shop, kind: Kind, token: &str) -> bool {
    let access = shop.control.read();
    let claims = tokens::read(&access, shop.clock.now(), kind, token);
    claims.is_some_and(|claims| access.ends_from.is_some_and(|at| claims.iat < at / 1000))
}

/// A screen on the wall has no more rights than anybody.
fn role_of(role: Role, display: bool) -> Role {
    if display { Role::Technician } else { role }
}

/// Whether a sign-in still stands, for streams that outlive a request.
pub fn stands(shop: &Shop, who: &Who) -> bool {
    let signed_in = shop.control.read().sessions.get(&who.session).is_some_and(|s| s.ended.is_none());
    signed_in && shop.view().state.people.get(&who.person).is_some_and(|p| !p.retired)
}

pub fn sign_out(shop: &Shop, session: SessionId) -> Result<(), AuthError> {
    let at = shop.clock.now();
    Ok(shop.control.write(vec![Record::SignedOut { session, at, revoked: false }])?)
}

/// Ends a sign-in from `by`: one's own on the same browser is signing out; any other may be in wrong hands.
pub fn end_sign_in(shop: &Shop, session: SessionId, by: &Who) -> Result<(), AuthError> {
    let at = shop.clock.now();
    shop.control.write_if(|access| {
        let browser = |id: &SessionId| access.sessions.get(id).and_then(|s| s.browser);
        let ended = access.sessions.get(&session);
        let own = ended.is_some_and(|ended| ended.person == by.person);
        let here = session == by.session
            || ended.is_some_and(|ended| ended.browser.is_none() || ended.browser == browser(&by.session));
        Ok(((), vec![Record::SignedOut { session, at, revoked: !(own && here) }]))
    })
}

/// Whether this is a password or PIN of theirs.
fn proves(shop: &Shop, person: PersonId, secret: &str) -> bool {
    let pin_counts = shop.view().state.people.get(&person).is_some_and(|p| p.role != Role::Admin);
    let kept = {
        let access = shop.control.read();
        [access.passwords.get(&person).cloned(), access.pins.get(&person).cloned().filter(|_| pin_counts)]
    };
    kept.iter().flatten().any(|phc| fits(secret, phc))
}

/// A sign-in this young was made by a link or password just now: the person is there.
const FRESH_MS: Ms = 10 * 60_000;

fn is_fresh(access: &Access, session: &SessionId, now: Ms) -> bool {
    access.sessions.get(session).is_some_and(|s| now - s.proved <= FRESH_MS)
}

/// A new password; who has one already shows it, who has none has just come in. `end_others`: so that whoever knew
/// the one before is out.
pub fn change_password(
    shop: &Shop,
    who: &Who,
    current: Option<&str>,
    password: &str,
    end_others: bool,
) -> Result<(), AuthError> {
    let (person, session, at) = (who.person, who.session, shop.clock.now());
    let (before, fresh) = {
        let access = shop.control.read();
        (access.passwords.get(&person).cloned(), is_fresh(&access, &session, at))
    };
    match before {
        Some(phc) if !fits(current.unwrap_or_default(), &phc) => return Err(AuthError::WrongPassword),
        None if !fresh => return Err(AuthError::LinkTooOld),
        _ => {}
    }
    let mut records = vec![Record::Password { person, phc: new_password(shop, person, password)? }];
    shop.control.write_if(|access| {
        if end_others {
            records.push(Record::OthersSignedOut { person, session, at });
            records.extend(passkey::made_elsewhere(access, who, at));
        }
        Ok(((), records))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_code_is_read_however_it_is_typed() {
        let code = short_code();
        assert_eq!((code.len(), as_made(&code)), (CODE_LETTERS, code.clone()));
        let (head, tail) = code.split_at(5);
        assert_eq!(as_made(&format!(" {}-{} ", head.to_lowercase(), tail.to_lowercase())), code);
        assert_eq!(as_made("oIl3-56789-a"), "011356789A");
        assert_eq!(as_made("Ab_c-9xYz01234567890-_ab"), "Ab_c-9xYz01234567890-_ab", "a link's own secret");
    }
}
