//! Names of things in the barn, as the barn itself wrote them down. Each kind of thing has its own type, so that a
//! horse can not be passed where a stall is meant. Clones are cheap: many readings a second carry one.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(Arc<str>);

        impl $name {
            /// Takes the name as it is; the reader of the book has trimmed and checked it.
            pub fn new(name: impl Into<Arc<str>>) -> Self {
                Self(name.into())
            }

            /// The name as written.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl From<&str> for $name {
            fn from(name: &str) -> Self {
                Self::new(name)
            }
        }
    )+};
}

ids! {
    /// A stall, by the number or name on its door.
    StallId,
    /// A vessel of water besides those that stalls are written with.
    BucketId,
    /// A horse.
    HorseId,
    /// A piece of tack: one saddle, one pad, one girth.
    TackId,
    /// A person who may sign in.
    PersonId,
    /// A lesson.
    LessonId,
    /// A ride: one horse in one lesson.
    RideId,
    /// A chore.
    ChoreId,
    /// A place with a climate of its own: the aisle, the arena.
    PlaceId,
    /// What a badge tells the reader. A name and no secret.
    BadgeId,
    /// A badge reader.
    ReaderId,
    /// A kiosk.
    KioskId,
    /// A touch at a kiosk, made unique by the kiosk, so that a repeat is known as one.
    TouchId,
}
