//! Listens to the hub's board stream for ever. A stream is renewed after half a minute: a line that has died without a
//! word is found out by that, and each new stream begins with the whole board.

use std::io::{BufRead, BufReader};
use std::time::{Duration, Instant};

use bellmare_barn::board::{Board, VERSION};

use super::sse::{Heard, Parser};
use super::{Backoff, Hub, agent};

/// How long one stream is listened to.
const RENEWED_AFTER: Duration = Duration::from_secs(30);

/// What the hub was heard to say.
#[derive(Clone, PartialEq, Debug)]
pub enum Word {
    /// A board.
    Board(Box<Board>),
    /// That it is there.
    Alive,
    /// Something that this kiosk can not show, and why.
    NotUnderstood(String),
    /// Nothing: it could not be reached, and why.
    Unreachable(String),
}

/// Listens until `tell` says false. To be run on a thread of its own.
pub fn listen(hub: &Hub, mut tell: impl FnMut(Word) -> bool) {
    let mut backoff = Backoff::default();
    loop {
        let began = Instant::now();
        let mut heard = false;
        let mut told = |word: Word| {
            heard |= matches!(word, Word::Board(_) | Word::Alive);
            tell(word)
        };
        match stream(hub, &mut told) {
            Ended::NotWanted => return,
            Ended::Broken(why) => {
                // A stream that ran its time ended as it should.
                let ran_its_time = began.elapsed() + Duration::from_secs(1) >= RENEWED_AFTER;
                let wanted = (heard && ran_its_time) || tell(Word::Unreachable(why));
                if !wanted {
                    return;
                }
            }
        }
        if heard {
            backoff.reset();
            if began.elapsed() > Duration::from_secs(1) {
                continue;
            }
        }
        std::thread::sleep(backoff.next_wait());
    }
}

enum Ended {
    NotWanted,
    Broken(String),
}

fn stream(hub: &Hub, tell: &mut impl FnMut(Word) -> bool) -> Ended {
    let mut request = agent(RENEWED_AFTER).get(format!("{}/board", hub.url)).header("Accept", "text/event-stream");
    if let Some(bearer) = hub.bearer() {
        request = request.header("Authorization", bearer);
    }
    let mut answer = match request.call() {
        Ok(answer) => answer,
        Err(error) => return Ended::Broken(error.to_string()),
    };
    if answer.status() != 200 {
        return Ended::Broken(format!("the hub answered {} to {}/board", answer.status(), hub.url));
    }
    let mut parser = Parser::default();
    for line in BufReader::new(answer.body_mut().as_reader()).lines() {
        let line = match line {
            Ok(line) => line,
            Err(error) => return Ended::Broken(error.to_string()),
        };
        let word = match parser.line(line.trim_end_matches('\r')) {
            Heard::Event { kind, data } if kind == "board" => understand(&data),
            Heard::Event { .. } | Heard::Alive => Word::Alive,
        };
        if !tell(word) {
            return Ended::NotWanted;
        }
    }
    Ended::Broken("the hub closed the stream".to_owned())
}

/// Reads a board; a newer format than this kiosk's is not guessed at.
pub fn understand(data: &str) -> Word {
    match serde_json::from_str::<Board>(data) {
        Ok(board) if board.version == VERSION => Word::Board(Box::new(board)),
        Ok(board) => Word::NotUnderstood(format!("the hub's board is of version {}, not {VERSION}", board.version)),
        Err(error) => Word::NotUnderstood(format!("the hub's board can not be read: {error}")),
    }
}
