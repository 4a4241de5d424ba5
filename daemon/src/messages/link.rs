//! The link in a message by which who reads it takes its alarms. It names alarms, a person and a time after which it is good
//! for nothing, and is signed with a key of the data folder: nobody can make one, or change one. Who has one can take these
//! alarms in that person's name, and see what they are; nothing else.

use std::io;
use std::path::Path;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use bellmare_barn::id::{PersonId, TouchId};
use bellmare_barn::time::{Wall, WallClock};
use hmac::{Hmac, Mac};
use sha2::Sha256;

use crate::web::secret_file;

/// The key's name in the data folder.
const FILE: &str = "link.key";
/// How long a link is good: a day, in milliseconds.
const GOOD_FOR: i64 = 24 * 3_600_000;
/// Bytes of a signature that stand in a link: as many bits as nobody guesses.
const SIGNATURE: usize = 16;

/// Makes links and knows its own.
#[derive(Clone)]
pub struct Links {
    key: Vec<u8>,
    base: Option<String>,
}

/// What a link says.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Link {
    /// Its own name: the same for the same link.
    pub id: TouchId,
    /// Which alarms it takes.
    pub alarms: Vec<u64>,
    /// In whose name.
    pub by: PersonId,
}

/// Why a link is good for nothing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum BadLink {
    /// The hub has not made it.
    NotOurs,
    /// Its day is over.
    Expired,
}

impl Links {
    /// Links that begin with `base`; with none, no link is made. The key is read from the data folder, or made there.
    ///
    /// # Errors
    /// Where it can be neither read nor written.
    pub fn of(data: &Path, base: Option<String>) -> io::Result<Self> {
        Ok(Self { key: secret_file(&data.join(FILE), 32)?.into_bytes(), base })
    }

    /// A link for these alarms and this person; none where people reach no page of the hub, or no clock says when it expires.
    pub fn make(&self, alarms: &[u64], by: &PersonId, now: WallClock) -> Option<String> {
        let until = now.get()?.plus(GOOD_FOR);
        let alarms: Vec<String> = alarms.iter().map(u64::to_string).collect();
        let says = format!("{}\n{by}\n{}", until.0, alarms.join(","));
        let token = format!("{}.{}", URL_SAFE_NO_PAD.encode(&says), URL_SAFE_NO_PAD.encode(self.sign(&says)));
        Some(format!("{}/take/{token}", self.base.as_ref()?))
    }

    /// What the last part of a link says. Where the hub's clock is not set nobody can say that a link has expired.
    ///
    /// # Errors
    /// Where it is good for nothing.
    pub fn read(&self, token: &str, now: WallClock) -> Result<Link, BadLink> {
        let (says, signature) = token.split_once('.').ok_or(BadLink::NotOurs)?;
        let text = |part: &str| URL_SAFE_NO_PAD.decode(part).map_err(|_| BadLink::NotOurs);
        let (says, signature) = (text(says)?, text(signature)?);
        let says = String::from_utf8(says).map_err(|_| BadLink::NotOurs)?;
        if !bool::from(subtle::ConstantTimeEq::ct_eq(self.sign(&says).as_slice(), signature.as_slice())) {
            return Err(BadLink::NotOurs);
        }
        let read = || {
            let (until, rest) = says.split_once('\n')?;
            // A person's name may hold anything but the end of a line.
            let (by, alarms) = rest.rsplit_once('\n')?;
            let alarms: Option<Vec<u64>> = alarms.split(',').map(|alarm| alarm.parse().ok()).collect();
            Some((Wall(until.parse().ok()?), PersonId::new(by), alarms?))
        };
        let (until, by, alarms) = read().ok_or(BadLink::NotOurs)?;
        if now.get().is_some_and(|now| until < now) {
            return Err(BadLink::Expired);
        }
        let id = TouchId::new(format!("link-{}", URL_SAFE_NO_PAD.encode(signature)));
        Ok(Link { id, alarms, by })
    }

    fn sign(&self, says: &str) -> Vec<u8> {
        // HMAC takes a key of any length.
        let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(&self.key) else { return Vec::new() };
        mac.update(b"take\n");
        mac.update(says.as_bytes());
        mac.finalize().into_bytes()[..SIGNATURE].to_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(millis: i64) -> WallClock {
        WallClock::Set(Wall(millis))
    }

    #[test]
    fn a_link_says_what_it_was_made_for_until_its_day_is_over() {
        let data = tempfile::tempdir().expect("a folder");
        let links = Links::of(data.path(), Some("http://barn:8470".to_owned())).expect("a key");
        let made = links.make(&[4, 17], &"o'hara é".into(), at(1_000)).expect("a link");
        let token = made.strip_prefix("http://barn:8470/take/").expect("its base");
        assert!(token.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte)), "{token}");
        let again = Links::of(data.path(), None).expect("the same key");
        let link = again.read(token, at(1_000 + GOOD_FOR)).expect("good");
        assert_eq!((link.alarms, link.by), (vec![4, 17], "o'hara é".into()));
        assert_eq!(again.read(token, at(1_001 + GOOD_FOR)), Err(BadLink::Expired));
        assert!(again.read(token, WallClock::Unset).is_ok());
        assert_eq!(again.make(&[1], &"lena".into(), at(0)), None, "no page, no link");
        assert_eq!(links.make(&[1], &"lena".into(), WallClock::Unset), None, "no clock, no link");
    }

    #[test]
    fn no_other_link_is_taken() {
        let data = tempfile::tempdir().expect("a folder");
        let links = Links::of(data.path(), Some(String::new())).expect("a key");
        let made = links.make(&[4], &"lena".into(), at(0)).expect("a link");
        let token = made.strip_prefix("/take/").expect("no base");
        let (says, signature) = token.split_once('.').expect("two parts");
        let other = URL_SAFE_NO_PAD.encode(format!("{GOOD_FOR}\nlena\n5"));
        for wrong in
            ["", ".", says, &format!("{says}."), &format!("{other}.{signature}"), &format!("{token}A"), "a.b.c", "é.é"]
        {
            assert_eq!(links.read(wrong, at(0)), Err(BadLink::NotOurs), "{wrong}");
        }
        let elsewhere = tempfile::tempdir().expect("a folder");
        let others = Links::of(elsewhere.path(), None).expect("another key");
        assert_eq!(others.read(token, at(0)), Err(BadLink::NotOurs));
    }
}
