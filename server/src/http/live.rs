//! The live channel: server-sent events, the same bytes for everybody.
//!
//! A lost, doubled or late frame is harmless: a phone applies one only at its cursor, else it pulls.

use std::sync::Arc;
use std::time::Duration;

use actix_web::{HttpResponse, web as routes};
use bytes::Bytes;
use futures_util::stream;
use serde::Deserialize;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::sync::watch;

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
    let reader = Reader { app, who, frames, plan, first: Some(first), over: false };
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
    first: Option<String>,
    over: bool,
}

impl Reader {
    async fn next(&mut self) -> Option<Bytes> {
        if self.over {
            return None;
        }
        if let Some(first) = self.first.take() {
            return Some(first.into());
        }
        let frame = tokio::select! {
            biased;
            frame = self.frames.recv() => Some(frame),
            changed = self.plan.changed() => { changed.ok()?; None }
            () = tokio::time::sleep(HEARTBEAT) => return Some(self.heartbeat()),
        };
        Some(match frame {
            Some(Ok(frame)) => self.frame(&frame),
            // Too slow for the frames: one word, and the phone pulls.
            Some(Err(RecvError::Lagged(_))) => {
                let head = self.app.shop.view().head.seq;
                format!("event: head\ndata: {{\"head\":{head}}}\n\n").into()
            }
            Some(Err(RecvError::Closed)) => return None,
            None => self.plan_frame(),
        })
    }

    fn frame(&self, frame: &Frame) -> Bytes {
        let epoch = epoch_word(self.app.shop.store.meta().epoch());
        let Frame { from, to, hash, docs, notices } = frame;
        let hash = hex::encode(hash);
        let now = self.app.shop.clock.now();
        let told = if *notices { "event: notices\ndata: {}\n\n" } else { "" };
        format!(
            "event: frame\ndata: {{\"epoch\":\"{epoch}\",\"from\":{from},\"to\":{to},\"hash\":\"{hash}\",\"now\":{now},\"docs\":{docs}}}\n\n{told}"
        )
        .into()
    }

    fn plan_frame(&mut self) -> Bytes {
        let plan = self.plan.borrow_and_update().clone();
        let head = self.app.shop.view().head;
        let epoch = epoch_word(self.app.shop.store.meta().epoch());
        let (seq, hash) = (head.seq, hex::encode(head.hash));
        format!(
            "event: frame\ndata: {{\"epoch\":\"{epoch}\",\"from\":{seq},\"to\":{seq},\"hash\":\"{hash}\",\"docs\":[],\"plan\":{}}}\n\n",
            plan.json
        )
        .into()
    }

    /// Also the moment to see whether the sign-in still stands.
    fn heartbeat(&mut self) -> Bytes {
        if self.app.shop.clock.now() < self.who.until && stands(&self.app.shop, &self.who) {
            return Bytes::from_static(b": here\n\n");
        }
        self.over = true;
        Bytes::from_static(b"event: end\ndata: {\"why\":\"sign_in\"}\n\n")
    }
}
