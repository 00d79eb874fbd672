//! `turnbuckle serve`.

use std::fs::OpenOptions;
use std::io::{IsTerminal as _, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::Path;
use std::sync::Arc;

use store::{Embedded, EmbeddedOptions, Store};
use tracing_subscriber::EnvFilter;
use uuid::Uuid;

use super::{Failure, ServeArgs, erasures};
use crate::auth;
use crate::clock::Clock;
use crate::config::{self, LogForm};
use crate::http::auth::link_to;
use crate::serve::{awaited, begin, close, default_data, open_store, show_metrics, start};
use tls::Tls;
use tls::door::Door;

pub fn run(args: ServeArgs) -> Result<(), Failure> {
    let file = config::read(args.config.as_deref())?;
    let https = file.https(args.door.https, args.door.plain)?;
    log(args.log.or(file.log).unwrap_or(LogForm::Text));
    let dir = args.data.or(file.data).unwrap_or_else(default_data);
    let listen = args.listen.or(file.listen).unwrap_or_else(|| "127.0.0.1:8080".into());
    let random = |uuid: Uuid| u64::from_be_bytes(uuid.as_bytes()[..8].try_into().unwrap_or_default());
    let mut options = EmbeddedOptions::new(random(Uuid::new_v4()));
    options.new_epoch = args.new_epoch.then(|| random(Uuid::new_v4()));
    let store: Arc<dyn Store> = Arc::new(Embedded::open(&dir, options)?);
    let shop = open_store(store, Clock::System)?;
    begin(&shop)?;
    let first = awaited(&shop);
    erasures::keep(&shop, &dir)?;
    let door = Door {
        listen,
        https,
        address: args.address.or(file.address),
        dir: dir.join("tls"),
        onboard: args.door.onboard.or(file.onboard),
        trusted: if args.trusted_proxies.is_empty() { file.trusted_proxies } else { args.trusted_proxies },
    };
    let kept = dir.join("first-link");
    actix_web::rt::System::new().block_on(async move {
        let running = start(shop.clone(), &door, file.smtp)?;
        actix_web::rt::spawn(erasures::follow(shop.clone(), dir.clone()));
        say!("Turnbuckle listens on {} (data in {})", running.address, dir.display()).ok();
        if let Some(listen) = args.metrics.or(file.metrics) {
            let at = show_metrics(&listen, shop.clone(), &running.planning)?;
            say!("Numbers about the server are at http://{at}/metrics").ok();
        }
        say_on!("{}", leading(&running.tls)).ok();
        if let Some(person) = first {
            let (token, _) =
                auth::invite(&shop, person, person, false).map_err(crate::serve::ServeError::from)?;
            let link = link_to(&running.address, &token);
            // What is not a screen is a log or another program's, and both are read by others and kept.
            if std::io::stdout().is_terminal() {
                say!(
                    "Nobody has signed in yet. Sign in as administrator, once, with this link:\n\n  {link}\n"
                )
                .ok();
                say!("{}", qr_text(&link)).ok();
            } else {
                write_first(&kept, &link)?;
                say!(
                    "Nobody has signed in yet. The administrator's sign-in link, good once, is in {}",
                    kept.display()
                )
                .ok();
            }
        } else {
            // Used up: somebody has signed in since.
            let _ = std::fs::remove_file(&kept);
        }
        let plan = running.app.plan.clone();
        running.server.await.map_err(crate::serve::ServeError::from)?;
        close(shop, plan).await;
        Ok(())
    })
}

/// For its owner only, whatever was there before.
fn write_first(file: &Path, link: &str) -> Result<(), Failure> {
    let write = || {
        let _ = std::fs::remove_file(file);
        let mut made = OpenOptions::new().write(true).create_new(true).mode(0o600).open(file)?;
        writeln!(made, "{link}")?;
        made.sync_all()
    };
    write().map_err(|error| Failure::Said(format!("cannot write {}: {error}", file.display())))
}

/// How devices come to trust this server, if it is its own authority.
pub fn leading(tls: &Tls) -> String {
    let Some(authority) = tls.authority() else { return String::new() };
    let lines: String = authority.fingerprint.lines().iter().map(|line| format!("    {line}\n")).collect();
    let mut said = match tls.onboarding() {
        Some(page) => {
            format!("\nOn each new device open this page first:\n\n  {page}\n\n{}\n", qr_text(page))
        }
        None => "\nNew devices find no page that leads them here; see the log.\n".into(),
    };
    said.push_str(&format!(
        "\nIt offers the certificate \"{}\". Its SHA-256 fingerprint must be\n\n{lines}\n",
        authority.name
    ));
    said
}

/// A QR code for a terminal.
pub fn qr_text(link: &str) -> String {
    let code = qrcode::QrCode::new(link);
    code.map(|code| code.render::<qrcode::render::unicode::Dense1x2>().quiet_zone(true).build())
        .unwrap_or_default()
}

pub fn log(form: LogForm) {
    let filter =
        EnvFilter::try_from_env("TURNBUCKLE_LOG_FILTER").unwrap_or_else(|_| EnvFilter::new("info,sled=warn"));
    let builder = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()))
        .with_writer(std::io::stderr);
    match form {
        LogForm::Text => builder.init(),
        LogForm::Json => builder.json().flatten_event(true).init(),
    }
}
