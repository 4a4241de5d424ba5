//! Touches in. What a kiosk may say of a touch is written here field by field: who acts as staff is not among it.

use std::time::Instant;

use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Json, Response};
use bellmare_barn::effect::Answer;
use bellmare_barn::id::{KioskId, PersonId, TouchId};
use bellmare_barn::input::{Action, Touch};
use bellmare_barn::refusal::Because;
use serde::Deserialize;
use tokio::sync::oneshot;

use super::keys::Admitted;
use super::staff::HAS_ENDED;
use super::{Web, ask, not_kept};
use crate::hub::{Reply, Request};

/// A touch as a kiosk sends it.
#[derive(Deserialize)]
pub(super) struct Sent {
    id: TouchId,
    kiosk: KioskId,
    #[serde(default)]
    held_ms: u64,
    #[serde(default)]
    by: Option<PersonId>,
    /// Of staff mode, where the kiosk is in it.
    #[serde(default)]
    staff_token: Option<String>,
    action: Action,
}

/// `POST /touches`.
pub(super) async fn touch(
    State(web): State<Web>,
    Extension(Admitted(by_key)): Extension<Admitted>,
    Json(sent): Json<Sent>,
) -> Response {
    let Sent { id, kiosk, held_ms, by, staff_token, action } = sent;
    let mut staff = None;
    if let Some(token) = staff_token {
        let at = by_key.as_ref().unwrap_or(&kiosk);
        let Some(who) = web.staff.who(&token, Some(at), Instant::now()) else { return ended(&web, id).await };
        staff = Some(who);
    }
    let touch = Touch { id, kiosk, held_ms, by, staff, action };
    told(ask(&web, |reply| Request::Touch(touch, reply)).await)
}

/// Staff mode has ended. A touch that came before it did, and whose answer was lost, is answered as then.
async fn ended(web: &Web, id: TouchId) -> Response {
    let (reply, answer) = oneshot::channel();
    let asked = web.requests.send(Request::Answered(id, reply)).await;
    match (asked, answer.await) {
        (Ok(()), Ok(answered)) => told(answered),
        // Nobody has answered: it never came.
        (Ok(()), Err(_)) => {
            (StatusCode::UNAUTHORIZED, Json(Answer::Refused(Because::StaffEnded.says(HAS_ENDED)))).into_response()
        }
        (Err(_), _) => not_kept(),
    }
}

fn told(reply: Reply) -> Response {
    match reply {
        Reply::Kept(answer) => Json(answer).into_response(),
        Reply::NotKept => not_kept(),
    }
}
