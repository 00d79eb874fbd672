//! Starts a shop: opens its data, begins a new one where there is none, plans, tells, listens.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use actix_web::dev::Server;
use actix_web::middleware::Compress;
use actix_web::{App as Actix, HttpServer, web as routes};
use domain::ids::{DepartmentId, PersonId};
use domain::stored::{Act, Person, Role, Verdict};
use store::{Embedded, EmbeddedOptions, Store};
use uuid::Uuid;

use crate::auth::{self, AuthError};
use crate::clock::Clock;
use crate::http::{self, App};
use crate::limits::PHOTO_CHUNK_BYTES_MAX;
use crate::notify::{self, Smtp};
use crate::planner;
use crate::shop::{OpenError, OwnOp, Shop};
use crate::starter;
use crate::writer::{PushError, Results};

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
    auth::ensure_key(&shop)?;
    Ok(shop)
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
        },
    });
    accepted(shop.own_now(acts.into_iter().map(OwnOp::system).collect())?)?;
    Ok(Some(admin))
}

/// All of the server's own acts must go through; the first that does not says why.
pub fn accepted(results: Results) -> Result<(), ServeError> {
    let refused = results.ops.iter().find(|op| op.verdict == Verdict::Refused);
    match refused {
        Some(op) => Err(ServeError::First(op.message.clone().unwrap_or_default())),
        None => Ok(()),
    }
}

/// A running server, for the command and for tests.
pub struct Running {
    pub server: Server,
    pub app: Arc<App>,
    pub address: String,
}

/// Listens; returns at once. Must be called inside an actix system.
pub fn start(
    shop: Arc<Shop>,
    listen: &str,
    address: Option<String>,
    smtp: Option<Smtp>,
) -> Result<Running, ServeError> {
    let refused = |source| ServeError::Listen { listen: listen.to_owned(), source };
    let listener = TcpListener::bind(listen).map_err(refused)?;
    let local = listener.local_addr().map_err(refused)?;
    let address = address.unwrap_or_else(|| format!("http://{}", shown(&local)));
    let plan = planner::start(shop.clone());
    notify::remind::start(shop.clone(), plan.clone());
    crate::photos::start(shop.clone());
    if let Some(smtp) = smtp {
        notify::start(shop.clone(), plan.clone(), smtp);
    }
    tokio::spawn(keep_served_mark(shop.clone()));
    let app = Arc::new(App { shop, plan, tries: Mutex::default() });
    let data = routes::Data::from(app.clone());
    let server = HttpServer::new(move || {
        Actix::new()
            .wrap(http::request_log::RequestLog)
            .app_data(data.clone())
            .app_data(routes::PayloadConfig::new(PHOTO_CHUNK_BYTES_MAX))
            // The live stream is outside of it: compression holds its events back.
            .service(routes::resource("/api/v1/live").route(routes::get().to(http::live::live)))
            .service(routes::scope("").wrap(Compress::default()).configure(http::configure))
    })
    .workers(2)
    .shutdown_timeout(2)
    .listen(listener)?
    .run();
    Ok(Running { server, app, address })
}

/// Browsers give a page on localhost what they give to HTTPS.
fn shown(local: &std::net::SocketAddr) -> String {
    if local.ip().is_loopback() || local.ip().is_unspecified() {
        format!("localhost:{}", local.port())
    } else {
        local.to_string()
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
