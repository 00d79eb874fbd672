//! What stands before the app: how many connections there may be and whose (`seats`), how requests' bodies
//! come (`bodies`), what every answer says to browsers (`headers`), how many handles there are (`handles`),
//! and what is left of a budget (`budget`, `queue`).
//!
//! Invariants: a stranger's connection never keeps a signed-in person's out; nothing waits for a stranger
//! without an end. Connections speak HTTP/1.1 only: one connection asks one thing at a time, so counting
//! connections counts everything, where HTTP/2 would let each hold any number of half-sent requests.
//! Must not know: the shop, people, the API's handlers.

pub mod bodies;
pub mod budget;
mod gate;
pub mod handles;
pub mod headers;
pub mod queue;
pub mod seats;

use std::net::TcpListener;
use std::sync::Arc;

use actix_http::body::MessageBody;
use actix_http::{HttpService, Request, Response};
use actix_server::ServerBuilder;
use actix_service::{IntoServiceFactory, ServiceFactory, ServiceFactoryExt, map_config};
use actix_tls::accept::TlsError;
use actix_tls::accept::rustls_0_23::{Acceptor, TlsStream};
use actix_web::Error;
use actix_web::dev::AppConfig;
use actix_web::rt::net::TcpStream;
use rustls::ServerConfig;

use crate::limits::{CONNECTION_IDLE, HANDSHAKE_WAIT, LAST_WORDS, REQUEST_HEAD_WAIT};
use gate::Gate;
use seats::Seats;

/// Serves an app on a listener, every connection on a seat.
pub fn listen<F, I, S, B>(
    builder: ServerBuilder,
    listener: TcpListener,
    tls: Option<ServerConfig>,
    seats: Arc<Seats>,
    app: F,
) -> std::io::Result<ServerBuilder>
where
    F: Fn() -> I + Send + Clone + 'static,
    I: IntoServiceFactory<S, Request>,
    S: ServiceFactory<Request, Config = AppConfig> + 'static,
    S::Error: Into<Error>,
    S::InitError: std::fmt::Debug,
    S::Response: Into<Response<B>>,
    B: MessageBody + 'static,
{
    let local = listener.local_addr()?;
    let name = format!("turnbuckle-{local}");
    // What the framework makes of itself where it listens by itself; it has no other way in.
    let about = AppConfig::__priv_test_new(tls.is_some(), local.to_string(), local);
    let made = move || {
        let about = about.clone();
        map_config(app().into_factory().map_err(|error| error.into().error_response()), move |()| {
            about.clone()
        })
    };
    let Some(mut tls) = tls else {
        return builder.listen(name, listener, move || {
            let known = seats.clone();
            let service = HttpService::build()
                .keep_alive(CONNECTION_IDLE)
                .client_request_timeout(REQUEST_HEAD_WAIT)
                .client_disconnect_timeout(LAST_WORDS)
                .on_connect_ext(move |io: &TcpStream, about| known.remember(io, about))
                .h1(made())
                .tcp();
            Gate::new(service, seats.clone())
        });
    };
    tls.alpn_protocols = vec![b"http/1.1".to_vec()];
    // Handshakes are connections too, and those are counted already; the framework's own count would keep
    // everybody waiting behind strangers who began one and say nothing more.
    actix_tls::accept::max_concurrent_tls_connect(usize::from(u16::MAX));
    builder.listen(name, listener, move || {
        let known = seats.clone();
        let service = HttpService::build()
            .keep_alive(CONNECTION_IDLE)
            .client_request_timeout(REQUEST_HEAD_WAIT)
            .client_disconnect_timeout(LAST_WORDS)
            .on_connect_ext(move |io: &TlsStream<TcpStream>, about| known.remember(io.get_ref().0, about))
            .h1(made());
        let mut acceptor = Acceptor::new(tls.clone());
        acceptor.set_handshake_timeout(HANDSHAKE_WAIT);
        let service = acceptor
            .map_err(TlsError::into_service_error)
            .map(|io: TlsStream<TcpStream>| {
                let peer = io.get_ref().0.peer_addr().ok();
                (io, peer)
            })
            .and_then(service.map_err(TlsError::Service));
        Gate::new(service, seats.clone())
    })
}
