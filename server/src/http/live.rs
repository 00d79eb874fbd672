//! The live channel: server-sent events, the same bytes for everybody.
//!
//! A lost, doubled or late frame is harmless: a phone applies one only at its cursor, else it pulls.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use actix_web::{HttpResponse, web as routes};
use bytes::Bytes;
use futures_util::stream;
use serde::Deserialize;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::sync::watch;
use tokio::time::Instant;

use super::error::{ApiError, epoch_word};
use super::{Answer, App, PROTOCOL, Shared};
use crate::auth::{Who, stands};
use crate::planner::Published;
use crate::shop::Frame;

const HEARTBEAT: Duration = Duration::from_secs(20);

#[derive(Deserialize)]
pub struct LiveQuery {
    #[serde(default)]
    after: u64,
    epoch: Option<String>,
    protocol: Option<u32>,
    plan: Option<u64>,
}

pub async fn live(app: Shared, who: Who, query: routes::Query<LiveQuery>) -> Answer {
    if query.protocol.is_some_and(|said| said != PROTOCOL) {
        return Err(ApiError::new(
            426,
            "update",
            "This app is of another version than the server; update it. Nothing is lost.",
        ));
    }
    let epoch = app.shop.store.meta().epoch();
    if query.epoch.as_ref().is_some_and(|said| *said != epoch_word(epoch)) {
        return Err(ApiError::epoch_changed(epoch));
    }
    let app = app.into_inner();
    let frames = app.shop.frames();
    let mut plan = app.plan.clone();
    let head = app.shop.view().head.seq;
    let mut first = String::from(": hello\n\n");
    if head != query.after {
        first.push_str(&format!("event: head\ndata: {{\"head\":{head}}}\n\n"));
    }
    if query.plan == Some(plan.borrow().rev) {
        plan.mark_unchanged();
    } else {
        plan.mark_changed();
    }
    let look = Instant::now() + HEARTBEAT;
    let reader = Reader { app, who, frames, plan, ready: VecDeque::from([first.into()]), look, over: false };
    let body = stream::unfold(reader, |mut reader| async move {
        let next = reader.next().await?;
        Some((Ok::<Bytes, actix_web::Error>(next), reader))
    });
    Ok(HttpResponse::Ok()
        .content_type("text/event-stream")
        .insert_header(("Cache-Control", "no-store"))
        .insert_header(("X-Accel-Buffering", "no"))
        .streaming(body))
}

struct Reader {
    app: Arc<App>,
    who: Who,
    frames: broadcast::Receiver<Arc<Frame>>,
    plan: watch::Receiver<Arc<Published>>,
    /// Pieces on their way out; a plan is sent in three, so that its text is shared and never copied.
    ready: VecDeque<Bytes>,
    /// When to say that the server is here, and to see whether the sign-in still stands.
    look: Instant,
    over: bool,
}

impl Reader {
    async fn next(&mut self) -> Option<Bytes> {
        if let Some(piece) = self.ready.pop_front() {
            return Some(piece);
        }
        if self.over {
            return None;
        }
        tokio::select! {
            biased;
            () = tokio::time::sleep_until(self.look) => self.heartbeat(),
            frame = self.frames.recv() => match frame {
                Ok(frame) => self.ready.push_back(frame.wire.get_or_init(|| self.event(&frame)).clone()),
                // Too slow for the frames: one word, and the phone pulls.
                Err(RecvError::Lagged(_)) => {
                    let head = self.app.shop.view().head.seq;
                    self.ready.push_back(format!("event: head\ndata: {{\"head\":{head}}}\n\n").into());
                }
                Err(RecvError::Closed) => return None,
            },
            changed = self.plan.changed() => {
                changed.ok()?;
                self.plan_frame();
            }
        }
        self.ready.pop_front()
    }

    fn event(&self, frame: &Frame) -> Bytes {
        let Frame { from, to, hash, docs, notices, .. } = frame;
        let (epoch, hash) = (self.epoch(), hex::encode(hash));
        let now = self.app.shop.clock.now();
        let told = if *notices { "event: notices\ndata: {}\n\n" } else { "" };
        format!(
            "event: frame\ndata: {{\"epoch\":\"{epoch}\",\"from\":{from},\"to\":{to},\"hash\":\"{hash}\",\"now\":{now},\"docs\":{docs}}}\n\n{told}"
        )
        .into()
    }

    fn epoch(&self) -> String {
        epoch_word(self.app.shop.store.meta().epoch())
    }

    fn plan_frame(&mut self) {
        let plan = self.plan.borrow_and_update().clone();
        let head = self.app.shop.view().head;
        let (epoch, seq, hash) = (self.epoch(), head.seq, hex::encode(head.hash));
        let opening = format!(
            "event: frame\ndata: {{\"epoch\":\"{epoch}\",\"from\":{seq},\"to\":{seq},\"hash\":\"{hash}\",\"docs\":[],\"plan\":"
        );
        self.ready.extend([opening.into(), plan.bytes.clone(), Bytes::from_static(b"}\n\n")]);
    }

    fn heartbeat(&mut self) {
        self.look = Instant::now() + HEARTBEAT;
        if self.app.shop.clock.now() < self.who.until && stands(&self.app.shop, &self.who) {
            self.ready.push_back(Bytes::from_static(b": here\n\n"));
            return;
        }
        self.over = true;
        self.ready.push_back(Bytes::from_static(b"event: end\ndata: {\"why\":\"sign_in\"}\n\n"));
    }
}
