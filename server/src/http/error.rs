//! Errors as callers see them: a status, a stable word, and one clear sentence that says what to do where that
//! helps. Translated here and nowhere else; the cause goes to the log only.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;

use crate::auth::AuthError;
use crate::writer::PushError;

/// What went wrong.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ErrorBody {
    /// Stable word, for programs.
    pub code: &'static str,
    /// An English sentence that says what to do, for people.
    pub message: String,
    /// After `gap`: the counter that must come first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<u64>,
    /// After `epoch_changed`: the server's epoch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub epoch: Option<String>,
}

#[derive(Debug, Clone)]
pub struct ApiError {
    pub status: StatusCode,
    pub body: ErrorBody,
    /// Seconds after which it is worth asking again; none: a few.
    pub retry_after: Option<u64>,
}

impl ApiError {
    pub fn new(status: u16, code: &'static str, message: impl Into<String>) -> Self {
        let status = StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        Self {
            status,
            body: ErrorBody { code, message: message.into(), expected: None, epoch: None },
            retry_after: None,
        }
    }

    pub fn internal(cause: &dyn std::fmt::Display) -> Self {
        tracing::error!(%cause, "a request could not be answered");
        Self::new(
            500,
            "internal",
            "The server could not do this; nothing was changed. Try again, then look at its log.",
        )
    }

    pub fn not_found(what: &str) -> Self {
        Self::new(404, "not_found", format!("There is no such {what}."))
    }

    pub fn forbidden(message: &str) -> Self {
        Self::new(403, "forbidden", message)
    }

    pub fn epoch_changed(epoch: u64) -> Self {
        let message = "The shop's data was restored; take a fresh copy, then send again what is not in it.";
        let mut error = Self::new(409, "epoch_changed", message);
        error.body.epoch = Some(epoch_word(epoch));
        error
    }
}

pub use sync::epoch_word;

impl std::fmt::Display for ApiError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.body.message)
    }
}

impl ResponseError for ApiError {
    fn status_code(&self) -> StatusCode {
        self.status
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.status);
        if self.status == StatusCode::TOO_MANY_REQUESTS || self.status == StatusCode::SERVICE_UNAVAILABLE {
            response.insert_header(("Retry-After", self.retry_after.unwrap_or(5)));
        }
        response.json(&self.body)
    }
}

impl From<PushError> for ApiError {
    fn from(error: PushError) -> Self {
        let message = error.to_string();
        match error {
            PushError::Gap { expected } => {
                let mut gap = Self::new(409, "gap", message);
                gap.body.expected = Some(expected);
                gap
            }
            PushError::Forked => Self::new(409, "forked", message),
            // The handler answers this where it knows the current epoch.
            PushError::EpochChanged => Self::new(409, "epoch_changed", message),
            // An app that does not know `held` keeps what belongs to other people, and goes on.
            PushError::ClientUnknown | PushError::Held { .. } => Self::new(403, "client_unknown", message),
            PushError::Malformed(_) => Self::new(400, "malformed", message),
            PushError::ReadOnly(_) => Self::new(503, "read_only", message),
            PushError::Unwritable(_) => Self::new(500, "unwritable", message),
            PushError::Stopped => Self::new(503, "stopping", message),
        }
    }
}

impl From<AuthError> for ApiError {
    fn from(error: AuthError) -> Self {
        let message = error.to_string();
        match error {
            AuthError::LinkUsed => Self::new(410, "link_used", message),
            AuthError::LinkExpired => Self::new(410, "link_expired", message),
            AuthError::LinkUnknown => Self::new(404, "link_unknown", message),
            AuthError::SignedOut | AuthError::Copied { .. } | AuthError::FaceClosed => {
                Self::new(401, "signed_out", message)
            }
            AuthError::WrongPassword => Self::new(401, "wrong_password", message),
            AuthError::WrongPin => Self::new(401, "wrong_pin", message),
            AuthError::NoPin => Self::new(403, "no_pin", message),
            AuthError::PinDigits => Self::new(422, "pin_digits", message),
            AuthError::TooManyTries { seconds } => {
                Self { retry_after: Some(seconds), ..Self::new(429, "too_many_tries", message) }
            }
            AuthError::PasswordLength => Self::new(422, "password_length", message),
            AuthError::PasswordUsual => Self::new(422, "password_usual", message),
            AuthError::ProofNeeded => Self::new(403, "proof_needed", message),
            AuthError::LinkTooOld => Self::new(403, "link_too_old", message),
            AuthError::ClientTaken => Self::new(409, "client_taken", message),
            AuthError::UnknownPerson => Self::new(404, "unknown_person", message),
            AuthError::CodeUnreadable => Self::new(422, "code_unreadable", message),
            AuthError::OwnCode => Self::new(422, "own_code", message),
            AuthError::UnknownSister => Self::new(404, "unknown_sister", message),
            AuthError::PassOver => Self::new(410, "pass_over", message),
            AuthError::NotKin => Self::new(409, "not_kin", message),
            AuthError::PasskeyNotHere => Self::new(409, "passkey_not_here", message),
            AuthError::PasswordFirst => Self::new(403, "password_first", message),
            AuthError::PasskeyUnknown => Self::new(404, "passkey_unknown", message),
            AuthError::PasskeyWrong => Self::new(401, "passkey_wrong", message),
            AuthError::PasskeyKnown => Self::new(409, "passkey_known", message),
            AuthError::PasskeysMany => Self::new(409, "passkeys_many", message),
            AuthError::PasskeyCopied { .. } => Self::new(401, "passkey_copied", message),
            AuthError::Store(error) => Self::internal(&error),
        }
    }
}

impl From<store::Error> for ApiError {
    fn from(error: store::Error) -> Self {
        Self::internal(&error)
    }
}
