//! The line to the hub, against a small hub of the test's own on loopback.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use bellmare_barn::id::PersonId;
use bellmare_barn::input::{Action, Touch};
use bellmare_barn::refusal::Because;
use bellmare_kiosk::app::{Given, Outcome};
use bellmare_kiosk::link::Hub;
use bellmare_kiosk::link::boards::{self, Word};
use bellmare_kiosk::link::touches;

use crate::command::Folder;
use crate::samples;

const WITHIN: Duration = Duration::from_secs(20);

/// What a kiosk asked.
pub struct Asked {
    pub head: String,
    pub body: String,
}

/// Serves on loopback; each request is shown to the test and answered by `answer`.
pub fn serve(mut answer: impl FnMut(usize, &Asked, &mut TcpStream) + Send + 'static) -> (String, Receiver<Asked>) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let url = format!("http://{}", listener.local_addr().expect("an address"));
    let (tell, asked) = mpsc::channel();
    std::thread::spawn(move || {
        let mut count = 0;
        for stream in listener.incoming() {
            let Ok(mut stream) = stream else { continue };
            // A line may carry several requests.
            while let Some(request) = read(&mut stream) {
                answer(count, &request, &mut stream);
                count += 1;
                let closing = request.head.starts_with("GET");
                if tell.send(request).is_err() {
                    return;
                }
                if closing {
                    break;
                }
            }
        }
    });
    (url, asked)
}

fn read(stream: &mut TcpStream) -> Option<Asked> {
    let mut reader = BufReader::new(stream);
    let mut head = String::new();
    loop {
        let mut line = String::new();
        if reader.read_line(&mut line).ok()? == 0 {
            return None;
        }
        if line == "\r\n" {
            break;
        }
        head.push_str(&line.to_lowercase());
    }
    let length = head.lines().find_map(|line| line.strip_prefix("content-length: "));
    let mut body = vec![0; length.map_or(0, |length| length.trim().parse().expect("a length"))];
    reader.read_exact(&mut body).ok()?;
    let head = head.replacen("get", "GET", 1);
    Some(Asked { head, body: String::from_utf8(body).ok()? })
}

pub fn reply(stream: &mut TcpStream, status: &str, body: &str) {
    let answer =
        format!("HTTP/1.1 {status}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}", body.len());
    stream.write_all(answer.as_bytes()).expect("answered");
}

fn stream_board(stream: &mut TcpStream, board: &str) {
    let head = "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nConnection: close\r\n\r\n";
    let events = format!("{head}: hello\n\nevent: board\ndata: {board}\n\n");
    stream.write_all(events.as_bytes()).expect("sent");
}

fn one_line(sample: &str) -> String {
    serde_json::to_string(&samples::board(sample)).expect("JSON")
}

#[test]
fn boards_come_again_after_every_broken_stream() {
    let board = one_line("four");
    let (url, asked) = serve(move |_, _, stream| stream_board(stream, &board));
    let (tell, heard) = mpsc::channel();
    let hub = Hub::new(&format!("{url}/"), Some("k3y".to_owned()));
    std::thread::spawn(move || boards::listen(&hub, |word| tell.send(word).is_ok()));
    let mut boards = 0;
    while boards < 2 {
        match heard.recv_timeout(WITHIN).expect("the stream goes on") {
            Word::Board(board) => {
                assert_eq!(*board, samples::board("four"));
                boards += 1;
            }
            Word::Alive | Word::Unreachable(_) => {}
            Word::NotUnderstood(why) => panic!("{why}"),
        }
    }
    let first = asked.recv_timeout(WITHIN).expect("a request");
    assert!(first.head.starts_with("GET /board http/1.1"), "{}", first.head);
    assert!(first.head.contains("accept: text/event-stream"), "{}", first.head);
    assert!(first.head.contains("authorization: bearer k3y"), "{}", first.head);
}

#[test]
fn a_board_of_another_version_is_not_guessed_at() {
    let newer = one_line("four").replacen("\"version\":1", "\"version\":2", 1);
    assert_eq!(boards::understand(&newer), Word::NotUnderstood("the hub's board is of version 2, not 1".to_owned()));
    assert!(matches!(boards::understand("{}"), Word::NotUnderstood(_)));
}

fn given(action: Action) -> Given {
    Given { action, by: None, staff_token: None }
}

#[test]
fn a_touch_is_sent_again_under_the_same_id_until_it_is_answered() {
    let (url, asked) = serve(|count, _, stream| match count {
        0 => reply(stream, "503 Service Unavailable", ""),
        1 => reply(stream, "200 OK", r#"{"answer":"done"}"#),
        _ => reply(stream, "200 OK", r#"{"answer":"refused","why":"too old","because":"too_late"}"#),
    });
    let (tell, outcomes) = mpsc::channel();
    let sender = touches::start(Hub::new(&url, None), "aisle".to_owned(), None, move |outcome| {
        let _gone = tell.send(outcome);
    })
    .expect("a thread");
    let (ana, theo) = (PersonId::from("ana"), PersonId::from("theo"));
    assert!(sender.send(given(Action::SignIn(ana.clone()))));
    assert!(sender.send(given(Action::SignIn(theo.clone()))));
    let mut told = Vec::new();
    while told.len() < 3 {
        told.push(outcomes.recv_timeout(WITHIN).expect("an outcome"));
    }
    assert_eq!(told, [Outcome::Waits, Outcome::Done, Outcome::Refused(Because::TooLate.says("too old"))]);
    let touches: Vec<Touch> = (0..3)
        .map(|_| asked.recv_timeout(WITHIN).expect("a request"))
        .map(|asked| serde_json::from_str(&asked.body).expect("a touch"))
        .collect();
    assert_eq!(touches[0], touches[1], "the same touch, the same id");
    assert_ne!(touches[1].id, touches[2].id);
    assert_eq!((&touches[1].action, &touches[2].action), (&Action::SignIn(ana), &Action::SignIn(theo)));
    assert!(touches.iter().all(|touch| touch.kiosk.as_str() == "aisle"));
}

#[test]
fn a_live_hub_is_followed_into_a_file_with_no_display() {
    let board = one_line("morning");
    let (url, _asked) = serve(move |_, _, stream| stream_board(stream, &board));
    let folder = Folder::new("follow");
    let picture = folder.file("aisle.png");
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_bellmare-kiosk"))
        .args(["--picture", &picture, "--hub", &url, "--every", "1", "--for", "3", "--size", "1280x800"])
        .output()
        .expect("the kiosk runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(std::fs::metadata(&picture).expect("a picture").len() > 10_000);
}
