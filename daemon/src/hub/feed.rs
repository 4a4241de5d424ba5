//! Boards out: the last one is kept as the JSON that every kiosk gets, made once however many listen.

use std::sync::Arc;

use bellmare_barn::board::Board;
use tokio::sync::watch;
use tracing::error;

/// A board as it is sent.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Published {
    /// Counts up by one each time since the hub started; 0 before the first.
    pub revision: u64,
    /// The board as one line of JSON.
    pub json: Arc<str>,
}

/// Where boards are put.
#[derive(Debug)]
pub struct Feed(watch::Sender<Published>);

impl Feed {
    /// A feed, and the end that listens to it.
    pub fn new() -> (Self, watch::Receiver<Published>) {
        let (sender, receiver) = watch::channel(Published::default());
        (Self(sender), receiver)
    }

    /// Puts out a board. One that says the same as the last is not put out again.
    pub fn publish(&self, board: &Board) {
        match serde_json::to_string(board) {
            Ok(json) => {
                self.0.send_if_modified(|last| {
                    let changed = *last.json != *json;
                    if changed {
                        *last = Published { revision: last.revision + 1, json: json.into() };
                    }
                    changed
                });
            }
            Err(why) => error!(%why, "a board can not be written as JSON"),
        }
    }
}
