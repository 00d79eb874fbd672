//! Every connection takes a seat before anything is read from it, and gives it back when it ends.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use actix_service::{Service, ServiceFactory};
use actix_web::rt::net::TcpStream;

use super::seats::Seats;

type Later<T> = Pin<Box<dyn Future<Output = T>>>;

pub struct Gate<S> {
    inner: S,
    seats: Arc<Seats>,
}

impl<S> Gate<S> {
    pub fn new(inner: S, seats: Arc<Seats>) -> Self {
        Self { inner, seats }
    }
}

impl<S> ServiceFactory<TcpStream> for Gate<S>
where
    S: ServiceFactory<TcpStream, Config = (), Response = ()>,
    S::Service: 'static,
    S::Future: 'static,
    S::Error: 'static,
    S::InitError: 'static,
{
    type Response = ();
    type Error = S::Error;
    type Config = ();
    type Service = Gate<S::Service>;
    type InitError = S::InitError;
    type Future = Later<Result<Self::Service, Self::InitError>>;

    fn new_service(&self, (): ()) -> Self::Future {
        let (inner, seats) = (self.inner.new_service(()), self.seats.clone());
        Box::pin(async move { Ok(Gate { inner: inner.await?, seats }) })
    }
}

impl<S> Service<TcpStream> for Gate<S>
where
    S: Service<TcpStream, Response = ()>,
    S::Future: 'static,
{
    type Response = ();
    type Error = S::Error;
    type Future = Later<Result<(), S::Error>>;

    fn poll_ready(&self, cx: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&self, io: TcpStream) -> Self::Future {
        // Gone again before anybody looked.
        let Ok(peer) = io.peer_addr() else { return Box::pin(async { Ok(()) }) };
        let _ = io.set_nodelay(true);
        let taken = Seats::take(&self.seats, peer);
        let served = self.inner.call(io);
        Box::pin(async move {
            tokio::select! {
                ended = served => ended,
                // Dropping it closes the connection.
                () = taken.seat.asked_to_leave() => Ok(()),
            }
        })
    }
}
