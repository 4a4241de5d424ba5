//! HTTP: the board and touches for kiosks, and what whoever looks after the hub wants to see. `GET /api` gives the whole
//! interface as an OpenAPI page. Nothing here decides anything about the barn.

mod board;
mod keys;
mod staff;
mod take;
mod touch;

use std::net::SocketAddr;
use std::sync::{Arc, PoisonError};

use axum::Router;
use axum::extract::{DefaultBodyLimit, Path, Query, Request as HttpRequest, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Json, Response};
use axum::routing::{get, post, put};
use bellmare_barn::book::Book;
use bellmare_barn::effect::Answer;
use bellmare_barn::prep::for_aisle::ForAisle;
use bellmare_barn::prep::stand_in::WHO_CHOOSES;
use bellmare_barn::refusal::Because;
use bellmare_barn::time::Wall;
use serde::Deserialize;
use serde_json::json;
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::sync::{mpsc, oneshot, watch};

pub use self::keys::{Keys, OfficeToken, secret_file};
pub use self::staff::Staff;
pub use self::take::Takes;
use crate::devices::ledger::Ledger;
use crate::hub::feed::Published;
use crate::hub::planner::LastPlan;
use crate::hub::{Reply, Request};
use crate::metrics::Metrics;

/// A touch is some hundred bytes.
const TOUCH_BYTES: usize = 16 * 1024;
/// The book of 2,000 stalls is some 3 MB.
const BOOK_BYTES: usize = 32 * 1024 * 1024;
const OPENMETRICS: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// What the pages show and where they send.
#[derive(Clone)]
pub struct Web {
    /// To the hub's loop.
    pub requests: mpsc::Sender<Request>,
    /// Boards.
    pub boards: watch::Receiver<Published>,
    /// The plan that holds.
    pub planned: LastPlan,
    /// What nobody could use.
    pub ledger: Arc<Ledger>,
    /// Numbers.
    pub metrics: Arc<Metrics>,
    /// Who may see the board and touch.
    pub keys: Arc<Keys>,
    /// Who may change the book, and see what no aisle should.
    pub office: Arc<OfficeToken>,
    /// Who is in staff mode where.
    pub staff: Arc<Staff>,
    /// Links in messages.
    pub takes: Arc<Takes>,
}

/// Why the pages can not be served.
#[derive(Debug, Error)]
pub enum WebError {
    /// The address can not be listened on.
    #[error("can not listen on {address} (web.listen): is another hub running, or is the port taken?")]
    Listen {
        /// Which address.
        address: SocketAddr,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
}

/// Takes the address, so that a fault is known before anything else starts.
///
/// # Errors
/// Where it can not be had.
pub async fn listen(address: SocketAddr) -> Result<TcpListener, WebError> {
    TcpListener::bind(address).await.map_err(|source| WebError::Listen { address, source })
}

/// Serves until `stop`. Streams that are open end with it.
pub async fn serve(listener: TcpListener, web: Web, mut stop: watch::Receiver<bool>) {
    let app = routes(web, stop.clone());
    let stopped = async move {
        // An error means that nobody is left to say stop: then it is time to.
        let _ = stop.wait_for(|stop| *stop).await;
    };
    if let Err(why) = axum::serve(listener, app.into_make_service_with_connect_info::<SocketAddr>())
        .with_graceful_shutdown(stopped)
        .await
    {
        tracing::error!(%why, "the pages are no longer served");
    }
}

fn routes(web: Web, stop: watch::Receiver<bool>) -> Router {
    let kiosk = Router::new()
        .route("/board", get(move |state, headers| board::board(state, headers, stop.clone())))
        .route("/touches", post(touch::touch).layer(DefaultBodyLimit::max(TOUCH_BYTES)))
        .route("/staff", post(staff::begin).layer(DefaultBodyLimit::max(TOUCH_BYTES)))
        .route("/staff/end", post(staff::end).layer(DefaultBodyLimit::max(TOUCH_BYTES)))
        .route("/sensors", get(sensors))
        .route("/badges/{badge}", get(whose_badge))
        .route("/unusable", get(unusable))
        .route("/plan", get(plan))
        .layer(middleware::from_fn_with_state(web.clone(), with_key));
    let office = Router::new()
        .route("/pins/{person}", put(staff::set).delete(staff::clear).layer(DefaultBodyLimit::max(TOUCH_BYTES)))
        .route("/alarms", get(alarms))
        .route("/book", put(book).layer(DefaultBodyLimit::max(BOOK_BYTES)))
        .layer(middleware::from_fn_with_state(web.clone(), with_office_token));
    Router::new()
        .merge(kiosk)
        .merge(office)
        .route("/stand-ins/{ride}", get(stand_in))
        .route("/take/{token}", get(take::show).post(take::take).layer(DefaultBodyLimit::max(1024)))
        .route("/metrics", get(metrics))
        .route("/api", get(|| async { ([(header::CONTENT_TYPE, "application/json")], include_str!("openapi.json")) }))
        .with_state(web)
}

async fn with_key(State(web): State<Web>, mut request: HttpRequest, next: Next) -> Response {
    match web.keys.admit(bearer_of(request.headers())) {
        Some(admitted) => {
            request.extensions_mut().insert(admitted);
            next.run(request).await
        }
        None => refusal(StatusCode::UNAUTHORIZED, "this hub wants a kiosk's key: Authorization: Bearer KEY"),
    }
}

async fn with_office_token(State(web): State<Web>, request: HttpRequest, next: Next) -> Response {
    if web.office.admits(bearer_of(request.headers())) {
        next.run(request).await
    } else {
        refusal(StatusCode::UNAUTHORIZED, "this wants the office token of the hub's data folder")
    }
}

fn bearer_of(headers: &HeaderMap) -> Option<&str> {
    headers.get(header::AUTHORIZATION)?.to_str().ok()?.strip_prefix("Bearer ")
}

fn refusal(status: StatusCode, why: &str) -> Response {
    (status, Json(json!({ "why": why }))).into_response()
}

async fn book(State(web): State<Web>, Json(book): Json<Book>) -> Response {
    match ask(&web, |reply| Request::Book(Arc::new(book), reply)).await {
        Reply::Kept(Answer::Done) => Json(json!({ "answer": "done" })).into_response(),
        Reply::Kept(Answer::Refused(refused)) => refusal(StatusCode::CONFLICT, &refused.why),
        Reply::NotKept => not_kept(),
    }
}

/// Asks the hub's loop and waits until what was asked is kept. A loop that has gone keeps nothing.
async fn ask(web: &Web, request: impl FnOnce(oneshot::Sender<Reply>) -> Request) -> Reply {
    let (reply, answer) = oneshot::channel();
    if web.requests.send(request(reply)).await.is_err() {
        return Reply::NotKept;
    }
    answer.await.unwrap_or(Reply::NotKept)
}

fn not_kept() -> Response {
    let why = "the hub can not write it down just now: send it again with the same id";
    (StatusCode::SERVICE_UNAVAILABLE, Json(Because::NoAnswer.says(why))).into_response()
}

/// Whose badge this is: where staff show it, it signs nobody in or out.
async fn whose_badge(State(web): State<Web>, Path(badge): Path<String>) -> Response {
    let (reply, answer) = oneshot::channel();
    let asked = web.requests.send(Request::Whose(badge.as_str().into(), reply)).await;
    match (asked, answer.await) {
        (Ok(()), Ok(Some(person))) => Json(json!({ "person": person })).into_response(),
        (Ok(()), Ok(None)) => {
            (StatusCode::NOT_FOUND, Json(Because::UnknownBadge.says("nobody in the book has that badge")))
                .into_response()
        }
        _ => refusal(StatusCode::SERVICE_UNAVAILABLE, "the hub is about to stop"),
    }
}

async fn sensors(State(web): State<Web>) -> Response {
    let (reply, answer) = oneshot::channel();
    let asked = web.requests.send(Request::Sensors(reply)).await;
    match (asked, answer.await) {
        (Ok(()), Ok(sensors)) => Json(sensors).into_response(),
        _ => refusal(StatusCode::SERVICE_UNAVAILABLE, "the hub is about to stop"),
    }
}

/// Since when alarms are asked for, in milliseconds since 1970.
#[derive(Deserialize)]
struct Since {
    since: Option<i64>,
}

/// What stands, and what was. It names people, so that it is the office's.
async fn alarms(State(web): State<Web>, Query(Since { since }): Query<Since>) -> Response {
    let (reply, answer) = oneshot::channel();
    let asked = web.requests.send(Request::Alarms(since.map(Wall), reply)).await;
    match (asked, answer.await) {
        (Ok(()), Ok(Ok(list))) => Json(list).into_response(),
        (Ok(()), Ok(Err(why))) => refusal(StatusCode::SERVICE_UNAVAILABLE, &why),
        _ => refusal(StatusCode::SERVICE_UNAVAILABLE, "the hub is about to stop"),
    }
}

async fn unusable(State(web): State<Web>) -> Response {
    Json(web.ledger.account()).into_response()
}

/// The plan that holds and the day it was made of, as `bellmare-hub plan` reads and writes them.
async fn plan(State(web): State<Web>) -> Response {
    let planned = web.planned.lock().unwrap_or_else(PoisonError::into_inner).clone();
    match planned {
        Some(planned) => Json(&*planned).into_response(),
        None => refusal(
            StatusCode::NOT_FOUND,
            "no plan was made since the hub started: no lesson is near, or no clock is set",
        ),
    }
}

/// Who could take a ride of today. No weight is in it; that a horse can not carry a rider is the office's business all the
/// same, and no kiosk's: staff at a kiosk get it without.
async fn stand_in(State(web): State<Web>, headers: HeaderMap, Path(ride): Path<String>) -> Response {
    let office = web.office.admits(bearer_of(&headers));
    if !office && let Err(refused) = staff::in_staff_mode(&web, &headers) {
        return *refused;
    }
    let (reply, answer) = oneshot::channel();
    let asked = web.requests.send(Request::StandIns(ride.as_str().into(), reply)).await;
    match (asked, answer.await) {
        (Ok(()), Ok(Ok(list))) if office => Json(json!({ "says": WHO_CHOOSES, "horses": list })).into_response(),
        (Ok(()), Ok(Ok(list))) => {
            let list: Vec<_> = list.iter().map(ForAisle::of).collect();
            Json(json!({ "says": WHO_CHOOSES, "horses": list })).into_response()
        }
        (Ok(()), Ok(Err(refusal))) => (StatusCode::NOT_FOUND, Json(refusal)).into_response(),
        _ => refusal(StatusCode::SERVICE_UNAVAILABLE, "the hub is about to stop"),
    }
}

async fn metrics(State(web): State<Web>) -> Response {
    match web.metrics.text() {
        Ok(text) => ([(header::CONTENT_TYPE, OPENMETRICS)], text).into_response(),
        Err(why) => refusal(StatusCode::INTERNAL_SERVER_ERROR, &why.to_string()),
    }
}
