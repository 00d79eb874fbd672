//! Letters on their way: by SMTP, with the answer sorted into what to do next.
//!
//! Must not know: notices, people, cursors.

use std::time::Duration;

use domain::plain;
use lettre::message::header::{ContentType, Header, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls as TlsUse, TlsParameters};
use lettre::{Address, AsyncSmtpTransport, AsyncTransport, Tokio1Executor};

use super::words::Letter;
use super::{Smtp, Tls};

/// A server that says nothing for so long will not.
const ANSWER_WITHIN: Duration = Duration::from_secs(30);

#[derive(Debug, thiserror::Error)]
pub enum SmtpError {
    #[error("the sender «{0}» is not an e-mail address")]
    From(String),
    #[error("e-mail needs the name of a server (smtp host)")]
    Host,
    #[error("a user needs a password and a password a user (smtp user, password)")]
    Credentials,
    #[error("a password would travel in clear: use tls or starttls for the mail server")]
    Clear,
    #[error("the mail server's name cannot be used for TLS: {0}")]
    Tls(String),
}

/// What became of a letter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    Delivered,
    /// This letter will never be taken; trying again changes nothing.
    Refused(String),
    /// This recipient not now, others may be.
    Later(String),
    /// The mail server is not reachable or does not take ours: nothing goes now.
    Down(String),
}

pub struct Mailer {
    transport: AsyncSmtpTransport<Tokio1Executor>,
    from: Mailbox,
}

/// "A machine wrote this": so that no out-of-office note comes back (RFC 3834).
#[derive(Clone)]
struct AutoSubmitted;

impl Header for AutoSubmitted {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("Auto-Submitted")
    }

    fn parse(_: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
        Ok(Self)
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "auto-generated".into())
    }
}

impl Mailer {
    pub fn new(smtp: &Smtp) -> Result<Self, SmtpError> {
        if smtp.host.trim().is_empty() {
            return Err(SmtpError::Host);
        }
        let from: Mailbox = smtp.from.parse().map_err(|_| SmtpError::From(smtp.from.clone()))?;
        let parameters =
            || TlsParameters::new(smtp.host.clone()).map_err(|error| SmtpError::Tls(error.to_string()));
        let tls = match smtp.tls {
            Tls::None => TlsUse::None,
            Tls::Starttls => TlsUse::Required(parameters()?),
            Tls::Tls => TlsUse::Wrapper(parameters()?),
        };
        let builder = AsyncSmtpTransport::<Tokio1Executor>::builder_dangerous(&smtp.host);
        let mut builder = builder.port(smtp.port).timeout(Some(ANSWER_WITHIN)).tls(tls);
        match (&smtp.user, &smtp.password) {
            (Some(_), Some(_)) if smtp.tls == Tls::None => return Err(SmtpError::Clear),
            (Some(user), Some(password)) => {
                builder = builder.credentials(Credentials::new(user.clone(), password.clone()));
            }
            (None, None) => {}
            _ => return Err(SmtpError::Credentials),
        }
        Ok(Self { transport: builder.build(), from })
    }

    /// `id` is the same however often this letter is sent, so that a mailbox can show it once.
    pub async fn send(&self, to: &str, id: &str, letter: &Letter) -> Outcome {
        let Ok(address) = to.parse::<Address>() else {
            return Outcome::Refused(format!("«{to}» is not an e-mail address"));
        };
        match self.message(address, id, letter) {
            Ok(message) => outcome(self.transport.send(message).await.err()),
            Err(error) => Outcome::Refused(error.to_string()),
        }
    }

    fn message(&self, to: Address, id: &str, letter: &Letter) -> Result<Message, lettre::error::Error> {
        Message::builder()
            .from(self.from.clone())
            .to(Mailbox::new(None, to))
            .subject(plain::shown(&letter.subject, false))
            .message_id(Some(format!("<{id}@{}>", self.from.email.domain())))
            .header(AutoSubmitted)
            .header(ContentType::TEXT_PLAIN)
            .body(plain::shown(&letter.body, true).into_owned())
    }
}

/// RFC 5321 4.2.1: 4yz may work later, 5yz will not. That we may not send at all (RFC 4954: 530, 534,
/// 535, 538) is about us and not about the letter: it waits.
fn outcome(error: Option<lettre::transport::smtp::Error>) -> Outcome {
    let Some(error) = error else { return Outcome::Delivered };
    let why = error.to_string();
    let code = error.status().map_or(0, u16::from);
    match code {
        530 | 534 | 535 | 538 | 421 => Outcome::Down(why),
        500..600 => Outcome::Refused(why),
        400..500 => Outcome::Later(why),
        _ => Outcome::Down(why),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn smtp() -> Smtp {
        serde_json::from_value(
            serde_json::json!({"host": "mail.example.test", "from": "Shop <shop@example.test>"}),
        )
        .unwrap()
    }

    #[test]
    fn a_letter_names_its_notice_and_that_a_machine_wrote_it() {
        let mailer = Mailer::new(&smtp()).unwrap();
        let letter = Letter { subject: "2041: tomado".into(), body: "Está en el elevador 2\n".into() };
        let to = "ada@example.test".parse().unwrap();
        let bytes = mailer.message(to, "12.0.ab", &letter).unwrap().formatted();
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.contains("Message-ID: <12.0.ab@example.test>\r\n"), "{text}");
        assert!(text.contains("Auto-Submitted: auto-generated\r\n"));
        assert!(
            text.contains("From: Shop <shop@example.test>\r\n")
                || text.contains("From: \"Shop\" <shop@example.test>\r\n")
        );
        assert!(text.contains("charset=utf-8"));
    }

    #[test]
    fn what_cannot_work_is_said_at_the_start() {
        let with = |change: fn(&mut Smtp)| {
            let mut smtp = smtp();
            change(&mut smtp);
            Mailer::new(&smtp).err()
        };
        assert!(with(|_| {}).is_none());
        assert!(matches!(with(|s| s.host = " ".into()), Some(SmtpError::Host)));
        assert!(matches!(with(|s| s.from = "nobody".into()), Some(SmtpError::From(_))));
        assert!(matches!(with(|s| s.user = Some("u".into())), Some(SmtpError::Credentials)));
        let clear = with(|s| {
            (s.user, s.password, s.tls) = (Some("u".into()), Some("p".into()), Tls::None);
        });
        assert!(matches!(clear, Some(SmtpError::Clear)));
    }
}
