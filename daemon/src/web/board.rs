//! The board, once or as it changes: `Accept: text/event-stream` asks for the stream. The whole board comes on connecting
//! and then each time that it changes; in between a comment every few seconds says that the hub is alive.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_core::Stream;
use tokio::sync::watch;

use super::{Web, refusal};
use crate::hub::feed::Published;

/// How often a silent stream says that it is alive.
const ALIVE: Duration = Duration::from_secs(5);

pub(super) async fn board(State(web): State<Web>, headers: HeaderMap, stop: watch::Receiver<bool>) -> Response {
    let accepts = headers.get(header::ACCEPT).and_then(|accept| accept.to_str().ok()).unwrap_or_default();
    if accepts.contains("text/event-stream") {
        return Sse::new(stream(web.boards, stop)).keep_alive(KeepAlive::new().interval(ALIVE)).into_response();
    }
    let Published { revision, json } = web.boards.borrow().clone();
    if revision == 0 {
        return refusal(StatusCode::SERVICE_UNAVAILABLE, "the hub is starting: ask again in a second");
    }
    ([(header::CONTENT_TYPE, "application/json"), (header::CACHE_CONTROL, "no-store")], json.to_string())
        .into_response()
}

/// A slow listener gets the newest board and not each one in between.
fn stream(
    mut boards: watch::Receiver<Published>,
    mut stop: watch::Receiver<bool>,
) -> impl Stream<Item = Result<Event, Infallible>> {
    boards.mark_changed();
    async_stream::stream! {
        loop {
            tokio::select! {
                biased;
                _ = stop.wait_for(|stop| *stop) => return,
                changed = boards.changed() => if changed.is_err() { return },
            }
            let Published { revision, json } = boards.borrow_and_update().clone();
            if revision > 0 {
                yield Ok(Event::default().event("board").id(revision.to_string()).data(&*json));
            }
        }
    }
}
