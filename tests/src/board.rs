//! The hub's board, as a kiosk gets it.

use std::io::{BufRead, BufReader};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use bellmare_barn::board::{Board, StallView};

use crate::hub::Hub;
use crate::wait::until;

/// The board now.
pub fn now(hub: &Hub) -> Result<Board, String> {
    let text = ureq::get(hub.url("/board")).call().and_then(|mut answer| answer.body_mut().read_to_string());
    serde_json::from_str(&text.map_err(|why| why.to_string())?).map_err(|why| why.to_string())
}

/// Waits until the board shows what is looked for.
#[track_caller]
pub fn shows<T>(hub: &Hub, what: &str, within: Duration, mut look: impl FnMut(&Board) -> Option<T>) -> T {
    until(what, within, || {
        let board = now(hub)?;
        look(&board).ok_or_else(|| summary(&board))
    })
}

/// One stall of the board.
pub fn stall<'b>(board: &'b Board, id: &str) -> Option<&'b StallView> {
    board.stalls.iter().find(|stall| stall.id.as_str() == id)
}

/// Who is here.
pub fn here(board: &Board) -> Vec<&str> {
    board.people.iter().filter(|person| person.since.is_some()).map(|person| person.name.as_str()).collect()
}

/// Boards as they come over the stream, each with when it came. Ends with the hub or when dropped.
pub fn stream(hub: &Hub) -> Receiver<(Instant, Board)> {
    let (send, boards) = channel();
    let answer = ureq::get(hub.url("/board")).header("Accept", "text/event-stream").call().expect("a stream of boards");
    std::thread::spawn(move || {
        for line in BufReader::new(answer.into_body().into_reader()).lines() {
            let Ok(line) = line else { return };
            let Some(json) = line.strip_prefix("data: ") else { continue };
            let came = Instant::now();
            let board = serde_json::from_str(json).expect("a board");
            if send.send((came, board)).is_err() {
                return;
            }
        }
    });
    boards
}

fn summary(board: &Board) -> String {
    let alarms: Vec<_> = board.alarms.iter().map(|alarm| alarm.text.as_str()).collect();
    let water: Vec<_> = board.stalls.iter().take(5).map(|stall| stall.water).collect();
    format!("alarms {alarms:?}, hub {:?}, here {:?}, water {water:?}", board.hub, here(board))
}
