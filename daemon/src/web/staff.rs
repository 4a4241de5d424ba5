//! Staff mode: a PIN shown at a kiosk makes its touches those of that person, for a minute after the last.
//!
//! Who may try, and when, is the barn's to say (`bellmare_barn::pins`); each try is a fact, and is answered only once it is
//! kept, so that pulling the plug gives no further tries. Hashing takes a core for a moment: it is done beside the runtime,
//! one at a time. Tokens live in memory alone, one for each kiosk. An alarm is acknowledged without any of this.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::extract::{Extension, Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Json, Response};
use bellmare_barn::effect::Answer;
use bellmare_barn::id::{KioskId, PersonId};
use bellmare_barn::input::{Pin as NewPin, PinTried};
use bellmare_barn::pins::PinHash;
use bellmare_barn::refusal::{Because, Refusal};
use serde::Deserialize;
use serde_json::json;
use tokio::sync::oneshot;

use super::keys::{Admitted, same};
use super::{Web, ask, bearer_of, not_kept, refusal};
use crate::hub::{Reply, Request};
use crate::pin::{Pin, PinError, check_hash};
use crate::random;

/// Staff mode ends so long after its last touch.
const LASTS: Duration = Duration::from_secs(60);
/// Said where a token is not, or no longer, one.
pub(super) const HAS_ENDED: &str = "staff mode has ended: show the PIN again";
/// The header that carries a token where there is no touch to carry it.
const HEADER: &str = "staff-token";

/// Who is in staff mode where, and whether somebody is trying a PIN.
#[derive(Default)]
pub struct Staff {
    modes: Mutex<BTreeMap<KioskId, Mode>>,
    trying: tokio::sync::Mutex<()>,
}

struct Mode {
    token: String,
    person: PersonId,
    until: Instant,
}

impl Staff {
    /// Begins staff mode at a kiosk; what was there ends.
    fn begin(&self, kiosk: KioskId, person: PersonId, token: String, now: Instant) {
        self.with(|modes| modes.insert(kiosk, Mode { token, person, until: now + LASTS }));
    }

    /// Who acts by this token, at this kiosk where that is known. It lasts a minute more.
    pub(super) fn who(&self, token: &str, kiosk: Option<&KioskId>, now: Instant) -> Option<PersonId> {
        self.with(|modes| {
            modes.retain(|_, mode| now < mode.until);
            let here = |at: &KioskId| kiosk.is_none_or(|kiosk| kiosk == at);
            let (_, mode) = modes.iter_mut().find(|(at, mode)| here(at) && same(&mode.token, token))?;
            mode.until = now + LASTS;
            Some(mode.person.clone())
        })
    }

    fn end(&self, token: &str) {
        self.with(|modes| modes.retain(|_, mode| !same(&mode.token, token)));
    }

    fn end_of(&self, person: &PersonId) {
        self.with(|modes| modes.retain(|_, mode| mode.person != *person));
    }

    fn with<T>(&self, change: impl FnOnce(&mut BTreeMap<KioskId, Mode>) -> T) -> T {
        change(&mut self.modes.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A PIN shown at a kiosk.
#[derive(Deserialize)]
pub(super) struct Shown {
    kiosk: KioskId,
    person: PersonId,
    pin: String,
}

/// `POST /staff`.
pub(super) async fn begin(
    State(web): State<Web>,
    Extension(Admitted(by_key)): Extension<Admitted>,
    Json(shown): Json<Shown>,
) -> Response {
    let pin = match shown.pin.parse() {
        Ok(pin) => pin,
        // Nobody's PIN can be that: no try, and nothing to slow down.
        Err(why @ PinError::Form) => return not_now(&Because::WrongPin.says(why.to_string()), 0),
        Err(why) => return cannot_check(&why),
    };
    let kiosk = by_key.unwrap_or(shown.kiosk);
    // To its end even where the kiosk hangs up: who does so has tried all the same.
    let tried = tokio::spawn(async move { try_pin(&web, kiosk, shown.person, pin).await });
    tried.await.unwrap_or_else(|why| {
        tracing::error!(%why, "a PIN could not be checked");
        refusal(StatusCode::INTERNAL_SERVER_ERROR, "the PIN could not be checked")
    })
}

async fn try_pin(web: &Web, kiosk: KioskId, person: PersonId, pin: Pin) -> Response {
    let _alone = web.staff.trying.lock().await;
    let hash = match may_try(web, &person, &kiosk).await {
        Ok(hash) => hash,
        Err(refused) => return refused,
    };
    let right = match tokio::task::spawn_blocking(move || pin.is(&hash)).await {
        Ok(Ok(right)) => right,
        Ok(Err(why)) => return cannot_check(&why),
        Err(why) => return cannot_check(&why),
    };
    let tried = PinTried { kiosk: kiosk.clone(), person: person.clone(), right };
    if ask(web, |reply| Request::PinTried(tried, reply)).await == Reply::NotKept {
        return not_kept();
    }
    if !right {
        return match may_try(web, &person, &kiosk).await {
            Ok(_) => not_now(&Because::WrongPin.says("that is not the PIN"), 0),
            Err(refused) => refused,
        };
    }
    match random::hex(16) {
        Ok(token) => {
            web.staff.begin(kiosk, person, token.clone(), Instant::now());
            Json(json!({ "token": token, "ends_s": LASTS.as_secs() })).into_response()
        }
        Err(why) => cannot_check(&why),
    }
}

async fn may_try(web: &Web, person: &PersonId, kiosk: &KioskId) -> Result<PinHash, Response> {
    let (reply, answer) = oneshot::channel();
    let (person, kiosk) = (person.clone(), kiosk.clone());
    let asked = web.requests.send(Request::MayTryPin { person, kiosk, reply }).await;
    match (asked, answer.await) {
        (Ok(()), Ok(Ok(hash))) => Ok(hash),
        (Ok(()), Ok(Err(no))) => Err(not_now(&no.refusal, no.wait_ms.div_ceil(1000))),
        _ => Err(not_kept()),
    }
}

fn not_now(refusal: &Refusal, wait_s: u64) -> Response {
    let Refusal { why, because } = refusal;
    (StatusCode::UNAUTHORIZED, Json(json!({ "why": why, "because": because, "wait_s": wait_s }))).into_response()
}

fn cannot_check(why: &dyn std::error::Error) -> Response {
    tracing::error!(why = crate::chain(why), "a PIN could not be checked");
    refusal(StatusCode::INTERNAL_SERVER_ERROR, "the PIN could not be checked: whoever looks after the hub sets it anew")
}

/// A token that is given back.
#[derive(Deserialize)]
pub(super) struct Ended {
    staff_token: String,
}

/// `POST /staff/end`. One that has ended already ends alike.
pub(super) async fn end(State(web): State<Web>, Json(ended): Json<Ended>) -> Response {
    web.staff.end(&ended.staff_token);
    Json(Answer::Done).into_response()
}

/// A hash for a person.
#[derive(Deserialize)]
pub(super) struct Hashed {
    hash: PinHash,
}

/// `PUT /pins/{person}`: whoever makes the hash keeps the PIN to themselves.
pub(super) async fn set(State(web): State<Web>, Path(person): Path<String>, Json(hashed): Json<Hashed>) -> Response {
    match check_hash(&hashed.hash) {
        Ok(()) => change(&web, &person, Some(hashed.hash)).await,
        Err(why) => refusal(StatusCode::UNPROCESSABLE_ENTITY, &why.to_string()),
    }
}

/// `DELETE /pins/{person}`.
pub(super) async fn clear(State(web): State<Web>, Path(person): Path<String>) -> Response {
    change(&web, &person, None).await
}

async fn change(web: &Web, person: &str, hash: Option<PinHash>) -> Response {
    let person = PersonId::new(person);
    let pin = NewPin { person: person.clone(), hash };
    match ask(web, |reply| Request::Pin(pin, reply)).await {
        Reply::Kept(Answer::Done) => {
            web.staff.end_of(&person);
            Json(Answer::Done).into_response()
        }
        Reply::Kept(Answer::Refused(refused)) => refusal(StatusCode::CONFLICT, &refused.why),
        Reply::NotKept => not_kept(),
    }
}

/// Whether a request that is no touch comes from a kiosk in staff mode; an answer to it where not.
pub(super) fn in_staff_mode(web: &Web, headers: &HeaderMap) -> Result<PersonId, Box<Response>> {
    let refused = |why| Box::new(refusal(StatusCode::UNAUTHORIZED, why));
    let no_token = || refused("this wants the office token, or Staff-Token of a kiosk in staff mode");
    let token = headers.get(HEADER).and_then(|token| token.to_str().ok()).ok_or_else(no_token)?;
    let Admitted(kiosk) = web.keys.admit(bearer_of(headers)).ok_or_else(no_token)?;
    let ended = || Box::new((StatusCode::UNAUTHORIZED, Json(Because::StaffEnded.says(HAS_ENDED))).into_response());
    web.staff.who(token, kiosk.as_ref(), Instant::now()).ok_or_else(ended)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mode_lasts_a_minute_after_its_last_touch_and_a_kiosk_has_one() {
        let staff = Staff::default();
        let (aisle, tack): (KioskId, KioskId) = ("aisle".into(), "tack-room".into());
        let start = Instant::now();
        let at = |seconds| start + Duration::from_secs(seconds);
        let lena = Some(PersonId::from("lena"));
        staff.begin(aisle.clone(), "lena".into(), "first".to_owned(), start);
        assert_eq!(staff.who("first", Some(&aisle), at(59)), lena);
        assert_eq!(staff.who("first", None, at(118)), lena, "each touch prolongs it");
        assert_eq!(staff.who("first", Some(&tack), at(118)), None, "it is this kiosk's");
        assert_eq!(staff.who("firs", Some(&aisle), at(118)), None);
        assert_eq!(staff.who("first", Some(&aisle), at(178)), None);
        staff.begin(aisle.clone(), "lena".into(), "second".to_owned(), start);
        staff.begin(aisle.clone(), "gina".into(), "third".to_owned(), start);
        assert_eq!(staff.who("second", Some(&aisle), start), None, "the next ends the one before");
        staff.end("third");
        assert_eq!(staff.who("third", Some(&aisle), start), None);
        staff.begin(aisle.clone(), "lena".into(), "fourth".to_owned(), start);
        staff.end_of(&"lena".into());
        assert_eq!(staff.who("fourth", Some(&aisle), start), None);
    }
}
