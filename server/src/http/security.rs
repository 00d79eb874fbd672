//! What happened to sign-ins and rights: a line in the log for each, and a view of them for administrators.
//!
//! Invariants: no secret and nothing that was typed stands in it; one address fills neither the log nor the view.
//! The view shows what was told since the start, and before that what the control journal keeps.

use std::collections::{BTreeMap, VecDeque};
use std::sync::{Mutex, PoisonError};

use actix_web::{HttpMessage, HttpRequest, web as routes};
use domain::Ms;
use domain::ids::{PersonId, SessionId};
use domain::stored::Role;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::ApiError;
use super::{Answer, App, Shared, blocking_json};
use crate::auth::{INVITE_MS, SignedIn, TRANSFER_MS, Who};
use crate::control::{Noted, Record};
use crate::limits::{SECURITY_DENIED_A_MINUTE, SECURITY_KEPT, SECURITY_SHOWN};
use crate::shop::Shop;

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/security", routes::get().to(view));
}

/// What happened to a sign-in or to rights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// Somebody signed in.
    SignedIn,
    /// Somebody signed out.
    SignedOut,
    /// Somebody ended another sign-in: their own on another device, or somebody else's.
    SignInEnded,
    /// A link to sign in was made.
    LinkMade,
    /// A password was set.
    PasswordSet,
    /// A PIN was set.
    PinSet,
    /// A passkey was added.
    PasskeyMade,
    /// A passkey was removed.
    PasskeyRemoved,
    /// A passkey's count of signatures went back: there may be a copy.
    PasskeyCopied,
    /// A person was given another role.
    RoleSet,
    /// A person left the shop.
    Removed,
    /// Too many wrong passwords, PINs or links.
    LockedOut,
    /// A refresh token was used that has a successor already: there is a copy.
    TokenReused,
    /// A sister shop was entered, or entered again.
    SisterEntered,
    /// A sister shop was removed.
    SisterRemoved,
    /// Answered with 401, 403 or 429.
    Denied,
    /// More were denied to one address in a minute than are listed.
    DeniedMore,
}

impl What {
    /// As it stands in the log; the same as in the view.
    fn word(self) -> &'static str {
        match self {
            Self::SignedIn => "signed_in",
            Self::SignedOut => "signed_out",
            Self::SignInEnded => "sign_in_ended",
            Self::LinkMade => "link_made",
            Self::PasswordSet => "password_set",
            Self::PinSet => "pin_set",
            Self::PasskeyMade => "passkey_made",
            Self::PasskeyRemoved => "passkey_removed",
            Self::PasskeyCopied => "passkey_copied",
            Self::RoleSet => "role_set",
            Self::Removed => "removed",
            Self::LockedOut => "locked_out",
            Self::TokenReused => "token_reused",
            Self::SisterEntered => "sister_entered",
            Self::SisterRemoved => "sister_removed",
            Self::Denied => "denied",
            Self::DeniedMore => "denied_more",
        }
    }
}

/// One thing that happened. Times in UTC milliseconds.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Happened {
    /// When, UTC ms.
    pub at: Ms,
    /// What it was.
    pub what: What,
    /// Who did it, or tried.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<PersonId>,
    /// In which sign-in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub session: Option<SessionId>,
    /// To whom it was done, if that is somebody else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<PersonId>,
    /// The network address it came from, if known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// A word more: the way in, the role, or the status and code of the answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub detail: Option<String>,
}

impl Happened {
    pub fn new(what: What) -> Self {
        Self { at: 0, what, person: None, session: None, about: None, address: None, detail: None }
    }

    pub fn by(self, person: PersonId, session: SessionId) -> Self {
        Self { person: Some(person), session: Some(session), ..self }
    }

    pub fn to(self, person: PersonId) -> Self {
        Self { about: Some(person), ..self }
    }

    pub fn saying(self, detail: impl Into<String>) -> Self {
        Self { detail: Some(detail.into()), ..self }
    }

    fn at(self, at: Ms) -> Self {
        Self { at, ..self }
    }

    fn noted(&self) -> Noted {
        let Self { at, what, person, session, about, address, detail } = self.clone();
        Noted { at, what: what.word().into(), person, session, about, address, detail }
    }
}

const LOCKED_NOTED_MS: Ms = 3_600_000;

/// Who showed a sign-in with this request.
struct Shown(PersonId, SessionId);

pub fn shown(request: &HttpRequest, who: &Who) {
    request.extensions_mut().insert(Shown(who.person, who.session));
}

#[derive(Default)]
struct Told {
    done: VecDeque<Happened>,
    denied: VecDeque<Happened>,
    /// When it was last noted that somebody was locked out.
    locked: BTreeMap<PersonId, Ms>,
    /// Denied by address, since when.
    often: BTreeMap<String, (u32, Ms)>,
}

/// What was told since the start, as much as is kept of it.
pub struct Security {
    since: Ms,
    told: Mutex<Told>,
}

impl Security {
    pub fn new(shop: &Shop) -> Self {
        Self { since: shop.clock.now(), told: Mutex::default() }
    }

    fn tell(&self, happened: Happened) {
        let text = |id: uuid::Uuid| tracing::field::display(id);
        tracing::info!(
            target: "security",
            what = happened.what.word(),
            person = happened.person.map(|id| text(id.0)),
            sign_in = happened.session.map(|id| text(id.0)),
            about = happened.about.map(|id| text(id.0)),
            address = happened.address.as_deref(),
            detail = happened.detail.as_deref(),
        );
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        let denied = matches!(happened.what, What::Denied | What::DeniedMore);
        let list = if denied { &mut told.denied } else { &mut told.done };
        if list.len() == SECURITY_KEPT {
            list.pop_front();
        }
        list.push_back(happened);
    }

    /// Whether it is kept for after the next start: what no other record says. Strangers lock somebody out as often as they
    /// like, so that is noted once an hour.
    fn is_noted(&self, happened: &Happened) -> bool {
        match happened.what {
            What::RoleSet
            | What::PasswordSet
            | What::PinSet
            | What::PasskeyRemoved
            | What::PasskeyCopied
            | What::TokenReused => true,
            What::LockedOut => {
                let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
                told.locked.retain(|_, at| happened.at - *at < LOCKED_NOTED_MS);
                let Some(whom) = happened.about.filter(|whom| !told.locked.contains_key(whom)) else {
                    return false;
                };
                told.locked.insert(whom, happened.at);
                true
            }
            _ => false,
        }
    }

    /// None: it was told already that there is more from there.
    fn denied(&self, address: &str, now: Ms) -> Option<What> {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        told.often.retain(|_, (_, since)| now - *since < 60_000);
        let (count, _) = told.often.entry(address.to_owned()).or_insert((0, now));
        *count = count.saturating_add(1);
        match (*count).cmp(&(SECURITY_DENIED_A_MINUTE + 1)) {
            std::cmp::Ordering::Less => Some(What::Denied),
            std::cmp::Ordering::Equal => Some(What::DeniedMore),
            std::cmp::Ordering::Greater => None,
        }
    }
}

impl App {
    /// Tells what happened, and from where.
    pub fn tell(&self, request: &HttpRequest, happened: Happened) {
        let address = self.outside.caller(request).map(|address| address.to_string());
        let happened = Happened { at: self.shop.clock.now(), address, ..happened };
        if self.security.is_noted(&happened) {
            let (shop, noted) = (self.shop.clone(), happened.noted());
            // Nobody waits for it: what it tells of has happened.
            drop(actix_web::rt::task::spawn_blocking(move || {
                let _ = shop.control.write(vec![Record::Noted(noted)]).inspect_err(
                    |error| tracing::warn!(%error, "what happened to a sign-in could not be noted"),
                );
            }));
        }
        self.security.tell(happened);
    }

    pub fn tell_signed_in(&self, request: &HttpRequest, signed_in: &SignedIn, way: &str) {
        let who = &signed_in.who;
        self.tell(request, Happened::new(What::SignedIn).by(who.person, who.session).saying(way));
    }
}

/// After every answer.
pub fn answered(request: &HttpRequest, status: u16, error: Option<&actix_web::Error>) {
    let Some(app) = request.app_data::<Shared>().filter(|_| [401, 403, 429].contains(&status)) else {
        return;
    };
    let Some(what) = app.security.denied(&app.outside.line(request), app.shop.clock.now()) else { return };
    let code = error.and_then(|error| error.as_error::<ApiError>()).map_or("", |error| error.body.code);
    let path = request.match_pattern().unwrap_or_default();
    let denied = Happened::new(what).saying(format!("{status} {code} {} {path}", request.method()));
    let by = request.extensions().get::<Shown>().map(|shown| (shown.0, shown.1));
    app.tell(request, by.map_or(denied.clone(), |(person, session)| denied.by(person, session)));
}

/// What happened to sign-ins and rights, newest first.
#[derive(Serialize, ToSchema)]
pub struct SecurityView {
    /// The newest first.
    happened: Vec<Happened>,
}

/// A page that ends before a time.
#[derive(Deserialize, utoipa::IntoParams)]
pub struct Before {
    /// Only what happened before; without it, the newest.
    before: Option<Ms>,
}

#[utoipa::path(get, path = "/api/v1/security", params(Before), tag = "sign-in",
    responses((status = 200, body = SecurityView), (status = 403, body = super::error::ErrorBody)))]
pub async fn view(app: Shared, who: Who, query: routes::Query<Before>) -> Answer {
    if who.role != Role::Admin {
        return Err(ApiError::forbidden("Only an administrator sees who signed in and what was refused."));
    }
    let app = app.into_inner();
    blocking_json(move || {
        let (mut happened, from) = {
            let told = app.security.told.lock().unwrap_or_else(PoisonError::into_inner);
            let full = told.done.len() == SECURITY_KEPT;
            let from = told.done.front().filter(|_| full).map_or(app.security.since, |first| first.at);
            (told.done.iter().chain(&told.denied).cloned().collect::<Vec<_>>(), from)
        };
        for line in app.shop.store.control().replay() {
            let Ok(record) = serde_json::from_slice(&line?) else { continue };
            happened.extend(of_record(record).filter(|happened| happened.at < from));
        }
        happened.retain(|happened| query.before.is_none_or(|before| happened.at < before));
        happened.sort_by_key(|happened| std::cmp::Reverse(happened.at));
        happened.truncate(SECURITY_SHOWN);
        Ok(SecurityView { happened })
    })
    .await
}

/// What the control journal keeps of it.
fn of_record(record: Record) -> Option<Happened> {
    let new = Happened::new;
    Some(match record {
        Record::SignedIn { session, person, at, token, passkey, .. } => {
            let way = match (token, passkey) {
                (Some(_), _) => "link",
                (None, Some(_)) => "passkey",
                (None, None) => "password",
            };
            new(What::SignedIn).by(person, session).saying(way).at(at)
        }
        Record::CameOver { session, person, at, .. } => {
            new(What::SignedIn).by(person, session).saying("sister").at(at)
        }
        Record::SignedOut { session, at, revoked } => {
            let what = if revoked { What::SignInEnded } else { What::SignedOut };
            Happened { session: Some(session), ..new(what).at(at) }
        }
        Record::Invited { person, by, until, transfer, .. } => {
            let made = until - if transfer { TRANSFER_MS } else { INVITE_MS };
            Happened { person: Some(by), ..new(What::LinkMade).to(person).at(made) }
        }
        Record::Passkey { passkey, .. } => {
            Happened { person: Some(passkey.person), ..new(What::PasskeyMade).at(passkey.since) }
        }
        Record::Removed { person, at } => new(What::Removed).to(person).at(at),
        Record::Noted(Noted { at, what, person, session, about, address, detail }) => {
            let what = serde_json::from_value(what.into()).ok()?;
            Happened { at, what, person, session, about, address, detail }
        }
        Record::Sister { sister, by, at } => {
            Happened { person: Some(by), ..new(What::SisterEntered).saying(sister.name).at(at) }
        }
        Record::SisterGone { by, at, .. } => Happened { person: Some(by), ..new(What::SisterRemoved).at(at) },
        _ => return None,
    })
}
