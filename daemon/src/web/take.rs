//! The page of a link in a message. Looking at it changes nothing, so that a mail program or a scanner that follows links takes
//! nothing; its one button takes the alarms. It needs no key, and tells nothing but these alarms. Who tries many links waits.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::extract::{ConnectInfo, Path, State};
use axum::http::{HeaderName, StatusCode, header};
use axum::response::{IntoResponse, Response};
use bellmare_barn::effect::Answer;
use bellmare_barn::input::TakenByLink;
use tokio::sync::oneshot;

use super::{Web, ask};
use crate::clock::Clock;
use crate::hub::{Looked, Reply, Request};
use crate::messages::link::{BadLink, Link, Links};

/// So many pages within [`WINDOW`] from one address: many times what a person needs.
const MOST: u32 = 30;
const WINDOW: Duration = Duration::from_secs(60);
/// So many addresses are told apart; a barn has fewer.
const ADDRESSES: usize = 1024;

/// Knows links, and who asks too often.
pub struct Takes {
    links: Links,
    clock: Clock,
    asked: Mutex<BTreeMap<IpAddr, (Instant, u32)>>,
}

impl Takes {
    /// Nobody has asked yet.
    pub fn new(links: Links, clock: Clock) -> Self {
        Self { links, clock, asked: Mutex::default() }
    }

    /// What a link says, for who has not asked too often.
    fn open(&self, token: &str, from: IpAddr) -> Result<Link, Box<Response>> {
        if !self.may_ask(from, Instant::now()) {
            let why = "<p>Too many links were tried from here.</p>";
            return Err(Box::new(page(StatusCode::TOO_MANY_REQUESTS, "Wait a minute", why)));
        }
        self.links.read(token, self.clock.now().wall).map_err(|bad| {
            let (status, title, why) = match bad {
                BadLink::NotOurs => {
                    (StatusCode::NOT_FOUND, "No such link", "<p>Copy the whole link from the message.</p>")
                }
                BadLink::Expired => (
                    StatusCode::GONE,
                    "This link is too old",
                    "<p>It was good for a day. Any kiosk shows what stands now.</p>",
                ),
            };
            Box::new(page(status, title, why))
        })
    }

    fn may_ask(&self, from: IpAddr, now: Instant) -> bool {
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        if asked.len() >= ADDRESSES && !asked.contains_key(&from) {
            asked.retain(|_, (since, _)| now.duration_since(*since) < WINDOW);
        }
        if asked.len() >= ADDRESSES && !asked.contains_key(&from) {
            return false;
        }
        let (since, count) = asked.entry(from).or_insert((now, 0));
        if now.duration_since(*since) >= WINDOW {
            (*since, *count) = (now, 0);
        }
        *count += 1;
        *count <= MOST
    }
}

/// Shows what a link would take.
pub(super) async fn show(
    State(web): State<Web>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    Path(token): Path<String>,
) -> Response {
    let link = match web.takes.open(&token, from.ip()) {
        Ok(link) => link,
        Err(page) => return *page,
    };
    match look(&web, &link).await {
        Some(looked) => page(StatusCode::OK, "Needs somebody", &shown(&looked, &link, "")),
        None => ending(),
    }
}

/// Takes it.
pub(super) async fn take(
    State(web): State<Web>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    Path(token): Path<String>,
) -> Response {
    let link = match web.takes.open(&token, from.ip()) {
        Ok(link) => link,
        Err(page) => return *page,
    };
    let taken = TakenByLink { link: link.id.clone(), alarms: link.alarms.clone(), by: link.by.clone() };
    let said = match ask(&web, |reply| Request::Take(taken, reply)).await {
        Reply::Kept(Answer::Done) => "<p class=\"done\">Noted. Thank you.</p>".to_owned(),
        Reply::Kept(Answer::Refused(refused)) => format!("<p class=\"done\">Not taken: {}.</p>", escaped(&refused.why)),
        Reply::NotKept => {
            return page(
                StatusCode::SERVICE_UNAVAILABLE,
                "Not taken",
                "<p>The hub can not write it down just now. Press again in a moment.</p>",
            );
        }
    };
    match look(&web, &link).await {
        Some(looked) => page(StatusCode::OK, "Needs somebody", &shown(&looked, &link, &said)),
        None => ending(),
    }
}

async fn look(web: &Web, link: &Link) -> Option<Looked> {
    let (reply, answer) = oneshot::channel();
    web.requests.send(Request::Look(link.alarms.clone(), link.by.clone(), reply)).await.ok()?;
    answer.await.ok()
}

fn ending() -> Response {
    page(StatusCode::SERVICE_UNAVAILABLE, "Not now", "<p>The hub is about to stop.</p>")
}

/// The alarms and the button, which is there while there is something to take and it has not just been pressed.
fn shown(looked: &Looked, link: &Link, said: &str) -> String {
    let name = looked.name.clone().unwrap_or_else(|| link.by.to_string());
    let mut body = said.to_owned();
    for alarm in &looked.alarms {
        let state = match (&alarm.seen_by, alarm.over) {
            (_, true) => "Over.".to_owned(),
            (Some(by), false) => format!("{} has taken it.", escaped(by)),
            (None, false) => "Nobody has taken it yet.".to_owned(),
        };
        // Writing to a string does not fail.
        let _ = write!(
            body,
            "<h2>{}</h2><p>For {} min. {state}</p>",
            escaped(&crate::messages::capital(&alarm.text)),
            alarm.for_min
        );
    }
    if looked.alarms.is_empty() {
        body.push_str("<p>It is over; there is nothing left to do.</p>");
    } else if said.is_empty() && looked.alarms.iter().any(|alarm| !alarm.over && alarm.seen_by.is_none()) {
        let _ = write!(body, "<form method=\"post\"><button>I take it ({})</button></form>", escaped(&name));
    }
    let _ = write!(
        body,
        "<p class=\"foot\">{}. What to do for a horse is for your equine professional and your vet.</p>",
        escaped(&looked.barn)
    );
    body
}

/// A page that loads nothing from anywhere, and that nobody keeps.
fn page(status: StatusCode, title: &str, body: &str) -> Response {
    let html = format!(
        "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width, initial-scale=1\"><title>{title}</title><style>body{{font:1.2rem/1.5 sans-serif;\
         max-width:34rem;margin:2rem auto;padding:0 1rem;color:#111;background:#fff}}button{{font:inherit;font-weight:bold;\
         min-height:4rem;width:100%;color:#fff;background:#0b5d8a;border:0;border-radius:.5rem}}button:focus{{outline:.25rem \
         solid #e69f00}}.done{{font-weight:bold}}.foot{{font-size:1rem}}</style></head><body><h1>{title}</h1>{body}</body></html>"
    );
    let headers = [
        (header::CONTENT_TYPE, "text/html; charset=utf-8"),
        (header::CACHE_CONTROL, "no-store"),
        (header::REFERRER_POLICY, "no-referrer"),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'",
        ),
        (HeaderName::from_static("x-robots-tag"), "noindex"),
    ];
    (status, headers, html).into_response()
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_tries_many_links_waits_and_others_do_not() {
        let data = tempfile::tempdir().expect("a folder");
        let takes = Takes::new(Links::of(data.path(), None).expect("a key"), Clock::system(None));
        let now = Instant::now();
        let (one, other) = (IpAddr::from([10, 0, 0, 1]), IpAddr::from([10, 0, 0, 2]));
        assert_eq!((0..100).filter(|_| takes.may_ask(one, now)).count(), MOST as usize);
        assert!(takes.may_ask(other, now));
        assert!(takes.may_ask(one, now + WINDOW));
        for n in 0..2_000_u32 {
            takes.may_ask(IpAddr::from(n.to_be_bytes()), now);
        }
        assert!(takes.asked.lock().expect("sound").len() <= ADDRESSES);
    }

    #[test]
    fn nothing_of_the_barn_becomes_markup() {
        assert_eq!(escaped("<b> & \"x\""), "&lt;b&gt; &amp; &quot;x&quot;");
    }
}
