//! Starts a shop: opens its data, begins a new one where there is none, plans, tells, listens.

use std::net::{SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use actix_web::dev::Server;
use actix_web::middleware::{Compress, Condition, DefaultHeaders, from_fn};
use actix_web::{App as Actix, web as routes};
use domain::ids::{ClientId, DepartmentId, PersonId};
use domain::stored::{Act, Person, Role, Verdict};
use store::{Embedded, EmbeddedOptions, Store};
use uuid::Uuid;

use crate::auth::{self, AuthError};
use crate::clock::Clock;
use crate::control::Record;
use crate::front::bodies::Bodies;
use crate::front::seats::{Allowance, Seats};
use crate::front::{self, handles, headers};
use crate::http::outside::Outside;
use crate::http::{self, App};
use crate::limits::PHOTO_CHUNK_BYTES_MAX;
use crate::metrics::{self, Planning};
use crate::notify::{self, Smtp};
use crate::shop::{OpenError, OwnOp, Shop};
use crate::writer::{PushError, Results};
use planner::Published;
use tls::door::{Door, DoorError};
use tls::name::{Machine, Reach};
use tls::onboard::Onboarding;
use tls::{Tls, TlsError, Wanted};
use tokio::sync::watch;

/// A year, as browsers' lists ask at least (RFC 6797 section 6.1).
const HSTS: (&str, &str) = ("Strict-Transport-Security", "max-age=31536000");

#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    #[error(transparent)]
    Open(#[from] OpenError),
    #[error(transparent)]
    Store(#[from] store::Error),
    #[error(
        "{listen} cannot be listened on: {source}; is another server running there? Choose another with --listen"
    )]
    Listen { listen: String, source: std::io::Error },
    #[error("the first people could not be signed up: {0}")]
    First(String),
    #[error(transparent)]
    Auth(#[from] AuthError),
    #[error(transparent)]
    Door(#[from] DoorError),
    #[error(transparent)]
    Tls(#[from] TlsError),
    #[error("the server stopped: {0}")]
    Io(#[from] std::io::Error),
}

impl From<PushError> for ServeError {
    fn from(error: PushError) -> Self {
        Self::First(error.to_string())
    }
}

/// Opens the shop kept in a directory.
pub fn open(dir: &Path, clock: Clock) -> Result<Arc<Shop>, ServeError> {
    let epoch = u64::from_be_bytes(Uuid::new_v4().as_bytes()[..8].try_into().unwrap_or_default());
    let store: Arc<dyn Store> = Arc::new(Embedded::open(dir, EmbeddedOptions::new(epoch))?);
    open_store(store, clock)
}

pub fn open_store(store: Arc<dyn Store>, clock: Clock) -> Result<Arc<Shop>, ServeError> {
    let shop = Shop::open(store, clock)?;
    auth::ensure_keys(&shop)?;
    make_control_smaller(&shop);
    Ok(shop)
}

fn make_control_smaller(shop: &Shop) {
    let view = shop.view();
    let used_at = |client: &ClientId| view.state.clients.get(client).map(|mark| mark.last_act_at);
    match shop.control.compact(shop.clock.now(), &used_at) {
        Ok(0) => {}
        Ok(lines) => tracing::info!(lines, "the control journal was made smaller"),
        // It works as it is.
        Err(error) => tracing::warn!(%error, "the control journal could not be made smaller"),
    }
}

/// A server that is never stopped would never have it done.
async fn keep_control_small(shop: Arc<Shop>) {
    let mut hours = tokio::time::interval(Duration::from_secs(3600));
    loop {
        hours.tick().await;
        let shop = shop.clone();
        let _ = tokio::task::spawn_blocking(move || make_control_smaller(&shop)).await;
    }
}

/// Begins an empty shop: the starter library and one administrator, who gets the first link.
pub fn begin(shop: &Shop) -> Result<Option<PersonId>, ServeError> {
    if shop.view().head.seq > 0 {
        return Ok(None);
    }
    let admin = PersonId(Uuid::now_v7());
    let mut acts = starter::library();
    acts.push(starter::shop("New shop", "America/Chicago", "en"));
    let department = acts.iter().find_map(|act| match act {
        Act::SetDepartment { department } => Some(department.id.clone()),
        _ => None,
    });
    acts.push(Act::SetPerson {
        person: Person {
            id: admin,
            name: "Administrator".into(),
            department: department.unwrap_or_else(|| DepartmentId::from("body")),
            also: Vec::new(),
            role: Role::Admin,
            language: "en".into(),
            qualifications: Default::default(),
            calendar: None,
            away: Vec::new(),
            retired: false,
            retired_at: None,
            erased_at: None,
        },
    });
    accepted(shop.own_now(acts.into_iter().map(OwnOp::system).collect())?)?;
    Ok(Some(admin))
}

/// Who is still to come in first: a start that failed, or a link that nobody used, must not lock all out.
pub fn awaited(shop: &Shop) -> Option<PersonId> {
    if !shop.control.read().sessions.is_empty() {
        return None;
    }
    let view = shop.view();
    view.state.people.values().find(|p| p.role == Role::Admin && !p.retired).map(|p| p.id)
}

/// All of the server's own acts must go through; the first that does not says why.
pub fn accepted(results: Results) -> Result<(), ServeError> {
    let refused = results.ops.iter().find(|op| op.verdict == Verdict::Refused);
    match refused {
        Some(op) => Err(ServeError::First(op.message.clone().unwrap_or_default())),
        None => Ok(()),
    }
}

/// The authority stands in the control journal too, so that a backup brings it along: to devices a
/// restored shop is the shop they trust.
fn open_tls(shop: &Shop, wanted: Wanted, reach: Reach, machine: &Machine) -> Result<Tls, ServeError> {
    let dir = match &wanted {
        Wanted::Own { dir } => Some(dir.clone()),
        _ => None,
    };
    let journal = shop.control.read().authority.clone();
    if let (Some(dir), Some(pem)) = (&dir, &journal)
        && tls::kept_authority(dir)?.is_none()
    {
        tls::put_authority(dir, pem)?;
    }
    let tls = Tls::open(wanted, reach, machine, tls::now())?;
    if let Some(pem) = dir.map(|dir| tls::kept_authority(&dir)).transpose()?.flatten()
        && journal.as_ref() != Some(&pem)
    {
        shop.control.write(vec![Record::Authority { pem }])?;
    }
    Ok(tls)
}

/// A running server, for the command and for tests.
pub struct Running {
    pub server: Server,
    pub app: Arc<App>,
    pub address: String,
    pub tls: Arc<Tls>,
    pub planning: Arc<Planning>,
}

/// The last thing: what the next start reads first.
pub async fn close(shop: Arc<Shop>, plan: watch::Receiver<Arc<Published>>) {
    let closed = tokio::task::spawn_blocking(move || {
        planner::keeper::leave(&shop, &plan.borrow());
        shop.put_snapshot();
        shop.close();
    });
    let _ = closed.await;
}

/// Listens; returns at once. Must be called inside an actix system.
pub fn start(shop: Arc<Shop>, door: &Door, smtp: Option<Smtp>) -> Result<Running, ServeError> {
    let (listener, local) = bind(&door.listen)?;
    let machine = Machine::look();
    let wanted = door.wanted(&local);
    let reach = door.reach(&local, &wanted)?;
    let names = reach.names(&machine);
    let tls = Arc::new(open_tls(&shop, wanted, reach, &machine)?);
    let address = door.address(&local, &tls, &machine);
    if door.address.is_none() && !tls.is_on() && !local.ip().is_loopback() {
        tracing::warn!(
            address,
            "links lead there or to this machine's own name; say with --address how people reach it"
        );
    }
    let outside = Outside::new(
        address.clone(),
        door.address.is_some(),
        door.trusted.clone(),
        tls.clone(),
        local.port(),
        names,
        &machine,
    );
    if tls.is_on() {
        tokio::spawn(keep_certificate(tls.clone()));
    }
    onboard(&shop, door, &tls, &address, &local);
    let planning = Arc::new(Planning::default());
    let plan = planner::keeper::start(shop.clone(), planning.clone());
    notify::remind::start(shop.clone(), plan.clone());
    crate::photos::start(shop.clone());
    if let Some(smtp) = smtp {
        notify::start(shop.clone(), plan.clone(), smtp);
    }
    tokio::spawn(keep_served_mark(shop.clone()));
    tokio::spawn(keep_control_small(shop.clone()));
    let app = App::new(shop, plan, outside);
    let data = routes::Data::from(app.clone());
    let (trust, hsts) = (routes::Data::from(tls.clone()), door.hsts());
    let plans = routes::Data::from(planning.clone());
    let seats = Seats::new(Allowance::within(handles::raise()));
    let serving = move || {
        Actix::new()
            .wrap(Bodies)
            .wrap(from_fn(headers::say))
            .wrap(http::request_log::RequestLog)
            .wrap(Condition::new(hsts, DefaultHeaders::new().add(HSTS)))
            .app_data(data.clone())
            .app_data(trust.clone())
            .app_data(plans.clone())
            .app_data(routes::PayloadConfig::new(PHOTO_CHUNK_BYTES_MAX))
            // The live stream is outside of it: compression holds its events back.
            .service(routes::resource("/api/v1/live").route(routes::get().to(http::live::live)))
            .service(routes::scope("").wrap(Compress::default()).configure(http::configure))
    };
    let config = if tls.is_on() { Some(tls.config()?) } else { None };
    let server = Server::build().workers(2).shutdown_timeout(2);
    let server = front::listen(server, listener, config, seats, serving)?;
    Ok(Running { server: server.run(), app, address, tls, planning })
}

fn bind(listen: &str) -> Result<(TcpListener, SocketAddr), ServeError> {
    let refused = |source| ServeError::Listen { listen: listen.to_owned(), source };
    let listener = TcpListener::bind(listen).map_err(refused)?;
    let local = listener.local_addr().map_err(refused)?;
    Ok((listener, local))
}

/// The page for new devices, on a listener of its own that knows nothing but the shop's name. The shop
/// works without it, so a port that is taken is a line in the log.
fn onboard(shop: &Arc<Shop>, door: &Door, tls: &Arc<Tls>, address: &str, local: &SocketAddr) {
    let Some(at) = door.onboard_at(local).filter(|_| tls.authority().is_some()) else { return };
    let (listener, page) = match bind(&at) {
        Ok(bound) => bound,
        Err(error) => {
            tracing::warn!(%error, "new devices find no page that leads them; give another place with --onboard");
            return;
        }
    };
    tls.set_onboarding(door.onboarding(address, &page, local));
    let shop = shop.clone();
    let about = routes::Data::new(Onboarding {
        tls: tls.clone(),
        shop: Box::new(move || shop.view().state.shop.as_ref().map_or_else(String::new, |s| s.name.clone())),
        app: address.to_owned(),
        app_is_set: door.address.is_some(),
        app_port: local.port(),
        page_port: page.port(),
    });
    let serving = move || {
        Actix::new()
            .wrap(Bodies)
            .wrap(from_fn(headers::say))
            .wrap(http::request_log::RequestLog)
            .app_data(about.clone())
            .configure(tls::onboard::configure)
    };
    match front::listen(beside(), listener, None, Seats::new(Allowance::beside()), serving) {
        Ok(server) => drop(tokio::spawn(server.run())),
        Err(error) => tracing::warn!(%error, "the page for new devices is not served"),
    }
}

/// Serves the numbers about the server on a listener of their own, over plain HTTP; returns where.
pub fn show_metrics(listen: &str, shop: Arc<Shop>, planning: &Planning) -> Result<SocketAddr, ServeError> {
    let (listener, local) = bind(listen)?;
    let page = routes::Data::new(metrics::Page::new(shop, planning));
    let serving = move || {
        Actix::new()
            .wrap(Bodies)
            .wrap(from_fn(headers::say))
            .app_data(page.clone())
            .configure(metrics::configure)
    };
    let server = front::listen(beside(), listener, None, Seats::new(Allowance::beside()), serving)?;
    tokio::spawn(server.run());
    Ok(local)
}

/// A small listener beside the shop's own.
fn beside() -> actix_server::ServerBuilder {
    Server::build().workers(1).disable_signals().shutdown_timeout(1)
}

/// Looks every minute: an address that the network gave anew, a certificate near its end, changed files.
async fn keep_certificate(tls: Arc<Tls>) {
    loop {
        tokio::time::sleep(Duration::from_secs(60)).await;
        let tls = tls.clone();
        let _ = tokio::task::spawn_blocking(move || tls.keep()).await;
    }
}

/// Remembers how far entries have left the house, so that a log that lost its end is noticed.
async fn keep_served_mark(shop: Arc<Shop>) {
    let mut view = shop.watch();
    while view.changed().await.is_ok() {
        let seq = view.borrow_and_update().head.seq;
        let shop = shop.clone();
        let marked = tokio::task::spawn_blocking(move || shop.store.meta().mark_served(seq)).await;
        if let Ok(Err(error)) = marked {
            tracing::warn!(%error, "the served mark was not written");
        }
        tokio::time::sleep(Duration::from_secs(1)).await;
    }
}

pub fn default_data() -> PathBuf {
    PathBuf::from("turnbuckle-data")
}
